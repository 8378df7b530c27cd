"""Examples of the SVG standard, and its formulas worked another way."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.geometry.curves import ARC, CUBIC, LINE
from fillwork.readers import read_linework
from fillwork.readers.svg.shapes.path_data import parse_paths
from fillwork.readers.svg.shapes.values import box_transform, parse_transform

HEAD = '<svg width="1000" height="1000" fill="none" stroke="#000">'
PX = 25.4 / 96


def _rows(data: str):
    table = parse_paths([data], 10_000)
    assert not table.wrong
    return table.kind.tolist(), table.data


@pytest.mark.reference("SVG 2, W3C, section 9.3.2, 'triangle01' (from memory)")
def test_triangle_of_the_path_chapter():
    kind, data = _rows("M 100 100 L 300 100 L 200 300 z")
    assert kind == [LINE] * 3
    assert data[:, :4].tolist() == [
        [100, 100, 300, 100], [300, 100, 200, 300], [200, 300, 100, 100],
    ]  # fmt: skip


@pytest.mark.reference("SVG 2, W3C, section 9.3.6, example cubic01 (from memory)")
def test_smooth_cubic_mirrors_the_control_point():
    kind, data = _rows("M100,200 C100,100 250,100 250,200 S400,300 400,200")
    assert kind == [CUBIC] * 2
    assert data[1].tolist() == [250, 200, 250, 300, 400, 300, 400, 200]


@pytest.mark.reference("SVG 2, W3C, section 9.3.7, example quad01 (from memory)")
def test_smooth_quadratic_mirrors_the_control_point():
    kind, data = _rows("M200,300 Q400,50 600,300 T1000,300")
    assert kind == [CUBIC] * 2
    # the mirrored control point is (800, 550), as the example's picture shows;
    # raised to a cubic: a third of the way from the ends' side
    first = np.array([600, 300]) + 2 / 3 * (np.array([800, 550]) - [600, 300])
    second = np.array([1000, 300]) + 2 / 3 * (np.array([800, 550]) - [1000, 300])
    np.testing.assert_allclose(data[1, 2:6], [*first, *second])


@pytest.mark.reference("SVG 2, W3C, section 9.3.8, example arcs01 (from memory)")
def test_pie_pieces():
    kind, data = _rows("M300,200 h-150 a150,150 0 1,0 150,-150 z")
    assert kind == [LINE, ARC, LINE]
    # the piece is three quarters of the circle round (300, 200)
    np.testing.assert_allclose(data[1, :2], [300, 200], atol=1e-9)
    assert abs(data[1, 7] - data[1, 6]) == pytest.approx(1.5 * math.pi)
    kind, data = _rows("M275,175 v-150 a150,150 0 0,0 -150,150 z")
    np.testing.assert_allclose(data[1, :2], [275, 175], atol=1e-9)
    assert abs(data[1, 7] - data[1, 6]) == pytest.approx(0.5 * math.pi)


@pytest.mark.reference("SVG 2, W3C, section 9.3.8, the wavy line (from memory)")
def test_arcs_of_one_chord_and_growing_radius():
    data = (
        "M600,350 l 50,-25 a25,25 -30 0,1 50,-25 l 50,-25 a25,50 -30 0,1 50,-25 "
        "l 50,-25 a25,75 -30 0,1 50,-25 l 50,-25 a25,100 -30 0,1 50,-25 l 50,-25"
    )
    kind, rows = _rows(data)
    assert kind == [LINE, ARC] * 4 + [LINE]
    # the chord is 55.9 long, so the circle of radius 25 grows to half of it
    assert np.hypot(*rows[1, 2:4]) == pytest.approx(math.hypot(50, 25) / 2)
    assert rows[-1, 2:4].tolist() == pytest.approx([1050, 125])
    for k, ry in ((3, 50), (5, 75), (7, 100)):
        u, v = rows[k, 2:4], rows[k, 4:6]
        assert np.hypot(*v) / np.hypot(*u) == pytest.approx(ry / 25)
        assert math.atan2(u[1], u[0]) == pytest.approx(math.radians(-30))


@pytest.mark.reference("SVG 2, W3C, appendix B.2.4 and B.2.5, equations 5.1 to 6.3")
def test_arcs_lie_on_their_ellipse_and_go_the_stated_way():
    rng = np.random.default_rng(7)
    for _ in range(300):
        x1, y1, x2, y2 = rng.uniform(-100, 100, 4)
        rx, ry = rng.uniform(1, 150, 2)
        phi = rng.uniform(-400, 400)
        large, sweep = rng.integers(0, 2, 2).tolist()
        text = f"M{x1} {y1}A{rx} {ry} {phi} {large}{sweep}{x2} {y2}"
        _, rows = _rows(text)
        cx, cy, ux, uy, vx, vy, s0, s1 = rows[0].tolist()
        for s, (x, y) in ((s0, (x1, y1)), (s1, (x2, y2))):
            px = cx + ux * math.cos(s) + vx * math.sin(s)
            py = cy + uy * math.cos(s) + vy * math.sin(s)
            assert (px, py) == pytest.approx((x, y), abs=1e-9)
        # radii as given, or grown alike until they reach (B.2.5)
        grown = math.hypot(ux, uy) / rx
        assert math.hypot(vx, vy) / ry == pytest.approx(grown)
        assert grown >= 1 - 1e-12
        turn = s1 - s0
        assert (turn > 0) == bool(sweep)
        assert abs(turn) <= 2 * math.pi
        if grown > 1 + 1e-9:
            assert abs(turn) == pytest.approx(math.pi)
        else:
            assert (abs(turn) > math.pi) == bool(large)


@pytest.mark.reference("SVG 2, W3C, section 8.2, the table of preserveAspectRatio")
def test_preserve_aspect_ratio():
    # a view box of 30 x 40 in viewports of 50 x 30 and 30 x 60, as in the picture
    # of the standard (from memory); places by the section's own rules
    box = (0.0, 0.0, 30.0, 40.0)
    scale = 30 / 40
    for align, dx in (("xMinYMid", 0), ("xMidYMid", 13.75), ("xMaxYMid", 27.5)):
        m = box_transform(box, 50, 30, f"{align} meet")
        assert m == pytest.approx((scale, 0, 0, scale, dx, 0))
    for align, dy in (("xMidYMin", 0), ("xMidYMid", 10), ("xMidYMax", 20)):
        m = box_transform(box, 30, 60, align)
        assert m == pytest.approx((1, 0, 0, 1, 0, dy))
    slice_ = 50 / 30
    for align, dy in (("xMidYMin", 0), ("xMidYMax", 30 - 40 * slice_)):
        m = box_transform(box, 50, 30, f"{align} slice")
        assert m == pytest.approx((slice_, 0, 0, slice_, 0, dy))
    m = box_transform((5.0, 6.0, 30.0, 40.0), 60, 20, "none")
    assert m == pytest.approx((2, 0, 0, 0.5, -10, -3))


@pytest.mark.reference(
    "CSS Transforms 1, W3C, section 8, nested transforms; SVG 1.1, 7.6"
)
def test_transform_lists_apply_the_last_first():
    # the example of SVG 1.1, section 7.6 (from memory):
    # translate(-10,-20) scale(2) rotate(45) translate(5,10)
    matrix, wrong = parse_transform(
        "translate(-10,-20) scale(2) rotate(45) translate(5,10)"
    )
    assert not wrong
    x, y = 3.0, 4.0
    px, py = x + 5, y + 10
    c = math.sqrt(0.5)
    px, py = c * px - c * py, c * px + c * py
    px, py = 2 * px - 10, 2 * py - 20
    a, b, c_, d, e, f = matrix
    assert (a * x + c_ * y + e, b * x + d * y + f) == pytest.approx((px, py))


@pytest.mark.reference("CSS Values and Units 4, W3C, section 6.2, absolute lengths")
@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1cm", 10.0), ("1mm", 1.0), ("1Q", 0.25), ("1in", 25.4), ("1pc", 25.4 / 6),
        ("1pt", 25.4 / 72), ("1px", 25.4 / 96), ("1", 25.4 / 96),
    ],
)  # fmt: skip
def test_absolute_lengths(text, mm):
    work = read_linework(f'{HEAD}<line x2="{text}"/></svg>'.encode())
    assert work.curves.data[0, 2] == pytest.approx(mm, rel=1e-12)


@pytest.mark.reference(
    "SVG 2, W3C, section 8.9: percentages of width, height, diagonal"
)
def test_percentages():
    text = (
        '<svg width="300mm" height="400mm" viewBox="0 0 300 400" stroke="#000" '
        'fill="none"><line x2="50%" y2="25%"/><circle cx="150" cy="200" r="10%"/></svg>'
    )
    data = read_linework(text.encode()).curves.data
    assert data[0, 2:4].tolist() == pytest.approx([150, 300])
    assert data[1, 2] == pytest.approx(0.1 * math.hypot(300, 400) / math.sqrt(2))


@pytest.mark.reference("SVG 2, W3C, section 10.2: how the radii of a rect are found")
@pytest.mark.parametrize(
    ("radii", "rx", "ry"),
    [
        ('rx="3"', 3, 3), ('ry="2"', 2, 2), ('rx="3" ry="2"', 3, 2),
        ('rx="99" ry="2"', 20, 2), ('rx="99"', 20, 10), ('rx="auto" ry="4"', 4, 4),
        ('rx="-1" ry="4"', 4, 4), ('rx="10%"', 5, 5),
    ],
)  # fmt: skip
def test_corners_of_a_rectangle(radii, rx, ry):
    text = (
        '<svg width="50mm" height="50mm" viewBox="0 0 50 50" stroke="#000" fill="none">'
        f'<rect x="1" y="2" width="40" height="20" {radii}/></svg>'
    )
    work = read_linework(text.encode())
    arcs = work.curves.data[work.curves.kind == ARC]
    assert len(arcs) == 4
    assert np.abs(arcs[:, 2]).tolist() == pytest.approx([rx] * 4)
    assert np.abs(arcs[:, 5]).tolist() == pytest.approx([ry] * 4)


@pytest.mark.reference("SVG 2, W3C, section 9.5.4: a path is drawn up to the error")
@pytest.mark.parametrize(
    ("data", "ends"),
    [
        ("M10,10 L20,20,30", [(20, 20)]),
        ("M10 10L20 20L30 x L40 40", [(20, 20)]),
        ("M10 10L20 20 K5 5", [(20, 20)]),
        ("M10 10L20 20A5 5 0 2 0 30 30", [(20, 20)]),
        ("M10 10H20V20 30 40 L 1", [(20, 10), (20, 20), (20, 30), (20, 40)]),
    ],
)
def test_a_path_is_drawn_up_to_its_error(data, ends):
    work = read_linework(f'{HEAD}<path d="{data}"/></svg>'.encode())
    drawn = work.curves.data[:, 2:4] / PX
    drawn[:, 1] = 1000 - drawn[:, 1]
    np.testing.assert_allclose(drawn, ends, atol=1e-9)
    assert any(note.type == "error in path" for note in work.notes)


@pytest.mark.reference("SVG 2, W3C, section 9.3.9: the grammar, numbers run together")
def test_numbers_run_together():
    for packed, plain in (
        ("M.5.5-1-1", "M 0.5 0.5 L -1 -1"),
        ("M0 0l1e1.5e1", "M 0 0 L 10 5"),
        ("m1-2+3.5e-1 4", "M 1 -2 l 0.35 4"),
        ("M0 0a5 6 0 0110 10 5 6 0 1 0-4-4", "M0 0a5,6 0 0,1 10,10 a5,6 0 1,0 -4,-4"),
        ("M0 0a25 25-30 01.5.5", "M0 0 a 25 25 -30 0 1 0.5 0.5"),
        ("M0,0\n\tL\r1,\n2", "M0 0L1 2"),
    ):
        a, b = _rows(packed), _rows(plain)
        assert a[0] == b[0]
        np.testing.assert_allclose(a[1], b[1], atol=1e-12)
