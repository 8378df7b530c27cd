"""Slivers: narrow regions between two strokes that were meant as one.

A region is a sliver by *width* (its inscribed circle is no larger than
`Tolerance.sliver`) and by *origin*: a line of its boundary, followed as far as
it goes straight on, lies beside another stroke from end to end. The long thin
tips between lines that cross are needles; their lines part, so they stay.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Defect
from fillwork.arrangement.vertices import components
from fillwork.geometry.curves import LINE
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.geometry.curves import Curves

__all__ = ["Doubles", "find_doubles", "keep_sources"]

CHUNK = 1 << 20
MOST_LINES = 24
STRAIGHT = 0.999  # cosine: a line goes on through a vertex


@dataclass(frozen=True, slots=True)
class Doubles:
    """Hold lines to leave out because another stroke runs beside them.

    Parameters
    ----------
    curve : tuple of int
        The lines.
    beside : tuple of tuple of int
        For each the curves that it runs along.
    defects : tuple of Defect
        One for each line that was doubled, where the sliver is widest.
    spans : tuple of (curve, float, float)
        Of lines that also bound other regions, the parts to leave out.
    """

    curve: tuple[int, ...]
    beside: tuple[tuple[int, ...], ...]
    defects: tuple[Defect, ...]
    spans: tuple[tuple[int, float, float], ...] = ()

    @property
    def whole(self) -> list[int]:
        """Return the lines that are left out from end to end.

        Returns
        -------
        list[int]
            The lines that are left out from end to end.
        """
        partly = {span[0] for span in self.spans}
        return [c for c in self.curve if c not in partly]


def find_doubles(arrangement: Arrangement, drawn: int) -> Doubles:
    """Find lines that make slivers with another stroke.

    Parameters
    ----------
    arrangement : Arrangement
        The regions as drawn.
    drawn : int
        How many of its curves were drawn; the rest close gaps.

    Returns
    -------
    Doubles
        Of two strokes the later drawn is left out.
    """
    radius = arrangement.tolerance.sliver
    faces = _narrow(arrangement, radius)
    points, widths = arrangement.points_inside(faces)
    # a compact speck is a region; a sliver is many times longer than wide
    slender = (widths <= radius) & (arrangement.area[faces] > 16 * widths**2)
    slender[slender] = _between_parallels(arrangement, faces[slender], 2.2 * radius)
    if not slender.any():
        return Doubles((), (), ())
    widest = np.flatnonzero(slender)
    widest = widest[np.argsort(-widths[widest], kind="stable")]
    row_of = dict(zip(faces[widest].tolist(), widest.tolist(), strict=True))
    faces = faces[widest]
    runs = _Runs(arrangement)
    face, first, second = _pairs_of_runs(arrangement, runs, faces)
    first_beside = runs.beside(first, second, 2.2 * radius)
    second_beside = runs.beside(second, first, 2.2 * radius)
    rows = np.flatnonzero(first_beside | second_beside)
    left_out: dict[int, tuple[int, ...]] = {}
    whole: set[int] = set()
    spans: list[tuple[int, float, float]] = []
    gone: set[int] = set()
    found = []
    for row in rows.tolist():
        a, b = int(first[row]), int(second[row])
        if a in gone or b in gone or runs.strokes(a) == runs.strokes(b):
            continue
        own, other = runs.curves(a), runs.curves(b)
        later = max(own, default=-1) > max(other, default=-1)
        if first_beside[row] and (later or not second_beside[row]):
            double = a
        else:
            double, own, other = b, other, own
        lines = [c for c in own if c < drawn]
        if not lines:
            continue
        gone.add(double)
        left_out.update((c, other) for c in lines)
        ends_here = runs.whole_lines(double)
        whole.update(c for c in lines if c in ends_here)
        spans.extend(runs.spans(double, drawn))
        inside = row_of[int(face[row])]
        found.append(
            Defect(
                "sliver",
                (float(points[inside, 0]), float(points[inside, 1])),
                float(2 * widths[inside]),
                "removed",
                "delete one of the two lines in the drawing",
                tuple(sorted(runs.strokes(a) | runs.strokes(b))),
            )
        )
    spans = [span for span in spans if span[0] not in whole]
    return Doubles(
        tuple(left_out), tuple(left_out.values()), tuple(found), tuple(spans)
    )


def _narrow(arrangement: Arrangement, radius: float) -> NDArray[np.int64]:
    """Return the faces whose inscribed circle may be no larger than a radius.

    No point of such a face is farther than that from its boundary, so its area is
    at most the boundary's length times the radius, and a circle for each hole.
    """
    if radius <= 0 or arrangement.face_count < 2:
        return np.empty(0, np.int64)
    rings = arrangement.face_ring_start[1:]
    first = arrangement.ring_start[rings]
    half = arrangement.ring_half_edge[first[0] :]
    step = arrangement.vertices.take(arrangement.origin[half], axis=0)
    step -= arrangement.vertices.take(arrangement.origin[half ^ 1], axis=0)
    around = np.add.reduceat(np.hypot(step[:, 0], step[:, 1]), first[:-1] - first[0])
    most = radius * around + 4 * radius**2 * np.diff(rings)
    area = arrangement.area[1:]
    # chords are a little shorter than the curves that they stand for
    return np.flatnonzero((area > 0) & (area <= 1.5 * most)) + 1


def _pairs_of_runs(
    arrangement: Arrangement, runs: _Runs, faces: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Return each pair of runs that bounds a face lengthwise, and that face."""
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
    key = a.astype(np.int64) * len(runs) + b
    _, once = np.unique(key, return_index=True)
    once = np.sort(once)
    return face[once], a[once], b[once]


