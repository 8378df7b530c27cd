"""Pages, forms and layers of whole files, and what is told of them."""

from __future__ import annotations

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name

from fillwork.errors import LineWorkError, ReadError
from fillwork.readers import read_linework
from fillwork.readers.pdf import read as reading
from fillwork.readers.pdf import scanned
from tests.unit.readers.pdf.test_pdf import MM, form, page, to_bytes

LINE = b"%d 0 m %d 90 l S "


def texts(work, kind):
    return [n.text for n in work.notes if n.type == kind]


# -- pages ----------------------------------------------------------------------


def pages(*contents):
    """A file of pages: text where there is no content."""
    pdf = pikepdf.new()
    for content in contents:
        sheet = pdf.add_blank_page(page_size=(200, 100))
        sheet.Contents = pdf.make_stream(content or b"(a) Tj")
    return to_bytes(pdf)


@pytest.mark.parametrize(
    ("first", "count", "told"),
    [
        (1, 1, []),
        (1, 3, ["page 1 of 3 was read"]),
        (2, 3, ["page 2 of 3 was read, the first with lines"]),
        (3, 3, ["page 3 of 3 was read, the first with lines"]),
        (4, 9, ["page 4 of 9 was read, the first with lines"]),
    ],
)
def test_the_first_page_with_lines_is_read(first, count, told, monkeypatch) -> None:
    monkeypatch.setattr(reading, "_LOOKED", 4)
    contents = [LINE % (k, k) if k >= first else b"" for k in range(1, count + 1)]
    work = read_linework(pages(*contents), name="a.pdf")
    assert texts(work, "page") == told
    assert work.curves.data[0, 0] == pytest.approx(first * MM)
    # a page that is asked for is read, and nothing told
    asked = read_linework(pages(*contents), name="a.pdf", page_number=first)
    assert texts(asked, "page") == []


def test_only_so_many_pages_are_looked_at(monkeypatch) -> None:
    monkeypatch.setattr(reading, "_LOOKED", 4)
    data = pages(b"", b"", b"", b"", LINE % (1, 1))
    with pytest.raises(LineWorkError, match="no lines in the drawing, only 1 text"):
        read_linework(data, name="a.pdf")
    assert read_linework(data, name="a.pdf", page_number=5).stroke_count == 1


@pytest.mark.parametrize("contents", [Array([]), Name.X, Dictionary(), None])
def test_pages_without_content_have_no_lines(contents) -> None:
    pdf = page(b"")
    if contents is None:
        del pdf.pages[0].obj["/Contents"]
    else:
        pdf.pages[0].obj.Contents = contents
    with pytest.raises((LineWorkError, ReadError)) as caught:
        read_linework(to_bytes(pdf), name="a.pdf")
    assert str(caught.value).count("\n") == 1


def test_content_in_parts_is_read_as_one() -> None:
    # a number may end one part, and its operator begin the next
    pdf = page(b"")
    parts = [pdf.make_stream(p) for p in (b"1 2 m 9 2", b"l", b"S")]
    pdf.pages[0].obj.Contents = Array([*parts, Name.X, parts[2]])
    work = read_linework(to_bytes(pdf), name="a.pdf")
    assert work.curves.data[0, :4] / MM == pytest.approx([1, 2, 9, 2])


@pytest.mark.parametrize(
    ("content", "traced"),
    [
        (b"/I Do", True),
        (b"1 g 0 0 200 100 re f /I Do", True),
        (b"1 1 1 rg 0 0 200 100 re f /I Do 0 0 0 0 k 9 9 20 20 re f", True),
        (b"0.99 g 0 0 200 100 re f /I Do", False),
        (b"1 G 0 0 200 100 re S /I Do", False),
        (b"1 g 0 0 200 100 re f /I Do " + LINE % (9, 9), False),
        (b"1 g 0 0 200 100 re f", False),
    ],
)
def test_a_picture_on_white_is_a_scanned_page(content, traced, monkeypatch) -> None:
    pdf = page(content)
    dot = pdf.make_stream(
        b"\0", Type=Name.XObject, Subtype=Name.Image, Width=1, Height=1,
        BitsPerComponent=8, ColorSpace=Name.DeviceGray,
    )  # fmt: skip
    pdf.pages[0].Resources = Dictionary(XObject=Dictionary(I=dot))
    seen = []

    def trace(pictures, *_):
        seen.append(len(pictures))
        raise ReadError("traced", "a.pdf")  # noqa: EM101

    monkeypatch.setattr(scanned, "trace_page", trace)
    if traced:
        with pytest.raises(ReadError, match="traced"):
            read_linework(to_bytes(pdf), name="a.pdf")
    else:
        assert read_linework(to_bytes(pdf), name="a.pdf", scope="both").stroke_count
    assert seen == [1] * traced


