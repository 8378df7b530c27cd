"""Joins, strips, rosettes, borders, outlines: against constructions and formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from fillwork.errors import LineWorkError, PlanError, SymmetryError
from fillwork.geometry import affine
from fillwork.geometry.curves import CUBIC, Curves
from fillwork.laying.border import Corner, lay_border
from fillwork.laying.field import lay_motif
from fillwork.laying.figures import Figures
from fillwork.laying.joins import make_motif, weigh_way
from fillwork.laying.model import Cell, Motif, Way
from fillwork.laying.panel import panel_from_curves, rectangle_panel
from fillwork.laying.runs import join_runs
from fillwork.laying.ways import find_ways
from fillwork.pipeline.laying_way import choose_way
from fillwork.symmetry.groups import FRIEZE_GROUPS, general_positions

SQUARE = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]])


def cell_of(lines: list[list[float]], outline: np.ndarray) -> Cell:
    curves = Curves.from_segments(np.array(lines, dtype=float))
    return Cell(curves, np.zeros(len(lines), np.int32), outline, guided=True)


def motif_of(cell: Cell, by: str, group: str = "", slack: float = 1e-5) -> Motif:
    return make_motif(cell, best(cell, by, group, slack), slack=slack)


def best(cell: Cell, by: str, group: str, slack: float) -> Way:
    ways = find_ways(cell.outline, by, group, slack=max(slack, 0.01))
    return ways[int(np.argmin([weigh_way(cell, w, slack=slack) for w in ways]))]


def ends_of(curves: Curves) -> np.ndarray:
    return curves.data[:, :4].reshape(-1, 2, 2)


def covers(one: np.ndarray, two: np.ndarray, near: float = 1e-6) -> bool:
    shares = np.linspace(0.02, 0.98, 9)[:, None, None]
    points = one[:, 0] * (1 - shares) + one[:, 1] * shares
    tree = shapely.STRtree(shapely.linestrings(two))
    _, off = tree.query_nearest(
        shapely.points(points).ravel(), return_distance=True, all_matches=False
    )
    return bool(off.max() <= near)


@pytest.mark.parametrize("misfit", [0.1, 0.2, 0.3])
@pytest.mark.parametrize("angle", [0.0, 0.4])
def test_small_misfits_are_closed_and_told(misfit: float, angle: float) -> None:
    # a line that leaves on the right higher than it enters on the left
    turn = affine.rotation(angle)
    lines = affine.apply(turn, np.array([[[0.0, 20.0], [40.0, 20.0 + misfit]]]))
    cell = cell_of(lines.reshape(-1, 4).tolist(), affine.apply(turn, SQUARE))
    motif = motif_of(cell, "shifts", slack=0.5)
    assert len(motif.curves) == 1
    assert [m.closed for m in motif.misfits] == [True]
    assert motif.misfits[0].size == pytest.approx(misfit, rel=1e-6)
    start, end = ends_of(motif.curves)[0]
    assert np.abs(end - start) == pytest.approx(
        np.abs(affine.apply(turn, np.array([40.0, 0.0]))), abs=1e-9
    )


def test_larger_misfits_are_left_and_told() -> None:
    cell = cell_of([[0, 20, 40, 21]], SQUARE)
    motif = motif_of(cell, "shifts", slack=0.5)
    assert [m.closed for m in motif.misfits] == [False, False]
    assert ends_of(motif.curves)[0] == pytest.approx(np.array([[0, 20], [40, 21]]))


def test_a_side_drawn_on_both_edges_is_one_line() -> None:
    # left and right side, one 0.2 mm off and in two pieces
    lines = [[0, 0, 0, 40], [39.8, 0, 39.8, 15], [39.8, 15, 39.8, 40]]
    motif = motif_of(cell_of(lines, SQUARE), "shifts", slack=0.5)
    laid, _ = lay_motif(motif, rectangle_panel(100, 80), affine.IDENTITY)
    places = np.sort(ends_of(laid)[:, :, 0].ravel())
    assert places == pytest.approx([40, 40, 80, 80])
    assert laid.lengths() == pytest.approx([80, 80])


def test_lines_through_all_cells_become_one() -> None:
    motif = motif_of(cell_of([[0, 20, 40, 20], [20, 0, 20, 40]], SQUARE), "shifts")
    laid, _ = lay_motif(motif, rectangle_panel(400, 200), affine.IDENTITY)
    # ten upright lines and five level ones
    assert np.sort(laid.lengths()) == pytest.approx([200] * 10 + [400] * 5)


def test_arcs_of_one_circle_become_a_circle() -> None:
    data = np.zeros((4, 8))
    data[:, :2] = 7, 5
    data[:, 2] = data[:, 5] = 3
    data[:, 6] = np.arange(4) * math.pi / 2 + 0.3
    data[:, 7] = data[:, 6] + math.pi / 2
    arcs = Curves(np.full(4, 1, np.uint8), data)
    joined, _ = join_runs(arcs, np.zeros(4, np.int32), near=1e-6)
    assert len(joined) == 1
    assert joined.lengths()[0] == pytest.approx(6 * math.pi)


@pytest.mark.parametrize(
    ("by", "place"), [("drop 1/2", (40, 20)), ("brick 1/3", (40 / 3, 40))]
)
def test_drops(by: str, place: tuple[float, float]) -> None:
    way = find_ways(SQUARE, by, "", slack=0.01)[0]
    along = np.array(place) @ np.linalg.inv(way.basis)
    assert np.allclose(along, np.round(along))
    assert abs(np.linalg.det(way.basis)) == pytest.approx(1600)


@pytest.mark.parametrize("by", ["drop 7/2", "drop 1/2", "drop .5"])
def test_a_drop_of_whole_cells_more_is_the_same(by: str) -> None:
    # three cells and a half lie where half a cell does
    (way,) = find_ways(SQUARE, by, "", slack=0.01)
    assert np.abs(way.basis).tolist() == [[40, 20], [0, 40]]


@pytest.mark.parametrize(
    "by", ["drop 1/{}", "drop .{}", "turns {}", "way {}", "shifts {},0 0,40"]
)
def test_numbers_of_any_length_are_refused_in_words(by: str) -> None:
    with pytest.raises(PlanError, match="not understood"):
        find_ways(SQUARE, by.format("9" * 5000), "", slack=0.01)


def test_shifts_that_are_no_lengths_of_the_cell_are_refused() -> None:
    # 40 / 0.2 = 200 cells along each side
    with pytest.raises(PlanError, match="40,000 times over itself"):
        find_ways(SQUARE, "shifts .2,0 0,.2", "", slack=0.5)


@pytest.mark.parametrize(
    ("corners", "by", "copies"),
    [
        ([[0, 0], [30, 0], [30, 20], [0, 20]], "mirrors", 4),
        ([[0, 0], [30, 0], [30, 30]], "mirrors", 8),
        ([[0, 0], [30, 0], [15, 15 * 3**0.5]], "mirrors", 6),
        ([[0, 0], [30, 0], [30, 10 * 3**0.5]], "mirrors", 12),
        ([[0, 0], [30, 0], [30, 30], [0, 30]], "turns", 4),
        ([[0, 0], [30, 0], [15, 15 * 3**0.5]], "turns", 6),
        ([[0, 0], [30, 0], [37, 25], [4, 19]], "turns", 2),
        ([[0, 0], [30, 0], [7, 19]], "turns", 2),
    ],
)
def test_mirrors_and_turns_fill_the_plane_once(
    corners: list[list[float]], by: str, copies: int
) -> None:
    outline = np.array(corners, dtype=float)
    way = find_ways(outline, by, "", slack=0.01)[0]
    assert len(way.operations) == copies
    steps = np.stack(np.meshgrid(np.arange(-4, 5), np.arange(-4, 5)), -1)
    shifts = steps.reshape(-1, 1, 2) @ way.basis
    polygons = np.concatenate(
        [shapely.polygons(affine.apply(g, outline) + shifts) for g in way.operations]
    )
    points = np.random.default_rng(1).random((200, 2)) * 40
    hits = shapely.STRtree(polygons).query(shapely.points(points), predicate="within")
    assert np.bincount(hits[0], minlength=200).tolist() == [1] * 200


@pytest.mark.parametrize("name", ["C5", "C8", "D4", "D7", "D12"])
def test_rosettes_from_one_sector(name: str) -> None:
    n, mirrors = int(name[1:]), name[0] == "D"
    angle = (math.pi if mirrors else 2 * math.pi) / n
    ray = 50 * np.array([[1, 0], [math.cos(angle), math.sin(angle)]])
    outline = np.vstack([[0, 0], ray])
    a, b = (0.5, 0.5) if not mirrors else (0.4, 0.7)
    line = np.concatenate([a * ray[0], b * ray[1]]).tolist()
    motif = motif_of(cell_of([line], outline), "", f"rosette:{name}")
    laid, _ = lay_motif(
        motif, rectangle_panel(120, 120), affine.translation(60.0, 60.0)
    )
    ends = ends_of(laid) - 60
    # a star or ring of as many lines as there are sectors, closed on itself
    assert len(laid) == n * (2 if mirrors else 1)
    points = np.round(ends.reshape(-1, 2), 6)
    _, count = np.unique(points, axis=0, return_counts=True)
    assert (count == 2).all()


def test_any_number_of_turns_lays_a_sector() -> None:
    ray = 50 * np.array([[1, 0], [math.cos(math.pi / 5), math.sin(math.pi / 5)]])
    sector = cell_of([[*(0.4 * ray[0]), *(0.4 * ray[1])]], np.vstack([[0, 0], ray]))
    laid, _ = lay_motif(
        motif_of(sector, "Turns 10"),
        rectangle_panel(120, 120),
        affine.translation(60.0, 60.0),
    )
    # a ring of ten sides, 20 mm from the middle to each corner
    assert len(laid) == 10
    far = np.hypot(*np.moveaxis(ends_of(laid) - 60, -1, 0))
    assert far == pytest.approx(np.full(far.shape, 20.0))
    with pytest.raises(SymmetryError, match="one sector"):
        motif_of(sector, "turns 9")
    for none in ("turns 0", "turns 1", "turns 361"):
        with pytest.raises(PlanError, match="not understood"):
            motif_of(sector, none)


def strip_lines(short: str, count: int, seed: int) -> np.ndarray:
    """Random strokes carried about by a strip's operations (period 30, height 20)."""
    rng = np.random.default_rng(seed)
    strokes = rng.random((count, 2, 2)) * [1.0, 1.6] - [0.0, 0.8]
    images = []
    for position in general_positions("frieze", short):
        matrix = np.array(position.matrix).reshape(2, 2)
        images.append(strokes @ matrix.T + [float(position.shift[0]), 0.0])
    shifts = np.arange(-12, 16)[:, None, None, None] * np.array([1.0, 0.0])
    lines = (np.concatenate(images) + shifts).reshape(-1, 2, 2)
    return lines * [30.0, 10.0]


