"""Which lines the page, viewports and clip paths cut, and what may be spent on it."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.curves import LINE, Curves
from fillwork.geometry.ranges import marked
from fillwork.readers.strokes.collect import (
    Collector,
    StrokeTable,
    drop_wild,
    merge_tables,
    merge_with,
    transform_rows,
)
from fillwork.readers.strokes.cutting import ROUNDING, Region, cut_table
from fillwork.readers.strokes.outlines import box_of, boxes, close_outlines

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.geometry.affine import Affine
    from fillwork.readers.limits import Limits
    from fillwork.readers.strokes.drawn import Clip, Seen
    from fillwork.readers.strokes.page import Page


_Place = tuple[float, ...]
_Course = tuple[_Place, ...]

# lines that end on a clip at fewer places hardly part what is inside it
_FEW_ENDS = 6
# groups clipped in units of their box whose own clips are looked through
_MOST_BOXED = 100
# comparisons that cutting by one clip costs, however little it cuts
_ONE_CUT = 6_000


class Budget:
    """Count comparisons, and refuse a file that asks for too many.

    `limits`: sizes allowed. `where`: file name for messages. `share`: which share of
    the comparisons allowed it has.
    """

    def __init__(self, limits: Limits, where: str, share: float = 1.0) -> None:
        self.left = int(share * limits.cut_steps)
        self.limits = limits
        self.where = where

    def spend(self, steps: int) -> None:
        """Take note of comparisons about to be made.

        Raises `ReadError` if they are more than the limits allow.
        """
        self.left -= steps
        if self.left < 0:
            got = f"more than {self.limits.cut_steps:,} comparisons with clips"
            raise self.limits.refuse(limit="cut_steps", got=got, where=self.where)


def cut_strokes(
    strokes: StrokeTable, walk: Seen, page: Page, limits: Limits
) -> tuple[StrokeTable, dict[str, int]]:
    """Return the strokes inside the page and their clips.

    `strokes`: in mm. Returns `strokes`: what is left; `counts`: how many strokes were
    cut, and how many lie outside.
    """
    counts = {"cut": 0, "outside": 0, "edges": 0}
    budget = Budget(limits, walk.where)
    if walk.clips and len(strokes.closed):
        strokes = cut_by_clips(strokes, walk, page.to_mm, budget, counts)
    if page.has_page and len(strokes.closed):
        width, height = page.size_mm
        slack = min(ROUNDING, 1e-4 * max(width, height))
        low, high = boxes(strokes.kind, strokes.data)
        inside = (low >= -slack).all(axis=1) & (high[:, 0] <= width + slack)
        inside &= high[:, 1] <= height + slack
        touched = marked(strokes.owner()[~inside], len(strokes.closed))
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
    *,
    rim: bool = True,
) -> tuple[StrokeTable, Bools]:
    before = len(table.closed)
    cut, source, whole = cut_table(table, region, budget.spend, slack, rim=rim)
    left = len(np.unique(source))
    counts["outside"] += before - left
    counts["cut"] += left - int(whole.sum())
    changed = np.ones(before, bool)
    changed[source[whole]] = False
    return cut, changed


def cut_by_clips(
    strokes: StrokeTable,
    walk: Seen,
    to_mm: Affine,
    budget: Budget,
    counts: dict[str, int],
) -> StrokeTable:
    """Return the strokes inside their clips.

    `to_mm`: from the units of the outermost clips to those of the strokes. `budget`:
    what may be spent. `counts`: how many strokes were cut, and how many lie outside;
    changed. With ``edges``, outlines of clips that cut lines become lines, and are
    counted there.
    """
    # where lines are drawn, asked for seldom
    drawn = functools.cache(functools.partial(_course_set, strokes))
    contexts = walk.collector.contexts
    context = walk.collector.of_item
    of_context = np.array([c.clip for c in contexts], np.int64)
    stroked = np.array([c.stroked for c in contexts], bool)
    parent = np.array([clip.parent for clip in walk.clips], np.int64)
    maps = np.array([affine.compose(to_mm, clip.matrix) for clip in walk.clips], float)
    current = of_context[context[strokes.item]]
    windows = _Windows(walk.clips, maps)
    boxed = _boxed_groups(strokes, current, walk.clips, parent)
    done: list[StrokeTable] = [strokes.take(current < 0)]
    strokes, current = strokes.take(current >= 0), current[current >= 0]
    while len(current):
        free = windows.hold(strokes, current)
        parts = [strokes.take(free)]
        clips = [current[free]]
        rest, which = strokes.take(~free), current[~free]
        together = np.argsort(which, kind="stable")
        each, first = np.unique(which[together], return_index=True)
        budget.spend(_ONE_CUT * len(each))
        for index, rows in zip(
            each.tolist(), np.split(together, first[1:])[: len(each)], strict=True
        ):
            clip = walk.clips[index]
            # lines of a pattern on a drawn outline would be there twice
            rim = stroked[context[rest.item[rows]]] & (clip.drawn < 2)
            for mine, on in (
                ((rows[rim], True), (rows[~rim], False)) if clip.drawn
                else ((rows, True),)
            ):  # fmt: skip
                if not len(mine):
                    continue
                some = rest.pick(mine)
                held = boxed.get(index, some)
                region = _region(walk, clip, tuple(maps[index].tolist()), held)
                told = {"cut": 0, "outside": 0} if clip.drawn else counts
                cut, changed = _count(some, region, budget, told, 0.0, rim=on)
                if not clip.drawn:
                    items = np.unique(some.item[changed])
                    cut = _with_clip_edges(some, cut, items, region, walk, budget)
                    inked = items[stroked[context[items]]]
                    if "edges" in counts and clip.box is None and len(inked):
                        edge = _edge_of_lines(some, cut, inked[0], region, drawn)
                        counts["edges"] += len(edge.closed) > 0
                        cut = merge_tables([cut, edge])
                parts.append(cut)
                clips.append(np.full(len(cut.closed), index))
        strokes, current = merge_with(parts, clips)
        current = parent[current]
        done.append(strokes.take(current < 0))
        strokes, current = strokes.take(current >= 0), current[current >= 0]
    return merge_tables(done)


def _boxed_groups(
    strokes: StrokeTable, current: Ints, clips: list[Clip], parent: Ints
) -> dict[int, StrokeTable]:
    # all that stands in a group with clips inside it, where its box is the unit
    found = {}
    outer = set(parent.tolist())
    for index in [k for k in outer if k >= 0 and clips[k].by_box][:_MOST_BOXED]:
        inside = marked(index, len(clips))
        for k in range(index + 1, len(clips)):
            inside[k] = parent[k] >= 0 and inside[parent[k]]
        found[index] = strokes.take((current >= 0) & inside[current])
    return found


class _Windows:
    """Tell which strokes lie wholly inside the box that would cut them."""

    def __init__(self, clips: list[Clip], maps: Floats) -> None:
        none = (0.0, 0.0, -1.0, -1.0)
        self.box = np.array([clip.box or none for clip in clips], np.float64)
        a, b, c, d, e, f = maps.T
        det = a * d - b * c
        self.is_box = (self.box[:, 2] >= 0) & (det != 0)
        det = np.where(det == 0, 1.0, det)
        self.inverse = np.stack([d, -b, -c, a, c * f - d * e, b * e - a * f], axis=1)
        self.inverse /= det[:, None]

    def hold(self, strokes: StrokeTable, current: Ints) -> Bools:
        # in the units of the box itself, all at once
        free = np.zeros(len(current), bool)
        mine = self.is_box[current]
        if not mine.any():
            return free
        some = strokes.take(mine)
        data = some.data.copy()
        owner = some.owner()
        used, of_curve = np.unique(current[mine][owner], return_inverse=True)
        transform_rows(some.kind, data, self.inverse[used], of_curve)
        low, high = boxes(some.kind, data)
        corner = self.box[used][of_curve]
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
        laid = replace(some, data=some.data.copy())
        back = np.array([affine.invert(to_mm)])
        transform_rows(laid.kind, laid.data, back, np.zeros(len(laid.data), np.int64))
        low, high = box_of(laid)
        if clip.by_box == 2:
            pens = _pens(walk, some) / affine.mean_scale(to_mm)
            low, high = _grown(laid, pens, low, high)
        (x, y), (w, h) = low.tolist(), (high - low).tolist()
        if callable(clip.shape):
            shapes = clip.shape((w, h))
            w = h = 1.0
        else:
            shapes = walk.clip_region(clip)
        to_mm = affine.compose(to_mm, (w, 0.0, 0.0, h, x, y))
    else:
        shapes = walk.clip_region(clip)
    return Region(
        shapes.outline.transform(to_mm), shapes.loop, shapes.shape, shapes.even_odd
    )


def _pens(walk: Seen, some: StrokeTable) -> Floats:
    # half the width of each curve's line
    about = walk.collector
    width = np.array([context.width for context in about.contexts], np.float64)
    return width[about.of_item[some.item]][some.owner()] / 2


def _grown(
    table: StrokeTable, pens: Floats, low: Floats, high: Floats
) -> tuple[Floats, Floats]:
    """Return the box around strokes of some width; `pens` (N,): half of it.

    Straight lines end square, as they are drawn by default; tips of sharp corners are
    not counted.
    """
    straight = table.kind == LINE
    way = np.abs(table.data[:, 2:4] - table.data[:, 0:2])[:, ::-1]
    way /= np.maximum(np.hypot(*way.T), 1e-300)[:, None]
    way[~straight] = 1.0
    some_low, some_high = boxes(table.kind, table.data)
    reach = way * pens[:, None]
    # boxes of curves hold their control points, which may lie outside
    some_low = np.maximum(some_low, low) - reach
    some_high = np.minimum(some_high, high) + reach
    return some_low.min(axis=0), some_high.max(axis=0)


def clip_regions(walk: Seen, index: int, some: StrokeTable) -> list[Region]:
    """Return a clip and those around it, in the units of the outermost.

    `walk`: the clips. `index`: the clip, -1 for none. `some`: what it cuts, in those
    units. Returns what each leaves.
    """
    found = []
    while index >= 0:
        clip = walk.clips[index]
        found.append(_region(walk, clip, clip.matrix, some))
        index = clip.parent
    return found


def gathered_region(collector: Collector, first: int = 0) -> Region:
    """Return the region inside the shapes that were gathered, in their own units.

    `first`: the first item that counts.
    """
    table = collector.finish()
    table = table.take(table.item >= first)
    which = collector.of_item
    rules = np.array([c.even_odd for c in collector.contexts], bool)
    table = replace(table, data=table.data.copy())
    maps = collector.matrices(affine.IDENTITY)
    transform_rows(table.kind, table.data, maps, which[table.item][table.owner()])
    table, _ = drop_wild(table, collector.limits.coordinate)
    return as_region(table, rules[which])


def as_region(table: StrokeTable, even_odd: Bools) -> Region:
    """Return the filled shapes that strokes bound, one an item; their insides.

    `even_odd` (items,): fill rule of each item.
    """
    if not len(table.closed):
        return Region.empty()
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
    items: Ints,
    region: Region,
    walk: Seen,
    budget: Budget,
) -> StrokeTable:
    # where a clip cuts a fill, the clip's outline becomes an edge of the fill
    contexts = walk.collector.contexts
    parts = [cut]
    outline = region.outline
    for item in items.tolist():
        about = contexts[walk.collector.item_context[item]]
        if about.stroked or about.laid or not about.filled or not len(outline):
            continue
        rules = np.full(item + 1, about.even_odd)
        own = as_region(before.take(before.item == item), rules)
        inner, _, _ = cut_table(_outline_as(region, item), own, budget.spend, 0.0)
        parts.append(inner)
    return merge_tables(parts) if len(parts) > 1 else cut


def _outline_as(region: Region, item: int) -> StrokeTable:
    outline = region.outline
    return StrokeTable(
        outline.kind.copy(),
        outline.data.copy(),
        np.arange(len(outline) + 1),
        np.zeros(len(outline), bool),
        np.full(len(outline), item),
    )


def _edge_of_lines(
    before: StrokeTable,
    cut: StrokeTable,
    item: int,
    region: Region,
    drawn: Callable[[], set[_Course]],
) -> StrokeTable:
    # lines that run off a clip end there as at the page's edge, which closes regions;
    # not where its outline is drawn besides
    edge = _outline_as(region, item)
    old = _place_set(before, 0.0) | _place_set(before, 1.0)
    if len((_place_set(cut, 0.0) | _place_set(cut, 1.0)) - old) < _FEW_ENDS:
        return merge_tables([])
    return edge.take(np.array([way not in drawn() for way in _courses(edge)], bool))


def _places(table: StrokeTable, share: float) -> list[_Place]:
    # a point of each curve, in steps of a thousandth of a millimetre
    curves = table.curves()
    at = curves.point(np.arange(len(curves)), np.full(len(curves), share))
    return list(map(tuple, np.round(at * 1e3).tolist()))


def _place_set(table: StrokeTable, share: float) -> set[_Place]:
    return set(_places(table, share))


def _courses(table: StrokeTable) -> list[_Course]:
    # the middle and the ends of each curve, whichever way it runs
    places = (_places(table, share) for share in (0.5, 0.0, 1.0))
    return [(middle, *sorted(ends)) for middle, *ends in zip(*places, strict=True)]


def _course_set(table: StrokeTable) -> set[_Course]:
    return set(_courses(table))
