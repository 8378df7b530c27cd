"""Colourings against all colourings, and against facts of graph theory."""

import itertools
import math

import networkx as nx
import numpy as np
import pytest

from fillwork.colouring.difference import difference_matrix
from fillwork.colouring.model import Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.colouring.search.best import find_best_threshold
from fillwork.colouring.search.solve import Problem, solve_threshold
from tests.unit.colouring.stand_ins import graph, random_palette

ATLAS = nx.graph_atlas_g()  # Read and Wilson, An Atlas of Graphs, 1998: up to 7 nodes


def by_brute_force(count, pairs, lengths, table):
    """Return the least length alike and, for it, the largest smallest difference."""
    every = np.array(list(itertools.product(range(len(table)), repeat=count)))
    if not len(pairs):
        return 0.0, math.nan
    ends = np.array(pairs)
    apart = table[every[:, ends[:, 0]], every[:, ends[:, 1]]]
    alike = (np.where(apart <= 1e-9, lengths, 0.0)).sum(axis=1)
    least = alike.min()
    smallest = np.where(apart <= 1e-9, np.inf, apart).min(axis=1)
    best = smallest[alike <= least + 1e-9].max()
    return least, float(best) if np.isfinite(best) else math.nan


def check(index, swatches):
    drawn = nx.convert_node_labels_to_integers(ATLAS[index])
    count, pairs = len(drawn), sorted(tuple(sorted(e)) for e in drawn.edges)
    rng = np.random.default_rng(index)
    lengths = rng.uniform(1, 10, len(pairs)).round(2)
    paints = random_palette(swatches, index + 1000 * swatches)
    table = difference_matrix(paints)
    least, best = by_brute_force(count, pairs, lengths, table)
    scene = graph(count, pairs, lengths)
    found = assign_colours(*scene, paints, Rules(goal_difference=1000.0))
    alike = math.fsum(length for _, _, length in found.equal_neighbours)
    assert alike == pytest.approx(least, abs=1e-6), (index, swatches)
    assert found.proven
    assert found.bound == pytest.approx(best, nan_ok=True)
    assert found.smallest_difference == pytest.approx(best, nan_ok=True)


@pytest.mark.reference("exhaustive search over all graphs of up to six kinds")
@pytest.mark.parametrize("swatches", [1, 2, 3, 4, 5])
def test_all_graphs_up_to_six_kinds(swatches):
    for index, drawn in enumerate(ATLAS):
        if 1 <= len(drawn) <= 6:
            check(index, swatches)


@pytest.mark.reference("exhaustive search over a sample of graphs of seven kinds")
@pytest.mark.parametrize("index", range(300, 1253, 119))
def test_a_sample_of_graphs_of_seven_kinds(index):
    check(index, 4)


@pytest.mark.reference("exhaustive search, thresholds only, all graphs of six kinds")
def test_best_threshold_of_all_graphs_of_six_kinds():
    table = difference_matrix(random_palette(4, 7))
    every = np.array(list(itertools.product(range(4), repeat=6)))
    for drawn in ATLAS:
        if len(drawn) != 6 or not drawn.number_of_edges():
            continue
        ends = np.array(sorted(tuple(sorted(e)) for e in drawn.edges))
        apart = table[every[:, ends[:, 0]], every[:, ends[:, 1]]].min(axis=1).max()
        problem = Problem((15,) * 6, ends, np.empty((0, 2), int), table)
        found = find_best_threshold(problem)
        assert found.proven
        if apart > 1e-9:
            assert found.reached == pytest.approx(apart)
            assert found.separable
        else:
            assert found.separable is False


# chromatic numbers: West, Introduction to Graph Theory, 2001, and the pages of
# these graphs in the House of Graphs (from memory)
NAMED = {
    "petersen": (nx.petersen_graph(), 3),
    "groetzsch": (nx.mycielski_graph(4), 4),
    "mycielski of order five": (nx.mycielski_graph(5), 5),
    "chvatal": (nx.chvatal_graph(), 4),
    "octahedron": (nx.octahedral_graph(), 3),
    "icosahedron": (nx.icosahedral_graph(), 4),
    "dodecahedron": (nx.dodecahedral_graph(), 3),
    "heawood": (nx.heawood_graph(), 2),
    "pappus": (nx.pappus_graph(), 2),
    "tutte": (nx.tutte_graph(), 3),
    "frucht": (nx.frucht_graph(), 3),
    "odd wheel": (nx.wheel_graph(8), 4),
    "even wheel": (nx.wheel_graph(9), 3),
    "odd cycle": (nx.cycle_graph(101), 2 + 1),
    "complete": (nx.complete_graph(7), 7),
    "moebius-kantor": (nx.moebius_kantor_graph(), 2),
    "desargues": (nx.desargues_graph(), 2),
    "hoffman-singleton": (nx.hoffman_singleton_graph(), 4),
    "bull": (nx.bull_graph(), 3),
    "house": (nx.house_graph(), 3),
    "cube": (nx.cubical_graph(), 2),
    "tetrahedron": (nx.tetrahedral_graph(), 4),
    "truncated tetrahedron": (nx.truncated_tetrahedron_graph(), 3),
    "turan": (nx.turan_graph(13, 5), 5),
    "complete in three parts": (nx.complete_multipartite_graph(4, 5, 6), 3),
    "truncated cube": (nx.truncated_cube_graph(), 3),
}


@pytest.mark.reference("networkx named graphs; chromatic numbers as listed above")
@pytest.mark.parametrize("name", NAMED)
def test_chromatic_numbers(name):
    drawn, chromatic = NAMED[name]
    drawn = nx.convert_node_labels_to_integers(drawn)
    links = np.array(sorted(drawn.edges))
    for swatches in (chromatic - 1, chromatic):
        problem = Problem(
            ((1 << swatches) - 1,) * len(drawn),
            links,
            np.empty((0, 2), int),
            1.0 - np.eye(swatches),
        )
        answer, found = solve_threshold(problem, 0.5)
        assert answer is (swatches == chromatic)
        if found is not None:
            chosen = np.array(found)
            assert (chosen[links[:, 0]] != chosen[links[:, 1]]).all()


@pytest.mark.reference("networkx named graphs; chromatic numbers as listed above")
@pytest.mark.parametrize("name", NAMED)
def test_swatches_of_the_chromatic_number_part_all_kinds(name):
    """Assign whole colourings: one swatch too few leaves some pair alike."""
    drawn, chromatic = NAMED[name]
    drawn = nx.convert_node_labels_to_integers(drawn)
    scene = graph(len(drawn), drawn.edges)
    enough = assign_colours(*scene, random_palette(chromatic, 5), Rules())
    assert enough.equal_neighbours == ()
    fewer = assign_colours(*scene, random_palette(chromatic - 1, 5), Rules())
    assert fewer.equal_neighbours


@pytest.mark.reference("Appel and Haken 1977: four colours suffice for plane maps")
def test_four_swatches_suffice_for_plane_maps():
    from scipy.spatial import Delaunay

    for seed in range(4):
        points = np.random.default_rng(seed).random((300, 2))
        faces = Delaunay(points).simplices
        links = np.unique(
            np.sort(
                np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, ::2]])
            ),
            axis=0,
        )
        problem = Problem((15,) * 300, links, np.empty((0, 2), int), 1.0 - np.eye(4))
        answer, _ = solve_threshold(problem, 0.5, limit=50_000)
        assert answer is True
