"""Survey plain fields drawn by the general positions of the plane groups.

    python tests/bench/plain_fields.py FIRST LAST [--noise 0.01] [--fault missing]
        [--rows FILE]

For each seed from FIRST to below LAST and each of the 17 groups a few figures without
symmetry, or strokes, or a tile with figures in it, are laid by the group's general
positions and seen through a page, a frame or a round or turned window. It shares no
line with the other generators here: the positions are typed from the International
Tables for Crystallography, volume A (2016), the plane groups. A star may have more
symmetry than its place; a field of few repeats may show less than it has.

`--noise` moves each corner by that share of the usual length of a side between two
corners or crossings; `--fault` takes a line out or puts one in. A line a group tells
how many were right, how many none, and which were wrong and said to be sure.
"""

from __future__ import annotations

import argparse
import json
import re
import time
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.random import Generator
    from numpy.typing import NDArray

    Points = NDArray[np.float64]

POSITIONS = {
    "p1": "x,y",
    "p2": "x,y;-x,-y",
    "pm": "x,y;-x,y",
    "pg": "x,y;-x,y+1/2",
    "cm": "x,y;-x,y;x+1/2,y+1/2;-x+1/2,y+1/2",
    "pmm": "x,y;-x,-y;-x,y;x,-y",
    "pmg": "x,y;-x,-y;-x+1/2,y;x+1/2,-y",
    "pgg": "x,y;-x,-y;-x+1/2,y+1/2;x+1/2,-y+1/2",
    "cmm": "x,y;-x,-y;-x,y;x,-y;x+1/2,y+1/2;-x+1/2,-y+1/2;-x+1/2,y+1/2;x+1/2,-y+1/2",
    "p4": "x,y;-x,-y;-y,x;y,-x",
    "p4m": "x,y;-x,-y;-y,x;y,-x;-x,y;x,-y;y,x;-y,-x",
    "p4g": "x,y;-x,-y;-y,x;y,-x;-x+1/2,y+1/2;x+1/2,-y+1/2;y+1/2,x+1/2;-y+1/2,-x+1/2",
    "p3": "x,y;-y,x-y;-x+y,-x",
    "p3m1": "x,y;-y,x-y;-x+y,-x;-y,-x;-x+y,y;x,x-y",
    "p31m": "x,y;-y,x-y;-x+y,-x;y,x;x-y,-y;-x,-x+y",
    "p6": "x,y;-y,x-y;-x+y,-x;-x,-y;y,-x+y;x-y,x",
    "p6m": "x,y;-y,x-y;-x+y,-x;-x,-y;y,-x+y;x-y,x;"
    "-y,-x;-x+y,y;x,x-y;y,x;x-y,-y;-x,-x+y",
}
"""Each group's general positions in parts of the cell."""
STYLES = ("polygons", "curves", "stars", "leaves", "strokes", "tile")
WINDOWS = ("page", "frame", "turned", "round")
FAULTS = ("none", "missing", "extra")


class Field(NamedTuple):
    """A drawing and what it was made by."""

    svg: str
    group: str
    style: str
    window: str


def operations(group: str) -> list[tuple[Points, Points]]:
    """Return matrix and shift of each general position."""
    found = []
    for position in POSITIONS[group].split(";"):
        rows, shift = np.zeros((2, 2)), np.zeros(2)
        for k, text in enumerate(position.split(",")):
            for sign, letter in re.findall(r"([+-]?)([xy])", text):
                rows[k, "xy".index(letter)] = -1.0 if sign == "-" else 1.0
            shift[k] = 0.5 * ("1/2" in text)
        found.append((rows, shift))
    return found


def cell_of(group: str, rng: Generator) -> Points:
    """Return a cell that the group allows, as two rows; its first side is 1."""
    if group in ("p1", "p2"):
        angle, long = np.radians(rng.uniform(62, 112)), rng.uniform(0.8, 1.4)
        return np.array([[1, 0], [long * np.cos(angle), long * np.sin(angle)]])
    if group[1] in "36":
        return np.array([[1, 0], [-0.5, np.sqrt(0.75)]])
    other = rng.choice([rng.uniform(0.6, 0.88), rng.uniform(1.15, 1.7), 1.0])
    return np.diag([1.0, 1.0 if group[1] == "4" else other])


