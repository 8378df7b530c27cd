import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from fillwork.colouring.model import Pin, Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.colouring.search.colourways import find_colourways
from fillwork.errors import ColouringError
from tests.unit.colouring.stand_ins import graph, palette, random_palette

WHEEL = graph(9, [(0, k) for k in range(1, 9)] + [(k, k % 8 + 1) for k in range(1, 9)])
PAINTS = random_palette(9, 21)
GOAL = Rules(goal_difference=12.0)


def ways(rules=GOAL, palettes=(PAINTS,), count=6, scene=WHEEL):
    return find_colourways(*scene, palettes, rules, count=count)


def test_several_assignments_of_one_palette_differ_clearly():
    found = ways()
    assert len(found) == 6
    area = WHEEL[0].area
    for one, other in itertools.combinations(found, 2):
        new = one.colouring.of_face != other.colouring.of_face
        assert area[new].sum() / area.sum() > 0.3
    assert found[0].changed == 1.0
    for k, way in enumerate(found[1:], start=1):
        least = min(
            area[way.colouring.of_face != w.colouring.of_face].sum() / area.sum()
            for w in found[:k]
        )
        assert way.changed == pytest.approx(least)


def test_each_keeps_the_goal():
    for way in ways():
        assert way.colouring.smallest_difference >= 12.0
        assert way.colouring.equal_neighbours == ()


def test_pins_hold_across_all_and_give_each_again():
    rules = replace(GOAL, pins=(Pin("A", "two"), Pin("@3,0", "three", "only")))
    wheel = (WHEEL[0], WHEEL[1], WHEEL[2])
    for way in ways(replace(rules, pins=rules.pins[:1])):
        assert way.colouring.of_orbit[0] == 1
        again = assign_colours(*wheel, PAINTS, replace(GOAL, pins=way.pins))
        assert again.of_face.tolist() == way.colouring.of_face.tolist()


def test_several_palettes_give_the_best_of_each():
    others = [replace(random_palette(7, k), name=f"palette {k}") for k in range(4)]
    found = ways(palettes=others, count=4)
    assert {way.colouring.palette.name for way in found} == {p.name for p in others}
    more = ways(palettes=others[:2], count=4)
    names = [way.colouring.palette.name for way in more]
    assert sorted(names) == ["palette 0"] * 2 + ["palette 1"] * 2


def test_ranked_by_the_measures_stated():
    def known(value):
        return 0.0 if math.isnan(value) else value

    found = ways(count=8)
    ranks = []
    for way in found:
        m = dict(way.measures)
        ranks.append(
            (
                round(m["alike length"], 3),
                -round(min(known(m["smallest difference"]), 12.0), 3),
                -math.floor((m["harmony"] + m["taste"]) / 0.1),
                math.floor(m["share miss"] / 0.05),
                -round(m["mean contrast"], 3),
            )
        )
    assert ranks == sorted(ranks)


def test_measures_of_a_drawing_worked_by_hand():
    # black and white halves: L* 100 and 0, ΔE00 100 (Sharma, Wu and Dalal 2005)
    scene = graph(2, [(0, 1)])
    scene[0].area.setflags(write=True)
    scene[0].area[:] = (0.0, 1.0, 1.0)
    (way,) = ways(palettes=[palette("#000000", "#ffffff")], count=1, scene=scene)
    measures = dict(way.measures)
    assert measures["lightness range"] == pytest.approx(100, abs=0.01)
    assert measures["lightness spread"] == pytest.approx(50, abs=0.01)
    assert measures["mean contrast"] == pytest.approx(100, abs=0.01)
    assert measures["smallest difference"] == pytest.approx(100, abs=0.01)
    assert measures["swatches"] == 2


def test_no_more_than_there_are():
    (way,) = ways(palettes=[palette("#204080")], count=5, scene=graph(1, []))
    assert way.changed == 1.0


def test_same_seed_same_colourways():
    first, second = ways(), ways()
    for one, other in zip(first, second, strict=True):
        assert np.array_equal(one.colouring.of_face, other.colouring.of_face)
        assert one.pins == other.pins


def test_wrong_wishes():
    with pytest.raises(ColouringError, match="at least one palette"):
        ways(palettes=[])
    with pytest.raises(ColouringError, match="0 colourways"):
        ways(count=0)
    pinned = replace(GOAL, pins=(Pin("A", "five"),))
    with pytest.raises(ColouringError, match="palette short"):
        ways(pinned, [PAINTS, replace(random_palette(3, 1), name="short")], 2)
