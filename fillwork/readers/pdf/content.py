"""The operators of a page, as ISO 32000-1 defines them, drawn into plain arrays."""

from __future__ import annotations

import math
from array import array
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NoReturn

import numpy as np
import pikepdf

from fillwork.errors import FillworkError
from fillwork.geometry import affine
from fillwork.geometry.curves import CUBIC, LINE
from fillwork.readers.pdf.colours import (
    CMYK,
    GREY,
    PATTERN,
    RGB,
    Space,
    colour_text,
    read_space,
)
from fillwork.readers.pdf.functions import BROKEN
from fillwork.readers.pdf.state import (
    Path,
    Picture,
    State,
    add_rectangle,
    rectangle,
    region_of,
)
from fillwork.readers.pdf.tokens import operators
from fillwork.readers.svg.collect import Context, StrokeTable
from fillwork.readers.svg.frames import Clip
from fillwork.readers.svg.gate.gather import Node

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from fillwork.geometry.affine import Affine
    from fillwork.readers.drawn import Drawn
    from fillwork.readers.pdf.pages import Layers
    from fillwork.readers.pdf.streams import Unpacker

__all__ = ["Painter"]

# the thinnest line of a printer of 300 dots an inch, for a width of 0
_HAIR = 72 / 300
_MOST_DEEP = 40
_MOST_SAVED = 5_000
_CLEAR, _UNSEEN = -1, -2  # instead of a context: nothing to see, a layer that is off


@dataclass(frozen=True, slots=True)
class _Form:
    # a form as it is drawn each time
    data: bytes
    matrix: Affine | None
    box: Path | None
    resources: Any


