"""Time of assigning, as CPU seconds and as growth.

Run with ``pytest -m bench -s tests/bench/test_colouring.py``. The yardstick is
networkx's greedy colouring of the same graph, timed in the same run.
"""

import time

import networkx as nx
import numpy as np
import pytest
from scipy.spatial import Delaunay

from fillwork.colouring.assign import assign_colours
from fillwork.colouring.colourways import find_colourways
from fillwork.colouring.model import Rules
from fillwork.colouring.solve import Problem, find_best_threshold
from tests.unit.colouring.stand_ins import graph, random_palette

pytestmark = pytest.mark.bench


def plane_map(count, seed=0):
    """Return touching pairs of a random map of the plane."""
    points = np.random.default_rng(seed).random((count, 2))
    faces = Delaunay(points).simplices
    pairs = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [0, 2]]])
    return np.unique(np.sort(pairs, axis=1), axis=0)


def timed(work):
    begin = time.process_time()
    result = work()
    return time.process_time() - begin, result


@pytest.mark.parametrize(("count", "swatches", "most"), [(40, 16, 0.5), (500, 12, 1.0)])
def test_best_possible_is_proven(count, swatches, most):
    for seed in range(3):
        from fillwork.colouring.difference import difference_matrix

        table = difference_matrix(random_palette(swatches, seed))
        links = plane_map(count, seed)
        problem = Problem(
            ((1 << swatches) - 1,) * count, links, np.empty((0, 2), int), table
        )
        took, best = timed(
            lambda problem=problem, count=count: find_best_threshold(
                problem, goal=20.0, limit=5000 + 2 * count
            )
        )
        print(f"{count} x {swatches}: {took:.2f} s, {best.reached:.1f}", best.proven)
        assert best.proven
        assert took < most


def test_growth():
    """Assign 1,250 to 5,000 kinds; the largest within ten seconds."""
    last = None
    for count in (1250, 2500, 5000):
        links = plane_map(count)
        scene = graph(count, links.tolist())
        paints = random_palette(12, 1)
        took, found = timed(
            lambda scene=scene, paints=paints: assign_colours(*scene, paints, Rules())
        )
        drawn = nx.Graph(links.tolist())
        yardstick, _ = timed(lambda drawn=drawn: nx.greedy_color(drawn))
        ratio = took / yardstick
        growth = "" if last is None else f", {took / last:.2f} times the half"
        print(f"{count} kinds: {took:.2f} s, {ratio:.0f} x greedy{growth}")
        assert found.smallest_difference >= 20.0
        assert took < 10.0
        last = took


def test_twelve_colourways():
    scene = graph(40, plane_map(40).tolist())
    paints = random_palette(12, 5)
    took, found = timed(
        lambda: find_colourways(*scene, [paints], Rules(goal_difference=15.0), count=12)
    )
    print(f"12 colourways of 40 kinds: {took:.2f} s")
    assert len(found) == 12
    assert took < 5.0
