"""Every region, or every kind, has its number somewhere: told from the pages alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from fillwork.geometry import affine
from fillwork.linework import LineWork
from fillwork.pipeline.finish import Finish
from fillwork.pipeline.painting import colour_survey
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.model import SheetSettings
from fillwork.renderers.scene import Fills, Labels, Placed, Strokes
from fillwork.renderers.sheets.compose import compose_sheets
from fillwork.renderers.sheets.leaders import SHARED
from fillwork.renderers.sheets.parts import Parts
from fillwork.renderers.text.room import number_body
from fillwork.renderers.text.typeset import default_fonts
from fillwork.symmetry.model import Group
from tests.unit.renderers.patterns import (
    arrangement_from_polygons,
    colouring_of,
    kinds_by_area,
    outlines_of,
    star_pattern,
)
from tests.unit.renderers.test_sheets import words

SIZE = (180.0, 140.0)


def scatter(seed: int, many: int, few: int, spread: float):
    """Return cells about random points, some of them crowded together."""
    random = np.random.default_rng(seed)
    low = random.uniform((0, 0), SIZE, (few, 2))
    crowd = random.uniform((20, 20), (160, 120), (3, 1, 2))
    crowd = crowd + random.normal(0, spread, (3, many // 3, 2))
    points = np.vstack([low, crowd.reshape(-1, 2)])
    page = shapely.box(0, 0, *SIZE)
    points = points[(points > 0.5).all(axis=1) & (points < np.array(SIZE) - 0.5).all(1)]
    cells = shapely.voronoi_polygons(shapely.multipoints(points), extend_to=page)
    cut = shapely.intersection(shapely.get_parts(cells), page)
    # cells share their corners to the last bit, also where the page cuts them
    snapped = shapely.set_precision(cut, 1e-6)
    noded = shapely.unary_union(shapely.boundary(snapped), grid_size=1e-6)
    polygons = list(shapely.polygonize(shapely.get_parts(noded)).geoms)
    drawing = arrangement_from_polygons(polygons, *SIZE)
    kinds = kinds_by_area(drawing)
    (zone,) = kinds.zones
    none = replace(zone.symmetry, group=Group("none", "", "", "", "C1", ""))
    kinds = replace(kinds, zones=(replace(zone, symmetry=replace(none, lattice=None)),))
    of_face = random.integers(0, 12, drawing.face_count).astype(np.int32)
    of_face[0] = -1
    return drawing, kinds, replace(colouring_of(kinds, 12), of_face=of_face)


def numbers_seen(scenes, drawing) -> dict[int, set[str]]:
    """Return what number the pages give each region, in it or by a line to it."""
    polygons = drawing.polygons()
    tree = shapely.STRtree(polygons)
    seen: dict[int, set[str]] = {}

    def tell(points, texts):
        at, face = tree.query(shapely.points(points), predicate="within")
        for k, f in zip(at.tolist(), face.tolist(), strict=True):
            seen.setdefault(f + 1, set()).add(texts[k])

    def walk(item, outer, clip):
        if not isinstance(item, Placed):
            return
        inner = item.picture.items
        outlines = [i for i in inner if isinstance(i, Placed)]
        if not outlines or not any(isinstance(i, Labels) for i in inner):
            for i in inner:
                walk(i, None, None)
            return
        back = affine.invert(outlines[0].map)
        labels = [i for i in inner if isinstance(i, Labels)]
        own = labels[0]
        texts = [own.texts[k] for k in own.text]
        if item.clip is not None:
            at = affine.apply(item.map, own.at)
            box = np.array(item.clip)
            assert ((at > box[:2]) & (at < box[2:])).all()
        if len(own.at):
            tell(affine.apply(back, own.at), texts)
        lines = [i for i in inner if isinstance(i, Strokes) and i.layer == "numbers"]
        for pen, hung in zip(lines, labels[1:], strict=True):
            ends = pen.curves.data[:, 0:4]
            half = np.array([number_body(t, default_fonts()).half for t in hung.texts])
            half = half[hung.text] * hung.height[:, None] + 0.35
            gap = np.abs(ends[:, None, 2:4] - hung.at[None])
            touch = (gap <= half[None]).all(axis=2)
            assert (touch.sum(axis=1) == 1).all()  # each line ends at one number
            assert touch.sum(axis=0).max() <= SHARED
            assert (touch.sum(axis=0) > 0).all()  # no number without a line
            which = touch.argmax(axis=1)
            tell(
                affine.apply(back, ends[:, 0:2]),
                [hung.texts[hung.text[k]] for k in which],
            )
            (dots,) = (i for i in inner if isinstance(i, Fills) and len(i.rows))
            assert len(dots.rows) == len(ends)

    for scene in scenes:
        for item in scene.items:
            walk(item, None, None)
    return seen


def sheets(drawing, kinds, colouring, **settings):
    return compose_sheets(
        Parts(
            drawing,
            outlines_of(drawing),
            kinds,
            colouring,
            None,
            SheetSettings(**settings),
            real_scale=1.0,
            scale_known=True,
            title="Invented shards",
        )
    )


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("mirror", [False, True])
def test_without_symmetry_every_region_is_numbered(seed: int, mirror: bool) -> None:
    drawing, kinds, colouring = scatter(seed, 90, 60, 5.0)
    scenes = sheets(drawing, kinds, colouring, mirror=mirror)
    seen = numbers_seen(scenes, drawing)
    codes = [s.code for s in colouring.palette.swatches]
    for face in range(1, drawing.face_count):
        assert seen.get(face) == {codes[colouring.of_face[face]]}, face
    assert not any(scene.notes for scene in scenes)


def test_small_regions_of_a_swatch_share_a_number() -> None:
    drawing, kinds, colouring = scatter(1, 120, 40, 6.0)
    few = replace(
        colouring, of_face=np.where(colouring.of_face < 0, -1, colouring.of_face % 2)
    )
    scene = sheets(drawing, kinds, few)[0]
    (picture,) = (i.picture for i in scene.items if isinstance(i, Placed) and i.alt)
    lines = next(i for i in picture.items if isinstance(i, Strokes))
    hung = [i for i in picture.items if isinstance(i, Labels)][1]
    assert len(lines.start) - 1 > 1.3 * len(hung.at)


@pytest.mark.parametrize("least", [1.5, 3.0, 4.9])
def test_with_symmetry_every_kind_is_numbered(least: float) -> None:
    drawing = star_pattern(8, 6, 20.0, (3.0, 5.0))
    kinds = kinds_by_area(drawing, 20.0)
    colouring = colouring_of(kinds, 6)
    scenes = sheets(drawing, kinds, colouring, least_number=least)
    seen = numbers_seen(scenes, drawing)
    whole = {int(kinds.of_face[f]) for f in seen if not drawing.cut[f]}
    assert whole == set(range(len(kinds.orbits)))
    codes = [s.code for s in colouring.palette.swatches]
    for face, told in seen.items():
        assert told == {codes[colouring.of_face[face]]}


def test_details_that_end_say_so() -> None:
    drawing, kinds, colouring = scatter(2, 1500, 300, 9.0)
    scenes = sheets(drawing, kinds, colouring, least_number=4.0)
    details = [s for s in scenes if s.name.startswith("repeat")]
    assert len(details) == 24
    (note,) = (n for s in scenes for n in s.notes)
    seen = numbers_seen(scenes, drawing)
    codes = [s.code for s in colouring.palette.swatches]
    assert all(told == {codes[colouring.of_face[f]]} for f, told in seen.items())
    left = drawing.face_count - 1 - len(seen)
    assert left > 0
    assert f"{left} regions are too small for a number" in note.text
    assert "24 pages" in note.text
    assert f"{left} have none even there" in words(scenes[0])
    assert f"{left} regions are too small" in words(details[0])
    assert "--least-number" in note.remedy


def test_repeat_and_numbered_sheets_share_their_details() -> None:
    drawing = star_pattern(8, 6, 20.0, (3.0, 5.0))
    kinds = kinds_by_area(drawing, 20.0)
    colouring = colouring_of(kinds, 6)
    alone = sheets(drawing, kinds, colouring, sheets=("repeat",))
    for order in (("repeat", "numbered"), ("numbered", "repeat")):
        both = sheets(drawing, kinds, colouring, sheets=order, least_number=3.0)
        names = [s.name for s in both]
        assert len(names) == len(set(names)) >= len(alone) + 1
        assert "page R1 and following" in words(both[names.index("numbered-n1")])


def test_details_show_one_region_of_each_kind_where_there_is_symmetry() -> None:
    # eight sectors with a speck in each: that is one kind, so one is enlarged
    turns = np.linspace(0, 2 * np.pi, 9)
    rim = 80 * np.stack([np.cos(turns), np.sin(turns)], axis=1)
    sectors = [shapely.Polygon([(0, 0), *rim[k : k + 2]]) for k in range(8)]
    specks = [s.centroid.buffer(0.5, quad_segs=1) for s in sectors]
    survey = make_survey(LineWork.from_geometry([*sectors, *specks]))
    assert [len(o.faces) for o in survey.orbits.orbits] == [8, 8]
    done = Finish(colour_survey(survey, replace(survey.plan, sheets=SheetSettings())))
    pages = [scene.name for scene in done.sheet_scenes()]
    assert sum(name.startswith("repeat") for name in pages) == 1
