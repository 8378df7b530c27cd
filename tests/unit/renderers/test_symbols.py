"""Symbols of symmetry elements lie along the mirrors they stand on."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from fillwork.renderers.symbols import (
    Elements,
    _axes,
    _clip_line,
    _symbol,
    _translations,
    _within,
    compose_elements,
    find_elements,
    wedge_of,
)
from fillwork.symmetry.groups import rosette_group
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.model import Operation, Symmetry
from tests.unit.symmetry.patterns import plane_pattern
from tests.unit.symmetry.test_properties import _read


def test_each_half_turn_of_p6m_is_drawn_along_a_mirror_through_it() -> None:
    arrangement, _ = _read(plane_pattern("p6m", 3, repeats=8).segments)
    found = find_symmetry(arrangement)
    assert found.group.short == "p6m"
    middle = np.array(found.centre)
    a, b = 1.02 * found.lattice.basis
    window = middle + np.array([-a - b, a - b, a + b, b - a]) / 2
    drawn = find_elements(found, window)
    halves = drawn.orders == 2
    # table of p6mm: three half turns a cell, each on two mirrors at right angles;
    # the sixth turns carry them onto each other, and so their symbols
    ways = np.round(np.degrees(drawn.turns[halves]) % 180, 3)
    assert halves.sum() >= 3
    assert len(np.unique(ways)) == 3
    for centre, turn in zip(drawn.centres[halves], drawn.turns[halves], strict=True):
        way = np.array([np.cos(turn), np.sin(turn)])
        step = drawn.mirrors[:, 2:] - drawn.mirrors[:, :2]
        step /= np.hypot(*step.T)[:, None]
        along = np.abs(step[:, 0] * way[1] - step[:, 1] * way[0]) < 1e-6
        off = centre - drawn.mirrors[:, :2]
        gap = np.abs(off[:, 0] * step[:, 1] - off[:, 1] * step[:, 0])
        assert (along & (gap < 1e-3)).any()


@pytest.mark.parametrize(("mirrors", "degrees"), [(True, 15.0), (False, 30.0)])
def test_the_wedge_of_a_twelvefold_rosette(mirrors: bool, degrees: float) -> None:
    # D12 has a mirror every 180/12 degrees, C12 repeats by a turn of 360/12
    turn, found = np.pi / 6, []
    for k in range(12):
        c, s = np.cos(k * turn), np.sin(k * turn)
        kind, order = ("rotation", 12 // math.gcd(k, 12)) if k else ("identity", 1)
        found.append(Operation((c, s, -s, c, 0.0, 0.0), kind, order))
        if mirrors:
            found.append(Operation((c, s, s, -c, 0.0, 0.0), "reflection", 2))
    group = rosette_group(12, mirrors)
    symmetry = Symmetry(group, None, (0.0, 0.0), operations=tuple(found))
    first, centre, last = wedge_of(symmetry, 20.0)
    assert np.allclose(centre, 0.0)
    assert np.allclose(np.hypot(*np.transpose([first, last])), 20.0)
    between = np.degrees(np.arccos(first @ last / 400.0))
    assert between == pytest.approx(degrees)


def windows(count: int) -> list[np.ndarray]:
    """Return convex windows, counter-clockwise: boxes, skew cells and hexagons."""
    rng = np.random.default_rng(3)
    found = []
    for k in range(count):
        a, b = rng.uniform(-20, 20, 2), rng.uniform(5, 30, 2)
        c = np.array([rng.uniform(-8, 8), rng.uniform(10, 30)])
        turns = np.arange(6) * np.pi / 3
        hexagon = np.stack([np.cos(turns), np.sin(turns)], axis=1) * b[0]
        box = np.array([(0, 0), (b[0], 0), b, (0, b[1])])
        skew = np.array([(0, 0), (b[0], 0), (c[0] + b[0], c[1]), c])
        found.append(a + (box, skew, hexagon)[k % 3])
    return found


def test_lines_and_points_in_a_window_are_those_of_plane_geometry() -> None:
    rng = np.random.default_rng(4)
    for window in windows(9):
        shape = shapely.Polygon(window)
        middle = window.mean(axis=0)
        for angle in (*rng.uniform(0, 2 * np.pi, 12), 0.0, np.pi / 2):
            way = np.array([np.cos(angle), np.sin(angle)])
            point = middle + rng.uniform(-25, 25, 2)
            line = shapely.LineString([point - 200 * way, point + 200 * way])
            part = shape.intersection(line)
            span = _clip_line(point, way, window)
            if part.length < 1e-3:
                assert span is None
                continue
            ends = np.sort([(np.array(at) - point) @ way for at in part.coords])
            assert span == pytest.approx(ends, abs=1e-6)
        points = middle + rng.uniform(-30, 30, (300, 2))
        inside = _within(points, window, 0.0)
        assert inside.tolist() == shapely.covers(shape, shapely.points(points)).tolist()
        assert 5 < inside.sum() < 295
        # a little beyond counts too
        edge = (window + np.roll(window, -1, axis=0)) / 2
        out = edge + 1e-3 * (edge - middle) / np.hypot(*(edge - middle).T)[:, None]
        assert not _within(out, window, 0.0).any()
        assert _within(out, window, 2e-3).all()


@pytest.mark.parametrize("cell", [[(3, 2), (10, 0), (0, 7)], [(3, 2), (9, 1), (4, 8)]])
def test_axes_are_drawn_wherever_the_lattice_carries_them(cell) -> None:
    cell = np.array(cell, float)
    window = np.array([(0.0, 0), (35, 0), (35, 25), (0, 25)])
    shifts = _translations(cell, window)
    # every cell that touches the window is there
    whole = {tuple(np.round(row, 6)) for row in shifts}
    shape = shapely.Polygon(window)
    for i, j in itertools.product(range(-9, 10), repeat=2):
        moved = i * cell[1] + j * cell[2]
        corners = cell[0] + moved + [(0, 0), cell[1], cell[1] + cell[2], cell[2]]
        if shapely.Polygon(corners).intersection(shape).area > 1e-6:
            assert tuple(np.round(moved, 6)) in whole
    axis = np.array([[4.0, 3.0, *(cell[1] / np.hypot(*cell[1]))]])
    found = _axes(axis, shifts, window, 1e-3)
    lines = shapely.linestrings(found.reshape(-1, 2, 2))
    # lines along the first shift, a step of the second apart, each once
    way = axis[0, 2:]
    normal = np.array([-way[1], way[0]])
    step = abs(cell[2] @ normal)
    at = np.sort([np.array(line.coords[0]) @ normal for line in lines])
    assert np.diff(at) == pytest.approx(np.full(len(at) - 1, step))
    reach = window @ normal
    assert at[0] - reach.min() < step
    assert reach.max() - at[-1] < step
    ends = shapely.get_coordinates(lines)
    assert shape.boundary.distance(shapely.points(ends)).max() < 1e-6


@pytest.mark.parametrize("order", [2, 3, 4, 6, 5, 12, 20])
@pytest.mark.parametrize("turn", [0.0, 0.4])
def test_symbols_have_the_turns_of_their_centres(order: int, turn: float) -> None:
    ring = _symbol(order, turn)
    shape = shapely.Polygon(ring)
    assert shape.exterior.is_ccw or order == 2
    assert np.array(shape.centroid.coords[0]) == pytest.approx((0, 0), abs=1e-9)
    again = affinity.rotate(shape, 360 / (order if order < 13 else 48), origin=(0, 0))
    assert shape.symmetric_difference(again).area < 1e-9
    far = np.hypot(*ring.T)
    if order == 2:
        # a lens 2.8 mm long along its mirror, its arcs of a hundred degrees
        long = ring[np.argmax(far)]
        assert abs(long @ (-np.sin(turn), np.cos(turn))) < 1e-9 or (
            abs(long @ (np.cos(turn), np.sin(turn))) < 1e-9
        )
        assert far.max() == pytest.approx(1.4)
        sagitta = 1.4 * math.tan(math.radians(25))
        assert far.min() == pytest.approx(sagitta, rel=0.01)
        return
    assert len(ring) == (order if order < 13 else 48)
    wide = {3: 1.15, 4: 1.05}.get(order, 1.0) * 1.4
    assert far == pytest.approx(np.full(len(ring), wide))
    # a side of the square and a corner of the hexagon stand along the mirror
    angle = np.degrees(np.arctan2(*ring[0][::-1])) - np.degrees(
        turn if order in (4, 6) else 0.0
    )
    assert angle == pytest.approx(45.0 if order == 4 else 90.0)


def test_symbols_are_drawn_black_at_their_centres() -> None:
    glides = np.array([[0.0, 0, 9, 0]])
    mirrors = np.array([[0.0, 5, 9, 5], [0, 6, 9, 6]])
    centres = np.array([[3.0, 4.0], [20.0, 7.0]])
    drawn = Elements(centres, np.array([3, 6]), np.zeros(2), mirrors, glides)
    dashed, plain, fills = compose_elements(drawn)
    assert (dashed.dash, plain.dash) == ((2.0, 1.2), ())
    assert plain.curves.data[:, :4].tolist() == mirrors.tolist()
    assert dashed.curves.data[:, :4].tolist() == glides.tolist()
    rings = np.split(fills.shapes.pieces.starts(), fills.shapes.ring_start[1:-1])
    assert [len(ring) for ring in rings] == [3, 6]
    for ring, centre in zip(rings, centres, strict=True):
        assert ring.mean(axis=0) == pytest.approx(centre)
    none = np.empty((0, 4))
    bare = Elements(centres[:0], np.empty(0, int), np.zeros(0), none, none)
    assert compose_elements(bare) == []
