"""Cells cut from patterns of all 17 plane groups, laid again: the same lines.

The pattern is constructed from the general positions of gemmi's table of space
groups (International Tables for Crystallography A), random strokes carried about by
them. A sector is cut out with shapely and laid by `fillwork.laying`; every laid line
must lie on the constructed ones, and all of those must be there.
"""

from __future__ import annotations

import gemmi
import numpy as np
import pytest
import shapely

from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.laying.field import lay_motif
from fillwork.laying.joins import make_motif, weigh_way
from fillwork.laying.model import Cell, Way
from fillwork.laying.panel import rectangle_panel
from fillwork.laying.sectors import PARTS
from fillwork.laying.ways import find_ways
from fillwork.symmetry.groups import PLANE_GROUPS

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
EVERY_PART = [(name, k) for name, parts in PARTS.items() for k in range(len(parts))]
PANEL = (150.0, 110.0)


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


def same_lines(one: np.ndarray, two: np.ndarray, near: float) -> bool:
    """Return whether segments cover each other, by points along them."""
    shares = np.linspace(0.02, 0.98, 9)[:, None, None]
    for a, b in ((one, two), (two, one)):
        points = shapely.points(a[:, 0] * (1 - shares) + a[:, 1] * shares).ravel()
        lines = shapely.linestrings(b)
        tree = shapely.STRtree(lines)
        _, off = tree.query_nearest(points, return_distance=True, all_matches=False)
        if off.max() > near:
            return False
    return True


@pytest.mark.reference("International Tables for Crystallography A, by gemmi")
@pytest.mark.parametrize(("name", "part"), EVERY_PART)
def test_sectors_give_the_constructed_pattern(name: str, part: int) -> None:
    segments = pattern(name, 9, seed=part + 1)
    place = affine.compose(affine.translation(7, 3), affine.rotation(0.3))
    segments = affine.apply(place, segments)
    corners = affine.apply(place, np.array(PARTS[name][part]) @ CELLS[KIND[name]])
    if not shapely.linearrings(corners).is_ccw:
        corners = corners[::-1]
    lines = cut(segments, shapely.Polygon(corners))
    cell = Cell(
        Curves.from_segments(lines.reshape(-1, 4)),
        np.zeros(len(lines), np.int32),
        corners,
        guided=True,
    )
    way = best_way(cell, "", f"plane:{name}", 1e-5)
    motif = make_motif(cell, way, slack=1e-5)
    # the unit cell holds as many sectors as the group has operations
    area = shapely.area(shapely.Polygon(corners)) * len(way.operations)
    assert abs(np.linalg.det(way.basis)) == pytest.approx(area)
    laid, _ = lay_motif(motif, rectangle_panel(*PANEL), affine.translation(60, 40))
    truth = cut(segments + np.array([60, 40]), shapely.box(0, 0, *PANEL))
    assert same_lines(laid.data[:, :4].reshape(-1, 2, 2), truth, 1e-6)
    length = np.hypot(*(truth[:, 1] - truth[:, 0]).T).sum()
    assert laid.lengths().sum() == pytest.approx(length, rel=1e-9)


@pytest.mark.parametrize("name", sorted(PARTS))
def test_copies_of_each_part_fill_the_plane_once(name: str) -> None:
    rng = np.random.default_rng(3)
    basis = np.array(CELLS[KIND[name]])
    for part in PARTS[name]:
        steps = np.stack(np.meshgrid(np.arange(-4, 5), np.arange(-4, 5)), -1)
        copies = np.concatenate(
            [np.array(part) @ m.T + t for m, t in operations(name)]
        ).reshape(-1, len(part), 2)
        copies = copies + steps.reshape(-1, 1, 1, 2)
        polygons = shapely.polygons(copies.reshape(-1, len(part), 2) @ basis)
        points = shapely.points(rng.random((200, 2)) @ basis)
        hits = shapely.STRtree(polygons).query(points, predicate="within")
        assert np.bincount(hits[0], minlength=200).tolist() == [1] * 200
