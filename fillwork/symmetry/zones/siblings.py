"""Zones that are copies of each other, and the kinds that they share.

The sides of a border, the four corner pieces, flowers that return: each is a
zone with a symmetry of its own, yet a maker paints them alike. When an isometry
carries most of a zone's faces onto faces of another zone of the same group,
kinds that it carries onto each other are one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.faces.places import Matcher, marks_of_faces
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.quotient import quotient_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.faces.places import Marks
    from fillwork.symmetry.model import Zone


# share of the smaller zone's faces that must land on like faces
_SHARED = 0.7
# isometries tried for two zones
_TRIES = 240
# by how much parts may stand off corners, in roots of the area of one
_OFF_CORNERS = 0.1


def shared_kinds(
    measures: FaceMeasures, zones: Sequence[Zone], kind: Ints, whole: Bools
) -> dict[int, tuple[int, int, int]]:
    """Find the kinds that zones have in common.

    For a kind of a later zone the kind of an earlier one that it is, a face of the
    earlier kind and the face of the later kind that this is carried to.

    `zones`: the zones, by index. `kind` (F,): kind of each face; no number stands in
    two zones. `whole` (F,): faces that stand for their kind.
    """
    found: dict[int, tuple[int, int, int]] = {}
    done: set[int] = set()
    for i, first in enumerate(zones):
        if i in done:
            continue
        for j in range(i + 1, len(zones)):
            if j in done or not _comparable(first, zones[j]):
                continue
            pairs = _common(measures, first, zones[j], kind, whole)
            if pairs:
                done.add(j)
                found.update(pairs)
    return found


def find_copy(
    measures: FaceMeasures, faces: AnyInts, others: AnyInts, noise: float
) -> tuple[Floats, Floats, float] | None:
    """Find the isometry that carries all faces of one part onto another's.

    `faces` and `others`: faces of the two parts. `noise`: how far lines stray from
    their places, mm. Returns (2, 2), (2,): linear part and what it adds, in mm, fitted
    to all centres, and how far these miss, mm; None when the parts are no copies.
    """
    if len(faces) != len(others):
        return None
    plane = quotient_of(Symmetry(NO_GROUP))
    mine = marks_of_faces(measures, np.asarray(faces), plane, noise)
    theirs = marks_of_faces(measures, np.asarray(others), plane, noise)
    size = np.abs(np.sort(mine.size) - np.sort(theirs.size))
    if (size > np.sort(mine.size_slack)).any():
        return None
    matcher = Matcher(theirs, plane)
    for linear, shift in _isometries(mine, theirs):
        hit = matcher.match(mine.moved(linear, shift))
        if (hit < 0).any() or len(np.unique(hit)) < len(hit):
            continue
        # the rotation, or mirror, that fits all centres best
        p, q = mine.xy, theirs.xy[hit]
        a, b = p - p.mean(axis=0), q - q.mean(axis=0)
        u, _, v = np.linalg.svd(b.T @ a)
        sign = np.sign(np.linalg.det(u @ v) * np.linalg.det(linear))
        best = u @ np.diag([1.0, sign]) @ v
        miss = float(np.sqrt(((b - a @ best.T) ** 2).sum(axis=1).mean()))
        return best, q.mean(axis=0) - best @ p.mean(axis=0), miss
    return None


def _comparable(a: Zone, b: Zone) -> bool:
    if a.symmetry.group.family == "none" or a.role != b.role:
        return False
    if a.symmetry.group.short != b.symmetry.group.short:
        return False
    if a.symmetry.lattice is None or b.symmetry.lattice is None:
        return a.symmetry.lattice is b.symmetry.lattice
    p, q = a.symmetry.lattice.basis, b.symmetry.lattice.basis
    if p.shape != q.shape:
        return False
    lengths = [np.sort(np.linalg.norm(m, axis=1)) for m in (p, q)]
    return bool(np.allclose(lengths[0], lengths[1], rtol=0.03))


def _common(
    measures: FaceMeasures, a: Zone, b: Zone, kind: Ints, whole: Bools
) -> dict[int, tuple[int, int, int]]:
    """Return kinds of b that are kinds of a."""
    small, large = (b, a) if len(b.faces) <= len(a.faces) else (a, b)
    from_faces = small.faces.astype(np.int64)
    onto_faces = large.faces.astype(np.int64)
    if len(from_faces) < 2 or len(onto_faces) < 2:
        return {}
    noise = max(a.symmetry.residual, b.symmetry.residual)
    plane = quotient_of(Symmetry(NO_GROUP))
    mine = marks_of_faces(measures, from_faces, plane, noise)
    theirs = marks_of_faces(measures, onto_faces, plane, noise)
    matcher = Matcher(theirs, plane)
    weight = mine.size**2
    best: tuple[float, Ints] | None = None
    sure = (whole[from_faces], whole[onto_faces])
    tries = _isometries(mine.take(sure[0]), theirs.take(sure[1]))
    for linear, shift in tries or _isometries(mine, theirs):
        hit = matcher.match(mine.moved(linear, shift))
        share = float(weight[hit >= 0].sum() / weight.sum())
        if best is None or share > best[0] + 1e-9:
            best = (share, hit)
            if share > 0.995:
                break
    if best is None or best[0] < _SHARED:
        return {}
    hit = best[1]
    landed = np.flatnonzero(hit >= 0)
    one, other = from_faces[landed], onto_faces[hit[landed]]
    if small is a:
        one, other = other, one
    # `one` are faces of b, `other` those of a
    pairs: dict[int, tuple[int, int, int]] = {}
    taken: set[int] = set()
    votes, count = np.unique(
        np.column_stack([kind[one], kind[other]]), axis=0, return_counts=True
    )
    for row in np.lexsort((votes[:, 1], votes[:, 0], -count)):
        later, earlier = int(votes[row, 0]), int(votes[row, 1])
        if later in pairs or earlier in taken:
            continue
        taken.add(earlier)
        at = np.flatnonzero((kind[one] == later) & (kind[other] == earlier))[0]
        pairs[later] = (earlier, int(other[at]), int(one[at]))
    return pairs


def _isometries(mine: Marks, theirs: Marks) -> list[tuple[Floats, Floats]]:
    """Return isometries that carry two faces of one zone onto like ones."""
    if len(mine) < 2 or len(theirs) < 2:
        return []
    like = _like(mine, theirs)
    rarity = like.sum(axis=1)
    middle = mine.xy.mean(axis=0)
    away = np.hypot(*(mine.xy - middle).T)
    seen = np.where(rarity > 0, rarity, np.iinfo(np.int64).max)
    # faces with few likes, near the middle first, then far from the first one
    i = int(np.lexsort((np.round(away, 6), seen))[0])
    apart = np.hypot(*(mine.xy - mine.xy[i]).T)
    reach = 0.2 * float(apart.max(initial=0.0))
    seconds = np.flatnonzero((rarity > 0) & (apart > max(reach, 1e-9)))
    if len(seconds) == 0:
        return []
    j = int(seconds[np.lexsort((np.round(apart[seconds], 6), seen[seconds]))[0]])
    z = theirs.xy[:, 0] + 1j * theirs.xy[:, 1]
    start = complex(*mine.xy[i])
    step = complex(*mine.xy[j]) - start
    slack = float(mine.reach[i] + mine.reach[j])
    firsts = np.flatnonzero(like[i])
    centre = theirs.xy.mean(axis=0)
    firsts = firsts[np.argsort(np.hypot(*(theirs.xy[firsts] - centre).T))]
    found: list[tuple[Floats, Floats]] = []
    for p in firsts:
        onto = np.flatnonzero(like[j])
        gap = z[onto] - z[p]
        fits = (np.abs(np.abs(gap) - abs(step)) < slack) & (np.abs(gap) > 1e-9)
        for g in gap[fits]:
            for flip in (False, True):
                base = np.conj(step) if flip else step
                spin = g / base
                spin = spin / abs(spin)
                linear = np.array([[spin.real, -spin.imag], [spin.imag, spin.real]])
                if flip:
                    linear = linear @ np.diag([1.0, -1.0])
                found.append((linear, theirs.xy[p] - linear @ mine.xy[i]))
                if len(found) >= _TRIES:
                    return found
    return found


def _like(mine: Marks, theirs: Marks) -> Bools:
    size = np.abs(np.subtract.outer(mine.size, theirs.size))
    length = np.abs(np.subtract.outer(mine.length, theirs.length))
    return np.asarray(
        (size <= np.minimum.outer(mine.size_slack, theirs.size_slack))
        & (length <= np.minimum.outer(mine.length_slack, theirs.length_slack))
    )


def stand_in_corners(measures: FaceMeasures, parts: list[Ints32]) -> bool:
    """Tell whether parts stand in the corners of rectangles about each other.

    Bands side by side have such corners, as far apart along as across; pieces of a
    pattern have not.

    `parts`: the faces of each.
    """
    if len(parts) % 4:
        return False
    weights = [measures.size[p] ** 2 for p in parts]
    at = np.array(
        [
            np.average(measures.centroid[p], axis=0, weights=w)
            for p, w in zip(parts, weights, strict=True)
        ]
    )
    at -= at.mean(axis=0)
    slack = _OFF_CORNERS * float(np.sqrt(np.mean([w.sum() for w in weights])))
    order = np.argsort(np.abs(at[:, 0]), kind="stable")
    fours = at[order].reshape(-1, 4, 2)
    away = np.abs(fours)
    # each way from the middle once, and equally far
    each = np.abs(np.sort(np.sign(fours) @ (2, 1), axis=1) - (-3, -1, 1, 3)).max() == 0
    apart = np.diff(away.mean(axis=1), axis=0)
    even = np.ptp(away, axis=1).max() < slack
    level = np.abs(np.diff(apart, axis=1)).max(initial=0.0) < slack
    return bool(each and even and level)
