"""Shifted copies of polygons, points near points, ranges: against counting by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.geometry.boxes import bounds
from fillwork.geometry.copies import shifted_copies
from fillwork.geometry.near import nearest_points, pairs_within
from fillwork.geometry.parts import components, gathered, part_numbers
from fillwork.geometry.ranges import distinct, distinct_pairs, expand_ranges, marked


@pytest.mark.parametrize("seed", range(3))
def test_copies_are_those_that_were_shifted(seed: int) -> None:
    rng = np.random.default_rng(seed)
    patterns = [rng.uniform(-5, 5, (n, 2)) for n in (3, 3, 4, 7, 7)]
    # none of them is a copy of its mirror image, nor of itself larger
    patterns += [patterns[3][::-1] * [-1, 1], patterns[3] * 1.01]
    whose = rng.integers(0, len(patterns), 60)
    rings = [
        np.roll(patterns[k], rng.integers(9), axis=0) + rng.uniform(-99, 99, 2)
        for k in whose
    ]
    step = np.vstack([np.roll(ring, -1, axis=0) - ring for ring in rings])
    first = np.r_[0, np.cumsum([len(ring) for ring in rings])]
    lead, like = shifted_copies(step, first)
    seen: dict[int, int] = {}
    for k in whose.tolist():
        seen.setdefault(k, len(seen))
    assert like.tolist() == [seen[k] for k in whose.tolist()]
    assert lead.tolist() == [whose.tolist().index(k) for k in seen]
    none, also = shifted_copies(np.zeros((0, 2)), np.array([0]))
    assert (len(none), len(also)) == (0, 0)


def test_pairs_and_nearest_points_are_those_of_all_distances() -> None:
    rng = np.random.default_rng(1)
    # whole numbers: many are equally far
    points, others = (rng.integers(0, 12, (n, 2)).astype(float) for n in (40, 50))
    away = np.hypot(*(points[:, None] - others[None]).transpose(2, 0, 1))
    for reach in (2.0, rng.integers(0, 4, 40).astype(float)):
        row, other = pairs_within(points, others, reach)
        i, j = np.nonzero(away <= np.reshape(reach, (-1, 1)))
        assert (row.tolist(), other.tolist()) == (i.tolist(), j.tolist())
    distance, nearest = nearest_points(points, others)
    assert distance == pytest.approx(away.min(axis=1))
    assert nearest.tolist() == away.argmin(axis=1).tolist()
    for a, b in ((points[:0], others), (points, others[:0])):
        assert [len(part) for part in pairs_within(a, b, 9.0)] == [0, 0]
    assert [len(part) for part in nearest_points(points[:0], others)] == [0, 0]


@pytest.mark.parametrize("seed", range(3))
def test_parts_are_those_that_a_walk_reaches(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n, links = 60, rng.integers(0, 60, (2, 45))
    reach = {k: {k} for k in range(n)}
    for a, b in links.T.tolist():
        joined = reach[a] | reach[b]
        for k in joined:
            reach[k] = joined
    least = [min(reach[k]) for k in range(n)]
    assert components(*links, n).tolist() == least
    number = {k: i for i, k in enumerate(sorted(set(least)))}
    assert part_numbers(*links, n).tolist() == [number[k] for k in least]
    places = rng.random((n, 2))
    means, root = gathered(places, *links)
    expected = [places[sorted(reach[k])].mean(axis=0) for k in range(n)]
    assert np.allclose(means, expected)
    assert root.tolist() == least


def test_numbers_that_differ_and_ranges() -> None:
    rng = np.random.default_rng(2)
    pairs = rng.integers(-5, 5, (80, 2))
    assert distinct(pairs[:, 0]).tolist() == sorted(set(pairs[:, 0].tolist()))
    expected = sorted(set(map(tuple, pairs.tolist())))
    assert list(map(tuple, distinct_pairs(pairs).tolist())) == expected
    assert distinct_pairs(np.zeros((0, 2), int)).shape == (0, 2)
    start, count = rng.integers(0, 9, 20), rng.integers(0, 4, 20)
    owner, member = expand_ranges(start, count)
    told = [
        (k, s + i)
        for k, (s, c) in enumerate(zip(start.tolist(), count.tolist(), strict=True))
        for i in range(c)
    ]
    assert list(zip(owner.tolist(), member.tolist(), strict=True)) == told
    assert marked([1, 3], 5).tolist() == [False, True, False, True, False]
    low, high = bounds(pairs.astype(float))
    assert low.tolist() == pairs.min(axis=0).tolist()
    assert high.tolist() == pairs.max(axis=0).tolist()
