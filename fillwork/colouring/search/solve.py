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


@dataclass(frozen=True, slots=True)
class Best:
    """Hold what is known of the largest smallest difference."""

    reached: float  # largest threshold for which swatches were found; 0 when none were
    # no assignment has a larger one. NaN when classes cannot be kept apart.
    bound: float
    proven: bool  # whether `reached` equals `bound`
    swatches: tuple[int, ...] | None  # an assignment that reaches it
    # whether touching classes can be kept unlike at all; None: not known
    separable: bool | None


def _bits(mask: int) -> list[int]:
    out = []
    while mask:
        low = mask & -mask
        out.append(low.bit_length() - 1)
        mask ^= low
    return out


class _Links:
    """Swatch sets allowed beside a swatch set, remembered."""

    def __init__(self, allowed: Bools) -> None:
        self.beside = [sum(1 << int(t) for t in np.flatnonzero(row)) for row in allowed]
        self._memo: dict[int, int] = {0: 0}

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
        near: list[list[int]],
        unlike: list[list[int]],
        links: _Links,
        apart: _Links,
        most: int | None,
        tick: Callable[[], None],
    ) -> None:
        self.tick = tick
        self.domain = domain
        self.near, self.unlike = near, unlike
        self.links, self.apart = links, apart
        self.most = most
        self.weight = [1.0 + len(a) + len(b) for a, b in zip(near, unlike, strict=True)]
        self.trail: list[tuple[int, int]] = []
        self.heap: list[tuple[float, int, int]] = []
        self.steps = 0

    def propagate(self, queue: list[int]) -> bool:
        """Drop values without support; return False when a class has none left."""
        domain, trail, heap, weight = self.domain, self.trail, self.heap, self.weight
        waiting = set(queue)
        while queue:
            i = queue.pop()
            waiting.discard(i)
            mask = domain[i]
            for table, rows in ((self.links, self.near), (self.apart, self.unlike)):
                if not rows[i]:
                    continue
                support = table.union(mask)
                for j in rows[i]:
                    old = domain[j]
                    new = old & support
                    if new == old:
                        continue
                    if not new:
                        weight[i] += 1.0
                        weight[j] += 1.0
                        return False
                    trail.append((j, old))
                    domain[j] = new
                    size = new.bit_count()
                    if size > 1:
                        heapq.heappush(heap, (size / weight[j], size, j))
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
                self.trail.append((j, mask))
                self.domain[j] = new
                size = new.bit_count()
                if size > 1:  # its old place in the heap no longer counts
                    heapq.heappush(self.heap, (size / self.weight[j], size, j))
                changed.append(j)
            if not changed:
                return True
            if not self.propagate(changed):
                return False

    def narrow(self, queue: list[int]) -> bool:
        return self.propagate(queue) and self._limit_swatches()

    def _undo(self, mark: int) -> None:
        domain, trail, heap = self.domain, self.trail, self.heap
        while len(trail) > mark:
            j, old = trail.pop()
            domain[j] = old
            size = old.bit_count()
            heapq.heappush(heap, (size / self.weight[j], size, j))

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
            self.trail.append((j, mask))
            domain[j] = bit
            sound = self.narrow([j])
            while not sound:
                if not levels:
                    return False
                mark, j, bit = levels.pop()
                self._undo(mark)
                new = domain[j] & ~bit
                if not new:
                    continue
                self.trail.append((j, domain[j]))
                domain[j] = new
                size = new.bit_count()
                if size > 1:
                    heapq.heappush(self.heap, (size / self.weight[j], size, j))
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


