"""Better a sound assignment step by step without losing what is sure.

The start keeps every link at its threshold; so does every step. Up to some
hundreds of classes each step weighs all moves (one class takes another swatch,
or two classes change swatches) and takes the best that is not forbidden for
having been undone lately (tabu search). For more classes whole sets that do not
touch move at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.colouring.search.solve import no_tick

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from fillwork.colouring.search.taste import Taste

__all__ = ["Fence", "improve"]

_WHOLE = 400  # classes up to which all moves are weighed at each step
_SWAPS = 160  # classes up to which all exchanges are weighed too
_FEWEST = 4  # swatches of which none is left out: a ground, two main, an accent
_AT_ONCE = 20_000  # classes of assignments that are measured in one go


@dataclass(frozen=True, slots=True, eq=False)
class Fence:
    """State what no step may break.

    Parameters
    ----------
    allowed : ndarray of bool, shape (N, K)
        Swatches open to each class.
    links, unlike : ndarray of int, shape (E, 2)
        Contrast links and unlike links.
    link_ok, unlike_ok : ndarray of bool, shape (K, K)
        Swatches that may stand at them.
    most : int or None
        Largest number of different swatches.
    """

    allowed: NDArray[np.bool_]
    links: NDArray[np.integer]
    unlike: NDArray[np.integer]
    link_ok: NDArray[np.bool_]
    unlike_ok: NDArray[np.bool_]
    most: int | None

    def holds(self, swatches: NDArray[np.integer]) -> bool:
        """Say whether an assignment keeps everything.

        Parameters
        ----------
        swatches : ndarray of int, shape (N,)
            Swatch of each class.

        Returns
        -------
        bool
            True when nothing is broken.
        """
        a, b = swatches[self.links].T
        c, d = swatches[self.unlike].T
        few = self.most is None or len(np.unique(swatches)) <= self.most
        return bool(
            few
            and self.allowed[np.arange(len(swatches)), swatches].all()
            and self.link_ok[a, b].all()
            and self.unlike_ok[c, d].all()
        )


def improve(
    taste: Taste,
    fence: Fence,
    start: NDArray[np.integer],
    *,
    steps: int = 200,
    seed: int = 0,
    tick: Callable[[], None] = no_tick,
) -> tuple[NDArray[np.int64], float]:
    """Better an assignment.

    Parameters
    ----------
    taste : Taste
        What is preferred.
    fence : Fence
        What must be kept; `start` keeps it.
    start : ndarray of int, shape (N,)
        Where to begin.
    steps : int
        Steps (sweeps for many classes).
    seed : int
        For choices among equals.
    tick : callable
        Called at every step; what it raises ends the work.

    Returns
    -------
    swatches : ndarray of int64, shape (N,)
        The best assignment met.
    cost : float
        Its cost by `taste`.
    """
    begin: NDArray[np.int64] = np.array(start, np.int64)
    if len(begin) == 0:
        return begin, 0.0
    begin = _exchange_swatches(taste, fence, begin)
    if len(begin) <= _WHOLE:
        best = _tabu(taste, fence, begin, steps, seed, tick)
        fewer = _with_fewer(taste, fence, best)
        if fewer is not best:
            best = _tabu(taste, fence, fewer, steps, seed, tick)
    else:
        best = _sweep(taste, fence, begin, steps, seed, tick)
    best = _exchange_swatches(taste, fence, best)
    return best, taste.measure(best)


def _exchange_swatches(
    taste: Taste, fence: Fence, x: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Exchange two swatches everywhere while that betters the assignment."""
    kinds = len(taste.target)
    if len(x) * kinds > 60_000:
        return x
    p, q = np.triu_indices(kinds, 1)
    tables = np.tile(np.arange(kinds), (len(p), 1))  # what each exchange makes of all
    tables[np.arange(len(p)), p], tables[np.arange(len(p)), q] = q, p
    value = taste.measure(x)
    at, since = 0, 0  # the next exchange, and those in vain since the last good one
    while since < len(p):
        last = min(len(p), at + max(1, _AT_ONCE // len(x)))
        costs = taste.measure_all(tables[at:last][:, x])
        for k in np.flatnonzero(costs < value - 1e-12):
            y = tables[at + k][x]
            if fence.holds(y):
                x, value = y, float(costs[k])
                at, since = at + int(k) + 1, 0
                break
        else:
            at, since = last, since + last - at
        at %= len(p)
    return x


def _with_fewer(taste: Taste, fence: Fence, x: NDArray[np.int64]) -> NDArray[np.int64]:
    """Leave out swatches that are missed little, where each one more costs.

    No single move leaves out what many classes bear.
    """
    if (taste.used_gain >= 0.0).all():
        return x
    value = taste.measure(x)
    share = np.bincount(x, taste.area, len(taste.target))
    for swatch in np.argsort(share, kind="stable").tolist():
        if len(np.unique(x)) <= _FEWEST:
            break
        without = _without(taste, fence, x, swatch) if share[swatch] > 0.0 else None
        if without is not None and (cost := taste.measure(without)) < value:
            x, value = without, cost
    return x


def _without(
    taste: Taste, fence: Fence, x: NDArray[np.int64], swatch: int
) -> NDArray[np.int64] | None:
    """Return an assignment without one swatch, or None where a class needs it."""
    x = x.copy()
    pending = x == swatch
    used = np.bincount(x, minlength=len(taste.target)) > 0
    used[swatch] = False
    score = taste.cost.copy()
    walls = [(fence.links, fence.link_ok), (fence.unlike, fence.unlike_ok)]
    for j in np.flatnonzero(pending)[np.argsort(-taste.area[pending])].tolist():
        shut = ~(fence.allowed[j] & used)
        for links, allowed in walls:
            beside = _others(links, j)
            shut |= ~allowed[:, x[beside[~pending[beside]]]].all(axis=1)
        if shut.all():
            return None
        for bond in taste.bonds:
            rows = np.flatnonzero((bond.links == j).any(axis=1))
            ends = bond.links[rows].sum(axis=1) - j
            settled = ~pending[ends]
            gain = bond.gain[:, x[ends[settled]]]
            score[j] -= gain @ bond.weight[rows[settled]]
        x[j] = int(np.argmin(np.where(shut, np.inf, score[j])))
        pending[j] = False
    return x


def _others(links: NDArray[np.integer], j: int) -> NDArray[np.int64]:
    """Return what is linked with one class."""
    own = links[(links == j).any(axis=1)]
    return np.asarray(own.sum(axis=1) - j, np.int64)


def _dense(
    count: int, pairs: NDArray[np.integer], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    table = np.zeros((count, count))
    if len(pairs):
        np.add.at(table, (pairs[:, 0], pairs[:, 1]), values)
        np.add.at(table, (pairs[:, 1], pairs[:, 0]), values)
    return table


def _tabu(
    taste: Taste,
    fence: Fence,
    start: NDArray[np.int64],
    steps: int,
    seed: int,
    tick: Callable[[], None],
) -> NDArray[np.int64]:
    rng = np.random.default_rng(seed)
    count, kinds = taste.cost.shape
    rows = np.arange(count)
    pulls = [(_dense(count, b.links, b.weight), b.gain) for b in taste.bonds]
    near = _dense(count, fence.links, np.ones(len(fence.links)))
    apart = _dense(count, fence.unlike, np.ones(len(fence.unlike)))
    bad, bad_apart = (~fence.link_ok).astype(float), (~fence.unlike_ok).astype(float)
    x = start.copy()
    # (N, K): what class i in swatch s gains at its bonds
    reward = sum((weight @ gain[x] for weight, gain in pulls), np.zeros((count, kinds)))
    hues = taste.count_hues(x)
    broken = near @ bad[x] + apart @ bad_apart[x]
    share = np.asarray(np.bincount(x, taste.area, kinds), np.float64)
    number = np.bincount(x, minlength=kinds)
    area = taste.area[:, None]
    until = np.zeros((count, kinds), np.int64)
    value = taste.measure(x)
    best, best_value = x.copy(), value
    base = (taste.strength * (share - taste.target) ** 2).copy()
    idle = 0
    for step in range(steps):
        tick()
        # single moves
        rise = taste.strength * ((share + area - taste.target) ** 2) - base
        fall = taste.strength * ((share - area - taste.target) ** 2) - base
        own = -reward[rows, x] + taste.cost[rows, x]
        delta = taste.cost - reward - own[:, None]
        delta += rise + fall[rows, x][:, None]
        delta -= np.where(number == 0, taste.used_gain, 0.0)
        delta += np.where(number[x] == 1, taste.used_gain[x], 0.0)[:, None]
        hue_change = _hue_change(taste, hues, x)
        delta += hue_change
        shut = ~fence.allowed | (broken > 0)
        if fence.most is not None and int((number > 0).sum()) >= fence.most:
            shut = shut | ((number == 0) & (number[x] > 1)[:, None])
        delta[shut] = np.inf
        delta[rows, x] = np.inf
        held = (until > step) & (value + delta >= best_value - 1e-12)
        delta[held] = np.inf
        at = int(np.argmin(delta))
        i, s = divmod(at, kinds)
        least = float(delta[i, s])
        j = -1
        if count <= _SWAPS:
            swap = _swaps(
                taste,
                fence,
                x,
                reward,
                broken,
                share,
                pulls,
                hue_change,
                near,
                apart,
                bad,
                bad_apart,
            )
            late = (until[rows[:, None], x[None, :]] > step) | (
                until[rows[None, :], x[:, None]] > step
            )
            swap[late & (value + swap >= best_value - 1e-12)] = np.inf
            best_swap = int(np.argmin(swap))
            a, b = divmod(best_swap, count)
            if swap[a, b] < least:
                i, j, s, least = a, b, int(x[b]), float(swap[a, b])
        if not np.isfinite(least):
            break
        moves = [(i, s)] if j < 0 else [(i, s), (j, int(x[i]))]
        hold = 4 + int(rng.integers(0, 4 + min(count, 24) // 2))
        for c, new in moves:
            old = int(x[c])
            until[c, old] = step + hold
            for weight, gain in pulls:
                reward += np.outer(weight[:, c], gain[new] - gain[old])
            broken += np.outer(near[:, c], bad[new] - bad[old])
            broken += np.outer(apart[:, c], bad_apart[new] - bad_apart[old])
            x[c] = new
            hues[taste.zone[c], taste.hue[old]] -= 1
            hues[taste.zone[c], taste.hue[new]] += 1
        share = np.asarray(np.bincount(x, taste.area, kinds), np.float64)
        number = np.bincount(x, minlength=kinds)
        base = taste.strength * (share - taste.target) ** 2
        value += least
        if value < best_value - 1e-10:
            best, best_value, idle = x.copy(), value, 0
        else:
            idle += 1
            if idle > 40 + count:
                break
    return best


def _hue_change(
    taste: Taste, hues: NDArray[np.int64], x: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return what it costs in hues when each class takes each swatch."""
    rows, own = taste.zone[:, None], taste.hue[x][:, None]
    wanted = taste.hue[None, :]
    step = (hues[rows, wanted] == 0).astype(np.int64) - (hues[rows, own] == 1)
    step[wanted == own] = 0
    now = (hues[:, :-1] > 0).sum(axis=1)[taste.zone][:, None]
    change = taste.hues_cost[rows, now + step] - taste.hues_cost[rows, now]
    return np.asarray(change, np.float64)


def _swaps(
    taste: Taste,
    fence: Fence,
    x: NDArray[np.int64],
    reward: NDArray[np.float64],
    broken: NDArray[np.float64],
    share: NDArray[np.float64],
    pulls: list[tuple[NDArray[np.float64], NDArray[np.float64]]],
    hue_change: NDArray[np.float64],
    near: NDArray[np.float64],
    apart: NDArray[np.float64],
    bad: NDArray[np.float64],
    bad_apart: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the change of cost when two classes exchange their swatches."""
    take = reward[:, x]  # class i in the swatch of class j
    own = np.diagonal(take)
    # at their own bond the partner moves too: the pair keeps its two swatches
    fix = np.zeros((len(x), len(x)))
    for weight, gain in pulls:
        alike = gain[x, x]
        fix += weight * (2.0 * gain[x[:, None], x] - alike[None, :] - alike[:, None])
    cost = taste.cost[:, x]
    own_cost = np.diagonal(cost)
    delta = (cost - own_cost[:, None]) + (cost - own_cost[:, None]).T
    delta -= (take - own[:, None]) + (take - own[:, None]).T + fix
    # within a zone hues only change hands
    change = hue_change[:, x]
    delta += np.where(taste.zone[:, None] == taste.zone, 0.0, change + change.T)
    area = taste.area
    step = area[:, None] - area[None, :]  # area that swatch x[j] gains
    miss = (share - taste.target)[x]
    strength = taste.strength[x]
    delta += strength[None, :] * (2 * miss[None, :] * step + step**2)
    delta += strength[:, None] * (-2 * miss[:, None] * step + step**2)
    # links that break, their own link (which stays as it is) left out
    breaks = broken[:, x] - near * bad[x, x][None, :] - apart * bad_apart[x, x][None, :]
    shut = (breaks > 0.5) | (breaks.T > 0.5)
    shut |= ~fence.allowed[:, x] | ~fence.allowed[:, x].T
    shut |= x[:, None] == x[None, :]
    delta[shut] = np.inf
    return delta


def _sweep(
    taste: Taste,
    fence: Fence,
    start: NDArray[np.int64],
    steps: int,
    seed: int,
    tick: Callable[[], None],
) -> NDArray[np.int64]:
    """Better many classes at once: sets that do not touch, by a price of area."""
    from scipy.sparse import csr_matrix

    rng = np.random.default_rng(seed)
    count, kinds = taste.cost.shape
    rows = np.arange(count)

    def table(pairs: NDArray[np.integer], values: NDArray[np.float64]) -> Any:
        both = np.concatenate([pairs, pairs[:, ::-1]])
        twice = np.concatenate([values, values])
        return csr_matrix((twice, (both[:, 0], both[:, 1])), shape=(count, count))

    pulls = [(table(b.links, b.weight), b.gain) for b in taste.bonds]
    near = table(fence.links, np.ones(len(fence.links)))
    apart = table(fence.unlike, np.ones(len(fence.unlike)))
    bad, bad_apart = (~fence.link_ok).astype(float), (~fence.unlike_ok).astype(float)
    pairs = np.concatenate(
        [fence.links, fence.unlike, *(b.links for b in taste.bonds)]
    ).astype(np.int64)
    x = start.copy()
    best, best_value = x.copy(), taste.measure(x)
    sweeps = max(3, min(steps, 2_000_000 // count))
    for sweep in range(sweeps):
        tick()
        share = np.bincount(x, weights=taste.area, minlength=kinds)
        number = np.bincount(x, minlength=kinds)
        price = 2.0 * taste.strength * (share - taste.target)
        score = taste.cost + taste.area[:, None] * price
        for weight, gain in pulls:
            score = score - weight @ gain[x]
        hue_change = _hue_change(taste, taste.count_hues(x), x)
        score -= np.where(number == 0, taste.used_gain, 0.0)
        shut = ~fence.allowed | (near @ bad[x] > 0)
        if len(fence.unlike):
            shut |= apart @ bad_apart[x] > 0
        if fence.most is not None and int((number > 0).sum()) >= fence.most:
            shut |= number == 0
        shut[rows, x] = False
        score += hue_change
        score[shut] = np.inf
        want = np.argmin(score, axis=1)
        better = score[rows, want] < score[rows, x] - 1e-15
        # all at once would overshoot the prices; some at a time
        moving = better & (rng.random(count) < (0.5 if sweep < sweeps // 2 else 0.2))
        rank: NDArray[np.float64] = rng.random(size=(count,))
        a, b = pairs[:, 0], pairs[:, 1]
        clash = moving[a] & moving[b]
        loser: NDArray[np.int64] = np.asarray(np.where(rank[a] < rank[b], a, b))[clash]
        moving[loser] = False
        if fence.most is not None and moving.any():
            new = np.flatnonzero(moving & (number[want] == 0))
            moving[new[1:]] = False  # at most one swatch more at a time
        if not moving.any():
            if not better.any():
                break
            continue
        x[moving] = want[moving]
        value = taste.measure(x)
        if value < best_value:
            best, best_value = x.copy(), value
    return best
