import contextlib
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwork.colouring.palettes.file import (
    MEDIA,
    list_palettes,
    palette_to_toml,
    parse_palette,
    read_palette,
)
from fillwork.errors import PaletteError
from fillwork.pipeline.taking import load_palette, take_palette
from fillwork.plans.model import Plan

TWO = """\
name = "Two"
[[paint]]
name = "chalk"
colour = "#f7f7f5"
[[paint]]
name = "soot"
colour = "oklch(20% 0.01 60)"
"""


def wrong(text: str) -> PaletteError:
    with pytest.raises(PaletteError) as caught:
        parse_palette(text.encode(), "p.toml")
    return caught.value


def test_shipped_palettes_are_sound():
    names = list_palettes()
    assert len(names) >= 14
    assert "quiet-earth" in names
    for name in names:
        palette = read_palette(name)
        assert palette.notes == (), name
        assert 6 <= len(palette.swatches) <= 16
        light = [s.lab[0] for s in palette.swatches]
        assert max(light) - min(light) >= 45, name
        assert palette.source
        assert palette.note
        assert sum(s.role == "ground" for s in palette.swatches) == 1
        assert all(s.role and s.share and s.medium for s in palette.swatches)
        assert sum(s.share or 0 for s in palette.swatches) <= 1.0 + 1e-9


def test_a_palette_survives_writing():
    for name in list_palettes():
        palette = read_palette(name)
        again = parse_palette(palette_to_toml(palette).encode(), palette.file)
        assert again.swatches == palette.swatches
        assert (again.name, again.note) == (palette.name, palette.note)


def test_names_are_found_loosely_and_nearest_told():
    assert read_palette("Quiet Earth").name == "Quiet earth"
    with pytest.raises(PaletteError, match="nearest: quiet-earth"):
        read_palette("quite-earth")
    with pytest.raises(PaletteError, match=r"take .*quiet-earth"):
        read_palette("zzzzzzzz")


def test_files(tmp_path: Path):
    (tmp_path / "mine.toml").write_text(TWO)
    assert read_palette(tmp_path / "mine.toml").file == "mine.toml"
    assert read_palette("mine.toml", folder=tmp_path).name == "Two"
    with pytest.raises(PaletteError, match=r"missing\.toml"):
        read_palette(tmp_path / "missing.toml")
    with pytest.raises(PaletteError, match="is no plain file"):
        read_palette(tmp_path)
    with pytest.raises(PaletteError, match="cannot be read"):
        read_palette("a\0b.toml")


def test_defaults():
    palette = parse_palette(("medium = 'oil'\ncoverage = 9\n" + TWO).encode(), "p.toml")
    first, second = palette.swatches
    assert (first.code, second.code) == ("1", "2")
    assert first.medium == "oil"
    assert second.coverage == 9.0
    assert palette.swatches[1].lab[0] < 20


def test_a_code_may_be_a_number():
    text = TWO.replace('"chalk"', '"chalk"\ncode = 7')
    assert parse_palette(text.encode(), "p.toml").swatches[0].code == "7"


@pytest.mark.parametrize(
    ("text", "what", "line", "mend"),
    [
        (TWO.replace('colour = "#f', 'colr = "#f'), "“colr”", 4, "colour"),
        (TWO.replace('colour = "#f', 'color = "#f'), "“color”", 4, "colour"),
        (TWO.replace('name = "Two"', 'titel = "Two"'), "“titel”", 1, "known"),
        (TWO.replace("#f7f7f5", "#f7f7f"), "no colour", 4, "#c9a227"),
        (TWO.replace("soot", "Chalk"), "already", 6, "own"),
        (TWO + "code = '1'", "already", 8, "own"),
        (TWO + "code = 'chalk'", "already", 8, "own"),
        (TWO + "opacity = 'opak'", "“opak”", 8, "opaque"),
        (TWO + "lightfastness = 'VI'", "“VI”", 8, "V"),
        (TWO + "role = 'grund'", "“grund”", 8, "ground"),
        (TWO + "share = 3", "share", 8, "0.15"),
        (TWO + "share = 'lots'", "share", 8, "0.15"),
        (TWO + "share = true", "share", 8, "0.15"),
        (TWO + "coverage = 0", "coverage", 8, "10.0"),
        (TWO + "coverage = nan", "coverage", 8, "10.0"),
        (TWO + "pigments = [1]", "list of texts", 8, "["),
        (TWO + "note = 4", "text in quotes", 8, "note"),
        (TWO + "name = 'x'", "TOML", 8, "format"),
        (TWO + "share = ", "TOML", 8, "format"),
        (TWO.replace("soot", "a=b"), "“a=b”", 6, "leave out"),
        (TWO.replace("soot", "none"), "“none”", 6, "taken"),
        (TWO.replace("soot", " "), "no name", 6, "name"),
        (TWO.replace("soot", "x" * 61), "61 characters", 6, "shorten"),
        (TWO.replace('colour = "#f7f7f5"\n', ""), "no colour", 2, "add"),
        ("name = '''\n[[paint]]\n'''\n" + TWO[13:] + "rol = 1", "“rol”", 10, "role"),
        ("paint = 3", "[[paint]]", 1, ""),
    ],
)
def test_what_is_wrong_is_named(text, what, line, mend):
    error = wrong(text)
    assert what in error.what
    assert f"line {line}" in error.where
    assert mend in error.mend


