"""Compass-and-ruler steps in the plane, and drawings written as SVG.

A point is a complex number, x + y·i, in millimetres from the lower left corner of the
page, x to the right and y up. A stroke is a `Stroke`: a start and the pieces that
follow it, each a line, an arc of a circle or a cubic Bézier.
"""

import cmath
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

Point = complex


# Points


def towards(degrees: float) -> Point:
    """Return the point at distance 1 from the origin in a direction."""
    return cmath.rect(1.0, math.radians(degrees))


def turned(point: Point, degrees: float, centre: Point = 0) -> Point:
    """Return a point turned counter-clockwise about a centre."""
    return centre + (point - centre) * towards(degrees)


def mirrored(point: Point, a: Point, b: Point) -> Point:
    """Return a point reflected in the line through a and b."""
    along = (b - a) / abs(b - a)
    return a + along * ((point - a) / along).conjugate()


def divide_circle(
    centre: Point, radius: float, parts: int, first: float = 90.0
) -> list[Point]:
    """Divide a circle into equal parts, beginning at the angle `first` in degrees."""
    return [centre + radius * towards(first + 360.0 * i / parts) for i in range(parts)]


def cross(a: Point, b: Point) -> float:
    """Return the signed area of the parallelogram on two vectors."""
    return (a.conjugate() * b).imag


def meet_lines(a: Point, b: Point, c: Point, d: Point) -> Point:
    """Return the point where the line through a and b meets that through c and d."""
    return a + (b - a) * (cross(c - a, d - c) / cross(b - a, d - c))


def meet_line_circle(
    a: Point, b: Point, centre: Point, radius: float
) -> tuple[Point, Point]:
    """Return where the line from a to b enters a circle, and where it leaves it."""
    along = (b - a) / abs(b - a)
    local = (a - centre) / along
    half = math.sqrt(radius**2 - local.imag**2)
    foot = centre + 1j * local.imag * along
    return foot - half * along, foot + half * along


def meet_circles(
    first: Point, first_radius: float, second: Point, second_radius: float
) -> tuple[Point, Point]:
    """Return the points left and right of the line of centres where circles cross."""
    gap = abs(second - first)
    along = (second - first) / gap
    x = (gap**2 + first_radius**2 - second_radius**2) / (2 * gap)
    y = math.sqrt(first_radius**2 - x**2)
    return first + along * complex(x, y), first + along * complex(x, -y)


# Strokes


@dataclass(frozen=True, slots=True)
class Line:
    """A straight piece."""

    end: Point


@dataclass(frozen=True, slots=True)
class Arc:
    """A piece of a circle, less than a full turn."""

    end: Point
    radius: float
    left: bool  # bends to the left, counter-clockwise
    large: bool = False  # more than half a turn


@dataclass(frozen=True, slots=True)
class Curve:
    """A cubic Bézier with its two control points."""

    first: Point
    second: Point
    end: Point


Piece = Line | Arc | Curve


@dataclass(frozen=True, slots=True)
class Stroke:
    """A start and the pieces that follow."""

    start: Point
    pieces: tuple[Piece, ...]
    closed: bool = False

    def moved(self, move: Callable[[Point], Point], flips: bool = False) -> "Stroke":
        """Return the stroke with all points moved; `flips` for reflections."""
        pieces: list[Piece] = []
        for piece in self.pieces:
            match piece:
                case Line(end):
                    pieces.append(Line(move(end)))
                case Arc(end, radius, left, large):
                    pieces.append(Arc(move(end), radius, left != flips, large))
                case Curve(first, second, end):
                    pieces.append(Curve(move(first), move(second), move(end)))
        return Stroke(move(self.start), tuple(pieces), self.closed)


def lines(*points: Point, closed: bool = False) -> Stroke:
    """Join points by straight lines."""
    return Stroke(points[0], tuple(Line(p) for p in points[1:]), closed)


def arc(start: Point, end: Point, centre: Point, left: bool = True) -> Stroke:
    """Draw the arc from start to end about a centre."""
    sweep = cmath.phase((end - centre) / (start - centre)) % math.tau
    if not left:
        sweep = math.tau - sweep
    radius = abs(start - centre)
    return Stroke(start, (Arc(end, radius, left, sweep > math.pi),))


