"""Lines with a width cover what shapely's buffer covers."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fillwork.renderers.stroker import stroke_polygons

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
    pieces = stroke_polygons(np.array(path, dtype=float), closed, 1.0, "mitre", "flat")
    ours = shapely.union_all([shapely.make_valid(shapely.Polygon(p)) for p in pieces])
    line = shapely.LinearRing(path) if closed else shapely.LineString(path)
    theirs = shapely.buffer(
        line, 1.0, join_style=join, cap_style="flat", mitre_limit=10.0
    )
    assert shapely.area(shapely.symmetric_difference(ours, theirs)) < 0.01
