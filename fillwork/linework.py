"""Line work: what every reader hands over.

A *stroke* is one drawn line of the source file, made of one or more curves end
to end. All strokes of a drawing share one table of curves, so that a million
segments cost arrays and not a million objects. Coordinates are mm, x right and
y up, from the lower left corner of the page.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.errors import LineWorkError
from fillwork.geometry.curves import Curves
from fillwork.values import freeze, told_repr

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from fillwork.geometry.affine import Affine
    from fillwork.notes import Note


@dataclass(frozen=True, slots=True)
class Frame:
    """Describe the page that the drawing stands on.

    Parameters
    ----------
    width, height : float
        Size of the page in mm.
    to_mm : tuple of 6 floats
        Affine map from the source's coordinates to mm, y up.
    source_unit : str
        Unit of the source's coordinates, such as ``mm`` or ``px``.
    scale_known : bool
        False when the source names no physical size and px were taken as 1/96 in.
    has_page : bool
        False when the source has no page of its own and the box of its lines
        serves as one; then the page's edge never closes regions by itself.
    """

    width: float
    height: float
    to_mm: Affine
    source_unit: str = "mm"
    scale_known: bool = True
    has_page: bool = True


@dataclass(frozen=True, slots=True)
class Stroke:
    """View one stroke of a line work.

    Parameters
    ----------
    index : int
        Number of the stroke in its line work.
    curves : tuple of (int, int)
        First and one past the last curve in the line work's table.
    closed : bool
        True when the last curve ends where the first begins, by intent.
    width : float or None
        Width of the drawn line in mm; None for the edge of a fill.
    layer, colour : str or None
        Outermost group (its label or id); the line's colour as ``#rrggbb``.
    dash : bool
        True for a dashed line.
    source : tuple of (str, int)
        Element name with its id, such as ``path#arm3``, and its line in the file.
    """

    index: int
    curves: tuple[int, int]
    closed: bool
    width: float | None
    layer: str | None
    colour: str | None
    dash: bool
    source: tuple[str, int]


@dataclass(frozen=True, slots=True)
class LineGroup:
    """Sum up the strokes that share layer, colour, width and dash.

    Parameters
    ----------
    layer, colour, width, dash
        As in `Stroke`.
    count : int
        How many strokes.
    length : float
        Their length together, mm.
    used : bool
        Whether they are taken as final line work.
    """

    layer: str | None
    colour: str | None
    width: float | None
    dash: bool
    count: int
    length: float
    used: bool


@dataclass(frozen=True, slots=True)
class Doubtful:
    """Name one place of a traced picture that a person should look at.

    Parameters
    ----------
    at : tuple of (float, float)
        mm from the page's lower left corner, y up.
    what : str
        What is in doubt.
    size : float
        How large it is, mm.
    remedy : str
        What can be done.
    """

    at: tuple[float, float]
    what: str
    size: float
    remedy: str


LONE_END = "an end that stops alone"
"""What is in doubt of the end of a traced line that meets no other."""


@dataclass(frozen=True, slots=True)
class TraceRecord:
    """Say how line work was traced from a picture.

    Parameters
    ----------
    sure : bool
        Whether nothing speaks against any region.
    doubtful : tuple of Doubtful
        Places to look at.
    page : tuple of (float, float)
        Size of the sheet, mm.
    corners : tuple of (float, float)
        The sheet's corners in the picture, px; empty for a scan taken whole.
    pen_width : float
        Width of the inked lines, mm.
    dpi : float
        Resolution at which lines were followed.
    other_pens : tuple of str
        Colours of other inks on the sheet, as ``#rrggbb``, pencil among them.
    """

    sure: bool
    doubtful: tuple[Doubtful, ...]
    page: tuple[float, float]
    corners: tuple[tuple[float, float], ...]
    pen_width: float
    dpi: float
    other_pens: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class LineWork:
    """Hold the strokes of one drawing.

    Parameters
    ----------
    curves : Curves
        All curves of all strokes, stroke by stroke, N in all.
    stroke_start : ndarray of int32, shape (S + 1,)
        Stroke ``s`` owns curves ``stroke_start[s]:stroke_start[s + 1]``.
    closed : ndarray of bool, shape (S,)
        Whether the stroke is closed by intent.
    style : ndarray of int32, shape (S,)
        Row of `styles` that applies to the stroke.
    styles : tuple of (layer, colour, width or None in mm, dash)
        Each different drawing style met.
    source_line : ndarray of int32, shape (S,)
        Line in the source file, 0 when unknown.
    source_name : tuple of str or ndarray of object, shape (S,)
        Element name with id.
    frame : Frame
        The page.
    file : str
        File name without folder.
    digest : str
        SHA-256 of the file's bytes, hexadecimal.
    scope : str
        ``stroked``, ``outlines`` or ``both``: what was taken as lines.
    groups : tuple of LineGroup
        All groups of lines seen, used or left.
    notes : tuple of Note
        What the reader skipped or doubts.
    trace : TraceRecord or None
        How it was traced, where the drawing is a picture.
    slip : float
        How far its lines are known to be off, mm, though all repeats are off alike: of
        a laid cell, what its hand missed by.
    rounding : float
        How far the file's decimals may have moved the ends of its curves, mm; infinite
        if not known.
    """

    curves: Curves
    stroke_start: NDArray[np.int32]
    closed: NDArray[np.bool_]
    style: NDArray[np.int32]
    styles: tuple[tuple[str | None, str | None, float | None, bool], ...]
    source_line: NDArray[np.int32]
    source_name: tuple[str, ...]
    frame: Frame
    file: str = ""
    digest: str = ""
    scope: str = "stroked"
    groups: tuple[LineGroup, ...] = ()
    notes: tuple[Note, ...] = field(default=())
    trace: TraceRecord | None = None
    slip: float = 0.0
    rounding: float = math.inf

    def __post_init__(self) -> None:
        freeze(self, "stroke_start", "closed", "style", "source_line")

    def __repr__(self) -> str:
        count, frame = self.stroke_count, self.frame
        size = f"{frame.width:.6g} x {frame.height:.6g} mm"
        return told_repr(self, self.file, strokes=count, page=size)

    @classmethod
    def from_geometry(
        cls, geometry: Any, *, unit: str = "mm", name: str = "geometry"
    ) -> LineWork:
        """Return line work of straight lines that a program has in hand.

        Parameters
        ----------
        geometry : shapely geometry, array, object with ``__geo_interface__``, or these
            Lines, rings, polygons (their rings), collections of these; an array of
            shape (n, 2, 2) with a segment a row; what GeoJSON calls a geometry, a
            feature or a collection; or an iterable of any of them. y runs up.
        unit : str
            Unit of the numbers: ``mm cm m in ft pt px``.
        name : str
            Name to show in reports.

        Returns
        -------
        LineWork
            One stroke a line or ring, in mm from the lower left corner of their box;
            `frame.to_mm` leads there.

        Raises
        ------
        LineWorkError
            If there are no lines, or numbers that are none.
        TypeError
            If something else is given.

        Examples
        --------
        >>> import shapely
        >>> square = shapely.box(0, 0, 2, 1)
        >>> across = shapely.LineString([(1, 0), (1, 1)])
        >>> work = LineWork.from_geometry([square, across])
        >>> work.stroke_count, work.frame.width, work.frame.height
        (2, 2.0, 1.0)
        >>> work = LineWork.from_geometry([[[0, 0], [3, 4]]], unit="cm")
        >>> work.curves.lengths().tolist()
        [50.0]
        """
        from fillwork.geometry.shapes import gather_paths
        from fillwork.units import parse_length

        paths = gather_paths(geometry)
        scale = parse_length(f"1{unit}", what="unit")
        points = np.concatenate(paths) if paths else np.empty((0, 2))
        if not np.isfinite(points).all():
            what = "the geometry has numbers that are none (nan or infinite)"
            raise LineWorkError(what, name)
        paths = [p for p in paths if (p != p[0]).any()]
        if not paths:
            what = "the geometry has no lines"
            raise LineWorkError(what, name, "give lines, rings, polygons or segments")
        low, high = points.min(axis=0), points.max(axis=0)
        pieces = [np.hstack([p[:-1], p[1:]]) for p in paths]
        pieces = [p[(p[:, :2] != p[:, 2:]).any(axis=1)] for p in pieces]
        segments = (np.concatenate(pieces) - np.tile(low, 2)) * scale
        width, height = ((high - low) * scale).tolist()
        x, y = (-low * scale).tolist()
        count = len(pieces)
        length = float(np.hypot(*(segments[:, 2:] - segments[:, :2]).T).sum())
        digest = hashlib.sha256(segments.tobytes()).hexdigest()
        return cls(
            curves=Curves.from_segments(segments),
            stroke_start=np.append(0, np.cumsum([len(p) for p in pieces])).astype(
                np.int32
            ),
            closed=np.array([bool((p[0] == p[-1]).all()) for p in paths]),
            style=np.zeros(count, np.int32),
            styles=((None, None, None, False),),
            source_line=np.zeros(count, np.int32),
            source_name=tuple(f"line {k + 1}" for k in range(count)),
            frame=Frame(
                width, height, (scale, 0.0, 0.0, scale, x, y), unit, has_page=False
            ),
            file=name,
            digest=digest,
            groups=(LineGroup(None, None, None, False, count, length, True),),
        )

    @property
    def stroke_count(self) -> int:
        """Return the number of strokes."""
        return len(self.stroke_start) - 1

    def stroke(self, index: int) -> Stroke:
        """Return a view of one stroke.

        Parameters
        ----------
        index : int
            Which stroke, from 0.

        Returns
        -------
        Stroke
            The stroke with its style and source.
        """
        layer, colour, width, dash = self.styles[int(self.style[index])]
        return Stroke(
            index=index,
            curves=(int(self.stroke_start[index]), int(self.stroke_start[index + 1])),
            closed=bool(self.closed[index]),
            width=width,
            layer=layer,
            colour=colour,
            dash=dash,
            source=(self.source_name[index], int(self.source_line[index])),
        )

    def strokes(self) -> Iterator[Stroke]:
        """Iterate over all strokes in drawing order.

        Yields
        ------
        Stroke
            One stroke after the other.
        """
        for index in range(self.stroke_count):
            yield self.stroke(index)

    def stroke_of_curve(self) -> NDArray[np.int32]:
        """Return the stroke that each curve belongs to.

        Returns
        -------
        ndarray of int32, shape (N,)
            Stroke index of each curve.
        """
        counts = np.diff(self.stroke_start)
        return np.repeat(np.arange(len(counts), dtype=np.int32), counts)


def widths_of(linework: LineWork, none: float = 0.0) -> NDArray[np.float64]:
    """Return widths of strokes (S,), mm; `none` of edges of fills and the like."""
    widths = [none if width is None else width for _, _, width, _ in linework.styles]
    return np.array(widths, np.float64)[linework.style]


def usual_width(linework: LineWork) -> float | None:
    """Return the usual width of the drawn lines, mm; None when none has one."""
    drawn = widths_of(linework, none=np.nan)
    drawn = drawn[np.isfinite(drawn)]
    return float(np.median(drawn)) if len(drawn) else None
