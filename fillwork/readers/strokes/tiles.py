"""The tile of a pattern, made once, and laid over the shapes that it fills.

A tile is cut to its box, and what its own fills hide is left out, before it is laid.
What stands on the edge where tiles meet belongs to one of them: a line there is one
line, and the end of a fill is an edge only where another colour goes on beyond it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves
from fillwork.readers.strokes.clip import as_region, clip_regions, cut_by_clips
from fillwork.readers.strokes.collect import (
    Context,
    StrokeTable,
    drop_wild,
    merge_tables,
    merge_with,
    transform_rows,
)
from fillwork.readers.strokes.cutting import Region, cut_table, look_inside, split_at
from fillwork.readers.strokes.hidden import drop_covered, find_fills, whole_items
from fillwork.readers.strokes.outlines import box_of, boxes, close_outlines

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.geometry.affine import Affine
    from fillwork.readers.strokes.clip import Budget
    from fillwork.readers.strokes.drawn import Seen

_FINE = 1e-6  # of a tile's size: on its edge
_BESIDE = 1e-4  # of a tile's size: as near to its edge as colours are looked at


_Seen = tuple[tuple[str, ...], int]  # colours, and the item on top


class Grid(NamedTuple):
    """Say where the tiles of a pattern lie."""

    matrix: Affine  # from the pattern's units to the shape's
    x: float  # x, y, width and height: the first tile, in the pattern's units
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """Hold what is seen of one tile, its corner at the origin."""

    table: StrokeTable  # strokes in the pattern's units
    # how items are painted; widths are true, maps and clips are not
    contexts: list[Context]
    # of_item and line, (items,): context of each item, and its line in the file
    of_item: Ints
    line: Ints
    names: list[str]  # element of each item, with its id
    whole: Bools  # (items,): whether nothing is cut from it or hidden of it
    # (S,): 0 for strokes on the near edge of x, 1 for y, -1 elsewhere
    rim: NDArray[np.int8]
    opaque: bool  # whether nothing shows through any place of it


def make_tile(
    seen: Seen,
    table: StrokeTable,
    size: tuple[float, float],
    scale: float,
    budget: Budget,
    *,
    drop: bool,
) -> Tile | None:
    """Return the tile that some shapes make; None if it has no lines.

    `seen`: what gathered those shapes, their clips and maps to the tile's units.
    `table`: the shapes, each in its own units. `size`: width and height of the tile.
    `scale`: units of the tile in a mm. `budget`: what may be spent. `drop`: whether
    lines under later fills are left out.
    """
    collector = seen.collector
    contexts = collector.contexts
    of_item = collector.of_item
    table.data.setflags(write=True)
    maps = collector.matrices(affine.IDENTITY)
    if len(table.closed):
        transform_rows(table.kind, table.data, maps, of_item[table.item][table.owner()])
    table, _ = drop_wild(table, 1e12)
    if not len(table.closed):
        return None
    plain = [c.filled and not (c.stroked or c.laid) for c in contexts]
    uncut = close_outlines(table, np.array(plain, bool)[of_item[table.item]])
    table = uncut
    if seen.clips:
        counts = {"cut": 0, "outside": 0}
        table = cut_by_clips(table, seen, affine.IDENTITY, budget, counts)
    painted = table
    if drop and len(table.closed):
        left = drop_covered(table, uncut, contexts, of_item, scale, budget.spend)
        table = table if left is None else left[0]
    box = Region.rectangle((0.0, 0.0, *size), affine.IDENTITY)
    if len(table.closed):
        table, _, _ = cut_table(table, box, budget.spend, 0.0)
    whole = np.zeros(len(of_item), bool)
    if len(table.closed):
        whole[whole_items(uncut, table)] = True
    stroked = np.array([c.stroked for c in contexts], bool)[of_item]
    before = np.bincount(table.item[table.owner()], minlength=len(whole))
    table, rims, way = _part_rims(table, stroked, size)
    whole &= before == np.bincount(table.item[table.owner()], minlength=len(whole))
    colours = _Colours(uncut, seen, of_item, size, budget.spend)
    contexts, of_item = list(contexts), of_item.tolist()
    names, line = list(collector.item_name), list(collector.item_line)
    parts, ways = [table, rims], [np.full(len(table.closed), -1, np.int8), way]
    for axis, begin, end, ink, item in colours.edges(rims, way):
        contexts.append(_edge_context(contexts[of_item[item]], ink))
        parts.append(_straight([(axis, begin, end)], len(of_item)))
        ways.append(np.full(1, axis, np.int8))
        of_item.append(len(contexts) - 1)
        names.append(names[item])
        line.append(line[item])
    table, rim = merge_with(parts, ways)
    whole = np.append(whole, np.zeros(len(of_item) - len(whole), bool))
    opaque = _is_opaque(painted, contexts, of_item, size)
    items, lines = (np.array(numbers, np.int64) for numbers in (of_item, line))
    return Tile(table, contexts, items, lines, names, whole, rim, opaque)


def _edge_context(about: Context, ink: str | None) -> Context:
    # a gradient or a pattern has no one colour
    plain = ink if ink and ink.startswith("#") else None
    return about._replace(
        stroked=False, filled=True, colour=plain, width=0.0, dash=False, clip=-1,
        covers=False, fill=ink, pattern="", gradient=False,
    )  # fmt: skip


def _straight(spans: list[tuple[int, float, float]], item: int) -> StrokeTable:
    # straight lines along the near edges of a tile: axis, begin and end
    data = np.zeros((len(spans), 8))
    for row, (axis, begin, end) in zip(data, spans, strict=True):
        row[1 - axis], row[3 - axis] = begin, end
    return StrokeTable.of_lines(data, item)


def _on_side(
    kind: NDArray[np.uint8], data: Floats, size: tuple[float, float],
    axis: int, far: bool,
) -> Bools:  # fmt: skip
    off = data[:, axis : axis + 3 : 2] - (size[axis] if far else 0.0)
    near = (np.abs(off) <= _FINE * max(size)).all(axis=1)
    return np.asarray((kind == LINE) & near)


def _part_rims(
    table: StrokeTable, stroked: Bools, size: tuple[float, float]
) -> tuple[StrokeTable, StrokeTable, NDArray[np.int8]]:
    """Return the strokes without their parts on the tile's edges, and those parts.

    Each is at the near edge, once, be it drawn at both edges; of edges of fills none:
    whether they are seen is not theirs to say.
    """
    owner = table.owner()
    item = table.item[owner]
    gone = np.zeros(len(owner), bool)
    parts: list[StrokeTable] = []
    ways: list[int] = []
    for axis in (0, 1):
        spans: dict[int, list[tuple[float, float]]] = {}
        for far in (False, True):
            on = _on_side(table.kind, table.data, size, axis, far)
            gone |= on
            for k in np.flatnonzero(on & stroked[item]).tolist():
                begin, end = sorted(table.data[k, 1 - axis : 4 - axis : 2].tolist())
                spans.setdefault(int(item[k]), []).append((begin, end))
        done: list[tuple[float, float]] = []
        for of, mine in sorted(spans.items(), reverse=True):
            fresh = _less(_joined(mine), done)
            done = _joined(done + fresh)
            if fresh:
                parts.append(_straight([(axis, *span) for span in fresh], of))
                ways += [axis] * len(fresh)
    if gone.any():
        # a stroke that loses a part is two
        keep = np.flatnonzero(~gone)
        fresh_at = np.ones(len(keep), bool)
        fresh_at[1:] = (np.diff(keep) > 1) | (np.diff(owner[keep]) > 0)
        lead = np.flatnonzero(fresh_at)
        stroke = owner[keep[lead]]
        start = np.append(lead, len(keep))
        full = np.diff(start) == np.diff(table.start)[stroke]
        table = StrokeTable(
            table.kind[keep], table.data[keep], start,
            table.closed[stroke] & full, table.item[stroke],
        )  # fmt: skip
    if not parts:
        return table, merge_tables([]), np.empty(0, np.int8)
    return table, *merge_with(parts, [np.array(ways, np.int8)])


def _joined(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for begin, end in sorted(spans):
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((begin, end))
    return found


def _less(
    spans: list[tuple[float, float]], others: list[tuple[float, float]]
) -> list[tuple[float, float]]:
    # what is left of spans, both in order and apart
    left: list[tuple[float, float]] = []
    for begin, end in spans:
        at = begin
        for low, high in others:
            if high <= at or low >= end:
                continue
            if low > at:
                left.append((at, low))
            at = max(at, high)
        if at < end:
            left.append((at, end))
    return left


class _Colours:
    """Tell which colours are seen beside the edges of a tile."""

    def __init__(
        self,
        painted: StrokeTable,
        seen: Seen,
        of_item: Ints,
        size: tuple[float, float],
        spend: Callable[[int], None],
    ) -> None:
        self.size = size
        self.spend = spend
        self.contexts = contexts = list(seen.collector.contexts)
        self.of_item = of_item
        filled = [c.filled and c.fill is not None and not c.laid for c in contexts]
        some = painted.take(np.array(filled, bool)[of_item[painted.item]])
        self.fills: list[tuple[int, list[Region]]] = []
        if not len(some.closed):
            return
        low, high = boxes(some.kind, some.data)
        near = _BESIDE * 2 * max(size)
        owner = some.owner()
        beyond = (low <= near) | (high >= np.array(size) - near)
        reach = np.bincount(some.item[owner], beyond.any(axis=1)) > 0
        rules = np.array([c.even_odd for c in contexts], bool)
        self.spend(20 * len(some.kind))
        first = np.searchsorted(some.item, np.arange(len(of_item) + 1))
        for item in np.flatnonzero(reach).tolist():
            rows = np.arange(first[item], first[item + 1])
            one = replace(some.pick(rows), item=np.zeros(len(rows), np.int64))
            rule = rules[of_item[item : item + 1]]
            regions = clip_regions(seen, contexts[of_item[item]].clip, one)
            self.fills.append((item, [as_region(one, rule), *regions]))

    def _seen(self, points: Floats) -> list[_Seen]:
        # the colours at points, those that show through on top of an opaque one
        seen: list[_Seen] = [((), -1)] * len(points)
        for item, regions in self.fills:
            about = self.contexts[self.of_item[item]]
            inside = np.ones(len(points), bool)
            for region in regions:
                walls, curve, _ = region.walls(1e-4 * max(self.size))
                inside &= look_inside(
                    points, walls, region.shape[curve], region.even_odd, self.spend
                )[0]
            opaque = about.covers or (about.stroked and about.colour == about.fill)
            for k in np.flatnonzero(inside).tolist():
                below = () if opaque else seen[k][0]
                seen[k] = ((*below, f"{about.fill} {opaque}"), item)
        return seen

    def edges(
        self, rims: StrokeTable, way: NDArray[np.int8]
    ) -> list[tuple[int, float, float, str | None, int]]:
        """Return where fills end between tiles: axis, begin, end, colour and item."""
        found: list[tuple[int, float, float, str | None, int]] = []
        for axis in (0, 1) if self.fills else ():
            along = self.size[1 - axis]
            cuts = self._cuts(axis)
            wide = np.diff(cuts) > 2 * _BESIDE * along
            begin, end = cuts[:-1][wide], cuts[1:][wide]
            colours = []
            for far in (False, True):
                points = np.empty((len(begin), 2))
                points[:, 1 - axis] = (begin + end) / 2
                off = _BESIDE * self.size[axis]
                points[:, axis] = self.size[axis] - off if far else off
                colours.append(self._seen(points))
            drawn = _joined(
                [
                    tuple(sorted(rims.data[k, 1 - axis : 4 - axis : 2].tolist()))
                    for k in np.flatnonzero(way == axis).tolist()
                ]
            )
            for a, b, here, there in zip(
                begin.tolist(), end.tolist(), *colours, strict=True
            ):
                if here[0] == there[0]:
                    continue
                item = max(here[1], there[1])
                ink = self.contexts[self.of_item[item]].fill
                found += [(axis, *span, ink, item) for span in _less([(a, b)], drawn)]
        return found

    def _cuts(self, axis: int) -> Floats:
        # where colours may change along either edge across an axis
        width, height = self.size
        ends = np.array([[0.0, 0.0, 0.0, height], [width, 0.0, width, height]])
        if axis:
            ends = np.array([[0.0, 0.0, width, 0.0], [0.0, height, width, height]])
        lines = Curves.from_segments(ends)
        along = self.size[1 - axis]
        cuts = [np.array([0.0, along])]
        for region in (one for _, regions in self.fills for one in regions):
            chords = region.walls(1e-5 * max(self.size))
            _, t0, _ = split_at(lines, np.arange(2), region.outline, chords, self.spend)
            cuts.append(t0 * along)
            for far in (False, True):
                outline = region.outline
                on = _on_side(outline.kind, outline.data, self.size, axis, far)
                cuts.append(outline.data[on, 1 - axis : 4 - axis : 2].ravel())
        every = np.unique(np.clip(np.concatenate(cuts), 0.0, along))
        return np.asarray(every[np.append(True, np.diff(every) > 1e-9 * along)])


def _is_opaque(
    painted: StrokeTable, contexts: list[Context], of_item: list[int],
    size: tuple[float, float],
) -> bool:  # fmt: skip
    import shapely

    able = np.array([c.covers and c.clip < 0 for c in contexts], bool)
    able = able[np.array(of_item, np.int64)]
    cover = painted.take(able[painted.item])
    if not len(cover.closed):
        return False
    cover = close_outlines(cover, np.ones(len(cover.closed), bool))
    rules = np.array([contexts[k].even_odd for k in of_item], bool)
    shapes, _ = find_fills(cover, 1e-4 * max(size), rules)
    box = shapely.box(0.0, 0.0, *size)
    left = box.difference(shapely.union_all(shapely.intersection(shapes, box)))
    return bool(left.area <= 1e-3 * box.area)


def choose_places(
    shape: StrokeTable,
    even_odd: bool,
    grid: Grid,
    most: int,
    spend: Callable[[int], None],
) -> tuple[Ints, Bools] | float:
    """Return which tiles of a grid a shape takes.

    `even_odd`: its fill rule. `most`: how many may be taken. `spend`: told how many
    comparisons are about to be made. Returns `places` (n, 2): column and row of each
    tile; `inside` (n,): whether it lies in the shape as a whole.

    Where the tiles of the shape's box are far more than are allowed, their number
    comes back instead.
    """
    import shapely

    low, high = box_of(shape)
    corners = np.array([low, (low[0], high[1]), high, (high[0], low[1])])
    corners = affine.apply(affine.invert(grid.matrix), corners)
    step = np.array([grid.width, grid.height])
    at = (corners - np.array([grid.x, grid.y])) / step
    first, last = np.floor(at.min(axis=0) + 1e-6), np.ceil(at.max(axis=0) - 1e-6)
    count = float(np.prod(np.maximum(last - first, 1.0)))
    if not count <= 8.0 * most or np.abs([first, last]).max() > 1e9:
        return count
    columns, rows = (
        np.arange(int(a), max(int(b), int(a) + 1))
        for a, b in zip(first.tolist(), last.tolist(), strict=True)
    )
    places = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    quads = (places[:, None] + square) * step + np.array([grid.x, grid.y])
    quads = affine.apply(grid.matrix, quads.reshape(-1, 2)).reshape(-1, 4, 2)
    region = as_region(
        replace(shape, item=np.zeros(len(shape.item), np.int64)), np.array([even_odd])
    )
    walls, curve, _ = region.walls(1e-4 * float((high - low).max()))
    sides: Any = shapely.linestrings(walls.reshape(-1, 2, 2))
    rim = shapely.multilinestrings(sides)
    shapely.prepare(rim)
    spend(len(places))
    crossed = np.asarray(shapely.intersects(shapely.polygons(quads), rim))
    # tiles beside each other that the outline does not cross are on one side of it
    lead = ~crossed
    lead[1:] &= crossed[:-1] | (np.diff(places[:, 1]) != 0)
    asked = np.flatnonzero(lead)
    run = np.cumsum(lead) - 1
    inside = np.zeros(len(places), bool)
    if len(asked):
        middle = quads[asked].mean(axis=1)
        hit, _ = look_inside(middle, walls, region.shape[curve], region.even_odd, spend)
        inside = ~crossed & hit[np.maximum(run, 0)]
    taken = crossed | inside
    if int(taken.sum()) > most:
        return float(taken.sum())
    return places[taken], inside[taken]


def lay_tile(
    tile: Tile, grid: Grid, places: Ints, inside: Bools
) -> tuple[StrokeTable, Ints, Bools]:
    """Return the strokes of a tile at its places.

    `places` (n, 2): columns and rows. `inside` (n,): which need not be cut by the
    shape. Returns `table`: in the pattern's units, item after item; `item` (items,):
    the tile's item that each is a copy of; `cut` (items,): which the shape has to cut.
    """
    parts, items, cuts = [], [], []
    table, total = tile.table, 0
    for axis in (-1, 0, 1):
        some = table.take(tile.rim == axis)
        if not len(some.closed):
            continue
        where, crossed = places, ~inside
        if axis >= 0:
            # the near edge of a tile is the far one of the tile before it
            after = places + np.eye(2, dtype=np.int64)[axis]
            both = np.concatenate([places, after])
            where, index = np.unique(both, axis=0, return_inverse=True)
            free = np.bincount(index.ravel(), np.tile(inside, 2)) > 1.5
            crossed = ~free
        of, own = np.unique(some.item, return_inverse=True)
        parts.append(_copies(some, own, len(of), grid, where, total))
        items.append(np.tile(of, len(where)))
        cuts.append(np.repeat(crossed, len(of)))
        total += len(of) * len(where)
    return merge_tables(parts), np.concatenate(items), np.concatenate(cuts)


def _copies(
    some: StrokeTable, own: Ints, count: int, grid: Grid,
    where: Ints, first: int,
) -> StrokeTable:  # fmt: skip
    n = len(where)
    shift = where * np.array([grid.width, grid.height]) + np.array([grid.x, grid.y])
    data = np.tile(some.data, (n, 1))
    kind = np.tile(some.kind, n)
    by = np.repeat(shift, len(some.kind), axis=0)
    data[:, 0:2] += by
    data[:, 2:4] += np.where((kind == ARC)[:, None], 0.0, by)
    bent = kind == CUBIC
    data[bent, 4:6] += by[bent]
    data[bent, 6:8] += by[bent]
    counts = np.tile(np.diff(some.start), n)
    item = np.tile(own, n) + np.repeat(np.arange(n) * count, len(own)) + first
    return StrokeTable(
        kind, data, np.concatenate([[0], np.cumsum(counts)]),
        np.tile(some.closed, n), item,
    )  # fmt: skip
