"""What the arrangement stage returns.

An *arrangement* is the division of the plane by the line work: *vertices*,
*edges* between them, each edge as two *half-edges* of opposite direction, and
*faces*. Half-edge ``h`` belongs to edge ``h // 2``, its twin is ``h ^ 1`` and
its face lies on its left. Face 0 is the unbounded one; a user's *regions* are
the faces from 1 on. Dangling lines and bridges bound no face; they are taken
off and kept in `Arrangement.loose`.

Large arrays stay arrays: rings of faces are in compressed rows, polygons are
made when they are asked for.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import LineWorkError
from fillwork.geometry.inside import deep_points
from fillwork.geometry.ranges import distinct, expand_ranges
from fillwork.values import freeze, told_repr

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import ArrayLike, NDArray

    from fillwork.geometry.curves import Curves
    from fillwork.linework import Frame
    from fillwork.notes import Note
    from fillwork.tolerance import Tolerance

    Inside = tuple[NDArray[np.float64], NDArray[np.float64]]


@dataclass(frozen=True, slots=True)
class Defect:
    """Name one place where the line work is not clean.

    Parameters
    ----------
    type : str
        ``gap``, ``overshoot``, ``loose end``, ``bridge``, ``doubled``,
        ``sliver`` or ``breaks symmetry``.
    at : tuple of float
        Where, mm.
    size : float
        Length of the gap, overshoot or loose line, width of the sliver, mm.
    done : str
        What fillwork did: ``closed``, ``trimmed``, ``merged``, ``removed`` or
        ``left``.
    remedy : str
        What the user can do about it.
    strokes : tuple of int
        The strokes concerned.
    """

    type: str
    at: tuple[float, float]
    size: float
    done: str
    remedy: str
    strokes: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Outlines:
    """Hold the true outlines of faces: original curves, split exactly.

    Parameters
    ----------
    pieces : Curves
        All pieces, ring by ring; a ring's pieces run end to end with the face
        on the left: outer rings counter-clockwise, holes clockwise.
    ring_start : ndarray of int64, shape (R + 1,)
        Ring ``r`` owns pieces ``ring_start[r]:ring_start[r + 1]``.
    face_ring_start : ndarray of int64, shape (F + 1,)
        Face ``f`` owns rings ``face_ring_start[f]:face_ring_start[f + 1]``, the
        outer ring first. Face 0 has none.
    """

    pieces: Curves
    ring_start: NDArray[np.int64]
    face_ring_start: NDArray[np.int64]

    def __repr__(self) -> str:
        shapes = len(self.face_ring_start) - 1
        return told_repr(self, shapes=shapes, pieces=len(self.pieces))


@dataclass(frozen=True, slots=True, eq=False)
class Arrangement:
    """Hold vertices, edges, half-edges and faces of a drawing.

    Parameters
    ----------
    vertices : ndarray of float64, shape (V, 2)
        Points in mm.
    origin : ndarray of int32, shape (H,)
        Vertex that each half-edge leaves; H = 2 E.
    next : ndarray of int32, shape (H,)
        The half-edge after it along the boundary of its face.
    face : ndarray of int32, shape (H,)
        The face on the left, 0 for the unbounded one.
    edge_curve : ndarray of int32, shape (E,)
        Row of `curves` that the edge runs along.
    edge_span : ndarray of float64, shape (E, 2)
        Its parameters at the origins of half-edge 2e and of half-edge 2e + 1.
    source_start : ndarray of int32, shape (E + 1,)
        Compressed rows: edge ``e`` was drawn by the curves
        ``source_curve[source_start[e]:source_start[e + 1]]``.
    source_curve : ndarray of int32
        See `source_start`; contains `edge_curve`.
    ring_start : ndarray of int64, shape (R + 1,)
        Ring ``r`` is ``ring_half_edge[ring_start[r]:ring_start[r + 1]]``.
    ring_half_edge : ndarray of int32
        Half-edges of every boundary ring in walking order.
    face_ring_start : ndarray of int64, shape (F + 1,)
        Face ``f`` has rings ``face_ring_start[f]:face_ring_start[f + 1]``, the
        outer ring first, then holes; all rings of face 0 are holes.
    area : ndarray of float64, shape (F,)
        Area in mm², holes taken off, of the true curves; ``area[0]`` is 0.
    cut : ndarray of bool, shape (F,)
        True where the page's edge bounds the face.
    curves : Curves
        All curves of the line work, then the sides of the page where they close
        faces (rows from `page_curves` on).
    page_curves : int
        How many rows of `curves` come from the line work.
    curve_stroke : ndarray of int32, shape (curves,)
        Stroke of each curve; -1 for the page's edge.
    loose : Curves
        Dangling lines and bridges that bound no face.
    components : int
        Connected components of the vertices and edges.
    area_difference : float
        Sum of face areas less the area inside the outer boundaries, mm².
    frame : Frame
        The page.
    tolerance : Tolerance
        The slacks that were used.
    defects : tuple of Defect
        Where the line work is not clean.
    notes : tuple of Note
        What was repaired or is doubtful.
    openings : int
        How many faces are open in the panel; they are parts of face 0.
    open_sides : ndarray of int32
        Half-edges that run round them.
    corner_gap : float
        Longest gap that was closed between corners and what they touch, mm.
    inside : tuple of (ndarray, ndarray), optional
        What `witness` and `inscribed` return; found when first asked for.
    """

    vertices: NDArray[np.float64]
    origin: NDArray[np.int32]
    next: NDArray[np.int32]
    face: NDArray[np.int32]
    edge_curve: NDArray[np.int32]
    edge_span: NDArray[np.float64]
    source_start: NDArray[np.int32]
    source_curve: NDArray[np.int32]
    ring_start: NDArray[np.int64]
    ring_half_edge: NDArray[np.int32]
    face_ring_start: NDArray[np.int64]
    area: NDArray[np.float64]
    cut: NDArray[np.bool_]
    curves: Curves
    page_curves: int
    curve_stroke: NDArray[np.int32]
    loose: Curves
    components: int
    area_difference: float
    frame: Frame
    tolerance: Tolerance
    defects: tuple[Defect, ...] = ()
    notes: tuple[Note, ...] = field(default=())
    openings: int = 0
    open_sides: NDArray[np.int32] = field(default_factory=lambda: np.empty(0, np.int32))
    corner_gap: float = 0.0
    inside: Inside | None = None

    def __post_init__(self) -> None:
        fields = self.__dataclass_fields__
        freeze(self, *(n for n in fields if isinstance(getattr(self, n), np.ndarray)))

    def __repr__(self) -> str:
        faces, defects = self.face_count - 1, len(self.defects)
        return told_repr(self, regions=faces, edges=self.edge_count, defects=defects)

    @property
    def witness(self) -> NDArray[np.float64]:
        """Return a point well inside each face.

        (F, 2): points, mm; NaN for face 0.
        """
        return self._look_inside()[0]

    @property
    def inscribed(self) -> NDArray[np.float64]:
        """Return how far the witness of each face is from the boundary.

        (F,): radii of circles inside, mm; 0 for face 0.
        """
        return self._look_inside()[1]

    def _look_inside(self) -> Inside:
        inside = self.inside
        if inside is None:
            witness = np.full((self.face_count, 2), np.nan)
            inscribed = np.zeros(self.face_count)
            faces = np.arange(1, self.face_count)
            witness[1:], inscribed[1:] = self.points_inside(faces)
            witness.setflags(write=False)
            inscribed.setflags(write=False)
            inside = (witness, inscribed)
            object.__setattr__(self, "inside", inside)
        return inside

    def points_inside(self, faces: NDArray[np.integer]) -> Inside:
        """Return a point well inside each of some faces.

        Parameters
        ----------
        faces : ndarray of int, shape (n,)
            Faces from 1 on.

        Returns
        -------
        point : ndarray of float64, shape (n, 2)
            Points, mm.
        radius : ndarray of float64, shape (n,)
            Their distances from the boundary, mm.
        """
        if len(faces) == 0:
            return np.empty((0, 2)), np.empty(0)
        owner, start, end = self.sides(faces)
        count = np.bincount(owner, minlength=len(faces))
        return deep_points(start, end, np.r_[0, np.cumsum(count)])

    def sides(
        self, faces: NDArray[np.integer]
    ) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
        """Return the chords of the boundaries of some faces, holes too.

        Parameters
        ----------
        faces : ndarray of int, shape (n,)
            Which faces.

        Returns
        -------
        owner : ndarray of int64, shape (k,)
            The row of `faces` that each side belongs to, rising.
        start, end : ndarray of float64, shape (k, 2)
            Its ends in walking order, mm.
        """
        first = self.ring_start[self.face_ring_start[faces]]
        last = self.ring_start[self.face_ring_start[faces + 1]]
        owner, side = expand_ranges(first, last - first)
        half = self.ring_half_edge[side]
        ends = [self.vertices.take(self.origin[h], axis=0) for h in (half, half ^ 1)]
        return owner, ends[0], ends[1]

    @property
    def face_count(self) -> int:
        """Return the number of faces, the unbounded one included."""
        return len(self.area)

    @property
    def edge_count(self) -> int:
        """Return the number of edges."""
        return len(self.origin) // 2

    @property
    def euler(self) -> int:
        """Return V - E + F - 1 - C with openings as faces; 0 in a sound arrangement."""
        faces = self.face_count + self.openings
        return len(self.vertices) - self.edge_count + faces - 1 - self.components

    def check(self) -> None:
        """Raise with the first rule of an arrangement that is broken.

        Raises
        ------
        LineWorkError
            If Euler's formula, the links of half-edges or the area sum fail.
        """
        if self.euler != 0:
            what = f"the regions do not add up (Euler's formula is off by {self.euler})"
            raise LineWorkError(what, mend="try another --join-within")
        if len(self.next) and not np.array_equal(
            self.origin[self.next], self.origin[np.arange(len(self.next)) ^ 1]
        ):
            what = "the boundary of a region is not closed"
            raise LineWorkError(what, mend="try another --join-within")
        total = float(np.abs(self.area).sum())
        if abs(self.area_difference) > 1e-6 * max(total, 1e-12):
            what = f"areas of regions differ from the whole by {self.area_difference:g}"
            raise LineWorkError(what + " mm²", mend="try another --join-within")

    def face_half_edges(self, face: int) -> list[NDArray[np.int32]]:
        """Return the boundary rings of one face as half-edges.

        Parameters
        ----------
        face : int
            Which face.

        Returns
        -------
        list of ndarray of int32
            The outer ring first, then holes.
        """
        first, last = self.face_ring_start[face], self.face_ring_start[face + 1]
        return [
            self.ring_half_edge[self.ring_start[r] : self.ring_start[r + 1]]
            for r in range(first, last)
        ]

    def faces_at(self, points: ArrayLike) -> NDArray[np.int32]:
        """Return the face in which each of some points lies.

        Parameters
        ----------
        points : array of shape (n, 2)
            Points, mm.

        Returns
        -------
        ndarray of int32, shape (n,)
            Their faces, of those on a boundary the first; 0 outside all regions.

        Raises
        ------
        ValueError
            If the points are none.

        Examples
        --------
        >>> import fillwork, shapely
        >>> work = fillwork.LineWork.from_geometry(shapely.box(0, 0, 20, 10))
        >>> found = fillwork.build_arrangement(work)
        >>> found.faces_at([[5, 5], [25, 5]]).tolist()
        [1, 0]
        """
        import shapely

        asked = np.asarray(points, dtype=np.float64)
        if asked.ndim != 2 or asked.shape[1] != 2 or not np.isfinite(asked).all():
            what = "points are rows of two finite numbers, x and y in mm"
            raise ValueError(what)
        tree = shapely.STRtree(self.polygons())
        row, region = tree.query(shapely.points(asked), predicate="intersects")
        found = np.full(len(asked), self.face_count, np.int32)
        np.minimum.at(found, row, (region + 1).astype(np.int32))
        found[found == self.face_count] = 0
        return found

    def face_at(self, x: float, y: float) -> int:
        """Return the face in which a point lies.

        Parameters
        ----------
        x, y : float
            The point, mm.

        Returns
        -------
        int
            Its face; 0 outside all regions.
        """
        return int(self.faces_at([[x, y]])[0])

    def strokes_of(self, face: int) -> NDArray[np.int32]:
        """Return the drawn lines that bound a face.

        Parameters
        ----------
        face : int
            Which face.

        Returns
        -------
        ndarray of int32
            Strokes for `LineWork.stroke`, ascending; the page's edge is none.

        Examples
        --------
        >>> import fillwork, shapely
        >>> lines = [shapely.box(0, 0, 20, 10), shapely.LineString([(9, 0), (9, 10)])]
        >>> work = fillwork.LineWork.from_geometry([*lines, shapely.box(30, 0, 40, 9)])
        >>> found = fillwork.build_arrangement(work)
        >>> found.strokes_of(found.face_at(5, 5)).tolist()
        [0, 1]
        """
        rings = self.face_half_edges(self._known(face))
        edges = distinct(np.concatenate(rings)) // 2
        first, last = self.source_start[edges], self.source_start[edges + 1]
        _, rows = expand_ranges(first, last - first)
        strokes = np.unique(self.curve_stroke[self.source_curve[rows]])
        return strokes[strokes >= 0]

    def _known(self, face: int) -> int:
        """Return a face's number, or raise."""
        if not 0 < face < self.face_count:
            what = f"there is no face {face}: regions are 1 to {self.face_count - 1}"
            raise ValueError(what)
        return face

    def polygons(
        self, faces: NDArray[np.integer] | None = None, *, valid: bool = False
    ) -> NDArray[Any]:
        """Return faces as shapely polygons of chords.

        Parameters
        ----------
        faces : ndarray of int, optional
            Which faces; all from 1 on by default.
        valid : bool
            Whether shapes are laid over each other: a face whose chords cross, such
            as a hair's, comes as the areas that they enclose then.

        Returns
        -------
        ndarray of object
            One polygon a face, in mm.
        """
        import shapely

        if faces is None:
            faces = np.arange(1, self.face_count)
        faces = np.asarray(faces)
        if len(faces) == 0:
            return np.empty(0, dtype=object)
        self._known(int(faces.min()))
        self._known(int(faces.max()))
        first = self.face_ring_start[faces]
        last = self.face_ring_start[faces + 1]
        ring_owner, rings = expand_ranges(first, last - first)
        first, last = self.ring_start[rings], self.ring_start[rings + 1]
        row, member = expand_ranges(first, last - first)
        half = self.ring_half_edge[member]
        points = self.vertices.take(self.origin[half], axis=0)
        few = (last - first)[row] < 3
        if few.any():
            # one or two curves close such a ring: points between their ends as well
            edge = half[few] // 2
            span = self.edge_span[edge]
            back = (half[few] & 1 == 1)[:, None]
            span = np.where(back, span[:, ::-1], span)
            share = np.array([0.25, 0.5, 0.75])
            t = span[:, :1] * (1 - share) + span[:, 1:] * share
            curve = np.repeat(self.edge_curve[edge], len(share))
            between = self.curves.point(curve, t.ravel())
            place = np.repeat(np.flatnonzero(few) + 1, len(share))
            points = np.insert(points, place, between, axis=0)
            row = np.insert(row, place, np.repeat(row[few], len(share)))
        # shapely closes each ring itself
        linear = np.asarray(shapely.linearrings(points, indices=row))
        shapes = np.asarray(shapely.polygons(linear, indices=ring_owner))
        return np.asarray(shapely.make_valid(shapes)) if valid else shapes
