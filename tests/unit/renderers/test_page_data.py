"""What the page is told of a drawing agrees with the shapes of its regions."""

from __future__ import annotations

import itertools

import shapely

from fillwork import make_survey
from fillwork.renderers.page.data import compose_drawing

# five regions of our own, each of another size: a row of four and one beneath
DRAWING = b"""<svg width="60mm" height="40mm" viewBox="0 0 60 40" fill="none"
 stroke="black">
<path d="M5 5h40v12h-40zM10 5v12M22 5v12M29 5v12M22 17v9h23v-9"/></svg>"""


def test_regions_that_touch_are_told_by_their_numbers() -> None:
    survey = make_survey(DRAWING, name="rows.svg")
    found = survey.arrangement
    data = compose_drawing(
        survey.linework,
        found,
        survey.outlines,
        survey.orbits,
        survey.adjacency,
        real_scale=1.0,
        scale_known=True,
    )
    shapes = found.polygons()
    touching = {
        pair
        for pair in itertools.combinations(range(len(shapes)), 2)
        if shapely.length(shapely.intersection(*(shapes[k] for k in pair))) > 1e-6
    }
    told = iter(data["touch"])
    assert {tuple(sorted(pair)) for pair in zip(told, told, strict=True)} == touching
    assert len(touching) == 5
