"""Scraps, rows and rings beside squares: which pattern they are claimed by."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.zones.claims import (
    Pattern,
    _share_of_faces,
    _steps_about,
    _with_neighbours,
    claim_faces,
    claim_turned,
    of_several,
    strange_faces,
)
from fillwork.symmetry.zones.exchange import (
    _given_to,
    _is_mitred,
    claimed,
    joined,
    parted_strangers,
)
from fillwork.symmetry.zones.making import Part
from tests.unit.helpers import circle, line
from tests.unit.symmetry.test_small_panels import SQUARES, TENS, plane, turned
from tests.unit.symmetry.test_zone_faces import along_x
from tests.unit.symmetry.test_zone_parts import NOTHING, cells, grid

FIELD = plane("p4m")
FREE = np.zeros(SQUARES.edge_count, bool)


def test_squares_cut_off_a_field_are_its_own() -> None:
    left, right = cells(SQUARES, 0, 0, 60, 80), cells(SQUARES, 60, 0, 80, 80)
    assert claim_faces(SQUARES, right, [(left, FIELD)]).tolist() == [0] * 16
    # of two that may claim them the one that keeps more of their lines
    wide = plane("p4m", 17.0)
    assert (
        claim_faces(SQUARES, right, [(left, wide), (left, FIELD)]).tolist() == [1] * 16
    )
    assert claim_faces(SQUARES, right, []) is None
    # columns of another width have level lines of the field, and no others
    other = grid([*TENS[:7], 63.0, 67, 74, 80], TENS)
    left, right = cells(other, 0, 0, 60, 80), cells(other, 60, 0, 80, 80)
    measures = measure_faces(other)
    told = claim_faces(other, right, [(left, FIELD)], whole=True)
    assert told is None or (told < 0).any()
    strange = strange_faces(
        other,
        measures,
        np.sort(np.concatenate([left, right])),
        FIELD,
        np.zeros(other.edge_count, bool),
    )
    assert len(np.intersect1d(strange, left)) == 0


def test_squares_of_two_strips_are_those_of_both() -> None:
    # two strips that meet at a corner square between them
    drawing = grid(
        [0.0, 10, 20, 30, 40, 50],
        [0.0, 10],
        *(line(40.0, y, 50, y) for y in (20, 30, 40, 50)),
        line(40, 10, 40, 50),
        line(50, 10, 50, 50),
    )
    level, up = cells(drawing, 0, 0, 40, 10), cells(drawing, 40, 10, 50, 50)
    corner = cells(drawing, 40, 0, 50, 10)
    one = along_x("p1", 10.0, (20.0, 5.0))
    turned_up = replace(one, lattice=replace(one.lattice, basis=np.array([[0.0, 10]])))
    zones = [(level, one), (up, turned_up)]
    both = np.sort(
        np.concatenate([cells(drawing, 30, 0, 40, 10), cells(drawing, 40, 10, 50, 20)])
    )
    assert not of_several(drawing, corner, zones)
    parts = [(np.setdiff1d(level, both), one), (np.setdiff1d(up, both), turned_up)]
    assert of_several(drawing, both, parts)
    assert not of_several(drawing, both, parts[:1])


def test_shifts_of_a_lattice_reach_two_repeats_about() -> None:
    assert _steps_about(np.zeros((0, 2))).tolist() == [[0, 0]]
    assert _steps_about(np.array([[3.0, 1]])).tolist() == [
        [-6, -2],
        [-3, -1],
        [0, 0],
        [3, 1],
        [6, 2],
    ]
    both = {tuple(s) for s in _steps_about(np.array([[3.0, 0], [1, 5]])).tolist()}
    assert both == {(3 * i + j, 5 * j) for i in range(-2, 3) for j in range(-2, 3)}


def test_a_face_keeps_the_share_of_what_was_asked_of_it() -> None:
    drawing = grid([0.0, 10, 20], [0.0, 10])
    edge = np.arange(drawing.edge_count)
    ends = drawing.vertices[drawing.origin.reshape(-1, 2)]
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    level = np.ptp(ends[:, :, 1], axis=1) == 0
    every = np.ones(len(edge), bool)
    assert _share_of_faces(drawing, edge, length, every, level)[1:].tolist() == [
        0.5,
        0.5,
    ]
    # of each face two sides of four are asked, enough; of one side alone too few
    told = _share_of_faces(drawing, edge, length, level, level)
    assert told[1:].tolist() == [1, 1]
    few = level & (ends[:, :, 1].max(axis=1) == 0)
    assert _share_of_faces(drawing, edge, length, few, few)[1:].tolist() == [0, 0]


def test_faces_without_lines_go_with_their_neighbours() -> None:
    drawing = grid([0.0, 10, 20, 30, 40], [0.0, 10])
    row = drawing.faces_at(np.array([[10 * k + 5.0, 5] for k in range(4)]))
    told = _with_neighbours(drawing, row, np.array([0, -1, -1, 1]))
    assert told.tolist() == [0, 0, 1, 1]
    assert _with_neighbours(drawing, row, np.array([-1, -1, -1, 1])).tolist() == [1] * 4
    apart = row[[0, 2]]
    assert _with_neighbours(drawing, apart, np.array([0, -1])).tolist() == [0, -1]


def test_what_turns_with_a_rosette_is_claimed() -> None:
    # four squares about a disc of four quarters, and more squares beyond
    drawing = grid(
        [10.0, 30, 50, 70, 90],
        [10.0, 30, 50, 70, 90],
        circle(50, 50, 10),
    )
    centre = (50.0, 50.0)
    disc = drawing.faces_at(np.array([[53.0, 53], [47, 53], [47, 47], [53, 47]]))
    around = drawing.faces_at(np.array([[65.0, 65], [35, 65], [35, 35], [65, 35]]))
    four = turned(4, 0.0, centre)
    every = np.arange(1, drawing.face_count)
    free = np.setdiff1d(every, disc)
    assert claim_turned(drawing, free, disc, four).tolist() == sorted(around.tolist())
    # what lacks one of its images is none
    assert len(claim_turned(drawing, np.setdiff1d(free, around[:1]), disc, four)) == 0
    half = claim_turned(
        drawing, np.setdiff1d(free, around[:1]), disc, turned(2, None, centre)
    )
    assert half.tolist() == sorted(around[[1, 3]].tolist())
    far = np.setdiff1d(free, around)
    assert len(claim_turned(drawing, far, disc, four)) == 0


def test_a_row_that_a_line_parts_from_its_field_goes_on_in_it() -> None:
    lower, row = cells(SQUARES, 0, 0, 80, 60), cells(SQUARES, 0, 60, 80, 80)
    pattern = Pattern(SQUARES, lower, FIELD)
    assert pattern.goes_on(row)
    # what does not lie beside it, or has too few lines, is not asked
    far = Pattern(SQUARES, cells(SQUARES, 0, 0, 80, 40), FIELD)
    assert not far.goes_on(row)
    coarse = grid(TENS, [*TENS[:7], 68.0, 80])
    lower, row = cells(coarse, 0, 0, 80, 60), cells(coarse, 0, 60, 80, 80)
    assert not Pattern(coarse, lower, FIELD).goes_on(row)
    parts = [
        Part(cells(SQUARES, 0, 0, 80, 60), FIELD),
        Part(cells(SQUARES, 0, 60, 80, 80), NOTHING),
    ]
    (one,) = joined(SQUARES, parts)
    assert len(one.faces) == 64
    parts = [Part(lower, FIELD), Part(row, NOTHING)]
    assert len(joined(coarse, parts)) == 2
    # a pattern that is not sure takes up nothing
    parts = [
        Part(cells(SQUARES, 0, 0, 80, 60), replace(FIELD, certain=False)),
        Part(cells(SQUARES, 0, 60, 80, 80), NOTHING),
    ]
    assert len(joined(SQUARES, parts)) == 2


def test_scraps_go_to_the_sure_pattern_that_they_were_cut_from() -> None:
    measures = measure_faces(SQUARES)
    field, scrap = cells(SQUARES, 0, 0, 60, 80), cells(SQUARES, 60, 0, 80, 80)
    some = cells(SQUARES, 60, 0, 80, 20)
    parts = [Part(field, FIELD), Part(some, NOTHING)]
    told, over = claimed(SQUARES, measures, parts, [])
    assert [len(p.faces) for p in told] == [52]
    assert over == []
    # what turns for sure and is large is none
    wheel = Part(scrap, turned(5, None, (70.0, 40.0)))
    told, over = claimed(SQUARES, measures, [Part(field, FIELD), wheel], [])
    assert [len(p.faces) for p in told] == [48, 16]
    unsure = [Part(field, replace(FIELD, certain=False)), Part(some, NOTHING)]
    told, over = claimed(SQUARES, measures, unsure, [])
    assert sorted(len(p.faces) for p in told) == [4, 48]
    into = Part(field, FIELD)
    assert _given_to(SQUARES, some, [into], False)
    assert len(into.faces) == 52
    assert not _given_to(SQUARES, some, [], False)


def test_regions_that_a_field_does_not_keep_are_strange_in_it() -> None:
    # leaves that fell in with a field: two rows of triangles of another step
    teeth = [line(a, 80, a + 3.5, 94) for a in np.arange(0.0, 77, 7)]
    teeth += [line(a + 3.5, 94, a + 7, 80) for a in np.arange(0.0, 77, 7)]
    drawing = grid(
        [0.0, 80],
        [0.0, 80, 94],
        *(line(x, 0, x, 80) for x in TENS[1:-1]),
        *(line(0, y, 80, y) for y in TENS[1:-1]),
        *teeth,
    )
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    measures = measure_faces(drawing)
    border = cells(drawing, 0, 80, 80, 94)
    frame = np.zeros(drawing.edge_count, bool)
    odd = strange_faces(drawing, measures, faces, FIELD, frame)
    assert np.isin(odd, border).all()
    assert len(odd) >= len(border) - 4
    # a pattern of which most faces repeat, and no other is odd, keeps all
    measures = measure_faces(SQUARES)
    every = np.arange(1, 65, dtype=np.int32)
    assert len(strange_faces(SQUARES, measures, every, FIELD, FREE)) == 0
    parts, _ = parted_strangers(SQUARES, measures, [Part(every, FIELD)], FREE)
    assert len(parts) == 1


@pytest.mark.parametrize(("angle", "drawn"), [(0.0, False), (np.pi / 4, True)])
def test_a_mirror_is_drawn_where_it_goes_through_no_face(angle, drawn) -> None:
    # two squares beside a mitre
    drawing = grid([0.0, 20], [0.0, 20], line(0, 0, 20, 20))
    faces = np.array([1, 2], np.int32)
    mirror = turned(1, angle, (10.0, 10.0))
    assert _is_mitred(drawing, Part(faces, mirror)) is drawn
    plain = grid([0.0, 20], [0.0, 20])
    assert not _is_mitred(plain, Part(faces[:1], mirror))
