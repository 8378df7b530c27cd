"""What lines say of shifts, turns and mirrors that they were drawn by."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.symmetry.lines.across import find_across, measure_across
from fillwork.symmetry.lines.evidence import build_evidence
from fillwork.symmetry.lines.fit import (
    LADDER,
    Correlator,
    missed_places,
    refine_shifts,
    score_images,
)
from fillwork.symmetry.lines.lattice_fit import (
    fit_basis,
    lattice_points,
    measure_lattice,
    translate_images,
)
from fillwork.symmetry.lines.mirrors import best_mirror, find_mirror
from fillwork.symmetry.lines.turning import (
    _steps,
    images_of,
    reflection,
    rotation,
    turned_by_all,
)

BASIS = np.array([[20.0, 2], [-3, 17]])
EVERY = range(-9, 12)
SIZE = 120.0
BOX = np.array([[0, 0], [SIZE, 0], [SIZE, SIZE], [0, SIZE]])
EDGE = np.hstack([BOX, np.roll(BOX, -1, axis=0)])


def strokes(rng, count=6, size=14.0) -> np.ndarray:
    start = rng.uniform(0, size, (count, 2))
    angle = rng.uniform(0, np.pi, count)
    step = rng.uniform(5, 8, count)[:, None]
    return np.hstack(
        [start, start + step * np.column_stack([np.cos(angle), np.sin(angle)])]
    )


def repeated(seed: int, gone: float = 0.0, noise: float = 0.0, rows=EVERY):
    """Return the evidence of strokes carried about by the shifts of a lattice."""
    rng = np.random.default_rng(seed)
    motif = strokes(rng)
    parts = []
    for i in EVERY:
        for j in rows:
            if rng.random() < gone:
                continue
            shift = np.tile(np.array([i, j]) @ BASIS, 2)
            parts.append(motif + shift + noise * rng.standard_normal((len(motif), 4)))
    lines = np.vstack(parts)
    inside = ((lines > 0) & (lines < SIZE)).all(axis=1)
    lines = lines[inside]
    return build_evidence(lines, np.arange(len(lines)), EDGE)


def scores_of(evidence, vectors):
    rows = evidence.thin(4000)
    images = translate_images(evidence, vectors, rows, 4000)
    return score_images(evidence, images, vectors)


@pytest.mark.parametrize("seed", range(2))
def test_shifts_that_hold_carry_all_lines_and_others_few(seed: int) -> None:
    evidence = repeated(seed)
    found = scores_of(evidence, np.array([BASIS[0], BASIS[1], BASIS[0] - BASIS[1]]))
    # what is cut off at the edge has no images at it: a few of each hundred
    assert found.share.min() > 0.9
    assert found.rms.max() < 1e-6
    false = scores_of(evidence, np.array([[10.0, 1], [-1.5, 8.5], [7, 3]]))
    assert false.share[:, 0].max() < 0.2
    # the looser the tolerance, the more lie on a line by chance
    assert (np.diff(false.share, axis=1) >= -0.02).all()
    # what is near the window's edge is not asked, by one and a half tolerances
    assert (np.diff(found.expected, axis=1) <= 0).all()


@pytest.mark.parametrize("gone", [0.2, 0.5])
def test_a_share_of_missing_motifs_is_missing_of_the_images(gone: float) -> None:
    shares = [
        scores_of(repeated(seed, gone), BASIS[:1]).share[0, 0] for seed in range(6)
    ]
    whole = [scores_of(repeated(seed), BASIS[:1]).share[0, 0] for seed in range(6)]
    # of what is missing some lies on other lines by chance, a fifth at most
    kept = np.mean(shares) / np.mean(whole)
    assert 1 - gone - 0.06 < kept < 1 - gone + 0.2 * gone


@pytest.mark.parametrize("noise", [0.01, 0.04])
def test_the_miss_of_lines_is_that_of_their_ends(noise: float) -> None:
    # two ends each off by the noise: across its middle a line is off by 1/√2 of it at
    # the least, and its image by √2 times as much; at the ends by √2 noises
    evidence = repeated(3, noise=noise)
    rms = scores_of(evidence, BASIS).rms[:, -1]
    assert (rms > noise).all()
    assert (rms < 1.5 * noise).all()


def test_a_shift_and_a_basis_are_improved_to_the_last_digits() -> None:
    evidence = repeated(1)
    rows = evidence.thin(2000)
    off = np.array([[0.05, -0.04], [-0.03, 0.06]]) * evidence.scale
    images = translate_images(evidence, BASIS + off, rows, 2000)
    better = refine_shifts(evidence, images, BASIS + off)
    assert np.abs(better - BASIS).max() < 1e-5
    fitted = fit_basis(evidence, BASIS + off / 2, rows)
    assert np.abs(fitted - BASIS).max() < 1e-6
    strip = fit_basis(evidence, (BASIS + off / 2)[:1], rows)
    assert np.abs(strip - BASIS[:1]).max() < 1e-6


def test_a_lattice_is_measured_over_all_its_shifts() -> None:
    evidence = repeated(2)
    for basis in (BASIS, BASIS[:1]):
        fit = measure_lattice(evidence, basis, 2)
        assert fit.share > 0.9
        assert fit.share == fit.shares[2]
        assert fit.rms < 1e-6
        assert fit.covered > 0.95
        assert fit.rank == len(basis)
        assert fit.expected > 1000
    half = measure_lattice(evidence, BASIS / 2, 0)
    # of its shifts other than those of the lattice, three in four, few hold
    assert half.share < 0.45
    # lines that testify to a second way: of a single row there are none
    row = repeated(2, rows=range(2, 3))
    assert measure_lattice(row, BASIS[:1], 2).share > 0.9
    assert measure_lattice(evidence, BASIS, 2).weakest > 10
    # nor of a shift that leaves the drawing, alone or as both
    far = np.array([BASIS[0], [0.0, 400]])
    assert measure_lattice(evidence, far, 2).weakest == 0
    assert measure_lattice(evidence, 20 * BASIS, 2).weakest == 0


@pytest.mark.parametrize("most", [400, 20])
def test_shifts_of_a_window_are_the_shortest_one_of_each_pair(most: int) -> None:
    evidence = repeated(0)
    extent = np.array(evidence.window.depth.shape[::-1]) * evidence.window.pixel
    found = lattice_points(evidence, BASIS, most)
    span = range(-15, 16)
    every = [
        (i, j)
        for i in span
        for j in span
        if (j > 0 or (j == 0 and i > 0)) and (np.abs((i, j) @ BASIS) < extent).all()
    ]
    every.sort(key=lambda c: float((np.array(c) @ BASIS) @ (np.array(c) @ BASIS)))
    size = [float(np.hypot(*(np.array(c) @ BASIS))) for c in every]
    told = np.hypot(*(found @ BASIS).T)
    assert told == pytest.approx(size[:most])
    assert len({tuple(c) for c in found.tolist()} & set(every)) == len(found)
    # along a strip as many as the window is long, corner to corner
    line = lattice_points(evidence, BASIS[:1], most)
    reach = float(np.hypot(*extent))
    count = min(int(reach / np.hypot(*BASIS[0])), most)
    assert line.ravel().tolist() == list(range(1, count + 1))


def test_images_are_samples_shifted_both_ways_within_the_window() -> None:
    evidence = repeated(0)
    rows = evidence.thin(3000)
    vectors = np.array([BASIS[0], 4 * BASIS[1]])
    for most in (200, 10_000):
        images = translate_images(evidence, vectors, rows, most)
        assert images.count == 2
        at = images.at(vectors)
        assert (evidence.window.depth_at(at) > 0).all()
        away = at - evidence.samples[images.source]
        assert np.allclose(away, images.sign[:, None] * vectors[images.owner])
        assert np.allclose(images.directions, evidence.directions[images.source])
        for k in (0, 1):
            for sign in (1.0, -1.0):
                mine = (images.owner == k) & (images.sign == sign)
                moved = evidence.samples[rows] + sign * vectors[k]
                there = int((evidence.window.depth_at(moved) > 0).sum())
                if most == 10_000:
                    assert mine.sum() == there
                else:
                    assert 0.5 * min(there, 100) <= mine.sum() <= 1.1 * most / 2


def test_votes_are_highest_for_the_shifts_of_the_lattice() -> None:
    evidence = repeated(4)
    correlator = Correlator(evidence)
    agree, expected = correlator.own_votes()
    share = agree / (expected + 32)
    share[expected < 0.3 * len(evidence.samples)] = 0
    shifts, values = correlator.peaks(share, 7, 0.5)
    assert (np.diff(values) <= 0).all()
    # no shift at all, and the six shortest or as good ones
    along = shifts @ np.linalg.inv(BASIS)
    assert np.abs((along - np.rint(along)) @ BASIS).max() < correlator.cell
    assert np.abs(shifts[0]).max() < 1e-6
    # the whole drawing on itself: every sample falls on a like line
    assert agree[0, 0] == pytest.approx(2 * len(evidence.samples), rel=1e-3)
    whole, _ = correlator.votes(evidence.samples, evidence.directions, 1.0)
    assert whole[0, 0] == pytest.approx(1, abs=0.05)
    # turned by a right angle few fall on lines of their direction
    turned = evidence.directions[:, ::-1] * [-1, 1]
    cross, _ = correlator.votes(evidence.samples, turned, 1.0)
    assert cross[0, 0] < 0.4


def test_a_second_shift_is_found_where_little_of_it_is_seen() -> None:
    # two rows of the pattern alone
    rng = np.random.default_rng(5)
    motif = strokes(rng)
    long = np.array([20.0, 0])
    shifts = [i * long + j * np.array([7.0, 18]) for i in range(9) for j in (0, 1)]
    lines = np.vstack([motif + np.tile(s, 2) for s in shifts])
    low, high = lines.reshape(-1, 2).min(axis=0), lines.reshape(-1, 2).max(axis=0)
    box = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    edge = np.hstack([box, np.roll(box, -1, axis=0)])
    evidence = build_evidence(lines, np.arange(len(lines)), edge)
    found = find_across(evidence, Correlator(evidence), long)
    assert found is not None
    assert found.share > 0.85
    step = (found.vector - [7, 18]) @ long / (long @ long)
    assert np.allclose(found.vector - np.rint(step) * long, [7, 18], atol=1e-3)
    right, wrong = measure_across(evidence, long, np.array([[7.0, 18], [12, 18]]))
    assert right.share > 0.85 > 0.5 > wrong.share
    # some six lines testify, those that the first shift carries onto each other once
    assert 4 < right.lines < 14
    assert 0.15 < right.spread <= 0.5


def mirrored(seed: int, angle: float, centre) -> np.ndarray:
    rng = np.random.default_rng(seed)
    lines = strokes(rng, 24, 50.0).reshape(-1, 2) - 25
    images = lines @ reflection(angle).T
    return (np.vstack([lines, images]) + centre).reshape(-1, 4)


@pytest.mark.parametrize("degrees", [0.0, 23.0, 90.0, 141.0])
def test_one_mirror_is_found_wherever_it_lies(degrees: float) -> None:
    centre = np.array([60.0, 55.0])
    angle = math.radians(degrees)
    lines = mirrored(2, angle, centre)
    evidence = build_evidence(lines, np.arange(len(lines)), np.zeros((0, 4)))
    fit = find_mirror(evidence, Correlator(evidence))
    assert fit is not None
    assert fit.share > 0.97
    assert (fit.mirror - angle + 1) % np.pi == pytest.approx(1, abs=1e-5)
    across = np.array([-math.sin(angle), math.cos(angle)])
    assert (fit.centre - centre) @ across == pytest.approx(0, abs=1e-4)
    assert fit.rms < 1e-4
    # through the centre, beside no turns
    rows = evidence.thin(2500)
    best = best_mirror(evidence, rows, centre, 1, 2)
    assert (best.angle - angle + 1) % np.pi == pytest.approx(1, abs=1e-5)
    assert best.share > 0.97
    assert best.lacking < 0.02
    # without the images of a third of the lines, none
    some = np.vstack([lines[:24], lines[24:40]])
    broken = build_evidence(some, np.arange(len(some)), np.zeros((0, 4)))
    assert find_mirror(broken, Correlator(broken)) is None


@pytest.mark.parametrize("n", [3, 5, 8])
def test_turns_carry_a_rosette_by_its_order_alone(n: int) -> None:
    rng = np.random.default_rng(n)
    lines = strokes(rng, 5, 30.0).reshape(-1, 2)
    every = [lines @ rotation(2 * np.pi * k / n).T for k in range(n)]
    centre = np.array([70.0, 80.0])
    rows = (np.vstack(every) + centre).reshape(-1, 4)
    evidence = build_evidence(rows, np.arange(len(rows)), np.zeros((0, 4)))
    numbers = [2, 3, 4, 5, 6, 7, 8, 9]
    thin = evidence.thin(2500)
    carried = turned_by_all(evidence, centre, thin, 2, numbers)
    total, weakest, rms, want = carried.scores(2)
    for k, number in enumerate(numbers):
        if n % number == 0:
            assert total[k] > 0.97
            assert weakest[k] > 0.9
            assert rms[k] < 1e-6
        else:
            assert total[k] < 0.6
    assert (want <= len(thin)).all()
    images, shifts = images_of(evidence, thin, [(rotation(1.0), np.array([3.0, 4]))])
    turned = evidence.samples[thin] @ rotation(1.0).T + [3, 4]
    assert np.allclose(images.at(shifts), turned)


def test_large_orders_are_told_by_a_part_of_a_turn_prime_to_them() -> None:
    assert [_steps(n) for n in (2, 12, 64)] == [1, 1, 1]
    for n in (65, 90, 97, 360):
        step = _steps(n)
        assert math.gcd(step, n) == 1
        assert int(0.34 * n) <= step < 0.34 * n + 6
        assert int(0.45 * n) <= _steps(n, 0.45) < 0.45 * n + 6


def test_a_place_is_missed_where_hardly_any_of_its_images_lie_on_a_line() -> None:
    # 7 images of which one is matched are 1/7, under 0.15; 6 of which one is are 1/6;
    # 5 are too few to tell
    key = np.repeat([9, 2, 5, 0], [7, 6, 5, 6])
    hit = np.zeros(24, bool)
    hit[[3, 8]] = True
    told = missed_places(key, hit)
    assert told.tolist() == [True] * 7 + [False] * 6 + [False] * 5 + [True] * 6
    assert len(LADDER) == 5
