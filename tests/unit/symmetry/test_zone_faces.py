"""Regions carried onto like ones: by shifts, turns, mirrors, and from zone to zone."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.faces.places import marks_of_faces
from fillwork.symmetry.groups import NO_GROUP, frieze_group
from fillwork.symmetry.lines.assemble import rosette_symmetry
from fillwork.symmetry.lines.mirrors import RosetteFit
from fillwork.symmetry.lines.turning import reflection, rotation
from fillwork.symmetry.model import Candidate, Lattice, Operation, Symmetry, Zone
from fillwork.symmetry.quotient import quotient_of
from fillwork.symmetry.zones.beyond import (
    _fitted,
    _is_known,
    _Isometry,
    _once_each,
    _turned_off,
)
from fillwork.symmetry.zones.enclosed import turned_in_ground
from fillwork.symmetry.zones.exchange import (
    _beside_most,
    _carried,
    _goes_on,
    copied_symmetry,
)
from fillwork.symmetry.zones.fewer import (
    _centre_of,
    _in_the_middle,
    _lies_beside,
    _name_of,
    _some_repeats,
    _subgroup,
    shares_kept,
)
from fillwork.symmetry.zones.halves import _asked, strangers, turning_more
from fillwork.symmetry.zones.held import may_hold, share_held
from fillwork.symmetry.zones.proof import (
    _filled,
    _frames_nothing,
    _span,
    _with_doubt_across,
    _without_ground,
    nearly_alike,
)
from fillwork.symmetry.zones.repeats import (
    _in_most_cells,
    _shortest_two,
    _voted,
    in_cells,
    laid_by,
    onto_by,
    same_pose,
    share_carried,
    share_shifted,
)
from fillwork.symmetry.zones.siblings import (
    _comparable,
    _isometries,
    find_copy,
    shared_kinds,
    stand_in_corners,
)
from fillwork.symmetry.zones.turned import (
    _is_hollow,
    ends_at,
    keeps_outline,
    turned_faces,
    with_doubt_of_few,
)
from tests.unit.helpers import circle, line, linework_from_curves
from tests.unit.symmetry.test_elements import symmetry
from tests.unit.symmetry.test_zone_parts import NOTHING, Part, cells, grid, measures_of

EXACT = SimpleNamespace(join_within=0.0)


def spots(points, sizes=None) -> SimpleNamespace:
    """Return measures of faces that lie at points, all alike but for their sizes."""
    middle = np.array(points, float)
    size = np.full(len(middle), 4.0) if sizes is None else np.array(sizes, float)
    pose = np.zeros((len(middle), 3), np.complex128)
    return SimpleNamespace(
        centroid=middle, size=size, length=4 * size, inscribed=size / 2, pose=pose
    )


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("noise", [0.0, 0.05])
def test_a_copy_is_found_by_the_isometry_that_carries_it(mirrored, noise) -> None:
    rng = np.random.default_rng(9)
    points = rng.uniform(0, 90, (14, 2))
    sizes = rng.uniform(3, 9, 14)
    linear = reflection(0.4) if mirrored else rotation(2.2)
    shift = np.array([150.0, -40])
    there = points @ linear.T + shift + noise * rng.standard_normal((14, 2))
    order = rng.permutation(14)
    measures = spots(np.vstack([points, there[order]]), np.append(sizes, sizes[order]))
    found = find_copy(measures, np.arange(14), 14 + np.arange(14), noise)
    assert np.allclose(found[0], linear, atol=noise / 10 + 1e-9)
    assert np.allclose(points @ found[0].T + found[1], there, atol=5 * noise + 1e-9)
    # the root mean square miss of two numbers each
    assert found[2] <= 1.5 * math.sqrt(2) * noise + 1e-9
    # what lacks one of its faces, or has one elsewhere, is no copy
    assert find_copy(measures, np.arange(14), 14 + np.arange(13), noise) is None
    moved = measures.centroid.copy()
    moved[20] += 12
    other = SimpleNamespace(**{**vars(measures), "centroid": moved})
    assert find_copy(other, np.arange(14), 14 + np.arange(14), noise) is None


def test_two_points_tell_an_isometry_and_its_mirror_image() -> None:
    plane = quotient_of(NOTHING)
    measures = spots([(0, 0), (30, 0), (100, 50), (100, 80)], [4, 6, 4, 6])
    mine, theirs = (
        marks_of_faces(measures, np.array(k), plane, 0.0) for k in ((0, 1), (2, 3))
    )
    found = _isometries(mine, theirs)
    assert len(found) == 2
    for linear, shift in found:
        assert np.allclose(linear @ [0, 0] + shift, [100, 50])
        assert np.allclose(linear @ [30, 0] + shift, [100, 80])
    assert sorted(round(float(np.linalg.det(m))) for m, _ in found) == [-1, 1]
    # as far apart as the slack of both, half of 2 mm each and as much
    for apart, some in ((32.4, True), (32.6, False)):
        far = spots([(0, 0), (30, 0), (100, 50), (100, 50 + apart)], [4, 6, 4, 6])
        mine, theirs = (
            marks_of_faces(far, np.array(k), plane, 0.0) for k in ((0, 1), (2, 3))
        )
        assert bool(_isometries(mine, theirs)) is some
    # one face alone, or faces without their like, tell none
    assert _isometries(mine.take([0]), theirs) == []
    unlike = marks_of_faces(spots([(0, 0), (9, 9)], [40, 60]), np.arange(2), plane, 0.0)
    assert _isometries(unlike, theirs) == []


def zone(number, faces, found, role="border") -> Zone:
    return Zone(number, np.array(faces, np.int32), found, role)


def test_zones_that_are_copies_share_their_kinds() -> None:
    strip = symmetry("frieze", "p1")
    points = np.array([[0, 0], [10, 3], [20, 0], [31, 5], [40, 1]], float)
    there = points @ rotation(math.pi / 2).T + [100, 0]
    measures = spots(np.vstack([points, there]), [4, 5, 6, 7, 8] * 2)
    kind = np.array([0, 1, 2, 3, 3, 10, 11, 12, 13, 13])
    whole = np.ones(10, bool)
    zones = [zone(1, range(5), strip), zone(2, range(5, 10), strip)]
    found = shared_kinds(measures, zones, kind, whole)
    # of a later kind the earlier one, a face of that and the face it is carried to
    assert found == {10: (0, 0, 5), 11: (1, 1, 6), 12: (2, 2, 7), 13: (3, 3, 8)}
    # seven tenths of the area must lie on like faces
    odd = measures.centroid.copy()
    odd[9] += 15
    most = SimpleNamespace(**{**vars(measures), "centroid": odd})
    # 16 + 25 + 36 + 49 of 190 are 0.66, and with 64 in place of 49 that is 0.74
    assert shared_kinds(most, zones, kind, whole) == {}
    odd = measures.centroid.copy()
    odd[8] += 15
    most = SimpleNamespace(**{**vars(measures), "centroid": odd})
    assert shared_kinds(most, zones, kind, whole) == {
        10: (0, 0, 5),
        11: (1, 1, 6),
        12: (2, 2, 7),
        13: (3, 4, 9),
    }
    for other in (
        zone(2, range(5, 10), strip, "corner"),
        zone(2, range(5, 10), symmetry("frieze", "p2")),
        zone(2, range(5, 10), NOTHING),
        zone(2, [5], strip),
    ):
        assert shared_kinds(measures, [zones[0], other], kind, whole) == {}
    # of zones with fewer faces those are carried
    less = [zone(1, range(4), strip), zones[1]]
    assert shared_kinds(measures, less, kind, whole)[12] == (2, 2, 7)


def test_zones_of_one_group_and_repeat_may_be_copies() -> None:
    strip = symmetry("frieze", "p1")
    one = zone(1, [1], strip)

    def longer(share):
        basis = strip.lattice.basis * share
        return zone(2, [2], replace(strip, lattice=Lattice(basis, "line")))

    assert [_comparable(one, longer(s)) for s in (1.0, 1.029, 1.032)] == [
        True,
        True,
        False,
    ]
    assert _comparable(one, longer(-1.0))
    five = zone(1, [1], symmetry("rosette", "C5"))
    assert _comparable(five, zone(2, [2], symmetry("rosette", "C5")))
    assert not _comparable(five, zone(2, [2], symmetry("rosette", "C7")))


def test_corners_of_rectangles_about_each_other_are_told() -> None:
    # two bands side by side, as far apart along as across
    inner = [(x, y) for x in (-30, 30) for y in (-20, 20)]
    outer = [(x, y) for x in (-45, 45) for y in (-35, 35)]

    def told(points):
        return stand_in_corners(
            spots(points), [np.array([k]) for k in range(len(points))]
        )

    assert told(inner)
    assert told(inner + outer)
    assert not told(inner[:3])
    assert not told([(x, y) for x in (-45, 45) for y in (-30, 30)] + inner)
    assert not told([(-30, 0), (30, 0), (0, -20), (0, 20)])
    # each may stand off by a tenth of the root of a part's area of 16 mm²
    for off, corners in ((0.3, True), (0.6, False)):
        assert told([*inner[:3], (30 + off, 20)]) is corners


def test_outlines_lie_as_operations_lay_them() -> None:
    pose = np.array([[0.2 + 0.1j, 0.05j, 0.1]])
    turn = laid_by(pose, rotation(0.7))
    assert np.allclose(turn, pose * np.exp(0.7j * np.array([1, 2, 3])))
    # a mirror at an angle: conjugate, then turned by twice that
    assert np.allclose(
        laid_by(pose, reflection(0.3)), pose.conj() * np.exp(0.6j * np.array([1, 2, 3]))
    )
    none = np.zeros(1)
    for k, most in enumerate((0.03, 0.05, 0.08)):
        for off, told in ((most - 1e-6, True), (most + 1e-6, False)):
            other = pose.copy()
            other[0, k] += 1j * off
            assert same_pose(pose, other, none).tolist() == [told]
            assert same_pose(pose, other, none + 2e-6).tolist() == [True]


def test_the_two_shortest_shifts_that_are_not_in_line() -> None:
    rows = np.array([[30.0, 0], [10, 0], [20, 0], [0, 25], [9.9, 1.9], [10, 2.2]])
    assert _shortest_two(rows[:3]) is None
    assert _shortest_two(rows[:4]).tolist() == [[10, 0], [0, 25]]
    # slanted by more than a sine of 0.2
    assert _shortest_two(rows[[1, 4, 3]]).tolist() == [[10, 0], [0, 25]]
    assert abs(np.linalg.det(_shortest_two(rows[[1, 5, 3]]))) == pytest.approx(22)


def test_cells_are_four_like_faces_at_their_corners() -> None:
    # a square of four faces, and one to its right that no cell holds
    points = [(0, 0), (10, 0), (0, 10), (10, 10), (20, 20)]
    measures = spots(points)
    lines = np.array([[10.0, 0], [0, 10], [10, 10], [10, -10]])
    drawing = SimpleNamespace(tolerance=EXACT)
    onto = onto_by(drawing, measures, np.arange(5), lines)
    assert onto[0].tolist() == [[1, -1, 3, -1, -1], [-1, 0, -1, 2, -1]]
    assert onto[3].tolist() == [[-1, -1, 1, -1, -1], [-1, 2, -1, -1, -1]]
    assert in_cells(onto[:, 0]).tolist() == [True] * 4 + [False]
    row = spots([(10 * k, 0) for k in range(5)])
    assert not in_cells(onto_by(drawing, row, np.arange(5), lines)[:, 0]).any()
    hits = onto[:, 0]
    assert _in_most_cells(hits[:2], lines[:2]).tolist() == [True] * 4 + [False]
    assert not _in_most_cells(hits[:1], lines[:1]).any()
    # shifts in line make no cells
    assert not _in_most_cells(hits[[0, 0]], np.array([[10.0, 0], [20, 1]])).any()
    # a face that lies another way is none of the like ones
    turned = spots(points)
    turned.pose[1, 0] = 0.2
    assert onto_by(drawing, turned, np.arange(5), lines[:1])[0, 0].tolist() == [
        -1,
        -1,
        3,
        -1,
        -1,
    ]


def test_the_share_of_faces_that_shifts_carry() -> None:
    drawing = SimpleNamespace(tolerance=EXACT)
    square = spots([(10 * i, 10 * j) for i in range(3) for j in range(3)] + [(90, 90)])
    both = 10 * np.eye(2)
    assert share_carried(drawing, square, np.arange(10), both, 0.0) == 0.9
    assert share_carried(drawing, square, np.arange(10), both[:1], 0.0) == 0.9
    # a row shows one shift of two
    row = spots([(10 * k, 0) for k in range(6)])
    assert share_carried(drawing, row, np.arange(6), both[:1], 0.0) == 1
    assert share_carried(drawing, row, np.arange(6), both, 0.0) == 0
    # a quarter must be carried along two lines: four of a square among 16, or 17
    for more, share in ((12, 4 / 16), (13, 0.0)):
        some = [(0, 0), (10, 0), (0, 10), (10, 10)]
        some += [(200 + 50 * k, 30 * k) for k in range(more)]
        told = share_carried(drawing, spots(some), np.arange(len(some)), both, 0.0)
        assert told == share


def test_shifts_are_voted_for_by_pairs_of_like_faces() -> None:
    rng = np.random.default_rng(1)
    i, j = (k.ravel() for k in np.mgrid[:7, :7])
    # votes for each fall on both sides of where cells of 0.6 mm meet
    basis = np.array([[12.3, 0.9], [-2.1, 14.1]])
    points = np.column_stack([i, j]) @ basis + 0.02 * rng.standard_normal((49, 2))
    measures = spots(points)
    marks = marks_of_faces(measures, np.arange(49), quotient_of(NOTHING), 0.0)
    found = _voted(marks, measures.pose)
    along = found @ np.linalg.inv(basis)
    assert np.abs(along - np.rint(along)).max() < 0.01
    # the two shortest, and each once of a pair of opposite ones
    assert {(1, 0), (0, -1)} <= {
        tuple(v) for v in np.rint(along[:4]).astype(int).tolist()
    }
    whole = [tuple(v) for v in np.rint(along).astype(int).tolist()]
    assert len(set(whole)) == len(whole)
    assert not any((-a, -b) in whole for a, b in whole)
    assert (found[:, 0] > -1e-9).all()
    unlike = spots([(0, 0), (30, 0)], [4, 9])
    marks = marks_of_faces(unlike, np.arange(2), quotient_of(NOTHING), 0.0)
    assert len(_voted(marks, unlike.pose)) == 0


def squares_at(points, side=8.0) -> SimpleNamespace:
    boxes = np.array(
        [
            shapely.box(x - side / 2, y - side / 2, x + side / 2, y + side / 2)
            for x, y in points
        ]
    )
    return SimpleNamespace(tolerance=EXACT, polygons=lambda faces: boxes[faces])


def test_a_further_shift_carries_most_faces_or_few() -> None:
    none, rails = np.zeros((0, 2)), np.zeros(2)
    row = [(10 * k, 0) for k in range(9)]
    faces = np.arange(9)
    drawing, measures = squares_at(row), spots(row)
    assert share_shifted(drawing, measures, faces, none, 0.0, rails) == 1
    # the shift that is known is no further one
    known = np.array([[10.0, 0]])
    assert share_shifted(drawing, measures, faces, known, 0.0, rails) == 0
    # a third of the strip's height is more than it may move across
    aslant = [(10 * k, 3 * k) for k in range(9)]
    drawing, measures = squares_at(aslant), spots(aslant)
    for high, share in ((24.0, 1.0), (16.0, 0.0)):
        across = np.array([0, 1 / high])
        told = share_shifted(drawing, measures, faces, none, 0.0, across)
        assert told == share
    # pairs of which one is carried to the other, and that no farther: a region is there
    pairs = [(x + 30 * k, 0) for k in range(4) for x in (0, 9, 19.5)]
    drawing, measures = squares_at(pairs), spots(pairs, [4, 4, 6] * 4)
    known = np.array([[30.0, 0]])
    told = share_shifted(drawing, measures, np.arange(12), known, 0.0, rails)
    # but for that at the end, beyond which nothing lies
    assert told == pytest.approx(1 / 12)
    # two rows of which one lies half a repeat on: a shift that carries both on
    rows = [
        (x + 30 * k, y)
        for k in range(4)
        for x, y in ((0, 0), (15, 0), (0, 20), (15, 20))
    ]
    drawing, measures = squares_at(rows), spots(rows)
    told = share_shifted(drawing, measures, np.arange(16), known, 0.0, rails)
    assert told == 1


def test_isometries_are_fitted_told_and_kept_once() -> None:
    rng = np.random.default_rng(2)
    points = rng.uniform(0, 50, (9, 2))
    for mirrored, linear in ((False, rotation(1.1)), (True, reflection(0.3))):
        there = points @ linear.T + [4, 7]
        found = _fitted(points, there, mirrored)
        assert np.allclose(found.linear, linear)
        assert np.allclose(found.shift, [4, 7])
        # noise that is even all round is met half way
        found = _fitted(
            np.vstack([points] * 2), np.vstack([there - 0.2, there + 0.2]), mirrored
        )
        assert np.allclose(found.linear, linear)
        assert np.allclose(found.shift, [4, 7])
    assert np.allclose(_Isometry(True, np.exp(0.6j), None).linear, reflection(0.3))
    assert np.allclose(_Isometry(False, np.exp(0.6j), None).linear, rotation(0.6))
    quotient = quotient_of(symmetry("plane", "p4"))
    square = 6.0
    probes = np.array([[5.0, 5], [0, 0], [40, 0]])
    centre = np.array([20.0, -30])
    for turn, off, near, told in (
        (math.pi / 2, 0.0, 1e-9, True),
        (math.pi / 2, 0.5, 0.49, False),
        (math.pi / 2, 0.5, 0.51, True),
        (math.pi / 2, square, 1e-9, True),
        (math.pi, -3 * square, 1e-9, True),
        (2.0, 0.0, 0.1, False),
    ):
        linear = rotation(turn)
        shift = centre - linear @ centre + [off, 0]
        isometry = _Isometry(False, complex(np.exp(1j * turn)), shift)
        assert _is_known(quotient, isometry, probes, near) is told
    mirror = _Isometry(True, 1 + 0j, np.zeros(2))
    assert not _is_known(quotient, mirror, probes, 0.1)
    pose = np.array([[0.3, 0.1j, 0.2], [0.3j, -0.1j, -0.2j], [0.3, -0.1j, 0.2]])
    spin = np.array([1j, 1.0])
    off = _turned_off(pose, 0, np.array([1, 0]), False, spin)
    assert off == pytest.approx([0, 0], abs=1e-12)
    assert _turned_off(pose, 0, np.array([2]), True, spin[1:]) == pytest.approx([0])
    assert _turned_off(pose, 0, np.array([2]), False, spin[1:]) == pytest.approx([0.2])
    # isometries that do the same over a zone are tried once
    marks = SimpleNamespace(size=np.array([10.0, 10, 10]))
    some = [
        (0, 1.0, False, 1 + 0j, 60 + 50j),
        (1, 0.5, False, 1 + 0j, 60.5 + 50j),
        (1, 0.6, True, 1 + 0j, 60 + 50j),
        (1, 0.7, False, 1j, 60 + 50j),
        (1, 0.8, False, 1 + 0j, 66 + 50j),
    ]
    kept = _once_each(some, 50 + 50j, 100.0, marks)
    assert [(k.mirrored, k.spin) for k in kept] == [
        (False, 1),
        (True, 1),
        (False, 1j),
        (False, 1),
    ]
    assert np.allclose([k.shift for k in kept], [[10, 0], [10, 100], [110, 0], [16, 0]])


STRIP = symmetry("frieze", "p2mm")
MORE = symmetry("frieze", "p2mg")


def test_operations_of_strips_have_their_names() -> None:
    assert [_name_of(STRIP, o) for o in STRIP.operations[1:]] == [
        "turn",
        "flip",
        "mirror",
    ]
    assert [_name_of(MORE, o) for o in MORE.operations[1:]] == ["turn", "flip", "glide"]
    for names, found, short in (
        (("turn",), STRIP, "p2"),
        (("flip",), STRIP, "p1m1"),
        (("mirror",), STRIP, "p11m"),
        (("glide",), MORE, "p11g"),
        ((), MORE, "p1"),
    ):
        told = replace(found, candidates=(Candidate(found.group.short, 1.0, 0.0),))
        held = [
            o
            for o in told.operations
            if _name_of(told, o) in names or o.kind == "identity"
        ]
        less = _subgroup(told, held)
        assert less.group.short == short
        assert less.operations == tuple(held)
        assert [c.group for c in less.candidates] == [short, found.group.short]
        assert less.candidates[1].reason == f"its regions keep {short} alone"
        # a centre of the turn, or a point on the axis
        x, y = np.array(less.centre)
        for operation in held:
            a, b, c, d, e, f = operation.map
            moved = np.array([a * x + c * y + e - x, b * x + d * y + f - y])
            if operation.kind == "glide":
                along = found.lattice.basis[0]
                assert moved @ [-along[1], along[0]] == pytest.approx(0, abs=1e-9)
            else:
                assert np.allclose(moved, 0, atol=1e-9)
    assert _subgroup(told, list(STRIP.operations[:3])) is None
    assert _centre_of(STRIP, list(STRIP.operations[:1])) == STRIP.centre


def along_x(short: str, step: float, centre) -> Symmetry:
    """Return a frieze group along x with a repeat about a centre."""
    x, y = centre
    maps = {
        "turn": Operation((-1.0, 0.0, 0.0, -1.0, 2 * x, 2 * y), "rotation", 2),
        "flip": Operation((-1.0, 0.0, 0.0, 1.0, 2 * x, 0.0), "reflection", 2),
        "mirror": Operation((1.0, 0.0, 0.0, -1.0, 0.0, 2 * y), "reflection", 2),
    }
    needs = {"p1": (), "p2": ("turn",), "p2mm": ("turn", "flip", "mirror")}[short]
    own = Operation((1.0, 0.0, 0.0, 1.0, 0.0, 0.0), "identity", 1)
    return Symmetry(
        frieze_group(short),
        Lattice(np.array([[step, 0.0]]), "line"),
        centre,
        (own, *(maps[n] for n in needs)),
    )


def test_a_strip_is_laid_in_its_middle() -> None:
    drawing = grid(np.arange(0.0, 91, 10), [0.0, 10])
    faces = np.arange(1, 10, dtype=np.int32)
    off = along_x("p2mm", 10.0, (45.0, 4.0))
    middle = _in_the_middle(drawing, faces, off)
    assert middle.centre == (45, 5)
    points = np.array([[45.0, 5], [45, 8]])
    for one, other in zip(middle.operations, off.operations, strict=True):
        assert one.map[:4] == other.map[:4]
        a, b, c, d, e, f = one.map
        moved = points @ np.array([[a, b], [c, d]]) + (e, f)
        assert moved[:, 1].tolist() in ([5, 8], [5, 2])
    # a tenth of its height lies beside the middle, 0.03 of it does not
    assert _lies_beside(drawing, faces, off, middle)
    for low, told in ((4.65, True), (4.75, False)):
        other = along_x("p2mm", 10.0, (45.0, low))
        assert _lies_beside(drawing, faces, other, middle) is told
    assert not _lies_beside(drawing, faces, replace(off, residual=0.8), middle)
    assert not _lies_beside(drawing, faces, replace(off, centre=None), middle)
    measures = measure_faces(drawing)
    told = shares_kept(drawing, measures, faces, faces, middle)
    assert told.tolist() == [1, 1, 1, 1]
    # squares lie 2 mm off under a half turn about (45, 4): half the radius is 2.5 mm
    assert shares_kept(drawing, measures, faces, faces, off).tolist() == [1, 1, 1, 1]
    far = along_x("p2mm", 10.0, (45.0, 3.7))
    assert shares_kept(drawing, measures, faces, faces, far).tolist() == [1, 0, 1, 0]
    # halves of squares, cut aslant, turn and are not mirrored
    diagonals = [tuple(map(float, (10 * k, 0, 10 * k + 10, 10))) for k in range(9)]
    cut = grid(np.arange(0.0, 91, 10), [0.0, 10], *(line(*d) for d in diagonals))
    faces = np.arange(1, cut.face_count, dtype=np.int32)
    told = shares_kept(cut, measure_faces(cut), faces, faces, middle)
    assert told.tolist() == [1, 1, 0, 0]


def test_outlines_may_lie_apart_by_what_lines_stray() -> None:
    # nine in a row, of which the first lies aslant: twice the stray over a size of 4 mm
    measures = spots([(10.0 * k, 0) for k in range(9)])
    measures.pose[0, 0] = 0.1
    faces = np.arange(9, dtype=np.int32)
    drawing = SimpleNamespace(tolerance=EXACT)
    found = along_x("p2", 200.0, (40.0, 0.0))
    for stray, share in ((0.13, 7 / 9), (0.15, 1.0)):
        told = replace(found, residual=stray)
        kept = shares_kept(drawing, measures, faces, faces, told)
        assert kept.tolist() == [1, share]


def test_some_repeats_stand_for_all_of_a_large_field() -> None:
    i, j = (k.ravel() for k in np.mgrid[:60, :60])
    measures = spots(10.0 * np.column_stack([i, j]))
    faces = np.arange(3600, dtype=np.int32)
    basis = 10 * np.eye(2)
    quotient = quotient_of(
        replace(symmetry("plane", "p1"), lattice=Lattice(basis, "square"))
    )
    some = _some_repeats(measures, faces, quotient)
    # every 24th of 3600 repeats
    assert 130 <= len(some) <= 170
    assert len(_some_repeats(measures, faces[:150], quotient)) == 150
    assert len(_some_repeats(measures, faces, quotient_of(NOTHING))) == 3600


ROUND = grid([5.0, 35, 65, 95], [5.0, 35, 65, 95])
NINE = np.arange(1, 10, dtype=np.int32)


def about(n, mirror=None, centre=(50.0, 50), residual=0.0, reason="") -> Symmetry:
    fit = RosetteFit(n, mirror, np.array(centre), 0, 1.0, residual, reason)
    return rosette_symmetry(fit)


def test_faces_that_turn_and_outlines_that_are_kept() -> None:
    measures = measure_faces(ROUND)
    four = about(4, 0.0)
    assert turned_faces(ROUND, measures, NINE, four).all()
    assert keeps_outline(ROUND, NINE, four).all()
    assert keeps_outline(ROUND, NINE, about(8)).tolist() == [True, False] * 4
    # without one corner three of the others are carried onto nothing
    some = NINE[~np.isin(NINE, cells(ROUND, 5, 5, 35, 35))]
    turned = turned_faces(ROUND, measures, some, about(4))
    assert turned.sum(axis=1).tolist() == [7, 7, 7]
    assert not turned.all(axis=1).any()
    assert keeps_outline(ROUND, some, about(4)).tolist() == [True, False, False, False]
    assert keeps_outline(ROUND, some, about(1, math.pi / 4)).tolist() == [True, True]
    # what has a hole is no such piece
    ring = NINE[~np.isin(NINE, cells(ROUND, 35, 35, 65, 65))]
    assert not keeps_outline(ROUND, ring, four).any()
    # 0.002 of 90 mm along an outline of 360 mm are 65 mm²: shifted by 0.3 and 0.5 mm
    for off, kept in ((0.3, True), (0.5, False)):
        moved = about(2, None, (50 + off / 2, 50))
        assert keeps_outline(ROUND, NINE, moved).tolist() == [True, kept]


def test_a_centre_on_the_rim_is_where_faces_end() -> None:
    measures = measure_faces(ROUND)
    # a quarter of 30 mm
    for x, told in (
        (5.0, True),
        (12.4, True),
        (12.6, False),
        (-2.4, True),
        (-2.6, False),
    ):
        assert ends_at(ROUND, measures, NINE, (x, 50.0)) is told


def test_a_frame_that_turns_about_nothing_is_hollow() -> None:
    drawing = grid([0.0, 20, 80, 100], [0.0, 20, 80, 100])
    field = cells(drawing, 20, 20, 80, 80)
    ring = np.setdiff1d(np.arange(1, 10), field).astype(np.int32)
    measures = measure_faces(drawing)
    # corners of 20 mm and sides of √1200 = 34.6 mm, whose median is 27.3 mm; 30 away
    assert _is_hollow(drawing, measures, ring, about(2, 0.0))
    assert not _is_hollow(drawing, measures, ring, about(4, 0.0))
    assert not _is_hollow(drawing, measures, np.arange(1, 10), about(2, 0.0))
    assert not _is_hollow(drawing, measures, ring, about(2, None, (44.0, 50)))


def test_few_regions_that_do_not_turn_along_cast_doubt() -> None:
    measures = measure_faces(ROUND)
    assert with_doubt_of_few(ROUND, measures, NINE, about(4)).certain
    less = NINE[~np.isin(NINE, cells(ROUND, 5, 35, 35, 95))]
    told = with_doubt_of_few(ROUND, measures, less, about(2))
    # of seven the middle, and two pairs of which both are there
    assert not told.certain
    assert "carries 71 % of the regions" in told.reason
    for known in (symmetry("plane", "p4"), about(2, reason="few"), NOTHING):
        assert with_doubt_of_few(ROUND, measures, less, known) is known


def test_figures_in_a_ground_turn_as_their_outline_does() -> None:
    at = [(50 + x, 50 + y) for x, y in ((20, 0), (-20, 0), (0, 20), (0, -20))]
    discs = [circle(x, y, 8) for x, y in at]
    drawing = grid([10.0, 90], [10.0, 90], *discs)
    measures = measure_faces(drawing)
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    found = turned_in_ground(drawing, measures, faces)
    assert (found.group.short, found.centre) == ("D4", (50, 50))
    # 0.06 of the root of its area, 14.2 mm: 0.85 mm
    for off, short in ((0.7, "D4"), (1.0, None)):
        moved = [circle(50 + 20 + off, 50, 8), *(circle(x, y, 8) for x, y in at[1:])]
        other = grid([10.0, 90], [10.0, 90], *moved)
        told = turned_in_ground(other, measure_faces(other), faces)
        assert (told and told.group.short) == short
        if told:
            assert told.residual == pytest.approx(off, abs=1e-6)
    # a rectangle has no quarter turns; nor is a grid of squares one ground
    long = grid([10.0, 91], [10.0, 90], *discs)
    assert turned_in_ground(long, measure_faces(long), faces) is None
    assert turned_in_ground(ROUND, measure_faces(ROUND), NINE) is None
    assert turned_in_ground(drawing, measures, faces[:1]) is None
    # a square whose sides bulge: its corner is the farthest point, and not the first
    # that is nearly as far
    side = np.linspace(-40, 40, 17)
    bulge = [(x, -40 - 6 * math.cos(x * math.pi / 80)) for x in side[:-1]]
    ring = np.vstack([np.array(bulge) @ rotation(k * math.pi / 2).T for k in range(4)])
    ring = np.roll(ring, 3, axis=0) + 50
    rows = [line(*p, *q) for p, q in zip(ring, np.roll(ring, -1, axis=0), strict=True)]
    work = linework_from_curves([*rows, *discs], has_page=False)
    bulging = build_arrangement(work, close_gaps=0.0)
    told = turned_in_ground(bulging, measure_faces(bulging), faces)
    assert told.group.short == "D4"
    mirror = next(o for o in told.operations if o.kind == "reflection")
    assert np.abs(np.array(mirror.map[:4])).max() == pytest.approx(1)
    # discs of unlike sizes are carried onto none of their like
    uneven = grid([10.0, 90], [10.0, 90], circle(70, 50, 8.3), *discs[1:])
    assert turned_in_ground(uneven, measure_faces(uneven), faces) is None


def test_shifts_hold_faces_where_their_images_are_inner_faces() -> None:
    step = np.arange(0.0, 81, 10)
    drawing = grid(step, step)
    measures = measure_faces(drawing)
    faces = np.arange(1, 65, dtype=np.int32)

    def square(side):
        basis = np.diag([side, side])
        return replace(symmetry("plane", "p1"), lattice=Lattice(basis, "square"))

    assert share_held(drawing, measures, faces, square(10.0)) == 1
    assert share_held(drawing, measures, faces, NOTHING) is None
    # 4 mm beside a square lies none that is like it, within half of its radius
    assert share_held(drawing, measures, faces, square(14.0)) == 0
    assert share_held(drawing, measures, faces, square(12.4)) == 1
    # of six rows of inner faces one is left beyond a shift of 50 mm: too few are asked
    assert share_held(drawing, measures, faces, square(50.0)) is None
    rest = cells(drawing, 0, 0, 40, 80)
    assert share_held(drawing, measures, faces, square(10.0), rest) == 1
    assert may_hold(drawing, measures, faces, rest, square(10.0))
    # of two inner squares each is carried onto the other
    small = grid(step[:5], step[:4])
    twelve = np.arange(1, 13, dtype=np.int32)
    told = share_held(small, measure_faces(small), twelve, square(10.0), twelve)
    assert told == 1
    # twelve times as far nothing can be asked, and no strip of a frame is among it
    assert may_hold(drawing, measures, faces, rest, square(120.0))
    assert not may_hold(drawing, measures, faces, rest, NOTHING)


def test_what_is_cut_through_its_centre_may_turn_more_often() -> None:
    # three rows of a square grid about a point on its lower side
    step = np.arange(-30.0, 31, 10) + 50
    drawing = grid(step, step[3:])
    measures = measure_faces(drawing)
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    half = about(2, None, (50.0, 50))
    assert _asked(drawing, measures, faces, about(2, None, (50.0, 65))) is None
    asked = _asked(drawing, measures, faces, half)
    # a half turn carries them all beyond the cut
    assert not asked.any()
    more = turning_more(drawing, measures, faces, half)
    assert (more.group.short, more.certain) == ("C4", False)
    assert more.candidates[0].fit == 1
    assert turning_more(drawing, measures, faces, about(2, None, (50.0, 65))) is None
    # of regions off the cut six tenths must turn: where two squares of one side are
    # halved 11 of 14 do, the halves and one that would fall on them do not; of four 8
    # of 16
    for count, group in ((2, "C4"), (4, None)):
        at = [(50.0, 50.0), (60.0, 50.0), (70.0, 60.0), (50.0, 70.0)][:count]
        cuts = [line(x, y, x + 10, y + 10) for x, y in at]
        other = grid(step, step[3:], *cuts)
        every = np.arange(1, other.face_count, dtype=np.int32)
        more = turning_more(other, measure_faces(other), every, half)
        assert (more and more.group.short) == group
        if more:
            assert more.candidates[0].fit == pytest.approx(11 / 14)
    strange, some = strangers(drawing, measures, faces, about(4, None, (50.0, 50)))
    # a quarter turn to the left and one to the right carry half of them each
    assert not strange.any()
    assert not some.any()
    whole = measure_faces(ROUND)
    less = NINE[~np.isin(NINE, cells(ROUND, 35, 5, 65, 35))]
    strange, some = strangers(ROUND, whole, less, about(4))
    # of each of the three other sides two of three images are there
    assert not strange.any()
    strange, some = strangers(
        ROUND, whole, less[~np.isin(less, cells(ROUND, 5, 35, 35, 65))], about(4)
    )
    sides = np.flatnonzero(strange)
    assert len(sides) == 2
    assert not some.any()


def test_parts_of_a_strip_are_measured_along_and_across() -> None:
    drawing = grid([0.0, 20, 40, 60], [0.0, 20])
    faces = np.arange(1, 4, dtype=np.int32)
    assert _span(drawing, faces) == pytest.approx(60)
    assert _filled(drawing, faces) == pytest.approx(1)
    assert _span(drawing, faces[:1]) == pytest.approx(20, rel=0.5)
    bent = grid([0.0, 20, 40], [0.0, 20, 40])
    three = np.arange(1, 5, dtype=np.int32)[:3]
    # an L of three squares in a hull of three and a half
    assert _filled(bent, three) == pytest.approx(3 / 3.5)
    strip = symmetry("frieze", "p1")
    along = replace(strip, lattice=Lattice(np.array([[20.0, 0]]), "line"))
    up = replace(strip, lattice=Lattice(np.array([[0.0, 20]]), "line"))
    assert _with_doubt_across(drawing, faces, along) is along
    told = _with_doubt_across(drawing, faces, up)
    assert told.reason.startswith("it reaches farther across than along")
    assert _with_doubt_across(drawing, faces, NOTHING) is NOTHING


def test_the_ground_of_figures_is_left_out() -> None:
    drawing = grid([0.0, 60], [0.0, 60], circle(20, 30, 8), circle(40, 30, 8))
    faces = np.arange(1, 4, dtype=np.int32)
    figures = _without_ground(drawing, faces)
    assert drawing.area[figures] == pytest.approx([64 * math.pi] * 2, rel=0.01)
    halves = grid([0.0, 29, 60], [0.0, 60], circle(75, 30, 8))
    three = np.arange(1, 4, dtype=np.int32)
    # 1860 of 3801 mm² are less than a half
    assert _without_ground(halves, three) is three


def test_regions_nearly_alike_come_in_threes() -> None:
    measures = measures_of(
        [10, 10.05, 10.1, 14, 14.1, 20], [40, 40.1, 40.2, 56, 56, 80]
    )
    faces = np.arange(6, dtype=np.int32)
    assert nearly_alike(measures, faces).tolist() == [0, 1, 2]
    # of one size, but longer round
    measures = measures_of([10, 10, 10], [40, 40, 44])
    assert len(nearly_alike(measures, faces[:3])) == 0


def test_a_wide_empty_middle_is_framed() -> None:
    step = [0.0, 10, 20, 80, 90, 100]
    drawing = grid(step, step)
    faces = np.arange(1, drawing.face_count, dtype=np.int32)
    # 3600 of 10000 mm² amid 24 others
    assert _frames_nothing(drawing, faces, about(4, 0.0))
    assert not _frames_nothing(drawing, faces[:15], about(4, 0.0))
    assert not _frames_nothing(drawing, faces, replace(about(4), centre=None))
    assert not _frames_nothing(drawing, faces, about(4, 0.0, (15.0, 15)))
    step = [0.0, 10, 22, 78, 90, 100]
    narrow = grid(step, step)
    # 3136 of 10000 mm² are less than a third
    assert not _frames_nothing(narrow, faces, about(4, 0.0))


def test_a_symmetry_is_carried_over_to_a_copy() -> None:
    linear, shift = rotation(math.pi / 2), np.array([100.0, 20])
    strip = symmetry("frieze", "p2")
    there = _carried(strip, linear, shift)
    assert np.allclose(there.centre, linear @ strip.centre + shift)
    assert np.allclose(there.lattice.basis, strip.lattice.basis @ linear.T)
    for one, other in zip(there.operations, strip.operations, strict=True):
        a, b, c, d, e, f = other.map
        point = np.array([3.0, 4])
        moved = np.array([a * 3 + c * 4 + e, b * 3 + d * 4 + f])
        a, b, c, d, e, f = one.map
        x, y = linear @ point + shift
        assert np.allclose(
            (a * x + c * y + e, b * x + d * y + f), linear @ moved + shift
        )
    bare = _carried(replace(symmetry("rosette", "C3"), centre=None), linear, shift)
    assert bare.centre is None
    assert bare.lattice is None
    points = np.array([[0, 0], [10, 3], [20, 0], [31, 5]], float)
    measures = spots(np.vstack([points, points @ linear.T + shift]), [4, 5, 6, 7] * 2)
    five = symmetry("rosette", "C5")
    parts = [Part(np.arange(4, dtype=np.int32), five)]
    drawing = SimpleNamespace(tolerance=EXACT)
    onto = np.arange(4, 8, dtype=np.int32)
    found = copied_symmetry(drawing, measures, onto, parts)
    assert found.group.short == "C5"
    assert np.allclose(found.centre, linear @ five.centre + shift)
    assert copied_symmetry(drawing, measures, onto[:3], parts) is None
    none = [Part(parts[0].faces, Symmetry(NO_GROUP))]
    assert copied_symmetry(drawing, measures, onto, none) is None


def test_a_strip_goes_on_in_faces_that_lie_a_repeat_on() -> None:
    strip = replace(
        symmetry("frieze", "p1"), lattice=Lattice(np.array([[30.0, 0]]), "line")
    )
    points = [(0, 0), (30, 0), (60.15, 0), (0, 9), (60, 30)]
    measures = spots(points, [4, 4, 4, 2, 2])
    own = Part(np.array([0, 1], np.int32), strip)
    # 0.05 of a size of 4 mm
    assert _goes_on(measures, np.array([2]), own)
    far = spots([*points[:2], (60.25, 0)])
    assert not _goes_on(far, np.array([2]), own)
    # a small one beside the largest is not asked
    assert _goes_on(measures, np.array([2, 4]), own)
    assert not _goes_on(measures, np.array([4]), own)
    assert not _goes_on(measures, np.array([2]), Part(own.faces, NOTHING))
    back = spots([(30, 0), (60, 0), (0, 0)])
    assert _goes_on(back, np.array([2]), own)


def test_faces_go_to_the_part_that_they_share_most_edges_with() -> None:
    left, right = cells(ROUND, 5, 5, 35, 95), cells(ROUND, 65, 5, 95, 95)
    parts = [Part(left, NOTHING), Part(right, NOTHING)]
    middle = cells(ROUND, 35, 5, 65, 95)
    assert _beside_most(ROUND, middle, parts) is parts[0]
    wide = np.sort(np.concatenate([right, cells(ROUND, 35, 65, 65, 95)]))
    parts[1].faces = wide
    assert _beside_most(ROUND, cells(ROUND, 35, 35, 65, 65), parts) is parts[1]
    assert _beside_most(ROUND, left, [Part(right, NOTHING)]) is None
    assert _beside_most(ROUND, left, []) is None
