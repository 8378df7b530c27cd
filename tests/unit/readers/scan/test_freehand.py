"""Runs of short arcs, as of a curve by free hand, followed by Béziers."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fillwork.readers.scan.circles import fit_circle
from fillwork.readers.scan.freehand import _bezier, _beziers, smooth_runs
from fillwork.readers.scan.model import Drawing, Piece
from fillwork.readers.scan.trails import trail

WIDTH = 6.0


def wave(stop: float = 400.0, half: float = 100.0) -> np.ndarray:
    """A wave of twice so many px by 40 either way, places a pixel apart along it."""
    x = np.linspace(0.0, stop, 20000)
    curve = np.c_[x, 40 * np.sin(np.pi * x / half)]
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(curve, axis=0).T))]
    at = np.arange(0.0, along[-1], 1.0)
    return np.stack([np.interp(at, along, column) for column in curve.T], 1)


def cut(points: np.ndarray, count: int, *, closed: bool = False) -> Drawing:
    """The points as so many arcs from one to the next, as strands are cut."""
    found = Drawing([], [], WIDTH)
    at = np.linspace(0, len(points) - 1, count + 1).round().astype(int)
    numbers = [found.add(points[k]) for k in at[: count if closed else None]]
    numbers += numbers[:1] if closed else []
    for (a, b), (v, w) in zip(
        itertools.pairwise(at), itertools.pairwise(numbers), strict=True
    ):
        own = points[a : b + 1]
        circle = fit_circle(own)
        if circle is None:
            # where a curve changes its bend it is straight
            way = (own[-1] - own[0]) / np.hypot(*(own[-1] - own[0]))
            carrier = np.r_[own[0], way]
            found.pieces.append(Piece(False, carrier, 0.0, [v, w], own))
            continue
        off = own - circle[:2]
        turn = np.ptp(np.unwrap(np.arctan2(off[:, 1], off[:, 0])))
        side = np.sign(off[0, 0] * off[-1, 1] - off[0, 1] * off[-1, 0])
        found.pieces.append(Piece(True, circle, side * turn, [v, w], own))
    return found


def astray(drawing: Drawing, piece: Piece, points: np.ndarray) -> float:
    """Return how far a piece lies from points at most, px."""
    path = trail(drawing, piece, 0.5)
    return max(float(np.hypot(*(points - q).T).min()) for q in path)


@pytest.mark.parametrize(("count", "smooth"), [(3, False), (12, True)])
def test_many_arcs_become_few_beziers(count: int, smooth: bool) -> None:
    # three arcs a curve drawn with compasses may have
    points = wave(100.0) if count == 3 else wave()
    drawing = cut(points, count)
    drawn = smooth_runs(drawing, count, 0.5)
    assert drawn == (1 if smooth else count) == len(drawing.pieces)
    if smooth:
        (piece,) = drawing.pieces
        assert piece.tips == (0, count)
        # as near as the arcs were, or as the hand's accuracy
        assert astray(drawing, piece, points) < 2.0
        assert 2 < len(piece.curve) < count
        row = piece.curve[0][1]
        assert row[:2] == pytest.approx(points[0])
        # tangent to the wave: it rises by 0.4 pi there
        rise = (row[3] - row[1]) / (row[2] - row[0])
        assert rise == pytest.approx(0.4 * np.pi, rel=0.1)


def test_what_lies_beside_a_tip_is_bent_by_the_line_there() -> None:
    # within 5 px, less than 0.9 widths, the ink of that line draws it aside
    points = wave()
    hooked = points.copy()
    hooked[:6] += np.array([0.8, -0.6]) * np.linspace(3.0, 0.5, 6)[:, None]
    drawing = cut(hooked, 12)
    drawing.vertices[0] = points[0]
    smooth_runs(drawing, 12, 0.5)
    (piece,) = drawing.pieces
    row = np.reshape(piece.curve[0][1], (4, 2))
    bend = np.arctan2(*(row[1] - row[0])[::-1]) - np.arctan(0.4 * np.pi)
    assert abs(np.degrees(bend)) < 3.0


@pytest.mark.parametrize(("bend", "one"), [(20.0, True), (35.0, False)])
def test_a_corner_breaks_a_run(bend: float, one: bool) -> None:
    points = wave(200.0)
    step = points[-1] - points[-2]
    a = np.arctan2(*step[::-1]) + np.radians(bend)
    b = np.arctan2(*(points[1] - points[0])[::-1])
    c, s = np.cos(a - b), np.sin(a - b)
    points = np.vstack([points, points[-1] + points[1:] @ [[c, s], [-s, c]]])
    drawing = cut(points, 16)
    smooth_runs(drawing, 16, 0.5)
    assert len(drawing.pieces) == (1 if one else 2)


def test_a_run_that_comes_back_is_closed() -> None:
    t = np.linspace(0.0, 2 * np.pi, 700)
    radius = 80 + 12 * np.cos(3 * t)
    points = np.c_[radius * np.cos(t), radius * np.sin(t)] + 200.0
    drawing = cut(points, 14, closed=True)
    # a line that ends within the run goes with it, and so does one at its beginning
    for v in (0, 5):
        far = drawing.add(np.array([400.0, 400.0]))
        carrier = np.r_[drawing.vertices[v], 1.0, 0.0]
        own = np.linspace(drawing.vertices[v], drawing.vertices[far], 100)
        drawing.pieces.append(Piece(False, carrier, 0.0, [v, far], own))
    before = drawing.vertices[5].copy()
    drawing.vertices[0] += 0.8
    drawing.vertices[5] += 0.8
    assert smooth_runs(drawing, 16, 0.5) == 3
    curve = drawing.pieces[0]
    assert curve.tips[0] == curve.tips[1]
    assert astray(drawing, curve, points) < 1.5
    assert np.hypot(*(drawing.vertices[5] - before)) < 1.5
    ends = [np.array(curve.curve[0][1][:2]), np.array(curve.curve[-1][1][6:])]
    assert ends[0] == pytest.approx(ends[1])
    assert drawing.vertices[curve.tips[0]] == pytest.approx(ends[0])
    path = trail(drawing, curve, 0.25)
    for v in (0, 5):
        assert np.hypot(*(path - drawing.vertices[v]).T).min() < 0.1


def test_a_loop_that_comes_back_at_a_corner_keeps_it() -> None:
    # a drop: half a turn and more round, and two sides that meet at a right angle
    t = np.radians(np.linspace(-45.0, 225.0, 500))
    wobble = 40 + 3 * np.cos(4 * t)
    round_it = np.c_[wobble * np.cos(t), wobble * np.sin(t)]
    tip = np.array([0.0, -40 * np.sqrt(2)])
    sides = np.linspace(0.0, 1.0, 40)[:, None]
    left = tip + sides * (round_it[0] - tip)
    right = round_it[-1] + sides * (tip - round_it[-1])
    points = np.vstack([left[:-1], round_it, right[1:]]) + 200.0
    bulge = np.sin(np.pi * np.linspace(0, 1, len(points)))[:, None] * [0.0, 4.0]
    points += bulge
    drawing = cut(points, 14, closed=True)
    smooth_runs(drawing, 14, 0.5)
    (piece,) = drawing.pieces
    rows = [np.reshape(row, (4, 2)) for _, row in piece.curve]
    out, back = rows[0][1] - rows[0][0], rows[-1][3] - rows[-1][2]
    bend = np.degrees(np.arccos(out @ back / np.hypot(*out) / np.hypot(*back)))
    assert bend == pytest.approx(90.0, abs=12.0)


@pytest.mark.parametrize("long", [60.0, 90.0])
def test_a_straight_piece_of_a_free_curve_is_short(long: float) -> None:
    # two waves and a line between them along their ways, below or over 12 widths
    points = wave(100.0)
    step = (points[-1] - points[-2]) / np.hypot(*(points[-1] - points[-2]))
    drawing = cut(points, 6)
    start = points[-1]
    stop = start + long * step
    v = drawing.add(stop)
    own = start + np.arange(long)[:, None] * step
    drawing.pieces.append(Piece(False, np.r_[start, step], 0.0, [6, v], own))
    smooth_runs(drawing, 7, 0.5)
    assert len(drawing.pieces) == (1 if long < 72 else 2)


def test_a_polygon_stays() -> None:
    # a wave of straight pieces that turn by little has no arcs, or fewer than a quarter
    for arcs, stays in ((0, True), (6, True), (7, False)):
        drawing = cut(wave(600.0, 300.0), 28)
        drawing.pieces.sort(key=lambda p: not p.circle)
        for piece in drawing.pieces[arcs:]:
            way = piece.points[-1] - piece.points[0]
            piece.circle = False
            piece.carrier = np.r_[piece.points[0], way / np.hypot(*way)]
        assert sum(p.circle for p in drawing.pieces) == arcs
        assert (smooth_runs(drawing, 28, 3.0) == 28) == stays


def test_a_bezier_comes_back_from_its_own_places() -> None:
    # about a quarter of a circle, along which it runs evenly
    row = np.array([[0.0, 0.0], [49.7, 0.0], [90.0, 40.3], [90.0, 90.0]])
    t = np.linspace(0, 1, 200)[:, None]
    s = 1 - t
    points = s**3 * row[0] + 3 * s * s * t * row[1] + 3 * s * t * t * row[2]
    points += t**3 * row[3]
    found, off = _bezier(points, np.array([1.0, 0.0]), np.array([0.0, 1.0]))
    assert found == pytest.approx(row, abs=0.6)
    assert off < 0.05
    # neither back nor in loops: of places that go straight the handles lie on them
    line = np.linspace(0, 90, 91)[:, None] * [1.0, 0.0]
    found, off = _bezier(line, np.array([1.0, 0.0]), np.array([1.0, 0.0]))
    assert 0 < found[1, 0] <= 90
    assert 0 <= found[2, 0] < 90
    assert off == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("most", [0.3, 1.0, 4.0])
def test_beziers_go_as_far_as_the_accuracy_allows(most: float) -> None:
    points = wave()
    rows = _beziers(points, 9, most, closed=False)
    assert rows[0][0] == pytest.approx(points[0])
    assert rows[-1][3] == pytest.approx(points[-1])
    for one, two in itertools.pairwise(rows):
        assert one[3] == pytest.approx(two[0])
        # in one way where they join
        a, b = one[3] - one[2], two[1] - two[0]
        assert a @ b / np.hypot(*a) / np.hypot(*b) == pytest.approx(1.0)
    # half a wave is one Bézier within a pixel; what allows more needs no more
    assert len(rows) <= (4 if most >= 1.0 else 8)
    assert len(_beziers(points, 9, 2 * most, closed=False)) <= len(rows)
