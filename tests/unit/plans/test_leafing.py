"""Leaf against areas and an exact small search."""

import itertools
import math
import random

import numpy as np
import pytest
import shapely
from shapely import affinity

from fillwork.colouring.palettes.file import parse_palette
from fillwork.linework import LineWork
from fillwork.pipeline.painting import colour_survey
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.leaf_quantities import alike_once, with_leaf
from fillwork.plans.leafing import cover_shape, cut_leaves, lay_leaf, lay_lines
from fillwork.plans.model import Plan, Quantity

LEAF = (80.0, 80.0)


def box(w, h):
    return shapely.box(0, 0, w, h)


def fits_exactly(pieces, size):
    """Say whether pieces fit into one leaf, by trying every corner place."""

    def place(left, put):
        if not left:
            return True
        xs = {0.0, *(x + w for x, _, w, _ in put)}
        ys = {0.0, *(y + h for _, y, _, h in put)}
        for k, piece in enumerate(left):
            for w, h in {piece, piece[::-1]}:
                for x, y in itertools.product(xs, ys):
                    inside = x + w <= size[0] + 1e-9 and y + h <= size[1] + 1e-9
                    free = all(
                        x >= a + c - 1e-9
                        or a >= x + w - 1e-9
                        or y >= b + d - 1e-9
                        or b >= y + h - 1e-9
                        for a, b, c, d in put
                    )
                    rest = [*left[:k], *left[k + 1 :]]
                    if inside and free and place(rest, [*put, (x, y, w, h)]):
                        return True
        return False

    return place(list(pieces), [])


def fewest(pieces, size):
    """Return the least number of leaves by trying all ways to share pieces out."""
    for count in range(1, len(pieces) + 1):
        for owner in itertools.product(range(count), repeat=len(pieces)):
            groups = [
                [p for p, o in zip(pieces, owner, strict=True) if o == k]
                for k in range(count)
            ]
            small = all(
                sum(w * h for w, h in g) <= size[0] * size[1] + 1e-9 for g in groups
            )
            if small and all(fits_exactly(g, size) for g in groups):
                return count
    return len(pieces)


@pytest.mark.parametrize("seed", range(20))
def test_cuts_against_an_exact_search(seed):
    draw = random.Random(seed)
    pieces = [
        (float(draw.randint(10, 75)), float(draw.randint(10, 60)))
        for _ in range(draw.randint(2, 5))
    ]
    cut = cut_leaves([(w, h, 1) for w, h in pieces], LEAF)
    count = sum(leaf.count for leaf in cut)
    exact = fewest(pieces, LEAF)
    assert exact <= count <= exact + 1
    # every piece is there once, inside its leaf, and none lies on another
    sizes = sorted(
        (max(w, h), min(w, h)) for leaf in cut for *_, w, h in leaf.cuts * leaf.count
    )
    wanted = sorted((max(p), min(p)) for p in pieces)
    assert np.array(sizes) == pytest.approx(np.array(wanted), abs=0.051)
    assert (np.array(sizes) >= np.array(wanted) - 1e-6).all()
    for leaf in cut:
        boxes = [shapely.box(x, y, x + w, y + h) for x, y, w, h in leaf.cuts]
        assert all(b.bounds[2] <= 80.001 and b.bounds[3] <= 80.001 for b in boxes)
        for a, b in itertools.combinations(boxes, 2):
            assert a.intersection(b).area < 1e-6


def test_many_alike_pieces_by_hand():
    # 26 x 20 mm: three across and four up in a leaf of 80 mm
    (leaf,) = cut_leaves([(26.0, 20.0, 1200)], LEAF)
    assert len(leaf.cuts) == 12
    assert leaf.count == 100


@pytest.mark.parametrize("seed", range(8))
def test_leaves_cover_the_shape_and_its_lap(seed):
    draw = np.random.default_rng(seed)
    angles = np.sort(draw.uniform(0, 2 * math.pi, 9))
    radius = draw.uniform(20, 140, 9)
    points = np.stack([radius * np.cos(angles), radius * np.sin(angles)], axis=1)
    shape = shapely.Polygon(points).buffer(0)
    corners, sizes = cover_shape(shape, LEAF, 3.0)
    laid = shapely.union_all([shapely.Polygon(c) for c in corners])
    assert shape.difference(laid.buffer(1e-6)).area < 1e-6
    assert all(max(s) <= 80.001 for s in sizes)
    plan = lay_leaf(0, [((0,), 1.0, shape)], size=LEAF, lap=3.0, loss=0.0)
    # never less leaf than area, never more than one leaf a piece
    assert math.ceil(shape.area / 6400) <= plan.laid <= len(sizes)


def test_whole_leaves_by_hand():
    # 151 mm and twice the lap at the edge are 157 mm: two leaves with one lap of 3
    plan = lay_leaf(0, [((0,), 1.0, box(151, 71))], size=LEAF, lap=3.0, loss=0.0)
    assert plan.laid == 2
    plan = lay_leaf(0, [((0,), 1.0, box(152, 71))], size=LEAF, lap=3.0, loss=0.0)
    assert plan.laid == 3


