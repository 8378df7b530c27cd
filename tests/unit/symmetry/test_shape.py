"""Plain names of shapes."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.geometry.curves import LINE, Curves
from fillwork.symmetry.kinds.names import find_names
from tests.unit.helpers import linework_from_curves
from tests.unit.symmetry.figures import figures

FIGURES = figures()


def _placed(rows, rng, at, jitter=0.0) -> Curves:
    kind = np.array([k for k, _ in rows], np.uint8)
    curves = Curves(kind, np.array([d for _, d in rows], float))
    phi = rng.random() * 2 * np.pi
    turn = np.array([[np.cos(phi), -np.sin(phi)], [np.sin(phi), np.cos(phi)]])
    turn = 0.7 * turn @ np.diag([1.0, rng.choice([-1.0, 1.0])])
    numbers = (*turn.T.ravel(), *at)
    curves = curves.transform(tuple(float(v) for v in numbers))
    if not jitter:
        return curves
    data = curves.data.copy()
    sigma = jitter * np.median(curves.lengths())
    move = sigma * rng.standard_normal((len(data), 2))
    data[:, 0:2] += move
    data[:, 2:4] += np.roll(move, -1, axis=0)
    return Curves(kind, data)


def _name(rows, rng, members, jitter=0.0) -> str:
    parts = [
        _placed(rows, rng, (100.0 + 90 * m, 100.0), jitter) for m in range(members)
    ]
    work = linework_from_curves(
        Curves.concatenate(parts), 100.0 * members + 100, 200, has_page=False
    )
    arrangement = build_arrangement(work)
    of_face = np.zeros(arrangement.face_count, dtype=np.int64)
    of_face[0] = -1
    faces = np.arange(1, arrangement.face_count)
    assert len(faces) == members
    area = np.array([1.0])
    return find_names(arrangement, of_face, [faces], np.array([True]), area)[0][1]


@pytest.mark.parametrize("label", list(FIGURES))
def test_exact_figures_have_their_names(label: str) -> None:
    rows, name = FIGURES[label]
    rng = np.random.default_rng(len(label))
    assert _name(rows, rng, 1) == name
    assert _name(rows, rng, 3) == name


@pytest.mark.parametrize(
    "label", [k for k, (rows, _) in FIGURES.items() if all(r[0] == LINE for r in rows)]
)
def test_names_hold_when_corners_move_by_one_per_cent(label: str) -> None:
    rows, name = FIGURES[label]
    rng = np.random.default_rng(3)
    assert _name(rows, rng, 6, 0.01) == name


def test_a_rectangle_near_a_square_is_told_from_exact_copies() -> None:
    rows = [
        (LINE, [*p, *q, 0, 0, 0, 0])
        for p, q in (
            ((0, 0), (10.4, 0)),
            ((10.4, 0), (10.4, 10)),
            ((10.4, 10), (0, 10)),
            ((0, 10), (0, 0)),
        )
    ]
    assert _name(rows, np.random.default_rng(1), 4) == "rectangle"


def _bent(rng, members: int, off: float) -> str:
    """Name bands of 30 by 10 that others end at, each where a hand set it."""
    ways = ((10, 0), (20, 0), (30, 0), (30, 10), (20, 10), (10, 10), (0, 10), (0, 0))
    parts = []
    for m in range(members):
        points = np.array(ways, float)
        points[[0, 1, 4, 5], 1] += rng.uniform(-off, off, 4)
        points += rng.normal(0, 0.02, points.shape)
        parts.append(_ring_work(points + np.array([50.0 * m, 20.0])))
    work = linework_from_curves(
        Curves.concatenate(parts), 50.0 * members, 60, has_page=False
    )
    arrangement = build_arrangement(work)
    faces = np.arange(1, arrangement.face_count)
    assert len(faces) == members
    of_face = np.where(np.arange(arrangement.face_count) > 0, 0, -1)
    area = np.array([300.0])
    return find_names(arrangement, of_face, [faces], np.array([True]), area)[0][1]


@pytest.mark.parametrize("seed", range(5))
def test_a_side_that_lines_join_is_one_side(seed: int) -> None:
    assert _bent(np.random.default_rng(seed), 9, 0.2) == "rectangle"


def _ring_work(points):
    data = np.zeros((len(points), 8))
    data[:, :2], data[:, 2:4] = points, np.roll(points, -1, axis=0)
    return Curves(np.full(len(points), LINE, np.uint8), data)


def _ring_name(points) -> str:
    work = linework_from_curves(_ring_work(points), 200, 200, has_page=False)
    arrangement = build_arrangement(work)
    assert arrangement.face_count == 2
    of_face = np.array([-1, 0])
    whole = np.array([True])
    area = arrangement.area[1:]
    return find_names(arrangement, of_face, [np.array([1])], whole, area)[0][0]


def test_sides_in_hundreds_of_parts_are_sides() -> None:
    corners = np.array([(20, 20), (180, 20), (180, 100), (20, 100)], float)
    share = np.linspace(0, 1, 300, endpoint=False)[:, None]
    parts = [
        a + share * (b - a)
        for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)
    ]
    assert _ring_name(np.concatenate(parts)) == "rectangle"


def test_a_star_of_eighty_points_is_counted() -> None:
    angle = np.arange(160) * np.pi / 80
    radius = np.where(np.arange(160) % 2, 60.0, 90.0)
    star = 100 + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    assert _ring_name(star) == "80-point star"


def test_a_ragged_coast_is_a_free_form() -> None:
    rng = np.random.default_rng(5)
    angle = np.arange(400) * np.pi / 200
    radius = 70 + 20 * rng.random(400)
    coast = 100 + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    assert _ring_name(coast) == "free form"


def test_nobody_counts_seventeen_sides() -> None:
    angle = np.cumsum(np.random.default_rng(3).uniform(0.5, 1.0, 17))
    angle *= 2 * np.pi / angle[-1]
    ring = 100 + 70 * np.column_stack([np.cos(angle), np.sin(angle)])
    assert _ring_name(ring) == "many-sided figure"
