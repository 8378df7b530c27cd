"""Which parts of a drawing have a symmetry of their own.

A *zone* is a set of faces under one symmetry: the field of a panel, a side of
its border, a medallion, a corner piece. Frame lines part zones; where the parts
on both sides of a line go on in each other the line belongs to the pattern. A
drawing without frame lines is one zone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import SymmetryError
from fillwork.geometry import affine
from fillwork.geometry.ranges import distinct
from fillwork.symmetry.action import face_action
from fillwork.symmetry.faces.measures import LONG, measure_faces, outer_sides
from fillwork.symmetry.faces.places import Matcher, marks_of_faces
from fillwork.symmetry.grids import part_numbers
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.model import Symmetry, Zone
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.claims import claim_faces, claim_turned
from fillwork.symmetry.zones.frames import ground_outside
from fillwork.symmetry.zones.held import PART_HELD, may_hold, share_held
from fillwork.symmetry.zones.lengthwise import bands_of
from fillwork.symmetry.zones.parting import (
    FEWEST,
    FIELD,
    part_faces,
    ring_pieces,
    strips,
)
from fillwork.symmetry.zones.proof import (
    FEW_TURNS,
    HOLLOW,
    own_symmetry,
    strangers,
    with_doubt_of_regions,
)
from fillwork.symmetry.zones.rims import is_torn
from fillwork.symmetry.zones.siblings import find_copy

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.faces.measures import FaceMeasures


# share of faces that must find themselves again a repeat away in one pattern
_HELD = 0.88
# share of the kinds that parting must save
_GAIN = 0.25
# and so many at least
_ACCOUNTED = 8
# share of a panel's area that scraps on a field's rim stay below
_RIM = 0.01
# share of a strip's faces that a field must claim
_STRIP_CLAIMED = 0.9
# share of a rosette's faces that do not turn with it, from which it is in doubt
_STRANGE = 0.1
# the same, up to which they are let go
_MOST_FREED = 0.5
# operations of a part for one of the whole, from which it is a zone
_MORE_TURNS = 2
# repeats under which the lines of a frame, alike on both sides, look like a lattice,
# and repeats of a part that tell it better
_FEW_REPEATS, _MORE_REPEATS = 2.0, 4.0
# share of the regions that lie in strips, if turns of the whole frame say less
_MOSTLY = 0.5
# faces under which these are sure of a part that has copies alone
_ALONE = 6
# copies of it that make it sure: corners come in fours, scraps in twos
_COPIES = 3
# share of its faces that are like those of a field, from which it may be a piece
_LIKE_FIELD = 0.6
# faces of a field for one of a strip, from which that may be a piece of it
_OF_FIELD = 4.0
# operations that a piece of a field shows by chance
_PIECE_TURNS = 2
# share of the lines that must fit where too few faces can be asked
_LINES = 0.97
# repeats that a face without holes covers at most, if it is a pattern's: a missing line
# makes one of two
_OVER = 2.0
# such faces, at most, that are no pattern's
_MIDDLES = 2
# how near to another the image of a rosette's centre must fall, in roots of an area
_NEAR_CENTRE = 0.25
# islands on a ground, that may stand round a centre, and the order of that at least
_ISLANDS = 3
# sides of a border that must be friezes
_SIDES = 4
# operations of a frame at most, which is no rosette
_TURNS_OF_FRAME = 8
_TORN = "no frame parts it from what lies beside it: it may be a piece of more"
_PLAIN = "plain parts of the frame"
_TOO_FEW = "too few regions to tell whether anything returns"


def find_zones(
    arrangement: Arrangement, *, stated: str | Mapping[int, str] | None = None
) -> tuple[Zone, ...]:
    """Find the parts of a drawing that have one symmetry each.

    Parameters
    ----------
    arrangement : Arrangement
        The drawing's faces.
    stated : str or mapping of int to str, optional
        Symmetry that the user states: for the whole drawing, which is one zone
        then, or by zone index; such as ``plane:p4m``. ``none`` leaves symmetry
        out of account.

    Returns
    -------
    tuple of Zone
        By falling area, indices from 1; together they hold every face but face
        0. Empty when there is no face.

    Raises
    ------
    SymmetryError
        If a stated symmetry cannot be held, or is stated for a zone that is not
        there.
    """
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    if len(faces) == 0:
        return ()
    if stated == "none":
        held = Symmetry(NO_GROUP, reason="left out by choice", stated=True)
        return (Zone(1, faces, held),)
    if isinstance(stated, str):
        return (Zone(1, faces, find_symmetry(arrangement, faces, stated=stated)),)
    wishes = dict(stated or {})
    measures = measure_faces(arrangement)
    parts = _panel_parts(arrangement, measures, faces)
    if wishes and not set(wishes) <= set(range(1, len(parts) + 1)):
        strange = min(set(wishes) - set(range(1, len(parts) + 1)))
        what = f"zone {strange} is not in the drawing, which has {len(parts)}"
        raise SymmetryError(what, mend="see the zones with: fillwork survey")
    return tuple(
        Zone(
            number,
            part.faces,
            find_symmetry(arrangement, part.faces, stated=wishes[number])
            if number in wishes
            else with_doubt_of_regions(
                arrangement, measures, part.faces, part.symmetry
            ),
            part.role,
        )
        for number, part in enumerate(parts, 1)
    )


@dataclass(slots=True, eq=False)
class _Part:
    """A zone in the making."""

    faces: NDArray[np.int32]
    symmetry: Symmetry
    role: str = ""
    copy: bool = False


def _panel_parts(
    arrangement: Arrangement, measures: FaceMeasures, faces: NDArray[np.int32]
) -> list[_Part]:
    """Return the parts of a panel, by falling area, what lies outside it apart."""
    outside = ground_outside(arrangement, faces)
    parts = _inner_parts(arrangement, measures, np.setdiff1d(faces, outside))
    plain = _turned_along(arrangement, parts, [outside]) if len(outside) else []
    if not plain:
        return parts
    for part in parts:
        if part.symmetry.reason == _PLAIN:
            plain.append(part.faces)
    parts = [p for p in parts if p.symmetry.reason != _PLAIN]
    return _in_order(arrangement, [*parts, _plain(plain)])


def _plain(plain: list[NDArray[np.int32]]) -> _Part:
    """Return the plain faces of a frame as one part."""
    rest = np.sort(np.concatenate(plain)).astype(np.int32)
    return _Part(rest, Symmetry(NO_GROUP, reason=_PLAIN))


def _inner_parts(
    arrangement: Arrangement, measures: FaceMeasures, faces: NDArray[np.int32]
) -> list[_Part]:
    """Return the parts of what lies within a panel, by falling area."""
    groups, explained, frame = part_faces(arrangement, measures, faces)
    if len(groups) == 1:
        return [_Part(faces, _told_apart(faces, find_symmetry(arrangement, faces)))]
    known: dict[int, Symmetry] = {}
    together = None
    if not _stand_alone(arrangement, measures, faces, groups, explained, known):
        # beside a field only what repeats can hold all of it together
        alone = bool(explained.any())
        together = find_symmetry(arrangement, faces, repeats_alone=alone)
        if _is_one(arrangement, measures, faces, groups, explained, together):
            return _with_inlays(arrangement, measures, faces, groups, together)
    parts: list[_Part] = []
    plain: list[NDArray[np.int32]] = []
    todo = list(groups)
    for number, group in enumerate(todo):
        if len(group) < FEWEST:
            plain.append(group)
            continue
        # the sides of a border and its corners are copies: look at one of each
        copied = _copied(measures, group, parts)
        symmetry = (
            copied or known.get(number) or own_symmetry(arrangement, measures, group)
        )
        middle = _too_large(arrangement, group, symmetry)
        if middle.any():
            plain.append(group[middle])
            todo += _apart(arrangement, group[~middle])
            continue
        if not symmetry.certain and len(group) >= FIELD:
            sides = _sides(arrangement, measures, group)
            known |= {len(todo) + k: found for k, (_, found) in enumerate(sides)}
            todo += [side for side, _ in sides]
            if sides:
                continue
        if copied is None and symmetry.group.family != "plane":
            bands, lines = bands_of(arrangement, measures, group, symmetry)
            known |= {len(todo) + k: found for k, (_, found) in enumerate(bands)}
            todo += [band for band, _ in bands]
            if bands:
                frame = frame | lines
                continue
        symmetry = _told_apart(group, symmetry)
        parts.append(_Part(group, symmetry, copy=copied is not None))
    parts = _merge_lattices(arrangement, measures, parts)
    parts = _released(arrangement, measures, parts)
    count = len(parts) + 1
    while len(parts) < count:
        # what a zone has claimed may lie beside more of it
        count = len(parts)
        parts, plain = _claimed(arrangement, parts, plain)
    parts = _merge_rosettes(arrangement, measures, parts)
    plain = _turned_along(arrangement, parts, plain)
    for one in parts:
        one.symmetry = _with_doubt_alone(measures, one, parts)
        found = one.symmetry
        others = [p.faces for p in parts if p is not one] + plain
        if found.certain and is_torn(
            arrangement,
            measures,
            one.faces,
            others,
            frame,
            found.residual,
            strip=found.group.family == "frieze",
        ):
            one.symmetry = replace(found, certain=False, reason=_TORN)
    for one in parts:
        if one.symmetry.reason == HOLLOW and _has_middle(arrangement, one, parts):
            one.symmetry = replace(one.symmetry, certain=True, reason="")
    if explained.any():
        together = _turning_together(arrangement, faces, parts)
    if together is not None:
        # lines that tear a pattern make more kinds of it, or hardly fewer
        kinds = _count_kinds(arrangement, measures, faces, together)
        apart = sum(len(g) for g in plain) + sum(
            _count_kinds(arrangement, measures, p.faces, p.symmetry)
            for p in parts
            if not p.copy
        )
        gain = max(_GAIN * kinds, _ACCOUNTED)
        outdone = _outdone(together, parts) or _left_out(arrangement, together, parts)
        if kinds - apart < gain and not outdone:
            return [_Part(faces, together)]
    if plain:
        rest = _plain(plain).faces
        parts.append(_Part(rest, _of_the_rest(arrangement, rest)))
    return _in_order(arrangement, parts)


def _told_apart(faces: NDArray[np.int32], found: Symmetry) -> Symmetry:
    """Return a symmetry, in doubt where few faces show none."""
    if found.group.family != "none" or len(faces) >= FIELD:
        return found
    return replace(found, certain=False, reason=_TOO_FEW)


def _turning_together(
    arrangement: Arrangement, faces: NDArray[np.int32], parts: list[_Part]
) -> Symmetry | None:
    """Return the rosette of all faces where no pattern of most of them is sure.

    What a lattice seems to explain is then a piece of it by chance.
    """
    sure = [p for p in parts if p.symmetry.certain and p.symmetry.lattice is not None]
    if sum(len(p.faces) for p in sure) > _MOSTLY * len(faces):
        return None
    found = find_symmetry(arrangement, faces)
    turning = found.certain and len(found.operations) > FEW_TURNS
    return found if turning and found.group.family == "rosette" else None


def _has_middle(arrangement: Arrangement, part: _Part, parts: list[_Part]) -> bool:
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
        if np.isin(np.concatenate(onto), other.faces).mean() >= _HELD:
            return True
    return False


def _left_out(arrangement: Arrangement, together: Symmetry, parts: list[_Part]) -> bool:
    """Tell whether turns of the whole leave out a part that turns for itself.

    A rosette beside another is carried where nothing stands; roundels about a middle
    are carried onto each other.
    """
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


def _of_the_rest(arrangement: Arrangement, rest: NDArray[np.int32]) -> Symmetry:
    """Return the symmetry of faces that no zone took, mostly none.

    Islands on a ground may stand round a centre, each alone: eyes of a rose window.
    """
    rings = np.diff(arrangement.face_ring_start)[rest]
    if rings.max() > _ISLANDS:
        found = find_symmetry(arrangement, rest)
        centred = found.certain and found.group.family == "rosette"
        if centred and max(o.order for o in found.operations) >= _ISLANDS:
            return found
    return Symmetry(NO_GROUP, reason=_PLAIN)


def _too_large(
    arrangement: Arrangement, group: NDArray[np.int32], found: Symmetry
) -> NDArray[np.bool_]:
    """Return which faces without holes are larger than a repeat of a pattern.

    They would lie over their own images: the empty middle of a frame, a cartouche.
    Where there are several, the repeat is wrong and not the faces.
    """
    if found.lattice is None or len(found.lattice.basis) < 2:
        return np.zeros(len(group), dtype=bool)
    cell = abs(float(np.linalg.det(found.lattice.basis)))
    rings = np.diff(arrangement.face_ring_start)[group]
    large = (rings == 1) & (arrangement.area[group] > _OVER * cell)
    return np.asarray(large & (large.sum() <= _MIDDLES), bool)


def _apart(
    arrangement: Arrangement, group: NDArray[np.int32]
) -> list[NDArray[np.int32]]:
    """Return the faces of a group that hang together."""
    own = np.zeros(arrangement.face_count, dtype=bool)
    own[group] = True
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    link = own[a] & own[b]
    label = part_numbers(a[link], b[link], arrangement.face_count)[group]
    return [group[label == k] for k in np.unique(label)]


def _sides(
    arrangement: Arrangement, measures: FaceMeasures, group: NDArray[np.int32]
) -> list[tuple[NDArray[np.int32], Symmetry]]:
    """Return sides and corners of a border in one piece, if friezes are sure of them.

    Lines of a border may touch its frame where the field's do, and hide it.
    """
    pieces = ring_pieces(arrangement, measures, group)
    found = [
        (
            own_symmetry(arrangement, measures, p)
            if len(p) >= FEWEST
            else Symmetry(NO_GROUP)
        )
        for p in pieces
    ]
    friezes = sum(s.certain and s.group.family == "frieze" for s in found)
    return list(zip(pieces, found, strict=True)) if friezes >= _SIDES else []


def _stand_alone(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    groups: list[NDArray[np.int32]],
    explained: NDArray[np.bool_],
    known: dict[int, Symmetry],
) -> bool:
    """Tell whether no lattice of the largest field can hold what lies beside it.

    Its symmetry is noted in `known`, under its number.
    """
    rest = faces[~explained]
    if not explained.any() or not _is_more(arrangement, rest, faces):
        return False
    fields = [k for k, g in enumerate(groups) if np.isin(g, rest, invert=True).any()]
    area = arrangement.area
    largest = max(fields, key=lambda k: (float(area[groups[k]].sum()), -k))
    own = own_symmetry(arrangement, measures, groups[largest])
    known[largest] = own
    if own.lattice is None or len(own.lattice.basis) != 2:
        return False
    return not may_hold(arrangement, measures, faces, rest, own)


def _is_one(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    groups: list[NDArray[np.int32]],
    explained: NDArray[np.bool_],
    together: Symmetry,
) -> bool:
    """Tell whether one lattice surely holds all faces."""
    if together.lattice is None or not together.certain:
        return False
    lines_hold = together.candidates[0].fit >= _LINES
    held = share_held(arrangement, measures, faces, together)
    if held is None:
        if together.repeats_seen < _FEW_REPEATS:
            return False
        # too few faces can be asked: the lines decide, and the small parts
        held = _HELD if lines_hold else 0.0
        if len(together.lattice.basis) == 2:
            largest = max(groups, key=lambda g: float(arrangement.area[g].sum()))
            rest = np.setdiff1d(faces, largest)
            part = share_held(arrangement, measures, faces, together, rest)
            held = max(held, _HELD if part is None or part >= PART_HELD else 0.0)
    rest = faces[~explained]
    if explained.any() and _is_more(arrangement, rest, faces):
        # what lies beside the fields must be carried along as well
        part = share_held(arrangement, measures, faces, together, rest)
        if part is None and not strips(arrangement, measures, rest).any():
            # what the page cuts off is too little to ask: the lines decide
            part = PART_HELD if lines_hold else None
        held = held if part is not None and part >= PART_HELD else 0.0
    return held >= _HELD


def _released(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[_Part]
) -> list[_Part]:
    """Let go what lies at the rim of rosettes, or returns, and does not turn with them.

    Corner pieces about a medallion have fewer turns, and regions of the ground none.
    What is too small to be a zone goes to a pattern beside it, or leaves a doubt.
    """
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    freed: list[_Part] = []
    fields = [p for p in parts if p.symmetry.lattice is not None]
    for part in parts:
        found = part.symmetry
        few = len(found.operations) <= FEW_TURNS
        if found.group.family != "rosette" or not found.certain or few:
            continue
        odd, returning = np.zeros((2, arrangement.face_count), dtype=bool)
        strange, some = strangers(arrangement, measures, part.faces, found)
        odd[part.faces], returning[part.faces] = strange, some
        link = odd[a] & odd[b]
        label = part_numbers(a[link], b[link], arrangement.face_count)
        rim = np.zeros_like(odd)
        rim[arrangement.face[outer_sides(arrangement, part.faces)]] = True
        left = int(odd.sum())
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
                known = _copied(measures, own, freed)
                symmetry = known or own_symmetry(arrangement, measures, own)
                symmetry = _told_apart(own, symmetry)
                freed.append(_Part(own, symmetry, copy=known is not None))
            else:
                near = distinct(
                    np.concatenate([b[np.isin(a, own)], a[np.isin(b, own)]])
                )
                among = [p for p in fields if np.isin(near, p.faces).any()]
                zones = [(p.faces, p.symmetry) for p in among]
                # pieces between a star and its square have some of its turns
                whole = bool(returning[own].any())
                claim = claim_faces(arrangement, own, zones, whole=whole)
                if claim is None or (claim < 0).any():
                    continue
                into = among[int(claim[0])]
                into.faces = np.union1d(into.faces, own).astype(np.int32)
            left -= len(own)
            part.faces = np.setdiff1d(part.faces, own).astype(np.int32)
        if left >= _STRANGE * len(part.faces):
            reason = f"{left} of {len(part.faces)} regions do not turn with the others"
            part.symmetry = replace(found, certain=False, reason=reason)
    return parts + freed


def _claimed(
    arrangement: Arrangement, parts: list[_Part], plain: list[NDArray[np.int32]]
) -> tuple[list[_Part], list[NDArray[np.int32]]]:
    """Give scraps to the zones that they were cut from."""
    zones = [p for p in parts if p.symmetry.lattice is not None and p.symmetry.certain]
    fields = [p for p in zones if p.symmetry.group.family == "plane"]
    left: list[_Part] = []
    over = list(plain)
    taken: dict[int, list[NDArray[np.int32]]] = {id(z): [] for z in zones}
    face = arrangement.face
    for part in [p for p in parts if p not in fields]:
        strip = part in zones
        weak = part.symmetry.group.family == "none" or len(part.faces) < FIELD
        mine = np.zeros(arrangement.face_count, dtype=bool)
        mine[part.faces] = True
        beside = distinct(
            np.concatenate([face[1::2][mine[face[0::2]]], face[0::2][mine[face[1::2]]]])
        )
        # a strip for itself is a field's only where that explains nearly all of it
        near = [
            z for z in (fields if strip else zones) if np.isin(beside, z.faces).any()
        ]
        claim = None
        if weak or (strip and not part.copy):
            among = [(z.faces, z.symmetry) for z in near]
            own = part.symmetry
            sure = own.certain and len(own.operations) > FEW_TURNS and not strip
            claim = claim_faces(arrangement, part.faces, among, exactly=sure)
        if claim is None or (strip and (claim >= 0).mean() < _STRIP_CLAIMED):
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


def _turned_along(
    arrangement: Arrangement, parts: list[_Part], plain: list[NDArray[np.int32]]
) -> list[NDArray[np.int32]]:
    """Give rosettes the plain faces that turn with them, and return the others."""
    for zone in parts:
        found = zone.symmetry
        turning = found.certain and len(found.operations) > FEW_TURNS
        if not plain or not turning or found.group.family != "rosette":
            continue
        more: NDArray[np.int64] | None = None
        # what is inside them lies beside them
        while plain and (more is None or len(more)):
            more = claim_turned(arrangement, np.concatenate(plain), zone.faces, found)
            zone.faces = np.union1d(zone.faces, more).astype(np.int32)
            left = [np.setdiff1d(group, more) for group in plain]
            plain = [group for group in left if len(group)]
    return plain


def _is_more(
    arrangement: Arrangement, rest: NDArray[np.int32], faces: NDArray[np.int32]
) -> bool:
    """Tell whether what lies beside the fields is more than scraps of their rim."""
    area = arrangement.area
    return bool(area[rest].sum() > _RIM * area[faces].sum())


def _outdone(together: Symmetry, parts: list[_Part]) -> bool:
    """Tell whether a part surely returns, or turns, more often than the whole.

    A rosette in a square has turns that its corner pieces have not; a frame round
    nothing is carried a little over itself by shifts as long as it is.
    """
    certain = [p for p in parts if p.symmetry.certain]
    strips = [
        p
        for p in certain
        if p.symmetry.lattice is not None and p.symmetry.repeats_seen >= _MORE_REPEATS
    ]
    if together.lattice is not None:
        return together.repeats_seen < _FEW_REPEATS and bool(strips)
    least = _MORE_TURNS * max(len(together.operations), 1)
    sides = sum(p.symmetry.group.family == "frieze" for p in certain)
    if sides >= _SIDES and len(together.operations) <= _TURNS_OF_FRAME:
        return True
    often = [
        len(p.faces)
        for p in strips
        if p.symmetry.repeats_seen * len(p.symmetry.operations) >= least
    ]
    return sum(often) > _MOSTLY * sum(len(p.faces) for p in parts) or any(
        p.symmetry.lattice is None and len(p.symmetry.operations) >= least
        for p in certain
    )


def _in_order(arrangement: Arrangement, parts: list[_Part]) -> list[_Part]:
    """Return parts by falling area, with their roles."""
    area = [float(arrangement.area[p.faces].sum()) for p in parts]
    order = sorted(range(len(parts)), key=lambda k: (-area[k], int(parts[k].faces[0])))
    parts = [parts[k] for k in order]
    if len(parts) > 1:
        _give_roles(arrangement, parts)
    return parts


def _with_inlays(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    groups: list[NDArray[np.int32]],
    together: Symmetry,
) -> list[_Part]:
    """Return a pattern, and what is laid into it: framed parts that do not repeat."""
    edge = np.zeros(arrangement.face_count, dtype=bool)
    edge[arrangement.face[outer_sides(arrangement, faces)]] = True
    orbit = _orbit_numbers(arrangement, measures, faces, together)
    weight = np.zeros(arrangement.face_count)
    weight[faces] = 1.0 / np.bincount(orbit)[orbit]
    parts: list[_Part] = []
    for group in groups:
        if len(group) < FEWEST or edge[group].any() or arrangement.cut[group].any():
            continue
        kinds = float(weight[group].sum())
        if kinds <= max(0.5 * len(group), _ACCOUNTED):
            continue
        own = find_symmetry(arrangement, group, loose_lines=False)
        count = _count_kinds(arrangement, measures, group, own)
        if own.certain and kinds - count >= _ACCOUNTED:
            parts.append(_Part(group, own))
    if not parts:
        return [_Part(faces, together)]
    rest = np.setdiff1d(faces, np.concatenate([p.faces for p in parts]))
    return _in_order(arrangement, [_Part(rest.astype(np.int32), together), *parts])


def _copied(
    measures: FaceMeasures, faces: NDArray[np.int32], parts: list[_Part]
) -> Symmetry | None:
    """Return the symmetry of an earlier part carried over to its copy."""
    for part in parts:
        if len(part.faces) != len(faces) or part.symmetry.group.family == "none":
            continue
        found = find_copy(measures, part.faces, faces, part.symmetry.residual)
        if found is not None:
            return _carried(part.symmetry, *found)
    return None


def _carried(
    symmetry: Symmetry, linear: NDArray[np.float64], shift: NDArray[np.float64]
) -> Symmetry:
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


def _count_kinds(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    symmetry: Symmetry,
) -> int:
    """Return about how many kinds of faces a symmetry leaves."""
    return int(_orbit_numbers(arrangement, measures, faces, symmetry).max()) + 1


def _orbit_numbers(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    symmetry: Symmetry,
) -> NDArray[np.int64]:
    """Return the same number for faces that a symmetry carries onto each other.

    A face whose images are no faces alike has a number of its own.
    """
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


def _with_doubt_alone(
    measures: FaceMeasures, part: _Part, parts: list[_Part]
) -> Symmetry:
    """Return a part's symmetry, in doubt for a few faces that stand nowhere else.

    So it is for a few that are like those of a field: they may be a piece of it.
    """
    found = part.symmetry
    turning = found.group.family == "rosette"
    piece = turning and len(found.operations) <= _PIECE_TURNS
    if found.certain and (
        (piece and len(part.faces) < FIELD) or found.lattice is not None
    ):
        for field in parts:
            if field.symmetry.group.family != "plane" or len(field.faces) < FIELD:
                continue
            if not turning and len(field.faces) < _OF_FIELD * len(part.faces):
                continue
            if _share_like(measures, part.faces, field.faces, found) >= _LIKE_FIELD:
                reason = (
                    "its regions are like those of a field: it may be a piece of it"
                )
                return replace(found, certain=False, reason=reason)
    few = len(part.faces) < _ALONE and len(found.operations) <= FEW_TURNS
    if not few or not found.certain or found.group.family != "rosette":
        return found
    twins = sum(p.copy and len(p.faces) == len(part.faces) for p in parts)
    return found if twins >= _COPIES else replace(found, certain=False, reason=_TOO_FEW)


def _share_like(
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    others: NDArray[np.int32],
    found: Symmetry,
) -> float:
    """Return which share of faces have some of the others' area and boundary."""
    plain = quotient_of(Symmetry(NO_GROUP))
    own, far = (
        marks_of_faces(measures, f, plain, found.residual) for f in (faces, others)
    )
    like = np.abs(own.size[:, None] - far.size) <= own.size_slack[:, None]
    like &= np.abs(own.length[:, None] - far.length) <= own.length_slack[:, None]
    return float(like.any(axis=1).mean())


