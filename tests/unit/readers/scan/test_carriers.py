"""Lines and circles through points, and where they cross, against outside solvers."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.optimize import least_squares

from fillwork.readers.scan.circles import (
    crossings,
    fit_circle,
    fit_line,
    misses,
    nearest_crossing,
    stray,
)


def arc(seed: int, span: float, noise: float, count: int = 40) -> np.ndarray:
    """Return points along an arc about (70, -30) of radius 25."""
    rng = np.random.default_rng(seed)
    angle = 0.7 + np.linspace(0, span, count)
    points = 25 * np.stack([np.cos(angle), np.sin(angle)], axis=1) + (70, -30)
    return points + rng.normal(0, noise, points.shape)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("weighted", [False, True])
def test_circles_have_the_least_squares_of_distances(seed, weighted) -> None:
    points = arc(seed, 2.5, 0.3)
    weight = np.random.default_rng(seed).uniform(0.2, 3, 40) if weighted else None
    found = fit_circle(points, weight)
    root = np.ones(40) if weight is None else np.sqrt(weight)

    def off(c: np.ndarray) -> np.ndarray:
        return root * (np.hypot(*(points - c[:2]).T) - c[2])

    best = least_squares(off, (70.0, -30.0, 25.0), xtol=1e-12, ftol=1e-12).x
    assert found == pytest.approx(best, abs=1e-4)
    rms = np.sqrt(np.mean((np.hypot(*(points - best[:2]).T) - best[2]) ** 2))
    assert stray(points, found) == pytest.approx(rms, rel=1e-6)


def test_exact_circles_come_out_and_lines_are_none() -> None:
    assert fit_circle(arc(1, 6.0, 0.0, 9)) == pytest.approx([70, -30, 25])
    assert fit_circle(arc(1, 0.8, 0.0, 3)) == pytest.approx([70, -30, 25])
    line = np.linspace(0, 1, 20)[:, None] * (30.0, 40.0)
    assert fit_circle(line) is None
    # nothing is fitted to an arc that is flat but for the last digits
    assert fit_circle(arc(1, 1e-6, 0.0)) is None


@pytest.mark.parametrize("angle", [0.0, 0.3, np.pi / 2, 2.5, -1.0])
@pytest.mark.parametrize("weighted", [False, True])
def test_lines_have_the_least_squares_of_distances(angle, weighted) -> None:
    rng = np.random.default_rng(int(10 * angle) % 97)
    way = np.array([np.cos(angle), np.sin(angle)])
    normal = np.array([-way[1], way[0]])
    along, across = rng.uniform(-30, 30, 50), rng.normal(0, 0.5, 50)
    points = (5, 9) + along[:, None] * way + across[:, None] * normal
    weight = rng.uniform(0.1, 4, 50) if weighted else np.ones(50)
    found = fit_line(points, weight if weighted else None)
    middle = np.average(points, axis=0, weights=weight)
    assert found[:2] == pytest.approx(middle)
    # the main axis of the points about their middle
    off = (points - middle) * np.sqrt(weight)[:, None]
    main = np.linalg.svd(off, full_matrices=False)[2][0]
    assert abs(found[2:] @ main) == pytest.approx(1.0)
    assert np.hypot(*found[2:]) == pytest.approx(1.0)


def test_misses_are_distances_with_a_sign_for_the_side() -> None:
    line = np.array([1.0, 2.0, 0.6, 0.8])
    points = np.random.default_rng(2).uniform(-9, 9, (30, 2))
    long = shapely.LineString([line[:2] - 99 * line[2:], line[:2] + 99 * line[2:]])
    found = misses(points, line)
    assert np.abs(found) == pytest.approx(
        shapely.distance(long, shapely.points(points))
    )
    # what lies to the left of its way, y up, is above 0
    assert misses(np.array([[1.0 - 0.8, 2.0 + 0.6]]), line) == pytest.approx([1.0])
    circle = np.array([1.0, 2.0, 5.0])
    assert misses(np.array([[1.0, 2.0], [9.0, 2.0], [1.0, 5.0]]), circle) == (
        pytest.approx([-5.0, 3.0, -2.0])
    )


def on(carrier: np.ndarray) -> shapely.Geometry:
    if len(carrier) == 3:
        return shapely.Point(carrier[:2]).buffer(carrier[2], quad_segs=128).exterior
    way = 200 * carrier[2:]
    return shapely.LineString([carrier[:2] - way, carrier[:2] + way])


def test_crossings_are_those_of_plane_geometry() -> None:
    rng = np.random.default_rng(8)
    carriers = []
    for k in range(10):
        at, angle = rng.uniform(-20, 20, 2), rng.uniform(0, np.pi)
        carriers.append(
            np.r_[at, np.cos(angle), np.sin(angle)]
            if k % 2
            else np.r_[at, rng.uniform(5, 20)]
        )
    counts = set()
    for one in carriers:
        for other in carriers:
            if one is other:
                continue
            true = shapely.get_coordinates(on(one).intersection(on(other)))
            found = np.array(crossings(one, other)).reshape(-1, 2)
            gap = on(one).distance(on(other))
            if len(true) == 0 and 0 < gap < 0.3:
                continue  # said to touch
            if len(true) == 2 and np.hypot(*(true[0] - true[1])) < 2:
                continue  # nearly
            counts.add(len(true))
            order = (np.lexsort(found.round(3).T), np.lexsort(true.round(3).T))
            assert found[order[0]] == pytest.approx(true[order[1]], abs=0.02)
            for q in found:
                for carrier in (one, other):
                    assert on(carrier).distance(shapely.Point(q)) < 2e-3
    assert counts == {0, 1, 2}


def test_what_just_misses_touches() -> None:
    circle = np.array([0.0, 0.0, 10.0])
    for gap, count in ((-0.01, 2), (0.05, 1), (0.2, 0)):
        level = np.array([3.0, 10.0 + gap, 1.0, 0.0])
        found = crossings(level, circle)
        assert len(found) == count
        if count == 1:
            assert found[0] == pytest.approx([0.0, 10.0 + gap])
    # circles by a hundredth of the smaller radius, here 0.04
    for gap, count in ((-0.01, 2), (0.03, 1), (0.06, 0)):
        assert len(crossings(circle, np.array([14.0 + gap, 0.0, 4.0]))) == count
    assert crossings(circle, circle) == []
    up, along = np.array([0.0, 0, 0, 1]), np.array([5.0, 0, 0, 1])
    assert crossings(up, along) == []
    level = np.array([0.0, 6.0, 1.0, 0.0])
    assert nearest_crossing(circle, level, np.array([9.0, 9.0])) == pytest.approx(
        [8, 6]
    )
    assert nearest_crossing(circle, level, np.array([-9.0, 9.0])) == pytest.approx(
        [-8, 6]
    )
    assert nearest_crossing(up, along, np.array([0.0, 0.0])) is None
