"""Colourways side by side: equal cells, each with its strip and its words under it."""

from __future__ import annotations

import itertools
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.renderers.contact import ContactCell, compose_contact, repeat_window
from fillwork.renderers.scene import Fills, Placed, Scene, Text
from fillwork.renderers.text.typeset import default_fonts

FONTS = default_fonts()
STRIP = (("#102030", "#1f1f1f", 0.2, "1"), ("#a0b0c0", "#afafaf", 0.6, "2"))
MEASURES = (("contrast", "12.5"), ("lightness", "40"), ("area", "3 m²"), ("more", "x"))


def cells(count: int, size=(60.0, 40.0), words: str = "", strip=STRIP):
    return [
        ContactCell(f"Way {k}", Scene(*size, ()), strip, MEASURES, words)
        for k in range(count)
    ]


def boxes(page: Scene) -> np.ndarray:
    """Return where pictures are shown, each (left, bottom, right, top)."""
    return np.array([i.clip for i in page.items if isinstance(i, Placed)])


def texts(page: Scene) -> list[Text]:
    return [i for i in page.items if isinstance(i, Text)]


def fills(page: Scene) -> list[tuple[str, np.ndarray]]:
    """Return the colour and the box of each filled rectangle."""
    found = []
    for item in page.items:
        if isinstance(item, Fills):
            at = item.shapes.pieces.starts()
            found.append((item.colour, np.r_[at.min(axis=0), at.max(axis=0)]))
    return found


@pytest.mark.parametrize("count", [1, 3, 7, 25])
@pytest.mark.parametrize("size", [(60.0, 40.0), (40.0, 90.0), (200.0, 20.0)])
def test_cells_are_alike_and_apart_and_each_is_shown_once(count, size) -> None:
    words = "Two of them change places where the pattern is turned by a quarter."
    pages = compose_contact(cells(count, size, words), title="Panel")
    names = [t.text for page in pages for t in texts(page) if "Way" in t.text]
    assert names == [f"{k + 1}  Way {k}" for k in range(count)]
    sizes = set()
    for page in pages:
        shown = boxes(page)
        sizes |= {tuple(np.round(b[2:] - b[:2], 6)) for b in shown}
        where = shapely.box(*shown.T)
        for a, b in itertools.combinations(where, 2):
            assert a.distance(b) >= 8.0 - 1e-6
        # under each picture its strip, and under that its words
        for box in shown:
            mine = [t for t in texts(page) if box[0] - 1e-6 <= t.at[0] <= box[2] + 1e-6]
            below = [t for t in mine if t.at[1] < box[1]]
            above = [t for t in mine if t.at[1] >= box[1] - 1e-6]
            inside = [t for t in above if t.at[1] < box[3]]
            assert not inside
            first = max(t.at[1] for t in below)
            # 2 mm free, strips of 6 and 3 mm, and letters of 9 pt under them
            assert first == pytest.approx(box[1] - 2 - 6 - 3 - 4.6)
        assert (shown[:, :2] >= 10.0 - 1e-6).all()
        assert (shown[:, 2] <= page.width - 10.0 + 1e-6).all()
        lowest = min(t.at[1] for t in texts(page) if t.size == 7)
        assert lowest > 5.0
    (one,) = sizes
    assert one[0] / one[1] == pytest.approx(size[0] / size[1], rel=1e-4)
    if len(pages) > 1:
        assert f"page 1 of {len(pages)}" in " ".join(t.text for t in texts(pages[0]))


def test_pictures_are_at_the_scale_of_their_cells_and_show_the_window() -> None:
    window = (10.0, 5.0, 30.0, 25.0)
    (page,) = compose_contact(cells(3), title="Panel", window=window)
    for item in page.items:
        if isinstance(item, Placed):
            a, b, c, d, e, f = item.map
            assert (b, c) == (0.0, 0.0)
            assert a == pytest.approx(d)
            left, bottom, right, top = item.clip
            assert [a * 10 + e, d * 5 + f] == pytest.approx([left, bottom])
            assert [a * 30 + e, d * 25 + f] == pytest.approx([right, top])


