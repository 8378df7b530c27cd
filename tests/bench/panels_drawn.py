"""Panels as makers frame them, of kinds that `framed.py` does not make.

Each is constructed with its zones; their groups are those of `ornaments.py`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from tests.bench.framed import Panel
from tests.bench.ink import (
    Ink,
    arc,
    circle,
    clipped,
    corners,
    lines,
    moved,
    once,
    placed,
    ring,
)
from tests.bench.ornaments import (
    CORNERS,
    CROSSING_CIRCLES,
    FIELDS,
    MOTIFS,
    OVERLAPPING,
    corner_piece,
    motif,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    Box = tuple[float, float, float, float]


class Work(Panel):
    """A panel in the making: its ink, its frame, and the zones that it has."""

    def __init__(self, case: str, seed: int, *, noisy: bool) -> None:
        numbers = [91, seed, sum(map(ord, case))]
        super().__init__(np.random.default_rng(numbers), f"{case} {seed}")
        self.lines: Ink = []
        self.frame: Ink = []
        self.noisy = noisy
        self.wide = float(self.rng.uniform(240, 330))
        self.tall = float(self.rng.uniform(180, 240))

    @property
    def whole(self) -> Box:
        return (0.0, 0.0, self.wide, self.tall)

    def one_of(self, names: Iterable[str]) -> str:
        return str(self.rng.choice(list(names)))

    def draw_box(self, box: Box) -> None:
        x0, y0, x1, y1 = box
        self.frame += ring((x0, y0), (x1, y0), (x1, y1), (x0, y1))

    def fill(
        self,
        area: shapely.Geometry,
        name: str = "",
        repeats: float = 0.0,
        *,
        at: tuple[float, float] | None = None,
        spin: float = 0.0,
        size: float = 0.0,
    ) -> None:
        """Lay a field over an area, a corner of its cell at a point.

        `size`: of the field's unit, mm; else it has so many repeats.
        """
        rng = self.rng
        known = [f for f in FIELDS if not (self.noisy and f in CROSSING_CIRCLES)]
        name = name or self.one_of(known)
        repeats = repeats or float(rng.choice([24, 40, 60]))
        steps, cell, group = FIELDS[name]()
        x0, y0, x1, y1 = area.bounds
        basis = np.array(steps, float)
        size = size or float(np.sqrt(area.area / repeats / abs(np.linalg.det(basis))))
        start = np.array(at or (rng.uniform(x0, x1), rng.uniform(y0, y1)))
        middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
        far = np.hypot(x1 - x0, y1 - y0) / 2 + 4 * size
        reach = far + np.hypot(*(start - middle))
        turn = placed(spin)
        n = int(np.abs(np.linalg.inv(basis * size)).sum(axis=0).max() * reach) + 3
        grid = np.stack(np.meshgrid(np.arange(-n, n + 1), np.arange(-n, n + 1)), -1)
        places = turn(grid.reshape(-1, 2) @ basis * size) + start
        ink: Ink = []
        for place in places[np.abs(places - middle).max(axis=1) <= far]:
            ink += moved(cell, placed(spin, size, place))
        self.lines += clipped(once(ink), area)
        self.part(area, "field", group)
        self.name += f" {name}"

    def border(
        self,
        box: Box,
        width: float,
        names: str | tuple[str, str],
        corner: str,
        *,
        period: float = 0.0,
    ) -> Box:
        """Draw a border of four sides that follow each other round.

        `names`: the motif, or those of level and upright sides. `corner`: a corner
        piece, "mitre", "butt" (level sides run through) or "met" (corner squares in
        which two sides meet at the diagonal without a line). Returns what is left.
        """
        x0, y0, x1, y1 = box
        pair = (names, names) if isinstance(names, str) else names
        ratio = self.rng.uniform(0.8, 1.6)
        inner = (x0 + width, y0 + width, x1 - width, y1 - width)
        self.draw_box(box)
        self.draw_box(inner)
        feet = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        for k, foot in enumerate(feet):
            full = (x1 - x0) if k % 2 == 0 else (y1 - y0)
            there = placed(k * np.pi / 2, at=foot)
            low, high = (width, full - width)
            if corner == "butt" and k % 2 == 0:
                low, high = 0.0, full
            own = shapely.box(low, 0, high, width)
            shown = own
            if corner in ("mitre", "met"):
                tips = [(0, 0), (full, 0), (full - width, width), (width, width)]
                shown = shapely.Polygon(tips)
                own = shown if corner == "mitre" else own
            run = high - low
            p = run / max(3, round(run / (period or width * ratio)))
            one, group = motif(pair[k % 2], p, width)
            beyond = int(np.ceil(width / p)) + 1
            if corner not in ("mitre", "met"):
                beyond = 1 if pair[k % 2] in OVERLAPPING else 0
            ink: Ink = []
            for j in range(-beyond - 1, round(run / p) + beyond + 1):
                ink += moved(one, placed(0, at=(low + j * p, 0)))
            self.lines += moved(clipped(once(ink), shown), there)
            groups = (group,) if isinstance(group, str) else group
            self.part(shapely.transform(own, there), "border", *groups)
            if corner == "mitre":
                self.frame += moved(lines((0, 0), (width, width)), there)
                continue
            ends = [low, high] if corner != "butt" or k % 2 == 0 else []
            for x in ends:
                self.frame += moved(lines((x, 0), (x, width)), there)
            if corner in CORNERS:
                piece, groups = corner_piece(corner, width)
                self.lines += moved(piece, there)
                square = shapely.transform(shapely.box(0, 0, width, width), there)
                if groups:
                    self.part(square, "corner", *groups)
        return inner

    def round_frame(self, centre: tuple[float, float], radius: float) -> Disc:
        self.frame += circle(centre, radius)
        return _disc(centre, radius)

    def rosette(
        self, centre: tuple[float, float], radius: float, n: int, kind: str
    ) -> None:
        """Draw a star, petals or spokes: all have the mirrors of their polygon."""
        tips = corners(n, radius, centre)
        for k, tip in enumerate(tips):
            if kind == "star":
                self.lines += lines(tip, tips[(k + max(2, n // 2 - 1)) % n])
            elif kind == "petals":
                middle, along = (tip + centre) / 2, tip - centre
                aside = np.array([-along[1], along[0]]) * 0.675 / n
                self.lines += arc(centre, middle + aside, tip)
                self.lines += arc(centre, middle - aside, tip)
            else:
                self.lines += lines(centre, tip)


Disc = shapely.Geometry


def _disc(centre: Iterable[float], radius: float) -> Disc:
    return shapely.Point(*centre).buffer(radius, quad_segs=360)


def _inset(box: Box, d: float) -> Box:
    return (box[0] + d, box[1] + d, box[2] - d, box[3] - d)


def _bordered(work: Work, name: str, corner: str, width: float) -> None:
    inner = work.border(work.whole, width, name, corner)
    if corner != "mitre" and work.rng.random() < 0.5:
        inner = _inset(inner, 3.0)
        work.draw_box(inner)
    work.fill(shapely.box(*inner))


def _star_medallion(work: Work, width: float) -> None:
    n = int(work.rng.choice([6, 8, 10, 12]))
    centre, r = (work.wide / 2, work.tall / 2), 0.33 * work.tall
    outer = corners(n, r, centre, np.pi / 2)
    notch = corners(n, 0.7 * r, centre, np.pi / 2 + np.pi / n)
    for k in range(n):
        work.lines += lines(outer[k], centre) + lines(notch[k], notch[(k + 1) % n])
    tips = np.stack([outer, notch], axis=1).reshape(-1, 2)
    star, whole = shapely.Polygon(tips), shapely.box(*work.whole)
    work.frame += ring(*tips)
    work.draw_box(work.whole)
    work.part(star, "medallion", f"D{n}")
    work.fill(whole.difference(star))


def _cut_medallions(work: Work, at: list[tuple[float, float]]) -> None:
    """Medallions about points of the frame; a star's parts may show less than all."""
    whole = shapely.box(*work.whole)
    field, r = whole, 0.27 * work.tall
    n, kind = int(work.rng.choice([8, 12])), work.one_of(("petals", "star", "spokes"))
    for centre in at:
        disc = _disc(centre, r)
        work.frame += clipped(circle(centre, r) + circle(centre, 0.4 * r), whole)
        kept, work.lines = work.lines, []
        work.rosette(centre, r if kind == "spokes" else 0.95 * r, n, kind)
        work.lines = kept + clipped(work.lines, whole.intersection(disc))
        groups = (f"D{n}", "D1", f"D{n // 2}", f"C{n}")
        work.part(whole.intersection(disc), "medallion", *groups)
        field = field.difference(disc)
    work.draw_box(work.whole)
    work.fill(field, at=(work.wide / 2, work.tall / 2))


