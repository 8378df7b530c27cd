"""Affine maps against matrices of three rows."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.geometry import affine


def matrix(m: affine.Affine) -> np.ndarray:
    """Return the map as SVG 2, section 8.5, writes it: columns (a b) (c d) (e f)."""
    a, b, c, d, e, f = m
    return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])


def maps(seed: int) -> tuple[affine.Affine, affine.Affine]:
    one, two = np.random.default_rng(seed).uniform(-3, 3, (2, 6)).tolist()
    return tuple(one), tuple(two)


@pytest.mark.parametrize("seed", range(4))
def test_maps_do_what_their_matrices_do(seed: int) -> None:
    one, two = maps(seed)
    product = matrix(one) @ matrix(two)
    assert np.allclose(matrix(affine.compose(one, two)), product, atol=1e-12)
    back = affine.compose(one, affine.invert(one))
    assert np.allclose(back, affine.IDENTITY, atol=1e-12)
    points = np.random.default_rng(seed).random((2, 5, 2))
    whole = np.concatenate([points, np.ones((2, 5, 1))], axis=2) @ matrix(one).T
    assert np.allclose(affine.apply(one, points), whole[..., :2], atol=1e-12)
    size = np.linalg.det(matrix(one))
    assert affine.determinant(one) == pytest.approx(size)
    assert affine.mean_scale(one) == pytest.approx(abs(size) ** 0.5)
    assert affine.linear(one).tolist() == matrix(one)[:2, :2].tolist()


def test_a_turn_leaves_its_centre_and_turns_against_the_clock() -> None:
    turn = affine.rotation(math.pi / 6, (3.0, -2.0))
    moved = affine.apply(turn, np.array([[3.0, -2.0], [5.0, -2.0]]))
    # the cosine of 30 degrees is half the root of three, the sine a half
    assert np.allclose(moved, [[3, -2], [3 + math.sqrt(3), -1]], atol=1e-12)
    assert affine.determinant(turn) == pytest.approx(1)
