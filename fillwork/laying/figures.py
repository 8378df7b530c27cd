"""What one repeat shows: its figures, its symmetry, and its special points.

A *figure* is a region of the laid pattern, one of each that shifts carry onto each
other. A *special point* is a centre of turning or, where there is none, a point on a
mirror: what a maker puts on the middle of a panel.
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.arrangement.build import build_arrangement
from fillwork.errors import FillworkError
from fillwork.geometry import affine
from fillwork.geometry.crossings import cross
from fillwork.laying.clip import box_round
from fillwork.laying.drawing import as_linework
from fillwork.laying.field import lay_motif
from fillwork.laying.moves import as_point, lattice_steps, nearest_shifts
from fillwork.laying.panel import rectangle_panel
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats, Ints
    from fillwork.geometry.affine import Affine
    from fillwork.laying.model import Motif, Panel
    from fillwork.linework import LineWork
    from fillwork.symmetry.model import Symmetry

_MOST_LINES = 3000  # of one repeat, whose figures are sought within a second or two
_REPEATS = 4.2  # so many are looked at: a whole one has whole ones on all sides
_SAME = 2e-3  # of a shift: places that lie nearer are one
_MOST_POINTS = 12  # that a panel is laid by


@dataclass(frozen=True, slots=True)
class Point:
    """Hold a special point of a pattern."""

    at: tuple[float, float]  # where, mm of the drawing
    # order of the turning; 1 on a mirror alone; 0 for the cell's middle or corner
    order: int
    name: str  # what it is, in words


@dataclass(frozen=True, slots=True, eq=False)
class Figures:
    """Hold what one repeat shows."""

    # ndarray of object, shape (F,): the figures as shapely polygons, mm of the drawing
    polygons: NDArray[Any]
    names: tuple[str, ...]  # their plain names
    basis: Floats  # (r, 2): shifts as rows, mm
    # one operation a coset of the shifts, the identity first
    operations: tuple[Affine, ...]
    # special points, one of each that shifts carry onto each other
    points: tuple[Point, ...]
    # the group in words, such as ``plane:p4m``; empty where it was not sought
    group: str
    slip: float = 0.0  # how far the hand was off, mm of the drawing


def find_figures(motif: Motif, drawn: LineWork) -> Figures:
    """Return figures, symmetry and special points of a laid pattern.

    Without figures where there are too many lines or nothing is closed. `motif`: the
    lines of one repeat.
    """
    seen: Figures | None = None
    if 0 < len(motif.curves) <= _MOST_LINES:
        with suppress(FillworkError):
            seen = _look(motif, drawn)
    if seen is None:
        none = np.empty(0, dtype=object)
        seen = Figures(none, (), motif.basis, motif.operations, (), "", motif.slip)
    points = _special_points(motif, seen.basis, seen.operations)
    return replace(seen, points=points)


def _look(motif: Motif, drawn: LineWork) -> Figures | None:
    """Lay a few repeats and see what they show; points are not sought."""
    place, window = _window(motif)
    curves, style = lay_motif(motif, window, place)
    drawn = replace(drawn, slip=motif.slip)
    laid = as_linework(curves, style, window, drawn, scale=1.0)
    arrangement = build_arrangement(laid, page_edge="open")
    if arrangement.face_count < 2:
        return None
    zones = find_zones(arrangement)
    orbits = find_orbits(arrangement, zones)
    back = affine.invert(place)
    basis, operations, group = motif.basis, motif.operations, ""
    largest = zones[0].symmetry
    finer = _finer(largest, motif.basis)
    if finer is not None:
        basis = finer
        maps = [affine.compose(o.map, place) for o in largest.operations]
        operations = _exact([affine.compose(back, m) for m in maps], motif, basis)
        group = f"{largest.group.family}:{largest.group.short}"
    faces = _whole_faces(arrangement, len(curves))
    if len(faces) == 0 and len(basis):
        return None
    if len(basis):
        faces = faces[_firsts(arrangement.witness[faces], basis)]
    polygons = _moved(arrangement.polygons(faces), back)
    names = tuple(
        orbits.orbits[int(k)].base_name if k >= 0 else "region"
        for k in orbits.of_face[faces]
    )
    return Figures(polygons, names, basis, operations, (), group, motif.slip)


def _window(motif: Motif) -> tuple[Affine, Panel]:
    """Return a window of a few repeats, and the motif's place in it."""
    rank = len(motif.basis)
    low, high = box_round(motif.curves)
    size = high - low
    if rank:
        extent = np.abs(motif.basis).max(axis=0) * _REPEATS
        # a strip is as much longer as it repeats, and as wide as it is
        more = extent if rank == 2 else extent + size
        size = np.where(extent > size, more, size)
    margin = 0.02 * size
    window = rectangle_panel(*(size + 2 * margin).tolist())
    return affine.translation(*(margin - low).tolist()), window


