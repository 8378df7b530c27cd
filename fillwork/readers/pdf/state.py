"""The graphics state, paths being built, and pictures of a page (ISO 32000-1)."""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.curves import LINE, Curves
from fillwork.readers.pdf.colours import GREY, Space
from fillwork.readers.strokes.collect import StrokeTable
from fillwork.readers.strokes.cutting import Region
from fillwork.readers.strokes.outlines import close_outlines

if TYPE_CHECKING:
    from fillwork.geometry.affine import Affine


@dataclass(frozen=True, slots=True, eq=False)
class Tiling:
    """Hold a pattern of tiles as it was chosen."""

    stream: Any  # Stream: the pattern in the file
    base: Affine  # from the units around the pattern's own to the page's
    ink: str | None  # the colour of all that is in it, where it has none of its own


@dataclass(frozen=True, slots=True)
class State:
    """Hold the graphics state."""

    matrix: Affine  # from user space to the page's units
    # fill and stroke: colours; None where a pattern paints, or what is not understood
    fill: str | None = "#000000"
    stroke: str | None = "#000000"
    fill_space: Space = GREY  # fill_space and stroke_space: their spaces
    stroke_space: Space = GREY
    width: float = 1.0  # of lines, in user space
    dash: bool = False  # whether lines are dashed
    fill_alpha: float = 1.0  # fill_alpha and stroke_alpha: opacity
    stroke_alpha: float = 1.0
    clip: int = -1  # index of the clip, -1 for none
    # which shading fills, if one does that covers all; empty otherwise
    shading: str = ""
    masked: bool = False  # whether a soft mask is in force
    blended: bool = False  # whether colours mix with those below
    # whether what lies below shows through the group that is being drawn
    through: bool = False
    pattern: Tiling | None = None  # whose tiles fill, if any do

    @property
    def shows(self) -> bool:
        """Return whether what lies below shows through what is filled."""
        return self.fill_alpha < 1 or self.masked or self.blended or self.through


@dataclass(frozen=True, slots=True)
class Picture:
    """Hold a placed picture."""

    image: Any  # the picture in the file
    matrix: Affine  # from the unit square to the page's units
    ink: str = "#000000"  # the colour that a stencil is painted with


@dataclass(slots=True)
class Path:
    """Gather the path being built: lines and cubics, subpath by subpath."""

    # kinds and rows: kind and numbers of each curve
    kinds: array[int] = field(default_factory=lambda: array("B"))
    rows: array[float] = field(default_factory=lambda: array("d"))
    # first curve of each subpath, and the end of the last
    start: list[int] = field(default_factory=lambda: [0])
    closed: list[bool] = field(default_factory=list)  # whether each subpath is closed
    at: tuple[float, float] | None = None  # the current point
    first: tuple[float, float] = (0.0, 0.0)  # where the subpath begins
    # x, y, width, height, where it is one rectangle
    box: tuple[float, float, float, float] | None = None

    def end(self, closed: bool) -> None:
        """End the subpath, if it has any curves."""
        if len(self.kinds) > self.start[-1]:
            self.start.append(len(self.kinds))
            self.closed.append(closed)


def rectangle(x: float, y: float, width: float, height: float) -> Path:
    """Return a rectangle."""
    path = Path()
    add_rectangle(path, x, y, width, height)
    return path


def add_rectangle(path: Path, x: float, y: float, w: float, h: float) -> None:
    """Add a rectangle to a path."""
    path.end(False)
    corners = ((x, y), (x + w, y), (x + w, y + h), (x, y + h))
    for k in range(4):
        p, q = corners[k], corners[(k + 1) % 4]
        if p != q:
            path.kinds.append(LINE)
            path.rows.extend((*p, *q, 0.0, 0.0, 0.0, 0.0))
    path.end(True)
    path.at = path.first = (x, y)
    path.box = None
    if len(path.closed) == 1 and w and h:
        path.box = (min(x, x + w), min(y, y + h), abs(w), abs(h))


def region_of(path: Path, even_odd: bool) -> Region:
    """Return what a path leaves as a clip.

    `even_odd`: fill rule. In the path's units.
    """
    table = table_of(path)
    if not len(table.closed) or not np.isfinite(table.data).all():
        return Region.empty()
    table = close_outlines(table, np.ones(len(table.closed), bool))
    return Region(
        Curves(table.kind.copy(), table.data.copy()),
        table.owner(),
        np.zeros(len(table.kind), np.int64),
        np.array([even_odd]),
    )


def table_of(path: Path) -> StrokeTable:
    """Return the strokes of a path, all of one item, in the path's units."""
    return StrokeTable(
        np.array(path.kinds, np.uint8),
        np.array(path.rows, np.float64).reshape(-1, 8),
        np.array(path.start, np.int64),
        np.array(path.closed, bool),
        np.zeros(len(path.closed), np.int64),
    )
