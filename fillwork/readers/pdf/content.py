"""What a page draws, as plain arrays: paths, clips, forms, pictures, layers."""

from __future__ import annotations

from array import array
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NoReturn

import numpy as np

from fillwork.errors import FillworkError
from fillwork.geometry import affine
from fillwork.geometry.curves import LINE
from fillwork.readers.pdf.functions import BROKEN
from fillwork.readers.pdf.patterns import fill_by_tiles
from fillwork.readers.pdf.run import ACTS, MOST_SAVED, Run
from fillwork.readers.pdf.state import Path, Picture, State, rectangle, region_of
from fillwork.readers.pdf.tokens import operators
from fillwork.readers.strokes.collect import (
    Collector,
    Context,
    StrokeTable,
    merge_tables,
)
from fillwork.readers.strokes.drawn import Clip, Drawn
from fillwork.readers.strokes.patterns import Allowance

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.arrays import Floats
    from fillwork.geometry.affine import Affine
    from fillwork.readers.pdf.pages import Layers
    from fillwork.readers.pdf.streams import Unpacker
    from fillwork.readers.strokes.tiles import Tile


# the thinnest line of a printer of 300 dots an inch, for a width of 0
_HAIR = 72 / 300
_MOST_DEEP = 40
_CLEAR, _UNSEEN = -1, -2  # instead of a context: nothing to see, a layer that is off


@dataclass(frozen=True, slots=True)
class _Form:
    # a form as it is drawn each time
    data: bytes
    matrix: Affine | None
    box: Path | None
    resources: Any
    group: bool  # whether it is a group of its own transparency


