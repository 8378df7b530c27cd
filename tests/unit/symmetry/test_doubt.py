"""What is said to be in doubt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.renderers.survey.text import settling
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.groups import plane_group
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.model import Candidate, Symmetry, Zone
from fillwork.symmetry.zones.proof import with_doubt_of_regions
from tests.bench.symmetry_sets import read_pattern
from tests.unit.helpers import linework_from_segments
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
