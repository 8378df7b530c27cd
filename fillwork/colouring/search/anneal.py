"""Cool many assignments side by side, to begin where good ones lie.

Each class in turn takes a swatch by chance, the likelier the less it costs beside what
the others bear, in every assignment at once; as it cools only the best are taken (a
heat bath: S. Geman, D. Geman, Stochastic Relaxation, Gibbs Distributions, and the
Bayesian Restoration of Images, IEEE Trans. Pattern Analysis 6(6), 1984). Links may be
broken at first, which costs more and more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.solve import no_tick
from fillwork.colouring.search.tones import beyond_narrow

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.colouring.search.improve import Fence
    from fillwork.colouring.search.taste import Taste

# temperature at first and in the end, of what one class may cost more or less
_HEAT = 0.35, 0.007
# price of a broken link at first and in the end, of the most that one class may
_PRICE = 0.01, 2.0


def anneal(
    taste: Taste,
    fence: Fence,
    *,
    many: int,
    sweeps: int,
    seed: int,
    tick: Callable[[], None] = no_tick,
) -> Ints:
    """Return assignments that keep the fence, the best by taste first, no two the same.

    `many`: assignments cooled at once. `sweeps`: times that every class chooses.
    `seed`: for chance. `tick`: called at each sweep. Returns (M, N): swatch of each
    class, a row each; none where no assignment keeps the fence.
    """
    rng = np.random.default_rng([seed, 3])
    bath = _Bath(taste, fence, many, rng)
    at_stake = _at_stake(taste)
    heats = np.geomspace(*_HEAT, sweeps) * max(float(at_stake.mean()), 1e-9)
    prices = np.geomspace(*_PRICE, sweeps) * max(float(at_stake.max()), 1e-9)
    for heat, price in zip(heats.tolist(), prices.tolist(), strict=True):
        tick()
        bath.set_price(price)
        for c in rng.permutation(len(taste.cost)).tolist():
            bath.choose(c, heat, rng)
    found = np.unique(bath.x, axis=0)
    found = found[[fence.holds(x) for x in found]]
    costs = taste.measure_all(found) if len(found) else np.empty(0)
    return np.asarray(found[np.argsort(costs, kind="stable")], np.int64)


def _at_stake(taste: Taste) -> Floats:
    """Return how far costs may lie apart by the swatch of each class alone, (N,)."""
    found: Floats = np.ptp(taste.cost, axis=1)
    for bond in taste.bonds:
        reach = np.repeat(bond.weight * np.ptp(bond.gain), 2)
        found += np.bincount(bond.links.ravel(), reach, len(found))
    return found


def _open_swatches(fence: Fence, many: int, rng: np.random.Generator) -> Bools:
    """Return which swatches each assignment may take, (M, K): as few as are asked for.

    Those that a class cannot do without come first, the rest by chance.
    """
    kinds = fence.allowed.shape[1]
    if fence.most is None or fence.most >= kinds:
        return np.ones((many, kinds), bool)
    needed = fence.allowed[fence.allowed.sum(axis=1) == 1].any(axis=0)
    order = np.argsort(rng.random((many, kinds)) - needed, axis=1)
    found = np.zeros((many, kinds), bool)
    np.put_along_axis(found, order[:, : fence.most], values=True, axis=1)
    return found


class _Bath:
    """Hold M assignments of N classes with what their swatches add up to."""

    def __init__(
        self, taste: Taste, fence: Fence, many: int, rng: np.random.Generator
    ) -> None:
        self.taste = taste
        count, kinds = taste.cost.shape
        self._row = np.arange(many)
        self._cost = np.where(fence.allowed, taste.cost, np.inf)
        here = _open_swatches(fence, many, rng)
        self._shut = np.where(here, 0.0, np.inf)
        chance = np.where(
            fence.allowed & here[:, None], rng.random((many, count, kinds)), -1.0
        )
        self.x: Ints = np.argmax(chance, axis=2)
        self._beside, self._gain, self._broken = _tables(taste, fence)
        self._start = np.cumsum([0, *map(len, self._beside)])
        self._table = -self._gain
        row = self._row[:, None]
        self._number = np.zeros((many, kinds), np.int64)
        np.add.at(self._number, (row, self.x), 1)
        self._share = np.zeros((many, kinds))
        np.add.at(self._share, (row, self.x), taste.area)
        zones, width = taste.hues_cost.shape
        self._hues = np.zeros((many, zones, width - 1), np.int64)
        np.add.at(self._hues, (row, taste.zone, taste.hue[self.x]), 1)

    def set_price(self, price: float) -> None:
        """Set what a broken link costs."""
        self._table = price * self._broken - self._gain

    def choose(self, c: int, heat: float, rng: np.random.Generator) -> None:
        """Let one class of each assignment choose a swatch."""
        taste, row, old = self.taste, self._row, self.x[:, c]
        area, zone = taste.area[c], int(taste.zone[c])
        self._number[row, old] -= 1
        self._share[row, old] -= area
        hues = self._hues[:, zone]
        hues[row, taste.hue[old]] -= 1
        ends = self.x[:, self._beside[c]]
        at = np.arange(self._start[c], self._start[c + 1])
        cost = self._shut + self._cost[c] + self._table[at, ends].sum(axis=1)
        miss = self._share - taste.target
        cost += taste.strength * area * (2.0 * miss + area)
        cost -= np.where(self._number == 0, taste.used_gain, 0.0)
        if taste.tone.any():
            wide = beyond_narrow(self._share)
            more = beyond_narrow(self._share + area) - wide
            cost += 2.0 * more * (wide @ taste.tone)
        cost += self._hue_cost(hues, zone)
        chance = -np.log(-np.log(rng.random(cost.shape)))  # Gumbel: the least is a draw
        new = np.argmin(cost - heat * chance, axis=1)
        self.x[:, c] = new
        self._number[row, new] += 1
        self._share[row, new] += area
        hues[row, taste.hue[new]] += 1

    def _hue_cost(self, hues: Ints, zone: int) -> Floats:
        """Return what each swatch costs in hues of a zone, (M, K)."""
        cost, hue = self.taste.hues_cost[zone], self.taste.hue
        seen: Bools = hues > 0
        now = seen[:, :-1].sum(axis=1)
        comes = ~seen[:, hue] & (hue < hues.shape[1] - 1)
        found: Floats = np.where(comes, (cost[now + 1] - cost[now])[:, None], 0.0)
        return found


def _tables(taste: Taste, fence: Fence) -> tuple[list[Ints], Floats, Floats]:
    """Return the classes beside each class, and what pairs of swatches gain and break.

    The latter two (D, K, K): for all those beside the first class, then the second and
    so on; by the other's swatch and one's own.
    """
    count, kinds = taste.cost.shape
    rows = [(b.links, b.weight, b.gain, 0) for b in taste.bonds]
    for links, allowed in fence.walls:
        rows.append((links, np.ones(len(links)), (~allowed).astype(float), 1))
    near: list[dict[int, Floats]] = [{} for _ in range(count)]
    for links, weight, table, what in rows:
        for (a, b), w in zip(links.tolist(), weight.tolist(), strict=True):
            for own, other in ((a, b), (b, a)):
                both = near[own].setdefault(other, np.zeros((2, kinds, kinds)))
                both[what] += w * table
    beside = [np.array(sorted(row), np.int64) for row in near]
    tables = [row[k] for row in near for k in sorted(row)]
    both = np.array(tables).reshape(-1, 2, kinds, kinds)
    return beside, both[:, 0], both[:, 1]
