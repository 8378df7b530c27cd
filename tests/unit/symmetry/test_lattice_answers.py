"""Which shifts lines are said to repeat by, of how each is told to fit."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.faces import strangers
from fillwork.symmetry.lines import hints, lattice
from fillwork.symmetry.lines.across import Across
from fillwork.symmetry.lines.fit import LADDER, Scores
from fillwork.symmetry.lines.lattice_fit import LatticeFit, LatticeMeasures
from fillwork.symmetry.lines.mirrors import RosetteFit
from fillwork.symmetry.lines.window import on_hull
from tests.unit.symmetry.answers import given

BOTH = np.array([[10.0, 0], [0, 12]])
FIT = LatticeFit(BOTH, 1, 0.97, 0.1, 9.0, 99.0, 0.8)
ONE = replace(FIT, basis=BOTH[:1])
LAST = len(LADDER) - 1
EVIDENCE = SimpleNamespace(thin=lambda most: np.arange(most), scale=1.0)


def level_of(fit, level):
    return None if fit is None else replace(fit, level=level)


def found(patch, fits, *, share=(0.9, 0.9), expected=(24.0, 24.0), first=0, **answers):
    """Return the lattice of two shifts, of what is fitted at each step.

    `fits`: of each step the lattice of all shifts, and that of one of them alone.
    """
    steps = len(LADDER)
    table = np.tile(np.array(share)[:, None], (1, steps))
    many = np.tile(np.array(expected)[:, None], (1, steps))

    def fitted(measures, basis, rows, level, known):
        both = fits.get(level, (None, None))
        return level_of(both[0 if len(basis) == 2 else 1], level)

    usual = {
        "_candidates": (BOTH, Scores(expected=many, share=table, rms=table)),
        "LatticeMeasures": None,
        "_first_level": first,
        "_fitted": fitted,
        "_divides": False,
        "_widened": "widened",
    }
    asked = given(patch, lattice, **usual | answers)
    return lattice.find_lattice(EVIDENCE, None), asked


def test_the_first_step_that_is_sure_both_ways_holds(monkeypatch) -> None:
    sure = (FIT, ONE)
    told, asked = found(monkeypatch, {1: sure, 2: sure})
    assert (told.level, told.rank) == (1, 2)
    # what spans a lattice is asked for itself, at first for each step
    assert [k[0][3] for k in asked["_fitted"]] == [0, 0, 1]
    assert found(monkeypatch, {0: sure, 1: sure}, first=1)[0].level == 1
    # less sure, or seen one way alone, a looser step is tried
    for less in ({"share": 0.949}, {"weakest": 0.0}):
        own = {1: (replace(FIT, **less), None), 2: sure}
        assert found(monkeypatch, own)[0].level == 2
    assert (
        found(monkeypatch, {1: (replace(FIT, weakest=0.5), None), 2: sure})[0].level
        == 1
    )
    assert found(monkeypatch, {})[0] is None
    nothing = Scores(*[np.zeros((0, len(LADDER)))] * 3)
    told, _ = found(monkeypatch, {1: sure}, _candidates=(np.zeros((0, 2)), nothing))
    assert told is None


def test_shifts_must_carry_most_lines(monkeypatch) -> None:
    sure = (FIT, ONE)
    for facts, held in (
        ({"share": (0.9, 0.9)}, 2),
        ({"share": (0.9, 0.899)}, 1),
        ({"expected": (24.0, 23.0)}, 1),
        ({"share": (0.5, 0.5)}, 0),
    ):
        told, asked = found(monkeypatch, {1: sure}, **facts)
        asked_of = {len(k[0][1]) for k in asked["_fitted"]}
        assert (max(asked_of, default=0)) == held
        if held == 0:
            assert told is None


def test_a_shift_alone_is_taken_where_it_covers_more(monkeypatch) -> None:
    # of a lattice that covers less than a half, or none
    wide = replace(ONE, covered=0.6)
    for both, told in (
        (replace(FIT, covered=0.49), 1),
        (replace(FIT, covered=0.5), 2),
        (None, 1),
    ):
        got, _ = found(monkeypatch, {LAST: (both, wide)}, _widened=lambda *a: a[2])
        assert got.rank == told
    less = replace(ONE, covered=0.49)
    got, _ = found(monkeypatch, {LAST: (replace(FIT, covered=0.49), less)})
    assert got.rank == 2
    # the one that carries most lines in all
    for share, expected, first in (
        ((0.9, 0.95), (30.0, 30.0), [0, 12]),
        ((0.9, 0.95), (40.0, 30.0), [10, 0]),
    ):
        _, asked = found(monkeypatch, {1: (None, wide)}, share=share, expected=expected)
        alone = next(k[0][1] for k in asked["_fitted"] if len(k[0][1]) == 1)
        assert alone.tolist() == [first]


def test_what_holds_one_way_may_have_a_shift_across(monkeypatch) -> None:
    alone = {1: (None, ONE)}
    assert found(monkeypatch, alone)[0] == "widened"
    loose = {1: (None, replace(ONE, share=0.949))}
    assert found(monkeypatch, loose)[0].rank == 1
    both = {1: (replace(FIT, weakest=0.0), None)}
    assert found(monkeypatch, both)[0].rank == 2
    # of steps the one that is worth more, and of equals the first
    less, more = replace(FIT, share=0.92), replace(FIT, share=0.94)
    assert found(monkeypatch, {1: (less, None), 2: (more, None)})[0].level == 2
    assert found(monkeypatch, {1: (more, None), 2: (less, None)})[0].level == 1
    divides = {"_divides": True}
    steps = {1: (more, None), 2: (less, None)}
    assert found(monkeypatch, steps, **divides)[0].level == 2


@pytest.mark.parametrize(
    ("facts", "fits", "level"),
    [
        ({}, {2: FIT}, 2),
        ({}, {1: FIT, 2: FIT}, 1),
        ({"level": 3}, {1: FIT, 3: FIT}, 3),
        ({"share": 0.949}, {1: FIT}, None),
        ({"spread": 0.0}, {1: FIT}, None),
        ({}, {1: replace(FIT, share=0.949)}, None),
        ({}, {1: ONE}, None),
        ({}, {}, None),
    ],
)
def test_a_shift_across_widens_a_strip(monkeypatch, facts, fits, level) -> None:
    usual = {"level": 1, "share": 0.95, "spread": lattice.SPREAD}
    usual |= {"lines": 9.0, "seen": 0.5, "vector": np.array([4.0, 12.0])}
    across = Across(**usual | facts)
    asked = given(
        monkeypatch,
        lattice,
        find_across=across,
        LatticeMeasures=None,
        _fitted=lambda m, basis, rows, level, known: level_of(fits.get(level), level),
    )
    told = lattice._widened(EVIDENCE, None, ONE, None)
    assert (told.level if told is not ONE else None) == level
    if asked["_fitted"]:
        basis = asked.last("_fitted", 1)
        assert abs(np.linalg.det(basis)) == pytest.approx(120)
    given(monkeypatch, lattice, find_across=None)
    assert lattice._widened(EVIDENCE, None, ONE, None) is ONE


COMBOS = np.array([[1, 0], [0, 1], [2, 0], [0, 2], [1, 1], [2, 1]])


def coarser(
    patch, *, often=2, share=0.9, coarse=0.97, lost=(0.5, 0, 0, 0, 0.5, 0), **facts
):
    """Return what is made of a lattice that misses a tenth of its images.

    Its shifts by an odd number along the first vector miss a half, others none: that
    vector doubled has a detail that it lacks.
    """
    twice = {"share": coarse, "weakest": 12.0, "covered": 0.71} | facts

    def fit(basis, level):
        area = abs(np.linalg.det(basis))
        doubled = np.allclose(np.sort(np.hypot(*basis.T)), [12, 20])
        if doubled and area == pytest.approx(240):
            return replace(FIT, basis=basis, level=level, **twice)
        return replace(FIT, basis=basis, level=level, share=0.5, weakest=99.0)

    measures = SimpleNamespace(
        evidence=None,
        measure=lambda basis: SimpleNamespace(combos=COMBOS),
        images=lambda basis, level: np.column_stack(
            [np.full(6, 10.0), 10.0 * (1 - np.array(lost))]
        ),
        fit=fit,
    )
    given(patch, lattice, _returns=often)
    own = replace(FIT, share=share)
    told = lattice._coarser(measures, own)
    area = abs(float(np.linalg.det(told.basis)))
    return round(area / 120), told.doubt


def test_a_coarser_lattice_has_a_detail_that_a_finer_one_lacks(monkeypatch) -> None:
    assert coarser(monkeypatch) == (2, "")
    # it misses less than 0.35 of what the finer misses
    for share, told in ((0.966, 2), (0.964, 1)):
        assert coarser(monkeypatch, coarse=share)[0] == told
    # six lines for each repeat of the finer must testify, and nearly as many be seen
    for facts, told in (
        ({"weakest": 12.0}, 2),
        ({"weakest": 11.9}, 1),
        ({"covered": 0.71}, 2),
        ({"covered": 0.69}, 1),
    ):
        assert coarser(monkeypatch, **facts)[0] == told
    # what its own shifts miss already is no better: of 20 images 0.06
    for one, told in ((0.0, 2), (0.05, 2), (0.07, 1)):
        lost = (0.5, one, one, one, 0.5, one)
        assert coarser(monkeypatch, lost=lost)[0] == told


def test_lines_wanting_in_few_places_leave_a_doubt(monkeypatch) -> None:
    few = lattice._FEW_PLACES
    for often, share, told in (
        (2, 0.9, (2, "")),
        (1, 0.9, (1, few)),
        (0, 0.9, (1, "")),
        # a lattice that holds little itself gives way
        (1, 0.89, (2, "")),
        (0, 0.89, (1, "")),
    ):
        assert coarser(monkeypatch, often=often, share=share) == told


def test_a_basis_that_slides_away_is_none(monkeypatch) -> None:
    def fitted(to, fit=FIT, strays=False, level=1):
        known = {}
        asked = given(
            monkeypatch,
            lattice,
            fit_basis=to,
            _strays=strays,
            _coarser="coarser",
        )
        measures = SimpleNamespace(
            evidence=None, fit=lambda basis, level: replace(fit, basis=basis)
        )
        told = lattice._fitted(measures, BOTH, None, level, known)
        again = lattice._fitted(measures, BOTH, None, level, known)
        assert len(asked["fit_basis"]) == 1
        assert (told is None) == (again is None)
        return told

    sure = replace(FIT, share=0.985)
    # its shortest vector keeps 0.3 of its length
    assert fitted(BOTH, sure).rank == 2
    assert fitted(np.array([[3.1, 0], [0, 12]]), sure).rank == 2
    assert fitted(np.array([[2.9, 0], [0, 12]]), sure) is None
    # where a detail may be missed a coarser one is asked
    assert fitted(BOTH, replace(FIT, share=0.984)) == "coarser"
    assert fitted(BOTH, replace(FIT, share=0.984), strays=True).rank == 2
    alone = given(monkeypatch, lattice, fit_basis=BOTH[:1])
    measures = SimpleNamespace(evidence=None, fit=lambda basis, level: ONE)
    assert lattice._fitted(measures, BOTH[:1], None, 1, {}) is ONE
    assert len(alone["fit_basis"]) == 1


def test_a_lattice_is_told_by_all_its_images() -> None:
    evidence = SimpleNamespace(slip=0.02)
    measures = LatticeMeasures(evidence)
    share = np.array([[0.5, 1.0], [0.9, 0.8]])
    rms = np.array([[0.1, 0.3], [0.2, 0.4]])
    scores = Scores(
        expected=np.array([[10.0, 20.0], [30.0, 40.0]]), share=share, rms=rms
    )
    known = SimpleNamespace(scores=scores, weakest=7.0, covered=0.6)
    measures.known[BOTH.tobytes()] = known
    told = measures.fit(BOTH, 0)
    # 5 of 10 and 27 of 30 images; 20 of 20 and 32 of 40 at the next step
    assert told.shares == pytest.approx((32 / 40, 52 / 60))
    assert told.share == pytest.approx(32 / 40)
    assert (told.expected, told.weakest, told.covered) == (40, 7, 0.6)
    assert told.rms == pytest.approx(np.sqrt((5 * 0.01 + 27 * 0.04) / 32))
    assert measures.fit(BOTH, 1).expected == 60
    assert measures.images(BOTH, 1).tolist() == [[20, 20], [40, 32]]
    # lines stray by what is known of them at least
    evidence.slip = 0.5
    assert measures.fit(BOTH, 0).rms == 0.5
    known.scores = None
    assert measures.fit(BOTH, 0).share == 0
    assert measures.images(BOTH, 0).shape == (0, 2)
    known.scores = Scores(expected=np.zeros((2, 2)), share=share, rms=rms)
    assert (measures.fit(BOTH, 0).share, measures.fit(BOTH, 0).expected) == (0, 1)


def test_shifts_that_lines_keep_roughly_are_better_than_chance(monkeypatch) -> None:
    vectors = np.array([[10.0, 0], [0, 12], [7, 30]])
    evidence = SimpleNamespace(scale=1.0, thin=lambda most: np.arange(most))

    def guessed(share, expected=(24.0, 24.0, 24.0), chance=0.3, shifts=vectors):
        table = np.array(share, float)[:, None]
        scores = Scores(
            expected=np.array(expected)[: len(share), None], share=table, rms=table
        )
        measured = []
        given(
            monkeypatch,
            hints,
            replace=lambda one, scale: SimpleNamespace(**{**vars(one), "scale": scale}),
            Correlator=None,
            _voted=shifts,
            translate_images=None,
            refine_shifts=lambda e, images, vectors, steps: vectors,
            score_images=scores,
            _by_chance=chance,
            _measured=lambda e, basis, least: measured.append(least) or basis,
        )
        told = hints.guess_lattice(evidence)
        return None if told is None else abs(round(np.linalg.det(told))), measured

    # 0.35 above chance, and 0.8 of the best
    assert guessed((0.65, 0.65, 0.1)) == (120, [pytest.approx(0.65)])
    for share, told in (
        ((0.65, 0.649, 0.1), None),
        ((0.65, 0.649, 0.65), 300),
        ((1.0, 0.8, 0.1), 120),
        ((1.0, 0.79, 0.1), None),
        ((1.0, 0.79, 1.0), 300),
    ):
        found_ = guessed(share)
        assert found_[0] == told
    assert guessed((0.9, 0.9, 0.9), expected=(24.0, 23.0, 24.0))[0] == 300
    # what has slid back to less than 0.3 scales of 2.5 mm is none
    for near, told in ((0.74, 300), (0.76, 8)):
        short = np.array([[10.0, 0], [0, near], [7, 30]])
        assert guessed((0.9, 0.9, 0.9), shifts=short)[0] == told
    assert guessed((), shifts=vectors[:0]) == (None, [])


def test_chance_shifts_are_as_long_as_those_that_lines_vote_for(monkeypatch) -> None:
    def chance(vectors, share, expected):
        scores = Scores(share=share, expected=expected, rms=share)
        asked = given(
            monkeypatch,
            hints,
            translate_images=None,
            refine_shifts=lambda e, images, shifts, steps: shifts,
            score_images=scores,
        )
        told = hints._by_chance(EVIDENCE, np.array(vectors, float), None)
        return told, asked.last("translate_images", 1)

    count = hints._CHANCE
    share = np.linspace(0, 1, count)[:, None]
    many = np.full((count, 1), 24.0)
    for vectors, size in (([[30, 40]], 50), ([[40, 30]], 50), ([[0, 9], [9, 0]], 9)):
        told, shifts = chance(vectors, share, many)
        length = np.hypot(*shifts.T) / size
        assert len(length) == count
        # by 0.15 more or less, and whichever way they head
        assert 0.85 <= length.min() < 0.9
        assert 1.1 < length.max() <= 1.15
        assert shifts[:, 1].min() >= 0
        assert (shifts[:, 0] < 0).mean() == pytest.approx(0.5, abs=0.2)
        assert told == pytest.approx(0.5)
    # of those under which enough is expected, all where none is
    many[: count // 2] = 23
    assert chance([[30, 40]], share, many)[0] == pytest.approx(0.75, abs=0.02)
    assert chance([[30, 40]], share, 0 * many)[0] == 1


def test_a_doubled_corner_of_a_window_is_no_side_of_it() -> None:
    hull = np.array([[0.0, 0], [100, 0], [100, 0], [100, 50], [0, 50]])
    lines = np.array([[10.0, 0, 30, 0], [10, 5, 30, 5], [100, 10, 100, 20]])
    assert on_hull(lines, hull, 1.0).tolist() == [True, False, True]


def test_turns_that_lines_keep_roughly_are_three_or_more(monkeypatch) -> None:
    def guessed(fit):
        given(
            monkeypatch,
            hints,
            replace=lambda one, scale, index: one,
            LineIndex=None,
            Correlator=None,
            find_rosette=fit,
        )
        return hints.guess_rosette(SimpleNamespace(scale=1.0, segments=None))

    def fit(n, reason=""):
        return RosetteFit(n, None, np.zeros(2), 1, 0.9, 0.1, reason)

    three = fit(3)
    assert guessed(three) is three
    assert guessed(fit(2)) is None
    assert guessed(fit(3, "few")) is None
    assert guessed(None) is None


def test_faces_without_their_like_are_strangers(monkeypatch) -> None:
    # marks of forty faces that lie far apart, and their size of 10 in the last column
    count = 40
    marks = np.zeros((count + 1, 3))
    marks[:, 0] = 100.0 * np.arange(count + 1)
    marks[:, -1] = 10.0

    def told(own=marks, *, alone=0.0, pairs=((), ()), strictly=False, asked=count):
        drawing = SimpleNamespace(
            face_count=count + 1,
            cut=np.zeros(count + 1, bool),
            face=np.arange(count + 1),
        )
        given(
            monkeypatch,
            strangers,
            outer_sides=np.zeros(0, int),
            share_alike_alone=alone,
            _nearly_same=tuple(np.array(p, int) for p in pairs),
            _marks=lambda a, m, every, member: own[every],
        )
        faces = np.arange(1, asked + 1)
        return strangers.all_strangers(drawing, None, faces, strictly=strictly)

    assert told()
    assert told(strictly=True)
    assert told(alone=0.3)
    assert not told(alone=0.31)
    # a tenth of them may have their like by chance
    for pairs in range(1, 4):
        own = marks.copy()
        for k in range(pairs):
            own[2 * k + 1, 0] = own[2 * k + 2, 0]
        assert told(own) is (2 * pairs < 4)
        assert not told(own, strictly=True)
    few = strangers._LEAST
    assert few <= count
    assert not told(asked=few - 1)
    assert told(asked=few)
