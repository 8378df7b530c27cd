"""True-size pieces and the painted line, measured with shapely."""

import numpy as np
import pytest
import shapely

from fillwork.errors import PlanError
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.model import SheetSettings
from fillwork.renderers.scene import Placed, Text
from fillwork.renderers.sheets.compose import compose_sheets
from fillwork.renderers.sheets.parts import Parts
from fillwork.renderers.sheets.pounce import find_pieces
from tests.unit.renderers.patterns import (
    colouring_of,
    kinds_by_area,
    outlines_of,
    star_pattern,
)

PERIOD = 40.0


@pytest.fixture(scope="module")
def drawing():
    return star_pattern(4, 3, PERIOD, (3.0, 5.0))


def parts_of(drawing, kinds, real, **wishes):
    settings = SheetSettings(**wishes)
    colouring = colouring_of(kinds, 3)
    outlines = outlines_of(drawing)
    return Parts(drawing, outlines, kinds, colouring, None, settings, real, True, "x")


def length(lines):
    return float(np.hypot(lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1]).sum())


@pytest.mark.parametrize("real", [1.0, 2.5])
@pytest.mark.parametrize("mirror", [False, True])
def test_a_repeat_is_as_large_as_on_the_panel(drawing, real, mirror):
    kinds = kinds_by_area(drawing, PERIOD)
    (piece,) = find_pieces(parts_of(drawing, kinds, real, mirror=mirror))
    assert piece.size == pytest.approx((PERIOD * real, PERIOD * real))
    # any square of one period, edges shifted off the lines, holds as much line
    borders = shapely.union_all([p.boundary for p in drawing.polygons()])
    window = shapely.box(41.3, 42.7, 41.3 + PERIOD, 42.7 + PERIOD)
    inside = shapely.intersection(borders, window).length * real
    assert length(piece.lines) == pytest.approx(inside, rel=0.35)
    # laid side by side twice by its crosses, the lines run on: what ends on one
    # side begins on the other
    ends = piece.lines.reshape(-1, 2)
    side = PERIOD * real
    for axis in (0, 1):
        low = np.sort(ends[np.abs(ends[:, axis]) < 1e-6][:, 1 - axis])
        high = np.sort(ends[np.abs(ends[:, axis] - side) < 1e-6][:, 1 - axis])
        assert np.allclose(np.unique(low.round(5)), np.unique(high.round(5)), atol=1e-4)


def test_pages_of_a_piece_have_a_plan_before_them(drawing):
    kinds = kinds_by_area(drawing, PERIOD)
    plan, *tiles = compose_sheets(
        Parts(
            drawing,
            outlines_of(drawing),
            kinds,
            colouring_of(kinds, 3),
            None,
            SheetSettings(sheets=("pounce",), paper="A5"),
            real_scale=5.0,
            scale_known=True,
            title="Panel",
        )
    )
    # 200 mm in rooms of some 128 x 170 mm
    names = ["A1", "B1", "A2", "B2"]
    words = [i.text for i in plan.items if isinstance(i, Text)]
    assert [w for w in words if w in names] == names
    assert any("plan of 4 pages" in w for w in words)
    for name, tile in zip(names, tiles, strict=True):
        told = [i.text for i in tile.items if isinstance(i, Text)]
        assert f"One repeat, page {name}" in told


def pentagram() -> bytes:
    """Return a star of five points, drawn in one line, in a circle."""
    turn = 0.8 * np.pi * np.arange(5)
    at = 50 + 40 * np.stack([np.sin(turn), -np.cos(turn)], axis=1)
    points = " ".join(f"{x:.6f},{y:.6f}" for x, y in at)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        'viewBox="0 0 100 100" fill="none" stroke="#000" stroke-width="0.3">'
        f'<polygon points="{points}"/><circle cx="50" cy="50" r="40"/></svg>'
    ).encode()


def test_a_sector_of_a_rosette_turns_into_the_whole():
    survey = make_survey(pentagram(), name="pentagram.svg")
    drawn, kinds = survey.arrangement, survey.orbits
    colouring = colouring_of(kinds, 3)
    settings = SheetSettings()
    parts = Parts(
        drawn, survey.outlines, kinds, colouring, None, settings, 1.5, True, "x"
    )
    (piece,) = find_pieces(parts)
    assert "5 times by 72°" in piece.told
    # the star's five sides, and the circle
    side = 2 * 40 * np.sin(np.radians(72))
    whole = (5 * side + 2 * np.pi * 40) * 1.5
    assert 5 * length(piece.lines) == pytest.approx(whole, rel=0.01)
    # all of it lies between the two sides, 72 degrees apart
    apex = np.array([piece.size[0] / 2, 0.0])
    point = piece.lines.reshape(-1, 2)
    angle = np.degrees(np.arctan2(*(point - apex).T))
    assert abs(angle).max() == pytest.approx(36.0, abs=0.1)


def test_both_edges_of_the_painted_line(drawing):
    from dataclasses import replace

    kinds = kinds_by_area(drawing)
    plain = colouring_of(kinds, 3)
    wide = replace(plain, rules=replace(plain.rules, outline="1", outline_width=2.0))
    bare = replace(plain, rules=replace(plain.rules, outline="none"))

    def pages(colouring):
        return compose_sheets(
            Parts(
                drawing,
                outlines_of(drawing),
                kinds,
                colouring,
                None,
                SheetSettings(sheets=("line",)),
                real_scale=1.0,
                scale_known=True,
                title="Panel",
            )
        )

    (page,) = pages(wide)
    assert any("2 mm wide" in i.text for i in page.items if isinstance(i, Text))
    (placed,) = (i for i in page.items if isinstance(i, Placed))
    (inner,) = (i for i in placed.picture.items if isinstance(i, Placed))
    (pen,) = inner.picture.items
    # every edge lies half the width from the middle line
    borders = shapely.union_all([p.boundary for p in drawing.polygons()])
    middle = pen.curves.data[:, 0:4].reshape(-1, 2, 2).mean(axis=1)
    far = shapely.distance(borders, shapely.points(middle))
    assert np.median(far) == pytest.approx(1.0)
    with pytest.raises(PlanError, match="no line is painted"):
        pages(bare)


@pytest.mark.parametrize("paper", ["A4", "A5", "A6", "A6-landscape"])
def test_how_a_piece_is_laid_on_is_told_whole(drawing, paper):
    kinds = kinds_by_area(drawing, PERIOD)
    parts = parts_of(drawing, kinds, 1.0, sheets=("pounce",), paper=paper)
    (piece,) = find_pieces(parts)
    pages = compose_sheets(parts)
    said = " ".join(
        " ".join(i.text for i in page.items if isinstance(i, Text)) for page in pages
    )
    assert piece.told in said
    assert "…" not in said.replace(parts.title, "")
