"""Tints of kinds: pale, and neighbours in number far apart in hue."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.colouring.difference import hex_to_srgb, oklab_to_oklch, srgb_to_lab
from fillwork.colouring.difference import srgb_to_oklab as to_oklab
from fillwork.renderers.tints import kind_tints, pale_tint

GOLDEN = 180.0 * (3.0 - 5.0**0.5)  # degrees


def test_hues_go_round_by_the_golden_angle() -> None:
    tints = kind_tints(range(24))
    lab = srgb_to_lab(hex_to_srgb(tints))
    assert ((lab[:, 0] > 84.0) & (lab[:, 0] < 93.0)).all()
    assert len(set(tints)) == 24
    lightness, chroma, hue = oklab_to_oklch(to_oklab(hex_to_srgb(tints))).T
    # within what 255 steps of a channel leave of a hue so pale
    steps = (np.diff(hue) - GOLDEN + 180.0) % 360.0 - 180.0
    assert np.abs(steps).max() < 12.0
    # rounds of eight kinds each have one depth, and the fourth is the first again
    deep = [float(np.mean(chroma[k : k + 8])) for k in (0, 8, 16)]
    assert deep[1] > deep[0] + 0.01 > deep[2] + 0.02
    pale = [float(np.mean(lightness[k : k + 8])) for k in (0, 8, 16)]
    assert pale[1] < pale[0] - 0.02 < pale[2] - 0.03
    fourth = oklab_to_oklch(to_oklab(hex_to_srgb(kind_tints(range(24, 32)))))
    assert fourth[:, 0].mean() == pytest.approx(pale[0], abs=0.005)
    assert fourth[:, 1].mean() == pytest.approx(deep[0], abs=0.005)


@pytest.mark.parametrize(
    ("colour", "pale"),
    # a fifth of the colour on white: 255 - (255 - v) / 5
    [("#ffffff", "#ffffff"), ("#ff0000", "#ffcccc"), ("#5a0a6e", "#decee2")],
)
def test_a_veil_is_a_fifth_of_a_colour(colour, pale) -> None:
    assert pale_tint(colour) == pale
