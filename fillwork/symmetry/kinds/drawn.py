"""The face that stands for each place of a repeat, and what is drawn of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.kinds.pieces import inner_share, sample_points

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.symmetry.quotient import Quotient

# a piece belongs to the whole face that holds at least this share of it
PIECE = 0.6
# a piece whose inscribed circle is smaller, in sigmas, is hardly more than noise
_THIN = 4.0
# share of a piece's own edges that may run inside the whole face
_DRAWN_INSIDE = 0.15


@dataclass(slots=True, eq=False)
class Places:
    """Work in progress: rows are places (translation classes)."""

    kind: Ints
    operation: Ints
    stabiliser: dict[int, frozenset[int]]


@dataclass(slots=True, eq=False)
class Drawn:
    """The face that stands for each place, and what is drawn of it."""

    arrangement: Arrangement
    heads: AnyInts
    sides: Ints
    noise: float
    _outer: Bools | None = None

    def polygons(self, places: AnyInts) -> NDArray[Any]:
        """Return the outlines of places."""
        return self.arrangement.polygons(self.heads[places])

    def points(self, places: AnyInts) -> tuple[Floats, Ints]:
        """Return points spread over places, and the row of each.

        A piece hardly wider than lines stray may lie beyond the mean line of its
        neighbour; its points are taken behind the frame, where its face goes on.
        """
        points, row = sample_points(self.arrangement, self.heads[places])
        a = self.arrangement
        thin = np.flatnonzero(a.inscribed[self.heads[places]] < _THIN * self.noise)
        if len(thin) == 0:
            return points, row
        row_of = np.full(a.face_count, -1, dtype=np.int64)
        row_of[self.heads[places][thin]] = thin
        side = self.sides[row_of[a.face[self.sides]] >= 0]
        p = a.vertices[a.origin[side]]
        step = a.vertices[a.origin[side ^ 1]] - p
        length = np.maximum(np.hypot(*step.T), 1e-300)
        # the face lies to the left of its sides
        out = np.column_stack([step[:, 1], -step[:, 0]]) / length[:, None]
        own = row_of[a.face[side]]
        parts = [
            p + share * step + depth * self.noise * out
            for share in (0.25, 0.5, 0.75)
            for depth in (2.0, 4.0)
        ]
        keep = ~np.isin(row, own)
        points = np.concatenate([points[keep], *parts])
        row = np.concatenate([row[keep], *[own] * len(parts)])
        order = np.argsort(row, kind="stable")
        return points[order], row[order]

    def own_edges(self, place: int) -> Floats:
        """Return points along the edges of a place that no frame drew."""
        a = self.arrangement
        if self._outer is None:
            self._outer = np.zeros(len(a.origin), dtype=bool)
            self._outer[self.sides] = True
        half = np.concatenate(a.face_half_edges(int(self.heads[place])))
        half = half[~self._outer[half]]
        p, q = a.vertices[a.origin[half]], a.vertices[a.origin[half ^ 1]]
        step = np.hypot(*(q - p).T)
        if step.sum() == 0:
            return np.zeros((0, 2))
        # some twenty points, evenly along the edges
        ends = np.cumsum(step)
        at = (np.arange(20) + 0.5) / 20 * ends[-1]
        k = np.minimum(np.searchsorted(ends, at), len(ends) - 1)
        t = (at - (ends[k] - step[k])) / np.maximum(step[k], 1e-300)
        return np.asarray(p[k] + t[:, None] * (q[k] - p[k]))

    def drawn_inside(
        self, place: int, points: Floats, whole: int, operation: int, quotient: Quotient
    ) -> bool:
        """Tell whether edges of a place run inside the whole face it lies in."""
        slack = 4.0 * self.noise + 2.0 * self.arrangement.tolerance.flatten
        polygon = self.polygons(np.array([whole]))[0]
        edges = self.own_edges(place)
        share = inner_share(points, edges, polygon, quotient, operation, slack)
        return share > _DRAWN_INSIDE
