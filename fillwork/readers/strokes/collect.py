"""What a reader gathers, kept in plain arrays, and turned into curves in bulk.

An *item* is one drawn shape; a *context* is all that items share: map, style,
layer, clip. Numbers go into one array a sort of shape, so that a hundred thousand
shapes cost no objects.
"""

from __future__ import annotations

from array import array
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import numpy as np

from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.geometry.affine import Affine
    from fillwork.readers.limits import Limits


_Any = TypeVar("_Any", bound=np.generic)


class Context(NamedTuple):
    """Hold what items share."""

    matrix: Affine  # from the item's user units to the page's
    stroked: bool  # stroked and filled: whether its line, and its inside, are seen
    filled: bool
    colour: str | None  # of the stroke, or of the fill where there is no stroke
    width: float  # width of the stroke in mm
    dash: bool  # whether it is dashed
    layer: str | None  # outermost named group
    clip: int  # index of the clip that cuts it, -1 for none
    even_odd: bool  # fill rule
    names: int  # which conditions on class and id hold, one bit each
    gradient: bool  # whether a gradient or pattern paints it
    covers: bool = False  # whether its fill hides what was drawn before
    fill: str | None = None  # colour of the fill, or ``url`` and the id of its gradient
    pattern: str = ""  # the id of the pattern that its fill is to be laid with
    laid: bool = False  # whether it was laid as part of a tile, closed and cut already


@dataclass(frozen=True, slots=True, eq=False)
class StrokeTable:
    """Hold strokes and their curves in the page's units, in drawing order."""

    kind: NDArray[np.uint8]  # (N,): kinds of the curves
    data: Floats  # (N, 8): their numbers
    start: Ints  # (S + 1,): stroke s owns curves ``start[s]:start[s + 1]``
    closed: Bools  # (S,): closed by intent
    item: Ints  # (S,): the item that each stroke belongs to

    @classmethod
    def of_lines(
        cls, data: Floats, item: int | Ints, start: Ints | None = None
    ) -> StrokeTable:
        """Return open strokes of straight lines.

        `data` (N, 8): the lines. `item`: the item of all, or of each stroke. `start`:
        where strokes begin, as in the table; without it each line is one.
        """
        start = np.arange(len(data) + 1) if start is None else start
        n = len(start) - 1
        kind = np.full(len(data), LINE, np.uint8)
        return cls(kind, data, start, np.zeros(n, bool), np.full(n, item, np.int64))

    def curves(self) -> Curves:
        """Return all curves; later changes of the table's numbers show in them."""
        return Curves(self.kind, self.data)

    def take(self, keep: Bools) -> StrokeTable:
        """Return some of the strokes. `keep` (S,): which."""
        return self if keep.all() else self.pick(np.flatnonzero(keep))

    def pick(self, rows: Ints) -> StrokeTable:
        """Return a few strokes, in time that depends on those alone.

        `rows`: which strokes.
        """
        first, counts = self.start[rows], self.start[rows + 1] - self.start[rows]
        start = np.concatenate([[0], np.cumsum(counts)])
        curves = np.repeat(first - start[:-1], counts) + np.arange(start[-1])
        return StrokeTable(
            self.kind[curves],
            self.data[curves],
            start,
            self.closed[rows],
            self.item[rows],
        )

    def owner(self) -> Ints:
        """Return the stroke of each curve. Returns (N,): stroke indices."""
        return np.repeat(np.arange(len(self.closed)), np.diff(self.start))


