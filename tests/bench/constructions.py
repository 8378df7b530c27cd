"""Count the regions of random constructions, meshes, cells and maps.

    python tests/bench/constructions.py SEED SECONDS [--kinds mesh,ring] [--keep FOLDER]

Drawings are made from the seed until so many seconds of processor time have gone, with
warnings as errors; their numbers are written with 2 to 17 decimals, the latter off in
the last digits each time, circles as such, as arcs or as Béziers. How many regions
there are follows from the construction: Euler's formula, the table of B. Poonen and
M. Rubinstein (The number of intersection points made by the diagonals of a regular
polygon, SIAM J. Discrete Math. 11(1), 1998; OEIS A007678), scipy's triangles and cells,
or the places of a grid. Where rounding made others of straight lines, as shapely's
polygonize counts them, a drawing is left out; one so flat that rounding may have made
it may be taken for a line. A line tells each that was counted otherwise, or ended in an
error; the last three sum up.
"""

from __future__ import annotations

import argparse
import cmath
import math
import random
import time
import warnings
from collections import Counter
from itertools import pairwise
from pathlib import Path

import numpy as np
import shapely
from scipy.spatial import Delaunay, Voronoi
from shapely.ops import polygonize

from fillwork import build_arrangement, read_linework

DIAGONALS = {5: 11, 6: 24, 7: 50, 8: 80, 9: 154, 10: 220, 12: 444, 14: 952, 16: 1696}
KAPPA = 4 / 3 * (math.sqrt(2) - 1)  # the usual Bézier for a quarter of a circle
SIZE = 65.0  # mm, what is drawn of radius 1: a square of it stays on the page turned


class Sheet:
    """Hold the paths of one drawing, and how numbers and circles are written."""

    def __init__(self, seed: str) -> None:
        self.random = random.Random(seed)
        self.decimals = self.random.choice([2, 3, 3, 4, 5, 6, 17])
        self.turn = cmath.rect(SIZE, self.random.choice([0.0, 1.0]) * self.uniform(6))
        self.jitter = 10 ** self.random.uniform(-16, -12)
        self.circle_as = self.random.choice(["circle", "arcs", "Béziers"])
        self.width = self.random.choice([0.1, 0.25, 0.4])
        self.body: list[str] = []
        self.straight: list[list[tuple[float, float]]] = []

    def uniform(self, most: float) -> float:
        return self.random.uniform(0, most)

    def number(self, value: float) -> str:
        if self.decimals == 17:
            return repr(value * (1 + self.jitter * self.random.uniform(-1, 1)))
        return f"{value:.{self.decimals}f}"

    def pair(self, z: complex) -> str:
        return f"{self.number(z.real)} {self.number(z.imag)}"

    def line(self, *points: complex) -> None:
        places = [100 + 100j + z * self.turn for z in points]
        self.body.append(f'<path d="M{"L".join(self.pair(z) for z in places)}"/>')
        d = self.decimals
        self.straight.append([(round(z.real, d), round(z.imag, d)) for z in places])

    def circle(self, centre: complex, radius: float) -> None:
        z, r = 100 + 100j + centre * self.turn, radius * SIZE
        if self.circle_as == "circle":
            x, y, size = (self.number(v) for v in (z.real, z.imag, r))
            self.body.append(f'<circle cx="{x}" cy="{y}" r="{size}"/>')
            return
        start, size = self.uniform(6), self.number(r)
        at = [cmath.rect(r, start + k * math.pi / 2) for k in range(5)]
        text = [f"M{self.pair(z + at[0])}"]
        for a, b in pairwise(at):
            if self.circle_as == "arcs":
                text.append(f"A{size} {size} 0 0 1 {self.pair(z + b)}")
            else:
                bent = (z + a * (1 + KAPPA * 1j), z + b * (1 - KAPPA * 1j), z + b)
                text.append("C" + " ".join(self.pair(c) for c in bent))
        self.body.append(f'<path d="{"".join(text)}"/>')

    def svg(self) -> str:
        self.random.shuffle(self.body)
        return (
            '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
            'viewBox="0 0 200 200"><g fill="none" stroke="#000" '
            f'stroke-width="{self.width}">{"".join(self.body)}</g></svg>'
        )


def unit(k: float, n: int) -> complex:
    return cmath.rect(1.0, 2 * math.pi * k / n)