# -- layers ---------------------------------------------------------------------


def layered(content, off=(), named=True):
    pdf = page(content)
    groups = [
        pdf.make_indirect(Dictionary(Type=Name.OCG, Name=name) if named else
                          Dictionary(Type=Name.OCG)) for name in ("One", "Two")
    ]  # fmt: skip
    pdf.Root.OCProperties = Dictionary(
        OCGs=Array(groups), D=Dictionary(OFF=Array([groups[k] for k in off]))
    )
    square = form(pdf, b"0 0 m 50 50 l S")
    square.OC = groups[1]
    pdf.pages[0].Resources = Dictionary(
        Properties=Dictionary(A=groups[0], B=groups[1]),
        XObject=Dictionary(F=pdf.make_indirect(square)),
    )
    return to_bytes(pdf)


@pytest.mark.parametrize(
    ("times", "told"),
    [(1, "1 line on the layer “Two”, which is off, left out"),
     (3, "3 lines on the layer “Two”, which is off, left out")],
)  # fmt: skip
def test_hidden_lines_are_told_with_the_way_to_them(times, told) -> None:
    data = layered(LINE % (1, 1) + b"/OC /B BDC " + LINE % (2, 2) * times, off=[1])
    work = read_linework(data, name="a.pdf")
    assert work.stroke_count == 1
    (note,) = [n for n in work.notes if n.type == "hidden layer"]
    assert (note.text, note.remedy) == (told, "--lines “layer=Two” takes them")
    assert read_linework(data, name="a.pdf", lines=("layer=Two",)).stroke_count == times


def test_hidden_layers_beyond_twenty_are_told_as_one() -> None:
    pdf = page(LINE % (99, 99))
    names = [f"L{n:02}" for n in range(1, 23)]
    groups = [pdf.make_indirect(Dictionary(Type=Name.OCG, Name=n)) for n in names]
    every = Array(groups)
    pdf.Root.OCProperties = Dictionary(OCGs=every, D=Dictionary(OFF=every))
    named = {f"/{name}": group for name, group in zip(names, groups, strict=True)}
    pdf.pages[0].Resources = Dictionary(Properties=Dictionary(named))
    inside = b"".join(
        b"/OC /%s BDC %s EMC " % (name.encode(), LINE % (k, k) * k)
        for k, name in enumerate(names, 1)
    )
    pdf.pages[0].Contents = pdf.make_stream(inside + LINE % (99, 99))
    told = texts(read_linework(to_bytes(pdf), name="a.pdf"), "hidden layer")
    # those with the fewest lines: 1 and 2
    assert told[20:] == ["3 lines on 2 more layers that are off left out"]
    assert told[0] == "3 lines on the layer “L03”, which is off, left out"


def test_the_outermost_layer_names_what_stands_in_it() -> None:
    content = b"/OC /A BDC " + LINE % (1, 1) + b"/OC /B BDC " + LINE % (2, 2)
    work = read_linework(layered(content + b"EMC EMC " + LINE % (3, 3)), name="a.pdf")
    assert [(g.layer, g.count) for g in work.groups] == [("One", 2), (None, 1)]
    # a form may stand on a layer of its own
    work = read_linework(layered(LINE % (1, 1) + b"/F Do"), name="a.pdf")
    assert {(g.layer, g.count) for g in work.groups} == {("Two", 1), (None, 1)}
    hidden = read_linework(layered(LINE % (1, 1) + b"/F Do", off=[1]), name="a.pdf")
    assert [(g.layer, g.count) for g in hidden.groups] == [(None, 1)]
    assert hidden.stroke_count == 1


