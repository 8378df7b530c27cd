"""Bent outlines made from the formula of the lens, or of a bow, and measured back."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.lens import Bend, measure_bend
from fillwork.readers.scan.sheet import Outline

SIZE = (3000, 2200)
CORNERS = np.array([[400, 250], [2620, 310], [2500, 1990], [330, 1900]], np.float64)


def outline(lens: float, bows: tuple[float, ...]) -> Outline:
    middle = np.array(SIZE) / 2.0
    half = float(np.hypot(*middle))
    camera = Bend(middle, half, lens, CORNERS, (np.zeros(3),) * 4)
    rng = np.random.default_rng(5)
    s = np.linspace(0.03, 0.97, 240)[:, None]
    sides = []
    for k, bow in enumerate(bows):
        way = CORNERS[(k + 1) % 4] - CORNERS[k]
        inward = np.array([-way[1], way[0]]) / np.hypot(*way)
        flat = CORNERS[k] + s * way + 4 * s * (1 - s) * bow * inward
        sides.append(camera.seen(flat) + rng.normal(0, 0.15, (240, 2)))
    return Outline(camera.seen(CORNERS), tuple(sides))


@pytest.mark.parametrize("lens", [-0.03, 0.01, 0.05])
def test_one_lens_bends_all_four_sides(lens: float) -> None:
    found = measure_bend(outline(lens, (0.0,) * 4), SIZE)
    assert found.lens == pytest.approx(lens, rel=0.04)
    assert found.bow == 0.0
    assert np.abs(found.corners - CORNERS).max() < 1.0


def test_a_sheet_that_rises_keeps_its_corners() -> None:
    # two sides bend the same way up: no lens does that
    found = measure_bend(outline(0.0, (14.0, 0.0, -14.0, 0.0)), SIZE)
    assert found.lens == 0.0
    assert found.bow == pytest.approx(14.0, abs=0.5)
    assert np.abs(found.corners - CORNERS).max() < 1.0
    middle = found.bowed(np.array([[0.5, 0.0], [0.5, 0.5], [0.0, 0.5]]))
    assert np.hypot(*middle.T) == pytest.approx([14.0, 14.0, 0.0], abs=0.7)


def test_a_flat_sheet_is_left_alone() -> None:
    assert not measure_bend(outline(0.0, (0.0,) * 4), SIZE).bent


@pytest.mark.parametrize("bow", [0.0, 14.0])
def test_a_side_that_hardly_shows_is_straight(bow: float) -> None:
    whole = outline(0.0, (bow, 0.0, -bow, 0.0))
    for shown in (slice(0, 20), slice(200, 240)):
        sides = (*whole.sides[:3], whole.sides[3][shown])
        found = measure_bend(Outline(whole.corners, sides, 3), SIZE)
        assert np.abs(found.bows[3]).max() == 0.0
        assert found.bow == pytest.approx(bow, abs=0.5)
        assert np.abs(found.corners - CORNERS).max() < 4.0
