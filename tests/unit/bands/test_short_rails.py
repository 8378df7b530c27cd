"""Rails that stop short of a band, and ends that face each other: by construction."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from fillwork.bands import short_rails
from fillwork.bands.facing import bounded, facing_ends
from fillwork.bands.short_rails import (
    _are_joints,
    _leaving,
    _led_on,
    _lone_ends,
    lead_on_short_rails,
)
from fillwork.bands.ways import Ways, rays_meet
from fillwork.geometry.curves import Curves
from tests.unit.helpers import (
    arc,
    line,
    linework_from_curves,
    linework_from_segments,
    polyline,
)


def facing(rows, reach=20.0, asked=None):
    """Return which of some ends, as x, y and degrees, face each other, and how far."""
    at = np.array([row[:2] for row in rows], float).reshape(-1, 2)
    way = np.radians([row[2] for row in rows])
    out = np.stack([np.cos(way), np.sin(way)], axis=1)
    mask = None if asked is None else np.isin(np.arange(len(rows)), asked)
    one, other, apart = facing_ends(at, out, reach, mask)
    pairs = dict(
        zip(zip(one.tolist(), other.tolist(), strict=True), apart, strict=True)
    )
    for i, j in pairs:
        assert pairs[j, i] == pairs[i, j]
    return {pair: round(float(a), 6) for pair, a in pairs.items() if pair[0] < pair[1]}


@pytest.mark.parametrize(("rows", "apart"), [
    ([(0, 0, 0), (10, 0, 180)], 10),
    # within reach alone, and ahead
    ([(0, 0, 0), (19.9, 0, 180)], 19.9),
    ([(0, 0, 0), (20.1, 0, 180)], None),
    ([(0, 0, 180), (10, 0, 0)], None),
    ([(0, 0, 0), (10, 0, 0)], None),
    # each off the other's line by a quarter of the way at most, as a sine: 14.5 degrees
    ([(0, 0, 14), (10, 0, 194)], 10),
    ([(0, 0, 14), (10, 0, 166)], 10),
    ([(0, 0, 15), (10, 0, 180)], None),
    ([(0, 0, 0), (10, 0, 195)], None),
    # or on an arc: both lines leave the way between them by one angle, to one side
    ([(0, 0, 30), (10, 0, 150)], 10),
    ([(0, 0, -30), (10, 0, 210)], 10),
    ([(0, 0, 30), (10, 0, 210)], None),
    # it turns by 100 degrees at most, and its ends are off it by 14.5 in all
    ([(0, 0, 49), (10, 0, 131)], 10),
    ([(0, 0, 51), (10, 0, 129)], None),
    ([(0, 0, 37), (10, 0, 157)], 10),
    ([(0, 0, 38), (10, 0, 157)], None),
    # 10 * 0.25 / sqrt(1 - 1/16) is 2.582
    ([(0, 0, 0), (10, 2.57, 180)], round(float(np.hypot(10, 2.57)), 6)),
    ([(0, 0, 0), (10, 2.60, 180)], None),
    ([(0, 0, 0), (10, -2.60, 180)], None),
])  # fmt: skip
def test_ends_face_each_other_in_line(rows, apart) -> None:
    assert facing(rows) == ({} if apart is None else {(0, 1): apart})


def test_each_end_faces_the_nearest_that_faces_it() -> None:
    # 1 is nearer to 0 than 2 is; 2 would face 0, whose mate is 1
    rows = [(0, 0, 0), (5, 0, 180), (9, 0, 180)]
    assert facing(rows) == {(0, 1): 5}
    assert facing(rows, asked=[2]) == {(0, 1): 5}
    assert facing(rows[::2]) == {(0, 1): 9}
    # what is far from all that is asked about is left out
    rows += [(0, 100, 0), (3, 100, 180)]
    assert facing(rows, asked=[0]) == {(0, 1): 5}
    assert facing(rows, asked=[4]) == {(3, 4): 3}
    assert facing([], asked=[]) == {}
    # the nearest is sought among those that are turned by 40 degrees at most
    assert facing([(0, 0, 0), (5, 0, 139), (9, 0, 180)]) == {(0, 2): 9}
    assert facing([(0, 0, 0), (5, 0, 141), (9, 0, 180)]) == {}


def test_reach_is_halved_until_some_dozens_are_near() -> None:
    # ends 1 mm apart: three cells of so many each, 32 for each end or 20,000 in all
    assert bounded(np.empty((0, 2)), np.empty(0, bool), 7.0) == 7.0
    at = np.stack(np.meshgrid(np.arange(100.0), np.arange(100.0)), -1).reshape(-1, 2)
    every = np.ones(len(at), bool)
    # a cell of 4 by 4 holds 16 (3 * 16 > 32), one of 2 by 2 holds 4
    assert bounded(at, every, 8.0) == 2.0
    assert bounded(at, every, 3.0) == 3.0
    # few of them asked about: 100 * 3 * 64 <= 20,000
    some = np.zeros(len(at), bool)
    some[:100] = True
    assert bounded(at, some, 8.0) == 8.0
    assert bounded(at, ~some, 8.0) == 2.0


def test_curves_leave_their_ends_in_their_own_direction() -> None:
    curves = Curves.concatenate(
        [
            linework_from_curves([row]).curves
            for row in (line(0, 0, 3, 4), arc(0, 0, 10, 0, np.pi / 2))
        ]
    )
    rows = np.repeat([0, 1], 2)
    out = _leaving(curves, rows)
    expected = np.array([[-0.6, -0.8], [0.6, 0.8], [0, -1], [-1, 0]])
    assert out == pytest.approx(expected)


def tree_of(segments):
    chords = np.array(segments, float)
    return shapely.STRtree(list(shapely.linestrings(chords.reshape(-1, 2, 2)))), chords


def test_ends_are_lone_that_touch_no_other_curve() -> None:
    # 10 level lines end freely; the first has one that ends on it, and one that ends
    # where it ends itself
    rows = [[0.0, 10 * k, 50, 10 * k] for k in range(10)]
    rows += [[20, -30, 20, -0.05], [50, 0.05, 80, -20]]
    tree, chords = tree_of(rows)
    owner = np.arange(len(rows))
    at, of = chords.reshape(-1, 2), np.repeat(owner, 2)
    ends, touching = _lone_ends(tree, at, of, owner, 0.1)
    free = [k for k in range(24) if k not in (1, 21, 22)]
    assert ends.tolist() == free
    # 21 ends on a line; 1 and 22 end in each other
    assert touching.tolist() == [21]
    # fewer than sixteen are not worth looking at
    tree, chords = tree_of(rows[:7] + rows[10:])
    owner = np.arange(9)
    ends, touching = _lone_ends(
        tree, chords.reshape(-1, 2), np.repeat(owner, 2), owner, 0.1
    )
    assert (len(ends), len(touching)) == (15, 0)


def test_ends_at_one_point_are_not_compared_with_all_that_lie_there() -> None:
    # 300 lines from one point to another, and one that ends where none does
    rows = [[0.0, 0, 9, 0]] * 300 + [[20.0, 0, 30, 0]]
    tree, chords = tree_of(rows)
    asked = []

    class Counted:
        def query(self, points, *how, **where):
            asked.append(len(points))
            return tree.query(points, *how, **where)

    owner = np.arange(len(rows))
    at, of = chords.reshape(-1, 2), np.repeat(owner, 2)
    ends, touching = _lone_ends(Counted(), at, of, owner, 0.1)
    assert asked == [2]
    assert ends.tolist() == [600, 601]
    assert len(touching) == 0


def test_rays_meet_chords_of_other_curves_in_order() -> None:
    # at 4, 9 and 9.0005 (one line), and one so flat that it is none
    rows = [[0.0, 0, 1, 0], [9, -5, 9, 5], [4, -5, 4, 5], [9.0005, -5, 9.0005, 5]]
    rows += [[2, -0.05, 3, 0.03], [6, -0.2, 8, 0.21]]
    tree, chords = tree_of(rows)
    at, step = np.array([[0.0, 0], [0, 0]]), np.array([[12.0, 0], [8.9, 0]])
    end, far = rays_meet(tree, chords, np.arange(6), np.array([0, 0]), (at, step))
    cut = 6 + 2 * 0.2 / 0.41
    assert end.tolist() == [0, 0, 0, 1, 1]
    assert far == pytest.approx([4, cut, 9, 4, cut])
    # a ray's own curve is none
    end, far = rays_meet(tree, chords, np.arange(6), np.array([2, 1]), (at, step))
    assert end.tolist() == [0, 0, 1, 1]
    assert far == pytest.approx([cut, 9, 4, cut])


def weave_with_gaps(wide, high, gap, step=20.0, inset=3.0, width=4.0):
    """Return rails of a plain weave that stop a gap short of the band over theirs."""
    rows = []
    for level, (count, length) in enumerate(
        [(round(wide / step), high), (round(high / step), wide)]
    ):
        crossed = round(length / step)
        for i in range(count):
            ends = [inset]
            for j in range(crossed):
                if (i + j) % 2 == level:
                    place = step * (j + 0.5)
                    ends += [place - width / 2 - gap, place + width / 2 + gap]
            ends.append(length - inset)
            for a, b in zip(ends[::2], ends[1::2], strict=True):
                for off in (-width / 2, width / 2):
                    x = step * (i + 0.5) + off
                    rows.append([a, x, b, x] if level else [x, a, x, b])
    return np.array(rows)


@pytest.mark.parametrize(("wide", "high"), [(80.0, 80.0), (200.0, 40.0)])
def test_short_rails_are_led_on_by_their_gap(wide, high) -> None:
    rows = weave_with_gaps(wide, high, 0.8)
    work = linework_from_segments(rows, wide, high)
    led = lead_on_short_rails(work, 1e-3)
    assert led is not None
    fresh = led.curves.take(np.arange(len(rows), len(led.curves)))
    # two ends of two rails at every crossing; the outer ends have nothing before them
    assert len(fresh) == 4 * round(wide / 20) * round(high / 20)
    assert fresh.lengths() == pytest.approx(np.full(len(fresh), 0.8))
    note = led.notes[-1]
    assert f"{len(fresh)} ends stop short" in note.text
    assert "mostly by 0.8 mm" in note.text
    # rails that touch, or half of them, are led on nowhere
    assert lead_on_short_rails(linework_from_segments(rows[:7]), 1e-3) is None
    closed = weave_with_gaps(wide, high, 0.0)
    assert lead_on_short_rails(linework_from_segments(closed), 1e-3) is None


def test_ends_are_sought_as_far_as_the_longer_side_of_a_drawing_tells() -> None:
    # a third of the shorter one, 15 mm, is less than from gap to gap
    frame = polyline([(0, 0), (150, 0), (150, 15), (0, 15)], closed=True)
    rows = np.vstack([weave_with_gaps(150.0, 15.0, 0.8, 15.0, 0.0), frame])
    led = lead_on_short_rails(linework_from_segments(rows, 150, 15), 1e-3)
    assert led is not None
    assert len(led.curves) == len(rows) + 4 * 10


@pytest.mark.parametrize(("gap", "led_on"), [(0.06, False), (0.09, True), (0.8, True)])
def test_ends_touch_within_a_two_thousandth_of_a_drawing(gap, led_on) -> None:
    # 0.075 mm of 150, however far points are joined elsewhere
    frame = polyline([(0, 0), (150, 0), (150, 15), (0, 15)], closed=True)
    rows = np.vstack([weave_with_gaps(150.0, 15.0, gap, 15.0, 0.0), frame])
    led = lead_on_short_rails(linework_from_segments(rows, 150, 15), 2.0)
    assert (led is not None) == led_on


def test_a_gap_on_one_side_alone_is_led_on_as_well() -> None:
    # as in a shadow: each rail stops short before a band, and touches it beyond
    rows = weave_with_gaps(160.0, 160.0, 0.8)
    begin = rows[:, :2].copy()
    way = rows[:, 2:] - begin
    inner = ~np.isclose(np.where(way[:, 0] > 0, begin[:, 0], begin[:, 1]), 3.0)
    unit = way / np.hypot(*way.T)[:, None]
    rows[inner, :2] -= 0.8 * unit[inner]
    led = lead_on_short_rails(linework_from_segments(rows, 160, 160), 1e-3)
    assert led is not None
    fresh = led.curves.take(np.arange(len(rows), len(led.curves)))
    assert len(fresh) == 2 * 64
    assert fresh.lengths() == pytest.approx(np.full(len(fresh), 0.8))


def test_strokes_led_on_are_of_the_style_of_their_curve() -> None:
    work = linework_from_curves(
        [line(0, 0, 10, 0), line(10, 0, 20, 0), line(0, 5, 10, 5)]
    )
    work = replace(
        work,
        stroke_start=np.array([0, 2, 3], np.int32),
        closed=np.array([True, False]),
        style=np.array([1, 0], np.int32),
        styles=(*work.styles, ("inked", "#000000", 0.3, False)),
        source_line=np.array([7, 9], np.int32),
        source_name=("first", "second"),
    )
    on = np.array([[20.0, 0, 21, 0], [10, 5, 11, 5], [0, 0, -1, 0]])
    led = _led_on(work, np.array([1, 2, 0]), Curves.from_segments(on), 0.123)
    assert len(led.curves) == 6
    assert led.curves.data[3:, :4].tolist() == on.tolist()
    assert led.stroke_start.tolist() == [0, 2, 3, 4, 5, 6]
    assert led.closed.tolist() == [True, False, False, False, False]
    assert led.style.tolist() == [1, 0, 1, 0, 1]
    assert led.source_line.tolist() == [7, 9, 7, 9, 7]
    assert led.source_name == ("first", "second", "first", "second", "first")
    assert "3 ends" in led.notes[-1].text
    assert "by 0.12 mm" in led.notes[-1].text


RING = 12.0


def ring_way(turn: float) -> tuple[Ways, np.ndarray]:
    """Return the way from (12, 0) along a circle about (0, 0), and its other end."""
    end = RING * np.array([np.cos(turn), np.sin(turn)])
    side = np.sign(turn)
    out = np.array([[0.0, side], [np.sin(turn) * side, -np.cos(turn) * side]])
    at = np.array([[RING, 0.0], end])
    return Ways.between(at, out, np.array([0]), np.array([1])), end


@pytest.mark.parametrize("turn", [0.1, 0.9, -0.9, 1.7])
def test_a_way_between_ends_of_one_circle_follows_it(turn) -> None:
    way, end = ring_way(turn)
    assert way.round.all()
    assert way.length == pytest.approx([RING * abs(turn)])
    share = np.array([0.0, 0.25, 0.5, 1.0, 1.1])
    points = way.points(np.zeros(5, np.int64), share)
    angle = turn * share
    assert points == pytest.approx(RING * np.stack([np.cos(angle), np.sin(angle)], 1))
    # its first 2 mm as an arc
    row = way.arcs(np.array([0]), np.array([2.0]))
    arc_of = Curves(np.array([1], np.uint8), row)
    assert row[0, :2] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert arc_of.lengths() == pytest.approx([2.0])
    assert arc_of.starts() == pytest.approx(np.array([[RING, 0.0]]))
    far = np.sign(turn) * 2.0 / RING
    to = RING * np.array([[np.cos(far), np.sin(far)]])
    assert arc_of.ends() == pytest.approx(to)
    # lines through the middle of the circle lie across it
    some = np.radians([10.0, 20.0, 60.0, 95.0]) * np.sign(turn)
    chords = np.column_stack(
        [5 * np.cos(some), 5 * np.sin(some), 20 * np.cos(some), 20 * np.sin(some)]
    )
    tree = shapely.STRtree(shapely.linestrings(chords.reshape(-1, 2, 2)))
    met, past = way.hits(tree, chords, np.arange(1, 5), np.array([0]), 0.0)
    before = np.abs(some)[np.abs(some) < abs(turn)]
    assert met.tolist() == [0] * len(before)
    assert past == pytest.approx(RING * before, abs=2e-3)
    assert end == pytest.approx(way.points(np.array([0]), np.array([1.0]))[0])


def test_a_way_that_hardly_turns_is_straight() -> None:
    # by less than 4 degrees
    assert not ring_way(np.radians(3.9))[0].round.any()
    assert ring_way(np.radians(4.1))[0].round.all()
    # and so is one from line to line that are off each other
    at = np.array([[0.0, 0.0], [10.0, 2.0]])
    way = Ways.between(at, np.array([[1.0, 0.0], [-1.0, 0.0]]), np.r_[0], np.r_[1])
    assert not way.round.any()
    assert way.length == pytest.approx([np.hypot(10.0, 2.0)])
    assert way.points(np.r_[0], np.r_[0.5])[0] == pytest.approx([5.0, 1.0])


def test_ends_that_go_on_in_each_other_under_the_ink_are_joints() -> None:
    def joints(*rows, pen=0.4):
        way = np.radians([row[2] for row in rows])
        at = np.array([row[:2] for row in rows], float)
        out = np.stack([np.cos(way), np.sin(way)], axis=1)
        return _are_joints(at, out, np.full(len(rows), pen)).tolist()

    assert joints((0, 0, 0), (0.39, 0, 180), (5, 0, 180)) == [True, True, False]
    assert joints((0, 0, 0), (0.41, 0, 180)) == [False, False]
    # past each other too, and aside, and turned by less than 40 degrees
    assert joints((0, 0, 0), (-0.3, 0.2, 180)) == [True, True]
    assert joints((0, 0, 0), (0.2, 0, 141)) == [True, True]
    assert joints((0, 0, 0), (0.2, 0, 139)) == [False, False]
    # two ends side by side are none, nor is one whose line has no width
    assert joints((0, 0, 0), (0, 0.2, 0)) == [False, False]
    assert joints((0, 0, 0), (0.2, 0, 180), pen=0.0) == [False, False]


def test_a_pen_broader_than_the_drawing_takes_no_more_room(monkeypatch) -> None:
    at = np.random.default_rng(7).random((5_000, 2)) * 100
    out = np.tile([1.0, 0.0], (5_000, 1))
    counted = []
    within = short_rails.pairs_within

    def pairs(*asked):
        counted.append(within(*asked))
        return counted[-1]

    monkeypatch.setattr(short_rails, "pairs_within", pairs)
    assert not _are_joints(at, out, np.full(5_000, 1e9)).any()
    # some dozens near each on the average, and not all 25 million pairs
    assert sum(len(one) for one, _ in counted) < 64 * 5_000


def linked_rings(width: float, gap: float) -> list:
    """Return arcs of rings in a row, each over the next at one of two crossings.

    Rings of radius 9 with middles 12 apart, as two rails each; rails that pass below
    stop short of the band above by the gap.
    """
    radius, apart, rings = 9.0, 12.0, 6
    half = width / 2
    drawn = []
    for k in range(rings):
        for rail in (radius - half, radius + half):
            cuts = []
            # where a ring is below: at the lower crossing with the one after, and at
            # the upper one with the one before
            for other, sign in ((apart, -1.0), (-apart, 1.0)):
                if not 0 <= k + np.sign(other) < rings:
                    continue
                angles = []
                for edge in (radius - half - gap, radius + half + gap):
                    # the law of cosines, from the middle of this ring
                    along = (rail**2 + other**2 - edge**2) / (2 * rail * other)
                    angles.append(sign * np.arccos(along))
                cuts.append(sorted(angles))
            cuts.sort()
            ends = np.mod(np.array(cuts), 2 * np.pi)
            if len(ends) == 1:
                spans = [(ends[0][1], ends[0][0])]
            else:
                spans = [(ends[0][1], ends[1][0]), (ends[1][1], ends[0][0])]
            for a, b in spans:
                b = a + np.mod(b - a, 2 * np.pi)
                drawn.append(arc(15 + apart * k, 15, rail, a, b))
    return drawn


@pytest.mark.parametrize("gap", [0.4, 0.8])
def test_rings_that_pass_below_are_led_on_along_their_circles(gap) -> None:
    rings = linked_rings(2.0, gap)
    work = linework_from_curves(rings)
    led = lead_on_short_rails(work, 1e-3)
    assert led is not None
    fresh = led.curves.take(np.arange(len(rings), len(led.curves)))
    # at each of ten crossings two rails pass below, with two ends each
    assert len(fresh) == 4 * 10
    # each lies on a circle about the middle of a ring
    middle = np.round((fresh.data[:, 0] - 15) / 12) * 12 + 15
    assert fresh.data[:, 0] == pytest.approx(middle, abs=1e-6)
    assert fresh.data[:, 1] == pytest.approx(15, abs=1e-6)
    # and ends on a rail of another one
    to = fresh.ends()
    far = [np.hypot(to[:, 0] - 15 - 12 * k, to[:, 1] - 15) for k in range(6)]
    off = np.min([np.abs(d - r) for d in far for r in (8.0, 10.0)], axis=0)
    assert off == pytest.approx(0, abs=1e-3)
