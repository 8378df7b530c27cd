"""Bands that a frame cuts, against strands known from the graph of the pattern."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.found import find_bands
from fillwork.bands.short_rails import lead_on_short_rails
from fillwork.pipeline.surveying import make_survey
from fillwork.plans.model import Plan
from tests.bench.bands import panel, score
from tests.bench.strapwork import drawn_as_bands, svg_of_panel, within_panel
from tests.unit.helpers import linework_from_segments


@pytest.mark.parametrize(
    ("kind", "name", "noise", "seed"),
    [
        # a scrap beyond a crossing lies in the way of two bands there
        ("plain", "3.12^2", 0.0, 50117),
        # middles of bands of which the frame leaves less than the one half
        ("middle line", "6^3", 0.0, 50117),
        # two halves, and a scrap of a third strip of their width
        ("middle line, woven", "6^3", 0.0, 71207),
        # a rail that a hand's faults part from the frame by two short edges
        ("two widths, middle line, woven", "4^4", 0.01, 50117),
        # a piece that crosses others at the frame alone
        ("two widths", "3^2.4.3.4", 0.0, 92601),
        # a bit beyond a band that bends, in the way of one that does not go under it
        ("page, woven", "3^6", 0.0, 92601),
        # a crumb of a rail beside a frame, from a point of it to that point
        ("two widths, middle line", "3^3.4^2", 0.0, 92601),
    ],
)
def test_what_a_frame_cuts_is_one_strand_and_no_other(kind, name, noise, seed) -> None:
    one = score(panel(kind, name, noise, seed))
    assert one.whole == one.strands
    assert one.crossed == one.crossings


@pytest.mark.parametrize(
    ("kind", "name", "seed"),
    [
        # bands from frame to frame, one over all others; lines pass under
        ("some lines, woven", "3^2.4.3.4", 50117),
        # one of them has much ground beside it that goes on
        ("some lines, woven", "3^2.4.3.4", 92601),
        # bands that bend cross straight ones; the frame cuts one at both of its bends
        ("some lines, woven", "3^3.4^2", 92601),
        # and broad ground between lines that goes on under bands
        ("some lines, woven", "3.4.6.4", 50117),
        # two crossings of long bands that bend
        ("some lines", "3^2.4.3.4", 50117),
    ],
)
def test_few_bands_among_lines_are_seen(kind, name, seed) -> None:
    one = score(panel(kind, name, 0.0, seed))
    assert one.whole == one.strands
    assert one.crossed == one.crossings
    assert one.false == 0


def test_broad_ground_in_line_drops_no_narrow_band() -> None:
    # by a hand's faults ground goes on at both of its ends, and a band at one of its
    one = score(panel("two widths, woven", "3.4.6.4", 0.01, 92613))
    assert one.found >= 0.95 * one.regions
    assert one.whole >= 0.9 * one.strands
    assert one.false == 0


def bouncing(columns: int, rows: int, step: float) -> list[np.ndarray]:
    """Return the closed lines at 45° that bounce in a grid, with all their corners.

    They are as many as the greatest common divisor of the two numbers, and cross in the
    middles of all inner sides of cells: 2 m n - m - n times.
    """
    size = np.array([2 * columns, 2 * rows])
    seen: set[tuple[int, int]] = set()
    lines = []
    for first in range(1, 2 * columns, 2):
        at, way = np.array([first, 0]), np.array([1, 1])
        if (first, 0) in seen:
            continue
        walk = [at]
        while len(walk) < 2 or (walk[-1] != walk[0]).any():
            seen.add(tuple(at.tolist()))
            way = np.where(at + way > size, -1, np.where(at + way < 0, 1, way))
            at = at + way
            walk.append(at)
        lines.append(np.array(walk) * step + 10.0)
    return lines


@pytest.mark.parametrize("size", [(4, 5), (6, 4)])
@pytest.mark.parametrize(
    "how", [{"woven": True}, {}, {"woven": True, "gap": 0.3}, {"lined": True}]
)
@pytest.mark.parametrize("far", [0.0, 6.0])
def test_a_plait_that_a_frame_does_not_touch_is_found(size, how, far) -> None:
    # lines that bounce in a grid: gcd(m, n) strands, 2 m n - m - n crossings
    lines = bouncing(*size, 4.0)
    work = drawn_as_bands(lines, 1.6, 120.0, frame=False, **how)
    regions = build_arrangement(linework_of_plait(work.segments, far))
    led = lead_on_short_rails(linework_of_plait(work.segments, far), 1e-3)
    bands = find_bands(regions if led is None else build_arrangement(led))
    assert bands is not None
    assert bands.sure
    assert len(bands.strands) == math.gcd(*size)
    assert all(strand.closed for strand in bands.strands)
    assert bands.crossings == 2 * math.prod(size) - sum(size)


def linework_of_plait(segments: np.ndarray, far: float):
    """Return rails, each drawn in one from bend to bend, within a frame if so."""
    joined = shapely.line_merge(shapely.multilinestrings(segments.reshape(-1, 2, 2)))
    parts = shapely.get_parts(shapely.simplify(joined, 1e-6))
    pairs = [np.stack([c[:-1], c[1:]], 1) for c in map(shapely.get_coordinates, parts)]
    rows = np.concatenate(pairs).reshape(-1, 4)
    if far:
        low, high = rows.reshape(-1, 2).min(axis=0), rows.reshape(-1, 2).max(axis=0)
        box = shapely.get_coordinates(shapely.box(*(low - far), *(high + far)))
        rows = np.vstack([rows, np.hstack([box[:-1], box[1:]])])
    return linework_from_segments(rows, 120, 120, line_width=0.2)


@pytest.mark.parametrize(("kind", "name"), [("page, woven", "3^6"), ("page", "4.6.12")])
def test_strands_are_as_long_as_their_middles_in_the_panel(kind, name) -> None:
    # bits beyond bends, crossings that the frame cuts, and what goes under others
    work = panel(kind, name, 0.0, 92601)
    survey = make_survey(svg_of_panel(work), Plan())
    strand, side = survey.bands.strand, work.side
    polygons = survey.arrangement.polygons(valid=True)
    compared = 0
    for middle in within_panel(work)[0].middles:
        line = shapely.LineString(middle * (1, -1) + (0, side))
        inner = shapely.box(0, 0, side, side).buffer(-3)
        if line.intersection(inner).length < 0.6 * side:
            continue
        share = shapely.length(shapely.intersection(polygons, line))
        votes = np.zeros(len(survey.bands.strands))
        held = np.flatnonzero((strand[1:] >= 0) & (share > 0))
        np.add.at(votes, strand[1:][held], share[held])
        found = survey.bands.strands[int(votes.argmax())]
        assert found.length == pytest.approx(line.length, rel=0.05)
        compared += 1
    assert compared >= 10
