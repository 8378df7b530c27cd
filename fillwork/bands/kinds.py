"""Kinds of woven drawings: all pieces of a strand are one kind.

Over and under part a strand into pieces of several kinds, and a painter lays one
paint from its one end to the other. Strands that share a kind are carried onto each
other by the symmetry, or cross it alike, and are one kind too.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.orbits import letters

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.bands.model import Woven
    from fillwork.symmetry.model import Orbit, Orbits

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

__all__ = ["join_strands", "strands_of_faces"]


def strands_of_faces(arrangement: Arrangement, woven: Woven) -> Ints:
    """Return the strand that each region of a woven drawing is a piece of.

    Parameters
    ----------
    arrangement : Arrangement
        The regions of the woven drawing.
    woven : Woven
        The bands.

    Returns
    -------
    ndarray of int64, shape (F,)
        Row of `Strands.strands`; -1 for the ground.

    Notes
    -----
    Where strands cross, the region belongs to the one on top; a piece that is on
    top nowhere is told by the middles of its strand.
    """
    strands, crossings = woven.strands, woven.crossings
    found = np.full(arrangement.face_count, -1, np.int64)
    top = np.flatnonzero(crossings.level == 0)
    border = np.array([s.border for s in strands.strands], bool)
    piece = np.flatnonzero(~border[strands.of_piece])
    middle = strands.lines.pieces.point(piece, np.full(len(piece), 0.5))
    for points, owner in (
        (middle, strands.of_piece[piece]),
        (
            strands.lines.vertices[crossings.vertex[top]],
            strands.of_piece[crossings.halves[top, 0] >> 1],
        ),
    ):
        row, face = _located(arrangement, points)
        found[face] = owner[row]
    return found


def _located(arrangement: Arrangement, points: Floats) -> tuple[Ints, Ints]:
    """Return rows of points and the faces in which they lie."""
    import shapely

    if not len(points) or arrangement.face_count < 2:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    tree = shapely.STRtree(arrangement.polygons())
    row, face = tree.query(shapely.points(points), predicate="within")
    return row.astype(np.int64), face.astype(np.int64) + 1


def join_strands(orbits: Orbits, strand_of_face: Ints) -> Orbits:
    """Return kinds in which the pieces of each strand are one.

    Parameters
    ----------
    orbits : Orbits
        The kinds.
    strand_of_face : ndarray of int64, shape (F,)
        As `strands_of_faces` returns it.

    Returns
    -------
    Orbits
        Kinds by letter; bands are named so and numbered by length of paint.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    count = len(orbits.orbits)
    face = np.flatnonzero((strand_of_face >= 0) & (orbits.of_face >= 0))
    if not len(face):
        return orbits
    row, strand = orbits.of_face[face], strand_of_face[face]
    # a kind is of bands when most of its regions are
    all_faces = np.bincount(orbits.of_face[orbits.of_face >= 0], minlength=count)
    band = 2 * np.bincount(row, minlength=count) >= np.maximum(all_faces, 1)
    held = band[row]
    links = coo_array(
        (np.ones(int(held.sum())), (row[held], count + strand[held])),
        shape=(count + int(strand.max()) + 1,) * 2,
    )
    _, part = connected_components(links, directed=False)
    groups: dict[int, list[int]] = {}
    for k in np.flatnonzero(band).tolist():
        groups.setdefault(int(part[k]), []).append(k)
    found = [[orbits.orbits[k] for k in group] for group in groups.values()]
    # bits of strands that the frame leaves go with the rest
    found.sort(key=lambda group: -sum(len(o.faces) - o.cut for o in group))
    bits = [o for group in found[1:] if _is_cut(group) for o in group]
    joined = [_joined([*found[0], *bits])]
    joined += [_joined(group) for group in found[1:] if not _is_cut(group)]
    joined.sort(key=lambda o: (-len(o.faces), int(o.faces[0])))
    named = [
        replace(o, name=f"band {n}" if len(joined) > 1 else "band")
        for n, o in enumerate(joined, 1)
    ]
    kept = [o for k, o in enumerate(orbits.orbits) if not band[k]]
    whole = sorted([*kept, *named], key=lambda o: (-o.area, int(o.faces[0])))
    result = tuple(replace(o, letter=letters(n)) for n, o in enumerate(whole))
    of_face = np.full(len(orbits.of_face), -1, np.int32)
    operation = orbits.operation_of_face.copy()
    for n, orbit in enumerate(result):
        of_face[orbit.faces] = n
        if orbit.band:
            operation[orbit.faces] = -1
    return replace(orbits, orbits=result, of_face=of_face, operation_of_face=operation)


def _is_cut(members: list[Orbit]) -> bool:
    return all(o.cut == len(o.faces) for o in members)


def _joined(members: list[Orbit]) -> Orbit:
    """Return several kinds as one kind of band."""
    largest = max(members, key=lambda o: (o.area, -int(o.faces[0])))
    faces = np.sort(np.concatenate([o.faces for o in members]))
    return replace(
        largest,
        base_name="band",
        faces=faces.astype(np.int32),
        site_symmetry="C1",
        cut=sum(o.cut for o in members),
        band=True,
    )
