"""Whether all faces are one pattern, with what is laid into it, or their parts are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.faces.measures import outer_sides
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.zones.held import HELD, PART_HELD, may_hold, share_held
from fillwork.symmetry.zones.making import Part, count_kinds, in_order, orbit_numbers
from fillwork.symmetry.zones.parting import FEWEST, strips
from fillwork.symmetry.zones.proof import own_symmetry
from fillwork.symmetry.zones.turned import FEW_TURNS

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.model import Symmetry

# kinds that what is laid into a pattern must save at least
ACCOUNTED = 8
# share of a panel's area that scraps on a field's rim stay below
_RIM = 0.01
# operations of a part for one of the whole, from which it is a zone
_MORE_TURNS = 2
# repeats under which the lines of a frame, alike on both sides, look like a lattice,
# and repeats of a part that tell it better
_FEW_REPEATS, _MORE_REPEATS = 2.0, 4.0
# how many times as often as all faces parts repeat that are zones
FINER = 1.5
# share of the regions that lie in strips, if turns of the whole frame say less
_MOSTLY = 0.5
# share of the lines that must fit where too few faces can be asked
_LINES = 0.97
# share of the regions that a sure rosette has, if the whole is in doubt
_LARGEST = 0.33
# sides of a border that must be friezes
SIDES = 4
# operations of a frame at most, which is no rosette
_TURNS_OF_FRAME = 8


def stand_alone(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    groups: list[Ints32],
    explained: Bools,
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


def is_one(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    groups: list[Ints32],
    explained: Bools,
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


def _is_more(arrangement: Arrangement, rest: Ints32, faces: Ints32) -> bool:
    """Tell whether what lies beside the fields is more than scraps of their rim."""
    area = arrangement.area
    return bool(area[rest].sum() > _RIM * area[faces].sum())


def outdone(together: Symmetry, parts: list[Part]) -> bool:
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
    if sides >= SIDES and len(together.operations) <= _TURNS_OF_FRAME:
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


def repeats_finer(together: Symmetry, parts: list[Part]) -> bool:
    """Tell whether most faces lie in parts that surely repeat more often than all do.

    Strips and fields about each other return together where their repeats have a
    common multiple.
    """
    often = max(_MORE_REPEATS, FINER * together.repeats_seen)
    finer = sum(
        len(p.faces)
        for p in parts
        if p.symmetry.certain
        and p.symmetry.lattice is not None
        and p.symmetry.repeats_seen >= often
    )
    return finer > _MOSTLY * sum(len(p.faces) for p in parts)


def with_inlays(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: Ints32,
    groups: list[Ints32],
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
        if kinds <= max(0.5 * len(group), ACCOUNTED):
            continue
        own = find_symmetry(arrangement, group, loose_lines=False)
        count = count_kinds(arrangement, measures, group, own)
        if own.certain and kinds - count >= ACCOUNTED:
            parts.append(Part(group, own))
    if not parts:
        return [Part(faces, together)]
    rest = np.setdiff1d(faces, np.concatenate([p.faces for p in parts]))
    return in_order(arrangement, [Part(rest.astype(np.int32), together), *parts])
