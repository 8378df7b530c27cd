"""Files of choices and names made to do harm: one gate in, one gate out."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from fillwork.cli.main import main
from fillwork.errors import PlanError
from fillwork.pipeline.checks import check_plan
from fillwork.pipeline.taking import read_plan
from fillwork.plans.model import Plan, SheetSettings
from fillwork.printing import visible
from fillwork.tomlfile import LONGEST_TEXT, MOST_BYTES, parse_toml

ROOT = Path(__file__).resolve().parents[2]
DRAWING = ROOT / "demo" / "drawings" / "bench-border.svg"
PALETTE = (ROOT / "palettes" / "quiet-earth.toml").read_text()


# The values that TOML 1.0 has (https://toml.io/en/v1.0.0)


def test_ordinary_values_come_through():
    text = (
        'a = "x # [[[[[[[[[[[[[[ not a comment"\n'
        "b = '''[[[[[[[[[[[[[[\n{{{'''  # 1.2.3.4.5.6.7.8.9.10.11.12.13.14\n"
        'c = """quotes "" inside \\""" and \\\\"""\n'
        "d = [[1, 2.5], [-9_223_372_036_854_775_808, 0xff]]\n"
        '"e.f" = true\n[g.h.i]\n"1.2.3.4.5.6.7.8.9.10.11.12.13" = \'\'\n'
    )
    read, table = parse_toml(b"\xef\xbb\xbf" + text.encode(), "a.toml")
    assert read == text
    assert table["a"].endswith("comment")
    assert table["b"] == "[[[[[[[[[[[[[[\n{{{"
    assert table["c"] == 'quotes "" inside """ and \\'
    assert table["d"] == [[1, 2.5], [-(2**63), 255]]
    assert table["e.f"] is True
    assert list(table["g"]["h"]["i"].values()) == [""]


HARMFUL = {
    "long number": ("seed = " + "9" * 5_000, "40 digits"),
    "long number below": ("\n\nseed = " + "9" * 41, "line 3"),
    "underscores": ("seed = 1" + "_0" * 3_000, "40 digits"),
    "more than 64 bits": ("seed = 9223372036854775808", "64 bits"),
    "hexadecimal": ("seed = 0x" + "f" * 100_000, "64 bits"),
    "long fraction": ("a = 0." + "3" * 9_000, "40 digits"),
    "date": ("a = 2020-01-01", "date"),
    "time": ("a = [07:32:00]", "date"),
    "lists in lists": ("a = " + "[" * 5_000 + "]" * 5_000, "brackets"),
    "tables in tables": ("a = " + "{a = " * 3_000 + "1" + "}" * 3_000, "brackets"),
    "lists left open": ("[" * 400_000, "brackets"),
    "long key": ("a" + ".a" * 200_000 + " = 1", "12 parts"),
    "long quoted key": ('"a"' + '."a"' * 100_000 + " = 1", "12 parts"),
    "long header": ("[a" + " . a" * 100_000 + "]", "12 parts"),
    "key of a megabyte": ("k" * 900_000 + " = 1", "too long for a key"),
    "text of a megabyte": ('title = "' + "x" * 900_000 + '"', "characters"),
    "control character": ('a = "red\\u001b[31m"', "control character"),
    "control in a key": ('"a\\u0007" = 1', "steers"),
    "direction turned": ('a = "abc\\u202etxt"', "control character"),
    "no text": (b"a = '\xff\xfe'", "UTF-8"),
    "nothing closed": ('a = "' + '\\"' * 400_000, "TOML"),
    "quotes": ('"' * 900_001, "TOML"),
    "apostrophes": ("'" * 900_001, "TOML"),
    "quotes in turn": ("\"'" * 400_000, "TOML"),
    "backslashes": ('"""' + "\\" * 900_000, "TOML"),
    "equals": ("=" * 900_000, "TOML"),
    "too large": ("#" * (MOST_BYTES + 1), "kB"),
    "many values": ("a = [" + "1," * 250_000 + "]", "200,000"),
}
LARGE = {
    "tables by the thousand": "[[a]]\n" * 160_000,
    "keys by the thousand": "".join(f"k{n}=1\n" for n in range(80_000)),
}
MOST_SECONDS = 10  # some 1 s on an idle machine; hours, or no end, without the gate


@pytest.mark.parametrize("name", list(HARMFUL))
def test_harmful_files_are_refused_in_little_time(name):
    text, told = HARMFUL[name]
    data = text if isinstance(text, bytes) else text.encode()
    begin = time.process_time()
    with pytest.raises(PlanError) as caught:
        parse_toml(data, "harm.toml")
    assert time.process_time() - begin < MOST_SECONDS
    said = str(caught.value)
    assert told in said
    assert "harm.toml" in said
    assert len(said) < 400
    assert visible(said) == said


