import io
import math
import re

import numpy as np
import pypdfium2
import pytest
from lxml import etree
from PIL import Image

from fillwork.arrangement.model import Outlines
from fillwork.errors import RenderError
from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves
from fillwork.renderers.coloured import compose_coloured
from fillwork.renderers.encoders.pathtext import decimals_for
from fillwork.renderers.encoders.pdf import to_pdf
from fillwork.renderers.encoders.png import to_png
from fillwork.renderers.encoders.svg import to_svg
from fillwork.renderers.scene import Fills, Labels, Scene, Text, segments
from tests.unit.renderers.patterns import (
    colouring_of,
    kinds_by_area,
    outlines_of,
    star_pattern,
)

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def coloured() -> Scene:
    drawing = star_pattern()
    kinds = kinds_by_area(drawing)
    return compose_coloured(
        drawing, outlines_of(drawing), kinds, colouring_of(kinds, 3, 0), title="Stars"
    )


def one_shape(kind, data) -> Outlines:
    table = Curves(np.array(kind, np.uint8), np.array(data, float))
    return Outlines(table, np.array([0, len(table)]), np.array([0, 1]))


def path_of(shape: Outlines, size: float = 100.0) -> str:
    scene = Scene(size, size, (Fills(shape, np.array([0]), "#112233"),))
    tree = etree.fromstring(to_svg(scene))
    return next(tree.iter(f"{SVG}path")).get("d")


def centre_of_arc(p0, rx, ry, turn, large, sweep, p1):
    """SVG 2, appendix B.2.4, conversion from end points to centre."""
    phi = math.radians(turn)
    cos, sin = math.cos(phi), math.sin(phi)
    dx, dy = (p0[0] - p1[0]) / 2, (p0[1] - p1[1]) / 2
    x, y = cos * dx + sin * dy, -sin * dx + cos * dy
    grow = math.sqrt(max(1.0, (x / rx) ** 2 + (y / ry) ** 2))
    rx, ry = rx * grow, ry * grow
    under = rx**2 * ry**2 - rx**2 * y**2 - ry**2 * x**2
    k = math.sqrt(max(0.0, under / (rx**2 * y**2 + ry**2 * x**2)))
    k = -k if large == sweep else k
    cx, cy = k * rx * y / ry, -k * ry * x / rx
    mx, my = (p0[0] + p1[0]) / 2, (p0[1] + p1[1]) / 2
    return (cos * cx - sin * cy + mx, sin * cx + cos * cy + my), rx, ry


@pytest.mark.parametrize("sweep", [0.3, -1.0, 2.0, 3.1, math.pi, 3.3, -4.0, 6.0])
@pytest.mark.parametrize("squeeze", [1.0, 0.37])
def test_arcs_keep_to_a_millionth_of_the_drawing(sweep, squeeze):
    u, v = np.array([20.0, 7.0]), squeeze * np.array([-7.0, 20.0])
    v = v + (1 - squeeze) * 0.3 * u
    centre = np.array([50.0, 50.0])
    s0 = 0.7
    start = centre + u * math.cos(s0) + v * math.sin(s0)
    end = centre + u * math.cos(s0 + sweep) + v * math.sin(s0 + sweep)
    shape = one_shape(
        [ARC, LINE], [[*centre, *u, *v, s0, s0 + sweep], [*end, *start, 0, 0, 0, 0]]
    )
    d = path_of(shape)
    pen = np.array([float(t) for t in re.match(r"M(\S+) ([\d.]+)", d).groups()])
    m = np.stack([u, v], axis=1)
    for piece in re.findall(r"A([^A-Z]+)", d):
        rx, ry, turn, large, way, x, y = (float(t) for t in piece.split())
        c, rx, ry = centre_of_arc(pen, rx, ry, turn, large, way, (x, y))
        assert np.hypot(c[0] - 50.0, c[1] - 50.0) < 1e-4
        # points of the written ellipse satisfy the true one's equation
        t = np.linspace(0, 2 * np.pi, 50)
        a = math.radians(turn)
        px = c[0] + rx * np.cos(t) * math.cos(a) - ry * np.sin(t) * math.sin(a)
        py = c[1] + rx * np.cos(t) * math.sin(a) + ry * np.sin(t) * math.cos(a)
        true = np.linalg.solve(m, np.stack([px, 100 - py]) - 50.0)
        assert np.abs(np.linalg.norm(true, axis=0) - 1).max() < 1e-5
        pen = np.array([x, y])
    assert np.allclose(pen, [end[0], 100 - end[1]], atol=1e-5)