def chain(*strokes: Stroke, closed: bool = False) -> Stroke:
    """Join strokes end to start into one."""
    pieces = tuple(piece for stroke in strokes for piece in stroke.pieces)
    return Stroke(strokes[0].start, pieces, closed)


# Cutting straight work at a frame


@dataclass(frozen=True, slots=True)
class Window:
    """A rectangle, perhaps with a round hole, that line work is cut to."""

    left: float
    bottom: float
    right: float
    top: float
    hole_centre: Point = 0
    hole_radius: float = 0.0

    def kept(self, a: Point, b: Point) -> Iterator[tuple[float, float]]:
        """Yield the parts of a segment inside, as fractions of its length."""
        begin, end = 0.0, 1.0
        step = b - a
        for speed, room in (
            (-step.real, a.real - self.left),
            (step.real, self.right - a.real),
            (-step.imag, a.imag - self.bottom),
            (step.imag, self.top - a.imag),
        ):
            if abs(speed) < 1e-12:
                if room < 0:
                    return
            elif speed < 0:
                begin = max(begin, room / speed)
            else:
                end = min(end, room / speed)
        parts = [(begin, end)]
        if self.hole_radius:
            along = step / abs(step)
            distance = abs(((a - self.hole_centre) / along).imag)
            if distance < self.hole_radius:
                enters, leaves = (
                    ((p - a) / step).real
                    for p in meet_line_circle(a, b, self.hole_centre, self.hole_radius)
                )
                parts = [(begin, min(end, enters)), (max(begin, leaves), end)]
        yield from ((t, u) for t, u in parts if u - t > 1e-9)

    def cut(self, stroke: Stroke) -> list[Stroke]:
        """Return the parts of a stroke of straight lines that lie inside."""
        points = [stroke.start, *(piece.end for piece in stroke.pieces)]
        if stroke.closed:
            points.append(stroke.start)
        runs: list[list[Point]] = []
        whole = stroke.closed
        for a, b in pairwise(points):
            parts = list(self.kept(a, b))
            whole = whole and parts == [(0.0, 1.0)]
            for begin, end in parts:
                p = a if begin < 1e-9 else a + (b - a) * begin
                q = b if end > 1 - 1e-9 else a + (b - a) * end
                if runs and runs[-1][-1] == p:
                    runs[-1].append(q)
                else:
                    runs.append([p, q])
        if whole:
            return [stroke]
        if stroke.closed and len(runs) > 1 and runs[-1][-1] == runs[0][0]:
            runs[0] = [*runs.pop(), *runs[0][1:]]
        return [lines(*run) for run in runs]

    def kept_arc(
        self, start: Point, end: Point, centre: Point, left: bool
    ) -> list[tuple[Point, Point]]:
        """Return the ends of the parts of an arc that lie inside the rectangle."""
        radius = abs(start - centre)
        direction = 1 if left else -1

        def turn_to(point: Point) -> float:
            angle = cmath.phase((point - centre) / (start - centre)) * direction
            return angle % math.tau

        sweep = turn_to(end)
        crossings = []
        for x in (self.left, self.right):
            if abs(x - centre.real) < radius:
                rise = math.sqrt(radius**2 - (x - centre.real) ** 2)
                crossings += [complex(x, centre.imag + y) for y in (rise, -rise)]
        for y in (self.bottom, self.top):
            if abs(y - centre.imag) < radius:
                reach = math.sqrt(radius**2 - (y - centre.imag) ** 2)
                crossings += [complex(centre.real + x, y) for x in (reach, -reach)]
        stops = [(turn_to(p), p) for p in crossings if 1e-9 < turn_to(p) < sweep - 1e-9]
        stops = [(0.0, start), *sorted(stops, key=lambda s: s[0]), (sweep, end)]
        kept = []
        for (t, p), (u, q) in pairwise(stops):
            half_way = (t + u) / 2 * direction
            probe = centre + (start - centre) * cmath.rect(1.0, half_way)
            if (
                self.left < probe.real < self.right
                and self.bottom < probe.imag < self.top
            ):
                kept.append((p, q))
        return kept

    def edge(self) -> Stroke:
        """Return the rectangle itself."""
        low, high = complex(self.left, self.bottom), complex(self.right, self.top)
        return lines(
            low,
            complex(self.right, self.bottom),
            high,
            complex(self.left, self.top),
            closed=True,
        )


