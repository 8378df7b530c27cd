"""Wishes made in one palette hold in another."""

from __future__ import annotations

from fillwork.colouring.palette_file import list_palettes
from fillwork.pipeline.bench import fit_wishes
from fillwork.pipeline.colourways import find_ways, suggest
from fillwork.pipeline.demo import demo_drawing
from fillwork.pipeline.stages import load_palette, make_survey, take_palette
from fillwork.plans.file import parse_plan

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


def test_a_colour_that_no_region_of_the_page_bears_stops_no_counterchange() -> None:
    # a strip of waves that the page cuts, and four flowers beside it
    petals = "".join(
        f'<g transform="translate({x} 15)"><circle r="9"/><circle r="4"/>'
        + "".join(f'<path d="M4 0H9" transform="rotate({60 * k})"/>' for k in range(6))
        + "</g>"
        for x in (20, 60, 100, 140)
    )
    wave = "M0 50" + "".join(
        f"C{x + 8} 28 {x + 12} 28 {x + 20} 50S{x + 32} 72 {x + 40} 50"
        for x in (0, 40, 80, 120)
    )
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="80mm" '
        'viewBox="0 0 160 80"><g fill="none" stroke="#000">'
        f'<rect x="2" y="2" width="156" height="76"/><path d="{wave}"/>'
        f"{petals}</g></svg>"
    ).encode()
    survey = make_survey(drawing, name="border.svg")
    for colours in (2, 3):
        for choice, coloured in find_ways(survey, survey.plan, colours):
            assert choice.sentence
            assert (coloured.colouring.of_face[1:] >= 0).all()
