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
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.groups import NO_GROUP, parse_group
from fillwork.symmetry.lines.detect import find_symmetry, turned_roughly
from fillwork.symmetry.model import Symmetry, Zone
from fillwork.symmetry.zones.alone import PIECE_TURNS, with_doubt_alone
from fillwork.symmetry.zones.exchange import (
    claimed,
    copied_symmetry,
    joined,
    parted_strangers,
    released,
    without_specks,
)
from fillwork.symmetry.zones.fields import FIELD
from fillwork.symmetry.zones.frames import ground_outside
from fillwork.symmetry.zones.lengthwise import bands_of, ends_of
from fillwork.symmetry.zones.making import (
    PLAIN,
    Part,
    count_kinds,
    in_order,
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
    between,
    part_faces,
)
from fillwork.symmetry.zones.proof import (
    EMPTY,
    IN_ROWS,
    held_or_of_figures,
    nearly_alike,
    of_figures,
    own_symmetry,
    with_doubt_of_regions,
)
from fillwork.symmetry.zones.rims import amid_doubt, is_torn, small_amid_doubt
from fillwork.symmetry.zones.rows import beside_repeating, joined_rows, rows_beside
from fillwork.symmetry.zones.sides import goes_round, ring_pieces, side_halves
from fillwork.symmetry.zones.turned import HOLLOW, with_doubt_of_few
from fillwork.symmetry.zones.whole import (
    ACCOUNTED,
    FINER,
    is_one,
    outdone,
    repeats_finer,
    stand_alone,
    with_inlays,
)
from fillwork.values import check_kind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from fillwork.symmetry.faces.measures import FaceMeasures

# share of the kinds that parting must save, beside `ACCOUNTED`
_GAIN = 0.25
# share of the median area below which all of what hangs together is no zone: lines that
# all but meet leave it
_SPECK = 0.1
# repeats that a face without holes covers at most, if it is a pattern's: a missing line
# makes one of two
_OVER = 2.0
# such faces, at most, that are no pattern's
_MIDDLES = 2
# faces of a side that mitres cut
_CUT_ENDS = 2
# faces of a side from which it may be turned in its middle
_TURNED = 12
# repeats of sides that one strip makes, at most, in those of another
_LIKE_STEPS = 1.25
# repeats of all faces, from which parts of them are not asked for theirs
_MANY = 12.0
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
        found = turned_roughly(arrangement, faces, found)
        found = with_doubt_of_few(arrangement, measures, faces, found)
        return [Part(faces, told_apart(faces, found))]
    known: dict[int, Symmetry] = {}
    together, holds = None, False
    if not stand_alone(arrangement, measures, faces, groups, explained, known):
        # beside a field only what repeats can hold all of it together
        alone = bool(explained.any())
        together = find_symmetry(arrangement, faces, repeats_alone=alone)
        holds = is_one(arrangement, measures, faces, groups, explained, together)
        if holds and together.repeats_seen >= _MANY:
            return with_inlays(arrangement, measures, faces, groups, together)
    parts, plain, lines = _parts_of_groups(arrangement, measures, faces, groups, known)
    frame = frame | lines
    plain += without_specks(arrangement, measures, parts)
    parts = released(arrangement, measures, parts)
    count = len(parts) + 1
    while len(parts) < count:
        # what a zone has claimed may lie beside more of it
        count = len(parts)
        parts, plain = claimed(arrangement, measures, parts, plain)
    parts = joined_rows(arrangement, measures, parts)
    parts = joined(arrangement, parts)
    parts, frame = parted_strangers(arrangement, measures, parts, frame)
    parts = merge_rosettes(arrangement, measures, parts)
    plain = turned_along(arrangement, measures, parts, plain)
    frame = grounds_of_wheels(arrangement, measures, parts, frame)
    _doubt_parts(arrangement, measures, parts, plain, frame)
    # rings about a middle that are sure since
    parts = merge_rosettes(arrangement, measures, parts)
    if explained.any() and not holds:
        together = turning_together(arrangement, faces, parts)
    if holds and together is not None:
        if not repeats_finer(together, parts) or not _parting_tells_more(
            arrangement, measures, faces, together, parts, plain, least=1
        ):
            return with_inlays(arrangement, measures, faces, groups, together)
    elif together is not None:
        together = with_doubt_of_regions(arrangement, measures, faces, together)
        if not _parting_tells_more(
            arrangement, measures, faces, together, parts, plain
        ):
            return [Part(faces, turned_roughly(arrangement, faces, together))]
    # when it is settled that they are parts: doubt would leave one zone of them
    for one in rows_beside(arrangement, parts):
        one.symmetry = replace(one.symmetry, certain=False, reason=_ROWS)
    for one in amid_doubt(arrangement, parts, plain):
        one.symmetry = replace(one.symmetry, certain=False, reason=_AMID)
    if plain:
        parts.append(plain_part(plain))
    return in_order(arrangement, parts)


def _parts_of_groups(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    groups: list[NDArray[np.int32]],
    known: dict[int, Symmetry],
) -> tuple[list[Part], list[NDArray[np.int32]], NDArray[np.bool_]]:
    """Return the parts that groups of faces make, those that are plain, and new frames.

    `known`: what was found of some groups, by number. Returns also (E,): edges along
    which sides of borders and bands of strips were parted.
    """
    frame = np.zeros(arrangement.edge_count, dtype=bool)
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
        # sides of a border with one ground turn about its middle, and each repeats
        turns = symmetry.certain and symmetry.group.family == "rosette"
        if len(group) >= FIELD and (turns or not symmetry.certain):
            sides = _sides(arrangement, measures, group, rows=turns)
            known |= {len(todo) + k: found for k, (_, found) in enumerate(sides)}
            todo += [side for side, _ in sides]
            if sides:
                frame |= between(arrangement, [side for side, _ in sides])
                continue
        pieces, largest = _in_pieces(arrangement, measures, group, symmetry)
        if pieces:
            if largest is not None:
                known[len(todo)] = largest
            todo += pieces
            continue
        if copied is None and symmetry.group.family != "plane":
            bands, lines = bands_of(arrangement, measures, group, symmetry)
            if not bands:
                bands, lines = ends_of(arrangement, measures, group, symmetry)
            known |= {len(todo) + k: found for k, (_, found) in enumerate(bands)}
            todo += [band for band, _ in bands]
            if bands:
                frame |= lines
                continue
        symmetry = told_apart(group, symmetry)
        parts.append(Part(group, symmetry, copy=copied is not None))
    return parts, plain, frame