def _half_medallions(work: Work, width: float) -> None:
    _cut_medallions(work, [(0, work.tall / 2), (work.wide, work.tall / 2)])


def _quarter_medallions(work: Work, width: float) -> None:
    x, y = work.wide, work.tall
    _cut_medallions(work, [(0, 0), (x, 0), (x, y), (0, y)])


def _plain_mitres(work: Work, width: float) -> None:
    box = work.whole
    for d in (width, 4.0, 9.0):
        outer, box = box, _inset(box, d)
        work.draw_box(outer)
        if d != 4.0:
            for i, j in ((0, 1), (2, 1), (2, 3), (0, 3)):
                work.frame += lines((outer[i], outer[j]), (box[i], box[j]))
    work.draw_box(box)
    work.fill(shapely.box(*box))


def _unlike_sides(work: Work, width: float) -> None:
    one, two = (str(m) for m in work.rng.choice(MOTIFS, 2, replace=False))
    work.name += f" {one}/{two}"
    inner = work.border(work.whole, width, (one, two), work.one_of(CORNERS))
    work.fill(shapely.box(*inner))


def _off_middle(work: Work, width: float) -> None:
    work.draw_box(work.whole)
    box = (12.0, 8.0, work.wide - 35, work.tall - 20)
    inner = work.border(box, 0.8 * width, work.one_of(MOTIFS), "plain")
    work.fill(shapely.box(*inner))


