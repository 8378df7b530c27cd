import math
from dataclasses import replace

import numpy as np
import pytest

from fillwork.colouring.adjacency import measure_adjacency
from fillwork.colouring.difference import difference_matrix
from fillwork.colouring.model import Pin, Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.colouring.search.wishes import build_classes
from fillwork.errors import ColouringError
from tests.unit.colouring.stand_ins import (
    drawing,
    graph,
    grid,
    kinds,
    palette,
    random_palette,
)

FIVE = palette(
    "#f4eddc",
    "#1d3f8f",
    "#c98a2b",
    "#6f2420",
    "#1e1b18",
    names=("white", "blue", "gold", "red", "black"),
    roles=("ground", "main", "main", "accent", "line"),
)
PATH = graph(5, [(0, 1), (1, 2), (2, 3), (3, 4)])
TRIANGLE = graph(3, [(0, 1), (0, 2), (1, 2)], [30.0, 10.0, 20.0])


def assign(scene, rules=None, paints=FIVE):
    return assign_colours(*scene, paints, rules or Rules())


def names(colouring):
    return [colouring.palette.swatches[s].name for s in colouring.of_orbit]


def test_touching_kinds_reach_the_goal_and_many_swatches_are_used():
    found = assign(PATH)
    assert found.smallest_difference >= 20.0
    assert len(set(names(found))) == 4  # black is kept for lines
    assert found.proven
    table = difference_matrix(FIVE)
    assert found.bound == pytest.approx(table.max())  # a path takes two swatches
    assert found.equal_neighbours == ()


def test_pins_hold():
    found = assign(PATH, Rules(pins=(Pin("C", "gold"), Pin("a", "2"))))
    assert names(found)[2] == "gold"
    assert names(found)[0] == "blue"


def test_bans_and_ties_hold():
    rules = Rules(
        bans=(("A", "white"), ("A", "blue"), ("A", "gold")), ties=(("A", "C", "E"),)
    )
    for seed in range(4):
        got = names(assign(PATH, replace(rules, seed=seed)))
        assert got[0] == got[2] == got[4]
        assert got[0] in ("red", "black")


def test_at_most_two_swatches():
    found = assign(PATH, Rules(most=2))
    assert len(set(names(found))) == 2
    assert found.equal_neighbours == ()


def test_least_length_stays_alike_where_it_must_and_is_named():
    found = assign(TRIANGLE, Rules(most=2))
    assert found.equal_neighbours == ((0, 2, 10.0),)
    assert any("A and C" in n.text and "10.0 mm" in n.text for n in found.notes)
    table = difference_matrix(FIVE)
    assert found.bound == pytest.approx(table.max())
    assert found.proven


def test_one_swatch():
    found = assign(TRIANGLE, paints=palette("#808080"))
    assert sum(length for _, _, length in found.equal_neighbours) == 60.0
    assert math.isnan(found.smallest_difference)
    assert found.proven


def test_identical_swatches_are_alike():
    found = assign(TRIANGLE, paints=palette("#808080", "#808080", "#ffffff"))
    table = difference_matrix(found.palette)
    a, c = found.of_orbit[0], found.of_orbit[2]
    assert table[a, c] == 0.0  # the shortest contact
    assert table[found.of_orbit[0], found.of_orbit[1]] > 0
    assert table[found.of_orbit[1], found.of_orbit[2]] > 0


def test_one_kind():
    found = assign(graph(1, []))
    assert len(found.of_orbit) == 1
    assert math.isnan(found.bound)
    assert found.proven


def test_pins_that_touch_alike_are_honoured_and_leave_the_rest_its_contrast():
    found = assign(PATH, Rules(pins=(Pin("A", "gold"), Pin("B", "gold"))))
    assert found.equal_neighbours == ((0, 1, 1.0),)
    assert found.smallest_difference >= 20.0
    assert any("pins, ties or bans" in n.remedy for n in found.notes)


def test_the_share_asked_for_is_met():
    scene = graph(60, [(j, j + 1) for j in range(59)])
    found = assign(scene, Rules(shares=(("gold", 0.10), ("white", 0.5))))
    area = scene[0].area[1:]
    share = np.bincount(found.of_orbit, weights=area, minlength=5) / area.sum()
    assert share[2] == pytest.approx(0.10, abs=0.02)
    assert share[0] == pytest.approx(0.50, abs=0.02)


def test_a_share_that_kinds_cannot_give_is_said():
    found = assign(graph(1, []), Rules(shares=(("gold", 0.5),)))
    assert any(n.type == "share not met" for n in found.notes)


