"""Zones that are copies of each other: places in one read as places in another.

The sides of a border, or flowers that return, share their kinds. An isometry that
carries one zone's group onto the other's turns each operation of the other into one
of the first, so that a colouring of the first colours the other as its copy.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.colouring.counterchange.standing import locate

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.colouring.counterchange.subgroups import Element, PatternGroup
    from fillwork.symmetry.model import Orbits, Zone

_ROUGH = 0.15  # largest miss, in lattice vectors or sizes of a region
_KINDS = 12  # shared kinds by which an isometry is judged


@dataclass(frozen=True, slots=True, eq=False)
class ZoneCopy:
    """Hold how a zone is a copy of another."""

    # first and second: groups of the zone that stands for both and of its copy
    first: PatternGroup
    second: PatternGroup
    # (2, 2): linear part of the isometry that carries the first onto the second
    linear: Floats
    # start and end, (2,): a point of the first and where it is carried, mm
    start: Floats
    end: Floats
    # (d, d): lattice vectors of the second as whole numbers in those of the first, rows
    steps: Ints
    # for each part g of the second the operation of the first that (g, moved) is
    parts: tuple[Element, ...]
    moved: tuple[tuple[int, ...], ...]  # those translations, small about `end`
    size: float  # size of a region, mm

    def carry(self, points: Floats) -> Floats:
        """Carry points of the first zone to the second.

        `points` (n, 2): points, mm. Returns (n, 2): their images, mm.
        """
        return np.asarray((points - self.start) @ self.linear.T + self.end, np.float64)

    def bring_back(self, element: Element) -> Element:
        """Return the operation of the first zone that one of the second is."""
        g, t = element
        part, own = self.parts[g]
        left = np.array(t, np.int64) - np.array(self.moved[g], np.int64)
        return part, tuple((np.array(own, np.int64) + left @ self.steps).tolist())

    def places(
        self, polygon: Any, home: Floats, points: Floats
    ) -> tuple[Ints, Ints, Bools]:
        """Find the places of regions of the copy in the first zone's group.

        `polygon` (shapely polygon): the region of the first zone that stands for them,
        mm. `home` (2,): a point inside it. `points` (n, 2): a point inside each region
        of the copy, mm. Returns `part` (n,): parts of the point group of the
        operations; `move` (n, rank): their translations; `sure` (n,): whether an image
        of the region holds the point.
        """
        import shapely

        group = self.first
        # the image of the region nearest to `start`: lattices that differ a little
        # drift apart with the distance
        nearer = np.rint((self.start - home) @ group.away).astype(np.int64)
        shift = nearer @ group.basis
        image = shapely.transform(polygon, lambda xy: self.carry(xy + shift))
        part, move, sure = locate(
            image, self.carry((home + shift)[None])[0], self.second, points
        )
        before: Element = (0, tuple(nearer.tolist()))
        for row, (g, t) in enumerate(zip(part.tolist(), move.tolist(), strict=True)):
            back = group.multiply(self.bring_back((g, tuple(t))), before)
            part[row], move[row] = back
        return part, move, sure


def find_zone_copy(
    arrangement: Arrangement,
    orbits: Orbits,
    home: int,
    first: PatternGroup,
    other: Zone,
    second: PatternGroup,
) -> ZoneCopy | None:
    """Find the isometry that carries one zone's pattern onto another's.

    `home`: index of the zone that stands for both. `other`: the zone that shares kinds
    with it. Of those under which most regions of shared kinds are images of the regions
    that stand for them, the one that moves the middle of the drawing least, so that
    sides of a border are coloured alike from the middle out; a mirror image before a
    turn. None where none carries group onto group, or no region onto its like.
    """
    if (first.rank, first.order) != (second.rank, second.order):
        return None
    shared = []
    for orbit in orbits.orbits:
        faces = orbit.faces[np.isin(orbit.faces, other.faces)]
        if orbit.zone == home and len(faces):
            shared.append((orbit.representative, faces))
    shared = shared[:_KINDS]  # orbits come by falling area
    found: list[tuple[float, ZoneCopy]] = []
    for leading, faces in shared:
        found = [
            (_landed(arrangement, copy, shared), copy)
            for copy in _candidates(arrangement, orbits, first, second, leading, faces)
        ]
        if found:
            break
    most = max((value for value, _ in found), default=0.0)
    if most == 0.0:
        return None
    points = arrangement.vertices
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    near = [_nearest_to(copy, middle) for value, copy in found if value > 0.999 * most]
    return min(near, key=lambda entry: entry[:2])[2]


def _nearest_to(copy: ZoneCopy, middle: Floats) -> tuple[float, bool, ZoneCopy]:
    """Return the copy followed by what moves a point least, how far, and if a turn."""
    group = copy.second
    size = float(np.hypot(*(copy.end - copy.start))) or 1.0
    best: tuple[float, bool, ZoneCopy] | None = None
    for g in range(group.order):
        linear = group.linear[g] @ copy.linear
        end = group.linear[g] @ copy.end + group.shift[g]
        image = linear @ (middle - copy.start) + end
        end = end + np.rint((middle - image) @ group.away) @ group.basis
        apart = linear @ (middle - copy.start) + end - middle
        away = round(float(np.hypot(*apart)) / size, 2)
        turned = float(np.linalg.det(linear)) > 0
        if best is not None and (away, turned) >= best[:2]:
            continue
        other = _checked(copy.first, group, linear, copy.start, end, copy.size)
        if other is not None:
            best = (away, turned, other)
    return best or (float("inf"), True, copy)


def _landed(
    arrangement: Arrangement, copy: ZoneCopy, shared: list[tuple[int, Ints32]]
) -> float:
    """Return the area of regions that are images of what stands for their kind."""
    value = 0.0
    for leading, faces in shared:
        polygon = arrangement.polygons(np.array([leading]))[0]
        _, _, sure = copy.places(
            polygon, arrangement.witness[leading], arrangement.witness[faces]
        )
        value += float(arrangement.area[faces[sure]].sum())
    return value


def _candidates(
    arrangement: Arrangement,
    orbits: Orbits,
    first: PatternGroup,
    second: PatternGroup,
    leading: int,
    faces: Ints32,
) -> Iterator[ZoneCopy]:
    """Yield isometries that carry group onto group and a region onto its like."""
    whole = faces[~orbits.cut[faces]]
    if not len(whole):
        whole = faces
    middle = arrangement.witness[faces].mean(axis=0)
    away = np.hypot(*(arrangement.witness[whole] - middle).T)
    pair = np.array([leading, int(whole[int(np.argmin(np.round(away, 6)))])])
    polygons = arrangement.polygons(pair)
    start, end = (np.array(p.centroid.coords[0]) for p in polygons)
    size = float(np.sqrt(polygons[0].area))
    if first.rank == 0:
        # the centre is what every operation keeps
        one, two = first.shift.mean(axis=0), second.shift.mean(axis=0)
        linears = _about_centres(first, second, start - one, end - two, size)
        start, end = one, two
    else:
        linears = _onto_lattice(first, second)
    for linear in linears:
        copy = _checked(first, second, linear, start, end, size)
        if copy is not None:
            yield copy


def _nearest_isometry(linear: Floats) -> Floats | None:
    u, scale, v = np.linalg.svd(linear)
    if np.abs(scale - 1.0).max() > 0.1:
        return None
    return np.asarray(u @ v, np.float64)


def _onto_lattice(first: PatternGroup, second: PatternGroup) -> list[Floats]:
    """Return linear parts that carry one lattice onto another."""
    found = []
    if first.rank == 1:
        one = first.basis[0] / np.hypot(*first.basis[0])
        two = second.basis[0] / np.hypot(*second.basis[0])
        from_frame = np.array([one, (-one[1], one[0])])
        to_frame = np.array([two, (-two[1], two[0])])
        for along, across in itertools.product((1.0, -1.0), repeat=2):
            found.append(to_frame.T @ np.diag([along, across]) @ from_frame)
        return found
    away = np.linalg.inv(first.basis)
    for numbers in itertools.product((0, 1, -1), repeat=4):
        rows = np.array(numbers, float).reshape(2, 2)
        if abs(abs(np.linalg.det(rows)) - 1.0) > 0.5:
            continue
        linear = _nearest_isometry((away @ rows @ second.basis).T)
        if linear is not None:
            found.append(linear)
    return found


def _about_centres(
    first: PatternGroup, second: PatternGroup, one: Floats, two: Floats, size: float
) -> list[Floats]:
    """Return linear parts that carry a direction from one centre to another's."""

    def turn(angle: float) -> Floats:
        c, s = float(np.cos(angle)), float(np.sin(angle))
        return np.array([[c, -s], [s, c]])

    if np.hypot(*one) > 0.2 * size and np.hypot(*two) > 0.2 * size:
        a, b = (float(np.arctan2(v[1], v[0])) for v in (one, two))
    else:  # a region about the centre: mirrors tell, or nothing has to
        a, b = (
            next((float(np.arctan2(m[1, 0], m[0, 0])) / 2 for m in mirrors), 0.0)
            for mirrors in (g.linear[~g.turning] for g in (first, second))
        )
    flip = np.diag([1.0, -1.0])
    return [turn(b - a), turn(b) @ flip @ turn(-a)]


