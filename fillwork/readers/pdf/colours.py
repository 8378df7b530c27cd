"""Colour spaces of PDF, as far as a line's colour is to be told."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pikepdf

from fillwork.readers.pdf.functions import BROKEN, read_function

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.readers.pdf.functions import Function


@dataclass(frozen=True, slots=True)
class Space:
    """Hold one colour space."""

    # ``grey``, ``rgb``, ``cmyk``, ``lab``, ``indexed``, ``tint``, ``pattern`` or
    # ``other``
    kind: str
    parts: int  # how many numbers a colour has
    # of an indexed space, of tints and of patterns: the space below
    base: Space | None = None
    table: bytes = b""  # of an indexed space: its colours
    # of tints: from their numbers to those of the space below
    mix: Function | None = None

    @property
    def first(self) -> tuple[float, ...]:
        """Return the colour that stands when the space is chosen."""
        if self.kind == "cmyk":
            return (0.0, 0.0, 0.0, 1.0)
        return (1.0 if self.kind == "tint" else 0.0,) * self.parts


GREY, RGB, CMYK = Space("grey", 1), Space("rgb", 3), Space("cmyk", 4)
PATTERN = Space("pattern", 0)
_OTHER = Space("other", 1)
_NAMED = {
    "/DeviceGray": GREY, "/G": GREY, "/CalGray": GREY, "/DeviceRGB": RGB, "/RGB": RGB,
    "/CalRGB": RGB, "/DeviceCMYK": CMYK, "/CMYK": CMYK, "/Pattern": PATTERN,
}  # fmt: skip
_BY_PARTS = {1: GREY, 3: RGB, 4: CMYK}


def read_space(value: Any, depth: int = 0) -> Space:
    """Return the colour space that an object of the file describes.

    `value` (pikepdf object): a name or an array. `depth`: how many spaces it stands in.
    Returns the space; ``other`` where it is not understood.
    """
    if isinstance(value, pikepdf.Name):
        return _NAMED.get(str(value), _OTHER)
    if not isinstance(value, pikepdf.Array) or not len(value) or depth > 4:
        return _OTHER
    kind = str(value[0])
    if kind == "/ICCBased":
        return _BY_PARTS.get(int(value[1].get("/N", 0)), _OTHER)
    if kind == "/Pattern" and len(value) > 1:
        return Space("pattern", 0, read_space(value[1], depth + 1))
    if kind == "/Lab":
        return Space("lab", 3)
    if kind in {"/Indexed", "/I"}:
        table = value[3]
        packed = isinstance(table, pikepdf.Stream)
        data = table.read_bytes() if packed else bytes(table)
        return Space("indexed", 1, read_space(value[1], depth + 1), bytes(data))
    if kind in {"/Separation", "/DeviceN"}:
        parts = 1 if kind == "/Separation" else len(value[1])
        base = read_space(value[2], depth + 1)
        mix = None
        with contextlib.suppress(*BROKEN):
            mix = read_function(value[3])
        return Space("tint", parts, base, mix=mix)
    return _NAMED.get(kind, _OTHER)


def colour_text(space: Space, values: Sequence[float]) -> str | None:
    """Return a colour as text.

    `values`: its numbers. Returns ``#rrggbb``; None for patterns and what is not
    understood.
    """
    rgb = _rgb(space, [float(v) for v in values])
    if rgb is None:
        return None
    parts = [min(max(round(255 * v), 0), 255) if v == v else 0 for v in rgb]
    return "#{:02x}{:02x}{:02x}".format(*parts)


def _rgb(space: Space, values: list[float]) -> tuple[float, float, float] | None:
    if len(values) < space.parts:
        return None
    if space.kind == "grey":
        return (values[0], values[0], values[0])
    if space.kind == "rgb":
        return (values[0], values[1], values[2])
    if space.kind == "cmyk":
        # the plain rule of ISO 32000-1, section 10.3.5
        c, m, y, k = values[:4]
        return (1 - min(1, c + k), 1 - min(1, m + k), 1 - min(1, y + k))
    if space.kind == "lab":
        from coloraide import Color

        red, green, blue = Color("lab", values[:3]).convert("srgb").coords()
        return (red, green, blue)
    if space.kind == "indexed" and space.base is not None:
        n = space.base.parts
        last = len(space.table) // max(n, 1) - 1
        at = min(max(int(values[0]), 0), last) * n
        row = [b / 255 for b in space.table[at : at + n]]
        if space.base.kind == "lab":
            # over the ranges of its components, -100 to 100 where none are stated
            row = [100 * row[0], *(200 * v - 100 for v in row[1:])] if row else row
        return _rgb(space.base, row)
    if space.kind == "tint":
        if space.base is not None and space.mix is not None:
            with contextlib.suppress(*BROKEN):
                return _rgb(space.base, space.mix(values[: space.parts]))
        t = min(max(max(values[: space.parts], default=0.0), 0.0), 1.0)
        return (1 - t, 1 - t, 1 - t)
    return None
