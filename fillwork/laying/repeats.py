"""Take one repeat out of a drawing that shows several."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.arrangement.build import build_arrangement
from fillwork.errors import FillworkError
from fillwork.geometry import affine
from fillwork.geometry.parts import part_numbers
from fillwork.laying.medallions import Medallion, take_medallion
from fillwork.laying.model import Cell, Way
from fillwork.laying.moves import lattice_steps
from fillwork.laying.sectors import ideal_linear
from fillwork.symmetry.zones.find import find_zones

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Floats, Ints
    from fillwork.linework import LineWork
    from fillwork.symmetry.model import Zone

_LEAST_REPEATS = 1.9
_MIDDLE = 0.03  # of a field's size within which a medallion stands in its middle
_SAMPLE = 256  # windows that are measured at once
_FULL = 1 - 1e-6  # of what three windows in four hold: a rounding less is full
_LIKE = 0.1  # of its area by which a hand draws a figure larger or smaller


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Hold a part of a drawing that certainly has shifts."""

    arrangement: Arrangement
    zones: Sequence[Zone]  # all that the drawing has
    zone: Zone  # the part
    basis: Floats  # (r, 2): its shifts as rows, as the group asks, mm


def find_parts(drawn: LineWork, ranks: set[int]) -> Iterator[Part]:
    """Give the parts of a drawing that have certain shifts, the largest first.

    `ranks`: how many shifts; where there are several, all parts have those of the
    first.
    """
    try:
        arrangement = build_arrangement(drawn)
    except FillworkError:
        return
    if arrangement.face_count < 2:
        return
    zones = find_zones(arrangement)
    for zone in zones:
        found = zone.symmetry
        if found.lattice is None or not found.certain:
            continue
        if found.repeats_seen < _LEAST_REPEATS:
            continue
        basis = _even(zone)
        if len(basis) in ranks:
            ranks = {len(basis)}
            yield Part(arrangement, zones, zone, basis)


@dataclass(frozen=True, slots=True, eq=False)
class Repeat:
    """Hold one repeat that was taken out of a drawing."""

    cell: Cell
    way: Way
    slip: float  # how far lines may miss each other where the window cuts them, mm
    medallion: Medallion | None = None  # what stands in the middle of its field
    # where a medallion stands that is not in the middle, mm
    aside: tuple[float, float] | None = None
    part: Part | None = None  # the part that repeats, of a field


def find_repeat(drawn: LineWork, *, strip: bool = False) -> Repeat | None:
    """Return one repeat of the largest part of a drawing that has shifts.

    `strip`: whether it must be a strip; else one is taken only where there is no field.
    None where the drawing shows no certain shifts, or no whole repeat.
    """
    for part in find_parts(drawn, {1} if strip else {1, 2}):
        plane = len(part.basis) == 2
        window = _plane_window(part) if plane else _strip_window(part)
        if window is None:
            continue
        found = part.zone.symmetry
        style = drawn.style[drawn.stroke_of_curve()].astype(np.int32)
        name = f"the shifts of the {found.group.family}:{found.group.short} found"
        way = Way(name, part.basis, window)
        cell = Cell(drawn.curves, style, window, True)
        taken = _inside(part, drawn) if plane else (None, None)
        whole = part if plane else None
        return Repeat(cell, way, 4 * found.residual + 1e-4, *taken, whole)
    return None


