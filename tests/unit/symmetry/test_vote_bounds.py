"""Which shifts, centres and mirrors lines vote for, of grids of given votes."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.lines import across, centres, mirrors
from fillwork.symmetry.lines.fit import Correlator, _solve_2x2
from fillwork.symmetry.lines.mirrors import RosetteFit
from fillwork.symmetry.lines.turning import rotation
from tests.unit.symmetry.answers import given


def correlator(shape=(20, 30), cell=0.5, **facts):
    """Return what counts votes in cells, without lines."""
    grid = object.__new__(Correlator)
    grid.shape, grid.cell = shape, cell
    for name, value in facts.items():
        setattr(grid, name, value)
    return grid


def bump(share, x, y, high):
    """Put a parabola about a place between cells; what wraps lies before 0."""
    rows, columns = share.shape
    for j in range(round(y) - 1, round(y) + 2):
        for i in range(round(x) - 1, round(x) + 2):
            value = high - 0.1 * ((i - x) ** 2 + (j - y) ** 2)
            share[j % rows, i % columns] = max(share[j % rows, i % columns], value)


def test_peaks_of_votes_lie_between_cells() -> None:
    share = np.zeros((20, 30))
    bump(share, 6.3, 4.2, 0.9)
    bump(share, -7.4, 5.1, 0.8)
    bump(share, 11.0, -3.3, 0.7)
    bump(share, 0.2, -0.3, 0.6)
    shifts, value = correlator().peaks(share, 9, 0.4)
    wanted = 0.5 * np.array([[6.3, 4.2], [-7.4, 5.1], [11, -3.3], [0.2, -0.3]])
    assert np.allclose(shifts, wanted)
    # the highest cell of each: 0.1 times the square of how far it lies off
    assert value == pytest.approx([0.887, 0.783, 0.691, 0.587])
    shifts, _ = correlator().peaks(share, 2, 0.4)
    assert np.allclose(shifts, wanted[:2])
    assert len(correlator().peaks(share, 9, 0.75)[0]) == 2
    assert len(correlator().peaks(share, 9, 0.95)[0]) == 0
    # half of the grid is forwards
    for x, y, told in ((15, 10, (15, 10)), (16, 11, (-14, -9))):
        share = np.zeros((20, 30))
        share[y, x] = 1.0
        shifts, _ = correlator().peaks(share, 9, 0.4)
        assert shifts.tolist() == [[told[0] * 0.5, told[1] * 0.5]]


def test_two_unknowns_are_solved_with_a_ridge() -> None:
    matrix = np.array([[4.0, 1.0, 3.0], [1.0, 1.0, 1.0], [0.0, 0.0, 0.0]])
    right = np.array([[1.0, 2.0], [1.0, 1.0], [1.0, 1.0]])
    told = _solve_2x2(matrix, right, np.zeros(3))
    assert np.allclose(told[0], np.linalg.solve([[4, 1], [1, 3]], [1, 2]))
    # what has no solution moves nothing
    assert told[1:].tolist() == [[0, 0], [0, 0]]
    told = _solve_2x2(matrix[1:2], right[1:2], np.ones(1))
    assert np.allclose(told[0], np.linalg.solve([[2, 1], [1, 2]], [1, 1]))


def test_images_lie_a_shift_and_any_repeats_on() -> None:
    # a window of 100 by 30 mm; three points, a repeat of 40 mm along it
    window = SimpleNamespace(
        depth=np.zeros((15, 50)),
        pixel=2.0,
        depth_at=lambda p: np.where(((p > 0) & (p < [100, 30])).all(axis=1), 1.0, -1.0),
    )
    points = np.array([[10.0, 5], [50, 15], [90, 25]])
    evidence = SimpleNamespace(
        window=window, samples=points, directions=np.tile([1.0, 0], (3, 1))
    )
    along, shifts = np.array([40.0, 0]), np.array([[5.0, 12], [0, 40]])
    images = across._images(evidence, along, shifts, np.arange(3))
    told = images.at(shifts)
    wanted = set()
    for row, p in enumerate(points):
        for sign in (1, -1):
            for k in range(-9, 10):
                x, y = p + sign * (shifts[0] + k * along)
                if 0 < x < 100 and 0 < y < 30:
                    wanted.add((row, sign, x, y))
    got = {
        (int(s), int(g), *xy)
        for s, g, xy in zip(images.source, images.sign, told.tolist(), strict=True)
    }
    assert got == wanted
    assert len(told) == len(wanted)
    # the second shift leads out of the strip
    assert (images.owner == 0).all()
    assert images.count == 2
    assert np.allclose(images.points, told - images.sign[:, None] * shifts[0])


def test_shifts_across_are_voted_for_on_one_side() -> None:
    share = np.zeros((20, 30))
    for x, y in ((3, 4), (-3, -4), (8, 1), (0, 2)):
        share[y % 20, x % 30] = 0.9 - 0.01 * y
    asked = []
    grid = correlator(
        own_votes=lambda: ("agree", "expected"),
        folded=lambda *told: asked.append(told) or share.copy(),
    )
    evidence = SimpleNamespace(scale=1.0)
    # 0.8 scales across the shift along are 1.6 cells of half a millimetre
    told = across._voted(evidence, grid, np.array([10.0, 0]))
    assert sorted(np.rint(told / 0.5).astype(int).tolist()) == [[0, 2], [3, 4]]
    assert asked[0][:2] == ("agree", "expected")
    # of the other sense those on the other side
    told = across._voted(evidence, grid, np.array([-10.0, 0]))
    assert np.rint(told / 0.5).astype(int).tolist() == [[-3, -4]]
    told = across._voted(evidence, grid, np.array([0.0, 10]))
    assert np.rint(told / 0.5).astype(int).tolist() == [[-3, -4]]


@pytest.mark.parametrize("primes", [(2,), (3,), (5,), (2, 3, 5, 7)])
def test_centres_are_those_of_turns_that_lines_vote_for(monkeypatch, primes) -> None:
    # lines that head fifteen ways alike, and so three and five
    heading = np.where(np.arange(360) % 24, 0.0, 1.0)
    centre = np.array([3.0, 7.0])
    turns = []

    def voted(evidence, correlator, linear):
        turns.append(linear)
        expected = np.array([[100.0, 14.9, 15.0]])
        return np.ones((1, 3)), expected, np.array([1.0, 2.0])

    def peaks(share, count, least):
        assert (count, least) == (2, 0.3)
        assert share.tolist() == [[1, 0, 1]]
        # what a turn adds about the centre, without what its map adds itself
        return ((np.eye(2) - turns[-1]) @ centre - [1, 2])[None], None

    given(monkeypatch, centres, headings=heading, voted=voted)
    evidence = SimpleNamespace(samples=np.zeros((100, 2)))
    grid = SimpleNamespace(peaks=peaks)
    told = centres.voted_centres(evidence, grid, primes)
    # of seven ways they do not head; a half turn keeps all lines
    kept = [p for p in primes if p != 7]
    assert [p for _, (p,) in told] == kept
    for where, _ in told:
        assert np.allclose(where, centre)
    # the turn by a whole number of parts that is nearest to a half
    parts = {2: 1 / 2, 3: 1 / 3, 5: 2 / 5}
    for p, linear in zip(kept, turns, strict=True):
        assert np.allclose(linear, rotation(2 * math.pi * parts[p]))


def test_mirrors_lie_where_headings_agree_with_their_images(monkeypatch) -> None:
    # lines head about 0.2 of a half turn: a mirror along and one across
    ways = np.arange(360)
    heading = np.exp(-(((ways - 72 + 180) % 360 - 180) ** 2) / 40.0)
    tried = []
    given(
        monkeypatch,
        mirrors,
        headings=heading,
        _mirrors_at=lambda evidence, correlator, axis: tried.append(axis)
        or iter([axis]),
    )
    told = list(mirrors._mirrors(None, None))
    assert told == tried
    # half of what a bin and its image add to, which is about 144 and the bin itself
    wanted = (145 / 360 * math.pi) / 2
    assert tried[:2] == pytest.approx([wanted, wanted + math.pi / 2])
    # no other lies within two bins of it, and six at most are tried
    assert len(tried) <= 12
    apart = np.abs(np.subtract.outer(tried[::2], tried[::2])) * 2 / math.pi * 360
    assert (apart[~np.eye(len(apart), dtype=bool)] > 2).all()
    flat = np.ones(360)
    tried.clear()
    given(monkeypatch, mirrors, headings=flat)
    list(mirrors._mirrors(None, None))
    assert len(tried) == 12


def test_a_mirror_is_scored_where_enough_of_its_images_are_seen(monkeypatch) -> None:
    def scored(seen, least=0.3):
        fits = SimpleNamespace(
            scores=lambda level: tuple(
                np.array([v]) for v in (0.9, 0.7, 0.1, float(seen))
            )
        )
        given(monkeypatch, mirrors, Carried=fits, least_seen=least, about="map")
        fit, weakest = mirrors._scored(None, np.arange(100), 0.4, np.zeros(2), 3)
        return (
            None if fit is None else (fit.n, fit.mirror, fit.level, fit.share, weakest)
        )

    assert scored(50) == (1, 0.4, 3, 0.9, 0.7)
    assert scored(49) is None
    assert scored(59, least=0.6) is None
    assert scored(60, least=0.6) is not None


def test_the_mirror_that_fits_most_is_held(monkeypatch) -> None:
    def fit(share):
        return RosetteFit(1, 0.0, np.zeros(2), 3, share, 0.1)

    some = {0.1: fit(0.5), 0.2: fit(0.8), 0.3: None}
    given(
        monkeypatch,
        mirrors,
        _mirrors=lambda *told: iter([(a, None, None) for a in some]),
        _scored=lambda evidence, rows, angle, centre, level: (some[angle], 0.0),
    )
    assert mirrors.hold_mirror(None, None, 3) is some[0.2]
    given(monkeypatch, mirrors, _mirrors=lambda *told: iter([(0.3, None, None)]))
    assert mirrors.hold_mirror(None, None, 3) is None
