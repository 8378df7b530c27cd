"""Number regions that are too small, from a neighbour with a thin line to a dot.

Small regions of one swatch that lie near each other share a number: one line runs
from it to each of them.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.crossings import cross
from fillwork.geometry.ranges import distinct
from fillwork.renderers.scene import NUMBERS, Fills, Item, Labels, dots, segments
from fillwork.renderers.sheets.quiet import NUMBER_INK
from fillwork.renderers.text.room import fit_at, number_body

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.renderers.sheets.parts import NumberedRegions, Parts

    Point = Floats

_DOT = 0.5
"""Diameter of the dot at the end of a leader, mm."""

LINE = 0.15
"""Width of a leader, mm."""

MOST = 600
"""Most regions for which leaders are tried; more would crowd the sheet."""

SHARE = 0.25
"""Share of all regions above which lines to all that are small hide the drawing:
an enlarged repeat shows them better."""

SHARED = 6
"""Most regions that share one number."""

_DISTANCES = np.arange(2.0, 11.0, 0.75)
_WAYS = 24
_LOOKS = (0, 2, 5, 12)
"""Where looks at the distances begin and end: most numbers find a place nearby."""


def unnumbered(parts: Parts, height: Floats) -> Ints:
    """Return the regions that need a number and have none.

    In a zone with symmetry, the regions of kinds of which no region bears a number: one
    that does speaks for them; elsewhere every region without one.

    `height` (F,): height of each region's number, 0 for none.
    """
    orbits, of_face = parts.orbits, parts.colouring.of_face
    needed = (of_face >= 0) & (height <= 0)
    needed[0] = False
    if not needed.any():
        return np.empty(0, np.int64)
    label = parts.label
    # a number in a cut region does not serve the whole ones of its kind
    whole = ~orbits.cut & (of_face >= 0)
    has_whole = np.isin(label, distinct(label[whole]))
    told = distinct(label[(height > 0) & (whole | ~has_whole)])
    needed &= ~(parts.ordered & np.isin(label, told))
    return np.flatnonzero(needed)


def compose_leaders(
    parts: Parts, numbers: NumberedRegions, scale: float
) -> tuple[list[Item], Ints]:
    """Return leaders, and the regions that still need a number.

    `scale`: paper mm for one mm of the drawing. Returns `items`: lines, dots and
    numbers on paper; empty where none was needed or found; `left`: regions for an
    enlarged detail.
    """
    small = unnumbered(parts, numbers.height)
    lone = _lone(parts, numbers, small)
    if not 0 < len(lone) <= MOST:
        return [], small
    places = _Places(parts, numbers, scale)
    taken = _Taken(parts, numbers)
    at, text = [], []
    pointed: dict[int, None] = {}
    order = lone[np.argsort(parts.arrangement.area[lone], kind="stable")].tolist()
    of_text: dict[int, list[int]] = {}
    for face in order:
        of_text.setdefault(int(numbers.text[face]), []).append(face)
    for face in order:
        row = int(numbers.text[face])
        q = None if face in pointed else places.beside(face, row, taken)
        if q is None:
            continue
        half, dot = places.half(row), places.dot[face]
        taken.add(q - half, q + half)
        taken.join(dot, _touch(dot, q, half), row)
        at.append(q)
        text.append(row)
        pointed[face] = None
        # others of the swatch round about hang on the same number
        near = [f for f in of_text[row] if f not in pointed]
        far = np.linalg.norm(places.dot[near] - q, axis=1)
        for k in np.argsort(far, kind="stable")[: SHARED - 1].tolist():
            dot = places.dot[near[k]]
            if far[k] > _DISTANCES[-1]:
                break
            end = _touch(dot, q, half)
            if not taken.crossed(dot, end[None], row)[0]:
                taken.join(dot, end, row)
                pointed[near[k]] = None
    told = numbers.height.copy()
    told[list(pointed)] = places.height
    left = unnumbered(parts, told)
    if not at:
        return [], left
    labels = Labels(
        np.array(at),
        np.full(len(at), places.height),
        np.array(text, np.int32),
        numbers.texts,
        NUMBER_INK,
    )
    lines = np.hstack([taken.dot, taken.end])
    room = parts.arrangement.inscribed[list(pointed)] * scale
    return [
        segments(lines, LINE, NUMBER_INK, layer=NUMBERS),
        _dots(taken.dot, room),
        labels,
    ], left


def _lone(parts: Parts, numbers: NumberedRegions, small: Ints) -> Ints:
    """Return the regions that a leader is sought for."""
    lone = np.flatnonzero((parts.colouring.of_face >= 0) & (numbers.height <= 0))
    lone = lone[lone > 0]
    if len(lone) <= min(MOST, SHARE * parts.arrangement.face_count):
        return lone
    # too many for the sheet: those that no other of their kind speaks for
    alone = [z.faces for z in parts.orbits.zones if z.symmetry.group.family == "none"]
    return np.intersect1d(small, np.concatenate(alone)) if alone else small[:0]


def _dots(at: Point, room: Point) -> Fills:
    """Return dots that stay within their regions, down to half of their size."""
    radius = np.clip(room * 0.8, _DOT / 4, _DOT / 2)
    return dots(at, radius, NUMBER_INK, layer=NUMBERS)


class _Places:
    """Where numbers can stand round regions that are too small for their own."""

    def __init__(self, parts: Parts, numbers: NumberedRegions, scale: float) -> None:
        import shapely

        m = parts.map_to_paper(scale)
        self.sides = parts.sides_on_paper(scale)
        self.dot = affine.apply(m, parts.arrangement.witness)
        self.bodies = [number_body(t, parts.fonts) for t in numbers.texts]
        self.height = max(parts.settings.least_number, 1.2)
        self.hosts = self._hosts(parts.arrangement.area * scale * scale)
        polygons = parts.arrangement.polygons()[self.hosts - 1]
        on_paper = shapely.transform(polygons, lambda xy: affine.apply(m, xy))
        self.tree = shapely.STRtree(on_paper)
        angle = np.arange(_WAYS) * 2 * np.pi / _WAYS
        ways = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        self.offsets = [
            (_DISTANCES[first:last, None, None] * ways[None]).reshape(-1, 2)
            for first, last in pairwise(_LOOKS)
        ]

    def _hosts(self, area: Floats) -> Ints:
        """Return the regions that a number could stand in, by their boxes and areas.

        `area` (F,): of the regions on paper, mm².
        """
        low, high = self.sides.boxes()
        corners = np.array([body.corners for body in self.bodies]) * self.height
        least = np.ptp(corners, axis=1).min(axis=0)
        x, y = np.moveaxis(corners, 2, 0)
        body = abs((x * np.roll(y, -1, 1) - y * np.roll(x, -1, 1)).sum(axis=1)) / 2
        # chords lie on either side of their curves by less than a line is wide
        roomy = ((high - low) > least - LINE).all(axis=1) & (area > 0.9 * body.min())
        roomy[0] = False
        return np.flatnonzero(roomy)

    def half(self, row: int) -> Point:
        """Return half of the room that a number takes."""
        return np.array(self.bodies[row].half) * self.height + 0.25

    def beside(self, face: int, row: int, taken: _Taken) -> Point | None:
        """Return the nearest free place for a region's number in another region."""
        import shapely

        half = self.half(row)
        for offsets in self.offsets:
            trial = self.dot[face] + offsets
            point, inside = self.tree.query(shapely.points(trial), predicate="within")
            host = self.hosts[inside]
            point, host = point[host != face], host[host != face]
            free = taken.free(self.dot[face], trial[point], half, row)
            point, host = point[free], host[free]
            if len(point) == 0:
                continue
            fits = fit_at(
                self.sides, host, trial[point], self.bodies[row], 0.1, self.height
            )
            if fits.any():
                found: Point = trial[point[fits].min()]
                return found
        return None


