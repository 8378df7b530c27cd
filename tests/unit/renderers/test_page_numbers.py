"""Numbers page by page: where each stands is checked with shapely, from outside."""

import numpy as np
import pytest
import shapely

from fillwork.geometry import affine
from fillwork.plans.model import SheetSettings
from fillwork.renderers.scene import Fills, Labels, Placed, Strokes, Text
from fillwork.renderers.sheets.compose import compose_sheets
from fillwork.renderers.sheets.parts import Parts
from fillwork.renderers.sheets.quiet import quiet_sizes
from tests.unit.renderers.patterns import (
    arrangement_from_polygons,
    arrangement_from_segments,
    colouring_of,
    kinds_by_area,
    outlines_of,
    star_pattern,
)


def pages(drawing, swatches=3, *, real_scale=2.5, **settings):
    kinds = kinds_by_area(drawing)
    return compose_sheets(
        Parts(
            drawing,
            outlines_of(drawing),
            kinds,
            colouring_of(kinds, swatches, 0),
            None,
            SheetSettings(**settings),
            real_scale=real_scale,
            scale_known=True,
            title="Panel",
        )
    )


def tiles(scenes):
    """Yield each joined page: what it shows, its map from the drawing, its numbers."""
    for scene in scenes[1:]:
        placed = [i for i in scene.items if isinstance(i, Placed)]
        drawn = next(i for i in placed if i.alt)
        # leaders to what is too small come after
        labels = next(
            i for p in placed for i in p.picture.items if isinstance(i, Labels)
        )
        yield scene, drawn, labels


def test_numbers_stand_clear_of_crosses_and_edges():
    drawing = star_pattern(4, 3, 40.0, (3.0, 5.0))
    shown = list(tiles(pages(drawing, fit="true")))
    assert shown
    for scene, drawn, labels in shown:
        at = affine.apply(drawn.map, labels.at)
        half = labels.height[:, None] * (0.33, 0.5)
        low, high = at - half, at + half
        assert (low > np.array(drawn.clip)[:2]).all()
        assert (high < np.array(drawn.clip)[2:]).all()
        boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
        crosses = [i for i in scene.items if isinstance(i, Strokes) and i.width == 0.12]
        assert crosses
        for item in crosses:
            data = item.curves.data
            if item.closed.all():
                marks = shapely.buffer(shapely.points(data[:, 0:2]), data[:, 2])
            else:
                marks = shapely.linestrings(data[:, 0:4].reshape(-1, 2, 2))
            tree = shapely.STRtree(boxes)
            assert len(tree.query(marks, predicate="intersects")[0]) == 0


def test_long_regions_bear_more_than_one_number():
    # a strip of 150 x 8 mm, a frame about a square, and a small square, on one page
    frame = shapely.box(10, 40, 160, 160) - shapely.box(20, 50, 150, 150)
    shapes = [shapely.box(10, 10, 160, 18), frame, shapely.box(20, 50, 150, 150)]
    shapes.append(shapely.box(10, 22, 22, 34))
    drawing = arrangement_from_polygons(shapes, 200, 200)
    (scene,) = pages(drawing, 4, fit="page")
    (labels,) = (
        i
        for p in scene.items
        if isinstance(p, Placed)
        for i in p.picture.items
        if isinstance(i, Labels)
    )
    count = np.bincount(labels.text, minlength=4).tolist()
    by_code = dict(zip(labels.texts, count, strict=True))
    area = sorted((s.area, k) for k, s in enumerate(shapes))
    assert by_code["1"] + by_code["2"] + by_code["3"] + by_code["4"] == len(labels.at)
    # squares, however large, are read at a glance
    assert sorted(count)[:2] == [1, 1]
    assert sorted(count)[2] >= 3  # a strip of 150 mm, one each 50 mm or so
    assert len(area) == 4
    # those of one text stand apart
    for text in range(4):
        mine = labels.at[labels.text == text]
        gap = np.linalg.norm(mine[:, None] - mine[None], axis=2)
        gap[np.diag_indices(len(mine))] = np.inf
        assert gap.min() > 30


@pytest.mark.parametrize("least", [1.0, 1.5, 3.0, 6.0])
def test_numbers_have_three_sizes_at_most(least):
    sizes = set(quiet_sizes(np.linspace(0, 12, 500), least).tolist())
    assert len(sizes - {0.0}) <= 3
    assert max(sizes) == max(3.5, least)
    assert min(sizes - {0.0}) == least
    drawing = star_pattern(4, 3, 40.0, (3.0, 5.0))
    for scene in pages(drawing, fit="page", least_number=least):
        for item in scene.items:
            if isinstance(item, Placed):
                for labels in item.picture.items:
                    if isinstance(labels, Labels):
                        assert len(set(labels.height.tolist())) <= 3