def _checked(
    first: PatternGroup,
    second: PatternGroup,
    linear: Floats,
    start: Floats,
    end: Floats,
    size: float,
) -> ZoneCopy | None:
    """Return the copy by an isometry, or None where the groups do not agree."""
    away_one, away_two = first.away, second.away
    exact = second.basis @ linear @ away_one  # rows carried back to the first
    steps = np.rint(exact).astype(np.int64)
    if np.abs(exact - steps).max(initial=0.0) > _ROUGH:
        return None
    size = float(np.hypot(*first.basis.T).min(initial=size))
    parts: list[Element] = []
    moved = []
    for g in range(second.order):
        image = second.linear[g] @ end + second.shift[g]
        t = np.rint((end - image) @ away_two).astype(np.int64)
        image = image + t @ second.basis
        like = linear.T @ second.linear[g] @ linear
        miss = np.abs(first.linear - like).max(axis=(1, 2))
        part = int(np.argmin(miss))
        if miss[part] > _ROUGH:
            return None
        wanted = start + linear.T @ (image - end)
        beyond = wanted - (first.linear[part] @ start + first.shift[part])
        own = np.rint(beyond @ away_one).astype(np.int64)
        left = beyond - own @ first.basis
        if np.hypot(*left) > _ROUGH * size:
            return None
        parts.append((part, tuple(own.tolist())))
        moved.append(tuple(t.tolist()))
    if len({part for part, _ in parts}) < first.order:
        return None
    return ZoneCopy(
        first, second, linear, start, end, steps, tuple(parts), tuple(moved), size
    )
