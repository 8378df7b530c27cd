"""What weaving returns, and what is found in a drawing of strapwork."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fillwork.bands.strands import Strands
    from fillwork.geometry.curves import Curves


CROSSINGS = ("woven", "crossed", "open")
CORNERS = ("mitre", "round")
NODES = ("piled", "plain", "ring")
GROUND, BAND, CROSSING = 0, 1, 2
"""What a region is, as `Bands.part` has it."""


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Say which strand passes over at each point where strands meet.

    A *pass* is one way of a strand through a point: a pair of halves, or a single
    half where the strand ends.
    """

    vertex: NDArray[np.int64]  # (P,): vertex of each pass, ascending
    # (P, 2): the two halves of a pass; the second is -1 where the strand ends
    halves: NDArray[np.int64]
    level: NDArray[np.int64]  # (P,): 0 for the pass on top, 1 below it, and so on
    # (C, 2): the two passes of each point where two strands cross
    double: NDArray[np.int64]
    # (K,): vertices beside which a strand passes twice over or twice under in turn
    stuck: NDArray[np.int64]
    # (M,): vertices where three strands or more lie on each other
    piled: NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Woven:
    """Hold bands drawn as line work."""

    strands: Strands  # the middle lines
    crossings: Crossings  # which strand passes over
    width: float  # width and gap: of the bands, and beside the one that is over, mm
    gap: float
    curves: Curves  # lines to draw, in paths that are each a run of curves end to end
    # (P + 1,): path ``p`` has the rows ``path_start[p]:path_start[p + 1]``
    path_start: NDArray[np.int64]
    path_strand: NDArray[np.int64]  # (P,): strand of each path
    nodes: str  # what is done where over and under cannot take turns
    # greatest width of bands for which there is room, mm; None if not asked
    widest: float | None


@dataclass(frozen=True, slots=True)
class BandStrand:
    """Hold one strand of strapwork.

    Parameters
    ----------
    length : float
        Along its middle, mm.
    closed : bool
        Whether it comes back to where it began.
    width : float
        Mean width, mm.
    orbit : int
        Strands of the same number match under the symmetry.
    """

    length: float
    closed: bool
    width: float
    orbit: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """Hold the strands of a drawing of strapwork.

    Parameters
    ----------
    strand : ndarray of int64, shape (F,)
        Row of `strands` for each face; -1 for the ground.
    part : ndarray of int64, shape (F,)
        `GROUND`, `BAND` or `CROSSING`.
    through : ndarray of int64, shape (K, 3)
        Each `CROSSING` face with the two strands that go through it.
    strands : tuple of BandStrand
        By falling length.
    crossings : int
        How often bands cross.
    sure : bool
        Whether this is certainly strapwork; else it is to be asked.
    """

    strand: NDArray[np.int64]
    part: NDArray[np.int64]
    through: NDArray[np.int64]
    strands: tuple[BandStrand, ...]
    crossings: int
    sure: bool
