"""Published knots and links, woven from their drawings alone.

A DT code (C. H. Dowker and M. B. Thistlethwaite, "Classification of knot projections",
Topology and its Applications 16, 1983, 19-31) numbers the passes along the components;
each odd pass crosses the even one that the code lists, and where all signs are alike,
odd passes are over and even ones under, or the other way round.
"""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import networkx as nx
import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.weave import weave_lines
from tests.unit.helpers import linework_from_segments, polyline

DATA = json.loads((Path(__file__).parent / "data" / "knots.json").read_text())
SOURCE = DATA.pop("source")


def link(components, partner, over) -> nx.MultiGraph:
    """Return passes, joined along the components and where they cross."""
    graph = nx.MultiGraph()
    for run in components:
        graph.add_nodes_from((n, {"over": over(n)}) for n in run)
        graph.add_edges_from(pairwise([*run, run[0]]), sort="along")
    done = {tuple(sorted(pair)) for pair in partner.items()}
    graph.add_edges_from(done, sort="across")
    return graph


def published(code) -> nx.MultiGraph:
    labels = iter(range(1, 2 * sum(map(len, code)) + 1))
    components = [[next(labels) for _ in range(2 * len(part))] for part in code]
    evens = [abs(even) for part in code for even in part]
    partner = dict(zip(range(1, 2 * len(evens), 2), evens, strict=True))
    return link(components, partner, lambda n: n % 2)


def woven_link(woven, flip: int) -> nx.MultiGraph:
    crossings = woven.crossings
    pass_of = {int(h): n for n, row in enumerate(crossings.halves) for h in row}
    components = [
        [pass_of[int(h)] for h in strand.halves if int(h) in pass_of]
        for strand in woven.strands.strands
    ]
    partner = {int(a): int(b) for a, b in crossings.double}
    return link(components, partner, lambda n: int(crossings.level[n]) ^ flip)


@pytest.mark.reference(SOURCE)
@pytest.mark.parametrize("name", DATA)
def test_a_woven_link_is_the_published_one(name: str) -> None:
    entry = DATA[name]
    lines = np.vstack([polyline(np.array(p, float), True) for p in entry["lines"]])
    woven = weave_lines(build_arrangement(linework_from_segments(lines)), 1.0)
    assert len(woven.strands.strands) == len(entry["dt"])
    assert all(s.closed for s in woven.strands.strands)
    assert len(woven.crossings.double) == sum(map(len, entry["dt"]))
    assert not len(woven.crossings.stuck)
    # the table's sign tells which of the two mirror images it has; weaving has both.
    # Links that cannot be drawn in turn weave into the alternating link of their lines
    signs = {np.sign(even) for part in entry["dt"] for even in part}
    assert (len(signs) == 1) == entry["alternating"]
    same = nx.isomorphism.categorical_node_match("over", None)
    sort = nx.isomorphism.categorical_multiedge_match("sort", None)
    truth = published(entry["dt"])
    assert any(
        nx.is_isomorphic(
            truth, woven_link(woven, flip), node_match=same, edge_match=sort
        )
        for flip in (0, 1)
    )
