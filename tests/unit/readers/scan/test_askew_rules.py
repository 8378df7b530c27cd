"""What tells that a scan lies askew, on pictures so small that they cost nothing."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.askew import _piled, _rivalled, measure_askew


def ruled(angle: float, lines: int = 5, size: int = 300) -> np.ndarray:
    """Lines 2 px broad, 60 less than the page, so many degrees clockwise of level."""
    y, x = np.mgrid[:size, :size] - size / 2
    off = y * np.cos(np.radians(angle)) - x * np.sin(np.radians(angle))
    along = x * np.cos(np.radians(angle)) + y * np.sin(np.radians(angle))
    seen = np.full((size, size), 255.0)
    for k in range(lines):
        at = 40.0 * (k - (lines - 1) / 2)
        share = np.clip(1.5 - np.abs(off - at), 0.0, 1.0) * (
            np.abs(along) < size / 2 - 30
        )
        seen = np.minimum(seen, 255 * (1 - share))
    return np.repeat(np.rint(seen).astype(np.uint8)[:, :, None], 3, 2)


@pytest.mark.parametrize("angle", [-2.7, -1.2, 0.5, 2.7])
def test_level_lines_tell_the_turn(angle: float) -> None:
    # two px over 240 are half a degree; the weighted mean is finer
    assert measure_askew(ruled(angle)) == pytest.approx(angle, abs=0.15)
    upright = ruled(-angle).swapaxes(0, 1)
    assert measure_askew(upright) == pytest.approx(angle, abs=0.15)


@pytest.mark.parametrize("angle", [0.0, 3.4, -4.5, 30.0])
def test_what_lies_straight_or_at_an_angle_of_its_own_stays(angle: float) -> None:
    assert measure_askew(ruled(angle)) == 0.0


@pytest.mark.parametrize(("angle", "told"), [(0.04, False), (0.12, True)])
def test_less_than_a_sixteenth_of_a_degree_is_straight(
    angle: float, told: bool
) -> None:
    # 1140 px at 0.04 degrees rise by 0.8 px
    found = measure_askew(ruled(angle, 7, 1200))
    assert found == pytest.approx(angle * told, abs=0.02)


@pytest.mark.parametrize("pen", [1, 2, 3, 5])
@pytest.mark.parametrize("size", [60, 84, 132, 168, 252])
def test_small_squares_that_lie_straight_stay(size: int, pen: int) -> None:
    # what ends at the last row stands out of its surroundings as at the first
    for margin in (size // 10, size // 5):
        rgb = np.full((size, size, 3), 255, np.uint8)
        rgb[margin:-margin, margin:-margin] = 0
        rgb[margin + pen : -margin - pen, margin + pen : -margin - pen] = 255
        assert measure_askew(rgb) == 0.0


def test_few_dark_pixels_tell_nothing() -> None:
    # 99 or 120 px of a line
    for long, told in ((49, False), (70, True)):
        rgb = np.full((300, 300, 3), 255, np.uint8)
        for k in range(long):
            rgb[100 + round(k / 35) : 102 + round(k / 35), 50 + k] = 0
        assert (measure_askew(rgb) != 0.0) <= told
        assert np.count_nonzero(rgb[..., 0] == 0) == 2 * long


def test_ink_piles_up_where_it_lies_along_an_axis() -> None:
    # 60 px of one row: a pile of 60 in it, and one of 1 in each of 60 columns
    place = np.stack([np.arange(-30.0, 30.0), np.full(60, 7.0)])
    assert _piled(place, 50, 0.0) == 60**2 + 60
    # what stands out of the 15 around: of the row all, of the columns nothing but
    # where the line ends
    assert _piled(place, 50, 0.0, peaks=True) == pytest.approx(60**2, abs=16)
    # turned by three degrees it spreads over four rows, 60 sin 3° = 3.1
    assert _piled(place, 50, 3.0) < 0.5 * 60**2
    # a band of ten rows is broader than half of what is around; its end rows stand out
    band = np.stack([np.tile(np.arange(60.0), 10), np.repeat(np.arange(10.0), 60)])
    band = np.c_[band, [-80.0, 80.0], [80.0, -80.0]]
    assert _piled(band, 90, 0.0, peaks=True) < 0.1 * _piled(band, 90, 0.0)


@pytest.mark.parametrize(
    ("other", "between", "rivalled"),
    [
        # so much of the most at the same angle the other way, and what lies between
        (0.6, 0.2, True),
        (0.4, 0.1, False),
        (0.6, 0.35, False),
        (0.6, 0.28, True),
    ],
)
def test_a_mirrored_angle_is_the_patterns_own(
    other: float, between: float, rivalled: bool
) -> None:
    heights = [between] * 41
    heights[8], heights[32] = 1.0, other
    assert _rivalled(heights, 8) == rivalled
    heights[8], heights[32] = other, 1.0
    assert _rivalled(heights, 32) == rivalled
    # and so is what lies straight
    heights = [between] * 41
    heights[8], heights[20] = 1.0, other
    assert _rivalled(heights, 8) == rivalled
    # one beside it, as of a peak that two turns share
    heights[20], heights[21] = between, other
    assert _rivalled(heights, 8) == rivalled
    heights[21], heights[22] = between, other
    assert not _rivalled(heights, 8)


def test_a_peak_beside_the_straight_one_is_no_rival() -> None:
    # a turn of two steps: the slope of its own peak reaches to what lies straight
    heights = [0.02] * 41
    heights[16:21] = 0.2, 0.85, 1.0, 0.85, 0.42
    assert not _rivalled(heights, 18)
    assert not _rivalled(heights[::-1], 22)
    # at the ends of what is tried the other way has one neighbour
    heights = [0.02] * 41
    heights[0], heights[39] = 1.0, 0.6
    assert _rivalled(heights, 0)
    heights[39], heights[38] = 0.02, 0.6
    assert not _rivalled(heights, 0)
