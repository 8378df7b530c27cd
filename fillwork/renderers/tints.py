"""Pale tints that tell kinds apart without competing with the line work."""

from __future__ import annotations

import math


def _oklch_hex(lightness: float, chroma: float, hue: float) -> str:
    """Return an sRGB colour from OKLCH; ``#rrggbb``, clipped to sRGB.

    `lightness`: 0 to 1. `chroma`: 0 to about 0.3. `hue`: degrees.

    Matrices of CSS Color 4 (W3C), section "Sample code for color conversions".
    """
    a = chroma * math.cos(math.radians(hue))
    b = chroma * math.sin(math.radians(hue))
    long = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3
    medium = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3
    short = (lightness - 0.0894841775 * a - 1.2914855480 * b) ** 3
    linear = (
        4.0767416621 * long - 3.3077115913 * medium + 0.2309699292 * short,
        -1.2684380046 * long + 2.6097574011 * medium - 0.3413193965 * short,
        -0.0041960863 * long - 0.7034186147 * medium + 1.7076147010 * short,
    )
    text = "#"
    for value in linear:
        v = min(max(value, 0.0), 1.0)
        v = 12.92 * v if v <= 0.0031308 else 1.055 * v ** (1 / 2.4) - 0.055
        text += f"{round(v * 255):02x}"
    return text


def kind_tint(number: int) -> str:
    """Return the tint of a kind.

    ``#rrggbb`` with L* between 85 and 92; neighbours in number are far apart in hue
    (steps of the golden angle), later rounds differ in depth.

    `number`: place of the kind, from 0.
    """
    hue = (85.0 + number * 137.508) % 360.0
    level = number // 8 % 3
    lightness = (0.915, 0.885, 0.93)[level]
    chroma = (0.065, 0.085, 0.035)[level]
    return _oklch_hex(lightness, chroma, hue)


def pale_tint(colour: str) -> str:
    """Return a colour as a veil of it on white paper.

    A fifth of the colour, the rest white.

    `colour`: ``#rrggbb``.

    Examples
    --------
    >>> pale_tint("#000000")
    '#cccccc'
    """
    parts = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return "#" + "".join(f"{round(255 - 0.2 * (255 - part)):02x}" for part in parts)
