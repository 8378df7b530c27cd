"""What passes between parts, of what strangers, claims and copies are told.

Faces are numbers here: which of them lie side by side, and which at a rim, is given.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fillwork.symmetry.zones import exchange
from fillwork.symmetry.zones.making import Part
from tests.unit.symmetry.answers import flat, given, some
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_zone_parts import NOTHING

FIVE = symmetry("rosette", "C5")
NINE = symmetry("rosette", "C9")
TWO = symmetry("rosette", "D2")  # four operations
STRIP = symmetry("frieze", "p2", repeats_seen=9.0)
PLANE = symmetry("plane", "p2", repeats_seen=9.0)


def unsure(found, reason="few"):
    return replace(found, certain=False, reason=reason)


def mesh(count, beside=(), rim=()):
    """Return faces of which some lie side by side; half-edges of the rim come last."""
    face = np.array(
        [k for pair in beside for k in pair] + [k for r in rim for k in (r, 0)]
    )
    half = 2 * len(beside) + 2 * np.arange(len(rim))
    drawing = flat([10.0] * count)
    drawing.face = face.astype(np.int32) if len(face) else np.zeros(0, np.int32)
    drawing.edge_count = len(face) // 2
    drawing.rim = half
    return drawing


def chain(*faces):
    return list(pairwise(faces))


def at_rim(drawing, faces):
    on = np.isin(drawing.face, faces)
    return drawing.rim[on[drawing.rim]]


def let_go(patch, strange, *, rim=(), count=20, found=FIVE, fields=(), **answers):
    """Release what is strange in a rosette; return its parts, and what was asked."""
    own = np.isin(some(count), [k for group in strange for k in group])
    links = [pair for group in strange for pair in chain(*group)]
    usual = {
        "turning_more": None,
        "strangers": (own, np.zeros(count, bool)),
        "specks": np.zeros(count, bool),
        "outer_sides": at_rim,
        "copied_symmetry": None,
        "own_symmetry": STRIP,
        "told_apart": lambda faces, own: own,
        "_given_to": False,
        "_of_the_rest": NINE,
        "_without_scraps": None,
    }
    asked = given(patch, exchange, **usual | answers)
    drawing = mesh(count, links, rim)
    part = Part(some(count), found)
    told = exchange.released(drawing, None, [part, *fields])
    return part, [p.faces.tolist() for p in told[1 + len(fields) :]], asked


def test_three_regions_at_the_rim_that_do_not_turn_are_let_go(monkeypatch) -> None:
    part, freed, _ = let_go(monkeypatch, [(1, 2, 3)], rim=[2])
    assert freed == [[1, 2, 3]]
    assert part.faces.tolist() == some(17, 4).tolist()
    # what is left may turn more often
    assert part.symmetry is NINE
    # within it, or two of them, they leave a doubt: a tenth of all
    for strange, rim, count, said in (
        ([(1, 2, 3)], [], 20, "3 of 20"),
        ([(1, 2)], [2], 20, "2 of 20"),
        ([(1, 2)], [2], 21, ""),
        ([(1, 2, 3)], [9], 30, "3 of 30"),
    ):
        part, freed, asked = let_go(monkeypatch, strange, rim=rim, count=count)
        assert freed == []
        assert len(part.faces) == count
        assert part.symmetry.certain is (not said)
        assert part.symmetry.reason == (
            said and f"{said} regions do not turn with the others"
        )
        assert asked["_of_the_rest"] == []


def test_two_regions_at_the_rim_go_to_a_pattern_that_claims_them(monkeypatch) -> None:
    for returning in (False, True):
        strange = np.isin(some(20), [1, 2, 7])
        part, freed, asked = let_go(
            monkeypatch,
            [(1, 2)],
            rim=[2],
            strangers=(strange, np.isin(some(20), [1] if returning else [9])),
            _given_to=lambda a, own, fields, whole: len(own) == 2,
        )
        assert freed == []
        assert part.faces.tolist() == some(18, 3).tolist()
        assert asked.last("_given_to", 3) is returning
        # one is left that does not turn, of eighteen
        assert part.symmetry is FIVE
    part, _, asked = let_go(
        monkeypatch,
        [(1, 2)],
        rim=[2],
        _given_to=True,
        fields=[Part(some(1, 30), STRIP)],
    )
    assert part.symmetry is NINE
    assert [p.symmetry for p in asked.last("_given_to", 2)] == [STRIP]


def test_pieces_that_return_are_let_go_within_as_well(monkeypatch) -> None:
    for strange, told in (
        ([(4, 5, 6), (8, 9, 10)], [[4, 5, 6], [8, 9, 10]]),
        ([(4, 5, 6), (8, 9, 10, 11)], []),
        ([(4, 5), (8, 9)], []),
        ([(4, 5, 6), (8, 9, 10), (12, 13)], [[4, 5, 6], [8, 9, 10]]),
    ):
        part, freed, _ = let_go(monkeypatch, strange, rim=[1])
        assert freed == told
        left = sum(len(s) for s in strange) - 3 * len(told)
        assert part.symmetry.certain is (left == 0)
        assert len(part.faces) == 20 - 3 * len(told)
        if left:
            count = len(part.faces)
            said = f"{left} of {count} regions do not turn with the others"
            assert part.symmetry.reason == said


def test_what_most_regions_contradict_is_not_parted(monkeypatch) -> None:
    for count, freed in ((10, True), (11, False)):
        strange = [tuple(range(1, count + 1))]
        part, told, asked = let_go(monkeypatch, strange, rim=[1])
        assert bool(told) is freed
        assert asked["_without_scraps"] == []
        if not freed:
            said = "11 of 20 regions do not turn with the others"
            assert part.symmetry.reason == said
    part, told, _ = let_go(monkeypatch, [tuple(range(1, 21))], rim=[1])
    assert (told, part.symmetry.certain) == ([], False)
    assert part.symmetry.reason == "none of its regions turns with the others"


def test_scraps_at_the_rim_are_tried_without(monkeypatch) -> None:
    alone = Part(some(1, 40), NOTHING)
    strange = [(1, 2), (5,), (9,)]
    part, freed, asked = let_go(
        monkeypatch, strange, rim=[2, 5], _without_scraps=[alone]
    )
    assert freed == [[40]]
    assert part.symmetry is FIVE
    # those at the rim, by what hangs together
    assert [s.tolist() for s in asked.last("_without_scraps", 3)] == [[2], [5]]
    part, freed, asked = let_go(monkeypatch, strange, rim=[1, 2, 5])
    assert [s.tolist() for s in asked.last("_without_scraps", 3)] == [[1, 2], [5]]
    assert part.symmetry.reason == "4 of 20 regions do not turn with the others"
    _, _, asked = let_go(monkeypatch, [(9, 10)], rim=[1])
    assert asked["_without_scraps"] == []


def test_specks_and_doubts_and_few_turns_release_nothing(monkeypatch) -> None:
    part, freed, _ = let_go(monkeypatch, [(1, 2, 3)], rim=[2], specks=some(20) == 3)
    assert (freed, len(part.faces)) == ([], 20)
    assert part.symmetry.reason == "2 of 20 regions do not turn with the others"
    for found in (TWO, STRIP, PLANE, NOTHING, unsure(FIVE)):
        part, freed, _ = let_go(monkeypatch, [(1, 2, 3)], rim=[2], found=found)
        assert (freed, part.symmetry) == ([], found)
    for found in (FIVE, unsure(FIVE)):
        part, freed, _ = let_go(
            monkeypatch, [(1, 2, 3)], rim=[2], found=found, turning_more=NINE
        )
        assert (freed, part.symmetry) == ([], NINE)


def test_pieces_let_go_that_are_copies_share_their_symmetry(monkeypatch) -> None:
    given_ = {"copied_symmetry": lambda a, m, own, freed: NINE if freed else None}
    asked = [(4, 5, 6), (8, 9, 10)]
    own = np.isin(some(20), [4, 5, 6, 8, 9, 10])
    given(
        monkeypatch,
        exchange,
        turning_more=None,
        strangers=(own, own),
        specks=np.zeros(20, bool),
        outer_sides=at_rim,
        own_symmetry=STRIP,
        told_apart=lambda faces, own: replace(own, residual=float(len(faces))),
        _of_the_rest=FIVE,
        **given_,
    )
    drawing = mesh(20, [pair for group in asked for pair in chain(*group)], [1])
    _, one, other = exchange.released(drawing, None, [Part(some(20), FIVE)])
    assert (one.symmetry.group, one.copy) == (STRIP.group, False)
    assert (other.symmetry.group, other.copy) == (NINE.group, True)
    assert one.symmetry.residual == other.symmetry.residual == 3


@pytest.mark.parametrize(
    ("again", "taken"),
    [
        (NINE, True),
        (unsure(NINE), False),
        (FIVE, False),
        (TWO, False),
        (replace(STRIP, operations=NINE.operations), False),
    ],
)
def test_the_rest_of_a_rosette_may_turn_more_often(monkeypatch, again, taken) -> None:
    given(monkeypatch, exchange, own_symmetry=again)
    assert exchange._of_the_rest(None, None, some(9), FIVE) is (
        again if taken else FIVE
    )
    # and scraps are taken off it only then
    part, fields = Part(some(9), FIVE), []
    told = exchange._without_scraps(mesh(9), None, part, [some(2, 8)], fields)
    assert part.symmetry is (again if taken else FIVE)
    assert part.faces.tolist() == some(7 if taken else 9).tolist()
    assert (told is not None) is taken


def test_scraps_go_where_they_share_most_sides(monkeypatch) -> None:
    given(monkeypatch, exchange, own_symmetry=NINE)
    one, two = Part(some(3, 20), PLANE), Part(some(3, 30), STRIP)
    drawing = mesh(40, [(8, 20), (30, 8), (8, 31), (7, 20), (6, 5)])
    part = Part(some(9), FIVE)
    scraps = [np.array([k], np.int32) for k in (8, 7, 6)]
    (alone,) = exchange._without_scraps(drawing, None, part, scraps, [one, two])
    assert one.faces.tolist() == [7, 20, 21, 22]
    assert two.faces.tolist() == [8, 30, 31, 32]
    assert alone.faces.tolist() == [6]
    assert (alone.symmetry.group.family, alone.symmetry.certain) == ("none", False)
    assert part.faces.tolist() == [1, 2, 3, 4, 5, 9]


def test_a_pattern_takes_what_it_claims_all_of(monkeypatch) -> None:
    one, two, far = (Part(some(3, k), PLANE) for k in (20, 30, 36))
    drawing = mesh(40, [(1, 20), (30, 2)])
    for claim, into in (
        ([1, 1], two),
        ([0, 0], one),
        ([0, -1], None),
        (None, None),
        ([1, 0], two),
    ):
        asked = given(
            monkeypatch,
            exchange,
            claim_faces=None if claim is None else np.array(claim),
        )
        fields = [far, one, two]
        before = [p.faces.tolist() for p in fields]
        own = some(2)
        assert exchange._given_to(drawing, own, fields, True) is (into is not None)
        # only those beside are asked
        assert [f.tolist() for f, _ in asked.last("claim_faces", 2)] == before[1:]
        assert asked.names("claim_faces") == [{"whole": True}]
        for p, faces in zip(fields, before, strict=True):
            assert p.faces.tolist() == ([1, 2, *faces] if p is into else faces)
            p.faces = np.array(faces, np.int32)


def test_specks_that_turn_with_nothing_are_taken_off_a_rim(monkeypatch) -> None:
    def told(found, small, rim, strange):
        part = Part(some(9), found)
        asked = given(
            monkeypatch,
            exchange,
            specks=np.isin(some(9), small),
            outer_sides=at_rim,
            strangers=(np.isin(some(9), strange), None),
            own_symmetry=NINE,
        )
        taken = exchange.without_specks(mesh(9, rim=rim), None, [part])
        assert part.symmetry is (NINE if taken else found)
        assert part.faces.tolist() == [
            k for k in range(1, 10) if k not in {i for t in taken for i in t}
        ]
        return [t.tolist() for t in taken], len(asked["strangers"])

    assert told(FIVE, [2, 3, 4], [3, 4, 5], [4, 5, 2]) == ([[4]], 1)
    assert told(FIVE, [2, 3], [4, 5], [2, 3]) == ([], 0)
    assert told(FIVE, [], [4, 5], [4]) == ([], 0)
    assert told(FIVE, [4], [4], []) == ([], 1)
    for found in (TWO, STRIP, NOTHING):
        assert told(found, [4], [4], [4]) == ([], 0)
