"""Borders round frames of three and more sides: each side is a strip by itself.

The figures of a side stand at whole steps, so that its frieze is that of the figure
between two rails by construction: chevrons p2mg, lozenges, circles and bars p2mm. By
its turns alone a frame would part figures of one side into kinds. The drawings are
invented.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from fillwork.symmetry.zones.runs import find_runs, straight_links
from fillwork.symmetry.zones.sides import _corners_of, ring_pieces

MIDDLE, WITHIN, WIDE = 200.0, 88.0, 8.0  # of the page; to the rails, between them; mm

# lines of a figure from the inner rail outwards: x in steps, y in the border's width
FIGURES = {
    "chevrons": ("p2mg", [(0, 0), (0.5, 1), (1, 0)]),
    "lozenges": ("p2mm", [(0, 0.5), (0.5, 0), (1, 0.5), (0.5, 1), (0, 0.5)]),
    "circles": ("p2mm", []),
}


def corners(sides: int, within: float) -> np.ndarray:
    """Return the corners of a regular polygon about the middle, one side below."""
    angle = (2 * np.arange(sides) + 1) * math.pi / sides - math.pi / 2
    out = within / math.cos(math.pi / sides)
    return MIDDLE + out * np.column_stack([np.cos(angle), np.sin(angle)])


def path(points: np.ndarray) -> str:
    text = "L".join(f"{x:.4f},{y:.4f}" for x, y in points)
    return f'<path d="M{text}"/>'


def panel(sides: int, figure: str, count: int, *, mitred: bool = False) -> bytes:
    """Return a star in a frame of so many sides, with so many figures along each."""
    inner = corners(sides, WITHIN)
    drawn = [path(np.vstack([p, p[:1]])) for p in (inner, corners(sides, 96.0))]
    for k in range(sides):
        start, step = inner[k], (inner[(k + 1) % sides] - inner[k]) / count
        out = WIDE * np.array([step[1], -step[0]]) / np.hypot(*step)
        for n in range(count):
            if figure == "circles":
                x, y = start + (n + 0.5) * step + 0.5 * out
                drawn.append(f'<circle cx="{x:.4f}" cy="{y:.4f}" r="3"/>')
                continue
            at = np.array(FIGURES[figure][1]) + np.array([n, 0])
            drawn.append(path(start + at[:, :1] * step + at[:, 1:] * out))
        if mitred:
            drawn.append(path(np.array([start, corners(sides, 96.0)[k]])))
    star = np.arange(16) * 2 * math.pi / 16
    tips = MIDDLE + 60 * np.column_stack([np.cos(star), np.sin(star)])
    drawn += [path(tips[[k, (k + 6) % 16]]) for k in range(16)]
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" '
        f'viewBox="0 0 400 400"><g fill="none" stroke="#222" stroke-width=".5">'
        f"{''.join(drawn)}</g></svg>"
    ).encode()


@pytest.mark.parametrize(
    ("sides", "figure", "count", "mitred"),
    [
        (5, "chevrons", 10, False),
        (6, "lozenges", 9, False),
        (6, "circles", 9, False),
        (8, "chevrons", 7, True),
        (8, "lozenges", 12, True),
        (12, "chevrons", 5, False),
    ],
)
def test_each_side_of_a_frame_is_a_strip(sides, figure, count, mitred) -> None:
    drawing = panel(sides, figure, count, mitred=mitred)
    arrangement = build_arrangement(read_linework(drawing, name="panel.svg"))
    zones = find_zones(arrangement)
    strips = [z for z in zones if z.symmetry.group.family == "frieze"]
    assert len(strips) == sides
    assert {z.symmetry.group.short for z in strips} == {FIGURES[figure][0]}
    assert all(z.symmetry.certain for z in strips)
    # whole figures of all sides have one colour
    of_face = find_orbits(arrangement, zones).of_face
    away = np.hypot(*(arrangement.witness - MIDDLE).T)
    there = np.isin(
        np.arange(arrangement.face_count), np.concatenate([z.faces for z in strips])
    ) & (away > WITHIN)
    area = np.round(arrangement.area[there], 1)
    kinds = of_face[there]
    size, many = np.unique(area, return_counts=True)
    whole = size[many >= sides * (count - 1)]
    assert len(whole)
    for one in whole:
        assert len(np.unique(kinds[area == one])) <= 2  # a row on each rail at most


@pytest.mark.parametrize("sides", [3, 4, 5, 6, 8, 12])
def test_a_ring_is_parted_into_as_many_sides_as_its_frame(sides) -> None:
    arrangement = build_arrangement(
        read_linework(panel(sides, "circles", 24 // sides), name="ring.svg")
    )
    hole = shapely.polygons(corners(sides, WITHIN))
    x, y = arrangement.witness.T
    beyond = ~shapely.contains_xy(hole, x, arrangement.frame.height - y)
    ring = np.flatnonzero(beyond & (np.arange(len(beyond)) > 0))
    pieces, count = ring_pieces(
        arrangement, measure_faces(arrangement), ring.astype(np.int32)
    )
    assert count == sides
    assert sorted(np.concatenate(pieces).tolist()) == ring.tolist()
    # the circles of each side, and the ground that runs round all of them
    assert sorted(map(len, pieces)) == [1] + [24 // sides] * sides


def test_a_round_ring_has_no_sides() -> None:
    beads = "".join(
        f'<circle cx="{120 + 92 * math.cos(a):.4f}" cy="{120 + 92 * math.sin(a):.4f}" '
        'r="3"/>'
        for a in np.arange(36) * math.pi / 18
    )
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="240mm" height="240mm" '
        'viewBox="0 0 240 240"><g fill="none" stroke="#222">'
        f'<circle cx="120" cy="120" r="88"/><circle cx="120" cy="120" r="96"/>{beads}'
        "</g></svg>"
    )
    arrangement = build_arrangement(read_linework(drawing.encode(), name="round.svg"))
    away = np.hypot(*(arrangement.witness - 120).T)
    ring = np.flatnonzero((away > 88) & (np.arange(len(away)) > 0)).astype(np.int32)
    assert ring_pieces(arrangement, measure_faces(arrangement), ring) == ([], 0)


def test_a_rail_ends_where_a_chevron_points_to_the_next_side() -> None:
    # at each corner of the octagon a leg runs on within 12 degrees of the next rail
    arrangement = build_arrangement(
        read_linework(panel(8, "chevrons", 7), name="octagon.svg")
    )
    unit = float(np.median(np.sqrt(arrangement.area[1:])))
    runs = find_runs(arrangement, straight_links(arrangement), unit)
    side = 2 * WITHIN * math.tan(math.pi / 8)
    rails = [
        run
        for run in runs
        if not run.round and abs(np.hypot(*(run.centre - MIDDLE)) - WITHIN) < 0.1
    ]
    assert len(rails) == 8
    assert np.allclose([run.length for run in rails], side, atol=0.5)


@pytest.mark.parametrize(
    ("points", "count"),
    [
        ([(0, 0), (9, 0), (9, 5), (0, 5)], 4),
        ([(0, 0), (9, 0), (5, 8)], 3),
        # a side by hand that is bent by a hundredth, and by a fifth, of its length
        ([(0, 0), (5, -0.09), (10, 0), (5, 8.7)], 3),
        ([(0, 0), (5, -2), (10, 0), (5, 8.7)], 4),
        # a third of a square is missing
        ([(0, 0), (9, 0), (9, 3), (5, 3), (5, 9), (0, 9)], 0),
        # no wider than the last digits
        ([(100, 100), (101, 100), (101, 100 + 1e-15)], 0),
    ],
)
def test_a_frame_has_the_corners_of_its_polygon(points, count) -> None:
    found = _corners_of(shapely.Polygon(points))
    assert len(found) == count
    if count == len(points):
        assert {tuple(p) for p in found.round(9)} == set(map(tuple, np.array(points)))
        ahead = np.roll(found, -1, axis=0) - found
        onward = np.roll(ahead, -1, axis=0)
        # counter-clockwise: each corner turns left
        assert (ahead[:, 0] * onward[:, 1] > ahead[:, 1] * onward[:, 0]).all()
