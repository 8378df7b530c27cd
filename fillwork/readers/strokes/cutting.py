"""Strokes cut by a region: split where they meet its outlines, kept where inside.

A *region* is what a clip leaves: the union of some filled shapes. A curve is split
where it meets their outlines; a piece stays when its middle lies inside or on
them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.boxes import bounds
from fillwork.geometry.curves import LINE, Curves
from fillwork.geometry.polygons import ring_sides
from fillwork.readers.strokes.collect import StrokeTable
from fillwork.readers.strokes.meetings import Walls, find_meetings
from fillwork.readers.strokes.outlines import boxes

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.geometry.affine import Affine


Chords = tuple["Floats", "Ints32", "Floats"]

# Work charged for every region, whatever its size; see Limits.cut_steps.
_REGION_STEPS = 20_000
_CHUNK = 400_000
ROUNDING = 1e-3
"""A line on the page's edge may be written this far beyond it, mm."""

FIGURES = 2e-6
"""Programs write six figures: a line on the edge of its clip is half seen, and kept."""


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """Hold the shapes that a clip leaves."""

    outline: Curves  # outlines of all shapes, mm
    # (N,): the closed outline that each curve belongs to, curves in order
    loop: Ints
    # (N,): the shape of each curve; one shape may have several outlines
    shape: Ints
    even_odd: Bools  # (shapes,): fill rule of each shape

    @classmethod
    def rectangle(
        cls, box: tuple[float, float, float, float], matrix: Affine
    ) -> Region:
        """Return a rectangle laid out by a map; four straight lines.

        `box`: x, y, width, height. `matrix`: to mm.
        """
        x, y, w, h = box
        corners = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
        corners = affine.apply(matrix, corners)
        segments = ring_sides(corners)
        none = np.zeros(4, np.int64)
        return cls(Curves.from_segments(segments), none, none, np.zeros(1, bool))

    @classmethod
    def empty(cls) -> Region:
        """Return a region that leaves nothing; no shapes."""
        none = np.empty(0, np.int64)
        return cls(Curves.empty(), none, none, np.empty(0, bool))

    def walls(self, chord_error: float) -> tuple[Floats, Ints32, Floats]:
        """Return the outlines as chords that join without any gap.

        `chord_error`: largest distance of a chord from its curve, mm. As from
        `Curves.flatten`, with ends of a loop exactly alike: a ray that counts crossings
        would slip through a gap of rounding.
        """
        segments, curve, span = self.outline.flatten(chord_error)
        loop = self.loop[curve]
        first = np.flatnonzero(np.append(True, loop[1:] != loop[:-1]))
        last = np.append(first[1:], len(loop)) - 1
        segments[1:, 0:2] = segments[:-1, 2:4]
        segments[first, 0:2] = segments[last, 2:4]
        return segments, curve, span


def cut_table(
    table: StrokeTable,
    region: Region,
    spend: Callable[[int], None],
    slack: float,
    *,
    rim: bool = True,
) -> tuple[StrokeTable, Ints, Bools]:
    """Return the parts of strokes that lie in a region.

    `table`: strokes in mm. `spend`: told how many comparisons are about to be made.
    `slack`: how near to an outline still counts as inside, mm; 0 means: from the size
    of the region. `rim`: whether what lies along an outline is inside. Returns `table`:
    the parts; `source`: the stroke that each part comes from; `whole`: whether the part
    is the whole stroke.
    """
    none = np.empty(0, np.int64)
    spend(_REGION_STEPS)
    outline = region.outline
    if not len(outline):
        return table.pick(none), none, none.astype(bool)
    low, high = boxes(outline.kind, outline.data)
    low, high = bounds(low)[0], bounds(high)[1]
    size = float((high - low).max())
    chord = max(size * 1e-5, 1e-12)
    slack = slack or min(ROUNDING, FIGURES * size)
    if (outline.kind != LINE).any():
        slack = max(slack, chord)
    walls, wall_curve, wall_span = region.walls(chord)
    curves = table.curves()
    near = _near(table, low, high)
    chords = (walls, wall_curve, wall_span)
    curve, t0, t1 = split_at(curves, np.flatnonzero(near), outline, chords, spend)
    keep = near[curve]
    shape = region.shape[wall_curve]
    votes = np.zeros(len(curve), np.int64)
    # the middle may just touch an outline from the other side, where either is bent,
    # so two of three points decide there
    bent = (curves.kind[curve] != LINE) | bool((outline.kind != LINE).any())
    for share in (0.5, 0.25, 0.75):
        ask = np.flatnonzero(keep if share == 0.5 else keep & bent)
        points = curves.point(curve[ask], t0[ask] + share * (t1 - t0)[ask])
        inner, off = look_inside(points, walls, shape, region.even_odd, spend)
        votes[ask] += inner | (off <= slack) if rim else inner & (off > slack)
    keep &= votes >= np.where(bent, 2, 1)
    return rebuild(table, curves, curve, t0, t1, keep)


