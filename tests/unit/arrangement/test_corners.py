"""Corners and ends that a pen would let touch a line, and those it would not."""

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework

WIDE, HIGH, TEETH = 200.0, 20.0, 10


def _strip(tmp_path, misses, pen):
    """Return the regions of a zigzag between rails whose points miss them so far.

    A positive miss stops short of the rail, a negative one runs over it.
    """
    x = WIDE * (np.arange(2 * TEETH) + 0.5) / (2 * TEETH)
    short = np.resize(np.asarray(misses, float), len(x))
    y = np.where(np.arange(len(x)) % 2, short, HIGH - short)
    line = "M0 10L" + "L".join(f"{a:.3f} {b:.3f}" for a, b in zip(x, y, strict=True))
    rails = f"M0 0H{WIDE:g}V{HIGH:g}H0Z"
    file = tmp_path / "strip.svg"
    file.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="220mm" height="40mm" '
        f'viewBox="-10 -10 220 40"><path d="{rails}{line}L{WIDE:g} 10" fill="none" '
        f'stroke="#000" stroke-width="{pen:g}"/></svg>'
    )
    return build_arrangement(read_linework(file))


@pytest.mark.parametrize("misses", [(0.0,), (0.1, -0.1, 0.2), (0.25, 0.05, -0.2, 0.1)])
def test_points_that_miss_by_less_than_the_pen_part_the_strip(tmp_path, misses):
    # by construction: ten points on a rail leave eleven regions along it
    found = _strip(tmp_path, misses, pen=0.3)
    assert found.face_count - 1 == 2 * (TEETH + 1)
    assert found.area[1:].sum() == pytest.approx(WIDE * HIGH, rel=0.01)


@pytest.mark.parametrize(("miss", "pen"), [(1.0, 0.3), (0.4, 0.1)])
def test_points_that_stay_off_by_more_than_the_pen_leave_it_open(tmp_path, miss, pen):
    # by construction: one region above the line and one below it
    assert _strip(tmp_path, (miss,), pen).face_count - 1 == 2


def test_a_curved_end_under_the_ink_of_a_line_that_it_meets_askew_is_joined(tmp_path):
    # it ends 0.05 mm short, at 15° to the line: by construction it parts the panel
    file = tmp_path / "wave.svg"
    file.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm" '
        'viewBox="-10 -10 80 60"><path d="M0 0H60V40H0ZM0 10C20 14 58.5 24.4 59.95 30" '
        'fill="none" stroke="#000" stroke-width="0.3"/></svg>'
    )
    assert build_arrangement(read_linework(file)).face_count - 1 == 2
