"""Where lines and curves meet.

Straight lines meet by signed distances. Curves are first cut into chords; what
the chords say is then refined on the true curves by Newton's method, which ends
within rounding of the exact point.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import LINE

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.geometry.curves import Curves


def cross(a: Floats, b: Floats) -> Floats:
    """Return the cross products a_x b_y - a_y b_x.

    `a` and `b` (..., 2): vectors. Returns (...): signed areas of the parallelograms.
    """
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def refine_crossing(
    curves: Curves,
    first: AnyInts,
    second: AnyInts,
    s: Floats,
    t: Floats,
    rounds: int = 8,
) -> tuple[Floats, Floats, Floats]:
    """Move parameters of two curves to where the curves cross.

    `first` and `second` (n,): pairs of curves. `s` and `t` (n,): first guesses of the
    parameters. `rounds`: newton steps. Returns `s` and `t` (n,): refined parameters;
    they may lie outside 0 to 1; `miss` (n,): distance of the two points that remains,
    mm.
    """
    s, t = np.array(s, dtype=float), np.array(t, dtype=float)
    p, d = curves.evaluate(first, s)
    q, e = curves.evaluate(second, t)
    for _ in range(rounds):
        gap = q - p
        det = cross(d, e)
        scale = np.hypot(*d.T) * np.hypot(*e.T)
        sure = np.abs(det) > 1e-9 * scale
        det = np.where(sure, det, 1.0)
        ds = np.where(sure, cross(gap, e) / det, 0.0)
        dt = np.where(sure, cross(gap, d) / det, 0.0)
        # a step is at most a quarter of the curve
        s += np.clip(ds, -0.25, 0.25)
        t += np.clip(dt, -0.25, 0.25)
        p, d = curves.evaluate(first, s)
        q, e = curves.evaluate(second, t)
        if len(ds) == 0 or max(np.abs(ds).max(), np.abs(dt).max()) < 1e-15:
            break
    return s, t, np.hypot(*(q - p).T)


def nearest_parameter(
    curves: Curves, index: AnyInts, points: Floats, t: Floats, rounds: int = 6
) -> tuple[Floats, Floats]:
    """Return the parameter of the point of a curve that is nearest to a point.

    `index` (n,): which curve. `points` (n, 2): the points, mm. `t` (n,): first guesses.
    `rounds`: Gauss-Newton steps. Returns `t` (n,): parameters, not limited to 0 to 1;
    `distance` (n,): distance of the points from the curve there, mm.
    """
    t = np.array(t, dtype=float)
    for _ in range(rounds):
        p, d = curves.evaluate(index, t)
        speed = np.maximum((d * d).sum(axis=1), 1e-300)
        step = ((points - p) * d).sum(axis=1) / speed
        t += np.clip(step, -0.25, 0.25)
        if len(step) == 0 or np.abs(step).max() < 1e-14:
            break
    return t, np.hypot(*(points - curves.point(index, t)).T)


def touch_parameters(
    curves: Curves,
    first: AnyInts,
    second: AnyInts,
    first_span: Floats,
    second_span: Floats,
) -> tuple[Floats, Floats, Floats, Bools]:
    """Return where two short parts of curves run parallel, side by side.

    `first` and `second` (n,): pairs of curves. `first_span` and `second_span` (n, 2):
    the parts, as parameters. Returns `s` and `t` (n,): parameters of the place;
    `distance` (n,): distance of the curves there, mm; `sure` (n,): True where the
    tangents do become parallel between the ends of the first part, opposite the second
    part.
    """
    n = len(first)
    s, t = np.zeros(n), np.zeros(n)
    distance, sure = np.full(n, np.inf), np.zeros(n, dtype=bool)
    span = first_span[:, 1] - first_span[:, 0]
    span2 = second_span[:, 1] - second_span[:, 0]

    def opposite(
        row: AnyInts, u: Floats, guess: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Refine where a line meets a curve from the other side."""
        p, d = curves.evaluate(first[row], u)
        v, off = nearest_parameter(curves, second[row], p, guess, rounds=4)
        e = curves.derivative(second[row], v)
        size = np.maximum(np.hypot(*d.T) * np.hypot(*e.T), 1e-300)
        return cross(d, e) / size, v, off

    row = _may_run_parallel(curves, first, second, first_span, second_span)
    middle = second_span[row].mean(axis=1)
    lo, hi = _beside_second(
        curves, first[row], second[row], first_span[row], second_span[row]
    )
    h_lo, t_lo, _ = opposite(row, lo, middle)
    h_hi, t_hi, _ = opposite(row, hi, middle)
    turns = np.flatnonzero((h_lo * h_hi <= 0) & (np.abs(h_lo - h_hi) > 1e-7))
    row, lo, hi = row[turns], lo[turns], hi[turns]
    h_lo, h_hi = h_lo[turns], h_hi[turns]
    guess = (t_lo[turns] + t_hi[turns]) / 2
    u, off = lo, np.full(len(row), np.inf)
    h = np.full(len(row), np.inf)
    for _ in range(32):  # of false position with the Illinois rule
        if np.abs(h).max(initial=0.0) < 1e-12:
            break
        gap = h_hi - h_lo
        u = np.where(gap != 0, lo - h_lo * (hi - lo) / np.where(gap != 0, gap, 1), lo)
        h, guess, off = opposite(row, u, guess)
        left = h * h_lo > 0
        lo, hi = np.where(left, u, lo), np.where(left, hi, u)
        h_lo, h_hi = (np.where(left, h, h_lo / 2), np.where(left, h_hi / 2, h))
    slack, slack2 = 1e-6 * span[row], 1e-6 * span2[row]
    good = (u >= first_span[row, 0] - slack) & (u <= first_span[row, 1] + slack)
    good &= (guess >= second_span[row, 0] - slack2) & (
        guess <= second_span[row, 1] + slack2
    )
    s[row], t[row], distance[row] = np.clip(u, 0, 1), np.clip(guess, 0, 1), off
    sure[row] = good
    return s, t, distance, sure


