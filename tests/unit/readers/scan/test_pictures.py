"""Pictures of every sort: read, or refused in one clear line."""

from __future__ import annotations

import contextlib
import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageDraw

from fillwork.errors import FillworkError, LineWorkError, ReadError
from fillwork.readers import read_linework
from fillwork.readers.scan.picture import open_picture


def square(size: int = 700) -> Image.Image:
    """A square with its two diagonals: four regions."""
    image = Image.new("RGB", (size, size), "white")
    pen = ImageDraw.Draw(image)
    a, b = size * 0.2, size * 0.8
    for line in ([(a, a), (b, a), (b, b), (a, b), (a, a)], [(a, a), (b, b)]):
        pen.line(line, fill="black", width=6)
    pen.line([(a, b), (b, a)], fill="black", width=6)
    return image


def encoded(image: Image.Image, sort: str, **settings: object) -> bytes:
    out = io.BytesIO()
    image.save(out, sort, **settings)
    return out.getvalue()


def sixteen_bits() -> bytes:
    grey = np.asarray(square().convert("L")).astype(np.uint16) * 257
    return encoded(Image.fromarray(grey), "PNG")


def clear() -> bytes:
    image = Image.new("RGBA", (700, 700), (0, 0, 0, 0))
    image.paste(square(), (0, 0), square().convert("L").point(lambda v: 255 - v))
    return encoded(image, "PNG")


def turned() -> bytes:
    exif = Image.Exif()
    exif[0x0112] = 6
    return encoded(square(), "JPEG", exif=exif.tobytes(), quality=95)


READ = {
    "png": lambda: encoded(square(), "PNG"),
    "jpeg": lambda: encoded(square(), "JPEG", quality=90),
    "tiff": lambda: encoded(square(), "TIFF"),
    "webp": lambda: encoded(square(), "WEBP", quality=90),
    "cmyk": lambda: encoded(square().convert("CMYK"), "JPEG", quality=95),
    "grey": lambda: encoded(square().convert("L"), "PNG"),
    "grey from 0 to 1": lambda: encoded(
        Image.fromarray(np.asarray(square().convert("L"), np.float32) / 255), "TIFF"
    ),
    "one bit": lambda: encoded(square().convert("1"), "PNG"),
    "palette": lambda: encoded(square().quantize(8), "PNG"),
    "sixteen bits": sixteen_bits,
    "alpha": clear,
    "turned by EXIF": turned,
    "false EXIF": lambda: encoded(
        square(),
        "JPEG",
        quality=95,
        exif=b"Exif\0\0II*\0\x08\0\0\0\xff\xff" + b"\7" * 90,
    ),
    "false resolution": lambda: encoded(square(), "PNG", dpi=(1e7, 3)),
}


@pytest.mark.parametrize("name", READ)
def test_is_read(name: str) -> None:
    found = read_linework(READ[name](), name=name)
    assert found.trace is not None
    assert found.trace.sure
    # four sides and two diagonals, none of them bent
    assert found.stroke_count == 6
    assert not found.curves.kind.any()


def test_animation_gives_its_first_picture() -> None:
    blank = Image.new("RGB", (700, 700), "white")
    data = encoded(square(), "WEBP", save_all=True, append_images=[blank], quality=90)
    found = read_linework(data, name="moving")
    assert "the first was traced" in " ".join(n.text for n in found.notes)


def bomb() -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        crc = zlib.crc32(kind + body)
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", crc)

    head = struct.pack(">IIBBBBB", 60000, 60000, 8, 2, 0, 0, 0)
    body = zlib.compress(bytes(1_000_000))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body)
            + chunk(b"IEND", b""))  # fmt: skip


def noise() -> bytes:
    rng = np.random.default_rng(3)
    return encoded(
        Image.fromarray(rng.integers(0, 255, (800, 800, 3), dtype=np.uint8)), "PNG"
    )


