"""Bands side by side: a strip parted along its lines, and strips of one repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.faces.measures import is_long
from fillwork.symmetry.grids import part_numbers
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.zones.making import Part
from fillwork.symmetry.zones.parting import FEWEST
from fillwork.symmetry.zones.proof import own_symmetry
from fillwork.symmetry.zones.repeats import share_carried

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.faces.measures import FaceMeasures

# bands side by side at least
_BESIDE = 2
# how far pieces of one line lie apart, in roots of the median area
_ASIDE = 0.06
# share of the strip that a line runs along, and share of that which it fills
_THROUGH = 0.7
_SOLID = 0.97
# how far a corner piece may be from a square, and ends of a strip
_SQUARE, _ENDS = 0.1, 2
# rows of a pattern, at least, and edges along which two of them meet
_ROWS = 3
# share of the regions beside a row in doubt that its shift carries onto like ones
_GOES_ALONG = 0.33
# share of a shift by which those of such rows differ
_SAME_SHIFT = 0.03


def bands_of(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    whole: Symmetry,
) -> tuple[list[tuple[NDArray[np.int32], Symmetry]], NDArray[np.bool_]]:
    """Part a strip along its lines into bands that show more apart than together.

    `faces`: the faces of a zone. `whole`: what they show together. Returns `bands`:
    faces and frieze of each band, and scraps; empty where it is none or one; `lines`
    (E,): edges on the lines between them.
    """
    none = np.zeros(arrangement.edge_count, dtype=bool)
    if not is_long(arrangement, faces):
        return [], none
    lines = _lines_through(arrangement, faces)
    if not lines.any():
        return [], none
    own = np.isin(np.arange(arrangement.face_count), faces)
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    link = own[left] & own[right] & ~lines
    label = part_numbers(left[link], right[link], arrangement.face_count)[faces]
    bands = [faces[label == k] for k in np.unique(label)]
    found = [
        own_symmetry(arrangement, measures, b)
        if len(b) >= FEWEST
        else Symmetry(NO_GROUP)
        for b in bands
    ]
    strips = [s for b, s in zip(bands, found, strict=True) if len(b) >= FEWEST]
    sure = all(s.certain and s.group.family == "frieze" for s in strips)
    least = len(whole.operations) if whole.certain else 0
    each = [len(s.operations) for s in strips]
    if len(each) < _BESIDE or not sure or min(each) < least or max(each) <= least:
        return [], none
    return list(zip(bands, found, strict=True)), lines


def ends_of(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: NDArray[np.int32],
    whole: Symmetry,
) -> tuple[list[tuple[NDArray[np.int32], Symmetry]], NDArray[np.bool_]]:
    """Part a side of a border from the corner squares that hang together with it.

    `faces`: the faces of a zone. `whole`: what they show together. Returns `parts`: the
    side and its frieze, and what lies beyond the lines across it; empty where it is
    sure without or no frieze then; `lines` (E,): edges on those lines.
    """
    none = np.zeros(arrangement.edge_count, dtype=bool)
    sure = whole.certain and (whole.lattice is not None or len(whole.operations) > 1)
    if sure or not is_long(arrangement, faces):
        return [], none
    lines = _lines_through(arrangement, faces, across=True)
    own = np.isin(np.arange(arrangement.face_count), faces)
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    link = own[left] & own[right] & ~lines
    label = part_numbers(left[link], right[link], arrangement.face_count)[faces]
    pieces = [faces[label == k] for k in np.unique(label)]
    if not 2 <= len(pieces) <= _ENDS + 1:
        return [], none
    side = max(pieces, key=lambda p: (float(arrangement.area[p].sum()), -int(p[0])))
    found = own_symmetry(arrangement, measures, side) if len(side) >= FEWEST else whole
    if not (found.certain and found.group.family == "frieze"):
        return [], none
    rest = [
        (p, own_symmetry(arrangement, measures, p))
        if len(p) >= FEWEST
        else (p, Symmetry(NO_GROUP))
        for p in pieces
        if p is not side
    ]
    return [(side, found), *rest], lines


def _lines_through(
    arrangement: Arrangement, faces: NDArray[np.int32], *, across: bool = False
) -> NDArray[np.bool_]:
    """Return the edges on straight lines that run through a strip.

    `across`: those across it that cut squares off its ends, else those along it.
    """
    import shapely

    own = np.zeros(arrangement.face_count, dtype=bool)
    own[faces] = True
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    touching = own[left] | own[right]
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)]
    points = ends[touching].reshape(-1, 2)
    box = shapely.minimum_rotated_rectangle(shapely.multipoints(points))
    sides = np.diff(shapely.get_coordinates(box), axis=0)[:2]
    long = int(np.hypot(*sides.T).argmax())
    axis = sides[1 - long if across else long]
    axis = axis / np.hypot(*axis)
    along, aside = ends @ axis, ends @ np.array([-axis[1], axis[0]])
    near = _ASIDE * float(np.median(np.sqrt(arrangement.area[faces])))
    flat = np.flatnonzero(own[left] & own[right] & (np.ptp(aside, axis=1) < near))
    lines = np.zeros(len(left), dtype=bool)
    if len(flat) == 0:
        return lines
    level = aside[flat].mean(axis=1)
    order = np.argsort(level, kind="stable")
    flat, row = flat[order], np.cumsum(np.diff(level[order], prepend=-np.inf) > near)
    low, high = np.full((2, int(row[-1]) + 1), [[np.inf], [-np.inf]])
    np.minimum.at(low, row, along[flat].min(axis=1))
    np.maximum.at(high, row, along[flat].max(axis=1))
    filled = np.bincount(row, np.ptp(along[flat], axis=1))
    reach = high - low
    through = (reach >= _THROUGH * np.ptp(points @ axis)) & (filled >= _SOLID * reach)
    if across:
        # as far from an end as the strip is wide
        rim = points @ np.array([-axis[1], axis[0]])
        away = np.zeros(len(low))
        away[row] = np.abs(level[order] - rim.min())
        away = np.minimum(away, np.ptp(rim) - away)
        through &= np.abs(away / np.ptp(points @ axis) - 1) < _SQUARE
    lines[flat[through[row]]] = True
    return lines


def rows_beside(
    arrangement: Arrangement, parts: list[Part], *, unlike: bool = False
) -> list[list[Part]]:
    """Return friezes of one repeat that lie side by side, three or more at a time.

    Bands of a border are seldom three alike; rows of a pattern are.

    `unlike`: whether their groups may differ, as those of two rows and of one.
    """
    strips = [p for p in parts if p.symmetry.group.family == "frieze"]
    if len(strips) < _ROWS:
        return []
    label = np.full(arrangement.face_count, -1)
    for k, strip in enumerate(strips):
        label[strip.faces] = k
    a, b = label[arrangement.face[0::2]], label[arrangement.face[1::2]]
    meet = (a >= 0) & (b >= 0) & (a != b)
    pairs = np.sort(np.column_stack([a[meet], b[meet]]), axis=1)
    beside, times = np.unique(pairs, axis=0, return_counts=True)
    kept = [
        (i, j)
        for (i, j), count in zip(beside.tolist(), times.tolist(), strict=True)
        if count >= _ROWS
        and _one_repeat(strips[i].symmetry, strips[j].symmetry, unlike=unlike)
    ]
    links = np.array(kept, dtype=np.int64).reshape(-1, 2)
    number = part_numbers(links[:, 0], links[:, 1], len(strips))
    rows = [
        [p for p, k in zip(strips, number, strict=True) if k == one]
        for one in np.unique(number)
    ]
    return [r for r in rows if len(r) >= _ROWS]


def beside_repeating(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[Part]
) -> list[Part]:
    """Return sure friezes whose shift carries much of what lies beside in doubt."""
    label = np.full(arrangement.face_count, -1)
    for k, part in enumerate(parts):
        label[part.faces] = k
    pairs = np.unique(np.sort(label[arrangement.face].reshape(-1, 2), axis=1), axis=0)
    found = []
    for i, j in pairs[(pairs[:, 0] >= 0) & (pairs[:, 0] != pairs[:, 1])].tolist():
        for one, two in ((parts[i], parts[j]), (parts[j], parts[i])):
            own = one.symmetry
            if own.group.family != "frieze" or own.lattice is None or not own.certain:
                continue
            if two.symmetry.certain or len(two.faces) < _ROWS:
                continue
            basis, noise = own.lattice.basis, own.residual
            share = share_carried(arrangement, measures, two.faces, basis, noise)
            if share >= _GOES_ALONG:
                found.append(one)
    return found


def joined_rows(
    arrangement: Arrangement, measures: FaceMeasures, parts: list[Part]
) -> list[Part]:
    """Join friezes of one repeat that lie side by side where they are one pattern."""
    for rows in rows_beside(arrangement, parts, unlike=True):
        faces = np.sort(np.concatenate([r.faces for r in rows])).astype(np.int32)
        found = own_symmetry(arrangement, measures, faces)
        if found.certain and found.group.family == "plane":
            parts = [p for p in parts if not any(p is r for r in rows)]
            parts.append(Part(faces, found))
    return parts


def _one_repeat(one: Symmetry, two: Symmetry, *, unlike: bool) -> bool:
    """Tell whether two friezes have one shift, and one group if they must."""
    if one.lattice is None or two.lattice is None:
        return False
    if one.group != two.group and not unlike and one.certain and two.certain:
        return False
    u, v = one.lattice.basis[0], two.lattice.basis[0]
    size = max(float(np.hypot(*u)), float(np.hypot(*v)))
    apart = min(float(np.hypot(*(u - v))), float(np.hypot(*(u + v))))
    return apart <= _SAME_SHIFT * size
