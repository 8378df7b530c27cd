"""Which paints can be taped in one go.

Tape lies half on its neighbour: two regions that share an edge cannot be taped at
once. Paints are the corners of a graph, those that share an edge are joined, and a
*round* is a set of paints of which no two are joined: a colouring of that graph
with the fewest colours. It is exact up to `_EXACT` paints within a number of
steps; beyond, the greedy colouring of the fullest paints first is taken.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import Bools

_EXACT = 40
_MOST_STEPS = 200_000


def find_rounds(touching: Bools) -> tuple[int, ...]:
    """Return the round of each paint, with as few rounds as may be.

    Round of each paint, from 0, numbered as they first occur. `touching` (n, n):
    whether two paints share an edge; symmetric, the diagonal does not count.
    """
    n = len(touching)
    if n == 0:
        return ()
    near = [{int(j) for j in np.flatnonzero(touching[i]) if j != i} for i in range(n)]
    best = _greedy(near)
    if n <= _EXACT:
        best = _exact(near, best)
    seen: dict[int, int] = {}
    return tuple(seen.setdefault(r, len(seen)) for r in best)


def _next(near: list[set[int]], rounds: list[int]) -> int:
    """Return the paint with the fewest rounds left, of these the fullest."""
    return max(
        (i for i, r in enumerate(rounds) if r < 0),
        key=lambda i: (
            len({rounds[j] for j in near[i] if rounds[j] >= 0}),
            len(near[i]),
            -i,
        ),
    )


def _greedy(near: list[set[int]]) -> list[int]:
    rounds = [-1] * len(near)
    for _ in near:
        i = _next(near, rounds)
        taken = {rounds[j] for j in near[i]}
        rounds[i] = next(r for r in range(len(near)) if r not in taken)
    return rounds


def _clique(near: list[set[int]]) -> int:
    """Return the size of a set of paints that all touch, found greedily."""
    most = 1
    for start in range(len(near)):
        members, left = {start}, set(near[start])
        while left:
            i = max(left, key=lambda j: (len(near[j] & left), -j))
            members.add(i)
            left &= near[i]
        most = max(most, len(members))
    return most


def _exact(near: list[set[int]], best: list[int]) -> list[int]:
    """Try fewer and fewer rounds until none fits or all touch anyway."""
    least = _clique(near)
    steps = 0

    def _fill(rounds: list[int], used: int, most: int) -> bool:
        nonlocal steps
        steps += 1
        if steps > _MOST_STEPS:
            return False
        if all(r >= 0 for r in rounds):
            return True
        i = _next(near, rounds)
        taken = {rounds[j] for j in near[i]}
        for r in range(min(used + 1, most)):
            if r in taken:
                continue
            rounds[i] = r
            if _fill(rounds, max(used, r + 1), most):
                return True
            rounds[i] = -1
        return False

    while max(best) + 1 > least:
        rounds = [-1] * len(near)
        if not _fill(rounds, 0, max(best)):
            break
        best = rounds
    return best
