"""Plain names of shapes."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.geometry.curves import LINE, Curves
from fillwork.symmetry.names import find_names
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
