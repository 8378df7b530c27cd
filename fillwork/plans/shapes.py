"""Regions as polygons that follow their true curves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.arrangement.outlines import half_edge_curves

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts


def true_polygons(
    arrangement: Arrangement, faces: AnyInts, chord_error: float
) -> NDArray[Any]:
    """Return faces as shapely polygons of chords near their curves.

    `faces` (n,): which faces. `chord_error`: largest distance of a chord from its
    curve, mm. Returns ndarray of object, shape (n,): one polygon a face, mm of the
    drawing; holes are holes.
    """
    import shapely

    if len(faces) == 0:
        return np.empty(0, dtype=object)
    rings = [r for face in faces.tolist() for r in arrangement.face_half_edges(face)]
    owner = [
        row
        for row, face in enumerate(faces.tolist())
        for _ in arrangement.face_half_edges(face)
    ]
    half = np.concatenate(rings).astype(np.int64)
    ring = np.repeat(np.arange(len(rings)), [len(r) for r in rings])
    chords, piece, _ = half_edge_curves(arrangement, half).flatten(chord_error)
    points, of_ring = chords[:, :2], ring[piece]
    linear = np.asarray(shapely.linearrings(points, indices=of_ring))
    found = shapely.polygons(linear, indices=np.array(owner))
    return np.asarray(shapely.make_valid(found))
