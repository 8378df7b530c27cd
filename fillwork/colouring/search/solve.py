"""Search for colours that keep touching classes apart: yes, no, or not known.

A *class* is what takes one swatch; a *swatch set* is a whole number whose bits
are swatches. Two sorts of links join classes: *contrast* links ask for at least
the threshold between their swatches, *unlike* links only for different ones.

The search is a plain one: propagation that keeps every value supported (arc
consistency), the class with the fewest swatches for its weight of past failures
first, restarts. Classes that can always be coloured last are set aside, and
parts that are not joined are searched apart. Every limit counts steps. An
answer of *not known* is never read as *no*.
"""

from __future__ import annotations

import heapq
import itertools
import operator
import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import distinct

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fillwork.arrays import AnyInts, Bools, Floats

    Neighbours = tuple[list[list[int]], list[list[int]]]

_EVERY = 64  # decisions between two ticks

LEAST = 1e-9
"""Differences up to this are none: the swatches look alike."""


MANY = 3_000
"""Classes from which the search ends once the goal is met, and takes few steps."""


def no_tick() -> None:
    """Do nothing while a search goes on."""


def no_progress(done: float, what: str = "") -> None:
    """Do nothing as work goes on."""


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """State which classes must differ and which swatches they may take."""

    domain: tuple[int, ...]  # swatch set of each class
    # contrast and unlike, (E, 2): links between different classes
    contrast: AnyInts
    unlike: AnyInts
    differences: Floats  # (K, K): CIEDE2000 between swatches
    most: int | None = None  # largest number of different swatches in all


def _bits(mask: int) -> list[int]:
    out = []
    while mask:
        low = mask & -mask
        out.append(low.bit_length() - 1)
        mask ^= low
    return out


class _Links:
    """One sort of links: the classes it joins, and the swatches it lets stand there."""

    def __init__(
        self, near: list[list[int]], beside: list[int], memo: dict[int, int]
    ) -> None:
        self.near = near  # of each class those it is linked with
        self.beside = beside  # swatch set that each swatch may stand beside
        self._memo = memo  # the same of swatch sets, remembered

    @classmethod
    def state(cls, near: list[list[int]], allowed: Bools) -> _Links:
        """Return links at which those swatches may stand that `allowed` (K, K) says."""
        beside = [sum(1 << int(t) for t in np.flatnonzero(row)) for row in allowed]
        return cls(near, beside, {0: 0})

    def among(self, place: dict[int, int]) -> _Links:
        """Return the links among some classes, `place`: the new number of each."""
        near = [[place[i] for i in self.near[j] if i in place] for j in place]
        return _Links(near, self.beside, self._memo)

    def union(self, mask: int) -> int:
        """Return the swatches that stand beside at least one of the set."""
        found = self._memo.get(mask)
        if found is None:
            found = 0
            for bit in _bits(mask):
                found |= self.beside[bit]
            self._memo[mask] = found
        return found


