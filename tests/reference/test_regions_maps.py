"""A map of countries: polygons that share borders, by their own areas."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from fillwork.arrangement import build_arrangement
from tests.unit.helpers import linework_from_segments

MAP = Path(__file__).parents[1] / "drawings" / "maps" / "countries-110m.json"

pytestmark = pytest.mark.reference(
    "Natural Earth 1:110m cultural vectors (public domain), as world-atlas 2.0.2"
)


def read_map():
    """Return whole numbered arcs and, per polygon, rings of arc numbers."""
    topology = json.loads(MAP.read_text())
    arcs = [np.cumsum(np.array(a), axis=0) for a in topology["arcs"]]
    polygons = []
    for shape in topology["objects"]["countries"]["geometries"]:
        if shape["type"] == "Polygon":
            polygons.append(shape["arcs"])
        elif shape["type"] == "MultiPolygon":
            polygons.extend(shape["arcs"])
    # some countries lie across the 180th meridian: laid flat, their borders run
    # back over the whole map and cross all others, so they are left out
    flat = [
        p
        for p in polygons
        if all(
            np.abs(np.diff(arcs[max(k, ~k)][:, 0])).max() < 50_000 for r in p for k in r
        )
    ]
    assert len(polygons) - len(flat) == 4
    # and one islet has shrunk to a line
    return arcs, [p for p in flat if twice_area(ring_points(arcs, p[0])) > 0]


def ring_points(arcs, ring):
    parts = [arcs[k] if k >= 0 else arcs[~k][::-1] for k in ring]
    return np.vstack([p[:-1] for p in parts])


def twice_area(points):
    """Return the doubled area of a ring in whole numbers, by the shoelace."""
    x, y = points[:, 0].tolist(), points[:, 1].tolist()
    n = len(x)
    return abs(sum(x[i] * y[(i + 1) % n] - x[(i + 1) % n] * y[i] for i in range(n)))


def segments_of(rings, scale):
    rows = [np.hstack([r, np.roll(r, -1, axis=0)]) for r in rings]
    return np.vstack(rows) * scale


@pytest.fixture(scope="module")
def world():
    return read_map()


@pytest.mark.parametrize("scale", [0.004, 1.0])
def test_every_country_is_found_with_its_area(world, scale):
    arcs, polygons = world
    rings = [ring_points(arcs, ring) for polygon in polygons for ring in polygon]
    work = linework_from_segments(
        segments_of(rings, scale), 4e5 * scale, 4e5 * scale, has_page=False
    )
    found = build_arrangement(work)
    true = np.array(
        [
            twice_area(ring_points(arcs, p[0]))
            - sum(twice_area(ring_points(arcs, hole)) for hole in p[1:])
            for p in polygons
        ]
    )
    expected = np.sort(true / 2 * scale**2)
    # every polygon is a region; what else there is are seas shut in by countries
    own = np.sort(found.area[1:])
    nearest = np.abs(own[:, None] - expected).argmin(axis=0)
    # two borders of the map itself cross by one of its 100,000 steps
    np.testing.assert_allclose(own[nearest], expected, rtol=2e-5)
    # places are settled to 2^-36 of the map: an isle is a thousandth of it across
    close = np.isclose(own[nearest], expected, rtol=1e-7)
    assert (~close).sum() <= 3
    assert len(np.unique(nearest)) >= len(np.unique(expected))
    assert found.face_count - 1 == count_by_topology(arcs, polygons)


def count_by_topology(arcs, polygons):
    """Count faces from the map's own arcs and nodes: F = E - V + C."""
    used = sorted({k if k >= 0 else ~k for p in polygons for r in p for k in r})
    ends = [(tuple(arcs[k][0]), tuple(arcs[k][-1])) for k in used]
    parent = {}

    def find(p):
        while parent.setdefault(p, p) != p:
            p = parent[p]
        return p

    for a, b in ends:
        parent[find(a)] = find(b)
    parts = len({find(p) for p in list(parent)})
    return len(ends) - len(parent) + parts


def test_arcs_drawn_once_and_polygons_drawn_whole_give_the_same(world):
    arcs, polygons = world
    used = sorted({k if k >= 0 else ~k for p in polygons for r in p for k in r})
    once = np.vstack([np.hstack([arcs[k][:-1], arcs[k][1:]]) for k in used])
    rings = [ring_points(arcs, ring) for polygon in polygons for ring in polygon]
    whole = segments_of(rings, 1.0)
    areas = [
        np.sort(
            build_arrangement(
                linework_from_segments(rows.astype(float), has_page=False)
            ).area
        )
        for rows in (once, whole)
    ]
    np.testing.assert_allclose(areas[0], areas[1], rtol=1e-12)
