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


def test_holes_are_no_regions_and_are_told() -> None:
    sheet = small("bricks", 74)
    sheet.paint += [(Point(6, y).buffer(2.0), (70, 60, 55)) for y in range(10, 115, 9)]
    found = read_linework(scan(sheet, Faults(), 74), name="x", picture=SMALL)
    got = regions(found)
    assert (right(sheet, got), len(got)) == (len(sheet.regions()),) * 2
    assert found.trace is not None
    assert found.trace.sure
    assert any("holes" in d.what for d in found.trace.doubtful)
