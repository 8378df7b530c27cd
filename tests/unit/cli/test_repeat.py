"""`fillwork repeat`, and `--over` on the other commands."""

from __future__ import annotations

import json
import math
import warnings
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
    "wrong",
    [
        ("--by", "sideways"),
        ("--over", "0,5"),
        ("--place", "x"),
        ("--cell", "colour=#0f0"),
        ("--close", "@10,10"),  # a place of the panel, where nothing is repaired
    ],
)
def test_wrong_settings_are_told_in_one_line(
    cell: Path, wrong: tuple[str, str]
) -> None:
    done = run("repeat", cell, "--over", "120,80", *wrong)
    assert done.exit_code == 1
    assert "Traceback" not in done.output
    assert wrong[0] in done.stderr


def test_repairs_of_a_plan_file_are_refused_as_those_of_options(
    cell: Path, tmp_path: Path
) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text("[lines]\nclose = [[10.0, 10.0]]\n")
    done = run("repeat", cell, "--over", "120,80", "--plan", plan)
    assert done.exit_code == 1
    assert "--close" in done.stderr


def test_a_selector_and_a_group_that_are_half_right_are_told_how(cell: Path) -> None:
    for wrong, told in (
        (("--cell", "Guide"), "cell: cannot understand the selector 'Guide'"),
        (("--symmetry", "p4m"), "say plane:p4m"),
        (("--symmetry", "d12"), "say rosette:D12"),
    ):
        done = run("repeat", cell, "--over", "120,80", *wrong)
        assert done.exit_code == 1
        assert told in done.stderr


def test_a_panel_of_any_outline_and_a_whole_repeat_of_a_stated_group(
    cell: Path, tmp_path: Path
) -> None:
    outline = tmp_path / "disc.svg"
    outline.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="120mm" '
        'viewBox="0 0 120 120"><circle cx="60" cy="60" r="50" fill="none" '
        'stroke="#000"/></svg>'
    )
    done = run(
        "survey", cell, "--over", outline, "--cell", "colour=#00f", "--json",
        "--symmetry", "plane:p4m",
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    area = sum(r["area_mm2"] for r in json.loads(done.stdout)["regions"])
    assert area == pytest.approx(math.pi * 50**2, rel=1e-5)


def test_an_outline_of_many_sides_is_kept_in_the_plan(
    cell: Path, tmp_path: Path
) -> None:
    n, radius = 240, 50.0
    turns = [2 * math.pi * k / n for k in range(n)]
    points = " ".join(
        f"{60 + radius * math.cos(t):.6f},{60 + radius * math.sin(t):.6f}"
        for t in turns
    )
    outline = tmp_path / "many.svg"
    outline.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="120mm" '
        f'viewBox="0 0 120 120"><polygon points="{points}" fill="none" '
        'stroke="#000"/></svg>'
    )
    out = tmp_path / "out"
    done = run("repeat", cell, "--over", outline, "--cell", "colour=#00f", "--out", out)
    assert done.exit_code == 0, done.output
    again = run("survey", cell, "--plan", out / "plan.toml", "--json")
    assert again.exit_code == 0, again.output
    area = sum(r["area_mm2"] for r in json.loads(again.stdout)["regions"])
    # a regular polygon in a circle: n/2 r² sin(2 pi / n)
    assert area == pytest.approx(
        n / 2 * radius**2 * math.sin(2 * math.pi / n), rel=1e-5
    )


def test_a_cell_far_too_small_for_its_panel_is_refused_before_the_work(
    cell: Path,
) -> None:
    for way in ("shifts", "border"):
        done = run(
            "repeat", cell, "--over", "120,80", "--cell", "colour=#00f",
            "--by", way, "--real-width", "0.00001mm",
        )  # fmt: skip
        assert done.exit_code == 1
        assert "repeats of" in done.stderr
        assert "--scale" in done.stderr


def test_no_misfit_at_all_may_be_asked_for(tmp_path: Path) -> None:
    cell = tmp_path / "three.svg"
    cell.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" '
        'viewBox="0 0 60 40"><path d="M1 1H59V39H1Z M20 1V39 M40 1V39" fill="none" '
        'stroke="#000" stroke-width=".3"/></svg>'
    )
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        done = run(
            "repeat", cell, "--over", "116,76", "--misfit", "0", "--out", tmp_path / "o"
        )
    assert done.exit_code == 0, done.output


def test_places_are_numbered_and_taken(cell: Path, tmp_path: Path) -> None:
    maps = []
    for n in ("1", "2", "10,10"):
        out = tmp_path / n
        done = run(
            "repeat", cell, "--over", "120,80", "--cell", "colour=#00f",
            "--place", n, "--out", out,
        )  # fmt: skip
        assert done.exit_code == 0, done.output
        maps.append(json.loads((out / "report.json").read_text())["placing"]["map"])
    assert maps[0] != maps[1]
    # the cell's middle stands at 30, 30 mm of its drawing
    assert maps[2] == [1, 0, 0, 1, -20, -20]
    far = run("repeat", cell, "--over", "120,80", "--place", "99")
    assert far.exit_code == 1
    assert "places.png" in far.stderr
