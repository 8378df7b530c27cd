"""What undo, redo and wishes leave on the disk, whenever the page ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillwork.colouring.model import Pin
from fillwork.pipeline.moments import Moment
from fillwork.plans.file import plan_to_toml
from fillwork.plans.model import Plan
from fillwork.server import history as room
from fillwork.server.history import History
from fillwork.server.store import Saved, Store

if TYPE_CHECKING:
    from pathlib import Path


def opened(folder: Path) -> History:
    """Open a sheet, a new one where none lies in the folder."""
    store = Store(folder)
    if (folder / "sheets").is_dir():
        return History(store, store.load("sheet-one"))
    digest = store.save_drawing(b"lines")
    found = History(
        store, Saved("sheet-one", "a.svg", digest, plan_to_toml(Plan()), None)
    )
    found.save()
    return found


def moved(history: History, *labels: str) -> None:
    wishes = [history.wish("paint", {"label": label}) for label in labels]
    history.move([Moment(Plan(), None, label) for label in labels], wishes[-1].number)


def stepped(history: History, *, forward: bool) -> str | None:
    beside = history.beside(forward)
    if beside is None:
        return None
    done = history.wish("redo" if forward else "undo", {}).number
    history.step(forward, beside, done)
    return history.now.label


def test_undo_and_redo_go_through_all_moments_also_after_a_new_start(
    tmp_path: Path,
) -> None:
    history = opened(tmp_path)
    assert history.labels == (None, None)
    moved(history, "one", "two")  # touches that join: undone one by one
    moved(history, "three")
    for again in (False, True):
        assert history.labels == ("three", None)
        assert stepped(history, forward=False) == "two"
        assert history.labels == ("two", "three")
        assert stepped(history, forward=False) == "one"
        history = opened(tmp_path) if again else history
        assert history.labels == ("one", "two")
        assert stepped(history, forward=False) == ""
        assert history.labels == (None, "one")
        assert stepped(history, forward=False) is None
        assert [stepped(history, forward=True) for _ in range(4)] == [
            "one", "two", "three", None,
        ]  # fmt: skip
    stepped(history, forward=False)
    moved(history, "four")  # what was undone is gone
    assert history.labels == ("four", None)
    assert [stepped(history, forward=False) for _ in range(4)] == [
        "two",
        "one",
        "",
        None,
    ]
    # of "three", which nothing leads back to, no file is left
    files = {path.name for path in (tmp_path / "moments").iterdir()}
    assert files == {f"sheet-one.{k}.json" for k in (0, 1, 2, 4)}


def test_undo_goes_back_so_far_and_no_file_is_left_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "MOST_MOMENTS", 3)
    history = opened(tmp_path)
    for label in "abcde":
        moved(history, label)
    assert len(list((tmp_path / "moments").iterdir())) == 3
    assert [stepped(history, forward=False) for _ in range(4)] == ["d", "c", "b", None]


def test_a_moment_comes_back_with_its_pins(tmp_path: Path) -> None:
    history, pins = (
        opened(tmp_path),
        (Pin("A", "straw"), Pin("@1.0,2.0", "clay", "only")),
    )
    history.move([Moment(Plan(match="turns"), pins, "one")], 0)
    moved(history, "two")
    history = opened(tmp_path)
    stepped(history, forward=False)
    assert history.now == Moment(Plan(match="turns"), pins, "one")
    assert opened(tmp_path).now == history.now


def test_wishes_wait_until_they_are_settled(tmp_path: Path) -> None:
    history = opened(tmp_path)
    acts = [history.wish(act, {}) for act in ("paint", "solve", "undo")]
    assert [wish.number for wish in acts] == [1, 2, 3]
    history.settle(1)
    history = opened(tmp_path)
    assert [(w.number, w.act, w.tries) for w in history.waiting] == [
        (2, "solve", 1), (3, "undo", 0),
    ]  # fmt: skip
    assert history.wish("redo", {}).number == 4
    history.settle(4)
    assert not list((tmp_path / "wishes").iterdir())
    history = opened(tmp_path)
    assert history.waiting == ()
    assert history.wish("undo", {}).number == 5
    history.wish("undo", {})
    history.settle_all()
    assert opened(tmp_path).waiting == ()


def test_a_wish_in_whose_midst_the_page_ends_four_times_is_left_out(
    tmp_path: Path,
) -> None:
    history = opened(tmp_path)
    for act in ("paint", "solve"):
        history.wish(act, {})
    tried = [(1, 1), (1, 2), (1, 3), (1, 4), (2, 1), (2, 2), (2, 3), (2, 4)]
    for number, tries in tried:
        first = opened(tmp_path).waiting[0]
        assert (first.number, first.tries) == (number, tries)
    assert opened(tmp_path).waiting == ()


def test_nothing_is_written_after_the_end(tmp_path: Path) -> None:
    history = opened(tmp_path)
    history.wish("paint", {})
    history.close()
    history.move([Moment(Plan(), None, "late")], 1)
    history = opened(tmp_path)
    assert (history.labels, len(history.waiting)) == ((None, None), 1)


@pytest.mark.parametrize("done", [False, True])
def test_a_sheet_on_which_nothing_was_done_is_not_kept(
    tmp_path: Path, done: bool
) -> None:
    history = opened(tmp_path)
    if done:
        moved(history, "one")
    history.drop()
    assert len(list((tmp_path / "sheets").iterdir())) == done
