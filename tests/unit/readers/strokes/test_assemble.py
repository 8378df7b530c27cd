"""The last step of reading: scope, dashes, groups, the frame, what is told."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.readers.limits import NORMAL
from fillwork.readers.selectors import Choice, parse_choice
from fillwork.readers.strokes.assemble import (
    _are_flat,
    _chosen,
    _dashed_guides,
    _frame,
    _groups,
    _in_use,
    _Lines,
    _refuse_specks,
    _scope,
    _with_styles,
    _without_bands,
    _without_inner_edges,
)
from fillwork.readers.strokes.collect import Collector, Context, StrokeTable
from fillwork.readers.strokes.drawn import Drawn
from fillwork.readers.strokes.notes import NoteList
from fillwork.readers.strokes.page import MM_PER_PX, Page
from tests.unit.readers.strokes.tables import (
    Row,
    about,
    arc,
    box,
    ends,
    fill,
    line,
    polygon,
    table,
)

ANY = Choice()


def notes() -> NoteList:
    return NoteList(Drawn(NORMAL, "a.svg", Collector(NORMAL, "a.svg")))


def drawn(*items: tuple[list[Row], Context]) -> _Lines:
    """Lines of some items, each of one stroke."""
    told = table(*(rows for rows, _ in items))
    return _with_styles(told, [c for _, c in items], np.arange(len(items)))


def no_page() -> Page:
    return Page()


@pytest.mark.parametrize(
    ("rows", "flat"),
    [
        ([line(0, 0, 5, 0)], True),
        (polygon((0, 0), (4, 2), (2, 1)), True),
        (polygon((0, 0), (0, 9), (0, 3)), True),
        (polygon((1e3, 5), (1e3 + 4, 5), (1e3 + 2, 5)), True),
        # off by a hundred-thousandth of its length, or by a thousandth
        (polygon((0, 0), (4, 0), (2, 2e-5)), True),
        (polygon((0, 0), (4, 0), (2, 4e-3)), False),
        (polygon((0, 0), (4, 0), (4, 1)), False),
        (polygon((0, 0), (1e-3, 0), (1e-3, 1e-4)), False),
        (polygon((0, 0), (4, 4), (4, 3.9)), False),
        ([arc(0, 0, 1, 0, 0.01)], False),
        ([line(0, 0, 1, 0), arc(0, 0, 1, 0, 90), line(0, 1, 0, 0)], False),
        # all in one point
        ([line(3, 3, 3, 3)], True),
    ],
)
def test_flat_strokes_lie_on_one_line(rows: list[Row], flat: bool) -> None:
    told = table(box(7, 7, 2, 2), rows, [line(0, 0, 9, 9)])
    assert _are_flat(told).tolist() == [False, flat, True]


def test_styles_are_numbered_by_first_use() -> None:
    told = drawn(
        ([line(0, 0, 3, 4)], about(colour="#b")),
        (box(0, 0, 1, 2), about(colour="#a", width=0.200004)),
        ([line(0, 0, 1, 0)], about(colour="#b", width=0.199998)),
        ([line(0, 0, 1, 0)], fill(layer="x", width=3.0)),
    )
    assert told.style.tolist() == [0, 1, 0, 2]
    assert told.styles == (
        (None, "#b", 0.2, False),
        (None, "#a", 0.2, False),
        ("x", "#ff0000", None, False),
    )
    assert told.length.tolist() == [5, 6, 1, 1]
    assert told.are("stroked").tolist() == [True, True, True, False]


def test_groups_tell_what_is_taken_and_what_is_left() -> None:
    told = drawn(
        ([line(0, 0, 3, 4)], about(colour="#b")),
        (box(0, 0, 3, 3), about(colour="#a")),
        ([line(0, 0, 7, 0)], about(colour="#b")),
        ([line(0, 0, 20, 0)], about(colour="#c")),
    )
    got = _groups(told, np.array([True, True, False, False]))
    seen = [(g.colour, g.count, g.length, g.used) for g in got]
    assert seen == [
        ("#a", 1, 12.0, True),
        ("#b", 1, 5.0, True),
        ("#c", 1, 20.0, False),
        ("#b", 1, 7.0, False),
    ]


@pytest.mark.parametrize("size", [0.9e-4, 1.1e-4])
def test_specks_are_refused(size: float) -> None:
    told = table([line(5, 5, 5 + size, 5)])
    if size > 1e-4:
        _refuse_specks(told, "a.svg")
    else:
        with pytest.raises(LineWorkError, match="9e-05 mm across"):
            _refuse_specks(told, "a.svg")


def test_without_a_page_the_box_of_the_lines_is_one() -> None:
    told = table([line(3, -2, 8, 5)], [arc(5, 5, 1, 0, 360)])
    page = no_page()
    page.to_mm = (2.0, 0.0, 0.0, -2.0, 10.0, 20.0)
    frame, moved = _frame(page, told)
    assert (frame.width, frame.height) == (5.0, 8.0)
    assert frame.to_mm == (2.0, 0.0, 0.0, -2.0, 7.0, 22.0)
    assert not frame.has_page
    assert ends(moved)[0] == [0, 0, 5, 7]
    assert moved.data[1, :2].tolist() == [2, 7]
    page.has_page = True
    page.width, page.height = 100 / MM_PER_PX, 50 / MM_PER_PX
    frame, same = _frame(page, told)
    assert same is told
    assert (frame.width, frame.height) == pytest.approx((100, 50))
    assert frame.has_page
    assert frame.to_mm == page.to_mm


@pytest.mark.parametrize(
    ("dashed", "guides"), [(9.9, True), (10.0, False), (12.0, False)]
)
def test_guides_are_less_than_the_whole_lines(dashed: float, guides: bool) -> None:
    told = drawn(
        ([line(0, 0, 10, 0)], about()),
        ([line(0, 1, dashed, 1)], about(colour="#00f", dash=True)),
    )
    said = notes()
    got = _dashed_guides(ANY, told, np.ones(2, bool), said)
    assert got.tolist() == [False, guides]
    (note,) = said.notes
    left_out = "1 dashed line in colours that no whole line has"
    words = left_out if guides else "1 dashed line count as lines like all others"
    assert note.text.startswith(words)


def test_dashes_in_a_colour_of_whole_lines_count() -> None:
    told = drawn(
        ([line(0, 0, 50, 0)], about()),
        ([line(0, 1, 5, 1)], about(dash=True)),
        ([line(0, 2, 5, 2)], about(dash=True, colour="#00f")),
        ([line(0, 3, 5, 3)], about(dash=True, colour="#00f")),
    )
    said = notes()
    got = _dashed_guides(ANY, told, np.ones(4, bool), said)
    assert got.tolist() == [False, False, True, True]
    assert [note.text.partition(" in ")[0][:14] for note in said.notes] == [
        "2 dashed lines",
        "1 dashed line ",
    ]
    # where the user says what to take, none is left out
    for choice in (
        parse_choice(("colour=#00f",), (), "auto"),
        parse_choice((), ("width>9",), "auto"),
    ):
        said = notes()
        assert not _dashed_guides(choice, told, np.ones(4, bool), said).any()
        assert said.notes[0].text.startswith("3 dashed lines count")
    # and none where all, or none, of those in use are dashed
    for used in ([False, True, True, True], [True, False, False, False]):
        said = notes()
        assert not _dashed_guides(ANY, told, np.array(used), said).any()
        assert not said.notes


def test_selectors_take_and_leave() -> None:
    told = drawn(
        ([line(0, 0, 1, 0)], about(layer="a", names=1)),
        ([line(0, 0, 1, 0)], about(layer="a", colour="#0000ff", names=2)),
        ([line(0, 0, 1, 0)], about(layer="b", names=3)),
    )

    def taken(lines: tuple[str, ...], leave: tuple[str, ...] = ()) -> list[bool]:
        return _chosen(parse_choice(lines, leave, "auto"), told).tolist()

    assert taken(()) == [True, True, True]
    assert taken(("layer=a",)) == [True, True, False]
    assert taken(("layer=a,colour=#00f", "layer=b")) == [False, True, True]
    assert taken((), ("layer=b",)) == [True, True, False]
    # one bit of a context a name, in order of mention
    assert taken(("class=x", "class=y")) == [True, True, True]
    assert taken(("class=x",)) == [True, False, True]
    assert taken(("class=x",), ("id=y",)) == [True, False, False]


def scope_of(
    items: list[tuple[list[Row], Context]],
    scope: str = "auto",
    page: Page | None = None,
) -> tuple[str, list[bool], list[str]]:
    told = drawn(*items)
    said = notes()
    chosen = np.ones(len(items), bool)
    along = told.table, told.are("stroked")
    choice = parse_choice((), (), scope)
    got, backgrounds = _scope(choice, told, chosen, along, page or no_page(), said)
    return got, backgrounds.tolist(), [note.text for note in said.notes]


def test_strokes_alone_are_the_line_work() -> None:
    strokes = ([line(0, 0, 90, 0)], about())
    assert scope_of([strokes]) == ("stroked", [False], [])
    # a background beside them changes nothing
    page = no_page()
    page.has_page, page.width, page.height = True, 100 / MM_PER_PX, 100 / MM_PER_PX
    whole = (box(0, 0, 100, 100), fill())
    assert scope_of([whole, strokes], page=page) == ("stroked", [False, False], [])
    got = scope_of([whole, strokes], "both", page)
    assert got[:2] == ("both", [True, False])
    assert got[2] == ["1 filled background of the whole page is not line work"]
    # alone it is all there is
    assert scope_of([whole], page=page)[:2] == ("outlines", [False])
    two = scope_of([whole, whole, (box(5, 5, 2, 2), fill())], page=page)
    assert two[1] == [True, True, False]
    assert two[2][1] == "2 filled backgrounds of the whole page are not line work"


@pytest.mark.parametrize(
    ("side", "scope", "words"),
    # a square of a perimeter of a tenth of the strokes
    [
        (2.4, "stroked", "the stroked lines are the line work, without 1 shape with a"),
        (2.6, "both", "where they lie clear of strokes, the edges of 1 fill are 10 %"),
    ],
)
def test_fills_clear_of_strokes_count_from_a_tenth(
    side: float, scope: str, words: str
) -> None:
    strokes = ([line(0, 0, 100, 0)], about())
    got, _, said = scope_of([strokes, (box(10, 50, side, side), fill())])
    assert got == scope
    assert said[0].startswith(words)


def test_several_fills_are_told_by_their_number() -> None:
    strokes = ([line(0, 0, 100, 0)], about())
    small = [(box(10 * k, 50, 1, 1), fill()) for k in range(2)]
    assert (
        "without 2 shapes with a fill only, whose edges clear of strokes are 8 %"
        in (scope_of([strokes, *small])[2][0])
    )
    large = [(box(10 * k, 50, 5, 5), fill()) for k in range(2)]
    told = scope_of([strokes, *large])[2][0]
    assert "the edges of 2 fills are 40 % of the strokes' length" in told
    # fills alone are read by their edges; a scope that is asked for stands
    assert scope_of(large)[0] == "outlines"
    assert scope_of([strokes, *large], "stroked")[:1] == ("stroked",)
    assert scope_of([strokes, *large], "outlines")[0] == "outlines"
    assert scope_of([strokes], "outlines")[0] == "outlines"


def test_flat_fills_show_nothing_beside_strokes() -> None:
    strokes = ([line(0, 0, 100, 0)], about())
    flat = ([line(0, 50, 60, 50)], fill())
    square = (box(10, 20, 9, 9), fill())
    told = drawn(strokes, flat, square)

    def used(scope: str, lines: _Lines = told) -> list[bool]:
        chosen = np.ones(len(lines.style), bool)
        along = lines.table, lines.are("stroked")
        choice = parse_choice((), (), scope)
        return _in_use(choice, lines, chosen, along, no_page(), notes())[0].tolist()

    assert used("both") == [True, False, True]
    assert used("stroked") == [True, False, False]
    assert used("outlines") == [False, False, True]
    # those of a tile, and where there are no strokes, stay
    assert used("both", drawn(strokes, (flat[0], fill(laid=True)))) == [True, True]
    assert used("both", drawn(flat, square)) == [True, True]


def bars_read(
    items: list[tuple[list[Row], Context]], scope: str = "auto"
) -> tuple[StrokeTable, list[str]]:
    told = drawn(*items)
    said = notes()
    n = len(items)
    got = _without_bands(
        told.table, np.ones(n, bool), told.are("filled"), np.zeros(n, bool),
        parse_choice((), (), scope), said,
    )  # fmt: skip
    return got, [note.text for note in said.notes]


def test_bars_are_read_by_their_middle_lines() -> None:
    # two across two, which leave a square open between them
    bars = [(box(0, y, 60, 1), fill()) for y in (10, 40)]
    bars += [(box(x, 0, 1, 60), fill()) for x in (10, 40)]
    other = ([line(0, -9, 60, -9)], about())
    got, said = bars_read([*bars, other])
    assert ends(got)[4] == [0, -9, 60, -9]
    assert [sorted(zip(row[::2], row[1::2], strict=True)) for row in ends(got)[:4]] == [
        [(0, 10.5), (60, 10.5)],
        [(0, 40.5), (60, 40.5)],
        [(10.5, 0), (10.5, 60)],
        [(40.5, 0), (40.5, 60)],
    ]
    assert said == [
        "4 of 4 filled shapes look like strokes that were made into thin bands, near 1 "
        "mm wide: their middle lines are taken"
    ]
    # both edges where they are asked for
    got, said = bars_read([*bars, other], "both")
    assert len(got.closed) == 5
    assert len(got.kind) == 17
    assert "both edges of each are taken as lines" in said[0]
    # squares are none
    got, said = bars_read([(box(0, 20 * k, 9, 9), fill()) for k in range(4)])
    assert len(got.kind) == 16
    assert said == []


def test_edges_inside_fills_that_cross_themselves_are_left_out() -> None:
    # two squares in one shape, which overlap by 4 by 4: 2 · 8 of 80 lie inside
    rings = table(box(0, 0, 10, 10), box(6, 6, 10, 10), closed=True, item=0)
    of_item = np.zeros(1, np.int64)

    def left(hidden: str, contexts: list[Context]) -> tuple[float, list[str]]:
        said = notes()
        choice = parse_choice((), (), "auto", hidden)
        got = _without_inner_edges(rings, contexts, of_item, choice, said)
        way = got.data[:, 2:4] - got.data[:, :2]
        return float(np.abs(way).sum()), [note.text for note in said.notes]

    long, said = left("auto", [fill()])
    assert long == pytest.approx(64)
    assert said == [
        "16 mm of edges lie inside filled shapes that cross themselves and are not "
        "seen: left out"
    ]
    assert left("keep", [fill()]) == (80, [])
    # of strokes, of tiles, and by the other rule nothing is hidden
    for context in (about(filled=True), fill(laid=True), fill(even_odd=True)):
        assert left("auto", [context]) == (80, [])


def test_edges_are_kept_where_hardly_any_would_be_left() -> None:
    # so many squares, each turned a little about one centre, that most lies inside
    rings = []
    for k in range(10):
        a = math.radians(90 * k / 10)
        corners = [(9 * math.cos(a + b), 9 * math.sin(a + b)) for b in _QUARTERS]
        rings.append(polygon(*corners))
    told = table(*rings, closed=True, item=0)
    of_item = np.zeros(1, np.int64)
    texts = {}
    for hidden in ("auto", "drop"):
        said = notes()
        choice = parse_choice((), (), "auto", hidden)
        got = _without_inner_edges(told, [fill()], of_item, choice, said)
        texts[hidden] = said.notes[0].text
        assert (got is told) == (hidden == "auto")
    assert texts["auto"].endswith("which leaves hardly any, so they are kept")
    assert texts["drop"].endswith(": left out")


_QUARTERS = [0, math.pi / 2, math.pi, 3 * math.pi / 2]


def test_the_page_knows_its_units() -> None:
    page = no_page()
    assert page.mm_per_unit == pytest.approx(25.4 / 96)
    assert (page.width, page.height, page.has_page) == (0.0, 0.0, False)
    # CSS pixels, the y axis turned up
    assert affine.apply(page.to_mm, np.array([[96.0, 96.0]])).tolist() == [
        pytest.approx([25.4, -25.4])
    ]
    page.width, page.height = 96.0, 192.0
    assert page.size_mm == pytest.approx((25.4, 50.8))
    assert page.unit == "px"
