"""The gate: a picture file in, opaque RGB pixels out; nothing in it is trusted."""

from __future__ import annotations

import io
import math
import struct
import warnings
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import ReadError

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image


_FORMATS = ("PNG", "JPEG", "TIFF", "WEBP")
_TEXTS = (b"tEXt", b"zTXt", b"iTXt")  # of PNG, PNG specification 11.3.3
_MOST_BYTES = 120_000_000
_MOST_PIXELS = 110_000_000
_WORK_PIXELS = 36_000_000
_LEAST_SIDE = 200
_LONGEST = (
    40  # times as long as wide: of a longer strip nothing is seen when it is small
)
_FOCALS = (10, 300)  # mm: what lenses of telephones and cameras have
_BROKEN = (
    OSError,
    ValueError,
    SyntaxError,
    ArithmeticError,
    LookupError,
    TypeError,
    AttributeError,
    EOFError,
    MemoryError,
    struct.error,
    zlib.error,
)
"""What Pillow raises, or may raise, on a broken file."""


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """Hold the pixels of a picture, turned as its file says."""

    rgb: NDArray[np.uint8]  # (h, w, 3): opaque pixels; what was transparent is white
    dpi: float | None  # resolution that the file states and that can be true
    shrunk: int  # how many times smaller than in the file, to keep the work in bounds
    frames: int  # pictures in the file; the first one was taken
    camera: bool = False  # whether the file says that a camera took it
    # the camera's focal length against the longer side of the whole picture
    focal: float | None = None


def open_picture(data: bytes, name: str) -> Picture:
    """Return the pixels of a picture file.

    `data`: a PNG, JPEG, TIFF or WebP file. Raises `ReadError` if it is no such picture,
    damaged, too small or too large.
    """
    from PIL import Image, UnidentifiedImageError

    if len(data) > _MOST_BYTES:
        what = f"the picture file has {len(data) / 1e6:.0f} MB"
        raise ReadError(what, name, "scan at 300 dpi, or save it as JPEG")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=_FORMATS) as image:
                return _pixels(image, name)
    except ReadError:
        raise
    except Image.DecompressionBombError as error:
        what = f"the picture has far more than {_MOST_PIXELS / 1e6:.0f} million pixels"
        raise ReadError(what, name, "scan at 300 dpi, or make it smaller") from error
    except UnidentifiedImageError as error:
        what = "the picture cannot be read"
        raise ReadError(what, name, "save it once more as PNG or JPEG") from error
    except _BROKEN as error:
        bare = _without_texts(data)
        if len(bare) < len(data):
            return open_picture(bare, name)
        reason = str(error).splitlines()[0][:70] if str(error) else type(error).__name__
        what = f"the picture is damaged ({reason})"
        raise ReadError(what, name, "copy or save it once more") from error


def _without_texts(data: bytes) -> bytes:
    """Return a picture without the texts of a PNG file, which may be refused as large.

    PNG specification, third edition, 5.3: each chunk has its length, its type, so many
    bytes and four that check them.
    """
    if not data.startswith(b"\x89PNG\r\n\x1a\n"):
        return data
    kept, place = [data[:8]], 8
    while place + 8 <= len(data):
        length, sort = struct.unpack_from(">I4s", data, place)
        if sort not in _TEXTS:
            kept.append(data[place : place + length + 12])
        place += length + 12
    return b"".join(kept)


def _pixels(image: Image.Image, name: str) -> Picture:
    width, height = image.size
    if min(width, height) < _LEAST_SIDE:
        what = f"the picture has {width} x {height} px, too few to see lines in"
        raise ReadError(what, name, "scan the sheet at 300 dpi")
    if max(width, height) > _LONGEST * min(width, height):
        what = f"the picture has {width} x {height} px, longer than {_LONGEST} widths"
        raise ReadError(what, name, "cut it into parts, and trace them one by one")
    if width * height > _MOST_PIXELS:
        what = f"the picture has {width} x {height} px, over {_MOST_PIXELS:,} in all"
        raise ReadError(what, name, "scan at 300 dpi, or make it smaller")
    frames = int(getattr(image, "n_frames", 1))
    dpi = _resolution(image)
    shrunk = max(1, math.ceil(math.sqrt(width * height / _WORK_PIXELS)))
    image.load()
    flat = _opaque(image)
    if shrunk > 1:
        flat = flat.reduce(shrunk)
        dpi = dpi / shrunk if dpi else None
    rgb = np.asarray(_turned(flat, image), dtype=np.uint8)
    told = _told(image)
    return Picture(rgb, dpi, shrunk, frames, _by_camera(told), _focal(told, image.size))


def _resolution(image: Image.Image) -> float | None:
    """Return the stated dpi; 72 and 96 are what programs write without knowing."""
    try:
        across, down = (float(v) for v in image.info["dpi"][:2])
    except (*_BROKEN, ZeroDivisionError):
        return None
    if not (99.0 <= across <= 4800.0 and abs(across - down) < 0.02 * across):
        return None
    return across


def _told(image: Image.Image) -> dict[int, object]:
    """Return the Exif IFD of a picture, empty where it has none (tag 34665)."""
    try:
        return dict(image.getexif().get_ifd(0x8769))
    except _BROKEN:
        return {}


def _by_camera(told: dict[int, object]) -> bool:
    """Return whether the EXIF names an exposure or a focal length; scanners have none.

    CIPA DC-008, Exif 2.3, tags 33434 and 37386 of the Exif IFD.
    """
    return 33434 in told or 37386 in told


def _focal(told: dict[int, object], size: tuple[int, int]) -> float | None:
    """Return the focal length against the longer side; None where the EXIF is silent.

    CIPA DC-008, Exif 2.3, tag 41989: that of a camera for film of 24 by 36 mm which
    sees as much from corner to corner; zooming by cutting out is counted in.
    """
    same = told.get(41989)
    if not isinstance(same, int) or not _FOCALS[0] <= same <= _FOCALS[1]:
        return None
    return same / math.hypot(24.0, 36.0) * math.hypot(*size) / max(size)


def _turned(image: Image.Image, source: Image.Image) -> Image.Image:
    """Honour the EXIF orientation; a false EXIF turns nothing."""
    from PIL import Image

    try:
        way = source.getexif().get(0x0112, 1)
    except _BROKEN:
        return image
    turns = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }
    return image.transpose(turns[way]) if way in turns else image


def _opaque(image: Image.Image) -> Image.Image:
    from PIL import Image

    if image.mode.startswith(("I", "F")):
        grey = np.asarray(image, dtype=np.float32)
        top = float(np.nanmax(grey, initial=0.0))
        # grey goes from 0 to 1, or to what 8 or 16 bits hold
        steps = (1.0, 255.0, 65535.0) if image.mode == "F" else (255.0, 65535.0)
        top = next((step for step in steps if top <= step), top)
        scaled = np.nan_to_num(np.clip(grey / top * 255.0, 0, 255)).astype(np.uint8)
        return Image.fromarray(scaled).convert("RGB")
    clear = image.mode in ("RGBA", "LA", "PA", "RGBa", "La")
    if clear or "transparency" in image.info:
        top_layer = image.convert("RGBA")
        ground = Image.new("RGBA", image.size, (255, 255, 255, 255))
        return Image.alpha_composite(ground, top_layer).convert("RGB")
    return image.convert("RGB")
