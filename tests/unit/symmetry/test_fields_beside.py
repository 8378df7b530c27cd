"""Strips and fields about each other: zones of their own, though all of it repeats.

Groups by construction: those of the fields stand in `ornaments.py`; teeth on a rail are
p1m1 and whole lozenges between rails p2mm (International Tables E, part 2).
"""

from __future__ import annotations

import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.zones.find import find_zones
from tests.bench.ink import lines, noded, svg_of
from tests.bench.panels_drawn import Work


def _panel(wide: float, tall: float) -> Work:
    work = Work("fields", 1, noisy=False)
    work.wide, work.tall = wide, tall
    work.draw_box(work.whole)
    return work


def _found(work: Work) -> list[tuple[str, str, bool]]:
    svg = svg_of(noded(work.lines), work.frame, work.wide, work.tall)
    zones = find_zones(build_arrangement(read_linework(svg.encode(), name="p.svg")))
    return [(z.role, z.symmetry.group.short, z.symmetry.certain) for z in zones]


@pytest.mark.parametrize(
    ("tooth", "lozenge", "name", "group"),
    [(10, 20, "scales", "cm"), (15, 20, "scales", "cm"), (12, 15, "waves", "pmg")],
)
def test_strips_above_and_below_a_field_repeat_for_themselves(
    tooth: float, lozenge: float, name: str, group: str
) -> None:
    # the panel is four common multiples of their repeats wide, with mirrors of all
    work = _panel(240.0, 120.0)
    for y in (16.0, 104.0):
        work.frame += lines((0, y), (240, y))
    steps = range(round(480 / tooth) + 1)
    work.lines += lines(*[(tooth * k / 2, 12.0 * (k % 2)) for k in steps])
    for k in range(round(240 / lozenge)):
        x, half = lozenge * (k + 0.5), lozenge / 2
        tips = [(x - half, 112), (x, 104), (x + half, 112), (x, 120), (x - half, 112)]
        work.lines += lines(*tips)
    work.fill(shapely.box(0, 16, 240, 104), name, at=(0, 50), size=30.0)
    assert _found(work) == [
        ("field", group, True),
        ("border", "p1m1", True),
        ("border", "p2mm", True),
    ]


@pytest.mark.parametrize("off", [1.0, 3.0])
def test_fields_of_one_cell_on_both_sides_of_a_band_are_two(off: float) -> None:
    # the second starts a little off the lattice of the first
    work = _panel(260.0, 120.0)
    for x in (124.0, 136.0):
        work.frame += lines((x, 0), (x, 120))
    size = {"name": "octagons", "size": 20.0}
    work.fill(shapely.box(0, 0, 124, 120), at=(62, 60), **size)
    work.fill(shapely.box(136, 0, 260, 120), at=(202 + off, 60), **size)
    assert _found(work)[:2] == [("field", "p4m", True)] * 2


@pytest.mark.parametrize(
    ("name", "size", "gap"),
    [("discs", 26.0, 14.0), ("octagons", 26.0, 15.0), ("octagons", 22.0, 11.0)],
)
def test_four_fields_about_a_cross_of_bands_are_four(
    name: str, size: float, gap: float
) -> None:
    # all return together with the mirrors of the cross, each for itself far more often
    work = _panel(260.0, 200.0)
    x, y = (260 - gap) / 2, (200 - gap) / 2
    for a, b in ((x, y), (x + gap, y + gap)):
        work.frame += lines((a, 0), (a, 200)) + lines((0, b), (260, b))
    for left in (0.0, x + gap):
        for low in (0.0, y + gap):
            area = shapely.box(left, low, left + x, low + y)
            work.fill(area, name, at=(left + x / 2, low + y / 2), size=size)
    assert _found(work)[:4] == [("field", "p4m", True)] * 4
