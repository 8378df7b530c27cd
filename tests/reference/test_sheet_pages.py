"""Printed pages measured from outside, by a PDF reader that is not ours."""

import io

import numpy as np
import pikepdf
import pypdfium2
import pytest

from fillwork.plans.model import SheetSettings
from fillwork.renderers.encoders.pdf import to_pdf
from fillwork.renderers.scene import Scene, Text
from fillwork.renderers.sheets.compose import compose_sheets
from fillwork.renderers.sheets.parts import Parts
from tests.unit.renderers.patterns import (
    colouring_of,
    kinds_by_area,
    outlines_of,
    star_pattern,
)

DPI = 600
PX_PER_MM = DPI / 25.4

ISO_216 = {
    "A3": (297, 420),
    "A4": (210, 297),
    "A5": (148, 210),
    "B4": (250, 353),
}


def pages(real_scale=1.0, **settings):
    drawing = star_pattern(4, 3, 40.0, (3.0, 5.0))
    kinds = kinds_by_area(drawing)
    return compose_sheets(
        Parts(
            drawing,
            outlines_of(drawing),
            kinds,
            colouring_of(kinds, 3),
            None,
            SheetSettings(**settings),
            real_scale=real_scale,
            scale_known=True,
            title="Panel",
        )
    )


def ink(page, scale=DPI / 72) -> np.ndarray:
    return 255 - np.array(page.render(scale=scale).to_pil().convert("L"))


def longest_run(profile) -> int:
    """Return the length of the longest run of pixels that are at least half ink."""
    steps = np.diff(np.r_[0, profile > 127, 0].astype(int))
    return int((np.flatnonzero(steps == -1) - np.flatnonzero(steps == 1)).max())


@pytest.mark.reference("ISO 216:2007, Writing paper, tables 1 and 2: trimmed sizes")
@pytest.mark.parametrize("paper", sorted(ISO_216))
def test_page_boxes_are_the_standard_sizes(paper):
    data = to_pdf(pages(paper=paper, fit=True), title="Panel")
    want = sorted(ISO_216[paper])
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert pdf.check_pdf_syntax() == []
        for page in pdf.pages:
            for name in ("/MediaBox", "/CropBox", "/TrimBox"):
                box = [float(v) * 25.4 / 72 for v in page.obj[name]]
                assert box[:2] == [0, 0]
                assert sorted(box[2:]) == pytest.approx(want, abs=0.01)


@pytest.mark.reference("SI: the rule's own inscription, 100 mm, on a raster at 600 dpi")
def test_rule_is_100_mm_long():
    page = pypdfium2.PdfDocument(to_pdf(pages(), title="Panel"))[0]
    dark = ink(page)
    height = dark.shape[0]
    # the rule is the lowest line of 100 mm; its row is dark for over 90 mm
    rows = np.flatnonzero((dark > 100).sum(axis=1) > 90 * PX_PER_MM)
    row = dark[rows[rows > height * 0.85][-1]]
    assert longest_run(row) / PX_PER_MM == pytest.approx(100.0, abs=0.1)


@pytest.mark.reference("the drawing's own size: four and three squares of 40 mm")
@pytest.mark.parametrize("real_scale", [1.0, 0.5])
def test_drawing_has_its_true_size_on_paper(real_scale):
    data = to_pdf(pages(real_scale, sheets=("blank",)), title="Panel")
    dark = ink(pypdfium2.PdfDocument(data)[0])
    dark = dark[: int(dark.shape[0] * 0.8)]  # without the foot
    line = 0.25  # half of the outline lies outside on either side
    across = (dark > 40).sum(axis=0)
    tall = np.flatnonzero(across > 100 * real_scale * PX_PER_MM)
    wide_rows = np.flatnonzero((dark > 40).sum(axis=1) > 150 * real_scale * PX_PER_MM)
    width = (tall[-1] + 1 - tall[0]) / PX_PER_MM
    height = (wide_rows[-1] + 1 - wide_rows[0]) / PX_PER_MM
    assert width == pytest.approx(160 * real_scale + line, abs=0.1)
    assert height == pytest.approx(120 * real_scale + line, abs=0.1)


@pytest.mark.reference("the same drawing laid together from its pages, by pixels")
def test_joined_pages_agree_in_their_overlap():
    scenes = pages(2.5, sheets=("blank",))
    document = pypdfium2.PdfDocument(to_pdf(scenes, title="Panel"))
    names = [s.name for s in scenes]
    a = ink(document[names.index("blank-b1-a1")], 2)
    b = ink(document[names.index("blank-b1-b1")], 2)
    mm = 2 * 72 / 25.4
    margin, wide = 10 * mm, 8 * mm
    top, bottom = int(20 * mm), int(a.shape[0] - 27 * mm)
    left = round(margin) + 2
    strip = b[top:bottom, left : left + int(wide)][3:-3]
    assert (strip > 60).sum() > 100
    # pages join on round steps, so they overlap by 10 mm or more; somewhere near the
    # right edge of the one stands what the other begins with
    best = 0.0
    for x in range(int(a.shape[1] / 2), int(a.shape[1] - margin - wide) + 1):
        for dy in (-1, 0, 1):
            part = a[top + 3 + dy : bottom - 3 + dy, x : x + strip.shape[1]]
            best = max(best, float(np.corrcoef(part.ravel(), strip.ravel())[0, 1]))
    assert best > 0.9


WORDS = {
    "Latin": "Crème brûlée, Żółć",
    "Greek": "Γαλάζιο ώχρα",
    "Cyrillic": "Кобальт синий",
    "Arabic": "أزرق لازوردي",
    "Hebrew": "כחול עמוק",
    "Devanagari": "नीला क्षितिज",
    "mixed": "Blue أزرق 29",
}


@pytest.mark.reference("Unicode: the words themselves, read back by PDFium")
@pytest.mark.parametrize("script", sorted(WORDS))
def test_text_is_extractable(script):
    scene = Scene(100, 30, (Text((10, 10), WORDS[script], 12),), title=script)
    data = to_pdf((scene,), title=script)
    text = pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range()
    assert text.strip() == WORDS[script]


@pytest.mark.reference("Unicode Standard Annex #9: R and AL run right to left")
def test_right_to_left_runs_are_drawn_from_the_right():
    scene = Scene(100, 30, (Text((10, 10), "אבג"),), title="x")
    page = pypdfium2.PdfDocument(to_pdf((scene,), title="x"))[0].get_textpage()
    left = [page.get_charbox(i)[0] for i in range(3)]
    text = page.get_text_range()
    order = [left[text.index(c)] for c in "אבג"]
    assert order == sorted(order, reverse=True)