@pytest.mark.reference("International Tables for Crystallography E, frieze groups")
@pytest.mark.parametrize("short", [g.short for g in FRIEZE_GROUPS])
def test_borders_with_mitres_for_every_frieze_group(short: str) -> None:
    lines = strip_lines(short, 4, 5)
    cut = shapely.intersection(shapely.linestrings(lines), shapely.box(0, -10, 30, 10))
    cut = shapely.get_parts(cut[shapely.length(cut) > 1e-9])
    segments = shapely.get_coordinates(cut).reshape(-1, 4)
    outline = np.array([[0.0, -10.0], [30.0, -10.0], [30.0, 10.0], [0.0, 10.0]])
    motif = motif_of(cell_of(segments.tolist(), outline), "border")
    assert np.abs(motif.basis[0]) == pytest.approx([30.0, 0.0])
    operations = tuple(
        (
            float(p.matrix[0]), 0.0, 0.0, float(p.matrix[3]),
            30.0 * float(p.shift[0]), 0.0,
        )
        for p in general_positions("frieze", short)
    )  # fmt: skip
    figures = Figures(
        np.empty(0, dtype=object), (), motif.basis, operations, (), f"frieze:{short}"
    )
    width, height = 300.0, 220.0
    laid = lay_border(motif, figures, rectangle_panel(width, height), 1.0)
    ends = ends_of(laid.curves)
    for image in (ends * [-1, 1] + [width, 0], ends * [1, -1] + [0, height]):
        assert covers(image, ends)
    # the lower side, from beyond the corner to before the middle, is the strip
    inner = shapely.box(20, 0, 130, 20)
    ours = shapely.intersection(shapely.linestrings(ends), inner)
    ours = shapely.get_coordinates(shapely.get_parts(ours[shapely.length(ours) > 0.01]))
    phases = [0.0, 15.0] if short in ("p1m1", "p2mg", "p2mm") else [0.0]
    starts = [0.0] if short != "p2mg" else [7.5]
    drawn = lines + np.array([0.0, 10.0])
    assert any(
        covers(ours.reshape(-1, 2, 2), drawn + np.array([10.0 - p - s, 0.0]))
        for p in phases
        for s in starts
    )
    # with a corner piece: whole repeats between pieces, carried round by turns
    piece = Corner(Curves.from_segments(np.array([[5.0, 5.0, 15.0, 12.0]])), 20, 20)
    turned = ends_of(
        lay_border(motif, figures, rectangle_panel(190, 160), 1.0, corner=piece).curves
    )
    for side, back in (
        (shapely.box(20, 0, 170, 20), (1, 0, 0, 1, 0, 0)),
        (shapely.box(170, 20, 190, 140), (0, -1, 1, 0, 0, 190)),
        (shapely.box(20, 140, 170, 160), (-1, 0, 0, -1, 190, 160)),
        (shapely.box(0, 20, 20, 140), (0, 1, -1, 0, 160, 0)),
    ):
        held = shapely.intersection(shapely.linestrings(turned), side)
        held = shapely.get_parts(held[shapely.length(held) > 0.01])
        ours = affine.apply(back, shapely.get_coordinates(held).reshape(-1, 2, 2))
        assert len(ours)
        assert any(
            covers(ours, drawn + np.array([20.0 - p - s, 0.0]))
            for p in phases
            for s in starts
        )


