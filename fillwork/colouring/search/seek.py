"""Seek the assignment that a painter would like best among those that keep kinds apart.

Where bettering begins decides in which assignment it ends, and a start made in the
order of the kinds lets that order decide. So many are cooled side by side, and the best
of them bettered step by step.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.anneal import anneal
from fillwork.colouring.search.improve import improve
from fillwork.colouring.search.reaching import rank_swatches
from fillwork.colouring.search.solve import no_tick, solve_threshold
from fillwork.errors import ColouringError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from fillwork.arrays import Ints
    from fillwork.colouring.search.setting import Setting
    from fillwork.colouring.search.taste import Taste

_SOME = 400  # classes up to which assignments are cooled
_MANY = 48  # assignments cooled side by side
_CHOICES = 1_000  # choices of each, where classes are few enough for `_SWEEPS`
_SWEEPS = 12, 80  # least and most times that each class chooses
_WALLS = 12  # times that assignments are bettered while their widest paints are parted


def find_assignment(
    setting: Setting,
    *,
    seed: int,
    taste: Taste | None = None,
    tries: int | None = None,
    tick: Callable[[], None] = no_tick,
) -> tuple[Ints, float]:
    """Find a good assignment that keeps the threshold.

    `seed`: for choices among equals. `tries`: those that are bettered; by default more
    for few classes. `tick`: called now and then; what it raises ends the search.
    Returns `swatches` (N,): swatch of each class; `cost`: its cost by the taste; lower
    is better.
    """
    taste = setting.taste if taste is None else taste
    count = len(taste.cost)
    if tries is None:
        tries = 3 if count <= 30 else 2 if count <= 120 else 1
    better = functools.partial(
        improve,
        fence=setting.fence,
        steps=min(600, 120 + 6 * count) if count <= _SOME else 60,
        seed=seed,
        tick=tick,
    )
    best: Ints | None = None
    best_cost, walls = np.inf, 0
    for start in _starts(setting, taste, seed, tries, tick):
        guide: Taste | None = taste
        x = start
        while guide is not None:
            x, _ = better(guide, start=x)
            # by its own two widest paints, whatever led there
            parted = taste.part_widest(x)
            cost = (taste if parted is None else parted).measure(x)
            if cost < best_cost - 1e-12:
                best, best_cost = x, cost
            walls += 1
            guide = guide.part_widest(x) if walls <= _WALLS else None
    if best is None:
        what = "no assignment was found within the steps allowed"
        mend = "ask for less: a lower --goal, fewer bans, or more swatches"
        raise ColouringError(what, mend=mend)
    return best, taste.measure(best)


def _starts(
    setting: Setting, taste: Taste, seed: int, tries: int, tick: Callable[[], None]
) -> Iterator[Ints]:
    """Yield assignments to begin with, which keep the threshold."""
    count = len(taste.cost)
    if 0 < count <= _SOME:
        least, most = _SWEEPS
        sweeps = max(least, min(most, _CHOICES // count))
        cooled = anneal(
            taste, setting.fence, many=_MANY, sweeps=sweeps, seed=seed, tick=tick
        )
        yield from cooled[:tries]
        if len(cooled):
            return
    found = setting.start if taste is setting.taste else None
    if found is None:
        _, found = solve_threshold(
            setting.problem,
            setting.threshold,
            limit=500 + 2 * count,
            ranks=rank_swatches(taste, seed),
            seed=seed,
            tick=tick,
        )
    found = setting.best.swatches if found is None else found
    if found is not None:
        yield np.array(found, np.int64)
