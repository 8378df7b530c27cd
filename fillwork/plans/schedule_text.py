"""The schedule in words: text for the shop and the wall, CSV for a spreadsheet.

Text, CSV and the printed page take their numbers from `fillwork.plans.words` and
their sentences from here, so that they say the same.
"""

from __future__ import annotations

import csv
import io
import textwrap
from typing import TYPE_CHECKING

from fillwork.plans.days import PACE
from fillwork.plans.materials import material_words
from fillwork.plans.media import DRY, MEDIA_FACTS, OBJECTS
from fillwork.plans.quantities import COMMON
from fillwork.plans.words import (
    area_words,
    days_words,
    harmless,
    hours_words,
    joined,
    length_words,
    need_text,
    packages_words,
    price_words,
    three,
    volume_words,
)
from fillwork.plans.working import DRAWN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.model import Palette, Swatch
    from fillwork.plans.model import Buy, Quantity, Schedule, Step
    from fillwork.symmetry.model import Orbits

__all__ = [
    "buy_words",
    "cost_lines",
    "factor_sets",
    "hand_lines",
    "is_bought",
    "material_lines",
    "mix_lines",
    "need_words",
    "paints_of",
    "rows_of",
    "schedule_csv",
    "schedule_text",
    "swatches_of",
]

_MODEL = "Kubelka-Munk, single constant, on rebuilt reflectance"
_WIDTH = 100
_SAME = 0.05
"""ΔE00 below which a paint on hand is the colour: it would be told as 0.0."""
_FEW = 3
"""Tools without a price that are named one by one; of more, their number is told."""
_COLUMNS = (
    "number",
    "paint",
    "hex",
    "medium",
    "pigments",
    "kinds",
    "regions",
    "area_drawn_mm2",
    "area_real_mm2",
    "cut_in_mm",
    "coats",
    "coverage_m2_per_l",
    "volume_ml",
    "buy",
    "leaves",
    "books",
    "bare",
    "step",
    "price",
    "currency",
    "day",
    "tape_mm",
)


def swatches_of(schedule: Schedule, palette: Palette) -> Sequence[Swatch]:
    """Return the palette's paints as they are used.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    palette : Palette
        The palette.

    Returns
    -------
    sequence of Swatch
        With medium and pigments of the parts where a paint is mixed.
    """
    return schedule.swatches or palette.swatches


def rows_of(schedule: Schedule, palette: Palette) -> list[tuple[Quantity, str, bool]]:
    """Return every row of the table: paints, then what goes over and under.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    palette : Palette
        The palette.

    Returns
    -------
    list of (Quantity, str, bool)
        The quantity, its name, and whether it is a swatch's own row.
    """
    rows = [(q, palette.swatches[q.swatch].name, True) for q in schedule.quantities]
    rows += [
        (q, name, False)
        for q, name in zip(schedule.extras, schedule.extra_names, strict=True)
    ]
    return rows


def need_words(quantity: Quantity) -> str:
    """Return the need of a row.

    Parameters
    ----------
    quantity : Quantity
        The row.

    Returns
    -------
    str
        A volume or a number of leaves; empty where neither is known.
    """
    if quantity.leaves is not None:
        return f"{quantity.leaves} leaves" if quantity.leaves != 1 else "1 leaf"
    return "" if quantity.volume is None else volume_words(quantity.volume)


def _tin_of(schedule: Schedule, quantity: Quantity, name: str) -> Buy | None:
    for buy in schedule.buys:
        if quantity.swatch >= 0 and buy.swatch == quantity.swatch:
            return buy
        if quantity.swatch < 0 and buy.swatch < 0:
            tins = (name, name.rpartition(", ")[0], name.partition(": ")[2])
            if buy.name in tins:
                return buy
    return None


