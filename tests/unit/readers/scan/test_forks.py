"""Forks: two lines whose ink runs into one before they meet."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.forks import part_forks
from fillwork.readers.scan.gaps import add_line
from fillwork.readers.scan.model import Drawing

WIDTH = 6.0
INK = np.ones((300, 600), bool)


def fork(
    angle: float, behind: float, *, arms: float = 200.0, stem: float = 200.0,
    aside: float = 0.0,
) -> Drawing:  # fmt: skip
    """Two lines so many degrees apart that meet some widths behind their fork.

    The fork lies at (300, 150), its stem to the left, ends at vertices 1, 3 and 5; each
    piece has the carrier of its own line.
    """
    found = Drawing([], [], WIDTH)
    place = np.array([300.0 - behind * WIDTH, 150.0 + aside * WIDTH])
    at = np.array([300.0, 150.0])
    add_line(found, at, np.array([300.0 - stem, 150.0]))
    for half in (-angle / 2, angle / 2):
        way = np.array([np.cos(np.radians(half)), np.sin(np.radians(half))])
        add_line(found, at, at + arms * way)
        found.pieces[-1].carrier = np.r_[place, way]
        found.pieces[-1].points = at + np.arange(arms)[:, None] * way
    for piece in found.pieces[1:]:
        piece.vertices[0] = 0
    return found


@pytest.mark.parametrize(
    ("behind", "mask", "parted"),
    [
        (6.0, INK, True),
        # two widths behind are more than the fork itself; fourteen are the most
        (13.5, INK, True),
        (14.6, INK, False),
    ],
)
def test_lines_go_on_along_the_stem_to_where_they_meet(
    behind: float, mask: np.ndarray, parted: bool
) -> None:
    lines = fork(4.0, behind)
    part_forks(lines, mask)
    assert len(lines.forks) == (not parted)
    if parted:
        goal = lines.pieces[1].vertices[0]
        assert goal == lines.pieces[2].vertices[0] == lines.pieces[0].vertices[0]
        want = [300.0 - behind * WIDTH, 150.0]
        assert lines.vertices[goal] == pytest.approx(want, abs=1e-6)


def test_they_do_not_go_on_over_paper() -> None:
    mask = INK.copy()
    mask[:, 270:275] = False
    lines = fork(4.0, 6.0)
    part_forks(lines, mask)
    assert len(lines.forks) == 1
    assert lines.pieces[1].vertices == [0, 3]


@pytest.mark.parametrize(
    ("behind", "arms", "told"),
    # what meets at its fork is well, but where the arms are too short to say
    [(1.3, 80.0, 0), (1.3, 66.0, 1)],
)
def test_lines_that_meet_at_their_fork_stay(
    behind: float, arms: float, told: int
) -> None:
    lines = fork(10.0, behind, arms=arms)
    part_forks(lines, INK)
    assert [p.vertices for p in lines.pieces] == [[0, 1], [0, 3], [0, 5]]
    assert len(lines.forks) == told


@pytest.mark.parametrize(("behind", "moved"), [(1.4, False), (1.7, True)])
def test_within_a_width_and_a_half_is_the_fork_itself(
    behind: float, moved: bool
) -> None:
    lines = fork(10.0, behind)
    part_forks(lines, INK)
    assert (lines.pieces[1].vertices[0] != 0) == moved
    assert not lines.forks


@pytest.mark.parametrize(
    ("angle", "is_fork"),
    # the arms part by less than 45 degrees, so that the stem goes on from both
    [(43.0, True), (47.0, False)],
)
def test_what_parts_by_less_than_half_a_right_angle_is_a_fork(
    angle: float, is_fork: bool
) -> None:
    # lines that meet nowhere near: what stays is told if it is a fork
    lines = fork(angle, 20.0)
    part_forks(lines, INK)
    assert len(lines.forks) == is_fork


@pytest.mark.parametrize(("turn", "is_fork"), [(8.0, True), (12.0, False)])
def test_a_stem_goes_on_from_both_arms(turn: float, is_fork: bool) -> None:
    # arms 40 degrees apart; the stem misses the far one's way by 20 and a turn,
    # 30 degrees at most
    lines = fork(40.0, 20.0)
    a = np.radians(180.0 + turn)
    lines.vertices[1] = lines.vertices[0] + 200 * np.array([np.cos(a), np.sin(a)])
    part_forks(lines, INK)
    assert len(lines.forks) == is_fork


@pytest.mark.parametrize(
    ("angle", "hidden"),
    # w² / sin a / 1.5, for sines from 0.1 on; that of 5.7 degrees
    [(3.0, 36 / 0.1 / 1.5), (20.0, 36 / np.sin(np.radians(20)) / 1.5)],
)
def test_what_a_fork_hides_follows_from_its_angle(angle: float, hidden: float) -> None:
    lines = fork(angle, 20.0)
    part_forks(lines, INK)
    (found,) = lines.forks
    assert found.hidden == pytest.approx(hidden)
    assert found.at == pytest.approx([300.0, 150.0])
    # between both arms
    assert found.way / np.hypot(*found.way) == pytest.approx([1.0, 0.0], abs=1e-9)


@pytest.mark.parametrize(("aside", "parted"), [(0.4, True), (0.6, False)])
def test_where_they_meet_lies_on_the_stem(aside: float, parted: bool) -> None:
    # half a width beside the stem at most
    lines = fork(5.0, 5.0, aside=aside)
    part_forks(lines, INK)
    assert len(lines.forks) == (not parted)


@pytest.mark.parametrize(("beyond", "same"), [(1.3, True), (1.7, False)])
def test_a_vertex_of_the_stem_near_it_is_where_they_meet(
    beyond: float, same: bool
) -> None:
    lines = fork(4.0, 6.0)
    there = lines.add(np.array([300.0 - (6.0 + beyond) * WIDTH, 150.0]))
    lines.pieces[0].vertices.insert(1, there)
    part_forks(lines, INK)
    assert (lines.pieces[1].vertices[0] == there) == same
    assert not lines.forks


def test_arms_that_part_like_a_swallows_tail_touch_and_do_not_cross() -> None:
    # circles of 400 px that touch each other from outside 6 widths behind the fork, and
    # overlap by a fifth of a pixel
    lines = fork(10.0, 6.0)
    touch = 264.0
    for piece, side in zip(lines.pieces[1:], (-1, 1), strict=True):
        piece.circle, piece.turn = True, side * 0.4
        piece.carrier = np.array([touch, 150.0 + side * 399.9, 400.0])
    part_forks(lines, INK)
    goal = lines.pieces[1].vertices[0]
    assert lines.vertices[goal] == pytest.approx([touch, 150.0], abs=1e-6)
    assert not lines.forks


def test_a_stem_that_goes_on_as_one_of_the_arms_keeps_its_way() -> None:
    # stem and one arm are one piece: the other arm is carried on alone
    lines = fork(4.0, 6.0)
    stem, arm, other = lines.pieces
    arm.vertices = [stem.vertices[1], 0, arm.vertices[1]]
    lines.pieces = [arm, other]
    part_forks(lines, INK)
    assert not lines.forks
    goal = other.vertices[0]
    assert goal != 0
    assert arm.vertices == [1, goal, 3]
