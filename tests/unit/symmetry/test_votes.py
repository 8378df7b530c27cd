"""Samples taken together by cells vote as all of them do, each by itself."""

from dataclasses import replace

import numpy as np
import pytest

from fillwork import LineWork, make_survey
from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.lines.fit import Correlator
from fillwork.symmetry.lines.gathering import gather_evidence
from fillwork.symmetry.lines.turning import rotation
from tests.unit.helpers import linework_from_segments


def test_samples_of_one_cell_vote_as_they_would_alone(monkeypatch):
    side = 12
    corners = np.stack(np.mgrid[0 : side + 1, 0 : side + 1], axis=-1) * 8.0 + 2.0
    moved = corners + np.random.default_rng(2).uniform(-2.0, 2.0, corners.shape)
    across = np.concatenate([moved[:-1], moved[1:]], axis=-1).reshape(-1, 4)
    along = np.concatenate([moved[:, :-1], moved[:, 1:]], axis=-1).reshape(-1, 4)
    drawn = linework_from_segments(np.concatenate([across, along]), 100.0, 100.0)
    evidence = gather_evidence(build_arrangement(drawn), None)
    correlator = Correlator(evidence, 20_000)
    monkeypatch.setattr("fillwork.symmetry.lines.fit.FEW_SAMPLES", 100)
    points, directions, weights = correlator.gathered
    assert len(points) < len(evidence.samples)
    assert weights.sum() == len(evidence.samples)
    assert np.allclose(np.hypot(*directions.T), 1.0)
    turn = rotation(np.pi / 2)
    middle = np.array([50.0, 50.0])

    def share(places, heads, many=None):
        turned = (places - middle) @ turn.T + middle
        return correlator.votes(turned, heads @ turn.T, 64.0, weights=many)[0]

    alone = share(evidence.samples, evidence.directions)
    together = share(points, directions, weights)
    assert np.corrcoef(alone.ravel(), together.ravel())[0, 1] > 0.99
    assert abs(float(alone.max()) - float(together.max())) < 0.05


@pytest.mark.parametrize("turn", [(1, 1), (1, -1), (-1, 1), (-1, -1)])
@pytest.mark.parametrize("swapped", [False, True])
def test_lines_on_whole_numbers_vote_for_their_mirrors(turn, swapped):
    # bands 4 mm wide every 20 mm both ways: by construction p4m, however the drawing
    # lies; all lines stand on the edges of the places that votes are counted in
    across = [11, 15, 31, 35, 51, 55, 71, 75, 91, 95]
    along = [9, 25, 29, 45, 49, 65, 69]
    lines = [[(x, 6), (x, 83)] for x in (6, *across, 107)]
    lines += [[(6, y), (107, y)] for y in (6, *along, 83)]
    drawn = np.array(lines, float) * turn
    work = LineWork.from_geometry(drawn[..., ::-1] if swapped else drawn)
    symmetry = make_survey(work).zones[0].symmetry
    assert symmetry.group.short == "p4m"


@pytest.mark.parametrize("far", [1e3, 1e7])
def test_votes_are_counted_in_as_few_places_however_narrow_a_drawing_is(far):
    # what lies about it for shifts to wrap into must not make more of them than asked
    corners = np.array([[0, 0], [far, 1], [far, 2], [0, 2]], dtype=float)
    drawn = np.hstack([corners, np.roll(corners, -1, axis=0)])
    evidence = gather_evidence(
        build_arrangement(linework_from_segments(drawn, far, 2.0)), None
    )
    most = 20_000
    rows, columns = Correlator(replace(evidence, scale=0.5), most).shape
    assert rows * columns < 3 * most
