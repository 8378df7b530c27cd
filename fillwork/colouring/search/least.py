"""Where touching classes cannot all differ: alike along the least length.

For few classes a search by branch and bound finds the least shared length and,
for that, the largest smallest difference; for many a local search finds a small
length and says that it proves nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.solve import LEAST, no_tick

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.colouring.search.solve import Problem

_EXACT = 40  # classes up to which the exact search is tried
_STEPS = 60_000  # steps of that search at most


@dataclass(frozen=True, slots=True, eq=False)
class Alike:
    """Hold an assignment with little length between like swatches."""

    swatches: Ints  # (N,): swatch of each class
    length: float  # length shared by touching classes that bear like swatches, mm
    # smallest difference at the other links; infinite when there are none
    difference: float
    # whether no assignment has less length, or as little and a larger difference
    proven: bool


def find_least_alike(
    problem: Problem,
    shared: Floats,
    *,
    seed: int = 0,
    tick: Callable[[], None] = no_tick,
) -> Alike:
    """Find swatches with the least length between like ones.

    `problem`: classes, links, swatches. Unlike links are kept where possible before any
    length. `shared` (E,): length of each contrast link, mm. `seed`: for choices among
    equals. `tick`: called now and then; what it raises ends the search.
    """
    stakes = _Stakes(problem, shared)
    start = _local(stakes, seed, tick)
    proven = False
    if len(problem.domain) <= _EXACT:
        search = _Branches(stakes, start, tick)
        proven = search.descend(0, 0.0, float("inf"), 0)
        start = np.array(search.best, np.int64)
    _, difference = stakes.value(start)
    ends = start[problem.contrast]
    same = stakes.alike[ends[:, 0], ends[:, 1]]
    return Alike(start, float(shared[same].sum()), difference, proven)


class _Stakes:
    """Hold what it costs when linked classes bear like swatches.

    `shared` (E,): length of each contrast link, mm.
    """

    def __init__(self, problem: Problem, shared: Floats) -> None:
        # a corner has no length, yet a contact alike there is one too many
        scale = float(shared.max()) if len(shared) and shared.max() > 0 else 1.0
        length = np.maximum(shared, 1e-6 * scale)
        heavy = 1e3 * (float(length.sum()) + 1.0)
        self.problem = problem
        self.links = np.concatenate([problem.contrast, problem.unlike])
        self.weight = np.concatenate([length, np.full(len(problem.unlike), heavy)])
        self.alike = problem.differences <= LEAST
        # of each class those it is linked with, the cost, and whether they must differ
        # in contrast
        self.near: list[list[tuple[int, float, bool]]] = [[] for _ in problem.domain]
        rows = zip(self.links.tolist(), self.weight.tolist(), strict=True)
        for row, ((a, b), w) in enumerate(rows):
            self.near[a].append((b, w, row < len(problem.contrast)))
            self.near[b].append((a, w, row < len(problem.contrast)))

    def value(self, x: Ints) -> tuple[float, float]:
        """Return what an assignment costs, and its smallest difference elsewhere."""
        same = self.alike[x[self.links[:, 0]], x[self.links[:, 1]]]
        ends = x[self.problem.contrast]
        apart = self.problem.differences[ends[:, 0], ends[:, 1]]
        least = apart[apart > LEAST].min(initial=np.inf)
        return float(self.weight[same].sum()), float(least)


def _local(stakes: _Stakes, seed: int, tick: Callable[[], None]) -> Ints:
    """Return a good assignment: greedy, then one class at a time."""
    problem, near = stakes.problem, stakes.near
    count, kinds = len(problem.domain), len(problem.differences)
    rng = np.random.default_rng(seed)
    open_to = swatches_open(problem)
    if problem.most is not None:
        open_to = _few(open_to, problem.differences, problem.most)
    bad = stakes.alike.astype(float)
    tried: list[Ints] = []
    for _ in range(8 if count <= 300 else 1):
        x = np.full(count, -1, np.int64)
        pull = np.zeros((count, kinds))
        order = np.argsort(
            [-sum(w for _, w, _ in row) * rng.uniform(0.7, 1.3) for row in near],
            kind="stable",
        )
        for i in order.tolist():
            score = np.where(open_to[i], pull[i] + rng.random(kinds) * 1e-9, np.inf)
            x[i] = int(np.argmin(score))
            for j, w, _ in near[i]:
                pull[j] += w * bad[x[i]]
        for _ in range(30):
            tick()
            moved = False
            for i in rng.permutation(count).tolist():
                score = np.where(open_to[i], pull[i], np.inf)
                s = int(np.argmin(score))
                if score[s] < pull[i, x[i]] - 1e-12:
                    for j, w, _ in near[i]:
                        pull[j] += w * (bad[s] - bad[x[i]])
                    x[i] = s
                    moved = True
            if not moved:
                break
        tried.append(x)
    return min(tried, key=lambda x: stakes.value(x)[0])


def keep_few(problem: Problem) -> Problem | None:
    """Keep as many swatches as may be used, far apart, and no other limit.

    `problem`: classes, links, swatches and the largest number of swatches. Returns the
    problem with those swatches alone, every answer to which answers the first one too;
    None where there is no limit or where these cannot serve every class.
    """
    kinds = len(problem.differences)
    if problem.most is None or problem.most >= kinds:
        return None
    kept = _few(swatches_open(problem), problem.differences, problem.most)
    if int(kept.any(axis=0).sum()) > problem.most:
        return None
    masks = [sum(1 << int(s) for s in np.flatnonzero(row)) for row in kept]
    return replace(problem, domain=tuple(masks), most=None)


def swatches_open(problem: Problem) -> Bools:
    """Return which swatches each class may take, shape (N, K)."""
    count, kinds = len(problem.domain), len(problem.differences)
    bits = {m: [m >> s & 1 for s in range(kinds)] for m in set(problem.domain)}
    found = np.array([bits[mask] for mask in problem.domain], bool)
    return found.reshape(count, kinds)


def _few(open_to: Bools, differences: Floats, most: int) -> Bools:
    """Keep a few swatches, far apart, that leave one to every class."""
    kept = np.zeros(open_to.shape[1], bool)
    left = np.ones(len(open_to), bool)
    fewest = open_to.sum(axis=1)
    for i in np.flatnonzero(fewest == 1):
        kept |= open_to[i]
    left &= ~open_to[:, kept].any(axis=1)
    while left.any() and kept.sum() < most:
        serves = open_to[left].sum(axis=0).astype(np.float64)
        if not kept.any():  # of those that serve most, the one apart from others
            serves = serves * (1.0 + 1e-6 * differences.max(axis=1))
        else:
            serves = serves * (1.0 + 1e-6 * differences[:, kept].min(axis=1))
        kept[int(np.argmax(serves))] = True
        left &= ~open_to[:, kept].any(axis=1)
    serves = open_to.sum(axis=0).astype(np.float64)
    while kept.sum() < min(most, len(kept)):
        away = differences[:, kept].min(axis=1) if kept.any() else np.ones(len(kept))
        kept[int(np.argmax(np.where(kept, -1.0, serves * (away + LEAST))))] = True
    return open_to & (kept | left[:, None])


class _Branches:
    """Hold the best assignment met, and go through those that may better it."""

    def __init__(self, stakes: _Stakes, start: Ints, tick: Callable[[], None]) -> None:
        problem, near = stakes.problem, stakes.near
        self.most, self.tick = problem.most, tick
        self.slack = 1e-9 * max(1.0, float(stakes.weight.sum()))
        self.table, self.same = problem.differences.tolist(), stakes.alike.tolist()
        cost, difference = stakes.value(start)
        self.best, self.best_value = start.tolist(), (cost, -difference)
        self.order: list[int] = []
        left = set(range(len(near)))
        pull = [0.0] * len(near)
        while left:  # next the class with most length to those before it
            i = max(left, key=lambda j: (pull[j], sum(w for _, w, _ in near[j]), -j))
            left.discard(i)
            self.order.append(i)
            for j, w, _ in near[i]:
                pull[j] += w
        place = {i: depth for depth, i in enumerate(self.order)}
        self.before = [
            [(j, w, c) for j, w, c in near[i] if place[j] < place[i]]
            for i in self.order
        ]
        self.values = [
            [s for s in range(len(self.table)) if problem.domain[i] >> s & 1]
            for i in self.order
        ]
        self.x = [-1] * len(near)
        self.steps = 0

    def descend(self, depth: int, cost: float, least: float, used: int) -> bool:
        """Try all swatches from one class on; return whether steps sufficed."""
        slack, (low_cost, low_least) = self.slack, self.best_value
        if depth == len(self.order):
            if cost < low_cost - slack or (
                cost <= low_cost + slack and -least < low_least - LEAST
            ):
                self.best, self.best_value = self.x.copy(), (cost, -least)
            return True
        i = self.order[depth]
        for more, negative, s in self._choices(depth, cost, least, used):
            self.steps += 1
            if self.steps % 1000 == 0:
                self.tick()
            if self.steps > _STEPS:
                return False
            low_cost, low_least = self.best_value
            if more > low_cost + slack or (
                more >= low_cost - slack and negative >= low_least - LEAST
            ):
                continue
            self.x[i] = s
            if not self.descend(depth + 1, more, -negative, used | 1 << s):
                return False
            self.x[i] = -1
        return True

    def _choices(
        self, depth: int, cost: float, least: float, used: int
    ) -> list[tuple[float, float, int]]:
        """Return what each swatch open to a class would cost, the cheapest first."""
        choices = []
        for s in self.values[depth]:
            if self.most is not None and (used | 1 << s).bit_count() > self.most:
                continue
            more, low = cost, least
            for j, w, counts in self.before[depth]:
                t = self.x[j]
                if self.same[s][t]:
                    more += w
                elif counts and self.table[s][t] < low:
                    low = self.table[s][t]
            choices.append((more, -low, s))
        return sorted(choices)
