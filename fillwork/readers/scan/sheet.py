"""The sheet in the picture: its four corners, or none where a scan shows all of it."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import ReadError
from fillwork.readers.scan.circles import far, fit_line, inward, unit
from fillwork.readers.scan.pixels import boxes_of, seen_at

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Floats32

_SMALL = 700
# The ground beside a sheet is at most this bright, against the paper.
_STEP = 0.85
# The worst side of a sheet is seen along so much of its length; shapes whose support
# differs by less are as good as each other.
_SUPPORT, _ALIKE = 0.6, 0.05
# One side may be torn, or lie under a ruler or a hand, and be seen along so much; one
# that is bare, along so much. What is torn strays by so much of a side's length.
_TORN, _BARE, _RAGGED = 0.06, 0.85, 0.0015
# What lies along so much of its own outline at the picture's rim runs out of it.
_RIM = 0.02
# px of the small picture: what lies on a line. Of a side: its end. Sides and corners
# that are seen so well are the sheet's; else lines of its outline are tried, so many,
# no shorter than this share of it, that cross at this sine or more, and so many of
# whose corners are seen.
_BESIDE, _TIP, _WHOLE = 2.5, 0.03, 1.9
# px of the small picture across a side, and the share of the step from ground to paper
# that shows it is the sheet's.
_ACROSS, _STEPS = 4.0, 0.75
# Places that show a side's bend; over so many a faint side is evened out.
_FEW, _CALM = 8, 4.0
_MOST_SIDES, _SHORT_LINE, _SLANT, _CORNERED = 9, 0.02, 0.5, 2
# px of the small picture; the share of a picture that something beside paper takes
# at least: a scan's dark rim is narrower.
_BLOCK, _LEAST_GROUND = 8, 0.03
# A sheet's margin is no less, beside what its frame holds.
_MARGIN = 0.05
_MEND = "lay the whole sheet on a darker ground in even light, all four corners in view"


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """Hold the outline of a sheet in a picture."""

    # (4, 2): px, clockwise from the corner nearest the upper left
    corners: Floats
    # (n, 2): places on the sheet's edge, px, from each corner to the next
    sides: tuple[Floats, ...]
    # the side that is torn or covered, from 0 for the upper one, clockwise
    torn: int | None = None
    faint: bool = False  # whether the ground is about as bright as the sheet


@dataclass(frozen=True, slots=True, eq=False)
class _Four:
    """Hold four sides that may be a sheet's."""

    corners: Floats  # (4, 2): px of the small picture
    seen: tuple[Bools, ...]  # of each side, px by px, whether it is seen there
    # and whether paper lies on one side there and the ground on the other
    clear: tuple[Bools, ...]
    rim: float  # the share of its outline that runs along the picture's rim

    @property
    def support(self) -> list[float]:
        """Return along how much of each side it is seen."""
        return [float(side.mean()) for side in self.seen]

    @property
    def least(self) -> float:
        return min(self.support)

    @property
    def covered(self) -> int | None:
        """Return the side that is torn or covered, if one is."""
        if self.least < _BARE:
            return self.support.index(self.least)
        clear = [float(side.mean()) for side in self.clear]
        return clear.index(min(clear)) if min(clear) < 0.5 * max(clear) else None

    @property
    def cornered(self) -> int:
        """Return at how many corners both sides are plain to see."""
        ends = [
            [float(part[: max(1, round(_TIP * len(side)))].mean()) > 0.5
             for part in (side, side[::-1])]
            for side in self.clear
        ]  # fmt: skip
        return sum(ends[k][0] and ends[k - 1][1] for k in range(4))

    @property
    def shown(self) -> float:
        """Return how much of the sides is plain to see, and of the corners."""
        length = sum(len(side) for side in self.clear)
        return sum(int(side.sum()) for side in self.clear) / length + self.cornered / 4


