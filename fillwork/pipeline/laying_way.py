"""Which of several ways a cell goes on, and what is told where no line decides."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError
from fillwork.geometry import affine
from fillwork.laying.field import lay_motif
from fillwork.laying.joins import make_motif, weigh_way
from fillwork.laying.panel import rectangle_panel
from fillwork.laying.ways import find_ways, way_number
from fillwork.notes import Note
from fillwork.units import counted

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.laying.model import Cell, Way

_ALIKE = 0.5  # half of what one line that meets another counts


def choose_way(
    cell: Cell, by: str, group: str, slack: float
) -> tuple[Way, tuple[Note, ...]]:
    """Return the way in which most lines meet others at the joins.

    `by`: how it goes on, as the user wrote it. `group`: the group named; empty for
    none. `slack`: largest misfit that is closed, mm. Returns `way`: the way; `notes`:
    that others serve as well, where they do, and how to take them. Raises `PlanError`
    if there are fewer ways than the number asked for.
    """
    rest, number = way_number(by)
    ways = find_ways(cell.outline, rest, group, slack=max(slack, 0.01))
    if number is not None:
        if not 1 <= number <= len(ways):
            what = f"--by “{by}”: it has {counted(len(ways), 'way')}"
            raise PlanError(what, mend="take one of them, or leave the number out")
        return ways[number - 1], ()
    if len(ways) == 1:
        return ways[0], ()
    weights = [weigh_way(cell, way, slack=slack) for way in ways]
    # a last bit does not decide between two that are as good
    order = sorted(range(len(ways)), key=lambda k: (round(weights[k], 6), k))
    best = order[0]
    close = [k for k in order[1:] if weights[k] - weights[best] < _ALIKE]
    ours = _shown(cell, ways[best], ways[best], slack)
    other = [
        k for k in close if _differ(ours, _shown(cell, ways[k], ways[best], slack))
    ]
    if not other:
        return ways[best], ()
    told = "; ".join(
        f"--by “{f'{rest} way {k + 1}'.strip()}”: {_words(ways[k])}"
        for k in sorted(other)[:3]
    )
    text = (
        f"the lines do not say in which of {len(other) + 1} ways of {ways[best].name} "
        f"the cell goes on; taken is way {best + 1}, {_words(ways[best])}"
    )
    return ways[best], (Note("laying", "way in doubt", text, remedy=f"see {told}"),)


def _words(way: Way) -> str:
    """Return the shifts of a way, and which way its mirrors run, in words."""
    rows = (np.round(way.basis, 2) + 0.0).tolist()
    shifts = " and ".join(f"{x:g},{y:g}" for x, y in rows)
    mirrors = set()
    for g in way.operations:
        m = affine.linear(g)
        if np.linalg.det(m) < 0:
            angle = np.degrees(np.arctan2(m[1, 0], m[0, 0])) / 2 % 180
            mirrors.add(round(float(angle)) % 180)
    across = ", ".join(f"{a}°" for a in sorted(mirrors))
    return f"shifts {shifts}" + (
        f" with mirrors or glides at {across}" if across else ""
    )


def _shown(cell: Cell, way: Way, of: Way, slack: float) -> Floats:
    """Return middles and lengths of what a way lays over some cells of another."""
    motif = make_motif(cell, way, slack=slack)
    span = np.ptp(of.outline, axis=0)
    window = rectangle_panel(*(3.1 * span).tolist())
    place = affine.translation(*(1.05 * span - of.outline.min(axis=0)).tolist())
    laid, _ = lay_motif(motif, window, place)
    middles = laid.point(np.arange(len(laid)), np.full(len(laid), 0.5))
    return np.column_stack([middles, laid.lengths()])


def _differ(one: Floats, two: Floats) -> bool:
    from scipy.spatial import cKDTree

    if len(one) != len(two):
        return True
    if len(one) == 0:
        return False
    off, _ = cKDTree(two).query(one)
    return bool(np.max(off) > 1e-3)
