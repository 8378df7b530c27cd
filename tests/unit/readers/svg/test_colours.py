"""Colours of style sheets, as CSS Color 4 writes them."""

from __future__ import annotations

import pytest

from fillwork.readers.svg.style.colours import parse_colour


@pytest.mark.parametrize(
    ("text", "colour", "alpha"),
    [
        # named colours (section 6.1), and digits for one or two a channel (5.2)
        ("Teal", "#008080", 1.0),
        (" RED ", "#ff0000", 1.0),
        ("transparent", "#000000", 0.0),
        ("#1af", "#11aaff", 1.0),
        ("#1af8", "#11aaff", 0x88 / 255),
        ("#12ABcd", "#12abcd", 1.0),
        ("#12abcd33", "#12abcd", 0.2),
        # functions: numbers of 255 or shares; commas or spaces; with opacity (5.1)
        ("rgb(255, 0, 51)", "#ff0033", 1.0),
        ("rgb(100% 0% 20%)", "#ff0033", 1.0),
        ("rgb(255 0 51 / 0.5)", "#ff0033", 0.5),
        ("rgba(255, 0, 51, 25%)", "#ff0033", 0.25),
        ("rgb(300, -5, 51)", "#ff0033", 1.0),
        ("rgb(none 255 0)", "#00ff00", 1.0),
        ("rgb(127.5 0 0)", "#800000", 1.0),
        ("rgba(0, 0, 0, none)", "#000000", 0.0),
        ("rgba(0, 0, 0, 3)", "#000000", 1.0),
        # hues as angles; the examples of section 7 are red, lime and dark green
        ("hsl(0, 100%, 50%)", "#ff0000", 1.0),
        ("hsl(120deg 100% 50%)", "#00ff00", 1.0),
        ("hsl(120 100% 25%)", "#008000", 1.0),
        ("hsl(0.5turn 100% 50%)", "#00ffff", 1.0),
        ("hsl(200grad 100% 50%)", "#00ffff", 1.0),
        ("hsl(3.14159265rad 100% 50%)", "#00ffff", 1.0),
        ("hsl(-240 100% 50%)", "#00ff00", 1.0),
        ("hsl(none 100% 50%)", "#ff0000", 1.0),
        ("hsla(240, 100%, 50%, 0.2)", "#0000ff", 0.2),
        ("hsl(0 150% 50%)", "#ff0000", 1.0),
        ("hsl(0 0% 120%)", "#ffffff", 1.0),
        ("hsl(0 0% -20%)", "#000000", 1.0),
    ],
)
def test_colours_and_their_opacity(text: str, colour: str, alpha: float) -> None:
    assert parse_colour(text) == (colour, pytest.approx(alpha))


@pytest.mark.parametrize(
    "text",
    ["", "nored", "#12", "#12345", "#1234567", "#xyz", "rgb(1, 2)", "rgb(1 2 3 4 5)",
     "rgb(a, b, c)", "hsl(red 1% 1%)", "cmyk(1, 2, 3)", "rgb(1, 2, 3"],
)  # fmt: skip
def test_what_is_no_colour(text: str) -> None:
    assert parse_colour(text) is None