def find_outline(rgb: NDArray[np.uint8], name: str) -> Outline | None:
    """Return the outline of the sheet in a picture.

    None where the paper fills the picture, as in a scan. `rgb` (h, w, 3): the picture.
    Raises `ReadError` if a part of the sheet lies outside the picture.
    """
    from PIL import Image

    height, width = rgb.shape[:2]
    factor = max(1, round(max(height, width) / _SMALL))
    small = Image.fromarray(rgb).reduce(factor)
    # paper is bright in each channel, wood and cloth in some
    grey = np.asarray(small).min(axis=2).astype(np.float32)
    cut_off: float | None = None
    some = False
    # coloured paper on a grey table is told by its colour, whatever the light
    for image, whole in (
        (grey, lambda: rgb.astype(np.float32).mean(axis=2)),
        (_colourful(np.asarray(small)), lambda: _colourful(rgb)),
    ):
        candidates, off = _candidates(image)
        cut_off = off if cut_off is None else cut_off
        if not candidates:
            continue
        some = True
        # a drawn frame has sides as good as the sheet's own, with paper on both
        most = max(c.shown for c in candidates) - _ALIKE
        candidates.sort(key=lambda c: (c.shown < most, -area_of(c.corners)))
        plain = whole()
        for found in candidates:
            # a shadow fades, paper ends
            rough = (found.corners + 0.5) * factor
            outline = refine(plain, rough, found.seen, 2.5 * factor + 3.0)
            if outline is not None:
                _only_sheet(image, found.corners, name)
                if found.covered is not None:
                    outline = replace(outline, torn=found.covered)
                return outline
    if not some and cut_off and not _fills(grey):
        what = (
            f"the sheet runs out of the picture along {100 * cut_off:.0f} % of its rim"
        )
        raise ReadError(what, name, _MEND + ", or name them with --sheet-corners")
    _only_paper(grey, name)
    return None


def _candidates(grey: Floats32) -> tuple[list[_Four], float]:
    """Return what may be the sheet, and how much of one runs out of the picture."""
    whole: list[_Four] = []
    torn: list[_Four] = []
    cut_off = 0.0
    for level in _levels(grey):
        found = _four_sides(grey, grey > level)
        if found is None:
            continue
        support = sorted(found.support)
        if found.rim > _RIM:
            cut_off = max(cut_off, found.rim)
        elif support[0] >= _SUPPORT:
            whole.append(found)
        elif support[0] >= _TORN and support[1] >= _SUPPORT:
            torn.append(found)
    return whole + torn, cut_off


def _colourful(rgb: NDArray[np.uint8]) -> Floats32:
    """Return how far from grey each place is, 0 to 255, evened out against noise."""
    from scipy import ndimage

    even = ndimage.uniform_filter(rgb.astype(np.float32), (5, 5, 0))
    most = even.max(axis=2)
    share = (most - even.min(axis=2)) / np.maximum(most, 1.0)
    result: Floats32 = 255.0 * share
    return result


def _only_sheet(grey: Floats32, corners: Floats, name: str) -> None:
    """Refuse a picture in which another sheet lies beside the one found."""
    from PIL import Image, ImageDraw

    own = Image.new("L", (grey.shape[1], grey.shape[0]), 0)
    middle = corners.mean(axis=0)
    wide = [tuple(c) for c in middle + 1.03 * (corners - middle)]
    ImageDraw.Draw(own).polygon(wide, fill=1)
    level = _levels(grey)[0]
    beside = (grey > level) & (np.asarray(own) == 0)
    other = _four_sides(grey, beside, 0.3 * area_of(corners))
    # a bright table lies along most of the picture's rim
    if other is not None and other.least >= _SUPPORT and other.rim < 0.6:
        what = "two sheets are in view"
        mend = "take a picture of one alone, or name its corners with --sheet-corners"
        raise ReadError(what, name, mend)


