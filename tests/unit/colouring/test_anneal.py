"""Assignments cooled side by side, against all assignments tried one by one."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from fillwork.colouring.search.anneal import anneal
from tests.unit.colouring.stand_ins import state_wishes

_CLASSES, _SWATCHES = 6, 4  # 4 096 assignments


@pytest.mark.parametrize("seed", range(8))
def test_the_best_is_the_best_of_all_there_are(seed: int) -> None:
    taste, fence, _ = state_wishes(seed, _CLASSES, _SWATCHES)
    every = np.array(list(itertools.product(range(_SWATCHES), repeat=_CLASSES)))
    sound = every[[fence.holds(x) for x in every]]
    costs = taste.measure_all(sound)
    found = anneal(taste, fence, many=48, sweeps=80, seed=0)
    assert all(fence.holds(x) for x in found)
    assert len(np.unique(found, axis=0)) == len(found)
    assert taste.measure(found[0]) == pytest.approx(costs.min())
    assert (np.diff(taste.measure_all(found)) >= 0.0).all()


@pytest.mark.parametrize("seed", range(3))
def test_what_is_found_costs_the_same_in_whatever_order_classes_stand(
    seed: int,
) -> None:
    taste, fence, _ = state_wishes(seed, 10, 6)
    best = taste.measure(anneal(taste, fence, many=48, sweeps=80, seed=0)[0])
    order = np.random.default_rng(seed).permutation(10)  # order[new] is the old one
    place = np.argsort(order)
    turned = replace(
        taste,
        area=taste.area[order],
        cost=taste.cost[order],
        zone=taste.zone[order],
        bonds=tuple(replace(bond, links=place[bond.links]) for bond in taste.bonds),
    )
    within = replace(
        fence,
        allowed=fence.allowed[order],
        links=place[fence.links],
        unlike=place[fence.unlike],
    )
    again = anneal(turned, within, many=48, sweeps=80, seed=0)[0]
    assert turned.measure(again) == pytest.approx(best)


def test_none_is_returned_where_no_assignment_keeps_the_fence() -> None:
    taste, fence, _ = state_wishes(0, 3, 2)
    all_apart = np.array([[0, 1], [1, 2], [0, 2]])
    shut = replace(
        fence,
        allowed=np.ones((3, 2), bool),
        links=all_apart,
        link_ok=~np.eye(2, dtype=bool),
    )
    assert anneal(taste, shut, many=8, sweeps=10, seed=0).shape == (0, 3)
