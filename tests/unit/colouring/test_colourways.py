import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from fillwork.colouring.difference import ciede2000
from fillwork.colouring.model import Pin, Rules
from fillwork.colouring.search.assign import assign_colours
from fillwork.colouring.search.colourways import (
    _leaning,
    find_colourways,
    measure_harmony,
)
from fillwork.errors import ColouringError
from tests.unit.colouring.stand_ins import (
    graph,
    palette,
    random_palette,
    state_wishes,
)

WHEEL_PAIRS = [(0, k) for k in range(1, 9)] + [(k, k % 8 + 1) for k in range(1, 9)]
WHEEL = graph(9, WHEEL_PAIRS)
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


@pytest.mark.parametrize("seed", [21, 5])
def test_measures_are_those_of_their_areas_and_contacts(seed):
    scene = graph(9, WHEEL_PAIRS, [1.0 + k for k in range(16)])
    paints = random_palette(6, seed)
    lightness = [s.lab[0] for s in paints.swatches]
    labs = np.array([s.lab for s in paints.swatches])
    apart = ciede2000(labs[:, None], labs[None])
    area, wheel = scene[0].area[1:], scene[2]
    rules = replace(GOAL, goal_difference=5.0, shares=(("one", 0.4), ("two", 0.1)))
    for way in ways(rules, (paints,), 2, scene):
        measures, of = dict(way.measures), way.colouring.of_face[1:]
        part = [area[of == k].sum() / area.sum() for k in range(6)]
        tone = np.array(lightness)[of]
        mean = float(np.average(tone, weights=area))
        spread = math.sqrt(np.average((tone - mean) ** 2, weights=area))
        met = apart[of[wheel.pairs[:, 0]], of[wheel.pairs[:, 1]]]
        contrast = float(np.average(met, weights=wheel.shared))
        assert measures["lightness range"] == pytest.approx(np.ptp(tone))
        assert measures["lightness spread"] == pytest.approx(spread)
        assert measures["mean contrast"] == pytest.approx(contrast)
        assert measures["share miss"] == pytest.approx(
            max(abs(part[0] - 0.4), abs(part[1] - 0.1))
        )
        assert measures["swatches"] == len(set(of.tolist()))
        assert measures["alike length"] == 0


@pytest.mark.parametrize(
    ("turn", "share"),
    # kin up to 40° and opposite from 140° on; between them it falls to nothing at 90°
    [(0, 1.0), (40, 1.0), (65, 0.5), (90, 0.0), (115, 0.5), (140, 1.0), (180, 1.0)],
)
def test_harmony_is_that_of_hues_apart(turn, share):
    made = palette("#804020", "#205080", "#808080")

    def painted(*rows):
        pairs = zip(made.swatches, rows, strict=True)
        return replace(
            made, swatches=tuple(replace(s, oklch=(0.5, c, h)) for s, (c, h) in pairs)
        )

    alike = painted((0.1, 350.0), (0.1, (350.0 + turn) % 360), (0.0, 123.0))
    assert measure_harmony(alike, np.array([0.5, 0.5, 0.0])) == pytest.approx(share)
    # a weaker colour counts by its chroma; pairs by their areas, greys with all
    weak = painted((0.1, 350.0), (0.05, (350.0 + turn) % 360), (0.0, 123.0))
    found = measure_harmony(weak, np.array([0.4, 0.4, 0.2]))
    lost = 0.4 * 0.4 / (0.4 * 0.4 + 2 * 0.4 * 0.2)
    assert found == pytest.approx(1 - (1 - share) * 0.5 * lost)
    assert measure_harmony(weak, np.array([1.0, 0.0, 0.0])) == 1.0


def test_leaning_keeps_the_sum_of_shares_and_those_asked_for():
    taste, _, _ = state_wishes(3, 5, 6)
    taste = replace(taste, target=taste.target / taste.target.sum())
    repeats, rng = np.zeros((5, 6)), np.random.default_rng(1)
    asked = np.array([True, False, True, False, False, False])
    found = _leaning(taste, repeats, asked, rng)
    assert found.target.sum() == pytest.approx(1.0)
    assert found.target[asked].tolist() == taste.target[asked].tolist()
    assert (found.target[~asked] != taste.target[~asked]).all()
    # what was chosen before costs more by one price, whatever the lean
    again = _leaning(taste, repeats + 1.0, asked, np.random.default_rng(1))
    assert again.cost - found.cost == pytest.approx(np.full((5, 6), 1.2))
    # where all are asked for, or nothing is wished of the others, all stays
    for wish, rest in (
        (asked | True, taste),
        (asked, replace(taste, target=1.0 * asked)),
    ):
        same = _leaning(rest, repeats, wish, rng)
        assert same.target.tolist() == rest.target.tolist()


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
    with pytest.raises(ColouringError, match="2 rules are given for 1 palettes"):
        ways([GOAL, GOAL])
    pinned = replace(GOAL, pins=(Pin("A", "five"),))
    with pytest.raises(ColouringError, match="palette short"):
        ways(pinned, [PAINTS, replace(random_palette(3, 1), name="short")], 2)
