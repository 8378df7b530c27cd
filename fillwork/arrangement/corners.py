"""Corners whose ink reaches a line, or another corner, that they were drawn to touch.

A zigzag between two rails is drawn to touch them, and the points of lozenges in a row
to touch each other. By hand they run over by a hair, which is a sliver, or stop short
by one, which leaves the regions on both sides open to each other: no end is loose
there. Where the ink of the corner meets that of what it points at, the eye sees it
closed, and so it is closed here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.closings import Closings, find_closings
from fillwork.arrangement.ends import Tips
from fillwork.geometry.curves import LINE
from fillwork.geometry.near import pairs_within
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import begins, distinct, next_round

if TYPE_CHECKING:
    from fillwork.arrangement.edges import Edges
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.geometry.curves import Curves

# cosine of the angle between the sides of a corner that points somewhere: 120°
BLUNT = -0.5
# how many times its reach the sides of a corner are long; those of a bend are not
LONG = 10.0
# cosine: a side goes on through joints that turn less
_SMOOTH = 0.95
# times its reach within which a corner that touches has no other
_ALONE = 2.0
# where the sides of a corner meet, their ink reaches so many half widths beyond it at
# most: mitres of sharp ones reach farther, round joints no farther than one
_MITRE = 1.5
# how fast lines lead away from the one that a corner touches: the sine of an angle
_AWAY = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Corners:
    """Hold the places where a line turns sharply and meets no other."""

    # as if they were ends that point away from both sides, of infinite length, for
    # nothing of them can be trimmed
    tips: Tips
    spread: Floats  # (n,): half the angle between the sides
    alone: Bools  # (n,): nothing else ends, turns or crosses near by
    places: Ints  # (m,): the vertices where a line ends, turns or crosses another

    def __len__(self) -> int:
        return len(self.tips)

    def ink(self) -> Floats:
        """Return how far the ink reaches beyond each, (n,), in half widths of a line.

        A mitred corner ends at one over the sine of half its angle.
        """
        return np.asarray(1 / np.maximum(np.sin(self.spread), 1 / _MITRE))


def find_corners(
    curves: Curves, vertices: Floats, edges: Edges, reach: float
) -> Corners:
    """Find the places where a line turns sharply and meets no other.

    `reach` is how far the ink of two lines reaches together, mm; 0 finds none.
    """
    flat = edges.vertex.reshape(-1)
    degree = np.bincount(flat, minlength=len(vertices))
    half = np.flatnonzero(degree[flat] == 2) if reach > 0 else np.empty(0, np.int64)
    half = half[np.argsort(flat[half], kind="stable")]
    one, two = half[0::2], half[1::2]
    first, second = _leaving(curves, edges, one), _leaving(curves, edges, two)
    cosine = (first * second).sum(axis=1)
    on = cosine < -_SMOOTH
    degree[flat[one[on]]] = 0
    places = np.flatnonzero(degree)
    step = np.hypot(*(vertices[flat[1::2]] - vertices[flat[0::2]]).T)
    line = components(one[on] // 2, two[on] // 2, len(edges))
    side = np.bincount(line, step, len(edges))[line]
    kept = (cosine > BLUNT) & (one // 2 != two // 2)
    for half in (one, two):
        kept &= _onward(curves, vertices, edges, half)[1] >= LONG * reach
    long = np.minimum(side[one // 2], side[two // 2])[kept] >= LONG * reach
    one, outward = one[kept], -(first + second)[kept]
    at = vertices[flat[one]]
    row, _ = pairs_within(at, vertices[places], _ALONE * reach)
    alone = long & (np.bincount(row, minlength=len(at)) == 1)
    size = np.hypot(*outward.T)
    outward /= np.maximum(size, 1e-300)[:, None]
    tips = Tips(
        flat[one].astype(np.int64),
        one // 2,
        outward,
        np.full(len(outward), np.inf),
        np.zeros(len(outward), dtype=bool),
        np.full(len(outward), -1, np.int64),
        np.full(len(edges), -1, np.int64),
    )
    spread = np.arccos(np.clip(size / 2, 0.0, 1.0))
    return Corners(tips, spread, alone, places)


def points_at_lines(
    curves: Curves,
    vertices: Floats,
    edges: Edges,
    corners: Corners,
    within: Floats,
    pen: Floats,
) -> Closings:
    """Find the lines that corners touch with their points alone.

    Both sides of the corner lead away from the line: a tile's side runs along that of
    its neighbour. Where other lines end, turn or cross, more than a touch was meant.
    `within` (corners,): longest gap at each, mm. `pen` (curves,): width of the line
    that each draws, mm; 0 where none does.
    """
    within = np.where(corners.alone, within, 0.0)
    found = find_closings(curves, vertices, edges, corners.tips, within, strict=True)
    # a corner may run on askew to a line that lies square to another way
    toward = found.target - vertices[corners.tips.vertex[found.tip]]
    straight = np.flatnonzero(curves.kind[found.curve] == LINE)
    line = curves.take(found.curve[straight])
    along = line.ends() - line.starts()
    toward[straight] = np.stack([-along[:, 1], along[:, 0]], axis=1)
    ahead = np.abs((toward * corners.tips.outward[found.tip]).sum(axis=1))
    ahead /= np.maximum(np.hypot(*toward.T), 1e-300)
    turned = np.arccos(np.clip(ahead, -1.0, 1.0))
    away = np.cos(corners.spread[found.tip] + turned) >= _AWAY
    # of the broader of a corner's two lines
    broad = np.zeros(len(vertices))
    np.maximum.at(broad, edges.vertex.reshape(-1), np.repeat(pen[edges.curve], 2))
    ink = broad[corners.tips.vertex[found.tip]] + pen[found.curve]
    return found.take(away & (found.other_tip < 0) & (found.size <= ink / 2))


def points_at_points(
    curves: Curves,
    vertices: Floats,
    edges: Edges,
    corners: Corners,
    within: Floats,
    pen: Floats,
    near: float,
) -> Closings:
    """Find the points that corners touch: of other corners, or where lines meet.

    All lines that leave such a place are long and lead away from each other: sides of
    tiles that run along each other are two outlines. `within` (corners,): longest gap
    at each, mm. `pen` (curves,): width of the line that each draws, mm; 0 where none
    does. `near`: how far the ink of two lines reaches together, mm.
    """
    flat = edges.vertex.reshape(-1)
    at = corners.tips.vertex
    # none lies so near those that are alone
    row = np.flatnonzero(~corners.alone)
    places = vertices[corners.places]
    near_by, found = pairs_within(vertices[at[row]], places, within[row])
    row, other = row[near_by], corners.places[found].astype(np.int64)
    size = np.hypot(*(vertices[other] - vertices[at[row]]).T)
    # the ink of the broadest line there, farther beyond a sharp corner
    beyond = np.zeros(len(vertices))
    np.maximum.at(beyond, flat, np.repeat(pen[edges.curve] / 2, 2))
    beyond[at] *= corners.ink()
    touching = size <= beyond[at[row]] + beyond[other]
    touching &= at[row] != other
    row, other, size = row[touching], other[touching], size[touching]
    place = components(at[row], other, len(vertices))
    members = distinct(np.r_[at[row], other])
    inside = np.zeros(len(vertices), dtype=bool)
    inside[members] = True
    # what leaves a place, and what joins two of its points already
    half = np.flatnonzero(inside[flat])
    far = flat[half ^ 1]
    inner = inside[far] & (place[far] == place[flat[half]])
    known = components(flat[half[inner]], far[inner], len(vertices))
    half = half[~inner]
    where = place[flat[half]]
    bad = np.zeros(len(vertices), dtype=bool)
    way, long = _onward(curves, vertices, edges, half)
    bad[where[long < LONG * near]] = True
    degree = np.bincount(flat, minlength=len(vertices))
    bad[place[members[degree[members] == 1]]] = True
    bad[where[_run_along(way, where, edges.curve[half // 2])]] = True
    order = np.lexsort((other, row, size))
    order = order[~bad[place[other[order]]]]
    one, two = known[at[row[order]]], known[other[order]]
    chosen = order[_first_links(one.tolist(), two.tolist())]
    edge_at = np.zeros(len(vertices), np.int64)
    edge_at[flat] = np.arange(len(flat)) // 2
    return Closings(
        row[chosen],
        vertices[other[chosen]],
        size[chosen],
        edges.curve[edge_at[other[chosen]]].astype(np.int64),
        np.full(len(chosen), -1, np.int64),
    )


def _first_links(one: list[int], two: list[int]) -> list[int]:
    """Return which links, in order, join parts that those before them leave apart."""
    root: dict[int, int] = {}
    found = []
    for k, pair in enumerate(zip(one, two, strict=True)):
        first, last = pair
        while first in root:
            first = root[first]
        while last in root:
            last = root[last]
        if first != last:
            root[first] = last
            found.append(k)
    return found


def _run_along(leaving: Floats, where: Ints, curve: AnyInts) -> Bools:
    """Return which lines that leave a place run along another that leaves it.

    `leaving` (n, 2): unit vectors. `where` and `curve` (n,): the place of each, and
    which it is: both ends of one may lead to its middle from there.
    """
    turn = np.arctan2(leaving[:, 1], leaving[:, 0])
    order = np.lexsort((turn, where))
    first = np.flatnonzero(begins(where[order]))
    following = order[next_round(first, len(order))]
    one, two = leaving[order], leaving[following]
    beside = (one * two).sum(axis=1) > np.sqrt(1 - _AWAY**2)
    found = np.zeros(len(leaving), dtype=bool)
    found[order] = beside & (curve[order] != curve[following])
    return found


def _onward(
    curves: Curves, vertices: Floats, edges: Edges, half: Ints
) -> tuple[Floats, Floats]:
    """Return which way the curves of half-edges lead from their vertex.

    Unit vectors to the middle of what is left of them, (n, 2), and twice how far that
    is, (n,), mm: sides that touch in a corner part, those of tiles side by side do not.
    """
    edge, side = half // 2, half % 2
    start = edges.span[edge, side]
    last = edges.span[edge, 1 - side] > start
    step = curves.point(edges.curve[edge], (start + last) / 2)
    step -= vertices[edges.vertex.reshape(-1)[half]]
    size = np.hypot(*step.T)
    return step / np.maximum(size, 1e-300)[:, None], 2 * size


def _leaving(curves: Curves, edges: Edges, half: Ints) -> Floats:
    """Return unit vectors in which half-edges leave their vertex."""
    edge, side = half // 2, half % 2
    start, end = edges.span[edge, side], edges.span[edge, 1 - side]
    slope = curves.derivative(edges.curve[edge], start) * np.sign(end - start)[:, None]
    size = np.maximum(np.hypot(*slope.T), 1e-300)
    return np.asarray(slope / size[:, None])
