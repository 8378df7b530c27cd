"""Files that mean harm or are broken: an error with a reason, never a traceback."""

from __future__ import annotations

import gzip
import math
import os
import time
from dataclasses import replace

import pytest

from fillwork.errors import FillworkError, LineWorkError, PlanError, ReadError
from fillwork.readers import limits, read_linework
from fillwork.tomlfile import read_bytes

HEAD = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" stroke="#000">'


def test_empty_blank_and_no_xml(tmp_path):
    for data in (b"", b"  \n", b"hello", b"\x00\x01\x02", b"<", b"<svg"):
        with pytest.raises(ReadError):
            read_linework(data, name="x.svg")
    with pytest.raises(ReadError, match="no such file"):
        read_linework(tmp_path / "missing.svg")
    with pytest.raises(ReadError, match="folder"):
        read_linework(tmp_path)
    with pytest.raises(ReadError, match="file"):
        read_linework("a\0b.svg")


def test_a_pipe_that_nobody_writes_to_is_refused(tmp_path):
    os.mkfifo(tmp_path / "pipe.svg")
    with pytest.raises(ReadError, match="pipe"):
        read_linework(tmp_path / "pipe.svg")
    with pytest.raises(ReadError, match="pipe"):
        read_bytes(tmp_path / "pipe.svg", 100)


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"%PDF-1.7", "PDF"),
        (b"\x89PNG\r\n", "PNG"),
        (b"<!DOCTYPE html><html><body></body></html>", "web page"),
        (b"<g/>", "not an SVG|not svg"),
        (b"<svg><g></svg>", "line 1"),
        (b"<svg>&nothing;</svg>", "undefined entity"),
    ],
)
def test_what_is_no_drawing_is_named(data, word):
    with pytest.raises(ReadError, match=word):
        read_linework(data, name="x.svg")


def test_no_lines():
    with pytest.raises(LineWorkError, match="no lines"):
        read_linework(HEAD + b"</svg>")
    with pytest.raises(LineWorkError, match="1 text"):
        read_linework(HEAD + b"<text>a</text></svg>")
    with pytest.raises(LineWorkError, match="outside the page"):
        read_linework(HEAD + b'<path d="M200 200h10"/></svg>')


def test_entity_bombs_are_refused_quickly():
    levels = "".join(f'<!ENTITY e{k} "{f"&e{k - 1};" * 10}">' for k in range(1, 12))
    bomb = f'<!DOCTYPE svg [<!ENTITY e0 "aaaaaaaaaa">{levels}]><svg>&e11;</svg>'
    start = time.process_time()
    with pytest.raises(ReadError, match="entity bytes"):
        read_linework(bomb.encode())
    wide = f'<!DOCTYPE svg [<!ENTITY a "{"a" * 100_000}">]><svg>{"&a;" * 5000}</svg>'
    with pytest.raises(ReadError, match="entit"):
        read_linework(wide.encode())
    loop = b'<!DOCTYPE svg [<!ENTITY a "&b;"><!ENTITY b "&a;">]><svg>&a;</svg>'
    with pytest.raises(ReadError, match=r"itself|recursive"):
        read_linework(loop)
    assert time.process_time() - start < 5


def test_internal_entities_are_taken_and_external_ones_never_opened(tmp_path):
    secret = tmp_path / "secret.txt"
    secret.write_text("M0 0L9 9")
    data = (
        f'<!DOCTYPE svg PUBLIC "x" "http://192.0.2.1/x.dtd" [<!ENTITY s "#f00">'
        f'<!ENTITY out SYSTEM "file://{secret}">]>'
        '<svg viewBox="0 0 10 10"><path stroke="&s;" d="M1 1L2 2"/><text>&out;</text>'
        "</svg>"
    )
    work = read_linework(data.encode())
    assert work.styles[0][1] == "#ff0000"
    assert any("outside the file" in note.text for note in work.notes)
    attribute = data.replace('d="M1 1L2 2"', 'd="&out;"')
    with pytest.raises(FillworkError):
        read_linework(attribute.encode())
    image = b'<use href="file:///etc/passwd#a"/><path d="M0 0L9 9"/></svg>'
    work = read_linework(HEAD + image)
    assert any("outside the file" in note.text for note in work.notes)


