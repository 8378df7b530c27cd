"""Tables, objects, letters and edges of hatches, each taken alone."""

from __future__ import annotations

import codecs
import math
from dataclasses import replace

import numpy as np
import pytest
from ezdxf.xclip import XClip

from fillwork.errors import ReadError
from fillwork.geometry.curves import ARC, CUBIC, LINE
from fillwork.readers import read_linework
from fillwork.readers.dxf.hatches import hatch_rings
from fillwork.readers.dxf.objects import Objects
from fillwork.readers.dxf.tables import _encoding, read_document
from fillwork.readers.dxf.tags import handle_of, number, read_entities, text_of, whole
from fillwork.readers.limits import NORMAL
from tests.unit.readers.dxf.test_dxf import block, drawing, insert, plain, to_bytes
from tests.unit.readers.dxf.test_entities import tags

LINE_TEXT = tags("LINE", (8, 0), (11, 9), (21, 9))


def entity(text):
    (found,) = read_entities(text.encode(), "a.dxf", NORMAL)
    return found


def document(text, limits=NORMAL):
    return read_document(text.encode("cp1252"), "a.dxf", limits, frozenset())


def section(name, *inside):
    return tags("SECTION", (2, name)) + "".join(inside) + tags("ENDSEC")


# -- letters --------------------------------------------------------------------


def header(version, page):
    text = tags("SECTION", (2, "HEADER"))
    if version:
        text += f"9\n$ACADVER\n1\n{version}\n"
    return (text + (f"9\n$DWGCODEPAGE\n3\n{page}\n" if page else "")).encode()


@pytest.mark.parametrize(
    ("version", "page", "encoding"),
    [
        ("AC1015", "ANSI_1252", "cp1252"), ("AC1015", "ANSI_1251", "cp1251"),
        ("AC1012", "ansi_1251", "cp1251"), ("AC1009", "dos850", "cp850"),
        ("AC1009", "DOS437", "cp437"), ("AC1015", "ANSI_932", "cp932"),
        ("AC1015", "ANSI_936", "gbk"), ("AC1015", "ANSI_949", "cp949"),
        ("AC1012", "iso8859-5", "iso8859-5"), ("AC1012", "mac-roman", "mac-roman"),
        ("AC1012", "big5", "big5"), ("AC1012", "johab", "johab"),
        ("AC1015", "", "cp1252"), ("AC1015", "ANSI_9999", "cp1252"),
        ("AC1018", "ANSI_1251", "cp1251"), ("AC1021", "ANSI_1251", "utf-8"),
        ("AC1032", "ANSI_1252", "utf-8"), ("", "ANSI_1251", "utf-8"),
        # these turn bytes into bytes, or need more than letters
        ("AC1015", "zlib", "cp1252"), ("AC1015", "hex", "cp1252"),
        ("AC1015", "utf-32", "cp1252"), ("AC1015", "undefined", "cp1252"),
    ],
)  # fmt: skip
@pytest.mark.reference("DXF reference, $DWGCODEPAGE; UTF-8 from AC1021 (2007) on")
def test_letters_have_the_code_page_that_is_stated(version, page, encoding) -> None:
    for form in (header(version, page), header(version, page).replace(b"\n", b"\r\n")):
        assert codecs.lookup(_encoding(form)) == codecs.lookup(encoding)


@pytest.mark.parametrize("page", ["zlib", "hex", "rot13", "", "ansi_1252"])
def test_any_code_page_gives_words_and_no_crash(page) -> None:
    data = header("AC1015", page) + tags("ENDSEC").encode() + plain(LINE_TEXT)
    assert read_linework(data, name="a.dxf").stroke_count == 1


@pytest.mark.parametrize(
    ("value", "encoding", "text"),
    [
        (b"  A b \r", "utf-8", "A b"), (b"Au\xc3\x9fen", "utf-8", "Außen"),
        (b"Au\xdfen", "utf-8", "Außen"), (b"\x81", "utf-8", "\ufffd"),
        (b"a\x00b\x07c", "utf-8", "ab c"), (b"\\U+03b1\\U+zz", "cp1252", "α\\U+zz"),
        (b"\\U+D83C\\U+DFA8", "cp1252", "\U0001f3a8"), (None, "utf-8", ""),
        (b"\\x", "punycode", "\\x"), (7.0, "utf-8", "7"), (3, "utf-8", "3"),
    ],
)  # fmt: skip
def test_values_as_text(value, encoding, text) -> None:
    assert text_of(value, encoding) == text


