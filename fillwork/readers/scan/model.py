"""Values that the stages of tracing hand on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Chain", "Choices", "Fork", "Network", "Page", "Piece", "Strand"]


@dataclass(frozen=True, slots=True)
class Choices:
    """Hold what the user says about a picture.

    Parameters
    ----------
    sheet_size : tuple of (float, float) or None
        Size of the sheet, mm; None to find out.
    corners : tuple of (float, float)
        The sheet's four corners in the picture, px; empty to find them.
    pen : str
        ``auto``, or the colour of the final ink as ``#rrggbb``.
    pencil : str
        ``drop`` or ``keep``: whether pencil and guide lines are handed on.
    dpi : float or None
        Resolution of a scan whose file does not say it.
    settled : tuple of (float, float)
        Places in doubt that somebody looked at, mm, y up.
    inked : tuple of (float, float)
        Ink that was left and is a line, mm, y up.
    """

    sheet_size: tuple[float, float] | None = None
    corners: tuple[tuple[float, float], ...] = ()
    pen: str = "auto"
    pencil: str = "drop"
    dpi: float | None = None
    settled: tuple[tuple[float, float], ...] = ()
    inked: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """Hold the sheet laid flat.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (h, w, 3)
        Pixels.
    scale : float
        px a mm.
    size : tuple of (float, float)
        Width and height, mm.
    corners : tuple of (float, float)
        The sheet's corners in the picture, px; empty for a scan taken whole.
    scale_known : bool
        Whether the mm are true.
    bow : float
        How far the sheet's sides are bent, mm, beside what the lens bends.
    turn : float
        By how much a scan was turned to lie straight, degrees.
    edgeless : bool
        Whether a sheet was to be found in the picture, and was not.
    """

    rgb: NDArray[np.uint8]
    scale: float
    size: tuple[float, float]
    corners: tuple[tuple[float, float], ...]
    scale_known: bool
    bow: float = 0.0
    turn: float = 0.0
    edgeless: bool = False

    def shows(self, at: tuple[float, float]) -> bool:
        """Return whether a place is on the sheet; False off the sheet.

        Parameters
        ----------
        at : tuple of (float, float)
            mm, y up.
        """
        return 0.0 <= at[0] <= self.size[0] and 0.0 <= at[1] <= self.size[1]


@dataclass(slots=True, eq=False)
class Chain:
    """Hold one run of the skeleton between two nodes.

    Parameters
    ----------
    points : ndarray of shape (n, 2)
        x, y in px of the page, y down, in order.
    ends : tuple of (int, int)
        Nodes at both ends; -1 twice for a loop without nodes.
    """

    points: NDArray[np.float64]
    ends: tuple[int, int]

    @property
    def length(self) -> float:
        """Return the length, px."""
        step = np.diff(self.points, axis=0)
        return float(np.hypot(step[:, 0], step[:, 1]).sum())


@dataclass(slots=True, eq=False)
class Network:
    """Hold nodes and chains of a skeleton.

    Parameters
    ----------
    nodes : list of ndarray of shape (2,)
        Places, px.
    chains : list of Chain
        Runs between them.
    width : float
        Width of the pen's line, px.
    stubs : list of (ndarray of shape (2,), ndarray of shape (2,))
        Short ends taken off: where each left the others, and its tip.
    """

    nodes: list[NDArray[np.float64]]
    chains: list[Chain]
    width: float
    stubs: list[tuple[NDArray[np.float64], NDArray[np.float64]]] = field(
        default_factory=list
    )

    def at_node(self) -> dict[int, list[tuple[int, int]]]:
        """Return which chain ends meet at each node.

        Returns
        -------
        dict of int to list of (int, int)
            Chain and its end (0 or 1), by node.
        """
        found: dict[int, list[tuple[int, int]]] = {}
        for index, chain in enumerate(self.chains):
            for end in (0, 1):
                if chain.ends[end] >= 0:
                    found.setdefault(chain.ends[end], []).append((index, end))
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Fork:
    """Hold a place where two lines run together.

    Parameters
    ----------
    at : ndarray of shape (2,)
        px.
    way : ndarray of shape (2,)
        Between the two lines, about one long.
    hidden : float
        How much of a region beside it the ink may hide, px².
    """

    at: NDArray[np.float64]
    way: NDArray[np.float64]
    hidden: float


@dataclass(slots=True, eq=False)
class Strand:
    """Hold chains joined smoothly.

    Parameters
    ----------
    points : ndarray of shape (n, 2)
        px, in order.
    weight : ndarray of shape (n,)
        0 near nodes, where the skeleton is bent, else 1.
    stops : list of (int, int)
        Place among the points, and node, of each node passed, ends included.
    closed : bool
        Whether the last point joins the first.
    """

    points: NDArray[np.float64]
    weight: NDArray[np.float64]
    stops: list[tuple[int, int]]
    closed: bool


@dataclass(slots=True, eq=False)
class Piece:
    """Hold a part of a strand that lies on one line or circle.

    Parameters
    ----------
    circle : bool
        Whether it is an arc.
    carrier : ndarray
        Line: a point and a unit direction (x, y, dx, dy). Circle: centre and
        radius (x, y, r).
    turn : float
        Signed angle that an arc turns from its first to its last vertex, rad.
    vertices : list of int
        Vertices along it, in order.
    points : ndarray of shape (n, 2)
        Skeleton points it was fitted to, px.
    curve : tuple of (int, tuple of 8 floats)
        Béziers from its first to its last vertex, as in `Curves`, px, where it lies
        on no one line or circle; else none.
    """

    circle: bool
    carrier: NDArray[np.float64]
    turn: float
    vertices: list[int]
    points: NDArray[np.float64] = field(repr=False)
    curve: tuple[tuple[int, tuple[float, ...]], ...] = ()
