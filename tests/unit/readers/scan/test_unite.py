"""Carriers of pieces that were drawn with one setting of ruler or compass."""

from __future__ import annotations

import numpy as np

from fillwork.readers.scan.circles import fit_circle, fit_line
from fillwork.readers.scan.model import Drawing, Piece
from fillwork.readers.scan.unite import unite_carriers


def piece(points: np.ndarray, circle: bool = False) -> Piece:
    carrier = fit_circle(points) if circle else fit_line(points)
    assert carrier is not None
    return Piece(circle, carrier, 1.0, [0, 1], points)


def test_broken_line_is_one_and_its_neighbour_another() -> None:
    rng = np.random.default_rng(4)

    def run(start: float, stop: float, y: float) -> Piece:
        x = np.arange(start, stop)
        return piece(np.c_[x, y + 0.01 * x + rng.normal(0, 0.3, len(x))])

    pieces = [run(0, 200, 50), run(230, 300, 50), run(0, 300, 54)]
    unite_carriers(Drawing([], pieces, 6.0), 0.5)
    one, two, other = (p.carrier for p in pieces)
    assert np.array_equal(one, two)
    assert not np.array_equal(one, other)


def test_like_radii_become_equal_and_unlike_ones_stay() -> None:
    rng = np.random.default_rng(5)

    def ring(x: float, radius: float, turn: float) -> Piece:
        a = np.arange(0, turn, 1 / radius)
        r = radius + rng.normal(0, 0.3, len(a))
        return piece(np.c_[x + r * np.cos(a), r * np.sin(a)], circle=True)

    # a quarter alone tells its radius worse than a whole circle does
    pieces = [ring(0, 100, 6.2), ring(300, 100, 1.6), ring(600, 108, 6.2)]
    unite_carriers(Drawing([], pieces, 6.0), 0.5)
    radii = [float(p.carrier[2]) for p in pieces]
    assert radii[0] == radii[1]
    assert abs(radii[0] - 100) < 0.2
    assert abs(radii[2] - 108) < 0.2
