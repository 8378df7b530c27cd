import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.arrangement.model import Outlines
from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.renderers.text.labels import _inside, fit_numbers
from fillwork.renderers.text.loose import beside_loose_lines
from fillwork.renderers.text.room import (
    Sides,
    fit_at,
    ink_points,
    number_body,
    place_best,
    sizes_at,
)
from fillwork.renderers.text.typeset import default_fonts
from tests.unit.helpers import linework_from_segments
from tests.unit.renderers.patterns import (
    arrangement_from_polygons,
    kinds_by_area,
    outlines_of,
    star_pattern,
)

CODES = ("1", "7", "28", "137")


def fitted(drawing, kinds, codes=CODES, **options):
    sides = Sides.of(outlines_of(drawing), 0.01)
    text = np.where(kinds.of_face >= 0, kinds.of_face % len(codes), -1)
    at, height = fit_numbers(
        sides,
        drawing.witness,
        drawing.inscribed,
        kinds,
        text,
        codes,
        default_fonts(),
        **options,
    )
    return at, height, text


def glyphs_inside(polygon, at, height, code) -> bool:
    points = ink_points(code, default_fonts()) * height + at
    return bool(shapely.contains_properly(polygon, shapely.MultiPoint(points)))


@pytest.mark.parametrize("shift", [(0.0, 0.0), (3.0, 5.0), (11.3, 17.9)])
def test_glyph_outlines_lie_wholly_inside(shift):
    drawing = star_pattern(4, 3, 40.0, shift)
    kinds = kinds_by_area(drawing)
    at, height, text = fitted(drawing, kinds)
    polygons = drawing.polygons()
    shown = np.flatnonzero(height > 0)
    assert len(shown) > 100
    for face in shown:
        code = CODES[text[face]]
        assert glyphs_inside(polygons[face - 1], at[face], height[face], code)


def test_whole_regions_of_a_kind_share_one_size():
    drawing = star_pattern(4, 3, 40.0, (3.0, 5.0))
    kinds = kinds_by_area(drawing)
    _, height, _ = fitted(drawing, kinds)
    assert len(kinds.orbits) > 1
    for orbit in kinds.orbits:
        whole = orbit.faces[~kinds.cut[orbit.faces]]
        assert len(np.unique(height[whole])) == 1
        cut = orbit.faces[kinds.cut[orbit.faces]]
        assert (height[cut] <= height[whole].max()).all()


def test_number_in_a_square_is_as_large_as_it_can_be():
    square = arrangement_from_polygons([shapely.box(0, 0, 4, 4)], 4, 4)
    sides = Sides.of(outlines_of(square), 0.01)
    body = number_body("8", default_fonts())
    at, height = place_best(
        sides, np.array([1]), np.array([[1.0, 2.5]]), body, 0.0, enough=100.0
    )
    # a figure with its air is 2 (0.5 + 0.1) high: from the body, not from memory
    top = max(body.reach)
    assert height[0] == pytest.approx(2.0 / top, rel=0.03)
    assert at[0] == pytest.approx([2, 2], abs=0.4)


# of any shape; convex, on a circle; of any shape, with sides by the hundred
@pytest.mark.parametrize(("least", "longest"), [(2.0, 99.0), (6.0, 99.0), (2.0, 0.05)])
def test_size_at_a_point_is_the_touching_size(least, longest):
    rng = np.random.default_rng(7)
    body = number_body("28", default_fonts())
    for _ in range(20):
        angle = np.sort(rng.uniform(0, 2 * np.pi, 7))
        radius = rng.uniform(least, 6, 7)
        ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius[:, None]
        polygon = shapely.segmentize(shapely.Polygon(ring), longest)
        if longest < 1:  # corners that do not lie on one line
            polygon = shapely.transform(polygon, lambda p: p + 0.004 * np.sin(99 * p))
        if not polygon.contains(shapely.Point(0, 0)):
            continue
        drawing = arrangement_from_polygons([polygon], 10, 10)
        sides = Sides.of(outlines_of(drawing), 0.01)
        assert longest > 1 or len(sides.segments) > 300
        one, here = np.zeros(1, np.int64), np.zeros((1, 2))
        size = sizes_at(sides, one + 1, here, (body,), one, 0.0)[0]
        assert fit_at(sides, one + 1, here, body, 0.0, 0.999 * size)[0]
        assert not fit_at(sides, one + 1, here, body, 0.0, 1.001 * size)[0]
        hull = shapely.Polygon(body.corners)
        inner = shapely.affinity.scale(hull, size * 0.999, size * 0.999, origin=(0, 0))
        outer = shapely.affinity.scale(hull, size * 1.001, size * 1.001, origin=(0, 0))
        assert polygon.contains(inner)
        assert not polygon.contains(outer)


def test_curved_region_keeps_its_number_inside():
    table = Curves(
        np.array([ARC, LINE, LINE], np.uint8),
        np.array(
            [
                [0, 0, 10, 0, 0, 10, 0, np.pi / 2],
                [0, 10, 0, 0, 0, 0, 0, 0],
                [0, 0, 10, 0, 0, 0, 0, 0],
            ],
            float,
        ),
    )
    outlines = Outlines(table, np.array([0, 3]), np.array([0, 0, 1]))
    sides = Sides.of(outlines, 0.01)
    body = number_body("137", default_fonts())
    at, height = place_best(
        sides, np.array([1]), np.array([[3.0, 3.0]]), body, 0.1, enough=5.0
    )
    points = ink_points("137", default_fonts()) * height[0] + at[0]
    assert (points > 0).all()
    assert (np.linalg.norm(points, axis=1) < 10).all()
    assert height[0] > 3


