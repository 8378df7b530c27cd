"""Kinds of regions under known groups."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.groups import NO_GROUP
from fillwork.symmetry.kinds.orbits import find_orbits, letters
from fillwork.symmetry.model import MATCHES, Group, Lattice, Operation, Symmetry, Zone
from fillwork.symmetry.zones.find import find_zones
from fillwork.tolerance import Tolerance
from tests.unit.helpers import linework_from_segments, polyline
from tests.unit.symmetry.cells import SPACE_GROUPS, agreement, make_cells
from tests.unit.symmetry.strips import rosette_pattern


def _arrange(segments, width=100.0, height=100.0):
    work = linework_from_segments(segments, width, height, has_page=False)
    # nothing is mended: what the frame leaves of a face stays as it is
    return build_arrangement(work, Tolerance(1e-4, 0.0, 0.01))


def _all_faces(arrangement, symmetry):
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    return (Zone(1, faces, symmetry),)


def _turns_about(centre, order, mirrored=True):
    out = []
    for flip in (1.0, -1.0) if mirrored else (1.0,):
        for k in range(order):
            c, s = np.cos(2 * np.pi * k / order), np.sin(2 * np.pi * k / order)
            linear = np.array([[c, -s], [s, c]]) @ np.diag([1.0, flip])
            move = np.array(centre) - linear @ np.array(centre)
            numbers = (*linear.T.ravel(), *move)
            kind = "identity" if flip > 0 and k == 0 else "rotation"
            out.append(Operation(tuple(float(v) for v in numbers), kind, order))
    return tuple(out)


def _grid(n=6, cell=10.0, extra=()):
    """Return a square grid with a cross line in each cell, and its p4m group."""
    at = cell * np.arange(n + 1)
    full = cell * n
    lines = [(0, y, full, y) for y in at] + [(x, 0, x, full) for x in at]
    for i in range(n):
        for j in range(n):
            c = np.array([cell * (i + 0.5), cell * (j + 0.5)])
            diamond = c + 0.3 * cell * np.array([[1, 0], [0, 1], [-1, 0], [0, -1]])
            lines += polyline(diamond, closed=True).tolist()
    lines += list(extra)
    symmetry = Symmetry(
        Group("plane", "p4m", "p4mm", "*442", "D4"),
        Lattice(cell * np.eye(2), "square"),
        (cell / 2, cell / 2),
        _turns_about((cell / 2, cell / 2), 4),
    )
    return np.array(lines), symmetry


@pytest.mark.parametrize("name", list(SPACE_GROUPS))
@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_cells_of_known_orbits(name: str, noise: float) -> None:
    rng = np.random.default_rng(sum(map(ord, name)))
    pattern = make_cells(name, rng, repeats=9, noise=noise)
    arrangement = _arrange(pattern.segments)
    orbits = find_orbits(arrangement, _all_faces(arrangement, pattern.symmetry))
    truth, cut = pattern.truth(arrangement)
    right = agreement(truth, orbits.of_face[1:])
    assert right[~cut].all()
    assert right[cut].mean() >= (1.0 if noise == 0 else 0.9)
    if noise == 0:
        assert np.array_equal(orbits.cut[1:], cut)
        assert len(orbits.orbits) == len(np.unique(truth))
        assert orbits.defects == ()


@pytest.mark.parametrize("name", ["p2", "pgg", "p4g", "p31m", "p6m"])
def test_match_uses_the_subgroup(name: str) -> None:
    rng = np.random.default_rng(1)
    pattern = make_cells(name, rng, repeats=12, general=2, special=0)
    arrangement = _arrange(pattern.segments)
    zones = _all_faces(arrangement, pattern.symmetry)
    by = {m: find_orbits(arrangement, zones, match=m) for m in MATCHES}
    operations = pattern.symmetry.operations
    turns = sum(op.map[0] * op.map[3] - op.map[1] * op.map[2] > 0 for op in operations)
    # a general point has as many images in a cell as there are operations
    assert len(by["all"].orbits) == 2
    assert len(by["turns"].orbits) == 2 * len(operations) // turns
    assert len(by["shifts"].orbits) == 2 * len(operations)
    assert len(by["none"].orbits) == arrangement.face_count - 1
    for match, finer in (("turns", "turns_of_face"), ("shifts", "shifts_of_face")):
        classes = getattr(by["all"], finer)[1:]
        pairs = np.unique(np.column_stack([classes, by[match].of_face[1:]]), axis=0)
        assert len(pairs) == len(by[match].orbits)


@pytest.mark.parametrize("name", ["pg", "cmm", "p4g", "p3m1", "p6"])
def test_operations_carry_the_representative_to_each_face(name: str) -> None:
    rng = np.random.default_rng(2)
    pattern = make_cells(name, rng, repeats=10)
    arrangement = _arrange(pattern.segments)
    zones = _all_faces(arrangement, pattern.symmetry)
    orbits = find_orbits(arrangement, zones)
    basis = pattern.symmetry.lattice.basis
    witness = np.nan_to_num(arrangement.witness)
    for orbit in orbits.orbits:
        polygons = arrangement.polygons(np.array([orbit.representative]))
        middle = np.array(polygons[0].centroid.coords[0])
        for face in orbit.faces[~orbits.cut[orbit.faces]]:
            k = orbits.operation_of_face[face]
            m = pattern.symmetry.operations[k].map
            image = np.array(
                [
                    m[0] * middle[0] + m[2] * middle[1] + m[4],
                    m[1] * middle[0] + m[3] * middle[1] + m[5],
                ]
            )
            here = arrangement.polygons(np.array([face]))[0].centroid.coords[0]
            along = (np.array(here) - image) @ np.linalg.inv(basis)
            assert np.abs(along - np.rint(along)).max() < 1e-3
    assert np.isfinite(witness).all()


def test_moving_the_drawing_changes_nothing() -> None:
    rng = np.random.default_rng(4)
    pattern = make_cells("p4g", rng, repeats=8)
    first = _arrange(pattern.segments)
    order = rng.permutation(len(pattern.segments))
    shuffled = pattern.segments[order].copy()
    shuffled[::2] = shuffled[::2, [2, 3, 0, 1]]
    second = _arrange(shuffled)
    a = find_orbits(first, _all_faces(first, pattern.symmetry))
    b = find_orbits(second, _all_faces(second, pattern.symmetry))
    key = [(o.letter, o.name, len(o.faces), o.cut, o.site_symmetry) for o in a.orbits]
    other = [(o.letter, o.name, len(o.faces), o.cut, o.site_symmetry) for o in b.orbits]
    assert key == other


def test_a_missing_line_breaks_the_symmetry_in_one_place() -> None:
    lines, symmetry = _grid()
    gone = (np.abs(lines - np.array([23.0, 25.0, 25.0, 28.0])).max(axis=1) < 5) & (
        np.abs(lines[:, 0] - lines[:, 2]) > 1e-9
    )
    keep = ~gone
    keep[:14] = True
    assert (~keep).sum() >= 1
    arrangement = _arrange(lines[keep])
    orbits = find_orbits(arrangement, _all_faces(arrangement, symmetry))
    clean = _arrange(lines)
    whole = find_orbits(clean, _all_faces(clean, symmetry))
    assert len(whole.orbits) == 2
    assert whole.defects == ()
    assert [d.type for d in orbits.defects] == ["breaks symmetry"]
    assert np.hypot(orbits.defects[0].at[0] - 25, orbits.defects[0].at[1] - 25) < 8


def test_an_extra_line_leaves_both_parts_in_the_kind() -> None:
    lines, symmetry = _grid(extra=[(22.0, 25.0, 28.0, 25.0)])
    arrangement = _arrange(lines)
    orbits = find_orbits(arrangement, _all_faces(arrangement, symmetry))
    assert len(orbits.orbits) == 2
    assert len(orbits.defects) == 2


def test_a_moved_figure_keeps_its_kind_and_is_reported() -> None:
    lines, symmetry = _grid()
    own = (np.abs(lines - 25.0).max(axis=1) < 4) & (np.arange(len(lines)) >= 14)
    assert own.sum() == 4
    lines[own] += 0.6
    arrangement = _arrange(lines)
    orbits = find_orbits(arrangement, _all_faces(arrangement, symmetry))
    assert len(orbits.orbits) == 2
    assert {d.type for d in orbits.defects} == {"breaks symmetry"}


def test_pieces_get_the_kind_of_a_whole_face_seen_only_mirrored() -> None:
    # a right triangle and its mirror image; only the left one is whole
    triangle = np.array([[2.0, 1.0], [9.0, 1.0], [2.0, 8.0]])
    mirrored = np.array([[18.0, 1.0], [11.0, 1.0], [18.0, 8.0]])
    lines = [polyline(triangle, closed=True)]
    lines.append([[18.0 - 5.0, 1.0, 11.0, 1.0], [11.0, 1.0, 13.0, 3.0], [13, 3, 13, 1]])
    lines.append(polyline([[0, 0], [13, 0], [13, 9], [0, 9]], closed=True))
    arrangement = _arrange(np.vstack(lines), 20, 10)
    mirror = (-1.0, 0.0, 0.0, 1.0, 20.0, 0.0)
    symmetry = Symmetry(
        Group("rosette", "D1", "D1", "*", "D1"),
        centre=(10.0, 5.0),
        operations=(
            Operation((1.0, 0.0, 0.0, 1.0, 0.0, 0.0), "identity", 1),
            Operation(mirror, "reflection", 2),
        ),
    )
    orbits = find_orbits(arrangement, _all_faces(arrangement, symmetry))
    near = np.hypot(*(arrangement.witness[1:] - [12.4, 1.6]).T).argmin() + 1
    left = np.hypot(*(arrangement.witness[1:] - [4.0, 3.0]).T).argmin() + 1
    assert arrangement.area[left] == pytest.approx(24.5, rel=1e-6)
    assert orbits.of_face[near] == orbits.of_face[left]
    assert orbits.cut[near]
    assert not orbits.cut[left]
    assert mirrored.shape == (3, 2)


def test_congruent_faces_without_symmetry() -> None:
    base = np.array([[0.0, 0.0], [7.0, 0.0], [2.0, 4.0]])
    rng = np.random.default_rng(9)
    lines = []
    for k in range(12):
        phi = 0.0 if k < 4 else rng.random() * 6
        turn = np.array([[np.cos(phi), np.sin(phi)], [-np.sin(phi), np.cos(phi)]])
        shape = base * ([1, -1] if k >= 8 else [1, 1])
        at = np.array([20.0 * (k % 4) + 15, 20.0 * (k // 4) + 15])
        lines.append(polyline(shape @ turn + at, closed=True))
    lines.append(polyline([[90, 90], [96, 90], [96, 96], [90, 96]], closed=True))
    arrangement = _arrange(np.vstack(lines))
    zones = _all_faces(arrangement, Symmetry(NO_GROUP))
    count = {m: len(find_orbits(arrangement, zones, match=m).orbits) for m in MATCHES}
    # together; mirrored apart; four unturned, then each of the turned by itself
    wanted = {"all": 2, "turns": 3, "shifts": 10, "none": 13}
    assert count == wanted | {"family": 2, "figure": 2}


@pytest.mark.parametrize("noise", [0.0, 1e-3])
def test_many_equal_and_many_different_faces(noise: float) -> None:
    rng = np.random.default_rng(10)
    base = np.array([[0.0, 0.0], [7.0, 0.0], [2.0, 4.0]])
    equal, different = [], []
    for k in range(400):
        at = np.array([20.0 * (k % 20), 20.0 * (k // 20)])
        phi = rng.random() * 6
        turn = np.array([[np.cos(phi), np.sin(phi)], [-np.sin(phi), np.cos(phi)]])
        move = noise * rng.standard_normal((3, 2))
        equal.append(polyline(base @ turn + move + at, closed=True))
        other = base + 1.2 * rng.random((3, 2))
        different.append(polyline(other @ turn + at, closed=True))
    for lines, kinds in ((equal, 1), (different, 400)):
        arrangement = _arrange(np.vstack(lines), 420, 420)
        orbits = find_orbits(arrangement, _all_faces(arrangement, Symmetry(NO_GROUP)))
        assert abs(len(orbits.orbits) - kinds) <= (0 if kinds == 1 else 2)


def _polyominoes(squares: int) -> set[frozenset[tuple[int, int]]]:
    """Return the fixed polyominoes, each moved to the corner of its box."""
    found = {frozenset({(0, 0)})}
    for _ in range(squares - 1):
        grown = set()
        for shape in found:
            for x, y in shape:
                for cell in ((x + 1, y), (x - 1, y), (x, y + 1), (x, y - 1)):
                    if cell in shape:
                        continue
                    cells = shape | {cell}
                    low = [min(c[k] for c in cells) for k in (0, 1)]
                    grown.add(frozenset((i - low[0], j - low[1]) for i, j in cells))
        found = grown
    return found


def _sides(cells: frozenset[tuple[int, int]]) -> list[list[float]]:
    around = {(0, -1): (0, 0, 1, 0), (1, 0): (1, 0, 1, 1)}
    around |= {(0, 1): (1, 1, 0, 1), (-1, 0): (0, 1, 0, 0)}
    return [
        [x + side[0], y + side[1], x + side[2], y + side[3]]
        for x, y in cells
        for step, side in around.items()
        if (x + step[0], y + step[1]) not in cells
    ]


@pytest.mark.reference(
    "S. W. Golomb, Polyominoes (2nd ed. 1994), ch. 1 and 6: 5 free, 7 one-sided and 19 "
    "fixed tetrominoes; 12, 18 and 63 pentominoes (OEIS A000105, A000988, A001168)"
)
@pytest.mark.parametrize(
    ("squares", "free", "one_sided", "fixed"), [(4, 5, 7, 19), (5, 12, 18, 63)]
)
@pytest.mark.parametrize("noise", [0.0, 1e-3])
def test_polyominoes_alike_under_each_match(
    squares: int, free: int, one_sided: int, fixed: int, noise: float
) -> None:
    rng = np.random.default_rng(squares)
    lines = []
    shapes = sorted(_polyominoes(squares), key=sorted) * 3
    for k, cells in enumerate(shapes):
        corner: dict[tuple[float, float], np.ndarray] = {}
        for side in _sides(cells):
            for end in (tuple(side[:2]), tuple(side[2:])):
                corner.setdefault(end, end + noise * rng.standard_normal(2))
        at = np.array([7.0 * (k % 14), 7.0 * (k // 14)]) + rng.random(2)
        for side in _sides(cells):
            ends = [corner[tuple(side[:2])] + at, corner[tuple(side[2:])] + at]
            lines.append(np.concatenate(ends))
    arrangement = _arrange(np.array(lines), 110, 110)
    zones = _all_faces(arrangement, Symmetry(NO_GROUP))
    count = {m: len(find_orbits(arrangement, zones, match=m).orbits) for m in MATCHES}
    wanted = {"all": free, "turns": one_sided, "shifts": fixed, "none": len(shapes)}
    # like shapes, mirror images too, are the free polyominoes again
    assert count == wanted | {"family": free, "figure": free}


def test_no_face_and_wrong_match() -> None:
    arrangement = _arrange(np.array([[0.0, 0.0, 5.0, 0.0]]))
    assert find_orbits(arrangement, ()).orbits == ()
    with pytest.raises(ValueError, match="match must be one of"):
        find_orbits(arrangement, (), match="some")


def test_letters_run_past_z() -> None:
    assert [letters(k) for k in (0, 25, 26, 51, 52)] == ["A", "Z", "AA", "AZ", "BA"]


def test_a_piece_larger_than_the_whole_region_is_a_kind_of_its_own() -> None:
    # bricks; at the rim a joint is left out, so that two of them are one
    lines = [(0.0, 6.0 * k, 120.0, 6.0 * k) for k in range(11)]
    lines += [(0.0, 0.0, 0.0, 60.0), (120.0, 0.0, 120.0, 60.0)]
    for k in range(10):
        for x in np.arange(6.0 * (k % 2), 120.1, 12.0):
            if (k, x) != (4, 108.0):
                lines.append((x, 6.0 * k, x, 6.0 * k + 6.0))
    arrangement = build_arrangement(
        linework_from_segments(lines, 120, 60, has_page=False)
    )
    orbits = find_orbits(arrangement, find_zones(arrangement))
    double = int(np.argmax(arrangement.area[1:])) + 1
    assert arrangement.area[double] == pytest.approx(2 * 12 * 6)
    assert (orbits.of_face == orbits.of_face[double]).sum() == 1
    # on the rim, where drawings are cut, nobody can say what is missing
    assert orbits.defects == ()


def test_the_outline_of_a_rosette_does_not_cut_it() -> None:
    pattern = rosette_pattern(16, False, 100, noise=0.01)
    moved = pattern.segments - np.tile(pattern.segments.reshape(-1, 2).min(axis=0), 2)
    work = linework_from_segments(moved, 130, 130, has_page=False)
    arrangement = build_arrangement(work, close_gaps=0.0)
    orbits = find_orbits(arrangement, find_zones(arrangement))
    assert not orbits.cut.any()
    # one face lies about the centre, all others sixteen times
    assert sorted(len(o.faces) for o in orbits.orbits) == [1] + 8 * [16]


def test_regions_that_lie_over_each_other_under_shifts_are_told_by_their_form():
    # chords of a circle at random: no region is like another, and translations by a
    # thirtieth of the circle lay hundreds of them over each place
    rng = np.random.default_rng(8)
    turn = rng.uniform(0, 2 * np.pi, (60, 2))
    ends = 50 + 45 * np.stack([np.cos(turn), np.sin(turn)], axis=2)
    rim = polyline(50 + 45 * _ring(np.linspace(0, 2 * np.pi, 97)[:-1]), closed=True)
    arrangement = _arrange(np.vstack([ends.reshape(-1, 4), rim]))
    _, grid = _grid()
    small = replace(grid, lattice=Lattice(3.0 * np.eye(2), "square"))
    small = replace(small, operations=_turns_about((1.5, 1.5), 4))
    orbits = find_orbits(arrangement, _all_faces(arrangement, small))
    kinds = len(np.unique(orbits.of_face[1:]))
    assert kinds > 0.98 * (arrangement.face_count - 1) > 500
    assert (orbits.operation_of_face[1:] == -1).all()


def _ring(turn):
    return np.stack([np.cos(turn), np.sin(turn)], axis=1)
