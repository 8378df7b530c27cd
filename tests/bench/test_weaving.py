"""CPU time of weaving, and its growth from n to 2n crossings.

Printed is the ratio to shapely's ``unary_union`` of the same lines in the same run;
nothing is asserted of time. Run: ``pytest -m bench -s tests/bench/test_weaving.py``.
"""

from __future__ import annotations

import time

import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.weave import weave_lines
from tests.unit.bands.test_strands_alternate import weave_of_squares

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
