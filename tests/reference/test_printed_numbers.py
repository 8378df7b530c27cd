"""Numbers of printed pages, judged from their pixels by PDFium and scipy alone.

A page is rendered whole and without its numbers; what differs is their ink. What is
left white between lines is a region, and the coloured page at the same place tells
which number it should bear.
"""

import io

import numpy as np
import pikepdf
import pypdfium2
import pytest
import shapely
from scipy import ndimage

from fillwork.pipeline.picture import survey_scene
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.model import SheetSettings
from fillwork.renderers.encoders.pdf import to_pdf
from fillwork.renderers.scene import Placed
from fillwork.renderers.sheets.compose import compose_sheets
from fillwork.renderers.sheets.parts import Parts
from tests.unit.renderers.patterns import (
    arrangement_from_polygons,
    colouring_of,
    kinds_by_area,
    outlines_of,
    star_pattern,
)
from tests.unit.renderers.test_pounce import pentagram

DPI = 100
PX = DPI / 25.4


def stars():
    return star_pattern(4, 3, 40.0, (10.0, 10.0))


def strips():
    """Return strips, a frame round a square and round pieces, in a ground."""
    frame = shapely.box(60, 24, 170, 134) - shapely.box(72, 36, 158, 122)
    shapes = [frame, shapely.box(72, 36, 158, 122), shapely.box(6, 6, 174, 14)]
    shapes += [shapely.box(6, 24, 12, 134), shapely.Point(32, 50).buffer(17)]
    shapes += [shapely.Point(32, 100).buffer(20) - shapely.Point(32, 100).buffer(9)]
    ground = shapely.box(0, 0, 180, 140) - shapely.union_all(shapes)
    return arrangement_from_polygons([*shapes, *shapely.get_parts(ground)], 180, 140)


def pages(drawing, *names, swatches=9, **settings):
    kinds = kinds_by_area(drawing)
    colouring = colouring_of(kinds, swatches)
    settings = {"paper": "A5", "fit": "true", **settings}
    scenes = compose_sheets(
        Parts(
            drawing,
            outlines_of(drawing),
            kinds,
            colouring,
            None,
            SheetSettings(sheets=names, **settings),
            real_scale=1.6,
            scale_known=True,
            title="Panel",
        )
    )
    return (
        {s.name: (k, s) for k, s in enumerate(scenes)},
        to_pdf(scenes, title="Panel"),
        colouring,
    )


def grey(page) -> np.ndarray:
    return np.array(page.render(scale=DPI / 72).to_pil().convert("L")).astype(int)


def without_numbers(data: bytes) -> pypdfium2.PdfDocument:
    """Return the document with its layer of numbers switched off."""
    found = io.BytesIO()
    with pikepdf.open(io.BytesIO(data)) as pdf:
        layers = pdf.Root.OCProperties
        off = [layer for layer in layers.OCGs if str(layer.Name) == "Numbers"]
        assert off
        layers.D.OFF = pikepdf.Array(off)
        pdf.save(found)
    return pypdfium2.PdfDocument(found.getvalue())


def room(scene) -> tuple[slice, slice]:
    """Return which rows and columns of pixels the drawing has for itself."""
    left, bottom, right, top = next(
        i.clip for i in scene.items if isinstance(i, Placed) and i.alt
    )
    rows = slice(int((scene.height - top) * PX) + 2, int((scene.height - bottom) * PX))
    return rows, slice(int(left * PX) + 2, int(right * PX))


@pytest.mark.reference("the printed page itself, by PDFium's pixels")
@pytest.mark.parametrize("drawing", [stars, strips])
def test_each_region_of_each_page_has_its_number_and_nothing_under_it(drawing):
    names, data, colouring = pages(drawing(), "numbered", "coloured")
    whole, bare = pypdfium2.PdfDocument(data), without_numbers(data)
    hexes = [s.hex for s in colouring.palette.swatches]
    codes = {h: s.code for h, s in zip(hexes, colouring.palette.swatches, strict=True)}
    numbered = [n for n in names if n.startswith("numbered") and n.count("-") == 2]
    assert len(numbered) > 2
    seen, heights = 0, set()
    for name in numbered:
        at, scene = names[name]
        here = room(scene)
        lines = grey(bare[at])
        ink = np.abs(grey(whole[at]) - lines) > 25
        assert (lines < 120)[here].any()  # no page is empty
        assert not (ink & (lines < 120)).any()
        twin, _ = names[name.replace("numbered-n", "coloured-c")]
        paint = np.array(whole[twin].render(scale=DPI / 72).to_pil().convert("RGB"))
        inside = np.zeros(lines.shape, bool)
        inside[here] = (paint[here] < 252).any(axis=2)
        regions, _ = ndimage.label((lines > 200) & inside)
        # a disc of 2.4 mm round the place has room for the least number
        free = ndimage.distance_transform_edt(np.pad(regions > 0, 1))[1:-1, 1:-1]
        wanted = set(regions[free > 2.4 * PX].tolist())
        assert wanted <= set(regions[ink].tolist()), name
        seen += len(wanted)
        text, high = whole[at].get_textpage(), whole[at].get_height()
        for k, letter in enumerate(text.get_text_range()):
            left, low, right, top = text.get_charbox(k)
            x = int((left + right) / 144 * DPI)
            y = int((high - (low + top) / 2) / 72 * DPI)
            if letter.isdigit() and inside[y, x]:
                colour = "#{:02x}{:02x}{:02x}".format(*paint[y, x])
                assert codes[colour] == letter, name
                if letter in "147":  # flat figures are as tall as the size says
                    heights.add(round((top - low) / 72 * 25.4, 1))
    assert seen > 20
    assert 0 < len(heights) <= 3
    assert max(heights) <= 3.5 + 0.1  # PDFium's boxes are a little loose


def repeat_page() -> bytes:
    names, data, _ = pages(stars(), "repeat", paper="A4")
    assert names["repeat-r1"][0] == 0
    return data


def survey_page() -> bytes:
    """Return the survey of a star: a mirror runs through each kind of region."""
    survey = make_survey(pentagram(), name="star.svg")
    return to_pdf([survey_scene(survey)], title="Star")


@pytest.mark.reference("the printed page itself, by PDFium's pixels")
@pytest.mark.parametrize("printed", [repeat_page, survey_page])
def test_no_number_or_letter_stands_on_an_axis_or_a_centre(printed):
    data = printed()
    lines = grey(without_numbers(data)[0])
    ink = np.abs(grey(pypdfium2.PdfDocument(data)[0]) - lines) > 60
    assert ndimage.label(ndimage.binary_dilation(ink, iterations=3))[1] > 0
    assert not (ink & (lines < 120)).any()
