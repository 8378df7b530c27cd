"""Which ink is the pen's: each limit of its parts from both sides."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from fillwork.readers.scan.inks import (
    Inks,
    _centres,
    _choose,
    _evened,
    _features,
    _halve,
    _leaves_lines,
    _noise,
    _ridges,
    as_one,
    closed_beside,
    lighter_lines,
    part_inks,
    with_lighter,
)

SCALE = 8.0
BLACK, BLUE, RED = ((0.9, 0.9, 0.9), (0.85, 0.7, 0.2), (0.2, 0.75, 0.75))


def page(*lines: tuple[int, tuple[float, float, float]], size: int = 400) -> np.ndarray:
    """Darkness of level lines, 4 px broad, each at its row and of its colour."""
    dark = np.zeros((size, size, 3), np.float32)
    for row, colour in lines:
        dark[row : row + 4, 20:-20] = colour
    for channel in range(3):
        dark[:, :, channel] = gaussian_filter(dark[:, :, channel], 0.7)
    return dark


def grey(of: float) -> tuple[float, float, float]:
    return (of, of, of)


def rows_of(mask: np.ndarray) -> list[int]:
    """Return at which of the rows 40, 100, 160 a mask has a line's middle."""
    return [row for row in (40, 100, 160) if mask[row + 1 : row + 3, 50:350].all()]


@pytest.mark.parametrize(
    ("two", "pen", "other"),
    [
        # one ink, and what differs from it by less than 0.15
        (grey(0.9), [40, 100, 160], False),
        (grey(0.78), [40, 100, 160], False),
        # pencil half as dark
        (grey(0.4), [40, 160], True),
        # another hue, as dark
        (BLUE, [40, 160], True),
    ],
)
def test_the_darkest_ink_is_the_pens(
    two: tuple[float, float, float], pen: list[int], other: bool
) -> None:
    found = part_inks(page((40, BLACK), (100, two), (160, BLACK)), SCALE)
    assert rows_of(found.pen) == pen
    assert (found.other is not None) == other
    if found.other is not None:
        assert rows_of(found.other) == [100]
    assert found.level == pytest.approx(0.85, abs=0.06)


@pytest.mark.parametrize(
    ("pen", "rows"), [("#262626", [40]), ("#264dcc", [100]), ("#cc4040", [160])]
)
def test_a_named_ink_is_the_pens(pen: str, rows: list[int]) -> None:
    found = part_inks(page((40, BLACK), (100, BLUE), (160, RED)), SCALE, pen)
    assert rows_of(found.pen) == rows
    assert len(found.others) == 2


@pytest.mark.parametrize(("dark", "seen"), [(0.09, False), (0.2, True)])
def test_what_is_darker_than_an_eighth_is_inked(dark: float, seen: bool) -> None:
    found = part_inks(page((40, grey(dark)), (100, grey(dark))), SCALE)
    assert found.pen.any() == seen
    if not seen:
        assert found.doubtful
        assert found.level == 0.0


@pytest.mark.parametrize(("share", "kept"), [(0.35, False), (0.6, True)])
def test_of_a_line_what_is_half_as_dark_is_inked(share: float, kept: bool) -> None:
    # 0.45 of the pen's strength, over so short a stretch that it is no ink of its own
    dark = page(*[(row, BLACK) for row in range(40, 360, 40)])
    dark[38:46, 100:106] *= share
    found = part_inks(dark, SCALE)
    assert found.pen[41:43, 102:104].all() == kept


@pytest.mark.parametrize(
    ("two", "strong"),
    # as dark as 0.7 of the pen: of the most of each colour 0.9
    [((0.75, 0.6, 0.1), True), ((0.5, 0.4, 0.1), False)],
)
def test_another_ink_as_strong_may_be_a_second_pens(
    two: tuple[float, float, float], strong: bool
) -> None:
    found = part_inks(page((40, BLACK), (100, two), (160, BLACK)), SCALE)
    assert (found.colours is not None) == strong
    if strong:
        assert rows_of(found.colours) == [40, 100, 160]
        taken = as_one(found)
        assert rows_of(taken.pen) == [40, 100, 160]
        assert not rows_of(taken.other)
        assert taken.colours is None
    else:
        assert as_one(found) is found


