"""Which four sides are a sheet's: each limit from both sides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageDraw

from fillwork.errors import ReadError
from fillwork.readers.scan import sheet
from fillwork.readers.scan.sheet import (
    _candidates,
    _clockwise,
    _colourful,
    _fills,
    _Four,
    _four_sides,
    _levels,
    _only_paper,
    _only_sheet,
    _seen_along,
    _simplify,
    area_of,
    cross_sides,
    crossed,
    refine,
    straight_lines,
)

SQUARE = np.array([[50.0, 40.0], [250.0, 40.0], [250.0, 240.0], [50.0, 240.0]])


def drawn(
    *polygons: tuple[np.ndarray, float], size: tuple[int, int] = (300, 280),
    ground: float = 60.0,
) -> np.ndarray:  # fmt: skip
    image = Image.new("L", size, round(ground))
    pen = ImageDraw.Draw(image)
    for corners, grey in polygons:
        pen.polygon([tuple(c) for c in corners], fill=round(grey))
    return np.asarray(image).astype(np.float32)


def boxed(left: float, top: float, right: float, low: float) -> np.ndarray:
    return np.array([[left, top], [right, top], [right, low], [left, low]])


def test_corners_enclose_go_round_and_cross() -> None:
    assert area_of(SQUARE) == 200.0**2
    assert area_of(SQUARE[::-1]) == 200.0**2
    for shift in range(4):
        for way in (1, -1):
            assert np.array_equal(_clockwise(np.roll(SQUARE, shift, 0)[::way]), SQUARE)
    # in any order, and leaning
    assert np.array_equal(_clockwise(SQUARE[[0, 2, 1, 3]]), SQUARE)
    assert np.array_equal(_clockwise(SQUARE[[3, 1, 0, 2]]), SQUARE)
    leaning = np.array([[60.0, 40.0], [250.0, 60.0], [230.0, 240.0], [50.0, 200.0]])
    assert np.array_equal(_clockwise(leaning[[2, 0, 3, 1]]), leaning)
    lines = [
        (a + 0.3 * (b - a), b - a)
        for a, b in zip(SQUARE, np.roll(SQUARE, -1, axis=0), strict=True)
    ]
    assert cross_sides(lines) == pytest.approx(SQUARE)


def test_an_outline_is_taken_to_four_sides_that_add_least() -> None:
    # a corner cut off by 20 px, another by 6
    cut = np.array([[70.0, 40.0], [250.0, 40.0], [250.0, 234.0], [244.0, 240.0],
                    [50.0, 240.0], [50.0, 60.0]])  # fmt: skip
    for shift in range(6):
        assert _simplify(np.roll(cut, shift, axis=0)) == pytest.approx(SQUARE)
    # so it is wherever it lies and however it leans
    a = np.radians(20.0)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    found = _simplify(cut @ turn + 500.0)
    corners = SQUARE @ turn + 500.0
    apart = np.hypot(*(found[:, None] - corners).transpose(2, 0, 1))
    assert apart.min(axis=0) == pytest.approx(np.zeros(4), abs=1e-6)
    assert _simplify(SQUARE) == pytest.approx(SQUARE)
    assert _simplify(SQUARE[:3]) is None


@pytest.mark.parametrize("degrees", [0.0, 3.0, 47.0, 90.0, 133.0])
def test_places_on_straight_lines_give_these(degrees: float) -> None:
    a = np.radians(degrees)
    way, normal = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    rng = np.random.default_rng(2)
    places = []
    for off, n in ((20.0, 200), (90.0, 120), (150.0, 5)):
        t = rng.uniform(-150, 150, n)[:, None]
        places.append(200 + t * way + (off + rng.normal(0, 0.3, n))[:, None] * normal)
    lines = straight_lines(np.vstack(places))
    # five of 325 places are less than a fiftieth
    assert len(lines) == 2
    for (at, along), off in zip(lines, (20.0, 90.0), strict=True):
        assert abs(along @ way) == pytest.approx(1.0, abs=1e-4)
        assert abs((at - 200) @ normal - off) < 0.3
    assert len(straight_lines(np.vstack(places), 1)) == 1


@pytest.mark.parametrize(("share", "found"), [(0.012, 1), (0.03, 2)])
def test_a_line_of_an_outline_holds_a_fiftieth_of_it(share: float, found: int) -> None:
    t = np.linspace(0.0, 300.0, 1000)
    few = round(1000 * share)
    places = np.vstack([np.c_[t, np.full(1000, 50.0)],
                        np.c_[np.full(few, 100.0), t[:few] + 90.0]])  # fmt: skip
    assert len(straight_lines(places)) == found


@pytest.mark.parametrize(("degrees", "crosses"), [(27.0, 0), (33.0, 1)])
def test_sides_cross_at_a_sine_of_a_half(degrees: float, crosses: int) -> None:
    # two level sides and two that slant, of a sine of 0.5 at 30 degrees
    a = np.radians(degrees)
    slant = np.array([np.cos(a), np.sin(a)])
    level = np.array([1.0, 0.0])
    lines = [(np.array([0.0, y]), level) for y in (50.0, 150.0)]
    lines += [(np.array([x, 50.0]), slant) for x in (100.0, 300.0)]
    found = list(crossed(lines, (400, 900)))
    assert len(found) == crosses
    for four in found:
        run = 100 / np.tan(a)
        want = [[100.0, 50.0], [300.0, 50.0], [300 + run, 150.0], [100 + run, 150.0]]
        assert four == pytest.approx(np.array(want))
    # in the picture alone
    assert list(crossed(lines, (140, 900))) == []


def seen(grey: np.ndarray, corners: np.ndarray = SQUARE, off: float = 0.0) -> _Four:
    """Four sides and places on an outline so far within them."""
    t = np.linspace(0, 1, 400, endpoint=False)[:, None]
    inner = corners + off * np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])
    places = [
        a + t * (b - a) for a, b in zip(inner, np.roll(inner, -1, 0), strict=True)
    ]
    return _seen_along(corners, np.vstack(places), 0.0, grey, [240.0, 60.0])


@pytest.mark.parametrize(("off", "support"), [(2.2, 1.0), (2.8, 0.0)])
def test_what_lies_beside_a_side_shows_it(off: float, support: float) -> None:
    # two and a half pixels
    four = seen(drawn((SQUARE, 240.0)), off=off)
    assert four.support == pytest.approx([support] * 4, abs=0.03)


@pytest.mark.parametrize(("beside", "clear"), [(80.0, True), (100.0, False)])
def test_a_side_is_clear_where_three_quarters_of_the_step_show(
    beside: float, clear: bool
) -> None:
    # paper of 240 on a ground of 60: (241 / 61) to the power of 0.75 is 2.8, of 86 on
    grey = drawn((SQUARE, 240.0))
    # asked four pixels beside it
    grey[:, 253:257] = beside
    four = seen(grey)
    shown = [float(side.mean()) for side in four.clear]
    assert shown[0] == pytest.approx(1.0, abs=0.06)
    assert (shown[1] > 0.9) == clear
    assert four.cornered == (4 if clear else 2)
    assert four.covered is None or not clear
    if not clear:
        assert four.covered == 1
    # all of the length and all corners make two
    want = 2.0 if clear else 0.75 + 0.5
    assert four.shown == pytest.approx(want, abs=0.05)


def sides(*shares: float, clear: tuple[float, ...] = (1.0,) * 4) -> _Four:
    def part(share: float) -> np.ndarray:
        return np.arange(100) < 100 * share

    return _Four(SQUARE, tuple(map(part, shares)), tuple(map(part, clear)), 0.0)


def test_a_side_seen_along_little_of_it_is_covered() -> None:
    assert sides(1.0, 1.0, 1.0, 1.0).covered is None
    # 0.85
    assert sides(1.0, 0.87, 1.0, 1.0).covered is None
    assert sides(1.0, 0.83, 0.9, 1.0).covered == 1
    # half as clear as the clearest
    assert sides(1, 1, 1, 1, clear=(0.9, 0.9, 0.47, 0.9)).covered is None
    assert sides(1, 1, 1, 1, clear=(0.9, 0.9, 0.43, 0.9)).covered == 2
    assert sides(0.7, 0.5, 0.9, 0.8).least == 0.5


@pytest.mark.parametrize(("gap", "cornered"), [(1, 4), (2, 2)])
def test_a_corner_is_seen_where_both_ends_are(gap: int, cornered: int) -> None:
    # of 100 px three are an end, and two of them are to be plain
    whole = np.ones(100, bool)
    cut = whole.copy()
    cut[:gap] = cut[100 - gap :] = False
    four = _Four(SQUARE, (whole,) * 4, (whole, cut, whole, whole), 0.0)
    assert four.cornered == cornered


@pytest.mark.parametrize(("side", "found"), [(96.0, False), (108.0, True)])
def test_a_sheet_takes_an_eighth_of_the_picture(side: float, found: bool) -> None:
    # 0.12 of 300 by 280 are 100 by 100
    corners = boxed(50, 40, 50 + side, 40 + side)
    grey = drawn((corners, 240.0))
    four = _four_sides(grey, grey > 150)
    assert (four is not None) == found
    if four is not None:
        assert four.corners == pytest.approx(corners, abs=1.0)
        assert four.rim == 0.0


@pytest.mark.parametrize("turn", range(4))
def test_what_runs_along_the_rim_of_the_picture_is_told(turn: int) -> None:
    # 80 by 60 px of it, at the rim along one side: of an outline of 276 px 78 or 80
    bright = np.zeros((120, 160), bool)
    bright[:60, 40:120] = True
    grey = np.where(bright, 240.0, 60.0)
    turned = [np.rot90(picture, turn).astype(np.float32) for picture in (grey, bright)]
    four = _four_sides(turned[0], turned[1] > 0)
    assert four is not None
    assert four.rim == pytest.approx(80 / 276, abs=0.01)


@pytest.mark.parametrize(("start", "whole"), [(1, True), (0, False)])
def test_a_margin_that_ends_before_the_rim_is_a_sheet(start: int, whole: bool) -> None:
    # a closed frame parts it from what it holds, 8 px in
    bright = np.zeros((120, 160), bool)
    bright[start : 120 - start, start : 160 - start] = True
    bright[8:112, 8:152] = False
    bright[11:109, 11:149] = True
    grey = np.where(bright, 240.0, 60.0).astype(np.float32)
    four = _four_sides(grey, bright)
    assert four is not None
    left = start if whole else 11.0
    assert four.corners[0] == pytest.approx([left, left], abs=1.0)


@pytest.mark.parametrize("side", range(4))
def test_what_reaches_over_a_side_is_not_taken_for_it(side: int) -> None:
    # a strip as bright as the sheet over the middle of a side, 40 px beyond it
    a, b = SQUARE[side], SQUARE[(side + 1) % 4]
    along = (b - a) / 200
    out = np.array([along[1], -along[0]])
    over = [a + 60 * along - 9 * out, a + 140 * along - 9 * out,
            a + 130 * along + 30 * out, a + 50 * along + 30 * out]  # fmt: skip
    grey = drawn((SQUARE, 240.0), (np.array(over), 240.0))
    four = _four_sides(grey, grey > 150)
    assert four is not None
    assert four.corners == pytest.approx(SQUARE, abs=1.5)
    # 80 px of 200 are not seen there
    assert four.support[side] == pytest.approx(0.6, abs=0.05)
    assert four.covered == side


@pytest.mark.parametrize(("margin", "whole"), [(2, False), (3, True)])
def test_a_closed_frame_parts_no_sheet(margin: int, whole: bool) -> None:
    # a margin beside the frame of a twentieth of what it holds and more: of 200 by 200
    # px a rim of 2 is 0.04 of the inside, one of 3 is 0.07
    grey = drawn((SQUARE, 240.0))
    a, b, c, d = 40 + margin, 241 - margin, 50 + margin, 251 - margin
    frame = np.zeros(grey.shape, bool)
    frame[a:b, c:d] = True
    frame[a + 4 : b - 4, c + 4 : d - 4] = False
    grey[frame] = 20.0
    four = _four_sides(grey, grey > 150)
    assert four is not None
    inside = 0.0 if whole else margin + 4
    want = SQUARE + inside * np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])
    assert four.corners == pytest.approx(want, abs=1.1)


@pytest.mark.parametrize(
    ("support", "rim", "taken", "cut"),
    [
        # each side along 0.6 of it
        ((1.0, 1.0, 1.0, 0.62), 0.0, "whole", 0.0),
        # or one alone along less, which is torn or covered, but 0.06
        ((1.0, 1.0, 1.0, 0.58), 0.0, "torn", 0.0),
        ((1.0, 0.62, 1.0, 0.07), 0.0, "torn", 0.0),
        ((1.0, 1.0, 1.0, 0.05), 0.0, None, 0.0),
        ((1.0, 0.58, 1.0, 0.5), 0.0, None, 0.0),
        # a fiftieth of it at the picture's rim
        ((1.0, 1.0, 1.0, 1.0), 0.019, "whole", 0.0),
        ((1.0, 1.0, 1.0, 1.0), 0.03, None, 0.03),
    ],
)
def test_what_may_be_a_sheet_is_seen_along_its_sides(
    support: tuple[float, ...], rim: float, taken: str | None, cut: float,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    # as if the first level showed it, and the second one seen all along
    other = sides(1.0, 1.0, 1.0, 1.0)
    some = [replace(sides(*support), rim=rim), other, *[None] * 4]
    monkeypatch.setattr(sheet, "_four_sides", lambda *_: some.pop(0))
    first = some[0]
    found, off = _candidates(drawn((SQUARE, 240.0)))
    want = {"whole": [first, other], "torn": [other, first], None: [other]}
    assert found == want[taken]
    assert off == cut


@pytest.mark.parametrize(("beyond", "off"), [(2.0, False), (30.0, True)])
def test_a_sheet_that_runs_out_of_the_picture_is_none(beyond: float, off: bool) -> None:
    corners = SQUARE + np.array([[0, -40 - beyond], [0, -40 - beyond], [0, 0], [0, 0]])
    if not off:
        corners[:2, 1] = beyond
    grey = drawn((corners, 240.0))
    found, cut = _candidates(grey)
    assert bool(found) != off
    if off:
        # one side of four lies along the rim
        bright = _four_sides(grey, grey > 150)
        assert bright is not None
        assert bright.rim == pytest.approx(0.24, abs=0.03)
        assert cut >= bright.rim


def test_levels_lie_about_the_one_that_parts_ground_and_paper() -> None:
    grey = drawn((SQUARE, 240.0))
    otsu, low, lower, *high = _levels(grey)
    assert 60 <= otsu < 240
    paper = 240.0
    assert low == pytest.approx(otsu - 0.5 * (paper - otsu))
    assert lower == pytest.approx(otsu - 0.25 * (paper - otsu))
    assert high == pytest.approx([otsu + k * (paper - otsu) for k in (0.2, 0.4, 0.6)])


@pytest.mark.parametrize(("rim", "fills"), [(100.0, False), (115.0, True)])
def test_paper_fills_a_picture_whose_rim_is_half_as_bright(
    rim: float, fills: bool
) -> None:
    # 0.45 of 240 are 108
    grey = np.full((100, 120), 240.0, np.float32)
    grey[:4] = grey[-4:] = grey[:, :4] = grey[:, -4:] = rim
    assert _fills(grey) == fills


@pytest.mark.parametrize(
    ("bright", "wide", "refused"),
    [
        # darker than 0.85 of paper, along a rim: of 320 px 24 are 7 %
        (215.0, 24, False),
        (190.0, 24, True),
        # a scan's rim is narrower than 3 %; a block beside it counts with its paper
        (100.0, 16, False),
    ],
)
def test_ground_beside_paper_is_no_scan(
    bright: float, wide: int, refused: bool
) -> None:
    grey = np.full((240, 320), 240.0, np.float32)
    grey[:, :wide] = bright
    if refused:
        with pytest.raises(ReadError, match="edges were not found"):
            _only_paper(grey, "x")
    else:
        _only_paper(grey, "x")
    # light that fades is no ground
    fading = np.repeat(np.linspace(100.0, 240.0, 320)[None], 240, 0).astype(np.float32)
    _only_paper(fading, "x")
    # nor is a dark area that touches no rim
    inner = np.full((240, 320), 240.0, np.float32)
    inner[80:160, 100:200] = bright
    _only_paper(inner, "x")


@pytest.mark.parametrize(("side", "refused"), [(35.0, False), (50.0, True)])
def test_a_second_sheet_in_view_is_refused(side: float, refused: bool) -> None:
    # three tenths of the one found, 80 by 80, are 44 by 44
    own = boxed(20, 40, 100, 120)
    other = boxed(150, 40, 150 + side, 40 + side)
    grey = drawn((own, 240.0), (other, 240.0))
    if refused:
        with pytest.raises(ReadError, match="two sheets"):
            _only_sheet(grey, own, "x")
    else:
        _only_sheet(grey, own, "x")


def test_colour_is_how_far_from_grey_a_place_is() -> None:
    rgb = np.zeros((20, 20, 3), np.uint8)
    rgb[:] = (200, 150, 100)
    # of the most a half is missing in blue
    assert _colourful(rgb) == pytest.approx(np.full((20, 20), 127.5), abs=0.1)
    assert _colourful(np.full((9, 9, 3), 90, np.uint8)).max() == 0.0


@pytest.mark.parametrize(("ground", "edge"), [(200.0, True), (208.0, False)])
def test_a_side_steps_to_a_ground_of_at_most_so_bright(
    ground: float, edge: bool
) -> None:
    # 0.85 of 240 are 204
    grey = drawn((SQUARE, 240.0), ground=ground)
    whole = tuple(np.ones(200, bool) for _ in range(4))
    found = refine(grey, SQUARE + 1.5, whole, 6.0)
    assert (found is not None) == edge
    if found is not None:
        # the polygon's pixels run from 50 and 40 to 250 and 240, their rims included
        want = SQUARE + np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
        assert found.corners == pytest.approx(want, abs=0.2)
        assert found.torn is None
        assert len(found.sides) == 4


@pytest.mark.parametrize(("shown", "known"), [(5, False), (9, True)])
def test_eight_places_show_a_side(shown: int, known: bool) -> None:
    # of 240 places between 0.03 and 0.97 of 200 px 1.28 lie on each: 6 or 11
    grey = drawn((SQUARE, 240.0))
    part = np.zeros(200, bool)
    part[90 : 90 + shown] = True
    whole = np.ones(200, bool)
    found = refine(grey, SQUARE + 0.5, (whole, part, whole, whole), 6.0)
    assert (found is not None) == known


@pytest.mark.parametrize(("sway", "torn"), [(0.2, None), (0.5, 1)])
def test_a_side_that_strays_is_torn(sway: float, torn: int | None) -> None:
    # 0.0015 of 200 px are 0.3: what sways by half a pixel lies farther off
    grey = drawn((SQUARE, 240.0))
    for row in range(41, 240):
        off = sway * (1 if row // 9 % 2 else -1)
        edge = 251.0 + off
        grey[row, 246:256] = 60.0
        grey[row, 246 : int(edge)] = 240.0
        grey[row, int(edge)] = 60 + 180 * (edge - int(edge))
    whole = tuple(np.ones(200, bool) for _ in range(4))
    found = refine(grey, SQUARE + 0.5, whole, 6.0)
    assert found is not None
    assert found.torn == torn
