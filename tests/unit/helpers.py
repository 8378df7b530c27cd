"""Line work made by hand, for tests that need no file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves
from fillwork.linework import Frame, LineWork

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

__all__ = [
    "arc",
    "circle",
    "cubic",
    "line",
    "linework_from_curves",
    "linework_from_segments",
    "polyline",
]

Row = tuple[int, list[float]]


def line(x0: float, y0: float, x1: float, y1: float) -> Row:
    return LINE, [x0, y0, x1, y1, 0.0, 0.0, 0.0, 0.0]


def arc(cx: float, cy: float, radius: float, start: float, stop: float) -> Row:
    """Return a circular arc; angles in radians."""
    return ARC, [cx, cy, radius, 0.0, 0.0, radius, start, stop]


def circle(cx: float, cy: float, radius: float, start: float = 0.0) -> Row:
    return arc(cx, cy, radius, start, start + 2 * np.pi)


def cubic(*numbers: float) -> Row:
    return CUBIC, [float(n) for n in numbers]


def polyline(points: ArrayLike, closed: bool = False) -> np.ndarray:
    """Return the segments (n, 4) of a polyline."""
    pts = np.asarray(points, dtype=float)
    if closed:
        pts = np.vstack([pts, pts[:1]])
    return np.hstack([pts[:-1], pts[1:]])


def linework_from_curves(
    curves: Curves | Sequence[Row],
    width: float = 100.0,
    height: float = 100.0,
    *,
    has_page: bool = True,
    line_width: float | None = 0.5,
) -> LineWork:
    """Return line work in which every curve is a stroke of its own."""
    if not isinstance(curves, Curves):
        kind = np.array([k for k, _ in curves], np.uint8)
        data = np.array([d for _, d in curves], float).reshape(-1, 8)
        curves = Curves(kind, data)
    n = len(curves)
    return LineWork(
        curves=curves,
        stroke_start=np.arange(n + 1, dtype=np.int32),
        closed=np.zeros(n, bool),
        style=np.zeros(n, np.int32),
        styles=((None, "#000000", line_width, False),),
        source_line=np.zeros(n, np.int32),
        source_name=("line",) * n,
        frame=Frame(width, height, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), has_page=has_page),
        file="made by hand",
    )


def linework_from_segments(
    segments: ArrayLike,
    width: float = 100.0,
    height: float = 100.0,
    *,
    has_page: bool = True,
    line_width: float | None = 0.5,
) -> LineWork:
    """Return line work of straight lines x0 y0 x1 y1, one stroke each."""
    table = Curves.from_segments(np.asarray(segments, dtype=float).reshape(-1, 4))
    return linework_from_curves(
        table, width, height, has_page=has_page, line_width=line_width
    )
