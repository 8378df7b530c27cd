"""Where drawing and key stand on a page: apart, within it, and as large as they can."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from fillwork.plans.settings import SheetSettings
from fillwork.renderers.sheets.key import KeyEntry, compose_foot_key, fill_key
from fillwork.renderers.sheets.pages import PageMaker
from fillwork.renderers.text.typeset import default_fonts

FONTS = default_fonts()
ENTRY = KeyEntry(0, "1", "Night", "#1f4e79", "", 3, 40.0, size="40 mm²")


def layout(size, count=0, *, scale=1.0, names=("numbered",), **settings):
    parts = SimpleNamespace(
        size=size,
        reach=size,
        real_scale=scale,
        entries=(ENTRY,) * count,
        settings=replace(SheetSettings(), **settings),
        fonts=FONTS,
        scale_known=True,
    )
    return PageMaker(parts, names).layout()


def wide(box):
    return box[2] - box[0]


def high(box):
    return box[3] - box[1]


def check(found, size, count):
    """Check what holds of every page; return the gap between drawing and key."""
    left, bottom, right, top = found.page.body
    # 10 mm are free about everything, and head and foot keep theirs
    assert (left, right) == (10.0, found.page.width - 10.0)
    assert bottom >= 10.0 + found.page.foot > 10.0
    assert top <= found.page.height - 10.0 - found.page.head < found.page.height - 10.0
    for box in (found.room, *([found.key] if found.key else [])):
        assert left <= box[0] < box[2] <= right + 1e-9
        assert bottom <= box[1] < box[3] <= top + 1e-9
    assert size[0] * found.scale <= wide(found.room) + 1e-6
    assert size[1] * found.scale <= high(found.room) + 1e-6
    if found.key is None:
        assert found.room == pytest.approx(found.page.body)
        return None
    if found.beside:
        assert found.key[2] == pytest.approx(right)
        assert (found.room[1], found.room[3]) == (found.key[1], found.key[3])
        return found.key[0] - found.room[2]
    assert found.key[1] == pytest.approx(bottom)
    assert (found.room[0], found.room[2]) == (found.key[0], found.key[2])
    return found.room[1] - found.key[3]


@pytest.mark.parametrize("count", [0, 1, 7, 30])
@pytest.mark.parametrize("size", [(160.0, 120.0), (60.0, 260.0), (900.0, 80.0)])
@pytest.mark.parametrize("paper", ["A4", "A3-landscape", "148x210"])
def test_a_drawing_fills_its_room_and_its_key_stands_apart(paper, size, count) -> None:
    found = layout(size, count, paper=paper, fit="page")
    gap = check(found, size, count)
    assert (
        gap == pytest.approx({True: 6.0, False: 4.0}[found.beside])
        if count
        else gap is None
    )
    # it cannot be larger
    ratio = (wide(found.room) / size[0], high(found.room) / size[1])
    assert found.scale == pytest.approx(min(ratio))
    if found.key is None:
        return
    if found.beside:
        assert wide(found.key) == 52.0
        _, rest = fill_key((ENTRY,) * count, found.key, FONTS)
    else:
        # rows of 6 mm, a third of the body at most
        rows = high(found.key) / 6.0
        assert rows == pytest.approx(round(rows))
        assert high(found.key) <= high(found.page.body) / 3 + 1e-6
        _, shown = compose_foot_key((ENTRY,) * count, found.key, FONTS)
        rest = (ENTRY,) * (count - shown)
    if count <= 7:
        assert len(rest) == 0


@pytest.mark.parametrize("count", [0, 1, 3, 9])
@pytest.mark.parametrize("size", [(50.0, 200.0), (160.0, 120.0), (20.0, 10.0)])
def test_a_page_of_its_own_is_as_large_as_drawing_and_key(size, count) -> None:
    found = layout(size, count, scale=2.0, paper="drawing")
    assert found.scale == 2.0
    gap = check(found, size, count)
    width, height = 2 * size[0], 2 * size[1]
    # title and foot have 130 mm at least
    if not count:
        assert wide(found.page.body) == pytest.approx(max(width, 130.0))
        assert high(found.page.body) == pytest.approx(height)
        return
    _, rest = fill_key((ENTRY,) * count, found.key, FONTS)
    assert rest == ()
    columns = int((wide(found.key) + 4) // 56)
    rows = high(found.key) // 12
    if found.beside:
        # columns of 52 mm with 4 mm between them, no more than are filled
        assert height >= 0.8 * width
        assert wide(found.key) == 56 * columns - 4
        assert (columns - 1) * rows < count
        assert high(found.page.body) == pytest.approx(
            max(height, 12 * min(count, rows))
        )
        body = width + 6 + wide(found.key)
        assert wide(found.page.body) == pytest.approx(max(body, 130.0))
        assert gap == 6.0
    else:
        assert height < 0.8 * width
        assert high(found.key) == 12 * -(-count // columns)
        assert wide(found.page.body) == pytest.approx(max(width, 130.0))
        assert high(found.page.body) == pytest.approx(height + 6 + high(found.key))
        assert gap == 6.0


def test_words_of_an_instruction_have_a_band_where_there_is_no_key() -> None:
    size, upright = (200.0, 100.0), "210x297"
    found = layout(size, names=("steps",), paper=upright, fit="page")
    assert check(found, size, 0) == pytest.approx(4.0)
    assert high(found.key) == pytest.approx(14.0)
    bare = layout(size, names=("blank",), paper=upright, fit="page")
    assert high(bare.room) == pytest.approx(high(found.room) + 18.0)


@pytest.mark.parametrize(
    ("width", "fit", "shown"),
    [
        # 190 mm of A4 are free across: as it is, reduced by a tenth at most, joined
        (190.0, "auto", 1.0),
        (210.0, "auto", 190 / 210),
        (212.0, "auto", None),
        (210.0, "true", None),
        (212.0, "page", 190 / 212),
    ],
)
def test_true_size_is_kept_where_a_tenth_would_not_do(width, fit, shown) -> None:
    # as high as wide, so that no paper turned about has more room; in landscape none
    found = layout((width, width), names=("blank",), paper="A4", fit=fit)
    assert found.scale == pytest.approx(shown or 1.0)
    assert (found.page is None) == (shown is None)
    told = [note.type for note in found.notes]
    assert told == (["reduced"] if fit == "auto" and shown not in (None, 1.0) else [])


@pytest.mark.parametrize(("longest", "told"), [(19.9, ["small on paper"]), (20.0, [])])
def test_a_drawing_that_is_next_to_nothing_on_its_paper_is_noted(longest, told) -> None:
    found = layout((longest / 2, longest / 4), scale=2.0, paper="A4", fit="auto")
    assert [note.type for note in found.notes] == told
