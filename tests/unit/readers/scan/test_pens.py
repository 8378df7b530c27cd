"""Pens and papers: ink that pales, felt pens, white ink on brown paper."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter

from fillwork import LineWork, make_survey
from fillwork.readers import read_linework
from fillwork.readers.scan.inks import part_inks
from fillwork.readers.scan.light import is_light_ink
from fillwork.readers.scan.model import Choices
from fillwork.readers.scan.paint import find_areas

WHITE, BLACK, BROWN = (238, 236, 228), (25, 25, 30), (146, 110, 74)


def panel(paper: tuple[int, int, int], ink: tuple[int, int, int]) -> bytes:
    """A square of 100 mm with both diagonals at 200 dpi: four regions."""
    image = Image.new("RGB", (1024, 1024), paper)
    pen = ImageDraw.Draw(image)
    a, b = 118, 906
    for line in ([(a, a), (b, a), (b, b), (a, b), (a, a)], [(a, a), (b, b)]):
        pen.line(line, fill=ink, width=6)
    pen.line([(a, b), (b, a)], fill=ink, width=6)
    out = io.BytesIO()
    image.save(out, "PNG", dpi=(200, 200))
    return out.getvalue()


def lines_of(data: bytes, pen: str = "auto") -> LineWork:
    return read_linework(data, name="x", picture=Choices(pen=pen))


@pytest.mark.parametrize(
    ("paper", "ink"), [(BROWN, WHITE), (BROWN, BLACK), (BLACK, WHITE), (WHITE, BLACK)]
)
@pytest.mark.parametrize("named", [False, True])
def test_ink_may_be_lighter_than_its_paper(
    paper: tuple[int, int, int], ink: tuple[int, int, int], named: bool
) -> None:
    pen = "#" + bytes(ink).hex() if named else "auto"
    survey = make_survey(lines_of(panel(paper, ink), pen))
    areas = [p.area for p in survey.arrangement.polygons()]
    # a quarter of the square, 788 px of 25.4 / 200 mm
    assert areas == pytest.approx([(788 * 25.4 / 200) ** 2 / 4] * 4, rel=0.01)


@pytest.mark.parametrize("second", [False, True])
def test_white_and_black_ink_on_one_sheet_are_told(second: bool) -> None:
    image = Image.open(io.BytesIO(panel(BROWN, WHITE)))
    if second:
        ImageDraw.Draw(image).ellipse((310, 310, 714, 714), outline=BLACK, width=6)
    out = io.BytesIO()
    image.save(out, "PNG", dpi=(200, 200))
    record = lines_of(out.getvalue()).trace
    assert record is not None
    assert record.sure is not second
    told = [d.what for d in record.doubtful if "what is darker was left out" in d.what]
    assert len(told) == second


def test_a_stain_lighter_than_paper_is_no_light_ink() -> None:
    page = np.full((800, 800, 3), 150, np.uint8)
    page[100:700:60] = page[101:701:60] = page[102:702:60] = 30
    page[300:360, 300:330] = 235
    light, beside = is_light_ink(page, 8.0, "auto")
    # the stain is 1,800 px of the 30,780 that the lines are
    assert not light
    assert 0.0 < beside < 0.1
    page[:] = np.where(page == 30, 240, page)
    assert is_light_ink(page, 8.0, "auto")[0]


@pytest.mark.parametrize("pencil", [0.0, 0.25])
def test_lines_that_pale_here_and_there_stay_whole(pencil: float) -> None:
    rng = np.random.default_rng(5)
    dark = np.zeros((800, 400), np.float32)
    if pencil:
        for column in range(35, 380, 40):
            dark[:, column : column + 3] = pencil
    along = np.arange(400)
    for number, row in enumerate(range(40, 780, 40)):
        # each line pales over a stretch of its own, the palest by 40 %
        pale = np.exp(-(((along - 60 - 15 * number) / 18.0) ** 2))
        dark[row : row + 4] = 0.81 - 0.018 * number * pale
    # the two middle rows of each
    ink = np.zeros(dark.shape, bool)
    ink[41:780:40] = ink[42:780:40] = True
    seen = gaussian_filter(dark, 1.0) + rng.normal(0.0, 0.015, dark.shape)
    dark = np.clip(seen, 0.0, 1.0)
    found = part_inks(np.repeat(dark[:, :, None], 3, 2).astype(np.float32), 8.0)
    assert found.pen[ink].mean() > 0.999
    # pencil goes: no line runs upright beside the crossings
    assert not found.pen[60:780:40].any()


def test_a_felt_pen_on_grained_paper_is_no_paint() -> None:
    # lines 2.2 mm wide that cross, at 8 px a mm, and as much grain as lines
    dark = np.zeros((900, 900), bool)
    for at in range(60, 900, 180):
        dark[at : at + 18] = dark[:, at : at + 18] = True
    specks = np.random.default_rng(3).random(dark.shape) < 0.01
    _, areas = find_areas(dark | specks, 8.0)
    assert not areas.any()
    # paint between thin lines is an area still
    dark = np.zeros((900, 900), bool)
    for at in range(60, 900, 180):
        dark[at : at + 4] = dark[:, at : at + 4] = True
    dark[240:420, 240:420] = True
    _, areas = find_areas(dark | specks, 8.0)
    assert areas[300, 300]
    assert not areas[500:, 500:].any()


def test_a_dense_drawing_is_no_grain() -> None:
    # lines of 4 px every 20 px both ways: 16 of 25 are bare, over a quarter is ink
    dark = np.full((600, 600, 3), 0.0, np.float32)
    dark += np.abs(np.random.default_rng(1).normal(0, 0.01, (600, 600, 1)))
    for k in range(4):
        dark[k::20] = dark[:, k::20] = 0.9
    pen = part_inks(dark, 8.0).pen
    assert pen.mean() == pytest.approx(1 - 0.8**2, abs=0.02)
