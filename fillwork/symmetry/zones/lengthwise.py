"""Bands side by side: a strip parted along its lines, and strips of one repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.faces.measures import is_long
from fillwork.symmetry.grids import part_numbers
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.zones.parting import FEWEST
from fillwork.symmetry.zones.proof import own_symmetry

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.zones.making import Part

# bands side by side at least
_BESIDE = 2
# how far pieces of one line lie apart, in roots of the median area
_ASIDE = 0.06
# share of the strip that a line runs along, and share of that which it fills
_THROUGH = 0.7
_SOLID = 0.97
# rows of a pattern, at least, and edges along which two of them meet
_ROWS = 3
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


def _lines_through(
    arrangement: Arrangement, faces: NDArray[np.int32]
) -> NDArray[np.bool_]:
    """Return the edges on straight lines that run through a strip."""
    import shapely

    own = np.zeros(arrangement.face_count, dtype=bool)
    own[faces] = True
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    touching = own[left] | own[right]
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)]
    points = ends[touching].reshape(-1, 2)
    box = shapely.minimum_rotated_rectangle(shapely.multipoints(points))
    sides = np.diff(shapely.get_coordinates(box), axis=0)[:2]
    axis = sides[np.hypot(*sides.T).argmax()]
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
    lines[flat[through[row]]] = True
    return lines


def rows_beside(arrangement: Arrangement, parts: list[Part]) -> list[Part]:
    """Return sure friezes of which three or more of one repeat lie side by side.

    Bands of a border are seldom three alike; rows of a pattern are.
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
        if count >= _ROWS and _one_repeat(strips[i].symmetry, strips[j].symmetry)
    ]
    links = np.array(kept, dtype=np.int64).reshape(-1, 2)
    number = part_numbers(links[:, 0], links[:, 1], len(strips))
    many = np.bincount(number)[number] >= _ROWS
    return [
        p for p, told in zip(strips, many, strict=True) if told and p.symmetry.certain
    ]


def _one_repeat(one: Symmetry, two: Symmetry) -> bool:
    """Tell whether two friezes have one group and one shift."""
    if one.lattice is None or two.lattice is None or one.group != two.group:
        return False
    u, v = one.lattice.basis[0], two.lattice.basis[0]
    size = max(float(np.hypot(*u)), float(np.hypot(*v)))
    apart = min(float(np.hypot(*(u - v))), float(np.hypot(*(u + v))))
    return apart <= _SAME_SHIFT * size
