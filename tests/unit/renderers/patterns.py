"""Small drawings made by hand, for tests of pictures and sheets.

Regions come from shapely's polygonize, so that these tests stand on their own.
The palettes and titles are invented.
"""

from __future__ import annotations

import numpy as np
import shapely

from fillwork.arrangement.model import Arrangement, Outlines
from fillwork.colouring.model import Colouring, Rules
from fillwork.colouring.palettes.model import Palette, Swatch
from fillwork.geometry.curves import Curves
from fillwork.linework import Frame
from fillwork.symmetry.model import (
    Group,
    Lattice,
    Operation,
    Orbit,
    Orbits,
    Symmetry,
    Zone,
)
from fillwork.tolerance import Tolerance

HEXES = (
    "#e9dfc7",
    "#1f4e79",
    "#c9a227",
    "#8c2f39",
    "#3d6b4f",
    "#d98e73",
    "#6d5a72",
    "#2a2a2a",
    "#7ba7bc",
    "#b5533c",
    "#d6c6a1",
    "#586f4c",
)
NAMES = (
    "Chalk",
    "Night",
    "Straw",
    "Brick",
    "Moss",
    "Clay",
    "Plum",
    "Soot",
    "Haze",
    "Rust",
    "Sand",
    "Fern",
)


def arrangement_from_segments(segments, width, height) -> Arrangement:
    """Return the regions between straight lines."""
    lines = shapely.linestrings(np.asarray(segments, float).reshape(-1, 2, 2))
    whole = shapely.set_precision(shapely.unary_union(lines, grid_size=1e-6), 1e-6)
    polygons = shapely.get_parts(shapely.polygonize(shapely.get_parts(whole)))
    return arrangement_from_polygons(list(polygons), width, height)


