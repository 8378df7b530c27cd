"""How many drawn cells are laid with the right lines.

Patterns of straight lines and arcs are constructed by the operations of their groups
(general positions of gemmi's table for the plane, of the International Tables E for
strips), a cell is cut out by its guide, its ends at the guide moved about as a hand
would, and the drawing turned and shifted on a larger page. It is right when what is
laid is the construction within the misfit, a millimetre off the panel's edge.
``FILLWORK_SEEDS`` says how many sets are made (1), ``FILLWORK_FIRST_SEED`` which is
the first (100). Run:
``pytest -m bench -s tests/bench/test_laying.py``.
"""

from __future__ import annotations

import math
import os
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pytest
import shapely

from fillwork.geometry import affine
from fillwork.laying.cell import default_slack, find_cell
from fillwork.laying.field import lay_motif
from fillwork.laying.joins import make_motif
from fillwork.laying.panel import rectangle_panel
from fillwork.pipeline.laying_way import choose_way
from fillwork.readers import read_linework
from tests.unit.laying.patterns import KIND, PARTS, covers, operations

pytestmark = pytest.mark.bench

FIRST = int(os.environ.get("FILLWORK_FIRST_SEED", "100"))
SEEDS = range(FIRST, FIRST + int(os.environ.get("FILLWORK_SEEDS", "1")))
GUIDE = "colour=#00f"
STATES = ((0.0, 0.0), (0.1, 0.37), (0.2, -0.29), (0.3, 1.1))  # misfit mm, turn
FREE, SIDE, LEAST = 1.2, 1.2, 2.5  # mm: ends off the guide, apart on it, pieces

# general positions of the frieze groups, International Tables E: x, y factors, shift
FRIEZES = {
    "p1": [(1, 1, 0)],
    "p2": [(1, 1, 0), (-1, -1, 0)],
    "p1m1": [(1, 1, 0), (-1, 1, 0)],
    "p11m": [(1, 1, 0), (1, -1, 0)],
    "p11g": [(1, 1, 0), (1, -1, 0.5)],
    "p2mm": [(1, 1, 0), (-1, 1, 0), (1, -1, 0), (-1, -1, 0)],
    "p2mg": [(1, 1, 0), (-1, -1, 0), (-1, 1, 0.5), (1, -1, 0.5)],
}
STRIP_CELLS = {  # x of the cell, and y as shares of half the height
    "p1": [(0, 1, -1)], "p2": [(0, 0.5, -1), (0, 1, 0)], "p1m1": [(0, 0.5, -1)],
    "p11m": [(0, 1, 0)], "p11g": [(0, 0.5, -1), (0, 1, 0)], "p2mm": [(0, 0.5, 0)],
    "p2mg": [(0, 0.25, -1), (-0.25, 0.25, 0)],
}  # fmt: skip


class Made(NamedTuple):
    """A cell and the operations that make the pattern of it, strokes in mm."""

    name: str
    by: str
    group: str
    outline: np.ndarray
    maps: list  # affine maps that carry strokes about in one repeat
    basis: np.ndarray  # shifts as rows
    span: np.ndarray  # box that strokes begin in: low, high


# a stroke is x0, y0, x1, y1 and the bulge of DXF: tan of a quarter of its sweep


def carried(strokes: np.ndarray, maps: list) -> np.ndarray:
    found = []
    for g in maps:
        moved = strokes.copy()
        moved[:, :4] = affine.apply(g, strokes[:, :4].reshape(-1, 2)).reshape(-1, 4)
        moved[:, 4] *= np.sign(affine.determinant(g))
        found.append(moved)
    return np.concatenate(found)


def circle_of(stroke: np.ndarray) -> tuple[complex, float, float, float]:
    p, q, b = complex(*stroke[:2]), complex(*stroke[2:4]), stroke[4]
    centre = (p + q) / 2 + 1j * (q - p) / 2 * (1 - b * b) / (2 * b)
    first = math.atan2((p - centre).imag, (p - centre).real)
    return centre, abs(p - centre), first, 4 * math.atan(b)


def point(stroke: np.ndarray, share: float) -> np.ndarray:
    if stroke[4] == 0:
        return stroke[:2] + share * (stroke[2:4] - stroke[:2])
    centre, radius, first, sweep = circle_of(stroke)
    z = centre + radius * np.exp(1j * (first + share * sweep))
    return np.array([z.real, z.imag])


