"""What repeats, outlines and words of figures are, where one number decides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.symmetry.faces.congruence import _slack
from fillwork.symmetry.kinds import orbits, shape
from fillwork.symmetry.kinds.layers import grounds, layers
from fillwork.symmetry.kinds.outlines import mean_outline
from fillwork.symmetry.model import Lattice
from fillwork.symmetry.quotient import quotient_of
from tests.unit.symmetry.answers import given
from tests.unit.symmetry.test_outline_rules import outline, symmetry_of
from tests.unit.symmetry.test_zone_faces import along_x
from tests.unit.symmetry.test_zone_parts import cells, grid


def test_a_repeat_of_a_strip_is_as_high_as_its_faces_reach_across_it() -> None:
    drawing = grid([0.0, 20, 40], [0.0, 30, 60])
    step = np.array([12.0, 16])  # of 20 mm
    row = along_x("p1", 20.0, (0.0, 0.0))
    slanted = quotient_of(replace(row, lattice=Lattice(step[None], "line")))
    lower, upper = cells(drawing, 0, 0, 20, 30), cells(drawing, 20, 30, 40, 60)
    faces = np.concatenate([lower, upper])
    # across it their middles lie 2 mm apart, less than a repeat is long: 400 mm²
    assert layers(drawing, faces, np.arange(2), slanted) == pytest.approx(2)
    # those beside each other 16 and 18 mm, and all of them 34: 680 mm²
    other = np.concatenate(
        [cells(drawing, 20, 0, 40, 30), cells(drawing, 0, 30, 20, 60)]
    )
    told = layers(drawing, other, np.arange(2), slanted)
    middle = drawing.witness[other] @ np.array([-0.8, 0.6])
    assert np.ptp(middle) > 30
    assert told == pytest.approx(1200 / (20 * np.ptp(middle)))
    assert not grounds(drawing, faces, np.arange(2), slanted).any()


def test_corners_of_few_copies_stray_by_what_turns_and_shifts_leave() -> None:
    # squares of three sizes: corners are off their mean by 0, 1 and 1 mm outwards
    square = 10 * np.exp(0.5j * np.pi * np.arange(4))
    copies = [outline(30 + 20j + z) for z in (square, 1.1 * square, 0.9 * square)]
    mean, sigma = mean_outline(copies)
    assert np.abs(mean.corners @ np.array([1, 1j]) - 30 - 20j - square).max() < 1e-9
    # of eight squares of a mm; two copies of eight numbers less three freedoms each
    assert sigma == pytest.approx((8 / (2 * (8 - 3))) ** 0.5)
    # what only two show is not known
    assert np.isnan(mean_outline(copies[:2])[1])


@pytest.mark.parametrize("half", [25, 40])
@pytest.mark.parametrize(("bend", "way"), [(0.6, "bulging"), (-0.3, "hollow")])
def test_arcs_about_a_rhombus_have_its_name(half, bend, way) -> None:
    # angles of 50 and 130 degrees, of 80 and 100
    reach = 20 * np.array([np.cos(np.radians(half)), np.sin(np.radians(half))])
    z = np.array([reach[0], 1j * reach[1], -reach[0], -1j * reach[1]])
    own = outline(z, [bend] * 4, turn=[0.9] * 4)
    told = shape._curved_name(own, symmetry_of(z, 2, True, True), 0.1)
    assert told == f"{way} rhombus"


def test_a_segment_is_rounded_where_its_curve_is_no_arc() -> None:
    z = np.array([0, 10 + 0j])
    for round_, word in ((True, "circle segment"), (False, "rounded segment")):
        own = outline(z, [0.0, 1.5], round_=round_)
        assert shape._two_sided(own) == word


def test_few_copies_among_many_tell_no_slack() -> None:
    # of 400 figures that are 0.01 mm apart at least three pairs are copies
    size = 10 * np.exp(0.02 * np.arange(400))
    size[1::150] = size[::150][: len(size[1::150])] + 1e-4
    traits = np.column_stack([size, np.zeros((400, 5))])
    middle = np.median(size)
    assert _slack(traits, np.arange(400), 0.0) == pytest.approx(1e-7 * middle)


@pytest.mark.parametrize("turn", range(8))
def test_outward_corners_are_counted_round_to_the_first_inward_one(turn: int) -> None:
    inward = np.roll(np.isin(np.arange(8), [1, 3]), turn)
    assert shape._groups(inward) in ([1, 5], [5, 1])


def test_pieces_are_each_of_a_family_of_their_own(monkeypatch) -> None:
    table = orbits._Table(4)
    table.whole[1:3] = True
    given(
        monkeypatch,
        orbits,
        class_families=lambda *told, alike: np.array([0, 1, 0, 1]),
        class_figures=lambda a, kind, whole, family: (family, whole),
    )
    # of four kinds two are seen whole, and the others look as these do
    kind, shown = np.arange(4), np.array([1, 2, 0, 3])
    family, figure, _ = table.like(None, shown, kind, 0.1)
    assert family.tolist() == figure.tolist() == [0, 1, 2, 3]
