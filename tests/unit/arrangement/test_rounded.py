"""Drawings whose numbers were rounded when they were written."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework


def _circles(digits: int) -> bytes:
    """Circles of 20 mm on a triangular grid, each through its neighbours' centres.

    Some touch the page's edge, two touch each other at a point, and six cross in
    one; rounding parts them all a little.
    """
    body = "".join(
        f'<circle cx="{20 * i + 10 * (j % 2):.{digits}f}" '
        f'cy="{20 * j * math.sqrt(3) / 2:.{digits}f}" r="20"/>'
        for i in range(-1, 12)
        for j in range(-1, 14)
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        f'viewBox="0 0 200 200"><g fill="none" stroke="#000">{body}</g></svg>'
    ).encode()


@pytest.mark.parametrize("digits", [1, 2, 3])
def test_rounding_changes_no_region_of_a_grid_of_circles(digits: int) -> None:
    rounded = build_arrangement(read_linework(_circles(digits), name="rounded"))
    exact = build_arrangement(read_linework(_circles(9), name="exact"))
    assert rounded.face_count == exact.face_count
    # the circles cover the page; where rounding parts lines, corners move a little
    assert rounded.area.sum() == pytest.approx(200 * 200, rel=1e-3)


@pytest.mark.parametrize("digits", [1, 2, 3])
@pytest.mark.parametrize("seed", range(6))
def test_a_flower_of_seven_circles_has_its_24_regions(digits: int, seed: int) -> None:
    # six circles through the middle of a seventh: opposite ones touch there, and
    # where rounding lets them overlap by a hair they cross twice, far apart.
    # By counting: in each of six sectors a petal, two parts beside it and one beyond
    rng = np.random.default_rng(seed)
    radius = rng.uniform(25.0, 45.0)
    x, y = rng.uniform(95.0, 105.0, 2)
    turns = np.arange(6) * math.pi / 3
    centres = [(x, y), *zip(x + radius * np.cos(turns), y + radius * np.sin(turns),
                            strict=True)]  # fmt: skip
    body = "".join(
        f'<circle cx="{a:.{digits}f}" cy="{b:.{digits}f}" r="{radius:.{digits}f}"/>'
        for a, b in centres
    )
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        f'viewBox="0 0 200 200"><g fill="none" stroke="#000">{body}</g></svg>'
    ).encode()
    arrangement = build_arrangement(read_linework(drawing, name="flower"))
    assert arrangement.face_count - 1 == 24


def test_regions_between_two_arcs_are_polygons_too() -> None:
    # two arcs between the same two points: no third vertex; the lens of two unit
    # circles one apart has 2 pi / 3 - sqrt(3) / 2 of area
    drawing = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" '
        b'viewBox="0 0 40 40"><g fill="none" stroke="#000">'
        b'<path d="M20 2.67949A20 20 0 0 1 20 37.32051"/>'
        b'<path d="M20 2.67949A20 20 0 0 0 20 37.32051"/></g></svg>'
    )
    arrangement = build_arrangement(read_linework(drawing, name="lens"))
    (polygon,) = arrangement.polygons()
    assert arrangement.area[1] == pytest.approx(
        400 * (2 * math.pi / 3 - math.sqrt(3) / 2), rel=1e-6
    )
    assert polygon.is_valid
    assert polygon.area == pytest.approx(arrangement.area[1], rel=0.1)


def test_regions_whose_chords_cross_are_laid_over_others() -> None:
    # a square of 10 mm with two corners exchanged, as lines that are joined bend a
    # hair: a bow of two triangles of 25 mm² each, half of it left of x = 15
    drawing = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" '
        b'viewBox="0 0 40 40"><path d="M10 10h10v10h-10z" fill="none" '
        b'stroke="#000"/></svg>'
    )
    square = build_arrangement(read_linework(drawing, name="square"))
    points = square.vertices.copy()
    top = np.flatnonzero(points[:, 1] == points[:, 1].max())
    points[top] = points[top[::-1]]
    bow = replace(square, vertices=points)
    assert not shapely.is_valid(bow.polygons()).any()
    left = shapely.box(0, 0, 15, 40)
    over = shapely.intersection(bow.polygons(valid=True), left)
    assert shapely.area(over).sum() == pytest.approx(25.0)
