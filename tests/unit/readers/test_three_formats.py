"""One pattern written as SVG, DXF and PDF by three writers gives one reading."""

import io
import math

import ezdxf
import numpy as np
import pytest
from reportlab.pdfgen import canvas

from fillwork import make_survey
from fillwork.errors import LineWorkError
from fillwork.readers import read_linework

MM = 72 / 25.4
STEP, COUNT = 20.0, 4
SIZE = STEP * COUNT
RADIUS = 6.0
LEAN = 3.0


def pieces():
    """Lines, circles and arcs of a pattern in mm, y up: p4m, seen without a table."""
    for k in range(COUNT + 1):
        yield "line", (0.0, k * STEP, SIZE, k * STEP)
        yield "line", (k * STEP, 0.0, k * STEP, SIZE)
    for i in range(COUNT):
        for j in range(COUNT):
            x, y = (i + 0.5) * STEP, (j + 0.5) * STEP
            yield "circle", (x, y, RADIUS)
            # quarter circles round the corners of each square
            for k in range(4):
                cx, cy = ((0, 0), (1, 0), (1, 1), (0, 1))[k]
                yield "arc", ((i + cx) * STEP, (j + cy) * STEP, LEAN, 90.0 * k)


def as_svg():
    parts = []
    for kind, numbers in pieces():
        if kind == "line":
            x0, y0, x1, y1 = numbers
            parts.append(
                f'<line x1="{x0}" y1="{SIZE - y0}" x2="{x1}" y2="{SIZE - y1}"/>'
            )
        elif kind == "circle":
            x, y, r = numbers
            parts.append(f'<circle cx="{x}" cy="{SIZE - y}" r="{r}"/>')
        else:
            x, y, r, first = numbers
            (ax, ay), (bx, by) = (
                (x + r * round(math.cos(a)), y + r * round(math.sin(a)))
                for a in (math.radians(first), math.radians(first + 90))
            )
            parts.append(
                f'<path d="M{ax} {SIZE - ay}A{r} {r} 0 0 0 {bx} {SIZE - by}"/>'
            )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{SIZE}mm" height="{SIZE}mm" '
        f'viewBox="0 0 {SIZE} {SIZE}"><g fill="none" stroke="black" '
        f'stroke-width="0.2">{"".join(parts)}</g></svg>'
    ).encode()


def as_dxf():
    document = ezdxf.new("R2010", units=4)
    model = document.modelspace()
    circle = document.blocks.new("ROUND")
    circle.add_circle((0, 0), 1)
    for kind, numbers in pieces():
        if kind == "line":
            model.add_line(numbers[:2], numbers[2:])
        elif kind == "circle":
            scale = {"xscale": RADIUS, "yscale": -RADIUS}
            model.add_blockref("ROUND", numbers[:2], dxfattribs=scale)
        else:
            x, y, r, first = numbers
            model.add_arc((x, y), r, first, first + 90)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def as_pdf():
    stream = io.BytesIO()
    made = canvas.Canvas(stream, pagesize=(SIZE * MM, SIZE * MM))
    made.setLineWidth(0.2 * MM)
    made.scale(MM, MM)
    made.setLineWidth(0.2)
    for kind, numbers in pieces():
        if kind == "line":
            made.line(*numbers)
        elif kind == "circle":
            made.circle(*numbers)
        else:
            x, y, r, first = numbers
            made.arc(x - r, y - r, x + r, y + r, first, 90)
    made.save()
    return stream.getvalue()


@pytest.fixture(scope="module")
def surveys():
    return {
        "svg": make_survey(as_svg(), name="a.svg"),
        "dxf": make_survey(as_dxf(), name="a.dxf"),
        "pdf": make_survey(as_pdf(), name="a.pdf"),
    }


@pytest.mark.parametrize("form", ["svg", "dxf", "pdf"])
def test_regions_and_areas_are_those_of_the_construction(surveys, form):
    areas = np.sort(surveys[form].arrangement.area[1:])
    quarter, disc = math.pi * LEAN**2 / 4, math.pi * RADIUS**2
    squares = COUNT * COUNT
    true = [*[quarter] * 4 * squares, *[disc] * squares]
    true += [STEP**2 - disc - 4 * quarter] * squares
    # PDF has circles of four Béziers, off by at most 2.8e-4 of the radius
    assert areas == pytest.approx(np.sort(true), rel=1e-6 if form != "pdf" else 1e-3)


@pytest.mark.parametrize("form", ["svg", "dxf", "pdf"])
def test_kinds_and_symmetry_agree(surveys, form):
    survey = surveys[form]
    assert [zone.symmetry.group.short for zone in survey.zones] == ["p4m"]
    counts = sorted(len(orbit.faces) for orbit in survey.orbits.orbits)
    assert counts == [16, 16, 64]
    assert survey.scale_known
    assert survey.linework.frame.width == pytest.approx(SIZE)


def test_no_lines_says_what_is_true_of_the_file():
    def refused(drawing: bytes) -> str:
        with pytest.raises(LineWorkError) as caught:
            read_linework(drawing)
        return str(caught.value)

    spline = (
        "0\nSPLINE\n8\n0\n70\n8\n71\n3\n72\n2\n73\n2\n40\n0\n40\n1\n"
        "10\n0\n20\n0\n10\n5\n20\n5\n"
    )
    dxf = "0\nSECTION\n2\nENTITIES\n{}0\nENDSEC\n0\nEOF\n"
    svg = '<svg xmlns="http://www.w3.org/2000/svg">{}</svg>'
    broken = refused(dxf.format(spline).encode())
    assert "not understood: line 5: a spline" in broken
    path = '<path id="bow" d="Q" stroke="#000"/>'
    assert "path#bow in line 1" in refused(svg.format(path).encode())
    mesh = refused(dxf.format("0\nMESH\n8\n0\n").encode())
    assert "only 1 solid" in mesh
    words = refused(svg.format("<text>a</text>").encode())
    nothing = refused(svg.format("").encode())
    # only what holds text or pictures is told to turn them into paths
    told = ["text and pictures" in text for text in (broken, mesh, nothing, words)]
    assert told == [False, False, False, True]