def test_a_border_is_stretched_to_end_on_a_corner() -> None:
    outline = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 20.0], [0.0, 20.0]])
    motif = motif_of(cell_of([[0, 10, 15, 0], [15, 0, 30, 10]], outline), "border")
    figures = Figures(
        np.empty(0, dtype=object), (), motif.basis, (affine.IDENTITY,), (), ""
    )
    piece = Corner(Curves.from_segments(np.array([[10.0, 20.0, 20.0, 10.0]])), 20, 20)
    laid = lay_border(
        motif, figures, rectangle_panel(253.0, 190.0), 1.0, corner=piece, give=0.03
    )
    # 213 mm for 7 repeats of 30 mm, 150 mm for 5
    assert laid.stretch == pytest.approx((213 / 210 - 1, 0.0))
    far = lay_border(
        motif, figures, rectangle_panel(265.0, 190.0), 1.0, corner=piece, give=0.03
    )
    assert far.stretch[0] == 0.0
    assert far.wanted[0] == pytest.approx(225 / 240 - 1)


def test_a_corner_piece_goes_on_where_it_misses_the_border_by_a_little() -> None:
    outline = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 20.0], [0.0, 20.0]])
    lines = [[0.0, 10, 15, 5], [15, 5, 30, 10]]
    motif = motif_of(cell_of(lines, outline), "border")
    figures = Figures(
        np.empty(0, dtype=object), (), motif.basis, (affine.IDENTITY,), (), ""
    )
    bent = np.array([[10.2, 19.9, 8, 8], [8, 8, 19.8, 10.3], [8, 8, 20, 15]])
    piece = Corner(Curves.from_segments(bent), 20, 20)
    laid = lay_border(motif, figures, rectangle_panel(250.0, 190.0), 1.0, corner=piece)
    assert laid.closed == pytest.approx(math.hypot(0.2, 0.3))
    assert laid.apart == 1
    ends = ends_of(laid.curves).reshape(-1, 2)
    for joined in ([20, 10], [10, 20], [230, 10], [240, 20], [20, 180], [10, 170]):
        assert (np.hypot(*(ends - joined).T) < 1e-6).sum() == 2
    assert (np.hypot(*(ends - [20, 15]).T) < 1e-6).any()


