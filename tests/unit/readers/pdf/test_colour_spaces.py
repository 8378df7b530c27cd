"""Colour spaces of PDF, one in another, and the colours of their numbers."""

from __future__ import annotations

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name

from fillwork.readers.pdf.colours import CMYK, GREY, RGB, Space, colour_text, read_space
from fillwork.readers.pdf.state import Path, add_rectangle, rectangle, table_of

# ISO 32000-1, sections 8.6 and 10.3


@pytest.fixture(scope="module")
def pdf():
    with pikepdf.new() as found:
        yield found


def halves(outs: int) -> Dictionary:
    """Return the function that gives half of its number, so many times."""
    return Dictionary(
        FunctionType=2, Domain=[0, 1], N=1, C0=[0.0] * outs, C1=[0.5] * outs
    )


def icc(pdf: pikepdf.Pdf, parts: int) -> Array:
    stream = pdf.make_stream(b"")
    stream.N = parts
    return Array([Name.ICCBased, stream])


@pytest.mark.parametrize(
    ("space", "values", "told"),
    [
        (GREY, [0.5], "#808080"),
        (RGB, [0.2, 0.4, 1.0], "#3366ff"),
        (RGB, [-1.0, 2.0, float("nan")], "#00ff00"),
        (RGB, [0.2, 0.4], None),
        # 1 - min(1, c + k) and so on
        (CMYK, [0.2, 0.0, 0.4, 0.2], "#99cc66"),
        (CMYK, [0.8, 0.6, 0.0, 0.5], "#000080"),
        (Space("lab", 3), [100.0, 0.0, 0.0], "#ffffff"),
        (Space("pattern", 0), [], None),
        (Space("other", 1), [0.5], None),
        # rows of the table, the nearest where there is none
        (Space("indexed", 1, RGB, b"\x01\x02\x03\xff\x80\x00"), [1.0], "#ff8000"),
        (Space("indexed", 1, RGB, b"\x01\x02\x03\xff\x80\x00"), [7.0], "#ff8000"),
        (Space("indexed", 1, RGB, b"\x01\x02\x03\xff\x80\x00"), [-3.0], "#010203"),
        (Space("indexed", 1, GREY, b"\x10\x20\x30"), [1.9], "#202020"),
        (Space("indexed", 1, Space("lab", 3), b"\xff\x80\x80"), [0.0], "#fffefd"),
        # an ink without a mix: as much as is said, of black
        (Space("tint", 2, RGB), [0.25, 0.0], "#bfbfbf"),
        (Space("tint", 1, RGB), [1.5], "#000000"),
    ],
)
def test_numbers_are_colours(space, values, told) -> None:
    found = colour_text(space, values)
    if space.kind == "indexed" and space.base.kind == "lab":
        # L* 100, and 128 of 255 is a hair beyond no colour
        assert found[:4] == told[:4]
        return
    assert found == told


def test_first_colours_of_spaces() -> None:
    assert [s.first for s in (GREY, RGB, CMYK)] == [(0,), (0, 0, 0), (0, 0, 0, 1)]
    assert Space("tint", 2).first == (1.0, 1.0)
    assert Space("indexed", 1).first == (0.0,)


@pytest.mark.parametrize(("parts", "space"), [(1, GREY), (3, RGB), (4, CMYK)])
def test_profiles_stand_for_their_numbers(pdf, parts, space) -> None:
    assert read_space(icc(pdf, parts)) == space
    assert read_space(icc(pdf, 2)).kind == "other"


def test_inks_mix_into_the_space_below(pdf) -> None:
    for base, outs in (
        (Name.DeviceRGB, 3),
        (icc(pdf, 1), 1),
    ):
        space = read_space(Array([Name.Separation, Name.Ink, base, halves(outs)]))
        assert (space.kind, space.parts) == ("tint", 1)
        # half of a half, 0.25 of 255
        assert colour_text(space, [0.5]) == "#404040"
    several = Array([Name.DeviceN, Array([Name.A, Name.B, Name.C]), Name.DeviceRGB, 0])
    space = read_space(several)
    assert (space.parts, space.mix) == (3, None)
    assert colour_text(space, [0.0, 0.25, 0.0]) == "#bfbfbf"


def test_spaces_stand_in_spaces_five_deep() -> None:
    table = (
        pdf.make_string(b"") if hasattr(pdf, "make_string") else pikepdf.String("\x01")
    )

    def around(kind: str, inner: Array) -> Array:
        if kind == "pattern":
            return Array([Name.Pattern, inner])
        if kind == "indexed":
            return Array([Name.Indexed, inner, 0, table])
        return Array([Name.Separation, Name.Ink, inner, halves(1)])

    for kind in ("pattern", "indexed", "tint"):
        space = Array([Name.DeviceRGB])
        for depth in range(7):
            found = read_space(space)
            for _ in range(depth):
                found = found.base if found is not None else None
            told = None if found is None else found.kind
            assert told == ("rgb" if depth < 5 else "other" if depth == 5 else None), (
                kind
            )
            space = around(kind, space)


@pytest.mark.parametrize(
    ("sides", "box"),
    [
        ((1.0, 2.0, 30.0, 20.0), (1.0, 2.0, 30.0, 20.0)),
        ((31.0, 22.0, -30.0, -20.0), (1.0, 2.0, 30.0, 20.0)),
        ((1.0, 2.0, 0.0, 20.0), None),
        ((1.0, 2.0, 30.0, 0.0), None),
    ],
)
def test_one_rectangle_is_known_as_such(sides, box) -> None:
    path = rectangle(*sides)
    assert path.box == box
    assert path.closed == [True]
    table = table_of(path)
    length = sum(abs(table.data[:, k + 2] - table.data[:, k]).sum() for k in (0, 1))
    assert length == pytest.approx(2 * (abs(sides[2]) + abs(sides[3])))
    # two of them are none
    add_rectangle(path, 50.0, 50.0, 5.0, 5.0)
    assert (path.box, path.closed) == (None, [True, True])
    assert (path.at, path.first) == ((50.0, 50.0), (50.0, 50.0))


def test_a_rectangle_ends_what_was_being_drawn() -> None:
    path = Path()
    path.kinds.append(0)
    path.rows.extend((0.0, 0.0, 9.0, 9.0, 0.0, 0.0, 0.0, 0.0))
    add_rectangle(path, 1.0, 1.0, 2.0, 2.0)
    assert (path.closed, list(path.start), path.box) == ([False, True], [0, 1, 5], None)
