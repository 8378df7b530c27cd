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

    from fillwork.arrays import Floats, Ints
    from fillwork.colouring.model import Adjacency, Colouring, Rules
    from fillwork.colouring.palettes.model import Palette
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
    here, there = _forms(panel), _forms(drawn)
    known = {form: k for k, form in enumerate(dict.fromkeys((*here, *there)))}
    form, other = (np.array([known[f] for f in forms]) for forms in (here, there))
    same = form[:, None] == other
    bend = np.log(_sizes(panel)[:, None] / _sizes(drawn))
    alone = bend[same & (same.sum(axis=1) == 1)[:, None]]
    off = np.abs(bend - (np.median(alone) if len(alone) else 0.0))
    around = _around(panel, form, len(known))
    beside = _around(drawn, other, len(known))
    for k, fits in enumerate(same & (off <= _LIKE)):
        found = np.flatnonzero(fits)
        if len(found):
            unlike = np.abs(around[k] - beside[found]).sum(axis=1)
            cost = off[k, found] + _BESIDE * unlike
            yield k, int(found[np.argmax(cost <= cost.min() + 1e-9)])


def _forms(survey: Survey) -> list[tuple[str, str]]:
    """Return for each kind the part of the drawing in which it lies, and its form."""
    role = {zone.index: zone.role for zone in survey.zones}
    return [(role.get(o.zone, ""), o.base_name) for o in survey.orbits.orbits]


def _sizes(survey: Survey) -> Floats:
    area = survey.arrangement.area
    return np.array([area[o.representative] for o in survey.orbits.orbits])


def _around(survey: Survey, form: Ints, count: int) -> Floats:
    """Return for each kind which forms lie round it, as shares of what it touches."""
    found: Floats = np.zeros((len(form), count))
    pairs, shared = survey.adjacency.pairs, survey.adjacency.shared
    for one, other in (pairs.T, pairs.T[::-1]):
        np.add.at(found, (one, form[other]), shared)
    whole = found.sum(axis=1, keepdims=True)
    return found / np.where(whole > 0, whole, 1.0)
