"""How far decimals may have moved a point, and steps that last bits do not reach."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.geometry import affine
from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.geometry.rounding import (
    rounding_of_points,
    settled,
    settled_areas,
    settled_curves,
    step_of,
)


def points(decimals: int, size: float = 400.0) -> np.ndarray:
    rng = np.random.default_rng(decimals)
    top = int(size * 10**decimals)
    return np.unique(rng.integers(0, top, (300, 2)), axis=0) / 10.0**decimals


@pytest.mark.parametrize("decimals", range(7))
@pytest.mark.parametrize("scale", [1.0, 25.4 / 96])
def test_decimals_move_a_point_by_half_the_diagonal_of_a_step(
    decimals: int, scale: float
) -> None:
    to_mm = (scale, 0.0, 0.0, -scale, 3.0, 297.0)
    own = points(decimals)
    told = rounding_of_points(affine.apply(to_mm, own), to_mm)
    assert told == pytest.approx(scale * 10.0**-decimals / math.sqrt(2))
    # one number of twenty may be anything, a tenth may not
    for share, known in ((0.04, told), (0.1, math.inf)):
        mixed = own.copy()
        mixed[: int(share * len(own))] += math.pi / 10 ** (decimals + 1)
        found = rounding_of_points(affine.apply(to_mm, mixed), to_mm)
        assert found == pytest.approx(known)


def test_numbers_that_are_no_round_ones_tell_nothing() -> None:
    free = np.random.default_rng(5).uniform(0, 400, (200, 2))
    assert rounding_of_points(free, affine.IDENTITY) == math.inf
    as_written = rounding_of_points(free, affine.IDENTITY, as_written=True)
    assert as_written == pytest.approx(1e-7 / math.sqrt(2))
    assert rounding_of_points(free[:0], affine.IDENTITY) == math.inf


def test_chosen_numbers_are_not_rounded_ones() -> None:
    whole = points(0)
    assert rounding_of_points(2 * whole, affine.IDENTITY) == math.inf
    assert rounding_of_points(5 * whole, affine.IDENTITY) == math.inf
    assert math.isfinite(rounding_of_points(3 * whole, affine.IDENTITY))
    # a drawing of fewer than a hundred steps
    few = np.array([[0.0, 1], [33, 98], [97, 54], [21, 7]])
    assert rounding_of_points(few, affine.IDENTITY) == math.inf
    wide = np.array([[0.0, 1], [33, 98], [101, 54], [21, 7]])
    assert rounding_of_points(wide, affine.IDENTITY) == pytest.approx(math.sqrt(0.5))


def test_steps_are_powers_of_two_below_a_size() -> None:
    # 300 lies between 2^8 and 2^9
    assert step_of(300.0) == 2.0 ** (8 - 36)
    assert step_of(256.0) == 2.0 ** (8 - 36)
    assert step_of(0.0) == 2.0**-36
    # where points within 0.001 are one, between 2^-10 and 2^-9, that decides
    assert step_of(1e6, 1e-3) == 2.0 ** (-10 - 12)
    assert step_of(1.0, 1e3) == 2.0**-36
    numbers = np.array([0.3, -1.26, 7.0])
    assert settled(numbers, 0.5).tolist() == [0.5, -1.5, 7.0]
    assert settled(numbers, 0.0) is numbers


def test_curves_and_areas_are_settled_in_their_own_steps() -> None:
    turn = 2 * np.pi
    rows = np.array(
        [
            [1.3, 2.2, 3.1, 0, 0, 3.1, 0.1, 0.1 + turn],
            [1.3, 2.2, 3.1, 0, 0, 3.1, 0.1, 0.1 - turn],
            [1.3, 2.2, 3.1, 0, 0, 3.1, 0.1, 1.1],
            [1.3, 2.2, 3.1, 0, 0, 0, 0, 0],
        ]
    )
    made = settled_curves(Curves(np.array([ARC, ARC, ARC, LINE], np.uint8), rows), 0.25)
    assert made.data[:, :3].tolist() == [[1.25, 2.25, 3.0]] * 4
    sweep = made.data[:3, 7] - made.data[:3, 6]
    assert sweep == pytest.approx([turn, -turn, 1.0], abs=2.0**-36)
    assert np.abs(made.data[:3, 6] - 0.1).max() <= 2.0**-37
    assert np.abs(made.data[:3, 6] * 2.0**36 % 1).max() == 0
    # in a drawing of 256 steps of 2^(16-44), and of 2^-30 of the least region
    area = np.array([0.0, 8 + 2.0**-30, 8 + 2.0**-28])
    assert settled_areas(area, 256.0).tolist() == [0.0, 8.0, 8 + 2.0**-28]
    tiny = settled_areas(np.array([2.0**-20, 1.0 + 2.0**-49]), 256.0)
    assert tiny.tolist() == [2.0**-20, 1.0 + 2.0**-49]
