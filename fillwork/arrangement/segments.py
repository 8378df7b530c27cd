"""Strokes flattened to chords that remember their curve.

Chords serve to find crossings and to order edges; what is found is then refined
on the true curves. So a chord may be coarse: it turns by a sixteenth of a full
turn at most and stays within `flatten` of its curve.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, CUBIC, LINE

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves


@dataclass(frozen=True, slots=True, eq=False)
class Chords:
    """Hold chords of curves; a line is its own chord."""

    ends: Floats  # (n, 4): x0 y0 x1 y1, curve by curve
    curve: Ints32  # (n,): curve of each chord
    span: Floats  # (n, 2): parameters at its ends
    # (n,): upper bound of its distance from the curve, 0 for lines
    sagitta: Floats

    def __len__(self) -> int:
        return len(self.curve)


def cut_into_chords(curves: Curves, chord_error: float) -> Chords:
    """Cut curves into chords; all chords, curve by curve in running order.

    `chord_error`: largest distance of a chord from its curve, mm.
    """
    n = len(curves)
    if not (curves.kind != LINE).any():
        index = np.arange(n, dtype=np.int32)
        span = np.zeros((n, 2))
        span[:, 1] = 1.0
        ends = np.ascontiguousarray(curves.data[:, :4])
        return Chords(ends, index, span, np.zeros(n))
    steps = curves.chord_counts(chord_error)
    bend = np.zeros(n)
    arcs = curves.kind == ARC
    if arcs.any():
        d = curves.data[arcs]
        turn = np.abs(d[:, 7] - d[:, 6])
        steps[arcs] = np.maximum(steps[arcs], np.ceil(turn / (np.pi / 8) - 1e-9))
        bend[arcs] = np.hypot(np.hypot(d[:, 2], d[:, 3]), np.hypot(d[:, 4], d[:, 5]))
        bend[arcs] *= turn**2
    cubics = curves.kind == CUBIC
    if cubics.any():
        b = curves.data[cubics].reshape(-1, 4, 2)
        steps[cubics] = np.maximum(steps[cubics], _cubic_turn_steps(b))
        first = np.hypot(*(b[:, 0] - 2 * b[:, 1] + b[:, 2]).T)
        second = np.hypot(*(b[:, 1] - 2 * b[:, 2] + b[:, 3]).T)
        bend[cubics] = 6 * np.maximum(first, second)
    curve = np.repeat(np.arange(n, dtype=np.int32), steps)
    first_chord = np.cumsum(steps) - steps
    k = np.arange(len(curve)) - first_chord[curve]
    count = steps[curve]
    span = np.stack([k / count, (k + 1) / count], axis=1)
    start = curves.point(curve, span[:, 0])
    ends = np.empty((len(curve), 4))
    ends[:, :2] = start
    ends[:-1, 2:] = start[1:]
    last = first_chord + steps - 1
    ends[last, 2:] = curves.ends()
    sagitta = (bend / (8.0 * steps**2))[curve]
    return Chords(ends, curve, span, sagitta)


def _cubic_turn_steps(b: Floats) -> Ints:
    """Return steps so that a cubic turns by about a sixteenth turn in each."""
    legs = np.diff(b, axis=1)
    turn = np.zeros(len(b))
    for k in (0, 1):
        p, q = legs[:, k], legs[:, k + 1]
        sine = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
        cosine = (p * q).sum(axis=1)
        turn += np.abs(np.arctan2(sine, cosine))
    return np.ceil(2 * turn / (np.pi / 8)).astype(np.int64) + 1
