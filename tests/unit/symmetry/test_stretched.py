"""A drawing whose paper is stretched one way has its group, if in doubt."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.lines.detect import find_symmetry
from tests.unit.helpers import linework_from_segments

HOOK = 0.6 * np.array([(3, 2, 14, 4), (14, 4, 9, 11), (9, 11, 3, 2)], float)


def _laid(order: int, stretch: float) -> np.ndarray:
    """Hooks turned about the points of a square or triangular lattice of 50 mm."""
    second = (0.0, 50.0) if order == 4 else (25.0, 25.0 * np.sqrt(3))
    lines = []
    for i in range(-9, 10):
        for j in range(-9, 10):
            at = np.array([150.0, 150.0]) + i * np.array([50.0, 0.0])
            at = at + j * np.array(second)
            if not (20 < at[0] < 280 and 20 < at[1] < 280):
                continue
            for k in range(order):
                c, s = np.cos(2 * np.pi * k / order), np.sin(2 * np.pi * k / order)
                turned = HOOK.reshape(-1, 2) @ np.array([[c, s], [-s, c]])
                lines.append((turned + at).reshape(-1, 4))
    tilt = np.radians(20)
    # longer by the stretch along a line at 20° to the page
    along = np.array([np.cos(tilt), np.sin(tilt)])
    wider = np.eye(2) + stretch * np.outer(along, along)
    found: np.ndarray = (np.concatenate(lines).reshape(-1, 2) @ wider).reshape(-1, 4)
    return found


@pytest.mark.parametrize("order", [3, 4])
def test_a_little_leaves_the_group_and_more_of_it_in_doubt(order: int) -> None:
    for stretch, sure in ((0.0, True), (0.003, True), (0.009, False)):
        arrangement = build_arrangement(
            linework_from_segments(_laid(order, stretch), 310, 310)
        )
        found = find_symmetry(arrangement)
        assert found.group.short == f"p{order}"
        assert found.certain is sure
        assert sure or "stretched by 0.9 % one way" in found.reason
        assert find_symmetry(arrangement, stated=f"plane:p{order}").reason == ""


@pytest.mark.parametrize(("order", "group"), [(3, "p1"), (4, "p2")])
def test_three_percent_make_another_group(order: int, group: str) -> None:
    # half turns and shifts are kept by any stretch
    lines = linework_from_segments(_laid(order, 0.03), 310, 310)
    assert find_symmetry(build_arrangement(lines)).group.short == group
