"""Work in the background ends within a search, not only between stages."""

import threading

from fillwork.colouring.model import Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.pipeline.progress import telling
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
