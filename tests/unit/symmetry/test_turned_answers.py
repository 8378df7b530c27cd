"""Doubts about what turns, and groups of strips, of what their regions answer."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.errors import SymmetryError
from fillwork.symmetry.lines.frieze import NO_MIDDLE, UNCLOSED
from fillwork.symmetry.model import Candidate
from fillwork.symmetry.zones import fewer, turned
from tests.unit.symmetry.answers import flat, given, some
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_zone_faces import EXACT, about, spots
from tests.unit.symmetry.test_zone_parts import NOTHING, measures_of

NONE_SUCH = SymmetryError("none such")


def rosette(short, **facts):
    return symmetry("rosette", short, **facts)


def shares(*told):
    """Return rows of a hundred faces, of which each operation carries a share."""
    return np.arange(100) < 100 * np.array(told)[:, None]


def doubt(patch, short, carried, held=(), count=20, residual=0.0, **answers):
    """Return what is left of a rosette of faces of 10 mm, and what was asked.

    `carried`: share of the faces that each operation carries. `held`: of a group what
    lines say of it, and the least share that is carried.
    """
    known = dict(held)
    found = rosette(short, residual=residual)
    usual = {
        "turned_faces": shares(*carried),
        "_held": lambda a, m, f, group: known.get(group, (None, 0.0)),
        "keeps_outline": np.ones(len(found.operations), bool),
        "_at_rim": False,
        "slivers": lambda a, m, f: f > 39,
        "_is_hollow": False,
    }
    asked = given(patch, turned, **usual | answers)
    measures = measures_of([10.0] * (count + 1))
    told = turned.with_doubt_about(flat([100.0] * count), measures, some(count), found)
    if told.group == found.group and told.certain and not told.reason:
        assert told is found
    return told, asked


def said(told):
    return told.group.short, told.certain, told.reason


STATED = {n: rosette(n, stated=True) for n in ("C4", "C5", "D1", "D2", "D4", "D6")}
ODD = {n: replace(s, reason="odd") for n, s in STATED.items()}
LAID = "its regions are laid as {} would lay them"
ONE = "one of its operations carries {} % of the regions onto like ones"
LITTLE = "it carries {} % of the regions onto like ones"


@pytest.mark.parametrize(
    ("short", "carried", "told"),
    [
        ("C5", [0.3, 0.0, 0.0, 0.0], ""),
        ("C5", [0.29, 0.0, 0.1, 0.2], LITTLE.format(29)),
        ("D2", [0.8, 0.9, 1.0], ""),
        ("D2", [0.79, 0.9, 1.0], ONE.format(79)),
        ("D2", [1.0, 0.5, 0.6], ONE.format(50)),
        ("D2", [0.2, 0.1, 0.29], LITTLE.format(29)),
        ("D1", [0.3], ONE.format(30)),
        ("D1", [0.8], ""),
        ("C4", [0.8, 0.8, 0.8], ""),
    ],
)
def test_each_of_few_turns_carries_most_regions(monkeypatch, short, carried, told):
    assert said(doubt(monkeypatch, short, carried)[0]) == (short, not told, told)


def test_what_carries_nothing_is_in_doubt(monkeypatch) -> None:
    none = np.zeros((0, 100), bool)
    told, _ = doubt(monkeypatch, "C5", [0.0], turned_faces=none)
    assert said(told) == ("C5", False, LITTLE.format(0))


@pytest.mark.parametrize(
    ("count", "held", "told"),
    [
        (11, (STATED["D2"], 0.8), ("D2", True, "")),
        (12, (STATED["D2"], 0.8), ("C2", True, "")),
        (11, (STATED["D2"], 0.79), ("C2", True, "")),
        # what lines speak against is a doubt where regions are laid so
        (11, (ODD["D2"], 0.8), ("C2", False, LAID.format("D2"))),
        (11, (ODD["D2"], 0.79), ("C2", True, "")),
        (11, (None, 1.0), ("C2", True, "")),
    ],
)
def test_few_regions_that_turn_by_half_may_be_mirrored(monkeypatch, count, held, told):
    found, _ = doubt(monkeypatch, "C2", [1.0], {"D2": held}, count)
    assert said(found) == told
    assert not found.stated


@pytest.mark.parametrize(
    ("residual", "count", "least", "doubted"),
    [
        # lines stray by a two-hundredth of a face of 10 mm, or more
        (0.05, 11, 0.8, True),
        (0.05, 11, 0.79, False),
        (0.05, 12, 1.0, False),
        (0.051, 11, 0.6, True),
        (0.051, 11, 0.59, False),
        (0.051, 39, 0.6, True),
        # slivers among them do not count
        (0.051, 43, 0.6, True),
        (0.051, 45, 0.6, True),
    ],
)
def test_regions_may_be_laid_as_a_larger_group_would(
    monkeypatch, residual, count, least, doubted
) -> None:
    held = {"D4": (ODD["D4"], least)}
    found, asked = doubt(monkeypatch, "C4", [1.0] * 3, held, count, residual)
    wanted = LAID.format("D4") if doubted else ""
    assert said(found) == ("C4", not doubted, wanted)
    if asked["_held"]:
        assert len(asked.last("_held", 2)) == min(count, 39)
    # of forty that say something lines decide
    every = {"slivers": lambda a, m, f: f > 40}
    found, _ = doubt(monkeypatch, "C4", [1.0] * 3, held, 40, 0.051, **every)
    assert found.certain
    # no larger group is asked of one that few have
    assert doubt(monkeypatch, "C5", [1.0] * 4, held, count)[0].certain


def test_each_group_may_be_one_of_several(monkeypatch) -> None:
    for short, larger in (
        ("D1", "D2"),
        ("D2", "D4"),
        ("D3", "D6"),
        ("C2", "C4"),
        ("C2", "D2"),
        ("C3", "D3"),
        ("C3", "C6"),
        ("C4", "D4"),
    ):
        operations = len(rosette(short).operations)
        held = {larger: (replace(rosette(larger), reason="odd"), 1.0)}
        told, _ = doubt(monkeypatch, short, [1.0] * (operations - 1), held, 11)
        assert said(told) == (short, False, LAID.format(larger))


def test_a_wheel_in_a_star_turned_against_it_has_no_mirrors(monkeypatch) -> None:
    def outline(n, turns, mirrors):
        found = rosette(f"D{n}")
        turning = [o.kind in ("identity", "rotation") for o in found.operations]
        return np.where(turning, turns, mirrors)

    def told(n, turns, mirrors, held, short=None):
        found, asked = doubt(
            monkeypatch,
            short or f"D{n}",
            [1.0] * (len(rosette(short or f"D{n}").operations) - 1),
            held,
            keeps_outline=outline(n, turns, mirrors) if short is None else [],
        )
        return said(found), found.stated, len(asked["_held"])

    five = {"C5": (STATED["C5"], 0.1)}
    assert told(5, True, False, five) == (("C5", True, ""), False, 1)
    assert told(5, True, True, five) == (("D5", True, ""), False, 0)
    assert told(5, False, False, five) == (("D5", True, ""), False, 0)
    assert told(5, True, False, {"C5": (ODD["C5"], 1.0)})[0] == ("D5", True, "")
    assert told(5, True, False, {})[0] == ("D5", True, "")
    # what has two mirrors at most, or none, is not asked for its outline
    two = {"C2": (rosette("C2"), 1.0)}
    assert told(2, True, False, two) == (("D2", True, ""), False, 0)
    assert told(5, True, False, five, "C5") == (("C5", True, ""), False, 0)
    three = {"C3": (rosette("C3"), 1.0)}
    assert told(3, True, False, three)[0] == ("C3", True, "")
    # one mirror or turn that says otherwise is enough
    for row, short in ((1, "D5"), (9, "D5"), (None, "C5")):
        kept = outline(5, True, False)
        if row is not None:
            kept[row] = not kept[row]
        found, _ = doubt(monkeypatch, "D5", [1.0] * 9, five, keeps_outline=kept)
        assert found.group.short == short


def test_a_centre_on_the_rim_and_a_hollow_middle_cast_doubt(monkeypatch) -> None:
    cut, hollow = {"_at_rim": True}, {"_is_hollow": True}
    for carried, answers, told in (
        ([0.3] * 4, cut, turned.CUT_THROUGH),
        ([0.29] * 4, cut, LITTLE.format(29)),
        ([0.3] * 4, hollow, turned.HOLLOW),
        ([0.29] * 4, hollow, LITTLE.format(29)),
    ):
        assert said(doubt(monkeypatch, "C5", carried, **answers)[0])[2] == told


@pytest.mark.parametrize(
    ("short", "held", "told"),
    [
        ("C2", (STATED["D1"], 0.8), ("D1", True, "")),
        ("C2", (STATED["D1"], 0.79), ("C2", False, LITTLE.format(10))),
        ("C2", (ODD["D1"], 1.0), ("C2", False, LITTLE.format(10))),
        ("C2", (None, 1.0), ("C2", False, LITTLE.format(10))),
        ("C3", (STATED["D1"], 1.0), ("C3", False, LITTLE.format(10))),
    ],
)
def test_lines_that_turn_by_half_may_be_mirrored_instead(
    monkeypatch, short, held, told
) -> None:
    carried = [0.1] * (len(rosette(short).operations) - 1)
    found, _ = doubt(monkeypatch, short, carried, {"D1": held})
    assert said(found) == told
    assert not found.stated


@pytest.mark.parametrize(
    ("found", "count", "carried", "told"),
    [
        (rosette("C5"), 11, [1.0, 0.79], ONE.format(79)),
        (rosette("C5"), 11, [1.0, 0.8], ""),
        (rosette("C5"), 2, [1.0, 0.79], ONE.format(79)),
        (rosette("C5"), 1, [0.0], ""),
        (rosette("C5"), 12, [0.0], ""),
        (rosette("C1"), 11, [0.0], ""),
        (symmetry("frieze", "p2"), 11, [0.0], ""),
        (rosette("C5", certain=False), 11, [0.0], ""),
    ],
)
def test_a_rosette_of_few_regions_carries_them(
    monkeypatch, found, count, carried, told
):
    given(monkeypatch, turned, turned_faces=shares(*carried))
    after = turned.with_doubt_of_few(None, None, some(count), found)
    if told:
        assert (after.certain, after.reason) == (False, told)
    else:
        assert after is found


def test_a_stated_rosette_is_held_with_what_it_carries(monkeypatch) -> None:
    asked = given(
        monkeypatch,
        turned,
        find_symmetry=STATED["D4"],
        turned_faces=shares(0.9, 0.4, 0.7),
    )
    assert turned._held(None, None, some(3), "D4") == (STATED["D4"], 0.4)
    assert asked.names("find_symmetry") == [
        {"stated": "rosette:D4", "loose_lines": False}
    ]
    given(monkeypatch, turned, turned_faces=np.zeros((0, 9), bool))
    assert turned._held(None, None, some(3), "D4") == (STATED["D4"], 1.0)

    def cannot(*told, **facts):
        raise NONE_SUCH

    given(monkeypatch, turned, find_symmetry=cannot)
    assert turned._held(None, None, some(3), "D4") == (None, 0.0)


@pytest.mark.parametrize(
    ("short", "count", "told"),
    [("C2", 11, True), ("C2", 12, False), ("D1", 11, False), ("D5", 11, True)],
)
def test_few_faces_are_asked_whether_they_end_at_their_centre(
    monkeypatch, short, count, told
) -> None:
    found = rosette(short)
    asked = given(monkeypatch, turned, ends_at=True)
    assert turned._at_rim(None, None, some(count), found) is told
    if told:
        assert asked.last("ends_at", 3) == found.centre
    bare = replace(found, centre=None)
    assert not turned._at_rim(None, None, some(count), bare)


def test_turned_outlines_may_lie_apart_by_what_lines_stray() -> None:
    # two faces of 4 mm, one of which lies 0.1 off in its second number, of 0.05 allowed
    # and twice the stray over its size
    measures = spots([(60.0, 50), (40, 50)])
    measures.pose[0, 1] = 0.1
    faces = np.arange(2, dtype=np.int32)
    for stray, told in ((0.09, False), (0.11, True)):
        for drawing, found in (
            (SimpleNamespace(tolerance=EXACT), about(2, residual=stray)),
            (
                SimpleNamespace(tolerance=SimpleNamespace(join_within=stray)),
                about(2),
            ),
        ):
            kept = turned.turned_faces(drawing, measures, faces, found)
            assert kept.tolist() == [[told, told]]
    measures = spots([(60.0, 50), (40, 50), (60, 58)])
    kept = turned.turned_faces(
        SimpleNamespace(tolerance=EXACT), measures, np.arange(3), about(2)
    )
    assert kept.tolist() == [[True, True, False]]


def strip(short, **facts):
    facts = {"candidates": (Candidate(short, 1.0, 0.0),)} | facts
    return symmetry("frieze", short, **facts)


FULL, HALF, FLIPPED, ALONG = (strip(s) for s in ("p2mm", "p2", "p1m1", "p11m"))
MIDDLE = replace(FULL, residual=0.25)
OFF = "its middle line is not that of the strip"
NONE_KEPT = "its regions keep none of its turns and mirrors"


def kept_of(patch, found, kept, there, *, beside=False, asked=3):
    """Return what regions keep of a strip; `kept` where it lies, `there` amid it."""
    middle = replace(found, residual=0.25)

    def share(a, m, faces, some_, of):
        return np.array(there if of is middle else kept)

    replies = given(
        patch,
        fewer,
        specks=lambda a, faces: faces == 5,
        repeating=some(asked),
        shares_kept=share,
        _in_the_middle=middle,
        _lies_beside=beside,
        _kept_by_rows=lambda a, m, f, asked, of: replace(of, reason="rows"),
    )
    told = fewer.kept_by_regions(flat([1.0] * 9), None, some(9), found)
    if replies["repeating"]:
        assert replies.last("repeating", 2).tolist() == [1, 2, 3, 4, 6, 7, 8, 9]
    return told


@pytest.mark.parametrize(
    ("found", "kept", "there", "told"),
    [
        # what regions keep where it lies: the middle must keep something too
        (FULL, [1, 0.8, 0.8, 0.8], [1, 0.35, 1, 1], ("p2mm", True, "rows", 0)),
        (FULL, [1, 0.8, 0.8, 0.8], [1, 0.34, 1, 1], ("p2mm", False, OFF, 0)),
        (HALF, [1, 0.8], [1, 0.35], ("p2", True, "rows", 0)),
        # what they keep about the middle
        (FULL, [1, 0.79, 1, 1], [1, 0.8, 1, 1], ("p2mm", True, "", 0.25)),
        (FULL, [1, 0.1, 1, 0.3], [1, 0.8, 1, 0.9], ("p2mm", True, "", 0.25)),
        (FULL, [1, 0.5, 1, 1], [1, 0.6, 1, 1], ("p2mm", True, "rows", 0.25)),
        (FULL, [1, 0.5, 1, 1], [1, 0.5, 1, 1], ("p2mm", True, "rows", 0)),
        (FULL, [1, 0.5, 1, 1], [1, 1, 0.9, 1], ("p2mm", True, "rows", 0)),
        # more than a third is some of them, less is none
        (FULL, [1, 1, 0.35, 0.1], [0, 0, 0, 0], ("p2mm", True, "rows", 0)),
        (FULL, [1, 0.8, 0.34, 0.1], [0, 0, 0, 0], ("p2", True, "", 0)),
        (FULL, [1, 0.1, 0.8, 0.34], [0, 0, 0, 0], ("p1m1", True, "", 0)),
        (FULL, [1, 0.1, 0.34, 0.8], [0, 0, 0, 0], ("p11m", True, "", 0)),
        (FULL, [1, 0.1, 0.8, 0.8], [0, 0, 0, 0], ("p2mm", True, "", 0)),
        (FULL, [1, 0.1, 0.1, 0.1], [0, 0, 0, 0], ("p2mm", False, NONE_KEPT, 0)),
        (HALF, [1, 0.1], [0, 0], ("p1", True, "", 0)),
    ],
)
def test_regions_keep_a_part_of_what_lines_keep(monkeypatch, found, kept, there, told):
    after = kept_of(monkeypatch, found, kept, there)
    assert (after.group.short, after.certain, after.reason, after.residual) == told


def test_too_little_is_not_asked(monkeypatch) -> None:
    none = [1, 0, 0, 0]
    assert kept_of(monkeypatch, FULL, none, none, asked=2) is FULL
    assert not kept_of(monkeypatch, FULL, none, none, asked=3).certain
    for other in (strip("p1"), rosette("C4"), NOTHING):
        assert kept_of(monkeypatch, other, none, none) is other
    unsure = replace(FULL, certain=False, reason="few")
    assert kept_of(monkeypatch, unsure, [1] * 4, none) is unsure


def test_figures_nearer_one_rail_are_mirrored_in_themselves(monkeypatch) -> None:
    every, there = [1] * 4, [1] * 4
    told = kept_of(monkeypatch, FULL, every, there, beside=True)
    assert (told.group.short, told.reason) == ("p1m1", "")
    more = strip("p2mg")
    assert kept_of(monkeypatch, more, every, there, beside=True).group.short == "p1m1"
    # where nothing runs along it, or nothing across, its middle line is not asked
    for found in (FLIPPED, HALF, ALONG):
        told = kept_of(monkeypatch, found, [1, 1], [1, 1], beside=True)
        assert (told.group, told.reason) == (found.group, "rows")


@pytest.mark.parametrize(
    ("found", "kept", "told"),
    [
        # two rows of three: each operation carries one of each row at least
        (HALF, ["100100"], ("p2", True)),
        (HALF, ["111001"], ("p2", True)),
        (HALF, ["111000"], ("p1", True)),
        (FULL, ["100001", "111000", "000111"], ("p2", True)),
        (FULL, ["000000", "010010", "000000"], ("p1m1", True)),
        # what is left of it is no group
        (FULL, ["000000", "010010", "010010"], ("p2mm", True)),
    ],
)
def test_a_strip_keeps_something_of_each_row(monkeypatch, found, kept, told) -> None:
    rows = np.array([[c == "1" for c in k] for k in ("111111", *kept)])
    onto = np.array([[[1, 2, -1, 4, 5, -1], [-1, 0, 1, -1, 3, 4]]])
    found = replace(found, residual=0.5)
    for way in (onto, onto[:, ::-1]):
        asked = given(monkeypatch, fewer, _kept=rows, onto_by=way)
        after = fewer._kept_by_rows(flat([1.0] * 6), None, some(9), some(6), found)
        assert (after.group.short, after.certain) == told
    assert asked.last("onto_by", 2).tolist() == some(6).tolist()
    assert asked.last("onto_by", 3) is found.lattice.basis
    assert asked.last("onto_by", 4) == 0.5


def test_two_regions_that_are_not_kept_leave_a_doubt(monkeypatch) -> None:
    for count, sure in ((2, False), (3, True)):
        # four in a row, and two or three in another
        onto = [1, 2, 3, -1, 5, 6, -1][: 4 + count]
        onto[-1] = -1
        hit = np.array([[onto, [-1] * len(onto)]])
        rows = np.array([[True] * len(onto), [True] * 4 + [False] * count])
        given(monkeypatch, fewer, _kept=rows, onto_by=hit)
        told = fewer._kept_by_rows(None, None, some(9), some(len(onto)), HALF)
        assert (told.group.short, told.certain) == ("p1", sure)
        assert told.reason == ("" if sure else "its regions keep p1 alone")


def test_regions_tell_which_operations_close(monkeypatch) -> None:
    order = ["p2mm", "p2mg", "p2", "p1m1", "p11m", "p11g"]

    def closed(reason, shares_of, asked=3, odd=(), cannot=()):
        tried = []

        def find(arrangement, faces, stated, loose_lines):
            assert not loose_lines
            tried.append(stated.removeprefix("frieze:"))
            if tried[-1] in cannot:
                raise NONE_SUCH
            why = "odd" if tried[-1] in odd else ""
            return strip(tried[-1], stated=True, reason=why)

        given(
            monkeypatch,
            fewer,
            find_symmetry=find,
            repeating=some(asked),
            shares_kept=lambda a, m, f, s, held: np.array(
                [1.0, shares_of.get(held.group.short, 0.0)]
            ),
        )
        found = strip("p2mm", certain=not reason, reason=reason)
        told = fewer.closed_by_regions(None, None, some(9), found)
        return ("found" if told is found else told.group.short), told.stated, tried

    for reason in (UNCLOSED, NO_MIDDLE):
        assert closed(reason, {"p2": 0.8, "p11g": 1.0}) == ("p2", False, order[:3])
        assert closed(reason, {"p2": 0.79, "p11g": 1.0}) == ("p11g", False, order)
        assert closed(reason, {}) == ("found", False, order)
        every = dict.fromkeys(order, 1.0)
        assert closed(reason, every, asked=2) == ("found", False, order)
        assert closed(reason, every)[0] == "p2mm"
        assert closed(reason, every, odd=order[:2])[0] == "p2"
        assert closed(reason, every, cannot=order[:3])[0] == "p1m1"
    for other in ("", "few", "p2 fits nearly as well"):
        assert closed(other, {"p2": 1.0}) == ("found", False, [])


@pytest.mark.parametrize(
    ("asked", "own", "more", "sure"),
    [
        (3, 0.8, 0.34, True),
        (2, 0.8, 0.34, False),
        (3, 0.79, 0.34, False),
        (3, 0.8, 0.35, False),
    ],
)
def test_regions_keep_nothing_of_what_nearly_fits(monkeypatch, asked, own, more, sure):
    reason = "p2mm fits nearly as well"
    nearly = (Candidate("p2", 1.0, 0.0), Candidate("p2mm", 0.9, 0.0))
    found = strip("p2", certain=False, reason=reason, candidates=nearly)

    def share(a, m, f, s, held):
        # of the larger group its own turn may be kept
        return np.array([1.0, own] if held is found else [1.0, 1.0, more, 0.0])

    answers = {
        "find_symmetry": strip("p2mm"),
        "repeating": some(asked),
        "shares_kept": share,
    }
    replies = given(monkeypatch, fewer, **answers)
    told = fewer.closed_by_regions(None, None, some(9), found)
    assert (told.certain, told.reason) == (sure, "" if sure else reason)
    if replies["find_symmetry"]:
        assert replies.names("find_symmetry") == [
            {"stated": "frieze:p2mm", "loose_lines": False}
        ]

    # what lines cannot have leaves the doubt
    def cannot(*told, **facts):
        raise NONE_SUCH

    given(monkeypatch, fewer, **answers | {"find_symmetry": cannot})
    assert fewer.closed_by_regions(None, None, some(9), found) is found
    # a group that was weighed first is the one that was found
    alone = replace(found, candidates=(Candidate("p2mm", 0.9, 0.0),))
    assert fewer.closed_by_regions(None, None, some(9), alone) is alone


def test_what_is_left_of_a_strip_has_a_centre_of_its_own() -> None:
    # flips of p2mg lie a quarter of a repeat beside its half turns
    found = strip("p2mg")
    identity, turn, flip, glide = found.operations
    for held, on in (
        ((identity, turn), turn),
        ((identity, flip), flip),
        ((identity, flip, turn), turn),
        ((identity, glide, flip, turn), turn),
    ):
        x, y = np.array(fewer._centre_of(found, list(held)))
        a, b, c, d, e, f = on.map
        assert np.allclose((a * x + c * y + e, b * x + d * y + f), (x, y))
    beside = np.subtract(fewer._centre_of(found, [identity, flip]), found.centre)
    quarter = np.hypot(*found.lattice.basis[0]) / 4
    assert np.hypot(*beside) == pytest.approx(quarter)
    assert fewer._centre_of(replace(found, centre=None), list(held)) is None
