"""Entities drawn one by one into a sketch, against the DXF reference and formulas."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from ezdxf.math import OCS, Vec3

from fillwork.errors import ReadError
from fillwork.geometry import affine
from fillwork.geometry.curves import ARC, LINE
from fillwork.readers.dxf.bulges import arc_span, bulge_curves
from fillwork.readers.dxf.entities import Drawer, plane_map
from fillwork.readers.dxf.sketch import Sketch
from fillwork.readers.dxf.tags import read_entities
from fillwork.readers.limits import NORMAL

TURN = 2 * math.pi


def tags(kind, *pairs):
    return "".join(f"{code}\n{value}\n" for code, value in ((0, kind), *pairs))


def drawn(*entities, handles=(), limits=NORMAL):
    """The sketch of entities, each drawn alone."""
    sketch, written = Sketch(), {}
    drawer = Drawer("utf-8", frozenset(handles), written, limits, "a.dxf")
    for text in entities:
        for entity in read_entities(text.encode(), "a.dxf", limits):
            drawer.draw(entity, sketch)
    drawer.finish()
    return sketch


def rows(sketch):
    return np.array(sketch.rows).reshape(-1, 8)


def looks(sketch):
    return [list(sketch.looks)[k] for k in sketch.look]


# -- planes ---------------------------------------------------------------------


@pytest.mark.parametrize(
    "direction",
    [
        (0, 0, -1), (0, 0, -0.1), (0, 0, -250), (1, 0, 0), (0, -1, 0), (1, 2, 3),
        (-3, 1, -0.5), (1 / 64 - 1e-6, 0, 1), (1 / 64 + 1e-3, 0, 1),
        (0, 1 / 64 - 1e-6, -1), (0, 1 / 64 + 1e-3, -1), (-1 / 70, -1 / 70, 1),
        (-1 / 50, -1 / 70, 1), (1 / 70, 1 / 50, 1), (0.01, 0, 1),
    ],
)  # fmt: skip
@pytest.mark.reference("DXF reference, arbitrary axis algorithm, as ezdxf has it")
def test_planes_are_those_of_ezdxf(direction) -> None:
    fields = dict(zip((b"210", b"220", b"230"), direction, strict=True))
    lay = plane_map(fields, 7.0)
    ocs = OCS(direction)
    for point in ((0, 0), (1, 0), (0, 1), (-3, 5)):
        true = ocs.to_wcs(Vec3(*point, 7.0))
        ours = affine.apply(lay, np.array([point], float))[0]
        assert ours == pytest.approx((true.x, true.y))


def test_the_drawings_own_plane_needs_no_map() -> None:
    assert plane_map({}) is None
    for z in (1.0, 0.2, 40.0):
        assert plane_map({b"210": 0.0, b"220": 0.0, b"230": z}) is None
    for wrong in (0.0, math.nan, math.inf):
        assert plane_map({b"210": 0.0, b"220": 0.0, b"230": wrong}) is None


# -- arcs -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "last", "sweep"),
    [
        (0.0, 1.0, 1.0),
        (6.0, 1.0, TURN - 5.0),
        (-1.0, 1.0, 2.0),
        (2.0, 2.0, TURN),
        (2.0, 2.0 + TURN, TURN),
        (TURN, 0.0, TURN),
        (0.0, 6.2832, TURN),  # rounded up
        (0.0, 6.283185, TURN),  # and down, by 3e-7
        (0.0, TURN - 2e-6, TURN - 2e-6),
        (0.0, 2e-12, 2e-12),
        (0.0, 5e-13, TURN),
        (0.0, 2 * TURN, TURN),
        (0.0, TURN + 1.7e-4, TURN),  # by 0.01 of a degree
        (0.0, 2 * TURN + 1.7e-7, TURN),
        (0.0, TURN + 2.1e-4, 2.1e-4),  # more than rounded up
        (-0.5, TURN - 0.25, 0.25),
        (-0.5 - 3 * TURN, 1.0, 1.5),
        (1.0, -1.0, TURN - 2.0),
    ],
)
def test_arcs_go_round_once_at_most(first, last, sweep) -> None:
    begin, end = arc_span(first, last)
    assert begin == first
    assert end - begin == pytest.approx(sweep, rel=1e-9, abs=1e-15)


def test_circles_and_arcs() -> None:
    at = ((10, 3), (20, 4), (40, -2))
    sketch = drawn(
        tags("CIRCLE", *at),
        tags("ARC", *at, (50, 350), (51, 10)),
        tags("ARC", *at),
        tags("ARC", *at, (50, 90), (51, 90)),
        tags("CIRCLE", *at[:2], (40, 0)),
        tags("CIRCLE", *at[:2]),
    )
    assert list(sketch.kinds) == [ARC] * 4
    assert list(sketch.closed) == [1, 0, 1, 1]
    assert rows(sketch)[:, :6].tolist() == [[3, 4, 2, 0, 0, 2]] * 4
    assert np.degrees(rows(sketch)[:, 6:]).ravel() == pytest.approx(
        [0, 360, 350, 370, 0, 360, 90, 450]
    )


def test_a_circle_in_a_plane_seen_from_below_is_mirrored() -> None:
    below = ((210, 0), (220, 0), (230, -1))
    sketch = drawn(tags("CIRCLE", (10, 3), (20, 4), (30, 9), (40, 2), *below))
    assert rows(sketch)[0, :6] == pytest.approx([-3, 4, -2, 0, 0, 2])


@pytest.mark.parametrize("below", [False, True])
def test_ellipses_have_the_side_that_their_direction_says(below) -> None:
    # DXF reference, ELLIPSE: the centre and the long axis stand in the drawing's axes
    told = [(10, 1), (20, 2), (11, 3), (21, 4), (40, 0.5), (41, 0.25), (42, 1.5)]
    if below:
        told += [(210, 0), (220, 0), (230, -2)]
    (row,) = rows(drawn(tags("ELLIPSE", *told)))
    side = 1 if not below else -1
    assert row == pytest.approx([1, 2, 3, 4, -2 * side, 1.5 * side, 0.25, 1.5])
    whole = drawn(tags("ELLIPSE", *told[:5]), tags("ELLIPSE", (10, 1), (20, 2)))
    assert list(whole.closed) == [1]
    assert rows(whole)[0, 6:] == pytest.approx([0, TURN])


# -- sides that bend ------------------------------------------------------------


@pytest.mark.parametrize("degrees", [0.01, 0.1, 0.12, 1, 90, 180, 270, 350])
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.reference("DXF reference, LWPOLYLINE: bulge = tan(angle / 4)")
def test_a_bulge_is_the_tangent_of_a_quarter_of_its_angle(degrees, sign) -> None:
    # around (2, 1) from the point at angle 0.3; the middle of the arc by formula
    angle, r = math.radians(sign * degrees), 5.0
    at = [(2 + r * math.cos(t), 1 + r * math.sin(t)) for t in (0.3, 0.3 + angle)]
    ((kind, row),) = bulge_curves(
        [(*at[0], math.tan(angle / 4)), (*at[1], 0.0)], closed=False
    )
    middle = (2 + r * math.cos(0.3 + angle / 2), 1 + r * math.sin(0.3 + angle / 2))
    assert (kind == ARC) == (abs(angle) >= 2e-3)
    if kind == ARC:
        assert row[:2] == pytest.approx((2, 1), abs=1e-6)
        assert row[6:] == pytest.approx((0, angle))
        c, s = math.cos(angle / 2), math.sin(angle / 2)
        found = [row[k] + row[2 + k] * c + row[4 + k] * s for k in (0, 1)]
        first = [row[k] + row[2 + k] for k in (0, 1)]
    else:
        p = np.array(row).reshape(4, 2)
        found, first = (p[0] + 3 * p[1] + 3 * p[2] + p[3]) / 8, p[0]
        assert p[3] == pytest.approx(at[1])
    assert list(first) == pytest.approx(at[0])
    assert list(found) == pytest.approx(middle, abs=1e-9)


def test_sides_without_length_are_left_out() -> None:
    square = [(0, 0, 0), (0, 0, 1), (1, 0, 0), (1, 0, 0), (1, 1, 0), (0, 0, 0)]
    closed = bulge_curves(square, closed=True)
    assert [kind for kind, _ in closed] == [ARC, LINE, LINE]
    assert closed == bulge_curves(square, closed=False)
    assert bulge_curves([], closed=True) == bulge_curves([(1, 1, 1)], closed=True) == []
    two = bulge_curves([(0, 0, 0), (1, 0, 0)], closed=True)
    assert [row[:4] for _, row in two] == [(0, 0, 1, 0), (1, 0, 0, 0)]


POINTS = ((10, 0), (20, 0), (10, 4), (20, 0), (42, 1), (10, 4), (20, 4))


@pytest.mark.parametrize(
    ("more", "closed", "width", "count"),
    [
        ((), 0, 0, 2), (((70, 1),), 1, 0, 3), (((70, 128),), 0, 0, 2),
        (((43, 2),), 0, 2, 2), (((40, 1), (41, 3)), 0, 3, 2), (((38, 5),), 0, 0, 2),
    ],
)  # fmt: skip
def test_polylines_of_one_entity(more, closed, width, count) -> None:
    sketch = drawn(tags("LWPOLYLINE", *POINTS, *more))
    assert (list(sketch.closed), len(sketch)) == ([closed], count)
    assert [look.width for look in looks(sketch)] == [width]
    assert list(sketch.kinds)[:2] == [LINE, ARC]
    # half a turn from (4, 0) to (4, 4), to the right
    assert rows(sketch)[1, :2] == pytest.approx([4, 2])


def vertices(*points):
    return "".join(tags("VERTEX", (10, x), (20, y), *more) for x, y, *more in points)


SQUARE = vertices((0, 0), (4, 0, (42, 1)), (4, 4), (0, 4))


@pytest.mark.parametrize(
    ("flags", "kinds", "closed"),
    [(0, [LINE, ARC, LINE], 0), (1, [LINE, ARC, LINE, LINE], 1), (8, [LINE] * 3, 0)],
)
def test_polylines_of_many_entities(flags, kinds, closed) -> None:
    sketch = drawn(tags("POLYLINE", (66, 1), (70, flags)) + SQUARE + tags("SEQEND"))
    assert (list(sketch.kinds), list(sketch.closed)) == (kinds, [closed])
    assert sketch.counts == {}


@pytest.mark.parametrize("flags", [16, 64])
def test_meshes_are_told_and_no_lines(flags) -> None:
    sketch = drawn(tags("POLYLINE", (70, flags)) + SQUARE + tags("SEQEND"))
    assert (len(sketch), sketch.counts) == (0, {"mesh": 1})


def test_the_frame_of_a_fitted_polyline_is_no_part_of_it() -> None:
    text = vertices(
        (9, 9, (70, 16)), (0, 0, (70, 8)), (4, 0, (70, 8)), (5, 5, (70, 16))
    )
    sketch = drawn(tags("POLYLINE", (70, 4)) + text + tags("SEQEND"))
    assert rows(sketch)[:, :4].tolist() == [[0, 0, 4, 0]]


@pytest.mark.parametrize(
    ("own", "vertex", "width"),
    [((40, 2), (40, 1), 2), ((41, 3), (41, 1), 3), ((40, 0), (41, 5), 5),
     ((41, 0), (40, 6), 6), ((70, 0), (70, 0), 0)],
)  # fmt: skip
def test_the_width_is_the_largest_that_is_told(own, vertex, width) -> None:
    text = vertices((0, 0, vertex), (4, 0)) + tags("SEQEND")
    (look,) = looks(drawn(tags("POLYLINE", own) + text))
    assert look.width == width


@pytest.mark.parametrize("wrong", [(10, "x"), (20, ""), (42, "1,5"), (70, "inf")])
def test_a_polyline_with_a_wrong_corner_is_left_out(wrong) -> None:
    text = vertices((0, 0), (4, 0, wrong), (4, 4)) + tags("SEQEND")
    good = vertices((0, 0), (4, 0)) + tags("SEQEND")
    sketch = drawn(tags("POLYLINE") + text + tags("POLYLINE") + good)
    assert sketch.doubts == {"POLYLINE with a wrong number": (1, 1)}
    assert rows(sketch)[:, :4].tolist() == [[0, 0, 4, 0]]
    # corners without a polyline are nothing
    assert len(drawn(good + tags("LINE", (11, 1)))) == 1


def test_what_is_not_drawn_of_a_corner_may_be_wrong() -> None:
    bulge, frame = (42, "x"), ((42, ""), (70, 16))
    text = vertices((9, 9, *frame), (0, 0, bulge), (4, 0)) + tags("SEQEND")
    solid = drawn(tags("POLYLINE", (70, 8)) + text)
    assert (len(solid), solid.doubts) == (1, {})
    flat = drawn(tags("POLYLINE") + text)
    assert (len(flat), flat.doubts) == (0, {"POLYLINE with a wrong number": (1, 1)})


@pytest.mark.parametrize("told", ["nan", "-1", "x"])
def test_widths_that_are_none_do_not_count(told) -> None:
    text = vertices((0, 0, (40, told)), (4, 0, (41, 2))) + tags("SEQEND")
    (look,) = looks(drawn(tags("POLYLINE", (40, 1)) + text))
    assert look.width == 2


def test_corners_have_the_limit_of_curves() -> None:
    text = tags("POLYLINE", (70, 1)) + SQUARE + tags("SEQEND")
    assert len(drawn(text, limits=replace(NORMAL, curves=4))) == 4
    with pytest.raises(ReadError, match="4 lines, arcs and curves: over the limit"):
        drawn(text, limits=replace(NORMAL, curves=3))


# -- areas ----------------------------------------------------------------------

CORNERS = ((10, 0), (20, 0), (11, 4), (21, 0), (12, 0), (22, 3), (13, 4), (23, 3))


@pytest.mark.parametrize("kind", ["SOLID", "TRACE"])
def test_the_last_two_corners_of_a_solid_are_crossed(kind) -> None:
    sketch = drawn(tags(kind, *CORNERS))
    assert rows(sketch)[:, :2].tolist() == [[0, 0], [4, 0], [4, 3], [0, 3]]
    assert list(sketch.closed) == [1]
    assert looks(sketch)[0].filled
    three = drawn(tags(kind, *CORNERS[:6], (13, 0), (23, 3)))
    assert rows(three)[:, :2].tolist() == [[0, 0], [4, 0], [0, 3]]


@pytest.mark.parametrize(
    ("hidden", "seen"), [(0, [0, 1, 2, 3]), (1, [1, 2, 3]), (6, [0, 3]), (15, [])]
)
@pytest.mark.reference("DXF reference, 3DFACE: bits 1, 2, 4, 8 hide edges 1 to 4")
def test_faces_show_their_edges_in_order(hidden, seen) -> None:
    sketch = drawn(tags("3DFACE", *CORNERS, (70, hidden)))
    sides = [[0, 0, 4, 0], [4, 0, 0, 3], [0, 3, 4, 3], [4, 3, 0, 0]]
    assert rows(sketch)[:, :4].tolist() == [sides[k] for k in seen]
    assert list(sketch.closed) == [0] * len(seen)
    assert not any(look.filled for look in looks(sketch))


# -- placed blocks and windows --------------------------------------------------


def places(sketch):
    (placing,) = sketch.placings.values()
    return np.array(placing.maps).reshape(-1, 6)


def test_a_placed_block_is_scaled_then_turned() -> None:
    text = tags("INSERT", (2, "B"), (10, 5), (20, 6), (41, 2), (42, -3), (50, 90))
    ((a, b, c, d, e, f),) = places(drawn(text)).tolist()
    assert (a, b, c, d, e, f) == pytest.approx((0, 2, 3, 0, 5, 6), abs=1e-12)
    (plain,) = places(drawn(tags("INSERT", (2, "B")))).tolist()
    assert plain == [1, 0, 0, 1, 0, 0]


@pytest.mark.parametrize("below", [(), ((210, 0), (220, 0), (230, -1))])
def test_rows_and_columns_are_turned_and_not_scaled(below) -> None:
    text = tags(
        "INSERT", (2, "B"), (10, 5), (20, 6), (41, 9), (50, 90), (70, 2), (71, 3),
        (44, 10), (45, 100), *below,
    )  # fmt: skip
    side = -1 if below else 1
    # a quarter turn leads columns up, and rows to the left
    true = {(side * (5 - 100 * j), 6 + 10 * i) for i in range(2) for j in range(3)}
    found = places(drawn(text))
    assert {tuple(map(round, row)) for row in found[:, 4:].tolist()} == true
    assert (len(found), np.ptp(found[:, :4], axis=0).max()) == (6, 0)


@pytest.mark.parametrize(("columns", "count"), [(-1, 1), (0, 1), (1, 1), (3, 3)])
def test_less_than_one_column_is_one(columns, count) -> None:
    assert len(places(drawn(tags("INSERT", (2, "B"), (70, columns))))) == count


def test_copies_in_rows_have_one_limit_together() -> None:
    text = tags("INSERT", (2, "B"), (70, 3), (71, 2), (44, 1), (45, 1))
    limits = replace(NORMAL, elements=12)
    assert len(places(drawn(text, text, limits=limits))) == 12
    with pytest.raises(ReadError, match="18 copies of blocks in rows: over the limit"):
        drawn(text, text, text, limits=limits)


def test_curves_have_one_limit_together() -> None:
    text = tags("LWPOLYLINE", *POINTS)
    limits = replace(NORMAL, curves=4)
    assert len(drawn(text, text, limits=limits)) == 4
    with pytest.raises(ReadError, match="6 lines, arcs and curves: over the limit"):
        drawn(text, text, text, limits=limits)


WINDOW = (
    (10, 100), (20, 50), (40, 60), (41, 30), (68, 1), (69, 2), (12, 7), (22, 8),
    (16, 0), (26, 0), (36, 1), (17, 1), (27, 2), (45, 15),
)  # fmt: skip


def window(*changed):
    told = dict(WINDOW) | dict(changed)
    return tags("VIEWPORT", *told.items())


@pytest.mark.parametrize("twist", [0, 90, -30])
@pytest.mark.reference("DXF reference, VIEWPORT: twist, target, centre and height")
def test_a_window_shows_its_centre_at_its_middle(twist) -> None:
    (view,) = drawn(window((51, twist))).viewports
    assert view.box == (70, 35, 60, 30)
    # 15 units fill 30 mm; seen turned by the twist about the target (1, 2)
    t = math.radians(-twist)
    x, y = 7.0, 8.0
    centre = (
        1 + x * math.cos(t) - y * math.sin(t),
        2 + x * math.sin(t) + y * math.cos(t),
    )
    points = np.array([centre, (centre[0] + math.cos(t), centre[1] + math.sin(t))])
    found = affine.apply(view.matrix, points)
    assert found == pytest.approx(np.array([(100, 50), (102, 50)]))


@pytest.mark.parametrize(
    ("changed", "shown", "told"),
    [
        ((), 1, 0), (((69, 1),), 0, 0), (((68, 0),), 0, 0), (((68, -1),), 1, 0),
        (((45, 0),), 0, 1), (((40, 0),), 0, 1), (((41, 0),), 0, 1),
        (((16, 1),), 0, 1), (((26, 0.5),), 0, 1), (((36, 5),), 1, 0),
    ],
)  # fmt: skip
def test_windows_that_are_not_shown(changed, shown, told) -> None:
    sketch = drawn(window(*changed))
    assert len(sketch.viewports) == shown
    assert sketch.counts.get("window not seen from above", 0) == told


def test_a_window_names_the_layers_that_are_frozen_in_it() -> None:
    text = window() + "331\n0A\n341\n1b\n331\n0\n"
    (view,) = drawn(text).viewports
    assert view.frozen == {"A", "1B"}


# -- what is said of an entity --------------------------------------------------


@pytest.mark.parametrize(
    ("told", "meant"),
    [
        ((), ("0", 256, "bylayer", -1)),
        (((8, "Ab"), (62, 3), (6, "DASHED"), (370, 50)), ("ab", 3, "dashed", 50)),
        (((62, 3), (420, 0x1FF8001)), ("0", "#ff8001", "bylayer", -1)),
        (((370, -2), (62, 0)), ("0", 0, "bylayer", -2)),
    ],
)
def test_styles_are_what_an_entity_says(told, meant) -> None:
    (look,) = looks(drawn(tags("LINE", (11, 1), *told)))
    assert (look.layer, look.colour, look.dash, look.weight) == meant
    assert (look.width, look.filled, look.handle) == (0, False, "")


def test_handles_are_kept_where_they_are_asked_for() -> None:
    lines = [tags("LINE", (5, handle), (11, 1)) for handle in ("1f", "20")]
    sketch = drawn(*lines, handles=["1F"])
    assert [look.handle for look in looks(sketch)] == ["1F", ""]
    assert sketch.names == ["LINE#1f", "LINE#20"]


@pytest.mark.parametrize(("flag", "count"), [(0, 1), (1, 0), (2, 1), (3, 0)])
def test_hidden_entities_are_counted(flag, count) -> None:
    sketch = drawn(tags("LINE", (11, 1), (60, flag)))
    assert len(sketch) == count
    assert sketch.counts == ({} if count else {"hidden entity": 1})


def test_what_is_no_line_work_is_counted_by_its_word() -> None:
    sketch = drawn(
        *map(tags, ("TEXT", "MTEXT", "WIPEOUT", "XLINE", "NEWER", "SEQEND", "ENDBLK"))
    )
    assert sketch.counts == {
        "text": 2, "cover": 1, "endless line": 1, "other entity": 1,
    }  # fmt: skip


def test_lines_without_length_are_none() -> None:
    assert len(drawn(tags("LINE"), tags("LINE", (10, 2), (11, 2)))) == 0
    assert rows(drawn(tags("LINE", (21, 3))))[0].tolist() == [0, 0, 0, 3, 0, 0, 0, 0]


@pytest.mark.parametrize("knots", [[0] * 8, [3] * 8])
def test_a_spline_without_a_span_is_told(knots) -> None:
    points = [pair for k in range(4) for pair in ((10, k), (20, k * k))]
    text = tags("SPLINE", (71, 3), *((40, k) for k in knots), *points)
    sketch = drawn(text)
    assert sketch.doubts == {"a spline whose knots are all the same": (1, 1)}


@pytest.mark.parametrize(("points", "told"), [(1, True), (2, False)])
def test_fitted_splines_need_two_points(points, told) -> None:
    pairs = [pair for k in range(points) for pair in ((11, k), (21, k * k))]
    sketch = drawn(tags("SPLINE", *pairs))
    assert bool(sketch.doubts) is told
    assert len(sketch) == points - 1
