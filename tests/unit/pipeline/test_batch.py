"""Many drawings at once: what single runs give, faults as rows, going on later."""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

from fillwork import Plan, colour_drawing
from fillwork.colouring.palettes.model import Palette
from fillwork.errors import PlanError, ReadError
from fillwork.pipeline.batch import local, run
from fillwork.pipeline.batch.jobs import folder_names
from fillwork.pipeline.batch.parts import DONE, FAULT, WAITING, make_parts
from fillwork.pipeline.batch.run import colour_batch

PALETTE = "quiet-earth"
PLAIN = Plan(palette=PALETTE, png_width=64)


def row_of_squares(count: int) -> str:
    sides = "".join(f"M{10 * k} 0V10" for k in range(count + 1))
    wide = 10 * count
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="10mm" '
        f'viewBox="0 0 {wide} 10"><path d="M0 0H{wide}M0 10H{wide}{sides}" '
        'fill="none" stroke="black" stroke-width=".2"/></svg>'
    )


@pytest.fixture
def drawings(tmp_path: Path) -> list[Path]:
    paths = []
    for name, count in (("a/row", 2), ("b/row", 3), ("four", 4)):
        path = tmp_path / f"{name}.svg"
        path.parent.mkdir(exist_ok=True)
        path.write_text(row_of_squares(count))
        paths.append(path)
    broken = tmp_path / "broken.svg"
    broken.write_text("<svg")
    return [*paths, broken]


def files_in(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir()}


def in_this_process(jobs, keeping, *, workers):
    for job in jobs:
        made = make_parts(job, Path(job.path).read_bytes())
        yield job, [keeping(part) for part in made]


