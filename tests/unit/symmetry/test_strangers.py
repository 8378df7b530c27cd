"""Whether a drawing without symmetry is told by its regions, and none with one is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces import congruence
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.faces.strangers import all_strangers
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import linework_from_segments

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement


def cells(count: int, images: int, off: float = 0.0) -> Arrangement:
    """Return Voronoi cells of random points and of their turned images."""
    rng = np.random.default_rng(5)
    sites = rng.normal(0, 30, (count // images, 2)) @ np.array([1, 1j])
    sites = np.concatenate(
        [sites * np.exp(2j * np.pi * k / images) for k in range(images)]
    )
    sites = np.column_stack([sites.real, sites.imag])
    lines = shapely.voronoi_polygons(shapely.MultiPoint(sites), only_edges=True)
    disc = shapely.Point(0, 0).buffer(50, 96 // images * images)
    parts = shapely.get_parts(shapely.intersection(lines, disc))
    rows = shapely.get_coordinates(parts).reshape(-1, 4)
    ring = shapely.get_coordinates(disc.exterior)
    rows = np.vstack([rows, np.hstack([ring[:-1], ring[1:]])])
    # one number for one corner, so that lines still meet
    _, first, of = np.unique(
        rows.reshape(-1, 2).round(6), axis=0, return_index=True, return_inverse=True
    )
    moved = rows.reshape(-1, 2)[first] + rng.normal(0, off, (len(first), 2))
    rows = moved[of.reshape(-1)].reshape(-1, 4) + 60.0
    return build_arrangement(linework_from_segments(rows, 120, 120), close_gaps=0.0)


@pytest.mark.parametrize(("images", "off"), [(1, 0.0), (3, 0.0), (2, 0.0), (3, 0.05)])
def test_strangers_are_told_from_turned_cells(images: int, off: float) -> None:
    arrangement = cells(1200, images, off)
    faces = np.arange(1, arrangement.face_count)
    found = all_strangers(arrangement, measure_faces(arrangement), faces)
    assert found == (images == 1)


def test_nothing_is_looked_for_among_strangers() -> None:
    found = find_symmetry(cells(2400, 1))
    assert found.group.family == "none"
    assert found.certain
    assert found.reason == "hardly a region has its like"


def test_figures_that_lie_on_one_mirror_line_are_no_strangers() -> None:
    # kites one inside the other, each its own mirror image and unlike all others
    rows = [
        (60 + s * x, 5.0 + 3 * k, 60.0, y)
        for k in range(18)
        for x in (55.0 - 2.7 * k,)
        for y in (5.0 + 3 * k + 2.0 + 0.1 * k * k, 3.0 + 3 * k - 0.07 * k * k)
        for s in (-1, 1)
    ]
    arrangement = build_arrangement(
        linework_from_segments(np.array(rows), 120, 120), close_gaps=0.0
    )
    faces = np.arange(1, arrangement.face_count)
    assert len(faces) > 20
    assert not all_strangers(arrangement, measure_faces(arrangement), faces)


def test_a_bound_on_comparing_regions_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    arrangement = cells(150, 3)
    zones = find_zones(arrangement, stated="none")
    count = arrangement.face_count - 1
    whole = find_orbits(arrangement, zones)
    assert len(whole.orbits) < 0.5 * count
    assert not whole.notes
    monkeypatch.setattr(congruence, "_COMPARED", 0)
    left = find_orbits(arrangement, zones)
    assert len(left.orbits) > 0.9 * count
    assert [note.type for note in left.notes] == ["kinds not searched"]
