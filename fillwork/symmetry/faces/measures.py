"""Measures of faces that do not depend on how the drawing was made.

The centroid, the root of the area and the boundary length move little when the
corners of a face move, so they say which faces are alike before any outline is
compared.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Complexes, Floats, Ints, Ints32

LONG = 3.0  # length over width of a strip, such as a side of a border, at least
# area of a sliver at most, in its outline squared, and in that of the faces of which
# so many are smaller
_NARROW, _SMALL, _UPPER = 0.02, 0.1, 0.75
# the same of a speck, however it lies
_SPECK = 0.02


@dataclass(frozen=True, eq=False)
class FaceMeasures:
    """Hold measures of all faces; rows of face 0 are without meaning."""

    centroid: Floats  # (F, 2): centre of area, holes taken off, mm
    size: Floats  # (F,): root of the area, mm
    # (F,): length of the boundary with that of the holes, mm
    length: Floats
    inscribed: Floats  # (F,): radius of the largest circle that fits, mm
    arrangement: Arrangement  # whose faces these are

    def __post_init__(self) -> None:
        for array in (self.centroid, self.size, self.length, self.inscribed):
            array.setflags(write=False)

    @cached_property
    def pose(self) -> Complexes:
        """Return how the outlines of all faces lie: what turns and mirrors change.

        Returns (F, 3): means of the first three powers of an outline's points about the
        centre of area, in roots of the area.
        """
        arrangement = self.arrangement
        owner = ring_owner(arrangement)
        half = arrangement.ring_half_edge
        z = arrangement.vertices[:, 0] + 1j * arrangement.vertices[:, 1]
        centre = self.centroid[:, 0] + 1j * self.centroid[:, 1]
        scale = np.where(self.size > 0, self.size, np.inf)[owner]
        p = (z[arrangement.origin[half]] - centre[owner]) / scale
        q = (z[arrangement.origin[half ^ 1]] - centre[owner]) / scale
        size = np.abs(q - p)
        total = np.maximum(np.bincount(owner, size, arrangement.face_count), 1e-300)
        # Simpson's rule is exact for powers up to the third
        middle = 0.5 * (p + q)
        pose = np.empty((arrangement.face_count, 3), dtype=np.complex128)
        for k in range(3):
            value = size * (p ** (k + 1) + 4 * middle ** (k + 1) + q ** (k + 1)) / 6
            pose[:, k] = np.bincount(owner, value.real, arrangement.face_count)
            pose[:, k] += 1j * np.bincount(owner, value.imag, arrangement.face_count)
            pose[:, k] /= total
        pose.setflags(write=False)
        return pose


def ring_owner(arrangement: Arrangement) -> Ints:
    """Return the face of each entry of `Arrangement.ring_half_edge`."""
    start = arrangement.ring_start[arrangement.face_ring_start]
    return np.repeat(np.arange(arrangement.face_count), np.diff(start))


def measure_faces(arrangement: Arrangement) -> FaceMeasures:
    """Measure all faces.

    Their measures, by face; centroids and lengths are those of the chords.
    """
    count = arrangement.face_count
    owner = ring_owner(arrangement)
    half = arrangement.ring_half_edge
    base = np.nan_to_num(arrangement.witness)
    p = arrangement.vertices[arrangement.origin[half]] - base[owner]
    q = arrangement.vertices[arrangement.origin[half ^ 1]] - base[owner]
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    twice = np.bincount(owner, cross, count)
    safe = np.where(np.abs(twice) > 0, twice, 1.0)
    centroid = base.copy()
    for axis in (0, 1):
        moment = np.bincount(owner, (p[:, axis] + q[:, axis]) * cross, count)
        centroid[:, axis] += moment / (3.0 * safe)
    step = np.hypot(q[:, 0] - p[:, 0], q[:, 1] - p[:, 1])
    return FaceMeasures(
        centroid,
        np.sqrt(np.maximum(arrangement.area, 0.0)),
        np.bincount(owner, step, count).astype(np.float64),
        arrangement.inscribed.copy(),
        arrangement,
    )


def outer_sides(arrangement: Arrangement, faces: AnyInts) -> Ints:
    """Return the half-edges of some faces that have none of them on the other side.

    Half-edges whose face is in the zone and whose twin's face is not; a face that runs
    round most of the zone, as a margin or a plain frame does, counts as outside.
    """
    inside = np.zeros(arrangement.face_count, dtype=bool)
    inside[faces] = True
    inside[_surrounding_faces(arrangement, faces)] = False
    own = inside[arrangement.face]
    other = inside[arrangement.face[np.arange(len(arrangement.face)) ^ 1]]
    return np.flatnonzero(own & ~other)


def _surrounding_faces(arrangement: Arrangement, faces: AnyInts) -> Ints:
    """Return the faces that run round most of the others.

    Those with a hole that is larger than two fifths of all the faces.
    """
    faces = np.asarray(faces)
    rings = np.diff(arrangement.face_ring_start)[faces]
    total = float(arrangement.area[faces].sum())
    found: list[int] = []
    for face in faces[rings > 1]:
        for ring in arrangement.face_half_edges(int(face))[1:]:
            points = arrangement.vertices[arrangement.origin[ring]]
            points = points - points[0]
            x, y = points[:, 0], points[:, 1]
            hole = abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2
            if hole > 0.4 * total:
                found.append(int(face))
                break
    return np.array(found, dtype=np.int64)


def is_long(arrangement: Arrangement, faces: AnyInts) -> bool:
    """Tell whether faces fill a strip, whichever way it lies.

    True where they reach `LONG` times as far one way as across it. `faces`: some of
    them.
    """
    half = np.flatnonzero(np.isin(arrangement.face, faces))
    points = arrangement.vertices[arrangement.origin[half]]
    away = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(away.T @ away)
    narrow, long = np.ptp(away @ axes, axis=0)
    return bool(long >= LONG * narrow)


def slivers(arrangement: Arrangement, measures: FaceMeasures, faces: Ints32) -> Bools:
    """Return which faces are narrow and small beside the others.

    A hand that misses a point where lines touch leaves them: they show nothing.

    `faces`: the faces that are asked about.
    """
    area = arrangement.area[faces]
    narrow = area <= _NARROW * measures.length[faces] ** 2
    return np.asarray(narrow & (area < _SMALL * np.quantile(area, _UPPER)), bool)


def specks(arrangement: Arrangement, faces: Ints32) -> Bools:
    """Return which faces are next to nothing beside the others.

    Lines that all but meet leave them: they are no part of a design.

    `faces`: the faces that are asked about.
    """
    area = arrangement.area[faces]
    return np.asarray(area < _SPECK * np.quantile(area, _UPPER), bool)
