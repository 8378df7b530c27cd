"""What bends straight lines: the camera's lens, and a sheet that does not lie flat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import fit_line, inward, misses
from fillwork.readers.scan.sheet import cross_sides

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.readers.scan.sheet import Outline


# px: bends below this are within what the edge's own places stray.
_LEAST = 0.6
# A side that is seen along less of its length says nothing of how it bends.
_SEEN = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Bend:
    """Hold how a picture of a sheet is bent."""

    middle: Floats  # (2,): the picture's middle, px
    half: float  # half its diagonal, px
    # the lens: a place at r half diagonals from the middle would lie at r (1 + lens r²)
    # in a picture without bend
    lens: float
    corners: Floats  # (4, 2): the sheet's corners there, px
    # (3,): of each side, what is left: offsets inward, px, as b0 + b1 s + b2 s² times 4
    # s (1 - s), s from 0 to 1 along the side
    bows: tuple[Floats, ...]

    @property
    def bow(self) -> float:
        """Return the most that a side is bent beside the lens, px."""
        s = np.linspace(0.0, 1.0, 21)
        return max(float(np.abs(_offset(b, s)).max()) for b in self.bows)

    @property
    def bent(self) -> bool:
        """Return whether anything is to be straightened.

        False where perspective alone lays the sheet flat.
        """
        return self.lens != 0.0 or self.bow > 0.0

    def seen(self, places: Floats) -> Floats:
        """Return where the lens puts places of the picture without bend.

        `places` (n, 2): px. Returns (n, 2): px of the picture.
        """
        far = (places - self.middle) / self.half
        near = far.copy()
        for _ in range(20):
            near = far / (1.0 + self.lens * (near**2).sum(1, keepdims=True))
        result: Floats = near * self.half + self.middle
        return result

    def bowed(self, share: Floats) -> Floats:
        """Return how far places of the sheet lie off where its corners put them.

        `share` (n, 2): shares of the sheet's width and height, from its first corner.
        Returns (n, 2): px: each side's bow, fading to the side opposite.
        """
        u, v = share.T
        found = np.zeros_like(share)
        along = (u, v, 1 - u, 1 - v)
        fade = (1 - v, u, v, 1 - u)
        sides = np.roll(self.corners, -1, axis=0) - self.corners
        for way, bow, s, part in zip(sides, self.bows, along, fade, strict=True):
            found += (_offset(bow, s) * part)[:, None] * inward(way)
        return found


def measure_bend(outline: Outline, size: tuple[int, int]) -> Bend:
    """Return the bend that makes a sheet's sides straight.

    The lens first, as far as one lens explains all four sides; then what each side
    keeps.

    `outline`: corners and places on the sides, px. `size`: width and height of the
    picture, px.

    The first term of the series of [1]_, about the picture's middle. Lines must
    come out straight, so it is found without knowing the camera [1]_.

    References
    ----------
    .. [1] D. C. Brown, "Close-range camera calibration", Photogrammetric
       Engineering 37(8), 855-866, 1971.
    """
    middle, half = np.array(size) / 2.0, float(np.hypot(*size)) / 2.0
    lens = 0.0
    for _ in range(6):
        top = bottom = 0.0
        for side in outline.sides:
            places, push = _straightened(side, middle, half, lens)
            line = fit_line(places)
            off = misses(places, line)
            normal = np.array([-line[3], line[2]])
            lever = _without_line(push @ normal, (places - line[:2]) @ line[2:])
            top += float(off @ lever)
            bottom += float(lever @ lever)
        if bottom < 1e-9:
            break
        lens = float(np.clip(lens - top / bottom, -0.2, 0.2))
    if _stray(outline, middle, half, lens) > 0.6 * _stray(outline, middle, half, 0.0):
        # straight already, or one lens does not explain the sides
        lens = 0.0
    straights = [_straightened(side, middle, half, lens)[0] for side in outline.sides]
    corners = cross_sides([_line_along(s, s[-1] - s[0]) for s in straights])
    bows = []
    bent = False
    for k, straight in enumerate(straights):
        way = corners[(k + 1) % 4] - corners[k]
        long = float(np.hypot(*way))
        s = (straight - corners[k]) @ way / long**2
        off = (straight - corners[k]) @ np.array([-way[1], way[0]]) / long
        hump = 4 * s * (1 - s)
        # an offset of the whole side belongs to its corners
        table = np.stack([hump, hump * s, hump * s * s, np.ones(len(s)), s], 1)
        bow = np.linalg.lstsq(table, off, rcond=None)[0]
        if len(np.unique(np.floor(20 * s))) < 20 * _SEEN:
            bow = np.zeros(4)
        bows.append(bow[:3])
        bent |= float(np.abs(_offset(bow[:3], np.linspace(0, 1, 21))).max()) > _LEAST
    if not bent:
        bows = [np.zeros(3)] * 4
    else:
        corners = _moved(corners, straights, bows)
    return Bend(middle, half, lens, corners, tuple(bows))


def _offset(bow: Floats, s: Floats) -> Floats:
    found: Floats = 4 * s * (1 - s) * (bow[0] + bow[1] * s + bow[2] * s * s)
    return found


def _moved(corners: Floats, places: list[Floats], bows: list[Floats]) -> Floats:
    """Return the corners where the sides meet once their bows are taken off."""
    for _ in range(3):
        lines = []
        for k, side in enumerate(places):
            way = corners[(k + 1) % 4] - corners[k]
            s = (side - corners[k]) @ way / float(np.hypot(*way)) ** 2
            flat = side - _offset(bows[k], s)[:, None] * inward(way)
            lines.append(_line_along(flat, way))
        corners = cross_sides(lines)
    return corners


def _line_along(places: Floats, way: Floats) -> tuple[Floats, Floats]:
    """Return a point and the direction of the line through places, along a way."""
    line = fit_line(places)
    return line[:2], line[2:] * (1.0 if way @ line[2:] > 0 else -1.0)


def _straightened(
    side: Floats, middle: Floats, half: float, lens: float
) -> tuple[Floats, Floats]:
    """Return where places would lie without the lens, and how that changes with it."""
    off = (side - middle) / half
    push = off * (off**2).sum(1, keepdims=True) * half
    return side + lens * push, push


def _without_line(values: Floats, along: Floats) -> Floats:
    fit = np.polynomial.Polynomial.fit(along, values, 1)
    result: Floats = values - fit(along)
    return result


def _stray(outline: Outline, middle: Floats, half: float, lens: float) -> float:
    """Return how far the sides stray from straight lines, root mean square, px."""
    sides = (_straightened(side, middle, half, lens)[0] for side in outline.sides)
    off = [misses(places, fit_line(places)) for places in sides]
    return float(np.sqrt(np.mean(np.concatenate(off) ** 2)))