class Painter:
    """Follow the operators of a page and gather what they draw.

    Parameters
    ----------
    drawn : Drawn
        Takes items, contexts, clips and counts.
    unpacker : Unpacker
        Unpacks streams.
    layers : Layers
        Which layers are seen.
    unit : float
        Length of the page's unit, mm.
    """

    def __init__(
        self, drawn: Drawn, unpacker: Unpacker, layers: Layers, unit: float
    ) -> None:
        self.drawn = drawn
        self.unpacker = unpacker
        self.layers = layers
        self.unit = unit
        self.kinds = array("B")
        self.rows = array("d")
        self.start = array("q", [0])
        self.closed = array("B")
        self.item = array("q")
        self.pictures: list[Picture] = []
        self.hidden: dict[str, int] = {}
        self.doubts: dict[str, int] = {}
        self._tokens = drawn.limits.elements * 10
        self._copies = drawn.limits.copies // 8
        self._marks: list[tuple[bool, str | None]] = []
        self._forms: dict[tuple[int, int], _Form] = {}
        self._boxes: dict[object, int] = {}
        self._last: tuple[object, ...] | None = None
        self._index = 0

    def table(self) -> StrokeTable:
        """Return all strokes, each in the user space of its item."""
        return StrokeTable(
            np.array(self.kinds, np.uint8),
            np.array(self.rows, np.float64).reshape(-1, 8),
            np.array(self.start, np.int64),
            np.array(self.closed, bool),
            np.array(self.item, np.int64),
        )

    def _spend(self, tokens: int) -> None:
        self._tokens -= tokens
        if self._tokens < 0:
            most = self.drawn.limits.elements
            got = f"the page asks for more than {10 * most:,} numbers and operators"
            raise self.drawn.limits.refuse(
                limit="elements", got=got, where=self.drawn.where
            )

    def _refuse(self, limit: str, got: str) -> NoReturn:
        raise self.drawn.limits.refuse(limit=limit, got=got, where=self.drawn.where)

    def _doubt(self, what: str) -> None:
        self.doubts[what] = self.doubts.get(what, 0) + 1

    def run(
        self, data: bytes, resources: Any, state: State, inside: tuple[object, ...]
    ) -> None:
        """Follow one content stream."""
        run = _Run(self, resources, state, inside)
        depth = len(self._marks)
        for operator, operands in operators(data, self._spend):
            act = _ACTS.get(operator)
            if act is None:
                continue
            try:
                act(run, operands)
            except FillworkError:
                raise
            except BROKEN:
                name = operator.decode("latin-1")[:12]
                self._doubt(f"the operator {name} with wrong operands")
        del self._marks[depth:]
        self._last = None

    def seen(self) -> bool:
        """Return whether what is drawn now is on layers that are on."""
        return all(seen for seen, _ in self._marks)

    def layer(self) -> str | None:
        """Return the outermost layer that is open.

        Returns
        -------
        str or None
            Its name.
        """
        return next((name for _, name in self._marks if name), None)

    def mark(self, group: Any) -> None:
        """Open marked content.

        Parameters
        ----------
        group : Object or None
            The layer, if it names one.
        """
        if len(self._marks) > _MOST_SAVED:
            self._doubt("marked content that never ends")
            return
        self._last = None
        self._marks.append((True, None) if group is None else self.layers.look(group))

    def unmark(self) -> None:
        """Close marked content."""
        self._last = None
        if self._marks:
            self._marks.pop()

    def paint(
        self, path: Path, state: State, *, stroked: bool, filled: bool, even_odd: bool
    ) -> None:
        """Draw a path."""
        if not path.closed or not (stroked or filled):
            return
        index = self._seen_context(state, stroked, filled, even_odd)
        if index < 0:
            if index == _UNSEEN:
                self._hide(1)
            return
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

    def paint_lines(self, rows: NDArray[np.float64], state: State) -> None:
        """Draw lines, each a path of its own.

        Parameters
        ----------
        rows : ndarray of shape (N, 4)
            Their ends in user space.
        state : State
            The graphics state.
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
        if curves > self.drawn.limits.curves - len(self.kinds):
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
        layer = self.layer()
        if layer:
            self.drawn.layers.setdefault(layer)
        scale = affine.mean_scale(state.matrix)
        width = (state.width * scale or _HAIR) * self.unit
        plain = state.fill_space.kind != "pattern"
        context = Context(
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
            covers=filled and plain and state.fill_alpha >= 1,
        )
        return self.drawn.context(context)

    def clip(self, path: Path, state: State, even_odd: bool) -> int:
        """Return the clip that a path adds.

        Parameters
        ----------
        path : Path
            In user space.
        state : State
            The graphics state.
        even_odd : bool
            Fill rule.

        Returns
        -------
        int
            Index of the clip.
        """
        key: object
        if path.box is not None and len(path.closed) == 1:
            key = (state.clip, state.matrix, path.box)
        else:
            key = (state.clip, state.matrix, bytes(path.rows), even_odd)
        found = self._boxes.get(key)
        if found is not None:
            return found
        drawn = self.drawn
        if len(drawn.clips) >= drawn.limits.copies:
            got = f"more than {drawn.limits.copies:,} clips"
            raise drawn.limits.refuse(limit="copies", got=got, where=drawn.where)
        if path.box is not None and len(path.closed) == 1:
            clip = Clip(state.clip, state.matrix, path.box)
        else:
            node = Node("clip", "clip", {}, 0, None)
            clip = Clip(state.clip, state.matrix, None, node)
            drawn.clip_shapes[id(node), False] = region_of(path, even_odd)
        self._boxes[key] = len(drawn.clips)
        drawn.clips.append(clip)
        return len(drawn.clips) - 1

    def place(
        self, thing: Any, state: State, resources: Any, inside: tuple[object, ...]
    ) -> None:
        """Draw a form, or note a picture.

        Parameters
        ----------
        thing : Object
            The object that ``Do`` names.
        state : State
            The graphics state.
        resources : Object
            Those around, for forms without their own.
        inside : tuple
            Forms that are being drawn.
        """
        kind = str(thing.get("/Subtype", ""))
        self.mark(thing.get("/OC"))
        try:
            if kind == "/Image":
                if self.seen() and len(self.pictures) < 10_000:
                    self.drawn.counts["image"] = self.drawn.counts.get("image", 0) + 1
                    self.pictures.append(Picture(thing, state.matrix))
            elif kind == "/Form":
                self._form(thing, state, resources, inside)
        finally:
            self.unmark()

    def _form(
        self, thing: Any, state: State, resources: Any, inside: tuple[object, ...]
    ) -> None:
        name = thing.objgen
        if name in inside or len(inside) >= _MOST_DEEP:
            self._doubt("a form that holds itself")
            return
        self._copies -= 1
        if self._copies < 0:
            got = f"more than {self.drawn.limits.copies // 8:,} placed forms"
            self._refuse("copies", got)
        form = self._forms.get(name)
        if form is None:
            form = self._forms[name] = self._read_form(thing)
        if form.matrix is not None:
            matrix = affine.compose(state.matrix, form.matrix)
            state = replace(state, matrix=matrix)
        if form.box is not None:
            state = replace(state, clip=self.clip(form.box, state, False))
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
        )


class _Run:
    """One content stream being followed."""

    def __init__(
        self, painter: Painter, resources: Any, state: State, inside: tuple[object, ...]
    ) -> None:
        self.painter = painter
        self.resources = resources
        self.state = state
        self.inside = inside
        self.saved: list[State] = []
        self.path = Path()
        self.clip: bool | None = None  # the fill rule of a clip that is asked for
        self.spaces: dict[bytes, Space] = {}

    def _named(self, sort: str, name: Any) -> Any:
        return self.resources[sort][name.decode("latin-1")]

    # -- state ---------------------------------------------------------------

    def _save(self, o: list[Any]) -> None:
        if len(self.saved) < _MOST_SAVED:
            self.saved.append(self.state)

    def _restore(self, o: list[Any]) -> None:
        if self.saved:
            self.state = self.saved.pop()

    def _concatenate(self, o: list[Any]) -> None:
        a, b, c, d, e, f = o[-6:]
        if not all(map(math.isfinite, (a, b, c, d, e, f))):
            raise ValueError
        matrix = affine.compose(self.state.matrix, (a, b, c, d, e, f))
        self.state = replace(self.state, matrix=matrix)

    def _width(self, o: list[Any]) -> None:
        if not math.isfinite(o[-1]):
            raise ValueError
        self.state = replace(self.state, width=abs(o[-1]))

    def _dash(self, o: list[Any]) -> None:
        pattern = o[0]
        dash = isinstance(pattern, list) and any(v for v in pattern)
        self.state = replace(self.state, dash=dash)

    def _graphics(self, o: list[Any]) -> None:
        told = self._named("/ExtGState", o[-1])
        changes: dict[str, Any] = {}
        if "/LW" in told:
            changes["width"] = abs(float(told["/LW"]))
        if "/D" in told:
            changes["dash"] = any(float(v) for v in told["/D"][0])
        if "/CA" in told:
            changes["stroke_alpha"] = float(told["/CA"])
        if "/ca" in told:
            changes["fill_alpha"] = float(told["/ca"])
        if changes:
            self.state = replace(self.state, **changes)

    def _paint_with(self, is_stroke: bool, space: Space, colour: str | None) -> None:
        if is_stroke:
            self.state = replace(self.state, stroke_space=space, stroke=colour)
        else:
            self.state = replace(self.state, fill_space=space, fill=colour)

    def _plain(self, o: list[Any], space: Space, is_stroke: bool) -> None:
        self._paint_with(is_stroke, space, colour_text(space, o))

    def _space(self, o: list[Any], is_stroke: bool) -> None:
        name = o[-1]
        space = self.spaces.get(name)
        if space is None:
            space = read_space(pikepdf.Name(name.decode("latin-1")))
            if space.kind == "other":
                space = read_space(self._named("/ColorSpace", name))
            self.spaces[name] = space
        self._paint_with(is_stroke, space, colour_text(space, space.first))

    def _colour(self, o: list[Any], is_stroke: bool) -> None:
        state = self.state
        space = state.stroke_space if is_stroke else state.fill_space
        if o and isinstance(o[-1], bytes):
            self._paint_with(is_stroke, PATTERN, None)
            return
        self._paint_with(is_stroke, space, colour_text(space, o))

    # -- paths ---------------------------------------------------------------

    def _move(self, o: list[Any]) -> None:
        x, y = o[-2:]
        path = self.path
        path.end(False)
        path.at = path.first = (x + 0.0, y + 0.0)

    def _line(self, o: list[Any]) -> None:
        x, y = o[-2:]
        path = self.path
        if path.at is None:
            self._move(o)
            return
        if path.at != (x, y):
            path.kinds.append(LINE)
            path.rows.extend((*path.at, x, y, 0.0, 0.0, 0.0, 0.0))
            path.at = (x, y)

    def _cubic(self, points: list[Any]) -> None:
        path = self.path
        if path.at is None:
            path.at = path.first = (points[0], points[1])
        row = (*path.at, *points)
        if any(row[k] != row[k % 2] for k in range(2, 8)):
            path.kinds.append(CUBIC)
            path.rows.extend(row)
        path.at = (points[4], points[5])

    def _curve(self, o: list[Any]) -> None:
        a, b, c, d, e, f = o[-6:]
        self._cubic([a, b, c, d, e, f])

    def _curve_v(self, o: list[Any]) -> None:
        c, d, e, f = o[-4:]
        self._cubic([*(self.path.at or (c, d)), c, d, e, f])

    def _curve_y(self, o: list[Any]) -> None:
        a, b, e, f = o[-4:]
        self._cubic([a, b, e, f, e, f])

    def _close(self, o: list[Any]) -> None:
        path = self.path
        if path.at is None:
            return
        self._line([*path.first])
        path.end(True)
        path.at = path.first

    def _rectangle(self, o: list[Any]) -> None:
        x, y, w, h = o[-4:]
        add_rectangle(self.path, x + 0.0, y + 0.0, w + 0.0, h + 0.0)

    def _clip(self, o: list[Any]) -> None:
        self.clip = False

    def _clip_even_odd(self, o: list[Any]) -> None:
        self.clip = True

    def _paint(
        self, o: list[Any], stroked: bool, filled: bool, even_odd: bool, close: bool
    ) -> None:
        if close:
            self._close(o)
        path, self.path = self.path, Path()
        path.end(False)
        clip, self.clip = self.clip, None
        self.painter.paint(
            path, self.state, stroked=stroked, filled=filled, even_odd=even_odd
        )
        if clip is not None and path.closed:
            index = self.painter.clip(path, self.state, clip)
            self.state = replace(self.state, clip=index)

    def _lines(self, o: list[Any]) -> None:
        if self.path.kinds or self.clip is not None:
            # a path is still open: its points belong to the first of these
            for x0, y0, x1, y1 in o:
                self._move([x0, y0])
                self._line([x1, y1])
                self._paint([], True, False, False, False)
            return
        self.painter.paint_lines(np.array(o), self.state)

    # -- the rest ------------------------------------------------------------

    def _do(self, o: list[Any]) -> None:
        thing = self._named("/XObject", o[-1])
        self.painter.place(thing, self.state, self.resources, self.inside)

    def _mark(self, o: list[Any]) -> None:
        group = None
        try:
            if len(o) >= 2 and o[0] == b"/OC" and isinstance(o[1], bytes):
                group = self._named("/Properties", o[1])
        finally:
            self.painter.mark(group)

    def _unmark(self, o: list[Any]) -> None:
        self.painter.unmark()

    def _count(self, word: str) -> None:
        counts = self.painter.drawn.counts
        counts[word] = counts.get(word, 0) + 1

    def _picture(self, o: list[Any]) -> None:
        self._count("image")

    def _shading(self, o: list[Any]) -> None:
        self._count("shading")

    def _text(self, o: list[Any]) -> None:
        self._count("text")


def _acts() -> dict[bytes, Callable[[_Run, list[Any]], None]]:
    """Return what is done for each operator."""
    run = _Run
    table: dict[bytes, Callable[[_Run, list[Any]], None]] = {
        b"q": run._save, b"Q": run._restore, b"cm": run._concatenate,
        b"w": run._width, b"d": run._dash, b"gs": run._graphics,
        b"m": run._move, b"l": run._line, b"c": run._curve, b"v": run._curve_v,
        b"y": run._curve_y, b"m l S": run._lines,
        b"h": run._close, b"re": run._rectangle,
        b"W": run._clip, b"W*": run._clip_even_odd, b"Do": run._do,
        b"BDC": run._mark, b"BMC": run._mark, b"EMC": run._unmark,
        b"BI": run._picture, b"sh": run._shading,
        b"Tj": run._text, b"TJ": run._text, b"'": run._text, b'"': run._text,
        b"S": lambda r, o: r._paint(o, True, False, False, False),
        b"s": lambda r, o: r._paint(o, True, False, False, True),
        b"f": lambda r, o: r._paint(o, False, True, False, False),
        b"F": lambda r, o: r._paint(o, False, True, False, False),
        b"f*": lambda r, o: r._paint(o, False, True, True, False),
        b"B": lambda r, o: r._paint(o, True, True, False, False),
        b"B*": lambda r, o: r._paint(o, True, True, True, False),
        b"b": lambda r, o: r._paint(o, True, True, False, True),
        b"b*": lambda r, o: r._paint(o, True, True, True, True),
        b"n": lambda r, o: r._paint(o, False, False, False, False),
        b"g": lambda r, o: r._plain(o, GREY, False),
        b"G": lambda r, o: r._plain(o, GREY, True),
        b"rg": lambda r, o: r._plain(o, RGB, False),
        b"RG": lambda r, o: r._plain(o, RGB, True),
        b"k": lambda r, o: r._plain(o, CMYK, False),
        b"K": lambda r, o: r._plain(o, CMYK, True),
        b"cs": lambda r, o: r._space(o, False),
        b"CS": lambda r, o: r._space(o, True),
    }  # fmt: skip
    for name in (b"sc", b"scn"):
        table[name] = lambda r, o: r._colour(o, False)
    for name in (b"SC", b"SCN"):
        table[name] = lambda r, o: r._colour(o, True)
    return table


_ACTS = _acts()
