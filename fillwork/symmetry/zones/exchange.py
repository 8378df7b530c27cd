"""What passes from one part to another: scraps, faces let go, patterns that go on."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import distinct, marked
from fillwork.symmetry.action import face_action
from fillwork.symmetry.faces.measures import outer_sides, specks
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.zones.claims import (
    Pattern,
    claim_faces,
    of_several,
    strange_faces,
)
from fillwork.symmetry.zones.fields import FIELD
from fillwork.symmetry.zones.halves import strangers, turning_more
from fillwork.symmetry.zones.making import Part, told_apart
from fillwork.symmetry.zones.parting import FEWEST
from fillwork.symmetry.zones.proof import own_symmetry
from fillwork.symmetry.zones.siblings import find_copy
from fillwork.symmetry.zones.turned import FEW_TURNS

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures


# share of a strip's faces that a field must claim
_STRIP_CLAIMED = 0.9
# faces of a corner at most, in which a mitre halves cells of two sides
_HALVED = 24
_ENDS = "its regions have lines of the sides that meet in it: it may be their ends"
# stars alike in a drawing that are tried as parts of the field beside them
_OFTEN = 5
# how far figures of a copy lie from their places, in what lines stray by, before its
# steps are measured for themselves
_SAME_STEPS = 2.0
# share of a rosette's faces that do not turn with it, from which it is in doubt
_STRANGE = 0.1
# share of a rosette's faces, up to which they are let go
_MOST_FREED = 0.5
# how far like faces lie apart in size and place, in roots of their area
_ALIKE = 0.05


def released(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[Part]
) -> list[Part]:
    """Let go what lies at the rim of rosettes and does not turn with them."""
    # Corner pieces about a medallion have fewer turns, and regions of the ground none.
    # What is too small to be a zone goes to a pattern beside it, or leaves a doubt.
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    freed: list[Part] = []
    fields = [p for p in parts if p.symmetry.lattice is not None]
    for part in parts:
        found = part.symmetry
        few = len(found.operations) <= FEW_TURNS
        if found.group.family != "rosette" or few:
            continue
        more = turning_more(arrangement, measures, part.faces, found)
        if more is not None:
            part.symmetry = more
        if more is not None or not found.certain:
            continue
        odd, returning = np.zeros((2, arrangement.face_count), dtype=bool)
        strange, some = strangers(arrangement, measures, part.faces, found)
        # specks where lines all but meet turn with nothing, and are no part of a design
        strange &= ~specks(arrangement, part.faces)
        odd[part.faces], returning[part.faces] = strange, some
        link = odd[a] & odd[b]
        label = part_numbers(a[link], b[link], arrangement.face_count)
        rim = np.zeros_like(odd)
        rim[arrangement.face[outer_sides(arrangement, part.faces)]] = True
        left, whole_count = int(odd.sum()), len(part.faces)
        # a group that most of it contradicts is doubted and not parted
        few = left <= _MOST_FREED * len(part.faces)
        # a fault of the hand stands alone, pieces of a design return
        parted, size = np.unique(label[odd], return_counts=True)
        again = parted[
            np.isin(size, size[size >= FEWEST]) & (np.bincount(size)[size] > 1)
        ]
        free = odd & (rim | np.isin(label, again)) & few
        for number in np.unique(label[free]):
            own = np.flatnonzero(odd & (label == number)).astype(np.int32)
            if len(own) >= FEWEST:
                known = copied_symmetry(arrangement, measures, own, freed)
                symmetry = known or own_symmetry(arrangement, measures, own)
                symmetry = told_apart(own, symmetry)
                freed.append(Part(own, symmetry, copy=known is not None))
            # pieces between a star and its square have some of its turns
            elif not _given_to(arrangement, own, fields, bool(returning[own].any())):
                continue
            left -= len(own)
            part.faces = np.setdiff1d(part.faces, own).astype(np.int32)
        if left == 0 and len(part.faces) < whole_count:
            part.symmetry = _of_the_rest(arrangement, measures, part.faces, found)
            continue
        scraps = part.faces[(odd & rim)[part.faces]]
        if len(scraps) and few:
            pieces = [scraps[label[scraps] == k] for k in np.unique(label[scraps])]
            let_go = _without_scraps(arrangement, measures, part, pieces, fields)
            if let_go is not None:
                freed += let_go
                continue
        if left >= _STRANGE * len(part.faces):
            count = len(part.faces)
            reason = f"{left} of {count} regions do not turn with the others"
            if left >= count:
                reason = "none of its regions turns with the others"
            part.symmetry = replace(found, certain=False, reason=reason)
    return parts + freed


def _given_to(
    arrangement: Arrangement, own: Ints32, fields: list[Part], whole: bool
) -> bool:
    """Give faces to the pattern beside them that claims them; tell whether one does.

    `whole`: whether nearly all of a face's lines must be the pattern's.
    """
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    near = distinct(np.concatenate([b[np.isin(a, own)], a[np.isin(b, own)]]))
    among = [p for p in fields if np.isin(near, p.faces).any()]
    zones = [(p.faces, p.symmetry) for p in among]
    claim = claim_faces(arrangement, own, zones, whole=whole)
    if claim is None or (claim < 0).any():
        return False
    into = among[int(claim[0])]
    into.faces = np.union1d(into.faces, own).astype(np.int32)
    return True


def without_specks(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[Part]
) -> list[Ints32]:
    """Take specks off the rims of rosettes that do not turn with them.

    Lines that all but meet on a frame leave them; they are no part of what it holds.
    Returned are those of each, which are of no zone.
    """
    found: list[Ints32] = []
    for part in parts:
        own = part.symmetry
        if own.group.family != "rosette" or len(own.operations) <= FEW_TURNS:
            continue
        small = specks(arrangement, part.faces)
        rim = arrangement.face[outer_sides(arrangement, part.faces)]
        small &= np.isin(part.faces, rim)
        if small.any():
            small &= strangers(arrangement, measures, part.faces, own)[0]
        if small.any():
            found.append(part.faces[small])
            part.faces = part.faces[~small]
            # what was sure of them all may be in doubt of the others
            part.symmetry = own_symmetry(arrangement, measures, part.faces)
    return found


def _of_the_rest(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, found: Symmetry
) -> Symmetry:
    """Return the group of what is left of a rosette, where it turns more often.

    A ring has more turns than it had together with a piece of what lies in it.
    """
    again = own_symmetry(arrangement, measures, faces)
    more = again.group.family == "rosette" and again.certain
    return again if more and len(again.operations) > len(found.operations) else found


def _without_scraps(
    arrangement: Arrangement,
    measures: FaceMeasures,
    part: Part,
    scraps: list[Ints32],
    fields: list[Part],
) -> list[Part] | None:
    """Take scraps beside a rosette off it, where it turns more often without them.

    They go to the pattern beside them that they share most sides with. Returned are
    those that no pattern lies beside; nothing is done, and None returned, where the
    rosette turns no more often.
    """
    rest = np.setdiff1d(part.faces, np.concatenate(scraps)).astype(np.int32)
    found = own_symmetry(arrangement, measures, rest)
    sure = found.group.family == "rosette" and found.certain
    if not sure or len(found.operations) <= len(part.symmetry.operations):
        return None
    part.faces, part.symmetry = rest, found
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    alone = []
    for scrap in scraps:
        beside = np.concatenate([b[np.isin(a, scrap)], a[np.isin(b, scrap)]])
        shared = np.array([np.isin(beside, p.faces).sum() for p in fields], np.int64)
        if shared.any():
            into = fields[int(shared.argmax())]
            into.faces = np.union1d(into.faces, scrap).astype(np.int32)
        else:
            alone.append(Part(scrap, told_apart(scrap, Symmetry(NO_GROUP))))
    return alone


def _goes_on(measures: FaceMeasures, faces: Ints32, zone: Part) -> bool:
    """Tell whether a repeat of a strip carries the largest faces onto its own.

    Of the others a line between it and the corner may cut some.
    """
    faces = faces[measures.size[faces] >= (1 - _ALIKE) * measures.size[faces].max()]
    own, known = measures.centroid[faces], measures.centroid[zone.faces]
    size, others = measures.size[faces], measures.size[zone.faces]
    like = np.abs(size[:, None] - others) <= _ALIKE * size[:, None]
    lattice = zone.symmetry.lattice
    steps = np.zeros((0, 2)) if lattice is None else lattice.basis
    for step in (*steps, *-steps):
        away = np.hypot(*np.moveaxis(own[:, None] + step - known, -1, 0))
        if (like & (away <= _ALIKE * size[:, None])).any(axis=1).all():
            return True
    return False


def claimed(
    arrangement: Arrangement,
    measures: FaceMeasures,
    parts: list[Part],
    plain: list[Ints32],
) -> tuple[list[Part], list[Ints32]]:
    """Give scraps to the zones that they were cut from."""
    zones = [p for p in parts if p.symmetry.lattice is not None and p.symmetry.certain]
    fields = [p for p in zones if p.symmetry.group.family == "plane"]
    left: list[Part] = []
    over = list(plain)
    taken: dict[int, list[Ints32]] = {id(z): [] for z in zones}
    face = arrangement.face
    alike = Counter(_looks(p) for p in parts)
    for part in [p for p in parts if p not in fields]:
        strip = part in zones
        weak = part.symmetry.group.family == "none" or len(part.faces) < FIELD
        # cells that a mitre halves are mirrored in it, and stand in a corner for two
        halved = part.symmetry.group.short == "D1" and len(part.faces) <= _HALVED
        mine = marked(part.faces, arrangement.face_count)
        beside = distinct(
            np.concatenate([face[1::2][mine[face[0::2]]], face[0::2][mine[face[1::2]]]])
        )
        # a strip for itself is a field's only where that explains nearly all of it
        near = [
            z for z in (fields if strip else zones) if np.isin(beside, z.faces).any()
        ]
        claim = None
        turns = part.symmetry.certain and len(part.symmetry.operations) > FEW_TURNS
        halved &= len(near) >= 2
        # stars that return so often are more likely a field's than medallions
        often = alike[_looks(part)] >= _OFTEN and not strip
        if weak or halved or often or (strip and not part.copy):
            among = [(z.faces, z.symmetry) for z in near]
            sure = turns and not strip
            sure |= (halved or often) and not weak
            claim = claim_faces(arrangement, part.faces, among, exactly=sure)
        nearly_all = strip or ((halved or often) and not weak)
        kept = claim is None
        if claim is not None and turns and not strip:
            # what turns for sure is shared out only where a strip goes on through it
            several = len(distinct(claim[claim >= 0])) > 1
            kept = several and not any(_goes_on(measures, part.faces, z) for z in near)
        if (
            kept
            or claim is None
            or (nearly_all and (claim >= 0).mean() < _STRIP_CLAIMED)
        ):
            strips = [(z.faces, z.symmetry) for z in near if z not in fields]
            own = part.symmetry
            asked = halved and own.certain and strips and _is_mitred(arrangement, part)
            if asked and of_several(arrangement, part.faces, strips):
                part.symmetry = replace(own, certain=False, reason=_ENDS)
            left.append(part)
            continue
        for row, zone in enumerate(near):
            taken[id(zone)].append(part.faces[claim == row])
        rest = part.faces[claim < 0]
        if len(rest):
            over.append(rest)
    for zone in zones:
        more = taken[id(zone)]
        zone.faces = np.sort(np.concatenate([zone.faces, *more])).astype(np.int32)
    # scraps of a strip that a field has claimed after them
    over += [m for z in zones if z not in fields + left for m in taken[id(z)]]
    return fields + left, over


def _is_mitred(arrangement: Arrangement, part: Part) -> bool:
    """Tell whether a mirror's axis is drawn: it goes through no face."""
    mirror = part.symmetry.operations[-1]
    onto = face_action(arrangement, mirror)[part.faces]
    return bool((onto != part.faces).all())