@pytest.mark.parametrize("name", list(LARGE))
def test_large_files_are_read_in_little_time(name):
    begin = time.process_time()
    parse_toml(LARGE[name].encode(), "large.toml")
    assert time.process_time() - begin < MOST_SECONDS


CHOICES = {
    "zone of another script": '[symmetry.zones]\n"²" = "p4m"',
    "zone of many digits": f'[symmetry.zones]\n{"1" * 40} = "p4m"',
    "zone nought": '[symmetry.zones]\n0 = "p4m"',
    "long palette": f'palette = "{"p" * 1_900}"',
    "long path of a palette": f'palette = "{"p/" * 900}a.toml"',
    "long font": f'[sheets]\nfont = "{"f" * 1_900}"',
    "title": f'[sheets]\ntitle = "{"t" * 100_000}"',
    "seed": "[colouring]\nseed = 1e400",
    "goal": "[colouring]\ngoal_difference = inf",
    "not a number": "[lines]\nclose = [[nan, 1]]",
    "schema": "schema = true",
    "no names": '[names]\nA = ""',
    "list for a text": 'palette = ["a"]',
    "pin far away": '[[colouring.pin]]\nat = [1e308, 1]\nswatch = "x"',
    "pin in no drawing": '[[colouring.pin]]\nwhere = "²"\nswatch = "x"',
    "share": "[colouring]\nshares = {a = -1}",
}


@pytest.mark.parametrize("name", list(CHOICES))
def test_harmful_choices_are_told_in_words(tmp_path, name):
    plan = tmp_path / "plan.toml"
    plan.write_text(CHOICES[name])
    out = tmp_path / "out"
    words = ["colour", str(DRAWING), "--plan", str(plan), "--out", str(out)]
    result = CliRunner().invoke(main, words)
    assert isinstance(result.exception, SystemExit), result.output
    assert result.exit_code == 1
    assert len(result.output) < 4_000


PAINTS = {
    "no number": 'colour = "oklch(1e999 1e999 1e999)"',
    "far out": 'colour = "oklch(9e99 -5e50 1e30)"',
    "rgb": 'colour = "rgb(1e400, -3, 5)"',
    "lab": 'colour = "lab(-900% 1e20 nan)"',
    "hex": 'colour = "#' + "f" * 1_900 + '"',
    "none": 'colour = "color(srgb none none none)"',
    "nested": 'colour = "' + "color-mix(in srgb, " * 90 + '"',
    "blank": 'colour = " "',
    "share": 'colour = "#123456"\nshare = 1e300',
    "coverage": 'colour = "#123456"\ncoverage = -1',
    "name": 'colour = "#123456"\nname = "\\u009b31m"',
}


@pytest.mark.parametrize("name", list(PAINTS))
def test_harmful_palettes_are_told_in_words(tmp_path, name):
    palette = tmp_path / "mine.toml"
    own = "" if name == "name" else 'name = "x"\n'
    other = '[[paint]]\nname = "y"\ncolour = "#ffffff"\n'
    palette.write_text(f"{other}[[paint]]\n{own}{PAINTS[name]}\n")
    for words in (["palettes", "check"], ["palettes", "show"]):
        result = CliRunner().invoke(main, [*words, str(palette)])
        assert result.exit_code in (0, 1), result.output
        assert result.exception is None or isinstance(result.exception, SystemExit)
        assert "\x9b" not in result.output


@pytest.mark.parametrize("option", ["--plan", "--palette", "--on-hand"])
@pytest.mark.parametrize("kind", ["pipe", "device", "folder", "long", "nested"])
def test_what_is_no_plain_file_is_no_file_of_choices(tmp_path, option, kind):
    path = tmp_path / "choices.toml"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "device":
        path.symlink_to("/dev/zero")
    elif kind == "folder":
        path.mkdir()
    elif kind == "long":
        path = Path("/" + "/".join(["n" * 400] * 10) + ".toml")
    else:
        path.write_text("a = " + "[" * 9_000)
    words = ["colour", str(DRAWING), option, str(path), "--out", str(tmp_path / "o")]
    result = CliRunner().invoke(main, words)
    assert isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code in (1, 2)
    assert "choices.toml" in result.output or "nnn" in result.output


