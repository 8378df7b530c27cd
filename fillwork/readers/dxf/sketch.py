"""A sketch: the curves of one block, gathered in plain arrays, styles not resolved.

A *look* is what an entity says of itself: its layer, and its colour, line type and
weight, each its own, the layer's or that of the block it stands in.
"""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.geometry.curves import LINE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Floats

    Matrix = tuple[float, float, float, float, float, float]
    Curve = tuple[int, tuple[float, ...]]
    Place = tuple[str, "Look", str]


class Look(NamedTuple):
    """Hold what an entity says of its style."""

    layer: str  # name of its layer, in small letters
    # number of a colour (0 the block's, 256 the layer's), or ``#rrggbb``
    colour: int | str
    dash: str  # line type in small letters, or ``byblock`` and ``bylayer``
    weight: int  # weight in 1/100 mm; -1 the layer's, -2 the block's, -3 the usual one
    width: float  # width of a wide polyline in the drawing's units; 0 for none
    filled: bool  # whether an area is filled and no line is drawn
    handle: str  # handle, where a selector asks for one; else empty


@dataclass(slots=True)
class Placing:
    """Gather the places at which one block stands, with one look."""

    # six numbers a place: affine maps from the block to its surroundings
    maps: array[float] = field(default_factory=lambda: array("d"))
    line: int = 0  # line of the first in the file


class Viewport(NamedTuple):
    """Hold a window of a paper space through which the model is seen."""

    box: tuple[float, float, float, float]  # x, y, width, height on the paper
    matrix: Matrix  # from the model to the paper
    frozen: frozenset[str]  # handles of layers that are not seen through it


class Sketch:
    """Gather the curves and the placed blocks of one block or space.

    `base` (tuple of 2 floats): point of the block that comes to the place. `placings`
    (dict of (str, Look, str) to Placing): blocks inside, by name in small letters, look
    and handle of the dictionary that may name an outline that cuts them. `ends` (list
    of (str, int, curves, Look, int)): ends of multiple lines: the style and the flag of
    it that asks for them. `counts` (dict of str to int): what is no line work, by word.
    `doubts` (dict of str to int): what could not be understood, and the line of the
    first. `viewports` (list of Viewport): windows of a paper space.
    """

    def __init__(self) -> None:
        self.base = (0.0, 0.0)
        self.kinds = array("B")
        self.rows = array("d")
        self.start = array("q", [0])
        self.closed = array("B")
        self.look = array("i")
        self.line = array("i")
        self.names: list[str] = []
        self.looks: dict[Look, int] = {}
        self.placings: dict[Place, Placing] = {}
        self.ends: list[tuple[str, int, list[Curve], Look, int]] = []
        self.counts: dict[str, int] = {}
        self.doubts: dict[str, tuple[int, int]] = {}
        self.viewports: list[Viewport] = []

    def __len__(self) -> int:
        return len(self.kinds)

    def add(
        self, curves: Sequence[tuple[int, Sequence[float]]], look: Look, *,
        closed: bool, name: str, line: int,
    ) -> None:  # fmt: skip
        """Add one stroke.

        `curves`: kind and row of each curve, end to end. `closed`: whether it closes by
        intent. `name`: entity with its handle.
        """
        if not curves:
            return
        for kind, row in curves:
            self.kinds.append(kind)
            self.rows.extend(row)
        self.start.append(len(self.kinds))
        self.closed.append(closed)
        self.look.append(self.looks.setdefault(look, len(self.looks)))
        self.line.append(line)
        self.names.append(name)

    def add_lines(
        self, rows: Floats, look: Look, names: Sequence[str],
        lines: Sequence[int],
    ) -> None:  # fmt: skip
        """Add lines of one look.

        `rows` (N, 4): their ends. `names`: entities with their handles.
        """
        first, n = len(self.kinds) + 1, len(rows)
        table = np.zeros((n, 8))
        table[:, :4] = rows
        self.kinds.frombytes(bytes([LINE]) * n)
        self.rows.frombytes(table.tobytes())
        self.start.extend(range(first, first + n))
        self.closed.frombytes(bytes(n))
        number = self.looks.setdefault(look, len(self.looks))
        self.look.extend([number] * n)
        self.line.extend(lines)
        self.names.extend(names)

    def place(self, place: Place, maps: Sequence[float], line: int) -> None:
        """Add places of a block.

        `place`: name of the block in small letters, style, handle of its dictionary.
        `maps`: affine maps, one after the other.
        """
        placing = self.placings.get(place)
        if placing is None:
            placing = self.placings[place] = Placing(line=line)
        placing.maps.extend(maps)

    def finish(self, styles: dict[str, int]) -> None:
        """Draw the ends of multiple lines, once their styles are known."""
        for style, flag, curves, look, line in self.ends:
            if styles.get(style, 0) & flag:
                self.add(curves, look, closed=False, name="MLINE", line=line)
        self.ends.clear()

    def count(self, word: str) -> None:
        """Count something that is no line work."""
        self.counts[word] = self.counts.get(word, 0) + 1

    def doubt(self, what: str, line: int) -> None:
        """Note something that could not be understood."""
        first, count = self.doubts.get(what, (line, 0))
        self.doubts[what] = (first, count + 1)
