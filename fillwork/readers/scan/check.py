"""Cross-check: the fitted lines and their regions against the pixels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.pixels import boxes_of, shrunk, widened
from fillwork.readers.scan.trails import trail

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from fillwork.readers.scan.model import Fork
    from fillwork.readers.scan.settle import Drawing

__all__ = [
    "bare_ink",
    "bare_lines",
    "draw_lines",
    "drawn",
    "small_at_forks",
    "unlike_regions",
]

_ALIKE = 0.8
_LOOSE = 0.28
_LEAST_MM2 = 0.6


def draw_lines(
    lines: Iterable[NDArray[np.float64]], shape: tuple[int, int], width: float
) -> NDArray[np.bool_]:
    """Return lines as pixels.

    Parameters
    ----------
    lines : iterable of ndarray of shape (n, 2)
        px.
    shape : tuple of (int, int)
        Height and width of the page, px.
    width : float
        Width of the lines, px.

    Returns
    -------
    ndarray of bool
        Pixels that lines cover.
    """
    from PIL import Image, ImageDraw

    image = Image.new("L", (shape[1], shape[0]), 0)
    pen = ImageDraw.Draw(image)
    for line in lines:
        pen.line(line.ravel().tolist(), fill=1, width=max(2, round(width)))
    return np.asarray(image) > 0


def drawn(drawing: Drawing, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Return the drawing as pixels.

    Parameters
    ----------
    drawing : Drawing
        Pieces.
    shape : tuple of (int, int)
        Height and width of the page, px.

    Returns
    -------
    ndarray of bool
        Pixels that its lines cover.
    """
    lines = (trail(drawing, p, 3.0) for p in drawing.pieces)
    return draw_lines(lines, shape, 0.8 * drawing.width)


def unlike_regions(
    first: NDArray[np.bool_], second: NDArray[np.bool_], scale: float, slack: float
) -> list[tuple[tuple[float, float], float]]:
    """Return regions between the lines of one picture that the other has not.

    Parameters
    ----------
    first, second : ndarray of bool, shape (h, w)
        Pixels of the lines.
    scale : float
        px a mm.
    slack : float
        How far the rims of one region may lie apart, px.

    Returns
    -------
    list of ((float, float), float)
        A point inside, px, and the area, mm²; from both sides.

    Notes
    -----
    Two regions are the same when they overlap by more than 0.8 of each, beside
    what lies within the slack of the rim, or four times that where one lies in
    the other; never where it is half of one, as of two that became one. Regions
    under 0.6 mm² are left out.
    """
    from scipy import ndimage

    one, n = ndimage.label(~first)
    two, m = ndimage.label(~second)
    area_one = np.bincount(one.ravel(), minlength=n + 1).astype(np.float64)
    area_two = np.bincount(two.ravel(), minlength=m + 1).astype(np.float64)
    # runs of like pixels are far fewer than pixels
    flat = one.ravel(), two.ravel()
    new = np.logical_or.reduce([f[1:] != f[:-1] for f in flat])
    runs = np.append(0, np.flatnonzero(new) + 1)
    pair = flat[0][runs].astype(np.int64) * (m + 1) + flat[1][runs]
    keys, number = np.unique(pair, return_inverse=True)
    shared = np.bincount(number, np.diff(runs, append=one.size))
    a, b = keys // (m + 1), keys % (m + 1)
    real = (a > 0) & (b > 0)
    a, b, shared = a[real], b[real], shared[real]
    larger = np.maximum(area_one[a], area_two[b])
    rim = np.minimum(_rims(one, n)[a], _rims(two, m)[b])
    # one within the other: ink that ran into its corners
    inside = shared > 0.98 * np.minimum(area_one[a], area_two[b])
    beside = np.where(inside, 4.0, 1.0) * slack * rim
    good = shared > _ALIKE * larger - np.minimum(beside, _LOOSE * larger)
    found: list[tuple[tuple[float, float], float]] = []
    for labels, area, hit in ((one, area_one, a[good]), (two, area_two, b[good])):
        met = np.zeros(len(area), bool)
        met[hit] = True
        met[0] = True
        unlike = np.flatnonzero(~met & (area > _LEAST_MM2 * scale**2))
        boxes = boxes_of(labels) if len(unlike) else []
        found.extend(
            (_inside(labels, int(k), boxes[k - 1]), float(area[k]) / scale**2)
            for k in unlike
        )
    return found


def _rims(labels: NDArray[np.signedinteger], count: int) -> NDArray[np.float64]:
    """Return how many pixels of each label lie beside another."""
    own = labels[1:-1, 1:-1]
    rim = (own != labels[2:, 1:-1]) | (own != labels[:-2, 1:-1])
    rim |= (own != labels[1:-1, 2:]) | (own != labels[1:-1, :-2])
    return np.bincount(own[rim], minlength=count + 1).astype(np.float64)


