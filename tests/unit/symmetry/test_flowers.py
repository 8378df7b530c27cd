"""Flowers of crossing circles are one rosette, however their digits end."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import circle, line, linework_from_curves


@pytest.mark.parametrize("digits", [3, 4, 6, 9, 12])
def test_seven_circles_make_a_six_fold_flower(digits: int) -> None:
    angle = np.pi / 6 + np.arange(6) * np.pi / 3
    ring = 60 + 20 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    rows = [circle(x, y, 20) for x, y in [(60.0, 60.0), *ring.round(digits).tolist()]]
    arrangement = build_arrangement(linework_from_curves(rows, 120, 120))
    # compass work, counted by hand: six petals and the six hollows between them
    # inside the middle circle, six lenses and six crescents outside it
    assert arrangement.face_count - 1 == 24
    (zone,) = find_zones(arrangement)
    assert zone.symmetry.group.short == "D6"
    assert sorted(len(o.faces) for o in find_orbits(arrangement, (zone,)).orbits) == [
        6,
        6,
        6,
        6,
    ]


def test_spokes_closer_than_they_are_long_have_their_order() -> None:
    # chance turns carry spokes near others; that must not hide the true ones
    rows = [circle(60, 60, 50)]
    for k in range(48):
        t = 2 * np.pi * k / 48
        tip = [(18.0, 0.0), (32.0, 0.05), (47.0, 0.0), (32.0, -0.05)]
        p = [(60 + r * np.cos(t + s), 60 + r * np.sin(t + s)) for r, s in tip]
        rows += [line(*p[i], *p[i - 1]) for i in range(4)]
    arrangement = build_arrangement(linework_from_curves(rows, 120, 120))
    (zone,) = find_zones(arrangement)
    assert zone.symmetry.group.short == "D48"
