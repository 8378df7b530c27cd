"""Panels part into zones; patterns do not."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.errors import SymmetryError
from fillwork.symmetry.frames import face_parts, find_frame_edges
from fillwork.symmetry.orbits import find_orbits
from fillwork.symmetry.zones import find_zones
from fillwork.tolerance import Tolerance
from tests.unit.helpers import linework_from_curves, linework_from_segments
from tests.unit.symmetry.cells import agreement, make_cells
from tests.unit.symmetry.panels import make_panel

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
