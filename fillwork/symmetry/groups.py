"""The symmetry groups of the plane, of strips and of rosettes, as tables.

*Plane groups* have translations in two directions: there are 17. *Frieze
groups* have them in one direction: 7. *Rosette groups* have none: Cn (turns by
360°/n) and Dn (the turns and n mirrors), here with n up to 360.

General positions are written as the International Tables write them: ``-y,x-y``
is the map that carries a point of fractional coordinates (x, y) there. They
refer to the conventional cell; for the two centred groups the position
(1/2, 1/2) is added. Axes of hexagonal cells are at 120°.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from fillwork.errors import SymmetryError
from fillwork.symmetry.model import Group

LARGEST_ROSETTE = 360


@dataclass(frozen=True, slots=True)
class Position:
    """Hold one general position: x' = M x + t in fractional coordinates."""

    # m00 m01 m10 m11: x' = m00 x + m01 y, y' = m10 x + m11 y
    matrix: tuple[int, int, int, int]
    shift: tuple[Fraction, Fraction]  # the translation part


def _group(
    short: str, full: str, orbifold: str, point: str, kind: str, family: str = "plane"
) -> Group:
    return Group(family, short, full, orbifold, point, kind)


# Symbols: International Tables for Crystallography A, chapter 2.2 (plane groups);
# orbifolds: J. H. Conway, H. Burgiel, C. Goodman-Strauss, "The Symmetries of
# Things", 2008, chapters 3 to 5.
PLANE_GROUPS: tuple[Group, ...] = (
    _group("p1", "p1", "o", "C1", "oblique"),
    _group("p2", "p211", "2222", "C2", "oblique"),
    _group("pm", "p1m1", "**", "D1", "rectangular"),
    _group("pg", "p1g1", "××", "D1", "rectangular"),
    _group("cm", "c1m1", "*×", "D1", "centred rectangular"),
    _group("pmm", "p2mm", "*2222", "D2", "rectangular"),
    _group("pmg", "p2mg", "22*", "D2", "rectangular"),
    _group("pgg", "p2gg", "22×", "D2", "rectangular"),
    _group("cmm", "c2mm", "2*22", "D2", "centred rectangular"),
    _group("p4", "p4", "442", "C4", "square"),
    _group("p4m", "p4mm", "*442", "D4", "square"),
    _group("p4g", "p4gm", "4*2", "D4", "square"),
    _group("p3", "p3", "333", "C3", "hexagonal"),
    _group("p3m1", "p3m1", "*333", "D3", "hexagonal"),
    _group("p31m", "p31m", "3*3", "D3", "hexagonal"),
    _group("p6", "p6", "632", "C6", "hexagonal"),
    _group("p6m", "p6mm", "*632", "D6", "hexagonal"),
)

FRIEZE_GROUPS: tuple[Group, ...] = (
    _group("p1", "p111", "∞∞", "C1", "line", "frieze"),
    _group("p11g", "p11g", "∞×", "D1", "line", "frieze"),
    _group("p11m", "p11m", "∞*", "D1", "line", "frieze"),
    _group("p1m1", "p1m1", "*∞∞", "D1", "line", "frieze"),
    _group("p2", "p112", "22∞", "C2", "line", "frieze"),
    _group("p2mg", "p2mg", "2*∞", "D2", "line", "frieze"),
    _group("p2mm", "p2mm", "*22∞", "D2", "line", "frieze"),
)

NO_GROUP = Group("none", "none", "none", "", "C1")

_PLANE = {g.short: g for g in PLANE_GROUPS}
_FRIEZE = {g.short: g for g in FRIEZE_GROUPS}
# long names, and the four-letter short names of the 2016 edition, are understood
_PLANE_NAMES = {name: g for g in PLANE_GROUPS for name in (g.full, g.short)}
_FRIEZE_NAMES = {name: g for g in FRIEZE_GROUPS for name in (g.full, g.short)}

_C2 = "x,y;-x,-y"
_C4 = "x,y;-x,-y;-y,x;y,-x"
_C3 = "x,y;-y,x-y;-x+y,-x"
_3M1 = ";-y,-x;-x+y,y;x,x-y"
_31M = ";y,x;x-y,-y;-x,-x+y"
_C6 = _C3 + ";-x,-y;y,-x+y;x-y,x"

# International Tables for Crystallography A, chapter 2.2, general positions
_POSITIONS = {
    "p1": "x,y",
    "p2": _C2,
    "pm": "x,y;-x,y",
    "pg": "x,y;-x,y+1/2",
    "cm": "x,y;-x,y",
    "pmm": _C2 + ";-x,y;x,-y",
    "pmg": _C2 + ";-x+1/2,y;x+1/2,-y",
    "pgg": _C2 + ";-x+1/2,y+1/2;x+1/2,-y+1/2",
    "cmm": _C2 + ";-x,y;x,-y",
    "p4": _C4,
    "p4m": _C4 + ";-x,y;x,-y;y,x;-y,-x",
    "p4g": _C4 + ";-x+1/2,y+1/2;x+1/2,-y+1/2;y+1/2,x+1/2;-y+1/2,-x+1/2",
    "p3": _C3,
    "p3m1": _C3 + _3M1,
    "p31m": _C3 + _31M,
    "p6": _C6,
    "p6m": _C6 + _3M1 + _31M,
}

