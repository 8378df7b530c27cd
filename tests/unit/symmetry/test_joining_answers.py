"""What is claimed, parted and joined, of what patterns beside it are told.

Faces are numbers here: which of them lie side by side, and which at a rim, is given.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.model import Lattice
from fillwork.symmetry.zones import exchange
from fillwork.symmetry.zones.making import Part
from tests.unit.symmetry.answers import given, some
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_exchange_answers import (
    FIVE,
    NINE,
    PLANE,
    STRIP,
    TWO,
    at_rim,
    chain,
    mesh,
    unsure,
)
from tests.unit.symmetry.test_zone_parts import NOTHING

MIRROR = symmetry("rosette", "D1")


def settled(patch, part, claim, *, others=(), sides=(), **answers):
    """Claim a part beside a field (1 to 20) and a strip (21 to 30), or one of them.

    Returns the parts that are left, what is over, and what was asked.
    """
    field, strip = Part(some(20), PLANE), Part(some(10, 21), STRIP)
    first = int(part.faces[0])
    links = [(first, {"field": 1, "strip": 21}[s]) for s in sides]
    usual = {
        "claim_faces": None if claim is None else np.array(claim),
        "_goes_on": False,
        "_is_mitred": True,
        "of_several": True,
    }
    asked = given(patch, exchange, **usual | answers)
    told, over = exchange.claimed(
        mesh(200, links), None, [field, part, strip, *others], []
    )
    assert told[0] is field
    return field.faces, strip.faces, part in told, [o.tolist() for o in over], asked


BOTH = ("field", "strip")


def piece(count, found, **facts):
    return Part(some(count, 31), found, **facts)


@pytest.mark.parametrize(
    ("part", "sides", "among", "exactly"),
    [
        (piece(20, NOTHING), BOTH, 2, False),
        (piece(20, NOTHING), ("field",), 1, False),
        (piece(20, NOTHING), (), 0, False),
        # of fewer than twelve faces, or none
        (piece(11, FIVE), BOTH, 2, True),
        (piece(12, FIVE), BOTH, None, False),
        (piece(11, TWO), BOTH, 2, False),
        (piece(11, unsure(FIVE)), BOTH, 2, False),
        (piece(12, unsure(FIVE)), BOTH, None, False),
        # cells that a mitre halves, in a corner
        (piece(24, MIRROR), BOTH, 2, True),
        (piece(25, MIRROR), BOTH, None, False),
        (piece(24, MIRROR), ("field",), None, False),
        (piece(11, MIRROR), BOTH, 2, False),
        # a strip is asked of fields alone, but for a copy of another
        (piece(30, STRIP), BOTH, 1, False),
        (piece(30, STRIP, copy=True), BOTH, None, False),
        (piece(11, STRIP, copy=True), BOTH, 1, False),
        (piece(30, unsure(STRIP)), BOTH, None, False),
    ],
)
def test_what_may_be_claimed_is_asked(monkeypatch, part, sides, among, exactly) -> None:
    faces = part.faces
    *_, asked = settled(monkeypatch, part, None, sides=sides)
    # the strip beside the field is asked as well, and lies beside none
    mine = [k for k in asked["claim_faces"] if k[0][1] is faces]
    if among is None:
        assert mine == []
    else:
        (((_, _, zones), facts),) = mine
        assert (len(zones), facts) == (among, {"exactly": exactly})


@pytest.mark.parametrize(("copies", "asked_for"), [(4, True), (3, False)])
def test_stars_that_return_often_are_asked(monkeypatch, copies, asked_for) -> None:
    # four others alike make five
    others = [Part(some(12, 50 + 12 * k), FIVE) for k in range(copies)]
    part = piece(12, FIVE)
    *_, asked = settled(monkeypatch, part, None, others=others, sides=("field",))
    mine = [k for k in asked["claim_faces"] if k[0][1] is part.faces]
    assert bool(mine) is asked_for
    for _, facts in mine:
        assert facts == {"exactly": True}
    # nearly all of each must be the field's: nine of ten
    part = piece(20, FIVE)
    others = [Part(some(20, 51 + 20 * k), FIVE) for k in range(4)]
    for none, taken in ((2, True), (3, False)):
        claim = [0] * (20 - none) + [-1] * none
        answers = {
            "claim_faces": lambda a, faces, zones, exactly, c=claim, p=part: (
                np.array(c) if faces is p.faces else None
            )
        }
        _, _, kept, over, _ = settled(
            monkeypatch, part, claim, others=others, sides=("field",), **answers
        )
        assert kept is not taken
        assert over == ([part.faces[-none:].tolist()] if taken else [])


@pytest.mark.parametrize(
    ("part", "claim", "goes_on", "taken"),
    [
        (piece(4, NOTHING), [0, 0, 1, -1], False, True),
        (piece(4, NOTHING), None, False, False),
        # what turns for sure is shared out only where a strip goes on through it
        (piece(4, FIVE), [0, 0, 0, -1], False, True),
        (piece(4, FIVE), [0, 0, 1, -1], False, False),
        (piece(4, FIVE), [0, 0, 1, -1], True, True),
        (piece(4, TWO), [0, 0, 1, -1], False, True),
        (piece(4, unsure(FIVE)), [0, 0, 1, -1], False, True),
    ],
)
def test_claimed_faces_go_to_their_zones(monkeypatch, part, claim, goes_on, taken):
    answers = {
        "claim_faces": lambda a, faces, zones, exactly: (
            None if claim is None or faces is not part.faces else np.array(claim)
        ),
        "_goes_on": goes_on,
    }
    field, strip, kept, over, _ = settled(
        monkeypatch, part, claim, sides=BOTH, **answers
    )
    assert kept is not taken
    if not taken:
        assert (len(field), len(strip), over) == (20, 10, [])
        return
    row = np.array(claim)
    assert field.tolist() == [*range(1, 21), *part.faces[row == 0].tolist()]
    assert strip.tolist() == [*range(21, 31), *part.faces[row == 1].tolist()]
    assert over == [part.faces[row < 0].tolist()]


def test_a_strip_is_a_fields_where_nearly_all_of_it_is(monkeypatch) -> None:
    for none, taken in ((1, True), (2, False)):
        part = piece(13, STRIP)
        claim = np.array([0] * (13 - none) + [-1] * none)
        answers = {
            "claim_faces": lambda a, faces, zones, exactly, c=claim, p=part: (
                c if faces is p.faces else None
            )
        }
        field, _, kept, over, _ = settled(
            monkeypatch, part, claim, sides=BOTH, **answers
        )
        assert kept is not taken
        assert len(field) == 20 + 12 * taken
        assert over == ([part.faces[12:].tolist()] if taken else [])


@pytest.mark.parametrize(
    ("part", "sides", "answers", "doubt"),
    [
        (piece(24, MIRROR), BOTH, {}, True),
        (piece(25, MIRROR), BOTH, {}, False),
        (piece(24, MIRROR), BOTH, {"_is_mitred": False}, False),
        (piece(24, MIRROR), BOTH, {"of_several": False}, False),
        (piece(24, unsure(MIRROR)), BOTH, {}, False),
        (piece(24, MIRROR), ("strip",), {}, False),
        (piece(11, NOTHING), BOTH, {}, False),
    ],
)
def test_a_corner_may_be_the_ends_of_its_sides(
    monkeypatch, part, sides, answers, doubt
):
    before = part.symmetry
    part = Part(part.faces, before)
    *_, asked = settled(monkeypatch, part, None, sides=sides, **answers)
    if doubt:
        assert not part.symmetry.certain
        assert part.symmetry.reason.startswith("its regions have lines of the sides")
        # of the strips beside it alone
        assert [f.tolist() for f, _ in asked.last("of_several", 2)] == [
            list(range(21, 31))
        ]
    else:
        assert part.symmetry is before


def test_what_a_lost_strip_had_taken_is_over(monkeypatch) -> None:
    # a scrap goes to the strip, and then the field claims the strip
    scrap = piece(2, NOTHING)

    def claim(arrangement, faces, zones, exactly):
        if faces is scrap.faces:
            return np.array([1, 1])
        return np.zeros(len(faces), np.int64)

    given(monkeypatch, exchange, claim_faces=claim, _goes_on=False)
    field, strip = Part(some(20), PLANE), Part(some(10, 21), STRIP)
    drawing = mesh(40, [(31, 1), (31, 21), (21, 1)])
    plain = [some(1, 35)]
    told, over = exchange.claimed(drawing, None, [field, scrap, strip], plain)
    assert told == [field]
    assert field.faces.tolist() == list(range(1, 31))
    assert [o.tolist() for o in over] == [[35], [31, 32]]
    # zones that are not sure, and what has no lattice, claim nothing
    for other in (unsure(PLANE), FIVE):
        field, scrap = Part(some(20), other), piece(2, NOTHING)
        asked = given(monkeypatch, exchange, claim_faces=None)
        told, over = exchange.claimed(drawing, None, [field, scrap], plain)
        assert len(told) == 2
        assert all(len(zones) == 0 for (_, _, zones), _ in asked["claim_faces"])


def parted(patch, odd, *, rim, beside=(), other=None, both=STRIP, own=FIVE, **field):
    """Part what is strange in a field of 20; return it, what is beside, what is new."""
    answers = {
        "strange_faces": np.array(odd, np.int32),
        "outer_sides": at_rim,
        "own_symmetry": lambda a, m, f: both if np.isin(f, 30).any() else own,
        "told_apart": lambda faces, found: found,
    }
    given(patch, exchange, **answers)
    links = [*chain(*odd), *beside]
    drawing = mesh(40, links, rim)
    main = Part(some(20), field.get("found", PLANE))
    parts = [main] + ([other] if other else [])
    before = len(parts)
    told, frame = exchange.parted_strangers(
        drawing, None, parts, np.zeros(drawing.edge_count, bool)
    )
    new = [p.faces.tolist() for p in told[before:]]
    lines = [links[k] for k in np.flatnonzero(frame) if k < len(links)]
    return main.faces.tolist(), new, lines


def test_strange_regions_at_the_rim_of_a_field_stand_alone(monkeypatch) -> None:
    rest = list(range(4, 21))
    assert parted(monkeypatch, [1, 2, 3], rim=[2]) == (rest, [[1, 2, 3]], [])
    whole = list(range(1, 21))
    for odd, rim in (([1, 2], [2]), ([1, 2, 3], [9]), ([], [2])):
        assert parted(monkeypatch, odd, rim=rim) == (whole, [], [])
    for found in (unsure(PLANE), STRIP, NOTHING):
        told = parted(monkeypatch, [1, 2, 3], rim=[2], found=found)
        assert told == (whole, [], [])
    # three that do not hang together are cut off a pattern: they are its own
    given(
        monkeypatch,
        exchange,
        strange_faces=np.array([1, 2, 5], np.int32),
        outer_sides=at_rim,
        own_symmetry=FIVE,
    )
    main = Part(some(20), PLANE)
    drawing = mesh(40, [(1, 2)], [2, 5])
    free = np.zeros(drawing.edge_count, bool)
    exchange.parted_strangers(drawing, None, [main], free)
    assert len(main.faces) == 20


@pytest.mark.parametrize(
    ("odd", "other", "both", "joins", "stays"),
    [
        # beside a strip with which they are a frieze
        ([1, 2, 3], STRIP, STRIP, True, False),
        ([1, 2, 3], STRIP, unsure(STRIP), False, False),
        ([1, 2, 3], unsure(STRIP), PLANE, False, False),
        ([1, 2, 3], unsure(STRIP), STRIP, True, False),
        # what would take turns from a sure strip is not the strip's
        ([1, 2, 3], STRIP, symmetry("frieze", "p1"), False, True),
        ([1, 2, 3], unsure(STRIP), symmetry("frieze", "p1"), True, False),
        ([1, 2, 3], STRIP, symmetry("frieze", "p2mm"), True, False),
    ],
)
def test_strange_regions_go_with_a_strip_beside_them(
    monkeypatch, odd, other, both, joins, stays
) -> None:
    strip = Part(some(5, 30), other, copy=True)
    beside = [(1, 30), (3, 4), (4, 30)]
    field, new, lines = parted(
        monkeypatch, odd, rim=[2], beside=beside, other=strip, both=both
    )
    assert field == list(range(1 if stays else 4, 21))
    assert new == ([] if joins or stays else [odd])
    if joins:
        assert strip.faces.tolist() == [1, 2, 3, *range(30, 35)]
        assert (strip.symmetry, strip.copy) == (both, False)
        # the lines between it and the field are a frame's from now on
        assert lines == [(3, 4), (4, 30)]
    else:
        assert (len(strip.faces), strip.symmetry, strip.copy) == (5, other, True)
        assert lines == []


def test_a_few_strange_regions_go_with_what_is_not_sure(monkeypatch) -> None:
    def told(other, both=FIVE):
        strip = Part(some(5, 30), other)
        given(
            monkeypatch,
            exchange,
            strange_faces=np.array([1, 2, 7, 8], np.int32),
            outer_sides=at_rim,
            own_symmetry=both,
            told_apart=lambda faces, found: found,
        )
        drawing = mesh(40, [(1, 2), (7, 8), (2, 30)], [2, 8])
        main = Part(some(20), PLANE)
        free = np.zeros(drawing.edge_count, bool)
        parts, _ = exchange.parted_strangers(drawing, None, [main, strip], free)
        assert len(parts) == 2
        return len(main.faces), len(strip.faces)

    # seven and eight lie beside nothing else
    assert told(unsure(STRIP)) == (18, 7)
    assert told(STRIP) == (20, 5)


def test_faces_share_most_edges_with_a_part() -> None:
    one, two = Part(some(3, 20), PLANE), Part(some(3, 30), STRIP)
    drawing = mesh(40, [(1, 20), (30, 2), (2, 31), (3, 20)])
    for faces, told in (([1, 2], two), ([1], one), ([1, 2, 3], one), ([4], None)):
        assert exchange._beside_most(drawing, np.array(faces), [one, two]) is told


def test_parts_that_go_on_are_joined_one_after_another(monkeypatch) -> None:
    # a field of 13, then rows side by side of which each lies beside the one before
    rows = [Part(some(3, 20 + 3 * k), NOTHING) for k in range(3)]
    links = [(1, 20), (22, 23), (25, 26)]
    drawing = mesh(60, links)

    def told(goes_on, main=None, parts=rows):
        class Given:
            def __init__(self, arrangement, faces, found):
                self.faces = faces

            def goes_on(self, part):
                return int(part[0]) in goes_on

        monkeypatch.setattr(exchange, "Pattern", Given)
        main = Part(some(13), PLANE) if main is None else main
        own = [Part(p.faces, p.symmetry) for p in parts]
        after = exchange.joined(drawing, [main, *own])
        return [p.faces.tolist() for p in after]

    first, rest = list(range(1, 14)), [p.faces.tolist() for p in rows]
    assert told([20, 23, 26]) == [first + list(range(20, 29))]
    assert told([23, 26]) == [first, *rest]
    assert told([20, 26]) == [first + rest[0], *rest[1:]]
    assert told([]) == [first, *rest]
    for other in (unsure(PLANE), STRIP):
        assert told([20, 23, 26], Part(some(13), other)) == [first, *rest]
    small = Part(some(11), PLANE)
    assert told([20, 23, 26], small)[0] == list(range(1, 12))
    assert len(told([20], Part(some(12), PLANE))) == 3
    # what is larger is none of it, and of two fields the larger takes the other
    large = [Part(some(14, 20), NOTHING)]
    assert len(told([20], parts=large)) == 2
    large = [Part(some(13, 20), NOTHING)]
    assert len(told([20], parts=large)) == 1
    large = [Part(some(14, 20), PLANE)]
    assert told([1, 20], parts=large) == [list(range(1, 14)) + list(range(20, 34))]


def test_a_copy_has_the_symmetry_of_what_it_is_one_of(monkeypatch) -> None:
    turn = np.array([[0.0, -1.0], [1.0, 0.0]])
    noise = SimpleNamespace(join_within=0.1)
    drawing = SimpleNamespace(tolerance=noise)
    earlier = replace(STRIP, residual=0.2)

    def told(found, miss, own, parts=None):
        asked = given(
            monkeypatch,
            exchange,
            find_copy=None if miss is None else (turn, np.array([9.0, 0]), miss),
            own_symmetry=own,
        )
        parts = [Part(some(3), found)] if parts is None else parts
        return exchange.copied_symmetry(drawing, None, some(3, 9), parts), asked

    mine = replace(STRIP, lattice=Lattice(np.array([[0.0, 31]]), "line"))
    # up to twice what lines stray by its steps are those of the first
    for miss, is_mine in ((0.4, False), (0.41, True)):
        copied, asked = told(earlier, miss, mine)
        assert (copied is mine) is is_mine
        assert asked.last("find_copy", 3) == 0.2
        if not is_mine:
            assert np.allclose(copied.lattice.basis, STRIP.lattice.basis @ turn.T)
    # what may be joined counts as well
    exact = replace(STRIP, residual=0.0)
    assert told(exact, 0.2, mine)[0] is not mine
    assert told(exact, 0.21, mine)[0] is mine
    for other in (unsure(mine), symmetry("frieze", "p1")):
        copied, _ = told(earlier, 0.5, other)
        assert copied.group == STRIP.group
        assert copied.certain
    turning, asked = told(FIVE, 0.5, mine)
    assert turning.group == FIVE.group
    assert asked["own_symmetry"] == []
    assert told(earlier, None, mine)[0] is None
    assert told(NOTHING, 0.1, mine)[0] is None
    both = [Part(some(3), NOTHING), Part(some(3), FIVE)]
    assert told(None, 0.1, mine, both)[0].group == FIVE.group


def test_parts_look_alike_by_group_and_number_of_faces() -> None:
    same = [piece(5, FIVE), Part(some(5), unsure(FIVE))]
    assert exchange._looks(same[0]) == exchange._looks(same[1])
    for other in (piece(6, FIVE), piece(5, NINE)):
        assert exchange._looks(other) != exchange._looks(same[0])
    order = sorted(
        [piece(5, FIVE), piece(6, NINE), Part(some(6), TWO)],
        key=exchange._largest_first,
    )
    assert [p.symmetry for p in order] == [TWO, NINE, FIVE]
