"""Arcs that frame a field or lie in one, and lines that are none of a frame's.

Groups by construction: those of the fields stand in `ornaments.py`.
"""

from __future__ import annotations

import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.zones.find import find_zones
from tests.bench.gallery import draw_and_find
from tests.bench.ink import arc, lines, noded, ring, shaken, svg_of
from tests.bench.panels_drawn import Work, make_panel


def _panel(wide: float, tall: float) -> Work:
    work = Work("arcs", 1, noisy=False)
    work.wide, work.tall = wide, tall
    work.draw_box(work.whole)
    return work


def _sure(work: Work) -> list[tuple[str, str]]:
    svg = svg_of(noded(work.lines), work.frame, work.wide, work.tall)
    zones = find_zones(build_arrangement(read_linework(svg.encode(), name="p.svg")))
    return [
        (z.role, z.symmetry.group.short)
        for z in zones
        if z.symmetry.certain and z.symmetry.group.family != "none"
    ]


@pytest.mark.parametrize(
    ("name", "size", "group"), [("kites", 16.0, "p3m1"), ("waves", 14.0, "pmg")]
)
def test_a_field_round_a_cartouche_keeps_its_group(
    name: str, size: float, group: str
) -> None:
    work = _panel(260.0, 180.0)
    for y in (75, 105):
        work.frame += lines((90, y), (170, y))
    work.frame += arc((170, 75), (185, 90), (170, 105))
    work.frame += arc((90, 105), (75, 90), (90, 75))
    hole = shapely.LineString([(90, 90), (170, 90)]).buffer(15, quad_segs=180)
    whole = shapely.box(*work.whole)
    work.fill(whole.difference(hole), name, at=(131, 77), size=size)
    assert _sure(work) == [("field", group)]


@pytest.mark.parametrize(
    ("name", "size", "group"), [("kagome", 8.0, "p6m"), ("octagons", 16.0, "p4m")]
)
def test_a_field_in_an_arch_goes_up_to_its_head(
    name: str, size: float, group: str
) -> None:
    # the ground goes round the arch, and holds nothing
    work = _panel(220.0, 220.0)
    work.frame += lines((50, 110), (50, 15), (170, 15), (170, 110))
    work.frame += arc((170, 110), (110, 170), (50, 110))
    head = shapely.Point(110, 110).buffer(60, quad_segs=360)
    area = shapely.box(50, 15, 170, 110).union(head)
    work.fill(area, name, at=(103, 80), size=size)
    assert _sure(work) == [("field", group)]


def test_many_hexagons_that_touch_are_cells_and_no_frames() -> None:
    # each hexagon of three blades closes a loop of lines
    found = draw_and_find(make_panel("border:two rows", 633, noisy=True), 0.01)
    field = found.zones[0]
    assert (field.symmetry.group.short, field.symmetry.certain) == ("p3", True)
    assert found.score.sure_and_wrong == 0


def test_lines_at_a_hole_in_a_pattern_make_no_coarser_lattice_of_it() -> None:
    # a few pieces of a basket weave hang together with bricks about their lozenge
    work = _panel(270.0, 200.0)
    tips = [(40, 100), (135, 36), (230, 100), (135, 164)]
    work.frame += ring(*tips)
    lozenge = shapely.Polygon(tips)
    work.fill(lozenge, "basket", at=(135, 100), size=8.7)
    outside = shapely.box(*work.whole).difference(lozenge)
    work.fill(outside, "brick", at=(21, 11), size=19.0)
    work.lines = shaken(noded(work.lines), work.frame, 0.005, 1)
    assert _sure(work)[0] == ("field", "cmm")
