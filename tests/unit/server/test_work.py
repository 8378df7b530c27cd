"""Work in the background ends within a search, not only between stages."""

import threading

import pytest

from fillwork.colouring.model import Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.errors import FillworkError
from fillwork.pipeline.progress import telling
from fillwork.server import work
from fillwork.server.work import Worker
from tests.unit.colouring.stand_ins import graph, random_palette
from tests.unit.colouring.test_progress import plane_map


def test_a_search_is_cancelled_within():
    scene, paints = graph(3000, plane_map(3000)), random_palette(12, 1)
    worker = Worker()
    begun, asked = threading.Event(), threading.Event()
    told, done = [], []

    def job(tell):
        def progress(what):
            told.append(what)
            if len(told) == 3:  # the search for the largest difference goes on
                begun.set()
                asked.wait(30)
            tell(what)

        assign_colours(*scene, paints, Rules(), progress=telling(progress))
        done.append(True)

    worker.submit("try", job)
    assert begun.wait(30)
    worker.cancel()
    asked.set()
    assert worker.wait(30)
    assert worker.state()["state"] == "cancelled"
    assert len(told) == 3
    assert told[-1].startswith("searching the largest smallest difference (")
    assert not done
    worker.end()


class Held:
    """A worker whose first job waits until it is let go."""

    def __init__(self):
        self.worker, self.done = Worker(), []
        self._begun, self._go = threading.Event(), threading.Event()
        self.worker.submit("held", self._job)
        assert self._begun.wait(30)

    def _job(self, tell):
        tell("holding")
        self._begun.set()
        self._go.wait(30)
        tell("going on")
        self.done.append("held")

    def add(self, name, mark):
        self.worker.submit(name, lambda _: self.done.append(mark))

    def let_go(self):
        self._go.set()
        assert self.worker.wait(30)
        return self.done


def test_a_job_gives_way_to_one_of_its_name_that_comes_later():
    held = Held()
    for name, mark in (("a", 1), ("b", 2), ("a", 3)):
        held.add(name, mark)
    state = {"state": "working", "what": "holding", "error": None, "failed": 0}
    assert held.worker.state() == state | {"ended": 0}
    assert held.let_go() == ["held", 2, 3]
    assert held.worker.state() == state | {"state": "idle", "what": "", "ended": 3}
    held.worker.end()


def test_so_many_jobs_wait_and_no_more(monkeypatch):
    monkeypatch.setattr(work, "MOST_WAITING", 2)
    held = Held()
    held.add("a", 1)
    held.add("b", 2)
    with pytest.raises(FillworkError, match="too much is waiting"):
        held.add("c", 3)
    held.add("b", 4)
    assert held.let_go() == ["held", 1, 4]
    held.worker.end()


@pytest.mark.parametrize("way", ["cancel", "end"])
def test_what_waits_is_forgotten_and_what_runs_ends_at_its_next_word(way):
    held = Held()
    held.add("a", 1)
    getattr(held.worker, way)()
    assert held.let_go() == []
    assert held.worker.state()["state"] == "cancelled"
    if way == "cancel":  # and it goes on with what is wished then
        held.add("b", 2)
        assert held.let_go() == [2]
        assert held.worker.state()["state"] == "idle"
    held.worker.end()


@pytest.mark.parametrize(
    ("error", "what"),
    [
        (FillworkError("no such", "a.svg", "take b"), ("no such", "a.svg", "take b")),
        (MemoryError(), ("there is not enough memory", "", None)),
        (ZeroDivisionError(), ("something went wrong inside fillwork", "", None)),
    ],
)
def test_what_goes_wrong_is_said_and_the_next_job_is_done(error, what, capsys):
    def wrong(_):
        raise error

    worker, done = Worker(), []
    worker.submit("wrong", wrong)
    assert worker.wait(30)
    state = worker.state()
    told = state["error"]
    assert state["state"] == "failed"
    assert (told["what"], told["where"]) == what[:2]
    assert told["mend"] == what[2] if what[2] else told["mend"]
    assert ("Traceback" in capsys.readouterr().err) == ("inside" in told["what"])
    worker.submit("right", lambda _: done.append(1))
    assert worker.wait(30)
    assert done == [1]
    # who did not ask in between hears of it all the same
    state = {"state": "idle", "what": "", "error": told, "ended": 2, "failed": 1}
    assert worker.state() == state
    worker.end()
