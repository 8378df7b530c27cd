"""Panels part into zones; patterns do not."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.errors import SymmetryError
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from fillwork.symmetry.zones.frames import face_parts, find_frame_edges
from fillwork.tolerance import Tolerance
from tests.unit.helpers import (
    circle,
    line,
    linework_from_curves,
    linework_from_segments,
)
from tests.unit.symmetry.cells import agreement, make_cells
from tests.unit.symmetry.panels import make_panel
from tests.unit.symmetry.strips import rosette_pattern

EXACT = Tolerance(1e-4, 0.0, 0.01)


def _panel(group, seed, **kwargs):
    rows, truth = make_panel(group, seed, **kwargs)
    work = linework_from_curves(rows, 300, 220, has_page=False)
    arrangement = build_arrangement(work, EXACT)
    x, y = arrangement.witness[1:].T
    label = np.full(arrangement.face_count - 1, -1)
    for k, (area, _, _) in enumerate(truth):
        label[shapely.contains_xy(area, x, y)] = k
    return arrangement, truth, label


@pytest.mark.parametrize("medallion", ["circle", "octagon", "none"])
@pytest.mark.parametrize("corners", ["square", "mitre"])
@pytest.mark.parametrize("group", ["p4g", "p6m", "pgg"])
def test_frame_lines_part_a_panel(group: str, medallion: str, corners: str) -> None:
    arrangement, _, label = _panel(group, 3, medallion=medallion, corners=corners)
    parts = face_parts(arrangement, find_frame_edges(arrangement))
    assert agreement(label, parts[1:]).mean() > 0.97


def test_zones_of_a_panel_have_their_groups_and_share_kinds() -> None:
    arrangement, truth, label = _panel("p4g", 5)
    zones = find_zones(arrangement)
    zone = np.zeros(arrangement.face_count, dtype=int)
    for z in zones:
        zone[z.faces] = z.index
    assert agreement(label, zone[1:]).mean() > 0.97
    for k, (_, role, group) in enumerate(truth):
        index = np.bincount(zone[1:][label == k]).argmax()
        found = zones[index - 1]
        assert found.role == role
        if group:
            assert found.symmetry.group.short == group
    orbits = find_orbits(arrangement, zones)
    # opposite sides of the border are painted alike
    low = zone[1:][label == [t[1] for t in truth].index("border")][0]
    first = {int(k) for k in orbits.of_face[zones[low - 1].faces]}
    for z in zones:
        if z.role == "border" and len(z.faces) == len(zones[low - 1].faces):
            assert {int(k) for k in orbits.of_face[z.faces]} == first


@pytest.mark.parametrize("group", ["p1", "pmm", "p31m", "cmm"])
def test_a_framed_pattern_is_one_zone(group: str) -> None:
    rng = np.random.default_rng(8)
    pattern = make_cells(group, rng, repeats=14)
    work = linework_from_segments(pattern.segments, 200, 200, has_page=False)
    zones = find_zones(build_arrangement(work, EXACT))
    assert len(zones) == 1
    assert zones[0].symmetry.group.short == group


def test_rows_of_bricks_are_no_frames() -> None:
    lines = [(0.0, 6.0 * k, 120.0, 6.0 * k) for k in range(11)]
    for k in range(10):
        for j in range(11):
            x = 12.0 * j + 6.0 * (k % 2)
            if x <= 120:
                lines.append((x, 6.0 * k, x, 6.0 * k + 6.0))
    work = linework_from_segments(lines, 120, 60, has_page=False)
    assert len(find_zones(build_arrangement(work))) == 1


def test_circles_that_cross_each_other_are_no_frames() -> None:
    rng = np.random.default_rng(2)
    rows = [
        circle(*rng.uniform(20, 180, 2), float(rng.uniform(6, 40))) for _ in range(40)
    ]
    arrangement = build_arrangement(linework_from_curves(rows, 200, 200))
    (zone,) = find_zones(arrangement)
    assert zone.symmetry.group.family == "none"


def test_tips_that_poke_through_a_frame_line_do_not_cross_it() -> None:
    lines = [(0.0, 0.0, 200.0, 0.0), (200.0, 0.0, 200.0, 70.0)]
    lines += [(200.0, 70.0, 0.0, 70.0), (0.0, 70.0, 0.0, 0.0), (0.0, 20.0, 200.0, 20.0)]
    for k in range(10):
        x, tall = 20.0 * k + 10.0, 10.1
        ring = [(x - 7, 10.0), (x, 10.0 - tall), (x + 7, 10.0), (x, 10.0 + tall)]
        lines += [(*ring[i], *ring[i - 1]) for i in range(4)]
    for k in range(1, 5):
        lines.append((0.0, 20.0 + 10.0 * k, 200.0, 20.0 + 10.0 * k))
    for k in range(5):
        for x in np.arange(6.0 + 12.5 * (k % 2), 200.0, 25.0):
            lines.append((x, 20.0 + 10.0 * k, x, 30.0 + 10.0 * k))
    work = linework_from_segments(lines, 200, 70, has_page=False)
    arrangement = build_arrangement(work, EXACT)
    y = arrangement.vertices[arrangement.origin, 1].reshape(-1, 2)
    rail = np.abs(y - 20.0).max(axis=1) < 1e-6
    assert rail.any()
    assert find_frame_edges(arrangement)[rail].all()


def test_a_rosette_is_not_torn_by_its_own_long_lines() -> None:
    # the six arms about an inner hexagon seem to turn into themselves
    pattern = rosette_pattern(6, False, 102)
    moved = pattern.segments - np.tile(pattern.segments.reshape(-1, 2).min(axis=0), 2)
    work = linework_from_segments(moved, 130, 130, has_page=False)
    (zone,) = find_zones(build_arrangement(work, close_gaps=0.0))
    assert zone.symmetry.group.short == "C6"


def test_a_cross_that_is_hardly_aslant_is_square() -> None:
    # two lines that cross halfway are D2 whatever their angle
    lines = [(0.0, 0.0, 24.0, 0.0), (24.0, 0.0, 24.0, 24.0), (24.0, 24.0, 0.0, 24.0)]
    lines += [(0.0, 24.0, 0.0, 0.0), (0.0, 0.25, 24.0, 23.75), (0.0, 24.0, 24.0, 0.0)]
    arrangement = build_arrangement(linework_from_segments(lines, 24, 24))
    (zone,) = find_zones(arrangement)
    assert zone.symmetry.group.short == "D4"


def test_a_small_medallion_is_a_zone_of_a_pattern_that_holds_all_about_it() -> None:
    pattern = make_cells("p4m", np.random.default_rng(5), repeats=30, framed=False)
    wide = min(pattern.window.bounds[2:])
    field = shapely.box(0, 0, 200, 200) - shapely.Point(150, 150).buffer(9, 300)
    cells = pattern.segments.reshape(-1, 2, 2) * 200.2 / wide
    parts = shapely.get_parts(shapely.intersection(shapely.linestrings(cells), field))
    parts = parts[shapely.length(parts) > 1e-6]
    rows = [line(*row) for row in shapely.get_coordinates(parts).reshape(-1, 4)]
    ring = shapely.get_coordinates(field.exterior).reshape(-1, 2)
    rows += [line(*p, *q) for p, q in pairwise(ring)]
    rows.append(circle(150, 150, 9))
    t = np.arange(17) * np.pi / 8
    star = np.where(np.arange(17) % 2 == 0, 8.5, 4.0)[:, None] * np.column_stack(
        [np.cos(t), np.sin(t)]
    )
    rows += [line(*(p + 150), *(q + 150)) for p, q in pairwise(star)]
    rows += [line(150, 150, *(p + 150)) for p in star[:-1]]
    arrangement = build_arrangement(linework_from_curves(rows, 200, 200))
    zones = find_zones(arrangement)
    assert [z.symmetry.group.short for z in zones] == ["p4m", "D8"]
    # sixteen halves of the star's points, and the ground about it
    assert len(zones[1].faces) == 17


def test_fields_on_one_grid_are_zones_of_their_own() -> None:
    # lozenges with a square in each, and squares halved by parallel diagonals, 10 mm
    # apart both ways: p4m and cmm, with no line between them and beside each other
    tilted = np.array([[5, 0], [10, 5], [5, 10], [0, 5]], float)
    inner = (tilted - 5) * 0.4 + 5
    lozenges = [
        np.hstack([np.roll(ring, -1, axis=0), ring]) for ring in (tilted, inner)
    ]
    halved = np.array([[0, 0, 10, 0], [0, 0, 0, 10], [0, 0, 10, 10]], float)
    rows = []
    for shift, cell in ((0, np.vstack(lozenges)), (70, halved)):
        at = np.stack(np.meshgrid(range(5), range(7)), axis=-1).reshape(-1, 1, 2)
        at = np.tile(10.0 * at + (10 + shift, 10), 2)
        rows.append((cell + at).reshape(-1, 4))
        x, right = 10 + shift, 60 + shift
        frame = [[x, 10, right, 10], [right, 10, right, 80], [right, 80, x, 80]]
        rows.append(np.array([*frame, [x, 80, x, 10]], float))
    lines = linework_from_segments(np.vstack(rows), 140, 90)
    zones = find_zones(build_arrangement(lines, page_edge="open"))
    assert sorted(z.symmetry.group.short for z in zones) == ["cmm", "p4m"]
    assert {z.role for z in zones} == {"field"}


def test_stated_symmetry() -> None:
    rng = np.random.default_rng(8)
    pattern = make_cells("p4m", rng, repeats=12)
    work = linework_from_segments(pattern.segments, 200, 200, has_page=False)
    arrangement = build_arrangement(work, EXACT)
    (zone,) = find_zones(arrangement, stated="none")
    assert zone.symmetry.group.family == "none"
    (zone,) = find_zones(arrangement, stated="plane:p4")
    assert zone.symmetry.group.short == "p4"
    with pytest.raises(SymmetryError):
        find_zones(arrangement, stated="plane:p6m")
    with pytest.raises(SymmetryError, match="zone 4"):
        find_zones(arrangement, stated={4: "plane:p4"})


def test_no_faces_give_no_zone() -> None:
    work = linework_from_segments([(0.0, 0.0, 5.0, 0.0)], 10, 10, has_page=False)
    assert find_zones(build_arrangement(work)) == ()


def test_rings_that_fill_squares_are_sorted() -> None:
    # the corners of the squares lie round the rings and have no other side outside
    radii = (2.368, 5.109, 8.039, 11.623, 14.1, 16.9, 20.1, 23.144)
    rings = [circle(x, y, r) for x in (25, 75) for y in (25, 75) for r in radii]
    walls = [
        line(*row) for k in (0, 50, 100) for row in ([k, 0, k, 100], [0, k, 100, k])
    ]
    regions = build_arrangement(linework_from_curves([*rings, *walls]))
    assert sum(len(zone.faces) for zone in find_zones(regions)) == 4 * 9
