"""Which faces hang together, of given frame lines and fields, and scraps by them."""

from __future__ import annotations

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.zones import parting, sides
from tests.unit.helpers import circle, line
from tests.unit.symmetry.answers import given, some
from tests.unit.symmetry.test_exchange_answers import at_rim, chain, mesh
from tests.unit.symmetry.test_small_panels import EVERY, MEASURES, SQUARES
from tests.unit.symmetry.test_zone_parts import cells, grid


def parted(patch, links, frame, fields, count=9, fewer=None, **answers):
    """Part faces 1 to `count`; `frame`: rows of links, `fields`: of each face."""
    drawing = mesh(count, links)
    barrier = np.isin(np.arange(len(links)), frame)
    number = np.full(count + 1, -1)
    number[list(fields)] = list(fields.values())
    usual = {
        "find_frame_edges": barrier,
        "find_fields": lambda a, m, f, barrier, label: (number.copy(), ["basis"]),
        "_without_lines_of_rows": barrier if fewer is None else fewer,
        "_with_scraps": lambda a, m, field, bases, label, open_edge: field,
        "_merge_alike": lambda a, m, f, label, barrier: label,
        "_join_small": lambda a, m, f, label: label,
    }
    asked = given(patch, parting, **usual | answers)
    groups, explained, lines = parting.part_faces(drawing, None, some(count))
    told = sorted(g.tolist() for g in groups)
    return told, explained.tolist(), np.flatnonzero(lines).tolist(), asked


ROW = chain(*range(1, 10))


def test_what_no_frame_parts_is_one(monkeypatch) -> None:
    whole = [list(range(1, 10))]
    for fields in ({}, dict.fromkeys(range(1, 10), 0)):
        told, explained, lines, asked = parted(monkeypatch, ROW, [], fields)
        assert (told, explained, lines) == (whole, [False] * 9, [])
        assert asked["_with_scraps"] == []
        assert asked["_without_lines_of_rows"] == []
    # a frame that parts nothing but edges to what lies outside
    told, *_ = parted(monkeypatch, [*ROW, (0, 3)], [8], {})
    assert told == whole


@pytest.mark.parametrize("number", [0, 1])
def test_a_field_parts_what_lies_on_both_sides_of_it(monkeypatch, number: int) -> None:
    fields = dict.fromkeys((4, 5, 6), number)
    told, explained, *_ = parted(monkeypatch, ROW, [], fields)
    assert told == [[1, 2, 3], [4, 5, 6], [7, 8, 9]]
    assert explained == [False] * 3 + [True] * 3 + [False] * 3


def test_frames_part_what_no_lattice_explains(monkeypatch) -> None:
    # between 3 and 4, and between 6 and 7
    told, explained, lines, _ = parted(monkeypatch, ROW, [2, 5], {})
    assert told == [[1, 2, 3], [4, 5, 6], [7, 8, 9]]
    assert (explained, lines) == ([False] * 9, [2, 5])
    # a field is one wherever lines lie, and parts the rest
    told, explained, lines, _ = parted(monkeypatch, ROW, [2], dict.fromkeys((4, 5), 0))
    assert told == [[1, 2, 3], [4, 5], [6, 7, 8, 9]]
    assert explained == [k in (4, 5) for k in range(1, 10)]
    # two fields side by side are two
    told, explained, *_ = parted(
        monkeypatch, ROW, [], {k: int(k > 4) for k in range(1, 10)}
    )
    assert told == [[1, 2, 3, 4], [5, 6, 7, 8, 9]]
    assert all(explained)
    # what hangs together by nothing but the outside does not
    far = [*chain(1, 2, 3, 4), (4, 0), (0, 5), *chain(5, 6, 7, 8, 9)]
    assert parted(monkeypatch, far, [0], {})[0] == [[1], [2, 3, 4], [5, 6, 7, 8, 9]]


