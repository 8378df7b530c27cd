"""Figures: the regions round one centre that read as one star or flower.

A figure has one of two centres. A *heart* is a region whose neighbours all round are
of one family that is not its own, five or more, such as the middle of a star with
its points. A *hub* is a point where five or more regions of one family meet and no
other. A region that would belong to several figures, as a triangle between three
hexagons does, makes none of them: the eye sees a ground there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import distinct, expand_ranges

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Ints

_POINTS = 5  # points of a figure at least: four squares at a corner are none
_MOST = 0.6  # share of a kind's whole regions that must be in one figure


def class_figures(
    arrangement: Arrangement, kind: Ints, whole: Bools, family: Ints
) -> tuple[Ints, Bools]:
    """Join the kinds that make figures of one sort.

    `kind` (F,): kind of each face, -1 for none. `whole` (F,): faces that stand for
    their kind. `family` (kinds,): family of each kind. Returns `label` (kinds,): kinds
    of one number are parts of figures of one sort, or one family beside the figures;
    `drawn` (kinds,): True for kinds that are parts of figures.
    """
    of_face = np.where(kind >= 0, family[np.maximum(kind, 0)], -1)
    heart, point = _hearts(arrangement, of_face)
    count = len(family)
    faces = np.flatnonzero(whole & (kind >= 0))
    total = np.maximum(np.bincount(kind[faces], minlength=count), 1)
    in_hearts = np.bincount(point, minlength=len(kind))
    hearts = np.bincount(heart, minlength=len(kind)) > 0
    # a point of one heart, and no heart itself
    once = (in_hearts == 1) & ~hearts
    points = np.bincount(kind[faces], once[faces], count) / total >= _MOST
    middles = np.bincount(kind[faces], hearts[faces], count) / total >= _MOST
    links = (points[kind[point]] & middles[kind[heart]]) & once[point]
    number = part_numbers(kind[heart[links]], kind[point[links]], count)
    joined = np.zeros(count, dtype=bool)
    joined[kind[heart[links]]] = joined[kind[point[links]]] = True
    hubs = np.bincount(_hubs(arrangement, of_face), minlength=len(kind)) == 1
    stars = np.bincount(kind[faces], hubs[faces], count) / total >= _MOST
    stars &= ~joined
    # figures of one sort have hearts and points of one family each
    sort = np.where(joined, 0, np.where(stars, 1, 2)).astype(np.int64)
    lead = np.full(count, -1, dtype=np.int64)
    if joined.any():
        middle = np.flatnonzero(joined & middles)
        top = int(number.max()) + 1
        key = np.full(top, np.iinfo(np.int64).max)
        np.minimum.at(key, number[middle], family[middle])
        lead[joined] = key[number[joined]]
    lead[~joined] = family[~joined]
    _, label = np.unique(np.stack([sort, lead], axis=1), axis=0, return_inverse=True)
    return label.ravel().astype(np.int64), joined | stars


def _hearts(arrangement: Arrangement, family: Ints) -> tuple[Ints, Ints]:
    """Return pairs of a heart and a point round it."""
    rings = arrangement.face_ring_start[:-1]
    start = arrangement.ring_start[rings]
    count = (arrangement.ring_start[rings + 1] - start).astype(np.int64)
    count[0] = 0
    owner, member = expand_ranges(start, count)
    other = arrangement.face[arrangement.ring_half_edge[member] ^ 1].astype(np.int64)
    size = len(family)
    pairs = distinct(owner * size + other)
    owner, other = pairs // size, pairs % size
    own = family[other]
    low = np.full(size, np.iinfo(np.int64).max)
    high = np.full(size, -1, dtype=np.int64)
    np.minimum.at(low, owner, own)
    np.maximum.at(high, owner, own)
    round_it = np.bincount(owner, minlength=size) >= _POINTS
    heart = round_it & (low == high) & (low >= 0) & (low != family)
    keep = heart[owner]
    return owner[keep], other[keep]


def _hubs(arrangement: Arrangement, family: Ints) -> Ints:
    """Return the faces round each hub, one after the other."""
    vertex = arrangement.origin.astype(np.int64)
    face = arrangement.face.astype(np.int64)
    own = family[face]
    size = len(arrangement.vertices)
    low = np.full(size, np.iinfo(np.int64).max)
    high = np.full(size, -1, dtype=np.int64)
    np.minimum.at(low, vertex, own)
    np.maximum.at(high, vertex, own)
    many = np.bincount(vertex, minlength=size) >= _POINTS
    hub = many & (low == high) & (low >= 0)
    pairs = distinct(vertex[hub[vertex]] * len(family) + face[hub[vertex]])
    return np.asarray(pairs % len(family))
