"""The exact geometry of pieces: lines and arcs from vertex to vertex, or Béziers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, CUBIC, LINE
from fillwork.readers.scan.circles import far, length, unit

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

    from fillwork.arrays import Floats, Ints
    from fillwork.readers.scan.model import Drawing, Piece


@dataclass(frozen=True)
class Trails:
    """Hold places along all pieces of a drawing, 2 px apart."""

    lines: list[Floats]  # (n, 2): of each piece, px
    points: Floats  # (n, 2): all of them
    owner: Ints  # (n,): which piece each is of
    width: float  # width of the pen's line, px

    @classmethod
    def along(cls, drawing: Drawing) -> Trails:
        """Return the places along the pieces as they are now."""
        lines = [trail(drawing, piece, 2.0) for piece in drawing.pieces]
        owner = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
        return cls(lines, np.vstack([np.empty((0, 2)), *lines]), owner, drawing.width)

    @cached_property
    def tree(self) -> cKDTree:
        """Return a tree of all places."""
        from scipy.spatial import cKDTree

        return cKDTree(self.points)

    def around(self, place: Floats, reach: float) -> Ints:
        """Return which places lie in a box around one. `reach`: px to each side."""
        return np.flatnonzero((np.abs(self.points - place) < reach).all(axis=1))

    def ahead(
        self, near: Ints, place: Floats, way: Floats, own: int
    ) -> tuple[float, int] | None:
        """Return what line an end would meet first if it went straight on.

        `near` (n,): places that are asked. `place` and `way` (2,): the end, and its
        direction. `own`: the end's own piece. Returns how far away, px, and the piece.
        """
        owner, off = self.owner[near], self.points[near] - place
        along = off @ way
        across = np.abs(off[:, 0] * way[1] - off[:, 1] * way[0])
        good = (across < 1.6) & (along > -0.3 * self.width)
        good &= (owner != own) | (along > 3.0 * self.width)
        if not good.any():
            return None
        k = int(np.argmin(np.where(good, along, np.inf)))
        return max(float(along[k]), 0.1), int(owner[k])


def heading(points: Floats, end: int) -> Floats:
    """Return the direction in which a line leaves its end.

    `points` (n, 2): places along it, px. `end`: 0 for the first, -1 for the last.
    Returns (2,): of length one.
    """
    line = points if end == 0 else points[::-1]
    return unit(line[0] - line[min(3, len(line) - 1)])


def piece_rows(drawing: Drawing, piece: Piece) -> list[tuple[int, tuple[float, ...]]]:
    """Return a piece as curves, end to end, px, y down.

    Kind and numbers of each curve, as in `Curves`.

    An arc goes through both its vertices exactly and through the middle of its
    stretch of the circle, so its own centre may miss the circle's by a hair.
    """
    if piece.curve:
        return list(piece.curve)
    rows: list[tuple[int, tuple[float, ...]]] = []
    back = _backward(drawing, piece) if piece.circle else frozenset()
    steps = zip(piece.vertices[:-1], piece.vertices[1:], strict=True)
    for k, (a, b) in enumerate(steps):
        p, q = drawing.vertices[a], drawing.vertices[b]
        if piece.circle and k not in back:
            row = arc_row(p, q, piece.carrier, piece.turn, whole=a == b)
            if row is not None:
                rows.append((ARC, row))
                continue
        if a != b:
            rows.append((LINE, (*map(float, p), *map(float, q), 0.0, 0.0, 0.0, 0.0)))
    return rows


def _backward(drawing: Drawing, piece: Piece) -> frozenset[int]:
    """Return the steps of an arc that go back a hair, not once around its circle."""
    off = np.array([drawing.vertices[v] for v in piece.vertices]) - piece.carrier[:2]
    steps = piece.sign * np.diff(np.arctan2(off[:, 1], off[:, 0])) % (2 * np.pi)
    excess = round(float(steps.sum() - abs(piece.turn)) / (2 * np.pi))
    return frozenset(np.argsort(-steps)[: max(0, excess)].tolist())


def arc_row(
    p: Floats, q: Floats, circle: Floats, most: float, *, whole: bool
) -> tuple[float, ...] | None:
    """Return an arc through two places as a row of `Curves`.

    None where the places are no arc of that circle. `p` and `q` (2,): its ends, near
    the circle. `circle` (3,): centre and radius (x, y, r). `most`: signed angle, rad,
    that it turns by no more than about. `whole`: whether it is the whole circle, from p
    to p.
    """
    centre, radius = circle[:2], float(circle[2])
    start = float(np.arctan2(*(p - centre)[::-1]))
    sign = 1.0 if most > 0 else -1.0
    if whole:
        turn = sign * 2 * np.pi
    else:
        stop = float(np.arctan2(*(q - centre)[::-1]))
        turn = sign * (sign * (stop - start) % (2 * np.pi))
        if abs(turn) > abs(most) + 1.0:
            return None
        chord = q - p
        long = far(p, q)
        if long < 1e-9 or abs(turn) < 1e-4:
            return None
        half = start + turn / 2
        middle = centre + radius * np.array([np.cos(half), np.sin(half)]) - (p + q) / 2
        # a quarter of an arc's turn is seen from its end between chord and middle
        rise = sign * float(chord[1] * middle[0] - chord[0] * middle[1]) / long
        turn = sign * 4.0 * float(np.arctan2(2.0 * rise, long))
        if sign * turn < 1e-4:
            return None
        sine = np.sin(turn / 2)
        radius = long / (2 * abs(sine))
        normal = np.array([-chord[1], chord[0]]) / long
        centre = (p + q) / 2 + normal * (long / 2) * np.cos(turn / 2) / sine
        start = float(np.arctan2(*(p - centre)[::-1]))
    return (
        float(centre[0]), float(centre[1]), radius, 0.0, 0.0, radius,
        start, start + float(turn),
    )  # fmt: skip


def trail(drawing: Drawing, piece: Piece, step: float) -> Floats:
    """Return points along a piece.

    `step`: distance from one to the next, px. Returns (n, 2): px, both ends included.
    """
    parts = [drawing.vertices[piece.vertices[0]][None]]
    for kind, row in piece_rows(drawing, piece):
        if kind == LINE:
            p, q = np.array(row[:2]), np.array(row[2:4])
            n = max(1, round(far(p, q) / step))
            parts.append(p + np.linspace(0, 1, n + 1)[1:, None] * (q - p))
        elif kind == CUBIC:
            line = np.reshape(row, (4, 2))
            t = np.linspace(0, 1, max(2, round(length(line) / step)) + 1)[1:, None]
            parts.append(
                (1 - t) ** 3 * line[0] + 3 * t * (1 - t) ** 2 * line[1]
                + 3 * t * t * (1 - t) * line[2] + t**3 * line[3]
            )  # fmt: skip
        else:
            cx, cy, r = row[0], row[1], row[2]
            n = max(2, round(abs(row[7] - row[6]) * r / step))
            s = np.linspace(row[6], row[7], n + 1)[1:]
            parts.append(np.stack([cx + r * np.cos(s), cy + r * np.sin(s)], 1))
    path = np.vstack(parts)
    path[-1] = drawing.vertices[piece.vertices[-1]]
    return path