def crossings(stroke: np.ndarray, p: np.ndarray, q: np.ndarray) -> list[float]:
    d = q - p
    if stroke[4] == 0:
        e = stroke[2:4] - stroke[:2]
        det = e[0] * d[1] - e[1] * d[0]
        if abs(det) < 1e-12:
            return []
        w = p - stroke[:2]
        return [(w[0] * d[1] - w[1] * d[0]) / det]
    centre, radius, first, sweep = circle_of(stroke)
    n = np.array([-d[1], d[0]]) / np.hypot(*d)
    off = float((p - [centre.real, centre.imag]) @ n)
    if abs(off) >= radius:
        return []
    base, half = math.atan2(n[1], n[0]), math.acos(off / radius)
    found = []
    for angle in (base - half, base + half):
        turn = (angle - first) * np.sign(sweep) % (2 * math.pi)
        found.append(turn / abs(sweep))
    return found


def cut_out(strokes: np.ndarray, outline: np.ndarray) -> np.ndarray:
    """Return the parts of strokes inside an outline, and which ends lie on it."""
    polygon = shapely.Polygon(outline)
    low, high = outline.min(axis=0), outline.max(axis=0)
    found = []
    for s in strokes:
        reach = np.hypot(*(s[2:4] - s[:2])) * (1 if s[4] == 0 else 1.2)
        ends = s[:4].reshape(2, 2)
        if (ends.max(axis=0) < low - reach).any():
            continue
        if (ends.min(axis=0) > high + reach).any():
            continue
        at = [0.0, 1.0]
        for p, q in zip(outline, np.roll(outline, -1, axis=0), strict=True):
            at += [t for t in crossings(s, p, q) if 0 < t < 1]
        at = sorted(at)
        for a, b in pairwise(at):
            if b - a > 1e-9 and polygon.contains(shapely.Point(point(s, (a + b) / 2))):
                bulge = 0.0 if s[4] == 0 else math.tan(math.atan(s[4]) * (b - a))
                found.append([*point(s, a), *point(s, b), bulge])
    return np.array(found).reshape(-1, 5)


def length(s: np.ndarray) -> float:
    chord = float(np.hypot(*(s[2:4] - s[:2])))
    return chord if s[4] == 0 else abs(circle_of(s)[1] * 4 * math.atan(s[4]))


def sound(parts: np.ndarray, outline: np.ndarray) -> bool:
    """Return whether a maker could draw this: no scraps, ends apart on the guide."""
    if any(length(s) < LEAST for s in parts):
        return False
    rim = shapely.LinearRing(outline)
    ends = parts[:, :4].reshape(-1, 2)
    off = shapely.distance(rim, shapely.points(ends))
    on = off < 1e-6
    if ((off < FREE) & ~on).any():
        return False
    corners = np.hypot(*np.moveaxis(ends[on][:, None] - outline, -1, 0))
    if corners.size and corners.min() < SIDE:
        return False
    for s in parts:  # steep enough at the guide
        for end, inner in ((s[:2], point(s, 0.05)), (s[2:4], point(s, 0.95))):
            if rim.distance(shapely.Point(end)) < 1e-6:
                step = np.hypot(*(inner - end))
                if rim.distance(shapely.Point(inner)) < 0.4 * step:
                    return False
    between = np.hypot(*np.moveaxis(ends[on][:, None] - ends[on], -1, 0))
    return not ((between > 1e-6) & (between < SIDE)).any()


def draw(made: Made, rng: np.random.Generator) -> np.ndarray:
    """Return strokes whose images give a cell that can be drawn."""
    strokes, wanted = np.empty((0, 5)), int(rng.integers(4, 9))
    size = float(np.sqrt(shapely.Polygon(made.outline).area))
    crossing, held, rim = 0, np.empty((0, 5)), shapely.LinearRing(made.outline)
    for _ in range(150):
        step = size * (0.3 + 0.6 * rng.random()) * np.exp(2j * math.pi * rng.random())
        if rng.random() < 0.7:  # over the guide
            on = np.array(rim.interpolate(rng.random(), normalized=True).coords[0])
            p = on - [step.real / 2, step.imag / 2]
        else:
            p = made.span[0] + rng.random(2) * (made.span[1] - made.span[0])
        q = p + np.array([step.real, step.imag])
        bulge = 0.0 if rng.random() < 0.6 else float(rng.uniform(0.15, 0.7))
        more = np.vstack([strokes, [*p, *q, bulge * rng.choice([-1, 1])]])
        seen = np.array([point(more[-1], t) for t in np.linspace(0, 1, 9)])
        outside = (seen < made.span[0]).any() or (seen > made.span[1]).any()
        if made.group.startswith(("frieze", "rosette")) and outside:
            continue
        new = cut_out(over(made, more[-1:], made.outline), made.outline)
        parts = np.vstack([held, new])
        if not len(new) or not sound(parts, made.outline):
            continue
        strokes, held = more, parts
        ends = shapely.points(parts[:, :4].reshape(-1, 2))
        crossing = int((shapely.distance(rim, ends) < 1e-6).sum())
        if len(strokes) >= wanted and crossing >= 4:
            break
    return strokes


