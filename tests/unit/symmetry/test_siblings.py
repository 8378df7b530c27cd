"""Parts that are compared with each other, to find copies."""

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.zones.siblings import find_copy
from tests.unit.helpers import linework_from_segments, polyline


@pytest.mark.filterwarnings("error")
def test_parts_closer_than_they_are_exact_are_compared_without_a_stumble():
    # two squares beside two more, 1.2 mm apart, where lines may stray by 2 mm: one
    # square is as good a second as another, the first itself among them
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
    corners = [(0, 0), (1.2, 0), (20, 0), (21.2, 0)]
    lines = np.concatenate([polyline(square + c, closed=True) for c in corners])
    arrangement = build_arrangement(linework_from_segments(lines))
    found = find_copy(
        measure_faces(arrangement), np.array([1, 2]), np.array([3, 4]), 2.0
    )
    assert (
        found is None or np.isfinite(np.concatenate([found[0].ravel(), found[1]])).all()
    )
