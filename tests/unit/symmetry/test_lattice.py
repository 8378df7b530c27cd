"""Translations: which of several span a lattice, and which of two lattices it is."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.lines.evidence import build_evidence
from fillwork.symmetry.lines.fit import LADDER, Correlator
from fillwork.symmetry.lines.hints import _shortest, guess_lattice
from fillwork.symmetry.lines.lattice import (
    _divides,
    _first_level,
    _fitted,
    _moves,
    _span,
    _strays,
    _worth,
    find_lattice,
)
from fillwork.symmetry.lines.lattice_fit import (
    LatticeFit,
    LatticeMeasures,
    _other_ways,
    lattice_kind,
    measure_lattice,
    reduce_basis,
)
from tests.unit.symmetry.test_evidence import BASIS, EDGE, SIZE, repeated, strokes

FIT = LatticeFit(np.array([[9.0, 0]]), 1, 0.99, 0.1, 9, 500, 0.9)


@pytest.mark.parametrize(
    ("basis", "kind"),
    [
        ([[1.0, 0], [0.5, 2]], "centred rectangular"),
        ([[2.0, 0.6], [2, -0.6]], "centred rectangular"),
        ([[4.0, 0], [1.1, 3.7]], "oblique"),
        ([[2.0, 0], [1, math.sqrt(3)]], "hexagonal"),
        ([[2.0, 0], [0, 5]], "rectangular"),
        ([[0.0, 5], [5, 0]], "square"),
    ],
)
def test_the_mirror_image_of_a_lattice_is_of_its_kind(basis, kind) -> None:
    for sign in ((1, 1), (-1, 1), (1, -1)):
        for rows in (basis, basis[::-1]):
            mirrored = np.array(rows) * sign
            assert lattice_kind(reduce_basis(mirrored), 0.01) == kind


@pytest.mark.parametrize(
    ("basis", "reduced"),
    [
        ([[-3.0, 0], [0, 4]], [[3, 0], [0, 4]]),
        ([[0.0, -3], [4, 0]], [[0, 3], [-4, 0]]),
        ([[3.0, 0], [-3, 5]], [[3, 0], [0, 5]]),
        ([[-3.0, 1], [9, 7]], [[3, -1], [3, 9]]),
        ([[3.0, 0], [-1, 4]], [[1, -4], [3, 0]]),
    ],
)
def test_a_reduced_basis_points_to_the_right(basis, reduced) -> None:
    # one of them points to the right or up, the other lies to its left
    assert reduce_basis(np.array(basis)).tolist() == reduced


@pytest.mark.parametrize("span", [_span, _shortest])
def test_the_shortest_shifts_that_are_no_multiples_span_a_lattice(span) -> None:
    short, long = np.array([10.0, 0]), np.array([0.0, 12])
    for sine, own in ((0.19, False), (0.21, True)):
        near = 11 * np.array([math.sqrt(1 - sine**2), sine])
        found = span(np.array([long, 2 * short, near, short]))
        assert found.tolist() == reduce_basis([near if own else long, short]).tolist()


def test_shifts_along_one_line_span_no_lattice_of_two() -> None:
    row = np.array([[20.0, 0], [-10, 0], [30, 0]])
    assert _span(row).tolist() == [[-10, 0]]
    assert _shortest(row) is None
    # the shortest ones may lie along each other: then two longer do
    rest = np.array([[10.0, 0], [10.1, 0], [3, 15]])
    assert _shortest(rest).tolist() == reduce_basis(rest[[0, 2]]).tolist()


@pytest.mark.parametrize(
    ("share", "step", "extent", "level", "told"),
    [
        (0.99, 3.0, 30, 3, True),
        (0.984, 3.0, 30, 3, False),  # lines speak against it
        (0.99, 3.25, 30, 3, False),  # 2.77 of them are the other
        (0.99, 9.0, 30, 3, False),  # as long as the other one
        (0.99, 4.4, 30, 3, True),  # 2.05 of them
        (0.99, 4.0, 30, 3, False),  # 2.25
        (0.99, 3.0, 40, 3, True),  # 4.44 repeats
        (0.99, 3.0, 41, 3, False),  # 4.56
        (0.99, 3.0, 30, 4, False),  # lines miss by three steps more
    ],
)
def test_a_short_shift_takes_the_place_of_its_multiple(
    share, step, extent, level, told
) -> None:
    evidence = SimpleNamespace(samples=np.array([[0.0, 5], [extent, 0], [7, 90]]))
    short = replace(FIT, basis=np.array([[step, 0]]), share=share, level=level)
    assert _divides(evidence, short, FIT) is told
    both = replace(short, basis=np.eye(2) * step)
    assert _divides(evidence, both, FIT) is False
    assert _divides(evidence, short, both) is False


def test_lattices_that_lines_speak_for_are_worth_more() -> None:
    plane = replace(FIT, basis=9 * np.eye(2))
    ranked = [
        replace(FIT, covered=0.3, share=0.9),
        replace(FIT, covered=0.5, share=0.9),
        replace(FIT, covered=0.9, share=0.92),  # all of a half is enough
        plane,
    ]
    worth = [_worth(f) for f in ranked]
    assert worth == sorted(worth)
    assert len(set(worth)) == 4
    assert worth[2][2] == 0.92
    for poor in (replace(plane, share=0.89), replace(plane, weakest=5)):
        assert _worth(poor) < worth[0]
    assert _worth(replace(plane, weakest=6, share=0.9))[0]


@pytest.mark.parametrize(
    ("slip", "level"), [(0.0, 0), (0.023, 0), (0.025, 1), (0.1, 2), (0.3, 4), (9, 4)]
)
def test_lines_that_are_off_are_held_loosely(slip, level) -> None:
    # 2.5 slips of a scale of 10: 0.0058, 0.0063, 0.025, 0.075 and more of it
    assert _first_level(SimpleNamespace(slip=slip, scale=10.0)) == level
    assert LADDER == (0.006, 0.015, 0.03, 0.06, 0.1)


def test_a_shift_that_slides_back_is_none() -> None:
    evidence = SimpleNamespace(scale=10.0)
    shifts = np.array([[2.9, 0], [0, 3.1], [2.2, -2.2]])
    assert _moves(evidence, shifts).tolist() == [False, True, True]
    basis = np.array([[10.0, 0]])
    for length, kept in ((2.9, False), (3.1, True)):
        known = {basis.tobytes(): np.array([[0, length]])}
        measures = SimpleNamespace(fit=lambda b, k: replace(FIT, basis=b, level=k))
        found = _fitted(measures, basis, np.arange(3), 2, known)
        assert (found is not None) is kept
    assert found.basis.tolist() == [[0, 3.1]]
    assert found.level == 2


def test_lines_that_miss_by_little_are_told_from_a_detail() -> None:
    # of (share at a looser step) nearly all
    for share, told in ((0.984, False), (0.985, True)):
        measures = SimpleNamespace(fit=lambda _, k, s=share: replace(FIT, share=s + k))
        assert _strays(measures, replace(FIT, level=-1)) is told
        assert _strays(measures, replace(FIT, level=4)) is False


def test_ways_that_may_stand_alone_leave_the_others() -> None:
    combos = np.array([[1, 0], [0, 1], [1, 1], [1, -1], [2, 2]])
    one, two, most = _other_ways(combos, np.array([1, 5, 9, 2, 3]))
    assert one.tolist() == [True, False, True, True, True]
    assert two.tolist() == [False, True, True, True, True]
    # the way of the most images is that of (1, 1)
    assert most.tolist() == [True, True, False, True, False]
    (alone,) = _other_ways(np.array([[1], [2]]), np.array([4, 2]))
    assert alone.all()


def test_a_lattice_wider_than_the_drawing_is_kept_by_nothing() -> None:
    evidence = repeated(0)
    wide = 2 * SIZE * np.eye(2)
    found = measure_lattice(evidence, wide, 1)
    told = (found.share, found.rms, found.weakest, found.expected, found.covered)
    assert told == (0, 0, 0, 0, 0)
    assert LatticeMeasures(evidence).images(wide, 1).shape == (0, 2)


def same_lattice(found: np.ndarray, known: np.ndarray, within: float) -> bool:
    """Tell whether two bases span one lattice."""
    whole = np.rint(found @ np.linalg.inv(known))
    return bool(
        abs(abs(np.linalg.det(whole)) - 1) < 1e-9
        and np.abs(whole @ known - found).max() < within
    )


@pytest.mark.parametrize(("gone", "noise"), [(0.0, 0.0), (0.04, 0.0), (0.0, 0.05)])
def test_the_lattice_of_lines_is_found_though_some_are_off(gone, noise) -> None:
    evidence = repeated(8, gone, noise)
    found = find_lattice(evidence, Correlator(evidence))
    assert found.rank == 2
    assert same_lattice(found.basis, BASIS, 0.1 + noise)
    # a motif that is gone misses its images both ways, as what is cut off does
    assert found.share > 1 - 2 * gone - 0.1
    assert found.covered > 0.95


def test_a_single_row_repeats_one_way() -> None:
    evidence = repeated(8, rows=range(2, 3))
    found = find_lattice(evidence, Correlator(evidence))
    assert found.rank == 1
    assert np.abs(np.abs(found.basis[0] @ BASIS[0]) - BASIS[0] @ BASIS[0]) < 0.1


def test_lines_at_random_have_no_lattice() -> None:
    lines = strokes(np.random.default_rng(3), 150, SIZE)
    evidence = build_evidence(lines, np.arange(len(lines)), EDGE)
    found = find_lattice(evidence, Correlator(evidence))
    assert found is None or found.share < 0.9
    assert guess_lattice(evidence) is None


@pytest.mark.parametrize(("i", "j"), [(1, 2), (3, 1)])
def test_a_detail_of_every_second_repeat_makes_the_lattice_coarser(i, j) -> None:
    rng = np.random.default_rng(4)
    motif, detail = strokes(rng), strokes(rng, 3)
    parts = []
    for a in range(-9, 12):
        for b in range(-9, 12):
            shift = np.tile(np.array([a, b]) @ BASIS, 2)
            parts.append(motif + shift)
            if a % i == 0 and b % j == 0:
                parts.append(detail + shift)
    lines = np.vstack(parts)
    lines = lines[((lines > 0) & (lines < SIZE)).all(axis=1)]
    evidence = build_evidence(lines, np.arange(len(lines)), EDGE)
    found = find_lattice(evidence, Correlator(evidence))
    assert same_lattice(found.basis, np.diag([i, j]) @ BASIS, 0.01)
    assert not found.doubt


def test_shifts_that_lines_keep_roughly_are_guessed() -> None:
    evidence = repeated(8, noise=0.4)
    loose, found = guess_lattice(evidence)
    assert loose.scale == 2.5 * evidence.scale
    assert same_lattice(found.basis, BASIS, 0.5)
    assert 0.3 < found.rms < 1.5


def test_votes_for_shifts_are_those_of_one_of_each_pair() -> None:
    correlator = Correlator(repeated(4))
    agree, expected = correlator.own_votes()
    share, same = correlator.own_shares()
    assert same is expected
    rows, columns = share.shape
    y, x = (np.fft.fftfreq(n, 1 / n) for n in (rows, columns))
    # upwards or to the right, but for none at all and the next beside it
    first = (y[:, None] > 0) | ((y[:, None] == 0) & (x[None] > 1))
    first[:, columns // 2] &= y > 0
    first[rows // 2] = True
    assert not share[~first].any()
    doubt = max(32.0, 0.1 * len(correlator.evidence.samples))
    told = agree / (expected + 2 * doubt)
    assert share[first] == pytest.approx(told[first], rel=1e-5, abs=1e-6)
