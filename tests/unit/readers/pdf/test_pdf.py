"""PDF pages by independent writers (reportlab, pikepdf), against mathematics."""

import contextlib
import io
import math
import random
import time
import zlib

import numpy as np
import pikepdf
import pypdfium2
import pytest
from pikepdf import Array, Dictionary, Name
from PIL import Image, ImageDraw
from reportlab.pdfgen import canvas

from fillwork import read_linework
from fillwork.errors import FillworkError, LineWorkError, ReadError
from fillwork.geometry.curves import CUBIC, LINE

MM = 25.4 / 72


def page(content, size=(200, 100), **entries):
    """A file of one page with the content and further entries of the page."""
    pdf = pikepdf.new()
    sheet = pdf.add_blank_page(page_size=size)
    sheet.Contents = pdf.make_stream(content)
    for key, value in entries.items():
        sheet.obj[f"/{key}"] = value
    return pdf


def to_bytes(pdf, **how):
    stream = io.BytesIO()
    pdf.save(stream, **how)
    return stream.getvalue()


def read(content, size=(200, 100), entries=(), **choices):
    data = to_bytes(page(content, size, **dict(entries)))
    return read_linework(data, name="page.pdf", **choices)


def ends(work):
    """First and last points in points of the page."""
    return work.curves.starts() / MM, work.curves.ends() / MM


def test_operators_draw_true_curves_at_true_size():
    work = read(b"10 20 m 60 20 l 70 30 80 40 90 20 c h S 5 5 10 20 re S")
    assert work.frame.scale_known
    assert (work.frame.width, work.frame.height) == pytest.approx((200 * MM, 100 * MM))
    assert work.curves.kind.tolist() == [LINE, CUBIC, LINE, LINE, LINE, LINE, LINE]
    assert work.closed.tolist() == [True, True]
    row = work.curves.data[1] / MM
    assert row == pytest.approx([60, 20, 70, 30, 80, 40, 90, 20])


def test_lines_drawn_one_by_one_are_read_as_others():
    r = random.Random(1)
    lines = [tuple(r.randrange(99) for _ in range(4)) for _ in range(30)]
    lines[9] = (5, 5, 5, 5)
    text = b"".join(b"%d %d.5 m %d %d.50 l S\n" % line for line in lines)
    text = b"0 0 1 RG 0 0 m 1 1 l S " + text + b"1 0 0 RG " + text + b"9 9 m 8 8 l S "
    one, other = read(text), read(text.replace(b"l S", b"l % apart\nS"))
    assert one.curves.data.tolist() == other.curves.data.tolist()
    assert one.groups == other.groups
    assert sorted((g.colour, g.count) for g in one.groups) == [
        ("#0000ff", 30), ("#ff0000", 30),
    ]  # fmt: skip


def test_short_curves_take_the_points_that_they_leave_out():
    # ISO 32000-1, table 59: v takes the point where it stands, y its last one
    work = read(b"10 10 m 20 30 40 10 v S 10 10 m 20 30 40 10 y S")
    rows = work.curves.data / MM
    assert rows[0] == pytest.approx([10, 10, 10, 10, 20, 30, 40, 10])
    assert rows[1] == pytest.approx([10, 10, 20, 30, 40, 10, 40, 10])


def test_maps_nest_and_are_restored():
    work = read(
        b"q 2 0 0 3 10 20 cm q 0 1 -1 0 0 0 cm 1 0 m 5 0 l S Q 1 0 m 5 0 l S Q "
        b"1 0 m 5 0 l S"
    )
    starts, lasts = ends(work)
    assert starts == pytest.approx(np.array([[10, 23], [12, 20], [1, 0]]))
    assert lasts == pytest.approx(np.array([[10, 35], [20, 20], [5, 0]]))