def test_values_as_numbers() -> None:
    fields = {b"1": b" 2.5\r", b"2": b" 7 ", b"3": 4}
    assert [number(fields, b"%d" % k) for k in (1, 2, 3, 4)] == [2.5, 7, 4, 0]
    assert [whole(fields, b"%d" % k, 9) for k in (1, 2, 3, 4)] == [2, 7, 4, 9]
    assert number(fields, b"4", 1.5) == 1.5
    assert [handle_of(v) for v in (b" 00aF\r", b"0", None, 5)] == ["AF", "", "", ""]


# -- tables ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "colour", "dash", "weight", "unseen"),
    [
        ((), 7, "continuous", -3, False),
        (((62, 3), (6, "DASHED"), (370, 35)), 3, "dashed", 35, False),
        (((62, -3),), 3, "continuous", -3, True),
        (((70, 1),), 7, "continuous", -3, True),
        (((70, 4),), 7, "continuous", -3, False),
        (((290, 0),), 7, "continuous", -3, True),
        (((290, 1),), 7, "continuous", -3, False),
        (((62, 1), (420, 0xFF8001)), "#ff8001", "continuous", -3, False),
    ],
)
@pytest.mark.reference("DXF reference, LAYER: 62 negative is off, 70 & 1 is frozen")
def test_layers_are_what_their_table_says(told, colour, dash, weight, unseen) -> None:
    table = section("TABLES", tags("LAYER", (5, "0aB"), (2, "Wall É"), *told))
    (layer,) = document(table).layers.values()
    assert (layer.name, layer.handle, layer.colour) == ("Wall É", "AB", colour)
    assert (layer.dash, layer.weight, layer.unseen) == (dash, weight, unseen)


@pytest.mark.parametrize(
    ("lengths", "dashed"), [((), False), ((5,), False), ((5, -2), True),
                            ((0, -2), True), ((5, 0), False)],
)  # fmt: skip
@pytest.mark.reference("DXF reference, LTYPE: a length below 0 is a gap")
def test_line_types_with_gaps_are_dashed(lengths, dashed) -> None:
    told = ((73, len(lengths)), *((49, length) for length in lengths))
    found = document(section("TABLES", tags("LTYPE", (2, "Own"), *told)))
    assert found.dashed == ({"own"} if dashed else set())


@pytest.mark.parametrize(
    ("told", "unit"), [("4", 4), (" 5\r", 5), ("1.0", 1), ("x", 0), ("inf", 0)]
)
def test_the_header_states_the_unit(told, unit) -> None:
    text = "9\n$LUNITS\n70\n2\n9\n$INSUNITS\n70\n" + told + "\n9\n$LUPREC\n70\n8\n"
    assert document(section("HEADER") + tags("EOF")).unit == 0
    assert document(section("HEADER").replace("HEADER\n", "HEADER\n" + text)).unit == (
        unit
    )


@pytest.mark.parametrize(("count", "refused"), [(5, False), (6, True)])
def test_entities_have_one_limit(count, refused) -> None:
    # of blocks and space together; the vertices of a polyline are none
    limits = replace(NORMAL, elements=5)
    more = tags("CIRCLE", (40, 1)) * (count - 2) + tags("VERTEX") * 5
    text = section("BLOCKS", block("B", LINE_TEXT)) + section(
        "ENTITIES", LINE_TEXT, more
    )
    if refused:
        with pytest.raises(ReadError, match="more than 5 entities"):
            document(text, limits)
    else:
        assert len(document(text, limits).model) == 4


@pytest.mark.parametrize(("flags", "told"), [(0, 0), (4, 1), (12, 1), (2, 0)])
@pytest.mark.reference("DXF reference, BLOCK: 70 & 4 is an external reference")
def test_blocks_of_other_files_are_told_where_they_are_placed(flags, told) -> None:
    other = block("Other", f"70\n{flags}\n1\nother.dwg\n")
    work = read_linework(plain(LINE_TEXT + insert("Other"), other), name="a.dxf")
    texts = [n.text for n in work.notes if "stands in another file" in n.text]
    assert len(texts) == told
    unplaced = read_linework(plain(LINE_TEXT, other), name="a.dxf")
    assert not any("another file" in n.text for n in unplaced.notes)


# -- objects --------------------------------------------------------------------


