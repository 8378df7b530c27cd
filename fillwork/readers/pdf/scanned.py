"""A page that is only pictures, laid flat at one resolution and traced."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pikepdf

from fillwork.errors import ReadError
from fillwork.geometry import affine

if TYPE_CHECKING:
    from PIL import Image

    from fillwork.geometry.affine import Affine
    from fillwork.linework import LineWork
    from fillwork.readers.pdf.pages import PageBox
    from fillwork.readers.pdf.state import Picture
    from fillwork.readers.scan.model import Choices
    from fillwork.readers.selectors import Choice
    from fillwork.readers.source import SourceFile


_MOST_PIXELS = 110_000_000
_LEAST, _MOST = 72 / 25.4, 1200 / 25.4  # px a mm


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
    from PIL import Image

    from fillwork.readers.scan.model import Choices
    from fillwork.readers.scan.read import read_picture

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
        raise ReadError(what, file.name, "save it at a lower resolution")
    sheet = Image.new("RGB", (width, height), "white")
    for picture, matrix in placed:
        _paste(sheet, _unpack(picture.image, file.name), matrix, scale)
    stream = io.BytesIO()
    sheet.save(stream, "PNG", dpi=(scale * 25.4, scale * 25.4))
    flat = replace(file, data=stream.getvalue())
    choices = Choices() if choices is None else choices
    if choices.sheet_size is None and choices.dpi is None and not choices.corners:
        choices = replace(choices, dpi=min(max(scale * 25.4, 50.0), 4800.0))
    return read_picture(flat, choice, choices)


def _unpack(image: Any, where: str) -> Image.Image:
    from PIL import Image

    pixels = int(image.get("/Width", 0)) * int(image.get("/Height", 0))
    if not 0 < pixels <= _MOST_PIXELS:
        what = f"a picture of {pixels:,} pixels"
        raise ReadError(what, where, "save it at a lower resolution")
    try:
        found: Image.Image = pikepdf.PdfImage(image).as_pil_image()
        return found.convert("RGB")
    except (
        pikepdf.PdfError, pikepdf.UnsupportedImageTypeError, OSError, ValueError,
        KeyError, TypeError, NotImplementedError, AttributeError,
        Image.DecompressionBombError, pikepdf.DependencyError,
    ) as error:  # fmt: skip
        what = "the picture on the page cannot be unpacked"
        raise ReadError(what, where, "save the page as PNG or JPEG") from error


def _paste(
    sheet: Image.Image, image: Image.Image, matrix: Affine, scale: float
) -> None:
    """Paste a picture where it stands: its unit square laid out by a map, y up."""
    from PIL import Image

    a, b, c, d, e, f = matrix
    height = sheet.height
    # from px of the sheet, y down, back to px of the picture, y down
    place = (
        a * scale,
        -b * scale,
        c * scale,
        -d * scale,
        e * scale,
        height - f * scale,
    )
    unit = (1 / image.width, 0.0, 0.0, -1 / image.height, 0.0, 1.0)
    forth = affine.compose(place, unit)
    if affine.determinant(forth) == 0:
        return
    p, q, r, s, t, u = affine.invert(forth)
    how = Image.Transform.AFFINE
    data = (p, r, t, q, s, u)
    way = Image.Resampling.BILINEAR
    seen = Image.new("L", image.size, 255).transform(sheet.size, how, data)
    sheet.paste(image.transform(sheet.size, how, data, way), (0, 0), seen)
