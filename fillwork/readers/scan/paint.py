"""Paint between the lines: colour already laid on, and areas as dark as the pen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.pixels import boxes_of, deepest, depth_at

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Floats32
    from fillwork.readers.scan.pixels import Place


# mm: wider than a pen's line and than the blots where lines meet; the share of it that
# is still wider than a line.
_AREA, _LINE = 2.2, 0.7
# Of middle lines, each as heavy as its ink is broad: what is thinner than a pen.
_THIN = 0.25
# Pens: a blot where lines meet is less wide than so many.
_BLOT = 2.8
# Of the pen's darkness: paint on which its lines are hard to see; what is pen itself.
_DARK_PAINT, _PEN = 0.6, 0.85


def find_areas(dark: Bools, scale: float) -> tuple[int, Bools]:
    """Return where the dark is broader than lines are.

    `dark` (h, w): pixels darker than bare paper. `scale`: px a mm. Returns `wide`:
    width from which on the dark is an area, px: 2.2 mm, or more for broad pens; `areas`
    (h, w): the areas, their rim a little grown.
    """
    wide = round(_AREA * scale)
    areas = _broad(dark, wide)
    if areas.any():
        # most of the middle lines are the pen's: an area has few, and grain is fine
        from skimage.morphology import skeletonize

        middle: Bools = skeletonize(dark)  # type: ignore[no-untyped-call]
        deep = np.sort(depth_at(dark, *np.nonzero(middle)))
        mass = np.cumsum(np.minimum(deep, 0.5 * wide))
        pen = 2.0 * float(deep[np.searchsorted(mass, _THIN * mass[-1])])
        if _BLOT * pen > wide:
            wide = round(_BLOT * pen)
            areas = _broad(dark, wide)
    return wide, areas


def _broad(dark: Bools, wide: int) -> Bools:
    from scipy import ndimage

    step = max(1, wide // 8)
    height, width = dark.shape
    down, across = height // step, width // step
    blocks = dark[: down * step, : across * step].reshape(down, step, across, step)
    # grain leaves pinholes in paint
    small = blocks.mean(axis=(1, 3)) > 0.75
    side = max(3, round(wide / step))
    small = ndimage.grey_opening(small.astype(np.uint8), (side, side)) > 0
    found = np.zeros(dark.shape, bool)
    if small.any():
        grown = ndimage.binary_dilation(small, np.ones((3, 3), bool), iterations=2)
        spread = np.repeat(np.repeat(grown, step, axis=0), step, axis=1)
        found[: down * step, : across * step] = spread
    return found


def as_pen(dark: Floats32, ink: Floats) -> Floats32:
    """Return darkness in the channels that the pen darkens, the least of them.

    `dark` (h, w, 3): darkness of each channel. `ink` (3,): the pen's. Returns (h, w):
    the pen's own darkness where it drew, less where another colour lies.
    """
    level = float(ink.max())
    strength = np.full(dark.shape[:2], np.inf, np.float32)
    for channel in np.flatnonzero(ink > 0.5 * level):
        share = dark[:, :, channel] * np.float32(level / ink[channel])
        np.minimum(strength, share, out=strength)
    return strength


def ink_on_paint(
    dark: Floats32, ink: Floats, wide: int
) -> tuple[Floats32, list[tuple[Place, float]]]:
    """Return darkness as the pen's colour darkens, with paint taken for paper.

    `dark` (h, w, 3): darkness of each channel. `ink` (3,): the pen's. `wide`: width
    from which on the dark is an area, px. Returns `strength` (h, w): darkness against
    the paint beside a line; `hidden`: areas on which the pen is hard to see: a place,
    and the size, px.
    """
    from scipy import ndimage

    level = float(ink.max())
    strength = as_pen(dark, ink)
    areas = _broad(ndimage.uniform_filter(strength, 3) > 0.3 * level, wide)
    if not areas.any():
        return strength, []
    soft = ndimage.uniform_filter(strength, 3)
    side = max(3, round(_LINE * wide) | 1)
    ground = ndimage.grey_opening(soft, (side, side))
    ground = np.clip(ground, 0.0, 0.95)
    beside = np.clip((strength - ground) / (1.0 - ground), 0.0, 1.0)
    found = _places(areas & (ground > _DARK_PAINT * level))
    # smaller, it is the blot where lines meet
    hidden = [(at, size) for at, size in found if size >= wide]
    pen = ~areas | (strength >= _PEN * level)
    return np.where(pen, strength, beside), hidden


def _places(found: Bools) -> list[tuple[Place, float]]:
    from scipy import ndimage

    labels, _ = ndimage.label(found)
    return [
        (deepest(labels, k, box), float((labels[box] == k).sum()) ** 0.5)
        for k, box in enumerate(boxes_of(labels), 1)
    ]


def hollow_areas(pen: Bools, wide: int) -> Bools:
    """Return ink in which areas have become lines along their rim.

    `pen` (h, w): inked pixels. `wide`: width from which on ink is an area, px. Returns
    (h, w): the same where nothing is painted with the pen's ink.

    The line lies inside the rim, as wide as the lines elsewhere: there a pen drew
    it, or would have.
    """
    from scipy import ndimage

    solid = _broad(pen, wide)
    if not solid.any():
        return pen
    deep = ndimage.distance_transform_edt(pen)
    lines = deep[pen & ~solid]
    # a stripe w wide lies on average w / 4 from its rim
    width = 4.0 * float(lines.mean()) if len(lines) else wide / _BLOT
    result: Bools = pen & ~(solid & (deep > width))
    return result
