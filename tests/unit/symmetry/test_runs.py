"""Long lines and circles: found, followed on, met and crossed; where zones end."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.kinds.orbits import _letter_order, _numbers, letters
from fillwork.symmetry.zones.meetings import count_meetings
from fillwork.symmetry.zones.rims import is_torn
from fillwork.symmetry.zones.runs import extend_runs, find_runs, straight_links
from tests.unit.helpers import arc, circle, line, linework_from_curves, polyline

UNIT = 10.0


def drawn(*rows, wide=100.0, high=100.0):
    """Return lines in a frame: what ends freely bounds nothing."""
    box = polyline([(0, 0), (wide, 0), (wide, high), (0, high)], closed=True)
    work = linework_from_curves([*rows, *(line(*r) for r in box.tolist())], wide, high)
    return build_arrangement(work, close_gaps=0.0)


def runs_of(arrangement, unit=UNIT):
    return find_runs(arrangement, straight_links(arrangement), unit)


def level(arrangement, y, unit=UNIT):
    """Return the run along a height, its meetings counted."""
    found = runs_of(arrangement, unit)
    count_meetings(arrangement, found, unit)
    (own,) = [
        r
        for r in found
        if not r.round and abs(r.direction[1]) < 1e-3 and abs(r.centre[1] - y) < 0.2
    ]
    return own


def test_each_line_goes_on_into_the_one_opposite() -> None:
    # a crossing, and a line that ends on another
    arrangement = drawn(
        line(0, 50, 100, 50), line(30, 0, 30, 100), line(70, 50, 70, 100)
    )
    link = straight_links(arrangement)
    points, origin = arrangement.vertices, arrangement.origin
    half = np.arange(len(origin))
    away = points[origin[half ^ 1]] - points[origin]
    for h, on in zip(half.tolist(), link.tolist(), strict=True):
        at = points[origin[h]].round(3).tolist()
        inner = 0 < at[0] < 100 and 0 < at[1] < 100
        if inner and not (at[0] == 70 and abs(away[h, 1]) > 1):
            assert origin[on] == origin[h]
            sine = away[on] / np.hypot(*away[on]) @ away[h] / np.hypot(*away[h])
            assert sine == pytest.approx(-1)
        elif at == [70, 50]:
            assert on == -1


@pytest.mark.parametrize(("degrees", "one"), [(18.0, True), (22.0, False)])
def test_a_line_goes_on_where_it_turns_by_less_than_twenty_degrees(
    degrees, one
) -> None:
    a = math.radians(degrees)
    x, y = 50 + 50, 50 + 50 * math.tan(a)
    arrangement = drawn(line(0, 50, 50, 50), line(50, 50, x, y))
    link = straight_links(arrangement)
    points = arrangement.vertices[arrangement.origin]
    middle = np.flatnonzero(np.hypot(*(points - 50).T) < 1e-6)
    assert len(middle) == 2
    assert (link[middle] >= 0).all() == one


def test_lines_and_circles_are_found_with_their_measures() -> None:
    arrangement = drawn(
        line(0, 20, 100, 20),
        circle(50, 60, 25),
        line(0, 60, 20, 60),
    )
    found = runs_of(arrangement)
    (ring,) = [r for r in found if r.round]
    assert ring.closed
    assert ring.centre == pytest.approx([50, 60], abs=1e-2)
    assert ring.radius == pytest.approx(25, abs=1e-2)
    assert ring.length == pytest.approx(50 * math.pi, rel=1e-2)
    low = level(arrangement, 20)
    assert low.length == pytest.approx(100)
    assert not low.closed
    assert sorted(low.ends[:, 0]) == pytest.approx([0, 100])
    # shorter than the unit none is told; the circle is asked for its length too
    few = runs_of(arrangement, 101.0)
    assert [r.round for r in few] == [True]


@pytest.mark.parametrize(("part", "closed"), [(0.92, False), (0.945, True)])
def test_a_circle_is_closed_where_a_small_part_is_missing(part, closed) -> None:
    sweep = 2 * math.pi * part
    ends = [(50 + 25 * math.cos(a), 50 + 25 * math.sin(a)) for a in (0.3, 0.3 + sweep)]
    arrangement = drawn(
        arc(50, 50, 25, 0.3, 0.3 + sweep),
        line(*ends[0], 100, 60),
        line(*ends[1], 100, 45),
    )
    (ring,) = [r for r in runs_of(arrangement) if r.round]
    assert ring.closed is closed


# four lines that cross, that end on it from above, and that meet it askew from both
# sides: straight on goes what turns by less than 20 degrees
@pytest.mark.parametrize(
    ("below", "crossed", "both"),
    [(0.0, 1, 1), (5.0, 1, 1), (20.0, 0, 1), (None, 0, 0)],
)
def test_what_crosses_a_line_is_told_from_what_ends_on_it(below, crossed, both) -> None:
    rows = [line(0, 50, 100, 50)]
    for x in (20, 40, 60, 80):
        rows.append(line(x, 50, x, 100))
        if below is not None:
            rows.append(line(x, 50, x + below, 0))
    run = level(drawn(*rows), 50)
    assert run.crossed == pytest.approx(crossed)
    assert run.both == pytest.approx(both)


def test_a_line_that_is_seldom_met_counts_by_its_length() -> None:
    # two crossings on 100 mm: one is due in each 3.5 units of 5 mm
    rows = [line(0, 50, 100, 50), line(40, 0, 40, 100), line(60, 0, 60, 100)]
    assert level(drawn(*rows), 50, 5.0).crossed == pytest.approx(2 / (100 / 17.5))
    assert level(drawn(*rows), 50, 20.0).crossed == pytest.approx(1)
    # what lies within a fiftieth of its ends is left out
    ends = [line(0, 50, 100, 50), line(1.9, 0, 1.9, 100), line(2.1, 0, 2.1, 50)]
    tips = level(drawn(*ends), 50, 40.0)
    assert tips.crossed == 0
    assert tips.both == 0


def test_circles_are_crossed_by_spokes_and_met_by_rays() -> None:
    def spokes(inner):
        rows = [circle(50, 50, 30)]
        for k in range(8):
            c, s = math.cos(k * math.pi / 4 + 0.1), math.sin(k * math.pi / 4 + 0.1)
            reach = 50 / max(abs(c), abs(s))
            rows.append(
                line(50 + inner * c, 50 + inner * s, 50 + reach * c, 50 + reach * s)
            )
        arrangement = drawn(*rows)
        found = runs_of(arrangement)
        count_meetings(arrangement, found, UNIT)
        (ring,) = [r for r in found if r.round]
        return ring

    assert spokes(0).crossed == pytest.approx(1)
    assert spokes(30).crossed == 0
    assert spokes(30).both == 0


@pytest.mark.parametrize(
    ("gap", "off", "whole"),
    [(0.0, 0.4, True), (0.0, 0.6, False), (0.8, 0.0, True), (1.2, 0.0, False)],
)
def test_pieces_of_a_line_are_one_within_the_fit_and_without_a_gap(
    gap, off, whole
) -> None:
    # two pieces 50 mm long that verticals join; off by half of a tenth of the unit
    x = 50.0
    rows = [
        line(0, 50, x, 50),
        line(x + gap, 50 + off, 100, 50 + off),
        line(x, 0, x, 50),
        line(x + gap, 50 + off, x + gap, 100),
    ]
    if gap or off:
        rows.append(line(x, 50, x + gap, 50 + off) if not gap else line(x, 50, x, 100))
    arrangement = drawn(*rows)
    runs = extend_runs(arrangement, runs_of(arrangement), UNIT)
    long = max(
        (r.length for r in runs if abs(r.direction[1]) < 0.1 and 40 < r.centre[1] < 60),
        default=0.0,
    )
    assert (long > 95) is whole


def test_letters_count_in_twenty_sixes() -> None:
    told = [letters(k) for k in (0, 1, 25, 26, 51, 52, 701, 702, 703)]
    assert told == ["A", "B", "Z", "AA", "AZ", "BA", "ZZ", "AAA", "AAB"]
    assert _numbers(np.array([7, -1, 3, 7, 3])) == (1, 0, 2, 1, 2)


def test_kinds_stand_by_area_then_length_then_place() -> None:
    # within half a hundredth areas are alike, and lengths decide; then x, then y
    area = np.array([10.0, 9.96, 9.9, 20.0, 5.0, 5.0, 5.0])
    length = np.array([12.0, 13.0, 99.0, 1.0, 7.0, 7.01, 7.02])
    place = np.array([[0, 0], [0, 0], [0, 0], [0, 0], [3, 1], [2, 9], [2, 4]], float)
    # 10 and 9.96 are one size, 9.9 is smaller than 9.96 by 0.6 in a hundred
    assert _letter_order(area, length, place).tolist() == [3, 1, 0, 2, 6, 5, 4]


def grid(columns, rows, step=10.0, right=10.0):
    """Return squares whose right half is of another width, and the middle line."""
    half = columns // 2
    wide = half * step + (columns - half) * right
    lines = [line(0, step * j, wide, step * j) for j in range(1, rows)]
    x = [
        step * i if i <= half else half * step + (i - half) * right
        for i in range(columns)
    ]
    lines += [line(a, 0, a, step * rows) for a in x[1:]]
    arrangement = drawn(*lines, wide=wide, high=step * rows)
    at = arrangement.witness[:, 0] < half * step
    at[0] = False
    own = np.flatnonzero(at).astype(np.int32)
    other = np.setdiff1d(np.arange(1, arrangement.face_count), own).astype(np.int32)
    return arrangement, own, other


def rim_edges(arrangement, own):
    inside = np.zeros(arrangement.face_count, bool)
    inside[own] = True
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    return np.flatnonzero((inside[a] != inside[b]) & (a != 0) & (b != 0))


@pytest.mark.parametrize(
    ("right", "framed", "alone", "torn"),
    [
        (10.0, 0.0, False, True),
        (10.0, 0.6, False, True),
        (10.0, 0.8, False, False),  # seven tenths of the rim is a frame's
        (10.0, 1.0, False, False),
        (10.15, 0.0, False, True),  # like within two in a hundred
        (11.0, 0.0, False, False),  # other sizes beyond
        (11.0, 0.5, True, True),  # a strip: whatever lies beyond
        (11.0, 0.6, True, False),
    ],
)
def test_a_zone_is_torn_where_like_regions_go_on_beyond_no_frame(
    right, framed, alone, torn
) -> None:
    arrangement, own, other = grid(8, 10, right=right)
    rim = rim_edges(arrangement, own)
    frame = np.zeros(arrangement.edge_count, bool)
    frame[rim[: round(framed * len(rim))]] = True
    measures = measure_faces(arrangement)
    told = is_torn(arrangement, measures, own, [other], frame, 0.0, alone=alone)
    assert told is torn


def test_a_scrap_beyond_tears_no_zone() -> None:
    # ten of fifty regions weigh a fifth of forty; seven do not
    arrangement, own, other = grid(8, 10)
    frame = np.zeros(arrangement.edge_count, bool)
    measures = measure_faces(arrangement)
    beside = other[np.argsort(arrangement.witness[other, 0], kind="stable")]
    for count, torn in ((8, True), (7, False)):
        scrap = np.sort(beside[:count])
        assert is_torn(arrangement, measures, own, [scrap], frame, 0.0) is torn