def _inside(
    part: Part, drawn: LineWork
) -> tuple[Medallion | None, tuple[float, float] | None]:
    """Return the medallion in the middle of a field, or where one is off it."""
    import shapely

    arrangement = part.arrangement
    region = part_region(arrangement, part.zone)
    near = _MIDDLE * math.sqrt(shapely.area(region))
    middle = _middle(region)
    other = shapely.contains_xy(region, arrangement.witness)
    other[0] = other[part.zone.faces] = False
    pairs = arrangement.face.reshape(-1, 2)
    pairs = pairs[other[pairs].all(axis=1)]
    number = part_numbers(pairs[:, 0], pairs[:, 1], arrangement.face_count)
    aside = None
    for k in np.unique(number[other]):
        faces = np.flatnonzero(other & (number == k))
        shape = filled(arrangement, faces)
        if shape.area < abs(np.linalg.det(part.basis)):
            continue  # a slip, no medallion
        turning = [z.symmetry.centre for z in part.zones if z.role == "medallion"]
        held = [
            at for at in turning if at is not None and shapely.contains_xy(shape, *at)
        ]
        centre = held[0] if held else _middle(shape)
        if math.dist(centre, middle) > near:
            aside = centre if held else aside
            continue
        _, ground = _lone(part)
        found = take_medallion(arrangement, drawn, shape, centre, ground.tolist())
        if found is not None:
            return found, None
        aside = centre
    return None, aside


def _middle(shape: Any) -> tuple[float, float]:
    left, low, right, top = shape.bounds
    return (left + right) / 2, (low + top) / 2


def _even(zone: Zone) -> Floats:
    """Return the shifts as the group asks for: equal, or at right angles."""
    lattice = zone.symmetry.lattice
    assert lattice is not None
    basis = np.asarray(lattice.basis, dtype=np.float64)
    if len(basis) < 2:
        return basis
    matrices = []
    for operation in zone.symmetry.operations:
        along = np.linalg.inv(basis.T) @ affine.linear(operation.map) @ basis.T
        if np.abs(along - np.round(along)).max() < 0.1:
            matrices.append(np.round(along))
    return np.asarray(ideal_linear(basis.T, matrices).T) if matrices else basis


def part_region(arrangement: Arrangement, zone: Zone) -> Any:
    """Return the zone as one shape, holes filled."""
    return filled(arrangement, zone.faces)


def filled(arrangement: Arrangement, faces: AnyInts) -> Any:
    """Return the largest piece of some faces as one shape, holes filled."""
    import shapely

    whole = shapely.union_all(arrangement.polygons(faces, valid=True))
    parts = shapely.get_parts(whole)
    part = parts[int(np.argmax(shapely.area(parts)))]
    return shapely.Polygon(shapely.get_exterior_ring(part))


def _lone(part: Part) -> tuple[Ints, Ints]:
    """Return the faces of a part of which none of like size lies a shift away.

    Beside them those that reach from side to side: the ground on which all stands.
    """
    import shapely

    arrangement, faces = part.arrangement, part.zone.faces
    area, lone = arrangement.area, np.ones(len(faces), dtype=bool)
    for shift in np.vstack([part.basis, -part.basis]):
        other = arrangement.faces_at(arrangement.witness[faces] + shift)
        like = np.abs(area[other] - area[faces]) < _LIKE * area[faces]
        lone &= ~((other > 0) & (other != faces) & like)
    found = faces[lone].astype(np.int64)
    size = math.sqrt(abs(float(np.linalg.det(part.basis))))
    reached = shapely.bounds(arrangement.polygons(found, valid=True)).reshape(-1, 4)
    whole = shapely.bounds(part_region(arrangement, part.zone))
    ground = (np.abs(reached - whole) < _LIKE * size).all(axis=1)
    return found[~ground], found[ground]


