"""A page that is only pictures, laid flat at one resolution and traced."""

from __future__ import annotations

import io
import math
import warnings
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pikepdf

from fillwork.errors import ReadError
from fillwork.geometry import affine
from fillwork.readers.pdf.functions import BROKEN

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray
    from PIL import Image

    from fillwork.geometry.affine import Affine
    from fillwork.linework import LineWork
    from fillwork.readers.pdf.pages import PageBox
    from fillwork.readers.pdf.state import Picture
    from fillwork.readers.scan.model import Choices
    from fillwork.readers.selectors import Choice
    from fillwork.readers.source import SourceFile


_MOST_PIXELS = 110_000_000
_MOST_WORK = 6 * _MOST_PIXELS  # pixels of all pictures and of where they are laid
_LEAST, _MOST = 72 / 25.4, 1200 / 25.4  # px a mm
# of how many numbers a colour is, by what a picture is unpacked to
_PARTS = {"1": 1, "L": 1, "P": 1, "I;16": 1, "RGB": 3, "CMYK": 4}


def trace_page(
    pictures: list[Picture],
    box: PageBox,
    file: SourceFile,
    choice: Choice,
    choices: Choices | None,
) -> LineWork:
    """Trace a page that holds nothing but pictures; the traced lines in mm.

    `pictures`: what is placed on it, in order. `choice`: which layers are taken.
    `choices`: how it is traced; the page's size counts unless a size is given. Raises
    `ReadError` if a picture cannot be unpacked. Raises `LineWorkError` if it shows no
    lines.
    """
    from fillwork.readers.scan.model import Choices
    from fillwork.readers.scan.read import read_picture

    sheet, dpi = lay_flat(pictures, box, file.name)
    stream = io.BytesIO()
    sheet.save(stream, "PNG", dpi=(dpi, dpi))
    flat = replace(file, data=stream.getvalue())
    choices = Choices() if choices is None else choices
    if choices.sheet_size is None and choices.dpi is None and not choices.corners:
        choices = replace(choices, dpi=min(max(dpi, 50.0), 4800.0))
    return read_picture(flat, choice, choices)


def lay_flat(
    pictures: list[Picture], box: PageBox, where: str
) -> tuple[Image.Image, float]:
    """Return the page as one picture, and its resolution in dots an inch.

    It is that of the finest picture, from 72 to 1200.
    """
    from PIL import Image

    placed = [(p, affine.compose(box.matrix, p.matrix)) for p in pictures]
    scale = _LEAST
    for picture, matrix in placed:
        across = math.hypot(matrix[0], matrix[1])
        if across > 0:
            scale = max(scale, float(picture.image.get("/Width", 0)) / across)
    scale = min(scale, _MOST)
    width, height = (max(1, round(side * scale)) for side in box.size)
    if width * height > _MOST_PIXELS:
        what = f"the page as a picture has {width:,} x {height:,} pixels"
        raise ReadError(what, where, "save it at a lower resolution")
    sheet = Image.new("RGB", (width, height), "white")
    left = _MOST_WORK
    for picture, matrix in placed:
        left -= _paste(sheet, picture, matrix, scale, where)
        if left < 0:
            what = f"the page's pictures have more than {_MOST_WORK:,} pixels together"
            raise ReadError(what, where, "save the page as PNG or JPEG")
    return sheet, scale * 25.4


@contextmanager
def _refused(where: str) -> Iterator[None]:
    """Refuse a picture that cannot be unpacked, and keep a library's advice back."""
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except (
        *BROKEN, OSError, Image.DecompressionBombError,
        pikepdf.UnsupportedImageTypeError, pikepdf.DependencyError,
    ) as error:  # fmt: skip
        what = "the picture on the page cannot be unpacked"
        raise ReadError(what, where, "save the page as PNG or JPEG") from error


def _unpack(image: Any, where: str) -> Image.Image:
    pixels = int(image.get("/Width", 0)) * int(image.get("/Height", 0))
    if not 0 < pixels <= _MOST_PIXELS:
        what = f"a picture of {pixels:,} pixels"
        raise ReadError(what, where, "save it at a lower resolution")
    with _refused(where):
        found: Image.Image = pikepdf.PdfImage(image).as_pil_image()
        return found.convert("RGB")


