"""How far a file's decimals may have moved a point, below transforms too."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.geometry import affine
from fillwork.linework import Frame
from fillwork.readers.strokes.collect import StrokeTable, transform_rows
from fillwork.readers.strokes.decimals import rounding_as_written
from tests.unit.readers.strokes.tables import about, line, table

TURN = (
    3 * math.cos(0.3),
    3 * math.sin(0.3),
    -3 * math.sin(0.3),
    3 * math.cos(0.3),
    1,
    2,
)
PAGE = (0.5, 0.0, 0.0, -0.5, 0.0, 100.0)
HALF = math.sqrt(2) / 2  # the diagonal of half a step


def drawing(count: int, decimals: int) -> StrokeTable:
    """Lines whose ends have so many decimals, in the units of their file."""
    ends = np.random.default_rng(4).uniform(0, 200, (count, 4)).round(decimals)
    return table(*([line(*row)] for row in ends.tolist()))


def told(
    shares: list[tuple[int, tuple[float, ...]]], decimals: int = 2
) -> tuple[float, float]:
    """Return what is known of lines, so many below each transform."""
    strokes = drawing(sum(count for count, _ in shares), decimals)
    contexts, of_item = [], []
    for count, matrix in shares:
        of_item += [len(contexts)] * count
        contexts.append(about(matrix=matrix, width=float(len(contexts))))
    which = np.array(of_item)
    maps = np.array([affine.compose(PAGE, c.matrix) for c in contexts])
    transform_rows(strokes.kind, strokes.data, maps, which)
    frame = Frame(100.0, 100.0, PAGE, "px", True)
    return rounding_as_written(strokes.curves(), strokes, contexts, which, frame)


def test_decimals_of_plain_drawings_count_in_mm() -> None:
    # half a hundredth of a unit of 0.5 mm, along both axes
    assert told([(40, affine.IDENTITY)]) == pytest.approx([0.01 * 0.5 * HALF] * 2)
    assert told([(40, affine.IDENTITY)], 1) == pytest.approx([0.1 * 0.5 * HALF] * 2)


def test_decimals_are_those_before_the_transform() -> None:
    step = 0.01 * 0.5 * 3 * HALF
    assert told([(40, TURN)]) == pytest.approx([step] * 2)
    # 95 of 100 lie below it, in one context or several
    assert told([(95, TURN), (5, affine.IDENTITY)]) == pytest.approx([step] * 2)
    assert told([(94, TURN), (6, affine.IDENTITY)]) == (math.inf, math.inf)
    together = [(3, affine.IDENTITY), (50, TURN), (47, TURN)]
    assert told(together) == pytest.approx([step] * 2)
    assert told([(50, affine.IDENTITY), (50, TURN)]) == (math.inf, math.inf)


def test_more_decimals_than_are_looked_for_bound_what_was_written() -> None:
    first, second = told([(40, TURN)], 12)
    assert first == math.inf
    assert second == pytest.approx(1e-7 * 0.5 * 3 * HALF)


def test_a_transform_that_leaves_no_area_tells_nothing() -> None:
    flat = (1.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    assert told([(40, flat)]) == pytest.approx([0.01 * 0.5 * HALF] * 2)
