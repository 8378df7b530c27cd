"""From pixels to chains and strands: what is a speck, a spur, one node, one line."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.check import draw_lines
from fillwork.readers.scan.model import Chain, Network
from fillwork.readers.scan.skeleton import (
    _contract_fused,
    _contract_short,
    _drop_spurs,
    _refined,
    _without_loops,
    build_network,
    clean_mask,
    join_through,
)
from fillwork.readers.scan.strands import _beyond, _weights, build_strands, open_stems

WIDTH = 6.0
SCALE = 10.0


def chain(a: int, b: int, *corners: tuple[float, float]) -> Chain:
    """A chain from node to node, places a pixel apart."""
    path = np.array(corners, float)
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(path, axis=0).T))]
    at = np.linspace(0.0, along[-1], round(along[-1]) + 1)
    points = np.stack([np.interp(at, along, c) for c in path.T], 1)
    return Chain(points, (a, b))


def network(nodes: int, *chains: Chain) -> Network:
    """A network whose nodes lie where its chains end."""
    places = [np.zeros(2) for _ in range(nodes)]
    for one in chains:
        for end, node in zip((0, -1), one.ends, strict=True):
            places[node] = one.points[end].copy()
    return Network(places, list(chains), WIDTH)


@pytest.mark.parametrize(
    ("wide", "tall", "stays"),
    # a square millimetre is 100 px²; what is longer than 15 px is no speck
    [(9, 11, False), (10, 11, True), (3, 15, False), (3, 16, True)],
)
def test_specks_go(wide: int, tall: int, stays: bool) -> None:
    mask = np.zeros((60, 60), bool)
    mask[20 : 20 + tall, 20 : 20 + wide] = True
    assert clean_mask(mask, SCALE).any() == stays


@pytest.mark.parametrize(("side", "fills"), [(1, True), (2, False)])
def test_pinholes_are_filled(side: int, fills: bool) -> None:
    # 0.02 mm² are 2 px²
    mask = np.zeros((60, 60), bool)
    mask[20:40, 20:40] = True
    mask[30 : 30 + side, 30] = False
    assert clean_mask(mask, SCALE)[20:40, 20:40].all() == fills


@pytest.mark.parametrize(("long", "left", "told"), [
    (8.0, False, True), (10.0, True, False), (1.0, False, False), (2.5, False, True),
])  # fmt: skip
def test_a_spur_is_no_longer_than_a_width_and_a_half(
    long: float, left: bool, told: bool
) -> None:
    # from a line's middle; from 0.3 widths on it was perhaps drawn
    at = (100.0, 50.0)
    spur = Chain(np.array([[100.0, 50.0], [100.0, 50.0 + long]]), (1, 3))
    found = network(
        4, chain(0, 1, (0.0, 50.0), at), chain(1, 2, at, (200.0, 50.0)), spur
    )
    _drop_spurs(found)
    assert len(found.chains) == (3 if left else 1)
    assert len(found.stubs) == told
    if told:
        foot, tip = found.stubs[0]
        assert foot.tolist() == [100.0, 50.0]
        assert tip.tolist() == [100.0, 50.0 + long]
    if not left:
        # what it parted is one again
        assert found.chains[0].ends == (0, 2)
        assert found.chains[0].length == pytest.approx(200.0)


@pytest.mark.parametrize(("long", "stays"), [(17.0, False), (19.0, True)])
def test_a_stroke_alone_is_three_widths_long(long: float, stays: bool) -> None:
    found = network(2, chain(0, 1, (0.0, 0.0), (long, 0.0)))
    _drop_spurs(found)
    assert bool(found.chains) == stays


@pytest.mark.parametrize(("apart", "one"), [(5.0, True), (6.0, False)])
def test_forks_nearer_than_the_pen_is_wide_are_one(apart: float, one: bool) -> None:
    a, b = (100.0, 50.0), (100.0 + apart, 50.0)
    found = network(
        6, chain(0, 1, a, b), chain(0, 2, a, (50.0, 0.0)), chain(0, 3, a, (50.0, 90.0)),
        chain(1, 4, b, (150.0, 0.0)), chain(1, 5, b, (150.0, 90.0)),
    )  # fmt: skip
    _contract_short(found)
    assert len(found.chains) == (4 if one else 5)
    assert len(found.at_node()) == (5 if one else 6)
    if one:
        (node,) = (n for n, met in found.at_node().items() if len(met) == 4)
        assert found.nodes[node] == pytest.approx([100.0 + apart / 2, 50.0])


def test_a_short_end_is_no_fork() -> None:
    found = network(2, chain(0, 1, (0.0, 0.0), (4.0, 0.0)))
    _contract_short(found)
    assert len(found.chains) == 1


def test_loops_shorter_than_said_go() -> None:
    ring = chain(0, 0, (0.0, 0.0), (5.0, 0.0), (5.0, 5.0), (0.0, 0.0))
    free = Chain(ring.points, (-1, -1))
    line = chain(0, 1, (0.0, 0.0), (3.0, 0.0))
    assert _without_loops([ring, free, line], 20.0) == [free, line]
    assert _without_loops([ring, free, line], 16.0) == [ring, free, line]


def test_chains_that_alone_meet_are_one() -> None:
    # end to end, head to head, and a loop with a node that is none
    a, b, c = (0.0, 0.0), (50.0, 0.0), (100.0, 20.0)
    for first in (chain(0, 1, a, b), chain(1, 0, b, a)):
        for second in (chain(1, 2, b, c), chain(2, 1, c, b)):
            found = network(3, first, second)
            join_through(found)
            (one,) = found.chains
            assert set(one.ends) == {0, 2}
            ends = one.points[[0, -1]] if one.ends == (0, 2) else one.points[[-1, 0]]
            assert ends.tolist() == [list(a), list(c)]
    loop = network(1, chain(0, 0, a, b, c, a))
    join_through(loop)
    assert loop.chains[0].ends == (-1, -1)
    assert np.array_equal(loop.chains[0].points[0], loop.chains[0].points[-1])


def fused(long: float, depth: float, middle: float) -> Network:
    """Four lines, and a chain between two forks; the ink so deep, along it and mid-way.

    A mask of rows: lines elsewhere are 3 px deep.
    """
    a, b = (100.0, 100.0), (100.0 + long, 100.0)
    found = network(
        6, chain(0, 1, a, b),
        chain(0, 2, a, (20.0, 40.0)), chain(0, 3, a, (20.0, 160.0)),
        chain(1, 4, b, (b[0] + 80, 40.0)), chain(1, 5, b, (b[0] + 80, 160.0)),
    )  # fmt: skip
    mask = draw_lines([c.points for c in found.chains[1:]], (200, 320), 6)
    x = np.arange(round(a[0]), round(b[0]) + 1)
    share = 1 - np.abs(2 * (x - a[0]) / long - 1)
    for column, part in zip(x, share, strict=True):
        half = depth + part * (middle - depth)
        mask[round(100 - half + 1) : round(100 + half), column] = True
    _contract_fused(found, mask)
    return found


@pytest.mark.parametrize(
    ("long", "depth", "middle", "one"),
    [
        # six widths long at most
        (30.0, 4.0, 7.0, True),
        (40.0, 4.0, 7.0, False),
        # no wider than a line
        (30.0, 3.0, 3.0, False),
        # half as deep again is two lines however even
        (30.0, 6.0, 6.0, True),
    ],
)
def test_forks_are_one_where_the_ink_of_two_lines_ran_together(
    long: float, depth: float, middle: float, one: bool
) -> None:
    found = fused(long, depth, middle)
    assert len(found.chains) == (4 if one else 5)
    if one:
        (node,) = (n for n, met in found.at_node().items() if len(met) == 4)
        assert found.nodes[node] == pytest.approx([100.0 + long / 2, 100.0], abs=1.0)
    nothing = Network([], [], WIDTH)
    _contract_fused(nothing, np.ones((9, 9), bool))
    assert nothing.chains == []


def test_a_cross_has_four_chains_to_one_node() -> None:
    lines = [np.array([[20.0, 100.0], [180.0, 100.0]]),
             np.array([[100.0, 20.0], [100.0, 180.0]])]  # fmt: skip
    mask = draw_lines(lines, (200, 200), 6)
    found = build_network(mask, mask.astype(np.float32))
    assert len(found.chains) == 4
    assert found.width == pytest.approx(6.0, abs=0.8)
    at = found.at_node()
    (middle,) = (n for n, met in at.items() if len(met) == 4)
    # PIL's lines of 6 px lie half a pixel up and left
    assert found.nodes[middle] == pytest.approx([99.5, 99.5], abs=1.0)
    assert sorted(len(met) for met in at.values()) == [1, 1, 1, 1, 4]
    strands = build_strands(found)
    assert sorted(len(s.stops) for s in strands) == [3, 3]
    # a ring alone has no node, and is closed
    y, x = np.mgrid[:200, :200] - 100.0
    mask = np.abs(np.hypot(x, y) - 60.0) < 3.0
    found = build_network(mask, mask.astype(np.float32))
    (one,) = build_strands(found)
    assert one.closed
    radius = np.hypot(*(one.points - 100.0).T)
    assert radius == pytest.approx(np.full(len(radius), 60.0), abs=0.8)


def test_places_move_to_the_middle_of_the_ink() -> None:
    strength = np.zeros((60, 200), np.float32)
    strength[27:33] = [[0.5], [1.0], [1.0], [1.0], [1.0], [0.75]]
    # the middle of mass, less a quarter of the most, from 27 to 32
    weight = np.array([0.25, 0.75, 0.75, 0.75, 0.75, 0.5])
    want = weight @ np.arange(27, 33) / weight.sum()
    line = np.c_[np.arange(20.0, 180.0), np.full(160, 28.0)]
    found = _refined(line, strength, WIDTH)
    assert found[20:-20, 1] == pytest.approx(np.full(120, want), abs=0.1)
    assert found[20:-20, 0] == pytest.approx(line[20:-20, 0], abs=0.01)
    # by half a width at most
    far = _refined(line - [0.0, 3.5], strength, WIDTH)
    assert far[80, 1] <= 28.0 - 3.5 + 3.0 + 1e-9
    assert _refined(line[:4], strength, WIDTH) is not None


@pytest.mark.parametrize(
    ("turn", "one"),
    # 27 degrees
    [(0.0, True), (24.0, True), (30.0, False)],
)
def test_two_chains_that_meet_smoothly_are_one_strand(turn: float, one: bool) -> None:
    a = np.radians(turn)
    at = (100.0, 50.0)
    end = (100 + 90 * np.cos(a), 50 + 90 * np.sin(a))
    found = network(3, chain(0, 1, (0.0, 50.0), at), chain(1, 2, at, end))
    strands = build_strands(found)
    assert len(strands) == (1 if one else 2)
    if one:
        (strand,) = strands
        assert [node for _, node in strand.stops] in ([0, 1, 2], [2, 1, 0])
        # 101 places and 91, the middle node at the first of the second chain
        assert len(strand.points) == len(strand.weight) == 192
        assert [place for place, _ in strand.stops] in ([0, 101, 191], [0, 91, 191])
        assert not strand.closed


def test_of_several_ways_on_the_straightest_is_taken() -> None:
    # three lines through a point, ten degrees apart: each goes straight on
    at = (200.0, 200.0)
    chains = []
    for k, degrees in enumerate((0.0, 10.0, 20.0)):
        way = 150 * np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
        chains.append(chain(0, 2 * k + 1, at, tuple(at + way)))
        chains.append(chain(2 * k + 2, 0, tuple(at - way), at))
    strands = build_strands(network(7, *chains))
    assert len(strands) == 3
    for strand in strands:
        ends = sorted((strand.stops[0][1], strand.stops[-1][1]))
        assert ends in ([1, 2], [3, 4], [5, 6])


def stem(long: float, angle: float, *, sides: int = 1) -> Network:
    """Two lines at so many degrees whose ink runs together over a stem so long.

    `sides`: -1 where both arms of each fork lie on one side.
    """
    a, b = (300.0 - long / 2, 200.0), (300.0 + long / 2, 200.0)
    slope = np.tan(np.radians(angle / 2))
    arms = [chain(0, 1, a, b)]
    for k, (x, y) in enumerate([(-1, -1), (-1, 1), (1, -1), (1, 1)]):
        start = a if x < 0 else b
        out = 150.0
        rise = y * slope * out
        stop = (start[0] + x * out * (sides if x > 0 else 1), start[1] + rise)
        arms.append(chain(0 if x < 0 else 1, 2 + k, start, stop))
    return network(6, *arms)


@pytest.mark.parametrize(
    ("long", "angle", "opened"),
    [
        (20.0, 8.0, True),
        (60.0, 8.0, True),
        # longer than sixteen widths is none
        (94.0, 1.0, True),
        (98.0, 1.0, False),
    ],
)
def test_a_stem_between_two_lines_that_cross_is_taken_out(
    long: float, angle: float, opened: bool
) -> None:
    found = stem(long, angle)
    assert open_stems(found) == opened
    assert len(found.chains) == (4 if opened else 5)
    if opened:
        (node,) = (n for n, met in found.at_node().items() if len(met) == 4)
        assert found.nodes[node] == pytest.approx([300.0, 200.0], abs=1.0)
    # arms of both forks to one side are no lines that go on
    assert open_stems(stem(long, angle, sides=-1)) == 0


def test_what_is_asked_of_a_chain_lies_between_two_lengths() -> None:
    line = chain(0, 1, (0.0, 0.0), (100.0, 0.0))
    assert _beyond(line, 0, 10.0, 30.0)[[0, -1], 0].tolist() == [10.0, 30.0]
    assert _beyond(line, 1, 10.0, 30.0)[[0, -1], 0].tolist() == [90.0, 70.0]
    # of a short one from 0.35 of it on
    assert _beyond(line, 0, 60.0, 80.0)[0, 0] == 35.0
    # near its nodes, within 0.9 widths, it counts nothing
    found = network(2, line)
    weight = _weights(line.points, found, line)
    assert np.flatnonzero(weight == 0).tolist() == [*range(6), *range(95, 101)]
    # where nothing is left its middle half counts a little
    short = chain(0, 1, (0.0, 0.0), (8.0, 0.0))
    weight = _weights(short.points, network(2, short), short)
    assert weight.tolist() == [0, 0, 0.3, 0.3, 0.3, 0.3, 0, 0, 0]
