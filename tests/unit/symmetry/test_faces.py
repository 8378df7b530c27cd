"""What is measured of faces, and which are copies of which: by construction."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.congruence import (
    class_congruent,
    share_alike_alone,
    traits_of,
)
from fillwork.symmetry.faces.measures import (
    is_long,
    measure_faces,
    outer_sides,
    slivers,
    specks,
)
from fillwork.symmetry.faces.places import Marks, Matcher, class_means, place_classes
from fillwork.symmetry.quotient import quotient_of
from tests.unit.helpers import linework_from_segments


def rings(*figures) -> object:
    """Return the arrangement of closed figures, each a list of corners."""
    rows = [np.hstack([f, np.roll(f, -1, axis=0)]) for f in map(np.asarray, figures)]
    return build_arrangement(
        linework_from_segments(np.vstack(rows), 600, 600), close_gaps=0.0
    )


def parted(labels: np.ndarray) -> list[int]:
    """Return labels numbered by first use, so that like partitions are equal."""
    seen: dict[object, int] = {}
    return [seen.setdefault(k, len(seen)) for k in labels.tolist()]


def box(x: float, y: float, wide: float, high: float) -> np.ndarray:
    return np.array([[x, y], [x + wide, y], [x + wide, y + high], [x, y + high]])


MIDDLE = np.array([250.0, 250.0])
FRAME = np.array([[50.0, 50], [250, 50], [250, 170], [50, 170]])
WELL = np.array([[80.0, 90], [200, 90], [200, 150], [80, 150]])
LEAF = np.array([[100.0, 100], [130, 105], [110, 140]])


def test_measures_are_those_of_the_polygons() -> None:
    arrangement = rings(FRAME, WELL, LEAF)
    measures = measure_faces(arrangement)
    whole = [
        shapely.Polygon(FRAME, [WELL]),
        shapely.Polygon(WELL, [LEAF]),
        shapely.Polygon(LEAF),
    ]
    at = arrangement.faces_at(np.array([[60.0, 60], [190, 95], [112, 110]]))
    assert sorted(at.tolist()) == [1, 2, 3]
    for face, shape in zip(at.tolist(), whole, strict=True):
        assert measures.centroid[face] == pytest.approx(shape.centroid.coords[0])
        assert measures.size[face] == pytest.approx(shape.area**0.5)
        assert measures.length[face] == pytest.approx(shape.length)


def test_outer_sides_are_those_towards_other_faces() -> None:
    arrangement = rings(FRAME, WELL, LEAF)
    frame, well, leaf = arrangement.faces_at(
        np.array([[60.0, 60], [190, 95], [112, 110]])
    ).tolist()

    def sides(faces: list[int]) -> float:
        half = outer_sides(arrangement, faces)
        p, q = (arrangement.vertices[arrangement.origin[h]] for h in (half, half ^ 1))
        return float(np.hypot(*(q - p).T).sum())

    perimeter = shapely.Polygon(WELL).length
    # the frame's hole is less than two fifths of all, so that it is a part of it
    assert sides([frame, well, leaf]) == pytest.approx(640)
    assert sides([well, leaf]) == pytest.approx(perimeter)
    assert sides([leaf]) == pytest.approx(shapely.Polygon(LEAF).length)
    # the leaf is a small hole: what is round it stays
    both = sides([well])
    assert both == pytest.approx(perimeter + shapely.Polygon(LEAF).length)
    # a hole of a bit less and a bit more than two fifths of 20400 mm²
    for wide, counted in ((80, True), (83, False)):
        hole, panel = box(60, 60, wide, 100), box(59, 59, 200, 102)
        two = rings(panel, hole)
        rim, inner = two.faces_at(np.array([[255.0, 100], [70, 100]])).tolist()
        half = outer_sides(two, [rim, inner])
        assert (rim in two.face[half]) is counted


@pytest.mark.parametrize("turn", [0.0, 0.5, 2.0])
def test_strips_are_three_times_as_long_as_wide(turn: float) -> None:
    c, s = np.cos(turn), np.sin(turn)
    spin = np.array([[c, s], [-s, c]])
    for long, strip in ((9.3, True), (8.7, False)):
        cells = [
            box(10 * k * long / 3, 0, 10 * long / 3, 30) @ spin + MIDDLE
            for k in range(3)
        ]
        arrangement = rings(*cells)
        assert is_long(arrangement, np.arange(1, 4)) is strip


def test_specks_and_slivers_are_small_beside_the_others() -> None:
    # squares of 100 mm²; specks are under 2 of them, slivers under 10 and narrow:
    # at most 0.02 of the outline squared
    sizes = [(10.0, 10.0)] * 8 + [(1.4, 1.4), (1.45, 1.35), (16, 0.5)]
    sizes += [(22, 0.5), (9, 1.1), (10, 0.95)]
    shapes = [box(30.0 * k, 50, *size) for k, size in enumerate(sizes)]
    arrangement = rings(*shapes)
    measures = measure_faces(arrangement)
    middles = np.array([np.mean(s, axis=0) for s in shapes])
    faces = arrangement.faces_at(middles)
    # areas of 1.96, 1.9575, 8, 11, 9.9 and 9.5 mm²
    told = specks(arrangement, faces)
    assert told.tolist() == [False] * 8 + [True, True] + [False] * 4
    # outlines of 33, 45, 20.2 and 21.9 mm: of their squares 0.02 are 21.8, 40.5, 8.2
    # and 9.6
    told = slivers(arrangement, measures, faces)
    assert told.tolist() == [False] * 8 + [False, False, True, False, False, True]


TURNS = np.array([0.0, 0.7, 2.1])


@pytest.mark.parametrize("seed", range(3))
def test_faces_are_classed_by_pattern_side_and_turn(seed: int) -> None:
    rng = np.random.default_rng(seed)
    free = [
        np.array([[0, 0], [14, 2], [5, 9]]) @ (1, 1j),
        np.array([[0, 0], [13, 0], [11, 9], [3, 6]]) @ (1, 1j),
        # of one area and outline with the next: a strip bent one way or another
        np.array([[0, 0], [12, 0], [12, 4], [4, 4], [4, 12], [0, 12]]) @ (1, 1j),
        np.array([[0, 0], [12, 0], [12, 4], [8, 4], [8, 12], [4, 12], [4, 4], [0, 4]])
        @ (1, 1j),
    ]
    # a rectangle, a parallelogram and an equilateral triangle: their own turns
    own = [
        np.array([0, 12, 12 + 7j, 7j]),
        np.array([0, 12, 16 + 7j, 4 + 7j]),
        10 * np.exp(2j * np.pi * np.arange(3) / 3),
    ]
    patterns = free + own
    mirrored = [False, False, True, True, True, False, True]
    fold = [1, 1, 1, 1, 2, 2, 3]
    # the second pattern's slack: copies as exact as numbers are
    count = 120
    which = rng.integers(0, len(patterns), count)
    flip, turn = rng.random(count) < 0.4, rng.integers(0, 3, count)
    places = 45 * (np.arange(count) % 12 + 1) + 45j * (np.arange(count) // 12 + 1)
    shapes = []
    for k in range(count):
        z = patterns[which[k]] - patterns[which[k]].mean()
        z = np.conj(z)[::-1] if flip[k] else z
        z = np.roll(z, rng.integers(len(z))) * np.exp(1j * TURNS[turn[k]])
        z = z + places[k]
        shapes.append(np.column_stack([z.real, z.imag]))
    arrangement = rings(*shapes)
    faces = arrangement.faces_at(arrangement_points(shapes))
    assert len(set(faces.tolist())) == count
    measures = measure_faces(arrangement)
    kind, side, around, left = class_congruent(arrangement, measures, faces)
    assert left == 0
    assert parted(kind) == parted(which)
    for k, (even, times) in enumerate(zip(mirrored, fold, strict=True)):
        rows = np.flatnonzero(which == k)
        assert parted(side[rows]) == ([0] * len(rows) if even else parted(flip[rows]))
        # a mirror image of an even figure is a turned copy of it: its axis says by how
        # much; of others the mirror images have turns of their own
        for mine in (rows[~flip[rows]], rows[flip[rows]]):
            told = TURNS[turn[mine]] % (2 * np.pi / times)
            assert parted(around[mine]) == parted(told.round(6))
    # what keeps an outline: mirrors of four of the patterns, a half turn of one more
    alone = share_alike_alone(arrangement, faces, 0.01)
    alike = np.array(mirrored) | (np.array(fold) > 1)
    assert alone == pytest.approx(alike[which].mean())
    # what isometries leave alone is alike within patterns and unlike between
    traits = traits_of(arrangement, measures, faces)
    for k in range(len(patterns)):
        assert np.ptp(traits[which == k], axis=0).max() < 1e-6
    z = patterns[4]
    # a rectangle a by b: √(ab), half its outline over 2, (a² + b²) / 12, (a² - b²) / 12
    row = traits[which == 4][0]
    size = 84**0.5
    moments = [(144 + 49) / 12 / size, (144 - 49) / 12 / size, 0, 0]
    assert row == pytest.approx([size, 38 / 4, *moments], abs=1e-7)


def arrangement_points(shapes) -> np.ndarray:
    """Return a point within each figure."""
    return np.array(
        [shapely.Polygon(s).representative_point().coords[0] for s in shapes]
    )


def test_outlines_of_one_area_and_length_are_told_apart_by_their_mirrors() -> None:
    # an isosceles and a scalene figure as near each other as hands draw
    rng = np.random.default_rng(4)
    one = np.array([[0.0, 0], [30, 0], [25, 12], [5, 12]])
    two = np.array([[0.0, 0], [30, 0], [24, 12], [4, 12]])
    shapes, which = [], []
    for k in range(40):
        pattern = (one, two)[k % 2]
        off = 0.01 * rng.standard_normal(pattern.shape)
        shapes.append(pattern + off + [50 * (k % 8 + 1), 50 * (k // 8 + 1)])
        which.append(k % 2)
    arrangement = rings(*shapes)
    faces = arrangement.faces_at(arrangement_points(shapes))
    kind, _, _, _ = class_congruent(arrangement, measure_faces(arrangement), faces)
    assert parted(kind) == parted(np.array(which))


BASES = [[[20.0, 3], [-4, 17]], [[15.0, 6]]]


def quotient(basis):
    lattice = SimpleNamespace(basis=np.array(basis))
    return quotient_of(SimpleNamespace(lattice=lattice, operations=()))


def marks(xy, size, length, reach=1.0) -> Marks:
    n = len(size)
    return Marks(
        np.asarray(xy, float),
        np.asarray(size, float),
        np.asarray(length, float),
        np.full(n, reach),
        np.full(n, 0.5),
        np.full(n, 2.0),
    )


@pytest.mark.parametrize("basis", BASES)
def test_faces_lie_on_references_within_the_slack_modulo_shifts(basis) -> None:
    rng = np.random.default_rng(6)
    basis = np.array(basis)
    known = marks(
        rng.uniform(-30, 30, (60, 2)), rng.uniform(3, 7, 60), rng.uniform(9, 20, 60)
    )
    steps = rng.integers(-4, 5, (500, len(basis))) @ basis
    pick = rng.integers(0, 60, 500)
    asked = marks(
        known.xy[pick] + steps + rng.uniform(-0.9, 0.9, (500, 2)),
        known.size[pick] + rng.uniform(-0.7, 0.7, 500),
        known.length[pick] + rng.uniform(-3, 3, 500),
    )
    found = Matcher(known, quotient(basis)).match(asked)
    shifts = np.stack(
        np.meshgrid(*[np.arange(-12, 13)] * len(basis), indexing="ij"), -1
    ).reshape(-1, len(basis))
    offset = asked.xy[:, None] - known.xy[None]
    gap = np.full(offset.shape[:2], np.inf)
    for shift in shifts @ basis:
        gap = np.minimum(gap, np.hypot(*(offset - shift).transpose(2, 0, 1)))
    a = gap / 1.0
    b = np.abs(asked.size[:, None] - known.size) / 0.5
    c = np.abs(asked.length[:, None] - known.length) / 2.0
    score = np.where((a <= 1) & (b <= 1) & (c <= 1), a * a + b * b + c * c, np.inf)
    best = np.where(np.isfinite(score.min(axis=1)), score.argmin(axis=1), -1)
    assert found.tolist() == best.tolist()
    assert 100 < (found >= 0).sum() < 450
    none = Matcher(known.take(np.arange(0)), quotient(basis)).match(asked)
    assert (none == -1).all()


@pytest.mark.parametrize("basis", BASES)
@pytest.mark.parametrize("gone", [0.0, 0.5])
def test_faces_of_a_lattice_are_classed_whatever_is_missing(basis, gone) -> None:
    rng = np.random.default_rng(8)
    basis = np.array(basis)
    motif = np.array([[0.0, 0], [6, 1], [3, 9], [9, 9], [12, 4]])
    size, length = np.array([5.0, 5, 5, 3, 5]), np.array([20.0, 20, 30, 20, 20])
    steps = np.stack(
        np.meshgrid(*[np.arange(9)] * len(basis), indexing="ij"), -1
    ).reshape(-1, len(basis))
    xy = (motif[None] + (steps @ basis)[:, None]).reshape(-1, 2)
    true = np.tile(np.arange(5), len(steps))
    kept = rng.random(len(xy)) >= gone
    xy, true = xy[kept] + rng.uniform(-0.3, 0.3, (kept.sum(), 2)), true[kept]
    inner = rng.random(len(xy)) < 0.7
    told = marks(xy, size[true], length[true])
    label = place_classes(told, quotient(basis), inner)
    assert parted(label) == parted(true)
    # means count those that are whole, modulo shifts
    means = class_means(told, label, quotient(basis), inner)
    for k in range(5):
        row = label[true == k][0]
        mine = (true == k) & inner
        off = quotient(basis).nearest(xy[mine] - motif[k])
        apart = quotient(basis).nearest(means.xy[row] - motif[k] - off.mean(axis=0))
        assert np.abs(apart).max() < 1e-9
        assert means.size[row] == pytest.approx(size[k])
    # without shifts each face is a class of its own
    alone = quotient_of(SimpleNamespace(lattice=None, operations=()))
    assert place_classes(told, alone, inner).tolist() == list(range(len(xy)))


def test_faces_that_lie_on_each_other_modulo_shifts_are_one_only_where_alike() -> None:
    q = quotient([[10.0, 0], [0, 10]])
    whole = np.ones(2, bool)
    for xy, size, length, one in (
        ([[1.0, 1], [11.9, 31]], [5, 5], [20, 20], True),
        ([[1.0, 1], [12.1, 31]], [5, 5], [20, 20], False),
        ([[1.0, 1], [11, 31]], [5, 5.45], [20, 20], True),
        ([[1.0, 1], [11, 31]], [5, 5.55], [20, 20], False),
        ([[1.0, 1], [11, 31]], [5, 5], [20, 21.9], True),
        ([[1.0, 1], [11, 31]], [5, 5], [20, 22.1], False),
    ):
        for inner in (whole, ~whole):
            label = place_classes(marks(xy, size, length), q, inner)
            assert (label[0] == label[1]) == one
