"""The sheet of one repeat: its symmetry drawn, its numbers clear of the lines."""

from __future__ import annotations

import itertools
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.pipeline.demo import demo_drawing
from fillwork.pipeline.job import colour_drawing
from fillwork.plans.model import Plan, SheetSettings
from fillwork.renderers.scene import Fills, Labels, Placed, Strokes, Text
from fillwork.renderers.sheets.repeat import alike_zones, cell_corners
from fillwork.renderers.symbols import find_elements
from fillwork.renderers.text.room import number_body
from fillwork.renderers.text.typeset import default_fonts
from fillwork.symmetry.model import Group, Lattice, Operation, Symmetry


def symmetry(basis, *maps) -> Symmetry:
    """Return a plane group from general positions as x y x y ... with shifts."""
    operations = []
    for a, b, c, d, e, f in maps:
        turn = a * d - b * c > 0
        if turn:
            angle = abs(np.arctan2(b, a))
            order = 1 if angle < 1e-9 else round(2 * np.pi / angle)
            kind = "identity" if order == 1 else "rotation"
        else:
            half = np.arctan2(b, a) / 2
            slides = abs(np.cos(half) * e + np.sin(half) * f) > 1e-9
            kind, order = ("glide", 0) if slides else ("reflection", 2)
        operations.append(Operation((a, b, c, d, e, f), kind, order))
    return Symmetry(
        Group("plane", "", "", "", ""),
        Lattice(np.array(basis, float), "rectangular"),
        (0.0, 0.0),
        tuple(operations),
    )


A = 10.0
QUARTERS = [(1, 0, 0, 1), (0, 1, -1, 0), (-1, 0, 0, -1), (0, -1, 1, 0)]
MIRRORS = [(1, 0, 0, -1), (-1, 0, 0, 1), (0, 1, 1, 0), (0, -1, -1, 0)]


@pytest.mark.reference(
    "International Tables for Crystallography A (2016), 2.2 and part 3: general "
    "positions of p4mm, p2gg, c2mm, p4gm; elements counted by hand on the cell's "
    "diagram, its edges included. The positions are written from memory."
)
@pytest.mark.parametrize(
    ("group", "basis", "maps", "centres", "mirrors", "glides"),
    [
        (
            "p4mm",
            [(A, 0), (0, A)],
            [(*m, 0, 0) for m in QUARTERS + MIRRORS],
            {4: 5, 2: 4},
            8,  # three each way, two diagonals
            4,  # midway between the diagonals
        ),
        (
            "p2gg",
            [(A, 0), (0, A)],
            [
                (1, 0, 0, 1, 0, 0),
                (-1, 0, 0, -1, 0, 0),
                (-1, 0, 0, 1, A / 2, A / 2),
                (1, 0, 0, -1, A / 2, A / 2),
            ],
            {2: 9},
            0,
            4,
        ),
        (
            "c2mm",
            [(A / 2, A / 2), (A / 2, -A / 2)],
            [(*m, 0, 0) for m in (QUARTERS[0], QUARTERS[2], *MIRRORS[:2])],
            {2: 13},
            6,
            4,
        ),
        (
            "p4gm",
            [(A, 0), (0, A)],
            [(*m, 0, 0) for m in QUARTERS] + [(*m, A / 2, A / 2) for m in MIRRORS],
            {4: 5, 2: 4},
            4,  # the square through the middles of the sides
            6,  # two each way at quarters, two diagonals
        ),
    ],
)
def test_a_cell_has_the_elements_of_its_group(
    group, basis, maps, centres, mirrors, glides
) -> None:
    cell = np.array([(0, 0), (A, 0), (A, A), (0, A)], float)
    for shift in ((0.0, 0.0), (3 * A, -7 * A)):
        found = find_elements(symmetry(basis, *maps), cell + shift)
        count = {n: int((found.orders == n).sum()) for n in set(found.orders.tolist())}
        assert count == centres
        assert len(found.mirrors) == mirrors
        assert len(found.glides) == glides


def test_a_frieze_has_a_repeat_as_high_as_its_strip() -> None:
    strip = Symmetry(
        Group("frieze", "p1", "", "", ""),
        Lattice(np.array([[6.0, 0.0]]), ""),
        (1.0, 5.0),
    )
    corners = cell_corners(strip, (0.0, 2.0, 60.0, 9.0))
    assert np.ptp(corners, axis=0).tolist() == [6.0, 7.0]
    assert corners[:, 1].min() == 2.0
    assert (corners[0, 0] - 1.0) % 6.0 == pytest.approx(0.0)
    assert shapely.LinearRing(corners).is_ccw


def pages(name: str, **settings):
    plan = Plan(sheets=SheetSettings(sheets=("repeat",), **settings))
    return colour_drawing(demo_drawing(name), plan, name=f"{name}.svg")


@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("warm-room-ceiling", "sixth turns"),
        ("cloakroom-door", "quarter turns"),
        ("bench-border", "half turns"),
        ("stair-whirl", "third turns"),
        ("fountain-medallion", "turns of 1/10"),
    ],
)
def test_frame_axes_and_centres_run_through_no_number(
    name: str, said: str, mirror: bool
) -> None:
    finish = pages(name, mirror=mirror)
    scene = finish.sheet_scenes()[0]
    told = [i.text for i in scene.items if isinstance(i, Text)]
    assert any(said in text for text in told)
    (picture,) = (i.picture for i in scene.items if isinstance(i, Placed) and i.alt)
    (labels,) = (i for i in picture.items if isinstance(i, Labels))
    body = np.array([number_body(t, default_fonts()).half for t in labels.texts])
    half = body[labels.text] * labels.height[:, None]
    low, high = labels.at - half, labels.at + half
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    pens = [i for i in picture.items if isinstance(i, Strokes)]
    assert pens
    for pen in pens:
        lines = shapely.linestrings(pen.curves.data[:, 0:4].reshape(-1, 2, 2))
        ink = shapely.union_all(shapely.buffer(lines, pen.width / 2, cap_style="flat"))
        assert shapely.area(shapely.intersection(boxes, ink)).max() < 1e-9
    symbols = [i for i in picture.items if isinstance(i, Fills)]
    for item in symbols:
        data = item.shapes.pieces.data
        start = item.shapes.ring_start
        for a, b in itertools.pairwise(start):
            shape = shapely.Polygon(data[a:b, 0:2])
            assert not shapely.intersects(boxes, shape).any()
    # every kind that the whole repeat holds is numbered
    codes = {labels.texts[k] for k in labels.text}
    worn = set(finish.colouring.of_face[1:].tolist())
    assert codes == {finish.palette.swatches[k].code for k in worn}


def test_zones_are_alike_by_group_and_kinds():
    zones = [
        SimpleNamespace(
            index=k,
            faces=np.array(faces),
            symmetry=SimpleNamespace(group=SimpleNamespace(short=group)),
        )
        for k, (group, faces) in enumerate(
            [("p4m", [1]), ("pm", [2, 3]), ("pm", [5, 4]), ("p1", [2, 3])], start=1
        )
    ]
    kinds = np.array([-1, 0, 1, 2, 1, 2])
    found = [(zone.index, named) for zone, named in alike_zones(zones, kinds)]
    assert found == [(1, " of zone 1"), (2, " of zones 2, 3"), (4, " of zone 4")]
