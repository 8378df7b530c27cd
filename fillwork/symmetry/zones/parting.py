"""Which faces hang together: fields that a lattice explains, and what frames part.

Frame lines are a hint: what a lattice carries onto like faces is one part wherever
they lie, and only the rest is parted by them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import distinct, distinct_pairs, marked
from fillwork.symmetry.faces.congruence import class_congruent
from fillwork.symmetry.faces.measures import outer_sides
from fillwork.symmetry.lines.near_lines import LineIndex
from fillwork.symmetry.zones.fields import (
    FIELD,
    edges_that_hold,
    far_shifts,
    find_fields,
)
from fillwork.symmetry.zones.frames import face_parts, find_frame_edges
from fillwork.symmetry.zones.repeats import (
    in_cells,
    onto_by,
    shifts_beside,
    shifts_of,
)
from fillwork.symmetry.zones.runs import straight_links

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures

FEWEST = 3  # parts of fewer faces have no symmetry worth asking for
# more parts than this are no panel
_MOST_PARTS = 60
# share of like faces from which two parts are one pattern
_ALIKE = 0.6
# share of a step by which those of one pattern may differ
_STEP = 0.1
# kinds and faces of each that are asked for their steps
_KINDS_ASKED = 8
_FACES_ASKED = 60
# squared boundary over area, from which a face is a strip (a square has 16)
_STRIP = 60.0
# share of its outline that a scrap across a frame line has in common with a field
_ENCLOSED = 0.5
# area of a scrap at most, in that of the largest face of its field
_NO_LARGER = 1.1
# share of its lines that a field keeps at least, if it is so large beside its faces
_OWN_LINES, _LARGE = 0.2, 0.5
# cells of a field in rows at least, and share of a line that lies within it
_CELLS, _WITHIN = 6.0, 0.5
# how near to such a line an image of another lies, in roots of a cell's faces, and
# share of them that have another one beside them
_NEAR, _SEVERAL = 0.08, 0.25
# share of a panel's shorter side that it runs along
_ALONG_SIDE = 0.5


def part_faces(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32
) -> tuple[list[Ints32], Bools, Bools]:
    """Return the faces of fields, and those between frame lines.

    What a lattice explains is a field wherever lines lie; the rest hangs together
    across edges that are no frame lines. One group when there is no panel.

    `faces`: the faces to part. Returns `parts`: faces of each part; `explained`: which
    of the faces a lattice explains; `frame` (E,): edges on lines of a frame.
    """
    whole = np.zeros(len(faces), dtype=bool)
    barrier = find_frame_edges(arrangement)
    label = face_parts(arrangement, barrier)
    field, bases = find_fields(arrangement, measures, faces, barrier, label)
    if barrier.any() and (field[faces] < 0).all():
        fewer = _without_lines_of_rows(arrangement, measures, faces, barrier)
        if (fewer != barrier).any():
            barrier, label = fewer, face_parts(arrangement, fewer)
            field, bases = find_fields(arrangement, measures, faces, barrier, label)
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    within = barrier & (field[a] >= 0) & (field[a] == field[b])
    if within.any():
        # lines of the field, which hide more of it beside them
        barrier = barrier & ~within
        label = face_parts(arrangement, barrier)
        field, bases = find_fields(arrangement, measures, faces, barrier, label)
    if not barrier.any() and (field[faces] == field[faces[0]]).all():
        return [faces], whole, barrier
    open_edge = ~barrier & (a != 0) & (b != 0)
    open_edge &= (field[a] < 0) & (field[b] < 0)
    label = part_numbers(a[open_edge], b[open_edge], arrangement.face_count)
    field = _with_scraps(arrangement, measures, field, bases, label, ~barrier)
    label = np.where(field >= 0, arrangement.face_count + field, label)
    _, label = np.unique(label[faces], return_inverse=True)
    size = np.bincount(label)
    if len(size) < 2 or len(size) > 40 * _MOST_PARTS:
        return [faces], whole, barrier
    label = _merge_alike(arrangement, measures, faces, label, barrier)
    label = _join_small(arrangement, measures, faces, label)
    count = int(label.max()) + 1
    size = np.bincount(label)
    if count < 2 or not 1 <= (size >= FEWEST).sum() <= _MOST_PARTS:
        return [faces], whole, barrier
    return [faces[label == k] for k in range(count)], field[faces] >= 0, barrier


def _join_small(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, label: Ints
) -> Ints:
    """Join neighbouring parts too small for a symmetry, but for strips of a frame.

    The diagonals of a corner piece look like mitres.
    """
    of = np.full(arrangement.face_count, -1, dtype=np.int64)
    few = (np.bincount(label) < FEWEST)[label] & ~strips(arrangement, measures, faces)
    of[faces[few]] = label[few]
    a, b = of[arrangement.face[0::2]], of[arrangement.face[1::2]]
    beside = (a >= 0) & (b >= 0) & (a != b)
    onto = part_numbers(a[beside], b[beside], int(label.max()) + 1)
    return np.unique(onto[label], return_inverse=True)[1].astype(np.int64)


def _with_scraps(
    arrangement: Arrangement,
    measures: FaceMeasures,
    field: Ints,
    bases: list[Floats],
    label: Ints,
    open_edge: Bools,
) -> Ints:
    """Join scraps that a frame cuts off a field with it; plain strips stay.

    `bases`: shifts of each field.
    """
    size = np.bincount(label)
    scrap = (field < 0) & (size[label] < FEWEST)
    scrap[0] = False
    every = np.arange(arrangement.face_count, dtype=np.int32)
    strip = strips(arrangement, measures, every)
    # a strip of a frame runs along a side of it, and a scrap along a repeat
    points = arrangement.vertices[arrangement.origin]
    side = float(np.ptp(points, axis=0).min())
    scrap &= ~(strip & (measures.length > 2.0 * _ALONG_SIDE * side))
    member = field >= 0
    member[0] = False
    usual = float(np.median(arrangement.area[member])) if member.any() else 0.0
    # across a line of a frame, what lies along the field with most of its outline
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    ends = arrangement.vertices[arrangement.origin]
    size = np.hypot(*(ends[1::2] - ends[0::2]).T)
    along = np.bincount(left, size * member[right], len(member))
    along += np.bincount(right, size * member[left], len(member))
    # of a scrap at the rim the frame itself is no neighbour
    inner = measures.length - np.bincount(left, size * (right == 0), len(member))
    inner -= np.bincount(right, size * (left == 0), len(member))
    small = (arrangement.area < usual) & (along > _ENCLOSED * inner)
    # what is whole is no larger than the faces of the field: an empty corner square is
    # none, and the ground about a wheel may be
    area, rings = arrangement.area, np.diff(arrangement.face_ring_start)
    largest = np.zeros(int(field.max(initial=0)) + 1)
    np.maximum.at(largest, field[member], area[member])
    strange = _strange_scraps(
        arrangement,
        field,
        bases,
        open_edge,
        scrap & (area > _LARGE * usual) & (rings == 1),
    )
    joined = field.copy()
    # what no line of a frame parts comes first: a triangle of a border's rows has its
    # longest side on the field's frame
    for open_, some in ((open_edge, scrap), (~open_edge, scrap & small)):
        some = some & (joined < 0)
        for one, other in ((left, right), (right, left)):
            row = np.flatnonzero(open_ & some[one] & (field[other] >= 0))
            fits = area[one[row]] <= _NO_LARGER * largest[field[other[row]]]
            row = row[fits | (rings[one[row]] > 1)]
            if open_ is open_edge:
                row = row[~strange[one[row]]]
            joined[one[row]] = field[other[row]]
    return joined


def _strange_scraps(
    arrangement: Arrangement,
    field: Ints,
    bases: list[Floats],
    open_edge: Bools,
    asked: Bools,
) -> Bools:
    """Return which faces beside fields have hardly a line that a field's shifts keep.

    Of the lines that no frame drew: an empty square in the corner of a coarse field.
    `asked`: faces of none.
    """
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    strange = np.zeros_like(asked)
    for number, basis in enumerate(bases):
        own = field == number
        if not own.any():
            continue
        near = np.zeros_like(asked)
        near[left[open_edge & own[right]]] = near[right[open_edge & own[left]]] = True
        near &= asked
        edge = np.flatnonzero((near[left] | near[right]) & (left > 0) & (right > 0))
        if len(edge) == 0:
            continue
        holds, length = edges_that_hold(
            arrangement, edge, far_shifts(basis), np.flatnonzero(own)
        )
        both = np.concatenate([left[edge], right[edge]])
        kept, whole = (
            np.bincount(both, np.tile(length * w, 2), len(asked))
            for w in (holds, np.ones_like(length))
        )
        strange |= near & (kept < _OWN_LINES * whole)
    return strange


def _without_lines_of_rows(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, barrier: Bools
) -> Bools:
    """Return frame lines but for those that lie within one field.

    No row between two such lines shows more than one shift; all rows together do. A
    line along most of which the cells of one lattice lie on both sides is the field's.
    """
    none = np.zeros(arrangement.edge_count, dtype=bool)
    basis = shifts_of(arrangement, measures, faces, none)
    if basis is None:
        return barrier
    cell = abs(float(np.linalg.det(basis)))
    shifts = shifts_beside(basis)
    core = faces[in_cells(onto_by(arrangement, measures, faces, shifts)[:, 0])]
    # the sides of a border lie in few cells, as wide as the panel
    if len(core) < FIELD or arrangement.area[core].sum() < _CELLS * cell:
        return barrier
    inside = marked(core, arrangement.face_count)
    link = straight_links(arrangement)
    half = np.flatnonzero(link >= 0)
    one, other = half // 2, link[half] // 2
    along = barrier[one] & barrier[other]
    line = part_numbers(one[along], other[along], arrangement.edge_count)
    ends = arrangement.vertices[arrangement.origin]
    size = barrier * np.hypot(*(ends[1::2] - ends[0::2]).T)
    sides = inside[arrangement.face].reshape(-1, 2)
    both = sides.all(axis=1)
    whole, within = (np.bincount(line, size * w) for w in (np.ones_like(size), both))
    rows = barrier & (within > _WITHIN * whole)[line]
    own = np.flatnonzero(rows & (size > 0))
    if len(own) == 0:
        return barrier
    near = _NEAR * float(np.median(measures.size[core]))
    onto = LineIndex(np.hstack([ends[0::2], ends[1::2]])[own], near)

    def beside(edge: Ints) -> Bools:
        """Return which edges a shift athwart them carries onto such a line."""
        start, step = ends[2 * edge], ends[2 * edge + 1] - ends[2 * edge]
        along = step / np.maximum(np.hypot(*step.T), 1e-300)[:, None]
        found = np.zeros(len(edge), dtype=bool)
        for s in (*shifts, *-shifts):
            athwart = np.abs(along @ np.array([-s[1], s[0]])) > 2 * near
            found |= athwart & np.isfinite(onto.nearest(start + step / 2 + s, along)[0])
        return found

    # two rows of a border have one line between them
    if beside(own).mean() < _SEVERAL:
        return barrier
    # a medallion cuts the cells on one side of some
    asked = np.flatnonzero(barrier & ~rows & sides.any(axis=1))
    asked = asked[~_bounding(measures.centroid[core], ends.reshape(-1, 4), line, asked)]
    rows[asked] = beside(asked)
    return barrier & ~rows


def _bounding(points: Floats, ends: Floats, line: Ints, edge: Ints) -> Bools:
    """Return which edges are of straight lines that have all points on one side.

    Such are a frame's though it lies as far from the last row as rows from each other.
    `ends` (E, 4): of all edges. `line` (E,): number of the line that each is of.
    """
    import shapely

    hull = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(points)))
    found = np.zeros(len(edge), dtype=bool)
    for number in distinct(line[edge]).tolist():
        own = ends[line == number].reshape(-1, 2)
        first = own[np.hypot(*(own - own[0]).T).argmax()]
        # from end to end, since between them a hand strays
        step = own[np.hypot(*(own - first).T).argmax()] - first
        aside = (hull - first) @ np.array([-step[1], step[0]])
        found[line[edge] == number] = aside.min() > 0 or aside.max() < 0
    return found


def _merge_alike(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    label: Ints,
    barrier: Bools,
) -> Ints:
    """Join parts on both sides of a long line that hold the same faces.

    Faces are the same when they are congruent and not turned: the sides of a
    border that meet at a mitre are turned, rows of one pattern are not.
    """
    kind, side, turn, _ = class_congruent(arrangement, measures, faces)
    span = int(turn.max()) + 1
    _, kind = np.unique((kind * 2 + side) * span + turn, return_inverse=True)
    row_of = np.full(arrangement.face_count, -1, dtype=np.int64)
    row_of[faces] = np.arange(len(faces))
    edge = np.flatnonzero(barrier)
    a = row_of[arrangement.face[2 * edge]]
    b = row_of[arrangement.face[2 * edge + 1]]
    keep = (a >= 0) & (b >= 0)
    a, b = a[keep], b[keep]
    # faces that a frame may have cut say nothing
    touching = np.zeros(len(faces), dtype=bool)
    touching[a] = touching[b] = True
    touching[row_of[arrangement.face[outer_sides(arrangement, faces)]]] = True
    area, middle = arrangement.area[faces], measures.centroid[faces]
    merged = True
    while merged:
        merged = False
        pairs = distinct_pairs(np.sort(np.column_stack([label[a], label[b]]), axis=1))
        for one, other in pairs[pairs[:, 0] != pairs[:, 1]].tolist():
            parts = label == one, label == other
            if _alike(kind, area, touching, *parts) and _goes_on(kind, middle, *parts):
                label = np.where(label == other, one, label)
                merged = True
                break
    return np.unique(label, return_inverse=True)[1].astype(np.int64)


def _alike(kind: Ints, area: Floats, touching: Bools, one: Bools, other: Bools) -> bool:
    """Tell whether two parts are mostly made of faces that both of them hold."""
    for strict in (True, False):
        a = one & ~touching if strict else one
        b = other & ~touching if strict else other
        if strict and (a.sum() < FEWEST or b.sum() < FEWEST):
            continue
        if not a.any() or not b.any():
            return False
        kinds = int(kind.max()) + 1
        held = [np.bincount(kind[s], minlength=kinds) > 0 for s in (a, b)]
        common = (held[0] & held[1])[kind]
        shares = [float(area[s & common].sum() / area[s].sum()) for s in (a, b)]
        return min(shares) >= _ALIKE
    return False


def _goes_on(kind: Ints, middle: Floats, one: Bools, other: Bools) -> bool:
    """Tell whether faces that two parts hold return by like steps in both.

    Circles lie alike on both sides of a mitre, and their rows do not.
    """
    common = np.intersect1d(kind[one], kind[other])
    steps = [_next_steps(kind, middle, part, common) for part in (one, other)]
    if not all(len(s) for s in steps):
        return True
    apart = steps[0][:, None] - steps[1][None]
    size = np.hypot(*steps[0].T)[:, None]
    return bool((np.hypot(*np.moveaxis(apart, -1, 0)) < _STEP * size).any())


def _next_steps(kind: Ints, middle: Floats, part: Bools, common: Ints) -> Floats:
    """Return the steps from faces to the nearest of their kind, both ways."""
    found = [np.zeros((0, 2))]
    for number in common[:_KINDS_ASKED].tolist():
        points = middle[part & (kind == number)][:_FACES_ASKED]
        gap = points[None] - points[:, None]
        away = np.hypot(*np.moveaxis(gap, -1, 0))
        np.fill_diagonal(away, np.inf)
        if len(points) > 1:
            near = away <= (1 + _STEP) * away.min(axis=1)[:, None]
            found += [gap[near], -gap[near]]
    return np.concatenate(found)


def strips(arrangement: Arrangement, measures: FaceMeasures, faces: Ints32) -> Bools:
    """Return which faces are as long and narrow as the strips of a frame.

    `faces`: the faces that are asked about.
    """
    area = arrangement.area[faces]
    return np.asarray(measures.length[faces] ** 2 > _STRIP * area, bool)


def between(arrangement: Arrangement, parts: list[Ints32]) -> Bools:
    """Return which edges lie between two of some parts, (E,)."""
    part = np.full(arrangement.face_count, -1, dtype=np.int64)
    for k, faces in enumerate(parts):
        part[faces] = k
    a, b = part[arrangement.face[0::2]], part[arrangement.face[1::2]]
    return np.asarray((a >= 0) & (b >= 0) & (a != b))
