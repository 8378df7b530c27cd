"""What rules of taste choose, on drawings made so that one of them decides.

The rules are common practice without a source; a test states a drawing and the
swatch that the rule names, never one that was read off a result.
"""

from dataclasses import replace

import numpy as np
import pytest

from fillwork.colouring.adjacency import measure_adjacency
from fillwork.colouring.model import Rules
from fillwork.colouring.search import parts
from fillwork.colouring.search.assign import assign_colours
from fillwork.colouring.search.colourways import find_colourways, measure_harmony
from fillwork.colouring.search.parts import find_parts
from fillwork.colouring.search.setting import prepare_setting
from fillwork.colouring.search.taste import RULES
from fillwork.colouring.search.tones import Tones
from fillwork.colouring.search.wishes import build_classes
from fillwork.errors import ColouringError
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.model import Zone
from fillwork.symmetry.zones.find import find_zones
from tests.unit.colouring.stand_ins import NONE, drawing, graph, grid, kinds, palette

EARTH = palette(
    "#f4eddc",
    "#2d4f80",
    "#a9502f",
    "#c98a2b",
    "#dcae95",
    names=("white", "blue", "brick", "ochre", "rose"),
    roles=("ground", "main", "main", "main", "accent"),
)


def names_of(scene, rules=None, paints=EARTH):
    found = assign_colours(*scene, paints, rules or Rules())
    return [paints.swatches[s].name for s in found.of_orbit]


def with_kinds(scene, *, sites=(), zones=None, roles=(), families=(), names=()):
    """Return a scene whose kinds have sites, zones, families and names as stated."""
    arrangement, orbits, adjacency = scene
    rows = list(orbits.orbits)
    for j, site in enumerate(sites):
        rows[j] = replace(rows[j], site_symmetry=site)
    for j, name in enumerate(names):
        rows[j] = replace(rows[j], name=f"{name} {j}", base_name=name)
    own = orbits.zones
    if zones is not None:
        rows = [replace(o, zone=z) for o, z in zip(rows, zones, strict=True)]
        own = tuple(
            Zone(
                z,
                np.array([k + 1 for k, at in enumerate(zones) if at == z], np.int32),
                NONE,
                role,
            )
            for z, role in enumerate(roles, 1)
        )
    orbits = replace(orbits, orbits=tuple(rows), zones=own, families=tuple(families))
    return arrangement, orbits, adjacency


def with_areas(scene, areas):
    """Return a scene whose kinds have areas as stated."""
    for own in (scene[0].area[1:], scene[2].area):
        own.setflags(write=True)
        own[:] = areas
    return scene


def lightness(name, paints=EARTH):
    return paints.swatches[paints.index(name)].lab[0]


def test_the_middle_takes_metal_and_never_the_palest_accent():
    star = graph(5, [(0, 1), (0, 2), (1, 3), (2, 3), (3, 4), (2, 4)])
    star = with_kinds(star, sites=("C1", "C1", "C1", "C1", "D8"))
    assert names_of(star)[4] in ("blue", "brick", "ochre")
    leaf = replace(EARTH.swatches[3], medium="leaf", role="accent")
    gilded = replace(EARTH, swatches=(*EARTH.swatches[:3], leaf, EARTH.swatches[4]))
    assert names_of(star, paints=gilded)[4] == "ochre"


def test_the_middle_is_rather_warm():
    paints = palette(
        "#f4f3ee", "#1f3f8f", "#1d6f86", "#a9502f",
        names=("white", "blue", "teal", "brick"),
        roles=("ground", "main", "accent", "accent"),
    )  # fmt: skip
    star = graph(4, [(0, 1), (1, 2), (1, 3)])
    star = with_areas(star, [50.0, 20.0, 5.0, 5.0])
    for at in (2, 3):
        sites = ["C1"] * 4
        sites[at] = "D8"
        assert names_of(with_kinds(star, sites=sites), paints=paints)[at] == "brick"


