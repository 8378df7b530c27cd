"""Which words figures have, of corners, arcs, turns and mirrors; and small things.

Arcs bend by angles: a half circle by pi.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.action import face_action
from fillwork.symmetry.faces import strangers
from fillwork.symmetry.kinds import agree, names, shape
from fillwork.symmetry.kinds.outlines import Outline
from fillwork.symmetry.model import Zone
from fillwork.symmetry.quotient import quotient_of
from tests.unit.helpers import circle, line
from tests.unit.symmetry.answers import given
from tests.unit.symmetry.test_outline_rules import outline, symmetry_of
from tests.unit.symmetry.test_small_panels import SQUARES, plane
from tests.unit.symmetry.test_zone_faces import along_x
from tests.unit.symmetry.test_zone_parts import cells, grid, measures_of

HALF, QUARTER = math.pi, math.pi / 2


def hollow(patch, inward, *, turns=1, mirrored=False, right=False, parallel=False):
    given(patch, shape, _right=right, _parallel=parallel)
    found = symmetry_of(np.zeros(len(inward)), turns, mirrored)
    inward = np.array([c == "v" for c in inward])
    return shape._hollow(np.zeros(len(inward), complex), found, inward, 0.1)


@pytest.mark.parametrize(
    ("inward", "facts", "word"),
    [
        ("v-----", {"right": True}, "L-shape"),
        # inward corners beside each other at a stem, or two on each side of one
        ("v-v-v-v-", {"turns": 4, "mirrored": True}, "4-point star"),
        ("v-v-----", {"right": True, "mirrored": True}, "hollow"),
        ("v--v----", {"right": True, "mirrored": True}, "T-shape"),
        ("v--v----", {"right": True}, "hollow"),
        ("v--v----", {"mirrored": True}, "hollow"),
        ("v-----", {"mirrored": True, "parallel": True}, "chevron"),
        ("v-----", {"mirrored": True}, "hollow"),
        ("v-----", {"parallel": True}, "hollow"),
        ("v------", {"mirrored": True, "parallel": True}, "hollow"),
        ("vv----", {"mirrored": True, "parallel": True}, "hollow"),
        ("v--v--", {"turns": 2, "mirrored": True}, "bow tie"),
        ("v-v-v-", {"turns": 3, "mirrored": True}, "3-point star"),
        ("v-v-v-", {"turns": 3}, "twisted 3-point star"),
        ("v-v-v-", {"turns": 1, "mirrored": True}, "uneven 3-point star"),
        ("v-v-v-", {}, "uneven 3-point star"),
        ("v--v--v--v--", {"turns": 4, "mirrored": True}, "cross"),
        ("v--v--v--", {"turns": 3, "mirrored": True}, "3-armed cross"),
        ("v---v---v---", {"turns": 3}, "twisted 3-armed cross"),
        ("v----v----v----", {"turns": 3, "mirrored": True}, "hollow"),
        ("v-v-v--", {"mirrored": True}, "hollow"),
    ],
)
def test_figures_with_inward_corners_have_their_words(
    monkeypatch, inward, facts, word
) -> None:
    told = hollow(monkeypatch, inward, **facts)
    assert ("hollow" in told) if word == "hollow" else told == word


def rounded(bend, smooth=None, *, turns=1, mirrored=False):
    """Return the word of arcs and lines; `smooth`: which corners none sees."""
    bend = np.array(bend, float)
    smooth = np.ones(len(bend), bool) if smooth is None else np.array(smooth, bool)
    found = symmetry_of(np.zeros(len(bend)), turns, mirrored)
    one = SimpleNamespace(bend=bend, count=len(bend))
    return shape._rounded(one, found, smooth)


@pytest.mark.parametrize(
    ("bend", "facts", "word"),
    [
        ([0, HALF, 0, HALF], {}, "round-ended strip"),
        ([0, HALF + 0.19, 0, HALF], {}, "round-ended strip"),
        ([0, HALF + 0.21, 0, HALF - 0.1], {}, "rounded 2-sided"),
        ([0, HALF, 0, HALF], {"smooth": [1, 1, 1, 0]}, ""),
        ([0, QUARTER] * 4, {"turns": 4}, "rounded square"),
        ([0, QUARTER] * 4, {"turns": 2}, "rounded rectangle"),
        ([0, QUARTER + 0.19] * 4, {}, "rounded rectangle"),
        (
            [0, QUARTER, 0, QUARTER, 0, QUARTER + 0.3, 0, QUARTER - 0.3],
            {},
            "rounded 4-sided",
        ),
        ([0, 1.3, 0, 1.3, 0, 1.3, 0, 2.38], {}, "rounded 4-sided"),
        ([0, 2.1] * 3, {}, "rounded triangle"),
        ([0, QUARTER] * 3, {}, "rounded triangle"),
        ([0, 1.26] * 5, {}, "rounded 5-sided"),
        ([0, 1.26] * 5, {"turns": 4}, "rounded 5-sided"),
        ([0, -QUARTER] + [0, QUARTER] * 3, {}, ""),
        ([QUARTER] * 4, {"turns": 2}, "oval"),
        ([QUARTER] * 4, {"turns": 4}, ""),
        ([QUARTER, QUARTER, QUARTER, -QUARTER], {"turns": 2}, ""),
        ([HALF, 0, 0, 0], {"smooth": [1, 1, 0, 0], "mirrored": True}, "arch"),
        ([HALF, 0, 0, 0], {"smooth": [1, 1, 0, 0]}, ""),
        ([HALF, 0, 0, 0], {"smooth": [1, 0, 0, 0], "mirrored": True}, ""),
        ([HALF, 0, 0, 0, 0], {"smooth": [1, 1, 0, 0, 0], "mirrored": True}, ""),
        ([4.0, 0, 0], {"smooth": [1, 1, 0]}, "drop"),
        ([4.0, 0, 0], {"smooth": [1, 0, 0]}, ""),
        ([4.0, 1.0, 0], {"smooth": [1, 1, 0]}, ""),
    ],
)
def test_arcs_that_run_into_straight_sides_have_their_words(bend, facts, word) -> None:
    assert rounded(bend, **facts) == word


def curved(bend, turn=None, *, turns=1, mirrored=False, radius=10.0):
    """Return the word of arcs round a regular polygon's corners."""
    count = len(bend)
    z = radius * np.exp(2j * np.pi * np.arange(count) / count)
    own = outline(z, bend, turn=turn)
    return shape._curved_name(own, symmetry_of(z, turns, mirrored), 0.1)


