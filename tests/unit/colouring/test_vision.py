import re
from dataclasses import replace

import numpy as np
import pytest

from fillwork.colouring.model import Pin, Rules
from fillwork.colouring.palettes.file import list_palettes, parse_palette, read_palette
from fillwork.colouring.search.assign import assign_colours
from fillwork.colouring.vision import (
    TELLABLE,
    VIEWS,
    measure_values,
    measure_views,
    smallest_difference,
    view_notes,
    view_palette,
    view_srgb,
)
from fillwork.errors import PaletteError
from tests.unit.plans.boards import board, colour_board, orbits_of

RED_GREEN = b"""
[[paint]]
name = "red"
colour = "#c04030"
[[paint]]
name = "green"
colour = "#6b7a2a"
[[paint]]
name = "white"
colour = "#ffffff"
[[paint]]
name = "black"
colour = "#101010"
"""


def test_normal_is_the_palette_itself():
    palette = read_palette("quiet-earth")
    assert view_palette(palette, "normal") == palette


@pytest.mark.parametrize("view", VIEWS)
def test_all_but_colour_is_kept(view):
    palette = read_palette("gilded-ceiling")
    seen = view_palette(palette, view)
    for before, after in zip(palette.swatches, seen.swatches, strict=True):
        assert (before.name, before.code, before.pigments, before.share) == (
            after.name,
            after.code,
            after.pigments,
            after.share,
        )


def test_grey_is_grey_and_greys_stay():
    for name in list_palettes():
        seen = view_palette(read_palette(name), "grey")
        for swatch, before in zip(
            seen.swatches, read_palette(name).swatches, strict=True
        ):
            assert swatch.hex[1:3] == swatch.hex[3:5] == swatch.hex[5:7]
            assert swatch.lab[0] == pytest.approx(before.lab[0], abs=0.25)
    greys = np.linspace(0, 1, 11)[:, None] * np.ones(3)
    for view in VIEWS:
        assert np.allclose(view_srgb(greys, view), greys, atol=2e-5)


def test_red_and_green_come_together_for_deutan():
    palette = parse_palette(RED_GREEN, "p.toml")
    normal, _, _ = smallest_difference(palette, "normal")
    apart, one, other = smallest_difference(palette, "deutan")
    assert {palette.swatches[one].name, palette.swatches[other].name} == {
        "red",
        "green",
    }
    assert apart < normal / 3


def test_unknown_view():
    with pytest.raises(PaletteError, match="protan, deutan"):
        view_palette(read_palette("quiet-earth"), "sepia")


def test_one_swatch_has_no_difference():
    one = parse_palette(b"[[paint]]\nname='a'\ncolour='red'\n", "p.toml")
    apart, _, _ = smallest_difference(one, "normal")
    assert np.isnan(apart)


def test_views_of_a_colouring_say_what_to_change():
    palette = parse_palette(RED_GREEN, "p.toml")
    squares = board(4, 4)
    kinds = [(x + y) % 2 for y in range(4) for x in range(4)]
    orbits = orbits_of(squares, kinds)
    colouring, adjacency = colour_board(squares, orbits, palette, [0, 1])
    views = measure_views(squares, orbits, adjacency, colouring)
    assert "Machado" in views["model"]
    assert set(views) == {"model", *VIEWS}
    assert views["normal"]["smallest_difference"] > 20
    assert views["deutan"]["between"] == ["red", "green"]
    (warning,) = [w for w in views["deutan"]["warnings"] if "deutan" in w]
    assert "give kind A" in warning or "give kind B" in warning


def red_and_green(**wishes):
    """Return a board in red and green with wishes, and its deutan warning."""
    palette = parse_palette(RED_GREEN, "p.toml")
    squares = board(4, 4)
    kinds = [(x + y) % 2 for y in range(4) for x in range(4)]
    orbits = orbits_of(squares, kinds)
    colouring, adjacency = colour_board(squares, orbits, palette, [0, 1])
    colouring = replace(colouring, rules=Rules(**wishes))
    views = measure_views(squares, orbits, adjacency, colouring)
    (warning,) = [w for w in views["deutan"]["warnings"] if "deutan" in w]
    return warning, (squares, orbits, adjacency, palette)