def test_arcs_that_begin_beside_the_end_of_the_last_keep_their_centres():
    # two arches whose feet were joined: the second begins 0.4 mm above the first's end
    middles, r = [(40.0, 50.0), (60.0, 50.0)], 10.0
    sweeps = [(math.pi, 0.06), (math.pi - 0.1, 0.0)]
    rows = [[x, y, r, 0, 0, r, *s] for (x, y), s in zip(middles, sweeps, strict=True)]
    d = path_of(one_shape([ARC, ARC, LINE], [*rows, [70, 50, 30, 50, 0, 0, 0, 0]]))
    pen, found = None, []
    for command, values in re.findall(r"([MLA])([^A-Z]+)", d):
        numbers = [float(t) for t in values.split()]
        if command == "A":
            found.append(centre_of_arc(pen, *numbers[:5], numbers[5:])[0])
        pen = np.array(numbers[-2:])
    near = [min(np.hypot(*np.subtract(c, m)) for m in middles) for c in found]
    assert len(found) >= 2
    assert max(near) < 1e-3
    # nothing is added where pieces meet
    meeting = [rows[0], [60, 50, r, 0, 0, r, math.pi, 0]]
    meeting[0][7] = 0.0
    shape = one_shape([ARC, ARC, LINE], [*meeting, [70, 50, 30, 50, 0, 0, 0, 0]])
    assert "L" not in path_of(shape)


def test_full_circle_is_two_arcs_and_half_circle_one():
    full = one_shape([ARC], [[50, 50, 30, 0, 0, 30, 0, 2 * np.pi]])
    assert path_of(full).count("A") == 2
    half = one_shape(
        [ARC, LINE],
        [[50, 50, 30, 0, 0, 30, 0, np.pi], [20, 50, 80, 50, 0, 0, 0, 0]],
    )
    assert path_of(half).count("A") == 1


def test_cubics_stay_cubics():
    shape = one_shape(
        [CUBIC, LINE],
        [[10, 10, 20, 40, 60, 40, 70, 10], [70, 10, 10, 10, 0, 0, 0, 0]],
    )
    assert path_of(shape) == "M10 90C20 60 60 60 70 90Z"


def test_groups_and_kinds(coloured):
    tree = etree.fromstring(to_svg(coloured))
    assert tree.get("width") == "176mm"
    assert tree.get("viewBox") == "0 0 176 136"
    groups = [g for g in tree.iter(f"{SVG}g") if g.get("data-swatch")]
    assert [g.get("data-swatch") for g in groups] == ["Chalk", "Night", "Straw"]
    kinds = [p.get("data-kind") for g in groups for p in g]
    assert len(kinds) == 128
    assert set(kinds) == {"A", "B", "C"}
    last = list(tree.iter(f"{SVG}g"))[-1]
    assert last.get("data-layer") == "outlines"


def test_same_scene_gives_the_same_bytes(coloured):
    assert to_svg(coloured) == to_svg(coloured)
    assert to_png(coloured, 300) == to_png(coloured, 300)


def test_words_are_escaped():
    scene = Scene(
        50,
        20,
        (
            Text((5, 5), 'a<b & "c"'),
            Labels(np.array([[9.0, 9.0]]), np.ones(1), np.zeros(1, int), ("<",)),
        ),
        title="<&>",
    )
    tree = etree.fromstring(to_svg(scene))
    assert tree.find(f"{SVG}title").text == "<&>"


def test_what_no_xml_can_hold_is_replaced():
    # XML 1.0, section 2.2: no controls but tab and line ends, no surrogates, no U+FFFE
    line = segments([[1, 1, 9, 9]], 0.2, layer="ink\x07\ufffe")
    scene = Scene(10, 10, (line,), title="bell \x07\ud800 \U0001f3a8")
    tree = etree.fromstring(to_svg(scene))
    assert tree.find(f"{SVG}title").text == "bell \ufffd\ufffd \U0001f3a8"
    assert tree.find(f"{SVG}g").get("id") == "ink\ufffd\ufffd"