OUT, IN, FREE = 0.9, -0.9, 0.2


@pytest.mark.parametrize(
    ("bend", "turn", "facts", "word"),
    [
        ([2.0] * 4, [IN] * 4, {"turns": 4}, "quatrefoil"),
        ([2.0] * 4, [IN] * 4, {"turns": 2}, "uneven quatrefoil"),
        ([2.0] * 3, [0.29] * 3, {"turns": 3}, "trefoil"),
        ([2.0] * 3, [0.31] * 3, {"turns": 3, "mirrored": True}, "bulging triangle"),
        ([-0.5] * 3, [OUT] * 3, {"turns": 3, "mirrored": True}, "hollow triangle"),
        ([2.0, 2.0, 0], [IN] * 3, {}, "curved triangle"),
        ([1.2, 0, 0, 0], [OUT] * 4, {"mirrored": True}, "arch"),
        ([1.0, 0, 0, 0], [OUT] * 4, {"mirrored": True}, "curved 4-sided"),
        ([1.2, 0, 0, 0], [OUT] * 4, {}, "curved 4-sided"),
        ([0.5, 0.5, 0, 0, 0], [OUT] * 5, {"mirrored": True}, "pointed arch"),
        ([0.5, -0.5, 0, 0, 0], [OUT] * 5, {"mirrored": True}, "curved 5-sided"),
        ([0.5, 0.5, 0, 0, 0], [OUT] * 5, {}, "curved 5-sided"),
        ([0.5, 0.5, 0.5, 0, 0], [OUT] * 5, {"mirrored": True}, "curved 5-sided"),
        ([0.5, 0.5, 0], [OUT] * 3, {"mirrored": True}, "pointed arch"),
        ([0.5, -0.5, 0], [OUT] * 3, {"mirrored": True}, "curved triangle"),
        ([0.5, 0.5, 0], [OUT] * 3, {}, "curved triangle"),
        ([-0.5, 0] * 3, [IN, OUT] * 3, {"turns": 3}, "curved 3-point star"),
        ([-0.5, 0] * 3, [IN, OUT] * 3, {"turns": 1}, "uneven curved 3-point star"),
        ([-0.5, 0, 0] * 4, [IN, OUT, OUT] * 4, {}, "curved cross"),
        ([-0.5, 0, 0, 0] * 3, [IN, OUT, OUT, OUT] * 3, {}, "curved 3-armed cross"),
        ([-0.5, 0] * 2, [IN, OUT] * 2, {}, "curved 4-sided"),
    ],
)
def test_figures_of_arcs_have_their_words(bend, turn, facts, word) -> None:
    told = curved(bend, turn, **facts)
    assert word in told
    assert ("uneven" in word) is ("uneven" in told)


