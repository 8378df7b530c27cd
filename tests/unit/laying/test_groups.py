"""Cells cut from patterns of all 17 plane groups, laid again: the same lines.

The pattern is constructed from the general positions of gemmi's table of space
groups (International Tables for Crystallography A), random strokes carried about by
them. A sector is cut out with shapely and laid by `fillwork.laying`; every laid line
must lie on the constructed ones, and all of those must be there.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.laying.field import lay_motif
from fillwork.laying.joins import make_motif
from fillwork.laying.model import Cell
from fillwork.laying.panel import rectangle_panel
from tests.unit.laying.patterns import (
    CELLS,
    KIND,
    PARTS,
    best_way,
    cut,
    operations,
    pattern,
    same_lines,
)

EVERY_PART = [(name, k) for name, parts in PARTS.items() for k in range(len(parts))]
PANEL = (150.0, 110.0)


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
