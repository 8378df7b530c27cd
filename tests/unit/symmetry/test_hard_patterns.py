"""Patterns whose symmetry follows from how they are built and was once missed."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from fillwork.symmetry.zones.frames import find_frame_edges
from tests.bench.patterns import star_and_cross, svg_of

_LINES_A_CELL = 40  # a star's 16, a cross's 16, 8 ties


def _drawing(width: float, height: float, body: str) -> bytes:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" '
        f'height="{height}mm" viewBox="0 0 {width} {height}">'
        f'<g fill="none" stroke="#000" stroke-width="0.4">{body}</g></svg>'
    ).encode()


def test_small_circles_between_scrolls_do_not_hide_the_strip() -> None:
    # half turns about the places where the scroll crosses the middle, mirrors
    # through the crests, and so a glide: p2mg
    body = '<path d="M0 5H300M0 45H300"/>' + "".join(
        f'<path d="M{x} 25C{x} 10 {x + 15} 10 {x + 15} 25C{x + 15} 40 {x + 30} 40 '
        f'{x + 30} 25"/><circle cx="{x + 7.5}" cy="22" r="3"/>'
        f'<circle cx="{x + 22.5}" cy="28" r="3"/>'
        for x in range(0, 300, 30)
    )
    arrangement = build_arrangement(read_linework(_drawing(300, 50, body), name="s"))
    (zone,) = find_zones(arrangement)
    assert (zone.symmetry.group.family, zone.symmetry.group.short) == ("frieze", "p2mg")
    assert zone.symmetry.certain
    circles = [
        o for o in find_orbits(arrangement, (zone,)).orbits if o.name == "circle"
    ]
    assert [len(o.faces) for o in circles] == [20]


def test_half_turns_follow_from_quarter_turns_in_a_grid_of_pinwheels() -> None:
    # four kites turned about the middle of each square of a grid, no mirror: p4.
    # The grid's own lines outvote the half turn.
    body = ""
    for x, y in np.mgrid[15:205:34, 15:205:34].reshape(2, -1).T.tolist():
        for turn in range(4):
            points = [complex(x, y) + p * 1j**turn for p in (0, 15, 15 + 10j, 4j)]
            body += (
                "<polygon points='"
                + " ".join(f"{p.real:g},{p.imag:g}" for p in points)
                + "'/>"
            )
    body += "".join(f'<path d="M{at} 0V204M0 {at}H204"/>' for at in range(32, 204, 34))
    arrangement = build_arrangement(read_linework(_drawing(204, 204, body), name="p"))
    (zone,) = find_zones(arrangement)
    assert (zone.symmetry.group.family, zone.symmetry.group.short) == ("plane", "p4")
    assert zone.symmetry.certain


@pytest.mark.parametrize(
    "rectangles",
    [
        # four of unlike sizes; one lies far from the others
        [(88.6, 112.5, 9, 17), (124.6, 45.6, 13, 11), (172.5, 160, 7, 18),
         (81, 65.4, 15, 12)],
        # two stand nearly above each other
        [(138.8, 107.3, 16, 9), (142.2, 53.8, 8, 8.3), (117, 52.2, 11.7, 7),
         (163.7, 131.4, 17.6, 8.5)],
    ],
)  # fmt: skip
def test_one_figure_on_empty_ground_does_not_speak_for_the_rest(
    rectangles: list[tuple[float, float, float, float]],
) -> None:
    body = "".join(
        f'<rect x="{x}" y="{y}" width="{w}" height="{h}"/>' for x, y, w, h in rectangles
    )
    arrangement = build_arrangement(read_linework(_drawing(200, 200, body), name="r"))
    zones = find_zones(arrangement)
    assert zones
    for zone in zones:
        assert zone.symmetry.group.family == "none"


@pytest.mark.parametrize("segments", [2_000, 20_000])
def test_lines_in_equal_rows_all_over_a_pattern_are_no_frames(segments: int) -> None:
    # stars and crosses without any frame; the ties in the stars lie in line with
    # each other, row by row
    drawing = svg_of(star_and_cross(segments))
    arrangement = build_arrangement(read_linework(drawing, name="stars"))
    assert not find_frame_edges(arrangement).any()


@pytest.mark.parametrize("side", [4, 5, 7])
def test_a_patch_whose_outermost_regions_lack_lines_has_its_inner_group(
    side: int,
) -> None:
    # the outermost crosses lack the sides of stars that would stand beyond them;
    # a square lattice of figures with eight mirrors each is p4m
    drawing = svg_of(star_and_cross(_LINES_A_CELL * side**2))
    arrangement = build_arrangement(read_linework(drawing, name="patch"))
    (zone,) = find_zones(arrangement)
    assert (zone.symmetry.group.family, zone.symmetry.group.short) == ("plane", "p4m")
    assert zone.symmetry.certain


@pytest.mark.parametrize("framed", [False, True])
def test_loose_tiles_and_what_stands_off_its_frame_are_patterns(framed: bool) -> None:
    # squares of 8 mm at steps of 10 mm with open grout, and circles through the
    # corners of such squares within a frame 4 mm off: square lattices of p4m
    steps = range(15, 15 + 10 * (8 if framed else 6), 10)
    tile = (
        '<circle cx="{x}" cy="{y}" r="7.0711"/>'
        if framed
        else '<path d="M{x} {y}m-4 -4h8v8h-8z"/>'
    )
    body = "".join(tile.format(x=x, y=y) for x in steps for y in steps)
    if framed:
        body += '<rect x="6" y="6" width="88" height="88"/>'
    arrangement = build_arrangement(read_linework(_drawing(100, 100, body), name="t"))
    zone = find_zones(arrangement)[0]
    assert (zone.symmetry.group.family, zone.symmetry.group.short) == ("plane", "p4m")
    assert zone.symmetry.certain


def _wave(lower: float) -> bytes:
    """Return a wave between two rails whose lower curves reach ``lower`` mm deeper."""
    bumps = "".join(
        f"C{x} 10 {x + 15} 10 {x + 15} 35C{x + 15} {60 + lower} {x + 30} {60 + lower} "
        f"{x + 30} 35"
        for x in range(0, 300, 30)
    )
    body = f'<path d="M0 5H300M0 65H300"/><path d="M0 35{bumps}"/>'
    return _drawing(300, 70, body)


def test_long_curves_are_not_matched_loosely() -> None:
    # control points 25 mm off make curves that reach 25 * 3/4 mm up and down, 37.5 mm
    # in all; half turns carry them onto each other only if both reach as far, and here
    # the lower ones reach a tenth of all that farther
    arrangement = build_arrangement(read_linework(_wave(5), name="w"))
    (zone,) = find_zones(arrangement)
    turns = [o for o in zone.symmetry.operations if o.kind == "rotation"]
    assert not turns
