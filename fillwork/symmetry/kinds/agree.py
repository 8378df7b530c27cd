"""What most images of a face agree on.

A face is said to break a symmetry only where other faces tell what should stand
there: its images under the operations, as many as the drawing holds, lie in whole
faces of one kind, on both sides of it along a strip. Where they lie in faces of
several kinds, in cut ones or nowhere, nobody can say what is missing, nor at the
ends of a strip, where a line of the frame or of a corner square may cut it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.faces.measures import outer_sides
from fillwork.symmetry.quotient import quotient_of

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.symmetry.model import Zone
    from fillwork.symmetry.quotient import Quotient


# images asked for each face, the nearest ones
_MOST = 48
LOOKED_AT = 8 * _MOST  # of these those that lie in whole faces are asked
# images that must lie in whole faces, and share of them in one kind
_LEAST = 2
_AGREED = 0.6
# share of its outline on the zone's edge, beyond that of the faces that agree
_EDGE = 0.01


def contradicted(
    arrangement: Arrangement, zone: Zone, faces: Ints, kind: Ints, whole: Bools
) -> Bools:
    """Tell which faces lie where most of their images show another kind.

    `zone`: the zone whose symmetry carries them about. `faces` (m,): faces of the zone
    to judge. `kind` (n,): kind of each face of the zone, in the order of its faces.
    `whole` (n,): which of these stand for their kind. Returns (m,): True where most
    images agree on one kind.
    """
    import shapely

    told = np.zeros(len(faces), dtype=bool)
    if len(faces) == 0:
        return told
    quotient = quotient_of(zone.symmetry)
    own = zone.faces.astype(np.int64)
    points = arrangement.witness[own]
    reach = float(np.hypot(*np.ptp(points, axis=0)))
    steps = near_enough(quotient, quotient.copies(reach))
    tree = shapely.STRtree(arrangement.polygons(own))
    rim = _share_on_rim(arrangement, own)
    row = np.full(arrangement.face_count, -1, dtype=np.int64)
    row[own] = np.arange(len(own))
    for n, face in enumerate(faces.tolist()):
        start = arrangement.witness[face]
        moved = quotient.linear @ start + quotient.shift
        images = (moved[:, None, :] + steps[None, :, :]).reshape(-1, 2)
        if len(quotient.basis):
            # by the translations of the image that lies nearest
            near = start + quotient.nearest(moved - start)
            images = (near[:, None, :] + steps[None, :, :]).reshape(-1, 2)
        away = np.hypot(*(images - start).T)
        images = images[away > 1e-6 * max(reach, 1.0)]
        images = images[np.argsort(away[away > 1e-6 * max(reach, 1.0)], kind="stable")]
        images = images[:LOOKED_AT]
        at, hit = tree.query(shapely.points(images), predicate="within")
        hit = hit[np.argsort(at, kind="stable")]
        hit = hit[(own[hit] != face) & whole[hit]][:_MOST]
        if len(hit) < _LEAST:
            continue
        value, count = np.unique(kind[hit], return_counts=True)
        best = int(np.argmax(count))
        agree = hit[kind[hit] == value[best]]
        if count[best] < _AGREED * len(hit) or len(np.unique(agree)) < _LEAST:
            continue
        if len(quotient.basis) == 1:
            along = (arrangement.witness[own[agree]] - start) @ quotient.basis[0]
            if along.min() >= 0 or along.max() <= 0:
                continue
        told[n] = rim[row[face]] <= float(np.median(rim[agree])) + _EDGE
    return told


def near_enough(quotient: Quotient, steps: Floats) -> Floats:
    """Return those of the translations that can lay an image among the nearest.

    `steps` (n, 2), mm. Returns some of them, in their order.
    """
    away = np.hypot(*steps.T)
    # one image of each coset may be the face itself; those of a strip lie beside it
    wide = len(quotient.basis) == 2
    enough = (-(-LOOKED_AT // quotient.order) if wide else LOOKED_AT) + 1
    if len(steps) <= enough:
        return steps
    # before a translation each image lies within half a repeat of the face
    half = 0.5 * float(np.hypot(*quotient.basis.T).sum())
    farthest = float(np.partition(away, enough - 1)[enough - 1]) + 2 * half
    return np.asarray(steps[away <= farthest * (1 + 1e-9)])


def _share_on_rim(arrangement: Arrangement, faces: Ints) -> Floats:
    """Return the share of each outline that lies on the edge of all faces."""
    start = arrangement.vertices[arrangement.origin]
    size = np.hypot(*(start[0::2] - start[1::2]).T)
    total = np.bincount(arrangement.face, np.repeat(size, 2), arrangement.face_count)
    outer = outer_sides(arrangement, faces)
    on = np.bincount(arrangement.face[outer], size[outer // 2], arrangement.face_count)
    return np.asarray((on / np.maximum(total, 1e-300))[faces])