def test_what_is_to_be_changed_is_an_option_that_helps():
    warning, scene = red_and_green()
    assert warning.startswith("where kinds A and B touch, red and green")
    letter, name = re.search(r'--pin "(\w)=(\w+)"', warning).groups()
    squares, orbits, adjacency, palette = scene
    other = "A" if letter == "B" else "B"
    stays = "red" if other == "A" else "green"
    rules = Rules(pins=(Pin(letter, name), Pin(other, stays)))
    mended = assign_colours(squares, orbits, adjacency, palette, rules)
    found = measure_views(squares, orbits, adjacency, mended)
    assert found["deutan"]["smallest_difference"] >= TELLABLE
    assert found["normal"]["smallest_difference"] >= 20.0


def test_wishes_are_not_advised_against():
    warning, _ = red_and_green(pins=(Pin("A", "red"),))
    assert "give kind B" in warning
    warning, _ = red_and_green(pins=(Pin("A", "red"), Pin("B", "green")))
    assert "--outline" in warning
    warning, _ = red_and_green(most=2)
    assert "--outline" in warning
    bans = tuple((k, s) for k in "AB" for s in ("white", "black"))
    warning, _ = red_and_green(bans=bans)
    assert "--outline" in warning
    warning, _ = red_and_green(bans=bans[:2])
    assert "give kind B" in warning


def test_wishes_at_points_and_by_name_hold_too():
    # (5, 5) lies in kind A, (15, 5) in kind B
    warning, _ = red_and_green(pins=(Pin("@5,5", "red"),))
    assert "give kind B" in warning
    warning, _ = red_and_green(pins=(Pin("@5,5", "red"), Pin(" kind 1 ", "green")))
    assert "--outline" in warning
    bans = tuple((k, s) for k in ("@5,5", "@15,5") for s in ("white", "black"))
    warning, _ = red_and_green(bans=bans)
    assert "--outline" in warning


def test_the_outline_is_not_advised_for_regions():
    for line, other in (("white", "black"), ("black", "white")):
        warning, _ = red_and_green(outline=line)
        assert f"={other}" in warning


def test_all_colours_of_what_alternates_count():
    # three squares in a row: kind B in red and white on both sides of A in green
    palette = parse_palette(RED_GREEN, "p.toml")
    squares = board(3, 1)
    orbits = orbits_of(squares, [1, 0, 1])
    colouring, adjacency = colour_board(squares, orbits, palette, [1, 0])
    of_face = np.array([-1, 0, 1, 2], np.int32)
    colouring = replace(colouring, of_face=of_face, goal=0.0)
    views = measure_views(squares, orbits, adjacency, colouring)
    (warning,) = [w for w in views["deutan"]["warnings"] if "red and green" in w]
    # white lies farther from red, and touches white
    assert '--pin "A=black"' in warning
    # a third of the area each in red, green and white
    light = [palette.swatches[k].lab[0] for k in range(3)]
    values = views["grey"]["values"]
    assert values["range"] == pytest.approx(max(light) - min(light), abs=1e-3)
    assert values["spread"] == pytest.approx(float(np.std(light)), abs=1e-3)


def test_notes_of_a_view_part_what_is_from_what_to_do():
    palette = parse_palette(RED_GREEN, "p.toml")
    squares = board(2, 1)
    orbits = orbits_of(squares, [0, 1])
    colouring, adjacency = colour_board(squares, orbits, palette, [0, 1])
    views = measure_views(squares, orbits, adjacency, colouring)
    (note,) = view_notes(views, "deutan")
    assert "hard to tell apart in deutan vision" in note.text
    assert note.remedy.startswith("give kind")
    # in grey: the values are too close, and the palette has wider ones
    texts = {note.text.split(",")[0]: note.remedy for note in view_notes(views, "grey")}
    (remedy,) = [r for t, r in texts.items() if t.startswith("lights and darks")]
    assert "white (L* 100)" in remedy
    assert "black (L* 5)" in remedy


def test_views_where_nothing_touches():
    palette = parse_palette(RED_GREEN, "p.toml")
    squares = board(1, 1)
    orbits = orbits_of(squares, [0])
    colouring, adjacency = colour_board(squares, orbits, palette, [2])
    views = measure_views(squares, orbits, adjacency, colouring)
    assert views["protan"]["smallest_difference"] is None
    assert views["grey"]["values"]["range"] == 0.0


def test_values_by_hand():
    # half at L* 20, half at L* 80: range 60, standard deviation 30
    values = measure_values([20.0, 80.0, 50.0], [1.0, 1.0, 0.0])
    assert values["range"] == 60.0
    assert values["spread"] == 30.0
    assert (values["dark"], values["mid"], values["light"]) == (0.5, 0.0, 0.5)
    assert values["warnings"] == []
    assert len(measure_values([50.0, 55.0], [1.0, 1.0])["warnings"]) == 2
    assert measure_values([], [])["range"] == 0.0
