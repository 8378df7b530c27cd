"""Cells as makers draw them, with guide lines, by hand, turned, on a larger page.

Patterns invented for the purpose are constructed over the plane by their shifts and
operations; a cell is cut out, its ends at the guide moved about as a hand would, and
written as a drawing. What is laid must be the construction, within the misfit.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pytest
import shapely

from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.laying.cell import default_slack, find_cell
from fillwork.laying.field import lay_motif
from fillwork.laying.joins import make_motif
from fillwork.laying.model import Cell
from fillwork.laying.panel import rectangle_panel
from fillwork.linework import LineWork
from fillwork.pipeline.laying_way import choose_way
from fillwork.readers import read_linework
from tests.unit.laying.patterns import (
    CELLS,
    KIND,
    PARTS,
    best_way,
    covers,
    cut,
    pattern,
)

PANEL = (150.0, 110.0)
GUIDE = "colour=#00f"


class Case(NamedTuple):
    by: str
    outline: list[list[float]]
    basis: list[list[float]]
    lines: np.ndarray  # of one repeat, (n, 2, 2)


def ring(points: np.ndarray) -> np.ndarray:
    return np.stack([points, np.roll(points, -1, axis=0)], axis=1)


def star(n: int, tip: float, notch: float, at: tuple[float, float]) -> np.ndarray:
    k = np.arange(2 * n)
    radius, angle = np.where(k % 2 == 0, tip, notch), k * math.pi / n
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    return ring(points + at)


def turned(lines: list, n: int, mirrors: bool) -> np.ndarray:
    drawn = np.array(lines, dtype=float)
    if mirrors:
        drawn = np.concatenate([drawn, drawn * [1, -1]])
    angles = 2 * math.pi * np.arange(n) / n
    return np.concatenate([affine.apply(affine.rotation(a), drawn) for a in angles])


A = 24.0
SQUARE = [[0, 0], [40, 0], [40, 40], [0, 40]]
HEXAGON = [
    [A * math.cos(t), A * math.sin(t)] for t in np.arange(6) * math.pi / 3 + math.pi / 6
]
DIAMOND = ring(np.array([[8.0, 0], [0, 8], [-8, 0], [0, -8]]))
SIXTH = math.tan(math.pi / 6)
CASES = {
    "star in its square": Case(
        "shifts",
        SQUARE,
        [[40, 0], [0, 40]],
        np.concatenate([star(8, 20, 12, (20, 20)), DIAMOND]),
    ),
    "rhombus": Case(
        "shifts",
        [[0, 0], [40, -14], [80, 0], [40, 14]],
        [[40, 14], [40, -14]],
        np.concatenate([star(4, 11, 6, (40, 0)), DIAMOND, [[[0, 8], [40, 20]]]]),
    ),
    "hexagon": Case(
        "shifts",
        HEXAGON,
        [[A * math.sqrt(3), 0], [A * math.sqrt(3) / 2, 1.5 * A]],
        star(6, A * math.sqrt(3) / 2, 12, (0, 0)),
    ),
    "two shifts": Case(
        "shifts 40,0 13,40",
        SQUARE,
        [[40, 0], [13, 40]],
        np.array([[[0, 13], [40, 13]], [[20, 0], [33, 40]]]),
    ),
    "half-drop": Case(
        "drop 1/2",
        SQUARE,
        [[40, 20], [0, 40]],
        np.concatenate([star(8, 20, 11, (20, 20)), DIAMOND]),
    ),
    "brick": Case(
        "brick 1/3",
        SQUARE,
        [[40, 0], [40 / 3, 40]],
        np.concatenate([star(4, 20, 11, (20, 20)), [[[20, 0], [20 + 40 / 3, 40]]]]),
    ),
    "mirrors of an eighth": Case(
        "mirrors",
        [[0, 0], [30, 0], [30, 30]],
        [[60, 0], [0, 60]],
        turned([[[10, 0], [14, 6]], [[14, 6], [12, 12]], [[14, 6], [30, 9]]], 4, True),
    ),
    "mirrors of a twelfth": Case(
        "mirrors",
        [[0, 0], [30, 0], [30, 30 * SIXTH]],
        [[60, 0], [30, 30 * math.sqrt(3)]],
        turned([[[9, 0], [14, 4]], [[14, 4], [10.5, 10.5 * SIXTH]]], 6, True),
    ),
    "turns": Case(
        "turns 4",
        [[0, 0], [30, 0], [30, 30], [0, 30]],
        [[60, 0], [0, 60]],
        turned(
            [[p, [14, 9]] for p in ([8, 0], [0, 8], [30, 12], [12, 30])],
            4,
            False,
        ),
    ),
}


def write(lines: np.ndarray, guide: np.ndarray, size: tuple[float, float]) -> bytes:
    width, height = size
    flip = np.array([0.0, height]), np.array([1.0, -1.0])
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" '
        f'height="{height}mm" viewBox="0 0 {width} {height}" fill="none" stroke="#000">'
    ]
    corners = " ".join(f"{x:.4f},{y:.4f}" for x, y in flip[0] + guide * flip[1])
    rows.append(f'<polygon points="{corners}" stroke="#00f"/>')
    for (x0, y0), (x1, y1) in flip[0] + lines * flip[1]:
        rows.append(f'<path d="M{x0:.4f} {y0:.4f} L{x1:.4f} {y1:.4f}"/>')
    return "\n".join([*rows, "</svg>"]).encode()


def by_hand(
    lines: np.ndarray, outline: shapely.Polygon, misfit: float, seed: int
) -> np.ndarray:
    """Move ends at the outline by up to half the misfit."""
    rng = np.random.default_rng(seed)
    off = shapely.distance(outline.exterior, shapely.points(lines))
    radius = misfit / 2 * np.sqrt(rng.random(off.shape))
    angle = 2 * math.pi * rng.random(off.shape)
    step = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=-1)
    return lines + np.where((off < 1e-6)[..., None], step, 0.0)


@pytest.mark.parametrize(
    ("angle", "misfit"), [(0.0, 0.0), (0.37, 0.1), (0.31, 0.2), (-0.2, 0.3)]
)
@pytest.mark.parametrize("name", sorted(CASES))
def test_drawn_cells_give_the_constructed_pattern(
    name: str, angle: float, misfit: float
) -> None:
    case = CASES[name]
    steps = np.stack(np.meshgrid(np.arange(-7, 8), np.arange(-7, 8)), -1)
    shifts = steps.reshape(-1, 1, 1, 2) @ np.array(case.basis)
    # turned, and not at the origin of a larger page
    place = affine.compose(affine.translation(70, 60), affine.rotation(angle))
    segments = affine.apply(place, (case.lines + shifts).reshape(-1, 2, 2))
    corners = affine.apply(place, np.array(case.outline, dtype=float))
    outline = shapely.Polygon(corners)
    lines = by_hand(cut(segments, outline), outline, misfit, seed=3)
    data = write(lines, corners, (190.0, 150.0))
    drawn = read_linework(data, name="cell.svg", leave=(GUIDE,))
    guide = read_linework(data, name="cell.svg", lines=(GUIDE,), scope="both")
    slack = default_slack(drawn)
    cell = find_cell(drawn, guide, slack=slack)
    by = case.by
    if by.startswith("shifts "):  # they are those of the drawing as it stands
        a, b = affine.apply(affine.rotation(angle), np.array(case.basis))
        by = f"shifts {a[0]:.6f},{a[1]:.6f} {b[0]:.6f},{b[1]:.6f}"
    motif = make_motif(cell, best_way(cell, by, "", slack), slack=slack)
    assert [m for m in motif.misfits if not m.closed] == []
    laid, _ = lay_motif(motif, rectangle_panel(*PANEL), affine.IDENTITY)
    laid = laid.data[:, :4].reshape(-1, 2, 2)
    inner = shapely.box(1, 1, PANEL[0] - 1, PANEL[1] - 1)  # off what the edge cuts
    ours, truth = cut(laid, inner), cut(segments, inner)
    assert covers(segments, ours, misfit + 1e-3)
    assert covers(laid, truth, misfit + 1e-3)
    length = np.hypot(*(ours[:, 1] - ours[:, 0]).T).sum()
    assert length == pytest.approx(
        np.hypot(*(truth[:, 1] - truth[:, 0]).T).sum(), rel=0.01
    )


def test_corners_beyond_a_circle_of_the_construction_belong_to_the_cell() -> None:
    # a square with its circle and diagonals in pencil, all ink within the circle
    turn = np.linspace(0, 2 * np.pi, 97)
    circle = 50 + 40 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    square = np.array([[10, 10], [90, 10], [90, 90], [10, 90], [10, 10]], dtype=float)
    pencil = [circle, square, square[[0, 2]], square[[1, 3]]]
    points = [(38, 0), (9, 9), (0, 38), (-9, 9), (-38, 0), (-9, -9), (0, -38), (9, -9)]
    star = 50.0 + np.array([*points, points[0]])
    chains = [("#8080ff", p) for p in pencil] + [("#000", star)]
    paths = "".join(
        f'<path stroke="{colour}" d="M{" ".join(f"{x:.4f},{y:.4f}" for x, y in p)}"/>'
        for colour, p in chains
    )
    data = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        f'viewBox="0 0 100 100" fill="none" stroke-width="0.3">{paths}</svg>'
    ).encode()
    pencilled = "colour=#8080ff"
    drawn = read_linework(data, name="cell.svg", leave=(pencilled,))
    guide = read_linework(data, name="cell.svg", lines=(pencilled,))
    cell = find_cell(drawn, guide, slack=default_slack(drawn))
    assert len(cell.outline) == 4
    assert shapely.Polygon(cell.outline).area == pytest.approx(80.0**2)


def test_tips_on_mirrors_are_worth_more_than_two_that_meet_by_chance() -> None:
    # mirrors on the long sides: three tips on the left, one on the right, of which
    # two lie at one height; one line goes on upwards, from (8, 50) to (8, 0)
    tips = [(0.0, 12.0), (0.0, 25.0), (0.0, 41.0), (20.0, 25.0)]
    lines = [[[8.0, 0.0], [9.0, 18.0]], [[9.0, 31.0], [8.0, 50.0]]]
    for x, y in tips:
        inner = x + 5 if x == 0 else x - 5
        lines += [[[inner, y + 4], [x, y]], [[x, y], [inner, y - 3]]]
    outline = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 50.0], [0.0, 50.0]])
    curves = Curves.from_segments(np.array(lines).reshape(-1, 4))
    style = np.zeros(len(curves), np.int32)
    cell = Cell(curves, style, outline, guided=True)
    way, doubt = choose_way(cell, "", "plane:pm", 0.5)
    # two strips between mirrors make a repeat of 40 mm; the other way 20 and 100 mm
    assert sorted(np.hypot(*way.basis.T)) == pytest.approx([40.0, 50.0])
    assert not doubt


# space group of a layer without symmetry along c, to its plane group
# (International Tables for Crystallography A: projections along [001])
PLANE_OF = {
    1: "p1", 3: "p2", 6: "pm", 7: "pg", 8: "cm", 25: "pmm", 28: "pmg", 32: "pgg",
    35: "cmm", 75: "p4", 99: "p4m", 100: "p4g", 143: "p3", 156: "p3m1", 157: "p31m",
    168: "p6", 183: "p6m",
}  # fmt: skip


@pytest.mark.filterwarnings("ignore:Set OLD_ERROR_HANDLING:DeprecationWarning")
@pytest.mark.reference("spglib, A. Togo, K. Shinohara, I. Tanaka 2024")
@pytest.mark.parametrize("name", sorted(PARTS))
def test_spglib_finds_the_group_that_was_laid(name: str) -> None:
    import spglib

    segments = pattern(name, 5, seed=2)
    corners = np.array(PARTS[name][0]) @ CELLS[KIND[name]]
    lines = cut(segments, shapely.Polygon(corners))
    style = np.zeros(len(lines), np.int32)
    cell = Cell(Curves.from_segments(lines.reshape(-1, 4)), style, corners, guided=True)
    way = best_way(cell, "", f"plane:{name}", 1e-5)
    motif = make_motif(cell, way, slack=1e-5)
    every = np.arange(len(motif.curves))
    heights = {0.0: 0.0, 0.5: 0.17, 1.0: 0.0}  # ends and middles are two kinds
    inverse = np.linalg.inv(way.basis)
    atoms = np.vstack(
        [
            np.column_stack(
                [
                    motif.curves.point(every, np.full(len(every), share)) @ inverse,
                    np.full(len(every), height),
                ]
            )
            for share, height in heights.items()
        ]
    )
    atoms = np.unique(np.round(atoms % 1.0, 5) % 1.0, axis=0)
    kinds = np.where(atoms[:, 2] > 0, 2, 1)
    lattice = np.zeros((3, 3))
    lattice[:2, :2] = way.basis * 5 / np.sqrt(abs(np.linalg.det(way.basis)))
    lattice[2, 2] = 23.7
    data = spglib.get_symmetry_dataset((lattice, atoms, kinds), 1e-3)
    assert PLANE_OF[data.number] == name


@pytest.mark.parametrize("order", [4, 5, 10, 16])
def test_two_lines_from_the_middle_bound_a_sector_of_a_rosette(order: int) -> None:
    turn = 2 * math.pi / order
    guide = [[0, 0, 60, 0], [60 * math.cos(turn), 60 * math.sin(turn), 0, 0]]
    points = 50 * np.column_stack([np.cos(s := np.linspace(0, turn, 9)), np.sin(s)])
    arc = LineWork.from_geometry([shapely.LineString([[0, 0], *points])])
    radii = LineWork.from_geometry(shapely.linestrings(np.reshape(guide, (2, 2, 2))))
    cell = find_cell(arc, radii, slack=0.01, sector=True)
    assert cell.outline[0] == pytest.approx([0, 0], abs=1e-9)
    sides = cell.outline[1:]
    assert np.arctan2(*sides[:, ::-1].T) == pytest.approx([0, turn], abs=1e-9)
    # all that is drawn between the two lines lies within it
    wedge = shapely.Polygon(cell.outline)
    assert shapely.covers(wedge.buffer(1e-9), shapely.points(points)).all()
    with pytest.raises(LineWorkError, match="close nothing"):
        find_cell(arc, radii, slack=0.01)