def test_borders_share_one_ground_and_the_accents_answer():
    # a field, two borders apart from each other, and a middle; two kinds in each
    links = [(0, 1), (2, 3), (4, 5), (6, 7), (0, 2), (0, 4), (1, 6)]
    panel = with_kinds(
        graph(8, links),
        sites=["C1", "D8"] * 4,
        zones=[1, 1, 2, 2, 3, 3, 4, 4],
        roles=("field", "border", "border", "medallion"),
    )
    got = names_of(panel)
    assert got[2] == got[4]
    assert got[3] == got[5] == got[7]
    assert abs(lightness(got[0]) - lightness(got[2])) >= 20.0  # field and border


def test_sides_of_a_frame_that_touch_at_a_mitre_are_one_hue_in_two_values():
    sides = with_kinds(
        graph(3, [(0, 1), (0, 2), (1, 2)]),
        zones=[1, 2, 3],
        roles=("field", "border", "border"),
    )
    paints = palette(
        "#f4eddc", "#2d4f80", "#9db8e0", "#a9502f", names=("w", "b", "l", "r")
    )
    assert set(names_of(sides, paints=paints)[1:]) == {"b", "l"}


def test_pieces_that_meet_at_the_centre_are_the_middle():
    turns = np.exp(2j * np.pi * np.arange(8) / 8)
    ring = [
        (a.real, a.imag, b.real, b.imag)
        for r in (10.0, 25.0)
        for a, b in zip(r * turns, r * np.roll(turns, -1), strict=True)
    ]
    spokes = [(0.0, 0.0, 25 * t.real, 25 * t.imag) for t in turns]
    lines = 50 + np.array(ring + spokes)
    arrangement = drawing(lines)
    orbits = find_orbits(arrangement, find_zones(arrangement))
    adjacency = measure_adjacency(arrangement, orbits)
    classes = build_classes(arrangement, orbits, adjacency, EARTH, Rules())
    middle = find_parts(arrangement, classes, orbits, adjacency).middle
    inner = arrangement.area[[o.representative for o in orbits.orbits]] < 40
    assert middle.astype(bool).tolist() == inner.tolist() == [False, True]


def eight_sides(radius):
    turns = 50 + 50j + radius * np.exp(2j * np.pi * np.arange(8) / 8)
    ends = zip(turns, np.roll(turns, -1), strict=True)
    return [(a.real, a.imag, b.real, b.imag) for a, b in ends]


def test_a_ring_round_the_middle_is_not_the_middle():
    arrangement = drawing(eight_sides(40.0) + eight_sides(12.0))
    orbits = find_orbits(arrangement, find_zones(arrangement))
    adjacency = measure_adjacency(arrangement, orbits)
    classes = build_classes(arrangement, orbits, adjacency, EARTH, Rules())
    middle = find_parts(arrangement, classes, orbits, adjacency).middle
    inner = arrangement.area[[o.representative for o in orbits.orbits]] < 500
    assert middle.astype(bool).tolist() == inner.tolist()
    assert inner.sum() == 1


def test_what_lies_amid_the_others_is_the_middle_where_nothing_turns():
    nine = grid(3, 3)
    amid = np.all(np.abs(nine.witness[1:] - 15.0) < 5.0, axis=1)
    orbits = kinds(nine, [-1, *np.where(amid, 1, 0)])
    beside = measure_adjacency(nine, orbits)
    classes = build_classes(nine, orbits, beside, EARTH, Rules())
    assert find_parts(nine, classes, orbits, beside).middle.tolist() == [0.0, 1.0]


def test_against_much_blue_stands_a_little_orange(monkeypatch):
    paints = palette(
        "#f4f3ee", "#1f3f8f", "#3f7fae", "#c9702b",
        names=("white", "blue", "sky", "orange"),
        roles=("ground", "main", "accent", "accent"),
    )  # fmt: skip
    scene = with_areas(graph(3, [(0, 1), (0, 2)]), [50.0, 30.0, 3.0])
    assert names_of(scene, paints=paints) == ["white", "blue", "orange"]
    monkeypatch.setitem(RULES, "spark", (0.0, ""))
    assert names_of(scene, paints=paints) == ["white", "blue", "sky"]


