"""Dashes that a program wrote one by one: which items, and when they are asked for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.readers.limits import NORMAL
from fillwork.readers.strokes.collect import Collector, Context, StrokeTable
from fillwork.readers.strokes.dashes import _free_runs, _runs, _unit, know_dashes
from tests.unit.readers.strokes.tables import Row, about, arc, fill, line, table

ROW = [[line(4.0 * k, 0, 4.0 * k + 3, 0)] for k in range(8)]


def dashed(
    strokes: StrokeTable, contexts: list[Context], of_item: list[int]
) -> list[bool]:
    gathered = Collector(NORMAL, "a.svg")
    gathered.contexts += contexts
    for k in of_item:
        gathered.add_item(k, 1, "path")
    know_dashes(strokes, gathered)
    return [gathered.contexts[k].dash for k in gathered.item_context]


GUIDE = about(colour="#00f")


def test_dashes_are_looked_for_where_there_are_two_colours() -> None:
    strokes = table(*ROW, [line(0, 50, 40, 50)])
    black = about()
    assert dashed(strokes, [black, GUIDE], [1] * 8 + [0]) == [True] * 8 + [False]
    assert not any(dashed(strokes, [black], [0] * 9))
    # the colour of a fill is no line's
    assert not any(dashed(strokes, [black, fill()], [0] * 8 + [1]))


@pytest.mark.parametrize(
    "changed",
    [
        # not those that the file fills or calls dashed, nor across two looks
        {"filled": True},
        {"stroked": False},
        {"colour": "#0f0"},
        {"layer": "b"},
        {"clip": 2},
        {"width": 0.3},
    ],
)
def test_dashes_are_of_one_look(changed: dict[str, object]) -> None:
    strokes = table(*ROW, [line(0, 50, 40, 50)])
    contexts = [about(), GUIDE, GUIDE._replace(**changed)]
    looks = [1, 2] * 4
    assert not any(dashed(strokes, contexts, [*looks, 0])), changed
    # widths that differ by rounding are one
    alike = [about(), GUIDE, GUIDE._replace(width=0.200001)]
    assert dashed(strokes, alike, [*looks, 0]) == [True] * 8 + [False]


def test_what_says_it_is_dashed_or_closed_is_not_asked() -> None:
    strokes = table(*ROW, [line(0, 50, 40, 50)])
    closed = replace(strokes, closed=np.array([True] * 8 + [False]))
    assert not any(dashed(closed, [about(), GUIDE], [1] * 8 + [0]))
    contexts = [about(), GUIDE._replace(dash=True)]
    assert dashed(strokes, contexts, [1] * 8 + [0]) == [True] * 8 + [False]


def test_pieces_of_several_curves_are_one_dash() -> None:
    # each bent twice; the gap is no longer than one and a half of its whole length
    rows: list[list[Row]] = [
        [line(10 * k, 0, 10 * k + 1, 0), line(10 * k + 1, 0, 10 * k + 4, 0)]
        for k in range(6)
    ]
    told = table(*rows)
    none, some = np.zeros(6, int), np.ones(6, bool)
    assert (_runs(told, none, some) == 0).all()
    short = table(*[[line(10 * k, 0, 10 * k + 3.9, 0)] for k in range(6)])
    assert (_runs(short, none, some) == -1).all()
    # along arcs of a circle: each goes on in the direction of its end
    ring = table(*[[arc(0, 0, 20, 12 * k, 12 * k + 8)] for k in range(7)])
    assert (_runs(ring, np.zeros(7, int), np.ones(7, bool)) == 0).all()
    back = table(*[[arc(0, 0, 20, 12 * k + 8, 12 * k)] for k in range(7)])
    assert (_runs(back, np.zeros(7, int), np.ones(7, bool)) == -1).all()
    # turned at one of its ends alone it is none
    hooked = table(*[[line(4 * k, 0, 4 * k + 2, 0), line(4 * k + 2, 0, 4 * k + 3, 1)]
                     for k in range(7)])  # fmt: skip
    assert (_runs(hooked, np.zeros(7, int), np.ones(7, bool)) == -1).all()


def test_runs_are_numbered_apart() -> None:
    told = table(*ROW, *[[line(4.0 * k, 9, 4.0 * k + 3, 9)] for k in range(8)])
    got = _runs(told, np.zeros(16, int), np.ones(16, bool))
    assert len(set(got[:8])) == len(set(got[8:])) == 1
    assert got[0] != got[8]
    # one of the two ends on lines
    across = [[line(4.0 * k + 3, 5, 4.0 * k + 3, 20)] for k in range(7)]
    both = table(*ROW, *[[line(4.0 * k, 9, 4.0 * k + 3, 9)] for k in range(8)], *across)
    run = np.append(got, np.full(7, -1))
    left = _free_runs(both, run)
    assert (left[:8] == got[:8]).all()
    assert (left[8:] == -1).all()


@pytest.mark.parametrize(("off", "free"), [(0.9, False), (1.1, True)])
def test_an_end_near_a_line_lies_on_it(off: float, free: bool) -> None:
    # of a drawing of 100: a ten-thousandth
    across = [
        [line(4.0 * k + 3 + 0.01 * off, -5, 4.0 * k + 3 + 0.01 * off, 5)]
        for k in range(7)
    ]
    told = table(*ROW, *across, [line(0, 50, 100, 50)])
    run = np.array([0] * 8 + [-1] * 8)
    assert (_free_runs(told, run)[:8] == 0).all() == free


def test_directions_have_a_length_of_one() -> None:
    got = _unit(np.array([[3.0, 4.0], [0.0, 0.0], [0.0, -2.0]]))
    assert got.tolist() == [[0.6, 0.8], [0, 0], [0, -1]]
    assert _unit(np.array([[3e-5, 4e-5]])).tolist() == [pytest.approx([0.6, 0.8])]
