"""Orders of rosettes: not doubled by what is nearly there, and beyond 64."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.groups import parse_group
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import linework_from_segments, polyline


def _star(n: int, step: int, radius: float = 60.0) -> np.ndarray:
    """Return the sides of the star polygon {n/step}."""
    angle = np.arange(n) * 2 * np.pi / n
    tips = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.hstack([tips, np.roll(tips, -step, axis=0)])


def _turned(segments: list[list[float]], n: int) -> np.ndarray:
    rows = []
    for k in range(n):
        c, s = np.cos(2 * np.pi * k / n), np.sin(2 * np.pi * k / n)
        turn = np.array([[c, s], [-s, c]])
        rows.append((np.reshape(segments, (-1, 2)) @ turn).reshape(-1, 4))
    return np.concatenate(rows)


def _ring(n: int, inner: float, outer: float) -> np.ndarray:
    angle = np.arange(2 * n) * np.pi / n
    radius = np.where(np.arange(2 * n) % 2, inner, outer)
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    return polyline(points, closed=True)


def _read(segments: np.ndarray):
    work = linework_from_segments(segments + 80.0, 160, 160, has_page=False)
    arrangement = build_arrangement(work)
    zones = find_zones(arrangement)
    return arrangement, zones


@pytest.mark.parametrize(
    ("bar", "group"),
    [([18.0, -2.0, 18.0, 2.0], "D12"), ([30.0, 0.0, 36.0, 3.0], "C12")],
)
def test_a_detail_in_every_second_point_halves_the_order(bar, group):
    stars = [_star(24, 7), _star(24, 10)]
    _, zones = _read(np.vstack([*stars, _turned([bar], 12)]))
    symmetry = zones[0].symmetry
    assert symmetry.group.short == group
    assert symmetry.certain


def test_rings_of_twice_the_order_do_not_double_it():
    rings = [(24, 50, 60), (24, 40, 47), (24, 30, 37), (12, 22, 27), (24, 18, 20)]
    _, zones = _read(np.vstack([_ring(*r) for r in rings]))
    symmetry = zones[0].symmetry
    assert symmetry.group.short == "D12"
    assert symmetry.certain


# {n/k} has k - 1 rings of n regions and its middle: n (k - 1) + 1 in k kinds
@pytest.mark.parametrize(("n", "step"), [(72, 5), (97, 6)])
def test_stars_of_more_than_64_points(n, step):
    arrangement, zones = _read(_star(n, step))
    assert arrangement.face_count - 1 == n * (step - 1) + 1
    assert zones[0].symmetry.group.short == f"D{n}"
    assert zones[0].symmetry.certain
    assert len(find_orbits(arrangement, zones).orbits) == step


def test_large_orders_can_be_stated():
    assert parse_group("rosette:D97").orbifold == "*97•"