def test_strips_show_shares_over_their_greys() -> None:
    (page,) = compose_contact(cells(1), title="Panel")
    (left, bottom, right, _), found = boxes(page)[0], dict(fills(page))
    wide = right - left
    # shares of 2 and 6 of 8 parts
    for (colour, grey, *_), first, last in zip(
        STRIP, (0, 0.25), (0.25, 1), strict=True
    ):
        across = [left + first * wide, left + last * wide]
        for name, low, high in ((colour, 8, 2), (grey, 11, 8)):
            box = found[name]
            assert [box[0], box[2]] == pytest.approx(across)
            assert [box[1], box[3]] == pytest.approx([bottom - low, bottom - high])
    plain = compose_contact(cells(1, strip=()), title="Panel")[0]
    assert len(fills(plain)) < len(fills(page))


def test_three_measures_stand_in_rows_and_words_go_on_below() -> None:
    words = "word " * 200
    (page,) = compose_contact(cells(2, words=words), title="Panel")
    box = boxes(page)[0]
    mine = [t for t in texts(page) if box[0] - 1e-6 <= t.at[0] <= box[2] + 1e-6]
    rows = {t.text: t for t in mine}
    base = rows["1  Way 0"].at[1]
    for k, (what, value) in enumerate(MEASURES[:3]):
        assert (
            rows[what].at[1] == rows[value].at[1] == pytest.approx(base - 3.8 - 3.4 * k)
        )
        assert rows[value].at[0] == pytest.approx(box[2])
        assert rows[value].align == "right"
    assert "more" not in rows
    said = sorted((t for t in mine if "word word" in t.text), key=lambda t: -t.at[1])
    # four lines, the last cut with a sign
    assert len(said) == 4
    assert said[-1].text.endswith("…")
    assert [t.at[1] for t in said] == pytest.approx(
        [base - 3.8 - 3.4 * (3 + k) for k in range(4)]
    )
    assert all(FONTS.width(t.text, 7) <= box[2] - box[0] + 1e-6 for t in said)


def test_one_page_holds_as_many_as_its_columns_allow() -> None:
    many = cells(24)
    assert len(compose_contact(many, title="Panel", columns=(3, 8), one_page=True)) == 1
    assert len(compose_contact(many, title="Panel", columns=(3,))) > 1
    plain = compose_contact(cells(2), title="Panel", numbered=False)
    assert [t.text for t in texts(plain[0]) if "Way" in t.text] == ["Way 0", "Way 1"]


def orbits(*bases):
    return SimpleNamespace(
        zones=tuple(
            SimpleNamespace(
                symmetry=SimpleNamespace(
                    lattice=None if b is None else SimpleNamespace(basis=np.array(b))
                )
            )
            for b in bases
        )
    )


SQUARE, SKEW = [[10.0, 0.0], [0.0, 10.0]], [[10.0, 0.0], [5.0, 8.0]]


def test_a_window_shows_some_repeats_about_the_middle() -> None:
    # 2.2 repeats of 10 mm each way; of a lattice on the skew as far as both shifts go
    assert repeat_window(100, 60, orbits(SQUARE)) == pytest.approx((39, 19, 61, 41))
    assert repeat_window(100, 60, orbits(SKEW)) == pytest.approx(
        (33.5, 13.5, 66.5, 46.5)
    )
    assert repeat_window(100, 60, orbits(SQUARE), 1.0) == pytest.approx(
        (45, 25, 55, 35)
    )
    # the whole where that is not much more, or does not repeat both ways, or in parts
    assert repeat_window(100, 27.5, orbits(SQUARE)) is None
    assert repeat_window(100, 27.6, orbits(SQUARE)) is not None
    for other in (orbits(None), orbits([[10.0, 0.0]]), orbits(SQUARE, SQUARE)):
        assert repeat_window(100, 60, other) is None
