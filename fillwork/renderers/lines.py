"""Compose plain line work as a page: one group a style, true curves, true size."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import expand_ranges
from fillwork.renderers.scene import BLACK, Scene, Strokes

if TYPE_CHECKING:
    from fillwork.linework import LineWork


def line_items(
    linework: LineWork, *, width: float | None = None, ends: str = ""
) -> list[Strokes]:
    """Return the strokes of line work, one item a style.

    In the order of the styles, each on a layer named after the style's. `width`: one
    width for all, mm; their own by default. `ends`: ``round`` for round joins and caps.
    """
    items = []
    for row, (layer, colour, own, dash) in enumerate(linework.styles):
        strokes = np.flatnonzero(linework.style == row)
        if len(strokes) == 0:
            continue
        first = linework.stroke_start[:-1][strokes]
        count = np.diff(linework.stroke_start)[strokes]
        _, member = expand_ranges(first, count)
        pen = width if width is not None else own or 0.35
        items.append(
            Strokes(
                curves=linework.curves.take(member),
                start=np.r_[0, np.cumsum(count)].astype(np.int64),
                closed=linework.closed[strokes],
                width=pen,
                colour=colour or BLACK,
                dash=(4 * pen, 3 * pen) if dash else (),
                layer=layer or "lines",
                join=ends or "mitre",
                cap=ends or "flat",
            )
        )
    return items


def lines_scene(linework: LineWork, *, title: str, ends: str = "") -> Scene:
    """Return line work as a page of its own size.

    `title`: title of the file. `ends`: ``round`` for round joins and caps.
    """
    frame = linework.frame
    items = tuple(line_items(linework, ends=ends))
    return Scene(frame.width, frame.height, items, title)
