"""Fields that go on behind a medallion, and what stands round one, by construction."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.zones.find import find_zones

Lines = list[shapely.LineString]


def _groups(lines: Lines, more: str = "") -> Counter[tuple[str, str, bool]]:
    """Return how many zones have each group, role and certainty."""
    rows = "".join(
        "M" + " L".join(f"{x:.3f},{y:.3f}" for x, y in shapely.get_coordinates(part))
        for line in lines
        for part in shapely.get_parts(line)
        if part.length > 0
    )
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="160mm" '
        'viewBox="0 0 200 160" fill="none" stroke="black">'
        f'<path d="{rows}"/>{more}</svg>'
    )
    arrangement = build_arrangement(read_linework(svg.encode(), name="panel.svg"))
    return Counter(
        (z.symmetry.group.short, z.role, z.symmetry.certain)
        for z in find_zones(arrangement)
    )


def _ring(x: float, y: float, r: float, n: int, turn: float = 0.0) -> shapely.Polygon:
    angle = turn + 2 * np.pi * np.arange(n) / n
    return shapely.Polygon(
        np.column_stack([x + r * np.cos(angle), y + r * np.sin(angle)])
    )


def _star(x: float, y: float, r: float, n: int, step: int) -> Lines:
    corners = shapely.get_coordinates(_ring(x, y, r, n))[:-1]
    return [shapely.LineString([corners[k], corners[(k + step) % n]]) for k in range(n)]


@pytest.mark.parametrize("border", [False, True])
def test_a_field_of_slanted_rows_goes_on_behind_a_medallion(border: bool) -> None:
    # squares on their tips, with squares in them: rows aslant, shorter and shorter
    # towards the corners of the panel, look like nested frames there
    disc = shapely.Point(100, 80).buffer(32, quad_segs=64)
    tiles = [
        _ring(30 + 20 * i, 30 + 20 * j, r, 4, turn)
        for i in range(8)
        for j in range(6)
        for r, turn in ((10, 0.0), (50**0.5, np.pi / 4))
    ]
    lines: Lines = [tile.exterior.difference(disc) for tile in tiles]
    lines += [*_star(100, 80, 28, 10, 3), shapely.box(20, 20, 180, 140).exterior]
    round_it = '<circle cx="100" cy="80" r="32"/><circle cx="100" cy="80" r="28"/>'
    wanted = {("p4m", "field", True): 1, ("D10", "medallion", True): 1}
    if border:
        lines.append(shapely.box(8, 8, 192, 152).exterior)
        lines += [
            shapely.box(20 + 10 * k, y, 30 + 10 * k, y + 12).exterior
            for k in range(16)
            for y in (8, 140)
        ]
        lines += [
            shapely.box(x, 20 + 10 * k, x + 12, 30 + 10 * k).exterior
            for k in range(12)
            for x in (8, 180)
        ]
        wanted["p2mm", "border", True] = 4
    found = _groups(lines, round_it)
    del found["none", "", True]
    assert found == wanted


def test_a_ground_round_a_medallion_has_a_middle() -> None:
    # a star in an oval, with an eye and two leaves on either side of it
    more = (
        '<ellipse cx="100" cy="70" rx="90" ry="60"/><circle cx="100" cy="70" r="40"/>'
    )
    for side in (-1, 1):
        more += f'<circle cx="{100 + 62 * side}" cy="70" r="9"/>'
        more += f'<circle cx="{100 + 62 * side}" cy="70" r="5"/>'
        for up in (-1, 1):
            more += (
                f'<path d="M{100 + side * 44},{70 + up * 24} q{side * 12},{up * 2} '
                f'{side * 16},{up * 8} q{-side * 12},{up * 2} {-side * 16},{-up * 8}"/>'
            )
    found = _groups(_star(100, 70, 40, 8, 3), more)
    assert found == {("D2", "field", True): 1, ("D8", "medallion", True): 1}


def test_sides_of_a_border_are_borders_whichever_way_they_run() -> None:
    # a field of triangles in a hexagon, and cells along its six sides
    hexagon = _ring(100, 80, 50, 6)
    lines: Lines = [_ring(100, 80, r, 6).exterior for r in (50, 55, 66, 70)]
    for turn in np.pi * np.arange(3) / 3:
        along = np.array([np.cos(turn), np.sin(turn)])
        across = np.array([-along[1], along[0]])
        for k in range(-4, 5):
            middle = np.array([100, 80]) + across * k * 5 * 3**0.5
            line = shapely.LineString([middle - 99 * along, middle + 99 * along])
            lines.append(line.intersection(hexagon))
    inner = shapely.get_coordinates(_ring(100, 80, 55, 6))
    outer = shapely.get_coordinates(_ring(100, 80, 66, 6))
    for k in range(6):
        lines.append(shapely.LineString([inner[k], outer[k]]))
        out = (inner[k] + inner[k + 1]) / 2 - np.array([100, 80])
        out *= 11 * 3**0.5 / 2 / np.hypot(*out)
        for share in np.arange(1, 6) / 6:
            foot = inner[k] + share * (inner[k + 1] - inner[k])
            lines.append(shapely.LineString([foot, foot + out]))
    found = _groups(lines)
    assert found["p6m", "field", True] == 1
    assert {role for _, role, _ in found} == {"field", "border", ""}
    assert sum(n for (_, role, _), n in found.items() if role == "border") == 6
