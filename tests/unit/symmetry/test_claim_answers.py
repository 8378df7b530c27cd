"""Who claims a scrap, of the shares of its lines that are kept, and the images of them.

Images are counted on squares of 10 mm, where each has its place by construction.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.zones import claims
from tests.unit.helpers import line
from tests.unit.symmetry.answers import flat, given, some
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_small_panels import EVERY, SQUARES, TENS, plane
from tests.unit.symmetry.test_zone_faces import about, along_x
from tests.unit.symmetry.test_zone_parts import NOTHING, cells, grid

ZONES = [("one", NOTHING), ("two", NOTHING), ("three", NOTHING)]


def shared(patch, *shares):
    """Let zones keep these shares of the lines of each face of a scrap."""
    told = dict(zip(("one", "two", "three"), shares, strict=False))
    return given(
        patch,
        claims,
        _share_kept=lambda a, scrap, faces, found, near: np.array(told[faces]),
        _with_neighbours=lambda a, scrap, best: best,
    )


@pytest.mark.parametrize(
    ("shares", "whole", "told"),
    [
        (([0.6, 0.6],), False, [0, 0]),
        (([0.6, 0.59],), False, [0, -1]),
        (([0.59, 0.59],), False, None),
        (([0.6, 0.0, 0.0],), False, None),  # half of them at least
        (([0.9, 0.9],), True, [0, 0]),
        (([0.9, 0.89],), True, [0, -1]),
        (([0.6, 0.9], [0.7, 0.8]), False, [1, 0]),
        # where no other zone keeps nearly as much, less is enough: 0.4 of the best
        (([0.9, 0.3], [0.0, 0.11]), False, [0, 0]),
        (([0.9, 0.11], [0.0, 0.3]), False, [0, 1]),
        (([0.9, 0.29], [0.0, 0.0]), False, [0, -1]),
        (([0.9, 0.5], [0.0, 0.2]), False, [0, -1]),
        (([0.9, 0.5], [0.0, 0.19]), False, [0, 0]),
        (([0.95, 0.3], [0.0, 0.0]), True, [0, -1]),
        (([0.9, 0.5],), False, [0, -1]),
    ],
)
def test_a_scrap_is_claimed_by_who_keeps_most_of_its_lines(
    monkeypatch, shares, whole, told
) -> None:
    count = len(shares[0])
    shared(monkeypatch, *shares, [0.0] * count)
    # one more zone that keeps nothing changes nothing
    for more in range(1 if len(shares) == 1 else 2):
        zones = ZONES[: len(shares) + more]
        found = claims.claim_faces(None, some(count), zones, whole=whole)
        assert (None if found is None else found.tolist()) == told


def test_lines_of_what_is_sure_must_lie_nearer(monkeypatch) -> None:
    for exactly, near in ((False, 0.06), (True, 0.015)):
        asked = shared(monkeypatch, [1.0])
        claims.claim_faces(None, some(1), ZONES[:1], exactly=exactly)
        assert asked.last("_share_kept", 4) == near
    asked = shared(monkeypatch, [1.0], [0.0])
    claims.of_several(None, some(1), ZONES[:2])
    assert asked.last("_share_kept", 4) == 0.06


@pytest.mark.parametrize(
    ("one", "two", "told"),
    [
        ([0.3, 0.0], [0.0, 0.3], True),
        ([0.3, 0.0], [0.0, 0.29], False),
        ([0.3, 0.3], [0.0, 0.0], False),
        ([0.3, 0.3], [0.4, 0.2], True),
    ],
)
def test_what_several_zones_have_lines_in_is_of_all_of_them(
    monkeypatch, one, two, told
) -> None:
    shared(monkeypatch, one, two)
    assert claims.of_several(None, some(2), ZONES[:2]) is told


def test_some_of_many_lines_are_asked() -> None:
    for count, every in ((149, 1), (150, 2), (299, 2), (300, 3)):
        assert claims._few(some(count)).tolist() == some(count)[::every].tolist()
    # of the edges between two faces twelve at most, each for as many as it stands for
    for count, every in ((12, 1), (13, 2), (24, 2), (25, 3)):
        edges = np.arange(count + 5)
        left = np.array([1] * count + [2] * 5, np.int32)
        right = np.array([3] * count + [3] * 5, np.int32)
        told, many = claims._some_between(edges, left, right)
        assert told[many == every].tolist()[: -(-count // every)] == (
            edges[:count:every].tolist()
        )
        assert told[-5:].tolist() == edges[-5:].tolist()
        assert many[-5:].tolist() == [1] * 5
    # the other way round they are between other faces
    left, right = np.array([1] * 7 + [2] * 7, np.int32), np.array([2] * 7 + [1] * 7)
    told, many = claims._some_between(np.arange(14), left, right.astype(np.int32))
    assert (len(told), set(many.tolist())) == (14, {1})


TREE = shapely.STRtree([shapely.box(0, 0, 10, 10), shapely.box(10, 0, 20, 10)])


def images(weight, *added):
    """Return images of edges: rows of an edge, how many fall on lines, beside, away."""
    told = claims._Images(np.array(weight, float), TREE)
    for row, on, beside, away in added:
        at = [(15.0, 5)] * on + [(5.0, 5)] * beside + [(5.0, 15)] * away
        told.add(
            np.array(at).reshape(-1, 2),
            np.full(len(at), row),
            np.arange(len(at)) < on,
        )
    return told


LOST_TWO = [(0, 3, 0, 0), (1, 2, 0, 0), (2, 0, 1, 0), (3, 0, 1, 0)]


@pytest.mark.parametrize(
    ("weight", "added", "told"),
    [
        ([1, 1, 1], [(0, 9, 0, 0), (1, 9, 1, 0), (2, 7, 1, 0)], True),
        ([1, 1, 1], [(0, 9, 1, 0), (1, 9, 1, 0), (2, 7, 1, 0)], False),
        # of those that fall into no face nothing is said
        ([1, 1, 1], [(0, 9, 0, 9), (1, 9, 1, 9), (2, 7, 1, 9)], True),
        ([1, 1, 1], [(0, 9, 0, 0), (1, 9, 0, 0), (2, 0, 0, 9)], False),
        ([1, 1, 1], [(0, 9, 0, 0), (1, 9, 0, 0)], False),
        # by the length of lines, and not by their number
        (
            [18.1, 1, 1, 1],
            [(0, 3, 0, 0), (1, 2, 0, 0), (2, 0, 1, 0), (3, 0, 1, 0)],
            True,
        ),
        (
            [17.9, 1, 1, 1],
            [(0, 3, 0, 0), (1, 2, 0, 0), (2, 0, 1, 0), (3, 1, 1, 0)],
            True,
        ),
        (
            [15.9, 1, 1, 1],
            [(0, 3, 0, 0), (1, 2, 0, 0), (2, 0, 1, 0), (3, 0, 1, 0)],
            False,
        ),
        ([1, 1, 1], [(0, 0, 0, 9), (1, 0, 0, 9), (2, 0, 0, 9)], False),
        ([1, 1, 1], [], False),
        # a few times, one after another
        ([1, 1, 1], [(k, 3, 0, 0) for k in (0, 1, 2)] * 3 + [(0, 0, 2, 0)], True),
        ([1, 1, 1], [(k, 3, 0, 0) for k in (0, 1, 2)] * 3 + [(0, 0, 5, 0)], False),
    ],
)
@pytest.mark.parametrize("waiting", [0, 4, 1 << 19])
@pytest.mark.parametrize("first", [1, 2, 256])
def test_nearly_all_images_fall_on_lines(
    monkeypatch, weight, added, told, waiting, first
) -> None:
    monkeypatch.setattr(claims, "_WAITING", waiting)
    monkeypatch.setattr(claims, "_FEW_AT_FIRST", first)
    assert images(weight, *added).fall_on() is told
    row, share = images(weight, *added).shares()
    seen = {k: np.zeros(2, int) for k in range(len(weight))}
    for k, on, beside, _ in added:
        seen[k] += (on, on + beside)
    assert row.tolist() == [k for k, (_, n) in seen.items() if n]
    assert share.tolist() == [on / n for on, n in seen.values() if n]


def test_images_of_lines_have_their_places() -> None:
    ground = claims._Ground(SQUARES, EVERY, 0.6)
    assert (ground.low.tolist(), ground.high.tolist()) == ([-0.6] * 2, [80.6] * 2)
    ends = SQUARES.vertices[SQUARES.origin.reshape(-1, 2)]
    inner = np.flatnonzero((ends.mean(axis=1) == [40.0, 45.0]).all(axis=1))
    rim = np.flatnonzero((ends.mean(axis=1) == [0.0, 5.0]).all(axis=1))

    def counted(asked, found, beside):
        told, looked = claims._images_of(asked, ground, found, beside=beside)
        assert told.tolist() == asked.tolist()
        assert looked.weight.tolist() == [10] * len(asked)
        _, share = looked.shares()
        assert (share == 1).all()
        return looked.hit.tolist()

    shifts, halves = plane("p1"), plane("p2")
    # three repeats each way, but for the line itself, at three points of each
    assert counted(inner, shifts, True) == [3 * 48]
    assert counted(rim, shifts, True) == [3 * (4 * 4 - 1)]
    # all in the drawing: nine upright lines of eight edges
    assert counted(inner, shifts, False) == [3 * 71]
    assert counted(rim, shifts, False) == [3 * 71]
    # half turns carry the middle of an edge onto that of each of the others, 42 mm up
    # onto 38 and 48 mm onto 52, of which three repeats on one row lies outside
    assert counted(inner, halves, True) == [3 * 48 + 49 + 48 + 42]
    assert counted(inner, halves, False) == [3 * 71 + 72 + 71 + 72]
    # of a shift of 4 mm along both axes none but every fifth falls on lines
    _, looked = claims._images_of(
        inner, ground, along_x("p1", 4.0, (40.0, 40.0)), beside=True
    )
    row, share = looked.shares()
    # 4, 8 and 12 mm to each side none is within 0.6 mm of a line
    assert (row.tolist(), share.tolist()) == ([0], [0])
    wide = along_x("p1", 5.0, (40.0, 40.0))
    _, looked = claims._images_of(inner, ground, wide, beside=True)
    # 10 mm to each side of 5, 10 and 15
    assert looked.shares()[1].tolist() == [2 / 6]
    near = claims._Ground(SQUARES, EVERY, 5.5)
    _, looked = claims._images_of(inner, near, wide, beside=True)
    # those that are as near as that to the line itself are not counted
    assert looked.hit.tolist() == [3 * 4]


@pytest.mark.parametrize(
    ("high", "frame", "told"),
    [
        (20, "", True),  # a third of its lines is kept
        (10, "", False),  # half of them
        (20, "upright", False),
        (10, "level", True),
    ],
)
def test_regions_whose_lines_are_not_kept_are_strange(monkeypatch, high, frame, told):
    top = 60 + high
    ys = [*TENS[:7], top, top + 10.0, top + 20.0]
    upright = [
        line(x, y, x, z)
        for y, z in ((0, 60), (top, top + 20))
        for x in (10.0, 20, 30, 40, 50, 60, 70)
    ]
    band = [line(x, 60, x, top) for x in (5.0, 15, 25, 35, 35.9, 45, 55, 65, 75)]
    drawing = grid([0.0, 80], ys, *upright, *band)
    measures, faces = measure_faces(drawing), some(drawing.face_count - 1)
    between = cells(drawing, 0, 60, 80, top)
    own = np.setdiff1d(faces, between)
    thin = cells(drawing, 35, 60, 35.9, top)
    assert len(thin) == 1
    ends = drawing.vertices[drawing.origin.reshape(-1, 2)]
    flat_, up = (np.ptp(ends[:, :, k], axis=1) == 0 for k in (1, 0))
    cut = {"": flat_ & up, "level": flat_, "upright": up}[frame]

    def strange(of=own, found=None, cut=cut):
        given(monkeypatch, claims, repeating=of)
        found = plane("p1") if found is None else found
        return claims.strange_faces(drawing, measures, faces, found, cut)

    odd = strange()
    assert odd.dtype == np.int32
    # but for a sliver
    wanted = np.setdiff1d(between, thin) if told else []
    assert odd.tolist() == list(wanted)
    # lines 5 mm off are near enough where those of the pattern stray by 2.3 mm, and
    # 0.06 of a square: 5.2 mm, or by 2.15 mm: 4.9 mm
    for stray, none in ((2.3, True), (2.15, False)):
        found = replace(plane("p1"), residual=stray)
        assert (len(strange(found=found)) == 0) is (none or not told)
    # too few of the pattern's faces repeat, or all of them
    least = -(-3 * len(faces) // 10)
    assert len(strange(own[:least])) > 0 or not told
    assert len(strange(own[: least - 1])) == 0
    assert len(strange(faces)) == 0
    # too little of each outline is asked: a fifth of it
    assert len(strange(cut=np.ones(drawing.edge_count, bool))) == 0


def test_what_several_strange_regions_stand_in_is_strange(monkeypatch) -> None:
    # above a band of strange regions are squares, one of 30 and one of 20 mm
    upright = [line(x, 0, x, 60) for x in TENS[1:-1]]
    upright += [line(x, 80, x, 90) for x in (10.0, 40, 50, 70)]
    upright += [line(x, 90, x, 100) for x in TENS[1:-1]]
    band = [line(x, 60, x, 80) for x in TENS[:-1] + 5]
    drawing = grid([0.0, 80], [*TENS[:7], 80, 90, 100], *upright, *band)
    measures, faces = measure_faces(drawing), some(drawing.face_count - 1)
    wide = drawing.faces_at(np.array([[25.0, 85], [60, 85], [45, 85]]))
    band = cells(drawing, 0, 60, 80, 80)
    own = np.setdiff1d(faces, [*wide, *band])
    given(monkeypatch, claims, repeating=own)
    free = np.zeros(drawing.edge_count, bool)
    odd = claims.strange_faces(drawing, measures, faces, plane("p1"), free)
    # of 30 mm: four lie below it, of 20 mm: three, of 10 mm: two
    assert odd.tolist() == sorted([*band, *wide[:2]])


def test_a_pattern_goes_on_where_images_fall_on_lines_both_ways(monkeypatch) -> None:
    lower, row = cells(SQUARES, 0, 0, 80, 60), cells(SQUARES, 0, 60, 80, 80)
    a, b = SQUARES.face[0::2], SQUARES.face[1::2]
    mine = np.isin(a, row) | np.isin(b, row)
    mine &= (a > 0) & (b > 0)
    theirs = np.isin(a, lower) & np.isin(b, lower)

    def goes_on(*answers, part=row):
        left = iter(answers)
        told = SimpleNamespace(fall_on=lambda: next(left))
        asked = given(monkeypatch, claims, _images_of=lambda *of, beside: (None, told))
        return claims.Pattern(SQUARES, lower, plane("p1")).goes_on(part), asked

    told, asked = goes_on(True, True)
    assert told
    assert asked.names("_images_of") == [{"beside": True}, {"beside": False}]
    (first, ground, *_), (second, other, *_) = (k for k, _ in asked["_images_of"])
    assert first.tolist() == np.flatnonzero(mine).tolist()
    assert second.tolist() == np.flatnonzero(theirs).tolist()
    assert (ground.high.tolist(), other.high.tolist()) == ([80.15, 60.15], [80.15] * 2)
    assert not goes_on(True, False)[0]
    assert not goes_on(False)[0]
    # one square has one edge with them, three side by side have five
    for count, found in ((1, False), (2, True)):
        part = cells(SQUARES, 0, 60, 10 * count, 70)
        assert goes_on(*[True] * 2 * found, part=part)[0] is found
    assert not goes_on(part=cells(SQUARES, 0, 70, 80, 80))[0]


def test_what_lies_beside_a_rosette_turns_with_it(monkeypatch) -> None:
    # face 5 is the rosette's; 1 to 4 lie beside it, and face 6 does not
    drawing = flat([100.0, 100, 100, 100, 50, 100])
    drawing.face = np.array([1, 5, 5, 2, 3, 5, 5, 4, 6, 1])
    drawing.face_at = lambda x, y: 4
    onto = {}

    def turned(*ways, free=(1, 2, 3, 4, 6), found=None):
        found = symmetry("rosette", "C3") if found is None else found
        found = replace(found, operations=tuple(range(len(ways) + 1)))
        onto.update({k + 1: np.array(w) for k, w in enumerate(ways)})
        onto[0] = np.arange(7)
        given(monkeypatch, claims, face_action=lambda a, operation: onto[operation])
        told = claims.claim_turned(drawing, np.array(free), np.array([5]), found)
        return told.tolist()

    turn, back = [0, 2, 3, 1, -1, 5, -1], [0, 3, 1, 2, -1, 5, -1]
    assert turned(turn, back) == [1, 2, 3]
    assert turned(turn, [0, 3, 1, -1, -1, 5, -1]) == [1, 2]
    # each onto one that is free and lies beside
    assert turned(turn, back, free=(1, 2, 4, 6)) == []
    assert turned([0, 6, 3, 1, -1, 5, -1]) == [2, 3]
    assert turned(turn, back, free=(6,)) == []
    # as large, by three hundredths
    for area, told in ((102.9, [1, 2, 3]), (103.1, [3])):
        drawing.area[3] = area
        assert turned([0, 2, 1, 3, -1, 5, -1], [0, 3, 3, 1, -1, 5, -1]) in (
            [1, 2, 3],
            [],
        )
        assert turned([0, 3, 2, 1, -1, 5, -1]) == ([1, 3] if area < 103 else [])
        assert told
    drawing.area[3] = 100
    # what stays where it is turns where it is the middle, in one piece
    still = [0, 2, 3, 1, 4, 5, -1]
    assert turned(still) == [1, 2, 3, 4]
    drawing.face_at = lambda x, y: 2
    assert turned(still) == [1, 2, 3]
    drawing.face_at = lambda x, y: 4
    assert turned(still, found=replace(about(3), centre=None)) == [1, 2, 3]
    drawing.face_ring_start[5:] += 1
    assert turned(still) == [1, 2, 3]


def strip_of(*xs):
    """Return a strip 10 mm high between upright lines, its zone from 0 to 50 mm."""
    drawing = grid(list(xs), [0.0, 10])
    return drawing, cells(drawing, 0, 0, 50, 10)


@pytest.mark.parametrize(
    ("xs", "where", "told"),
    [
        # 60 and its rails have images 20 mm before, 60 one more 10 mm before
        ((0.0, 10, 20, 30, 40, 50, 60, 70, 80), (60, 70), 1.0),
        # beyond it one line of four has an image: less than 0.4 of the outline
        ((0.0, 10, 20, 30, 40, 50, 60, 70, 80), (70, 80), 0.0),
        # an image of 60 mm lies in a face, the other on a line: not kept; its rails are
        ((0.0, 10, 20, 30, 50, 60, 70, 80), (60, 70), 30 / 40),
        # 0.06 of a square is 0.6 mm
        ((0.0, 10, 20, 30, 40, 50, 60, 69.5, 80), (60, 69), 1.0),
        ((0.0, 10, 20, 30, 40, 50, 60, 69.3, 80), (60, 69), 28.6 / 38.6),
        # the line beside the zone is the frame's
        ((0.0, 10, 20, 30, 40, 50, 59.5, 80), (50, 59), 1.0),
        ((0.0, 10, 20, 30, 40, 50, 59.3, 80), (50, 59), 18.6 / 28.6),
    ],
)
def test_a_zone_keeps_lines_whose_images_lie_on_its_own(xs, where, told) -> None:
    drawing, zone = strip_of(*xs)
    scrap = cells(drawing, where[0], 0, where[1], 10)
    assert len(scrap) == 1
    found = along_x("p1", 10.0, (25.0, 5.0))
    share = claims._share_kept(drawing, scrap, zone, found, 0.06)
    assert share == pytest.approx([told], abs=1e-9)
    # what the zone's own lines stray by is added
    stray = replace(found, residual=0.25)
    near = claims._share_kept(drawing, scrap, zone, stray, 0.06)
    assert near >= share
    if xs[-2] == 69.3:
        assert near == pytest.approx([1])


def test_all_scraps_are_asked_though_some_at_once(monkeypatch) -> None:
    scrap, zone = cells(SQUARES, 60, 0, 80, 80), cells(SQUARES, 0, 0, 60, 80)
    for at_once in (1, 100, 1 << 16):
        monkeypatch.setattr(claims, "_AT_ONCE", at_once)
        for found in (plane("p1"), plane("p4m")):
            share = claims._share_kept(SQUARES, scrap, zone, found, 0.06)
            assert share.tolist() == [1] * 16
        # shifts of 14 mm upwards carry level lines between others
        wide = plane("p1", 14.0)
        share = claims._share_kept(SQUARES, scrap, zone, wide, 0.06)
        assert share.max() == 0


@pytest.mark.parametrize("lean", [0.0, 0.3])
def test_lines_that_lean_a_little_are_kept(lean) -> None:
    # every upright line leans by as much, so that none is parallel to a row of cells
    rows = [line(0, y, 60 + lean * y / 10, y) for y in (0, 10)]
    rows += [line(x, 0, x + lean * (k % 2), 10) for k, x in enumerate(range(0, 61, 10))]
    drawing = grid([100.0, 110], [0.0, 10], *rows)
    zone, scrap = cells(drawing, 0, 0, 40, 10), cells(drawing, 50, 0, 61, 10)
    found = along_x("p1", 10.0, (25.0, 5.0))
    share = claims._share_kept(drawing, scrap, zone, found, 0.06)
    assert share == pytest.approx([1])
    ground = claims._Ground(drawing, zone, 0.6)
    edge = np.flatnonzero((drawing.face.reshape(-1, 2) == scrap[0]).any(axis=1))
    _, looked = claims._images_of(edge, ground, found, beside=True)
    assert (looked.shares()[1] == 1).all()
