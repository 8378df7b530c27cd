"""No more swatches than were allowed, and neighbours alike only where they must be.

Truth: the four-colour theorem for maps of the plane; a triangular lattice is coloured
by (column - row) mod 3; small graphs are tried exhaustively over all assignments.
"""

import itertools

import networkx as nx
import numpy as np
import pytest
from scipy.spatial import Delaunay

from fillwork.colouring.model import Rules
from fillwork.colouring.search import reaching
from fillwork.colouring.search.assign import assign_colours
from fillwork.colouring.search.best import find_best_threshold
from fillwork.colouring.search.least import keep_few
from fillwork.colouring.search.solve import Problem
from tests.unit.colouring.stand_ins import graph, random_palette


def table(swatches, seed):
    colour = np.random.default_rng(seed).random((swatches, 3)) * 100.0
    return np.sqrt(((colour[:, None] - colour) ** 2).sum(axis=-1))


def triangulation(points, seed):
    corners = Delaunay(np.random.default_rng(seed).random((points, 2))).simplices
    sides = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [0, 2]]])
    return np.unique(np.sort(sides, axis=1), axis=0)


def triangular_lattice(side):
    at = {place: k for k, place in enumerate(np.ndindex(side, side))}
    links = [
        (k, at[place])
        for (row, column), k in at.items()
        for place in ((row, column + 1), (row + 1, column), (row + 1, column + 1))
        if place in at
    ]
    return np.array(links)


@pytest.mark.parametrize("seed", range(3))
def test_four_of_ten_swatches_part_any_map(seed):
    links = triangulation(160, seed)
    problem = Problem(
        (1023,) * 160, links, np.zeros((0, 2), int), table(10, seed), most=4
    )
    found = find_best_threshold(problem, goal=20.0, limit=5600)
    x = np.array(found.swatches)
    assert len(set(found.swatches)) <= 4
    assert (x[links[:, 0]] != x[links[:, 1]]).all()
    assert problem.differences[x[links[:, 0]], x[links[:, 1]]].min() == pytest.approx(
        found.reached
    )


@pytest.mark.parametrize(
    ("links", "most"),
    [(triangulation(120, 5), 4), (triangular_lattice(11), 3)],
    ids=["map", "lattice"],
)
def test_a_colouring_with_few_swatches_leaves_no_neighbours_alike(links, most):
    count = int(links.max()) + 1
    found = assign_colours(
        *graph(count, links.tolist()), random_palette(10, 3), Rules(most=most)
    )
    assert len(set(found.of_orbit.tolist())) <= most
    assert found.equal_neighbours == ()
    assert not [note for note in found.notes if note.type == "neighbours alike"]


def test_where_four_touch_each_other_three_swatches_are_too_few_and_no_pin_is_blamed():
    scene = graph(4, list(itertools.combinations(range(4), 2)), [9, 8, 7, 6, 5, 4])
    found = assign_colours(*scene, random_palette(8, 1), Rules(most=3))
    (pair,) = found.equal_neighbours  # the shortest contact
    assert pair == (2, 3, 4.0)
    (note,) = [note for note in found.notes if note.type == "neighbours alike"]
    assert note.remedy == "raise --most"


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("most", [2, 3])
def test_whether_few_swatches_part_all_is_as_exhaustion_says(seed, most):
    drawn = nx.gnm_random_graph(6, 9, seed=seed)
    links = np.array(drawn.edges)
    chance = np.random.default_rng(seed)
    domain = tuple(int(m) for m in chance.integers(1, 32, 6))  # of five swatches
    differences = table(5, seed)
    allowed = [[s for s in range(5) if mask >> s & 1] for mask in domain]
    best = max(
        (
            differences[x[links[:, 0]], x[links[:, 1]]].min()
            for x in map(np.array, itertools.product(*allowed))
            if len(set(x.tolist())) <= most
        ),
        default=0.0,
    )
    problem = Problem(domain, links, np.zeros((0, 2), int), differences, most)
    found = find_best_threshold(problem)
    assert (found.swatches is not None) == (best > 0.0)
    assert found.reached == pytest.approx(best)


def test_those_kept_serve_every_class_and_lie_apart():
    differences = table(9, 2)
    problem = Problem(
        (511, 511, 0b100, 0b11000), np.zeros((0, 2), int), np.zeros((0, 2), int),
        differences, most=3,
    )  # fmt: skip
    few = keep_few(problem)
    assert all(few.domain)
    taken = set()
    for mask, open_to in zip(few.domain, problem.domain, strict=True):
        assert mask & open_to == mask
        taken |= {s for s in range(9) if mask >> s & 1}
    assert len(taken) == 3
    assert 2 in taken
    assert few.most is None
    assert (
        keep_few(Problem((1, 2, 4), *[np.zeros((0, 2), int)] * 2, differences, 2))
        is None
    )


def test_the_wide_search_is_spared_where_no_four_colours_part_all(monkeypatch):
    # five that all touch need five colours, whichever they are
    links = np.vstack(
        [triangulation(300, 3), list(itertools.combinations(range(5), 2))]
    )
    asked = []

    def search(problem, **choices):
        asked.append(problem.most)
        return find_best_threshold(problem, **choices)

    monkeypatch.setattr(reaching, "find_best_threshold", search)
    scene = graph(300, np.unique(np.sort(links, axis=1), axis=0).tolist())
    found = assign_colours(*scene, random_palette(10, 3), Rules(most=4))
    assert found.equal_neighbours
    assert asked[0] is None  # four swatches alone, without a limit to hold
    assert asked[1:] == [4] * (len(asked) - 1)
    assert len(asked) <= 2  # the second where touching kinds may be alike