def bare_lines(
    lines: Iterable[NDArray[np.float64]],
    mask: NDArray[np.bool_],
    width: float,
    slack: float,
) -> list[tuple[tuple[float, float], float]]:
    """Return where a fitted line runs over paper.

    Parameters
    ----------
    lines : iterable of ndarray of shape (n, 2)
        px, places close together.
    mask : ndarray of bool, shape (h, w)
        Inked pixels.
    width : float
        Width of the pen's line, px.
    slack : float
        How far the hand may stray from the line beside its ink, px.

    Returns
    -------
    list of ((float, float), float)
        The middle and the length, px, of each run over two widths long.
    """
    from scipy import ndimage

    reach = round(slack)
    seen = widened(mask, reach)
    limit = (mask.shape[1] - 1, mask.shape[0] - 1)
    found = []
    for line in lines:
        at = np.clip(np.rint(line).astype(int), 0, limit)
        bare = ~seen[at[:, 1], at[:, 0]]
        if not bare.any():
            continue
        runs, count = ndimage.label(bare)
        for k in range(1, count + 1):
            run = line[runs == k]
            step = np.diff(run, axis=0)
            length = float(np.hypot(step[:, 0], step[:, 1]).sum())
            if length > 2.0 * width:
                x, y = run[len(run) // 2]
                found.append(((float(x), float(y)), length))
    return found


def bare_ink(
    mask: NDArray[np.bool_], lines: NDArray[np.bool_], width: float, slack: float
) -> list[tuple[tuple[float, float], NDArray[np.float64], float]]:
    """Return ink that no line follows, where it parts two regions.

    Parameters
    ----------
    mask : ndarray of bool, shape (h, w)
        Inked pixels.
    lines : ndarray of bool, shape (h, w)
        Pixels that the fitted lines cover.
    width : float
        Width of the pen's line, px.
    slack : float
        How far the hand may stray, px.

    Returns
    -------
    list of ((float, float), ndarray of shape (2, 2), float)
        A place, both tips, and how far it is from side to side of their line, px.

    Notes
    -----
    An end drawn past the line where it should stop has one region all round it
    and parts nothing.
    """
    from scipy import ndimage

    reach = max(1, round(slack + 0.1 * width))
    # the middle of the ink, not its rim
    left = shrunk(mask, round(0.25 * width)) & ~widened(lines, reach)
    labels, count = ndimage.label(left, np.ones((3, 3), bool))
    long = [
        (k, box) for k, box in enumerate(boxes_of(labels) if count else [], 1)
        if max(s.stop - s.start for s in box) >= 1.2 * width
    ]  # fmt: skip
    if not long:
        return []
    paper, _ = ndimage.label(~mask)
    found = []
    around = round(1.5 * width)
    for k, box in long:
        grown = tuple(slice(max(0, s.start - around), s.stop + around) for s in box)
        near = widened(labels[grown] == k, around - 1)
        # what lies beyond a line that is followed is not parted by this ink
        sides, _ = ndimage.label(near & ~lines[grown])
        own = np.isin(sides, sides[labels[grown] == k])
        beside = np.bincount(paper[grown][near & own])
        # two regions lie beside it over some length, not only at its end
        if (beside[1:] > width * width).sum() > 1:
            found.append((_inside(labels, k, box), *_tips(labels[box] == k, box)))
    return found


def small_at_forks(
    mask: NDArray[np.bool_],
    forks: list[Fork],
    width: float,
) -> list[tuple[tuple[float, float], float]]:
    """Return regions so small that the tip hidden in a fork's ink may change them.

    Parameters
    ----------
    mask : ndarray of bool, shape (h, w)
        Inked pixels.
    forks : list of Fork
        Forks whose lines were not found to meet.
    width : float
        Width of the pen's line, px.

    Returns
    -------
    list of ((float, float), float)
        A place and the area, px².

    Notes
    -----
    Two lines a width apart that meet at an angle hide w² / 2 sin of it, and more
    where they bend; that is held against a fifth of the region.
    """
    from scipy import ndimage

    if not forks:
        return []
    labels, count = ndimage.label(~mask)
    area = np.bincount(labels.ravel(), minlength=count + 1)
    found = {}
    # along the middle, until there is paper
    steps = np.arange(1.0, 8.0, 0.5)[:, None] * width
    for fork in forks:
        path = np.rint(fork.at + steps * fork.way).astype(int)
        x, y = np.clip(path, 0, (mask.shape[1] - 1, mask.shape[0] - 1)).T
        seen = np.flatnonzero(labels[y, x])
        if not len(seen):
            continue
        k = int(seen[0])
        index = int(labels[y[k], x[k]])
        if area[index] < 10.0 * width**2 / max(fork.angle, 0.1):
            found[index] = (float(x[k]), float(y[k])), float(area[index])
    return list(found.values())


def _tips(
    shape: NDArray[np.bool_], box: tuple[slice, ...]
) -> tuple[NDArray[np.float64], float]:
    """Return the two ends of a long patch, px, and how broad it is across."""
    rows, columns = np.nonzero(shape)
    points = np.stack([columns + box[1].start, rows + box[0].start], 1).astype(float)
    _, vectors = np.linalg.eigh(np.cov((points - points.mean(axis=0)).T))
    along = points @ vectors[:, 1]
    tips = points[[int(np.argmin(along)), int(np.argmax(along))]]
    return tips, float(np.ptp(points @ vectors[:, 0]))


def _inside(
    labels: NDArray[np.signedinteger], index: int, box: tuple[slice, ...]
) -> tuple[float, float]:
    """Return the place of a patch that lies deepest in it."""
    from scipy import ndimage

    deep = ndimage.distance_transform_edt(np.pad(labels[box] == index, 1))[1:-1, 1:-1]
    row, column = np.unravel_index(int(np.argmax(deep)), deep.shape)
    return float(column + box[1].start), float(row + box[0].start)