@pytest.mark.parametrize("ends", [b"\n", b"\r\n"])
def test_outlines_that_cut_are_read_however_lines_end(ends) -> None:
    made, model = drawing()
    made.blocks.new("B").add_line((0, 0), (100, 0))
    placed = model.add_blockref("B", (0, 0))
    XClip(placed).set_block_clipping_path([(10, -5), (60, 5)])
    work = read_linework(to_bytes(made).replace(b"\n", ends), name="a.dxf")
    assert work.curves.lengths().sum() == pytest.approx(50)


def cut(corners, *, seen=1, first=(), maps=None):
    """An outline, with its maps from the drawing and to its own axes, as rows."""
    maps = maps or [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0] * 2
    pairs = [pair for x, y in corners for pair in ((10, x), (20, y))]
    numbers = [(40, v) for v in (*first, *maps)]
    return tags("SPATIAL_FILTER", (5, "C"), (70, 2), *pairs, (71, seen), *numbers)


def outline(text):
    objects = Objects()
    links = (("A", "ACAD_FILTER", "0B"), ("0B", "SPATIAL", "C"))
    for own, name, other in links:
        told = ((5, own), (3, "OTHER"), (360, "F"), (3, name), (360, other))
        objects.take(entity(tags("DICTIONARY", *told)), "utf-8")
    objects.take(entity(text), "utf-8")
    assert objects.outline("B") == objects.outline("F") == objects.outline("") == ()
    return objects.outline("A")


@pytest.mark.reference("DXF reference, SPATIAL_FILTER")
def test_outlines_stand_in_the_units_of_the_block() -> None:
    corners = ((1.0, 2.0), (5.0, 2.0), (3.0, 7.0))
    assert outline(cut(corners)) == corners
    # two corners are those of a box; a distance of the front is no part of the maps
    box = ((1, 2), (5, 2), (5, 7), (1, 7))
    assert outline(cut(((1, 2), (5, 7)))) == outline(cut(box)) == box
    assert outline(cut(corners, first=[99])) == corners
    assert outline(cut(corners, seen=0)) == outline(cut(corners[:1])) == ()
    # to the block: a quarter turn, then 10 to the right; to the axes: 3 up
    turn = [0, -1, 0, 10, 1, 0, 0, 0, 0, 0, 1, 0]
    up = [1, 0, 0, 0, 0, 1, 0, 3, 0, 0, 1, 0]
    found = outline(cut(corners, maps=[*turn, *up]))
    assert np.array(found) == pytest.approx(
        np.array([(10 - (y - 3), x) for x, y in corners])
    )
    assert outline(cut(corners, maps=turn)) == ()


def test_styles_of_multiple_lines_have_their_flags() -> None:
    objects = Objects()
    objects.take(entity(tags("MLINESTYLE", (2, "Wall \\U+03B1"), (70, 82))), "cp1252")
    objects.take(entity(tags("MLINESTYLE", (2, "PLAIN"))), "cp1252")
    assert objects.styles == {"wall α": 82, "plain": 0}


# -- hatches --------------------------------------------------------------------


def hatch(*paths):
    told = [pair for path in paths for pair in path]
    return hatch_rings(entity(tags("HATCH", (10, 0), (20, 0), (91, len(paths)), *told)))


def corners(*points, bulges=0):
    told = [(92, 7), (72, bulges), (73, 1), (93, len(points))]
    for x, y, *bulge in points:
        told += [(10, x), (20, y), *((42, b) for b in bulge)]
    return [*told, (97, 0)]


def test_rings_of_corners() -> None:
    square, lens = hatch(
        corners((0, 0), (4, 0), (4, 4)), corners((0, 0, 1), (4, 0), bulges=1)
    )
    assert [(kind, row[:4]) for kind, row in square] == [
        (LINE, (0, 0, 4, 0)), (LINE, (4, 0, 4, 4)), (LINE, (4, 4, 0, 0)),
    ]  # fmt: skip
    assert [kind for kind, _ in lens] == [ARC, LINE]
    # without their flag bulges do not count
    assert [kind for kind, _ in hatch(corners((0, 0, 1), (4, 0)))[0]] == [LINE, LINE]


