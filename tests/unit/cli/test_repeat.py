"""`fillwork repeat`, and `--over` on the other commands."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner, Result

from fillwork.cli.main import main

if TYPE_CHECKING:
    from pathlib import Path

# an invented cell: a square of guide lines, two lines that cross it, a circle
CELL = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm"
viewBox="0 0 60 60"><rect x="10" y="10" width="40" height="40" fill="none"
stroke="#0000ff" stroke-width="0.2"/><g fill="none" stroke="#000" stroke-width="0.5">
<path d="M10 30H50"/><path d="M30 10V50"/><circle cx="30" cy="30" r="8"/></g></svg>"""


def run(*args: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in args])


@pytest.fixture
def cell(tmp_path: Path) -> Path:
    path = tmp_path / "cell.svg"
    path.write_text(CELL)
    return path


def test_repeat_writes_a_drawing_at_true_size(cell: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = run(
        "repeat", cell, "--over", "120,80", "--cell", "colour=#00f", "--out", out
    )
    assert done.exit_code == 0, done.output
    names = {"drawing.svg", "places.png", "report.json", "plan.toml"}
    assert {p.name for p in out.iterdir()} == names
    # lines at 20, 60, 100 and 20, 60 mm: each once, from edge to edge; six circles
    report = json.loads((out / "report.json").read_text())
    assert report["panel_mm"] == [120.0, 80.0]
    assert report["joins"] == []
    survey = run("survey", out / "drawing.svg", "--json")
    found = json.loads(survey.stdout)
    assert found["drawing"]["width_mm"] == 120.0
    area = sum(r["area_mm2"] for r in found["regions"])
    assert area == pytest.approx(120 * 80, abs=0.05)
    assert found["arrangement"]["euler"] == 0
    layers = {g["layer"] for g in found["drawing"]["line_groups"]}
    assert layers == {"frame", "lines"}


def test_over_does_both_in_one_go_and_the_plan_holds_it(
    cell: Path, tmp_path: Path
) -> None:
    a, b = tmp_path / "a", tmp_path / "b"
    one = run("colour", cell, "--over", "120,80", "--cell", "colour=#00f", "--out", a)
    assert one.exit_code == 0, one.output
    two = run("colour", cell, "--plan", a / "plan.toml", "--out", b)
    assert two.exit_code == 0, two.output
    for path in a.iterdir():
        assert path.read_bytes() == (b / path.name).read_bytes(), path.name


def test_without_a_size_it_says_what_to_add(cell: Path) -> None:
    done = run("repeat", cell)
    assert done.exit_code == 1
    assert "--over" in done.stderr


@pytest.mark.parametrize(
    "wrong", [("--by", "sideways"), ("--over", "0,5"), ("--place", "x")]
)
def test_wrong_settings_are_told_in_one_line(
    cell: Path, wrong: tuple[str, str]
) -> None:
    done = run("repeat", cell, "--over", "120,80", *wrong)
    assert done.exit_code == 1
    assert "Traceback" not in done.output
    assert wrong[0] in done.stderr
