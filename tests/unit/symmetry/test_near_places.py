import numpy as np
import pytest

from fillwork.symmetry.faces.places import Marks, Matcher
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.quotient import quotient_of

PLANE = quotient_of(Symmetry(NO_GROUP))


def marks_at(
    xy: np.ndarray, reach: np.ndarray, size: np.ndarray | float = 1.0
) -> Marks:
    """Return faces at places that differ in nothing but reach and size."""
    size = np.broadcast_to(size, len(xy)).astype(np.float64)
    return Marks(xy, size, size, reach, 0.28 * size, 0.1 * size + 1e9)


def by_all_pairs(asked: Marks, references: Marks) -> np.ndarray:
    """Return what lies on what, every pair looked at."""
    apart = np.linalg.norm(asked.xy[:, None] - references.xy[None], axis=2)
    gap = apart / np.minimum(asked.reach[:, None], references.reach[None])
    slack = np.minimum(asked.size_slack[:, None], references.size_slack[None])
    size = np.abs(asked.size[:, None] - references.size[None]) / slack
    score = np.where((gap <= 1) & (size <= 1), gap**2 + size**2, np.inf)
    return np.where(np.isfinite(score.min(axis=1)), score.argmin(axis=1), -1)


@pytest.mark.parametrize("far", [0.0, -3e6])
def test_the_nearest_of_the_references_within_both_reaches_is_found(far):
    rng = np.random.default_rng(8)
    references = marks_at(far + rng.uniform(0, 50, (300, 2)), rng.uniform(0.2, 3, 300))
    asked = marks_at(far + rng.uniform(-5, 55, (200, 2)), rng.uniform(0.2, 3, 200))
    wanted = by_all_pairs(asked, references)
    assert 20 < (wanted >= 0).sum() < 180
    assert np.array_equal(Matcher(references, PLANE).match(asked), wanted)


def test_large_and_small_faces_find_the_like_among_each_other():
    rng = np.random.default_rng(9)
    sizes = 10.0 ** rng.uniform(-3, 3, (2, 3000))
    references, asked = (
        marks_at(rng.uniform(0, 3, (3000, 2)), 0.3 * size, size) for size in sizes
    )
    wanted = by_all_pairs(asked, references)
    assert 300 < (wanted >= 0).sum() < 2700
    assert np.array_equal(Matcher(references, PLANE).match(asked), wanted)


def test_shifts_by_whole_steps_carry_a_grid_onto_itself():
    grid = np.stack(np.mgrid[:8, :8], axis=-1).reshape(-1, 2) * 10.0
    marks = marks_at(grid, np.full(64, 2.0))
    moved = marks.moved(np.eye(2), np.array([10.0, 0.5]))
    # the next column; the last one has none
    wanted = [*range(8, 64), *[-1] * 8]
    assert Matcher(marks, PLANE).match(moved).tolist() == wanted


def test_one_place_and_places_at_one_spot_are_found():
    for count in (1, 3):
        marks = marks_at(np.full((count, 2), 7.0), np.full(count, 0.5))
        moved = marks.moved(np.eye(2), np.array([0.4, 0.0]))
        assert Matcher(marks, PLANE).match(moved).tolist() == [0] * count
        moved = marks.moved(np.eye(2), np.array([0.6, 0.0]))
        assert Matcher(marks, PLANE).match(moved).tolist() == [-1] * count
