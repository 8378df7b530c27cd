"""Where chords of true curves meet, one of each pair at least bent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.crossings import (
    cross,
    nearest_parameter,
    refine_crossing,
    touch_parameters,
)

if TYPE_CHECKING:
    from fillwork.arrangement.found import Found
    from fillwork.arrangement.segments import Chords
    from fillwork.arrays import Bools, Floats, Ints32
    from fillwork.geometry.curves import Curves

_PARTS = 4  # of a chord, between which crossings are guessed
_BEYOND = 0.1  # of a part: how far past its end a crossing may lie


@dataclass(frozen=True, slots=True, eq=False)
class CurvedMeetings:
    """Record meetings of chord pairs of which one at least is curved."""

    curves: Curves
    chords: Chords
    end_point: Ints32  # (chords, 2): points at the ends of each chord
    reach: float  # largest distance that is recorded, mm
    found: Found  # where they go

    def meet(self, i: Ints32, j: Ints32) -> None:
        """Record meetings of chord pairs of which one at least is curved."""
        for start in range(0, len(i), 1 << 16):
            part = slice(start, start + (1 << 16))
            self._meet_chunk(i[part], j[part])

    def _meet_chunk(self, i: Ints32, j: Ints32) -> None:
        chords = self.chords
        # neighbours along one curve meet at their common end only
        follow = (chords.curve[i] == chords.curve[j]) & (np.abs(i - j) == 1)
        i, j = i[~follow], j[~follow]
        room = chords.sagitta[i] + chords.sagitta[j] + self.reach
        p, q = chords.ends[i], chords.ends[j]
        d, e, w = p[:, 2:] - p[:, :2], q[:, 2:] - q[:, :2], q[:, :2] - p[:, :2]
        det = cross(d, e)
        length_i = np.maximum(np.hypot(*d.T), 1e-300)
        length_j = np.maximum(np.hypot(*e.T), 1e-300)
        c0 = cross(d, w) / length_i
        c1 = c0 + det / length_i
        a0 = cross(w, e) / length_j
        a1 = a0 - det / length_j
        apart = (np.minimum(c0, c1) > room) | (np.maximum(c0, c1) < -room)
        apart |= (np.minimum(a0, a1) > room) | (np.maximum(a0, a1) < -room)
        keep = ~apart
        i, j = i[keep], j[keep]
        if len(i) == 0:
            return
        sides = ((i, j, c0[keep], c1[keep]), (j, i, a0[keep], a1[keep]))
        for host, other, near0, near1 in sides:
            for end, off in ((0, near0), (1, near1)):
                y = np.flatnonzero(
                    np.abs(off) <= chords.sagitta[host] * 1.01 + self.reach
                )
                self._land(host[y], other[y], end)
        self._cross(i, j)

    def _land(self, host: Ints32, other: Ints32, end: int) -> None:
        chords, curves = self.chords, self.curves
        point = self.end_point[other, end]
        shared = (point == self.end_point[host, 0]) | (point == self.end_point[host, 1])
        host, other, point = host[~shared], other[~shared], point[~shared]
        if len(host) == 0:
            return
        place = chords.ends[other, 2 * end : 2 * end + 2]
        h = chords.ends[host]
        d = h[:, 2:] - h[:, :2]
        along = ((place - h[:, :2]) * d).sum(axis=1) / np.maximum(
            (d * d).sum(axis=1), 1e-300
        )
        inside = (along > -0.2) & (along < 1.2)
        host, point, place = host[inside], point[inside], place[inside]
        span = chords.span[host]
        guess = span[:, 0] + along[inside] * (span[:, 1] - span[:, 0])
        curve = chords.curve[host]
        t, distance = nearest_parameter(curves, curve, place, guess, rounds=5)
        slack = 1e-6 * (span[:, 1] - span[:, 0])
        good = (t >= span[:, 0] - slack) & (t <= span[:, 1] + slack)
        good &= distance <= self.reach
        self.found.on.append(
            (curve[good], np.clip(t[good], 0.0, 1.0), point[good], distance[good])
        )

    def _cross(self, i: Ints32, j: Ints32) -> None:
        """Record crossings and touches of true curves."""
        chords, curves = self.chords, self.curves
        ci, cj = chords.curve[i], chords.curve[j]
        si, sj = chords.span[i], chords.span[j]
        pi, pj = self._divided(ci, si), self._divided(cj, sj)
        rows, guesses = [], []
        for a in range(_PARTS):
            d = pi[:, a + 1] - pi[:, a]
            for b in range(_PARTS):
                w = pj[:, b] - pi[:, a]
                e = pj[:, b + 1] - pj[:, b]
                det = cross(d, e)
                flat = det == 0
                safe = np.where(flat, 1.0, det)
                s, t = cross(w, e) / safe, cross(w, d) / safe
                # the true crossing may lie a little past the end of a chord
                near = (s >= -_BEYOND) & (s <= 1 + _BEYOND) & (t >= -_BEYOND)
                hit = np.flatnonzero(near & (t <= 1 + _BEYOND) & ~flat)
                if len(hit):
                    s, t = s[hit], t[hit]
                    rows.append(hit)
                    guesses.append(
                        np.stack([(a + s) / _PARTS, (b + t) / _PARTS], axis=1)
                    )
        if rows:
            row, guess = np.concatenate(rows), np.concatenate(guesses)
            s = si[row, 0] + guess[:, 0] * (si[row, 1] - si[row, 0])
            t = sj[row, 0] + guess[:, 1] * (sj[row, 1] - sj[row, 0])
            s, t, miss = refine_crossing(curves, ci[row], cj[row], s, t)
            # curves that run on each other do not cross
            d, e = curves.derivative(ci[row], s), curves.derivative(cj[row], t)
            sine = np.abs(cross(d, e)) / np.maximum(
                np.hypot(*d.T) * np.hypot(*e.T), 1e-300
            )
            y = np.flatnonzero(sine > 1e-5)
            row = row[y]
            self._keep(i[row], j[row], s[y], t[y], miss[y])
        # where the tangents become parallel between the ends there may be a touch
        s, t, distance, sure = touch_parameters(curves, ci, cj, si, sj)
        self._cross_beside(i, j, s, t, distance, sure)
        near = sure & (distance <= self.reach)
        if near.any():
            pair = np.stack([ci[near], cj[near]], axis=1)
            place = np.stack([s[near], t[near]], axis=1)
            self.found.crossed(pair, place, distance[near])

    def _divided(self, curve: Ints32, span: Floats) -> Floats:
        """Return points that part each chord's curve, (n, parts + 1, 2), mm."""
        size = span[:, 1] - span[:, 0]
        shares = np.linspace(0.0, 1.0, _PARTS + 1)
        points = [self.curves.point(curve, span[:, 0] + g * size) for g in shares]
        return np.stack(points, axis=1)

    def _cross_beside(
        self, i: Ints32, j: Ints32, s: Floats, t: Floats, distance: Floats, sure: Bools
    ) -> None:
        """Record crossings on both sides of a place where curves run parallel.

        Curves that just overlap cross twice within one chord, too near for chords
        to tell. The gap is a parabola there, so Newton's method finds both roots
        from either side.
        """
        chords, curves = self.chords, self.curves
        row = np.flatnonzero(sure & (distance <= chords.sagitta[i] + chords.sagitta[j]))
        if len(row) == 0:
            return
        i, j, s, t = i[row], j[row], s[row], t[row]
        ci, cj = chords.curve[i], chords.curve[j]
        d, e = curves.derivative(ci, s), curves.derivative(cj, t)
        speed = np.maximum((e * e).sum(axis=1), 1e-300)
        ratio = (d * e).sum(axis=1) / speed
        step = 0.25 * (chords.span[i, 1] - chords.span[i, 0])
        for side in (-1.0, 1.0):
            u, v = s + side * step, t + side * step * ratio
            u, v, miss = refine_crossing(curves, ci, cj, u, v, rounds=16)
            self._keep(i, j, u, v, miss)

    def _keep(self, i: Ints32, j: Ints32, s: Floats, t: Floats, miss: Floats) -> None:
        chords = self.chords
        si, sj = chords.span[i], chords.span[j]
        wi, wj = 0.25 * (si[:, 1] - si[:, 0]), 0.25 * (sj[:, 1] - sj[:, 0])
        good = (s >= si[:, 0] - wi) & (s <= si[:, 1] + wi)
        good &= (t >= sj[:, 0] - wj) & (t <= sj[:, 1] + wj)
        good &= (np.minimum(s, t) >= -1e-9) & (np.maximum(s, t) <= 1 + 1e-9)
        good &= miss <= 1e-10 * np.abs(chords.ends).max(initial=0.0)
        pair = np.stack([chords.curve[i[good]], chords.curve[j[good]]], axis=1)
        place = np.clip(np.stack([s[good], t[good]], axis=1), 0.0, 1.0)
        self.found.crossed(pair, place, np.zeros(len(pair)))
