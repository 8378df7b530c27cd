"""Two lines that run together before they meet, parted up to where they do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import crossings, far, misses, unit
from fillwork.readers.scan.ends import pass_through
from fillwork.readers.scan.model import Fork
from fillwork.readers.scan.pixels import seen_at

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats
    from fillwork.readers.scan.model import Drawing

# Widths: how far behind a fork its lines may meet (two lines at 8 degrees run
# together for 14), what is the fork itself, what is one place, what is too short
# to say how it is bent.
LONGEST_FORK, _HERE, _ONE_PLACE, _SHORT = 14.0, 1.5, 1.5, 12.0
# Arms that part by less than 45 degrees, and a stem that goes on from both.
_NEAR, _ONWARD = np.cos(np.radians(45.0)), np.cos(np.radians(150.0))
# Sine of an angle below which two lines are taken to meet no farther away.
_LEAST_ANGLE = 0.1

_Arm = tuple[int, int, int]
"""A piece, the place of the fork among its vertices, and the way it leaves."""


def part_forks(drawing: Drawing, mask: Bools) -> None:
    """Carry the arms of a fork on to where their own lines meet.

    Where two lines meet at a small angle their ink runs together, and the
    skeleton shows one stem where there are two lines: the tip of the region
    between them is lost.

    `drawing`: changed in place. `mask` (h, w): inked pixels.
    """
    through = drawing.through()
    arms = {v: _arms_at(drawing, v, met) for v, met in through.items()}
    for v in sorted(arms):
        if len(arms[v]) == 3 and len({k for k, _, _ in arms[v]}) > 1:
            stays = _part(drawing, mask, v, through)
            if stays is not None:
                drawing.forks.append(stays)
    drawing.pieces = [p for p in drawing.pieces if len(p.vertices) > 1]


def _part(
    drawing: Drawing, mask: Bools, v: int, through: dict[int, list[int]]
) -> Fork | None:
    """Part a fork, or return it.

    `through`: which pieces may pass through each vertex, or end there; changed.
    """
    arms = _arms_at(drawing, v, through[v])
    if len(arms) != 3:
        # a fork nearby was parted before, and changed this one
        return None
    ways = [_way(drawing, arm) for arm in arms]
    for k in range(3):
        i, j = (n for n in range(3) if n != k)
        onward = max(ways[k] @ ways[i], ways[k] @ ways[j]) < _ONWARD
        if onward and ways[i] @ ways[j] > _NEAR:
            break
    else:
        return None
    angle = abs(float(ways[i][0] * ways[j][1] - ways[i][1] * ways[j][0]))
    # two straight lines a width apart hide half of w² / angle, a circle and its tangent
    # two thirds
    hidden = drawing.width**2 / max(angle, _LEAST_ANGLE) / 1.5
    stays = Fork(drawing.vertices[v].copy(), (ways[i] + ways[j]) / 2, hidden)
    stem, two = arms[k], (arms[i], arms[j])
    own = drawing.pieces[stem[0]]
    carriers = [drawing.pieces[a].carrier for a, _, _ in two]
    place = _meeting(drawing, v, ways[k], carriers, mask)
    if place is drawing.vertices[v]:
        # short arms say little about where they meet
        short = min(len(drawing.pieces[a].points) for a, _, _ in two)
        return stays if short < _SHORT * drawing.width else None
    if place is None:
        return stays
    beyond = own.vertices[stem[1] :: stem[2]][1:]
    near = _ONE_PLACE * drawing.width
    goal = min(beyond, key=lambda n: far(drawing.vertices[n], place))
    if far(drawing.vertices[goal], place) > near:
        if abs(float(misses(place[None], own.carrier)[0])) > 0.5 * drawing.width:
            return stays
        goal = drawing.add(place)
        pass_through(drawing, own, goal)
        if goal not in own.vertices:
            return stays
    moved = [a for a in two if a[0] != stem[0]]
    if any(goal in drawing.pieces[a].vertices for a, _, _ in moved):
        return stays
    for index, at, _ in moved:
        drawing.pieces[index].vertices[at] = goal
        through.setdefault(goal, []).append(index)
    if len(moved) == 2:
        at = own.vertices.index(goal)
        own.vertices = own.vertices[at:] if stem[2] > 0 else own.vertices[: at + 1]
    elif own.vertices[0] != v != own.vertices[-1]:
        own.vertices.remove(v)
    return None


def _arms_at(drawing: Drawing, v: int, pieces: list[int]) -> list[_Arm]:
    """Return the arms at a vertex. `pieces`: which may have any."""
    return [
        (index, at, way)
        for index in sorted(set(pieces))
        for at, n in enumerate(drawing.pieces[index].vertices)
        if n == v
        for way in (-1, 1)
        if 0 <= at + way < len(drawing.pieces[index].vertices)
    ]


def _way(drawing: Drawing, arm: _Arm) -> Floats:
    """Return the direction in which an arm leaves its fork."""
    index, at, way = arm
    piece = drawing.pieces[index]
    here = drawing.vertices[piece.vertices[at]]
    if piece.circle:
        off = unit(here - piece.carrier[:2])
        return way * piece.sign * np.array([-off[1], off[0]])
    return unit(drawing.vertices[piece.vertices[at + way]] - here)


def _meeting(
    drawing: Drawing, v: int, way: Floats, carriers: list[Floats], mask: Bools
) -> Floats | None:
    """Return where two carriers meet behind a fork, with ink all the way.

    The vertex itself, where they meet at the fork.
    """
    width, here = drawing.width, drawing.vertices[v]
    places = crossings(carriers[0], carriers[1])
    if len(places) == 2:
        # a lens thinner than the hand's own accuracy: they touch
        middle = (places[0] + places[1]) / 2
        if sum(abs(float(misses(middle[None], c)[0])) for c in carriers) < 0.3 * width:
            places = [middle]
    place = min(places, key=lambda q: (far(q, here), *q), default=None)
    if place is None:
        return None
    long = far(here, place)
    if long < _HERE * width:
        return here
    if long > LONGEST_FORK * width or (place - here) @ way < 0.9 * long:
        return None
    path = here + np.linspace(0.0, 1.0, max(4, round(long)))[:, None] * (place - here)
    off = [misses(path, c) for c in carriers]
    # within the ink of two lines side by side
    if max(float(np.abs(o).max()) for o in off) > 0.8 * width:
        return None
    return place if seen_at(mask, path).all() else None