def parted_strangers(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[Part], frame: Bools
) -> tuple[list[Part], Bools]:
    """Let go what lies at the rim of sure patterns and is not theirs.

    It goes to what lies beside it, if that is a strip with it or it is small, or stands
    alone.

    `frame` (E,): edges on lines of a frame. Returns the parts, and the same with the
    lines between a strip and the pattern that it was let go from.
    """
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    for field in list(parts):
        found = field.symmetry
        if found.group.family != "plane" or not found.certain:
            continue
        strange = np.zeros(arrangement.face_count, dtype=bool)
        odd = strange_faces(arrangement, measures, field.faces, found, frame)
        strange[odd] = True
        if strange.sum() < FEWEST:
            continue
        link = strange[a] & strange[b]
        label = part_numbers(a[link], b[link], arrangement.face_count)
        rim = np.unique(arrangement.face[outer_sides(arrangement, field.faces)])
        for number in np.unique(label[rim[strange[rim]]]):
            own = np.flatnonzero(strange & (label == number)).astype(np.int32)
            into = _beside_most(arrangement, own, [p for p in parts if p is not field])
            # what a medallion cuts off a pattern is the pattern's
            if len(own) < FEWEST and (into is None or into.symmetry.certain):
                continue
            both = own if into is None else np.union1d(into.faces, own).astype(np.int32)
            more = own_symmetry(arrangement, measures, both)
            # what would take turns or mirrors from a sure strip is not the strip's
            if into is not None and into.symmetry.certain:
                sure = into.symmetry
                if len(more.operations) < len(sure.operations):
                    continue
            field.faces = np.setdiff1d(field.faces, own).astype(np.int32)
            if into is not None and (
                len(own) < FEWEST or (more.certain and more.group.family == "frieze")
            ):
                into.faces, into.copy = both, False
                into.symmetry = told_apart(both, more)
                side, other = (
                    np.isin(arrangement.face, f).reshape(-1, 2).any(axis=1)
                    for f in (both, field.faces)
                )
                frame = frame | (side & other)
            else:
                alone = own_symmetry(arrangement, measures, own)
                parts.append(Part(own, told_apart(own, alone)))
    return parts, frame