def test_finer_pins_reach_fewer_faces():
    board = grid(4, 1)
    turns = np.array([-1, 0, 1, 0, 1])
    orbits = kinds(board, [-1, 0, 0, 0, 0], turns=turns)
    scene = (board, orbits, measure_adjacency(board, orbits))
    at = f"@{board.witness[2][0]},{board.witness[2][1]}"
    found = assign(scene, Rules(pins=(Pin(at, "red", "turns"),)))
    assert (found.of_face[[2, 4]] == 3).all()
    assert (found.of_face[[1, 3]] != 3).all()
    assert found.equal_neighbours == ()
    # the kind by its letter, or by the very region that stands out
    for kind in ("A", at):
        only = Rules(pins=(Pin(kind, "blue"), Pin(at, "red", "only")))
        found = assign(scene, only)
        assert found.of_face.tolist() == [-1, 1, 3, 1, 1]


def test_a_colour_all_of_whose_regions_have_finer_pins_asks_nothing_of_other_classes():
    board = grid(4, 1)
    orbits = kinds(board, [-1, 0, 1, 1, 1])
    beside = measure_adjacency(board, orbits)
    x, y = board.witness[2]
    # the second kind alternates: its colour 2 is on one region alone, which is pinned
    pins = (Pin("A", "red"), Pin(f"@{x},{y}", "red", "only"))
    base, unlike = np.array([-1, 0, 2, 3, 3], np.int32), np.array([(2, 3)], np.int32)
    found = build_classes(
        board, orbits, beside, FIVE, Rules(pins=pins), base=base, unlike=unlike
    )
    assert found.of_face.tolist() == [-1, 0, 2, 1, 1]
    assert found.domain == (0b1000, 0b11111, 0b1000)
    assert not len(found.unlike)


def test_a_kind_that_touches_itself_says_what_parts_it():
    board = grid(4, 1)
    turns = np.array([-1, 0, 1, 0, 1])
    orbits = kinds(board, [-1, 0, 0, 0, 0], turns=turns)
    found = assign((board, orbits, measure_adjacency(board, orbits)))
    assert found.equal_neighbours == ((0, 0, pytest.approx(30.0)),)
    assert "--match turns" in found.notes[0].remedy
    orbits = kinds(board, [-1, 0, 0, 0, 0])
    found = assign((board, orbits, measure_adjacency(board, orbits)))
    assert "--match shifts" in found.notes[0].remedy


def test_corners_count_when_asked_for():
    board = grid(2, 2)
    orbits = kinds(board, [-1, 0, 1, 2, 3])
    adjacency = measure_adjacency(board, orbits)
    for corners, least in ((False, 2), (True, 4)):
        rules = Rules(corners_count=corners, most=least)
        found = assign((board, orbits, adjacency), rules)
        assert found.equal_neighbours == ()
        assert len(set(found.of_orbit.tolist())) == least


@pytest.mark.parametrize(
    ("rules", "said"),
    [
        (Rules(pins=(Pin("A", "gold"), Pin("@1,0", "red"))), ('pin "A=gold"', "@1,0")),
        (Rules(pins=(Pin("A", "gold"),), bans=(("A", "gold"),)), ("pin", "ban")),
        (
            Rules(
                pins=(Pin("A", "gold"), Pin("B", "red"), Pin("D", "blue")),
                ties=(("A", "B"),),
            ),
            ('pin "A=gold"', 'pin "B=red"', 'tie "A,B"'),
        ),
        (
            Rules(pins=(Pin("A", "gold"), Pin("B", "red"), Pin("C", "red")), most=1),
            ('pin "A=gold"', "red", "most 1"),
        ),
        (
            Rules(
                bans=tuple(("B", n) for n in ("white", "blue", "gold", "red", "black"))
            ),
            ('ban "B=white"', 'ban "B=black"'),
        ),
        (Rules(shares=(("gold", 0.7), ("red", 0.5), ("blue", 0.01))), ("120 %",)),
        (Rules(shares=(("gold", 0.2), ("gold", 0.3))), ("two shares",)),
        (Rules(shares=(("gold", 1.4),)), ("not between 0 and 100 %",)),
        (Rules(pins=(Pin("A", "golf"),)), ('did you mean "gold"',)),
        (Rules(pins=(Pin("Q", "gold"),)), ("the kinds of this drawing are A to E",)),
        (Rules(most=0), ("at least 1",)),
        (Rules(ground="mauve"), ("it has white, blue",)),
        (Rules(bare=("mauve",)), ("it has white, blue",)),
        (Rules(goal_difference=math.nan), ("no colour difference",)),
        (Rules(seed=-1), ("-1 is no seed",)),
    ],
)
def test_wishes_that_cannot_be_met_are_refused(rules, said):
    with pytest.raises(ColouringError) as error:
        assign_colours(*pathway(), FIVE, rules)
    for part in said:
        assert part in str(error.value)


def pathway():
    """A path of kinds in which points can be pointed at too."""
    board = grid(5, 1)
    order = np.argsort(board.witness[1:, 0])
    of_face = np.r_[-1, np.argsort(order)]
    orbits = kinds(board, of_face)
    return board, orbits, measure_adjacency(board, orbits)


