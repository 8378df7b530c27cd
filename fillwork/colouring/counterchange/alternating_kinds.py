"""Where the regions of a kind stand in the group, and by what they can alternate.

The place of a region is the operation that carries the region that represents its
kind onto it. It is found by carrying a point inside the region back, so a region
that the page cuts has the place of the whole one. Where zones are copies of each
other, a kind has regions in several; those of the others have the places of the
regions of which they are copies.

A strand is moved as one thing: the operation that carries a piece of one strand onto
a piece of another carries the whole strand. Operations that carry the first strand
onto itself, along it or round it, keep its colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.counterchange.cosets import Cosets
from fillwork.colouring.counterchange.standing import find_stabiliser, locate
from fillwork.colouring.counterchange.subgroups import (
    find_subgroups,
    read_pattern_group,
)
from fillwork.colouring.counterchange.zone_copies import find_zone_copy
from fillwork.geometry.ranges import marked

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32
    from fillwork.colouring.counterchange.find import Possibility
    from fillwork.colouring.counterchange.subgroups import (
        Element,
        PatternGroup,
        Subgroup,
    )
    from fillwork.colouring.counterchange.zone_copies import ZoneCopy
    from fillwork.colouring.model import Adjacency
    from fillwork.symmetry.model import Orbit, Orbits, Zone


# pieces of so many sorts are tried to reach strands that lack one of the first sort
_SORTS = 12
# areas of pieces of one sort differ by no more than this share
_ALIKE = 0.02

Places = tuple["Ints", "Ints", "tuple[Element, ...]", int]
"""Parts and translations of regions, what keeps the first one, doubtful regions."""


@dataclass(frozen=True, slots=True, eq=False)
class AlternatingKind:
    """Hold a kind whose regions are moved by the group of its zone."""

    row: int  # row of `Orbits.orbits`
    letter: str  # the kind
    faces: Ints32  # its regions
    # (n,): part of the point group of the operation that carries the representative to
    # each
    part: Ints
    move: Ints  # (n, rank): translation of that operation
    stabiliser: tuple[Element, ...]  # operations that keep the representative in place
    area: float  # area of all its regions, mm²
    doubtful: int  # how many regions lie over no image of the representative


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """Hold a subgroup by which a kind can alternate."""

    subgroup: Subgroup  # what keeps a colour in place
    label: Ints32  # colour of each region of the kind, from 0
    alike: float  # length along which touching regions of the kind bear one colour, mm

    @property
    def several(self) -> bool:
        """Return whether the page shows more than one of the colours."""
        return bool(np.ptp(self.label))


def alike_length(adjacency: Adjacency, label: Ints, rows: Bools) -> float:
    """Measure where touching regions bear one label; shared length, mm.

    `adjacency`: how regions touch. `label` (F,): label of each region. `rows`: which
    contacts count.
    """
    pairs = adjacency.face_pairs[rows]
    same = label[pairs[:, 0]] == label[pairs[:, 1]]
    return float(adjacency.face_shared[rows][same].sum())


def group_of(zone: Zone) -> PatternGroup | None:
    """Return the group of a zone in whole numbers; None where it has no symmetry.

    Raises `SymmetryError` if its operations do not form a group.
    """
    symmetry = zone.symmetry
    if symmetry.group.family == "none" or not symmetry.operations:
        return None
    basis = np.empty((0, 2)) if symmetry.lattice is None else symmetry.lattice.basis
    return read_pattern_group([op.map for op in symmetry.operations], basis)


class KindReader:
    """Read kinds as what their groups move, each thing once.

    `adjacency`: how they touch. `possibilities` (dict of (zone, colours) to tuple of
    Possibility): what `find_possibilities` found for all kinds of a zone.
    """

    def __init__(
        self, arrangement: Arrangement, orbits: Orbits, adjacency: Adjacency
    ) -> None:
        self.arrangement, self.orbits = arrangement, orbits
        self.adjacency = adjacency
        self._zones = {zone.index: zone for zone in orbits.zones}
        self._groups: dict[int, PatternGroup | None] = {}
        self._kinds: dict[int, AlternatingKind | None] = {}
        self._copies: dict[tuple[int, int], ZoneCopy | None] = {}
        self._subgroups: dict[tuple[int, int], tuple[Subgroup, ...]] = {}
        self.possibilities: dict[tuple[int, int], tuple[Possibility, ...]] = {}
        self._ways: dict[tuple[int, int], list[Way]] = {}

    def group(self, zone: int) -> PatternGroup | None:
        """Return the group of a zone; None where it has no symmetry.

        `zone`: index of the zone.
        """
        if zone not in self._groups:
            own = self._zones.get(zone)
            self._groups[zone] = None if own is None else group_of(own)
        return self._groups[zone]

    def role(self, zone: int) -> str:
        """Return the part that a zone plays in the drawing.

        `zone`: index of the zone.
        """
        return self._zones[zone].role

    def subgroups(self, zone: int, index: int) -> tuple[Subgroup, ...]:
        """Return the subgroups of a zone's group.

        `zone`: index of the zone. `index`: index of the subgroups, 1 or more.
        """
        group = self.group(zone)
        if group is None:
            return ()
        key = (zone, index)
        if key not in self._subgroups:
            self._subgroups[key] = find_subgroups(group, index)
        return self._subgroups[key]

    def kind(self, row: int) -> AlternatingKind | None:
        """Return a kind with the places of its regions.

        None where its zone has no symmetry, or where the zones that share it cannot be
        laid on each other.

        `row`: row of `Orbits.orbits`.
        """
        if row not in self._kinds:
            self._kinds[row] = self._read(row)
        return self._kinds[row]

    def _read(self, row: int) -> AlternatingKind | None:
        arrangement, orbit = self.arrangement, self.orbits.orbits[row]
        group = self.group(orbit.zone)
        if group is None:
            return None
        found = self._band_places if orbit.band else self._places
        places = found(orbit, group)
        if places is None:
            return None
        part, move, stabiliser, doubtful = places
        return AlternatingKind(
            row=row,
            letter=orbit.letter,
            faces=orbit.faces,
            part=part,
            move=move,
            stabiliser=stabiliser,
            area=float(arrangement.area[orbit.faces].sum()),
            doubtful=doubtful,
        )

    def _places(self, orbit: Orbit, group: PatternGroup) -> Places | None:
        """Return where regions stand, each as the image of the one that leads."""
        arrangement = self.arrangement
        polygon = arrangement.polygons(np.array([orbit.representative]))[0]
        home = arrangement.witness[orbit.representative]
        part = np.zeros(len(orbit.faces), np.int64)
        move = np.zeros((len(orbit.faces), group.rank), np.int64)
        doubtful = 0
        for index, zone in self._zones.items():
            rows = np.flatnonzero(np.isin(orbit.faces, zone.faces))
            if not len(rows):
                continue
            points = arrangement.witness[orbit.faces[rows]]
            if index == orbit.zone:
                found = locate(polygon, home, group, points)
            else:
                copy = self._copy(orbit.zone, index)
                if copy is None:
                    return None
                found = copy.places(polygon, home, points)
            part[rows], move[rows], sure = found
            doubtful += int((~sure).sum())
        return part, move, find_stabiliser(polygon, home, group), doubtful

    def _band_places(self, orbit: Orbit, group: PatternGroup) -> Places | None:
        """Return where the regions of a band stand: a strand is one paint."""
        strand, zone = self.orbits.strand_of_face, self._zones[orbit.zone]
        if strand is None or not np.isin(orbit.faces, zone.faces).all():
            return None
        return _read_strands(self.arrangement, orbit, strand, group, self.orbits.cut)

    def _contacts(self, kind: AlternatingKind) -> tuple[AnyInts, Floats]:
        """Return which regions of a kind touch, and how long."""
        strand = self.orbits.strand_of_face
        if strand is not None and self.orbits.orbits[kind.row].band:
            return _strand_contacts(self.arrangement, kind.faces, strand)
        own = marked(kind.faces, self.arrangement.face_count)
        rows = np.asarray(own[self.adjacency.face_pairs].all(axis=1))
        return self.adjacency.face_pairs[rows], self.adjacency.face_shared[rows]

    def _copy(self, home: int, other: int) -> ZoneCopy | None:
        key = (home, other)
        if key not in self._copies:
            first, second = self.group(home), self.group(other)
            self._copies[key] = None
            if first is not None and second is not None:
                zone = self._zones[other]
                self._copies[key] = find_zone_copy(
                    self.arrangement, self.orbits, home, first, zone, second
                )
        return self._copies[key]

    def ways(self, kind: AlternatingKind, colours: int) -> list[Way]:
        """Find the subgroups by which a kind can alternate.

        Those under which touching regions differ first. `colours`: how many colours
        change places.
        """
        if (kind.row, colours) not in self._ways:
            self._ways[kind.row, colours] = self._find_ways(kind, colours)
        return self._ways[kind.row, colours]

    def _find_ways(self, kind: AlternatingKind, colours: int) -> list[Way]:
        group = self.group(self.orbits.orbits[kind.row].zone)
        if group is None:
            return []
        pairs, shared = self._contacts(kind)
        found = []
        label = np.full(self.arrangement.face_count, -1, np.int64)
        for subgroup in self._keeping(kind, colours):
            labels = Cosets(group, subgroup).numbers(kind.part, kind.move)
            label[kind.faces] = labels
            same = label[pairs[:, 0]] == label[pairs[:, 1]]
            found.append(Way(subgroup, labels, float(shared[same].sum())))
        whole = float(shared.sum()) or 1.0
        return sorted(found, key=lambda way: round(way.alike / whole, 6))

    def can_alternate(self, kind: AlternatingKind, colours: int) -> bool:
        """Say whether a kind has a perfect colouring with K colours."""
        return next(self._keeping(kind, colours), None) is not None

    def _keeping(self, kind: AlternatingKind, colours: int) -> Iterator[Subgroup]:
        """Yield the subgroups that hold what keeps a region of the kind in place."""
        for subgroup in self.subgroups(self.orbits.orbits[kind.row].zone, colours):
            if all(subgroup.contains(s) for s in kind.stabiliser):
                yield subgroup


def _read_strands(
    arrangement: Arrangement,
    orbit: Orbit,
    strand_of_face: AnyInts,
    group: PatternGroup,
    cut: Bools,
) -> Places:
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
    none = group.identity
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


def _strand_contacts(
    arrangement: Arrangement, faces: AnyInts, strand: AnyInts
) -> tuple[Ints, Floats]:
    """Return pairs of regions of unlike strands that touch, and along what length.

    `faces`: regions of a kind of band. `strand` (F,): strand of each face. Returns
    `pairs` (n, 2): the regions; `shared` (n,): lengths, mm.
    """
    own = marked(faces, arrangement.face_count)
    pairs = np.stack([arrangement.face[0::2], arrangement.face[1::2]], axis=1)
    edge = np.flatnonzero(own[pairs].all(axis=1))
    edge = edge[strand[pairs[edge, 0]] != strand[pairs[edge, 1]]]
    p = arrangement.vertices[arrangement.origin[2 * edge]]
    q = arrangement.vertices[arrangement.origin[2 * edge + 1]]
    return pairs[edge].astype(np.int64), np.hypot(*(q - p).T)
