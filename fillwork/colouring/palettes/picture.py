"""A palette drawn from a picture: a tile, a textile, a view.

Pixels are gathered in OKLab, where equal steps look about equal, and parted
into clusters; each cluster's mean is a swatch, its share of the picture the
share of the swatch. The same picture gives the same palette: starting points
are chosen by size and distance, nothing is drawn by lot.

A picture is not trusted: its size is read before its pixels, and large ones
are refused.
"""

from __future__ import annotations

import hashlib
import io
import struct
import warnings
import zlib
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.difference import (
    oklab_to_srgb,
    parse_colour,
    srgb_to_hex,
    srgb_to_oklab,
)
from fillwork.colouring.palettes.model import Palette, Swatch
from fillwork.colouring.palettes.tables import fit_name
from fillwork.errors import PaletteError
from fillwork.notes import Note

if TYPE_CHECKING:
    from PIL import Image

    from fillwork.arrays import Floats

_MOST_BYTES = 80_000_000
_MOST_PIXELS = 80_000_000
_SAMPLE = 320
_FORMATS = ("PNG", "JPEG", "WEBP", "TIFF", "BMP", "GIF", "PPM")
_FEWEST, _MOST = 2, 64
_CELL = 0.02
_BROKEN = (
    OSError, ValueError, SyntaxError, ArithmeticError, LookupError, TypeError,
    MemoryError, struct.error, zlib.error,
)  # fmt: skip
"""What Pillow was seen to raise, or may raise, on a broken file."""
_ROUNDS = 60
_NEAREST = 0.02


def palette_from_picture(
    data: bytes, count: int, name: str = "From a picture"
) -> Palette:
    """Draw a palette from a picture.

    Swatches by falling share; fewer than `count`, with a note, when the picture holds
    fewer colours that can be told apart (ΔEOK 0.02).

    `data`: a picture file: PNG, JPEG, WebP, TIFF, BMP, GIF or PPM. `count`: how many
    swatches, 2 to 64. Raises `PaletteError` if it is no picture, too large, or the
    count is out of range.
    """
    if not _FEWEST <= count <= _MOST:
        what = f"{count} swatches cannot be drawn from a picture"
        raise PaletteError(what, mend=f"ask for {_FEWEST} to {_MOST}")
    pixels = _pixels(data)
    cells, weight = _cells(srgb_to_oklab(pixels / 255.0))
    centres, share = _clusters(cells, weight, count)
    order = np.lexsort((centres[:, 2], centres[:, 1], centres[:, 0], -share))
    centres, share = centres[order], share[order]
    colours = [parse_colour(h) for h in srgb_to_hex(oklab_to_srgb(centres))]
    swatches, seen = [], dict[str, int]()
    shares = np.floor(share / share.sum() * 1000.0) / 1000.0
    for place, colour in enumerate(colours):
        plain = name_colour(colour.oklch)
        seen[plain] = seen.get(plain, 0) + 1
        swatches.append(
            Swatch(
                name=plain if seen[plain] == 1 else f"{plain} {seen[plain]}",
                code=str(place + 1),
                hex=colour.hex,
                oklch=colour.oklch,
                lab=colour.lab,
                role=_role(place, float(shares[place])),
                share=float(shares[place]),
            )
        )
    notes = []
    if len(swatches) < count:
        text = f"the picture holds {len(swatches)} colours that can be told apart, "
        text += f"fewer than {count}"
        notes.append(Note("colouring", "few colours", text))
    return Palette(
        name=fit_name(name),
        swatches=tuple(swatches),
        note="Drawn from a picture; the paints to match it are for you to find.",
        source=f"picture with SHA-256 {hashlib.sha256(data).hexdigest()[:16]}",
        digest=hashlib.sha256(data).hexdigest(),
        notes=tuple(notes),
    )


def _pixels(data: bytes) -> Floats:
    """Return opaque pixels of a reduced copy, shape (n, 3), 0 to 255."""
    from PIL import Image, UnidentifiedImageError

    mend = "give a PNG, JPEG, WebP, TIFF, BMP, GIF or PPM file"
    if len(data) > _MOST_BYTES:
        what = f"the picture file has {len(data) / 1e6:.0f} MB"
        raise PaletteError(what, mend=f"make it smaller than {_MOST_BYTES // 10**6} MB")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=_FORMATS) as picture:
                _refuse_large(picture)
                if picture.format == "JPEG":
                    picture.draft("RGB", (2 * _SAMPLE, 2 * _SAMPLE))
                picture.load()
                table = _table(picture)
    except PaletteError:
        raise
    except Image.DecompressionBombError as error:
        what = "the picture has far more than 80 million pixels"
        raise PaletteError(what, mend="make it smaller") from error
    except UnidentifiedImageError as error:
        what = "this is no picture" if data else "the picture file is empty"
        raise PaletteError(what, mend=mend) from error
    except _BROKEN as error:
        what = f"the picture cannot be read ({str(error)[:60] or type(error).__name__})"
        raise PaletteError(what, mend=mend) from error
    if not len(table):
        what = "the picture is wholly transparent"
        raise PaletteError(what, mend="give a picture with something on it")
    return table