def buy_words(
    schedule: Schedule, quantity: Quantity, name: str, *, own: bool = True
) -> str:
    """Return what to buy for a row.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    quantity : Quantity
        The row.
    name : str
        Its name.
    own : bool
        Whether it is a swatch's own row.

    Returns
    -------
    str
        Packages; for what another row's tin holds, which one.
    """
    if quantity.bare:
        return "leave bare"
    buy = _tin_of(schedule, quantity, name)
    if quantity.leaves is not None:
        if buy is None:
            books = quantity.books or 0
            return f"{books} book{'s' * (books != 1)}"
        return leaf_words(buy)
    if quantity.volume is None:
        if buy is not None and buy.unit == "leaf":
            return "same books"
        return "by area" if own else ""
    if buy is not None and buy.mixed:
        mixed = (own or quantity.swatch >= 0) and not buy.taken
        if buy.taken and buy.taken != buy.name:
            return f"{buy.taken}, on hand"
        return "mix" if mixed else "on hand"
    if quantity.containers:
        text = packages_words(quantity.containers)
        uses = [what for what, _ in buy.uses] if buy is not None else []
        return text + (f", for {joined(uses)}" if len(uses) > 1 else "")
    return "same tin" if buy is not None else ""


def is_bought(quantity: Quantity, *, own: bool) -> bool:
    """Return whether a row has a box to tick in the shop.

    Parameters
    ----------
    quantity : Quantity
        The row.
    own : bool
        Whether it is a swatch's own row.

    Returns
    -------
    bool
        Not for what is bare or comes from another row's tin.
    """
    packed = bool(quantity.containers) or quantity.leaves is not None
    return not quantity.bare and (own or packed)


def leaf_words(buy: Buy) -> str:
    """Return the books and single leaves to buy.

    Parameters
    ----------
    buy : Buy
        The leaf.

    Returns
    -------
    str
        Such as ``2 books of 25``.
    """
    parts = []
    for size, count in buy.packages:
        if size > 1:
            parts.append(f"{count} book{'s' * (count != 1)} of {size:g}")
        else:
            parts.append(f"{count} lea{'f' if count == 1 else 'ves'}")
    return " + ".join(parts)


def hand_lines(schedule: Schedule) -> list[str]:
    """Return the paints on hand with what is needed of each.

    Parameters
    ----------
    schedule : Schedule
        The schedule.

    Returns
    -------
    list of str
        One a paint, with what it is for.
    """
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

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    palette : Palette
        The palette.

    Returns
    -------
    list of str
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

    Parameters
    ----------
    schedule : Schedule
        The schedule.

    Returns
    -------
    list of str
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
    """Return what all costs, and what has no price.

    Parameters
    ----------
    schedule : Schedule
        The schedule.

    Returns
    -------
    list of str
        Empty where nothing has a price.
    """
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
    """Return tools and materials with how much of each, for which steps, at what price.

    Parameters
    ----------
    schedule : Schedule
        The schedule.

    Returns
    -------
    list of str
        A line each.
    """
    lines = []
    for one in schedule.materials:
        line = f"{one.name}: {material_words(one)}"
        if one.cost is not None:
            line += f", {price_words(one.cost, schedule.currency)}"
        lines.append(line)
    return lines


def _scale_lines(schedule: Schedule) -> list[str]:
    if schedule.scale_known:
        said = schedule.scale_words
        return [f"Sizes are real; {said}." if said else "Sizes are real."]
    return _wrapped(
        "The real size is not known: all sizes are those of the drawing. State "
        "the true width with --real-width."
    )


def schedule_text(schedule: Schedule, palette: Palette, orbits: Orbits) -> str:
    """Return the schedule as text to take to the shop and to the wall.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    palette : Palette
        The palette.
    orbits : Orbits
        The kinds, for their letters.

    Returns
    -------
    str
        A table with one row a paint, the factors, mixes, the order as numbered
        lines with reasons, and cautions.
    """
    lines = [f"Schedule for the palette {palette.name}", ""]
    if schedule.patch:
        lines += [*_wrapped(f"A repair alone: {schedule.patch}."), ""]
    lines += _scale_lines(schedule)
    if schedule.clashes:
        lines += ["", "REFUSED: WHAT DOES NOT HOLD", ""]
        for clash in schedule.clashes:
            lines += _wrapped(clash.text, "  - ", "    ")
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
    if schedule.strands:
        lines += ["", "BANDS", ""]
        for text in schedule.strands:
            lines += _wrapped(text, "  - ", "    ")
    if schedule.used:
        lines += ["", "USED BEFORE", ""]
        for text in used_lines(schedule):
            lines += _wrapped(text, "  - ", "    ")
    lines += ["", "ORDER", ""]
    for step in schedule.steps:
        letters = ", ".join(orbits.orbits[o].letter for o in step.orbits[:12])
        if len(step.orbits) > 12:
            letters += f" and {len(step.orbits) - 12} more"
        kinds = f" Kinds {letters}." if len(step.orbits) > 1 else ""
        kinds = f" Kind {letters}." if len(step.orbits) == 1 else kinds
        head = f"{step.order:3d}. "
        when = when_words(step)
        lines += _wrapped(f"{when}{step.text}{kinds}", head, "     ")
        if step.needs:
            lines += _wrapped(f"With: {', '.join(step.needs)}.", "     ", "     ")
        if step.care:
            lines += _wrapped(f"Care: {step.care}", "     ", "     ")
        lines += _wrapped(f"Why: {step.reason}.", "     ", "     ")
    lines += _wrapped_all(time_lines(schedule))
    lines += ["", "CAUTIONS", ""]
    for text in schedule.cautions:
        lines += _wrapped(text, "  - ", "    ")
    if schedule.notes:
        lines += ["", "NOTES", ""]
        for note in schedule.notes:
            text = f"{note.text}; {note.remedy}" if note.remedy else note.text
            lines += _wrapped(text, "  - ", "    ")
    return "\n".join(lines) + "\n"


