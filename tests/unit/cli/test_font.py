"""``--font``: on sheets and in the main job, through the plan, and refused."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import pypdfium2
import pytest

from fillwork.plans.file import parse_plan
from tests.unit.cli.test_commands import CHEQUER, OUTPUTS, run

FONT = Path(__file__).parents[2] / "drawings/fonts/DejaVuSans-Georgian-Armenian.ttf"
TITLE = "ლურჯი"  # "blue" in Georgian


@pytest.fixture
def drawing(tmp_path: Path) -> str:
    path = tmp_path / "chequer.svg"
    path.write_text(CHEQUER)
    return str(path)


def words(path: Path) -> str:
    document = pypdfium2.PdfDocument(io.BytesIO(path.read_bytes()))
    return "\n".join(p.get_textpage().get_text_range() for p in document)


def test_sheets_bear_the_font_in_every_format(drawing: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    arguments = ["sheets", drawing, "--out", str(out), "--title", TITLE]
    arguments += [a for s in ("numbered", "schedule") for a in ("--sheet", s)]
    arguments += ["--as", "pdf", "--as", "svg", "--as", "png", "--mirror"]
    bare = run(*arguments)
    assert bare.exit_code == 0
    assert "no font at hand has" in bare.stderr
    assert "--font" in bare.stderr
    plain = {p.name: p.read_bytes() for p in out.iterdir()}
    result = run(*arguments, "--font", str(FONT))
    assert result.exit_code == 0, result.output
    assert "no font" not in result.stderr
    assert TITLE in words(out / "sheets.pdf")
    changed = {p.name for p in out.iterdir() if plain[p.name] != p.read_bytes()}
    assert {n for n in plain if n.startswith("sheet-")} <= changed


def test_a_plan_names_the_font_that_lies_beside_it(
    drawing: str, tmp_path: Path
) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    given = ["--font", str(FONT), "--title", TITLE]
    assert run("colour", drawing, "--out", str(first), *given).exit_code == 0
    assert {p.name for p in first.iterdir()} == OUTPUTS | {FONT.name}
    plan = parse_plan((first / "plan.toml").read_bytes())
    assert plan.sheets.font == FONT.name
    assert str(tmp_path) not in (first / "plan.toml").read_text()
    again = ["--plan", str(first / "plan.toml"), "--out", str(second)]
    assert run("colour", drawing, *again).exit_code == 0
    for path in first.iterdir():
        assert (second / path.name).read_bytes() == path.read_bytes(), path.name


def test_a_missing_or_changed_font_of_the_plan_is_told(
    drawing: str, tmp_path: Path
) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    given = ["--font", str(FONT), "--title", TITLE]
    assert run("colour", drawing, "--out", str(first), *given).exit_code == 0
    (first / FONT.name).unlink()
    again = ["--plan", str(first / "plan.toml"), "--out", str(second)]
    # a slow machine would tell of its progress as well
    result = run("colour", drawing, *again, "--quiet")
    assert result.exit_code == 1
    assert len(result.stderr.strip().splitlines()) == 2
    assert "--font FILE" in result.stderr
    assert not second.exists()
    # what needs no sheet goes on without it
    assert run("schedule", drawing, *again[:2]).exit_code == 0
    # named on the command line it may lie anywhere
    assert run("colour", drawing, *again, "--font", str(FONT)).exit_code == 0
    other = Path("fillwork/renderers/fonts/NotoSansHebrew-Regular.ttf")
    shutil.copy(Path(__file__).parents[3] / other, first / FONT.name)
    result = run("colour", drawing, *again, "--force")
    assert result.exit_code == 0
    assert "is another font than when the plan was written" in result.stderr


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("none.ttf", None, "cannot be read"),
        ("text.ttf", b"not a font", "no font that can be read"),
        ("empty.otf", b"", "no font that can be read"),
    ],
)
@pytest.mark.parametrize("command", ["sheets", "colour"])
def test_an_unreadable_font_is_a_line_and_no_file(
    command: str,
    name: str,
    data: bytes | None,
    said: str,
    drawing: str,
    tmp_path: Path,
) -> None:
    if data is not None:
        (tmp_path / name).write_bytes(data)
    out = tmp_path / "out"
    font = ["--font", str(tmp_path / name)]
    result = run(command, drawing, "--out", str(out), *font)
    assert result.exit_code == 1
    lines = result.stderr.strip().splitlines()
    assert said in lines[0]
    assert name in lines[0]
    assert len(lines) <= 2
    assert not out.exists()


def test_a_plan_names_a_font_without_a_folder() -> None:
    from fillwork.errors import PlanError

    with pytest.raises(PlanError, match=r"file.s name without a folder"):
        parse_plan(b'[sheets]\nfont = "../mine.ttf"\n')
