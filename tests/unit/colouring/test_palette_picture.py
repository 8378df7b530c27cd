import io
import zlib

import numpy as np
import pytest
from PIL import Image

from fillwork.colouring.difference import hex_to_srgb, srgb_to_oklab
from fillwork.colouring.palettes.file import palette_to_toml, parse_palette
from fillwork.colouring.palettes.picture import name_colour, palette_from_picture
from fillwork.errors import PaletteError

FOUR = ["#f4eddc", "#a9502f", "#2d4f80", "#2f2722"]
SHARES = [0.5, 0.25, 0.15, 0.1]


def stripes(mode: str = "RGB", size: int = 200) -> Image.Image:
    rows = np.zeros((size, size, 3), np.uint8)
    start = 0
    for hexed, share in zip(FOUR, SHARES, strict=True):
        stop = start + round(share * size)
        rows[start:stop] = np.round(hex_to_srgb(hexed) * 255)
        start = stop
    return Image.fromarray(rows).convert(mode)


def saved(picture: Image.Image, kind: str = "PNG", **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def test_flat_colours_are_found_with_their_shares():
    palette = palette_from_picture(saved(stripes()), 4)
    assert [s.hex for s in palette.swatches] == FOUR
    assert [s.share for s in palette.swatches] == pytest.approx(SHARES, abs=0.002)
    assert palette.swatches[0].role == "ground"
    assert palette.notes == ()


@pytest.mark.parametrize("kind", ["PNG", "BMP", "GIF", "TIFF", "PPM"])
def test_formats(kind):
    palette = palette_from_picture(saved(stripes(), kind), 4)
    assert [s.hex for s in palette.swatches] == FOUR


@pytest.mark.parametrize("kind", ["JPEG", "WEBP"])
def test_lossy_formats_come_near(kind):
    palette = palette_from_picture(saved(stripes(size=640), kind, quality=92), 4)
    for swatch, hexed in zip(palette.swatches, FOUR, strict=True):
        step = srgb_to_oklab(hex_to_srgb(swatch.hex)) - srgb_to_oklab(
            hex_to_srgb(hexed)
        )
        assert np.abs(step).max() < 0.02


@pytest.mark.parametrize("mode", ["P", "RGBA", "CMYK", "L", "1", "LA", "I;16", "I"])
def test_modes(mode):
    picture = stripes()
    if mode == "I;16":
        grey = np.asarray(picture.convert("L"), dtype=np.uint16) * 257
        picture = Image.fromarray(grey)
    elif mode == "I":
        picture = picture.convert("L").convert("I")
    else:
        picture = picture.convert(mode)
    data = saved(picture, "TIFF" if mode in ("CMYK", "I") else "PNG")
    assert 2 <= len(palette_from_picture(data, 3).swatches) <= 3


def test_the_same_picture_gives_the_same_palette():
    rng = np.random.default_rng(4)
    noise = Image.fromarray(rng.integers(0, 256, (90, 120, 3), np.uint8))
    first = palette_from_picture(saved(noise), 12)
    assert first == palette_from_picture(saved(noise), 12)
    assert len({s.name for s in first.swatches}) == 12
    text = palette_to_toml(first)
    again = parse_palette(text.encode(), "p.toml")
    assert [s.hex for s in again.swatches] == [s.hex for s in first.swatches]
    assert sum(s.share or 0 for s in first.swatches) <= 1.0


def test_transparent_pixels_lend_no_colour():
    picture = stripes("RGBA")
    table = np.array(picture)
    table[:100, :, 3] = 0
    palette = palette_from_picture(saved(Image.fromarray(table)), 4)
    assert FOUR[0] not in [s.hex for s in palette.swatches]
    table[..., 3] = 0
    with pytest.raises(PaletteError, match="transparent"):
        palette_from_picture(saved(Image.fromarray(table)), 4)


def test_few_colours():
    one = Image.new("RGB", (5, 5), "#2d4f80")
    palette = palette_from_picture(saved(one), 8)
    assert [s.hex for s in palette.swatches] == ["#2d4f80"]
    assert palette.notes[0].type == "few colours"


def test_small_bright_spots_are_not_lost():
    picture = Image.new("RGB", (200, 200), "#d8d0c0")
    picture.paste("#c8322b", (0, 0, 14, 14))
    for box, hexed in (((40, 0, 120, 90), "#cfc6b4"), ((0, 100, 90, 190), "#e0d9ca")):
        picture.paste(hexed, box)
    assert "#c8322b" in [
        s.hex for s in palette_from_picture(saved(picture), 3).swatches
    ]


def bomb(width: int, height: int) -> bytes:
    """Return a PNG whose header promises far more than it holds."""
    header = width.to_bytes(4, "big") + height.to_bytes(4, "big") + b"\x08\x02\0\0\0"

    def chunk(name: bytes, body: bytes) -> bytes:
        check = zlib.crc32(name + body).to_bytes(4, "big")
        return len(body).to_bytes(4, "big") + name + body + check

    body = zlib.compress(bytes(1000))
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", body)
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "empty"),
        (b"not a picture", "no picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture"),
        (saved(stripes())[:80], "cannot be read"),
        (bomb(10_000, 9_000), "10000 x 9000"),
        (bomb(60_000, 60_000), "far more than 80 million"),
        (bomb(5_000, 5_000), "cannot be read"),
        (b"\x89PNG\r\n\x1a\n" + bytes(100), "picture"),
    ],
)
def test_hostile_pictures(data, what):
    with pytest.raises(PaletteError, match=what):
        palette_from_picture(data, 5)


@pytest.mark.parametrize("count", [-1, 0, 1, 65])
def test_counts(count):
    with pytest.raises(PaletteError, match="2 to 64"):
        palette_from_picture(saved(stripes()), count)


def test_names_are_plain():
    assert name_colour((0.98, 0.01, 90.0)) == "white"
    assert name_colour((0.1, 0.01, 0.0)) == "black"
    assert name_colour((0.63, 0.25, 29.0)) == "red"
    assert name_colour((0.97, 0.2, 110.0)) == "pale yellow"


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ("x" * 60, "x" * 60),
        ("x" * 61, "x" * 59 + "…"),
        ("a\nb \0c", "a b c"),
        ("wall\u202e", "wall"),
    ],
)
def test_any_name_is_one_that_the_file_holds(given, told):
    palette = palette_from_picture(saved(stripes()), 4, given)
    read = parse_palette(palette_to_toml(palette).encode(), "p.toml")
    assert palette.name == read.name == told
    assert read.swatches == palette.swatches
