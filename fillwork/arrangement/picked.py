"""Lines that a person picks by a point."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.segments import cut_into_chords
from fillwork.errors import LineWorkError
from fillwork.geometry.crossings import cross, nearest_parameter
from fillwork.units import plain

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats
    from fillwork.geometry.curves import Curves

_REACH = 0.02  # of the drawing's size: farther from what is meant, a point is a slip


def tips_to_cut(place: Floats, points: Floats, size: float) -> Bools:
    """Return the loose ends nearest to points.

    `place` (n, 2): where loose ends are, mm. `points` (m, 2): the points, mm. `size`:
    size of the drawing, mm. Returns (n,): True for those whose overhang is cut. Raises
    `LineWorkError` if no loose end is within a fiftieth of the drawing's size.
    """
    chosen = np.zeros(len(place), dtype=bool)
    for x, y in points.tolist():
        away = np.hypot(*(place - (x, y)).T)
        if not len(place) or away.min() > _REACH * size:
            what = "no line ends alone near"
            mend = f"give a point within {plain(_REACH * size)} mm of the end"
            raise LineWorkError(what, f"--cut @{x:g},{y:g}", mend)
        chosen[int(np.argmin(away))] = True
    return chosen


def lines_to_drop(curves: Curves, drawn: int, points: Floats) -> Bools:
    """Return the lines nearest to points, with their copies.

    `drawn`: how many of them belong to the drawing. `points` (n, 2): the points, mm.
    Returns (curves,): True for the lines that are left out. Raises `LineWorkError` if
    no line is within a fiftieth of the drawing's size.
    """
    chosen = np.zeros(len(curves), dtype=bool)
    own = curves.take(np.arange(drawn))
    box = cut_into_chords(own, 1e9).ends.reshape(-1, 2)
    size = float(np.hypot(*np.ptp(box, axis=0)))
    chords = cut_into_chords(own, max(1e-4 * size, 1e-300))
    a, d = chords.ends[:, :2], chords.ends[:, 2:] - chords.ends[:, :2]
    square = np.maximum((d * d).sum(axis=1), 1e-300)
    for point in points:
        u = np.clip(((point - a) * d).sum(axis=1) / square, 0.0, 1.0)
        away = np.hypot(*(a + u[:, None] * d - point).T)
        row = np.flatnonzero(
            away <= away.min() + 2 * chords.sagitta.max() + 1e-6 * size
        )
        index = chords.curve[row]
        t = chords.span[row, 0] + u[row] * (chords.span[row, 1] - chords.span[row, 0])
        place = np.broadcast_to(point, (len(row), 2))
        better, _ = nearest_parameter(own, index, place, t)
        better = np.clip(better, 0.0, 1.0)
        foot = own.point(index, better)
        exact = np.hypot(*(foot - point).T)
        best = int(np.argmin(exact))
        if exact[best] > _REACH * size:
            what = f"no line near: the nearest is {plain(exact[best])} mm away"
            mend = f"give a point within {plain(_REACH * size)} mm of the line"
            raise LineWorkError(what, "--drop", mend)
        slope = own.derivative(index, better)
        sine = cross(slope, slope[best]) / np.maximum(
            np.hypot(*slope.T) * np.hypot(*slope[best]), 1e-300
        )
        same = (np.hypot(*(foot - foot[best]).T) <= 1e-6 * size) & (np.abs(sine) < 1e-3)
        chosen[index[same]] = True
    return chosen