def _only_paper(grey: Floats32, name: str) -> None:
    """Refuse a picture without a sheet's outline that shows more than paper.

    Light fades; where the ground or a shadow begins, brightness steps.
    """
    from scipy import ndimage

    down, across = (n // _BLOCK for n in grey.shape)
    blocks = grey[: down * _BLOCK, : across * _BLOCK]
    blocks = blocks.reshape(down, _BLOCK, across, _BLOCK).swapaxes(1, 2)
    paper = np.percentile(blocks.reshape(down, across, -1), 80, axis=2)
    # a block that a step crosses counts with its brighter side
    dark = ndimage.maximum_filter(paper, 3) < _STEP * np.percentile(paper, 90)
    labels, count = ndimage.label(dark)
    rim = np.ones(dark.shape, bool)
    rim[2:-2, 2:-2] = False
    for k in range(1, count + 1):
        area = labels == k
        if area.mean() < _LEAST_GROUND or not (area & rim).any():
            continue
        near = ndimage.binary_dilation(area, iterations=4)
        beside = paper[near & ~ndimage.binary_dilation(area, iterations=3)]
        edge = paper[area & ndimage.binary_dilation(~area)]
        if len(beside) and np.median(edge) < _STEP * np.median(beside):
            what = (
                f"the sheet's edges were not found; {100 * area.mean():.0f} % of the "
                "picture, at its rim, is no paper in even light"
            )
            mend = ", or name its corners with --sheet-corners"
            raise ReadError(
                what, name, _MEND + mend + "; of a scan, cut the dark rim off"
            )


def area_of(corners: Floats) -> float:
    """Return what corners enclose, px². `corners` (n, 2): px, in order."""
    x, y = corners.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def _levels(grey: Floats32) -> list[float]:
    from skimage.filters import threshold_otsu

    otsu = float(threshold_otsu(grey))  # type: ignore[no-untyped-call]
    paper = float(np.percentile(grey, 85))
    return [otsu, *(otsu + k * (paper - otsu) for k in (-0.5, -0.25, 0.2, 0.4, 0.6))]


def _fills(grey: Floats32) -> bool:
    """Tell whether the rim of the picture is paper as its middle is."""
    rim = np.concatenate([grey[:4].ravel(), grey[-4:].ravel(),
                          grey[:, :4].ravel(), grey[:, -4:].ravel()])  # fmt: skip
    middle = float(np.percentile(grey[4:-4, 4:-4], 75))
    return float(np.percentile(rim, 25)) > 0.45 * middle


def _four_sides(
    grey: Floats32, bright: Bools, least: float | None = None
) -> _Four | None:
    """Return four sides round the largest bright area, if it has such."""
    import shapely
    from scipy import ndimage

    labels, count = ndimage.label(bright)
    if not count:
        return None
    area = np.bincount(labels.ravel()).astype(np.float64)
    area[0] = 0
    largest = int(np.argmax(area))
    # a closed frame parts a sheet's margin from its middle, which may be larger
    boxes = boxes_of(labels)
    low, right = bright.shape
    for k in np.flatnonzero(area > _MARGIN * area[largest]).tolist():
        rows, columns = boxes[k - 1]
        inside = rows.start > 0 < columns.start
        if inside and rows.stop < low and columns.stop < right:
            area[k] = ndimage.binary_fill_holes(labels[boxes[k - 1]] == k).sum()
    largest = int(np.argmax(area))
    shape = ndimage.binary_fill_holes(labels == largest)
    if shape.sum() < (0.12 * shape.size if least is None else least):
        return None
    inner = ndimage.binary_erosion(shape, border_value=0)
    y, x = np.nonzero(shape & ~inner)
    edge = (y == 0) | (x == 0) | (y == low - 1) | (x == right - 1)
    rim = float(edge.mean())
    points = np.stack([x, y], 1).astype(np.float64)
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.MultiPoint(points)))
    round_it = _simplify(hull[:-1])
    levels = [
        float(np.median(grey[part])) if part.any() else 0.0 for part in (shape, ~shape)
    ]
    offers = []
    if round_it is not None:
        offers.append(_seen_along(round_it, points, rim, grey, levels))
    if not offers or offers[0].rim > _RIM or offers[0].shown < _WHOLE:
        # something reaches over the sheet's edge, and is seen with it
        at_rim = points[~edge]
        for four in crossed(straight_lines(at_rim), bright.shape):
            offer = _seen_along(four, at_rim, 0.0, grey, levels)
            least, next_, *_ = sorted(offer.support)
            if least >= _TORN and next_ >= _SUPPORT and offer.cornered >= _CORNERED:
                offers.append(offer)
    return max(offers, key=lambda o: o.shown, default=None)


