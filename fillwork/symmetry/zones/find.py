"""Which parts of a drawing have a symmetry of their own.

A *zone* is a set of faces under one symmetry: the field of a panel, a side of
its border, a medallion, a corner piece. Frame lines part zones; where the parts
on both sides of a line go on in each other the line belongs to the pattern. A
drawing without frame lines is one zone.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Arrangement
from fillwork.errors import SymmetryError
from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import distinct_pairs
from fillwork.symmetry.faces.measures import measure_faces, outer_sides
from fillwork.symmetry.faces.places import marks_of_faces
from fillwork.symmetry.groups import NO_GROUP, parse_group
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.model import Symmetry, Zone
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.exchange import (
    claimed,
    copied_symmetry,
    joined,
    parted_strangers,
    released,
)
from fillwork.symmetry.zones.frames import ground_outside
from fillwork.symmetry.zones.held import HELD, PART_HELD, may_hold, share_held
from fillwork.symmetry.zones.lengthwise import bands_of, ends_of
from fillwork.symmetry.zones.making import (
    PLAIN,
    TOO_FEW,
    Part,
    count_kinds,
    in_order,
    orbit_numbers,
    plain_part,
    told_apart,
)
from fillwork.symmetry.zones.middles import (
    grounds_of_wheels,
    has_middle,
    leaves_out,
    merge_rosettes,
    turned_along,
    turning_together,
)
from fillwork.symmetry.zones.parting import (
    FEWEST,
    FIELD,
    part_faces,
    ring_pieces,
    side_halves,
    strips,
)
from fillwork.symmetry.zones.proof import (
    EMPTY,
    FEW_TURNS,
    HOLLOW,
    held_or_of_figures,
    of_figures,
    own_symmetry,
    with_doubt_of_regions,
)
from fillwork.symmetry.zones.rims import amid_doubt, is_torn, small_amid_doubt
from fillwork.symmetry.zones.rows import beside_repeating, joined_rows, rows_beside
from fillwork.symmetry.zones.siblings import stand_in_corners
from fillwork.values import check_kind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.faces.places import Marks

# share of the kinds that parting must save
_GAIN = 0.25
# and so many at least
_ACCOUNTED = 8
# share of a panel's area that scraps on a field's rim stay below
_RIM = 0.01
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
# share of the median area below which all of what hangs together is no zone: lines that
# all but meet leave it
_SPECK = 0.1
# operations that a piece of a field shows by chance
_PIECE_TURNS = 2
# share of the lines that must fit where too few faces can be asked
_LINES = 0.97
# repeats that a face without holes covers at most, if it is a pattern's: a missing line
# makes one of two
_OVER = 2.0
# such faces, at most, that are no pattern's
_MIDDLES = 2
# the same of a sure rosette, if the whole is in doubt
_LARGEST = 0.33
# faces of a side from which it may be turned in its middle
_TURNED = 12
# sides of a border that must be friezes
_SIDES = 4
# operations of a frame at most, which is no rosette
_TURNS_OF_FRAME = 8
_ROWS = "rows like it lie beside it: it may be one row of a pattern"
_AMID = "all that lies about it is in doubt: it may be a piece of more"
_TORN = "no frame parts it from what lies beside it: it may be a piece of more"


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
    check_kind(arrangement, Arrangement, "arrangement")
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    if len(faces) == 0:
        return ()
    if stated == "none":
        held = Symmetry(NO_GROUP, reason="left out by choice", stated=True)
        return (Zone(1, faces, held),)
    if isinstance(stated, str):
        return (Zone(1, faces, held_or_of_figures(arrangement, faces, stated)),)
    wishes = dict(stated or {})
    measures = measure_faces(arrangement)
    parts = _panel_parts(arrangement, measures, faces)
    if wishes and not set(wishes) <= set(range(1, len(parts) + 1)):
        strange = min(set(wishes) - set(range(1, len(parts) + 1)))
        what = f"zone {strange} is not in the drawing, which has {len(parts)}"
        raise SymmetryError(what, mend="see the zones with: fillwork survey")
    for part in parts:
        part.symmetry = with_doubt_of_regions(
            arrangement, measures, part.faces, part.symmetry
        )
    for part in beside_repeating(arrangement, measures, parts):
        part.symmetry = replace(part.symmetry, certain=False, reason=_ROWS)
    for part in small_amid_doubt(arrangement, parts):
        part.symmetry = replace(part.symmetry, certain=False, reason=_AMID)
    return tuple(
        Zone(
            number,
            part.faces,
            _stated(arrangement, part, wishes[number])
            if number in wishes
            else part.symmetry,
            part.role,
        )
        for number, part in enumerate(parts, 1)
    )


def _stated(arrangement: Arrangement, part: Part, stated: str) -> Symmetry:
    """Return the group that is stated of a part, as it was found where it was.

    Half a medallion turns about a point that its own lines do not tell.
    """
    found = part.symmetry
    if found.group.family != "none" and parse_group(stated) == found.group:
        return replace(found, certain=True, reason="", stated=True)
    return held_or_of_figures(arrangement, part.faces, stated)


def _panel_parts(
    arrangement: Arrangement, measures: FaceMeasures, faces: NDArray[np.int32]
) -> list[Part]:
    """Return the parts of a panel, by falling area, what lies outside it apart."""
    outside = ground_outside(arrangement, faces)
    parts = _inner_parts(arrangement, measures, np.setdiff1d(faces, outside))
    plain = (
        turned_along(arrangement, measures, parts, [outside]) if len(outside) else []
    )
    if not plain:
        return parts
    for part in parts:
        if part.symmetry.reason == PLAIN:
            plain.append(part.faces)
    parts = [p for p in parts if p.symmetry.reason != PLAIN]
    return in_order(arrangement, [*parts, plain_part(plain)])


def _inner_parts(
    arrangement: Arrangement, measures: FaceMeasures, faces: NDArray[np.int32]
) -> list[Part]:
    """Return the parts of what lies within a panel, by falling area."""
    groups, explained, frame = part_faces(arrangement, measures, faces)
    if len(groups) == 1:
        found = of_figures(arrangement, faces, find_symmetry(arrangement, faces))
        return [Part(faces, told_apart(faces, found))]
    known: dict[int, Symmetry] = {}
    together = None
    if not _stand_alone(arrangement, measures, faces, groups, explained, known):
        # beside a field only what repeats can hold all of it together
        alone = bool(explained.any())
        together = find_symmetry(arrangement, faces, repeats_alone=alone)
        if _is_one(arrangement, measures, faces, groups, explained, together):
            return _with_inlays(arrangement, measures, faces, groups, together)
    parts: list[Part] = []
    plain: list[NDArray[np.int32]] = []
    todo = list(groups)
    area = arrangement.area
    speck = _SPECK * float(np.median(area[faces]))
    for number, group in enumerate(todo):
        if len(group) < FEWEST or area[group].sum() < speck:
            plain.append(group)
            continue
        # the sides of a border and its corners are copies: look at one of each
        copied = copied_symmetry(arrangement, measures, group, parts)
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
        if symmetry.reason == EMPTY:
            # two sides of a border are one pattern, laid twice, by chance
            pieces = _apart(arrangement, group)
            if len(pieces) > 1:
                todo += pieces
                continue
        if copied is None and symmetry.group.family != "plane":
            bands, lines = bands_of(arrangement, measures, group, symmetry)
            if not bands:
                bands, lines = ends_of(arrangement, measures, group, symmetry)
            known |= {len(todo) + k: found for k, (_, found) in enumerate(bands)}
            todo += [band for band, _ in bands]
            if bands:
                frame = frame | lines
                continue
        symmetry = told_apart(group, symmetry)
        parts.append(Part(group, symmetry, copy=copied is not None))
    parts = released(arrangement, measures, parts)
    count = len(parts) + 1
    while len(parts) < count:
        # what a zone has claimed may lie beside more of it
        count = len(parts)
        parts, plain = claimed(arrangement, parts, plain)
    parts = joined_rows(arrangement, measures, parts)
    parts = joined(arrangement, parts)
    parts, frame = parted_strangers(arrangement, measures, parts, frame)
    parts = merge_rosettes(arrangement, measures, parts)
    plain = turned_along(arrangement, measures, parts, plain)
    frame = grounds_of_wheels(arrangement, measures, parts, frame)
    for one in parts:
        one.symmetry = _with_doubt_alone(arrangement, measures, one, parts)
        found = one.symmetry
        others = [p.faces for p in parts if p is not one] + plain
        if found.certain and is_torn(
            arrangement,
            measures,
            one.faces,
            others,
            frame,
            found.residual,
            alone=found.group.family not in ("plane", "rosette")
            or (found.lattice is None and len(found.operations) <= _PIECE_TURNS),
        ):
            one.symmetry = replace(found, certain=False, reason=_TORN)
    for one in parts:
        if one.symmetry.reason == HOLLOW and has_middle(arrangement, one, parts):
            one.symmetry = replace(one.symmetry, certain=True, reason="")
    # rings about a middle that are sure since
    parts = merge_rosettes(arrangement, measures, parts)
    if explained.any():
        together = turning_together(arrangement, faces, parts)
    if together is not None:
        together = with_doubt_of_regions(arrangement, measures, faces, together)
        # lines that tear a pattern make more kinds of it, or hardly fewer
        kinds = count_kinds(arrangement, measures, faces, together)
        apart = sum(len(g) for g in plain) + sum(
            count_kinds(arrangement, measures, p.faces, p.symmetry)
            for p in parts
            if not p.copy
        )
        gain = max(_GAIN * kinds, _ACCOUNTED)
        outdone = _outdone(together, parts) or leaves_out(arrangement, together, parts)
        if kinds - apart < gain and not outdone:
            return [Part(faces, together)]
    # when it is settled that they are parts: doubt would leave one zone of them
    for one in rows_beside(arrangement, parts):
        one.symmetry = replace(one.symmetry, certain=False, reason=_ROWS)
    for one in amid_doubt(arrangement, parts, plain):
        one.symmetry = replace(one.symmetry, certain=False, reason=_AMID)
    if plain:
        parts.append(plain_part(plain))
    return in_order(arrangement, parts)


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

    Lines of a border may touch its frame where the field's do, and hide it. A strip
    that points along may be turned in the middle of a side.
    """

    def shown(faces: NDArray[np.int32]) -> Symmetry:
        if len(faces) < FEWEST:
            return Symmetry(NO_GROUP)
        return own_symmetry(arrangement, measures, faces)

    def is_frieze(found: Symmetry) -> bool:
        return found.certain and found.group.family == "frieze"

    sides: list[tuple[NDArray[np.int32], Symmetry]] = []
    friezes = 0
    for piece in ring_pieces(arrangement, measures, group):
        parts = [(piece, shown(piece))]
        if not is_frieze(parts[0][1]) and len(piece) >= _TURNED:
            one, between, two = side_halves(measures, piece)
            halves = [(one, shown(one)), (two, shown(two))]
            if all(is_frieze(found) for _, found in halves):
                parts = halves
                parts += [(between, shown(between))] if len(between) else []
        friezes += is_frieze(parts[0][1])
        sides += parts
    return sides if friezes >= _SIDES else []


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
        held = HELD if lines_hold else 0.0
        if len(together.lattice.basis) == 2:
            largest = max(groups, key=lambda g: float(arrangement.area[g].sum()))
            rest = np.setdiff1d(faces, largest)
            part = share_held(arrangement, measures, faces, together, rest)
            held = max(held, HELD if part is None or part >= PART_HELD else 0.0)
    rest = faces[~explained]
    if explained.any() and _is_more(arrangement, rest, faces):
        # what lies beside the fields must be carried along as well
        part = share_held(arrangement, measures, faces, together, rest)
        if part is None and not strips(arrangement, measures, rest).any():
            # what the page cuts off is too little to ask: the lines decide
            part = PART_HELD if lines_hold else None
        held = held if part is not None and part >= PART_HELD else 0.0
    return held >= HELD


