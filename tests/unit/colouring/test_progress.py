"""Long searches tell how far they are, and end when told to."""

import numpy as np
import pytest
from scipy.spatial import Delaunay

from fillwork.colouring.model import Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.colouring.search.colourways import find_colourways
from fillwork.colouring.search.least import find_least_alike
from fillwork.colouring.search.solve import Problem
from tests.unit.colouring.stand_ins import graph, random_palette
from tests.unit.colouring.test_counterchange import squares


class EnoughError(Exception):
    """What a reader of progress raises to end the work."""


def plane_map(count, seed=0):
    points = np.random.default_rng(seed).random((count, 2))
    faces = Delaunay(points).simplices
    pairs = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [0, 2]]])
    return np.unique(np.sort(pairs, axis=1), axis=0).tolist()


def test_the_part_done_grows_and_is_told_within_the_search():
    told = []
    assign_colours(
        *graph(500, plane_map(500)),
        random_palette(12, 1),
        Rules(),
        progress=lambda done, what: told.append((done, what)),
    )
    parts = [done for done, _ in told]
    assert parts == sorted(parts)
    assert parts[0] >= 0.0
    assert parts[-1] == 1.0
    assert len(told) > 40  # not only where stages begin
    assert len({what for _, what in told}) >= 3


@pytest.mark.parametrize("calls", [1, 5, 30, 60])
def test_an_assignment_ends_when_told(calls):
    left = [calls]

    def progress(done, what):
        left[0] -= 1
        if left[0] == 0:
            raise EnoughError

    with pytest.raises(EnoughError):
        assign_colours(
            *graph(500, plane_map(500)),
            random_palette(12, 1),
            Rules(),
            progress=progress,
        )


@pytest.mark.parametrize("calls", [1, 10, 100, 400])
def test_colourways_end_when_told(calls):
    told = []

    def progress(done, what):
        told.append(done)
        if len(told) == calls:
            raise EnoughError

    with pytest.raises(EnoughError):
        find_colourways(
            *graph(40, plane_map(40)),
            [random_palette(12, 5), random_palette(10, 6)],
            Rules(),
            count=6,
            progress=progress,
        )
    assert told == sorted(told)


def test_a_search_for_the_least_alike_ends_when_told():
    links = np.array([(a, b) for a in range(18) for b in range(a)])
    problem = Problem((7,) * 18, links, np.empty((0, 2), int), 1.0 - np.eye(3))
    told = []

    def tick():
        told.append(1)
        if len(told) == 20:
            raise EnoughError

    with pytest.raises(EnoughError):
        find_least_alike(problem, np.ones(len(links)), tick=tick)


def test_counterchange_tells_kind_by_kind():
    told = []
    assign_colours(
        *squares(),
        random_palette(12, 3),
        Rules(counterchange=2),
        progress=lambda _, what: told.append(what),
    )
    assert "finding how kind A can alternate" in told


def test_progress_changes_nothing():
    scene = graph(60, plane_map(60))
    paints = random_palette(9, 2)
    plain = assign_colours(*scene, paints, Rules())
    told = assign_colours(*scene, paints, Rules(), progress=lambda *_: None)
    assert plain.of_face.tolist() == told.of_face.tolist()
