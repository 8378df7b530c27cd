"""The plain name of a shape, from its outline.

The corners say most: which symmetry the outline has, which corners point
inwards, which sides are parallel or at right angles. Each question is asked as
"would a corner have to move further than noise explains?", so that a square
with shaky corners is a square.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.kinds.outlines import SMOOTH

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Complexes, Floats
    from fillwork.symmetry.kinds.outlines import Outline

_REGULAR = {
    5: "regular pentagon",
    6: "regular hexagon",
    7: "regular heptagon",
    8: "regular octagon",
    9: "regular nonagon",
    10: "regular decagon",
    12: "regular dodecagon",
}
_FOILS = {3: "trefoil", 4: "quatrefoil", 5: "cinquefoil"}
# length over width from which a four-sided shape is a strip
_STRIP = 5.0
# nobody counts more corners than that, unless they repeat
_COUNTED = 60
TOLD = 10  # sides that are told by their number


@dataclass(frozen=True, slots=True, eq=False)
class ShapeSymmetry:
    """Hold the symmetry of an outline."""

    turns: int  # how many rotations keep it, the identity among them
    mirrored: bool  # whether mirrors keep it too
    through_corner: bool  # whether a mirror runs through a corner
    # (n,): the corners moved so that the symmetry is exact, about their mean
    corners: Complexes

    @property
    def order(self) -> int:
        """Return how many operations keep the outline."""
        return self.turns * (2 if self.mirrored else 1)


def _outline_symmetry(outline: Outline, slack: float) -> ShapeSymmetry:
    """Find the largest group that keeps an outline.

    `outline`: at least three corners. `slack`: how far a corner may have to move, mm.
    Returns the group, with the corners averaged over it.
    """
    z = outline.corners[:, 0] + 1j * outline.corners[:, 1]
    z = z - z.mean()
    n = len(z)
    best = ShapeSymmetry(1, False, False, z)
    for m in [d for d in range(n, 0, -1) if n % d == 0]:
        if 2 * m <= best.order:
            break
        # a wholly regular figure is the likelier, the more corners fit at all
        allowed = slack * (1.35 if n > 4 and 2 * m >= n else 1.0)
        turned = _turn_mean(z, m)
        if m > 1 and (
            np.abs(turned - z).max() > allowed or not _bends_turn(outline, n // m)
        ):
            continue
        for a in _likely_flips(turned, 2.0 * allowed):
            if not _bends_flip(outline, a):
                continue
            flipped = np.roll(turned[::-1], a + 1)
            angle = np.angle((flipped * turned).sum())
            mirrored = (turned + np.exp(1j * angle) * np.conj(flipped)) / 2
            if np.abs(mirrored - z).max() <= allowed:
                # corner i goes to corner a - i: some axis meets a corner
                through = n % 2 == 1 or a % 2 == 0
                found = ShapeSymmetry(m, True, through, mirrored)
                if found.order > best.order:
                    best = found
                break
        if m > best.order:
            best = ShapeSymmetry(m, False, False, turned)
    return best


def _likely_flips(z: Complexes, slack: float) -> list[int]:
    """Return flips i -> a - i of corners that can lie within the slack on average.

    The square of the distance of z to its mean with a mirrored copy is
    (E - |S(a)|) / 2, where E is the sum of |z|² and S(a) that of z[a - i] z[i]: a
    cyclic convolution, found for all flips at once.
    """
    sums = np.abs(np.fft.ifft(np.fft.fft(z) ** 2))
    energy = float((np.abs(z) ** 2).sum())
    rest = (energy * (1.0 - 1e-9) - sums) / 2.0
    return [int(a) for a in np.flatnonzero(rest <= len(z) * slack**2)]


def _turn_mean(z: Complexes, m: int) -> Complexes:
    """Return corners averaged over the turns by 1/m of a circle.

    A polygon has m-fold rotation when its discrete Fourier series holds only the
    frequencies 1 + m j.
    """
    if m == 1:
        return z
    series = np.fft.fft(z)
    series[(np.arange(len(z)) - 1) % m != 0] = 0.0
    return np.fft.ifft(series)


def _bends_turn(outline: Outline, step: int) -> bool:
    return _alike(outline.bend, np.roll(outline.bend, step))


def _bends_flip(outline: Outline, a: int) -> bool:
    # the piece from corner i to i + 1 goes to the piece from a - i - 1 to a - i
    index = (a - 1 - np.arange(outline.count)) % outline.count
    return _alike(outline.bend, outline.bend[index])


def _alike(a: Floats, b: Floats) -> bool:
    return bool((np.abs(a - b) <= 0.12 + 0.1 * np.abs(a)).all())


def name_outline(outline: Outline, slack: float) -> str:
    """Return the plain name of a shape.

    Such as ``8-point star``, ``rhombus`` or ``6-sided with one mirror``. `slack`: how
    far a corner may have to move for the name to fit, mm.
    """
    if outline.closed:
        return outline.closed
    curved = np.abs(outline.bend) > 0
    if outline.count == 1:
        return "drop" if outline.turn[0] > 0 else "heart"
    if outline.count == 2:
        return _two_sided(outline)
    found = _outline_symmetry(outline, slack)
    if outline.count > _COUNTED and found.order == 1:
        return "free form"
    if curved.any():
        return _curved_name(outline, found, slack)
    return _straight_name(found, slack)


# --- straight sides ----------------------------------------------------------


def _turns_of(z: Complexes) -> Floats:
    step = np.roll(z, -1) - z
    return np.angle(step * np.conj(np.roll(step, 1)))


def _straight_name(found: ShapeSymmetry, slack: float) -> str:
    z = found.corners
    n = len(z)
    turn = _turns_of(z)
    inward = turn < 0
    if n == 3:
        return _triangle(z, found, slack)
    if n == 4:
        return _quadrilateral(z, found, inward, slack)
    if not inward.any():
        return _convex(z, found)
    return _hollow(z, found, inward, slack)


def _right(z: Complexes, k: int, slack: float) -> bool:
    """Tell whether corner k can be a right angle without moving beyond slack."""
    a, b, c = z[k - 1], z[k], z[(k + 1) % len(z)]
    p, q = a - b, c - b
    off = abs(abs(np.angle(q * np.conj(p))) - np.pi / 2)
    # moving the corner by d turns each of its sides by about d / length
    return bool(off <= slack * (1 / abs(p) + 1 / abs(q)))


def _parallel(z: Complexes, i: int, j: int, slack: float) -> bool:
    n = len(z)
    p, q = z[(i + 1) % n] - z[i], z[(j + 1) % n] - z[j]
    off = abs(np.angle(p / q))
    off = min(off, np.pi - off)
    return bool(off <= slack * (1 / abs(p) + 1 / abs(q)))


def _triangle(z: Complexes, found: ShapeSymmetry, slack: float) -> str:
    if found.turns == 3:
        return "equilateral triangle"
    right = any(_right(z, k, slack) for k in range(3))
    if found.mirrored:
        return "right isosceles triangle" if right else "isosceles triangle"
    return "right triangle" if right else "triangle"


def _elongation(z: Complexes) -> float:
    """Return length over width of the narrowest box along a side."""
    best = 1.0
    for k in range(len(z)):
        step = z[(k + 1) % len(z)] - z[k]
        if abs(step) == 0:
            continue
        w = z * np.conj(step) / abs(step)
        box = sorted([np.ptp(w.real), np.ptp(w.imag)])
        best = max(best, box[1] / max(box[0], 1e-300))
    return float(best)


def _quadrilateral(
    z: Complexes, found: ShapeSymmetry, inward: Bools, slack: float
) -> str:
    if found.turns == 4:
        return "square"
    if inward.any():
        return "arrowhead" if found.mirrored else "uneven arrowhead"
    first, second = _parallel(z, 0, 2, slack), _parallel(z, 1, 3, slack)
    if found.turns == 2 and found.mirrored and found.through_corner:
        return "rhombus"
    if (first or second) and _elongation(z) >= _STRIP:
        return "strip"
    if found.turns == 2:
        return "rectangle" if found.mirrored else "parallelogram"
    if found.mirrored:
        return "kite" if found.through_corner else "isosceles trapezium"
    if first and second:
        return "parallelogram"
    if first or second:
        right = sum(_right(z, k, slack) for k in range(4)) >= 2
        return "right trapezium" if right else "trapezium"
    return "4-sided"


def _many(n: int) -> str:
    """Return how many sides there are, as long as somebody would count them."""
    return f"{n}-sided" if n <= TOLD else "many-sided figure"


def _with_symmetry(text: str, found: ShapeSymmetry) -> str:
    if found.mirrored:
        mirrors = "one mirror" if found.turns == 1 else f"{found.turns} mirrors"
        return f"{text} with {mirrors}"
    if found.turns > 1:
        turns = "a half turn" if found.turns == 2 else f"{found.turns}-fold turns"
        return f"{text} with {turns}"
    return text


def _convex(z: Complexes, found: ShapeSymmetry) -> str:
    n = len(z)
    if found.turns == n:
        return _REGULAR.get(n, f"regular {n}-sided")
    if n == 6 and found.turns == 2 and found.mirrored:
        return "long hexagon"
    return _with_symmetry(_many(n), found)


def _groups(inward: Bools) -> list[int]:
    """Return how many outward corners lie between inward ones, in order."""
    at = np.flatnonzero(inward)
    gap = np.diff(np.append(at, at[0] + len(inward))) - 1
    return [int(g) for g in gap]


def _hollow(z: Complexes, found: ShapeSymmetry, inward: Bools, slack: float) -> str:
    n = len(z)
    groups = _groups(inward)
    k = len(groups)
    right = all(_right(z, i, slack) for i in range(n))
    if right and n == 6:
        return "L-shape"
    if right and n == 8 and found.mirrored and sorted(groups) == [2, 4]:
        return "T-shape"
    chevron = n == 6 and k == 1 and found.mirrored
    inner = int(np.argmax(inward))  # a side at the inward corner, one outside opposite
    if chevron and _parallel(z, inner, (inner + 2) % n, slack):
        return "chevron"
    if n == 6 and k == 2 and groups == [2, 2] and found.turns == 2:
        return "bow tie" if found.mirrored else _with_symmetry("6-sided", found)
    if k >= 3 and len(set(groups)) == 1:
        per = groups[0]
        even = found.turns >= k
        skew = "" if found.mirrored or not even else "twisted "
        uneven = "" if even else "uneven "
        if per == 1:
            return f"{uneven}{skew}{k}-point star"
        if per in (2, 3):
            # two outward corners end an arm flat, three end it in a point
            return f"{uneven}{skew}{_cross(k)}"
    return _with_symmetry(f"hollow {_many(n)}", found)


def _cross(arms: int) -> str:
    return "cross" if arms == 4 else f"{arms}-armed cross"


# --- curved sides ------------------------------------------------------------


def _two_sided(outline: Outline) -> str:
    a, b = outline.bend
    straight = np.abs(outline.bend) == 0
    if straight.any():
        bend = float(np.abs(outline.bend).max())
        half = abs(bend - np.pi) < np.radians(6.0)
        if not outline.round[~straight].all():
            return "rounded segment"
        return "half circle" if half else "circle segment"
    if a > 0 and b > 0:
        alike = abs(a - b) < 0.1 + 0.05 * abs(a)
        return "lens" if outline.round.all() and alike else "petal"
    return "crescent"


def _curved_name(outline: Outline, found: ShapeSymmetry, slack: float) -> str:
    n = outline.count
    bend, z = outline.bend, found.corners
    curved = np.abs(bend) > 0
    inward = outline.turn < -SMOOTH
    smooth = np.abs(outline.turn) <= SMOOTH
    if smooth.any():
        rounded = _rounded(outline, found, smooth)
        if rounded:
            return rounded
    if curved.all() and (bend > 0).all() and (outline.turn < 0.3).all() and n >= 3:
        even = found.turns >= n
        name = _FOILS.get(n, f"{n}-lobed foil")
        return name if even else f"uneven {name}"
    if n == 3 and curved.sum() == 1:
        name = _sector(outline)
        if name:
            return name
    if n == 4 and curved.sum() == 2 and _ring_piece(outline):
        return "ring piece"
    arched = n == 4 and curved.sum() == 1 and found.mirrored
    if arched and bend.max() > np.radians(60):
        return "arch"
    if n == 5 and curved.sum() == 2 and found.mirrored and (bend >= 0).all():
        return "pointed arch"
    if n == 3 and curved.sum() == 2 and found.mirrored and (bend[curved] > 0).all():
        return "pointed arch"
    if curved.all() and ((bend > 0).all() or (bend < 0).all()):
        corner = "bulging" if bend[0] > 0 else "hollow"
        if not inward.any():
            return f"{corner} {_frame_name(z, found, slack)}"
    if inward.any():
        groups = _groups(inward)
        k = len(groups)
        if k >= 3 and len(set(groups)) == 1 and groups[0] == 1:
            uneven = "" if found.turns >= k or found.order >= 2 * k else "uneven "
            return f"{uneven}curved {k}-point star"
        if k >= 3 and len(set(groups)) == 1 and groups[0] in (2, 3):
            return f"curved {_cross(k)}"
    if n == 3:
        return _with_symmetry("curved triangle", found)
    if n > TOLD:
        free = "free form" if found.order == 1 else "curved figure"
        return _with_symmetry(free, found)
    return _with_symmetry(f"curved {n}-sided", found)


def _frame_name(z: Complexes, found: ShapeSymmetry, slack: float) -> str:
    """Return the name of the polygon of the corners, in one or two words."""
    n = len(z)
    if n == 3:
        return "triangle"
    if n == 4:
        name = _quadrilateral(z, found, _turns_of(z) < 0, slack)
        return name if name != "strip" else "rectangle"
    if found.turns == n and n in _REGULAR:
        return _REGULAR[n].removeprefix("regular ")
    return f"{n}-sided"


def _rounded(outline: Outline, found: ShapeSymmetry, smooth: Bools) -> str:
    """Return the name of a shape whose arcs run smoothly into straight sides."""
    bend = outline.bend
    arcs = np.flatnonzero(np.abs(bend) > 0)
    lines = np.flatnonzero(np.abs(bend) == 0)
    paired = smooth.all() and len(arcs) == len(lines) == 2
    if paired and (np.abs(bend[arcs] - np.pi) < 0.2).all():
        return "round-ended strip"
    if smooth.all() and len(lines) and (bend >= 0).all() and len(arcs) == len(lines):
        n = len(lines)
        if n == 4 and found.turns == 4:
            return "rounded square"
        if n == 4 and (np.abs(bend[arcs] - np.pi / 2) < 0.2).all():
            return "rounded rectangle"
        if n == 3:
            return "rounded triangle"
        return f"rounded {n}-sided"
    if smooth.all() and not len(lines) and (bend > 0).all() and found.turns == 2:
        return "oval"
    if len(arcs) == 1 and len(lines) == 3 and smooth.sum() == 2 and found.mirrored:
        return "arch"
    if outline.count == 3 and smooth.sum() == 2 and len(arcs) == 1:
        return "drop"
    return ""


def _sector(outline: Outline) -> str:
    k = int(np.argmax(np.abs(outline.bend)))
    sweep = float(outline.bend[k])
    a = outline.corners[k]
    b = outline.corners[(k + 1) % 3]
    c = outline.corners[(k + 2) % 3]
    r0, r1 = float(np.hypot(*(a - c))), float(np.hypot(*(b - c)))
    if sweep <= 0 or not outline.round[k]:
        return ""
    radius = float(np.hypot(*(a - b))) / (2 * abs(np.sin(sweep / 2)) + 1e-300)
    if abs(r0 - radius) > 0.04 * radius or abs(r1 - radius) > 0.04 * radius:
        return ""
    return "quarter circle" if abs(sweep - np.pi / 2) < 0.06 else "circle sector"


def _ring_piece(outline: Outline) -> bool:
    """Tell whether two arcs about one centre and two straight ends bound it."""
    k = np.flatnonzero(np.abs(outline.bend) > 0)
    if k[1] - k[0] != 2 or not outline.round[k].all():
        return False
    outer, inner = sorted(k, key=lambda i: -outline.bend[i])
    a, b = float(outline.bend[outer]), float(outline.bend[inner])
    if b >= 0 or abs(a + b) > 0.1 + 0.1 * a:
        return False
    centres = []
    for i in (outer, inner):
        p, q = outline.corners[i], outline.corners[(i + 1) % 4]
        half = outline.bend[i] / 2
        step = q - p
        normal = np.array([-step[1], step[0]])
        centres.append((p + q) / 2 + normal / (2 * np.tan(half)))
    size = float(np.sqrt(outline.area))
    return bool(np.hypot(*(centres[0] - centres[1])) < 0.1 * size)