def _touch(dot: Floats, q: Floats, half: Floats) -> Floats:
    """Return where a line from a dot meets the box about a number."""
    gap = q - dot
    reach = min(half[0] / max(abs(gap[0]), 1e-9), half[1] / max(abs(gap[1]), 1e-9))
    end: Floats = q - gap * min(1.01 * reach, 0.9)
    return end


class _Taken:
    """Remember where numbers and leaders stand."""

    def __init__(self, parts: Parts, numbers: NumberedRegions) -> None:
        shown = np.flatnonzero((numbers.height > 0) & (numbers.text >= 0))
        half = np.array([number_body(t, parts.fonts).half for t in numbers.texts])
        size = half[numbers.text[shown]] * numbers.height[shown, None] + 0.2
        at = numbers.at[shown]
        # columns that lie together: a large sheet is looked through for each leader
        self.low, self.high = np.asfortranarray(at - size), np.asfortranarray(at + size)
        self.dot, self.end = np.empty((2, 0, 2))
        self.row = np.empty(0, np.int64)

    def join(self, dot: Point, end: Point, row: int) -> None:
        """Take up a leader to a number."""
        self.dot = np.concatenate([self.dot, dot[None]])
        self.end = np.concatenate([self.end, end[None]])
        self.row = np.append(self.row, row)

    def add(self, low: Point, high: Point) -> None:
        """Take up the box of a number."""
        self.low = np.hstack([self.low.T, low[:, None]]).T
        self.high = np.hstack([self.high.T, high[:, None]]).T

    def free(self, dot: Point, at: Point, half: Point, row: int) -> Bools:
        """Return at which places a number and its leader meet no other.

        `dot` (2,): where the leader ends, mm on paper. `at` (n, 2): places for the
        middle of the number. `half` (2,): half of its size. Returns (n,).
        """
        if len(at) == 0:
            return np.empty(0, bool)
        low, high = (at - half)[:, None], (at + half)[:, None]
        near = self._near(low.min(axis=(0, 1)), high.max(axis=(0, 1)))
        right, top = (self.low[near] < high).transpose(2, 0, 1)
        left, bottom = (self.high[near] > low).transpose(2, 0, 1)
        free: Bools = ~np.any(left & right & bottom & top, axis=1)
        free &= ~np.any(_within(self.dot, self.end, low, high), axis=1)
        free[free] = ~self.crossed(dot, at[free], row)
        return free

    def _near(self, low: Point, high: Point) -> Ints:
        """Return which numbers reach into a rectangle, few of a large sheet."""
        (left, bottom), (right, top) = self.low.T, self.high.T
        found = (left < high[0]) & (right > low[0])
        found &= (bottom < high[1]) & (top > low[1])
        return np.flatnonzero(found)

    def crossed(self, dot: Point, at: Point, row: int) -> Bools:
        """Return which leaders would run over a number, a leader or its dot.

        `dot` (2,): where they begin, mm on paper. `at` (n, 2): where they end. `row`:
        the number that they belong to. Returns (n,).
        """
        if len(at) == 0:
            return np.empty(0, bool)
        end = at[:, None]
        near = self._near(
            np.minimum(dot, at.min(axis=0)), np.maximum(dot, at.max(axis=0))
        )
        result = _within(dot, end, self.low[near], self.high[near]).any(axis=1)
        result |= _cross(dot, end, self.dot, self.end).any(axis=1)
        # a line past the dot of another number would seem to end there
        room = np.minimum(_far(self.dot, dot, end), _far(dot, self.dot, self.end))
        past = (room < 1.2 * _DOT) & (self.row != row)
        return np.asarray(result | past.any(axis=1))


