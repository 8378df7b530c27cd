"""Choices that change nothing are told, and the others are not."""

from __future__ import annotations

import pytest

from fillwork.pipeline.surveying import make_survey
from fillwork.plans.model import BandSettings, LayingSettings, Plan

# an invented square of 40 mm in four, and a guide line beside
DRAWING = b"""<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm"
viewBox="0 0 60 60"><g fill="none" stroke="#000" stroke-width=".3">
<path d="M10 10H50V50H10Z M10 30H50 M30 10V50"/></g></svg>"""


def told(plan: Plan) -> list[str]:
    notes = make_survey(DRAWING, plan, name="square.svg").notes
    return [note.text for note in notes if note.type == "unused choice"]


@pytest.mark.parametrize(
    ("laying", "option"),
    [
        (LayingSettings(cell=("width<1",)), "--cell"),
        (LayingSettings(by="mirrors"), "--by"),
        (LayingSettings(place=2), "--place"),
        (LayingSettings(place_at=(1.0, 1.0)), "--place"),
        (LayingSettings(give=0.02), "--scale-by"),
        (LayingSettings(border="rest"), "--border"),
        (LayingSettings(border_width=5.0), "--border"),
        (LayingSettings(misfit=0.1), "--misfit"),
    ],
)
def test_a_way_of_laying_without_a_panel_is_told(laying, option) -> None:
    (text,) = told(Plan(laying=laying))
    assert option in text
    assert ("like all others" in text) is bool(laying.cell)


@pytest.mark.parametrize(
    ("bands", "option"),
    [
        (BandSettings(gap=0.3), "--band-gap"),
        (BandSettings(nodes="ring"), "--band-nodes"),
        (BandSettings(start="under", corners="round"), "--band-start, --band-corners"),
    ],
)
def test_the_make_of_bands_without_a_width_is_told(bands, option) -> None:
    (text,) = told(Plan(bands=bands))
    assert option in text


def test_choices_that_are_used_and_defaults_are_not_told() -> None:
    assert told(Plan()) == []
    assert told(Plan(bands=BandSettings(find="no"))) == []
    assert told(Plan(bands=BandSettings(width=2.0, gap=0.3))) == []
    laying = LayingSettings(over=(80.0, 80.0), by="shifts", misfit=0.1)
    assert told(Plan(laying=laying)) == []
