"""Ways in which a cell goes on: by shifts, with a drop, by mirrors, by turns.

Mirrors and turns are plane groups of which the cell is a part, so they are looked
up there. A four-sided cell of any shape fills the plane by half-turns about the
middles of its sides; its diagonals are then the shifts.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import PlanError, SymmetryError
from fillwork.geometry import affine
from fillwork.geometry.crossings import cross
from fillwork.geometry.polygons import signed_area
from fillwork.laying.model import Way
from fillwork.laying.moves import as_point
from fillwork.laying.sectors import fit_affine, ways_of_group, ways_of_rosette
from fillwork.symmetry.groups import LARGEST_ROSETTE, parse_group

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Floats

_LEVEL = 0.087  # sine of 5 degrees
_EXACT = 1e-3  # mm; sides that differ by less were not drawn by hand
_HAND = 3.0  # times what opposite sides differ by: as far may angles and lengths be off
_NO_AREA = 1e-9  # mm² between two shifts that lie on one line
_MOST_OVER = 400  # times that a cell, of twenty by twenty repeats, lies over itself
_NUMBER = r"[+-]?(?:\d{1,9}(?:\.\d*)?|\.\d+)"
_SHIFTS = re.compile(
    rf"shifts\s+({_NUMBER})\s*,\s*({_NUMBER})\s+({_NUMBER})\s*,\s*({_NUMBER})"
)
_DROP = re.compile(r"(drop|brick)(?:\s+(\d{1,9})\s*/\s*(\d{1,9})|\s+(0?\.\d{1,99}))?")
_TURNS = re.compile(r"turns(?:\s+(\d{1,9}))?")
_WAY = re.compile(r"(.*?)\s*\bway\s+(\d{1,9})")
_PLAIN = ("", "shifts", "mirrors", "border")
_MIRRORS = ("pmm", "p4m", "p3m1", "p6m")
_TURNED = {6: "p6", 4: "p4", 3: "p3", 2: "p2"}
_HELP = (
    "say shifts, “shifts x,y x,y”, “drop 1/2”, “brick 1/2”, mirrors, turns, "
    "“turns 4”, or “turns 10” of a rosette's sector; a group is named with --symmetry; "
    "“way 2” takes the second of several ways"
)
_MIRRORED = "mirrors need a rectangle, or a triangle of 45, 60 or 30 and 60 degrees"
_SQUARED = (
    "turns need a square, a hexagon of equal sides, or any triangle or four-sided cell"
)


def check_way(by: str) -> None:
    """Raise if a way of going on is none that is known.

    `by`: as the user wrote it. Raises `PlanError` if it is not understood.
    """
    text = plain_way(by)
    drop, turns = _DROP.fullmatch(text), _TURNS.fullmatch(text)
    if drop:
        known = drop[3] is None or int(drop[3]) > 0
    elif turns:
        known = turns[1] is None or 1 < int(turns[1]) <= LARGEST_ROSETTE
    else:
        known = text in _PLAIN or _SHIFTS.fullmatch(text) is not None
    if not known:
        what = f"--by “{by}” is not understood"
        raise PlanError(what, mend=_HELP)


def way_number(by: str) -> tuple[str, int | None]:
    """Return a way of going on without the number that picks one of several.

    `by`: as the user wrote it, such as ``way 2`` or ``mirrors way 2``. Returns `by`:
    the rest; `number`: from 1; None where none is given.
    """
    picked = _WAY.fullmatch(by.strip().lower())
    return (by, None) if picked is None else (picked[1], int(picked[2]))


def plain_way(by: str) -> str:
    """Return a way of going on in small letters, without the number of one of several.

    `by`: as the user wrote it.
    """
    return way_number(by)[0].strip().lower()


def turned_group(by: str) -> str:
    """Return the rosette that a number of turns names, such as ``rosette:C10``.

    `by`: as the user wrote it. Returns its name; empty for what may go on in the plane.
    """
    turns = _TURNS.fullmatch(plain_way(by))
    if turns is None or turns[1] is None or int(turns[1]) in _TURNED:
        return ""
    return f"rosette:C{int(turns[1])}"


def find_ways(outline: Floats, by: str, group: str, *, slack: float) -> tuple[Way, ...]:
    """Return the ways in which a cell may go on as was asked.

    At least one, the usual first. `outline` (k, 2): corners of the cell,
    counter-clockwise, mm. `by`: ``shifts``, ``shifts x,y x,y``, ``drop 1/2``, ``brick
    1/2``, ``mirrors``, ``turns``, ``turns 4`` or, of a sector, ``turns 10``; empty
    where a group is named. `group`: such as ``plane:p4m``, ``frieze:p2mg``,
    ``rosette:D12``; empty for none. `slack`: how far corners may be off, mm. Raises
    `SymmetryError` if the outline does not serve.
    """
    check_way(by)
    text = by.strip().lower()
    if text == "border":
        return _strips(outline, group, slack)
    named = turned_group(text) or ("" if text else group)
    if named:
        return _by_group(outline, named, slack)
    groups: tuple[str, ...]
    turns = _TURNS.fullmatch(text)
    if text == "mirrors":
        groups, wanted = _MIRRORS, _MIRRORED
    elif turns:
        orders = _TURNED if turns[1] is None else (int(turns[1]),)
        groups, wanted = tuple(_TURNED[n] for n in orders), _SQUARED
    else:
        plain, drop = _by_shifts(outline, text, slack), _DROP.fullmatch(text)
        return (plain,) if drop is None else _dropped(plain, drop)
    found = [w for g in groups for w in ways_of_group("plane", g, outline, slack=slack)]
    if "p2" in groups and len(outline) == 4 and not found:
        found = [_half_turns(outline)]
    return _some(found, text, outline, wanted)


def _strips(outline: Floats, group: str, slack: float) -> tuple[Way, ...]:
    """Return the ways in which a cell goes on along a strip, the long way first."""
    if group.startswith("frieze"):
        return _by_group(outline, group, slack)
    plain = _by_shifts(outline, "shifts", slack)
    if len(outline) != 4:
        what = f"border: {_corners(outline)}"
        raise SymmetryError(what, mend="a border needs a cell of four sides")
    level = sorted(plain.basis.tolist(), key=lambda v: round(abs(v[1]) - abs(v[0]), 6))
    return tuple(replace(plain, name="border", basis=np.array([v])) for v in level)


def _corners(outline: Floats) -> str:
    """Return an outline in words: its corners and angles."""
    before, after = np.roll(outline, 1, axis=0), np.roll(outline, -1, axis=0)
    b, a = (np.arctan2(*(side - outline).T[::-1]) for side in (before, after))
    angles = np.degrees((b - a) % (2 * np.pi))
    shown = ", ".join(f"{v:.1f}" for v in angles[:8])
    return f"the cell's outline has {len(outline)} corners of {shown} degrees"


def _some(
    found: Sequence[Way], name: str, outline: Floats, wanted: str
) -> tuple[Way, ...]:
    if found:
        return tuple(found)
    what = f"{name}: {_corners(outline)}"
    raise SymmetryError(what, mend=f"{wanted}; name its guide lines with --cell")


def _by_group(outline: Floats, name: str, slack: float) -> tuple[Way, ...]:
    group = parse_group(name)
    if group.family == "none":
        return (_by_shifts(outline, "shifts", slack),)
    if group.family == "rosette":
        n, mirrors = int(group.short[1:]), group.short[0] == "D"
        found = ways_of_rosette(n, mirrors, outline, slack=slack)
        angle = (180 if mirrors else 360) / n
        wanted = f"draw one sector with a corner of {angle:g} degrees in the middle"
        return _some(found, name, outline, wanted)
    found = ways_of_group(group.family, group.short, outline, slack=slack)
    if not found and group.family == "plane" and _parallel_sided(outline) is not None:
        # a whole repeat, of which the group is known
        return (_by_shifts(outline, "shifts", slack),)
    wanted = "draw the smallest part that the group repeats"
    return _some(found, name, outline, wanted)


def _half_turns(outline: Floats) -> Way:
    p, q, r, s = outline
    turn = (-1.0, 0.0, 0.0, -1.0, *as_point(p + q))
    basis = np.array([r - p, s - q])
    return Way("turns 2", basis, outline.copy(), (affine.IDENTITY, turn))


def _two_shifts(text: str) -> Floats | None:
    """Return the shifts that a text names, as rows, mm."""
    shifts = _SHIFTS.fullmatch(text)
    if shifts is None:
        return None
    return np.array([float(v) for v in shifts.groups()]).reshape(2, 2)


def _explicit(outline: Floats, text: str, basis: Floats) -> Way:
    area = abs(np.linalg.det(basis))
    if area < _NO_AREA:
        what = f"--by “{text}”: the two shifts lie on one line"
        raise PlanError(what, mend="give two shifts in different directions")
    over = signed_area(outline) / area
    if over > _MOST_OVER:
        what = f"--by “{text}”: the cell would lie {over:,.0f} times over itself"
        raise PlanError(what, mend="give the shifts in mm, as long as they are drawn")
    return Way(text, basis, outline.copy())


def _by_shifts(outline: Floats, text: str, slack: float) -> Way:
    explicit = _two_shifts(text)
    if explicit is not None:
        return _explicit(outline, text, explicit)
    sided = _parallel_sided(outline)
    if sided is None:
        what = f"{text or 'shifts'}: {_corners(outline)}"
        mend = (
            "shifts need four or six corners with opposite sides parallel and equal; "
            "name the guide lines with --cell, or give “--by shifts x,y x,y”"
        )
        raise SymmetryError(what, mend=mend)
    ideal, basis = sided
    miss = _farthest(ideal, outline)
    if miss > slack:
        what = (
            f"shifts: opposite sides of the cell differ; its corners are {miss:.2f} mm "
            f"off, more than the {slack:.2f} mm allowed"
        )
        mend = f"mend the guide, or allow more with --misfit {1.1 * miss:.2f}"
        raise SymmetryError(what, mend=mend)
    if miss > _EXACT:
        most = min(slack, max(_HAND * miss, slack / 2))
        ideal, basis = _regular(outline, ideal, basis, most)
    onto, _ = fit_affine(outline, ideal)
    miss = _farthest(ideal, outline)
    return Way(text or "shifts", basis, ideal, mend=onto, miss=miss)


def _farthest(ideal: Floats, outline: Floats) -> float:
    """Return how far corners are off at most, mm."""
    return float(np.hypot(*(ideal - outline).T).max())


def _parallel_sided(outline: Floats) -> tuple[Floats, Floats] | None:
    """Return the nearest outline with equal opposite sides, and its shifts."""
    n = len(outline)
    if n not in (4, 6):
        return None
    middle = outline.mean(axis=0)
    half = (outline - np.roll(outline, n // 2, axis=0)) / 2
    ideal = middle + half
    if n == 4:
        basis = np.array([ideal[1] - ideal[0], ideal[3] - ideal[0]])
    else:
        basis = np.array([ideal[3] - ideal[1], ideal[4] - ideal[2]])
    return ideal, basis


def _regular(
    outline: Floats, ideal: Floats, basis: Floats, most: float
) -> tuple[Floats, Floats]:
    """Return the square, rhombus, rectangle or regular hexagon that a hand meant.

    As drawn, where that would move corners by more than `most`.
    """
    middle = outline.mean(axis=0)
    if len(ideal) == 6:
        sixth = np.exp(1j * np.pi / 3 * np.arange(6))
        spoke = ((outline - middle) @ np.array([1, 1j]) / sixth).mean() * sixth
        corners = middle + np.column_stack([spoke.real, spoke.imag])
        if _farthest(corners, outline) > most:
            return ideal, basis
        return corners, np.array([corners[3] - corners[1], corners[4] - corners[2]])
    angle = float(np.arctan2(cross(*basis), basis[0] @ basis[1]))
    sizes = np.hypot(*basis.T)
    equal = np.full(2, sizes.mean())
    tries = [(wanted, equal) for wanted in (np.pi / 2, np.pi / 3, 2 * np.pi / 3)]
    tries += [(np.pi / 2, sizes), (abs(angle), equal)]
    for wanted, size in tries:
        spread = (wanted * np.sign(angle) - angle) / 2
        turned = np.array(
            [
                affine.apply(affine.rotation(by), v) * s / np.hypot(*v)
                for by, v, s in zip((-spread, spread), basis, size, strict=True)
            ]
        )
        corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) @ turned
        corners += middle - corners.mean(axis=0)
        if _farthest(corners, outline) <= most:
            return corners, turned
    return ideal, basis


def _dropped(plain: Way, drop: re.Match[str]) -> tuple[Way, ...]:
    """Return the ways in which each next column drops, or each next row slides.

    Downwards and to the right is usual; the lines may say that it is the other
    way, and in a cell turned by more than 5 degrees which side is upright.
    """
    if len(plain.outline) != 4:
        what = f"{plain.name}: {_corners(plain.outline)}"
        raise SymmetryError(what, mend="a drop needs a four-sided cell")
    _, over, under, part = drop.groups()
    share = float(Fraction(f"{over}/{under}" if over else part or "1/2") % 1)
    along = int(abs(plain.basis[1, 0]) > abs(plain.basis[0, 0]))
    right, up = plain.basis[along], plain.basis[1 - along]
    right = right if right[0] >= 0 else -right
    up = up if up[1] >= 0 else -up
    pairs = [(right, -up) if drop[1] == "drop" else (up, right)]
    if abs(right[1]) > _LEVEL * np.hypot(*right):
        pairs.append(pairs[0][::-1])
    found: list[Way] = []
    for step, side in pairs:
        for some in (share, -share):
            basis = np.array([step + some * side, side])
            if not any(_same_lattice(basis, other.basis) for other in found):
                found.append(replace(plain, basis=basis))
    return tuple(found)


def _same_lattice(one: Floats, two: Floats) -> bool:
    along = one @ np.linalg.inv(two)
    return bool(np.abs(along - np.round(along)).max() < 1e-6)
