"""Random drawings read here and by svgelements, a general library, both ways.

svgelements is wrong for arcs under an uneven scale with a turn or a skew, so such
pairs are kept apart and arcs there are checked by points that are mapped one by one.
It also mirrors the control point across kinds of curve (S after Q, T after C), where
the standard (SVG 2, sections 9.3.6 and 9.3.7) takes the current point: left out.
"""

from __future__ import annotations

import io
import math
import random

import numpy as np
import pytest
import svgelements

from fillwork.readers import read_linework

PX = 25.4 / 96


def _number(rnd: random.Random, low: float = -90, high: float = 90) -> str:
    value = rnd.uniform(low, high)
    form = rnd.choice(["{:.3f}", "{:.0f}", "{:.2e}", "{:g}"])
    return form.format(value)


def _path(rnd: random.Random, *, arcs: bool) -> str:
    n = lambda: _number(rnd)  # noqa: E731
    out = [f"{rnd.choice('Mm')}{n()} {n()}"]
    letters = "LlHhVvCcSsQqTtZzMm" + ("Aa" if arcs else "")
    counts = {"L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "Z": 0, "M": 2}
    for _ in range(rnd.randrange(1, 14)):
        letter = rnd.choice(letters)
        if out[-1][0] in "CcSs" and letter in "Tt":
            letter = "s"
        if out[-1][0] in "QqTt" and letter in "Ss":
            letter = "T"
        if letter in "Aa":
            radii = f"{abs(float(n())) + 1:.3f},{abs(float(n())) + 1:.3f}"
            flags = f"{rnd.randrange(2)} {rnd.randrange(2)}"
            out.append(f"{letter}{radii} {n()} {flags} {n()} {n()}")
            continue
        repeat = 1 if letter in "Zz" else rnd.choice([1, 1, 1, 2, 3])
        numbers = [n() for _ in range(counts[letter.upper()] * repeat)]
        out.append(letter + rnd.choice([" ", ","]).join(numbers))
    return rnd.choice(["", " "]).join(out)


def _shape(rnd: random.Random, *, arcs: bool) -> str:
    n = lambda low=-90.0, high=90.0: _number(rnd, low, high)  # noqa: E731
    size = lambda: f"{rnd.uniform(1, 60):.3f}"  # noqa: E731
    sorts = ["line", "polyline", "polygon", "path", "path"]
    if arcs:
        sorts += ["circle", "ellipse", "rect"]
    sort = rnd.choice(sorts)
    if sort == "line":
        return f'line x1="{n()}" y1="{n()}" x2="{n()}" y2="{n()}"'
    if sort in {"polyline", "polygon"}:
        points = " ".join(f"{n()},{n()}" for _ in range(rnd.randrange(2, 7)))
        return f'{sort} points="{points}"'
    if sort == "circle":
        return f'circle cx="{n()}" cy="{n()}" r="{size()}"'
    if sort == "ellipse":
        return f'ellipse cx="{n()}" cy="{n()}" rx="{size()}" ry="{size()}"'
    if sort == "rect":
        radii = f' rx="{rnd.uniform(0.1, 20):.2f}"' if rnd.random() < 0.5 else ""
        return f'rect x="{n()}" y="{n()}" width="{size()}" height="{size()}"{radii}'
    return f'path d="{_path(rnd, arcs=arcs)}"'


def _transform(rnd: random.Random, *, even: bool) -> str:
    steps = [
        f"translate({rnd.uniform(-20, 20):.2f},{rnd.uniform(-20, 20):.2f})",
        f"rotate({rnd.uniform(-180, 180):.2f})",
        f"rotate({rnd.uniform(-180, 180):.2f} {rnd.uniform(-9, 9):.2f} 5)",
        f"scale({rnd.uniform(0.5, 1.5):.3f})",
    ]
    if not even:
        steps += [
            f"scale({rnd.uniform(0.5, 1.5):.3f} {rnd.uniform(-1.5, -0.5):.3f})",
            f"skewX({rnd.uniform(-30, 30):.2f})",
            f"skewY({rnd.uniform(-30, 30):.2f})",
            f"matrix(1 {rnd.uniform(-1, 1):.2f} {rnd.uniform(-0.9, 0.9):.2f} 2 3 4)",
        ]
    return " ".join(rnd.choice(steps) for _ in range(rnd.randrange(1, 4)))


def _document(rnd: random.Random, *, arcs: bool) -> str:
    body = []
    for _ in range(rnd.randrange(1, 4)):
        inner = "".join(
            f'<{_shape(rnd, arcs=arcs)} transform="{_transform(rnd, even=arcs)}"/>'
            for _ in range(rnd.randrange(1, 4))
        )
        body.append(f'<g transform="{_transform(rnd, even=arcs)}">{inner}</g>')
    # a page that holds all lines, so that none is cut
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="40000" height="40000" '
        'viewBox="-20000 -20000 40000 40000" fill="none" stroke="black">'
        + "".join(body)
        + "</svg>"
    )


