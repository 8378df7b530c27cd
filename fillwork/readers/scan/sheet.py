"""The sheet in the picture: its four corners, or none where a scan shows all of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import ReadError
from fillwork.readers.scan.pixels import boxes_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Floats32

_SMALL = 700
# The ground beside a sheet is at most this bright, against the paper.
_STEP = 0.85
# The worst side of a sheet is seen along so much of its length; shapes whose support
# differs by less are as good as each other.
_SUPPORT, _ALIKE = 0.6, 0.05
# One side may be torn, or lie under a ruler or a hand, and be seen along so much.
_TORN = 0.3
# How much nearer one side of a sheet is than the other, to tell what the camera's
# focal length is; that of telephones' main cameras against a picture's longer side,
# 26 of 36 mm (common practice, no source).
_DEEP, _FOCAL = 0.02, 0.72
# What lies along so much of its own outline at the picture's rim runs out of it; what
# is narrower than so much of the picture is no sheet.
_RIM, _ARM = 0.02, 0.09
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


@dataclass(frozen=True, slots=True, eq=False)
class _Four:
    """Hold four sides that may be a sheet's."""

    corners: Floats  # (4, 2): px of the small picture
    support: list[float]  # along how much of each side it is seen
    rim: float  # the share of its outline that runs along the picture's rim

    @property
    def least(self) -> float:
        return min(self.support)


