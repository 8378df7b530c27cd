"""How often the lines of a pattern meet a long run, cross it, or end on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import distinct, expand_ranges
from fillwork.symmetry.zones.runs import FIT, GOES_ON, Run

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints


# largest share of vertices where another line runs across a frame line
CROSSED = 0.47
# a line of a pattern is met once in so many roots of the median area at least
_MET_EVERY = 3.5
# what is left out at both ends of a run, beside its length
_TIPS = np.array([0.02, -0.02])


def count_meetings(arrangement: Arrangement, runs: list[Run], unit: float) -> None:
    """Note at which share of each run's meeting points lines reach both sides.

    The first share counts lines that run straight across, the second any that
    reach it: the mirror lines of a pattern have lines on both sides everywhere. What
    lies within the fit of a run is on it: a tip that pokes through reaches one side.

    `unit`: root of the median area of a face, mm.
    """
    if not runs:
        return
    points, origin = arrangement.vertices, arrangement.origin
    band = _Band(runs, points)
    count, edges, total = len(runs), arrangement.edge_count, len(points)
    owner = np.repeat(np.arange(count), [len(r.edges) for r in runs])
    member = np.concatenate([r.edges for r in runs])
    own = np.sort(owner * edges + member)
    order = np.argsort(origin, kind="stable")
    degree = np.bincount(origin, minlength=total)
    first = np.cumsum(degree) - degree
    ends = np.concatenate([origin[2 * member], origin[2 * member + 1]])
    place = distinct(np.concatenate([owner, owner]) * total + ends)
    place = place[band.between_tips(*np.divmod(place, total))]
    # lines that leave a run go some way within its fit, perhaps
    for step in range(3):
        run, vertex = np.divmod(place, total)
        row, half = expand_ranges(first[vertex], degree[vertex])
        half = order[half]
        key = run[row] * edges + half // 2
        found = np.minimum(np.searchsorted(own, key), len(own) - 1)
        leaving = own[found] != key
        row, half = row[leaving], half[leaving]
        target = origin[half ^ 1]
        inside = np.abs(band.offset(run[row], target)) < FIT * unit
        onto = run[row[inside]] * total + target[inside]
        if step == 2 or np.isin(onto, place).all():
            break
        place = np.union1d(place, onto)
    linked = np.isin(onto, place)
    here = np.searchsorted(place, onto[linked])
    part = part_numbers(row[inside][linked], here, len(place))
    row, half = row[~inside], half[~inside]
    away = points[origin[half ^ 1]] - points[origin[half]]
    left = band.offset(run[row], origin[half ^ 1]) > 0
    which = part[row]
    parts = int(part.max(initial=-1)) + 1
    run_of = np.zeros(parts, dtype=np.int64)
    run_of[part] = run
    towards = np.arctan2(away[:, 1], away[:, 0])
    reached = np.intersect1d(which[left], which[~left])
    straight = _goes_on(which[left], towards[left], which[~left], towards[~left])
    met, both, crossed = (
        np.bincount(run_of[np.unique(k)], minlength=count)
        for k in (which, reached, which[left][straight])
    )
    for k in np.flatnonzero(met).tolist():
        # lines of a pattern are met all along, two frame lines where they cross
        least = max(
            float(met[k]), runs[k].length / (_MET_EVERY * max(runs[k].unit, unit))
        )
        runs[k].crossed = float(crossed[k]) / least
        runs[k].both = float(both[k]) / least


class _Band:
    """How vertices lie to runs. `points` (V, 2): vertices, mm."""

    def __init__(self, runs: list[Run], points: Floats) -> None:
        self.points = points
        self.round = np.array([r.round for r in runs])
        self.centre = np.array([r.centre for r in runs])
        self.radius = np.array([r.radius for r in runs])
        self.direction = np.array([r.direction for r in runs])
        # what happens at the ends of a line does not count
        self.span = np.array(
            [
                (-np.inf, np.inf)
                if r.round
                else np.sort((r.ends - r.centre) @ r.direction) + r.length * _TIPS
                for r in runs
            ]
        )

    def offset(self, run: Ints, vertex: AnyInts) -> Floats:
        """Return how far vertices are to the left of lines, or outside circles.

        Signed distances, mm.
        """
        away = self.points[vertex] - self.centre[run]
        u, v = self.direction[run].T
        across = u * away[:, 1] - v * away[:, 0]
        beyond = np.hypot(*away.T) - self.radius[run]
        return np.asarray(np.where(self.round[run], beyond, across))

    def between_tips(self, run: Ints, vertex: AnyInts) -> Bools:
        """Return which vertices are not at the ends of lines.

        True between the ends, and for circles.
        """
        away = self.points[vertex] - self.centre[run]
        at = (away * self.direction[run]).sum(axis=1)
        return np.asarray((at >= self.span[run, 0]) & (at <= self.span[run, 1]))


def _goes_on(part: Ints, towards: Floats, other: Ints, back: Floats) -> Bools:
    """Return which lines one of the other side goes straight on from, in the same part.

    Directions of the other side are turned round and sorted, part by part, with a turn
    less and more beside each, so that thousands of lines in one point are no pairs.
    """
    turn = 2 * np.pi
    round_ = (back + np.pi) % turn
    keys = np.sort(
        (other * 4 * turn + round_ + np.array([[-turn], [0.0], [turn]])).ravel()
    )
    own = part * 4 * turn + towards % turn
    low = np.searchsorted(keys, own - GOES_ON, side="right")
    return np.asarray(np.searchsorted(keys, own + GOES_ON, side="left") > low)
