"""Pictures laid flat as one page, against an independent renderer."""

from __future__ import annotations

import io

import numpy as np
import pikepdf
import pypdfium2
import pytest
from pikepdf import Array, Dictionary, Name
from PIL import Image

from fillwork.errors import ReadError
from fillwork.readers.pdf import scanned
from fillwork.readers.pdf.pages import PageBox
from fillwork.readers.pdf.scanned import lay_flat, trace_page
from fillwork.readers.pdf.state import Picture
from fillwork.readers.scan import read as scan_read
from fillwork.readers.scan.model import Choices
from fillwork.readers.selectors import Choice
from fillwork.readers.source import SourceFile
from tests.unit.readers.pdf.test_pdf import MM, page, to_bytes

SIZE = (72, 48)  # points: at 72 dots an inch a pixel each
BOX = PageBox((SIZE[0] * MM, SIZE[1] * MM), (MM, 0.0, 0.0, MM, 0.0, 0.0))


def image(pdf, data, width, height, bits=8, **more):
    entries = {"ColorSpace": Name.DeviceGray} | more
    return pdf.make_stream(
        data, Type=Name.XObject, Subtype=Name.Image, Width=width, Height=height,
        BitsPerComponent=bits, **{k: v for k, v in entries.items() if v is not None},
    )  # fmt: skip


def grey(pdf, rows, **more):
    rows = np.array(rows, np.uint8)
    return image(pdf, rows.tobytes(), rows.shape[1], rows.shape[0], **more)


def shown(pdf, placed):
    """The page as it is laid flat, and as a renderer shows it; grey, 0 to 255."""
    names = [f"/I{k}" for k in range(len(placed))]
    content = "".join(
        f"q {' '.join(map(str, matrix))} cm {name} Do Q\n"
        for name, (_, matrix) in zip(names, placed, strict=True)
    )
    things = {n: thing for n, (thing, _) in zip(names, placed, strict=True)}
    sheet = page(content.encode(), SIZE, Resources=Dictionary(XObject=Dictionary()))
    for name, thing in things.items():
        sheet.pages[0].Resources.XObject[name] = sheet.copy_foreign(thing)
    true = pypdfium2.PdfDocument(to_bytes(sheet))[0].render(scale=1).to_pil()
    flat, dpi = lay_flat([Picture(t, m) for t, m in placed], BOX, "a.pdf")
    assert dpi == pytest.approx(72)
    assert flat.size == true.size == SIZE
    return np.asarray(flat.convert("L"), int), np.asarray(true.convert("L"), int)


@pytest.fixture
def pdf():
    with pikepdf.new() as found:
        yield found


STEPS = [[0, 90, 180], [60, 120, 240]]
# of 8 px: the first half of the upper row is 1, the second half of the lower
STENCIL = b"\xf0\x0f"


def stencil(pdf, **more):
    more |= {"ColorSpace": None, "ImageMask": True}
    return pdf.make_indirect(image(pdf, STENCIL, 8, 2, bits=1, **more))


@pytest.mark.parametrize(
    "matrix",
    [
        (30, 0, 0, 20, 10, 20),
        (-30, 0, 0, 20, 60, 8),
        (0, 30, -20, 0, 40, 10),
        (0, 30, 20, 0, 40, 10),
        (30, 0, 0, 20, -12, 36),  # over the page's edge
        (30, 0, 0, 20, 60, -10),
    ],
)
def test_pictures_stand_where_a_renderer_shows_them(pdf, matrix) -> None:
    # steps of 10 px: away from where two shades meet they are the same
    shades = np.kron(STEPS, np.ones((10, 10)))
    ours, true = shown(pdf, [(pdf.make_indirect(grey(pdf, shades)), matrix)])
    assert (true < 255).sum() > 50
    assert np.mean(np.abs(ours - true) > 3) < 0.04


def test_stencils_and_masks_leave_what_is_below(pdf) -> None:
    place = (32, 0, 0, 16, 20, 16)
    below = pdf.make_indirect(grey(pdf, [[200]])), (72, 0, 0, 48, 0, 0)
    soft = pdf.make_indirect(grey(pdf, [[255, 0], [0, 255]]))
    for over in (
        stencil(pdf),
        stencil(pdf, Decode=Array([1, 0])),
        pdf.make_indirect(grey(pdf, [[40]], Mask=stencil(pdf))),
        pdf.make_indirect(grey(pdf, [[40]], SMask=soft)),
    ):
        ours, true = shown(pdf, [below, (over, place)])
        assert {*ours.ravel().tolist()} <= {0, 40, 200}
        # half of its place is covered, and in the same quarters
        assert (ours < 200).sum() == 32 * 16 / 2
        assert np.mean(np.abs(ours - true) > 3) < 0.03


PALETTE = Array([Name.Indexed, Name.DeviceGray, 1, b"\x10\x90"])


