"""From what a user writes for a place to the faces meant.

A place is a *letter* of a kind, a *name* (all kinds that bear it) or a *point*
``@x,y`` in mm. Its *scope* says how far a wish at this place reaches: ``kind``
(all faces of the kind), ``turns`` (those alike by rotations and translations),
``shifts`` (those alike by translations) or ``only`` (the one face).
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.model import SCOPES
from fillwork.errors import ColouringError, FillworkError
from fillwork.units import parse_length

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Ints32
    from fillwork.symmetry.model import Orbits


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Hold the faces that a wish reaches."""

    where: str  # what the user wrote
    scope: str  # ``kind``, ``turns``, ``shifts`` or ``only``
    faces: Ints32  # the faces, ascending
    orbits: tuple[int, ...]  # their kinds, ascending
    face: int | None = None  # the face under the point, where one was given

    def __post_init__(self) -> None:
        self.faces.setflags(write=False)


def face_at(arrangement: Arrangement, x: float, y: float) -> int:
    """Return the face in which a point lies; 0 outside all regions.

    `x` and `y`: the point, mm.

    Of the half-edges that run upwards and cross the ray to the right, the first
    has the face of the point on its left. Where the ray meets a vertex, which of
    its edges is first depends on rounding; the ray is then moved a hair up or
    down. O(H), without an index.
    """
    hair = 1e-9 * max(float(np.abs(arrangement.vertices).max(initial=1.0)), 1e-9)
    found = 0
    for step in (0.0, 1.0, -1.0, 2.7, -2.7):
        found, plain = _face_left_of_first(arrangement, x, y + step * hair)
        if plain:
            break
    return found


def _face_left_of_first(
    arrangement: Arrangement, x: float, y: float
) -> tuple[int, bool]:
    """Return the face at a point, and whether its ray met no vertex first."""
    start = arrangement.vertices[arrangement.origin]
    end = start.reshape(-1, 2, 2)[:, ::-1].reshape(-1, 2)  # origin of the twin
    rows = np.flatnonzero((start[:, 1] <= y) & (end[:, 1] > y))
    if not len(rows):
        return 0, True
    p, q = start[rows], end[rows]
    along = (y - p[:, 1]) / (q[:, 1] - p[:, 1])
    cross = p[:, 0] + along * (q[:, 0] - p[:, 0])
    right = cross > x
    if not right.any():
        return 0, True
    rows, cross, p, q = rows[right], cross[right], p[right], q[right]
    least = cross.min()
    # where several edges leave one vertex on the ray, the leftmost counts
    tied = np.flatnonzero(cross <= least + 1e-12 * max(1.0, abs(least)))
    slope = (q[tied, 0] - p[tied, 0]) / (q[tied, 1] - p[tied, 1])
    face = int(arrangement.face[rows[tied[int(np.argmin(slope))]]])
    return face, len(tied) == 1


def nearest_region(arrangement: Arrangement, x: float, y: float) -> tuple[int, float]:
    """Return the region nearest to a point.

    `x` and `y`: the point, mm. Returns `face`: the region; 0 when there is none;
    `distance`: distance to its boundary, mm.
    """
    bounding = np.flatnonzero(
        (arrangement.face[0::2] > 0) | (arrangement.face[1::2] > 0)
    )
    if not len(bounding):
        return 0, math.inf
    p = arrangement.vertices[arrangement.origin[2 * bounding]]
    q = arrangement.vertices[arrangement.origin[2 * bounding + 1]]
    point = np.array([x, y])
    run = q - p
    square = np.maximum((run**2).sum(axis=1), 1e-300)
    t = np.clip(((point - p) * run).sum(axis=1) / square, 0.0, 1.0)
    away = np.hypot(*(p + t[:, None] * run - point).T)
    edge = int(bounding[int(np.argmin(away))])
    face = max(int(arrangement.face[2 * edge]), int(arrangement.face[2 * edge + 1]))
    return face, float(away.min())


def _signed_length(text: str) -> float:
    if text.startswith("-"):
        return -parse_length(text[1:])
    return parse_length(text.removeprefix("+"))


def _parse_point(where: str) -> tuple[float, float]:
    parts = where[1:].replace(";", ",").split(",")
    if len(parts) != 2:
        what = f'"{where}" is not a point'
        raise ColouringError(what, mend='write it as "@x,y" in mm, as "@12.5,40"')
    try:
        x, y = (_signed_length(part.strip()) for part in parts)
    except (FillworkError, ValueError) as error:
        what = f'"{where}" is not a point'
        mend = 'write it as "@x,y" in mm, as "@12.5,40"'
        raise ColouringError(what, mend=mend) from error
    return x, y