def _finer(symmetry: Symmetry, basis: Floats) -> Floats | None:
    """Return the shifts of a sure group, of which those laid are whole multiples.

    None where the group found is of another family, or not sure. A cell that holds
    several repeats has shifts of its own that are shorter than those it is laid by.
    """
    lattice, rank = symmetry.lattice, len(basis)
    family = ("rosette", "frieze", "plane")[rank]
    if lattice is None or len(lattice.basis) != rank or not symmetry.certain:
        return None
    if symmetry.group.family != family or rank == 0:
        return basis if symmetry.group.family == family else None
    count = basis @ np.linalg.pinv(lattice.basis)
    whole = np.round(count)
    if np.abs(count - whole).max() > 0.02 or not round(abs(np.linalg.det(whole))):
        return None
    return np.asarray(np.linalg.solve(whole, basis))


def _whole_faces(arrangement: Arrangement, lines: int) -> Ints:
    """Return the faces that the window's edge, curves from `lines` on, does not cut."""
    whole = np.ones(arrangement.face_count, dtype=bool)
    whole[0] = False
    rim = np.repeat(arrangement.edge_curve >= lines, 2)
    whole[arrangement.face[rim]] = False
    return np.flatnonzero(whole)


def _exact(operations: list[Affine], motif: Motif, basis: Floats) -> tuple[Affine, ...]:
    """Return found operations with the shifts on which most of the lines agree."""
    from scipy.spatial import cKDTree

    every = np.arange(len(motif.curves))
    points = np.vstack(
        [motif.curves.point(every, np.full(len(every), t)) for t in (0.0, 0.5, 1.0)]
    )
    inverse = np.linalg.pinv(basis)
    around = lattice_steps(len(basis), 1) @ basis
    home = points - np.floor(points @ inverse) @ basis
    tree = cKDTree((home + around[:, None]).reshape(-1, 2))
    agree = max(motif.slip, 1e-5 * float(np.ptp(points, axis=0).max()))
    found = []
    for g in operations:
        image = affine.apply(g, points)
        image = image - np.floor(image @ inverse) @ basis
        steps = tree.data[np.asarray(tree.query(image)[1])] - image
        # ends that the cell's edge made have no image: they agree on nothing
        votes = cKDTree(steps).query_ball_point(steps, agree, return_length=True)
        best = steps[int(np.argmax(votes))]
        step = steps[np.hypot(*(steps - best).T) <= agree].mean(axis=0)
        found.append((*g[:4], g[4] + float(step[0]), g[5] + float(step[1])))
    return tuple(found)


def _moved(polygons: NDArray[Any], m: Affine) -> NDArray[Any]:
    import shapely

    return np.asarray(shapely.transform(polygons, lambda p: affine.apply(m, p)))


def _firsts(points: Floats, basis: Floats) -> Ints:
    """Return the first of the points that shifts carry onto each other."""
    place, rank = points @ np.linalg.pinv(basis) % 1.0, len(basis)
    if rank == 1:
        across = cross(np.broadcast_to(basis[0], points.shape), points)
        place = np.column_stack([place, across / (basis[0] @ basis[0])])
    kept: list[int] = []
    for k, p in enumerate(place):
        step = place[kept] - p
        step[:, :rank] -= np.round(step[:, :rank])
        if np.abs(step).max(axis=1).min(initial=np.inf) > _SAME:
            kept.append(k)
    return np.array(kept, np.int64)


