"""Lines cut by the page, by viewports and by clip paths, their curves split exactly.

A *region* is what a clip leaves: the union of some filled shapes. A curve is split
where it meets their outlines; a piece stays when its middle lies inside or on
them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.curves import LINE, Curves
from fillwork.readers.svg.collect import (
    Collector,
    StrokeTable,
    drop_wild,
    merge_tables,
    transform_rows,
)
from fillwork.readers.svg.meetings import Walls, find_meetings
from fillwork.readers.svg.outlines import box_of, boxes, close_outlines

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from fillwork.geometry.affine import Affine
    from fillwork.readers.drawn import Seen
    from fillwork.readers.limits import Limits
    from fillwork.readers.svg.frames import Clip
    from fillwork.readers.svg.page import Page

__all__ = [
    "Budget",
    "Region",
    "cut_strokes",
    "cut_table",
    "look_inside",
    "rebuild",
    "split_at",
]

Chords = tuple["NDArray[np.float64]", "NDArray[np.int32]", "NDArray[np.float64]"]

# Work charged for every region, whatever its size; see Limits.cut_steps.
_REGION_STEPS = 20_000
_CHUNK = 400_000
# mm; a line on the page's edge may be written this far beyond it
_ROUNDING = 1e-3
# programs write six figures: a line on the edge of its clip is half seen, and kept
_FIGURES = 2e-6


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """Hold the shapes that a clip leaves.

    Parameters
    ----------
    outline : Curves
        Outlines of all shapes, mm.
    loop : ndarray of int64, shape (N,)
        The closed outline that each curve belongs to, curves in order.
    shape : ndarray of int64, shape (N,)
        The shape of each curve; one shape may have several outlines.
    even_odd : ndarray of bool, shape (shapes,)
        Fill rule of each shape.
    """

    outline: Curves
    loop: NDArray[np.int64]
    shape: NDArray[np.int64]
    even_odd: NDArray[np.bool_]

    @classmethod
    def rectangle(
        cls, box: tuple[float, float, float, float], matrix: Affine
    ) -> Region:
        """Return a rectangle laid out by a map.

        Parameters
        ----------
        box : tuple of 4 floats
            x, y, width, height.
        matrix : tuple of 6 floats
            To mm.

        Returns
        -------
        Region
            Four straight lines.
        """
        x, y, w, h = box
        corners = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
        corners = affine.apply(matrix, corners)
        segments = np.concatenate([corners, np.roll(corners, -1, axis=0)], axis=1)
        none = np.zeros(4, np.int64)
        return cls(Curves.from_segments(segments), none, none, np.zeros(1, bool))

    @classmethod
    def empty(cls) -> Region:
        """Return a region that leaves nothing.

        Returns
        -------
        Region
            No shapes.
        """
        none = np.empty(0, np.int64)
        return cls(Curves.empty(), none, none, np.empty(0, bool))

    def walls(
        self, chord_error: float
    ) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.float64]]:
        """Return the outlines as chords that join without any gap.

        Parameters
        ----------
        chord_error : float
            Largest distance of a chord from its curve, mm.

        Returns
        -------
        segments, curve, span
            As from `Curves.flatten`, with ends of a loop exactly alike: a ray that
            counts crossings would slip through a gap of rounding.
        """
        segments, curve, span = self.outline.flatten(chord_error)
        loop = self.loop[curve]
        first = np.flatnonzero(np.append(True, loop[1:] != loop[:-1]))
        last = np.append(first[1:], len(loop)) - 1
        segments[1:, 0:2] = segments[:-1, 2:4]
        segments[first, 0:2] = segments[last, 2:4]
        return segments, curve, span


class Budget:
    """Count comparisons, and refuse a file that asks for too many.

    Parameters
    ----------
    limits : Limits
        Sizes allowed.
    where : str
        File name for messages.
    """

    def __init__(self, limits: Limits, where: str) -> None:
        self.left = limits.cut_steps
        self.limits = limits
        self.where = where

    def spend(self, steps: int) -> None:
        """Take note of comparisons about to be made.

        Parameters
        ----------
        steps : int
            How many.

        Raises
        ------
        ReadError
            If they are more than the limits allow.
        """
        self.left -= steps
        if self.left < 0:
            got = f"more than {self.limits.cut_steps:,} comparisons with clips"
            raise self.limits.refuse(limit="cut_steps", got=got, where=self.where)


def cut_strokes(
    strokes: StrokeTable, walk: Seen, page: Page, limits: Limits
) -> tuple[StrokeTable, dict[str, int]]:
    """Return the strokes inside the page and their clips.

    Parameters
    ----------
    strokes : StrokeTable
        In mm.
    walk : Seen
        Clips, and the clip of each context.
    page : Page
        The page.
    limits : Limits
        Sizes allowed.

    Returns
    -------
    strokes : StrokeTable
        What is left.
    counts : dict of str to int
        How many strokes were cut, and how many lie outside.
    """
    counts = {"cut": 0, "outside": 0}
    budget = Budget(limits, walk.where)
    if walk.clips and len(strokes.closed):
        strokes = _cut_by_clips(strokes, walk, page, budget, counts)
    if page.has_page and len(strokes.closed):
        width, height = page.size_mm
        slack = min(_ROUNDING, 1e-4 * max(width, height))
        low, high = boxes(strokes.kind, strokes.data)
        inside = (low >= -slack).all(axis=1) & (high[:, 0] <= width + slack)
        inside &= high[:, 1] <= height + slack
        touched = np.zeros(len(strokes.closed), bool)
        touched[strokes.owner()[~inside]] = True
        if touched.any():
            region = Region.rectangle((0.0, 0.0, width, height), affine.IDENTITY)
            cut, _ = _count(strokes.take(touched), region, budget, counts, slack)
            strokes = merge_tables([strokes.take(~touched), cut])
    return strokes, counts


def _count(
    table: StrokeTable,
    region: Region,
    budget: Budget,
    counts: dict[str, int],
    slack: float,
) -> tuple[StrokeTable, NDArray[np.bool_]]:
    before = len(table.closed)
    cut, source, whole = cut_table(table, region, budget.spend, slack)
    left = len(np.unique(source))
    counts["outside"] += before - left
    counts["cut"] += left - int(whole.sum())
    changed = np.ones(before, bool)
    changed[source[whole]] = False
    return cut, changed


def _cut_by_clips(
    strokes: StrokeTable,
    walk: Seen,
    page: Page,
    budget: Budget,
    counts: dict[str, int],
) -> StrokeTable:
    contexts = walk.collector.contexts
    context = np.array(walk.collector.item_context, np.int64)
    of_context = np.array([c.clip for c in contexts], np.int64)
    parent = np.array([clip.parent for clip in walk.clips], np.int64)
    maps = np.array(
        [affine.compose(page.to_mm, clip.matrix) for clip in walk.clips], np.float64
    )
    current = of_context[context[strokes.item]]
    done: list[StrokeTable] = [strokes.take(current < 0)]
    strokes, current = strokes.take(current >= 0), current[current >= 0]
    while len(current):
        free = _inside_boxes(strokes, walk.clips, maps, current)
        parts = [strokes.take(free)]
        clips = [current[free]]
        rest, which = strokes.take(~free), current[~free]
        together = np.argsort(which, kind="stable")
        each, first = np.unique(which[together], return_index=True)
        for index, rows in zip(
            each.tolist(), np.split(together, first[1:])[: len(each)], strict=True
        ):
            some = rest.pick(rows)
            clip = walk.clips[index]
            region = _region(walk, clip, tuple(maps[index].tolist()), some)
            cut, changed = _count(some, region, budget, counts, 0.0)
            items = np.unique(some.item[changed])
            cut = _with_clip_edges(some, cut, items, region, walk, context, budget)
            parts.append(cut)
            clips.append(np.full(len(cut.closed), index))
        joined = np.concatenate([part.item for part in parts])
        order = np.argsort(joined, kind="stable")
        strokes = merge_tables(parts)
        current = parent[np.concatenate(clips)[order]]
        done.append(strokes.take(current < 0))
        strokes, current = strokes.take(current >= 0), current[current >= 0]
    return merge_tables(done)


def _inside_boxes(
    strokes: StrokeTable,
    clips: list[Clip],
    maps: NDArray[np.float64],
    current: NDArray[np.int64],
) -> NDArray[np.bool_]:
    # strokes wholly inside the viewport that would cut them: tested in the
    # viewport's own units, all at once
    free = np.zeros(len(current), bool)
    box = np.array([clip.box or (0.0, 0.0, -1.0, -1.0) for clip in clips], np.float64)
    is_box = np.array([clip.box is not None for clip in clips], bool)
    a, b, c, d, e, f = maps.T
    det = a * d - b * c
    is_box &= det != 0
    mine = is_box[current]
    if not mine.any():
        return free
    det = np.where(det == 0, 1.0, det)
    inverse = np.stack([d, -b, -c, a, c * f - d * e, b * e - a * f], axis=1)
    inverse /= det[:, None]
    some = strokes.take(mine)
    data = some.data.copy()
    owner = some.owner()
    of_curve = current[mine][owner]
    transform_rows(some.kind, data, inverse, of_curve)
    low, high = boxes(some.kind, data)
    corner = box[of_curve]
    slack = 1e-9 * np.maximum(corner[:, 2], corner[:, 3])[:, None]
    fits = (low >= corner[:, 0:2] - slack) & (
        high <= corner[:, 0:2] + corner[:, 2:4] + slack
    )
    outside = np.zeros(len(some.closed), bool)
    outside[owner[~fits.all(axis=1)]] = True
    free[mine] = ~outside
    return free


def _region(walk: Seen, clip: Clip, to_mm: Affine, some: StrokeTable) -> Region:
    if clip.box is not None:
        return Region.rectangle(clip.box, to_mm)
    if clip.by_box:
        # the unit square laid over the box of the shape, in its own units
        if affine.determinant(to_mm) == 0:
            return Region.empty()
        data = some.data.copy()
        back = np.array([affine.invert(to_mm)])
        transform_rows(some.kind, data, back, np.zeros(len(data), np.int64))
        low, high = box_of(
            StrokeTable(some.kind, data, some.start, some.closed, some.item)
        )
        (x, y), (w, h) = low.tolist(), (high - low).tolist()
        to_mm = affine.compose(to_mm, (w, 0.0, 0.0, h, x, y))
    shapes = walk.clip_shapes.get((id(clip.node), clip.by_box))
    if shapes is None:
        shapes = _gather_shapes(walk, clip)
        walk.clip_shapes[id(clip.node), clip.by_box] = shapes
    return Region(
        shapes.outline.transform(to_mm), shapes.loop, shapes.shape, shapes.even_odd
    )


def _gather_shapes(walk: Seen, clip: Clip) -> Region:
    # the shapes of a clip path in its own units
    collector = Collector(walk.limits, walk.where)
    walk.replay_clip(clip, collector)
    table = collector.finish()
    if not len(table.closed):
        return Region.empty()
    which = np.array(collector.item_context, np.int64)
    rules = np.array([c.even_odd for c in collector.contexts], bool)
    data = table.data.copy()
    maps = collector.matrices(affine.IDENTITY)
    transform_rows(table.kind, data, maps, which[table.item][table.owner()])
    table = StrokeTable(table.kind, data, table.start, table.closed, table.item)
    table, _ = drop_wild(table, walk.limits.coordinate)
    return _shapes(table, rules[which])


def _shapes(table: StrokeTable, even_odd: NDArray[np.bool_]) -> Region:
    # the filled shapes that strokes bound, one an item
    table = close_outlines(table, np.ones(len(table.closed), bool))
    items, shape = np.unique(table.item, return_inverse=True)
    return Region(
        Curves(table.kind.copy(), table.data.copy()),
        table.owner(),
        shape[table.owner()],
        even_odd[items],
    )


def _with_clip_edges(
    before: StrokeTable,
    cut: StrokeTable,
    items: NDArray[np.int64],
    region: Region,
    walk: Seen,
    context: NDArray[np.int64],
    budget: Budget,
) -> StrokeTable:
    # where a clip cuts a fill, the clip's outline becomes an edge of the fill
    contexts = walk.collector.contexts
    parts = [cut]
    outline = region.outline
    for item in items.tolist():
        about = contexts[context[item]]
        if about.stroked or not about.filled or not len(outline):
            continue
        rules = np.full(item + 1, about.even_odd)
        own = _shapes(before.take(before.item == item), rules)
        edges = StrokeTable(
            outline.kind.copy(),
            outline.data.copy(),
            np.arange(len(outline) + 1),
            np.zeros(len(outline), bool),
            np.full(len(outline), item),
        )
        inner, _, _ = cut_table(edges, own, budget.spend, 0.0)
        parts.append(inner)
    return merge_tables(parts) if len(parts) > 1 else cut


def cut_table(
    table: StrokeTable,
    region: Region,
    spend: Callable[[int], None],
    slack: float,
) -> tuple[StrokeTable, NDArray[np.int64], NDArray[np.bool_]]:
    """Return the parts of strokes that lie in a region.

    Parameters
    ----------
    table : StrokeTable
        Strokes in mm.
    region : Region
        What is left.
    spend : callable
        Told how many comparisons are about to be made.
    slack : float
        How near to an outline still counts as inside, mm; 0 means: from the size
        of the region.

    Returns
    -------
    table : StrokeTable
        The parts.
    source : ndarray of int64
        The stroke that each part comes from.
    whole : ndarray of bool
        Whether the part is the whole stroke.
    """
    none = np.empty(0, np.int64)
    spend(_REGION_STEPS)
    outline = region.outline
    if not len(outline):
        return table.take(np.zeros(len(table.closed), bool)), none, none.astype(bool)
    low, high = boxes(outline.kind, outline.data)
    size = float((high.max(axis=0) - low.min(axis=0)).max())
    chord = max(size * 1e-5, 1e-12)
    slack = slack or min(_ROUNDING, _FIGURES * size)
    if (outline.kind != LINE).any():
        slack = max(slack, chord)
    walls, wall_curve, wall_span = region.walls(chord)
    curves = Curves(table.kind.copy(), table.data.copy())
    near = _near(table, low.min(axis=0), high.max(axis=0))
    chords = (walls, wall_curve, wall_span)
    curve, t0, t1 = split_at(curves, np.flatnonzero(near), outline, chords, spend)
    keep = near[curve]
    shape = region.shape[wall_curve]
    votes = np.zeros(len(curve), np.int64)
    # the middle of a curve may just touch an outline from the other side, so two
    # of three points decide there
    bent = curves.kind[curve] != LINE
    for share in (0.5, 0.25, 0.75):
        ask = np.flatnonzero(keep if share == 0.5 else keep & bent)
        points = curves.point(curve[ask], t0[ask] + share * (t1 - t0)[ask])
        inner, off = look_inside(points, walls, shape, region.even_odd, spend)
        votes[ask] += inner | (off <= slack)
    keep &= votes >= np.where(bent, 2, 1)
    return rebuild(table, curves, curve, t0, t1, keep)


def split_at(
    curves: Curves,
    rows: NDArray[np.int64],
    outline: Curves,
    walls: Chords,
    spend: Callable[[int], None],
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Return the pieces between a curve's meetings with outlines.

    Parameters
    ----------
    curves : Curves
        N curves.
    rows : ndarray of int64
        Those that are split; the others are one piece each.
    outline : Curves
        Curves of the outlines.
    walls : tuple of three arrays
        The outlines as chords, see `Region.walls`.
    spend : callable
        Told how many comparisons are about to be made.

    Returns
    -------
    curve : ndarray of int64, shape (P,)
        The curve of each piece, in order.
    begin, end : ndarray of shape (P,)
        Its parameters.
    """
    index, t = find_meetings(curves, rows, outline, Walls(*walls), spend)
    n = len(curves)
    every = np.concatenate([np.arange(n), np.arange(n), index])
    at = np.concatenate([np.zeros(n), np.ones(n), t])
    order = np.lexsort((at, every))
    every, at = every[order], at[order]
    piece = np.flatnonzero((every[1:] == every[:-1]) & (at[1:] - at[:-1] > 1e-10))
    return every[piece], at[piece], at[piece + 1]


