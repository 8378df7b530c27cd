"""Scraps that belong to the zone that they were cut from, and those that do not."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.zones.claims import claim_faces
from fillwork.symmetry.zones.find import find_zones
from tests.bench.framed import Panel, build_panel, frieze, make_case, score_panel


def test_cells_cut_off_a_strip_are_claimed() -> None:
    rows, group = frieze("p2mm", "walls", 12, 20.0, 20.0, 3)
    panel = Panel(np.random.default_rng(1), wide=200.0, tall=20.0)
    panel.box(0.0, 0.0, 200.0, 20.0)
    panel.frames.append((160.0, 0.0, 160.0, 20.0))
    cells = rows.reshape(-1, 2) + np.array([0.0, 10.0])
    panel.inside(cells.reshape(-1, 4), shapely.box(0, 0, 160, 20))
    # the mitre: beside it the strip goes on, cut
    rest = shapely.Polygon([(160, 0), (200, 0), (180, 20), (160, 20)])
    panel.inside(cells.reshape(-1, 4), rest)
    panel.frames.append((200.0, 0.0, 180.0, 20.0))
    arrangement, edge = build_panel(panel)
    x = arrangement.witness[:, 0] - edge
    faces = np.arange(1, arrangement.face_count)
    strip = faces[x[1:] < 160]
    scrap = faces[x[1:] > 160]
    found = find_symmetry(arrangement, strip.astype(np.int32), strip=True)
    assert found.group.short == group
    claim = claim_faces(arrangement, scrap, [(strip, found)])
    assert claim is not None
    inside = shapely.contains_xy(rest, arrangement.witness[scrap] - edge)
    assert (claim[inside] == 0).all()
    # a scrap of no symmetry claims nothing
    other = find_symmetry(arrangement, scrap.astype(np.int32), stated="none")
    assert claim_faces(arrangement, strip, [(scrap, other)]) is None


def test_a_star_in_a_circle_is_no_plane_pattern() -> None:
    # the lines of a hexagram are those of a trihexagonal tiling
    panel = make_case("spandrels", 4100)
    arrangement, edge = build_panel(panel)
    zones = find_zones(arrangement)
    assert "D6" in {z.symmetry.group.short for z in zones}
    assert score_panel(panel, arrangement, edge, zones).sure_and_wrong == 0


@pytest.mark.parametrize("petals", [8, 12])
def test_what_petals_leave_of_their_ring_turns_with_them(petals: int) -> None:
    # circles through one point, an even number, in a ring that each touches: along a
    # radius between two of them lie n / 2 regions and what is left of the ring, or one
    # less beside it, so V - E + F gives n / 2 + 1 kinds of n each, and the outer ring
    # places are rounded as a drawing program writes them, so that touches are rough
    turn = 2 * np.pi * np.arange(petals) / petals + 0.07
    rows = "".join(
        f'<circle cx="{x:.5f}" cy="{y:.5f}" r="24"/>'
        for x, y in zip(56 + 24 * np.cos(turn), 56 - 24 * np.sin(turn), strict=True)
    )
    rows += '<circle cx="56" cy="56" r="48"/><circle cx="56" cy="56" r="53"/>'
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="112mm" height="112mm" '
        f'viewBox="0 0 112 112" fill="none" stroke="black">{rows}</svg>'
    )
    arrangement = build_arrangement(read_linework(svg.encode(), name="flower.svg"))
    zones = find_zones(arrangement)
    assert zones[0].symmetry.group.short == f"D{petals}"
    assert zones[0].symmetry.certain
    orbits = find_orbits(arrangement, zones).orbits
    assert sorted(len(o.faces) for o in orbits) == [1] + [petals] * (petals // 2 + 1)