def test_png_has_no_seams_and_true_colours(coloured):
    drawing = star_pattern(shift=(3.1, 7.7))
    fills = [
        Fills(outlines_of(drawing), np.array([f]), "#102030")
        for f in range(1, 150)
        if f < drawing.face_count
    ]
    scene = Scene(160, 120, tuple(fills), paper="#ffffff")
    pixels = np.array(Image.open(io.BytesIO(to_png(scene, 333))))
    assert (pixels == (0x10, 0x20, 0x30)).all()
    picture = Image.open(io.BytesIO(to_png(coloured, 704)))
    assert picture.size == (704, 544)
    # centre of the first star, 8 + 20 mm from the lower left
    assert picture.getpixel((4 * 28, 544 - 4 * 28))[:3] == (0x1F, 0x4E, 0x79)
    assert picture.info["dpi"][0] == pytest.approx(704 / 176 * 25.4, abs=0.02)


def test_a_page_too_small_to_state_its_resolution_is_drawn():
    # 2^31 - 1 pixels a metre are the most that a file holds (PNG, section 7.1)
    for width, known in ((400 / (2**31 - 1) * 1000 * 1.01, True), (1e-9, False)):
        scene = Scene(width, width, (), paper="#ffffff")
        picture = Image.open(io.BytesIO(to_png(scene, 400)))
        assert picture.size == (400, 400)
        assert ("dpi" in picture.info) is known


@pytest.mark.parametrize(
    ("side", "fits"), [(5080, True), (5081, False), (1.06, True), (1.05, False)]
)
def test_pages_that_no_pdf_can_have_are_refused_in_words(side, fits):
    # 3 to 14 400 units of 1/72 inch (ISO 32000-1:2008, annex C.2)
    page = Scene(100, side, (), paper="#ffffff")
    if fits:
        assert to_pdf([page], title="page").startswith(b"%PDF-")
    else:
        with pytest.raises(RenderError, match="none of a PDF"):
            to_pdf([page], title="page")


def test_lines_beyond_a_picture_leave_it_empty():
    beyond = segments(np.array([[90.0, 90.0, 95.0, 90.0]]), 2.0)
    pixels = np.array(Image.open(io.BytesIO(to_png(Scene(40, 30, (beyond,)), 400))))
    assert (pixels == pixels[0, 0]).all()


def test_line_width_in_pixels():
    scene = Scene(
        20, 20, (segments([[0, 10, 20, 10]], 2.0, "#000000"),), paper="#ffffff"
    )
    picture = np.array(Image.open(io.BytesIO(to_png(scene, 400))).convert("L"))
    ink = (255 - picture[:, 200].astype(float)).sum() / 255
    assert ink == pytest.approx(40, abs=0.6)


@pytest.mark.parametrize("width", [0, -3, 10_000_000])
def test_picture_without_or_beyond_size_is_refused(coloured, width):
    with pytest.raises(RenderError):
        to_png(coloured, width)


@pytest.mark.parametrize("size", [0.02, 0.5, 1.0, 9.9, 10.0, 297.0, 9999.0])
def test_decimals_keep_a_ten_millionth_of_the_size_and_no_more(size):
    step = 10.0 ** -decimals_for(size)
    assert step <= 1e-7 * size * (1 + 1e-9) or step == 1e-9
    assert 10 * step > 1e-7 * size


def test_numbers_of_a_pdf_are_centred_on_their_points():
    labels = Labels(
        np.array([[30.0, 40.0], [70.0, 40.0], [50.0, 15.0]]),
        np.array([12.0, 6.0, 9.0]),
        np.array([0, 1, 0], np.int32),
        ("14", "7"),
        "#000000",
    )
    scene = Scene(100, 60, (labels,), paper="#ffffff")
    document = pypdfium2.PdfDocument(to_pdf((scene,), title="x"))
    ink = np.array(document[0].render(scale=720 / 72).to_pil().convert("L")) < 128
    for (x, y), high in zip(labels.at, labels.height, strict=True):
        k = 720 / 25.4
        left, top = int((x - high) * k), int((60 - y - high) * k)
        part = ink[top : top + int(2 * high * k), left : left + int(2 * high * k)]
        rows, columns = np.flatnonzero(part.any(axis=1)), np.flatnonzero(part.any(0))
        # the middle of the ink is the point, and its height that of the figures
        assert (columns[0] + columns[-1]) / 2 == pytest.approx(high * k, abs=3)
        assert (rows[0] + rows[-1]) / 2 == pytest.approx(high * k, abs=3)
        assert np.ptp(rows) == pytest.approx(high * k, rel=0.03)
