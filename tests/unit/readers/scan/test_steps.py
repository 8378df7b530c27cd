"""Single steps of tracing, each with an answer that its construction gives."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.readers.scan import (
    check,
    ends,
    fit,
    forks,
    freehand,
    gaps,
    lens,
    skeleton,
    strands,
    unite,
)
from fillwork.readers.scan.model import Chain, Drawing, Network, Page, Piece, Strand
from fillwork.readers.scan.trails import Trails

if TYPE_CHECKING:
    from fillwork.arrays import Floats

WIDTH = 6.0


def ray(x: float, y: float, angle: float, long: float = 200.0) -> Floats:
    """Places a pixel apart from one on, so many degrees from level."""
    a = math.radians(angle)
    return np.array([x, y]) + np.arange(long + 1)[:, None] * [math.cos(a), math.sin(a)]


def circle_points(radius: float, begin: float, end: float, n: int = 200) -> Floats:
    a = np.radians(np.linspace(begin, end, n))
    return radius * np.stack([np.cos(a), np.sin(a)], 1)


def straight(drawing: Drawing, *places: tuple[float, float]) -> Piece:
    """Add a line through some vertices, first and last its ends."""
    at = [drawing.add(np.array(p, float)) for p in places]
    p, q = drawing.vertices[at[0]], drawing.vertices[at[-1]]
    way = (q - p) / np.hypot(*(q - p))
    n = int(np.hypot(*(q - p))) + 1
    points = p + np.linspace(0, 1, n)[:, None] * (q - p)
    drawing.pieces.append(Piece(False, np.r_[p, way], 0.0, at, points))
    return drawing.pieces[-1]


def round_(drawing: Drawing, radius: float, *degrees: float) -> Piece:
    """Add an arc about the origin through vertices at some angles."""
    places = [radius * np.array([math.cos(math.radians(d)), math.sin(math.radians(d))])
              for d in degrees]  # fmt: skip
    at = [drawing.add(p) for p in places]
    turn = math.radians(degrees[-1] - degrees[0])
    points = circle_points(radius, degrees[0], degrees[-1])
    carrier = np.array([0.0, 0.0, radius])
    drawing.pieces.append(Piece(True, carrier, turn, at, points))
    return drawing.pieces[-1]


# --- places on the page


def test_pixels_and_millimetres_are_carried_over() -> None:
    rgb = np.zeros((80, 40, 3), np.uint8)
    page = Page(rgb, 4.0, (10.0, 20.0), (), True)
    # the middle of the first pixel is an eighth of a mm from both edges
    assert page.to_mm(0.0, 0.0) == (0.125, 19.875)
    assert page.to_px((0.125, 19.875)) == (0.0, 0.0)
    assert page.to_px(page.to_mm(7.0, 31.0)) == (7.0, 31.0)
    assert page.middle == (20.0, 40.0)
    shown = [(0, 0), (10, 20), (10.1, 5), (-0.1, 5), (5, 20.1), (5, -0.1)]
    assert [page.shows(at) for at in shown] == [True, True] + [False] * 4


# --- ends that are carried on


def test_places_ahead_of_an_end_lie_on_its_line() -> None:
    drawing = Drawing([], [], WIDTH)
    piece = straight(drawing, (0, 0), (30, 40))
    path, start = ends._path(drawing, piece, -1, back=False)
    assert start == 0
    assert len(path) == 14 * 6 + 1
    assert path[0] == pytest.approx([30, 40])
    assert path[5] == pytest.approx([33, 44])
    back, start = ends._path(drawing, piece, 0, back=True)
    assert start == 18
    assert back[start] == pytest.approx([0, 0])
    assert back[0] == pytest.approx([18 * 0.6, 18 * 0.8])
    assert back[-1] == pytest.approx([-84 * 0.6, -84 * 0.8])
    # a tip beside its line is led back to it
    drawing.vertices[piece.vertices[1]] = np.array([30 - 0.8, 40 + 0.6])
    assert ends._path(drawing, piece, -1, back=False)[0][0] == pytest.approx([30, 40])


@pytest.mark.parametrize(("end", "sign"), [(-1, 1.0), (0, -1.0)])
def test_places_ahead_of_an_arc_lie_on_its_circle(end: int, sign: float) -> None:
    for turned in (1.0, -1.0):
        drawing = Drawing([], [], WIDTH)
        first, last = (20.0, 70.0) if turned > 0 else (70.0, 20.0)
        piece = round_(drawing, 100.0, first, last)
        path, start = ends._path(drawing, piece, end, back=True)
        tip = last if end == -1 else first
        # 10 px on are a tenth of a radian
        for k in (0, 10):
            a = math.radians(tip) + sign * turned * k / 100
            assert path[start + k] == pytest.approx(
                [100 * math.cos(a), 100 * math.sin(a)]
            )
        assert start == 18
    # on a small circle no farther than nine tenths of half of it
    drawing = Drawing([], [], WIDTH)
    small = round_(drawing, 5.0, 0.0, 90.0)
    path, start = ends._path(drawing, small, -1, back=True)
    assert start == 14
    assert len(path) == 29


def test_ink_along_a_path_ends_at_paper() -> None:
    mask = np.zeros((20, 20), bool)
    mask[10, 2:9] = True
    path = np.stack([np.arange(2.0, 18.0), np.full(16, 10.0)], 1)
    assert ends._inked(path, mask) == 7
    assert ends._inked(path[:5], mask) == 5
    assert ends._inked(path[8:], mask) == 0


def test_others_near_a_path() -> None:
    drawing = Drawing([], [], WIDTH)
    straight(drawing, (0, 0), (100, 0))
    straight(drawing, (40, 5), (40, 100))
    straight(drawing, (0, 30), (100, 30))
    trails = Trails.along(drawing)
    path = np.stack([np.arange(0.0, 100.0), np.zeros(100)], 1)
    near, numbers = ends._nearest_others(trails, path, 0)
    assert numbers == [1]
    assert near[40] == pytest.approx(5.0)
    assert near[46] == pytest.approx(math.hypot(6, 5))
    # two widths are the farthest
    assert near[0] == 12.0
    assert (near[53:] == 12.0).all()


def test_where_a_path_meets_another_piece() -> None:
    drawing = Drawing([], [], WIDTH)
    straight(drawing, (0, 0), (20, 0))
    straight(drawing, (60, -50), (60, 50))
    trails = Trails.along(drawing)
    path = np.stack([np.arange(20.0, 100.0), np.zeros(80)], 1)
    ((at, place),) = ends._meetings(drawing, trails, 0, 1, path)
    assert at == 40
    assert place == pytest.approx([60, 0])
    # not on the path, nor beyond the other's ink: half of a width past its side
    assert ends._meetings(drawing, trails, 0, 1, path[:35]) == []
    for stop, met in ((-5.5, 1), (-6.5, 0)):
        short = Drawing([], [], WIDTH)
        straight(short, (0, 0), (20, 0))
        straight(short, (60, -50), (60, stop))
        found = ends._meetings(short, Trails.along(short), 0, 1, path)
        assert len(found) == met


@pytest.mark.parametrize(("off", "found"), [(2.0, True), (2.2, False)])
def test_a_vertex_within_a_third_of_a_width_is_taken(off: float, found: bool) -> None:
    drawing = Drawing([], [], WIDTH)
    piece = straight(drawing, (0, 0), (50, 0), (100, 0))
    place = np.array([50.0 + off, 0.0])
    assert ends._vertex_at(drawing, 0, place) == (1 if found else None)
    v = ends._vertex(drawing, 0, place)
    assert v == (1 if found else 3)
    assert piece.vertices == ([0, 1, 2] if found else [0, 1, 3, 2])
    # beyond an end the piece is carried on
    w = ends._vertex(drawing, 0, np.array([120.0, 0.0]))
    assert piece.vertices[-1] == w
    w = ends._vertex(drawing, 0, np.array([-20.0, 0.0]))
    assert piece.vertices[0] == w


# --- gaps


@pytest.mark.parametrize(
    ("second", "at"),
    [
        # a level end at the origin; where the other's line crosses it
        ((20.0, 15.0, -90.0), (20, 0)),
        ((20.0, -15.0, 90.0), (20, 0)),
        ((41.0, 15.0, -90.0), (41, 0)),
        ((43.0, 15.0, -90.0), None),
        ((20.0, 43.0, -90.0), None),
        ((-8.0, 15.0, -90.0), (-8, 0)),
        ((-10.0, 15.0, -90.0), None),
        # behind the other by one and a half widths
        ((20.0, -8.0, -90.0), (20, 0)),
        ((20.0, -10.0, -90.0), None),
        # a sine of three tenths at least: 17.5 degrees
        ((10.0, 5.0, -20.0), (10 + 5 / math.tan(math.radians(20)), 0)),
        ((10.0, 3.0, -16.0), None),
    ],
)
def test_a_corner_lies_ahead_of_both_ends(
    second: tuple[float, float, float], at: tuple[float, float] | None
) -> None:
    x, y, angle = second
    way = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
    here, level = np.zeros(2), np.array([1.0, 0.0])
    got = gaps._corner(here, level, np.array([x, y]), way, 42.0, WIDTH)
    if at is None:
        assert got is None
    else:
        assert got == pytest.approx(at)


def test_an_end_lands_on_a_line_or_at_its_tip() -> None:
    for x, tips in ((30.0, [2, 3]), (-5.0, [2, 0]), (104.0, [2, 1])):
        drawing = Drawing([], [], WIDTH)
        target = straight(drawing, (0, 0), (100, 0))
        end = drawing.add(np.array([x, 40.0]))
        gaps._land(drawing, target, end, np.array([x, 0.0]))
        assert drawing.pieces[-1].vertices == tips
        assert (3 in target.vertices) == (x == 30.0)


@pytest.mark.parametrize(("long", "plain"), [(31.0, True), (29.0, False)])
def test_a_line_thrice_its_gap_was_carried_on_as_it_runs(
    long: float, plain: bool
) -> None:
    drawing = Drawing([], [], WIDTH)
    straight(drawing, (-long, 0), (0, 0))
    straight(drawing, (10, -80), (10, 80))
    (closed,) = (c for c in gaps.close_ends(drawing, 42.0) if c.size)
    assert closed.straight == plain
    assert closed.size == pytest.approx(10.0, abs=2.0)
    assert closed.at == pytest.approx([5, 0], abs=1.0)


# --- lines and arcs of a strand


def test_costs_are_those_of_the_best_line_and_circle() -> None:
    # a rectangle of places: least squares lie along its longer side
    x, y = np.meshgrid(np.linspace(-30, 30, 61), [-3.0, 3.0])
    points = np.stack([x.ravel(), y.ravel()], 1)
    moments = fit._moments(points, np.ones(len(points)))
    line, _, _ = fit._costs(moments[-1:])
    assert line[0] == pytest.approx(9.0)
    # an arc of 60 degrees and a radius of 100 is bowed by r (1 - cos 30°)
    arc = circle_points(100.0, 0.0, 60.0, 400)
    moments = fit._moments(arc, np.ones(len(arc)))
    line, off, bow = fit._costs(moments[-1:])
    assert off[0] == pytest.approx(0.0, abs=1e-6)
    assert bow[0] == pytest.approx(100 * (1 - math.cos(math.radians(30))), rel=0.03)
    direct = np.linalg.eigvalsh(np.cov(arc.T, bias=True))[0]
    assert line[0] == pytest.approx(direct)


def test_a_part_is_fitted_without_its_ends_and_what_strays() -> None:
    points = ray(0, 0, 0, 100)
    points[:4, 1] = 5.0
    points[-4:, 1] = -5.0
    strand = Strand(points, np.ones(101), [], False)
    part = fit._part(strand, 0, 100, False, 4)
    assert part.carrier[1] == pytest.approx(0.0, abs=1e-9)
    assert abs(part.carrier[3]) < 1e-9
    assert (part.start, part.stop, part.circle) == (0, 100, False)
    # one place far off counts in the first pass alone
    points = ray(0, 0, 0, 100)
    points[50, 1] = 30.0
    part = fit._part(Strand(points, np.ones(101), [], False), 0, 100, False, 4)
    assert part.carrier[1] == pytest.approx(0.0, abs=1e-9)
    # an arc, and one that is straight
    arc = Strand(circle_points(50.0, 0, 90), np.ones(200), [], False)
    got = fit._part(arc, 0, 199, True, 4)
    assert got.circle
    assert got.carrier == pytest.approx([0, 0, 50], abs=1e-6)
    assert not fit._part(
        Strand(ray(0, 0, 30), np.ones(201), [], False), 0, 200, True, 4
    ).circle
    # where no place counts all do
    part = fit._part(Strand(ray(0, 7, 0), np.zeros(201), [], False), 0, 200, False, 4)
    assert part.carrier[1] == pytest.approx(7.0)


def test_one_place_is_a_level_line() -> None:
    assert fit._line_of(np.array([[3.0, 4.0]])).tolist() == [3, 4, 1, 0]
    line = fit._line_of(np.array([[0.0, 0.0], [3.0, 4.0]]))
    assert abs(line[2:] @ [0.6, 0.8]) == pytest.approx(1.0)


def test_nodes_are_places_to_cut() -> None:
    points = np.vstack([ray(0, 0, 0, 50), ray(50, 1, 90, 50)])
    strand = Strand(points, np.ones(len(points)), [(-3, 0), (20, 1), (900, 2)], False)
    assert fit._places(strand, 3.0).tolist() == [0, 20, 50, len(points) - 1]


# --- forks


def test_arms_leave_a_fork_both_ways() -> None:
    drawing = Drawing([], [], WIDTH)
    straight(drawing, (0, 0), (50, 0), (100, 0))
    other = straight(drawing, (50, 0), (50, 80))
    other.vertices[0] = 1
    arms = forks._arms_at(drawing, 1, [0, 0, 1])
    assert arms == [(0, 1, -1), (0, 1, 1), (1, 0, 1)]
    ways = [forks._way(drawing, arm).tolist() for arm in arms]
    assert ways == [[-1, 0], [1, 0], [0, 1]]
    # of an arc along its circle, whichever way it turns
    for first, last, sign in ((0.0, 90.0, 1.0), (90.0, 0.0, -1.0)):
        round_drawing = Drawing([], [], WIDTH)
        round_(round_drawing, 50.0, first, 45.0, last)
        s = math.sqrt(0.5)
        ahead = forks._way(round_drawing, (0, 1, 1))
        assert ahead == pytest.approx([-s * sign, s * sign])
        assert forks._way(round_drawing, (0, 1, -1)) == pytest.approx(
            [s * sign, -s * sign]
        )


# --- free curves


def test_a_joint_is_smooth_below_a_corner() -> None:
    for bend, smooth in ((26.0, True), (28.0, False), (-26.0, True), (-28.0, False)):
        a = math.radians(bend)
        tip = (100 + 50 * math.cos(a), 50 * math.sin(a))
        for back in (False, True):
            drawing = Drawing([], [], WIDTH)
            straight(drawing, (0, 0), (100, 0))
            second = straight(drawing, *((tip, (100, 0)) if back else ((100, 0), tip)))
            second.vertices[-1 if back else 0] = 1
            assert freehand._smooth(drawing, 1, [0, 1]) == smooth


def test_a_run_is_followed_both_ways() -> None:
    # four pieces from vertex to vertex, the third turned round
    drawing = Drawing([], [], WIDTH)
    for k in range(5):
        drawing.add(np.array([50.0 * k, 0.0]))
    for a, b in ((0, 1), (1, 2), (3, 2), (3, 4)):
        p, q = drawing.vertices[a], drawing.vertices[b]
        drawing.pieces.append(
            Piece(False, np.r_[p, 1.0, 0.0], 0.0, [a, b], np.vstack([p, q]))
        )
    met = {0: [0], 1: [0, 1], 2: [1, 2], 3: [2, 3], 4: [3]}
    whole = [(0, False), (1, False), (2, True), (3, False)]
    assert freehand._run(drawing, 0, met, {1, 2, 3}) == whole
    assert freehand._run(drawing, 1, met, {1, 2, 3}) == whole
    # from the one that is turned round it runs the other way
    back = [(3, True), (2, False), (1, True), (0, True)]
    assert freehand._run(drawing, 2, met, {1, 2, 3}) == back
    assert freehand._run(drawing, 1, met, {2}) == [(1, False), (2, True)]
    assert [freehand._last(drawing, taken) for taken in whole] == [1, 2, 3, 4]
    # one that comes back to its beginning is gone round once
    drawing.pieces[3].vertices = [3, 0]
    ring = {0: [0, 3], 1: [0, 1], 2: [1, 2], 3: [2, 3]}
    assert freehand._run(drawing, 0, ring, {0, 1, 2, 3}) == whole


def test_vertices_within_a_run_move_to_its_curve() -> None:
    drawing = Drawing([], [], WIDTH)
    for place in ((0, 0), (50, 4), (100, 0)):
        drawing.add(np.array(place, float))
    row = (2, (0.0, 0.0, 30.0, 0.0, 70.0, 0.0, 100.0, 0.0))
    curve = Piece(
        False, np.array([0, 0, 1.0, 0]), 0.0, [0, 2], np.zeros((2, 2)), (row,)
    )
    freehand._carry(drawing, {0, 1, 2}, curve)
    assert drawing.vertices[1] == pytest.approx([50, 0], abs=0.2)
    assert drawing.vertices[0].tolist() == [0, 0]
    assert drawing.vertices[2].tolist() == [100, 0]


def test_beziers_of_a_ring_join_in_one_way() -> None:
    ring = circle_points(60.0, 0, 360, 378)
    rows = freehand._beziers(ring, 9, 0.5, closed=True)
    assert rows[0][0] == pytest.approx([60, 0])
    assert rows[-1][3] == pytest.approx([60, 0])
    for one, two in zip(rows, rows[1:] + rows[:1], strict=True):
        a, b = one[3] - one[2], two[1] - two[0]
        assert a @ b / np.hypot(*a) / np.hypot(*b) == pytest.approx(1.0, abs=1e-3)
    # it begins upright, as the circle does
    begin = rows[0][1] - rows[0][0]
    assert abs(begin[0]) < 0.02 * abs(begin[1])


def test_a_bezier_is_found_along_which_places_lie_unevenly() -> None:
    row = np.array([[0.0, 0.0], [40.0, 60.0], [80.0, 60.0], [120.0, 20.0]])
    t = np.linspace(0, 1, 300)[:, None]
    s = 1 - t
    points = s**3 * row[0] + 3 * s * s * t * row[1] + 3 * s * t * t * row[2]
    points += t**3 * row[3]
    one, two = row[1] - row[0], row[3] - row[2]
    one, two = one / np.hypot(*one), two / np.hypot(*two)
    _, off = freehand._bezier(points, one, two)
    # of 130 px
    assert off < 0.2


# --- bent sheets


def test_a_bow_is_nothing_at_corners() -> None:
    s = np.array([0.0, 0.25, 0.5, 1.0])
    bow = np.array([1.0, 2.0, 4.0])
    # 4 s (1 - s) (1 + 2 s + 4 s²)
    assert lens._offset(bow, s).tolist() == [0, 0.75 * 1.75, 3, 0]


def test_lines_along_a_way_point_that_way() -> None:
    places = ray(3, 5, 30)
    for sign in (1.0, -1.0):
        way = sign * np.array([1.0, 0.2])
        at, found = lens._line_along(places, way)
        assert found == pytest.approx(sign * np.array([math.cos(math.pi / 6), 0.5]))
        assert at == pytest.approx(places.mean(axis=0))


def test_a_lens_pushes_places_outward() -> None:
    # at half of the half diagonal: 0.5³ · 100 of it
    side = np.array([[150.0, 100.0], [100.0, 0.0], [100.0, 100.0]])
    moved, push = lens._straightened(side, np.full(2, 100.0), 100.0, 0.1)
    assert push.tolist() == [[12.5, 0], [0, -100], [0, 0]]
    assert moved.tolist() == [[151.25, 100], [100, -10], [100, 100]]


def test_what_a_line_explains_is_taken_off() -> None:
    along = np.linspace(-3, 5, 40)
    assert lens._without_line(2 + 3 * along, along) == pytest.approx(
        np.zeros(40), abs=1e-9
    )
    left = lens._without_line(along**2, along)
    assert left @ along == pytest.approx(0.0, abs=1e-9)
    assert left.sum() == pytest.approx(0.0, abs=1e-9)


# --- one carrier for several pieces


def test_pieces_are_fitted_by_their_length() -> None:
    long = Piece(False, np.array([0, 0, 1.0, 0]), 0.0, [0, 1], ray(0, 0, 0, 299))
    short = Piece(False, np.array([0, 4.0, 1, 0]), 0.0, [2, 3], ray(0, 4, 0, 99))
    table = np.array([unite._sample(p) for p in (long, short)])
    line = unite._fitted([long, short], table)
    at = line[:2] - line[0] / line[2] * line[2:]
    # 300 places at 0 and 100 at 4, over unlike lengths
    weighted = np.average([0.0, 4.0], weights=[300, 100])
    assert line[1] == pytest.approx(weighted)
    assert at[0] == pytest.approx(0.0)
    off = unite._stray(table, np.array([0.0, 1.0, 1.0, 0.0]))
    assert off.tolist() == [1.0, 3.0]


# --- the skeleton


def walked(*rows: str) -> Network:
    thin = np.array([[c == "#" for c in row] for row in rows])
    network = Network([], [], 1.5)
    skeleton._walk(thin, network)
    return network


def test_a_line_has_two_ends() -> None:
    network = walked("......", ".####.", "......")
    (chain,) = network.chains
    assert sorted(chain.points.tolist()) == [[1, 1], [2, 1], [3, 1], [4, 1]]
    assert sorted(chain.ends) == [0, 1]
    assert sorted(n.tolist() for n in network.nodes) == [[1, 1], [4, 1]]
    for tip, node in zip(chain.points[[0, -1]], chain.ends, strict=True):
        assert network.nodes[node].tolist() == tip.tolist()


def test_a_cross_has_one_fork() -> None:
    network = walked("...#...", "...#...", "...#...", "#######", "...#...", "...#...")
    lengths = sorted(len(c.points) for c in network.chains)
    assert len(network.chains) == 4
    at = network.at_node()
    (fork,) = (n for n, met in at.items() if len(met) == 4)
    assert network.nodes[fork] == pytest.approx([3, 3], abs=0.5)
    assert sum(len(met) == 1 for met in at.values()) == 4
    assert lengths[0] >= 1


def test_a_ring_has_no_node() -> None:
    network = walked(".......", "..###..", ".#...#.", ".#...#.", "..###..", ".......")
    (chain,) = network.chains
    assert chain.ends == (-1, -1)
    assert chain.points[0].tolist() == chain.points[-1].tolist()
    assert len(chain.points) == 11
    # a ring of six is none
    assert walked(".##.", "#..#", ".##.").chains == []


def test_a_diagonal_step_is_none_where_straight_ones_go_round() -> None:
    thin = np.array([[1, 1, 0], [0, 1, 0], [0, 0, 1]], bool)
    rows, columns = np.nonzero(thin)
    table = skeleton._neighbours(thin, rows, columns)
    near = [sorted(int(k) for k in row if k >= 0) for row in table]
    assert near == [[1], [0, 2], [1, 3], [2]]


def test_ink_of_another_line_beyond_paper_does_not_count() -> None:
    strength = np.zeros((60, 200), np.float32)
    strength[27:33] = 1.0
    line = np.stack([np.arange(20.0, 180.0), np.full(160, 29.0)], 1)
    for rows in (slice(34, 40), slice(20, 26)):
        both = strength.copy()
        both[rows] = 1.0
        found = skeleton._refined(line, both, WIDTH)
        assert found[20:-20, 1] == pytest.approx(np.full(120, 29.5), abs=0.15)


def test_a_ring_is_refined_all_round() -> None:
    y, x = np.mgrid[:200, :200] - 100.0
    strength = np.clip(4.0 - np.abs(np.hypot(x, y) - 60.0), 0, 1).astype(np.float32)
    ring = 100.0 + circle_points(61.5, 0, 360, 380)
    found = skeleton._refined(ring, strength, WIDTH)
    off = np.hypot(*(found - 100.0).T)
    assert off == pytest.approx(np.full(380, 60.0), abs=0.2)
    assert found[0] == pytest.approx(found[-1], abs=0.2)


# --- strands


def network_of(*lines: tuple[Floats, tuple[int, int]], nodes: list[Floats]) -> Network:
    return Network(nodes, [Chain(points, at) for points, at in lines], WIDTH)


def test_places_near_a_node_do_not_count() -> None:
    nodes = [np.zeros(2), np.array([100.0, 0.0])]
    network = network_of((ray(0, 0, 0, 100), (0, 1)), nodes=nodes)
    weight = strands._weights(network.chains[0].points, network, network.chains[0])
    # nearer than 0.9 widths: 5.4
    assert weight.tolist() == [0.0] * 6 + [1.0] * 89 + [0.0] * 6
    # where hardly any is left the middle half counts a little
    short = network_of(
        (ray(0, 0, 0, 11), (0, 1)), nodes=[np.zeros(2), np.array([11.0, 0])]
    )
    weight = strands._weights(short.chains[0].points, short, short.chains[0])
    assert weight.tolist() == [0.0] * 3 + [0.3] * 6 + [0.0] * 3


def test_directions_lead_away_from_the_node() -> None:
    nodes = [np.zeros(2), ray(0, 0, 30)[-1]]
    network = network_of((ray(0, 0, 30), (0, 1)), nodes=nodes)
    way = np.array([math.cos(math.pi / 6), 0.5])
    assert strands._direction(network, 0, 0) == pytest.approx(way)
    assert strands._direction(network, 0, 1) == pytest.approx(-way)
    # bent beyond four and a half widths, which is not looked at
    bent = np.vstack([ray(0, 0, 0, 26), ray(27, 0, 90, 60)])
    network = network_of((bent, (0, 1)), nodes=[np.zeros(2), bent[-1]])
    assert strands._direction(network, 0, 0) == pytest.approx([1, 0])


def test_two_ends_stray_from_one_circle_or_line() -> None:
    nodes = [np.zeros(2), np.array([200.0, 0]), np.array([-200.0, 0])]
    network = network_of(
        (ray(0, 0, 0), (0, 1)), (ray(0, 0, 180), (0, 2)), (ray(0, 0, 90), (0, 2)),
        nodes=nodes,
    )  # fmt: skip
    assert strands._stray(network, (0, 0), (1, 0)) == pytest.approx(0.0, abs=1e-6)
    assert strands._stray(network, (0, 0), (2, 0)) > 2.0
    arcs = circle_points(150.0, 0, 40), circle_points(150.0, 0, -40)
    network = network_of((arcs[0], (0, 1)), (arcs[1], (0, 2)), nodes=nodes)
    assert strands._stray(network, (0, 0), (1, 0)) == pytest.approx(0.0, abs=1e-6)


# --- the check


def test_fitted_lines_are_drawn_a_little_thinner() -> None:
    assert [check._thin(w) for w in (1.0, 2.0, 4.0, 10.0)] == [2, 2, 3, 8]


def test_rims_are_what_lies_beside_another_label() -> None:
    labels = np.ones((9, 9), int)
    labels[3:6, 2:6] = 2
    # of 3 by 4 all but the two in the middle; around them 14 without the corners
    assert check._rims(labels, 2).tolist() == [0, 14, 10]


def test_tips_of_a_long_patch() -> None:
    shape = np.zeros((12, 30), bool)
    shape[4:7, 5:25] = True
    tips, broad = check._tips(shape, (slice(100, 112), slice(50, 80)))
    assert sorted(tips[:, 0].tolist()) == [55, 74]
    assert ((tips[:, 1] >= 104) & (tips[:, 1] <= 106)).all()
    assert broad == pytest.approx(2.0, abs=1e-6)
