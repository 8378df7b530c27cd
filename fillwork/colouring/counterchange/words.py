"""Plain words for what a way of counterchange does."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.counterchange.cosets import Cosets

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Floats
    from fillwork.colouring.counterchange.subgroups import (
        Element,
        PatternGroup,
        Subgroup,
    )

_TURNS = {2: "half-turns", 3: "third-turns", 4: "quarter-turns", 6: "sixth-turns"}
_MANY = 12  # repeats each way within which centres are tried


def _join_words(names: Sequence[str]) -> str:
    """Join names with commas and a last "and"; ``a, b and c``. `names`: one or more."""
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def say_choice(group: PatternGroup, subgroup: Subgroup, colours: int) -> str:
    """Say what colours do when they change places by a subgroup.

    One sentence without a full stop; angles in degrees, from the level,
    counter-clockwise.

    `colours`: how many change places.
    """
    lines = []
    # repeats along the longer side until the colours return
    period = max((row[k] for k, row in enumerate(subgroup.lattice)), default=1)
    if group.rank:
        lines.append(_repeats(group, subgroup) if period > 1 else _SAME)
    does: dict[str, list[str]] = {"change": [], "keep": [], "both": []}
    for name, parts in _turns(group).items():
        does[_effect(subgroup, parts)].append(name)
    mirrors, glides = _reflections(group, subgroup.index)
    for name, found in (("mirror images", mirrors), ("glides", glides)):
        if name == "glides" and mirrors and period > 1:
            continue  # they follow from the mirrors and the rows
        by_effect: dict[str, list[int]] = {}
        for g, parts in found.items():
            by_effect.setdefault(_effect(subgroup, parts), []).append(g)
        for effect, rows in by_effect.items():
            text = name + _in_axes(group, rows, len(found))
            does[effect].append(text)
    for effect, text in _EFFECTS.items():
        if does[effect]:
            lines.append(f"{_join_words(does[effect])} {text}")
    return f"{colours} colours: " + "; ".join(lines)


_EFFECTS = {
    "change": "change them",
    "keep": "keep them",
    "both": "keep them at some places and change them at others",
}


def say_round(group: PatternGroup, subgroup: Subgroup, home: Floats) -> str:
    """Say how the regions round the nearest centre of turns are coloured.

    Subgroups that an operation carries onto each other give colourings that this
    tells apart: the same rows or stars, begun at another place.

    Such as ``the 6 regions round the nearest centre: a b a b a b``; empty where nothing
    turns, or where the region lies over the centre.

    `home` (2,): a point inside the region that stands for the kind, mm.
    """
    leftwards = np.flatnonzero(group.linear[:, 1, 0] > -1e-3).tolist()
    order, g = max((_order_of(group.linear[g]), -g) for g in leftwards)
    if order < 2:
        return ""
    away = np.linalg.inv(np.eye(2) - group.linear[-g])
    # the translation for which the centre is nearest to the region
    wanted = (home - away @ group.shift[-g]) @ np.linalg.pinv(group.basis @ away.T)
    whole = np.rint(wanted).astype(int)
    steps = np.array(list(itertools.product((-1, 0, 1), repeat=group.rank)), int)
    apart, turn = min(
        (round(math.dist(away @ group.shift_of((-g, t)), home), 6), t)
        for t in map(tuple, (whole + steps).tolist())
    )
    if apart < 1e-6:
        return ""
    cosets = Cosets(group, subgroup)
    place = group.identity
    named: dict[int, str] = {}
    letters = []
    for _ in range(order):
        coset = cosets.number(place)
        letters.append(
            named.setdefault(coset, "abcdefghijklmnopqrstuvwxyz"[len(named)])
        )
        place = group.multiply((-g, turn), place)
    told = "one colour" if len(named) == 1 else " ".join(letters)
    return f"the {order} regions round the nearest centre: {told}"


def _order_of(linear: Floats) -> int:
    """Return the order of a smallest turn to either side, 1 for what is none."""
    angle = abs(float(np.arctan2(linear[1, 0], linear[0, 0])))
    if float(np.linalg.det(linear)) < 0 or angle < 1e-3:
        return 1
    order = round(2 * np.pi / angle)
    return order if abs(order * angle - 2 * np.pi) < 0.02 else 1


_SAME = "every repeat is coloured alike"


def _span(group: PatternGroup, reach: int) -> list[tuple[int, ...]]:
    steps = range(-(reach // 2) - 1, reach // 2 + 2)
    return list(itertools.product(steps, repeat=group.rank))


def _turns(group: PatternGroup) -> dict[str, list[Element]]:
    """Return the turns about many centres by their names."""
    found: dict[str, list[Element]] = {}
    for g in range(group.order):
        order = _order_of(group.linear[g])
        if order > 1:
            name = _TURNS.get(order, f"turns by {360 / order:.4g}°")
            found.setdefault(name, []).extend((g, t) for t in _span(group, _MANY))
    return found


def _reflections(
    group: PatternGroup, index: int
) -> tuple[dict[int, list[Element]], dict[int, list[Element]]]:
    """Return mirrors by their part, and glides of parts that have no mirror."""
    mirrors: dict[int, list[Element]] = {}
    glides: dict[int, list[Element]] = {}
    size = float(np.hypot(*group.basis.T).min()) if group.rank else 1.0
    for g in range(group.order):
        linear = group.linear[g]
        if float(np.linalg.det(linear)) > 0:
            continue
        every: list[Element] = [(g, t) for t in _span(group, index)]
        moves = np.array([group.shift_of(element) for element in every])
        slides = np.hypot(*(moves @ linear.T + moves).T) / 2.0
        if group.rank == 0:
            mirrors[g] = every
            continue
        least = slides.min()
        near = [e for e, v in zip(every, slides, strict=True) if v < least + 0.1 * size]
        (mirrors if least < 0.1 * size else glides)[g] = near
    return mirrors, glides


def _effect(subgroup: Subgroup, operations: Sequence[Element]) -> str:
    """Say whether operations keep a colour in place, change it, or do both."""
    held = {subgroup.contains(operation) for operation in operations}
    return "both" if len(held) == 2 else "keep" if True in held else "change"


def _whole(angle: float) -> int:
    """Return a direction of lines in whole degrees, 0 to 179."""
    return round(angle) % 180


def _direction(angle: int) -> str:
    """Name a direction of lines, degrees from the level."""
    return {0: "level", 90: "upright"}.get(angle, f"at {angle}°")


def _in_axes(group: PatternGroup, parts: Sequence[int], total: int) -> str:
    """Name the axes of reflections where not all of them do the same."""
    if len(parts) == total:
        return ""
    if len(parts) > 2:
        return f" in {len(parts)} of {total} directions"
    angles = []
    for g in parts:
        x, y = group.linear[g][:, 0]
        angles.append(_whole(math.degrees(math.atan2(y, x)) / 2))
    angles.sort()
    return f" in axes {_join_words([_direction(a) for a in angles])}"


def _repeats(group: PatternGroup, subgroup: Subgroup) -> str:
    """Say how colours change from one repeat to the next."""
    if group.rank == 1:
        return "colours change from repeat to repeat"
    span = range(-3, 4)
    steps = []
    for t in itertools.product(span, span):
        if t > (0, 0) and math.gcd(*t) == 1 and not any(subgroup.reduce(t)):
            x, y = np.array(t, float) @ group.basis
            steps.append((math.hypot(x, y), math.degrees(math.atan2(y, x))))
    if not steps:
        return "colours change at every step from repeat to repeat"
    least = min(length for length, _ in steps)
    rows = sorted(_whole(angle) for length, angle in steps if length < 1.001 * least)
    if len(rows) > 2:
        return "colours change at every step from repeat to repeat"
    if len(rows) == 2:
        names = _join_words([_direction(angle) for angle in rows])
        return f"colours alternate as on a chessboard, in rows {names}"
    name = _direction(rows[0])
    row = f"rows {name}" if name.startswith("at") else f"{name} rows"
    return f"colours run in {row} and change from row to row"
