"""Colour differences and conversions against what others published."""

from pathlib import Path

import numpy as np
import pytest
from coloraide import Color

from fillwork.colouring.difference import (
    ciede2000,
    hex_to_srgb,
    oklab_to_oklch,
    parse_colour,
    srgb_to_lab,
    srgb_to_linear,
    srgb_to_oklab,
)

PAIRS = np.loadtxt(
    Path(__file__).parent / "data" / "ciede2000.csv", delimiter=",", skiprows=2
)


@pytest.mark.reference("Sharma, Wu & Dalal 2005, table 1")
def test_ciede2000_pairs_one_way_and_the_other():
    first, second, expected = PAIRS[:, 1:4], PAIRS[:, 4:7], PAIRS[:, 7]
    assert len(expected) == 34
    assert np.abs(ciede2000(first, second) - expected).max() < 5.1e-5
    assert np.abs(ciede2000(second, first) - expected).max() < 5.1e-5


@pytest.mark.reference("coloraide, delta_e method 2000")
def test_ciede2000_agrees_with_coloraide():
    rng = np.random.default_rng(7)
    lab = srgb_to_lab(rng.random((301, 3)))
    ours = ciede2000(lab[:-1], lab[1:])
    theirs = [
        Color("lab-d65", a).delta_e(Color("lab-d65", b), method="2000")
        for a, b in zip(lab[:-1].tolist(), lab[1:].tolist(), strict=True)
    ]
    assert np.abs(ours - theirs).max() < 1e-6


@pytest.mark.reference("coloraide, conversions to lab-d65, oklab, srgb-linear")
def test_conversions_agree_with_coloraide():
    rng = np.random.default_rng(8)
    srgb = np.vstack([rng.random((200, 3)), np.eye(3), np.zeros(3), np.ones(3)])
    for space, ours in (
        ("lab-d65", srgb_to_lab(srgb)),
        ("oklab", srgb_to_oklab(srgb)),
        ("srgb-linear", srgb_to_linear(srgb)),
    ):
        theirs = [Color("srgb", c).convert(space).coords() for c in srgb.tolist()]
        assert np.abs(ours - theirs).max() < 1e-9, space


# W3C, CSS Color Module Level 4, https://www.w3.org/TR/css-color-4/: section 7,
# examples on HSL lightness and hue ("In OkLCh, sRGB blue is ...")
SPEC_OKLCH = [
    ("blue", 0.452, 0.313, 264.1),
    ("yellow", 0.968, 0.211, 109.8),
    ("hsl(220deg 100% 50%)", 0.533, 0.26, 262.6),
    ("hsl(250deg 100% 50%)", 0.462, 0.306, 268.9),
    ("hsl(50deg 100% 50%)", 0.882, 0.181, 94.24),
    ("hsl(80deg 100% 50%)", 0.91, 0.245, 129.9),
]


@pytest.mark.reference("W3C CSS Color 4, section 7, examples")
@pytest.mark.parametrize(("css", "light", "chroma", "hue"), SPEC_OKLCH)
def test_oklch_of_the_standard(css, light, chroma, hue):
    # half a unit of the printed digit, and half a step of the 8-bit hex
    got = parse_colour(css).oklch
    assert got[0] == pytest.approx(light, abs=0.0015)
    assert got[1] == pytest.approx(chroma, abs=0.0015)
    assert got[2] == pytest.approx(hue, abs=0.25)


# W3C, CSS Color Module Level 4: tables of HSL examples, 0° Reds, and the
# sections on hex notation, named colours, lab() and lch()
SPEC_HEX = [
    ("hsl(0 80% 90%)", (250, 209, 209)),
    ("hsl(0 60% 60%)", (214, 92, 92)),
    ("hsl(0 20% 40%)", (122, 82, 82)),
    ("hsl(0 40% 10%)", (36, 15, 15)),
    ("hsl(0 0% 70%)", (179, 179, 179)),
    ("rebeccapurple", (102, 51, 153)),
    ("PeachPuff", (255, 218, 185)),
    ("#0F0", (0, 255, 0)),
    ("lightgoldenrodyellow", (250, 250, 210)),
    ("rgb(300 0 0)", (255, 0, 0)),
]


@pytest.mark.reference("W3C CSS Color 4, tables of HSL and of named colours")
@pytest.mark.parametrize(("css", "rgb"), SPEC_HEX)
def test_hex_of_the_standard(css, rgb):
    assert parse_colour(css).hex == "#" + bytes(rgb).hex()


# csstools, css-color-parser, test/basic/oklab.mjs (MIT-0): the oklab() examples of
# CSS Color 4 and colours outside sRGB, mapped as that standard describes.
# Expected values are rounded 8-bit channels; the search for the chroma stops
# within its tolerance, so one unit is allowed.
OTHERS = [
    ("oklab(40% 0.001236 0.0039)", (73, 71, 69)),
    ("oklab(60% 0.1 0)", (177, 102, 126)),
    ("oklab(40.101% 0.1147 0.0453)", (125, 35, 41)),
    ("oklab(59.686% 0.1009 0.1192)", (198, 93, 7)),
    ("oklab(65.125% -0.0320 0.1274)", (157, 147, 24)),
    ("oklab(66.016% -0.1084 0.1114)", (104, 166, 57)),
    ("oklab(72.322% -0.0465 -0.1150)", (98, 172, 239)),
    ("oklab(4 0 0.1)", (255, 255, 255)),
    ("oklab(-0.4 0 0)", (0, 0, 0)),
    ("oklab(0.5 -0.4 0.4)", (48, 118, 0)),
    ("oklab(0.5 -1 1)", (48, 118, 0)),
    ("oklab(0.5 0 -0.1)", (77, 95, 156)),
]


@pytest.mark.reference("csstools css-color-parser, tests of oklab()")
@pytest.mark.parametrize(("css", "rgb"), OTHERS)
def test_oklab_and_mapping_agree_with_another_library(css, rgb):
    got = np.round(hex_to_srgb(parse_colour(css).hex) * 255)
    assert np.abs(got - rgb).max() <= 1


@pytest.mark.reference("colord, tests of lab() and lch(), after CSS Color 4")
@pytest.mark.parametrize(
    ("css", "expected"),
    [
        ("lab(29.2345% 39.3825 20.0664)", "#7d2329"),
        ("lab(67.5345% -8.6911 -41.6019)", "#62acef"),
        ("lch(29.2345% 44.2 27)", "#7d2329"),
    ],
)
def test_lab_and_lch_of_the_standard(css, expected):
    assert parse_colour(css).hex == expected


@pytest.mark.reference("Ottosson 2020: white is L 1, a 0, b 0")
def test_oklab_of_white_and_black():
    grey = srgb_to_oklab([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]])
    assert np.abs(grey - [[1, 0, 0], [0, 0, 0]]).max() < 1e-6
    assert oklab_to_oklch(grey)[0, 2] == 0.0