def test_region_that_is_too_small_gets_no_number():
    drawing = star_pattern(4, 3, 40.0)
    kinds = kinds_by_area(drawing)
    _, height, _ = fitted(drawing, kinds, least=4.0)
    assert (height[(kinds.of_face == 2) & ~kinds.cut] == 0).all()
    assert (height[kinds.of_face == 0] >= 4.0).all()


def test_the_middle_of_a_ground_is_not_in_it_though_a_ring_gapes_by_a_bit():
    # two squares, the inner one a hole; the outer one's right corners end and start
    # a last bit beside the level of the middle, as arcs do that go all round
    gap = np.nextafter(1.0, 0.0)
    outer = [(0, 0, 2, 0), (2, 0, 2, gap), (2, 1, 2, 2), (2, 2, 0, 2), (0, 2, 0, 0)]
    inner = [(0.5, 0.5, 0.5, 1.5), (0.5, 1.5, 1.5, 1.5), (1.5, 1.5, 1.5, 0.5)]
    inner += [(1.5, 0.5, 0.5, 0.5)]
    sides = Sides(np.array(outer + inner, dtype=float), np.array([0, 9]))
    level = np.array([[1.0, gap], [0.25, gap], [3.0, gap]])
    assert _inside(sides, np.zeros(3, int), level).tolist() == [False, True, False]


def test_the_bar_under_a_number_belongs_to_its_body():
    from fillwork.renderers.text.bars import BAR_BELOW, BAR_WIDTH

    fonts = default_fonts()
    wide, high = np.abs(ink_points("68", fonts)).max(axis=0)
    # 68 reads 89 upside down, so it has a bar: its lower edge is the lowest ink
    below = high + BAR_BELOW + BAR_WIDTH / 2
    assert number_body("68", fonts).half == pytest.approx((wide, below))
    assert number_body("74", fonts).half[1] == pytest.approx(
        np.abs(ink_points("74", fonts))[:, 1].max()
    )


def test_a_number_keeps_from_a_side_where_its_region_has_room() -> None:
    # a notch from above all but reaches the centroid, which has room for the number
    notched = shapely.Polygon([(1, 1), (61, 1), (61, 41), (31, 18.5), (1, 41)])
    assert shapely.boundary(notched).distance(notched.centroid) < 2.5
    assert notched.contains(notched.centroid)
    drawing = arrangement_from_polygons([notched], 62, 42)
    at, height, _ = fitted(drawing, kinds_by_area(drawing), most=3.5)
    assert height[1] == 3.5
    assert shapely.boundary(notched).distance(shapely.Point(at[1])) > 4.0


def test_a_narrow_figure_stands_in_the_middle_of_a_band():
    # 14 mm wide, with arms of 16 mm: its centroid lies (14 x 80 x 7 + 2 x 16 x 14 x 22)
    # / (14 x 80 + 2 x 16 x 14) = 11.3 mm from the outer side, 2.7 mm from the inner one
    band = shapely.box(10, 10, 40, 90).difference(shapely.box(24, 24, 40, 76))
    assert band.centroid.x - 10 == pytest.approx(17696 / 1568)
    drawing = arrangement_from_polygons([band], 50, 100)
    at, height, _ = fitted(drawing, kinds_by_area(drawing), ("1",))
    assert height[1] == 5.0
    assert band.boundary.distance(shapely.Point(at[1])) > 5.5


def test_numbers_keep_clear_of_lines_that_end_in_a_region():
    # a square whose middle a stroke crosses that reaches no side
    square = [[10, 10, 40, 10], [40, 10, 40, 40], [40, 40, 10, 40], [10, 40, 10, 10]]
    stroke = [15, 24, 35, 26]
    drawing = build_arrangement(
        linework_from_segments([*square, stroke]), page_edge="open", close_gaps=1.0
    )
    kinds = kinds_by_area(drawing)
    sides = Sides.of(outlines_of(drawing), 0.01)
    found, inside, room = beside_loose_lines(sides, drawing, 0.01)
    at, height = fit_numbers(
        found, inside, room, kinds, np.array([-1, 0]), ("8",), default_fonts()
    )
    assert height[1] == 5.0
    ink = shapely.MultiPoint(ink_points("8", default_fonts()) * height[1] + at[1])
    line = shapely.LineString(np.reshape(stroke, (2, 2)))
    assert shapely.distance(shapely.convex_hull(ink), line) >= 0.2
    # areas and centroids are those of the square
    assert found.centroids()[1] == pytest.approx([25, 25])


@pytest.mark.parametrize(
    ("corners", "code", "middle"),
    [
        ([(20, 20), (80, 20), (50, 60)], "1", (50, 20 + 40 / 3)),
        # two triangles with a common side: 10 and 40 high, so weighed 1 to 4
        ([(50, 10), (70, 50), (50, 60), (30, 50)], "28",
         (50, (4 * (10 + 100) / 3 + (100 + 60) / 3) / 5)),
    ],
)  # fmt: skip
def test_a_number_stands_at_the_centroid_where_it_loses_nothing(corners, code, middle):
    drawing = arrangement_from_polygons([shapely.Polygon(corners)], 100, 80)
    at, height, _ = fitted(drawing, kinds_by_area(drawing), (code,), most=3.5)
    assert height[1] == 3.5
    assert at[1] == pytest.approx(middle, abs=1e-6)
