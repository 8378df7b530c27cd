"""Points, parts, images, chords and lengths of curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ellipe

from fillwork.geometry import affine, curves
from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves

NUMBERS = np.random.default_rng(3).uniform(-9, 9, (3, 8))
NUMBERS[0, 4:] = 0
NUMBERS[1, 6:] = 0.7, 4.1
MIXED = Curves(np.array([LINE, ARC, CUBIC], np.uint8), NUMBERS)


def on(row: int, t: np.ndarray) -> np.ndarray:
    """Return points as the text of the module defines them."""
    d = NUMBERS[row].reshape(4, 2)
    if row == LINE:
        return d[0] + np.outer(t, d[1] - d[0])
    if row == ARC:
        s = d[3, 0] + t * (d[3, 1] - d[3, 0])
        return d[0] + np.outer(np.cos(s), d[1]) + np.outer(np.sin(s), d[2])
    weights = [math.comb(3, k) * t**k * (1 - t) ** (3 - k) for k in range(4)]
    return np.array(weights).T @ d


def table(kind: int, *rows: list[float]) -> Curves:
    data = np.zeros((len(rows), 8))
    for k, row in enumerate(rows):
        data[k, : len(row)] = row
    return Curves(np.full(len(rows), kind, np.uint8), data)


def test_the_rule_of_five_points_is_that_of_gauss() -> None:
    nodes, weights = np.polynomial.legendre.leggauss(5)
    assert np.allclose(curves.GAUSS, np.column_stack([nodes, weights]), atol=1e-14)
    # exact up to degree 9: the integral of x^8 from -1 to 1 is 2/9
    assert abs(sum(w * x**8 for x, w in curves.GAUSS) - 2 / 9) < 1e-15


def test_points_and_slopes_are_those_of_the_definitions() -> None:
    t = np.linspace(0, 1, 7)
    index = np.repeat([CUBIC, LINE, ARC], 7)
    point, slope = MIXED.evaluate(index, np.tile(t, 3))
    wide = 1e-5
    for k, row in enumerate((CUBIC, LINE, ARC)):
        own = slice(7 * k, 7 * k + 7)
        assert np.allclose(point[own], on(row, t), atol=1e-12)
        rise = (on(row, t + wide) - on(row, t - wide)) / (2 * wide)
        assert np.allclose(slope[own], rise, atol=1e-6)
        alone = MIXED.evaluate(np.full(7, row), t)
        assert np.array_equal(alone[0], point[own])
        assert np.array_equal(alone[1], slope[own])
    ends = [on(row, np.array([0.0, 1.0])) for row in range(3)]
    assert np.allclose(MIXED.starts(), [e[0] for e in ends])
    assert np.allclose(MIXED.ends(), [e[1] for e in ends])
    # the end of a line is the number that was written
    assert MIXED.ends()[0].tolist() == NUMBERS[0, 2:4].tolist()


@pytest.mark.parametrize(("t0", "t1"), [(0.2, 0.9), (0.8, 0.1), (0.0, 1.0)])
def test_a_part_runs_along_its_curve(t0: float, t1: float) -> None:
    index, t = np.array([ARC, CUBIC, LINE, ARC]), np.linspace(0, 1, 6)
    part = MIXED.part(index, np.full(4, t0), np.full(4, t1))
    assert part.kind.tolist() == index.tolist()
    for row, kind in enumerate(index.tolist()):
        points = part.point(np.full(6, row), t)
        assert np.allclose(points, on(kind, t0 + t * (t1 - t0)), atol=1e-12)


def test_an_image_holds_the_images_of_all_points() -> None:
    m = (1.2, -0.4, 0.9, 2.1, 5.0, -7.0)
    image, t = MIXED.transform(m), np.linspace(0, 1, 6)
    for row in range(3):
        points = image.point(np.full(6, row), t)
        assert np.allclose(points, affine.apply(m, on(row, t)), atol=1e-12)
    assert MIXED.data.tolist() == NUMBERS.tolist()


def test_tables_are_joined_and_rows_chosen() -> None:
    both = Curves.concatenate([MIXED, MIXED.take(np.array([False, True, True]))])
    assert both.kind.tolist() == [LINE, ARC, CUBIC, ARC, CUBIC]
    assert both.take(slice(1, 4)).data.tolist() == both.data[[1, 2, 3]].tolist()
    assert (len(Curves.concatenate([])), len(Curves.empty())) == (0, 0)
    line = Curves.from_segments(np.array([[1.0, 2, 3, 4]]))
    assert line.kind.tolist() == [LINE]
    assert line.data.tolist() == [[1, 2, 3, 4, 0, 0, 0, 0]]


@pytest.mark.parametrize("error", [0.5, 0.01, 1e-4])
def test_chords_are_as_near_as_asked_and_no_more_than_need_be(error: float) -> None:
    # the sagitta of a chord over an angle a is r (1 - cos a/2), just below r a² / 8
    radius = 40.0
    for sweep in (0.3, -2.0, 2 * math.pi):
        arc = table(ARC, [5, 6, radius, 0, 0, radius, 1, 1 + sweep])
        segments, curve, span = arc.flatten(error)
        wanted = math.ceil(abs(sweep) * math.sqrt(radius / (8 * error)))
        # eight of a whole turn in any case
        assert len(segments) == max(wanted, math.ceil(abs(sweep) * 4 / math.pi - 1e-9))
        assert curve.tolist() == [0] * len(segments)
        middles = (segments[:, :2] + segments[:, 2:]) / 2
        sagitta = radius - np.hypot(*(middles - [5, 6]).T)
        assert sagitta.max() <= error
        assert np.allclose(span[1:, 0], span[:-1, 1])
        assert (span[0, 0], span[-1, 1]) == (0, 1)
        ends = np.hypot(*(segments[:, :2] - arc.point(curve, span[:, 0])).T)
        assert ends.max() < 1e-12


@pytest.mark.parametrize("seed", range(4))
def test_chords_of_free_curves_are_as_near_as_asked(seed: int) -> None:
    rng = np.random.default_rng(seed)
    data = rng.uniform(0, 20, (2, 8))
    data[1, 6:] = 0, 5
    both = Curves(np.array([CUBIC, ARC], np.uint8), data)
    segments, curve, span = both.flatten(0.02)
    for share in (0.25, 0.5, 0.75):
        at = both.point(curve, span[:, 0] + share * (span[:, 1] - span[:, 0]))
        along = segments[:, 2:] - segments[:, :2]
        off = at - segments[:, :2]
        away = np.abs(along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0])
        assert (away / np.hypot(*along.T)).max() <= 0.02


def test_counts_of_chords_have_their_bounds() -> None:
    far = table(ARC, [0, 0, 1e9, 0, 0, 1e9, 0, 6])
    assert far.chord_counts(1e-3).tolist() == [4096]
    assert MIXED.chord_counts(1e9).tolist() == [1, math.ceil(3.4 * 4 / math.pi), 2]
    # a cubic of second derivative 6 (0, 1): h² 6 / 8 is 0.03 at h = 1/5
    bent = table(CUBIC, [0, 0, 1, 0, 2, 1, 3, 3])
    assert bent.chord_counts(0.03 * (1 + 1e-9)).tolist() == [5]


def test_lengths_are_those_of_closed_forms() -> None:
    # an ellipse's length is 4 a E(1 - b²/a²); a quarter of one with half-diameters
    # 5 and 3; the parabola y = x² from 0 to 1: √5 / 2 + asinh(2) / 4
    ellipse = table(ARC, [1, 2, 0, 5, -3, 0, 0, math.pi / 2])
    parabola = table(CUBIC, [0, 0, 1 / 3, 0, 2 / 3, 1 / 3, 1, 1])
    line = table(LINE, [1, 1, 4, 5])
    found = Curves.concatenate([ellipse, line, parabola]).lengths()
    expected = [5 * ellipe(1 - 9 / 25), 5, math.sqrt(5) / 2 + math.asinh(2) / 4]
    assert found == pytest.approx(expected, rel=1e-9)
