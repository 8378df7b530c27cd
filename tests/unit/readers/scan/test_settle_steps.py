"""Steps of settling, of marks and of paint, each from both sides of its limit."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.readers.scan import (
    forks,
    gaps,
    holes,
    joints,
    marks,
    overlay,
    paint,
    settle,
    sheet,
    skeleton,
    strands,
)
from fillwork.readers.scan.fit import cut_strand
from fillwork.readers.scan.model import Chain, Drawing, Network, Piece, Strand

WIDTH = 6.0
INK = np.ones((400, 400), bool)


def level(start: float, stop: float, y: float = 0.0) -> np.ndarray:
    """Places a pixel apart along a level line."""
    x = np.arange(start, stop + (1 if stop > start else -1), 1 if stop > start else -1)
    return np.stack([x, np.full(len(x), y)], 1).astype(float)


def bowed(
    radius: float, begin: float, end: float, centre: tuple[float, float]
) -> np.ndarray:
    """Places about a pixel apart along an arc, degrees."""
    n = max(3, round(radius * math.radians(abs(end - begin))))
    a = np.radians(np.linspace(begin, end, n))
    return np.array(centre) + radius * np.stack([np.cos(a), np.sin(a)], 1)


def line_of(points: np.ndarray, vertices: list[int]) -> Piece:
    way = points[-1] - points[0]
    return Piece(False, np.r_[points[0], way / np.hypot(*way)], 0.0, vertices, points)


# --- places and ways


def test_how_far_off_and_how_far_round() -> None:
    assert settle._off(np.array([5.0, -3.0]), np.array([0.0, 0, 1, 0])) == 3.0
    assert settle._off(np.array([3.0, 4.0]), np.array([0.0, 0, 7])) == 2.0
    circle = np.array([10.0, 20.0, 50.0])
    for begin, end in ((0, 90), (90, 0), (-30, 330), (170, 190), (190, 170)):
        points = bowed(50, begin, end, (10, 20))
        assert settle._turn(points, circle) == pytest.approx(math.radians(end - begin))


@pytest.mark.parametrize(
    ("points", "first", "last"),
    [
        # a step longer than the pen is wide leads to the next chain
        ([0, 7, 8, 9, 10], 7, 10),
        ([0, 1, 2, 3, 10], 0, 3),
        ([0, 6, 7, 8, 14], 0, 14),
        ([0, 7, 8, 9, 16], 7, 9),
        ([0, 7, 14], 0, 14),
        ([0, 7, 8, 15], 0, 8),
    ],
)
def test_a_part_ends_where_the_next_chain_begins(
    points: list[float], first: float, last: float
) -> None:
    own = settle._own(np.stack([points, np.zeros(len(points))], 1).astype(float), WIDTH)
    assert (own[0, 0], own[-1, 0]) == (first, last)


def test_ink_beside_a_place_counts() -> None:
    mask = np.zeros((20, 20), bool)
    mask[10, 10] = True
    for x, y, inked in (
        (10, 10, True), (11, 11, True), (9, 9, True), (11.4, 9, True),
        (12, 10, False), (10, 8, False), (8, 10, False), (10, 12, False),
    ):  # fmt: skip
        assert settle._inked(np.array([x, y], float), mask) == inked
    mask[0, 0] = True
    assert settle._inked(np.array([-0.4, 0.0]), mask)
    assert settle._inked(np.array([1.0, 1.0]), mask)


# --- what is let go, hidden, bent


def test_a_line_that_is_let_go_ends_at_its_own_ink() -> None:
    drawing = Drawing(
        [np.array([50.0, 9.0]), np.array([0.0, 0]), np.array([99.0, 0])], [], WIDTH
    )
    piece = line_of(level(0, 99), [1, 0, 2])
    settle._let_go(drawing, piece, 0)
    assert piece.vertices == [1, 2]
    for end, vertices in ((0, [0, 1]), (-1, [1, 0])):
        points = level(40, 99) if end == 0 else level(0, 40)
        points[end, 1] = 2.0
        piece = line_of(points, vertices)
        piece.carrier = np.array([0.0, 0, 1, 0])
        settle._let_go(drawing, piece, 0)
        assert 0 not in piece.vertices
        # its last place, carried over to its line
        assert drawing.vertices[piece.vertices[end]] == pytest.approx([40, 0], abs=0.05)


def carrier(x: float, y: float, degrees: float) -> np.ndarray:
    a = math.radians(degrees)
    return np.array([x, y, math.cos(a), math.sin(a)])


@pytest.mark.parametrize(
    ("high", "area"),
    [
        # lines y = 0, and at ±45 degrees through (0, h): a triangle of h², at a place
        # that its base misses by h / 4, a line by (3 h / 4) / √2
        (2.5, 0.0),
        (3.0, 9.0),
        (20.0, 400.0),
        # corners are looked for within four widths: at hypot(h, h / 4)
        (23.0, 529.0),
        (24.0, 0.0),
    ],
)
def test_lines_to_one_point_hide_their_triangle(high: float, area: float) -> None:
    place = np.array([0.0, high / 4])
    lines = [carrier(0, 0, 0), carrier(0, high, 45), carrier(0, high, -45)]
    got = settle._hidden(place, lines, [True] * 3, WIDTH)
    assert got == pytest.approx(area)
    # one that does not agree hides nothing, and two make no triangle
    assert settle._hidden(place, lines, [True, True, False], WIDTH) == 0.0
    # the largest of several
    more = [*lines, carrier(0, high / 2, 90.0)]
    assert settle._hidden(place, more, [True] * 4, WIDTH) == pytest.approx(area)


@pytest.mark.parametrize(
    ("radius", "goal", "bent"),
    [
        # an arc that ends on a level line 12 px below it
        (100.0, 12.0, True),
        # a circle of four widths at least
        (25.0, 5.0, True),
        (23.0, 5.0, False),
        # the line farther off than six widths
        (100.0, 45.0, False),
    ],
)
def test_a_short_piece_may_be_bent_to_reach_its_line(
    radius: float, goal: float, bent: bool
) -> None:
    span = math.degrees(40 / radius)
    points = bowed(radius, -span, 0, (0, 0))
    piece = line_of(points, [0, 1])
    start = points[-1]
    at = settle._bent_to(
        piece, np.array([0.0, goal, 1, 0]), start, np.ones((200, 300), bool), WIDTH
    )
    assert (at is not None) == bent
    assert piece.circle == bent
    if at is not None:
        assert np.hypot(*at) == pytest.approx(radius, abs=0.1)
        assert at[1] == pytest.approx(goal)
        assert piece.turn == pytest.approx(math.radians(span), rel=0.05)
    # four widths long at least, straight so far, and on ink
    assert settle._bent_to(None, piece.carrier, start, INK, WIDTH) is None
    few = line_of(points[:23], [0, 1])
    assert (
        settle._bent_to(few, np.array([0.0, goal, 1, 0]), few.points[-1], INK, WIDTH)
        is None
    )


@pytest.mark.parametrize(
    ("off", "degrees", "bent"),
    [(0.0, 120, True), (0.9, 120, True), (1.1, 120, False), (0.0, 190, False)],
)
def test_a_piece_is_laid_on_what_follows_its_ink(
    off: float, degrees: float, bent: bool
) -> None:
    ink = bowed(50 + off, 0, degrees, (0, 0))
    piece = line_of(ink, [0, 1])
    settle._bend_to(piece, np.array([0.0, 0, 50]), ink, ink, 1.0)
    assert piece.circle == bent
    if bent:
        assert piece.turn == pytest.approx(math.radians(degrees))


@pytest.mark.parametrize(
    ("rise", "bent"),
    # a piece of 60 px whose ink bows by so much: the median of an arc's height over
    # its chord is three quarters of the most
    [(2.4, False), (3.4, True)],
)
def test_a_piece_that_leaves_its_own_ink_is_bent(rise: float, bent: bool) -> None:
    radius = (30**2 + rise**2) / (2 * rise)
    half = math.degrees(math.asin(30 / radius))
    points = bowed(radius, 90 - half, 90 + half, (0, -radius + rise))
    drawing = Drawing([points[0], points[-1]], [line_of(points, [0, 1])], WIDTH)
    # three quarters of 2.4 is 1.8, of 3.4 2.55; a third of a width and more is 2.1
    settle._bend(drawing, 0.2)
    assert drawing.pieces[0].circle == bent
    # what a hand strays counts twice
    drawing.pieces = [line_of(points, [0, 1])]
    settle._bend(drawing, 1.5)
    assert not drawing.pieces[0].circle


# --- two parts of one strand


def parts(jump: float = 0.0, turn: float = 0.0) -> tuple[Piece, Piece]:
    """A level line of 60 px, and one on from it, aside or turned."""
    a = math.radians(turn)
    one = level(0, 60)
    way = np.array([math.cos(a), math.sin(a)])
    two = np.array([60.0 + jump, 0.0]) + np.arange(61)[:, None] * way
    return line_of(one, [0, 1]), line_of(two, [1, 2])


@pytest.mark.parametrize(
    ("jump", "turn", "joined"),
    [(0, 0, True), (5.9, 0, True), (6.1, 0, False), (0, 10, True), (0, 90, False)],
)
def test_parts_of_one_strand_join(jump: float, turn: float, joined: bool) -> None:
    one, two = parts(jump, turn)
    assert (joints._joint(one, two, -1, WIDTH) is not None) == joined
    # the other way about: the second's first end at the first's last
    assert (joints._joint(two, one, 0, WIDTH) is not None) == joined


def test_a_joint_lies_where_both_run_along_the_ink() -> None:
    one, two = parts(0.0, 4.0)
    place, before = joints._joint(one, two, -1, WIDTH)
    assert place == pytest.approx([60, 0], abs=1.0)
    assert before
    short = line_of(level(0, 17), [0, 1])
    assert joints._joint(short, two, -1, WIDTH) is None
    # where the ink lies aside of either they are no parts of one
    two.carrier[1] += 40.0
    assert joints._joint(one, two, -1, WIDTH) is None


# --- where lines that run together meet, and gaps


@pytest.mark.parametrize(
    ("high", "here", "at"),
    [
        # a circle of 200 px and a line so high over its lowest place: they cross at
        # ± sqrt(200² - (200 - h)²); a thin lens between them is a touch
        (3.0, 50.0, 200**2 - 197**2),
        (1.0, 40.0, 0.0),
    ],
)
def test_two_lines_meet_at_the_nearer_place(
    high: float, here: float, at: float
) -> None:
    drawing = Drawing([np.array([200 + here, 200 + high])], [], WIDTH)
    carriers = [np.array([100.0, 200 + high, 1, 0]), np.array([200.0, 400, 200])]
    for pair in (carriers, carriers[::-1]):
        got = forks._meeting(drawing, 0, np.array([-1.0, 0]), pair, INK)
        assert got == pytest.approx([200 + math.sqrt(at), 200 + high])
    # the way there is another, or has no ink
    assert forks._meeting(drawing, 0, np.array([1.0, 0]), carriers, INK) is None
    assert forks._meeting(drawing, 0, np.array([-1.0, 0]), carriers, ~INK) is None


def test_a_ring_that_all_but_closes_is_closed() -> None:
    # about 9 px between the two ends of one arc
    drawing = Drawing([], [], WIDTH)
    points = bowed(50, 5, 355, (100, 100))
    ends = [drawing.add(points[0]), drawing.add(points[-1])]
    drawing.pieces.append(
        Piece(True, np.array([100.0, 100, 50]), math.radians(350), ends, points)
    )
    (closed,) = gaps.close_ends(drawing, 42.0)
    assert closed.size == pytest.approx(100 * math.sin(math.radians(5)))
    assert closed.at == pytest.approx([100 + 50 * math.cos(math.radians(5)), 100])
    assert drawing.pieces[-1].vertices in ([0, 1], [1, 0])
    assert closed.straight


@pytest.mark.parametrize(
    ("bend", "straight"), [(0.0, True), (14.0, True), (17.0, False)]
)
def test_ends_point_along_the_bridge(bend: float, straight: bool) -> None:
    # far from the origin, so that ways are what tells
    drawing = Drawing([], [], WIDTH)
    a = math.radians(bend)
    way = np.array([math.cos(a), math.sin(a)])
    here = np.array([500.0, 300.0])
    gaps.add_line(drawing, here - 200 * way, here)
    gaps.add_line(drawing, np.array([510.0, 300]), np.array([710.0, 300]))
    closed = [c for c in gaps.close_ends(drawing, 42.0) if c.size]
    assert [c.straight for c in closed] == [straight]
    assert closed[0].at == pytest.approx([505, 300])


def test_a_strand_of_two_places_is_a_line() -> None:
    two = Strand(
        np.array([[3.0, 4.0], [6.0, 8.0]]), np.ones(2), [(0, 0), (1, 1)], False
    )
    (part,) = cut_strand(two, WIDTH, 0.5)
    assert (part.start, part.stop, part.circle) == (0, 1, False)
    assert abs(part.carrier[2:] @ [0.6, 0.8]) == pytest.approx(1.0)


def test_a_chain_of_one_place_leads_away_from_its_node() -> None:
    nodes = [np.array([0.0, 0.0]), np.array([6.0, 8.0])]
    network = Network(nodes, [Chain(np.array([[3.0, 4.0]]), (0, 1))], WIDTH)
    assert strands._direction(network, 0, 0) == pytest.approx([0.6, 0.8])
    assert strands._direction(network, 0, 1) == pytest.approx([-0.6, -0.8])


@pytest.mark.parametrize(
    ("more", "found"),
    [
        # nothing beside the holes; a patch before, behind or among them
        ((30.0, 36.0), True),
        ((10.4, 16.0), False),
        ((10.6, 16.0), True),
        ((2.0, 4.0), False),
        # what runs along the very rim is the table's
        ((0.9, 4.0), True),
    ],
)
def test_holes_are_outermost_along_their_side(
    more: tuple[float, float], found: bool
) -> None:
    near = np.array([5.0, 5.5, more[0]])
    far = np.array([10.0, 10.5, more[1]])
    solid, speck = np.array([True, True, False]), np.zeros(3, bool)
    got = holes._row(near, far, np.array([20.0, 22.0, 20.0]), solid, speck)
    assert got.tolist() == [found, found, False]
    # of one size within a quarter, in one line within a millimetre, two at least
    assert not holes._row(near, far, np.array([20.0, 36.0, 20.0]), solid, speck).any()
    assert not holes._row(
        near, far, np.full(3, 20.0), solid & (far < 10.2), speck
    ).any()
    off = np.array([0.0, 2.1, 0.0])
    assert not holes._row(near + off, far + off, np.full(3, 20.0), solid, speck).any()


def stem_of(
    shift: float = 0.0, *, back: bool = False, radius: float = 150.0
) -> Network:
    """A line and a circle that touches it, with one stem of 20 px for both."""
    right = np.arange(10.0, min(91.0, 0.9 * radius))
    rise = radius - np.sqrt(radius**2 - right**2)
    ways = [np.stack([right, y], 1) for y in (0.0 * right, rise)]
    mirror, aside = np.array([-1.0, 1.0]), np.array([0.0, shift])
    on = [way * mirror if back else way + aside for way in ways]
    nodes = [np.array([-10.0, 0.0]), np.array([10.0, 0.0])]
    chains = [Chain(level(-10, 10), (0, 1))]
    chains += [Chain(way * mirror, (0, 2)) for way in ways]
    chains += [Chain(way, (1, 2)) for way in on]
    return Network(nodes, chains, WIDTH)


@pytest.mark.parametrize(
    ("network", "crosses"),
    [
        (stem_of(), True),
        (stem_of(radius=60.0), True),
        # on one side of it, or aside of each other
        (stem_of(back=True), False),
        (stem_of(8.0), False),
    ],
)
def test_two_smooth_lines_run_along_a_stem(network: Network, crosses: bool) -> None:
    stem = network.chains[0]
    for one in ([(1, 0), (2, 0)], [(2, 0), (1, 0)]):
        for two in ([(3, 0), (4, 0)], [(4, 0), (3, 0)]):
            assert strands._crossing(network, stem, one, two) == crosses


def test_a_step_round_the_first_pixel_is_none() -> None:
    # numbered row by row: the corner is pixel 0
    thin = np.array([[1, 1], [1, 0]], bool)
    table = skeleton._neighbours(thin, *np.nonzero(thin))
    near = [sorted(int(k) for k in row if k >= 0) for row in table]
    assert near == [[1, 2], [0], [0]]


# --- marks


def strand(points: np.ndarray, *, closed: bool = False) -> Strand:
    stops = [(0, 0), (len(points) - 1, 1)]
    return Strand(points, np.ones(len(points)), stops, closed)


def test_free_ends_point_outward() -> None:
    own = strand(level(0, 50))
    assert marks._tips(own, {0: 2, 1: 3}, WIDTH) == []
    ((at, way),) = marks._tips(own, {0: 1, 1: 2}, WIDTH)
    assert (at.tolist(), way.tolist()) == ([0, 0], [-1, 0])
    ((at, way),) = marks._tips(own, {1: 1}, WIDTH)
    assert (at.tolist(), way.tolist()) == ([50, 0], [1, 0])
    assert marks._tips(strand(level(0, 50), closed=True), {0: 1, 1: 1}, WIDTH) == []
    # as seen over two widths: a hook at the very tip
    hooked = level(0, 50)
    hooked[-1] += [0.0, 3.0]
    ((_, way),) = marks._tips(strand(hooked), {1: 1}, WIDTH)
    assert way == pytest.approx(np.array([12, 3]) / math.hypot(12, 3))


def test_an_end_that_points_at_a_line_is_no_letters() -> None:
    # a hook whose one free end has a frame ahead of it, the first patch of all
    for frame_first in (True, False):
        labels = np.zeros((120, 160), int)
        frame, own = (1, 2) if frame_first else (2, 1)
        labels[10:110, 90:94] = frame
        points = np.vstack([bowed(10, 270, 90, (40, 50)), level(40, 70, 60.0)])
        x, y = np.rint(points).astype(int).T
        labels[y, x] = own
        small = np.array([False, not frame_first, frame_first])
        one = strand(points)
        for ends, letter in (({1: 1}, False), ({0: 1, 1: 1}, True)):
            met = {0: 3, 1: 3} | ends
            got, open_ = marks._drawn_as_letters(labels, small, 3.0, [one], met, 10.0)
            assert got[own] == letter
            assert open_[own]
            assert not got[frame]


def test_how_far_points_lie_from_their_chord() -> None:
    bent = np.array([[0.0, 0], [30, 12], [60, 80]])
    long, off = marks._strays(bent)
    assert long == pytest.approx(100.0)
    assert off == pytest.approx(abs(30 * 0.8 - 12 * 0.6))


def beside(
    *strokes: tuple[float, float, float, float], pens: list[float] | None = None
) -> set:
    tips = np.array([[[a, b], [c, d]] for a, b, c, d in strokes], float)
    depth = np.array(pens or [3.0] * len(strokes))
    first, second, off = marks._side_by_side(tips, depth, WIDTH, 10.0)
    return {
        (a, b, round(c, 6))
        for a, b, c in zip(first.tolist(), second.tolist(), off.tolist(), strict=True)
    }


def test_strokes_lie_side_by_side_on_either_side() -> None:
    got = beside((0, 0, 100, 0), (0, 10, 100, 10))
    assert got == {(0, 1, 10), (1, 0, -10)}
    # half of a width apart at least
    assert beside((0, 0, 100, 0), (0, 2.9, 100, 2.9)) == set()
    assert len(beside((0, 0, 100, 0), (0, 3.1, 100, 3.1))) == 2
    # of a sine of 0.14 between them at most
    for rise, count in ((13.5, 2), (14.5, 0)):
        assert (
            len(beside((0, 0, 100, 0), (0, 10 - rise / 2, 100, 10 + rise / 2))) == count
        )
    # over more than three tenths of the shorter
    assert len(beside((0, 0, 100, 0), (69, 10, 169, 10))) == 2
    assert beside((0, 0, 100, 0), (71, 10, 171, 10)) == set()


def test_runs_of_boxes_in_a_row() -> None:
    # left, top, right, low; three tenths of a height in common
    boxes = np.array([[0, 0, 10, 20], [14, 13, 24, 33], [30, 15, 40, 35]])
    first, second = marks._in_a_row(boxes, 6.5)
    pairs = {
        (a, b) for a, b in zip(first.tolist(), second.tolist(), strict=True) if a != b
    }
    assert pairs == {(0, 1), (1, 0), (1, 2), (2, 1)}
    first, second = marks._in_a_row(boxes, 6.0)
    pairs = {
        (a, b) for a, b in zip(first.tolist(), second.tolist(), strict=True) if a != b
    }
    assert pairs == {(0, 1), (1, 0)}


# --- paint


@pytest.mark.parametrize(("side", "broad"), [(17, True), (13, False)])
def test_what_is_broad_holds_a_square(side: int, broad: bool) -> None:
    dark = np.zeros((96, 96), bool)
    dark[32 : 32 + side, 32 : 32 + side] = True
    got = paint._broad(dark, 16)
    assert got.any() == broad
    if broad:
        # grown by two blocks of an eighth of the width, and no farther
        assert got[40, 40]
        assert not got[:26].any()
        assert not got[:, 56:].any()


# --- the sheet


def test_numbers_of_rings_stand_beside_them() -> None:
    ((x, y),) = overlay.number_places([(100.0, 100.0)], 10.0, (400, 400))
    # two and a tenth radii off, up to the right
    assert math.hypot(x - 100, y - 100) == pytest.approx(21.0)
    assert x > 100 > y
    # in a corner the one place that is inside
    ((x, y),) = overlay.number_places([(12.0, 388.0)], 10.0, (400, 400))
    assert (x > 12, y < 388) == (True, True)
    # clear of another number and another ring
    two = overlay.number_places([(100.0, 100.0), (100.0, 100.0)], 10.0, (400, 400))
    assert math.dist(*two) >= 20.0
    beside_it = overlay.number_places([(100.0, 100.0), (115.0, 85.0)], 10.0, (400, 400))
    assert math.dist(beside_it[0], (115.0, 85.0)) >= 18.0


def test_four_sides_are_seen_where_both_ends_of_a_corner_are() -> None:
    whole, none = np.ones(100, bool), np.zeros(100, bool)
    corners = np.array([[0.0, 0], [9, 0], [9, 9], [0, 9]])
    four = sheet._Four(corners, (whole,) * 4, (whole, whole, none, whole), 0.0)
    # two of its corners touch the side that is not clear
    assert four.cornered == 2
    assert four.shown == pytest.approx(0.75 + 0.5)
    assert four.least == 1.0
    assert four.covered == 2
    bare = sheet._Four(corners, (whole, none, whole, whole), (whole,) * 4, 0.0)
    assert bare.covered == 1
    assert bare.support == [1.0, 0.0, 1.0, 1.0]
    for share, covered in ((49, 3), (51, None)):
        half = np.arange(100) < share
        four = sheet._Four(corners, (whole,) * 4, (whole, whole, whole, half), 0.0)
        assert four.covered == covered


def test_what_corners_enclose() -> None:
    assert sheet.area_of(np.array([[0.0, 0], [4, 0], [4, 3]])) == 6.0
    assert sheet.area_of(np.array([[0.0, 0], [0, 3], [4, 3], [4, 0]])) == 12.0
