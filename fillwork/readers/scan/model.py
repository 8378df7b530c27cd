"""Values that the stages of tracing hand on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fillwork.readers.scan.circles import length

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fillwork.arrays import Floats


@dataclass(frozen=True, slots=True)
class Choices:
    """Hold what the user says about a picture."""

    # size of the sheet, mm; None to find out
    sheet_size: tuple[float, float] | None = None
    # the sheet's four corners in the picture, px; empty to find them
    corners: tuple[tuple[float, float], ...] = ()
    pen: str = "auto"  # ``auto``, or the colour of the final ink as ``#rrggbb``
    # ``drop`` or ``keep``: whether pencil and guide lines are handed on
    pencil: str = "drop"
    # whether lines of other inks are guides, whatever ends on them
    guides: bool = False
    dpi: float | None = None  # resolution of a scan whose file does not say it
    # places in doubt that somebody looked at, mm, y up
    settled: tuple[tuple[float, float], ...] = ()
    # ink that was left and is a line, mm, y up
    inked: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """Hold the sheet laid flat."""

    rgb: NDArray[np.uint8]  # (h, w, 3): pixels
    scale: float  # px a mm
    size: tuple[float, float]  # width and height, mm
    # the sheet's corners in the picture, px; empty for a scan taken whole
    corners: tuple[tuple[float, float], ...]
    scale_known: bool  # whether the mm are true
    # how far the sheet's sides are bent, mm, beside what the lens bends
    bow: float = 0.0
    turn: float = 0.0  # by how much a scan was turned to lie straight, degrees
    # whether a sheet was to be found in the picture, and was not
    edgeless: bool = False
    # whether the ground is about as bright as the sheet
    faint: bool = False
    torn: bool = False  # whether one side of the sheet was torn or covered
    # whether the sides found have the proportion of the size that was named, or of a
    # common paper
    borne_out: bool = False

    @property
    def middle(self) -> tuple[float, float]:
        """Return the middle of the sheet, px."""
        return self.rgb.shape[1] / 2, self.rgb.shape[0] / 2

    def to_mm(self, x: float, y: float) -> tuple[float, float]:
        """Return a place, px, in mm, y up."""
        return (x + 0.5) / self.scale, self.size[1] - (y + 0.5) / self.scale

    def to_px(self, at: tuple[float, float]) -> tuple[float, float]:
        """Return a place, mm, y up, in px."""
        return at[0] * self.scale - 0.5, (self.size[1] - at[1]) * self.scale - 0.5

    def shows(self, at: tuple[float, float]) -> bool:
        """Return whether a place is on the sheet; False off the sheet.

        `at`: mm, y up.
        """
        return 0.0 <= at[0] <= self.size[0] and 0.0 <= at[1] <= self.size[1]


@dataclass(slots=True, eq=False)
class Chain:
    """Hold one run of the skeleton between two nodes."""

    points: Floats  # (n, 2): x, y in px of the page, y down, in order
    ends: tuple[int, int]  # nodes at both ends; -1 twice for a loop without nodes

    @property
    def length(self) -> float:
        """Return the length, px."""
        return length(self.points)


@dataclass(slots=True, eq=False)
class Network:
    """Hold nodes and chains of a skeleton."""

    nodes: list[Floats]  # (2,): places, px
    chains: list[Chain]  # runs between them
    width: float  # width of the pen's line, px
    # (2,), (2,): short ends taken off: where each left the others, and its tip
    stubs: list[tuple[Floats, Floats]] = field(default_factory=list)

    def at_node(self) -> dict[int, list[tuple[int, int]]]:
        """Return which chain ends meet at each node.

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
    """Hold a place where two lines run together."""

    at: Floats  # (2,): px
    way: Floats  # (2,): between the two lines, about one long
    hidden: float  # how much of a region beside it the ink may hide, px²


@dataclass(slots=True, eq=False)
class Strand:
    """Hold chains joined smoothly."""

    points: Floats  # (n, 2): px, in order
    # (n,): 0 near nodes, where the skeleton is bent, else 1
    weight: Floats
    # place among the points, and node, of each node passed, ends included
    stops: list[tuple[int, int]]
    closed: bool  # whether the last point joins the first


@dataclass(slots=True, eq=False)
class Piece:
    """Hold a part of a strand that lies on one line or circle."""

    circle: bool  # whether it is an arc
    # line: a point and a unit direction (x, y, dx, dy). Circle: centre and radius (x,
    # y, r).
    carrier: Floats
    turn: float  # signed angle that an arc turns from its first to its last vertex, rad
    vertices: list[int]  # vertices along it, in order
    # (n, 2): skeleton points it was fitted to, px
    points: Floats = field(repr=False)
    # Béziers from its first to its last vertex, as in `Curves`, px, where it lies on no
    # one line or circle; else none
    curve: tuple[tuple[int, tuple[float, ...]], ...] = ()

    @property
    def tips(self) -> tuple[int, int]:
        """Return the first and the last vertex."""
        return self.vertices[0], self.vertices[-1]

    @property
    def sign(self) -> float:
        """Return 1 for an arc along which angles grow, else -1."""
        return 1.0 if self.turn > 0 else -1.0

    def inner(self, end: int) -> int:
        """Return the vertex next to an end. `end`: 0 for the first, -1 for the last."""
        return self.vertices[1 if end == 0 else -2]

    def extend(self, end: int, vertex: int) -> None:
        """Carry an end on to a vertex. `end`: 0 for the first, -1 for the last."""
        self.vertices.insert(0 if end == 0 else len(self.vertices), vertex)

    def bend(self, circle: Floats, turn: float) -> None:
        """Lay a piece on a circle. `turn`: signed angle, rad, as in `turn`."""
        self.circle, self.carrier, self.turn = True, circle, turn


@dataclass(slots=True, eq=False)
class Drawing:
    """Hold pieces and the vertices that they share."""

    vertices: list[Floats]  # (2,): px of the page, y down
    pieces: list[Piece]  # lines and arcs from vertex to vertex
    width: float  # width of the pen's line, px
    # forks whose two lines were not found to meet
    forks: list[Fork] = field(default_factory=list)
    # (2,), (2,): short ends taken off: where each left the others, and its tip
    stubs: list[tuple[Floats, Floats]] = field(default_factory=list)

    def add(self, place: Floats) -> int:
        """Add a vertex, and return its number. `place` (2,): px."""
        self.vertices.append(place.copy())
        return len(self.vertices) - 1

    def through(self) -> dict[int, list[int]]:
        """Return which pieces pass through or end at each vertex.

        Pieces by vertex; twice where a piece passes through.
        """
        found: dict[int, list[int]] = {}
        for index, piece in enumerate(self.pieces):
            last = len(piece.vertices) - 1
            for place, v in enumerate(piece.vertices):
                found.setdefault(v, []).append(index)
                if 0 < place < last:
                    found[v].append(index)
        return found
