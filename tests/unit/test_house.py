"""The house itself: scripts, demo drawings, README, changes."""

import ast
import functools
import inspect
import os
import re
import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree
from numpydoc.validate import validate

import fillwork
from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework

ROOT = Path(__file__).resolve().parents[2]
DRAWINGS = sorted((ROOT / "demo" / "drawings").glob("*.svg"))


# Demo drawings


def test_the_committed_drawings_are_what_the_script_makes(tmp_path: Path) -> None:
    script = ROOT / "demo" / "make_drawings.py"
    subprocess.run([sys.executable, script, "--out", tmp_path], check=True, cwd="/")
    made = sorted(tmp_path.iterdir())
    assert [path.name for path in made] == [path.name for path in DRAWINGS]
    for new, committed in zip(made, DRAWINGS, strict=True):
        assert new.read_bytes() == committed.read_bytes(), new.name


@pytest.mark.parametrize("path", DRAWINGS, ids=lambda path: path.stem)
def test_drawings_have_their_true_size(path: Path) -> None:
    root = etree.parse(path).getroot()
    width, height = root.get("width"), root.get("height")
    assert width.endswith("mm")
    assert height.endswith("mm")
    assert root.get("viewBox") == f"0 0 {width[:-2]} {height[:-2]}"


CLEAN = [path for path in DRAWINGS if path.stem != "worn-patch"]


@pytest.mark.parametrize("path", CLEAN, ids=lambda path: path.stem)
def test_clean_drawings_have_no_open_ends_and_no_specks(
    path: Path, tmp_path: Path
) -> None:
    tree = etree.parse(path)
    for layer in tree.xpath("//*[@id='construction']"):
        layer.getparent().remove(layer)
    inked = tmp_path / path.name
    tree.write(inked)
    linework = read_linework(inked)
    tolerance = replace(build_arrangement(linework).tolerance, join_within=0.005)
    arrangement = build_arrangement(linework, tolerance)
    assert {defect.type for defect in arrangement.defects} <= {"sliver"}
    assert arrangement.area[1:].min() > 0.5  # mm²; a painter needs room for a brush


def test_the_worn_patch_has_the_faults_that_it_says() -> None:
    path = ROOT / "demo" / "drawings" / "worn-patch.svg"
    found = build_arrangement(read_linework(path)).defects
    assert sum(defect.type in ("gap", "overshoot") for defect in found) >= 5
    assert any(defect.type == "doubled" for defect in found)


# Scripts


@pytest.mark.parametrize("name", ["demo/run", "tests/run", ".ci/run"])
def test_scripts_can_be_run(name: str) -> None:
    script = ROOT / name
    assert os.access(script, os.X_OK)
    subprocess.run(["bash", "-n", script], check=True)


def test_a_missing_demo_drawing_is_said_in_words() -> None:
    answer = subprocess.run(
        ["bash", ROOT / "demo" / "run", "no-such.svg"],
        capture_output=True,
        text=True,
        check=False,
        cwd="/",
    )
    assert answer.returncode == 1
    assert "no-such.svg" in answer.stderr
    assert "warm-room-ceiling.svg" in answer.stderr


# Papers


def test_the_newest_change_is_this_version() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    versions = re.findall(r"^### (\S+)", readme.split("## Changes")[1], re.MULTILINE)
    assert versions[0] == fillwork.__version__


def test_links_in_the_papers_lead_somewhere() -> None:
    for paper in (ROOT / "README.md", ROOT / "demo" / "README.md"):
        text = paper.read_text(encoding="utf-8")
        for target in re.findall(r"\]\(([^)#]+)\)", text):
            assert (paper.parent / target).exists(), f"{paper.name}: {target}"


FORMATS = {"svg": "SVG", "dxf": "DXF", "pdf": "PDF", "picture": "picture|photograph"}
"""What `read_linework` hands drawings to, and how texts for users call it."""


@pytest.mark.parametrize("name", FORMATS)
def test_each_format_that_is_read_is_named_wherever_formats_are(name: str) -> None:
    branches = re.findall(r"import read_(\w+)\n", inspect.getsource(read_linework))
    assert set(branches) == set(FORMATS)
    for file, sentence in (
        ("README.md", r"DRAWING is [^.]*"),
        ("fillwork/cli/main.py", r"DRAWING is [^.]*"),
        ("fillwork/renderers/assets/text.js", r"orChoose: .*"),
    ):
        (found,) = re.findall(sentence, (ROOT / file).read_text())
        assert re.search(FORMATS[name], found), file
    if name != "picture":
        page = (ROOT / "fillwork/renderers/assets/part_drawing.js").read_text()
        (suffixes,) = re.findall(r'LINE_FILES = "(.*)"', page)
        assert f".{name}" in suffixes.split(",")


@pytest.mark.parametrize(
    ("title", "alone"),
    [
        ("Only the command line knows click", "cli"),
        ("Only the server knows Flask", "server"),
    ],
)
def test_contracts_of_imports_name_every_stage_but_one(title: str, alone: str) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    contracts = project["tool"]["importlinter"]["contracts"]
    (contract,) = [c for c in contracts if c["name"] == title]
    stages = {p.parent.name for p in (ROOT / "fillwork").glob("*/__init__.py")}
    assert set(contract["source_modules"]) == {
        f"fillwork.{s}" for s in stages - {alone}
    }


def test_changes_are_named_by_topic_and_type() -> None:
    for path in (ROOT / ".changes").glob("*"):
        if path.name != "README.md":
            assert re.fullmatch(
                r"[a-z0-9-]+\.(added|changed|fixed|removed)\.md", path.name
            )


# The sources on every Python from 3.11.0


def test_no_pattern_is_possessive_or_atomic() -> None:
    # Python 3.11.0 to 3.11.4 match them wrongly where a group is repeated
    # (https://github.com/python/cpython/issues/106052 and 100061)
    spoilt = re.compile(r"[*+?}]\+|\(\?>")
    for path in sorted((ROOT / "fillwork").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_bytes())):
            if isinstance(node, ast.Constant) and isinstance(node.value, str | bytes):
                text = node.value
                text = text if isinstance(text, str) else text.decode("latin-1")
                where = f"{path.relative_to(ROOT)}:{node.lineno}"
                assert not spoilt.search(text), where


# Docstrings of what is public


def public() -> list[str]:
    """Return the public functions, classes and their methods, as dotted names."""
    found = []
    for name in fillwork.__all__:
        value = getattr(fillwork, name)
        if not getattr(value, "__module__", "").startswith("fillwork"):
            continue
        if inspect.isfunction(value) or inspect.isclass(value):
            found.append(name)
        for key, own in vars(value).items() if inspect.isclass(value) else ():
            if inspect.isfunction(getattr(own, "__func__", own)) and key[0] != "_":
                found.append(f"{name}.{key}")
    return found


@pytest.mark.parametrize("name", public())
def test_public_docstrings_have_a_section_for_what_goes_in_and_out(name: str) -> None:
    found = dict(validate(f"fillwork.{name}")["errors"])
    value = functools.reduce(getattr, name.split("."), fillwork)
    # what takes nothing says in its first line what it returns, as a property does
    takes = set(inspect.signature(value).parameters) - {"self"}
    assert not ({"PR01", "RT01"} if takes else {"PR01"}) & set(found), found
