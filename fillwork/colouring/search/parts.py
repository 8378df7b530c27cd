"""What part each class of regions plays in a drawing, as a painter sees it.

Each zone has a *ground*, on which its *figures* stand, and small detail; a zone may
have a *middle*, the piece at its centre of highest order. Like shapes belong to one
*family*; two long slender regions side by side are halves of a *leaf*; long thin
regions are *stems*. All are read from geometry, names and symmetry; none is certain,
and each only leans the choice of colours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fillwork.colouring.adjacency import measure_edges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.colouring.model import Adjacency
    from fillwork.colouring.search.wishes import Classes
    from fillwork.symmetry.model import Orbit, Orbits, Symmetry

_SLENDER = 2.2  # shared side / root of the area: half a leaf four times as long as wide
_THIN = 0.16  # area of the inscribed circle / area, from which on a region is a stem
_WIDTHS = 1.4  # stems of one plant are within this factor of one width
_MANY = 12  # pieces of unlike shapes from which on they are a medley
_AROUND = 4  # pieces with the one amid them
_AMID = 0.3  # of its inscribed radius that the middle may lie off the centre
_BROAD = 0.2  # share of the area from which on what lies amid all is a ground
_HELD = 0.3  # how far lines part pieces from which on what touches them is no heart
_HEART = 0.2  # share of its zone up to which a figure is the heart of others
_MEDALLION = 0.4  # how far the ground of a medallion is the middle of its drawing
_FULL = 0.97  # of the hull, holes left out, from which on a picture fills its frame
_ORDER = 3  # rotations from which on a piece reads as a figure


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """Say what part each of N classes plays."""

    zone: Ints  # (N,): row of its zone, from 0
    # what each zone is: ``field``, ``border``, ``corner``, ``medallion`` or empty
    roles: tuple[str, ...]
    names: tuple[str, ...]  # plain name of each class
    alone: Bools  # (N,): whether it touches no other class
    area: Floats  # (N,): share of the area
    # ground, figure, small and middle, (N,): how far it is the ground of its zone, a
    # figure, fine detail, the middle; 0 to 1
    ground: Floats
    figure: Floats
    small: Floats
    middle: Floats
    # (N,): how far it is one of several pieces that jut out into the bare paper
    rim: Floats
    # (N,): how far lines alone part its pieces, since these touch each other
    held: Floats
    # share of the area in zones of many pieces, each of a shape of its own; less where
    # they are not so many
    loose: float
    # (N,): for halves of leaves how far they lie above the other half, -1 to 1
    lit: Floats
    # leaves, families and stems, (n, 2): classes that are two halves of leaves, like
    # shapes, stems alike in width
    leaves: Ints
    families: Ints
    stems: Ints


def find_parts(
    arrangement: Arrangement, classes: Classes, orbits: Orbits, adjacency: Adjacency
) -> Parts:
    """Read what part each class plays.

    `orbits`: their kinds, for names, zones and site symmetry. `adjacency`: which
    regions touch.
    """
    seen = _Seen(arrangement, classes, orbits, adjacency)
    for z in range(len(orbits.zones)):
        own = np.flatnonzero(seen.zone == z)
        if len(own):
            seen.read_zone(z, own)
    seen.read_middles()
    rows, zone, area = seen.rows, seen.zone, seen.area
    rim = _rim(arrangement, orbits, adjacency, rows, zone)
    loose = 0.0
    for z, one_zone in enumerate(orbits.zones):
        own_here = zone == z
        more = own_here.sum() - _MANY
        if one_zone.symmetry.group.family == "none" and more > 0:
            loose += float(area[own_here].sum()) * min(more / (4 * _MANY), 1.0)
    leaves, lit = _leaves(arrangement, classes, adjacency)
    family = np.asarray(orbits.families or np.zeros(len(orbits.orbits)), np.int64)
    families = _chained(family[classes.orbit], seen.one)
    return Parts(
        zone=zone,
        roles=tuple(z.role for z in orbits.zones),
        names=tuple(orbit.base_name for orbit in rows),
        alone=seen.touched == 0,
        area=area,
        ground=seen.ground * (1.0 - rim),
        figure=seen.figure,
        small=seen.small,
        middle=seen.middle,
        rim=rim,
        held=seen.held,
        loose=loose,
        lit=lit,
        leaves=leaves,
        families=leave_touching(classes, families),
        stems=leave_touching(classes, _stems(arrangement, rows)),
    )


class _Seen:
    """Hold what is read of each class while zones are looked at one by one."""

    def __init__(
        self,
        arrangement: Arrangement,
        classes: Classes,
        orbits: Orbits,
        adjacency: Adjacency,
    ) -> None:
        self.arrangement, self.orbits = arrangement, orbits
        self.rows = [orbits.orbits[row] for row in classes.orbit.tolist()]
        known = {zone.index: k for k, zone in enumerate(orbits.zones)}
        self.zone = np.array([known.get(o.zone, 0) for o in self.rows], np.int64)
        self.area = classes.area / max(float(classes.area.sum()), 1e-12)
        self.one = np.array([orbit.area for orbit in self.rows])
        self.order = np.array([_order(orbit.site_symmetry) for orbit in self.rows])
        first = [orbit.representative for orbit in self.rows]
        self.hollow = np.diff(arrangement.face_ring_start)[first] > 1
        names = [f"{orbit.name} {orbit.base_name}".casefold() for orbit in self.rows]
        star = np.array(["star" in name or "rosette" in name for name in names], bool)
        self.touched = np.bincount(classes.links.ravel(), minlength=classes.count)
        self.figure = np.where(star, 1.0, np.where(self.order >= _ORDER, 0.6, 0.0))
        self.held = _held(classes, adjacency)
        many = classes.links[(self.held[classes.links] > _HELD).any(axis=1)]
        self.parted = np.isin(np.arange(classes.count), many)
        self.ground, self.small, self.middle, self.heart = np.zeros((4, classes.count))

    def read_zone(self, z: int, own: Ints) -> None:
        """Tell the ground, the figures, small detail and the middle of one zone."""
        one, touched, order = self.one[own], self.touched[own], self.order[own]
        share = self.area[own] / max(float(self.area[own].sum()), 1e-12)
        # a larger figure reads before a smaller one
        self.figure[own] *= 0.4 + 0.6 * np.sqrt(one / max(float(one.max()), 1e-12))
        behind = share * (0.5 + 0.5 * touched / max(int(touched.max()), 1))
        behind *= 1.0 - 0.7 * self.figure[own]
        if len(own) > 1 and touched.any():
            # what stands alone in its zone is no ground, even if it is all there is
            self.ground[own] = behind / max(float(behind.max()), 1e-12)
        self.small[own] = np.clip(1.0 - share * len(own) / 2.0, 0.0, 1.0)
        symmetry = self.orbits.zones[z].symmetry
        family, high = symmetry.group.family, order.max() >= _ORDER
        # a ring or a ground round the middle has its symmetry, and is not the middle
        central = (order == order.max()) & ~self.hollow[own]
        # the hearts of stars that repeat, unless they are the ground between them
        hearts = central & (share < _HEART) & ~self.parted[own]
        hearts &= self.ground[own] < 1.0
        if family != "rosette":
            central &= np.array([len(self.rows[j].faces) for j in own]) == 1
        if family == "plane" and high:
            self.heart[own[hearts]] = 1.0
        elif central.any() and (len(own) == 1 or high):
            self.middle[own[central]] = 1.0
        elif (tip := _tip(self.arrangement, symmetry, self.rows, own)) >= 0:
            self.middle[tip] = 1.0
        elif family == "none":
            self._mark_hub(own[~self.hollow[own]])

    def read_middles(self) -> None:
        """Tell the middles of medallions and of the whole drawing."""
        for z, zone in enumerate(self.orbits.zones):
            own = np.flatnonzero(self.zone == z)
            several = zone.role == "medallion" and len(own) > 1
            if several and self.order[own].max() >= _ORDER:
                widest = own[np.argmax(self.area[own])]
                self.middle[widest] = max(self.middle[widest], _MEDALLION)
        whole = np.flatnonzero(~self.hollow & (self.area < _BROAD))
        self._mark_hub(whole, alone=True)
        if not self.middle.any():
            # what stands in the middle needs the accent for itself
            self.middle = self.heart

    def _mark_hub(self, own: Ints, *, alone: bool = False) -> None:
        """Take the class amid others for the middle; `alone`: if it is one piece."""
        hub = _hub(self.arrangement, self.rows, own)
        if hub >= 0 and not (alone and len(self.rows[hub].faces) > 1):
            self.middle[hub] = 1.0


def _tip(
    arrangement: Arrangement, symmetry: Symmetry, rows: list[Orbit], own: NDArray[Any]
) -> int:
    """Return the class whose regions meet at a rosette's centre, or -1."""
    centre = symmetry.centre if symmetry.group.family == "rosette" else None
    if centre is None or not arrangement.edge_count:
        return -1
    first = np.array([rows[j].representative for j in own], np.int64)
    points, radius = arrangement.witness[first], arrangement.inscribed[first]
    away = np.hypot(*(points - np.array(centre)).T)
    nearest = int(np.argmin(away))
    many = len(rows[own[nearest]].faces)
    # circles in pieces that meet there touch each other, a fifth to spare
    full = (
        many >= _ORDER and away[nearest] * np.sin(np.pi / many) <= 1.2 * radius[nearest]
    )
    return int(own[nearest]) if full else -1


