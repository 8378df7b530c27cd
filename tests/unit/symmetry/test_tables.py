"""Lattices, tables and windows by themselves: against algebra and plane geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from fillwork.symmetry.kinds.pieces import cover_of, depth_inside, inner_share
from fillwork.symmetry.lines.evidence import _sample, _scale_of
from fillwork.symmetry.lines.lattice_fit import lattice_kind, reduce_basis
from fillwork.symmetry.lines.plane import CosetFit, linear_parts
from fillwork.symmetry.lines.table import closed_subset, ideal_basis, match_table
from fillwork.symmetry.lines.turning import reflection, rotation
from fillwork.symmetry.lines.window import (
    build_window,
    convex_hull,
    on_hull,
    widen_window,
)
from fillwork.symmetry.quotient import quotient_of
from tests.unit.colouring.pattern_groups import PLANE, plane_maps
from tests.unit.symmetry.test_elements import symmetry

REDUCED = [
    [[7.0, 0], [2.3, 5.9]],
    [[6.0, 0], [0, 6]],
    [[4.0, 0], [0, 9]],
    [[6.0, 0], [3, 3 * math.sqrt(3)]],
    [[5.0, 0], [2.5, 9]],
    [[5.0, 0], [1.4, 4.8]],
]


@pytest.mark.parametrize("basis", REDUCED)
@pytest.mark.parametrize("seed", range(4))
def test_any_basis_of_a_lattice_has_one_reduced_basis(basis, seed) -> None:
    rng = np.random.default_rng(seed)
    turn = rotation(rng.uniform(0, 2 * np.pi)).T
    known = np.array(basis) @ turn
    # a product of shears is a change of basis: whole numbers, determinant 1
    change = np.eye(2)
    for _ in range(4):
        k = int(rng.integers(-3, 4))
        change = [[1, k], [0, 1]] @ change if rng.random() < 0.5 else change[::-1]
    a, b = reduce_basis(change @ known)
    sizes = [math.hypot(*v) for v in (a, b)]
    assert sorted(sizes) == pytest.approx(sorted(math.hypot(*v) for v in known))
    assert abs(np.linalg.det([a, b])) == pytest.approx(abs(np.linalg.det(known)))
    whole = np.array([a, b]) @ np.linalg.inv(known)
    assert np.allclose(whole, np.rint(whole), atol=1e-9)
    # b to the left of a, at 60 to 90 degrees
    assert a[0] * b[1] - a[1] * b[0] > 0
    assert -1e-9 < a @ b < min(sizes) ** 2 / 2 + 1e-9


@pytest.mark.parametrize(
    ("basis", "kind"),
    [
        ([[6, 0], [0, 6.05]], "square"),
        ([[6, 0], [0, 6.07]], "rectangular"),
        ([[6, 0], [0.05, 6]], "square"),
        ([[6, 0], [0.07, 6]], "centred rectangular"),
        ([[6, 0], [0, 9]], "rectangular"),
        ([[6, 0], [0.08, 9]], "rectangular"),
        ([[6, 0], [0.2, 9]], "oblique"),
        ([[6, 0], [3, 5.196]], "hexagonal"),
        ([[6, 0], [2.95, 5.22]], "hexagonal"),
        ([[6, 0], [2.8, 5.306]], "centred rectangular"),
        ([[6, 0], [1, 5.916]], "centred rectangular"),
        ([[6, 0], [3, 9]], "centred rectangular"),
        ([[6, 0], [2.95, 9]], "centred rectangular"),
        ([[6, 0], [2.9, 9]], "oblique"),
        ([[6, 0], [1.5, 7]], "oblique"),
    ],
)
def test_kinds_of_lattices_allow_one_part_in_a_hundred(basis, kind) -> None:
    assert lattice_kind(np.array(basis, float), 0.01) == kind


@pytest.mark.reference("International Tables for Crystallography A, table 2.1.1.1")
def test_lattices_are_kept_by_their_point_groups() -> None:
    # of order 2, 4, 4, 8 and 12; without the identity
    orders = [1, 7, 3, 11, 3, 3]
    for basis, order in zip(REDUCED, orders, strict=True):
        b = np.array(basis)
        found = linear_parts(b, 1e-6)
        assert len(found) == order
        for matrix, linear in found:
            assert np.allclose(b @ linear.T, matrix @ b)
            assert np.allclose(linear @ linear.T, np.eye(2))
    # a side longer by 0.02 mm: kept within 0.02 mm and no less
    near = np.array([[6.0, 0], [0, 6.02]])
    assert [len(linear_parts(near, slack)) for slack in (0.005, 0.03)] == [3, 7]


def fits_of(short: str, basis, origin, noise=0.0, rng=None) -> list[CosetFit]:
    """Return the operations of a group about an origin, as fractions of its basis."""
    maps, _ = plane_maps(short)
    inverse = np.linalg.inv(basis)
    found = []
    for a, b, c, d, e, f in maps[1:]:
        linear = np.array([[a, c], [b, d]])
        shift = np.array([e, f]) + origin - linear @ origin
        matrix = np.rint(basis @ linear.T @ inverse).astype(np.intp)
        off = rng.normal(0, noise, 2) if noise else 0.0
        found.append(CosetFit(matrix, (shift + off) @ inverse, 1.0, 0.0, 0.0, 9.0))
    return found


@pytest.mark.reference("International Tables for Crystallography A, chapter 2.2")
@pytest.mark.parametrize("short", PLANE[1:])
@pytest.mark.parametrize("seed", range(2))
def test_operations_say_which_of_the_groups_they_are(short: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    _, basis = plane_maps(short)
    basis = reduce_basis(basis)
    origin = rng.uniform(-5, 5, 2)
    noise = 0.02 * seed
    fits = fits_of(short, basis, origin, noise, rng)
    order = rng.permutation(len(fits))
    setting, place, misfit, second = match_table([fits[k] for k in order], basis)
    assert setting.group.short == short
    # with the noise of shifts in two directions at most, and none without it
    assert misfit <= 2 * noise + 1e-9
    assert second > max(10 * misfit, 0.5)
    # about the origin that is found the shifts are those of the table
    known = {f.matrix.tobytes(): f.shift for f in fits}
    for matrix, shift in zip(setting.matrices[1:], setting.shifts[1:], strict=True):
        off = known[np.ascontiguousarray(matrix).tobytes()] - shift
        off = off - place @ (np.eye(2) - matrix)
        assert np.hypot(*((off - np.rint(off)) @ basis)) <= 5 * noise + 1e-9


def test_the_largest_group_among_operations_is_kept() -> None:
    _, basis = plane_maps("p4m")
    fits = fits_of("p4m", basis, np.zeros(2))

    def kinds(kept: list[CosetFit]) -> list[tuple[int, ...]]:
        return sorted(tuple(f.matrix.ravel().tolist()) for f in closed_subset(kept))

    assert len(closed_subset(fits)) == 7
    quarter = [f for f in fits if abs(np.trace(f.matrix)) == 0]
    # without one quarter turn, two mirrors at right angles and the half turn are left
    spoilt = [f for f in fits if f.matrix.tolist() != [[0, 1], [-1, 0]]]
    assert len(closed_subset(spoilt)) == 3
    # without the half turn one mirror alone, or nothing at all
    apart = [f for f in spoilt if f.matrix.tolist() != [[-1, 0], [0, -1]]]
    assert len(closed_subset(apart)) == 1
    turn = [f for f in quarter if np.linalg.det(f.matrix) > 0]
    assert kinds(turn) == []
    # three turns that make each other
    turns = [f for f in fits if np.linalg.det(f.matrix) > 0]
    assert kinds(turns) == [(-1, 0, 0, -1), (0, -1, 1, 0), (0, 1, -1, 0)]
    assert closed_subset([]) == []


@pytest.mark.parametrize("short", ["pm", "cmm", "p4m", "p6m", "p31m"])
@pytest.mark.parametrize("seed", range(3))
def test_a_measured_basis_is_made_exact_without_turning_it(short, seed) -> None:
    rng = np.random.default_rng(seed)
    _, basis = plane_maps(short)
    basis = reduce_basis(basis @ rotation(rng.uniform(0, 6)).T)
    matrices = tuple(
        m for m, _ in [(np.eye(2, dtype=np.intp), None), *linear_parts(basis, 1e-6)]
    )
    off = basis + rng.normal(0, 0.03, (2, 2))
    ideal = ideal_basis(off, matrices)
    gram = ideal @ ideal.T
    for m in matrices:
        assert np.allclose(m @ gram @ m.T, gram)
    assert np.abs(ideal - off).max() < 0.15
    # what is exact already stays where it is
    assert np.allclose(ideal_basis(basis, matrices), basis)
    # the nearest turn: no small turn of it lies nearer
    for angle in (-1e-3, 1e-3):
        turned = ideal @ rotation(angle)
        assert ((turned - off) ** 2).sum() > ((ideal - off) ** 2).sum()


def test_turns_and_mirrors_are_those_of_plane_geometry() -> None:
    assert np.allclose(rotation(np.pi / 6) @ [2, 0], [3**0.5, 1])
    # a mirror keeps its axis and turns what is across it round
    axis = np.array([math.cos(0.4), math.sin(0.4)])
    across = np.array([-axis[1], axis[0]])
    assert np.allclose(reflection(0.4) @ axis, axis)
    assert np.allclose(reflection(0.4) @ across, -across)


L_SHAPE = np.array([[0.0, 0], [40, 0], [40, 10], [15, 10], [15, 30], [0, 30]])


def sides(ring: np.ndarray) -> np.ndarray:
    return np.hstack([ring, np.roll(ring, -1, axis=0)])


def test_a_window_is_as_deep_as_points_lie_from_its_edge() -> None:
    shape = shapely.Polygon(L_SHAPE)
    hull = convex_hull(L_SHAPE)
    window = build_window(sides(L_SHAPE), hull, 4.0, 4)
    assert window.area == pytest.approx(shape.area, rel=0.01)
    points = np.random.default_rng(2).uniform(-5, 45, (3000, 2))
    for used, margin in ((window, 0.0), (window.narrowed(1.5), -1.5)):
        grown = shape.buffer(margin, 64)
        depth = used.depth_at(points)
        true = shapely.distance(shapely.points(points), grown.boundary)
        true *= shapely.contains_xy(grown, *points.T)
        most = float(used.depth.max())
        near = 2.2 * used.pixel
        assert np.abs(depth - np.minimum(true, most)).max() < near
    wide = widen_window(window, 2.0)
    grown = shape.buffer(2.0)
    assert wide.area == pytest.approx(grown.area, rel=0.02)
    depth = wide.depth_at(points)
    true = shapely.distance(shapely.points(points), grown.boundary)
    true *= shapely.contains_xy(grown, *points.T)
    most = float(wide.depth.max())
    assert most >= 4.0
    assert np.abs(depth - np.minimum(true, most)).max() < 3 * wide.pixel


def test_figures_scattered_on_an_empty_ground_have_it_as_their_window() -> None:
    def boxes(size: float, count: int) -> np.ndarray:
        rings = [
            np.array([[0, 0], [size, 0], [size, size], [0, size]])
            + 20 * np.array([i, j])
            for i in range(count)
            for j in range(count)
        ]
        return np.vstack([sides(r) for r in rings])

    for size, count, ground in (
        (10.0, 3, True),  # nine boxes: a quarter of what they span
        (10.0, 1, False),  # one alone is no scatter
        (19.0, 3, True),  # close together, but each a small part of all
    ):
        rows = boxes(size, count)
        hull = convex_hull(rows.reshape(-1, 2))
        window = build_window(rows, hull, 4.0, 4)
        span = (20 * (count - 1) + size) ** 2
        area = span if ground else count**2 * size**2
        assert window.area == pytest.approx(area, rel=0.02)
    few = build_window(
        boxes(10.0, 2), convex_hull(boxes(10.0, 2).reshape(-1, 2)), 4.0, 5
    )
    assert few.area == pytest.approx(400, rel=0.02)
    none = build_window(np.zeros((0, 4)), convex_hull(L_SHAPE), 4.0, 4)
    assert none.area == pytest.approx(
        shapely.Polygon(L_SHAPE).convex_hull.area, rel=0.01
    )


def test_what_runs_along_the_hull_is_told_and_a_line_has_a_thin_one() -> None:
    hull = convex_hull(L_SHAPE)
    assert shapely.Polygon(hull).equals(shapely.Polygon(L_SHAPE).convex_hull)
    x, y = hull.T
    assert (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() > 0
    rows = np.array(
        [
            [5.0, 0.05, 30, -0.05],
            [5, 0.2, 30, 0],
            [15, 10, 15, 30],
            [0, 3, 0, 20],
            [40, 10, 15, 30],
            [0, 0, 40, 10],
        ]
    )
    told = on_hull(rows, hull, 0.1)
    assert told.tolist() == [True, False, False, True, True, False]
    flat = convex_hull(np.array([[0.0, 5], [10, 5], [4, 5]]))
    assert flat.tolist() == [[-0.01, 4.99], [10.01, 4.99], [10.01, 5.01], [-0.01, 5.01]]


def test_samples_lie_at_equal_steps_along_lines_laid_end_to_end() -> None:
    rows = np.array([[0.0, 0, 3, 0], [10, 0, 10, 7]])
    points, owner = _sample(rows, 1.0)
    assert owner.tolist() == [0] * 3 + [1] * 7
    at = np.arange(10) + 0.5
    assert np.allclose(points[:3], np.column_stack([at[:3], at[:3] * 0]))
    assert np.allclose(points[3:], np.column_stack([np.full(7, 10), at[:7]]))
    one, _ = _sample(rows[:1], 99.0)
    assert one.tolist() == [[1.5, 0]]


def test_the_scale_of_lines_leaves_splinters_and_rails_out() -> None:
    even = np.full(40, 10.0)
    assert _scale_of(even) == 10
    # with more splinters than lines each line counts as eight: of 56 + 8 · 40 they are
    # less than 15 in a hundred, of 58 + 320 more
    assert _scale_of(np.r_[even, np.full(56, 0.04)]) == 10
    assert _scale_of(np.r_[even, np.full(58, 0.04)]) == 0.04
    assert _scale_of(np.r_[even, np.full(3, 900.0)]) == 10


@pytest.mark.parametrize("short", ["p1", "pg", "cmm", "p4g", "p3m1", "p6"])
def test_pieces_lie_in_the_faces_that_operations_lay_over_them(short: str) -> None:
    found = symmetry("plane", short, 0.3)
    quotient = quotient_of(found)
    rng = np.random.default_rng(1)
    middles = rng.uniform(-10, 10, (3, 2)) + found.centre
    faces = np.array(
        [
            shapely.Point(m).buffer(r, 3)
            for m, r in zip(middles, (1.1, 1.7, 2.0), strict=True)
        ]
    )
    points = rng.uniform(-12, 12, (60, 2)) + found.centre
    piece = np.repeat(np.arange(12), 5)
    cover = cover_of(points, piece, faces, quotient)
    told = {
        (p, o, w): s
        for p, o, w, s in zip(
            *(
                a.tolist()
                for a in (cover.piece, cover.operation, cover.whole, cover.share)
            ),
            strict=True,
        )
    }
    assert cover.piece.tolist() == sorted(cover.piece.tolist())
    # all shifts that bring a point near any face
    span = range(-9, 10)
    steps = np.array([(i, j) for i in span for j in span]) @ quotient.basis
    depth: dict[int, list[float]] = {}
    expected: dict[tuple[int, int, int], float] = {}
    for op in range(quotient.order):
        moved = points @ quotient.linear[op].T + quotient.shift[op]
        x, y = (moved[:, None] + steps[None]).transpose(2, 0, 1)
        for w, face in enumerate(faces):
            held = shapely.contains_xy(face, x, y)
            for p, hits in enumerate(held.any(axis=1).reshape(12, 5)):
                if hits.any():
                    expected[p, op, w] = hits.mean()
            row, step = np.nonzero(held)
            away = shapely.distance(
                shapely.points(x[row, step], y[row, step]), face.boundary
            )
            for r, d in zip(row.tolist(), away.tolist(), strict=True):
                depth.setdefault(r, []).append(d)
    assert told == pytest.approx(expected)
    deep = depth_inside(points, faces, quotient)
    for row in range(60):
        values = sorted(depth.get(row, [0.0]))
        assert deep[row] == pytest.approx(values[len(values) // 2], abs=1e-9)
    # the share of points that lie inside by more than a slack, laid over one face
    inner = shapely.Point(middles[2]).buffer(1.5)
    own = np.array(
        [inner.exterior.interpolate(k, normalized=True).coords[0] for k in (0.1, 0.5)]
    )
    edges = np.vstack([own, middles[2] + [[9.0, 9.0]], middles[2] + [[0.0, 1.9]]])
    back = np.linalg.inv(quotient.linear[-1])
    base = quotient.basis.sum(axis=0)
    laid = [(p - quotient.shift[-1] + base) @ back.T for p in (own, edges)]
    last = quotient.order - 1
    assert inner_share(*laid, faces[2], quotient, last, 0.3) == 0.5
    assert inner_share(laid[0], edges[:0], faces[2], quotient, last, 0.3) == 0
