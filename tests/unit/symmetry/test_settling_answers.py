"""How parts are settled beside each other, of what each answers for itself.

One lattice of all, what is laid into it, bands and ends of strips, rows of a pattern,
wheels with what turns along with them.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.zones import (
    alone,
    halves,
    lengthwise,
    middles,
    rims,
    rows,
    whole,
)
from fillwork.symmetry.zones.making import Part
from tests.unit.symmetry.answers import flat, given, some
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_exchange_answers import chain, mesh, unsure
from tests.unit.symmetry.test_zone_parts import NOTHING, measures_of

FIVE, TEN, NINE = (symmetry("rosette", s) for s in ("C5", "C10", "C9"))
TWO, FIVE_MIRRORS = symmetry("rosette", "D2"), symmetry("rosette", "D5")
STRIP = symmetry("frieze", "p2", repeats_seen=9.0)
FULL = symmetry("frieze", "p2mm", repeats_seen=9.0)
BARE = symmetry("frieze", "p1", repeats_seen=9.0)
PLANE = symmetry("plane", "p4", repeats_seen=9.0)


def fitting(found, fit, **facts):
    return replace(found, candidates=(SimpleNamespace(fit=fit),), **facts)


def test_a_field_that_cannot_hold_the_rest_stands_alone(monkeypatch) -> None:
    groups = [some(4), some(6, 5), some(20, 11)]
    explained = some(30) <= 10

    def stands(own=PLANE, holds=False, area=None, explained=explained):
        known = {}
        asked = given(monkeypatch, whole, own_symmetry=own, may_hold=holds)
        drawing = flat([10.0] * 30 if area is None else area)
        told = whole.stand_alone(drawing, None, some(30), groups, explained, known)
        return told, known, asked

    told, known, asked = stands()
    # the largest field by area, and not what no lattice explains
    assert (told, known) == (True, {1: PLANE})
    assert asked.last("may_hold", 3).tolist() == some(20, 11).tolist()
    assert stands(area=[20.0] * 4 + [10.0] * 26)[1] == {0: PLANE}
    assert stands(area=[15.0] * 4 + [10.0] * 26)[1] == {0: PLANE}
    assert not stands(holds=True)[0]
    for own in (STRIP, FIVE, NOTHING):
        told, known, asked = stands(own)
        assert (told, known, asked["may_hold"]) == (False, {1: own}, [])
    assert not stands(explained=np.zeros(30, bool))[0]
    assert not stands(explained=np.ones(30, bool))[0]


@pytest.mark.parametrize(
    ("together", "held", "part", "explained", "told"),
    [
        (fitting(PLANE, 0.97), 1.0, 1.0, 0, True),
        (fitting(PLANE, 0.97), whole.HELD, 1.0, 0, True),
        (fitting(PLANE, 0.97), whole.HELD - 0.01, 1.0, 0, False),
        (fitting(unsure(PLANE), 0.97), 1.0, 1.0, 0, False),
        (fitting(FIVE, 0.97), 1.0, 1.0, 0, False),
        # where too few can be asked lines decide, or the small parts
        (fitting(STRIP, 0.97), None, 0.0, 0, True),
        (fitting(STRIP, 0.96), None, 1.0, 0, False),
        (fitting(STRIP, 0.97, repeats_seen=2.0), None, 0.0, 0, True),
        (fitting(STRIP, 0.97, repeats_seen=1.9), None, 0.0, 0, False),
        (fitting(PLANE, 0.96), None, whole.PART_HELD, 0, True),
        (fitting(PLANE, 0.96), None, whole.PART_HELD - 0.01, 0, False),
        (fitting(PLANE, 0.96), None, None, 0, True),
        # what lies beside the fields must be carried as well
        (fitting(PLANE, 0.97), 1.0, whole.PART_HELD, 9, True),
        (fitting(PLANE, 0.97), 1.0, whole.PART_HELD - 0.01, 9, False),
        (fitting(PLANE, 0.97), 1.0, None, 9, True),
        (fitting(PLANE, 0.96), 1.0, None, 9, False),
        (fitting(PLANE, 0.97), 0.5, whole.PART_HELD, 9, False),
        (fitting(PLANE, 0.97), 1.0, 0.0, 12, True),
    ],
)
def test_one_lattice_holds_all_where_most_regions_say_so(
    monkeypatch, together, held, part, explained, told
) -> None:
    groups = [some(4), some(8, 5)]
    asked = given(
        monkeypatch,
        whole,
        share_held=lambda a, m, faces, found, rest=None: held if rest is None else part,
        strips=np.zeros(3, bool),
    )
    drawing = flat([10.0] * 12)
    mask = some(12) <= explained
    assert whole.is_one(drawing, None, some(12), groups, mask, together) is told
    for (_, _, _, _, *rest), _ in asked["share_held"]:
        # but for the largest group, or for the fields
        wanted = some(4) if held is None else some(12 - explained, explained + 1)
        assert not rest or rest[0].tolist() == wanted.tolist()
    # a strip of a frame beside the field is none of its lines
    given(monkeypatch, whole, strips=np.array([False, True, False]))
    if part is None and explained == 9:
        assert not whole.is_one(drawing, None, some(12), groups, mask, together)


def test_what_is_laid_into_a_pattern_saves_kinds(monkeypatch) -> None:
    def laid(count, kinds, *, rim=(1,), cut=(), own=FIVE, size=20):
        # faces 11 on are a part for itself, of one orbit each
        faces = some(10 + size)
        drawing = flat([10.0] * (10 + size))
        drawing.cut[list(cut)] = True
        orbit = np.concatenate([np.zeros(10, int), 1 + np.arange(size) % kinds])
        given(
            monkeypatch,
            whole,
            outer_sides=np.array(rim),
            orbit_numbers=orbit,
            find_symmetry=own,
            count_kinds=count,
            in_order=lambda a, parts: parts,
        )
        parts = whole.with_inlays(
            drawing, None, faces, [some(10), some(size, 11)], PLANE
        )
        return [len(p.faces) for p in parts]

    most = whole.ACCOUNTED
    assert laid(12 - most, 12) == [10, 20]
    assert laid(13 - most, 12) == [30]
    # more than half of its faces, and eight, are kinds of their own
    assert laid(1, 11) == [10, 20]
    assert laid(1, 10) == [30]
    assert laid(0, most + 1, size=10) == [10, 10]
    assert laid(0, most, size=8) == [18]
    for rim, cut in (((15,), ()), ((1,), (15,))):
        assert laid(1, 12, rim=rim, cut=cut) == [30]
    assert laid(1, 12, own=unsure(FIVE)) == [30]


def banded(patch, found, together=BARE, *, long=True, lines=(4,)):
    """Part a strip of 12 faces along a line between the fifth and the sixth."""
    links = [*chain(*range(1, 13))]
    drawing = mesh(12, links)
    through = np.isin(np.arange(drawing.edge_count), lines)
    given(
        patch,
        lengthwise,
        is_long=long,
        _lines_through=through,
        own_symmetry=lambda a, m, band: found[len(band)],
    )
    bands, told = lengthwise.bands_of(drawing, None, some(12), together)
    return [(len(b), s.group.short) for b, s in bands], np.flatnonzero(told).tolist()


@pytest.mark.parametrize(
    ("one", "two", "together", "parts"),
    [
        (STRIP, FULL, BARE, True),
        (STRIP, STRIP, BARE, True),
        (STRIP, FULL, STRIP, True),
        (STRIP, STRIP, STRIP, False),
        (BARE, FULL, STRIP, False),
        (BARE, FULL, unsure(FULL), True),
        (BARE, BARE, unsure(NOTHING), True),
        (unsure(STRIP), FULL, BARE, False),
        (FIVE, FULL, BARE, False),
        (FULL, FULL, FULL, False),
    ],
)
def test_bands_show_more_apart_than_together(monkeypatch, one, two, together, parts):
    bands, lines = banded(monkeypatch, {5: one, 7: two}, together)
    told = [(5, one.group.short), (7, two.group.short)]
    assert (bands, lines) == ((told, [4]) if parts else ([], []))
    assert banded(monkeypatch, {5: one, 7: two}, together, long=False) == ([], [])
    assert banded(monkeypatch, {12: FULL}, together, lines=()) == ([], [])


def test_scraps_of_bands_show_nothing(monkeypatch) -> None:
    # two faces between two lines
    bands, lines = banded(monkeypatch, {5: STRIP}, lines=(4, 6))
    assert bands == [(5, "p2"), (2, "none"), (5, "p2")]
    assert lines == [4, 6]
    # one band and scraps are none
    assert banded(monkeypatch, {10: FULL}, lines=(9,)) == ([], [])


def ended(
    patch, together=NOTHING, own=STRIP, *, area=None, told=(), ends=(0, 10), **facts
):
    """Part a side of 12 faces from a corner before and one after it."""
    links = [*chain(*range(1, 13))]
    drawing = mesh(12, links)
    drawing.area = np.array([0.0, *([10.0] * 12 if area is None else area)])
    given(
        patch,
        lengthwise,
        is_long=facts.get("long", True),
        _lines_through=lambda a, faces, across: np.isin(np.arange(11), ends) & across,
        own_symmetry=lambda a, m, band: own if len(band) > 3 else FIVE,
        repeating=np.array(told, np.int32),
    )
    parts, lines = lengthwise.ends_of(drawing, None, some(12), together)
    return [(f.tolist(), s.group.short) for f, s in parts], np.flatnonzero(
        lines
    ).tolist()


SIDE = (list(range(2, 12)), "p2")


def test_corners_are_parted_from_a_side_that_is_a_strip(monkeypatch) -> None:
    told = ([SIDE, ([1], "none"), ([12], "none")], [0, 10])
    for together in (NOTHING, TWO, unsure(PLANE), unsure(FIVE), STRIP):
        assert ended(monkeypatch, together) == told
    # what surely repeats or turns is one
    for together in (PLANE, FIVE):
        assert ended(monkeypatch, together) == ([], [])
    # of a strip, unless corners are carried along
    assert ended(monkeypatch, STRIP, told=[1, 2]) == ([], [])
    assert ended(monkeypatch, STRIP, told=[2, 3]) == told
    assert ended(monkeypatch, NOTHING, told=[1, 2]) == told
    for own in (unsure(STRIP), PLANE, FIVE):
        assert ended(monkeypatch, own=own) == ([], [])
    assert ended(monkeypatch, long=False) == ([], [])
    assert ended(monkeypatch, ends=()) == ([], [])
    assert ended(monkeypatch, ends=(0, 1, 10)) == ([], [])
    # one corner alone, of three faces with what they show
    parts, lines = ended(monkeypatch, ends=(2,))
    assert [(len(f), s) for f, s in parts] == [(9, "p2"), (3, "C5")]
    assert lines == [2]


def test_what_a_line_cuts_off_by_little_goes_with_the_side(monkeypatch) -> None:
    # a hundredth of the side's area of 100 mm²
    for area, count in ((0.99, 2), (1.01, 3)):
        areas = [area] + [10.0] * 11
        parts, _ = ended(monkeypatch, area=areas)
        assert len(parts) == count
        assert (1 in parts[0][0]) is (count == 2)


def test_rows_side_by_side_are_one_pattern(monkeypatch) -> None:
    parts = [Part(some(4, 4 * k + 1), STRIP) for k in range(4)]
    beside = [(4 * k + j, 4 * k + 4 + j) for k in range(3) for j in range(1, 5)]
    drawing = mesh(16, beside)

    def joined(found, own=parts):
        asked = given(monkeypatch, rows, own_symmetry=found)
        own = [Part(p.faces, p.symmetry) for p in own]
        told = rows.joined_rows(drawing, None, own)
        return [len(p.faces) for p in told], asked

    assert joined(PLANE)[0] == [16]
    for found in (unsure(PLANE), STRIP, FIVE):
        assert joined(found)[0] == [4] * 4
    # two rows are none, but with a piece of a plane pattern in doubt
    assert joined(PLANE, parts[:2])[0] == [4, 4]
    both = [
        parts[0],
        Part(parts[1].faces, unsure(replace(PLANE, lattice=STRIP.lattice))),
    ]
    assert joined(PLANE, both)[0] == [8]
    sure = [parts[0], Part(parts[1].faces, replace(PLANE, lattice=STRIP.lattice))]
    assert joined(PLANE, sure)[0] == [4, 4]
    # what has fewer turns than each of its rows is not theirs: those of one group are
    # tried for themselves
    mixed = [*parts[:3], Part(parts[3].faces, FULL)]
    one = symmetry("plane", "p1")
    told, asked = joined(one, mixed)
    assert told == [4] * 4
    assert [len(k[0][2]) for k in asked["own_symmetry"]] == [16, 12, 4][:2]
    told, asked = joined(lambda a, m, faces: PLANE if len(faces) == 12 else one, mixed)
    assert told == [4, 12]


def test_rows_are_linked_by_three_edges(monkeypatch) -> None:
    one, two = Part(some(4), STRIP), Part(some(4, 5), STRIP)
    for count, linked in ((3, 1), (2, 2)):
        drawing = mesh(8, [(j, 4 + j) for j in range(1, count + 1)])
        told = rows._linked(drawing, [one, two], lambda a, b: True)
        assert len(told) == linked
        assert len(rows._linked(drawing, [one, two], lambda a, b: False)) == 2


def test_wheels_take_what_turns_with_them(monkeypatch) -> None:
    def along(claims, *, found=FIVE, ring=None, own=None, plain=None):
        left = iter([*claims, []])
        wheel = Part(some(5), found)
        parts = [wheel]
        asked = given(
            monkeypatch,
            middles,
            claim_turned=lambda a, free, faces, found: np.array(next(left), np.int64),
            _turning_oftener=ring,
            own_symmetry=own or found,
        )
        plain = [some(5, 6), some(3, 11)] if plain is None else plain
        told = middles.turned_along(None, None, parts, plain)
        return wheel, parts, [p.tolist() for p in told], asked

    wheel, parts, left, asked = along([[6, 7], [8]])
    assert wheel.faces.tolist() == list(range(1, 9))
    assert left == [[9, 10], [11, 12, 13]]
    assert len(asked["claim_turned"]) == 3
    assert asked["claim_turned"][1][0][1].tolist() == [8, 9, 10, 11, 12, 13]
    assert wheel.symmetry is FIVE
    _, _, left, asked = along([[6, 7, 8, 9, 10], [11, 12, 13]])
    assert (left, len(asked["claim_turned"])) == ([], 2)
    for other in (TWO, unsure(FIVE), PLANE):
        wheel, _, left, asked = along([[6]], found=other)
        assert (len(wheel.faces), len(left), asked["claim_turned"]) == (5, 2, [])
    wheel, _, left, asked = along([[]])
    assert (len(wheel.faces), asked["_turning_oftener"]) == (5, [])
    # what turns more often than it is a zone of its own
    ring = Part(some(2, 6), TEN)
    wheel, parts, _, _ = along([[6, 7]], ring=ring)
    assert (wheel.faces.tolist(), parts[1]) == ([1, 2, 3, 4, 5], ring)
    # a wheel may have mirrors that what lies round it has not
    for own, taken in (
        (FIVE, True),
        (unsure(FIVE), False),
        (NINE, False),
        (symmetry("rosette", "C5"), True),
    ):
        wheel, *_ = along([[6]], found=FIVE_MIRRORS, own=own)
        assert wheel.symmetry is (own if taken else FIVE_MIRRORS)
    wheel, *_ = along([[6]], own=FIVE_MIRRORS)
    assert wheel.symmetry is FIVE


def test_a_ring_turns_twice_as_often_about_the_same_centre(monkeypatch) -> None:
    measures = measures_of([10.0] * 40)
    x, y = FIVE.centre

    def oftener(count, found):
        given(monkeypatch, middles, own_symmetry=found)
        zone = Part(some(5 + count), FIVE)
        told = middles._turning_oftener(None, measures, some(5), zone)
        return None if told is None else told.faces.tolist()

    assert oftener(10, TEN) == list(range(6, 16))
    assert oftener(9, TEN) is None
    for other in (NINE, unsure(TEN), STRIP):
        assert oftener(10, other) is None
    # within a quarter of 10 mm
    for off, told in ((2.4, True), (2.6, False)):
        aside = replace(TEN, centre=(x, y + off))
        assert (oftener(10, aside) is not None) is told
    assert oftener(10, replace(TEN, centre=None)) is None


def test_all_turn_together_where_no_pattern_of_most_is_sure(monkeypatch) -> None:
    def together(found, *parts):
        given(monkeypatch, middles, find_symmetry=found)
        return middles.turning_together(None, some(20), list(parts))

    assert together(FIVE) is FIVE
    for other in (TWO, unsure(FIVE), PLANE, NOTHING):
        assert together(other) is None
    assert together(FIVE, Part(some(10), PLANE)) is FIVE
    assert together(FIVE, Part(some(11), PLANE)) is None
    assert together(FIVE, Part(some(6), PLANE), Part(some(5, 7), STRIP)) is None
    assert together(FIVE, Part(some(11), unsure(PLANE))) is FIVE
    assert together(FIVE, Part(some(11), FIVE)) is FIVE


def merged(patch, one, two, both, kinds=(3, 3, 6), off=0.0):
    """Return the groups left of two rosettes, and of another part."""
    x, y = FIVE.centre
    two = replace(two, centre=(x + off, y)) if two.centre else two
    parts = [Part(some(4), one), Part(some(5, 5), two), Part(some(6, 10), PLANE)]
    given(
        patch,
        middles,
        find_symmetry=both,
        count_kinds=lambda a, m, faces, found: dict(zip((4, 5, 9), kinds, strict=True))[
            len(faces)
        ],
    )
    told = middles.merge_rosettes(None, measures_of([10.0] * 20), parts)
    return [(len(p.faces), p.symmetry.group.short) for p in told], told


@pytest.mark.parametrize(
    ("one", "two", "both", "joined"),
    [
        (FIVE, FIVE, FIVE, "C5"),
        (FIVE, FIVE, unsure(FIVE), "C5"),
        (FIVE, unsure(FIVE), FIVE, "C5"),
        (unsure(FIVE), unsure(FIVE), FIVE, ""),
        (FIVE, unsure(FIVE), unsure(FIVE), ""),
        (FIVE, TEN, FIVE, ""),
        (FIVE, FIVE, TEN, ""),
        (FIVE, FIVE, NOTHING, ""),
        # each is sure of turns alone, whatever mirrors fit the lines of both
        (FIVE, FIVE_MIRRORS, unsure(FIVE), "C5"),
        (FIVE, FIVE_MIRRORS, unsure(FIVE_MIRRORS), ""),
        (FIVE_MIRRORS, FIVE_MIRRORS, unsure(FIVE_MIRRORS), "D5"),
        (FIVE, FIVE_MIRRORS, FIVE_MIRRORS, "D5"),
    ],
)
def test_rosettes_about_one_centre_are_one(monkeypatch, one, two, both, joined):
    told, parts = merged(monkeypatch, one, two, both)
    apart = [(4, one.group.short), (5, two.group.short), (6, "p4")]
    assert told == ([(6, "p4"), (9, joined)] if joined else apart)
    if joined:
        assert parts[1].symmetry.certain
        # a tenth of the smallest face, and no more kinds together
        assert len(merged(monkeypatch, one, two, both, off=0.9)[0]) == 2
        assert len(merged(monkeypatch, one, two, both, off=1.1)[0]) == 3
        assert len(merged(monkeypatch, one, two, both, kinds=(3, 3, 7))[0]) == 3


def test_a_part_of_few_regions_stands_alone_in_doubt(monkeypatch) -> None:
    measures = measures_of([10.0] * 99)

    def doubted(found, count, *others, kinds=1, like=0.0, corners=False, **facts):
        part = Part(some(count), found, **facts)
        asked = given(
            monkeypatch,
            alone,
            count_kinds=kinds,
            _share_like=like,
            stand_in_corners=corners,
        )
        told = alone.with_doubt_alone(None, measures, part, [part, *others])
        assert told is found or not told.certain
        return told.reason if told is not found else "", asked

    three = symmetry("rosette", "C3")
    assert doubted(three, 5)[0] == alone.TOO_FEW
    assert doubted(three, 6)[0] == ""
    assert doubted(NINE, 5)[0] == ""
    for other in (unsure(three), STRIP, PLANE):
        assert doubted(other, 5)[0] == ""
    # many turns must carry some region onto another
    many = symmetry("rosette", "C25")
    less = symmetry("rosette", "C24")
    for found, count, kinds, told in (
        (many, 11, 11, alone._EACH_ALONE),
        (many, 12, 12, ""),
        (many, 11, 10, ""),
        (less, 11, 11, ""),
        (unsure(many), 11, 11, ""),
    ):
        assert doubted(found, count, kinds=kinds)[0] == told
    # where lines stray so must few
    stray = Part(some(9, 50), replace(FIVE, residual=0.051))
    near = Part(some(9, 50), replace(FIVE, residual=0.049))
    doubtful = Part(some(9, 50), unsure(replace(FIVE, residual=0.051)))
    for other, kinds, told in (
        (stray, 6, alone._EACH_ALONE),
        (stray, 5, ""),
        (near, 6, ""),
        (doubtful, 6, ""),
    ):
        assert doubted(three, 6, other, kinds=kinds)[0] == told
    # twins stand for it
    twins = [Part(some(5, 10 * k + 20), three, copy=True) for k in range(3)]
    assert doubted(three, 5, *twins)[0] == ""
    assert doubted(three, 5, *twins[:2])[0] == alone.TOO_FEW
    # four like it, but for corners, are enough
    like = [Part(some(6, 10 * k + 20), three) for k in range(4)]
    assert doubted(three, 6, *like)[0].startswith("it stands there 5 times")
    assert doubted(three, 6, *like[:3])[0] == ""
    assert doubted(three, 6, *like, corners=True)[0] == ""


def test_what_is_like_a_field_may_be_a_piece_of_it(monkeypatch) -> None:
    measures = measures_of([10.0] * 99)
    half = symmetry("rosette", "C2")

    def piece(found, count, field=12, of=PLANE, like=0.6):
        part = Part(some(count), found)
        asked = given(monkeypatch, alone, count_kinds=1, _share_like=like)
        told = alone.with_doubt_alone(
            None, measures, part, [part, Part(some(field, 40), of)]
        )
        turning = asked.names("_share_like")
        return told.reason.startswith("its regions are like those of a field"), turning

    assert piece(half, 11) == (True, [{"turning": True}])
    assert not piece(half, 11, like=0.59)[0]
    assert piece(half, 12)[1] == []
    assert piece(half, 11, field=11)[1] == []
    assert piece(half, 11, of=STRIP)[1] == []
    assert piece(symmetry("rosette", "C3"), 11)[1] == []
    assert piece(unsure(half), 11)[1] == []
    # four for each of a strip
    assert piece(STRIP, 3, field=12) == (True, [{"turning": False}])
    assert piece(STRIP, 4, field=15)[1] == []
    assert piece(STRIP, 4, field=16)[0]


def test_what_lies_beyond_a_cut_may_turn_more_often(monkeypatch) -> None:
    def more(found, hits, asked=None, cut=True):
        count = 10
        given(
            monkeypatch,
            halves,
            _asked=lambda a, m, faces, finer: (
                np.ones((len(finer.operations) - 1, count), bool)
                if cut and asked is None
                else asked
            ),
            turned_faces=lambda a, m, faces, finer: hits(len(finer.operations) - 1),
        )
        told = halves.turning_more(None, None, some(count), found)
        return told and (told.group.short, told.candidates[0].fit)

    def share(part, only=None):
        def told(operations):
            hit = np.zeros((operations, 10), bool)
            hit[:, : round(10 * part)] = only is None or operations in only
            return hit

        return told

    three = symmetry("rosette", "C3")
    assert more(three, share(0.6)) == ("C6", pytest.approx(0.6))
    assert more(three, share(0.5)) is None
    # twice as often, or three times
    assert more(three, share(0.6, only=(8,))) == ("C9", pytest.approx(0.6))
    assert more(three, share(0.6), cut=False) is None
    mirrored = symmetry("rosette", "D3")
    assert more(mirrored, share(0.6))[0] == "D6"
    # operations that were found already have no say: of C6 the second and the fourth
    known = np.zeros((5, 10), bool)
    known[[1, 3]] = True
    assert more(three, lambda n: known if n == 5 else np.zeros((n, 10), bool)) is None
    between = ~known
    told = more(three, lambda n: between if n == 5 else np.zeros((n, 10), bool))
    assert told == ("C6", 1.0)
    # of D6 mirrors by turns
    known = np.zeros((11, 10), bool)
    known[[1, 3, 5, 7, 9]] = True
    assert (
        more(mirrored, lambda n: known[:n] if n == 11 else np.zeros((n, 10), bool))
        is None
    )
    wide = symmetry("rosette", "C200")
    assert more(wide, share(1.0)) is None


def test_strangers_turn_with_too_few(monkeypatch) -> None:
    turned = np.array(
        [[1, 1, 1, 0], [1, 1, 0, 0], [1, 1, 0, 0], [1, 0, 0, 0], [1, 0, 0, 1]]
    )

    turned = turned.astype(bool)

    def told(asked=None, turned=turned):
        given(monkeypatch, halves, turned_faces=turned, _asked=asked)
        strange, some_ = halves.strangers(None, None, some(turned.shape[1]), FIVE)
        return strange.tolist(), some_.tolist()

    # five, three, one and one of five operations: six tenths are three
    assert told() == ([False, False, True, True], [False] * 4)
    four = turned.copy()
    four[0, 1] = False
    assert told(turned=four) == ([False, True, True, True], [False, True, False, False])
    # of those asked alone
    asked = np.zeros((5, 4), bool)
    asked[:2] = True
    assert told(asked)[0] == [False, False, True, True]
    asked[0, 2] = True
    asked[1, 2] = False
    assert told(asked)[0] == [False, False, False, True]
    assert told(turned=np.zeros((0, 4), bool))[0] == [False] * 4


def test_rosettes_amid_doubt_hold_islands_or_few_regions(monkeypatch) -> None:
    own = Part(some(11), FIVE, "medallion")
    doubt = [Part(some(3, 20 + 3 * k), unsure(NOTHING)) for k in range(3)]

    def told(part, beside, plain=(), holds=False):
        given(
            monkeypatch,
            rims,
            _sure_rosettes=[(part, beside)],
            _holds=holds,
        )
        amid = rims.amid_doubt(None, [], list(plain)) == [part]
        return amid, rims.small_amid_doubt(None, []) == [part]

    assert told(own, doubt) == (True, True)
    assert told(own, doubt[:2]) == (False, True)
    assert told(own, []) == (False, False)
    assert told(Part(some(12), FIVE, "medallion"), doubt) == (False, False)
    assert told(Part(some(11), FIVE, "field"), doubt) == (True, False)
    sure = [*doubt, Part(some(3, 60), NOTHING)]
    assert told(own, sure) == (False, False)
    same = [*doubt, Part(some(11, 60), FIVE)]
    assert told(own, same) == (True, True)
    # few turns round islands of none
    few = Part(some(20), TWO, "medallion")
    assert told(few, [], [some(2, 70)], holds=True)[0]
    assert not told(few, [], [], holds=True)[0]
    assert not told(few, [], [some(2, 70)])[0]
    assert told(few, doubt[:1], holds=True)[0]
    assert not told(Part(some(20), FIVE), [], [some(2, 70)], holds=True)[0]
