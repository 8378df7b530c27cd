"""Weaving: 200 drawings that alternate, CPU time and its growth.

Printed is the ratio to shapely's ``unary_union`` of the same lines in the same run;
nothing is asserted of time. Run: ``pytest -m bench -s tests/bench/test_weaving.py``.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.levels import choose_levels
from fillwork.bands.strands import follow_strands, gather_lines
from fillwork.bands.weave import weave_lines
from fillwork.errors import LineWorkError
from tests.bench.strapwork import middle_lines
from tests.unit.bands.test_strands_alternate import weave_of_squares
from tests.unit.bands.test_weave import star
from tests.unit.helpers import (
    circle,
    linework_from_curves,
    linework_from_segments,
    polyline,
)

if TYPE_CHECKING:
    from fillwork.linework import LineWork

pytestmark = pytest.mark.bench


def test_weaving_grows_evenly() -> None:
    before = 0.0
    for count in (32, 71, 100, 141, 224, 316):
        lines = weave_of_squares(count)
        regions = build_arrangement(lines)
        begin = time.process_time()
        woven = weave_lines(regions, 3.0)
        took = time.process_time() - begin
        # each crossing is one of its two choices, and every line alternates
        assert len(woven.crossings.double) >= count**2
        assert not len(woven.crossings.stuck)
        begin = time.process_time()
        shapely.unary_union(
            shapely.linestrings(lines.curves.data[:, :4].reshape(-1, 2, 2))
        )
        plain = time.process_time() - begin
        growth = f", {took / before:.2f} x the last" if before else ""
        print(
            f"\n{count**2} crossings {took:.2f} s, {took / plain:.1f} x the union"
            + growth
        )
        before = took


def drawings() -> list[LineWork]:
    """Return 200 drawings: stars, closed lines, circles and star patterns at random."""
    rng = np.random.default_rng(5)
    stars = [star(n, k) for n in range(5, 25) for k in range(2, (n + 1) // 2)][:70]
    closed = [
        linework_from_segments(polyline(rng.uniform(5, 95, (count, 2)), True))
        for count in rng.integers(5, 14, 60)
    ]
    circles = [
        linework_from_curves(
            [circle(*rng.uniform(30, 70, 2), rng.uniform(8, 28)) for _ in range(count)]
        )
        for count in rng.integers(3, 9, 40)
    ]
    patterns = []
    for name in ("4^4", "6^3", "4.8^2", "3.6.3.6", "3.4.6.4", "3^6"):
        for angle in np.radians([40, 52, 60, 68, 75]):
            middles = middle_lines(name, 20, 60, angle)
            lines = np.vstack([np.hstack([m[:-1], m[1:]]) for m in middles])
            patterns.append(linework_from_segments(lines))
    return [*stars, *closed, *circles, *patterns]


def test_200_drawings_alternate_where_they_can_and_lose_no_line() -> None:
    tight = 0
    for lines in drawings():
        regions = build_arrangement(lines)
        strands = follow_strands(gather_lines(regions))
        levels = choose_levels(strands)
        closed = all(s.closed for s in strands.strands)
        # Tait 1877: closed lines that cross two by two always can
        assert len(levels.piled) or not closed or not len(levels.stuck)
        chords = lines.curves.flatten(1e-3)[0].reshape(-1, 2, 2)
        drawn = shapely.unary_union(shapely.linestrings(chords))
        # what lies off the page is not drawn
        page = shapely.box(0, 0, lines.frame.width, lines.frame.height)
        drawn = drawn.intersection(page)
        total = sum(s.length for s in strands.strands)
        # lines that nearly lie on each other are made one, and told as a defect
        if not regions.defects:
            assert total == pytest.approx(drawn.length, rel=1e-3)
        try:
            woven = weave_lines(regions, 1e-3)
        except LineWorkError:
            tight += 1  # lines that nearly touch leave no room for any band
            continue
        assert len(np.unique(woven.path_strand)) == len(strands.strands)
    print(f"\n200 drawings, {tight} without room for a band of 0.001 mm")
    assert tight <= 4
