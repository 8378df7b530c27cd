"""One content stream: what each operator does, as ISO 32000-1 defines them."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pikepdf

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
from fillwork.readers.pdf.state import Path, State, Tiling, add_rectangle

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fillwork.readers.pdf.content import Painter


MOST_SAVED = 5_000
"""States that are saved at once, and marked content that is open at once."""


_DEVICES = {b"/DeviceGray", b"/DeviceRGB", b"/DeviceCMYK", b"/Pattern"}
_QUICK = {"grey", "rgb", "cmyk", "pattern", "other"}
_MIXED = 100  # tokens that mixing a colour counts for
_NORMAL = {"/Normal", "/Compatible"}  # ways to blend under which nothing shows through


class Run:
    """One content stream being followed."""

    def __init__(
        self, painter: Painter, resources: Any, state: State, inside: tuple[object, ...]
    ) -> None:
        self.painter = painter
        self.resources = resources
        self.state = state
        self.base = state.matrix  # of the patterns that are named here
        self.inside = inside
        self.saved: list[State] = []
        self.path = Path()
        self.clip: bool | None = None  # the fill rule of a clip that is asked for
        self.spaces: dict[bytes, Space] = {}
        self.colours: dict[tuple[Any, ...], str | None] = {}  # that were mixed

    def _named(self, sort: str, name: Any) -> Any:
        return self.resources[sort][_text(name)]

    # -- state ---------------------------------------------------------------

    def _save(self, o: list[Any]) -> None:
        if len(self.saved) < MOST_SAVED:
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
        self.state = replace(self.state, dash=_gaps(o[0]))

    def _graphics(self, o: list[Any]) -> None:
        told = self._named("/ExtGState", o[-1])
        changes: dict[str, Any] = {}
        if "/LW" in told:
            changes["width"] = abs(float(told["/LW"]))
        if "/D" in told:
            changes["dash"] = _gaps(list(told["/D"][0]))
        if "/CA" in told:
            changes["stroke_alpha"] = float(told["/CA"])
        if "/ca" in told:
            changes["fill_alpha"] = float(told["/ca"])
        if "/BM" in told:
            changes["blended"] = not _NORMAL.issuperset(_listed(told["/BM"])[:1])
        if "/SMask" in told:
            changes["masked"] = isinstance(told["/SMask"], pikepdf.Dictionary)
        if changes:
            self.state = replace(self.state, **changes)

    def _paint_with(self, is_stroke: bool, space: Space, colour: str | None) -> None:
        if self.painter.one_ink:
            return
        if is_stroke:
            self.state = replace(self.state, stroke_space=space, stroke=colour)
        else:
            self.state = replace(
                self.state, fill_space=space, fill=colour, shading="", pattern=None
            )

    def _mixed(self, space: Space, values: Sequence[Any]) -> str | None:
        """Return a colour as text; what is mixed costs as much as many operators."""
        if space.kind in _QUICK:
            return colour_text(space, values)
        key = (space, *values)
        if key not in self.colours:
            self.painter.spend(_MIXED)
            self.colours[key] = colour_text(space, values)
        return self.colours[key]

    def _plain(self, o: list[Any], space: Space, is_stroke: bool) -> None:
        self._paint_with(is_stroke, space, self._mixed(space, o))

    def _space(self, o: list[Any], is_stroke: bool) -> None:
        name = o[-1]
        space = self.spaces.get(name)
        if space is None:
            known = self.resources.get("/ColorSpace", {})
            own = name not in _DEVICES and _text(name) in known
            told = known[_text(name)] if own else pikepdf.Name(_text(name))
            space = self.spaces[name] = read_space(told)
        self._paint_with(is_stroke, space, self._mixed(space, space.first))

    def _colour(self, o: list[Any], is_stroke: bool) -> None:
        state = self.state
        space = state.stroke_space if is_stroke else state.fill_space
        if o and isinstance(o[-1], bytes):
            space = space if space.kind == "pattern" else PATTERN
            self._paint_with(is_stroke, space, None)
            pattern = self._named("/Pattern", o[-1])
            if is_stroke or self.painter.one_ink:
                return
            if pattern["/PatternType"] == 2:
                name = _covering(pattern["/Shading"])
                self.state = replace(self.state, shading=name)
                return
            ink = None
            if pattern.get("/PaintType") == 2:
                ink = self._mixed(space.base or GREY, o[:-1] or [0.0]) or "#000000"
            tiling = Tiling(pattern, self.base, ink)
            self.state = replace(self.state, pattern=tiling)
            return
        self._paint_with(is_stroke, space, self._mixed(space, o))

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
        if clip is not None and path.at is not None:
            # an outline without any side leaves nothing
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
        name = _covering(self._named("/Shading", o[-1]))
        state = replace(
            self.state, fill_space=PATTERN, fill=None, shading=name, pattern=None
        )
        if not self.painter.shade(state):
            self._count("shading")

    def _text(self, o: list[Any]) -> None:
        self._count("text")


def _text(name: bytes) -> str:
    """Return a name as the file's own dictionaries have it."""
    return name.decode(errors="surrogateescape")


def _listed(value: Any) -> list[str]:
    return [str(v) for v in (value if isinstance(value, pikepdf.Array) else [value])]


def _gaps(lengths: Any) -> bool:
    """Return whether dashes leave gaps; an odd number of lengths goes round twice."""
    if not isinstance(lengths, list):
        return False
    gaps = lengths if len(lengths) % 2 else lengths[1::2]
    return any(float(gap) > 0 for gap in gaps)


def _covering(shading: Any) -> str:
    """Return a name for a shading that goes on beyond its ends, and so covers all.

    Of two circles all is covered only where one holds the other (section 8.7.4.5.4).
    """
    if not all(shading.get("/Extend", [False])):
        return ""
    if shading.get("/ShadingType") == 3:
        x0, y0, r0, x1, y1, r1 = (float(v) for v in shading["/Coords"])
        if math.hypot(x1 - x0, y1 - y0) > abs(r1 - r0):
            return ""
    return f"shading {shading.objgen if shading.is_indirect else shading.unparse()!r}"


def _acts() -> dict[bytes, Callable[[Run, list[Any]], None]]:
    """Return what is done for each operator."""
    run = Run
    table: dict[bytes, Callable[[Run, list[Any]], None]] = {
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


ACTS = _acts()
"""What is done for each operator; those that draw nothing are left out."""
