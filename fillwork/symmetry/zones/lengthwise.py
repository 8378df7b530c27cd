"""Bands side by side, sides and corners: a strip parted along its lines and across."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.symmetry.faces.measures import is_long
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.zones.parting import FEWEST
from fillwork.symmetry.zones.proof import own_symmetry
from fillwork.symmetry.zones.repeats import repeating
from fillwork.symmetry.zones.turned import FEW_TURNS

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Ints32
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
# share of a side's area below which a piece beside it is none
_LOOSE = 0.01


def bands_of(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, whole: Symmetry
) -> tuple[list[tuple[Ints32, Symmetry]], Bools]:
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
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32, whole: Symmetry
) -> tuple[list[tuple[Ints32, Symmetry]], Bools]:
    """Part a side of a border from the corner squares that hang together with it.

    `faces`: the faces of a zone. `whole`: what they show together. Returns `parts`: the
    side and its frieze, and what lies beyond the lines across it; empty where all of it
    repeats or turns, or the side is no frieze; `lines` (E,): edges on those lines.
    """
    none = np.zeros(arrangement.edge_count, dtype=bool)
    strip = whole.certain and whole.group.family == "frieze"
    many = whole.lattice is not None or len(whole.operations) > FEW_TURNS
    if (whole.certain and many and not strip) or not is_long(arrangement, faces):
        return [], none
    lines = _lines_through(arrangement, faces, across=True)
    own = np.isin(np.arange(arrangement.face_count), faces)
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    link = own[left] & own[right] & ~lines
    label = part_numbers(left[link], right[link], arrangement.face_count)[faces]
    pieces = [faces[label == k] for k in np.unique(label)]
    pieces.sort(key=lambda p: (-float(arrangement.area[p].sum()), int(p[0])))
    # what a line that misses its end cuts off goes with the side
    least = _LOOSE * float(arrangement.area[pieces[0]].sum())
    loose = [p for p in pieces if arrangement.area[p].sum() < least]
    side = np.sort(np.concatenate([pieces[0], *loose])).astype(np.int32)
    pieces = pieces[: len(pieces) - len(loose)]
    if not 2 <= len(pieces) <= _ENDS + 1:
        return [], none
    told = repeating(arrangement, measures, faces, whole) if strip else faces[:0]
    # end cells of a strip of squares are carried along it, and corners are not
    if len(np.setdiff1d(told, side)):
        return [], none
    found = own_symmetry(arrangement, measures, side) if len(side) >= FEWEST else whole
    if not (found.certain and found.group.family == "frieze"):
        return [], none
    rest = [
        (p, own_symmetry(arrangement, measures, p))
        if len(p) >= FEWEST
        else (p, Symmetry(NO_GROUP))
        for p in pieces[1:]
    ]
    return [(side, found), *rest], lines


def _lines_through(
    arrangement: Arrangement, faces: Ints32, *, across: bool = False
) -> Bools:
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
