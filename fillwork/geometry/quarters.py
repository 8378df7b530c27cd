"""Pieces that programs write circles as, made arcs of one circle again.

A program that knows no arcs writes a circle as four Béziers, whose control points lie
κ = 4 (√2 - 1) / 3 of a half-diameter along the tangents. They leave the circle by up to
2.7e-4 of its radius (T. Goodman, "Properties of β-splines", Journal of Approximation
Theory 44, 1985, gives κ; the error is that of the usual approximation), which is
enough to part lines that touch it. Ends stay where they are.

Pieces of a circle whose ends were rounded have centres of their own, and bend where
they join; where they make up a whole circle, that is what they stand for.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.circles import are_circular
from fillwork.geometry.curves import ARC, CUBIC, Curves
from fillwork.geometry.ranges import begins, next_round

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Floats, Ints32

_KAPPA = 4.0 / 3.0 * (math.sqrt(2.0) - 1.0)
# κ is rounded in many ways, and so are coordinates; of a half-diameter
_OFF = 4e-3
_WHOLE = 1e-2  # radians: pieces of a whole circle turn by 2 π but for so little
_CLOSED = 1e-6  # radians: by so little pieces of one circle may turn by less
_EXACT = 1e-9  # of a radius: what nobody rounded
_HALF = 2.0  # times that rounding moves a point: a radius beside half of a chord
_LEAST = 100.0  # times that: a chord that is shorter says nothing
_FLAT = 0.05  # sine between half-diameters: a flatter ellipse says nothing


def quarters_as_arcs(curves: Curves) -> Curves:
    """Return curves with each Bézier that stands for a quarter of an ellipse as an arc.

    As many, with the same ends.
    """
    rows = np.flatnonzero(curves.kind == CUBIC)
    p = curves.data[rows].reshape(-1, 4, 2)
    first, second = p[:, 3] - (p[:, 1] - p[:, 0]) / _KAPPA, p[:, 0]
    second = second - (p[:, 2] - p[:, 3]) / _KAPPA
    centre = (first + second) / 2
    u, v = _half_diameters(p, centre)
    size = np.maximum(np.hypot(*u.T), np.hypot(*v.T))
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    good = np.hypot(*(first - second).T) <= _OFF * size
    good &= np.abs(area) > _FLAT * size**2
    # of a circle both are equal and upright, whatever rounding did
    step = p[:, 3] - p[:, 0]
    turned = np.stack([-step[:, 1], step[:, 0]], axis=1) * np.sign(area)[:, None]
    middle = (p[:, 0] + p[:, 3] + turned) / 2
    round_ = np.hypot(*(middle - centre).T) <= _OFF * size
    centre[round_] = middle[round_]
    u, v = _half_diameters(p, centre)
    if not good.any():
        return curves
    quarter = np.full(len(rows), math.pi / 2)
    arcs = np.column_stack([centre, u, v, 0 * quarter, quarter])
    kind, data = curves.kind.copy(), curves.data.copy()
    kind[rows[good]], data[rows[good]] = ARC, arcs[good]
    return Curves(kind, data)


def _half_diameters(p: Floats, centre: Floats) -> tuple[Floats, Floats]:
    return p[:, 0] - centre, p[:, 3] - centre


def _half_circles(curves: Curves, first: AnyInts, rounding: float) -> Curves:
    """Return curves with two arcs that rounding alone parts from halves as such.

    A chord shorter than the diameter by a little puts the centre off by far more.
    """
    lead = np.flatnonzero(np.diff(first) == 2)
    rows = np.asarray(first[:-1], np.int64)[lead]
    if len(rows) == 0 or not math.isfinite(rounding):
        return curves
    rows = rows[(curves.kind[rows] == ARC) & (curves.kind[rows + 1] == ARC)]
    both = [curves.take(rows), curves.take(rows + 1)]
    begin, ends = both[0].starts(), both[0].ends()
    good = np.hypot(*(both[1].starts() - ends).T) <= _EXACT * np.abs(ends).max(axis=1)
    good &= np.hypot(*(both[1].ends() - begin).T) <= _EXACT * np.abs(ends).max(axis=1)
    chord = np.hypot(*(ends - begin).T)
    ways = []
    for arcs in both:
        u, v = arcs.data[:, 2:4], arcs.data[:, 4:6]
        size = np.hypot(*u.T)
        good &= np.abs(np.hypot(*v.T) - size) <= _EXACT * size
        good &= np.abs((u * v).sum(axis=1)) <= _EXACT * size**2
        good &= np.abs(size - chord / 2) <= _HALF * rounding
        area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        ways.append(np.sign(area) * np.sign(arcs.data[:, 7] - arcs.data[:, 6]))
    good &= (ways[0] == ways[1]) & (chord > _LEAST * rounding)
    if not good.any():
        return curves
    data = curves.data.copy()
    middle = ((begin + ends) / 2)[good]
    angle = np.arctan2(*(begin[good] - middle).T[::-1])
    way = (ways[0] * math.pi)[good]
    for k in (0, 1):
        size = np.hypot(*both[k].data[good, 2:4].T)[:, None]
        row = rows[good] + k
        data[row, :2] = middle
        data[row, 2:6] = size * np.array([1.0, 0.0, 0.0, 1.0])
        data[row, 6], data[row, 7] = angle + k * way, angle + (k + 1) * way
    return Curves(curves.kind, data)


def whole_circles(curves: Curves, first: AnyInts, rounding: float = math.inf) -> Curves:
    """Return curves with arcs that go once round a circle as arcs of one circle.

    As many. Centre and radius are the means of the arcs'. `first` (strokes + 1,): where
    each stroke begins. `rounding`: how far the decimals of the file may have moved a
    point, mm; infinite if not known.
    """
    if not (curves.kind == ARC).any():
        return curves
    curves = _half_circles(curves, first, rounding)
    lead = np.asarray(first[:-1], np.int64)
    count = np.diff(first)
    owner = np.repeat(np.arange(len(lead)), count)
    centre, u, v = (curves.data[:, k : k + 2] for k in (0, 2, 4))
    sweep = curves.data[:, 7] - curves.data[:, 6]
    turn = sweep * np.sign(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    size = np.hypot(u[:, 0], u[:, 1])
    mean = np.add.reduceat(centre, lead, axis=0) / count[:, None]
    radius = np.add.reduceat(size, lead) / count
    off = np.maximum(
        np.hypot(*(centre - mean[owner]).T), np.abs(size - radius[owner])
    ) / np.maximum(radius[owner], 1e-300)
    round_ = np.abs(np.hypot(v[:, 0], v[:, 1]) - size) <= _OFF * size
    round_ &= np.abs((u * v).sum(axis=1)) <= _OFF * size**2
    good = (curves.kind == ARC) & round_ & (off <= _OFF)
    good &= np.sign(turn) == np.sign(turn[lead])[owner]
    whole = np.logical_and.reduceat(good, lead) & (count > 1)
    whole &= np.abs(np.abs(np.add.reduceat(turn, lead)) - 2 * math.pi) < _WHOLE
    whole &= np.maximum.reduceat(off, lead) > _EXACT
    rows = np.flatnonzero(whole[owner])
    if len(rows) == 0:
        return curves
    data = curves.data.copy()
    circle = owner[rows]
    way = curves.starts()[rows] - mean[circle]
    angle = np.arctan2(way[:, 1], way[:, 0])
    # each begins where the one before ends, and the last ends where the first begins
    start = np.flatnonzero(begins(circle))
    after = next_round(start, len(rows))
    sign = np.sign(turn[rows])
    step = sign * np.mod(sign * (angle[after] - angle), 2 * math.pi)
    begin = np.cumsum(step) - step
    begin += (angle[start] - begin[start])[np.cumsum(np.r_[1, np.diff(circle) > 0]) - 1]
    data[rows, :2] = mean[circle]
    data[rows, 2:6] = radius[circle][:, None] * np.array([1.0, 0.0, 0.0, 1.0])
    data[rows, 6], data[rows, 7] = begin, begin + step
    return Curves(curves.kind, data)


def join_circles(curves: Curves, first: AnyInts) -> tuple[Curves, Ints32]:
    """Return curves with strokes that go once round a circle as one arc each.

    The same curves where there is none; and where each stroke begins. `first` (strokes
    + 1,): where each stroke begins.
    """
    round_ = are_circular(curves)
    lead, count = np.asarray(first[:-1], np.int64), np.diff(first)
    sweep = curves.data[:, 7] - curves.data[:, 6]
    u, v = curves.data[:, 2:4], curves.data[:, 4:6]
    turn = sweep * np.sign(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    centre, size = curves.data[:, :2], np.hypot(u[:, 0], u[:, 1])
    owner = np.repeat(lead, count)
    off = np.maximum(np.hypot(*(centre - centre[owner]).T), np.abs(size - size[owner]))
    # those that are off their mean by no more than this stayed as they were
    good = round_ & (off <= 2 * _EXACT * size) & (turn * turn[owner] > 0)
    whole = np.logical_and.reduceat(good, lead) & (count > 1)
    whole &= np.abs(np.abs(np.add.reduceat(turn, lead)) - 2 * math.pi) <= _CLOSED
    if not whole.any():
        return curves, np.asarray(first, np.int32)
    kept = np.ones(len(curves), dtype=bool)
    kept[np.repeat(whole, count)] = False
    kept[lead[whole]] = True
    data = curves.data.copy()
    row = lead[whole]
    data[row, 7] = data[row, 6] + np.copysign(2 * math.pi, sweep[row])
    start = np.r_[0, np.cumsum(np.where(whole, 1, count))].astype(np.int32)
    return Curves(curves.kind[kept], data[kept]), start