def test_lines_within_a_field_are_its_own(monkeypatch) -> None:
    field = dict.fromkeys(range(4, 10), 0)
    told, _, lines, asked = parted(monkeypatch, ROW, [2, 6], field)
    assert told == [[1, 2, 3], [4, 5, 6, 7, 8, 9]]
    assert lines == [2]
    # fields are sought again without them
    first, again = (k[0][3].tolist() for k in asked["find_fields"])
    assert [k for k, b in enumerate(first) if b] == [2, 6]
    assert [k for k, b in enumerate(again) if b] == [2]
    two = {k: int(k > 6) for k in range(4, 10)}
    _, _, lines, asked = parted(monkeypatch, ROW, [2, 5], two)
    assert (lines, len(asked["find_fields"])) == ([2, 5], 1)
    # within the part of no field a line stays
    assert parted(monkeypatch, ROW, [0, 2], field)[2] == [0, 2]


def test_lines_of_rows_are_taken_off_where_no_field_is_found(monkeypatch) -> None:
    fewer = np.isin(np.arange(8), [2])
    told, _, lines, asked = parted(monkeypatch, ROW, [2, 5], {}, fewer=fewer)
    assert (told, lines) == ([[1, 2, 3], [4, 5, 6, 7, 8, 9]], [2])
    assert len(asked["find_fields"]) == 2
    assert asked.last("find_fields", 3).tolist() == fewer.tolist()
    # but one field is enough not to ask
    *_, asked = parted(monkeypatch, ROW, [2, 5], {9: 0}, fewer=fewer)
    assert asked["_without_lines_of_rows"] == []
    assert len(asked["find_fields"]) == 1
    *_, asked = parted(monkeypatch, ROW, [2, 5], {})
    assert len(asked["find_fields"]) == 1


def test_a_panel_has_some_parts_and_not_too_many(monkeypatch) -> None:
    def told(sizes, **answers):
        ends = np.cumsum([0, *sizes])
        links = [p for a, b in pairwise(ends) for p in chain(*range(a + 1, b + 1))]
        joints = [(int(k), int(k) + 1) for k in ends[1:-1]]
        count = int(ends[-1])
        frame = range(len(links), len(links) + len(joints))
        groups, *_ = parted(
            monkeypatch, [*links, *joints], list(frame), {}, count, **answers
        )
        return len(groups)

    assert told([3, 3]) == 2
    assert told([2, 2]) == 1
    assert told([3, 2]) == 2
    assert told([3] * 60) == 60
    assert told([3] * 61) == 1
    assert told([3] * 60 + [2] * 9) == 69
    # above forty times as many pieces none is asked
    assert told([3] + [1] * 2399) == 2400
    assert told([3] + [1] * 2400) == 1
    # what is merged into one is one
    merged = {"_merge_alike": lambda a, m, f, label, barrier: 0 * label}
    assert told([3, 3], **merged) == 1


def scraps(xs, ys, field, *, label=None, frame=None, more=()):
    """Return which faces beside a field of squares go with it.

    `field` (x0, y0, x1, y1): where it lies. `frame`: x of a line that parts faces.
    """
    drawing = grid(list(xs), list(ys), *more, wide=200.0, high=200.0)
    number = np.full(drawing.face_count, -1)
    number[cells(drawing, *field)] = 0
    mine = np.arange(drawing.face_count) if label is None else label(drawing)
    x = drawing.vertices[drawing.origin.reshape(-1, 2), 0]
    open_edge = np.ones(drawing.edge_count, bool)
    if frame is not None:
        open_edge = ~(np.abs(x - frame) < 1e-9).all(axis=1)
    told = parting._with_scraps(
        drawing, measure_faces(drawing), number, [10 * np.eye(2)], mine, open_edge
    )
    assert (told[number == 0] == 0).all()
    assert told[0] == -1
    rest = np.flatnonzero((number < 0) & (np.arange(len(told)) > 0))
    return told[rest].tolist()


SIX = tuple(np.arange(0.0, 61, 10))