def find_outline(rgb: NDArray[np.uint8], name: str) -> Outline | None:
    """Return the outline of the sheet in a picture.

    None where the paper fills the picture, as in a scan.

    `rgb` (h, w, 3): the picture. Raises `ReadError` if a part of the sheet lies outside
    the picture.
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
        most = max(c.least for c in candidates) - _ALIKE
        candidates.sort(key=lambda c: (c.least < most, -_area(c.corners)))
        plain = whole()
        for found in candidates:
            # a shadow fades, paper ends
            rough = (found.corners + 0.5) * factor
            outline = _refine(plain, rough, 2.5 * factor + 3.0)
            if outline is not None:
                _only_sheet(image, found.corners, name)
                worst = found.support.index(found.least)
                return replace(outline, torn=None if found.least >= _SUPPORT else worst)
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
        found = _four_sides(grey > level)
        if found is not None and found.rim > _RIM:
            # a finger or a ruler that reaches from the rim over the sheet's edge
            bare = _four_sides(_without_arms(grey > level))
            within = np.array(grey.shape[::-1]) - 1
            if bare and (bare.corners >= 0).all() and (bare.corners <= within).all():
                found = bare
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
    other = _four_sides((grey > level) & (np.asarray(own) == 0), 0.3 * _area(corners))
    # a bright table lies along most of the picture's rim
    if other is not None and other.least >= _SUPPORT and other.rim < 0.6:
        what = "two sheets are in view"
        raise ReadError(what, name, "take a picture of one alone, or cut it out")


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


def _area(corners: Floats) -> float:
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


def _four_sides(bright: Bools, least: float | None = None) -> _Four | None:
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
    four = _simplify(hull[:-1])
    if four is None:
        return None
    support = []
    for a, b in zip(four, np.roll(four, -1, axis=0), strict=True):
        length = float(np.hypot(*(b - a)))
        along = (b - a) / max(length, 1e-9)
        off = points - a
        on = (np.abs(off @ [-along[1], along[0]]) < 2.5) & (off @ along > 0)
        on &= off @ along < length
        support.append(len(np.unique(np.round((off @ along)[on]))) / length)
    return _Four(four, support, rim)


def _without_arms(bright: Bools) -> Bools:
    """Take off what is narrow; lines are filled, corners left round."""
    from scipy import ndimage

    reach = _ARM / 2 * max(bright.shape)
    whole = ndimage.binary_fill_holes(ndimage.binary_closing(bright, iterations=2))
    core = ndimage.distance_transform_edt(np.pad(whole, 1)) > reach
    opened = ndimage.distance_transform_edt(~core) < reach
    result: Bools = opened[1:-1, 1:-1] & whole
    return result


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
    if len(four) < 4:
        return None
    around = four - four.mean(axis=0)
    four = four[np.argsort(np.arctan2(around[:, 1], around[:, 0]))]
    start = int(np.argmin(four.sum(axis=1)))
    return np.roll(four, -start, axis=0)


def _refine(grey: Floats32, rough: Floats, reach: float) -> Outline | None:
    """Fit each side to where the brightness changes most, then cross the sides.

    None where a side has no edge, as where light fades.
    """
    from scipy import ndimage

    lines, sides = [], []
    for a, b in zip(rough, np.roll(rough, -1, axis=0), strict=True):
        length = float(np.hypot(*(b - a)))
        along = (b - a) / length
        inward = np.array([-along[1], along[0]])
        at = np.linspace(0.03, 0.97, 240) * length
        # a lens or a curl bends a side by a hundredth of its length
        wide = reach + 0.01 * length
        offsets = np.arange(-wide, wide + 0.01, 0.5)
        where = a + at[:, None, None] * along + offsets[None, :, None] * inward
        # corners are in px from the picture's edge, samples from pixel centres
        values = ndimage.map_coordinates(
            grey, [where[..., 1] - 0.5, where[..., 0] - 0.5], order=1, mode="nearest"
        )
        inside = float(np.median(values[:, offsets > 0.6 * wide]))
        outside = float(np.median(values[:, offsets < -0.6 * wide]))
        if outside > _STEP * inside:
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
            curve = np.polynomial.Polynomial.fit(at[near], off[near], degree)
            miss = np.abs(off - curve(at))
            near = good & (miss < max(1.0, 2.5 * float(np.median(miss[good]))))
        sides.append(a + at[near, None] * along + off[near, None] * inward)
        line = np.polyfit(at[near], off[near], 1)
        ends = [a + t * along + np.polyval(line, t) * inward for t in (0.0, length)]
        lines.append((ends[0], ends[1] - ends[0]))
    return Outline(cross_sides(lines), tuple(sides))


def cross_sides(lines: list[tuple[Floats, Floats]]) -> Floats:
    """Return where each of four lines crosses the one before.

    `lines` (2,), (2,): point and direction. Returns (4, 2): the corners.
    """
    corners = []
    for (p, u), (q, v) in zip([lines[-1], *lines[:-1]], lines, strict=True):
        t = np.linalg.solve(np.stack([u, -v], 1), q - p)[0]
        corners.append(p + t * u)
    return np.array(corners)


def sheet_proportion(
    corners: Floats, size: tuple[int, int], focal: float | None = None
) -> tuple[float, bool]:
    """Return width / height of a sheet seen in perspective, and whether it is known.

    The proportion, for a camera that looks through the picture's middle; what is known
    is right to a hundredth. A sheet tilted about one of its own sides shows no
    distance to the eye: without `focal` that of a telephone is taken.

    `corners` (4, 2): px, clockwise from the upper left. `size`: width and height of the
    picture, px. `focal`: the camera's focal length, px, where its file says it.

    References
    ----------
    .. [1] Z. Zhang, L. He, "Whiteboard scanning and image enhancement",
       Digital Signal Processing 17, 414-432, 2007, equations 11 to 21.
    """
    middle = np.array(size) / 2.0
    m1, m2, m4, m3 = (np.append(c - middle, 1.0) for c in corners)
    k2 = np.cross(m1, m4) @ m3 / (np.cross(m2, m4) @ m3)
    k3 = np.cross(m1, m4) @ m2 / (np.cross(m3, m4) @ m2)
    n2, n3 = k2 * m2 - m1, k3 * m3 - m1
    deep = sorted((abs(n2[2]), abs(n3[2])))
    f2, known = (_FOCAL * max(size)) ** 2, deep[1] < _DEEP
    if focal is not None:
        f2, known = focal**2, True
    if deep[0] >= _DEEP:
        seen = -(n2[0] * n3[0] + n2[1] * n3[1]) / (n2[2] * n3[2])
        if 0.16 * max(size) ** 2 < seen < 25 * max(size) ** 2:
            f2, known = seen, True
    inverse = np.diag([1 / f2, 1 / f2, 1.0])
    return float(np.sqrt((n2 @ inverse @ n2) / (n3 @ inverse @ n3))), known
