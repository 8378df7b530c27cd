"""Colour spaces and the differences between colours.

*sRGB* is what a screen shows, 0 to 1 a channel; *linear* sRGB is proportional
to light. *Lab* here always means CIE L*a*b* for the D65 white of CSS Color 4;
*OKLab* and its polar form *OKLCH* serve for mixing, clustering and ordering.
*ΔE00* is the CIEDE2000 difference.

Everything vectorised is plain numpy. Notations other than hex are read by
coloraide, imported on first need; this is the only module that knows it.
Results are rounded to `_DECIMALS` so that machines whose mathematical libraries
differ in the last bits agree.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.errors import PaletteError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from fillwork.arrays import Floats
    from fillwork.colouring.palettes.model import Palette

_DECIMALS = 6
"""Decimals that differences and colour coordinates are rounded to."""

# CSS Color 4 (W3C), sample code for colour conversions: sRGB primaries, D65.
_RGB_TO_XYZ = np.array(
    [
        [506752 / 1228815, 87881 / 245763, 12673 / 70218],
        [87098 / 409605, 175762 / 245763, 12673 / 175545],
        [7918 / 409605, 87881 / 737289, 1001167 / 1053270],
    ]
)
_XYZ_TO_RGB = np.linalg.inv(_RGB_TO_XYZ)
_WHITE = np.array([0.3127 / 0.3290, 1.0, (1.0 - 0.3127 - 0.3290) / 0.3290])
_XYZ_TO_LMS = np.array(
    [
        [0.8190224379967030, 0.3619062600528904, -0.1288737815209879],
        [0.0329836539323885, 0.9292868615863434, 0.0361446663506424],
        [0.0481771893596242, 0.2642395317527308, 0.6335478284694309],
    ]
)
_LMS_TO_OKLAB = np.array(
    [
        [0.2104542683093140, 0.7936177747023054, -0.0040720430116193],
        [1.9779985324311684, -2.4285922420485799, 0.4505937096174110],
        [0.0259040424655478, 0.7827717124575296, -0.8086757549230774],
    ]
)
_OKLAB_TO_LMS = np.linalg.inv(_LMS_TO_OKLAB)
_LMS_TO_XYZ = np.linalg.inv(_XYZ_TO_LMS)
_KAPPA, _EPSILON = 24389.0 / 27.0, 216.0 / 24389.0

_HEX = re.compile(r"#(?:[0-9a-f]{3,4}|[0-9a-f]{6}|[0-9a-f]{8})", re.IGNORECASE)
_LONGEST = 200
_GAMUT_SLACK = 1e-4


@dataclass(frozen=True, slots=True)
class ParsedColour:
    """Hold one colour read from a CSS notation."""

    hex: str  # sRGB as ``#rrggbb``
    # lightness 0 to 1, chroma, hue in degrees, of the hex
    oklch: tuple[float, float, float]
    lab: tuple[float, float, float]  # CIE L*a*b* for D65, of the hex
    # what was changed to get there (mapped into sRGB, transparency left out); empty
    # when nothing was
    doubt: str = ""


def srgb_to_linear(srgb: ArrayLike) -> Floats:
    """Undo the sRGB transfer curve.

    `srgb` (..., 3), 0 to 1: gamma-coded values; negative ones are mirrored. Returns
    (..., 3): values proportional to light.

    References
    ----------
    .. [1] W3C, CSS Color Module Level 4, sample code ``lin_sRGB``.
    """
    value = np.asarray(srgb, dtype=np.float64)
    size = np.abs(value)
    curved = ((size + 0.055) / 1.055) ** 2.4
    return np.where(size <= 0.04045, value / 12.92, np.sign(value) * curved)


def linear_to_srgb(linear: ArrayLike) -> Floats:
    """Apply the sRGB transfer curve.

    `linear` (..., 3): values proportional to light; negative ones are mirrored. Returns
    (..., 3): gamma-coded values, not clipped.

    References
    ----------
    .. [1] W3C, CSS Color Module Level 4, sample code ``gam_sRGB``.
    """
    value = np.asarray(linear, dtype=np.float64)
    size = np.abs(value)
    curved = 1.055 * size ** (1 / 2.4) - 0.055
    return np.where(size <= 0.0031308, value * 12.92, np.sign(value) * curved)


def xyz_to_linear(xyz: ArrayLike) -> Floats:
    """Return linear sRGB of CIE XYZ for D65.

    `xyz` (..., 3): tristimulus values, white at Y = 1. Returns (..., 3): values
    proportional to light, not clipped.
    """
    return np.asarray(np.asarray(xyz, dtype=np.float64) @ _XYZ_TO_RGB.T)


def xyz_to_srgb(xyz: ArrayLike) -> Floats:
    """Return sRGB of CIE XYZ for D65.

    `xyz` (..., 3): tristimulus values, white at Y = 1. Returns (..., 3): sRGB, not
    clipped: values outside 0 to 1 are outside the gamut.
    """
    return linear_to_srgb(xyz_to_linear(xyz))


def srgb_to_lab(srgb: ArrayLike) -> Floats:
    """Return CIE L*a*b* for D65.

    `srgb` (..., 3), 0 to 1: colours. Returns (..., 3): L* 0 to 100, a*, b*.

    References
    ----------
    .. [1] CIE 15:2004, Colorimetry; the white as in CSS Color 4.
    """
    ratio = (srgb_to_linear(srgb) @ _RGB_TO_XYZ.T) / _WHITE
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), (_KAPPA * ratio + 16.0) / 116.0)
    return np.stack(
        [
            116.0 * f[..., 1] - 16.0,
            500.0 * (f[..., 0] - f[..., 1]),
            200.0 * (f[..., 1] - f[..., 2]),
        ],
        axis=-1,
    )


def lab_to_xyz(lab: ArrayLike) -> Floats:
    """Return CIE XYZ for D65 of CIE L*a*b*.

    `lab` (..., 3): L* 0 to 100, a*, b*. Returns (..., 3): tristimulus values, white at
    Y = 1.
    """
    value = np.asarray(lab, dtype=np.float64)
    fy = (value[..., 0] + 16.0) / 116.0
    f = np.stack([fy + value[..., 1] / 500.0, fy, fy - value[..., 2] / 200.0], axis=-1)
    ratio = np.where(f**3 > _EPSILON, f**3, (116.0 * f - 16.0) / _KAPPA)
    return np.asarray(ratio * _WHITE)


def srgb_to_oklab(srgb: ArrayLike) -> Floats:
    """Return OKLab.

    `srgb` (..., 3), 0 to 1: colours. Returns (..., 3): lightness 0 to 1, a, b.

    References
    ----------
    .. [1] B. Ottosson, "A perceptual color space for image processing", 2020;
       matrices as recomputed for CSS Color 4.
    """
    lms: Floats = srgb_to_linear(srgb) @ (_XYZ_TO_LMS @ _RGB_TO_XYZ).T
    return np.asarray(np.cbrt(lms) @ _LMS_TO_OKLAB.T, dtype=np.float64)


def oklab_to_srgb(oklab: ArrayLike) -> Floats:
    """Return sRGB of OKLab.

    `oklab` (..., 3): lightness 0 to 1, a, b. Returns (..., 3): sRGB, not clipped.
    """
    lms = np.asarray(oklab, dtype=np.float64) @ _OKLAB_TO_LMS.T
    return xyz_to_srgb(lms**3 @ _LMS_TO_XYZ.T)


def oklab_to_oklch(oklab: ArrayLike) -> Floats:
    """Return lightness, chroma and hue of OKLab.

    `oklab` (..., 3): lightness 0 to 1, a, b. Returns (..., 3): lightness, chroma, hue
    in degrees from 0 to 360; the hue of a grey (chroma under 4e-6, where CSS Color 4
    calls it powerless) is 0.
    """
    value = np.asarray(oklab, dtype=np.float64)
    chroma = np.hypot(value[..., 1], value[..., 2])
    hue = np.degrees(np.arctan2(value[..., 2], value[..., 1])) % 360.0
    grey = chroma < 4e-6
    return np.stack(
        [value[..., 0], np.where(grey, 0.0, chroma), np.where(grey, 0.0, hue)], axis=-1
    )


def hex_to_srgb(hexes: str | Sequence[str]) -> Floats:
    """Return the channels of hex colours.

    `hexes`: ``#rrggbb``, one or several. Returns (3,) or (n, 3): channels, 0 to 1.

    Examples
    --------
    >>> hex_to_srgb("#ff0000").tolist()
    [1.0, 0.0, 0.0]
    """
    if isinstance(hexes, str):
        return np.asarray(hex_to_srgb([hexes])[0])
    raw = b"".join(bytes.fromhex(h.lstrip("#")) for h in hexes)
    channels = np.frombuffer(raw, dtype=np.uint8).reshape(-1, 3)
    return np.asarray(channels / 255.0, dtype=np.float64)


def srgb_to_hex(srgb: ArrayLike) -> list[str]:
    """Return hex colours, clipped to the gamut; ``#rrggbb`` each.

    `srgb` (n, 3), 0 to 1: colours.
    """
    # rounded first, so that a last bit cannot carry a value over a half
    scaled = np.round(np.clip(np.asarray(srgb, dtype=np.float64), 0, 1) * 255.0, 6)
    table = np.floor(scaled.reshape(-1, 3) + 0.5).astype(np.uint8)
    return ["#" + bytes(row).hex() for row in table]


def parse_colour(text: str) -> ParsedColour:
    """Read a colour in any CSS Color 4 notation.

    Its sRGB hex, and the coordinates of that hex.

    `text`: hex, name, ``rgb() hsl() hwb() lab() lch() oklab() oklch() color()``. Raises
    `PaletteError` if it is no colour.

    A colour outside sRGB is mapped as CSS Color 4 describes: chroma is
    reduced in OKLCH at constant lightness and hue until the clipped colour
    is within 0.02 ΔEOK. Transparency is left out: paint covers.

    Examples
    --------
    >>> parse_colour("color(display-p3 1 0 0)").doubt
    'is outside sRGB and was brought in by less chroma'
    """
    raw = text.strip()
    if _HEX.fullmatch(raw):
        digits = raw[1:]
        if len(digits) <= 4:
            digits = "".join(c + c for c in digits)
        see_through = len(digits) == 8 and digits[6:].lower() != "ff"
        return _of_hex("#" + digits[:6].lower(), outside=False, see_through=see_through)
    return _parse_by_coloraide(raw)


def _parse_by_coloraide(raw: str) -> ParsedColour:
    from coloraide import Color

    lowered = raw.lower()
    colour: Any = None
    if 0 < len(raw) <= _LONGEST and "--" not in raw:
        try:
            colour = Color(lowered)
        except (ValueError, ArithmeticError):
            colour = None
    if colour is None or not np.isfinite(colour.coords(nans=False)).all():
        shown = raw if len(raw) <= 40 else raw[:40] + "…"
        what = f"“{shown}” is no colour" if raw else "the colour is empty"
        mend = "write it as #c9a227, a CSS name, rgb(), hsl(), lab() or oklch()"
        raise PaletteError(what, mend=mend)
    if lowered.startswith("rgb"):
        # CSS Color 4, section 5.1: channels of rgb() are clamped when read
        colour = colour.clip()
    if lowered.startswith(("lab", "lch", "oklab", "oklch")):
        # CSS Color 4, sections 9.2 and 9.3: lightness is clamped when read
        top = 100.0 if lowered.startswith(("lab", "lch")) else 1.0
        colour["lightness"] = min(max(colour.get("lightness", nans=False), 0.0), top)
    see_through = colour.alpha(nans=False) < 1.0
    srgb = colour.convert("srgb")
    outside = not srgb.in_gamut(tolerance=_GAMUT_SLACK)
    if outside:
        srgb = colour.clone().fit("srgb", method="oklch-chroma").convert("srgb")
    (hexed,) = srgb_to_hex([srgb.coords(nans=False)])
    return _of_hex(hexed, outside=outside, see_through=see_through)


def _of_hex(hexed: str, *, outside: bool, see_through: bool) -> ParsedColour:
    srgb = hex_to_srgb(hexed)
    oklch = np.round(oklab_to_oklch(srgb_to_oklab(srgb)), _DECIMALS) + 0.0
    lab = np.round(srgb_to_lab(srgb), _DECIMALS) + 0.0
    doubts = []
    if outside:
        doubts.append("is outside sRGB and was brought in by less chroma")
    if see_through:
        doubts.append("is partly transparent, which was left out")
    a, b, c = (float(v) for v in oklch)
    d, e, f = (float(v) for v in lab)
    return ParsedColour(hexed, (a, b, c), (d, e, f), " and ".join(doubts))


def ciede2000(lab1: ArrayLike, lab2: ArrayLike) -> Floats:
    """Measure the CIEDE2000 colour difference.

    `lab1` and `lab2` (..., 3): CIE L*a*b*; shapes are broadcast against each other.
    Returns (...): ΔE00 with kL = kC = kH = 1, rounded to `_DECIMALS`.

    Hue angles that are opposite up to the last bits make the formula jump
    [1]_; what is opposite within 1e-9 degrees counts as exactly 180 degrees.

    References
    ----------
    .. [1] G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference
       formula: implementation notes, supplementary test data, and
       mathematical observations", Color Research & Application 30(1), 21-30,
       2005, equations 2 to 22.

    Examples
    --------
    >>> float(ciede2000([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485]).round(4))
    2.0425
    """
    first = np.asarray(lab1, dtype=np.float64)
    second = np.asarray(lab2, dtype=np.float64)
    l1, a1, b1 = first[..., 0], first[..., 1], first[..., 2]
    l2, a2, b2 = second[..., 0], second[..., 1], second[..., 2]
    # equations 2 to 7
    mean_c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0) ** 7
    g = 0.5 * (1.0 - np.sqrt(mean_c7 / (mean_c7 + 25.0**7)))
    a1, a2 = a1 * (1.0 + g), a2 * (1.0 + g)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1 = np.degrees(np.arctan2(b1, a1)) % 360.0
    h2 = np.degrees(np.arctan2(b2, a2)) % 360.0
    # equations 8 to 11
    coloured = c1 * c2 != 0.0
    turn = h2 - h1
    far = np.abs(turn) > 180.0 + 1e-9
    step = np.where(far, turn - np.sign(turn) * 360.0, turn) * coloured
    delta_l, delta_c = l2 - l1, c2 - c1
    delta_h = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(step / 2.0))
    # equations 12 to 14
    mean_l, mean_c = (l1 + l2) / 2.0, (c1 + c2) / 2.0
    total = h1 + h2
    shift = np.where(total < 360.0, 360.0, -360.0)
    mean_h = np.where(coloured, np.where(far, total + shift, total) / 2.0, total)
    # equations 15 to 22
    t = (
        1.0
        - 0.17 * np.cos(np.radians(mean_h - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * mean_h))
        + 0.32 * np.cos(np.radians(3.0 * mean_h + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * mean_h - 63.0))
    )
    delta_theta = 30.0 * np.exp(-(((mean_h - 275.0) / 25.0) ** 2))
    r_c = 2.0 * np.sqrt(mean_c**7 / (mean_c**7 + 25.0**7))
    off = (mean_l - 50.0) ** 2
    s_l = 1.0 + 0.015 * off / np.sqrt(20.0 + off)
    s_c = 1.0 + 0.045 * mean_c
    s_h = 1.0 + 0.015 * mean_c * t
    r_t = -np.sin(np.radians(2.0 * delta_theta)) * r_c
    x, y, z = delta_l / s_l, delta_c / s_c, delta_h / s_h
    square = x * x + y * y + z * z + r_t * y * z
    return np.asarray(np.round(np.sqrt(np.maximum(square, 0.0)), _DECIMALS))


def difference_matrix(palette: Palette) -> Floats:
    """Measure ΔE00 between all swatches of a palette.

    Returns (n, n): symmetric, 0 on the diagonal, rounded to `_DECIMALS`.
    """
    lab = np.array([s.lab for s in palette.swatches], dtype=np.float64).reshape(-1, 3)
    upper = np.triu(ciede2000(lab[:, None, :], lab[None, :, :]), 1)
    return np.asarray(upper + upper.T)
