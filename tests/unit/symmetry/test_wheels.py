"""Wheels within stars and circles: one rosette with what lies round them."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fillwork.symmetry.zones.find import find_zones
from tests.bench.framed import Panel, build_panel, put_field

TURNED = 0.6  # of half the angle between spokes: a wheel with this has no mirror


def _ring(n: int, radius: float, start: float = 0.0) -> np.ndarray:
    angle = start + 2 * np.pi * np.arange(n) / n
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def _closed(points: np.ndarray) -> np.ndarray:
    return np.hstack([points, np.roll(points, -1, axis=0)])


def _wheel(n: int, radius: float) -> np.ndarray:
    rim = _ring(n, radius, TURNED * np.pi / n)
    return np.vstack([_closed(rim), np.hstack([rim, np.zeros((n, 2))])])


# lines of the first field run on into the star's, of the second they do not
# nine regions amid a field in doubt are in doubt with it, thirteen stand by themselves
@pytest.mark.parametrize(
    ("n", "content", "sure"), [(8, "twelve", False), (12, "p4m", True)]
)
def test_a_wheel_turned_against_its_star_has_no_mirror(
    n: int, content: str, sure: bool
) -> None:
    # a regular n-gon and a star of n points have the mirrors of Dn each; about one
    # centre and turned by no half step they share the turns alone
    panel = Panel(np.random.default_rng(4), wide=200.0, tall=160.0)
    middle = np.array([100.0, 80.0])
    star = np.stack([_ring(n, 50.0), _ring(n, 36.0, np.pi / n)], axis=1).reshape(-1, 2)
    panel.box(0.0, 0.0, panel.wide, panel.tall)
    panel.ring(star + middle)
    panel.ink.append(_wheel(n, 12.0) + np.tile(middle, 2))
    ground = shapely.box(0, 0, panel.wide, panel.tall)
    ground = ground.difference(shapely.Polygon(star + middle))
    put_field(panel, content, ground, repeats=14)
    arrangement, edge = build_panel(panel)
    zones = find_zones(arrangement)
    at = arrangement.face_at(*(middle + edge + [2.0, 3.0]))
    between = arrangement.face_at(*(middle + edge + [20.0, 3.0]))
    (zone,) = [z for z in zones if at in z.faces]
    assert between in zone.faces
    assert len(zone.faces) == n + 1
    assert zone.symmetry.group.short == f"C{n}"
    assert zone.symmetry.certain == sure


@pytest.mark.parametrize("n", [8, 12])
def test_a_wheel_that_stands_in_line_with_its_star_keeps_its_mirrors(n: int) -> None:
    panel = Panel(np.random.default_rng(4))
    middle = np.array([150.0, 110.0])
    star = np.stack([_ring(n, 60.0), _ring(n, 43.0, np.pi / n)], axis=1).reshape(-1, 2)
    panel.box(0.0, 0.0, panel.wide, panel.tall)
    panel.ring(star + middle)
    area = shapely.box(0, 0, panel.wide, panel.tall)
    put_field(panel, "p4m", area.difference(shapely.Polygon(star + middle)))
    rim = _ring(n, 18.0)
    spokes = np.hstack([rim, np.zeros((n, 2))])
    panel.ink.append(np.vstack([_closed(rim), spokes]) + np.tile(middle, 2))
    arrangement, edge = build_panel(panel)
    zones = find_zones(arrangement)
    at = arrangement.face_at(*(middle + edge + [2.0, 3.0]))
    (zone,) = [z for z in zones if at in z.faces]
    assert zone.symmetry.group.short == f"D{n}"
