"""Outlines written as DXF, read back by ezdxf, an independent reader."""

import io
import itertools
from itertools import pairwise

import ezdxf
import ezdxf.path
import numpy as np
import pytest
import shapely
from ezdxf.lldxf.encoding import decode_dxf_unicode

from fillwork import colour_drawing, read_linework
from fillwork.plans.model import Plan, SheetSettings
from fillwork.renderers.encoders.dxf import to_dxf
from fillwork.renderers.scene import Scene, circle_lines, polygon_shape

# a ring, an ellipse with a chord, a leaf of two Béziers
DRAWING = b"""<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="60mm"
viewBox="0 0 120 60"><g fill="none" stroke="black" stroke-width="0.3">
<circle cx="30" cy="30" r="20"/><circle cx="30" cy="30" r="10"/>
<path d="M30 10 V20 M30 40 V50"/>
<ellipse cx="70" cy="30" rx="15" ry="8"/><path d="M55 30 H85"/>
<path d="M90 30 C95 10 110 10 115 30 C110 50 95 50 90 30 Z"/></g></svg>"""

# half the leaf: 60 t (1 - t) high, dx = 3 (5 (1 - t)^2 + 30 t (1 - t) + 5 t^2) dt, so
# 180 (5 B(2, 4) + 30 B(3, 3) + 5 B(4, 2)) = 180 (5 / 20 + 30 / 30 + 5 / 20) = 270
LEAF = 540.0


@pytest.fixture(scope="module")
def done():
    plan = Plan(sheets=SheetSettings(sheets=("masks",)), symmetry=((0, "none"),))
    return colour_drawing(DRAWING, plan, name="rings.svg")


def read(data):
    document = ezdxf.read(io.StringIO(data.decode("cp1252")))
    auditor = document.audit()
    assert not auditor.errors
    assert not auditor.fixes
    return document


def test_one_unit_is_one_millimetre(done):
    # DXF reference, HEADER: $INSUNITS 4 is millimetres, $MEASUREMENT 1 is metric
    document = read(done.dxf())
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1


def polygon(entity):
    path = ezdxf.path.make_path(entity)
    if entity.dxftype() == "SPLINE":
        points = list(entity.construction_tool().approximate(4000))
    else:
        points = []
        for part in entity.virtual_entities():
            some = (
                [part.dxf.start, part.dxf.end]
                if part.dxftype() == "LINE"
                else list(part.flattening(1e-4))
            )
            # arcs that run clockwise come out turned round
            if points and points[-1].distance(some[0]) > 1e-6:
                some.reverse()
                if points[-1].distance(some[0]) > 1e-6:
                    points.reverse()
            points += some
    assert path.is_closed
    return shapely.Polygon([(p.x, p.y) for p in points])


def test_the_regions_come_back_with_their_areas(done):
    document = read(done.dxf())
    assert document.units == ezdxf.units.MM
    found = []
    for entity in document.modelspace():
        assert entity.closed
        found.append(shapely.area(polygon(entity)))
    # each region has one outline: the two half rings, the disc, two half ellipses,
    # and the leaf
    half = np.pi * (400 - 100) / 2
    true = [half, half, np.pi * 100, np.pi * 60, np.pi * 60, LEAF]
    assert sorted(found) == pytest.approx(sorted(true), rel=1e-4)


def test_one_layer_a_paint(done):
    document = read(done.dxf())
    layers = {entity.dxf.layer for entity in document.modelspace()}
    used = {done.palette.swatches[k] for k in done.colouring.of_face[1:].tolist()}
    assert layers == {f"{s.code} {s.name}" for s in used}


def test_circles_stay_arcs_and_the_rest_splines(done):
    kinds = [e.dxftype() for e in read(done.dxf()).modelspace()]
    assert kinds.count("LWPOLYLINE") == 3
    assert kinds.count("SPLINE") == 3


def test_it_is_read_back_with_the_same_lines(done):
    again = read_linework(done.dxf(), name="coloured.dxf")
    assert again.frame.scale_known
    assert again.frame.width == pytest.approx(105, abs=1e-3)
    assert again.frame.height == pytest.approx(40, abs=1e-3)


def test_masks_keep_cut_lines_apart_from_marks(done):
    files = done.files(dxf=True)
    names = [name for name in files if name.startswith("mask") and ".dxf" in name]
    assert len(names) == len([n for n in files if n.startswith("mask")]) / 2
    total = 0.0
    for name in names:
        opening = shapely.Polygon()
        for entity in read(files[name]).modelspace():
            if entity.dxf.layer == "outlines":
                opening = opening.symmetric_difference(polygon(entity))
            else:
                assert entity.dxf.layer in {"marks", "islands", "bridges"}
        total += opening.area
    # openings of all masks together are all regions, holes left out
    assert total == pytest.approx(np.pi * (400 + 120) + LEAF, rel=1e-4)


def test_the_same_scene_gives_the_same_bytes(done):
    assert done.dxf() == done.dxf()
    assert b"nan" not in done.dxf()


def test_splines_count_their_knots_and_points(done):
    # DXF reference, SPLINE: 72 and 73 count the knots (40) and the points (10)
    lines = done.dxf().decode("cp1252").split("\r\n" if b"\r\n" in done.dxf() else "\n")
    tags = list(zip(map(str.strip, lines[0::2]), lines[1::2], strict=False))
    starts = [k for k, (code, _) in enumerate(tags) if code == "0"]
    found = 0
    for a, b in pairwise(starts):
        entity = tags[a:b]
        if entity[0][1] != "SPLINE":
            continue
        found += 1
        count = {c: int(v) for c, v in entity if c in ("71", "72", "73")}
        knots = sum(c == "40" for c, _ in entity)
        points = sum(c == "10" for c, _ in entity)
        assert (count["72"], count["73"]) == (knots, points)
        # a spline of degree d has d + 1 knots more than points
        assert knots == points + count["71"] + 1
    assert found


def test_whole_circles_count_their_two_corners():
    # DXF reference, LWPOLYLINE: 90 counts the corners (10), each with its bulge (42),
    # the tangent of a quarter of the angle that it spans; 1 for half a turn
    line = circle_lines([(10, 10), (30, 10)], [4.0, 5.0], 0.2)
    text = to_dxf(Scene(40.0, 20.0, (line,))).decode("cp1252").splitlines()
    tags = list(zip(map(str.strip, text[0::2]), text[1::2], strict=True))
    begin = [k for k, tag in enumerate(tags) if tag == ("0", "LWPOLYLINE")]
    assert len(begin) == 2
    for k in begin:
        entity = list(itertools.takewhile(lambda tag: tag[0] != "0", tags[k + 1 :]))
        assert [v for c, v in entity if c == "90"] == ["2"]
        assert sum(c == "10" for c, _ in entity) == 2
        bulges = [float(v) for c, v in entity if c == "42"]
        assert bulges == pytest.approx([1.0, 1.0], abs=1e-12)


def test_letters_beyond_four_digits_are_written_as_two():
    # DXF reference: \U+nnnn has four digits; U+1F3A8 is D83C DFA8 in UTF-16 (Unicode
    # Standard 3.9, table 3-5)
    square = polygon_shape([(0, 0), (9, 0), (9, 9)], "#102030", code="3 \U0001f3a8")
    text = to_dxf(Scene(10.0, 10.0, (square,)))
    assert b"3 \\U+D83C\\U+DFA8\n" in text
    _, layer, *_ = read(text).layers
    name = decode_dxf_unicode(layer.dxf.name).encode("utf-16", "surrogatepass")
    assert name.decode("utf-16") == "3 \U0001f3a8"
