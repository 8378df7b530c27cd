"""Slivers: narrow regions between two strokes that were meant as one.

A region is a sliver by *width* (its inscribed circle is no larger than
`Tolerance.sliver`) and by *origin*: a whole line of its boundary lies beside
another stroke from end to end. The long thin tips between lines that cross are
needles; their lines part, so they stay.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Defect
from fillwork.arrangement.segments import cut_into_chords

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.geometry.curves import Curves

__all__ = ["Doubles", "find_doubles", "keep_sources"]

SAMPLES = np.linspace(0.0, 1.0, 9)


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
        One for each line, where the sliver is widest.
    """

    curve: tuple[int, ...]
    beside: tuple[tuple[int, ...], ...]
    defects: tuple[Defect, ...]


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
    narrow &= arrangement.area > 8 * arrangement.inscribed**2
    faces = np.flatnonzero(narrow)
    if len(faces) == 0:
        return Doubles((), (), ())
    stroke = arrangement.curve_stroke
    left_out: dict[int, tuple[int, ...]] = {}
    checked: set[int] = set()
    widest: dict[int, int] = {}
    by_stroke = _CurvesOfStrokes(arrangement, drawn)

    def face_width(c: int) -> float:
        return float(arrangement.inscribed[widest[c]]) if c in widest else -1.0

    for face in faces.tolist():
        half = np.concatenate(arrangement.face_half_edges(face))
        own = np.unique(arrangement.edge_curve[half >> 1])
        own = own[own < drawn]
        strokes = np.unique(stroke[own])
        if len(strokes) < 2:
            continue
        for c in own[::-1].tolist():
            if c in checked:
                continue
            others = strokes[strokes != stroke[c]]
            beside = by_stroke.beside(c, others, left_out, 2.2 * radius)
            checked.add(c)
            if beside:
                left_out[c] = beside
        for c in own.tolist():
            # the widest sliver along each line speaks for it
            if c in left_out and face_width(c) < arrangement.inscribed[face]:
                widest[c] = face
    found = []
    for c, beside in left_out.items():
        at = arrangement.witness[widest[c]]
        pair = {int(stroke[c]), *(int(stroke[b]) for b in beside)}
        found.append(
            Defect(
                "sliver",
                (float(at[0]), float(at[1])),
                float(2 * arrangement.inscribed[widest[c]]),
                "removed",
                "delete one of the two lines in the drawing",
                tuple(sorted(pair)),
            )
        )
    return Doubles(tuple(left_out), tuple(left_out.values()), tuple(found))


class _CurvesOfStrokes:
    """Measure how far a curve lies from strokes."""

    def __init__(self, arrangement: Arrangement, drawn: int) -> None:
        self.table: Curves = arrangement.curves
        stroke = arrangement.curve_stroke[:drawn]
        self.order = np.argsort(stroke, kind="stable")
        self.sorted = stroke[self.order]
        self.flatten = max(arrangement.tolerance.flatten, 1e-12)

    def beside(
        self,
        curve: int,
        strokes: NDArray[np.integer],
        left_out: dict[int, tuple[int, ...]],
        within: float,
    ) -> tuple[int, ...]:
        """Return the curves of one stroke that run all along a curve, if any."""
        index = np.full(len(SAMPLES), curve)
        points = self.table.point(index, SAMPLES)
        for s in strokes.tolist():
            first = np.searchsorted(self.sorted, s)
            last = np.searchsorted(self.sorted, s, side="right")
            members = [c for c in self.order[first:last].tolist() if c not in left_out]
            if not members:
                continue
            rows = np.array(members)
            chords = cut_into_chords(self.table.take(rows), self.flatten)
            a = chords.ends[:, :2]
            d = chords.ends[:, 2:] - a
            square = np.maximum((d * d).sum(axis=1), 1e-300)
            w = points[:, None] - a
            u = np.clip((w * d).sum(axis=2) / square, 0.0, 1.0)
            away = np.hypot(*np.moveaxis(w - u[..., None] * d, 2, 0))
            if (away.min(axis=1) <= within + self.flatten).all():
                touched = np.unique(chords.curve[away.argmin(axis=1)])
                return tuple(int(c) for c in rows[touched])
        return ()


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