@pytest.mark.parametrize(
    ("two", "lighter"),
    # of a pen of 0.9 four tenths are 0.36: lighter is pencil; another hue is none
    [(grey(0.3), False), (grey(0.45), True), ((0.1, 0.4, 0.45), False)],
)
def test_lines_of_the_pens_hue_too_dark_for_pencil_are_told(
    two: tuple[float, float, float], lighter: bool
) -> None:
    rows = range(100, 320, 40)
    dark = page((40, BLACK), (360, BLACK), *[(row, two) for row in rows])
    found = part_inks(dark, SCALE)
    assert (found.lighter > 0) == lighter
    assert (lighter_lines(found, 4.0, SCALE) is not None) == lighter
    if lighter:
        assert 0.4 * two[0] < found.lighter < two[0]
        taken = with_lighter(found)
        assert taken.pen[102, 50:350].all()
        assert not found.pen[102, 50:350].any()


def lighter(
    long: int, count: int, *, broad: int = 4, width: float = 4.0, weak: int = 0
) -> tuple | None:
    """Ask for lighter lines beside the pen's: so many of so many px."""
    strength = np.zeros((400, 400), np.float32)
    strength[20:24] = 0.9
    pen = strength > 0.4
    for k in range(count):
        strength[60 + 20 * k : 60 + 20 * k + broad, 30 : 30 + long] = 0.5
    for k in range(weak):
        strength[330 + 10 * k : 334 + 10 * k, 30:330] = 0.25
    inks = Inks(strength, pen, None, 0.9, False, lighter=0.4, lightest=0.2)
    return lighter_lines(inks, width, SCALE)


@pytest.mark.parametrize(
    ("found", "told"),
    [
        # pieces are five widths long, 20 px, and together 30 mm, 240 px
        (lighter(300, 1), True),
        (lighter(230, 1), False),
        (lighter(24, 11), True),
        (lighter(24, 9), False),
        (lighter(19, 13), False),
        # as broad as 0.7 of the pen
        (lighter(300, 2, broad=3), True),
        (lighter(300, 2, broad=2), False),
    ],
)
def test_lighter_lines_are_long_and_broad(found: tuple | None, told: bool) -> None:
    assert (found is not None) == told
    if found is not None:
        assert not found[1]


def test_of_lighter_lines_the_longest_is_told_and_whether_lighter_lie_there() -> None:
    found = lighter(300, 1, weak=1)
    assert found is not None
    assert found[0] == (180.0, 62.0)
    assert found[1]
    none = Inks(np.zeros((9, 9), np.float32), np.zeros((9, 9), bool), None, 0.9, False)
    assert lighter_lines(none, 4.0, SCALE) is None


@pytest.mark.parametrize(("side", "told"), [(11, False), (13, True)])
def test_a_figure_of_another_ink_is_closed_from_three_widths_on(
    side: int, told: bool
) -> None:
    # of a pen of 4 px, 12 px of paper within
    colours = np.zeros((100, 100), bool)
    colours[36 : 44 + side, 36 : 44 + side] = True
    colours[40 : 40 + side, 40 : 40 + side] = False
    pen = np.zeros_like(colours)
    pen[80:84] = True
    inks = Inks(
        np.zeros((100, 100), np.float32), pen, None, 0.9, False, colours=colours
    )
    found = closed_beside(inks, 4.0)
    assert (found is not None) == told
    if told:
        assert found == (40 + side / 2, 40 + side / 2)
    # an open one encloses nothing, and of one ink there is none
    colours[38:42, 50:54] = False
    colours[36:40, 50:54] = False
    assert closed_beside(inks, 4.0) is None
    assert closed_beside(Inks(inks.strength, pen, None, 0.9, False), 4.0) is None


@pytest.mark.parametrize(("long", "lines"), [(19, False), (22, True)])
def test_ink_left_is_a_line_from_two_and_a_half_millimetres_on(
    long: int, lines: bool
) -> None:
    inked, pen = np.zeros((2, 60, 80), bool)
    inked[10:14, 10 : 10 + long] = True
    pen[40:44] = inked[40:44] = True
    assert _leaves_lines(inked, pen, SCALE) == lines


