"""The faces of a field: what a lattice explains, though a frame cuts it.

Faces that stand with three like ones at the corners of a cell are the *core* of a
field. Where the core ends, the field's own lines still agree with it: an edge *holds*
when its images that fall into the core lie on lines. Faces that hang on the core by
such edges belong to the field, though a frame or a medallion cuts them; what lies
beyond does not.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import marked
from fillwork.symmetry.faces.congruence import class_congruent
from fillwork.symmetry.faces.measures import is_long
from fillwork.symmetry.faces.places import Matcher, marks_of_faces
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.lines.near_lines import LineIndex
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.repeats import (
    ASKED,
    in_cells,
    inside_of,
    onto_by,
    shifts_beside,
    shifts_of,
    tree_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures

FIELD = 12  # faces of a field at least
# fields that are looked for
_MOST_FIELDS = 8
# share of like faces below which what repeats alike is another pattern
_UNLIKE = 0.1
# repeats that a face covers at most in a field (a missing line makes one of two), for
# each of its rings if it has holes, and grounds of panels in it at most: where there
# are more the repeat is a part of the true one
_WHOLE_OVER, _OVER, _GROUNDS = 2.0, 8.0, 6
# share of them that must lie as shifts carry those of the other, and how many are asked
_STARTS_ANEW, _STARTS_ASKED = 0.2, 400
# share of an edge's images in the core that must lie on lines
_HOLDS = 0.7
# share of a face's edges that must hold
_EXPLAINED = 0.2
# and of its whole outline
_OF_ALL = 0.08
# repeats that longer shifts reach
_FAR = 2
# times that a field may grow by what it has told so far
_ROUNDS = 8
# repeats that a part of a field must be wide, both ways
_WIDE = 1.3
# share of a strip's faces that lie between their like ones both ways
_THREE_ROWS = 0.05
# share of a field's faces that a part cut out of it has at most
_ISLAND = 0.1
# and of its lines that must hold
_OF_ISLAND = 0.5
# how near a line must be, in roots of the median area of a face
_NEAR = 0.08


def field_of(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: AnyInts,
    basis: Floats,
    barrier: Bools,
) -> Ints32:
    """Return the faces that a lattice explains, those that are cut too.

    `faces`: faces that may belong to it. `basis` (2, 2): two shifts, mm. `barrier`
    (E,): edges that are taken for lines of a frame: what cuts a face says nothing.
    Returns the faces of the field, ascending; empty when the lattice explains none.
    """
    faces = np.asarray(faces)
    lines = shifts_beside(basis)
    shifts = [s * v for v in lines for s in (1.0, -1.0)]
    onto = onto_by(arrangement, measures, faces, lines)
    hit = onto >= 0
    core = in_cells(onto[:, 0])
    if core.sum() < ASKED:
        return np.zeros(0, dtype=np.int32)
    inside = marked(faces[core], arrangement.face_count)
    candidate = marked(faces, arrangement.face_count)
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    # what lies between two faces of the core says nothing more of them
    beyond = ~(inside[left] & inside[right])
    edge = np.flatnonzero((candidate[left] | candidate[right]) & beyond)
    holds, length = edges_that_hold(arrangement, edge, shifts, faces[core])
    # of the lines that no frame drew
    own = ~barrier[edge]
    p, q = left[edge], right[edge]
    inner = own & candidate[p] & candidate[q]
    reach = part_numbers(p[inner], q[inner], arrangement.face_count)
    # a strip beside the field shares no more than an end with it
    least = np.maximum(_OF_ALL * measures.length, 1e-9)
    total = _beside(p[own], q[own], length[own], arrangement.face_count)
    far = far_shifts(basis)
    member, before = inside, -1
    for _ in range(_ROUNDS):
        kept = _beside(
            p[own & holds], q[own & holds], length[own & holds], arrangement.face_count
        )
        explained = inside | (candidate & (kept > _EXPLAINED * total) & (kept > least))
        # from the core outwards, across edges that hold
        link = own & holds & explained[p] & explained[q]
        part = part_numbers(p[link], q[link], arrangement.face_count)
        member = explained & np.isin(part, part[faces[core]])
        # what is left beside a medallion is told by longer shifts and by what was told
        rest = candidate & ~explained & np.isin(reach, reach[member])
        again = np.flatnonzero(own & ~holds & (rest[p] | rest[q]))
        if len(again) == 0 or int(member.sum()) == before:
            break
        before = int(member.sum())
        holds[again], _ = edges_that_hold(
            arrangement, edge[again], far, np.flatnonzero(member)
        )
    # faces that lie between their like ones on two lines
    between = np.zeros(arrangement.face_count, dtype=bool)
    between[faces[hit.all(axis=1).sum(axis=0) >= 2]] = True
    found = np.zeros(arrangement.face_count, dtype=bool)
    found[_wide_parts(arrangement, member, between, basis, barrier)] = True
    for _ in range(_ROUNDS):
        islands = _islands(arrangement, found, candidate, barrier, far)
        if not islands.any():
            break
        found |= islands
    return np.flatnonzero(found).astype(np.int32)


def _islands(
    arrangement: Arrangement,
    found: Bools,
    candidate: Bools,
    barrier: Bools,
    shifts: list[Floats],
) -> Bools:
    """Return small parts beside a field that loops of its own lines cut out of it.

    The lines of a medallion are none of the field's, those of a star in it are. Of
    what the field does not close in, the lines within it must say so.
    """
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    isle = candidate & ~found
    link = isle[left] & isle[right] & ~barrier
    part = part_numbers(left[link], right[link], arrangement.face_count)
    size = np.bincount(part, minlength=arrangement.face_count)
    isle &= size[part] <= _ISLAND * int(found.sum())
    shore = (isle[left] & found[right]) | (found[left] & isle[right])
    beside = np.isin(part, np.concatenate([part[left[shore]], part[right[shore]]]))
    edge = np.flatnonzero(isle[left] | isle[right])
    if len(edge) == 0 or not found.any():
        return np.zeros_like(isle)
    holds, length = edges_that_hold(arrangement, edge, shifts, np.flatnonzero(found))
    p, q = part[left[edge]], part[right[edge]]
    outer = ~(found | isle)[left[edge]] | ~(found | isle)[right[edge]]
    closed_in = ~np.isin(part, np.concatenate([p[outer], q[outer]]))
    within = np.zeros(arrangement.face_count, dtype=bool)
    every = np.ones(len(edge), dtype=bool)
    for counts, among in ((closed_in, every), (beside & ~closed_in, ~shore[edge])):
        total, kept = (
            _beside(p[k], q[k], length[k], arrangement.face_count)
            for k in (among, among & holds)
        )
        within |= isle & counts & (kept > _OF_ISLAND * total)[part]
    return within


def _beside(p: AnyInts, q: AnyInts, length: Floats, count: int) -> Floats:
    """Return which length of some edges, with faces p and q beside them, each has."""
    both = np.concatenate([p, q])
    return np.bincount(both, np.tile(length, 2), count).astype(np.float64)


def _wide_parts(
    arrangement: Arrangement,
    member: Bools,
    between: Bools,
    basis: Floats,
    barrier: Bools,
) -> Ints32:
    """Return the faces of connected parts that are wider than a repeat both ways.

    Sides of a border that lie opposite are carried onto each other by a shift too,
    but none of them shows it. Nor do two rows of a strip, which one shift carries
    onto each other: it must show three.
    """
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    link = member[left] & member[right] & ~barrier
    part = part_numbers(left[link], right[link], arrangement.face_count)
    faces = np.flatnonzero(member)
    half = np.flatnonzero(member[arrangement.face])
    along = arrangement.vertices[arrangement.origin[half]] @ np.linalg.inv(basis)
    owner = part[arrangement.face[half]]
    order = np.argsort(owner, kind="stable")
    owner, along = owner.take(order), along.take(order, axis=0)
    first = np.flatnonzero(np.append(True, owner[1:] != owner[:-1]))
    low, high = (f.reduceat(along, first, axis=0) for f in (np.minimum, np.maximum))
    wide = np.zeros(len(part), dtype=bool)
    wide[owner[first]] = (high - low >= _WIDE).all(axis=1)
    for k in np.flatnonzero(wide):
        own = faces[part[faces] == k]
        few = between[own].sum() < _THREE_ROWS * len(own)
        wide[k] = not (few and is_long(arrangement, own))
    if not wide.any():
        return np.zeros(0, dtype=np.int32)
    return np.asarray(faces[wide[part[faces]]], dtype=np.int32)


def far_shifts(basis: Floats) -> list[Floats]:
    """Return the shifts of a lattice that reach two repeats far."""
    steps = range(-_FAR, _FAR + 1)
    return [np.array([i, j]) @ basis for i in steps for j in steps if i or j]


def edges_that_hold(
    arrangement: Arrangement, edge: Ints, shifts: list[Floats], core: AnyInts
) -> tuple[Bools, Floats]:
    """Return which edges have their images in some faces on lines, and lengths.

    `edge`: rows of edges. `shifts`: what gives the images. `core`: the faces.
    """
    points = arrangement.vertices
    start = points[arrangement.origin[0::2]]
    stop = points[arrangement.origin[1::2]]
    step = stop - start
    size = np.hypot(step[:, 0], step[:, 1])
    inside = marked(core, arrangement.face_count)
    # lines of a border that repeats as the field does are not the field's
    real = (size > 0) & (inside[arrangement.face].reshape(-1, 2).any(axis=1))
    unit = float(np.median(np.sqrt(arrangement.area[core])))
    images = [(share, shift) for share in (0.25, 0.5, 0.75) for shift in shifts]

    def moved() -> Iterator[Floats]:
        """Give where each of the images lays the edges."""
        return (start[edge] + share * step[edge] + shift for share, shift in images)

    lines = np.hstack([start[real], stop[real]])
    index = LineIndex(lines, _NEAR * unit, asked=moved())
    along = step[edge] / np.maximum(size[edge], 1e-300)[:, None]
    hit = np.zeros(len(edge))
    beside = []
    for points in moved():
        near = np.isfinite(index.nearest(points, along)[0])
        hit += near
        beside.append(~near)
    # whether those lie in the core matters where some lie on lines and not nearly all
    doubt = (hit >= 3) & (hit < _HOLDS * len(images))
    rows = [np.flatnonzero(doubt & missed) for missed in beside]
    places = [
        start[edge[row]] + share * step[edge[row]] + shift
        for row, (share, shift) in zip(rows, images, strict=True)
    ]
    row = np.concatenate(rows)
    inner = inside_of(tree_of(arrangement, core), np.concatenate(places))
    asked = hit + np.bincount(row[inner], minlength=len(edge))
    holds = (hit >= 3) & (hit >= _HOLDS * asked)
    return holds, size[edge]


def find_fields(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    barrier: Bools,
    label: Ints,
) -> tuple[Ints, list[Floats]]:
    """Return the number of the field that explains each face, or -1; their shifts."""
    field = np.full(arrangement.face_count, -1, dtype=np.int64)
    tried: set[int] = set()
    bases: list[Floats] = []
    for number in range(_MOST_FIELDS):
        bases.append(np.zeros((0, 2)))
        free = faces[field[faces] < 0]
        if len(free) < FIELD:
            break
        value, size = np.unique(label[free], return_counts=True)
        todo = [
            (int(n), int(k))
            for k, n in zip(value, size, strict=True)
            if n >= FIELD and int(k) not in tried
        ]
        if not todo:
            break
        part = min(todo, key=lambda t: (-t[0], t[1]))[1]
        tried.add(part)
        own = free[label[free] == part]
        basis = shifts_of(arrangement, measures, own, barrier)
        if basis is None:
            continue
        found = field_of(arrangement, measures, free, basis, barrier)
        found = _of_one_pattern(arrangement, measures, found, label, part, basis)
        found = _without_grounds(arrangement, found, basis)
        if len(found) >= FIELD:
            field[found] = number
            bases[number] = basis
            tried.discard(part)
    return field, bases


def _without_grounds(arrangement: Arrangement, found: Ints32, basis: Floats) -> Ints32:
    """Return the faces of a field without those that lie over many images of theirs.

    The ground of a panel that parts a field is closed in by its lines, or closes in
    all of the field; that of loose figures has holes for all of them.
    """
    cell = abs(float(np.linalg.det(basis)))
    rings = np.diff(arrangement.face_ring_start)[found]
    whole = (rings == 1) & ~arrangement.cut[found]
    most = np.where(whole, _WHOLE_OVER, _OVER * rings)
    large = arrangement.area[found] > most * cell
    return found[~large] if large.sum() <= _GROUNDS else found


def _of_one_pattern(
    arrangement: Arrangement,
    measures: FaceMeasures,
    found: Ints32,
    label: Ints,
    part: int,
    basis: Floats,
) -> Ints32:
    """Return the faces of a field without those of others that repeat by its shifts.

    Fields laid out on one grid have shifts alike, and hardly a face; two of one
    pattern may have all alike, and start anew at the line between them.
    """
    value, size = np.unique(label[found], return_counts=True)
    others = value[(size >= FIELD) & (value != part)]
    if len(others) == 0:
        return found
    kind = class_congruent(arrangement, measures, found)[0]
    of, area = label[found], arrangement.area[found]
    known = np.isin(kind, kind[of == part])
    strange = [
        k
        for k in others.tolist()
        if area[known & (of == k)].sum() < _UNLIKE * area[of == k].sum()
    ]
    quotient = quotient_of(Symmetry(NO_GROUP))
    inverse = np.asarray(np.linalg.inv(basis), np.float64)
    quotient = replace(quotient, basis=basis, inverse_basis=inverse)
    noise = arrangement.tolerance.join_within
    marks = marks_of_faces(measures, found, quotient, noise)
    matcher = Matcher(marks.take(of == part), quotient)
    for k in np.setdiff1d(others, strange).tolist():
        asked = np.flatnonzero((of == k) & known)[:_STARTS_ASKED]
        if (matcher.match(marks.take(asked)) >= 0).mean() < _STARTS_ANEW:
            strange.append(k)
    return found[~np.isin(of, strange)]
