"""Borders and corners whose lines alone tell too much: regions have the last word."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.geometry import affine
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.zones.exchange import _of_the_rest
from fillwork.symmetry.zones.fewer import kept_by_regions
from fillwork.symmetry.zones.frames import find_frame_edges
from fillwork.symmetry.zones.proof import own_symmetry, with_doubt_of_regions
from tests.unit.helpers import Row, arc, circle, line, linework_from_curves

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.model import Symmetry

WIDE, HIGH = 20.0, 14.0


def box(x0: float, y0: float, x1: float, y1: float) -> list[Row]:
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    return [
        line(*p, *q) for p, q in zip(corners, corners[1:] + corners[:1], strict=True)
    ]


def strip(count: int, points: list[tuple[float, float]]) -> Arrangement:
    """Return a strip between two rails with a broken line in each of its repeats."""
    rows = box(5.0, 5.0, 5.0 + count * WIDE, 5.0 + HIGH)
    for k in range(count):
        xy = [(5.0 + (k + x) * WIDE, 5.0 + y * HIGH) for x, y in points]
        rows += [line(*p, *q) for p, q in pairwise(xy)]
    work = linework_from_curves(rows, count * WIDE + 10, HIGH + 10, has_page=False)
    return build_arrangement(work)


def shown(drawing: Arrangement) -> Symmetry:
    measures = measure_faces(drawing)
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    found = own_symmetry(drawing, measures, faces)
    return with_doubt_of_regions(drawing, measures, faces, found)


@pytest.mark.parametrize("count", [6, 9, 14])
@pytest.mark.parametrize(
    ("points", "group"),
    [
        # a half turn would lay teeth into the ground between them
        ([(0.0, 0.0), (0.5, 0.8), (1.0, 0.0)], "p1m1"),
        ([(0.0, 0.0), (0.9, 0.8), (1.0, 0.0)], "p1"),
        # teeth and gaps are alike where both rails are touched
        ([(0.0, 0.0), (0.5, 1.0), (1.0, 0.0)], "p2mg"),
    ],
)
def test_teeth_on_one_rail_have_no_half_turns(
    count: int, points: list[tuple[float, float]], group: str
) -> None:
    found = shown(strip(count, points))
    assert (found.group.short, found.certain) == (group, True)


def test_mirrors_of_teeth_stand_at_their_tips() -> None:
    found = shown(strip(9, [(0.0, 0.0), (0.5, 0.8), (1.0, 0.0)]))
    assert found.centre is not None
    # tips and gaps, half a repeat apart
    away = (found.centre[0] - 5.0) / (WIDE / 2)
    assert abs(away - round(away)) < 1e-3


@pytest.mark.parametrize("count", [5, 9])
def test_bars_are_mirrored_in_the_middle_of_their_strip(count: int) -> None:
    drawing = strip(count, [(0.0, 0.0), (0.0, 1.0)])
    measures = measure_faces(drawing)
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    held = find_symmetry(drawing, faces, stated="frieze:p2mm", loose_lines=False)
    beside = (1.0, 0.0, 0.0, 1.0, 0.0, 10.0)
    # mirrors of the bars, 5 mm beside the middle, as ends of bars may tell it
    moved = tuple(
        replace(o, map=affine.compose(beside, o.map))
        if o.kind == "rotation" or o.map[3] < 0
        else o
        for o in held.operations
    )
    assert held.centre is not None
    off = replace(held, centre=(held.centre[0], held.centre[1] + 5), operations=moved)
    found = kept_by_regions(drawing, measures, faces, off)
    assert found.group.short == "p2mm"
    assert found.centre is not None
    assert found.centre[1] == pytest.approx(5.0 + HIGH / 2, abs=1e-3)


def shape(corners: int, circles: list[tuple[float, float, float]]) -> Arrangement:
    turn = 2 * np.pi * np.arange(corners) / corners
    ring = 30.0 + 20.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    rows = [line(*p, *q) for p, q in zip(ring, np.roll(ring, -1, axis=0), strict=True)]
    rows += [circle(30.0 + x, 30.0 + y, r) for x, y, r in circles]
    return build_arrangement(linework_from_curves(rows, 60, 60, has_page=False))


@pytest.mark.parametrize("corners", [4, 6, 8])
def test_circles_about_one_middle_turn_as_the_shape_about_them(corners: int) -> None:
    found = shown(shape(corners, [(0.0, 0.0, 12.0), (0.0, 0.0, 6.0)]))
    assert (found.group.short, found.certain) == (f"D{corners}", True)


def test_a_circle_beside_the_middle_leaves_no_turns() -> None:
    found = shown(shape(4, [(0.0, 0.0, 10.0), (4.0, 0.0, 3.0)]))
    assert found.group.short not in ("D4", "C4", "C2", "D2")


def test_the_ground_of_a_border_keeps_its_inner_line() -> None:
    """Coarse scales beside it do not make it one of their own lines."""
    rows = box(10.0, 10.0, 310.0, 210.0) + box(30.0, 30.0, 290.0, 190.0)
    for y, tip in ((10.0, 22.0), (210.0, 198.0)):
        for x in np.arange(30.0, 290.0, 10.0).tolist():
            rows.append(line(x, y, x + 5.0, tip))
            rows.append(line(x + 5.0, tip, x + 10.0, y))
    for row in range(3):
        x = np.arange(70.0 + 40.0 * (row % 2), 250.1, 80.0)
        rows += [arc(at, 30.0 + 40.0 * row, 40.0, 0.0, np.pi) for at in x.tolist()]
    drawing = build_arrangement(linework_from_curves(rows, 320, 220, has_page=False))
    frame = find_frame_edges(drawing)
    tail, head = drawing.origin[0::2], drawing.origin[1::2]
    points = drawing.vertices
    along = (np.abs(points[tail][:, 1] - 30.0) < 1e-6) & (
        np.abs(points[head][:, 1] - 30.0) < 1e-6
    )
    assert along.sum() >= 3
    assert frame[along].all()


def test_a_ring_turns_more_once_a_piece_of_its_middle_is_let_go() -> None:
    count = 12
    turn = 2 * np.pi * np.arange(count) / count
    rim = 50.0 + 40.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    foot = turn + np.pi / count
    inner = 50.0 + 28.0 * np.column_stack([np.cos(foot), np.sin(foot)])
    rows = [circle(50.0, 50.0, 40.0), circle(50.0, 50.0, 28.0)]
    for at, one, other in zip(rim, inner, np.roll(inner, 1, axis=0), strict=True):
        rows += [line(*at, *one), line(*at, *other)]
    drawing = build_arrangement(linework_from_curves(rows, 100, 100, has_page=False))
    measures = measure_faces(drawing)
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    away = np.hypot(*(measures.centroid[faces] - 50.0).T)
    ring = faces[away > 20.0]
    assert len(ring) == 2 * count
    held = find_symmetry(drawing, ring, stated="rosette:D4", loose_lines=False)
    found = _of_the_rest(drawing, measures, ring, held)
    assert (found.group.short, found.certain) == ("D12", True)
    # where it turns no more often, what was found stands
    assert _of_the_rest(drawing, measures, ring, found) is found


def test_a_short_strip_that_repeats_is_no_sure_rosette() -> None:
    """Three circles that touch their rails, of whose ground ends are left."""
    rows = box(5.0, 5.0, 68.0, 19.0)
    rows += [circle(x, 12.0, 7.0) for x in (12.0, 26.0, 40.0, 54.0)]
    rows += [line(61.0, 5.0, 61.0, 19.0)]
    drawing = build_arrangement(linework_from_curves(rows, 73, 24, has_page=False))
    measures = measure_faces(drawing)
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    low = measures.centroid[faces]
    few = faces[(low[:, 1] > 10.0) & (low[:, 0] < 61.0) | (low[:, 0] > 61.0)]
    few = few[measures.centroid[few][:, 1] < 14.0]
    own = find_symmetry(drawing, few, stated="rosette:D2", loose_lines=False)
    own = replace(own, stated=False, certain=True, reason="")
    assert 5 <= len(few) < 9
    assert not with_doubt_of_regions(drawing, measures, few, own).certain


@pytest.mark.parametrize(("up", "sure"), [(7.0, True), (5.2, False)])
def test_beads_nearer_one_rail_are_not_surely_mirrored_along(
    up: float, sure: bool
) -> None:
    rows = box(5.0, 5.0, 5.0 + 9 * WIDE, 5.0 + HIGH)
    rows += [circle(5.0 + (k + 0.5) * WIDE, 5.0 + up, 5.0) for k in range(9)]
    work = linework_from_curves(rows, 9 * WIDE + 10, HIGH + 10, has_page=False)
    found = shown(build_arrangement(work))
    along = found.group.short in ("p2mm", "p11m", "p2")
    assert (along and found.certain) == sure
