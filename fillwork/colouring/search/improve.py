"""Better a sound assignment step by step without losing what is sure.

The start keeps every link at its threshold; so does every step. Up to some
hundreds of classes each step weighs all moves (one class takes another swatch,
or two classes change swatches) and takes the best that is not forbidden for
having been undone lately (tabu search). For more classes whole sets that do not
touch move at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.solve import no_tick
from fillwork.colouring.search.sweeping import sweep
from fillwork.colouring.search.tones import beyond_narrow

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.colouring.search.taste import Taste

_WHOLE = 400  # classes up to which all moves are weighed at each step
_SWAPS = 160  # classes up to which all exchanges are weighed too
_FEWEST = 4  # swatches of which none is left out: a ground, two main, an accent
_AT_ONCE = 20_000  # classes of assignments that are measured in one go


@dataclass(frozen=True, slots=True, eq=False)
class Fence:
    """State what no step may break."""

    allowed: Bools  # (N, K): swatches open to each class
    # links and unlike, (E, 2): contrast links and unlike links
    links: AnyInts
    unlike: AnyInts
    # link_ok and unlike_ok, (K, K): swatches that may stand at them
    link_ok: Bools
    unlike_ok: Bools
    most: int | None  # largest number of different swatches

    @property
    def walls(self) -> tuple[tuple[AnyInts, Bools], ...]:
        """Return both sorts of links, each with the swatches that may stand there."""
        return (self.links, self.link_ok), (self.unlike, self.unlike_ok)

    def holds(self, swatches: AnyInts) -> bool:
        """Say whether an assignment keeps everything; True when nothing is broken.

        `swatches` (N,): swatch of each class.
        """
        few = self.most is None or len(np.unique(swatches)) <= self.most
        return bool(
            few
            and self.allowed[np.arange(len(swatches)), swatches].all()
            and all(ok[tuple(swatches[links].T)].all() for links, ok in self.walls)
        )


def improve(
    taste: Taste,
    fence: Fence,
    start: AnyInts,
    *,
    steps: int = 200,
    seed: int = 0,
    tick: Callable[[], None] = no_tick,
) -> tuple[Ints, float]:
    """Better an assignment.

    `fence`: what must be kept; `start` keeps it. `start` (N,): where to begin. `steps`:
    steps (sweeps for many classes). `seed`: for choices among equals. `tick`: called at
    every step; what it raises ends the work. Returns `swatches` (N,): the best
    assignment met; `cost`: its cost by `taste`.
    """
    begin: Ints = np.array(start, np.int64)
    if len(begin) == 0:
        return begin, 0.0
    begin = _exchange_swatches(taste, fence, begin)
    if len(begin) <= _WHOLE:
        best = _tabu(taste, fence, begin, steps, seed, tick)
        fewer = _with_fewer(taste, fence, best)
        if fewer is not best:
            best = _tabu(taste, fence, fewer, steps, seed, tick)
    else:
        best = sweep(taste, fence, begin, steps, seed, tick)
    best = _exchange_swatches(taste, fence, best)
    return best, taste.measure(best)


def _exchange_swatches(taste: Taste, fence: Fence, x: Ints) -> Ints:
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


def _with_fewer(taste: Taste, fence: Fence, x: Ints) -> Ints:
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


def _without(taste: Taste, fence: Fence, x: Ints, swatch: int) -> Ints | None:
    """Return an assignment without one swatch, or None where a class needs it."""
    x = x.copy()
    pending = x == swatch
    used = np.bincount(x, minlength=len(taste.target)) > 0
    used[swatch] = False
    score = taste.cost.copy()
    for j in np.flatnonzero(pending)[np.argsort(-taste.area[pending])].tolist():
        shut = ~(fence.allowed[j] & used)
        for links, allowed in fence.walls:
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


def _others(links: AnyInts, j: int) -> Ints:
    """Return what is linked with one class."""
    own = links[(links == j).any(axis=1)]
    return np.asarray(own.sum(axis=1) - j, np.int64)


def _dense(count: int, pairs: AnyInts, values: Floats) -> Floats:
    table = np.zeros((count, count))
    if len(pairs):
        np.add.at(table, (pairs[:, 0], pairs[:, 1]), values)
        np.add.at(table, (pairs[:, 1], pairs[:, 0]), values)
    return table


def _by_class(
    tables: list[tuple[Floats, Floats]], count: int
) -> list[list[tuple[Floats, Floats]]]:
    """Return of each class the tables in which it has a part, with what they say."""
    return [
        [(weight[c][:, None], says) for weight, says in tables if weight[c].any()]
        for c in range(count)
    ]


def _tabu(
    taste: Taste,
    fence: Fence,
    start: Ints,
    steps: int,
    seed: int,
    tick: Callable[[], None],
) -> Ints:
    """Take the best open step again and again; return the best assignment met."""
    rng = np.random.default_rng(seed)
    now = _Place(taste, fence, start)
    count, kinds = taste.cost.shape
    until = np.zeros(count * kinds, np.int64)
    value = taste.measure(start)
    best, best_value = start.copy(), value
    idle = 0

    def least_of(delta: Floats, late: Bools) -> tuple[int, float]:
        """Return the least change; what was left lately must better the best."""
        if not len(delta):
            return -1, np.inf
        late &= value + delta >= best_value - 1e-12
        delta[late] = np.inf
        at = int(delta.argmin())
        return at, float(delta[at])

    for step in range(steps):
        tick()
        now.weigh()
        single, delta = now.singles()
        at, least = least_of(delta, until.take(single) > step)
        moves = [divmod(int(single[at]), kinds)] if at >= 0 else []
        if count <= _SWAPS:
            there, back, delta = now.swaps()
            late = until.take(there) > step
            late |= until.take(back) > step
            at, less = least_of(delta, late)
            if less < least:
                least = less
                moves = [divmod(int(k[at]), kinds) for k in (there, back)]
        if not np.isfinite(least):
            break
        hold = 4 + int(rng.integers(0, 4 + min(count, 24) // 2))
        for c, new in moves:
            until[c * kinds + now.x[c]] = step + hold
            now.move(c, new)
        value += least
        if value < best_value - 1e-10:
            best, best_value, idle = now.x.copy(), value, 0
        else:
            idle += 1
            if idle > 40 + count:
                break
    return best


class _Place:
    """Hold an assignment and weigh the steps that are open from it.

    Few of all exchanges are open, so what is shut is told first. A step is the number
    of a class times the swatches, plus the swatch that it takes.
    """

    def __init__(self, taste: Taste, fence: Fence, start: Ints) -> None:
        count, kinds = taste.cost.shape
        self.taste, self.most, self.x = taste, fence.most, start.copy()
        self._rows = np.arange(count) * kinds
        pulls = [(_dense(count, b.links, b.weight), b.gain) for b in taste.bonds]
        walls = [
            (_dense(count, links, np.ones(len(links))), (~ok).astype(float))
            for links, ok in fence.walls
        ]
        self._pulls, self._walls = _by_class(pulls, count), _by_class(walls, count)
        # what a pair keeps of its own bond when it exchanges two swatches
        many = len(pulls)
        fixes = [2.0 * g - np.diagonal(g) - np.diagonal(g)[:, None] for _, g in pulls]
        self._weights = np.array([w for w, _ in pulls]).reshape(many, count * count)
        self._fixes = np.array(fixes).reshape(many, kinds * kinds)
        linked = np.asarray(sum(wall for wall, _ in walls))
        first, second = np.nonzero(linked)
        self._linked = first * kinds, second, second * count + first
        # the other of a linked pair leaves the swatch that this one would meet
        self._leaves = linked[first, second] + 0.5
        # (N, K): how many links class i in swatch s breaks; gains at its bonds
        self._broken = np.where(fence.allowed, 0.0, 4.0 * count)
        for wall, wrong in walls:
            self._broken += wall @ wrong[start]
        self._reward = np.zeros((count, kinds))
        for weight, gain in pulls:
            self._reward += weight @ gain[start]
        area = taste.area
        self._step = (area[:, None] - area).ravel()  # area that the first swatch gains
        self._square = self._step**2
        self._other = (taste.zone[:, None] != taste.zone).ravel()
        self._hues = taste.count_hues(start)
        zones = len(self._hues)
        self._turns = np.zeros((zones * kinds, kinds))
        for zone in range(zones):
            self._turn(zone)

    def _turn(self, zone: int) -> None:
        """Set what it costs in hues when a class of a zone changes swatches."""
        hues, hue = self._hues[zone], self.taste.hue
        cost = self.taste.hues_cost[zone]
        now = int((hues[:-1] > 0).sum())
        comes, goes = (hues == 0)[hue], (hues == 1)[hue][:, None]
        table = np.where(comes & ~goes, cost[now + 1] - cost[now], 0.0)
        if goes.any():
            table[goes & ~comes] = cost[now - 1] - cost[now]
            table[hue[:, None] == hue] = 0.0
        kinds = len(hue)
        self._turns[zone * kinds : (zone + 1) * kinds] = table

    def weigh(self) -> None:
        """Weigh what singles and exchanges share."""
        taste, x = self.taste, self.x
        kinds = len(taste.target)
        self._at = self._rows + x
        free = self._broken < 0.5
        free.ravel()[self._at] = False
        self._free = free
        self._share = np.bincount(x, taste.area, kinds)
        self._wide = beyond_narrow(self._share)
        self._tone = 2.0 * taste.tone @ self._wide
        self._change = self._turns.take(taste.zone * kinds + x, axis=0)
        self._own_reward = self._reward.take(self._at)
        self._own_cost = taste.cost.take(self._at)

    def singles(self) -> tuple[Ints, Floats]:
        """Return the open steps of one class, and what each changes."""
        taste, x, share = self.taste, self.x, self._share
        kinds = len(taste.target)
        number = np.bincount(x, minlength=kinds)
        open_to = self._free
        if self.most is not None and int((number > 0).sum()) >= self.most:
            open_to = open_to & ~((number == 0) & (number[x] > 1)[:, None])
        steps = open_to.ravel().nonzero()[0]
        i = steps // kinds
        s = steps - i * kinds
        target, strength = taste.target, taste.strength
        base = strength * (share - target) ** 2
        more = strength.take(s)
        more *= (share.take(s) + taste.area.take(i) - target.take(s)) ** 2
        more -= base.take(s)
        less = strength[x] * (share[x] - taste.area - target[x]) ** 2 - base[x]
        delta = taste.cost.take(steps) - self._reward.take(steps)
        delta -= (self._own_cost - self._own_reward).take(i)
        delta += more + less.take(i)
        delta -= np.where(number == 0, taste.used_gain, 0.0).take(s)
        delta += np.where(number == 1, taste.used_gain, 0.0)[x].take(i)
        delta += self._change.take(steps)
        delta += self._tone_change(x.take(i), s, taste.area.take(i))
        return steps, delta

    def swaps(self) -> tuple[Ints, Ints, Floats]:
        """Return the open exchanges, each as two steps, and what each changes."""
        taste, x = self.taste, self.x
        count, kinds = taste.cost.shape
        own, other, at = self._linked
        open_to = self._free.T[x]  # (N, N): the second class in the first one's swatch
        left = self._broken.take(own + x.take(other)) < self._leaves
        open_to.ravel()[at] = left
        pairs = (open_to & open_to.T).ravel().nonzero()[0]
        a = pairs // count
        b = pairs - a * count
        x_a, x_b = x.take(a), x.take(b)
        there, back = a * kinds + x_b, b * kinds + x_a
        cost = taste.cost - self._own_cost[:, None]
        gain = self._reward - self._own_reward[:, None]
        delta = cost.take(there) + cost.take(back)
        gained = gain.take(there) + gain.take(back)
        # at their own bond the partner moves too: the pair keeps its two swatches
        kept = self._weights.take(pairs, 1) * self._fixes.take(x_a * kinds + x_b, 1)
        gained += sum(kept, np.zeros(len(pairs)))
        delta -= gained
        if len(self._hues) > 1:  # within a zone hues only change hands
            change = self._change.take(there) + self._change.take(back)
            change[~self._other.take(pairs)] = 0.0
            delta += change
        step, square = self._step.take(pairs), self._square.take(pairs)
        miss, strength = 2.0 * (self._share - taste.target)[x], taste.strength[x]
        delta += strength.take(b) * (miss.take(b) * step + square)
        delta += strength.take(a) * (square - miss.take(a) * step)
        delta += self._tone_change(x_a, x_b, step)
        return there, back, delta

    def _tone_change(self, old: Ints, new: Ints, area: Floats) -> Floats:
        """Return what it costs in tone when areas go from swatch to swatch."""
        share, wide, tone = self._share, self._wide, self.taste.tone
        less = beyond_narrow(share.take(old) - area) - wide.take(old)
        more = beyond_narrow(share.take(new) + area) - wide.take(new)
        both = 2.0 * less * more * tone.take(old * len(wide) + new)
        return less * self._tone.take(old) + more * self._tone.take(new) + both

    def move(self, c: int, new: int) -> None:
        """Give one class another swatch."""
        old = int(self.x[c])
        for weight, gain in self._pulls[c]:
            self._reward += weight * (gain[new] - gain[old])
        for wall, wrong in self._walls[c]:
            self._broken += wall * (wrong[new] - wrong[old])
        self.x[c] = new
        zone, hue = int(self.taste.zone[c]), self.taste.hue
        hues = self._hues[zone]
        hues[hue[old]] -= 1
        hues[hue[new]] += 1
        if hues[hue[old]] < 2 or hues[hue[new]] < 3:  # else none comes or goes
            self._turn(zone)
