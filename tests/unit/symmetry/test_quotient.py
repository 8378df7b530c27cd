"""How operations multiply, and how outlines lie: by what turns and mirrors do."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.geometry.polygons import ring_sides
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.quotient import quotient_of
from tests.unit.helpers import linework_from_segments


@pytest.mark.parametrize("order", [1, 2, 3, 4, 7, 12])
@pytest.mark.parametrize("mirrors", [False, True])
def test_products_and_inverses_are_those_of_the_matrices(
    order: int, mirrors: bool
) -> None:
    turns = [np.exp(2j * np.pi * k / order) for k in range(order)]
    maps = [(z.real, z.imag, -z.imag, z.real, 3.0, 5.0) for z in turns]
    if mirrors:  # z times the conjugate, which turns the second axis round
        maps += [(z.real, z.imag, z.imag, -z.real, 2.0, 1.0) for z in turns]
    operations = [SimpleNamespace(map=m) for m in maps]
    found = quotient_of(SimpleNamespace(lattice=None, operations=operations))
    linear = np.array([[[m[0], m[2]], [m[1], m[3]]] for m in maps])
    expected = linear[:, None] @ linear[None, :]
    np.testing.assert_allclose(linear[found.product], expected, atol=1e-12)
    one = np.broadcast_to(np.eye(2), linear.shape)
    np.testing.assert_allclose(linear[found.inverse] @ linear, one, atol=1e-12)


def test_outlines_that_are_turned_or_mirrored_lie_so() -> None:
    corners = np.array([0, 9, 4 + 5j])
    turn = np.exp(0.7j)
    shapes = [30 + 30j + corners, 60 + 30j + turn * corners, 30 + 70j + corners.conj()]
    rings = [ring_sides(np.column_stack([z.real, z.imag])) for z in shapes]
    lines = linework_from_segments(np.concatenate(rings), 100, 100)
    arrangement = build_arrangement(lines, close_gaps=0.0)
    measures = measure_faces(arrangement)
    faces = np.arange(1, arrangement.face_count)
    middle = measures.centroid[faces] @ (1, 1j)
    own, turned, mirrored = (
        measures.pose[faces[np.argmin(np.abs(middle - z.mean()))]] for z in shapes
    )
    assert np.abs(own[1:]).min() > 0.01
    np.testing.assert_allclose(turned, own * turn ** np.arange(1, 4), atol=1e-12)
    np.testing.assert_allclose(mirrored, own.conj(), atol=1e-12)
    assert measures.pose is measures.pose
