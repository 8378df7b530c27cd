"""Masks of pixels: patches, their boxes, depth and growth, without waste."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats


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