def test_processes_give_what_single_runs_give_and_are_not_asked_twice(
    drawings: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out, single = tmp_path / "out", tmp_path / "single"
    told: list[str] = []
    # a script as people write it, not guarded: no process runs it again
    script = ModuleType("__main__")
    script.__file__ = str(tmp_path / "script.py")
    Path(script.__file__).write_text("raise SystemExit('run again')")
    monkeypatch.setitem(sys.modules, "__main__", script)
    done = colour_batch(drawings, PLAIN, out=out, workers=2, progress=told.append)
    assert sys.modules["__main__"] is script
    assert [row.folder for row in done.rows] == ["a-row", "b-row", "four", "broken"]
    assert [row.state for row in done.rows] == [DONE, DONE, DONE, FAULT]
    assert [row.regions for row in done.rows] == [2, 3, 4, None]
    colour_drawing(drawings[0], PLAIN).write(single)
    assert files_in(out / "a-row") == files_in(single)
    assert any("4 of 4 done, 1 fault" in text for text in told)
    table = list(csv.DictReader((out / "batch.csv").read_text().splitlines()))
    assert [line["regions"] for line in table] == ["2", "3", "4", ""]
    assert "XML" in table[3]["fault"]
    # again: only what failed is tried, and all is as it was
    before = files_in(out / "four")
    names = {p.name: p.read_bytes() for p in out.iterdir() if p.is_file()}
    asked: list[str] = []

    def noted(jobs, keeping, **settings):
        asked.extend(job.name for job in jobs)
        yield from in_this_process(jobs, keeping, **settings)

    monkeypatch.setattr(run, "work_locally", noted)
    again = colour_batch(drawings, PLAIN, out=out)
    assert asked == ["broken.svg"]
    assert again.before == 3
    assert again.rows == done.rows
    assert {p.name: p.read_bytes() for p in out.iterdir() if p.is_file()} == names
    # another drawing, other choices, a file that is gone: these are made again
    drawings[1].write_text(row_of_squares(5))
    (out / "four" / "coloured.png").unlink()
    asked.clear()
    third = colour_batch(drawings, PLAIN, out=out)
    assert asked == ["row.svg", "four.svg", "broken.svg"]
    assert [row.regions for row in third.rows] == [2, 5, 4, None]
    assert files_in(out / "four") == before
    asked.clear()
    other = replace(PLAIN, view="grey")
    colour_batch(drawings[:1], other, out=out)
    assert asked == ["row.svg"]


def test_several_palettes_and_an_edited_file(
    drawings: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "work_locally", in_this_process)
    out, single = tmp_path / "out", tmp_path / "single"
    own = Palette.from_colours({"ivory": "#fffff0", "night": "#14143c"})
    both = [PALETTE, own]
    done = colour_batch(drawings[2:3], PLAIN, palettes=both, out=out)
    assert [row.folder for row in done.rows] == [f"four/{PALETTE}", "four/own-colours"]
    colour_drawing(drawings[2], PLAIN, palette=own).write(single)
    assert files_in(out / "four" / "own-colours") == files_in(single)
    mine = out / "four" / PALETTE / "schedule.txt"
    mine.write_text("my own words")
    again = colour_batch(drawings[2:3], PLAIN, palettes=both, out=out)
    assert [row.state for row in again.rows] == [FAULT, DONE]
    assert "edited since" in again.rows[0].fault
    assert mine.read_text() == "my own words"


def test_a_killed_process_is_tried_again_and_then_a_row(
    drawings: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand, killed = local._hand, []

    def hand_and_kill(worker, job):
        hand(worker, job)
        if job.name == "row.svg" or not killed:
            killed.append(job.name)
            worker.process.kill()

    monkeypatch.setattr(local, "_hand", hand_and_kill)
    done = colour_batch(drawings[2:0:-1], PLAIN, out=tmp_path / "out", workers=1)
    assert killed == ["four.svg", "row.svg", "row.svg"]
    assert [row.state for row in done.rows] == [DONE, FAULT]
    assert "ended from outside" in done.rows[1].fault


def test_stopped_it_says_what_waits_and_goes_on_from_there(
    drawings: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(jobs, keeping, **settings):
        yield from in_this_process(jobs[:1], keeping, **settings)
        raise KeyboardInterrupt

    out = tmp_path / "out"
    monkeypatch.setattr(run, "work_locally", stopped)
    done = colour_batch(drawings[:3], PLAIN, out=out)
    assert done.stopped
    assert [row.state for row in done.rows] == [DONE, WAITING, WAITING]
    again = colour_batch(drawings[:3], PLAIN, out=out)
    assert [row.state for row in again.rows] == [DONE, DONE, WAITING]


def test_a_process_ends_between_files_and_not_within() -> None:
    stop = local._Stop()
    held = stop.held()
    held.__enter__()
    stop(15, None)  # nothing yet: files are being written
    with pytest.raises(SystemExit):
        held.__exit__(None, None, None)
    with pytest.raises(SystemExit):
        stop(15, None)


@pytest.mark.parametrize(
    ("names", "folders"),
    [
        (["a/x.svg", "b/x.svg", "b/x.dxf"], ["a-x-svg", "b-x-svg", "b-x-dxf"]),
        (["c/a/x.svg", "d/a/x.svg"], ["c-a-x", "d-a-x"]),
        (["batch.csv.svg", ".hidden.svg"], ["batch.csv-2", "hidden"]),
        (["a/b.svg", "a-b.svg", "c/b.svg"], ["a-b", "a-b-2", "c-b"]),
    ],
)
def test_folders_are_told_apart(names: list[str], folders: list[str]) -> None:
    assert folder_names([Path(name) for name in names]) == folders


@pytest.mark.parametrize(
    ("settings", "error"),
    [
        ({"drawings": []}, ReadError),
        ({"drawings": ["-"]}, ReadError),
        ({"palettes": [PALETTE, PALETTE]}, PlanError),
        ({"workers": 0}, PlanError),
        ({"plan": Plan(scale=-1.0)}, PlanError),
    ],
)
def test_what_no_drawing_could_mend_ends_it_at_once(
    settings: dict, error: type[Exception], tmp_path: Path
) -> None:
    given = {"drawings": ["x.svg"], "out": tmp_path / "out"} | settings
    with pytest.raises(error):
        colour_batch(**given)
    assert not (tmp_path / "out").exists()


def test_without_dask_the_extra_is_named(
    drawings: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ReadError, match=r"\.\[cluster\]"):
        colour_batch(drawings, out=tmp_path / "out", cluster="tcp://127.0.0.1:1")


@pytest.mark.parametrize("address", ["nowhere", "tcp://127.0.0.1:99999"])
def test_an_address_where_nobody_listens_is_refused_at_once(
    address: str,
    drawings: list[Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # refused before Dask is asked for anything
    monkeypatch.setitem(sys.modules, "distributed", ModuleType("distributed"))
    with pytest.raises(ReadError, match="no Dask scheduler answers there"):
        colour_batch(drawings, out=tmp_path / "out", cluster=address)


@pytest.mark.filterwarnings("ignore")
def test_a_cluster_loses_a_worker_and_nothing_else(
    drawings: list[Path], tmp_path: Path
) -> None:
    place = tmp_path / "scheduler.json"
    common = ["--no-dashboard", "--host", "127.0.0.1", "--scheduler-file", str(place)]

    def begin(part: str, *options: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.{part}", *common, *options]
        quiet = subprocess.DEVNULL
        path = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
        return subprocess.Popen(command, stdout=quiet, stderr=quiet, env=path)

    begun = [begin("dask_scheduler", "--port", "0")]
    try:
        worker = ("dask_worker", "--no-nanny", "--nthreads", "1")
        begun += [begin(*worker) for _ in range(2)]
        while not place.exists():
            assert begun[0].poll() is None, "the scheduler did not start"
            time.sleep(0.05)
        address = json.loads(place.read_text())["address"]
        out, lost = tmp_path / "out", []

        def kill_one(text: str) -> None:
            if " 1 of " in f" {text.partition('(')[2]}" and not lost:
                lost.append(begun[1])
                begun[1].kill()

        more = [tmp_path / f"more-{k}.svg" for k in range(2)]
        for path in more:
            path.write_text(row_of_squares(5))
        done = colour_batch(
            [*drawings, *more], PLAIN, out=out, cluster=address, progress=kill_one
        )
        assert lost
        assert [r.state for r in done.rows] == [DONE] * 3 + [FAULT] + [DONE] * 2
        colour_drawing(drawings[0], PLAIN).write(tmp_path / "single")
        assert files_in(out / "a-row") == files_in(tmp_path / "single")
    finally:
        for process in begun:
            process.kill()
            process.wait()
