"""Lengths and boxes of curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves
from fillwork.readers.strokes.outlines import boxes, measure_lengths


def _random_curves(n: int) -> Curves:
    rng = np.random.default_rng(5)
    kind = rng.choice(np.array([LINE, ARC, CUBIC], np.uint8), n)
    data = rng.uniform(-50, 50, (n, 8))
    data[kind == LINE, 4:] = 0
    arcs = kind == ARC
    data[arcs, 6:] = rng.uniform(-6, 6, (arcs.sum(), 2))
    return Curves(kind, data)


def test_lengths_against_adaptive_quadrature():
    curves = _random_curves(60)
    lengths = measure_lengths(curves.kind, curves.data)
    for k in range(len(curves)):
        row = np.array([k])

        def speed(t, row=row):
            return float(np.hypot(*curves.derivative(row, np.array([t]))[0]))

        length = quad(speed, 0, 1, limit=200)[0]
        assert lengths[k] == pytest.approx(length, rel=2e-2)


def test_lengths_by_formula():
    kind = np.array([ARC, ARC, LINE, CUBIC], np.uint8)
    data = np.zeros((4, 8))
    data[0] = [1, 2, 3, 0, 0, -3, 0, 2 * math.pi]
    data[1] = [0, 0, 0, 2, 2, 0, 1, -1]
    data[2, :4] = [0, 0, 3, 4]
    data[3] = [0, 0, 1, 0, 2, 0, 3, 0]
    lengths = measure_lengths(kind, data)
    assert lengths.tolist() == pytest.approx([6 * math.pi, 4, 5, 3])


def test_boxes_hold_their_curves():
    curves = _random_curves(300)
    low, high = boxes(curves.kind, curves.data)
    index = np.arange(len(curves))
    for t in np.linspace(0, 1, 41):
        points = curves.point(index, np.full(len(curves), t))
        assert (points >= low - 1e-9).all()
        assert (points <= high + 1e-9).all()
