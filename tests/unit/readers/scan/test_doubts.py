"""What is told of a traced sheet, and when: small values in, doubts out."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.errors import LineWorkError
from fillwork.linework import LONE_END
from fillwork.readers.scan.check import draw_lines
from fillwork.readers.scan.gaps import Closing, add_line
from fillwork.readers.scan.inks import Inks
from fillwork.readers.scan.model import Choices, Drawing, Fork, Page
from fillwork.readers.scan.trace import (
    Doubt,
    _both_sides,
    _colour,
    _end_doubts,
    _fork_doubts,
    _gap,
    _ink_doubts,
    _lighter,
    _line_doubts,
    _lines,
    _other_lines,
    _region_doubts,
    _second,
    _sheet_doubts,
    _take_ink,
    _told_once,
)

SCALE = 10.0
WIDTH = 6.0


def page(
    shape: tuple[int, int] = (400, 400), of: int = 240, *, corners: bool = False
) -> Page:
    rgb = np.full((*shape, 3), of, np.uint8)
    size = shape[1] / SCALE, shape[0] / SCALE
    return Page(rgb, SCALE, size, ((0.0, 0.0),) * 4 if corners else (), True)


@pytest.mark.parametrize(
    ("size", "straight", "weighs"),
    [(1.1, False, False), (1.3, False, True), (2.1, True, False), (2.3, True, True)],
)
def test_a_gap_weighs_by_its_size(size: float, straight: bool, weighs: bool) -> None:
    told = _gap(Closing(np.array([30.0, 40.0]), size * SCALE, straight), SCALE)
    assert told.what == "a gap that was closed"
    assert told.size == pytest.approx(size)
    assert told.at == (30.0, 40.0)
    assert told.weighs == weighs


def test_an_end_that_stays_open_weighs() -> None:
    told = _gap(Closing(np.array([30.0, 40.0]), 0.0), SCALE)
    assert (told.what, told.size, told.weighs) == (LONE_END, 0.0, True)


def test_a_doubt_is_told_once_a_place_and_not_where_somebody_looked() -> None:
    def doubt(x: float, y: float, what: str = "a") -> Doubt:
        return Doubt((x, y), what, 0.0, "", True)

    # two millimetres are 20 px, across and up together
    some = [doubt(0, 0), doubt(12, 7), doubt(12, 9), doubt(12, 7, "b")]
    told = _told_once(some, [], SCALE)
    assert told == (some[0], some[2], some[3])
    # of places that somebody looked at none of any sort
    assert _told_once(some, [(5.0, 5.0)], SCALE) == ()
    assert _told_once(some, [(60.0, 5.0)], SCALE) == told


@pytest.mark.parametrize("light", [True, False])
def test_inks_on_both_sides_of_the_paper_are_named(light: bool) -> None:
    told = _both_sides(light, page())
    first, second = ("lighter", "darker") if light else ("darker", "lighter")
    assert f"lines {first} than the paper were read" in told.what
    assert f"what is {second} was left out" in told.what
    assert told.weighs
    assert told.at == (200.0, 200.0)
    # darkness 0.2 of red is 204 of 255 on light paper, 51 on dark
    dark = np.array([0.2, 1.0, 0.0])
    assert _colour(dark, light) == ("#33ff00" if light else "#cc00ff")


@pytest.mark.parametrize("taken", [True, False])
def test_lighter_lines_weigh_where_they_were_left(taken: bool) -> None:
    told = _lighter((3.0, 4.0), taken)
    assert told.weighs is not taken
    assert ("with them" in told.what) == taken
    assert ("for pencil" in told.what) is not taken


def inks(**more: object) -> Inks:
    empty = np.zeros((400, 400), bool)
    return Inks(np.zeros((400, 400), np.float32), empty, None, 0.9, **more)  # type: ignore[arg-type]


def test_doubts_about_inks() -> None:
    assert _ink_doubts(inks(doubtful=False), page(), None) == []
    (hard,) = _ink_doubts(inks(doubtful=True), page(), None)
    assert hard.what == "ink and pencil are hard to tell apart"
    assert hard.weighs
    # lines of a second pen were taken: then that is told, once, and does not weigh
    (other,) = _ink_doubts(inks(doubtful=True), page(), (5.0, 6.0))
    assert other.at == (5.0, 6.0)
    assert not other.weighs
    hidden = (((50.0, 60.0), 120.0),)
    paint, _ = _ink_doubts(inks(doubtful=True, hidden=hidden), page(), None)
    assert "paint as dark as the pen" in paint.what
    assert paint.size == pytest.approx(12.0)
    assert _second(inks(doubtful=False), Drawing([], [], WIDTH)) == []


@pytest.mark.parametrize(
    ("about", "words", "weighs"),
    [
        ({"bow": 0.9}, None, False),
        ({"bow": 1.1}, "does not lie flat", False),
        ({"bow": 2.9}, "does not lie flat", False),
        ({"bow": 3.1}, "does not lie flat", True),
        ({"torn": True}, "torn or covered", True),
        ({"torn": True, "borne_out": True}, "torn or covered", False),
        ({"faint": True}, "hardly told from its ground", True),
        ({"faint": True, "borne_out": True}, "hardly told from its ground", False),
        ({"edgeless": True, "borne_out": True}, "edges were not found", True),
    ],
)
def test_doubts_about_the_sheet(
    about: dict[str, object], words: str | None, weighs: bool
) -> None:
    rgb = np.full((40, 30, 3), 240, np.uint8)
    told = _sheet_doubts(Page(rgb, 0.2, (148.0, 210.0), (), True, **about))  # type: ignore[arg-type]
    assert len(told) == (words is not None)
    for doubt in told:
        assert words in doubt.what
        assert doubt.weighs == weighs


def test_ends_left_open_are_told_by_sort() -> None:
    some = [((1.0, 2.0), 5.0)], [((3.0, 4.0), 6.0)], [((5.0, 6.0), 7.0)]
    told = _end_doubts(*some, SCALE)
    assert [d.at for d in told] == [(1.0, 2.0), (3.0, 4.0), (5.0, 6.0)]
    assert [d.size for d in told] == pytest.approx([0.5, 0.6, 0.7])
    assert ["rims" in d.what for d in told] == [True, False, False]
    assert ["stops before the next" in d.what for d in told] == [False, True, False]
    assert all(d.weighs for d in told)


def square(*more: tuple[float, float, float, float]) -> Drawing:
    drawing = Drawing([], [], WIDTH)
    corners = [(100.0, 100.0), (300.0, 100.0), (300.0, 300.0), (100.0, 300.0)]
    for (a, b), (c, d) in zip(corners, corners[1:] + corners[:1], strict=True):
        add_line(drawing, np.array([a, b]), np.array([c, d]))
    for a, b, c, d in more:
        add_line(drawing, np.array([a, b]), np.array([c, d]))
    return drawing


def pixels(drawing: Drawing, width: float = WIDTH) -> np.ndarray:
    lines = [np.array([drawing.vertices[v] for v in p.tips]) for p in drawing.pieces]
    return draw_lines(lines, (400, 400), width)


BAR = (200.0, 100.0, 200.0, 300.0)


def test_lines_and_ink_are_held_against_each_other() -> None:
    both, bare = square(BAR), square()
    fitted = pixels(both, 5), pixels(bare, 5)
    # the same
    assert _line_doubts(pixels(both), fitted[0], both, 5, 0.5, SCALE) == []
    assert _region_doubts(pixels(both), fitted[0], both, 5, SCALE) == []
    # a line over paper: half of its 200 px, less what its ends share with the frame
    (told,) = _line_doubts(pixels(bare), fitted[0], both, 5, 0.5, SCALE)
    assert told.what == "a line where there is no ink"
    assert told.size == pytest.approx(20.0, rel=0.1)
    # one that closes a gap needs none
    assert _line_doubts(pixels(bare), fitted[0], both, 4, 0.5, SCALE) == []
    assert _region_doubts(pixels(bare), fitted[0], both, 4, SCALE) == []
    # ink without a line, and two regions where lines have one
    (left,) = _line_doubts(pixels(both), fitted[1], bare, 4, 0.5, SCALE)
    assert left.what == "ink that no line follows"
    assert left.size == pytest.approx(20.0, rel=0.1)
    regions = _region_doubts(pixels(both), fitted[1], bare, 4, SCALE)
    assert len(regions) == 3
    areas = sorted(d.size for d in regions)
    assert areas == pytest.approx([np.sqrt(9.4 * 19.4)] * 2 + [19.4], rel=0.05)


@pytest.mark.parametrize(
    ("inked", "tips", "taken", "idle"),
    [
        # straight ink is taken as a line whatever is said
        ((), BAR, True, 0),
        (((20.0, 20.0),), BAR, True, 0),
        # a place within two millimetres of it, or none
        (((20.0, 22.5),), BAR, True, 0),
        (((5.0, 5.0),), BAR, True, 1),
    ],
)
def test_ink_that_was_left_becomes_a_line(
    inked: tuple, tips: tuple, taken: bool, idle: int
) -> None:
    bare = square()
    found = _take_ink(pixels(square(tips)), bare, 0.5, Choices(inked=inked), page())
    assert len(bare.pieces) == 4 + taken
    assert len(found) == idle
    if taken:
        ends = np.sort([bare.vertices[v][1] for v in bare.pieces[-1].tips])
        assert ends == pytest.approx([105.0, 295.0], abs=4.0)


@pytest.mark.parametrize(("side", "weighs"), [(7, False), (9, True)])
def test_a_hidden_tip_weighs_where_its_region_is_seen(side: int, weighs: bool) -> None:
    # 0.6 mm² are 60 px²
    ink = np.ones((200, 200), bool)
    ink[50 : 50 + side, 50 : 50 + side] = False
    drawing = Drawing([], [], WIDTH)
    way = np.array([1.0, 1.0]) / np.sqrt(2)
    drawing.forks.append(Fork(np.array([46.0, 46.0]), way, 80.0))
    (told,) = _fork_doubts(ink, drawing, SCALE)
    assert told.weighs == weighs
    assert told.size == pytest.approx(side / SCALE)


def traced(mask: np.ndarray, on: Page | None = None) -> Drawing:
    strength = Inks(mask.astype(np.float32), mask, None, 1.0, False)
    return _lines(strength, mask, on or page(), "x")[1]


def test_ink_becomes_lines_with_how_far_a_hand_strays() -> None:
    drawing = traced(pixels(square(BAR)))
    assert len(drawing.pieces) == 5
    assert drawing.width == pytest.approx(WIDTH, abs=0.6)
    # a pen of three pixels is enough
    assert len(traced(pixels(square(), 3)).pieces) == 4
    # along the rim of a sheet that was photographed the table shows, a millimetre
    mask = pixels(square())
    mask[:10, 50:350] = True
    assert len(traced(mask).pieces) > len(traced(mask, page(corners=True)).pieces) == 4
    mask[:12, 50:350] = True
    assert len(traced(mask, page(corners=True)).pieces) > 4


@pytest.mark.parametrize(
    ("mask", "of", "words"),
    [
        (np.zeros((400, 400), bool), 240, "no inked lines"),
        (np.zeros((400, 400), bool), 52, "no inked lines"),
        # paper of less than 50 of 255
        (np.zeros((400, 400), bool), 48, "too dark"),
        (np.arange(400)[:, None] % 20 < np.full(400, 11), 240, "55 % of the sheet"),
        (pixels(square(), 2), 240, "too thin"),
    ],
)
def test_what_is_no_line_drawing_is_refused(
    mask: np.ndarray, of: int, words: str
) -> None:
    with pytest.raises(LineWorkError, match=words):
        traced(mask, page(of=of))
    # of another ink there is then nothing
    other = Inks(mask.astype(np.float32), mask, mask, 1.0, False)
    assert _other_lines(other, page(of=of), "x") is None
    assert _other_lines(inks(doubtful=False), page(), "x") is None
