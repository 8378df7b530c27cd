"""Which swatches are meant for regions, and for which classes they are left open.

Paints of lines stay out of regions unless a pin, a share or the ground asks for them
there, or the rest does not suffice.
"""

from __future__ import annotations

import contextlib
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.search.solve import Problem, solve_threshold

if TYPE_CHECKING:
    from fillwork.arrays import Bools
    from fillwork.colouring.search.best import Best
    from fillwork.colouring.search.wishes import Classes, Given


def open_to_regions(given: Given, classes: Classes) -> Bools:
    """Say which swatches are meant for regions: not those of lines."""
    open_to = np.array([swatch.role != "line" for swatch in given.palette.swatches])
    if (line := line_paint(given)) is not None:
        open_to[line] = False
    for j, share in given.asked.items():
        open_to[j] = share > 0.0
    if given.ground is not None:
        open_to[given.ground] = True
    for mask in classes.domain:
        if mask & (mask - 1) == 0:
            open_to[mask.bit_length() - 1] = True
    if not open_to.any():
        open_to[:] = True
    return open_to


def line_paint(given: Given) -> int | None:
    """Return the swatch of the outline; None where it is a colour of its own."""
    outline = given.rules.outline
    if outline and outline != "none":
        with contextlib.suppress(KeyError):
            return given.palette.index(outline)
    return None


def keep_line_out(classes: Classes, given: Given) -> Classes:
    """Leave the outline's paint out of regions, unless it is asked for there.

    The same classes where nothing is left out.
    """
    line = line_paint(given)
    if line is None or line == given.ground or given.asked.get(line, 0.0) > 0.0:
        return classes
    others = ~(1 << line)
    everything = (1 << len(given.palette.swatches)) - 1
    domain = tuple(d & others if d & others & everything else d for d in classes.domain)
    return classes if domain == classes.domain else replace(classes, domain=domain)


def open_only(problem: Problem, open_to: Bools) -> Problem:
    """Return the problem with the swatches meant for regions, where a class has any."""
    mask = sum(1 << int(j) for j in np.flatnonzero(open_to))
    return replace(problem, domain=tuple(d & mask or d for d in problem.domain))


def keep_open(
    problem: Problem,
    best: Best,
    threshold: float,
    open_to: Bools,
    limit: int,
    seed: int,
) -> tuple[Problem, Best]:
    """Leave out swatches not meant for regions where the rest suffice."""
    if open_to.all():
        return problem, best
    narrow = open_only(problem, open_to)
    if best.swatches is not None and all(
        d >> s & 1 for d, s in zip(narrow.domain, best.swatches, strict=True)
    ):
        return narrow, best
    answer, found = solve_threshold(narrow, threshold, limit=limit, seed=seed)
    if answer is True:
        return narrow, replace(best, swatches=found)
    return problem, best
