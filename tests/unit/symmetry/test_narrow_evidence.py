"""Groups that few or splintered lines tell, constructed from published tables.

Plane groups come from gemmi's general positions, friezes from the International
Tables for Crystallography, volume E (`strips.py`).
"""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.zones.find import find_zones
from tests.bench.symmetry_sets import read_pattern
from tests.unit.helpers import linework_from_segments, polyline
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


def _running_stem(count: int) -> bytes:
    """Return a stem between two rails and two frame lines, a leaf in each bend.

    A half turn lies on each crossing of the middle, a mirror through each leaf:
    p2mg with a repeat of 50 mm, by its construction.
    """
    end = 5 + 25 * count
    upper, lower, leaves = "M5,23", "M5,27", ""
    for k in range(count):
        x, s = 5 + 25 * k, 1 if k % 2 else -1
        for y in (23, 27):
            bend = f" C{x + 8},{y + s * 14} {x + 17},{y + s * 14} {x + 25},{y}"
            upper, lower = (upper + bend, lower) if y == 23 else (upper, lower + bend)
        tip, foot, axis = 25 - s * 14, 25 + s * 8.4, x + 12.5
        for side in (-1, 1):
            a, b = axis + side * 6.5, axis + side * 4.5
            leaves += f"M{axis},{foot} C{a},{25 - s * 2} {b},{25 - s * 10} {axis},{tip}"
        leaves += f"M{axis},{foot} V{tip}"
    rails = "".join(f"M5,{y} H{end}" for y in (5, 9, 41, 45)) + f"M5,5 V45 M{end},5 V45"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{end + 5}mm" height="50mm" '
        f'viewBox="0 0 {end + 5} 50"><path fill="none" stroke="#222" '
        f'stroke-width="0.4" d="{upper}{lower}{leaves}{rails}"/></svg>'
    ).encode()


@pytest.mark.parametrize("count", [6, 8, 11])
def test_rails_one_above_the_other_are_no_second_repeat(count: int) -> None:
    work = read_linework(_running_stem(count), name="stem.svg")
    (zone,) = find_zones(build_arrangement(work))
    assert zone.symmetry.group.short == "p2mg"
    assert zone.symmetry.lattice is not None
    (vector,) = zone.symmetry.lattice.basis
    assert np.hypot(*vector) == pytest.approx(50, rel=1e-3)


# International Tables, volume E, part 2: images of a point of a frieze in its period
_IMAGES = {
    "p1": [(1, 1, 0.0)],
    "p11m": [(1, 1, 0.0), (1, -1, 0.0)],
    "p11g": [(1, 1, 0.0), (1, -1, 0.5)],
    "p2": [(1, 1, 0.0), (-1, -1, 0.0)],
}


@pytest.mark.parametrize("group", list(_IMAGES))
def test_figures_in_a_frame_are_a_strip_though_its_ends_do_not_repeat(
    group: str,
) -> None:
    # scalene triangles every 30 mm; the frame ends nearer to the last than the first
    triangle = np.array([[-4.0, 5.0], [4.0, 9.0], [1.0, 4.0]])
    rows = [polyline([(-9, -14), (148, -14), (148, 14), (-9, 14)], closed=True)]
    for sx, sy, shift in _IMAGES[group]:
        for k in range(5):
            figure = triangle * [sx, sy] + np.array([30 * (k + shift), 0.0])
            rows.append(polyline(figure, closed=True))
    arrangement = build_arrangement(
        linework_from_segments(np.vstack(rows), 160, 30, has_page=False)
    )
    for stated in (None, f"frieze:{group}"):
        (zone,) = find_zones(arrangement, stated=stated)
        found = zone.symmetry
        assert found.group.title == f"frieze {group}"
        assert found.certain or stated
        assert found.lattice is not None
        assert np.hypot(*found.lattice.basis[0]) == pytest.approx(30)
