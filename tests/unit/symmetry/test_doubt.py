"""What is said to be in doubt."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.renderers.survey.text import _settling
from fillwork.symmetry.groups import plane_group
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.model import Candidate, Symmetry, Zone
from tests.bench.symmetry_sets import read_pattern
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
    (line,) = _settling(zone, True)
    assert line.split() == (
        [
            "settle",
            "it",
            "by",
            "--symmetry",
            "3=plane:pm,",
            "or",
            "by",
            "--symmetry",
            "3=plane:pmm",
        ]
    )
    (line,) = _settling(zone, False)
    assert "--symmetry plane:pm," in line
