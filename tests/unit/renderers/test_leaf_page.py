"""The page of leaf says what a hand would reckon, and draws it to one scale."""

import numpy as np
import pytest

from fillwork.renderers.scene import Fills, Text
from fillwork.renderers.sheets.leaf_page import compose_leaf
from tests.unit.plans.test_schedule import made

# six gilded squares of 200 mm; with the lap of 3 mm all round 206 mm, which leaves of
# 80 mm cover, 3 mm over each other, as 80 + 77 + 49: pieces of 80, 80, 52 mm each way


def page():
    schedule, palette, orbits = made("gilded-ceiling", (0, 2, 5, 8), real_scale=20.0)
    (scene,) = compose_leaf(schedule, palette, orbits, title="Board")
    return scene


def test_leaves_of_squares_by_hand():
    told = [item.text for item in page().items if isinstance(item, Text)]
    # 54 leaves and 12 % more are 60.48
    head = "gold leaf: 54 leaves of 80 x 80 mm laid, lap 3 mm, 12 % lost: 61 leaves"
    assert head in told
    at = told.index("B: 6 of them")
    assert told[at + 1] == "9 pieces each, 4 whole leaves"
    cut = told[told.index("How leaves are cut") + 1 : -1]
    assert set(zip(cut[::2], cut[1::2], strict=True)) == {
        ("24 leaves so", "80 x 80 mm"),
        ("24 leaves so", "80 x 52 mm"),
        ("6 leaves so", "52 x 52 mm"),
    }


def test_shapes_and_cuts_stand_on_the_page_at_their_sizes():
    scene = page()
    boxes = []
    for item in scene.items:
        if isinstance(item, Fills):
            points = item.shapes.pieces.data[:, :4].reshape(-1, 2)
            assert (points > 0).all()
            assert (points < (scene.width, scene.height)).all()
            boxes.append(np.ptp(points, axis=0))
    _, *cuts = boxes
    whole = max(size[0] for size in cuts)
    shares = sorted((round(80 * w / whole), round(80 * h / whole)) for w, h in cuts)
    assert shares == [(52, 52), (80, 52), (80, 80)]


def test_pieces_of_a_leaf_are_counted_in_words() -> None:
    from dataclasses import replace

    from fillwork.plans.leafing import CutLeaf

    schedule, palette, orbits = made("gilded-ceiling", (0, 2, 5, 8), real_scale=20.0)
    (plan,) = schedule.leafing
    half = (0.0, 0.0, 80.0, 40.0)
    leaves = (
        CutLeaf((half, (0.0, 40.0, 80.0, 40.0)), 2),
        CutLeaf((half,), 1),
    )
    plan = replace(plan, leaves=leaves)
    cut = replace(schedule, leafing=(plan,))
    (scene,) = compose_leaf(cut, palette, orbits, title="Board")
    told = [item.text for item in scene.items if isinstance(item, Text)]
    # each leaf in its frame: two halves one over the other, and one half below
    cuts = [
        item.shapes.pieces.data[:, :2]
        for item in scene.items
        if isinstance(item, Fills)
    ][-3:]
    at = told.index("2 leaves so")
    places = [i.at[0] for i in scene.items if isinstance(i, Text)]
    below, above, other = (np.r_[c.min(axis=0), c.max(axis=0)] for c in cuts)
    side = below[2] - below[0]
    assert below[:2] == pytest.approx(above[:2] - (0, side / 2))
    assert above[2:] == pytest.approx(below[2:] + np.array([0, side / 2]))
    assert other[2:] - other[:2] == pytest.approx((side, side / 2))
    assert other[1] == pytest.approx(below[1])
    assert other[0] > above[2]
    # the words stand under their leaf
    assert (places[at], places[told.index("1 leaf so")]) == pytest.approx(
        (below[0], other[0])
    )
    assert told[told.index("2 leaves so") + 1] == "2 pieces"
    assert told[told.index("1 leaf so") + 1] == "80 x 40 mm"
