"""Which pieces in line are dashes: each limit from both sides."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.strokes.collect import StrokeTable
from fillwork.readers.strokes.dashes import _dashed_items, _runs, rounded_width


def row(
    count: int = 8, *, gap: float = 1.0, piece: float = 3.0, bend: float = 0.0,
    gaps: dict[int, float] | None = None,
) -> StrokeTable:  # fmt: skip
    """Pieces in line with gaps between, the line bent by so much in each gap.

    `gaps`: those of other sizes, by their number.
    """
    at, angle, lines = np.zeros(2), 0.0, []
    for k in range(count):
        way = np.array([np.cos(angle), np.sin(angle)])
        lines.append([*at, *(at + piece * way)])
        at = at + piece * way
        # half of the bend before the gap and half behind it
        angle += np.radians(bend)
        half = angle - np.radians(bend) / 2
        wide = (gaps or {}).get(k, gap)
        at = at + wide * np.array([np.cos(half), np.sin(half)])
    data = np.zeros((count, 8))
    data[:, :4] = lines
    table = StrokeTable.of_lines(data, 0)
    table.item[:] = np.arange(count)
    return table


def in_runs(table: StrokeTable) -> int:
    """Return how many pieces are in runs, all of one look."""
    count = len(table.closed)
    found = _runs(table, np.zeros(count, np.int64), np.ones(count, bool))
    return int((found >= 0).sum())


@pytest.mark.parametrize(
    ("table", "dashes"),
    [
        (row(), 8),
        # six at least
        (row(6), 6),
        (row(5), 0),
        # a gap is no longer than one and a half pieces
        (row(gap=4.4), 8),
        (row(gap=4.6), 0),
        # in each gap half of the bend to both sides: of a cosine of 0.97, 14 degrees
        (row(bend=26.0), 8),
        (row(bend=30.0), 0),
        # gaps are alike within a tenth, eight of ten of them
        (row(11, gaps={2: 1.3, 7: 0.8}), 11),
        (row(11, gaps={2: 1.3, 5: 1.3, 7: 0.8}), 0),
        (row(11, gaps=dict.fromkeys((1, 3, 5, 7), 1.09)), 11),
        (row(11, gaps=dict.fromkeys((1, 3, 5, 7), 1.11)), 0),
        # pieces that touch have none
        (row(gap=0.0), 0),
    ],
)
def test_dashes_lie_in_line_with_gaps_alike(table: StrokeTable, dashes: int) -> None:
    assert in_runs(table) == dashes


def test_a_run_is_of_one_look_and_of_lines_that_may_be_dashes() -> None:
    table = row(14)
    style = np.repeat([0, 1], 7)
    some = np.ones(14, bool)
    found = _runs(table, style, some)
    assert len(set(found[:7])) == len(set(found[7:])) == 1
    assert found[0] != found[7]
    # one between them that is no line parts a run
    some[6] = False
    assert _runs(table, style * 0, some).tolist()[:7] == [*[found[0]] * 6, -1]
    assert (_runs(table, style * 0, np.zeros(14, bool)) == -1).all()


@pytest.mark.parametrize(("touched", "dashes"), [(1, 8), (2, 0)])
def test_ends_that_lie_on_other_lines_are_no_dashes(touched: int, dashes: int) -> None:
    # a piece eight times, between them 14 ends at gaps: two of ten may lie on a line
    table = row(8)
    across = np.zeros((touched * 2, 8))
    for k in range(touched):
        # both ends at a gap
        for side, x in enumerate((3.0 + 4 * k, 4.0 + 4 * k)):
            across[2 * k + side, :4] = x, -5.0, x, 5.0
    both = StrokeTable.of_lines(np.vstack([table.data, across]), 0)
    both.item[:] = np.arange(8 + 2 * touched)
    count = len(both.closed)
    found = _dashed_items(both, np.zeros(count, np.int64), np.ones(count, bool))
    assert len(found) == dashes
    # a line that passes by 0.0002 of the drawing's size does not touch them
    both.data[8:, [0, 2]] += np.where(both.data[8:, [0, 2]] % 4 == 3, 0.01, -0.01)
    found = _dashed_items(both, np.zeros(count, np.int64), np.ones(count, bool))
    assert len(found) == 8


def test_an_item_of_dashes_has_no_other_lines() -> None:
    table = row(8)
    table.item[:] = [0, 0, 0, 0, 1, 1, 1, 1]
    look, some = np.zeros(8, np.int64), np.ones(8, bool)
    assert _dashed_items(table, look, some).tolist() == [0, 1]
    # the second has a line elsewhere besides
    data = np.vstack([table.data, [[0.0, 50.0, 9.0, 50.0, 0, 0, 0, 0]]])
    more = StrokeTable.of_lines(data, 0)
    more.item[:] = [0, 0, 0, 0, 1, 1, 1, 1, 1]
    look, some = np.zeros(9, np.int64), np.ones(9, bool)
    assert _dashed_items(more, look, some).tolist() == [0]
    assert len(_dashed_items(table, look[:8], np.zeros(8, bool))) == 0


def test_widths_that_differ_by_rounding_are_one() -> None:
    assert rounded_width(0.150004) == rounded_width(0.149996) == 0.15
    assert rounded_width(0.1501) != rounded_width(0.15)
