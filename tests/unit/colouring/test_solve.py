import networkx as nx
import numpy as np
import pytest

from fillwork.colouring.search.best import find_best_threshold
from fillwork.colouring.search.solve import Problem, solve_threshold

NOTHING = np.empty((0, 2), int)


def state(drawn, swatches, *, table=None, most=None, unlike=NOTHING, domain=None):
    drawn = nx.convert_node_labels_to_integers(drawn)
    links = np.array(sorted(drawn.edges), int).reshape(-1, 2)
    table = 1.0 - np.eye(swatches) if table is None else table
    full = (1 << swatches) - 1
    return Problem(
        domain or (full,) * len(drawn), links, np.asarray(unlike), table, most
    )


def test_a_limit_is_never_read_as_impossible():
    # Mycielski's graph of chromatic number 6 is hard for 5 swatches
    problem = state(nx.mycielski_graph(6), 5)
    answer, found = solve_threshold(problem, 0.5, limit=30)
    assert answer is None
    assert found is None
    best = find_best_threshold(problem, limit=30)
    assert not best.proven
    assert best.separable is None
    assert best.bound == 1.0


@pytest.mark.parametrize("most", [2, 3, 4])
def test_no_more_swatches_than_allowed(most):
    problem = state(nx.cycle_graph(9), 6, most=most)
    answer, found = solve_threshold(problem, 0.5)
    assert answer is (most >= 3)
    if found:
        assert len(set(found)) <= most


def test_unlike_links_ask_for_other_swatches_only():
    table = np.array([[0, 5, 50], [5, 0, 50], [50, 50, 0.0]])
    path = nx.path_graph(2)
    problem = state(path, 3, table=table, unlike=[(0, 1)])
    assert solve_threshold(problem, 20)[0] is True
    problem = Problem((3, 3), NOTHING, np.array([(0, 1)]), table)
    assert solve_threshold(problem, 20)[0] is True  # 5 apart will do
    problem = Problem((1, 1), NOTHING, np.array([(0, 1)]), table)
    assert solve_threshold(problem, 20)[0] is False


def test_domains_are_kept():
    problem = state(nx.path_graph(4), 3, domain=(1, 7, 7, 4))
    answer, found = solve_threshold(problem, 0.5)
    assert answer is True
    assert found[0] == 0
    assert found[3] == 2
    problem = state(nx.path_graph(2), 3, domain=(2, 2))
    assert solve_threshold(problem, 0.5) == (False, None)


def test_a_larger_table_never_lowers_the_best():
    rng = np.random.default_rng(2)
    points = rng.random((9, 3)) * 100
    table = np.linalg.norm(points[:, None] - points[None], axis=2)
    drawn = nx.gnp_random_graph(12, 0.4, seed=1)
    reached = []
    for swatches in range(4, 10):
        best = find_best_threshold(
            state(drawn, swatches, table=table[:swatches, :swatches])
        )
        assert best.proven
        reached.append(best.reached)
    assert reached == sorted(reached)


def test_no_classes():
    problem = Problem((), NOTHING, NOTHING, 1.0 - np.eye(3))
    assert solve_threshold(problem, 1.0) == (True, ())
