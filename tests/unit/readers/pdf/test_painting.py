"""What colours, dashes, blending, groups and tiles of a page say of its lines."""

from __future__ import annotations

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name

from fillwork.readers import read_linework
from fillwork.readers.pdf.run import _covering, _gaps
from tests.unit.readers.pdf.test_pdf import MM, form, page, read, to_bytes


def read_with(content, resources, **choices):
    pdf = page(content)
    pdf.pages[0].Resources = pdf.make_indirect(resources(pdf))
    return read_linework(to_bytes(pdf), name="a.pdf", **choices)


def states(**told):
    return lambda _: Dictionary(
        ExtGState=Dictionary({f"/{k}": Dictionary(v) for k, v in told.items()})
    )


@pytest.mark.parametrize(
    ("written", "meant"),
    [(b"/A#20B", "/A B"), (b"/Caf\xc3\xa9", "/Café"), (b"/Caf#C3#A9", "/Café"),
     (b"/#41#23", "/A#"), (b"/X#zz", "/X#zz")],
)  # fmt: skip
@pytest.mark.reference("ISO 32000-1, section 7.3.5: names")
def test_names_are_what_their_letters_mean(written, meant) -> None:
    found = states(**{meant[1:]: {"/LW": 5}})
    work = read_with(written + b" gs 1 1 m 9 9 l S", found)
    assert [group.width for group in work.groups] == [pytest.approx(5 * MM, rel=1e-3)]


@pytest.mark.parametrize(
    ("lengths", "dashed"),
    [([], False), ([3.0], True), ([0.0], False), ([5.0, 0.0], False),
     ([0.0, 5.0], True), ([5.0, 0.0, 2.0], True), ([5.0, 0.0, 2.0, 0.0], False),
     ([5.0, 0.0, 2.0, 1.0], True), (None, False)],
)  # fmt: skip
@pytest.mark.reference("ISO 32000-1, section 8.4.3.6: on and off in turn, round")
def test_dashes_leave_gaps(lengths, dashed) -> None:
    assert _gaps(lengths) is dashed


def test_dashes_of_both_operators() -> None:
    told = states(On={"/D": Array([Array([4]), 0])}, Off={"/D": Array([Array([]), 0])})
    work = read_with(
        b"/On gs 1 1 m 9 9 l S /Off gs 2 1 m 9 8 l S [4 0] 0 d 3 1 m 9 7 l S "
        b"[4 1] 0 d 4 1 m 9 6 l S", told, scope="stroked",
    )  # fmt: skip
    assert {(g.dash, g.count) for g in work.groups} == {(True, 2), (False, 2)}


# a line, what is done, a square over it, and a line beside
OVER = b"1 1 m 90 90 l S %b 1 0 0 rg 0 0 100 100 re f 199 1 m 180 90 l S"


@pytest.mark.parametrize(
    ("told", "hidden"),
    [
        ({}, True),
        ({"/BM": Name.Normal}, True),
        ({"/BM": Array([Name.Compatible, Name.Multiply])}, True),
        ({"/BM": Name.Multiply}, False),
        ({"/BM": Array([Name.Darken])}, False),
        ({"/ca": 0.99}, False),
        ({"/CA": 0.5}, True),
    ],
)
@pytest.mark.reference("ISO 32000-1, section 11.3.5: ways to blend")
def test_what_lies_below_shows_through_what_is_blended(told, hidden) -> None:
    # two lines and the square
    work = read_with(OVER % b"/T gs", states(T=told))
    assert work.stroke_count == (2 if hidden else 3)


@pytest.mark.parametrize(
    ("around", "group", "inside", "strokes"),
    [
        ({}, True, {}, 2),
        ({"/ca": 0.5}, True, {}, 3),
        ({"/ca": 0.5}, True, {"/ca": 1}, 3),
        ({"/ca": 0.5}, False, {"/ca": 1}, 2),
        ({"/BM": Name.Screen}, True, {"/BM": Name.Normal}, 3),
        ({"/BM": Name.Screen}, False, {"/BM": Name.Normal}, 2),
        ({"/ca": 0}, True, {"/ca": 1}, 2),  # the square is not seen
    ],
)
@pytest.mark.reference("ISO 32000-1, section 11.6.6: groups are drawn on their own")
def test_groups_are_laid_over_what_is_below(around, group, inside, strokes) -> None:
    def found(pdf: pikepdf.Pdf) -> Dictionary:
        square = form(pdf, b"/In gs 1 0 0 rg 0 0 100 100 re f")
        square.Resources = Dictionary(ExtGState=Dictionary(In=Dictionary(inside)))
        if group:
            square.Group = Dictionary(S=Name.Transparency)
        return Dictionary(
            ExtGState=Dictionary(T=Dictionary(around)),
            XObject=Dictionary(A=pdf.make_indirect(square)),
        )

    content = b"1 1 m 90 90 l S q /T gs /A Do Q 199 1 m 180 90 l S"
    assert read_with(content, found).stroke_count == strokes


