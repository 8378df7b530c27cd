"""Points that are one: crowds of them, as where many lines meet, and single ones."""

import numpy as np
import pytest

from fillwork.arrangement import vertices
from fillwork.arrangement.vertices import join_points
from fillwork.geometry.parts import components


def crowds(rng: np.random.Generator, within: float) -> np.ndarray:
    """Return three crowds of 300 points, each within a slack, and 200 points apart."""
    middles = np.array([[0.0, 0.0], [40.0, 3.0], [7.0, 25.0]])
    near = middles[:, None] + rng.uniform(-0.3, 0.3, (3, 300, 2)) * within
    row = np.stack([np.arange(200.0), np.full(200, -50.0)], axis=1)
    return np.concatenate([near.reshape(-1, 2), row])


@pytest.mark.parametrize("seed", range(3))
def test_a_crowd_is_one_point_as_all_its_pairs_say(seed: int) -> None:
    within = 0.01
    points = crowds(np.random.default_rng(seed), within)
    gap = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    expected = components(*np.nonzero(gap <= within), len(points))
    found = vertices._linked(points, within)
    assert (found == expected).all()
    assert len(np.unique(found)) == 3 + 200


def test_pairs_of_a_crowd_are_not_all_looked_at() -> None:
    points = crowds(np.random.default_rng(5), 0.01)
    assert vertices._near_pairs(points, 0.01, 64 * len(points)) is None
    lead = vertices._spokesmen(points, 0.01)
    assert len(np.unique(lead)) < 3 * 100 + 200
    assert (lead <= np.arange(len(points))).all()


def test_a_crowd_is_joined_at_one_place() -> None:
    points = crowds(np.random.default_rng(6), 0.01)
    vertex, place = join_points(points, 0.01)
    assert len(place) == 3 + 200
    assert np.abs(place[vertex] - points).max() <= 0.01
