"""What is held against the ink after tracing, and what is said of it."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.check import (
    draw_lines,
    drop_narrow_joins,
    rims_that_meet,
    short_of_lines,
    small_at_forks,
    unlike_regions,
)
from fillwork.readers.scan.gaps import add_line, close_ends
from fillwork.readers.scan.marks import _hatching
from fillwork.readers.scan.model import Drawing, Fork, Piece, Strand
from fillwork.readers.scan.paint import find_areas
from fillwork.readers.scan.settle import _solve
from fillwork.readers.scan.trace import _gap
from fillwork.readers.scan.trails import trail

SCALE = 12.0
WIDTH = 6.0


def _corner(off: float) -> list[np.ndarray]:
    """Return a right-angled corner of 2.8 mm sides, its slope that far out, px."""
    side = 2.8 * SCALE + off * np.sqrt(2)
    low = np.array([[100.0, 300.0], [300.0, 300.0]])
    left = np.array([[100.0, 300.0], [100.0, 100.0]])
    slope = np.array([[100 + side + 60, 360.0], [40.0, 300 - side - 60]])
    return [low, left, slope]


@pytest.mark.parametrize(("off", "alike"), [(0.0, True), (0.8, True), (5.0, False)])
def test_a_small_corner_is_held_against_its_ink(off: float, alike: bool) -> None:
    # 5 px of 33.6 on each side: the corner is (40.7 / 33.6)² = 1.46 times too large
    shape = (400, 400)
    ink = draw_lines(_corner(0.0), shape, WIDTH)
    fitted = draw_lines(_corner(off), shape, 0.8 * WIDTH)
    found = unlike_regions(ink, fitted, SCALE, WIDTH)
    assert (not found) == alike


@pytest.mark.parametrize(("gap", "told"), [(0.0, 0), (0.5, 0), (0.9, 1)])
def test_lines_that_meet_only_by_their_rims_are_told(gap: float, told: int) -> None:
    # a circle beside a line, the gap in widths, said to touch it
    drawing = Drawing([], [], WIDTH)
    add_line(drawing, np.array([0.0, 50.0]), np.array([100.0, 50.0]))
    add_line(drawing, np.array([10.0, 90.0]), np.array([90.0, 90.0]))
    line, arc = drawing.pieces
    drawing.vertices.append(np.array([50.0, 50.0]))
    for piece in (line, arc):
        piece.vertices.insert(1, 4)
    arc.circle, arc.turn = True, -np.pi
    arc.carrier = np.array([50.0, 90.0 + gap * WIDTH, 40.0])
    assert len(rims_that_meet(drawing)) == told


@pytest.mark.parametrize(("paper", "left"), [(0.3, 1), (0.0, 0)])
def test_a_tip_that_all_but_touches_a_line_is_left_apart(
    paper: float, left: int
) -> None:
    # two lines to a tip, a third from there to a long line; between their rims so many
    # widths of paper, or the pen's own line
    drawing = Drawing([], [], WIDTH)
    gap = 1.0 + max(paper, 0.3)
    tip = np.array([100.0, 50.0 + gap * WIDTH])
    drawing.vertices += [
        np.array(p) for p in ([0.0, 50.0], [200.0, 50.0], [100.0, 50.0], tip,
                              [60.0, 150.0], [140.0, 150.0])
    ]  # fmt: skip
    for path in ([0, 2, 1], [3, 4], [5, 3, 2]):
        a, b = (drawing.vertices[v] for v in (path[0], path[-1]))
        way = (b - a) / np.hypot(*(b - a))
        drawing.pieces.append(Piece(False, np.r_[a, way], 0.0, path, np.vstack([a, b])))
    own = [trail(drawing, p, 1.0) for p in drawing.pieces[:2]]
    own.append(np.array([drawing.vertices[5], tip]))
    if not paper:
        own.append(np.array([tip, [100.0, 50.0]]))
    ink = draw_lines(own, (200, 220), WIDTH).astype(np.float32)
    # of a line between two corners that were made one, one vertex is left
    drawing.pieces.append(
        Piece(False, np.array([tip[0], tip[1], 1.0, 0.0]), 0.0, [3], own[0][:2])
    )
    assert len(drop_narrow_joins(drawing, ink, 1.0)) == left
    assert len(drawing.pieces) == 3
    assert drawing.pieces[2].vertices == ([5, 3] if left else [5, 3, 2])


@pytest.mark.parametrize(("gap", "told"), [(1.0, 1), (4.0, 0)])
def test_an_end_taken_off_before_the_next_line_is_told(gap: float, told: int) -> None:
    # past its own line by a width and a half, the rims' half widths included
    drawing = Drawing([], [], WIDTH)
    add_line(drawing, np.array([0.0, 50.0]), np.array([200.0, 50.0]))
    other = 50.0 + (1.5 + gap) * WIDTH
    add_line(drawing, np.array([0.0, other]), np.array([200.0, other]))
    foot, tip = np.array([100.0, 50.0]), np.array([100.0, 50.0 + WIDTH])
    drawing.stubs.append((foot, tip))
    found = short_of_lines(drawing)
    assert [far for _, far in found] == pytest.approx([gap * WIDTH] * told, abs=1.0)


@pytest.mark.parametrize(
    ("long", "gap", "doubtful"),
    [(40.0, 1.1, False), (40.0, 1.6, False), (4.0, 1.6, True), (40.0, 2.4, True)],
)
def test_a_long_line_carried_on_over_a_short_gap_is_in_no_doubt(
    long: float, gap: float, doubtful: bool
) -> None:
    drawing = Drawing([], [], WIDTH)
    add_line(drawing, np.array([600.0, 0.0]), np.array([600.0, 400.0]))
    end = 600.0 - gap * SCALE
    add_line(drawing, np.array([end - long * SCALE, 200.0]), np.array([end, 200.0]))
    told = [_gap(c, SCALE) for c in close_ends(drawing, 3.5 * SCALE)]
    bridged = [d for d in told if d.size]
    assert [d.weighs for d in bridged] == [doubtful]
    assert bridged[0].size == pytest.approx(gap, abs=0.1)


@pytest.mark.parametrize(("side", "told"), [(7, 1), (9, 0)])
def test_a_hidden_tip_is_held_against_a_fifth_of_its_region(
    side: int, told: int
) -> None:
    # bent lines at a right angle hide w² = 36 px², a fifth of 180; beside them, with
    # half of the lines around it, a square of s px has s² + 12 (s - 1): 121 or 177 px²
    ink = np.ones((200, 200), bool)
    ink[50 : 50 + side, 50 : 50 + side] = False
    way = np.array([1.0, 1.0]) / np.sqrt(2)
    fork = Fork(np.array([46.0, 46.0]), way, WIDTH**2)
    assert len(small_at_forks(ink, [fork], WIDTH)) == told


def test_a_long_line_is_bent_by_no_tip_beside_it() -> None:
    # two short arms that cross a pen's width before a long line
    drawing = Drawing([np.array([250.0, 50.0])], [], WIDTH)
    add_line(drawing, np.array([0.0, 50.0]), np.array([500.0, 50.0]))
    for side in (-1, 1):
        add_line(drawing, np.array([250.0 + side * 25, 0.0]), np.array([250.0, 44.0]))
    for piece in drawing.pieces:
        start, stop = piece.points
        piece.points = np.linspace(start, stop, round(np.hypot(*(stop - start))))
    long, *arms = drawing.pieces
    long.vertices.insert(1, 0)
    for arm in arms:
        arm.vertices[-1] = 0
    _solve(drawing, np.ones((100, 500), bool), 1.0)
    assert drawing.vertices[0] == pytest.approx([250.0, 50.0], abs=0.1)
    # the triangle between them is 6 px high and 2 * 25 * 6 / 44 wide, and hidden
    assert drawing.forks
    for fork in drawing.forks:
        assert fork.hidden == pytest.approx(36 * 25 / 44, rel=0.05)


@pytest.mark.parametrize(
    ("pen", "painted"), [(0.5, False), (1.8, False), (0.5, True), (1.8, True)]
)
def test_crossings_of_a_broad_pen_are_no_paint(pen: float, painted: bool) -> None:
    # lines at 60 degrees through common points, a crossing of three every 20 mm
    shape = (1200, 1200)
    turns = [np.array([np.cos(a), np.sin(a)]) for a in np.arange(3) * np.pi / 3]
    step = 20 * SCALE * np.sqrt(3) / 2
    middles = [
        (600 + k * step * np.array([-way[1], way[0]]), way)
        for way in turns for k in range(-4, 5)
    ]  # fmt: skip
    lines = [np.array([at - 2000 * way, at + 2000 * way]) for at, way in middles]
    dark = draw_lines(lines, shape, pen * SCALE)
    if painted:
        dark[500:600, 560:700] = True
    assert find_areas(dark, SCALE)[1].any() == painted


@pytest.mark.parametrize(("along", "told"), [(True, 0), (False, 1)])
def test_short_lines_along_a_frame_are_no_hatching(along: bool, told: int) -> None:
    # six strokes 7 mm long, 1.8 mm from a frame, one after the other or side by side
    step, ends = 1.8 * SCALE, np.array([0.0, 7.0 * SCALE])
    lines = [np.stack([np.linspace(10, 800, 791), np.full(791, 30.0)], 1)]
    for k in range(6):
        x = 20.0 + ends + (110.0 * k if along else 0.0)
        y = 30.0 + step * (1 if along else k + 1)
        lines.append(np.stack([np.linspace(*x, 85), np.full(85, y)], 1))
    mask = draw_lines(lines, (300, 820), WIDTH)
    strands = [
        Strand(
            line, np.ones(len(line)), [(0, 2 * k), (len(line) - 1, 2 * k + 1)], False
        )
        for k, line in enumerate(lines)
    ]
    met = dict.fromkeys(range(14), 3)
    assert len(_hatching(mask, WIDTH, strands, met, SCALE)) == told
