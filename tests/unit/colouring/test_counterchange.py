import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree

from fillwork.arrangement.build import build_arrangement
from fillwork.colouring.adjacency import measure_adjacency
from fillwork.colouring.counterchange.find import find_choices
from fillwork.colouring.counterchange.subgroups import (
    find_subgroups,
    read_pattern_group,
)
from fillwork.colouring.counterchange.words import say_choice
from fillwork.colouring.model import Pin, Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.colouring.search.colourways import pins_of
from fillwork.errors import ColouringError
from fillwork.geometry import affine
from fillwork.symmetry.groups import frieze_group, plane_group, rosette_group
from fillwork.symmetry.model import Lattice, Operation, Symmetry
from tests.unit.colouring import pattern_groups as ideal
from tests.unit.colouring.stand_ins import drawing, kinds, random_palette
from tests.unit.helpers import linework_from_segments

PAINTS = random_palette(12, 3)
# an uneven triangle in general position; small enough that copies do not meet
MOTIF = np.array([(0.66, 0.31), (0.93, 0.36), (0.70, 0.45)])


def symmetry_of(group, maps, basis):
    operations = tuple(Operation(m, "any", 1) for m in maps)
    lattice = Lattice(np.array(basis), "any") if len(basis) else None
    return Symmetry(group, lattice, (0.0, 0.0), operations)


def motif_drawing(group, maps, basis, reach=2):
    """Return copies of the motif under a group, as one kind of islands."""
    spots = [np.zeros(2)]
    for row in basis:
        spots = [s + k * row for s in spots for k in range(-reach, reach + 1)]
    for offset in itertools.product((0.0, 0.37, 0.81, 1.3), repeat=2):
        motif = MOTIF + offset
        copies = np.array([affine.apply(m, motif) + s for m in maps for s in spots])
        tree = cKDTree(copies.mean(axis=1))
        apart, _ = tree.query(copies.mean(axis=1), k=2)
        if apart[:, 1].min() > 0.4:  # no two copies meet
            break
    shift = 1.0 - copies.min(axis=(0, 1))
    copies = copies + shift
    segments = np.concatenate([copies, np.roll(copies, -1, axis=1)], axis=2)
    width, height = copies.max(axis=(0, 1)) + 1.0
    found = build_arrangement(
        linework_from_segments(segments.reshape(-1, 4), width, height),
        page_edge="open",
    )
    assert found.face_count == len(copies) + 1
    moved = [
        affine.compose(
            affine.translation(*shift),
            affine.compose(m, affine.translation(*-shift)),
        )
        for m in maps
    ]
    symmetry = symmetry_of(group, moved, basis)
    of_face = np.zeros(found.face_count, int)
    return found, kinds(found, of_face, symmetry=symmetry), moved


def centres(arrangement):
    polygons = arrangement.polygons()
    return np.array([p.centroid.coords[0] for p in polygons])


def assert_colours_are_permuted(arrangement, colour, operations, many):
    """Check that every operation carries each colour onto one colour."""
    at = centres(arrangement)
    tree = cKDTree(at)
    for operation in operations:
        apart, image = tree.query(affine.apply(operation, at))
        seen = apart < 1e-6  # the rest leave the drawing
        assert seen.any()
        moved = {
            (int(a), int(b))
            for a, b in zip(colour[seen], colour[image[seen]], strict=True)
        }
        assert len({a for a, _ in moved}) == len(moved)
        assert len({b for _, b in moved}) == len(moved)
    assert len(np.unique(colour)) == many


def with_translations(maps, basis):
    steps = [affine.translation(*row) for row in basis]
    return [*maps, *steps, *(affine.compose(s, m) for s in steps for m in maps)]


EVERY = (
    [("plane", s) for s in ideal.PLANE]
    + [("frieze", s) for s in ideal.FRIEZE]
    + [("rosette", f"{m}{n}") for n in (2, 3, 4, 5, 6, 8, 12) for m in "CD"]
)


def ideal_maps(family, short):
    if family == "plane":
        return ideal.plane_maps(short), plane_group(short)
    if family == "frieze":
        return ideal.frieze_maps(short), frieze_group(short)
    n, mirrors = int(short[1:]), short[0] == "D"
    return ideal.rosette_maps(n, mirrors=mirrors), rosette_group(n, mirrors=mirrors)


