"""Slivers: narrow regions between two lines that were meant as one.

A line of the region's boundary, followed as far as it goes straight on, lies beside
another stroke from end to end. The long thin tips between lines that cross are
needles; their lines part, so they stay.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.geometry.curves import LINE
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import distinct_pairs, expand_ranges, marked

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints

_MOST_LINES = 24
_STRAIGHT = 0.999  # cosine: a line goes on through a vertex


def between_doubled_lines(
    arrangement: Arrangement, faces: Ints, radius: float, *, both: bool
) -> Bools:
    """Return which faces lie between a line and another that runs beside it.

    `faces` (n,): faces whose inscribed circles are no larger than `radius`. `radius`:
    how near the lines are, mm. `both`: whether each must run beside the other from end
    to end. Returns (n,): True for slivers.
    """
    sliver = np.zeros(len(faces), bool)
    may = np.flatnonzero(_between_parallels(arrangement, faces, 2.2 * radius))
    if len(may) == 0:
        return sliver
    runs = _Runs(arrangement)
    face, first, second = _pairs_of_runs(arrangement, runs, faces[may])
    # two runs bound many faces
    runs_met, row = np.unique(np.stack([first, second], 1), axis=0, return_inverse=True)
    one, other = runs_met.T
    found = runs.beside(one, other, 2.2 * radius)
    back = runs.beside(other, one, 2.2 * radius)
    found = found & back if both else found | back
    for k in np.flatnonzero(found).tolist():
        found[k] = runs.strokes(int(one[k])) != runs.strokes(int(other[k]))
    beside = found[row.reshape(-1)]
    sliver[may] = np.isin(faces[may], face[beside])
    return sliver


def straight_on(
    arrangement: Arrangement, vertices: AnyInts | None = None
) -> tuple[Ints, Ints, Floats]:
    """Return pairs of half-edges that leave a vertex in opposite directions.

    `vertices`: where to look; everywhere by default. Returns `half` and `partner`: each
    pair twice, once either way; `cosine`: of the angle between the one and the other
    turned round.
    """
    half = np.arange(len(arrangement.origin))
    if vertices is not None:
        wanted = marked(vertices, len(arrangement.vertices))
        half = half[wanted[arrangement.origin]]
    half = half[np.argsort(arrangement.origin[half], kind="stable")]
    edge, side = half >> 1, half & 1
    t = arrangement.edge_span[edge, side]
    back = arrangement.edge_span[edge, 1 - side]
    slope = arrangement.curves.derivative(arrangement.edge_curve[edge], t)
    slope = slope * np.sign(back - t)[:, None]
    slope /= np.maximum(np.hypot(*slope.T), 1e-300)[:, None]
    x, y, origin = slope[:, 0], slope[:, 1], arrangement.origin[half]
    best = np.full(len(half), _STRAIGHT)
    partner = np.full(len(half), -1)
    row = np.arange(len(half))
    for k in range(1, _MOST_LINES):
        row = row[row + k < len(half)]
        row = row[origin[row] == origin[row + k]]
        if len(row) == 0:
            break
        cosine = -(x[row] * x[row + k] + y[row] * y[row + k])
        for here, there in ((row, row + k), (row + k, row)):
            better = cosine > best[here]
            best[here[better]] = cosine[better]
            partner[here[better]] = there[better]
    mutual = np.flatnonzero(partner >= 0)
    mutual = mutual[partner[partner[mutual]] == mutual]
    return half[mutual], half[partner[mutual]], best[mutual]


def _pairs_of_runs(
    arrangement: Arrangement, runs: _Runs, faces: Ints
) -> tuple[Ints, Ints, Ints]:
    """Return the two runs that bound each face lengthwise, and that face."""
    first = arrangement.ring_start[arrangement.face_ring_start[faces]]
    last = arrangement.ring_start[arrangement.face_ring_start[faces + 1]]
    owner, member = expand_ranges(first, last - first)
    edge = arrangement.ring_half_edge[member] >> 1
    run = runs.of_edge[edge]
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[edge]]
    step = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    # length of each run along each face; the two longest count
    order = np.lexsort((run, owner))
    owner, run, step = owner[order], run[order], step[order]
    new = np.ones(len(owner), dtype=bool)
    new[1:] = (owner[1:] != owner[:-1]) | (run[1:] != run[:-1])
    lead = np.flatnonzero(new)
    owner, run, step = owner[lead], run[lead], np.add.reduceat(step, lead)
    order = np.lexsort((-step, owner))
    owner, run = owner[order], run[order]
    place = np.flatnonzero(
        (owner[1:] == owner[:-1]) & np.r_[True, owner[1:-1] != owner[:-2]]
    )
    a, b = (
        np.minimum(run[place], run[place + 1]),
        np.maximum(run[place], run[place + 1]),
    )
    face = faces[owner[place]]
    return face, a, b


def _between_parallels(arrangement: Arrangement, faces: Ints, within: float) -> Bools:
    """Return which faces have two longest sides that may run side by side.

    Two whole lines that spread by more than the width cannot; this passes over
    the tips of crossing lines at once.
    """
    first = arrangement.ring_start[arrangement.face_ring_start[faces]]
    count = arrangement.ring_start[arrangement.face_ring_start[faces] + 1] - first
    owner, member = expand_ranges(first, count)
    edge = arrangement.ring_half_edge[member] >> 1
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[edge]]
    step = ends[:, 1] - ends[:, 0]
    order = np.lexsort((-np.hypot(*step.T), owner))
    lead = np.cumsum(count) - count
    curves = arrangement.curves
    curve = arrangement.edge_curve[edge[order]]
    one, other = curve[lead], curve[np.minimum(lead + 1, lead + count - 1)]
    zero, full = np.zeros(len(one)), np.ones(len(one))
    d = curves.point(one, full) - curves.point(one, zero)
    e = curves.point(other, full) - curves.point(other, zero)
    longer = np.maximum(np.maximum(np.hypot(*d.T), np.hypot(*e.T)), 1e-300)
    # the shorter line times the sine of the angle
    spread = np.abs(d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0]) / longer
    straight = (curves.kind[one] == LINE) & (curves.kind[other] == LINE)
    apart = straight & (one != other) & (spread > 2 * within)
    return np.asarray(~apart)


class _Runs:
    """Hold curves, followed through the vertices where they go straight on."""

    def __init__(self, arrangement: Arrangement) -> None:
        self.whole = arrangement
        edges = arrangement.edge_count
        one, other, _ = straight_on(arrangement)
        # no line goes on as another where both have way left: what lay between two
        # that are one was taken off there
        curve, t = arrangement.edge_curve, arrangement.edge_span
        left = [(t[h >> 1, h & 1] > 0) & (t[h >> 1, h & 1] < 1) for h in (one, other)]
        on = (curve[one >> 1] == curve[other >> 1]) | ~(left[0] & left[1])
        one, other = one[on], other[on]
        # a curve goes on, also where it runs along others in between
        along = np.argsort(arrangement.edge_curve, kind="stable")
        same = np.flatnonzero(np.diff(arrangement.edge_curve[along]) == 0)
        one = np.r_[one >> 1, along[same]]
        root = components(one, np.r_[other >> 1, along[same + 1]], edges)
        names, self.of_edge = np.unique(root, return_inverse=True)
        self.count = len(names)
        self.order = np.argsort(self.of_edge, kind="stable")
        self.first = np.searchsorted(
            self.of_edge[self.order], np.arange(self.count + 1)
        )
        ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[self.order]]
        self.chords = ends.reshape(-1, 4)
        # a run goes beside the whole of its curves: where it came so near them that
        # nothing lay between, it was taken off
        run, drawn = distinct_pairs(np.stack([self.of_edge, curve], axis=1)).T
        chords, owner, _ = arrangement.curves.take(drawn).flatten(
            arrangement.tolerance.flatten
        )
        whole = chords.reshape(-1, 2, 2)
        of_line = run[owner]
        lines = np.asarray(shapely.linestrings(whole))
        self.shapes = np.asarray(shapely.multilinestrings(lines, indices=of_line))
        shapely.prepare(self.shapes)
        self.box = _boxes(ends, self.first[:-1])
        self.whole_box = _boxes(whole, np.searchsorted(of_line, np.arange(self.count)))

    def __len__(self) -> int:
        return self.count

    def members(self, run: int) -> Ints:
        """Return the edges of a run."""
        return self.order[self.first[run] : self.first[run + 1]]

    def strokes(self, run: int) -> set[int]:
        """Return the strokes that drew a run."""
        whole, edge = self.whole, self.members(run)
        start = whole.source_start[edge]
        _, member = expand_ranges(start, whole.source_start[edge + 1] - start)
        sources = whole.source_curve[member]
        drawn = sources[sources < whole.page_curves]
        return set(whole.curve_stroke[drawn].tolist())

    def beside(self, one: Ints, other: Ints, within: float) -> Bools:
        """Return which runs lie beside another from end to end."""
        result = np.zeros(len(one), dtype=bool)
        # first by boxes, then at a few places, then at many
        (low, high), (whole_low, whole_high) = self.box, self.whole_box
        boxes = (low[one] >= whole_low[other] - within).all(axis=1)
        boxes &= (high[one] <= whole_high[other] + within).all(axis=1)
        row = np.flatnonzero(boxes)
        for most in (3, 40):
            if len(row) == 0:
                return result
            row = row[self._near_throughout(one[row], other[row], within, most)]
        result[row] = True
        return result

    def _near_throughout(
        self, one: Ints, other: Ints, within: float, most: int
    ) -> Bools:
        """Test up to so many edges of each run, spread evenly."""
        count = self.first[one + 1] - self.first[one]
        tested = np.minimum(count, most)
        pair, k = expand_ranges(np.zeros(len(one), np.int64), tested)
        edge = self.first[one][pair] + k * count[pair] // tested[pair]
        near = np.ones(len(one), dtype=bool)
        host = self.shapes[other[pair]]
        for share in (0.0, 0.5, 1.0):
            own = self.chords[edge]
            at = own[:, :2] * (1 - share) + own[:, 2:] * share
            near[pair[~shapely.dwithin(host, shapely.points(at), within)]] = False
        return near


def _boxes(ends: Floats, start: Ints) -> tuple[Floats, Floats]:
    """Return the corners of boxes round lines, (n, 2, 2), of rows from `start` on."""
    low, high = ends.min(axis=1), ends.max(axis=1)
    return (
        np.stack([np.minimum.reduceat(low[:, k], start) for k in (0, 1)], 1),
        np.stack([np.maximum.reduceat(high[:, k], start) for k in (0, 1)], 1),
    )
