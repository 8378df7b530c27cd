"""Files are written whole or not at all, and never over somebody else's work."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import threading
from typing import TYPE_CHECKING

import pytest

from fillwork.errors import RenderError
from fillwork.pipeline.output import (
    LEFT,
    REPORT,
    digest,
    left_there,
    write_file,
    write_files,
)
from fillwork.renderers.report import to_json

if TYPE_CHECKING:
    from pathlib import Path


def with_report(files: dict[str, bytes]) -> dict[str, bytes]:
    outputs = [{"file": n, "sha256": digest(d)} for n, d in files.items()]
    return {**files, REPORT: to_json({"schema": 1, "outputs": outputs})}


def test_files_are_written_with_their_folder(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b"
    written = write_files(folder, with_report({"x.svg": b"one"}))
    assert (folder / "x.svg").read_bytes() == b"one"
    assert [p.name for p in written] == ["x.svg", REPORT]
    assert sorted(p.name for p in folder.iterdir()) == [REPORT, "x.svg"]


def test_own_files_are_replaced(tmp_path: Path) -> None:
    write_files(tmp_path, with_report({"x.svg": b"one"}))
    write_files(tmp_path, with_report({"x.svg": b"two"}))
    assert (tmp_path / "x.svg").read_bytes() == b"two"


@pytest.mark.parametrize("indent", [None, 1, 4])
def test_a_record_that_is_laid_out_otherwise_tells_the_same(
    tmp_path: Path, indent: int | None
) -> None:
    write_files(tmp_path, with_report({"x.svg": b"one"}))
    report = json.loads((tmp_path / REPORT).read_bytes())
    # what stands where a member of the record would stand is not taken for it
    outputs = report.pop("outputs")
    report = {"schema": [{"outputs": []}], "outputs": outputs, **report}
    text = json.dumps({**report, "self_sha256": ""}, indent=indent)
    own = digest(text.encode())
    text = text.replace('"self_sha256": ""', f'"self_sha256": "{own}"')
    (tmp_path / REPORT).write_text(text)
    write_files(tmp_path, with_report({"x.svg": b"two"}))
    assert (tmp_path / "x.svg").read_bytes() == b"two"


@pytest.mark.parametrize("name", ["x.svg", REPORT])
def test_edited_files_are_kept(tmp_path: Path, name: str) -> None:
    write_files(tmp_path, with_report({"x.svg": b"one"}))
    edited = (tmp_path / name).read_bytes() + b" "
    (tmp_path / name).write_bytes(edited)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    with pytest.raises(RenderError, match="edited since"):
        write_files(tmp_path, with_report({"x.svg": b"two"}))
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before
    write_files(tmp_path, with_report({"x.svg": b"two"}), force=True)
    assert (tmp_path / "x.svg").read_bytes() == b"two"


def test_what_an_earlier_run_left_is_told_and_stays_own(tmp_path: Path) -> None:
    write_files(tmp_path, with_report({"x.svg": b"one", "page.html": b"old"}))
    write_files(tmp_path, with_report({"x.svg": b"two"}))
    assert (tmp_path / "page.html").read_bytes() == b"old"
    assert left_there(tmp_path) == ("page.html",)
    write_files(tmp_path, with_report({"x.svg": b"three"}))
    assert left_there(tmp_path) == ("page.html",)
    write_files(tmp_path, with_report({"x.svg": b"two", "page.html": b"new"}))
    assert (tmp_path / "page.html").read_bytes() == b"new"
    assert left_there(tmp_path) == ()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["page.html", REPORT, "x.svg"]


def test_what_was_edited_or_taken_away_is_not_left(tmp_path: Path) -> None:
    before = {"x.svg": b"one", "a.html": b"old", "b.html": b"old"}
    write_files(tmp_path, with_report(before))
    (tmp_path / "a.html").write_bytes(b"mine")
    (tmp_path / "b.html").unlink()
    write_files(tmp_path, with_report({"x.svg": b"two"}))
    assert left_there(tmp_path) == ()
    with pytest.raises(RenderError, match="edited since"):
        write_files(tmp_path, with_report({"x.svg": b"two", "a.html": b"new"}))


@pytest.mark.parametrize(
    "mine",
    [b"", b"mine", b"[" * 100_000, b'{"outputs": [{"file": "../y", "sha256": "0"}]}'],
)
def test_somebody_elses_record_of_that_name_stays(tmp_path: Path, mine: bytes) -> None:
    (tmp_path / LEFT).write_bytes(mine)
    write_files(tmp_path, with_report({"x.svg": b"one"}))
    assert (tmp_path / LEFT).read_bytes() == mine
    assert left_there(tmp_path) == ()


def test_foreign_files_are_kept(tmp_path: Path) -> None:
    (tmp_path / "x.svg").write_bytes(b"mine")
    with pytest.raises(RenderError, match="--force"):
        write_files(tmp_path, {"x.svg": b"two", "y.svg": b"three"})
    assert not (tmp_path / "y.svg").exists()


@pytest.mark.parametrize("name", ["x.svg", REPORT])
def test_a_pipe_in_the_folder_is_not_waited_for(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    os.mkfifo(path)
    # who reads it gets nothing, once
    writer = threading.Thread(target=lambda: path.open("wb").close(), daemon=True)
    writer.start()
    try:
        with pytest.raises(RenderError, match="no plain file"):
            write_files(tmp_path, with_report({"x.svg": b"two"}))
        assert writer.is_alive()
    finally:
        # open until the writer has seen it
        reader = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
        writer.join(5)
        os.close(reader)
    assert [p.name for p in tmp_path.iterdir()] == [name]


def test_nothing_takes_the_place_of_a_device_or_a_pipe(tmp_path: Path) -> None:
    # a file renamed onto /dev/null would take it from everybody
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    for name, kind in (("pipe", "no plain file"), ("folder", "a folder")):
        with pytest.raises(RenderError, match=kind):
            write_file(tmp_path / name, b"x", force=True)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["folder", "pipe"]


def test_a_broken_report_protects_all(tmp_path: Path) -> None:
    (tmp_path / REPORT).write_bytes(b"[" * 100_000)
    with pytest.raises(RenderError):
        write_files(tmp_path, with_report({"x.svg": b"two"}))


def test_the_given_plan_is_never_overwritten(tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_bytes(b"mine")
    files = {"plan.toml": b"other", "x.svg": b"one"}
    write_files(tmp_path, files, force=True, keep=plan)
    assert plan.read_bytes() == b"mine"
    assert (tmp_path / "x.svg").read_bytes() == b"one"


def test_nothing_is_left_when_a_rename_fails(tmp_path: Path) -> None:
    (tmp_path / "x.svg").mkdir()
    with pytest.raises(RenderError, match="folder of that name"):
        write_files(tmp_path, {"x.svg": b"one"})
    assert [p.name for p in tmp_path.iterdir()] == ["x.svg"]


def test_a_folder_under_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(RenderError, match="--out"):
        write_files(tmp_path / "file" / "out", {"x.svg": b"one"})
    assert [p.name for p in tmp_path.iterdir()] == ["file"]


def test_one_file_is_not_written_over_another(tmp_path: Path) -> None:
    write_file(tmp_path / "x.png", b"one")
    write_file(tmp_path / "x.png", b"one")
    # no record says whose it is, and one that has no folder of its own names no --out
    with pytest.raises(RenderError, match="another file of this name") as caught:
        write_file(tmp_path / "x.png", b"two")
    assert "--force" in str(caught.value)
    assert "--out" not in str(caught.value)
    assert (tmp_path / "x.png").read_bytes() == b"one"
    write_file(tmp_path / "x.png", b"two", force=True)
    assert (tmp_path / "x.png").read_bytes() == b"two"


def test_a_report_carries_its_own_digest() -> None:
    data = to_json({"schema": 1, "regions": [{"id": 1}], "text": 'a "quote"'})
    own = json.loads(data)["self_sha256"]
    blank = data.replace(own.encode(), b"")
    assert hashlib.sha256(blank).hexdigest() == own


@pytest.mark.parametrize("name", ["a\\u0000b", "\\ud800"])
@pytest.mark.parametrize("record", [REPORT, LEFT])
def test_a_record_with_names_that_no_file_has_is_no_record(
    tmp_path: Path, name: str, record: str
) -> None:
    text = f'{{"outputs": [{{"file": "{name}", "sha256": "{name}"}}], '
    (tmp_path / record).write_text(text + f'"self_sha256": "{name * 64}"}}')
    write_files(tmp_path, with_report({"x.svg": b"one"}), force=True)
    assert (tmp_path / "x.svg").read_bytes() == b"one"


def test_what_stands_in_the_way_of_a_folder_is_named(tmp_path, monkeypatch):
    def refused(folder: Path) -> str:
        with pytest.raises(RenderError) as caught:
            write_files(folder, {"a.txt": b"1"}, keep=tmp_path / "plan.toml")
        return str(caught.value)

    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    (tmp_path / "loop").symlink_to("loop")
    (tmp_path / "note").write_text("mine")
    for name in ("dangling", "loop", "dangling/deeper"):
        text = refused(tmp_path / name)
        assert f"{name.split('/')[0]}: is a link to a folder that is not there" in text
        assert "make that folder" in text
    for name in ("note", "note/deeper"):
        assert "note: is a file, not a folder" in refused(tmp_path / name)

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("tempfile.mkstemp", full)
    text = refused(tmp_path / "new")
    assert "no space left" in text
    assert "make room" in text
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "dangling",
        "loop",
        "note",
    ]
