"""Very many straight lines through one point."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.arrangement import build, build_arrangement
from tests.unit.helpers import circle, line, linework_from_curves


def pencil(count, middle, radius=48.0):
    """Return lines right through a point, as long as diameters of a circle."""
    angle = np.pi * (np.arange(count) + 0.3) / count
    way = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return angle, [line(*(middle - w), *(middle + w)) for w in way]


@pytest.mark.parametrize("decimals", [6, 15])
@pytest.mark.parametrize("count", [210, 400])
def test_diameters_part_a_circle(count, decimals):
    _, rows = pencil(count, np.array([50.0, 50.0]))
    kind, data = zip(*rows, strict=True)
    rows = list(zip(kind, np.round(data, decimals).tolist(), strict=True))
    found = build_arrangement(linework_from_curves([*rows, circle(50, 50, 40)]))
    assert found.face_count - 1 == 2 * count


def test_lines_through_one_point_are_no_crossings_of_each_two(monkeypatch):
    monkeypatch.setattr(build, "LIMITS", replace(build.LIMITS, crossings=2_000))
    _, rows = pencil(400, np.array([50.0, 50.0]))
    found = build_arrangement(linework_from_curves([*rows, circle(50, 50, 40)]))
    assert found.face_count - 1 == 2 * 400


@pytest.mark.parametrize("off", [0.0, 0.4, 11.0])
def test_a_line_beside_the_point_and_a_shorter_one_over_another(off):
    count, radius = 230, 40.0
    angle, rows = pencil(count, np.array([50.0, 50.0]))
    rows.append(circle(50, 50, radius))
    # over the first one, past the point
    way = 30.0 * np.array([np.cos(angle[0]), np.sin(angle[0])])
    rows.append(line(*(50.0 - way / 2), *(50.0 + way)))
    half = np.sqrt(radius**2 - off**2)
    rows.append(line(50.0 - half, 50.0 + off, 50.0 + half, 50.0 + off))
    found = build_arrangement(linework_from_curves(rows))
    # a chord parts each region that it goes through, one more than lines it crosses
    crossed = np.count_nonzero(off / np.sin(angle) < radius) if off else 1
    assert found.face_count - 1 == 2 * count + crossed + 1