def test_styles():
    work = read(
        b"2 w 1 0 0 RG 1 1 m 9 1 l S [3 2] 0 d 0 0 1 0 K 1 2 m 9 2 l S "
        b"[] 0 d 0.5 G q 3 0 0 3 0 0 cm 1 3 m 2 3 l S Q 0 0 1 rg 20 20 30 30 re f",
        scope="both",
    )
    found = [(g.colour, g.width, g.dash) for g in work.groups if g.width]
    assert sorted(found) == [
        ("#808080", pytest.approx(6 * MM, rel=1e-3), False),
        ("#ff0000", pytest.approx(2 * MM, rel=1e-3), False),
        ("#ffff00", pytest.approx(2 * MM, rel=1e-3), True),
    ]
    assert ("#0000ff", None) in {(g.colour, g.width) for g in work.groups}


def _function(kind, **entries):
    given = {"Domain": [0, 1], "Range": [0, 1] * 3} | entries
    lists = {k: Array(v) if isinstance(v, list) else v for k, v in given.items()}
    return Dictionary(FunctionType=kind, **lists)


def test_colours_of_tints_are_what_a_renderer_shows():
    # one wide line a space; pdfium judges. A device colour, tables, powers, a seam
    # and a program, which asks for every sort of its words
    pdf = page(b"")
    power = _function(2, C0=[1.0, 1.0, 0.5], C1=[0.2, 0.0, 1.0], N=2)
    falling = _function(2, C0=[0.0, 0.3, 1.0], C1=[1.0, 0.9, 0.0], N=1)
    stitched = _function(
        3, Functions=[power, falling], Bounds=[0.5], Encode=[0, 1, 1, 0]
    )
    table = pdf.make_stream(bytes(range(0, 240, 20)))
    table.update(_function(0, Size=[4], BitsPerSample=8))
    program = pdf.make_stream(
        b"{ dup 0.4 gt { 1 exch sub } { 2 mul } ifelse dup 90 mul sin exch dup dup "
        b"mul 3 1 roll sqrt abs 2 copy add 2 div exch pop 3 -1 roll }"
    )
    program.update(_function(4))
    two = pdf.make_stream(b"{ exch dup 3 1 roll 0.5 mul }")
    two.update(_function(4, Domain=[0, 1, 0, 1]))
    spaces, lines = Dictionary(), b"8 w "
    for k, function in enumerate([power, stitched, table, program]):
        tint = [Name.Separation, Name.Own, Name.DeviceRGB, function]
        spaces[f"/T{k}"] = Array(tint)
    names = Array([Name.One, Name.Other])
    spaces["/N"] = Array([Name.DeviceN, names, Name.DeviceRGB, two])
    white = Dictionary(WhitePoint=Array([0.9642, 1, 0.8249]))
    spaces["/L"] = Array([Name.Lab, white])
    given = {"L": b"60 40 -30", "N": b".2 .9"}
    given |= {f"T{k}": b".34" for k in range(4)}
    for k, (name, numbers) in enumerate(given.items()):
        set_colour = b"/%b CS %b SCN " % (name.encode(), numbers)
        lines += set_colour + b"10 %d m 190 %d l S " % (10 + 15 * k, 10 + 15 * k)
    pdf.pages[0].Contents = pdf.make_stream(lines)
    pdf.pages[0].Resources = Dictionary(ColorSpace=spaces)
    data = to_bytes(pdf)
    work = read_linework(data, name="tints.pdf")
    image = pypdfium2.PdfDocument(data)[0].render().to_pil().convert("RGB")
    heights = np.round(100 - work.curves.starts()[:, 1] / MM).astype(int)
    assert len(heights) == len(given)
    seen = {image.getpixel((100, y)) for y in heights.tolist()}
    ours = {tuple(bytes.fromhex(g.colour[1:])) for g in work.groups}
    assert len(ours) == len(given)
    for colour in ours:
        # a table is read at its nearest entry, Lab under another white
        assert min(max(map(abs, np.subtract(colour, s))) for s in seen) < 12, colour


