"""The sheet in a photograph: its corners and its proportion."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw

from fillwork.readers.scan.flatten import flatten_sheet, sheet_proportion
from fillwork.readers.scan.model import Choices, Page
from fillwork.readers.scan.picture import open_picture
from fillwork.readers.scan.sheet import find_outline
from fillwork.readers.scan.trace import _sheet_doubts

SIZE = (900, 1200)


def seen(
    page: tuple[float, float], tilt: tuple[float, float], focal: float = 864.0
) -> np.ndarray:
    """Corners of a sheet turned about both of its middle lines, by a pinhole camera."""
    x, y = np.radians(tilt)
    turn = np.array([[np.cos(y), 0], [0, 1], [-np.sin(y), 0]])
    turn = (
        np.array([[1, 0, 0], [0, np.cos(x), -np.sin(x)], [0, np.sin(x), np.cos(x)]])
        @ turn
    )
    half = np.array(page) / 2
    at = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half @ turn.T + [0, 0, 260]
    return focal * at[:, :2] / at[:, 2:] + np.array(SIZE) / 2


def photo(corners: np.ndarray) -> Image.Image:
    image = Image.new("RGB", SIZE, (70, 60, 50))
    pen = ImageDraw.Draw(image)
    pen.polygon([tuple(c) for c in corners], fill=(235, 235, 230))
    middle = corners.mean(axis=0)
    inner = middle + 0.7 * (corners - middle)
    pen.line([tuple(c) for c in (*inner, inner[0])], fill=(20, 20, 20), width=4)
    return image


@pytest.mark.parametrize("tilt", [(0, 0), (12, 7), (-15, 9), (14, 0), (0, -14)])
def test_the_focal_length_tells_the_proportion(tilt: tuple[float, float]) -> None:
    corners = seen((160.0, 210.0), tilt)
    found, known = sheet_proportion(corners, SIZE, 864.0)
    assert known
    assert found == pytest.approx(160 / 210, rel=0.002)


def test_tilted_about_one_side_alone_the_proportion_is_a_guess() -> None:
    # a camera of another focal length than telephones' have
    found, known = sheet_proportion(seen((160.0, 210.0), (14, 0), 1300.0), SIZE)
    assert not known
    assert found == pytest.approx(160 / 210, rel=0.03)
    assert sheet_proportion(seen((160.0, 210.0), (14, 9), 1300.0), SIZE)[1]


@pytest.mark.parametrize(
    ("page", "size"),
    # 160 x 210 is 1.4 % slimmer than letter; A5 is 0.3 % off A4, which is told
    [((160, 210), (212.9, 279.4)), ((148, 210), (210.0, 297.0))],
)
def test_a_sheet_is_a_common_paper_only_where_it_has_its_shape(
    page: tuple[float, float], size: tuple[float, float]
) -> None:
    out = io.BytesIO()
    photo(seen(page, (9, 6))).save(out, "PNG")
    flat = flatten_sheet(open_picture(out.getvalue(), "x"), Choices(), "x")
    assert not flat.scale_known
    # 160 / 210 is 212.9 / 279.4: the longer side is letter's
    assert min(flat.size) / max(flat.size) == pytest.approx(size[0] / size[1], 0.004)


def test_the_file_says_the_focal_length() -> None:
    out, exif = io.BytesIO(), Image.Exif()
    # CIPA DC-008: 26 mm as for film of 24 by 36 mm, whose diagonal is 43.27 mm
    exif.get_ifd(0x8769)[41989] = 26
    Image.new("RGB", (400, 300)).save(out, "JPEG", exif=exif)
    focal = open_picture(out.getvalue(), "x").focal
    assert focal == pytest.approx(26 / 43.267 * 500 / 400, rel=1e-4)


@pytest.mark.parametrize("over", [0.0, 30.0])
def test_a_strip_over_a_corner_does_not_cut_the_sheet(over: float) -> None:
    corners = seen((148.0, 210.0), (6, -4))
    image = photo(corners)
    tip = corners[2] - over / np.sqrt(2)
    width = 90
    pen = ImageDraw.Draw(image)
    pen.line([tuple(tip), (940, 1240)], fill=(235, 235, 230), width=width)
    pen.ellipse([*(tip - width / 2), *(tip + width / 2)], fill=(235, 235, 230))
    outline = find_outline(np.asarray(image), "x")
    assert outline is not None
    assert outline.corners == pytest.approx(corners, abs=2.0)


@pytest.mark.parametrize("paper", [(205, 222, 238), (222, 200, 160)])
def test_coloured_paper_is_told_from_a_grey_table_in_uneven_light(
    paper: tuple[int, int, int],
) -> None:
    corners = seen((148.0, 210.0), (6, -4))
    image = Image.new("RGB", SIZE, (150, 150, 149))
    ImageDraw.Draw(image).polygon([tuple(c) for c in corners], fill=paper)
    # the light falls off by half from one side to the other
    light = np.linspace(1.0, 0.5, SIZE[0])[None, :, None]
    noise = np.random.default_rng(2).normal(0.0, 3.0, (SIZE[1], SIZE[0], 3))
    rgb = np.clip(np.asarray(image) * light + noise, 0, 255).astype(np.uint8)
    outline = find_outline(rgb, "x")
    assert outline is not None
    assert outline.corners == pytest.approx(corners, abs=2.0)


def torn(corners: np.ndarray, depth: float) -> Image.Image:
    """A sheet whose left side was torn off so deep, ragged by 5 px."""
    rng = np.random.default_rng(4)
    share = np.linspace(0.0, 1.0, 90)[:, None]
    left = corners[3] + share * (corners[0] - corners[3])
    left[:, 0] += depth + rng.uniform(-5, 5, 90)
    image = Image.new("RGB", SIZE, (70, 60, 50))
    outline = [tuple(c) for c in (*corners[1:3], *left)]
    ImageDraw.Draw(image).polygon(outline, fill=(235, 235, 230))
    return image


def test_a_torn_side_is_straightened_and_told() -> None:
    corners = seen((148.0, 210.0), (6, -4))
    outline = find_outline(np.asarray(torn(corners, 0.0)), "x")
    assert outline is not None
    assert outline.torn == 3
    assert outline.corners == pytest.approx(corners, abs=4.0)
    whole = find_outline(np.asarray(photo(corners)), "x")
    assert whole is not None
    assert whole.torn is None


@pytest.mark.parametrize(("depth", "width"), [(0.0, 148.0), (40.0, 137.6)])
def test_what_was_torn_off_does_not_stretch_the_rest(
    depth: float, width: float
) -> None:
    # 148 mm are 571 px wide in the middle: 40 px are 10.4 mm of them
    out = io.BytesIO()
    torn(seen((148.0, 210.0), (9, 6), 1000.0), depth).save(out, "PNG")
    choices = Choices(sheet_size=(148.0, 210.0))
    page = flatten_sheet(open_picture(out.getvalue(), "x"), choices, "x")
    assert page.torn
    assert page.size == pytest.approx((width, 210.0), abs=2.0)


@pytest.mark.parametrize(
    ("drawn", "named", "weighs"),
    [(210.0, 210.0, 0), (210.0, 225.0, 1), (210.0, None, 0), (225.0, None, 1)],
)
def test_a_covered_side_weighs_where_no_size_bears_it_out(
    drawn: float, named: float | None, weighs: int
) -> None:
    out = io.BytesIO()
    corners = seen((148.0, drawn), (9, 6), 1000.0)
    strip_over(corners, 3, (0.3, 0.8), 40.0, 190).save(out, "PNG")
    choices = Choices(sheet_size=named and (148.0, named))
    page = flatten_sheet(open_picture(out.getvalue(), "x"), choices, "x")
    assert page.torn
    assert sum(d.weighs for d in _sheet_doubts(page)) == weighs


@pytest.mark.parametrize(
    ("bow", "told", "weighs"), [(0.9, 0, 0), (1.5, 1, 0), (4.0, 1, 1)]
)
def test_a_sheet_that_bends_by_less_than_a_millimetre_is_flat(
    bow: float, told: int, weighs: int
) -> None:
    rgb = np.full((40, 30, 3), 240, np.uint8)
    page = Page(rgb, 0.2, (148.0, 210.0), (), True, bow=bow)
    doubts = _sheet_doubts(page)
    assert len(doubts) == told
    assert sum(d.weighs for d in doubts) == weighs


def strip_over(
    corners: np.ndarray, side: int, share: tuple[float, float], depth: float, grey: int
) -> Image.Image:
    """A photograph with a strip over a part of a side, 90 px broad, a little askew."""
    image = photo(corners)
    a, b = corners[side], corners[(side + 1) % 4]
    along = (b - a) / np.hypot(*(b - a))
    inward = np.array([-along[1], along[0]])
    ends = [a + s * (b - a) for s in share]
    strip = [
        ends[0] + (depth + 12) * inward,
        ends[1] + depth * inward,
        ends[1] + (depth - 90) * inward,
        ends[0] + (depth - 78) * inward,
    ]
    ImageDraw.Draw(image).polygon([tuple(c) for c in strip], fill=(grey,) * 3)
    return image


@pytest.mark.parametrize("side", [0, 1, 2, 3])
@pytest.mark.parametrize("share", [(0.2, 0.75), (-0.15, 0.6), (0.35, 1.1)])
@pytest.mark.parametrize(("depth", "grey"), [(30.0, 190), (60.0, 235), (40.0, 120)])
def test_a_ruler_over_a_side_is_not_taken_for_it(
    side: int, share: tuple[float, float], depth: float, grey: int
) -> None:
    corners = seen((148.0, 210.0), (6, -4))
    image = strip_over(corners, side, share, depth, grey)
    outline = find_outline(np.asarray(image), "x")
    assert outline is not None
    assert outline.corners == pytest.approx(corners, abs=3.0)
    assert outline.torn == side


def test_a_side_that_nothing_shows_is_told() -> None:
    corners = seen((148.0, 210.0), (6, -4))
    outline = find_outline(
        np.asarray(strip_over(corners, 0, (-0.1, 1.1), 30.0, 140)), "x"
    )
    assert outline is not None
    assert outline.torn == 0