def test_the_two_widest_paints_are_apart_in_value(monkeypatch):
    paints = palette(
        "#f4eddc", "#e3bfa0", "#8f3f24", "#2d4f80",
        names=("white", "rose", "brick", "blue"),
        roles=("ground", "main", "accent", "accent"),
    )  # fmt: skip
    shares = (0.45, 0.45, 0.02, 0.08)
    wished = zip(paints.swatches, shares, strict=True)
    paints = replace(paints, swatches=tuple(replace(s, share=w) for s, w in wished))
    areas = [50.0, 40.0, 6.0, 4.0]
    scene = with_areas(graph(4, [(0, 2), (2, 3), (1, 3)]), areas)

    def step():
        wide, next_to_it = names_of(scene, paints=paints)[:2]
        return abs(lightness(wide, paints) - lightness(next_to_it, paints))

    assert step() >= 20
    monkeypatch.setitem(RULES, "wall", (0.0, ""))
    assert step() < 20


def test_one_hue_in_a_zone_of_several_kinds_costs_and_so_do_many():
    scene = graph(8, [(k, k + 1) for k in range(7)])
    wheel = palette("#f4eddc", "#c02020", "#c0a020", "#20a040", "#2040c0", "#a020a0")
    cost = prepare_setting(*scene, wheel, Rules()).taste.hues_cost[0]
    assert cost[1] > cost[2] == cost[3] == 0.0 < cost[4]


def test_small_pieces_in_a_chain_alternate_two_swatches():
    chain = graph(9, [(0, k) for k in range(1, 9)] + [(k, k + 1) for k in range(1, 8)])
    chain[0].area.setflags(write=True)
    chain[0].area[1:] = [100.0] + [1.0] * 8
    got = names_of(chain)
    # every second one alike; what ends the chain may be an accent
    assert got[2:8] == got[2:4] * 3


def test_large_parts_are_quieter_than_small_ones():
    scene = graph(4, [(0, 1), (1, 2), (2, 3)])
    scene[0].area.setflags(write=True)
    scene[0].area[1:] = [50.0, 5.0, 40.0, 4.0]
    paints = palette("#e6e0d4", "#8f8a80", "#c4202a", "#1c4fb0")
    found = assign_colours(*scene, paints, Rules())
    chroma = np.array([s.oklch[1] for s in paints.swatches])[found.of_orbit]
    assert chroma[[0, 2]].max() < chroma[[1, 3]].min()


def test_like_shapes_in_two_zones_are_alike():
    links = [(0, 1), (0, 2), (3, 4), (3, 5), (0, 3)]
    scene = with_kinds(
        graph(6, links),
        zones=[1, 1, 1, 2, 2, 2],
        roles=("field", "medallion"),
        families=[1, 2, 3, 4, 2, 3],
    )
    got = names_of(scene)
    assert got[1] == got[4]
    assert got[2] == got[5]


def test_halves_of_leaves_are_one_hue_with_the_upper_one_light():
    # three slender leaves, each cut along its rib, on one ground
    lines = [(0, 0, 60, 0), (60, 0, 60, 60), (60, 60, 0, 60), (0, 60, 0, 0)]
    for y in (12, 30, 48):
        for half in (3.0, -3.0):
            lines += [(10, y, 30, y + half), (30, y + half, 50, y)]
        lines.append((10, y, 50, y))
    leaves = drawing(lines, 60, 60)
    ribs = np.array([12.0, 30.0, 48.0])
    y = leaves.witness[1:, 1]
    above = (y[:, None] - ribs)[np.arange(7), np.abs(y[:, None] - ribs).argmin(1)] > 0
    order = np.where(leaves.area[1:] > 500, 0, np.where(above, 1, 2)).tolist()
    orbits = kinds(leaves, [-1, *order])
    scene = leaves, orbits, measure_adjacency(leaves, orbits)
    paints = palette(
        "#f4eddc", "#9fb27a", "#3f5a2c", "#e3a58f", "#8c2f25",
        names=("white", "sage", "moss", "rose", "oxblood"),
        roles=("ground", "main", "main", "main", "main"),
    )  # fmt: skip
    got = names_of(scene, paints=paints)
    assert got in (["white", "sage", "moss"], ["white", "rose", "oxblood"])


