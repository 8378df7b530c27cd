"""What another processor makes of the last bits of numbers changes no answer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.geometry.curves import Curves
from fillwork.geometry.rounding import settled, settled_areas, settled_curves, step_of
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import arc, circle, line, linework_from_curves


def petals(count: int) -> list:
    """Return a grid of six-petalled flowers, each arc and its mirror image drawn."""
    rows = []
    for i, j in np.ndindex(count, count):
        middle = np.round(np.array([13.7 * i + 10, 13.7 * j + 10]), 4)
        for k in range(6):
            at = k * np.pi / 3
            centre = np.round(middle + 6 * np.array([np.cos(at), np.sin(at)]), 4)
            rows += [arc(*centre, 6, at + 2 * np.pi / 3, at + 4 * np.pi / 3)] * 2
        rows.append(circle(*middle, 6))
    return rows


def lattice(count: int) -> list:
    """Return a square lattice of lines, each drawn twice, four decimals."""
    ends = np.round(np.arange(count + 1) * 7.3333, 4)
    rows = [line(ends[0], y, ends[-1], y) for y in ends]
    rows += [line(x, ends[0], x, ends[-1]) for x in ends]
    rows += [line(x, y, x + 3.66, y + 3.6667) for x in ends[:-1] for y in ends[:-1]]
    return rows * 2


@pytest.mark.parametrize("rows", [petals(3), lattice(6)], ids=["petals", "lattice"])
@pytest.mark.parametrize("seed", range(4))
def test_other_last_bits_give_the_same_regions_in_the_same_order(rows, seed):
    work = linework_from_curves(rows)
    rng = np.random.default_rng(seed)
    off = 1 + rng.uniform(-4, 4, work.curves.data.shape) * 2.0**-52
    other = replace(work, curves=Curves(work.curves.kind, work.curves.data * off))
    one, two = build_arrangement(work), build_arrangement(other)
    assert one.tolerance.why == two.tolerance.why
    np.testing.assert_array_equal(one.face, two.face)
    np.testing.assert_array_equal(one.origin, two.origin)
    np.testing.assert_allclose(one.area, two.area, atol=1e-9)
    for a, b in zip(find_zones(one), find_zones(two), strict=True):
        assert a.symmetry.group is b.symmetry.group
        np.testing.assert_array_equal(a.faces, b.faces)


def test_settled_numbers_lie_within_half_a_step():
    step = step_of(300.0)
    assert step < 300 * 1e-10
    rng = np.random.default_rng(5)
    numbers = rng.uniform(-150, 150, 1000)
    assert np.abs(settled(numbers, step) - numbers).max() <= step / 2
    # whole numbers, halves and what is settled stay as they are
    whole = np.arange(-300, 300) / 2
    np.testing.assert_array_equal(settled(whole, step), whole)
    np.testing.assert_array_equal(
        settled(settled(numbers, step), step), settled(numbers, step)
    )


def test_a_stated_slack_is_not_rounded_away():
    # a map in metres: coordinates of a million, points within a micron are one
    assert step_of(1e6, 1e-6) < 1e-9


def test_whole_turns_stay_whole():
    curves = linework_from_curves([circle(3, 4, 5, start=1.234)]).curves
    turned = settled_curves(curves, step_of(10.0))
    assert abs(turned.data[0, 7] - turned.data[0, 6]) >= 2 * np.pi * (1 - 1e-12)


def test_sums_of_areas_are_the_same_in_any_order():
    rng = np.random.default_rng(8)
    area = settled_areas(rng.uniform(0, 90, 1000), 300.0)
    every = {float(rng.permutation(area).sum()) for _ in range(20)}
    every |= {float(np.cumsum(rng.permutation(area))[-1]) for _ in range(20)}
    assert len(every) == 1
