"""Scene: what stands on a page, in mm, for every encoder.

A *scene* is one page. It holds *items* that are painted in order: fills of
regions, lines, numbers, running text, and *placed* pictures. A *picture* is a
list of items in coordinates of its own that may stand on many pages; encoders
that can, write it once. Lengths are mm, x right and y up from the lower left
corner of the page or picture. Line widths and letter sizes of a picture are in
its own mm and grow with the map that places it.

Each item belongs to a *layer*: ``colours``, ``outlines``, ``numbers`` or ``""``
for what always shows.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Outlines
from fillwork.geometry.affine import IDENTITY
from fillwork.geometry.curves import ARC, Curves
from fillwork.geometry.polygons import ring_sides

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from fillwork.geometry.affine import Affine
    from fillwork.notes import Note


Box = tuple[float, float, float, float]
"""Left, bottom, right, top in mm."""

COLOURS, OUTLINES, NUMBERS = "colours", "outlines", "numbers"
LAYERS = (COLOURS, OUTLINES, NUMBERS)


def grey(black: float) -> str:
    """Return a grey as ``#rrggbb``.

    `black`: share of black, 0 (white) to 1 (black).

    Examples
    --------
    >>> grey(0.6)
    '#666666'
    """
    level = round(255 * (1 - black))
    return f"#{level:02x}{level:02x}{level:02x}"


BLACK, WHITE = grey(1), grey(0)
GREY_45, GREY_60 = grey(0.45), grey(0.60)


@dataclass(frozen=True, slots=True, eq=False)
class Fills:
    """Fill shapes with one colour; holes stay open (even-odd rule)."""

    shapes: Outlines  # closed outlines; may be shared by many items
    rows: NDArray[np.integer]  # (n,): which shapes to fill
    colour: str  # ``#rrggbb``
    code: str = ""  # code and name: code and name of the swatch, where there is one
    name: str = ""
    kind: NDArray[np.int32] | None = None  # (n,): row of `kinds` for each shape
    kinds: tuple[str, ...] = ()  # letters of kinds
    layer: str = COLOURS


@dataclass(frozen=True, slots=True, eq=False)
class Strokes:
    """Draw paths of curves with one pen."""

    curves: Curves  # the pieces, path by path, end to end
    # (P + 1,): path ``p`` owns pieces ``start[p]:start[p + 1]``
    start: NDArray[np.int64]
    # (P,): whether its last piece ends where its first begins
    closed: NDArray[np.bool_]
    width: float  # width of the line, mm
    colour: str = BLACK  # ``#rrggbb``
    # lengths of dashes and gaps in turn, mm; empty for a solid line
    dash: tuple[float, ...] = ()
    join: str = "mitre"  # join and cap: ``mitre`` or ``round``; ``flat`` or ``round``
    cap: str = "flat"
    layer: str = OUTLINES


@dataclass(frozen=True, slots=True, eq=False)
class Labels:
    """Write many short texts, each centred on a point by its ink."""

    at: NDArray[np.float64]  # (n, 2): centre of the ink's box, mm
    height: NDArray[np.float64]  # (n,): height of figures and capitals, mm
    text: NDArray[np.int32]  # (n,): row of `texts`
    texts: tuple[str, ...]  # the texts that occur
    colour: str = GREY_60  # ``#rrggbb``
    weight: str = "regular"  # ``regular`` or ``medium``
    layer: str = NUMBERS


@dataclass(frozen=True, slots=True)
class Text:
    """Write one line of running text."""

    at: tuple[float, float]  # start (or centre, or end) of the base line, mm
    text: str  # the words, in any script
    size: float = 9.0  # size of the letters, pt
    weight: str = "regular"  # ``regular`` or ``medium``
    colour: str = BLACK  # ``#rrggbb``
    align: str = "left"  # ``left``, ``centre`` or ``right``
    # ``H1``, ``H2``, ``P``, ``TH``, ``TD`` or ``Caption`` for the reading order; empty
    # for what is not read out, such as page furniture
    role: str = "P"
    row: int = 0  # row of a table that a ``TH`` or ``TD`` belongs to
    layer: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """Hold items in coordinates of their own."""

    items: tuple[Item, ...]  # painted in order
    box: Box  # left, bottom, right, top, mm


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Place a picture."""

    picture: Picture
    map: Affine = IDENTITY  # from its coordinates to those around it
    # what is outside this box, in coordinates around it, is hidden
    clip: Box | None = None
    alt: str = ""  # what the picture shows, in words; empty for ornament


