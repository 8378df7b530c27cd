"""Kinds that zones share alternate in all of them."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.colouring.adjacency import measure_adjacency
from fillwork.colouring.counterchange import zone_copies
from fillwork.colouring.counterchange.alternating_kinds import group_of
from fillwork.colouring.counterchange.find import find_choices
from fillwork.colouring.counterchange.subgroups import find_subgroups
from fillwork.colouring.counterchange.zone_copies import find_zone_copy
from fillwork.colouring.model import Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.geometry import affine
from fillwork.symmetry.model import Zone
from tests.unit.colouring.stand_ins import kinds, random_palette
from tests.unit.colouring.test_counterchange import (
    MOTIF,
    assert_colours_are_permuted,
    ideal_maps,
    symmetry_of,
    with_translations,
)
from tests.unit.helpers import linework_from_segments

PAINTS = random_palette(12, 3)
SECOND = MOTIF @ np.array([[0.4, 0.3], [-0.3, 0.4]]) + (0.48, -0.35)


def carried(by, maps, basis):
    """Return a group carried by an isometry."""
    back = affine.invert(by)
    linear = affine.linear(by)
    moved = [affine.compose(by, affine.compose(m, back)) for m in maps]
    return moved, np.asarray(basis).reshape(-1, 2) @ linear.T


def islands(motif, maps, basis, reach):
    spots = [np.zeros(2)]
    for row in basis:
        spots = [s + k * row for s in spots for k in range(-reach, reach + 1)]
    return [affine.apply(m, motif) + s for m in maps for s in spots]


def two_zones(family, short, isometry):
    """Return a pattern of two kinds and its copy beside it."""
    (maps, basis), group = ideal_maps(family, short)
    shift = affine.translation(60.0, 60.0)
    first = carried(shift, maps, basis)
    second = carried(affine.compose(affine.translation(160.0, 70.0), isometry), *first)
    second_by = affine.compose(affine.translation(160.0, 70.0), isometry)
    spread = next(
        offset
        for offset in itertools.product((0.0, 0.37, 0.81, 1.3), repeat=2)
        if apart(
            islands(MOTIF + offset, maps, basis, 1)
            + islands(SECOND + offset, maps, basis, 1)
        )
        > 0.35
    )
    motifs = [affine.apply(shift, m + np.array(spread)) for m in (MOTIF, SECOND)]
    rings, of_face, zone = [], [-1], []
    for number, (own, spot) in enumerate(((first, None), (second, second_by)), 1):
        for kind, motif in enumerate(motifs):
            moved = motif if spot is None else affine.apply(spot, motif)
            for ring in islands(moved, *own, 2):
                rings.append(ring)
                of_face.append(kind)
                zone.append(number)
    corners = np.array(rings)
    low = corners.min(axis=(0, 1)) - 1.0
    corners = corners - low
    segments = np.concatenate([corners, np.roll(corners, -1, axis=1)], axis=2)
    width, height = corners.max(axis=(0, 1)) + 1.0
    found = build_arrangement(
        linework_from_segments(segments.reshape(-1, 4), width, height),
        page_edge="open",
    )
    assert found.face_count == len(rings) + 1
    # regions come in an order of their own
    at = np.array([p.centroid.coords[0] for p in found.polygons()])
    order = [
        int(np.argmin(np.hypot(*(corners.mean(axis=1) - point).T))) for point in at
    ]
    kind_of = np.array([-1, *(of_face[1 + k] for k in order)])
    zone_of = np.array([zone[k] for k in order])
    groups = [carried(affine.translation(*-low), *g) for g in (first, second)]
    zones = tuple(
        Zone(
            number,
            (np.flatnonzero(zone_of == number) + 1).astype(np.int32),
            symmetry_of(group, *own),
        )
        for number, own in enumerate(groups, 1)
    )
    orbits = kinds(found, kind_of)
    leading = [
        replace(o, representative=int(o.faces[np.isin(o.faces, zones[0].faces)][0]))
        for o in orbits.orbits
    ]
    return found, replace(orbits, zones=zones, orbits=tuple(leading)), groups


def apart(rings):
    from scipy.spatial import cKDTree

    at = np.array([r.mean(axis=0) for r in rings])
    gaps, _ = cKDTree(at).query(at, k=2)
    return gaps[:, 1].min()


TURNED = affine.rotation(np.radians(37.0))
MIRRORED = affine.compose(TURNED, (1.0, 0.0, 0.0, -1.0, 0.0, 0.0))
GROUPS = [
    ("plane", "p1"),
    ("plane", "pg"),
    ("plane", "cm"),
    ("plane", "pgg"),
    ("plane", "p4"),
    ("plane", "p31m"),
    ("frieze", "p1"),
    ("frieze", "p11g"),
    ("frieze", "p2mg"),
    ("frieze", "p2mm"),
    ("rosette", "C4"),
    ("rosette", "D4"),
    ("rosette", "D6"),
]


@pytest.mark.parametrize("isometry", [TURNED, MIRRORED], ids=["turned", "mirrored"])
@pytest.mark.parametrize(("family", "short"), GROUPS)
def test_shared_kinds_alternate_in_both_zones(family, short, isometry):
    found, orbits, groups = two_zones(family, short, isometry)
    adjacency = measure_adjacency(found, orbits)
    own = group_of(orbits.zones[0])
    subgroups = find_subgroups(own, 2)
    operations = [with_translations(*g) for g in groups]
    for letter, row in (("A", 0), ("B", 1)):
        choices = find_choices(found, orbits, adjacency, letter, 2)
        assert len(choices) == len(subgroups)
        for choice in choices:
            label = np.full(found.face_count, -1)
            label[choice.faces] = choice.colour
            assert (label[orbits.of_face == row] >= 0).all()
            for zone, moves in zip(orbits.zones, operations, strict=True):
                check_zone(found, zone, label, moves)
    if not subgroups:
        return
    # one action for both kinds, in both zones
    rules = Rules(counterchange=2, choices=(("A", 1), ("B", 1)), goal_difference=0.0)
    coloured = assign_colours(found, orbits, adjacency, PAINTS, rules)
    assert {k[0] for k in coloured.counterchange.kinds} == {"A", "B"}
    for row in (0, 1):
        label = np.where(orbits.of_face == row, coloured.of_face, -1)
        assert len(set(label[label >= 0].tolist())) == 2
        for zone, moves in zip(orbits.zones, operations, strict=True):
            check_zone(found, zone, label, moves)


def check_zone(found, zone, label, moves):
    inside = zone.faces[label[zone.faces] >= 0]

    class Part:
        def polygons(self):
            return found.polygons(inside)

    assert_colours_are_permuted(Part(), label[inside], moves, 2)


@pytest.mark.parametrize("short", ["p4", "p2mg", "D4"])
def test_copies_of_a_copy_come_back(short):
    """Bringing operations back is a homomorphism onto the first group."""
    family = {"p4": "plane", "p2mg": "frieze", "D4": "rosette"}[short]
    found, orbits, _ = two_zones(family, short, MIRRORED)
    first, second = (group_of(zone) for zone in orbits.zones)
    copy = find_zone_copy(found, orbits, 1, first, orbits.zones[1], second)
    some = [
        (g, tuple((g * k) % 5 - 2 for k in range(1, second.rank + 1)))
        for g in range(second.order)
    ]
    for a, b in itertools.product(some, repeat=2):
        left = copy.bring_back(second.multiply(a, b))
        assert left == first.multiply(copy.bring_back(a), copy.bring_back(b))


def test_zones_of_other_groups_are_no_copies():
    found, orbits, _ = two_zones("plane", "p4", TURNED)
    (maps, basis), group = ideal_maps("plane", "p2")
    other = Zone(2, orbits.zones[1].faces.copy(), symmetry_of(group, maps, basis))
    orbits = replace(orbits, zones=(orbits.zones[0], other))
    first, second = (group_of(zone) for zone in orbits.zones)
    assert find_zone_copy(found, orbits, 1, first, other, second) is None
    adjacency = measure_adjacency(found, orbits)
    assert find_choices(found, orbits, adjacency, "A", 2) == ()


def test_zones_of_which_no_region_lands_on_its_like_are_no_copies(monkeypatch):
    found, orbits, _ = two_zones("plane", "p4", TURNED)
    first, second = (group_of(zone) for zone in orbits.zones)
    other = orbits.zones[1]
    assert find_zone_copy(found, orbits, 1, first, other, second) is not None
    monkeypatch.setattr(zone_copies, "_landed", lambda *_: 0.0)
    assert find_zone_copy(found, orbits, 1, first, other, second) is None


def test_sides_of_a_border_are_coloured_alike_from_the_middle_out():
    """The triangles of a panel's border: outer ones one colour, inner ones another."""
    from pathlib import Path

    from fillwork.pipeline.surveying import make_survey
    from fillwork.plans.model import Plan

    file = Path(__file__).parents[3] / "demo" / "drawings" / "framed-panel.svg"
    survey = make_survey(file.read_bytes(), Plan(), name=file.name)
    found, orbits = survey.arrangement, survey.orbits
    (orbit,) = [o for o in orbits.orbits if "isosceles triangle" in o.base_name]
    shared = [z for z in orbits.zones if np.isin(orbit.faces, z.faces).any()]
    assert len(shared) == 4
    apart = 0
    at = found.witness[orbit.faces]
    edges = found.vertices.min(axis=0), found.vertices.max(axis=0)
    gap = np.minimum(at - edges[0], edges[1] - at).min(axis=1)
    outer = gap < (gap.min() + gap.max()) / 2
    for choice in find_choices(found, orbits, survey.adjacency, orbit.letter, 2):
        assert choice.faces.tolist() == orbit.faces.tolist()
        pairs = set(zip(outer.tolist(), choice.colour.tolist(), strict=True))
        apart += len(pairs) == 2
    assert apart == 1  # the choice under which every repeat is coloured alike
    # what stands between a corner's star and its square stays with all four corners
    corners = [z for z in orbits.zones if z.role == "corner"]
    assert [len(z.faces) for z in corners] == [13] * 4


