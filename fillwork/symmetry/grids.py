"""Pixels and peaks with numpy alone.

A survey of a small drawing takes less time than loading scipy, so the few things
that symmetry needs of it are written out here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats32, Ints


def fast_length(least: int) -> int:
    """Return a length for which Fourier transforms are fast.

    The smallest product of 2, 3 and 5 that is not smaller.

    `least`: smallest length that will do.

    Examples
    --------
    >>> fast_length(97), fast_length(128)
    (100, 128)
    """
    best = 1 << max(least - 1, 0).bit_length()
    five = 1
    while five < best:
        three = five
        while three < best:
            rest = -(-least // three)
            best = min(best, three << max(rest - 1, 0).bit_length())
            three *= 3
        five *= 5
    return max(best, 1)


def local_peaks(values: NDArray[np.floating]) -> Bools:
    """Return which cells of a grid are no lower than their eight neighbours.

    `values` (rows, columns): a grid whose edges are joined. Returns (rows, columns):
    True at peaks.
    """
    top = values
    for axis in (0, 1):
        up, down = np.roll(top, 1, axis=axis), np.roll(top, -1, axis=axis)
        top = np.maximum(np.maximum(up, down), top)
    return np.asarray(values >= top)


def _runs(inside: Bools) -> tuple[Ints, Ints, Ints]:
    """Return row, begin and end (behind the last) of each run of true pixels."""
    rows, columns = inside.shape
    padded = np.zeros((rows, columns + 2), np.int8)
    padded[:, 1:-1] = inside
    step = np.diff(padded, axis=1)
    row, begin = np.nonzero(step == 1)
    _, end = np.nonzero(step == -1)
    return row, begin, end


def count_parts(inside: Bools) -> tuple[int, int]:
    """Return into how many parts pixels fall, and the size of the largest.

    `inside` (rows, columns): pixels; those that share a side hang together. Returns
    number of parts; pixels of the largest; 0 without any.
    """
    row, begin, end = _runs(inside)
    if len(row) == 0:
        return 0, 0
    columns = inside.shape[1] + 1
    starts, stops = row * columns + begin, row * columns + end
    # runs of the next row that overlap each run
    low = np.searchsorted(stops, starts + columns, side="right")
    high = np.searchsorted(starts, stops + columns, side="left")
    owner, other = expand_ranges(low, np.maximum(high - low, 0))
    part = part_numbers(owner, other, len(row))
    total = np.bincount(part, weights=(end - begin).astype(np.float64))
    return len(total), int(total.max())


def distance_inside(inside: Bools, most: float) -> Floats32:
    """Return how far each true pixel is from the nearest false one.

    `inside` (rows, columns): pixels; beyond the grid all count as true. `most`:
    distance that is measured at most, in pixels; farther pixels get it. Returns (rows,
    columns): Euclidean distance between centres, in pixels, 0 outside.

    Distances along columns first, then the smallest sum of squares along each
    row: exact up to `most`.
    """
    limit = max(int(np.ceil(most)), 1)
    rows, _ = inside.shape
    # whole numbers of 16 bits where they fit, which is faster
    small = np.int16 if limit + 2 * rows < 1 << 15 else np.int32
    index = np.arange(rows, dtype=small)[:, None]
    gap = np.where(inside, small(limit), small(0))
    gap -= index
    np.minimum.accumulate(gap, axis=0, out=gap)
    gap += 2 * index
    back = gap[::-1]
    np.minimum.accumulate(back, axis=0, out=back)
    gap -= index
    kind = np.uint16 if 2 * limit**2 < 1 << 16 else np.float32
    # turned, so that steps along a row go from row to row, which numpy does at once
    square = np.ascontiguousarray(gap.T).astype(kind)
    np.multiply(square, square, out=square)
    best, longer = square.copy(), np.empty_like(square)
    farthest = float(square.max(initial=0))
    for step in range(1, min(limit, len(square))):
        if step * step >= farthest:
            break
        np.add(square, kind(step * step), out=longer)
        np.minimum(best[step:], longer[:-step], out=best[step:])
        np.minimum(best[:-step], longer[step:], out=best[:-step])
    distance = np.sqrt(best.T, dtype=np.float32, order="C")
    return np.asarray(np.minimum(distance, np.float32(most)))
