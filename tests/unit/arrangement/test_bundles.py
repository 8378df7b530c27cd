"""Very many circles that touch in one point."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from fillwork.arrangement import build_arrangement
from fillwork.readers import read_linework

AT = np.array([60.0, 70.0])


def bundle(radii, decimals, turn=0.0):
    """Return circles that touch in one point, those of negative radius beyond it."""
    way = np.array([np.cos(turn), np.sin(turn)])
    return [
        f"<circle cx='{x:.{decimals}f}' cy='{y:.{decimals}f}' "
        f"r='{abs(r):.{decimals}f}'/>"
        for r, (x, y) in zip(radii, AT + np.outer(radii, way), strict=True)
    ]


def regions(parts):
    style = "fill='none' stroke='#000' stroke-width='0.1'"
    head = "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='200mm' "
    text = f"{head}viewBox='0 0 200 200'><g {style}>{''.join(parts)}</g></svg>"
    return build_arrangement(read_linework(text.encode())).face_count - 1


@pytest.mark.parametrize("decimals", [2, 3, 6, 15])
@pytest.mark.parametrize("turn", [0.0, 1.1])
def test_each_circle_that_touches_the_others_is_one_more_region(decimals, turn):
    radii = 0.11 * np.arange(1, 261) + np.random.default_rng(3).uniform(0, 0.05, 260)
    # some lie on the other side of the point
    radii[::7] *= -1
    assert regions(bundle(radii, decimals, turn)) == len(radii)


@pytest.mark.parametrize("decimals", [3, 15])
def test_lines_part_what_lies_between_such_circles(decimals):
    radii = 0.1 * np.arange(1, 231)
    rings = bundle(radii, decimals)
    # the line of their centres parts each in two
    axis = "<path d='M60 70H120'/>"
    assert regions([*rings, axis]) == 2 * len(radii)
    # an upright one at 20.03 has two crossings with each circle that reaches so far,
    # and one piece less within the largest
    crossed = np.count_nonzero(2 * radii > 20.03)
    upright = "<path d='M80.03 20V120'/>"
    assert regions([*rings, upright]) == len(radii) + 2 * crossed - 1


def test_circles_beside_them_cross_them():
    radii = 0.1 * np.arange(1, 231)
    rings = bundle(radii, 3)
    # one about the point crosses in two places each circle that reaches so far
    crossed = np.count_nonzero(2 * radii > 20.03)
    about = "<circle cx='60' cy='70' r='20.03'/>"
    # by Euler's formula: twice as many vertices, and two edges more for each
    assert regions([*rings, about]) == len(radii) + 2 * crossed
    # a small one between two of them is an island
    small = "<circle cx='82.93' cy='70' r='0.01' stroke-width='0.01'/>"
    assert regions([*rings, small]) == len(radii) + 1


@pytest.mark.parametrize("decimals", [2, 3, 6, 15])
@pytest.mark.parametrize("count", [60, 80, 160])
def test_circles_through_two_points_have_nothing_between_there(count, decimals):
    # by Euler's formula: two vertices, twice as many edges as circles
    rise = 20 * np.tan(np.linspace(-1.1, 1.1, count))
    rings = [
        f"<circle cx='{100 + h * 0.6:.{decimals}f}' cy='{100 + h * 0.8:.{decimals}f}' "
        f"r='{np.hypot(h, 20):.{decimals}f}'/>"
        for h in rise
    ]
    assert regions(rings) == 2 * count - 1
    # the line through both points parts what lies in all circles
    axis = "<path d='M148 64L52 136'/>"
    if decimals > 3:
        assert regions([*rings, axis]) == 2 * count - 1 + 1


def in_pieces(centre, radius, how, decimals):
    """Return a circle as programs write it, two half arcs or four Béziers."""
    turns = 2 if how == "half arcs" else 4
    at = np.exp(2j * np.pi * np.arange(turns + 1) / turns) * radius * np.exp(0.7j)
    middle = complex(*centre)

    def said(*points):
        return " ".join(f"{v:.{decimals}f}" for z in points for v in (z.real, z.imag))

    text = f"M{said(middle + at[0])}"
    for a, b in pairwise(at):
        if how == "Béziers":
            # control points as far along the tangents as SVG 2 has them for quarters
            k = 4 / 3 * (2**0.5 - 1) * 1j
            text += f"C{said(middle + a * (1 + k), middle + b * (1 - k), middle + b)}"
        else:
            size = f"{radius:.{decimals}f}"
            text += f"A{size} {size} 0 0 1 {said(middle + b)}"
    return f"<path d='{text}'/>"


@pytest.mark.parametrize("how", ["half arcs", "arcs", "Béziers"])
@pytest.mark.parametrize("decimals", [2, 3, 6])
@pytest.mark.parametrize("count", [5, 8, 11, 14, 60])
def test_circles_in_pieces_touch_and_cross_as_whole_ones(count, decimals, how):
    # rings that touch in one point: one region more for each
    radii = np.linspace(6, 40, count)
    way = np.array([np.cos(0.3), np.sin(0.3)])
    rings = [in_pieces(AT + r * way, r, how, decimals) for r in radii]
    assert regions(rings) == count
    # through two points, by Euler's formula: two vertices, two edges for each circle
    rise = 20 * np.tan(np.linspace(-1.1, 1.1, count))
    rings = [
        in_pieces((100 + h * 0.6, 100 + h * 0.8), np.hypot(h, 20), how, decimals)
        for h in rise
    ]
    assert regions(rings) == 2 * count - 1


@pytest.mark.parametrize("how", ["half arcs", "Béziers"])
@pytest.mark.parametrize("decimals", [2, 3, 6])
@pytest.mark.parametrize("count", [37, 60, 110])
def test_a_flower_of_very_many_circles_has_its_regions(count, decimals, how):
    # all through one point: every two cross there and once more, but of an even
    # number those that face each other touch. By Euler's formula
    turn = np.exp(2j * np.pi * np.arange(count) / count + 0.3j)
    middles = 100 + 100j + 30 * turn
    petals = [in_pieces((z.real, z.imag), 30, how, decimals) for z in middles]
    facing = count // 2 if count % 2 == 0 else 0
    vertices = 1 + count * (count - 1) // 2 - facing
    edges = count * (count - (count % 2 == 0))
    assert regions(petals) == edges - vertices + 1
