"""Bands named, pinned strand by strand, and told in the schedule."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.errors import ColouringError
from fillwork.pipeline.painting import colour_survey
from fillwork.pipeline.surveying import Survey, make_survey
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.plans.model import BandSettings, Plan
from tests.bench.patterns import svg_of
from tests.unit.bands.test_weave import star


@pytest.fixture(scope="module")
def survey() -> Survey:
    # {9/3}: three triangles about a regular nonagon; Coxeter, Regular Polytopes, § 2.8
    lines = star(9, 3).curves.data[:, :4]
    return make_survey(svg_of(lines), Plan(bands=BandSettings(width=1.5)))


def test_a_closed_band_is_named_by_what_it_runs_round(survey: Survey) -> None:
    names = [o.name for o in survey.orbits.orbits if o.band]
    assert names == ["band, closed, round the regular nonagon"]


@pytest.mark.parametrize("place", ["strand 2", "point"])
def test_one_strand_alone_is_pinned_from_end_to_end(survey: Survey, place: str) -> None:
    strand = survey.orbits.strand_of_face
    own = np.flatnonzero(strand == 1)
    where = place if place != "point" else tuple(survey.arrangement.witness[own[-1]])
    pins = [("band", "straw"), (where, "oxblood", "only")]
    coloured = colour_survey(survey, pins=pins)
    names = np.array([s.name for s in coloured.palette.swatches])
    worn = names[coloured.colouring.of_face]
    assert set(worn[own]) == {"oxblood"}
    assert set(worn[(strand >= 0) & (strand != 1)]) == {"straw"}
    # sides of the triangles in a circle of 45 mm: 3 x 45 x sqrt(3) = 233.8 mm
    told = "\n".join(coloured.schedule.strands)
    assert "oxblood: 234 mm, strand 2" in told
    assert "straw: 2 of 234 mm each, strands 1, 3" in told


@pytest.mark.parametrize("number", ["0", "9", "9" * 1990])
def test_no_strand_of_that_number_is_refused(survey: Survey, number: str) -> None:
    with pytest.raises(ColouringError, match="no kind has"):
        colour_survey(survey, pins={f"strand {number}": "straw"})


@pytest.mark.parametrize(("word", "at"), [("first", 0), ("last", -1)])
def test_bands_are_painted_first_or_last(survey: Survey, word: str, at: int) -> None:
    plan = replace(survey.plan, paint=replace(survey.plan.paint, bands=word))
    assert parse_plan(plan_to_toml(plan).encode()).paint.bands == word
    coloured = colour_survey(survey, plan=plan)
    band = next(k for k, o in enumerate(survey.orbits.orbits) if o.band)
    filled = [s for s in coloured.schedule.steps if s.kind == "fill"]
    assert [band in s.orbits for s in filled].index(True) == at % len(filled)
    assert word in filled[at].reason


def test_a_gap_parts_no_region_and_is_told(survey: Survey) -> None:
    lines = star(9, 3).curves.data[:, :4]
    with_gap = Plan(bands=BandSettings(width=1.5, gap=0.3))
    again = make_survey(svg_of(lines), with_gap)
    assert again.arrangement.face_count == survey.arrangement.face_count
    assert any(note.type == "gap" for note in again.notes)
