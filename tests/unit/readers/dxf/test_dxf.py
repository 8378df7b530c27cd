"""DXF drawings written by ezdxf, an independent writer, against mathematics."""

import contextlib
import io
import math
import random
import re
from itertools import pairwise

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.math import Matrix44, Vec3
from ezdxf.xclip import XClip
from scipy.interpolate import BSpline

from fillwork import read_linework
from fillwork.arrangement.build import build_arrangement
from fillwork.errors import FillworkError, LineWorkError, ReadError
from fillwork.geometry.curves import ARC, CUBIC, LINE
from fillwork.readers.dxf.colours import numbered_colour
from fillwork.readers.dxf.splines import spline_curves


def to_bytes(document, binary=False):
    if binary:
        stream = io.BytesIO()
        document.write(stream, fmt="bin")
        return stream.getvalue()
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode(document.output_encoding)


def read(document, **choices):
    return read_linework(to_bytes(document), name="drawing.dxf", **choices)


def drawing(version="R2010", units=4):
    document = ezdxf.new(version, units=units)
    return document, document.modelspace()


def in_source(work):
    """The curves' first and last points in the drawing's own units."""
    a, _, _, d, e, f = work.frame.to_mm
    back = np.array([[e, f]])
    starts, ends = work.curves.starts(), work.curves.ends()
    return (starts - back) / [a, d], (ends - back) / [a, d]


def test_letters_outside_the_code_page_are_read_as_they_are_meant(tmp_path):
    # DXF reference: in files older than 2007 they stand as \\U+nnnn; two of them for
    # letters beyond four digits (UTF-16)
    document, model = drawing("R2000")
    name = "Au\u00dfen \u03b1 \U0001f3a8"
    model.add_line((0, 0), (30, 20), dxfattribs={"layer": name})
    text = io.StringIO()
    document.write(text)
    written = text.getvalue().replace("\U0001f3a8", "\\U+D83C\\U+DFA8")
    data = written.encode("cp1252", "dxfreplace")
    assert b"\\U+03B1 \\U+D83C\\U+DFA8" in data.upper()
    work = read_linework(data, name="drawing.dxf", lines=(f"layer={name}",))
    assert [group.layer for group in work.groups] == [name]


@pytest.mark.parametrize(
    ("written", "read"),
    [("A\\U+0020", "A"), ("plan\\U+000Anote: well", "plan note: well")],
)
def test_letters_that_are_blanks_end_no_line_and_no_name(written, read):
    document, model = drawing("R2000")
    model.add_line((0, 0), (30, 20), dxfattribs={"layer": "NAMED"})
    text = io.StringIO()
    document.write(text)
    data = text.getvalue().replace("NAMED", written).encode("cp1252")
    work = read_linework(data, name="drawing.dxf")
    assert [group.layer for group in work.groups] == [read]


@pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2010", "R2018"])
@pytest.mark.parametrize("binary", [False, True])
def test_every_version_in_both_forms(version, binary):
    document, model = drawing(version)
    model.add_line((10, 20), (30, 20), dxfattribs={"layer": "Außen", "color": 1})
    model.add_circle((20, 20), 5)
    model.add_polyline2d([(0, 0), (4, 0), (4, 3)], close=True)
    work = read_linework(to_bytes(document, binary), name="drawing.dxf")
    assert work.stroke_count == 3
    assert work.curves.kind.tolist() == [LINE, ARC, LINE, LINE, LINE]
    assert work.closed.tolist() == [False, True, True]
    assert {g.layer for g in work.groups} == {"Außen", "0"}
    assert (work.frame.width, work.frame.height) == pytest.approx((30, 25))
    assert work.frame.scale_known == (version != "R12")  # R12 has no $INSUNITS


@pytest.mark.parametrize(
    ("unit", "mm"), [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0)]
)
@pytest.mark.reference("DXF reference, $INSUNITS; the international inch of 1959")
def test_units_give_true_size(unit, mm):
    document, model = drawing(units=unit)
    model.add_lwpolyline([(0, 0), (2, 0), (2, 1)], close=True)
    work = read(document)
    assert work.frame.width == pytest.approx(2 * mm)
    assert work.frame.scale_known