@pytest.mark.parametrize(("strips", "leaves"), [(2, 1), (3, 0)])
def test_two_long_regions_are_halves_of_a_leaf_and_three_are_none(strips, leaves):
    # side by side, ten times as long as wide
    lines = [(0, 0, 60, 0), (60, 0, 60, 60), (60, 60, 0, 60), (0, 60, 0, 0)]
    lines += [(10, 20 + 4 * k, 50, 20 + 4 * k) for k in range(strips + 1)]
    lines += [(x, 20, x, 20 + 4 * strips) for x in (10, 50)]
    board = drawing(lines, 60, 60)
    orbits = kinds(board, np.arange(-1, strips + 1))
    beside = measure_adjacency(board, orbits)
    classes = build_classes(board, orbits, beside, EARTH, Rules())
    assert len(find_parts(board, classes, orbits, beside).leaves) == leaves


def test_the_outlines_paint_stays_out_of_regions_unless_asked_for():
    scene = graph(3, [(0, 1), (1, 2)])
    swatches = palette("#ffffff", "#808080", "#000000")

    def takes_it(**wishes: object) -> list[bool]:
        rules = Rules(outline="three", **wishes)
        domain = prepare_setting(*scene, swatches, rules).classes.domain
        return [bool(mask >> 2 & 1) for mask in domain]

    assert takes_it() == [False] * 3
    assert takes_it(shares=(("three", 0.05),)) == [True] * 3
    # no line at all, though a paint has that word for its code
    last = replace(swatches.swatches[2], code="none")
    coded = replace(swatches, swatches=(*swatches.swatches[:2], last))
    setting = prepare_setting(*scene, coded, Rules(outline="none"))
    assert setting.classes.domain == (0b111,) * 3


def test_ground_and_field_are_apart_in_grey():
    # of two swatches equally far from white in colour, the one that grey shows
    paints = palette(
        "#d9cfae", "#c3c7f2", "#3f4a7d",
        names=("sand", "sky", "night"), roles=("ground", "main", "main"),
    )  # fmt: skip
    assert names_of(graph(2, [(0, 1)]), paints=paints) == ["sand", "night"]


def test_many_pieces_each_of_its_own_shape_keep_to_few_paints(monkeypatch):
    # a ladder of 60 unlike pieces; no symmetry, eight paints far apart
    links = [(k, k + d) for k in range(60) for d in (1, 2) if k + d < 60]
    paints = palette(
        "#f4eddc", "#2d4f80", "#a9502f", "#c98a2b",
        "#3f5a2c", "#6d2320", "#7d8f6a", "#5b2d5c",
    )  # fmt: skip
    few = len(set(names_of(graph(60, links), paints=paints)))
    monkeypatch.setitem(RULES, "calm", (0.0, ""))
    assert 3 <= few < len(set(names_of(graph(60, links), paints=paints)))
    # of a few pieces nothing is held back
    assert find_loose(graph(6, [(k, k + 1) for k in range(5)])) == 0.0


def find_loose(scene):
    arrangement, orbits, adjacency = scene
    classes = build_classes(arrangement, orbits, adjacency, EARTH, Rules())
    return find_parts(arrangement, classes, orbits, adjacency).loose


def cards():
    """Return five squares on bare paper, each over a corner of the next."""
    lines = []
    for k in range(5):
        x, y, s = 20.0 * k, 18.0 * k, 30.0
        lines += [(x, y, x + s, y), (x + s, y, x + s, y + s)]
        lines += [(x + s, y + s, x, y + s), (x, y + s, x, y)]
    arrangement = drawing(np.array(lines) + 5.0, 140, 120)
    orbits = find_orbits(arrangement, find_zones(arrangement))
    return arrangement, orbits, measure_adjacency(arrangement, orbits)


