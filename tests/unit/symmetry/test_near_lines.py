"""Distances on a grid and to lines, beside scipy's and shapely's."""

import numpy as np
import pytest
import shapely
from scipy import ndimage

from fillwork.symmetry.grids import distance_inside
from fillwork.symmetry.lines.near_lines import SINE, LineIndex


@pytest.mark.parametrize("most", [0.5, 3.2, 40.0, 300.0])
@pytest.mark.parametrize("share", [0.3, 0.9, 0.999])
def test_distance_on_a_grid_is_scipys(most, share):
    rng = np.random.default_rng(3)
    inside = rng.random((70, 130)) < share
    inside[20, 30] = False
    wanted = np.minimum(ndimage.distance_transform_edt(inside), most)
    assert distance_inside(inside, most) == pytest.approx(wanted, rel=1e-6)


def test_distance_along_one_row_is_that_of_its_ends():
    # farther than numbers of 16 bits hold, by squares and by rows
    row = np.ones((1, 400), bool)
    row[0, 0] = False
    wanted = np.minimum(np.arange(400), 300)
    assert distance_inside(row, 300.0)[0].tolist() == wanted.tolist()
    assert distance_inside(row.T, 300.0)[:, 0].tolist() == wanted.tolist()
    tall = np.ones((40_000, 1), bool)
    tall[0] = False
    wanted = np.minimum(np.arange(40_000), 150)
    assert distance_inside(tall, 150.0)[:, 0].tolist() == wanted.tolist()
    tall = tall[::-1]
    assert distance_inside(tall, 150.0)[:, 0].tolist() == wanted[::-1].tolist()


def test_grid_without_an_outside_is_far_from_it():
    assert (distance_inside(np.ones((4, 9), bool), 2.5) == 2.5).all()
    assert (distance_inside(np.zeros((4, 9), bool), 2.5) == 0).all()


def test_nearest_line_of_like_direction_is_shapelys():
    rng = np.random.default_rng(4)
    start = rng.uniform(0, 50, (300, 2))
    segments = np.hstack([start, start + rng.normal(0, 6, (300, 2))])
    points = rng.uniform(-5, 55, (500, 2))
    angle = rng.uniform(0, 2 * np.pi, 500)
    ways = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    reach = 1.5
    distance, offset, normal = LineIndex(segments, reach).nearest(points, ways)
    step = segments[:, 2:] - segments[:, :2]
    step /= np.linalg.norm(step, axis=1)[:, None]
    sine = np.abs(ways[:, :1] * step[:, 1] - ways[:, 1:] * step[:, 0])
    far = shapely.distance(
        shapely.points(points)[:, None],
        shapely.linestrings(segments.reshape(-1, 2, 2)),
    )
    far[sine > SINE] = np.inf
    wanted = far.min(axis=1)
    wanted[wanted > reach] = np.inf
    assert distance == pytest.approx(wanted, rel=1e-9, abs=1e-9)
    found = np.isfinite(distance)
    assert 50 < found.sum() < 450
    near = step[far.argmin(axis=1)][found]
    turned = np.stack([-near[:, 1], near[:, 0]], axis=1)
    assert normal[found] == pytest.approx(turned)
    away = points[found] - segments[far.argmin(axis=1)[found], :2]
    assert offset[found] == pytest.approx((away * turned).sum(axis=1), abs=1e-9)


def test_the_lowest_and_leftmost_lines_are_found_wherever_they_lie():
    # they lie in the middle of a cell, whose corners are as far away as is looked for
    rng = np.random.default_rng(6)
    missed = 0
    for height, reach in rng.uniform([1, 0.1], [400, 2], (60, 2)):
        x = np.linspace(3.0, 60.0, 20)
        level = np.column_stack([x[:-1], 0 * x[1:], x[1:], 0 * x[1:]])
        frame = np.vstack([level, [[3, 0, 3, 40], [3, 40, 60, 40], [60, 40, 60, 0]]])
        frame = frame + np.full(4, height)
        on = np.array([[10.0, 0.0], [3.0, 17.0]]) + height
        ways = np.array([[1.0, 0.0], [0.0, 1.0]])
        distance = LineIndex(frame, reach).nearest(on, ways)[0]
        missed += int((distance > 1e-9).sum())
    assert missed == 0