def _round_ring(work: Work, share: float, figures: Iterable[int], kind: str) -> float:
    """Draw a ring of figures in a round frame; return the radius that it leaves."""
    work.wide = work.tall
    r1, n = work.tall / 2, int(work.rng.choice(list(figures)))
    r2, centre = share * r1, (r1, r1)
    for k in range(n):
        a, d = 2 * np.pi * k / n, np.pi / n
        turn = np.array([a - d, a, a + d])
        unit = np.column_stack([np.cos(turn), np.sin(turn)])
        (b, t, e), m = unit, (r1 + r2) / 2
        if kind == "lozenges":
            work.lines += ring(*(np.array([t * r1, e * m, t * r2, b * m]) + r1))
        elif kind == "teeth":
            work.lines += lines(*(np.array([b * r2, t * r1 * 0.97, e * r2]) + r1))
        else:
            work.lines += circle(t * m + r1, 0.35 * (r1 - r2))
    outer, inner = work.round_frame(centre, r1), work.round_frame(centre, r2)
    work.part(outer.difference(inner), "border", f"D{n}")
    return r2


def _round_medallion(work: Work, width: float) -> None:
    kind = work.one_of(("lozenges", "teeth", "discs"))
    left = _round_ring(work, 0.78, (16, 20, 24, 36), kind)
    centre, m = (work.wide / 2, work.tall / 2), int(work.rng.choice([6, 8, 10, 12]))
    work.rosette(centre, left, m, work.one_of(("star", "petals")))
    work.part(_disc(centre, left), "medallion", f"D{m}")


def _round_field(work: Work, width: float) -> None:
    left = _round_ring(work, 0.8, (24, 30, 36), "teeth")
    work.fill(_disc((work.wide / 2, work.tall / 2), left), repeats=30.0)


def _arch(work: Work, width: float) -> None:
    r = 0.28 * work.wide
    x0, x1, y = work.wide / 2 - r, work.wide / 2 + r, work.tall - r - 5
    work.frame += lines((x0, y), (x0, 0), (x1, 0), (x1, y))
    work.frame += arc((x1, y), (work.wide / 2, y + r), (x0, y))
    work.draw_box(work.whole)
    work.fill(shapely.box(x0, 0, x1, y).union(_disc((work.wide / 2, y), r)))