def test_how_many():
    assert "no paint" in wrong("name = 'empty'").what
    assert "no paint" in wrong("").what
    many = "".join(
        f'[[paint]]\nname = "p{i}"\ncolour = "#{i:06x}"\n' for i in range(301)
    )
    assert "301" in wrong(many).what
    fewer = many.rpartition("[[paint]]")[0]
    assert len(parse_palette(fewer.encode(), "p.toml").swatches) == 300
    one = parse_palette(b"[[paint]]\nname='a'\ncolour='red'\n", "p.toml")
    assert [n.type for n in one.notes] == ["one swatch"]


def test_doubts_become_notes():
    text = (
        TWO.replace("oklch(20% 0.01 60)", "color(display-p3 0 1 0)")
        + "medium = 'gouach'\npigments = ['PB29', 'pbr 7', 'mud', 'PR999']\n"
        + "[[paint]]\nname = 'other'\ncolour = '#F7F7F5'\n"
    )
    palette = parse_palette(text.encode(), "p.toml")
    kinds = [n.type for n in palette.notes]
    assert kinds == [
        "outside sRGB",
        "unknown medium",
        "unknown pigment",
        "unknown pigment",
        "identical colours",
    ]
    assert palette.swatches[1].pigments == ("PB29", "PBr7", "mud", "PR999")
    assert "gouache" in palette.notes[1].remedy
    assert palette.notes[0].source == ("p.toml", 7)


def test_shares_past_the_whole():
    text = TWO + "share = 0.7\n"
    text = text.replace('"chalk"', '"chalk"\nshare = "60%"')
    assert "130 %" in wrong(text).what


@pytest.mark.parametrize(
    "data",
    [b"\xff\xfe\x00", b"\x00" * 50, b"<svg/>", b"a" * 1_000_001, b"x = [" * 5000],
)
def test_what_is_no_palette(data):
    with pytest.raises(PaletteError, match=r"p\.toml"):
        parse_palette(data, "p.toml")


@given(st.binary(max_size=300))
def test_any_bytes_give_a_palette_or_an_error(data):
    with contextlib.suppress(PaletteError):
        assert parse_palette(data, "p.toml").swatches


@given(
    st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=40),
    st.sampled_from(MEDIA),
)
def test_names_survive_writing(name, medium):
    quoted = "".join(f"\\U{ord(c):08x}" for c in name)
    text = f'[[paint]]\nname = "{quoted}"\ncolour = "red"\nmedium = "{medium}"\n'
    try:
        palette = parse_palette(text.encode(), "p.toml")
    except PaletteError:
        return
    again = parse_palette(palette_to_toml(palette).encode(), "p.toml")
    assert again.swatches == palette.swatches


@pytest.mark.parametrize("size", ["1000 L", "1.23456789 L", "250 mL", "0.00001 mL"])
def test_sizes_that_have_a_price_survive_writing(size):
    text = f'[[paint]]\nname = "a"\ncolour = "red"\nprice = {{"{size}" = 9}}\n'
    palette = parse_palette(text.encode(), "p.toml")
    again = parse_palette(palette_to_toml(palette).encode(), "p.toml")
    assert again.swatches == palette.swatches


@pytest.mark.parametrize("character", ["\\u007f", "\\n", "\\u001b"])
def test_a_name_that_has_a_price_prints(character):
    paint = '[[paint]]\nname = "a"\ncolour = "red"\n'
    text = f'[prices]\n"tape{character}" = 4\n{paint}'
    with pytest.raises(PaletteError, match=r"control character|steers the screen"):
        parse_palette(text.encode(), "p.toml")


def test_reading_a_palette_of_hex_loads_no_coloraide():
    code = (
        "import sys; from fillwork.colouring.palettes.file import read_palette; "
        "read_palette('quiet-earth'); sys.exit('coloraide' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_long_file_name_gives_a_name_that_reads_back(tmp_path: Path):
    path = tmp_path / f"{'wall ' * 20}.toml"
    path.write_text('[[paint]]\nname = "a"\ncolour = "red"\n')
    palette = read_palette(path)
    assert len(palette.name) == 60
    assert parse_palette(palette_to_toml(palette).encode(), "a.toml") is not None
    # and in a plan, which takes the file whole
    assert load_palette(take_palette(Plan(), path)).name == palette.name