def test_indexed_colours_are_looked_up_in_their_table():
    # ISO 32000-1, 8.6.6.3: an index above the highest counts as that one, and a byte
    # stands for 0 to 1 of a device colour, of Lab for the range of its component
    white = Dictionary(WhitePoint=Array([0.9642, 1, 0.8249]))
    # 128 and 204 of 255 are L* 50.2 and 80; 127.5 is the grey middle of -100 to 100
    spaces = Dictionary(
        R=Array([Name.Indexed, Name.DeviceRGB, 1, b"\x11\x22\x33\xaa\xbb\xcc"]),
        C=Array([Name.Indexed, Name.DeviceCMYK, 0, b"\xff\x00\x00\x00"]),
        L=Array([Name.Indexed, Array([Name.Lab, white]), 0, b"\xff\x80\x80"]),
    )
    lines = b"".join(
        b"/%b CS %d SC 10 %d m 90 %d l S " % (name, index, height, height)
        for height, (name, index) in enumerate(
            [(b"R", 0), (b"R", 1), (b"R", 7), (b"C", 0), (b"L", 0)], 10
        )
    )
    work = read(lines, entries={"Resources": Dictionary(ColorSpace=spaces)})
    found = [group.colour for group in work.groups for _ in range(group.count)]
    assert sorted(found)[:-1] == ["#00ffff", "#112233", "#aabbcc", "#aabbcc"]
    # L* 100 with next to no colour: white
    assert min(bytes.fromhex(sorted(found)[-1][1:])) > 250


@pytest.mark.parametrize(("turn", "first"), [
    (0, (10, 20)), (90, (20, 190)), (180, (190, 80)), (270, (80, 10)), (-90, (80, 10)),
])  # fmt: skip
def test_turned_pages(turn, first):
    # clockwise: the page's left lower corner comes to the left upper one at 90
    work = read(b"10 20 m 30 20 l S", entries={"Rotate": turn})
    size = (200, 100) if turn % 180 == 0 else (100, 200)
    assert (work.frame.width / MM, work.frame.height / MM) == pytest.approx(size)
    assert ends(work)[0][0] == pytest.approx(first)


def test_crop_box_and_user_unit():
    entries = {"CropBox": Array([50, 10, 150, 90]), "UserUnit": 10}
    work = read(b"0 50 m 200 50 l S", entries=entries)
    assert work.frame.width == pytest.approx(1000 * MM)
    assert work.frame.height == pytest.approx(800 * MM)
    assert work.curves.lengths() == pytest.approx([1000 * MM])
    assert "cut" in " ".join(n.text for n in work.notes)


def test_clips_cut_lines():
    work = read(
        b"q 20 20 40 40 re W n 0 30 m 100 30 l S Q "
        b"q 100 10 m 180 10 l 140 90 l h W n 100 50 m 200 50 l S Q 0 5 m 50 5 l S"
    )
    starts, lasts = ends(work)
    spans = sorted((s[0], e[0]) for s, e in zip(starts, lasts, strict=True))
    assert np.array(spans) == pytest.approx(np.array([(0, 50), (20, 60), (120, 160)]))


@pytest.mark.parametrize(
    ("outline", "hides"), [(b"0 0 0 0 re", True), (b"5 5 m", True), (b"", False)]
)
def test_a_clip_without_sides_leaves_nothing(outline, hides):
    # as pdfium renders it; no outline at all is no clip
    content = b"q " + outline + b" W n 10 20 m 70 20 l S Q 0 50 m 90 50 l S"
    work = read(content)
    assert work.stroke_count == (1 if hides else 2)
    sheet = pypdfium2.PdfDocument(to_bytes(page(content)))[0]
    seen = np.asarray(sheet.render().to_pil().convert("L")) < 255
    assert seen[48:52].any()
    assert seen[75:85].any() != hides


def test_soft_masks_and_annotations_are_told():
    pdf = page(b"q /M gs 10 20 m 70 20 l S Q 0 50 m 90 50 l S")
    mask = form(pdf, b"0 g 0 0 100 100 re f")
    mask.Group = Dictionary(S=Name.Transparency, CS=Name.DeviceGray)
    state = Dictionary(SMask=Dictionary(S=Name.Luminosity, G=mask))
    pdf.pages[0].Resources = Dictionary(ExtGState=Dictionary(M=state))
    look = Dictionary(N=form(pdf, b"0 0 m 9 9 l S"))
    box = Array([0, 0, 9, 9])
    pdf.pages[0].obj.Annots = Array(
        Dictionary(Type=Name.Annot, Subtype=Name(kind), Rect=box, AP=look, F=flags)
        for kind, flags in (("/Ink", 4), ("/Square", 2), ("/Link", 4), ("/Line", "x"))
    )
    notes = [n.text for n in read_linework(to_bytes(pdf), name="told.pdf").notes]
    assert "what is seen through a soft mask is taken whole, once" in notes
    # hidden ones and links are not seen
    assert "not line work and left out: 2 annotations" in notes