def split_at(
    curves: Curves,
    rows: Ints,
    outline: Curves,
    walls: Chords,
    spend: Callable[[int], None],
) -> tuple[Ints, Floats, Floats]:
    """Return the pieces between a curve's meetings with outlines.

    `rows`: those that are split; the others are one piece each. `spend`: told how many
    comparisons are about to be made. Returns `curve` (P,): the curve of each piece, in
    order; `begin` and `end` (P,): its parameters.
    """
    index, t = find_meetings(curves, rows, outline, Walls(*walls), spend)
    n = len(curves)
    every = np.concatenate([np.arange(n), np.arange(n), index])
    at = np.concatenate([np.zeros(n), np.ones(n), t])
    order = np.lexsort((at, every))
    every, at = every[order], at[order]
    piece = np.flatnonzero((every[1:] == every[:-1]) & (at[1:] - at[:-1] > 1e-10))
    return every[piece], at[piece], at[piece + 1]


def _near(table: StrokeTable, low: Floats, high: Floats) -> Bools:
    own_low, own_high = boxes(table.kind, table.data)
    slack = FIGURES * float((high - low).max())
    touching = (own_low <= high + slack) & (own_high >= low - slack)
    return touching[:, 0] & touching[:, 1]


def look_inside(
    points: Floats,
    walls: Floats,
    shape: Ints,
    even_odd: Bools,
    spend: Callable[[int], None],
) -> tuple[Bools, Floats]:
    """Return which points lie inside some shape, and how far all outlines are.

    `points` (n, 2): points, mm. `walls` (K, 4): chords of the outlines, mm. `shape`
    (K,): the shape of each. `even_odd` (shapes,): fill rules. `spend`: told how many
    comparisons are about to be made. Returns `inside` (n,): by the winding number;
    `off` (n,): distance to the nearest outline, mm.
    """
    spend(len(points) * len(walls))
    inside = np.zeros(len(points), bool)
    away = np.zeros(len(points))
    order = np.argsort(shape, kind="stable")
    walls, shape = walls[order], shape[order]
    x0, y0, _, y1 = walls.T
    w = walls[:, 2:4] - walls[:, 0:2]
    square = np.maximum((w * w).sum(axis=1), 1e-300)
    first = np.flatnonzero(np.append(True, shape[1:] != shape[:-1]))
    odd = even_odd[shape[first]]
    step = max(1, _CHUNK // max(len(walls), 1))
    for begin in range(0, len(points), step):
        part = points[begin : begin + step]
        x, y = part[:, 0:1], part[:, 1:2]
        dx, dy = x - x0, y - y0
        side = w[:, 0] * dy - w[:, 1] * dx
        up = (y0 <= y) & (y1 > y) & (side > 0)
        down = (y0 > y) & (y1 <= y) & (side < 0)
        turns = np.add.reduceat(up.astype(np.int32) - down, first, axis=1)
        inside[begin : begin + step] = np.where(odd, turns % 2 != 0, turns != 0).any(
            axis=1
        )
        along = np.clip((dx * w[:, 0] + dy * w[:, 1]) / square, 0.0, 1.0)
        off = (dx - along * w[:, 0]) ** 2 + (dy - along * w[:, 1]) ** 2
        away[begin : begin + step] = np.sqrt(off.min(axis=1))
    return inside, away


def rebuild(
    table: StrokeTable, curves: Curves, curve: Ints, t0: Floats, t1: Floats, keep: Bools
) -> tuple[StrokeTable, Ints, Bools]:
    """Return strokes made of the pieces that are kept.

    `curve`, `t0`, `t1` (P,): the pieces, in order; see `split_at`. `keep` (P,): which
    are kept. Returns `table`: the parts; `source`: the stroke that each part comes
    from; `whole`: whether the part is the whole stroke.
    """
    owner = table.owner()
    kept = np.flatnonzero(keep)
    # pieces of one curve side by side grow together again
    joined = np.zeros(len(kept), bool)
    joined[1:] = (np.diff(kept) == 1) & (curve[kept][1:] == curve[kept][:-1])
    lead = np.flatnonzero(~joined)
    tail = np.append(lead[1:], len(kept))[: len(lead)] - 1
    index, begin, end = curve[kept[lead]], t0[kept[lead]], t1[kept[tail]]
    parts = curves.part(index, begin, end)
    entire = (begin == 0.0) & (end == 1.0)
    kind, data = parts.kind.copy(), parts.data.copy()
    data[entire] = curves.data[index[entire]]
    stroke = owner[index]
    fresh = np.ones(len(index), bool)
    fresh[1:] = (stroke[1:] != stroke[:-1]) | (kept[lead][1:] != kept[tail][:-1] + 1)
    start = np.append(np.flatnonzero(fresh), len(index))
    source = stroke[start[:-1]]
    counts = np.diff(start)
    whole = counts == np.diff(table.start)[source]
    if len(source):
        whole &= np.logical_and.reduceat(entire, start[:-1])
    return (
        StrokeTable(
            kind, data, start, table.closed[source] & whole, table.item[source]
        ),
        source,
        whole,
    )
