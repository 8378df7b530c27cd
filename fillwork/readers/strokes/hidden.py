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
from fillwork.geometry.ranges import distinct, marked
from fillwork.readers.strokes.collect import merge_with
from fillwork.readers.strokes.cutting import look_inside, rebuild, split_at
from fillwork.readers.strokes.outlines import (
    boxes,
    close_outlines,
    measure_lengths,
    size_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.readers.strokes.collect import Context, StrokeTable

_FINE = 1e-5  # chord error and least depth, of the drawing's size
_CHUNK, _CORNERS = 200_000, 500_000
_PIECE, _USUAL = 400, 4  # steps that a piece costs beyond so many a pair
_TURNS = 4_000_000  # sides and pieces of a ring up to which each piece is looked at
_ASKED = 200  # sides of a ring that tell how often it crosses itself
_LARGEST = 12  # shapes over a stroke, from the largest on, that may hide it whole
_PAIR = 60  # steps that a stroke and a shape take at least


def whole_items(before: StrokeTable, after: StrokeTable) -> Ints:
    """Return the items that nothing cut, which have one length before and after."""
    if before is after:
        return distinct(before.item)
    n = int(before.item.max(initial=-1)) + 1
    was, now = (
        np.bincount(t.item[t.owner()], measure_lengths(t.kind, t.data), minlength=n)
        for t in (before, after)
    )
    return np.flatnonzero((np.abs(was - now) <= 1e-9 * was) & (was > 0))


def drop_covered(
    strokes: StrokeTable,
    uncut: StrokeTable,
    contexts: list[Context],
    of_item: Ints,
    scale: float,
    spend: Callable[[int], None],
) -> tuple[StrokeTable, Ints] | None:
    """Return the parts of strokes that are seen, as their contexts paint them.

    As from `drop_hidden`; None where nothing covers. `strokes`: those that hide and are
    hidden, in drawing order. `uncut`: all strokes before clips cut them. `contexts`:
    how items are painted. `of_item` (items,): the context of each item. `scale`: units
    of the strokes in a mm. `spend`: told how many comparisons are about to be made.
    """
    covers = np.array([c.covers for c in contexts], bool)[of_item]
    able = marked(strokes.item, len(of_item)) & covers
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
    fine = max(_FINE * size_of(strokes), 1e-12)
    depth = np.maximum(0.5 * width, 2 * fine)
    fills = find_fills(cover, fine, even_odd, spend)
    stroke, row, where, whole = _find_pairs(
        strokes, fills, ink, clip, depth, fine, spend
    )
    if not len(stroke) and not len(whole):
        return strokes, everything
    order = np.lexsort((row, stroke))
    stroke, row, where = stroke[order], row[order], where[order]
    touched, first = np.unique(stroke, return_index=True)
    low = np.minimum.reduceat(where[:, :2], first, axis=0)
    high = np.maximum.reduceat(where[:, 2:], first, axis=0)
    free = np.ones(len(everything), bool)
    free[touched] = free[whole] = False
    parts, sources = [strokes.take(free)], [everything[free]]
    each = np.split(row, first[1:])[: len(touched)]
    outline = _Outlines(cover, fine)
    groups = zip(touched.tolist(), each, low, high, strict=True)
    for s, rows, corner, opposite in groups:
        one = strokes.pick(np.array([s]))
        box = (corner - 2 * depth[s], opposite + 2 * depth[s])
        union = _union(fills[0][rows], one, float(depth[s]), spend)
        curves = outline.of_items(fills[1][rows])
        seen, count = _seen(one, float(depth[s]), union, (outline, curves), box, spend)
        parts.append(seen)
        sources.append(np.full(count, s))
    return merge_with(parts, sources)


class _Outlines:
    """Hold the curves that bound all that hides, with their boxes.

    `cover`: the outlines. `fine`: error of their chords, mm.
    """

    def __init__(self, cover: StrokeTable, fine: float) -> None:
        self.curves = cover.curves()
        self.low, self.high = boxes(cover.kind, cover.data)
        self.item = cover.item[cover.owner()]
        self.fine = fine

    def of_items(self, items: Ints) -> Ints:
        """Return the rows of the curves that bound some items, in order."""
        begin = np.searchsorted(self.item, items, side="left")
        end = np.searchsorted(self.item, items, side="right")
        return np.concatenate(
            [np.arange(*pair) for pair in zip(begin, end, strict=True)]
        )

    def near(self, rows: Ints, points: Floats) -> Ints:
        """Return those of some curves whose boxes some of the points lie in."""
        slack = 4 * self.fine
        low, high = self.low[rows] - slack, self.high[rows] + slack
        found = np.zeros(len(rows), bool)
        step = max(1, _CORNERS // max(len(rows), 1))
        for begin in range(0, len(points), step):
            at = points[None, begin : begin + step]
            inside: Bools = (at >= low[:, None]) & (at <= high[:, None])
            found |= np.any(np.all(inside, axis=2), axis=1)
        return rows[found]


def _union(
    fills: Any, one: StrokeTable, depth: float, spend: Callable[[int], None]
) -> Any:
    # what some shapes hide together, round a stroke alone
    import shapely

    low, high = boxes(one.kind, one.data)
    aside = 10 * depth + 1e-3 * size_of(one)
    box = (*(bounds(low)[0] - aside).tolist(), *(bounds(high)[1] + aside).tolist())
    try:
        some = shapely.clip_by_rect(fills, *box)
        spend(int(shapely.get_num_coordinates(some).sum()))
        return shapely.union_all(some)
    except shapely.errors.GEOSException:
        spend(int(shapely.get_num_coordinates(fills).sum()))
        return shapely.union_all(fills)


def _seen(
    one: StrokeTable,
    depth: float,
    union: Any,
    outlines: tuple[_Outlines, Ints],
    box: tuple[Floats, Floats],
    spend: Callable[[int], None],
) -> tuple[StrokeTable, int]:
    """Return what is seen of one stroke, hidden within a box alone.

    `union`: what hides it. `outlines`: the curves that bound that, and their rows.
    """
    import shapely

    outline, rows = outlines
    rim = shapely.boundary(union)
    (line,) = _linestrings(one, outline.fine)
    met = shapely.get_coordinates(shapely.intersection(line, rim))
    walls = outline.curves.take(outline.near(rows, met))
    curves = one.curves()
    own_low, own_high = boxes(one.kind, one.data)
    rows = np.flatnonzero(((own_low <= box[1]) & (own_high >= box[0])).all(axis=1))
    if len(walls):
        chords = walls.flatten(outline.fine)
        curve, t0, t1 = split_at(curves, rows, walls, chords, spend)
    else:
        curve = np.arange(len(curves))
        t0, t1 = np.zeros(len(curves)), np.ones(len(curves))
    hidden = np.zeros(len(curve), bool)
    asked = np.flatnonzero(np.isin(curve, rows))
    votes, deep = np.zeros(len(asked), np.int64), np.zeros(len(asked), bool)
    shapely.prepare([union, rim])
    for share in (0.5, 0.25, 0.75):
        t = (t0 + share * (t1 - t0))[asked]
        points = curves.point(curve[asked], t)
        spend(len(points))
        inside = shapely.contains_xy(union, *points.T)
        votes += inside
        ask = np.flatnonzero(inside & ~deep)
        deep[ask] = ~shapely.dwithin(rim, shapely.points(points[ask]), depth)
    hidden[asked] = (votes >= 2) & deep
    table, source, _ = rebuild(one, curves, curve, t0, t1, ~hidden)
    return table, len(source)


def _find_pairs(
    strokes: StrokeTable,
    fills: tuple[Any, Ints],
    ink: tuple[Ints, Ints],
    clip: tuple[Ints, Ints],
    depth: Floats,
    fine: float,
    spend: Callable[[int], None],
) -> tuple[Ints, Ints, Floats, Ints]:
    """Return strokes, rows of later shapes that hide part of them, and that part's box.

    Only points deep inside count, so that shapes which share their edges, tiles
    beside tiles, make no pairs. Last come the strokes that one item hides whole, which
    make none either.
    """
    import shapely

    none = np.empty(0, np.int64)
    shapes, items = fills
    lines = _linestrings(strokes, fine)
    s, j = _near_pairs(strokes, lines, shapes, items, ink, clip, depth, spend)
    both = strokes.item, items
    s, j, whole = _narrowed(s, j, both, lines, shapes, depth)
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
        # most are told by their middle
        deep = ~shapely.dwithin(rim[:, 0], points[:, 4], reach[:, 0])
        ask = np.flatnonzero(~deep)
        deep[ask] = ~shapely.dwithin(rim[ask], points[ask], reach[ask]).all(axis=1)
        good, lead = np.unique(of[deep], return_index=True)
        if not len(good):
            continue
        box = shapely.bounds(piece[deep])
        low = np.minimum.reduceat(box[:, :2], lead, axis=0)
        high = np.maximum.reduceat(box[:, 2:], lead, axis=0)
        found_s.append(s[rows][good])
        found_j.append(j[rows][good])
        found_box.append(np.hstack([low, high]))
    s, j = np.concatenate(found_s), np.concatenate(found_j)
    return s, j, np.concatenate(found_box), whole


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


def _narrowed(
    s: Ints, j: Ints, of: tuple[Ints, Ints], lines: Any, shapes: Any, depth: Floats
) -> tuple[Ints, Ints, Ints]:
    """Return the pairs that meet, but those of strokes that lie deep in one shape.

    `of`: the items of strokes and of shapes. Last come the strokes that lie deep.
    """
    import shapely

    shapely.prepare(shapes[np.unique(j)])
    order = np.lexsort((-shapely.area(shapes[j]), s))
    s, j = s[order], j[order]
    rank = np.arange(len(s)) - np.searchsorted(s, s)
    under = np.full(len(lines), -1)
    for k in range(_LARGEST):
        mine = np.flatnonzero((rank == k) & (under[s] < 0))
        mine = mine[shapely.contains_properly(shapes[j[mine]], lines[s[mine]])]
        rims = shapely.boundary(shapes[j[mine]])
        reach: Any = depth[s[mine]]
        deep = ~np.asarray(shapely.dwithin(rims, lines[s[mine]], reach), bool)
        under[s[mine[deep]]] = j[mine[deep]]
    rest = (under[s] < 0) & ~_needless(s, j, of, under, shapes)
    s, j = s[rest], j[rest]
    meet = np.asarray(shapely.intersects(shapes[j], lines[s]), bool)
    return s[meet], j[meet], np.flatnonzero(under >= 0)


def _needless(
    s: Ints, j: Ints, of: tuple[Ints, Ints], under: Ints, shapes: Any
) -> Bools:
    # pairs with a shape that lies whole under another, where that hides the stroke too
    import shapely

    over = np.full(len(shapes), -1)
    hidden = np.flatnonzero(under >= 0)
    row = np.minimum(np.searchsorted(of[1], of[0][hidden]), len(shapes) - 1)
    own = of[1][row] == of[0][hidden]
    row, hider = row[own], under[hidden[own]]
    inside = np.asarray(shapely.contains_properly(shapes[hider], shapes[row]), bool)
    over[row[inside]] = hider[inside]
    again = s * len(shapes) + over[j]
    return np.asarray((over[j] >= 0) & np.isin(again, s * len(shapes) + j))


def _linestrings(table: StrokeTable, fine: float) -> Any:
    # each stroke as one chain of chords
    import shapely

    chords, curve, _ = table.curves().flatten(fine)
    owner = table.owner()[curve]
    first = np.flatnonzero(np.append(True, owner[1:] != owner[:-1]))
    counts = np.diff(np.append(first, len(owner)))
    points = np.insert(chords[:, 2:4], first, chords[first, 0:2], axis=0)
    index = np.repeat(np.arange(len(first)), counts + 1)
    return shapely.linestrings(points, indices=index)


def _filled(
    ring: Any, even_odd: bool, fine: float, spend: Callable[[int], None]
) -> Any:
    # what a ring that crosses itself fills
    import shapely

    spend(_PIECE * _crossings_of(ring))
    try:
        noded = shapely.node(ring)
    except shapely.errors.GEOSException:
        # too many crossings too near to each other for floating numbers
        noded = shapely.union_all([ring], grid_size=fine)
    faces = shapely.get_parts(shapely.polygonize([noded]))
    points = shapely.get_coordinates(ring)
    sides = np.hstack([points[:-1], points[1:]])
    if len(faces) * len(sides) <= _TURNS:
        within = shapely.get_coordinates(shapely.point_on_surface(faces))
        none = np.zeros(len(sides), np.int64)
        inside, _ = look_inside(within, sides, none, np.array([even_odd]), spend)
        faces = faces[inside]
    return shapely.union_all(faces)


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
    of = cover.item[enough]
    for k in np.flatnonzero(wrong).tolist():
        odd = bool(even_odd[of[k]])
        areas[k] = _filled(shapely.boundary(areas[k]), odd, fine, spend)
    items, first, counts = np.unique(of, return_index=True, return_counts=True)
    shapes = areas[first]
    for k in np.flatnonzero(counts > 1).tolist():
        rings = areas[first[k] : first[k] + counts[k]]
        rows = slice(first[k], first[k] + counts[k])
        shapes[k] = _together(rings, turns[rows] > 0, bool(even_odd[items[k]]))
    good = shapely.area(shapes) > 0
    return shapes[good], items[good]
