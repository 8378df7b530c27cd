"""The table of a batch, its ledger and its faults, from made-up parts."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from fillwork.errors import FillworkError
from fillwork.pipeline.batch.jobs import Choice, Job
from fillwork.pipeline.batch.parts import DONE, FAULT, Part, Row, _small, faults, keep
from fillwork.pipeline.batch.record import Ledger, rows_csv
from fillwork.plans.model import Plan

if TYPE_CHECKING:
    from pathlib import Path

STRIP = (("#102030", "#202020", 0.25, "1"), ("#a0b0c0", "#b0b0b0", 0.75, "2"))
ROW = Row(
    "a.svg", "a", "two inks", DONE, 9, 3, "plane p4m", True, 12.5, 20.0, 14.0, 2, 1,
    strip=STRIP,
)  # fmt: skip
JOB = Job("drawings/a.svg", "a", (Choice("", Plan()),), {})


def test_a_row_is_told_in_words_and_numbers_and_a_fault_leaves_gaps() -> None:
    fault = Row("=b.svg", "b", "two inks", FAULT, fault="no, “x”", mend="say y")
    doubt = replace(ROW, certain=False, least=None, possible=None)
    text = rows_csv([ROW, doubt, fault]).decode()
    assert text.count("\r\n") == 4
    one, two, three = csv.DictReader(io.StringIO(text))
    assert one == {
        "drawing": "a.svg", "folder": "a", "palette": "two inks", "state": "done",
        "regions": "9", "kinds": "3", "symmetry": "plane p4m", "certain": "yes",
        "least_difference": "12.5", "wanted": "20.0", "best_possible": "14.0",
        "swatches": "2", "notes": "1", "fault": "", "mend": "",
    }  # fmt: skip
    assert (two["certain"], two["least_difference"], two["best_possible"]) == (
        "no", "", ""
    )  # fmt: skip
    # no cell that a spreadsheet would run
    assert three["drawing"] == "'=b.svg"
    assert (three["certain"], three["regions"]) == ("", "")
    assert (three["fault"], three["mend"]) == ("no, “x”", "say y")


def kept(out: Path, row: Row = ROW) -> Part:
    part = Part(row, "digest", "1", {"plan.toml": b"x = 1\n"}, picture=b"small")
    return keep(part, str(out), force=False, plan_file=None)


def test_what_was_made_before_is_known_again(tmp_path: Path) -> None:
    ledger, part = Ledger(str(tmp_path)), kept(tmp_path)
    assert part.files == {}
    assert (tmp_path / "a" / "plan.toml").read_bytes() == b"x = 1\n"
    ledger.remember(JOB, "key", "digest", [part])
    (again,) = ledger.recall(JOB, "key")
    assert (again.row, again.outputs) == (part.row, part.outputs)
    assert again.picture == b"small"
    # another drawing or another choice, a palette more
    assert ledger.recall(JOB, "other") is None
    more = replace(JOB, choices=(*JOB.choices, Choice("b", Plan())))
    assert ledger.recall(more, "key") is None


@pytest.mark.parametrize("way", ["edited", "gone", "no picture", "broken", "short"])
def test_what_is_not_as_it_was_is_made_again(tmp_path: Path, way: str) -> None:
    ledger, part = Ledger(str(tmp_path)), kept(tmp_path)
    ledger.remember(JOB, "key", "digest", [part])
    file, record = tmp_path / "a" / "plan.toml", tmp_path / ".batch" / "a.json"
    if way == "edited":
        file.write_bytes(b"x = 2\n")
    elif way == "gone":
        file.unlink()
    elif way == "no picture":
        (tmp_path / ".batch" / "a.png").unlink()
    elif way == "broken":
        record.write_text("{")
    else:
        told = json.loads(record.read_text())
        del told["parts"][0]["row"]["strip"]
        record.write_text(json.dumps(told))
    assert ledger.recall(JOB, "key") is None


@pytest.mark.parametrize(
    ("row", "source"), [(replace(ROW, state=FAULT), "digest"), (ROW, "another")]
)
def test_faults_and_drawings_that_changed_meanwhile_are_not_known(
    tmp_path: Path, row: Row, source: str
) -> None:
    ledger = Ledger(str(tmp_path))
    ledger.remember(JOB, "key", source, [replace(kept(tmp_path), row=row)])
    assert ledger.recall(JOB, "key") is None
    assert (tmp_path / ".batch" / "a.png").read_bytes() == b"small"


def test_a_part_that_cannot_be_written_is_a_fault(tmp_path: Path) -> None:
    kept(tmp_path)
    (tmp_path / "a" / "plan.toml").write_bytes(b"mine\n")
    again = kept(tmp_path)
    assert again.row.state == FAULT
    assert "plan.toml" in again.row.fault
    assert again.row.mend
    assert (again.files, again.outputs) == ({}, {})
    assert (tmp_path / "a" / "plan.toml").read_bytes() == b"mine\n"


@pytest.mark.parametrize(
    ("error", "fault"),
    [
        (FillworkError("no line", "a.svg", "draw one"), "a.svg: no line"),
        (FillworkError("no\n  line"), "no line"),
        (MemoryError(), "the drawing needs more memory than there is"),
        (
            ZeroDivisionError("by 0"),
            "an error in fillwork itself: ZeroDivisionError: by 0",
        ),
    ],
)
def test_one_fault_is_told_once_a_palette(error: BaseException, fault: str) -> None:
    job = replace(JOB, choices=(Choice("one", Plan()), Choice("two", Plan())))
    rows = [part.row for part in faults(job, error)]
    assert [row.folder for row in rows] == ["a/one", "a/two"]
    assert {row.fault for row in rows} == {fault}
    assert {row.state for row in rows} == {FAULT}
    assert all(row.mend for row in rows) == (fault != "no line")


@pytest.mark.parametrize("size", [(960, 240), (240, 960), (100, 50)])
def test_small_pictures_fit_and_are_not_made_larger(size: tuple[int, int]) -> None:
    out = io.BytesIO()
    Image.new("RGBA", size, "#336699").save(out, "PNG")
    with Image.open(io.BytesIO(_small(out.getvalue()))) as small:
        share = min(1.0, 480 / max(size))
        assert small.size == tuple(round(v * share) for v in size)
        assert (small.mode, small.getpixel((0, 0))) == ("RGB", (0x33, 0x66, 0x99))
