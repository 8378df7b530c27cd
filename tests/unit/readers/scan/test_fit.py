"""Where a strand is cut: prices of lines and arcs against what they miss."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from fillwork.readers.scan.circles import fit_circle, fit_line, misses
from fillwork.readers.scan.fit import (
    _corners,
    _costs,
    _moments,
    _places,
    cut_strand,
    hand_accuracy,
)
from fillwork.readers.scan.model import Strand

WIDTH = 6.0


def strand(points: np.ndarray) -> Strand:
    return Strand(points, np.ones(len(points)), [], False)


def chevron(high: float, long: float = 100.0) -> np.ndarray:
    """Two lines of one length, a pixel apart, that rise so high where they meet."""
    x = np.arange(0.0, long + 1)
    return np.c_[x, high * (1.0 - np.abs(2 * x / long - 1))]


def bow(high: float, long: float = 100.0) -> np.ndarray:
    """An arc over a chord, as high in its middle."""
    radius = (long**2 / 4 + high**2) / (2 * high)
    x = np.arange(0.0, long + 1) - long / 2
    return np.c_[x, np.sqrt(radius**2 - x**2) - radius + high]


@pytest.mark.parametrize(
    ("points", "sorts"),
    [
        # a roof of height h strays from one line by h / sqrt 12, from one arc by
        # h sqrt(1 / 192): |t| less its part that bends, 1/3 - 1/4 - 5/64. Without ends
        # of 4 px, over 100 px of 3 widths each, an arc pays where 0.367 h² > 14 - 9,
        # h = 3.7, and two lines where 0.0245 h² > 2 * 9 - 14, h = 12.8
        (chevron(3.2), "L"),
        (chevron(4.3), "A"),
        (chevron(11.0), "A"),
        (chevron(14.5), "LL"),
        # an arc of bow b strays by b sqrt(4 / 45), and 5 more than a line's is its
        # price: b = 3.2; of an arc without its ends the bow is 0.92² of that, 3.7
        (bow(3.2), "L"),
        (bow(4.3), "A"),
        # a long one pays at b = 1.01, but is none below 1.2 of the hand's accuracy
        (bow(1.15, 1000.0), "L"),
        (bow(1.35, 1000.0), "A"),
        # short parts keep half of themselves: a tip of 3 px is no part
        (np.array([[0.0, 0.0], [1.0, 0.0]]), "L"),
        (np.array([[3.0, 4.0]]), "L"),
    ],
)
def test_a_part_costs_what_a_hand_strays(points: np.ndarray, sorts: str) -> None:
    parts = cut_strand(strand(points), WIDTH, 1.0)
    assert "".join("LA"[p.circle] for p in parts) == sorts
    assert [p.start for p in parts] == [0, *(p.stop for p in parts[:-1])]
    assert parts[-1].stop == len(points) - 1
    turned = points @ np.array([[0.6, 0.8], [-0.8, 0.6]]) + (300.0, 90.0)
    again = cut_strand(strand(turned[::-1]), WIDTH, 1.0)
    assert [p.circle for p in again] == [p.circle for p in parts]


@pytest.mark.parametrize(("wide", "sorts"), [(6.0, "A"), (12.0, "L")])
def test_an_arc_bends_by_an_eighth_of_the_pen(wide: float, sorts: str) -> None:
    # 1.08 px of bow: over 0.12 * 6, below 0.12 * 12; over 1.2 of the accuracy, and so
    # long that it pays: 4 / 45 * 1.08² * 600 / (3 * 12) / 0.5² = 6.9 > 14 - 9
    parts = cut_strand(strand(bow(1.08, 600.0)), wide, 0.5)
    assert "".join("LA"[p.circle] for p in parts) == sorts


def test_parts_have_the_carriers_of_what_was_drawn() -> None:
    angle = np.radians(np.arange(-90.0, 91.0))
    half = 60 * np.c_[np.cos(angle), np.sin(angle)] + (200.0, 60.0)
    line = np.c_[np.arange(60.0, 200.0), np.zeros(140)]
    points = np.vstack([line, half])
    one, two = cut_strand(strand(points), WIDTH, 1.0)
    assert (one.circle, two.circle) == (False, True)
    assert abs(one.stop - 140) <= 8
    assert np.abs(misses(np.array([[60.0, 0], [200.0, 0]]), one.carrier)).max() < 0.1
    assert two.carrier == pytest.approx([200.0, 60.0, 60.0], abs=0.3)
    # what strays once, as beside a blot, bends no line
    blot = np.c_[np.arange(200.0), np.zeros(200)]
    blot[60:64, 1] = 1.9
    (part,) = cut_strand(strand(blot), WIDTH, 1.0)
    assert np.abs(misses(blot[[20, 180]], part.carrier)).max() < 0.01


def test_moments_give_what_a_fit_to_all_places_gives() -> None:
    rng = np.random.default_rng(4)
    angle = np.linspace(0.3, 2.0, 80)
    points = 90 * np.c_[np.cos(angle), np.sin(angle)] + rng.normal(0, 0.4, (80, 2))
    sums = _moments(points, np.ones(80))
    line, arc, _ = _costs(sums[-1:] - sums[:1])
    best = fit_line(points)
    assert line == pytest.approx(np.mean(misses(points, best) ** 2), rel=1e-6)
    circle = fit_circle(points)
    assert circle is not None
    assert arc == pytest.approx(np.mean(misses(points, circle) ** 2), rel=0.02)
    # of a flat arc, by its length and radius, the bow
    flat = _moments(bow(2.0), np.ones(101))
    assert _costs(flat[-1:] - flat[:1])[2] == pytest.approx(2.0, rel=0.03)
    # straight places are on no circle
    flat = _moments(np.c_[np.arange(9.0), 2 * np.arange(9.0)], np.ones(9))
    line, arc, high = _costs(flat[-1:] - flat[:1])
    assert line == pytest.approx(0.0, abs=1e-8)
    assert np.isinf(arc)
    assert high == 0.0


def test_corners_are_what_strays_farther_than_the_slack() -> None:
    points = np.vstack([chevron(10.0), np.array([100.0, 0.0]) + chevron(-3.0)[1:]])
    assert sorted(_corners(points, 2.0)) == [50, 100, 150]
    assert _corners(chevron(2.1), 2.0) == [50]
    assert _corners(chevron(1.9), 2.0) == []
    # a loop has no chord: the farthest place is its corner
    loop = np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 0.0]])
    assert 2 in _corners(loop, 1.0)


def test_of_very_many_corners_the_plainest_are_places_to_cut() -> None:
    # four hundred teeth, from 3 to 43 px high: no more than 150 and both ends
    x = np.arange(0.0, 2000.0)
    high = 3 + x / 50
    teeth = strand(np.c_[x, high * np.abs((x % 10) / 5 - 1)])
    places = _places(teeth, 2.0)
    assert 80 < len(places) <= 152
    assert (places[0], places[-1]) == (0, 1999)
    # places of nodes are added while those are no more than as many again
    for nodes, added in ((100, True), (250, False)):
        teeth.stops[:] = [(7 * k, k) for k in range(nodes)]
        assert (len(_places(teeth, 2.0)) > len(places) + 50) == added


@pytest.mark.parametrize("sway", [0.0, 0.3, 1.0, 1.5, 5.0])
def test_the_accuracy_is_what_a_hand_sways(sway: float) -> None:
    # six lines that sway by so much, root mean square, over about two widths
    rng = np.random.default_rng(2)
    lines = []
    for y in range(6):
        off = gaussian_filter1d(rng.normal(size=400), 6.0)
        off *= sway / off.std()
        lines.append(strand(np.c_[np.arange(400.0), 50.0 * y + off]))
    found = hand_accuracy(lines, WIDTH)
    # between a sixteenth and 0.6 of a width, in steps of a half
    want = min(max(sway, 0.06 * WIDTH + 0.1), 0.6 * WIDTH)
    assert want / 1.5 < found < want * 1.5
    assert found < 0.6 * WIDTH
