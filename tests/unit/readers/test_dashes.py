"""Dashed guides that a program wrote dash by dash, and lines that only look like it."""

from __future__ import annotations

import math

import pytest

from fillwork.readers import read_linework

INK = '<circle cx="50" cy="50" r="40"/><path d="M10 50H90"/>'
DASH, GAP, DOT = 3.0, 1.0, 0.4


def _read(guides: str, colour: str = "#e00"):
    return read_linework(
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        'viewBox="0 0 100 100"><g fill="none" stroke="#000" stroke-width=".3">'
        f'{INK}<g stroke="{colour}" stroke-width=".15">{guides}</g></g></svg>'.encode()
    )


def _length(work) -> float:
    return float(work.curves.lengths().sum())


def _row(angle: float = 0.0, *, dots: bool = False) -> str:
    # pieces along a line through the middle, and dots between them where wanted
    parts, at = [], -48.0
    while at < 46:
        parts.append((at, at + DASH))
        at += DASH + GAP
        if dots:
            parts.append((at, at + DOT))
            at += DOT + GAP
    c, s = math.cos(angle), math.sin(angle)
    path = '<path d="M{:.4f} {:.4f}L{:.4f} {:.4f}"/>'
    return "".join(
        path.format(*(50 + part * t for t in pair for part in (c, s))) for pair in parts
    )


WHOLE = pytest.approx(2 * math.pi * 40 + 80)


@pytest.mark.parametrize("dots", [False, True])
def test_guides_written_dash_by_dash_are_left_out(dots: bool):
    work = _read(_row(0.7, dots=dots) + _row(2.1, dots=dots))
    assert _length(work) == WHOLE
    assert any("taken for guides" in note.text for note in work.notes)
    # in the lines' own colour they stay what they were
    assert _length(_read(_row(0.7, dots=dots), "#000")) > 2 * math.pi * 40 + 81


def test_dashes_round_a_circle_are_left_out():
    turn = [(k, k + 7) for k in range(0, 360, 10)]
    arcs = "".join(
        "M{:.4f} {:.4f}A20 20 0 0 1 {:.4f} {:.4f}".format(
            *(50 + 20 * f(math.radians(a)) for a in pair for f in (math.cos, math.sin))
        )
        for pair in turn
    )
    assert _length(_read(f'<path d="{arcs}"/>')) == WHOLE


def test_pieces_that_end_on_other_lines_are_no_dashes():
    # joints between bricks: in line, alike, gaps as long as they are, ends on courses
    courses = "".join(f'<path d="M10 {y}H90"/>' for y in range(10, 91, 5))
    joints = "".join(
        f'<path stroke="#00f" d="M{x} {y}v5"/>'
        for x in range(20, 90, 10)
        for y in range(10, 86, 10)
    )
    work = _read(courses + joints, "#080")
    assert _length(work) == pytest.approx(2 * math.pi * 40 + 80 + 17 * 80 + 56 * 5)


def test_a_few_pieces_and_gaps_unlike_stay():
    five = "".join(f'<path d="M{x} 20h4"/>' for x in range(20, 50, 6))
    unlike = "".join(f'<path d="M{20 + k * (k + 4)} 30h4"/>' for k in range(6))
    short = "".join(f'<path d="M{x} 70h1"/>' for x in range(20, 60, 5))
    work = _read(five + unlike + short)
    assert _length(work) == pytest.approx(2 * math.pi * 40 + 80 + 20 + 24 + 8)