def test_no_unit_is_said():
    document, model = drawing(units=0)
    model.add_line((0, 0), (2, 1))
    work = read(document)
    assert not work.frame.scale_known
    assert [n.text for n in work.notes] == [
        "the drawing states no unit; one unit is taken as 1 mm"
    ]


@pytest.mark.reference("DXF reference, LWPOLYLINE: bulge = tan(angle / 4)")
@pytest.mark.parametrize("degrees", [-300, -90, -0.05, 0.05, 45, 180, 359])
def test_bulges_are_arcs(degrees):
    angle = math.radians(degrees)
    document, model = drawing()
    model.add_lwpolyline([(1, 2, math.tan(angle / 4)), (4, 6, 0)], format="xyb")
    work = read(document)
    starts, ends = in_source(work)
    assert starts[0] == pytest.approx([1, 2], abs=1e-9)
    assert ends[-1] == pytest.approx([4, 6], abs=1e-9)
    # chord 5 = 2 r sin(|angle| / 2); length r |angle|
    length = abs(angle) * 2.5 / math.sin(abs(angle) / 2)
    assert work.curves.lengths().sum() == pytest.approx(length, rel=1e-9)
    # counter-clockwise is positive: the middle lies to the right of the chord
    middle = work.curves.point(np.array([0]), np.array([0.5]))[0]
    chord = ends[0] - starts[0]
    way = middle - (work.curves.starts()[0] + work.curves.ends()[0]) / 2
    side = chord[0] * way[1] - chord[1] * way[0]
    sagitta = 2.5 * math.tan(angle / 4)
    assert side / 5 == pytest.approx(-sagitta, rel=1e-9)


def test_ellipses_follow_their_parameters():
    document, model = drawing()
    # P = centre + major cos t + minor sin t, minor = ratio * (normal x major)
    model.add_ellipse((5, 6), (4, 3), 0.5, 1.0, 3.5)
    work = read(document)
    assert work.curves.kind.tolist() == [ARC]
    starts, ends = in_source(work)

    def point(t):
        return [
            5 + 4 * math.cos(t) - 1.5 * math.sin(t),
            6 + 3 * math.cos(t) + 2 * math.sin(t),
        ]

    assert starts[0] == pytest.approx(point(1.0))
    assert ends[0] == pytest.approx(point(3.5))


@pytest.mark.parametrize("degree", [1, 2, 3, 4, 6])
def test_splines_are_those_of_scipy(degree):
    points = np.random.default_rng(degree).uniform(0, 100, (9, 2))
    inner = np.linspace(0, 1, 9 - degree + 1)[1:-1] ** 1.3
    knots = np.r_[np.zeros(degree + 1), inner, np.ones(degree + 1)]
    document, model = drawing()
    spline = model.add_spline(degree=degree)
    spline.control_points = [(*p, 0) for p in points]
    spline.knots = knots
    work = read(document)
    true = BSpline(knots, points, degree)(np.linspace(0, 1, 3001))
    e, f = work.frame.to_mm[4:]
    segments, _, _ = work.curves.flatten(1e-4)
    ours = shapely.multilinestrings(shapely.linestrings(segments.reshape(-1, 2, 2)))
    theirs = shapely.points(true + np.array([e, f]))
    assert shapely.distance(ours, theirs).max() < 2e-3
    assert (work.curves.kind == (LINE if degree == 1 else CUBIC)).all()
    if degree <= 3:
        # the knots' own points are met exactly
        at = BSpline(knots, points, degree)(np.r_[0, inner])
        assert in_source(work)[0] == pytest.approx(at, abs=1e-9)


