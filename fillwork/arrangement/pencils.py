"""Pencils: many straight lines through one point, parted there beforehand.

Each pair of them crosses there, in as many places as pairs. Told beforehand it is one
point at which all of them end, and lines that end in one point are not made to meet.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.segments import Chords
from fillwork.geometry.crossings import cross
from fillwork.geometry.near import most_crowded
from fillwork.geometry.ranges import begins

if TYPE_CHECKING:
    from fillwork.arrays import Floats

_MANY = 200  # fewer lines meet as all do
_PAIRS = 1 << 14  # are looked at; of those of a pencil so many cross in one place
_HITS = 16
_END = 1e-6  # of a line: a point nearer an end parts nothing


def part_pencil(chords: Chords, within: float) -> Chords:
    """Return chords parted where very many of them go through one point.

    `chords`, curve by curve. `within`: how near the point they pass, mm. Returns the
    same object where there is no such point.
    """
    lines = np.flatnonzero(chords.sagitta == 0)
    if len(lines) < _MANY:
        return chords
    point = _common_point(chords.ends.take(lines, axis=0), within)
    if point is None:
        return chords
    ends = chords.ends.take(lines, axis=0)
    d, w = ends[:, 2:] - ends[:, :2], point - ends[:, :2]
    size = np.maximum((d * d).sum(axis=1), 1e-300)
    share = (w * d).sum(axis=1) / size
    through = np.abs(cross(d, w)) <= within * np.sqrt(size)
    through &= np.abs(share - 0.5) < 0.5 - np.maximum(_END, within / np.sqrt(size))
    if int(through.sum()) < _MANY:
        return chords
    parted = np.zeros(len(chords), dtype=bool)
    parted[lines[through]] = True
    row = np.repeat(np.arange(len(chords)), np.where(parted, 2, 1))
    first = parted[row] & begins(row)
    second = parted[row] & ~first
    ends, span = chords.ends.take(row, axis=0), chords.span.take(row, axis=0)
    ends[first, 2:] = ends[second, :2] = point
    low, high = span[first].T
    middle = low + share[through] * (high - low)
    span[first, 1] = span[second, 0] = middle
    return Chords(ends, chords.curve[row], span, chords.sagitta[row])


def _common_point(ends: Floats, within: float) -> Floats | None:
    """Return where most of a sample of pairs of lines cross, if many do."""
    rng = np.random.default_rng(0)
    i, j = rng.integers(0, len(ends), (2, _PAIRS))
    p, q = ends.take(i, axis=0), ends.take(j, axis=0)
    d, e, w = p[:, 2:] - p[:, :2], q[:, 2:] - q[:, :2], q[:, :2] - p[:, :2]
    det = cross(d, e)
    good = np.abs(det) > 0.1 * np.hypot(*d.T) * np.hypot(*e.T)
    s = cross(w, e)[good] / det[good]
    place = p[good, :2] + s[:, None] * d[good]
    place = place[(s > _END) & (s < 1 - _END)]
    there = most_crowded(place, 8.0 * within)
    return np.median(place[there], axis=0) if len(there) >= _HITS else None