def test_scraps_that_nothing_parts_from_a_field_go_with_it() -> None:
    field = (0, 0, 60, 60)
    assert scraps((*SIX, 66), SIX, field) == [0] * 6
    # parts of three faces are no scraps
    for size, told in ((2, 0), (3, -1)):

        def label(drawing, size=size):
            mine = np.arange(drawing.face_count)
            row = cells(drawing, 60, 0, 66, 60)
            order = row[np.argsort(drawing.witness[row, 1])]
            mine[order] = order[np.arange(6) // size * size]
            return mine

        assert scraps((*SIX, 66), SIX, field, label=label) == [told] * 6
    # no larger than the largest face of the field by a tenth
    assert scraps((*SIX, 70.9), SIX, field) == [0] * 6
    assert scraps((*SIX, 71.1), SIX, field) == [-1] * 6
    # but for a ground about something
    disc = circle(68, 5, 2)
    told = scraps((*SIX, 76), SIX, field, more=[disc])
    assert sorted(told) == [-1] * 6 + [0]


def test_a_frame_cuts_scraps_off_a_field() -> None:
    field = (0, 0, 60, 60)
    # with more than half of their outline, but for the rim, along the field: of four
    # in the middle of the column 10 mm of twice their width and 10 mm
    for wide, told in ((4.9, 0), (5.1, -1)):
        some_ = scraps((*SIX, 60 + wide), SIX, field, frame=60)
        assert some_.count(told) >= 4
        # those at its ends have a side less
        assert some_.count(0) == (6 if told == 0 else 2)
    for wide, count in ((9.9, 2), (10.1, 0)):
        told = scraps((*SIX, 60 + wide), SIX, field, frame=60)
        assert told.count(0) == count


def test_plain_strips_of_a_frame_stay() -> None:
    field = (0, 0, 60, 60)
    # 2 mm beside all of the field, as long as its side twice over: a strip
    rails = [line(60, 0, 62, 0), line(62, 0, 62, 60), line(62, 60, 60, 60)]
    told = scraps(SIX, SIX, field, more=rails)
    assert told == [-1]
    # 0.7 by 10 mm is as narrow, and no longer than a repeat
    assert scraps((*SIX, 60.7), SIX, field) == [0] * 6
    assert scraps((*SIX, 60.9), SIX, field) == [0] * 6


NINE_LINKS = tuple(range(9))


def test_scraps_have_some_lines_that_a_field_keeps(monkeypatch) -> None:
    # faces 1 to 4 are the field's, 5 to 8 lie beside it, 9 does not
    links = [(1, 2), (5, 1), (2, 6), (5, 6), (5, 9), (6, 9), (9, 0), (7, 3), (7, 9)]
    drawing = mesh(9, links)
    field = np.array([-1, 0, 0, 0, 0, -1, -1, -1, -1, -1])
    asked_for = np.isin(np.arange(10), [5, 6, 9])

    def told(kept, open_=NINE_LINKS, bases=("basis",), asked_for=asked_for):
        length = np.array([10.0, 1, 1, 2, 3, 4, 9, 9, 9])
        asked = given(
            monkeypatch,
            parting,
            far_shifts=lambda basis: [basis],
            edges_that_hold=lambda a, edge, shifts, core: (
                np.isin(edge, kept),
                length[edge],
            ),
        )
        open_edge = np.isin(np.arange(9), list(open_))
        strange = parting._strange_scraps(
            drawing, field, list(bases), open_edge, asked_for
        )
        return np.flatnonzero(strange).tolist(), asked

    # of 5: 1 + 2 + 3 mm, of 6: 1 + 2 + 4 mm; a fifth is 1.2 and 1.4
    assert told([])[0] == [5, 6]
    assert told([1])[0] == [5, 6]
    assert told([3])[0] == []
    assert told([5])[0] == [5]
    assert told([4])[0] == [6]
    # a fifth of five is one: no less
    alone = np.isin(np.arange(10), [5])
    assert told([1], open_=[1], asked_for=alone)[0] == [5]
    _, asked = told([])
    (edge, shifts, core) = asked["edges_that_hold"][0][0][1:]
    assert edge.tolist() == [1, 2, 3, 4, 5]
    assert (shifts, core.tolist()) == (["basis"], [1, 2, 3, 4])
    # beside it are those that no line of a frame parts from it
    assert told([], open_=[1])[0] == [5]
    assert told([], open_=[2])[0] == [6]
    assert told([], open_=[4, 7])[0] == []
    assert told([], bases=())[0] == []


def barrier_of(*levels, up=()):
    """Return edges of the squares on level and upright lines."""
    x, y = np.moveaxis(SQUARES.vertices[SQUARES.origin.reshape(-1, 2)], 2, 0)
    on = np.zeros(SQUARES.edge_count, bool)
    for v in levels:
        on |= (np.abs(y - v) < 1e-9).all(axis=1)
    for v in up:
        on |= (np.abs(x - v) < 1e-9).all(axis=1)
    return on


@pytest.mark.parametrize(
    ("levels", "up", "left"),
    [
        ((20, 30), (), ((), ())),
        ((20, 40), (), ((20, 40), ())),
        # a quarter of them has another one beside it
        ((20, 30), (10, 30, 50, 70), ((), ())),
        ((20, 30), (10, 30), ((), ())),
        # a frame's own lines bound all of the field
        ((0, 20, 30, 80), (), ((0, 80), ())),
        ((0, 20, 30, 80), (0, 80), ((0, 80), (0, 80))),
        ((), (40, 50), ((), ())),
        ((), (), ((), ())),
    ],
)
def test_lines_of_rows_have_another_one_beside_them(monkeypatch, levels, up, left):
    given(monkeypatch, parting, shifts_of=10 * np.eye(2))
    frame = barrier_of(*levels, up=up)
    told = parting._without_lines_of_rows(SQUARES, MEASURES, EVERY, frame)
    assert told.tolist() == barrier_of(*left[0], up=left[1]).tolist()


def test_lines_of_rows_lie_in_many_cells(monkeypatch) -> None:
    frame = barrier_of(20, 30)

    def told(basis, core):
        given(monkeypatch, parting, shifts_of=basis, in_cells=np.isin(EVERY, core))
        fewer = parting._without_lines_of_rows(SQUARES, MEASURES, EVERY, frame)
        return bool((fewer != frame).any())

    basis = 10 * np.eye(2)
    assert not told(None, EVERY)
    rows = cells(SQUARES, 0, 10, 80, 40)
    assert told(basis, rows)
    assert not told(basis, rows[:11])
    # six cells: of 24 squares four hundred square millimetres each
    assert told(np.diag([39.9, 10]), rows)
    assert not told(np.diag([40.1, 10]), rows)
    # most of a line lies between cells of both sides
    assert told(basis, cells(SQUARES, 0, 10, 50, 40))
    assert not told(basis, cells(SQUARES, 0, 10, 40, 40))


def test_parts_on_both_sides_of_a_frame_are_joined_where_they_are_alike(monkeypatch):
    links = [*chain(1, 2, 3), *chain(4, 5, 6), *chain(7, 8, 9), (3, 4), (6, 7), (9, 0)]
    drawing = mesh(9, links, rim=[1])

    def told(barrier, alike=True, goes_on=True, turned=False):
        seen = []

        def like(kind, area, touching, one, other):
            seen.append((kind, touching, one, other))
            return alike(one, other) if callable(alike) else alike

        rows = np.zeros(9, int)
        given(
            monkeypatch,
            parting,
            class_congruent=(rows, rows, rows + turned * np.arange(9) // 3, None),
            outer_sides=at_rim,
            _alike=like,
            _goes_on=goes_on,
        )
        measures = SimpleNamespace(centroid=np.zeros((10, 2)))
        label = parting._merge_alike(
            drawing,
            measures,
            some(9),
            np.array([5, 5, 5, 7, 7, 7, 9, 9, 9]),
            np.isin(np.arange(drawing.edge_count), barrier),
        )
        return label.tolist(), seen

    both, none = [6, 7], []
    assert told(both)[0] == [0] * 9
    assert told([6])[0] == [0] * 6 + [1] * 3
    assert told([7])[0] == [0] * 3 + [1] * 6
    for less in ({"alike": False}, {"goes_on": False}):
        assert told(both, **less)[0] == [0] * 3 + [1] * 3 + [2] * 3
    assert told(none)[0] == [0] * 3 + [1] * 3 + [2] * 3
    # faces at a frame, or at the rim, may be cut
    _, seen = told([6, 8])
    kind, touching, one, other = seen[0]
    assert touching.tolist() == [True, False, True, True] + [False] * 5
    assert (one.tolist(), other.tolist()) == (
        [True] * 3 + [False] * 6,
        [False] * 3 + [True] * 3 + [False] * 3,
    )
    assert kind.tolist() == [0] * 9
    # turned ones are of another kind
    assert told([6], turned=True)[1][0][0].tolist() == [0, 0, 0, 1, 1, 1, 2, 2, 2]
    # larger by one step after another
    only = {"alike": lambda one, other: one.sum() > 3 or other[5]}
    assert told(both, **only)[0] == [0] * 9
    only = {"alike": lambda one, other: one.sum() > 3 or other[8]}
    assert told([6], **only)[0] == [0] * 3 + [1] * 3 + [2] * 3


def test_sides_and_kinds_of_faces_are_told_apart(monkeypatch) -> None:
    # of one kind: mirrored, or turned, and of another kind
    told = []
    for kind, side, turn in ((0, 0, 0), (0, 1, 0), (0, 0, 1), (1, 0, 0), (1, 1, 2)):
        told.append((kind, side, turn))
    kind, side, turn = np.array([*told, (0, 0, 0)]).T
    seen = []
    given(
        monkeypatch,
        parting,
        class_congruent=(kind, side, turn, None),
        outer_sides=at_rim,
        _alike=lambda number, *rest: bool(seen.append(number)),
    )
    measures = SimpleNamespace(centroid=np.zeros((7, 2)))
    parting._merge_alike(
        mesh(6, [(1, 2)]), measures, some(6), np.arange(6), np.ones(1, bool)
    )
    (number,) = seen
    assert len(set(number[:5].tolist())) == 5
    assert number[5] == number[0]


def polygon(count, turn=0.3, radius=40.0):
    angle = turn + 2 * np.pi * np.arange(count) / count
    return shapely.Polygon(radius * np.column_stack([np.cos(angle), np.sin(angle)]))


@pytest.mark.parametrize("count", [3, 4, 5, 6, 8, 12, 13])
def test_polygons_of_up_to_twelve_sides_have_corners(count) -> None:
    shape = polygon(count)
    wanted = shapely.get_coordinates(shape)[:-1] if count <= 12 else np.zeros((0, 2))
    for own in (shape, shape.reverse()):
        told = sides._corners_of(own)
        assert len(told) == len(wanted)
        away = shapely.distance(shapely.points(told), shapely.multipoints(wanted))
        assert (away < 1e-9).all()
        if len(told):
            assert shapely.LinearRing(told).is_ccw
    # an outline may begin anywhere, and sides may be bent by 0.015 of the root of its
    # area
    if count > 8:
        return
    bent = []
    for one, other in pairwise([*wanted, wanted[0]]):
        middle = (one + other) / 2
        out = 0.012 * np.sqrt(shape.area) * middle / np.hypot(*middle)
        bent += [middle + out, other]
    for first in range(2):
        told = sides._corners_of(shapely.Polygon(np.roll(bent, first, axis=0)))
        away = shapely.distance(shapely.points(told), shapely.multipoints(wanted))
        assert len(told) == count
        assert count == 4 or (away < 1e-9).all()


def test_what_is_no_convex_polygon_has_no_corners() -> None:
    square = shapely.box(0, 0, 40, 30)
    for cut, corners in ((5.9, 4), (6.1, 5), (11.6, 5), (11.7, 0)):
        # 0.97 of 1200 mm² are 1164; of a hull without half of the notch as well
        notch = square.difference(shapely.box(34, 30 - cut, 41, 31))
        assert len(sides._corners_of(notch)) == corners
    flat = shapely.Polygon([(0, 0), (10, 0), (20, 0)])
    assert len(sides._corners_of(flat)) == 0
    told = sides._corners_of(square)
    assert sorted(told.tolist()) == [[0, 0], [0, 30], [40, 0], [40, 30]]