REFUSED = {
    "bomb": (bomb, ReadError),
    "20 px": (lambda: encoded(square().resize((20, 20)), "PNG"), ReadError),
    "strip": (
        lambda: encoded(Image.new("L", (210, 60 * 210), "white"), "PNG"),
        ReadError,
    ),
    # a scanner's finest steps make one millimetre of it
    "1 mm": (lambda: encoded(square(210), "PNG", dpi=(4800, 4800)), ReadError),
    "cut short": (lambda: encoded(square(), "PNG")[:900], ReadError),
    "head alone": (lambda: b"\x89PNG\r\n\x1a\n", ReadError),
    "jpeg head": (lambda: b"\xff\xd8\xff\xe0" + bytes(40), ReadError),
    "tiff head": (lambda: b"II*\x00\x08\0\0\0" + b"\xff" * 60, ReadError),
    "webp head": (lambda: b"RIFF\x10\0\0\0WEBPVP8 " + bytes(20), ReadError),
    "blank": (
        lambda: encoded(Image.new("RGB", (900, 900), "white"), "PNG"),
        LineWorkError,
    ),
    "black": (
        lambda: encoded(Image.new("RGB", (900, 900), "black"), "PNG"),
        FillworkError,
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_is_refused_in_words(name: str) -> None:
    make, sort = REFUSED[name]
    with pytest.raises(sort) as caught:
        read_linework(make(), name=name)
    assert caught.value.where == name
    assert caught.value.mend
    assert len(str(caught.value).splitlines()) == 2


def test_a_picture_taken_in_the_dark_asks_for_more_light() -> None:
    grain = np.random.default_rng(4).normal(0.0, 4.0, (*square().size[::-1], 1))
    dark = Image.fromarray(
        np.clip(np.asarray(square()) * 0.04 + grain, 0, 255).astype("u1")
    )
    with pytest.raises(LineWorkError, match="too dark") as caught:
        read_linework(encoded(dark, "JPEG", quality=60), name="x")
    assert "more light" in str(caught.value.mend)


def test_noise_is_never_sure() -> None:
    try:
        found = read_linework(noise(), name="noise")
    except FillworkError:
        return
    assert found.trace is not None
    assert not found.trace.sure


@pytest.mark.parametrize("wrong", ["layer=doubtfull", "class=doubtful"])
def test_a_layer_that_no_picture_has_is_refused(wrong: str) -> None:
    with pytest.raises(LineWorkError, match="of the drawing") as caught:
        read_linework(READ["png"](), name="square", leave=(wrong,))
    assert ("doubtful?" in str(caught.value.mend)) is wrong.startswith("layer")
    # one that it may have, and has not, is none to complain about
    assert read_linework(READ["png"](), leave=("layer=pencil",)).stroke_count == 6


def test_a_wide_picture_is_made_smaller_or_refused() -> None:
    wide = Image.new("L", (20_000, 900), 255)
    ImageDraw.Draw(wide).line([(100, 450), (19_900, 450)], fill=0, width=12)
    found = read_linework(encoded(wide, "PNG", dpi=(600, 600)), name="wide")
    assert found.stroke_count >= 1
    with pytest.raises(ReadError, match="20000 x 6000 px"):
        open_picture(encoded(Image.new("1", (20_000, 6_000)), "PNG"), "huge")


@pytest.mark.parametrize("kept", [60, 200, 1500, 4000])
def test_damage_never_ends_in_a_traceback(kept: int) -> None:
    rng = np.random.default_rng(kept)
    for sort in ("PNG", "JPEG", "TIFF", "WEBP"):
        data = bytearray(encoded(square(240), sort))
        for at in rng.integers(8, len(data), 6):
            data[at] = int(rng.integers(0, 256))
        for piece in (bytes(data), bytes(data[:kept])):
            with contextlib.suppress(FillworkError):
                read_linework(piece, name="damaged")
