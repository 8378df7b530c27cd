"""Better an assignment of many classes: whole sets that do not touch move at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.tones import NARROW, beyond_narrow
from fillwork.geometry.ranges import distinct, marked

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.colouring.search.improve import Fence
    from fillwork.colouring.search.taste import Taste


class _Sums:
    """Hold what the links of each class add up to, by the swatches at their ends.

    Where few ends have changed, the classes beside them are summed anew as a whole:
    in the same order, so that not a bit differs.
    """

    def __init__(
        self, pairs: AnyInts, weight: Floats, gain: Floats, start: Ints
    ) -> None:
        from scipy.sparse import csr_matrix

        both = np.concatenate([pairs, pairs[:, ::-1]])
        twice = np.concatenate([weight, weight])
        shape = (len(start), len(start))
        self._table = csr_matrix((twice, (both[:, 0], both[:, 1])), shape=shape)
        self._gain = gain
        self.of = np.asarray(self._table @ gain[start])  # (N, K)

    def follow(self, swatches: Ints, moved: Bools) -> None:
        """Sum anew beside the classes that moved."""
        beside = marked(self._table[np.flatnonzero(moved)].indices, len(moved))
        rows = np.flatnonzero(beside)
        if len(rows):
            self.of[rows] = self._table[rows] @ self._gain[swatches]


def _hue_change(taste: Taste, hues: Ints, x: Ints) -> Floats:
    """Return what it costs in hues when each class takes each swatch."""
    key = taste.zone * len(taste.hue) + x
    here = marked(key, len(hues) * len(taste.hue))
    asked = np.flatnonzero(here)
    zone, swatch = np.divmod(asked, len(taste.hue))
    rows, own = zone[:, None], taste.hue[swatch][:, None]
    wanted = taste.hue[None, :]
    step = (hues[rows, wanted] == 0).astype(np.int64) - (hues[rows, own] == 1)
    step[wanted == own] = 0
    now = (hues[:, :-1] > 0).sum(axis=1)[zone][:, None]
    change = taste.hues_cost[rows, now + step] - taste.hues_cost[rows, now]
    return np.asarray(change.take((np.cumsum(here) - 1)[key], axis=0), np.float64)


def _prices(taste: Taste, x: Ints) -> Floats:
    """Return what more area of each swatch costs, by how much it has already."""
    share = np.bincount(x, weights=taste.area, minlength=taste.cost.shape[1])
    tone = np.where(share > NARROW, np.dot(taste.tone, beyond_narrow(share)), 0.0)
    return np.asarray(2.0 * (taste.strength * (share - taste.target) + tone))


def sweep(
    taste: Taste,
    fence: Fence,
    start: Ints,
    steps: int,
    seed: int,
    tick: Callable[[], None],
) -> Ints:
    """Better an assignment of many classes by a price of area.

    What is given and returned: as of `improve`, the assignment alone.
    """
    rng = np.random.default_rng(seed)
    count, kinds = taste.cost.shape
    rows = np.arange(count)

    pulls = [_Sums(b.links, b.weight, b.gain, start) for b in taste.bonds]
    walls = [
        _Sums(links, np.ones(len(links)), (~ok).astype(float), start)
        for links, ok in fence.walls
        if len(links)
    ]
    closed = ~fence.allowed
    linked = [fence.links, fence.unlike, *(b.links for b in taste.bonds)]
    first, second = np.concatenate(linked).astype(np.int64).T
    pairs = np.divmod(distinct(first * count + second), count)
    x = start.copy()
    best, best_value = x.copy(), taste.measure(x)
    sweeps = max(3, min(steps, 2_000_000 // count))
    for turn in range(sweeps):
        tick()
        number = np.bincount(x, minlength=kinds)
        score = taste.cost + taste.area[:, None] * _prices(taste, x)
        for pull in pulls:
            score -= pull.of
        hue_change = _hue_change(taste, taste.count_hues(x), x)
        score -= np.where(number == 0, taste.used_gain, 0.0)
        shut = closed.copy()
        for wall in walls:
            shut |= wall.of > 0
        if fence.most is not None and int((number > 0).sum()) >= fence.most:
            shut |= number == 0
        shut[rows, x] = False
        score += hue_change
        score[shut] = np.inf
        want = np.argmin(score, axis=1)
        better = score[rows, want] < score[rows, x] - 1e-15
        # all at once would overshoot the prices; some at a time
        moving = better & (rng.random(count) < (0.5 if turn < sweeps // 2 else 0.2))
        rank: Floats = rng.random(size=(count,))
        a, b = pairs
        clash = np.flatnonzero(moving[a] & moving[b])
        a, b = a[clash], b[clash]
        moving[np.where(rank[a] < rank[b], a, b)] = False
        if fence.most is not None and moving.any():
            new = np.flatnonzero(moving & (number[want] == 0))
            moving[new[1:]] = False  # at most one swatch more at a time
        if not moving.any():
            if not better.any():
                break
            continue
        x[moving] = want[moving]
        for sums in (*pulls, *walls):
            sums.follow(x, moving)
        value = taste.measure(x)
        if value < best_value:
            best, best_value = x.copy(), value
    return best
