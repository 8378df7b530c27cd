"""How far apart touching classes are kept, as a drawing asks for it.

The search of `best`, with few swatches, swatches meant for regions or the order of
taste first, where there are many.
"""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.best import find_best_threshold
from fillwork.colouring.search.least import keep_few
from fillwork.colouring.search.meant import open_only
from fillwork.colouring.search.solve import LEAST, MANY

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrays import Bools
    from fillwork.colouring.model import Rules
    from fillwork.colouring.search.best import Best
    from fillwork.colouring.search.solve import Problem
    from fillwork.colouring.search.taste import Taste
    from fillwork.colouring.search.wishes import Classes


def limit_of(classes: Classes) -> int:
    """Return the decisions allowed for each threshold tried."""
    return 5000 + 2 * classes.count


def find_best(
    classes: Classes,
    problem: Problem,
    rules: Rules,
    tell: Callable[[float], None],
    open_to: Bools | None = None,
    taste: Taste | None = None,
) -> Best:
    """Search the largest smallest difference, with few swatches in two ways.

    Which of many swatches to take makes a search wide. Where it does not end, those
    that lie far apart are taken by themselves, and the better answer is kept. Of many
    classes nothing beyond the goal is sought, so the swatches meant for regions come
    first, and each class tries them in the order of taste.
    """
    search = functools.partial(
        find_best_threshold,
        goal=rules.goal_difference,
        limit=limit_of(classes),
        seed=rules.seed,
        progress=tell,
    )
    ranks = None if taste is None else rank_swatches(taste, rules.seed)
    many = classes.count > MANY and len(problem.contrast) > 0
    if many and open_to is not None and not open_to.all():
        best = search(open_only(problem, open_to), ranks=ranks)
        if worth_of(best, rules) >= rules.goal_difference - LEAST:
            top = float(problem.differences.max())
            return replace(best, bound=top, proven=best.reached >= top)
    few = keep_few(problem)
    if few is None:
        return search(problem, ranks=ranks)
    found = search(few)
    if found.separable is False and len(set(problem.domain)) == 1:
        return found  # where all are open to all, any so many are as good
    best = search(problem, ranks=ranks)
    if best.proven or worth_of(found, rules) <= worth_of(best, rules) + LEAST:
        return best
    bound = float(problem.differences.max()) if math.isnan(best.bound) else best.bound
    return replace(found, bound=bound, proven=False)


def worth_of(best: Best, rules: Rules) -> float:
    """Return the smallest difference reached as far as the goal counts it.

    -1 where touching classes were not kept apart.
    """
    if best.swatches is None:
        return -1.0
    if math.isnan(best.reached):  # nothing touches
        return rules.goal_difference
    return min(best.reached, rules.goal_difference)


def kept_apart(problem: Problem, best: Best) -> bool:
    """Say whether what was found keeps touching classes of a problem unlike."""
    if best.swatches is None:
        return False
    ends = np.array(best.swatches)[problem.contrast]
    return bool((problem.differences[ends[:, 0], ends[:, 1]] > LEAST).all())


def rank_swatches(taste: Taste, seed: int) -> list[list[int]]:
    """Return for each class the swatches by their cost, with a little of chance."""
    rng = np.random.default_rng([seed, 0])
    scale = max(float(np.abs(taste.cost).max()), 1e-9)
    wish = taste.cost / scale + 0.3 * rng.random(taste.cost.shape)
    ranks: list[list[int]] = np.argsort(wish, axis=1, kind="stable").tolist()
    return ranks