def form(pdf, content, **entries):
    stream = pdf.make_stream(content)
    stream.Type, stream.Subtype = Name.XObject, Name.Form
    stream.BBox = Array([0, 0, 100, 100])
    for key, value in entries.items():
        stream[f"/{key}"] = value
    return stream


def test_forms_in_forms():
    pdf = page(b"q 1 0 0 1 10 10 cm /A Do Q /A Do")
    inner = form(pdf, b"0 0 m 10 0 l S", Matrix=Array([0, 1, -1, 0, 50, 0]))
    inner.BBox = Array([0, -5, 5, 5])
    outer = form(pdf, b"2 0 0 2 0 0 cm /B Do")
    outer.Resources = Dictionary(XObject=Dictionary(B=inner))
    pdf.pages[0].Resources = Dictionary(XObject=Dictionary(A=outer))
    work = read_linework(to_bytes(pdf), name="forms.pdf")
    starts, lasts = ends(work)
    # turned by 90 degrees, moved, cut at 5 of 10, doubled, moved again
    true = np.array([[100, 0, 100, 10], [110, 10, 110, 20]])
    assert np.array(sorted(np.c_[starts, lasts].tolist())) == pytest.approx(true)


def test_forms_over_their_limit_are_refused_by_its_number():
    pdf = page(b"/Do Do " * 30_000)
    placed = form(pdf, b"0 0 m 1 0 l S")
    placed.BBox = Array([0, -5, 5, 5])
    pdf.pages[0].Resources = Dictionary(XObject=Dictionary(Do=placed))
    with pytest.raises(ReadError) as told:
        read_linework(to_bytes(pdf), name="forms.pdf")
    assert str(told.value).count("25,000") == 2  # what was asked for, and the limit


def layered():
    pdf = page(b"/OC /L1 BDC 0 0 m 9 9 l S EMC /OC /L2 BDC 0 1 m 9 5 l S EMC")
    groups = [
        pdf.make_indirect(Dictionary(Type=Name.OCG, Name=pikepdf.String(name)))
        for name in ("Lines", "Guides")
    ]
    pdf.pages[0].Resources = Dictionary(
        Properties=Dictionary(L1=groups[0], L2=groups[1])
    )
    pdf.Root.OCProperties = Dictionary(
        OCGs=Array(groups), D=Dictionary(OFF=Array([groups[1]]))
    )
    return to_bytes(pdf)


def test_layers_are_told_and_chosen():
    work = read_linework(layered(), name="layers.pdf")
    assert [(g.layer, g.count) for g in work.groups] == [("Lines", 1)]
    assert any("“Guides”, which is off" in n.text for n in work.notes)
    other = read_linework(layered(), lines=("layer=Guides",))
    assert other.stroke_count == 1
    assert other.curves.lengths()[0] == pytest.approx(math.hypot(9, 4) * MM)


def test_pages_by_number():
    stream = io.BytesIO()
    made = canvas.Canvas(stream, pagesize=(300, 200))
    for radius in (10, 20, 30):
        made.circle(100, 100, radius)
        made.drawString(10, 10, "a page")
        made.showPage()
    made.save()
    data = stream.getvalue()
    first = read_linework(data, name="three.pdf")
    assert any("page 1 of 3" in n.text for n in first.notes)
    assert any("text" in n.text for n in first.notes)
    third = read_linework(data, name="three.pdf", page_number=3)
    # a circle of four Béziers is off by at most 2.8e-4 of its radius
    assert third.curves.lengths().sum() == pytest.approx(60 * math.pi * MM, rel=3e-4)
    with pytest.raises(ReadError, match="no page 4: the PDF has 3 pages"):
        read_linework(data, name="three.pdf", page_number=4)
    svg = b'<svg width="9mm" height="9mm"><path d="M1 1h6v6z" stroke="red"/></svg>'
    with pytest.raises(ReadError, match="no PDF"):
        read_linework(svg, page_number=2)


