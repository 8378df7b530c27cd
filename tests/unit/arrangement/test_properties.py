"""Turning, scaling, mirroring, shuffling and splitting leave the regions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwork.arrangement import build_arrangement
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from tests.unit.helpers import arc, circle, cubic, line, linework_from_curves

SETTINGS = settings(max_examples=15)


def some_curves(seed: int) -> Curves:
    """Return a random drawing of lines, arcs, circles and Béziers.

    Its numbers are not rounded: they would be no longer when it is turned or scaled.
    """
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(int(rng.integers(4, 18))):
        x = rng.random(8) * 100
        kind = rng.integers(4)
        if kind == 0:
            rows.append(line(*x[:4]))
        elif kind == 1:
            rows.append(cubic(*x))
        elif kind == 2:
            rows.append(circle(x[0], x[1], 2 + x[2] / 3))
        else:
            rows.append(arc(x[0], x[1], 2 + x[2] / 3, x[3], x[3] + 0.5 + x[4] / 25))
    return linework_from_curves(rows).curves


def build(curves: Curves, pen: float = 0.5, **options):
    work = linework_from_curves(curves, has_page=False, line_width=pen)
    return build_arrangement(work, **options)


def areas(curves: Curves, **options) -> np.ndarray:
    return np.sort(build(curves, **options).area[1:])


def same_areas(a: np.ndarray, b: np.ndarray) -> None:
    assert len(a) == len(b)
    np.testing.assert_allclose(a, b, rtol=1e-6, atol=1e-6)


FIXED = {"join_within": 1e-5, "close_gaps": 1e-4}


@SETTINGS
@given(st.integers(0, 10**6), st.floats(0, 6.3), st.booleans())
def test_turned_or_mirrored(seed, angle, mirror):
    curves = some_curves(seed)
    turn = affine.rotation(angle, (31.0, 12.0))
    if mirror:
        turn = affine.compose(turn, affine.scaling(-1, 1))
    same_areas(areas(curves, **FIXED), areas(curves.transform(turn), **FIXED))


@SETTINGS
@given(st.integers(0, 10**6), st.floats(0.001, 1000))
def test_scaled(seed, scale):
    curves = some_curves(seed)
    scaled = curves.transform(affine.scaling(scale, scale))
    # the pen too, for what is narrower than its line is no region
    options = {k: v * scale for k, v in {**FIXED, "pen": 0.5}.items()}
    same_areas(areas(curves, **FIXED), areas(scaled, **options) / scale**2)


@SETTINGS
@given(st.integers(0, 10**6), st.integers(0, 10**6))
def test_shuffled_and_reversed(seed, other):
    curves = some_curves(seed)
    rng = np.random.default_rng(other)
    order = rng.permutation(len(curves))
    back = rng.random(len(curves)) < 0.5
    t0, t1 = np.where(back, 1.0, 0.0), np.where(back, 0.0, 1.0)
    same_areas(areas(curves, **FIXED), areas(curves.part(order, t0, t1), **FIXED))


@SETTINGS
@given(st.integers(0, 10**6), st.integers(0, 10**6))
def test_split_and_drawn_twice(seed, other):
    curves = some_curves(seed)
    rng = np.random.default_rng(other)
    n = len(curves)
    at = 0.2 + 0.6 * rng.random(n)
    index = np.arange(n)
    pieces = Curves.concatenate(
        [
            curves,
            curves.part(index, np.zeros(n), at),
            curves.part(index, np.ones(n), at),
        ]
    )
    same_areas(areas(curves, **FIXED), areas(pieces, **FIXED))


@SETTINGS
@given(st.integers(0, 10**6))
def test_a_second_pass_on_the_result_changes_nothing(seed):
    first = build(some_curves(seed))
    # the edges as drawn now, each still of the stroke that drew it
    stroke = first.curve_stroke[first.edge_curve]
    edge = np.argsort(stroke, kind="stable")
    own = first.curves.part(
        first.edge_curve[edge], first.edge_span[edge, 0], first.edge_span[edge, 1]
    )
    if len(own) == 0:
        return
    work = linework_from_curves(own, has_page=False)
    count = np.bincount(stroke[edge])
    start = np.r_[0, np.cumsum(count[count > 0])].astype(np.int32)
    n = len(start) - 1
    work = replace(
        work,
        stroke_start=start,
        closed=np.zeros(n, bool),
        style=np.zeros(n, np.int32),
        source_line=np.zeros(n, np.int32),
        source_name=("line",) * n,
    )
    # a line whose loose part is gone may look like the double of another now
    tolerance = replace(first.tolerance, sliver=0.0)
    second = build_arrangement(work, tolerance=tolerance)
    assert second.face_count == first.face_count
    np.testing.assert_allclose(
        np.sort(second.area[1:]), np.sort(first.area[1:]), rtol=1e-6, atol=1e-6
    )


@SETTINGS
@given(st.integers(0, 10**6), st.integers(2, 7))
def test_jitter_below_the_tolerance_leaves_the_count(seed, side):
    rng = np.random.default_rng(seed)
    rows = []
    for i in range(side + 1):
        for j in range(side):
            rows += [[10 * i, 10 * j, 10 * i, 10 * j + 10]]
            rows += [[10 * j, 10 * i, 10 * j + 10, 10 * i]]
            if i < side:
                rows += [[10 * i, 10 * j, 10 * i + 5, 10 * j + 10]]
    rows = np.array(rows, float)
    rows += rng.uniform(-0.02, 0.02, rows.shape)
    found = build(Curves.from_segments(rows), join_within=0.1, close_gaps=0.3)
    assert found.face_count - 1 == 2 * side**2


@SETTINGS
@given(st.integers(0, 10**6))
def test_links_and_faces_agree(seed):
    found = build(some_curves(seed))
    half = np.arange(len(found.origin))
    assert np.array_equal(found.face[found.next], found.face)
    assert len(np.unique(found.next)) == len(half)
    for face in range(1, found.face_count):
        own = np.sort(np.concatenate(found.face_half_edges(face)))
        assert np.array_equal(own, half[found.face == face])
    assert (found.area[1:] > 0).all()
    assert found.euler == 0


@pytest.mark.parametrize("seed", range(8))
def test_the_graph_is_planar_and_its_faces_are_counted_alike(seed):
    import networkx

    found = build(some_curves(seed))
    graph = networkx.Graph()
    ends = found.origin.reshape(-1, 2)
    for e, (a, b) in enumerate(ends.tolist()):
        # a vertex in the middle keeps two edges over the same ends apart
        graph.add_edges_from([(a, ("middle", e)), (("middle", e), b)])
    planar, _ = networkx.check_planarity(graph)
    assert planar
    parts = networkx.number_connected_components(graph)
    rank = graph.number_of_edges() - graph.number_of_nodes() + parts
    assert found.face_count - 1 == rank
