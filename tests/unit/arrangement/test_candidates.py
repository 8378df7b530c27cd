"""Pairs of boxes that overlap, against all pairs one by one."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.candidates import overlapping_pairs


@pytest.mark.parametrize("sort", ["even", "lying", "standing"])
@pytest.mark.parametrize("some_apart", [False, True])
def test_each_pair_that_overlaps_is_given_once(sort: str, some_apart: bool) -> None:
    rng = np.random.default_rng(3)
    n = 1500
    size = rng.uniform(0, 3, (n, 2))
    if sort != "even":
        size = np.stack([rng.uniform(40, 90, n), rng.uniform(0, 0.1, n)], axis=1)
    size = size[:, ::-1] if sort == "standing" else size
    low = rng.uniform(0, 100, (n, 2))
    high = low + size
    apart = (rng.random(n) < 0.3) & some_apart
    found = [np.stack(p, axis=1) for p in overlapping_pairs(low, high, None, apart)]
    pairs = np.sort(np.concatenate(found), axis=1)
    meets = (low[:, None] <= high).all(axis=2) & (low <= high[:, None]).all(axis=2)
    meets &= ~(apart[:, None] & apart)
    expected = np.argwhere(np.triu(meets, 1))
    assert np.array_equal(pairs[np.lexsort(pairs.T[::-1])], expected)


def test_long_stripes_side_by_side_are_not_compared_each_with_all() -> None:
    # n stripes across a square, none of which overlaps another
    for n in (2000, 8000):
        low = np.stack([np.zeros(n), np.linspace(0, 100, n)], axis=1)
        high = low + np.array([100.0, 1e-4])
        told: list[int] = []
        assert not sum(len(a) for a, _ in overlapping_pairs(low, high, told.append))
        assert sum(told) < 20 * n