def test_an_inline_picture_is_passed_over():
    pixels = bytes(range(256))
    content = (
        b"q 10 0 0 10 0 0 cm BI /W 16 /H 16 /BPC 8 /CS /G ID " + pixels + b" EI Q "
        b"0 0 m 50 50 l S"
    )
    work = read(content)
    assert work.stroke_count == 1
    assert any("1 image" in n.text for n in work.notes)


@pytest.mark.parametrize(
    ("begin", "extend", "hidden"),
    [
        (b"", True, True),
        (b"", False, False),
        (b"/T gs", True, False),
        (b"/M gs", True, False),
    ],
)
def test_shadings_hide_where_nothing_shows_through(begin, extend, hidden):
    # a line across, under a square of 60 by `sh` and one by a pattern
    shading = Dictionary(
        ShadingType=2, ColorSpace=Name.DeviceGray, Coords=Array([0, 0, 200, 0]),
        Function=Dictionary(FunctionType=2, Domain=[0, 1], N=1),
        Extend=Array([extend, extend]),
    )  # fmt: skip
    states = Dictionary(
        T=Dictionary(ca=0.5), M=Dictionary(SMask=Dictionary(S=Name.Alpha))
    )
    entries = {
        "Resources": Dictionary(
            ExtGState=states,
            Shading=Dictionary(S=shading),
            Pattern=Dictionary(P=Dictionary(PatternType=2, Shading=shading)),
        )
    }
    for fill in (b"20 20 60 60 re W n /S sh", b"/Pattern cs /P scn 20 20 60 60 re f"):
        content = b"0 50 m 100 50 l S q %s %s Q" % (begin, fill)
        work = read(content, entries=entries, scope="stroked")
        length = np.abs(work.curves.ends() - work.curves.starts()).sum() / MM
        assert length == pytest.approx(40 if hidden else 100)


def test_what_a_renderer_shows_is_what_is_read():
    r = random.Random(5)
    parts = []
    for _ in range(25):
        numbers = [f"{r.uniform(0, 200):.3f}" for _ in range(8)]
        a, b = r.uniform(0.5, 1.2), r.uniform(-0.4, 0.4)
        parts.append(
            f"q {a:.4f} {b:.4f} {-b:.4f} {a:.4f} {r.uniform(-20, 20):.3f} 3 cm "
            f"{r.uniform(0, 90):.2f} 10 90 170 re W n {numbers[0]} {numbers[1]} m "
            f"{' '.join(numbers[2:8])} c {numbers[3]} {numbers[5]} l S Q"
        )
    data = to_bytes(page(("1 j " + " ".join(parts)).encode(), (200, 200), Rotate=90))
    work = read_linework(data, name="random.pdf")
    scale = 4
    shown = pypdfium2.PdfDocument(data)[0].render(scale=scale).to_pil().convert("L")
    ours = Image.new("L", shown.size, 255)
    draw = ImageDraw.Draw(ours)
    k = scale / MM
    for x0, y0, x1, y1 in work.curves.flatten(0.01)[0].tolist():
        points = (x0 * k, 800 - y0 * k, x1 * k, 800 - y1 * k)
        draw.line(points, fill=0, width=1)
    from scipy.ndimage import binary_dilation

    dark, drawn = np.asarray(shown) < 128, np.asarray(ours) < 128
    lost = dark & ~binary_dilation(drawn, iterations=6)
    assert not lost.any()
    assert (drawn & ~binary_dilation(dark, iterations=3)).sum() < 1e-3 * drawn.sum()


