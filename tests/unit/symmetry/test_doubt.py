"""What is said to be in doubt."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.renderers.survey.text import settling
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.groups import plane_group
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.model import Candidate, Symmetry, Zone
from fillwork.symmetry.zones.find import find_zones
from fillwork.symmetry.zones.proof import with_doubt_of_regions
from tests.bench.symmetry_sets import read_pattern
from tests.unit.helpers import (
    cubic,
    line,
    linework_from_curves,
    linework_from_segments,
)
from tests.unit.symmetry.patterns import plane_pattern


@pytest.mark.parametrize("name", ["p4", "p31m"])
def test_corners_far_off_leave_doubt(name):
    pattern = plane_pattern(
        name, 5, repeats=14.0, noise=0.04, shape="upright", margin=1.6
    )
    arrangement, _ = read_pattern(pattern, "page")
    found = find_symmetry(arrangement)
    assert found.group.short == name or not found.certain


def test_the_survey_names_the_options_that_settle_a_doubt():
    group = plane_group("pm")
    rivals = (Candidate("pm", 0.95, 0.1), Candidate("pmm", 0.9, 0.1))
    doubt = Symmetry(group, certain=False, reason="so and so", candidates=rivals)
    zone = Zone(3, np.arange(1, 4, dtype=np.int32), doubt)
    assert settling(zone) == ["plane:pm", "plane:pmm"]


def _rows(with_triangles: bool):
    """Lozenges in boxes, in a row; triangles above, whose row has no level mirror."""
    lines = [(0, 0, 96, 0), (0, 8, 96, 8), (0, 0, 0, 8), (96, 0, 96, 8)]
    for x in range(0, 96, 8):
        lines += [(x, 4, x + 4, 8), (x + 4, 8, x + 8, 4), (x, 4, x + 4, 0)]
        lines += [(x + 4, 0, x + 8, 4), (x, 0, x, 8)]
        if with_triangles:
            lines += [(x, 8, x + 4, 14), (x + 4, 14, x + 8, 8)]
    if with_triangles:
        lines += [(0, 14, 96, 14), (0, 8, 0, 14), (96, 8, 96, 14)]
    return build_arrangement(linework_from_segments(np.array(lines, float), 96, 14))


@pytest.mark.parametrize("both", [False, True])
def test_a_mirror_of_one_of_two_rows_side_by_side_is_not_sure(both):
    arrangement = _rows(both)
    one = _rows(False)
    lozenges = find_symmetry(one, stated="frieze:p2mm")
    sure = replace(lozenges, certain=True, stated=False, reason="")
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    found = with_doubt_of_regions(arrangement, measure_faces(arrangement), faces, sure)
    assert found.certain is not both


@pytest.mark.parametrize("noise", [0.0, 0.08])
def test_a_running_leaf_is_sure_of_its_half_turns(noise):
    # by construction p2mg: a wave with a leaf in each bend; shifts that carry the lower
    # row onto the upper one say no more than its glide
    rng = np.random.default_rng(1)
    place = np.column_stack([np.linspace(0, 276, 19), np.full(19, 11.0)])
    place[1:-1] += rng.normal(0, noise, (17, 2))
    rows = [line(0, 0, 276, 0), line(276, 0, 276, 22), line(276, 22, 0, 22)]
    rows.append(line(0, 22, 0, 0))
    for k, (a, b) in enumerate(pairwise(place)):
        up, step = (8.0 if k % 2 else -8.0), 0.3 * (b[0] - a[0])
        bend = np.array([step, up]), np.array([-step, up])
        rows.append(cubic(*a, *(a + bend[0]), *(b + bend[1]), *b))
        root = (a + b) / 2 + rng.normal(0, noise, 2) - [0, up / 8]
        tip, belly = root - [0, up], 0.3 * up
        for x in (-4.0, 4.0):
            out = np.array([x, -belly]), np.array([x, belly])
            rows.append(cubic(*root, *(root + out[0]), *(tip + out[1]), *tip))
    drawing = linework_from_curves(rows, 276, 22, has_page=False)
    (zone,) = find_zones(build_arrangement(drawing))
    assert zone.symmetry.group.short == "p2mg"
    assert zone.symmetry.certain


@pytest.mark.parametrize(
    ("even", "whole"), [(False, False), (True, False), (True, True)]
)
def test_a_mirror_of_some_rooms_of_a_plan_is_not_sure(even: bool, whole: bool) -> None:
    # five rooms: what stands right of x = 70 is alike on both sides of x = 115, and
    # what stands left of it has nothing there; the same with rooms that are also alike
    # on both sides of y = 65, and two rooms between two others: D2
    walls = [[0, 0, 160, 0], [160, 0, 160, 130], [160, 130, 0, 130], [0, 130, 0, 0]]
    if whole:
        walls += [[30, 0, 30, 130], [130, 0, 130, 130], [30, 65, 130, 65]]
    else:
        walls += [[70, 0, 70, 130], [0, 65, 70, 65], [70, 90, 160, 90]]
        walls += [[70, 40, 160, 40]] if even else [[115, 0, 115, 90]]
    work = linework_from_segments(np.array(walls, float), 160.0, 130.0, has_page=False)
    (zone,) = find_zones(build_arrangement(work))
    assert zone.symmetry.certain == whole
    if whole:
        assert zone.symmetry.group.short == "D2"
