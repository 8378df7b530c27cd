"""Isometries outside a group: how many regions and lines they carry along."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.zones import beyond
from tests.unit.helpers import line, linework_from_curves
from tests.unit.symmetry.answers import given
from tests.unit.symmetry.test_small_panels import EVERY, MEASURES, SQUARES, TENS, plane
from tests.unit.symmetry.test_zone_parts import grid


def moved(x, y=0.0, spin=1 + 0j, mirrored=False):
    return beyond._Isometry(mirrored, spin, np.array([x, y], float))


def row_of(count=20, **facts):
    """Return a row of squares of 10 mm as a zone, all of them inner ones."""
    zone = object.__new__(beyond._Zone)
    xy = np.column_stack([10.0 * np.arange(count) + 5, np.full(count, 5.0)])
    zone.marks = SimpleNamespace(xy=xy)
    zone.inner = np.ones(count, bool)
    zone.usual = 10.0
    boxes = [shapely.box(x - 5, 0, x + 5, 10) for x in xy[:, 0]]
    vars(zone)["tree"] = shapely.STRtree(boxes)
    for name, value in facts.items():
        setattr(zone, name, value)
    return zone


def share(missed, *, rim=(), count=20, shift=10.0):
    """Return the share carried where some squares are not carried onto like ones."""
    zone = row_of(count)
    zone.inner[list(rim)] = False
    hit = ~np.isin(np.arange(count), missed)
    return zone.share_carried(moved(shift), hit)


def test_regions_that_stay_in_a_zone_are_carried_along() -> None:
    assert share([19]) == 1  # beyond the end lies nothing
    # nine tenths of those asked
    assert share([4, 19]) == pytest.approx(18 / 19)
    assert share([4, 9, 19]) == 0  # 17 of 19
    assert share([4], count=11) == pytest.approx(10 / 11)
    assert share([4], count=10) == pytest.approx(9 / 10)
    assert share([4], count=9) == 0
    assert share([4, 9], count=10) == 0
    # what a window cuts, or comes to lie on such, shows nothing
    assert share([4, 9, 19], rim=[4]) == pytest.approx(17 / 18)
    assert share([4, 9, 19], rim=[5]) == pytest.approx(17 / 18)
    # but six tenths of all that stay are carried
    rim = range(20)
    assert share(range(12, 20), rim=rim) == 1  # 12 of 19
    assert share(range(11, 20), rim=rim) == 0  # 11 of 19
    # those that a shift of half a square lays on an edge lie in none
    assert share([4, 9, 14], shift=200.0) == 1


def test_isometries_have_their_words() -> None:
    zone = row_of()
    assert zone.kind_of(moved(1, mirrored=True)) == "a mirror or glide"
    assert zone.kind_of(moved(1)) == "a shift"
    # over 190 mm a turn moves by less than a usual region
    for angle, word in ((0.052, "a shift"), (0.053, "a turn")):
        assert zone.kind_of(moved(0, spin=np.exp(1j * angle))) == word


def lines_of(drawing, noise=0.0):
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    tree = shapely.STRtree(drawing.polygons(faces))
    return beyond._Lines(drawing, faces, noise, tree)


def test_nearly_all_lines_fall_on_lines() -> None:
    lines = lines_of(SQUARES)
    assert lines.fall_on_lines(moved(10))
    assert lines.fall_on_lines(moved(80, 0, 1j))
    assert lines.fall_on_lines(moved(80, 0, -1 + 0j, True))
    assert not lines.fall_on_lines(moved(5))
    assert not lines.fall_on_lines(moved(5, 5))
    # 0.04 of 10 mm, and twice what lines stray by
    assert lines.fall_on_lines(moved(10.39))
    assert not lines.fall_on_lines(moved(10.41))
    assert lines_of(SQUARES, 0.2).fall_on_lines(moved(10.79))
    assert not lines_of(SQUARES, 0.2).fall_on_lines(moved(10.81))
    # what is carried out of the zone alone tells nothing
    assert not lines.fall_on_lines(moved(500))
    # 70 mm of 1120 within leave it: of 1050 and 14.1 for each diagonal 0.95 must fall
    for count, told in ((3, True), (4, False)):
        at = [(10, 10), (30, 30), (50, 10), (10, 50)][:count]
        more = [line(x, y, x + 10.0, y + 10.0) for x, y in at]
        assert lines_of(grid(TENS, TENS, *more)).fall_on_lines(moved(10)) is told
    # where no line lies between two regions none is asked
    one = grid([0.0, 10], [0.0, 10])
    assert lines_of(one).fall_on_lines(moved(3))


def test_isometries_of_a_region_and_its_neighbour_are_tried() -> None:
    zone = beyond._Zone(SQUARES, MEASURES, EVERY, plane("p1"))
    tried = beyond._tried(SQUARES, zone)
    centres = MEASURES.centroid[EVERY]
    ways = set()
    for one in tried:
        there = centres @ one.linear.T + one.shift
        # squares are carried onto squares
        off = (there - 5) / 10
        assert np.allclose(off, np.rint(off), atol=1e-6)
        ways.add((one.mirrored, complex(np.round(one.spin, 6))))
    assert ways == {(m, s) for m in (False, True) for s in (1, 1j, -1, -1j)}
    # those that move the middle least come first
    middle = np.array([40.0, 40])
    away = [np.hypot(*(one.linear @ middle + one.shift - middle)) for one in tried]
    assert away[0] == pytest.approx(0, abs=1e-6)
    assert away == sorted(away)
    assert len(tried) <= beyond._MOST_KEPT
    # each but once
    keys = {(o.mirrored, *np.round([*o.shift, o.spin.real], 3).tolist()) for o in tried}
    assert len(keys) == len(tried)


@pytest.mark.parametrize("turn", [0.0, 0.4, 1.1])
def test_a_mirror_is_tried_as_one(turn: float) -> None:
    # cells with one slanted side each, mirrored in the walls between two of them and
    # turned by half about the middles of slanted lines; the row lies aslant
    way = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    corner = np.array([60.0, 20])
    slants = [(10, 0, 14, 10), (38, 0, 34, 10), (58, 0, 62, 10), (86, 0, 82, 10)]
    walls = [(x, 0, x, 10) for x in (0, 24, 48, 72, 96)]
    rows = [*slants, *walls, (0, 0, 96, 0), (0, 10, 96, 10)]
    laid = np.array(rows, float).reshape(-1, 2) @ way.T + corner
    lines = [line(*row) for row in laid.reshape(-1, 4).tolist()]
    drawing = build_arrangement(
        linework_from_curves(lines, 200.0, 150.0, has_page=False), close_gaps=0.0
    )
    faces = np.arange(1, 9, dtype=np.int32)
    zone = beyond._Zone(drawing, measure_faces(drawing), faces, plane("p1"))
    tried = beyond._tried(drawing, zone)
    for mirrored, linear, shift in (
        (True, np.diag([-1.0, 1]), (96.0, 0)),
        (False, -np.eye(2), (72.0, 10)),
        (False, np.eye(2), (48.0, 0)),
    ):
        there = way @ linear @ way.T
        far = way @ shift + corner - there @ corner
        assert any(
            one.mirrored is mirrored
            and np.allclose(one.linear, there)
            and np.allclose(one.shift, far, atol=1e-6)
            for one in tried
        )


def test_regions_enough_must_fall_on_like_ones() -> None:
    zone = beyond._Zone(SQUARES, MEASURES, EVERY, plane("p1"))
    # of half of 64, but no more than 24, six tenths; of sixty in the middle a quarter
    assert zone.least == pytest.approx(0.6 * 24)
    assert zone.of_middle == pytest.approx(0.6 * 24)
    assert len(zone.middle) == 60
    assert zone.inner.sum() == 36
    few = beyond._Zone(SQUARES, MEASURES, EVERY[:8], plane("p1"))
    assert few.least == 4
    assert few.of_middle == pytest.approx(2)
    fitted, hit = zone.fit(moved(10.2, 0.1))
    assert np.allclose(fitted.shift, [10, 0], atol=1e-6)
    assert hit.sum() == 56
    assert zone.fit(moved(50.2))[1].sum() == 24
    # of the sixty in the middle fourteen, which are less than 14.4
    fitted, hit = zone.fit(moved(60.0))
    assert (fitted.shift.tolist(), hit) == ([60, 0], None)
    assert zone.fit(moved(5.0))[1] is None
    step = np.arange(0.0, 161, 10)
    large = grid(step, step, wide=200, high=200)
    every = np.arange(1, 257, dtype=np.int32)
    wide = beyond._Zone(large, measure_faces(large), every, plane("p1"))
    # of more than 240 half of the sixty in the middle
    assert wide.of_middle == 30


def test_turned_outlines_lie_as_isometries_lay_them(monkeypatch) -> None:
    zone = row_of(3)
    pose = np.array([[0.3, 0.1j, 0.2], [0.3j, -0.1j, -0.2j], [0.3, 0.1j, 0.2]])
    zone.pose, zone.slack = pose, np.zeros(3)
    zone.marks.moved = lambda linear, shift: None
    zone.matcher = SimpleNamespace(match=lambda moved: np.array([1, 0, -1]))
    given(
        monkeypatch,
        beyond,
        same_pose=lambda laid, other, slack: np.isclose(laid, other).all(axis=1),
    )
    # a quarter turn lays the first as the second lies, and not the second as the first
    hit, onto = zone._carried(moved(0, spin=1j))
    assert onto.tolist() == [1, 0, -1]
    assert hit.tolist() == [True, False, False]
    # a mirror conjugates first: of 0.3, -0.1i and 0.2 by a quarter turn, 0.1i and -0.2i
    hit, _ = zone._carried(moved(0, spin=1j, mirrored=True))
    assert hit.tolist() == [False, False, False]
    zone.pose = np.array([[0.3, 0.1j, 0.2], [0.3j, 0.1j, -0.2j], [0, 0, 0]])
    hit, _ = zone._carried(moved(0, spin=1j, mirrored=True))
    assert hit.tolist() == [True, True, False]
