"""Regions in from other libraries and out to them."""

import json
import pickle

import networkx
import numpy as np
import pytest
import shapely

import fillwork
from fillwork import LineWork, Palette, colour_drawing, colour_survey, make_survey
from fillwork.colouring.palettes.file import parse_palette
from fillwork.errors import LineWorkError, PaletteError, PlanError

GRID = [
    shapely.box(10 * i, 10 * j, 10 * i + 10, 10 * j + 10)
    for i in range(3)
    for j in range(2)
]


class Told:
    """Something that speaks GeoJSON."""

    def __init__(self, told):
        self.__geo_interface__ = told


def segments(geometry):
    rings = shapely.get_rings(np.array(geometry, dtype=object))
    return np.concatenate(
        [np.stack([c[:-1], c[1:]], axis=1) for c in map(shapely.get_coordinates, rings)]
    )


@pytest.mark.parametrize(
    "geometry",
    [
        GRID,
        shapely.MultiPolygon(GRID),
        shapely.MultiLineString([box.exterior for box in GRID]),
        shapely.GeometryCollection(GRID),
        segments(GRID),
        segments(GRID).tolist(),
        np.array(GRID, dtype=object),
        (box.exterior for box in GRID),
        Told({"type": "Feature", "geometry": shapely.geometry.mapping(GRID[0])}),
    ],
    ids=[
        "polygons",
        "multi",
        "lines",
        "mixed",
        "array",
        "list",
        "objects",
        "some",
        "geo",
    ],
)
def test_geometry_of_every_sort(geometry):
    work = LineWork.from_geometry(geometry)
    survey = make_survey(work)
    areas = survey.arrangement.area[1:]
    assert areas == pytest.approx(np.full(len(areas), 100.0))
    assert len(areas) == (1 if isinstance(geometry, Told) else 6)
    assert work.frame.scale_known


def test_units_and_place_are_kept():
    box = shapely.box(500, 700, 502, 701)
    work = LineWork.from_geometry(box, unit="cm", name="field")
    assert (work.frame.width, work.frame.height) == pytest.approx((20, 10))
    survey = make_survey(work)
    assert survey.linework.file == "field"
    found = fillwork.region_geojson(survey, source=True)
    (feature,) = found["features"]
    again = shapely.geometry.shape(feature["geometry"])
    assert again.symmetric_difference(box).area == pytest.approx(0, abs=1e-9)
    assert json.loads(json.dumps(found)) == json.loads(json.dumps(found))


def test_holes_survive_the_round_trip():
    ring = shapely.box(0, 0, 30, 30).difference(shapely.box(10, 10, 20, 20))
    survey = make_survey(LineWork.from_geometry(ring))
    found = fillwork.region_geojson(survey)
    shapes = [shapely.geometry.shape(f["geometry"]) for f in found["features"]]
    assert sorted(s.area for s in shapes) == pytest.approx([100, 800])
    assert sorted(len(s.interiors) for s in shapes) == [0, 1]


@pytest.mark.parametrize(
    ("wrong", "error"),
    [
        ("a path", TypeError),
        (7, TypeError),
        (np.zeros((3, 4)), TypeError),
        ([[1, 2], [3, 4]], TypeError),
        (Told({"type": "Nothing"}), TypeError),
        ([], LineWorkError),
        (shapely.Point(1, 2), LineWorkError),
        ([[[0, 0], [np.nan, 1]]], LineWorkError),
        ([[[0, 0], [0, 0]]], LineWorkError),
    ],
)
def test_what_is_no_geometry_is_refused_at_the_door(wrong, error):
    with pytest.raises(error):
        LineWork.from_geometry(wrong)


def test_the_callers_array_stays_writable():
    rows = segments(GRID)
    before = rows.copy()
    work = LineWork.from_geometry(rows)
    rows[0] = 99
    assert rows.flags.writeable
    assert LineWork.from_geometry(before).digest == work.digest
    pickle.loads(pickle.dumps(work))


def test_lines_in_hand_are_not_chosen_or_laid():
    with pytest.raises(PlanError):
        make_survey(LineWork.from_geometry(GRID), fillwork.Plan(lines=("layer=A",)))


def test_columns_and_graph_agree_with_the_grid():
    survey = make_survey(LineWork.from_geometry(GRID))
    columns = fillwork.region_columns(survey)
    assert {len(column) for column in columns.values()} == {6}
    assert all(type(value) in {int, float, str, bool}
               for column in columns.values() for value in column)  # fmt: skip
    graph = fillwork.contact_graph(survey)
    # 3 x 2 squares: 2 * 2 + 3 shared sides, a ladder
    assert networkx.is_isomorphic(graph, networkx.ladder_graph(3))
    assert {d["shared_mm"] for *_, d in graph.edges(data=True)} == {10.0}
    kinds = fillwork.contact_graph(survey, kinds=True)
    assert set(kinds) == set(columns["kind"])


def test_a_palette_in_memory_paints():
    palette = Palette.from_colours({"ivory": "#fffff0", "night": "rgb(20 20 60)"})
    survey = make_survey(LineWork.from_geometry(GRID))
    coloured = colour_survey(survey, palette=palette)
    assert [s.name for s in coloured.palette.swatches] == ["ivory", "night"]
    assert 'name = "ivory"' in coloured.plan.palette_data
    finish = colour_drawing(LineWork.from_geometry(GRID), palette=palette)
    assert b"#fffff0" in finish.svg() or b"#14143c" in finish.svg()
    columns = fillwork.region_columns(survey, coloured.colouring)
    assert set(columns["hex"]) <= {"#fffff0", "#14143c"}
    assert [s.name for s in Palette.from_colours(["#fff", "teal"]).swatches] == [
        "fff", "teal",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "wrong", [{}, {"a": "nothing"}, {"": "red"}, {"a=b": "red"}, {"a": 3}, "red",
              {"A": "red", "a": "blue"}, {"none": "red"},
              # the code of another, too long, with what a file cannot hold, too many
              {"2": "red", "b": "blue"}, {"a": "red", "1": "blue"}, {"x" * 61: "red"},
              {"a\0": "red"}, {"\ud800": "red"}, {"a\u202e": "red"},
              {f"p{k}": "red" for k in range(301)}]
)  # fmt: skip
def test_wrong_colours_are_refused_at_the_door(wrong):
    with pytest.raises(PaletteError):
        Palette.from_colours(wrong)


@pytest.mark.parametrize("name", ["x" * 61, "a\0b", "\ud800"])
def test_a_palette_of_a_wrong_name_is_refused_at_the_door(name):
    with pytest.raises(PaletteError) as caught:
        Palette.from_colours({"ivory": "#fffff0"}, name=name)
    str(caught.value).encode()
    with pytest.raises(TypeError, match="name is a str, not an int"):
        Palette.from_colours({"ivory": "#fffff0"}, name=7)


def test_a_palette_in_memory_is_the_one_that_its_file_gives():
    # a paint may be called by its own code; spaces are as in a file
    own = Palette.from_colours(
        {"1": "#fffff0", "deep \n night": "navy", "x" * 60: "red"}
    )
    read = parse_palette(own.to_toml().encode(), "own.toml")
    assert read.swatches == own.swatches
    assert [s.name for s in own.swatches] == ["1", "deep night", "x" * 60]
