"""Colours of a panel that is drawn anew at another size: those that it had as drawn."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.model import Pin
from fillwork.colouring.search.solve import LEAST
from fillwork.errors import FillworkError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from fillwork.arrays import Floats
    from fillwork.colouring.model import Adjacency, Colouring, Palette, Rules
    from fillwork.linework import LineWork
    from fillwork.pipeline.surveying import Survey
    from fillwork.values import Match

_LIKE = 0.15  # logarithm of an area by which a border's stretch may change it
_BESIDE = 0.5  # weight of what lies round a kind, beside its area


def assign_or_keep(
    survey: Survey,
    adjacency: Adjacency,
    palette: Palette,
    rules: Rules,
    *,
    progress: Callable[[float, str], None] | None = None,
) -> Colouring:
    """Give every kind a swatch; that of its drawing, if a panel is drawn anew.

    A larger panel has more of one part and less of another, which leans the choice of
    colours; who draws a panel anew wants its colours. Kinds that touch here alone, and
    would not be apart enough, take others.

    `survey`: the panel. `adjacency`: how its kinds touch. `rules`: the wishes; kinds
    that these name are left to them. Raises `ColouringError` as `assign_colours` does.
    """
    from fillwork.colouring.search.assign import assign_colours

    assign = functools.partial(
        assign_colours,
        survey.arrangement,
        survey.orbits,
        adjacency,
        palette,
        progress=progress,
    )
    pins, reached = _pins_as_drawn(survey, palette, rules)
    enough = min(rules.goal_difference, reached)
    while pins:
        every = (*rules.pins, *pins.values())
        try:
            kept = assign(replace(rules, pins=every))
        except FillworkError:
            break
        near = [(a, b) for a, b, _ in kept.equal_neighbours if a != b]
        if kept.closest and kept.smallest_difference < enough - LEAST:
            near.append(kept.closest)
        if not near:
            return replace(kept, rules=replace(kept.rules, pins=rules.pins))
        # what meets here and did not as drawn: the lesser one is chosen afresh
        loose = {
            min(held, key=_area_in(survey))
            for a, b in near
            if (held := pins.keys() & {a, b})
        }
        if not loose:
            break
        pins = {row: pin for row, pin in pins.items() if row not in loose}
    return assign(rules)


def _area_in(survey: Survey) -> Callable[[int], float]:
    """Return what tells the area of all regions of a kind, mm²."""
    area = survey.arrangement.area
    return lambda row: float(area[survey.orbits.orbits[row].faces].sum())


def _pins_as_drawn(
    survey: Survey, palette: Palette, rules: Rules
) -> tuple[dict[int, Pin], float]:
    """Return pins that give kinds of a panel what they have in the drawing.

    By the kinds' rows; none where the panel was not drawn whole, or colours are to
    change places. With them the smallest difference that the drawing has.
    """
    from fillwork.colouring.search.assign import assign_colours

    none: tuple[dict[int, Pin], float] = {}, 0.0
    if survey.as_drawn is None or rules.counterchange not in (None, "no"):
        return none
    try:
        drawn = _surveyed(survey.as_drawn, survey.plan.match, survey.plan.alike)
        if not any(zone.role == "border" for zone in drawn.zones):
            return none
        where = drawn.arrangement, drawn.orbits, drawn.adjacency
        bare = replace(rules, pins=(), ties=(), bans=())
        found = assign_colours(*where, palette, bare)
    except FillworkError:
        return none
    moving = set()
    if found.counterchange is not None:
        moving = {letter for letter, *_ in found.counterchange.kinds}
    pins = {}
    settled = _wished(survey, rules)
    for here, there in _matches(survey, drawn):
        if here in settled or drawn.orbits.orbits[there].letter in moving:
            continue
        orbit = survey.orbits.orbits[here]
        x, y = survey.arrangement.witness[orbit.representative].tolist()
        name = palette.swatches[int(found.of_orbit[there])].name
        pins[here] = Pin(f"@{x!r},{y!r}", name)
    return pins, found.smallest_difference


@functools.lru_cache(maxsize=1)
def _surveyed(drawn: LineWork, match: Match, alike: float) -> Survey:
    """Return what a drawing shows, found once for all palettes."""
    from fillwork.pipeline.surveying import make_survey
    from fillwork.plans.model import Plan

    return make_survey(drawn, Plan(match=match, alike=alike))


def _wished(survey: Survey, rules: Rules) -> set[int]:
    """Return the kinds that wishes name."""
    from fillwork.colouring.places import find_place

    names = [pin.where for pin in rules.pins]
    names += [where for where, _ in rules.bans]
    names += [where for tie in rules.ties for where in tie]
    found: set[int] = set()
    for where in names:
        found.update(find_place(survey.arrangement, survey.orbits, where).orbits)
    return found


def _matches(panel: Survey, drawn: Survey) -> Iterator[tuple[int, int]]:
    """Yield the kinds of a panel, each with that of the drawing which it shows again.

    Known by the part of the drawing in which it lies, its form, its size, and what lies
    round it.
    """
    parts = [_parts(survey) for survey in (panel, drawn)]
    here, there = (_sizes(survey) for survey in (panel, drawn))
    scale = [
        float(np.log(here[i] / there[same[0]]))
        for i, part in enumerate(parts[0])
        if len(same := [j for j, other in enumerate(parts[1]) if other == part]) == 1
    ]
    middle = float(np.median(scale)) if scale else 0.0
    around = [
        _around(survey, part)
        for survey, part in zip((panel, drawn), parts, strict=True)
    ]
    for i, part in enumerate(parts[0]):
        best: tuple[float, int] | None = None
        for j, other in enumerate(parts[1]):
            off = abs(float(np.log(here[i] / there[j])) - middle)
            if other != part or off > _LIKE:
                continue
            both = around[0][i], around[1][j]
            unlike = sum(
                abs(both[0].get(k, 0.0) - both[1].get(k, 0.0))
                for k in both[0].keys() | both[1].keys()
            )
            cost = off + _BESIDE * unlike
            if best is None or cost < best[0] - 1e-9:
                best = cost, j
        if best is not None:
            yield i, best[1]


def _parts(survey: Survey) -> list[tuple[str, str]]:
    """Return for each kind the part of the drawing in which it lies, and its form."""
    role = {zone.index: zone.role for zone in survey.zones}
    return [(role.get(o.zone, ""), o.base_name) for o in survey.orbits.orbits]


def _sizes(survey: Survey) -> Floats:
    area = survey.arrangement.area
    return np.array([area[o.representative] for o in survey.orbits.orbits])


def _around(
    survey: Survey, parts: list[tuple[str, str]]
) -> list[dict[tuple[str, str], float]]:
    """Return for each kind which forms lie round it, as shares of what it touches."""
    found: list[dict[tuple[str, str], float]] = [{} for _ in parts]
    adjacency = survey.adjacency
    for (a, b), shared in zip(
        adjacency.pairs.tolist(), adjacency.shared.tolist(), strict=True
    ):
        for one, other in ((a, b), (b, a)):
            row = found[one]
            row[parts[other]] = row.get(parts[other], 0.0) + shared
    for row in found:
        whole = sum(row.values()) or 1.0
        for key in row:
            row[key] /= whole
    return found