def arrangement_from_polygons(polygons, width, height) -> Arrangement:
    index: dict[tuple[float, float], int] = {}

    def vertex(p) -> int:
        return index.setdefault((round(p[0], 6), round(p[1], 6)), len(index))

    half_of: dict[tuple[int, int], int] = {}

    def half(a: int, b: int) -> int:
        if (a, b) in half_of:
            return half_of[a, b]
        h = len(half_of)
        half_of[a, b], half_of[b, a] = h, h + 1
        return h

    rings, owner = [], []
    for f, polygon in enumerate(polygons, start=1):
        polygon = shapely.geometry.polygon.orient(polygon)
        for ring in (polygon.exterior, *polygon.interiors):
            v = [vertex(p) for p in list(ring.coords)[:-1]]
            rings.append([half(a, b) for a, b in zip(v, v[1:] + v[:1], strict=True)])
            owner.append(f)
    count = len(half_of)
    origin = np.zeros(count, np.int32)
    for (a, _), h in half_of.items():
        origin[h] = a
    face = np.zeros(count, np.int32)
    after = np.full(count, -1, np.int32)
    for ring, f in zip(rings, owner, strict=True):
        for h, k in zip(ring, ring[1:] + ring[:1], strict=True):
            face[h], after[h] = f, k
    vertices = np.array(list(index), float).reshape(-1, 2)
    e = np.arange(count // 2)
    curves = Curves.from_segments(
        np.hstack([vertices[origin[2 * e]], vertices[origin[2 * e + 1]]])
    )
    area = np.array([0.0, *(p.area for p in polygons)])
    circle = [shapely.maximum_inscribed_circle(p) for p in polygons]
    witness = np.array([(np.nan, np.nan), *(c.coords[0] for c in circle)])
    inscribed = np.array([0.0, *(c.length for c in circle)])
    edge = shapely.boundary(shapely.box(0, 0, width, height))
    cut = np.array(
        [False, *(p.boundary.intersection(edge).length > 1e-6 for p in polygons)]
    )
    return Arrangement(
        vertices=vertices,
        origin=origin,
        next=after,
        face=face,
        edge_curve=e.astype(np.int32),
        edge_span=np.tile([0.0, 1.0], (len(e), 1)),
        source_start=np.arange(len(e) + 1, dtype=np.int32),
        source_curve=e.astype(np.int32),
        ring_start=np.concatenate([[0], np.cumsum([len(r) for r in rings])]).astype(
            np.int64
        ),
        ring_half_edge=np.concatenate([np.array(r, np.int32) for r in rings]),
        face_ring_start=np.searchsorted(owner, np.arange(len(polygons) + 2)).astype(
            np.int64
        ),
        area=area,
        inside=(witness, inscribed),
        cut=cut,
        curves=curves,
        page_curves=len(e),
        curve_stroke=e.astype(np.int32),
        loose=Curves.empty(),
        components=1,
        area_difference=0.0,
        frame=Frame(width, height, (1, 0, 0, 1, 0, 0)),
        tolerance=Tolerance(0.01, 0.1, 0.01),
    )


def outlines_of(arrangement: Arrangement) -> Outlines:
    h = arrangement.ring_half_edge
    return Outlines(
        Curves.from_segments(
            np.hstack(
                [
                    arrangement.vertices[arrangement.origin[h]],
                    arrangement.vertices[arrangement.origin[h ^ 1]],
                ]
            )
        ),
        arrangement.ring_start,
        arrangement.face_ring_start,
    )


def star_segments(nx: int, ny: int, cell: float, shift=(0.0, 0.0)) -> np.ndarray:
    """Return eight-point stars of two squares, tip to tip, clipped to the page."""
    rows = []
    radius = cell / 2
    for i in range(-1, nx + 1):
        for j in range(-1, ny + 1):
            centre = np.array([(i + 0.5) * cell, (j + 0.5) * cell]) + shift
            for turn in (0.0, np.pi / 4):
                angle = turn + np.arange(4) * np.pi / 2
                corner = centre + radius * np.stack(
                    [np.cos(angle), np.sin(angle)], axis=1
                )
                rows.append(np.hstack([corner, np.roll(corner, -1, axis=0)]))
    return np.concatenate(rows)


def star_pattern(nx=4, ny=3, cell=40.0, shift=(0.0, 0.0)) -> Arrangement:
    """Return overlapping squares: octagons, triangles and crosses in a page."""
    width, height = nx * cell, ny * cell
    page = shapely.box(0, 0, width, height)
    lines = shapely.linestrings(star_segments(nx, ny, cell, shift).reshape(-1, 2, 2))
    clipped = shapely.intersection(lines, page)
    noded = shapely.unary_union([*clipped, page.boundary], grid_size=1e-6)
    polygons = list(shapely.polygonize(shapely.get_parts(noded)).geoms)
    return arrangement_from_polygons(polygons, width, height)


def kinds_by_area(arrangement: Arrangement, cell: float = 40.0) -> Orbits:
    """Return kinds by area; good enough to draw, not a symmetry finder.

    Regions that the page cuts are given to the kind at the same place of the
    repeat, where there is one.
    """
    # octagon and cross have one area: the number of sides tells them apart
    sides = np.diff(arrangement.ring_start)[
        arrangement.face_ring_start[:-1] % len(arrangement.ring_start[:-1])
    ]
    area = (
        np.round(arrangement.area, 3) + np.where(arrangement.area > 0, sides, 0) / 1e4
    )
    place = np.round(np.nan_to_num(arrangement.witness) % cell, 1)
    whole = ~arrangement.cut
    sizes = sorted(set(area[whole & (area > 0)].tolist()), reverse=True)
    row = {a: k for k, a in enumerate(sizes)}
    by_place = {
        tuple(p): row[a]
        for p, a, w in zip(place.tolist(), area.tolist(), whole.tolist(), strict=True)
        if w and a in row
    }
    of_face = np.full(arrangement.face_count, -1, np.int32)
    for f in range(1, arrangement.face_count):
        if whole[f]:
            of_face[f] = row[float(area[f])]
        else:
            known = by_place.get(tuple(place[f].tolist()))
            size = min(row, key=lambda a: abs(a - float(area[f])))
            of_face[f] = known if known is not None else row[size]
    orbits = []
    for k, a in enumerate(sizes):
        faces = np.flatnonzero(of_face == k).astype(np.int32)
        complete = [f for f in faces.tolist() if whole[f]]
        letter = chr(ord("A") + k)
        orbits.append(
            Orbit(
                letter,
                f"kind {letter}",
                f"kind {letter}",
                1,
                faces,
                complete[0],
                "C1",
                a,
                len(faces) - len(complete),
            )
        )
    quarter = [
        (1, 0, 0, 1, 0, 0),
        (0, 1, -1, 0, 0, 0),
        (-1, 0, 0, -1, 0, 0),
        (0, -1, 1, 0, 0, 0),
    ]
    centre = (cell / 2, cell / 2)
    operations = []
    for n, m in enumerate(quarter):
        a, b, c, d, _, _ = m
        e = centre[0] - a * centre[0] - c * centre[1]
        f = centre[1] - b * centre[0] - d * centre[1]
        kind = "identity" if n == 0 else "rotation"
        operations.append(Operation((a, b, c, d, e, f), kind, [1, 4, 2, 4][n]))
    symmetry = Symmetry(
        Group("plane", "p4", "p4", "442", "C4", "square"),
        Lattice(np.array([[cell, 0.0], [0.0, cell]]), "square"),
        centre,
        tuple(operations),
        repeats_seen=arrangement.frame.width * arrangement.frame.height / cell**2,
    )
    zone = Zone(1, np.arange(1, arrangement.face_count, dtype=np.int32), symmetry)
    return Orbits(
        tuple(orbits),
        of_face,
        of_face.copy(),
        of_face.copy(),
        np.full(arrangement.face_count, -1, np.int32),
        arrangement.cut.copy(),
        "all",
        (zone,),
    )


def palette(count: int = 6) -> Palette:
    swatches = []
    for k in range(count):
        hex_ = HEXES[k % len(HEXES)]
        name = NAMES[k % len(NAMES)] + ("" if k < len(NAMES) else f" {k}")
        swatches.append(
            Swatch(
                name,
                str(k + 1),
                hex_,
                (0.5, 0.1, 0.0),
                (50.0, 0.0, 0.0),
                medium="gouache",
                pigments=("PY42",),
                opacity="opaque",
            )
        )
    return Palette("Invented earths", tuple(swatches))


def colouring_of(
    orbits: Orbits, count: int = 6, ground: int | None = None
) -> Colouring:
    of_orbit = (np.arange(len(orbits.orbits)) % count).astype(np.int32)
    of_face = np.where(orbits.of_face >= 0, of_orbit[orbits.of_face], -1).astype(
        np.int32
    )
    return Colouring(
        palette(count),
        of_orbit,
        of_face,
        20.0,
        25.0,
        (0, 1),
        25.0,
        True,
        (),
        None,
        Rules(),
        ground,
    )
