"""Bands as broad as their gaps, and rings that turn while they are out of sight."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.found import find_bands
from tests.unit.helpers import linework_from_segments

STEP = 20.0
OVER = {
    "plain": lambda i, j: (i + j) % 2 < 1,
    "twill": lambda i, j: (i + j) % 4 < 2,
    "basket": lambda i, j: (i // 2 + j // 2) % 2 < 1,
}


def framed(side: float) -> list[list[float]]:
    corners = [(0, 0), (side, 0), (side, side), (0, side)]
    return [[*corners[k - 1], *corners[k]] for k in range(4)]


def cloth(count: int, width: float, weave: str, inset: float) -> np.ndarray:
    """Return rails of bands that run across a square, each under or over the others."""
    side, rails = STEP * count, framed(STEP * count)
    for i in range(count):
        for level in (0, 1):
            ends = [inset]
            for j in range(count):
                at = (i, j) if level else (j, i)
                if OVER[weave](*at) == bool(level):
                    middle = STEP * (j + 0.5)
                    ends += [middle - width / 2, middle + width / 2]
            ends.append(side - inset)
            across = [STEP * (i + 0.5) + off for off in (-width / 2, width / 2)]
            lines = [
                [a, y, b, y]
                for a, b in zip(ends[::2], ends[1::2], strict=True)
                for y in across
            ]
            if inset:
                lines += [[e, across[0], e, across[1]] for e in (inset, side - inset)]
            rails += [[y, x, v, u] if level else [x, y, u, v] for x, y, u, v in lines]
    return np.array(rails, float)


@pytest.mark.parametrize("inset", [0.0, 2.0])
@pytest.mark.parametrize("share", [0.45, 0.5, 0.56])
@pytest.mark.parametrize("weave", list(OVER))
def test_bands_as_broad_as_their_gaps_are_told_from_these(weave, share, inset) -> None:
    count = 6
    side = STEP * count
    segments = cloth(count, share * STEP, weave, inset)
    regions = build_arrangement(linework_from_segments(segments, side, side))
    bands = find_bands(regions)
    assert bands is not None
    assert bands.sure
    assert len(bands.strands) == 2 * count
    assert bands.crossings == count**2
    # where it goes under another one a band is parted once more
    assert (bands.part > 0).sum() == 2 * count + count**2
    assert np.allclose([s.width for s in bands.strands], share * STEP, rtol=1e-6)


def test_what_lies_side_by_side_is_no_band_because_it_is_in_line() -> None:
    # squares in a net of equal strips that all lie on one level
    lines = [[x, 0, x, 100] for x in range(0, 101, 10)]
    lines += [[y, x, v, u] for x, y, u, v in lines]
    regions = build_arrangement(
        linework_from_segments(np.array(lines, float), 100, 100)
    )
    assert find_bands(regions) is None


def ring(centre: tuple[float, float], radius: float) -> np.ndarray:
    turn = np.radians(np.arange(361) + 0.5)
    return np.array(centre) + radius * np.column_stack([np.cos(turn), np.sin(turn)])


def linked_rings(radius: float, width: float, count: int, step: float):
    """Return a row of rings, each over the next one above and under it below."""
    side = step * (count - 1) + 2 * radius + 24
    centres = [(radius + 12 + step * k, side / 2) for k in range(count)]
    rise = np.sqrt(radius**2 - step**2 / 4)
    spots = [((a[0] + b[0]) / 2, a[1]) for a, b in pairwise(centres)]
    rows = framed(side)
    for k, centre in enumerate(centres):
        hidden = []
        for other, sign in ((k + 1, -1), (k - 1, 1)):
            if 0 <= other < count:
                spot = spots[min(k, other)]
                place = shapely.Point(spot[0], spot[1] + sign * rise).buffer(rise)
                band = shapely.LineString(ring(centres[other], radius))
                hidden.append(band.buffer(width / 2, quad_segs=32).intersection(place))
        for reach in (radius - width / 2, radius + width / 2):
            rail = shapely.LineString(ring(centre, reach))
            rail = rail.difference(shapely.union_all(hidden))
            for part in shapely.get_parts(rail):
                p = shapely.get_coordinates(part)
                rows += np.hstack([p[:-1], p[1:]]).tolist()
    return np.array(rows), side


@pytest.mark.parametrize(("radius", "width"), [(10.0, 2.0), (10.5, 3.4), (11.5, 4.2)])
def test_rings_go_on_round_under_the_next(radius, width) -> None:
    segments, side = linked_rings(radius, width, 6, 16.0)
    lines = linework_from_segments(segments, side, side)
    bands = find_bands(build_arrangement(lines))
    assert bands is not None
    assert bands.sure
    assert bands.crossings == 10
    # a ring is parted wherever it goes under another one
    assert (bands.part > 0).sum() == 10
    assert len(bands.strands) == 6
    assert all(strand.closed for strand in bands.strands)
    around = [strand.length for strand in bands.strands]
    assert np.allclose(around, 2 * np.pi * radius, rtol=0.05)


def test_regions_of_no_kind_at_all_are_found_as_without_kinds() -> None:
    regions = build_arrangement(
        linework_from_segments(cloth(6, 9.0, "plain", 0.0), 120, 120)
    )
    none = np.full(regions.face_count, -1)
    plain, told = (find_bands(regions, kind_of_face=k) for k in (None, none))
    assert told is not None
    assert told.strands == plain.strands
    assert told.part.tolist() == plain.part.tolist()


@pytest.mark.parametrize(("width", "seen"), [(18.1, True), (18.3, False)])
def test_pieces_of_bands_are_longer_than_wide_by_a_fifth(width, seen) -> None:
    # between two bands over it a piece is 40 mm less their width long: 1.21 and 1.19
    segments = cloth(6, width, "plain", 0.0)
    regions = build_arrangement(linework_from_segments(segments, 120, 120))
    bands = find_bands(regions)
    assert (bands is not None) == seen
    # of a width that is told they need not be
    known = find_bands(regions, width=width)
    for found in (bands, known) if seen else (known,):
        assert (found.sure, found.crossings, len(found.strands)) == (True, 36, 12)
