"""Two-colour interlace: strands that change places under counterchange."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.drawing import as_linework
from fillwork.bands.kinds import bands_of_woven, join_strands
from fillwork.bands.weave import weave_lines
from fillwork.colouring.adjacency import measure_adjacency
from fillwork.colouring.counterchange.alternating_kinds import KindReader
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from tests.unit.bands.test_weave import kagome
from tests.unit.helpers import linework_from_segments, polyline


def weave_of_squares(count: int = 8, step: float = 10.0):
    """Return lines of warp and weft in a frame."""
    side = count * step
    at = (np.arange(count) + 0.5) * step
    rows = [[0, y, side, y] for y in at] + [[x, 0, x, side] for x in at]
    frame = polyline([(0, 0), (side, 0), (side, side), (0, side)], closed=True)
    return linework_from_segments(np.vstack([rows, frame]), width=side, height=side)


@pytest.mark.parametrize(
    ("lines", "width", "colours"),
    [(weave_of_squares(), 3.0, 2), (kagome(115.0, 95.0), 1.2, 3)],
)
def test_families_of_strands_change_places(lines, width, colours) -> None:
    # a plain weave of two colours has its warp in the one and its weft in the other,
    # and three families at 120° can have one of three each: Grünbaum and Shephard,
    # "Satins and twills", Mathematics Magazine 53, 1980 (from memory)
    woven = weave_lines(build_arrangement(lines), width)
    regions = build_arrangement(as_linework(woven, lines), close_gaps=0.0)
    plain = find_orbits(regions, find_zones(regions))
    orbits, bands = join_strands(plain, bands_of_woven(regions, woven))
    reader = KindReader(regions, orbits, measure_adjacency(regions, orbits))
    row = next(n for n, o in enumerate(orbits.orbits) if o.band)
    kind = reader.kind(row)
    assert kind is not None
    assert kind.doubtful <= 0.02 * len(kind.faces)
    way = reader.ways(kind, colours)[0]
    strand = bands.strand[kind.faces]
    heading = np.array([_heading(regions, f) for f in kind.faces])
    long = heading >= 0
    for number in np.unique(strand):
        assert len(set(way.label[strand == number].tolist())) == 1
    # families and colours are the same division
    pairs = {
        (int(h), int(c)) for h, c in zip(heading[long], way.label[long], strict=True)
    }
    assert len(pairs) == colours
    assert way.alike == 0


def _heading(regions, face: int) -> int:
    """Return the direction of a long piece, in steps of 30°, -1 for stubs."""
    outline = regions.polygons(np.array([face]))[0].minimum_rotated_rectangle
    points = np.array(outline.exterior.coords)
    sides = np.diff(points, axis=0)[:2]
    size = np.hypot(*sides.T)
    if size.max() < 2 * size.min():
        return -1
    longest = sides[size.argmax()]
    angle = np.degrees(np.arctan2(longest[1], longest[0])) % 180
    return int(np.rint(angle / 30)) % 6
