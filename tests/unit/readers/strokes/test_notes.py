"""What is told of a drawing: when, in which number, and with which remedy."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.errors import LineWorkError
from fillwork.readers.limits import NORMAL
from fillwork.readers.selectors import Choice, parse_choice
from fillwork.readers.strokes.collect import Collector
from fillwork.readers.strokes.drawn import Drawn
from fillwork.readers.strokes.notes import (
    NoteList,
    all_hidden,
    foremost,
    no_lines,
    none_left,
    reading_notes,
    refuse_unknown,
    several,
)
from fillwork.readers.strokes.page import Page
from tests.unit.readers.strokes.tables import about


def walked() -> Drawn:
    return Drawn(NORMAL, "a.svg", Collector(NORMAL, "a.svg"))


def told(
    walk: Drawn | None = None, counts: dict[str, int] | None = None,
    outside: list[str] | None = None, page: Page | None = None,
) -> list[tuple[str, str, str]]:  # fmt: skip
    """Sort, text and remedy of each note, without what a page says of itself."""
    notes = NoteList(walk or walked())
    if page is None:
        page = Page()
        page.has_page = page.scale_known = True
    reading_notes(notes, outside or [], counts or {}, page)
    return [(note.type, note.text, note.remedy) for note in notes.notes]


def test_one_thing_and_several() -> None:
    assert several(1, "line") == "1 line"
    assert several(2, "line") == "2 lines"
    assert several(0, "line") == "0 lines"
    assert several(2, "text") == "2 text"


def test_what_is_met_most_often_comes_first() -> None:
    counts = {f"k{n:02}": n for n in range(1, 23)}
    most, others, how_often = foremost(counts)
    assert most == [(f"k{n:02}", n) for n in range(3, 23)]
    assert (others, how_often) == (2, 3)


def test_a_drawing_without_oddities_has_no_notes() -> None:
    assert told() == []


@pytest.mark.parametrize(
    ("counts", "sort", "text"),
    [
        (
            {"wild": 2},
            "out of range",
            "2 lines left out: farther than 1e+07 mm, or no true numbers",
        ),
        ({"outside": 1}, "outside the page", "1 line outside the page or its clips"),
        ({"cut": 3}, "cut lines", "3 lines cut at the page's edge or a clip"),
        (
            {"edges": 1, "cut": 0},
            "clip edges",
            "lines run off 1 clip: outlines close regions",
        ),
    ],
)
def test_lines_left_out_or_cut_are_counted(
    counts: dict[str, int], sort: str, text: str
) -> None:
    assert [note[:2] for note in told(counts=counts)] == [(sort, text)]


def test_errors_in_paths_are_told_up_to_twenty() -> None:
    walk = walked()
    walk.line_shift = 3
    for k in range(22):
        walk.collector.add_item(0, 10 + k, f"path{k}")
        walk.collector.wrong.append((k, "ends early"))
    got = told(walk)
    assert len(got) == 21
    assert got[0] == (
        "error in path",
        "path0 in line 13 is drawn up to an error: ends early",
        "mend the path in the drawing",
    )
    assert got[19][1].startswith("path19 in line 32 ")
    assert got[20][1] == "2 more paths have errors"
    walk.collector.wrong = walk.collector.wrong[:20]
    assert len(told(walk)) == 20


def test_what_is_not_understood_is_told_at_its_first_place() -> None:
    walk = walked()
    walk.line_shift = 2
    walk.notes = {
        "has a filter": [("g", 5), ("path", 8), ("path", 9)],
        "has a mask": [("g", 6)],
    }
    assert [text for _, text, _ in told(walk)] == [
        "g in line 7 has a filter; so do 2 more",
        "g in line 8 has a mask",
    ]
    assert told(outside=["a.css", "b.png"])[0][1] == (
        "2 parts outside the file were not opened"
    )


def test_what_is_no_line_work_is_counted() -> None:
    walk = walked()
    walk.counts = {"text": 2, "image": 1}
    walk.thin = True
    walk.collector.contexts += [about(), about(gradient=True)]
    for k in (1, 0, 1):
        walk.collector.add_item(k, 1, "path")
    got = told(walk)
    assert got[0][1] == "not line work and left out: 1 image, 2 text"
    assert got[0][2] == "turn text into paths, if its outlines are wanted"
    assert got[1][1] == "lines of width 0 are not drawn, so they are left out"
    assert got[2][1] == (
        "2 shapes painted by a gradient or pattern: only the outline is used"
    )
    walk.counts, walk.thin = {"image": 2}, False
    assert told(walk)[0] == (
        "not line work", "not line work and left out: 2 images", "",
    )  # fmt: skip
    assert len(told(walk)) == 2


@pytest.mark.parametrize(
    ("has_page", "unit", "scale", "words"),
    [
        (False, "px", False, "the drawing states no page, so the box"),
        (False, "mm", False, None),
        (True, "px", False, "the drawing states no physical size; 1 px"),
        (True, "px", True, None),
    ],
)
def test_pages_and_sizes(
    has_page: bool, unit: str, scale: bool, words: str | None
) -> None:
    page = Page()
    page.has_page, page.unit, page.scale_known = has_page, unit, scale
    got = [text for _, text, _ in told(page=page)]
    assert len(got) == (words is not None)
    if words:
        assert got[0].startswith(words)
    page.doubt = "width 3 furlongs"
    assert told(page=page)[0][1] == "width 3 furlongs: not used"


def refused(selector: str, layers: list[str], classes: list[str]) -> str:
    choice = parse_choice((), (selector,), "auto")
    with pytest.raises(LineWorkError) as error:
        refuse_unknown(choice, layers, classes, "a.svg")
    return f"{error.value.what} / {error.value.mend}"


def test_selectors_that_name_nothing_are_refused() -> None:
    layers = ["frame", "stars", "starts", "guides"]
    assert refused("layer=start", layers, ["a"]) == (
        "the selector 'layer=start' names no layer of the drawing / did you mean "
        "starts? layers: starts, stars, frame, guides"
    )
    assert refused("class=zzz", layers, []).endswith("/ classes: none")
    # three that are near at most
    near = ["aab", "aac", "aad", "aae"]
    assert refused("layer=aaa", ["zz", *near], []).endswith(
        "did you mean aae? layers: aae, aad, aac, zz, aab"
    )
    many = [f"l{k:02}" for k in range(15)]
    assert refused("layer=qqqq", many, []).endswith("l10, l11 and 3 more")
    assert refused("layer=qqqq", many[:12], []).endswith("l10, l11")
    refuse_unknown(parse_choice(("layer=frame", "width<2"), (), "auto"), layers, [], "")


@pytest.mark.parametrize(
    ("counts", "what", "mend"),
    [
        ({}, "there are no lines in the drawing", "check that this is the file"),
        ({"outside": 1}, "the only line lies outside the page or", "enlarge the page"),
        ({"outside": 3, "wild": 1}, "all 3 lines lie outside the page", "enlarge"),
        ({"wild": 1}, "the only line lies too far out or has no true", "check the"),
        ({"wild": 2}, "all 2 lines lie too far out or have no true", "check the"),
    ],
)
def test_where_there_is_no_line(counts: dict[str, int], what: str, mend: str) -> None:
    error = no_lines("a.svg", walked(), counts)
    assert error.what.startswith(what)
    assert error.mend.startswith(mend)


def test_where_there_is_no_line_the_likely_reason_is_told() -> None:
    walk = walked()
    walk.notes = {"has a mask": [("g", 3)], "has a transform that is odd": [("p", 7)]}
    error = no_lines("a.svg", walk, {"outside": 2})
    assert error.what.endswith("p in line 7 has a transform that is odd")
    walk = walked()
    walk.thin = True
    assert "only such of width 0" in no_lines("a.svg", walk, {}).what
    walk.counts = {"block": 2}
    error = no_lines("a.svg", walk, {})
    assert error.what.endswith(", only 2 block")
    assert error.mend.startswith("take these apart")
    walk.counts = {"text": 2, "image": 1}
    error = no_lines("a.svg", walk, {})
    assert error.what.endswith(", only 1 image, 2 text")
    assert error.mend.startswith("turn text and pictures into paths")
    walk = walked()
    for odd, end in ((["a"], ": a"), (["a", "b", "c"], ": a, and 2 more")):
        walk.odd = odd
        error = no_lines("a.svg", walk, {})
        assert error.what.endswith(f"not understood{end}")
        assert error.mend == "mend what is named and save again"


def test_where_none_is_left_the_choice_is_named() -> None:
    styles = tuple((f"l{k}", f"#00000{k}", 0.2, False) for k in (*range(8), 3))
    styles = (*styles, (None, None, None, False))

    def left(n: int, lines: tuple[str, ...], hidden: bool) -> LineWorkError:
        choice = parse_choice(lines, (), "auto")
        return none_left("a.svg", n, styles, choice, "stroked", hidden=hidden)

    assert "under filled shapes" in left(0, (), False).what
    assert "under filled shapes" in left(4, ("width>9",), True).what
    error = left(4, ("width>9",), False)
    assert error.what == "none of the 4 lines is left by the selectors"
    assert error.mend == (
        "layers: l0, l1, l2, l3, l4, l5; colours: #000000, #000001, #000002, #000003, "
        "#000004, #000005"
    )
    assert left(4, (), False).what == "none of the 4 lines is of the sort 'stroked'"
    choice = Choice(leave=parse_choice(("width>9",), (), "auto").lines)
    error = none_left("a", 1, styles[-1:], choice, "both", hidden=False)
    assert error.mend == "layers: none; colours: "


def test_hidden_layers_are_named() -> None:
    layers = dict.fromkeys("gfedcba", 1)
    assert all_hidden("a.dxf", layers).what.endswith(": a, b, c, d, e, f")


def test_contexts_that_are_alike_are_one() -> None:
    walk = walked()
    assert [walk.context(about(width=w)) for w in (1.0, 2.0, 1.0)] == [0, 1, 0]
    assert len(walk.collector.contexts) == 2
    assert walk.unread == (0, 0)
    walk.names["b"] = walk.names["a"] = None
    assert walk.classes == ["b", "a"]
    assert walk.line_shift == 0
    assert not np.any(walk.collector.of_item)
