"""The scripts that show the library, and the page made of its docstrings."""

from __future__ import annotations

import doctest
import re
import runpy
import sys
from pathlib import Path

import networkx
import pytest

import fillwork

DEMO = Path(__file__).resolve().parents[2] / "demo"


def run(name: str, monkeypatch: pytest.MonkeyPatch, *arguments: object) -> None:
    monkeypatch.setattr(sys, "argv", [name, *map(str, arguments)])
    runpy.run_path(str(DEMO / f"{name}.py"), run_name="__main__")


def test_a_map_in_four_colours(tmp_path, monkeypatch, capsys) -> None:
    run("map_in_four_colours", monkeypatch, "--out", tmp_path, "--lands", 30)
    said = capsys.readouterr().out
    assert "30 lands" in said
    assert "of one paint: 0" in said
    survey = fillwork.make_survey(
        tmp_path / "map.svg", fillwork.Plan(match="none", scope="outlines")
    )
    assert networkx.check_planarity(fillwork.contact_graph(survey))[0]


@pytest.mark.reference("Grünbaum and Shephard 1987, section 2.1: 4.8.8 is p4m")
def test_the_group_of_a_tiling(monkeypatch, capsys) -> None:
    run("group_of_a_tiling", monkeypatch)
    said = capsys.readouterr().out
    assert "group plane p4m, orbifold *442" in said
    # 6 x 6 octagons, and a square between each four of them
    assert "regular octagon, 36 regions, 1 orbit" in said
    assert "square, 25 regions, 1 orbit" in said


def test_an_own_palette_on_a_sheet(tmp_path, monkeypatch, capsys) -> None:
    run("own_palette_sheet", monkeypatch, "--out", tmp_path)
    assert (tmp_path / "colourways.pdf").read_bytes().startswith(b"%PDF-")
    assert (tmp_path / "coloured.png").stat().st_size > 1000


def test_the_page_of_the_library_is_what_its_script_makes() -> None:
    made = runpy.run_path(str(DEMO / "make_api.py"))
    page = (DEMO / "api.md").read_text(encoding="utf-8")
    assert page == made["compose"](), "run: python demo/make_api.py"
    for name in set(fillwork.__all__) - {"__version__"}:
        assert f"### {name}\n" in page


def test_every_public_name_has_an_example_that_runs() -> None:
    page = (DEMO / "examples.md").read_text(encoding="utf-8")
    code = re.sub(r"^```.*$", "", page, flags=re.MULTILINE)
    examples = doctest.DocTestParser().get_doctest(code, {}, "examples.md", None, 0)
    said: list[str] = []
    assert not doctest.DocTestRunner().run(examples, out=said.append).failed, "".join(
        said
    )
    shown = " ".join(one.source + one.want for one in examples.examples)
    missing = [n for n in fillwork.__all__ if not re.search(rf"\b{n}\b", shown)]
    # what only a drawing made for it gives is named, and shown by its own tests
    assert set(missing) <= {"Batch", "Row"}


def test_the_programmers_section_runs(tmp_path, monkeypatch) -> None:
    readme = (DEMO.parent / "README.md").read_text(encoding="utf-8")
    section = readme.split("## From Python")[1].split("## Commands")[0]
    code = section.split("```python\n")[1].split("```")[0]
    if not _have("matplotlib"):
        code = code.replace("finish.plot()", "finish.pdf()")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MPLBACKEND", "Agg")
    names: dict[str, object] = {}
    exec(compile(code, "README.md", "exec"), names)
    assert (tmp_path / "out" / "coloured.svg").exists()
    assert names["survey"].arrangement.face_count == 3


def _have(name: str) -> bool:
    try:
        __import__(name)
    except ImportError:
        return False
    return True