Item = Fills | Strokes | Labels | Text | Placed


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Hold one page.

    Parameters
    ----------
    width, height : float
        Size of the page, mm.
    items : tuple of items
        Painted in order.
    title : str
        What the page is.
    name : str
        Short name for files, such as ``numbered-1``.
    paper : str
        Colour of the page, ``#rrggbb``, or empty for none.
    notes : tuple of Note
        Doubts met in composing it.
    """

    width: float
    height: float
    items: tuple[Item, ...]
    title: str = ""
    name: str = ""
    paper: str = ""
    notes: tuple[Note, ...] = field(default=())


def shapes_from_rings(shapes: Sequence[Sequence[ArrayLike]]) -> Outlines:
    """Return straight-sided shapes; one row a shape, from row 0.

    `shapes` (n, 2): rings of each shape, the outer one first, not closed, mm.
    """
    rows: list[NDArray[np.float64]] = []
    ring_size: list[int] = []
    ring_count: list[int] = []
    for rings in shapes:
        ring_count.append(len(rings))
        for ring in rings:
            points = np.asarray(ring, dtype=np.float64)
            rows.append(ring_sides(points))
            ring_size.append(len(points))
    lines = np.concatenate(rows) if rows else np.empty((0, 4))
    return Outlines(
        Curves.from_segments(lines),
        np.concatenate([[0], np.cumsum(ring_size)]).astype(np.int64),
        np.concatenate([[0], np.cumsum(ring_count)]).astype(np.int64),
    )


def polygon_shape(
    points: ArrayLike, colour: str, *, layer: str = "", code: str = ""
) -> Fills:
    """Return one filled polygon.

    `points` (n, 2): corners in order, mm. `colour`: ``#rrggbb``. `layer` and `code`: as
    in `Fills`.
    """
    shape, row = shapes_from_rings([[points]]), np.zeros(1, np.int64)
    return Fills(shape, row, colour, code=code, layer=layer)


def _corners(box: Box) -> NDArray[np.float64]:
    left, bottom, right, top = box
    return np.array([(left, bottom), (right, bottom), (right, top), (left, top)])


def rectangle(
    box: Box,
    *,
    fill: str = "",
    edge: str = "",
    width: float = 0.2,
    layer: str = "",
    code: str = "",
) -> list[Item]:
    """Return a rectangle, filled, edged or both; the fill first.

    `box`: left, bottom, right, top, mm. `fill` and `edge`: ``#rrggbb``, or empty for
    none. `width`: width of the edge, mm; it lies inside the box. `code`: of the fill.
    """
    left, bottom, right, top = box
    items: list[Item] = []
    if fill:
        items.append(polygon_shape(_corners(box), fill, layer=layer, code=code))
    if edge:
        h = width / 2
        inner = _corners((left + h, bottom + h, right - h, top - h))
        sides = Curves.from_segments(ring_sides(inner))
        limits, closed = np.array([0, 4]), np.ones(1, bool)
        items.append(Strokes(sides, limits, closed, width, edge, layer=layer))
    return items


def single_lines(
    curves: Curves,
    width: float,
    colour: str = BLACK,
    *,
    dash: tuple[float, ...] = (),
    layer: str = "",
    cap: str = "flat",
    closed: bool = False,
) -> Strokes:
    """Return curves, each a path of its own.

    `width`, mm. `colour`: ``#rrggbb``. `dash`, `layer`, `cap`: as in `Strokes`.
    `closed`: whether each ends where it begins.
    """
    count = len(curves)
    start, ring = np.arange(count + 1), np.full(count, closed)
    return Strokes(curves, start, ring, width, colour, dash=dash, cap=cap, layer=layer)


def segments(
    lines: ArrayLike,
    width: float,
    colour: str = BLACK,
    *,
    dash: tuple[float, ...] = (),
    layer: str = "",
    cap: str = "flat",
) -> Strokes:
    """Return straight lines, each a path of its own.

    `lines` (n, 4): x0 y0 x1 y1, mm. `width`, `colour`, `dash`, `layer`, `cap`: as in
    `single_lines`.
    """
    table = np.asarray(lines, dtype=np.float64).reshape(-1, 4)
    curves = Curves.from_segments(table)
    return single_lines(curves, width, colour, dash=dash, layer=layer, cap=cap)


def _circles(centres: ArrayLike, radius: float | ArrayLike) -> Curves:
    points = np.asarray(centres, dtype=np.float64).reshape(-1, 2)
    data = np.zeros((len(points), 8))
    data[:, 0:2] = points
    data[:, 2] = data[:, 5] = radius
    data[:, 7] = 2 * np.pi
    return Curves(np.full(len(points), ARC, np.uint8), data)


def circle_lines(
    centres: ArrayLike,
    radius: float | ArrayLike,
    width: float,
    colour: str = BLACK,
    *,
    layer: str = "",
) -> Strokes:
    """Return circles, each an arc of a full turn.

    `centres` (n, 2), `radius` (n,) and `width`: mm. `colour`: ``#rrggbb``.
    """
    curves = _circles(centres, radius)
    return single_lines(curves, width, colour, layer=layer, closed=True)


def dots(
    centres: ArrayLike, radius: float | ArrayLike, colour: str, *, layer: str = ""
) -> Fills:
    """Return filled circles. Arguments as in `circle_lines`."""
    curves = _circles(centres, radius)
    start = np.arange(len(curves) + 1)
    return Fills(Outlines(curves, start, start), start[:-1], colour, layer=layer)