@pytest.mark.parametrize("short", ["p4", "p2mg", "D4"])
def test_a_zone_borrows_the_colours_of_another_where_swatches_are_few(short):
    family = {"p4": "plane", "p2mg": "frieze", "D4": "rosette"}[short]
    found, both, groups = two_zones(family, short, TURNED)
    # each zone with kinds of its own
    of_face = both.of_face.copy()
    of_face[both.zones[1].faces] += 2
    orbits = kinds(found, of_face)
    zoned = tuple(
        replace(o, zone=1 if row < 2 else 2, faces=o.faces.copy())
        for row, o in enumerate(orbits.orbits)
    )
    orbits = replace(orbits, zones=both.zones, orbits=zoned)
    adjacency = measure_adjacency(found, orbits)
    rules = Rules(counterchange=2, goal_difference=0.0)
    coloured = assign_colours(found, orbits, adjacency, random_palette(4, 3), rules)
    first = {k[0] for k in coloured.counterchange.kinds}
    assert first & {"A", "B"}
    assert first & {"C", "D"}
    used = []
    for row, letter in enumerate("ABCD"):
        label = np.where(orbits.of_face == row, coloured.of_face, -1)
        seen = set(label[label >= 0].tolist())
        assert len(seen) == (2 if letter in first else 1)
        if letter in first:
            used.append(seen)
            zone = orbits.zones[row // 2]
            check_zone(found, zone, label, with_translations(*groups[row // 2]))
    assert all(seen == used[0] for seen in used)