def test_bars_are_ink_on_the_printed_page():
    import io

    import pypdfium2

    from fillwork.renderers.encoders.pdf import to_pdf

    shapes = [shapely.box(10 + 12 * k, 10, 20 + 12 * k, 20) for k in range(9)]
    shapes = [shapely.affinity.scale(s, 1 - 0.02 * k) for k, s in enumerate(shapes)]
    drawing = arrangement_from_polygons(shapes, 130, 40)
    (scene,) = pages(drawing, 9, real_scale=1.0)
    placed = next(i for i in scene.items if isinstance(i, Placed) and i.alt)
    (labels,) = (i for i in placed.picture.items if isinstance(i, Labels))
    pdf = pypdfium2.PdfDocument(io.BytesIO(to_pdf([scene], title="x")))
    scale = 600 / 25.4
    page = np.array(pdf[0].render(scale=600 / 72).to_pil().convert("L"))
    seen = {}
    for point, high, text in zip(labels.at, labels.height, labels.text, strict=True):
        x, y = affine.apply(placed.map, point)
        top = (scene.height - y + 0.6 * high) * scale
        under = page[int(top) : int(top + 0.3 * high * scale)]
        half = 0.15 * high
        ink = under[:, int((x - half) * scale) : int((x + half) * scale)] < 200
        seen[labels.texts[text]] = bool(ink.all(axis=1).any())
    assert len(seen) == 9
    assert {code for code, barred in seen.items() if barred} == {"6", "9"}


def test_small_regions_among_larger_ones_have_leaders():
    """What is cut small at the rim of a pattern is told on the sheet itself."""
    drawing = star_pattern(4, 3, 40.0, (3.0, 5.0))
    (scene,) = pages(drawing, real_scale=1.0)
    labels = [
        i
        for p in scene.items
        if isinstance(p, Placed)
        for i in p.picture.items
        if isinstance(i, Labels)
    ]
    inside, led = labels
    regions = drawing.face_count - 1
    few = regions - len(inside.at)
    assert 0 < few < regions / 4
    # a number may serve several, and each small region has the end of a line in it
    dots = [
        i
        for p in scene.items
        if isinstance(p, Placed)
        for i in p.picture.items
        if isinstance(i, Fills)
    ]
    assert sum(len(d.rows) for d in dots) == few
    assert len(led.at) <= few


def test_each_page_numbers_every_region_that_it_shows_and_has_its_key():
    # 6 x 8 squares of 40 mm, cut by the pages where the joints fall
    lines = [[0.0, 40.0 * k, 240.0, 40.0 * k] for k in range(9)]
    lines += [[40.0 * k, 0.0, 40.0 * k, 320.0] for k in range(7)]
    drawing = arrangement_from_segments(np.array(lines) + 5.0, 250, 330)
    joined = list(tiles(pages(drawing, 2, real_scale=1.0, fit="true")))
    assert len(joined) > 1
    cut = 0
    for scene, drawn, labels in joined:
        shift = (drawn.picture.box[2] - 240.0) / 2
        at = affine.apply(drawn.map, labels.at)
        left, bottom, right, top = drawn.clip
        for x in range(6):
            for y in range(8):
                corners = np.array([(x, y), (x + 1, y + 1)]) * 40.0 + shift
                low, high = affine.apply(drawn.map, corners)
                low = np.maximum(low, (left, bottom))
                high = np.minimum(high, (right, top))
                # room for a number of 3.5 mm, and a cross of the pages beside it
                if (high - low).min() < 12.0:
                    continue
                inside = ((at > low) & (at < high)).all(axis=1)
                assert inside.any(), (scene.name, x, y)
                cut += (high - low).min() < 39.0
        told = [i.text for i in scene.items if isinstance(i, Text)]
        codes = {labels.texts[k] for k in labels.text}
        assert codes <= set(told)  # the compact key in the foot
    assert cut


def test_numbers_along_a_strip_stand_as_its_mirrors_have_them() -> None:
    strip = shapely.box(1.0, 1.0, 181.0, 11.0)
    drawing = arrangement_from_polygons([strip], 182, 12)
    (scene,) = pages(drawing, 1, real_scale=1.0)
    (drawn,) = (i for i in scene.items if isinstance(i, Placed))
    (labels,) = (i for i in drawn.picture.items if isinstance(i, Labels))
    # the cells of a strip are alike, and circles as large fit all along each
    x, y = labels.at.T
    assert len(x) > 2
    assert np.sort(x) == pytest.approx(np.sort(x.min() + x.max() - x), abs=0.1)
    assert x.min() + x.max() == pytest.approx(drawn.picture.box[2], abs=0.1)
    assert np.ptp(y) < 0.1
