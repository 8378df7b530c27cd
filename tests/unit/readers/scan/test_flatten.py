"""The sheet laid flat: what size it gets, at which resolution, and from where."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.errors import ReadError
from fillwork.readers.scan import flatten
from fillwork.readers.scan.flatten import (
    _homography,
    _is_whole_scan,
    _lying,
    _mesh,
    _named,
    _size,
    _turned,
    _whole,
    flatten_sheet,
    sheet_proportion,
)
from fillwork.readers.scan.lens import Bend
from fillwork.readers.scan.model import Choices
from fillwork.readers.scan.picture import Picture
from fillwork.readers.scan.sheet import Outline
from tests.unit.readers.scan.test_sheet import SIZE, seen


def picture(
    width: int, height: int, dpi: float | None = None, shrunk: int = 1,
    camera: bool = False,
) -> Picture:  # fmt: skip
    rgb = np.full((height, width, 3), 240, np.uint8)
    return Picture(rgb, dpi, shrunk, 1, camera)


def corners(width: float, height: float, off: float = 100.0) -> np.ndarray:
    return off + np.array([[0, 0], [width, 0], [width, height], [0, height]])


@pytest.mark.parametrize(
    ("dpi", "scale"),
    [
        # finer than 300 dpi is made 300; all but that stays: 0.93 of 322
        (600.0, 300 / 25.4),
        (320.0, 320 / 25.4),
        (325.0, 300 / 25.4),
        (150.0, 150 / 25.4),
    ],
)
def test_a_scan_keeps_its_size_and_a_resolution_that_is_enough(
    dpi: float, scale: float
) -> None:
    page = _whole(picture(1200, 900, dpi), Choices())
    assert page.size == pytest.approx((1200 / dpi * 25.4, 900 / dpi * 25.4))
    assert page.scale == pytest.approx(scale, rel=0.002)
    assert page.scale_known
    assert not page.edgeless
    assert page.rgb.shape[1] == pytest.approx(page.size[0] * page.scale)


def test_of_a_scan_what_is_said_goes_before_what_its_file_says() -> None:
    # a picture made half as large in reading has half of the dpi that were said
    page = _whole(picture(1200, 900, 100.0, shrunk=2), Choices(dpi=400.0))
    assert page.size[0] == pytest.approx(1200 / 200 * 25.4)
    # as wide as was said, the longer side across; its edges were cut off, or more is in
    # view, where the other side is 3 % off
    for wide, edgeless in ((1230, False), (1240, True), (1170, False), (1160, True)):
        page = _whole(picture(wide, 900, 100.0), Choices(sheet_size=(90.0, 120.0)))
        assert page.size == pytest.approx((120.0, 120.0 * 900 / wide))
        assert page.edgeless == edgeless
    # of unknown size, A4
    page = _whole(picture(600, 900), Choices())
    assert page.size == pytest.approx((198.0, 297.0))
    assert not page.scale_known
    assert _whole(picture(600, 900, camera=True), Choices()).edgeless


def test_a_scan_of_too_many_pixels_is_made_smaller(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # as if a hundred times fewer could be worked on
    monkeypatch.setattr(flatten, "_MOST_PIXELS", 200_000)
    page = _whole(picture(700, 400), Choices())
    assert page.rgb.shape[0] * page.rgb.shape[1] == pytest.approx(2e5, rel=0.01)
    assert page.size == pytest.approx((297.0, 297.0 * 4 / 7))


@pytest.mark.parametrize(
    ("side", "refused"), [(39 / 300 * 25.4, True), (42 / 300 * 25.4, False)]
)
def test_less_than_forty_pixels_of_sheet_are_too_few(
    side: float, refused: bool
) -> None:
    choices = Choices(sheet_size=(side, 20.0), corners=((0, 0), (800, 0), (800, 600),
                                                        (0, 600)))  # fmt: skip
    if refused:
        with pytest.raises(ReadError, match="too little for lines"):
            flatten_sheet(picture(800, 600), choices, "x")
    else:
        assert min(flatten_sheet(picture(800, 600), choices, "x").rgb.shape[:2]) >= 40


@pytest.mark.parametrize(
    ("across", "scale"),
    # of 80 mm 400 px are 127 dpi, laid at 170; 640 are 203; 1600 are 508, laid at 300
    [(400, 170 / 25.4), (640, 640 / 80), (1600, 300 / 25.4)],
)
def test_a_photograph_is_laid_out_about_as_fine_as_it_is(
    across: int, scale: float
) -> None:
    high = across * 3 // 4
    named = tuple((float(x), float(y)) for x, y in corners(across, high, 10.0))
    shot = picture(across + 20, high + 20)
    shot.rgb[10 + high // 2 :, 10 + across // 2 :] = 60
    page = flatten_sheet(shot, Choices(sheet_size=(60.0, 80.0), corners=named), "x")
    assert page.scale == pytest.approx(scale, rel=0.003)
    assert page.size == (80.0, 60.0)
    assert np.array(page.corners) == pytest.approx(np.array(named))
    assert page.scale_known
    # its right lower quarter is dark
    high, across = (n // 2 for n in page.rgb.shape[:2])
    assert page.rgb[high + 3, across + 3, 0] == 60
    assert page.rgb[high - 3, across + 3, 0] == page.rgb[high + 3, across - 3, 0] == 240


def test_corners_named_go_round_clockwise_and_lie_in_the_picture() -> None:
    good = [(0.0, 0.0), (400.0, 10.0), (390.0, 300.0), (5.0, 290.0)]
    assert _named(tuple(good), (400, 300), 1, "x") == pytest.approx(np.array(good))
    # of a picture read at half its size
    assert _named(tuple(good), (200, 150), 2, "x") == pytest.approx(np.array(good) / 2)
    # a fiftieth of the longer side beyond it, 8 px, is a slip of the hand
    assert len(_named(((-7.0, 0.0), *good[1:]), (400, 300), 1, "x")) == 4
    for wrong in (
        ((-9.0, 0.0), *good[1:]),
        (*good[:2], (390.0, 309.0), good[3]),
        good[::-1],
        [good[0], good[2], good[1], good[3]],
        [good[0], good[1], good[0], good[3]],
        # three in a line but for a hair
        [good[0], (200.0, 0.2), (400.0, 0.0), good[3]],
    ):
        with pytest.raises(ReadError, match="are no sheet"):
            _named(tuple(wrong), (400, 300), 1, "x")


@pytest.mark.parametrize(
    ("page", "size"),
    [
        # within a hundredth of A4 and of letter, known from two tilts
        ((210.0, 298.5), (210.0, 297.0)),
        ((215.9, 281.5), (215.9, 279.4)),
        # else as it is seen, its longer side a common one
        ((210.0, 302.0), (None, 297.0)),
        ((200.0, 200.0), (None, 279.4)),
    ],
)
def test_a_sheet_has_a_common_size_where_it_has_its_shape(
    page: tuple[float, float], size: tuple[float | None, float]
) -> None:
    round_it = seen(page, (9.0, 6.0))
    got, known = _size(round_it, picture(*SIZE), Choices(), None)
    assert not known
    assert max(got) == pytest.approx(size[1])
    want = size[0] or size[1] * min(page) / max(page)
    assert min(got) == pytest.approx(want, rel=0.003)


@pytest.mark.parametrize(
    ("tilt", "known"),
    # seen from 260 mm, sides of 148 mm that slant by t are nearer at one end by
    # 148 sin t / 260, of 2 degrees 0.02, those of 210 mm of 1.4 degrees: none of both
    # shows the eye's distance and need not, or both do, or one alone does not
    [
        ((0.0, 1.6), True), ((0.0, 2.4), False), ((1.1, 0.0), True),
        ((1.8, 0.0), False), ((4.0, 1.6), False), ((4.0, 2.4), True),
    ],
)  # fmt: skip
def test_one_slant_alone_makes_the_proportion_a_guess(
    tilt: tuple[float, float], known: bool
) -> None:
    assert sheet_proportion(seen((148.0, 210.0), tilt), SIZE)[1] == known


@pytest.mark.parametrize(("high", "size"), [(303.0, 297 / 210), (309.0, 309 / 210)])
def test_a_guess_is_a_common_size_within_three_hundredths(
    high: float, size: float
) -> None:
    # two or four hundredths off A4, by a camera as telephones have: 0.72 of 1200 px
    round_it = seen((210.0, high), (0.0, 20.0))
    found, known = sheet_proportion(round_it, SIZE)
    assert not known
    assert found == pytest.approx(210 / high, rel=0.002)
    got = _size(round_it, picture(*SIZE), Choices(), None)[0]
    assert max(got) / min(got) == pytest.approx(size, rel=0.002)


def test_a_named_size_lies_as_the_sheet_does() -> None:
    assert _lying((210.0, 297.0), True) == (297.0, 210.0)
    assert _lying((297.0, 210.0), False) == (210.0, 297.0)
    choices = Choices(sheet_size=(148.0, 210.0))
    lying = _size(seen((210.0, 148.0), (9, 6)), picture(*SIZE), choices, None)
    assert lying == ((210.0, 148.0), True)
    # a side that was torn off, here a tenth, says nothing of the one across it
    for torn, page, want in (
        (3, (133.0, 210.0), (133.0, 210.0)),
        (1, (133.0, 210.0), (133.0, 210.0)),
        (0, (148.0, 189.0), (148.0, 189.0)),
        (2, (148.0, 206.5), (148.0, 210.0)),
    ):
        got, known = _size(seen(page, (9, 6)), picture(*SIZE), choices, torn)
        assert known
        assert got == pytest.approx(want, rel=0.005)


def test_four_places_are_carried_onto_four_others() -> None:
    here, there = corners(200, 100, 0.0), seen((148.0, 210.0), (9, 6))
    h = _homography(here, there)
    for (x, y), want in zip(here, there, strict=True):
        low = h[6] * x + h[7] * y + 1
        got = (h[:6].reshape(2, 3) @ [x, y, 1]) / low
        assert got == pytest.approx(want)


@pytest.mark.parametrize("lens", [0.0, 0.04])
def test_a_mesh_of_small_boxes_follows_the_bend(lens: float) -> None:
    there, middle = corners(800, 600), np.array([450.0, 380.0])
    bows = (np.array([9.0, 0.0, 0.0]), np.zeros(3), np.zeros(3), np.zeros(3))
    bend = Bend(middle, 600.0, lens, there, bows)
    boxes = _mesh(_homography(corners(400, 300, 0.0), there), bend, (400, 300))
    # boxes of 48 px fill the page: 9 by 7, the last ones narrower
    assert len(boxes) == 9 * 7
    assert boxes[0][0] == (0, 0, 48, 48)
    assert boxes[-1][0] == (384, 288, 400, 300)
    for (left, top, right, low), four in boxes:
        around = (left, top), (left, low), (right, low), (right, top)
        for (x, y), at in zip(around, np.reshape(four, (4, 2)), strict=True):
            # the upper side bends inward by 9 px in its middle, fading to the lower
            s = x / 400
            down = 4 * s * (1 - s) * 9.0 * (1 - y / 300)
            flat = np.array([[100 + 2 * x, 100 + 2 * y + down]])
            assert at == pytest.approx(bend.seen(flat)[0], abs=1e-6)
    # upper left, lower left, lower right, upper right
    if not lens:
        assert boxes[-1][1][2] == pytest.approx(boxes[-1][1][0])
        assert boxes[-1][1][3] > boxes[-1][1][1]


def test_corners_that_a_turn_opens_are_paper() -> None:
    rgb = np.full((200, 300, 3), (240, 230, 220), np.uint8)
    rgb[90:110] = 20
    turned = _turned(rgb, 2.0)
    assert turned.shape == rgb.shape
    assert turned[0, 0].tolist() == [240, 230, 220]
    # counter-clockwise as one sees it: what lay level is higher on the right
    rows = [np.flatnonzero(turned[:, x, 0] < 100).mean() for x in (10, 290)]
    assert rows[0] - rows[1] == pytest.approx(280 * np.tan(np.radians(2.0)), abs=1.0)


@pytest.mark.parametrize(
    ("size", "dpi", "camera", "whole"),
    [
        # a sheet of 105 by 148 mm at 254 dpi has 1050 by 1480 px, lying or standing
        ((105.0, 148.0), 254.0, False, True),
        ((148.0, 105.0), 254.0, False, True),
        # 0.9 and 1.1 % too large
        ((104.06, 146.68), 254.0, False, True),
        ((103.86, 146.39), 254.0, False, False),
        # one way alone
        ((105.0, 140.0), 254.0, False, False),
        (None, 254.0, False, False),
        ((105.0, 148.0), None, False, False),
        ((105.0, 148.0), 254.0, True, False),
    ],
)
def test_a_scan_of_the_size_named_shows_the_sheet_and_nothing_else(
    size: tuple[float, float] | None, dpi: float | None, camera: bool, whole: bool
) -> None:
    shown = picture(1050, 1480, dpi, camera=camera)
    assert _is_whole_scan(shown, Choices(sheet_size=size)) is whole


def test_of_such_a_scan_no_edge_is_looked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    # on grainy paper a frame that is drawn was taken for it
    frame = Outline(corners(900, 1300, 70.0), (np.empty((0, 2)),) * 4)
    monkeypatch.setattr(flatten, "find_outline", lambda *_: frame)
    page = flatten_sheet(
        picture(1050, 1480, 254.0), Choices(sheet_size=(105.0, 148.0)), "a.png"
    )
    assert page.size == pytest.approx((105.0, 148.0))
    assert page.rgb.shape[:2] == (1480, 1050)