@pytest.mark.parametrize(("named", "word"), [(True, "Two"), (False, "without a name")])
def test_a_page_that_is_all_hidden_says_so(named, word) -> None:
    with pytest.raises(LineWorkError, match=f"all lines lie on layers .*: .*{word}"):
        read_linework(layered(b"/F Do", off=[1], named=named), name="a.pdf")


# -- forms ----------------------------------------------------------------------


def test_forms_take_the_state_around_and_leave_it() -> None:
    pdf = page(b"3 w 1 0 0 RG /F Do " + LINE % (50, 50))
    inner = form(
        pdf, b"0 0 m 10 0 l S 5 w 0 1 0 RG q q", Matrix=Array([1, 0, 0, 1, 20, 9])
    )
    pdf.pages[0].Resources = Dictionary(XObject=Dictionary(F=pdf.make_indirect(inner)))
    work = read_linework(to_bytes(pdf), name="a.pdf")
    assert [(g.colour, g.count) for g in work.groups] == [("#ff0000", 2)]
    assert [g.width for g in work.groups] == [pytest.approx(3 * MM, rel=1e-3)]
    assert work.curves.data[0, :4] / MM == pytest.approx([20, 9, 30, 9])


@pytest.mark.parametrize(("own", "colour"), [(True, "#00ff00"), (False, "#0000ff")])
def test_a_form_without_resources_has_those_around(own, colour) -> None:
    pdf = page(b"/F Do")
    inner = form(pdf, b"/C CS 1 SCN 0 0 m 10 0 l S")

    def ink(*rgb):
        made = Dictionary(
            FunctionType=2,
            Domain=Array([0, 1]),
            C0=Array([1, 1, 1]),
            C1=Array(rgb),
            N=1,
        )
        space = Array([Name.Separation, Name.X, Name.DeviceRGB, made])
        return Dictionary(C=space)

    if own:
        inner.Resources = Dictionary(ColorSpace=ink(0, 1, 0))
    pdf.pages[0].Resources = Dictionary(
        XObject=Dictionary(F=pdf.make_indirect(inner)), ColorSpace=ink(0, 0, 1)
    )
    work = read_linework(to_bytes(pdf), name="a.pdf")
    assert [g.colour for g in work.groups] == [colour]


@pytest.mark.parametrize(
    ("told", "word"),
    [
        ({"Matrix": Array([1, 0])}, "the operator Do with wrong operands, once"),
        ({"BBox": Array([Name.X] * 4)}, "the operator Do with wrong operands, once"),
        ({"Subtype": Name.PS}, None),
    ],
)
def test_forms_that_are_wrong_are_left_out_and_told(told, word) -> None:
    pdf = page(b"/F Do " + LINE % (5, 5))
    inner = form(pdf, b"0 0 m 10 0 l S", **told)
    pdf.pages[0].Resources = Dictionary(XObject=Dictionary(F=pdf.make_indirect(inner)))
    work = read_linework(to_bytes(pdf), name="a.pdf")
    assert work.stroke_count == 1
    assert texts(work, "not understood") == ([word] if word else [])


@pytest.mark.parametrize(("deep", "told"), [(40, False), (41, True)])
def test_forms_stand_so_deep_and_no_deeper(deep, told) -> None:
    pdf = page(b"/F Do " + LINE % (5, 5))
    inner = pdf.make_indirect(form(pdf, b"0 0 m 10 0 l S"))
    for _ in range(deep - 1):
        outer = form(pdf, b"/F Do")
        outer.Resources = Dictionary(XObject=Dictionary(F=inner))
        inner = pdf.make_indirect(outer)
    pdf.pages[0].Resources = Dictionary(XObject=Dictionary(F=inner))
    work = read_linework(to_bytes(pdf), name="a.pdf")
    assert work.stroke_count == (1 if told else 2)
    assert texts(work, "not understood") == (
        ["a form more than 40 deep in others, once"] if told else []
    )


def test_operators_without_their_operands_are_told_by_name() -> None:
    content = b"1 w w /A w l 5 m S 1 c " + LINE % (5, 5)
    work = read_linework(to_bytes(page(content)), name="a.pdf")
    assert texts(work, "not understood") == [
        "the operator c with wrong operands, once",
        "the operator l with wrong operands, once",
        "the operator m with wrong operands, once",
        "the operator w with wrong operands, 2 times",
    ]
