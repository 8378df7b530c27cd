"""What the laying stage takes and returns.

A *cell* is what the maker drew: some lines and the straight-sided *outline* that
bounds them. A *way* says how the cell goes on: the shifts, and the copies of the
cell that one repeat holds. A *motif* is the line work of one repeat, each line once.
A *placing* says where the repeat lies on the panel and at what scale.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.affine import IDENTITY
from fillwork.geometry.curves import Curves

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints32
    from fillwork.geometry.affine import Affine


@dataclass(frozen=True, slots=True, eq=False)
class Cell:
    """Hold the lines of one cell and what bounds them."""

    curves: Curves  # the lines, mm; they may run over the outline
    style: Ints32  # (N,): row of the drawing's table of styles for each
    outline: Floats  # (k, 2): corners, counter-clockwise, mm
    guided: bool  # True when guide lines named the outline

    def __post_init__(self) -> None:
        self.style.setflags(write=False)
        self.outline.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """Say how a cell goes on."""

    name: str  # in words, such as ``shifts`` or ``plane:p4m``
    # (r, 2): shifts as rows, mm: two for the plane, one for a strip, none for a rosette
    basis: Floats
    outline: Floats  # (k, 2): the cell's outline as it must be, mm
    # the copies that one repeat holds, the cell itself first
    operations: tuple[Affine, ...] = (IDENTITY,)
    mend: Affine = IDENTITY  # from the outline as drawn to the one that must be
    miss: float = 0.0  # how far corners are off after that, mm

    def __post_init__(self) -> None:
        self.basis.setflags(write=False)
        self.outline.setflags(write=False)


@dataclass(frozen=True, slots=True)
class Misfit:
    """Name one place where lines do not meet at a join."""

    at: tuple[float, float]  # where on the cell as drawn, mm
    # how far the lines miss each other, mm; where nothing goes on, how far a line that
    # is not drawn on stops short of the outline
    size: float
    closed: bool  # whether they were moved together


@dataclass(frozen=True, slots=True, eq=False)
class Motif:
    """Hold the lines of one repeat, each once."""

    curves: Curves  # the lines, mm of the drawing
    style: Ints32  # (N,): row of the drawing's table of styles for each
    basis: Floats  # (r, 2): shifts as rows, mm
    operations: tuple[Affine, ...]  # copies of the cell in one repeat
    outline: Floats  # (k, 2): outline of the cell, mm
    way: str  # how the cell goes on, in words
    misfits: tuple[Misfit, ...] = ()  # what was closed at the joins, and what was not
    slip: float = 0.0  # how far the hand was off, mm, as joins and corners tell

    @property
    def usual_style(self) -> int:
        """Return the style of most of its lines."""
        return int(np.bincount(self.style, minlength=1).argmax())

    def __post_init__(self) -> None:
        self.style.setflags(write=False)
        self.basis.setflags(write=False)
        self.outline.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """Hold the outline of a panel."""

    width: float  # width and height: size, mm
    height: float
    # its edge and the edges of its holes, mm, from the lower left corner
    curves: Curves
    # ring ``r`` is ``curves[ring_start[r]:ring_start[r + 1]]``, the outer one first
    ring_start: tuple[int, ...]
    rings: tuple[Floats, ...]  # (n, 2): the same as rings of chords
    rectangle: bool  # whether it is a plain rectangle

    @property
    def area(self) -> Any:
        """Return the panel with its holes as one shape of chords."""
        import shapely

        return shapely.Polygon(self.rings[0], list(self.rings[1:]))

    @property
    def edges(self) -> list[Curves]:
        """Return the edge of the panel and the edges of its holes, ring by ring."""
        return [
            self.curves.take(np.arange(a, b))
            for a, b in itertools.pairwise(self.ring_start)
        ]

    def with_hole(self, edge: Curves, ring: Floats) -> Panel:
        """Return the panel with a hole more: its edge, clockwise, and its chords."""
        curves = Curves.concatenate([self.curves, edge])
        start, rings = (*self.ring_start, len(curves)), (*self.rings, ring)
        return Panel(self.width, self.height, curves, start, rings, False)


@dataclass(frozen=True, slots=True)
class Placing:
    """Say where a repeat lies on a panel."""

    number: int  # from 1, best first; 0 for one that the user gave
    map: Affine  # from the drawing's mm to the panel's: scale, turn and shift
    scale: float  # panel length / drawn length
    middle: str  # what stands in the middle of the panel
    # least depth of a piece that the edge cuts, mm; infinite where none is cut
    smallest: float
    small: int  # pieces along the edge under 5 mm deep
    halves: int  # pieces along the edge that are under half of their figure
    # what is alike: ``left and right``, ``top and bottom``, ``corners``
    alike: tuple[str, ...]
    score: float  # the lower the better