def _two_fields(work: Work, width: float) -> None:
    x = work.wide * work.rng.uniform(0.4, 0.6)
    work.draw_box(work.whole)
    work.frame += lines((x, 0), (x, work.tall))
    work.fill(shapely.box(0, 0, x, work.tall), repeats=30.0)
    work.fill(shapely.box(x, 0, work.wide, work.tall), repeats=30.0)


def _titled(work: Work, width: float) -> None:
    x0, y0, x1, y1 = work.border(work.whole, width, work.one_of(MOTIFS), "plain")
    y = y0 + 18
    work.frame += lines((x0, y), (x1, y))
    work.draw_box((x0 + 30, y0 + 4, x1 - 30, y - 4))
    work.fill(shapely.box(x0, y, x1, y1))


def _overshot(work: Work, width: float) -> None:
    names = ("teeth", "circles", "lozenges", "chevrons", "slant")
    inner = work.border(work.whole, width, work.one_of(names), "plain")
    for y in (inner[1], inner[3], 0.0, work.tall):
        work.frame += lines((-4, y), (work.wide + 4, y))
    for x in (inner[0], inner[2], 0.0, work.wide):
        work.frame += lines((x, -4), (x, work.tall + 4))
    work.fill(shapely.box(*inner))


def _diamond(work: Work, width: float) -> None:
    x, y = work.wide, work.tall
    tips = [(x / 2, 0), (x, y / 2), (x / 2, y), (0, y / 2)]
    work.draw_box(work.whole)
    work.frame += ring(*tips)
    work.fill(shapely.Polygon(tips))
    for u in (0.16 * x, 0.84 * x):
        for v in (0.16 * y, 0.84 * y):
            work.lines += circle((u, v), 0.09 * y)


def _hexagon(work: Work, width: float) -> None:
    r, centre = work.tall / np.sqrt(3), (work.wide / 2, work.tall / 2)
    outer, inner = corners(6, r, centre), corners(6, 0.82 * r, centre)
    work.frame += ring(*outer) + ring(*inner)
    for k in range(6):
        p, q, u, v = outer[k], outer[k - 5], inner[k], inner[k - 5]
        work.frame += lines(p, u)
        for j in range(6):
            tip = u + (v - u) * (j + 0.5) / 6 + (p + q - u - v) / 2
            work.lines += lines(u + (v - u) * j / 6, tip, u + (v - u) * (j + 1) / 6)
    # six sides alike, each for itself or round the middle
    whole = shapely.Polygon(outer, [inner])
    work.part(whole, "border", "p2mg", "p1m1", "D6", "C6")
    work.fill(shapely.Polygon(inner))


def _plain(work: Work, width: float) -> None:
    work.draw_box(work.whole)
    work.fill(shapely.box(*work.whole))


def _turned(work: Work, width: float) -> None:
    work.draw_box(work.whole)
    work.fill(shapely.box(*work.whole), spin=float(work.rng.uniform(0.1, 1.0)))


def _window(work: Work, width: float) -> None:
    """A field seen through a slanting strip, an L or a circle."""
    x, y = work.wide, work.tall
    kind = work.one_of(("slant", "ell", "circle"))
    work.name += f" {kind}"
    if kind == "circle":
        area = work.round_frame((x / 2, y / 2), 0.48 * y)
    else:
        tips = [(0, 0), (0.4 * x, 0), (x, y), (0.6 * x, y)]
        if kind == "ell":
            tips = [(0, 0), (x, 0), (x, 0.4 * y), (0.35 * x, 0.4 * y)]
            tips += [(0.35 * x, y), (0, y)]
        area = shapely.Polygon(tips)
        work.frame += ring(*tips)
    work.fill(area)


