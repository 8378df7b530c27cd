"""Lines and rings of geometry that a program has in hand."""

from __future__ import annotations

import json
from itertools import pairwise

import numpy as np
import pytest
import shapely

from fillwork.geometry.polygons import polygon_sides
from fillwork.geometry.shapes import gather_paths

LINE = [[0.0, 0.0], [4.0, 3.0], [4.0, 9.0]]
RING = [[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0], [0.0, 0.0]]
HOLE = [[2.0, 2.0], [2.0, 4.0], [5.0, 3.0], [2.0, 2.0]]
POLYGON = shapely.Polygon(RING, [HOLE])
OPEN = shapely.LineString(LINE)
EVERY = [
    (OPEN, [LINE]),
    (POLYGON, [RING, HOLE]),
    (shapely.LinearRing(RING), [RING]),
    (shapely.MultiPolygon([POLYGON]), [RING, HOLE]),
    (shapely.MultiLineString([LINE, HOLE]), [LINE, HOLE]),
    (
        shapely.GeometryCollection([POLYGON, OPEN]),
        [RING, HOLE, LINE],
    ),
    (shapely.Point(1, 2), []),
    (shapely.LineString(), []),
]


def told(geometry: object) -> list[list[list[float]]]:
    return [path.tolist() for path in gather_paths(geometry)]


class Told:
    """Something that tells its geometry as GeoJSON."""

    def __init__(self, mapping: dict) -> None:
        self.__geo_interface__ = mapping


@pytest.mark.parametrize(("shape", "paths"), EVERY)
def test_a_shape_gives_its_lines_and_rings_however_it_is_handed_over(shape, paths):
    mapping = json.loads(shapely.to_geojson(shape))
    feature = {"type": "Feature", "geometry": mapping}
    for given in (
        shape,
        mapping,
        Told(mapping),
        feature,
        {"type": "FeatureCollection", "features": [feature]},
        [shape],
        iter([shape]),
        np.array([shape], object),
    ):
        assert told(given) == paths
    assert told([shape, [mapping]]) == 2 * paths


def test_segments_are_copied():
    rows = np.array([[[0, 1], [2, 3]], [[4, 5], [6, 7]]])
    for given in (rows, rows.tolist(), rows.astype(float)):
        found = gather_paths(given)
        assert [path.tolist() for path in found] == rows.tolist()
        found[0][0, 0] = 99
        assert told(given) == rows.tolist()
    assert told([]) == []
    assert told({"type": "Feature", "geometry": None}) == []


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("LINESTRING (0 0, 1 1)", "str is no geometry"),
        (7, "int is no geometry"),
        (np.zeros((3, 2)), r"shape \(3, 2\) is no geometry"),
        (np.zeros((3, 3, 2)), r"shape \(3, 3, 2\) is no geometry"),
        ([[0.0, 0.0], [1.0, 1.0]], r"shape \(2, 2\) is no geometry"),
        ({"type": "Circle"}, "“Circle” is no geometry"),
        ({"type": "Polygon"}, "“Polygon” is no geometry"),
    ],
)
def test_other_things_are_refused_by_name(given, said):
    with pytest.raises(TypeError, match=said):
        gather_paths(given)


def test_twenty_lists_in_lists_are_taken_and_more_refused():
    deep = OPEN
    for _ in range(20):
        deep = [deep]
    assert told(deep) == [LINE]
    with pytest.raises(TypeError, match="more than 20 deep"):
        gather_paths([deep])


def test_sides_of_polygons_alone():
    whole = shapely.GeometryCollection([POLYGON, OPEN])
    sides = polygon_sides(whole)
    expected = [[[*a, *b] for a, b in pairwise(ring)] for ring in (RING, HOLE)]
    assert [s.tolist() for s in sides] == expected
    assert polygon_sides(shapely.Polygon([(0, 0), (1, 1), (2, 2)])) == []
