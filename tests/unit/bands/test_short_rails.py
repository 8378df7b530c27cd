"""Rails that stop short of a band, and ends that face each other: by construction."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from fillwork.bands.short_rails import (
    _bounded,
    _hits,
    _leaving,
    _led_on,
    _lone_ends,
    facing_ends,
    lead_on_short_rails,
)
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
    assert _bounded(np.empty((0, 2)), np.empty(0, bool), 7.0) == 7.0
    at = np.stack(np.meshgrid(np.arange(100.0), np.arange(100.0)), -1).reshape(-1, 2)
    every = np.ones(len(at), bool)
    # a cell of 4 by 4 holds 16 (3 * 16 > 32), one of 2 by 2 holds 4
    assert _bounded(at, every, 8.0) == 2.0
    assert _bounded(at, every, 3.0) == 3.0
    # few of them asked about: 100 * 3 * 64 <= 20,000
    some = np.zeros(len(at), bool)
    some[:100] = True
    assert _bounded(at, some, 8.0) == 8.0
    assert _bounded(at, ~some, 8.0) == 2.0


def test_curves_leave_their_ends_in_their_own_direction() -> None:
    curves = Curves.concatenate(
        [
            linework_from_curves([row]).curves
            for row in (line(0, 0, 3, 4), arc(0, 0, 10, 0, np.pi / 2))
        ]
    )
    rows = np.repeat([0, 1], 2)
    out = _leaving(curves, rows, np.arange(4))
    expected = np.array([[-0.6, -0.8], [0.6, 0.8], [0, -1], [-1, 0]])
    assert out == pytest.approx(expected)
    assert _leaving(curves, rows, np.array([3])) == pytest.approx(expected[3:])


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


def test_rays_meet_chords_of_other_curves_in_order() -> None:
    # at 4, 9 and 9.0005 (one line), and one so flat that it is none
    rows = [[0.0, 0, 1, 0], [9, -5, 9, 5], [4, -5, 4, 5], [9.0005, -5, 9.0005, 5]]
    rows += [[2, -0.05, 3, 0.03], [6, -0.2, 8, 0.21]]
    tree, chords = tree_of(rows)
    at, step = np.array([[0.0, 0], [0, 0]]), np.array([[12.0, 0], [8.9, 0]])
    end, far = _hits(tree, chords, np.arange(6), np.array([0, 0]), (at, step))
    cut = 6 + 2 * 0.2 / 0.41
    assert end.tolist() == [0, 0, 0, 1, 1]
    assert far == pytest.approx([4, cut, 9, 4, cut])
    # a ray's own curve is none
    end, far = _hits(tree, chords, np.arange(6), np.array([2, 1]), (at, step))
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
    led = _led_on(work, np.array([1, 2, 0]), on, 0.123)
    assert len(led.curves) == 6
    assert led.curves.data[3:, :4].tolist() == on.tolist()
    assert led.stroke_start.tolist() == [0, 2, 3, 4, 5, 6]
    assert led.closed.tolist() == [True, False, False, False, False]
    assert led.style.tolist() == [1, 0, 1, 0, 1]
    assert led.source_line.tolist() == [7, 9, 7, 9, 7]
    assert led.source_name == ("first", "second", "first", "second", "first")
    assert "3 ends" in led.notes[-1].text
    assert "by 0.12 mm" in led.notes[-1].text