def test_a_page_that_is_a_picture_is_traced():
    pytest.importorskip("skimage")
    image = Image.new("L", (900, 700), 255)
    draw = ImageDraw.Draw(image)
    for x in (100, 400, 700):
        draw.line((x, 100, x, 500), fill=0, width=7)
    for y in (100, 300, 500):
        draw.line((100, y, 700, y), fill=0, width=7)
    pdf = page(b"q 216 0 0 168 0 0 cm /I Do Q", (216, 168))
    stream = pdf.make_stream(image.tobytes())
    stream.Type, stream.Subtype = Name.XObject, Name.Image
    stream.Width, stream.Height = image.size
    stream.BitsPerComponent, stream.ColorSpace = 8, Name.DeviceGray
    pdf.pages[0].Resources = Dictionary(XObject=Dictionary(I=stream))
    work = read_linework(to_bytes(pdf), name="scan.pdf")
    assert work.trace is not None
    assert (work.frame.width, work.frame.height) == pytest.approx(
        (216 * MM, 168 * MM), abs=0.2
    )
    # 900 px over 216 pt are 300 dpi: the outer lines stand 600 px = 50.8 mm apart
    x = np.r_[work.curves.starts(), work.curves.ends()][:, 0]
    assert np.ptp(x) == pytest.approx(50.8, abs=0.3)


def cyclic():
    pdf = page(b"/A Do 1 1 m 5 5 l S")
    one = pdf.make_indirect(form(pdf, b"/A Do 0 0 m 10 0 l S"))
    one.Resources = Dictionary(XObject=Dictionary(A=one))
    pdf.pages[0].Resources = one.Resources
    return to_bytes(pdf)


def test_forms_that_hold_themselves_are_told():
    work = read_linework(cyclic(), name="cycle.pdf")
    assert work.stroke_count == 2
    assert any("holds itself" in n.text for n in work.notes)


def doubling():
    pdf = page(b"/A Do")
    inner = form(pdf, b"0 0 m 10 0 l S")
    for _ in range(30):
        outer = form(pdf, b"/A Do /A Do")
        outer.Resources = Dictionary(XObject=Dictionary(A=inner))
        inner = outer
    pdf.pages[0].Resources = Dictionary(XObject=Dictionary(A=inner))
    return to_bytes(pdf)


def swelling():
    pdf = page(b"")
    packed = zlib.compress(zlib.compress(b" " * 300_000_000, 9), 9)
    pdf.pages[0].Contents = pdf.make_stream(
        packed, Filter=Array([Name.FlateDecode, Name.FlateDecode])
    )
    return to_bytes(pdf, stream_decode_level=pikepdf.StreamDecodeLevel.none,
                    recompress_flate=False, compress_streams=False)  # fmt: skip


def locked():
    key = pikepdf.Encryption(user="key", owner="lock")
    return to_bytes(page(b"0 0 m 9 9 l S"), encryption=key)


GOOD = to_bytes(page(b"0 0 m 9 9 l S"))