@pytest.mark.parametrize(
    ("quarters", "bits", "hidden", "space"),
    [
        ([[40, 200], [60, 255]], 8, [200, 255], Name.DeviceGray),
        ([[40, 199], [60, 200]], 8, [200, 200], Name.DeviceGray),
        ([[0, 1], [2, 3]], 2, [1, 1], Name.DeviceGray),
        ([[0, 1], [1, 1]], 1, [0, 0], Name.DeviceGray),
        ([[2, 15], [3, 14]], 4, [15, 15], Name.DeviceGray),
        ([[0, 1], [1, 0]], 8, [1, 1], PALETTE),
        ([[0, 1], [1, 0]], 4, [0, 0], PALETTE),
        ([[(9, 9, 9), (9, 9, 7)], [(9, 8, 9), (7, 9, 9)]], 8, [9, 9, 9, 9, 7, 8],
         Name.DeviceRGB),
    ],
)  # fmt: skip
def test_colours_that_cover_nothing_leave_what_is_below(
    pdf, quarters, bits, hidden, space
) -> None:
    below = pdf.make_indirect(grey(pdf, [[230]])), (72, 0, 0, 48, 0, 0)
    # 18 px across, so that rows of few bits end within a byte
    of = np.array(quarters, np.uint8)
    of = of.repeat(8, 0).repeat(9, 1).reshape(16, -1)
    data = np.packbits(
        np.unpackbits(of[..., None], 2)[..., 8 - bits :].reshape(16, -1), 1
    )
    more = {"Mask": Array(hidden), "ColorSpace": space}
    over = image(pdf, data.tobytes(), 18, 16, bits=bits, **more)
    ours, true = shown(pdf, [below, (pdf.make_indirect(over), (36, 0, 0, 16, 20, 16))])
    quarter = 18 * 8
    assert (ours != 230).sum() in (quarter, 2 * quarter, 3 * quarter)
    assert np.mean((np.abs(ours - true) > 3)[16:32, 20:56]) < 0.1


@pytest.mark.parametrize("hidden", [[], [40, 40, 0, 0], [40] * 6, [40, 40, 40]])
def test_masks_of_other_colours_than_a_picture_has_hide_nothing(pdf, hidden) -> None:
    one = pdf.make_indirect(grey(pdf, [[40]], Mask=Array(hidden)))
    flat, _ = lay_flat([Picture(one, (72, 0, 0, 48, 0, 0))], BOX, "a.pdf")
    assert flat.getcolors() == [(72 * 48, (40, 40, 40))]


def test_masks_by_colour_of_pictures_of_two_bytes_a_pixel(pdf) -> None:
    data = np.array([[0, 65535, 300, 65535]], ">u2").tobytes()
    one = image(pdf, data, 4, 1, bits=16, Mask=Array([65535, 65535]))
    cover = scanned._covered(pdf.make_indirect(one), [65535, 65535])
    assert np.asarray(cover).tolist() == [[255, 0, 255, 0]]


def test_masks_by_colour_of_faxes_hide_nothing(pdf) -> None:
    stream = io.BytesIO()
    Image.new("1", (16, 8)).save(stream, "TIFF", compression="group4")
    stream.seek(0)
    with Image.open(stream) as tiff:
        first, size = tiff.tag_v2[273][0], tiff.tag_v2[279][0]
    data = stream.getvalue()[first : first + size]
    told = Dictionary(K=-1, Columns=16, Rows=8)
    more = {"Filter": Name.CCITTFaxDecode, "DecodeParms": told, "Mask": Array([1, 1])}
    one = pdf.make_indirect(image(pdf, data, 16, 8, bits=1, **more))
    assert scanned._covered(one, [1, 1]).getcolors() == [(16 * 8, 255)]
    flat, _ = lay_flat([Picture(one, (72, 0, 0, 48, 0, 0))], BOX, "a.pdf")
    assert len(flat.getcolors()) == 1


def test_masks_make_no_noise(pdf, recwarn) -> None:
    for mask in (stencil(pdf), Array([0, 0])):
        one = image(pdf, STENCIL, 8, 2, bits=1, Mask=mask)
        lay_flat([Picture(pdf.make_indirect(one), (9, 0, 0, 9, 0, 0))], BOX, "a.pdf")
    assert not recwarn.list


def test_a_stencil_is_painted_with_the_colour_in_force(pdf) -> None:
    picture = Picture(stencil(pdf), (72, 0, 0, 48, 0, 0), "#0000ff")
    flat, _ = lay_flat([picture], BOX, "a.pdf")
    colours = sorted(flat.getcolors())
    assert colours == [(72 * 24, (0, 0, 255)), (72 * 24, (255, 255, 255))]


