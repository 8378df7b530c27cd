"""Colour an invented map so that no two lands that share a border look alike.

The lands are cells round scattered points, as shapely's Voronoi diagram gives them.
Every land is a kind of its own (``match="none"``), and a plane map never needs more
than four colours [1]_, so a palette of four will do whatever the map.

Run it: ``python demo/map_in_four_colours.py``.

References
----------
.. [1] K. Appel and W. Haken, "Every planar map is four colorable", Bulletin of the
   American Mathematical Society 82(5), 711-712, 1976.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import shapely

import fillwork

PAINTS = {"sand": "#e8d3a2", "brick": "#a8442f", "moss": "#5d7a4a", "sea": "#2f5d7c"}


def draw_lands(count: int, seed: int) -> list[shapely.Polygon]:
    """Return invented lands that fill a page of 180 by 120 mm."""
    page = shapely.box(0, 0, 180, 120)
    points = np.random.default_rng(seed).uniform((0, 0), (180, 120), (count, 2))
    cells = shapely.voronoi_polygons(shapely.MultiPoint(points), extend_to=page)
    return [shapely.intersection(cell, page) for cell in shapely.get_parts(cells)]


def main() -> None:
    """Write the map and say which lands touch."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", default="out/map", type=Path)
    parser.add_argument("--lands", default=60, type=int)
    options = parser.parse_args()

    work = fillwork.LineWork.from_geometry(draw_lands(options.lands, 7), name="map")
    plan = fillwork.Plan(match="none", rules=fillwork.Rules(goal_difference=15))
    survey = fillwork.make_survey(work, plan, tolerance=fillwork.Tolerance.exact())
    palette = fillwork.Palette.from_colours(PAINTS, name="Four paints")
    finish = fillwork.Finish(fillwork.colour_survey(survey, palette=palette))

    graph = fillwork.contact_graph(survey)
    columns = fillwork.region_columns(survey, finish.colouring)
    paint = dict(zip(columns["region"], columns["swatch"], strict=True))
    alike = [pair for pair in graph.edges if paint[pair[0]] == paint[pair[1]]]
    print(f"{len(paint)} lands, {graph.number_of_edges()} borders")
    print(f"paints: {', '.join(sorted(set(paint.values())))}")
    print(f"borders between lands of one paint: {len(alike)}")
    options.out.mkdir(parents=True, exist_ok=True)
    finish.write_svg(options.out / "map.svg", force=True)


if __name__ == "__main__":
    main()