def _seen_along(
    corners: Floats, points: Floats, rim: float, grey: Floats32, levels: list[float]
) -> _Four:
    """Return four sides with where the places of an outline show them.

    `levels`: how bright the paper is, and the ground.
    """
    whole = np.log((levels[0] + 1) / (levels[1] + 1))
    seen: list[Bools] = []
    clear: list[Bools] = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length, along, across = far(a, b), unit(b - a), inward(b - a)
        off = points - a
        near = (np.abs(off @ across) < _BESIDE) & (off @ along >= 0)
        on = points[near & (off @ along <= length)]
        inner, outer = (seen_at(grey, on + k * across) for k in (_ACROSS, -_ACROSS))
        # a shadow darkens both
        full = np.log((inner + 1) / (outer + 1)) > _STEPS * whole
        for kept, places in ((seen, on), (clear, on[full])):
            share = np.zeros(max(round(length), 1) + 1, bool)
            share[np.rint((places - a) @ along).astype(int)] = True
            kept.append(share)
    return _Four(corners, tuple(seen), tuple(clear), rim)


def straight_lines(
    points: Floats, most: int = _MOST_SIDES
) -> list[tuple[Floats, Floats]]:
    """Return the lines that most places of an outline lie on: a point, a direction."""
    angles = np.arange(0.0, np.pi, np.pi / 360)
    normals = np.stack([np.cos(angles), np.sin(angles)])
    found: list[tuple[Floats, Floats]] = []
    least = _SHORT_LINE * len(points)
    while len(found) < most and len(points) > least:
        far = np.rint(points @ normals / _BESIDE).astype(np.int64)
        low = int(far.min())
        width = int(far.max()) - low + 1
        cells = (far - low) + width * np.arange(len(angles))
        best = int(np.argmax(np.bincount(cells.ravel(), minlength=width * len(angles))))
        normal = normals[:, best // width]
        near = np.abs(points @ normal - (best % width + low) * _BESIDE) < _BESIDE
        if near.sum() < least:
            break
        line = fit_line(points[near])
        found.append((line[:2], line[2:]))
        off = (points - line[:2]) @ np.array([-line[3], line[2]])
        points = points[~near & (np.abs(off) > _BESIDE)]
    return found


def crossed(
    lines: list[tuple[Floats, Floats]], shape: tuple[int, ...]
) -> Iterator[Floats]:
    """Iterate over the four-sided figures in the picture that lines make."""
    limit = np.array(shape[::-1]) - 1
    for four in itertools.combinations(lines, 4):
        # two ways about, two ways up: round the figure they take turns
        by_way = sorted(four, key=lambda o: np.arctan2(o[1][1], o[1][0]) % np.pi)
        for one in (by_way, [by_way[k] for k in (3, 0, 1, 2)]):
            a, b, c, d = one
            sides = [a, c, b, d]
            if any(
                abs(float(u[0] * v[1] - u[1] * v[0])) < _SLANT
                for (_, u), (_, v) in itertools.pairwise([*sides, sides[0]])
            ):
                continue
            corners = cross_sides(sides)
            if (corners >= 0).all() and (corners <= limit).all():
                yield _clockwise(corners)


def _simplify(hull: Floats) -> Floats | None:
    """Take sides off a convex outline until four are left, adding least area."""
    points = [np.asarray(p) for p in hull]
    while len(points) > 4:
        best: tuple[float, int, Floats] | None = None
        n = len(points)
        for i in range(n):
            a, b, c, d = (points[(i + k) % n] for k in range(4))
            u, v = b - a, c - d
            cross = u[0] * v[1] - u[1] * v[0]
            if abs(cross) < 1e-9:
                continue
            t = ((d - a)[0] * v[1] - (d - a)[1] * v[0]) / cross
            s = ((d - a)[0] * u[1] - (d - a)[1] * u[0]) / cross
            if t < 1 or s < 1:
                continue
            meet = a + t * u
            extra = 0.5 * abs(
                (b - meet)[0] * (c - meet)[1] - (b - meet)[1] * (c - meet)[0]
            )
            if best is None or extra < best[0]:
                best = (extra, i, meet)
        if best is None:
            return None
        _, i, meet = best
        points[(i + 1) % n] = meet
        del points[(i + 2) % n]
    four = np.array(points)
    return None if len(four) < 4 else _clockwise(four)


def _clockwise(four: Floats) -> Floats:
    """Return corners clockwise as seen, from the one nearest the upper left."""
    around = four - four.mean(axis=0)
    four = four[np.argsort(np.arctan2(around[:, 1], around[:, 0]))]
    start = int(np.argmin(four.sum(axis=1)))
    return np.roll(four, -start, axis=0)


def refine(
    grey: Floats32,
    rough: Floats,
    seen: tuple[Bools, ...],
    reach: float,
    faint: bool = False,
) -> Outline | None:
    """Fit each side to where the brightness changes most, then cross the sides.

    `seen`: of each side, along it, whether it is seen there. `faint`: whether the
    ground may be as bright. None where a side has no edge, as where light fades.
    """
    from scipy import ndimage

    lines, sides, ragged = [], [], []
    for a, b, shown in zip(rough, np.roll(rough, -1, axis=0), seen, strict=True):
        length, along, across = far(a, b), unit(b - a), inward(b - a)
        share = np.linspace(0.03, 0.97, 240)
        at = length * share[shown[np.rint(share * (len(shown) - 1)).astype(int)]]
        # a lens or a curl bends a side by a hundredth of its length
        wide = reach + 0.01 * length
        offsets = np.arange(-wide, wide + 0.01, 0.5)
        where = a + at[:, None, None] * along + offsets[None, :, None] * across
        # corners are in px from the picture's edge, samples from pixel centres
        values = ndimage.map_coordinates(
            grey, [where[..., 1] - 0.5, where[..., 0] - 0.5], order=1, mode="nearest"
        )
        inside = float(np.median(values[:, offsets > 0.6 * wide]))
        outside = float(np.median(values[:, offsets < -0.6 * wide]))
        if faint:
            values = ndimage.gaussian_filter1d(values, _CALM, axis=0)
        elif outside > _STEP * inside:
            return None
        step = np.diff(ndimage.gaussian_filter1d(values, 1.5, axis=1), axis=1)
        step = np.maximum(step, 0.0)
        peak = np.argmax(step, axis=1)
        weight = step * (np.abs(np.arange(step.shape[1]) - peak[:, None]) <= 4)
        middle = 0.5 * (offsets[:-1] + offsets[1:])
        total = weight.sum(axis=1)
        off = (weight * middle).sum(axis=1) / np.maximum(total, 1e-9)
        near = step.max(axis=1) > 0.4 * np.median(step.max(axis=1))
        good = near
        # the cubic holds a bent side while places of other edges are left out
        for degree in (1, 3, 3, 3, 3):
            if near.sum() < _FEW:
                return None
            curve = np.polynomial.Polynomial.fit(at[near], off[near], degree)
            miss = np.abs(off - curve(at))
            near = good & (miss < max(1.0, 2.5 * float(np.median(miss[good]))))
        ragged.append(float(np.median(miss[good])) / length)
        sides.append(a + at[near, None] * along + off[near, None] * across)
        line = np.polyfit(at[near], off[near], 1)
        ends = [a + t * along + np.polyval(line, t) * across for t in (0.0, length)]
        lines.append((ends[0], ends[1] - ends[0]))
    torn = int(np.argmax(ragged)) if max(ragged) > _RAGGED else None
    return Outline(cross_sides(lines), tuple(sides), torn)


def cross_sides(lines: list[tuple[Floats, Floats]]) -> Floats:
    """Return where each of four lines crosses the one before.

    `lines` (2,), (2,): point and direction. Returns (4, 2): the corners.
    """
    corners = []
    for (p, u), (q, v) in zip([lines[-1], *lines[:-1]], lines, strict=True):
        t = np.linalg.solve(np.stack([u, -v], 1), q - p)[0]
        corners.append(p + t * u)
    return np.array(corners)