def _is_more(
    arrangement: Arrangement, rest: NDArray[np.int32], faces: NDArray[np.int32]
) -> bool:
    """Tell whether what lies beside the fields is more than scraps of their rim."""
    area = arrangement.area
    return bool(area[rest].sum() > _RIM * area[faces].sum())


def _outdone(together: Symmetry, parts: list[Part]) -> bool:
    """Tell whether a part surely returns, or turns, more often than the whole.

    A rosette in a square has turns that its corner pieces have not; a frame round
    nothing is carried a little over itself by shifts as long as it is.
    """
    certain = [p for p in parts if p.symmetry.certain]
    turning = [p for p in certain if p.symmetry.group.family == "rosette"]
    if not together.certain and any(
        len(p.symmetry.operations) > FEW_TURNS
        and len(p.faces) > _LARGEST * sum(len(q.faces) for q in parts)
        for p in turning
    ):
        return True
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


def _with_inlays(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    groups: list[NDArray[np.int32]],
    together: Symmetry,
) -> list[Part]:
    """Return a pattern, and what is laid into it: framed parts that do not repeat."""
    edge = np.zeros(arrangement.face_count, dtype=bool)
    edge[arrangement.face[outer_sides(arrangement, faces)]] = True
    orbit = orbit_numbers(arrangement, measures, faces, together)
    weight = np.zeros(arrangement.face_count)
    weight[faces] = 1.0 / np.bincount(orbit)[orbit]
    parts: list[Part] = []
    for group in groups:
        if len(group) < FEWEST or edge[group].any() or arrangement.cut[group].any():
            continue
        kinds = float(weight[group].sum())
        if kinds <= max(0.5 * len(group), _ACCOUNTED):
            continue
        own = find_symmetry(arrangement, group, loose_lines=False)
        count = count_kinds(arrangement, measures, group, own)
        if own.certain and kinds - count >= _ACCOUNTED:
            parts.append(Part(group, own))
    if not parts:
        return [Part(faces, together)]
    rest = np.setdiff1d(faces, np.concatenate([p.faces for p in parts]))
    return in_order(arrangement, [Part(rest.astype(np.int32), together), *parts])


def _with_doubt_alone(
    arrangement: Arrangement, measures: FaceMeasures, part: Part, parts: list[Part]
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
            reason = "none of its operations carries a region onto another one"
            return replace(found, certain=False, reason=reason)
    area = (measures.size[part.faces] ** 2).sum()
    alike = [
        p
        for p in parts
        if p.symmetry.group == found.group
        and len(p.faces) == len(part.faces)
        and abs((measures.size[p.faces] ** 2).sum() - area) <= _SAME_AREA * area
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


def _share_like(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    others: NDArray[np.int32],
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


def _sizes(marks: Marks) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Return how large faces are, with the slack of it."""
    return [(marks.size, marks.size_slack), (marks.length, marks.length_slack)]


def _neighbours(
    arrangement: Arrangement, marks: Marks, faces: NDArray[np.int32]
) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
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
