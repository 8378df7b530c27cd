"""Time of assigning, as CPU seconds and as growth.

Run with ``pytest -m bench -s tests/bench/test_colouring.py``. The yardstick is
networkx's greedy colouring of the same graph, timed in the same run.
"""

import time

import networkx as nx
import numpy as np
import pytest
from scipy.spatial import Delaunay

from fillwork.colouring.model import Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.colouring.search.best import find_best_threshold
from fillwork.colouring.search.colourways import find_colourways
from fillwork.colouring.search.solve import Problem
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


def squares(side):
    """Return a drawing of squares in one zone, and how they touch."""
    from fillwork.colouring.adjacency import measure_adjacency
    from fillwork.symmetry.groups import plane_group
    from fillwork.symmetry.model import Lattice, Operation, Symmetry
    from tests.unit.colouring.pattern_groups import plane_maps
    from tests.unit.colouring.stand_ins import grid, kinds

    found = grid(side, side, 6.0)
    maps, basis = plane_maps("p4m")
    moved = [(a, b, c, d, e + 3.0, f + 3.0) for a, b, c, d, e, f in about_middle(maps)]
    symmetry = Symmetry(
        plane_group("p4m"),
        Lattice(basis, "square"),
        (3.0, 3.0),
        tuple(Operation(m, "any", 1) for m in moved),
    )
    orbits = kinds(found, [0] * found.face_count, symmetry=symmetry)
    return found, orbits, measure_adjacency(found, orbits)


def about_middle(maps):
    """Return operations about (3, 3) less that point: x' = L (x - c) + t."""
    return [
        (a, b, c, d, e - 3.0 * (a + c), f - 3.0 * (b + d)) for a, b, c, d, e, f in maps
    ]


def test_choices_of_counterchange():
    from fillwork.colouring.counterchange.alternating_kinds import KindReader
    from fillwork.colouring.counterchange.find import find_all_choices

    last = None
    for side in (32, 64, 128):
        scene = squares(side)
        took, (whole, single) = timed(
            lambda scene=scene: find_all_choices(KindReader(*scene), 4)
        )
        growth = "" if last is None else f", {took / last:.2f} times the quarter"
        print(f"choices of {side**2} regions: {took:.2f} s{growth}")
        assert (len(whole), len(single)) == (1, 1)
        last = took


def test_subgroups_of_all_plane_groups():
    from fillwork.colouring.counterchange.subgroups import find_subgroups
    from tests.unit.colouring import pattern_groups as ideal

    groups = [ideal.plane(short) for short in ideal.PLANE]
    took, found = timed(
        lambda: sum(len(find_subgroups(g, k)) for g in groups for k in range(2, 7))
    )
    print(f"{found} subgroups of index 2 to 6 of 17 groups: {took:.2f} s")


def test_largest_gap_between_two_ticks():
    """The longest that work cannot be stopped, within one assignment."""
    for count in (40, 500, 5000):
        scene, paints = graph(count, plane_map(count).tolist()), random_palette(12, 1)
        times = [time.process_time()]
        assign_colours(
            *scene,
            paints,
            Rules(),
            progress=lambda *_, times=times: times.append(time.process_time()),
        )
        gaps = np.diff(times)
        print(f"{count} kinds: {len(gaps)} ticks, at most {gaps.max():.3f} s apart")