@pytest.mark.parametrize(("family", "short"), EVERY)
def test_every_choice_of_index_two_permutes_the_colours(family, short):
    (maps, basis), group = ideal_maps(family, short)
    found, orbits, moved = motif_drawing(group, maps, basis)
    adjacency = measure_adjacency(found, orbits)
    choices = find_choices(found, orbits, adjacency, "A", 2)
    # the motif is in general position, so every subgroup is a choice
    assert len(choices) == len(find_subgroups(read_pattern_group(maps, basis), 2))
    partitions = set()
    operations = with_translations(moved, basis)
    for choice in choices:
        assert choice.faces.tolist() == list(range(1, found.face_count))
        assert_colours_are_permuted(found, choice.colour, operations, 2)
        partitions.add(choice.colour.tobytes())
        rules = Rules(counterchange=2, choices=(("A", choice.number),))
        coloured = assign_colours(found, orbits, adjacency, PAINTS, rules)
        assert_colours_are_permuted(found, coloured.of_face[1:], operations, 2)
        assert coloured.counterchange.kinds == (
            ("A", choice.number, len(choices), choice.subgroup),
        )
    assert len(partitions) == len(choices)  # no two choices look alike


@pytest.mark.parametrize(
    ("short", "colours"), [("p6", 3), ("p4m", 4), ("p3m1", 3), ("pgg", 6), ("p31m", 4)]
)
def test_more_colours(short, colours):
    maps, basis = ideal.plane_maps(short)
    found, orbits, moved = motif_drawing(plane_group(short), maps, basis, reach=3)
    adjacency = measure_adjacency(found, orbits)
    for choice in find_choices(found, orbits, adjacency, "A", colours):
        assert_colours_are_permuted(
            found, choice.colour, with_translations(moved, basis), colours
        )


def scene(segments, width, height, **options):
    from fillwork.symmetry.kinds.orbits import find_orbits
    from fillwork.symmetry.zones.find import find_zones

    found = drawing(segments, width, height, **options)
    orbits = find_orbits(found, find_zones(found))
    return found, orbits, measure_adjacency(found, orbits)


def squares(columns=6, rows=6, offset=0.0):
    width, height = 10.0 * columns - 2 * offset, 10.0 * rows - 2 * offset
    lines = [(x, 0, x, height) for x in np.arange(10 - offset, width, 10.0)]
    lines += [(0, y, width, y) for y in np.arange(10 - offset, height, 10.0)]
    return scene(lines, width, height, page_edge="close")


def triangles(size=10.0, rows=8):
    """Lines in three directions across a page, which cuts triangles at its sides."""
    step = size * np.sqrt(3) / 2
    width, height = 78.0, rows * step
    lines = [(0, j * step, width, j * step) for j in range(1, rows)]
    lean = height / np.sqrt(3)
    for i in range(-rows, 2 * rows):
        for x, y in ((i * size, i * size + lean), (i * size, i * size - lean)):
            # clip to the page's sides
            ends = []
            for t in (
                *sorted(
                    np.clip([(0 - x) / (y - x), (width - x) / (y - x)], 0, 1).tolist()
                ),
            ):
                ends += [x + t * (y - x), t * height]
            if np.hypot(ends[0] - ends[2], ends[1] - ends[3]) > 1e-9:
                lines.append(tuple(ends))
    return scene(lines, width, height, page_edge="close")


def hexagons(size=6.0, reach=6):
    lines = set()
    for j in range(reach):
        for i in range(reach):
            x = (i + (j % 2) / 2) * size * np.sqrt(3) + 10
            y = j * size * 1.5 + 10
            corners = [
                (
                    round(x + size * np.sin(k * np.pi / 3), 6),
                    round(y + size * np.cos(k * np.pi / 3), 6),
                )
                for k in range(6)
            ]
            for k in range(6):
                lines.add(tuple(sorted((corners[k - 1], corners[k]))))
    segments = [(*a, *b) for a, b in sorted(lines)]
    return scene(segments, 90.0, 80.0, page_edge="open")


def touching_differ(where, colouring):
    pairs = where[2].face_pairs
    a, b = colouring.of_face[pairs[:, 0]], colouring.of_face[pairs[:, 1]]
    return bool((a != b).all())


