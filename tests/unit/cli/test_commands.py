"""The commands: what they write, what they say, how they end."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from fillwork.cli.main import COMMANDS, main
from fillwork.colouring.palettes.file import list_palettes
from fillwork.errors import FillworkError
from fillwork.pipeline import colourways

OUTPUTS = {
    "coloured.png",
    "coloured.svg",
    "plan.toml",
    "report.json",
    "schedule.csv",
    "schedule.txt",
    "sheets.pdf",
}
# a 3 x 3 chequer with a circle in the middle: ten regions
CHEQUER = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" '
    'viewBox="0 0 90 90"><g fill="none" stroke="black" stroke-width=".3">'
    '<path d="M0 0H90V90H0Z M0 30H90M0 60H90M30 0V90M60 0V90"/>'
    '<circle cx="45" cy="45" r="9"/></g></svg>'
)
OPEN = CHEQUER.replace("M0 0H90V90H0Z M0 30H90M0 60H90M30 0V90M60 0V90", "M9 9H80")
OPEN = OPEN.replace('<circle cx="45" cy="45" r="9"/>', "")


def run(*args: str, stdin: bytes | None = None) -> Result:
    return CliRunner().invoke(main, list(args), input=stdin)


@pytest.fixture
def chequer(tmp_path: Path) -> Path:
    path = tmp_path / "chequer.svg"
    path.write_text(CHEQUER)
    return path


def test_every_command_in_the_help_is_there() -> None:
    text = run("--help").output
    for name in COMMANDS:
        assert name in text
        assert run(name, "--help").exit_code == 0, name


def test_a_mistyped_command_is_wrong_usage() -> None:
    result = run("color")
    assert result.exit_code == 2
    assert "colour" in result.output


@pytest.mark.parametrize(
    ("given", "what", "mend"),
    [
        (
            ["--medallion", "perhaps"],
            "--medallion: 'perhaps'",
            "take one of keep, drop",
        ),
        (["--close", "@5"], "--close: “@5” is no place", "write @x,y in mm"),
        (["--goal", "-3"], "--goal: -3.0 is not in the range", "colour --help"),
        (["--palete", "x"], "no option --palete", "--palette"),
        (["--pin"], "'--pin' requires an argument", "--help"),
        (["more.svg"], "more.svg", "colour --help"),
    ],
)
def test_wrong_usage_has_the_form_of_all_errors(
    given: list[str], what: str, mend: str
) -> None:
    result = run("colour", "drawing.svg", *given)
    assert result.exit_code == 2
    first, second = result.stderr.splitlines()
    assert first.startswith("fillwork: ")
    assert what in first
    assert second.startswith("  ")
    assert mend in second


def test_a_missing_drawing_is_named() -> None:
    result = run("colour")
    assert (result.exit_code, result.stderr.split("\n")[0]) == (
        2,
        "fillwork: DRAWING is missing",
    )


def test_survey_shows_regions(chequer: Path) -> None:
    result = run("survey", str(chequer))
    assert result.exit_code == 0, result.output
    assert "regions   10" in result.output


def test_survey_as_json_follows_the_contract(chequer: Path) -> None:
    report = json.loads(run("survey", str(chequer), "--json", "--quiet").stdout)
    assert report["schema"] == 1
    assert report["drawing"]["file"] == "chequer.svg"
    assert report["arrangement"]["euler"] == 0
    assert len(report["regions"]) == 10
    # a 90 mm square, cut by lines only
    assert sum(r["area_mm2"] for r in report["regions"]) == pytest.approx(8100)
    assert set(report["regions"][0]) >= {"id", "kind", "zone", "at_mm", "cut"}


@pytest.mark.parametrize("suffix", ["svg", "png", "pdf"])
def test_survey_draws_a_picture(chequer: Path, tmp_path: Path, suffix: str) -> None:
    picture = tmp_path / f"survey.{suffix}"
    result = run("survey", str(chequer), "--picture", str(picture))
    assert result.exit_code == 0, result.output
    starts = {"svg": b"<", "png": b"\x89PNG", "pdf": b"%PDF"}
    assert picture.read_bytes().startswith(starts[suffix])


def test_colour_writes_every_file(chequer: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("colour", str(chequer), "--out", str(out))
    assert result.exit_code == 0, result.output
    assert {p.name for p in out.iterdir()} == OUTPUTS
    report = json.loads((out / "report.json").read_bytes())
    assert report["colouring"]["smallest_difference"] >= 20
    assert {o["file"] for o in report["outputs"]} == OUTPUTS - {"report.json"}
    assert str(tmp_path) not in (out / "report.json").read_text()
    assert str(tmp_path) not in (out / "plan.toml").read_text()


def test_a_plan_gives_the_same_bytes_anywhere(chequer: Path, tmp_path: Path) -> None:
    first = tmp_path / "first"
    pins = ["--pin", "A=brick", "--pin-only", "@45,45=straw", "--real-width", "2m"]
    assert run("colour", str(chequer), "--out", str(first), *pins).exit_code == 0
    outputs = []
    for seed, zone, folder in (("1", "UTC", "x y"), ("77", "Asia/Tokyo", "z")):
        home = tmp_path / folder
        home.mkdir()
        environment = {
            **os.environ,
            "PYTHONHASHSEED": seed,
            "TZ": zone,
            "LC_ALL": "C" if seed == "1" else "C.UTF-8",
        }
        command = [sys.executable, "-m", "fillwork", "colour", str(chequer)]
        command += ["--plan", str(first / "plan.toml"), "--out", str(home / "o")]
        subprocess.run(command, cwd=home, env=environment, check=True)
        outputs.append({p.name: p.read_bytes() for p in (home / "o").iterdir()})
    assert outputs[0] == outputs[1]
    assert outputs[0] == {p.name: p.read_bytes() for p in first.iterdir()}


def test_pins_are_honoured(chequer: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    pins = ["--pin", "A=oxblood", "--pin", "@45,45=gold ochre"]
    result = run("colour", str(chequer), "--out", str(out), *pins)
    assert result.exit_code == 0, result.output
    report = json.loads((out / "report.json").read_bytes())
    of_kind = {k["letter"]: k["swatches"] for k in report["kinds"]}
    assert of_kind["A"] == ["oxblood"]
    centre = [r for r in report["regions"] if abs(r["area_mm2"] - 254.469) < 0.01]
    assert [r["swatch"] for r in centre] == ["gold ochre"]


def test_standard_input_is_read() -> None:
    result = run("survey", "-", stdin=CHEQUER.encode())
    assert result.exit_code == 0
    assert "standard input" in result.output


@pytest.mark.parametrize("command", ["colour", "sheets"])
def test_masks_are_files_to_cut_by(command: str, chequer: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    pins = ["--pin", "@45,45=straw", "--pin-only", "@45,55=brick"]
    result = run(
        command, str(chequer), "--out", str(out), "--sheet", "masks", "--fit", *pins
    )
    assert result.exit_code == 0, result.output
    files = [p.name for p in out.glob("mask-*.svg")]
    assert len(files) >= 3
    # the disc in the middle hangs on nothing once the square round it is cut
    assert "would fall out of masks: " in result.stderr
    record = "report.json" if command == "colour" else "sheets.json"
    outputs = json.loads((out / record).read_bytes())["outputs"]
    assert set(files) <= {o["file"] for o in outputs}
    size = (out / files[0]).read_text().split('width="')[1].split('"')[0]
    assert size == "110mm"  # true size, with 10 mm around, though the pages are fitted


@pytest.mark.parametrize("command", ["colour", "sheets"])
def test_a_panel_of_20_m_is_fitted_and_says_so(
    command: str, chequer: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    result = run(command, str(chequer), "--out", str(out), "--real-width", "20m")
    assert result.exit_code == 0, result.output
    assert "pages of A4" in result.stderr
    assert "--fit" in result.stderr
    assert (out / "sheets.pdf").is_file()
    if command == "colour":
        report = json.loads((out / "report.json").read_bytes())
        assert "fitted" in {n["type"] for n in report["notes"]}


def test_a_tiny_region_has_an_area(tmp_path: Path) -> None:
    path = tmp_path / "tiny.svg"
    path.write_text(CHEQUER.replace("90mm", "0.09mm"))
    out = tmp_path / "out"
    assert run("colour", str(path), "--out", str(out), "--fit").exit_code == 0
    report = json.loads((out / "report.json").read_bytes())
    # a circle of radius 0.009 mm
    least = min(r["area_mm2"] for r in report["regions"])
    assert least == pytest.approx(3.14159265 * 0.009**2, rel=0.005)
    assert all(s["area_mm2"] > 0 for s in report["swatches"])


def test_schedule_and_sheets_work_alone(chequer: Path, tmp_path: Path) -> None:
    assert "lime white" in run("schedule", str(chequer)).stdout
    out = tmp_path / "out"
    result = run(
        "sheets", str(chequer), "--out", str(out), "--as", "pdf", "--as", "svg"
    )
    assert result.exit_code == 0, result.output
    assert {p.suffix for p in out.iterdir()} == {".pdf", ".svg", ".json"}
    again = run("sheets", str(chequer), "--out", str(out), "--paper", "A3")
    assert again.exit_code == 0, again.output


def test_only_open_lines(tmp_path: Path) -> None:
    drawing = tmp_path / "open.svg"
    drawing.write_text(OPEN)
    survey = run("survey", str(drawing), "--picture", str(tmp_path / "p.png"))
    assert survey.exit_code == 0, survey.output
    assert "loose end" in survey.output
    out = tmp_path / "out"
    result = run("colour", str(drawing), "--out", str(out))
    assert result.exit_code == 1
    assert "close no region" in result.output
    assert not out.exists()


def test_a_size_that_is_given_wins_over_another_in_the_plan(
    chequer: Path, tmp_path: Path
) -> None:
    # 90 mm at 1:5 are 450 mm; 1.8 m for them are 1:20
    out = tmp_path / "out"
    assert not run(
        "colour", str(chequer), "--scale", "1:5", "--out", str(out)
    ).exit_code
    for option, value, scale in (("--real-width", "1.8m", 20), ("--scale", "1:3", 3)):
        words = ["--plan", str(out / "plan.toml"), option, value, "--json"]
        told = json.loads(run("survey", str(chequer), *words).stdout)
        assert told["drawing"]["real_scale"] == pytest.approx(scale)


@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        (["--palette", "quite-earth"], 1, "quiet-earth"),
        (["--pin", "A=brik"], 1, "brick"),
        (["--pin", "Q=brick"], 1, "Q"),
        (["--pin", "@500,500=brick"], 1, "500"),
        (["--pin", "A"], 2, "WHERE=SWATCH"),
        (["--real-width", "wide"], 2, "no length"),
        (["--real-width", "0"], 1, "real width"),
        (["--real-width", "2m", "--scale", "1:5"], 1, "--real-width and --scale"),
        (["--symmetry", "plane:p5"], 1, "p5"),
        (["--plan", "nowhere.toml"], 1, "nowhere.toml"),
        (["--lines", "layer=nothing"], 1, "layer"),
        (["--lines", "lair=nothing"], 1, "layer"),
        (["--goal", "x"], 2, "goal"),
        (["--paper", "A77"], 1, "A77"),
        (["--sheet", "nothing"], 1, "numbered"),
        (["--panel", "9"], 1, "width and height"),
        (["--close", "1;2"], 2, "@x,y"),
        (["--tie", "A"], 1, "two or more"),
        (["--choice", "2"], 1, "--counterchange"),
        (["--counterchange", "apart", "--choice", "2"], 1, "apart chooses by itself"),
        (["--counterchange", "13"], 2, "from 2 to 12, apart or no"),
        (["--on-hand", "nowhere.toml"], 1, "nowhere.toml"),
    ],
)
def test_bad_settings_are_named_and_nothing_is_written(
    chequer: Path, tmp_path: Path, args: list[str], code: int, said: str
) -> None:
    out = tmp_path / "out"
    result = run("colour", str(chequer), "--out", str(out), "--quiet", *args)
    assert result.exit_code == code, result.output
    assert said in result.output
    assert not out.exists()
    if code == 1:
        assert result.output.startswith("fillwork: ")
        assert len(result.output.strip().splitlines()) <= 2


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x00\x01\x02",
        b"not XML at all",
        b"<svg",
        b"<html/>",
        b'<svg xmlns="http://www.w3.org/2000/svg"/>',
        b"\x1f\x8b broken",
        b"%PDF-1.7",
        b"\x89PNG\r\n\x1a\n",
    ],
)
def test_bad_drawings_are_refused(tmp_path: Path, data: bytes) -> None:
    drawing = tmp_path / "bad.svg"
    drawing.write_bytes(data)
    out = tmp_path / "out"
    result = run("colour", str(drawing), "--out", str(out), "--quiet")
    assert result.exit_code == 1, result.output
    assert result.output.startswith("fillwork: ")
    assert "bad.svg" in result.output
    assert len(result.output.strip().splitlines()) <= 2
    assert not out.exists()


def test_an_unreadable_path_is_named(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.svg"):
        result = run("survey", str(path))
        assert result.exit_code == 1
        assert path.name in result.output


def test_an_unwritable_folder_is_named(chequer: Path) -> None:
    result = run("colour", str(chequer), "--out", str(chequer))
    assert result.exit_code == 1
    assert "--out" in result.output


def test_edited_results_are_not_overwritten(chequer: Path, tmp_path: Path) -> None:
    out = str(tmp_path / "out")
    assert run("colour", str(chequer), "--out", out).exit_code == 0
    assert run("colour", str(chequer), "--out", out, "--match", "none").exit_code == 0
    plan = Path(out) / "plan.toml"
    plan.write_text(plan.read_text() + "# mine\n")
    refused = run("colour", str(chequer), "--out", out)
    assert refused.exit_code == 1
    assert "plan.toml" in refused.output
    given = run("colour", str(chequer), "--out", out, "--plan", str(plan))
    assert given.exit_code == 0, given.output
    assert plan.read_text().endswith("# mine\n")
    assert run("colour", str(chequer), "--out", out, "--force").exit_code == 0
    assert not plan.read_text().endswith("# mine\n")


@pytest.mark.parametrize(
    ("palettes", "more", "count"),
    [
        (0, [], len(list_palettes())),
        (1, [], 6),
        (2, [], 2),
        (1, ["--count", "9"], 9),
        # all are tried, of which the best stay
        (3, ["--count", "2"], 3),
    ],
)
def test_colourways_are_six_of_one_palette_or_one_of_each(
    chequer: Path, monkeypatch: pytest.MonkeyPatch, palettes, more, count
) -> None:
    asked = []

    def suggest(survey, plan, names, *, count, progress):
        asked.append((len(names), count))
        what = "enough"
        raise FillworkError(what)

    monkeypatch.setattr(colourways, "suggest", suggest)
    names = [
        part for name in list_palettes()[:palettes] for part in ("--palette", name)
    ]
    result = run("colourways", str(chequer), *names, *more)
    assert "enough" in result.output
    assert asked == [(palettes or len(list_palettes()), count)]


def test_a_colourway_is_taken_up_by_its_plan(chequer: Path, tmp_path: Path) -> None:
    out = tmp_path / "ways"
    palettes = ["--palette", "quiet-earth", "--palette", "two-inks"]
    asked = ["--count", "2", "--out", str(out), "--match", "none"]
    result = run("colourways", str(chequer), *asked, *palettes)
    assert result.exit_code == 0, result.output
    record = json.loads((out / "colourways.json").read_bytes())
    assert len(record["colourways"]) == 2
    for way in record["colourways"]:
        done = tmp_path / way["plan"]
        plan = ["--plan", str(out / way["plan"])]
        assert run("colour", str(chequer), *plan, "--out", str(done)).exit_code == 0
        report = json.loads((done / "report.json").read_bytes())
        assert report["colouring"]["palette"] == way["palette"]
        smallest = report["colouring"]["smallest_difference"]
        assert smallest == pytest.approx(way["measures"]["smallest difference"])
    assert run("colourways", str(chequer), *asked, *palettes).exit_code == 0


def test_palettes_are_listed_shown_checked_and_drawn(tmp_path: Path) -> None:
    from PIL import Image

    assert "quiet-earth" in run("palettes", "list").output
    assert "PB29" in run("palettes", "show", "quiet-earth").output
    assert "deutan" in run("palettes", "check", "quiet-earth").output
    assert run("palettes", "show", "quite-earth").exit_code == 1
    picture = tmp_path / "tile.png"
    image = Image.new("RGB", (20, 10), "#1d3f8f")
    image.paste("#f2e6c9", (0, 0, 10, 10))
    image.save(picture)
    made = tmp_path / "tile.toml"
    result = run("palettes", "from", str(picture), "--count", "2", "--out", str(made))
    assert result.exit_code == 0, result.output
    shown = run("palettes", "show", str(made)).output
    # the two colours of the picture, as CSS writes them
    assert "#1d3f8f" in shown
    assert "#f2e6c9" in shown


def test_too_many_crossings_are_refused_by_name(tmp_path: Path) -> None:
    # 2,500 lines across as many: 6,250,000 crossings
    at = [0.02 + 0.0398 * k for k in range(2500)]
    rows = "".join(f"M0 {y:.4f}H100M{y:.4f} 0V100" for y in at)
    drawing = tmp_path / "dense.svg"
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
    head += 'viewBox="0 0 100 100"><g stroke="black" fill="none">'
    drawing.write_text(f'{head}<path d="{rows}"/></g></svg>')
    result = run("survey", str(drawing), "--quiet")
    assert result.exit_code == 1
    assert result.output.startswith("fillwork: dense.svg: the line work has more than")
    assert "--allow-large" in result.output
