"""Small grids whose shifts, turns and parts are known: what regions say of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.groups import plane_group
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.lines.assemble import rosette_symmetry
from fillwork.symmetry.lines.mirrors import RosetteFit
from fillwork.symmetry.model import Candidate, Lattice, Operation, Symmetry, Zone
from fillwork.symmetry.zones.beyond import share_beyond
from fillwork.symmetry.zones.fields import (
    _without_grounds,
    edges_that_hold,
    far_shifts,
    field_of,
    find_fields,
)
from fillwork.symmetry.zones.parting import part_faces
from fillwork.symmetry.zones.proof import own_symmetry, with_doubt_of_regions
from fillwork.symmetry.zones.repeats import athwart, cells_of, repeating, shifts_of
from fillwork.symmetry.zones.turned import CUT_THROUGH, with_doubt_about
from fillwork.symmetry.zones.whole import _is_more, is_one, stand_alone, with_inlays
from tests.unit.helpers import circle, line, linework_from_curves
from tests.unit.symmetry.test_lattice import same_lattice
from tests.unit.symmetry.test_zone_faces import along_x
from tests.unit.symmetry.test_zone_parts import NOTHING, cells, grid

TENS = np.arange(0.0, 81, 10)
SQUARES = grid(TENS, TENS)
EVERY = np.arange(1, 65, dtype=np.int32)
FREE = np.zeros(SQUARES.edge_count, bool)
MEASURES = measure_faces(SQUARES)


def plane(short: str, side: float = 10.0, centre=(40.0, 40.0), **facts) -> Symmetry:
    """Return a group of a square lattice about a centre."""
    x, y = centre
    linear = {
        "p1": [],
        "p2": [(-1, 0, 0, -1)],
        "p4": [(-1, 0, 0, -1), (0, 1, -1, 0), (0, -1, 1, 0)],
        "pmm": [(-1, 0, 0, -1), (-1, 0, 0, 1), (1, 0, 0, -1)],
    }
    linear["p4m"] = linear["p4"] + [
        (-1, 0, 0, 1),
        (1, 0, 0, -1),
        (0, 1, 1, 0),
        (0, -1, -1, 0),
    ]
    operations = [Operation((1.0, 0.0, 0.0, 1.0, 0.0, 0.0), "identity", 1)]
    for a, b, c, d in linear[short]:
        shift = (x - a * x - c * y, y - b * x - d * y)
        kind = "rotation" if a * d - b * c > 0 else "reflection"
        order = (2 if a else 4) if kind == "rotation" else 2
        operations.append(Operation((a, b, c, d, *shift), kind, order))
    facts = {
        "repeats_seen": 6400 / side**2,
        "candidates": (Candidate(short, 1.0, 0.0),),
    } | facts
    lattice = Lattice(side * np.eye(2), "square")
    return Symmetry(plane_group(short), lattice, centre, tuple(operations), **facts)


@pytest.mark.parametrize("skew", [0.0, 3.0])
def test_two_shifts_carry_most_regions_onto_like_ones(skew) -> None:
    lines = [line(x, 0, x + 8 * skew, 80) for x in TENS[1:-1]]
    ends = [line(0, 0, 8 * skew, 80), line(80, 0, 80 + 8 * skew, 80)]
    levels = [line(y * skew / 10, y, 80 + y * skew / 10, y) for y in TENS]
    work = linework_from_curves([*lines, *ends, *levels], 200, 100, has_page=False)
    drawing = build_arrangement(work, close_gaps=0.0)
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    free = np.zeros(drawing.edge_count, bool)
    measures = measure_faces(drawing)
    found = shifts_of(drawing, measures, faces, free)
    assert same_lattice(found, np.array([[10, 0], [skew, 10]]), 1e-9)
    # the outermost regions are in cells, too
    assert cells_of(drawing, measures, faces).tolist() == faces.tolist()
    # eleven are too few to tell
    assert shifts_of(drawing, measures, faces[:11], free) is None
    row = drawing.faces_at(np.array([[10 * k + 5.0 + skew / 2, 5] for k in range(8)]))
    assert len(cells_of(drawing, measures, np.sort(row))) == 0


def test_regions_on_lines_of_a_frame_are_not_asked() -> None:
    # the right half is coarser: of each half its own shifts are told
    right = [75.0, 90, 105, 120, 135]
    drawing = grid([*TENS[:7], *right], TENS, wide=140.0)
    measures = measure_faces(drawing)
    left, rest = cells(drawing, 0, 0, 60, 80), cells(drawing, 60, 0, 140, 80)
    free = np.zeros(drawing.edge_count, bool)
    found = shifts_of(drawing, measures, left, free)
    assert same_lattice(found, 10 * np.eye(2), 1e-9)
    found = shifts_of(drawing, measures, rest, free)
    assert same_lattice(found, np.diag([15.0, 10]), 1e-9)
    # where every region lies on lines of a frame all of them are asked
    x = drawing.vertices[drawing.origin.reshape(-1, 2), 0]
    frame = np.any([(np.abs(x - v) < 1e-9).all(axis=1) for v in (20, 40)], axis=0)
    found = shifts_of(drawing, measures, left, frame)
    assert same_lattice(found, 10 * np.eye(2), 1e-9)


def test_regions_that_a_short_shift_carries_repeat() -> None:
    strip = along_x("p1", 10.0, (40.0, 5.0))
    row = cells(SQUARES, 0, 0, 80, 10)
    assert repeating(SQUARES, MEASURES, row, strip).tolist() == row.tolist()
    some = row[np.argsort(SQUARES.witness[row, 0])][[0, 1, 4, 7]]
    told = repeating(SQUARES, MEASURES, np.sort(some), strip)
    assert sorted(told.tolist()) == sorted(some[:2].tolist())
    assert len(repeating(SQUARES, MEASURES, row, NOTHING)) == 0
    assert len(repeating(SQUARES, MEASURES, row[:0], strip)) == 0
    # across a strip of 10 mm, over how far it reaches
    assert np.abs(athwart(SQUARES, row, strip.lattice)).tolist() == [0, 0.1]
    assert athwart(SQUARES, row, None).tolist() == [0, 0]
    assert athwart(SQUARES, row, plane("p1").lattice).tolist() == [0, 0]
    assert athwart(SQUARES, EVERY, strip.lattice).tolist() == [0, 0]


@pytest.mark.parametrize(
    ("short", "side", "share", "kind"),
    [
        ("p4m", 10.0, 0, ""),
        ("p4", 10.0, 1, "a mirror or glide"),
        ("pmm", 10.0, 1, "a turn"),
        ("p4m", 20.0, 1, "a turn"),
    ],
)
def test_what_lies_beyond_a_group_of_squares_is_told(short, side, share, kind) -> None:
    told = share_beyond(SQUARES, MEASURES, EVERY, plane(short, side))
    assert told[0] == share
    if kind == "a turn":
        # or a mirror aslant, or a shift by half a repeat
        assert told[1] in ("a turn", "a mirror or glide", "a shift")
    else:
        assert told[1] == kind


def test_regions_speak_against_a_group_that_is_too_small_or_wrong() -> None:
    whole = plane("p4m")
    assert with_doubt_of_regions(SQUARES, MEASURES, EVERY, whole) is whole
    less = with_doubt_of_regions(SQUARES, MEASURES, EVERY, plane("p4"))
    said = "a mirror or glide outside it carries 100 % of the regions onto like ones"
    assert (less.certain, less.reason) == (False, said)
    stated = plane("p4", stated=True)
    assert with_doubt_of_regions(SQUARES, MEASURES, EVERY, stated) is stated
    unsure = plane("p4", certain=False, reason="few")
    assert with_doubt_of_regions(SQUARES, MEASURES, EVERY, unsure) is unsure
    # nothing returns, they say, and all of them do
    told = with_doubt_of_regions(SQUARES, MEASURES, EVERY, NOTHING)
    assert told.reason == "a shift carries 100 % of the regions onto like ones"
    three = EVERY[:3]
    assert with_doubt_of_regions(SQUARES, MEASURES, three, NOTHING) is NOTHING
    # the shifts of another pattern: hardly any is carried onto its like
    rng = np.random.default_rng(7)
    xs = np.cumsum(np.append(0, rng.uniform(6, 14, 8)))
    mixed = grid(xs, np.cumsum(np.append(0, rng.uniform(6, 14, 8))), wide=120, high=120)
    told = with_doubt_of_regions(mixed, measure_faces(mixed), EVERY, plane("p1", 23.0))
    assert not told.certain
    assert told.reason.startswith("its shifts carry")


def test_a_region_that_lies_over_its_own_images_speaks_against_shifts() -> None:
    # squares of 10 mm, and one of 30 mm in their middle that is more than two repeats
    step = [0.0, 10, 20, 50, 60, 70]
    parts = [(x, a, x, b) for x in (30.0, 40) for a, b in ((0, 20), (50, 70))]
    parts += [(a, y, b, y) for y in (30.0, 40) for a, b in ((0, 20), (50, 70))]
    drawing = grid(step, step, *(line(*map(float, p)) for p in parts))
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    assert len(faces) == 41
    found = plane("p4m", 10.0, (35.0, 35.0))
    told = with_doubt_of_regions(drawing, measure_faces(drawing), faces, found)
    said = "a region larger than two repeats would lie over its own images"
    assert (told.certain, told.reason) == (False, said)


def turned(n, mirror=None, centre=(15.0, 15.0), **facts) -> Symmetry:
    fit = RosetteFit(n, mirror, np.array(centre), 0, 1.0, 0.0, **facts)
    return rosette_symmetry(fit)


def test_a_rosette_is_held_against_its_regions() -> None:
    nine = grid([0.0, 10, 20, 30], [0.0, 10, 20, 30])
    measures, faces = measure_faces(nine), np.arange(1, 10, dtype=np.int32)
    four = turned(4, 0.0)
    assert with_doubt_about(nine, measures, faces, four) is four
    # of few regions more is held, where their lines keep it
    assert with_doubt_about(nine, measures, faces, turned(2)).group.short == "D2"
    told = with_doubt_about(nine, measures, faces, turned(4))
    assert (told.certain, told.reason) == (
        False,
        "its regions are laid as D4 would lay them",
    )
    told = with_doubt_about(nine, measures, faces, turned(1, 0.0))
    assert told.reason == "its regions are laid as D2 would lay them"
    # about a point on its rim the whole may turn more often
    told = with_doubt_about(nine, measures, faces, turned(2, 0.0, (15.0, 0.0)))
    assert (told.certain, told.reason) == (False, CUT_THROUGH)
    # turns by a fifth carry the middle alone: one of nine
    told = with_doubt_about(nine, measures, faces, turned(5))
    assert told.reason == "it carries 11 % of the regions onto like ones"


def test_one_lattice_holds_all_regions_or_a_part_of_them() -> None:
    groups = [cells(SQUARES, 0, 0, 50, 80), cells(SQUARES, 50, 0, 80, 80)]
    all_told = np.ones(64, bool)
    whole = plane("p4m")
    assert is_one(SQUARES, MEASURES, EVERY, groups, all_told, whole)
    assert not is_one(SQUARES, MEASURES, EVERY, groups, all_told, NOTHING)
    unsure = replace(whole, certain=False)
    assert not is_one(SQUARES, MEASURES, EVERY, groups, all_told, unsure)
    assert not is_one(SQUARES, MEASURES, EVERY, groups, all_told, plane("p4m", 14.0))
    # what lies beside the fields must be carried along as well
    beside = ~np.isin(EVERY, groups[1])
    assert is_one(SQUARES, MEASURES, EVERY, groups, beside, whole)
    coarse = grid([0.0, 10, 20, 30, 40, 50, 57, 80], TENS)
    faces = np.arange(1, coarse.face_count, dtype=np.int32)
    right = cells(coarse, 50, 0, 80, 80)
    beside = ~np.isin(faces, right)
    parts = [np.setdiff1d(faces, right).astype(np.int32), right]
    measures = measure_faces(coarse)
    assert not is_one(coarse, measures, faces, parts, beside, whole)
    # of shifts of half of the drawing few regions can be asked: lines decide
    wide = plane("p4m", 50.0, repeats_seen=2.56)
    assert is_one(SQUARES, MEASURES, EVERY, groups, np.zeros(64, bool), wide)
    few = plane("p4m", 50.0, repeats_seen=1.9)
    assert not is_one(SQUARES, MEASURES, EVERY, groups, np.zeros(64, bool), few)
    # scraps are a hundredth of the area at most
    assert _is_more(SQUARES, EVERY[:1], EVERY)
    assert not _is_more(SQUARES, EVERY[:0], EVERY)
    small = grid([0.0, 10, 99.2, 100], [0.0, 100])
    thin = np.argsort(small.area[1:])[:1].astype(np.int32) + 1
    assert not _is_more(small, thin, np.arange(1, 4, dtype=np.int32))


def test_a_field_stands_alone_where_no_shift_of_it_holds_the_rest() -> None:
    known: dict[int, Symmetry] = {}
    groups = [cells(SQUARES, 0, 0, 50, 80), cells(SQUARES, 50, 0, 80, 80)]
    beside = ~np.isin(EVERY, groups[1])
    # its shifts carry the rest too
    assert not stand_alone(SQUARES, MEASURES, EVERY, groups, beside, known)
    assert known[0].group.short == "p4m"
    coarse = grid(
        [0.0, 10, 20, 30, 40, 50, 54, 63, 80], [0.0, 10, 20, 30, 40, 50, 60, 70, 80]
    )
    faces = np.arange(1, coarse.face_count, dtype=np.int32)
    right = cells(coarse, 50, 0, 80, 80)
    groups = [np.setdiff1d(faces, right).astype(np.int32), right]
    none: dict[int, Symmetry] = {}
    told = stand_alone(
        coarse, measure_faces(coarse), faces, groups, ~np.isin(faces, right), none
    )
    # columns of unlike widths repeat upwards alone
    assert told
    assert not stand_alone(SQUARES, MEASURES, EVERY, groups, np.zeros(64, bool), none)
    assert not stand_alone(SQUARES, MEASURES, EVERY, groups, np.ones(64, bool), none)


def test_a_pattern_is_one_part_unless_much_is_laid_into_it() -> None:
    groups = [cells(SQUARES, 0, 0, 50, 80), cells(SQUARES, 50, 0, 80, 80)]
    told = with_inlays(SQUARES, MEASURES, EVERY, groups, plane("p4m"))
    assert len(told) == 1
    assert told[0].faces is EVERY
    # a wheel of sixteen pieces in place of four squares
    spokes = [
        (40 + 10 * np.cos(a), 40 + 10 * np.sin(a)) for a in np.arange(16) * np.pi / 8
    ]
    rows = [line(40, 40, *s) for s in spokes] + [circle(40, 40, 10)]
    parts = [(x, a, x, b) for x in TENS[1:-1] for a, b in ((0, 80),) if abs(x - 40) > 5]
    parts += [(40.0, 0, 40, 30), (40.0, 50, 40, 80)]
    parts += [(0, y, 80, y) for y in TENS[1:-1] if abs(y - 40) > 5]
    parts += [(0, 40.0, 30, 40), (50.0, 40, 80, 40)]
    drawing = grid([0.0, 80], [0.0, 80], *rows, *(line(*map(float, p)) for p in parts))
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    away = np.hypot(*(drawing.witness[faces] - 40).T)
    wheel = faces[away < 10]
    assert len(wheel) == 16
    rest = np.setdiff1d(faces, wheel).astype(np.int32)
    told = with_inlays(
        drawing, measure_faces(drawing), faces, [rest, wheel], plane("p1")
    )
    assert [p.faces.tolist() for p in told] == [rest.tolist(), wheel.tolist()]
    assert told[1].symmetry.group.short == "D16"
    assert [p.role for p in told] == ["field", "medallion"]


def test_leaves_in_a_row_show_their_own_group() -> None:
    # leaves in a row, all of one height and all pointing to the right
    tips = [((0, 5), (8, 10), (10, 5), (8, 0))]
    rows = []
    for k in range(6):
        shape = [(12 * k + x + 1, y) for x, y in tips[0]]
        rows += [
            line(*map(float, p), *map(float, q))
            for p, q in zip(shape, shape[1:] + shape[:1], strict=True)
        ]
    strip = grid([0.0, 74], [0.0, 10], *rows)
    faces = np.arange(1, strip.face_count, dtype=np.int32)
    leaves = faces[np.abs(strip.area[faces] - 50) < 1]
    told = own_symmetry(strip, measure_faces(strip), leaves)
    assert (told.group.short, told.certain) == ("p11m", True)
    assert np.allclose(np.abs(told.lattice.basis), [[12, 0]])


def test_a_field_is_what_a_lattice_explains() -> None:
    # to the right of the squares are columns that no shift of theirs keeps
    drawing = grid([0.0, 10, 20, 30, 40, 50, 54, 63, 80], TENS)
    measures = measure_faces(drawing)
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    free = np.zeros(drawing.edge_count, bool)
    left = cells(drawing, 0, 0, 50, 80)
    found = field_of(drawing, measures, faces, 10 * np.eye(2), free)
    assert np.isin(left, found).all()
    assert len(field_of(drawing, measures, faces, 13 * np.eye(2), free)) == 0
    # where a frame parts them the field ends at it
    x = drawing.vertices[drawing.origin.reshape(-1, 2), 0]
    frame = (np.abs(x - 50) < 1e-9).all(axis=1)
    found = field_of(drawing, measures, faces, 10 * np.eye(2), frame)
    label = np.ones(drawing.face_count, np.int64)
    number, bases = find_fields(drawing, measures, faces, frame, label)
    assert (number[left] == 0).all()
    assert same_lattice(bases[0], 10 * np.eye(2), 1e-9)
    # eleven regions are no field
    few = left[:11]
    assert find_fields(drawing, measures, few, free, label)[0].max() == -1
    shifts = far_shifts(np.array([[10.0, 0], [3, 7]]))
    assert len(shifts) == 24
    assert {
        tuple(np.rint(np.linalg.solve([[10, 3], [0, 7]], s)).astype(int))
        for s in shifts
    } == {(i, j) for i in range(-2, 3) for j in range(-2, 3) if i or j}


def test_edges_hold_where_their_images_lie_on_lines() -> None:
    edge = np.arange(SQUARES.edge_count)
    shifts = [s * v for v in 10 * np.eye(2) for s in (1.0, -1.0)]
    holds, length = edges_that_hold(SQUARES, edge, shifts, EVERY)
    assert holds.all()
    assert length == pytest.approx(10)
    # 0.08 of a square aside is near enough
    for off, told in ((0.7, True), (0.9, False)):
        some = [np.array([10 + off, 0]), np.array([-10 - off, 0])]
        holds, _ = edges_that_hold(SQUARES, edge, some, EVERY)
        up = np.ptp(SQUARES.vertices[SQUARES.origin.reshape(-1, 2), 0], axis=1) == 0
        inner = up & (np.abs(SQUARES.vertices[SQUARES.origin[::2], 0] - 40) < 25)
        assert holds[inner].all() == told
        assert holds[inner].any() == told


def test_a_face_over_many_repeats_is_none_of_a_field() -> None:
    drawing = grid([0.0, 10, 20, 30, 60], [0.0, 10, 20])
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    # those of 300 mm² are more than two repeats of 148 mm², and less than of 154 mm²
    assert len(_without_grounds(drawing, faces, 12.2 * np.eye(2))) == 6
    assert len(_without_grounds(drawing, faces, 12.4 * np.eye(2))) == 8


def test_a_panel_falls_into_its_field_border_and_corners() -> None:
    inner = [line(x, 20, x, 100) for x in TENS[1:-1] + 20] + [
        line(20, y, 100, y) for y in TENS[1:-1] + 20
    ]
    teeth = []
    for k in range(8):
        for x0, y0, ux, uy in (
            (20, 0, 1, 0),
            (120, 20, 0, 1),
            (100, 120, -1, 0),
            (0, 100, 0, -1),
        ):
            a = np.array([x0, y0]) + (10 * k) * np.array([ux, uy])
            top = a + 5 * np.array([ux, uy]) + 12 * np.array([-uy, ux])
            b = a + 10 * np.array([ux, uy])
            teeth += [line(*a, *top), line(*top, *b)]
    drawing = grid(
        [0.0, 20, 100, 120], [0.0, 20, 100, 120], *inner, *teeth, wide=120, high=120
    )
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    groups, explained, frame = part_faces(drawing, measure_faces(drawing), faces)
    sizes = sorted(len(g) for g in groups)
    # the field of 64 squares, four sides of eight teeth and a ground, four corners
    assert sizes == [1, 1, 1, 1, 9, 9, 9, 9, 64]
    field = max(groups, key=len)
    assert explained[np.isin(faces, field)].all()
    x = drawing.vertices[drawing.origin.reshape(-1, 2)]
    for k in (0, 1):
        for v in (20, 100):
            assert frame[(np.abs(x[:, :, k] - v) < 1e-9).all(axis=1)].all()


def test_kinds_are_joined_by_shape_whatever_their_zone() -> None:
    # squares in two zones: one of nine by turns, one of nine that repeat
    left, right = np.arange(0.0, 31, 10), np.arange(40.0, 71, 10)
    rows = [line(40, y, 70, y) for y in left] + [line(x, 0, x, 30) for x in right]
    drawing = grid(left, left, *rows)
    one, two = cells(drawing, 0, 0, 30, 30), cells(drawing, 40, 0, 70, 30)
    repeat = plane("p4m", 10.0, (55.0, 15.0))
    zones = (Zone(1, one, turned(4, 0.0)), Zone(2, two, repeat))
    whole = find_orbits(drawing, zones)
    assert sorted(len(o.faces) for o in whole.orbits) == [1, 4, 4, 9]
    assert sorted(o.site_symmetry for o in whole.orbits) == ["D1", "D1", "D4", "D4"]
    assert set(whole.families) == {1}
    for own in (whole.turns_of_face, whole.shifts_of_face):
        assert own[1:].min() == 0
        assert not set(own[one].tolist()) & set(own[two].tolist())
    shape = find_orbits(drawing, zones, match="family")
    assert [len(o.faces) for o in shape.orbits] == [18]
    assert (shape.operation_of_face[1:] == -1).all()
    each = find_orbits(drawing, zones, match="none")
    assert len(each.orbits) == 18
    # two zones of one group that a shift carries onto each other share their kinds
    copies = (Zone(1, one, turned(4, 0.0)), Zone(2, two, turned(4, 0.0, (55.0, 15.0))))
    shared = find_orbits(drawing, copies)
    assert sorted(len(o.faces) for o in shared.orbits) == [2, 8, 8]
    apart = find_orbits(drawing, copies, match="turns")
    assert sorted(len(o.faces) for o in apart.orbits) == [1, 1, 4, 4, 4, 4]
    # operations carry the representative onto each of its kind
    for orbit in whole.orbits:
        zone = zones[orbit.zone - 1]
        for face in orbit.faces:
            operation = zone.symmetry.operations[whole.operation_of_face[face]]
            a, b, c, d, e, f = operation.map
            x, y = measure_faces(drawing).centroid[orbit.representative]
            there = np.array([a * x + c * y + e, b * x + d * y + f])
            off = measure_faces(drawing).centroid[face] - there
            if zone.symmetry.lattice is not None:
                off = off - 10 * np.rint(off / 10)
            assert np.abs(off).max() < 1e-9
