"""What regions leave of a part's symmetry: doubts, shifts that say more, returns."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.symmetry.lines.turning import rotation
from fillwork.symmetry.model import Lattice
from fillwork.symmetry.zones import proof
from fillwork.symmetry.zones.making import PLAIN
from tests.unit.symmetry.answers import flat, given, some
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_zone_parts import NOTHING, measures_of

FIVE = symmetry("rosette", "C5")
TWO = symmetry("rosette", "D2")  # four operations
STRIP = symmetry("frieze", "p2", repeats_seen=9.0)
PLANE = symmetry("plane", "p2", repeats_seen=9.0)
REGIONS = {
    "_outdone_by_shift": "",
    "_frames_nothing": False,
    "share_beyond": (0.0, ""),
    "outer_sides": some(2),
    "_repeats_little": "",
    "_is_wide": False,
}


def doubted(monkeypatch, found, drawing=None, faces=None, **answers):
    """Return what regions leave of a group, and what was asked."""
    asked = given(monkeypatch, proof, **REGIONS | answers)
    drawing = flat([10.0] * 9) if drawing is None else drawing
    faces = some(len(drawing.area) - 1) if faces is None else faces
    told = proof.with_doubt_of_regions(drawing, None, faces, found)
    assert told is found or not told.certain
    return told, asked


def test_plain_pieces_along_the_edge_are_not_asked(monkeypatch) -> None:
    plain = replace(NOTHING, reason=PLAIN)
    for cut, told in ((range(10), False), (range(9), True)):
        drawing = flat([10.0] * 9)
        drawing.cut[list(cut)] = True
        found, _ = doubted(monkeypatch, plain, drawing, _outdone_by_shift="a shift")
        assert (found.reason == "a shift") is told
    drawing.cut[:] = True
    found, _ = doubted(monkeypatch, NOTHING, drawing, _outdone_by_shift="a shift")
    assert found.reason == "a shift"


@pytest.mark.parametrize(
    ("found", "wide", "few"),
    [
        (NOTHING, False, True),
        (TWO, False, True),
        (FIVE, False, False),
        (FIVE, True, False),
        (replace(STRIP, repeats_seen=11.9), False, True),
        (replace(STRIP, repeats_seen=12.0), False, False),
        (replace(STRIP, repeats_seen=12.0), True, True),
    ],
)
def test_little_may_be_outdone_by_a_shift(monkeypatch, found, wide, few) -> None:
    told, _ = doubted(monkeypatch, found, _outdone_by_shift="more", _is_wide=wide)
    assert (told.certain, told.reason) == ((False, "more") if few else (True, ""))
    told, _ = doubted(monkeypatch, found, _frames_nothing=True, _is_wide=wide)
    hollow = few and found.lattice is None
    assert (told.reason == proof.HOLLOW) is hollow
    assert told.certain is not hollow


def test_what_lies_beyond_a_group_casts_doubt_on_it(monkeypatch) -> None:
    beyond = {"share_beyond": (0.456, "a turn")}
    for count, told in ((2000, False), (2001, True)):
        found, _ = doubted(monkeypatch, FIVE, flat([1.0] * count), **beyond)
        assert found.certain is told
    found, _ = doubted(monkeypatch, FIVE, **beyond)
    assert (
        found.reason == "a turn outside it carries 46 % of the regions onto like ones"
    )


def test_a_region_may_be_too_large_for_a_repeat(monkeypatch) -> None:
    # repeats of 100 mm²
    square = Lattice(10 * np.eye(2), "square")
    found = replace(PLANE, lattice=square, repeats_seen=20.0)
    over = "a region larger than two repeats would lie over its own images"
    for large, told in ((200.0, ""), (201.0, over)):
        drawing = flat([10.0] * 8 + [large])
        assert doubted(monkeypatch, found, drawing)[0].reason == told
        # at the rim, cut, or with a hole in it, it says nothing
        rim = {"outer_sides": np.array([9])}
        assert doubted(monkeypatch, found, drawing, **rim)[0] is found
        drawing.cut[9] = True
        assert doubted(monkeypatch, found, drawing)[0] is found
        holed = flat([10.0] * 8 + [large])
        holed.face_ring_start[10] = 11
        assert doubted(monkeypatch, found, holed)[0] is found
        # nor does it under a frieze
        strip = replace(STRIP, repeats_seen=20.0)
        assert doubted(monkeypatch, strip, flat([10.0] * 8 + [large]))[0] is strip
    for large, repeats, told in (
        (50.0, 1.9, ""),
        (51.0, 1.9, proof.EMPTY),
        (51.0, 2.0, ""),
    ):
        few = replace(found, repeats_seen=repeats)
        drawing = flat([10.0] * 8 + [large])
        assert doubted(monkeypatch, few, drawing)[0].reason == told


def test_regions_that_can_tell_are_asked_whether_they_return(monkeypatch) -> None:
    drawing = flat([10.0] * 9)
    drawing.cut[5] = True
    found = replace(PLANE, lattice=Lattice(10 * np.eye(2), "square"))
    little = {"_repeats_little": "little"}
    told, asked = doubted(monkeypatch, found, drawing, **little)
    assert (told.certain, told.reason) == (False, "little")
    # those at the rim, 1 and 2, and cut ones do not tell of a pattern
    assert asked.last("_repeats_little", 3).tolist() == [3, 4, 6, 7, 8, 9]
    told, asked = doubted(monkeypatch, STRIP, drawing, **little)
    assert told.reason == "little"
    assert asked.last("_repeats_little", 3).tolist() == some(9).tolist()
    assert doubted(monkeypatch, FIVE, drawing, **little)[0] is FIVE
    assert doubted(monkeypatch, STRIP, drawing)[0] is STRIP


@pytest.mark.parametrize(
    ("found", "long", "count", "share", "told"),
    [
        # nothing, or few turns, that return seldom: a third of the regions
        (NOTHING, False, 9, 0.33, "a shift carries 33 %"),
        (NOTHING, False, 9, 0.32, ""),
        (NOTHING, False, 8, 1.0, ""),
        (NOTHING, True, 4, 0.33, "a shift carries 33 %"),
        (NOTHING, True, 3, 1.0, ""),
        (NOTHING, False, 2000, 0.33, "a shift carries 33 %"),
        (NOTHING, False, 2001, 1.0, ""),
        (symmetry("rosette", "C2"), False, 9, 0.33, "a shift carries 33 %"),
        (TWO, False, 9, 0.49, ""),
        (TWO, False, 9, 0.5, "a shift carries 50 %"),
        (replace(STRIP, repeats_seen=2.4), True, 9, 0.33, "another shift carries 33 %"),
        (replace(STRIP, repeats_seen=2.5), True, 9, 0.79, ""),
        (replace(STRIP, repeats_seen=2.5), True, 9, 0.8, "another shift carries 80 %"),
        (replace(STRIP, repeats_seen=2.5), True, 8, 1.0, ""),
        # what repeats one way and is no strip
        (replace(STRIP, repeats_seen=2.5), False, 9, 0.5, "another shift carries 50 %"),
        (replace(STRIP, repeats_seen=2.5), False, 9, 0.49, ""),
        (replace(PLANE, repeats_seen=2.5), False, 9, 0.79, ""),
    ],
)
def test_a_shift_outdoes_a_group_of_little(
    monkeypatch, found, long, count, share, told
) -> None:
    asked = given(
        monkeypatch,
        proof,
        is_long=long,
        outer_sides=some(0),
        athwart="rails",
        share_shifted=share,
    )
    reason = proof._outdone_by_shift(flat([1.0] * count), None, some(count), found)
    assert reason == (told and f"{told} of the regions onto like ones")
    if asked["share_shifted"]:
        basis = np.zeros((0, 2)) if found.lattice is None else found.lattice.basis
        assert np.array_equal(asked.last("share_shifted", 3), basis)
        assert asked.last("share_shifted", 4) == found.residual
        assert asked.last("share_shifted", 5) == "rails"


def test_what_a_frame_cuts_is_not_asked_of_little(monkeypatch) -> None:
    for found, rim, left in (
        (NOTHING, 3, 9),
        (NOTHING, 4, 12),  # eight are too few
        (TWO, 3, 12),
        (replace(STRIP, repeats_seen=2.5), 3, 12),
        (replace(STRIP, repeats_seen=2.4), 3, 9),
    ):
        asked = given(
            monkeypatch,
            proof,
            is_long=False,
            outer_sides=some(rim),
            athwart=np.zeros(2),
            share_shifted=0.0,
        )
        proof._outdone_by_shift(flat([1.0] * 12), None, some(12), found)
        assert asked.last("share_shifted", 2).tolist() == some(left, 13 - left).tolist()


def little(monkeypatch, found, asked=12, returning=12, kept=(1.0, 0.8), area=None):
    """Return why too little returns where so many of the regions do."""
    drawing = flat([1.0] * 2500 if area is None else area)
    replies = given(
        monkeypatch,
        proof,
        specks=lambda a, faces: np.isin(faces, [2400]),
        repeating=some(returning),
        shares_kept=np.array(kept),
    )
    told = proof._repeats_little(drawing, None, "all", some(asked), found)
    return told, replies


def test_too_few_regions_return(monkeypatch) -> None:
    often = replace(PLANE, repeats_seen=2.5)
    covered = "its shifts carry regions of 24 % of its area onto like ones"
    # a quarter of the area, of nine regions or more
    for asked, returning, told in ((100, 25, ""), (100, 24, covered), (8, 0, "")):
        assert little(monkeypatch, often, asked, returning)[0] == told
    assert little(monkeypatch, often, 9, 2)[0].startswith("its shifts carry regions")
    strip = replace(STRIP, repeats_seen=2.5)
    assert little(monkeypatch, strip, 100, 24)[0] == ""
    # where it returns seldom half of the regions
    seldom = replace(PLANE, repeats_seen=2.4)
    half = "its shifts carry 49 % of the regions onto like ones"
    for asked, returning, told in ((100, 50, ""), (100, 49, half)):
        assert little(monkeypatch, seldom, asked, returning)[0] == told
    assert little(monkeypatch, replace(STRIP, repeats_seen=2.4), 100, 49)[0] == half
    assert little(monkeypatch, often, 0, 0)[0] == ""
    # area tells of a pattern, and not how many there are
    area = [1.0] * 24 + [2.0] * 76
    told, _ = little(monkeypatch, often, 100, 24, area=area)
    assert told == "its shifts carry regions of 14 % of its area onto like ones"
    # next to nothing is not asked
    _, replies = little(monkeypatch, often, 2400, 30)
    assert len(replies.last("repeating", 2)) == 2399


def test_each_operation_carries_most_of_what_repeats(monkeypatch) -> None:
    one = "one of its operations carries 79 % of the regions that repeat onto like ones"
    for returning, kept, told in (
        (9, (1.0, 0.79), one),
        (8, (1.0, 0.79), ""),
        (9, (1.0, 0.8), ""),
    ):
        assert little(monkeypatch, STRIP, 9, returning, kept)[0] == told
    # of many some are asked: up to 799 all of them, then every second, every third
    for returning, every in ((799, 1), (800, 2), (1599, 2), (1600, 3)):
        _, replies = little(monkeypatch, STRIP, returning, returning)
        asked = replies.last("shares_kept", 3)
        assert asked.tolist() == some(returning)[::every].tolist()
        assert replies.last("shares_kept", 2) == "all"


@pytest.mark.parametrize(
    ("faces", "share", "told"), [(16, 0.34, True), (15, 0.34, False), (16, 0.33, False)]
)
def test_a_middle_is_framed_by_many_and_wide(faces, share, told) -> None:
    # one face of a share of a hundred square millimetres, and others
    rest = 100.0 * (1 - share) / (faces - 1)
    drawing = flat([100.0 * share] + [rest] * (faces - 1))
    drawing.face_at = lambda x, y: 1 if (x, y) == FIVE.centre else 2
    assert proof._frames_nothing(drawing, some(faces), FIVE) is told
    other = replace(FIVE, centre=(0.0, 0.0))
    assert not proof._frames_nothing(drawing, some(faces), other)
    assert not proof._frames_nothing(drawing, some(faces), replace(FIVE, centre=None))
    # what is not one of them, or has something in it, is no empty middle
    assert not proof._frames_nothing(drawing, some(faces, 2), FIVE)
    drawing.face_ring_start[2:] += 1
    assert not proof._frames_nothing(drawing, some(faces), FIVE)


@pytest.mark.parametrize("turn", [0.0, 0.5, np.pi / 2])
def test_a_frieze_reaches_farther_along_than_across(turn) -> None:
    spin = rotation(turn)
    along = replace(
        STRIP, lattice=Lattice(np.array([[7.0, 0.0]]) @ spin.T, "line"), reason="own"
    )
    for wide, high, sure in ((30, 20, True), (30, 29.9, True), (30, 30.1, False)):
        corners = np.array([[0.0, 0], [wide, 0], [wide, high], [0, high], [99, 99]])
        drawing = flat([1.0] * 5)
        drawing.vertices = corners @ spin.T
        drawing.origin = np.array([4, 0, 1, 2, 3, 4])
        told = proof._with_doubt_across(drawing, some(4), along)
        assert told.certain is sure
        assert (told is along) is sure
        assert sure or told.reason.startswith("it reaches farther across than along")
    assert proof._with_doubt_across(drawing, some(4), FIVE) is FIVE


def test_sizes_are_nearly_alike_within_two_hundredths() -> None:
    # three in a row of steps that differ by a little more or less than 0.02 each way;
    # cells are 0.04 wide in logarithms and lie half a step on as well
    for first in np.exp(np.linspace(2.0, 2.04, 9)):
        for step, told in ((1.0, 3), (1.0095, 3), (1.045, 0)):
            sizes = first * np.array([1.0, step, step**2])
            for lengths in ([40.0] * 3, 4 * sizes):
                faces = np.arange(3, dtype=np.int32)
                some_like = proof.nearly_alike(measures_of(sizes, lengths), faces)
                assert len(some_like) == told
                measures = measures_of(lengths, sizes)
                assert len(proof.nearly_alike(measures, faces)) == told
    # two are too few; those that are alike are told by their numbers
    sizes = [10.0, 30, 10, 30, 10]
    told = proof.nearly_alike(measures_of(sizes), np.arange(5, dtype=np.int32))
    assert told.tolist() == [0, 2, 4]
    assert len(proof.nearly_alike(measures_of(sizes[:4]), some(4, 0))) == 0
