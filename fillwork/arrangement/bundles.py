"""Bundles: many circles that touch in one point or share two, laid so that they do.

Each pair of them touches there, or crosses in a long lens by the last decimals, in as
many places as pairs. Told beforehand it is one point at which each is parted, and two
circles that touch in it meet nowhere else. So it is with those through two points.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.segments import Chords
from fillwork.geometry.circles import are_circular, circles_meet, parameters_at
from fillwork.geometry.crossings import cross
from fillwork.geometry.near import most_crowded

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints
    from fillwork.geometry.curves import Curves


_MANY, _FEW = 5, 5  # fewer circles meet as all do: that touch, through two points
_PETALS, _FACING = 8, 3  # circles through one point all round; in one direction
_PAIRS = 1 << 14  # are looked at; of those of a bundle so many touch in one place
_HITS = 16
_WHOLE = 2 * np.pi * (1 - 1e-12)
_APART = 0.2  # of both radii: centres farther apart tell where two circles touch
_ROUNDED = 3.0  # times that rounding moves a point: radius, centre and point are off
_LIKE = 4.0  # times that, by which a first guess may be off
_END = 1e-9  # of a circle: nearer its start it begins there
_ROOM = 12.0  # times what is one: so far from the next circle a chord may end
_WIDEST = np.pi / 16  # no farther about its centre a chord is made longer


@dataclass(frozen=True, slots=True, eq=False)
class Bundle:
    """Hold which circles touch in a point."""

    curve: Ints  # (n,): the circles
    point: Floats  # (2,): where they touch, mm
    # (n,): how far about their centres the circles run beside each other from there on
    clear: Floats

    def moved(self, step: Floats) -> Bundle:
        """Return the bundle of the same circles elsewhere."""
        return replace(self, point=self.point + step)

    def part(self, curves: Curves, chords: Chords) -> Chords:
        """Return chords, those of the circles parted in the point.

        Next to it circles run so near each other that ends of chords would be one:
        there the chords are longer.

        `curves`: the true curves. `chords`: their chords, curve by curve.
        """
        d = curves.data[self.curve]
        at = parameters_at(curves, self.curve, self.point - d[:, :2]) % 1.0
        at[np.minimum(at, 1.0 - at) <= _END] = 0.0
        number = np.full(len(curves), -1)
        number[self.curve] = np.arange(len(self.curve))
        mine = number[chords.curve]
        off = np.abs(chords.span[:, 0] - at[mine])
        near = np.minimum(off, 1.0 - off) * 2 * np.pi < self.clear[mine]
        kept = np.flatnonzero((mine < 0) | ~near | (chords.span[:, 0] == 0.0))
        inner = np.flatnonzero(at > 0.0)
        curve = np.r_[chords.curve[kept], self.curve[inner]].astype(np.int32)
        start = np.r_[chords.span[kept, 0], at[inner]]
        place = np.concatenate(
            [chords.ends[kept, :2], np.repeat(self.point[None], len(inner), axis=0)]
        )
        order = np.lexsort((start, curve))
        curve, start, place = curve[order], start[order], place[order]
        row = np.r_[kept, np.zeros(len(inner), np.int64)][order]
        last = np.r_[curve[1:] != curve[:-1], True]
        final = np.flatnonzero(np.r_[chords.curve[1:] != chords.curve[:-1], True])
        ends = np.concatenate([place, np.roll(place, -1, axis=0)], axis=1)
        ends[last, 2:] = chords.ends[final, 2:]
        span = np.stack([start, np.where(last, 1.0, np.roll(start, -1))], axis=1)
        # whole circles that begin there end there
        mine = number[curve]
        there = (mine >= 0) & (at[mine] == 0.0)
        ends[there & (start == 0.0), :2] = self.point
        ends[there & last, 2:] = self.point
        turn = 2 * np.pi * (span[:, 1] - span[:, 0])
        bend = np.hypot(d[:, 2], d[:, 3])[mine] * turn**2 / 8.0
        sagitta = np.where(mine >= 0, bend, chords.sagitta[row])
        return Chords(ends, curve, span, sagitta)


def lay_bundle(curves: Curves, exact: float, rounding: float) -> tuple[Curves, Bundle]:
    """Lay very many circles that touch in one point so that they do exactly.

    The same curves, and a bundle of none, where there is no such point. `exact`: what
    is nearer is one, mm. `rounding`: how far the decimals of the file may move a point,
    mm; infinite if not known.
    """
    none = Bundle(np.empty(0, np.int64), np.zeros(2), np.empty(0))
    d = curves.data
    index, centre, radius = _whole_circles(curves)
    if len(index) < _MANY:
        return curves, none
    within = max(exact, _ROUNDED * rounding if np.isfinite(rounding) else 0.0)
    start = _touching_point(centre, radius, within)
    if start is None:
        return curves, none
    point, axis = start
    for _ in range(3):
        off = centre - point
        side = np.where(off @ axis < 0, -1.0, 1.0)
        along = off @ axis - side * radius
        held = np.maximum(np.abs(along), np.abs(cross(axis, off))) <= _LIKE * within
        if int(held.sum()) < _MANY:
            return curves, none
        # the line of their centres, by the farthest first
        spread = off[held].T @ off[held]
        axis = np.linalg.eigh(spread)[1][:, 1]
        across = np.array([-axis[1], axis[0]])
        side = np.where(off @ axis < 0, -1.0, 1.0)
        along = off @ axis - side * radius
        step = np.median(along[held]) * axis
        point = point + step + np.median((off @ across)[held]) * across
    off = centre - point
    along = np.abs(off @ axis - side * radius)
    held = np.maximum(along, np.abs(off @ across)) <= within
    signed = side * radius
    # of circles that are one but for rounding none: they meet as all do
    chosen = _distinct(np.flatnonzero(held), signed, max(exact, within / _ROUNDED))
    if len(chosen) < _MANY:
        return curves, none
    data = d.copy()
    data[index[chosen], :2] = point + signed[chosen, None] * axis
    # at an angle a, circles whose radii differ by d are a² d / 2 apart
    signed = signed[chosen]
    rank = np.argsort(signed)
    gap = np.r_[np.inf, np.diff(signed[rank]), np.inf]
    least = np.empty(len(chosen))
    least[rank] = np.minimum(gap[1:], gap[:-1])
    clear = np.clip(np.sqrt(2.0 * _ROOM * exact / least), 2 * np.pi * _END, _WIDEST)
    return replace(curves, data=data), Bundle(index[chosen], point, clear)


def lay_pencil(
    curves: Curves, exact: float, rounding: float
) -> tuple[Curves, tuple[Bundle, ...]]:
    """Lay many circles through two points so that they go right through both.

    The same curves, and no bundles, where there are no such points; else one for each.

    `exact`: what is nearer is one, mm. `rounding`: how far the decimals of the file may
    move a point, mm; infinite if not known.
    """
    d = curves.data
    index, centre, radius = _whole_circles(curves)
    if len(index) < _FEW:
        return curves, ()
    within = max(exact, _ROUNDED * rounding if np.isfinite(rounding) else 0.0)
    rng = np.random.default_rng(0)
    i, j = index[rng.integers(0, len(index), (2, _PAIRS))]
    row, off, _, apart = circles_meet(curves, i, j)
    place = d[i[row[apart == 0]], :2] + off[apart == 0]
    points: list[Floats] = []
    for _ in range(2):
        there = most_crowded(place, 16.0 * within)
        if len(there) < _HITS:
            return curves, ()
        points.append(np.median(place[there], axis=0))
        place = place[np.hypot(*(place - points[-1]).T) > 256.0 * within]
    middle, way = (points[0] + points[1]) / 2, (points[1] - points[0]) / 2
    half = float(np.hypot(*way))
    across = np.array([-way[1], way[0]]) / half
    height = (centre - middle) @ across
    laid = middle + height[:, None] * across
    size = np.hypot(height, half)
    held = np.hypot(*(laid - centre).T) + np.abs(size - radius) <= _LIKE * within
    for point in points:
        held &= np.abs(np.hypot(*(centre - point).T) - radius) <= within
    chosen = _distinct(np.flatnonzero(held), height, max(exact, within / _ROUNDED))
    if len(chosen) < _FEW:
        return curves, ()
    data = d.copy()
    data[index[chosen], :2] = laid[chosen]
    data[index[chosen], 2:6] *= (size / radius)[chosen, None]
    clear = np.full(len(chosen), 2 * np.pi * _END)
    bundles = tuple(Bundle(index[chosen], point, clear) for point in points)
    return replace(curves, data=data), bundles


def lay_flower(curves: Curves, exact: float, rounding: float) -> Curves:
    """Lay many circles through one point in many directions right through it.

    The same curves where there is no such point. Those that face each other across it
    within what rounding explains touch there.

    `exact` and `rounding`: as for `lay_bundle`.
    """
    d = curves.data
    index, centre, radius = _whole_circles(curves)
    if len(index) < _PETALS or not np.isfinite(rounding):
        return curves
    within = max(exact, _ROUNDED * rounding)
    rng = np.random.default_rng(0)
    i, j = index[rng.integers(0, len(index), (2, _PAIRS))]
    row, off, _, apart = circles_meet(curves, i, j)
    place = d[i[row[apart == 0]], :2] + off[apart == 0]
    there = most_crowded(place, 16.0 * within)
    if len(there) < _HITS:
        return curves
    point = np.median(place[there], axis=0)
    for most in (_LIKE * within, within, within):
        way = centre - point
        size = np.maximum(np.hypot(*way.T), 1e-300)
        miss = size - radius
        held = np.abs(miss) <= most
        if int(held.sum()) < _PETALS:
            return curves
        step = np.linalg.lstsq(way[held] / size[held, None], miss[held], rcond=None)[0]
        point = point + step
    way, radius = (centre - point)[held], radius[held]
    angle = np.arctan2(way[:, 1], way[:, 0]) % np.pi
    order = np.argsort(angle, kind="stable")
    near = np.diff(angle[order]) <= 2.0 * within / radius.min()
    one = np.cumsum(np.r_[0, ~near])
    if np.bincount(one).max() > _FACING or one[-1] + 1 < _PETALS / _FACING:
        return curves
    axis = (np.bincount(one, angle[order]) / np.bincount(one))[one]
    unit = np.empty((len(order), 2))
    unit[order] = np.stack([np.cos(axis), np.sin(axis)], axis=1)
    unit *= np.sign((unit * way).sum(axis=1))[:, None]
    data = d.copy()
    data[index[held], :2] = point + radius[:, None] * unit
    return replace(curves, data=data)


def _whole_circles(curves: Curves) -> tuple[Ints, Floats, Floats]:
    """Return which curves are whole circles, their middles and radii, mm."""
    d = curves.data
    whole = are_circular(curves) & (np.abs(d[:, 7] - d[:, 6]) >= _WHOLE)
    index = np.flatnonzero(whole)
    return index, d[index, :2], np.hypot(d[index, 2], d[index, 3])


def _distinct(rows: Ints, value: Floats, least: float) -> Ints:
    """Return the rows whose value no other comes as near as this."""
    order = rows[np.argsort(value[rows], kind="stable")]
    apart = np.r_[np.inf, np.diff(value[order]), np.inf] > least
    return np.sort(order[apart[: len(order)] & apart[1 : len(order) + 1]])


def _touching_point(
    centre: Floats, radius: Floats, within: float
) -> tuple[Floats, Floats] | None:
    """Return where most of a sample of pairs touch, and the line of their centres."""
    rng = np.random.default_rng(0)
    i, j = rng.integers(0, len(centre), (2, _PAIRS))
    way = centre[j] - centre[i]
    off = np.hypot(*way.T)
    r, q = radius[i], radius[j]
    inner, outer = np.abs(off - np.abs(r - q)), np.abs(off - (r + q))
    good = np.minimum(inner, outer) <= _LIKE * within
    good &= off > np.maximum(_APART * (r + q), _LIKE * within)
    side = np.where((inner < outer) & (r < q), -1.0, 1.0)[good]
    axis = side[:, None] * way[good] / off[good, None]
    place = centre[i][good] + r[good, None] * axis
    there = most_crowded(place, 16.0 * within)
    if len(there) < _HITS:
        return None
    longest = there[np.argmax(r[good][there] + q[good][there])]
    return np.median(place[there], axis=0), axis[longest]
