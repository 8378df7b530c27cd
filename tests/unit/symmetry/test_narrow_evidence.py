"""Groups that few or splintered lines tell, constructed from published tables.

Plane groups come from gemmi's general positions, friezes from the International
Tables for Crystallography, volume E (`strips.py`).
"""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.symmetry.zones.find import find_zones
from tests.bench.symmetry_sets import read_pattern
from tests.unit.symmetry.patterns import Pattern, plane_pattern
from tests.unit.symmetry.strips import strip_pattern


def _expect(pattern: Pattern, family: str, edge: str = "page") -> None:
    """Hold that the drawing is one zone of the pattern's group and repeat."""
    arrangement, _ = read_pattern(pattern, edge)
    (zone,) = find_zones(arrangement)
    found = zone.symmetry
    assert (found.group.family, found.group.short) == (family, pattern.group)
    assert found.lattice is not None
    size = np.sqrt(np.linalg.det(found.lattice.basis @ found.lattice.basis.T))
    expected = np.sqrt(np.linalg.det(pattern.basis @ pattern.basis.T))
    assert size == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize(
    ("group", "seed"),
    [("p1", 100), ("pmm", 102), ("pmg", 102), ("pgg", 101)],
)
def test_two_repeats_of_a_pattern_are_no_strip(group: str, seed: int) -> None:
    pattern = plane_pattern(
        group,
        seed,
        repeats=2,
        noise=0.005,
        curved=bool(seed % 2),
        shape="upright",
        margin=1.6,
    )
    _expect(pattern, "plane")


def test_open_ground_between_figures_is_no_margin() -> None:
    # one of the figures has more than half of all lines; others run off the page
    pattern = plane_pattern("pgg", 100, repeats=2, shape="upright", margin=1.6)
    _expect(pattern, "plane")


def test_splinters_do_not_shrink_the_scale() -> None:
    # mirrored strokes meet in one point; corners moved by 2 % part them there
    pattern = plane_pattern(
        "pmm", 101, repeats=14, noise=0.02, shape="upright", margin=1.6
    )
    _expect(pattern, "plane")


@pytest.mark.parametrize("turned", [False, True])
def test_nearly_level_strokes_do_not_hide_a_strips_half_turns(turned: bool) -> None:
    _expect(strip_pattern("p2mm", 101, repeats=8.3, turned=turned), "frieze", "drawn")


def test_rails_in_line_with_each_other_are_no_second_repeat() -> None:
    pattern = strip_pattern("p11g", 102, noise=0.01, curved=True, repeats=3.6)
    _expect(pattern, "frieze", "drawn")


def test_level_strokes_that_slide_along_themselves_do_not_hide_the_repeat() -> None:
    pattern = strip_pattern(
        "p11g", 100, noise=0.01, cropped=True, turned=False, repeats=5
    )
    _expect(pattern, "frieze")
