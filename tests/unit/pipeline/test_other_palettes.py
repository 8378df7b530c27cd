"""Wishes made in one palette hold in another."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from fillwork.colouring.palettes.file import list_palettes
from fillwork.colouring.search.wishes import build_classes
from fillwork.errors import ColouringError
from fillwork.pipeline.colourways import suggest
from fillwork.pipeline.demo import demo_drawing
from fillwork.pipeline.job import colour_drawing
from fillwork.pipeline.moments import fit_wishes
from fillwork.pipeline.surveying import make_survey
from fillwork.pipeline.taking import load_palette, take_palette
from fillwork.plans.file import parse_plan
from fillwork.plans.model import Plan

# an invented square of 8 mm on a page of 10 mm
SQUARE = b"""<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"
viewBox="0 0 10 10"><path d="M1 1h8v8h-8z" fill="none" stroke="#000"/></svg>"""

_PINNED = b'[[colouring.pin]]\nwhere = "A"\nswatch = "evening blue"\n'


def test_a_pin_holds_in_every_palette_by_its_nearest_swatch() -> None:
    plan = parse_plan(_PINNED, "plan")
    survey = make_survey(demo_drawing("fountain-medallion"), plan, name="m.svg")
    names = list_palettes()
    found = suggest(survey, plan, names, count=len(names))
    assert len(found) == len(names)
    for suggestion in found:
        colouring = suggestion.colourway.colouring
        ring = survey.orbits.orbits[0].faces
        # the same swatch on the whole kind, and a pin for it in the plan
        assert len(set(colouring.of_face[ring].tolist())) == 1
        pinned = {pin.swatch for pin in suggestion.plan.rules.pins}
        name = colouring.palette.swatches[int(colouring.of_face[ring[0]])].name
        assert name in pinned


@pytest.mark.parametrize("names", [(), ("feast-room",), ("quiet-earth", "feast-room")])
def test_a_swatch_that_no_palette_has_is_told_as_wrong(names: tuple[str, ...]) -> None:
    plan = parse_plan(_PINNED.replace(b"evening blue", b"evening blve"), "plan")
    survey = make_survey(demo_drawing("bench-border"), plan, name="b.svg")
    with pytest.raises(ColouringError, match="no swatch"):
        suggest(survey, plan, names, count=2)


def test_two_wishes_never_share_one_swatch_of_the_other_palette() -> None:
    plan = parse_plan(
        _PINNED + b'[[colouring.pin]]\nwhere = "B"\nswatch = "brick"\n', "plan"
    )
    before = load_palette(plan)
    for name in list_palettes():
        other = take_palette(plan, name)
        palette = load_palette(other)
        fitted = fit_wishes(other, palette, before)
        swatches = [pin.swatch for pin in fitted.rules.pins]
        assert len(set(swatches)) == 2
        assert set(swatches) <= {s.name for s in palette.swatches}


@pytest.mark.parametrize("spell", [str, str.upper])  # names are known in any case
def test_every_wish_that_names_a_swatch_goes_over_to_another_palette(spell) -> None:
    before = load_palette(Plan())
    name = spell(before.swatches[0].name)
    as_each_kind = {
        "swatch": name, "swatches": (name,), "pairs": (("A", name),),
        "shares": ((name, 0.1),), "coats": ((name, 2),),
    }  # fmt: skip
    for other in list_palettes():
        plan = Plan(palette=other)
        palette = load_palette(plan)
        for part in ("rules", "paint"):
            for one in fields(getattr(plan, part)):
                value = as_each_kind.get(one.metadata.get("kind"))
                if value is None:
                    continue
                wished = replace(getattr(plan, part), **{one.name: value})
                fitted = fit_wishes(replace(plan, **{part: wished}), palette, before)
                now = getattr(getattr(fitted, part), one.name)
                known = {swatch.name for swatch in palette.swatches}
                assert any(repr(swatch) in repr(now) for swatch in known) or (
                    one.name == "under" and not now
                ), (one.name, now)
                assert name in known or repr(name) not in repr(now)
                if one.name == "under":  # leaf or tile goes under nothing
                    colour_drawing(SQUARE, fitted, name="square.svg")


def test_a_colour_that_no_region_of_the_page_bears_is_no_class() -> None:
    # two classes that alternate; the page's edge cuts off all that would bear the
    # colours 9 and 10, which must differ from each other and from 0
    survey = make_survey(demo_drawing("bench-border"), name="b.svg")
    base = np.zeros(survey.arrangement.face_count, np.int32)
    base[0] = -1
    base[1:4] = 1
    unlike = np.array([[0, 1], [0, 9], [9, 10]], np.int32)
    classes = build_classes(
        survey.arrangement,
        survey.orbits,
        survey.adjacency,
        load_palette(survey.plan),
        survey.plan.rules,
        base=base,
        unlike=unlike,
    )
    assert classes.count == 2
