"""Holes along the side of a sheet."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw
from shapely.geometry import Point

from fillwork.readers import read_linework
from fillwork.readers.scan.holes import without_holes
from tests.unit.readers.scan.sheets import Faults, scan
from tests.unit.readers.scan.test_trace import SMALL, regions, right, small

SCALE = 8.0  # px a mm
# a frame round one half, and dots in it; x, y and radius, mm
FRAME, DOTS = (25, 20, 90, 100), [(40, 40, 2.0), (60, 70, 2.0)]


def page(holes: list[tuple[float, float, float]]) -> np.ndarray:
    """A page of 100 by 120 mm with a frame, dots and holes."""
    image = Image.new("RGB", (800, 960), (244, 240, 232))
    pen = ImageDraw.Draw(image)
    pen.rectangle([SCALE * v for v in FRAME], outline=(20, 20, 20), width=4)
    for x, y, r in [*DOTS, *holes]:
        box = [SCALE * v for v in (x - r, y - r, x + r, y + r)]
        pen.ellipse(box, fill=(60, 50, 45))
    return np.asarray(image)


@pytest.mark.parametrize(
    "holes",
    [
        [(6.0, 10.0 + 9.0 * k, 2.2) for k in range(12)],
        [(12.0, 20.0, 3.0), (12.0, 100.0, 3.0)],
        [(10.0 + 8.0 * k, 6.0, 2.0) for k in range(11)],
    ],
)
def test_a_row_of_holes_becomes_paper(holes: list[tuple[float, float, float]]) -> None:
    found, place = without_holes(page(holes), SCALE)
    assert place is not None
    assert np.array_equal(found, page([]))


@pytest.mark.parametrize(
    "dots",
    [
        [],
        # a single blot; dots of two sizes; dots that are no row
        [(6.0, 30.0, 2.0)],
        [(6.0, 30.0, 1.5), (6.0, 60.0, 3.0)],
        [(6.0, 30.0, 2.0), (11.0, 60.0, 2.0)],
        # a row inside the frame
        [(32.0, 30.0 + 9.0 * k, 2.0) for k in range(7)],
    ],
)
def test_dots_stay(dots: list[tuple[float, float, float]]) -> None:
    drawn = page(dots)
    found, place = without_holes(drawn, SCALE)
    assert place is None
    assert found is drawn


def patched(*boxes: tuple[float, float, float, float], of: int = 90) -> np.ndarray:
    """A page of 60 by 90 mm at 4 px a mm, dark from x, y on, so wide and tall, mm."""
    rgb = np.full((360, 240, 3), 240, np.uint8)
    for x, y, wide, tall in boxes:
        a, b, c, d = (round(4 * v) for v in (y, y + tall, x, x + wide))
        rgb[a:b, c:d] = of
    return rgb


def three(*last: float, x: float = 6.0, side: float = 4.0) -> np.ndarray:
    """Three square holes of so many mm below each other; the last as given."""
    holes = [(x, y, side, side) for y in (10.0, 30.0)]
    return patched(*holes, tuple(last) if last else (x, 50.0, side, side))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("drawn", "row"),
    [
        (three(), True),
        # less than 2 mm or more than 9 across is no hole
        (three(side=1.75), False),
        (three(side=2.25), True),
        (three(side=8.5), True),
        (three(side=9.25), False),
        # they reach 18 mm in, and begin a millimetre from the rim
        (three(x=13.5), True),
        (three(x=14.5), False),
        (three(x=1.25), True),
        (three(x=0.75), False),
        # one lies beside the line of the others by a millimetre
        (three(6.75, 50.0, 4.0, 4.0), True),
        (three(7.25, 50.0, 4.0, 4.0), False),
        # of 16 mm² those of 19 are like, those of 21 are not
        (three(6.0, 50.0, 4.0, 4.75), True),
        (three(6.0, 50.0, 4.0, 5.25), False),
        # 1.3 and 1.5 times as long as wide
        (patched(*[(6.0, y, 4.0, 5.25) for y in (10.0, 30.0)]), True),
        (patched(*[(6.0, y, 4.0, 6.0) for y in (10.0, 30.0)]), False),
        # specks beside them are less than a millimetre long
        (patched((6, 10, 4, 4), (6, 30, 4, 4), (2, 20, 0.75, 0.75)), True),
        (patched((6, 10, 4, 4), (6, 30, 4, 4), (2, 20, 1.25, 0.75)), False),
    ],
)
def test_what_a_hole_measures_and_where_it_lies(drawn: np.ndarray, row: bool) -> None:
    for turned in (drawn, drawn[:, ::-1], drawn.swapaxes(0, 1), drawn[::-1, ::-1]):
        assert (without_holes(turned, 4.0)[1] is not None) == row


@pytest.mark.parametrize(("cut", "row"), [(4, True), (5, False)])
def test_a_hole_fills_two_thirds_of_its_box(cut: int, row: bool) -> None:
    # of 16 by 16 px the four corners are paper: 192 or 156 px are left, 75 or 61 %
    rgb = three()
    for top in (40, 120, 200):
        corner = np.ones((16, 16), bool)
        corner[cut:-cut] = corner[:, cut:-cut] = False
        rgb[top : top + 16, 24:40][corner] = 240
    assert (without_holes(rgb, 4.0)[1] is not None) == row


@pytest.mark.parametrize(("share", "row"), [(0.57, True), (0.63, False)])
def test_a_hole_is_darker_than_the_paper_around_it(share: float, row: bool) -> None:
    of = round(240 * share)
    holes = patched((6, 10, 4, 4), (6, 30, 4, 4), of=of)
    assert (without_holes(holes, 4.0)[1] is not None) == row
    # the paper around is what lies within 7.5 mm: on a tint of 0.9 that reaches
    # 8 mm beyond them, a grey of 0.57 is 0.63 of it
    tinted = np.minimum(holes, np.uint8(216))
    tinted[:, 72:] = 240
    assert not row or without_holes(tinted, 4.0)[1] is None


def test_a_hole_goes_with_a_millimetre_around_it_and_its_place_is_told() -> None:
    rgb = three()
    rgb[36:60, 20:44][rgb[36:60, 20:44] == 240] = 200
    rgb[20, 20:44] = rgb[36:60, 46] = 200
    found, at = without_holes(rgb, 4.0)
    assert at == (32.0, 48.0)
    want = np.full_like(rgb, 240)
    want[20, 20:44] = want[36:60, 46] = 200
    assert np.array_equal(found, want)


def test_holes_are_no_regions_and_are_told() -> None:
    sheet = small("bricks", 74)
    sheet.paint += [(Point(6, y).buffer(2.0), (70, 60, 55)) for y in range(10, 115, 9)]
    found = read_linework(scan(sheet, Faults(), 74), name="x", picture=SMALL)
    got = regions(found)
    assert (right(sheet, got), len(got)) == (len(sheet.regions()),) * 2
    assert found.trace is not None
    assert found.trace.sure
    assert any("holes" in d.what for d in found.trace.doubtful)
