"""What the laying stage takes and returns.

A *cell* is what the maker drew: some lines and the straight-sided *outline* that
bounds them. A *way* says how the cell goes on: the shifts, and the copies of the
cell that one repeat holds. A *motif* is the line work of one repeat, each line once.
A *placing* says where the repeat lies on the panel and at what scale.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fillwork.geometry.affine import Affine
    from fillwork.geometry.curves import Curves


@dataclass(frozen=True, slots=True, eq=False)
class Cell:
    """Hold the lines of one cell and what bounds them.

    Parameters
    ----------
    curves : Curves
        The lines, mm; they may run over the outline.
    style : ndarray of int32, shape (N,)
        Row of the drawing's table of styles for each.
    outline : ndarray of float64, shape (k, 2)
        Corners, counter-clockwise, mm.
    guided : bool
        True when guide lines named the outline.
    """

    curves: Curves
    style: NDArray[np.int32]
    outline: NDArray[np.float64]
    guided: bool

    def __post_init__(self) -> None:
        self.style.setflags(write=False)
        self.outline.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """Say how a cell goes on.

    Parameters
    ----------
    name : str
        In words, such as ``shifts`` or ``plane:p4m``.
    basis : ndarray of float64, shape (r, 2)
        Shifts as rows, mm: two for the plane, one for a strip, none for a rosette.
    operations : tuple of Affine
        The copies that one repeat holds, the cell itself first.
    outline : ndarray of float64, shape (k, 2)
        The cell's outline as it must be, mm.
    mend : tuple of 6 floats
        The affine map from the outline as drawn to the one that must be.
    miss : float
        How far corners are off after that, mm.
    """

    name: str
    basis: NDArray[np.float64]
    operations: tuple[Affine, ...]
    outline: NDArray[np.float64]
    mend: Affine
    miss: float

    def __post_init__(self) -> None:
        self.basis.setflags(write=False)
        self.outline.setflags(write=False)


@dataclass(frozen=True, slots=True)
class Misfit:
    """Name one place where lines do not meet at a join.

    Parameters
    ----------
    at : tuple of float
        Where on the cell as drawn, mm.
    size : float
        How far the lines miss each other, mm; 0 where nothing goes on.
    closed : bool
        Whether they were moved together.
    """

    at: tuple[float, float]
    size: float
    closed: bool


@dataclass(frozen=True, slots=True, eq=False)
class Motif:
    """Hold the lines of one repeat, each once.

    Parameters
    ----------
    curves : Curves
        The lines, mm of the drawing.
    style : ndarray of int32, shape (N,)
        Row of the drawing's table of styles for each.
    basis : ndarray of float64, shape (r, 2)
        Shifts as rows, mm.
    operations : tuple of Affine
        Copies of the cell in one repeat.
    outline : ndarray of float64, shape (k, 2)
        Outline of the cell, mm.
    way : str
        How the cell goes on, in words.
    misfits : tuple of Misfit
        What was closed at the joins, and what was not.
    """

    curves: Curves
    style: NDArray[np.int32]
    basis: NDArray[np.float64]
    operations: tuple[Affine, ...]
    outline: NDArray[np.float64]
    way: str
    misfits: tuple[Misfit, ...] = ()

    def __post_init__(self) -> None:
        self.style.setflags(write=False)
        self.basis.setflags(write=False)
        self.outline.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """Hold the outline of a panel.

    Parameters
    ----------
    width, height : float
        Size, mm.
    curves : Curves
        Its edge and the edges of its holes, mm, from the lower left corner.
    ring_start : tuple of int
        Ring ``r`` is ``curves[ring_start[r]:ring_start[r + 1]]``, the outer one first.
    rings : tuple of ndarray of shape (n, 2)
        The same as rings of chords.
    rectangle : bool
        Whether it is a plain rectangle.
    """

    width: float
    height: float
    curves: Curves
    ring_start: tuple[int, ...]
    rings: tuple[NDArray[np.float64], ...]
    rectangle: bool


@dataclass(frozen=True, slots=True)
class Placing:
    """Say where a repeat lies on a panel.

    Parameters
    ----------
    number : int
        From 1, best first; 0 for one that the user gave.
    map : tuple of 6 floats
        From the drawing's mm to the panel's: scale, turn and shift.
    scale : float
        Panel length / drawn length.
    middle : str
        What stands in the middle of the panel.
    smallest : float
        Least depth of a piece that the edge cuts, mm; infinite where none is cut.
    small : int
        Pieces along the edge under 5 mm deep.
    halves : int
        Pieces along the edge that are under half of their figure.
    alike : tuple of str
        What is alike: ``left and right``, ``top and bottom``, ``corners``.
    score : float
        The lower the better.
    """

    number: int
    map: Affine
    scale: float
    middle: str
    smallest: float
    small: int
    halves: int
    alike: tuple[str, ...]
    score: float
