"""The steps with days, waits and tape, and the brushes that suit the regions.

Paces, and the times that media dry and cure in, are common practice, no source,
where the plan or the palette does not set them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.plans.days import Task, find_days, hours_of_work
from fillwork.plans.media import DRY, cure_days, dry_hours, facts_of, liquid, tape_hours
from fillwork.plans.words import hours_words, joined

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.colouring.palettes.model import Swatch
    from fillwork.plans.amounts import Amounts
    from fillwork.plans.model import Step

_ROLLED, _DRAWN, _GILT = 5.0, 0.1, 0.15
"""m² an hour rolled or brushed wide, drawn with pencil, gilded."""
FIXED = (
    ("under", _ROLLED, "rolled"),
    ("draw", _DRAWN, "drawn"),
    ("gild", _GILT, "gilded"),
)
"""Kinds of steps whose pace no plan sets, m² an hour, and how they are done."""
_SIZE_TACK, _LEAF_SET, _SIZE_DRY = 3.0, 24.0, 72.0
"""Hours until oil size takes leaf, and until leaf on it takes a line, and varnish."""
_FLAT = (3, 6, 10, 15, 20, 25, 40, 50)


def time_steps(amounts: Amounts, steps: Sequence[Step]) -> tuple[Step, ...]:
    """Return the steps, in the order of work, with days, waits and hours."""
    tasks = [_task(amounts, steps, k) for k in range(len(steps))]
    paced = amounts.settings.pace is not None
    return tuple(
        replace(
            step,
            days=when.days,
            wait=_wait_words(steps, amounts.swatches, when.wait, when.waits_for),
            hours=task.hours if paced else 0.0,
        )
        for step, task, when in zip(steps, tasks, find_days(tasks), strict=True)
    )


def _task(amounts: Amounts, steps: Sequence[Step], k: int) -> Task:
    """Return one step as the calendar sees it."""
    step, pace = steps[k], amounts.settings.pace
    if step.kind in ("bare", "clean"):
        return Task(0.5)
    after = _before(amounts, steps, k)
    if step.kind in ("prime", "varnish"):
        return Task(hours_of_work(amounts.painted, 0.0, 1, (_ROLLED, 1.0)), after=after)
    if step.kind == "line":
        length = 0.0 if amounts.line is None else amounts.line[0].edge
        return Task(hours_of_work(0.0, length, 1, pace), after=after)
    swatch, rolled = step.swatch or 0, step.kind == "under"
    rows = amounts.quantities
    if rolled and amounts.beneath is not None:
        rows = (amounts.beneath,)
    quantity = next(q for q in rows if q.swatch == swatch)
    area, edge, coats = quantity.area_real, quantity.edge, max(quantity.coats, 1)
    if step.kind == "gild":
        return Task(hours_of_work(area, 0.0, 1, (_GILT, 1.0)), _SIZE_TACK, after)
    if step.kind == "draw":
        return Task(hours_of_work(area, 0.0, 1, (_DRAWN, 1.0)), 0.0, after)
    if step.kind == "white":
        coats = 1
    work = hours_of_work(
        area, 0.0 if rolled else edge, coats, (_ROLLED, 1.0) if rolled else pace
    )
    # a coat of a large piece dries while the rest of it is still painted
    waits = max(dry_hours(amounts.swatches[swatch]) - work / coats, 0.0)
    return Task(work, (coats - 1) * waits, after)


def _before(
    amounts: Amounts, steps: Sequence[Step], k: int
) -> tuple[tuple[int, float, str], ...]:
    """Return the earlier steps that one waits for, how long and why."""
    step, touching = steps[k], amounts.areas.touching
    primer = facts_of(amounts.medium).hours or 4.0
    # tape is laid for all paints of its round at once
    tape, own = step.tape > 0, step.swatch
    mates = (s for s in steps if s is step or (tape and s.round == step.round))
    beside = [s.swatch for s in mates if s.swatch is not None]
    gilt = step.kind == "gild" or "oil size" in step.needs
    found = []
    for i, earlier in enumerate(steps[:k]):
        if earlier.kind in ("bare", "clean", "varnish"):
            continue
        if earlier.kind == "gild" or "oil size" in earlier.needs:
            seal = {"varnish": _SIZE_DRY, "line": _LEAF_SET}.get(step.kind, 0.0)
            found.append((i, seal, "set"))
            continue
        if earlier.swatch is None or earlier.kind == "prime":
            found.append((i, primer, "dry"))
            continue
        paint = amounts.swatches[earlier.swatch]
        if paint.medium in DRY:
            continue
        if step.kind == "varnish" or (gilt and "bole" not in step.needs):
            found.append((i, 24.0 * cure_days(paint), "cure"))
            continue
        touches = (
            step.kind in ("line", "draw")
            or earlier.kind == "under"
            or own == earlier.swatch
            or bool((touching[beside, earlier.swatch] > 0).any())
        )
        if not touches:
            continue
        holds = tape_hours(paint) if tape and own != earlier.swatch else None
        if holds is not None:
            found.append((i, max(holds, dry_hours(paint)), "hold tape"))
        else:
            found.append((i, dry_hours(paint), "dry"))
    return tuple(found)


def _wait_words(
    steps: Sequence[Step],
    swatches: Sequence[Swatch],
    wait: float,
    waits_for: tuple[tuple[int, float, str], ...],
) -> str:
    if wait < 0.1 or not waits_for:
        return ""
    others = {"white": "the white", "prime": "the primer", "line": "the outlines"}
    earlier = [steps[i] for i, _, _ in waits_for]
    names = [others.get(s.kind) or swatches[s.swatch or 0].name for s in earlier]
    who = joined(list(dict.fromkeys(names)))
    _, hours, why = waits_for[0]
    return f"when {who} had {hours_words(hours)} to {why}"


def find_brushes(amounts: Amounts) -> tuple[str, ...]:
    """Return the brushes that suit the regions that take paint.

    A flat one, half as wide as the middle region, and one for the edges.
    """
    wet = [liquid(s) and i not in amounts.bare for i, s in enumerate(amounts.swatches)]
    painted = np.array([*wet, False])[amounts.colouring.of_face]
    wide = amounts.arrangement.inscribed[painted] * amounts.real_scale
    wide = wide[np.isfinite(wide) & (wide > 0)]
    if not len(wide):
        return ()
    middle = float(np.median(wide))
    flat = next((f for f in _FLAT if f >= middle * 0.75), _FLAT[-1])
    fine = float(2 * wide.min()) < 8.0
    edge = "fine pointed brush" if fine else "pointed round brush"
    return (f"flat brush, {flat} mm", edge)
