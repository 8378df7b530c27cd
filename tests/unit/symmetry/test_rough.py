"""Drawings whose lines stray so far that no group is sure of them."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import linework_from_segments
from tests.unit.symmetry.patterns import plane_pattern


# the groups are those that the patterns were built by
@pytest.mark.parametrize("group", ["p4"])
def test_strayed_corners_leave_a_doubt_that_names_the_group(group: str) -> None:
    pattern = plane_pattern(
        group, 9, repeats=14.0, noise=0.08, shape="upright", margin=1.6
    )
    work = linework_from_segments(pattern.segments, 400, 400, has_page=False)
    arrangement = build_arrangement(work)
    found = find_symmetry(arrangement)
    assert not found.certain
    assert found.candidates[0].group == group
    assert f"{group} fits" in found.reason
    held = find_symmetry(arrangement, stated=f"plane:{group}")
    assert held.group.short == group
    assert held.lattice is not None


def test_chance_lines_are_no_rough_pattern() -> None:
    rng = np.random.default_rng(3)
    ends = rng.uniform(0, 200, (30, 4))
    found = find_symmetry(
        build_arrangement(linework_from_segments(ends, 400, 400, has_page=False))
    )
    assert found.group.family == "none"
    assert not found.candidates


def _grid(cells: int, *, without: bool = False) -> np.ndarray:
    rows = []
    for k in range(cells + 1):
        for n in range(cells):
            if not (without and (k, n) == (3, 3)):
                rows.append([10 * k, 10 * n, 10 * k, 10 * n + 10])
            rows.append([10 * n, 10 * k, 10 * n + 10, 10 * k])
    return np.array(rows, dtype=float)


def test_a_missing_line_breaks_symmetry_and_a_frame_does_not() -> None:
    for without in (False, True):
        lines = _grid(7, without=without)
        frame = np.array([[-3.0, -3], [73, -3], [73, 73], [-3, 73]])
        frame = np.hstack([frame, np.roll(frame, -1, axis=0)])
        work = linework_from_segments(
            np.vstack([lines, frame]) + 20, 120, 120, has_page=False
        )
        arrangement = build_arrangement(work)
        orbits = find_orbits(arrangement, find_zones(arrangement))
        said = [d.type for d in orbits.defects].count("breaks symmetry")
        assert said == (1 if without else 0)
