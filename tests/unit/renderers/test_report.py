"""The report holds what was found, and no noise of the arithmetic."""

import numpy as np

import fillwork
from fillwork.pipeline.surveying import make_survey
from fillwork.renderers.report import survey_report


def test_an_exact_pattern_misses_by_nothing() -> None:
    # triangles in six rows of six, turned so that no coordinate is a round number
    turn = np.exp(0.3j)
    lines = [
        np.array([z.real, z.imag])
        for x in range(6)
        for y in range(6)
        for z in turn * (10 * x + 10j * y + np.array([0, 10, 10, 3 + 6j, 3 + 6j, 0]))
    ]
    work = fillwork.LineWork.from_geometry(np.array(lines).reshape(-1, 2, 2))
    survey = make_survey(work, tolerance=fillwork.Tolerance.exact())
    report = survey_report(
        work, survey.arrangement, survey.orbits, survey.adjacency,
        version="", real_scale=1.0, scale_known=False, notes=(),
    )  # fmt: skip
    found = report["symmetry"]
    assert survey.zones[0].symmetry.residual > 0
    misses = [found["residual_mm"], *(c["residual_mm"] for c in found["candidates"])]
    assert found["residual_mm"] == 0
    assert not any(0 < miss < 1e-9 for miss in misses)