def when_words(step: Step) -> str:
    """Return the day of a step and what it waits for.

    Parameters
    ----------
    step : Step
        The step.

    Returns
    -------
    str
        Such as ``Day 2, wait 1 hour for straw to dry: ``; empty where no day is
        reckoned.
    """
    if not step.day_words:
        return ""
    hours = f", {hours_words(step.hours)} of work" if step.hours else ""
    day = step.day_words
    wait = f", {step.wait}" if step.wait else ""
    return f"{day[0].upper()}{day[1:]}{hours}{wait}: "


def time_lines(schedule: Schedule) -> list[str]:
    """Return how long all takes, and what that rests on.

    Parameters
    ----------
    schedule : Schedule
        The schedule.

    Returns
    -------
    list of str
        Empty where no days are reckoned.
    """
    last = max((s.days[1] for s in schedule.steps), default=0)
    if not last:
        return []
    hours = sum(s.hours for s in schedule.steps)
    told = f", {hours_words(hours)} of work," if hours else ""
    pace = "at your pace" if hours else f"at {PACE[0]:g} m² and {PACE[1]:g} m of edge"
    if not any(s.kind in ("fill", "white", "line") for s in schedule.steps):
        pace = "at your pace" if hours else f"at {DRAWN:g} m²"
    pace += "" if hours else " an hour"
    return [
        f"{days_words(last)} in all{told} for one pair of hands, 8 hours a day, "
        f"{pace}; paces and times of drying and curing are common practice, the "
        "label decides."
    ]


def dry_medium(swatch: Swatch | None) -> bool:
    """Return whether a paint is drawn or set, so that it has no coats.

    Parameters
    ----------
    swatch : Swatch or None
        The paint.

    Returns
    -------
    bool
        For pencils, markers, tile and the like.
    """
    return swatch is not None and swatch.medium in DRY | OBJECTS


def _shop_table(schedule: Schedule, palette: Palette) -> list[str]:
    priced = schedule.cost is not None
    head = ["   ", "No", "Paint", "Pigments", "Regions", "Area", "Cut in", "Coats"]
    rows = [[*head, "Need", "Buy"]]
    swatches = swatches_of(schedule, palette)
    for q, name, own in rows_of(schedule, palette):
        s = swatches[q.swatch] if own else None
        plain = q.bare or dry_medium(s)
        bought = is_bought(q, own=own)
        rows.append(
            [
                "[ ]" if bought else "   ",
                s.code if s else "",
                name,
                (" ".join(s.pigments) or s.medium) if s else "",
                str(q.faces) if own else "",
                area_words(q.area_real),
                "" if plain or not q.edge else length_words(q.edge),
                "" if plain or q.leaves is not None else str(q.coats),
                need_words(q),
                buy_words(schedule, q, name, own=own),
            ]
        )
    right = frozenset({4, 5, 6, 7, 8})
    if not priced:
        return _table(rows, right)
    rows[0].append("Price")
    for row, (q, name, _) in zip(rows[1:], rows_of(schedule, palette), strict=True):
        row.append(row_price(schedule, q, name))
    return _table(rows, right | {10})


