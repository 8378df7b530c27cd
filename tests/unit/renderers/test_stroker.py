"""Lines with a width cover what shapely's buffer covers."""

from __future__ import annotations

import io

import numpy as np
import pytest
import shapely
from PIL import Image

from fillwork.renderers.encoders.png import to_png
from fillwork.renderers.encoders.stroker import stroke_polygons
from fillwork.renderers.scene import Scene, segments

SHARP = [(0, 0), (10, 0), (4, 5), (0, 14)]
BACK = [(0, 0), (10, 0), (0, 0.4)]  # beyond PDF's limit of ten widths: cut straight


@pytest.mark.reference("shapely (GEOS) buffers with mitres, bevels and flat caps")
@pytest.mark.parametrize(
    ("path", "closed", "join"),
    [(SHARP, False, "mitre"), (SHARP, True, "mitre"), (BACK, False, "bevel")],
)
def test_mitres_lie_on_the_outer_side(
    path: list[tuple[float, float]], closed: bool, join: str
) -> None:
    # a line far away goes before it, and joins nothing
    points = np.array([(100, 0), (100, 1), *path], dtype=float)
    drawn = stroke_polygons(
        points, np.array([0, 2, len(points)]), np.array([False, closed]), 1.0,
        "mitre", "flat",
    )  # fmt: skip
    pieces = [p for p in np.concatenate(drawn) if p[0, 0] < 50]
    ours = shapely.union_all([shapely.make_valid(shapely.Polygon(p)) for p in pieces])
    line = shapely.LinearRing(path) if closed else shapely.LineString(path)
    theirs = shapely.buffer(
        line, 1.0, join_style=join, cap_style="flat", mitre_limit=10.0
    )
    assert shapely.area(shapely.symmetric_difference(ours, theirs)) < 0.01


@pytest.mark.reference("shapely (GEOS) buffers with round caps")
def test_open_lines_have_round_ends_beside_closed_ones() -> None:
    ring, line = [(50, 0), (60, 0), (60, 10), (50, 10)], [(0, 0), (20, 0)]
    drawn = stroke_polygons(
        np.array([*ring, *line], float), np.array([0, 4, 6]), np.array([True, False]),
        1.0, "mitre", "round",
    )  # fmt: skip
    pieces = [p for part in drawn for p in part if p[0, 0] < 40]
    ours = shapely.union_all([shapely.Polygon(p) for p in pieces])
    theirs = shapely.buffer(shapely.LineString(line), 1.0, quad_segs=64)
    # the circle has at least 8 corners, so a tenth of it may be missing
    assert shapely.area(shapely.symmetric_difference(ours, theirs)) < 0.1 * np.pi


def test_every_edge_is_drawn_once_in_the_paths_of_the_outline() -> None:
    from fillwork.renderers.coloured import outline_strokes
    from tests.unit.renderers.patterns import star_pattern

    drawing = star_pattern(2, 2, 40.0, (3.0, 5.0))
    strokes = outline_strokes(drawing, 0.3, "#000000")
    drawn = np.concatenate(
        [
            np.arange(a, b)
            for a, b in zip(strokes.start, strokes.start[1:], strict=False)
        ]
    )
    assert sorted(drawn.tolist()) == list(range(len(strokes.curves)))
    borders = shapely.union_all([p.boundary for p in drawing.polygons()])
    lengths = strokes.curves.lengths()
    assert lengths.sum() == pytest.approx(shapely.length(borders))


def test_dashes_in_a_picture_have_their_lengths() -> None:
    # 10 px a mm; the line begins with a dash of 6 mm, then 3 mm are free
    row = segments(np.array([[5.0, 5, 95, 5]]), 1.0, "#000000", dash=(6.0, 3.0))
    data = to_png(Scene(100.0, 10.0, items=(row,), paper="#ffffff"), 1000)
    pixels = np.asarray(Image.open(io.BytesIO(data)).convert("L"))
    dark = pixels[50] < 128
    turns = np.flatnonzero(np.diff(dark.astype(int))) + 1
    wanted = [50 + 90 * k + d for k in range(10) for d in (0, 60)]
    assert np.abs(turns - wanted).max() <= 1
