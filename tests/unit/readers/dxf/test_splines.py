"""Splines with weights and any knots, against scipy; those through points, by bends."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.interpolate import BPoly, BSpline, CubicHermiteSpline

from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves
from fillwork.readers.dxf import splines
from fillwork.readers.dxf.splines import (
    MOST_DEGREE,
    bezier_curves,
    fit_curves,
    spline_curves,
)


def table(curves) -> Curves:
    kind = np.array([k for k, _ in curves], np.uint8)
    rows = np.zeros((len(curves), 8))
    for row, (_, numbers) in zip(rows, curves, strict=True):
        row[: len(numbers)] = numbers
    return Curves(kind, rows)


def off(curves, true: np.ndarray) -> float:
    """Return the largest distance of points from curves that are as long as they."""
    found = table(curves)
    chords, _, _ = found.flatten(1e-3)
    ours = shapely.multilinestrings(shapely.linestrings(chords.reshape(-1, 2, 2)))
    length = shapely.length(shapely.LineString(true))
    assert found.lengths().sum() == pytest.approx(length, rel=2e-3)
    return float(shapely.distance(ours, shapely.points(true)).max())


def projected(knots, points, weights, degree, t) -> np.ndarray:
    """Return points of a rational spline: the quotient of two plain ones."""
    over = BSpline(knots, points * weights[:, None], degree)(t)
    return over / BSpline(knots, weights, degree)(t)[:, None]


@pytest.mark.parametrize("degree", [1, 2, 3, 4, 7])
@pytest.mark.parametrize("clamped", [True, False])
def test_weighted_splines_are_quotients_of_plain_ones(degree, clamped) -> None:
    rng = np.random.default_rng(10 * degree + clamped)
    n = degree + 6
    points, weights = rng.uniform(0, 100, (n, 2)), rng.uniform(0.3, 3.0, n)
    knots = np.sort(rng.uniform(0, 10, n + degree + 1))
    if clamped:
        knots[: degree + 1], knots[-degree - 1 :] = knots[degree], knots[-degree - 1]
    if degree > 1:  # a corner, or nearly one
        knots[degree + 2] = knots[degree + 3]
    t = np.union1d(np.linspace(knots[degree], knots[n], 601), knots[degree : n + 1])
    t[-1] -= 1e-12
    true = projected(knots, points, weights, degree, t)
    curves = spline_curves(degree, knots, points, weights)
    assert off(curves, true) < 0.01
    # end to end, from the first value to the last
    found = table(curves)
    assert found.starts()[1:] == pytest.approx(found.ends()[:-1], abs=1e-6)
    assert found.starts()[0] == pytest.approx(true[0], abs=1e-6)
    assert found.ends()[-1] == pytest.approx(true[-1], abs=1e-6)
    # weights that are all alike weigh nothing
    plain = spline_curves(degree, knots, points, None)
    assert spline_curves(degree, knots, points, np.full(n, 2.5)) == plain
    kinds = {kind for kind, _ in plain}
    assert kinds == {LINE if degree == 1 else CUBIC}
    if degree <= 3:  # exactly, one curve a span
        assert len(plain) == len(np.unique(knots[degree : n + 1])) - 1


@pytest.mark.parametrize(
    ("weight", "kind"),
    [(0.2, ARC), (0.5, ARC), (0.99, ARC), (1.0, CUBIC), (3.0, CUBIC)],
)
def test_conics_are_ellipses_below_one_and_none_beyond(weight, kind) -> None:
    # the middle of the curve stands at w / (1 + w) of the way from the chord's to the
    # corner (Piegl and Tiller, The NURBS Book, 2nd edition, section 7.3)
    corner = np.array([[0.0, 0.0], [10.0, 20.0], [30.0, 0.0]])
    knots = np.array([0.0, 0, 0, 1, 1, 1])
    curves = spline_curves(2, knots, corner, np.array([1.0, weight, 1.0]))
    assert {k for k, _ in curves} == {kind}
    middle = (corner[0] + corner[2]) / 2
    shoulder = middle + weight / (1 + weight) * (corner[1] - middle)
    t = np.linspace(0, 1 - 1e-12, 601)
    true = projected(knots, corner, np.array([1.0, weight, 1.0]), 2, t)
    assert true[300] == pytest.approx(shoulder)
    assert off(curves, true) < 0.005
    # outer weights scale the middle one
    scaled = np.array([4.0, 2 * weight * 3.0, 9.0])
    again = spline_curves(2, knots, corner, scaled)
    assert {k for k, _ in again} == {kind}
    assert off(again, true) < 0.005


@pytest.mark.parametrize(
    ("degree", "knots", "points", "weights"),
    [
        (0, 3, 2, None), (MOST_DEGREE + 1, 40, 23, None), (3, 8, 3, None),
        (3, 9, 4, None), (3, 7, 4, None), (2, 6, 3, [1.0, 0.0, 1.0]),
        (2, 6, 3, [1.0, -1.0, 1.0]), (2, 6, 3, [1.0, np.nan, 1.0]),
        (2, 6, 3, [1.0, 1.0]),
    ],
)  # fmt: skip
def test_numbers_that_make_no_spline_are_refused(
    degree, knots, points, weights
) -> None:
    given = None if weights is None else np.array(weights)
    with pytest.raises(ValueError, match="a spline"):
        spline_curves(degree, np.arange(knots * 1.0), np.eye(points, 2) * 5, given)


def test_knots_that_fall_or_are_none_are_refused() -> None:
    points = np.array([[0.0, 0.0], [1.0, 1.0], [2.0, 0.0], [3.0, 1.0]])
    assert spline_curves(1, np.array([0.0, 0, 1, 1, 2, 2]), points, None)
    for knots in ([0.0, 0, 2, 1, 3, 3], [0.0, 0, np.inf, 1, 2, 2]):
        with pytest.raises(ValueError, match="a spline"):
            spline_curves(1, np.array(knots), points, None)
    highest = MOST_DEGREE
    knots = np.r_[np.zeros(highest + 1), np.ones(highest + 1)]
    line = np.linspace(0, 1, highest + 1)[:, None] * [30.0, 40.0]
    assert off(spline_curves(highest, knots, line, None), line) < 1e-9


def bends(curves) -> tuple[np.ndarray, np.ndarray]:
    """Return slopes and bends at both ends of each cubic, over its length of way."""
    rows = table(curves).data.reshape(-1, 4, 2)
    h = np.hypot(*(rows[:, 3] - rows[:, 0]).T)[:, None]
    slopes = np.stack([rows[:, 1] - rows[:, 0], rows[:, 3] - rows[:, 2]], axis=1)
    first = rows[:, 0] - 2 * rows[:, 1] + rows[:, 2]
    last = rows[:, 1] - 2 * rows[:, 2] + rows[:, 3]
    return 3 * slopes / h[:, None], 6 * np.stack([first, last], axis=1) / h[
        :, None
    ] ** 2


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("count", [3, 4, 9])
def test_a_spline_through_points_bends_evenly(closed, count) -> None:
    points = np.random.default_rng(count).uniform(0, 50, (count, 2))
    curves = fit_curves(np.repeat(points, 2, axis=0), closed, None, None)
    assert len(curves) == count - 1 + closed
    found = table(curves)
    assert found.starts() == pytest.approx(points[: len(curves)])
    slope, bend = bends(curves)
    assert slope[1:, 0] == pytest.approx(slope[:-1, 1])
    assert bend[1:, 0] == pytest.approx(bend[:-1, 1])
    if closed:
        assert found.ends()[-1] == pytest.approx(points[0])
        assert slope[0, 0] == pytest.approx(slope[-1, 1])
        assert bend[0, 0] == pytest.approx(bend[-1, 1])
    else:
        assert bend[0, 0] == pytest.approx(0.0, abs=1e-9)
        assert bend[-1, 1] == pytest.approx(0.0, abs=1e-9)


def test_directions_at_the_ends_are_kept() -> None:
    points = np.array([[0.0, 0.0], [10.0, 5.0], [20.0, 0.0]])
    slope, bend = bends(fit_curves(points, False, (3.0, 4.0), (0.0, -9.0)))
    # of length 1 by length of way
    assert slope[0, 0] == pytest.approx([0.6, 0.8])
    assert slope[-1, 1] == pytest.approx([0.0, -1.0])
    slope, bend = bends(fit_curves(points, False, (0.0, 0.0), None))
    assert bend[0, 0] == pytest.approx(0.0, abs=1e-9)
    assert fit_curves(points[:1], False, None, None) == []
    assert fit_curves(points[[0, 0]], True, None, None) == []
    (straight,) = fit_curves(points[:2], False, None, None)
    thirds = [0, 0, 10 / 3, 5 / 3, 20 / 3, 10 / 3, 10, 5]
    assert straight[1] == pytest.approx(thirds)


def raised(points: np.ndarray) -> np.ndarray:
    """Return the same Bézier curve with a degree more (Farin 2002, equation 6.1)."""
    n = len(points)
    share = (np.arange(n + 1) / n)[:, None]
    before, after = np.pad(points, ((1, 0), (0, 0))), np.pad(points, ((0, 1), (0, 0)))
    return share * before + (1 - share) * after


@pytest.mark.parametrize("more", [1, 2, 5])
def test_a_cubic_of_a_higher_degree_is_one_cubic(more) -> None:
    cubic = np.array([[0.0, 0], [10, 40], [60, -30], [80, 10]])
    points = cubic
    for _ in range(more):
        points = raised(points)
    degree = 3 + more
    knots = np.repeat([0.0, 1.0], degree + 1)
    ((kind, row),) = spline_curves(degree, knots, points, None)
    assert kind == CUBIC
    assert row == pytest.approx(cubic.ravel())


def hermite(bernstein: BPoly, n: int) -> float:
    """Return how far n cubics with the same ends and slopes miss a curve."""
    t = np.linspace(0, 1, n + 1)
    cubics = CubicHermiteSpline(t, bernstein(t), bernstein.derivative()(t))
    dense = np.linspace(0, 1, 64 * n + 1)
    return float(np.hypot(*(cubics(dense) - bernstein(dense)).T).max())


@pytest.mark.parametrize("error", [3.0, 0.1, 1e-3, 1e-5])
@pytest.mark.parametrize("degree", [4, 6])
def test_no_more_cubics_than_the_distance_asks_for(degree, error) -> None:
    points = np.random.default_rng(degree).uniform(0, 100, (degree + 1, 2))
    span = np.column_stack([points, np.ones(degree + 1)])
    n = len(bezier_curves(span, False, error))
    bernstein = BPoly(points[:, None], [0.0, 1.0])
    # looked at in three places of each, which may miss the worst by a little
    assert hermite(bernstein, n) < 1.3 * error
    assert n == 1 or hermite(bernstein, n // 2) > error


@pytest.mark.parametrize(("most", "count"), [(1, 1), (2, 2), (3, 4), (64, 64)])
def test_cubics_are_doubled_up_to_a_number(most, count) -> None:
    points = np.random.default_rng(3).uniform(0, 100, (8, 2))
    span = np.column_stack([points, np.ones(8)])
    assert len(bezier_curves(span, False, 0.0, most)) == count


@pytest.mark.parametrize(
    ("curves", "each"), [(40, 8), (31, 8), (10, 2), (9, 1), (10**6, 512)]
)
def test_all_spans_of_a_spline_share_its_cubics(curves, each, monkeypatch) -> None:
    # five spans that no number of cubics meets: none has twice its share, nor 512
    monkeypatch.setattr(splines, "_MOST_CURVES", curves)
    monkeypatch.setattr(splines, "_MISS", 0.0)
    points = np.random.default_rng(5).uniform(0, 100, (9, 2))
    found = spline_curves(4, np.arange(14.0), points, None)
    assert len(found) == 5 * each


@pytest.mark.parametrize(("spans", "refused"), [(5, False), (4, True)])
def test_splines_have_so_many_spans(spans, refused, monkeypatch) -> None:
    monkeypatch.setattr(splines, "_MOST_SPANS", spans)
    points = np.random.default_rng(5).uniform(0, 100, (9, 2))
    if refused:
        with pytest.raises(ValueError, match="a spline of 5 spans"):
            spline_curves(4, np.arange(14.0), points, None)
    else:
        assert spline_curves(4, np.arange(14.0), points, None)
