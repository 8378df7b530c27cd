"""The 11 uniform tilings have as many kinds of tile as the literature says.

Vertices are laid out from regular polygons of side 1; edges join vertices at
distance 1. The groups and numbers are those of the book, not of the package.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.model import Group, Lattice, Operation, Symmetry, Zone
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import linework_from_segments

SOURCE = (
    "B. Grünbaum, G. C. Shephard, Tilings and Patterns, 1987, section 2.1 and"
    " table 2.1 (isohedral orbits of tiles under the tiling's group)"
)
R3 = np.sqrt(3.0)


def _fan(n: int, radius: float, first: float) -> np.ndarray:
    t = np.radians(first + 360.0 / n * np.arange(n))
    return radius * np.column_stack([np.cos(t), np.sin(t)])


def _side_radius(n: int) -> float:
    """Return the circumradius of a regular polygon of side 1."""
    return 1 / (2 * np.sin(np.pi / n))


def _hexagonal(a: float) -> np.ndarray:
    return a * np.array([[1.0, 0.0], [-0.5, R3 / 2]])


SNUB = np.array([[2.5, R3 / 2], [-2.0, R3]])
TRIANGULAR = np.array(
    [[i + j / 2, j * R3 / 2] for i in range(-4, 5) for j in range(-4, 5)]
)
A4 = np.sqrt(2 + R3)
# lattice, vertices, centre of the group, turns, mirrors, what mirrors add,
# kinds with (corners, faces a unit cell)
TILINGS = {
    "3^6": (_hexagonal(1), [[0, 0]], (0, 0), 6, True, 0, {3: 1}),
    "6^3": (_hexagonal(R3), _fan(6, 1, 30), (0, 0), 6, True, 0, {6: 1}),
    "4^4": (np.eye(2), [[0, 0]], (0, 0), 4, True, 0, {4: 1}),
    "3^4.6": (
        SNUB,
        TRIANGULAR[np.abs(TRIANGULAR).sum(axis=1) > 1e-9][
            np.hypot(*TRIANGULAR[np.abs(TRIANGULAR).sum(axis=1) > 1e-9].T) < 1.1
        ],
        (0, 0),
        6,
        False,
        0,
        {3: 2, 6: 1},
    ),
    "3^3.4^2": (
        np.array([[1, 0], [0.5, 1 + R3 / 2]]),
        [[0, 0], [0, 1]],
        (0.5, 0.5),
        2,
        True,
        0,
        {3: 1, 4: 1},
    ),
    "3^2.4.3.4": (
        A4 * np.eye(2),
        np.vstack([_fan(4, np.sqrt(0.5), 60), A4 / 2 + _fan(4, np.sqrt(0.5), 30)]),
        (0, 0),
        4,
        True,
        A4 / 2,
        {3: 1, 4: 1},
    ),
    "3.4.6.4": (
        _hexagonal(1 + R3),
        _fan(6, 1, 30),
        (0, 0),
        6,
        True,
        0,
        {3: 1, 4: 1, 6: 1},
    ),
    "4.6.12": (
        _hexagonal(3 + R3),
        _fan(12, _side_radius(12), 15),
        (0, 0),
        6,
        True,
        0,
        {4: 1, 6: 1, 12: 1},
    ),
    "3.6.3.6": (_hexagonal(2), _fan(6, 1, 0), (0, 0), 6, True, 0, {3: 1, 6: 1}),
    "3.12^2": (
        _hexagonal(2 + R3),
        _fan(12, _side_radius(12), 15),
        (0, 0),
        6,
        True,
        0,
        {3: 1, 12: 1},
    ),
    "4.8^2": (
        (1 + np.sqrt(2)) * np.eye(2),
        _fan(8, _side_radius(8), 22.5),
        (0, 0),
        4,
        True,
        0,
        {4: 1, 8: 1},
    ),
}
NAMES = {
    3: "equilateral triangle",
    4: "square",
    6: "regular hexagon",
    8: "regular octagon",
    12: "regular dodecagon",
}


def _operations(centre, turns, mirrored, extra) -> tuple[Operation, ...]:
    out = []
    for flip in (1.0, -1.0) if mirrored else (1.0,):
        for k in range(turns):
            c, s = np.cos(2 * np.pi * k / turns), np.sin(2 * np.pi * k / turns)
            linear = np.array([[c, -s], [s, c]]) @ np.diag([1.0, flip])
            move = np.array(centre) - linear @ np.array(centre)
            move = move + (extra if flip < 0 else 0.0)
            kind = "identity" if flip > 0 and k == 0 else "rotation"
            numbers = (*linear.T.ravel(), *move)
            out.append(Operation(tuple(float(v) for v in numbers), kind, turns))
    return tuple(out)


def _pattern(name: str, noise: float, scale: float = 10.0):
    lattice, motif, centre, turns, mirrored, extra, _ = TILINGS[name]
    motif = np.asarray(motif, float)
    side = 9.3 * max(1.0, np.sqrt(abs(np.linalg.det(lattice))) / 1.8)
    grid = np.arange(-40, 41)
    shifts = np.stack(np.meshgrid(grid, grid), -1).reshape(-1, 2) @ lattice
    shifts = shifts[np.abs(shifts).max(axis=1) < side + 6]
    pts = (motif[None] + shifts[:, None]).reshape(-1, 2)
    pts = pts[np.abs(pts).max(axis=1) < side / 2 + 4]
    pts = pts[np.sort(np.unique(np.round(pts, 6), axis=0, return_index=True)[1])]
    pairs = cKDTree(pts).query_pairs(1.0 + 1e-6, output_type="ndarray")
    rng = np.random.default_rng(11)
    moved = pts + noise * rng.standard_normal(pts.shape)
    phi = 0.37
    turn = np.array([[np.cos(phi), np.sin(phi)], [-np.sin(phi), np.cos(phi)]])
    keep = (np.abs(pts[pairs]) < side / 2).all(axis=(1, 2))
    middle = np.array([150.0, 150.0])
    segments = scale * np.hstack([moved[pairs[keep, 0]], moved[pairs[keep, 1]]])
    segments = (segments.reshape(-1, 2) @ turn + middle).reshape(-1, 4)
    operations = []
    for op in _operations(centre, turns, mirrored, extra):
        m = np.array([[op.map[0], op.map[2]], [op.map[1], op.map[3]]])
        linear = turn.T @ m @ turn
        move = scale * np.array(op.map[4:]) @ turn + middle - linear @ middle
        numbers = (*linear.T.ravel(), *move)
        operations.append(
            Operation(tuple(float(v) for v in numbers), op.kind, op.order)
        )
    symmetry = Symmetry(
        Group("plane", name, name, "", ""),
        Lattice(scale * lattice @ turn, ""),
        operations=tuple(operations),
    )
    return segments, symmetry


@pytest.mark.reference(SOURCE)
@pytest.mark.parametrize("noise", [0.0, 0.02])
@pytest.mark.parametrize("name", list(TILINGS))
def test_uniform_tiling_has_its_kinds(name: str, noise: float) -> None:
    segments, symmetry = _pattern(name, noise)
    line_work = linework_from_segments(segments, 400, 400, has_page=False)
    arrangement = build_arrangement(line_work)
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    orbits = find_orbits(arrangement, (Zone(1, faces, symmetry),))
    expected = TILINGS[name][-1]
    corners: dict[str, int] = {}
    for orbit in orbits.orbits:
        corners[orbit.base_name] = corners.get(orbit.base_name, 0) + 1
    assert corners == {NAMES[k]: v for k, v in expected.items()}
    assert not orbits.cut.any()
    assert orbits.defects == ()


GROUPS = {
    "3^6": "p6m", "6^3": "p6m", "4^4": "p4m", "3^4.6": "p6", "3^3.4^2": "cmm",
    "3^2.4.3.4": "p4g", "3.4.6.4": "p6m", "4.6.12": "p6m", "3.6.3.6": "p6m",
    "3.12^2": "p6m", "4.8^2": "p4m",
}  # fmt: skip


@pytest.mark.reference(SOURCE)
@pytest.mark.parametrize("noise", [0.0, 0.02])
@pytest.mark.parametrize("name", list(TILINGS))
def test_uniform_tiling_is_recognised(name: str, noise: float) -> None:
    """From the lines alone: the group, and under it the kinds."""
    segments, _ = _pattern(name, noise)
    line_work = linework_from_segments(segments, 400, 400, has_page=False)
    arrangement = build_arrangement(line_work)
    zones = find_zones(arrangement)
    assert [z.symmetry.group.short for z in zones] == [GROUPS[name]]
    orbits = find_orbits(arrangement, zones)
    assert len(orbits.orbits) == sum(TILINGS[name][-1].values())
