"""What passes between parts: what turns with nothing, specks, pieces and sides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.zones.exchange import (
    _of_the_rest,
    _without_scraps,
    released,
    without_specks,
)
from fillwork.symmetry.zones.find import _in_pieces, _sides
from fillwork.symmetry.zones.making import Part
from fillwork.symmetry.zones.middles import has_middle, turned_along
from fillwork.symmetry.zones.parting import part_faces
from fillwork.symmetry.zones.proof import EMPTY
from tests.unit.helpers import line
from tests.unit.symmetry.test_small_panels import SQUARES, plane, turned
from tests.unit.symmetry.test_zone_parts import NOTHING, cells, grid

# nine squares, and beside them regions that turn with nothing
NINE = [0.0, 10, 20, 30]
FOUR = turned(4, 0.0)


def beside(*rows) -> tuple:
    """Return nine squares with more lines to their right, and its faces."""
    drawing = grid(NINE, NINE, *(line(*map(float, r)) for r in rows))
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    return drawing, measure_faces(drawing), faces, cells(drawing, 0, 0, 30, 30)


def test_what_does_not_turn_with_a_rosette_is_let_go_at_its_rim() -> None:
    # three regions of 14 by 10 mm hang together
    box = [(30, y, 44, y) for y in NINE] + [(44, 0, 44, 30)]
    drawing, measures, faces, nine = beside(*box)
    parts = released(drawing, measures, [Part(faces, FOUR)])
    assert [p.faces.tolist() for p in parts] == [
        nine.tolist(),
        np.setdiff1d(faces, nine).tolist(),
    ]
    assert parts[0].symmetry is FOUR
    # three show nothing that is sure
    assert not parts[1].symmetry.certain or parts[1].symmetry.group.family != "none"
    # what has few turns, or is no rosette, is left as it is
    for found in (turned(2, 0.0), turned(4), plane("p4m"), NOTHING):
        own = [Part(faces, found)]
        assert released(drawing, measures, own) == own
        assert own[0].faces is faces


def test_few_regions_that_do_not_turn_leave_a_doubt() -> None:
    # two beside ten in all: a tenth of them or more
    box = [(30, 0, 44, 0), (30, 10, 44, 10), (30, 20, 44, 20), (44, 0, 44, 20)]
    drawing, measures, faces, nine = beside(*box)
    (told,) = released(drawing, measures, [Part(faces, FOUR)])
    assert told.faces.tolist() == faces.tolist()
    said = "2 of 11 regions do not turn with the others"
    assert (told.symmetry.certain, told.symmetry.reason) == (False, said)
    # a pattern beside them whose lines they have takes them up: squares of 14 by 10
    more = [(44, 20, 44, 30), (30, 30, 44, 30)]
    more += [(x, 0, x, 60) for x in (58, 72, 86)] + [
        (44, y, 86, y) for y in (0, 10, 20, 30, 40, 50, 60)
    ]
    more += [(30, 30, 30, 60), (44, 30, 44, 60)] + [
        (30, y, 44, y) for y in (40, 50, 60)
    ]
    drawing, measures, faces, nine = beside(*box, *more)
    scrap = cells(drawing, 30, 0, 44, 20)
    own = np.sort(np.concatenate([nine, scrap])).astype(np.int32)
    field = Part(np.setdiff1d(faces, own).astype(np.int32), plane("p1", 10.0))
    lattice = replace(field.symmetry.lattice, basis=np.diag([14.0, 10]))
    field.symmetry = replace(field.symmetry, lattice=lattice)
    wheel = Part(own, FOUR)
    told = released(drawing, measures, [wheel, field])
    assert len(told) == 2
    assert wheel.faces.tolist() == nine.tolist()
    assert np.isin(scrap, field.faces).all()
    assert wheel.symmetry is FOUR


def test_a_group_that_most_regions_contradict_is_doubted_and_not_parted() -> None:
    drawing, measures, faces, _ = beside()
    about = turned(4, 0.0, (3.0, 7.0))
    (told,) = released(drawing, measures, [Part(faces, about)])
    assert told.faces is faces
    assert told.symmetry.reason == "none of its regions turns with the others"


def star(*rows) -> tuple:
    """Return a square aslant in one of 30 mm, cut in eight, and all faces."""
    own = [(0, 0, 30, 30), (0, 30, 30, 0), (15, 0, 15, 30), (0, 15, 30, 15), *rows]
    own += [(15, 5, 25, 15), (25, 15, 15, 25), (15, 25, 5, 15), (5, 15, 15, 5)]
    lines = [line(*map(float, r)) for r in own]
    drawing = grid([0.0, 30], [0.0, 30], *lines)
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    return drawing, measure_faces(drawing), faces


def test_specks_on_the_rim_of_a_rosette_are_of_no_zone() -> None:
    # a corner is cut off two regions of 87.5 mm², of which a fiftieth are 1.75 mm²
    for side, count in ((2.6, 2), (2.7, 0)):
        drawing, measures, faces = star((0, side, side, 0))
        part = Part(faces, FOUR)
        told = without_specks(drawing, measures, [part])
        assert sum(len(t) for t in told) == count
        assert len(part.faces) == 18 - count
        if count:
            assert drawing.area[told[0]].max() < 1.75
            assert part.symmetry.group.short == "D4"
    # what turns seldom is not asked
    few = Part(faces, turned(2, 0.0))
    assert without_specks(drawing, measures, [few]) == []


def test_scraps_are_taken_off_what_turns_more_without_them() -> None:
    box = [(30, 8, 44, 8), (30, 15, 44, 15), (30, 22, 44, 22), (44, 8, 44, 22)]
    drawing, measures, faces = star(*box)
    own = cells(drawing, 0, 0, 30, 30)
    scraps = [np.setdiff1d(faces, own).astype(np.int32)]
    # with them it has one mirror
    part = Part(faces, turned(1, 0.0))
    alone = _without_scraps(drawing, measures, part, scraps, [])
    assert part.faces.tolist() == own.tolist()
    assert part.symmetry.group.short == "D4"
    assert [p.faces.tolist() for p in alone] == [scraps[0].tolist()]
    assert not alone[0].symmetry.certain
    again = Part(faces, FOUR)
    assert _without_scraps(drawing, measures, again, scraps, []) is None
    assert again.faces is faces
    assert _of_the_rest(drawing, measures, own, turned(2, 0.0)).group.short == "D4"
    assert _of_the_rest(drawing, measures, own, FOUR) is FOUR


def test_plain_regions_that_turn_with_a_rosette_are_its_own() -> None:
    drawing, measures, faces, _ = beside()
    middle = cells(drawing, 10, 10, 20, 20)
    sides = np.setdiff1d(faces, middle).astype(np.int32)
    wheel = Part(middle, FOUR)
    # four squares touch its sides, and then four more these
    left = turned_along(drawing, measures, [wheel], [sides])
    assert left == []
    assert wheel.faces.tolist() == faces.tolist()
    missing = np.setdiff1d(sides, cells(drawing, 10, 0, 20, 10)).astype(np.int32)
    wheel = Part(middle, FOUR)
    (left,) = turned_along(drawing, measures, [wheel], [missing])
    assert left.tolist() == missing.tolist()
    unsure = Part(middle, replace(FOUR, certain=False))
    (left,) = turned_along(drawing, measures, [unsure], [sides])
    assert left is sides


def test_a_ground_goes_round_what_turns_in_its_middle() -> None:
    ring = [
        line(*map(float, r))
        for r in (
            (10, 10, 20, 10),
            (20, 10, 20, 20),
            (20, 20, 10, 20),
            (10, 20, 10, 10),
            (10, 10, 20, 20),
            (10, 20, 20, 10),
        )
    ]
    drawing = grid([0.0, 30], [0.0, 30], *ring)
    ground = int(np.argmax(drawing.area))
    inner = np.setdiff1d(np.arange(1, drawing.face_count), ground).astype(np.int32)
    round_it = Part(np.array([ground], np.int32), turned(2, 0.0))
    star = Part(inner, FOUR)
    assert has_middle(drawing, round_it, [round_it, star])
    assert not has_middle(drawing, round_it, [round_it])
    unsure = Part(inner, replace(FOUR, certain=False))
    assert not has_middle(drawing, round_it, [round_it, unsure])
    # one that is turned onto other places does not turn with it
    aside = Part(inner, turned(2, 0.0, (15.0, 5.0)))
    other = Part(round_it.faces, turned(2, 0.0, (15.0, 22.0)))
    assert not has_middle(drawing, other, [other, aside])


def test_pieces_of_a_group_in_doubt_are_parts_where_the_largest_is_sure() -> None:
    step = np.arange(0.0, 41, 10)
    far = [line(60, y, 100, y) for y in step] + [
        line(x + 60, 0, x + 60, 40) for x in step
    ]
    drawing = grid(step, step, *far)
    measures, faces = measure_faces(drawing), np.arange(1, 33, dtype=np.int32)
    both = plane("p4m", 10.0, (20.0, 20.0), repeats_seen=32.0)
    pieces, largest = _in_pieces(drawing, measures, faces, replace(both, certain=False))
    assert sorted(len(p) for p in pieces) == [16, 16]
    assert largest.group.short == "p4m"
    # what is sure of both repeats as often as each
    assert _in_pieces(drawing, measures, faces, both) == ([], None)
    seldom = replace(both, repeats_seen=32 / 1.6)
    pieces, _ = _in_pieces(drawing, measures, faces, seldom)
    assert len(pieces) == 2
    empty = replace(both, certain=False, reason=EMPTY)
    pieces, largest = _in_pieces(drawing, measures, faces, empty)
    assert (len(pieces), largest) == (2, None)
    left = cells(drawing, 0, 0, 40, 40)
    assert _in_pieces(drawing, measures, left, both) == ([], None)
    few = np.sort(np.concatenate([left[:8], np.setdiff1d(faces, left)[:8]]))
    assert _in_pieces(drawing, measures, few, replace(both, certain=False)) == (
        [],
        None,
    )
    assert _sides(drawing, measures, left, rows=False) == []


def test_a_pattern_without_a_frame_is_one_part() -> None:
    measures = measure_faces(SQUARES)
    faces = np.arange(1, 65, dtype=np.int32)
    groups, explained, frame = part_faces(SQUARES, measures, faces)
    assert [g.tolist() for g in groups] == [faces.tolist()]
    inner = (SQUARES.face.reshape(-1, 2) > 0).all(axis=1)
    assert not frame[inner].any()
    assert explained.shape == (64,)
