"""Which faces one lattice carries onto like faces, wherever frame lines lie.

Two shifts are proposed by pairs of like faces near each other. Faces that most of
these shifts carry onto like ones are the *core* of a field. Where the core ends,
the field's own lines still agree with it: an edge *holds* when its images that fall
into the core lie on lines. Faces that hang on the core by such edges belong to the
field, though a frame or a medallion cuts them; what lies beyond does not.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.symmetry.faces.measures import is_long, outer_sides
from fillwork.symmetry.faces.places import Matcher, marks_of_faces
from fillwork.symmetry.faces.strangers import all_strangers
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.lines.lattice import reduce_basis
from fillwork.symmetry.lines.near_lines import LineIndex
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.quotient import quotient_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import Any

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.faces.places import Marks

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


# faces that vote, and like faces about each that they vote with
_VOTERS = 300
_PARTNERS = 24
# shifts of which faces are asked
_TRIED = 24
# share of the faces asked that a shift must carry onto like ones
_CARRIED = 0.4
_BESIDE_BEST = 0.85
# first so many shifts are asked two by two for cells
_PAIRED = 12
# sine of the angle from which two shifts are not in line
_SLANT = 0.2
# how much means of the powers of an outline's points may differ
_POSE = np.array([0.03, 0.05, 0.08])
# faces above which it is asked first whether any has its like
_MANY = 1000
# faces that must be asked
_ASKED = 6
# images of a face that must be like faces
_HITS = 3
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
# share of a zone's faces that must be carried along two lines
_BOTH_WAYS = 0.25
# share of a strip's faces that lie between their like ones both ways
_THREE_ROWS = 0.05
# share of a field's faces that a part cut out of it has at most
_ISLAND = 0.1
# and of its lines that must hold
_OF_ISLAND = 0.5
# how far from those known a shift is another, in the shortest of them
_OFF = 0.15
# how near a line must be, in roots of the median area of a face
_NEAR = 0.08


def shifts_of(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.integer],
    barrier: NDArray[np.bool_],
) -> Floats | None:
    """Return two shifts that carry most faces onto like faces.

    `faces`: faces to ask. `barrier` (E,): edges that are taken for lines of a frame:
    faces on them are not asked. Returns (2, 2): reduced basis, mm; None when no two
    shifts do.
    """
    faces = np.asarray(faces)
    if len(faces) > _MANY and all_strangers(arrangement, measures, faces):
        return None
    plane = quotient_of(Symmetry(NO_GROUP))
    marks = marks_of_faces(measures, faces, plane, arrangement.tolerance.join_within)
    if len(marks) < 2 * _ASKED:
        return None
    pose = poses_of(arrangement, measures)[faces]
    touching = np.zeros(arrangement.face_count, dtype=bool)
    touching[arrangement.face[0::2][barrier]] = True
    touching[arrangement.face[1::2][barrier]] = True
    outer = outer_sides(arrangement, faces)
    touching[arrangement.face[outer]] = True
    inner = ~touching[faces]
    if inner.sum() < _ASKED:
        inner[:] = True
    tried = _voted(marks.take(inner), pose[inner])
    if len(tried) < 2:
        return None
    hits = _hits_both_ways(marks, pose, tried)
    # most faces that several shifts carry are the pattern's: the others' are not asked,
    # such as those of a medallion, nor where an image would fall among them
    core = inner & ((hits >= 0).sum(axis=(0, 1)) >= _HITS)
    if core.sum() < _ASKED:
        return None
    # faces of a border that repeats as the field does are carried along it alone
    field = core & _in_most_cells(hits[:, 0], tried)
    for asked in (field, core):
        vectors = _carrying(arrangement, marks, faces, tried, hits[:, 0], asked)
        basis = _shortest_two(vectors)
        if basis is not None:
            return basis
    return None


def _carrying(
    arrangement: Arrangement,
    marks: Marks,
    faces: NDArray[np.integer],
    tried: Floats,
    onto: Ints,
    core: NDArray[np.bool_],
) -> Floats:
    """Return those of the shifts tried that carry most of a core onto like faces."""
    none = np.zeros((0, 2))
    if core.sum() < _ASKED:
        return none
    tree = _tree(arrangement, faces[core])
    found = []
    for shift, hit in zip(tried, onto, strict=True):
        good = np.flatnonzero(core & (hit >= 0))
        if len(good) < _ASKED:
            continue
        missed = _inside(tree, marks.xy[core & (hit < 0)] + shift)
        mean = (marks.xy[hit[good]] - marks.xy[good]).mean(axis=0)
        found.append((len(good) / (len(good) + int(missed.sum())), mean))
    if len(found) < 2:
        return none
    share = np.array([f[0] for f in found])
    vectors = np.array([f[1] for f in found])
    return vectors[share >= max(_CARRIED, _BESIDE_BEST * float(share.max()))]


def _shortest_two(vectors: Floats) -> Floats | None:
    """Return the reduced basis of the shortest two shifts that are not in line."""
    order = np.argsort(np.round((vectors**2).sum(axis=1), 6), kind="stable")
    for k in order[1:]:
        first, v = vectors[order[0]], vectors[k]
        if abs(_cross(first, v)) > _SLANT * float(np.hypot(*first) * np.hypot(*v)):
            return reduce_basis(np.stack([first, v]))
    return None


def _cross(u: Floats, v: Floats) -> float:
    return float(u[0] * v[1] - u[1] * v[0])


def _in_most_cells(onto: Ints, tried: Floats) -> NDArray[np.bool_]:
    """Return the faces in cells of those two shifts that make most of them."""
    pairs = [
        _cells(onto[j], onto[k])
        for j, k in combinations(range(min(len(tried), _PAIRED)), 2)
        if abs(_cross(tried[j], tried[k]))
        > _SLANT * float(np.hypot(*tried[j]) * np.hypot(*tried[k]))
    ]
    none = np.zeros(onto.shape[1], dtype=bool)
    return max(pairs, key=lambda found: int(found.sum()), default=none)


def share_carried(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.integer],
    basis: Floats,
    noise: float,
) -> float:
    """Return which share of faces some short shift of a lattice carries onto like ones.

    Lines may agree with a lattice where regions show nothing of it, as those of a star
    do that is a piece of a pattern by chance.

    0 to 1; 0 where few are carried along two lines, though there are two shifts: the
    sides of a border show one each.

    `basis` (k, 2): one or two shifts, mm. `noise`: how far lines stray from their
    places, mm.
    """
    faces = np.asarray(faces)
    shifts = (
        [*basis] if len(basis) == 1 else [*basis, basis.sum(0), basis[0] - basis[1]]
    )
    onto = _onto_by(arrangement, measures, faces, np.array(shifts), noise)
    hit: NDArray[np.bool_] = onto.max(axis=1) >= 0
    if (hit.sum(axis=0) >= len(basis)).mean() < _BOTH_WAYS:
        return 0.0
    return float(hit.any(axis=0).mean())


def repeating(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    symmetry: Symmetry,
) -> NDArray[np.int32]:
    """Return the faces that some short shift of a symmetry carries onto like ones.

    `faces`: faces to ask. `symmetry`: what has a lattice. Returns some of them, in
    their order.
    """
    if symmetry.lattice is None or len(faces) == 0:
        return faces[:0]
    basis = symmetry.lattice.basis
    onto = _onto_by(arrangement, measures, faces, basis, symmetry.residual)
    return faces[(onto >= 0).any(axis=(0, 1))]


def share_shifted(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    basis: Floats,
    noise: float,
    orbit: Ints | None = None,
) -> float:
    """Return which share of faces a further shift carries onto like ones lying alike.

    Of the shift that carries most, back and forth.

    `faces`: the faces of a zone, two or more. `basis` (k, 2): shifts that are known,
    mm: whole combinations of them are not asked. `noise`: how far lines stray from
    their places, mm. `orbit`: of each face of a strip, the same number for those that
    its operations carry onto each other: what shifts athwart the strip carry so too,
    they say already.
    """
    noise = max(noise, arrangement.tolerance.join_within)
    marks = marks_of_faces(measures, faces, quotient_of(Symmetry(NO_GROUP)), noise)
    pose = poses_of(arrangement, measures)[faces]
    tried = _voted(marks, pose)
    if len(basis) and len(tried):
        along = tried @ np.linalg.pinv(basis)
        off = tried - np.rint(along) @ basis
        tried = tried[np.hypot(*off.T) > _OFF * np.hypot(*basis.T).min()]
    if len(tried) == 0:
        return 0.0
    onto = _hits_both_ways(marks, pose, tried)
    hit = onto >= 0
    if orbit is not None and len(basis) == 1:
        along = tried @ basis.T / float(basis[0] @ basis[0])
        athwart = np.hypot(*(tried - along * basis).T) > _OFF * np.hypot(*basis[0])
        hit &= ~(athwart[:, None, None] & (orbit[onto] == orbit))
    share = hit.any(axis=1).mean(axis=1)
    best = int(share.argmax())
    if len(basis) == 0:
        return float(share[best])
    # of what repeats a shift must carry all on, back and forth: one of each pair
    # that a glide or a half turn makes is carried to the other, and that no farther
    import shapely

    tree = shapely.STRtree(list(arrangement.polygons(faces)))
    inside = np.zeros_like(hit[best])
    for way, sign in enumerate((1.0, -1.0)):
        points = shapely.points(marks.xy + sign * tried[best])
        inside[way, tree.query(points, predicate="intersects")[0]] = True
    kept = hit[best].any(axis=0) & (hit[best] | ~inside).all(axis=0)
    return float(kept.mean())


def poses_of(
    arrangement: Arrangement, measures: FaceMeasures
) -> NDArray[np.complex128]:
    """Return how the outlines of all faces lie, as `FaceMeasures.pose` tells."""
    return measures.pose


def _onto_by(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.integer],
    shifts: Floats,
    noise: float = 0.0,
) -> Ints:
    """Return the like one of the faces that shifts carry each of them onto."""
    noise = max(noise, arrangement.tolerance.join_within)
    marks = marks_of_faces(measures, faces, quotient_of(Symmetry(NO_GROUP)), noise)
    return _hits_both_ways(marks, poses_of(arrangement, measures)[faces], shifts)


def _hits_both_ways(marks: Marks, pose: NDArray[np.complex128], shifts: Floats) -> Ints:
    """Return the like face, lying the same way, that each shift carries faces onto.

    Of shape (shifts, 2, faces): by the shift and by its reverse; -1 for none.
    """
    matcher = Matcher(marks, quotient_of(Symmetry(NO_GROUP)))
    return np.array(
        [
            [
                _same_pose(matcher.match(marks.moved(np.eye(2), sign * v)), pose)
                for sign in (1.0, -1.0)
            ]
            for v in shifts
        ]
    )


def laid_by(pose: NDArray[np.complex128], linear: Floats) -> NDArray[np.complex128]:
    """Return how outlines lie after an operation with a linear part.

    `pose` (n, 3): how they lie before.
    """
    spin = complex(linear[0, 0], linear[1, 0])
    laid = pose.conj() if np.linalg.det(linear) < 0 else pose
    return np.asarray(laid * spin ** np.arange(1, pose.shape[1] + 1), np.complex128)


def same_pose(
    one: NDArray[np.complex128],
    other: NDArray[np.complex128],
    slack: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Return which outlines lie the same way.

    `one` and `other` (n, 3): poses to compare, row by row. `slack` (n,): how far more
    they may be apart, in roots of the area. Returns (n,): True for those within the
    tolerance.
    """
    apart = np.abs(one - other) - slack[:, None]
    return np.asarray((apart <= _POSE).all(axis=1))