def _ours(text: str) -> np.ndarray:
    curves = read_linework(text.encode()).curves
    t = np.linspace(0, 1, 9)
    index = np.repeat(np.arange(len(curves)), len(t))
    points = curves.point(index, np.tile(t, len(curves))) / PX
    points[:, 1] = 40000 - points[:, 1]
    return points - 20000


def _theirs(text: str) -> np.ndarray:
    svg = svgelements.SVG.parse(io.StringIO(text), ppi=96)
    found = []
    for shape in svg.select(lambda e: isinstance(e, svgelements.Shape)):
        for part in abs(svgelements.Path(shape)):
            if isinstance(part, svgelements.Move) or part.start is None:
                continue
            found.extend((p.x, p.y) for p in (part.point(k / 64) for k in range(65)))
    return np.array(found) - 20000


def _distance(points: np.ndarray, others: np.ndarray) -> float:
    # largest distance of the points from the polyline through the others
    a, d = others[:-1], np.diff(others, axis=0)
    square = np.maximum((d * d).sum(axis=1), 1e-30)
    worst = 0.0
    for p in points:
        t = np.clip(((p - a) * d).sum(axis=1) / square, 0, 1)
        off = p - a - t[:, None] * d
        worst = max(worst, math.sqrt(float((off * off).sum(axis=1).min())))
    return worst


@pytest.mark.reference("svgelements 1.9.6 (MIT), a general SVG library")
@pytest.mark.parametrize("arcs", [False, True])
def test_random_drawings_agree_both_ways(arcs):
    rnd = random.Random(20 + arcs)
    compared = 0
    for _ in range(60):
        text = _document(rnd, arcs=arcs)
        try:
            ours, theirs = _ours(text), _theirs(text)
        except (IndexError, TypeError, ValueError):
            continue
        size = float(np.ptp(theirs, axis=0).max())
        if size > 15_000 or not len(theirs):
            continue
        compared += 1
        assert _distance(ours, theirs) < 3e-3 * size, text
        coarse = theirs[::8]
        assert _distance(coarse, np.concatenate([ours, ours[:1]])) < 3e-2 * size, text
    assert compared > 40


@pytest.mark.reference("SVG 2, W3C, sections 8.5 and 9.3.8: a map acts on every point")
def test_arcs_under_any_transform_are_exact():
    # points of the arc from the library without a transform, mapped one by one
    rnd = random.Random(3)
    for _ in range(100):
        rx, ry, phi = rnd.uniform(5, 80), rnd.uniform(5, 80), rnd.uniform(-180, 180)
        flags = f"{rnd.randrange(2)} {rnd.randrange(2)}"
        d = f"M{rnd.uniform(-50, 50)} 3A{rx} {ry} {phi} {flags} 20 {rnd.uniform(9, 60)}"
        steps = _transform(rnd, even=False)
        m = svgelements.Matrix(steps)
        arc = svgelements.Path(d)[1]
        # 360 / 64 degrees a step at most: compare with our own curve's ellipse
        text = (
            '<svg width="40000" height="40000" viewBox="-20000 -20000 40000 40000" '
            f'fill="none" stroke="#000"><path d="{d}" transform="{steps}"/></svg>'
        )
        curves = read_linework(text.encode()).curves
        cx, cy, ux, uy, vx, vy = (curves.data[0, :6] / PX).tolist()
        inverse = np.linalg.inv(np.array([[ux, vx], [uy, vy]]))
        for k in range(9):
            p = arc.point(k / 8)
            x, y = m.a * p.x + m.c * p.y + m.e, m.b * p.x + m.d * p.y + m.f
            unit = inverse @ np.array([x + 20000 - cx, 20000 - y - cy])
            assert math.hypot(*unit) == pytest.approx(1, abs=1e-7)