class _Search:
    """One search on classes with links; see the module's text."""

    def __init__(
        self,
        domain: list[int],
        sorts: Sequence[_Links],
        most: int | None,
        tick: Callable[[], None],
    ) -> None:
        self.domain, self.sorts, self.most, self.tick = domain, sorts, most, tick
        each = zip(*(links.near for links in sorts), strict=True)
        self.weight = [1.0 + sum(map(len, rows)) for rows in each]
        self.trail: list[tuple[int, int]] = []
        self.heap: list[tuple[float, int, int]] = []
        self.steps = 0

    def _leave(self, j: int, new: int) -> None:
        """Leave these swatches to a class, so that it can be undone."""
        self.trail.append((j, self.domain[j]))
        self.domain[j] = new
        self._wait(j, new)

    def _wait(self, j: int, mask: int) -> None:
        """Let a class wait for its turn; its old place in the heap no longer counts."""
        size = mask.bit_count()
        if size > 1:
            heapq.heappush(self.heap, (size / self.weight[j], size, j))

    def propagate(self, queue: list[int]) -> bool:
        """Drop values without support; return False when a class has none left."""
        domain, weight = self.domain, self.weight
        waiting = set(queue)
        while queue:
            i = queue.pop()
            waiting.discard(i)
            mask = domain[i]
            for links in self.sorts:
                near = links.near[i]
                support = links.union(mask) if near else 0
                for j in near:
                    new = domain[j] & support
                    if new == domain[j]:
                        continue
                    if not new:
                        weight[i] += 1.0
                        weight[j] += 1.0
                        return False
                    self._leave(j, new)
                    if j not in waiting:
                        waiting.add(j)
                        queue.append(j)
        return True

    def _limit_swatches(self) -> bool:
        """Keep the number of different swatches; return False when it is passed."""
        if self.most is None:
            return True
        while True:
            used = 0
            for mask in self.domain:
                if not mask & (mask - 1):
                    used |= mask
            count = used.bit_count()
            if count > self.most:
                return False
            if count < self.most:
                return True
            changed = []
            for j, mask in enumerate(self.domain):
                new = mask & used
                if new == mask:
                    continue
                if not new:
                    self.weight[j] += 1.0
                    return False
                self._leave(j, new)
                changed.append(j)
            if not changed:
                return True
            if not self.propagate(changed):
                return False

    def narrow(self, queue: list[int]) -> bool:
        return self.propagate(queue) and self._limit_swatches()

    def _undo(self, mark: int) -> None:
        while len(self.trail) > mark:
            j, old = self.trail.pop()
            self.domain[j] = old
            self._wait(j, old)

    def _pick(self) -> int:
        heap, domain = self.heap, self.domain
        while heap:
            _, size, j = heapq.heappop(heap)
            if size > 1 and domain[j].bit_count() == size:
                return j
        return -1

    def run(self, limit: int, ranks: Sequence[Sequence[int]]) -> bool | None:
        """Search for `limit` decisions; leave the answer in `domain`."""
        domain = self.domain
        self.heap[:] = [
            (m.bit_count() / self.weight[j], m.bit_count(), j)
            for j, m in enumerate(domain)
            if m & (m - 1)
        ]
        heapq.heapify(self.heap)
        levels: list[tuple[int, int, int]] = []
        base = len(self.trail)
        steps = 0
        while True:
            j = self._pick()
            if j < 0:
                return True
            steps += 1
            self.steps += 1
            if self.steps % _EVERY == 0:
                self.tick()
            if steps > limit:
                self._undo(base)
                return None
            mask = domain[j]
            bit = next(1 << s for s in ranks[j] if mask >> s & 1)
            levels.append((len(self.trail), j, bit))
            self._leave(j, bit)
            sound = self.narrow([j])
            while not sound:
                if not levels:
                    return False
                mark, j, bit = levels.pop()
                self._undo(mark)
                new = domain[j] & ~bit
                if not new:
                    continue
                self._leave(j, new)
                sound = self.narrow([j])


def _neighbours(count: int, pairs: AnyInts) -> list[list[int]]:
    ends = np.asarray(pairs, np.int64)
    ends = ends[ends[:, 0] != ends[:, 1]]
    both = distinct(np.r_[ends @ (count, 1), ends @ (1, count)])
    start = np.searchsorted(both, np.arange(count + 1) * count).tolist()
    near = (both % max(count, 1)).tolist()
    return [near[a:b] for a, b in itertools.pairwise(start)]


def neighbours(problem: Problem) -> Neighbours:
    """Return which classes each class must contrast with, and be unlike only.

    Returns `near` and `unlike`: ascending; a class that is near is not in `unlike` too.
    """
    count = len(problem.domain)
    near = _neighbours(count, problem.contrast)
    unlike = _neighbours(count, problem.unlike)
    if len(problem.unlike):
        joined = [set(row) for row in near]
        unlike = [
            [i for i in row if i not in joined[j]] for j, row in enumerate(unlike)
        ]
    return near, unlike


def _set_aside(domain: list[int], sorts: Sequence[_Links]) -> list[int]:
    """Return classes that can be coloured after all others, in order of removal."""
    contrast, kinds = sorts[0], len(sorts[0].beside)
    # swatches that one neighbour takes away at most, and neighbours left
    kill = [kinds - min(b.bit_count() for b in links.beside) for links in sorts]
    degree = [[len(links.near[j]) for links in sorts] for j in range(len(domain))]
    gone = [False] * len(domain)

    def removable(j: int) -> bool:
        if sum(degree[j]) <= 1:
            return True  # every value of the neighbour has support
        if domain[j].bit_count() > sum(map(operator.mul, degree[j], kill)):
            return True
        if degree[j] == [2, 0]:
            first, second = (
                {contrast.beside[s] & domain[j] for s in _bits(domain[i])}
                for i in contrast.near[j]
                if not gone[i]
            )
            return all(p & q for p in first for q in second)
        return False

    order: list[int] = []
    waiting = list(range(len(domain)))
    while waiting:
        j = waiting.pop()
        if gone[j] or not removable(j):
            continue
        gone[j] = True
        order.append(j)
        for sort, links in enumerate(sorts):
            for i in links.near[j]:
                degree[i][sort] -= 1
                if not gone[i]:
                    waiting.append(i)
    return order


