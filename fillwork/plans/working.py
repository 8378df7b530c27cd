"""The steps with days, waits and tape, and the brushes that suit the regions.

Paces, and the times that media dry and cure in, are common practice, no source,
where the plan or the palette does not set them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.plans.days import Task, find_days, hours_of_work
from fillwork.plans.media import DRY, MEDIA_FACTS, cure_days, dry_hours, tape_hours
from fillwork.plans.words import hours_words, joined

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools
    from fillwork.colouring.model import Swatch
    from fillwork.plans.areas import Areas
    from fillwork.plans.model import PaintSettings, Quantity, Step

DRAWN = 0.1
_ROLLED, _GILT = 5.0, 0.15
"""m² an hour drawn with pencil; rolled or brushed wide, gilded."""
_SIZE_TACK, _LEAF_SET, _SIZE_DRY = 3.0, 24.0, 72.0
"""Hours until oil size takes leaf, and until leaf on it takes a line, and varnish."""
_FLAT = (3, 6, 10, 15, 20, 25, 40, 50)


def time_steps(
    steps: Sequence[Step],
    quantities: Sequence[Quantity],
    swatches: Sequence[Swatch],
    areas: Areas,
    settings: PaintSettings,
    *,
    medium: str,
    painted: float,
    line: Quantity | None,
) -> tuple[Step, ...]:
    """Return the steps with days, waits and hours.

    `steps`: the order of work. `areas`: which swatches touch. `medium`: the main
    medium, for the primer. `painted`: area that is primed and varnished, mm².
    """
    real = {q.swatch: q for q in quantities}
    tasks = [
        _task(k, steps, real, swatches, areas, settings, medium, painted, line)
        for k in range(len(steps))
    ]
    found = find_days(tasks)
    timed = []
    for step, task, when in zip(steps, tasks, found, strict=True):
        hours = task.hours if settings.pace is not None else 0.0
        wait = _wait_words(steps, swatches, when.wait, when.waits_for)
        timed.append(replace(step, days=when.days, wait=wait, hours=hours))
    return tuple(timed)


def _task(
    k: int,
    steps: Sequence[Step],
    real: dict[int, Quantity],
    swatches: Sequence[Swatch],
    areas: Areas,
    settings: PaintSettings,
    medium: str,
    painted: float,
    line: Quantity | None,
) -> Task:
    """Return one step as the calendar sees it."""
    step = steps[k]
    pace = settings.pace
    rolled = hours_of_work(painted, 0.0, 1, (_ROLLED, 1.0))
    if step.kind in ("bare", "clean"):
        return Task(0.5)
    if step.kind in ("prime", "varnish"):
        return Task(rolled, after=_before(k, steps, swatches, areas, medium))
    after = _before(k, steps, swatches, areas, medium, tape=step.tape > 0)
    if step.kind == "line":
        length = 0.0 if line is None else line.edge
        return Task(hours_of_work(0.0, length, 1, pace), after=after)
    swatch = step.swatch or 0
    quantity = real[swatch]
    area, edge, coats = quantity.area_real, quantity.edge, quantity.coats
    if step.kind == "under":
        work = hours_of_work(area, 0.0, coats, (_ROLLED, 1.0))
    elif step.kind == "white":
        work, coats = hours_of_work(area, edge, 1, pace), 1
    elif step.kind == "gild":
        work = hours_of_work(area, 0.0, 1, (_GILT, 1.0))
        return Task(work, _SIZE_TACK, after)
    elif step.kind == "draw":
        return Task(hours_of_work(area, 0.0, 1, (DRAWN, 1.0)), 0.0, after)
    else:
        work = hours_of_work(area, edge, max(coats, 1), pace)
    # a coat of a large piece dries while the rest of it is still painted
    each = work / max(coats, 1)
    between = max(coats - 1, 0) * max(dry_hours(swatches[swatch]) - each, 0.0)
    return Task(work, between, after)


def _before(
    k: int,
    steps: Sequence[Step],
    swatches: Sequence[Swatch],
    areas: Areas,
    medium: str,
    *,
    tape: bool = False,
) -> tuple[tuple[int, float, str], ...]:
    """Return the earlier steps that one waits for, how long and why."""
    step = steps[k]
    facts = MEDIA_FACTS.get(medium)
    primer = facts.hours if facts and facts.hours else 4.0
    found = []
    # tape is laid for all paints of its round at once
    mates = [
        s.swatch
        for s in steps
        if tape and s.round == step.round and s.swatch is not None
    ]
    for i, earlier in enumerate(steps[:k]):
        if earlier.kind == "prime":
            found.append((i, primer, "dry"))
            continue
        if earlier.kind in ("bare", "clean", "varnish"):
            continue
        if earlier.kind == "gild" or "oil size" in earlier.needs:
            seal = {"varnish": _SIZE_DRY, "line": _LEAF_SET}.get(step.kind, 0.0)
            found.append((i, seal, "set"))
            continue
        if earlier.swatch is None:
            found.append((i, primer, "dry"))
            continue
        paint = swatches[earlier.swatch]
        gilt = step.kind == "gild" or "oil size" in step.needs
        if paint.medium in DRY:
            continue
        if step.kind == "varnish" or (gilt and "bole" not in step.needs):
            found.append((i, 24.0 * cure_days(paint), "cure"))
            continue
        own = step.swatch
        touches = (
            step.kind in ("line", "draw")
            or earlier.kind == "under"
            or own == earlier.swatch
            or (own is not None and bool(areas.touching[own, earlier.swatch] > 0))
            or bool((areas.touching[mates, earlier.swatch] > 0).any())
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
    names = []
    for i, _, _ in waits_for:
        earlier = steps[i]
        if earlier.kind == "white":
            names.append("the white")
        elif earlier.swatch is not None and earlier.kind != "line":
            names.append(swatches[earlier.swatch].name)
        else:
            names.append({"prime": "the primer"}.get(earlier.kind, "the outlines"))
    who = joined(list(dict.fromkeys(names)))
    _, hours, why = waits_for[0]
    return f"when {who} had {hours_words(hours)} to {why}"


def find_brushes(
    arrangement: Arrangement, painted: Bools, real_scale: float
) -> tuple[str, ...]:
    """Return the brushes that suit the regions.

    A flat one, half as wide as the middle region, and one for the edges.

    `painted` (F,): which of them take paint. `real_scale`: real length / drawn length.
    """
    wide = arrangement.inscribed[painted] * real_scale
    wide = wide[np.isfinite(wide) & (wide > 0)]
    if not len(wide):
        return ()
    middle = float(np.median(wide))
    flat = next((f for f in _FLAT if f >= middle * 0.75), _FLAT[-1])
    least = float(2 * wide.min())
    edge = "pointed round brush"
    if least < 8.0:
        edge = "fine pointed brush"
    return (f"flat brush, {flat} mm", edge)
