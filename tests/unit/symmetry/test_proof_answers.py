"""What a part is said to have, of what its lines and regions answer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.errors import SymmetryError
from fillwork.symmetry.model import Candidate
from fillwork.symmetry.zones import proof
from tests.unit.symmetry.answers import flat, given, some
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_zone_parts import NOTHING

FIVE = symmetry("rosette", "C5")
TWO = symmetry("rosette", "D2")  # four operations
STRIP = symmetry("frieze", "p2", repeats_seen=9.0)
PLANE = symmetry("plane", "p2", repeats_seen=9.0)
ON_LINES = {"loose_lines": False}

NONE_SUCH = SymmetryError("none such")


def unsure(found, reason="few"):
    return replace(found, certain=False, reason=reason)


def shares(*told):
    """Return rows of a hundred faces, of which each operation carries a share."""
    return np.arange(100) < 100 * np.array(told)[:, None]


# what own_symmetry asks beside the lines, where none of it says anything
SILENT = {
    "cells_of": some(0),
    "_along": None,
    "turned_in_ground": None,
    "closed_by_regions": lambda a, m, f, found: found,
    "_turning_alone": None,
    "with_doubt_about": lambda a, m, f, found: replace(found, reason="turned"),
    "_held_by_shifts": lambda a, m, f, found, strip: replace(
        found, reason=f"held {strip}"
    ),
    "_filled": 1.0,
}


@pytest.mark.parametrize(
    ("long", "found", "told"),
    [
        (False, PLANE, "held False"),
        (True, PLANE, "held True"),
        (True, STRIP, "held True"),
        (False, FIVE, "turned"),
        (False, TWO, "turned"),
        (True, FIVE, "turned"),
        (False, NOTHING, ""),
        (False, unsure(FIVE), "few"),
        (False, unsure(PLANE), "few"),
        (True, unsure(STRIP), "few"),
        (False, unsure(NOTHING), "few"),
    ],
)
def test_what_lines_show_is_held_against_regions(monkeypatch, long, found, told):
    asked = given(monkeypatch, proof, is_long=long, find_symmetry=found, **SILENT)
    own = proof.own_symmetry(flat([10.0] * 20), None, some(20))
    assert (own.group, own.certain, own.reason) == (found.group, found.certain, told)
    assert asked.names("find_symmetry") == [ON_LINES | {"strip": long}]
    # a frieze of a strip may be closed by regions
    assert bool(asked["closed_by_regions"]) is (long and found.group == STRIP.group)
    # only what is not sure of many turns is asked for its cells
    assert bool(asked["cells_of"]) is (not long and found is not FIVE)


def test_few_turns_are_asked_for_what_turns_in_a_ground(monkeypatch) -> None:
    for found, more in ((TWO, True), (NOTHING, True), (FIVE, False), (PLANE, False)):
        asked = given(
            monkeypatch,
            proof,
            is_long=False,
            find_symmetry=found,
            **SILENT | {"turned_in_ground": STRIP},
        )
        told = proof.own_symmetry(flat([10.0] * 20), None, some(20))
        assert (told is STRIP) is more
        assert bool(asked["turned_in_ground"]) is more


@pytest.mark.parametrize(
    ("cells", "ground", "inner", "filled", "taken"),
    [
        (9, 11.1, PLANE, 0.5, True),
        (8, 11.1, PLANE, 0.5, False),  # more than 0.4 of twenty
        (9, 11.0, PLANE, 0.5, False),  # larger than 1.1 times the largest cell
        (9, 11.1, unsure(PLANE), 0.5, False),
        (9, 11.1, STRIP, 0.5, False),
        (9, 11.1, PLANE, 0.49, False),
    ],
)
def test_cells_tell_where_their_ground_hides_them(
    monkeypatch, cells, ground, inner, filled, taken
) -> None:
    faces = some(20)

    def find(arrangement, asked, **facts):
        return NOTHING if len(asked) == 20 else inner

    asked = given(
        monkeypatch,
        proof,
        is_long=False,
        find_symmetry=find,
        **SILENT | {"cells_of": some(cells), "_filled": filled},
    )
    drawing = flat([10.0] * 18 + [9.0, ground])
    told = proof.own_symmetry(drawing, None, faces)
    assert (told is inner) is taken
    if len(asked["find_symmetry"]) > 1:
        assert asked.last("find_symmetry", 1).tolist() == some(19).tolist()
        assert asked.names("find_symmetry")[-1] == ON_LINES
    # nor is it asked of a strip, or where many turns are sure
    for long, found in ((True, NOTHING), (False, FIVE)):
        given(
            monkeypatch,
            proof,
            is_long=long,
            find_symmetry=lambda a, f, found=found, **facts: (
                found if len(f) == 20 else PLANE
            ),
            **SILENT | {"cells_of": some(cells)},
        )
        assert proof.own_symmetry(drawing, None, faces).group == found.group


def test_bars_across_a_strip_slide_along_themselves(monkeypatch) -> None:
    def own(repeats, bars):
        asked = given(
            monkeypatch,
            proof,
            is_long=True,
            find_symmetry=lambda a, f, sliding=False, **facts: (
                bars if sliding else replace(PLANE, repeats_seen=repeats)
            ),
            **SILENT,
        )
        told = proof.own_symmetry(flat([10.0] * 20), None, some(20))
        return told, asked.names("find_symmetry")[1:]

    # more repeats than there are regions
    told, asked = own(20.0, STRIP)
    assert (told.group, asked) == (PLANE.group, [])
    told, asked = own(20.5, STRIP)
    assert (told.group, told.reason) == (STRIP.group, "held True")
    assert asked == [ON_LINES | {"strip": True, "sliding": True}]
    told, _ = own(20.5, FIVE)
    assert (told.group, told.certain) == (PLANE.group, False)
    assert told.reason == "its lines slide along themselves, and hide how it repeats"


def test_a_strip_may_repeat_but_for_its_ends(monkeypatch) -> None:
    # what a strip's lines do not say, and what they are not sure of
    for long, found, asked_for in (
        (True, FIVE, True),
        (True, NOTHING, True),
        (True, unsure(PLANE), True),
        (True, STRIP, False),
        (False, NOTHING, False),
        (False, unsure(PLANE), False),
    ):
        given(
            monkeypatch,
            proof,
            is_long=long,
            find_symmetry=found,
            **SILENT | {"_along": STRIP},
        )
        told = proof.own_symmetry(flat([10.0] * 20), None, some(20))
        assert (told is STRIP) is asked_for
    star = unsure(PLANE)
    for along, told in ((None, FIVE), (STRIP, STRIP)):
        given(
            monkeypatch,
            proof,
            is_long=True,
            find_symmetry=star,
            **SILENT | {"_along": along, "_turning_alone": FIVE},
        )
        assert proof.own_symmetry(flat([10.0] * 20), None, some(20)) is told


LINE = replace(STRIP, residual=0.1)
HELD = {
    "slivers": lambda a, m, f: np.isin(f, [3]),
    "share_carried": 0.5,
    "_filled": 0.5,
    "_turning_as_well": None,
    "kept_by_regions": lambda a, m, f, found: replace(found, reason="kept"),
    "_with_doubt_across": lambda a, f, found: replace(found, reason="across"),
    "_along": None,
    "find_symmetry": NOTHING,
    "_turning_alone": None,
}


@pytest.mark.parametrize(
    ("found", "strip", "answers", "told"),
    [
        (PLANE, False, {}, "kept"),
        (PLANE, False, {"_filled": 0.49}, proof.EMPTY),
        (PLANE, True, {"_filled": 0.49}, proof.EMPTY),
        (LINE, True, {"_filled": 0.49}, "kept"),
        (LINE, False, {"_filled": 0.49}, proof.EMPTY),
        (LINE, False, {}, "across"),
        (
            LINE,
            True,
            {"share_carried": 0.49},
            "its shifts carry 49 % of the regions onto like ones",
        ),
        (
            PLANE,
            False,
            {"share_carried": 0.21},
            "its shifts carry 21 % of the regions onto like ones",
        ),
    ],
)
def test_shifts_must_carry_half_of_the_regions(
    monkeypatch, found, strip, answers, told
):
    asked = given(monkeypatch, proof, **HELD | answers)
    faces = some(8)
    own = proof._held_by_shifts(flat([10.0] * 8), None, faces, found, strip=strip)
    assert (own.group, own.reason) == (found.group, told)
    assert own.certain is (told in ("kept", "across"))
    # slivers have no say
    assert asked.last("share_carried", 2).tolist() == [1, 2, 4, 5, 6, 7, 8]
    assert asked.last("share_carried", 3) is found.lattice.basis
    assert asked.last("share_carried", 4) == found.residual


def test_turns_may_say_as_much_as_few_cells(monkeypatch) -> None:
    def own(found, strip=False, **answers):
        asked = given(monkeypatch, proof, **HELD | answers)
        told = proof._held_by_shifts(
            flat([10.0] * 8), None, some(8), found, strip=strip
        )
        return told, asked

    few = replace(PLANE, repeats_seen=5.9)
    assert own(few, _turning_as_well=FIVE)[0] is FIVE
    enough = replace(PLANE, repeats_seen=6.0)
    assert own(enough, _turning_as_well=FIVE)[0].reason == "kept"
    short = replace(LINE, repeats_seen=5.9)
    assert own(short, True, _turning_as_well=FIVE)[0].reason == "kept"
    # where shifts carry less: a strip's own repeat, turns first, turns alone
    little = {"share_carried": 0.4}
    every = little | {
        "_along": STRIP,
        "find_symmetry": FIVE,
        "_turning_alone": TWO,
    }
    assert own(PLANE, True, **every)[0] is STRIP
    assert own(PLANE, False, **every)[0] is FIVE
    told, asked = own(LINE, True, **every)
    assert told is FIVE
    assert asked["_along"] == []
    assert asked.names("find_symmetry") == [ON_LINES | {"turns_first": True}]
    assert own(PLANE, True, **every | {"_along": None})[0] is FIVE
    assert own(PLANE, **little, _turning_alone=TWO, find_symmetry=STRIP)[0] is TWO


def test_a_stated_group_may_be_that_of_figures(monkeypatch) -> None:
    # the ground is half of the area, or a little less
    for ground, held in ((30.0, True), (29.0, False)):
        drawing = flat([10.0, ground, 10.0, 10.0])

        def find(arrangement, faces, **facts):
            if 2 in faces:
                raise NONE_SUCH
            return FIVE

        asked = given(monkeypatch, proof, find_symmetry=find)
        if held:
            told = proof.held_or_of_figures(drawing, some(4), "rosette:C5")
            assert told is FIVE
            assert asked.last("find_symmetry", 1).tolist() == [1, 3, 4]
            assert asked.names("find_symmetry") == [
                {"stated": "rosette:C5"},
                {"stated": "rosette:C5"} | ON_LINES,
            ]
        else:
            with pytest.raises(SymmetryError):
                proof.held_or_of_figures(drawing, some(4), "rosette:C5")
            assert len(asked["find_symmetry"]) == 1


FIGURES = replace(STRIP, repeats_seen=2.5)
DOUBTED = unsure(replace(PLANE, repeats_seen=2.5), "inner")


@pytest.mark.parametrize(
    ("found", "inner", "taken"),
    [
        (NOTHING, FIGURES, True),
        (NOTHING, replace(FIGURES, repeats_seen=2.4), False),
        (NOTHING, FIVE, False),
        (TWO, FIGURES, True),
        (FIVE, FIGURES, False),
        (unsure(FIVE), FIGURES, True),
        (STRIP, FIGURES, False),
        (unsure(STRIP), FIGURES, True),
        (unsure(NOTHING), unsure(FIGURES), True),
        (NOTHING, unsure(FIGURES), False),
        (unsure(STRIP), unsure(FIGURES), False),
        (unsure(PLANE), FIGURES, True),
        (unsure(PLANE), DOUBTED, False),
        (unsure(NOTHING), DOUBTED, True),
        (NOTHING, DOUBTED, False),
    ],
)
def test_figures_show_what_their_ground_hides(monkeypatch, found, inner, taken):
    asked = given(monkeypatch, proof, find_symmetry=inner)
    drawing = flat([10.0, 10.0, 40.0])
    told = proof.of_figures(drawing, some(3), found)
    assert told.group is (inner.group if taken else found.group)
    if not taken:
        assert told is found
    elif inner is DOUBTED:
        assert (told.certain, told.reason) == (False, "few")
    else:
        assert told is inner
    if asked["find_symmetry"]:
        assert asked.last("find_symmetry", 1).tolist() == [1, 2]
        assert asked.names("find_symmetry") == [ON_LINES]
    # without a ground there are no figures
    even = flat([10.0, 10.0, 11.0])
    assert proof.of_figures(even, some(3), found) is found


def test_a_plane_group_of_figures_is_never_sure_without_their_ground(monkeypatch):
    drawing = flat([10.0, 10.0, 40.0])
    sure = replace(PLANE, reason="of its own")
    given(monkeypatch, proof, find_symmetry=sure)
    told = proof.of_figures(drawing, some(3), unsure(NOTHING, ""))
    assert (told.group, told.certain, told.reason) == (
        PLANE.group,
        False,
        "of its own",
    )
    # nor does it outdo a doubt about a frieze
    assert proof.of_figures(drawing, some(3), unsure(STRIP)).group is STRIP.group


@pytest.mark.parametrize(
    ("turned", "kinds", "taken"),
    [
        (FIVE, 2, True),
        (FIVE, 1, True),
        (FIVE, 3, False),
        (unsure(FIVE), 2, False),
        (STRIP, 2, False),
    ],
)
def test_turns_explain_as_much_where_like_regions_are_one_kind(
    monkeypatch, turned, kinds, taken
) -> None:
    asked = given(
        monkeypatch,
        proof,
        find_symmetry=turned,
        class_congruent=(np.array([0, 1, 1, 0]),),
        count_kinds=kinds,
    )
    told = proof._turning_as_well(flat([1.0] * 4), None, some(4))
    assert told is (turned if taken else None)
    assert asked.names("find_symmetry") == [ON_LINES | {"turns_first": True}]


def test_a_strip_repeats_where_its_shifts_carry_nearly_all(monkeypatch) -> None:
    one = replace(STRIP, repeats_seen=2.5, candidates=(Candidate("p2", 1.0, 0.0),))

    def along(ways, *, found=one, hulled=one, carried=0.8, lines=True):
        asked = given(
            monkeypatch,
            proof,
            _asked_along=lambda *told: iter(ways),
            find_symmetry=found,
            gather_evidence=Lines() if lines else None,
            symmetry_of=hulled,
            share_carried=carried,
            kept_by_regions=lambda a, m, f, sure: replace(sure, residual=0.5),
        )
        return proof._along(flat([1.0] * 9), None, some(9)), asked

    class Lines:
        def in_hull(self):
            return "hull"

    plain, hull = (some(8), False), (some(7), True)
    told, asked = along([plain])
    assert (told.group, told.certain, told.residual) == (STRIP.group, True, 0.5)
    assert asked.names("find_symmetry") == [
        ON_LINES | {"strip": True, "repeats_alone": True}
    ]
    assert len(asked.last("share_carried", 2)) == 8
    # the regions of the whole strip say what is kept of it
    assert len(asked.last("kept_by_regions", 2)) == 9
    told, _ = along([plain], found=unsure(one))
    assert (told.certain, told.reason) == (True, "")
    for less in (
        {"carried": 0.79},
        {"found": replace(one, repeats_seen=2.4)},
        {"found": FIVE},
        {"found": NOTHING},
    ):
        assert along([plain], **less)[0] is None
        assert along([plain, hull], **less)[0] is None or "found" in less
    assert along([])[0] is None
    told, asked = along([hull])
    assert told.group is STRIP.group
    assert asked.names("symmetry_of") == [{"strip": True, "repeats_alone": True}]
    assert asked.last("symmetry_of", 0) == "hull"
    assert asked.names("gather_evidence") == [ON_LINES]
    assert along([hull], lines=False)[0] is None
    # the next way is taken where one tells nothing
    assert along([plain, hull], found=NOTHING)[0].group is STRIP.group
    assert along([hull, plain], lines=False)[0].group is STRIP.group
    # of several groups that were weighed the one that is found stands as it is
    weighed = replace(one, candidates=(*one.candidates, Candidate("p1", 0.9, 0.0)))
    assert along([plain], found=weighed)[0] is weighed


@pytest.mark.parametrize(
    ("kinds", "long", "nearly", "told"),
    [
        # kinds of ten regions, how long the like ones are of a hundred millimetres
        ([0] * 10, 100, 0, [(10, False), (10, True)]),
        ([0] * 9 + [1], 60, 0, [(10, False), (9, False), (9, True)]),
        ([0] * 9 + [1], 59, 0, [(10, False)]),
        (
            [0] * 3 + [1, 1] + [2, 2] + [3, 3, 4],
            60,
            0,
            [(10, False), (3, False), (3, True)],
        ),
        ([0, 0, 1, 1, 2, 2, 3, 3, 4, 4], 100, 0, [(10, False)]),
        ([0, 0, 1, 1, 2, 2, 3, 3, 4, 4], 60, 8, [(10, False), (8, True)]),
        ([0, 0, 1, 1, 2, 2, 3, 3, 4, 4], 59, 8, [(10, False)]),
        ([0, 0, 1, 1, 2, 2, 3, 3, 4, 4], 60, 7, [(10, False)]),
    ],
)
def test_like_regions_of_a_strip_are_asked_for_themselves(
    monkeypatch, kinds, long, nearly, told
) -> None:
    kind = np.array(kinds)
    given(
        monkeypatch,
        proof,
        class_congruent=(kind,),
        _span=lambda a, faces: 100.0 if len(faces) == 10 else float(long),
        nearly_alike=some(nearly),
    )
    asked = list(proof._asked_along(flat([1.0] * 10), None, some(10)))
    assert [(len(faces), hull) for faces, hull in asked] == told


@pytest.mark.parametrize(
    ("short", "count", "tried"),
    [
        ("p6m", 40, ["D12", "D6"]),
        ("p6m", 41, []),
        ("p4", 40, ["D8", "D4"]),
        ("p3", 9, ["D6"]),
        ("p2", 9, ["D4"]),
        ("p1", 9, []),
        ("pm", 9, []),
    ],
)
def test_stars_are_tried_where_lines_are_those_of_a_pattern(
    monkeypatch, short, count, tried
) -> None:
    found = symmetry("plane", short)

    def alone(find, carried=(1.0, 0.8)):
        asked = given(
            monkeypatch, proof, find_symmetry=find, turned_faces=shares(*carried)
        )
        told = proof._turning_alone(flat([1.0] * count), None, some(count), found)
        return told, asked

    stated = replace(symmetry("rosette", "D4"), stated=True)
    told, asked = alone(stated)
    assert (told is None) is (not tried)
    if tried:
        assert (told.group.short, told.stated) == ("D4", False)
        assert asked.names("find_symmetry") == [
            {"stated": f"rosette:{tried[0]}"} | ON_LINES
        ]
    # what regions or lines speak against, or lines cannot have, is none
    for find, carried in (
        (replace(stated, reason="few"), (1.0, 1.0)),
        (stated, (1.0, 0.79)),
    ):
        told, asked = alone(find, carried)
        assert told is None
        names = [n["stated"] for n in asked.names("find_symmetry")]
        assert names == [f"rosette:{n}" for n in tried]

    def cannot(arrangement, faces, stated="", **facts):
        if stated == f"rosette:{tried[0]}":
            raise NONE_SUCH
        return symmetry("rosette", "D4")

    told, _ = alone(cannot)
    assert (told is None) is (len(tried) < 2)
