"""Edges of a band beside its middle line, against closed formulas."""

import numpy as np
import pytest
import shapely

from fillwork.bands.rails import build_rails
from fillwork.geometry.curves import CUBIC, Curves


def test_rails_beside_a_bezier_that_is_an_arc_are_arcs_of_other_radii() -> None:
    # a cubic with legs of 4/3 tan(a/4) r is an arc of angle a within 1e-7 of r
    # (M. Goldapp, "Approximation of circular arcs by cubic polynomials", 1991)
    radius, angle = 50.0, np.radians(20.0)
    leg = 4 / 3 * np.tan(angle / 4) * radius
    end = radius * np.array([np.cos(angle), np.sin(angle)])
    back = leg * np.array([np.sin(angle), -np.cos(angle)])
    row = np.concatenate([[radius, 0.0], [radius, leg], end + back, end])
    rails = build_rails(Curves(np.array([CUBIC], np.uint8), row[None]), np.array([3.0]))
    along = np.linspace(0.0, 1.0, 41)
    for rail, apart in ((0, -3.0), (1, 3.0)):  # the middle lies on the left
        points = rails.point(np.full(41, rail), along)
        assert np.hypot(*points.T) == pytest.approx(radius + apart, abs=1e-4)
        assert points[[0, -1]] == pytest.approx(
            np.array([[radius, 0.0], end]) * (radius + apart) / radius, abs=1e-9
        )


def test_rails_beside_a_free_bezier_keep_their_distance() -> None:
    row = np.array([[0.0, 0.0, 10.0, 0.0, 20.0, 1.5, 30.0, 5.0]])
    middle = Curves(np.array([CUBIC], np.uint8), row)
    rails = build_rails(middle, np.array([2.0]))
    fine = np.linspace(-0.2, 1.2, 4001)  # beyond its ends too
    line = shapely.LineString(middle.point(np.zeros(4001, int), fine))
    along = np.linspace(0.0, 1.0, 21)
    for rail in (0, 1):
        points = shapely.points(rails.point(np.full(21, rail), along))
        assert shapely.distance(points, line) == pytest.approx(2.0, abs=2e-3)
    left, right = (rails.point(np.array([k]), np.array([0.5]))[0] for k in (0, 1))
    assert left[1] > right[1]
