import numpy as np
import pytest

from fillwork.colouring.palettes.file import read_palette
from fillwork.errors import PlanError
from fillwork.plans.areas import measure_areas
from tests.unit.plans.boards import board, colour_board, orbits_of

PALETTE = read_palette("quiet-earth")


def test_a_chessboard():
    squares = board(4, 4, 10.0)
    kinds = [(x + y) % 2 for y in range(4) for x in range(4)]
    orbits = orbits_of(squares, kinds)
    colouring, adjacency = colour_board(squares, orbits, PALETTE, [3, 7])
    areas = measure_areas(squares, orbits, colouring)
    assert areas.faces[3] == areas.faces[7] == 8
    assert areas.area[3] == pytest.approx(800)
    # every side of every square meets the other colour or the outside
    assert areas.edge[3] == pytest.approx(8 * 40)
    # 24 inner sides lie between the two colours
    assert areas.touching[3, 7] == pytest.approx(240)
    assert areas.touching[3, 7] == pytest.approx(float(adjacency.shared.sum()))
    assert areas.outline == pytest.approx(400)
    assert areas.total == pytest.approx(1600)
    assert areas.margin == 0.0


def test_edges_inside_one_colour_need_no_cutting_in():
    squares = board(3, 2, 10.0)
    orbits = orbits_of(squares, [0] * 6)
    colouring, _ = colour_board(squares, orbits, PALETTE, [2])
    areas = measure_areas(squares, orbits, colouring)
    assert areas.edge[2] == pytest.approx(100)
    assert areas.touching[2, 2] == pytest.approx(70)


def test_sums_and_the_margin():
    squares = board(5, 3, 7.0, page=(100.0, 80.0))
    kinds = [f % 4 for f in range(15)]
    orbits = orbits_of(squares, kinds)
    colouring, _ = colour_board(squares, orbits, PALETTE, [0, 1, 1, 5])
    areas = measure_areas(squares, orbits, colouring)
    assert areas.area.sum() == pytest.approx(squares.area.sum())
    assert areas.faces.sum() == 15
    assert areas.margin == pytest.approx(8000 - 15 * 49)
    assert areas.outline_width == pytest.approx(7.0 / 30)


def test_weights_scale_areas_and_edges():
    squares = board(4, 4, 10.0)
    kinds = [(x + y) % 2 for y in range(4) for x in range(4)]
    orbits = orbits_of(squares, kinds)
    colouring, _ = colour_board(squares, orbits, PALETTE, [3, 7])
    once = measure_areas(squares, orbits, colouring)
    twice = measure_areas(squares, orbits, colouring, np.array([2.0, 2.0]))
    for name in ("faces", "area", "edge", "touching"):
        assert np.allclose(getattr(twice, name), 2 * getattr(once, name))
    assert twice.outline == pytest.approx(2 * once.outline)


def test_counts_are_taken_as_told():
    squares = board(4, 1, 10.0)
    orbits = orbits_of(squares, [0, 0, 0, 1])
    colouring, _ = colour_board(squares, orbits, PALETTE, [3, 7])
    count = np.array([30.0, 5.0])
    areas = measure_areas(squares, orbits, colouring, np.array([2.0, 2.0]), count)
    assert (areas.faces[3], areas.faces[7]) == (pytest.approx(30), 5)
    assert areas.area[3] == pytest.approx(600)


def test_no_region():
    squares = board(1, 1)
    orbits = orbits_of(squares, [0])
    colouring, _ = colour_board(squares, orbits, PALETTE, [0])

    class Nothing:
        face_count = 1

    with pytest.raises(PlanError, match="no region"):
        measure_areas(Nothing(), orbits, colouring)