def _face_of_point(arrangement: Arrangement, orbits: Orbits, where: str) -> int:
    x, y = _parse_point(where)
    face = face_at(arrangement, x, y)
    if face > 0 and orbits.of_face[face] >= 0:
        return face
    near, away = nearest_region(arrangement, x, y)
    what = f"no region lies at ({x:.1f}, {y:.1f}) mm"
    if near == 0 or orbits.of_face[near] < 0:
        raise ColouringError(what, where=where)
    letter = orbits.orbits[int(orbits.of_face[near])].letter
    at = arrangement.witness[near]
    mend = (
        f"the nearest region, of kind {letter}, is {away:.1f} mm away "
        f'around "@{at[0]:.1f},{at[1]:.1f}"'
    )
    raise ColouringError(what, where=where, mend=mend)


def _rows_by(orbits: Orbits, test: str) -> dict[str, list[int]]:
    """Return the kinds by letter or name, sorted once for all look-ups."""
    rows = orbits.rows.get(test)
    if rows is None:
        rows = {}
        for row, orbit in enumerate(orbits.orbits):
            # “band 1” of “band 1, closed, round the star”
            short = orbit.name.partition(",")[0]
            word = short if test == "short_name" else getattr(orbit, test)
            rows.setdefault(word.casefold(), []).append(row)
        orbits.rows[test] = rows
    return rows


def _named_orbits(orbits: Orbits, where: str) -> list[int]:
    wanted = " ".join(where.split()).casefold()
    for test in ("letter", "name", "short_name", "base_name"):
        found = _rows_by(orbits, test).get(wanted) if wanted else None
        if found:
            return found
    known = [orbit.letter for orbit in orbits.orbits]
    names = [
        name
        for orbit in orbits.orbits
        for name in dict.fromkeys((orbit.name, orbit.base_name))
        if name
    ]
    what = f'no kind has the letter or name "{where}"'
    folded = {text.casefold(): text for text in [*names, *known]}
    near = difflib.get_close_matches(wanted, list(folded), n=1, cutoff=0.5)
    if near:
        mend = f'did you mean "{folded[near[0]]}"?'
    elif len(known) > 1:
        mend = f"the kinds of this drawing are {known[0]} to {known[-1]}"
    else:
        mend = f"the only kind of this drawing is {', '.join(known) or 'none'}"
    raise ColouringError(what, mend=mend)


def _strand_named(orbits: Orbits, where: str) -> Ints32:
    """Return the faces of the strand that a place names by its number, if any."""
    word, _, number = where.casefold().rpartition(" ")
    of_face = orbits.strand_of_face
    known = number.isdecimal() and len(number) < 10 and int(number) > 0
    if word != "strand" or not known or of_face is None:
        return np.empty(0, np.int32)
    return np.flatnonzero(of_face == int(number) - 1).astype(np.int32)


def _alone(orbits: Orbits, face: int) -> Ints32:
    """Return a face, with the rest of its strand when it is a piece of one."""
    of_face = orbits.strand_of_face
    if of_face is None or of_face[face] < 0:
        return np.array([face], np.int32)
    return np.flatnonzero(of_face == of_face[face]).astype(np.int32)


def find_place(
    arrangement: Arrangement, orbits: Orbits, where: str, scope: str = "kind"
) -> Place:
    """Find the faces that a place means.

    `where`: a letter, a name, a point ``@x,y`` or a strand such as ``strand 2``; case
    does not matter, and a letter wins over a name. `scope`: ``kind``, ``turns``,
    ``shifts`` or ``only``: the region, or the strand of which it is a piece. Raises
    `ColouringError` if no kind has the letter or name, no region lies at the point, or
    ``only`` is asked of a kind of several regions.

    For a letter or a name the finer scopes take the class of the face that
    represents each kind.
    """
    if scope not in SCOPES:
        what = f'"{scope}" is not a scope'
        raise ColouringError(what, mend=f"scopes are {', '.join(SCOPES)}")
    where = where.strip()
    strand = _strand_named(orbits, where)
    if len(strand):
        row = int(orbits.of_face[strand[0]])
        return Place(where, scope, strand, (row,), None)
    face: int | None = None
    if where.startswith("@"):
        face = _face_of_point(arrangement, orbits, where)
        rows, anchors = [int(orbits.of_face[face])], [face]
    else:
        rows = _named_orbits(orbits, where)
        anchors = [orbits.orbits[row].representative for row in rows]
    parts: list[Ints32] = []
    for row, anchor in zip(rows, anchors, strict=True):
        faces = orbits.orbits[row].faces
        if scope == "turns":
            faces = faces[orbits.turns_of_face[faces] == orbits.turns_of_face[anchor]]
        elif scope == "shifts":
            faces = faces[orbits.shifts_of_face[faces] == orbits.shifts_of_face[anchor]]
        elif scope == "only":
            if face is None and len(faces) > 1:
                at = arrangement.witness[anchor]
                what = f"kind {orbits.orbits[row].letter} has {len(faces)} regions"
                mend = f'say which by a point, such as "@{at[0]:.1f},{at[1]:.1f}"'
                raise ColouringError(what, where=where, mend=mend)
            faces = _alone(orbits, anchor)
        parts.append(np.asarray(faces, np.int32))
    return Place(where, scope, np.sort(np.concatenate(parts)), tuple(rows), face)