class Collector:
    """Gather the shapes of one drawing, or of one outline that cuts others.

    `limits`: sizes allowed. `where`: file name for messages.
    """

    def __init__(self, limits: Limits, where: str) -> None:
        self.limits = limits
        self.where = where
        self.contexts: list[Context] = []
        self.item_context = array("i")
        self.item_line = array("i")
        self.item_name: list[str] = []
        self._lines = array("d")
        self._line_items = array("i")
        self._ellipses = array("d")
        self._ellipse_items = array("i")
        self._boxes = array("d")
        self._box_items = array("i")
        self._ready: list[StrokeTable] = []
        self._curves = 0
        self.wrong: list[tuple[int, str]] = []

    def add_item(self, context: int, line: int, name: str) -> int:
        """Note one more item."""
        item = len(self.item_name)
        if item >= self.limits.elements:
            got = f"more than {self.limits.elements:,} shapes"
            raise self.limits.refuse(limit="elements", got=got, where=self.where)
        self.item_context.append(context)
        self.item_line.append(line)
        self.item_name.append(name)
        return item

    def add_line(
        self, context: int, line: int, name: str, ends: tuple[float, ...]
    ) -> None:
        """Note one more item, a straight line.

        Large drawings consist of these, so it does the work of `add_item` itself.

        `context`: index of its context. `name`: element with its id. `ends`: end
        points.
        """
        item = len(self.item_name)
        if item >= self.limits.elements:
            self.add_item(context, line, name)  # refuses
        self.item_context.append(context)
        self.item_line.append(line)
        self.item_name.append(name)
        self._lines.extend(ends)
        self._line_items.append(item)

    def add_ellipse(
        self, item: int, cx: float, cy: float, rx: float, ry: float
    ) -> None:
        """Add a whole ellipse. `cx`, `cy`, `rx`, `ry`: centre and radii."""
        self._ellipses.extend((cx, cy, rx, ry))
        self._ellipse_items.append(item)

    def add_box(
        self, item: int, box: tuple[float, float, float, float, float, float]
    ) -> None:
        """Add a rectangle. `box`: x, y, width, height, and the radii of its corners."""
        self._boxes.extend(box)
        self._box_items.append(item)

    def dash(self, items: list[int]) -> None:
        """Note that some items are dashed. `items`: their numbers."""
        dashed: dict[int, int] = {}
        for item in items:
            context = self.item_context[item]
            if context not in dashed:
                dashed[context] = len(self.contexts)
                self.contexts.append(self.contexts[context]._replace(dash=True))
            self.item_context[item] = dashed[context]

    @property
    def of_item(self) -> Ints:
        """Return the context of each item."""
        return np.array(self.item_context, np.int64)

    def room(self) -> tuple[int, int]:
        """Return how many more items and curves are allowed.

        Those of paths that are not read yet are not counted.
        """
        return (
            self.limits.elements - len(self.item_name),
            self.limits.curves - self._curves,
        )

    def add_strokes(
        self, context: Ints, line: Ints, names: list[str],
        table: StrokeTable,
    ) -> None:  # fmt: skip
        """Note many items, their strokes ready.

        `context` and `line` (N,): index of the context, and line in the file, of each.
        `table`: their strokes, items counted from 0.
        """
        item = len(self.item_name)
        self.item_context.extend(context.tolist())
        self.item_line.extend(line.tolist())
        self.item_name.extend(names)
        self._curves += len(table.kind)
        self._ready.append(replace(table, item=table.item + item))

    def finish(self) -> StrokeTable:
        """Return all strokes, each in the user units of its item."""
        parts = [
            _lines(self._lines, self._line_items),
            _ellipses(self._ellipses, self._ellipse_items),
            *_boxes(self._boxes, self._box_items),
            *self._ready,
        ]
        self._ready = []
        whole = merge_tables(parts)
        if len(whole.kind) > self.limits.curves:
            got = f"{len(whole.kind):,} lines, arcs and curves"
            raise self.limits.refuse(limit="curves", got=got, where=self.where)
        return whole

    def matrices(self, page: Affine) -> Floats:
        """Return the map of each context, followed by the page's.

        `page`: map applied last. Returns (contexts, 6): one map a row.
        """
        m = np.array([c.matrix for c in self.contexts], np.float64).reshape(-1, 6)
        a, b, c, d, e, f = page
        return np.stack(
            [
                a * m[:, 0] + c * m[:, 1],
                b * m[:, 0] + d * m[:, 1],
                a * m[:, 2] + c * m[:, 3],
                b * m[:, 2] + d * m[:, 3],
                a * m[:, 4] + c * m[:, 5] + e,
                b * m[:, 4] + d * m[:, 5] + f,
            ],
            axis=1,
        )


def transform_rows(
    kind: NDArray[np.uint8], data: Floats, maps: Floats, which: Ints
) -> None:
    """Map curves in place, each by its own map.

    `kind` (N,): kinds of the curves. `data` (N, 8): their numbers; changed. `maps` (M,
    6): affine maps. `which` (N,): the map of each curve.
    """
    step = 200_000  # bounds the memory of the work
    for begin in range(0, len(kind), step):
        rows = slice(begin, min(begin + step, len(kind)))
        m = maps[0][:, None] if len(maps) == 1 else maps[which[rows]].T
        part, sort = data[rows], kind[rows]
        arc = sort == ARC
        points = 4 if (sort == CUBIC).any() else (3 if arc.any() else 2)
        for k in range(points):
            x, y = part[:, 2 * k].copy(), part[:, 2 * k + 1]
            new_x, new_y = m[0] * x + m[2] * y, m[1] * x + m[3] * y
            shift_x, shift_y = m[4], m[5]
            if k == 0:
                part[:, 0], part[:, 1] = new_x + shift_x, new_y + shift_y
                continue
            # half-diameters of arcs are vectors: they are not shifted; the
            # angles of arcs and the unused numbers of lines stay
            use = np.ones(len(sort), bool)
            if k == 3:
                use = sort == CUBIC
            elif k == 2:
                use = sort != LINE
            moved_x = np.where(arc, new_x, new_x + shift_x)
            moved_y = np.where(arc, new_y, new_y + shift_y)
            np.copyto(part[:, 2 * k + 1], moved_y, where=use)
            np.copyto(part[:, 2 * k], moved_x, where=use)


def _lines(numbers: array[float], items: array[int]) -> StrokeTable:
    n = len(items)
    data = np.zeros((n, 8))
    data[:, :4] = np.array(numbers, np.float64).reshape(n, 4)
    return StrokeTable.of_lines(data, np.array(items, np.int64))