def over(made: Made, strokes: np.ndarray, box: np.ndarray) -> np.ndarray:
    """Return the images of strokes that may meet a box, given by its corners."""
    every = carried(strokes, made.maps)
    low, high = box.min(axis=0), box.max(axis=0)
    if len(made.basis):
        ends = every[:, :4].reshape(-1, 2)
        corners = np.array(
            [[x, y] for x in (low[0], high[0]) for y in (low[1], high[1])]
        )
        room = (corners[:, None] - ends).reshape(-1, 2) @ np.linalg.pinv(made.basis)
        first, last = np.floor(room.min(axis=0)), np.ceil(room.max(axis=0))
        axes = [np.arange(a - 1, b + 2) for a, b in zip(first, last, strict=True)]
        grid = (
            np.stack(np.meshgrid(*axes), -1).reshape(-1, len(made.basis)) @ made.basis
        )
        every = np.repeat(every[None], len(grid), axis=0)
        every[..., :4] += np.tile(grid, 2)[:, None]
        every = every.reshape(-1, 5)
    reach = 1.2 * np.hypot(*(every[:, 2:4] - every[:, :2]).T)[:, None]
    ends = every[:, :4].reshape(-1, 2, 2)
    meets = (ends.max(axis=1) > low - reach) & (ends.min(axis=1) < high + reach)
    return every[meets.all(axis=1)]


def in_frame(matrix: np.ndarray, shift: np.ndarray, basis: np.ndarray) -> tuple:
    linear = basis.T @ matrix @ np.linalg.inv(basis.T)
    x, y = shift @ basis
    return (*linear.T.ravel().tolist(), float(x), float(y))


def lattice(kind: str, rng: np.random.Generator) -> np.ndarray:
    a, b = rng.uniform(32, 50, 2)
    if kind == "oblique":
        angle = math.radians(rng.uniform(62, 82))
        return np.array([[a, 0], [b * math.cos(angle), b * math.sin(angle)]])
    if kind == "square":
        return np.array([[a, 0], [0, a]])
    if kind == "hexagonal":
        return np.array([[a, 0], [-a / 2, a * math.sqrt(3) / 2]])
    return np.array([[a, 0], [0, b]])


def plane(name: str, rng: np.random.Generator, by: str = "", part: int = -1) -> Made:
    basis = lattice(KIND[name], rng)
    maps = [in_frame(m, t, basis) for m, t in operations(name)]
    parts = PARTS[name]
    k = int(rng.integers(len(parts))) if part < 0 else part
    outline = np.array(parts[k]) @ basis
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) @ basis
    span = np.array([corners.min(axis=0), corners.max(axis=0)])
    group = "" if by else f"plane:{name}"
    return Made(by or f"{group} {k}", by, group, outline, maps, basis, span)


def frieze(name: str, rng: np.random.Generator) -> Made:
    period, high = rng.uniform(45, 70), rng.uniform(12, 18)
    basis = np.array([[period, 0.0]])
    maps = [(sx, 0, 0, sy, t * period, 0) for sx, sy, t in FRIEZES[name]]
    x0, x1, low = STRIP_CELLS[name][int(rng.integers(len(STRIP_CELLS[name])))]
    outline = np.array([[x0, low], [x1, low], [x1, 1], [x0, 1]]) * [period, high]
    span = np.array([[-period, 2 - high], [period, high - 2]])
    return Made(
        f"frieze:{name} {low}", "", f"frieze:{name}", outline,
        maps, basis, span,
    )  # fmt: skip


def rosette(name: str, rng: np.random.Generator) -> Made:
    n, radius = int(name[1:]), rng.uniform(45, 60)
    angle = (math.pi if name[0] == "D" else 2 * math.pi) / n
    mirror = (1, 0, 0, -1, 0, 0)
    turns = [affine.rotation(2 * math.pi * k / n) for k in range(n)]
    maps = turns + [affine.compose(t, mirror) for t in turns if name[0] == "D"]
    rim = radius / math.cos(angle / 2) if angle < 2 else radius
    ray = np.array([math.cos(angle), math.sin(angle)])
    outline = np.array([[0, 0], [rim, 0], rim * ray])
    span = np.array([[-0.68, -0.68], [0.68, 0.68]]) * radius
    return Made(
        f"rosette:{name}", "", f"rosette:{name}", outline, maps, np.empty((0, 2)), span
    )


