"""Masks of pixels: patches, their boxes, depth and growth, without waste.

A *patch* is a set of pixels that touch by sides or corners; paper between lines is
taken apart by sides alone, so that a line one pixel wide parts it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import AnyInts, Bools, Floats, Ints

Place = tuple[float, float]
"""Columns and rows from the middle of the upper left pixel, px."""
_Any = TypeVar("_Any", bound=np.generic)


def patches(mask: Bools) -> tuple[AnyInts, list[tuple[slice, ...]]]:
    """Return the patches of a mask, numbered from 1 on, and the boxes that they span.

    `mask` (h, w): any. Returns (h, w): the patch of each pixel, 0 for none.
    """
    from scipy import ndimage

    labels, _ = ndimage.label(mask, np.ones((3, 3)))
    return labels, boxes_of(labels)


def spans(boxes: list[tuple[slice, ...]]) -> Ints:
    """Return the longer side of each box, px."""
    return np.array([max(s.stop - s.start for s in box) for box in boxes], np.int64)


def middle_of(box: tuple[slice, ...]) -> Place:
    """Return the middle of a box."""
    rows, columns = box
    return (columns.start + columns.stop) / 2, (rows.start + rows.stop) / 2


def deepest(labels: AnyInts, number: int, box: tuple[slice, ...]) -> Place:
    """Return the place of a patch that lies deepest in it.

    `labels` (h, w): which patch each pixel is of. `box`: what the patch spans.
    """
    from scipy import ndimage

    deep = ndimage.distance_transform_edt(np.pad(labels[box] == number, 1))[1:-1, 1:-1]
    row, column = np.unravel_index(int(np.argmax(deep)), deep.shape)
    return float(column + box[1].start), float(row + box[0].start)


def place(at: Floats) -> Place:
    """Return a place as two numbers. `at` (2,): px."""
    return float(at[0]), float(at[1])


def nearest(picture: NDArray[_Any], places: Floats) -> Ints:
    """Return the columns and rows of the pixels nearest to places, (n, 2).

    `picture` (h, w): any. `places` (n, 2): px.
    """
    limit = picture.shape[1] - 1, picture.shape[0] - 1
    return np.clip(np.rint(places).astype(np.int64), 0, limit)


def seen_at(picture: NDArray[_Any], places: Floats) -> NDArray[_Any]:
    """Return what a picture shows at places; at its rim for places beyond it.

    `picture` (h, w): any. `places` (n, 2): px. Returns (n,).
    """
    columns, rows = nearest(picture, places).T
    found: NDArray[_Any] = picture[rows, columns]
    return found


def boxes_of(labels: AnyInts) -> list[tuple[slice, ...]]:
    """Return the rows and columns that each label spans, from label 1 on.

    One for each label, in their order. `labels` (h, w): zero is no label; the others
    run from 1 on without a gap.
    """
    from scipy import ndimage

    return list(filter(None, ndimage.find_objects(labels)))


def depth_at(mask: Bools, rows: AnyInts, columns: AnyInts) -> Floats:
    """Return how far places of a mask lie from what is not of it.

    `mask` (h, w): any. `rows` and `columns` (n,): the places. Returns (n,): px, to
    middles of pixels; infinite where all is of the mask.

    The nearest pixel outside touches the mask: a step from it to the place, along
    the longer way, is nearer and so is inside. A tree of these few gives what a
    distance transform of the whole page would, several times sooner.
    """
    from scipy.spatial import cKDTree

    rim = np.zeros_like(mask)
    rim[1:] |= mask[:-1]
    rim[:-1] |= mask[1:]
    rim[:, 1:] |= mask[:, :-1]
    rim[:, :-1] |= mask[:, 1:]
    outside = np.argwhere(rim & ~mask)
    tree = cKDTree(outside, balanced_tree=False, compact_nodes=False)
    return np.asarray(tree.query(np.stack([rows, columns], 1))[0])


def without_rim(mask: Bools, depth: int) -> Bools:
    """Return a mask without the patches that lie wholly along the picture's rim.

    `mask` (h, w): any. `depth`: px, how far from the rim such patches reach at most.
    """
    from scipy import ndimage

    inner = np.zeros_like(mask)
    inner[depth:-depth, depth:-depth] = True
    if not (mask & ~inner).any():
        return mask
    labels, count = ndimage.label(mask, np.ones((3, 3)))
    stays = np.zeros(count + 1, bool)
    stays[labels[inner]] = True
    stays[0] = False
    return stays[labels]


def widened(mask: Bools, reach: int) -> Bools:
    """Return a mask with every pixel grown to a square.

    `mask` (h, w): any. `reach`: px on each side. Returns (h, w): a maximum filter, by
    doubled shifts: a few times faster on bits.
    """
    grown = np.pad(mask, reach)
    height, width = mask.shape
    done = 0
    while done < 2 * reach:
        step = min(done + 1, 2 * reach - done)
        grown[:-step] |= grown[step:].copy()
        done += step
    grown, done = np.ascontiguousarray(grown[:height]), 0
    while done < 2 * reach:
        step = min(done + 1, 2 * reach - done)
        grown[:, :-step] |= grown[:, step:].copy()
        done += step
    return grown[:, :width]


def shrunk(mask: Bools, reach: int) -> Bools:
    """Return a mask without what lies near its rim; the page's own rim is none.

    `mask` (h, w): any. `reach`: px on each side. Returns (h, w): a minimum filter.
    """
    return ~widened(~mask, reach)
