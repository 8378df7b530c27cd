"""Doubt of parts that stand alone: a few faces, or what may be a piece of a field."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import distinct_pairs
from fillwork.symmetry.faces.places import marks_of_faces
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.fields import FIELD
from fillwork.symmetry.zones.making import TOO_FEW, Part, count_kinds
from fillwork.symmetry.zones.siblings import stand_in_corners
from fillwork.symmetry.zones.turned import FEW_TURNS

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.faces.places import Marks

# faces under which these are sure of a part that has copies alone
_ALONE = 6
# copies of it that make it sure: corners come in fours, scraps in twos
_COPIES = 3
# so many corners a frame has; how far areas of copies differ at most
_CORNERS, _SAME_AREA = 4, 0.1
# share of its neighbours that stand beside each other in a field too, from which it may
# be a piece of it, and how many are asked
_LIKE_FIELD = 0.6
_PAIRS = 64
# faces of a field for one of a strip, from which that may be a piece of it
_OF_FIELD = 4.0
# how far lines of a drawing stray, in roots of a region's area, from which few regions
# that an operation carries onto themselves alone say nothing
_ASTRAY = 0.005
# operations of a rosette, above which a few regions must be carried onto others
_MANY_TURNS = 24
# share by which the regions of two parts differ in number at most, if one is the other
# as a hand repeats it
_AS_MANY = 0.1
_EACH_ALONE = "none of its operations carries a region onto another one"
# operations that a piece of a field shows by chance
PIECE_TURNS = 2


def with_doubt_alone(
    arrangement: Arrangement, measures: FaceMeasures, part: Part, parts: list[Part]
) -> Symmetry:
    """Return a part's symmetry, in doubt for a few faces that stand nowhere else.

    So it is for a few that are like those of a field: they may be a piece of it.
    """
    found = part.symmetry
    area = float((measures.size[part.faces] ** 2).sum())
    if found.certain and found.group.family == "none":
        more = _shown_elsewhere(measures, part, area, parts)
        reason = f"a part as large and of as many regions shows {more}"
        return replace(found, certain=False, reason=reason) if more else found
    turning = found.group.family == "rosette"
    piece = turning and len(found.operations) <= PIECE_TURNS
    # circles about one middle are kept by every turn, whatever ground they lie in
    many = turning and len(found.operations) > _MANY_TURNS
    if found.certain and many and len(part.faces) < FIELD:
        kinds = count_kinds(arrangement, measures, part.faces, found)
        if kinds == len(part.faces):
            return replace(found, certain=False, reason=_EACH_ALONE)
    if found.certain and (
        (piece and len(part.faces) < FIELD) or found.lattice is not None
    ):
        for field in parts:
            if field.symmetry.group.family != "plane" or len(field.faces) < FIELD:
                continue
            if not turning and len(field.faces) < _OF_FIELD * len(part.faces):
                continue
            share = _share_like(
                arrangement,
                measures,
                part.faces,
                field.faces,
                found.residual,
                turning=turning,
            )
            if share >= _LIKE_FIELD:
                reason = (
                    "its regions are like those of a field: it may be a piece of it"
                )
                return replace(found, certain=False, reason=reason)
    few = len(part.faces) < FIELD and len(found.operations) <= FEW_TURNS
    if not few or not found.certain or not turning:
        return found
    astray = max(p.symmetry.residual for p in parts if p.symmetry.certain)
    if astray > _ASTRAY * float(np.median(measures.size[part.faces])):
        kinds = count_kinds(arrangement, measures, part.faces, found)
        if kinds == len(part.faces):
            return replace(found, certain=False, reason=_EACH_ALONE)
    alike = [
        p
        for p in _as_large(measures, area, parts)
        if p.symmetry.group == found.group and len(p.faces) == len(part.faces)
    ]
    if len(alike) > _CORNERS and not stand_in_corners(
        measures, [p.faces for p in alike]
    ):
        reason = f"it stands there {len(alike)} times: it may be a piece of more"
        return replace(found, certain=False, reason=reason)
    twins = sum(p.copy and len(p.faces) == len(part.faces) for p in parts)
    if len(part.faces) >= _ALONE or twins >= _COPIES:
        return found
    return replace(found, certain=False, reason=TOO_FEW)


def _as_large(measures: FaceMeasures, area: float, parts: list[Part]) -> list[Part]:
    """Return parts of about that area."""
    sizes = [float((measures.size[p.faces] ** 2).sum()) for p in parts]
    near = _SAME_AREA * area
    return [p for p, size in zip(parts, sizes, strict=True) if abs(size - area) <= near]


def _shown_elsewhere(
    measures: FaceMeasures, part: Part, area: float, parts: list[Part]
) -> str:
    """Return the group of what may be a part again, where a hand missed it less.

    Empty where there is none. The corners of a frame are drawn alike.
    """
    count = len(part.faces)
    for other in _as_large(measures, area, parts):
        as_many = abs(len(other.faces) - count) <= _AS_MANY * count
        if as_many and other.symmetry.group.family != "none":
            return other.symmetry.group.short
    return ""


def _share_like(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    others: Ints32,
    noise: float,
    *,
    turning: bool,
) -> float:
    """Return which share of neighbours in a part stand beside each other elsewhere too.

    Some of the others' neighbours have their areas and boundaries, and are as far
    apart: areas alone are like by chance. They alone are asked of what turns and lies
    beside the others, since what was cut off a pattern has cut neighbours.
    """
    plain = quotient_of(Symmetry(NO_GROUP))
    marks = [marks_of_faces(measures, f, plain, noise) for f in (faces, others)]
    own, theirs = np.zeros((2, arrangement.face_count), dtype=bool)
    own[faces], theirs[others] = True, True
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    if turning and ((own[a] & theirs[b]) | (own[b] & theirs[a])).any():
        own_values, far_values = (_sizes(m) for m in marks)
    else:
        own_values, far_values = (
            _neighbours(arrangement, m, f)
            for m, f in zip(marks, (faces, others), strict=True)
        )
    count = len(own_values[0][0])
    step = -(-count // _PAIRS) or 1
    like = np.ones((len(range(0, count, step)), len(far_values[0][0])), dtype=bool)
    for (values, slack), (far, _) in zip(own_values, far_values, strict=True):
        like &= np.abs(values[::step, None] - far) <= slack[::step, None]
    return float(like.any(axis=1).mean()) if like.size else 0.0


def _sizes(marks: Marks) -> list[tuple[Floats, Floats]]:
    """Return how large faces are, with the slack of it."""
    return [(marks.size, marks.size_slack), (marks.length, marks.length_slack)]


def _neighbours(
    arrangement: Arrangement, marks: Marks, faces: Ints32
) -> list[tuple[Floats, Floats]]:
    """Return how large and far apart neighbours are, each with the slack of it."""
    row = np.full(arrangement.face_count, -1, dtype=np.int64)
    row[faces] = np.arange(len(faces))
    a, b = row[arrangement.face[0::2]], row[arrangement.face[1::2]]
    pairs = np.stack([a, b], axis=1)[(a >= 0) & (b >= 0) & (a != b)]
    pairs = distinct_pairs(np.sort(pairs, axis=1))
    swap = marks.size[pairs[:, 0]] < marks.size[pairs[:, 1]]
    pairs[swap] = pairs[swap][:, ::-1]
    one, other = marks.take(pairs[:, 0]), marks.take(pairs[:, 1])
    return [
        *_sizes(one),
        *_sizes(other),
        (np.hypot(*(one.xy - other.xy).T), np.minimum(one.reach, other.reach)),
    ]
