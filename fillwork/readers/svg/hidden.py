"""Lines that filled shapes drawn later hide: what is seen is the line work.

A fill covers only if nothing shows through it: full opacity in itself and in every
group round it, no gradient, no mask, and another colour than its own line (black on
black is a fill that nobody turned off). A line is hidden where it lies deeper in such
a fill than half of its own width; less, and part of its ink is still seen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.boxes import bounds
from fillwork.geometry.curves import Curves
from fillwork.readers.svg.clip import Region, look_inside, rebuild, split_at
from fillwork.readers.svg.collect import merge_tables
from fillwork.readers.svg.outlines import boxes, close_outlines, measure_lengths

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from fillwork.readers.svg.collect import StrokeTable

__all__ = ["drop_hidden", "whole_items"]

_FINE = 1e-5  # chord error and least depth, of the drawing's size
_CHUNK = 200_000


def whole_items(before: StrokeTable, after: StrokeTable) -> NDArray[np.int64]:
    """Return the items that nothing cut.

    Parameters
    ----------
    before, after : StrokeTable
        All strokes before and after the cuts.

    Returns
    -------
    ndarray of int64
        Items of one length before and after.
    """
    if before is after:
        return np.unique(before.item)
    n = int(before.item.max(initial=-1)) + 1
    lengths = [
        np.bincount(
            table.item[table.owner()],
            measure_lengths(table.kind, table.data),
            minlength=n,
        )
        for table in (before, after)
    ]
    same = np.abs(lengths[0] - lengths[1]) <= 1e-9 * lengths[0]
    return np.flatnonzero(same & (lengths[0] > 0))


def drop_hidden(
    strokes: StrokeTable,
    width: NDArray[np.float64],
    cover: StrokeTable,
    even_odd: NDArray[np.bool_],
    spend: Callable[[int], None],
) -> tuple[StrokeTable, NDArray[np.int64]]:
    """Return the parts of strokes that are seen.

    Parameters
    ----------
    strokes : StrokeTable
        In mm, in drawing order.
    width : ndarray of shape (S,)
        Width of each stroke, mm; 0 for the edge of a fill.
    cover : StrokeTable
        Outlines of the shapes whose fills hide what was drawn before.
    even_odd : ndarray of bool, shape (items,)
        Fill rule of each item.
    spend : callable
        Told how many comparisons are about to be made.

    Returns
    -------
    strokes : StrokeTable
        What is seen; the table itself if nothing is hidden.
    source : ndarray of int64
        The stroke that each comes from.
    """
    everything = np.arange(len(strokes.closed))
    cover = close_outlines(cover, np.ones(len(cover.closed), bool))
    low, high = boxes(strokes.kind, strokes.data)
    size = float((bounds(high)[1] - bounds(low)[0]).max())
    fine = max(_FINE * size, 1e-12)
    depth = np.maximum(0.5 * width, 2 * fine)
    stroke, item = _find_pairs(strokes, cover, depth, fine)
    if not len(stroke):
        return strokes, everything
    order = np.lexsort((item, stroke))
    stroke, item = stroke[order], item[order]
    touched, first = np.unique(stroke, return_index=True)
    free = np.ones(len(everything), bool)
    free[touched] = False
    parts, sources = [strokes.take(free)], [everything[free]]
    for s, items in zip(touched.tolist(), np.split(item, first[1:]), strict=True):
        seen, count = _seen(strokes.pick(np.array([s])), float(depth[s]),
                            _region(cover, items, even_odd), spend)  # fmt: skip
        parts.append(seen)
        sources.append(np.full(count, s))
    source = np.concatenate(sources)
    merged = merge_tables(parts)
    joined = np.concatenate([part.item for part in parts])
    return merged, source[np.argsort(joined, kind="stable")]


def _region(
    cover: StrokeTable, items: NDArray[np.int64], even_odd: NDArray[np.bool_]
) -> Region:
    begin = np.searchsorted(cover.item, items, side="left")
    end = np.searchsorted(cover.item, items, side="right")
    rows = np.concatenate([np.arange(a, b) for a, b in zip(begin, end, strict=True)])
    some = cover.pick(rows)
    owner = some.owner()
    shape = np.repeat(np.arange(len(items)), end - begin)
    return Region(Curves(some.kind, some.data), owner, shape[owner], even_odd[items])


def _seen(
    one: StrokeTable, depth: float, region: Region, spend: Callable[[int], None]
) -> tuple[StrokeTable, int]:
    low, high = boxes(region.outline.kind, region.outline.data)
    across = float((high.max(axis=0) - low.min(axis=0)).max())
    chord = max(1e-4 * across, 0.1 * depth)
    walls, wall_curve, wall_span = region.walls(chord)
    curves = Curves(one.kind.copy(), one.data.copy())
    every = np.arange(len(curves))
    curve, t0, t1 = split_at(
        curves, every, region.outline, (walls, wall_curve, wall_span), spend
    )
    shape = region.shape[wall_curve]
    votes, deep = np.zeros(len(curve), np.int64), np.zeros(len(curve), bool)
    for share in (0.5, 0.25, 0.75):
        points = curves.point(curve, t0 + share * (t1 - t0))
        inside, off = look_inside(points, walls, shape, region.even_odd, spend)
        votes += inside
        deep |= inside & (off > depth)
    hidden = (votes >= 2) & deep
    table, source, _ = rebuild(one, curves, curve, t0, t1, ~hidden)
    return table, len(source)


def _find_pairs(
    strokes: StrokeTable,
    cover: StrokeTable,
    depth: NDArray[np.float64],
    fine: float,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return strokes and later items that hide part of them, by chords.

    Only points deep inside count, so that shapes which share their edges, tiles
    beside tiles, make no pairs.
    """
    import shapely

    none = np.empty(0, np.int64)
    shapes, items = _polygons(cover, fine)
    lines = _linestrings(strokes, fine)
    tree = shapely.STRtree(shapes)
    s, j = tree.query(lines)
    later = strokes.item[s] < items[j]
    s, j = s[later], j[later]
    # boxes that only just touch hide nothing
    mine, other = shapely.bounds(lines[s]), shapely.bounds(shapes[j])
    over = np.minimum(mine[:, 2:], other[:, 2:]) - np.maximum(mine[:, :2], other[:, :2])
    # a straight line along an axis has a flat box
    flat = mine[:, 2:] - mine[:, :2] <= depth[s][:, None]
    edge = np.maximum(
        np.minimum(mine[:, 2:] - other[:, :2], other[:, 2:] - mine[:, :2]), over
    )
    some = (np.where(flat, edge, over) > depth[s][:, None]).all(axis=1)
    s, j = s[some], j[some]
    found_s, found_j = [none], [none]
    for begin in range(0, len(s), _CHUNK):
        rows = slice(begin, begin + _CHUNK)
        inner = shapely.intersection(lines[s[rows]], shapes[j[rows]])
        piece, of = shapely.get_parts(inner, return_index=True)
        long = shapely.length(piece) > depth[s[rows]][of]
        piece, of = piece[long], of[long]
        if not len(piece):
            continue
        share = np.linspace(0.1, 0.9, 9)
        points = shapely.line_interpolate_point(piece[:, None], share, normalized=True)
        rim = shapely.boundary(shapes[j[rows]])[of]
        off = shapely.distance(points, rim[:, None]).max(axis=1)
        good = np.unique(of[off > depth[s[rows]][of]])
        found_s.append(s[rows][good])
        found_j.append(items[j[rows][good]])
    return np.concatenate(found_s), np.concatenate(found_j)