def _beside_most(
    arrangement: Arrangement, faces: Ints32, parts: list[Part]
) -> Part | None:
    """Return the part that shares most edges with some faces; None if none does."""
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    beside = np.concatenate([b[np.isin(a, faces)], a[np.isin(b, faces)]])
    shared = [int(np.isin(beside, p.faces).sum()) for p in parts]
    return parts[int(np.argmax(shared))] if max(shared, default=0) else None


def _largest_first(part: Part) -> tuple[int, int]:
    return -len(part.faces), int(part.faces[0])


def joined(arrangement: Arrangement, parts: list[Part]) -> list[Part]:
    """Join parts with the sure patterns beside them that go on in them.

    A line of the pattern that runs through the whole panel looks like one of its frame,
    and leaves rows of it alone.
    """
    a, b = arrangement.face[0::2], arrangement.face[1::2]

    fields = sorted(
        (
            p
            for p in parts
            if p.symmetry.group.family == "plane"
            and p.symmetry.certain
            and len(p.faces) >= FIELD
        ),
        key=_largest_first,
    )
    for field in fields:
        again = any(p is field for p in parts)
        while again:
            again = False
            own = marked(field.faces, arrangement.face_count)
            beside = np.union1d(a[own[b]], b[own[a]])
            pattern = Pattern(arrangement, field.faces, field.symmetry)
            for part in parts:
                if part is field or len(part.faces) > len(field.faces):
                    continue
                if not np.isin(part.faces, beside).any():
                    continue
                if pattern.goes_on(part.faces):
                    field.faces = np.union1d(field.faces, part.faces).astype(np.int32)
                    parts = [p for p in parts if p is not part]
                    again = True
                    break
    return parts


