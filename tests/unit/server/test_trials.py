"""Colourways that are kept beside a sheet."""

from __future__ import annotations

import base64
import threading
import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from fillwork.errors import FillworkError
from fillwork.pipeline import laid_data
from fillwork.pipeline.moments import Moment
from fillwork.plans.file import plan_to_toml
from fillwork.plans.model import LayingSettings, Plan
from fillwork.server import trials as room
from fillwork.server.store import Store
from fillwork.server.trials import Trials
from fillwork.server.work import Worker
from tests.unit.server.test_attacks import SQUARE
from tests.unit.server.test_routes import Visitor

if TYPE_CHECKING:
    from pathlib import Path

PLAN = plan_to_toml(Plan(match="turns"))


def row(number: int, words: str = "") -> dict[str, Any]:
    picture = base64.b64encode(b"picture %d" % number).decode()
    return {"number": number, "words": words, "plan": PLAN, "picture": picture}


def told(trials: Trials) -> list[tuple[int, str]]:
    return [(kept["number"], kept["words"]) for kept in trials.kept()]


def test_what_is_kept_is_there_and_what_cannot_be_read_costs_nothing(
    tmp_path: Path,
) -> None:
    store = Store(tmp_path)
    broken = [row(k) for k in (2, 3, 4)]
    broken[0]["plan"], broken[1]["picture"] = "match =", "x"
    del broken[2]["words"]
    store.save_rows("kept", "sheet-one", [row(1, "calm"), *broken, row(7, "loud")])
    trials = Trials(store, "sheet-one")
    assert told(trials) == [(1, "calm"), (7, "loud")]
    for kept in trials.kept():
        number = kept["number"]
        assert trials.picture(kept["picture"]) == b"picture %d" % number
        assert trials.plan_file(number) == PLAN
    trials.let_go(1)
    trials.keep(7, "loudest")
    assert told(trials) == told(Trials(store, "sheet-one")) == [(7, "loudest")]
    assert trials.suggestions() == trials.choices() == []
    for ask in (lambda: trials.plan_file(1), lambda: trials.picture("suggestion-9")):
        with pytest.raises(FillworkError, match="no longer there"):
            ask()


def test_so_many_are_kept_and_no_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = Store(tmp_path)
    store.save_rows("kept", "sheet-one", [row(1), row(2)])
    for most, kept in ((2, False), (3, True)):
        monkeypatch.setattr(room, "MOST_KEPT", most)
        trials = Trials(store, "sheet-one")
        monkeypatch.setattr(trials, "plan_file", lambda _: PLAN)
        monkeypatch.setattr(trials, "picture", lambda _: b"new")
        trials.keep(2, "again")  # takes no room of its own
        if kept:
            trials.keep(3, "new")
        else:
            with pytest.raises(FillworkError, match="2 colourways are kept"):
                trials.keep(3, "new")
    assert told(Trials(store, "sheet-one")) == [(1, ""), (2, "again"), (3, "new")]


def test_long_words_are_cut(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Worker, "submit", lambda *_: None)
    first = Visitor(tmp_path)
    sheet = first.post("/api/open?name=a.svg", SQUARE % b"").json["id"]
    first.desk.store.save_rows("kept", sheet, [row(1)])
    first.desk.close()
    second = Visitor(tmp_path)
    second.post("/api/reopen", {"id": sheet})
    wish = {"number": 1, "words": "x" * 201}
    (kept,) = second.post(f"/api/{sheet}/keep", wish).json
    assert kept["words"] == "x" * 200
    second.desk.close()


def test_what_is_laid_is_made_anew_where_its_choices_change(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Worker, "submit", lambda *_: None)
    visitor, made = Visitor(tmp_path), []

    def laid(_: bytes, plan: Plan, **__: object) -> dict[str, int]:
        made.append(plan)
        return {"times": len(made)}

    monkeypatch.setattr(laid_data, "laid_data", laid)
    name = visitor.post("/api/open?name=a.svg", SQUARE % b"").json["id"]
    sheet = visitor.desk.sheet(name)
    changes = (
        {"laying": LayingSettings(over=(90.0, 60.0))},
        {"scale": 2.0},
        {"leave": ("layer=a",)},
        {"symmetry": ((0, "plane:p4"),)},
    )
    plan = Plan()
    for times, change in enumerate(({}, *changes), start=1):
        plan = replace(plan, **change)
        sheet._history.now = Moment(plan)
        assert sheet.laying() == {"times": times}
        assert sheet.laying() == {"times": times}
    # colours have no part in it
    sheet._history.now = Moment(replace(plan, view="grey"))
    assert sheet.laying() == {"times": len(made)} == {"times": 5}
    visitor.desk.close()


def test_ways_kept_side_by_side_are_all_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    trials = Trials(Store(tmp_path), "a-sheet-of-it")
    save = Store.save_rows

    def slow(*given: Any) -> None:
        time.sleep(0.05)
        save(*given)

    monkeypatch.setattr(Store, "save_rows", slow)
    monkeypatch.setattr(Trials, "plan_file", lambda *_: "")
    monkeypatch.setattr(Trials, "picture", lambda *_: b"")
    both = [threading.Thread(target=trials.keep, args=(k, "")) for k in (1, 2)]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert [way["number"] for way in trials.kept()] == [1, 2]
