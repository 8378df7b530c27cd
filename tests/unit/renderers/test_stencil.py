"""Masks that hold together: judged by shapely from their cut lines."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from fillwork.errors import PlanError
from fillwork.geometry import affine
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.model import SheetSettings
from fillwork.renderers.scene import Fills, Placed, Strokes, Text
from fillwork.renderers.sheets.compose import compose_sheets
from fillwork.renderers.sheets.masks import (
    Mask,
    compose_masks,
    mask_items,
    mask_words,
)
from fillwork.renderers.sheets.parts import Parts
from fillwork.renderers.sheets.stencil import (
    bridge_strips,
    find_bridges,
    find_tips,
    line_shape,
    name_points,
    opening_shape,
)
from tests.unit.renderers.patterns import (
    arrangement_from_segments,
    colouring_of,
    kinds_by_area,
    outlines_of,
)

SIDE, MANY = 10.0, 6


@pytest.fixture(scope="module")
def board():
    """Return a chequered board of six by six squares inside a page."""
    low, high = 5.0, 5.0 + SIDE * MANY
    lines = []
    for k in range(MANY + 1):
        at = low + SIDE * k
        lines += [[low, at, high, at], [at, low, at, high]]
    drawing = arrangement_from_segments(lines, high + 5, high + 5)
    kinds = kinds_by_area(drawing)
    place = np.floor((drawing.witness[1:] - low) / SIDE).astype(int)
    of_face = np.r_[-1, place.sum(axis=1) % 2].astype(np.int32)
    colouring = colouring_of(kinds, 2)
    return drawing, kinds, replace(colouring, of_face=of_face)


def masks(board, **settings):
    drawing, kinds, colouring = board
    return compose_masks(
        Parts(
            drawing,
            outlines_of(drawing),
            kinds,
            colouring,
            None,
            SheetSettings(**settings),
            real_scale=1.0,
            title="Board",
            scale_known=True,
        )
    )


def test_openings_are_tinted_for_eyes_and_not_for_cutters(board):
    drawing, kinds, colouring = board
    parts = Parts(
        drawing,
        outlines_of(drawing),
        kinds,
        colouring,
        None,
        SheetSettings(),
        1.0,
        True,
        "Board",
    )
    for tinted in (True, False):
        mask = mask_items(parts, 1, 1.0, tinted=tinted)
        inner = next(i for i in mask.items if isinstance(i, Placed)).picture.items
        fills = [i for i in inner if isinstance(i, Fills)]
        assert len(fills) == tinted
        for fill in fills:
            data, start = fill.shapes.pieces.data, fill.shapes.ring_start
            area = sum(
                shapely.Polygon(data[a:b, 0:2]).area
                for a, b in pairwise(start.tolist())
            )
            # every second square of the board
            assert area == pytest.approx(SIDE**2 * MANY**2 / 2)


def openings(scene):
    """Return the cut lines as polygons, by the even-odd rule."""
    (placed,) = (i for i in scene.items if isinstance(i, Placed))
    (inner,) = (i for i in placed.picture.items if isinstance(i, Placed))
    pens = [i for i in inner.picture.items if isinstance(i, Strokes)]
    pen = next(p for p in pens if p.layer == "outlines")
    rings = [
        shapely.Polygon(pen.curves.data[a:b, 0:2])
        for a, b in zip(pen.start[:-1], pen.start[1:], strict=True)
        if b - a > 2
    ]
    shape = shapely.Polygon()
    for ring in sorted(rings, key=lambda r: -r.area):
        shape = shape.symmetric_difference(ring)
    return shape


def test_openings_of_a_chequered_board_touch_in_every_inner_corner(board):
    drawing, _, colouring = board
    for place in (0, 1):
        tips = find_tips(drawing, colouring.of_face == place)
        assert len(tips) == (MANY - 1) ** 2
        inner = (np.unique(np.round(tips, 6)) - 5) / SIDE
        assert np.allclose(inner, np.arange(1, MANY))
    first = masks(board)[0]
    note = next(n for n in first.notes if n.type == "tips")
    assert f"{2 * (MANY - 1) ** 2} points" in note.text


def test_bridges_leave_one_piece(board):
    frame = shapely.box(0, 0, 70, 70)
    plain, bridged = masks(board), masks(board, bridge=1.0)
    assert len(plain) == len(bridged) > 0
    for scene in plain:
        loose = shapely.difference(frame, openings(scene))
        assert len(shapely.get_parts(loose)) > 1
    for scene in bridged:
        sheet = shapely.difference(frame, openings(scene))
        # what hangs together by more than a point
        assert shapely.buffer(sheet, -0.2).geom_type == "Polygon"
        assert not scene.notes


def on_either_side(bridges, at):
    """Return whether bridges leave a point on its left and on its right."""
    ends = np.concatenate([bridges[:, :2], bridges[:, 2:]])
    near = ends[np.argsort(np.hypot(*(ends - at).T))[: len(bridges)]]
    return near[:, 0].min() < at[0] < near[:, 0].max() or (
        near[:, 1].min() < at[1] < near[:, 1].max()
    )


@pytest.mark.parametrize("aside", [0.0, 6.0])
def test_two_bridges_hold_a_lone_island(aside):
    frame = shapely.box(0, 0, 100, 100)
    middle = np.array([50.0 + aside, 50.0])
    island = shapely.Point(middle).buffer(20)
    opening = shapely.Point(50, 50).buffer(30) - island
    bridges, islands = find_bridges(opening, frame)
    assert islands == 1
    assert len(bridges) == 2
    strips = shapely.union_all(bridge_strips(bridges, 3.0))
    held = shapely.difference(frame, shapely.difference(opening, strips))
    assert held.geom_type == "Polygon"
    assert on_either_side(bridges, middle)
    length = np.hypot(*(bridges[:, 2:] - bridges[:, :2]).T)
    # straight across: the first where the opening is narrowest
    assert length[0] == pytest.approx(10.0 - aside, abs=0.2)
    assert length[1] <= 10.0 + aside + 0.2
    # the strips leave the island open on both sides: cut in two, nothing falls out
    assert len(shapely.get_parts(opening - strips)) == 2


def test_islands_that_hold_each_other_hang_on_two_bridges_together():
    # two islands 2 mm apart: 3 and 10 mm from the sides of their opening
    inner = [shapely.box(x, 20, x + 10, 30) for x in (3, 15)]
    opening = shapely.box(0, -20, 35, 70) - shapely.union_all(inner)
    bridges, islands = find_bridges(opening, shapely.box(-5, -25, 40, 75))
    assert islands == 2
    spans = np.sort(bridges[:, [0, 2]], axis=1).tolist()
    assert sorted(spans) == [[0, 3], [13, 15], [25, 35]]


@pytest.mark.parametrize("grow", [0.25, 1.0])
def test_openings_reach_under_their_neighbours(grow):
    lines = [[10, 10, 30, 10], [30, 10, 30, 30], [30, 30, 10, 30], [10, 30, 10, 10]]
    drawing = arrangement_from_segments(lines, 40, 40)
    kinds = kinds_by_area(drawing)
    colouring = colouring_of(kinds, 1)
    (scene,) = masks((drawing, kinds, colouring), mask_overlap=grow)
    # a square of 20 mm with a border all round, corners kept square
    assert openings(scene).area == pytest.approx((20 + 2 * grow) ** 2)


def test_wrong_measures_are_refused():
    with pytest.raises(PlanError, match="mask overlap"):
        SheetSettings(mask_overlap=30.0)
    with pytest.raises(PlanError, match="bridge"):
        SheetSettings(bridge=80.0)


@pytest.mark.parametrize(("width", "masked"), [(2.0, True), (0.5, False)])
def test_a_wide_painted_line_has_its_mask(board, width, masked):
    drawing, kinds, colouring = board
    rules = replace(colouring.rules, outline="1", outline_width=width)
    scenes = masks((drawing, kinds, replace(colouring, rules=rules)))
    assert (scenes[-1].name == "mask-line") == masked
    if masked:
        # seven bars each way, 62 mm long with their corners, crossings counted once
        bars = 2 * (MANY + 1) * 62 * width - (MANY + 1) ** 2 * width**2
        assert openings(scenes[-1]).area == pytest.approx(bars)


@pytest.mark.parametrize(("width", "masked"), [(0.6, True), (0.4, False)])
def test_a_painted_line_is_masked_from_one_real_millimetre_on(board, width, masked):
    drawing, kinds, colouring = board
    lined = replace(
        colouring, rules=replace(colouring.rules, outline="1", outline_width=width)
    )
    parts = Parts(
        drawing,
        outlines_of(drawing),
        kinds,
        lined,
        None,
        SheetSettings(),
        real_scale=2.0,
        scale_known=True,
        title="Board",
    )
    names = [scene.name for scene in compose_masks(parts)]
    assert ("mask-line" in names) == masked


@pytest.mark.parametrize("width", [1.0, 3.0])
def test_bridges_reach_half_their_width_into_what_they_join(width):
    # along x, aslant with sides 3, 4 and 5, and where two pieces touch in a point
    lines = np.array([[0.0, 0, 10, 0], [10, 20, 13, 24], [30, 5, 30, 5]])
    along, aslant, point = bridge_strips(lines, width)
    half = width / 2
    assert along.equals(shapely.box(-half, -half, 10 + half, half))
    assert aslant.area == pytest.approx((5 + width) * width)
    assert shapely.get_coordinates(aslant.centroid)[0] == pytest.approx((11.5, 22))
    assert point.equals(shapely.box(30 - half, 5 - half, 30 + half, 5 + half))


def test_two_points_are_named_and_the_rest_counted():
    points = np.array([[1.04, 2.0], [3.0, 4.06], [5.0, 6.0], [7.0, 8.0]])
    assert name_points(points[:2]) == "@1.0,2.0, @3.0,4.1"
    assert name_points(points[:3]) == "@1.0,2.0, @3.0,4.1 and 1 more"
    assert name_points(points) == "@1.0,2.0, @3.0,4.1 and 2 more"


def test_the_shortest_bridges_join_islands_in_a_row():
    # three squares of 4 mm in an opening, 2 mm from each other, 3 and 9 mm from its
    # sides, 10 and more above and below
    inner = [shapely.box(x, 10, x + 4, 14) for x in (3, 9, 15)]
    opening = shapely.box(0, 0, 28, 24) - shapely.union_all(inner)
    bridges, islands = find_bridges(opening, shapely.box(-5, -5, 33, 29))
    assert islands == 3
    ends = np.sort(bridges[:, [0, 2]], axis=1)
    level = bridges[:, 1] == bridges[:, 3]
    # from the edge on to the last; each but that one hangs on two
    spans = {tuple(row) for row in ends[level].tolist()}
    assert spans >= {(0.0, 3.0), (7.0, 9.0), (13.0, 15.0)}
    # and from the last one on to the other side, so that all hang on two
    assert (19.0, 28.0) in spans
    assert len(bridges) == 4


def test_a_bridge_that_would_sag_is_not_made():
    # a square of 4 mm, 1 mm from the left side and 40 mm from the others
    square = shapely.box(1, 40, 5, 44)
    opening = shapely.box(0, 0, 45, 84) - square
    bridges, islands = find_bridges(opening, shapely.box(-5, -5, 50, 89))
    assert islands == 1
    assert len(bridges) == 1


@pytest.mark.parametrize("mirror", [False, True])
def test_the_box_of_a_drawing_lies_on_paper_from_the_origin(board, mirror):
    drawing, kinds, colouring = board
    settings = SheetSettings(mirror=mirror)
    shown = outlines_of(drawing)
    parts = Parts(drawing, shown, kinds, colouring, None, settings, 1.0, True, "Board")
    left, bottom, right, top = parts.box
    corners = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    found = affine.apply(parts.map_to_paper(2.5), corners)
    width, height = 2.5 * (right - left), 2.5 * (top - bottom)
    wanted = np.array([(0, 0), (width, 0), (width, height), (0, height)])
    if mirror:
        wanted = wanted[[1, 0, 3, 2]]
    assert found == pytest.approx(wanted)
    assert parts.sheet_box(2.5) == pytest.approx((0, 0, width, height))


def lined(board, width):
    """Return the board with its lines painted so wide, mm of the drawing."""
    drawing, kinds, colouring = board
    rules = replace(colouring.rules, outline="1", outline_width=width)
    return drawing, kinds, replace(colouring, rules=rules)


@pytest.mark.parametrize("width", [2.0, 12.5, 40.0])
def test_the_mask_of_a_broad_line_lies_on_its_page(board, width):
    scene = masks(lined(board, width))[-1]
    (placed,) = scene.items
    assert f", {width:g} mm wide" in scene.title
    low, high = placed.picture.box[:2], placed.picture.box[2:]
    on_page = affine.apply(placed.map, np.array([low, high]))
    assert on_page == pytest.approx(
        np.array([[10, 10], [scene.width - 10, scene.height - 10]])
    )
    # the outer corners of the board, 60 mm wide, are mitred
    bounds = np.array(openings(scene).bounds) - np.tile(board[0].vertices.min(0), 2)
    reach = np.array([-width / 2, -width / 2, 60 + width / 2, 60 + width / 2])
    assert bounds == pytest.approx(reach)
    inner = placed.picture.items[0]
    drawn = affine.apply(inner.map, np.array(openings(scene).bounds).reshape(2, 2))
    assert drawn == pytest.approx(np.array([low, high]))


@pytest.mark.parametrize(
    ("width", "told"), [(12.5, "12.5"), (120.0, "120"), (1250.0, "1250")]
)
def test_widths_of_lines_are_told_in_three_figures(board, width, told):
    drawing, kinds, colouring = lined(board, width)
    settings = SheetSettings(sheets=("line",), fit="page")
    shown = outlines_of(drawing)
    parts = Parts(drawing, shown, kinds, colouring, None, settings, 1.0, True, "Board")
    (page,) = compose_sheets(parts)
    said = [item.text for item in page.items if isinstance(item, Text)]
    assert f"Painted line, {told} mm wide, both edges" in said
    assert (
        f"the painted line, {told} mm wide,"
        in masks((drawing, kinds, colouring))[-1].title
    )


@pytest.mark.parametrize(
    ("codes", "names"),
    [
        (("a-2", "a/"), ["a-2", "a-3"]),
        (("a/", "a-1"), ["a-2", "a-1"]),
        (("Line", "line-1"), ["Line-2", "line-1"]),
        (("ab", "AB"), ["ab", "AB-2"]),
        (("/", "paint-1"), ["paint-2", "paint-1"]),
    ],
)
def test_no_two_masks_share_a_file_name(board, codes, names):
    drawing, kinds, colouring = lined(board, 2.0)
    swatches = tuple(
        replace(swatch, code=code)
        for swatch, code in zip(colouring.palette.swatches, codes, strict=False)
    )
    rules = replace(colouring.rules, outline=swatches[0].name)
    own = replace(
        colouring, rules=rules, palette=replace(colouring.palette, swatches=swatches)
    )
    found = [scene.name for scene in masks((drawing, kinds, own))]
    assert found == [*(f"mask-{name}" for name in names), "mask-line"]


@pytest.mark.parametrize(
    ("real", "told"), [(0.2, "Enlarged"), (1.0, "Cut along"), (9.0, "Reduced")]
)
def test_only_masks_at_true_size_say_to_cut(board, real, told):
    drawing, kinds, colouring = board
    fit = "auto" if real == 1.0 else "page"
    settings = SheetSettings(sheets=("masks",), fit=fit)
    shown = outlines_of(drawing)
    parts = Parts(drawing, shown, kinds, colouring, None, settings, real, True, "Board")
    for page in compose_sheets(parts):
        said = " ".join(item.text for item in page.items if isinstance(item, Text))
        assert told in said
        assert ("Cut along" in said) == (real == 1.0)
        assert ("to look at: cut it at true size" in said) == (real != 1.0)


def test_regions_that_share_a_curve_leave_no_scraps_in_their_opening():
    # a panel of 290 x 100 mm that a wave parts, both parts in one paint
    wave = "M5 55" + "".join(
        f"c20 {s * 40} 38 {s * 40} 58 0" for s in (1, -1, 1, -1, 1)
    )
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="110mm" '
        'viewBox="0 0 300 110"><g fill="none" stroke="black" stroke-width="0.3">'
        f'<path d="M5 5H295V105H5Z"/><path d="{wave}"/></g></svg>'
    )
    survey = make_survey(drawing.encode())
    assert survey.arrangement.face_count == 3
    parts = Parts(
        survey.arrangement,
        survey.outlines,
        survey.orbits,
        colouring_of(survey.orbits, 1),
        None,
        SheetSettings(),
        1.0,
        True,
        "Wave",
    )
    opening = opening_shape(parts, np.array([1, 2]), 0.0)
    assert opening.area == pytest.approx(290 * 100)
    frame = shapely.box(*opening.bounds).buffer(1.0)
    (rest,) = shapely.get_parts(shapely.difference(frame, opening))
    assert len(rest.interiors) == 1
    bridges, islands = find_bridges(opening, frame)
    assert (len(bridges), islands) == (0, 0)


def hexagon_with_spokes():
    """Return a hexagon of 40 mm sides whose corners are joined to its middle."""
    turn = np.radians(60 * np.arange(6))
    corners = 50 + 40 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    lines = [[*a, *b] for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
    lines += [[*corner, 50, 50] for corner in corners]
    drawing = arrangement_from_segments(lines, 100, 100)
    kinds = kinds_by_area(drawing)
    return drawing, kinds, colouring_of(kinds, 1)


@pytest.mark.parametrize("width", [2.0, 8.0])
def test_the_edges_of_a_line_have_no_tips_where_lines_meet(width):
    drawing, kinds, colouring = lined(hexagon_with_spokes(), width)
    shown = outlines_of(drawing)
    parts = Parts(
        drawing, shown, kinds, colouring, None, SheetSettings(), 1.0, True, "Six"
    )
    shape = line_shape(parts, width)
    # a hexagon again, whose sides lie half a width farther out: 2 √3 r²
    apothem = 40 * np.sqrt(3) / 2 + width / 2
    assert shapely.Polygon(shape.exterior).area == pytest.approx(
        2 * np.sqrt(3) * apothem**2
    )
    # six triangles are left open, each side half a width farther in
    inner = (40 * np.sqrt(3) / 6 - width / 2) ** 2 * 3 * np.sqrt(3)
    assert [shapely.Polygon(ring).area for ring in shape.interiors] == pytest.approx(
        [inner] * 6
    )


@pytest.mark.parametrize("paper", ["A4", "A5", "A6-landscape"])
@pytest.mark.parametrize("name", ["line", "coloured"])
def test_a_broad_line_stays_in_the_body_of_its_page(paper, name):
    drawing, kinds, colouring = lined(hexagon_with_spokes(), 8.0)
    settings = SheetSettings(sheets=(name,), paper=paper, fit="page")
    shown = outlines_of(drawing)
    parts = Parts(drawing, shown, kinds, colouring, None, settings, 1.0, True, "Six")
    (page,) = compose_sheets(parts)
    (placed,) = (i for i in page.items if isinstance(i, Placed))
    inner = next(i for i in placed.picture.items if isinstance(i, Placed))
    place = affine.compose(placed.map, inner.map)
    bounds = np.array(line_shape(parts, 8.0).bounds).reshape(2, 2)
    low, high = affine.apply(place, bounds)
    assert (low >= 10 - 1e-6).all()
    assert (high <= [page.width - 10, page.height - 10]).all()


def test_bridges_stand_in_the_middle_of_sides_and_opposite():
    # an island of 100 x 60 mm in an opening 10 mm wide all round
    opening = shapely.box(0, 0, 120, 80) - shapely.box(10, 10, 110, 70)
    bridges, islands = find_bridges(opening, shapely.box(-5, -5, 125, 85))
    assert islands == 1
    (one, two) = bridges[:, :2]
    assert np.hypot(*(bridges[:, 2:] - bridges[:, :2]).T) == pytest.approx(10)
    # straight across the middle, along one way or the other
    assert (one + two) / 2 == pytest.approx(np.array([60.0, 40.0]))
    assert 60.0 in one or 40.0 in one


@pytest.mark.parametrize(
    "island",
    [
        # 1 mm from the left side, 35 mm from the next; 1 mm from two sides
        shapely.Point(16, 50).buffer(15, quad_segs=48),
        shapely.box(5, 35, 35, 65),
        shapely.box(1, 1, 31, 31),
    ],
)
def test_a_second_bridge_far_off_is_found_though_nothing_new_is_near(island) -> None:
    sheet = shapely.box(0, 0, 100, 100)
    opening = shapely.difference(sheet, island)
    bridges, islands = find_bridges(opening, shapely.box(-1, -1, 101, 101))
    assert (len(bridges), islands) == (2, 1)


@pytest.mark.parametrize(
    ("count", "words"), [(1, "1 bridge of 3 mm holds"), (2, "2 bridges of 3 mm hold")]
)
def test_bridges_are_counted_in_words(count, words) -> None:
    mask = Mask((), 1, count, np.empty((0, 2)))
    assert mask_words(mask, 3.0).startswith(f"{words} what would fall out.")
