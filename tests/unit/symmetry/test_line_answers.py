"""Which group lines are said to have, of how shifts and operations are told to fit."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.errors import SymmetryError
from fillwork.symmetry.groups import parse_group
from fillwork.symmetry.lines import across, repeating, stated
from fillwork.symmetry.lines.lattice_fit import LatticeFit
from fillwork.symmetry.lines.plane import CosetFit
from fillwork.symmetry.lines.turning import rotation
from fillwork.symmetry.model import Candidate
from tests.unit.symmetry.answers import given
from tests.unit.symmetry.test_elements import symmetry

# two shifts of 10 mm upright and 30 mm level
FIT = LatticeFit(
    np.array([[0.0, 10], [30, 0]]), 1, 0.99, 0.1, 9.0, 99.0, 0.6, (0.5, 0.99, 1.0)
)
ONE = replace(FIT, basis=np.array([[30.0, 0]]))
STRIP = symmetry("frieze", "p2")
FULL = symmetry("frieze", "p2mm")
PLANE = symmetry("plane", "p2")
MIRRORED = symmetry("plane", "pmm")
BESIDE = across.Across(np.array([0.0, 10]), 1, 0.98, 12.0, 0.5, 0.34)


def unsure(found, reason="few"):
    return replace(found, certain=False, reason=reason)


def grouped(patch, lattice, overlaps=(0.5, 0.34), **answers):
    """Return the group of a lattice of which so much is seen along and across."""
    usual = {
        "best_seen": (np.array([30.0, 0]), np.array([0.0, 10]), overlaps),
        "plane_group": PLANE,
        "measure_across": lambda *told: [BESIDE],
        "measure_lattice": ONE,
        "_frieze": STRIP,
        "_runs_off": False,
        "SPREAD": 0.1,
    }
    usual |= answers
    patch.setattr(repeating, "SPREAD", usual.pop("SPREAD"))
    asked = given(patch, repeating, **usual)
    return repeating.group_of_repeats(None, None, lattice), asked


FEW_LINES = "few lines tell that it repeats by 10 mm across"
TOO_LITTLE = "too little is seen to tell whether it repeats by 10 mm across as well"
CUT_OFF = "the page cuts it off on both sides: it may repeat across as well"
ENDS = {"_runs_off": True}


def beside(**facts):
    return {"measure_across": lambda *told: [replace(BESIDE, **facts)]}


@pytest.mark.parametrize(
    ("lattice", "overlaps", "answers", "told"),
    [
        # enough is seen across
        (FIT, (0.5, 0.35), {}, ("p2", True, "")),
        (FIT, (0.1, 0.35), {"plane_group": None}, None),
        # what is seen beside says that it repeats, or does not
        (FIT, (0.5, 0.34), {}, ("p2", True, "")),
        (FIT, (0.5, 0.34), {"plane_group": None}, None),
        (FIT, (0.5, 0.34), beside(lines=11.9) | ENDS, ("p2", False, FEW_LINES)),
        (FIT, (0.5, 0.34), beside(share=0.979) | ENDS, ("p2", False, FEW_LINES)),
        (FIT, (0.5, 0.34), beside(lines=11.9, seen=0.35), ("p2", True, "")),
        (
            FIT,
            (0.5, 0.34),
            beside(lines=11.9) | ENDS | {"plane_group": unsure(PLANE)},
            ("p2", False, "few"),
        ),
        # operations that keep the strip and not the plane say so
        (FIT, (0.5, 0.34), {"_frieze": FULL}, ("p2mm", True, "")),
        (FIT, (0.5, 0.34), {"_frieze": unsure(FULL)}, ("p2", True, "")),
        (
            FIT,
            (0.5, 0.34),
            {"_frieze": FULL, "plane_group": MIRRORED},
            ("pmm", True, ""),
        ),
        (
            FIT,
            (0.5, 0.34),
            beside(seen=0.35) | {"_frieze": FULL, "plane_group": MIRRORED},
            ("pmm", True, ""),
        ),
        (
            FIT,
            (0.5, 0.34),
            {"_frieze": FULL, "measure_lattice": replace(ONE, share=0.949)},
            ("p2", True, ""),
        ),
        (
            FIT,
            (0.5, 0.34),
            {"_frieze": FULL, "measure_lattice": replace(ONE, covered=0.59)},
            ("p2", True, ""),
        ),
        # where few lines tell, the strip ends there, but for one that runs off
        (FIT, (0.5, 0.34), beside(lines=11.9) | {"_frieze": STRIP}, "strip"),
        (
            FIT,
            (0.5, 0.34),
            beside(lines=11.9) | {"_frieze": STRIP, "_runs_off": True},
            ("p2", False, FEW_LINES),
        ),
        # what is beside tells nothing: the strip alone
        (FIT, (0.5, 0.34), beside(share=0.89), "strip"),
        (FIT, (0.5, 0.34), beside(lines=3.9), ("p2", False, TOO_LITTLE)),
        (FIT, (0.5, 0.34), beside(lines=3.9, share=0.949), "strip"),
        (FIT, (0.5, 0.34), beside(spread=0.09), "strip"),
        (FIT, (0.3, 0.34), beside(share=0.89), "strip"),
        (FIT, (0.29, 0.34), beside(share=0.89), None),
        (replace(FIT, covered=0.59), (0.5, 0.9), {}, "strip"),
        # few lines beside it that agree leave a doubt
        (FIT, (0.5, 0.34), beside(lines=3.9, share=0.95), ("p2", False, TOO_LITTLE)),
        (FIT, (0.5, 0.34), beside(lines=3.9, spread=0.09), "strip"),
        (
            FIT,
            (0.5, 0.34),
            beside(share=0.89) | {"_runs_off": True},
            ("p2", False, CUT_OFF),
        ),
        (ONE, (0.3, 0.34), {}, "strip"),
        (ONE, (0.29, 0.34), {}, None),
        (replace(ONE, weakest=6.0), (0.5, 0.5), {}, "strip"),
        (replace(ONE, weakest=5.9), (0.5, 0.5), {}, None),
        (replace(ONE, share=0.9), (0.5, 0.5), {}, "strip"),
        (replace(ONE, share=0.89), (0.5, 0.5), {}, None),
        (replace(ONE, covered=0.6), (0.5, 0.5), {}, "strip"),
        (replace(ONE, covered=0.59), (0.5, 0.5), {}, None),
        (ONE, (0.5, 0.5), {"_runs_off": True}, ("p2", False, CUT_OFF)),
        (ONE, (0.5, 0.5), {"_frieze": unsure(STRIP), "_runs_off": True}, "strip"),
    ],
)
def test_a_lattice_is_that_of_a_plane_or_of_a_strip(
    monkeypatch, lattice, overlaps, answers, told
) -> None:
    found, asked = grouped(monkeypatch, lattice, overlaps, **answers)
    if told is None:
        assert found is None
    elif told == "strip":
        assert found is answers.get("_frieze", STRIP)
    else:
        assert (found.group.short, found.certain, found.reason) == told
    # the shift across is asked for as it is, the one along by itself
    for (_, along, shifts), _ in asked["measure_across"]:
        assert (along.tolist(), shifts.tolist()) == ([30, 0], [[0, 10]])
    for (_, basis, level), _ in asked["measure_lattice"]:
        assert (basis.tolist(), level) == ([[30, 0]], 1)


def test_a_strip_of_few_rows_has_its_own_shift(monkeypatch) -> None:
    def along(high, basis, turn=0.0, found=FULL, **facts):
        spin = rotation(turn)
        corners = np.array([[x, y] for x in (0.0, 100) for y in (0.0, high)])
        evidence = SimpleNamespace(samples=corners @ spin.T)
        single = replace(ONE, **facts)
        asked = given(
            monkeypatch,
            repeating,
            measure_lattice=lambda evidence, basis, level: replace(single, basis=basis),
            _frieze=found,
        )
        lattice = replace(FIT, basis=np.array(basis) @ spin.T)
        told = repeating.along_a_strip(evidence, None, lattice)
        return told, asked, spin

    square = [[10.0, 0], [0, 12]]
    # up to 2.2 of the shift straight across
    for turn in (0.0, 0.7):
        assert along(26.3, square, turn)[0] is FULL
        assert along(26.5, square, turn)[0] is None
    _, asked, spin = along(20, square, 0.7)
    ((_, _, _, vector, within), _) = asked["_frieze"][-1]
    # its own shift, one way or the other, and 0.15 of a row of 12 mm beside its middle
    assert np.abs(vector @ spin) == pytest.approx([10, 0], abs=1e-9)
    assert within == pytest.approx(1.8)
    # where none goes straight across up to 2.6 rows: of 10.9 mm here
    slant = [[10.0, 0], [2.2, 10.9]]
    assert along(28.2, slant)[0] is FULL
    assert along(28.5, slant)[0] is None
    # the shift along it may be twice one that leaps over rows
    rhombic = [[10.0, 6], [10, -6]]
    _, asked, _ = along(20, rhombic)
    ((_, _, _, vector, _), _) = asked["_frieze"][-1]
    assert np.abs(vector) == pytest.approx([20, 0], abs=1e-9)
    # aslant by more than a twentieth no shift runs along
    assert along(20, [[10.0, 0.49], [0, 12]])[0] is FULL
    assert along(20, [[10.0, 0.9], [0.4, 12]])[0] is None
    for less in (
        {"share": 0.949},
        {"covered": 0.59},
        {"weakest": 5.9},
        {"found": unsure(FULL)},
    ):
        assert along(20, square, **less)[0] is None
    assert along(20, square, share=0.95, covered=0.6, weakest=6)[0] is FULL


def test_bars_that_slide_repeat_along_their_rails(monkeypatch) -> None:
    rails = [[0, 0, 100, 0], [100, 10, 0, 10]]

    def along(bars=(), lattice=FIT, rails=rails, found=FULL, **facts):
        lines = np.array([*rails, *bars], float)
        evidence = SimpleNamespace(
            samples=lines.reshape(-1, 2), segments=lines.reshape(-1, 4)
        )
        steps = []

        def measure(evidence, basis, level):
            steps.append(np.round(basis[0], 9).tolist())
            share = 0.95 if np.hypot(*basis[0]) > 10.5 else 0.5
            return replace(ONE, basis=basis, **{"share": share} | facts)

        given(monkeypatch, repeating, measure_lattice=measure, _frieze=found)
        return repeating.along_bars(evidence, None, lattice), steps

    # bars at right angles slide by any length, and stand 15 mm apart
    square = replace(FIT, basis=np.array([[0.0, 2], [15, 0]]))
    told, steps = along(lattice=square)
    assert told is FULL
    assert [abs(x) for x, _ in steps] == pytest.approx([15] * len(steps))
    # aslant: a shift along the bars of 2 mm each way, and 12 mm from bar to bar; of
    # 24 / 4 = 6, 24 / 2 = 12 and 24 / 0 mm the shortest that lines keep
    slant = replace(FIT, basis=np.array([[2.0, 2], [12, 0]]))
    told, steps = along(lattice=slant)
    assert told is FULL
    assert [abs(x) for x, _ in steps] == pytest.approx([12])
    slant = replace(FIT, basis=np.array([[2.0, 2], [10, -2]]))
    told, steps = along(lattice=slant)
    # 24 mm² over 2, 2, 0 and 4 mm
    assert [abs(x) for x, _ in steps] == pytest.approx([6, 12])
    for less in (
        {"covered": 0.59},
        {"weakest": 5.9},
        {"found": unsure(FULL)},
        {"share": 0.949},
    ):
        assert along(lattice=square, **less)[0] is None
    assert along(lattice=square, covered=0.6, weakest=6)[0] is FULL
    # rails are what runs along; of bars alone none does
    assert along(rails=[[0, 0, 10, 40], [90, 0, 100, 40]], lattice=square)[0] is None
    assert along(bars=[[5, 0, 9, 10], [20, 0, 24, 10]], lattice=square)[0] is FULL


def test_a_patch_shows_its_group_within_its_outermost_repeats(monkeypatch) -> None:
    def within(lattice=FIT, *, seen=FIT, found=None, first=None):
        margins = []
        window = SimpleNamespace(
            narrowed=lambda margin: margins.append(margin) or margins
        )
        plane = replace(PLANE, repeats_seen=4.0) if found is None else found

        def group(evidence, correlator, lattice):
            return first if first is not None and len(margins) == 1 else plane

        given(
            monkeypatch,
            repeating,
            replace=lambda evidence, window: evidence,
            measure_lattice=seen,
            group_of_repeats=group,
        )
        evidence = SimpleNamespace(window=window)
        return repeating.within_the_edge(evidence, None, lattice), margins

    told, margins = within()
    # 0.35 of the shorter shift of 10 mm
    assert (told.group.short, margins) == ("p2", pytest.approx([3.5]))
    told, margins = within(first=unsure(PLANE))
    assert (told.group.short, margins) == ("p2", pytest.approx([3.5, 7]))
    assert within(first=STRIP)[0].group.family == "plane"
    assert within(found=replace(PLANE, repeats_seen=3.9))[0] is None
    # what is sure of few repeats at once is not asked again
    assert within(found=replace(PLANE, repeats_seen=3.9))[1] == pytest.approx([3.5])
    for less in (replace(FIT, share=0.949), replace(FIT, weakest=5.9)):
        assert within(seen=less)[0] is None
        assert len(within(seen=less)[1]) == 2
    assert within(seen=replace(FIT, share=0.95, weakest=6))[0] is not None
    assert within(replace(FIT, share=0.75))[0] is not None
    assert within(replace(FIT, share=0.74)) == (None, [])
    assert within(ONE) == (None, [])


def coset(**facts):
    usual = {"share": 0.99, "rms": 0.1, "failing": 0.0, "expected": 99.0}
    return CosetFit(np.eye(2, dtype=int), np.zeros(2), **usual | facts)


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({"share": 0.93}, True),
        ({"share": 0.929}, False),
        ({"failing": 0.04}, True),
        ({"failing": 0.041}, False),
        # 1.45 times what the shifts miss by, and 0.0015 scales of 10 mm
        ({"rms": 0.159}, True),
        ({"rms": 0.161}, False),
        ({"expected": 24.0}, True),
        ({"expected": 23.0}, False),
    ],
)
def test_an_operation_holds_as_the_shifts_do(facts, told) -> None:
    steps = [coset(), coset(**facts), coset()]
    assert repeating._accepts(steps, FIT, 10.0) is told
    # shifts that fit less ask for less: 0.9
    less = replace(FIT, share=0.93)
    own = {"share": facts["share"] - 0.03} if "share" in facts else facts
    assert repeating._accepts([coset(), coset(**own)], less, 10.0) is told


def test_closer_steps_tell_what_most_lines_miss_by() -> None:
    def told(closest, shares=(0.5, 0.99, 1.0)):
        steps = [coset(share=closest), coset(), coset(share=0.0)]
        return repeating._accepts(steps, replace(FIT, shares=shares), 10.0)

    # 0.7 of the share of the shifts
    assert told(0.351)
    assert not told(0.349)
    # of less than 0.4 nothing is told, nor of copies
    assert not told(0.27, (0.4, 0.99))
    assert told(0.0, (0.399, 0.99))
    assert told(0.0, (0.999, 0.99))
    assert not told(0.0, (0.998, 0.99))


def plane_of(patch, fits, lattice=FIT, measured=FIT, longest=30.0):
    """Return the plane group, of what fits at each step, and its questions."""
    asked = given(
        patch,
        repeating,
        find_cosets=(None, "steps"),
        measure_lattice=lambda evidence, basis, level: replace(measured, level=level),
        _plane_at=lambda evidence, at, steps: fits[at.level],
    )
    evidence = SimpleNamespace(scale=10.0)
    return repeating.plane_group(evidence, lattice), asked


def test_a_plane_group_holds_closely_or_where_lines_may_miss_more(monkeypatch) -> None:
    none, last = None, len(repeating.LADDER) - 1
    doubted = replace(FIT, doubt="coarser")
    for fits, told in (
        ({1: PLANE, 2: MIRRORED}, PLANE),
        ({1: none, 2: MIRRORED}, MIRRORED),
        ({1: unsure(PLANE), 2: PLANE}, PLANE),
        ({1: none, 2: none}, none),
    ):
        found, asked = plane_of(monkeypatch, fits, doubted)
        assert found is told
        if len(asked["_plane_at"]) > 1:
            assert asked.last("_plane_at", 1).doubt == "coarser"
    first = unsure(PLANE)
    assert plane_of(monkeypatch, {1: first, 2: unsure(MIRRORED)})[0] is first
    assert plane_of(monkeypatch, {1: none, 2: first})[0] is first
    # what holds only where lines may miss more, beside shifts that hold closely
    told, _ = plane_of(monkeypatch, {1: first, 2: MIRRORED})
    assert (told.group.short, told.certain) == ("pmm", False)
    assert told.reason == "p2 fits the lines more closely"
    loose = replace(FIT, share=0.949)
    assert plane_of(monkeypatch, {1: first, 2: MIRRORED}, loose)[0] is MIRRORED
    # at the last step there is no looser one
    final = replace(FIT, level=last)
    assert plane_of(monkeypatch, {last: first}, final)[0] is first
    # operations may miss by what lines do, or a hundredth of the longest shift
    _, asked = plane_of(monkeypatch, {1: PLANE})
    slack = (0.03 + repeating.LADDER[1]) * 10.0
    assert asked.last("find_cosets", 2) == pytest.approx(max(slack, 0.3))
    wide = replace(FIT, basis=np.diag([1000.0, 10]))
    _, asked = plane_of(monkeypatch, {1: PLANE}, wide)
    assert asked.last("find_cosets", 2) == pytest.approx(10)


def test_the_shift_that_is_seen_best_comes_first() -> None:
    samples = np.array([[x, y] for x in (5.0, 50, 95) for y in (5.0, 25)])

    def depth(points):
        inside = (points > 0).all(axis=1) & (points < [100, 30]).all(axis=1)
        return np.where(inside, 1.0, -1.0)

    evidence = SimpleNamespace(samples=samples, window=SimpleNamespace(depth_at=depth))
    # level by 40 mm: to the right 4 of 6 stay, as many to the left; up by 12: a half
    level, up = np.array([40.0, 0]), np.array([0.0, 12])
    for basis in (np.array([level, up]), np.array([up, level])):
        best, other, kept = repeating.best_seen(evidence, basis)
        assert (best.tolist(), other.tolist()) == ([40, 0], [0, 12])
        assert kept == pytest.approx((4 / 6, 3 / 6))
    best, other, kept = repeating.best_seen(evidence, level[None])
    assert best is not up
    assert (best.tolist(), other.tolist()) == ([40, 0], [40, 0])
    # the sum or the difference of two may be seen better than they
    slant = np.array([level - up, up])
    best, other, _ = repeating.best_seen(evidence, slant)
    assert best.tolist() == [40, 0]
    slant = np.array([level + up, up])
    assert repeating.best_seen(evidence, slant)[0].tolist() == [40, 0]


def test_a_frieze_may_hold_where_lines_may_miss_more(monkeypatch) -> None:
    clear = SimpleNamespace(reason="", short="p2")
    odd = SimpleNamespace(reason="odd", short="p1")
    still = SimpleNamespace(reason="still", short="p1")
    looser = replace(ONE, level=2, share=0.97)

    def told(first, again, lattice=ONE):
        asked = given(
            monkeypatch,
            repeating,
            find_strip=lambda e, c, at, *rest: first if at is lattice else again,
            measure_lattice=looser,
            frieze_symmetry=lambda e, at, strip, group, reason: (
                at,
                strip,
                group.short,
                reason,
            ),
        )
        return repeating._frieze(None, None, lattice, np.array([30.0, 0]), 2.0), asked

    assert told(clear, odd)[0] == (ONE, clear, "p2", "")
    assert told(odd, clear)[0] == (looser, clear, "p2", "")
    assert told(odd, still)[0] == (ONE, odd, "p1", "odd")
    _, asked = told(odd, clear)
    assert asked.last("measure_lattice", 2) == 2
    assert asked.last("find_strip", 4) == 2.0
    low = replace(ONE, share=0.949)
    assert told(clear, odd, low)[0][3] == "the shift fits 95 % of the lines"
    assert told(odd, still, low)[0][3] == "odd"
    final = replace(ONE, level=len(repeating.LADDER) - 1)
    assert told(odd, clear, final)[0][3] == "odd"


def test_the_shift_across_is_the_shortest_that_fits_about_as_well(monkeypatch) -> None:
    def fit(x, y, share):
        return replace(BESIDE, vector=np.array([x, y], float), share=share)

    def told(*fits, along=(30.0, 0.0), voted=3):
        given(
            monkeypatch,
            across,
            _voted=np.zeros((voted, 2)),
            measure_across=list(fits),
        )
        evidence = SimpleNamespace(scale=10.0)
        return across.find_across(evidence, None, np.array(along))

    long, short = fit(0, 20, 0.99), fit(5, 10, 0.971)
    assert told(long, short) is short
    assert told(short, long) is short
    less = fit(5, 10, 0.969)
    assert told(long, less) is long
    # what lies within 0.4 scales of the shift along is none
    slid, beside_ = fit(12, 3.9, 1.0), fit(12, 4.1, 1.0)
    assert told(slid, long) is long
    assert told(slid) is None
    assert told(beside_) is beside_
    assert told(fit(3.9, 12, 1.0), along=(0.0, 30.0)) is None
    assert told() is None
    assert told(long, voted=0) is None


def held(patch, wanted, **answers):
    usual = {
        "hold_rosette": SimpleNamespace(share=0.9),
        "find_lattice": FIT,
        "guess_lattice": None,
        "rosette_symmetry": "rosette",
        "_hold_frieze": "frieze",
        "_hold_plane": "plane",
        "Correlator": lambda evidence: evidence,
    }
    asked = given(patch, stated, **usual | answers)
    return stated.hold_stated("lines", None, parse_group(wanted)), asked


def test_stated_groups_are_held_where_lines_repeat_or_turn(monkeypatch) -> None:
    least = stated.LEAST_HELD
    for wanted, told in (
        ("rosette:D5", "rosette"),
        ("frieze:p2", "frieze"),
        ("plane:p4", "plane"),
    ):
        assert held(monkeypatch, wanted)[0] == told
    for wanted, n, mirrors in (("rosette:D5", 5, True), ("rosette:C12", 12, False)):
        _, asked = held(monkeypatch, wanted)
        assert asked["hold_rosette"][-1][0][2:] == (n, mirrors)
        assert asked.names("rosette_symmetry") == [{"stated": True}]
        for fit in (None, SimpleNamespace(share=least - 0.01)):
            with pytest.raises(SymmetryError):
                held(monkeypatch, wanted, hold_rosette=fit)
        fit = SimpleNamespace(share=least)
        assert held(monkeypatch, wanted, hold_rosette=fit)[0] == "rosette"
    low, good = replace(FIT, share=least - 0.01), replace(FIT, share=least)
    # a guess serves where no lattice is found, or too little of one
    for wanted, told, found, guessed in (
        ("plane:p4", "plane", None, True),
        ("plane:p4", "plane", low, True),
        ("plane:p4", "plane", ONE, True),
        ("plane:p4", "plane", good, False),
        ("frieze:p2", "frieze", ONE, False),
        ("frieze:p2", "frieze", replace(ONE, share=least - 0.01), True),
    ):
        answers = {"find_lattice": found, "guess_lattice": ("loose", FIT)}
        found, asked = held(monkeypatch, wanted, **answers)
        assert found == told
        assert bool(asked["guess_lattice"]) is guessed
        evidence = "loose" if guessed else "lines"
        assert asked.last(f"_hold_{told}", 0) == evidence
    for wanted, found, what in (
        ("plane:p4", None, "no shift"),
        ("plane:p4", low, "no shift"),
        ("frieze:p2", None, "no shift"),
        ("plane:p4", ONE, "one direction only"),
    ):
        with pytest.raises(SymmetryError, match=what):
            held(monkeypatch, wanted, find_lattice=found)


def test_a_stated_group_says_how_much_it_fits() -> None:
    wanted = parse_group("plane:p4")
    assert stated._require(wanted, stated.ACCEPT) == ""
    told = stated._require(wanted, stated.ACCEPT - 0.01)
    assert told == f"it fits {100 * stated.ACCEPT - 1:.0f} % of the lines"
    assert stated._require(wanted, stated.LEAST_HELD)
    with pytest.raises(SymmetryError, match="it fits only 0 % of the lines"):
        stated._require(wanted, 0.0)
    with pytest.raises(SymmetryError):
        stated._require(wanted, stated.LEAST_HELD - 0.001)


def weighed(patch, fits, looser=(), larger="p4m", lattice=FIT):
    names = larger if isinstance(larger, dict) else {}
    given(
        patch,
        repeating,
        _with=lambda held, f, fits, basis: names.get(f.matrix[0, 0], larger),
    )
    own = Candidate("p4", 0.99, 0.1)
    found, reasons = repeating._weigh_larger(
        lattice, own, [], list(fits), [list(s) for s in looser], 10.0
    )
    assert found[0] is own
    return [c.group for c in found[1:]], reasons


def numbered(number, **facts):
    return replace(coset(**facts), matrix=np.full((2, 2), number))


def test_what_nearly_holds_is_weighed(monkeypatch) -> None:
    fits = "p4m fits {} % of the lines"
    for facts, told in (
        ({"share": 0.8}, fits.format(80)),
        ({"share": 0.79}, None),
        ({"share": 0.9, "expected": 24.0}, fits.format(90)),
        ({"share": 0.9, "expected": 23.0}, None),
        (
            {"share": 0.9, "rms": 0.161},
            "p4m its lines miss by 0.161 mm, the shifts' by 0.1",
        ),
        ({"share": 0.9, "rms": 0.159}, fits.format(90)),
        # what breaks in every repeat: more than 8 times what the shifts leave, and 0.06
        ({"share": 0.9, "failing": 0.139}, fits.format(90)),
        ({"share": 0.9, "failing": 0.141}, None),
    ):
        groups, reasons = weighed(monkeypatch, [numbered(1, **facts)])
        assert (groups, reasons) == (([], []) if told is None else (["p4m"], [told]))
    exact = replace(FIT, share=1.0)
    broken = numbered(1, share=0.9, failing=0.06)
    assert weighed(monkeypatch, [broken], lattice=exact)[0] == ["p4m"]
    assert weighed(monkeypatch, [numbered(1)], larger=None) == ([], [])
    assert weighed(monkeypatch, [numbered(1)], larger="p4") == ([], [])
    # what fits most comes first, and each group once
    two = [numbered(1, share=0.85), numbered(2, share=0.9)]
    assert weighed(monkeypatch, two)[1] == [fits.format(90)]
    assert weighed(monkeypatch, two, larger={1: "p4m", 2: "p4g"})[0] == ["p4g", "p4m"]


def test_what_holds_where_lines_may_miss_more_is_weighed(monkeypatch) -> None:
    # some times as far as the shifts miss, and 0.003 scales of 10 mm
    close = repeating.MISSES * 0.1 + 0.03
    said = "p4m fits nearly as well: its lines miss by {:.3g} mm, the shifts' by 0.1"
    for facts, told in (
        ({"share": 0.93}, True),
        ({"share": 0.929}, False),
        ({"rms": close - 0.001}, True),
        ({"rms": close + 0.001}, False),
    ):
        step = numbered(1, **facts)
        groups, reasons = weighed(monkeypatch, [], [[coset(share=0.1), step]])
        assert groups == (["p4m"] if told else [])
        assert reasons == ([said.format(step.rms)] if told else [])
    for expected, told in ((24.0, ["p4m"]), (23.0, [])):
        steps = [numbered(1, share=0.1, expected=expected), numbered(1)]
        assert weighed(monkeypatch, [], [steps])[0] == told