def _within(a: Point, b: Point, low: Point, high: Point) -> Bools:
    """Return which lines from a to b pass through taken."""
    first: Point | float = 0.0
    last: Point | float = 1.0
    for axis in (0, 1):
        origin, below, above = (points[..., axis] for points in (a, low, high))
        way = b[..., axis] - origin
        with np.errstate(divide="ignore", invalid="ignore"):
            one, other = (below - origin) / way, (above - origin) / way
        begin, end = np.minimum(one, other), np.maximum(one, other)
        # along a line that keeps its x or y the box has no end, or none of it
        level = way == 0
        if level.any():
            beside = np.where((below < origin) & (origin < above), np.inf, -np.inf)
            begin, end = np.where(level, -beside, begin), np.where(level, beside, end)
        first, last = np.maximum(first, begin), np.minimum(last, end)
    return np.asarray(first < last)


def _far(point: Point, a: Point, b: Point) -> Point:
    """Return the distance of points from the lines between others."""
    way = b - a
    size = np.maximum((way * way).sum(axis=-1), 1e-12)
    t = np.clip(((point - a) * way).sum(axis=-1) / size, 0.0, 1.0)
    off = point - a - t[..., None] * way
    return np.asarray(np.hypot(off[..., 0], off[..., 1]))


def _cross(a: Point, b: Point, c: Point, d: Point) -> Bools:
    """Return which lines from a to b cross those from c to d."""
    return np.asarray(
        (cross(b - a, c - a) * cross(b - a, d - a) < 0)
        & (cross(d - c, a - c) * cross(d - c, b - c) < 0)
    )
