"""Weaving from the command line."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner, Result

from fillwork.cli.main import main

if TYPE_CHECKING:
    from pathlib import Path

# two lines each way in a frame: four crossings
GRID = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" '
    'viewBox="0 0 90 90"><g fill="none" stroke="black" stroke-width=".3">'
    '<path d="M0 0H90V90H0Z M0 30H90M0 60H90M30 0V90M60 0V90"/></g></svg>'
)


def run(*args: str) -> Result:
    return CliRunner().invoke(main, list(args))


@pytest.fixture
def grid(tmp_path: Path) -> Path:
    path = tmp_path / "grid.svg"
    path.write_text(GRID)
    return path


def test_it_writes_a_drawing_that_colour_takes(grid: Path, tmp_path: Path) -> None:
    out = tmp_path / "woven"
    result = run("weave", str(grid), "--band", "4mm", "--out", str(out), "--quiet")
    assert result.exit_code == 0, result.output
    report = json.loads((out / "report.json").read_text())
    assert report["crossings"] == 4
    assert [s["closed"] for s in report["strands"]].count(True) == 1  # the frame
    # four bands, each passing under once at the least: 9 regions of ground, and each
    # of the four crossings makes one piece more of the band below
    again = run("survey", str(out / "drawing.svg"), "--json", "--quiet")
    assert len(json.loads(again.stdout)["regions"]) == 9 + 4 + 4


def test_colour_weaves_in_one_go_and_its_plan_keeps_it(
    grid: Path, tmp_path: Path
) -> None:
    out, again = tmp_path / "a", tmp_path / "b"
    options = ["--band", "4mm", "--band-gap", "0.5mm", "--band-start", "under"]
    result = run("colour", str(grid), *options, "--out", str(out), "--quiet")
    assert result.exit_code == 0, result.output
    plan = str(out / "plan.toml")
    result = run("colour", str(grid), "--plan", plan, "--out", str(again), "--quiet")
    assert result.exit_code == 0, result.output
    for name in ("coloured.svg", "report.json"):
        assert (out / name).read_bytes() == (again / name).read_bytes(), name


def test_without_a_width_it_says_what_is_missing(grid: Path, tmp_path: Path) -> None:
    result = run("weave", str(grid), "--out", str(tmp_path / "out"), "--quiet")
    assert result.exit_code == 1
    assert "--band" in result.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(("width", "what"), [("40mm", "room for"), ("0", "no width")])
def test_a_width_that_cannot_be_is_one_line(
    grid: Path, tmp_path: Path, width: str, what: str
) -> None:
    out = tmp_path / "out"
    result = run("weave", str(grid), "--band", width, "--out", str(out), "--quiet")
    assert result.exit_code == 1
    assert what in result.stderr
    assert len(result.stderr.strip().splitlines()) == 2
    assert not out.exists()


def test_the_outermost_band_is_whole_where_the_drawing_has_no_page(
    tmp_path: Path,
) -> None:
    # two circles of 20 px, centres 20 px apart: 60 by 40 px, 96 px an inch
    path, out = tmp_path / "rings.svg", tmp_path / "woven"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><g fill="none" stroke="black">'
        '<circle cx="20" cy="20" r="20"/><circle cx="40" cy="20" r="20"/></g></svg>'
    )
    result = run("weave", str(path), "--band", "1mm", "--out", str(out), "--quiet")
    assert result.exit_code == 0, result.output
    result = run("survey", str(out / "drawing.svg"), "--json", "--quiet")
    drawing = json.loads(result.stdout)["drawing"]
    # half of a band on each side, and as much again as margin
    assert drawing["width_mm"] == pytest.approx(60 * 25.4 / 96 + 2, abs=2e-3)
    assert drawing["height_mm"] == pytest.approx(40 * 25.4 / 96 + 2, abs=2e-3)
    # a lens and two crescents of ground; each ring is cut where it passes under
    assert len(json.loads(result.stdout)["regions"]) == 3 + 2