def test_chessboard():
    where = squares()
    assert len(where[1].orbits) == 1
    found = assign_colours(*where, PAINTS, Rules(counterchange=2))
    place = np.floor(where[0].witness[1:] / 10).astype(int).sum(axis=1) % 2
    assert len(set(zip(place.tolist(), found.of_face[1:].tolist(), strict=True))) == 2
    assert found.equal_neighbours == ()
    assert found.smallest_difference >= 20.0
    first, second = (PAINTS.swatches[k].lab[0] for k in set(found.of_face[1:].tolist()))
    assert abs(first - second) >= 20.0  # dark against light, common practice


def test_a_cropped_chessboard_takes_the_colours_of_whole_squares():
    where = squares(8, 8, offset=4.0)
    found = assign_colours(*where, PAINTS, Rules(counterchange=2))
    place = np.floor((where[0].witness[1:] + 4.0) / 10).astype(int).sum(axis=1) % 2
    assert len(set(zip(place.tolist(), found.of_face[1:].tolist(), strict=True))) == 2


def test_a_ground_in_one_piece_takes_no_colours_from_what_alternates():
    # four by four small squares that stand apart on a large one
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    boxes = [40 + 40 * corners]
    boxes += [
        (x, y) + 5 * corners for x in range(10, 80, 20) for y in range(10, 80, 20)
    ]
    sides = [np.hstack([box, np.roll(box, -1, axis=0)]) for box in boxes]
    where = scene(np.concatenate(sides), 80, 80)
    paints = replace(PAINTS, swatches=PAINTS.swatches[:3])
    found = assign_colours(*where, paints, Rules(counterchange=2, goal_difference=0))
    small = np.flatnonzero(where[0].area[1:] < 1000) + 1
    column, row = (where[0].witness[small] // 20).astype(int).T
    even = found.of_face[small][(column + row) % 2 == 0]
    assert sorted(np.bincount(found.of_face[small], minlength=3)) == [0, 8, 8]
    assert len(set(even.tolist())) == 1


def test_three_coloured_hexagons():
    where = hexagons()
    found = assign_colours(*where, PAINTS, Rules(counterchange=3))
    assert touching_differ(where, found)
    assert len(set(found.of_face[1:].tolist())) == 3
    assert found.counterchange.kinds[0][0] == "A"


def test_two_coloured_triangles():
    where = triangles()
    found = assign_colours(*where, PAINTS, Rules(counterchange=2))
    assert touching_differ(where, found)
    assert len(set(found.of_face[1:].tolist())) == 2


@pytest.mark.parametrize(
    ("make", "counts"),
    [
        # the numbers are those of tests/reference/test_counterchange_tilings.py
        (squares, {2: 1, 3: 0, 4: 1, 5: 0, 6: 0, 8: 1, 9: 1}),
        (triangles, {2: 1, 3: 0, 4: 1, 5: 0, 6: 1, 8: 1}),
        (hexagons, {2: 0, 3: 1, 4: 1, 5: 0, 6: 0, 9: 1, 12: 1}),
    ],
)
def test_regular_tilings_have_one_perfect_colouring_each(make, counts):
    where = make()
    for colours, wanted in counts.items():
        choices = find_choices(*where, "A", colours)
        assert len(choices) == wanted, colours
        for choice in choices:
            assert choice.alike == pytest.approx(0.0)


def test_where_none_exists_the_nearest_is_named():
    where = squares()
    with pytest.raises(ColouringError) as error:
        assign_colours(*where, PAINTS, Rules(counterchange=3))
    assert "no perfect colouring with 3 colours" in str(error.value)
    assert "2 or 4" in str(error.value)


@pytest.mark.parametrize(
    ("rules", "said"),
    [
        (Rules(counterchange=1), "from 2 to 12"),
        (Rules(counterchange=2, choices=(("A", 9),)), "its choices are 1 to 1"),
        (Rules(counterchange=2, choices=(("", 9),)), "there is no choice 9"),
        (Rules(counterchange=2, choices=(("Q", 1),)), 'no kind has the letter "Q"'),
        (Rules(counterchange=4, most=3), "among 3 swatches"),
    ],
)
def test_wrong_wishes(rules, said):
    with pytest.raises(ColouringError) as error:
        assign_colours(*squares(), PAINTS, rules)
    assert said in str(error.value)


def test_counterchange_needs_the_whole_symmetry():
    arrangement, orbits, adjacency = squares()
    with pytest.raises(ColouringError, match="whole symmetry"):
        find_choices(arrangement, replace(orbits, match="none"), adjacency, "A", 2)


def test_a_pin_names_one_of_the_colours_and_colourings_can_be_repeated():
    where = squares()
    at = where[0].witness[8]
    pin = Pin(f"@{at[0]},{at[1]}", "three")
    found = assign_colours(*where, PAINTS, Rules(counterchange=2, pins=(pin,)))
    assert found.of_face[8] == 2
    again = Rules(counterchange=2, pins=pins_of(*where[:2], found))
    repeated = assign_colours(*where, PAINTS, again)
    assert repeated.of_face.tolist() == found.of_face.tolist()


def test_sentences_say_what_happens():
    (choice,) = find_choices(*squares(), "A", 2)
    assert choice.sentence.startswith("2 colours: colours alternate as on a chessboard")
    assert choice.subgroup == "p4m"


def test_sentences_of_a_pattern_tell_its_choices_apart():
    """Seven ways for pmm's coloured cells: rows each way, mirrors each way, or all."""
    group = ideal.plane("pmm")
    said = [say_choice(group, h, 2) for h in find_subgroups(group, 2)]
    same = [s for s in said if "every repeat is coloured alike" in s]
    assert len(same) == len(set(same)) == 3  # pm twice and p2
    assert any("axes level change" in s and "axes upright keep" in s for s in same)
    assert any("axes upright change" in s and "axes level keep" in s for s in same)
    assert any("mirror images change them; half-turns keep" in s for s in same)
    rest = [s for s in said if s not in same]
    assert sum("in level rows" in s for s in rest) == 4
    assert sum("in upright rows" in s for s in rest) == 4
    assert len(rest) == 12


def test_sentences_of_friezes_and_rosettes():
    group = ideal.frieze("p2mm")
    said = {say_choice(group, h, 2) for h in find_subgroups(group, 2)}
    assert any("colours change from repeat to repeat" in s for s in said)
    group = ideal.rosette(8, mirrors=True)
    said = {say_choice(group, h, 2) for h in find_subgroups(group, 2)}
    assert len(said) == 2  # C8, and D4 twice, turned
    assert any("4 of 8 directions change them" in s for s in said)
    assert any("mirror images change them" in s for s in said)


@pytest.mark.parametrize(
    ("short", "order", "colours"), [("p6", 6, 3), ("p4", 4, 2), ("p6m", 6, 2)]
)
def test_what_is_said_of_the_nearest_centre_is_what_is_seen_there(
    short, order, colours
):
    """Turn the motif about the nearest corner of the cell, and look at the colours."""
    maps, basis = ideal.plane_maps(short)
    found, orbits, moved = motif_drawing(plane_group(short), maps, basis, reach=3)
    adjacency = measure_adjacency(found, orbits)
    at = centres(found)
    tree = cKDTree(at)
    # turns of the highest order keep the origin of the table, here moved
    linear = affine.linear(moved[0])
    origin = next(
        np.linalg.solve(np.eye(2) - affine.linear(m), np.array(m[4:]))
        for m in moved
        if abs(np.trace(affine.linear(m)) - 2 * np.cos(2 * np.pi / order)) < 1e-9
    )
    assert np.allclose(linear, np.eye(2))
    steps = itertools.product(range(-4, 5), repeat=2)
    corners = np.array([origin + np.array(s, float) @ basis for s in steps])
    face = orbits.orbits[0].representative
    home = found.witness[face]
    centre = corners[np.argmin(np.hypot(*(corners - home).T))]
    spin = affine.rotation(2 * np.pi / order, tuple(centre))
    seen = [face - 1]
    for _ in range(order - 1):
        apart, image = tree.query(affine.apply(spin, at[seen[-1]][None])[0])
        assert apart < 1e-6
        seen.append(int(image))
    choices = find_choices(found, orbits, adjacency, "A", colours)
    told = set()
    for choice in choices:
        row = choice.colour[seen].tolist()
        names = dict(zip(dict.fromkeys(row), "abcdef", strict=False))
        wanted = " ".join(names[c] for c in row) if len(names) > 1 else "one colour"
        said = choice.sentence.rpartition("nearest centre: ")[2]
        assert said in (wanted, turned_back(wanted))
        told.add(said)
    assert len(told) > 1


def turned_back(letters):
    """Return the same ring of colours, walked the other way round."""
    first, *rest = letters.split()
    back = [first, *reversed(rest)]
    names = dict(zip(dict.fromkeys(back), "abcdef", strict=False))
    return " ".join(names[c] for c in back)


@pytest.mark.parametrize(
    ("make", "fewest"),
    # squares round a vertex and triangles make a bipartite graph, three hexagons meet
    # in a point: the least numbers that part neighbours
    [(squares, 2), (triangles, 2), (hexagons, 3)],
)
def test_apart_takes_the_fewest_colours_that_part_neighbours(make, fewest):
    where = make()
    found = assign_colours(*where, PAINTS, Rules(counterchange="apart"))
    assert touching_differ(where, found)
    assert len(set(found.of_face[1:].tolist())) == fewest
    assert found.counterchange.colours == fewest


def test_apart_leaves_kinds_alone_that_do_not_touch_themselves():
    # octagons beside octagons, and squares between them that touch none of their like
    side, cut = 10.0, 10.0 / np.sqrt(2)
    step = side + 2 * cut
    rows = []
    for x, y in itertools.product(range(5), range(5)):
        corner = [(cut, 0), (cut + side, 0), (step, cut), (step, cut + side)]
        corner += [(step - a, step - b) for a, b in corner]
        points = np.array(corner) + np.array([step * x, step * y])
        rows += np.hstack([points, np.roll(points, -1, axis=0)]).tolist()
    where = scene(rows, 5 * step, 5 * step)
    found = assign_colours(*where, PAINTS, Rules(counterchange="apart"))
    assert touching_differ(where, found)
    sides = np.round(where[0].area[1:] / (step**2 - 2 * cut**2), 2) == 1
    assert len(set(found.of_face[1:][sides].tolist())) == 2
    assert len(set(found.of_face[1:][~sides].tolist())) == 1


def test_apart_is_refused_where_nothing_touches_itself():
    where = scene([[0, 0, 10, 0], [10, 0, 10, 10], [10, 10, 0, 0]], 20, 20)
    with pytest.raises(ColouringError, match="no kind touches itself"):
        assign_colours(*where, PAINTS, Rules(counterchange="apart"))


@pytest.mark.parametrize(
    ("make", "fewest"), [(squares, 2), (triangles, 2), (hexagons, 3)]
)
def test_a_drawing_of_one_kind_alternates_unless_that_is_unwanted(make, fewest):
    where = make()
    found = assign_colours(*where, PAINTS, Rules())
    assert touching_differ(where, found)
    assert len(set(found.of_face[1:].tolist())) == fewest
    (told,) = [n for n in found.notes if n.type == "alternates alone"]
    assert "--counterchange no" in told.remedy
    flat = assign_colours(*where, PAINTS, Rules(counterchange="no"))
    assert len(set(flat.of_face[1:].tolist())) == 1
    assert flat.counterchange is None


def test_blocks_that_tumble_take_a_colour_each_way_they_face():
    size, lines = 6.0, set()
    for i, j in itertools.product(range(6), range(6)):
        middle = np.array([(i + (j % 2) / 2) * np.sqrt(3), 1.5 * j]) * size + 12
        turns = np.arange(6) * np.pi / 3
        rim = middle + size * np.stack([np.sin(turns), np.cos(turns)], axis=1)
        spokes = [(middle, rim[k]) for k in (0, 2, 4)]
        for a, b in [*zip(rim, np.roll(rim, -1, axis=0), strict=True), *spokes]:
            lines.add(tuple(sorted((tuple(a.round(6)), tuple(b.round(6))))))
    where = scene([(*a, *b) for a, b in sorted(lines)], 90.0, 80.0, page_edge="open")
    found = assign_colours(*where, PAINTS, Rules())
    assert touching_differ(where, found)
    faces = where[0].polygons(np.arange(1, where[0].face_count))
    # the long diagonal of a rhomb tells which way it faces
    facing = []
    for face in faces:
        corners = np.array(face.exterior.coords)[:4]
        across = corners[2:] - corners[:2]
        long = across[np.argmax(np.hypot(*across.T))]
        facing.append(round(np.degrees(np.arctan2(long[1], long[0])) % 180) % 180)
    seen = set(zip(facing, found.of_face[1:].tolist(), strict=True))
    assert sorted(way for way, _ in seen) == [0, 60, 120]


def test_wishes_come_before_parting_a_kind_by_itself():
    where = hexagons()
    assert len(set(assign_colours(*where, PAINTS, Rules(most=1)).of_face[1:])) == 1
    two = assign_colours(*where, random_palette(2, 5), Rules())
    assert len(set(two.of_face[1:].tolist())) == 1  # three would be needed
    names = [swatch.name for swatch in PAINTS.swatches]
    every = Rules(shares=((names[2], 1.0),))
    assert set(assign_colours(*where, PAINTS, every).of_face[1:].tolist()) == {2}
    x, y = where[0].witness[1]
    held = Rules(pins=(Pin(f"@{x},{y}", names[4]),), bans=(("A", names[7]),))
    found = assign_colours(*where, PAINTS, held)
    assert touching_differ(where, found)
    assert found.of_face[1] == 4
    assert 7 not in found.of_face
    paints = found.of_face[1:].tolist()
    assert len(set(paints)) == 3
    # of three colours in turn none covers more than a third
    most = assign_colours(*where, PAINTS, Rules(shares=((names[4], 1.0),)))
    assert set(most.of_face[1:].tolist()) == {4}
    third = assign_colours(*where, PAINTS, Rules(shares=((names[4], 0.3),)))
    assert 4 in third.of_face
    assert len(set(third.of_face[1:].tolist())) == 3


def framed(inner, outer):
    """A square in a square frame with mitres."""
    low, high = (outer - inner) / 2, (outer + inner) / 2
    near = [(0, 0), (outer, 0), (outer, outer), (0, outer)]
    far = [(low, low), (high, low), (high, high), (low, high)]
    lines = [(*a, *b) for a, b in zip(near, far, strict=True)]
    for ring in (near, far):
        lines += [(*ring[k - 1], *ring[k]) for k in range(4)]
    return scene(lines, outer, outer)


def test_the_sides_of_a_plain_frame_stay_alike():
    # mitres of 0.1 √2 of the frame's side in an outline of 1.8 + 0.2 √2: 14 %
    where = framed(80.0, 100.0)
    found = assign_colours(*where, PAINTS, Rules())
    assert found.counterchange is None
    assert len(set(found.of_face[1:].tolist())) == 2


def ring_round(order, *, pieces):
    """A star in a disc, and round it a ring of like pieces."""
    turns = np.arange(2 * order) * np.pi / order
    reach = np.where(np.arange(2 * order) % 2, 12.0, 30.0)
    star = 50 + reach[:, None] * np.stack([np.cos(turns), np.sin(turns)], axis=1)
    lines = [(*star[k - 1], *star[k]) for k in range(2 * order)]
    turns = np.arange(pieces) * 2 * np.pi / pieces
    way = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    near, far = 50 + 34 * way, 50 + 44 * way
    for k in range(pieces):
        lines += [(*near[k - 1], *near[k]), (*far[k - 1], *far[k])]
        lines.append((*near[k], *far[k]))
    return scene(lines, 100.0, 100.0)


def test_a_ring_round_a_star_alternates_and_the_star_keeps_its_contrast():
    where = ring_round(8, pieces=24)
    ring = np.hypot(*(where[0].witness[1:] - 50).T) > 34
    assert ring.sum() == 24
    found = assign_colours(*where, PAINTS, Rules())
    assert touching_differ(where, found)
    assert len(set(found.of_face[1:][ring].tolist())) == 2
    assert found.smallest_difference >= 20.0
    # two paints cannot part ring, disc and star as well as its pieces
    few = assign_colours(*where, random_palette(2, 5), Rules(goal_difference=0))
    assert len(set(few.of_face[1:][ring].tolist())) == 1