class Painter:
    """Follow the operators of a page and gather what they draw.

    `drawn`: takes items, contexts, clips and counts. `unpacker`: unpacks streams.
    `layers`: which layers are seen. `unit`: length of the page's unit, mm. `hides`:
    whether lines under later fills of a tile are left out. `allowance` (Allowance):
    what may still be laid of tiles. `tiles`: tiles made so far, and whether pictures or
    text stand in them. `laying`: patterns whose tiles are being made. `one_ink` (bool):
    whether operators that choose colours do nothing.
    """

    def __init__(
        self, drawn: Drawn, unpacker: Unpacker, layers: Layers, unit: float,
        *, hides: bool = True,
    ) -> None:  # fmt: skip
        self.drawn = drawn
        self.unpacker = unpacker
        self.layers = layers
        self.unit = unit
        self.hides = hides
        self.one_ink = False
        self.allowance = Allowance(drawn.limits, drawn.where)
        self.tiles: dict[object, tuple[Tile | None, bool]] = {}
        self.laying: tuple[object, ...] = ()
        self._empty()
        self.hidden: dict[str, int] = {}
        self.doubts: dict[str, int] = {}
        self._tokens = drawn.limits.elements * 10
        self._forms_left = drawn.limits.forms
        self._forms: dict[tuple[int, int], _Form] = {}
        self._index = 0

    def table(self) -> StrokeTable:
        """Return all strokes, each in the user space of its item."""
        drawn = StrokeTable(
            np.array(self.kinds, np.uint8),
            np.array(self.rows, np.float64).reshape(-1, 8),
            np.array(self.start, np.int64),
            np.array(self.closed, bool),
            np.array(self.item, np.int64),
        )
        return merge_tables([drawn, self.drawn.collector.finish()])

    @property
    def collector(self) -> Collector:
        """Return what takes items and tiles."""
        return self.drawn.collector

    def number(self, context: Context) -> int:
        """Return the number of a context, the same for the same."""
        return self.drawn.context(context)

    def room(self) -> tuple[int, int]:
        """Return how many more items and curves are allowed."""
        items, curves = self.drawn.collector.room()
        return items, curves - len(self.kinds)

    @contextmanager
    def apart(self, unit: float, *, one_ink: bool) -> Iterator[Drawn]:
        """Gather what is drawn in a tile, in units of so many mm.

        `unit`: length of the tile's unit, mm. `one_ink`: whether operators that choose
        colours do nothing. Yields what is gathered.
        """
        around = self.drawn
        names = (
            "drawn", "unit", "one_ink", "kinds", "rows", "start", "closed", "item",
            "pictures", "_marks", "_floor", "_boxes", "_outlines", "_last",
        )  # fmt: skip
        kept = {name: getattr(self, name) for name in names}
        collector = Collector(around.limits, around.where)
        self.drawn = Drawn(around.limits, around.where, collector, counts=around.counts)
        self.unit, self.one_ink = unit, one_ink
        self._empty()
        try:
            yield self.drawn
        finally:
            for name, value in kept.items():
                setattr(self, name, value)

    def _empty(self) -> None:
        self.kinds = array("B")
        self.rows = array("d")
        self.start = array("q", [0])
        self.closed = array("B")
        self.item = array("q")
        self.pictures: list[Picture] = []
        self._marks: list[tuple[bool, str | None]] = []
        self._floor = 0  # of the marks, those that the stream around has opened
        self._boxes: dict[object, int] = {}
        self._outlines: dict[int, tuple[Path, State, bool]] = {}  # of clips
        self._last: tuple[object, ...] | None = None

    def spend(self, tokens: int) -> None:
        """Count what was read, and refuse a page that asks for too much."""
        self._tokens -= tokens
        if self._tokens < 0:
            most = self.drawn.limits.elements
            got = f"the page asks for more than {10 * most:,} numbers and operators"
            raise self.drawn.limits.refuse(
                limit="elements", got=got, where=self.drawn.where
            )

    def _refuse(self, limit: str, got: str) -> NoReturn:
        raise self.drawn.limits.refuse(limit=limit, got=got, where=self.drawn.where)

    def doubt(self, what: str) -> None:
        """Note what was not understood."""
        self.doubts[what] = self.doubts.get(what, 0) + 1

    def run(
        self, data: bytes, resources: Any, state: State, inside: tuple[object, ...]
    ) -> None:
        """Follow one content stream."""
        run = Run(self, resources, state, inside)
        around, self._floor = self._floor, len(self._marks)
        for operator, operands in operators(data, self.spend):
            act = ACTS.get(operator)
            if act is None:
                continue
            try:
                act(run, operands)
            except FillworkError:
                raise
            except BROKEN:
                name = operator.decode("latin-1")[:12]
                self.doubt(f"the operator {name} with wrong operands")
        del self._marks[self._floor :]
        self._floor = around
        self._last = None

    def seen(self) -> bool:
        """Return whether what is drawn now is on layers that are on."""
        return all(seen for seen, _ in self._marks)

    def layer(self) -> str | None:
        """Return the name of the outermost layer that is open."""
        return next((name for _, name in self._marks if name), None)

    def mark(self, group: Any) -> None:
        """Open marked content. `group` (Object or None): the layer, if it names one."""
        if len(self._marks) > MOST_SAVED:
            self.doubt("marked content that never ends")
            return
        self._last = None
        self._marks.append((True, None) if group is None else self.layers.look(group))

    def unmark(self) -> None:
        """Close marked content."""
        self._last = None
        if len(self._marks) > self._floor:
            self._marks.pop()

    def paint(
        self, path: Path, state: State, *, stroked: bool, filled: bool, even_odd: bool
    ) -> None:
        """Draw a path."""
        if not path.closed or not (stroked or filled):
            return
        tiled = filled and state.pattern is not None and state.fill_alpha > 0
        if tiled and self.seen():
            stroked = stroked and state.stroke_alpha > 0
            fill_by_tiles(self, path, state, stroked=stroked, even_odd=even_odd)
            return
        index = self._seen_context(state, stroked, filled, even_odd)
        if index < 0:
            if index == _UNSEEN:
                self._hide(1)
            return
        self.add_path(path, index)

    def add_path(self, path: Path, index: int) -> None:
        """Take a path as an item of a context."""
        collector = self.drawn.collector
        number = len(collector.item_name) + 1
        item = collector.add_item(index, 0, f"path {number}")
        self._take(len(path.kinds))
        first = len(self.kinds)
        self.kinds.extend(path.kinds)
        self.rows.extend(path.rows)
        self.start.extend(first + end for end in path.start[1:])
        self.closed.extend(path.closed)
        self.item.extend([item] * len(path.closed))

    def _seen_context(
        self, state: State, stroked: bool, filled: bool, even_odd: bool
    ) -> int:
        """Return the context of a path, which is mostly that of the last one."""
        last = self._last
        if last is None or not (
            last[0] is state
            and last[1] is stroked
            and last[2] is filled
            and last[3] is even_odd
        ):
            self._last = (state, stroked, filled, even_odd)
            self._index = self._context(state, stroked, filled, even_odd)
        return self._index

    def paint_lines(self, rows: Floats, state: State) -> None:
        """Draw lines, each a path of its own.

        `rows` (N, 4): their ends in user space. `state`: the graphics state.
        """
        rows = rows[(rows[:, :2] != rows[:, 2:]).any(axis=1)]
        index = self._seen_context(state, True, False, False)
        if index < 0:
            if index == _UNSEEN:
                self._hide(len(rows))
            return
        self._take(len(rows))
        first, n = len(self.kinds) + 1, len(rows)
        table = np.zeros((n, 8))
        table[:, :4] = rows
        self.kinds.frombytes(bytes([LINE]) * n)
        self.rows.frombytes(table.tobytes())
        self.start.extend(range(first, first + n))
        self.closed.frombytes(bytes(n))
        add = self.drawn.collector.add_item
        number = len(self.drawn.collector.item_name) + 1
        names = (f"path {k}" for k in range(number, number + n))
        self.item.extend([add(index, 0, name) for name in names])

    def _hide(self, count: int) -> None:
        name = next((n for seen, n in self._marks if not seen and n), None) or ""
        self.hidden[name] = self.hidden.get(name, 0) + count

    def _take(self, curves: int) -> None:
        """Refuse a page with too many curves."""
        if curves > self.room()[1]:
            got = f"more than {self.drawn.limits.curves:,} lines, arcs and curves"
            self._refuse("curves", got)

    def _context(
        self, state: State, stroked: bool, filled: bool, even_odd: bool
    ) -> int:
        stroked = stroked and state.stroke_alpha > 0
        filled = filled and state.fill_alpha > 0
        if not (stroked or filled):
            return _CLEAR
        if not self.seen():
            return _UNSEEN
        return self.drawn.context(self.about(state, stroked, filled, even_odd))

    def about(
        self, state: State, stroked: bool, filled: bool, even_odd: bool
    ) -> Context:
        """Return how a path that is seen is painted."""
        layer = self.layer()
        if layer:
            self.drawn.layers.setdefault(layer)
        scale = affine.mean_scale(state.matrix)
        width = (state.width * scale or _HAIR) * self.unit
        plain = state.fill_space.kind != "pattern"
        if state.masked:
            self.doubt("what is seen through a soft mask is taken whole")
        return Context(
            matrix=state.matrix,
            stroked=stroked,
            filled=filled,
            colour=state.stroke if stroked else state.fill,
            width=width if stroked else 0.0,
            dash=state.dash and stroked,
            layer=layer,
            clip=state.clip,
            even_odd=even_odd,
            names=0,
            gradient=filled and not plain,
            covers=filled
            and (plain or bool(state.shading) or state.pattern is not None)
            and not state.shows,
            fill=(state.fill if plain else state.shading or None) if filled else None,
        )

    def clip(self, path: Path, state: State, even_odd: bool) -> int:
        """Return the clip that a path adds."""
        box = path.box if len(path.closed) == 1 else None
        own = box or (bytes(path.rows), tuple(path.start), even_odd)
        key = (state.clip, state.matrix, own)
        found = self._boxes.get(key)
        if found is None:
            if box is not None:
                clip = self._boxed(state.clip, state.matrix, box)
            else:
                region = region_of(path, even_odd)
                clip = Clip(state.clip, state.matrix, shape=region)
            found = self._boxes[key] = self.add_clip(clip)
            self._outlines[found] = (path, state, even_odd)
        return found

    def _boxed(
        self, around: int, matrix: Affine, box: tuple[float, float, float, float]
    ) -> Clip:
        # what two boxes in the same units leave is a box
        if around >= 0:
            outer = self.drawn.clips[around]
            if outer.box is not None and outer.matrix == matrix and not outer.drawn:
                x, y = max(box[0], outer.box[0]), max(box[1], outer.box[1])
                right = min(box[0] + box[2], outer.box[0] + outer.box[2])
                top = min(box[1] + box[3], outer.box[1] + outer.box[3])
                if right > x and top > y:
                    return Clip(outer.parent, matrix, (x, y, right - x, top - y))
        return Clip(around, matrix, box)

    def add_clip(self, clip: Clip) -> int:
        """Take a clip and return its number."""
        drawn = self.drawn
        if len(drawn.clips) >= drawn.limits.copies:
            self._refuse("copies", f"more than {drawn.limits.copies:,} clips")
        drawn.clips.append(clip)
        return len(drawn.clips) - 1

    def shade(self, state: State) -> bool:
        """Fill what the innermost clip leaves, and return whether there is one."""
        if state.clip not in self._outlines:
            return False
        path, around, even_odd = self._outlines[state.clip]
        state = replace(state, matrix=around.matrix, clip=around.clip)
        self.paint(path, state, stroked=False, filled=True, even_odd=even_odd)
        return True

    def place(
        self, thing: Any, state: State, resources: Any, inside: tuple[object, ...]
    ) -> None:
        """Draw a form, or note a picture.

        `thing`: the object that ``Do`` names. `state`: the graphics state. `resources`:
        those around, for forms without their own. `inside`: forms that are being drawn.
        """
        kind = str(thing.get("/Subtype", ""))
        self.mark(thing.get("/OC"))
        try:
            if kind == "/Image":
                if self.seen() and len(self.pictures) < 10_000:
                    self.drawn.counts["image"] = self.drawn.counts.get("image", 0) + 1
                    ink = state.fill or "#000000"
                    self.pictures.append(Picture(thing, state.matrix, ink))
            elif kind == "/Form":
                self._form(thing, state, resources, inside)
        finally:
            self.unmark()

    def _form(
        self, thing: Any, state: State, resources: Any, inside: tuple[object, ...]
    ) -> None:
        name = thing.objgen
        if name in inside or len(inside) >= _MOST_DEEP:
            deep = f"a form more than {_MOST_DEEP} deep in others"
            self.doubt("a form that holds itself" if name in inside else deep)
            return
        self._forms_left -= 1
        if self._forms_left < 0:
            most = self.drawn.limits.forms
            self._refuse("forms", f"more than {most:,} placed forms")
        form = self._forms.get(name)
        if form is None:
            form = self._forms[name] = self._read_form(thing)
        if form.matrix is not None:
            matrix = affine.compose(state.matrix, form.matrix)
            state = replace(state, matrix=matrix)
        if form.box is not None:
            state = replace(state, clip=self.clip(form.box, state, False))
        if form.group:
            # what is in a group is drawn on its own, then laid over what is below
            if state.fill_alpha <= 0:
                return
            state = replace(
                state, fill_alpha=1.0, stroke_alpha=1.0, blended=False,
                through=state.shows,
            )  # fmt: skip
        resources = resources if form.resources is None else form.resources
        self.run(form.data, resources, state, (*inside, name))

    def _read_form(self, thing: Any) -> _Form:
        a, b, c, d, e, f = (float(v) for v in thing.get("/Matrix", affine.IDENTITY))
        box = [float(v) for v in thing.get("/BBox", [])]
        path = None
        if len(box) == 4:
            path = rectangle(box[0], box[1], box[2] - box[0], box[3] - box[1])
        return _Form(
            self.unpacker.read(thing),
            None if (a, b, c, d, e, f) == affine.IDENTITY else (a, b, c, d, e, f),
            path,
            thing.get("/Resources"),
            "/Group" in thing,
        )