def shifts(name: str, rng: np.random.Generator) -> Made:
    a, b = rng.uniform(32, 50, 2)
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    by = "shifts"
    if name == "hexagon":
        t = np.arange(6) * math.pi / 3 + math.pi / 6
        outline = a / 2 * np.stack([np.cos(t), np.sin(t)], axis=1)
        basis = np.array([outline[0] - outline[2], outline[1] - outline[3]])
    else:
        high = a if name in ("square", "rhombus", "half-drop") else b
        angle = math.radians(rng.uniform(55, 75)) if name == "rhombus" else math.pi / 2
        basis = np.array([[a, 0], [high * math.cos(angle), high * math.sin(angle)]])
        outline = square @ basis
    if name == "half-drop":
        by, basis = "drop 1/2", np.array([basis[0] - basis[1] / 2, basis[1]])
    if name == "brick":
        by, basis = "brick 1/3", np.array([basis[0], basis[1] + basis[0] / 3])
    if name == "two shifts":
        basis = np.array([basis[0], basis[1] + rng.uniform(0.15, 0.4) * basis[0]])
        by = "shifts x"
    span = np.array([outline.min(axis=0), outline.max(axis=0)])
    return Made(name, by, "", outline, [affine.IDENTITY], basis, span)


def four_sided(rng: np.random.Generator) -> Made:
    corners = np.array([[0, 0], [44, 3], [38, 40], [5, 30]]) + rng.uniform(
        -3, 3, (4, 2)
    )
    p, q, r, s = corners
    x, y = p + q
    maps, basis = [affine.IDENTITY, (-1, 0, 0, -1, x, y)], np.array([r - p, s - q])
    span = np.array([corners.min(axis=0), corners.max(axis=0)])
    return Made("turns of any four sides", "turns 2", "", corners, maps, basis, span)


SHIFTS = (
    "square",
    "rectangle",
    "rhombus",
    "hexagon",
    "two shifts",
    "half-drop",
    "brick",
)
TURNED = (("mirrors", "pmm"), ("mirrors", "p4m"), ("mirrors", "p6m"),
          ("mirrors", "p3m1"), ("turns 4", "p4"), ("turns 3", "p3"))  # fmt: skip
ROSETTES = ("C5", "C8", "D3", "D6", "D7", "D12")
NAMES = [
    *((plane, n) for n in PARTS),
    *((frieze, n) for n in FRIEZES),
    *((rosette, n) for n in ROSETTES),
    *((shifts, n) for n in SHIFTS),
    *((None, t) for t in TURNED),
    (four_sided, ""),
]


def make(kind: object, name: object, rng: np.random.Generator) -> Made:
    if kind is four_sided:
        return four_sided(rng)
    if kind is None:
        by, group = name
        made = plane(group, rng, by=by, part=0)
        return made._replace(name=f"{by} of {group}")
    return kind(name, rng)


def by_hand(
    parts: np.ndarray, outline: np.ndarray, misfit: float, rng: np.random.Generator
) -> np.ndarray:
    ends = parts[:, :4].reshape(-1, 2)
    off = shapely.distance(shapely.LinearRing(outline), shapely.points(ends))
    radius = misfit / 2 * np.sqrt(rng.random(len(ends)))
    angle = 2 * math.pi * rng.random(len(ends))
    step = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    moved = parts.copy()
    moved[:, :4] = (ends + np.where((off < 1e-6)[:, None], step, 0)).reshape(-1, 4)
    return moved


def write(parts: np.ndarray, outline: np.ndarray, size: float) -> bytes:
    corners = " ".join(f"{x:.4f},{size - y:.4f}" for x, y in outline)
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}mm" height="{size}mm" '
        f'viewBox="0 0 {size} {size}" fill="none" stroke="#000" stroke-width=".3">',
        f'<polygon points="{corners}" stroke="#00f"/>',
    ]
    for x0, y0, x1, y1, b in parts:
        to = f"L{x1:.4f} {size - y1:.4f}"
        if b:
            r = math.hypot(x1 - x0, y1 - y0) * (1 + b * b) / (4 * abs(b))
            to = f"A{r:.5f} {r:.5f} 0 0 {int(b < 0)} {x1:.4f} {size - y1:.4f}"
        rows.append(f'<path d="M{x0:.4f} {size - y0:.4f}{to}"/>')
    return "\n".join([*rows, "</svg>"]).encode()


