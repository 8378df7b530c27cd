"""What is kept in the folder, what is tidied away, and what broken pieces cost."""

from __future__ import annotations

import json
import os
import time
from dataclasses import asdict
from typing import TYPE_CHECKING

import pytest

from fillwork.errors import FillworkError
from fillwork.server.store import Saved, Store

if TYPE_CHECKING:
    from pathlib import Path

DAY = 86400.0


def lay(store: Store, folder: Path, name: str, when: float, drawing: bytes) -> None:
    """Lay a sheet down as one that was kept at another time lies there."""
    digest = store.save_drawing(drawing)
    saved = Saved(name, f"{name}.svg", digest, "schema = 1\n", None, when=when)
    path = folder / "sheets" / f"{name}.json"
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps({"schema": 1, **asdict(saved)}))


def test_of_drawings_only_old_ones_that_no_sheet_needs_go(tmp_path: Path) -> None:
    store = Store(tmp_path)
    folder = tmp_path / "drawings"
    lay(store, tmp_path, "sheet-one", time.time(), b"needed")
    (needed,) = (path.name for path in folder.iterdir())
    for name, days in (("young", 0.9), ("old", 1.1), (needed, 9.0)):
        path = folder / name
        path.write_bytes(b"needed")
        then = time.time() - days * DAY
        os.utime(path, (then, then))
    store.tidy()
    assert {path.name for path in folder.iterdir()} == {needed, "young"}


def test_the_newest_sheets_stay_with_what_lies_beside_them(tmp_path: Path) -> None:
    store = Store(tmp_path)
    names = [f"sheet-{k:02d}" for k in range(42)]
    for k, name in enumerate(names):
        lay(store, tmp_path, name, 1000.0 - k, name.encode())
        store.save_rows("moments", name, [{"k": k}], 1)
        store.add_wish(name, {"number": k})
    # the list shows twelve; of the same second they stand by their names
    lay(store, tmp_path, "sheet-xx", 1000.0, b"x")
    told = [saved.id for saved in store.last()]
    assert told == [names[0], "sheet-xx", *names[1:11]]
    store.tidy()
    kept = {"sheet-xx", *names[:39]}
    for room, parts in (("sheets", ""), ("moments", ".1"), ("wishes", "")):
        found = {path.name for path in (tmp_path / room).iterdir()}
        have = kept if room == "sheets" else kept - {"sheet-xx"}
        assert found == {f"{name}{parts}.json" for name in have}, room
    assert store.rows("wishes", names[3]) == [{"number": 3}]
    assert store.rows("wishes", names[41]) == []


def test_a_sheet_lies_there_as_it_was(tmp_path: Path) -> None:
    store, begun = Store(tmp_path), time.time()
    digest = store.save_drawing(b"lines")
    pins = [["A", "straw", "kind"]]
    past: list[tuple[int, str]] = [(1, "open"), (2, "paint")]
    saved = Saved("sheet-one", "ä.svg", digest, "x", pins, label="é", done=3, past=past)
    store.save(saved)
    found = store.load("sheet-one")
    assert begun <= found.when <= time.time()
    table = asdict(saved) | {"when": found.when, "past": [[1, "open"], [2, "paint"]]}
    assert asdict(found) == table
    told = json.loads((tmp_path / "sheets" / "sheet-one.json").read_text("utf-8"))
    assert told == {"schema": 1} | table
    assert store.drawing(digest) == b"lines"
    for wrong in (digest[:-1], digest.upper(), "../sheets/sheet-one.json"):
        with pytest.raises(FillworkError, match="no longer there"):
            store.drawing(wrong)
    with pytest.raises(FillworkError, match="no longer there"):
        store.load("sheet-two")


def test_rows_that_are_cut_short_cost_the_others_nothing(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.add_wish("sheet-one", {"number": 1})
    with (tmp_path / "wishes" / "sheet-one.json").open("ab") as file:
        file.write(b'{"number": 2, "a')
    store.add_wish("sheet-one", {"number": 3})
    with (tmp_path / "wishes" / "sheet-one.json").open("ab") as file:
        file.write(b'7\n[{"number": 4}, {"number": 5}]\n"x"\n')
    assert [row["number"] for row in store.rows("wishes", "sheet-one")] == [1, 3, 4, 5]
    store.save_rows("wishes", "sheet-one", [])
    assert store.rows("wishes", "sheet-one") == []
    assert list((tmp_path / "wishes").iterdir()) == []


@pytest.mark.parametrize(
    ("text", "port"),
    [
        ("8123", 8123),
        ("1023", 0),
        ("1024", 1024),
        ("65535", 65535),
        ("65536", 0),
        ("x", 0),
        (None, 0),
    ],
)
def test_the_port_of_the_start_before(
    tmp_path: Path, text: str | None, port: int
) -> None:
    if text is not None:
        (tmp_path / "port").write_text(text)
    assert Store(tmp_path).last_port() == port


def test_a_port_is_remembered(tmp_path: Path) -> None:
    Store(tmp_path).save_port(8124)
    assert Store(tmp_path).last_port() == 8124