def _parts(inside: list[int], sorts: Sequence[_Links]) -> list[list[int]]:
    """Return the classes in parts that no link joins, small ones first."""
    left = set(inside)
    found = []
    for first in inside:
        if first not in left:
            continue
        left.discard(first)
        part = [first]
        for j in part:  # grows while it is walked
            for links in sorts:
                beside = left.intersection(links.near[j])
                left -= beside
                part += beside
        found.append(sorted(part))
    return sorted(found, key=lambda part: (len(part), part[0]))


def _search_part(
    search: _Search, limit: int, ranks: list[list[int]], chance: random.Random
) -> bool | None:
    """Search a part with restarts; leave the answer in its `domain`."""
    count = len(search.domain)
    if not search.narrow(list(range(count))):
        return False
    cutoff = max(60, 2 * count)
    while search.steps < limit:
        answer = search.run(min(cutoff, limit - search.steps), ranks)
        if answer is not None:
            return answer
        cutoff = cutoff * 3 // 2
        for row in ranks:  # another order among values after a restart
            if chance.random() < 0.5 and len(row) > 1:
                a = chance.randrange(len(row))
                row[0], row[a] = row[a], row[0]
    return None


def solve_threshold(
    problem: Problem,
    threshold: float,
    *,
    limit: int = 100_000,
    ranks: Sequence[Sequence[int]] | None = None,
    seed: int = 0,
    tick: Callable[[], None] = no_tick,
    beside: Neighbours | None = None,
) -> tuple[bool | None, tuple[int, ...] | None]:
    """Find swatches that differ by a threshold at every contrast link.

    `threshold`: CIEDE2000 asked at contrast links; at least `LEAST` is asked in any
    case. `limit`: decisions after which the search gives up, for each part. `ranks`:
    for each class, all swatches in the order in which to try them. `seed`: for choices
    among equals. `tick`: called now and then; what it raises ends the search. `beside`:
    what `neighbours` gives for the problem, where it is asked many times. Returns
    `answer`: True: found; False: there is none; None: not known; `swatches`: one swatch
    a class.
    """
    count = len(problem.domain)
    table = problem.differences
    kinds = len(table)
    if count == 0:
        return True, ()
    chance = random.Random(seed)
    near, unlike = beside or neighbours(problem)
    contrast = _Links.state(near, table >= max(threshold, LEAST * 2))
    differ = (table > LEAST) & ~np.eye(kinds, dtype=bool)
    sorts = contrast, _Links.state(unlike, differ)
    if ranks is None:
        widest = sorted(range(kinds), key=lambda s: -contrast.beside[s].bit_count())
        ranks = [widest] * count
    most = problem.most
    first = _Search(list(problem.domain), sorts, most, tick)
    if not all(first.domain) or not first.narrow(list(range(count))):
        return False, None
    domain, aside, parts = first.domain, list[int](), [list(range(count))]
    if most is None:
        aside = _set_aside(domain, sorts)
        parts = _parts(sorted(set(range(count)).difference(aside)), sorts)
    known = True
    chosen = [-1] * count
    for part in parts:
        place = {j: row for row, j in enumerate(part)}
        own = [links.among(place) for links in sorts]
        search = _Search([domain[j] for j in part], own, most, tick)
        found = _search_part(search, limit, [list(ranks[j]) for j in part], chance)
        if found is False:
            return False, None
        known &= found is True
        for j, mask in zip(part, search.domain, strict=True):
            chosen[j] = mask.bit_length() - 1
    if not known:
        return None, None
    for j in reversed(aside):
        mask = domain[j]
        for links in sorts:
            for i in links.near[j]:
                if chosen[i] >= 0:
                    mask &= links.beside[chosen[i]]
        chosen[j] = next(s for s in ranks[j] if mask >> s & 1)
    return True, tuple(chosen)
