"""Arrangements, kinds and palettes made by hand, for tests of colouring.

`tiling` builds a full arrangement from polygons that meet edge to edge, so that
tests do not lean on the stage that finds regions in line work.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Arrangement
from fillwork.geometry.curves import Curves
from fillwork.linework import Frame
from fillwork.symmetry.model import Group, Symmetry
from fillwork.tolerance import Tolerance

if TYPE_CHECKING:
    from collections.abc import Sequence

NONE = Symmetry(Group("none", "none", "none", "", "C1"))


def tiling(polygons: Sequence[Sequence[tuple[float, float]]]) -> Arrangement:
    """Return the arrangement of simple polygons, counter-clockwise, edge to edge."""
    points: dict[tuple[float, float], int] = {}
    half: dict[tuple[int, int], int] = {}
    rings = []
    for polygon in polygons:
        ring = [
            points.setdefault((round(x, 6), round(y, 6)), len(points))
            for x, y in polygon
        ]
        rings.append(ring)
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            if (b, a) in half:
                half[a, b] = half[b, a] ^ 1
            else:
                half[a, b] = 2 * (len(half) // 2 + sum(1 for _ in ()))
                half[a, b] = _fresh(half, a, b)
    vertices = np.array(list(points), float)
    edges = max(half.values()) // 2 + 1
    origin = np.zeros(2 * edges, np.int32)
    face = np.zeros(2 * edges, np.int32)
    following = np.full(2 * edges, -1, np.int32)
    for (a, b), h in half.items():
        origin[h], origin[h ^ 1] = a, b
    ring_half = []
    for number, ring in enumerate(rings, start=1):
        steps = [half[a, b] for a, b in zip(ring, ring[1:] + ring[:1], strict=True)]
        ring_half.append(steps)
        for h, after in zip(steps, steps[1:] + steps[:1], strict=True):
            face[h], following[h] = number, after
    # the boundary of the unbounded face: turn about each vertex
    for h in range(2 * edges):
        if following[h] >= 0:
            continue
        spin = h ^ 1
        while following[_before(following, spin)] >= 0 and face[spin] != 0:
            spin = _before(following, spin) ^ 1
        following[h] = spin
    outer: list[list[int]] = []
    seen: set[int] = set()
    for h in range(2 * edges):
        if face[h] == 0 and h not in seen:
            walk = [h]
            while following[walk[-1]] != h:
                walk.append(int(following[walk[-1]]))
            seen.update(walk)
            outer.append(walk)
    all_rings = outer + ring_half
    area = [0.0]
    witness = [(np.nan, np.nan)]
    for polygon in polygons:
        p = np.array(polygon, float)
        q = np.roll(p, -1, axis=0)
        area.append(float((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum() / 2))
        witness.append(tuple(p.mean(axis=0)))
    p, q = vertices[origin[0::2]], vertices[origin[1::2]]
    curves = Curves.from_segments(np.concatenate([p, q], axis=1))
    sizes = [len(r) for r in all_rings]
    size = vertices.max(axis=0)
    return Arrangement(
        vertices=vertices,
        origin=origin,
        next=following,
        face=face,
        edge_curve=np.arange(edges, dtype=np.int32),
        edge_span=np.tile([0.0, 1.0], (edges, 1)),
        source_start=np.arange(edges + 1, dtype=np.int32),
        source_curve=np.arange(edges, dtype=np.int32),
        ring_start=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64),
        ring_half_edge=np.concatenate([np.array(r) for r in all_rings]).astype(
            np.int32
        ),
        face_ring_start=np.concatenate(
            [[0, len(outer)], len(outer) + 1 + np.arange(len(rings))]
        ).astype(np.int64),
        area=np.array(area),
        witness=np.array(witness),
        inscribed=np.concatenate([[0.0], np.full(len(rings), 0.1)]),
        cut=np.zeros(len(rings) + 1, bool),
        curves=curves,
        page_curves=edges,
        curve_stroke=np.arange(edges, dtype=np.int32),
        loose=Curves.empty(),
        components=len(outer),
        area_difference=0.0,
        frame=Frame(float(size[0]), float(size[1]), (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)),
        tolerance=Tolerance(0.01, 0.1, 0.01),
    )


def _fresh(half: dict[tuple[int, int], int], a: int, b: int) -> int:
    used = {h // 2 for key, h in half.items() if key != (a, b)}
    return 2 * len(used)


def _before(following: np.ndarray, h: int) -> int:
    found = np.flatnonzero(following == h)
    return int(found[0]) if len(found) else -1
