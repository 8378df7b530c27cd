"""Scans that lie askew on the glass."""

from __future__ import annotations

from math import gcd

import numpy as np
import pytest
from PIL import Image, ImageDraw

from fillwork.readers.scan.askew import measure_askew


def turned(angle: float, *, circles: bool = False) -> np.ndarray:
    image = Image.new("RGB", (700, 900), "white")
    pen = ImageDraw.Draw(image)
    for k in range(6):
        if circles:
            pen.ellipse([90 + 30 * k, 200, 390 + 30 * k, 500], outline="black", width=6)
        else:
            pen.rectangle([100 + 40 * k, 120, 140 + 40 * k, 760], outline="black")
    way = Image.Resampling.BICUBIC
    return np.asarray(image.rotate(angle, way, fillcolor="white"))


@pytest.mark.parametrize("angle", [-2.3, -0.4, 1.1])
def test_straight_lines_tell_the_turn(angle: float) -> None:
    assert measure_askew(turned(angle)) == pytest.approx(-angle, abs=0.05)


@pytest.mark.parametrize("angle", [-0.8, -0.2, 0.2, 0.3])
def test_a_frame_round_circles_tells_the_turn(angle: float) -> None:
    image = Image.new("RGB", (900, 1200), "white")
    pen = ImageDraw.Draw(image)
    pen.rectangle([100, 120, 800, 1080], outline="black", width=4)
    for x in range(150, 600, 60):
        for y in range(160, 900, 60):
            pen.ellipse([x, y, x + 120, y + 120], outline="black", width=4)
    way = Image.Resampling.BICUBIC
    seen = np.asarray(image.rotate(angle, way, fillcolor="white"))
    assert measure_askew(seen) == pytest.approx(-angle, abs=0.05)


@pytest.mark.parametrize("cut", [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_a_row_or_a_column_less_changes_nothing(cut: tuple[int, int]) -> None:
    # lines by hand pile up little: sides of squares that sway by a few pixels
    image = Image.new("RGB", (1000, 1200), "white")
    pen = ImageDraw.Draw(image)
    t = np.linspace(0.0, 1.0, 40)
    rng = np.random.default_rng(3)
    for x in range(150, 850, 140):
        for y in range(150, 1050, 140):
            sway = rng.normal(0.0, 3.0, 2)[:, None] * np.sin(np.pi * t)
            pen.line(list(zip(x + 100 * t, y + sway[0], strict=True)), "black", 4)
            pen.line(list(zip(x + sway[1], y + 100 * t, strict=True)), "black", 4)
    way = Image.Resampling.BICUBIC
    seen = np.asarray(image.rotate(-1.6, way, fillcolor="white"))
    seen = seen[cut[0] :, cut[1] :]
    assert measure_askew(seen) == pytest.approx(1.6, abs=0.1)


def test_what_lies_straight_or_has_no_lines_is_left() -> None:
    assert measure_askew(turned(0.0)) == 0.0
    assert measure_askew(turned(1.5, circles=True)) == 0.0


def star(
    points: int, skip: int, angle: float = 0.0, *, frame: bool = False
) -> np.ndarray:
    image = Image.new("RGB", (1400, 1800), "white")
    pen = ImageDraw.Draw(image)
    for part in range(gcd(points, skip)):
        k = np.arange(points // gcd(points, skip) + 1)
        a = np.pi / 2 + 2 * np.pi * (part + k * skip) / points
        corners = np.c_[700 + 620 * np.cos(a), 900 - 620 * np.sin(a)]
        pen.line([tuple(c) for c in corners], fill="black", width=8)
    if frame:
        pen.rectangle([60, 200, 1340, 1600], outline="black", width=8)
    turned_ = image.reduce(2).rotate(angle, Image.Resampling.BICUBIC, fillcolor="white")
    return np.asarray(turned_)


@pytest.mark.parametrize(
    ("points", "skip"),
    # by the angles of their lines, 180 (skip + 1/2 points) / points, none lies along
    # an axis but within 2.5 degrees of one those of the last
    [(8, 3), (12, 5), (16, 7), (20, 9), (72, 35)],
)
def test_a_star_that_lies_straight_stays_straight(points: int, skip: int) -> None:
    assert measure_askew(star(points, skip)) == 0.0


@pytest.mark.parametrize("angle", [-2.6, 0.4, 1.7])
def test_the_frame_of_a_star_tells_the_turn(angle: float) -> None:
    seen = star(8, 3, angle, frame=True)
    assert measure_askew(seen) == pytest.approx(-angle, abs=0.05)
