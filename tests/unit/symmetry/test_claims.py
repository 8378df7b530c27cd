"""Scraps that belong to the zone that they were cut from, and those that do not."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.zones import claims
from fillwork.symmetry.zones.claims import _Images, _some_between, claim_faces
from fillwork.symmetry.zones.find import find_zones
from tests.bench.framed import Panel, build_panel, frieze, make_case, score_panel

if TYPE_CHECKING:
    from fillwork.symmetry.model import Zone


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


def _circle(x: float, y: float, r: float) -> str:
    return f'<circle cx="{x:.4f}" cy="{y:.4f}" r="{r}"/>'


def _zones_of(rows: str, wide: int, high: int) -> list[Zone]:
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" '
        f'viewBox="0 0 {wide} {high}" fill="none" stroke="black">{rows}</svg>'
    )
    return find_zones(build_arrangement(read_linework(svg.encode(), name="rows.svg")))


def _ring(x: float, y: float, far: float, r: float, count: int) -> str:
    turn = 2 * np.pi * np.arange(count) / count
    return "".join(
        _circle(x + far * c, y + far * s, r)
        for c, s in zip(np.cos(turn), np.sin(turn), strict=True)
    )


def test_eyes_on_a_ground_turn_about_its_middle() -> None:
    # eight double eyes round six beads, D8 round D6 by construction, in a plain ring
    rows = _circle(100, 100, 95) + _circle(100, 100, 88) + _circle(100, 100, 28)
    rows += _ring(100, 100, 58, 19, 8) + _ring(100, 100, 58, 15, 8)
    rows += _ring(100, 100, 18, 6, 6)
    zones = _zones_of(rows, 200, 200)
    found = [(z.symmetry.group.short, z.role) for z in zones]
    assert found == [("D8", "field"), ("none", ""), ("D6", "medallion")]


def test_eyes_that_stand_alone_each_turn_about_the_middle_of_their_ground() -> None:
    # eight eyes and between them eight trefoils, zones for themselves
    rows = _circle(100, 100, 95) + _circle(100, 100, 88)
    rows += _ring(100, 100, 55, 20, 8) + _ring(100, 100, 55, 16, 8)
    for turn in np.pi * (np.arange(8) + 0.5) / 4:
        x, y = 100 + 75 * np.cos(turn), 100 + 75 * np.sin(turn)
        rows += _circle(x, y, 9)
        for third in turn + 2 * np.pi * np.arange(3) / 3:
            rows += _circle(x + 4 * np.cos(third), y + 4 * np.sin(third), 3)
    zones = _zones_of(rows, 200, 200)
    groups = {z.symmetry.group.short for z in zones if len(z.faces) > 1}
    assert groups in ({"D8"}, {"D8", "D3"})


def test_a_rosette_beside_another_is_no_border_and_has_its_middle() -> None:
    rows = ""
    for x, count in ((60, 6), (160, 8)):
        turn = 2 * np.pi * np.arange(count) / count
        for reach in (1, 2):
            for a in turn:
                b = a + 2 * np.pi * reach / count
                ends = [x + 40 * np.cos(a), 60 + 40 * np.sin(a)]
                ends += [x + 40 * np.cos(b), 60 + 40 * np.sin(b)]
                rows += '<path d="M{:.4f},{:.4f} L{:.4f},{:.4f}"/>'.format(*ends)
    zones = _zones_of(rows, 220, 120)
    assert sorted(z.symmetry.group.short for z in zones) == ["D6", "D8"]
    assert {z.role for z in zones} == {"field", "medallion"}
    # V - E + F: n corners, n crossings, 4n sides of regions, so 2n + 1 regions inside
    assert sorted(len(z.faces) for z in zones) == [13, 17]


def test_a_star_has_the_disc_in_its_middle() -> None:
    # twelve kites between a disc and a ring, a border of triangles round the panel;
    # between two kites lie what they leave of the ring's inside and about the disc
    rows = '<path d="M4,4 H216 V156 H4 Z M7,7 H213 V153 H7 Z M17,17 H203 V143 H17 Z"/>'
    rows += _circle(110, 80, 50) + _circle(110, 80, 46) + _circle(110, 80, 12)
    for k in range(12):
        t = np.pi * k / 6 + np.array([-np.pi / 12, 0, np.pi / 12, 0])
        r = np.array([25, 46, 25, 12])
        corners = np.column_stack([110 + r * np.cos(t), 80 + r * np.sin(t)])
        rows += (
            f'<polygon points="{" ".join(f"{x:.4f},{y:.4f}" for x, y in corners)}"/>'
        )
    across = "".join(f"L{17 + 3 * k},{17 - 10 * (k % 2)}" for k in range(1, 63))
    down = "".join(f"L{17 - 10 * (k % 2)},{17 + 3 * k}" for k in range(1, 43))
    for turn in ("", "rotate(180 110 80)"):
        rows += (
            f'<path transform="{turn}" d="M17,17 {across} M17,17 {down} M7,17 h10 V7"/>'
        )
        rows += f'<path transform="{turn}" d="M203,7 v10 h10"/>'
    star = next(z for z in _zones_of(rows, 220, 160) if z.symmetry.group.short == "D12")
    assert len(star.faces) == 3 * 12 + 1


@pytest.mark.parametrize("share", [0.0, 0.5, 0.88, 0.93, 1.0])
@pytest.mark.parametrize("at_once", [1 << 16, 100])
def test_images_that_miss_lines_are_looked_for_until_they_are_too_many(
    share: float, at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Judged by all images at once; about `share` of those in the faces hit."""
    monkeypatch.setattr(claims, "_WAITING", at_once)
    rng = np.random.default_rng(int(100 * share))
    face = shapely.box(0, 0, 10, 10)
    weight = rng.uniform(1, 5, 40)
    images = _Images(weight, shapely.STRtree([face]))
    hit, seen = np.zeros((2, 40))
    for _ in range(6):
        at = rng.uniform(-5, 15, (900, 2))
        row = rng.integers(0, 40, 900)
        inside = ((at > 0) & (at < 10)).all(axis=1)
        on = inside & (rng.random(900) < share)
        images.add(at, row, on)
        np.add.at(hit, row[on], 1)
        np.add.at(seen, row[inside], 1)
    kept = (weight * hit / seen).sum() / weight.sum()
    assert images.fall_on() == (kept >= 0.9)


def test_images_in_no_face_say_nothing() -> None:
    images = _Images(np.ones(9), shapely.STRtree([shapely.box(0, 0, 1, 1)]))
    images.add(np.full((9, 2), 5.0), np.arange(9), np.zeros(9, bool))
    assert not images.fall_on()


def test_some_edges_stand_for_all_that_are_between_two_faces() -> None:
    rng = np.random.default_rng(5)
    left, right = rng.integers(0, 4, (2, 600)).astype(np.int32)
    edges = np.sort(rng.choice(600, 400, replace=False))
    some, many = _some_between(edges, left, right)
    assert set(some) <= set(edges)
    key = 4 * left + right
    for pair in np.unique(key[edges]):
        among = int((key[edges] == pair).sum())
        own = key[some] == pair
        assert 0 < own.sum() <= 12
        # the last one may stand for some more than there are
        assert among <= many[own].sum() < among + many[own][0]
    few = edges[:12]
    assert _some_between(few, 0 * left, 0 * right)[0].tolist() == few.tolist()
