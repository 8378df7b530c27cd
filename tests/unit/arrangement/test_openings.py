"""Openings of a panel: never a region, wherever their edges' ends lie."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
    'viewBox="0 0 100 100"><g fill="none" stroke="#000" stroke-width=".3">'
    '<path d="M{a:.6f} {a:.6f}h{b:.6f}v{b:.6f}h-{b:.6f}z"/>'
    '<g id="opening" data-layer="opening">'
    '<circle cx="{x:.6f}" cy="{x:.6f}" r="{r:.6f}"/>'
    "</g></g></svg>"
)


@pytest.mark.parametrize("seed", range(12))
def test_a_round_opening_is_open_wherever_it_is(seed: int) -> None:
    # the ends of its arcs lie level with its middle and differ in the last bit
    rng = np.random.default_rng(seed)
    middle, radius = 50 + rng.normal(scale=0.01), rng.uniform(5, 20)
    text = SVG.format(a=10.0, b=80.0, x=middle, r=radius)
    regions = build_arrangement(read_linework(text.encode(), name="hole.svg"))
    assert regions.faces_at([[middle, 100 - middle]]).tolist() == [0]
    assert regions.area[1:].sum() == pytest.approx(6400 - math.pi * radius**2, rel=1e-6)
