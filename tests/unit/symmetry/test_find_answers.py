"""Which parts a panel has, of what each stage of parting it answers."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.errors import SymmetryError
from fillwork.symmetry.zones import beyond, find
from fillwork.symmetry.zones.making import PLAIN, Part
from tests.unit.symmetry.answers import flat, given, some
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_exchange_answers import chain, mesh
from tests.unit.symmetry.test_small_panels import SQUARES
from tests.unit.symmetry.test_zone_parts import NOTHING

FIVE = symmetry("rosette", "C5")
TWO = symmetry("rosette", "D2")
STRIP = symmetry("frieze", "p2", repeats_seen=9.0)
PLANE = symmetry("plane", "p4", repeats_seen=9.0)
ALONE = {"certain": False, "reason": "alone"}


def unsure(found, reason="few"):
    return replace(found, certain=False, reason=reason)


def same(position):
    """Return an answer that is one of what was asked."""
    return lambda *asked, **facts: asked[position]


def test_stated_groups_are_those_of_the_whole_or_of_zones(monkeypatch) -> None:
    parts = [Part(some(30), PLANE, "field"), Part(some(34, 31), FIVE)]

    def zones(stated=None, held=STRIP, **answers):
        own = [Part(p.faces, p.symmetry, p.role) for p in parts]
        usual = {
            "held_or_of_figures": held,
            "_panel_parts": own,
            "with_doubt_of_regions": same(3),
            "beside_repeating": [],
            "small_amid_doubt": [],
        }
        asked = given(monkeypatch, find, **usual | answers)
        return find.find_zones(SQUARES, stated=stated), asked

    told, _ = zones()
    assert [(z.index, len(z.faces), z.role) for z in told] == [
        (1, 30, "field"),
        (2, 34, ""),
    ]
    assert [z.symmetry for z in told] == [PLANE, FIVE]
    (one,), _ = zones("none")
    assert (one.index, len(one.faces), one.symmetry.stated) == (1, 64, True)
    assert (one.symmetry.group.family, one.symmetry.certain) == ("none", True)
    (one,), asked = zones("frieze:p2")
    assert (one.index, len(one.faces), one.symmetry) == (1, 64, STRIP)
    assert asked.last("held_or_of_figures", 2) == "frieze:p2"
    told, asked = zones({2: "frieze:p2"})
    assert [z.symmetry for z in told] == [PLANE, STRIP]
    assert asked.last("held_or_of_figures", 1).tolist() == some(34, 31).tolist()
    # what is stated as it was found stands as it was found
    doubted = {"with_doubt_of_regions": lambda a, m, f, found: unsure(found)}
    told, asked = zones({2: "rosette:C5"}, **doubted)
    own = told[1].symmetry
    assert (own.group.short, own.certain, own.reason, own.stated) == (
        "C5",
        True,
        "",
        True,
    )
    assert asked["held_or_of_figures"] == []
    assert not told[0].symmetry.certain
    for wrong, said in (({3: "plane:p1"}, "zone 3 "), ({0: "plane:p1"}, "zone 0 ")):
        with pytest.raises(SymmetryError, match=said):
            zones(wrong)
    with pytest.raises(SymmetryError, match="which has 2"):
        zones({1: "plane:p1", 4: "plane:p1", 3: "plane:p1"})
    # rows of a pattern, and what is amid doubt
    for stage, said in (
        ("beside_repeating", "rows like it lie beside it"),
        ("small_amid_doubt", "all that lies about it is in doubt"),
    ):
        told, _ = zones(**{stage: lambda *asked: asked[-1][:1]})
        assert [z.symmetry.certain for z in told] == [False, True]
        assert told[0].symmetry.reason.startswith(said)
    # a group of none is never as it was found
    parts[1].symmetry = NOTHING
    _, asked = zones({2: "none"})
    assert len(asked["held_or_of_figures"]) == 1


def test_what_lies_outside_a_panel_is_plain(monkeypatch) -> None:
    border = Part(some(3, 6), replace(NOTHING, reason=PLAIN))

    def parts(outside, turned=None, inner=()):
        asked = given(
            monkeypatch,
            find,
            ground_outside=np.array(outside, np.int32),
            _inner_parts=[Part(some(5), PLANE), *inner],
            turned_along=[np.array(outside, np.int32)] if turned is None else turned,
            in_order=same(1),
        )
        told = find._panel_parts(flat([1.0] * 9), None, some(9))
        return [p.faces.tolist() for p in told], asked

    told, asked = parts([])
    assert (told, asked["turned_along"]) == ([[1, 2, 3, 4, 5]], [])
    told, asked = parts([9])
    assert told == [[1, 2, 3, 4, 5], [9]]
    assert asked.last("_inner_parts", 2).tolist() == some(8).tolist()
    # plain pieces of within go with it
    assert parts([9], inner=[border])[0] == [[1, 2, 3, 4, 5], [6, 7, 8, 9]]
    # what turns with a part is the part's
    assert parts([9], turned=[], inner=[border])[0] == [[1, 2, 3, 4, 5], [6, 7, 8]]


def parted(patch, **answers):
    """Part a panel of a field of 20, and of 10 and 2 faces; return parts and stages."""
    field, side = Part(some(20), PLANE), Part(some(10, 21), STRIP)
    parts, plain = answers.pop("parts", [field, side]), answers.pop("plain", [])
    frame = np.zeros(4, bool)
    usual = {
        "part_faces": ([some(20), some(10, 21), some(2, 31)], some(32) <= 20, frame),
        "find_symmetry": replace(PLANE, reason="together"),
        "of_figures": same(2),
        "turned_roughly": lambda a, f, found: replace(found, residual=0.5),
        "with_doubt_of_few": same(3),
        "stand_alone": False,
        "is_one": False,
        "with_inlays": "inlays",
        "_parts_of_groups": lambda *told: (parts, list(plain), frame),
        "without_specks": [],
        "released": same(2),
        "claimed": lambda a, m, parts, plain: (parts, plain),
        "joined_rows": same(2),
        "joined": same(1),
        "parted_strangers": lambda a, m, parts, frame: (parts, frame),
        "merge_rosettes": same(2),
        "turned_along": same(3),
        "grounds_of_wheels": same(3),
        "_doubt_parts": None,
        "turning_together": None,
        "repeats_finer": False,
        "_parting_tells_more": True,
        "with_doubt_of_regions": same(3),
        "rows_beside": [],
        "amid_doubt": [],
        "in_order": same(1),
    }
    asked = given(patch, find, **usual | answers)
    return find._inner_parts(flat([1.0] * 32), None, some(32)), asked


def test_a_drawing_without_parts_has_one_group(monkeypatch) -> None:
    one = ([some(32)], np.zeros(32, bool), np.zeros(4, bool))
    (told,), asked = parted(monkeypatch, part_faces=one)
    assert told.faces.tolist() == some(32).tolist()
    assert (told.symmetry.reason, told.symmetry.residual) == ("together", 0.5)
    assert asked["stand_alone"] == []
    (told,), _ = parted(monkeypatch, part_faces=one, find_symmetry=NOTHING)
    assert told.symmetry.certain
    small = ([some(11)], np.zeros(11, bool), np.zeros(4, bool))
    given(monkeypatch, find, part_faces=small)
    (told,) = find._inner_parts(flat([1.0] * 11), None, some(11))
    assert not told.symmetry.certain


def test_one_group_of_all_may_tell_as_much_as_parts(monkeypatch) -> None:
    many = replace(PLANE, repeats_seen=12.0, reason="together")
    few = replace(PLANE, repeats_seen=11.9, reason="together")
    holds = {"is_one": True}
    for answers, told in (
        # what holds all of it and returns often is asked no more
        (holds | {"find_symmetry": many}, "inlays"),
        (holds | {"find_symmetry": few}, "inlays"),
        (holds | {"find_symmetry": few, "repeats_finer": True}, "parts"),
        (
            holds
            | {
                "find_symmetry": few,
                "repeats_finer": True,
                "_parting_tells_more": False,
            },
            "inlays",
        ),
        # what does not hold it all, only where parts tell no more
        ({}, "parts"),
        ({"_parting_tells_more": False}, "parts"),
        ({"_parting_tells_more": False, "turning_together": FIVE}, "one"),
        ({"turning_together": FIVE}, "parts"),
        ({"stand_alone": True, "_parting_tells_more": False}, "parts"),
    ):
        found, asked = parted(monkeypatch, **answers)
        if told == "inlays":
            assert found == "inlays"
        else:
            assert len(found) == (1 if told == "one" else 2)
        early = answers.get("find_symmetry") is many
        assert (asked["released"] == []) is early
        for facts in asked.names("_parting_tells_more"):
            assert facts == ({"least": 1} if "is_one" in answers else {})
    (one,), _ = parted(monkeypatch, _parting_tells_more=False, turning_together=FIVE)
    assert (one.symmetry.group.short, one.symmetry.residual) == ("C5", 0.5)
    # where no lattice explains a part, what was found of all is weighed
    none = ([some(20), some(12, 21)], np.zeros(32, bool), np.zeros(4, bool))
    (one,), asked = parted(monkeypatch, part_faces=none, _parting_tells_more=False)
    assert one.symmetry.reason == "together"
    assert asked.names("find_symmetry") == [{"repeats_alone": False}]
    assert asked["turning_together"] == []
    _, asked = parted(monkeypatch)
    assert asked.names("find_symmetry") == [{"repeats_alone": True}]
    assert len(asked["turning_together"]) == 1


def test_stages_of_parting_follow_each_other(monkeypatch) -> None:
    told, asked = parted(monkeypatch, plain=[some(2, 31)])
    assert [len(p.faces) for p in told] == [20, 10, 2]
    assert told[2].symmetry.reason == PLAIN
    assert len(asked["merge_rosettes"]) == 2
    assert len(asked["claimed"]) == 1
    told, _ = parted(monkeypatch, without_specks=[some(2, 31)])
    assert [len(p.faces) for p in told] == [20, 10, 2]
    # claims are asked for again as long as there are fewer parts
    left = iter([2, 1, 1, 1])
    extra = [Part(some(20), PLANE), Part(some(5, 21), FIVE), Part(some(5, 26), STRIP)]

    def claimed(arrangement, measures, parts, plain):
        return parts[: next(left)], plain

    told, asked = parted(monkeypatch, parts=extra, claimed=claimed)
    assert (len(told), len(asked["claimed"])) == (1, 3)
    for stage, said in (
        ("rows_beside", "rows like it lie beside it"),
        ("amid_doubt", "all that lies about it is in doubt"),
    ):
        told, _ = parted(monkeypatch, **{stage: lambda a, parts, *rest: parts[1:]})
        assert [p.symmetry.certain for p in told] == [True, False]
        assert told[1].symmetry.reason.startswith(said)
    # lines of frames that were found on the way part what comes after
    lines = np.arange(4) == 2
    answers = {
        "_parts_of_groups": lambda *asked: ([Part(some(20), PLANE)], [], lines),
        "part_faces": ([some(20), some(12, 21)], some(32) > 0, np.arange(4) == 0),
    }
    _, asked = parted(monkeypatch, **answers)
    assert asked.last("parted_strangers", 3).tolist() == [True, False, True, False]


def grouped(patch, groups, *, area=None, known=None, **answers):
    """Return the parts that groups make, what is plain, and what was asked."""
    drawing = flat([10.0] * 99 if area is None else area)
    drawing.edge_count = 4
    usual = {
        "copied_symmetry": None,
        "own_symmetry": PLANE,
        "_too_large": lambda a, group, found: np.zeros(len(group), bool),
        "_apart": lambda a, group: [group],
        "_sides": [],
        "between": np.arange(4) == 1,
        "_in_pieces": ([], None),
        "bands_of": ([], np.arange(4) == 2),
        "ends_of": ([], np.arange(4) == 3),
    }
    asked = given(patch, find, **usual | answers)
    faces = np.arange(1, len(drawing.area), dtype=np.int32)
    parts, plain, frame = find._parts_of_groups(
        drawing, None, faces, groups, {} if known is None else known
    )
    told = [(p.faces.tolist()[:: max(1, len(p.faces) - 1)], p) for p in parts]
    return told, [p.tolist() for p in plain], np.flatnonzero(frame).tolist(), asked


def test_a_group_of_few_or_next_to_nothing_is_plain(monkeypatch) -> None:
    told, plain, _, _ = grouped(monkeypatch, [some(3), some(2, 10)])
    assert ([t for t, _ in told], plain) == ([[1, 3]], [[10, 11]])
    # a tenth of a usual face: of all three together
    for small, count in ((0.34, 1), (0.32, 0)):
        told, *_ = grouped(monkeypatch, [some(3)], area=[small] * 3 + [10.0] * 9)
        assert len(told) == count
    # few regions that show nothing are in doubt
    for count, sure in ((11, False), (12, True)):
        told, *_ = grouped(monkeypatch, [some(count)], own_symmetry=NOTHING)
        assert told[0][1].symmetry.certain is sure


def test_copies_and_what_is_known_are_not_looked_at_again(monkeypatch) -> None:
    told, _, _, asked = grouped(monkeypatch, [some(9)], copied_symmetry=FIVE)
    assert (told[0][1].symmetry, told[0][1].copy) == (FIVE, True)
    assert asked["own_symmetry"] == asked["bands_of"] == []
    told, _, _, asked = grouped(monkeypatch, [some(9), some(9, 20)], known={1: STRIP})
    assert [(p.symmetry, p.copy) for _, p in told] == [(PLANE, False), (STRIP, False)]
    assert len(asked["own_symmetry"]) == 1


def test_what_is_too_large_for_a_repeat_is_taken_out(monkeypatch) -> None:
    def large(arrangement, group, found):
        return np.isin(group, [5])

    told, plain, _, _ = grouped(
        monkeypatch,
        [some(9)],
        _too_large=large,
        _apart=lambda a, group: [group[:4], group[4:]],
    )
    assert [t for t, _ in told] == [[1, 4], [6, 9]]
    assert plain == [[5]]


@pytest.mark.parametrize(
    ("found", "count", "asked_for", "rows"),
    [
        (unsure(PLANE), 12, True, False),
        (unsure(PLANE), 11, False, False),
        (PLANE, 12, False, False),
        (FIVE, 12, True, True),
        (unsure(FIVE), 12, True, False),
        (FIVE, 11, False, True),
        (NOTHING, 12, False, False),
    ],
)
def test_borders_in_one_piece_are_parted_into_sides(
    monkeypatch, found, count, asked_for, rows
) -> None:
    sides = [(some(4), STRIP), (some(count - 4, 5), FIVE)]
    told, _, frame, asked = grouped(
        monkeypatch,
        [some(count)],
        own_symmetry=found,
        _sides=lambda a, m, group, rows: sides if len(group) == count else [],
    )
    assert asked.names("_sides")[:1] == ([{"rows": rows}] if asked_for else [])
    if asked_for:
        assert [t for t, _ in told] == [[1, 4], [5, count]]
        assert [p.symmetry for _, p in told] == [STRIP, FIVE]
        assert frame == [1]
        assert len(asked["own_symmetry"]) == 1
    else:
        assert len(told) == 1
        assert frame == []


def test_pieces_and_bands_are_parts_of_their_own(monkeypatch) -> None:
    def pieces(arrangement, measures, group, found):
        return ([some(5), some(4, 6)], STRIP) if len(group) == 9 else ([], None)

    told, _, frame, asked = grouped(monkeypatch, [some(9)], _in_pieces=pieces)
    # the first is known
    assert [p.symmetry for _, p in told] == [STRIP, PLANE]
    assert (frame, len(asked["own_symmetry"])) == ([], 2)

    def unknown(*asked):
        return pieces(*asked)[0], None

    told, *_ = grouped(monkeypatch, [some(9)], _in_pieces=unknown)
    assert [p.symmetry for _, p in told] == [PLANE, PLANE]
    # bands, or else ends, of what is no plane pattern and no copy
    bands = lambda a, m, group, found: (  # noqa: E731
        ([(some(5), FIVE), (some(4, 6), STRIP)] if len(group) == 9 else []),
        np.arange(4) == 2,
    )
    for stage, line in (("bands_of", 2), ("ends_of", 2)):
        answers = {"own_symmetry": STRIP, stage: bands}
        told, _, frame, _ = grouped(monkeypatch, [some(9)], **answers)
        assert [p.symmetry for _, p in told] == [FIVE, STRIP]
        assert frame == [line]
        told, _, frame, _ = grouped(monkeypatch, [some(9)], **{stage: bands})
        assert (len(told), frame) == (1, [])
        answers["copied_symmetry"] = STRIP
        told, _, frame, _ = grouped(monkeypatch, [some(9)], **answers)
        assert (len(told), frame) == (1, [])


def test_parts_that_stand_alone_or_are_torn_are_doubted(monkeypatch) -> None:
    def doubted(found, torn=True, middle=True, alone=None):
        parts = [Part(some(9), found), Part(some(3, 20), NOTHING)]
        asked = given(
            monkeypatch,
            find,
            with_doubt_alone=lambda a, m, one, parts: (
                one.symmetry if alone is None else alone
            ),
            is_torn=lambda a, m, faces, *rest, **facts: torn and len(faces) == 9,
            has_middle=middle,
        )
        plain = [some(2, 30)]
        find._doubt_parts(flat([1.0] * 40), None, parts, plain, np.zeros(4, bool))
        return parts[0].symmetry, asked

    seldom = symmetry("rosette", "C2")
    for found, alone in (
        (PLANE, False),
        (STRIP, True),
        (NOTHING, True),
        (seldom, True),
        (symmetry("rosette", "D12"), False),
    ):
        told, asked = doubted(found)
        assert told.reason.startswith("no frame parts it from what lies beside it")
        assert not told.certain
        assert asked.names("is_torn")[0] == {"alone": alone}
        # of what is beside it, with what is plain
        others = asked["is_torn"][0][0][3]
        assert [o.tolist() for o in others] == [[20, 21, 22], [30, 31]]
        assert doubted(found, torn=False)[0] is found
    assert find.PIECE_TURNS < 24
    few = find.PIECE_TURNS
    for count, alone in ((few, True), (few + 1, False)):
        own = replace(FIVE, operations=FIVE.operations[:1] * count)
        assert doubted(own)[1].names("is_torn")[0] == {"alone": alone}
    told, asked = doubted(unsure(PLANE))
    assert told.reason == "few"
    hollow = unsure(TWO, find.HOLLOW)
    told, _ = doubted(hollow)
    assert (told.certain, told.reason) == (True, "")
    assert doubted(hollow, middle=False)[0] is hollow
    assert doubted(PLANE, alone=hollow)[0].certain


def test_parts_tell_more_by_the_kinds_that_they_save(monkeypatch) -> None:
    parts = [Part(some(9), PLANE), Part(some(3, 20), STRIP), Part(some(3, 30), STRIP)]
    parts[2].copy = True

    def told(whole, first, *, outdone=False, left=False, least=find.ACCOUNTED):
        given(
            monkeypatch,
            find,
            count_kinds=lambda a, m, faces, found: {9: first, 3: 2}.get(
                len(faces), whole
            ),
            outdone=outdone,
            leaves_out=left,
        )
        return find._parting_tells_more(
            None, None, some(99), FIVE, parts, [some(2, 40), some(1, 50)], least=least
        )

    # those of a copy are counted once, and plain ones each: 5 more than the first
    assert told(40, 25, least=1)
    assert not told(40, 26, least=1)
    most = find.ACCOUNTED
    assert told(most + 10, 5)
    assert not told(most + 9, 5)
    assert told(10, 5, outdone=True)
    assert told(10, 5, left=True)
    assert told(10, 4, least=1) is False
    assert told(12, 4, least=3)
    assert not told(12, 4, least=4)


def sided(patch, pieces, sides=4, *, rows=False, found=None, nearly=1.0, **answers):
    """Return the sides of a border: faces of each, and what is found of them."""
    found = {} if found is None else found

    def own(arrangement, measures, faces):
        return found.get((int(faces[0]), len(faces)), STRIP)

    usual = {
        "ring_pieces": (pieces, sides),
        "goes_round": True,
        "nearly_alike": lambda m, faces: faces[: round(nearly * len(faces))],
        "own_symmetry": own,
        "side_halves": lambda m, faces: (faces[:6], faces[6:-6], faces[-6:]),
    }
    asked = given(patch, find, **usual | answers)
    told = find._sides(None, None, some(99), rows=rows)
    return [(f.tolist()[:: max(1, len(f) - 1)], s) for f, s in told], asked


def test_sides_of_a_border_must_be_rows_where_all_of_it_turns(monkeypatch) -> None:
    pieces = [some(12, 20 * k + 1) for k in range(4)]
    for rows, nearly, count in (
        (True, 0.67, 4),  # eight of ten: two are cut by mitres
        (True, 0.58, 0),
        (False, 0.0, 4),
    ):
        told, _ = sided(monkeypatch, pieces, rows=rows, nearly=nearly)
        assert len(told) == count
    assert sided(monkeypatch, [], 0)[0] == []
    # one that is none is enough
    own = {"nearly_alike": lambda m, faces: faces[: 12 if faces[0] > 1 else 7]}
    assert sided(monkeypatch, pieces, rows=True, **own)[0] == []
    # corners need be no rows
    corners = [some(1, 90 + k) for k in range(4)]
    told, _ = sided(monkeypatch, [*pieces, *corners], rows=True, nearly=0.67)
    assert [f for f, _ in told[4:]] == [[90], [91], [92], [93]]


def test_a_strip_that_points_along_may_be_turned_in_the_middle_of_a_side(monkeypatch):
    pieces = [some(13, 20 * k + 1) for k in range(4)] + [some(2, 90)]
    told, asked = sided(monkeypatch, pieces)
    assert [f for f, _ in told] == [[1, 13], [21, 33], [41, 53], [61, 73], [90, 91]]
    # two faces show nothing of their own
    assert told[4][1].group.family == "none"
    assert len(asked["own_symmetry"]) == 4
    halved = {(1, 13): PLANE}
    told, _ = sided(monkeypatch, pieces, found=halved)
    assert [f for f, _ in told[:4]] == [[1, 6], [8, 13], [7], [21, 33]]
    for other in (PLANE, unsure(STRIP), FIVE):
        for half in ((1, 6), (8, 6)):
            assert sided(monkeypatch, pieces, found=halved | {half: other})[0] == []
    # of fewer than twelve faces it is not asked, of twelve none lies in the middle
    for count, told_ in ((11, 0), (12, 2)):
        short = [some(count), *pieces[1:4]]
        found = {(1, count): PLANE}
        told, _ = sided(monkeypatch, short, found=found)
        assert len(told) == (told_ and 3 + told_)


def test_what_turns_beyond_a_group_is_asked_in_order(monkeypatch) -> None:
    isometries = [
        beyond._Isometry(False, 1j, np.array([float(k), 0])) for k in range(99)
    ]

    def told(found=PLANE, known=(), rails=(0.0, 0.0), fit=True, lines=True, share=0.7):
        tried = []

        class Zone:
            def __init__(self, *asked):
                self.marks = SimpleNamespace(xy=np.array([[0.0, 0], [10, 10]]))
                self.usual = 10.0
                self.lines = SimpleNamespace(fall_on_lines=lambda one: lines)

            def fit(self, isometry):
                tried.append(int(isometry.shift[0]))
                return isometry, True if fit else None

            def share_carried(self, fitted, hit):
                return share

            def kind_of(self, fitted):
                return "a turn"

        asked = given(
            monkeypatch,
            beyond,
            _Zone=Zone,
            athwart=np.array(rails),
            _tried=lambda a, zone: iter(isometries),
            _is_known=lambda q, one, probes, near: int(one.shift[0]) in known,
        )
        return beyond.share_beyond(None, None, None, found), tried, asked

    assert told()[:2] == ((0.7, "a turn"), [0])
    assert told(known=(0, 1))[1] == [2]
    # near to a known one: twice as far before it is fitted
    near = [k[0][3] for k in told()[2]["_is_known"]]
    assert near == pytest.approx([6.0, 3.0])
    for less in ({"fit": False}, {"lines": False}, {"share": 0.0}):
        found, tried, _ = told(**less)
        assert found == (0.0, "")
        assert tried == list(range(60))
    # what leaves a strip is not tried: the middle of 5, 5 is turned to -5 + k, 5
    _, tried, _ = told(rails=(0.1, 0.0), fit=False)
    most = beyond.BESIDE * 10
    assert tried == [k for k in range(99) if abs(-10 + k) <= most]
    # about the centre of a rosette its outline has been asked
    x, y = FIVE.centre
    # a quarter turn about the centre: x + y, y - x
    wide = replace(FIVE, centre=(5.0, 0.0))
    # (5, 0) is turned to (k, 5): 5 mm aside at least
    assert told(wide)[1] == [0]
    near_ = replace(FIVE, centre=(2.0, -2.0))
    # (2, -2) is turned to (2 + k, 2): four aside
    assert told(near_)[1] == [0]
    at = replace(FIVE, centre=(1.0, -1.0))
    # (1, -1) is turned to (1 + k, 1): within 3 mm up to 2
    assert told(at)[1] == [0, 1, 2, 3]
    assert told(replace(at, lattice=PLANE.lattice))[1] == [0]
    assert told(replace(at, centre=None))[1] == [0]
    assert (x, y) == (20, -30)


def test_groups_fall_into_what_hangs_together_largest_first(monkeypatch) -> None:
    drawing = mesh(40, [*chain(*range(1, 12)), *chain(*range(20, 33)), (34, 35)])
    group = np.array([*range(1, 12), *range(20, 33)], np.int32)
    asked = given(monkeypatch, find, own_symmetry=FIVE)
    pieces, largest = find._in_pieces(drawing, None, group, unsure(PLANE))
    assert [len(p) for p in pieces] == [13, 11]
    assert largest is FIVE
    assert asked.last("own_symmetry", 2).tolist() == list(range(20, 33))
    # what is sure of both must return less often than the largest alone
    often = replace(PLANE, repeats_seen=13.0)
    for repeats, parts in ((24 / find.FINER - 0.1, 2), (24 / find.FINER + 0.1, 0)):
        given(monkeypatch, find, own_symmetry=often)
        both = replace(PLANE, repeats_seen=repeats)
        assert len(find._in_pieces(drawing, None, group, both)[0]) == parts
    assert len(find._in_pieces(drawing, None, group, FIVE)[0]) == 2
    given(monkeypatch, find, own_symmetry=FIVE)
    assert find._in_pieces(drawing, None, group, FIVE) == ([], None)
    given(monkeypatch, find, own_symmetry=unsure(PLANE))
    assert find._in_pieces(drawing, None, group, unsure(PLANE)) == ([], None)
