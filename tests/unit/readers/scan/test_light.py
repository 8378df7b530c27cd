"""Darkness against the paper around, and ink lighter than paper."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.light import channels_of, is_light_ink, measure_darkness

SCALE = 8.0  # px a mm


def test_darkness_is_what_a_line_takes_from_the_light_on_its_paper() -> None:
    # light falls off by a tenth from side to side of warm paper; lines of 4 px, 5 mm
    # apart, let through a quarter of the red, half of the green and all of the blue
    across = np.linspace(1.0, 0.9, 320)[None, :, None]
    rgb = np.repeat(across * [240.0, 230.0, 200.0], 240, axis=0)
    lines = np.zeros((240, 320), bool)
    for k in range(4):
        lines[20 + k :: 40] = True
    rgb[lines] *= [0.25, 0.5, 1.0]
    dark = measure_darkness(np.rint(rgb).astype(np.uint8), SCALE)
    inner = np.zeros_like(lines)
    inner[40:-40, 40:-40] = True
    for channel, want in enumerate((0.75, 0.5, 0.0)):
        assert np.abs(dark[lines & inner, channel] - want).max() < 0.02
    assert dark[~lines & inner].max() < 0.02
    assert dark.min() >= 0.0


@pytest.mark.parametrize(
    ("wide", "paper"),
    # of the five blocks of 2 mm around it covers three, less than 70 %, or all
    [(6.0, False), (11.0, True)],
)
def test_a_tint_is_paper_where_it_is_all_around(wide: float, paper: bool) -> None:
    rgb = np.full((240, 400, 3), 240, np.uint8)
    half = round(wide * SCALE / 2)
    rgb[:, 200 - half : 200 + half] = 192
    dark = measure_darkness(rgb, SCALE)[:, 196:204]
    assert dark == pytest.approx(0.0 if paper else 0.2, abs=0.03)


def lighter(share: float, by: float, *, dark: float = 0.0) -> np.ndarray:
    """Paper of 150 with pixels so many times as light, and as dark, strewn evenly."""
    rgb = np.full((320, 320, 3), 150.0)
    strewn = np.arange(320 * 320).reshape(320, 320) * 7919 % (320 * 320)
    rgb[strewn < share * 320 * 320] *= by
    rgb[strewn >= (1.0 - dark) * 320 * 320] /= by
    return np.rint(rgb).astype(np.uint8)


@pytest.mark.parametrize(
    ("share", "by", "light"),
    [(0.02, 1.2, False), (0.02, 1.4, True), (0.0015, 1.5, False), (0.003, 1.5, True)],
)
def test_light_ink_is_lighter_and_covers_enough(
    share: float, by: float, light: bool
) -> None:
    assert is_light_ink(lighter(share, by), SCALE, "auto")[0] == light
    # one channel that is no lighter is colour, not light
    tinted = lighter(share, by)
    tinted[:, :, 2] = 150
    assert not is_light_ink(tinted, SCALE, "auto")[0]


@pytest.mark.parametrize(("light", "dark"), [(0.02, 0.01), (0.01, 0.02), (0.02, 0.0)])
def test_what_covers_more_is_the_ink(light: float, dark: float) -> None:
    found = is_light_ink(lighter(light, 1.5, dark=dark), SCALE, "auto")
    assert found[0] == (light > dark)
    assert found[1] == pytest.approx(min(light, dark) / max(light, dark), abs=0.01)
    # of next to nothing the share is against what lines cover at least
    few = is_light_ink(lighter(0.0005, 1.5, dark=0.001), SCALE, "auto")
    assert few[1] == pytest.approx(0.0005 / 0.002, abs=0.02)


@pytest.mark.parametrize(("pen", "light"), [("#a0a0a0", True), ("#8c8c8c", False)])
def test_a_named_ink_is_held_against_the_paper(pen: str, light: bool) -> None:
    assert is_light_ink(lighter(0.01, 1.5), SCALE, pen) == (light, 0.0)
    assert channels_of("#0a80ff").tolist() == [10.0, 128.0, 255.0]