def _set_aside(
    domain: list[int],
    near: list[list[int]],
    unlike: list[list[int]],
    links: _Links,
    apart: _Links,
) -> list[int]:
    """Return classes that can be coloured after all others, in order of removal."""
    full = (1 << len(links.beside)) - 1
    kill = max((full & ~b).bit_count() for b in links.beside)
    kill_apart = max((full & ~b).bit_count() for b in apart.beside)
    degree = [[len(a), len(b)] for a, b in zip(near, unlike, strict=True)]
    gone = [False] * len(domain)

    def removable(j: int) -> bool:
        size = domain[j].bit_count()
        contrast, plain = degree[j]
        if contrast + plain <= 1:
            return True  # every value of the neighbour has support
        if size > contrast * kill + plain * kill_apart:
            return True
        if contrast == 2 and plain == 0:
            a, b = (i for i in near[j] if not gone[i])
            first = {links.beside[s] & domain[j] for s in _bits(domain[a])}
            second = {links.beside[s] & domain[j] for s in _bits(domain[b])}
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
        for i in near[j]:
            degree[i][0] -= 1
            if not gone[i]:
                waiting.append(i)
        for i in unlike[j]:
            degree[i][1] -= 1
            if not gone[i]:
                waiting.append(i)
    return order


def _parts(
    inside: list[int], near: list[list[int]], unlike: list[list[int]]
) -> list[list[int]]:
    kept = set(inside)
    seen: set[int] = set()
    found = []
    for first in inside:
        if first in seen:
            continue
        seen.add(first)
        stack, part = [first], []
        while stack:
            j = stack.pop()
            part.append(j)
            for i in (*near[j], *unlike[j]):
                if i in kept and i not in seen:
                    seen.add(i)
                    stack.append(i)
        found.append(sorted(part))
    return sorted(found, key=lambda part: (len(part), part[0]))


def _search_part(
    part: list[int],
    domain: list[int],
    near: list[list[int]],
    unlike: list[list[int]],
    links: _Links,
    apart: _Links,
    most: int | None,
    limit: int,
    ranks: Sequence[Sequence[int]],
    chance: random.Random,
    tick: Callable[[], None],
) -> tuple[bool | None, list[int]]:
    place = {j: row for row, j in enumerate(part)}
    search = _Search(
        [domain[j] for j in part],
        [[place[i] for i in near[j] if i in place] for j in part],
        [[place[i] for i in unlike[j] if i in place] for j in part],
        links,
        apart,
        most,
        tick,
    )
    own = [list(ranks[j]) for j in part]
    if not search.narrow(list(range(len(part)))):
        return False, []
    cutoff = max(60, 2 * len(part))
    while search.steps < limit:
        answer = search.run(min(cutoff, limit - search.steps), own)
        if answer is not None:
            return answer, search.domain
        cutoff = cutoff * 3 // 2
        for row in own:  # another order among values after a restart
            if chance.random() < 0.5 and len(row) > 1:
                a = chance.randrange(len(row))
                row[0], row[a] = row[a], row[0]
    return None, []


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
    links = _Links(table >= max(threshold, LEAST * 2))
    apart = _Links((table > LEAST) & ~np.eye(kinds, dtype=bool))
    near, unlike = beside or neighbours(problem)
    if ranks is None:
        by_links = sorted(range(kinds), key=lambda s: -links.beside[s].bit_count())
        ranks = [by_links] * count
    most = problem.most
    first = _Search(list(problem.domain), near, unlike, links, apart, most, tick)
    if not all(first.domain) or not first.narrow(list(range(count))):
        return False, None
    domain = first.domain
    aside: list[int] = []
    if problem.most is None:
        aside = _set_aside(domain, near, unlike, links, apart)
    late = set(aside)
    core = [j for j in range(count) if j not in late]
    parts = _parts(core, near, unlike) if problem.most is None else [core]
    answer: bool | None = True
    chosen = [-1] * count
    for part in parts:
        if not part:
            continue
        found, values = _search_part(
            part, domain, near, unlike, links, apart, most, limit, ranks, chance, tick
        )
        if found is False:
            return False, None
        if found is None:
            answer = None
            continue
        for j, mask in zip(part, values, strict=True):
            chosen[j] = mask.bit_length() - 1
    if answer is None:
        return None, None
    for j in reversed(aside):
        mask = domain[j]
        for i in near[j]:
            if chosen[i] >= 0:
                mask &= links.beside[chosen[i]]
        for i in unlike[j]:
            if chosen[i] >= 0:
                mask &= apart.beside[chosen[i]]
        chosen[j] = next(s for s in ranks[j] if mask >> s & 1)
    return True, tuple(chosen)


