"""Curling stems of true arcs, with leaves of Bézier curves.

A scroll is a row of quarter circles, each smaller than the last by one ratio, so that
its edge is a spiral about a single eye. The other edge of the stem is the same spiral
drawn smaller about the same eye: the stem tapers as it winds.
"""

import cmath
import math
from dataclasses import dataclass

from compass import Arc, Curve, Point, Stroke, meet_circles, towards


@dataclass(frozen=True, slots=True)
class Quarter:
    """One quarter circle of a scroll."""

    start: Point
    end: Point
    centre: Point
    left: bool

    def at(self, degrees: float) -> Point:
        """Return the point so many degrees after the start."""
        turn = towards(degrees if self.left else -degrees)
        return self.centre + (self.start - self.centre) * turn


@dataclass(frozen=True, slots=True)
class Scroll:
    """A spiral edge and its eye."""

    quarters: tuple[Quarter, ...]
    eye: Point

    def smaller(self, scale: float) -> "Scroll":
        """Return the scroll drawn to a scale about its eye."""

        def move(p: Point) -> Point:
            return self.eye + scale * (p - self.eye)

        quarters = tuple(
            Quarter(move(q.start), move(q.end), move(q.centre), q.left)
            for q in self.quarters
        )
        return Scroll(quarters, self.eye)

    def bud(self, number: int) -> tuple[Point, float]:
        """Return centre and radius of a bud at the end of so many quarters.

        It sits between the stem's end and the eye, so that the stem runs into it.
        """
        arm = self.quarters[number - 1].end - self.eye
        return self.eye + 0.62 * arm, 0.5 * abs(arm)

    def stroke(self, bud: Point, bud_radius: float) -> Stroke:
        """Draw the edge as far as the circle of the bud."""
        pieces = []
        for q in self.quarters:
            radius = abs(q.start - q.centre)
            apart = abs(bud - q.centre)
            ends = [q.end]
            if abs(radius - bud_radius) < apart < radius + bud_radius:
                met = meet_circles(q.centre, radius, bud, bud_radius)
                ends += [point for point in met if _turn(q, point) <= 90]
            end = min(ends, key=lambda point, q=q: _turn(q, point))
            pieces.append(Arc(end, radius, q.left))
            if len(ends) > 1:
                break
        return Stroke(self.quarters[0].start, tuple(pieces))


def _turn(quarter: Quarter, point: Point) -> float:
    """Return how far along the quarter a point of its circle lies, in degrees."""
    ratio = (point - quarter.centre) / (quarter.start - quarter.centre)
    angle = math.degrees(cmath.phase(ratio))
    return (angle if quarter.left else -angle) % 360


def scroll(
    start: Point,
    heading: float,
    radius: float,
    ratio: float,
    left: bool,
    count: int = 14,
) -> Scroll:
    """Wind quarter circles from a point, setting off at `heading` degrees."""
    side = 1j if left else -1j
    quarters = []
    point, way = start, towards(heading)
    for _ in range(count):
        centre = point + side * way * radius
        end = centre + way * radius
        quarters.append(Quarter(point, end, centre, left))
        point, way, radius = end, way * side, radius * ratio
    # The eye is the fixed point of the turn that carries each quarter to the next.
    turn = ratio * side
    first = quarters[0]
    eye = (first.end - turn * first.start) / (1 - turn)
    return Scroll(tuple(quarters), eye)


def leaf(
    left: Point, right: Point, tip: Point, bend: float, full: float
) -> list[Stroke]:
    """Draw a leaf from two points of a stem to its tip, with the rib that halves it.

    `bend` leans the leaf to its left (negative: right), as a part of its length; `full`
    is how far its sides swell.
    """
    base = (left + right) / 2
    axis = tip - base
    lean = 1j * axis * bend

    def side(foot: Point, swell: float) -> Stroke:
        out = 1j * axis * swell
        first = foot + 0.35 * axis + out + 0.5 * lean
        second = base + 0.75 * axis + 0.45 * out + lean
        return Stroke(foot, (Curve(first, second, tip),))

    there, back = side(left, full), side(right, -full)
    rib = Stroke(
        base,
        (Curve(base + 0.35 * axis + 0.5 * lean, base + 0.75 * axis + lean, tip),),
    )
    return [there, back, rib]


def leaf_on(
    quarter: Quarter,
    degrees: float,
    width: float,
    length: float,
    aim: float,
    bend: float = 0.0,
    full: float = 0.32,
    inward: bool = False,
) -> list[Stroke]:
    """Set a leaf on an arc: where, how wide at its foot, how long, and its direction.

    `aim` is measured from the way out of the arc, positive to the left.
    """
    middle = quarter.at(degrees)
    radius = abs(quarter.start - quarter.centre)
    half = math.degrees(width / 2 / radius)
    before, after = quarter.at(degrees - half), quarter.at(degrees + half)
    out = (middle - quarter.centre) / radius * (-1 if inward else 1)
    tip = middle + out * towards(aim) * length
    on_left = ((before - middle) / out).imag > 0
    feet = (before, after) if on_left else (after, before)
    there, back, rib = leaf(*feet, tip, bend, full)
    # The rib begins on the arc itself, not on the chord between the feet.
    return [there, back, Stroke(middle, rib.pieces)]


def daisy(centre: Point, radius: float, first: float = 90.0) -> list[Stroke]:
    """Draw the six-petalled flower that a compass makes at one opening."""
    rim = [centre + radius * towards(first + 60 * i) for i in range(6)]
    petals = [
        Stroke(
            rim[i - 1],
            (
                Arc(centre, radius, left=False),
                Arc(rim[(i + 1) % 6], radius, left=False),
            ),
        )
        for i in range(6)
    ]
    circle = Stroke(
        rim[0],
        tuple(Arc(rim[(i + 1) % 6], radius, left=True) for i in range(6)),
        closed=True,
    )
    return [circle, *petals]
