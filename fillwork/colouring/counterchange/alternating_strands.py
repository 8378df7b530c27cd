"""Where the strands of a kind of band stand in the group.

A strand is moved as one thing: the operation that carries a piece of one strand onto
a piece of another carries the whole strand. Operations that carry the first strand
onto itself, along it or round it, keep its colour.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.counterchange.standing import find_stabiliser, locate

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.counterchange.subgroups import Element, PatternGroup
    from fillwork.symmetry.model import Orbit

    Ints = NDArray[np.int64]


# pieces of so many sorts are tried to reach strands that lack one of the first sort
_SORTS = 12
# areas of pieces of one sort differ by no more than this share
_ALIKE = 0.02

StrandPlaces = tuple["Ints", "Ints", "tuple[Element, ...]", int]
"""Parts and translations of regions, what keeps the first strand, doubtful regions."""


def read_strands(
    arrangement: Arrangement,
    orbit: Orbit,
    strand_of_face: NDArray[np.integer],
    group: PatternGroup,
    cut: NDArray[np.bool_],
) -> StrandPlaces:
    """Return the operations that carry the first strand of a kind onto the others.

    `orbit`: a kind of band, in one zone. `strand_of_face` (F,): strand of each face.
    `group`: of the zone. `cut` (F,): which faces a frame or the page cuts: they tell
    nothing of what keeps a strand, and of its place only where nothing else does.
    Returns `part` (n,): part of the point group for each region, the same along a
    strand; `move` (n, rank): its translation; `stabiliser`: operations that carry the
    first strand onto itself; `doubtful`: how many regions lie in strands that no
    operation reaches.
    """
    strand = np.asarray(strand_of_face)[orbit.faces]
    points = arrangement.witness[orbit.faces]
    first = int(np.flatnonzero(orbit.faces == orbit.representative)[0])
    none: Element = (0, (0,) * group.rank)
    reached: dict[int, Element] = {int(strand[first]): none}
    keeping: list[Element] = []
    area = np.abs(arrangement.area[orbit.faces])
    order = np.lexsort((orbit.faces, -area.round(6)))
    tried = np.zeros(len(strand), bool)
    bit = np.asarray(cut)[orbit.faces]
    late: list[tuple[int, Element]] = []
    sources = [first, *order.tolist()]
    sorts = 0
    for row in sources:
        if tried[row] or bit[row] or int(strand[row]) not in reached or sorts == _SORTS:
            continue
        sorts += 1
        polygon = arrangement.polygons(orbit.faces[row : row + 1])[0]
        part, move, sure = locate(polygon, points[row], group, points)
        # a piece that the frame shortened may lie over one of another strand
        sure &= bit | (np.abs(area - area[row]) <= _ALIKE * area[row])
        tried |= sure
        before = reached[int(strand[row])]
        for at in np.flatnonzero(sure).tolist():
            onto: Element = (int(part[at]), tuple(move[at].tolist()))
            whole = group.multiply(onto, before)
            if bit[at]:
                late.append((int(strand[at]), whole))
                continue
            held = reached.setdefault(int(strand[at]), whole)
            keeping.append(group.multiply(group.invert(held), whole))
        for own in find_stabiliser(polygon, points[row], group):
            turned = group.multiply(own, before)
            keeping.append(group.multiply(group.invert(before), turned))
    for number, whole in late:
        reached.setdefault(number, whole)
    places = [reached.get(s, none) for s in strand.tolist()]
    doubtful = sum(s not in reached for s in strand.tolist())
    part = np.array([g for g, _ in places], np.int64)
    move = np.array([t for _, t in places], np.int64).reshape(len(places), group.rank)
    return part, move, tuple(sorted(set(keeping))), doubtful


def strand_contacts(
    arrangement: Arrangement, faces: NDArray[np.integer], strand: NDArray[np.integer]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return pairs of regions of unlike strands that touch, and along what length.

    `faces`: regions of a kind of band. `strand` (F,): strand of each face. Returns
    `pairs` (n, 2): the regions; `shared` (n,): lengths, mm.
    """
    own = np.zeros(arrangement.face_count, bool)
    own[faces] = True
    pairs = np.stack([arrangement.face[0::2], arrangement.face[1::2]], axis=1)
    edge = np.flatnonzero(own[pairs].all(axis=1))
    edge = edge[strand[pairs[edge, 0]] != strand[pairs[edge, 1]]]
    p = arrangement.vertices[arrangement.origin[2 * edge]]
    q = arrangement.vertices[arrangement.origin[2 * edge + 1]]
    return pairs[edge].astype(np.int64), np.hypot(*(q - p).T)