def test_panels_with_a_hole_and_a_round_edge() -> None:
    motif = motif_of(cell_of([[0, 20, 40, 20]], SQUARE), "shifts")
    ring = np.zeros((1, 8))
    ring[0] = 100, 100, 100, 0, 0, 100, 0, 2 * math.pi
    hole = np.array([[90.0, 90, 90, 130], [90, 130, 110, 130], [110, 130, 110, 90]])
    hole = np.vstack([hole, [[110, 90, 90, 90]]])
    panel = panel_from_curves(
        [Curves(np.ones(1, np.uint8), ring), Curves.from_segments(hole)]
    )
    assert (panel.width, panel.height) == pytest.approx((200, 200))
    laid, _ = lay_motif(motif, panel, affine.IDENTITY)
    heights = np.array([20, 60, 100, 140, 180.0])
    chords = 2 * np.sqrt(100**2 - (heights - 100) ** 2)
    # the line at 100 mm crosses the hole, 20 mm wide
    assert laid.lengths().sum() == pytest.approx(chords.sum() - 20, abs=1e-6)
    assert len(laid) == 6


def test_exact_lines_near_each_other_stay_two() -> None:
    # 0.3 mm apart at the join, less than what is closed where lines miss
    cell = cell_of([[0, 20, 40, 20], [0, 20.3, 40, 20.3]], SQUARE)
    motif = motif_of(cell, "shifts", slack=0.5)
    assert motif.misfits == ()
    laid, _ = lay_motif(motif, rectangle_panel(100, 80), affine.IDENTITY)
    heights = np.sort(ends_of(laid)[:, 0, 1])
    assert heights == pytest.approx([20, 20.3, 60, 60.3])