# x along the strip; y across it; only x has translations
_STRIPS = {
    "p1": "x,y",
    "p11g": "x,y;x+1/2,-y",
    "p11m": "x,y;x,-y",
    "p1m1": "x,y;-x,y",
    "p2": _C2,
    "p2mg": _C2 + ";-x+1/2,y;x+1/2,-y",
    "p2mm": _C2 + ";-x,y;x,-y",
}


def _parse_position(text: str) -> Position:
    rows: list[tuple[int, int, Fraction]] = []
    for part in text.split(","):
        x = y = 0
        shift = Fraction(0)
        for sign, term in re.findall(r"([+-]?)([xy]|\d+/\d+)", part):
            factor = -1 if sign == "-" else 1
            if term == "x":
                x = factor
            elif term == "y":
                y = factor
            else:
                shift = factor * Fraction(term)
        rows.append((x, y, shift))
    (a, b, s), (c, d, t) = rows
    return Position((a, b, c, d), (s, t))


@lru_cache(maxsize=32)
def general_positions(family: str, short: str) -> tuple[Position, ...]:
    """Return the general positions of a plane or frieze group.

    One a coset of the translations (of the centred lattice for ``cm`` and ``cmm``), the
    identity first.

    `short`: IUC short name, such as ``p4g``.

    References
    ----------
    .. [1] International Tables for Crystallography, volume A, chapter 2.2.

    Examples
    --------
    >>> len(general_positions("plane", "p6m"))
    12
    """
    table = _POSITIONS if family == "plane" else _STRIPS
    return tuple(_parse_position(p) for p in table[short].split(";"))


def plane_group(short: str) -> Group:
    """Return a plane group by its short name.

    `short`: such as ``p4m``.
    """
    return _PLANE[short]


def frieze_group(short: str) -> Group:
    """Return a frieze group by its short name.

    `short`: such as ``p2mg``.
    """
    return _FRIEZE[short]


def rosette_group(n: int, mirrors: bool) -> Group:
    """Return Cn or Dn.

    The group; C1 is no symmetry at all and gives the group ``none``. `n`: order of the
    rotation, from 1. `mirrors`: whether there are mirrors.
    """
    if n == 1 and not mirrors:
        return NO_GROUP
    name = f"{'D' if mirrors else 'C'}{n}"
    # point groups of crystals: n, nm for odd n, nmm for even n
    full = str(n) if not mirrors else "m" if n == 1 else f"{n}m" + "m" * (n % 2 == 0)
    return Group("rosette", name, full, f"*{n}•" if mirrors else f"{n}•", name)


def parse_group(text: str) -> Group:
    """Return the group that a user names.

    `text`: ``plane:p4m``, ``frieze:p2mg``, ``rosette:D8`` or ``none``; IUC full names
    are understood too. Raises `SymmetryError` if there is no such group.

    Examples
    --------
    >>> parse_group("plane:p4mm").orbifold
    '*442'
    """
    family, _, name = text.strip().partition(":")
    family, name = family.strip().lower(), name.strip()
    if family == "none" and not name:
        return NO_GROUP
    if family == "plane" and name.lower() in _PLANE_NAMES:
        return _PLANE_NAMES[name.lower()]
    if family == "frieze" and name.lower() in _FRIEZE_NAMES:
        return _FRIEZE_NAMES[name.lower()]
    if family == "rosette":
        match = re.fullmatch(r"([CcDd])(\d{1,3})", name)
        if match and 1 <= int(match[2]) <= LARGEST_ROSETTE:
            return rosette_group(int(match[2]), match[1] in "Dd")
        mend = f"say rosette:C2 ... C{LARGEST_ROSETTE} or D1 ... D{LARGEST_ROSETTE}"
    elif family == "plane":
        mend = "plane groups are " + " ".join(_PLANE)
    elif family == "frieze":
        mend = "frieze groups are " + " ".join(_FRIEZE)
    else:
        lists = {"plane": _PLANE_NAMES, "frieze": _FRIEZE_NAMES}
        meant = [f"{kind}:{family}" for kind, known in lists.items() if family in known]
        if re.fullmatch(r"[cd]\d{1,3}", family):
            meant = [f"rosette:{family.upper()}"]
        mend = "say plane:NAME, frieze:NAME, rosette:NAME or none"
        mend = f"say {' or '.join(meant)}" if meant else mend
    what = f"there is no symmetry group called {text!r}"
    raise SymmetryError(what, mend=mend)