def _refuse_large(picture: Image.Image) -> None:
    width, height = picture.size
    if width * height > _MOST_PIXELS:
        what = f"the picture has {width} x {height} pixels"
        raise PaletteError(what, mend="make it smaller than 80 million pixels")


def _table(picture: Image.Image) -> Floats:
    from PIL import Image

    if picture.mode not in ("RGB", "RGBA"):
        if picture.mode.startswith(("I", "F")):
            grey = np.asarray(picture, dtype=np.float64)
            top = max(float(grey.max(initial=0.0)), 1e-9)
            top = 255.0 if top <= 255.0 else 65535.0 if top <= 65535.0 else top
            scaled = np.clip(grey / top * 255.0, 0, 255).astype(np.uint8)
            picture = Image.fromarray(scaled, "L")
        picture = picture.convert("RGBA")
    width, height = picture.size
    factor = max(1, (max(width, height) + _SAMPLE - 1) // _SAMPLE)
    if factor > 1:
        # premultiplied, so that transparent pixels lend no colour
        if picture.mode == "RGBA":
            picture = picture.convert("RGBa").reduce(factor).convert("RGBA")
        else:
            picture = picture.reduce(factor)
    values = np.asarray(picture.convert("RGBA"), dtype=np.float64).reshape(-1, 4)
    return values[values[:, 3] >= 128.0, :3]


def _cells(oklab: Floats) -> tuple[Floats, Floats]:
    """Return means and weights of the filled cells of a grid in OKLab."""
    place = np.floor(np.round(oklab, 9) / _CELL).astype(np.int64)
    _, where, counts = np.unique(place, axis=0, return_inverse=True, return_counts=True)
    where = where.ravel()
    means = np.stack(
        [np.bincount(where, oklab[:, c]) / counts for c in range(3)], axis=1
    )
    return np.round(means, 9), counts.astype(np.float64)


def _clusters(cells: Floats, weight: Floats, count: int) -> tuple[Floats, Floats]:
    """Return centres and weights of at most `count` clusters."""
    # the first centre is the heaviest cell; each next one is far and heavy:
    # the square root keeps small, striking colours in the running
    lift = np.sqrt(weight)
    centres = [cells[int(np.argmax(weight))]]
    far = ((cells - centres[0]) ** 2).sum(axis=1)
    while len(centres) < min(count, len(cells)):
        choice = int(np.argmax(np.round(far * lift, 9)))
        if far[choice] < _NEAREST**2:
            break
        centres.append(cells[choice])
        far = np.minimum(far, ((cells - cells[choice]) ** 2).sum(axis=1))
    means = np.array(centres)
    owner = np.full(len(cells), -1)
    for _ in range(_ROUNDS):
        apart = ((cells[:, None, :] - means[None]) ** 2).sum(axis=2)
        nearest = np.argmin(np.round(apart, 12), axis=1)
        if np.array_equal(nearest, owner):
            break
        owner = nearest
        total = np.bincount(owner, weight, len(means))
        filled = total > 0
        for c in range(3):
            summed = np.bincount(owner, weight * cells[:, c], len(means))
            means[filled, c] = summed[filled] / total[filled]
    total = np.bincount(owner, weight, len(means))
    kept = total > 0
    share: Floats = total[kept].astype(np.float64)
    return np.asarray(np.round(means[kept], 9)), share


def _role(place: int, share: float) -> str:
    if place == 0:
        return "ground"
    return "main" if share >= 0.12 else "accent"


_HUES = (
    (18.0, "pink"), (42.0, "red"), (70.0, "orange"), (95.0, "ochre"), (118.0, "yellow"),
    (158.0, "green"), (200.0, "sea green"), (235.0, "turquoise"), (278.0, "blue"),
    (315.0, "violet"), (345.0, "purple"), (361.0, "pink"),
)  # fmt: skip
"""Upper bounds of OKLCH hue in degrees; plain words, from memory."""


def name_colour(oklch: tuple[float, float, float]) -> str:
    """Return a plain name for a colour.

    Such as ``dark blue``, ``pale ochre``, ``mid grey``.

    `oklch`: lightness 0 to 1, chroma, hue in degrees.

    Examples
    --------
    >>> name_colour((0.3, 0.1, 264.0))
    'dark blue'
    """
    light, chroma, hue = oklch
    if chroma < 0.025:
        for bound, word in ((0.2, "black"), (0.4, "dark grey"), (0.7, "mid grey")):
            if light < bound:
                return word
        return "pale grey" if light < 0.93 else "white"
    word = next(name for bound, name in _HUES if hue < bound)
    if word in ("orange", "ochre", "red") and light < 0.5 and chroma < 0.11:
        word = "brown"
    shade = "dark " if light < 0.42 else "pale " if light > 0.82 else ""
    return f"{shade}{word}"
