"""Boxes, turns and layers of pages, each taken alone."""

from __future__ import annotations

import numpy as np
import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name

from fillwork.errors import ReadError
from fillwork.geometry import affine
from fillwork.readers.pdf.pages import Layers, choose_page, inherited, read_box
from fillwork.readers.pdf.read import _remarks

MM = 25.4 / 72


def sheet(**told):
    return Dictionary({f"/{key}": value for key, value in told.items()})


def box(*numbers):
    return Array(numbers)


# -- boxes ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "seen"),
    [
        ({"MediaBox": box(0, 0, 200, 100)}, (0, 0, 200, 100)),
        ({"MediaBox": box(200, 100, 10, 20)}, (10, 20, 200, 100)),
        ({"MediaBox": box(0, 0, 200, 100), "CropBox": box(10, 20, 50, 60)},
         (10, 20, 50, 60)),
        ({"MediaBox": box(0, 0, 200, 100), "CropBox": box(-9, 20, 50, 600)},
         (0, 20, 50, 100)),
        # boxes that do not meet, or are none, do not count
        ({"MediaBox": box(0, 0, 200, 100), "CropBox": box(300, 0, 400, 9)},
         (0, 0, 200, 100)),
        ({"MediaBox": box(0, 0, 200, 100), "CropBox": box(200, 0, 400, 9)},
         (0, 0, 200, 100)),
        ({"MediaBox": box(0, 0, 200, 100), "CropBox": box(5, 5, 5, 50)},
         (0, 0, 200, 100)),
        ({"MediaBox": box(0, 0, 200, 100), "CropBox": box(1, 2, 3)}, (0, 0, 200, 100)),
        ({"MediaBox": box(0, 0, 200, 100), "CropBox": Name.X}, (0, 0, 200, 100)),
    ],
)  # fmt: skip
@pytest.mark.reference("ISO 32000-1, section 14.11.2: boxes of a page")
def test_the_crop_box_is_seen(told, seen) -> None:
    found = read_box(sheet(**told), "a.pdf")
    x0, y0, x1, y1 = seen
    assert found.size == pytest.approx(((x1 - x0) * MM, (y1 - y0) * MM))
    corners = affine.apply(found.matrix, np.array([(x0, y0), (x1, y1)], float))
    assert corners == pytest.approx(np.array([(0, 0), found.size]))


