"""Countries of a real map by four swatches, from drawing to finished colouring."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.pipeline.painting import colour_survey
from fillwork.pipeline.surveying import make_survey
from fillwork.pipeline.taking import take_palette
from fillwork.plans.model import Plan
from tests.reference.test_regions_maps import read_map, ring_points

SCALE = 0.004  # steps of the map to mm

# four colours made up for this test
FOUR = """
name = "Four for a map"
[[paint]]
name = "chalk"
colour = "#f2ead8"
[[paint]]
name = "brick"
colour = "#a4452f"
[[paint]]
name = "moss"
colour = "#6f8d4b"
[[paint]]
name = "slate"
colour = "#2f4157"
"""


@pytest.fixture(scope="module")
def drawn():
    arcs, polygons = read_map()
    rings = [ring_points(arcs, ring) for polygon in polygons for ring in polygon]
    corners = np.vstack(rings)
    left, low = corners.min(axis=0)
    width, height = (corners.max(axis=0) - (left, low)) * SCALE
    paths = []
    for ring in rings:
        points = (ring - (left, low)) * SCALE
        points[:, 1] = height - points[:, 1]
        paths.append(
            "M" + " ".join(f"{x:.3f},{y:.3f}" for x, y in points.tolist()) + "Z"
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" '
        f'height="{height:.3f}mm" viewBox="0 0 {width:.3f} {height:.3f}">'
        f'<path d="{"".join(paths)}" fill="none" stroke="#000" stroke-width="0.1"/>'
        "</svg>"
    ).encode()


def faces_of_countries(arrangement):
    """Return the region that holds a point inside each polygon."""
    import shapely

    arcs, polygons = read_map()
    corners = np.vstack([ring_points(arcs, r) for p in polygons for r in p])
    low = corners.min(axis=0)
    shapes = arrangement.polygons()
    tree = shapely.STRtree(shapes)
    face = []
    for polygon in polygons:
        outer, *holes = [(ring_points(arcs, r) - low) * SCALE for r in polygon]
        inside = shapely.Polygon(outer, holes).representative_point()
        (at,) = tree.query(inside, predicate="within")
        face.append(int(at) + 1)
    assert len(set(face)) == len(polygons)
    return face


def sharing_borders():
    """Return pairs of polygons that have an arc of the map in common."""
    _, polygons = read_map()
    owners = {}
    for number, polygon in enumerate(polygons):
        for arc in {max(k, ~k) for ring in polygon for k in ring}:
            owners.setdefault(arc, []).append(number)
    return sorted({tuple(own) for own in owners.values() if len(own) == 2})


@pytest.mark.reference(
    "Natural Earth 1:110m (public domain); Appel and Haken 1977: four colours suffice"
)
@pytest.mark.parametrize("seed", [0, 1])
def test_four_swatches_part_all_countries(drawn, tmp_path, seed):
    file = tmp_path / "four.toml"
    file.write_text(FOUR)
    plan = take_palette(
        replace(Plan(), symmetry=((0, "none"),), match="none", page_edge="open"),
        str(file),
    )
    plan = replace(plan, rules=replace(plan.rules, seed=seed))
    survey = make_survey(drawn, plan, name="map.svg")
    assert survey.arrangement.face_count > 200
    found = colour_survey(survey).colouring
    assert found.equal_neighbours == ()
    pairs = survey.adjacency.face_pairs
    assert len(pairs) > 250
    colours = found.of_face[pairs]
    assert (colours[:, 0] != colours[:, 1]).all()
    assert set(found.of_face[1:].tolist()) <= {0, 1, 2, 3}
    # and by the map's own list of who shares a border, not by ours
    face = faces_of_countries(survey.arrangement)
    neighbours = sharing_borders()
    assert len(neighbours) > 250
    for a, b in neighbours:
        assert found.of_face[face[a]] != found.of_face[face[b]], (a, b)


def test_three_swatches_do_not(drawn, tmp_path):
    """Some countries have an odd ring of neighbours, so three cannot do."""
    file = tmp_path / "three.toml"
    file.write_text(FOUR[: FOUR.rindex("[[paint]]")])
    plan = take_palette(
        replace(Plan(), symmetry=((0, "none"),), match="none", page_edge="open"),
        str(file),
    )
    survey = make_survey(drawn, plan, name="map.svg")
    found = colour_survey(survey).colouring
    assert found.equal_neighbours
