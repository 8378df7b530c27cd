"""Framed panels of our own whose zones are known, for counting what is right.

Fields are cells about points placed by a plane group (gemmi's tables) or stars in
the uniform tilings 4.8.8 and 3.12.12 (p4m and p6m: B. Grünbaum, G. C. Shephard,
Tilings and Patterns, 1987, figure 2.1.5); borders are figures carried about by the
general positions of the friezes; medallions and corner pieces are figures turned
about a point. Groups that are expected follow from that alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.arrangement.build import build_arrangement
from tests.unit.helpers import Row, circle, line, linework_from_curves
from tests.unit.symmetry.cells import SPACE_GROUPS, make_cells
from tests.unit.symmetry.panels import CORNER_GROUPS, _clip, _corner_piece
from tests.unit.symmetry.strips import STRIPS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.symmetry.model import Zone

__all__ = ["CASES", "Panel", "build_panel", "draw_panel", "make_case", "score_panel"]

# x from and to in periods, y from and to in half widths: what the group carries
# over the whole strip (International Tables E, part 2: asymmetric units)
_UNITS = {
    "p1": (0.0, 1.0, -1.0, 1.0),
    "p2": (0.0, 1.0, 0.0, 1.0),
    "p1m1": (0.0, 0.5, -1.0, 1.0),
    "p11m": (0.0, 1.0, 0.0, 1.0),
    "p11g": (0.0, 0.5, -1.0, 1.0),
    "p2mm": (0.0, 0.5, 0.0, 1.0),
    "p2mg": (-0.25, 0.25, 0.0, 1.0),
}
FIELDS = tuple(SPACE_GROUPS)


@dataclass
class Part:
    """A zone that is there by construction."""

    area: shapely.Geometry
    role: str
    groups: frozenset[str]


@dataclass
class Panel:
    """A panel in the making."""

    rng: np.random.Generator
    name: str = ""
    wide: float = 300.0
    tall: float = 220.0
    ink: list[np.ndarray] = field(default_factory=list)
    frames: list[tuple[float, ...]] = field(default_factory=list)
    rounds: list[tuple[float, float, float]] = field(default_factory=list)
    parts: list[Part] = field(default_factory=list)

    def part(self, area: shapely.Geometry, role: str, *groups: str) -> None:
        self.parts.append(Part(area, role, frozenset(groups)))

    def box(self, x0: float, y0: float, x1: float, y1: float) -> None:
        self.frames += [(x0, y0, x1, y0), (x1, y0, x1, y1)]
        self.frames += [(x1, y1, x0, y1), (x0, y1, x0, y0)]

    def ring(self, points: np.ndarray) -> None:
        both = np.hstack([points, np.roll(points, -1, axis=0)])
        self.frames += [tuple(row) for row in both.tolist()]

    def inside(self, segments: np.ndarray, area: shapely.Geometry) -> None:
        if len(segments):
            self.ink.append(_clip(segments, area))


def _turns(n: int, start: float = 0.0) -> np.ndarray:
    t = start + 2 * np.pi * np.arange(n) / n
    return np.column_stack([np.cos(t), np.sin(t)])


def _closed(points: np.ndarray) -> np.ndarray:
    return np.hstack([points, np.roll(points, -1, axis=0)])


def fill(
    group: str, box: tuple[float, ...], rng: np.random.Generator, repeats: float = 40
) -> np.ndarray:
    """Return lines of a group over a box; ``stars`` and ``twelve`` are tilings."""
    x0, y0, x1, y1 = box
    if group in ("stars", "twelve"):
        n, step = (8, 3) if group == "stars" else (12, 5)
        pitch = np.sqrt((x1 - x0) * (y1 - y0) / repeats)
        basis = pitch * np.array(
            [[1.0, 0.0], [0.0, 1.0] if n == 8 else [0.5, np.sqrt(0.75)]]
        )
        ring = 0.5 * pitch * _turns(n)
        if n == 8:
            corner = 0.5 * pitch / np.cos(np.pi / 8) * _turns(8, np.pi / 8)
        else:
            corner = 0.5 * pitch / np.cos(np.pi / 12) * _turns(12, np.pi / 12)
        one = np.hstack([ring, np.roll(ring, -step, axis=0)])
        if rng.random() < 0.5:
            one = np.vstack([one, _closed(corner)])
        grid = np.stack(np.meshgrid(np.arange(-40, 41), np.arange(-40, 41)), -1)
        centres = grid.reshape(-1, 2) @ basis + [x0, y0] + rng.random(2) * pitch
        if rng.random() < 0.5:
            # as makers do: a star in the middle of the field
            centres = grid.reshape(-1, 2) @ basis + [(x0 + x1) / 2, (y0 + y1) / 2]
        far = 1.2 * pitch
        near = (centres > [x0 - far, y0 - far]).all(1)
        near &= (centres < [x1 + far, y1 + far]).all(1)
        lines = (centres[near][:, None] + one.reshape(-1, 2)).reshape(-1, 4)
        flip = (lines[:, 0] > lines[:, 2] + 1e-7) | (
            (np.abs(lines[:, 0] - lines[:, 2]) < 1e-7) & (lines[:, 1] > lines[:, 3])
        )
        lines[flip] = lines[flip][:, [2, 3, 0, 1]]
        return np.unique(np.round(lines, 6), axis=0)
    pattern = make_cells(group, rng, repeats=repeats, framed=False)
    _, _, w, h = pattern.window.bounds
    scale = max((x1 - x0) / w, (y1 - y0) / h) * 1.001
    moved = pattern.segments.reshape(-1, 2) * scale + [x0, y0]
    return moved.reshape(-1, 4)


def group_of(content: str) -> str:
    return {"stars": "p4m", "twelve": "p6m"}.get(content, content)


STYLES = ("polygons", "walls", "lozenge", "rhombi", "zigzag", "chain")


def frieze(
    name: str, style: str, count: int, period: float, high: float, seed: int
) -> tuple[np.ndarray, str]:
    """Return lines of a strip from x = -period to count + 1 periods, and its group.

    The strip is `high` wide, its middle at y = 0.
    """
    rng = np.random.default_rng(seed)
    half = high / 2
    if style in ("lozenge", "rhombi", "zigzag", "chain"):
        rows: list[np.ndarray] = []
        for k in range(-2, count + 2):
            x = (k + 0.5) * period
            if style == "lozenge":
                # lozenges tip to tip, so that half ones stand at both sides
                ring = np.array([[-0.5, 0], [0, -1], [0.5, 0], [0, 1]])
                rows.append(_closed(ring * [period, half] + [x, 0]))
            elif style == "zigzag":
                rows.append(
                    np.array(
                        [
                            [x - period / 2, -half, x, half],
                            [x, half, x + period / 2, -half],
                        ]
                    )
                )
            elif style == "rhombi":
                for size in (1.0, 0.55):
                    ring = size * np.array([[-0.38, 0], [0, -1], [0.38, 0], [0, 1]])
                    rows.append(_closed(ring * [period, half] + [x, 0]))
            else:
                ring = np.array([[-0.3, 0], [0, -0.7], [0.3, 0], [0, 0.7]])
                rows.append(_closed(ring * [period, half] + [x, 0]))
                rows.append(np.array([[x + 0.3 * period, 0, x + 0.7 * period, 0]]))
        return np.vstack(rows), "p2mg" if style == "zigzag" else "p2mm"
    a, b, low, top = _UNITS[name]
    rings = []
    for size in (1.0, 0.5):
        ring = np.array([[0.15, 0.2], [0.8, 0.1], [0.9, 0.75], [0.3, 0.9]])
        ring = 0.5 + size * (ring - 0.5 + rng.uniform(-0.08, 0.08, (4, 2)))
        rings.append(ring * [b - a, top - low] + [a, low])
    rows = [_closed(r) for r in rings]
    if style == "walls":
        rows.append(np.array([[a, -1.0, a, 1.0]]))
    unit = np.vstack(rows).reshape(-1, 2)
    found = []
    for sx, sy, shift in STRIPS[name]:
        steps = np.arange(-2, count + 3) + shift
        moved = unit * [sx, sy] + np.stack([steps, 0 * steps], axis=1)[:, None]
        found.append((moved * [period, half]).reshape(-1, 2))
    lines = np.round(np.vstack([f.reshape(-1, 4) for f in found]), 7)
    return np.unique(lines, axis=0), name


def rosette(
    n: int, mirrors: bool, radius: float, rng: np.random.Generator
) -> np.ndarray:
    """Return lines of Dn or Cn that reach to a circle."""
    tip = radius * _turns(n)
    step = n // 2 - 1 if n % 2 == 0 else n // 2
    if n < 5:
        mid = 0.45 * radius * _turns(n, np.pi / n)
        rows = [np.hstack([tip, mid]), np.hstack([mid, np.roll(tip, -1, axis=0)])]
        rows.append(np.hstack([mid, np.zeros((n, 2))]))
    else:
        rows = [np.hstack([tip, np.roll(tip, -step, axis=0)])]
    if not mirrors:
        inner = rng.uniform(0.2, 0.45) * radius * _turns(n, 0.6 * np.pi / n)
        rows = [np.hstack([tip, inner]), np.hstack([inner, np.roll(inner, -1, axis=0)])]
        rows.append(np.hstack([inner, np.zeros((n, 2))]))
    return np.vstack(rows)


def border(
    panel: Panel,
    box: tuple[float, float, float, float],
    width: float,
    names: tuple[str, str],
    styles: tuple[str, str],
    corner: str,
) -> tuple[float, float, float, float]:
    """Draw a border inside a box; return the box that it leaves."""
    x0, y0, x1, y1 = box
    rng = panel.rng
    w, h = x1 - x0 - 2 * width, y1 - y0 - 2 * width
    pitch = width * rng.uniform(0.9, 1.5)
    seed = int(rng.integers(1 << 30))
    panel.box(*box)
    inner = (x0 + width, y0 + width, x1 - width, y1 - width)
    panel.box(*inner)
    full = corner == "butt"
    for k in range(4):
        flat = k % 2 == 0
        along = (w if flat else h) + (2 * width if full and flat else 0.0)
        count = max(3, round(along / pitch))
        same = names[0] == names[1] and styles[0] == styles[1]
        which = 0 if flat or same else 1
        rows, group = frieze(
            names[which],
            styles[which],
            count + 6,
            along / count,
            width,
            seed + which,
        )
        points = rows.reshape(-1, 2) - [along / 2 + 3 * along / count, 0.0]
        # sides follow each other round, their outer edge below
        middle = [
            ((x0 + x1) / 2, y0 + width / 2),
            (x1 - width / 2, (y0 + y1) / 2),
            ((x0 + x1) / 2, y1 - width / 2),
            (x0 + width / 2, (y0 + y1) / 2),
        ][k]
        c, s = [(1, 0), (0, 1), (-1, 0), (0, -1)][k]
        placed = points @ np.array([[c, s], [-s, c]]) + middle
        out = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        into = np.array(
            [inner[:2], (inner[2], inner[1]), inner[2:], (inner[0], inner[3])]
        )
        if corner == "mitre":
            ring = [out[k], out[(k + 1) % 4], into[(k + 1) % 4], into[k]]
            area = shapely.Polygon(ring)
        elif full and flat:
            low, high = (y0, y0 + width) if k == 0 else (y1 - width, y1)
            area = shapely.box(x0, low, x1, high)
        else:
            a, b = into[k], into[(k + 1) % 4]
            away = width * np.array([(0, -1), (1, 0), (0, 1), (-1, 0)][k])
            area = shapely.Polygon([a, b, b + away, a + away])
        panel.part(area, "border", group)
        panel.inside(placed.reshape(-1, 4), area)
    if corner == "mitre":
        panel.frames += [
            (x0, y0, inner[0], inner[1]),
            (x1, y0, inner[2], inner[1]),
            (x1, y1, inner[2], inner[3]),
            (x0, y1, inner[0], inner[3]),
        ]
    else:
        for y in (inner[1], inner[3]):
            panel.frames += [(x0, y, inner[0], y), (inner[2], y, x1, y)]
        if corner != "butt":
            for x in (inner[0], inner[2]):
                panel.frames += [(x, y0, x, inner[1]), (x, inner[3], x, y1)]
    if corner in CORNER_GROUPS:
        piece = _corner_piece(corner, width).reshape(-1, 2)
        for x in (x0, inner[2]):
            for y in (y0, inner[3]):
                area = shapely.box(x, y, x + width, y + width)
                panel.part(area, "corner", CORNER_GROUPS[corner])
                own = np.where([x > x0, y > y0], width - piece, piece)
                own = own + np.array([x, y])
                panel.ink.append(own.reshape(-1, 4))
    return inner


def plain(
    panel: Panel, box: tuple[float, float, float, float], width: float, mitred: bool
) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = box
    panel.box(*box)
    inner = (x0 + width, y0 + width, x1 - width, y1 - width)
    if mitred:
        for a, b in ((0, 1), (2, 1), (2, 3), (0, 3)):
            panel.frames.append((box[a], box[b], inner[a], inner[b]))
    return inner


def medallion(
    panel: Panel,
    centre: tuple[float, float],
    radius: float,
    shape: str,
    n: int,
    mirrors: bool,
    field_area: shapely.Geometry,
    *,
    nested: bool = False,
) -> shapely.Geometry:
    """Draw a medallion; return the field without it."""
    rng = panel.rng
    if shape == "circle":
        area = shapely.Point(*centre).buffer(radius, quad_segs=360)
        panel.rounds.append((*centre, radius))
        reach = radius
    elif shape == "star":
        outer = radius * _turns(n)
        notch = 0.72 * radius * _turns(n, np.pi / n)
        ring = np.stack([outer, notch], axis=1).reshape(-1, 2) + centre
        area = shapely.Polygon(ring)
        panel.ring(ring)
        reach = 0.72 * radius
    else:
        ring = radius * _turns(n, np.pi / n) + centre
        area = shapely.Polygon(ring)
        panel.ring(ring)
        reach = radius * np.cos(np.pi / n)
    cut = area.intersection(field_area)
    whole = cut.area > 0.999 * area.area
    group = f"{'D' if mirrors else 'C'}{n}"
    groups = {group} if whole else {group, "D1"} if mirrors else {group}
    own = area
    if nested:
        r = 0.5 * radius
        hole = shapely.Point(*centre).buffer(r, quad_segs=360)
        panel.rounds.append((*centre, r))
        m = int(rng.choice([k for k in (5, 6, 7, 8, 9, 10) if k != n]))
        panel.inside(rosette(m, True, r, rng) + np.tile(centre, 2), hole)
        panel.part(hole, "medallion", f"D{m}")
        own = area.difference(hole)
        # petals round the inner ring
        tip, foot = 0.9 * reach * _turns(n), r * _turns(n, np.pi / n)
        rows = np.vstack(
            [np.hstack([foot, np.roll(tip, -1, 0)]), np.hstack([foot, tip])]
        )
        panel.inside(rows + np.tile(centre, 2), own.intersection(field_area))
    else:
        rows = rosette(n, mirrors, reach, rng) + np.tile(centre, 2)
        panel.inside(rows, cut)
    panel.part(own.intersection(field_area), "medallion", *groups)
    return field_area.difference(area)


def put_field(panel: Panel, content: str, area: shapely.Geometry, **kwargs) -> None:
    repeats = kwargs.pop("repeats", float(panel.rng.choice([20, 36, 60])))
    rows = fill(content, area.bounds, panel.rng, repeats)
    short = kwargs.pop("short", 0.0)
    panel.inside(rows, area.buffer(-short) if short else area)
    panel.part(area, "field", group_of(content))


def _choose_border(rng: np.random.Generator) -> tuple[str, str]:
    return str(rng.choice(list(STRIPS))), str(rng.choice(STYLES))


CASES = (
    "lines",
    "border",
    "mitred",
    "corners",
    "unlike sides",
    "nested",
    "bands",
    "medallion",
    "several",
    "half medallions",
    "within",
    "spandrels",
    "side by side",
    "behind",
    "short",
    "full panel",
)


def make_case(case: str, seed: int) -> Panel:
    """Return a panel of one sort."""
    rng = np.random.default_rng([17, CASES.index(case), seed])
    panel = Panel(rng, f"{case} {seed}")
    panel.wide = float(rng.uniform(240, 340))
    panel.tall = float(rng.uniform(180, 260))
    content = str(rng.choice([*FIELDS, "stars", "twelve", "twelve"]))
    box = (0.0, 0.0, panel.wide, panel.tall)
    mitred = bool(rng.random() < 0.4)

    def around(width: float, corner: str, unlike: bool = False) -> None:
        nonlocal box
        one = _choose_border(rng)
        two = _choose_border(rng) if unlike else one
        box = border(panel, box, width, (one[0], two[0]), (one[1], two[1]), corner)

    corner = str(rng.choice([*CORNER_GROUPS, "mitre", "butt"]))
    if case == "lines":
        for _ in range(int(rng.integers(1, 4))):
            box = plain(panel, box, float(rng.uniform(1.0, 25.0)), mitred)
        panel.box(*box)
    elif case == "border":
        around(float(rng.uniform(14, 28)), corner)
    elif case == "mitred":
        around(float(rng.uniform(14, 28)), "mitre")
    elif case == "corners":
        around(float(rng.uniform(16, 28)), str(rng.choice(list(CORNER_GROUPS))))
    elif case == "unlike sides":
        around(float(rng.uniform(16, 28)), corner, unlike=True)
    elif case == "nested":
        around(float(rng.uniform(14, 22)), corner)
        if rng.random() < 0.6:
            box = plain(panel, box, float(rng.uniform(2, 8)), mitred)
        around(float(rng.uniform(12, 18)), str(rng.choice(["mitre", "square", "butt"])))
    elif case == "bands":
        for _ in range(int(rng.integers(2, 4))):
            if rng.random() < 0.4:
                box = plain(panel, box, float(rng.uniform(1.5, 6)), mitred)
            around(float(rng.uniform(9, 15)), corner)
    elif case in ("full panel", "within", "behind"):
        box = plain(panel, box, float(rng.uniform(2, 6)), mitred)
        around(float(rng.uniform(14, 22)), corner)
        box = plain(panel, box, float(rng.uniform(2, 6)), mitred)
        panel.box(*box)
    else:
        panel.box(*box)
        if rng.random() < 0.5:
            box = plain(panel, box, float(rng.uniform(2, 8)), mitred)
            panel.box(*box)
    x0, y0, x1, y1 = box
    area: shapely.Geometry = shapely.box(*box)
    w, h = x1 - x0, y1 - y0
    shape = str(rng.choice(["circle", "polygon", "star"]))
    n = int(rng.choice([5, 6, 8, 10, 12]))
    mirrors = bool(rng.random() < 0.75)
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    if case in ("medallion", "full panel"):
        centre = middle
        if case == "medallion" and rng.random() < 0.4:
            centre = (x0 + w * rng.uniform(0.35, 0.65), y0 + h * rng.uniform(0.4, 0.6))
        radius = float(rng.uniform(0.2, 0.33)) * h
        area = medallion(panel, centre, radius, shape, n, mirrors, area)
    elif case == "several":
        for k in range(int(rng.integers(2, 4))):
            centre = (x0 + w * (0.2 + 0.3 * k), middle[1] + rng.uniform(-0.1, 0.1) * h)
            area = medallion(panel, centre, 0.13 * w, shape, n, mirrors, area)
    elif case == "half medallions":
        if shape == "star" or n % 2:
            shape, n = "circle", 8
        for x in (x0, x1):
            area = medallion(panel, (x, middle[1]), 0.28 * h, shape, n, True, area)
    elif case == "within":
        area = medallion(panel, middle, 0.36 * h, "circle", n, True, area, nested=True)
    elif case == "spandrels":
        r = 0.5 * min(w, h) * 0.96
        square = shapely.box(middle[0] - r, middle[1] - r, middle[0] + r, middle[1] + r)
        panel.box(*square.bounds)
        rest = medallion(panel, middle, r, "circle", n, True, square)
        for sx, sy in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            quarter = shapely.box(
                min(middle[0], middle[0] + sx * r),
                min(middle[1], middle[1] + sy * r),
                max(middle[0], middle[0] + sx * r),
                max(middle[1], middle[1] + sy * r),
            )
            leaf = np.array([[0.93, 0.93], [0.82, 0.95], [0.78, 0.78], [0.95, 0.82]])
            vein = np.array([[0.78, 0.78, 0.93, 0.93]])
            rows = np.vstack([_closed(leaf), vein]).reshape(-1, 2)
            rows = (rows * [sx * r, sy * r] + middle).reshape(-1, 4)
            panel.inside(rows, rest.intersection(quarter))
            panel.part(rest.intersection(quarter), "corner", "D1", "D2", "D4")
        # what stands beside the square is plain
        return panel
    elif case == "side by side":
        count = int(rng.integers(2, 4))
        gap = float(rng.choice([0.0, 0.03])) * w
        step = (w - gap * (count - 1)) / count
        for k in range(count):
            own = shapely.box(
                x0 + k * (step + gap), y0, x0 + k * (step + gap) + step, y1
            )
            panel.box(*own.bounds)
            other = str(rng.choice([*FIELDS, "stars", "twelve"]))
            put_field(panel, other, own, repeats=float(rng.choice([14, 24])))
        return panel
    elif case == "behind":
        half = 0.16 * w
        bar = shapely.box(middle[0] - half, y0, middle[0] + half, y1)
        panel.box(*bar.bounds)
        put_field(panel, content, area.difference(bar))
        panel.inside(rosette(8, True, min(half, h / 2), rng) + np.tile(middle, 2), bar)
        panel.part(bar, "medallion", "D8", "D4", "D2")
        return panel
    short = 0.0
    if case == "short":
        short = float(rng.uniform(0.15, 0.6))
    put_field(panel, content, area, short=short)
    return panel


def draw_panel(panel: Panel, noise: float = 0.0) -> list[Row]:
    """Return rows of curves; corners are moved by a share of the median side."""
    noded = []
    lengths = []
    for lines in panel.ink:
        if len(lines) == 0:
            continue
        whole = shapely.multilinestrings(np.asarray(lines).reshape(-1, 2, 2))
        whole = shapely.node(shapely.set_precision(whole, 1e-6))
        parts = shapely.get_parts(whole)
        xy = shapely.get_coordinates(parts)
        ends = [xy[:-1], xy[1:]]
        _, owner = shapely.get_coordinates(parts, return_index=True)
        keep = owner[:-1] == owner[1:]
        rows = np.hstack([ends[0][keep], ends[1][keep]])
        noded.append(rows)
        lengths.append(np.hypot(*(rows[:, 2:] - rows[:, :2]).T))
    rng = np.random.default_rng([5, int(panel.wide * 1000)])
    median = float(np.median(np.concatenate(lengths)))
    lines = shapely.linestrings(np.array(panel.frames).reshape(-1, 2, 2))
    frames = shapely.unary_union(lines)
    rows_out: list[Row] = []
    if noise:
        every = np.vstack(noded)
        ends = np.round(every.reshape(-1, 2), 5)
        unique, inverse = np.unique(ends, axis=0, return_inverse=True)
        moved = unique + rng.normal(0, noise * median, unique.shape)
        dots = shapely.points(unique)
        on = shapely.distance(frames, dots) < 1e-4
        if on.any():
            back = shapely.shortest_line(shapely.points(moved[on]), frames)
            moved[on] = shapely.get_coordinates(back).reshape(-1, 4)[:, 2:]
        for x, y, r in panel.rounds:
            away = moved - [x, y]
            far = np.hypot(*away.T)
            at = np.abs(np.hypot(*(unique - [x, y]).T) - r) < 2e-3
            moved[at] = [x, y] + away[at] * (r / far[at])[:, None]
        noded = [moved[inverse.ravel()].reshape(-1, 4)]
    every = np.vstack(noded)
    every = every[np.hypot(*(every[:, 2:] - every[:, :2]).T) > 1e-9]
    rows_out += [line(*row) for row in every]
    rows_out += [line(*row) for row in panel.frames]
    rows_out += [circle(*c) for c in panel.rounds]
    return rows_out


@dataclass
class Score:
    """What was right in one panel."""

    regions: int = 0
    right: int = 0
    parts: int = 0
    sure_and_wrong: int = 0
    none_and_sure: int = 0
    wrong: list[str] = field(default_factory=list)


def build_panel(panel: Panel, noise: float = 0.0) -> tuple[Arrangement, float]:
    """Return a panel's regions, and how far it was moved."""
    rows = draw_panel(panel, noise)
    edge = 10.0
    moved = []
    for kind, data in rows:
        d = list(data)
        d[0] += edge
        d[1] += edge
        if kind == 0:
            d[2] += edge
            d[3] += edge
        moved.append((kind, d))
    work = linework_from_curves(
        moved, panel.wide + 2 * edge, panel.tall + 2 * edge, has_page=False
    )
    return build_arrangement(work), edge


