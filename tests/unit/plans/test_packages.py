"""Packages against exhaustive search on small ones."""

import itertools
import math
import random

import pytest

from fillwork.plans.packages import pick_containers, pick_priced


def cheapest(need, prices):
    """Return the least cost by trying every number of every size."""
    counts = [range(math.ceil(need / size) + 1) for size, _ in prices]
    return min(
        sum(n * p for n, (_, p) in zip(row, prices, strict=True))
        for row in itertools.product(*counts)
        if sum(n * s for n, (s, _) in zip(row, prices, strict=True)) >= need - 1e-9
    )


@pytest.mark.parametrize("seed", range(40))
def test_least_cost_against_all_choices(seed):
    draw = random.Random(seed)
    sizes = draw.sample([20, 60, 100, 120, 250, 400, 500], draw.randint(1, 4))
    prices = [(float(s), round(draw.uniform(0.02, 0.06) * s + 1, 2)) for s in sizes]
    need = draw.uniform(1, 700)
    if math.prod(math.ceil(need / s) + 1 for s, _ in prices) > 50_000:
        need = 90.0
    picked = pick_priced(need, prices)
    assert sum(s * n for s, n in picked) >= need - 1e-6
    paid = sum(dict(prices)[s] * n for s, n in picked)
    assert paid == pytest.approx(cheapest(need, prices))


@pytest.mark.parametrize("seed", range(30))
def test_fewest_against_all_choices(seed):
    draw = random.Random(seed)
    sizes = draw.sample([20.0, 60.0, 100.0, 250.0, 500.0, 1000.0], 4)
    need = draw.uniform(30, 900)
    fitting = [s for s in sizes if s <= 3 * need] or [min(sizes)]
    picked = pick_containers(need, sizes)
    pieces = sum(n for _, n in picked)
    assert pieces == cheapest(need, [(s, 1) for s in fitting])


def test_one_batch_before_many_small_ones():
    assert pick_containers(110.0, (20.0, 60.0, 250.0)) == ((250.0, 1),)


def test_many_sizes_and_much_paint_end_soon():
    sizes = [float(s) for s in range(13, 400, 20)]
    picked = pick_priced(98_765.0, [(s, 1 + s**0.9) for s in sizes])
    assert sum(s * n for s, n in picked) >= 98_765


@pytest.mark.parametrize("share", [1e-15, 1e-10, 1e-9, 1e-3, 1.0])
def test_the_least_need_takes_a_package(share):
    assert pick_containers(250.0 * share, (250.0,)) == ((250.0, 1),)
    assert pick_priced(250.0 * share, [(250.0, 8.5)]) == ((250.0, 1),)
    # and what is a hair more than three takes three
    assert pick_containers(750.0 * (1 + 1e-12), (250.0,)) == ((250.0, 3),)