def _looks(part: Part) -> tuple[str, int]:
    """Return what parts that are copies have alike: the group, and how many faces."""
    return part.symmetry.group.short, len(part.faces)


def copied_symmetry(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, parts: list[Part]
) -> Symmetry | None:
    """Return the symmetry of an earlier part carried over to its copy."""
    for part in parts:
        if part.symmetry.group.family == "none":
            continue
        found = find_copy(measures, part.faces, faces, part.symmetry.residual)
        if found is None:
            continue
        linear, shift, miss = found
        there = _carried(part.symmetry, linear, shift)
        noise = max(there.residual, arrangement.tolerance.join_within)
        if there.lattice is None or miss <= _SAME_STEPS * noise:
            return there
        # sides of a panel that is nearly square have as many figures, a little longer
        own = own_symmetry(arrangement, measures, faces)
        return own if own.certain and own.group == there.group else there
    return None


def _carried(symmetry: Symmetry, linear: Floats, shift: Floats) -> Symmetry:
    """Return a symmetry as it is after an isometry."""
    numbers = (*linear.T.ravel(), *shift)
    a, b, c, d, e, f = (float(v) for v in numbers)
    there = (a, b, c, d, e, f)
    back = affine.invert(there)
    operations = tuple(
        replace(o, map=affine.compose(there, affine.compose(o.map, back)))
        for o in symmetry.operations
    )
    lattice = symmetry.lattice
    if lattice is not None:
        lattice = replace(lattice, basis=lattice.basis @ linear.T)
    centre = symmetry.centre
    if centre is not None:
        x, y = linear @ np.array(centre) + shift
        centre = (float(x), float(y))
    return replace(symmetry, operations=operations, lattice=lattice, centre=centre)