def turn_of(angle: float) -> Points:
    """Return the matrix that turns rows of points."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, s], [-s, c]])


def ring(points: Points) -> Points:
    """Return points closed."""
    return np.vstack([points, points[:1]])


def figure(style: str, rng: Generator, at: Points, size: float) -> list[Points]:
    """Return the lines of one figure, turned anyhow."""
    turn = turn_of(rng.uniform(0, 2 * np.pi))
    if style == "leaves":
        t, wide = np.linspace(0, 1, 13), rng.uniform(0.25, 0.5)
        upper = np.c_[2 * t - 1, wide * np.sin(np.pi * t)]
        lower = np.c_[1 - 2 * t, -0.6 * wide * np.sin(np.pi * t)]
        rib = np.array([[-1.0, 0.0], [1.0, 0.0]])
        return [
            at + size * line @ turn for line in (np.vstack([upper, lower[1:]]), rib)
        ]
    if style == "stars":
        n = int(rng.integers(5, 9))
        far = np.where(np.arange(2 * n) % 2, rng.uniform(0.4, 0.6), 1.0)
        angle = np.arange(2 * n) * np.pi / n
    else:
        n = int(rng.integers(3, 8))
        far = rng.uniform(0.45, 1.0, n)
        angle = np.linspace(0, 2 * np.pi, n, endpoint=False) + rng.uniform(
            -0.25, 0.25, n
        )
    points = far[:, None] * np.c_[np.cos(angle), np.sin(angle)] @ turn
    if style == "curves":
        # quadratic splines that the points control, through the middles between them
        middle, s = (points + np.roll(points, -1, axis=0)) / 2, np.linspace(0, 1, 21)
        s = s[:-1, None]
        points = np.vstack(
            [
                (1 - s) ** 2 * middle[k - 1] + 2 * s * (1 - s) * p + s * s * middle[k]
                for k, p in enumerate(points)
            ]
        )
    return [ring(at + size * points)]


def motif(style: str, rng: Generator, cell: Points, order: int) -> list[Points]:
    """Return the lines that the group's operations lay."""
    size = 0.42 * np.sqrt(abs(np.linalg.det(cell)) / order)
    few = 3 if order == 1 else 2 if order < 5 else 1
    if style == "strokes":
        return [rng.uniform(-0.2, 1.2, (2, 2)) @ cell for _ in range(2 * few + 1)]
    lines = []
    if style == "tile":
        lines = [np.array([[0.0, 0.0], side]) for side in cell]
    inner = style if style != "tile" else "polygons"
    for _ in range(few):
        lines += figure(inner, rng, rng.random(2) @ cell, size * rng.uniform(0.7, 1.2))
    return lines


def laid(
    lines: list[Points], group: str, cell: Points, origin: Points, half: Points
) -> list[Points]:
    """Return all images of lines that come near a window of these half sides.

    The group's elements stand about the origin, the window about nought.
    """
    back, found = np.linalg.inv(cell), {}
    reach = int(np.ceil(np.abs(half @ np.abs(back)).max())) + 2
    steps = range(-reach, reach + 1)
    shifts = np.array([(i, j) for i in steps for j in steps]) @ cell + origin
    for line in lines:
        for matrix, shift in operations(group):
            image = (line @ back @ matrix.T + shift) @ cell
            for p in image + shifts[:, None]:
                if (p.max(axis=0) < -half).any() or (p.min(axis=0) > half).any():
                    continue
                ends = np.r_[np.minimum(p[0], p[-1]), np.maximum(p[0], p[-1])]
                # the same line only once
                found.setdefault((*np.round(np.r_[ends, p.mean(0)], 4), len(p)), p)
    return list(found.values())


def corners_of(line: Points) -> list[int]:
    """Return the points where a line bends, its ends among them."""
    step = np.diff(line, axis=0)
    bend = np.diff(np.arctan2(step[:, 1], step[:, 0]))
    bend = np.abs((bend + np.pi) % (2 * np.pi) - np.pi)
    return [0, *(np.flatnonzero(bend > 0.5) + 1).tolist(), len(line) - 1]


