"""What an assignment costs, summed up plainly, and the prices that better it."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from fillwork.colouring.search.bonds import Bond
from fillwork.colouring.search.improve import _with_fewer, _without
from fillwork.colouring.search.sweeping import _prices, sweep
from fillwork.colouring.search.tones import NARROW
from tests.unit.colouring.stand_ins import state_wishes

_CLASSES, _SWATCHES = 14, 6


def plainly(taste, x) -> float:
    """Return the cost of an assignment as the fields of a taste tell it."""
    swatches = range(len(taste.target))
    share = [sum(taste.area[c] for c in range(len(x)) if x[c] == k) for k in swatches]
    cost = sum(taste.cost[c, k] for c, k in enumerate(x))
    cost += sum(taste.strength[k] * (share[k] - taste.target[k]) ** 2 for k in swatches)
    cost -= sum(taste.used_gain[k] for k in set(x.tolist()))
    wide = [max(0.0, s - NARROW) for s in share]
    cost += sum(
        taste.tone[a, b] * wide[a] * wide[b] for a in swatches for b in swatches
    )
    for bond in taste.bonds:
        for (a, b), weight in zip(bond.links, bond.weight, strict=True):
            cost -= weight * bond.gain[x[a], x[b]]
    zones, none = len(taste.hues_cost), taste.hues_cost.shape[1] - 2
    for zone in range(zones):
        here = [taste.hue[k] for c, k in enumerate(x) if taste.zone[c] == zone]
        cost += taste.hues_cost[zone, len(set(here) - {none})]
    return float(cost)


@pytest.mark.parametrize("seed", range(6))
def test_a_cost_is_the_sum_of_all_that_is_preferred(seed: int) -> None:
    taste, _, x = state_wishes(seed, _CLASSES, _SWATCHES)
    rng = np.random.default_rng(seed)
    many = np.vstack([x, rng.integers(0, _SWATCHES, (20, _CLASSES)), 0 * x])
    costs = taste.measure_all(many)
    assert costs == pytest.approx([plainly(taste, row) for row in many])
    assert taste.measure(x) == costs[0]


def test_hues_are_counted_by_zone() -> None:
    taste, _, x = state_wishes(2, _CLASSES, _SWATCHES)
    found = taste.count_hues(x)
    for zone in range(len(taste.hues_cost)):
        mine = taste.hue[x[taste.zone == zone]]
        assert found[zone, :-1].tolist() == [int((mine == h).sum()) for h in range(3)]
    assert (found[:, -1] > _CLASSES).all()  # no hue never comes and never goes


@pytest.mark.parametrize("seed", range(6))
def test_a_price_is_what_a_little_more_area_costs(seed: int) -> None:
    taste, _, x = state_wishes(seed, _CLASSES, _SWATCHES)
    # one class of next to no area goes from swatch to swatch; nothing else counts
    tiny, none = 1e-6, np.zeros(len(x) + 1)
    alone = replace(
        taste,
        area=np.append(taste.area, tiny),
        cost=np.zeros((len(x) + 1, _SWATCHES)),
        bonds=(),
        used_gain=np.zeros(_SWATCHES),
        zone=none.astype(int),
        hues_cost=np.zeros_like(taste.hues_cost[:1]),
    )
    prices = _prices(alone, np.append(x, 0))
    cost = [alone.measure(np.append(x, k)) for k in range(_SWATCHES)]
    wide = np.bincount(x, taste.area, _SWATCHES) > NARROW + 2 * tiny
    assert wide.any()
    # swatches about as wide as what counts as narrow have a corner in their cost
    for a, b in itertools.combinations(np.flatnonzero(wide), 2):
        slope = (cost[a] - cost[b]) / tiny
        assert slope == pytest.approx(prices[a] - prices[b], abs=1e-4)


@pytest.mark.parametrize("seed", range(6))
def test_sweeping_keeps_the_fence_and_never_ends_worse(seed: int) -> None:
    taste, fence, x = state_wishes(seed, 60, _SWATCHES)
    ticks = []
    found = sweep(taste, fence, x, 40, 0, lambda: ticks.append(1))
    assert fence.holds(found)
    assert 0 < len(ticks) <= 40
    # by far: chance alone would not come below the best of a hundred
    rng = np.random.default_rng(seed)
    trials = [
        y
        for y in (np.where(rng.random(60) < 0.1, rng.integers(0, _SWATCHES, 60), x)
                  for _ in range(400))
        if fence.holds(y)
    ]  # fmt: skip
    best = min(map(taste.measure, [x, *trials]))
    assert taste.measure(found) < best
    again = sweep(taste, fence, x, 40, 0, lambda: None)
    assert (again == found).all()


@pytest.mark.parametrize("seed", range(8))
def test_a_swatch_is_left_out_where_its_classes_can_do_without(seed: int) -> None:
    taste, fence, x = state_wishes(seed, _CLASSES, _SWATCHES)
    for swatch in range(_SWATCHES):
        y = _without(taste, fence, x, swatch)
        if y is None:
            continue
        assert fence.holds(y)
        assert swatch not in y
        assert (y == x)[x != swatch].all()
        assert set(y.tolist()) <= set(x.tolist())
        # one class alone takes what costs least, but for areas
        if (x == swatch).sum() == 1:
            (c,) = np.flatnonzero(x == swatch)
            bare = replace(taste, strength=0 * taste.strength, tone=0 * taste.tone,
                           used_gain=0 * taste.used_gain,
                           hues_cost=0 * taste.hues_cost)  # fmt: skip
            ways = [np.where(np.arange(len(x)) == c, k, x) for k in set(x.tolist())]
            sound = [way for way in ways if fence.holds(way) and way[c] != swatch]
            assert bare.measure(y) == pytest.approx(min(map(bare.measure, sound)))


def test_swatches_go_while_each_costs_more_but_four_stay() -> None:
    # no wish but that fewer are used: six classes of six swatches, no two linked
    taste, fence, _ = state_wishes(0, 6, 6)
    dear = replace(
        taste,
        cost=np.zeros((6, 6)),
        bonds=(),
        strength=np.zeros(6),
        tone=np.zeros((6, 6)),
        used_gain=np.full(6, -1.0),
        hues_cost=np.zeros_like(taste.hues_cost),
        area=np.array([1, 2, 3, 4, 5, 6]) / 21,
    )
    none = np.empty((0, 2), int)
    free = replace(
        fence, allowed=np.ones((6, 6), bool), links=none, unlike=none, most=None
    )
    found = _with_fewer(dear, free, np.arange(6))
    # the narrowest two are gone
    assert set(found.tolist()) == {2, 3, 4, 5}
    kept = _with_fewer(replace(dear, used_gain=np.zeros(6)), free, np.arange(6))
    assert kept.tolist() == list(range(6))


def test_the_widest_two_count_as_one_tone_where_they_are_near() -> None:
    taste, _, _ = state_wishes(1, 6, 6)
    near = np.zeros((6, 6))
    near[1, 2] = near[2, 1] = 0.7
    blank = replace(taste, near=near, tone=np.zeros((6, 6)),
                    area=np.array([0.3, 0.3, 0.1, 0.1, 0.1, 0.1]))  # fmt: skip
    told = blank.part_widest(np.array([1, 2, 3, 3, 0, 5]))
    assert told.tone.tolist() == near.tolist()
    # the widest are apart, or there is one alone
    assert blank.part_widest(np.array([1, 3, 2, 2, 0, 5])) is None
    assert blank.part_widest(np.array([1, 1, 1, 1, 1, 1])) is None


def test_judgement_is_the_share_of_what_could_be_gained() -> None:
    taste, _, _ = state_wishes(1, 2, 3)
    gain = np.array([[0.0, 2.0, 1.0], [2.0, 0.0, 1.0], [1.0, 1.0, 0.0]])
    bond = Bond("one", np.array([[0, 1]]), np.array([3.0]), gain)
    plain = replace(
        taste, cost=np.array([[0.0, 1.0, 4.0], [2.0, 0.0, 0.0]]), bonds=(bond,)
    )
    # of 4 + 2 by class and 3 x 2 at the bond
    for x, kept in (((0, 1), 4 + 2 + 6), ((1, 0), 3 + 0 + 6), ((2, 2), 0 + 2 + 0)):
        assert plain.judge(np.array(x)) == pytest.approx(kept / 12)
    flat = replace(plain, cost=np.ones((2, 3)), bonds=())
    assert flat.judge(np.array([0, 1])) == 1.0
