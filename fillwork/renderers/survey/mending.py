"""Order what is not clean in a drawing: what was left first, trifles in one line."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from fillwork.units import plain

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fillwork.arrangement.model import Defect


_TRIFLE = 1.0
"""What was mended and is not larger is a trifle, mm of the drawing."""


def sort_defects(defects: Iterable[Defect]) -> tuple[Defect, ...]:
    """Return defects in the order in which a maker looks at them.

    Those that were left, then those that were mended, each largest first.
    """
    return tuple(sorted(defects, key=lambda d: (d.done != "left", -d.size, d.at)))


def split_defects(
    defects: Iterable[Defect],
) -> tuple[tuple[Defect, ...], tuple[Defect, ...]]:
    """Return what is worth a look, and trifles.

    Returns `shown`: what was left, or was large; in the order of `sort_defects`;
    `trifles`: what was mended and is small, and doubled lines, which lose nothing.
    """
    ordered = sort_defects(defects)
    small = [d.done != "left" and (d.size <= _TRIFLE or _whole(d)) for d in ordered]
    return (
        tuple(d for d, s in zip(ordered, small, strict=True) if not s),
        tuple(d for d, s in zip(ordered, small, strict=True) if s),
    )


def _whole(defect: Defect) -> bool:
    return defect.type == "doubled" and defect.done == "merged"


def mended_words(trifles: Iterable[Defect]) -> tuple[str, str]:
    """Return trifles in one line, and of what sorts they are.

    Returns `line`: how many were mended, and the largest; empty for none; `sorts`: how
    many of each sort.
    """
    every = tuple(trifles)
    if not every:
        return "", ""
    counts = Counter((d.type, d.done) for d in every)
    sorts = ", ".join(
        f"{n} {kind} {done}" for (kind, done), n in sorted(counts.items())
    )
    small = [d for d in every if not _whole(d)]
    words = []
    if small:
        largest = max(small, key=lambda d: d.size)
        ones = "one" if len(small) == 1 else "ones"
        x, y = largest.at
        of = "of" if len(small) == 1 else "the largest"
        words.append(
            f"{len(small)} small {ones} mended, {of} {plain(largest.size, 2)} mm at "
            f"@{x:.1f},{y:.1f}"
        )
    doubled = len(every) - len(small)
    if doubled:
        lines = "line" if doubled == 1 else "lines"
        words.append(f"{doubled} {lines} drawn twice merged")
    return "; ".join(words), sorts
