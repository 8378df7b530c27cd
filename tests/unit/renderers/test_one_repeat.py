"""One repeat on a sheet: its corners, its marks and what they are called."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.renderers.scene import Fills, Labels
from fillwork.renderers.sheets.repeat import (
    alike_zones,
    cell_corners,
    compose_unit,
    describe_marks,
    join_runs,
    on_paper,
)
from fillwork.renderers.symbols import Elements
from fillwork.renderers.text.room import number_body
from fillwork.renderers.text.typeset import default_fonts
from tests.unit.plans.boards import board

FONTS, NONE = default_fonts(), np.empty((0, 4))


def symmetry(*basis, centre=None):
    lattice = SimpleNamespace(basis=np.array(basis, float))
    return SimpleNamespace(lattice=lattice, centre=centre)


BOX = (0.0, 0.0, 60.0, 40.0)


@pytest.mark.parametrize(
    "basis",
    [((20, 0), (0, 20)), ((0, 20), (20, 0)), ((16, 4), (-3, 18)), ((20, 0), (10, 17))],
)
@pytest.mark.parametrize("centre", [None, (7.0, 3.0)])
def test_a_cell_is_one_repeat_that_lies_in_the_drawing(basis, centre) -> None:
    corners = cell_corners(symmetry(*basis, centre=centre), BOX)
    cell = shapely.Polygon(corners)
    assert cell.exterior.is_ccw
    assert cell.area == pytest.approx(abs(np.linalg.det(basis)))
    # its sides are the shifts
    sides = np.sort(np.hypot(*(np.roll(corners, -1, axis=0) - corners).T))
    assert sides == pytest.approx(np.sort(np.repeat(np.hypot(*np.array(basis).T), 2)))
    assert shapely.box(*BOX).buffer(1e-9).covers(cell)
    # about the middle: no neighbour lies nearer
    far = np.hypot(*(corners.mean(axis=0) - (30, 20)))
    assert far <= max(map(np.hypot, *np.transpose(basis))) / 2 + 1e-9
    if centre is not None:
        # the centre of turning stands at the corners, or in the middle
        steps = np.linalg.solve(np.transpose(basis), corners[0] - centre)
        whole = np.allclose(steps, np.rint(steps))
        half = np.allclose(steps - 0.5, np.rint(steps - 0.5))
        assert whole or half


def test_a_cell_lies_where_its_regions_are() -> None:
    # of a board of 6 by 4 squares of 10 mm the regions on the left alone are the zone's
    squares = board(6, 4)
    faces = np.array([1 + x + 6 * y for x in range(3) for y in range(4)])
    found = cell_corners(symmetry((20, 0), (0, 20)), BOX, squares, faces)
    assert found[:, 0].max() <= 30.0 + 1e-9
    # without them it is nearest to the middle
    plain = cell_corners(symmetry((20, 0), (0, 20)), BOX)
    assert plain.mean(axis=0) == pytest.approx((30, 20), abs=10)


@pytest.mark.parametrize("step", [(20.0, 0.0), (12.0, 5.0), (0.0, 15.0)])
def test_a_piece_of_a_strip_reaches_over_its_whole_width(step) -> None:
    corners = cell_corners(symmetry(step, centre=(3.0, 20.0)), BOX)
    way = np.array(step) / np.hypot(*step)
    side = np.array([-way[1], way[0]])
    ends = np.array([(0, 0), (60, 0), (60, 40), (0, 40)])
    assert corners[1] - corners[0] == pytest.approx(step)
    assert corners[2] - corners[3] == pytest.approx(step)
    across = (corners - (3.0, 20.0)) @ side
    reach = (ends - (3.0, 20.0)) @ side
    assert across[:2] == pytest.approx([reach.min()] * 2)
    assert across[2:] == pytest.approx([reach.max()] * 2)
    along = ((corners[[0, 1]] - (3.0, 20.0)) @ way) / np.hypot(*step)
    assert along == pytest.approx(np.rint(along), abs=1e-9)
    middle = ((30, 20) - corners[0]) @ way / np.hypot(*step)
    assert -0.01 <= middle <= 1.01


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ([], ""), ([4], "4"), ([2, 1], "1, 2"), ([3, 1, 2], "1-3"),
        ([1, 2, 4, 5, 6, 9], "1, 2, 4-6, 9"), ([1, 3, 5], "1, 3, 5"),
    ],
)  # fmt: skip
def test_runs_of_three_are_joined(numbers, words) -> None:
    assert join_runs(numbers) == words


def test_zones_of_one_sort_are_shown_once() -> None:
    label = np.array([-1, 7, 8, 7, 8, 7, 9])

    def zone(index, group, *faces):
        named = SimpleNamespace(group=SimpleNamespace(short=group))
        return SimpleNamespace(index=index, symmetry=named, faces=np.array(faces))

    one, two, three = zone(1, "p4", 1, 2), zone(2, "p4", 3, 4), zone(3, "p4m", 1, 2)
    four = zone(4, "p4", 5, 6)
    found = alike_zones((one, two, three, four), label)
    assert found == [
        (one, " of zones 1, 2"), (three, " of zone 3"), (four, " of zone 4")
    ]  # fmt: skip
    assert alike_zones((one,), label) == [(one, "")]


def test_marks_go_with_a_map_that_mirrors() -> None:
    lines = np.array([[0.0, 0, 2, 1]])
    made = Elements(
        np.array([[1.0, 2.0]]), np.array([2]), np.array([0.3]), lines, lines + 1
    )
    found = on_paper(made, (-2.0, 0.0, 0.0, 2.0, 10.0, 5.0))
    assert found.centres.tolist() == [[8.0, 9.0]]
    assert found.mirrors.tolist() == [[10.0, 5.0, 6.0, 7.0]]
    assert found.glides.tolist() == [[8.0, 7.0, 4.0, 9.0]]
    assert found.turns == pytest.approx([np.pi - 0.3])
    assert found.orders.tolist() == [2]


@pytest.mark.parametrize(
    ("orders", "mirrors", "glides", "framed", "words"),
    [
        ([], 0, 0, False, ""),
        ([], 0, 0, True, "Heavy frame: one repeat."),
        ([], 1, 0, False, "Solid lines: mirrors."),
        ([2, 2], 0, 1, False, "Dashed lines: glides; lenses: half turns."),
        (
            [6, 2, 3], 1, 1, True,
            "Heavy frame: one repeat; solid lines: mirrors; dashed lines: glides; "
            "lenses: half turns; triangles: third turns; hexagons: sixth turns.",
        ),
        ([4, 12], 0, 0, False, "Squares: quarter turns; black polygon: turns of 1/12."),
    ],
)  # fmt: skip
def test_marks_are_named_in_one_sentence(
    orders, mirrors, glides, framed, words
) -> None:
    many = len(orders)
    made = Elements(
        np.zeros((many, 2)), np.array(orders, int), np.zeros(many),
        np.zeros((mirrors, 4)), np.zeros((glides, 4)),
    )  # fmt: skip
    assert describe_marks(made, framed) == words


def test_lines_are_broken_where_numbers_stand() -> None:
    at, height = np.array([[20.0, 10.0]]), np.array([4.0])
    labels = Labels(at, height, np.array([0], np.int32), ("8",))
    mirrors = np.array([[0.0, 10, 40, 10], [0, 30, 40, 30]])
    frame = np.array([[20.0, 0, 20, 40]])
    made = Elements(np.array([[5.0, 5.0]]), np.array([4]), np.zeros(1), mirrors, NONE)
    heavy, thin, centres = compose_unit(labels, made, frame, FONTS)
    assert isinstance(centres, Fills)
    half = np.array(number_body("8", FONTS).half) * 4.0

    # a little more than the number is left free on both sides of it
    left = [row for row in thin.curves.data[:, :4].tolist() if row[1] == 10.0]
    (a, _, b, _), (c, _, d, _) = sorted(left)
    assert (a, d) == (0.0, 40.0)
    assert b == pytest.approx(40.0 - c)
    assert half[0] < 20.0 - b < half[0] + 1.5
    assert [row for row in thin.curves.data[:, :4].tolist() if row[1] == 30.0] == [
        [0.0, 30.0, 40.0, 30.0]
    ]
    down = sorted(heavy.curves.data[:, :4].tolist(), key=lambda row: row[1])
    assert len(down) == 2
    assert half[1] < 10.0 - down[0][3] < half[1] + 1.5
    assert half[1] < down[1][1] - 10.0 < half[1] + 1.5
    assert heavy.width > thin.width
    bare = compose_unit(labels, made, NONE, FONTS)
    assert len(bare) == 2
