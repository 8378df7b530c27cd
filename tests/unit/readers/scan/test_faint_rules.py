"""A sheet on a ground as bright: what steps, and by how much, on small pictures."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy.special import ndtr

from fillwork.readers.scan.faint import _stepped, _steps, faint_outline

SHEET = np.array([[60.0, 50.0], [340.0, 50.0], [340.0, 350.0], [60.0, 350.0]])


def on_table(
    step: float, *, line: int = 0, sheet: np.ndarray = SHEET, gap: float = 0.0
) -> np.ndarray:
    """A sheet of 230 on a table so much darker, as a share, with a line across it.

    `gap`: of each side, from its first corner on, where the table is as bright.
    """
    image = Image.new("L", (400, 400), 0)
    ImageDraw.Draw(image).polygon([tuple(c) for c in sheet], fill=1)
    inside = np.asarray(image) > 0
    grey = np.where(inside, 230.0, 230.0 * (1 - step))
    # in all directions beyond the first part of each side
    pen = Image.new("L", (400, 400), 0)
    for a, b in zip(sheet, np.roll(sheet, -1, 0), strict=True):
        way = (b - a) / np.hypot(*(b - a))
        out = np.array([way[1], -way[0]])
        box = [a, a + gap * (b - a), a + gap * (b - a) + 30 * out, a + 30 * out]
        ImageDraw.Draw(pen).polygon([tuple(c) for c in box], fill=1)
    if gap:
        grey[(np.asarray(pen) > 0) & ~inside] = 230.0
    if line:
        grey[190 : 190 + line, 100:300] = 30.0
    grey += np.random.default_rng(1).normal(0.0, 0.3, grey.shape)
    return np.repeat(np.clip(np.rint(grey), 0, 255).astype(np.uint8)[..., None], 3, 2)


@pytest.mark.parametrize(
    ("rgb", "found"),
    [
        # steps of two hundredths are plain, of more than a quarter no table's
        (on_table(0.03), True),
        (on_table(-0.03), True),
        (on_table(0.004), False),
        (on_table(0.2), True),
        (on_table(0.24), False),
        # lines up to a closing of 13 px are none of the paper's steps
        (on_table(0.03, line=8), True),
        # each side is seen along 0.65 of its length
        (on_table(0.03, gap=0.25), True),
        (on_table(0.03, gap=0.45), False),
    ],
)
def test_a_sheet_is_told_by_the_steps_along_its_sides(
    rgb: np.ndarray, found: bool
) -> None:
    outline = faint_outline(rgb)
    assert (outline is not None) == found
    if outline is not None:
        assert outline.faint
        # pixels' rims
        want = SHEET + np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
        assert outline.corners == pytest.approx(want, abs=1.5)


@pytest.mark.parametrize(
    ("outer", "inner", "taken"),
    # of 280 by 300 px and 340 by 340 that one is the sheet which is plain, 0.02, before
    # the larger
    [(0.011, 0.03, "inner"), (0.026, 0.045, "outer")],
)
def test_a_plain_sheet_goes_before_a_larger_faint_one(
    outer: float, inner: float, taken: str
) -> None:
    grey = np.full((400, 400), 230 * (1 - outer) * (1 - inner))
    grey[30:370, 30:370] = 230 * (1 - inner)
    grey[50:350, 60:340] = 230.0
    grey += np.random.default_rng(4).normal(0.0, 0.3, grey.shape)
    rgb = np.repeat(np.rint(grey).astype(np.uint8)[..., None], 3, 2)
    found = faint_outline(rgb)
    assert found is not None
    left = 60.0 if taken == "inner" else 30.0
    assert found.corners[0, 0] == pytest.approx(left, abs=1.5)


@pytest.mark.parametrize(("side", "found"), [(125.0, False), (160.0, True)])
def test_a_faint_sheet_takes_an_eighth_of_the_picture(side: float, found: bool) -> None:
    # 0.12 of 400 by 400 are 139 by 139
    sheet = 100 + side * np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    assert (faint_outline(on_table(0.05, sheet=sheet)) is not None) == found


def test_places_step_where_brightness_changes_most() -> None:
    # a step evened out over a pixel and a half, as pictures are
    step = 0.05 * ndtr((np.arange(80.0) - 39.5) / 1.5)
    log = np.repeat(step[None].astype(np.float32), 60, 0)
    places = _stepped(log)
    assert set(places[:, 0]) <= {39.0, 40.0}
    # up to half a step and a pixel from the rim
    assert places[:, 1].min() == 4.0
    assert places[:, 1].max() == 55.0
    # down as across
    turned = _stepped(log.T.copy())
    assert set(turned[:, 1]) <= {39.0, 40.0}
    # steps of less than 0.008 are none, nor runs of fewer than eight
    for high, seen in ((0.0075, False), (0.009, True)):
        assert (len(_stepped(log / 0.05 * high)) > 0) == seen
    # a step of 0.01 in its middle that falls by so much a row, of which 0.954 are seen
    # over three pixels to both sides, is 0.008 over 7 rows or 13
    for fall, seen in ((0.0005, False), (0.00025, True)):
        high = 0.01 - fall * np.abs(np.arange(60.0) - 30.0)
        tent = log / 0.05 * np.maximum(high, 0.0)[:, None].astype(np.float32)
        assert (len(_stepped(tent)) > 0) == seen


def test_a_side_is_asked_five_pixels_beside_it() -> None:
    log = np.zeros((400, 400), np.float32)
    log[50:350, 60:340] = 0.04
    for side in _steps(log, SHEET):
        assert len(side) == 120
        assert side == pytest.approx(np.full(120, 0.04))
    # where the step lies four pixels out it is seen, six out it is not
    for off, seen in ((4.0, True), (6.0, False)):
        corners = SHEET + off * np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])
        for side in _steps(log, corners):
            assert (np.median(side) > 0.03) == seen
    # a spot along it is evened out over seven places of 120
    log[45, 199:202] = 7.0
    upper = _steps(log, SHEET)[0]
    assert 7 <= (upper < 0.03).sum() <= 8
    # corners, four hundredths of a side of 280 px, 11 px, are not asked
    for spoilt, seen in ((9, False), (17, True)):
        corner = np.zeros((400, 400), np.float32)
        corner[50:350, 60:340] = 0.04
        corner[50:60, 60 : 60 + spoilt] = 0.0
        assert (_steps(corner, SHEET)[0][0] < 0.039) == seen
