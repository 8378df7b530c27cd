import numpy as np
import pytest

from fillwork.symmetry.faces import places
from fillwork.symmetry.faces.places import Marks, Matcher
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.quotient import quotient_of


def marks_at(xy: np.ndarray, reach: np.ndarray) -> Marks:
    """Return faces at places that differ in nothing else."""
    one = np.ones(len(xy))
    return Marks(xy, one, one, reach, 0.1 * one, 0.1 * one)


@pytest.mark.parametrize("in_strips", [0, 10_000])
def test_the_nearest_of_the_references_within_both_reaches_is_found(
    in_strips, monkeypatch
):
    """Judged by all pairs, with few in the strip about a place and with many."""
    monkeypatch.setattr(places, "_IN_STRIPS", in_strips)
    rng = np.random.default_rng(8)
    references = marks_at(rng.uniform(0, 50, (300, 2)), rng.uniform(0.2, 3, 300))
    asked = marks_at(rng.uniform(-5, 55, (200, 2)), rng.uniform(0.2, 3, 200))
    apart = np.linalg.norm(asked.xy[:, None] - references.xy[None], axis=2)
    share = apart / np.minimum(asked.reach[:, None], references.reach[None])
    wanted = np.where(share.min(axis=1) <= 1, share.argmin(axis=1), -1)
    found = Matcher(references, quotient_of(Symmetry(NO_GROUP))).match(asked)
    assert 20 < (wanted >= 0).sum() < 180
    assert np.array_equal(found, wanted)


def test_few_references_need_no_tree(monkeypatch):
    made = []
    monkeypatch.setattr(places.shapely, "STRtree", made.append)
    grid = np.stack(np.mgrid[:8, :8], axis=-1).reshape(-1, 2) * 10.0
    marks = marks_at(grid, np.full(64, 2.0))
    moved = marks.moved(np.eye(2), np.array([10.0, 0.5]))
    found = Matcher(marks, quotient_of(Symmetry(NO_GROUP))).match(moved)
    # the next column; the last one has none
    assert found.tolist() == [*range(8, 64), *[-1] * 8]
    assert made == []