def chords(strokes: np.ndarray) -> np.ndarray:
    found = []
    for s in strokes:
        n = 1 if s[4] == 0 else 48
        points = np.array([point(s, t) for t in np.linspace(0, 1, n + 1)])
        found.append(np.stack([points[:-1], points[1:]], axis=1))
    return np.concatenate(found)


def inside(lines: np.ndarray, window: shapely.Polygon) -> np.ndarray:
    parts = shapely.get_parts(shapely.intersection(shapely.linestrings(lines), window))
    parts = parts[(shapely.get_type_id(parts) == 1) & (shapely.length(parts) > 1e-9)]
    rows = [np.asarray(p.coords) for p in parts]
    pairs = [np.stack([r[:-1], r[1:]], 1) for r in rows]
    return np.concatenate([np.empty((0, 2, 2)), *pairs])


def judge(made: Made, rng: np.random.Generator, state: tuple) -> str:
    misfit, turn = state
    strokes = draw(made, rng)
    parts = cut_out(over(made, strokes, made.outline), made.outline)
    parts = by_hand(parts, made.outline, misfit, rng)
    middle = made.outline.mean(axis=0)
    place = affine.compose(
        affine.translation(*(np.array([90.0, 84.0]) - middle)),
        affine.rotation(turn, tuple(middle)),
    )
    outline = affine.apply(place, made.outline)
    data = write(carried(parts, [place]), outline, 180.0)
    by = made.by
    if by == "shifts x":
        a, b = affine.apply(affine.rotation(turn), made.basis)
        by = f"shifts {a[0]:.6f},{a[1]:.6f} {b[0]:.6f},{b[1]:.6f}"
    size = (float(rng.uniform(110, 150)), float(rng.uniform(90, 120)))
    drawn = read_linework(data, name="cell.svg", leave=(GUIDE,))
    guide = read_linework(data, name="cell.svg", lines=(GUIDE,), scope="both")
    slack = default_slack(drawn)
    cell = find_cell(drawn, guide, slack=slack)
    way, doubt = choose_way(cell, by, made.group, slack)
    wrong = "in doubt, told" if doubt else "WRONG"
    motif = make_motif(cell, way, slack=slack)
    if any(not m.closed for m in motif.misfits):
        return f"{wrong}: joins left open"
    shift = affine.translation(*(np.array(size) * rng.uniform(0.3, 0.7, 2) - 87))
    laid, _ = lay_motif(motif, rectangle_panel(*size), shift)
    to_panel = affine.compose(shift, place)
    box = np.array([[0, 0], [size[0], 0], size, [0, size[1]]])
    every = over(made, strokes, affine.apply(affine.invert(to_panel), box))
    truth = chords(carried(every, [to_panel]))
    window = shapely.box(1, 1, size[0] - 1, size[1] - 1)
    flat, _, _ = laid.flatten(1e-3)
    flat = flat.reshape(-1, 2, 2)
    near = misfit + 0.02
    ours, theirs = inside(flat, window), inside(truth, window)
    if not covers(truth, ours, near):
        return f"{wrong}: lines that are not in the construction"
    if not covers(flat, theirs, near):
        return f"{wrong}: lines that are missing"
    longs = [np.hypot(*(v[:, 1] - v[:, 0]).T).sum() for v in (ours, theirs)]
    part = np.mean([length(s) for s in parts])
    if abs(longs[0] - longs[1]) > (0.002 + misfit / part) * longs[1]:
        return f"{wrong}: {longs[0]:.1f} mm of lines for {longs[1]:.1f}"
    return "right"


@pytest.mark.parametrize("state", STATES, ids=lambda s: f"{s[0]}")
def test_cells(state: tuple) -> None:
    tally: dict[str, int] = {}
    print()
    for seed in SEEDS:
        for number, (kind, name) in enumerate(NAMES):
            rng = np.random.default_rng([seed, number, int(10 * state[0])])
            made = make(kind, name, rng)
            result = judge(made, rng, state)
            tally[result.split(":")[0]] = tally.get(result.split(":")[0], 0) + 1
            if result != "right":
                print(f"  seed {seed}, {made.name}: {result}")
    words = ", ".join(f"{n} {v}" for v, n in sorted(tally.items()))
    print(f"misfit {state[0]} mm, turned {math.degrees(state[1]):.0f} degrees: {words}")
