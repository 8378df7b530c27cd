from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from fillwork.cli.main import COMMANDS, main

TILE = "".join(
    f'<path d="M{x} {y} h30 v30 h-30 z"/>' for x in (5, 35) for y in (5, 35, 65)
)


@pytest.fixture
def grid(tmp_path: Path) -> Path:
    file = tmp_path / "grid.svg"
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="70mm" height="100mm" '
    head += 'viewBox="0 0 70 100" fill="none" stroke="#000" stroke-width="0.3">'
    file.write_text(head + TILE + "</svg>")
    return file


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


def test_fit_stands_alone_or_takes_a_word(grid: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    for words in (["--fit"], ["--fit", "page"], ["--fit=page"]):
        result = run("sheets", *words, grid, "--out", out, "--force")
        assert result.exit_code == 0, result.output
        assert "1 page of A4: 1 sheet of paper" in result.stdout
    wrong = run("sheets", grid, "--fit=paper")
    assert wrong.exit_code == 2
    assert "auto" in wrong.stderr


def test_many_pages_are_asked_about(grid: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    asked = run("sheets", grid, "--real-width", "3m", "--out", out)
    assert asked.exit_code == 1
    what, mend = asked.stderr.strip().splitlines()[-2:]
    assert "more than 60" in what
    pages = mend.split("--most-pages ")[1].split()[0]
    assert not out.exists()
    words = ["--real-width", "3m", "--most-pages", pages, "--out", out]
    gone_on = run("sheets", grid, *words)
    assert gone_on.exit_code == 0, gone_on.output
    assert f"{pages} pages of A4: {pages} sheets of paper" in gone_on.stdout


def test_the_main_job_is_not_lost_for_many_pages(grid: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = run("colour", grid, "--real-width", "3m", "--out", out)
    assert done.exit_code == 0, done.output
    assert "--most-pages" in done.stderr
    assert "1 page of A4" in done.stdout
    plan = out / "plan.toml"
    again = run("colour", grid, "--plan", plan, "--fit", "true", "--out", out)
    assert again.exit_code == 1


def test_the_plan_keeps_how_sheets_are_fitted(grid: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    words = ["--fit", "true", "--most-pages", "70", "--out", out]
    assert run("colour", grid, *words).exit_code == 0
    text = (out / "plan.toml").read_text()
    assert 'fit = "true"' in text
    assert "most_pages = 70" in text
    # as plans of before have it
    (out / "plan.toml").write_text(text.replace('fit = "true"', "fit = true"))
    old = run("sheets", grid, "--plan", out / "plan.toml", "--out", tmp_path / "two")
    assert old.exit_code == 0, old.output
    bad = text.replace('fit = "true"', 'fit = "half"')
    (out / "plan.toml").write_text(bad)
    refused = run("sheets", grid, "--plan", out / "plan.toml")
    assert refused.exit_code == 1
    assert "one of auto, page, true" in refused.stderr


@pytest.mark.parametrize("name", [n for n in COMMANDS if n != "palettes"])
def test_help_comes_to_the_point(name: str) -> None:
    rows = run(name, "--help").stdout.splitlines()
    first = next(k for k, row in enumerate(rows) if row.strip().startswith("--"))
    assert first < 7
    headings = [r for r in rows if r.endswith(":") and not r.startswith(" ")]
    assert headings[-1] == "Output:"
    # each option stands under one heading
    options = [r.split()[0] for r in rows if r.startswith("  --")]
    assert len(options) == len(set(options))


def test_help_of_all_begins_with_the_commands() -> None:
    rows = run("--help").stdout.splitlines()
    assert rows.index("Commands:") + 1 < 7


def test_a_class_is_counted_and_kept_in_the_plan(grid: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = run("colour", grid, "--teach", "3", "--out", out)
    assert done.exit_code == 0, done.output
    assert "teach = 3" in (out / "plan.toml").read_text()
    alone = run("sheets", "--teach", grid, "--copies", "2", "--out", tmp_path / "two")
    assert alone.exit_code == 0, alone.output
    both = run("sheets", grid, "--teach", "3", "--copies", "2", "--out", out)
    assert both.exit_code == 1
    assert "both say how many" in both.stderr
    none = run("sheets", grid, "--teach", "0")
    assert none.exit_code == 2
