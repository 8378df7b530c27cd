"""Lines, arcs and circles of a drawing that is made up: moved, cut, written as SVG."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    Move = Callable[[np.ndarray], np.ndarray]

# lengths under which a piece is none, and places that are the same, mm
_NONE, _PLACES = 1e-5, 4


class Item(NamedTuple):
    """A line (two points), an arc (three on it) or a circle (middle and radius)."""

    kind: str
    points: np.ndarray
    radius: float = 0.0


Ink = list[Item]


def lines(*points: Iterable[float]) -> Ink:
    """Return the lines through points in turn."""
    at = np.asarray(points, float)
    return [Item("L", at[k : k + 2]) for k in range(len(at) - 1)]


def ring(*points: Iterable[float]) -> Ink:
    """Return the lines round a polygon."""
    return lines(*points, points[0])


def arc(first: Iterable[float], by: Iterable[float], last: Iterable[float]) -> Ink:
    """Return an arc by three points on it."""
    return [Item("A", np.array([first, by, last], float))]


def circle(centre: Iterable[float], radius: float) -> Ink:
    """Return a circle."""
    return [Item("C", np.array([centre], float), float(radius))]


def corners(
    n: int, radius: float, centre: Iterable[float] = (0, 0), start: float = 0.0
) -> np.ndarray:
    """Return the corners of a regular polygon."""
    t = start + 2 * np.pi * np.arange(n) / n
    return radius * np.column_stack([np.cos(t), np.sin(t)]) + np.asarray(centre, float)


def placed(
    angle: float, size: float = 1.0, at: Iterable[float] = (0, 0), flip: bool = False
) -> Move:
    """Return the map that mirrors in the x axis, turns, sizes and then shifts."""
    c, s = size * np.cos(angle), size * np.sin(angle)
    linear = np.array([[c, -s], [s, c]])
    if flip:
        linear = linear @ np.diag([1.0, -1.0])
    shift = np.asarray(at, float)
    return lambda xy: np.asarray(xy, float) @ linear.T + shift


def moved(ink: Ink, move: Move) -> Ink:
    """Return lines after a similarity."""
    found = []
    for item in ink:
        points = move(item.points)
        radius = item.radius
        if item.kind == "C":
            radius = float(np.hypot(*(move(item.points[0] + [radius, 0]) - points[0])))
        found.append(Item(item.kind, points, radius))
    return found


def round_of(item: Item) -> tuple[np.ndarray, float, float, float]:
    """Return middle, radius, first angle and angle swept of an arc or circle."""
    if item.kind == "C":
        return item.points[0], item.radius, 0.0, 2 * np.pi
    a, b, c = item.points
    u, v = b - a, c - a
    twice = 2 * (u[0] * v[1] - u[1] * v[0])
    uu, vv = u @ u, v @ v
    off = np.array([v[1] * uu - u[1] * vv, u[0] * vv - v[0] * uu]) / twice
    angle = np.arctan2(*(item.points - a - off).T[::-1])
    by, all_ = (angle[1:] - angle[0]) % (2 * np.pi)
    swept = all_ - 2 * np.pi if by > all_ else all_
    return a + off, float(np.hypot(*off)), float(angle[0]), float(swept)


def clipped(ink: Ink, area: shapely.Geometry) -> Ink:
    """Return what lies within an area."""
    shapely.prepare(area)
    rim = shapely.get_coordinates(area.boundary)
    parts = shapely.get_parts(area.boundary)
    sides = [shapely.get_coordinates(p) for p in parts] or [rim]
    start = np.vstack([s[:-1] for s in sides])
    step = np.vstack([s[1:] - s[:-1] for s in sides])
    found: Ink = []
    for item in ink:
        if item.kind == "L":
            cut = shapely.LineString(item.points).intersection(area)
            for piece in shapely.get_parts(cut):
                if piece.geom_type == "LineString" and piece.length > _NONE:
                    xy = shapely.get_coordinates(piece)
                    found.append(Item("L", xy[[0, -1]]))
            continue
        found += _round_within(item, area, start, step)
    return found


def _round_within(
    item: Item, area: shapely.Geometry, start: np.ndarray, step: np.ndarray
) -> Ink:
    """Return the parts of an arc or a circle within an area."""
    centre, radius, first, swept = round_of(item)

    def at(share: float) -> np.ndarray:
        t = first + swept * share
        return centre + radius * np.array([np.cos(t), np.sin(t)])

    away = start - centre
    a, b = (step**2).sum(1), 2 * (away * step).sum(1)
    root = b * b - 4 * a * ((away**2).sum(1) - radius**2)
    hit = (root > 0) & (a > 0)
    cuts = [0.0, 1.0]
    for sign in (-1, 1):
        t = (-b[hit] + sign * np.sqrt(root[hit])) / (2 * a[hit])
        on = (t >= 0) & (t <= 1)
        spot = (away[hit] + t[:, None] * step[hit])[on]
        angle = np.arctan2(spot[:, 1], spot[:, 0])
        share = ((angle - first) * np.sign(swept)) % (2 * np.pi) / abs(swept)
        cuts += share[(share > 1e-7) & (share < 1 - 1e-7)].tolist()
    every = np.unique(np.round(cuts, 9))
    pairs = list(pairwise(every))
    kept = [area.contains(shapely.Point(at((u + v) / 2))) for u, v in pairs]
    if all(kept):
        return [item]
    return [
        Item("A", np.array([at(u), at((u + v) / 2), at(v)]))
        for (u, v), inside in zip(pairs, kept, strict=True)
        if inside and (v - u) * abs(swept) * radius > _NONE
    ]


def once(ink: Ink) -> Ink:
    """Return lines without those that are drawn twice."""
    found = {}
    for item in ink:
        points = np.round(item.points, _PLACES) + 0.0
        if tuple(points[0]) > tuple(points[-1]):
            points = points[::-1]
        key = (item.kind, round(item.radius, _PLACES), points.tobytes())
        found.setdefault(key, item)
    return list(found.values())


def noded(ink: Ink) -> Ink:
    """Return lines cut where they cross each other; arcs and circles stay whole."""
    rows = [item.points for item in ink if item.kind == "L"]
    found = [item for item in ink if item.kind != "L"]
    if rows:
        whole = shapely.multilinestrings(np.array(rows))
        whole = shapely.node(shapely.set_precision(whole, 1e-6))
        for piece in shapely.get_parts(whole):
            xy = shapely.get_coordinates(piece)
            found += [Item("L", xy[k : k + 2]) for k in range(len(xy) - 1)]
    return found


def usual_side(ink: Ink) -> float:
    """Return the median of what lines, chords and radii measure."""
    sizes = [
        i.radius if i.kind == "C" else float(np.hypot(*(i.points[-1] - i.points[0])))
        for i in ink
    ]
    return float(np.median(sizes)) if sizes else 1.0


def shaken(
    ink: Ink, frame: Ink, noise: float, seed: int, *, apart: bool = False
) -> Ink:
    """Return lines whose corners are moved; what ends on a frame, or
    on a circle, stays on it.

    `noise`: standard deviation each way, in what the lines measure usually. Lines that
    meet in a corner still do. `apart`: only those of one figure do, which follow each
    other end to start; figures miss each other, frames and circles.
    """
    rng = np.random.default_rng([5, seed])
    amount = noise * usual_side(ink)
    straight = [i.points for i in frame if i.kind == "L"]
    rails = shapely.union_all(shapely.linestrings(straight)) if straight else None
    rounds = [round_of(i)[:2] * 2 for i in frame if i.kind != "L"]
    whole = [i for i in ink if i.kind == "C"]
    circles = [
        Item("C", i.points + rng.normal(0, amount, 2), i.radius + rng.normal(0, amount))
        for i in whole
    ]
    rounds += [
        (one.points[0], one.radius, other.points[0], other.radius)
        for one, other in zip(whole, circles, strict=True)
    ]
    known: dict[bytes, np.ndarray] = {}

    def there(point: np.ndarray) -> np.ndarray:
        key = (np.round(point, _PLACES) + 0.0).tobytes()
        if key in known:
            return known[key]
        to = point + rng.normal(0, amount, 2)
        if rails is not None and rails.distance(shapely.Point(point)) < 1e-3:
            to = shapely.get_coordinates(
                shapely.shortest_line(shapely.Point(to), rails)
            )[1]
        for centre, radius, onto, size in rounds:
            if abs(np.hypot(*(point - centre)) - radius) < 3e-3:
                to = onto + (to - onto) * size / np.hypot(*(to - onto))
        known[key] = to
        return to

    found = list(circles)
    if apart:
        rails, rounds = None, []
    last = np.full(2, np.nan)
    for item in ink:
        if item.kind == "C":
            continue
        if apart and not np.hypot(*(item.points[0] - last)) < _NONE:
            known.clear()
        last = item.points[-1]
        ends = np.array([there(item.points[0]), there(item.points[-1])])
        if item.kind == "A":
            by = item.points[1] + (ends - item.points[[0, 2]]).mean(axis=0)
            ends = np.array([ends[0], by, ends[1]])
        found.append(Item(item.kind, ends))
    return found


def svg_of(ink: Ink, frame: Ink, width: float, height: float) -> str:
    """Return a drawing in mm, y up; lines of a frame are twice as broad."""

    def drawn(item: Item, name: str) -> str:
        (x, y), (u, v) = item.points[0], item.points[-1]
        if item.kind == "C":
            place = f'cx="{x:.6f}" cy="{height - y:.6f}" r="{item.radius:.6f}"'
            return f'<circle class="{name}" {place}/>'
        start, stop = f"M{x:.6f} {height - y:.6f}", f"{u:.6f} {height - v:.6f}"
        if item.kind == "L":
            return f'<path class="{name}" d="{start}L{stop}"/>'
        _, radius, _, swept = round_of(item)
        flags = f"0 {int(abs(swept) > np.pi)} {int(swept < 0)}"
        size = f"{radius:.6f} {radius:.6f}"
        return f'<path class="{name}" d="{start}A{size} {flags} {stop}"/>'

    size = f'width="{width:.4f}mm" height="{height:.4f}mm"'
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} '
        f'viewBox="0 0 {width:.4f} {height:.4f}"><style>path,circle{{fill:none;'
        "stroke:#000;stroke-width:.3}.f{stroke-width:.6}</style>"
    ]
    rows += [drawn(item, "i") for item in ink] + [drawn(item, "f") for item in frame]
    return "\n".join([*rows, "</svg>", ""])
