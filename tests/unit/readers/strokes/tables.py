"""Small tables of strokes for the tests of what readers share."""

from __future__ import annotations

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.curves import ARC, CUBIC, LINE
from fillwork.readers.strokes.collect import Context, StrokeTable

Row = tuple[int, list[float]]


def line(*numbers: float) -> Row:
    """A straight line: x and y of both ends."""
    return LINE, [*numbers, 0.0, 0.0, 0.0, 0.0]


def arc(
    x: float, y: float, radius: float, begin: float, end: float,
    other: float | None = None,
) -> Row:  # fmt: skip
    """An arc by centre, half-diameter along x (and y) and angles in degrees."""
    high = radius if other is None else other
    angles = np.radians([begin, end]).tolist()
    return ARC, [x, y, radius, 0.0, 0.0, high, *angles]


def cubic(*numbers: float) -> Row:
    """A Bézier curve: its four control points."""
    return CUBIC, list(numbers)


def table(
    *strokes: list[Row], closed: bool = False, item: object = None
) -> StrokeTable:
    """Strokes of some curves each; each an item of its own, or those that are given."""
    rows = [row for stroke in strokes for row in stroke]
    n = len(strokes)
    return StrokeTable(
        np.array([kind for kind, _ in rows], np.uint8),
        np.array([data for _, data in rows], np.float64).reshape(-1, 8),
        np.cumsum([0, *map(len, strokes)]),
        np.full(n, closed),
        np.arange(n) if item is None else np.full(n, item, np.int64),
    )


def polygon(*corners: tuple[float, float], closed: bool = True) -> list[Row]:
    """Straight lines from corner to corner, and back to the first."""
    after = corners[1:] + corners[:1] if closed else corners[1:]
    return [line(*a, *b) for a, b in zip(corners, after, strict=False)]


def box(x: float, y: float, width: float, height: float) -> list[Row]:
    """The four sides of a rectangle, counter-clockwise from the lower left."""
    right, top = x + width, y + height
    return polygon((x, y), (right, y), (right, top), (x, top))


def ends(told: StrokeTable) -> list[list[float]]:
    """The straight lines of a table, by both ends, to nine places."""
    return np.round(told.data[:, :4] + 0.0, 9).tolist()


def about(**changed: object) -> Context:
    """How an item is painted: a black line of 0.2 mm, but for what is given."""
    plain = Context(
        affine.IDENTITY, stroked=True, filled=False, colour="#000000", width=0.2,
        dash=False, layer=None, clip=-1, even_odd=False, names=0, gradient=False,
    )  # fmt: skip
    return plain._replace(**changed)


def fill(**changed: object) -> Context:
    """A fill without a line, in red, that covers what was drawn before."""
    return about(
        **{
            "stroked": False, "filled": True, "colour": "#ff0000", "width": 0.0,
            "covers": True, "fill": "#ff0000", **changed,
        }
    )  # fmt: skip