@pytest.mark.parametrize(
    ("make", "word"),
    [
        (locked, "password"),
        (doubling, "over the limit"),
        (swelling, "over the limit"),
        (lambda: GOOD[: len(GOOD) // 2], "cut short"),
        (lambda: b"%PDF-1.7\n%%EOF", "damaged"),
        (lambda: to_bytes(page(b"")), "no lines"),
        (lambda: to_bytes(page(b"1e999 0 m 5 5 l S")), "no lines|no true numbers"),
        (
            lambda: to_bytes(page(b"0 0 m 5 5 l S", MediaBox=Array([0, 0, 0, 0]))),
            "no size",
        ),
    ],
    ids=["locked", "doubling", "swelling", "cut", "stub", "empty", "numbers", "box"],
)
def test_hostile_files_are_refused_in_one_line(make, word):
    with pytest.raises(FillworkError, match=word) as caught:
        read_linework(make(), name="hostile.pdf")
    assert len(str(caught.value).splitlines()) <= 2


def test_files_without_a_user_password_are_read():
    data = to_bytes(
        page(b"0 0 m 9 9 l S"), encryption=pikepdf.Encryption(user="", owner="lock")
    )
    assert read_linework(data, name="open.pdf").stroke_count == 1


def test_mutated_files_end_in_words():
    r = random.Random(3)
    content = (
        b"q 1 0 0 1 5 5 cm /A Do Q [3] 0 d 0 0 m 9 9 l 1 2 3 4 5 6 c h B* 1 1 5 5 re S"
    )
    pdf = page(content)
    pdf.pages[0].Resources = Dictionary(
        XObject=Dictionary(A=form(pdf, b"0 0 m 10 0 l S")),
        ExtGState=Dictionary(G=Dictionary(LW=2, D=Array([Array([3, 2]), 0]))),
    )
    data = to_bytes(pdf, compress_streams=False)
    assert read_linework(data, name="whole.pdf").stroke_count == 3
    for _ in range(150):
        wrong = bytearray(data)
        for _ in range(r.randrange(1, 8)):
            wrong[r.randrange(8, len(wrong))] = r.randrange(256)
        with contextlib.suppress(ReadError, LineWorkError):
            read_linework(bytes(wrong), name="wrong.pdf")


def test_commands_take_pdf_and_keep_the_page(tmp_path):
    import tomllib

    from click.testing import CliRunner

    from fillwork.cli.main import main

    pdf = page(b"0 0 m 9 9 l S")
    other = page(b"20 20 60 60 re 50 20 m 50 80 l 20 50 m 80 50 l S")
    pdf.pages.append(other.pages[0])
    path = tmp_path / "squares.svg"  # told by content, not by its name
    path.write_bytes(to_bytes(pdf))
    out = tmp_path / "out"
    command = ["colour", str(path), "--page-number", "2", "--out", str(out)]
    run = CliRunner().invoke(main, [*command, "--quiet"])
    assert run.exit_code == 0, run.output
    plan = tomllib.loads((out / "plan.toml").read_text())
    assert plan["lines"]["page_number"] == 2
    run = CliRunner().invoke(main, ["survey", str(path), "--page-number", "3"])
    assert run.exit_code == 1
    assert "the PDF has 2 pages" in run.output


def test_a_cover_without_lines_is_passed_over_and_that_is_told():
    stream = io.BytesIO()
    made = canvas.Canvas(stream, pagesize=(300, 200))
    made.drawString(10, 10, "a cover")
    made.showPage()
    made.circle(100, 100, 30)
    made.showPage()
    made.drawString(10, 10, "the end")
    made.save()
    work = read_linework(stream.getvalue(), name="three.pdf")
    assert work.curves.lengths().sum() == pytest.approx(60 * math.pi * MM, rel=3e-4)
    told = [n.text for n in work.notes if n.type == "page"]
    assert told == ["page 2 of 3 was read, the first with lines"]
    with pytest.raises(LineWorkError, match="no lines in the drawing, only 1 text"):
        read_linework(stream.getvalue(), name="three.pdf", page_number=3)


def test_boxes_that_clip_each_other_in_the_same_units_are_their_common_box():
    # 5,000 boxes inside each other, some wider, none outside: the least of them counts
    boxes = b"".join(b"0 0 %d 90 re W n " % (180 - k % 100) for k in range(5_000))
    start = time.process_time()
    work = read(boxes + b"10 20 m 150 20 l S 10 30 m 60 30 l S")
    assert time.process_time() - start < 5
    starts, stops = ends(work)
    assert sorted(np.c_[starts, stops].round(6).tolist()) == [
        [10, 20, 81, 20],
        [10, 30, 60, 30],
    ]
    # boxes that have nothing in common leave nothing
    apart = b"0 0 20 90 re W n 40 0 20 90 re W n "
    with pytest.raises(LineWorkError, match="outside the page or what clips it"):
        read(apart + b"10 20 m 150 20 l S")
    # those of turned units stay two
    turned = b"0 0 80 90 re W n q 0.6 0.8 -0.8 0.6 0 0 cm 0 -90 60 180 re W n "
    work = read(turned + b"Q 10 0 m 150 0 l S q 0 0 80 90 re W n 70 10 m 150 10 l S Q")
    starts, stops = ends(work)
    assert starts[:, 0].round(6).tolist() == [10, 70]
    assert stops[:, 0].round(6).tolist() == [80, 80]