def test_two_arcs_are_a_lens_or_a_crescent() -> None:
    z = [0, 20]
    for bend, round_, word in (
        ([1.0, 1.0], True, "lens"),
        ([1.0, 1.14], True, "lens"),
        ([1.0, 1.16], True, "petal"),
        ([1.0, 1.0], False, "petal"),
        ([1.0, -0.5], True, "crescent"),
        ([HALF, 0], True, "half circle"),
        ([HALF + 0.1, 0], True, "half circle"),
        ([HALF + 0.11, 0], True, "circle segment"),
        ([HALF, 0], False, "rounded segment"),
        ([0, HALF], True, "half circle"),
    ):
        assert shape._two_sided(outline(z, bend, round_)) == word
    # one arc that is none is enough
    one = outline(z, [1.0, 1.0])
    mixed = Outline(
        one.corners, one.bend, np.array([True, False]), one.turn, one.area, ""
    )
    assert shape._two_sided(mixed) == "petal"


def held(hole, *, closed="", area=None):
    """Return the name of a square of 10 mm, or a circle, with lines in it."""
    outer = [circle(50, 50, 10)] if closed else []
    drawing = grid([45.0, 55] if not closed else [80.0, 90], [45.0, 55], *outer, *hole)
    rings = np.diff(drawing.face_ring_start)
    face = int(np.flatnonzero(rings[1:] > 1)[0]) + 1 if hole else 1
    own = outline([45 + 45j, 55 + 45j, 55 + 55j, 45 + 55j], closed=closed)
    if area is not None:
        own = Outline(own.corners, own.bend, own.round, own.turn, area, closed)
    return names._holes(drawing, face, own, closed or "square")


def box(x0, y0, x1, y1):
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    return [
        line(*map(float, (*p, *q)))
        for p, q in zip(corners, corners[1:] + corners[:1], strict=True)
    ]


def test_holes_are_told() -> None:
    assert held([]) == "square"
    # more than 0.4 of the area in the middle is a frame's
    assert held(box(46.8, 46.8, 53.2, 53.2)) == "square frame"
    assert held(box(46.9, 46.9, 53.1, 53.1)) == "square with a hole"
    # in the middle by 0.03 of the root of the area
    for off, word in ((0.29, "square frame"), (0.31, "square with a hole")):
        assert held(box(46.5 + off, 46.5, 53.5 + off, 53.5)) == word
    two = box(46, 46, 49, 49) + box(51, 51, 54, 54)
    assert held(two) == "square with 2 holes"
    assert held([circle(50, 50, 6)], closed="circle", area=314.0) == "ring"
    off = [circle(50.6, 50, 6)]
    assert held(off, closed="circle", area=314.0) == "circle with a hole"
    six = box(46, 46, 54, 54)
    assert held(six, closed="circle", area=314.0) == "circle with a hole"


def test_lines_leave_along_their_chords() -> None:
    half = np.arange(len(SQUARES.origin))
    ways, bent = names._ways(SQUARES, half)
    ends = SQUARES.vertices[SQUARES.origin]
    other = SQUARES.vertices[SQUARES.origin[half ^ 1]]
    assert np.allclose(ways, other - ends)
    assert not bent.any()
    disc = grid([80.0, 90], [45.0, 55], circle(50, 50, 10))
    half = np.arange(len(disc.origin))
    ways, bent = names._ways(disc, half)
    start = disc.vertices[disc.origin[half]][bent] - 50
    # the radius stands upright on where an arc leaves
    assert np.allclose((ways[bent] * start).sum(axis=1), 0, atol=1e-6)


def test_operations_carry_regions_onto_regions_or_nowhere() -> None:
    told = face_action(SQUARES, (1, 0, 0, 1, 10, 0))
    x, y = SQUARES.witness[1:].T
    assert told[0] == 0
    for face, (a, b) in enumerate(zip(x, y, strict=True), 1):
        wanted = SQUARES.faces_at(np.array([[a + 10, b]]))[0] if a < 70 else -1
        assert told[face] == wanted