def test_what_juts_into_the_bare_paper_is_not_white(monkeypatch):
    scene = cards()
    # the two end squares, less a corner each: 30 * 30 - 10 * 12 mm²
    ends = np.isclose(scene[0].area, 780.0)
    assert ends.sum() == 2

    def at_the_ends():
        found = assign_colours(*scene, EARTH, Rules())
        return {EARTH.swatches[s].name for s in found.of_face[ends]}

    assert "white" not in at_the_ends()
    with monkeypatch.context() as held:  # without the rule they are the ground
        held.setattr(parts, "_rim", lambda *given: np.zeros(len(given[3])))
        for name in ("hollow", "hues", "many", "middle", "spark"):
            held.setitem(RULES, name, (0.0, ""))
        assert at_the_ends() == {"white"}
    # a square field cut by its frame keeps its ground, white or not
    lines = [(x, 0, x, 40) for x in (0, 10, 20, 30, 40)]
    lines += [(0, y, 40, y) for y in (0, 10, 20, 30, 40)]
    sides = [(0, 0, 40, 0), (40, 0, 40, 40), (40, 40, 0, 40), (0, 40, 0, 0)]
    field = drawing(lines, 40, 40)
    rows = find_orbits(field, find_zones(field))
    beside = measure_adjacency(field, rows)
    classes = build_classes(field, rows, beside, EARTH, Rules())
    assert not find_parts(field, classes, rows, beside).rim.any()
    # nor does anything jut out of a picture that fills its frame
    picture = drawing([*sides, (0, 25, 40, 15), (20, 0, 22, 20)], 40, 40)
    unlike = kinds(picture, [-1, 0, 1, 2])
    beside = measure_adjacency(picture, unlike)
    classes = build_classes(picture, unlike, beside, EARTH, Rules())
    assert not find_parts(picture, classes, unlike, beside).rim.any()


def test_the_middle_is_light_on_dark_or_dark_on_light(monkeypatch):
    # green, far from blue in colour, is not in grey; teal is
    paints = palette(
        "#f4f3ee", "#1f3f8f", "#2f7048", "#8fb8d8", "#2aa0a0",
        names=("white", "blue", "green", "sky", "teal"),
        roles=("ground", "main", "main", "accent", "accent"),
    )  # fmt: skip
    star = graph(5, [(0, 1), (1, 2), (2, 3), (3, 4)])
    star = with_areas(star, [50.0, 10.0, 10.0, 10.0, 3.0])
    star = with_kinds(star, sites=("C1", "C1", "C1", "C1", "D8"))

    def step():
        *_, beside, middle = names_of(star, paints=paints)
        return abs(lightness(beside, paints) - lightness(middle, paints))

    for name in ("spark", "middle", "many"):  # they would settle it before
        monkeypatch.setitem(RULES, name, (0.0, ""))
    assert step() >= 20
    monkeypatch.setitem(RULES, "focus", (0.0, ""))
    assert step() < 20


def test_childrens_paints_and_greys_come_last_and_harmony_counts():
    scene = graph(3, [(0, 1), (1, 2)])
    pencils = replace(
        EARTH,
        name="pencils",
        swatches=tuple(replace(s, medium="pencil") for s in EARTH.swatches),
    )
    ways = find_colourways(*scene, [pencils, EARTH], Rules(), count=2)
    assert [w.colouring.palette.name for w in ways] == [EARTH.name, "pencils"]
    # greys agree with everything, and are asked for rather than offered first
    greys = replace(palette("#f2f2f2", "#c4c4c4", "#8a8a8a", "#2a2a2a"), name="greys")
    ways = find_colourways(*scene, [greys, EARTH], Rules(goal_difference=10.0), count=2)
    assert [w.colouring.palette.name for w in ways] == [EARTH.name, "greys"]
    # blue beside orange, opposite hues, agree better than blue beside purple-red
    share = np.array([0.5, 0.5])
    opposite = measure_harmony(palette("#2b5fa8", "#c98a2b"), share)
    halfway = measure_harmony(palette("#2b5fa8", "#b0306a"), share)
    assert opposite > halfway
    assert measure_harmony(palette("#2b5fa8", "#808080"), share) > 0.9


