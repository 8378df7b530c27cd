import dataclasses
import math

from fillwork.colouring.palettes.check import check_palette, report_text
from fillwork.colouring.palettes.file import list_palettes, parse_palette, read_palette
from fillwork.colouring.palettes.pigments import (
    HAZARDS,
    PIGMENTS,
    generic_name,
    hazards_of,
)

BAD = b"""
[[paint]]
name = "cadmium red"
colour = "#c8322b"
pigments = ["PR108"]
medium = "oil"
lightfastness = "III"
[[paint]]
name = "nearly red"
colour = "#c3352d"
medium = "lime wash"
pigments = ["PB27"]
[[paint]]
name = "mystery"
colour = "#a03030"
"""


def test_shipped_palettes_pass():
    for name in list_palettes():
        report = check_palette(read_palette(name))
        assert report.missing_cautions == (), name
        assert report.doubts == (), name
        assert min(d for v, d, _, _ in report.smallest if v == "normal") >= 10.0, name


def test_what_is_doubtful_is_said():
    report = check_palette(parse_palette(BAD, "bad.toml"))
    assert report.missing_cautions == (("cadmium red", HAZARDS["cadmium"]),)
    told = " ".join(report.doubts)
    for word in (
        "cadmium red and nearly red are near-twins (ΔE00",
        "add a light or a dark",
        "ground",
        "fade",
        "lime",
        "mys",
    ):
        assert word in told, word
    text = report_text(report)
    assert "Cadmium" in text
    assert "ΔE00" in text


def test_a_caution_that_is_told_is_not_missing():
    text = BAD.replace(b'"III"', b'"I"\ncautions = ["Holds cadmium: no sanding."]')
    assert check_palette(parse_palette(text, "p.toml")).missing_cautions == ()


def test_one_swatch():
    one = parse_palette(b"[[paint]]\nname='a'\ncolour='red'\n", "p.toml")
    report = check_palette(one)
    assert all(math.isnan(d) for _, d, _, _ in report.smallest)
    assert "near-twins" not in " ".join(report.doubts)
    assert "red" not in report_text(report).splitlines()[3]


def test_report_is_frozen():
    assert dataclasses.is_dataclass(check_palette(read_palette("quiet-earth")))


def test_generic_names():
    for text in ("PB29", "pb 29", "C.I. PB29", "CI PB29", "pB29"):
        assert generic_name(text) == "PB29"
    assert generic_name("pb15:3") == "PB15:3"
    assert generic_name("PBK11") == "PBk11"
    for text in ("", "blue", "PX3", "PB", "29"):
        assert generic_name(text) == ""
    assert all(generic_name(p) == p for p in PIGMENTS)
    assert all(h in HAZARDS for p in PIGMENTS.values() for h in p.hazards)
    assert hazards_of(("PY34", "PB28", "PB999")) == ("cobalt", "lead", "chromate")