def row_price(schedule: Schedule, quantity: Quantity, name: str) -> str:
    """Return the price of what a row buys.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    quantity : Quantity
        The row.
    name : str
        Its name.

    Returns
    -------
    str
        Empty where no price is known, or the tin stands in another row.
    """
    if not quantity.containers and quantity.leaves is None:
        return ""
    buy = _tin_of(schedule, quantity, name)
    if buy is None or buy.cost is None:
        return ""
    return price_words(buy.cost, schedule.currency)


def factor_sets(schedule: Schedule, palette: Palette) -> list[tuple[str, str]]:
    """Return each set of factors once, with the paints it is for.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    palette : Palette
        The palette.

    Returns
    -------
    list of (str, str)
        Names, and the factors with where they come from.
    """
    groups: dict[tuple[tuple[str, str, str], ...], list[str]] = {}
    for q, name, _ in rows_of(schedule, palette):
        if q.factors:
            groups.setdefault(q.factors, []).append(name)
    return [
        (
            ", ".join(names),
            "; ".join(f"{what} {value} ({origin})" for what, value, origin in factors)
            + ".",
        )
        for factors, names in groups.items()
    ]


def drying_lines(schedule: Schedule, palette: Palette) -> list[str]:
    """Return drying times by medium.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    palette : Palette
        The palette.

    Returns
    -------
    list of str
        A sentence a medium.
    """
    swatches = swatches_of(schedule, palette)
    drying = {
        s.medium: MEDIA_FACTS[s.medium].drying
        for s in (swatches[q.swatch] for q in schedule.quantities if not q.bare)
        if s.medium in MEDIA_FACTS and MEDIA_FACTS[s.medium].drying
    }
    return [
        f"drying between coats of {medium}: {time} ({COMMON}; the label decides)."
        for medium, time in sorted(drying.items())
    ]


def paints_of(schedule: Schedule) -> tuple[Buy, ...]:
    """Return what is bought in packages.

    Parameters
    ----------
    schedule : Schedule
        The schedule.

    Returns
    -------
    tuple of Buy
        Tins and books.
    """
    return tuple(b for b in schedule.buys if b.packages)


def schedule_csv(schedule: Schedule, palette: Palette, orbits: Orbits) -> str:
    """Return the quantities as CSV (RFC 4180), one row a paint.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    palette : Palette
        The palette.
    orbits : Orbits
        The kinds, for their letters.

    Returns
    -------
    str
        Numbers with a point and as many digits as the text has; areas in mm²,
        lengths in mm, volumes in mL.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    step_of = {s.swatch: s for s in schedule.steps if s.swatch is not None and s.orbits}
    step_of |= {
        s.swatch: s
        for s in reversed(schedule.steps)
        if s.swatch is not None and s.swatch not in step_of
    }
    swatches = swatches_of(schedule, palette)
    for q, name, own in rows_of(schedule, palette):
        swatch = swatches[q.swatch] if q.swatch >= 0 else None
        step = step_of.get(q.swatch) if own else None
        letters = [orbits.orbits[o].letter for o in step.orbits] if step else []
        plain = q.bare or (own and dry_medium(swatch))
        buy = _tin_of(schedule, q, name)
        cost = buy.cost if buy is not None and (q.containers or q.leaves) else None
        writer.writerow(
            [
                swatch.code if swatch and own else "",
                harmless(name),
                swatch.hex if swatch else "",
                swatch.medium if swatch else "",
                " ".join(swatch.pigments) if swatch else "",
                " ".join(letters),
                q.faces if own else "",
                three(q.area_drawn),
                three(q.area_real),
                "" if plain else three(q.edge),
                "" if plain or q.leaves is not None else q.coats,
                "" if q.coverage is None else f"{q.coverage:g}",
                "" if q.volume is None else need_text(q.volume),
                buy_words(schedule, q, name, own=own),
                "" if q.leaves is None else q.leaves,
                "" if q.books is None else q.books,
                "yes" if q.bare else "no",
                step.order if step else "",
                "" if cost is None else f"{cost:.2f}",
                "" if cost is None else harmless(schedule.currency),
                step.days[0] if step and step.days[0] else "",
                three(step.tape) if step and step.tape else "",
            ]
        )
    return out.getvalue()


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
