"""What weaving returns."""

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


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Say which strand passes over at each point where strands meet.

    A *pass* is one way of a strand through a point: a pair of halves, or a single
    half where the strand ends.

    Parameters
    ----------
    vertex : ndarray of int64, shape (P,)
        Vertex of each pass, ascending.
    halves : ndarray of int64, shape (P, 2)
        The two halves of a pass; the second is -1 where the strand ends.
    level : ndarray of int64, shape (P,)
        0 for the pass on top, 1 below it, and so on.
    double : ndarray of int64, shape (C, 2)
        The two passes of each point where two strands cross.
    stuck : ndarray of int64, shape (K,)
        Vertices beside which a strand passes twice over or twice under in turn.
    piled : ndarray of int64, shape (M,)
        Vertices where three strands or more lie on each other.
    """

    vertex: NDArray[np.int64]
    halves: NDArray[np.int64]
    level: NDArray[np.int64]
    double: NDArray[np.int64]
    stuck: NDArray[np.int64]
    piled: NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Woven:
    """Hold bands drawn as line work.

    Parameters
    ----------
    strands : Strands
        The middle lines.
    crossings : Crossings
        Which strand passes over.
    width, gap : float
        Of the bands, and beside the one that is over, mm.
    curves : Curves
        Lines to draw, in paths that are each a run of curves end to end.
    path_start : ndarray of int64, shape (P + 1,)
        Path ``p`` has the rows ``path_start[p]:path_start[p + 1]``.
    path_strand : ndarray of int64, shape (P,)
        Strand of each path.
    nodes : str
        What is done where over and under cannot take turns.
    widest : float or None
        Greatest width of bands for which there is room, mm; None if not asked.
    """

    strands: Strands
    crossings: Crossings
    width: float
    gap: float
    curves: Curves
    path_start: NDArray[np.int64]
    path_strand: NDArray[np.int64]
    nodes: str
    widest: float | None
