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


@pytest.mark.parametrize(("bow", "bent"), [(0.4, False), (0.9, True)])
def test_a_bend_within_what_an_edge_strays_is_none(bow: float, bent: bool) -> None:
    # 0.6 px; opposite sides bend the same way, which no lens does
    found = measure_bend(outline(0.0, (bow, 0.0, -bow, 0.0)), SIZE)
    assert found.bent == bent
    assert found.bow == pytest.approx(bow if bent else 0.0, abs=0.2)


@pytest.mark.parametrize(("shown", "straight"), [(0.68, True), (0.9, False)])
def test_a_side_seen_along_four_fifths_says_how_it_bends(
    shown: float, straight: bool
) -> None:
    # places of 240 that run from 0.03 to 0.97: of twenty parts 14 or 18
    whole = outline(0.0, (14.0, 0.0, -14.0, 0.0))
    first = round(240 * (1 - shown / 0.94) / 2)
    sides = (whole.sides[0][first : 240 - first], *whole.sides[1:])
    found = measure_bend(Outline(whole.corners, sides), SIZE)
    assert (np.abs(found.bows[0]).max() == 0.0) == straight


def test_a_lens_puts_places_where_the_formula_has_them() -> None:
    middle = np.array([1500.0, 1100.0])
    half = float(np.hypot(*middle))
    camera = Bend(middle, half, 0.05, CORNERS, (np.zeros(3),) * 4)
    places = np.random.default_rng(3).uniform(0, 2200, (30, 2))
    seen = camera.seen(places)
    # what is seen at r half diagonals would lie at r (1 + 0.05 r²)
    r = (seen - middle) / half
    back = middle + half * r * (1 + 0.05 * (r**2).sum(1, keepdims=True))
    assert back == pytest.approx(places, abs=1e-6)
    assert camera.bent
    assert camera.bow == 0.0
    # a bow that leans: 4 s (1 - s) (1 + s) is most where 1 - 3 s² is nothing
    leaning = Bend(middle, half, 0.0, CORNERS, (np.array([3.0, 3.0, 0.0]),) * 4)
    s = np.sqrt(1 / 3)
    assert leaning.bow == pytest.approx(3 * 4 * s * (1 - s) * (1 + s), rel=0.01)
