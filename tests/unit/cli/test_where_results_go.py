"""Where results go, and what is never replaced without a word."""

from __future__ import annotations

import json
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