def test_many_strips_cost_no_more_than_their_own_size(pdf, monkeypatch) -> None:
    # 48 strips of 1 px, each with what it covers, laid over one or two rows of the page
    strip = grey(pdf, [[9] * 72])
    placed = [Picture(strip, (72, 0, 0, 1, 0, k)) for k in range(48)]
    monkeypatch.setattr(scanned, "_MOST_WORK", 48 * 4 * 72)
    flat, _ = lay_flat(placed, BOX, "a.pdf")
    assert flat.getcolors() == [(72 * 48, (9, 9, 9))]
    monkeypatch.setattr(scanned, "_MOST_WORK", 48 * 3 * 72 - 1)
    with pytest.raises(ReadError, match="more than 10,367 pixels together"):
        lay_flat(placed, BOX, "a.pdf")


@pytest.mark.parametrize(
    "matrix", [(0, 0, 0, 0, 5, 5), (9, 0, 9, 0, 5, 5), (9, 0, 0, 9, 90, 90),
               (1e400, 0, 0, 9, 0, 0)],
)  # fmt: skip
def test_pictures_without_a_place_on_the_page_leave_it_white(pdf, matrix) -> None:
    flat, _ = lay_flat([Picture(grey(pdf, STEPS), matrix)], BOX, "a.pdf")
    assert flat.getcolors() == [(72 * 48, (255, 255, 255))]


def test_the_finest_picture_gives_the_resolution(pdf) -> None:
    # 300 px over 72 points, 1 inch; 5 px over 1 point are 360, 50 are 3600
    for width, across, dpi in ((300, 72, 300), (5, 1, 360), (50, 1, 1200), (1, 72, 72)):
        one = grey(pdf, [[0] * width])
        flat, found = lay_flat([Picture(one, (across, 0, 0, 1, 0, 0))], BOX, "a.pdf")
        assert found == pytest.approx(dpi)
        assert flat.size == (round(dpi), round(dpi * 48 / 72))


@pytest.mark.parametrize(
    "wrong",
    [
        {"BitsPerComponent": 7},
        {"BitsPerComponent": 16},
        {"Width": 999},
        {"Subtype": Name.Form},
        {"Filter": Name.JPXDecode},
        {"Filter": Name.CCITTFaxDecode},
        {"Filter": Name.JBIG2Decode},
        {"ColorSpace": Name.X},
    ],
)
def test_pictures_that_cannot_be_unpacked_are_refused_in_words(pdf, wrong) -> None:
    thing = grey(pdf, STEPS)
    for key, value in wrong.items():
        thing[f"/{key}"] = value
    with pytest.raises(ReadError, match="the picture on the page cannot be unpacked"):
        lay_flat([Picture(thing, (9, 0, 0, 9, 0, 0))], BOX, "a.pdf")


@pytest.mark.parametrize(("width", "refused"), [(0, True), (5, True), (4, False)])
def test_pictures_have_so_many_pixels_and_no_more(
    pdf, width, refused, monkeypatch
) -> None:
    monkeypatch.setattr(scanned, "_MOST_PIXELS", 72 * 48)
    one = image(pdf, bytes(72 * 12 * width), 72 * width, 12)
    if refused:
        told = f"a picture of {72 * 12 * width:,} pixels"
        with pytest.raises(ReadError, match=told):
            lay_flat([Picture(one, (9000, 0, 0, 9, 0, 0))], BOX, "a.pdf")
    else:
        lay_flat([Picture(one, (9000, 0, 0, 9, 0, 0))], BOX, "a.pdf")
    monkeypatch.setattr(scanned, "_MOST_PIXELS", 72 * 48 - 1)
    with pytest.raises(ReadError, match="the page as a picture has 72 x 48 pixels"):
        lay_flat([], BOX, "a.pdf")


@pytest.mark.parametrize(
    ("choices", "used"),
    [
        (None, {"dpi": 360}),
        (Choices(), {"dpi": 360}),
        (Choices(dpi=99.0), {"dpi": 99}),
        (Choices(sheet_size="a4"), {"sheet_size": "a4", "dpi": None}),
    ],
)
def test_the_pages_size_counts_unless_a_size_is_given(
    pdf, choices, used, monkeypatch
) -> None:
    # 5 px over 1 point are 360 dots an inch
    told = []

    def read(file, choice, how):
        told.append((file, choice, how))
        return "traced"

    monkeypatch.setattr(scan_read, "read_picture", read)
    file, choice = SourceFile("a.pdf", b"pdf", "digest"), Choice()
    one = Picture(grey(pdf, [[0] * 5]), (1, 0, 0, 1, 0, 0))
    assert trace_page([one], BOX, file, choice, choices) == "traced"
    ((flat, chosen, how),) = told
    assert (flat.name, flat.digest, chosen) == ("a.pdf", "digest", choice)
    assert Image.open(io.BytesIO(flat.data)).size == (360, 240)
    for key, value in used.items():
        found = getattr(how, key)
        assert found == (pytest.approx(value) if isinstance(value, int) else value)