def _doubt_parts(
    arrangement: Arrangement,
    measures: FaceMeasures,
    parts: list[Part],
    plain: list[NDArray[np.int32]],
    frame: NDArray[np.bool_],
) -> None:
    """Put in doubt what stands alone or is torn, and take doubt of middles back.

    `parts` are changed in place. `frame` (E,): edges that part them.
    """
    for one in parts:
        one.symmetry = with_doubt_alone(arrangement, measures, one, parts)
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
            or (found.lattice is None and len(found.operations) <= PIECE_TURNS),
        ):
            one.symmetry = replace(found, certain=False, reason=_TORN)
    for one in parts:
        if one.symmetry.reason == HOLLOW and has_middle(arrangement, one, parts):
            one.symmetry = replace(one.symmetry, certain=True, reason="")


def _parting_tells_more(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    together: Symmetry,
    parts: list[Part],
    plain: list[NDArray[np.int32]],
    *,
    least: int = ACCOUNTED,
) -> bool:
    """Tell whether parts tell more of a drawing than one group of it all.

    `least`: the kinds that they save at least, if those tell it.
    """
    # lines that tear a pattern make more kinds of it, or hardly fewer
    kinds = count_kinds(arrangement, measures, faces, together)
    apart = sum(len(g) for g in plain) + sum(
        count_kinds(arrangement, measures, p.faces, p.symmetry)
        for p in parts
        if not p.copy
    )
    if kinds - apart >= max(_GAIN * kinds, least):
        return True
    return outdone(together, parts) or leaves_out(arrangement, together, parts)


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


def _in_pieces(
    arrangement: Arrangement,
    measures: FaceMeasures,
    group: NDArray[np.int32],
    found: Symmetry,
) -> tuple[list[NDArray[np.int32]], Symmetry | None]:
    """Return the pieces of a group, if each is rather a part, the largest first.

    Two sides of a border are one pattern, laid twice, by chance, and fields of one cell
    on both sides of a band return together more seldom than each. Returns also what
    the largest surely is, if asked.
    """
    pieces = _apart(arrangement, group)
    if len(pieces) < 2 or found.reason == EMPTY:
        return (pieces if len(pieces) > 1 else []), None
    pieces.sort(key=lambda p: (-len(p), int(p[0])))
    if len(pieces[0]) < FIELD:
        return [], None
    largest = own_symmetry(arrangement, measures, pieces[0])
    alone = largest.certain
    if found.certain:
        often = largest.repeats_seen / len(pieces[0]), found.repeats_seen / len(group)
        alone &= largest.lattice is not None
        alone &= found.lattice is None or often[0] > FINER * often[1]
    return (pieces, largest) if alone else ([], None)


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
    arrangement: Arrangement,
    measures: FaceMeasures,
    group: NDArray[np.int32],
    *,
    rows: bool,
) -> list[tuple[NDArray[np.int32], Symmetry]]:
    """Return sides and corners of a border in one piece, if friezes are sure of them.

    Lines of a border may touch its frame where the field's do, and hide it. A strip
    that points along may be turned in the middle of a side. `rows`: whether sides must
    be rows of like regions, for all of it turns.
    """

    def shown(faces: NDArray[np.int32]) -> Symmetry:
        if len(faces) < FEWEST:
            return Symmetry(NO_GROUP)
        return own_symmetry(arrangement, measures, faces)

    def is_frieze(found: Symmetry) -> bool:
        return found.certain and found.group.family == "frieze"

    sides: list[tuple[NDArray[np.int32], Symmetry]] = []
    friezes = 0
    pieces, count = ring_pieces(arrangement, measures, group)
    if not count:
        return []
    # mitres cut those at both ends
    in_rows = (
        len(nearly_alike(measures, p)) >= IN_ROWS * (len(p) - _CUT_ENDS)
        for p in pieces[:count]
    )
    if rows and not all(in_rows):
        return []
    for piece in pieces:
        parts = [(piece, shown(piece))]
        if not is_frieze(parts[0][1]) and len(piece) >= _TURNED:
            one, middle, two = side_halves(measures, piece)
            halves = [(one, shown(one)), (two, shown(two))]
            if all(is_frieze(found) for _, found in halves):
                parts = halves
                parts += [(middle, shown(middle))] if len(middle) else []
        friezes += is_frieze(parts[0][1])
        sides += parts
    if friezes < count:
        return []
    # a field with a corner cut out is no strip that bends: its arms have other repeats
    if not goes_round(arrangement, group) and not _one_strip(
        [found for _, found in sides if is_frieze(found)]
    ):
        return []
    return sides


def _one_strip(friezes: list[Symmetry]) -> bool:
    """Tell whether friezes have one group and all but one repeat."""
    if len({found.group for found in friezes}) != 1:
        return False
    steps = [
        float(np.hypot(*found.lattice.basis[0]))
        for found in friezes
        if found.lattice is not None
    ]
    return max(steps) <= _LIKE_STEPS * min(steps)
