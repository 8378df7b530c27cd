"""Pairs of boxes that overlap, against all pairs one by one."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement import meetings
from fillwork.arrangement.build import build_arrangement
from fillwork.arrangement.candidates import overlapping_pairs, turn_of_crowd
from fillwork.readers import read_linework


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


@pytest.mark.parametrize("degrees", [0, 31, 45, 107])
def test_a_slanting_bundle_of_hairlines_is_laid_level(degrees, tmp_path, monkeypatch):
    # lines from one side of a narrow strip to the other: two cross where their ends
    # come in another order, so the strip is parted into X - n + 1 regions
    n, rng = 300, np.random.default_rng(degrees)
    start, stop = (rng.permutation(n) + rng.uniform(-0.3, 0.3, n) for _ in "ab")
    sides = (-1, start), (1, stop)
    turns = np.triu(np.sign(start[:, None] - start) != np.sign(stop[:, None] - stop), 1)
    angle = np.deg2rad(degrees)
    along = np.array([np.cos(angle), np.sin(angle)])
    across = along[::-1] * (-1, 1) / 150
    ends = [side * 90 * along + v[:, None] * across for side, v in sides]
    lines = "".join(
        f'<line x1="{a:.9f}" y1="{b:.9f}" x2="{c:.9f}" y2="{d:.9f}"/>'
        for a, b, c, d in np.hstack(ends)
    )
    path = tmp_path / "bundle.svg"
    size = 'width="200mm" height="200mm" viewBox="-100 -100 200 200"'
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} fill="none" stroke="#000"'
        f' stroke-width="1e-7">{lines}</svg>'
    )
    told: list[int] = []
    of_boxes = meetings.overlapping_pairs

    def counted(low, high, check, apart):
        return of_boxes(low, high, told.append, apart)

    monkeypatch.setattr(meetings, "overlapping_pairs", counted)
    drawing = read_linework(path)
    found = build_arrangement(drawing, close_gaps=0.0, join_within=1e-9)
    assert found.face_count - 1 == int(turns.sum()) - n + 1
    # each of 44,850 pairs of lines some dozens of times over, not thousands
    assert sum(told) < 30 * n * (n - 1)


def test_boxes_without_any_width_are_told_too() -> None:
    # level lines above each other, none of which meets another, and the first again
    low = np.stack([np.zeros(50), np.arange(50) * 1e6], axis=1)
    low[49, 1] = 0.0
    found = list(overlapping_pairs(low, low + np.array([6.7e7, 0.0])))
    pairs = np.concatenate([np.stack(p, axis=1) for p in found])
    assert np.sort(pairs).tolist() == [[0, 49]]


def test_lines_of_all_directions_are_not_turned() -> None:
    rng = np.random.default_rng(8)
    assert turn_of_crowd(rng.uniform(0, 100, (400, 4))) is None
    assert turn_of_crowd(np.empty((0, 4))) is None