def test_noise_is_what_three_quarters_of_bare_paper_stay_below() -> None:
    rng = np.random.default_rng(3)
    grain = np.abs(rng.normal(0.0, 0.05, (700, 700))).astype(np.float32)
    # of a half normal three quarters are below 1.15 times its spread
    assert _noise(grain) == pytest.approx(1.15 * 0.05, rel=0.05)
    # lines over a third of it do not change that, though a quarter is darker
    ink = np.arange(700) % 9 < 3
    dense = grain.copy()
    dense[ink] = 0.9
    assert _noise(dense) == pytest.approx(1.15 * 0.05, rel=0.06)
    # beside a half there is no paper to be seen dark: 0.12 of the darkest
    dim = np.where(ink[:, None], np.float32(0.9), 0.15 + grain)
    assert _noise(dim) > 0.5


def test_coarse_grain_is_evened_out_against_its_own_middle() -> None:
    rng = np.random.default_rng(4)
    dark = np.clip(rng.normal(0.2, 0.1, (300, 300, 3)), 0, 1).astype(np.float32)
    dark[140:160] = 1.0
    calm = _evened(dark, 1.0)
    # over a kernel of one pixel noise is a third and less; paper is 0, ink is 1
    assert calm[:120].std() < 0.4 * 0.1
    assert np.median(calm[:120]) < 0.02
    assert calm[150].min() > 0.98


@pytest.mark.parametrize(("grain", "seen"), [(0.06, True), (0.45, False)])
def test_lines_show_through_grain_and_grain_alone_is_none(
    grain: float, seen: bool
) -> None:
    rng = np.random.default_rng(5)
    dark = page(*[(row, BLACK if seen else grey(0.0)) for row in range(40, 360, 40)])
    dark = np.clip(dark + np.abs(rng.normal(0, grain, (400, 400, 1))), 0, 1)
    found = part_inks(dark.astype(np.float32), SCALE)
    if seen:
        assert found.pen[41:43, 50:350].mean() > 0.98
        assert found.pen[60:78].mean() < 0.01
    else:
        assert found.pen.mean() < 0.2


def grained(spread: float, line: float) -> np.ndarray:
    """Lines over grain alike in all channels, as half of a normal spread."""
    rng = np.random.default_rng(6)
    dark = page(*[(row, grey(line)) for row in range(40, 360, 40)])
    grain = np.abs(rng.normal(0.0, spread, (400, 400, 1)))
    return np.clip(dark + grain, 0.0, 1.0).astype(np.float32)


@pytest.mark.parametrize(
    ("spread", "evened"),
    # three quarters are below 1.15 times the spread; five times that is coarse from 0.5
    # on, and hides all from 1.5 on
    [(0.07, False), (0.11, True), (0.24, True), (0.29, False)],
)
def test_coarse_grain_is_evened_out(spread: float, evened: bool) -> None:
    strength = part_inks(grained(spread, 0.0), SCALE).strength
    # 84 of a hundred stay below the middle and one spread: of grain as it is 1.41, of
    # half a normal one's own, 0.603, evened out over 0.8 px, 1 / (1.6 sqrt pi)
    if evened:
        want = 0.603 * spread / (1.6 * np.sqrt(np.pi)) / (1 - 0.798 * spread)
    else:
        want = 1.41 * spread
    assert np.percentile(strength, 84.1) == pytest.approx(want, rel=0.1)


@pytest.mark.parametrize(
    ("spread", "line", "seen"),
    # lines are clear that are three times as dark as three quarters of the grain
    [(0.07, 0.42, True), (0.33, 0.6, False)],
)
def test_lines_are_clear_from_three_times_the_grain(
    spread: float, line: float, seen: bool
) -> None:
    found = part_inks(grained(spread, line), SCALE)
    assert (found.level > 0) == seen
    assert found.pen.any() == seen


def test_ridges_are_the_middle_of_lines_and_not_their_flanks() -> None:
    soft = np.zeros((60, 60), np.float32)
    across = np.array([0.1, 0.35, 0.8, 0.9, 0.8, 0.35, 0.1], np.float32)
    soft[20:27] = across[:, None]
    found = _ridges(soft)
    assert found[23, 5:55].all()
    assert found.any(axis=1).sum() == 1
    assert np.array_equal(_ridges(soft.T), found.T)
    # a line that pales steeply along itself has no middle there: by half over 4 px
    soft[23, 30:] *= 0.3
    assert not _ridges(soft)[23, 29]


