"""Which packages hold a need: at least cost where prices are known, else the fewest."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


_MOST_OVER = 3.0
_MOST_STEPS = 200_000
_EVEN = 1e-9


def pick_containers(
    need: float, sizes: Iterable[float]
) -> tuple[tuple[float, int], ...]:
    """Choose the fewest containers that hold a volume.

    `need`: volume, mL. Returns size and count, large ones first: the fewest that hold
    it, of these the ones with the least left over. A container of more than three times
    the need is taken only where it is the smallest.
    """
    falling = sorted({float(s) for s in sizes if s > 0}, reverse=True)
    if need <= 0 or not falling:
        return ()
    fitting = [s for s in falling if s <= _MOST_OVER * need] or falling[-1:]
    return _least(need, [(size, 1.0) for size in fitting])


def pick_priced(
    need: float, prices: Iterable[tuple[float, float]]
) -> tuple[tuple[float, int], ...]:
    """Choose the packages that hold a need at least cost.

    `need`: how much, in the unit of the sizes. `prices`: size and its price. Returns
    size and count, large ones first; of equal costs the fewest packages.

    A covering knapsack, by depth first with the bound need / size x price of the
    best rate that is left. It is exact; should the search be cut (200,000 steps,
    never met with twelve sizes and real prices), the best found is given.
    """
    listed = [(float(s), float(p)) for s, p in prices if s > 0 and p >= 0]
    if need <= 0 or not listed:
        return ()
    return _least(need, listed)


def _least(
    need: float, items: list[tuple[float, float]]
) -> tuple[tuple[float, int], ...]:
    """Return the cover of least cost, then of fewest pieces, then least volume."""
    # the best rate first makes the bound sharp
    items = sorted(items, key=lambda i: (i[1] / i[0], -i[0]))
    rates = [min(p / s for s, p in items[k:]) for k in range(len(items))]
    best: tuple[float, int, float] | None = None
    chosen: tuple[int, ...] = ()
    steps = 0

    def _search(k: int, left: float, cost: float, counts: tuple[int, ...]) -> None:
        nonlocal best, chosen, steps
        steps += 1
        if left <= _EVEN * need:
            volume = math.fsum(n * items[i][0] for i, n in enumerate(counts))
            weighed = (round(cost, 9), sum(counts), round(volume, 9))
            if best is None or weighed < best:
                best, chosen = weighed, counts
            return
        if k == len(items) or steps > _MOST_STEPS:
            return
        if best is not None and cost + left * rates[k] > best[0] + 1e-9:
            return
        size, price = items[k]
        # a share of what is left, so that the least need takes a package too
        most = math.ceil(left / size * (1.0 - _EVEN))
        if k + 1 == len(items):
            _search(k + 1, left - most * size, cost + most * price, (*counts, most))
            return
        for count in range(most, -1, -1):
            rest, paid = max(left - count * size, 0.0), cost + count * price
            worse = best is not None and paid + rest * rates[k + 1] > best[0] + 1e-9
            if steps > _MOST_STEPS or (worse and count < most):
                # fewer of the best rate only make the bound worse
                break
            if worse:
                continue
            _search(k + 1, left - count * size, paid, (*counts, count))

    _search(0, need, 0.0, ())
    found = [(items[i][0], n) for i, n in enumerate(chosen) if n]
    return tuple(sorted(found, reverse=True))
