"""Fills by tiles in PDF: what pdfium shows is what is read, and areas by shapely."""

import io

import numpy as np
import pikepdf
import pypdfium2
import pytest
import shapely
from pikepdf import Array, Dictionary, Name
from PIL import Image, ImageDraw
from scipy.ndimage import binary_dilation, binary_erosion

from fillwork.arrangement import build_arrangement
from fillwork.errors import LineWorkError
from fillwork.readers import read_linework

MM = 25.4 / 72


def _tile(pdf, content, box, steps, **entries):
    paint = entries.pop("paint", 1)
    told = {
        "PatternType": 1, "PaintType": paint, "TilingType": 1, "BBox": Array(box),
        "XStep": steps[0], "YStep": steps[1], "Resources": Dictionary(),
    }  # fmt: skip
    return pdf.make_stream(content, **(told | entries))


def _file(content, tiles, size=(200, 200), forms=()):
    """A page with patterns P0, P1 ... and forms X0 ..., each form with the same."""
    pdf = pikepdf.new()
    sheet = pdf.add_blank_page(page_size=size)
    patterns = Dictionary()
    for k, (args, entries) in enumerate(tiles):
        patterns[f"/P{k}"] = _tile(pdf, *args, **entries)
    spaces = Dictionary(I=Array([Name.Pattern, Name.DeviceRGB]))
    names = Dictionary(Pattern=patterns, ColorSpace=spaces)
    for pattern in patterns.values():
        pattern.Resources = Dictionary(Pattern=patterns, ColorSpace=spaces)
    things = Dictionary()
    for k, (data, matrix) in enumerate(forms):
        things[f"/X{k}"] = pdf.make_stream(
            data, Type=Name.XObject, Subtype=Name.Form, BBox=Array([0, 0, 200, 200]),
            Matrix=Array(matrix), Resources=names,
        )  # fmt: skip
    sheet.Contents = pdf.make_stream(content)
    sheet.obj.Resources = Dictionary(Pattern=patterns, ColorSpace=spaces)
    sheet.obj.Resources.XObject = things
    stream = io.BytesIO()
    pdf.save(stream)
    return stream.getvalue()


def _areas(data):
    arrangement = build_arrangement(read_linework(data, name="tiles.pdf", scope="both"))
    assert not arrangement.defects
    return sorted((np.abs(arrangement.area[1:]) / MM**2).tolist())


FILL = b"/Pattern cs /P0 scn 20 30 150 140 re f"
TURNED = {"Matrix": Array([0.8, 0.6, -0.6, 0.8, 11, 7])}
BOX = b"3 4 9 6 re f"
RING = b"10 10 20 20 re 15 15 10 10 re f*"


@pytest.mark.parametrize(
    ("content", "tiles", "forms"),
    [
        # turned, with its corner off the origin
        (FILL, [((BOX, [1, 2, 21, 17], (20, 15)), TURNED)], ()),
        # a box smaller than its steps cuts what is in it
        (FILL, [((b"0 0 30 8 re f", [2, 2, 16, 12], (24, 18)), TURNED)], ()),
        # a box larger than its steps reaches into the tiles beside
        (FILL, [((b"2 2 30 4 re f", [0, 0, 34, 20], (40, 12)), {})], ()),
        (FILL, [((b"14 8 12 3 re f", [0, 0, 40, 20], (20, 20)), {})], ()),
        # the map in force does not move a pattern; steps may be negative
        (b".7 0 .2 .9 5 5 cm " + FILL, [((RING, [0, 0, 40, 40], (-40, 40)), {})], ()),
        # in one ink that is told where it is used
        (
            b"/I cs 0 0 0 /P0 scn 20 30 150 140 re f",
            [((b"1 1 1 rg " + RING, [0, 0, 40, 40], (40, 40)), {"paint": 2})],
            (),
        ),
        # in a form, the form's units are those around it
        (
            b"/X0 Do",
            [((BOX, [0, 0, 20, 15], (20, 15)), {})],
            [(b"2 0 0 2 0 0 cm " + b"/Pattern cs /P0 scn 10 15 75 70 re f",
              [0.9, 0.3, -0.3, 0.9, 20, 5])],
        ),
    ],
)  # fmt: skip
def test_what_a_renderer_shows_is_what_is_read(content, tiles, forms):
    data = _file(content, tiles, forms=forms)
    work = read_linework(data, name="tiles.pdf", scope="outlines")
    scale = 6
    shown = pypdfium2.PdfDocument(data)[0].render(scale=scale).to_pil().convert("L")
    dark = np.asarray(shown) < 128
    edges = dark & ~binary_erosion(dark, iterations=2, border_value=1)
    assert edges.sum() > 5000
    ours = Image.new("L", shown.size, 255)
    draw = ImageDraw.Draw(ours)
    k = scale / MM
    for x0, y0, x1, y1 in work.curves.flatten(0.01)[0].tolist():
        points = (x0 * k, 1200 - y0 * k, x1 * k, 1200 - y1 * k)
        draw.line(points, fill=0, width=1)
    drawn = np.asarray(ours) < 128
    assert not (edges & ~binary_dilation(drawn, iterations=6)).any()
    # of the shape itself the edge is read too, be it on a figure or on the ground
    rim = ImageDraw.Draw(ours)
    own = binary_dilation(edges, iterations=6)
    alone = drawn & ~own
    if content is FILL:
        rim.rectangle([0, 0, *shown.size], fill=255)
        rim.rectangle((120, 180, 1020, 1020), outline=0, width=1)
        alone &= ~binary_dilation(np.asarray(ours) < 128, iterations=4)
        assert alone.sum() < 1e-3 * drawn.sum()