@pytest.mark.parametrize(("flags", "kind"), [(2, ARC), (0xFFF, ARC), (0x801, LINE)])
def test_only_one_flag_of_an_edge_says_how_it_is_written(flags, kind) -> None:
    # by corners, or by edges; the others say where it lies and what it crosses
    if kind == ARC:
        told = corners((0, 0, 1), (4, 0), bulges=1)
    else:
        told = [(92, 1), (93, 1), (72, 1), (10, 1), (20, 2), (11, 3), (21, 4)]
    ((edge, *_),) = hatch([(92, flags), *told[1:]])
    assert edge[0] == kind


@pytest.mark.parametrize("fill", [1, 7])
def test_polygons_of_several_rings_are_drawn_by_their_edges(fill) -> None:
    made, model = drawing()
    shape = model.add_mpolygon(color=fill)
    shape.paths.add_polyline_path([(0, 0), (9, 0), (9, 9), (0, 9)])
    shape.paths.add_polyline_path([(3, 3, 1), (6, 3, 1)])  # two half circles
    work = read_linework(to_bytes(made), name="a.dxf", scope="stroked")
    assert work.closed.tolist() == [True, True]
    assert work.curves.lengths().sum() == pytest.approx(36 + 3 * math.pi)
    below = model.add_mpolygon()
    below.dxf.extrusion = (0, 0, -1)
    below.paths.add_polyline_path([(-20, 0), (-30, 0), (-30, 5)])
    assert read_linework(to_bytes(made), name="a.dxf").frame.width == 30


@pytest.mark.parametrize("ccw", [0, 1])
def test_rings_of_edges(ccw) -> None:
    side = 1 if ccw else -1
    ((line, arc, oval, spline),) = hatch(
        [
            (92, 1), (93, 4),
            (72, 1), (10, 1), (20, 2), (11, 3), (21, 4),
            (72, 2), (10, 5), (20, 6), (40, 2), (50, 90), (51, 45), (73, ccw),
            (72, 3), (10, 5), (20, 6), (11, 3), (21, 4), (40, 0.5), (50, 0), (51, 360),
            (73, ccw),
            (72, 4), (94, 3), (73, 0), (74, 0), (95, 8), (96, 4),
            *((40, k) for k in (0, 0, 0, 0, 1, 1, 1, 1)),
            (10, 0), (20, 0), (10, 1), (20, 2), (10, 3), (20, 2), (10, 4), (20, 0),
        ]
    )  # fmt: skip
    assert line == (LINE, (1, 2, 3, 4, 0, 0, 0, 0))
    first, last = side * math.radians(90), side * math.radians(405)
    assert arc[0] == ARC
    assert arc[1] == pytest.approx((5, 6, 2, 0, 0, 2, first, last))
    assert oval[1] == pytest.approx((5, 6, 3, 4, -2, 1.5, 0, side * 2 * math.pi))
    assert spline == (CUBIC, (0, 0, 1, 2, 3, 2, 4, 0))


@pytest.mark.parametrize(("told", "kinds"), [([], [CUBIC]), ([0.5] * 3, [ARC])])
def test_edges_by_splines_may_have_weights(told, kinds) -> None:
    # with half the weight in its middle a part of an ellipse, else of a parabola
    weights = [(42, 1), (42, 0.5), (42, 1)] if told else [()] * 3
    points = [(0, 0), (1, 1), (2, 0)]
    pairs = [
        pair
        for (x, y), w in zip(points, weights, strict=True)
        for pair in ((10, x), (20, y), *((w,) if w else ()))
    ]
    knots = [(40, k) for k in (0, 0, 0, 1, 1, 1)]
    rational = 1 if told else 0
    start = [(92, 1), (93, 1), (72, 4), (94, 2), (73, rational), (74, 0), (95, 6)]
    ((edge,),) = hatch([*start, (96, 3), *knots, *pairs])
    assert [edge[0]] == kinds


@pytest.mark.parametrize(
    "path",
    [
        [(92, 2), (72, 0), (73, 1), (93, 99)],
        [(92, 2), (72, 0), (73, 1), (93, 2), (10, 0), (20, 0), (10, 1)],
        [(92, 1), (93, 1), (72, 5)],
        [(92, 1), (93, 1), (72, 4), (94, 3), (73, 0), (74, 0), (95, -1), (96, 4)],
        [(92, 1)],
        [(92, 1), (93, -1)],
        [(92, "nan"), (93, 0)],
    ],
)
def test_edges_that_end_too_early_are_refused(path) -> None:
    with pytest.raises(ValueError):  # noqa: PT011
        hatch(path)