def test_an_end_goes_to_the_nearest_not_to_every_end_within_the_slack() -> None:
    # one line misses itself by 0.2; the next, 0.4 off, is exact, as are the others
    exact = [[0, h, 40, h] for h in (20.6, 5, 10, 30)]
    cell = cell_of([[0, 20, 40, 20.2], *exact], SQUARE)
    motif = motif_of(cell, "shifts", slack=0.5)
    assert [round(m.size, 6) for m in motif.misfits] == [0.2]
    starts = ends_of(motif.curves)[:, 0, 1] % 40
    assert np.sort(starts) == pytest.approx([5, 10, 20.1, 20.6, 30])


def test_hand_drawn_ends_of_one_point_on_a_mirror_become_one() -> None:
    # a star's tip, its two lines drawn 0.2 mm apart and 0.1 mm short of the mirror
    lines = [[30, 10, 39.9, 20.1], [39.9, 19.9, 28, 33], [30, 10, 28, 33]]
    motif = motif_of(cell_of(lines, SQUARE), "mirrors", slack=0.5)
    near = ends_of(motif.curves).reshape(-1, 2)
    tips = near[np.abs(near[:, 0] - 40) < 0.5]
    low = tips[np.abs(tips[:, 1] - 20) < 1]
    assert np.ptp(low, axis=0) == pytest.approx([0, 0], abs=1e-9)
    assert low[0, 0] == pytest.approx(40)


@pytest.mark.parametrize(
    ("short", "closed"), [(0.2, [True]), (0.7, [True]), (0.9, [False]), (1.2, [])]
)
@pytest.mark.parametrize("bend", [0.0, 6.0])
def test_a_line_that_stops_short_of_its_mirror_is_drawn_on_or_told(
    short: float, closed: list[bool], bend: float
) -> None:
    # straight, or a curve that leaves a level line for good 10 mm before its end
    data = np.array([[15.0, 20 - bend, 20, 20, 30, 20, 40 - short, 20]])
    curves = Curves(np.full(1, CUBIC, np.uint8), data)
    if not bend:
        curves = Curves.from_segments(np.array([[15.0, 20, 40 - short, 20]]))
    cell = Cell(curves, np.zeros(1, np.int32), SQUARE, guided=True)
    motif = motif_of(cell, "mirrors", slack=0.5)
    assert [m.closed for m in motif.misfits] == closed
    # a gap across a mirror is measured from end to end
    sizes = [2 * short if ok else short for ok in closed]
    assert [m.size for m in motif.misfits] == pytest.approx(sizes)
    ends = ends_of(motif.curves)[:, :, 0] if not bend else motif.curves.ends()
    assert ends.max() == pytest.approx(40 if closed == [True] else 40 - short)