def test_deep_nesting():
    deep = HEAD + b"<g>" * 20_000 + b'<path d="M0 0L1 1"/>' + b"</g>" * 20_000
    with pytest.raises(ReadError, match="depth"):
        read_linework(deep + b"</svg>")
    fine = HEAD + b"<g>" * 200 + b'<path d="M0 0L1 1"/>' + b"</g>" * 200
    assert len(read_linework(fine + b"</svg>").curves) == 1
    unseen = b"<defs>" + b"<g>" * 20_000 + b"</g>" * 20_000 + b"</defs>"
    work = read_linework(HEAD + unseen + b'<path d="M0 0L1 1"/></svg>')
    assert len(work.curves) == 1


def test_use_cycles_and_bombs():
    cycle = (
        b'<g id="a"><use href="#b"/><path d="M0 0L1 1"/></g>'
        b'<g id="b"><use href="#a"/></g>'
    )
    work = read_linework(HEAD + cycle + b"</svg>")
    assert any("contains itself" in note.text for note in work.notes)
    assert len(work.curves) >= 1
    own = b'<use id="u" href="#u"/><path d="M0 0L1 1"/></svg>'
    assert len(read_linework(HEAD + own).curves) == 1
    levels = b"".join(
        b'<g id="g%d">' % k + b'<use href="#g%d"/>' % (k - 1) * 10 + b"</g>"
        for k in range(1, 12)
    )
    bomb = b'<defs><path id="g0" d="M0 0L1 1"/>' + levels + b'</defs><use href="#g11"/>'
    start = time.process_time()
    with pytest.raises(ReadError, match="copies"):
        read_linework(HEAD + bomb + b"</svg>")
    assert time.process_time() - start < 10


def test_packed_bombs_and_damage():
    drawing = HEAD + b'<path d="M0 0L50 50"/></svg>'
    packed = gzip.compress(drawing)
    assert len(read_linework(packed).curves) == 1
    assert (
        len(
            read_linework(
                gzip.compress(drawing[:50]) + gzip.compress(drawing[50:])
            ).curves
        )
        == 1
    )
    bomb = gzip.compress(HEAD + b" " * 90_000_000)
    with pytest.raises(ReadError, match="unpack ratio"):
        read_linework(bomb)
    for broken in (packed[:-10], packed[:30], packed[:12] + b"xxxx" + packed[16:]):
        with pytest.raises(ReadError):
            read_linework(broken)


def test_numbers_without_measure():
    shapes = (
        b'<path d="M0 0L1e999 5"/><line x1="nan" x2="5"/><circle r="inf"/>'
        b'<line x2="1e300" y2="4"/><rect width="1e-320" height="5"/>'
        b'<path d="M1 1L2 2" transform="scale(1e200) scale(1e200)"/>'
        b'<path d="M1 1L2 2" transform="matrix(0 0 0 0 0 0)"/>'
        b'<path d="M1 1A1e-300 1e-300 0 0 1 9 9"/>'
        b'<path d="M0 0A1e300 1e300 0 0 1 9 9"/>'
        b'<path d="M5 5L9 9"/></svg>'
    )
    work = read_linework(HEAD + shapes)
    assert all(math.isfinite(v) for v in work.curves.data.ravel().tolist())
    assert any("left out" in note.text for note in work.notes)
    for size in (b"1e300", b"1e-300", b"nan", b"-5", b"0", b"1e9mm", b"100%", b"5zz"):
        drawing = b'<svg width="%s" height="%s" stroke="#000">' % (size, size)
        try:
            work = read_linework(drawing + b'<path d="M5 5L9 9"/></svg>')
        except FillworkError:
            continue
        assert math.isfinite(work.frame.width)


@pytest.mark.parametrize("turn", ["rotate", "skewX", "skewY", "scale(2) rotate"])
def test_a_turn_without_measure_is_told_and_left_out(turn):
    # a double holds numbers up to 1.8e308 (IEEE 754-2019, table 3.5)
    shape = f'<path d="M5 5L9 9" transform="{turn}(1e400)"/></svg>'
    work = read_linework(HEAD + shape.encode())
    assert work.stroke_count == 1
    assert any("transform" in note.text for note in work.notes)


@pytest.mark.parametrize(
    "speck",
    [
        # 5 and 1e-17 more is 5 in doubles; 1e-320 is under the least normal number
        '<rect x="5" y="5" width="1e-17" height="1e-17" stroke="#000"/>',
        '<ellipse cx="-3" rx="1e-320" fill="red"/>',
        '<circle cx="5" cy="5" r="1e-320" fill="url(#p)"/>',
    ],
)
def test_shapes_too_small_to_have_sides_are_no_lines(speck):
    pattern = '<pattern id="p" width="2" height="2" patternUnits="userSpaceOnUse">'
    pattern += '<path d="M0 0L2 2"/></pattern>'
    shape = '<ellipse cx="9" cy="9" rx="8" ry="5" fill="red" stroke="#000"/>'
    head = '<svg xmlns="http://www.w3.org/2000/svg">'
    work = read_linework(f"{head}{pattern}{shape}{speck}</svg>".encode())
    assert work.stroke_count == 1


