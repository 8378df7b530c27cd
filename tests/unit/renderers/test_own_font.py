"""A font of the user's own: taken up in any container, used on every sheet."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.reverseContourPen import ReverseContourPen
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.ttLib import TTCollection, TTFont
from fontTools.ttLib.tables.TupleVariation import TupleVariation
from PIL import Image

from fillwork.errors import RenderError
from fillwork.plans.model import SHEETS, SheetSettings
from fillwork.renderers.encoders.pdf import to_pdf
from fillwork.renderers.encoders.png import to_png
from fillwork.renderers.encoders.svg import to_svg
from fillwork.renderers.scene import Scene, Text
from fillwork.renderers.sheets.compose import compose_sheets
from fillwork.renderers.sheets.parts import Parts
from fillwork.renderers.text.own_font import own_fonts, plain_font
from fillwork.renderers.text.typeset import FontSet, default_fonts
from tests.unit.renderers.patterns import (
    colouring_of,
    kinds_by_area,
    outlines_of,
    star_pattern,
)
from tests.unit.renderers.test_sheets import schedule_of

FILE = Path("tests/drawings/fonts/DejaVuSans-Georgian-Armenian.ttf")
DATA = (Path(__file__).parents[3] / FILE).read_bytes()
BLUE = "ლურჯი"  # "blue" in Georgian
GREEN = "Կանաչ"  # "green" in Armenian


def saved(font: TTFont) -> bytes:
    out = io.BytesIO()
    font.save(out)
    return out.getvalue()


def changed(**changes: int) -> bytes:
    font = TTFont(io.BytesIO(DATA), recalcTimestamp=False)
    for name, value in changes.items():
        setattr(font["OS/2"], name, value)
    return saved(font)


def without(*tables: str) -> bytes:
    font = TTFont(io.BytesIO(DATA), recalcTimestamp=False)
    for table in tables:
        del font[table]
    return saved(font)


def as_compact() -> bytes:
    """Return the same glyphs as cubic outlines, which run the other way round."""
    source = TTFont(io.BytesIO(DATA))
    glyphs, strings = source.getGlyphSet(), {}
    for name in source.getGlyphOrder():
        pen = T2CharStringPen(glyphs[name].width, glyphs)
        glyphs[name].draw(ReverseContourPen(pen))
        strings[name] = pen.getCharString()
    builder = FontBuilder(source["head"].unitsPerEm, isTTF=False)
    builder.setupGlyphOrder(source.getGlyphOrder())
    builder.setupCharacterMap(source.getBestCmap())
    builder.setupHorizontalMetrics(source["hmtx"].metrics)
    builder.setupHorizontalHeader(ascent=1901, descent=-483)
    builder.setupCFF("Trial", {}, strings, {})
    builder.setupNameTable({"familyName": "Trial", "styleName": "Regular"})
    builder.setupOS2()
    builder.setupPost()
    return saved(builder.font)


def as_collection() -> bytes:
    both = TTCollection()
    both.fonts = [TTFont(io.BytesIO(DATA)), TTFont(io.BytesIO(DATA))]
    out = io.BytesIO()
    both.save(out)
    return out.getvalue()


def as_web_font() -> bytes:
    font = TTFont(io.BytesIO(DATA), recalcTimestamp=False)
    font.flavor = "woff"
    return saved(font)


def as_variable() -> bytes:
    font = TTFont(io.BytesIO(DATA), recalcTimestamp=False)
    builder = FontBuilder(font=font)
    builder.setupFvar([("wght", 400, 400, 700, "Weight")], [])
    first = font.getBestCmap()[ord(BLUE[0])]
    points = len(font["glyf"][first].getCoordinates(font["glyf"])[0]) + 4
    wider = TupleVariation({"wght": (0, 1, 1)}, [(90, 0)] * points)
    builder.setupGvar({first: [wider]})
    return saved(font)


FORMS = {
    "plain": lambda: DATA,
    "cubic outlines": as_compact,
    "collection": as_collection,
    "web font": as_web_font,
    "variable": as_variable,
    "without OS/2": lambda: without("OS/2"),
    "without names": lambda: without("name"),
    "whole only": lambda: changed(fsType=0x0100),
}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_of_font_file_draws_the_same(form: str) -> None:
    fonts = own_fonts(FORMS[form](), "mine.ttf")
    scene = Scene(90, 30, (Text((10, 10), f"{BLUE} 29 {GREEN}", 24),), paper="#ffffff")
    text = scene.items[0].text
    assert fonts.shape(text).missing == ""
    # the picture is the one that the plain font gives, but for rounding
    wanted = to_png(scene, 900, fonts=FontSet(DATA))
    drawn = to_png(scene, 900, fonts=fonts)
    a, b = (
        np.array(Image.open(io.BytesIO(d)).convert("L")) / 255 for d in (wanted, drawn)
    )
    assert (1 - a).sum() > 3000
    assert np.abs(a - b).sum() < 0.03 * (1 - a).sum()
    # and so is the page as another program draws and reads it
    data = to_pdf((scene,), title=BLUE, fonts=fonts)
    assert pikepdf.open(io.BytesIO(data)).check_pdf_syntax() == []
    page = pypdfium2.PdfDocument(data)[0]
    c = np.array(page.render(scale=900 / 90 * 25.4 / 72).to_pil().convert("L")) / 255
    rows, columns = min(a.shape[0], c.shape[0]), min(a.shape[1], c.shape[1])
    gap = np.abs(a[:rows, :columns] - c[:rows, :columns])
    assert gap.sum() < 0.3 * (1 - a).sum()
    assert page.get_textpage().get_text_range().strip() == text
    assert b"aria-label" in to_svg(scene, fonts=fonts)


# the sheet of a repair needs a patch
@pytest.mark.parametrize("name", [s for s in SHEETS if s != "repair"])
def test_every_sheet_bears_the_script(name: str) -> None:
    drawing = star_pattern(4, 3, 40.0, (3.0, 5.0))
    kinds = kinds_by_area(drawing)
    colouring = colouring_of(kinds, 3)
    swatches = list(colouring.palette.swatches)
    swatches[0] = replace(swatches[0], name=BLUE, code="ა")
    own = replace(
        colouring, palette=replace(colouring.palette, swatches=tuple(swatches))
    )

    def pages(fonts: FontSet):
        return compose_sheets(
            Parts(
                drawing,
                outlines_of(drawing),
                kinds,
                own,
                schedule_of(kinds),
                SheetSettings(sheets=(name,)),
                real_scale=1.0,
                scale_known=True,
                title=GREEN,
                fonts=fonts,
            )
        )

    fonts = own_fonts(DATA, "mine.ttf")
    scenes = pages(fonts)
    assert [n.type for s in scenes for n in s.notes] == []
    document = pypdfium2.PdfDocument(to_pdf(scenes, title=GREEN, fonts=fonts))
    text = "\n".join(p.get_textpage().get_text_range() for p in document)
    assert GREEN in text
    if name not in ("blank", "trials", "pounce", "line"):  # those name no paint
        assert BLUE in text
    if name in ("numbered", "repeat"):
        assert text.count("ა") > 1  # in regions beside the key
    (note,) = (n for s in pages(default_fonts()) for n in s.notes)
    assert note.type == "characters missing"
    assert set(GREEN) <= set(note.text)
    assert "--font" in note.remedy


BAD = {
    "nothing": (b"\n", "no font that can be read"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(400), "no font that can be read"),
    "cut off": (DATA[:900], "no font that can be read"),
    "no outlines": (without("glyf", "loca"), "no outlines"),
    "no characters": (without("cmap"), "no table of characters"),
    "no measures": (without("hhea"), "no measures"),
    "not to be embedded": (changed(fsType=0x0002), "forbid embedding"),
    "pictures only": (changed(fsType=0x0200), "forbid embedding"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_font_that_cannot_serve_is_refused_in_a_line(case: str) -> None:
    data, said = BAD[case]
    with pytest.raises(RenderError, match=said) as error:
        own_fonts(data, "mine.ttf")
    assert error.value.where == "mine.ttf"
    assert "\n" not in error.value.what
    assert error.value.mend


def test_a_plain_font_is_taken_as_it_is() -> None:
    assert plain_font(DATA, "mine.ttf") is DATA
    assert own_fonts(b"", "") is default_fonts()
