import numpy as np
import pytest

from fillwork.colouring.difference import hex_to_srgb, srgb_to_lab, srgb_to_linear
from fillwork.colouring.palettes.file import parse_palette, read_palette
from fillwork.colouring.palettes.model import Palette
from fillwork.errors import PaletteError
from fillwork.plans.mixing import HandPaint, find_mixes, parse_paints
from fillwork.plans.spectra import (
    absorb,
    linear_of,
    mix_reflectance,
    rebuild_reflectance,
    reflect,
)

HAND = """
white = "white"
[[paint]]
name = "white"
colour = "#f8f7f2"
[[paint]]
name = "blue"
colour = "#1f2a72"
pigments = ["PB29"]
"""


def test_curves_give_back_their_colours():
    rng = np.random.default_rng(2)
    corners = np.array([[i >> 2 & 1, i >> 1 & 1, i & 1] for i in range(8)], float)
    linear = srgb_to_linear(np.vstack([rng.random((200, 3)), corners]))
    curves = rebuild_reflectance(linear)
    assert curves.min() > 0
    assert curves.max() < 1
    assert np.abs(linear_of(curves) - np.clip(linear, 2e-4, 0.985)).max() < 1e-7


def test_kubelka_munk_there_and_back():
    curve = np.linspace(0.02, 0.98, 36)
    assert np.allclose(reflect(absorb(curve)), curve, atol=1e-9)
    same = mix_reflectance(absorb(np.array([curve, curve])), [0.3, 0.7])
    assert np.allclose(same, curve, atol=1e-9)


def test_a_tint_calibrates_the_strength():
    paints = parse_paints(HAND.encode(), "hand.toml").paints
    ratios = absorb(
        rebuild_reflectance(srgb_to_linear(hex_to_srgb([p.swatch.hex for p in paints])))
    )
    for strength in (0.2, 1.0, 4.0):
        curve = mix_reflectance(ratios, np.array([6.0, strength]))
        from fillwork.colouring.difference import linear_to_srgb, srgb_to_hex

        (tint,) = srgb_to_hex(linear_to_srgb(linear_of(curve))[None])
        text = HAND + f'tint = "{tint}"\ntint_parts = 6\n'
        found = parse_paints(text.encode(), "hand.toml")
        assert found.paints[1].strength == pytest.approx(strength, rel=0.05)
        assert found.paints[1].calibrated
        assert found.notes == ()


def test_a_paint_that_is_there_is_taken_as_it_is():
    palette = read_palette("quiet-earth")
    paints = [HandPaint(s) for s in palette.swatches]
    for swatch, recipe in zip(
        palette.swatches, find_mixes(palette.swatches, paints), strict=True
    ):
        assert recipe.text == f"{swatch.name} as it is"
        assert recipe.difference < 0.6
        assert recipe.remark.startswith("A starting point: paint a swatch first")


def test_a_mix_that_is_known_is_found_again():
    white, ochre, blue = Palette.from_colours(
        {"white": "#f8f7f2", "ochre": "#c08a30", "blue": "#1f2a72"}
    ).swatches
    paints = [HandPaint(white), HandPaint(ochre, 0.5, True), HandPaint(blue, 0.3, True)]
    ratios = absorb(
        rebuild_reflectance(srgb_to_linear(hex_to_srgb([p.swatch.hex for p in paints])))
    )
    amounts = np.array([3.0, 2 * 0.5, 1 * 0.3])
    from fillwork.colouring.difference import linear_to_srgb, srgb_to_hex

    (target,) = srgb_to_hex(
        linear_to_srgb(linear_of(mix_reflectance(ratios, amounts)))[None]
    )
    swatches = parse_palette(
        f'[[paint]]\nname="t"\ncolour="{target}"\n'.encode(), "p.toml"
    ).swatches
    (recipe,) = find_mixes(swatches, paints)
    assert recipe.difference < 1.5
    assert {p.name for p, _ in recipe.parts} >= {"white", "ochre"}
    lab = srgb_to_lab(hex_to_srgb(recipe.hex))
    assert np.abs(lab - swatches[0].lab).max() < 4


def test_more_paints_never_do_worse():
    palette = read_palette("harbour-morning")
    names = read_palette("quiet-earth").swatches
    few = [HandPaint(s) for s in names[:4]]
    many = [HandPaint(s) for s in names[:7]]
    for a, b in zip(
        find_mixes(palette.swatches, few),
        find_mixes(palette.swatches, many),
        strict=True,
    ):
        dear = [
            r.difference + 0.6 * (len(r.parts) - 1) + 0.05 * sum(n for _, n in r.parts)
            for r in (a, b)
        ]
        assert dear[1] <= dear[0] + 0.01


def test_far_colours_are_said_to_be_far():
    swatches = parse_palette(b"[[paint]]\nname='t'\ncolour='lime'\n", "p").swatches
    (white,) = Palette.from_colours({"white": "#ffffff"}).swatches
    (recipe,) = find_mixes(swatches, [HandPaint(white)])
    assert "comes near" in recipe.remark


def test_a_palette_file_serves_as_paints_on_hand():
    from fillwork.colouring.palettes.file import palette_to_toml

    text = palette_to_toml(read_palette("quiet-earth"))
    found = parse_paints(text.encode(), "q.toml")
    assert len(found.paints) == 10
    assert found.notes == ()


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "0 paints"),
        (HAND.replace('"white"\n[[', '"whte"\n[['), "whte"),
        (HAND + "tint = 'x'", "no colour"),
        (HAND + "tint_parts = 0", "tint_parts"),
        (HAND + "strength = -1", "strength"),
        (HAND + "strenth = 1", "strenth"),
        (HAND + "colour = 'red'", "TOML"),
    ],
)
def test_what_is_wrong_is_named(text, what):
    with pytest.raises(PaletteError, match=what) as caught:
        parse_paints(text.encode(), "hand.toml")
    assert "hand.toml" in caught.value.where


def test_unknown_pigments_and_strange_tints_are_noted():
    text = HAND.replace('"PB29"', '"mud"') + 'tint = "#ff0000"\n'
    notes = parse_paints(text.encode(), "hand.toml").notes
    assert [n.type for n in notes] == ["unknown pigment", "tint does not fit"]
