"""Which space of a drawing is read, where its origin comes, and what is told."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.errors import ReadError
from fillwork.readers import read_linework
from fillwork.readers.dxf.inserts import Layout
from fillwork.readers.dxf.read import _middle, _notes, _space
from fillwork.readers.dxf.sketch import Sketch
from fillwork.readers.dxf.tables import UNITS, Document, read_document
from fillwork.readers.limits import NORMAL
from fillwork.readers.strokes.collect import StrokeTable
from fillwork.readers.strokes.page import Page
from tests.unit.readers.dxf.test_document import LINE_TEXT, section
from tests.unit.readers.dxf.test_dxf import plain
from tests.unit.readers.dxf.test_entities import tags
from tests.unit.readers.dxf.test_inserts import PLAIN, sketch_of


def drawing(model, *layouts, unit=4):
    """A document with so many lines in the model and in each layout."""
    made = Document(model=sketch_of(*[PLAIN] * model), unit=unit)
    for name, lines, inches in layouts:
        block = f"*paper_space{name.lower()}"
        made.blocks[block] = sketch_of(*[PLAIN] * lines)
        made.layouts.append((name, block, 0 if inches else 1))
    return made


def chosen(document, layout=""):
    notes = []
    sketch, unit = _space(document, layout, "a.dxf", notes)
    return len(sketch), unit, [(n.text, n.remedy) for n in notes]


@pytest.mark.parametrize(
    ("layout", "lines", "unit"),
    [("", 1, 5), ("model", 1, 5), (" Model ", 1, 5), ("Plan", 2, 4), ("plan", 2, 4),
     ("INCH", 3, 1)],
)  # fmt: skip
def test_the_space_that_is_asked_for_is_read(layout, lines, unit) -> None:
    found = drawing(1, ("Plan", 2, False), ("Inch", 3, True), unit=5)
    told = ("the model was read, and not 2 layouts", "--layout reads one: Plan, Inch")
    notes = [told] if lines == 1 else []
    assert chosen(found, layout) == (lines, unit, notes)


def test_a_model_without_lines_gives_way() -> None:
    found = drawing(0, ("Empty", 0, False), ("Plan", 2, True))
    told = "the model is empty; the layout “Plan” was read"
    assert chosen(found) == (2, 1, [(told, "")])
    # not where it is asked for
    asked = ("the model was read, and not 1 layout", "--layout reads one: Plan")
    assert chosen(found, "model") == (0, 4, [asked])
    # a placed block is something
    found.model.place(("k", PLAIN, ""), [1, 0, 0, 1, 0, 0], 1)
    assert chosen(found) == (0, 4, [asked])
    assert chosen(drawing(0, ("Empty", 0, False))) == (0, 4, [])


def test_a_paper_without_a_layout_has_the_drawings_unit() -> None:
    # before 2000 there was one paper, and no layouts
    found = Document(model=Sketch(), paper=sketch_of(PLAIN), unit=2)
    assert chosen(found)[:2] == (1, 2)
    assert chosen(found, "paper")[:2] == (1, 2)


def test_a_layout_that_is_not_there_is_told_with_the_nearest() -> None:
    found = drawing(1, ("Ground floor", 1, False), ("Roof", 1, False))
    with pytest.raises(ReadError) as caught:
        chosen(found, "Ground flor")
    assert str(caught.value) == (
        "a.dxf: the drawing has no layout “Ground flor”\n"
        "  did you mean Ground floor? layouts: model, Ground floor, Roof"
    )
    with pytest.raises(ReadError, match="”\n  layouts: model"):
        chosen(found, "zzzz")


@pytest.mark.reference("DXF reference, LAYOUT and PLOTSETTINGS (72: 0 is inches)")
def test_layouts_name_their_block_and_unit() -> None:
    records = [
        tags("BLOCK_RECORD", (5, handle), (2, name))
        for handle, name in (
            ("1F", "*Model_Space"),
            ("0A", "*Paper_Space"),
            ("B", "*P1"),
        )
    ]
    layouts = [
        tags("LAYOUT", (5, 9), (100, "AcDbPlotSettings"), (1, "page"), (72, unit),
             (100, "AcDbLayout"), (1, name), (72, 5), (330, block))
        for name, unit, block in (("Model", 1, "1f"), ("One", 0, "A"), ("Two", 1, "0B"),
                                  ("None", 1, "C"))
    ]  # fmt: skip
    found = read_document(
        (section("TABLES", *records) + section("OBJECTS", *layouts)).encode(),
        "a.dxf", NORMAL, frozenset(),
    )  # fmt: skip
    assert found.layouts == [("One", "*paper_space", 0), ("Two", "*p1", 1)]


# -- where the origin comes -----------------------------------------------------


def points(*rows):
    data = np.zeros((len(rows), 8))
    data[:, :2] = np.array(rows).reshape(-1, 2)
    return StrokeTable.of_lines(data, np.arange(len(rows)))


@pytest.mark.parametrize(
    ("rows", "mm", "middle"),
    [
        ([], 1, (0, 0)),
        ([(9e4, 2), (9e4, 4)], 1, (0, 0)),
        ([(1e5, 2.4), (1e5, 4.4)], 1, (1e5, 3)),
        ([(99.4, 2), (99.4, 4)], 1000, (0, 0)),
        ([(100.4, 2), (100.4, 4)], 1000, (100, 3)),
        ([(0, 0), (0, -2e5), (3, -2e5)], 1, (0, -2e5)),
        ([(np.nan, 0), (2e5, np.inf), (4e5, 8)], 1, (4e5, 8)),
        ([(1e301, 0), (2e5, 8)], 1, (2e5, 8)),
        ([(np.nan, 0)], 1, (0, 0)),
    ],
)
def test_far_drawings_have_their_middle_at_the_origin(rows, mm, middle) -> None:
    assert _middle(points(*rows), mm) == middle


def test_each_unit_has_its_length() -> None:
    # the international inch, foot, yard and mile; the foot of the US survey of 1893
    inch = 25.4
    true = {1: inch, 2: 12 * inch, 10: 36 * inch, 3: 63360 * inch, 8: inch / 1e6,
            9: inch / 1e3, 4: 1, 5: 10, 6: 1e3, 7: 1e6, 14: 100, 15: 1e4, 16: 1e5,
            13: 1e-3, 12: 1e-6, 11: 1e-7, 21: 1200 / 3937 * 1e3}  # fmt: skip
    assert {k: mm for k, (_, mm) in UNITS.items()} == pytest.approx(true)
    assert UNITS[1][0] == "in"


# -- what is told ---------------------------------------------------------------


def test_notes_are_in_words() -> None:
    found = Layout(
        [], {"B": 1, "A": 1200}, {}, {"late": (90, 1), "odd": (7, 3), "twice": (7, 2)}
    )
    page = Page()
    texts = [n.text for n in _notes(found, page)]
    hidden = "which is off, frozen or not plotted, left out"
    assert texts == [
        f"1,200 lines or blocks on the layer “A”, {hidden}",
        f"1 line or block on the layer “B”, {hidden}",
        "line 7: twice; 1 more",
        "line 7: odd; 2 more",
        "line 90: late",
        "the drawing states no unit; one unit is taken as 1 mm",
    ]
    page.scale_known = True
    assert [n.text for n in _notes(Layout([], {}, {}, {}), page)] == []


def test_so_many_notes_of_a_sort_and_no_more() -> None:
    page = Page()
    page.scale_known = True
    # of layers with 1 to 23 lines the three with the fewest are told as one
    hidden = {f"L{n:02}": n for n in range(1, 24)}
    doubts = {f"odd {line:02}": (line, 1) for line in range(1, 24)}
    texts = [n.text for n in _notes(Layout([], hidden, {}, doubts), page)]
    assert [text.partition(" on ")[0] for text in texts[:20]] == [
        f"{n} lines or blocks" for n in range(4, 24)
    ]
    assert texts[20] == (
        "6 lines or blocks on 3 other layers, each off, frozen or not plotted, left out"
    )
    assert texts[21:41] == [f"line {line}: odd {line:02}" for line in range(1, 21)]
    assert texts[41:] == ["3 more was not understood"]


@pytest.mark.parametrize(
    "text",
    [
        LINE_TEXT,
        section("ENTITIES", LINE_TEXT).replace("ENDSEC\n", ""),
        section("BLOCKS", tags("BLOCK", (2, "K")), LINE_TEXT),
        section("ENTITIES", LINE_TEXT),
    ],
)
def test_a_file_without_its_end_is_cut_short(text) -> None:
    data = text.encode() if text.startswith("0\nSECTION") else (
        tags("SECTION", (2, "ENTITIES")) + text
    ).encode()  # fmt: skip
    with pytest.raises(ReadError, match="cut short: it ends without EOF"):
        read_linework(data, name="a.dxf")


def test_sections_may_stand_in_any_order() -> None:
    head = "9\n$INSUNITS\n70\n5\n"
    parts = [
        section("ENTITIES", LINE_TEXT),
        tags("SECTION", (2, "HEADER")) + head + tags("ENDSEC"),
        section("OTHER", LINE_TEXT),
    ]
    work = read_linework(("".join(parts) + tags("EOF")).encode(), name="a.dxf")
    assert work.stroke_count == 1
    assert work.curves.lengths().tolist() == pytest.approx([10 * 9 * 2**0.5])
    assert read_linework(plain(LINE_TEXT), name="a.dxf").stroke_count == 1