def _beside_second(
    curves: Curves,
    first: AnyInts,
    second: AnyInts,
    first_span: Floats,
    second_span: Floats,
) -> tuple[Floats, Floats]:
    """Return from where to where the first parts lie beside the second ones.

    Of a long straight line the short way opposite a part of an arc, and as much again.
    """
    lo, hi = first_span.T
    lines = np.flatnonzero(curves.kind[first] == LINE)
    ends = [
        nearest_parameter(curves, first[lines], p, lo[lines])[0]
        for p in (curves.point(second[lines], second_span[lines, k]) for k in (0, 1))
    ]
    low, high = np.minimum(*ends), np.maximum(*ends)
    room = (high - low) / 2
    lo, hi = lo.copy(), hi.copy()
    lo[lines] = np.clip(low - room, lo[lines], hi[lines])
    hi[lines] = np.clip(high + room, lo[lines], hi[lines])
    return lo, hi


def _may_run_parallel(
    curves: Curves,
    first: AnyInts,
    second: AnyInts,
    first_span: Floats,
    second_span: Floats,
) -> Ints:
    """Return the pairs whose ranges of directions overlap, or nearly so."""
    sides = []
    for index, span in ((first, first_span), (second, second_span)):
        for k in (0, 1):
            d = curves.derivative(index, span[:, k])
            sides.append(d / np.maximum(np.hypot(*d.T), 1e-300)[:, None])
    sines = [cross(a, b) for a in sides[:2] for b in sides[2:]]
    least = np.minimum(np.minimum(sines[0], sines[1]), np.minimum(sines[2], sines[3]))
    most = np.maximum(np.maximum(sines[0], sines[1]), np.maximum(sines[2], sines[3]))
    return np.flatnonzero((least < 0.1) & (most > -0.1))
