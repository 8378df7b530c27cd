"""A panel drawn anew at another size keeps the colours that it had as drawn."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from fillwork.colouring.model import Pin, Rules
from fillwork.colouring.places import face_at
from fillwork.pipeline.laying_inputs import border_from
from fillwork.pipeline.painting import colour_survey
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.plans.model import Plan

DRAWN = Path(__file__).parents[3] / "demo/drawings/framed-panel.svg"
SIZE = (520.0, 400.0)


@pytest.fixture(scope="module")
def surveys():
    """Return the survey of the drawing, and that of the panel drawn anew."""
    data = DRAWN.read_bytes()
    laying = replace(Plan().laying, over=SIZE, **border_from(data, DRAWN.name, ()))
    plan = Plan(laying=laying)
    return tuple(make_survey(data, p, name=DRAWN.name) for p in (Plan(), plan))


def by_name(survey, colouring):
    """Return the swatch of each kind whose name says enough, and what it covers."""
    whole = survey.arrangement.area[1:].sum()
    found = {}
    for row, orbit in enumerate(survey.orbits.orbits):
        share = survey.arrangement.area[orbit.faces].sum() / whole
        found[orbit.name] = int(colouring.of_orbit[row]), float(share)
    return found


@pytest.mark.parametrize(
    "palette", ["court-album", "quiet-earth", "gilded-ceiling", "salt-desert"]
)
def test_a_panel_drawn_anew_keeps_its_colours(surveys, palette):
    first, second = (colour_survey(s, palette=palette).colouring for s in surveys)
    was, now = by_name(surveys[0], first), by_name(surveys[1], second)
    both = was.keys() & now.keys()
    assert sum(now[name][1] for name in both) > 0.6
    # what meets at the field's edge here alone may have to change
    kept = [now[name][1] for name in both if was[name][0] == now[name][0]]
    assert sum(kept) >= 0.9 * sum(now[name][1] for name in both)
    assert second.smallest_difference >= min(20.0, first.smallest_difference) - 1e-6
    assert all(a == b for a, b, _ in second.equal_neighbours)
    assert second.rules.pins == ()


def test_a_pin_changes_its_own_kind_alone(surveys):
    drawn, panel = surveys
    first = colour_survey(drawn, palette="court-album").colouring
    # the medallion stands in the middle of both
    middle = [
        face_at(s.arrangement, s.linework.frame.width / 2, s.linework.frame.height / 2)
        for s in surveys
    ]
    star = drawn.orbits.orbits[drawn.orbits.of_face[middle[0]]].name
    names = [swatch.name for swatch in first.palette.swatches]
    other = next(n for k, n in enumerate(names) if k not in set(first.of_face.tolist()))
    x, y = panel.arrangement.witness[middle[1]]
    plan = replace(panel.plan, rules=Rules(pins=(Pin(f"@{x},{y}", other),)))
    second = colour_survey(panel, plan, palette="court-album").colouring
    assert second.of_face[middle[1]] == names.index(other)
    was, now = by_name(drawn, first), by_name(panel, second)
    both = (was.keys() & now.keys()) - {star}
    kept = [now[name][1] for name in both if was[name][0] == now[name][0]]
    assert sum(kept) >= 0.9 * sum(now[name][1] for name in both)


def test_the_plan_of_a_panel_drawn_anew_gives_its_colours_again(surveys):
    panel = surveys[1]
    plan = replace(panel.plan, palette="court-album")
    again = parse_plan(plan_to_toml(plan).encode())
    survey = make_survey(DRAWN.read_bytes(), again, name=DRAWN.name)
    first, second = (
        colour_survey(s, p).colouring for s, p in ((panel, plan), (survey, again))
    )
    assert (first.of_face == second.of_face).all()