def test_no_wish_can_be_dropped_from_the_set_that_is_named():
    pins = (Pin("A", "gold"), Pin("B", "red"), Pin("C", "blue"), Pin("D", "gold"))
    rules = Rules(pins=pins, ties=(("A", "B", "E"), ("C", "D")), most=4)
    with pytest.raises(ColouringError) as error:
        assign(PATH, rules)
    named = error.value.what.split(": ", 1)[1].split("; ")
    assert len(named) == 3
    for left_out in named:
        kept = [text for text in named if text != left_out]
        smaller = Rules(
            pins=tuple(p for p in pins if f'pin "{p.where}={p.swatch}"' in kept),
            ties=tuple(t for t in rules.ties if f'tie "{",".join(t)}"' in kept),
        )
        assign(PATH, smaller)  # possible without any one of them


def test_equal_seeds_give_equal_colourings_and_nothing_is_changed():
    scene = graph(30, [(j, k) for j in range(30) for k in range(j) if (j * k) % 7 == 1])
    paints = random_palette(8, 4)
    first = assign(scene, Rules(seed=5), paints)
    second = assign(scene, Rules(seed=5), paints)
    assert first.of_face.tolist() == second.of_face.tolist()
    with pytest.raises(ValueError, match="read-only"):
        first.of_face[0] = 1


def test_ground_takes_the_background_and_accents_the_figures():
    star, back = 0, 1
    board = grid(6, 6)
    place = np.floor(board.witness[1:] / 10).astype(int)
    of_face = np.where((place % 3 == 1).all(axis=1), star, back)
    orbits = kinds(board, np.r_[-1, of_face], names=("8-point star", "square"))
    found = assign((board, orbits, measure_adjacency(board, orbits)))
    assert names(found) == ["red", "white"]


def test_progress_is_told():
    told = []
    assign_colours(*PATH, FIVE, Rules(), progress=lambda done, text: told.append(done))
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_a_drawing_without_regions():
    empty = drawing([(0, 0, 10, 0)], page_edge="open")
    orbits = replace(kinds(grid(1, 1), [-1, 0]), orbits=())
    with pytest.raises(ColouringError, match="no region"):
        assign_colours(empty, orbits, PATH[2], FIVE, Rules())


def test_swatches_of_one_colour_are_alike_under_any_name():
    scene = graph(2, [(0, 1)])
    paints = palette("#c04030", "#c04030")
    found = assign_colours(*scene, paints, Rules())
    assert found.equal_neighbours == ((0, 1, 1.0),)
    assert math.isnan(found.smallest_difference)
    (note,) = [n for n in found.notes if n.type == "neighbours alike"]
    assert note.remedy == "take a palette with more swatches"


@pytest.mark.parametrize(
    ("paints", "rules", "remedy"),
    [
        (("#c04030",), Rules(), "take a palette with more swatches"),
        (("#c04030", "#204080"), Rules(most=1), "raise --most"),
        (
            ("#c04030", "#204080"),
            Rules(pins=(Pin("A", "one"), Pin("B", "one"))),
            "change the pins, ties or bans that ask for it",
        ),
    ],
)
def test_what_would_part_kinds_that_are_alike(paints, rules, remedy):
    found = assign_colours(*graph(2, [(0, 1)]), palette(*paints), rules)
    (note,) = [n for n in found.notes if n.type == "neighbours alike"]
    assert note.remedy == remedy


def test_a_tie_is_named_where_swatches_are_too_few_elsewhere():
    # all four touch: C is tied to D, two swatches serve A, B and these
    rules = Rules(most=2, ties=(("C", "D"),))
    scene = graph(4, [(a, b) for b in range(4) for a in range(b)])
    found = assign_colours(*scene, palette("#101010", "#f0f0f0", "#a02020"), rules)
    told = {
        frozenset((note.text[6], note.text[12])): note.remedy
        for note in found.notes
        if note.type == "neighbours alike"
    }
    assert told.pop(frozenset("CD")) == "change the pins, ties or bans that ask for it"
    assert set(told.values()) == {"raise --most"}


def test_what_wishes_ask_for_is_told_beside_what_swatches_lack():
    # all four touch: A and B are pinned to one, two swatches serve C and D
    rules = Rules(most=2, pins=(Pin("A", "one"), Pin("B", "one")))
    scene = graph(4, [(a, b) for b in range(4) for a in range(b)])
    found = assign_colours(*scene, palette("#101010", "#f0f0f0", "#a02020"), rules)
    told = {
        note.text[:13]: note.remedy
        for note in found.notes
        if note.type == "neighbours alike"
    }
    assert told == {
        "kinds A and B": "change the pins, ties or bans that ask for it",
        "kinds C and D": "raise --most",
    }
