"""What is known of a document before it is walked: what others refer to."""

from __future__ import annotations

from fillwork.readers import read_linework


def test_what_is_placed_tells_the_line_that_draws_it() -> None:
    drawing = """<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm">
    <symbol id="s">
      <path d="M1 1H9" stroke="#000"/>

      <path d="M1 2H9" stroke="#000"/>
    </symbol>
    <use href="#s"/>
    <path d="M1 5H9" stroke="#000"/>
    </svg>"""
    work = read_linework(drawing.encode(), name="a.svg")
    assert work.source_line.tolist() == [3, 5, 8]


def test_a_style_sheet_is_its_own_text_alone() -> None:
    drawing = """<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm">
    <style>.a { stroke: #f00 }</style>
    <title>.b { stroke: #00f }</title>
    <style media="print">.c { stroke: #0f0 }</style>
    <style media="screen">.d { stroke: #ff0 }</style>
    <path class="a" d="M1 1H9"/> <path class="b" d="M1 2H9"/>
    <path class="c" d="M1 3H9"/> <path class="d" d="M1 4H9"/>
    <path d="M1 5H9" stroke="#000"/></svg>"""
    work = read_linework(drawing.encode(), name="a.svg", scope="stroked")
    colours = {work.styles[k][1] for k in work.style.tolist()}
    assert colours == {"#ff0000", "#ffff00", "#000000"}