def usual_side(lines: list[Points]) -> float:
    """Return the median length between two corners or crossings."""
    whole = shapely.multilinestrings([shapely.linestrings(p) for p in lines])
    sides: list[float] = []
    for part in shapely.get_parts(shapely.node(whole)):
        points = shapely.get_coordinates(part)
        along = np.r_[0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
        sides += np.diff(along[corners_of(points)]).tolist()
    return float(np.median(sides))


def shaken(lines: list[Points], far: float, rng: Generator) -> list[Points]:
    """Return lines whose corners are moved, one way where they are one point."""
    moved: dict[tuple[float, ...], Points] = {}
    found = []
    for line in lines:
        off = np.zeros_like(line)
        for a, b in pairwise(corners_of(line)):
            one, two = (
                moved.setdefault(tuple(np.round(line[k], 4)), rng.normal(0, far, 2))
                for k in (a, b)
            )
            share = np.linspace(0, 1, b - a + 1)[:, None]
            off[a : b + 1] = (1 - share) * one + share * two
        found.append(line + off)
    return found


def draw_field(group: str, seed: int, noise: float, fault: str) -> Field:
    """Return a field of one group."""
    rng = np.random.default_rng([seed, sorted(POSITIONS).index(group)])
    style, window = str(rng.choice(STYLES)), str(rng.choice(WINDOWS))
    if style == "tile" and "1/2" in POSITIONS[group]:
        style = "polygons"
    cell = cell_of(group, rng) * rng.uniform(18, 60)
    turn = turn_of(rng.uniform(0, 2 * np.pi) * (rng.random() < 0.5))
    lines = motif(style, rng, cell, len(operations(group)))
    cell = cell @ turn
    width = rng.uniform(2.5, 6.2) * np.hypot(*cell.T).max()
    half = np.array([width, width * rng.uniform(0.7, 1.0)]) / 2
    origin = rng.random(2) @ cell
    lines = laid([p @ turn for p in lines], group, cell, origin, 1.1 * half)
    if noise:
        lines = shaken(lines, noise * usual_side(lines), rng)
    seen = shapely.box(*-half, *half)
    if window == "round":
        seen = shapely.Point(0, 0).buffer(half.min(), quad_segs=32)
    elif window == "turned":
        sides = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half * 0.8
        seen = shapely.Polygon(sides @ turn_of(rng.uniform(0.1, 1.4)))
    cut = shapely.intersection([shapely.linestrings(p) for p in lines], seen)
    lines = [
        shapely.get_coordinates(part)
        for part in shapely.get_parts(cut)
        if part.geom_type == "LineString" and part.length > 1e-6
    ]
    inner = [k for k, p in enumerate(lines) if np.abs(p / half).max() < 0.6]
    if fault == "missing" and inner:
        lines.pop(int(rng.choice(inner)))
    elif fault == "extra":
        lines.append(rng.uniform(-0.5, 0.5, (2, 2)) * half)
    if window != "page":
        lines.append(shapely.get_coordinates(seen.exterior))
    return Field(as_svg(lines, seen.bounds), group, style, window)


def as_svg(lines: list[Points], bounds: tuple[float, ...]) -> str:
    """Return lines as a drawing whose page is their box."""
    left, bottom, right, top = bounds
    wide, high = f"{right - left:.4f}", f"{top - bottom:.4f}"
    paths = "".join(
        "<path d='M"
        + "L".join(f"{x - left:.4f} {y - bottom:.4f}" for x, y in p)
        + "'/>"
        for p in lines
    )
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' width='{wide}mm' height='{high}mm' "
        f"viewBox='0 0 {wide} {high}'>"
        f"<g fill='none' stroke='#000' stroke-width='.2'>{paths}</g></svg>"
    )


def surveyed(field: Field) -> dict[str, object]:
    """Return what is found in the field's largest zone."""
    from fillwork.pipeline.surveying import make_survey

    begin = time.process_time()
    survey = make_survey(field.svg.encode(), name="field.svg")
    zone = max(survey.zones, key=lambda z: len(z.faces))
    symmetry = zone.symmetry
    return {
        "group": field.group,
        "style": field.style,
        "window": field.window,
        "found": symmetry.group.short,
        "sure": bool(symmetry.certain),
        "share": len(zone.faces) / (survey.arrangement.face_count - 1),
        "seconds": round(time.process_time() - begin, 2),
    }


def main() -> None:
    """Print a line a group."""
    ask = argparse.ArgumentParser()
    ask.add_argument("first", type=int)
    ask.add_argument("last", type=int)
    ask.add_argument("--noise", type=float, default=0.0)
    ask.add_argument("--fault", choices=FAULTS, default="none")
    ask.add_argument("--rows", type=Path)
    given = ask.parse_args()
    rows = []
    for group in POSITIONS:
        mine = []
        for seed in range(given.first, given.last):
            row = surveyed(draw_field(group, seed, given.noise, given.fault))
            mine.append(row | {"seed": seed})
        right = sum(r["found"] == group for r in mine)
        wrong = [r for r in mine if r["found"] not in (group, "none", "C1")]
        sure = [f"{r['seed']} {r['found']}" for r in wrong if r["sure"]]
        none = len(mine) - right - len(wrong)
        told = f"; sure: {', '.join(sure)}" if sure else ""
        print(f"{group:5} {right} of {len(mine)} right, {none} none{told}", flush=True)
        rows += mine
    total = sum(r["found"] == r["group"] for r in rows)
    print(f"{total} of {len(rows)} right")
    if given.rows is not None:
        given.rows.write_text("\n".join(json.dumps(r) for r in rows) + "\n")


if __name__ == "__main__":
    main()
