"""Number each region on each page that shows it, long ones more than once.

A region has one place for its number on the whole sheet (see `labels`). A page
that shows only a part of the region, or several, or on which a cross or a centre
stands at that place, gets a place of its own within each part; strips, grounds and
stems get more numbers, so that the next one is never far.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fillwork.geometry import affine
from fillwork.geometry.polygons import sides_of_each
from fillwork.renderers.scene import NUMBERS, Labels, Strokes
from fillwork.renderers.sheets.quiet import LARGEST_NUMBER, NUMBER_INK, quiet_sizes
from fillwork.renderers.text.room import Sides, number_body, place_each

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.renderers.scene import Box, Item
    from fillwork.renderers.sheets.parts import NumberedRegions, Parts

LONG = 70.0
"""From this length or height on a region gets more than one number, mm on paper."""

_STEP = 55.0
_APART = 36.0
_AIR = 0.4
_CLEARANCE = 0.2


def all_below(one: Floats | Sequence[float], other: Floats | Sequence[float]) -> Bools:
    """Tell which points lie below and left of others.

    `one` and `other` (n, 2) or (2,): points, or one for all. Returns (n,): whether both
    coordinates are less.
    """
    # column by column: numpy is slow along rows of two
    (x, y), (right, top) = np.transpose(one), np.transpose(other)
    return np.asarray((x < right) & (y < top))


def not_above(one: Floats | Sequence[float], other: Floats | Sequence[float]) -> Bools:
    """Tell which points lie nowhere above or right of others.

    `one` and `other` (n, 2) or (2,): points, or one for all. Returns (n,): whether both
    coordinates are at most those.
    """
    (x, y), (right, top) = np.transpose(one), np.transpose(other)
    return np.asarray((x <= right) & (y <= top))


class PageNumbers:
    """Give the numbers that stand on a page.

    `parts`: the drawing. `numbers`: one place a region, at the scale. `scale`: paper mm
    for one mm of the drawing. `leaders`: lines to regions that are too small, with
    their dots and numbers.
    """

    def __init__(
        self,
        parts: Parts,
        numbers: NumberedRegions,
        scale: float,
        leaders: Sequence[Item] = (),
    ) -> None:
        self.parts, self.numbers = parts, numbers
        self.map = parts.map_to_paper(scale)
        ends = [affine.apply(self.map, corner) for corner in parts.boxes]
        low, high = ends
        if parts.settings.mirror:
            low, high = np.minimum(*ends), np.maximum(*ends)
        self.low, self.high = np.asfortranarray(low), np.asfortranarray(high)
        self.least = parts.settings.least_number
        self.most = max(LARGEST_NUMBER, self.least)
        self.leaders = tuple(leaders)
        self.bodies = tuple(number_body(t, parts.fonts) for t in numbers.texts)
        half = np.array([body.half for body in self.bodies]).reshape(-1, 2)
        size = half[numbers.text] * numbers.height[:, None]
        # the box that each number takes, and above that of each region; columns lie
        # together, since every page looks through all of them
        self.box = tuple(map(np.asfortranarray, (numbers.at - size, numbers.at + size)))
        corners = affine.apply(self.map, parts.loose_lines.reshape(-1, 2))
        loose = np.asarray(shapely.linestrings(corners.reshape(-1, 2, 2)))
        ink = [g for item in leaders for g in self._ink(item)]
        ink += shapely.buffer(loose, _AIR).tolist()
        self.taken = np.array(ink, object)
        extent = np.maximum(*np.nan_to_num(high - low).T)
        # a figure as wide as it is long is read at a glance
        narrow = extent > 5 * parts.arrangement.inscribed * scale
        self.long = (extent > LONG) & narrow
        self.chosen = (numbers.height > 0) & (numbers.text >= 0)

    def place(self, window: Box, blocked: Sequence[Box] = ()) -> tuple[Labels, Ints]:
        """Return the numbers of a page, and whose they are.

        `window`: what the page shows, on paper from the corner of the drawing's box.
        `blocked`: what must stay free of numbers, likewise. Returns `labels`: one at
        least for each region that has room for one; `faces`: the region of each.
        """
        numbers = self.numbers
        a, b = np.array(window[0:2]) + _AIR, np.array(window[2:4]) - _AIR
        low, high = self.box
        shown = self.chosen & not_above(a, low) & not_above(high, b)
        for x0, y0, x1, y1 in blocked:
            shown &= ~(all_below(low, (x1, y1)) & all_below((x0, y0), high))
        seen = all_below(self.low, b) & all_below(a, self.high)
        seen &= numbers.text >= 0
        cut = ~(not_above(a, self.low) & not_above(self.high, b))
        # what is too small for a number on the whole sheet stays so on a part of it
        wanting = np.flatnonzero(seen & self.chosen & (~shown | self.long | cut))
        face, at, height = self._more(wanting, shown, (*a, *b), blocked)
        which = np.flatnonzero(shown)
        order = np.argsort(np.concatenate([which, face]), kind="stable")
        owner = np.concatenate([which, face])[order]
        labels = Labels(
            np.concatenate([numbers.at[which], at])[order],
            np.concatenate([numbers.height[which], height])[order],
            numbers.text[owner].astype(np.int32),
            numbers.texts,
            NUMBER_INK,
            layer=NUMBERS,
        )
        return labels, owner

    def items(self, window: Box, blocked: Sequence[Box] = ()) -> list[Item]:
        """Return the numbers of a page, and leaders; numbers first.

        `window` and `blocked`: as for `place`.
        """
        return [self.place(window, blocked)[0], *self.leaders]

    def _ink(self, item: Item) -> list[Any]:
        """Return where a leader, or the number that it hangs on, stands."""
        if isinstance(item, Strokes):
            ends = item.curves.data[:, 0:4].reshape(-1, 2, 2)
            found: list[Any] = [
                shapely.LineString(pair).buffer(0.4) for pair in ends.tolist()
            ]
            return found
        if isinstance(item, Labels):
            half = np.array([body.half for body in self.bodies])[item.text]
            half = half * item.height[:, None] + 0.3
            low, high = item.at - half, item.at + half
            return [shapely.box(*a, *b) for a, b in zip(low, high, strict=True)]
        return []

    def _more(
        self,
        faces: Ints,
        shown: Bools,
        window: tuple[float, ...],
        blocked: Sequence[Box],
    ) -> tuple[Ints, Floats, Floats]:
        """Return further places: region, centre, height."""
        if len(faces) == 0:
            return np.empty(0, np.int64), np.empty((0, 2)), np.empty(0)
        pieces: list[Any] = []
        owner: list[tuple[int, int]] = []
        # numbers of each part that a page shows, so far
        parts: list[list[Floats]] = []
        x0, y0, x1, y1 = window
        near = self.taken[shapely.intersects(self.taken, shapely.box(x0, y0, x1, y1))]
        free = shapely.union_all([*(shapely.box(*box) for box in blocked), *near])
        shapes = self.parts.shapes(faces)
        moved = shapely.transform(shapes, lambda xy: affine.apply(self.map, xy))
        clipped = shapely.clip_by_rect(moved, *window)
        seen, row = shapely.get_parts(clipped, return_index=True)
        large = np.flatnonzero(shapely.area(seen) > self.least**2)
        shapely.prepare(free)
        covered = shapely.intersects(free, seen[large])
        for k, hit in zip(large.tolist(), covered.tolist(), strict=True):
            face, part = int(faces[row[k]]), seen[k]
            first = self.numbers.at[face]
            told = shown[face] and shapely.contains_xy(part, *first)
            if told and not self.long[face]:
                continue
            parts.append([first] if told else [])
            open_ = shapely.difference(shapely.make_valid(part), free) if hit else part
            for cell in _cells(open_) if self.long[face] else [open_]:
                piece = max(shapely.get_parts(cell), key=shapely.area, default=None)
                if piece is None or piece.geom_type != "Polygon":
                    continue
                if piece.area > self.least**2:
                    pieces.append(piece)
                    owner.append((face, len(parts) - 1))
        if not pieces:
            return np.empty(0, np.int64), np.empty((0, 2)), np.empty(0)
        own, part_of = np.array(owner).T
        at, size = self._place(pieces, own)
        keep = _apart(part_of, at, size, parts)
        return own[keep], at[keep], size[keep]

    def _place(self, pieces: Sequence[Any], owner: Ints) -> tuple[Floats, Floats]:
        """Return where numbers stand in pieces of regions, and how high they are."""
        shapes = np.array(pieces)
        circle = shapely.maximum_inscribed_circle(shapes, tolerance=0.2)
        start = shapely.get_coordinates(circle)[::2]
        # in a strip circles as large stand all along: its middle is as good
        middle = shapely.centroid(shapes)
        room = shapely.distance(middle, shapely.boundary(shapes))
        as_good = room >= 0.9 * shapely.length(circle)
        as_good &= shapely.contains(shapes, middle)
        start[as_good] = shapely.get_coordinates(middle)[as_good]
        sides, limits = sides_of_each(shapes)
        text = self.numbers.text[owner]
        at, size = place_each(
            Sides(sides, limits),
            np.arange(len(pieces)),
            start,
            self.bodies,
            text,
            _CLEARANCE,
            self.most,
            False,
        )
        size = np.minimum(size, self.numbers.height[owner])
        return at, quiet_sizes(np.maximum(size, 0.0), self.least)


def _apart(part_of: Ints, at: Floats, size: Floats, parts: list[list[Floats]]) -> Ints:
    """Return which places are kept: those far from others of their part."""
    keep = []
    # the largest first
    for k in np.argsort(-size, kind="stable").tolist():
        mine = parts[part_of[k]]
        if size[k] > 0 and all(np.linalg.norm(at[k] - p) >= _APART for p in mine):
            mine.append(at[k])
            keep.append(k)
    return np.array(sorted(keep), np.int64)


def _cells(shape: Any) -> list[Any]:
    """Return the parts of a region in the cells of a wide grid."""
    if shape.is_empty:
        return []
    left, bottom, right, top = shapely.bounds(shape).tolist()
    across = max(1, round((right - left) / _STEP))
    up = max(1, round((top - bottom) / _STEP))
    xs = np.linspace(left, right, across + 1)
    ys = np.linspace(bottom, top, up + 1)
    return [
        shapely.clip_by_rect(shape, xs[i], ys[j], xs[i + 1], ys[j + 1])
        for j in range(up)
        for i in range(across)
    ]
