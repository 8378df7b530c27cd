"""Drawings in two inks: which of them are final."""

from __future__ import annotations

import io

import pytest
from PIL import Image, ImageDraw, ImageFilter

from fillwork.arrangement.build import build_arrangement
from fillwork.errors import LineWorkError
from fillwork.readers.scan.model import Choices
from fillwork.readers.scan.read import as_linework
from fillwork.readers.scan.trace import trace_picture
from fillwork.readers.selectors import Choice, parse_choice
from fillwork.readers.source import SourceFile


@pytest.mark.parametrize(
    ("pen", "second", "taken"),
    [
        ("black", (40, 60, 150), True),
        ("black", (165, 35, 40), True),
        # construction: what the pen draws is closed
        ("both", (190, 60, 60), False),
        # a pale guide ends many lines, and is no pen
        ("black", (190, 205, 240), False),
    ],
)
def test_a_second_ink_is_final_where_lines_of_the_first_end_on_it(
    pen: str, second: tuple[int, int, int], taken: bool
) -> None:
    # 4 by 2 squares of 12 mm: level lines by one pen, from upright to upright
    image = Image.new("RGB", (600, 360), (246, 246, 242))
    draw = ImageDraw.Draw(image)
    dark = (25, 25, 28)
    for x in range(60, 541, 120):
        if pen == "both":
            draw.line([(x - 50, 50), (x + 50, 310)], fill=second, width=5)
        draw.line([(x, 60), (x, 300)], fill=dark if pen == "both" else second, width=5)
    for y in (60, 180, 300):
        for x in range(60, 540, 120):
            draw.line([(x + 2, y), (x + 118, y)], fill=dark, width=5)
    blurred = image.filter(ImageFilter.GaussianBlur(0.7))
    out = io.BytesIO()
    blurred.save(out, "PNG", dpi=(254, 254))
    traced = trace_picture(out.getvalue(), "two inks", Choices())
    told = any("of another ink" in d.what for d in traced.doubts)
    assert told == taken
    lines = as_linework(traced, SourceFile("x", out.getvalue(), ""), Choice())
    if taken or pen == "both":
        assert build_arrangement(lines).face_count - 1 == 8


def framed_ring(second: tuple[int, int, int]) -> bytes:
    """A black square of 24 mm round a circle of 6 mm in a second ink."""
    image = Image.new("RGB", (400, 400), (246, 246, 242))
    draw = ImageDraw.Draw(image)
    draw.rectangle((80, 80, 320, 320), outline=(25, 25, 28), width=6)
    draw.ellipse((140, 140, 260, 260), outline=second, width=6)
    out = io.BytesIO()
    image.filter(ImageFilter.GaussianBlur(0.7)).save(out, "PNG", dpi=(254, 254))
    return out.getvalue()


@pytest.mark.parametrize(
    ("choices", "told"),
    [(Choices(), True), (Choices(pencil="keep"), False), (Choices(guides=True), False)],
)
def test_a_second_ink_that_closes_by_itself_is_told(
    choices: Choices, told: bool
) -> None:
    traced = trace_picture(framed_ring((190, 40, 40)), "ring", choices)
    assert [d.what for d in traced.doubts if "were left out" in d.what] == [
        "closed figures of another ink, as dark as the pen's, were left out"
    ] * told
    assert traced.sure is not told


@pytest.mark.parametrize("second", [(190, 40, 40), (60, 130, 80), (60, 80, 170)])
def test_the_other_ink_is_read_by_the_colour_told_of_it(
    second: tuple[int, int, int],
) -> None:
    data = framed_ring(second)
    (colour,) = trace_picture(data, "ring", Choices(guides=True)).other_pens
    traced = trace_picture(data, "ring", Choices(pen=colour, guides=True))
    lines = as_linework(traced, SourceFile("x", data, ""), Choice())
    (ring,) = build_arrangement(lines).polygons()
    assert ring.area == pytest.approx(3.14159 * 5.7**2, rel=0.03)


def test_lines_of_a_picture_are_chosen_by_the_width_of_their_pen() -> None:
    image = Image.new("RGB", (400, 400), (246, 246, 242))
    ImageDraw.Draw(image).rectangle((80, 80, 320, 320), outline=(25, 25, 28), width=6)
    out = io.BytesIO()
    image.filter(ImageFilter.GaussianBlur(0.7)).save(out, "PNG", dpi=(254, 254))
    traced = trace_picture(out.getvalue(), "square", Choices())
    file = SourceFile("x", out.getvalue(), "")
    pen = round(traced.drawing.width / traced.page.scale, 3)
    taken = as_linework(traced, file, parse_choice((f"width={pen}",), (), "auto"))
    assert taken.stroke_count == as_linework(traced, file, Choice()).stroke_count
    with pytest.raises(LineWorkError, match="none of the traced lines"):
        as_linework(traced, file, parse_choice((f"width={pen / 2}",), (), "auto"))
