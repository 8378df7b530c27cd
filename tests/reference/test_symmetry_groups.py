"""The 17 plane groups, friezes and rosettes, from tables that are not ours.

Patterns are random strokes under the general positions of gemmi's space groups
(`tests/unit/symmetry/patterns.py`), cropped by a window laid at random; friezes
under the seven groups of the strip, typed from the table named below; rosettes
under turns and mirrors about one point.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.groups import FRIEZE_GROUPS, PLANE_GROUPS
from fillwork.symmetry.lines.detect import find_symmetry
from tests.unit.helpers import linework_from_segments
from tests.unit.symmetry.patterns import PLANE_NAMES, plane_pattern
from tests.unit.symmetry.strips import STRIPS


def symmetry_of(segments: np.ndarray):
    ends = segments.reshape(-1, 2)
    low, high = ends.min(axis=0) - 5, ends.max(axis=0) + 5
    width, height = high - low
    lines = linework_from_segments(segments - np.tile(low, 2), width, height)
    return find_symmetry(build_arrangement(lines, page_edge="open"))


@pytest.mark.reference("International Tables for Crystallography A, by gemmi")
@pytest.mark.parametrize("name", PLANE_NAMES)
@pytest.mark.parametrize(
    ("curved", "noise"), [(False, 0.0), (True, 0.0), (False, 0.01)]
)
def test_plane_groups(name: str, curved: bool, noise: float) -> None:
    pattern = plane_pattern(name, 1, repeats=9, curved=curved, noise=noise)
    found = symmetry_of(pattern.segments)
    assert found.group.short == name, (found.reason, found.candidates)
    # the cell's size too, so that no sublattice passes
    cell = abs(np.linalg.det(found.lattice.basis))
    assert cell == pytest.approx(abs(np.linalg.det(pattern.basis)), rel=0.02)
    assert len(found.operations) == len({o.map for o in found.operations})


def strip(name: str, seed: int, repeats: int = 9) -> np.ndarray:
    rng = np.random.default_rng(seed)
    strokes = rng.uniform((0, -1, 0, -1), (2, 1, 2, 1), (7, 4)) * (30, 9, 30, 9)
    rows = []
    for x, y, shift in STRIPS[name]:
        image = strokes * (x, y, x, y) + np.array([shift, 0, shift, 0]) * 30
        rows += [image + np.array([k, 0, k, 0]) * 30 for k in range(-1, repeats + 1)]
    rails = [[-40, s, 30 * repeats + 40, s] for s in (-11, 11)]
    lines = np.concatenate([*rows, np.array(rails, float)])
    low, high = 0.0, 30.0 * repeats
    clipped = []
    for x0, y0, x1, y1 in lines:
        t = sorted(np.clip([(low - x0) / (x1 - x0), (high - x0) / (x1 - x0)], 0, 1))
        if t[1] > t[0]:
            a, b = (np.array([x0, y0]) + k * np.array([x1 - x0, y1 - y0]) for k in t)
            clipped.append([*a, *b])
    turn = rng.uniform(0, 2 * np.pi)
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return (np.array(clipped).reshape(-1, 2) @ spin).reshape(-1, 4)


@pytest.mark.reference("International Tables for Crystallography E, 2002, from memory")
@pytest.mark.parametrize("name", STRIPS)
def test_frieze_groups(name: str) -> None:
    found = symmetry_of(strip(name, 3))
    assert (found.group.family, found.group.short) == ("frieze", name)
    period = float(np.hypot(*found.lattice.basis[0]))
    assert period == pytest.approx(30.0, rel=1e-3)


def rosette(n: int, mirrors: bool, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    # long enough that neighbours cross and close regions
    angle = rng.uniform(0, 4 * np.pi / n, (8, 2))
    radius = rng.uniform(12, 60, (8, 2))
    rows = []
    for sign in (1, -1) if mirrors else (1,):
        for k in range(n):
            turned = sign * angle + 2 * np.pi * k / n
            points = np.stack(
                [radius * np.cos(turned), radius * np.sin(turned)], axis=2
            )
            rows.append(points.reshape(-1, 4))
    return np.concatenate(rows)


@pytest.mark.parametrize("mirrors", [False, True])
@pytest.mark.parametrize("n", [2, 3, 5, 8, 12, 17])
def test_rosettes(n: int, mirrors: bool) -> None:
    found = symmetry_of(rosette(n, mirrors, 5))
    assert found.group.short == ("D" if mirrors else "C") + str(n)
    assert len(found.operations) == n * (2 if mirrors else 1)


@pytest.mark.parametrize("seed", range(8))
def test_lines_at_random_have_no_symmetry(seed: int) -> None:
    rng = np.random.default_rng(seed)
    found = symmetry_of(rng.uniform(0, 200, (30, 4)))
    assert found.group.family == "none"


def orbifold_cost(symbol: str) -> Fraction:
    """Return its cost: o 2; * and × 1; ∞ 1 and n (n - 1)/n, half of that after *."""
    total = Fraction(0)
    for k, sign in enumerate(symbol):
        after = 2 if "*" in symbol[:k] else 1
        if sign in "o*×":
            total += {"o": 2, "*": 1, "×": 1}[sign]
        elif sign == "∞":
            total += Fraction(1, after)
        else:
            total += Fraction(int(sign) - 1, int(sign) * after)
    return total


@pytest.mark.reference("Conway, Burgiel, Goodman-Strauss, The Symmetries of Things")
def test_orbifolds_of_plane_and_frieze_groups_cost_two() -> None:
    for group in (*PLANE_GROUPS, *FRIEZE_GROUPS):
        assert orbifold_cost(group.orbifold) == 2, group.short


@pytest.mark.reference("H. S. M. Coxeter, Regular Polytopes, 1973: from memory")
@pytest.mark.parametrize("digits", [3, 12])
@pytest.mark.parametrize(
    ("n", "step"),
    [(5, 2), (6, 2), (7, 2), (7, 3), (8, 3), (9, 2), (9, 4), (12, 5), (16, 7)],
)
def test_star_polygons_have_the_symmetry_of_their_polygon(
    n: int, step: int, digits: int
) -> None:
    angle = 0.1 + 2 * np.pi * np.arange(n) / n
    points = 90 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    lines = np.hstack([points, np.roll(points, -step, axis=0)]).round(digits)
    found = symmetry_of(lines)
    assert found.group.short == f"D{n}"
    assert found.certain


# space group number of a layer without symmetry along c, to its plane group
# (International Tables for Crystallography A: projections along [001])
PLANE_OF = {
    1: "p1", 3: "p2", 6: "pm", 7: "pg", 8: "cm", 25: "pmm", 28: "pmg", 32: "pgg",
    35: "cmm", 75: "p4", 99: "p4m", 100: "p4g", 143: "p3", 156: "p3m1", 157: "p31m",
    168: "p6", 183: "p6m",
}  # fmt: skip


def fold(points: np.ndarray, basis: np.ndarray) -> np.ndarray:
    """Return points of one unit cell, each once, in fractional coordinates."""
    from scipy.cluster.hierarchy import fcluster, linkage

    u = (points @ np.linalg.inv(basis)) % 1.0
    # on a torus of circles, so that 0 and 1 are neighbours
    ring = np.exp(2j * np.pi * u)
    flat = np.concatenate([ring.real, ring.imag], axis=1)
    label = fcluster(linkage(flat, "single"), 1e-3, "distance")
    first = np.unique(label, return_index=True)[1]
    return u[first]


@pytest.mark.filterwarnings("ignore:Set OLD_ERROR_HANDLING:DeprecationWarning")
@pytest.mark.reference("spglib, A. Togo, K. Shinohara, I. Tanaka 2024")
@pytest.mark.parametrize("name", PLANE_NAMES)
def test_spglib_finds_the_same_group_and_cell(name: str) -> None:
    import shapely
    import spglib

    pattern = plane_pattern(name, 1, repeats=9)
    found = symmetry_of(pattern.segments)
    basis = np.array(found.lattice.basis)
    # corners and middles of lines whose two ends are crossings, not crops
    inner = pattern.window.buffer(-1e-3)
    a, b = pattern.segments[:, :2], pattern.segments[:, 2:]
    whole = shapely.contains_xy(inner, a) & shapely.contains_xy(inner, b)
    corners = fold(np.concatenate([a[whole], b[whole]]), basis)
    middles = fold((a[whole] + b[whole]) / 2, basis)
    scale = 5 / np.sqrt(abs(np.linalg.det(basis)))
    cell = np.zeros((3, 3))
    cell[:2, :2], cell[2, 2] = basis * scale, 23.7
    atoms = [
        np.column_stack([points, np.full(len(points), height)])
        for points, height in ((corners, 0.0), (middles, 0.17))
    ]
    kinds = np.repeat([1, 2], [len(corners), len(middles)])
    data = spglib.get_symmetry_dataset((cell, np.concatenate(atoms), kinds), 1e-3)
    assert PLANE_OF[data.number] == found.group.short == name
    # no smaller cell either
    primitive = spglib.find_primitive((cell, np.concatenate(atoms), kinds), 1e-3)
    assert abs(np.linalg.det(primitive[0])) == pytest.approx(25 * 23.7, rel=1e-3)