def _covered(image: Any, mask: Any) -> Image.Image:
    """Return where a picture covers what is below it, of its own size.

    `mask`: the least and the largest of each part of the colours that do not, as
    they are packed (ISO 32000-1, section 8.9.6.4). All of it does where a picture has
    colours of another number of parts, or is packed so that these are not told.
    """
    from PIL import Image

    size = int(image.get("/Width", 0)), int(image.get("/Height", 0))
    try:
        hidden = [int(value) for value in mask]
        samples = _samples(image, len(hidden))
    except (*BROKEN, OSError):
        samples = None
    if samples is None:
        return Image.new("L", size, 255)
    clear = np.ones(samples.shape[:2], bool)
    for k in range(samples.shape[2]):
        clear &= hidden[2 * k] <= samples[..., k]
        clear &= samples[..., k] <= hidden[2 * k + 1]
    return Image.fromarray(np.where(clear, 0, 255).astype(np.uint8))


def _samples(image: Any, bounds: int) -> NDArray[np.integer[Any]] | None:
    """Return the numbers of a picture as they are packed, (height, width, parts).

    None where its colours are not of so many parts that each has two of the bounds.
    """
    width, height = int(image.Width), int(image.Height)
    parts = _PARTS.get(pikepdf.PdfImage(image).mode, 0)
    if bounds != 2 * parts:
        return None
    bits = int(image.BitsPerComponent)
    row = -(-width * parts * bits // 8)
    data = image.read_bytes(pikepdf.StreamDecodeLevel.all)
    packed = np.frombuffer(data, np.uint8)[: height * row].reshape(height, row)
    samples: NDArray[np.integer[Any]] = packed
    if bits == 16:
        samples = packed.view(">u2")
    elif bits < 8:
        places = np.arange(8 - bits, -1, -bits, dtype=np.uint8)
        each = packed[..., None] >> places & np.uint8((1 << bits) - 1)
        samples = each.reshape(height, -1)
    return samples[:, : width * parts].reshape(height, width, parts)


def _layers(picture: Picture, where: str) -> tuple[Image.Image, Image.Image]:
    """Return a picture and how far it covers, each of its own size.

    A stencil paints where it is 0; so does a mask; a soft one covers by its shade,
    and colours may be named that cover nothing (ISO 32000-1, sections 8.9.6 and
    11.6.5.3).
    """
    from PIL import Image, ImageOps

    image = picture.image
    shown = _unpack(image, where)
    if bool(image.get("/ImageMask", False)):
        cover = ImageOps.invert(shown.convert("L"))
        return Image.new("RGB", shown.size, picture.ink), cover
    for key in ("/SMask", "/Mask"):
        mask = image.get(key)
        if isinstance(mask, pikepdf.Stream):
            cover = _unpack(mask, where).convert("L")
            return shown, cover if key == "/SMask" else ImageOps.invert(cover)
        if key == "/Mask" and isinstance(mask, pikepdf.Array):
            return shown, _covered(image, mask)
    return shown, Image.new("L", shown.size, 255)


def _paste(
    sheet: Image.Image, picture: Picture, matrix: Affine, scale: float, where: str
) -> int:
    """Paste a picture where it stands, and return how many pixels were looked at.

    Its unit square is laid out by a map, y up.
    """
    from PIL import Image

    # from the unit square to px of the sheet, y down
    place = affine.compose((scale, 0.0, 0.0, -scale, 0.0, sheet.height), matrix)
    corners = affine.apply(place, np.array(list(np.ndindex(2, 2)), float))
    if not np.isfinite(corners).all() or affine.determinant(place) == 0:
        return 0
    first = np.floor(corners.min(axis=0)).clip(0, sheet.size)
    left, top = first.astype(int).tolist()
    last = np.ceil(corners.max(axis=0)).clip(first, sheet.size)
    size = tuple((last - first).astype(int).tolist())
    if not min(size):
        return 0
    shown, cover = _layers(picture, where)
    parts = []
    for layer, way in (
        (shown, Image.Resampling.BILINEAR), (cover, Image.Resampling.NEAREST)
    ):  # fmt: skip
        unit = (1 / layer.width, 0.0, 0.0, -1 / layer.height, 0.0, 1.0)
        moved = affine.compose(affine.translation(-left, -top), place)
        p, q, r, s, t, u = affine.invert(affine.compose(moved, unit))
        data = (p, r, t, q, s, u)
        parts.append(layer.transform(size, Image.Transform.AFFINE, data, way))
    sheet.paste(parts[0], (left, top), parts[1])
    looked = (parts[0], shown, cover)
    return sum(layer.width * layer.height for layer in looked)
