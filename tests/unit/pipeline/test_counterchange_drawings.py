"""Counterchange from a drawing file on: every operation found permutes the colours."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial import cKDTree

from fillwork.geometry import affine
from fillwork.pipeline.painting import colour_survey
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.model import Plan

DRAWINGS = Path(__file__).parents[3] / "demo" / "drawings"


@cache
def survey_of(name):
    data = (DRAWINGS / f"{name}.svg").read_bytes()
    return make_survey(data, Plan(), name=f"{name}.svg")


def operations(symmetry):
    """Return operations with and without a step of the lattice."""
    plain = [operation.map for operation in symmetry.operations]
    if symmetry.lattice is None:
        return plain
    steps = [affine.translation(*row) for row in symmetry.lattice.basis]
    return plain + [affine.compose(s, m) for s in steps for m in plain]


@pytest.mark.parametrize(
    ("name", "colours"),
    [
        ("cloakroom-door", 2),
        ("cloakroom-door", 4),
        ("framed-panel", 2),
        ("framed-panel", 3),
        ("stair-whirl", 3),
        ("stair-whirl", 6),
        ("warm-room-ceiling", 2),
        ("warm-room-ceiling", 3),
        ("warm-room-ceiling", 4),
        ("bench-border", 2),
        ("bench-border", 3),
        ("fountain-medallion", 2),
        ("drafting-sheet", 3),
    ],
)
def test_every_operation_permutes_the_colours(name, colours):
    survey = survey_of(name)
    rules = replace(survey.plan.rules, counterchange=colours)
    plan = replace(survey.plan, palette="pencil-box", rules=rules)
    found = colour_survey(survey, plan).colouring
    orbits = survey.orbits
    # kinds really alternate
    for letter, *_ in found.counterchange.kinds:
        (orbit,) = [o for o in orbits.orbits if o.letter == letter]
        assert len(np.unique(found.of_face[orbit.faces])) == colours
    checked = 0
    for zone in orbits.zones:
        whole = zone.faces[~orbits.cut[zone.faces]]
        if not len(whole) or not zone.symmetry.operations:
            continue
        polygons = survey.arrangement.polygons(whole)
        at = np.array([polygon.centroid.coords[0] for polygon in polygons])
        slack = 0.05 * float(np.sqrt(np.median(survey.arrangement.area[whole])))
        tree = cKDTree(at)
        for operation in operations(zone.symmetry):
            apart, image = tree.query(affine.apply(operation, at))
            seen = apart < slack  # the others leave the drawing
            seen &= orbits.of_face[whole] == orbits.of_face[whole[image]]
            moved = {
                (int(a), int(b))
                for a, b in zip(
                    found.of_face[whole[seen]],
                    found.of_face[whole[image[seen]]],
                    strict=True,
                )
            }
            assert len({a for a, _ in moved}) == len(moved)
            assert len({b for _, b in moved}) == len(moved)
            checked += int(seen.sum())
    assert checked > 4 * survey.arrangement.face_count


@pytest.mark.parametrize("palette", ["glazed-court", "mill-stream"])
def test_sets_leave_swatches_to_the_kinds_that_stay(palette):
    """With three sets of two, touching kinds would share the two swatches left."""
    survey = survey_of("framed-panel")
    rules = replace(survey.plan.rules, counterchange=2)
    plan = replace(survey.plan, palette=palette, rules=rules)
    found = colour_survey(survey, plan).colouring
    assert found.counterchange.kinds
    assert all(a == b for a, b, _ in found.equal_neighbours)
    assert found.smallest_difference >= found.goal
