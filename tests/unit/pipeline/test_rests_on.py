"""What a survey rests on is compared before it is used again."""

from __future__ import annotations

import dataclasses
import sys
from collections import defaultdict
from dataclasses import dataclass, fields, replace

import numpy as np
import pytest

from fillwork.colouring import model
from fillwork.colouring.model import Rules
from fillwork.errors import PlanError
from fillwork.pipeline import checks, taking
from fillwork.pipeline.checks import SIZED, SURVEYED, refuse_misfit, rests_on
from fillwork.pipeline.moments import KeptDrawing
from fillwork.pipeline.surveying import make_survey
from fillwork.plans import file
from fillwork.plans.model import BandSettings, LayingSettings, Plan, ScanSettings
from tests.unit.plans.test_file import FULL

# invented: four lines that cross, and a square in four
CROSSED = b"""<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm"
viewBox="0 0 60 60"><g fill="none" stroke="#000" stroke-width=".3">
<path d="M10 10L50 50 M10 50L50 10 M30 5V55 M5 20H55"/></g></svg>"""
SQUARE = CROSSED.replace(
    b"M10 10L50 50 M10 50L50 10 M30 5V55 M5 20H55",
    b"M10 10H50V50H10Z M10 30H50 M30 10V50",
)

WOVEN = Plan(bands=BandSettings(width=4.0), real_width=120.0)
FOUND = Plan(bands=BandSettings(find="6mm"), real_width=120.0)
LAID = Plan(laying=LayingSettings(over=(90.0, 90.0)), real_width=120.0)


class _Told:
    """Choices that tell which of their fields are read, but for checks and copies."""

    def __getattribute__(self, name: str) -> object:
        known = type(self).__dataclass_fields__
        if name in known and sys._getframe(1).f_code.co_filename not in CHECKS:
            READ[type(self).__name__].add(name)
        return super().__getattribute__(name)


@dataclass(frozen=True)
class WatchedPlan(_Told, Plan):
    """A plan that is watched."""


@dataclass(frozen=True)
class WatchedRules(_Told, Rules):
    """Wishes that are watched."""


READ: defaultdict[str, set[str]] = defaultdict(set)
CHECKS = {one.__file__ for one in (checks, file, model, taking, dataclasses)}


def inked() -> bytes:
    """Return a picture of a square in four, drawn with a pen."""
    import io

    from PIL import Image

    sheet = np.full((600, 600), 255, np.uint8)
    for at in (100, 300, 500):
        sheet[at - 3 : at + 3, 97:503] = 0
        sheet[97:503, at - 3 : at + 3] = 0
    out = io.BytesIO()
    Image.fromarray(sheet).save(out, "PNG", dpi=(254, 254))
    return out.getvalue()


@pytest.mark.parametrize(
    ("drawing", "plan"),
    [
        (CROSSED, WOVEN),
        (CROSSED, FOUND),
        (SQUARE, LAID),
        (
            SQUARE,
            replace(LAID, laying=LayingSettings(over=(90.0, 90.0), border="rest")),
        ),
        (SQUARE, Plan(digest="ab", symmetry=((0, "plane:p4m"),))),
        (inked(), Plan(scan=ScanSettings(regular=True))),
    ],
)
def test_whatever_choice_a_survey_reads_is_one_that_it_rests_on(drawing, plan) -> None:
    READ.clear()
    values = {one.name: getattr(plan, one.name) for one in fields(Plan)}
    watched = WatchedPlan(**{**values, "rules": WatchedRules()})
    make_survey(drawing, watched, name="panel.svg")
    # names are given anew, the drawing's name and digest compared apart
    known = {*rests_on(plan), "names", "rules", "drawing", "digest"}
    if plan.bands.width is None and plan.bands.find == "auto":
        known |= set(SIZED)  # a note's words alone, which are compared apart
    assert READ["WatchedPlan"] - known == set()
    assert {"lines", "match", "laying"} <= READ["WatchedPlan"]
    # contacts are measured anew where corners count: `colour_survey`
    assert READ["WatchedRules"] == {"corners_count"}


@pytest.mark.parametrize("name", SURVEYED)
def test_a_survey_is_not_used_for_another_choice(name: str) -> None:
    survey = make_survey(SQUARE, name="square.svg")
    refuse_misfit(survey, replace(Plan(), png_width=800, real_width=3.0))
    with pytest.raises(PlanError, match=f"the plan has {name} = "):
        refuse_misfit(survey, replace(Plan(), **{name: getattr(FULL, name)}))


@pytest.mark.parametrize(("drawing", "plan"), [(CROSSED, WOVEN), (SQUARE, LAID)])
def test_true_lengths_rest_on_the_true_size(drawing: bytes, plan: Plan) -> None:
    kept = KeptDrawing(drawing, "panel.svg")
    for width in (120.0, 60.0):
        for of in ("page", "drawing"):
            now = replace(plan, real_width=width, real_of=of)
            alone = make_survey(drawing, now, name="panel.svg")
            area = kept.survey(now).arrangement.area
            np.testing.assert_allclose(area, alone.arrangement.area)
    with pytest.raises(PlanError, match="real_width"):
        refuse_misfit(alone, plan)


def test_a_kept_survey_tells_that_a_plan_is_for_another_drawing() -> None:
    kept = KeptDrawing(SQUARE, "square.svg")
    first = kept.survey(Plan())
    assert (
        kept.survey(replace(Plan(), real_width=90.0)).arrangement is first.arrangement
    )
    told = kept.survey(Plan(drawing="rose.svg", digest="ab" * 32)).notes
    assert "drawing changed" in {note.type for note in told}
