"""Sides of polygons."""

from __future__ import annotations

import numpy as np
import shapely

from fillwork.geometry.polygons import sides_of_each


def test_sides_of_many_polygons_are_those_that_they_were_made_of() -> None:
    square = [(0, 0), (9, 0), (9, 9), (0, 9)]
    hole = [(2, 2), (2, 4), (5, 3)]
    triangle = [(20, 0), (23, 0), (20, 4)]
    shapes = np.array([shapely.Polygon(square, [hole]), shapely.Polygon(triangle)])
    sides, limits = sides_of_each(shapes)
    assert limits.tolist() == [0, 7, 10]
    expected = [
        (*a, *b)
        for ring in (square, hole, triangle)
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
    ]
    assert sides.tolist() == [list(map(float, side)) for side in expected]
