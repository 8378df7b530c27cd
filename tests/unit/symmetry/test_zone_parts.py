"""Zones in the making: what they say beside each other, and what each is called."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.lines.assemble import rosette_symmetry
from fillwork.symmetry.lines.mirrors import RosetteFit
from fillwork.symmetry.model import Lattice, Symmetry
from fillwork.symmetry.zones.alone import _as_large, _shown_elsewhere, with_doubt_alone
from fillwork.symmetry.zones.find import _apart, _too_large
from fillwork.symmetry.zones.making import (
    PLAIN,
    TOO_FEW,
    Part,
    count_kinds,
    in_order,
    orbit_numbers,
    plain_part,
    told_apart,
)
from fillwork.symmetry.zones.middles import leaves_out
from fillwork.symmetry.zones.rims import (
    _share_like,
    _states,
    amid_doubt,
    small_amid_doubt,
)
from fillwork.symmetry.zones.rows import (
    _holds,
    _one_pattern,
    _one_repeat,
    rows_beside,
)
from fillwork.symmetry.zones.whole import outdone, repeats_finer
from tests.unit.helpers import circle, line, linework_from_curves
from tests.unit.symmetry.test_elements import symmetry


def grid(xs, ys, *more, wide=100.0, high=100.0):
    """Return cells between level and upright lines."""
    rows = [(xs[0], y, xs[-1], y) for y in ys] + [(x, ys[0], x, ys[-1]) for x in xs]
    lines = [line(*map(float, r)) for r in rows]
    work = linework_from_curves([*lines, *more], wide, high, has_page=False)
    return build_arrangement(work, close_gaps=0.0)


def cells(drawing, x0, y0, x1, y1) -> np.ndarray:
    """Return the faces of which a point inside lies in a box."""
    x, y = drawing.witness[1:].T
    inside = (x > x0) & (x < x1) & (y > y0) & (y < y1)
    return (1 + np.flatnonzero(inside)).astype(np.int32)


def part(found: Symmetry, count: int = 10, role: str = "") -> Part:
    return Part(np.arange(1, count + 1, dtype=np.int32), found, role)


NOTHING = Symmetry(NO_GROUP)
DOUBTFUL = replace(NOTHING, certain=False)


def strip(repeats: float, short: str = "p1", **facts) -> Symmetry:
    return symmetry("frieze", short, repeats_seen=repeats, **facts)


@pytest.mark.parametrize(
    ("together", "parts", "told"),
    [
        # a rosette of more than a third of the regions, where the whole is in doubt
        (DOUBTFUL, [part(symmetry("rosette", "C5"), 11), part(NOTHING, 21)], True),
        (DOUBTFUL, [part(symmetry("rosette", "C5"), 9), part(NOTHING, 21)], True),
        (
            strip(2, certain=False),
            [part(symmetry("rosette", "C5"), 7), part(NOTHING, 13)],
            True,
        ),
        (
            strip(2, certain=False),
            [part(symmetry("rosette", "C5"), 6), part(NOTHING, 14)],
            False,
        ),
        (strip(2, certain=False), [part(symmetry("rosette", "C4"), 20)], False),
        (strip(2), [part(symmetry("rosette", "C5"), 20)], False),
        # where the whole returns less than twice and a part four times
        (strip(1.9), [part(strip(4.0))], True),
        (strip(1.9), [part(strip(3.9))], False),
        (strip(2.0), [part(strip(4.0))], False),
        (strip(1.9), [part(strip(4.0, certain=False))], False),
        # the sides of a border are four friezes, and a frame has eight operations
        (symmetry("rosette", "D4"), [part(strip(2))] * 4, True),
        (symmetry("rosette", "D4"), [part(strip(2))] * 3, False),
        (symmetry("rosette", "C9"), [part(strip(2))] * 4, False),
        # most of the regions lie in strips that return twice as often as turns do
        (
            symmetry("rosette", "C9"),
            [part(strip(4.5, "p2mm"), 6), part(NOTHING, 5)],
            True,
        ),
        (
            symmetry("rosette", "C9"),
            [part(strip(4.5, "p2mm"), 5), part(NOTHING, 5)],
            False,
        ),
        (symmetry("rosette", "C9"), [part(strip(4.4, "p2mm"), 9)], False),
        # or one part turns twice as often
        (
            symmetry("rosette", "C4"),
            [part(symmetry("rosette", "D4")), part(NOTHING, 99)],
            True,
        ),
        (
            symmetry("rosette", "C4"),
            [part(symmetry("rosette", "C7")), part(NOTHING, 99)],
            False,
        ),
        (NOTHING, [part(symmetry("rosette", "C2")), part(NOTHING, 99)], True),
    ],
)
def test_parts_outdo_a_whole_that_returns_less_often(together, parts, told) -> None:
    assert outdone(together, parts) is told


def test_parts_repeat_finer_than_a_whole_of_common_multiples() -> None:
    for whole, own, told in ((2.0, 4.0, True), (2.0, 3.9, False), (4.0, 5.9, False)):
        assert repeats_finer(strip(whole), [part(strip(own))]) is told
    assert repeats_finer(strip(4.0), [part(strip(6.0))])
    # of more than half of the regions, and surely
    for count, told in ((11, True), (10, False)):
        some = [part(strip(9.0), count), part(NOTHING, 10)]
        assert repeats_finer(strip(2.0), some) is told
    assert not repeats_finer(strip(2.0), [part(strip(9.0, certain=False))])
    assert not repeats_finer(strip(2.0), [part(symmetry("rosette", "C5"))])


def test_few_regions_that_show_nothing_are_in_doubt() -> None:
    few, enough = np.arange(11, dtype=np.int32), np.arange(12, dtype=np.int32)
    told = told_apart(few, NOTHING)
    assert (told.certain, told.reason) == (False, TOO_FEW)
    assert told_apart(enough, NOTHING) is NOTHING
    turning = symmetry("rosette", "C3")
    assert told_apart(few, turning) is turning
    plain = plain_part([np.array([7, 3], np.int32), np.array([5], np.int32)])
    assert plain.faces.tolist() == [3, 5, 7]
    assert plain.symmetry.reason == PLAIN


# lines of a frame 15 mm wide, with squares in its corners and a disc in the field
PANEL = grid(
    [0.0, 15, 85, 100], [0.0, 15, 85, 100], circle(50, 50, 12), circle(50, 50, 6)
)


def test_parts_of_a_panel_are_called_by_where_they_lie() -> None:
    inner = cells(PANEL, 15, 15, 85, 85)
    disc = inner[PANEL.area[inner] < 500]
    field = np.setdiff1d(inner, disc).astype(np.int32)
    sides = [cells(PANEL, 15, 0, 85, 15), cells(PANEL, 0, 15, 15, 85)]
    corner = cells(PANEL, 0, 0, 15, 15)
    far = cells(PANEL, 85, 85, 100, 100)
    parts = [
        Part(corner, NOTHING),
        Part(sides[0], strip(3)),
        Part(far, NOTHING),
        Part(disc, symmetry("rosette", "D8")),
        Part(sides[1], strip(3)),
        Part(field, symmetry("plane", "p4")),
    ]
    told = in_order(PANEL, parts)
    assert [p.role for p in told] == [
        "field",
        "border",
        "border",
        "medallion",
        "corner",
        "corner",
    ]
    area = [float(PANEL.area[p.faces].sum()) for p in told]
    assert area == sorted(area, reverse=True)
    # of one area the one with the lowest face comes first
    assert told[1].faces[0] < told[2].faces[0]
    alone = in_order(PANEL, [Part(field, NOTHING)])
    assert alone[0].role == ""


def test_a_second_pattern_is_a_field_where_it_is_large_or_at_the_edge() -> None:
    # three bands side by side: 50, 30 and 20 mm wide and 60 mm high
    drawing = grid([0.0, 50, 80, 100], [0.0, 60])
    wide, middle, edge = (
        cells(drawing, a, 0, b, 60) for a, b in ((0, 50), (50, 80), (80, 100))
    )
    plane, turning = symmetry("plane", "p2"), symmetry("rosette", "C3")

    def roles(one, two):
        parts = [Part(wide, plane), Part(middle, one), Part(edge, two)]
        return [p.role for p in in_order(drawing, parts)]

    # the edge one is three times as high as wide
    assert roles(plane, plane) == ["field", "field", "border"]
    assert roles(turning, plane) == ["field", "medallion", "border"]
    assert roles(NOTHING, plane) == ["field", "border", "border"]
    # a frame that reaches all four sides is a border whatever its shape
    ring = grid([0.0, 10, 90, 100], [0.0, 10, 90, 100])
    field = cells(ring, 10, 10, 90, 90)
    round_it = np.setdiff1d(np.arange(1, ring.face_count), field).astype(np.int32)
    told = in_order(ring, [Part(round_it, NOTHING), Part(field, plane)])
    assert [p.role for p in told] == ["field", "border"]


def test_kinds_are_counted_as_orbits_of_squares() -> None:
    drawing = grid([5.0, 35, 65, 95], [5.0, 35, 65, 95])
    measures, faces = measure_faces(drawing), np.arange(1, 10, dtype=np.int32)
    middle = np.array([50.0, 50])

    def turned(n, mirror):
        return rosette_symmetry(RosetteFit(n, mirror, middle, 0, 1.0, 0.0))

    # the middle, four at its sides and four at its corners; halves of them by a mirror
    for found, kinds in (
        (turned(4, 0.0), 3),
        (turned(4, None), 3),
        (turned(2, None), 5),
        (turned(1, 0.0), 6),
        (turned(1, np.pi / 4), 6),
        (turned(2, 0.0), 4),
        (NOTHING, 9),
    ):
        assert count_kinds(drawing, measures, faces, found) == kinds
    strips = symmetry("frieze", "p1")
    along = replace(strips, lattice=Lattice(np.array([[30.0, 0]]), "line"))
    number = orbit_numbers(drawing, measures, faces, along)
    rows = np.rint(drawing.witness[faces, 1]).astype(int)
    assert len(set(number.tolist())) == 3
    assert len(set(zip(number.tolist(), rows.tolist(), strict=True))) == 3
    both = replace(strips, lattice=Lattice(30 * np.eye(2), "square"))
    assert count_kinds(drawing, measures, faces, both) == 1
    # two of the squares lie beside nothing that a shift of 60 mm carries them onto
    far = replace(strips, lattice=Lattice(np.array([[60.0, 0]]), "line"))
    assert count_kinds(drawing, measures, faces, far) == 6


LEVEL = [[24.0, 0]]


@pytest.mark.parametrize(
    ("basis", "others", "told"),
    [
        (LEVEL, [[24.7, 0]], True),  # 0.03 of 24.7
        (LEVEL, [[24.8, 0]], False),
        (LEVEL, [[-24, 0.7]], True),
        (LEVEL, [[48, 0]], False),  # a strip's own shift alone
        (LEVEL, [[24, 0], [0, 20]], False),
        ([[24, 0], [0, 20]], LEVEL, True),
        ([[24, 0], [0, 20]], [[72, 0]], True),  # three times its own at most
        ([[24, 0], [0, 20]], [[96, 0]], False),
        ([[24, 0], [0, 20]], [[24, 40], [-48, 20]], True),
        ([[24, 0], [0, 20]], [[12, 0]], False),
    ],
)
def test_a_lattice_holds_the_shifts_of_another(basis, others, told) -> None:
    assert _holds(np.array(basis, float), np.array(others, float)) is told


def test_two_strips_are_of_one_repeat_by_group_and_shift() -> None:
    one, other = strip(3, "p2"), strip(3, "p1")
    assert _one_repeat(one, one)
    assert not _one_repeat(one, other)
    assert _one_pattern(one, other)
    far = replace(one, lattice=Lattice(2 * one.lattice.basis, "line"))
    assert not _one_repeat(one, far)
    assert not _one_pattern(one, NOTHING)
    assert not _one_pattern(NOTHING, one)
    # whichever of two is the finer
    plane = replace(one, lattice=Lattice(np.array([[5.0, 0], [0, 7]]), "rectangular"))
    assert _one_pattern(one, plane) is _one_pattern(plane, one)


def test_rows_of_a_pattern_are_three_of_one_repeat_side_by_side() -> None:
    drawing = grid(np.arange(0.0, 101, 20), [0.0, 20, 40, 60, 80])
    rows = [cells(drawing, 0, y, 100, y + 20) for y in (0, 20, 40, 60)]
    found = strip(5)

    def told(*of):
        parts = [Part(f, s) for f, s in zip(rows, of, strict=True)]
        some = rows_beside(drawing, parts)
        return [k for k, p in enumerate(parts) if any(p is q for q in some)]

    other = strip(5, "p2")
    assert told(found, found, found, found) == [0, 1, 2, 3]
    assert told(found, found, found, other) == [0, 1, 2]
    assert told(found, found, other, found) == []
    unsure = replace(found, certain=False)
    assert told(found, unsure, found, found) == [0, 2, 3]
    assert told(found, found, found, NOTHING) == [0, 1, 2]


def test_centres_that_turns_of_the_whole_leave_out_are_told() -> None:
    arrangement = SimpleNamespace(area=np.array([0.0, 100, 100, 100]))
    # the centre is at (20, -30); 0.25 roots of an area of 100 mm² are 2.5 mm
    four = symmetry("rosette", "C4")

    def medallion(x, y, short="D8"):
        return part(replace(symmetry("rosette", short), centre=(x, y)))

    assert not leaves_out(arrangement, four, [medallion(20, -30)])
    assert not leaves_out(arrangement, four, [medallion(21.2, -30)])
    assert leaves_out(arrangement, four, [medallion(22.0, -30)])
    round_it = [
        medallion(20 + x, -30 + y) for x, y in ((9, 0), (0, 9), (-9, 0), (0, -9))
    ]
    assert not leaves_out(arrangement, four, round_it)
    assert leaves_out(arrangement, four, round_it[:3])
    # what turns seldom, or not surely, has no say; nor beside shifts
    assert not leaves_out(arrangement, four, [medallion(40, -30, "D2")])
    unsure = medallion(40, -30)
    unsure.symmetry = replace(unsure.symmetry, certain=False)
    assert not leaves_out(arrangement, four, [unsure])
    assert not leaves_out(arrangement, strip(3), [medallion(40, -30)])
    assert not leaves_out(arrangement, four, [])


def measures_of(sizes, lengths=None):
    size = np.array(sizes, float)
    length = 4 * size if lengths is None else np.array(lengths, float)
    middle = np.column_stack([np.arange(len(size)) * 30.0, np.zeros(len(size))])
    return SimpleNamespace(
        size=size, length=length, inscribed=size / 2, centroid=middle
    )


def test_regions_are_like_others_by_size_and_boundary() -> None:
    # 0.02 of each, and once or four times what lines stray by
    measures = measures_of([10, 10.19, 10.21, 10.29, 10.31], [40, 40, 40, 40, 40])
    one = np.array([0])
    for noise, like in ((0.0, [1, 0, 0, 0]), (0.1, [1, 1, 1, 0])):
        told = [_share_like(measures, one, np.array([k]), noise) for k in (1, 2, 3, 4)]
        assert told == like
    measures = measures_of([10] * 5, [40, 40.79, 40.81, 41.21, 50])
    told = [_share_like(measures, one, np.array([k]), 0.0) for k in (1, 2, 3)]
    assert told == [1, 0, 0]
    told = [_share_like(measures, one, np.array([k]), 0.1) for k in (1, 2, 3)]
    assert told == [1, 1, 0]
    both = np.array([0, 4])
    assert _share_like(measures, both, np.array([1]), 0.0) == 0.5


def test_parts_about_a_rosette_but_for_its_own_sort_say_whether_they_are_sure() -> None:
    own = part(symmetry("rosette", "C5"), 6)
    beside = [
        part(symmetry("rosette", "C5"), 6),
        part(symmetry("rosette", "C5"), 7),
        part(DOUBTFUL, 6),
    ]
    assert _states(own, beside) == [True, False]


def test_a_rosette_amid_doubt_is_told() -> None:
    drawing = grid([0.0, 30, 60, 90], [0.0, 30, 60, 90])
    own = cells(drawing, 30, 30, 60, 60)
    sides = [
        cells(drawing, 30, 0, 60, 30),
        cells(drawing, 0, 30, 30, 60),
        cells(drawing, 60, 30, 90, 60),
        cells(drawing, 30, 60, 60, 90),
    ]
    turning = Part(own, symmetry("rosette", "C5"), "medallion")

    def parts(*states):
        some = zip(sides, states, strict=False)
        return [turning, *(Part(f, NOTHING if s else DOUBTFUL) for f, s in some)]

    three = parts(False, False, False)
    assert amid_doubt(drawing, three, []) == [turning]
    assert amid_doubt(drawing, three[:3], []) == []
    assert amid_doubt(drawing, parts(False, False, False, True), []) == []
    assert small_amid_doubt(drawing, three[:2]) == [turning]
    assert small_amid_doubt(drawing, parts(False, True)) == []
    assert small_amid_doubt(drawing, [turning]) == []
    border = Part(own, turning.symmetry, "border")
    assert small_amid_doubt(drawing, [border, *three[1:]]) == []
    # what is not sure of itself, or turns not at all, is left as it is
    unsure = Part(own, replace(turning.symmetry, certain=False), "medallion")
    for other in (unsure, Part(own, strip(3), "medallion")):
        assert amid_doubt(drawing, [other, *three[1:]], []) == []
        assert small_amid_doubt(drawing, [other, *three[1:]]) == []


def test_islands_of_none_put_few_turns_in_doubt() -> None:
    # four squares, each with a disc that is of no zone, and one more outside of them
    discs = [circle(x, y, 6) for x in (25, 75) for y in (25, 75)]
    drawing = grid(
        [0.0, 50, 100], [0.0, 50, 100], *discs, circle(150, 50, 6), wide=200.0
    )
    own = np.flatnonzero(drawing.area > 1000)[:4].astype(np.int32)
    plain = np.setdiff1d(np.arange(1, drawing.face_count), own).astype(np.int32)
    for short, told in (("C4", True), ("C5", False)):
        turning = Part(own, symmetry("rosette", short))
        assert (amid_doubt(drawing, [turning], [plain]) == [turning]) is told
    turning = Part(own, symmetry("rosette", "C4"))
    # three islands are too few
    within = plain[drawing.witness[plain, 0] < 100]
    assert len(within) == 4
    assert amid_doubt(drawing, [turning], [within]) == [turning]
    assert amid_doubt(drawing, [turning], [within[:3]]) == []
    assert amid_doubt(drawing, [turning], []) == []


def test_a_face_that_covers_its_own_images_is_too_large() -> None:
    drawing = grid([0.0, 10, 20, 30, 100], [0.0, 10, 20])
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    lattice = Lattice(np.array([[10.0, 0], [0, 10]]), "square")
    found = replace(symmetry("plane", "p1"), lattice=lattice)
    told = _too_large(drawing, faces, found)
    assert drawing.area[faces[told]] == pytest.approx([700, 700])
    assert told.sum() == 2
    for other in (NOTHING, strip(3)):
        assert not _too_large(drawing, faces, other).any()
    wide = replace(found, lattice=Lattice(19 * np.eye(2), "square"))
    # 700 mm² are less than two repeats of 361
    assert not _too_large(drawing, faces, wide).any()
    wide = replace(found, lattice=Lattice(18 * np.eye(2), "square"))
    assert _too_large(drawing, faces, wide).sum() == 2
    # where three are larger the repeat is wrong
    three = grid([0.0, 10, 20, 30, 100], [0.0, 10, 20, 30])
    faces = np.arange(1, three.face_count, dtype=np.int32)
    assert not _too_large(three, faces, found).any()


def test_faces_of_a_group_fall_into_what_hangs_together() -> None:
    drawing = grid([0.0, 20, 40, 60], [0.0, 20, 40])
    left, right = cells(drawing, 0, 0, 20, 40), cells(drawing, 40, 0, 60, 40)
    group = np.sort(np.concatenate([left, right]))
    pieces = _apart(drawing, group)
    assert sorted(p.tolist() for p in pieces) == sorted([left.tolist(), right.tolist()])
    assert len(_apart(drawing, np.arange(1, 7, dtype=np.int32))) == 1


def test_a_part_again_where_a_hand_missed_less_shows_its_group() -> None:
    # of ten regions or eleven, and of about the area
    measures = measures_of([10.0] * 80)
    plain = Part(np.arange(10, dtype=np.int32), NOTHING)
    turning = symmetry("rosette", "C5")

    def other(first, count, found=turning):
        return Part(np.arange(first, first + count, dtype=np.int32), found)

    assert _shown_elsewhere(measures, plain, 1000.0, [plain, other(20, 11)]) == "C5"
    assert _shown_elsewhere(measures, plain, 1000.0, [plain, other(20, 12)]) == ""
    assert _shown_elsewhere(measures, plain, 1111.0, [plain, other(20, 10)]) == "C5"
    assert _shown_elsewhere(measures, plain, 1112.0, [plain, other(20, 10)]) == ""
    assert (
        _shown_elsewhere(measures, plain, 1000.0, [plain, other(20, 10, NOTHING)]) == ""
    )
    some = [other(0, 9), other(0, 10), other(0, 11), other(0, 12)]
    assert _as_large(measures, 1000.0, some) == some[:3]
    told = with_doubt_alone(None, measures, plain, [plain, other(20, 11)])
    assert (told.certain, told.reason) == (
        False,
        "a part as large and of as many regions shows C5",
    )
    assert with_doubt_alone(None, measures, plain, [plain]) is NOTHING


def test_few_regions_that_turn_are_sure_where_they_return() -> None:
    measures = measures_of([10.0] * 99)
    three = symmetry("rosette", "C3")

    def parts(copies, count):
        return [
            Part(
                np.arange(k * count, (k + 1) * count, dtype=np.int32), three, copy=k > 0
            )
            for k in range(copies + 1)
        ]

    def certain(copies, count):
        some = parts(copies, count)
        return with_doubt_alone(None, measures, some[0], some).certain

    # six regions, or three copies
    assert [certain(0, n) for n in (5, 6)] == [False, True]
    assert [certain(k, 5) for k in (2, 3)] == [False, True]
    # more than four that stand in no corners are pieces of more
    some = parts(5, 6)
    told = with_doubt_alone(None, measures, some[0], some)
    assert told.reason == "it stands there 6 times: it may be a piece of more"


@pytest.mark.parametrize(
    ("wide", "high", "field", "doubt"),
    [
        (10, 10, 36, True),
        (10.7, 10, 36, True),  # within a twelfth of the size
        (12, 10, 36, False),
        (10, 10, 16, True),
        (10, 10, 15, False),  # fewer than four for each of the strip
    ],
)
def test_a_strip_of_regions_like_a_field_may_be_a_piece_of_it(wide, high, field, doubt):
    step = np.arange(0.0, 61, 10)
    row = [line(wide * k, 80, wide * k, 80 + high) for k in range(5)]
    row += [line(0, y, 4 * wide, y) for y in (80, 80 + high)]
    drawing = grid(step, step, *row)
    measures = measure_faces(drawing)
    own = Part(cells(drawing, 0, 80, 90, 80 + high), strip(4.0))
    squares = cells(drawing, 0, 0, 60, 60)
    # those nearest the lower left corner, so that they lie side by side
    order = np.argsort(drawing.witness[squares] @ [1, 7.1], kind="stable")
    of = Part(np.sort(squares[order[:field]]), symmetry("plane", "p4m"))
    told = with_doubt_alone(drawing, measures, own, [own, of])
    assert told.certain is not doubt
    if doubt:
        said = "its regions are like those of a field: it may be a piece of it"
        assert told.reason == said
    # what is no plane pattern, or of few regions, is no field
    other = Part(of.faces, strip(4.0))
    assert with_doubt_alone(drawing, measures, own, [own, other]).certain
    few = Part(of.faces[:11], of.symmetry)
    assert with_doubt_alone(drawing, measures, own, [own, few]).certain


def test_many_turns_that_carry_no_region_onto_another_are_in_doubt() -> None:
    # rings about one middle are kept by every turn: three kinds of three regions
    rings = [circle(50, 50, r) for r in (10, 20, 30)]
    drawing = grid([200.0, 210], [0.0, 10], *rings, wide=220.0)
    measures = measure_faces(drawing)
    faces = cells(drawing, 20, 20, 80, 80)
    assert len(faces) == 3
    found = rosette_symmetry(RosetteFit(13, 0.0, np.array([50.0, 50]), 0, 1.0, 0.0))
    own = Part(faces, found)
    told = with_doubt_alone(drawing, measures, own, [own])
    said = "none of its operations carries a region onto another one"
    assert (told.certain, told.reason) == (False, said)
    # 24 operations are not so many
    fewer = rosette_symmetry(RosetteFit(12, 0.0, np.array([50.0, 50]), 0, 1.0, 0.0))
    own = Part(faces, fewer)
    assert with_doubt_alone(drawing, measures, own, [own]).reason != said
