"""Zones in the making: their faces, their roles, and the kinds that they leave."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import distinct_pairs
from fillwork.symmetry.faces.measures import LONG
from fillwork.symmetry.faces.places import Matcher, marks_of_faces
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.fields import FIELD

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Ints, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures


# share of the largest zone from which a pattern inside is a second field
_FIELD = 0.5

PLAIN = "plain parts of the frame"
TOO_FEW = "too few regions to tell whether anything returns"

# decimals of a share of the drawing in which images of a part are alike
_ALIKE = 6


@dataclass(slots=True, eq=False)
class Part:
    """A zone in the making."""

    faces: Ints32
    symmetry: Symmetry
    role: str = ""
    copy: bool = False


def plain_part(plain: list[Ints32]) -> Part:
    """Return the plain faces of a frame as one part."""
    rest = np.sort(np.concatenate(plain)).astype(np.int32)
    return Part(rest, Symmetry(NO_GROUP, reason=PLAIN))


def told_apart(faces: Ints32, found: Symmetry) -> Symmetry:
    """Return a symmetry, in doubt where few faces show none."""
    if found.group.family != "none" or len(faces) >= FIELD:
        return found
    return replace(found, certain=False, reason=TOO_FEW)


def in_order(arrangement: Arrangement, parts: list[Part]) -> list[Part]:
    """Return parts by falling area, images in the order of their faces, with roles."""
    every = float(arrangement.area[1:].sum())
    area = [round(arrangement.area[p.faces].sum() / every, _ALIKE) for p in parts]
    order = sorted(range(len(parts)), key=lambda k: (-area[k], int(parts[k].faces[0])))
    parts = [parts[k] for k in order]
    if len(parts) > 1:
        _give_roles(arrangement, parts)
    return parts


def count_kinds(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, symmetry: Symmetry
) -> int:
    """Return about how many kinds of faces a symmetry leaves."""
    return int(orbit_numbers(arrangement, measures, faces, symmetry).max()) + 1


def orbit_numbers(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, symmetry: Symmetry
) -> Ints:
    """Return the same number for faces that a symmetry carries onto each other."""
    # A face whose images are no faces alike has a number of its own.
    quotient = quotient_of(symmetry)
    plain = quotient_of(Symmetry(NO_GROUP))
    noise = max(symmetry.residual, arrangement.tolerance.join_within)
    marks = marks_of_faces(measures, faces, quotient, noise)
    generators = np.arange(1, quotient.order)
    if len(quotient.basis) == 0:
        # the smallest turn and one mirror make all others
        mirrors = np.flatnonzero(~quotient.turns)
        generators = np.union1d(generators[:1], mirrors[:1])
    anywhere, folded = Matcher(marks, plain), Matcher(marks, quotient)
    hits = [anywhere.match(marks.moved(np.eye(2), v)) for v in quotient.basis]
    hits += [
        folded.match(marks.moved(quotient.linear[g], quotient.shift[g]))
        for g in generators
    ]
    own = np.arange(len(faces))
    onto = np.concatenate([own, *hits])
    row = np.tile(own, len(hits) + 1)
    return part_numbers(row[onto >= 0], onto[onto >= 0], len(faces))


def _give_roles(arrangement: Arrangement, parts: list[Part]) -> None:
    """Say what each part of a panel is."""
    import shapely

    boxes, shapes = [], []
    for part in parts:
        half = np.flatnonzero(np.isin(arrangement.face, part.faces))
        points = arrangement.vertices[arrangement.origin[half]]
        boxes.append(np.concatenate([points.min(axis=0), points.max(axis=0)]))
        # a side of a border that does not run level is as long as its own rectangle
        own = shapely.minimum_rotated_rectangle(shapely.multipoints(points))
        corners = shapely.get_coordinates(own)
        steps = np.hypot(*np.diff(corners, axis=0).T)
        shapes.append(
            steps.max() / max(steps.min(), 1e-300) if len(steps) > 3 else LONG
        )
    table = np.array(boxes)
    low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    size = float(np.hypot(*(high - low)))
    largest = float(arrangement.area[parts[0].faces].sum())
    parts[0].role = "field"
    for part, box, ratio in zip(parts[1:], table[1:], shapes[1:], strict=True):
        if part.symmetry.reason == PLAIN:
            continue
        wide, tall = box[2:] - box[:2]
        sides = [
            box[0] - low[0] < 0.02 * size,
            box[1] - low[1] < 0.02 * size,
            high[0] - box[2] < 0.02 * size,
            high[1] - box[3] < 0.02 * size,
        ]
        round_all = sum(sides) == 4
        if round_all or ratio >= LONG:
            part.role = "border"
        elif sum(sides) >= 2 and max(wide, tall) < 0.4 * float((high - low).min()):
            part.role = "corner"
        else:
            family = part.symmetry.group.family
            area = float(arrangement.area[part.faces].sum())
            if family == "plane" and (any(sides) or area > _FIELD * largest):
                part.role = "field"
            else:
                turning = family == "rosette" or not any(sides)
                part.role = "medallion" if turning else "border"
    _give_corners(arrangement, parts)


def _give_corners(arrangement: Arrangement, parts: list[Part]) -> None:
    """Call what two sides of a border meet at, and is as small, a corner of theirs."""
    number = np.full(arrangement.face_count, -1)
    for k, part in enumerate(parts):
        number[part.faces] = k
    beside = distinct_pairs(number[arrangement.face].reshape(-1, 2))
    area = [float(arrangement.area[part.faces].sum()) for part in parts]
    for k, part in enumerate(parts):
        if part.role != "medallion":
            continue
        met = np.r_[beside[beside[:, 0] == k, 1], beside[beside[:, 1] == k, 0]]
        sides = [m for m in np.unique(met) if m >= 0 and parts[m].role == "border"]
        if len(sides) >= 2 and area[k] < min(area[m] for m in sides):
            part.role = "corner"