def _plane_window(part: Part) -> Floats | None:
    """Return one repeat inside the part, nearest its middle, that holds all figures."""
    import shapely

    arrangement, zones, zone = part.arrangement, part.zones, part.zone
    basis = part.basis
    # what stands within the field, a medallion say, shows nothing of its pattern
    size = math.sqrt(abs(float(np.linalg.det(basis))))
    whole = part_region(arrangement, zone)
    lone, ground = _lone(part)
    alone: list[AnyInts] = [lone, *(z.faces for z in zones if z is not zone)]
    within = shapely.union_all(arrangement.polygons(np.concatenate(alone), valid=True))
    region = shapely.difference(whole, within)
    # lines at the very edge of the drawing belong to the edge
    inner = region.buffer(-1e-3 * size, join_style="mitre")
    if inner.is_empty:
        return None
    shapely.prepare(inner)
    middle = np.array(shapely.get_coordinates(shapely.centroid(region))[0])
    a, b = basis
    reach = np.array(shapely.bounds(inner)).reshape(2, 2) - middle
    far = min(float(np.abs(reach @ np.linalg.inv(basis)).sum()), 50.0)
    tries = ((1.0, 12), (far, 4)) if far > 1 else ((1.0, 12),)
    ways = ((a, b), (a, a + b), (a, b - a), (a + b, b))
    fits = functools.partial(_windows, inner, middle, size)
    # on a ground figures may be missing, beside a medallion say: most places show all
    figures = arrangement.polygons(np.setdiff1d(zone.faces, ground), valid=True)
    full = 0.0
    if len(ground):
        some = fits(a, b, _grid(far, 1) @ basis)
        held = _held(figures, some[:: max(1, len(some) // _SAMPLE)])
        full = _FULL * float(np.percentile(held, 75)) if len(held) else 0.0
    nearest = None
    for (span, fine), (side, top) in product(tries, ways):
        boxes = fits(side, top, _grid(span, fine) @ basis)
        nearest = boxes[0] if nearest is None and len(boxes) else nearest
        for first in range(0, len(boxes), _SAMPLE):
            some = boxes[first : first + _SAMPLE]
            good = np.flatnonzero(_held(figures, some) >= full)
            if len(good):
                return np.asarray(some[good[0]])
    return nearest


def _grid(span: float, fine: int) -> Floats:
    """Return shares of two shifts up to a span either way, so many to a shift."""
    return lattice_steps(2, int(span * fine)) / fine


def _windows(
    inner: Any, middle: Floats, size: float, side: Floats, top: Floats, off: Floats
) -> Floats:
    """Return repeats that fit into a region, the nearest to its middle first.

    `size`: of a repeat, mm. `off` (m, 2): how far off the middle they are tried, mm.
    Returns (n, 4, 2): corners, counter-clockwise.
    """
    import shapely

    corners = np.array([-side - top, side - top, side + top, top - side]) / 2
    if np.linalg.det(np.array([side, top])) < 0:
        corners = corners[::-1]
    # a little off any centre, so that no line runs along the window's side
    places = middle + off + np.array([0.0131, 0.0077]) * size
    places = places[np.argsort(np.hypot(*(places - middle).T), kind="stable")]
    boxes = places[:, None] + corners
    return np.asarray(boxes[shapely.contains_properly(inner, shapely.polygons(boxes))])


def _held(figures: NDArray[Any], boxes: Floats) -> Floats:
    """Return the area of figures that windows hold, mm². `boxes` (n, 4, 2)."""
    import shapely

    windows = np.asarray(shapely.polygons(boxes))
    row, which = shapely.STRtree(figures).query(windows, "intersects")
    shared = shapely.area(shapely.intersection(windows[row], figures[which]))
    return np.asarray(np.bincount(row, shared, len(boxes)), dtype=np.float64)


def _strip_window(part: Part) -> Floats | None:
    """Return one repeat of a strip, over its whole width."""
    import shapely

    basis = part.basis
    region = part_region(part.arrangement, part.zone)
    points = shapely.get_coordinates(region)
    along = basis[0] / np.hypot(*basis[0])
    across = np.array([-along[1], along[0]])
    period = float(np.hypot(*basis[0]))
    s, t = points @ along, points @ across
    low, high = float(t.min()), float(t.max())
    length = float(s.max() - s.min())
    if length < period * 1.02:
        return None
    first = float(s.min()) + (length - period) / 2 + 0.0131 * period
    slack = 1e-3 * (high - low)
    corners = [(0.0, low - slack), (period, low - slack), (period, high + slack)]
    corners.append((0.0, high + slack))
    return np.array([(first + x) * along + y * across for x, y in corners])