def test_an_end_without_its_like_is_told_without_a_length_that_would_close_it() -> None:
    # one is drawn on to its side and the other reaches it: no misfit brings them mates
    for short in (0.4, 0.0):
        cell = cell_of([[20, 20, 40 - short, 20]], SQUARE)
        motif = motif_of(cell, "shifts", slack=0.5)
        assert [(m.closed, m.size) for m in motif.misfits] == [(False, 0.0)]


def test_a_line_that_ends_on_a_side_near_a_corner_stays() -> None:
    # 0.4 mm off the corner the line goes on into the cell below, not to the right
    cell = cell_of([[20, 30, 39.6, 0], [39.6, 40, 20, 30]], SQUARE)
    assert motif_of(cell, "shifts", slack=0.5).misfits == ()


def test_a_tip_that_stops_short_of_its_mirror_stays() -> None:
    # two lines end in one point: what was drawn to its end is no line cut off
    lines = [[15, 15, 39.6, 20], [15, 25, 39.6, 20]]
    motif = motif_of(cell_of(lines, SQUARE), "mirrors", slack=0.5)
    assert motif.misfits == ()
    assert ends_of(motif.curves)[:, :, 0].max() == pytest.approx(39.6)


def test_ways_that_no_line_tells_apart_are_told_with_how_to_take_them() -> None:
    # nothing crosses a side, so nothing says which pair of sides are mirrors
    outline = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 40.0], [0.0, 40.0]])
    cell = cell_of([[5, 5, 14, 9], [14, 9, 8, 30]], outline)
    way, notes = choose_way(cell, "", "plane:pm", 0.5)
    assert [n.type for n in notes] == ["way in doubt"]
    assert "--by “way 2”" in notes[0].remedy
    other, none = choose_way(cell, "way 2", "plane:pm", 0.5)
    assert none == ()
    assert not np.allclose(np.abs(way.basis), np.abs(other.basis))
    with pytest.raises(PlanError, match="it has 2 ways"):
        choose_way(cell, "way 3", "plane:pm", 0.5)
    # a line that goes on by one way alone decides
    crossing = cell_of([[5, 5, 14, 9], [5, 0, 12, 40], [12, 0, 5, 40]], outline)
    assert choose_way(crossing, "", "plane:pm", 0.5)[1] == ()


def test_a_corner_piece_that_does_not_fit_its_border_is_refused() -> None:
    outline = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 20.0], [0.0, 20.0]])
    motif = motif_of(cell_of([[0, 10, 30, 10]], outline), "border")
    figures = Figures(
        np.empty(0, dtype=object), (), motif.basis, (affine.IDENTITY,), (), ""
    )
    lines = Curves.from_segments(np.array([[10.0, 20.0, 20.0, 10.0]]))
    for width, height in ((21, 20), (20, 19)):
        with pytest.raises(LineWorkError) as refused:
            lay_border(
                motif, figures, rectangle_panel(250, 190), 1.0,
                corner=Corner(lines, width, height), slack=0.2,
            )  # fmt: skip
        assert f"{width:.2f} x {height:.2f} mm, the border 20.00 mm" in str(
            refused.value
        )
    # three sides have no corner that one piece goes round
    edge = np.array([[0.0, 0, 300, 0], [300, 0, 0, 250], [0, 250, 0, 0]])
    panel = panel_from_curves([Curves.from_segments(edge)])
    with pytest.raises(LineWorkError, match="this panel has 3 corners"):
        lay_border(motif, figures, panel, 1.0, corner=Corner(lines, 20, 20))