def _large_medallion(work: Work, width: float) -> None:
    centre, r = (work.wide / 2, work.tall / 2), 0.46 * work.tall
    n = int(work.rng.choice([8, 12]))
    work.draw_box(work.whole)
    disc = work.round_frame(centre, r)
    work.rosette(centre, r, n, work.one_of(("star", "petals")))
    work.part(disc, "medallion", f"D{n}")
    work.fill(shapely.box(*work.whole).difference(disc), repeats=60.0)


def _two_borders(work: Work, width: float) -> None:
    corner = work.one_of(CORNERS)
    inner = work.border(work.whole, width, work.one_of(MOTIFS), corner)
    inner = work.border(_inset(inner, 3.0), 0.7 * width, work.one_of(MOTIFS), "plain")
    work.fill(shapely.box(*inner))


def _three_medallions(work: Work, width: float) -> None:
    work.draw_box(work.whole)
    field, r = shapely.box(*work.whole), 0.13 * work.wide
    for k, (n, kind) in enumerate(((6, "star"), (8, "petals"), (6, "star"))):
        centre = (work.wide * (0.2 + 0.3 * k), work.tall / 2)
        disc = work.round_frame(centre, r)
        work.rosette(centre, r, n, kind)
        work.part(disc, "medallion", f"D{n}")
        field = field.difference(disc)
    work.fill(field, repeats=60.0)


def _one_repeat(work: Work, width: float) -> None:
    """A border whose period is the field's, and starts where the field's does."""
    names = ("octagons", "discs", "panes", "houses", "snub_squares", "brick")
    name = work.one_of(names)
    step = FIELDS[name]()[0][0][0]
    size = float(work.rng.uniform(14, 20)) / step
    p = size * step
    inside = [p * round((d - 2 * width) / p) for d in (work.wide, work.tall)]
    work.wide, work.tall = (d + 2 * width for d in inside)
    motif_ = work.one_of(MOTIFS)
    work.name += f" {motif_}"
    inner = work.border(work.whole, width, motif_, work.one_of(CORNERS), period=p)
    work.fill(shapely.box(*inner), name, at=inner[:2], size=size)


def _butted(work: Work, width: float) -> None:
    inner = work.border(work.whole, width, work.one_of(MOTIFS), "butt")
    work.fill(shapely.box(*inner))


def _met(work: Work, width: float) -> None:
    inner = work.border(work.whole, width, work.one_of(MOTIFS), "met")
    work.fill(shapely.box(*inner))


_CASES: dict[str, Callable[[Work, float], None]] = {
    "star medallion": _star_medallion,
    "half medallions": _half_medallions,
    "quarter medallions": _quarter_medallions,
    "plain mitres": _plain_mitres,
    "unlike sides": _unlike_sides,
    "off the middle": _off_middle,
    "round medallion": _round_medallion,
    "round field": _round_field,
    "arch": _arch,
    "two fields": _two_fields,
    "title": _titled,
    "overshot": _overshot,
    "diamond": _diamond,
    "hexagon": _hexagon,
    "plain": _plain,
    "turned": _turned,
    "window": _window,
    "large medallion": _large_medallion,
    "two borders": _two_borders,
    "three medallions": _three_medallions,
    "one repeat": _one_repeat,
    "butted": _butted,
    "met": _met,
}
CASES = (
    *(f"border:{m}" for m in MOTIFS),
    *(f"mitred:{m}" for m in MOTIFS),
    *(f"corner:{c}" for c in CORNERS),
    *_CASES,
)


def make_panel(case: str, seed: int, *, noisy: bool = False) -> Work:
    """Return a panel of one kind.

    `noisy`: whether its corners will be moved, which circles that meet in threes do
    not bear.
    """
    work = Work(case, seed, noisy=noisy)
    width = float(work.rng.uniform(14, 24))
    sort, _, name = case.partition(":")
    if sort == "border":
        corner = work.one_of(CORNERS)
        work.name += f" {corner}"
        _bordered(work, name, corner, width)
    elif sort == "mitred":
        _bordered(work, name, "mitre", width)
    elif sort == "corner":
        chosen = work.one_of(MOTIFS)
        work.name += f" {chosen}"
        _bordered(work, chosen, name, 1.2 * width)
    else:
        _CASES[case](work, width)
    return work
