"""Lengths, view boxes and transforms of SVG, from the definitions of the standards."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.readers.svg.shapes.values import (
    Viewport,
    box_transform,
    length_unit,
    parse_length,
    parse_numbers,
    parse_origin,
    parse_transform,
    parse_view_box,
    wrong_box,
)

VIEW = Viewport(300.0, 400.0, font=20.0)


@pytest.mark.reference("CSS Values and Units 4, sections 5 and 6")
@pytest.mark.parametrize(
    ("text", "px"),
    [
        ("12", 12), ("+.5", 0.5), ("-3.", -3), ("1e2", 100), ("1in", 96),
        ("2.54cm", 96),
        ("25.4mm", 96), ("101.6q", 96), ("72pt", 96), ("6PC", 96), (" 3 px ", 3),
        ("2em", 40), ("2rem", 40), ("2ex", 20), ("2ch", 20), ("10vw", 30), ("10vh", 40),
        # of the diagonal over the root of two: hypot(300, 400) = 500
        ("10%", 50 / math.sqrt(2)),
        ("calc(1in + 4px)", 100), ("calc(10px - 2 * 3px)", 4), ("calc(12px / 4)", 3),
        ("calc((1px + 2px) * 3)", 9), ("calc(-1 * (2px - 5px))", 3),
        ("min(3px, 1in, 2px)", 2), ("max(3px, 1px)", 3), ("clamp(2px, 9px, 5px)", 5),
        ("clamp(2px, 1px, 5px)", 2), ("clamp(2px, 3px, 5px)", 3),
        ("calc(2 * max(1px, 3px) + 1px)", 7), ("calc(6px / 2 / 3)", 1),
        ("", None), ("px", None), ("1 2", None), ("1furlong", None), ("1e999", None),
        ("calc(1px / 0)", None), ("calc(1px +)", None), ("what(1px)", None),
        ("calc(1px", None), ("calc(1px + x)", None), (None, None),
    ],
)  # fmt: skip
def test_lengths_in_user_units(text, px) -> None:
    found = parse_length(text, VIEW)
    assert found == (None if px is None else pytest.approx(px))


def test_percentages_go_by_their_axis_and_fonts_by_their_element() -> None:
    assert parse_length("50%", VIEW, "x") == 150
    assert parse_length("50%", VIEW, "y") == 200
    assert parse_length("calc(50% + 1px)", VIEW, "x") == 151
    inner = VIEW.sized(10.0)
    assert [parse_length(t, inner) for t in ("2em", "2rem", "2ex")] == [20, 40, 10]
    again = inner.sized(30.0)
    assert [parse_length(t, again) for t in ("1em", "1rem")] == [30, 20]
    assert VIEW.sized(20.0) is VIEW
    deep = "1px"
    for depth in range(1, 40):
        deep = f"({deep})"
        told = parse_length(f"calc{deep}", VIEW)
        assert told == (1 if depth <= 20 else None), depth


@pytest.mark.parametrize(
    ("text", "unit"), [("3MM", "mm"), ("3", ""), ("3 %", "%"), ("x", ""), (None, "")]
)
def test_units_are_told(text, unit) -> None:
    assert length_unit(text) == unit


def test_numbers_may_run_together() -> None:
    assert parse_numbers("1-2.5.5,3e2 +4") == [1, -2.5, 0.5, 300, 4]


@pytest.mark.parametrize(
    ("text", "box"),
    [
        ("0 0 10 20", (0, 0, 10, 20)), ("-1,-2 , 3 4", (-1, -2, 3, 4)), ("", None),
        (None, None), ("0 0 10", None), ("0 0 10 20 30", None), ("0 0 0 20", None),
        ("0 0 10 0", None), ("0 0 -1 20", None), ("0 0 10 1e999", None),
    ],
)  # fmt: skip
def test_view_boxes_have_a_size(text, box) -> None:
    assert parse_view_box(text) == box
    assert bool(wrong_box({"viewBox": text or ""})) == bool(text and box is None)


@pytest.mark.reference("SVG 2, section 8.2: the equivalent transform of a viewport")
@pytest.mark.parametrize("share", ["Min", "Mid", "Max"])
@pytest.mark.parametrize("other", ["Min", "Mid", "Max"])
@pytest.mark.parametrize("how", ["", " meet", " slice"])
def test_a_view_box_is_laid_into_its_viewport(share, other, how) -> None:
    box, width, height = (10.0, 20.0, 50.0, 40.0), 200.0, 100.0
    aspect = f"x{share}Y{other}{how}"
    a, b, c, d, e, f = box_transform(box, width, height, aspect)
    assert (b, c) == (0, 0)
    # 4 times as wide and 2.5 times as high: the less of both, or what covers all
    assert a == d == (4.0 if how == " slice" else 2.5)
    place = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    left, top = a * 10 + e, d * 20 + f
    assert left == pytest.approx(place[share] * (width - 50 * a))
    assert top == pytest.approx(place[other] * (height - 40 * d))
    assert wrong_box({"preserveAspectRatio": aspect}) == []
    assert box_transform(box, width, height, f"defer {aspect}") == (a, b, c, d, e, f)


def test_a_view_box_may_be_stretched_and_what_is_odd_is_as_if_not_there() -> None:
    box = (10.0, 20.0, 50.0, 40.0)
    assert box_transform(box, 200.0, 100.0, "none") == (4, 0, 0, 2.5, -40, -50)
    plain = box_transform(box, 200.0, 100.0, "")
    assert plain == box_transform(box, 200.0, 100.0, "xMidYMid meet")
    for odd in ("xmidYMid", "left", "xMidYMid fill"):
        assert wrong_box({"preserveAspectRatio": odd})
    assert box_transform(box, 200.0, 100.0, "left") == plain


@pytest.mark.reference("CSS Transforms 1, section 8")
@pytest.mark.parametrize(
    ("text", "point"),
    [
        ("", (0, 0)), ("inherit", (0, 0)), ("10px 20px", (10, 20)), ("10px", (10, 200)),
        ("left", (0, 200)), ("right", (300, 200)), ("top", (150, 0)),
        ("bottom", (150, 400)), ("center", (150, 200)), ("right top", (300, 0)),
        ("bottom left", (0, 400)), ("25% 75%", (75, 300)), ("top 10px", (10, 0)),
        ("10px 20px 5px", (10, 20)), ("nowhere", None), ("10px nowhere", None),
    ],
)  # fmt: skip
def test_origins_are_of_the_view_box(text, point) -> None:
    assert parse_origin(text, VIEW) == point


def matrix(m) -> np.ndarray:
    a, b, c, d, e, f = m
    return np.array([[a, c, e], [b, d, f], [0, 0, 1]])


def turn(degrees: float) -> np.ndarray:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])


def shift(x: float, y: float = 0.0) -> np.ndarray:
    return np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]])


def skew(x: float, y: float = 0.0) -> np.ndarray:
    x, y = (math.tan(math.radians(v)) for v in (x, y))
    return np.array([[1, x, 0], [y, 1, 0], [0, 0, 1.0]])


@pytest.mark.reference("SVG 1.1, section 7.6; CSS Transforms 1, section 11")
@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("matrix(1 2 3 4 5 6)", np.array([[1, 3, 5], [2, 4, 6], [0, 0, 1]])),
        ("translate(3)", shift(3)), ("translate(3,4)", shift(3, 4)),
        ("translateX(3px)", shift(3)), ("translateY(1in)", shift(0, 96)),
        ("scale(2)", np.diag([2, 2, 1])), ("scale(2 3)", np.diag([2, 3, 1])),
        ("scaleX(2)", np.diag([2, 1, 1])), ("scaleY(3)", np.diag([1, 3, 1])),
        ("scale(50%)", np.diag([0.5, 0.5, 1])), ("rotate(30)", turn(30)),
        ("rotate(30deg)", turn(30)), ("rotate(100grad)", turn(90)),
        ("rotate(0.5turn)", turn(180)), ("rotate(1rad)", turn(math.degrees(1))),
        ("rotate(30 5 6)", shift(5, 6) @ turn(30) @ shift(-5, -6)),
        ("skewX(20)", skew(20)), ("skewY(20)", skew(0, 20)), ("skew(20)", skew(20)),
        ("skew(20deg, 10deg)", skew(20, 10)),
        # the last is done first
        ("translate(5) rotate(90)", shift(5) @ turn(90)),
        ("rotate(90),translate(5 , 1)scale(1)", turn(90) @ shift(5, 1)),
        ("skewX(20)scale(2)", skew(20) @ np.diag([2, 2, 1])),
        ("", np.eye(3)), ("none", np.eye(3)),
    ],
)  # fmt: skip
def test_transforms_are_products_of_their_functions(text, wanted) -> None:
    found, wrong = parse_transform(text)
    assert wrong == ""
    assert matrix(found) == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize("quarter", range(-5, 6))
def test_quarter_turns_are_exact(quarter) -> None:
    (a, b, c, d, e, f), _ = parse_transform(f"rotate({90 * quarter})")
    whole = [(1, 0), (0, 1), (-1, 0), (0, -1)][quarter % 4]
    assert (a, b, c, d) == (*whole, -whole[1], whole[0])
    assert (e, f) == (0, 0)


@pytest.mark.parametrize(
    ("text", "rest", "kept"),
    [
        ("translate(3) turn(4)", "turn(4)", shift(3)),
        ("translate(3", "translate(3", 0),
        ("rotate(1 2)", "rotate(1 2)", 0), ("scale()", "scale()", 0),
        ("scale(1 2 3)", "scale(1 2 3)", 0), ("matrix(1 2 3)", "matrix(1 2 3)", 0),
        ("translate(3em)", "translate(3em)", 0), ("skewX(1 2)", "skewX(1 2)", 0),
        ("skewZ(1)", "skewZ(1)", 0), ("rotate(1px)", "rotate(1px)", 0),
        ("rotate(1e999)", "rotate(1e999)", 0), ("scale(2) rotate(x)", "rotate(x)", 2),
        ("x" * 60, "x" * 40, 0),
    ],
)  # fmt: skip
def test_what_is_no_function_ends_the_list_and_is_told(text, rest, kept) -> None:
    found, wrong = parse_transform(text)
    assert wrong == rest
    wanted = np.diag([2, 2, 1]) if isinstance(kept, int) and kept else kept
    assert matrix(found) == pytest.approx(np.eye(3) if np.ndim(wanted) == 0 else wanted)
