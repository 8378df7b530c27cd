"""Slivers: narrow regions between two strokes that were meant as one.

A region is a sliver by *width* (its inscribed circle is no larger than
`Tolerance.sliver`) and by *origin*: a line of its boundary, followed as far as
it goes straight on, lies beside another stroke from end to end. The long thin
tips between lines that cross are needles; their lines part, so they stay.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Defect
from fillwork.geometry.curves import LINE
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.geometry.curves import Curves

__all__ = ["Doubles", "find_doubles", "keep_sources"]

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
        """Return the lines that are left out from end to end."""
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
    narrow = (arrangement.inscribed <= radius) & (arrangement.area > 0)
    # a compact speck is a region; a sliver is many times longer than wide
    narrow &= arrangement.area > 16 * arrangement.inscribed**2
    faces = _between_parallels(arrangement, np.flatnonzero(narrow), 2.2 * radius)
    if len(faces) == 0:
        return Doubles((), (), ())
    faces = faces[np.argsort(-arrangement.inscribed[faces], kind="stable")]
    runs = _Runs(arrangement)
    left_out: dict[int, tuple[int, ...]] = {}
    gone: set[int] = set()
    whole: set[int] = set()
    spans: list[tuple[int, float, float]] = []
    kept: set[tuple[int, int]] = set()
    found = []
    for face in faces.tolist():
        half = np.concatenate(arrangement.face_half_edges(face))
        own = list(dict.fromkeys(runs.through(int(e)) for e in half >> 1))
        for a, b in combinations(own, 2):
            if a in gone or b in gone or (a, b) in kept:
                continue
            double = runs.double(a, b, 2.2 * radius)
            curves = runs.curves[double] if double is not None else ()
            lines = [c for c in curves if c < drawn]
            if double is None or not lines:
                kept.update(((a, b), (b, a)))
                continue
            other = a + b - double
            gone.add(double)
            left_out.update((c, runs.curves[other]) for c in lines)
            whole.update(c for c in lines if c in runs.whole_lines[double])
            spans.extend(runs.spans(double, drawn))
            at = arrangement.witness[face]
            found.append(
                Defect(
                    "sliver",
                    (float(at[0]), float(at[1])),
                    float(2 * arrangement.inscribed[face]),
                    "removed",
                    "delete one of the two lines in the drawing",
                    tuple(sorted(runs.strokes[a] | runs.strokes[b])),
                )
            )
    spans = [span for span in spans if span[0] not in whole]
    return Doubles(
        tuple(left_out), tuple(left_out.values()), tuple(found), tuple(spans)
    )


def _between_parallels(
    arrangement: Arrangement, faces: NDArray[np.int64], within: float
) -> NDArray[np.int64]:
    """Return the faces whose two longest sides may run side by side.

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
    return np.asarray(faces[~apart])


class _Runs:
    """Follow lines through the vertices where they go straight on."""

    def __init__(self, arrangement: Arrangement) -> None:
        self.whole = arrangement
        self.run_of: dict[int, int] = {}
        self.edges: list[list[int]] = []
        self.curves: list[tuple[int, ...]] = []
        self.strokes: list[set[int]] = []
        self.whole_lines: list[set[int]] = []
        self.pieces = np.bincount(
            arrangement.source_curve, minlength=len(arrangement.curves)
        )
        self.chords: list[NDArray[np.float64]] = []
        order = np.argsort(arrangement.origin, kind="stable")
        self.leaving = order
        self.first = np.searchsorted(
            arrangement.origin[order], np.arange(len(arrangement.vertices) + 1)
        )

    def through(self, edge: int) -> int:
        """Return the number of the run through an edge."""
        if edge in self.run_of:
            return self.run_of[edge]
        members = [edge]
        seen = {edge}
        for half in (2 * edge, 2 * edge + 1):
            onward = self._onward(half)
            while onward >= 0 and onward >> 1 not in seen:
                members.append(onward >> 1)
                seen.add(onward >> 1)
                onward = self._onward(onward)
        number = len(self.edges)
        self.run_of.update(dict.fromkeys(members, number))
        whole = self.whole
        index = np.array(members)
        sources = np.concatenate(
            [
                whole.source_curve[whole.source_start[e] : whole.source_start[e + 1]]
                for e in members
            ]
        )
        curves, here = np.unique(
            sources[sources < whole.page_curves], return_counts=True
        )
        # lines that also run elsewhere are left out in part
        self.whole_lines.append(set(curves[here == self.pieces[curves]].tolist()))
        self.edges.append(members)
        self.curves.append(tuple(int(c) for c in curves))
        self.strokes.append({int(s) for s in whole.curve_stroke[curves]})
        ends = whole.vertices[whole.origin.reshape(-1, 2)[index]]
        self.chords.append(ends.reshape(-1, 4))
        return number

    def spans(self, run: int, drawn: int) -> list[tuple[int, float, float]]:
        """Return the parts of curves that the edges of a run follow."""
        edge = np.array(self.edges[run])
        span = np.sort(self.whole.edge_span[edge], axis=1)
        rows = zip(self.whole.edge_curve[edge].tolist(), span.tolist(), strict=True)
        return [(c, t[0], t[1]) for c, t in rows if c < drawn]

    def _onward(self, half: int) -> int:
        """Return the half-edge that goes on straight from the end of another."""
        whole = self.whole
        vertex = whole.origin[half ^ 1]
        leaving = self.leaving[self.first[vertex] : self.first[vertex + 1]]
        leaving = leaving[leaving >> 1 != half >> 1]
        heading = -self._direction(np.array([half ^ 1]))[0]
        cosine = self._direction(leaving) @ heading
        best = int(np.argmax(cosine)) if len(leaving) else 0
        if len(leaving) == 0 or cosine[best] < STRAIGHT:
            return -1
        return int(leaving[best])

    def _direction(self, half: NDArray[np.integer]) -> NDArray[np.float64]:
        """Return unit tangents of half-edges where they leave."""
        whole = self.whole
        edge, side = half >> 1, half & 1
        t = whole.edge_span[edge, side]
        back = whole.edge_span[edge, 1 - side]
        slope = whole.curves.derivative(whole.edge_curve[edge], t)
        slope = slope * np.sign(back - t)[:, None]
        unit = slope / np.maximum(np.hypot(*slope.T), 1e-300)[:, None]
        return np.asarray(unit)

    def double(self, a: int, b: int, within: float) -> int | None:
        """Return which of two runs lies beside the other from end to end."""
        if self.strokes[a] == self.strokes[b]:
            return None
        a_beside = self._beside(a, b, within)
        b_beside = self._beside(b, a, within)
        if a_beside and b_beside:
            later = max(self.curves[a], default=-1) > max(self.curves[b], default=-1)
            return a if later else b
        if a_beside:
            return a
        return b if b_beside else None

    def _beside(self, a: int, b: int, within: float) -> bool:
        own, other = self.chords[a], self.chords[b]
        middle = (own[:, :2] + own[:, 2:]) / 2
        points = np.concatenate([own[:, :2], own[:, 2:], middle])
        start, d = other[:, :2], other[:, 2:] - other[:, :2]
        square = np.maximum((d * d).sum(axis=1), 1e-300)
        for begin in range(0, len(points), 256):
            w = points[begin : begin + 256, None] - start
            u = np.clip((w * d).sum(axis=2) / square, 0.0, 1.0)
            away = np.hypot(*np.moveaxis(w - u[..., None] * d, 2, 0))
            if (away.min(axis=1) > within).any():
                return False
        return True


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
