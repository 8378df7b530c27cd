"""Uneven light taken out: darkness of each pixel against the paper around it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Floats, Floats32

_BLOCK = 16
_WINDOW_MM = 9.0
# Lines differ so much from the paper around, at least; light ink covers so much of it.
_LINE, _INKED = 1.3, 0.002


def measure_darkness(rgb: NDArray[np.uint8], scale: float) -> Floats32:
    """Return the darkness of each channel.

    `rgb` (h, w, 3): the page. `scale`: px a mm. Returns (h, w, 3): 0 on the paper
    around, 1 on black.

    Each channel is divided by a local high percentile: the 80th of each block,
    then the 70th of the blocks around, which no line work fills.
    """
    from PIL import Image
    from scipy import ndimage

    height, width = rgb.shape[:2]
    down, across = height // _BLOCK, width // _BLOCK
    window = max(3, round(_WINDOW_MM * scale / _BLOCK) | 1)
    dark = np.empty(rgb.shape, np.float32)
    for channel in range(3):
        sample = rgb[: down * _BLOCK : 2, : across * _BLOCK : 2, channel]
        half = _BLOCK // 2
        blocks = sample.reshape(down, half, across, half).transpose(0, 2, 1, 3)
        rank = int(0.8 * half * half)
        flat = np.partition(blocks.reshape(down, across, half * half), rank, axis=2)
        paper = flat[:, :, rank].astype(np.float32)
        paper = ndimage.percentile_filter(paper, 70, size=window, mode="nearest")
        paper = ndimage.gaussian_filter(paper, window / 6, mode="nearest")
        wide = np.asarray(
            Image.fromarray(paper).resize((width, height), Image.Resampling.BILINEAR)
        )
        np.divide(rgb[:, :, channel], np.maximum(wide, 1.0), out=dark[:, :, channel])
    np.subtract(1.0, dark, out=dark)
    return np.clip(dark, 0.0, 1.0, out=dark)


def channels_of(colour: str) -> Floats:
    """Return red, green and blue of ``#rrggbb``, 0 to 255."""
    return np.array([float(int(colour[k : k + 2], 16)) for k in (1, 3, 5)])


def is_light_ink(rgb: NDArray[np.uint8], scale: float, pen: str) -> tuple[bool, float]:
    """Tell whether the lines are lighter than the paper, as white ink on brown.

    Besides how much lies on the paper's other side, as a share of the lines.

    `rgb` (h, w, 3): the page. `scale`: px a mm. `pen`: ``auto``, or the ink's colour as
    ``#rrggbb``.
    """
    from scipy import ndimage

    down, across = (n // _BLOCK for n in rgb.shape[:2])
    own = rgb[: down * _BLOCK, : across * _BLOCK]
    own = own.reshape(down, _BLOCK, across, _BLOCK, 3)
    paper = np.median(own[:, ::2, :, ::2].astype(np.float32), axis=(1, 3))
    if pen != "auto":
        return bool(channels_of(pen).sum() > np.median(paper.sum(axis=2))), 0.0
    window = max(3, round(_WINDOW_MM * scale / _BLOCK) | 1)
    paper = ndimage.median_filter(paper, (window, window, 1), mode="nearest")
    share = own / np.maximum(paper, 1.0)[:, None, :, None]
    light = float((share.min(axis=4) > _LINE).mean())
    dark = float((share.max(axis=4) < 1.0 / _LINE).mean())
    less, more = sorted((light, dark))
    return light > max(_INKED, dark), less / max(more, _INKED)
