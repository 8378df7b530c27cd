"""Whether regions have their like, asked before a symmetry is searched for.

A shift, a turn or a mirror that keeps a drawing lays every region on one alike whose
neighbours are alike too, or on itself. Where hardly a region of a sample has its like
there is nothing to find, and a search through all shifts and centres is spared. What
is asked costs by the sample, not by the drawing.

Regions are told by *marks*, numbers that isometries leave alone: moments, and waves
of radius and of neighbours' sizes round the middle. Corners that are off move marks a
little; chance alone brings marks so near the sooner the more regions there are. So
rough likes are looked for among some, of which a pattern that repeats has many, and
close ones, such as a figure with one mirror has, among all.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import expand_ranges, marked
from fillwork.symmetry.faces.congruence import share_alike_alone, traits_of
from fillwork.symmetry.faces.measures import outer_sides

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.symmetry.faces.measures import FaceMeasures


# regions that are asked, of how many at least, and among which rough likes are sought
_ASKED, _LEAST, _AMONG = 100, 4, 1000
# how far marks of likes may differ, in the neighbours' usual size: patterns whose
# corners are off by 4 % of a line keep a tenth of their regions within the first
# (17 groups), 1,000 random cells keep none; the second is for numbers of the drawing
_ROUGH, _CLOSE = 0.03, 0.006
# share of those asked that chance may give a like
_CHANCE = 0.1
# share that may have a mirror or a turn of its own: of random triangles a fifth
_ALONE = 0.3
# close likes that are weighed for each region
_WEIGHED = 40
_WAVES = 5


def all_strangers(
    arrangement: Arrangement,
    measures: FaceMeasures,
    faces: AnyInts,
    *,
    strictly: bool = False,
) -> bool:
    """Tell whether surely no symmetry keeps some faces.

    True when hardly a face has its like; False when it may, or when too few whole faces
    can be asked.

    `faces`: the faces of one zone. `strictly`: whether not one may have its like; else
    a tenth may, by chance.
    """
    member = marked(faces, arrangement.face_count)
    member &= ~arrangement.cut
    member[0] = False
    inner = member.copy()
    inner[arrangement.face[outer_sides(arrangement, faces)]] = False
    if inner.sum() < _LEAST:
        inner = member
    rows = np.flatnonzero(inner)
    if len(rows) < _LEAST:
        return False
    order = np.random.default_rng(0).permutation(len(rows))
    asked, among = rows[order[:_ASKED]], rows[order[:_AMONG]]
    if share_alike_alone(arrangement, asked, _ROUGH) > _ALONE:
        return False
    one, other = _nearly_same(measures, asked, rows)
    every, row = np.unique(np.r_[among, other], return_inverse=True)
    marks = _marks(arrangement, measures, every, member)
    among, other = row[: len(among)], row[len(among) :]
    asked = among[: len(asked)]
    unit = marks[asked, -1]
    near = np.sqrt(((marks[asked[one]] - marks[other]) ** 2).mean(axis=1))
    liked = np.zeros(len(asked), dtype=bool)
    liked[one[near <= _CLOSE * unit[one]]] = True
    for k, at in enumerate(asked):
        off = ((marks[among] - marks[at]) ** 2).mean(axis=1)
        off[k] = np.inf
        liked[k] |= off.min() <= (_ROUGH * unit[k]) ** 2
    return not liked.any() if strictly else bool(liked.mean() < _CHANCE)


def _nearly_same(measures: FaceMeasures, asked: Ints, rows: Ints) -> tuple[Ints, Ints]:
    """Return pairs of rows of `asked` and other faces that may be close likes."""
    by_size = rows[np.argsort(measures.size[rows], kind="stable")]
    size = measures.size[by_size]
    ones: list[Ints] = []
    others: list[Ints] = []
    for k, face in enumerate(asked):
        reach = _CLOSE * measures.size[face]
        low, high = np.searchsorted(
            size, measures.size[face] + reach * np.array([-1, 1])
        )
        near = by_size[low:high]
        off = np.abs(measures.length[near] - measures.length[face]) / 4
        off = np.maximum(
            off, np.abs(measures.inscribed[near] - measures.inscribed[face])
        )
        near = near[(off <= reach) & (near != face)][:_WEIGHED]
        ones.append(np.full(len(near), k))
        others.append(near)
    return np.concatenate(ones), np.concatenate(others)


def _marks(
    arrangement: Arrangement, measures: FaceMeasures, rows: Ints, member: Bools
) -> Floats:
    """Return the marks of faces in mm, the usual size about each in the last column."""
    first = arrangement.ring_start[arrangement.face_ring_start[rows]]
    last = arrangement.ring_start[arrangement.face_ring_start[rows + 1]]
    owner, at = expand_ranges(first, last - first)
    half = arrangement.ring_half_edge[at]
    p, q = (
        arrangement.vertices[arrangement.origin[h]] @ np.array([1, 1j])
        for h in (half, half ^ 1)
    )
    middle = measures.centroid[rows[owner]] @ np.array([1, 1j])
    weight = np.abs(q - p)
    total = np.bincount(owner, weight, len(rows))
    # a neighbour that a frame cuts shows nothing of its size
    beside = arrangement.face[half ^ 1]
    beside = np.where(member[beside], beside, rows[owner])

    def mean(values: Floats) -> Floats:
        return np.bincount(owner, weight * values, len(rows)) / total

    away = (p + q) / 2 - middle
    radius = np.abs(away)
    turn = away / np.maximum(radius, 1e-300)
    values = (radius, measures.size[beside], measures.length[beside] / 4)
    columns = [mean(v) for v in values]
    wave = np.ones(len(owner), dtype=np.complex128)
    for _ in range(_WAVES):
        wave = wave * turn
        columns += [np.hypot(mean(v * wave.real), mean(v * wave.imag)) for v in values]
    columns.append(columns[1])
    return np.column_stack([traits_of(arrangement, measures, rows), *columns])
