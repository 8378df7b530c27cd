"""Pieces that stand for circles, made arcs of one circle again."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.geometry.curves import ARC, CUBIC, Curves
from fillwork.geometry.quarters import join_circles, quarters_as_arcs, whole_circles

KAPPA = 4 / 3 * (math.sqrt(2) - 1)


def quarter(centre, u, v, kappa=KAPPA):
    c, u, v = (np.array(p, float) for p in (centre, u, v))
    return np.concatenate([c + u, c + u + kappa * v, c + v + kappa * u, c + v])


def curves(*rows):
    return Curves(np.full(len(rows), CUBIC, np.uint8), np.array(rows))


@pytest.mark.parametrize("kappa", [KAPPA, 0.552, 0.5523, 0.551915])
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_quarter_of_a_circle_lies_on_the_circle(kappa, way):
    turned = 30 * np.array([math.cos(0.3), math.sin(0.3)])
    before = curves(quarter((5, 7), turned, (-way * turned[1], way * turned[0]), kappa))
    after = quarters_as_arcs(before)
    assert after.kind.tolist() == [ARC]
    rows, t = np.zeros(9, int), np.linspace(0, 1, 9)
    away = np.hypot(*(after.point(rows, t) - (5, 7)).T)
    assert away == pytest.approx(30, rel=1e-12)
    assert after.starts() == pytest.approx(before.starts(), abs=1e-12)
    assert after.ends() == pytest.approx(before.ends(), abs=1e-12)


def test_decimals_leave_a_circle_round():
    row = np.round(quarter((5.123, 7.456), (11.117, 0), (0, 11.117)), 2)
    after = quarters_as_arcs(curves(row))
    rows, t = np.zeros(9, int), np.linspace(0, 1, 9)
    away = np.hypot(*(after.point(rows, t) - after.data[0, :2]).T)
    assert np.ptp(away) < 1e-9


def test_a_slanted_ellipse_stays_one():
    after = quarters_as_arcs(curves(quarter((0, 0), (20, 3), (-1, 6))))
    assert after.kind.tolist() == [ARC]
    assert after.data[0, 2:6] == pytest.approx([20, 3, -1, 6])


def test_other_curves_stay_as_they_are():
    free = quarter((0, 0), (20, 0), (0, 20), 0.6)
    flat = [0, 0, 1, 0, 2, 0, 3, 0]
    before = curves(free, flat, [0.0] * 8)
    assert quarters_as_arcs(before) is before


def pieces(ends, centre=(5.004, 7.4555), radius=11.117, digits=2):
    """Return quarters between ends of so many radians, rounded."""
    told = [
        np.round(quarter(centre, *(radius * np.array([math.cos(a + d), math.sin(a + d)])
                                   for d in (0, way * math.pi / 2))), digits)
        for a, way in ends
    ]  # fmt: skip
    return quarters_as_arcs(curves(*told))


@pytest.mark.parametrize("way", [1, -1])
def test_quarters_all_round_lie_on_one_circle(way):
    before = pieces([(0.45 + way * k * math.pi / 2, way) for k in range(4)])
    after = whole_circles(before, np.array([0, 4]))
    assert np.ptp(after.data[:, :6], axis=0) == pytest.approx(0)
    # the mean of four roundings
    assert after.data[0, :2] == pytest.approx([5.004, 7.4555], abs=0.01)
    assert np.hypot(*(after.ends() - before.ends()).T).max() < 0.02
    assert after.ends() == pytest.approx(np.roll(after.starts(), -1, axis=0), abs=1e-12)


def test_quarters_of_two_circles_and_of_half_a_circle_stay():
    ends = [(k * math.pi / 2 + 0.4, 1) for k in range(4)]
    half, more = pieces(ends[:2]), pieces(ends[2:], centre=(5.1, 7.4555))
    for rows in (half, Curves.concatenate([half, more])):
        assert whole_circles(rows, np.array([0, len(rows)])) is rows


def halves(radius, given, way=1):
    """Return two arcs of a radius between ends of a circle's other radius."""
    off = math.sqrt(max(given**2 - radius**2, 0.0))
    rows = []
    for k in (0, 1):
        # the centre that an arc shorter than a half has, off the chord
        centre = np.array([30.0, 40.0 + (1 - 2 * k) * way * off])
        begin, end = (
            [30.0 + s * radius, 40.0] for s in ((1, -1) if k == 0 else (-1, 1))
        )
        a, b = (math.atan2(*(np.array(p) - centre)[::-1]) for p in (begin, end))
        b = a + way * ((way * (b - a)) % (2 * math.pi))
        rows.append([*centre, given, 0.0, 0.0, given, a, b])
    return Curves(np.full(2, ARC, np.uint8), np.array(rows))


@pytest.mark.parametrize("way", [1, -1])
def test_halves_of_a_rounded_circle_have_its_centre(way):
    # a chord 0.0004 mm shorter puts the centre off by √(2 · 20 · 0.0002) = 0.09 mm
    before = halves(19.9998, 20.0, way)
    rounding = 0.0005 * math.sqrt(2)
    after = whole_circles(before, np.array([0, 2]), rounding)
    assert after.data[:, :2] == pytest.approx(np.array([[30.0, 40.0]] * 2), abs=1e-12)
    joined, start = join_circles(after, np.array([0, 2]))
    assert (len(joined), start.tolist()) == (1, [0, 1])
    assert joined.lengths()[0] == pytest.approx(2 * math.pi * 20.0, rel=1e-5)
    # what decimals do not tell, a lens whose sides are drawn, stays
    lens = halves(19.9, 20.0, way)
    assert whole_circles(lens, np.array([0, 2]), rounding) is lens
    assert join_circles(lens, np.array([0, 2]))[0] is lens