def _near(
    table: StrokeTable, low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.bool_]:
    own_low, own_high = boxes(table.kind, table.data)
    slack = _FIGURES * float((high - low).max())
    touching = (own_low <= high + slack) & (own_high >= low - slack)
    return touching[:, 0] & touching[:, 1]


def look_inside(
    points: NDArray[np.float64],
    walls: NDArray[np.float64],
    shape: NDArray[np.int64],
    even_odd: NDArray[np.bool_],
    spend: Callable[[int], None],
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Return which points lie inside some shape, and how far all outlines are.

    Parameters
    ----------
    points : ndarray of shape (n, 2)
        Points, mm.
    walls : ndarray of shape (K, 4)
        Chords of the outlines, mm.
    shape : ndarray of int64, shape (K,)
        The shape of each.
    even_odd : ndarray of bool, shape (shapes,)
        Fill rules.
    spend : callable
        Told how many comparisons are about to be made.

    Returns
    -------
    inside : ndarray of bool, shape (n,)
        By the winding number.
    off : ndarray of shape (n,)
        Distance to the nearest outline, mm.
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
    table: StrokeTable,
    curves: Curves,
    curve: NDArray[np.int64],
    t0: NDArray[np.float64],
    t1: NDArray[np.float64],
    keep: NDArray[np.bool_],
) -> tuple[StrokeTable, NDArray[np.int64], NDArray[np.bool_]]:
    """Return strokes made of the pieces that are kept.

    Parameters
    ----------
    table : StrokeTable
        The strokes.
    curves : Curves
        Their curves.
    curve, t0, t1 : ndarray of shape (P,)
        The pieces, in order; see `split_at`.
    keep : ndarray of bool, shape (P,)
        Which are kept.

    Returns
    -------
    table : StrokeTable
        The parts.
    source : ndarray of int64
        The stroke that each part comes from.
    whole : ndarray of bool
        Whether the part is the whole stroke.
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
