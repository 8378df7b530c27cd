"""How deep points lie in the faces of a pattern, whatever the faces' size."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.symmetry.kinds.pieces import depth_inside
from fillwork.symmetry.quotient import quotient_of


def of_a_ground(side: int) -> tuple[np.ndarray, int]:
    """Return how deep points of a square's edge lie in it, and distances asked."""
    lattice = SimpleNamespace(basis=np.eye(2))
    one = SimpleNamespace(map=(1.0, 0.0, 0.0, 1.0, 0.0, 0.0))
    quotient = quotient_of(SimpleNamespace(lattice=lattice, operations=[one]))
    along = np.linspace(0.03, 0.97, 24) * side + 0.017
    points = np.column_stack([np.zeros(24), along])
    asked = []
    measure = shapely.distance

    def counted(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        asked.append(len(a))
        return np.asarray(measure(a, b))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(shapely, "distance", counted)
        depth = depth_inside(
            points, np.array([shapely.box(0, 0, side, side)]), quotient
        )
    return depth, sum(asked)


@pytest.mark.parametrize("side", [5, 20, 40])
def test_images_lie_in_a_ground_as_deep_as_its_middle_depth(side: int) -> None:
    depth, _ = of_a_ground(side)
    # half of a square's area lies deeper than this from its boundary
    middle = side / 2 * (1 - np.sqrt(0.5))
    assert depth == pytest.approx(middle, abs=0.09 * side)


def test_a_ground_of_many_repeats_asks_no_more_than_one_of_some() -> None:
    some, many = (of_a_ground(side)[1] for side in (20, 40))
    assert many <= 1.2 * some
