"""Fonts cut down for a PDF keep the glyphs that are used, and their numbers."""

from __future__ import annotations

import io

import pytest
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

from fillwork.renderers.encoders import pdf_fonts
from fillwork.renderers.text.typeset import default_fonts


@pytest.mark.parametrize("weight", ["regular", "medium"])
@pytest.mark.parametrize("row", range(4))
def test_cut_fonts_draw_as_the_whole_ones_do(weight: str, row: int) -> None:
    # judged by fontTools, an independent reader of fonts
    font = default_fonts().fonts(weight)[row]
    whole = TTFont(io.BytesIO(font.data))
    last = whole["maxp"].numGlyphs
    kept = list(range(1, min(last, 300), 7))
    cut = TTFont(io.BytesIO(pdf_fonts._subset(font, kept)))
    assert len(cut.getGlyphOrder()) <= last
    for glyph in [0, *kept]:
        drawn = []
        for source in (whole, cut):
            glyphs, name = source.getGlyphSet(), source.getGlyphOrder()[glyph]
            pen = DecomposingRecordingPen(glyphs)
            glyphs[name].draw(pen)
            drawn.append((pen.value, glyphs[name].width))
        assert drawn[0] == drawn[1]
    head, hhea, os2 = whole["head"], whole["hhea"], whole["OS/2"]
    box = (head.xMin, head.yMin, head.xMax, head.yMax)
    assert pdf_fonts._numbers(font, "head", ">4h", 36) == box
    ends = (hhea.ascent, hhea.descent)
    assert pdf_fonts._numbers(font, "hhea", ">2h", 4) == ends
    assert pdf_fonts._numbers(font, "OS/2", ">H", 8) == (os2.fsType,)
    assert pdf_fonts._numbers(font, "OS/2", ">h", 88) == (os2.sCapHeight,)