def test_characters_differ_as_they_are_named():
    wheel = graph(
        9, [(0, k) for k in range(1, 9)] + [(k, k % 8 + 1) for k in range(1, 9)]
    )

    def of(taste):
        found = assign_colours(*wheel, EARTH, Rules(taste=taste))
        area = wheel[0].area[1:] / wheel[0].area.sum()
        return found.of_orbit, area

    light = np.array([s.lab[0] for s in EARTH.swatches])
    chroma = np.array([s.oklch[1] for s in EARTH.swatches])
    quiet, area = of("quiet")
    festive, _ = of("festive")
    assert (area * chroma[quiet]).sum() < (area * chroma[festive]).sum()
    assert len(set(of("two-tone")[0])) <= len(set(festive))
    dark, _ = of("dark")
    balanced, _ = of("balanced")
    assert (area * light[dark]).sum() < (area * light[balanced]).sum()


def test_a_dark_taste_keeps_the_ground_that_is_named():
    wheel = graph(
        9, [(0, k) for k in range(1, 9)] + [(k, k % 8 + 1) for k in range(1, 9)]
    )

    def of(taste):
        rules = Rules(taste=taste, ground="ochre")
        return assign_colours(*wheel, EARTH, rules).of_orbit.tolist()

    # the darkest, blue, takes the ground's part only where nobody named one
    assert of("dark") == of("balanced")


def test_an_unknown_taste_is_refused():
    with pytest.raises(ColouringError, match="is no taste"):
        assign_colours(*graph(2, [(0, 1)]), EARTH, Rules(taste="loud"))


def test_pieces_that_lines_alone_part_are_pale():
    # a row of bricks: one kind, and each touches the next
    lines = [(0, 0, 80, 0), (0, 10, 80, 10), *((x, 0, x, 10) for x in range(0, 81, 10))]
    row = drawing(lines, 80, 10)
    orbits = find_orbits(row, find_zones(row))
    beside = measure_adjacency(row, orbits)
    for colours in (("#2a3550", "#7fb2f0"), ("#7fb2f0", "#2a3550")):
        paints = palette(*colours, roles=("main", "main"))
        flat = Rules(goal_difference=0, counterchange="no")
        found = assign_colours(row, orbits, beside, paints, flat)
        pale = colours.index("#7fb2f0")
        assert set(found.of_orbit.tolist()) == {pale}


def test_hearts_of_stars_that_repeat_are_middles():
    # four by four cells, in each a square, and in that another
    lines = [(0, s, 80, s) for s in range(0, 81, 20)]
    lines += [(s, 0, s, 80) for s in range(0, 81, 20)]
    for x in range(10, 80, 20):
        for y in range(10, 80, 20):
            for r in (7, 3):
                lines += [(x - r, y - r, x + r, y - r), (x + r, y - r, x + r, y + r)]
                lines += [(x + r, y + r, x - r, y + r), (x - r, y + r, x - r, y - r)]
    field = drawing(lines, 80, 80)
    orbits = find_orbits(field, find_zones(field))
    beside = measure_adjacency(field, orbits)
    classes = build_classes(field, orbits, beside, EARTH, Rules())
    found = find_parts(field, classes, orbits, beside)
    smallest = int(np.argmin(classes.area))
    assert np.flatnonzero(found.middle).tolist() == [smallest]


def test_sides_of_a_frame_that_meet_are_one_hue():
    paints = palette(
        "#f4f3ee", "#1f3f8f", "#8fb0e8", "#8c2f1c", "#3c5a20",
        names=("white", "blue", "sky", "brick", "moss"),
        roles=("ground", "main", "main", "main", "main"),
    )  # fmt: skip
    # a field of two kinds, and two sides that meet at the mitre
    panel = with_kinds(
        graph(4, [(0, 1), (0, 2), (0, 3), (2, 3)]),
        zones=[1, 1, 2, 3],
        roles=("field", "border", "border"),
    )
    got = names_of(with_areas(panel, [40.0, 20.0, 12.0, 10.0]), paints=paints)
    assert set(got[2:]) == {"blue", "sky"}


@pytest.mark.parametrize("role", ["accent", "main"])
def test_a_dark_ground_changes_places_with_the_one_it_was(role):
    swatches = palette("#f0e8d8", "#101018", "#a03020", roles=("ground", role, "main"))
    dark = Tones(swatches, np.ones(3, bool), None, True)
    assert dark.roles == [role, "ground", "main"]
    plain = Tones(swatches, np.ones(3, bool), None, False)
    assert plain.roles == ["ground", role, "main"]
