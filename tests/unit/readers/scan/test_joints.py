"""Curves that change their bend where they cross."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.circles import fit_circle, misses
from fillwork.readers.scan.model import Drawing, Piece
from fillwork.readers.scan.settle import _solve

WIDTH = 4.3
AT = np.array([200.0, 200.0])


def crossed(*, turned: bool) -> Drawing:
    """Two waves that cross, each cut there into a circle's part and a line's.

    Above the crossing each bends about a circle of 80 px that was seen from 60 px on,
    and lies beside it at the crossing by a width and more.
    """
    drawing = Drawing([AT.copy()], [], WIDTH)
    for way in (-1.0, 1.0):
        # a quarter of a circle that eases into a straight line, as a cosine does
        t = np.linspace(0.0, 120.0, 241)
        bend = np.interp(t, [0.0, 20.0, 52.0, 120.0], [0.0, 0.0, 1 / 80, 1 / 80])
        angle = np.radians(50.0) + np.r_[0.0, np.cumsum(bend[1:] * 0.5)]
        step = 0.5 * np.c_[np.cos(angle), np.sin(angle)]
        arc = np.vstack([np.zeros(2), np.cumsum(step[1:], axis=0)]) * [way, -1.0] + AT
        down = np.array([-way * np.cos(np.radians(50.0)), np.sin(np.radians(50.0))])
        line = np.linspace(0.0, 120.0, 241)[:, None] * down + AT
        drawing.vertices += [arc[-1].copy(), line[-1].copy()]
        top, foot = len(drawing.vertices) - 2, len(drawing.vertices) - 1
        circle = fit_circle(arc[120:])
        assert circle is not None
        carrier = np.r_[AT, down]
        parts = [
            Piece(True, circle, way * 1.1, [top, 0], arc[::-1]),
            Piece(False, carrier, 0.0, [0, foot], line),
        ]
        if turned:
            parts = [
                Piece(p.circle, p.carrier, -p.turn, p.vertices[::-1], p.points[::-1])
                for p in parts[::-1]
            ]
        drawing.pieces += parts
    return drawing


@pytest.mark.parametrize("turned", [False, True])
def test_a_curve_that_straightens_at_a_crossing_goes_on(turned: bool) -> None:
    drawing = crossed(turned=turned)
    arcs = [p for p in drawing.pieces if p.circle]
    assert all(abs(misses(AT[None], p.carrier)[0]) > 0.7 * WIDTH for p in arcs)
    _solve(drawing, np.ones((400, 400), bool), 1.0)
    for k in (0, 2):
        one, two = drawing.pieces[k : k + 2]
        (joint,) = set(one.vertices) & set(two.vertices)
        ink = np.vstack([one.points, two.points])
        assert np.hypot(*(ink - drawing.vertices[joint]).T).min() < WIDTH