def test_small_pieces_share_a_leaf():
    # 34 mm and the lap on both sides are 40 mm: four from a leaf
    plan = lay_leaf(0, [((0,), 9.0, box(34, 34))], size=LEAF, lap=3.0, loss=0.12)
    assert plan.laid == 3
    assert plan.needed == math.ceil(3 * 1.12)


def test_offcuts_of_shapes_wider_than_a_leaf_are_used():
    # 102 mm and the lap on both sides are 108: a whole leaf, two strips of 31 x 80
    # that share a leaf, and a corner of 31 x 31; 12 such shapes take 12 leaves for
    # the wholes, 12 for the strips, and the corners lie beside the strips
    plan = lay_leaf(0, [((0,), 12.0, box(102, 102))], size=LEAF, lap=3.0, loss=0.0)
    assert plan.laid <= 12 * 3
    assert plan.laid >= math.ceil(12 * 108**2 / 6400)


def test_triangles_nest():
    triangle = shapely.Polygon([(0, 0), (60, 0), (0, 60)])
    one = lay_leaf(0, [((0,), 1.0, triangle)], size=LEAF, lap=0.0, loss=0.0)
    assert one.laid == 1
    two = lay_leaf(0, [((0,), 8.0, triangle)], size=LEAF, lap=0.0, loss=0.0)
    assert two.shapes[0].pair == pytest.approx((60, 60), abs=0.01)
    assert two.laid == 4


def test_lines_by_hand():
    # 6 m in strips of 80 mm with 3 mm lap: 78 strips, 2 + 2 x 3 = 8 mm wide
    line = lay_lines(6000.0, 2.0, LEAF, 3.0)
    assert line.count == math.ceil(6000 / 77)
    assert line.sizes == ((80.0, 8.0),)
    plan = lay_leaf(0, [], [line], size=LEAF, lap=3.0, loss=0.0)
    assert plan.laid == math.ceil(math.ceil(6000 / 77) / 10)


@pytest.mark.parametrize(
    ("length", "width", "count", "strip"),
    [
        (77.0 * 20, 2.0, 20, 8.0),
        (77.0 * 20 + 1, 2.0, 21, 8.0),
        # 2 x 80 mm that lap by 3 are 151 and twice the lap at the edge
        (77.0 * 20, 151.0, 40, 80.0),
        (77.0 * 20, 152.0, 60, 80.0),
    ],
)
def test_strips_that_just_do_and_just_do_not(length, width, count, strip):
    line = lay_lines(length, width, LEAF, 3.0)
    assert (line.count, line.sizes) == (count, ((80.0, strip),))
    assert line.pieces[0].max(axis=0).tolist() == [80.0, strip]


def test_congruent_shapes_and_their_mirror_images_are_laid_as_one():
    half = shapely.Polygon([(0, 0), (50, 0), (60, 30), (10, 20)])
    other = shapely.Polygon([(0, 0), (50, 0), (60, 30), (10, 21)])
    turned = affinity.rotate(affinity.scale(half, -1, 1), 33)
    shapes = [((0,), 4.0, half), ((1,), 4.0, turned), ((2,), 1.0, other)]
    alike = [(kinds, many) for kinds, many, _ in alike_once(shapes)]
    assert alike == [((0, 1), 8.0), ((2,), 1.0)]
    # a hole counts: a ring is not its disc
    ring = half.difference(half.centroid.buffer(5))
    assert len(alike_once([((0,), 1.0, half), ((0,), 1.0, ring)])) == 2


def test_books_are_whole() -> None:
    # with 3 mm of lap all round, a square of 74 mm takes a leaf of 80 mm
    (gold,) = parse_palette(
        b"[[paint]]\nname='gold'\ncolour='#c9a227'\nmedium='leaf'\n", "gold.toml"
    ).swatches
    plan = lay_leaf(0, [((0,), 26.0, box(74, 74))], size=LEAF, lap=3.0, loss=0.0)
    told = with_leaf(Quantity(0, 26, 1.0, 1.0, 0.0), plan, gold)
    assert (told.leaves, told.books) == (26, 2)
    assert told.volume is None


def test_kinds_of_congruent_regions_are_gilded_as_one() -> None:
    # six squares of 20 mm, each a kind of its own, and an oblong
    squares = [shapely.box(x, 0, x + 20, 20) for x in range(0, 150, 25)]
    lines = LineWork.from_geometry([*squares, shapely.box(0, 25, 40, 50)])
    gold = b'[[paint]]\nname = "gold"\ncolour = "#c9a227"\nmedium = "leaf"\n'
    done = colour_survey(
        make_survey(lines, Plan(match="none")),
        palette=parse_palette(gold, "gold.toml"),
    )
    (laid,) = done.schedule.leafing
    told = [(len(s.orbits), s.count, s.sizes[0]) for s in laid.shapes]
    # 3 mm of lap on each side
    assert sorted(told) == [
        (1, 1.0, pytest.approx((46, 31))), (6, 6.0, pytest.approx((26, 26))),
    ]  # fmt: skip