def score_panel(
    panel: Panel, arrangement: Arrangement, edge: float, zones: Sequence[Zone]
) -> Score:
    """Count the regions in a zone with the right group."""
    score = Score()
    xy = arrangement.witness[1:] - edge
    label = np.full(arrangement.face_count - 1, -1)
    for k, part in enumerate(panel.parts):
        label[shapely.contains_xy(part.area, *xy.T)] = k
    zone = np.zeros(arrangement.face_count, int)
    for z in zones:
        zone[z.faces] = z.index
    zone = zone[1:]
    right = np.zeros(len(zone), bool)
    for z in zones:
        mine = (zone == z.index) & (label >= 0)
        if not mine.any():
            continue
        major = np.bincount(label[mine]).argmax()
        found = z.symmetry.group
        good = found.short in panel.parts[major].groups
        # corner pieces about one centre are a zone, where each may be one too
        fits = [i for i, p in enumerate(panel.parts) if found.short in p.groups]
        role = panel.parts[major].role
        fits = [i for i in fits if i == major or role == "corner"]
        own = mine & (np.isin(label, fits) if good else label == major)
        if good:
            right |= own
        if mine.sum() >= 3 and not (good and own.sum() >= 0.9 * mine.sum()):
            sure = z.symmetry.certain and "plain" not in z.symmetry.reason
            score.sure_and_wrong += sure and found.family != "none"
            score.none_and_sure += sure and found.family == "none"
            inside = np.unique(label[mine])
            score.wrong.append(
                f"{panel.name}: zone {z.index} {found.short} "
                f"{'SURE' if sure else 'unsure'} {int(mine.sum())} regions of "
                + ", ".join(
                    f"{panel.parts[i].role} {'/'.join(sorted(panel.parts[i].groups))}"
                    f" {int((label[mine] == i).sum())}/{int((label == i).sum())}"
                    for i in inside[:5]
                )
            )
    score.regions = int((label >= 0).sum())
    score.right = int(right[label >= 0].sum())
    score.parts = len(panel.parts)
    return score
