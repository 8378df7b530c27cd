"""Edges round a vertex stand in the right order, however near they are."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement import assembly, build
from fillwork.arrangement.build import build_arrangement
from fillwork.geometry.curves import Curves
from tests.unit.helpers import arc, circle, line, linework_from_curves, polyline


def _random_circles(seed: int, count: int) -> list:
    rng = np.random.default_rng(seed)
    width = 10.0 * np.sqrt(count)
    return [
        circle(*rng.uniform(0, width, 2).round(3), round(rng.uniform(3, 15), 3))
        for _ in range(count)
    ]


@pytest.mark.reference("V - E + F = 1 + C, counted from pairs that cross")
@pytest.mark.parametrize("seed", range(2))
def test_many_random_circles_are_built_at_once(monkeypatch, seed):
    monkeypatch.setattr(assembly, "lay_flat", None)
    rows = _random_circles(seed, 1_500)
    arrangement = build_arrangement(linework_from_curves(rows, has_page=False))
    x, y, r = np.array([row[1][:3] for row in rows]).T
    far = np.hypot(np.subtract.outer(x, x), np.subtract.outer(y, y))
    cross = (far < np.add.outer(r, r)) & (far > np.abs(np.subtract.outer(r, r)))
    pairs = int(np.triu(cross, 1).sum())
    # circles in general position: 2 vertices a pair, each with 4 edges, so that
    # E - V = 2 pairs, and for each component one region more than that
    expected = 2 * pairs + _components(cross)
    # some regions are narrower than the slack, a few circles all but touch
    assert arrangement.face_count - 1 == pytest.approx(expected, rel=0.003)


def _components(linked: np.ndarray) -> int:
    left, parts = set(range(len(linked))), 0
    while left:
        parts += 1
        queue = [left.pop()]
        while queue:
            near = set(np.flatnonzero(linked[queue.pop()]).tolist()) & left
            left -= near
            queue.extend(near)
    return parts


@pytest.mark.parametrize("off", [0.0, 1e-4, -1e-4, 3e-4])
def test_a_line_that_leaves_an_arc_along_its_tangent_meets_it_once(off):
    # a quarter disk of 20 mm with the tangent at its end, closed far out, each
    # drawn by both its neighbours, as outlines of fills are
    rows = []
    for d in (0.0, off):
        rows.append(arc(50.0 + d, 50.0 - d, 20.0, 0.0, np.pi / 2))
        rows.append(line(70.0 + d, 50.0, 70.0 - d, 80.0 + d))
        rows.append(line(70.0, 80.0, 50.0, 80.0))
        rows.append(line(50.0, 80.0, 50.0, 70.0))
        rows += [line(50.0, 70.0 - d, 50.0, 50.0), line(50.0, 50.0, 70.0, 50.0 + d)]
    # other lines, so that the drawing shows how exact it is
    grid = [polyline([[5.0 * k, 0.0], [5.0 * k, 40.0]])[0] for k in range(9)]
    grid += [polyline([[0.0, 5.0 * k], [40.0, 5.0 * k]])[0] for k in range(9)]
    curves = Curves.concatenate(
        [linework_from_curves(rows).curves, Curves.from_segments(np.array(grid))]
    )
    work = linework_from_curves(curves, has_page=False)
    arrangement = build_arrangement(work, join_within=1e-3)
    areas = np.sort(arrangement.area[1:])
    assert len(areas) == 64 + 2
    quarter = np.pi * 400 / 4
    assert areas[-2:] == pytest.approx(sorted([quarter, 600 - quarter]), rel=1e-3)


def test_an_exact_drawing_beside_a_circle_that_touches_stays_exact():
    # a circle touches the floor where a second line of it begins a little aside;
    # another circle touches it from below: the disks, and what is left of the frame
    floor = [line(0, 23, 60, 23), line(34, 23, 53, 23)]
    rows = [*floor, circle(35, 4, 19), circle(35, 42, 19), line(0, -20, 60, -20)]
    rows += [line(60, -20, 60, 23), line(0, 23, 0, -20)]
    arrangement = build_arrangement(linework_from_curves(rows, has_page=False))
    disk = np.pi * 361
    wanted = sorted([disk, disk, 60 * 43 - disk])
    assert np.sort(arrangement.area[1:]) == pytest.approx(wanted, rel=1e-4)
    assert arrangement.tolerance.join_within < 1e-3


def test_a_circle_drawn_very_often_is_one_circle_of_many_strokes():
    # each pair of copies would have to be compared: half a million
    rows = [circle(40.0, 40.0, 20.0) for _ in range(1_000)]
    rows += [line(10.0, 40.0, 70.0, 40.0), arc(40.0, 75.0, 20.0, 3.5, 5.9)]
    arrangement = build_arrangement(linework_from_curves(rows, has_page=False))
    single = build_arrangement(linework_from_curves(rows[999:], has_page=False))
    assert arrangement.area == pytest.approx(single.area, rel=1e-9)
    # the line through the middle halves the disk
    assert arrangement.area.max() == pytest.approx(np.pi * 200)
    drawn = np.diff(arrangement.source_start)
    assert sorted(set(drawn.tolist())) == [1, 1_000]
    assert any(defect.type == "doubled" for defect in arrangement.defects) or any(
        "lie on others" in note.text for note in arrangement.notes
    )


@pytest.mark.parametrize("finer", [16.0, 64.0])
def test_chords_of_circles_that_touch_in_one_point_enclose_nothing(monkeypatch, finer):
    # laid flat, as where their order cannot be told: a disk and crescents round it
    whole = build._build_once

    def laid_flat(linework, wishes, with_page, _):
        return whole(linework, wishes, with_page, finer)

    monkeypatch.setattr(build, "_build_once", laid_flat)
    rows = [circle(10.0 + r, 50.0, r) for r in np.arange(1, 41) * 1.0]
    found = build_arrangement(linework_from_curves(rows, has_page=False))
    assert found.face_count - 1 == 40
