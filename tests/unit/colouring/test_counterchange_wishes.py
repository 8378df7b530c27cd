"""Counterchange beside other wishes, and where swatches are few."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.colouring.adjacency import measure_adjacency
from fillwork.colouring.counterchange.alternating_kinds import KindReader
from fillwork.colouring.counterchange.find import find_all_choices
from fillwork.colouring.model import Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.errors import ColouringError
from fillwork.geometry import affine
from fillwork.symmetry.groups import rosette_group
from fillwork.symmetry.model import Zone
from tests.unit.colouring import pattern_groups as ideal
from tests.unit.colouring.stand_ins import kinds, palette, random_palette
from tests.unit.colouring.test_counterchange import hexagons, scene, symmetry_of
from tests.unit.helpers import linework_from_segments

THREE = 3  # squares each way


@functools.cache
def tiles(*margins: float):
    """Return square tiles with squares in them, so far from their sides: p4m."""
    side, whole = 12.0, 12.0 * THREE
    lines = [(side * k, 0, side * k, whole) for k in range(1, THREE)]
    lines += [(0, side * k, whole, side * k) for k in range(1, THREE)]
    for x in range(THREE):
        for y in range(THREE):
            for margin in margins:
                a, b = side * x + margin, side * y + margin
                c, d = side * (x + 1) - margin, side * (y + 1) - margin
                ring = [(a, b), (c, b), (c, d), (a, d)]
                lines += [(*ring[k - 1], *ring[k]) for k in range(4)]
    return scene(lines, whole, whole, page_edge="close")


def colours_of(where, colouring):
    """Return the swatches of each kind."""
    return [
        {int(colouring.of_face[f]) for f in orbit.faces} for orbit in where[1].orbits
    ]


@pytest.mark.parametrize("swatches", range(2, 7))
def test_a_largest_number_beyond_the_palette_changes_nothing(swatches):
    where, paints = tiles(3.0), random_palette(swatches, 3)
    plain = assign_colours(*where, paints, Rules(counterchange=2))
    beyond = assign_colours(*where, paints, Rules(counterchange=2, most=50))
    assert len(colours_of(where, plain)[0]) == 2
    assert beyond.of_face.tolist() == plain.of_face.tolist()


@pytest.mark.parametrize("swatches", range(3, 7))
def test_named_kinds_leave_a_swatch_to_the_one_that_stays(swatches):
    # where four colours would leave none to C, A and B share two
    where, paints = tiles(2.0, 4.0), random_palette(swatches, 3)
    rules = Rules(counterchange=2, choices=(("A", 1), ("B", 1)))
    one, two, three = colours_of(where, assign_colours(*where, paints, rules))
    assert (len(one), len(two), len(three)) == (2, 2, 1)
    assert (one == two) == (swatches < 5)
    assert not three & (one | two)


def test_kinds_share_colours_where_bans_leave_none_for_another_set():
    where, paints = tiles(3.0), random_palette(6, 3)
    names = [swatch.name for swatch in paints.swatches]
    bans = tuple((letter, name) for letter in "AB" for name in names[2:])
    found = assign_colours(*where, paints, Rules(counterchange=2, bans=bans))
    assert colours_of(where, found) == [{0, 1}, {0, 1}]


def test_paints_of_one_colour_are_one_where_colours_change_places():
    paints = palette("#101010", "#f0f0f0", "#101010")
    where = hexagons(6.0, 3)
    with pytest.raises(ColouringError, match="3 colours cannot change places among 2"):
        assign_colours(*where, paints, Rules(counterchange=3))
    (found,) = colours_of(where, assign_colours(*where, paints, Rules()))
    assert len(found) == 1  # three colours part them, which are not there


def test_colours_that_change_places_never_look_alike():
    # three colours that differ are there, and none can be spared
    paints, where = (
        palette("#101010", "#101010", "#f0f0f0", "#a02020"),
        hexagons(6.0, 3),
    )
    rules = Rules(counterchange=3, outline="four")
    found = assign_colours(*where, paints, rules)
    assert {paints.swatches[int(s)].hex for s in found.of_face[1:]} == {
        "#101010", "#f0f0f0", "#a02020",
    }  # fmt: skip
    with pytest.raises(ColouringError, match="cannot be met: ban"):
        assign_colours(*where, paints, replace(rules, bans=(("A", "four"),)))


def two_rosettes():
    """Return three islands that turn by thirds, and two that turn by halves."""
    large = np.array([(4.0, 1.0), (9.0, 2.0), (5.0, 5.0)])
    spots = [
        (3, affine.translation(20.0, 20.0), large),
        (2, affine.translation(50.0, 20.0), large / 2),
    ]
    rings, groups, zone_of = [], [], []
    for number, (n, by, motif) in enumerate(spots):
        maps, basis = ideal.rosette_maps(n, mirrors=False)
        moved = [affine.compose(by, affine.compose(m, affine.invert(by))) for m in maps]
        rings += [affine.apply(m, affine.apply(by, motif)) for m in moved]
        zone_of += [number] * n
        group = symmetry_of(rosette_group(n, mirrors=False), moved, basis)
        groups.append(group)
    corners = np.array(rings)
    segments = np.concatenate([corners, np.roll(corners, -1, axis=1)], axis=2)
    found = build_arrangement(
        linework_from_segments(segments.reshape(-1, 4), 70.0, 40.0), page_edge="open"
    )
    at = np.array([p.centroid.coords[0] for p in found.polygons()])
    near = [int(np.argmin(np.hypot(*(corners.mean(axis=1) - p).T))) for p in at]
    kind = np.array([-1, *(zone_of[k] for k in near)])
    orbits = kinds(found, kind)
    zones = tuple(
        Zone(k + 1, np.flatnonzero(kind == k).astype(np.int32), groups[k])
        for k in range(2)
    )
    own = tuple(replace(o, zone=k + 1) for k, o in enumerate(orbits.orbits))
    orbits = replace(orbits, zones=zones, orbits=own)
    return found, orbits, measure_adjacency(found, orbits)


def test_choices_are_those_of_the_largest_zone_that_has_any():
    # turns by thirds have no subgroup of index 2, half-turns have one
    where, paints = two_rosettes(), random_palette(6, 3)
    whole, single = find_all_choices(KindReader(*where), 2)
    assert [(way.letters, way.number) for way in whole] == [(("B",), 1)]
    assert [(way.letter, way.number) for way in single] == [("B", 1)]
    rules = Rules(counterchange=2, choices=(("", 1),))
    found = colours_of(where, assign_colours(*where, paints, rules))
    assert list(map(len, found)) == [1, 2]
    with pytest.raises(ColouringError, match="there is no choice 2"):
        assign_colours(*where, paints, replace(rules, choices=(("", 2),)))