def _merge_lattices(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[_Part]
) -> list[_Part]:
    """Join neighbouring parts that one plane lattice holds together."""
    merged = True
    while merged and len(parts) > 1:
        merged = False
        owner = np.full(arrangement.face_count, -1, dtype=np.int64)
        for k, part in enumerate(parts):
            owner[part.faces] = k
        a, b = owner[arrangement.face[0::2]], owner[arrangement.face[1::2]]
        near = (a >= 0) & (b >= 0) & (a != b)
        pairs = np.unique(np.sort(np.column_stack([a[near], b[near]]), axis=1), axis=0)
        for i, j in pairs.tolist():
            if not _same_lattice(parts[i].symmetry, parts[j].symmetry):
                continue
            faces = np.sort(np.concatenate([parts[i].faces, parts[j].faces]))
            both = find_symmetry(arrangement, faces.astype(np.int32), loose_lines=False)
            if both.lattice is None or len(both.lattice.basis) != 2:
                continue
            held = share_held(arrangement, measures, faces, both)
            if held is None or held < _HELD:
                continue
            parts = [p for k, p in enumerate(parts) if k not in (i, j)]
            parts.append(_Part(faces.astype(np.int32), both))
            merged = True
            break
    return parts


def _merge_rosettes(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[_Part]
) -> list[_Part]:
    """Join parts about one centre that make no more kinds together than apart.

    A polygon within a rosette looks like a frame.
    """
    turning = [
        p
        for p in parts
        if p.symmetry.certain
        and p.symmetry.group.family == "rosette"
        and len(p.symmetry.operations) > 2
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
                _count_kinds(arrangement, measures, p.faces, p.symmetry)
                for p in (one, other)
            )
            if both.certain and both.group.point_group[1:] in orders:
                together = _count_kinds(arrangement, measures, faces, both)
                if together <= apart:
                    rest = [p for p in parts if p is not one and p is not other]
                    joined = [*rest, _Part(faces, both)]
                    return _merge_rosettes(arrangement, measures, joined)
    return parts


