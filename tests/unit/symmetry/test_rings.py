"""Rings about a rosette that turn more often than it, and pieces amid doubt.

The groups follow from the construction: twelve petals stand at every twelfth of a turn,
a hexagram keeps every sixth.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.groups import parse_group
from fillwork.symmetry.model import Symmetry
from fillwork.symmetry.zones.making import Part
from fillwork.symmetry.zones.middles import turned_along
from fillwork.symmetry.zones.proof import own_symmetry
from fillwork.symmetry.zones.rims import amid_doubt
from tests.unit.helpers import (
    circle,
    line,
    linework_from_curves,
    linework_from_segments,
)

MIDDLE = np.array([60.0, 60.0])


def _points(n: int, radius: float, start: float = 0.0) -> np.ndarray:
    turn = start + 2 * np.pi * np.arange(n) / n
    return MIDDLE + radius * np.column_stack([np.cos(turn), np.sin(turn)])


def _star_in_petals(petals: int):
    tip, inner = _points(petals, 50), _points(6, 24)
    foot = _points(petals, 24, np.pi / petals)
    rows = [circle(*MIDDLE, 24.0)]
    rows += [line(*inner[k], *inner[(k + 2) % 6]) for k in range(6)]
    for k in range(petals):
        rows += [line(*foot[k - 1], *tip[k]), line(*tip[k], *foot[k])]
    return build_arrangement(linework_from_curves(rows, 120.0, 120.0, has_page=False))


def _rings(petals: int) -> list[tuple[str, int]]:
    arrangement = _star_in_petals(petals)
    measures = measure_faces(arrangement)
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    away = np.hypot(*(measures.centroid[faces] - MIDDLE).T)
    inner, outer = faces[away < 24], faces[away > 24]
    found = own_symmetry(arrangement, measures, inner)
    assert (found.group.short, found.certain) == ("D6", True)
    parts = [Part(inner, found)]
    assert turned_along(arrangement, measures, parts, [outer]) == []
    return sorted((p.symmetry.group.short, len(p.faces)) for p in parts)


def test_a_ring_that_turns_more_often_than_its_star_is_a_zone_of_its_own():
    assert _rings(12) == [("D12", 12), ("D6", 13)]


def test_a_ring_that_turns_as_often_belongs_to_its_star():
    assert _rings(6) == [("D6", 19)]


def _amid(*sure: bool) -> list[int]:
    """Return what is found of a square among four, of which some are sure."""
    rows = [(x, 0, x, 30) for x in (0, 10, 20, 30)]
    rows += [(0, y, 30, y) for y in (0, 10, 20, 30)]
    arrangement = build_arrangement(
        linework_from_segments(np.array(rows, float), 30, 30)
    )
    at = [(15, 15), (5, 15), (25, 15), (15, 5), (15, 25)]
    faces = [np.array([arrangement.face_at(*p)], np.int32) for p in at]
    square = Symmetry(parse_group("rosette:D4"))
    other = Symmetry(parse_group("rosette:D1"))
    groups = [square, *(replace(other, certain=s) for s in sure)]
    parts = [Part(f, g) for f, g in zip(faces, groups, strict=True)]
    return [parts.index(p) for p in amid_doubt(arrangement, parts, [])]


def test_a_rosette_amid_zones_in_doubt_may_be_a_piece():
    assert _amid(False, False, False, False) == [0]
    assert _amid(False, False, False, True) == []


def test_cells_without_what_stands_in_them_are_in_doubt():
    rows = [(0, 0, 60, 0), (0, 12, 60, 12), *((x, 0, x, 12) for x in range(0, 61, 12))]
    for x in range(4, 60, 12):
        rows += [(x, 4, x + 4, 4), (x + 4, 4, x + 4, 8)]
        rows += [(x + 4, 8, x, 8), (x, 8, x, 4)]
    lines = linework_from_segments(np.array(rows, float), 60, 12)
    arrangement = build_arrangement(lines)
    middle = range(6, 60, 12)
    cells, islands = (
        np.array([arrangement.face_at(x, y) for x in middle], np.int32) for y in (2, 6)
    )
    mirrored = Symmetry(parse_group("rosette:D1"))
    strip, stars = Part(cells, mirrored), Part(islands, mirrored)
    assert amid_doubt(arrangement, [strip], [islands]) == [strip]
    assert amid_doubt(arrangement, [strip], [islands[:1]]) == []
    assert amid_doubt(arrangement, [strip, stars], []) == []
    stars.symmetry = replace(mirrored, certain=False)
    assert amid_doubt(arrangement, [strip, stars], []) == [strip]