def _between_parallels(
    arrangement: Arrangement, faces: NDArray[np.int64], within: float
) -> NDArray[np.bool_]:
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
    """Hold lines followed through the vertices where they go straight on."""

    def __init__(self, arrangement: Arrangement) -> None:
        self.whole = arrangement
        edges = arrangement.edge_count
        one, other = self._straight_on()
        root = components(one >> 1, other >> 1, edges)
        names, self.of_edge = np.unique(root, return_inverse=True)
        self.count = len(names)
        self.order = np.argsort(self.of_edge, kind="stable")
        self.first = np.searchsorted(
            self.of_edge[self.order], np.arange(self.count + 1)
        )
        ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[self.order]]
        self.chords = ends.reshape(-1, 4)
        low = np.minimum(ends[:, 0], ends[:, 1])
        high = np.maximum(ends[:, 0], ends[:, 1])
        start = self.first[:-1]
        self.low = np.stack([np.minimum.reduceat(low[:, k], start) for k in (0, 1)], 1)
        self.high = np.stack(
            [np.maximum.reduceat(high[:, k], start) for k in (0, 1)], 1
        )
        self.pieces = np.bincount(
            arrangement.source_curve, minlength=len(arrangement.curves)
        )

    def __len__(self) -> int:
        return self.count

    def _straight_on(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return pairs of half-edges that leave a vertex in opposite directions."""
        whole = self.whole
        half = np.argsort(whole.origin, kind="stable")
        edge, side = half >> 1, half & 1
        t = whole.edge_span[edge, side]
        back = whole.edge_span[edge, 1 - side]
        slope = whole.curves.derivative(whole.edge_curve[edge], t)
        slope = slope * np.sign(back - t)[:, None]
        slope /= np.maximum(np.hypot(*slope.T), 1e-300)[:, None]
        x, y, origin = slope[:, 0], slope[:, 1], whole.origin[half]
        best = np.full(len(half), STRAIGHT)
        partner = np.full(len(half), -1)
        row = np.arange(len(half))
        for k in range(1, MOST_LINES):
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
        return half[mutual], half[partner[mutual]]

    def members(self, run: int) -> NDArray[np.int64]:
        """Return the edges of a run."""
        return self.order[self.first[run] : self.first[run + 1]]

    def curves(self, run: int) -> tuple[int, ...]:
        """Return the curves that drew a run."""
        return tuple(self._sources(run)[0].tolist())

    def strokes(self, run: int) -> set[int]:
        """Return the strokes that drew a run."""
        return set(self.whole.curve_stroke[self._sources(run)[0]].tolist())

    def whole_lines(self, run: int) -> set[int]:
        """Return the curves that bound regions along this run only."""
        curves, here = self._sources(run)
        return set(curves[here == self.pieces[curves]].tolist())

    def _sources(self, run: int) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
        whole = self.whole
        edge = self.members(run)
        start = whole.source_start[edge]
        _, member = expand_ranges(start, whole.source_start[edge + 1] - start)
        sources = whole.source_curve[member]
        return np.unique(sources[sources < whole.page_curves], return_counts=True)

    def spans(self, run: int, drawn: int) -> list[tuple[int, float, float]]:
        """Return the parts of curves that the edges of a run follow."""
        edge = self.members(run)
        span = np.sort(self.whole.edge_span[edge], axis=1)
        rows = zip(self.whole.edge_curve[edge].tolist(), span.tolist(), strict=True)
        return [(c, t[0], t[1]) for c, t in rows if c < drawn]

    def beside(
        self, one: NDArray[np.int64], other: NDArray[np.int64], within: float
    ) -> NDArray[np.bool_]:
        """Return which runs lie beside another from end to end."""
        result = np.zeros(len(one), dtype=bool)
        # first by boxes, then at a few places, then at many
        boxes = (self.low[one] >= self.low[other] - within).all(axis=1)
        boxes &= (self.high[one] <= self.high[other] + within).all(axis=1)
        row = np.flatnonzero(boxes)
        for most in (3, 40):
            if len(row) == 0:
                return result
            row = row[self._near_throughout(one[row], other[row], within, most)]
        result[row] = True
        return result

    def _near_throughout(
        self,
        one: NDArray[np.int64],
        other: NDArray[np.int64],
        within: float,
        most: int,
    ) -> NDArray[np.bool_]:
        """Test up to so many edges of each run, spread evenly."""
        count = self.first[one + 1] - self.first[one]
        tested = np.minimum(count, most)
        pair, k = expand_ranges(np.zeros(len(one), np.int64), tested)
        edge = self.first[one][pair] + k * count[pair] // tested[pair]
        chords = self.first[other + 1] - self.first[other]
        near = np.ones(len(one), dtype=bool)
        work = np.cumsum(chords[pair])
        begin = 0
        while begin < len(pair):
            done = work[begin - 1] if begin else 0
            stop = max(int(np.searchsorted(work, done + CHUNK, "right")), begin + 1)
            p, e = pair[begin:stop], edge[begin:stop]
            owner, c = expand_ranges(self.first[other][p], chords[p])
            lead = np.cumsum(chords[p]) - chords[p]
            a, d = self.chords[c, :2], self.chords[c, 2:] - self.chords[c, :2]
            square = np.maximum((d * d).sum(axis=1), 1e-300)
            own = self.chords[e][owner]
            for share in (0.0, 0.5, 1.0):
                w = own[:, :2] * (1 - share) + own[:, 2:] * share - a
                u = np.clip((w * d).sum(axis=1) / square, 0.0, 1.0)
                away = np.hypot(*(w - u[:, None] * d).T)
                far = np.minimum.reduceat(away, lead) > within
                near[p[far]] = False
            begin = stop
        return near


def keep_sources(
    edge_curve: NDArray[np.int32],
    source_start: NDArray[np.int32],
    source_curve: NDArray[np.int32],
    middle: NDArray[np.float64],
    table: Curves,
    doubles: Doubles,
    within: float,
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Name lines that were left out as sources of the edges beside them.

    Parameters
    ----------
    edge_curve, source_start, source_curve : ndarray
        As in `Arrangement`.
    middle : ndarray of shape (E, 2)
        A point in the middle of each edge, mm.
    table : Curves
        All curves.
    doubles : Doubles
        The lines that were left out.
    within : float
        How far from the line an edge may run, mm.

    Returns
    -------
    source_start, source_curve : ndarray of int32
        With the lines added.
    """
    order = np.argsort(edge_curve, kind="stable")
    ordered = edge_curve[order]
    rows, sources = [], []
    for c, beside in zip(doubles.curve, doubles.beside, strict=True):
        points = table.point(np.full(33, c), np.linspace(0, 1, 33))
        a, d = points[:-1], np.diff(points, axis=0)
        square = np.maximum((d * d).sum(axis=1), 1e-300)
        for b in beside:
            first, last = np.searchsorted(ordered, [b, b + 1])
            edge = order[first:last]
            w = middle[edge][:, None] - a
            u = np.clip((w * d).sum(axis=2) / square, 0.0, 1.0)
            away = np.hypot(*np.moveaxis(w - u[..., None] * d, 2, 0)).min(axis=1)
            edge = edge[away <= within]
            rows.append(edge)
            sources.append(np.full(len(edge), c, np.int32))
    own = np.repeat(np.arange(len(edge_curve)), np.diff(source_start))
    row = np.concatenate([own, *rows])
    source = np.concatenate([source_curve, *sources])
    rank = np.argsort(row, kind="stable")
    total = np.bincount(row, minlength=len(edge_curve))
    return (
        np.r_[0, np.cumsum(total)].astype(np.int32),
        source[rank].astype(np.int32),
    )
