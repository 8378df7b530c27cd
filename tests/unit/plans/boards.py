"""Boards of squares made by hand: regions, kinds and a colouring for tests."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Arrangement
from fillwork.colouring.adjacency import measure_adjacency
from fillwork.colouring.model import Colouring, Rules
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

if TYPE_CHECKING:
    from fillwork.colouring.model import Adjacency
    from fillwork.colouring.palettes.model import Palette

__all__ = ["board", "colour_board", "orbits_of"]


def board(
    columns: int,
    rows: int,
    side: float = 10.0,
    *,
    page: tuple[float, float] | None = None,
) -> Arrangement:
    """Return squares side by side; face 1 + row * columns + column."""
    points = [(x * side, y * side) for y in range(rows + 1) for x in range(columns + 1)]

    def vertex(x: int, y: int) -> int:
        return y * (columns + 1) + x

    def face(x: int, y: int) -> int:
        inside = 0 <= x < columns and 0 <= y < rows
        return 1 + y * columns + x if inside else 0

    edges, left, right = [], [], []
    for y in range(rows + 1):
        for x in range(columns):
            edges.append((vertex(x, y), vertex(x + 1, y)))
            left.append(face(x, y))
            right.append(face(x, y - 1))
    for x in range(columns + 1):
        for y in range(rows):
            edges.append((vertex(x, y), vertex(x, y + 1)))
            left.append(face(x - 1, y))
            right.append(face(x, y))
    ends = np.array(edges, np.int32)
    vertices = np.array(points, float)
    origin = ends.ravel().astype(np.int32)
    of_half = np.stack([left, right], axis=1).ravel().astype(np.int32)
    pairs = zip(origin.tolist(), of_half.tolist(), strict=True)
    at = {pair: h for h, pair in enumerate(pairs) if pair[1]}
    following = np.zeros(len(origin), np.int32)
    for h in range(len(origin)):
        following[h] = at.get((int(origin[h ^ 1]), int(of_half[h])), h)
    curves = Curves.from_segments(
        np.hstack([vertices[ends[:, 0]], vertices[ends[:, 1]]])
    )
    faces = 1 + columns * rows
    rings, start = [], [0]
    for f in range(1, faces):
        first = int(np.flatnonzero(of_half == f)[0])
        ring = [first]
        while (step := int(following[ring[-1]])) != first:
            ring.append(step)
        rings += ring
        start.append(len(rings))
    centre = [
        ((x + 0.5) * side, (y + 0.5) * side)
        for y in range(rows)
        for x in range(columns)
    ]
    width, height = page or (columns * side, rows * side)
    return Arrangement(
        vertices=vertices,
        origin=origin,
        next=following,
        face=of_half,
        edge_curve=np.arange(len(edges), dtype=np.int32),
        edge_span=np.tile([0.0, 1.0], (len(edges), 1)),
        source_start=np.arange(len(edges) + 1, dtype=np.int32),
        source_curve=np.arange(len(edges), dtype=np.int32),
        ring_start=np.array(start, np.int64),
        ring_half_edge=np.array(rings, np.int32),
        face_ring_start=np.concatenate([[0], np.arange(faces)]).astype(np.int64),
        area=np.r_[0.0, np.full(faces - 1, side * side)],
        inside=(
            np.vstack([[np.nan, np.nan], np.array(centre).reshape(-1, 2)]),
            np.r_[0.0, np.full(faces - 1, side / 2)],
        ),
        cut=np.zeros(faces, bool),
        curves=curves,
        page_curves=len(curves),
        curve_stroke=np.zeros(len(curves), np.int32),
        loose=Curves.empty(),
        components=1,
        area_difference=0.0,
        frame=Frame(width, height, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)),
        tolerance=Tolerance(0.01, 0.1, 0.01),
    )


def orbits_of(
    arrangement: Arrangement,
    kind: list[int],
    *,
    family: str = "plane",
    cell: float = 20.0,
    operations: int = 1,
    sites: list[str] | None = None,
) -> Orbits:
    """Return kinds by face (from face 1 on) under one symmetry."""
    of_face = np.array([-1, *kind], np.int32)
    lattice = Lattice(np.array([[cell, 0.0], [0.0, cell]]), "square")
    step = Operation((1.0, 0.0, 0.0, 1.0, 0.0, 0.0), "identity", 1)
    group = Group(family, "p1", "p1", "o", "C1", "square")
    symmetry = Symmetry(
        group, lattice if family == "plane" else None, operations=(step,) * operations
    )
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    found = []
    for k in range(max(kind, default=-1) + 1):
        mine = np.flatnonzero(of_face == k).astype(np.int32)
        found.append(
            Orbit(
                letter=chr(65 + k),
                name=f"kind {k}",
                base_name="square",
                zone=1,
                faces=mine,
                representative=int(mine[0]),
                site_symmetry=(sites or [])[k] if sites else "C1",
                area=float(arrangement.area[mine[0]]),
                cut=0,
            )
        )
    return Orbits(
        orbits=tuple(found),
        of_face=of_face,
        turns_of_face=of_face.copy(),
        shifts_of_face=of_face.copy(),
        operation_of_face=np.zeros(len(of_face), np.int32),
        cut=np.zeros(len(of_face), bool),
        match="all",
        zones=(Zone(1, faces, symmetry, "field"),),
    )


def colour_board(
    arrangement: Arrangement,
    orbits: Orbits,
    palette: Palette,
    swatches: list[int],
    rules: Rules | None = None,
    ground: int | None = None,
) -> tuple[Colouring, Adjacency]:
    """Give each kind a swatch."""
    of_orbit = np.array(swatches, np.int32)
    of_face = np.where(orbits.of_face >= 0, of_orbit[orbits.of_face], -1)
    colouring = Colouring(
        palette=palette,
        of_orbit=of_orbit,
        of_face=of_face.astype(np.int32),
        goal=20.0,
        smallest_difference=20.0,
        closest=None,
        bound=20.0,
        proven=False,
        equal_neighbours=(),
        counterchange=None,
        rules=rules or Rules(),
        ground=ground,
    )
    return colouring, measure_adjacency(arrangement, orbits)
