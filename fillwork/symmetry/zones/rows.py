"""Rows of a pattern that lines through the whole panel part: told, and joined again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import distinct_pairs
from fillwork.symmetry.zones.making import Part
from fillwork.symmetry.zones.proof import own_symmetry
from fillwork.symmetry.zones.repeats import share_carried

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.model import Symmetry

# rows of a pattern, at least, and edges along which two of them meet
_ROWS = 3
# share of the regions beside a row in doubt that its shift carries onto like ones
_GOES_ALONG = 0.33
# share of a strip's length along which something lies beside it
_ALONGSIDE = 0.4
# share of a shift by which those of such rows differ
_SAME_SHIFT = 0.03
# how often a shift of one piece of a pattern holds those of another, at most
_MULTIPLE = 3


def rows_beside(arrangement: Arrangement, parts: list[Part]) -> list[Part]:
    """Return sure friezes of one repeat of which three or more lie side by side.

    Bands of a border are seldom three alike; rows of a pattern are.
    """
    strips = [p for p in parts if p.symmetry.group.family == "frieze"]
    rows = _linked(arrangement, strips, _one_repeat)
    return [
        p for some in rows if len(some) >= _ROWS for p in some if p.symmetry.certain
    ]


def beside_repeating(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[Part]
) -> list[Part]:
    """Return sure friezes whose shift carries much of what lies beside in doubt.

    What meets a strip at its end lies not beside it.
    """
    label = np.full(arrangement.face_count, -1)
    for k, part in enumerate(parts):
        label[part.faces] = k
    sides = np.sort(label[arrangement.face].reshape(-1, 2), axis=1)
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)]
    pairs = distinct_pairs(sides)
    found = []
    for i, j in pairs[(pairs[:, 0] >= 0) & (pairs[:, 0] != pairs[:, 1])].tolist():
        shared = ends[(sides == (i, j)).all(axis=1)]
        for one, two in ((parts[i], parts[j]), (parts[j], parts[i])):
            own = one.symmetry
            if own.group.family != "frieze" or own.lattice is None or not own.certain:
                continue
            if two.symmetry.certain or len(two.faces) < _ROWS:
                continue
            basis, noise = own.lattice.basis, own.residual
            repeat = float(np.hypot(*basis[0]))
            along = np.abs((shared[:, 1] - shared[:, 0]) @ basis[0]).sum() / repeat
            if along < _ALONGSIDE * own.repeats_seen * repeat:
                continue
            share = share_carried(arrangement, measures, two.faces, basis, noise)
            if share >= _GOES_ALONG:
                found.append(one)
    return found


def joined_rows(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[Part]
) -> list[Part]:
    """Join rows, and pieces in doubt, beside each other that are one pattern.

    Such has the turns and mirrors of its rows: where it has fewer than each, rows of a
    border have the field's repeat by chance, and those of one group alone are tried.
    """
    some = [
        p
        for p in parts
        if p.symmetry.group.family == "frieze"
        or (p.symmetry.group.family == "plane" and not p.symmetry.certain)
    ]
    tried = _linked(arrangement, some, _one_pattern)
    for rows in tried:
        planes = sum(p.symmetry.group.family == "plane" for p in rows)
        if len(rows) < _ROWS - bool(planes):
            continue
        faces = np.sort(np.concatenate([r.faces for r in rows])).astype(np.int32)
        found = own_symmetry(arrangement, measures, faces)
        if not (found.certain and found.group.family == "plane"):
            continue
        if len(found.operations) < min(len(r.symmetry.operations) for r in rows):
            again = _linked(arrangement, rows, _one_repeat)
            tried += again if len(again) > 1 else []
            continue
        parts = [p for p in parts if not any(p is r for r in rows)]
        parts.append(Part(faces, found))
    return parts


def _linked(
    arrangement: Arrangement,
    parts: list[Part],
    alike: Callable[[Symmetry, Symmetry], bool],
) -> list[list[Part]]:
    """Return parts that hang together by those beside them that are alike."""
    label = np.full(arrangement.face_count, -1)
    for k, part in enumerate(parts):
        label[part.faces] = k
    a, b = label[arrangement.face[0::2]], label[arrangement.face[1::2]]
    meet = (a >= 0) & (b >= 0) & (a != b)
    pairs = np.sort(np.column_stack([a[meet], b[meet]]), axis=1)
    beside, times = np.unique(pairs, axis=0, return_counts=True)
    kept = [
        (i, j)
        for (i, j), count in zip(beside.tolist(), times.tolist(), strict=True)
        if count >= _ROWS and alike(parts[i].symmetry, parts[j].symmetry)
    ]
    links = np.array(kept, dtype=np.int64).reshape(-1, 2)
    number = part_numbers(links[:, 0], links[:, 1], len(parts))
    return [
        [p for p, k in zip(parts, number, strict=True) if k == one]
        for one in np.unique(number)
    ]


def _one_repeat(one: Symmetry, two: Symmetry) -> bool:
    """Tell whether two friezes have one group and one shift."""
    return one.group == two.group and _one_pattern(one, two)


def _one_pattern(one: Symmetry, two: Symmetry) -> bool:
    """Tell whether the shifts of one of two parts are shifts of the other too."""
    if one.lattice is None or two.lattice is None:
        return False
    return any(
        _holds(u, v)
        for u, v in (
            (one.lattice.basis, two.lattice.basis),
            (two.lattice.basis, one.lattice.basis),
        )
    )


def _holds(basis: Floats, others: Floats) -> bool:
    """Tell whether a lattice holds the shifts of another, few times its own."""
    if len(others) > len(basis):
        return False
    most = 1 if len(basis) == 1 else _MULTIPLE
    times = np.rint(others @ np.linalg.pinv(basis)).clip(-most, most)
    miss = np.hypot(*(others - times @ basis).T)
    return bool((miss <= _SAME_SHIFT * np.hypot(*others.T)).all())
