import numpy as np
import pytest

from fillwork.colouring.difference import (
    ciede2000,
    difference_matrix,
    hex_to_srgb,
    lab_to_xyz,
    linear_to_srgb,
    oklab_to_oklch,
    oklab_to_srgb,
    parse_colour,
    srgb_to_hex,
    srgb_to_lab,
    srgb_to_linear,
    srgb_to_oklab,
    xyz_to_srgb,
)
from fillwork.colouring.palettes.file import parse_palette
from fillwork.errors import PaletteError

RNG = np.random.default_rng(3)
SRGB = RNG.random((500, 3))


def test_there_and_back():
    assert np.allclose(linear_to_srgb(srgb_to_linear(SRGB)), SRGB, atol=1e-12)
    assert np.allclose(xyz_to_srgb(lab_to_xyz(srgb_to_lab(SRGB))), SRGB, atol=1e-12)
    oklab = srgb_to_oklab(SRGB)
    assert np.allclose(oklab_to_srgb(oklab), SRGB, atol=1e-9)
    lightness, chroma, hue = oklab_to_oklch(oklab).T
    a, b = chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))
    assert np.allclose(np.stack([lightness, a, b], axis=1), oklab, atol=1e-12)
    every = [f"#{v:02x}{255 - v:02x}{(v * 7) % 256:02x}" for v in range(256)]
    assert srgb_to_hex(hex_to_srgb(every)) == every


def test_ciede2000_is_symmetric_and_zero_on_itself():
    lab = srgb_to_lab(SRGB)
    assert np.array_equal(ciede2000(lab[1:], lab[:-1]), ciede2000(lab[:-1], lab[1:]))
    assert not ciede2000(lab, lab).any()


def test_ciede2000_broadcasts():
    lab = srgb_to_lab(SRGB[:5])
    table = ciede2000(lab[:, None], lab[None])
    assert table.shape == (5, 5)
    assert table[2, 4] == ciede2000(lab[2], lab[4])


def test_difference_matrix_is_symmetric():
    text = "".join(
        f'[[paint]]\nname = "p{i}"\ncolour = "{h}"\n'
        for i, h in enumerate(srgb_to_hex(SRGB[:9]))
    )
    table = difference_matrix(parse_palette(text.encode(), "p.toml"))
    assert np.array_equal(table, table.T)
    assert not np.diag(table).any()
    assert (table + np.eye(9) > 0).all()


@pytest.mark.parametrize(
    ("text", "hexed"),
    [
        ("#f0a", "#ff00aa"),
        (" #F0A8 ", "#ff00aa"),
        ("#ff00aa80", "#ff00aa"),
        ("RED", "#ff0000"),
        ("hwb(0 0% 0%)", "#ff0000"),
        ("hsl(none 0% 50%)", "#808080"),
        ("color(srgb 1 0 0)", "#ff0000"),
        ("color(xyz-d65 0 0 0)", "#000000"),
        ("lab(150 0 0)", "#ffffff"),
        ("oklch(-10% 0.1 20)", "#000000"),
    ],
)
def test_parse_colour(text, hexed):
    assert parse_colour(text).hex == hexed


def test_doubts_are_told():
    assert parse_colour("#ff00aaff").doubt == ""
    assert "transparent" in parse_colour("#ff00aa80").doubt
    outside = parse_colour("color(display-p3 0 1 0 / 0.5)").doubt
    assert "outside sRGB" in outside
    assert "transparent" in outside
    assert parse_colour("color(display-p3 1 1 1)").doubt == ""


@pytest.mark.parametrize(
    "text",
    [
        "",
        "none",
        "#12345",
        "#ggg",
        "currentcolor",
        "color(--oklch 0.5 0.1 20)",
        "var(--x)",
        "device-cmyk(0 1 1 0)",
        "lab(nan 0 0)",
        "x" * 5000,
        "rgb(1e999 0 0",
        "oklch(0.5 1e400 20)",
    ],
)
def test_what_is_no_colour(text):
    with pytest.raises(PaletteError) as caught:
        parse_colour(text)
    assert len(caught.value.what) < 80
    assert caught.value.mend