def _ellipses(numbers: array[float], items: array[int]) -> StrokeTable:
    n = len(items)
    e = np.array(numbers, np.float64).reshape(n, 4)
    data = np.zeros((n, 8))
    data[:, 0:3], data[:, 5], data[:, 7] = e[:, 0:3], e[:, 3], 2 * np.pi
    return StrokeTable(
        np.full(n, ARC, np.uint8), data, np.arange(n + 1), np.ones(n, bool),
        np.array(items, np.int64),
    )  # fmt: skip


def _boxes(numbers: array[float], items: array[int]) -> list[StrokeTable]:
    n = len(items)
    if n == 0:
        return []
    box = np.array(numbers, np.float64).reshape(n, 6)
    owner = np.array(items, np.int64)
    rounded = (box[:, 4] > 0) & (box[:, 5] > 0)
    parts = []
    for curved in (False, True):
        some = box[rounded == curved]
        if not len(some):
            continue
        data, kind = _box_rows(some, curved)
        kind, data, start = _drop_empty(kind, data)
        closed = np.ones(len(some), bool)
        table = StrokeTable(kind, data, start, closed, owner[rounded == curved])
        # a box too small to be one where it stands has no sides at all
        parts.append(table.take(np.diff(start) > 0))
    return parts


def _box_rows(box: Floats, curved: bool) -> tuple[Floats, NDArray[np.uint8]]:
    # SVG 2, section 10.2: from the top left corner, clockwise on screen
    x, y, w, h, rx, ry = box.T
    if not curved:
        rx, ry = np.zeros_like(x), np.zeros_like(y)
    left, right, top, bottom = x, x + w, y, y + h
    data = np.zeros((len(box), 8, 8))
    kind = np.tile(np.array([LINE, ARC] * 4, np.uint8), (len(box), 1))
    runs = (
        (left + rx, top, right - rx, top),
        (right, top + ry, right, bottom - ry),
        (right - rx, bottom, left + rx, bottom),
        (left, bottom - ry, left, top + ry),
    )
    corners = (
        (right - rx, top + ry),
        (right - rx, bottom - ry),
        (left + rx, bottom - ry),
        (left + rx, top + ry),
    )
    for k in range(4):
        data[:, 2 * k, 0:4] = np.stack(runs[k], axis=1)
        cx, cy = corners[k]
        first = np.full(len(box), (k - 1) * np.pi / 2)
        zero = np.zeros(len(box))
        data[:, 2 * k + 1] = np.stack(
            [cx, cy, rx, zero, zero, ry, first, first + np.pi / 2], axis=1
        )
    if not curved:
        data, kind = data[:, ::2], kind[:, ::2]
    return data, kind


def _drop_empty(
    kind: NDArray[np.uint8], data: Floats
) -> tuple[NDArray[np.uint8], Floats, Ints]:
    # sides of no length, where two corners take a whole side
    flat = (kind == LINE) & (data[..., 0:2] == data[..., 2:4]).all(axis=-1)
    counts = (~flat).sum(axis=1)
    return kind[~flat], data[~flat], np.concatenate([[0], np.cumsum(counts)])


def merge_tables(parts: list[StrokeTable]) -> StrokeTable:
    """Return the strokes of several tables in the order of their items.

    `parts`: tables; strokes of one item keep their order.
    """
    parts = [part for part in parts if len(part.closed)]
    if not parts:
        return StrokeTable.of_lines(np.empty((0, 8)), 0)
    if len(parts) == 1:
        return parts[0]
    counts = np.concatenate([np.diff(part.start) for part in parts])
    whole = StrokeTable(
        np.concatenate([part.kind for part in parts]),
        np.concatenate([part.data for part in parts]),
        np.concatenate([[0], np.cumsum(counts)]),
        np.concatenate([part.closed for part in parts]),
        np.concatenate([part.item for part in parts]),
    )
    order = np.argsort(whole.item, kind="stable")
    return whole if (order[1:] > order[:-1]).all() else whole.pick(order)


def merge_with(
    parts: list[StrokeTable], columns: list[NDArray[_Any]]
) -> tuple[StrokeTable, NDArray[_Any]]:
    """Return the strokes of several tables, and what is known of each, in order.

    `parts`: tables, as for `merge_tables`. `columns` (S,): of each table, one value a
    stroke.
    """
    item = np.concatenate([part.item for part in parts])
    order = np.argsort(item, kind="stable")
    return merge_tables(parts), np.concatenate(columns)[order]


def drop_wild(strokes: StrokeTable, far: float) -> tuple[StrokeTable, int]:
    """Leave out strokes with numbers that are no numbers, or too far away.

    `strokes`: strokes in mm. `far`: largest number allowed. Returns `strokes`: the
    others; `count`: how many were left out.
    """
    wild = ~(np.abs(strokes.data) <= far).all(axis=1)
    if not wild.any():
        return strokes, 0
    bad = np.zeros(len(strokes.closed), bool)
    bad[strokes.owner()[wild]] = True
    return strokes.take(~bad), int(bad.sum())
