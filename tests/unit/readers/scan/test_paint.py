"""Paint between the lines: where it is an area, and what shows on it."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.paint import (
    as_pen,
    find_areas,
    hollow_areas,
    ink_on_paint,
)

SCALE = 8.0  # 2.2 mm are 18 px


def lines(width: int = 4) -> np.ndarray:
    """Lines 60 px apart both ways."""
    dark = np.zeros((360, 360), bool)
    for k in range(width):
        dark[30 + k :: 60] = dark[:, 30 + k :: 60] = True
    return dark


@pytest.mark.parametrize(("side", "area"), [(14, False), (24, True)])
def test_an_area_is_broader_than_two_millimetres(side: int, area: bool) -> None:
    dark = lines()
    dark[50 : 50 + side, 50:200] = True
    wide, areas = find_areas(dark, SCALE)
    assert wide == 18
    assert areas.any() == area
    if area:
        # and a little beyond: three blocks of 2 px
        grown = np.zeros_like(dark)
        grown[44 : 56 + side, 44:206] = True
        assert not (areas & ~grown).any()
        assert areas[50 : 50 + side, 50:200].all()


@pytest.mark.parametrize(("pen", "area"), [(6, True), (10, False)])
def test_of_a_broad_pen_blots_are_broader(pen: int, area: bool) -> None:
    # 2.8 pens are 17 or 28 px, of which 24 are an area or none
    dark = lines(pen)
    dark[50:74, 50:74] = True
    wide, areas = find_areas(dark, SCALE)
    assert areas.any() == area
    assert wide == (18 if area else pytest.approx(28, abs=3))


@pytest.mark.parametrize(("thin", "area"), [(3, False), (10, True)])
def test_the_pen_is_what_most_of_the_lines_are_as_broad_as(
    thin: int, area: bool
) -> None:
    # three lines of 10 px and so many of 2 px, each pixel as heavy as it is deep, 5 or
    # 1: thin ones are 3 of 18 or 10 of 25 parts, less or more than a quarter
    dark = np.zeros((360, 320), bool)
    for k in range(3):
        dark[20 + 40 * k : 30 + 40 * k, 10:310] = True
    for k in range(thin):
        dark[140 + 18 * k : 142 + 18 * k, 10:310] = True
    dark[320:344, 100:124] = True
    assert find_areas(dark, SCALE)[1].any() == area


@pytest.mark.parametrize(("width", "line"), [(9, True), (16, False)])
def test_a_line_on_paint_is_narrower_than_an_area(width: int, line: bool) -> None:
    # 0.7 of 18 px
    dark = np.zeros((200, 200, 3), np.float32)
    dark[40:160, 40:160] = 0.3
    dark[90 : 90 + width, 20:180] = 0.6
    strength, _ = ink_on_paint(dark, np.array([0.8] * 3), 18)
    assert (strength[90 + width // 2, 100] > 0.3) == line


@pytest.mark.parametrize(("bare", "area"), [(2, True), (3, False)])
def test_grain_leaves_pinholes_in_paint(bare: int, area: bool) -> None:
    # of blocks of nine pixels seven are more than three quarters, six are not
    dark = np.zeros((240, 240), bool)
    dark[60:180, 60:180] = True
    for k in range(bare):
        dark[k::3, (2 * k) % 3 :: 3] = False
    assert find_areas(dark, 12.0)[1].any() == area


def test_darkness_is_the_least_of_the_channels_that_the_pen_darkens() -> None:
    ink = np.array([0.8, 0.6, 0.1])
    dark = np.zeros((1, 5, 3), np.float32)
    dark[0, 0] = ink
    dark[0, 1] = 0.5 * ink
    # red alone, blue alone, and all of them: blue, less than half of the most, is not
    # the pen's
    dark[0, 2] = [0.8, 0.0, 0.0]
    dark[0, 3] = [0.0, 0.0, 0.9]
    dark[0, 4] = [0.8, 0.3, 0.9]
    assert as_pen(dark, ink)[0] == pytest.approx([0.8, 0.4, 0.0, 0.0, 0.4])


@pytest.mark.parametrize(
    ("paint", "pen", "seen", "hides"),
    [
        # of paint of 0.4 a line of 0.6 takes a third of what light is left
        (0.4, 0.6, 0.2 / 0.6, False),
        # from 0.6 of the pen's darkness on, 0.48, its lines are hard to see
        (0.46, 0.66, 0.2 / 0.54, False),
        (0.51, 0.8, None, True),
        # and 0.85 of it, 0.68, is pen itself
        (0.4, 0.66, (0.66 - 0.4) / 0.6, False),
        (0.4, 0.70, 0.70, False),
        # what is lighter than 0.3 of it is no area
        (0.2, 0.66, 0.66, False),
    ],
)
def test_ink_on_paint_is_held_against_the_paint(
    paint: float, pen: float, seen: float | None, hides: bool
) -> None:
    ink = np.array([0.8, 0.8, 0.8])
    dark = np.zeros((200, 200, 3), np.float32)
    dark[40:160, 40:160] = paint
    dark[98:102, 20:180] = pen
    strength, hidden = ink_on_paint(dark, ink, 18)
    assert bool(hidden) == hides
    if seen is not None:
        assert strength[100, 70] == pytest.approx(seen, abs=0.02)
    # beside it paint is paper, where it is one
    if 0.24 < paint < 0.68:
        assert strength[60:90, 60:140].max() < 0.02
    assert strength[100, 25] == pytest.approx(pen, abs=0.02)
    for at, size in hidden:
        assert 40 <= min(at) <= max(at) < 160
        assert size == pytest.approx(120.0, rel=0.2)


@pytest.mark.parametrize(("side", "hides"), [(16, False), (30, True)])
def test_a_blot_hides_nothing(side: int, hides: bool) -> None:
    dark = np.zeros((200, 200, 3), np.float32)
    dark[60 : 60 + side, 60 : 60 + side] = 0.6
    assert bool(ink_on_paint(dark, np.array([0.8] * 3), 18)[1]) == hides


@pytest.mark.parametrize("lined", [True, False])
def test_an_area_becomes_a_line_along_its_rim(lined: bool) -> None:
    pen = np.zeros((200, 200), bool)
    pen[50:130, 50:130] = True
    if lined:
        pen[20:26, 10:190] = True
    hollow = hollow_areas(pen, 18)
    # as wide as the line, 6 px, or the broadest that is none: 18 / 2.8 = 6.4
    middle = hollow[90, 50:130]
    inside = np.flatnonzero(~middle)
    assert inside[0] == pytest.approx(6.5, abs=1.6)
    assert 79 - inside[-1] == inside[0]
    assert hollow[20:26].sum() == pen[20:26].sum()
    # nothing painted: the same
    line = np.zeros((60, 200), bool)
    line[20:26, 10:190] = True
    assert hollow_areas(line, 18) is line