def test_what_a_group_is_drawn_with_ends_with_it() -> None:
    def found(pdf: pikepdf.Pdf) -> Dictionary:
        dot = form(pdf, b"1 0 0 rg 120 0 30 30 re f")
        dot.BBox = Array([0, 0, 200, 100])
        dot.Group = Dictionary(S=Name.Transparency)
        return Dictionary(
            ExtGState=Dictionary(T=Dictionary({"/ca": 0.5})),
            XObject=Dictionary(A=pdf.make_indirect(dot)),
        )

    # the square after the group hides its line: of two and two squares three are left
    assert read_with(OVER % b"q /T gs /A Do Q", found).stroke_count == 3


@pytest.mark.parametrize("name", [b"/RGB", b"/G", b"/CalRGB", b"/Own"])
def test_a_space_of_the_file_goes_before_a_short_name(name) -> None:
    # ISO 32000-1, section 8.6.8: short names are those of pictures in the stream alone
    def found(_: pikepdf.Pdf) -> Dictionary:
        green = Dictionary(
            FunctionType=2, Domain=Array([0, 1]), N=1,
            C0=Array([1, 1, 1]), C1=Array([0, 1, 0]),
        )  # fmt: skip
        ink = Array([Name.Separation, Name("/Spot"), Name.DeviceRGB, green])
        spaces = {name.decode(): ink, "/DeviceRGB": ink}
        return Dictionary(ColorSpace=Dictionary(spaces))

    work = read_with(
        name + b" CS 1 SCN 1 1 m 9 9 l S /DeviceRGB CS 1 0 0 SCN 2 1 m 9 8 l S", found
    )
    assert [group.colour for group in work.groups] == ["#00ff00", "#ff0000"]


def test_a_device_needs_no_resources() -> None:
    assert [g.colour for g in read(b"/DeviceCMYK CS 1 1 m 9 9 l S").groups] == [
        "#000000"
    ]


@pytest.mark.parametrize("count", [1, 2, 3])
def test_each_shape_filled_by_pictures_keeps_its_outline(count) -> None:
    def found(pdf: pikepdf.Pdf) -> Dictionary:
        dot = pdf.make_stream(
            b"\0", Type=Name.XObject, Subtype=Name.Image, Width=1, Height=1,
            BitsPerComponent=8, ColorSpace=Name.DeviceGray,
        )  # fmt: skip
        tile = pdf.make_stream(
            b"5 0 0 5 0 0 cm /I Do", PatternType=1, PaintType=1, TilingType=1,
            BBox=Array([0, 0, 5, 5]), XStep=5, YStep=5,
            Resources=Dictionary(XObject=Dictionary(I=dot)),
        )  # fmt: skip
        return Dictionary(Pattern=Dictionary(P=pdf.make_indirect(tile)))

    squares = b"".join(b"%d 0 30 30 re f " % (40 * k) for k in range(count))
    work = read_with(b"/Pattern cs /P scn " + squares, found, scope="both")
    assert work.stroke_count == count
    shapes = "1 shape" if count == 1 else f"{count} shapes"
    told = f"{shapes} painted by a gradient or pattern: only the outline is used"
    assert told in [note.text for note in work.notes]


def shading(kind, coords, extend=(True, True)):
    return Dictionary(
        ShadingType=kind, Coords=Array(coords), Extend=Array(extend), N=len(coords)
    )


@pytest.mark.parametrize(
    ("told", "covers"),
    [
        (shading(2, [0, 0, 9, 9]), True),
        (shading(2, [0, 0, 9, 9], (True, False)), False),
        (shading(3, [0, 0, 0, 0, 0, 9]), True),
        (shading(3, [0, 0, 9, 3, 4, 4]), True),  # 5 apart: they touch from inside
        (shading(3, [0, 0, 9, 3, 4, 4.1]), False),  # a cone
        (shading(3, [0, 0, 4, 3, 4, 9]), True),
        (shading(3, [0, 0, 0, 0, 0, 9], (True, False)), False),
    ],
)
@pytest.mark.reference("ISO 32000-1, section 8.7.4.5: axial and radial shadings")
def test_shadings_that_go_on_cover_all(told, covers) -> None:
    assert bool(_covering(told)) is covers


def test_shadings_are_told_apart_though_they_have_no_number() -> None:
    one, same, other = (shading(2, [0, 0, k, 9]) for k in (1, 1, 2))
    assert _covering(one) == _covering(same) != _covering(other)
    with pikepdf.new() as pdf:
        one, other = (pdf.make_indirect(same) for same in (one, other))
        assert _covering(one) != _covering(other)
