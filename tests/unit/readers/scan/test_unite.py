"""Carriers of pieces that were drawn with one setting of ruler or compass."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.circles import fit_circle, fit_line
from fillwork.readers.scan.model import Drawing, Piece
from fillwork.readers.scan.unite import _held, _sample, unite_carriers


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


def level(start: float, stop: float, y: float) -> Piece:
    x = np.arange(start, stop)
    return piece(np.c_[x, np.full(len(x), y)])


@pytest.mark.parametrize(
    ("off", "sigma", "one"),
    # lines of 100 and 50 px, beside each other by d: their common line, as each counts
    # by its length, misses the shorter by two thirds of d, of what a hand strays or
    # 0.15 widths, 0.9 px
    [(1.2, 0.5, True), (1.6, 0.5, False), (2.6, 2.0, True), (3.4, 2.0, False)],
)
def test_lines_are_one_within_what_a_hand_strays(
    off: float, sigma: float, one: bool
) -> None:
    # side by side, so that no turn of the line takes it up
    pieces = [level(0, 100, 50.0), level(25, 75, 50.0 + off)]
    unite_carriers(Drawing([], pieces, 6.0), sigma)
    assert np.array_equal(pieces[0].carrier, pieces[1].carrier) == one
    if one:
        assert pieces[0].carrier[1] == pytest.approx(50.0 + off / 3, abs=0.02)


def test_a_piece_far_along_joins_though_the_first_alone_misses_it() -> None:
    # a piece of 60 px whose direction is off by half a degree misses one 300 px on by
    # 3 px and more, within five times 0.9; both together say where the line runs
    x = np.arange(0.0, 60.0)
    first = piece(np.c_[x, 50.0 + np.tan(np.radians(0.5)) * (x - 30.0)])
    second = piece(np.c_[x[:40] + 280.0, np.full(40, 50.0)])
    unite_carriers(Drawing([], [first, second], 6.0), 0.5)
    assert np.array_equal(first.carrier, second.carrier)
    # a degree and a half misses it by 7
    first = piece(np.c_[x, 50.0 + np.tan(np.radians(1.5)) * (x - 30.0)])
    second = piece(np.c_[x[:40] + 280.0, np.full(40, 50.0)])
    unite_carriers(Drawing([], [first, second], 6.0), 0.5)
    assert not np.array_equal(first.carrier, second.carrier)


@pytest.mark.parametrize(("other", "equal"), [(101.5, True), (103.0, False)])
def test_radii_are_equal_within_a_fiftieth(other: float, equal: bool) -> None:
    def ring(x: float, radius: float) -> Piece:
        # an eighth of a turn says little of its radius
        a = np.arange(0.0, 0.8, 1 / radius)
        return piece(np.c_[x + radius * np.cos(a), radius * np.sin(a)], circle=True)

    pieces = [ring(0.0, 100.0), ring(400.0, other)]
    unite_carriers(Drawing([], pieces, 6.0), 0.5)
    radii = [float(p.carrier[2]) for p in pieces]
    assert (radii[0] == radii[1]) == equal
    if equal:
        assert radii[0] == pytest.approx((100 + other) / 2, abs=0.05)


def test_a_circle_of_a_given_radius_keeps_its_arc() -> None:
    a = np.linspace(0.2, 1.0, 60)
    points = 100 * np.c_[np.cos(a), np.sin(a)] + np.array([30.0, 40.0])
    held = _held(points, np.array([30.0, 40.0, 100.0]), 104.0)
    # its middle goes back by 4 px from the arc
    middle = np.array([np.cos(0.6), np.sin(0.6)])
    assert held == pytest.approx([*([30.0, 40.0] - 4 * middle), 104.0], abs=0.2)
    # round a whole turn it stays
    a = np.linspace(0.0, 2 * np.pi, 200, endpoint=False)
    whole = 100 * np.c_[np.cos(a), np.sin(a)]
    assert _held(whole, np.array([0.0, 0.0, 100.0]), 104.0) == pytest.approx(
        [0.0, 0.0, 104.0], abs=1e-6
    )


def test_of_a_piece_three_quarters_in_the_middle_stand_for_it() -> None:
    points = np.c_[np.arange(80.0), np.zeros(80)]
    some = _sample(piece(points))
    assert len(some) == 40
    assert some[[0, -1], 0].tolist() == [10.0, 69.0]
    assert _sample(piece(points[:2]))[:, 0].tolist() == [0.0] * 20 + [1.0] * 20
