"""Borders round panels that are no rectangle: against symmetry and lengths."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.laying.border import border_panel, lay_border
from fillwork.laying.figures import Figures
from fillwork.laying.joins import make_motif
from fillwork.laying.model import Cell, Motif, Panel
from fillwork.laying.panel import panel_from_curves, rectangle_panel
from fillwork.laying.whole import plain_border
from tests.unit.laying.patterns import best_way, covers

MIRROR = (-1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
# an L: between its corners' middles each side is a whole number of 30 mm
ELL = [(0, 0), (190, 0), (190, 70), (100, 70), (100, 190), (0, 190)]


def ring(corners: list) -> Curves:
    points = np.array(corners, dtype=float)
    return Curves.from_segments(np.hstack([points, np.roll(points, -1, axis=0)]))


def zigzag() -> tuple[Motif, Figures]:
    lines = np.array([[0.0, 3, 15, 7], [15, 7, 30, 3]])
    outline = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 10.0], [0.0, 10.0]])
    cell = Cell(Curves.from_segments(lines), np.zeros(2, np.int32), outline, True)
    motif = make_motif(cell, best_way(cell, "border", "", 1e-5), slack=1e-5)
    operations = (affine.IDENTITY, MIRROR)
    none = np.empty(0, dtype=object)
    return motif, Figures(none, (), motif.basis, operations, (), "frieze:p1m1")


def ends_of(curves: Curves) -> np.ndarray:
    return curves.data[:, :4].reshape(-1, 2, 2)


@pytest.mark.parametrize("n", [3, 5, 6, 8])
@pytest.mark.parametrize("give", [0.0, 0.2])
def test_a_border_round_a_regular_panel_has_its_symmetry(n: int, give: float) -> None:
    turn = 2 * math.pi / n
    angles = turn * np.arange(n)
    panel = panel_from_curves(
        [ring(120 * np.stack([np.cos(angles), np.sin(angles)], axis=1))]
    )
    laid = lay_border(*zigzag(), panel, 1.0, give=give)
    assert len(laid.stretch) == 1  # all sides are alike
    ends = ends_of(laid.curves)
    middle = tuple(panel.rings[0].mean(axis=0).tolist())
    flip = (1.0, 0.0, 0.0, -1.0, 0.0, 2 * middle[1])
    for g in (affine.rotation(turn, middle), flip):
        assert covers(affine.apply(g, ends), ends, 1e-5)
    # sides of the field are as far from the panel's as the strip is wide
    inner = shapely.LinearRing(laid.panel.rings[1])
    outer = shapely.LinearRing(panel.rings[0])
    for k in range(n):
        side = shapely.LineString(np.roll(laid.panel.rings[1], -k, axis=0)[:2])
        assert side.interpolate(0.5, normalized=True).distance(outer) == pytest.approx(
            10
        )
    assert shapely.Polygon(outer).contains(inner)


def test_a_border_runs_round_an_inner_corner_without_a_break() -> None:
    laid = lay_border(*zigzag(), panel_from_curves([ring(ELL)]), 1.0)
    assert laid.wanted == pytest.approx([0.0] * len(laid.wanted), abs=1e-9)
    ends = ends_of(laid.curves)
    points = ends.reshape(-1, 2)
    apart = np.hypot(*np.moveaxis(points[:, None] - points, -1, 0))
    assert ((apart < 1e-6).sum(axis=1) == 2).all()
    # the side upwards from the inner corner: vertices every 15 mm from its middle on
    for k in range(1, 7):
        heights = [np.hypot(*(points - [x, 65 + 15 * k]).T).min() for x in (93, 97)]
        assert min(heights) < 1e-6
    field = laid.field
    assert (field.width, field.height) == pytest.approx((170, 170))
    area = shapely.Polygon(field.rings[0]).area
    assert area == pytest.approx(170 * 50 + 80 * 120)


def test_an_opening_stays_open_inside_a_border() -> None:
    hole = [(30, 30), (30, 60), (60, 60), (60, 30)]
    panel = panel_from_curves([ring(ELL), ring(hole)])
    plain = plain_border(panel, 15.0)
    assert plain.inset == pytest.approx((15.0, 15.0))
    assert len(plain.field.rings) == 2
    with pytest.raises(LineWorkError, match="runs into opening 1"):
        plain_border(panel, 32.0)


def arch() -> Panel:
    data = np.zeros((4, 8))
    data[:3, :4] = [[0, 80, 0, 0], [0, 0, 60, 0], [60, 0, 60, 80]]
    data[3] = [30, 80, 30, 0, 0, 30, 0, math.pi]
    return panel_from_curves([Curves(np.array([0, 0, 0, 1], np.uint8), data)])


def test_borders_that_find_no_room_or_no_straight_side_are_refused() -> None:
    with pytest.raises(LineWorkError, match="1 side of the panel is curved"):
        border_panel(arch(), 10.0)
    for panel in (rectangle_panel(100, 60), panel_from_curves([ring(ELL)])):
        with pytest.raises(LineWorkError, match="no room"):
            border_panel(panel, 51.0)