def diagonals(s: Sheet) -> int:
    n = s.random.choice([n for n in DIAGONALS if n < 16 or s.decimals > 2])
    for i in range(n):
        for j in range(i):
            s.line(unit(i, n), unit(j, n))
    if s.random.random() < 0.5:
        return DIAGONALS[n]
    s.circle(0, 1.0)
    return DIAGONALS[n] + n


def star(s: Sheet) -> int:
    n = s.random.randrange(5, 40)
    k = s.random.randrange(2, max(3, min((n + 1) // 2, 250 // n)))
    for i in range(n):
        s.line(unit(i, n), unit(i + k, n))
    return n * (k - 1) + 1


def flower(s: Sheet) -> int:
    """Draw circles through one point: all pairs cross there and in one place more."""
    n = s.random.randrange(3, 18)
    for i in range(n):
        s.circle(unit(i, n) / 2, 0.5)
    touching = n // 2 if n % 2 == 0 else 0
    vertices = 1 + n * (n - 1) // 2 - touching
    return n * (n if n % 2 else n - 1) - vertices + 1


def ring(s: Sheet) -> int:
    """Draw circles in a ring that touch each other, with those outside and inside."""
    n = s.random.randrange(4, 25)
    middle = 1 / (1 + math.sin(math.pi / n))
    for i in range(n):
        s.circle(unit(i, n) * middle, 1 - middle)
    more = s.random.randrange(3)
    for radius in (1.0, 2 * middle - 1)[:more]:
        s.circle(0, radius)
    return (1 + more) * n + 1


def touching_grid(s: Sheet) -> int:
    """Draw circles in rows, or those in a grid of squares that they touch."""
    m, n = s.random.randrange(2, 7), s.random.randrange(2, 7)
    step = 2 / max(m, n)
    for i in range(m):
        for j in range(n):
            s.circle(complex(-1 + step * (i + 0.5), -1 + step * (j + 0.5)), step / 2)
    if s.random.random() < 0.5:
        return m * n + (m - 1) * (n - 1)
    for i in range(m + 1):
        s.line(complex(-1 + step * i, -1), complex(-1 + step * i, -1 + step * n))
    for j in range(n + 1):
        s.line(complex(-1, -1 + step * j), complex(-1 + step * m, -1 + step * j))
    return 5 * m * n


def tangents(s: Sheet) -> int:
    """Draw a regular polygon, the circles about and in it, and its radii."""
    n = s.random.choice([3, 4, 5, 6, 8, 10, 12])
    s.circle(0, 1.0)
    s.circle(0, math.cos(math.pi / n))
    s.line(*(unit(i, n) for i in range(n + 1)))
    radii = s.random.randrange(3)
    for k in range(radii):
        for i in range(n):
            s.line(0j, unit(i + k / 2, n))
    # to corners: n - 1 more within, n at the corners; to touches: n and n
    return 2 * n + 1 + (0, 2 * n - 1, 4 * n - 1)[radii]


def mesh(s: Sheet) -> int:
    n = s.random.randrange(10, 250)
    points: list[complex] = []
    while len(points) < n:
        z = complex(s.random.uniform(-1, 1), s.random.uniform(-1, 1))
        if all(abs(z - y) > 0.4 / math.sqrt(n) for y in points):
            points.append(z)
    corners = Delaunay(np.array([[z.real, z.imag] for z in points])).simplices
    sides = np.sort(corners[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    for a, b in np.unique(sides, axis=0).tolist():
        s.line(points[a], points[b])
    return len(corners)


def cells(s: Sheet, *, each: bool = False) -> int:
    """Draw Voronoi cells in a square: points and their images beyond its sides."""
    n = s.random.randrange(5, 200)
    p = np.array([[s.uniform(2) - 1, s.uniform(2) - 1] for _ in range(n)])
    images = [p * [-1, 1] + [v, 0] for v in (-2, 2)]
    images += [p * [1, -1] + [0, v] for v in (-2, 2)]
    found = Voronoi(np.concatenate([p, *images]))
    place = [complex(*v) for v in found.vertices.clip(-1, 1)]
    if each:
        for k in range(n):
            corner = [place[v] for v in found.regions[found.point_region[k]]]
            middle = sum(corner) / len(corner)
            corner.sort(key=lambda z: cmath.phase(z - middle))
            s.line(*corner, corner[0])
        return n
    for (a, b), (i, j) in zip(found.ridge_vertices, found.ridge_points, strict=True):
        if a >= 0 and b >= 0 and min(i, j) < n:
            s.line(place[a], place[b])
    return n


def tiles(s: Sheet) -> int:
    return cells(s, each=True)


def rough_map(s: Sheet, *, each: bool = False) -> int:
    """Draw a grid of states with crooked borders, once or with each state's own."""
    m, n, bends = (
        s.random.randrange(3, 9),
        s.random.randrange(3, 9),
        s.random.randrange(9),
    )
    step, rng = 2 / max(m, n), s.random
    at = {
        (i, j): complex(-1 + step * i, -1 + step * j)
        + (0 < i < m and 0 < j < n)
        * step
        * complex(rng.uniform(-0.2, 0.2), rng.uniform(-0.2, 0.2))
        for i in range(m + 1)
        for j in range(n + 1)
    }

    def border(a: tuple[int, int], b: tuple[int, int]) -> list[complex]:
        way = at[b] - at[a]
        inner = [
            at[a] + way * (t / (bends + 1) + rng.uniform(-0.03, 0.03) * 1j)
            for t in range(1, bends + 1)
        ]
        return [at[a], *inner, at[b]]

    across = {(i, j): border((i, j), (i + 1, j)) for i, j in at if i < m}
    upwards = {(i, j): border((i, j), (i, j + 1)) for i, j in at if j < n}
    if not each:
        for points in (*across.values(), *upwards.values()):
            s.line(*points)
        return m * n
    for i in range(m):
        for j in range(n):
            right, left = upwards[i + 1, j][1:], upwards[i, j][-2::-1]
            s.line(*across[i, j], *right, *across[i, j + 1][-2::-1], *left)
    return m * n


def own_map(s: Sheet) -> int:
    return rough_map(s, each=True)


KINDS = (diagonals, star, flower, ring, touching_grid, tangents)
STRAIGHT = (mesh, cells, tiles, rough_map, own_map)


def written(sheet: Sheet) -> tuple[int | None, int]:
    """Return how many regions the lines have with their numbers as written.

    And how many of these the decimals alone part from none: flatter than two points may
    be off by them, such a triangle is as well a corner on a line. None where one is
    flatter than a tenth of a millionth of the drawing too.
    """
    lines = shapely.unary_union([shapely.LineString(p) for p in sheet.straight])
    found = list(polygonize(lines))
    height = np.array([4 * piece.area / piece.length for piece in found])
    size = math.dist(lines.bounds[:2], lines.bounds[2:])
    open_ = height < math.sqrt(2) * 10.0**-sheet.decimals
    none = (open_ & (height < 1e-7 * size)).any()
    return None if none else len(found), int(open_.sum())


def main() -> None:
    """Print what was counted wrong, and a line that sums up."""
    ask = argparse.ArgumentParser()
    ask.add_argument("seed", type=int)
    ask.add_argument("seconds", type=float)
    ask.add_argument("--kinds")
    ask.add_argument("--keep", type=Path)
    given = ask.parse_args()
    warnings.simplefilter("error")
    names = given.kinds and given.kinds.split(",")
    kinds = [k for k in KINDS + STRAIGHT if not names or k.__name__ in names]
    drawn, wrong, left_out, as_lines = (Counter[str]() for _ in range(4))
    begin, number = time.process_time(), 0
    while time.process_time() - begin < given.seconds:
        kind = kinds[number % len(kinds)]
        sheet = Sheet(f"{given.seed} {kind.__name__} {number}")
        wanted, text = kind(sheet), sheet.svg()
        name, number = f"{kind.__name__}-{given.seed}-{number}.svg", number + 1
        of_lines, either = written(sheet) if kind in STRAIGHT else (wanted, 0)
        if of_lines != wanted:
            left_out[kind.__name__] += 1
            continue
        drawn[kind.__name__] += 1
        try:
            found = build_arrangement(read_linework(text.encode())).face_count - 1
            told = "" if found == wanted else f"{found} for {wanted}"
            if wanted - either <= found < wanted:
                as_lines[kind.__name__] += 1
                told = ""
        except Exception as error:  # each is counted and told
            told = f"{type(error).__name__}: {error}"
        if told:
            wrong[kind.__name__] += 1
            how = f"{sheet.decimals} decimals, {sheet.circle_as}"
            print(f"{name}: {told} ({how})", flush=True)
            if given.keep:
                given.keep.mkdir(parents=True, exist_ok=True)
                (given.keep / name).write_text(text)
    print(f"{drawn.total()} drawn, {left_out.total()} left out: {dict(drawn)}")
    print(f"{as_lines.total()} with regions as lines that decimals part from none")
    print(f"{wrong.total()} wrong: {dict(wrong)}")


if __name__ == "__main__":
    main()
