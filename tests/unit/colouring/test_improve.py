"""Steps weighed without being made, against the same steps made and measured."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fillwork.colouring.model import Rules
from fillwork.colouring.palettes.file import read_palette
from fillwork.colouring.search.anneal import anneal
from fillwork.colouring.search.improve import _Place, improve
from fillwork.colouring.search.seek import find_assignment
from fillwork.colouring.search.setting import prepare_setting
from fillwork.colouring.search.sweeping import _hue_change, _Sums
from fillwork.pipeline.surveying import make_survey
from tests.unit.colouring.stand_ins import pick_pairs, state_wishes

_CLASSES, _SWATCHES = 14, 6


@pytest.mark.parametrize("seed", range(6))
def test_every_open_step_and_no_other_is_weighed_by_what_it_changes(seed: int) -> None:
    taste, fence, x = state_wishes(seed, _CLASSES, _SWATCHES)
    assert fence.holds(x)
    now = _Place(taste, fence, x)
    rng = np.random.default_rng(seed)
    for _ in range(8):
        now.weigh()
        x = now.x.copy()
        before = taste.measure(x)
        steps, change = now.singles()
        weighed = dict(zip(steps.tolist(), change.tolist(), strict=True))
        for step in range(_CLASSES * _SWATCHES):
            c, s = divmod(step, _SWATCHES)
            y = x.copy()
            y[c] = s
            assert (step in weighed) == (s != x[c] and fence.holds(y))
            if step in weighed:
                assert taste.measure(y) - before == pytest.approx(weighed[step])
        there, back, change = now.swaps()
        ways = zip(there.tolist(), back.tolist(), change.tolist(), strict=True)
        found = {(a // _SWATCHES, b // _SWATCHES): value for a, b, value in ways}
        for a, b in itertools.permutations(range(_CLASSES), 2):
            y = x.copy()
            y[[a, b]] = x[[b, a]]
            assert ((a, b) in found) == (x[a] != x[b] and fence.holds(y))
            if (a, b) in found:
                assert taste.measure(y) - before == pytest.approx(found[a, b])
        if len(steps):  # on, by whatever step
            c, s = divmod(int(rng.choice(steps)), _SWATCHES)
            now.move(c, s)


def test_sums_that_follow_are_those_made_anew_to_the_last_bit() -> None:
    rng = np.random.default_rng(4)
    pairs, weight = pick_pairs(rng, _CLASSES, 30), rng.random(30)
    gain = rng.random((_SWATCHES, _SWATCHES))
    x = rng.integers(0, _SWATCHES, _CLASSES)
    sums = _Sums(pairs, weight, gain, x)
    for _ in range(20):
        moved = rng.random(_CLASSES) < 0.2
        x = np.where(moved, rng.integers(0, _SWATCHES, _CLASSES), x)
        sums.follow(x, moved)
        np.testing.assert_array_equal(sums.of, _Sums(pairs, weight, gain, x).of)
        expected = np.zeros((_CLASSES, _SWATCHES))
        for (a, b), w in zip(pairs, weight, strict=True):
            expected[a] += w * gain[x[b]]
            expected[b] += w * gain[x[a]]
        np.testing.assert_allclose(sums.of, expected, rtol=1e-12)


def test_change_of_hues_is_what_the_assignment_costs_more() -> None:
    taste, _, x = state_wishes(1, _CLASSES, _SWATCHES)
    plain = replace(
        taste,
        cost=0.0 * taste.cost,
        bonds=(),
        strength=0.0 * taste.strength,
        used_gain=0.0 * taste.used_gain,
        tone=0.0 * taste.tone,
    )
    change = _hue_change(plain, plain.count_hues(x), x)
    for c, s in itertools.product(range(_CLASSES), range(_SWATCHES)):
        y = x.copy()
        y[c] = s
        assert change[c, s] == pytest.approx(plain.measure(y) - plain.measure(x))


@pytest.mark.parametrize("name", ["blue-green-hills", "new-factory", "jungle-stair"])
def test_no_assignment_that_was_met_is_left_for_a_worse_one(name):
    # the whole judgement counts: of the widest two alike in value, by that too, and of
    # no others
    drawing = Path(__file__).parents[3] / "demo/drawings/framed-panel.svg"
    survey = make_survey(drawing)
    where = survey.arrangement, survey.orbits, survey.adjacency
    setting = prepare_setting(*where, read_palette(name), Rules(counterchange="no"))
    taste, fence = setting.taste, setting.fence

    def whole(swatches):
        return (taste.part_widest(swatches) or taste).measure(swatches)

    found, _ = find_assignment(setting, seed=0)
    for start in anneal(taste, fence, many=48, sweeps=58, seed=0)[:3]:
        bettered, _ = improve(taste, fence, start, steps=222, seed=0)
        assert whole(found) <= whole(bettered) + 1e-9
