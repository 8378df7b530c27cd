"""Where lines end that run beside others, and how they are bent."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image, ImageDraw

from fillwork.readers import read_linework
from fillwork.readers.scan.ends import carry_on
from fillwork.readers.scan.gaps import add_line
from fillwork.readers.scan.model import Choices, Drawing, Piece
from fillwork.readers.scan.settle import _bend, _bend_short, _solve
from tests.unit.readers.scan.sheets import Faults, Sheet, scan
from tests.unit.readers.scan.test_trace import regions, right

if TYPE_CHECKING:
    import shapely

FRAME = np.array([(10.0, 10), (70, 10), (70, 70), (10, 70), (10, 10)])
WHOLE = Choices(sheet_size=(80.0, 80.0))


def read(drawn: list[np.ndarray]) -> tuple[list[shapely.Polygon], bool]:
    """Return the regions found on a sheet of these lines, and whether it is sure."""
    sheet = Sheet("drawn", (80.0, 80.0), [FRAME, *drawn])
    found = read_linework(scan(sheet, Faults(), 7), name="drawn", picture=WHOLE)
    assert found.trace is not None
    return regions(found), found.trace.sure


@pytest.mark.parametrize("short", [0.0, 0.9])
def test_a_line_beside_another_goes_on_to_the_frame(short: float) -> None:
    # four lines through a point near the frame; the inner two stop short of the frame
    through = np.array([65.5, 40.0])
    whole, drawn = [], []
    for degrees, gap in ((34, 0), (22, short), (-22, short), (-34, 0)):
        way = np.array([1.0, np.tan(np.radians(degrees))])
        ends = [through + (x - 65.5) * way for x in (36.0, 70.0)]
        whole.append(np.array(ends))
        drawn.append(np.array([ends[0], ends[1] - gap * way]))
    truth = Sheet("whole", (80.0, 80.0), [FRAME, *whole])
    got, _ = read(drawn)
    assert right(truth, got) == len(got) == len(truth.regions())


def test_a_line_that_crosses_another_and_all_but_reaches_the_frame_reaches_it() -> None:
    # 0.6 mm past the other line, 0.3 mm of paper before the frame
    other = np.array([(62.0, 10.0), (70.0, 62.0)])
    ends = [np.array([x, 49.0 + 0.1 * (x - 70.0)]) for x in (10.0, 69.2, 70.0)]
    truth = Sheet("truth", (80.0, 80.0), [FRAME, other, np.array([ends[0], ends[2]])])
    got, _ = read([other, np.array([ends[0], ends[1]])])
    assert right(truth, got) == len(got) == len(truth.regions())


@pytest.mark.parametrize("beside", [0.0, 0.9])
def test_lines_end_on_a_third_each_at_its_own_place(beside: float) -> None:
    # a side at 18 degrees to the frame, another line that ends beside it
    tip = np.array([70.0, 40.0])
    side = np.array([-np.sin(np.radians(18)), np.cos(np.radians(18))])
    corner = tip + 6.0 * side
    lines = [np.array([tip, corner, (70.0, corner[1] + 1.0)])]
    lines.append(np.array([tip - (0, beside), (10.0, 28.0)]))
    truth = Sheet("truth", (80.0, 80.0), [FRAME, *lines])
    got, _ = read(lines)
    assert right(truth, got) == len(truth.regions()) == 3
    small = min(got, key=lambda g: g.area)
    true = min(truth.regions(), key=lambda g: g.area)
    assert small.area == pytest.approx(true.area, rel=0.12)


def _sampled(drawing: Drawing, carrier: np.ndarray, points: np.ndarray) -> None:
    add_line(drawing, points[0], points[-1])
    drawing.pieces[-1].points = points
    drawing.pieces[-1].carrier = carrier


def test_a_line_does_not_cross_paper_to_meet_another() -> None:
    # an arc ends on an upright line; fitted straight, where a third of it is hidden,
    # it would meet that one farther along, over paper
    angle = np.radians(np.linspace(8, 55, 67))
    arc = np.array([110.0, 40.0]) + 80 * np.c_[-np.cos(angle), np.sin(angle)]
    upright = np.c_[np.full(200, arc[-1][0]), np.linspace(20, 219, 200)]
    image = Image.new("1", (120, 240))
    pen = ImageDraw.Draw(image)
    for path in (arc, upright):
        pen.line(path.ravel().tolist(), 1, 6)
    drawing = Drawing([arc[-16]], [], 6.0)
    way = (arc[-16] - arc[0]) / np.hypot(*(arc[-16] - arc[0]))
    _sampled(drawing, np.r_[arc[0], way], arc[:-16])
    _sampled(drawing, np.r_[upright[0], 0.0, 1.0], upright)
    drawing.pieces[0].vertices[-1] = 0
    drawing.pieces[1].vertices.insert(1, 0)
    _solve(drawing, np.array(image), 2.0)
    assert drawing.pieces[0].circle
    assert drawing.vertices[0] == pytest.approx(arc[-1], abs=4.0)


def test_a_line_that_leaves_its_ink_is_an_arc() -> None:
    # of a half circle's quarter its middle third is seen alone; ends are as others say
    angle = np.linspace(0.0, np.pi / 2, 91)
    arc = np.array([100.0, 100.0]) + 80 * np.c_[np.cos(angle), np.sin(angle)]
    drawing = Drawing([], [], 6.0)
    seen = arc[30:61]
    _sampled(drawing, np.r_[seen[0], (seen[-1] - seen[0]) / 40.0], seen)
    drawing.vertices[0], drawing.vertices[1] = arc[0], arc[-1]
    _bend(drawing, 0.5)
    (piece,) = drawing.pieces
    assert piece.circle
    assert piece.carrier == pytest.approx([100.0, 100.0, 80.0], abs=0.5)
    assert piece.turn == pytest.approx(np.pi / 2, abs=0.02)
    # and one that lies on its chord stays
    straight = Drawing([], [], 6.0)
    flat = np.c_[np.arange(60.0), np.zeros(60)]
    _sampled(straight, np.array([0.0, 0.0, 1.0, 0.0]), flat)
    _bend(straight, 0.5)
    assert not straight.pieces[0].circle


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_a_flat_arc_between_forks_that_hide_its_ends_is_bent(side: float) -> None:
    # a chord of 86 px and a bow of 12, of which the middle shows, taken for straight;
    # the forks lie on the line that it cuts
    radius = (43.0**2 + 12.0**2) / 24.0
    angle = np.linspace(-0.4, 0.4, 61)
    points = radius * np.stack([np.sin(angle), np.cos(angle)], 1)
    points[:, 1] = side * (points[:, 1] - radius + 12.0)
    tips = [np.array([-33.0, 0.0]), np.array([33.0, 0.0])]
    middle = np.array([0.0, side * 10.0, 1.0, 0.0])
    drawing = Drawing(tips, [Piece(False, middle, 0.0, [0, 1], points)], 6.0)
    _bend_short(drawing, 1.0)
    piece = drawing.pieces[0]
    assert piece.circle
    want = [0.0, side * (12.0 - radius), radius]
    assert piece.carrier == pytest.approx(want, abs=0.1)
    assert abs(piece.turn) == pytest.approx(0.8, abs=0.01)


def test_a_tip_whose_ink_runs_into_a_line_is_carried_on_to_it() -> None:
    # two sides meet 2.4 px above a rail, one let go just beyond their tip
    drawing = Drawing([], [], 6.0)
    tip, rail = np.array([60.0, 57.6]), 60.0
    sides = []
    for way in (np.array([-0.3, -0.95]), np.array([0.3, -0.95])):
        side = tip + np.linspace(0.0, 50.0, 51)[:, None] * way / np.hypot(*way)
        add_line(drawing, side[-1], side[0])
        drawing.pieces[-1].points = side[::-1]
        sides.append(drawing.pieces[-1])
    one, two = sides
    past = tip + 0.6 * (tip - one.points[0]) / 50.0
    drawing.vertices.append(past)
    one.vertices.append(len(drawing.vertices) - 1)
    two.vertices[-1] = one.vertices[1]
    add_line(drawing, np.array([5.0, rail]), np.array([115.0, rail]))
    carry_on(drawing, np.ones((120, 120), bool), set())
    end = drawing.vertices[one.vertices[-1]]
    assert end[1] == pytest.approx(rail)
    assert one.vertices[-1] in drawing.pieces[2].vertices
