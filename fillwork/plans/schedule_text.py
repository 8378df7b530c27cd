"""The schedule in words, for the shop and the wall.

Text, CSV and the printed page take their numbers from `fillwork.plans.words`, and
the page its sentences from here, so that they say the same.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from fillwork.plans.buying import material_words
from fillwork.plans.days import PACE
from fillwork.plans.media import MEDIA_FACTS
from fillwork.plans.quantities import COMMON
from fillwork.plans.schedule_rows import rows_of, shop_rows, swatches_of
from fillwork.plans.words import (
    days_words,
    hours_words,
    joined,
    packages_words,
    price_words,
    volume_words,
)
from fillwork.plans.working import FIXED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.palettes.model import Palette
    from fillwork.plans.model import Schedule, Step
    from fillwork.symmetry.model import Orbits


_MODEL = "Kubelka-Munk, single constant, on rebuilt reflectance"
_WIDTH = 100
_SAME = 0.05
"""ΔE00 below which a paint on hand is the colour: it would be told as 0.0."""
_FEW = 3
"""Tools without a price that are named one by one; of more, their number is told."""


def hand_lines(schedule: Schedule) -> list[str]:
    """Return the paints on hand with what is needed of each."""
    by_name = {b.name: b for b in schedule.buys if b.swatch < 0}
    lines = []
    for name, ml in schedule.bought:
        text = f"{name}: {volume_words(ml)}"
        buy = by_name.get(name)
        if buy is not None and buy.packages:
            text += f", as {packages_words(buy.packages)}"
            if buy.cost is not None:
                text += f", {price_words(buy.cost, schedule.currency)}"
        lines.append(text)
    return lines


def mix_lines(schedule: Schedule, palette: Palette) -> list[str]:
    """Return the mixes, and what cannot be mixed.

    A paragraph each; none for a paint on hand that is the colour itself.
    """
    taken = {b.swatch for b in schedule.buys if b.taken}
    lines = [
        f"{palette.swatches[s].name}: {recipe} (expected ΔE00 {miss:.1f}). {remark}"
        for s, recipe, miss, remark in schedule.mixes
        if s not in taken or miss >= _SAME
    ]
    lines += [
        f"{palette.swatches[s].name}: no mix. The nearest from the paints on hand, "
        f"{recipe}, is off by ΔE00 {miss:.1f}: buy it."
        for s, recipe, miss in schedule.refused
    ]
    return lines


def used_lines(schedule: Schedule) -> list[str]:
    """Return what was really used when it was painted.

    A line a swatch, in the user's own words.
    """
    lines = []
    for one in schedule.used:
        told = [f"batch {one.batch}"] if one.batch else []
        told += [f"mixed {one.mix}"] if one.mix else []
        told += [text for text in (one.date, one.words) if text]
        lines.append(f"{one.swatch}: {', '.join(told) or 'nothing noted'}")
    return lines


def cost_lines(schedule: Schedule) -> list[str]:
    """Return what all costs, and what has no price; empty where nothing has a price."""
    total = schedule.cost
    if total is None:
        return []
    hand = {name for name, _ in schedule.bought}
    free = [b for b in schedule.buys if b.cost is None]
    without = [b.name for b in free if b.packages]
    loose = [m.name for m in schedule.materials if m.cost is None]
    if len(loose) > _FEW:
        some = "" if len(loose) == len(schedule.materials) else f"{len(loose)} "
        loose = [f"{some}tools and materials"]
    line = f"In all: {price_words(total, schedule.currency)}"
    if without or loose:
        line += f", without {joined([*without, *loose])}, of which no price is given"
    if any(b.swatch < 0 and b.name in hand and not b.packages for b in free):
        line += "; what is on hand is not counted"
    return [line + "."]


def material_lines(schedule: Schedule) -> list[str]:
    """Return tools and materials: how much of each, for which steps, at what price."""
    lines = []
    for one in schedule.materials:
        line = f"{one.name}: {material_words(one)}"
        if one.cost is not None:
            line += f", {price_words(one.cost, schedule.currency)}"
        lines.append(line)
    return lines


def schedule_text(schedule: Schedule, palette: Palette, orbits: Orbits) -> str:
    """Return the schedule as text to take to the shop and to the wall.

    A table with one row a paint, the factors, mixes, the order as numbered lines with
    reasons, and cautions.
    """
    lines = [f"Schedule for the palette {palette.name}", ""]
    if schedule.patch:
        lines += [*_wrapped(f"A repair alone: {schedule.patch}."), ""]
    lines += _wrapped(schedule.size_words)
    clashes = [clash.text for clash in schedule.clashes]
    lines += _section("REFUSED: WHAT DOES NOT HOLD", clashes)
    lines += ["", "TO BUY", "", *_shop_table(schedule, palette)]
    lines += _wrapped_all(cost_lines(schedule))
    if schedule.materials:
        lines += ["", "Besides:"]
        for line in material_lines(schedule):
            lines += _wrapped(f"[ ]  {line}", "  ", "       ")
    if schedule.bought:
        lines += ["", "Paints on hand, summed over all that they are used for:"]
        lines += [f"  [ ]  {line}" for line in hand_lines(schedule)]
    if any(b.mixed and not b.taken for b in schedule.buys if b.swatch >= 0):
        lines += ["", "Mix each colour in one batch: a second batch never matches."]
    lines += ["", "FACTORS", ""]
    for names, told in factor_sets(schedule, palette):
        lines += _wrapped(names + ":", "  ", "    ")
        lines += _wrapped(told, "    ", "    ")
    for text in drying_lines(schedule, palette):
        lines += _wrapped(text, "  ", "    ")
    if mixes := mix_lines(schedule, palette):
        lines += ["", "MIXES", "", f"  Model: {_MODEL}.", ""]
        for text in mixes:
            lines += _wrapped(text, "  ", "    ")
    lines += _section("BANDS", schedule.strands)
    lines += _section("USED BEFORE", used_lines(schedule))
    lines += ["", "ORDER", ""]
    for step, needs in zip(schedule.steps, needs_words(schedule.steps), strict=True):
        lines += _step_lines(step, orbits, needs)
    lines += _wrapped_all(time_lines(schedule))
    lines += _section("CAUTIONS", schedule.cautions)
    notes = [f"{n.text}; {n.remedy}" if n.remedy else n.text for n in schedule.notes]
    lines += _section("NOTES", notes)
    return "\n".join(lines) + "\n"


def needs_words(steps: Sequence[Step]) -> list[str]:
    """Return what each step is done with; empty where all is in hand already."""
    before = [(), *(step.needs for step in steps)]
    return [
        f"With: {', '.join(step.needs)}" if step.needs not in ((), in_hand) else ""
        for step, in_hand in zip(steps, before, strict=False)
    ]


def _step_lines(step: Step, orbits: Orbits, needs: str) -> list[str]:
    """Return a step with what it needs, what to beware of, and why."""
    letters = ", ".join(orbits.orbits[o].letter for o in step.orbits[:12])
    if len(step.orbits) > 12:
        letters += f" and {len(step.orbits) - 12} more"
    kinds = f" Kind{'s' * (len(step.orbits) > 1)} {letters}." if step.orbits else ""
    head = f"{step.order:3d}. "
    lines = _wrapped(f"{when_words(step)}{step.text}{kinds}", head, "     ")
    below = [f"{needs}."] if needs else []
    below += [f"Care: {step.care}"] if step.care else []
    for text in (*below, f"Why: {step.reason}."):
        lines += _wrapped(text, "     ", "     ")
    return lines


def when_words(step: Step) -> str:
    """Return the day of a step and what it waits for.

    Such as ``Day 2, wait 1 hour for straw to dry: ``; empty where no day is reckoned.
    """
    if not step.day_words:
        return ""
    hours = f", {hours_words(step.hours)} of work" if step.hours else ""
    day = step.day_words
    wait = f", {step.wait}" if step.wait else ""
    return f"{day[0].upper()}{day[1:]}{hours}{wait}: "


def time_lines(schedule: Schedule) -> list[str]:
    """Return how long all takes, and what that rests on.

    Empty where no days are reckoned.
    """
    last = max((s.days[1] for s in schedule.steps), default=0)
    if not last:
        return []
    hours = sum(s.hours for s in schedule.steps)
    told = f", {hours_words(hours)} of work," if hours else ""
    return [
        f"{days_words(last)} in all{told} for one pair of hands, 8 hours a day"
        f"{_pace_words(schedule)}; paces and times of drying and curing are common "
        "practice, the label decides."
    ]


def _pace_words(schedule: Schedule) -> str:
    """Return the pace that the days rest on; empty where nothing has one."""
    kinds = {step.kind for step in schedule.steps}
    if kinds & {"fill", "white", "line"}:
        if any(step.hours for step in schedule.steps):
            return ", at your pace"
        return f", at {PACE[0]:g} m² and {PACE[1]:g} m of edge an hour"
    paces = [(pace, how) for kind, pace, how in FIXED if kind in kinds]
    if not paces:
        return ""
    if len(paces) == 1:
        return f", at {paces[0][0]:g} m² an hour"
    each = [f"{pace:g} m² {how}" for pace, how in paces]
    return f", at {joined(each)} an hour"


def _shop_table(schedule: Schedule, palette: Palette) -> list[str]:
    head = ["   ", "No", "Paint", "Pigments", "Regions", "Area", "Cut in", "Coats"]
    rows = [[*head, "Need", "Buy", "Price"]]
    for row in shop_rows(schedule, palette):
        s = row.swatch
        told = (" ".join(s.pigments) or s.medium) if s else ""
        box = "[ ]" if row.bought else "   "
        rows.append([box, s.code if s else "", row.name, told, *row[3:]])
    if schedule.cost is None:
        rows = [row[:-1] for row in rows]
    return _table(rows, frozenset({4, 5, 6, 7, 8, 10}))


def factor_sets(schedule: Schedule, palette: Palette) -> list[tuple[str, str]]:
    """Return each set of factors once, with the paints it is for.

    Names, and the factors with where they come from.
    """
    groups: dict[tuple[tuple[str, str, str], ...], list[str]] = {}
    for row in rows_of(schedule, palette):
        if row.quantity.factors:
            groups.setdefault(row.quantity.factors, []).append(row.name)
    return [
        (
            ", ".join(names),
            "; ".join(f"{what} {value} ({origin})" for what, value, origin in factors)
            + ".",
        )
        for factors, names in groups.items()
    ]


def drying_lines(schedule: Schedule, palette: Palette) -> list[str]:
    """Return drying times by medium; a sentence a medium."""
    swatches = swatches_of(schedule, palette)
    painted = {q.swatch for q in schedule.quantities if not q.bare}
    drying = {
        s.medium: MEDIA_FACTS[s.medium].drying
        for s in (swatches[place] for place in painted | schedule.under)
        if s.medium in MEDIA_FACTS and MEDIA_FACTS[s.medium].drying
    }
    return [
        f"drying between coats of {medium}: {time} ({COMMON}; the label decides)."
        for medium, time in sorted(drying.items())
    ]


def _table(rows: Sequence[Sequence[str]], right: frozenset[int]) -> list[str]:
    """Return aligned lines; columns in `right` are flush right."""
    widths = [max(len(row[c]) for row in rows) for c in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.rjust(width) if c in right else cell.ljust(width)
            for c, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    rule = "-" * max(len(line) for line in lines)
    return [lines[0], rule, *lines[1:]]


def _section(title: str, texts: Sequence[str]) -> list[str]:
    """Return a title and texts below it, a mark before each; nothing without texts."""
    if not texts:
        return []
    each = [line for text in texts for line in _wrapped(text, "  - ", "    ")]
    return ["", title, "", *each]


def _wrapped_all(texts: Sequence[str]) -> list[str]:
    return ["", *(line for text in texts for line in _wrapped(text))] if texts else []


def _wrapped(text: str, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