def hues(*groups: tuple[int, float, float]) -> np.ndarray:
    """So many points, of a grey, and its spread."""
    rng = np.random.default_rng(7)
    some = [np.clip(rng.normal(of, by, n), 0, 1) for n, of, by in groups]
    return np.repeat(np.concatenate(some)[:, None], 3, 1).astype(np.float32)


@pytest.mark.parametrize(
    ("groups", "inks"),
    [
        (((500, 0.9, 0.01),), 1),
        # centres nearer than 0.15 are one ink
        (((500, 0.9, 0.01), (500, 0.78, 0.01)), 1),
        (((500, 0.9, 0.01), (500, 0.72, 0.01)), 2),
        # nor what varies so that both halves touch: 3.2 spreads
        (((500, 0.8, 0.08), (500, 0.6, 0.08)), 1),
        (((500, 0.9, 0.04), (500, 0.7, 0.04)), 2),
        # one in a hundred is none
        (((995, 0.9, 0.01), (5, 0.3, 0.01)), 1),
        (((980, 0.9, 0.01), (20, 0.3, 0.01)), 2),
        # and fifty points say nothing
        (((24, 0.9, 0.01), (24, 0.3, 0.01)), 1),
        (((26, 0.9, 0.01), (26, 0.3, 0.01)), 2),
        (((500, 0.9, 0.01), (500, 0.6, 0.01), (500, 0.3, 0.01)), 3),
        # three at most
        (tuple((500, of, 0.01) for of in (0.9, 0.7, 0.5, 0.3)), 3),
    ],
)
def test_inks_are_parted_as_long_as_that_tells_apart(
    groups: tuple[tuple[int, float, float], ...], inks: int
) -> None:
    centres, share = _centres(hues(*groups))
    assert len(centres) == inks
    assert sum(share) == pytest.approx(1.0)
    assert [c.mean() for c in centres] == sorted([c.mean() for c in centres])[::-1]
    if inks == len(groups) == 2:
        # what seven of ten stay below
        for centre, (_, of, by) in zip(centres, groups, strict=True):
            assert centre[0] == pytest.approx(of + 0.524 * by, abs=0.01)


def test_hue_counts_half_as_much_again_as_darkness() -> None:
    red = _features(np.array([[0.1, 0.7, 0.7]]))[0]
    assert red == pytest.approx([0.5, -0.6, 0.3, 0.3])
    # greys 0.12 apart are one, reds and greens as far apart are not
    a, b = np.array([0.5, 0.62, 0.5]), np.array([0.62, 0.5, 0.5])
    colours = np.repeat(np.stack([a, b]), 100, axis=0).astype(np.float32)
    assert _halve(_features(colours)) is not None
    assert _halve(_features(hues((100, 0.5, 0.0), (100, 0.62, 0.0)))) is None


def test_of_inks_the_darkest_that_is_more_than_a_blot_is_chosen() -> None:
    centres = [np.array(grey(0.9)), np.array(grey(0.5))]
    assert _choose(centres, [0.03, 0.97], "auto") == 0
    assert _choose(centres, [0.015, 0.985], "auto") == 1
    assert _choose(centres, [0.03, 0.97], "#808080") == 1


@pytest.mark.parametrize(
    ("one", "other", "apart", "parted"),
    [
        # fifty places at least, of which a hundredth is an ink of its own
        (25, 25, 1.0, True),
        (25, 24, 1.0, False),
        (990, 11, 1.0, True),
        (1990, 11, 1.0, False),
        # all alike are one
        (25, 25, 0.0, False),
    ],
)
def test_two_inks_are_told_by_fifty_places(
    one: int, other: int, apart: float, parted: bool
) -> None:
    colours = np.zeros((one + other, 3))
    colours[one:] = [apart, 0.0, 0.0]
    found = _halve(colours)
    assert (found is not None) == parted
    if found is not None:
        assert len({*found[:one]}) == len({*found[one:]}) == 1
        assert found[0] != found[-1]
