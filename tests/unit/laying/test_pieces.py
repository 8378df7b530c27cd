"""Curves moved, joined to runs, clipped and handed on: against constructions."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves
from fillwork.geometry.polygons import signed_area
from fillwork.laying.clip import clip_curves, curve_boxes
from fillwork.laying.drawing import as_linework
from fillwork.laying.medallions import take_medallion
from fillwork.laying.moves import lattice_cells, move_ends, near_pairs, shift_curves
from fillwork.laying.panel import panel_from_curves, rectangle_panel
from fillwork.laying.runs import join_runs
from tests.unit.helpers import linework_from_segments

TURN = 2 * math.pi


def curves(*rows: tuple[int, list[float]]) -> Curves:
    data = np.zeros((len(rows), 8))
    for k, (_, row) in enumerate(rows):
        data[k, : len(row)] = row
    return Curves(np.array([kind for kind, _ in rows], np.uint8), data)


def around(x: float, y: float, r: float, begin: float, end: float):
    return ARC, [x, y, r, 0, 0, r, begin, end]


MIXED = curves(
    (LINE, [1, 2, 7, -3]),
    (ARC, [5, 1, 3, 1, -2, 2, 0.4, 3.9]),
    (CUBIC, [0, 0, 2, 5, 6, 4, 9, -1]),
    (ARC, [5, 1, 3, 1, -2, 2, 3.9, -1.2]),
)
SHARES = np.linspace(0, 1, 401)


def points_of(table: Curves, row: int) -> np.ndarray:
    return table.point(np.full(len(SHARES), row), SHARES)


def test_boxes_hold_curves_and_touch_them() -> None:
    boxes = curve_boxes(MIXED)
    for row in range(4):
        points = points_of(MIXED, row)
        low, high = points.min(axis=0), points.max(axis=0)
        # a circle's point and its extreme part by the square of half a step
        near = 6 * (6 / 400) ** 2
        if MIXED.kind[row] == CUBIC:
            low, high = np.min(CONTROL, axis=0), np.max(CONTROL, axis=0)
        assert boxes[row, :2] == pytest.approx(low, abs=near)
        assert boxes[row, 2:] == pytest.approx(high, abs=near)
        assert (boxes[row, :2] <= points.min(axis=0) + 1e-12).all()
        assert (boxes[row, 2:] >= points.max(axis=0) - 1e-12).all()


CONTROL = [[0, 0], [2, 5], [6, 4], [9, -1]]


def test_shifts_move_each_curve_by_its_own() -> None:
    shift = np.array([[1.0, 2], [-3, 4], [5, -6], [0, 9]])
    moved = shift_curves(MIXED, shift)
    for row in range(4):
        assert np.allclose(points_of(moved, row), points_of(MIXED, row) + shift[row])


def test_curves_between_other_ends_are_their_images_under_one_similarity() -> None:
    rng = np.random.default_rng(2)
    wanted = rng.uniform(-9, 9, (8, 2))
    # the second row stays
    wanted[[1, 5]] = MIXED.starts()[1], MIXED.ends()[1]
    moved = move_ends(MIXED, wanted)
    assert np.allclose(moved.starts(), wanted[:4])
    assert np.allclose(moved.ends(), wanted[4:])
    assert moved.data[1].tolist() == MIXED.data[1].tolist()
    for row in range(4):
        was, now = (points_of(t, row) @ (1, 1j) for t in (MIXED, moved))
        factor = (now[-1] - now[0]) / (was[-1] - was[0])
        assert np.allclose(now, now[0] + factor * (was - was[0]))
    same = np.vstack([MIXED.starts(), MIXED.ends()])
    assert move_ends(MIXED, same) is MIXED
    # a closed curve has no direction between its ends: it is shifted
    ring = curves(around(3, 4, 5, 0.5, 0.5 + TURN))
    wanted = np.vstack([ring.starts(), ring.ends()]) + np.array([2.0, -1.0])
    away = move_ends(ring, wanted)
    assert away.data[0, :2] == pytest.approx([5, 3])
    assert away.data[0, 2:6] == pytest.approx([5, 0, 0, 5])


@pytest.mark.parametrize("basis", [[[7.0, 1], [-2, 5]], [[6.0, 2]], []])
def test_points_near_each_other_modulo_shifts_are_paired(basis) -> None:
    basis = np.array(basis).reshape(-1, 2)
    rng = np.random.default_rng(4)
    free = rng.uniform(-40, 40, (300, 2))
    cells = lattice_cells(free, basis)
    assert cells.shape == (300, len(basis))
    home = free - cells @ basis
    assert not lattice_cells(home, basis).any()
    a, b, step = near_pairs(free, basis, 0.4)
    # whatever two points lie within the reach, modulo shifts, are a pair
    shifts = np.array(list(product(range(-2, 3), repeat=len(basis)))) @ basis
    gap = home[:, None, None] - home[None, :, None] - shifts
    near = np.hypot(gap[..., 0], gap[..., 1]).min(axis=2) <= 0.4
    np.fill_diagonal(near, False)
    pairs = {tuple(sorted(pair)) for pair in zip(a.tolist(), b.tolist(), strict=True)}
    assert {p for p in pairs if p[0] != p[1]} == {
        (i, j)
        for i, j in zip(*(k.tolist() for k in np.nonzero(near)), strict=True)
        if i < j
    }
    # and how they lie to each other, less the shifts between them
    assert (np.hypot(*step.T) <= 0.4).all()
    rest = (free[a] - free[b] - step) @ np.linalg.pinv(basis)
    assert np.allclose(rest, np.rint(rest), atol=1e-8)
    assert np.allclose(free[a] - free[b] - step, np.rint(rest) @ basis, atol=1e-8)


def merged(spans: np.ndarray) -> list[list[float]]:
    """Return the unions of intervals, rising."""
    found: list[list[float]] = []
    for a, b in sorted(spans.tolist()):
        if found and a <= found[-1][1]:
            found[-1][1] = max(found[-1][1], b)
        else:
            found.append([a, b])
    return found


@pytest.mark.parametrize("seed", range(3))
def test_runs_of_lines_are_the_unions_of_their_pieces(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rows, styles, wanted = [], [], []
    for degrees in (0.0, 90.0, 33.0, 147.0):
        way = np.exp(1j * math.radians(degrees))
        for off in (-4.0, 1.5, 1.6, 20.0):
            for style in (0, 1):
                spans = np.sort(rng.uniform(-30, 30, (5, 2)), axis=1)
                ends = np.array(merged(spans)) + 1j * off
                wanted += [(style, *sorted(told(e * way))) for e in ends]
                pieces = (spans + 1j * off) * way
                flip = rng.random(5) < 0.5
                pieces[flip] = pieces[flip, ::-1]
                rows += [(LINE, [a.real, a.imag, b.real, b.imag]) for a, b in pieces]
                styles += [style] * 5
    order = rng.permutation(len(rows))
    table = curves(*(rows[k] for k in order))
    joined, kept = join_runs(table, np.array(styles, np.int32)[order], near=1e-6)
    ends = joined.data[:, :4].reshape(-1, 2, 2) @ (1, 1j)
    found = [(k, *sorted(told(e))) for k, e in zip(kept.tolist(), ends, strict=True)]
    assert sorted(found) == sorted(wanted)


def told(ends: np.ndarray) -> list[tuple[float, float]]:
    return [(round(z.real, 6) + 0.0, round(z.imag, 6) + 0.0) for z in ends.tolist()]


def test_pieces_that_touch_from_both_directions_are_one_line() -> None:
    # level ones, drawn either way and across the zero of angles
    rows = [(LINE, [0, 0, 10, 0]), (LINE, [20, 0, 10, 0]), (LINE, [19, 1e-8, 30, 0])]
    joined, _ = join_runs(curves(*rows), np.zeros(3, np.int32), near=1e-6)
    assert joined.lengths() == pytest.approx([30])
    # a gap, another style, another height: each stays
    rows = [
        (LINE, [0, 0, 10, 0]),
        (LINE, [10.1, 0, 20, 0]),
        (LINE, [0, 0.1, 10, 0.1]),
        (LINE, [5, 0, 15, 0]),
        (LINE, [3, 3, 3 + 1e-7, 3]),
    ]
    style = np.array([0, 0, 0, 1, 0], np.int32)
    joined, kept = join_runs(curves(*rows), style, near=1e-6)
    told = sorted(zip(kept.tolist(), joined.data[:, :4].tolist(), strict=True))
    assert told == [
        (0, [0, 0, 10, 0]),
        (0, [0, 0.1, 10, 0.1]),
        (0, [10.1, 0, 20, 0]),
        (1, [5, 0, 15, 0]),
    ]


def test_arcs_of_one_circle_are_joined_over_the_zero_direction() -> None:
    rows = [
        around(7, 5, 3, 5.5, 6.2),
        around(7, 5, 3, 6.8, 6.1),  # the other way, over zero
        around(7, 5, 3, 0.4, 1.1),
        around(7, 5, 3, 2.0, 2.5),  # alone
        around(7, 5, 3.2, 2.0, 2.6),  # of another radius
        around(7, 5.3, 3, 2.0, 2.7),  # about other points
        around(7.3, 5, 3, 2.0, 2.8),
        (ARC, [7, 5, 3, 0, 0, -3, -2.4, -2.0]),  # mirrored: from 2 to 2.4
        (ARC, [7, 5, 3, 0, 0, 2, 0, 1]),  # an ellipse
        (CUBIC, [0, 0, 1, 1, 2, 1, 3, 0]),
    ]
    table = curves(*rows)
    joined, _ = join_runs(table, np.zeros(len(rows), np.int32), near=1e-6)
    circles = joined.take(slice(0, 5))
    told = sorted((circles.lengths() / np.hypot(*circles.data[:, 2:4].T)).round(9))
    assert told == pytest.approx([0.5, 0.6, 0.7, 0.8, 1.1 + TURN - 5.5])
    assert joined.kind[5:].tolist() == [ARC, CUBIC]
    assert joined.data[5:].tolist() == table.data[8:].tolist()
    whole = curves(
        around(1, 1, 2, 0.1, 3), around(1, 1, 2, 2.9, 6), around(1, 1, 2, 6, 7)
    )
    ring, _ = join_runs(whole, np.zeros(3, np.int32), near=1e-6)
    assert ring.lengths() == pytest.approx([4 * math.pi])
    apart, kept = join_runs(whole, np.array([0, 0, 1], np.int32), near=1e-6)
    assert sorted(
        zip(kept.tolist(), apart.lengths().round(9).tolist(), strict=True)
    ) == [
        (0, pytest.approx(2 * 5.9)),
        (1, pytest.approx(2 * 1.0)),
    ]


def test_curves_are_cut_at_an_outline_and_its_holes() -> None:
    panel = panel_from_curves(
        [
            rectangle_panel(100, 60).curves,
            Curves.from_segments(ring([[40, 20], [40, 40], [60, 40], [60, 20]])),
        ]
    )
    table = curves(
        (LINE, [-10, 30, 110, 30]),
        (LINE, [5, 5, 30, 10]),
        (LINE, [-5, -5, -9, 70]),
        around(50, 30, 30 / math.sqrt(2) * 2, 0, TURN),
        (LINE, [10, 0, 90, 0]),
        around(50, 30, 5, 0, TURN),
    )
    for along in (False, True):
        parts, origin = clip_curves(
            table, panel.curves, panel.rings, near=1e-6, along=along
        )
        long = np.bincount(origin, parts.lengths(), 6)
        # a circle of 30 √2 about the middle leaves by the lower and the upper edge at
        # 45 degrees either side: two quarters of it are within
        assert long == pytest.approx(
            [80, math.hypot(25, 5), 0, math.pi * 30 * math.sqrt(2), 80 * along, 0]
        )
        assert (np.diff(origin) >= 0).all()
        assert parts.data[origin == 1].tolist() == table.data[[1]].tolist()
    none, _ = clip_curves(table.take(slice(0, 0)), panel.curves, panel.rings)
    assert len(none) == 0


def ring(corners: list[list[float]]) -> np.ndarray:
    return np.hstack([corners, np.roll(corners, -1, axis=0)]).astype(float)


def test_what_is_laid_is_a_drawing_with_its_styles_and_its_edge() -> None:
    styles = (("star", "#ff0000", 0.4, False), ("rail", "#000000", None, True))
    drawn = replace(linework_from_segments([[0, 0, 9, 9]]), styles=styles)
    hole = Curves.from_segments(ring([[40, 20], [40, 40], [60, 40], [60, 20]]))
    plain = rectangle_panel(100, 60)
    holed = panel_from_curves([plain.curves, hole, hole.transform((1, 0, 0, 1, 25, 0))])
    table = curves(around(50, 10, 5, 0, TURN), (LINE, [0, 5, 100, 5]))
    style = np.array([1, 0], np.int32)
    for panel, holes, names in (
        (plain, (), ["frame"]),
        (holed, (), ["frame", "opening", "opening"]),
        (holed, ("well", "door"), ["frame", "well", "door"]),
    ):
        made = as_linework(table, style, panel, drawn, scale=2.0, holes=holes)
        layers = [made.styles[k][0] for k in made.style]
        assert layers == ["rail", "star", *names]
        assert made.source_name == ("laid", "laid", *names)
        assert made.closed.tolist() == [True, False] + [True] * len(names)
        # what stops a hair short of its beginning is not closed
        short = curves(around(50, 10, 5, 0, TURN - 0.002), (LINE, [0, 5, 100, 5]))
        nearly = as_linework(short, style, panel, drawn, scale=2.0, holes=holes)
        assert not nearly.closed[:2].any()
        # widths grow with the cell; the edge is as thin as the thinnest line
        assert made.styles[:2] == (("star", "#ff0000", 0.8, False), (*styles[1],))
        assert {s[1:] for s in made.styles[2:]} == {("#000000", 0.8, False)}
        sizes = np.diff(made.stroke_start).tolist()
        assert sizes == [1, 1] + [4] * len(names)
        assert (made.frame.width, made.frame.height) == (100, 60)
        assert made.frame.has_page is (panel is plain)
        assert len(made.source_line) == len(made.style)


def test_a_medallion_is_taken_with_what_is_round_it_alone_and_set_in_again() -> None:
    # a square within a square within a frame: what fills the inner ones is taken, drawn
    # in three styles
    rows = [
        *ring([[0, 0], [90, 0], [90, 90], [0, 90]]),
        *ring([[30, 40], [50, 40], [50, 60], [30, 60]]),
        *ring([[35, 45], [45, 45], [45, 55], [35, 55]]),
        [0, 50, 30, 50],
        [50, 50, 90, 50],
    ]
    work = replace(
        linework_from_segments(rows, 90, 90),
        styles=tuple(
            (name, "#000000", 0.5, False) for name in ("frame", "rim", "star")
        ),
        style=np.repeat([0, 1, 2, 0], [4, 4, 4, 2]).astype(np.int32),
    )
    drawing = build_arrangement(work)
    for half in (5, 10):
        # asked by the inner square alone, the ring about it comes with it
        asked = shapely.box(40 - half, 50 - half, 40 + half, 50 + half)
        held = take_medallion(drawing, work, asked, (40.0, 50.0))
        assert held is not None
        assert sorted(held.style.tolist()) == [1] * 4 + [2] * 4
        assert held.curves.lengths().sum() == pytest.approx(80 + 40)
        corners = held.rim.starts()
        assert signed_area(corners) == pytest.approx(400)
        assert np.allclose(held.rim.ends(), np.roll(corners, -1, axis=0))
    # twice as large about (100, 70): from 80 to 120 and from 50 to 90
    large = held.at((100.0, 70.0), 2.0)
    assert large.centre == (100.0, 70.0)
    low, high = large.rim.starts().min(axis=0), large.rim.starts().max(axis=0)
    assert (low.tolist(), high.tolist()) == ([80, 50], [120, 90])
    assert large.curves.lengths().sum() == pytest.approx(240)
    for wide, fits in ((121, True), (119, False)):
        assert large.fits(rectangle_panel(wide, 140)) is fits
    field = large.open_in(rectangle_panel(200, 140))
    assert (field.width, field.height, field.rectangle) == (200, 140, False)
    assert field.ring_start == (0, 4, 4 + len(large.rim))
    assert field.curves.lengths().sum() == pytest.approx(680 + 160)
    assert [signed_area(r) for r in field.rings] == pytest.approx([28000, -1600])
    hole = field.curves.take(slice(4, None))
    assert signed_area(hole.starts()) == pytest.approx(-1600)
    assert np.allclose(hole.ends(), np.roll(hole.starts(), -1, axis=0))
    # a rim that is not one ring: two squares apart
    both = shapely.MultiPolygon(
        [shapely.box(1, 1, 29, 49), shapely.box(46, 41, 89, 59)]
    )
    assert take_medallion(drawing, work, both, (40.0, 50.0)) is None
