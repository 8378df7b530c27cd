"""A drawing turned and mirrored on a larger page keeps regions, group and kinds."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones

DRAWINGS = Path(__file__).parents[3] / "demo" / "drawings"


def found(text: str) -> tuple[list[tuple[str, int, bool]], list[int]]:
    arrangement = build_arrangement(
        read_linework(text.encode(), name="turned.svg"), page_edge="open"
    )
    zones = find_zones(arrangement)
    told = [(z.symmetry.group.title, len(z.faces), z.symmetry.certain) for z in zones]
    kinds = find_orbits(arrangement, zones).of_face
    return sorted(told), sorted(np.bincount(kinds[kinds >= 0]).tolist())


def turned(name: str, angle: float, mirror: bool) -> str:
    text = (DRAWINGS / name).read_text()
    head = re.search(r'<svg[^>]*viewBox="([^"]*)"[^>]*>', text)
    assert head
    x, y, w, h = map(float, head[1].split())
    side = 3 * max(w, h)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}mm" height="{side}mm" '
        f'viewBox="0 0 {side} {side}"><g transform="translate({side / 2} {side / 2}) '
        f"rotate({angle}) scale({-1 if mirror else 1} 1) "
        f'translate({-x - w / 2} {-y - h / 2})">'
        + text[head.end() : text.rindex("</svg>")]
        + "</g></svg>"
    )


@cache
def as_drawn(name: str) -> tuple[list[tuple[str, int, bool]], list[int]]:
    return found((DRAWINGS / name).read_text())


# of a strip: bands of it fall on each other when it is shifted askew, by chance
@pytest.mark.parametrize(
    ("name", "angle", "mirror"),
    [
        ("bench-border.svg", 0.3, False),
        ("bench-border.svg", 30, True),
        ("bench-border.svg", 77, False),
        ("fountain-medallion.svg", 11, True),
        ("stair-whirl.svg", 37, False),
    ],
)
def test_turning_a_drawing_turns_what_is_found(
    name: str, angle: float, mirror: bool
) -> None:
    assert found(turned(name, angle, mirror)) == as_drawn(name)