def find_best_threshold(
    problem: Problem,
    *,
    goal: float = 0.0,
    limit: int = 20_000,
    seed: int = 0,
    progress: Callable[[float], None] | None = None,
    ranks: Sequence[Sequence[int]] | None = None,
) -> Best:
    """Find the largest smallest difference that the swatches allow.

    `goal`: a threshold to try early, since reaching it is what counts most. `limit`:
    decisions for each threshold tried. `seed`: for choices among equals. `progress`:
    called with the part done, 0 to 1, also within long searches; what it raises ends
    the search. `ranks`: for each class, all swatches in the order in which to try them
    for the goal.

    Binary search over the different values of the table: whether a threshold
    can be met changes only there, and once it fails it fails above.
    """
    table = problem.differences
    rows, columns = np.triu_indices(len(table), 1)
    values = np.unique(table[rows, columns])
    values = values[values > LEAST]
    told = 0.0

    def tick() -> None:
        """Tell that the search goes on."""
        if progress is not None:
            progress(told)

    if not len(problem.contrast):
        answer, alone = solve_threshold(problem, 0.0, limit=limit, seed=seed, tick=tick)
        return Best(float("nan"), float("nan"), answer is True, alone, answer)
    if not len(values):
        return Best(0.0, float("nan"), True, None, False)
    known = _Known(problem, values, tick)
    unknown = len(values)  # least index whose answer is not known
    at_goal = min(int(np.searchsorted(values, goal)), len(values) - 1)
    probes = [0] if goal <= 0 else [at_goal, 0]
    large = len(problem.domain) > MANY
    done = 0
    while True:
        low, top = known.low, min(known.high, unknown)
        if low + 1 >= top or (low >= at_goal and large):
            break
        while probes and not low < probes[0] < top:
            probes.pop(0)
        few = 300 if large and not probes else limit
        at = probes.pop(0) if probes else (low + top) // 2
        if known.ask(at, few, seed, ranks if at == at_goal else None) is None:
            unknown = at
        done += 1
        told = min(0.95, done / (2 + float(np.log2(len(values) + 1))))
        tick()
    separable = True if known.low >= 0 else False if known.high == 0 else None
    # between an unknown value and a proven failure the bound may still fall
    left = max(known.low, unknown)
    while unknown < known.high and left + 1 < known.high:
        at = (left + known.high) // 2
        answer = known.ask(at, max(limit // 10, 50), seed + 1)
        if answer is not False:
            left = known.low if answer else at
    low, high = known.low, known.high
    if high == 0:
        return Best(0.0, float("nan"), True, None, False)
    reached = float(values[low]) if low >= 0 else 0.0
    bound = float(values[high - 1])
    return Best(reached, bound, low == high - 1, known.swatches, separable)


class _Known:
    """Hold between which of the values the largest threshold lies that can be met."""

    def __init__(
        self, problem: Problem, values: Floats, tick: Callable[[], None]
    ) -> None:
        self.problem, self.values, self.tick = problem, values, tick
        self.beside = neighbours(problem)
        self.low, self.high = -1, len(values)  # met at low; impossible at high
        self.swatches: tuple[int, ...] | None = None  # those that meet the lower one

    def ask(
        self,
        at: int,
        limit: int,
        seed: int,
        ranks: Sequence[Sequence[int]] | None = None,
    ) -> bool | None:
        """Return whether a value can be met; None where that is not known."""
        answer, swatches = solve_threshold(
            self.problem,
            float(self.values[at]),
            limit=limit,
            ranks=ranks,
            seed=seed,
            tick=self.tick,
            beside=self.beside,
        )
        if answer is False:
            self.high = at
        elif swatches is not None:
            self.swatches = swatches
            self.low = max(at, _reached(self.problem, swatches, self.values))
        return answer


def _reached(problem: Problem, swatches: tuple[int, ...], values: Floats) -> int:
    """Return the index of the smallest difference that an assignment has."""
    chosen = np.asarray(swatches)
    pairs = problem.contrast[problem.contrast[:, 0] != problem.contrast[:, 1]]
    least = problem.differences[chosen[pairs[:, 0]], chosen[pairs[:, 1]]].min()
    return int(np.searchsorted(values, least))