def _hub(arrangement: Arrangement, rows: list[Orbit], own: NDArray[Any]) -> int:
    """Return the class of the region amid those that lie around it, or -1."""
    number = np.array([len(rows[j].faces) for j in own], np.int64)
    if not arrangement.edge_count or number.sum() < _AROUND:
        return -1
    faces = np.concatenate([rows[j].faces for j in own])
    points, radius = arrangement.witness[faces], arrangement.inscribed[faces]
    centre = (points.min(axis=0) + points.max(axis=0)) / 2.0
    away = np.hypot(*(points - centre).T)
    nearest = int(np.argmin(away))
    if away[nearest] > _AMID * radius[nearest]:
        return -1
    return int(np.repeat(own, number)[nearest])


def _rim(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    rows: list[Orbit],
    zone: Ints,
) -> Floats:
    """Return how far each class juts out into the bare paper.

    Patterns that go on are cut by their frame, and a ground reaches it: neither juts
    out. Lobes of a rosette do, and cards that lie alone.
    """
    found = np.zeros(len(rows))
    if not arrangement.edge_count:
        return found
    faces = arrangement.face.reshape(-1, 2).astype(np.int64)
    bare = np.flatnonzero((faces.min(axis=1) == 0) & (faces.max(axis=1) > 0))
    count = len(arrangement.area)
    length = measure_edges(arrangement, bare)
    outer = np.bincount(faces[bare].max(axis=1), length, count)
    both = np.repeat(adjacency.face_shared, 2)
    whole = outer + np.bincount(adjacency.face_pairs.ravel(), both, count)
    share = outer / np.maximum(whole, 1e-12)
    size = np.array([len(orbit.faces) for orbit in rows])
    mean = share[[orbit.faces[0] for orbit in rows]]
    for j in np.flatnonzero(size > 1).tolist():
        mean[j] = share[rows[j].faces].mean()
    # nothing juts out of a picture that fills its frame
    juts = ("rosette",) if _is_full(arrangement, bare) else ("rosette", "none")
    own = np.array([z.symmetry.group.family in juts for z in orbits.zones])[zone]
    found[own] = np.clip((mean[own] - 0.2) / 0.2, 0.0, 1.0)
    # one piece that holds all of the rim is a frame or a ground
    return found if size[found > 0].sum() > 1 else np.zeros(len(rows))