def _linestrings(table: StrokeTable, fine: float) -> Any:
    # each stroke as one chain of chords
    import shapely

    chords, curve, _ = Curves(table.kind, table.data).flatten(fine)
    owner = table.owner()[curve]
    first = np.flatnonzero(np.append(True, owner[1:] != owner[:-1]))
    counts = np.diff(np.append(first, len(owner)))
    points = np.insert(chords[:, 2:4], first, chords[first, 0:2], axis=0)
    index = np.repeat(np.arange(len(first)), counts + 1)
    return shapely.linestrings(points, indices=index)


def _polygons(
    cover: StrokeTable, fine: float
) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    # each covering item as an area that holds its fill, whatever the rule
    import shapely

    lines = _linestrings(cover, fine)
    enough = shapely.get_num_points(lines) >= 4
    chains = lines[enough]
    points, index = shapely.get_coordinates(chains, return_index=True)
    areas: Any = shapely.polygons(shapely.linearrings(points, indices=index))
    wrong = ~shapely.is_valid(areas)
    areas[wrong] = shapely.buffer(shapely.make_valid(areas[wrong]), 0.0)
    of = cover.item[enough]
    items, first, counts = np.unique(of, return_index=True, return_counts=True)
    shapes = areas[first]
    for k in np.flatnonzero(counts > 1).tolist():
        shapes[k] = shapely.union_all(areas[first[k] : first[k] + counts[k]])
    good = shapely.area(shapes) > 0
    return shapes[good], items[good]