def repeat(
    strokes: Iterable[Stroke],
    window: Window,
    first: Point,
    second: Point,
    origin: Point,
) -> Iterator[Stroke]:
    """Lay strokes on a lattice, corner to corner, until the window is filled."""
    strokes = list(strokes)
    size = abs(complex(window.right - window.left, window.top - window.bottom))
    reach = math.ceil(2 * size / min(abs(first), abs(second)))
    for i in range(-reach, reach + 1):
        for j in range(-reach, reach + 1):
            shift = origin + i * first + j * second
            for stroke in strokes:
                yield from window.cut(stroke.moved(lambda p, by=shift: p + by))


# The drawing


def number(value: float) -> str:
    """Write a length to a ten-thousandth of a millimetre, without idle zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


@dataclass
class Drawing:
    """A page in millimetres and what is drawn on it."""

    width: float
    height: float
    title: str
    body: list[str] = field(default_factory=list)
    layer_open: bool = False

    def xy(self, point: Point) -> str:
        """Write a point as the page has it, y down."""
        return f"{number(point.real)} {number(self.height - point.imag)}"

    def layer(self, name: str, colour: str = "#1c1a17", width: float = 0.35) -> None:
        """Begin a layer: a colour and a width of line."""
        if self.layer_open:
            self.body.append("  </g>")
        self.layer_open = True
        self.body.append(
            f'  <g id="{name}" fill="none" stroke="{colour}" stroke-width="{width}" '
            'stroke-linejoin="round" stroke-linecap="round">'
        )

    def path_data(self, stroke: Stroke) -> str:
        """Write a stroke as SVG path data."""
        data = [f"M{self.xy(stroke.start)}"]
        for piece in stroke.pieces:
            match piece:
                case Line(end):
                    data.append(f"L{self.xy(end)}")
                case Arc(end, radius, left, large):
                    r = number(radius)
                    # y runs down on the page: a bend to the left is sweep 0
                    flags = f"{int(large)} {int(not left)}"
                    data.append(f"A{r} {r} 0 {flags} {self.xy(end)}")
                case Curve(first, second, end):
                    data.append(f"C{self.xy(first)} {self.xy(second)} {self.xy(end)}")
        return "".join(data) + ("Z" if stroke.closed else "")

    def draw(self, *strokes: Stroke) -> None:
        """Draw strokes."""
        self.body += [f'    <path d="{self.path_data(s)}"/>' for s in strokes]

    def circle(self, centre: Point, radius: float) -> None:
        """Draw a full circle."""
        x, y = self.xy(centre).split()
        self.body.append(f'    <circle cx="{x}" cy="{y}" r="{number(radius)}"/>')

    def stamp(self, name: str, strokes: Sequence[Stroke]) -> None:
        """Keep strokes under a name, to be set down with `set_down`."""
        paths = "".join(f'<path d="{self.path_data(s)}"/>' for s in strokes)
        self.body.append(f'    <defs><g id="{name}">{paths}</g></defs>')

    def set_down(self, name: str, *, shift: float = 0.0) -> None:
        """Draw what `stamp` kept, moved to the right."""
        self.body.append(f'    <use href="#{name}" x="{number(shift)}"/>')

    def set_turned(self, name: str, degrees: float, centre: Point) -> None:
        """Draw what `stamp` kept, turned about a centre."""
        turn = f"rotate({number(-degrees)} {self.xy(centre)})"
        self.body.append(f'    <use href="#{name}" transform="{turn}"/>')

    def write(self, path: Path) -> None:
        """Write the drawing as an SVG file of true size."""
        width, height = number(self.width), number(self.height)
        text = "\n".join(
            [
                '<?xml version="1.0" encoding="UTF-8"?>',
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" '
                f'height="{height}mm" viewBox="0 0 {width} {height}">',
                f"  <title>{self.title}</title>",
                *self.body,
                "  </g>",
                "</svg>",
                "",
            ]
        )
        path.write_bytes(text.encode())