def contradicted(kinds, face, found, whole=None):
    """Tell whether most images of a square show another kind than its own."""
    faces = np.arange(1, 65, dtype=np.int32)
    kind = np.zeros(64, int)
    kind[[k - 1 for k in kinds]] = 1
    whole = np.ones(64, bool) if whole is None else whole
    zone = Zone(1, faces, found)
    return bool(agree.contradicted(SQUARES, zone, np.array([face]), kind, whole)[0])


def at(x, y) -> int:
    return int(SQUARES.faces_at(np.array([[x, y]]))[0])


def test_images_contradict_a_region_where_most_agree() -> None:
    shifts = plane("p1")
    middle = at(35.0, 35)
    assert contradicted([middle], middle, shifts)
    # of the 48 nearest images six tenths are of one kind: so far off are
    near = sorted(
        range(1, 65),
        key=lambda k: float(np.hypot(*(SQUARES.witness[k] - SQUARES.witness[middle]))),
    )[1:49]
    assert contradicted(near[:19], middle, shifts)
    assert not contradicted(near[:20], middle, shifts)
    # those that are cut say nothing
    few = np.zeros(64, bool)
    few[[near[0] - 1, near[1] - 1]] = True
    assert contradicted([], middle, shifts, few)
    few[near[1] - 1] = False
    assert not contradicted([], middle, shifts, few)
    # a strip tells on both sides of a region
    row = along_x("p1", 10.0, (40.0, 5.0))
    assert contradicted([], at(35.0, 35), row)
    assert not contradicted([], at(5.0, 35), row)
    assert not contradicted([], at(75.0, 35), row)


def test_translations_near_enough_are_kept() -> None:
    quotient = quotient_of(plane("p1"))
    steps = quotient.copies(300.0)
    few = agree.near_enough(quotient, steps)
    away = np.sort(np.hypot(*steps.T))
    # as far as so many reach, and twice half a repeat of 20 mm in all
    most = away[agree.LOOKED_AT] + 20
    assert np.hypot(*few.T).max() == pytest.approx(away[away <= most + 1e-6].max())
    assert len(agree.near_enough(quotient, steps[: agree.LOOKED_AT])) == agree.LOOKED_AT
    half = agree.near_enough(quotient_of(plane("p2")), steps)
    most = away[agree.LOOKED_AT // 2] + 20
    assert np.hypot(*half.T).max() == pytest.approx(away[away <= most + 1e-6].max())


def test_likes_are_sought_among_regions_about_as_large() -> None:
    # six thousandths of the size, in size, a fourth of the boundary and half the width
    asked, rows = np.array([0]), np.arange(5)

    def pairs(sizes, lengths=None):
        measures = measures_of(sizes, lengths)
        one, other = strangers._nearly_same(measures, asked, rows)
        assert (one == 0).all()
        return sorted(other.tolist())

    assert pairs([100, 100.59, 100.61, 99.41, 99.39]) == [1, 3]
    assert pairs([100] * 5, [400, 402.3, 402.5, 397.7, 397.5]) == [1, 3]
    measures = measures_of([100.0] * 5)
    measures.inscribed = np.array([50, 50.59, 50.61, 49.41, 49.39])
    assert sorted(strangers._nearly_same(measures, asked, rows)[1].tolist()) == [1, 3]


def test_marks_of_a_region_are_means_along_its_outline(monkeypatch) -> None:
    given(monkeypatch, strangers, traits_of=np.zeros((1, 1)))
    square = cells(SQUARES, 30, 30, 40, 40)
    measures = SimpleNamespace(
        centroid=np.full((65, 2), 35.0),
        size=np.full(65, 10.0),
        length=np.full(65, 40.0),
    )
    # the sides of its neighbours to the right and above are half as large
    for x, y in ((45.0, 35), (35.0, 45)):
        measures.size[at(x, y)] = 5.0
    member = np.ones(65, bool)
    marks = strangers._marks(SQUARES, measures, square, member)[0]
    # middles of its sides are 5 mm away; sizes 10, 10, 5 and 5; boundaries a fourth
    assert marks[1:4] == pytest.approx([5, 7.5, 10])
    assert marks[-1] == pytest.approx(7.5)
    # round it the first waves of sizes are those of (10 - 5) / 4 each way
    assert marks[4:7] == pytest.approx([0, 1.25 * math.sqrt(2), 0], abs=1e-9)
    # one that a frame cuts counts as its own size
    member[at(45.0, 35)] = False
    marks = strangers._marks(SQUARES, measures, square, member)[0]
    assert marks[2] == pytest.approx(8.75)