_TURN = {2: "half-turns", 3: "three turns", 4: "four turns", 6: "six turns"}


def _special_points(
    motif: Motif, basis: Floats, operations: tuple[Affine, ...]
) -> tuple[Point, ...]:
    """Return centres of turning, or points on mirrors, one of each."""
    middle = motif.outline.mean(axis=0)
    shifts = _Shifts(basis, middle)
    points = _turning_centres(shifts, operations) or _on_mirrors(shifts, operations)
    points = points or [
        Point(as_point(middle), 0, "the cell's middle"),
        Point(as_point(motif.outline[0]), 0, "the cell's corner"),
    ]
    points.sort(key=lambda p: (-p.order, round(p.at[1], 6), round(p.at[0], 6)))
    return tuple(points[:_MOST_POINTS])


class _Shifts:
    """Know the shifts of a pattern, and bring points near its cell's middle."""

    def __init__(self, basis: Floats, middle: Floats) -> None:
        self.basis, self.middle = basis, middle
        self.size = float(np.abs(basis).max()) if len(basis) else 1.0
        self.near = lattice_steps(len(basis), 2) @ basis

    def home(self, point: Floats) -> Floats:
        """Return the copy of a point that lies near the middle."""
        return np.asarray(point - nearest_shifts(point - self.middle, self.basis))

    def place(self, point: Floats) -> tuple[float, ...]:
        """Return where a point lies among the shifts, rounded."""
        along = point @ np.linalg.pinv(self.basis)
        whole = np.round((along + 1e-4) % 1.0, 3) % 1.0
        if len(self.basis) == 2:
            return tuple(whole.tolist())
        rest = (point - along @ self.basis) / self.size
        return (*whole.tolist(), *np.round(rest, 3).tolist())


def _turning_centres(shifts: _Shifts, operations: tuple[Affine, ...]) -> list[Point]:
    """Return one of each centre, with the largest order that turns about it have."""
    found: dict[tuple[float, ...], Point] = {}
    for g in operations:
        m = affine.linear(g)
        angle = math.atan2(m[1, 0], m[0, 0])
        if np.linalg.det(m) < 0 or abs(angle) < 1e-6:
            continue
        order = round(2 * math.pi / abs(angle))
        name = f"a centre of {_TURN.get(order, f'{order} turns')}"
        solve = np.linalg.inv(np.eye(2) - m)
        for c in (np.array(g[4:]) + shifts.near) @ solve.T:
            key = shifts.place(c)
            if key not in found or found[key].order < order:
                found[key] = Point(as_point(shifts.home(c)), order, name)
    return list(found.values())


def _on_mirrors(shifts: _Shifts, operations: tuple[Affine, ...]) -> list[Point]:
    """Return one point of each mirror near the middle."""
    points: dict[tuple[float, ...], Point] = {}
    middle, size = shifts.middle, shifts.size
    for g in operations:
        m = affine.linear(g)
        if np.linalg.det(m) > 0:
            continue
        along = np.array([1 + m[0, 0], m[1, 0]])
        if np.hypot(*along) < 1e-9:
            along = np.array([m[0, 1], 1 + m[1, 1]])
        along = along / np.hypot(*along)
        normal = np.array([-along[1], along[0]])
        for t in np.array(g[4:]) + shifts.near:
            if abs(t @ along) >= 1e-6 * size:
                continue
            on = normal * (t @ normal) / 2
            c = shifts.home(on + along * ((middle - on) @ along))
            key = tuple(np.round(c / size, 4).tolist())
            if np.hypot(*(c - middle)) < size:
                points.setdefault(key, Point(as_point(c), 1, "a mirror"))
    return list(points.values())