def test_too_many_curves_are_refused_by_name():
    path = b'<path d="M0 0' + b"h1" * 3_200_000 + b'"/></svg>'
    start = time.process_time()
    with pytest.raises(ReadError, match=r"curves = 3,000,000"):
        read_linework(HEAD + path)
    assert time.process_time() - start < 10


def test_slow_style_sheets_are_refused():
    rules = b"<style>" + b"g g g g g path{fill:none}" * 300 + b"</style>"
    body = b"<g>" * 300 + b'<path d="M0 0L1 1"/>' * 300 + b"</g>" * 300 + b"</svg>"
    start = time.process_time()
    with pytest.raises(ReadError, match="style steps"):
        read_linework(HEAD + rules + body)
    assert time.process_time() - start < 10


def test_wrong_selectors():
    drawing = HEAD + b'<path d="M0 0L5 5"/></svg>'
    for selector in ("", "layer", "collor=#f00", "layer<3", "width<x", "dash=maybe",
                     "colour=nocolour", "width<", "=", "layer=a,"):  # fmt: skip
        with pytest.raises(PlanError):
            read_linework(drawing, lines=(selector,))
    with pytest.raises(PlanError, match="did you mean"):
        read_linework(drawing, scope="stroke")
    with pytest.raises(LineWorkError, match="no layer"):
        read_linework(drawing, lines=("layer=nothing",))


def test_clips_that_ask_for_too_much(monkeypatch):
    few = replace(limits.NORMAL, cut_steps=2_000_000)
    monkeypatch.setattr(limits, "NORMAL", few)
    lines = b"".join(b'<path d="M0 %dL100 5"/>' % (k % 100) for k in range(2_000))
    wiggle = b"".join(b"L%d %d" % (k % 100, k % 37) for k in range(2_000))
    clip = b'<clipPath id="c"><path d="M0 0' + wiggle + b'"/></clipPath>'
    with pytest.raises(ReadError, match="cut steps"):
        read_linework(HEAD + clip + b'<g clip-path="url(#c)">' + lines + b"</g></svg>")
    many = b"".join(
        b'<path transform="translate(%d)" clip-path="url(#d)" d="M0 0L100 5"/>' % k
        for k in range(2_000)
    )
    clip = b'<clipPath id="d"><circle r="50"/></clipPath>'
    with pytest.raises(ReadError, match="cut steps"):
        read_linework(HEAD + clip + many + b"</svg>")


def test_clips_that_refer_to_each_other():
    loop = (
        b'<clipPath id="c" clip-path="url(#d)"><use href="#e"/></clipPath>'
        b'<clipPath id="d" clip-path="url(#c)"><rect width="50" height="50"/>'
        b'</clipPath><g id="e"><use href="#e"/>'
        b'<rect width="20" height="50" clip-path="url(#c)"/></g>'
        b'<path d="M0 5H90" clip-path="url(#c)"/></svg>'
    )
    work = read_linework(HEAD + loop, scope="stroked")
    assert len(work.curves) >= 1


def test_one_attribute_of_many_megabytes():
    # quadratic work in the parser would show here
    text = HEAD + b'<path d="M0 0L5 5" data-x="' + b"x" * 60_000_000 + b'"/></svg>'
    start = time.process_time()
    assert len(read_linework(text).curves) == 1
    assert time.process_time() - start < 8


@pytest.mark.parametrize("size", ["1e-300", "1e-9mm", "1e12", "1e300"])
def test_pages_that_cannot_be_meant_are_not_used(size):
    text = (
        f'<svg width="{size}" height="{size}" stroke="#000"><path d="M0 0L9 5"/></svg>'
    )
    work = read_linework(text.encode())
    assert not work.frame.has_page
    assert any(note.type == "page size" for note in work.notes)


def test_a_speck_is_refused():
    text = b'<svg width="90" height="90" viewBox="0 0 1e200 1e200" stroke="#000">'
    with pytest.raises(LineWorkError, match="too small"):
        read_linework(text + b'<path d="M0 0L9 5"/></svg>')
