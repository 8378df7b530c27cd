"""What is found between chords, gathered part by part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    from fillwork.arrangement.limits import Limits
    from fillwork.arrays import Floats, Ints32
    from fillwork.geometry.curves import Curves


@dataclass(frozen=True, slots=True, eq=False)
class Meetings:
    """Hold what was found between chords."""

    cross_curve: Ints32  # (n, 2): pairs of curves that cross or touch
    cross_t: Floats  # (n, 2): parameters there
    # (n,): smallest distance of one of the four chord ends from the other chord;
    # infinite for crossings of true curves
    clearance: Floats
    # (n,): distance of the two curves there: above 0 only for a near touch
    apart: Floats
    on_curve: Ints32  # (m,): curves that a chord end lies on
    on_t: Floats  # (m,): parameter there
    on_point: Ints32  # (m,): the point: number of the chord end
    on_distance: Floats  # (m,): its distance from the curve
    # distances above 0 between ends of different chords, within reach
    end_distance: Floats


class Found:
    """Gather chunks of what was found."""

    def __init__(self, curves: Curves, limits: Limits) -> None:
        self.curves, self.limits = curves, limits
        self.cross: list[tuple[Ints32, Floats]] = []
        self.clear: list[tuple[Floats, Floats]] = []
        self.on: list[tuple[Ints32, Floats, Ints32, Floats]] = []
        self.ends: list[Floats] = []
        self.count = 0
        self.pairs = 0

    def count_pairs(self, pairs: int) -> None:
        """Refuse more pairs of near lines than the limit."""
        self.pairs += pairs
        self.limits.refuse_above("near_pairs", self.pairs)

    def crossed(self, pair: Ints32, place: Floats, apart: Floats) -> None:
        """Take up where true curves cross."""
        self.cross.append((pair, place))
        self.clear.append((clearances(self.curves, pair, place), apart))
        self.told(len(pair))

    def landed(self, curve: Ints32, t: Floats, point: Ints32, distance: Floats) -> None:
        """Take up which ends lie on true curves."""
        self.on.append((curve, t, point, distance))
        self.told(len(curve))

    def told(self, more: int = 0) -> None:
        """Count so many more, and refuse more crossings than the limit."""
        self.count += more
        self.limits.refuse_above("crossings", self.count)

    def meetings(self) -> Meetings:
        """Return all that was found."""

        def join(parts: list[Any], shape: int = 0) -> NDArray[Any]:
            """Return all parts end to end."""
            if parts:
                return np.concatenate(parts)
            return np.empty((0, shape) if shape else 0)

        return Meetings(
            join([c for c, _ in self.cross], 2).astype(np.int32),
            join([t for _, t in self.cross], 2),
            join([c for c, _ in self.clear]),
            join([d for _, d in self.clear]),
            join([o[0] for o in self.on]).astype(np.int32),
            join([o[1] for o in self.on]),
            join([o[2] for o in self.on]).astype(np.int32),
            join([o[3] for o in self.on]),
            join(self.ends),
        )


def clearances(curves: Curves, pair: Ints32, place: Floats) -> Floats:
    """Return how far curves part between where they meet and their nearest end.

    Within the slack, an end of one lies on the other and they meet there: the
    crossing further on, of a line that leaves an arc along its tangent, is chance.

    `pair` (n, 2): curves that meet. `place` (n, 2): parameters where they do. Returns
    (n,): distances, mm; infinite where no end lies beside the other curve.
    """
    clear = np.full(len(pair), np.inf)
    meeting = curves.point(pair[:, 0], place[:, 0])
    for own, other in ((0, 1), (1, 0)):
        a, b = pair[:, own], pair[:, other]
        slope = curves.derivative(b, place[:, other])
        speed = np.maximum((slope * slope).sum(axis=1), 1e-300)
        for end in (0.0, 1.0):
            gap = np.zeros(len(pair))
            for share in (0.5, 1.0):
                t = place[:, own] + share * (end - place[:, own])
                at = curves.point(a, t)
                u = place[:, other] + ((at - meeting) * slope).sum(axis=1) / speed
                off = at - curves.point(b, np.clip(u, 0.0, 1.0))
                off = np.where((u < 0) | (u > 1), np.inf, np.hypot(*off.T))
                gap = np.maximum(gap, off)
            clear = np.minimum(clear, gap)
    return clear
