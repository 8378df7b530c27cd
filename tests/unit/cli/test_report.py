"""What is handed over for a drawing that came out wrong, and what is not."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

from click.testing import CliRunner

from fillwork.cli.main import main
from fillwork.pipeline import trouble

if TYPE_CHECKING:
    from pathlib import Path

# two squares of our own beside each other, in a layer with a private name
DRAWING = b"""<svg width="60mm" height="30mm" viewBox="0 0 60 30">
<g id="for-aunt-rosa"><path d="M5 5h40v20h-40zM25 5v20" fill="none" stroke="black"/></g>
</svg>"""


def told(folder: Path, data: bytes, *more: str) -> tuple[dict[str, object], set[str]]:
    file, out = folder / "rosa.svg", folder / "out"
    file.write_bytes(data)
    given = ["report", str(file), "--out", str(out), "--wrong", "one too many", *more]
    result = CliRunner().invoke(main, given)
    assert result.exit_code == 0, result.output
    text = (out / "trouble.json").read_text()
    assert "rosa" not in text
    assert str(folder) not in text
    return json.loads(text), {p.name for p in out.iterdir()}


def test_numbers_and_a_digest_are_told_and_the_drawing_only_on_request(tmp_path):
    found, files = told(tmp_path, DRAWING, "--match", "turns")
    assert files == {"trouble.json"}
    assert found["drawing"]["sha256"] == hashlib.sha256(DRAWING).hexdigest()
    assert found["found"]["regions"] == 2
    assert found["wrong"] == "one too many"
    assert 'match = "turns"' in found["choices"]
    _, files = told(tmp_path, DRAWING, "--force", "--with-drawing")
    assert files == {"trouble.json", "drawing.svg"}
    assert (tmp_path / "out" / "drawing.svg").read_bytes() == DRAWING


def test_a_refusal_and_a_failure_are_told_as_well(tmp_path, monkeypatch):
    found, _ = told(tmp_path, b"<svg")
    assert "refused" in found

    def fails(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(trouble, "make_survey", fails)
    found, _ = told(tmp_path, DRAWING, "--force")
    assert found["failed"] == "ZeroDivisionError"
    assert found["at"][-1].startswith("test_report.py:")
    assert found["drawing"]["bytes"] == len(DRAWING)
