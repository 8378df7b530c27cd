"""Parts that turn about a middle, and what stands round one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.ranges import distinct, marked
from fillwork.symmetry.action import face_action
from fillwork.symmetry.faces.measures import outer_sides
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.claims import claim_turned
from fillwork.symmetry.zones.making import Part, count_kinds
from fillwork.symmetry.zones.proof import own_symmetry
from fillwork.symmetry.zones.turned import FEW_TURNS, keeps_outline

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Ints, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.model import Symmetry


# share of the images of a rosette in a ground that must fall on it
_ONTO_ITSELF = 0.88
# share of all faces that sure patterns hold, from which no rosette holds them all
_MOSTLY = 0.5
# how near to another the image of a rosette's centre must fall, in roots of an area
_NEAR_CENTRE = 0.25
# share of an outline that lies on a frame, if it closes off what turns
_FRAMED = 0.9
# share of its radius by which a circle's corners may lie farther from its centre
_ROUND = 0.01


def turning_together(
    arrangement: Arrangement, faces: Ints32, parts: list[Part]
) -> Symmetry | None:
    """Return the rosette of all faces where no pattern of most of them is sure."""
    # What a lattice seems to explain is then a piece of it by chance.
    sure = [p for p in parts if p.symmetry.certain and p.symmetry.lattice is not None]
    if sum(len(p.faces) for p in sure) > _MOSTLY * len(faces):
        return None
    found = find_symmetry(arrangement, faces)
    turning = found.certain and len(found.operations) > FEW_TURNS
    return found if turning and found.group.family == "rosette" else None


def has_middle(arrangement: Arrangement, part: Part, parts: list[Part]) -> bool:
    """Tell whether the ground of a part goes round a rosette that turns with it."""
    found, centre = part.symmetry, part.symmetry.centre
    ground = part.faces[np.argmax(arrangement.area[part.faces])]
    rings = np.diff(arrangement.face_ring_start)[ground]
    if centre is None or rings < 2:
        return False
    for other in parts:
        turning = other.symmetry.certain and other.symmetry.lattice is None
        if other is part or not turning or len(other.symmetry.operations) < 2:
            continue
        if not np.isin(arrangement.face_at(*centre), other.faces):
            continue
        onto = [face_action(arrangement, o)[other.faces] for o in found.operations]
        if np.isin(np.concatenate(onto), other.faces).mean() >= _ONTO_ITSELF:
            return True
    return False


def leaves_out(arrangement: Arrangement, together: Symmetry, parts: list[Part]) -> bool:
    """Tell whether turns of the whole leave out a part that turns for itself."""
    # A rosette beside another is carried where nothing stands; roundels about a middle
    # are carried onto each other.
    turning = [
        p.symmetry.centre
        for p in parts
        if p.symmetry.certain
        and p.symmetry.group.family == "rosette"
        and len(p.symmetry.operations) > FEW_TURNS
        and p.symmetry.centre is not None
    ]
    if together.lattice is not None or not turning:
        return False
    centres = np.array(turning)
    near = _NEAR_CENTRE * float(np.median(np.sqrt(arrangement.area[1:])))
    for operation in together.operations:
        moved = affine.apply(operation.map, centres)
        apart = np.hypot(*np.moveaxis(moved[:, None] - centres[None], -1, 0))
        if (apart.min(axis=1) > near).any():
            return True
    return False


def turned_along(
    arrangement: Arrangement,
    measures: FaceMeasures,
    parts: list[Part],
    plain: list[Ints32],
) -> list[Ints32]:
    """Give rosettes the plain faces that turn with them, and return the others.

    Those about a rosette that turn more often than it are a zone of their own.
    """
    for zone in list(parts):
        found = zone.symmetry
        turning = found.certain and len(found.operations) > FEW_TURNS
        if not plain or not turning or found.group.family != "rosette":
            continue
        before, own = len(zone.faces), zone.faces
        more: Ints | None = None
        # what is inside them lies beside them
        while plain and (more is None or len(more)):
            more = claim_turned(arrangement, np.concatenate(plain), zone.faces, found)
            zone.faces = np.union1d(zone.faces, more).astype(np.int32)
            left = [np.setdiff1d(group, more) for group in plain]
            plain = [group for group in left if len(group)]
        if before < len(zone.faces):
            ring = _turning_oftener(arrangement, measures, own, zone)
            if ring is not None:
                zone.faces = own
                parts.append(ring)
                continue
            # a wheel may have mirrors that what lies round it has not
            whole = own_symmetry(arrangement, measures, zone.faces)
            same = whole.group.point_group[1:] == found.group.point_group[1:]
            if whole.certain and same and len(whole.operations) < len(found.operations):
                zone.symmetry = whole
    return plain


def _turning_oftener(
    arrangement: Arrangement, measures: FaceMeasures, own: Ints32, zone: Part
) -> Part | None:
    """Return what a rosette has claimed, if it surely turns more often for itself."""
    # twelve petals about a star of six: no turn between two of them keeps the star
    ring = np.setdiff1d(zone.faces, own).astype(np.int32)
    order = int(zone.symmetry.group.point_group[1:])
    if len(ring) < 2 * order:
        return None
    found = own_symmetry(arrangement, measures, ring)
    turns = found.certain and found.group.family == "rosette"
    if not turns or int(found.group.point_group[1:]) < 2 * order:
        return None
    near = _NEAR_CENTRE * float(np.median(measures.size[ring]))
    away = np.subtract(found.centre or np.inf, zone.symmetry.centre or 0.0)
    return Part(ring, found) if np.hypot(*away) <= near else None


def grounds_of_wheels(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[Part], frame: Bools
) -> Bools:
    """Give rosettes from fields the grounds that lie round them and turn with them.

    `parts`: zones in the making; those that a ground goes to or comes from are changed.
    `frame` (E,): edges on lines of a frame. Returns (E,): the same, and the outlines of
    those grounds.
    """
    # A wheel stands free in its star, and lines of the field meet the star's tips: what
    # is between them looks like the field's, and the wheel's mirrors like the whole's.
    for wheel in parts:
        found = wheel.symmetry
        turning = found.certain and len(found.operations) > FEW_TURNS
        while turning and found.group.family == "rosette":
            own = marked(wheel.faces, arrangement.face_count)
            a, b = arrangement.face[0::2], arrangement.face[1::2]
            ground = distinct(
                np.concatenate([a[own[b] & ~own[a]], b[own[a] & ~own[b]]])
            )
            field = [p for p in parts if np.isin(ground, p.faces).all()]
            if not field or field[0].symmetry.lattice is None:
                break
            faces = np.union1d(wheel.faces, ground).astype(np.int32)
            if not _turns_whole(arrangement, faces, ground, found, frame):
                break
            both = own_symmetry(arrangement, measures, faces)
            order = found.group.point_group[1:]
            if not both.certain or both.group.point_group[1:] != order:
                break
            field[0].faces = np.setdiff1d(field[0].faces, ground).astype(np.int32)
            wheel.faces, wheel.symmetry = faces, both
            found = both
            frame = frame.copy()
            frame[outer_sides(arrangement, ground) // 2] = True
    return frame


def _turns_whole(
    arrangement: Arrangement,
    faces: Ints32,
    ground: AnyInts,
    found: Symmetry,
    frame: Bools,
) -> bool:
    """Tell whether turns keep the outline of faces, and a ground among them."""
    rings = np.diff(arrangement.face_ring_start)[ground]
    turns = [o for o in found.operations if o.kind == "rotation"]
    # one face round all of them, or in a frame or circle one for each turn
    alone = len(ground) == 1 and rings[0] == 2
    around = len(ground) in (len(turns) + 1, 2 * len(turns) + 2) and rings.max() == 1
    if around and turns:
        rim = outer_sides(arrangement, faces)
        away = arrangement.vertices[arrangement.origin[rim]] - np.array(found.centre)
        circle = np.ptp(np.hypot(*away.T)) < _ROUND * np.hypot(*away.T).max()
        around = circle or frame[rim // 2].mean() >= _FRAMED
    if not turns or not (alone or around):
        return False
    onto = np.array([face_action(arrangement, o)[ground] for o in turns])
    if not np.isin(onto, ground).all():
        return False
    return bool(
        keeps_outline(arrangement, faces, found)[quotient_of(found).turns].all()
    )


def merge_rosettes(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[Part]
) -> list[Part]:
    """Join parts about one centre that make no more kinds together than apart."""
    # A polygon within a rosette looks like a frame.
    turning = [
        p
        for p in parts
        if p.symmetry.group.family == "rosette" and len(p.symmetry.operations) > 2
    ]
    for k, one in enumerate(turning):
        for other in turning[k + 1 :]:
            orders = {p.symmetry.group.point_group[1:] for p in (one, other)}
            (x, y), (u, v) = (p.symmetry.centre or (0.0, 0.0) for p in (one, other))
            size = float(measures.size[one.faces].min())
            if len(orders) > 1 or np.hypot(x - u, y - v) > 0.1 * size:
                continue
            faces = np.sort(np.concatenate([one.faces, other.faces]))
            both = find_symmetry(arrangement, faces, loose_lines=False)
            apart = sum(
                count_kinds(arrangement, measures, p.faces, p.symmetry)
                for p in (one, other)
            )
            sure = [p.symmetry.certain for p in (one, other)]
            # each is sure of these turns, whatever else fits the lines of both
            names = {p.symmetry.group.short for p in (one, other)}
            known = both.group.short[0] == "C" or names == {both.group.short}
            known &= both.group.family == "rosette" and all(sure)
            known |= both.certain and any(sure)
            if known and both.group.point_group[1:] in orders:
                both = replace(both, certain=True, reason="")
                together = count_kinds(arrangement, measures, faces, both)
                if together <= apart:
                    rest = [p for p in parts if p is not one and p is not other]
                    joined = [*rest, Part(faces, both)]
                    return merge_rosettes(arrangement, measures, joined)
    return parts
