"""Words in a PDF stand where the shaping library puts them, in the order of UAX #9."""

from __future__ import annotations

from itertools import pairwise

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import uharfbuzz

from fillwork.renderers.encoders.pdf import to_pdf
from fillwork.renderers.scene import Scene, Text
from fillwork.renderers.text.typeset import FontSet, default_fonts

MM = 72 / 25.4


@pytest.mark.reference("uharfbuzz shapes, pdfium says where the letters are drawn")
def test_kerned_letters_of_a_pdf_stand_where_they_are_shaped() -> None:
    words, size = "AVAToWe", 20.0
    scene = Scene(100.0, 30.0, (Text((10.0, 15.0), words, size),))
    page = pypdfium2.PdfDocument(to_pdf((scene,), title="words"))[0]
    text = page.get_textpage()
    at = []
    for k in range(len(words)):
        x, y = pdfium.c_double(), pdfium.c_double()
        assert pdfium.FPDFText_GetCharOrigin(text, k, x, y)
        at.append(x.value)
    font = default_fonts().fonts("regular")[0]
    buffer = uharfbuzz.Buffer()
    buffer.add_str(words)
    buffer.guess_segment_properties()
    shaped = uharfbuzz.Font(uharfbuzz.Face(font.data))
    uharfbuzz.shape(shaped, buffer)
    pen, wanted = 10.0 * MM, []
    for glyph in buffer.glyph_positions:
        wanted.append(pen)
        pen += glyph.x_advance / font.per_em * size
    plain = sum(shaped.get_glyph_h_advance(g.codepoint) for g in buffer.glyph_infos)
    assert pen < 10.0 * MM + plain / font.per_em * size - 1.0  # it is kerned at all
    assert at == pytest.approx(wanted, abs=0.02)


@pytest.mark.reference("Unicode Standard Annex #9, rule L2: levels are reversed whole")
def test_fonts_of_a_right_to_left_line_follow_each_other_from_the_right() -> None:
    first, second = "שלום", "سلام"  # two scripts, of two fonts
    shaped = default_fonts().shape(f"{first} {second}", "regular")
    assert len({run.font.key for run in shaped.runs}) == 2
    assert shaped.runs[0].text.strip() == second
    assert shaped.runs[-1].text.strip() == first


def test_a_long_word_is_broken_where_no_further_letter_stands():
    fonts = FontSet()
    word = "abcdefghij" * 100
    lines = fonts.wrap(word, 9, 60)
    assert "".join(lines) == word
    for line, after in pairwise(lines):
        assert fonts.width(line, 9) <= 60 < fonts.width(line + after[0], 9)
    # the place is found by halving: ten steps a line of 1,000 letters, and its own
    assert len(fonts._shaped) <= 14 * len(lines)
