"""Symbols of symmetry elements lie along the mirrors they stand on."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.renderers.symbols import find_elements, wedge_of
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