def _held(classes: Classes, adjacency: Adjacency) -> Floats:
    """Return how far lines alone part the pieces of each class.

    Halves of leaves share a third of their edge, triangles in a row two thirds.
    """
    ends, shared = classes.of_face[adjacency.face_pairs], adjacency.face_shared
    known = (ends >= 0).all(axis=1)
    ends, shared = ends[known], shared[known]
    whole = np.bincount(ends.ravel(), np.repeat(shared, 2), classes.count)
    own = ends[:, 0] == ends[:, 1]
    inside = np.bincount(ends[own, 0], 2.0 * shared[own], classes.count)
    share = inside / np.maximum(whole, 1e-12)
    return np.asarray(np.clip((share - 0.4) / 0.25, 0.0, 1.0), np.float64)


def _is_full(arrangement: Arrangement, bare: AnyInts) -> bool:
    """Tell whether the regions fill the hull of their outline."""
    curve, (a, b) = arrangement.edge_curve[bare], arrangement.edge_span[bare].T
    points = [
        arrangement.curves.point(curve, a + t * (b - a)) for t in (0.0, 1 / 3, 2 / 3)
    ]
    hull = shapely.convex_hull(shapely.multipoints(np.concatenate(points)))
    return float(arrangement.area[1:].sum()) >= _FULL * float(shapely.area(hull))


