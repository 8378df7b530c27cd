"""Outlines and their names piece by piece, on both sides of each bound."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fillwork.symmetry.kinds.names import _slack
from fillwork.symmetry.kinds.outlines import (
    Outline,
    _best_turn,
    _correlate,
    _fit_circle,
    _merge_straight,
    _merge_traced,
    _Piece,
    _sagitta,
    _without_gaps,
    mean_outline,
)
from fillwork.symmetry.kinds.shape import (
    ShapeSymmetry,
    _alike,
    _convex,
    _elongation,
    _groups,
    _likely_flips,
    _outline_symmetry,
    _parallel,
    _quadrilateral,
    _right,
    _ring_piece,
    _sector,
    _triangle,
    _turn_mean,
    _two_sided,
    name_outline,
)

QUARTER = math.pi / 2


def outline(corners, bend=None, round_=True, turn=None, closed="") -> Outline:
    """Return an outline of pieces between corners, walked to the left."""
    z = np.asarray(corners, complex)
    bend = np.zeros(len(z)) if bend is None else np.asarray(bend, float)
    step = np.roll(z, -1) - z
    area = abs(float(np.imag(np.conj(z) @ np.roll(z, -1)))) / 2
    if turn is None:
        # a piece that bends by b leaves by half of it to the right of its chord
        turn = (
            np.angle(step * np.conj(np.roll(step, 1))) - (bend + np.roll(bend, 1)) / 2
        )
    is_round = (np.abs(bend) > 0) & round_
    return Outline(
        np.column_stack([z.real, z.imag]),
        bend,
        is_round,
        np.asarray(turn, float),
        area,
        closed,
    )


def symmetry_of(corners, turns=1, mirrored=False, corner=False) -> ShapeSymmetry:
    return ShapeSymmetry(turns, mirrored, corner, np.asarray(corners, complex))


SQUARE = np.array([0, 10, 10 + 10j, 10j])
OBLONG = np.array([0, 20, 20 + 10j, 10j])


def test_a_corner_may_be_off_a_right_angle_by_what_moves_its_sides() -> None:
    # moved by 0.2 mm, sides of 10 and 5 mm turn by 0.02 and 0.04
    for off, told in ((0.055, True), (0.065, False)):
        bent = np.array([10, 0, 5j * np.exp(-1j * off)])
        assert _right(bent, 1, 0.2) is told
        assert _right(bent.conj(), 1, 0.2) is told
    # two sides of 20 mm across from each other turn by 0.01 each
    for off, told in ((0.019, True), (0.021, False)):
        skew = OBLONG.copy()
        skew[2] = skew[3] + 20 * np.exp(1j * off)
        assert _parallel(skew, 0, 2, 0.2) is told


def test_length_over_width_is_that_of_the_narrowest_box() -> None:
    assert _elongation(OBLONG) == pytest.approx(2)
    assert _elongation(OBLONG * np.exp(0.3j)) == pytest.approx(2)
    # a right triangle of 3 and 4: boxes of 3 by 4, and of 5 by 2.4
    assert _elongation(np.array([0, 4, 3j])) == pytest.approx(5 / 2.4)
    # a side without length is no box
    assert _elongation(np.array([0, 0, 20, 20 + 10j, 10j])) == pytest.approx(2)


def test_series_of_turned_corners_hold_every_nth_frequency() -> None:
    rng = np.random.default_rng(2)
    z = rng.standard_normal(12) + 1j * rng.standard_normal(12)
    for m in (2, 3, 4, 6, 12):
        found = _turn_mean(z, m)
        turned = np.roll(found, 12 // m) * np.exp(2j * np.pi / m)
        assert np.allclose(turned, found)
        # a mean over the turns, each brought back
        backs = [np.roll(z, 12 // m * k) * np.exp(2j * np.pi * k / m) for k in range(m)]
        assert np.allclose(found, np.mean(backs, axis=0))
    assert _turn_mean(z, 1) is z


def test_flips_that_a_mirror_makes_are_likely() -> None:
    rng = np.random.default_rng(3)
    half = rng.uniform(1, 3, 4) * np.exp(1j * np.linspace(0.2, 2.8, 4))
    z = np.concatenate([half, half[::-1].conj()])
    z = (z - z.mean()) * np.exp(0.4j)
    # corner i goes to corner 7 - i
    assert _likely_flips(z, 1e-6) == [7]
    assert len(_likely_flips(z, 10.0)) == 8


@pytest.mark.parametrize(
    ("z", "turns", "mirrored", "corner"),
    [
        (SQUARE, 4, True, True),
        (OBLONG, 2, True, False),
        ([0, 20, 25 + 10j, 5 + 10j], 2, False, False),
        ([0, 20, 15 + 10j, 5 + 10j], 1, True, False),
        ([0, 10 - 4j, 24, 10 + 4j], 1, True, True),
        ([0, 20, 17 + 10j, 5 + 11j], 1, False, False),
        ([0, 12, 6 + 20j], 1, True, True),
    ],
)
def test_the_group_of_corners_is_the_largest_that_keeps_them(
    z, turns, mirrored, corner
):
    for turn in (1, np.exp(0.7j)):
        found = _outline_symmetry(outline(np.asarray(z) * turn), 0.05)
        assert (found.turns, found.mirrored) == (turns, mirrored)
        if mirrored:
            assert found.through_corner is corner
    assert found.order == turns * (1 + mirrored)


def test_sides_that_bend_unlike_break_a_symmetry() -> None:
    # 0.12 and a tenth of the bend
    one = np.array([0.5, 0.5, 0.5, 0.5])
    assert _alike(one, one + 0.169)
    assert not _alike(one, one + np.array([0.171, 0, 0, 0]))
    bulging = outline(SQUARE, [0.5, 0.5, 0.5, 0.5])
    assert _outline_symmetry(bulging, 0.05).turns == 4
    uneven = outline(SQUARE, [0.5, 0, 0.5, 0])
    found = _outline_symmetry(uneven, 0.05)
    assert (found.turns, found.mirrored) == (2, True)
    alone = _outline_symmetry(outline(SQUARE, [0.5, 0, 0, 0]), 0.05)
    assert (alone.turns, alone.mirrored) == (1, True)


def test_triangles_and_quadrilaterals_are_named_by_their_group() -> None:
    three = np.array([0, 10, 5 + 8.66j])
    assert _triangle(three, symmetry_of(three, 3, True), 0.1) == "equilateral triangle"
    right = np.array([0, 10, 10j])
    assert (
        _triangle(right, symmetry_of(right, 1, True), 0.1) == "right isosceles triangle"
    )
    assert _triangle(right, symmetry_of(right), 0.1) == "right triangle"
    flat = np.array([0, 10, 5 + 2j])
    assert _triangle(flat, symmetry_of(flat, 1, True), 0.1) == "isosceles triangle"
    assert _triangle(flat, symmetry_of(flat), 0.1) == "triangle"
    none, dent = np.zeros(4, bool), np.array([False, True, False, False])
    for z, facts, name in (
        (SQUARE, (4, True), "square"),
        (OBLONG, (2, True), "rectangle"),
        (OBLONG, (2, True, True), "rhombus"),
        (OBLONG, (2, False), "parallelogram"),
        ([0, 20, 25 + 10j, 5 + 10j], (1, False), "parallelogram"),
        ([0, 20, 15 + 10j, 5 + 10j], (1, True), "isosceles trapezium"),
        ([0, 20, 12 + 10j, 2 + 10j], (1, False), "trapezium"),
        ([0, 20, 12 + 10j, 10j], (1, False), "right trapezium"),
        ([0, 20, 12 + 9j, 3 + 13j], (1, False), "4-sided"),
        ([0, 10 - 4j, 24, 10 + 4j], (1, True, True), "kite"),
        # five times as long as wide and parallel
        ([0, 49, 49 + 10j, 10j], (2, True), "rectangle"),
        ([0, 50, 50 + 10j, 10j], (2, True), "strip"),
    ):
        z = np.asarray(z, complex)
        assert _quadrilateral(z, symmetry_of(z, *facts), none, 0.05) == name
    assert (
        _quadrilateral(SQUARE, symmetry_of(SQUARE, 1, True), dent, 0.05) == "arrowhead"
    )
    assert _quadrilateral(SQUARE, symmetry_of(SQUARE), dent, 0.05) == "uneven arrowhead"


def test_convex_figures_are_counted_up_to_ten() -> None:
    def named(n, turns=1, mirrored=False):
        z = np.exp(2j * np.pi * np.arange(n) / n)
        return _convex(z, symmetry_of(z, turns, mirrored))

    assert [named(n, n, True) for n in (5, 11, 12)] == [
        "regular pentagon",
        "regular 11-sided",
        "regular dodecagon",
    ]
    assert named(6, 2, True) == "long hexagon"
    assert named(6, 2) == "6-sided with a half turn"
    assert named(6, 3) == "6-sided with 3-fold turns"
    assert named(10) == "10-sided"
    assert named(11) == "many-sided figure"
    assert named(8, 1, True) == "8-sided with one mirror"
    assert named(8, 4, True) == "8-sided with 4 mirrors"
    assert _groups(np.array([True, False, False, True, False])) == [2, 1]


def test_shapes_of_two_sides_are_told_by_their_bends() -> None:
    def two(a, b, *, round_=True):
        return _two_sided(outline([0, 20], [a, b], round_))

    six = math.radians(6)
    assert two(0, math.pi - six + 0.01) == "half circle"
    assert two(math.pi - six - 0.01, 0) == "circle segment"
    assert two(0, 2.0, round_=False) == "rounded segment"
    # bends that differ by 0.1 and a twentieth
    assert two(2.0, 2.19) == "lens"
    assert two(2.0, 2.21) == "petal"
    assert two(2.0, 2.0, round_=False) == "petal"
    assert two(3.0, -1.0) == "crescent"
    assert name_outline(outline([0, 20], [0, math.pi]), 0.1) == "half circle"


def test_one_cornered_shapes_are_drops_or_hearts() -> None:
    assert name_outline(outline([0], [5.0], turn=[1.2]), 0.1) == "drop"
    assert name_outline(outline([0], [7.5], turn=[-1.2]), 0.1) == "heart"
    assert name_outline(outline([0], closed="oval"), 0.1) == "oval"


def sector(sweep: float, radius: float = 10.0, centre: complex = 0) -> Outline:
    return outline([radius, radius * np.exp(1j * sweep), centre], [sweep, 0, 0])


def test_sectors_have_their_arc_about_the_third_corner() -> None:
    assert _sector(sector(QUARTER)) == "quarter circle"
    assert _sector(sector(QUARTER + 0.05)) == "quarter circle"
    assert _sector(sector(QUARTER + 0.07)) == "circle sector"
    # the corner may be off by 0.04 of the radius
    assert _sector(sector(1.0, centre=0.38 * np.exp(0.5j))) == "circle sector"
    assert _sector(sector(1.0, centre=0.6 * np.exp(0.5j))) == ""
    assert _sector(replace(sector(1.0), round=np.zeros(3, bool))) == ""
    assert _sector(replace(sector(1.0), bend=np.array([-1.0, 0, 0]))) == ""


def ring_piece(
    sweep: float, inner: float = 10.0, outer: float = 20.0, off: complex = 0
) -> Outline:
    turn = np.exp(1j * sweep)
    z = [inner, outer, outer * turn, inner * turn + off]
    return outline(z, [0, sweep, 0, -sweep])


def test_pieces_of_rings_have_two_arcs_about_one_centre() -> None:
    assert _ring_piece(ring_piece(1.2))
    assert not _ring_piece(outline(SQUARE, [0.5, 0.5, 0, 0]))
    assert not _ring_piece(
        replace(ring_piece(1.2), round=np.array([False, True, False, False]))
    )
    # both bend by as much, within 0.1 and a tenth of it
    for inner, told in ((-1.1, True), (-0.95, False), (1.2, False)):
        other = replace(ring_piece(1.2), bend=np.array([0, 1.2, 0, inner]))
        assert _ring_piece(other) is told
    wide = ring_piece(1.2, off=1.5 + 1.5j)
    assert not _ring_piece(wide)
    assert name_outline(ring_piece(1.2), 0.1) == "ring piece"


@pytest.mark.parametrize(
    ("shape", "name"),
    [
        (outline(SQUARE, [0.4] * 4), "bulging square"),
        (outline(OBLONG, [0.4] * 4), "bulging rectangle"),
        (outline([0, 60, 60 + 10j, 10j], [0.4] * 4), "bulging rectangle"),
        (outline(SQUARE, [-0.4] * 4), "hollow square"),
        (outline([0, 10, 5 + 8.66j], [-0.4] * 3), "hollow triangle"),
        (
            outline(10 * np.exp(2j * np.pi * np.arange(5) / 5), [0.3] * 5),
            "bulging pentagon",
        ),
        (
            outline(10 * np.exp(2j * np.pi * np.arange(11) / 11), [0.1] * 11),
            "bulging 11-sided",
        ),
        # arcs of three quarters about a square: a quatrefoil
        (outline(SQUARE, [3.3] * 4), "quatrefoil"),
        (
            outline(10 * np.exp(2j * np.pi * np.arange(6) / 6), [3.0] * 6),
            "6-lobed foil",
        ),
        (outline([0, 10, 5 + 8.66j], [0.5, 0, 0]), "curved triangle with one mirror"),
        # an arch of a half circle on a square
        (
            outline(
                [0, 20, 20 + 25j, 25j],
                [0, 0, math.pi, 0],
                turn=[QUARTER, QUARTER, 0, 0],
            ),
            "arch",
        ),
    ],
)
def test_curved_shapes_are_named_by_their_corners(shape, name) -> None:
    assert name_outline(shape, 0.05) == name


def test_a_circle_is_fitted_through_points() -> None:
    t = np.linspace(0.2, 2.0, 9)
    centre, radius, miss = _fit_circle(3 + 4j + 7 * np.exp(1j * t))
    assert centre == pytest.approx(3 + 4j)
    assert radius == pytest.approx(7)
    assert miss == pytest.approx(0, abs=1e-9)
    off = 3 + 4j + 7 * np.exp(1j * np.linspace(0, 2 * np.pi, 12, endpoint=False))
    off[0] += 0.1
    assert 0.05 < _fit_circle(off)[2] < 0.1
    assert _fit_circle(np.array([0, 1, 2, 3 + 0j]))[1] == np.inf


def piece(first: int, last: int, **facts) -> _Piece:
    own = {
        "straight": True,
        "bend": 0.0,
        "circular": False,
        "centre": 0j,
        "radius": 0.0,
    }
    return _Piece(first, last, **own | facts)


def test_pieces_stand_off_their_chord() -> None:
    z = np.array([0, 5 + 2j, 10, 5 - 9j])
    assert _sagitta(piece(0, 2), z) == pytest.approx(2)
    assert _sagitta(piece(2, 4), z) == pytest.approx(9)
    # all round there is no chord: the farthest point counts
    assert _sagitta(piece(0, 4), z) == pytest.approx(math.hypot(5, 9))


def test_straight_pieces_on_one_line_are_one() -> None:
    def joined(off, short=10.0, reach=0.1):
        z = np.array([0, 20 + 1j * off, 20 + short, 20 + short + 20j, 20j])
        return len(_merge_straight([piece(k, k + 1) for k in range(5)], z, reach))

    # a joint that bends by less than five degrees may be off by three times the reach
    assert joined(0.0) == 4
    assert joined(0.29) == 4
    assert joined(0.31) == 5
    # of a short side less: 0.087 of 2 mm, where it bends by so little
    assert joined(0.09, short=2.0) == 4
    assert joined(0.3, short=2.0) == 5
    # two are left at least
    line = np.array([0, 10, 20, 30 + 0j])
    assert len(_merge_straight([piece(k, k + 1) for k in range(4)], line, 0.1)) == 2
    curved = [piece(0, 1), piece(1, 2, straight=False), piece(2, 3), piece(3, 4)]
    # a curve parts two of them, and at the ends of the line the others turn back
    assert len(_merge_straight(curved, line, 0.1)) == 4


def test_outlines_are_laid_on_each_other_best() -> None:
    rng = np.random.default_rng(5)
    for n in (5, 80):
        z = rng.standard_normal(n) + 1j * rng.standard_normal(n)
        z -= z.mean()
        bend = rng.uniform(0, 1, n)
        turned, shift = z * np.exp(-0.8j), 3
        miss, found, spin = _best_turn(
            np.roll(turned, shift), np.roll(bend, shift), z, bend
        )
        assert found == shift
        assert spin == pytest.approx(np.exp(0.8j))
        assert miss == pytest.approx(0, abs=1e-9)
        # bends speak as well: with others they are apart by their squares
        other = np.roll(bend, shift) + 0.5
        miss, _, _ = _best_turn(np.roll(turned, shift), other, z, bend)
        assert miss == pytest.approx(0.25 * n * np.abs(z).max() ** 2)
    a, b = rng.standard_normal(7), rng.standard_normal(7)
    sums = [(np.roll(a, -s) * b).sum() for s in range(7)]
    assert np.allclose(_correlate(a, b), sums)


def test_the_mean_of_copies_has_their_spread() -> None:
    rng = np.random.default_rng(8)
    base = np.array([0, 30, 36 + 20j, 10 + 26j, -4 + 9j])
    copies = []
    for k in range(60):
        z = base + 0.1 * (rng.standard_normal(5) + 1j * rng.standard_normal(5))
        z = np.roll(z * np.exp(0.9j * k), k)
        # every other one is mirrored, and walked the other way
        copies.append(outline(z.conj()[::-1] if k % 2 else z))
    mean, sigma = mean_outline(copies)
    assert sigma == pytest.approx(0.1, rel=0.1)
    found = _outline_symmetry(mean, 0.01).corners
    sides = np.sort(np.abs(np.roll(found, -1) - found))
    assert sides == pytest.approx(np.sort(np.abs(np.roll(base, -1) - base)), abs=0.1)
    lone, none = mean_outline(copies[:1])
    assert lone is copies[0]
    assert math.isnan(none)
    assert math.isnan(mean_outline(copies[:2])[1])
    # those with the number of corners that most have
    odd = outline(SQUARE)
    assert mean_outline([odd, *copies[:4]])[0].count == 5


def test_corners_may_move_by_what_is_known_of_noise() -> None:
    shape = outline(10 * SQUARE)
    # of 100 mm the root of the area: 0.6 at least
    assert _slack(shape, 0.01, 0.01, 9) == pytest.approx(0.6)
    # 3.5 sigmas over the root of the members, of which 0.6 stays
    assert _slack(shape, 1.0, 0.5, 1) == pytest.approx(3.5)
    assert _slack(shape, 0.5, 1.0, 4) == pytest.approx(3.5 * 0.6)
    assert _slack(shape, float("nan"), 1.0, 2) == pytest.approx(3.5 / math.sqrt(2))
    # where nothing tells, 0.03 of the usual side, over the root
    assert _slack(shape, float("nan"), None, 1) == pytest.approx(3.0)
    assert _slack(shape, float("nan"), None, 9) == pytest.approx(1.0)


def traced(z: np.ndarray) -> list[_Piece]:
    """Return pieces of an outline of chords, those of traced curves joined."""
    step = np.roll(z, -1) - z
    turn = np.angle(step * np.conj(np.roll(step, 1)))
    pieces = [piece(k, k + 1) for k in range(len(z))]
    return _merge_traced(pieces, z, turn, 0.004 * 40)


def test_runs_of_chords_that_turn_one_way_are_curves() -> None:
    round_ = 20 * np.exp(2j * np.pi * np.arange(24) / 24)
    (whole,) = traced(round_)
    assert (whole.circular, whole.straight) == (True, False)
    assert whole.bend == pytest.approx(2 * math.pi)
    assert (whole.radius, whole.last - whole.first) == (pytest.approx(20), 24)
    # turns of 18 degrees are corners
    assert len(traced(20 * np.exp(2j * np.pi * np.arange(20) / 20))) == 20
    # two half circles of twelve chords and two long sides
    half = 20 * np.exp(1j * (np.pi * np.arange(13) / 12 - np.pi / 2))
    stadium = np.concatenate([half + 60, -half - 60])
    found = traced(stadium)
    assert [p.straight for p in found].count(True) == 2
    arcs = [p for p in found if not p.straight]
    assert [p.circular for p in arcs] == [True, True]
    assert [p.bend for p in arcs] == pytest.approx([math.pi] * 2, rel=0.01)
    assert sorted(p.last - p.first for p in arcs) == [12, 12]
    # where the turn changes its sense one curve ends and another begins
    way = np.concatenate([np.arange(8), np.arange(6, -2, -1)]) * np.radians(10)
    wave = np.concatenate([[0], np.cumsum(5 * np.exp(1j * way))])
    shape = np.concatenate([wave, [wave[-1] + 90j, wave[0] + 90j]])
    bends = [p.bend for p in traced(shape) if not p.straight]
    assert len(bends) == 2
    assert bends[0] > 0.5 > -0.5 > bends[1]


def test_three_chords_that_turn_are_no_curve() -> None:
    way = np.radians([0, 12, 24, 36])
    for count, curves in ((3, 0), (4, 1)):
        bow = np.concatenate([[0], np.cumsum(5 * np.exp(1j * way[:count]))])
        shape = np.concatenate([bow, [bow[-1] + 60j, 60j - 20]])
        assert sum(not p.straight for p in traced(shape)) == curves


def ring_of(corners, straight=None):
    """Return the columns of a ring of sides, numbered in the column of curves."""
    z = np.asarray(corners, complex)
    n = len(z)
    way = np.roll(z, -1) - z
    straight = np.ones(n, bool) if straight is None else np.asarray(straight)
    none = np.zeros(n, complex)
    return [z, way, way, np.arange(n), straight, ~straight, none, np.zeros(n)]


@pytest.mark.parametrize(
    ("corners", "straight", "gap", "left", "curves"),
    [
        # a square of 10 whose corner at the origin is cut by 0.4
        ([0.4, 10, 10 + 10j, 10j, 0.4j], None, 0.6, [0.2 + 0.2j, 10, 10 + 10j, 10j],
         [0, 1, 2, 3]),
        # by less than the longest gap that was closed
        ([0.4, 10, 10 + 10j, 10j, 0.4j], None, 0.5, None, None),
        # what is larger than 0.08 of the figure is a side, however long gaps are
        ([0.5, 10, 10 + 10j, 10j, 0.5j], None, 9, [0.25 + 0.25j, 10, 10 + 10j, 10j],
         [0, 1, 2, 3]),
        ([0.6, 10, 10 + 10j, 10j, 0.6j], None, 9, None, None),
        # two such sides beside each other are one corner
        ([0.4, 10, 10 + 10j, 10j, 0.4j, 0.3 + 0.3j], None, 0.6,
         [0.2 + 0.2j, 10, 10 + 10j, 10j], [0, 1, 2, 3]),
        # a short piece of a curve closes no gap
        ([0.4, 10, 10 + 10j, 10j, 0.4j], [1, 1, 1, 1, 0], 0.6, None, None),
        # a curve beside one is kept as it is
        ([0.4, 10, 10 + 10j, 10j, 0.4j], [0, 1, 1, 1, 1], 0.6,
         [0.2 + 0.2j, 10, 10 + 10j, 10j], [0, 1, 2, 3]),
        # a short part of a side that goes straight on is no corner
        ([0, 0.4, 10, 10 + 10j, 10j], None, 0.6, None, None),
        # nor is one that bends by 4 degrees at an end; by 6 it is
        ([0.4 + 0.028j, 10, 10 + 10j, 10j, 0], None, 0.6, None, None),
        ([0.4 + 0.042j, 10, 10 + 10j, 10j, 0], None, 0.6,
         [0.2 + 0.021j, 10, 10 + 10j, 10j], [0, 1, 2, 3]),
        # nothing is left of a triangle
        ([0, 0.4, 10j], None, 0.6, None, None),
    ],
)  # fmt: skip
def test_sides_that_close_gaps_are_corners(
    corners, straight, gap, left, curves
) -> None:
    given = ring_of(corners, None if straight is None else np.array(straight, bool))
    found = _without_gaps(given, gap)
    if left is None:
        assert found is given
        return
    assert found[0] == pytest.approx(np.array(left, complex))
    assert found[3].tolist() == curves
    way = np.roll(found[0], -1) - found[0]
    flat = found[4]
    assert found[1][flat] == pytest.approx(way[flat])
    assert found[2][flat] == pytest.approx(way[flat])
    assert found[1][~flat] == pytest.approx(given[1][:4][~flat])
