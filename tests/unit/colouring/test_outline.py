"""The painted line against the swatches that it parts."""

import math

import pytest

from fillwork.colouring.difference import difference_matrix
from fillwork.colouring.model import Pin, Rules
from fillwork.colouring.outline import measure_outline, outline_hex
from fillwork.colouring.search.assign import assign_colours
from tests.unit.colouring.stand_ins import graph, palette

PAINTS = palette("#f2ead8", "#1d3f8f", "#23417f", "#ffffff", "#c03020")


def coloured(outline, width=None):
    pins = (Pin("A", "one"), Pin("B", "two"))
    rules = Rules(pins=pins, outline=outline, outline_width=width)
    return assign_colours(*graph(2, [(0, 1)]), PAINTS, rules)


def test_contrast_is_the_least_of_those_used():
    table = difference_matrix(PAINTS)
    found = measure_outline(coloured("four"))
    assert (found.hex, found.name, found.against) == ("#ffffff", "four", "one")
    assert found.smallest_difference == pytest.approx(min(table[3, 0], table[3, 1]))
    by_hex = measure_outline(coloured("#ffffff"))
    assert by_hex.name == "#ffffff"
    assert math.isclose(by_hex.smallest_difference, found.smallest_difference)


@pytest.mark.parametrize(("outline", "width"), [("none", None), ("four", 0.0)])
def test_no_line_no_contrast(outline, width):
    assert measure_outline(coloured(outline, width)) is None


def test_a_line_that_is_lost_is_told_with_one_that_stands_out():
    found = coloured("three")  # nearly the blue of kind B
    (note,) = [n for n in found.notes if n.type == "outline lost"]
    assert "three, is lost beside two" in note.text
    assert '--outline "five" stands out more' in note.remedy  # the red
    few = palette("#f2ead8", "#1d3f8f", "#23417f")
    pins = (Pin("A", "one"), Pin("B", "two"))
    rules = Rules(pins=pins, outline="three")
    (note,) = [
        n
        for n in assign_colours(*graph(2, [(0, 1)]), few, rules).notes
        if n.type == "outline lost"
    ]
    assert "a colour of its own" in note.remedy


def test_a_line_that_stands_out_or_was_not_asked_for_is_not_told():
    assert not [n for n in coloured("#c03020").notes if n.type == "outline lost"]
    assert not [n for n in coloured(None).notes if n.type == "outline lost"]


def test_the_line_of_rules():
    assert outline_hex(PAINTS, Rules(outline="two")) == "#1d3f8f"
    assert outline_hex(PAINTS, Rules(outline="#AbCdEf")) == "#abcdef"
    assert outline_hex(PAINTS, Rules(outline="none")) is None
    assert outline_hex(PAINTS, Rules()).startswith("#")
    with pytest.raises(KeyError):
        outline_hex(PAINTS, Rules(outline="vermilion"))


def test_the_line_paint_stays_out_of_regions_where_the_others_suffice():
    paints = palette("#f2ead8", "#1d3f8f", "#000000")
    for goal in (20.0, 40.0):
        rules = Rules(outline="three", goal_difference=goal)
        found = assign_colours(*graph(2, [(0, 1)]), paints, rules)
        assert set(found.of_face[1:].tolist()) == {0, 1}


@pytest.mark.parametrize("outline", ["one", "two"])
def test_the_line_paint_parts_what_the_others_cannot(outline):
    pair = palette("#f2ead8", "#1d3f8f")
    found = assign_colours(*graph(2, [(0, 1)]), pair, Rules(outline=outline))
    assert set(found.of_face[1:].tolist()) == {0, 1}
    assert found.equal_neighbours == ()
    assert found.proven
    assert found.bound == pytest.approx(difference_matrix(pair)[0, 1])


def test_the_line_paint_stays_out_though_the_goal_is_not_reached_and_that_is_told():
    # two blues near each other, and the line's ivory
    paints = palette("#1d3f8f", "#23417f", "#f2ead8")
    found = assign_colours(*graph(2, [(0, 1)]), paints, Rules(outline="three"))
    assert set(found.of_face[1:].tolist()) == {0, 1}
    (note,) = [n for n in found.notes if n.type == "goal not reached"]
    least = difference_matrix(paints)[0, 1]
    assert f"{least:.1f} at best without three, kept for the outline" in note.text
    found = assign_colours(*graph(2, [(0, 1)]), paints, Rules(goal_difference=99.0))
    (note,) = [n for n in found.notes if n.type == "goal not reached"]
    assert note.text.endswith("at best")


def test_no_wish_is_broken_to_keep_the_line_paint_out():
    rules = Rules(outline="three", pins=(Pin("A", "three"),), most=1)
    found = assign_colours(*graph(3, [(0, 1), (1, 2)]), PAINTS, rules)
    assert found.of_face[1:].tolist() == [2, 2, 2]
