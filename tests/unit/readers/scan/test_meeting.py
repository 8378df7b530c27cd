"""Where lines and circles meet, which agree on it, and what gives way to what."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.check import draw_lines
from fillwork.readers.scan.circles import fit_circle
from fillwork.readers.scan.gaps import add_line
from fillwork.readers.scan.joints import rejoin
from fillwork.readers.scan.model import Drawing, Network, Piece, Strand
from fillwork.readers.scan.settle import (
    _adopt,
    _agreed,
    _bend,
    _bend_short,
    _end_beside,
    _from_corner,
    _hidden,
    _lay,
    _own,
    _past,
    _reached,
    _solve,
    _trim,
    meeting,
    settle,
)

WIDTH = 6.0
INK = np.ones((300, 600), bool)


def line(x: float, y: float, degrees: float) -> np.ndarray:
    a = np.radians(degrees)
    return np.array([x, y, np.cos(a), np.sin(a)])


def sampled(
    drawing: Drawing, start: tuple[float, float], stop: tuple[float, float]
) -> Piece:
    """Add a line with places a pixel apart."""
    a, b = np.array(start), np.array(stop)
    add_line(drawing, a, b)
    n = round(float(np.hypot(*(b - a)))) + 1
    drawing.pieces[-1].points = np.linspace(a, b, n)
    return drawing.pieces[-1]


@pytest.mark.parametrize("start", [(100.0, 50.0), (103.0, 46.0), (120.0, 60.0)])
def test_two_carriers_meet_where_they_cross(start: tuple[float, float]) -> None:
    at = np.array(start)
    crossing = [line(0.0, 50.0, 0.0), line(100.0, 0.0, 90.0)]
    assert meeting(at, crossing, WIDTH) == pytest.approx([100.0, 50.0], abs=1e-4)
    circle = [np.array([100.0, 90.0, 40.0]), line(130.0, 0.0, 90.0)]
    # by Pythagoras 26.5 px above its middle
    high = 90 - np.sqrt(40**2 - 30**2)
    found = meeting(at + np.array([24.0, 8.0]), circle, WIDTH)
    assert found == pytest.approx([130.0, high], abs=1e-3)


def test_what_carriers_leave_free_stays_with_the_skeleton() -> None:
    at = np.array([70.0, 53.0])
    assert meeting(at, [line(0.0, 50.0, 0.0)], WIDTH) == pytest.approx(
        [70.0, 50.0], abs=0.1
    )
    # lines at t degrees to their middle hold a place along it by 2 sin² t, against a
    # pull of 0.02: alone from 0.03 on, 7 degrees
    flat = [line(60.0, 50.0, 6.0), line(60.0, 50.0, -6.0)]
    held = 2 * np.sin(np.radians(6.0)) ** 2
    found = meeting(at, flat, WIDTH)
    assert found[0] == pytest.approx(60 + 10 * 0.02 / (0.02 + held), abs=0.01)
    steep = [line(60.0, 50.0, 8.5), line(60.0, 50.0, -8.5)]
    assert meeting(at, steep, WIDTH) == pytest.approx([60.0, 50.0], abs=0.01)
    # farther than five widths is not here
    for far, stays in ((29.0, False), (31.0, True)):
        cross = [line(70.0 + far, 0.0, 90.0), line(0.0, 53.0, 0.0)]
        found = meeting(at, cross, WIDTH)
        assert (found == pytest.approx(at)) == stays


def test_the_heavier_has_its_way() -> None:
    # level lines a pixel apart and an upright one: at weights of 3 to 1 the place
    # is a quarter of a pixel from the first
    carriers = [line(0.0, 50.0, 0.0), line(0.0, 51.0, 0.0), line(100.0, 0.0, 90.0)]
    found = meeting(np.array([100.0, 50.0]), carriers, WIDTH, [3.0, 1.0, 1.0])
    assert found == pytest.approx([100.0, 50.25], abs=0.01)
    even = meeting(np.array([100.0, 50.0]), carriers, WIDTH)
    assert even == pytest.approx([100.0, 50.5], abs=0.01)


@pytest.mark.parametrize(("off", "held"), [(0.65, True), (2.0, False)])
def test_most_agree_and_what_passes_by_is_let_go(off: float, held: bool) -> None:
    # two lines cross at (100, 50), a third passes by so many widths off
    carriers = [line(0.0, 50.0, 0.0), line(100.0, 0.0, 90.0),
                line(100.0, 50.0 + off * WIDTH, 45.0)]  # fmt: skip
    place, agreed = _agreed(
        np.array([100.0, 50.0]), carriers, [1.0, 1.0, 1.0], WIDTH, INK
    )
    assert agreed[:2] == [True, True] or held
    assert all(agreed) == held
    if not held:
        two = [c for c, good in zip(carriers, agreed, strict=True) if good]
        assert len(two) == 2
        assert place == pytest.approx([100.0, 50.0], abs=0.1)
    # two are agreed on anything
    assert _agreed(place, carriers[:2], [1.0, 1.0], WIDTH, INK)[1] == [True, True]


def test_the_place_that_is_agreed_on_is_inked() -> None:
    # three lines make a triangle of 40 px sides; one corner alone lies in ink
    carriers = [line(100.0, 100.0, 0.0), line(100.0, 100.0, 60.0),
                line(140.0, 100.0, 120.0)]  # fmt: skip
    start = np.array([120.0, 110.0])
    for corner in ((100.0, 100.0), (140.0, 100.0), (120.0, 100 + 20 * np.sqrt(3))):
        mask = np.zeros((200, 300), bool)
        x, y = np.rint(corner).astype(int)
        mask[y, x] = True
        place, agreed = _agreed(start, carriers, [1.0] * 3, WIDTH, mask)
        assert sum(agreed) == 2
        assert place == pytest.approx(corner, abs=0.1)


@pytest.mark.parametrize(
    ("off", "area"),
    # lines at 60 degrees round a triangle of height h: h² / sqrt 3 in all, of which the
    # place in its middle is a third off; a quarter of a width, 1.5 px, hides nothing
    [(4.2, 0.0), (4.8, 4.8**2 / np.sqrt(3))],
)
def test_lines_drawn_to_one_point_hide_the_triangle_between(
    off: float, area: float
) -> None:
    middle = np.array([100.0, 100.0])
    carriers = []
    for degrees in (0.0, 120.0, 240.0):
        a = np.radians(degrees)
        out = np.array([np.cos(a), np.sin(a)])
        carriers.append(line(*(middle + off / 3 * out), degrees + 90.0))
    found = _hidden(middle, carriers, [True] * 3, WIDTH)
    assert found == pytest.approx(area, rel=1e-6)
    assert _hidden(middle, carriers, [True, True, False], WIDTH) == 0.0


@pytest.mark.parametrize(("paper", "reached"), [(0, True), (4, True), (6, False)])
def test_ink_leads_to_where_lines_meet(paper: int, reached: bool) -> None:
    # half a width, 3 px, of paper; a pixel to both sides counts as ink
    mask = np.zeros((60, 100), bool)
    mask[28:33, 10:30] = mask[28:33, 30 + paper : 80] = True
    start, place = np.array([20.0, 30.0]), np.array([60.0, 30.0])
    assert _reached(start, place, mask, WIDTH) == reached
    # what is nearer than one and a half widths needs none
    assert _reached(start, start + np.array([8.9, 0.0]), np.zeros_like(mask), WIDTH)
    assert not _reached(start, start + np.array([9.1, 0.0]), np.zeros_like(mask), WIDTH)


def crossing(long: float, short: float, *, past: bool) -> tuple[Drawing, int]:
    """A level line, and one that ends on it 3 px too high, at (150, 50)."""
    drawing = Drawing([], [], WIDTH)
    v = drawing.add(np.array([150.0, 47.0]))
    level = sampled(drawing, (150 - long, 50.0), (150 + long * past, 50.0))
    if past:
        level.vertices.insert(1, v)
    else:
        level.vertices[1] = v
    other = sampled(drawing, (150.0 + short * 0.5, 47.0 - short * 0.8), (150.0, 47.0))
    other.carrier = line(150.0, 47.0, np.degrees(np.arctan2(0.8, -0.5)))
    other.vertices[1] = v
    third = sampled(drawing, (150.0 - short * 0.5, 47.0 - short * 0.8), (150.0, 47.0))
    third.carrier = line(150.0, 47.0, np.degrees(np.arctan2(0.8, 0.5)))
    third.vertices[1] = v
    return drawing, v


@pytest.mark.parametrize(("long", "high"), [(80.0, 50.0), (50.0, 48.0)])
def test_a_line_far_longer_than_what_meets_it_stays(long: float, high: float) -> None:
    # seen over 160 px against 47, more than three times, or over 100
    drawing, v = crossing(long, 50.0, past=True)
    _solve(drawing, INK, 1.0)
    if high == 50.0:
        assert drawing.vertices[v][1] == pytest.approx(50.0, abs=0.01)
    else:
        assert 47.0 < drawing.vertices[v][1] < 49.9


def test_a_line_is_trusted_thirty_times_another_at_most() -> None:
    # 600 px of line end where 10 px of one begin that lie a pixel lower; both on an
    # upright one as long
    drawing = Drawing([], [], WIDTH)
    v = drawing.add(np.array([100.0, 50.0]))
    for start, stop in (((-500.0, 50.0), (100.0, 50.0)), ((110.0, 51.0), (100.0, 51.0)),
                        ((100.0, -550.0), (100.0, 50.0))):  # fmt: skip
        sampled(drawing, start, stop).vertices[1] = v
    _solve(drawing, INK, 0.2)
    # of 601 to 11 places, 54 to 1, 30 count
    assert drawing.vertices[v] == pytest.approx([100.0, 50 + 1 / 31], abs=0.008)


@pytest.mark.parametrize(
    ("off", "degrees", "sigma", "moved"),
    [
        (2.5, 6.0, 0.2, True),
        # a quarter of a width, or as far as so many places are off by, is no miss
        (1.3, 6.0, 0.2, False),
        (1.8, 6.0, 0.2, True),
        (2.5, 6.0, 3.0, False),
        # where it meets the other is more than a width away and less than six
        (2.5, 22.0, 0.2, True),
        (2.5, 27.0, 0.2, False),
        (2.5, 4.3, 0.2, True),
        (2.5, 3.7, 0.2, False),
    ],
)
def test_a_line_ends_where_it_meets_the_other_itself(
    off: float, degrees: float, sigma: float, moved: bool
) -> None:
    # a line that is cut off so far above (200, 50), where it was said to end, comes
    # down on a level one at off / sin
    drawing = Drawing([], [], WIDTH)
    v = drawing.add(np.array([200.0, 50.0]))
    level = sampled(drawing, (0.0, 50.0), (400.0, 50.0))
    level.vertices.insert(1, v)
    a = np.radians(degrees)
    end = np.array([200.0, 50.0]) + off * np.array([np.sin(a), -np.cos(a)])
    start = end - 100 * np.array([np.cos(a), np.sin(a)])
    piece = sampled(drawing, tuple(start), tuple(end))
    piece.vertices[1] = v
    _end_beside(drawing, piece, [level], v, INK, sigma)
    assert (piece.vertices[1] != v) == moved
    if moved:
        want = [200 + off / np.sin(a), 50.0]
        assert drawing.vertices[piece.vertices[1]] == pytest.approx(want)
        assert len(level.vertices) == 4


@pytest.mark.parametrize(("short", "off"), [(90.0, 1.9), (90.0, 2.4), (100.0, 1.9)])
def test_a_short_piece_takes_the_carrier_that_it_lies_on(
    short: float, off: float
) -> None:
    # up to 16 widths long, within 0.35 of one, half as long as the other at most
    drawing = Drawing([], [], WIDTH)
    sampled(drawing, (0.0, 50.0), (200.0, 50.0))
    piece = sampled(drawing, (210.0, 50.0 + off), (210.0 + short, 50.0 + off))
    _adopt(drawing)
    taken = short < 96 and off < 0.35 * WIDTH
    assert np.array_equal(piece.carrier, drawing.pieces[0].carrier) == taken


@pytest.mark.parametrize(("gap", "taken"), [(83.0, True), (86.0, False)])
def test_the_other_goes_on_within_fourteen_widths(gap: float, taken: bool) -> None:
    drawing = Drawing([], [], WIDTH)
    sampled(drawing, (0.0, 50.0), (200.0, 50.0))
    piece = sampled(drawing, (200.0 + gap, 50.5), (260.0 + gap, 50.5))
    _adopt(drawing)
    assert np.array_equal(piece.carrier, drawing.pieces[0].carrier) == taken
    # a piece more than half as long keeps its own
    other = Drawing([], [], WIDTH)
    sampled(other, (0.0, 50.0), (100.0, 50.0))
    kept = sampled(other, (110.0, 50.5), (170.0, 50.5))
    _adopt(other)
    assert not np.array_equal(kept.carrier, other.pieces[0].carrier)


def bowed(off: float) -> Piece:
    """A straight piece between forks 90 px apart whose ink bows by so much there."""
    radius = (45.0**2 + off**2) / (2 * off)
    half = np.arcsin(45.0 / radius)
    a = np.linspace(-half, half, 91)
    points = np.c_[radius * np.sin(a), radius * np.cos(a) - radius + off]
    return Piece(False, np.array([0.0, off / 2, 1.0, 0.0]), 0.0, [0, 1], points)


@pytest.mark.parametrize(
    ("bow", "sigma", "bent"),
    # of an arc half lies beyond 0.77 of its bow and more of what is left of it: 0.7
    # widths are 4.2 px, and twice the hand's accuracy
    [(4.4, 1.0, False), (6.2, 1.0, True), (6.2, 3.0, False)],
)
def test_a_short_piece_is_bent_from_seven_tenths_of_a_width(
    bow: float, sigma: float, bent: bool
) -> None:
    tips = [np.array([-45.0, 0.0]), np.array([45.0, 0.0])]
    drawing = Drawing(tips, [bowed(bow)], WIDTH)
    _bend_short(drawing, sigma)
    assert drawing.pieces[0].circle == bent
    # where both ends are known from others, half of that is enough
    for high, told in ((2.2, False), (3.2, True)):
        drawing = Drawing([t.copy() for t in tips], [bowed(high)], WIDTH)
        _bend(drawing, 0.5)
        assert drawing.pieces[0].circle == told


def test_a_closed_strand_begins_at_its_sharpest_corner() -> None:
    t = np.arange(0.0, 40.0)
    square = np.vstack([np.c_[t, 0 * t], np.c_[40 + 0 * t, t],
                        np.c_[40 - t, 40 + 0 * t], np.c_[0 * t, 40 - t]])  # fmt: skip
    rolled = np.roll(square, 13, axis=0)
    found = _from_corner(Strand(rolled, np.arange(160.0), [(5, 7)], True), WIDTH)
    corners = {(0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0)}
    assert tuple(found.points[0]) in corners
    assert np.array_equal(found.points[0], found.points[-1])
    assert len(found.points) == len(found.weight) == 161
    # its node is where it was
    ((at, node),) = found.stops
    assert node == 7
    assert np.array_equal(found.points[at], rolled[5])
    # a circle has none, and begins at its node, or anywhere
    a = np.linspace(0, 2 * np.pi, 300, endpoint=False)
    ring = 50 * np.c_[np.cos(a), np.sin(a)]
    found = _from_corner(Strand(ring, np.ones(300), [(40, 3)], True), WIDTH)
    assert found.points[0] == pytest.approx(ring[40])
    assert found.stops == [(0, 3)]


def test_a_strand_is_laid_through_its_nodes() -> None:
    # a right angle with a node on one side, and nodes at both ends
    t = np.arange(0.0, 101.0)
    points = np.vstack([np.c_[t, 0 * t], np.c_[100 + 0 * t[1:], t[1:]]])
    drawing = Drawing([points[0], points[40], points[-1]], [], WIDTH)
    strand = Strand(points, np.ones(201), [(0, 0), (40, 1), (200, 2)], False)
    _lay(strand, drawing, 1.0)
    assert [p.vertices for p in drawing.pieces] == [[0, 1, 3], [3, 2]]
    assert drawing.vertices[3] == pytest.approx([100.0, 0.0], abs=2.0)
    # a part's points do not reach over to the next chain
    far = np.vstack([points[:50], [[60.0, 0.0]]])
    assert len(_own(far, WIDTH)) == 50
    assert len(_own(np.vstack([[[-9.0, 0.0]], points[:50]]), WIDTH)) == 50
    assert len(_own(points[:50], WIDTH)) == 50


def stubbed(over: float, next_: float) -> Drawing:
    """A level line that runs so far past an upright one; the next is so far on."""
    drawing = Drawing([], [], WIDTH)
    sampled(drawing, (100.0, 10.0), (100.0, 190.0))
    level = sampled(drawing, (10.0, 100.0), (100.0 + over, 100.0))
    v = drawing.add(np.array([100.0, 100.0]))
    drawing.pieces[0].vertices.insert(1, v)
    level.vertices.insert(1, v)
    x = 100.0 + over + next_
    sampled(drawing, (x, 10.0), (x, 190.0))
    return drawing


@pytest.mark.parametrize(
    ("over", "next_", "off"),
    [
        (12.0, 90.0, True),
        (29.0, 90.0, True),
        # five widths are a line of its own
        (31.0, 90.0, False),
        # not half of the way to the next
        (20.0, 23.0, True),
        (20.0, 18.0, False),
    ],
)
def test_an_end_past_its_line_is_taken_off(
    over: float, next_: float, off: bool
) -> None:
    drawing = stubbed(over, next_)
    level = drawing.pieces[1]
    _trim(drawing, {level.vertices[-1]})
    assert len(level.vertices) == (2 if off else 3)
    assert len(drawing.stubs) == off
    if off:
        foot, tip = drawing.stubs[0]
        assert foot == pytest.approx([100.0, 100.0])
        assert tip == pytest.approx([100.0 + over, 100.0])
    # where the ink goes on, nothing is taken off
    drawing = stubbed(over, next_)
    _trim(drawing, set())
    assert len(drawing.pieces[1].vertices) == 3
    assert _past(drawing, []) == []


@pytest.mark.parametrize(("long", "stays"), [(17.0, False), (19.0, True)])
def test_a_short_piece_of_its_own_beside_a_corner_goes(
    long: float, stays: bool
) -> None:
    # three fifths of five widths
    drawing = stubbed(40.0, 90.0)
    v = drawing.pieces[0].vertices[1]
    piece = sampled(drawing, (100.0, 100.0), (100.0 - long, 100.0 + 0.1))
    piece.vertices[0] = v
    _trim(drawing, {piece.vertices[1]})
    assert (piece in drawing.pieces) == stays


def test_all_of_settling_on_a_cross() -> None:
    t = np.arange(0.0, 101.0)
    level, upright = np.c_[t, 50 + 0 * t], np.c_[50 + 0 * t, t]
    network = Network(
        [
            np.array(p)
            for p in ([0.0, 50], [100.0, 50], [50.0, 0], [50.0, 100], [50.8, 49.3])
        ],
        [],
        WIDTH,
    )
    strands = [
        Strand(level, np.ones(101), [(0, 0), (50, 4), (100, 1)], False),
        Strand(upright, np.ones(101), [(0, 2), (50, 4), (100, 3)], False),
    ]
    mask = draw_lines([level, upright], (120, 120), WIDTH)
    drawing = settle(network, strands, 0.5, mask)
    assert [p.vertices for p in drawing.pieces] == [[0, 4, 1], [2, 4, 3]]
    assert drawing.vertices[4] == pytest.approx([50.0, 50.0], abs=0.05)
    assert network.nodes[4] == pytest.approx([50.8, 49.3])


def parted(astray: float, bend: float, *, turned: bool = False) -> Drawing:
    """A circle's part and a line that goes on, bent; the circle so far off there."""
    a = np.radians(np.linspace(180.0, 270.0, 190))
    arc = np.array([200.0, 200.0]) + 120 * np.c_[np.cos(a), np.sin(a)]
    way = np.array([np.cos(np.radians(bend)), np.sin(np.radians(bend))])
    straight = arc[-1] + np.arange(120.0)[:, None] * way
    drawing = Drawing([arc[0], arc[-1], straight[-1]], [], WIDTH)
    circle = fit_circle(arc)
    assert circle is not None
    circle = circle - np.array([0.0, astray, 0.0])
    parts = [
        Piece(True, circle, np.pi / 2, [0, 1], arc),
        Piece(False, np.r_[arc[-1], way], 0.0, [1, 2], straight),
    ]
    if turned:
        parts = [
            Piece(p.circle, p.carrier, -p.turn, p.vertices[::-1], p.points[::-1])
            for p in parts[::-1]
        ]
    drawing.pieces += parts
    return drawing


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("astray", "bend", "joined"),
    [
        (3.0, 0.0, True),
        # eight widths on, 48 px, an arc of 120 px is 10 px beside its tangent, and the
        # circle so much less: 4 or 8, against a width
        (14.0, 0.0, True),
        (18.0, 0.0, False),
        # cos 37 degrees is 0.8; the arc's last three widths lie 4 degrees off its end
        (3.0, 30.0, True),
        (3.0, 44.0, False),
    ],
)
def test_parts_that_go_on_are_joined_beside_a_crossing(
    astray: float, bend: float, joined: bool, turned: bool
) -> None:
    drawing = parted(astray, bend, turned=turned)
    first = 1 if turned else 0
    assert rejoin(drawing, first, 1) == joined
    if joined:
        one, two = drawing.pieces
        assert len(set(one.vertices) & set(two.vertices)) == 1
    # nor what is no part of it, or has another vertex between
    assert not rejoin(parted(3.0, 0.0), 0, 0)
    apart = parted(3.0, 0.0)
    apart.pieces[1].points = apart.pieces[1].points + np.array([WIDTH + 0.5, 0.0])
    assert not rejoin(apart, 0, 1)
