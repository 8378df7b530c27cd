"""Lines that filled shapes drawn later hide: what is seen is the line work.

Strokes and the edges of fills without a stroke are hidden alike, but for edges under
a fill of their own colour: there the drawing shows no difference, and the shapes may be
cells that nobody has coloured yet.

A fill covers only if nothing shows through it: full opacity in itself and in every
group round it and in all stops of a gradient, no mask, and another colour than its
own line (black on black is a fill that nobody turned off). A line is hidden where it
lies deeper in such a fill than half of its own width; less, and part of its ink is
still seen.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.boxes import bounds
from fillwork.geometry.curves import Curves
from fillwork.geometry.ranges import distinct
from fillwork.readers.strokes.collect import merge_tables
from fillwork.readers.strokes.cutting import Region, look_inside, rebuild, split_at
from fillwork.readers.strokes.outlines import boxes, close_outlines, measure_lengths

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.readers.strokes.collect import Context, StrokeTable

_FINE = 1e-5  # chord error and least depth, of the drawing's size
_CHUNK, _CORNERS = 200_000, 500_000
_PIECE, _USUAL = 400, 4  # steps that a piece costs beyond so many a pair
_ASKED = 200  # sides of a ring that tell how often it crosses itself
_PAIR = 60  # steps that a stroke and a shape take at least


def whole_items(before: StrokeTable, after: StrokeTable) -> Ints:
    """Return the items that nothing cut, which have one length before and after."""
    if before is after:
        return distinct(before.item)
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


def drop_covered(
    strokes: StrokeTable,
    uncut: StrokeTable,
    contexts: list[Context],
    of_item: Ints,
    scale: float,
    spend: Callable[[int], None],
) -> tuple[StrokeTable, Ints] | None:
    """Return the parts of strokes that are seen, as their contexts paint them.

    As from `drop_hidden`; None where nothing covers.

    `strokes`: those that hide and are hidden, in drawing order. `uncut`: all strokes
    before clips cut them. `contexts`: how items are painted. `of_item` (items,): the
    context of each item. `scale`: units of the strokes in a mm. `spend`: told how many
    comparisons are about to be made.
    """
    covers = np.array([c.covers for c in contexts], bool)[of_item]
    able = np.zeros(len(of_item), bool)
    able[strokes.item] = True
    able &= covers
    if not able.any():
        return None
    # what a clip cuts hides only what the same clip cuts
    clip = np.array([c.clip for c in contexts], np.int64)[of_item]
    within = np.where(able, clip, -1)
    if (within >= 0).any():
        within[whole_items(uncut, strokes)] = -1
    widths = np.array([c.width for c in contexts], np.float64) * scale
    rules = np.array([c.even_odd for c in contexts], bool)[of_item]
    inks = {ink: k for k, ink in enumerate(dict.fromkeys(c.fill for c in contexts))}
    fill = np.array([inks[c.fill] for c in contexts], np.int64)
    edge = np.array([-1 if c.stroked else inks[c.fill] for c in contexts], np.int64)
    mine = of_item[strokes.item]
    return drop_hidden(
        strokes, widths[mine], uncut.take(able[uncut.item]), rules,
        (edge[mine], fill[of_item]), (clip[strokes.item], within), spend,
    )  # fmt: skip


def drop_hidden(
    strokes: StrokeTable,
    width: Floats,
    cover: StrokeTable,
    even_odd: Bools,
    ink: tuple[Ints, Ints],
    clip: tuple[Ints, Ints],
    spend: Callable[[int], None],
) -> tuple[StrokeTable, Ints]:
    """Return the parts of strokes that are seen.

    `strokes`: in mm, in drawing order. `width` (S,): width of each stroke, mm; 0 for
    the edge of a fill. `cover`: outlines of the shapes whose fills hide what was drawn
    before. `even_odd` (items,): fill rule of each item. `ink`: numbers of the colours
    of each fill's edge, -1 for a stroke, and of each item. `clip`: the clip of each
    stroke, and the one that the strokes an item hides must have, -1 for any. `spend`:
    told how many comparisons are about to be made. Returns `strokes`: what is seen; the
    table itself if nothing is hidden; `source`: the stroke that each comes from.
    """
    everything = np.arange(len(strokes.closed))
    cover = close_outlines(cover, np.ones(len(cover.closed), bool))
    low, high = boxes(strokes.kind, strokes.data)
    size = float((bounds(high)[1] - bounds(low)[0]).max())
    fine = max(_FINE * size, 1e-12)
    depth = np.maximum(0.5 * width, 2 * fine)
    stroke, item, where = _find_pairs(
        strokes, cover, even_odd, ink, clip, depth, fine, spend
    )
    if not len(stroke):
        return strokes, everything
    order = np.lexsort((item, stroke))
    stroke, item, where = stroke[order], item[order], where[order]
    touched, first = np.unique(stroke, return_index=True)
    low = np.minimum.reduceat(where[:, :2], first, axis=0)
    high = np.maximum.reduceat(where[:, 2:], first, axis=0)
    free = np.ones(len(everything), bool)
    free[touched] = False
    parts, sources = [strokes.take(free)], [everything[free]]
    groups = zip(touched.tolist(), np.split(item, first[1:]), low, high, strict=True)
    for s, items, corner, opposite in groups:
        region = _region(cover, items, even_odd)
        one = strokes.pick(np.array([s]))
        box = (corner - 2 * depth[s], opposite + 2 * depth[s])
        seen, count = _seen(one, float(depth[s]), region, box, spend)
        parts.append(seen)
        sources.append(np.full(count, s))
    source = np.concatenate(sources)
    merged = merge_tables(parts)
    joined = np.concatenate([part.item for part in parts])
    return merged, source[np.argsort(joined, kind="stable")]


def _region(cover: StrokeTable, items: Ints, even_odd: Bools) -> Region:
    begin = np.searchsorted(cover.item, items, side="left")
    end = np.searchsorted(cover.item, items, side="right")
    rows = np.concatenate([np.arange(a, b) for a, b in zip(begin, end, strict=True)])
    some = cover.pick(rows)
    owner = some.owner()
    shape = np.repeat(np.arange(len(items)), end - begin)
    return Region(Curves(some.kind, some.data), owner, shape[owner], even_odd[items])


def _seen(
    one: StrokeTable,
    depth: float,
    region: Region,
    box: tuple[Floats, Floats],
    spend: Callable[[int], None],
) -> tuple[StrokeTable, int]:
    """Return what is seen of one stroke, hidden by a region within a box alone."""
    outline = region.outline
    low, high = boxes(outline.kind, outline.data)
    across = float((high.max(axis=0) - low.min(axis=0)).max())
    chord = max(1e-4 * across, 0.1 * depth)
    walls, wall_curve, wall_span = region.walls(chord)
    curves = Curves(one.kind.copy(), one.data.copy())
    own_low, own_high = boxes(one.kind, one.data)
    rows = np.flatnonzero(((own_low <= box[1]) & (own_high >= box[0])).all(axis=1))
    close = np.asarray(((low <= box[1]) & (high >= box[0])).all(axis=1))
    near = close[wall_curve]
    chords = (walls[near], wall_curve[near], wall_span[near])
    if near.any():
        curve, t0, t1 = split_at(curves, rows, outline, chords, spend)
    else:
        curve = np.arange(len(curves))
        t0, t1 = np.zeros(len(curves)), np.ones(len(curves))
    shape = region.shape[wall_curve]
    hidden = np.zeros(len(curve), bool)
    asked = np.flatnonzero(np.isin(curve, rows))
    votes, deep = np.zeros(len(asked), np.int64), np.zeros(len(asked), bool)
    for share in (0.5, 0.25, 0.75):
        t = (t0 + share * (t1 - t0))[asked]
        points = curves.point(curve[asked], t)
        inside, off = look_inside(points, walls, shape, region.even_odd, spend)
        votes += inside
        deep |= inside & (off > depth)
    hidden[asked] = (votes >= 2) & deep
    table, source, _ = rebuild(one, curves, curve, t0, t1, ~hidden)
    return table, len(source)


def _find_pairs(
    strokes: StrokeTable,
    cover: StrokeTable,
    even_odd: Bools,
    ink: tuple[Ints, Ints],
    clip: tuple[Ints, Ints],
    depth: Floats,
    fine: float,
    spend: Callable[[int], None],
) -> tuple[Ints, Ints, Floats]:
    """Return strokes, later items that hide part of them, and the box of that part.

    Only points deep inside count, so that shapes which share their edges, tiles
    beside tiles, make no pairs.
    """
    import shapely

    none = np.empty(0, np.int64)
    shapes, items = find_fills(cover, fine, even_odd, spend)
    lines = _linestrings(strokes, fine)
    s, j = _near_pairs(strokes, lines, shapes, items, ink, clip, depth, spend)
    size, other = (shapely.get_num_coordinates(some) for some in (lines, shapes))
    work = np.cumsum(size[s] + other[j])
    spend(int(work[-1]) // 8 if len(work) else 0)
    # few at once where they have many corners, so that what they cost is seen in time
    ends = np.searchsorted(work, np.arange(_CORNERS, work[-1:].sum(), _CORNERS))
    cuts = np.unique(np.r_[0, ends, np.arange(0, len(s), _CHUNK), len(s)])
    found_s, found_j, found_box = [none], [none], [np.empty((0, 4))]
    for begin, end in pairwise(cuts.tolist()):
        rows = slice(begin, end)
        inner = shapely.intersection(lines[s[rows]], shapes[j[rows]])
        piece, of = shapely.get_parts(inner, return_index=True)
        spend(_PIECE * max(len(piece) - _USUAL * (end - begin), 0))
        long = shapely.length(piece) > depth[s[rows]][of]
        piece, of = piece[long], of[long]
        if not len(piece):
            continue
        share = np.linspace(0.1, 0.9, 9)
        points = shapely.line_interpolate_point(piece[:, None], share, normalized=True)
        used, which = np.unique(j[rows], return_inverse=True)
        rims = shapely.boundary(shapes[used])
        shapely.prepare(rims)
        rim = rims[which[of]][:, None]
        reach: Any = depth[s[rows]][of][:, None]
        deep = ~shapely.dwithin(rim, points, reach).all(axis=1)
        good, lead = np.unique(of[deep], return_index=True)
        if not len(good):
            continue
        box = shapely.bounds(piece[deep])
        low = np.minimum.reduceat(box[:, :2], lead, axis=0)
        high = np.maximum.reduceat(box[:, 2:], lead, axis=0)
        found_s.append(s[rows][good])
        found_j.append(items[j[rows][good]])
        found_box.append(np.hstack([low, high]))
    return (np.concatenate(found_s), np.concatenate(found_j), np.concatenate(found_box))


def _near_pairs(
    strokes: StrokeTable,
    lines: Any,
    shapes: Any,
    items: Ints,
    ink: tuple[Ints, Ints],
    clip: tuple[Ints, Ints],
    depth: Floats,
    spend: Callable[[int], None],
) -> tuple[Ints, Ints]:
    """Return strokes, and later shapes of other colours whose boxes reach into theirs.

    Boxes that only just touch hide nothing.
    """
    import shapely

    tree = shapely.STRtree(shapes)
    around, others = shapely.bounds(lines), shapely.bounds(shapes)
    found = [np.empty((2, 0), np.int64)]
    begin, step = 0, 16
    while begin < len(lines):
        s, j = tree.query(lines[begin : begin + step])
        spend(len(s))
        s = s + begin
        begin += step
        # few or many strokes at once, so that pairs take little room
        step = min(2 * step, 4096) if len(s) < _CHUNK else max(step // 2, 1)
        later = (strokes.item[s] < items[j]) & (ink[0][s] != ink[1][items[j]])
        own = clip[1][items[j]]
        later &= (own < 0) | (own == clip[0][s])
        s, j = s[later], j[later]
        mine, other = around[s], others[j]
        over = np.minimum(mine[:, 2:], other[:, 2:])
        over -= np.maximum(mine[:, :2], other[:, :2])
        # a straight line along an axis has a flat box
        flat = mine[:, 2:] - mine[:, :2] <= depth[s][:, None]
        edge = np.maximum(
            np.minimum(mine[:, 2:] - other[:, :2], other[:, 2:] - mine[:, :2]), over
        )
        some = (np.where(flat, edge, over) > depth[s][:, None]).all(axis=1)
        spend(_PAIR * int(some.sum()))
        found.append(np.stack([s[some], j[some]]))
    s, j = np.concatenate(found, axis=1)
    return s, j


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


def _crossings_of(ring: Any) -> int:
    # about how often a ring crosses itself, told by some of its sides
    import shapely

    points = shapely.get_coordinates(ring)
    sides: Any = shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1))
    some = sides[:: max(1, len(sides) // _ASKED)]
    met, _ = shapely.STRtree(sides).query(some, predicate="intersects")
    # each side meets itself and the two beside it
    return max(len(met) - 3 * len(some), 0) * len(sides) // (2 * len(some))


def _together(rings: Any, left: Bools, even_odd: bool) -> Any:
    """Return what the rings of one shape fill, by how they turn."""
    import shapely

    if even_odd:
        while len(rings) > 1:
            half = len(rings) // 2
            pairs = rings[: 2 * half].reshape(half, 2).T
            rings = np.append(shapely.symmetric_difference(*pairs), rings[2 * half :])
        return rings[0]
    # a ring that turns the other way round is a hole
    one, other = shapely.union_all(rings[left]), shapely.union_all(rings[~left])
    return shapely.symmetric_difference(one, other)


def find_fills(
    cover: StrokeTable,
    fine: float,
    even_odd: Bools,
    spend: Callable[[int], None] = lambda steps: None,
) -> tuple[NDArray[np.object_], Ints]:
    """Return each item as the area of its fill.

    `fine`: error of chords. `even_odd` (items,): fill rule of each item. `spend`: told
    how many comparisons outlines that cross themselves take. Returns
    `shapes` (F,): of the items that have an area; `items` (F,): those items.
    """
    import shapely

    lines = _linestrings(cover, fine)
    enough = shapely.get_num_points(lines) >= 4
    chains = lines[enough]
    points, index = shapely.get_coordinates(chains, return_index=True)
    areas: Any = shapely.polygons(shapely.linearrings(points, indices=index))
    x, y = points.T
    inner = index[1:] == index[:-1]
    cross = np.where(inner, x[:-1] * y[1:] - x[1:] * y[:-1], 0.0)
    turns = np.bincount(index[:-1], cross, minlength=len(areas))
    wrong = ~shapely.is_valid(areas)
    for k in np.flatnonzero(wrong).tolist():
        # a ring that crosses itself: all that it encloses
        ring = shapely.boundary(areas[k])
        spend(_PIECE * _crossings_of(ring))
        try:
            noded = shapely.node(ring)
        except shapely.errors.GEOSException:
            # too many crossings too near to each other for floating numbers
            noded = shapely.union_all([ring], grid_size=fine)
        faces = shapely.polygonize([noded])
        areas[k] = shapely.union_all(shapely.get_parts(faces))
    of = cover.item[enough]
    items, first, counts = np.unique(of, return_index=True, return_counts=True)
    shapes = areas[first]
    for k in np.flatnonzero(counts > 1).tolist():
        rings = areas[first[k] : first[k] + counts[k]]
        rows = slice(first[k], first[k] + counts[k])
        shapes[k] = _together(rings, turns[rows] > 0, bool(even_odd[items[k]]))
    good = shapely.area(shapes) > 0
    return shapes[good], items[good]