def _same_pose(hit: Ints, pose: NDArray[np.complex128]) -> Ints:
    """Return hits without those that lie another way."""
    none = np.zeros(len(hit))
    return np.where((hit >= 0) & same_pose(pose, pose[hit], none), hit, -1)


def _voted(marks: Marks, pose: NDArray[np.complex128]) -> Floats:
    """Return the shifts that most pairs of like faces near each other share."""
    count = len(marks)
    step = max(count // _VOTERS, 1)
    voters = np.arange(count)[::step][:_VOTERS]
    pairs: list[Floats] = []
    for chunk in np.array_split(voters, len(voters) // 32 + 1):
        gap = [marks.xy[None, :, k] - marks.xy[chunk, None, k] for k in range(2)]
        like = np.abs(marks.size[None] - marks.size[chunk, None]) <= np.minimum(
            marks.size_slack[None], marks.size_slack[chunk, None]
        )
        like &= np.abs(marks.length[None] - marks.length[chunk, None]) <= np.minimum(
            marks.length_slack[None], marks.length_slack[chunk, None]
        )
        one, other = np.nonzero(like)
        lies = same_pose(pose[chunk[one]], pose[other], np.zeros(len(one)))
        one, other = one[lies], other[lies]
        away = np.full(like.shape, np.inf)
        away[one, other] = gap[0][one, other] ** 2 + gap[1][one, other] ** 2
        away[np.arange(len(chunk)), chunk] = np.inf
        few = min(_PARTNERS, count - 1)
        partner = np.argpartition(away, few - 1, axis=1)[:, :few].ravel()
        row = np.repeat(np.arange(len(chunk)), few)
        good = np.isfinite(away[row, partner])
        there = row[good], partner[good]
        pairs.append(np.column_stack([gap[0][there], gap[1][there]]))
    votes = np.concatenate(pairs)
    if len(votes) == 0:
        return np.zeros((0, 2))
    flip = (votes[:, 0] < -1e-9) | ((np.abs(votes[:, 0]) <= 1e-9) & (votes[:, 1] < 0))
    votes[flip] *= -1.0
    cell = 0.6 * float(np.median(marks.reach))
    key = np.rint(votes / cell).astype(np.int64)
    low = key.min(axis=0) - 2
    wide = int(np.ptp(key[:, 1])) + 5
    flat = (key[:, 0] - low[0]) * wide + key[:, 1] - low[1]
    value, inverse, size = np.unique(flat, return_inverse=True, return_counts=True)
    inverse = inverse.reshape(-1)
    total = np.zeros(len(value))
    for dx in (-wide, 0, wide):
        for dy in (-1, 0, 1):
            at = np.searchsorted(value, value + dx + dy)
            at = np.minimum(at, len(value) - 1)
            total += np.where(value[at] == value + dx + dy, size[at], 0)
    chosen: list[Floats] = []
    for k in np.lexsort((value, -total))[: 8 * _TRIED]:
        spot = np.array(divmod(int(value[k]), wide)) + low
        near = np.abs(key - spot).max(axis=1) <= 1
        shift = np.median(votes[near], axis=0)
        if all(np.hypot(*(shift - c)) > 2.0 * cell for c in chosen):
            chosen.append(shift)
            if len(chosen) >= _TRIED:
                break
    return np.array(chosen)


def _tree(arrangement: Arrangement, faces: NDArray[np.integer]) -> Any:
    import shapely

    return shapely.STRtree(arrangement.polygons(faces))


def _inside(tree: Any, points: Floats) -> NDArray[np.bool_]:
    import shapely

    inside = np.zeros(len(points), dtype=bool)
    inside[tree.query(shapely.points(points), predicate="within")[0]] = True
    return inside


def field_of(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.integer],
    basis: Floats,
    barrier: NDArray[np.bool_],
) -> NDArray[np.int32]:
    """Return the faces that a lattice explains, those that are cut too.

    `faces`: faces that may belong to it. `basis` (2, 2): two shifts, mm. `barrier`
    (E,): edges that are taken for lines of a frame: what cuts a face says nothing.
    Returns the faces of the field, ascending; empty when the lattice explains none.
    """
    faces = np.asarray(faces)
    a, b = basis
    lines = np.array([a, b, a + b, a - b])
    shifts = [s * v for v in lines for s in (1.0, -1.0)]
    onto = _onto_by(arrangement, measures, faces, lines)
    hit = onto >= 0
    core = _in_cells(onto[:, 0])
    if core.sum() < _ASKED:
        return np.zeros(0, dtype=np.int32)
    inside = np.zeros(arrangement.face_count, dtype=bool)
    inside[faces[core]] = True
    candidate = np.zeros(arrangement.face_count, dtype=bool)
    candidate[faces] = True
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    # what lies between two faces of the core says nothing more of them
    beyond = ~(inside[left] & inside[right])
    edge = np.flatnonzero((candidate[left] | candidate[right]) & beyond)
    holds, length = _edges_that_hold(arrangement, edge, shifts, faces[core])
    # of the lines that no frame drew
    own = ~barrier[edge]
    p, q = left[edge], right[edge]
    inner = own & candidate[p] & candidate[q]
    reach = part_numbers(p[inner], q[inner], arrangement.face_count)
    # a strip beside the field shares no more than an end with it
    least = np.maximum(_OF_ALL * measures.length, 1e-9)
    total = _beside(p[own], q[own], length[own], arrangement.face_count)
    far = [
        i * a + j * b
        for i in range(-_FAR, _FAR + 1)
        for j in range(-_FAR, _FAR + 1)
        if i or j
    ]
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
        holds[again], _ = _edges_that_hold(
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
    found: NDArray[np.bool_],
    candidate: NDArray[np.bool_],
    barrier: NDArray[np.bool_],
    shifts: list[Floats],
) -> NDArray[np.bool_]:
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
    holds, length = _edges_that_hold(arrangement, edge, shifts, np.flatnonzero(found))
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


def _beside(
    p: NDArray[np.integer], q: NDArray[np.integer], length: Floats, count: int
) -> Floats:
    """Return which length of some edges, with faces p and q beside them, each has."""
    both = np.concatenate([p, q])
    return np.bincount(both, np.tile(length, 2), count).astype(np.float64)


def cells_of(
    arrangement: Arrangement, measures: FaceMeasures, faces: NDArray[np.int32]
) -> NDArray[np.int32]:
    """Return the faces that stand with three like ones at the corners of a cell.

    The ground about a medallion, which nothing repeats, is not among them.

    `faces`: the faces of a zone. Returns some of them, ascending; none where they show
    no two shifts.
    """
    no_frame = np.zeros(arrangement.edge_count, dtype=bool)
    basis = shifts_of(arrangement, measures, faces, no_frame)
    if basis is None:
        return faces[:0]
    a, b = basis
    lines = np.array([a, b, a + b, a - b])
    onto = _onto_by(arrangement, measures, faces, lines)
    return faces[_in_cells(onto[:, 0])]


def _in_cells(onto: Ints) -> NDArray[np.bool_]:
    """Return which faces stand with three like ones at the corners of a cell.

    A row of a border shows no cell, nor do two that meet at a corner, though a face
    there has as many like ones about it as one at a corner of a field.

    `onto` (4, n): the face that each of the shifts a, b, a + b, a - b carries faces
    onto, or -1.
    """
    found = np.zeros(onto.shape[1], dtype=bool)
    for j, k in ((0, 1), (0, 2), (0, 3), (1, 2), (1, 3)):
        found |= _cells(onto[j], onto[k])
    return found


def _cells(one: Ints, other: Ints) -> NDArray[np.bool_]:
    """Return which faces two shifts carry round a cell of like ones."""
    found = np.zeros(len(one), dtype=bool)
    # a last row for what is carried onto nothing
    across = np.append(other, -1)[one]
    face = np.flatnonzero((across >= 0) & (across == np.append(one, -1)[other]))
    for corner in (face, one[face], other[face], across[face]):
        found[corner] = True
    return found


def _wide_parts(
    arrangement: Arrangement,
    member: NDArray[np.bool_],
    between: NDArray[np.bool_],
    basis: Floats,
    barrier: NDArray[np.bool_],
) -> NDArray[np.int32]:
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


def _edges_that_hold(
    arrangement: Arrangement,
    edge: Ints,
    shifts: list[Floats],
    core: NDArray[np.integer],
) -> tuple[NDArray[np.bool_], Floats]:
    """Return which edges have their images in the core on lines, and lengths."""
    points = arrangement.vertices
    start = points[arrangement.origin[0::2]]
    stop = points[arrangement.origin[1::2]]
    step = stop - start
    size = np.hypot(step[:, 0], step[:, 1])
    inside = np.zeros(arrangement.face_count, dtype=bool)
    inside[core] = True
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
    inner = _inside(_tree(arrangement, core), np.concatenate(places))
    asked = hit + np.bincount(row[inner], minlength=len(edge))
    holds = (hit >= 3) & (hit >= _HOLDS * asked)
    return holds, size[edge]
