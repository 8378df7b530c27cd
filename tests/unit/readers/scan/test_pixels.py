"""Masks of pixels, against filters and distances that are slower."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from fillwork.readers.scan.pixels import (
    boxes_of,
    deepest,
    depth_at,
    middle_of,
    nearest,
    patches,
    seen_at,
    shrunk,
    spans,
    widened,
    without_rim,
)

NOISE = np.random.default_rng(6).random((37, 52)) < 0.2


@pytest.mark.parametrize("reach", [0, 1, 2, 3, 6])
def test_growth_and_shrinking_are_filters_of_squares(reach: int) -> None:
    side = 2 * reach + 1
    grown = ndimage.maximum_filter(NOISE, side, mode="constant")
    assert np.array_equal(widened(NOISE, reach), grown)
    left = ndimage.minimum_filter(~NOISE, side, mode="constant", cval=1)
    assert np.array_equal(shrunk(~NOISE, reach), left)


def test_depth_is_the_distance_to_what_is_outside() -> None:
    mask = ~widened(NOISE & (np.arange(52) % 9 == 0), 1)
    rows, columns = np.nonzero(mask)
    true = ndimage.distance_transform_edt(mask)[rows, columns]
    assert depth_at(mask, rows, columns) == pytest.approx(true)


def test_patches_touch_by_corners_and_fill_their_boxes() -> None:
    mask = np.zeros((9, 12), bool)
    mask[1:4, 2:5] = mask[4, 5] = mask[7, 8:11] = True
    labels, boxes = patches(mask)
    assert boxes == [(slice(1, 5), slice(2, 6)), (slice(7, 8), slice(8, 11))]
    assert spans(boxes).tolist() == [4, 3]
    assert [middle_of(box) for box in boxes] == [(4.0, 3.0), (9.5, 7.5)]
    assert boxes_of(labels) == boxes
    # the middle of the square of nine
    assert deepest(labels, 1, boxes[0]) == (3.0, 2.0)


def test_places_are_taken_to_the_nearest_pixel_of_the_picture() -> None:
    picture = np.arange(12).reshape(3, 4)
    places = np.array([[0.4, 0.6], [2.6, 1.4], [-9.0, 1.0], [99.0, 99.0]])
    assert nearest(picture, places).tolist() == [[0, 1], [3, 1], [0, 1], [3, 2]]
    assert seen_at(picture, places).tolist() == [4, 7, 4, 11]


def test_what_lies_wholly_along_the_rim_goes() -> None:
    mask = np.zeros((30, 40), bool)
    mask[0:3, 5:20] = mask[10:20, 37:40] = mask[12, 10:20] = True
    stays = mask.copy()
    # a line that runs into the sheet stays whole, and so does its end at the rim
    mask[25, 30:40] = stays[25, 30:40] = True
    stays[0:3] = stays[10:20, 37:40] = False
    assert np.array_equal(without_rim(mask, 3), stays)
    # two pixels deep, what reaches three in is none of the rim's
    assert np.array_equal(without_rim(mask, 2), mask)
