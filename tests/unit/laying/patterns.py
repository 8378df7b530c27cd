"""Patterns of the 17 plane groups, from gemmi's tables, and what compares lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import gemmi
import numpy as np
import shapely

from fillwork.laying.joins import weigh_way
from fillwork.laying.sectors import PARTS
from fillwork.laying.ways import find_ways
from fillwork.symmetry.groups import PLANE_GROUPS

if TYPE_CHECKING:
    from fillwork.laying.model import Cell, Way

__all__ = [
    "CELLS", "KIND", "PARTS", "best_way", "covers", "cut", "operations", "pattern",
    "same_lines",
]  # fmt: skip

SPACE_GROUP = {
    "p1": "P 1", "p2": "P 1 1 2", "pm": "P m 1 1", "pg": "P b 1 1",
    "cm": "C m 1 1", "pmm": "P m m 2", "pmg": "P m a 2", "pgg": "P b a 2",
    "cmm": "C m m 2", "p4": "P 4", "p4m": "P 4 m m", "p4g": "P 4 b m",
    "p3": "P 3", "p3m1": "P 3 m 1", "p31m": "P 3 1 m", "p6": "P 6",
    "p6m": "P 6 m m",
}  # fmt: skip
CELLS = {
    "oblique": [[40.0, 0.0], [11.0, 33.0]],
    "rectangular": [[40.0, 0.0], [0.0, 27.0]],
    "centred rectangular": [[40.0, 0.0], [0.0, 27.0]],
    "square": [[40.0, 0.0], [0.0, 40.0]],
    "hexagonal": [[40.0, 0.0], [-20.0, 20.0 * 3**0.5]],
}
KIND = {g.short: g.lattice_kind for g in PLANE_GROUPS}


def operations(name: str) -> list[tuple[np.ndarray, np.ndarray]]:
    group = gemmi.find_spacegroup_by_name(SPACE_GROUP[name])
    found = {}
    for op in group.operations():
        turn = np.array(op.rot)[:2, :2] // op.DEN
        shift = np.array(op.tran)[:2] % op.DEN
        found[(*turn.ravel(), *shift)] = (turn, shift / op.DEN)
    return list(found.values())


def pattern(name: str, count: int, seed: int) -> np.ndarray:
    """Return segments (n, 2, 2) of a pattern round the origin, mm."""
    rng = np.random.default_rng(seed)
    basis = np.array(CELLS[KIND[name]])
    strokes = rng.random((count, 2, 2)) * 1.1
    images = np.concatenate([strokes @ m.T + t for m, t in operations(name)])
    steps = np.stack(np.meshgrid(np.arange(-5, 8), np.arange(-5, 8)), -1)
    return (images + steps.reshape(-1, 1, 1, 1, 2)).reshape(-1, 2, 2) @ basis


def cut(segments: np.ndarray, polygon: shapely.Polygon) -> np.ndarray:
    lines = shapely.linestrings(segments)
    lines = lines[shapely.STRtree(lines).query(polygon, predicate="intersects")]
    parts = shapely.get_parts(shapely.intersection(lines, polygon))
    parts = parts[(shapely.get_type_id(parts) == 1) & (shapely.length(parts) > 1e-9)]
    return shapely.get_coordinates(parts).reshape(-1, 2, 2)


def best_way(cell: Cell, by: str, group: str, slack: float) -> Way:
    ways = find_ways(cell.outline, by, group, slack=max(slack, 0.01))
    return ways[int(np.argmin([weigh_way(cell, w, slack=slack) for w in ways]))]


def covers(one: np.ndarray, two: np.ndarray, near: float) -> bool:
    """Return whether the first segments cover points along the second."""
    shares = np.linspace(0.02, 0.98, 9)[:, None, None]
    points = shapely.points(two[:, 0] * (1 - shares) + two[:, 1] * shares).ravel()
    tree = shapely.STRtree(shapely.linestrings(one))
    _, off = tree.query_nearest(points, return_distance=True, all_matches=False)
    return bool(off.max() <= near)


def same_lines(one: np.ndarray, two: np.ndarray, near: float) -> bool:
    """Return whether segments cover each other."""
    return covers(one, two, near) and covers(two, one, near)
