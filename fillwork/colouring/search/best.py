"""The largest smallest difference that the swatches of a problem allow.

Differences are tried from both sides: what an assignment reaches is possible, what a
whole search denies is not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.solve import (
    LEAST,
    MANY,
    Problem,
    neighbours,
    solve_threshold,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fillwork.arrays import Floats


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
