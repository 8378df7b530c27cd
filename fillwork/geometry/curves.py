"""A table of lines, elliptical arcs and cubic Béziers, exact under affine maps.

Each curve is a row of eight numbers and runs over a parameter t from 0 to 1:

* ``LINE``: x0 y0 x1 y1, the rest unused (0).
* ``CUBIC``: the four control points x0 y0 x1 y1 x2 y2 x3 y3 of a Bézier curve.
* ``ARC``: cx cy ux uy vx vy s0 s1, where P(t) = c + u cos s + v sin s and
  s = s0 + t (s1 - s0) in radians. u and v are conjugate half-diameters, so an
  affine map of the arc is the map of c, u and v; a part of the arc is the same
  row with other s0, s1.

Quadratic Béziers are raised to cubics by the readers, which is exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.values import freeze, told_repr

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.geometry.affine import Affine


LINE, ARC, CUBIC = 0, 1, 2

# nodes and weights of Gauss and Legendre's rule of five points on -1 to 1, in closed
# form (M. Abramowitz and I. Stegun, Handbook of Mathematical Functions, 1964, 25.4.29)
_INNER, _OUTER = (math.sqrt(5 + k * 2 * math.sqrt(10 / 7)) / 3 for k in (-1, 1))
_HEAVY, _LIGHT = ((322 + k * 13 * math.sqrt(70)) / 900 for k in (1, -1))
GAUSS = (
    (-_OUTER, _LIGHT),
    (-_INNER, _HEAVY),
    (0.0, 128 / 225),
    (_INNER, _HEAVY),
    (_OUTER, _LIGHT),
)

_Pair = tuple["NDArray[np.float64]", "NDArray[np.float64]"]


def _on_lines(d: NDArray[np.float64], t: NDArray[np.float64]) -> _Pair:
    # at t = 1 the end itself, free of rounding
    ends = t == 1.0
    point, slope = np.empty((len(d), 2)), np.empty((len(d), 2))
    # column by column: numpy takes many times longer along rows of two
    for k in (0, 1):
        p, q = d[:, k], d[:, 2 + k]
        step = q - p
        slope[:, k] = step
        point[:, k] = np.where(ends, q, p + t * step)
    return point, slope


def _on_arcs(d: NDArray[np.float64], t: NDArray[np.float64]) -> _Pair:
    sweep = d[:, 7] - d[:, 6]
    angle = d[:, 6] + t * sweep
    cos, sin = np.cos(angle), np.sin(angle)
    point, slope = np.empty((len(d), 2)), np.empty((len(d), 2))
    for k in (0, 1):
        c, u, v = d[:, k], d[:, 2 + k], d[:, 4 + k]
        point[:, k] = c + u * cos + v * sin
        slope[:, k] = (v * cos - u * sin) * sweep
    return point, slope


def _on_cubics(d: NDArray[np.float64], t: NDArray[np.float64]) -> _Pair:
    r = 1.0 - t
    point, slope = np.empty((len(d), 2)), np.empty((len(d), 2))
    for k in (0, 1):
        a, b, c, e = d[:, k], d[:, 2 + k], d[:, 4 + k], d[:, 6 + k]
        point[:, k] = r**3 * a + 3 * r * r * t * b + 3 * r * t * t * c + t**3 * e
        slope[:, k] = 3 * (r * r * (b - a) + 2 * r * t * (c - b) + t * t * (e - c))
    return point, slope


_ON = {LINE: _on_lines, ARC: _on_arcs, CUBIC: _on_cubics}


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Hold N curves as two arrays.

    Parameters
    ----------
    kind : ndarray of uint8, shape (N,)
        ``LINE``, ``ARC`` or ``CUBIC``.
    data : ndarray of float64, shape (N, 8)
        The numbers of each curve, as the module's text says.
    """

    kind: NDArray[np.uint8]
    data: NDArray[np.float64]

    def __post_init__(self) -> None:
        freeze(self, "kind", "data")

    def __repr__(self) -> str:
        lines, arcs, cubics = (int((self.kind == k).sum()) for k in (LINE, ARC, CUBIC))
        return told_repr(self, lines=lines, arcs=arcs, cubics=cubics)

    def __len__(self) -> int:
        return len(self.kind)

    @classmethod
    def empty(cls) -> Curves:
        """Return a table without curves.

        Returns
        -------
        Curves
            No rows.
        """
        return cls(np.empty(0, np.uint8), np.empty((0, 8)))

    @classmethod
    def from_segments(cls, segments: NDArray[np.float64]) -> Curves:
        """Return straight lines.

        Parameters
        ----------
        segments : ndarray of shape (N, 4)
            x0 y0 x1 y1 of each line, mm.

        Returns
        -------
        Curves
            N lines.
        """
        data = np.zeros((len(segments), 8))
        data[:, :4] = segments
        return cls(np.zeros(len(segments), np.uint8), data)

    @classmethod
    def concatenate(cls, parts: list[Curves]) -> Curves:
        """Return the rows of several tables in order.

        Parameters
        ----------
        parts : list of Curves
            Tables.

        Returns
        -------
        Curves
            One table.
        """
        if not parts:
            return cls.empty()
        return cls(
            np.concatenate([p.kind for p in parts]),
            np.concatenate([p.data for p in parts]),
        )

    def take(self, index: NDArray[np.integer] | slice) -> Curves:
        """Return the chosen rows.

        Parameters
        ----------
        index : ndarray of int or bool, or slice
            Rows to take.

        Returns
        -------
        Curves
            The rows in that order.
        """
        if isinstance(index, slice):
            return Curves(self.kind[index].copy(), self.data[index].copy())
        if index.dtype == bool:
            index = np.flatnonzero(index)
        # of rows, `take` is several times faster than an index in brackets
        return Curves(self.kind.take(index), self.data.take(index, axis=0))

    def point(
        self, index: NDArray[np.integer], t: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return points on curves.

        Parameters
        ----------
        index : ndarray of int, shape (n,)
            Which curve.
        t : ndarray of float64, shape (n,)
            Parameter on it, 0 to 1.

        Returns
        -------
        ndarray of shape (n, 2)
            The points, mm.
        """
        return self.evaluate(index, t)[0]

    def derivative(
        self, index: NDArray[np.integer], t: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return dP/dt on curves.

        Parameters
        ----------
        index : ndarray of int, shape (n,)
            Which curve.
        t : ndarray of float64, shape (n,)
            Parameter on it, 0 to 1.

        Returns
        -------
        ndarray of shape (n, 2)
            First derivatives, mm.
        """
        return self.evaluate(index, t)[1]

    def evaluate(
        self, index: NDArray[np.integer], t: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return points and dP/dt on curves together.

        Parameters
        ----------
        index : ndarray of int, shape (n,)
            Which curve.
        t : ndarray of float64, shape (n,)
            Parameter on it, 0 to 1.

        Returns
        -------
        point, derivative : ndarray of shape (n, 2)
            As of `point` and `derivative`.
        """
        index = np.asarray(index)
        t = np.asarray(t, dtype=np.float64)
        kind, d = self.kind.take(index), self.data.take(index, axis=0)
        if len(kind) == 0 or (kind == kind[0]).all():
            return _ON[int(kind[0]) if len(kind) else LINE](d, t)
        point, slope = np.empty((len(index), 2)), np.empty((len(index), 2))
        for sort, on in _ON.items():
            m = np.flatnonzero(kind == sort)
            if len(m):
                point[m], slope[m] = on(d.take(m, axis=0), t[m])
        return point, slope

    def starts(self) -> NDArray[np.float64]:
        """Return the first point of each curve.

        Returns
        -------
        ndarray of shape (N, 2)
            Points, mm.
        """
        return self.point(np.arange(len(self)), np.zeros(len(self)))

    def ends(self) -> NDArray[np.float64]:
        """Return the last point of each curve.

        Returns
        -------
        ndarray of shape (N, 2)
            Points, mm.
        """
        return self.point(np.arange(len(self)), np.ones(len(self)))

    def transform(self, m: Affine) -> Curves:
        """Return the curves mapped by an affine map, exactly.

        Parameters
        ----------
        m : tuple of 6 floats
            The map.

        Returns
        -------
        Curves
            The images, in the same order and direction.
        """
        data = self.data.copy()
        pts = data.reshape(-1, 4, 2)
        lines, cubics, arcs = self.kind == LINE, self.kind == CUBIC, self.kind == ARC
        if lines.any():
            pts[lines, :2] = affine.apply(m, pts[lines, :2])
        if cubics.any():
            pts[cubics] = affine.apply(m, pts[cubics])
        if arcs.any():
            vectors = pts[arcs, 1:3] @ affine.linear(m).T
            pts[arcs, 0] = affine.apply(m, pts[arcs, 0])
            pts[arcs, 1:3] = vectors
        return Curves(self.kind.copy(), data)

    def part(
        self,
        index: NDArray[np.integer],
        t0: NDArray[np.float64],
        t1: NDArray[np.float64],
    ) -> Curves:
        """Return exact parts of curves; t0 > t1 gives the part reversed.

        Parameters
        ----------
        index : ndarray of int, shape (n,)
            Which curve.
        t0, t1 : ndarray of float64, shape (n,)
            Parameters where the part begins and ends.

        Returns
        -------
        Curves
            n curves.
        """
        index = np.asarray(index)
        t0 = np.asarray(t0, dtype=np.float64)
        t1 = np.asarray(t1, dtype=np.float64)
        kind, data = self.kind.take(index), self.data.take(index, axis=0)
        m = kind == LINE
        if m.any():
            lines = data if m.all() else data[m]
            first, last = _on_lines(lines, t0[m])[0], _on_lines(lines, t1[m])[0]
            data[m, 0:2], data[m, 2:4] = first, last
        m = kind == ARC
        if m.any():
            s0, sweep = data[m, 6], data[m, 7] - data[m, 6]
            data[m, 6], data[m, 7] = s0 + t0[m] * sweep, s0 + t1[m] * sweep
        m = kind == CUBIC
        if m.any():
            p0, d0 = self.evaluate(index[m], t0[m])
            p1, d1 = self.evaluate(index[m], t1[m])
            third = ((t1[m] - t0[m]) / 3.0)[:, None]
            data[m] = np.concatenate([p0, p0 + third * d0, p1 - third * d1, p1], axis=1)
        return Curves(kind, data)

    def chord_counts(self, chord_error: float) -> NDArray[np.int32]:
        """Return how many equal parameter steps keep chords near each curve.

        Parameters
        ----------
        chord_error : float
            Largest distance of a chord from its curve, mm.

        Returns
        -------
        ndarray of int32, shape (N,)
            Steps for each curve, 1 to 4096.

        Notes
        -----
        |P(t) - chord| <= h² max|P''| / 8 over a step of length h in t.
        """
        bend = np.zeros(len(self))
        m = self.kind == ARC
        if m.any():
            d = self.data[m]
            radius = np.sqrt((d[:, 2:6] ** 2).sum(axis=1))
            # |u cos s + v sin s| is at most the longer half-axis
            cross = np.abs(d[:, 2] * d[:, 5] - d[:, 3] * d[:, 4])
            half = radius**2 / 2
            longest = np.sqrt(half + np.sqrt(np.maximum(half**2 - cross**2, 0.0)))
            bend[m] = longest * (d[:, 7] - d[:, 6]) ** 2
        m = self.kind == CUBIC
        if m.any():
            b = self.data[m].reshape(-1, 4, 2)
            first = np.linalg.norm(b[:, 0] - 2 * b[:, 1] + b[:, 2], axis=1)
            second = np.linalg.norm(b[:, 1] - 2 * b[:, 2] + b[:, 3], axis=1)
            bend[m] = 6 * np.maximum(first, second)
        steps = np.ceil(np.sqrt(bend / (8 * chord_error)))
        # an arc of more than a quarter turn needs a few chords in any case
        m = self.kind == ARC
        if m.any():
            sweep = np.abs(self.data[m, 7] - self.data[m, 6])
            steps[m] = np.maximum(steps[m], np.ceil(sweep / (np.pi / 4) - 1e-9))
        m = self.kind == CUBIC
        steps[m] = np.maximum(steps[m], 2)
        # no number, of a point for which no error is allowed, counts as 1
        return np.fmin(np.fmax(steps, 1), 4096).astype(np.int32)

    def flatten(
        self, chord_error: float
    ) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.float64]]:
        """Return chords that stay within an error of the curves.

        Parameters
        ----------
        chord_error : float
            Largest distance of a chord from its curve, mm.

        Returns
        -------
        segments : ndarray of shape (n, 4)
            x0 y0 x1 y1 of each chord, curve by curve.
        curve : ndarray of int32, shape (n,)
            The curve that each chord belongs to.
        span : ndarray of shape (n, 2)
            Its parameters t0 and t1 there.
        """
        steps = self.chord_counts(chord_error)
        curve = np.repeat(np.arange(len(self), dtype=np.int32), steps)
        first = np.cumsum(steps) - steps
        k = np.arange(len(curve)) - first[curve]
        n = steps[curve]
        span = np.stack([k / n, (k + 1) / n], axis=1)
        segments = np.concatenate(
            [self.point(curve, span[:, 0]), self.point(curve, span[:, 1])], axis=1
        )
        return segments, curve, span

    def lengths(self) -> NDArray[np.float64]:
        """Return arc lengths.

        Returns
        -------
        ndarray of shape (N,)
            Lengths in mm, by five-point Gauss-Legendre quadrature on eight parts.
        """
        total = np.zeros(len(self))
        straight = self.kind == LINE
        if straight.any():
            d = self.data[straight]
            total[straight] = np.hypot(d[:, 2] - d[:, 0], d[:, 3] - d[:, 1])
        curved = np.flatnonzero(~straight)
        for k in range(8):
            for node, weight in GAUSS:
                t = np.full(len(curved), (k + (node + 1) / 2) / 8)
                speed = np.linalg.norm(self.derivative(curved, t), axis=1)
                total[curved] += weight / 16 * speed
        return total