def test_a_circle_as_a_rational_spline_stays_one():
    # nine points and weights of a whole circle (Piegl and Tiller, The NURBS Book,
    # 2nd edition, example 7.1); radius 10
    w = math.sqrt(0.5)
    points = 10.0 * np.array(
        [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    )
    weights = np.array([1, w, 1, w, 1, w, 1, w, 1])
    knots = np.array([0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4.0])
    curves = spline_curves(2, knots, points, weights)
    assert [kind for kind, _ in curves] == [ARC] * 4
    for _, (cx, cy, ux, uy, vx, vy, *_) in curves:
        assert (cx, cy) == pytest.approx((0, 0), abs=1e-12)
        assert math.hypot(ux, uy) == pytest.approx(10)
        assert math.hypot(vx, vy) == pytest.approx(10)
        assert ux * vx + uy * vy == pytest.approx(0, abs=1e-10)


def test_fitted_splines_go_through_their_points():
    points = [(0, 0), (10, 8), (25, 3), (30, 20)]
    document, model = drawing()
    model.add_spline(points)
    work = read(document)
    starts, ends = in_source(work)
    assert np.r_[starts, ends[-1:]] == pytest.approx(np.array(points, float), abs=1e-9)


def _random_entity(r, layout, blocks):
    def point():
        return (r.uniform(-50, 50), r.uniform(-50, 50))

    style = {"extrusion": r.choice([(0, 0, 1), (0, 0, 1), (0, 0, -1)])}
    match r.randrange(8):
        case 0:
            layout.add_line(point(), point())
        case 1:
            layout.add_circle(point(), r.uniform(1, 20), dxfattribs=style)
        case 2:
            angles = r.uniform(-400, 400), r.uniform(-400, 400)
            layout.add_arc(point(), r.uniform(1, 20), *angles, dxfattribs=style)
        case 3:
            corners = [(*point(), r.choice([0, 1, -1, 0.3, -2.5])) for _ in range(5)]
            layout.add_lwpolyline(corners, format="xyb", close=True, dxfattribs=style)
        case 4:
            ends = r.uniform(0, 6), r.uniform(0, 6)
            layout.add_ellipse(point(), point(), r.uniform(0.1, 1), *ends)
        case 5:
            layout.add_polyline2d([point() for _ in range(3)], dxfattribs=style)
        case _ if blocks:
            way = {
                "xscale": r.choice([1, -1, 2.5]), "yscale": r.choice([1, -1, 0.5]),
                "rotation": r.uniform(0, 360), "column_count": r.choice([1, 3]),
                "row_count": r.choice([1, 2]), "column_spacing": r.uniform(1, 9),
                "row_spacing": r.uniform(1, 9),
            }  # fmt: skip
            layout.add_blockref(r.choice(blocks), point(), dxfattribs=style | way)


def _truth(layout, matrix):
    """Points along every entity, by ezdxf's own matrices and flattening."""
    for entity in layout:
        if entity.dxftype() == "INSERT":
            several = entity.multi_insert() if entity.mcount > 1 else [entity]
            for one in several:
                yield from _truth(one.block(), one.matrix44() * matrix)
            continue
        parts = [entity]
        if entity.dxftype() in {"LWPOLYLINE", "POLYLINE"}:
            parts = list(entity.virtual_entities())
        for part in parts:
            if part.dxftype() == "LINE":
                points = [part.dxf.start, part.dxf.end]
            else:
                points = list(part.flattening(0.01))
            points = points[:: max(1, len(points) // 500)]
            yield from matrix.transform_vertices([Vec3(p) for p in points])


@pytest.mark.parametrize("seed", range(3))
def test_blocks_in_blocks_under_every_map(seed):
    r = random.Random(seed)
    document, model = drawing()
    names = []
    for k in range(3):
        block = document.blocks.new(f"B{k}", base_point=(r.uniform(-5, 5), 3))
        for _ in range(4):
            _random_entity(r, block, names)
        names.append(f"B{k}")
    for _ in range(10):
        _random_entity(r, model, names)
    work = read(document)
    true = np.array([(p.x, p.y) for p in _truth(model, Matrix44())])
    segments, _, _ = work.curves.flatten(0.01)
    tree = shapely.STRtree(shapely.linestrings(segments.reshape(-1, 2, 2)))
    near = tree.query_nearest(
        shapely.points(true + work.frame.to_mm[4:]), return_distance=True,
        all_matches=False,
    )[1]  # fmt: skip
    assert near.max() < 0.02 + 1e-5 * work.frame.width
    # and nothing more than that: every end of ours is near one of theirs
    sizes = np.ptp(true, axis=0)
    assert (work.frame.width, work.frame.height) == pytest.approx(sizes, abs=0.5)


def test_styles_come_from_layer_and_block():
    document, model = drawing()
    document.linetypes.add("DASHED", pattern=[2.0, 1.0, -1.0])
    layer = document.layers.add("Gold", color=40)
    layer.dxf.linetype = "DASHED"
    layer.dxf.lineweight = 50
    block = document.blocks.new("B")
    block.add_line((0, 0), (1, 0), dxfattribs={"color": 0, "lineweight": -2})
    block.add_line((0, 0), (0, 1), dxfattribs={"layer": "Own", "color": 256})
    style = {"layer": "Gold", "color": 5, "lineweight": 35}
    model.add_blockref("B", (5, 5), dxfattribs=style)
    model.add_line((9, 9), (8, 8), dxfattribs={"layer": "Gold"})
    model.add_line((9, 9), (7, 8), dxfattribs={"true_color": 0x123456})
    work = read(document)
    found = {(g.layer, g.colour, g.width, g.dash) for g in work.groups}
    assert found == {
        ("Gold", "#0000ff", 0.35, True),  # in the block: by block, on its layer
        ("Own", "#000000", 0.25, False),
        ("Gold", numbered_colour(40), 0.5, True),
        ("0", "#123456", 0.25, False),
    }
    assert read(document, leave=("class=B",)).stroke_count == 2
    assert read(document, lines=("dash=yes",)).stroke_count == 2
    handle = model[1].dxf.handle
    assert read(document, lines=(f"id={handle}",)).stroke_count == 1


def test_numbered_colours_are_those_of_ezdxf():
    for number in [*range(1, 7), 8, 9, *range(10, 249), *range(250, 256)]:
        if number > 100 and number % 10 in {7, 9}:
            continue  # ezdxf has a brighter part in 21 of the darkest there
        true = ezdxf.colors.aci2rgb(number).to_hex()
        assert numbered_colour(number) == true, number


def test_hidden_layers_are_left_out_and_told():
    document, model = drawing()
    document.layers.add("Frozen").freeze()
    document.layers.add("Off").off()
    model.add_line((0, 0), (10, 10))
    model.add_line((0, 0), (10, 0), dxfattribs={"layer": "Frozen"})
    model.add_line((0, 0), (0, 10), dxfattribs={"layer": "Off"})
    block = document.blocks.new("B")
    block.add_line((3, 3), (4, 4), dxfattribs={"layer": "Seen"})
    model.add_blockref("B", (0, 0), dxfattribs={"layer": "Off"})
    model.add_blockref("B", (0, 0), dxfattribs={"layer": "Frozen"})
    work = read(document)
    # an off layer hides what is on it; a frozen one its placed blocks too
    assert {g.layer: g.count for g in work.groups} == {"0": 1, "Seen": 1}
    told = [n.text for n in work.notes if n.type == "hidden layer"]
    assert len(told) == 2
    assert "“Off”" in told[1]
    assert read(document, lines=("layer=Off",)).stroke_count == 1


def test_hatches_and_solids_are_fills():
    document, model = drawing()
    model.add_circle((50, 50), 40)
    hatch = model.add_hatch(color=2)
    path = hatch.paths.add_edge_path()
    path.add_arc((50, 50), 20, 0, 180, ccw=True)
    path.add_line((30, 50), (70, 50))
    hatch.paths.add_polyline_path([(40, 20), (60, 20), (50, 30)], is_closed=True)
    model.add_solid([(45, 75), (55, 75), (45, 80), (55, 80)])
    stroked = read(document, scope="stroked")
    assert stroked.stroke_count == 1
    both = read(document, scope="both")
    assert both.stroke_count == 4
    areas = []
    for stroke in both.strokes():
        rows = np.arange(*stroke.curves)
        ring = both.curves.take(rows).flatten(1e-3)[0]
        cross = (ring[:, 0] * ring[:, 3] - ring[:, 2] * ring[:, 1]).sum()
        areas.append(abs(float(cross)) / 2)
    true = [math.pi * 1600, math.pi * 200, 100.0, 50.0]
    assert sorted(areas) == pytest.approx(sorted(true), rel=1e-3)


@pytest.mark.parametrize("ccw", [True, False])
def test_edges_of_hatches_may_be_ellipses_and_splines(ccw):
    document, model = drawing()
    whole = model.add_hatch(color=2).paths.add_edge_path()
    whole.add_ellipse((50, 50), (20, 10), 0.4, 0, 360, ccw=ccw)
    hatch = model.add_hatch(color=3)
    half = hatch.paths.add_edge_path()
    half.add_ellipse((150, 50), (30, 0), 0.5, 0, 180, ccw=ccw)
    half.add_line((120, 50), (180, 50))
    arch = hatch.paths.add_edge_path()
    poles = [(0, 100), (10, 130), (30, 130), (40, 100)]
    arch.add_spline(control_points=poles, knot_values=[0] * 4 + [1] * 4, degree=3)
    arch.add_line((40, 100), (0, 100))
    found = build_arrangement(read(document))
    # pi a b; half of it; along a cubic by Green's theorem, each a cross of two poles:
    # (6 c01 + 3 c02 + c03 + 3 c12 + 3 c13 + 6 c23) / 20
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = poles
    cross = [
        (6, x0 * y1 - y0 * x1), (3, x0 * y2 - y0 * x2), (1, x0 * y3 - y0 * x3),
        (3, x1 * y2 - y1 * x2), (3, x1 * y3 - y1 * x3), (6, x2 * y3 - y2 * x3),
    ]  # fmt: skip
    curve = sum(k * c for k, c in cross) / 20
    under = abs(curve + (x3 * y0 - y3 * x0) / 2)
    wanted = [math.pi * 500 * 0.4, math.pi * 30 * 15 / 2, under]
    assert sorted(found.area[1:]) == pytest.approx(sorted(wanted), rel=1e-6)


def test_paper_space_by_choice():
    document, model = drawing()
    model.add_line((0, 0), (1000, 0))
    paper = document.layout("Layout1")
    paper.add_line((0, 0), (50, 20))
    paper.add_viewport(
        center=(100, 100), size=(80, 60), view_center_point=(500, 0), view_height=600
    )
    assert read(document).frame.width == 1000
    work = read(document, layout="layout1")
    # 1 : 10, cut at the window: 80 of 100 mm are seen
    lengths = sorted(work.curves.lengths().tolist())
    assert lengths == pytest.approx([math.hypot(50, 20), 80.0])
    with pytest.raises(ReadError, match="no layout “plan”"):
        read(document, layout="plan")
    svg = b'<svg width="9mm" height="9mm"><path d="M1 1h6v6z" stroke="red"/></svg>'
    with pytest.raises(ReadError, match="no DXF"):
        read_linework(svg, layout="Layout1")


def test_layers_frozen_in_one_window_are_not_seen_there():
    document, model = drawing()
    layer = document.layers.add("Grid")
    model.add_line((0, 0), (10, 0), dxfattribs={"layer": "Grid"})
    model.add_line((0, 0), (0, 10))
    paper = document.layout("Layout1")
    for x in (20, 60):
        window = paper.add_viewport((x, 20), (30, 30), (5, 5), 30)
        if x == 60:
            window.frozen_layers = [layer.dxf.name]
    work = read(document, layout="Layout1")
    assert {g.layer: g.count for g in work.groups} == {"Grid": 1, "0": 2}


@pytest.mark.parametrize("flags", [0, 16 | 256, 64 | 1024, 32 | 512, 2 | 64])
@pytest.mark.parametrize("closed", [False, True])
def test_multiple_lines_are_those_of_ezdxf(flags, closed):
    document, model = drawing()
    style = document.mline_styles.new("Four")
    style.dxf.flags = flags
    for offset in (-2, -0.5, 0.7, 2):
        style.elements.append(offset)
    points = [(0, 0), (20, 0), (30, 15), (5, 30)]
    way = {"style_name": "Four", "scale_factor": 1.5}
    line = model.add_mline(points, close=closed, dxfattribs=way)
    true = sum(
        part.dxf.start.distance(part.dxf.end)
        if part.dxftype() == "LINE"
        else math.pi * part.dxf.radius
        for part in line.virtual_entities()
    )
    work = read(document)
    assert work.curves.lengths().sum() == pytest.approx(true)
    assert work.closed.any() == closed


@pytest.mark.reference("DXF reference, MLINE: the values of code 41")
def test_multiple_lines_stop_and_go_on():
    # 2 mm beside the corner, begun 1 mm on, from there drawn to 3 and from 5 on
    data = plain(
        "0\nMLINE\n8\n0\n2\nS\n71\n1\n72\n2\n73\n1\n"
        "11\n0\n21\n0\n12\n1\n22\n0\n13\n0\n23\n1\n"
        "74\n4\n41\n2\n41\n1\n41\n3\n41\n5\n75\n0\n"
        "11\n10\n21\n0\n12\n1\n22\n0\n13\n0\n23\n1\n74\n1\n41\n2\n75\n0\n" + ONE
    )
    work = read_linework(data, name="cut.dxf")
    assert in_source(work)[0][:2].tolist() == [[1.0, 2.0], [6.0, 2.0]]
    assert in_source(work)[1][:2].tolist() == [[4.0, 2.0], [10.0, 2.0]]


def test_cut_blocks_end_at_their_outline():
    document, model = drawing()
    block = document.blocks.new("Grid", base_point=(1, 2))
    ends = [((k, -10), (k, 10)) for k in range(-10, 11)]
    ends += [((-10, k), (10, k)) for k in range(-10, 11)]
    for p, q in ends:
        block.add_line(p, q)
    way = {"xscale": 2, "yscale": -1, "rotation": 20}
    placed = model.add_blockref("Grid", (50, 40), dxfattribs=way)
    corners = [(-3.5, -3.5), (6.5, -3.5), (2, 5.5)]
    XClip(placed).set_block_clipping_path(corners)
    work = read(document)
    matrix = placed.matrix44()
    true = 0.0
    for part in shapely.intersection(
        shapely.linestrings(ends), shapely.Polygon(corners)
    ):
        if not part.is_empty:
            p, q = (matrix.transform(Vec3(*xy)) for xy in part.coords)
            true += p.distance(q)
    # the outline, which nobody drew, closes the cells that it cuts
    rim = [matrix.transform(Vec3(*xy)) for xy in (*corners, corners[0])]
    true += sum(p.distance(q) for p, q in pairwise(rim))
    assert work.curves.lengths().sum() == pytest.approx(true)
    assert "clip edges" in [note.type for note in work.notes]
    # by the map that the file states the outline stands elsewhere: 5 to the right
    (cut,) = document.objects.query("SPATIAL_FILTER")
    cut.set_inverse_insert_matrix(Matrix44.translate(5, 0, 0))
    cut.set_transform_matrix(Matrix44.translate(5, 0, 0))
    assert read(document).curves.lengths().sum() == pytest.approx(true)


def test_text_and_dimensions_are_told():
    document, model = drawing()
    model.add_line((0, 0), (10, 10))
    model.add_text("north")
    model.add_mtext("south")
    model.add_point((3, 3))
    model.add_xline((0, 0), (1, 0))
    work = read(document)
    (note,) = [n.text for n in work.notes if n.type == "not line work"]
    assert "2 text" in note
    assert "1 point" in note
    assert "1 endless line" in note


def test_far_drawings_lose_nothing():
    # 6,000 km from the origin, as in maps; a 1 mm step stays one
    document, model = drawing(units=6)
    x, y = 3_500_000.0, 6_000_000.0
    model.add_line((x, y), (x + 0.001, y))
    model.add_line((x, y), (x, y + 0.5))
    work = read(document)
    assert work.curves.lengths() == pytest.approx([1.0, 500.0], abs=1e-3)


LINE_TEXT = "0\nLINE\n8\n0\n10\n{}\n20\n{}\n11\n{}\n21\n{}\n"


def plain(entities, blocks=""):
    return (
        f"0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n0\nSECTION\n2\nENTITIES\n"
        f"{entities}0\nENDSEC\n0\nEOF\n"
    ).encode()


def block(name, inside):
    return f"0\nBLOCK\n2\n{name}\n10\n0\n20\n0\n{inside}0\nENDBLK\n"


def insert(name, x=0, more=""):
    return f"0\nINSERT\n8\n0\n2\n{name}\n10\n{x}\n20\n0\n{more}"


ONE = LINE_TEXT.format(0, 0, 1, 1)
CORNER = (0, 0), (3, 0), (0, 4)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_numbers_beyond_all_sense_are_left_out(count):
    # of two the middle is no number
    wild = LINE_TEXT.format("1e308", "-1e308", 0, 0) * count
    work = read_linework(plain(wild + LINE_TEXT.format(0, 0, 3, 4)), name="wild.dxf")
    assert work.curves.lengths().tolist() == [5.0]


def test_blocks_that_hold_themselves_are_told():
    work = read_linework(
        plain(insert("A"), block("A", ONE + insert("B")) + block("B", insert("A"))),
        name="cycle.dxf",
    )
    assert work.stroke_count == 1
    assert any("holds itself" in n.text for n in work.notes)


@pytest.mark.parametrize(
    "data",
    [
        plain(insert("A", 0, "70\n32767\n71\n32767\n44\n1\n45\n1\n"), block("A", ONE)),
        plain(
            insert("B0"),
            "".join(
                block(f"B{i}", insert(f"B{i + 1}") + insert(f"B{i + 1}", 1))
                for i in range(60)
            )
            + block("B60", ONE),
        ),
        plain(
            insert("B0"),
            "".join(block(f"B{i}", insert(f"B{i + 1}")) for i in range(900))
            + block("B900", ONE),
        ),
        plain(ONE)[:40],
        plain(ONE).replace(b"\n11\n", b"\nzz\n"),
        plain(LINE_TEXT.format("nan", 0, "inf", 1)),
        plain(""),
        b"AutoCAD Binary DXF\r\n\x1a\x00",
        b"AutoCAD Binary DXF\r\n\x1a\x00\x00\x00SECTION\x00\x02\x00ENT",
    ],
    ids=["array", "doubling", "deep", "cut", "code", "nan", "empty", "start", "binary"],
)
def test_hostile_files_are_refused_in_one_line(data):
    with pytest.raises(FillworkError) as caught:
        read_linework(data, name="hostile.dxf")
    assert "hostile.dxf" in str(caught.value)
    assert len(str(caught.value).splitlines()) <= 2


def test_wrong_numbers_are_left_out_and_told():
    bad = LINE_TEXT.format("nan", 0, 1, "inf") + LINE_TEXT.format("abc", 0, 1, 1)
    work = read_linework(plain(bad + ONE), name="bad.dxf")
    assert work.stroke_count == 1
    assert len([n for n in work.notes if "wrong number" in n.text]) == 1


def test_entities_without_their_numbers_are_left_out():
    kinds = (
        "LINE ARC CIRCLE ELLIPSE LWPOLYLINE POLYLINE SPLINE SOLID TRACE 3DFACE "
        "HATCH INSERT VIEWPORT MLINE"
    )
    empty = "".join(f"0\n{kind}\n8\n0\n" for kind in re.findall(r"\w+", kinds))
    work = read_linework(plain(empty + ONE), name="empty.dxf", scope="both")
    assert work.stroke_count == 1


def test_a_polyline_ends_where_another_entity_begins():
    vertices = "".join(f"0\nVERTEX\n8\n0\n10\n{x}\n20\n{y}\n" for x, y in CORNER)
    bare = "0\nPOLYLINE\n8\n0\n66\n1\n70\n1\n" + vertices
    blocks = block("A", bare) + block("B", ONE)
    entities = bare + ONE + bare + insert("A", 5) + insert("B", 9) + bare
    work = read_linework(plain(entities, blocks), name="bare.dxf")
    assert sorted(np.diff(work.stroke_start)) == [1, 1, 3, 3, 3, 3]


def test_many_placed_blocks_cost_arrays():
    many = "".join(insert("A", 2 * i) for i in range(20_000))
    work = read_linework(plain(many, block("A", ONE)), name="many.dxf")
    assert work.stroke_count == 20_000
    assert work.frame.width == pytest.approx(2 * 19_999 + 1)


def test_mutated_files_end_in_words():
    document, model = drawing()
    r = random.Random(7)
    b = document.blocks.new("B")
    for _ in range(5):
        _random_entity(r, b, [])
        _random_entity(r, model, ["B"])
    model.add_open_spline([(0, 0), (5, 5), (9, 0), (12, 3)])
    for binary in (False, True):
        data = to_bytes(document, binary)
        at = data.index(b"ENTITIES") if not binary else 0
        for _ in range(60):
            wrong = bytearray(data)
            for _ in range(r.randrange(1, 6)):
                wrong[r.randrange(at, len(wrong))] = r.randrange(256)
            with contextlib.suppress(ReadError, LineWorkError):
                read_linework(bytes(wrong), name="wrong.dxf")


def test_commands_take_dxf_and_keep_the_layout(tmp_path):
    import tomllib

    from click.testing import CliRunner

    from fillwork.cli.main import main

    document, model = drawing()
    for k in range(4):
        model.add_line((0, 10 * k), (30, 10 * k))
        model.add_line((10 * k, 0), (10 * k, 30))
    document.layout("Layout1").add_circle((0, 0), 20)
    data = to_bytes(document)
    run = CliRunner().invoke(main, ["survey", "-", "--quiet"], input=data)
    assert run.exit_code == 0, run.output
    assert "regions   9" in run.output
    (tmp_path / "grid.svg").write_bytes(data)  # told by content, not by its name
    out = tmp_path / "out"
    command = ["colour", str(tmp_path / "grid.svg"), "--layout", "Layout1"]
    run = CliRunner().invoke(main, [*command, "--out", str(out), "--quiet"])
    assert run.exit_code == 0, run.output
    plan = tomllib.loads((out / "plan.toml").read_text())
    assert plan["lines"]["layout"] == "Layout1"


def test_runs_are_read_as_their_entities_one_by_one():
    # like lines and placed blocks, some of them wrong, tilted, hidden or of no length
    r = random.Random(3)

    def entity(kind, k):
        numbers = "".join(
            f"{c}\n{r.uniform(-9, 9)!r}\n"
            for c in (10, 20, 11, 21, 41, 42, 50)[: 4 + k]
        )
        return f"0\n{kind}\n5\n{k + 16:X}\n8\nL{k % 2}\n62\n{k % 3}\n{numbers}"

    parts = [entity("LINE", 0) for _ in range(3)] + [entity("INSERT", 3) + "2\nA\n"] * 3
    parts += [entity("LINE", 0) + f"60\n{k % 2}\n" for k in range(4)]
    parts += [entity("INSERT", k % 2) + "2\nA\n" for k in range(4)]
    parts += [entity("INSERT", 3) + f"2\nA\n230\n{z}\n" for z in (1, -1, 1)]
    parts += [
        entity("LINE", 0).replace("62\n0", w) for w in ("62\n0", "62\nx", "62\n1")
    ]
    parts += [LINE_TEXT.format(x, 0, 1, 0) for x in (0, 1, 2, "nan")] + [ONE] * 2
    apart = "".join(p + "0\nPOINT\n8\n0\n" for p in parts)
    one, other = (
        read_linework(plain(text, block("A", ONE + ONE)), name="runs.dxf")
        for text in ("".join(parts), apart)
    )
    assert one.stroke_count > len(parts)
    order = np.lexsort(one.curves.data.T), np.lexsort(other.curves.data.T)
    assert (one.curves.data[order[0]] == other.curves.data[order[1]]).all()
    assert {(g.layer, g.colour, g.count) for g in one.groups} == {
        (g.layer, g.colour, g.count) for g in other.groups
    }
    wrong = [[n.text for n in w.notes if "wrong" in n.text] for w in (one, other)]
    assert [t.split(": ")[1] for t in wrong[0]] == [t.split(": ")[1] for t in wrong[1]]


def test_what_does_not_plot_is_left_out_and_told():
    # DXF reference, LAYER, code 290: 0 is not plotted; the layer of the points of
    # dimensions never is (common practice, no source), in the table or not
    document, model = drawing()
    document.layers.add("Aid").dxf.plot = 0
    model.add_circle((0, 0), 10)
    model.add_line((0, 0), (10, 0), dxfattribs={"layer": "Aid"})
    model.add_line((0, 0), (0, 10), dxfattribs={"layer": "Defpoints"})
    for table in (True, False):
        if not table and "Defpoints" in document.layers:
            document.layers.remove("Defpoints")
        work = read(document)
        assert {g.layer: g.count for g in work.groups} == {"0": 1}
        told = [n.text for n in work.notes if n.type == "hidden layer"]
        assert [("“Aid”" in t, "“Defpoints”" in t) for t in sorted(told)] == [
            (True, False),
            (False, True),
        ]
    assert read(document, lines=("layer=Defpoints",)).stroke_count == 1
    model.delete_entity(model[0])
    with pytest.raises(LineWorkError, match="off, frozen or not plotted: Aid, Defp"):
        read(document)