def _order(site: str) -> int:
    digits = "".join(c for c in site if c.isdigit())
    return int(digits) if digits else 1


def _chained(group: Ints, size: Floats) -> Ints:
    """Return pairs that join the members of each group, 0 for none, largest first."""
    order = np.lexsort((np.arange(len(group)), -size, group))
    order = order[group[order] > 0]
    same = group[order][1:] == group[order][:-1]
    pairs: Ints = np.column_stack([order[:-1], order[1:]])[same]
    return pairs


def leave_touching(classes: Classes, pairs: Ints) -> Ints:
    """Leave out pairs of classes that touch, since they cannot be alike.

    `pairs` (n, 2): pairs of them. Returns (m, 2): those that do not touch.
    """
    links = np.sort(classes.links.astype(np.int64), axis=1)
    own = np.sort(pairs, axis=1)
    touch = np.sort(links[:, 0] * classes.count + links[:, 1])
    key = own[:, 0] * classes.count + own[:, 1]
    # sought in sorted ones: numpy's isin takes a hundred times as long on wide keys
    at = np.searchsorted(touch, key, side="right")
    return pairs[(at == 0) | (touch[at - 1] != key)] if len(touch) else pairs


def _stems(arrangement: Arrangement, rows: list[Orbit]) -> Ints:
    """Return pairs of long thin classes of about one width."""
    faces = np.array([orbit.representative for orbit in rows], np.int64)
    if not arrangement.edge_count:  # regions that were stated without lines
        return np.empty((0, 2), np.int64)
    radius = arrangement.inscribed[faces]
    thin = np.pi * radius**2 < _THIN * arrangement.area[faces]
    group = np.zeros(len(rows), np.int64)
    order = np.argsort(radius, kind="stable")
    number, first = 0, 0.0
    for j in order[thin[order]].tolist():
        if number == 0 or radius[j] > _WIDTHS * first:
            number, first = number + 1, float(radius[j])
        group[j] = number
    return _chained(group, arrangement.area[faces])


def _leaves(
    arrangement: Arrangement, classes: Classes, adjacency: Adjacency
) -> tuple[Ints, Floats]:
    """Return classes that are two halves of leaves, and which halves lie above."""
    pairs, shared = adjacency.face_pairs, adjacency.face_shared
    area = arrangement.area[pairs]
    if not arrangement.edge_count:
        return np.empty((0, 2), np.int64), np.zeros(classes.count)
    long = shared >= _SLENDER * np.sqrt(np.maximum(area.min(axis=1), 1e-12))
    long &= area.max(axis=1) <= 2.0 * area.min(axis=1)
    long &= (classes.of_face[pairs] >= 0).all(axis=1)
    whole = np.diff(arrangement.face_ring_start) == 1  # no hole
    long &= whole[pairs].all(axis=1)
    partners = np.bincount(pairs[long].ravel(), minlength=len(classes.of_face))
    halves = pairs[long][(partners[pairs[long]] == 1).all(axis=1)]
    lit = np.zeros(classes.count)
    if not len(halves):
        return np.empty((0, 2), np.int64), lit
    first, second = (arrangement.witness[halves[:, k]] for k in (0, 1))
    way = first - second
    above = way[:, 1] / np.maximum(np.hypot(*way.T), 1e-12)
    ends = classes.of_face[halves].astype(np.int64)
    np.add.at(lit, ends[:, 0], above)
    np.add.at(lit, ends[:, 1], -above)
    lit /= np.maximum(np.bincount(ends.ravel(), minlength=classes.count), 1)
    kept = ends[ends[:, 0] != ends[:, 1]]
    return np.unique(np.sort(kept, axis=1), axis=0), lit
