"""In which order lines are asked for repeats and turns, of what each answers."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.errors import SymmetryError
from fillwork.symmetry.groups import parse_group
from fillwork.symmetry.lines import detect
from fillwork.symmetry.lines.lattice_fit import LatticeFit
from fillwork.symmetry.lines.mirrors import RosetteFit
from fillwork.symmetry.model import Candidate, Lattice
from tests.unit.symmetry.answers import given, some
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_exchange_answers import unsure
from tests.unit.symmetry.test_small_panels import SQUARES
from tests.unit.symmetry.test_zone_parts import NOTHING

FIT = LatticeFit(10 * np.eye(2), 1, 0.95, 0.1, 6.0, 99.0, 0.8)
ONE = replace(FIT, basis=FIT.basis[:1])
PLANE = symmetry("plane", "p4", repeats_seen=9.0)
STRIP = symmetry("frieze", "p2", repeats_seen=9.0)
WITHIN = symmetry("plane", "p2", reason="within")
ALONG = symmetry("frieze", "p2mm", reason="along")
SLID = symmetry("frieze", "p1", reason="slid")
LINES = SimpleNamespace(scale=1.0, samples=np.zeros((12, 2)))


def fit(n, reason="", mirror=None):
    return RosetteFit(n, mirror, np.zeros(2), 1, 0.9, 0.1, reason)


def found(patch, *, wanted=None, **answers):
    facts = {
        k: answers.pop(k)
        for k in ("strip", "sliding", "repeats_alone", "turns_first")
        if k in answers
    }
    usual = {
        "Correlator": lambda evidence, most=0: most,
        "hold_stated": "held",
        "are_unlike_stripes": False,
        "find_lattice": None,
        "along_bars": None,
        "along_a_strip": None,
        "group_of_repeats": None,
        "within_the_edge": None,
        "find_rosette": None,
        "stands_free": False,
        "guess_lattice": None,
        "plane_group": None,
    }
    asked = given(patch, detect, **usual | answers)
    return detect.symmetry_of(LINES, wanted, **facts), asked


def named(told):
    return told.group.short, told.certain, told.reason


def test_stated_groups_come_first_and_stripes_show_none(monkeypatch) -> None:
    told, asked = found(monkeypatch, wanted=parse_group("plane:p4"))
    assert (told, asked["find_lattice"]) == ("held", [])
    told, asked = found(monkeypatch, are_unlike_stripes=True)
    assert named(told) == ("none", False, detect.ONE_WAY)
    _, asked = found(monkeypatch, are_unlike_stripes=True, strip=True)
    assert len(asked["find_lattice"]) == 1


def test_strips_of_few_rows_are_asked_along_themselves(monkeypatch) -> None:
    both = {"along_bars": SLID, "along_a_strip": ALONG, "group_of_repeats": PLANE}
    for facts, lattice, told in (
        ({"strip": True}, FIT, ALONG),
        ({"strip": True, "sliding": True}, FIT, SLID),
        ({"strip": True}, ONE, PLANE),
        ({}, FIT, PLANE),
        ({"sliding": True}, FIT, PLANE),
    ):
        assert found(monkeypatch, find_lattice=lattice, **facts, **both)[0] is told
    none = {"along_a_strip": None, "group_of_repeats": PLANE}
    assert found(monkeypatch, find_lattice=FIT, strip=True, **none)[0] is PLANE


@pytest.mark.parametrize(
    ("lattice", "repeating", "within", "told"),
    [
        (FIT, PLANE, None, PLANE),
        (FIT, unsure(PLANE), None, "repeating"),
        # shifts that hold less, or few lines testify to, are asked within the edge
        (FIT, PLANE, WITHIN, PLANE),
        (replace(FIT, share=0.949), PLANE, WITHIN, WITHIN),
        (replace(FIT, weakest=5.9), PLANE, WITHIN, WITHIN),
        (replace(FIT, share=0.949), PLANE, None, PLANE),
        (replace(FIT, share=0.949), unsure(PLANE), None, "rosette"),
        (replace(FIT, share=0.9), PLANE, None, PLANE),
        (replace(FIT, share=0.899), PLANE, None, "rosette"),
        (replace(FIT, share=0.5), PLANE, WITHIN, WITHIN),
        (None, PLANE, WITHIN, "rosette"),
    ],
)
def test_repeats_come_before_turns(monkeypatch, lattice, repeating, within, told):
    got, asked = found(
        monkeypatch,
        find_lattice=lattice,
        group_of_repeats=repeating,
        within_the_edge=within,
        find_rosette=fit(5),
        stands_free=True,
    )
    if told == "rosette":
        assert got.group.short == "C5"
        # with a coarser grid
        assert asked["find_rosette"][-1][0][1] == 200_000
        alone, asked = found(
            monkeypatch,
            find_lattice=lattice,
            group_of_repeats=repeating,
            within_the_edge=within,
            repeats_alone=True,
            find_rosette=fit(5),
        )
        asked_for = lattice is not None and lattice.share >= 0.9
        assert alone is repeating if asked_for else alone.group.family == "none"
        assert asked["find_rosette"] == []
    elif told == "repeating":
        assert got is repeating
    else:
        assert got is told


def test_a_figure_of_few_repeats_may_turn_into_itself(monkeypatch) -> None:
    few = replace(PLANE, repeats_seen=1.9)

    def alone(repeating, rosette=None, *, free=True, **facts):
        rosette = fit(6) if rosette is None else rosette
        got, asked = found(
            monkeypatch,
            find_lattice=FIT,
            group_of_repeats=repeating,
            find_rosette=rosette,
            stands_free=free,
            **facts,
        )
        return got.group.short, asked.names("find_rosette")

    assert alone(few) == ("C6", [{"thorough": False}])
    assert alone(replace(PLANE, repeats_seen=2.0)) == ("p4", [])
    assert alone(PLANE, turns_first=True)[0] == "C6"
    assert alone(replace(STRIP, repeats_seen=1.9)) == ("p2", [])
    assert alone(STRIP, turns_first=True) == ("p2", [])
    assert alone(few, free=False)[0] == "p4"
    assert alone(few, fit(2))[0] == "p4"
    assert alone(few, fit(3))[0] == "C3"


def test_turns_that_a_pattern_has_already_tell_nothing(monkeypatch) -> None:
    loose = replace(FIT, share=0.94)

    def told(repeating, rosette):
        got, _ = found(
            monkeypatch,
            find_lattice=loose,
            group_of_repeats=repeating,
            find_rosette=rosette,
            stands_free=True,
        )
        return got.group.short

    doubted = unsure(PLANE)
    assert told(doubted, fit(4)) == told(doubted, fit(2)) == "p4"
    assert told(doubted, fit(3)) == "C3"
    assert told(doubted, fit(3, "few")) == "p4"
    assert told(doubted, None) == "p4"
    # of six repeats or more, both ways
    assert told(unsure(replace(PLANE, repeats_seen=6.0)), fit(2)) == "p4"
    assert told(unsure(replace(PLANE, repeats_seen=5.9)), fit(2)) == "C2"
    assert told(unsure(STRIP), fit(2)) == "C2"
    assert told(None, fit(3, "few")) == "C3"
    assert told(None, None) == "none"


@pytest.mark.parametrize(
    ("rosette", "lattice", "free", "sure"),
    [
        (fit(5), None, False, True),
        (fit(5), replace(FIT, share=0.59), False, True),
        (fit(5), replace(FIT, share=0.6), False, False),
        (fit(5), replace(ONE, share=0.9), False, True),
        (fit(5), replace(FIT, share=0.6), True, False),
        (fit(5, mirror=0.1), replace(FIT, share=0.6), True, True),
        (fit(5, mirror=0.1), replace(FIT, share=0.6), False, False),
    ],
)
def test_a_rosette_may_be_a_piece_of_what_nearly_repeats(
    monkeypatch, rosette, lattice, free, sure
) -> None:
    given(monkeypatch, detect, stands_free=free)
    told = detect._beside_shifts(LINES, rosette, lattice)
    assert told.certain is sure
    assert told.reason == ("" if sure else "shifts fit 60 % of the lines as well")
    doubted = replace(rosette, reason="few")
    assert detect._beside_shifts(LINES, doubted, lattice).reason == "few"


def test_nothing_is_not_sure_where_shifts_fit_roughly(monkeypatch) -> None:
    none = "no shift, turn or mirror carries the lines onto themselves"

    def told(lattice, guess=None, roughly=None):
        given(monkeypatch, detect, guess_lattice=guess, plane_group=roughly)
        return detect._nothing(LINES, lattice)

    assert named(told(None)) == ("none", True, none)
    assert named(told(replace(FIT, share=0.59))) == ("none", True, none)
    said = f"{none}, but shifts fit 60 %"
    assert named(told(replace(FIT, share=0.6))) == ("none", False, said)
    # of groups that fit as well as the shifts, by 0.03, the largest is named
    guess = ("loose", replace(FIT, share=0.9, rms=0.12))
    some_ = tuple(
        Candidate(g, f, 0.0) for g, f in (("p2", 0.95), ("p4", 0.871), ("p4m", 0.869))
    )
    got = told(None, guess, replace(PLANE, candidates=some_))
    assert named(got)[:2] == ("none", False)
    closely = "p4 fits 87 % of them roughly, off by 12 % of the usual line"
    assert got.reason == f"{none} closely; {closely}"
    (own,) = got.candidates
    assert (own.group, own.fit, own.residual) == ("p4", 0.871, 0.12)
    # the share of the shifts where that is less
    (own,) = told(None, guess, replace(PLANE, candidates=some_[:1])).candidates
    assert own.fit == 0.9
    # where none fits as well the largest of all
    low = tuple(Candidate(g, 0.5, 0.0) for g in ("p2", "p4m", "p4"))
    (own,) = told(None, guess, replace(PLANE, candidates=low)).candidates
    assert own.group == "p4m"
    assert named(told(None, guess, None)) == ("none", True, none)
    assert [detect._order_of(g) for g in ("p1", "pm", "p4", "p6m")] == [1, 2, 4, 12]


def test_a_group_is_held_roughly_where_nearly_all_lines_keep_it(monkeypatch) -> None:
    def told(best, *, family=NOTHING, cannot=False):
        def held(evidence, wanted):
            if cannot:
                raise NONE_SUCH
            assert wanted.short == "p4"
            return replace(PLANE, stated=True)

        given(monkeypatch, detect, symmetry_of=held)
        own = unsure(replace(family, candidates=(Candidate("p4", best, 0.1),)))
        got = detect._held_roughly(LINES, own)
        return got.group.short, got.certain, got.reason, got.stated

    assert told(0.9) == ("p4", False, "few", False)
    assert told(0.89)[0] == "none"
    assert told(0.9, cannot=True)[0] == "none"
    assert told(0.9, family=STRIP)[0] == "p2"
    assert detect._held_roughly(LINES, NOTHING) is NOTHING


NONE_SUCH = SymmetryError("none such")


def test_turns_that_lines_keep_roughly_are_named(monkeypatch) -> None:
    def told(found, *, count=3, fits=(), rough=None, lines=LINES):
        rough = replace(fit(5), rms=0.2) if rough is None else rough
        given(
            monkeypatch,
            detect,
            gather_evidence=lines,
            guess_rosette=rough or None,
        )
        found = replace(found, candidates=tuple(Candidate("x", f, 0) for f in fits))
        got = detect.turned_roughly(SQUARES, some(count), found)
        assert got is found or not got.certain
        return got.group.short, got.reason

    named_ = ("C5", "C5 fits the lines roughly, off by 20 % of the usual line")
    mirror = symmetry("rosette", "D1")
    for found in (NOTHING, mirror, symmetry("rosette", "C2")):
        assert told(found) == named_
    for found in (symmetry("rosette", "C3"), symmetry("rosette", "D2"), PLANE, STRIP):
        assert told(found)[0] == found.group.short
    # what keeps nearly all lines is all there is
    assert told(mirror, fits=(0.979,)) == named_
    assert told(mirror, fits=(0.98,))[0] == "D1"
    assert told(NOTHING, count=2)[0] == "none"
    assert told(NOTHING, count=detect.LARGE)[0] == "C5"
    assert told(NOTHING, count=detect.LARGE + 1)[0] == "none"
    assert told(unsure(NOTHING))[0] == "none"
    assert told(NOTHING, rough=False)[0] == "none"
    assert told(NOTHING, lines=None)[0] == "none"


def test_lines_that_miss_by_much_leave_a_doubt() -> None:
    def told(miss, **facts):
        own = replace(PLANE, candidates=(Candidate("p4", 1.0, miss),), **facts)
        got = detect._with_doubt(own, 10.0)
        assert got.certain or got is not own or not own.certain
        return got.reason

    assert told(0.3) == ""
    said = "the lines miss their images by 0.31 mm, 3 % of the usual line"
    assert told(0.31).startswith(said)
    assert told(0.31, stated=True) == ""
    assert told(0.31, certain=False, reason="few") == "few"
    assert detect._with_doubt(PLANE, 1e-9) is PLANE


def test_the_middle_of_a_large_drawing_shows_a_pattern(monkeypatch) -> None:
    square = replace(PLANE, lattice=Lattice(10 * np.eye(2), "square"))

    def told(found=square, lines=LINES, faces=None):
        asked = given(monkeypatch, detect, gather_evidence=lines, symmetry_of=found)
        got = detect._from_the_middle(SQUARES, faces)
        facts = asked.names("gather_evidence")[0]
        assert facts == {"loose_lines": False, "most_edges": detect.LARGE}
        return got and got.repeats_seen

    # as many repeats as there are squares
    assert told() == pytest.approx(64)
    assert told(faces=some(16)) == pytest.approx(16)
    for found in (unsure(square), STRIP, NOTHING):
        assert told(found) is None
    assert told(lines=None) is None
    few = SimpleNamespace(samples=np.zeros((11, 2)))
    assert told(lines=few) is None


def lined(patch, *, sides=10, of=None, stated=None, faces=None, **answers):
    """Return what is found of a drawing of so many edges, and what was asked."""
    drawing = SQUARES
    usual = {
        "check_kind": None,
        "measure_faces": None,
        "all_strangers": False,
        "_from_the_middle": None,
        "gather_evidence": LINES,
        "symmetry_of": PLANE,
        "_held_roughly": lambda e, found: replace(found, residual=0.5),
        "why_cut_off": "",
        "_with_doubt": lambda found, scale: found,
    }
    asked = given(patch, detect, **usual | answers)
    owner = np.concatenate([np.full(of or 0, 1), np.zeros(2 * sides - (of or 0), int)])
    drawing = SimpleNamespace(
        edge_count=sides, face=owner, face_count=9, area=SQUARES.area
    )
    return detect.find_symmetry(drawing, faces, stated=stated), asked


def test_many_regions_are_asked_for_their_like_first(monkeypatch) -> None:
    several, large = detect.SEVERAL, detect.LARGE
    none = {"all_strangers": True}
    said = "hardly a region has its like"
    assert lined(monkeypatch, sides=several + 1, **none)[0].reason == said
    assert lined(monkeypatch, sides=several, **none)[0].group is PLANE.group
    # of some faces their own sides count
    own = {"faces": np.array([1, 2], np.int32)}
    assert lined(monkeypatch, sides=9999, of=several, **own, **none)[0].reason == ""
    told, asked = lined(monkeypatch, sides=9999, of=several + 1, **own, **none)
    assert told.reason == said
    assert asked.last("all_strangers", 2).tolist() == [1, 2]
    _, asked = lined(monkeypatch, sides=several + 1, **none)
    assert asked.last("all_strangers", 2).tolist() == list(range(1, 9))
    # strictly, but for large drawings, of which the middle is tried
    for sides, strictly in ((large, True), (large + 1, False)):
        _, asked = lined(monkeypatch, sides=sides)
        assert asked.names("all_strangers") == [{"strictly": strictly}]
        assert bool(asked["_from_the_middle"]) is not strictly
    middle = {"_from_the_middle": STRIP}
    assert lined(monkeypatch, sides=large + 1, **middle)[0] is STRIP
    # not of what is stated
    told, asked = lined(
        monkeypatch, sides=large + 1, stated="plane:p4", **none, **middle
    )
    assert told.group is PLANE.group
    assert asked["_from_the_middle"] == []


def test_lines_are_asked_and_what_cuts_them_off(monkeypatch) -> None:
    few = {"gather_evidence": SimpleNamespace(samples=np.zeros((11, 2)))}
    for lines in (few, {"gather_evidence": None}):
        assert lined(monkeypatch, **lines)[0].reason == "there are too few lines"
        with pytest.raises(SymmetryError):
            lined(monkeypatch, stated="plane:p4", **lines)
    told, asked = lined(monkeypatch, stated="none")
    assert (told.group.family, told.stated, told.reason) == ("none", True, "so stated")
    assert asked["gather_evidence"] == []
    told, asked = lined(monkeypatch)
    assert told.residual == 0.5
    told, asked = lined(monkeypatch, stated="plane:p4")
    assert (told.residual, asked["_held_roughly"]) == (0, [])
    cut = {"why_cut_off": "cut off"}
    told, asked = lined(monkeypatch, **cut)
    assert named(told) == ("p4", False, "cut off")
    assert asked.names("why_cut_off") == [{"ends": True}]
    for found in (unsure(PLANE), replace(PLANE, stated=True)):
        assert lined(monkeypatch, symmetry_of=found, **cut)[0].reason == found.reason