def _same_lattice(a: Symmetry, b: Symmetry) -> bool:
    if a.lattice is None or b.lattice is None:
        return False
    p, q = a.lattice.basis, b.lattice.basis
    if len(p) != 2 or len(q) != 2:
        return False
    along = q @ np.linalg.inv(p)
    size = abs(float(np.linalg.det(along)))
    return bool(np.abs(along - np.rint(along)).max() < 0.03 and abs(size - 1) < 0.05)


def _give_roles(arrangement: Arrangement, parts: list[_Part]) -> None:
    """Say what each part of a panel is."""
    import shapely

    boxes, shapes = [], []
    for part in parts:
        half = np.flatnonzero(np.isin(arrangement.face, part.faces))
        points = arrangement.vertices[arrangement.origin[half]]
        boxes.append(np.concatenate([points.min(axis=0), points.max(axis=0)]))
        # a side of a border that does not run level is as long as its own rectangle
        own = shapely.minimum_rotated_rectangle(shapely.MultiPoint(points))
        corners = shapely.get_coordinates(own)
        steps = np.hypot(*np.diff(corners, axis=0).T)
        shapes.append(
            steps.max() / max(steps.min(), 1e-300) if len(steps) > 3 else LONG
        )
    table = np.array(boxes)
    low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    size = float(np.hypot(*(high - low)))
    parts[0].role = "field"
    for part, box, ratio in zip(parts[1:], table[1:], shapes[1:], strict=True):
        if part.symmetry.reason == _PLAIN:
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
        elif not any(sides):
            part.role = "medallion"
        else:
            family = part.symmetry.group.family
            part.role = {"plane": "field", "rosette": "medallion"}.get(family, "border")