def test_a_plan_through_the_gate_is_a_plan(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(f'[sheets]\ntitle = "{"t" * LONGEST_TEXT}"\n')
    check_plan(read_plan(path))


@pytest.mark.parametrize("title", ["t" * (LONGEST_TEXT + 1), "a\x1b[2J", "\udcff"])
def test_texts_given_by_hand_pass_the_same_gate(title):
    with pytest.raises(PlanError):
        check_plan(Plan(sheets=SheetSettings(title=title)))
    words = ["colour", str(DRAWING), "--title", title]
    assert CliRunner().invoke(main, words).exit_code == 1


def test_standard_input_without_end_is_left_at_the_limit():
    code = (
        "import resource, sys\n"
        "from fillwork.readers import limits\n"
        "limits.NORMAL = limits.Limits(file_bytes=2_000_000)\n"
        "resource.setrlimit(resource.RLIMIT_AS, (2 << 30, 2 << 30))\n"
        "from fillwork.cli.main import main\n"
        "main(['survey', '-'])\n"
    )
    with Path("/dev/zero").open("rb") as endless:
        done = subprocess.run(
            [sys.executable, "-c", code],
            stdin=endless,
            capture_output=True,
            text=True,
            timeout=60,
            cwd=ROOT,
            check=False,
        )
    assert done.returncode == 1
    assert "over the limit" in done.stderr
    assert "Traceback" not in done.stderr


# Names on their way to a screen


@pytest.mark.reference("ISO/IEC 6429, C0 and C1; Unicode Standard Annex 9, 2.1 to 2.4")
def test_controls_are_shown_instead_of_obeyed():
    controls = [*range(0x20), *range(0x7F, 0xA0), *range(0x202A, 0x202F)]
    controls += [*range(0x2066, 0x206A), 0x2028, 0x2029, 0xDC80]
    for code in controls:
        shown = visible(f"a{chr(code)}b")
        kept = chr(code) in "\t\n"
        assert shown == (f"a{chr(code)}b" if kept else f"a\\u{code:04x}b")
    plain = "Ω स्त शब्द \u200dفارسی עברית “x” – ²"
    assert visible(plain) == plain


EVIL = "\x1b]0;gone\x07\x9b31m\u202e"


def test_no_name_steers_the_terminal(tmp_path):
    # XML 1.0 allows C1 controls and marks of direction in names of layers
    layer = EVIL.replace("\x1b", "").replace("\x07", "")
    drawing = tmp_path / f"{EVIL}.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" viewBox="0 0 90 90">'
        f'<g id="{layer}"><path id="{layer}" d="M1 1H80V80Z" stroke="red"/>'
        f'<path d="M5 5L60" id="{layer}x" stroke="red"/></g></svg>'
    )
    runs = [
        ["survey", str(drawing)],
        ["survey", str(drawing), "--json"],
        ["survey", str(drawing), "--lines", f"layer={EVIL}"],
        ["survey", str(tmp_path / f"no{EVIL}.svg")],
        ["survey", f"--{EVIL}"],
        [EVIL],
        ["schedule", str(drawing)],
        ["colour", str(drawing), "--out", str(tmp_path / f"out{EVIL}")],
        ["colour", str(drawing), "--palette", EVIL],
        ["palettes", "show", EVIL],
    ]
    for words in runs:
        result = CliRunner().invoke(main, words)
        assert isinstance(result.exception, SystemExit | None), words
        assert not set(result.output) & set("\x1b\x07\x9b\u202e"), words


def test_one_gate_each_way():
    for path in sorted((ROOT / "fillwork").rglob("*.py")):
        where = str(path.relative_to(ROOT))
        for node in ast.walk(ast.parse(path.read_bytes())):
            if isinstance(node, ast.Import) and where != "fillwork/tomlfile.py":
                assert "tomllib" not in [name.name for name in node.names], where
            if isinstance(node, ast.Attribute) and where != "fillwork/cli/messages.py":
                assert node.attr not in {"echo", "secho"}, where
            if isinstance(node, ast.Name):
                assert node.id != "print", where


@pytest.mark.parametrize("number", [0, 1, 2])
@pytest.mark.parametrize("key", ["share", "14 ml"])
def test_a_value_that_cannot_be_is_told_by_its_own_line(number, key):
    lines = []
    for k in range(3):
        wrong = "1979-05-27" if k == number else "0.1"
        lines += ["[[paint]]", f'name = "paint {k}"', 'pigments = ["PW6", "PR102"]']
        lines += [f"share = {wrong if key == 'share' else 1}", "[paint.price]"]
        lines += [f'"14 ml" = {wrong if key == "14 ml" else 1}']
    with pytest.raises(PlanError) as told:
        parse_toml("\n".join(lines).encode(), "a.toml")
    # six lines a paint, the share its fourth, the price its sixth
    line = 6 * number + (4 if key == "share" else 6)
    assert str(told.value).startswith(f"a.toml, line {line}: “{key}” is a date")
