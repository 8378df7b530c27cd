"""Drawings whose symmetry and kinds are known by construction, set by set.

Groups come from gemmi's tables, from the table of friezes in
`tests/unit/symmetry/strips.py` and from the tilings of the literature; nothing
that is expected here comes from the package.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import arc, line, linework_from_curves, linework_from_segments
from tests.unit.symmetry.cells import agreement
from tests.unit.symmetry.truth import kinds_by_construction

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.model import Orbits, Zone
    from tests.unit.symmetry.patterns import Pattern

__all__ = ["Tally", "judge_pattern", "random_drawing", "read_pattern", "survey"]


@dataclass
class Tally:
    """Count what was right in a set."""

    cases: int = 0
    right: int = 0
    sure_and_wrong: int = 0
    as_plane: int = 0
    whole: int = 0
    whole_right: int = 0
    cut: int = 0
    cut_right: int = 0
    unlike: int = 0
    cpu: float = 0.0
    wrong: list[str] = field(default_factory=list)

    def line(self, name: str) -> str:
        share = 100 * self.right / max(self.cases, 1)
        whole = 100 * self.whole_right / max(self.whole, 1)
        cut = 100 * self.cut_right / max(self.cut, 1)
        both = 100 * (self.whole_right + self.cut_right)
        both /= max(self.whole + self.cut, 1)
        text = (
            f"{name}: group {self.right} of {self.cases} ({share:.1f} %), wrong and "
            f"sure {self.sure_and_wrong}; in the right kind {whole:.2f} % of "
            f"{self.whole} whole, {cut:.2f} % of {self.cut} cut, {both:.2f} % of both; "
            f"{self.cpu / max(self.cases, 1):.2f} s CPU a drawing"
        )
        if self.unlike:
            text += f"; {self.unlike} regions that only the noise made left out"
        return text + "".join(f"\n    {w}" for w in self.wrong)


def survey(arrangement: Arrangement) -> tuple[tuple[Zone, ...], Orbits, float]:
    """Return zones, kinds and the CPU seconds that both took."""
    start = time.process_time()
    zones = find_zones(arrangement)
    orbits = find_orbits(arrangement, zones)
    return zones, orbits, time.process_time() - start


def read_pattern(pattern: Pattern, edge: str) -> tuple[Arrangement, np.ndarray]:
    """Return the faces of a pattern, and what was added to its points.

    ``edge`` says what cuts it: ``page`` an upright page, ``drawn`` its outline as
    lines, ``open`` nothing.
    """
    segments = pattern.segments
    low, high = (np.array(pattern.window.bounds[k : k + 2]) for k in (0, 2))
    if edge == "drawn":
        ring = shapely.get_coordinates(pattern.window.exterior)
        segments = np.vstack([segments, np.hstack([ring[:-1], ring[1:]])])
    if edge == "open":
        ends = segments.reshape(-1, 2)
        low, high = ends.min(axis=0), ends.max(axis=0)
    width, height = (float(v) for v in high - low)
    moved = segments - np.tile(low, 2)
    work = linework_from_segments(moved, width, height, has_page=edge == "page")
    page_edge = "close" if edge == "page" else "open"
    # strokes at random end near others: they are meant as they are, no gaps to close
    return build_arrangement(work, page_edge=page_edge, close_gaps=0.0), -low


def judge_pattern(
    tally: Tally, pattern: Pattern, family: str, edge: str, label: str
) -> None:
    """Survey a pattern and count what is right."""
    arrangement, offset = read_pattern(pattern, edge)
    zones, orbits, cpu = survey(arrangement)
    tally.cases += 1
    tally.cpu += cpu
    found = max(zones, key=lambda z: float(arrangement.area[z.faces].sum())).symmetry
    right = len(zones) == 1 and found.group.family == family
    right &= found.group.short == pattern.group
    if right and found.lattice is not None:
        # the repeat's size too, so that no sublattice passes
        sizes = [
            float(np.sqrt(abs(np.linalg.det(b @ b.T))))
            for b in (np.asarray(found.lattice.basis), pattern.basis)
        ]
        right &= abs(sizes[0] / sizes[1] - 1) < 0.03
    tally.right += right
    tally.as_plane += family != "plane" and found.group.family == "plane"
    if not right:
        tally.sure_and_wrong += found.certain
        tally.wrong.append(
            f"{label} {pattern.group}: {found.group.family} {found.group.short}, "
            f"{len(zones)} zones, {'sure' if found.certain else found.reason}"
        )
    kind, cut = kinds_by_construction(pattern, arrangement, offset)
    known = kind >= 0
    tally.unlike += int((~known).sum())
    if not known.any():
        return
    good = agreement(kind[known], orbits.of_face[1:][known])
    cut = cut[known]
    tally.whole += int((~cut).sum())
    tally.whole_right += int(good[~cut].sum())
    tally.cut += int(cut.sum())
    tally.cut_right += int(good[cut].sum())


def _random_rows(rng: np.random.Generator, style: str, count: int) -> list:
    """Return rows of curves at random."""
    if style == "lines":
        return [line(*rng.uniform(0, 200, 4)) for _ in range(count)]
    if style == "strokes":
        start = rng.uniform(0, 200, (count, 2))
        far = start + rng.normal(0, 40, (count, 2))
        return [line(*a, *b) for a, b in zip(start, far, strict=True)]
    if style == "circles":
        return [
            arc(*rng.uniform(20, 180, 2), rng.uniform(6, 40), 0.0, 2 * np.pi)
            for _ in range(count)
        ]
    if style == "arcs":
        rows = []
        for _ in range(count):
            first = rng.uniform(0, 2 * np.pi)
            last = first + rng.uniform(1, 6)
            rows.append(arc(*rng.uniform(20, 180, 2), rng.uniform(10, 60), first, last))
        return rows
    if style == "boxes":
        rows = []
        for _ in range(count):
            x, y = rng.uniform(0, 160, 2)
            w, h = rng.uniform(8, 40, 2)
            ring = shapely.box(x, y, x + w, y + h)
            ring = shapely.affinity.rotate(ring, rng.choice([0.0, rng.uniform(0, 90)]))
            xy = shapely.get_coordinates(ring)
            rows += [line(*a, *b) for a, b in pairwise(xy)]
        return rows
    # cells about points at random
    points = shapely.multipoints(rng.uniform(0, 200, (3 * count, 2)))
    edges = shapely.get_parts(shapely.voronoi_polygons(points, only_edges=True))
    edges = shapely.intersection(edges, shapely.box(0, 0, 200, 200))
    rows = []
    for edge in shapely.get_parts(edges):
        xy = shapely.get_coordinates(edge)
        rows += [line(*a, *b) for a, b in pairwise(xy)]
    return rows


STYLES = ("lines", "strokes", "circles", "arcs", "boxes", "cells", "mixed")


def random_drawing(seed: int) -> tuple[Arrangement, str]:
    """Return a drawing without any symmetry, and its style."""
    rng = np.random.default_rng([4, seed])
    style = STYLES[seed % len(STYLES)]
    count = int(rng.integers(8, 45))
    if style == "mixed":
        rows = _random_rows(rng, "arcs", count // 2)
        rows += _random_rows(rng, "strokes", count // 2)
    else:
        rows = _random_rows(rng, style, count)
    edge = "close" if seed % 3 else "open"
    work = linework_from_curves(rows, 200, 200, has_page=edge == "close")
    return build_arrangement(work, page_edge=edge), style