@pytest.mark.parametrize("turn", [0, 90, 180, 270, 360, 450, -90])
@pytest.mark.reference("ISO 32000-1, table 30: Rotate, clockwise, multiples of 90")
def test_pages_are_turned_clockwise(turn) -> None:
    found = read_box(sheet(MediaBox=box(10, 20, 60, 50), Rotate=turn), "a.pdf")
    # what stands at the lower left corner comes to the next corner each quarter turn
    wide, high = 50 * MM, 30 * MM
    corner = {
        0: (0, 0), 1: (0, wide), 2: (wide, high), 3: (high, 0),
    }[turn // 90 % 4]  # fmt: skip
    size = (high, wide) if turn // 90 % 2 else (wide, high)
    assert found.size == pytest.approx(size)
    place, along = affine.apply(found.matrix, np.array([(10, 20), (11, 20)], float))
    assert place == pytest.approx(corner)
    angle = np.degrees(np.arctan2(*(along - place)[::-1]))
    assert (angle + turn + 1e-6) % 360 == pytest.approx(1e-6, abs=1e-5)


@pytest.mark.parametrize(
    ("unit", "times"), [(2, 2), (0.5, 0.5), (0, 1), (-3, 1), (Name.X, 1), (True, 1)]
)
def test_a_page_may_have_its_own_unit(unit, times) -> None:
    found = read_box(sheet(MediaBox=box(0, 0, 72, 72), UserUnit=unit), "a.pdf")
    assert found.size == pytest.approx((25.4 * times, 25.4 * times))


@pytest.mark.parametrize(
    "media",
    [None, box(0, 0, 5), box(0, 0, 0, 5), box(0, 0, 5, 0), box(0, 0, Name.X, 5)],
)
def test_a_page_without_a_box_is_refused(media) -> None:
    told = {} if media is None else {"MediaBox": media}
    with pytest.raises(ReadError, match="the page has no size"):
        read_box(sheet(**told), "a.pdf")


@pytest.mark.parametrize(
    ("side", "meant"), [(0.0029, True), (0.0028, False), (2.8e8, True), (2.9e8, False)]
)
def test_pages_from_a_thousandth_of_a_mm_to_100_km(side, meant) -> None:
    page = sheet(MediaBox=box(0, 0, 100, pikepdf.Object.parse(b"%f" % side)))
    if meant:
        assert read_box(page, "a.pdf").size[1] == pytest.approx(side * MM)
    else:
        with pytest.raises(ReadError, match="cannot be meant"):
            read_box(page, "a.pdf")


@pytest.mark.parametrize(("steps", "found"), [(0, 5), (1, 5), (59, 5), (60, None)])
def test_entries_are_inherited_from_the_tree_above(steps, found) -> None:
    page = sheet(A=5)
    for _ in range(steps):
        page = sheet(Parent=page)
    assert inherited(page, "/A") == found
    assert inherited(page, "/B") is None
    own = sheet(A=7, Parent=page)
    assert inherited(own, "/A") == 7


def test_a_page_is_chosen_by_its_number() -> None:
    with pikepdf.new() as pdf:
        with pytest.raises(ReadError, match="the PDF has no pages"):
            choose_page(pdf, None, "a.pdf")
        pdf.add_blank_page(page_size=(10, 20))
        with pytest.raises(ReadError, match="no page 2: the PDF has 1 page\n"):
            choose_page(pdf, 2, "a.pdf")
        pdf.add_blank_page(page_size=(30, 20))
        for number, width in ((None, 10), (1, 10), (2, 30)):
            assert choose_page(pdf, number, "a.pdf")["/MediaBox"][2] == width
        for number in (0, -1, 3):
            with pytest.raises(ReadError, match=f"no page {number}: .* has 2 pages"):
                choose_page(pdf, number, "a.pdf")


@pytest.mark.parametrize(
    ("told", "seen"),
    [
        ({"AP": Dictionary(), "Subtype": Name.Square}, 1),
        ({"AP": Dictionary(), "Subtype": Name.Square, "F": 4}, 1),
        ({"AP": Dictionary(), "Subtype": Name.Square, "F": 2}, 0),
        ({"AP": Dictionary(), "Subtype": Name.Square, "F": 32}, 0),
        ({"Subtype": Name.Square}, 0),
        ({"AP": Dictionary(), "Subtype": Name.Link}, 0),
        ({"AP": Dictionary(), "Subtype": Name.Widget}, 0),
    ],
)
@pytest.mark.reference("ISO 32000-1, table 165: Hidden is 2, NoView 32")
def test_remarks_that_are_seen_are_counted(told, seen) -> None:
    one = sheet(**told)
    assert _remarks(sheet(Annots=Array([one, one, Name.X]))) == 2 * seen
    assert _remarks(sheet(Annots=one)) == _remarks(sheet()) == 0


# -- layers ---------------------------------------------------------------------


def layers(pdf, shown=(), **usual):
    groups = [
        pdf.make_indirect(Dictionary(Type=Name.OCG, Name=name))
        for name in ("First", "Second", "Third")
    ]
    config = {
        f"/{key}": Array([groups[k] for k in value])
        if isinstance(value, tuple)
        else value
        for key, value in usual.items()
    }
    pdf.Root.OCProperties = Dictionary(OCGs=Array(groups), D=Dictionary(config))
    return Layers.of(pdf, frozenset(shown)), groups


@pytest.mark.parametrize(
    ("usual", "seen"),
    [
        ({}, [True, True, True]),
        ({"OFF": (1,)}, [True, False, True]),
        ({"BaseState": Name.OFF}, [False] * 3),
        ({"BaseState": Name.OFF, "ON": (1, 2)}, [False, True, True]),
        ({"BaseState": Name.OFF, "ON": (1, 2), "OFF": (2,)}, [False, True, False]),
        ({"BaseState": Name.ON, "ON": (0,), "OFF": (2,)}, [True, True, False]),
        ({"BaseState": Name.Unchanged}, [True] * 3),
    ],
)
@pytest.mark.reference("ISO 32000-1, section 8.11.4.3: the usual configuration")
def test_layers_are_on_or_off(usual, seen) -> None:
    with pikepdf.new() as pdf:
        found, groups = layers(pdf, **usual)
        names = ["First", "Second", "Third"]
        assert [found.look(g) for g in groups] == list(zip(seen, names, strict=True))
        shown, groups = layers(pdf, ["Second"], **usual)
        assert [shown.look(g)[0] for g in groups] == [seen[0], True, seen[2]]


@pytest.mark.parametrize(
    ("rule", "both_on", "one_on", "none_on"),
    [
        (None, True, True, False),
        ("AnyOn", True, True, False),
        ("AllOn", True, False, False),
        ("AnyOff", False, True, True),
        ("AllOff", False, False, True),
    ],
)
@pytest.mark.reference("ISO 32000-1, table 99: P of optional content memberships")
def test_memberships_follow_their_rule(rule, both_on, one_on, none_on) -> None:
    told = {} if rule is None else {"/P": Name(f"/{rule}")}
    with pikepdf.new() as pdf:
        for off, seen in (((), both_on), ((1,), one_on), ((0, 1), none_on)):
            found, groups = layers(pdf, OFF=off)
            member = Dictionary(
                {"/Type": Name.OCMD, "/OCGs": Array(groups[:2]), **told}
            )
            assert found.look(member) == (seen, "First")
            alone = Dictionary({"/Type": Name.OCMD, "/OCGs": groups[1], **told})
            off_rule = rule in {"AnyOff", "AllOff"}
            assert found.look(alone) == ((1 in off) is off_rule, "Second")


def test_what_names_no_layer_is_seen() -> None:
    with pikepdf.new() as pdf:
        found, _ = layers(pdf, BaseState=Name.OFF)
        other = pdf.make_indirect(Dictionary(Type=Name.OCG, Name="Elsewhere"))
        for group in (None, Name.X, Dictionary(Type=Name.OCMD), other):
            assert found.look(group) == (True, None)
        empty = Dictionary(Type=Name.OCMD, OCGs=Array([Dictionary(Type=Name.OCMD)]))
        assert found.look(empty) == (True, None)
    with pikepdf.new() as pdf:
        assert Layers.of(pdf, frozenset()) == Layers()
