"""Which faces one lattice carries onto like faces, wherever frame lines lie.

Two shifts are proposed by pairs of like faces near each other. Faces that most of
these shifts carry onto like ones tell which of them are the pattern's.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.faces.measures import is_long, outer_sides
from fillwork.symmetry.faces.places import Matcher, marks_of_faces
from fillwork.symmetry.faces.strangers import all_strangers
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.lines.lattice_fit import reduce_basis
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.quotient import quotient_of

if TYPE_CHECKING:
    from typing import Any

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Complexes, Floats, Ints, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.faces.places import Marks
    from fillwork.symmetry.model import Lattice


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
ASKED = 6
# images of a face that must be like faces
_HITS = 3
# share of a zone's faces that must be carried along two lines
_BOTH_WAYS = 0.25
# how far from those known a shift is another, in the shortest of them
_OFF = 0.15
# by how much of its width what carries a strip onto itself moves it across: it keeps
# the rails, and what lays one of two rows of figures onto the other does not
BESIDE = 0.15


def shifts_of(
    arrangement: Arrangement, measures: FaceMeasures, faces: AnyInts, barrier: Bools
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
    if len(marks) < 2 * ASKED:
        return None
    pose = measures.pose[faces]
    touching = np.zeros(arrangement.face_count, dtype=bool)
    touching[arrangement.face[0::2][barrier]] = True
    touching[arrangement.face[1::2][barrier]] = True
    outer = outer_sides(arrangement, faces)
    touching[arrangement.face[outer]] = True
    inner = ~touching[faces]
    if inner.sum() < ASKED:
        inner[:] = True
    tried = _voted(marks.take(inner), pose[inner])
    if len(tried) < 2:
        return None
    hits = _hits_both_ways(marks, pose, tried)
    # most faces that several shifts carry are the pattern's: the others' are not asked,
    # such as those of a medallion, nor where an image would fall among them
    core = inner & ((hits >= 0).sum(axis=(0, 1)) >= _HITS)
    if core.sum() < ASKED:
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
    faces: AnyInts,
    tried: Floats,
    onto: Ints,
    core: Bools,
) -> Floats:
    """Return those of the shifts tried that carry most of a core onto like faces."""
    none = np.zeros((0, 2))
    if core.sum() < ASKED:
        return none
    tree = tree_of(arrangement, faces[core])
    found = []
    for shift, hit in zip(tried, onto, strict=True):
        like = hit >= 0
        good = np.flatnonzero(core & like)
        if len(good) < ASKED:
            continue
        missed = inside_of(tree, marks.xy[core & ~like] + shift)
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


def _in_most_cells(onto: Ints, tried: Floats) -> Bools:
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
    faces: AnyInts,
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
    shifts = basis if len(basis) == 1 else shifts_beside(basis)
    onto = onto_by(arrangement, measures, faces, shifts, noise)
    hit: Bools = onto.max(axis=1) >= 0
    if (hit.sum(axis=0) >= len(basis)).mean() < _BOTH_WAYS:
        return 0.0
    return float(hit.any(axis=0).mean())


def repeating(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, symmetry: Symmetry
) -> Ints32:
    """Return the faces that some short shift of a symmetry carries onto like ones.

    `faces`: faces to ask. `symmetry`: what has a lattice. Returns some of them, in
    their order.
    """
    if symmetry.lattice is None or len(faces) == 0:
        return faces[:0]
    basis = symmetry.lattice.basis
    onto = onto_by(arrangement, measures, faces, basis, symmetry.residual)
    return faces[(onto >= 0).any(axis=(0, 1))]


def share_shifted(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    basis: Floats,
    noise: float,
    rails: Floats,
) -> float:
    """Return which share of faces a further shift carries onto like ones lying alike.

    Of the shift that carries most, back and forth. `faces`: the faces of a zone, two or
    more. `basis` (k, 2): shifts that are known, mm: whole combinations of them are not
    asked. `noise`: how far lines stray from their places, mm. `rails` (2,): what
    `athwart` tells of them: shifts that keep no strip are not asked.
    """
    noise = max(noise, arrangement.tolerance.join_within)
    marks = marks_of_faces(measures, faces, quotient_of(Symmetry(NO_GROUP)), noise)
    pose = measures.pose[faces]
    tried = _voted(marks, pose)
    if len(basis) and len(tried):
        along = tried @ np.linalg.pinv(basis)
        off = tried - np.rint(along) @ basis
        tried = tried[np.hypot(*off.T) > _OFF * np.hypot(*basis.T).min()]
    tried = tried[np.abs(tried @ rails) <= BESIDE]
    if len(tried) == 0:
        return 0.0
    hit = _hits_both_ways(marks, pose, tried) >= 0
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


def athwart(arrangement: Arrangement, faces: Ints32, lattice: Lattice | None) -> Floats:
    """Return a unit vector across a strip that repeats, over how far it reaches.

    What carries a strip onto itself keeps its rails. Zero of what is no strip.

    `faces`: those of a zone. `lattice`: its shifts.
    """
    if lattice is None or len(lattice.basis) == 2 or not is_long(arrangement, faces):
        return np.zeros(2)
    along = lattice.basis[0] / np.hypot(*lattice.basis[0])
    across = np.array([-along[1], along[0]])
    half = np.isin(arrangement.face, faces)
    high = np.ptp(arrangement.vertices[arrangement.origin[half]] @ across)
    return np.asarray(across / float(high))


def onto_by(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: AnyInts,
    shifts: Floats,
    noise: float = 0.0,
) -> Ints:
    """Return the like one of the faces that shifts carry each of them onto."""
    noise = max(noise, arrangement.tolerance.join_within)
    marks = marks_of_faces(measures, faces, quotient_of(Symmetry(NO_GROUP)), noise)
    return _hits_both_ways(marks, measures.pose[faces], shifts)


def _hits_both_ways(marks: Marks, pose: Complexes, shifts: Floats) -> Ints:
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


def laid_by(pose: Complexes, linear: Floats) -> Complexes:
    """Return how outlines lie after an operation with a linear part.

    `pose` (n, 3): how they lie before.
    """
    spin = complex(linear[0, 0], linear[1, 0])
    laid = pose.conj() if np.linalg.det(linear) < 0 else pose
    return np.asarray(laid * spin ** np.arange(1, pose.shape[1] + 1), np.complex128)


def same_pose(one: Complexes, other: Complexes, slack: Floats) -> Bools:
    """Return which outlines lie the same way.

    `one` and `other` (n, 3): poses to compare, row by row. `slack` (n,): how far more
    they may be apart, in roots of the area. Returns (n,): True for those within the
    tolerance.
    """
    apart = np.abs(one - other) - slack[:, None]
    return np.asarray((apart <= _POSE).all(axis=1))


def _same_pose(hit: Ints, pose: Complexes) -> Ints:
    """Return hits without those that lie another way."""
    none = np.zeros(len(hit))
    return np.where((hit >= 0) & same_pose(pose, pose[hit], none), hit, -1)


def _voted(marks: Marks, pose: Complexes) -> Floats:
    """Return the shifts that most pairs of like faces near each other share."""
    count = len(marks)
    step = max(count // _VOTERS, 1)
    voters = np.arange(count)[::step][:_VOTERS]
    pairs: list[Floats] = []
    # a column each: strides and roots of complex numbers are slow
    lies = [(p.real.copy(), p.imag.copy()) for p in pose.T]
    for chunk in np.array_split(voters, len(voters) // 32 + 1):
        gap = [marks.xy[None, :, k] - marks.xy[chunk, None, k] for k in range(2)]
        like = np.abs(marks.size[None] - marks.size[chunk, None]) <= np.minimum(
            marks.size_slack[None], marks.size_slack[chunk, None]
        )
        like &= np.abs(marks.length[None] - marks.length[chunk, None]) <= np.minimum(
            marks.length_slack[None], marks.length_slack[chunk, None]
        )
        for (real, imaginary), most in zip(lies, _POSE, strict=True):
            off = (real - real[chunk, None]) ** 2
            off += (imaginary - imaginary[chunk, None]) ** 2
            like &= off <= most**2
        away = np.where(like, gap[0] ** 2 + gap[1] ** 2, np.inf)
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
    value, size = np.unique(flat, return_counts=True)
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


def tree_of(arrangement: Arrangement, faces: AnyInts) -> Any:
    """Return an index of some faces, to ask what lies in them."""
    import shapely

    return shapely.STRtree(arrangement.polygons(faces))


def inside_of(tree: Any, points: Floats) -> Bools:
    """Return which points lie in the faces of an index."""
    import shapely

    inside = np.zeros(len(points), dtype=bool)
    inside[tree.query(shapely.points(points), predicate="within")[0]] = True
    return inside


def cells_of(arrangement: Arrangement, measures: FaceMeasures, faces: Ints32) -> Ints32:
    """Return the faces that stand with three like ones at the corners of a cell.

    The ground about a medallion, which nothing repeats, is not among them. `faces`: the
    faces of a zone. Returns some of them, ascending; none where they show no two
    shifts.
    """
    no_frame = np.zeros(arrangement.edge_count, dtype=bool)
    basis = shifts_of(arrangement, measures, faces, no_frame)
    if basis is None:
        return faces[:0]
    onto = onto_by(arrangement, measures, faces, shifts_beside(basis))
    return faces[in_cells(onto[:, 0])]


def shifts_beside(basis: Floats) -> Floats:
    """Return the shifts a, b, a + b and a - b of a lattice, mm.

    `basis` (2, 2): a and b, mm.
    """
    a, b = basis
    return np.array([a, b, a + b, a - b])


def in_cells(onto: Ints) -> Bools:
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


def _cells(one: Ints, other: Ints) -> Bools:
    """Return which faces two shifts carry round a cell of like ones."""
    found = np.zeros(len(one), dtype=bool)
    # a last row for what is carried onto nothing
    across = np.append(other, -1)[one]
    face = np.flatnonzero((across >= 0) & (across == np.append(one, -1)[other]))
    for corner in (face, one[face], other[face], across[face]):
        found[corner] = True
    return found
