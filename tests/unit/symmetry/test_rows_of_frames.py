"""Which parallel lines are rows of a pattern, walls or rings, and no frames.

Rows are given by where they lie: gaps of 10 mm are of ten roots of an area of 1 mm², or
of one of 10 mm.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.symmetry.zones import frame_rows
from fillwork.symmetry.zones.frame_rows import _Rows
from tests.unit.symmetry.test_frame_rules import ring, straight


def rows(gap, **facts) -> _Rows:
    """Return level rows that reach from 0 to 100 mm, crossed, with nothing unlike."""
    gap = np.array(gap, float)
    count = len(gap) + 1
    usual = {
        "low": np.zeros(count),
        "high": np.full(count, 100.0),
        "solid": np.ones(count, bool),
        "lone": np.zeros(count, bool),
        "mirrored": np.ones(count, bool),
        "beside": np.full(count, 10.0),
    }
    number = np.arange(count)
    known = usual | {k: np.broadcast_to(v, count).copy() for k, v in facts.items()}
    return _Rows(line=number, row=number, gap=gap, **known)


def told(some) -> list[list[int]]:
    return [np.unique(at).tolist() for at in some]


def test_rows_that_are_crossed_or_end_alike_are_told() -> None:
    some = rows([10, 10, 10], lone=[True, False, False, False])
    assert some.clear.tolist() == [True, False, False]
    assert rows([10, 10, 10]).clear.tolist() == [False] * 3
    # ends that lie half a gap on
    for low, high, level in ((4.9, 100, True), (5.1, 100, True), (5.1, 94.9, False)):
        some = rows([10], low=[0, low], high=[100, high])
        assert some.level.tolist() == [level]
    assert rows([10], low=[0, 5.1], high=[100, 95.1]).level.tolist() == [True]


@pytest.mark.parametrize(
    ("low", "high", "facts", "nested"),
    [
        (10.9, 90.9, {}, True),
        (9.1, 89.1, {}, True),
        (-10, 110, {}, True),
        (11.1, 90, {}, False),
        (10, 88.9, {}, False),
        (8.9, 90, {}, False),
        (10, 90, {"solid": [True, False]}, False),
        (10, 90, {"lone": [False, False]}, False),
        (10, 90, {"lone": [False, True]}, True),
        (0, 90, {}, False),
        (10, 100, {}, False),
    ],
)
def test_nested_frames_are_shorter_by_their_gap(low, high, facts, nested) -> None:
    facts = {"lone": [True, False]} | facts
    some = rows([10], low=[0, low], high=[100, high], **facts)
    assert some.nested.tolist() == [nested]


def test_rows_by_turns_are_of_a_pattern() -> None:
    turns = [8, 14] * 4
    every = list(range(9))
    assert told(frame_rows._by_turns(rows(turns), 9.0)) == [every]
    # at least six pairs, wider than 2.4 units
    assert told(frame_rows._by_turns(rows(turns[:7]), 9.0)) == [every[:8]]
    assert told(frame_rows._by_turns(rows(turns[:6]), 9.0)) == []
    assert told(frame_rows._by_turns(rows(turns), 22 / 2.41)) == [every]
    assert told(frame_rows._by_turns(rows(turns), 22 / 2.39)) == []
    # of rows that no line crosses they are none
    lone = rows(turns, lone=np.arange(9) < 8)
    assert told(frame_rows._by_turns(lone, 9.0)) == []
    # but where one of two of them is crossed on both sides
    few = rows([8, 14] * 5, lone=np.arange(11) == 10)
    assert told(frame_rows._by_turns(few, 9.0)) == [list(range(10))]
    # pairs alike by 0.15 units, or 0.04 of their width
    for unit, off, like in ((9.0, 1.3, True), (9.0, 1.4, False), (2.0, 0.87, True)):
        own = [8, 14, 8, 14, 8, 14, 8 + off, 14]
        found = told(frame_rows._by_turns(rows(own), unit))
        assert ([0, 1, 2, 3, 4, 5, 6, 7, 8] in found) is like
    own = [8, 14, 8, 14, 8, 14, 9.0, 14]
    assert every not in told(frame_rows._by_turns(rows(own), 2.0))


def test_rows_at_equal_distances_are_of_a_pattern() -> None:
    six = rows([10] * 6)
    assert told(frame_rows._equal(six, 8.0)) == [list(range(7))]
    # of more than 1.2 units
    assert told(frame_rows._equal(six, 8.4)) == []
    # five are as many where three in a row are like those on their other sides
    five = rows([10] * 5)
    assert told(frame_rows._equal(five, 8.0)) == [list(range(6))]
    three = rows([10, 10, 10, 47])
    assert told(frame_rows._equal(three, 8.0)) == [[0, 1, 2, 3]]
    assert told(frame_rows._equal(rows([10, 10, 47, 10]), 8.0)) == []
    # six roots of an area apart they are fields
    for unit, some in ((1.68, True), (1.66, False)):
        assert bool(told(frame_rows._equal(three, unit))) is some
        assert told(frame_rows._equal(six, unit)) == [list(range(7))]
    plain = rows([10, 10, 10, 47], mirrored=False)
    assert told(frame_rows._equal(plain, 8.0)) == []
    aslant = rows([10, 10, 10, 47], low=[0, 9, 18, 27, 27], high=[100, 91, 82, 73, 73])
    assert told(frame_rows._equal(aslant, 8.0)) == []


def test_gaps_are_equal_within_little() -> None:
    # 0.15 units, or 0.04 of a gap
    for unit, off, like in (
        (8.0, 1.19, True),
        (8.0, 1.21, False),
        (2.0, 0.39, True),
        (2.0, 0.43, False),
    ):
        some = rows([10] * 7 + [10 + off])
        found = told(frame_rows._equal(some, unit))
        assert (list(range(9)) in found) is like


def test_some_rows_may_be_missing() -> None:
    # the fifth row has a gap of several on both sides: up to four of them
    for steps, found in ((2, True), (4, True), (5, False), (2.5, False)):
        wide = [10 * steps] * 2
        some = rows([10, 10, 10, *wide, 10, 10, 10])
        assert any(4 in at for at in told(frame_rows._equal(some, 8.0))) is found
    # where nothing crosses any of them none is missing
    clear = rows([10, 10, 10, 20, 20, 10, 10, 10], lone=True)
    assert told(frame_rows._equal(clear, 8.0))[0] == [0, 1, 2, 3, 5, 6, 7, 8]
    # three times as far off begins what lies beyond a field
    near, far = rows([10] * 6 + [29.9]), rows([10] * 6 + [30.5])
    assert told(frame_rows._equal(near, 8.0))[0] == list(range(8))
    assert told(frame_rows._equal(far, 8.0))[0] == list(range(8))


def test_nested_frames_are_no_rows() -> None:
    low = 10.0 * np.arange(9)
    nested = rows([10] * 8, low=low, high=200 - low, lone=True, mirrored=False)
    assert told(frame_rows._equal(nested, 8.0)) == []
    # of ten two may be none
    part = replace(nested, solid=np.arange(9) > 0)
    assert told(frame_rows._equal(part, 8.0)) == []
    less = replace(nested, solid=np.arange(9) > 1)
    assert told(frame_rows._equal(less, 8.0)) != []


AT = np.arange(7)


@pytest.mark.parametrize(
    ("facts", "other"),
    [
        ({}, []),
        # twice as long as most
        ({"high": [100] * 3 + [201] + [100] * 3}, [3]),
        ({"high": [100] * 3 + [199] + [100] * 3}, []),
        # on at both ends by half a unit, where most end as one
        ({"low": [-4.1] + [0.0] * 6, "high": [104.1] + [100.0] * 6}, [0]),
        ({"low": [-4.1] + [0.0] * 6, "high": [103.9] + [100.0] * 6}, []),
        ({"low": [-3.9] + [0.0] * 6, "high": [104.1] + [100.0] * 6}, []),
        # regions beside it are half as large, and do not return
        ({"beside": [10] * 3 + [4.9] + [10] * 3, "mirrored": AT != 3}, [3]),
        ({"beside": [10] * 3 + [5.1] + [10] * 3, "mirrored": AT != 3}, []),
        ({"beside": [10] * 3 + [4.9] + [10] * 3}, []),
        # the last ones, where no line crosses them, and others return
        ({"lone": AT == 0, "mirrored": AT != 0}, [0]),
        ({"lone": AT == 6, "mirrored": AT != 6}, [6]),
        ({"lone": AT == 3, "mirrored": AT != 3}, []),
        ({"mirrored": AT != 0}, []),
        ({"lone": AT == 0}, []),
        ({"lone": AT == 0, "mirrored": AT > 3}, []),
        ({"lone": AT == 0, "mirrored": AT > 2}, [0]),
        # where few go on without gaps, all of them
        ({"solid": AT > 3}, list(range(7))),
        ({"solid": AT > 2}, []),
    ],
)
def test_rows_unlike_the_others_lie_so_by_chance(facts, other) -> None:
    some = rows([10] * 6, **facts)
    found = frame_rows._other_than_rows(some, AT, 8.0)
    assert np.flatnonzero(found).tolist() == other
    # those that go on without gaps are let off, where rows are many
    left = [k for k in range(7) if k not in other or not some.solid[k]]
    assert told(frame_rows._equal(some, 8.0))[0] == left


def test_lines_in_line_are_one_row() -> None:
    lines = [
        straight(0, 0, 40, 0, crossed=0.1, alike=0.1),
        straight(50, 0.1, 100, 0.1, crossed=0.4, alike=0.4),
        straight(0, 10, 100, 10, crossed=0.2, alike=0.2, unit=5.0),
        # side by side with the last, and 3 mm on
        straight(0, 13, 100, 13),
    ]
    found = _Rows.of(lines, np.arange(4), np.array([1.0, 0]), 10.0)
    assert found.line.tolist() == [0, 1, 2, 3]
    assert found.row.tolist() == [0, 0, 1, 2]
    assert found.low.tolist() == [0, 0, 0]
    assert found.high.tolist() == [100, 100, 100]
    assert found.gap == pytest.approx([10, 3])
    # 90 of 100 mm are no more than nine tenths
    assert found.solid.tolist() == [False, True, True]
    # where lines go straight on across at 0.3 of the meetings they are no frame's
    assert found.lone.tolist()[:2] == [False, True]
    assert found.mirrored.tolist()[:2] == [True, False]
    assert found.beside.tolist()[:2] == [10, 5]
    # in any order, and the other way along
    turned = _Rows.of(lines, np.array([3, 1, 2, 0]), np.array([-1.0, 0]), 10.0)
    assert turned.line.tolist()[:2] == [3, 2]
    assert turned.row.tolist() == [0, 1, 2, 2]
    assert turned.low.tolist() == [-100, -100, -100]
    # 0.15 of a unit apart lines are two rows, as are those that lie over each other
    for up, start, count in ((1.4, 50, 1), (1.6, 50, 2), (1.4, 29, 2), (1.4, 31, 1)):
        two = [straight(0, 0, 40, 0), straight(start, up, 100, up)]
        found = _Rows.of(two, np.arange(2), np.array([1.0, 0]), 10.0)
        assert len(found.low) == count


def test_walls_between_cells_of_a_strip_are_no_frames() -> None:
    def walls(xs, high=20.0, unit=10.0, moved=0.0):
        lines = [straight(x, 0, x, high) for x in xs]
        lines[0] = straight(xs[0], moved, xs[0], high + moved)
        return frame_rows._walls(lines, np.arange(len(xs)), np.array([0.0, 1]), unit)

    six = np.arange(0.0, 120, 15)
    assert sorted(set(walls(six))) == list(range(8))
    # five equal gaps, or seven tenths of them
    assert sorted(set(walls(six[:6]))) == list(range(6))
    assert walls(six[:5]) == []
    some = np.cumsum([0, 15, 15, 15, 15, 15, 21, 23])
    assert sorted(set(walls(some))) == list(range(6))
    some = np.cumsum([0, 15, 15, 15, 15, 15, 21, 23, 31])
    assert walls(some) == []
    # more than half a unit apart
    assert walls(six / 3, high=2.0, unit=9.9) != []
    assert walls(six / 3, high=2.0, unit=10.1) == []
    # ends alike within 0.3 units
    assert sorted(set(walls(six, moved=2.9))) == list(range(8))
    assert 0 not in walls(six, moved=6.1)
    # a strip reaches farther along than across
    long = frame_rows.LONG
    total = float(six.max())
    assert walls(six, high=0.9 * total / long) != []
    assert walls(six, high=1.2 * total / long) == []
    for off, like in ((1.4, True), (1.6, False)):
        own = six.copy()
        own[-1] += off
        assert (7 in walls(own)) is like
    # 0.04 of a gap of 60 mm are 2.4 mm
    for off, like in ((2.3, True), (2.5, False)):
        own = 4 * six
        own[-1] += off
        assert (7 in walls(own)) is like


def test_beads_and_rings_that_touch_are_no_frames() -> None:
    def left(places, radius=10.0, unit=10.0, count=5):
        rings = [ring(x, 0, radius) for x in places[:count]]
        kept = frame_rows.without_rings([*rings, straight(0, 0, 9, 0)], unit)
        assert not kept[0].round
        return len(kept) - 1

    far = [100.0 * k for k in range(6)]
    # five of one size that hold less than twelve areas: a radius of 1.954 units
    assert left(far, radius=19.5) == 0
    assert left(far, radius=19.6) == 5
    assert left(far, radius=19.5, count=4) == 4
    # larger ones where they touch: within 2.05 radii
    near = [61.4 * k for k in range(5)]
    assert left(near, radius=30.0) == 0
    near = [61.6 * k for k in range(5)]
    assert left(near, radius=30.0) == 5
    # of one size by a twentieth
    mixed = [ring(100 * k, 0, 10) for k in range(4)]
    for radius, count in ((10.4, 0), (10.6, 5)):
        kept = frame_rows.without_rings([*mixed, ring(900, 0, radius)], 10.0)
        assert len(kept) == count


def test_rows_of_a_pattern_are_left_out_of_frames() -> None:
    lines = [straight(0, 10 * k, 100, 10 * k, alike=1.0, crossed=1.0) for k in range(8)]
    frame = [straight(-30, 0, -30, 70), straight(130, 0, 130, 70), ring(50, 35, 20)]
    kept = frame_rows.without_rows([*lines, *frame], 8.0)
    assert [r for r in kept if any(r is f for f in frame)] == kept
    assert len(kept) == 3
    # three lines are none
    assert len(frame_rows.without_rows([*lines[:3], *frame], 8.0)) == 6
    # lines are parallel by a sine of 0.03
    for rise, count in ((2.9, 0), (3.1, 1)):
        own = [
            *lines,
            straight(0, 80 - rise / 2, 100, 80 + rise / 2, alike=1.0, crossed=1.0),
        ]
        assert len(frame_rows.without_rows(own, 8.0)) == count