def test_tiles_make_the_regions_of_their_figures():
    discs = b"0 0 10 10 re f 30 20 10 10 re f"
    data = _file(FILL, [((discs, [0, 0, 40, 30], (40, 30)), {})])
    boxes = [
        shapely.box(x + dx, y + dy, x + dx + 10, y + dy + 10)
        for x in range(0, 200, 40)
        for y in range(0, 200, 30)
        for dx, dy in ((0, 0), (30, 20))
    ]
    shape = shapely.box(20, 30, 170, 170)
    figures = shapely.union_all([box.intersection(shape) for box in boxes])
    # figures that share a side go on over the edges of tiles as one
    parts = [*shapely.get_parts(figures), *shapely.get_parts(shape - figures)]
    expected = sorted(part.area for part in parts if part.area > 1e-9)
    assert _areas(data) == pytest.approx(expected, rel=1e-4)


def test_stroked_tiles_and_the_line_of_their_shape():
    # lines from tile to tile, a square grid, in a stroked square: 5 by 5 cells
    lines = b"0 0 m 20 0 l 0 0 m 0 20 l S"
    content = b"/Pattern cs /P0 scn 40 40 100 100 re B"
    data = _file(content, [((lines, [0, 0, 20, 20], (20, 20)), {})])
    assert _areas(data) == pytest.approx([400.0] * 25, rel=1e-4)


def test_tiles_of_tiles():
    inner = ((b"1 1 3 3 re f", [0, 0, 5, 5], (5, 5)), {})
    outer = ((b"/Pattern cs /P1 scn 0 0 10 10 re f", [0, 0, 20, 20], (20, 20)), {})
    data = _file(b"/Pattern cs /P0 scn 40 40 40 20 re f", [outer, inner])
    areas = _areas(data)
    assert areas[:8] == pytest.approx([9.0] * 8, rel=1e-4)
    colours = {g.colour for g in read_linework(data, name="tiles.pdf").groups}
    assert all(c is None or len(bytes.fromhex(c[1:7])) == 3 for c in colours)


@pytest.mark.parametrize(
    ("tile", "steps", "entries", "word"),
    [
        (b"/Pattern cs /P0 scn 0 0 9 9 re f", (20, 20), {}, "refers to itself"),
        (BOX, (0.01, 0.01), {}, "too many tiles over each other"),
        (BOX, (0, 20), {}, "without its tile's size"),
        (BOX, (20, 20), {"Matrix": Array([1, 1, 1, 1, 0, 0])}, "leaves no area"),
        (BOX, (20, 20), {"Matrix": Array([1e-4, 0, 0, 1e-4, 0, 0])}, "tiles = 20,000"),
        (BOX, (1e300, 1e300), {"Matrix": Array([1e300, 0, 0, 1e300, 0, 0])}, None),
        (b"q " * 9000 + BOX, (20, 20), {"BBox": Array([])}, "without its tile's size"),
    ],
)
def test_tiles_that_are_not_known_are_told_and_leave_the_outline(
    tile, steps, entries, word
):
    data = _file(FILL, [((tile, [0, 0, 20, 20], steps), entries)])
    try:
        work = read_linework(data, name="tiles.pdf")
    except LineWorkError:
        assert word is None
        return
    assert work.closed.sum() >= 1
    if word:
        assert any(word in note.text for note in work.notes)
