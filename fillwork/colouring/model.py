"""What the colouring stage takes and returns.

A *swatch* is a colour on the drawing; a *palette* is a list of them
(`palettes/model.py`). A *colouring* gives each orbit, and by it each face, a
swatch. *Counterchange* is a colouring in which operations of the group exchange
colours, so that one orbit bears several swatches.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, get_args

from fillwork.errors import ColouringError
from fillwork.values import changed_repr, choice, freeze, told_repr

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fillwork.colouring.palettes.model import Palette
    from fillwork.notes import Note


Scope = Literal["kind", "turns", "shifts", "only"]
SCOPES: tuple[Scope, ...] = get_args(Scope)
TASTES = ("balanced", "quiet", "festive", "two-tone", "dark")


@dataclass(frozen=True, slots=True, eq=False)
class Adjacency:
    """Say which orbits touch, and for how long.

    Parameters
    ----------
    pairs : ndarray of int32, shape (P, 2)
        Orbits a < b that share an edge or a corner.
    shared : ndarray of float64, shape (P,)
        Length of shared edges, mm; 0 for corners only.
    corner_only : ndarray of bool, shape (P,)
        True when they meet in corners only.
    self_adjacent : ndarray of int32
        Orbits of which two faces share an edge.
    area : ndarray of float64, shape (orbits,)
        Area of all faces of each orbit, mm².
    face_pairs : ndarray of int32, shape (Q, 2)
        Faces a < b that share an edge.
    face_shared : ndarray of float64, shape (Q,)
        Length of it, mm.
    face_corners : ndarray of int32, shape (C, 2)
        Faces a < b that meet in corners only; empty unless asked for.
    """

    pairs: NDArray[np.int32]
    shared: NDArray[np.float64]
    corner_only: NDArray[np.bool_]
    self_adjacent: NDArray[np.int32]
    area: NDArray[np.float64]
    face_pairs: NDArray[np.int32]
    face_shared: NDArray[np.float64]
    face_corners: NDArray[np.int32]

    def __repr__(self) -> str:
        kinds, faces = len(self.pairs), len(self.face_pairs)
        return told_repr(self, kind_pairs=kinds, face_pairs=faces)


@dataclass(frozen=True, slots=True)
class Pin:
    """Hold a wish that a place has one swatch.

    Parameters
    ----------
    where : str
        A letter, a name (all kinds that bear it), or a point ``@x,y`` in mm.
    swatch : str
        Name or code of the swatch.
    scope : str
        ``kind``, ``turns``, ``shifts`` or ``only``.
    """

    where: str
    swatch: str
    scope: Scope = "kind"

    @classmethod
    def gather(cls, pins: Pins) -> tuple[Pin, ...]:
        """Return pins from what a program has in hand.

        Parameters
        ----------
        pins : mapping, or iterable of Pin or tuple
            From a place to its swatch, or such pairs, a scope behind them where it
            is not the whole kind. A place is a letter, a name, or a point in mm.

        Returns
        -------
        tuple of Pin
            The same wishes.

        Raises
        ------
        ColouringError
            If one of them is none.

        Examples
        --------
        >>> Pin.gather({"A": "ivory", (5, 7.5): "night"})
        (Pin('A', 'ivory'), Pin('@5,7.5', 'night'))
        >>> Pin.gather([("B", "night", "only")])
        (Pin('B', 'night', 'only'),)
        """
        rows = pins.items() if isinstance(pins, Mapping) else pins
        return tuple(cls.from_row(row) for row in rows)

    @classmethod
    def from_row(cls, row: object) -> Pin:
        """Return a pin from one such pair.

        Parameters
        ----------
        row : Pin, tuple or list
            A place, a swatch and, where it is not the whole kind, a scope.

        Returns
        -------
        Pin
            The wish.

        Raises
        ------
        ColouringError
            If it is none.
        """
        if isinstance(row, Pin):
            return row
        if isinstance(row, tuple | list) and len(row) in (2, 3):
            where, swatch, *scope = row
            if isinstance(where, tuple | list) and len(where) == 2:
                where = "@" + ",".join(f"{float(v):.12g}" for v in where)
            if isinstance(where, str) and isinstance(swatch, str):
                found = cls(where, swatch, *scope)
                if found.scope in SCOPES:
                    return found
        what = f"{row!r} is no pin"
        mend = 'write ("A", "ivory"), or ((x, y), "ivory", "only")'
        raise ColouringError(what, mend=mend)

    def __repr__(self) -> str:
        scope = () if self.scope == "kind" else (self.scope,)
        return told_repr(self, self.where, self.swatch, *scope)


Where = str | tuple[float, float]
Pins = (
    Mapping[Where, str] | Iterable[Pin | tuple[Where, str] | tuple[Where, str, Scope]]
)
"""Pins as a program has them in hand; see `Pin.gather`."""


@dataclass(frozen=True, slots=True)
class Rules:
    """Gather the wishes for a colouring.

    Parameters
    ----------
    goal_difference : float
        CIEDE2000 wanted between touching kinds.
    pins : tuple of Pin
        Places with a fixed swatch.
    ties : tuple of tuple of str
        Places (letter, name or ``@x,y``) that must bear the same swatch.
    bans : tuple of (str, str)
        Place and the swatch that it must not bear.
    most : int or None
        Largest number of different swatches.
    shares : tuple of (str, float)
        Swatch and the area share wished.
    corners_count : bool
        Whether faces that meet in corners only must differ too.
    ground : str or None
        Swatch behind the pattern (margin and page outside the regions); also
        wished for the background kinds where one is plainly the ground.
    bare : tuple of str
        Swatches that stand for unpainted surface.
    outline : str or None
        Swatch or hex of the painted line; ``none`` for no line.
    outline_width : float or None
        Width of the line, mm; from the drawing by default.
    counterchange : int or str or None
        How many colours change places; ``apart`` for as few as part touching
        regions of one kind; ``no`` for none. None: as few, in kinds that fill a zone
        alone.
    choices : tuple of (str, int)
        Kind letter (empty: all) and the number of the possibility.
    taste : str
        Character of the colouring among those that reach the goal: ``balanced``,
        ``quiet``, ``festive``, ``two-tone`` or ``dark`` (on the darkest swatch, or on
        ``ground`` where it is named).
    seed : int
        For repeatable choice among equals.
    """

    goal_difference: float = choice(20.0, "number", option="--goal")
    pins: tuple[Pin, ...] = ()
    ties: tuple[tuple[str, ...], ...] = choice((), "groups", option="--tie")
    bans: tuple[tuple[str, str], ...] = choice((), "pairs", option="--ban")
    most: int | None = choice(None, "count")
    shares: tuple[tuple[str, float], ...] = choice((), "shares", option="--share")
    corners_count: bool = choice(False, "truth", "corners", "--corners")
    ground: str | None = choice(None, "swatch")
    bare: tuple[str, ...] = choice((), "swatches")
    outline: str | None = choice(None, "swatch")
    outline_width: float | None = choice(
        None, "length", "outline_width_mm", "--outline"
    )
    counterchange: int | str | None = choice(None, "colours")
    choices: tuple[tuple[str, int], ...] = choice((), "choices", option="--choice")
    taste: str = choice("balanced", TASTES)
    seed: int = choice(0, "whole")

    def __post_init__(self) -> None:
        """Take pins as tuples or as a mapping too."""
        object.__setattr__(self, "pins", Pin.gather(self.pins))

    def __repr__(self) -> str:
        return changed_repr(self)


@dataclass(frozen=True, slots=True)
class Counterchange:
    """Say how colours change places.

    Parameters
    ----------
    colours : int
        How many, K.
    kinds : tuple of (letter, choice, choices, subgroup)
        For each kind that alternates: the number of the possibility taken, how
        many there are, and the name of the subgroup that keeps a colour.
    """

    colours: int
    kinds: tuple[tuple[str, int, int, str], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Colouring:
    """Hold which swatch each orbit and face bears.

    Parameters
    ----------
    palette : Palette
        The palette.
    of_orbit : ndarray of int32, shape (orbits,)
        Swatch of each orbit; the most common one where its faces differ.
    of_face : ndarray of int32, shape (F,)
        Swatch of each face; -1 for face 0.
    goal : float
        CIEDE2000 wanted.
    smallest_difference : float
        Smallest CIEDE2000 between touching faces of unlike swatches; NaN when
        none touch.
    closest : tuple of int or None
        The two orbits where it occurs.
    bound : float
        The largest smallest difference that the palette allows under the
        wishes, or an upper bound of it; without the outline's paint where the
        others can part touching kinds.
    proven : bool
        True when `bound` is reached by some assignment (a proven optimum).
    equal_neighbours : tuple of (int, int, float)
        Orbits of touching faces that bear the same swatch, shared length in mm.
    counterchange : Counterchange or None
        How colours change places.
    rules : Rules
        The wishes that were taken.
    ground : int or None
        Swatch behind the pattern.
    notes : tuple of Note
        Wishes not met in full, and why.
    """

    palette: Palette
    of_orbit: NDArray[np.int32]
    of_face: NDArray[np.int32]
    goal: float
    smallest_difference: float
    closest: tuple[int, int] | None
    bound: float
    proven: bool
    equal_neighbours: tuple[tuple[int, int, float], ...]
    counterchange: Counterchange | None
    rules: Rules
    ground: int | None = None
    notes: tuple[Note, ...] = field(default=())

    def __post_init__(self) -> None:
        freeze(self, "of_orbit", "of_face")

    def __repr__(self) -> str:
        used = len(set(self.of_face[1:].tolist()))
        least = round(self.smallest_difference, 1)
        name = self.palette.name
        return told_repr(self, name, swatches=used, smallest_difference=least)


@dataclass(frozen=True, slots=True, eq=False)
class Colourway:
    """Hold one palette laid on the drawing, with what was measured on it.

    Parameters
    ----------
    colouring : Colouring
        The colouring.
    measures : tuple of (str, float)
        Name and value: ``smallest difference`` (ΔE00, NaN when none touch),
        ``alike length`` (mm), ``lightness range`` and ``lightness spread``
        (L*), ``mean contrast`` (ΔE00 weighted by shared length), ``share miss``
        (largest miss of an area share, fraction), ``swatches`` (number used),
        ``harmony`` and ``taste`` (0 to 1).
    changed : float
        Least share of the area that differs from a colourway of the same
        palette before it; 1 for the first.
    pins : tuple of Pin
        Wishes that give this colouring again.
    """

    colouring: Colouring
    measures: tuple[tuple[str, float], ...]
    changed: float
    pins: tuple[Pin, ...]
