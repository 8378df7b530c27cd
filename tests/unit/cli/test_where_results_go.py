"""Where results go, and what is never replaced without a word."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from PIL import Image

from fillwork.cli.main import main
from fillwork.pipeline.output import default_folder

SQUARES = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" '
    'viewBox="0 0 40 40"><path fill="none" stroke="#000" stroke-width=".3" '
    'd="M0 0H40V40H0Z M0 20H40 M20 0V40"/></svg>'
)
ROUND = SQUARES.replace("M0 0H40V40H0Z M0 20H40 M20 0V40", "M2 20H38").replace(
    "</svg>",
    '<circle cx="20" cy="20" r="18" fill="none" stroke="#000"/></svg>',
)
QUICK = ("--palette", "quiet-earth", "--quiet", "--png-width", "32")


def run(*args: str) -> Result:
    return CliRunner().invoke(main, list(args))


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "hall.svg").write_text(SQUARES)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_each_drawing_has_a_folder_of_its_own(here: Path) -> None:
    result = run("colour", "hall.svg", *QUICK, "--view", "deutan", "--teach", "3")
    assert result.exit_code == 0, result.output
    folder = here / "out" / "hall"
    assert (folder / "coloured.svg").is_file()
    # the true picture stands beside the one that is seen so
    true, seen = (folder / n for n in ("coloured.png", "coloured-deutan.png"))
    assert true.read_bytes() != seen.read_bytes()
    report = json.loads((folder / "report.json").read_bytes())
    assert report["sheets"]["teach"] == 3
    assert f"{report['sheets']['pages']} pages" in result.stdout
    # the same name with other lines in it is replaced, and that is told
    Path("hall.svg").write_text(SQUARES.replace("M20 0V40", "M15 0V40"))
    again = run("sheets", "hall.svg", *QUICK)
    assert again.exit_code == 0, again.output
    assert "an earlier state" in again.stderr


def test_names_of_folders(here: Path) -> None:
    assert default_folder("deep/down/star.8.svg") == Path("out/star.8")
    assert default_folder("-") == Path("out/drawing")
    assert default_folder("..svg") == Path("out/drawing")
    # what tracing, laying or weaving made stays with what is made of it
    made = {"outputs": [{"file": "drawing.svg", "sha256": "0"}], "self_sha256": None}
    Path("out/hall").mkdir(parents=True)
    assert default_folder("out/hall/drawing.svg") == Path("out/drawing")
    Path("out/hall/trace.json").write_text(json.dumps(made))
    assert default_folder("out/hall/drawing.svg") == Path("out/hall")
    # and weaving it makes another drawing.svg, which does not go over the first
    woven = default_folder("out/hall/drawing.svg", step="woven")
    assert woven == Path("out/hall/woven")


def test_round_panels_have_no_rectangle_behind(here: Path) -> None:
    """A ground fills the panel, and a round one is no square."""
    grounds = {}
    for name, drawing in (("hall", SQUARES), ("moon", ROUND)):
        Path(f"{name}.svg").write_text(drawing)
        done = run("colour", f"{name}.svg", *QUICK, "--ground", "evening blue")
        assert done.exit_code == 0, done.output
        with Image.open(f"out/{name}/coloured.png") as picture:
            grounds[name] = picture.convert("RGB").getpixel((1, 1))
    assert grounds["hall"] != (255, 255, 255)
    assert grounds["moon"] == (255, 255, 255)


def test_a_name_of_bytes_that_are_no_text_is_told_with_marks(tmp_path: Path) -> None:
    name = os.fsdecode(b"sheet-\xff.svg")
    drawing = tmp_path / name
    drawing.write_text(SQUARES)
    done = run("sheets", str(drawing), "--sheet", "blank", "--out", str(tmp_path / "o"))
    assert done.exit_code == 0, done.output
    told = json.loads((tmp_path / "o" / "sheets.json").read_text())
    assert told["drawing"]["file"] == "sheet-?.svg"
    seen = run("survey", str(drawing), "--json")
    assert json.loads(seen.stdout)["drawing"]["file"] == "sheet-?.svg"


def test_names_longer_than_the_disk_takes_are_refused_in_words(tmp_path: Path) -> None:
    drawing = tmp_path / "squares.svg"
    drawing.write_text(SQUARES)
    long = "z" * 300
    for wrong in (
        ("sheets", str(drawing), "--sheet", "blank", "--out", str(tmp_path / long)),
        ("survey", str(drawing), "--border", long),
        ("survey", str(drawing), "--over", f"{long},1"),
    ):
        done = run(*wrong)
        assert done.exit_code == 1
        assert isinstance(done.exception, SystemExit)
        assert done.stderr.splitlines()[-2].startswith("fillwork: ")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full device")
def test_results_that_find_no_room_and_a_closed_input_are_told(tmp_path: Path) -> None:
    drawing = tmp_path / "squares.svg"
    drawing.write_text(SQUARES)
    start = f"exec {shlex.quote(sys.executable)} -m fillwork survey"
    for line, told in (
        (f"{start} {shlex.quote(str(drawing))} > /dev/full", "no space left"),
        (f"{start} - <&-", "standard input is closed"),
    ):
        done = subprocess.run(
            ["sh", "-c", line], capture_output=True, text=True, check=False
        )
        assert done.returncode == 1
        assert told in done.stderr
        assert "Traceback" not in done.stderr
