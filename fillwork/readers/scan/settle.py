"""Pieces that meet: every node where its lines cross, every end on its line."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import misses
from fillwork.readers.scan.fit import cut_strand
from fillwork.readers.scan.model import Piece, Strand

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.readers.scan.model import Network

__all__ = ["Drawing", "settle"]

# How much a vertex is held where the skeleton has it, against lines that nearly agree.
_PULL = 0.02


@dataclass(slots=True, eq=False)
class Drawing:
    """Hold pieces and the vertices that they share.

    Parameters
    ----------
    vertices : list of ndarray of shape (2,)
        px of the page, y down.
    pieces : list of Piece
        Lines and arcs from vertex to vertex.
    width : float
        Width of the pen's line, px.
    """

    vertices: list[NDArray[np.float64]]
    pieces: list[Piece]
    width: float
    hard: set[int] = field(default_factory=set)

    def through(self) -> dict[int, list[int]]:
        """Return which pieces pass through or end at each vertex.

        Returns
        -------
        dict of int to list of int
            Pieces by vertex; twice where a piece passes through.
        """
        found: dict[int, list[int]] = {}
        for index, piece in enumerate(self.pieces):
            last = len(piece.vertices) - 1
            for place, v in enumerate(piece.vertices):
                found.setdefault(v, []).append(index)
                if 0 < place < last:
                    found[v].append(index)
        return found


def settle(network: Network, strands: list[Strand], sigma: float) -> Drawing:
    """Return the drawing that the strands make.

    Parameters
    ----------
    network : Network
        Nodes; chains are not used.
    strands : list of Strand
        All strands.
    sigma : float
        Root mean square that a drawn line may stray, px.

    Returns
    -------
    Drawing
        Pieces and vertices.
    """
    drawing = Drawing([n.copy() for n in network.nodes], [], network.width)
    for strand in strands:
        _lay(strand, drawing, sigma)
    _solve(drawing)
    _trim(drawing)
    return drawing


def _from_corner(strand: Strand, width: float) -> Strand:
    """Return a closed strand that begins at its sharpest corner, first point twice."""
    points, n = strand.points, len(strand.points)
    k = max(2, round(1.5 * width))
    start = 0
    if n > 4 * k:
        u = points - np.roll(points, k, axis=0)
        v = np.roll(points, -k, axis=0) - points
        turn = np.abs(np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(1)))
        start = int(np.argmax(turn)) if turn.max() > 0.6 else 0
    if start == 0 and strand.stops:
        start = strand.stops[0][0]
    stops = sorted({((at - start) % n, node) for at, node in strand.stops})
    return Strand(
        np.vstack([np.roll(points, -start, axis=0), points[start]]),
        np.append(np.roll(strand.weight, -start), strand.weight[start]),
        stops,
        True,
    )


def _lay(strand: Strand, drawing: Drawing, sigma: float) -> None:
    width = drawing.width
    if strand.closed:
        strand = _from_corner(strand, width)
    parts = cut_strand(strand, width, sigma)
    last = len(strand.points) - 1
    near = 1.3 * width

    def vertex(at: int) -> int:
        best = min(strand.stops, key=lambda s: abs(s[0] - at), default=None)
        if best is not None and abs(best[0] - at) <= near:
            return best[1]
        if not strand.closed and at in (0, last):
            return strand.stops[0 if at == 0 else -1][1]
        drawing.vertices.append(strand.points[at].copy())
        return len(drawing.vertices) - 1

    begin = vertex(0)
    first = begin
    for part in parts:
        end = first if strand.closed and part.stop == last else vertex(part.stop)
        inner = [
            node for at, node in strand.stops
            if part.start < at < part.stop and node not in (begin, end)
        ]  # fmt: skip
        passed = [n for k, n in enumerate(inner) if k == 0 or inner[k - 1] != n]
        points = strand.points[part.start : part.stop + 1]
        turn = _turn(points, part.carrier) if part.circle else 0.0
        path = [begin, *passed, end]
        if path[0] == path[-1] and len(path) == 2 and not part.circle:
            begin = end
            continue
        drawing.pieces.append(Piece(part.circle, part.carrier, turn, path, points))
        begin = end


def _turn(points: NDArray[np.float64], circle: NDArray[np.float64]) -> float:
    off = points - circle[:2]
    angle = np.unwrap(np.arctan2(off[:, 1], off[:, 0]))
    return float(angle[-1] - angle[0])


def _solve(drawing: Drawing) -> None:
    """Move each vertex where its lines and circles meet, by least squares.

    A line that passes by is let go: where it crosses the others is found later.
    """
    most = 0.7 * drawing.width
    for v, met in drawing.through().items():
        pieces = list(dict.fromkeys(met))
        start = drawing.vertices[v]
        while True:
            carriers = [drawing.pieces[k].carrier for k in pieces]
            place = meeting(start, carriers, drawing.width)
            off = [abs(float(misses(place[None], c)[0])) for c in carriers]
            if len(pieces) < 3 or max(off) <= most:
                break
            del pieces[int(np.argmax(off))]
        drawing.vertices[v] = place
        for k in set(met) - set(pieces):
            _let_go(drawing, drawing.pieces[k], v)


def _let_go(drawing: Drawing, piece: Piece, v: int) -> None:
    last = len(piece.vertices) - 1
    for at in (0, last):
        if piece.vertices[at] == v:
            end = piece.points[0 if at == 0 else -1]
            drawing.vertices.append(meeting(end, [piece.carrier], drawing.width))
            piece.vertices[at] = len(drawing.vertices) - 1
    piece.vertices = [
        n for k, n in enumerate(piece.vertices) if n != v or k in (0, last)
    ]


def meeting(
    start: NDArray[np.float64], carriers: list[NDArray[np.float64]], width: float
) -> NDArray[np.float64]:
    """Return the point nearest to all carriers, near a start.

    Parameters
    ----------
    start : ndarray of shape (2,)
        Where the skeleton has it, px.
    carriers : list of ndarray
        Lines and circles.
    width : float
        Width of the pen's line, px.

    Returns
    -------
    ndarray of shape (2,)
        px; the start itself where the carriers meet nowhere near.
    """
    place = start.copy()
    for _ in range(12):
        rows, right = [], []
        for carrier in carriers:
            if len(carrier) == 4:
                normal = np.array([-carrier[3], carrier[2]])
            else:
                off = place - carrier[:2]
                normal = off / max(float(np.hypot(*off)), 1e-9)
            rows.append(normal)
            right.append(-float(misses(place[None], carrier)[0]))
        table = np.array(rows)
        # a weak pull to the start holds what carriers leave free
        square = table.T @ table + _PULL * np.eye(2)
        pull = table.T @ np.array(right) + _PULL * (start - place)
        step = np.linalg.solve(square, pull)
        place = place + step
        if abs(step).max() < 1e-7:
            break
    if float(np.hypot(*(place - start))) > 5.0 * width:
        return start.copy()
    # without the pull, along the directions that are held
    values = np.linalg.eigvalsh(table.T @ table)
    if values[0] > 0.03:
        for _ in range(4):
            rest = np.array([-float(misses(place[None], c)[0]) for c in carriers])
            place = place + np.linalg.lstsq(table, rest, rcond=None)[0]
    return place


def _trim(drawing: Drawing) -> None:
    """Take off short ends that run past the line on which they should stop."""
    longest = 5.0 * drawing.width
    through = drawing.through()
    for piece in drawing.pieces:
        for end in (0, -1):
            if len(piece.vertices) < 3 or len(through[piece.vertices[end]]) != 1:
                continue
            inner = piece.vertices[1 if end == 0 else -2]
            gap = drawing.vertices[piece.vertices[end]] - drawing.vertices[inner]
            if float(np.hypot(*gap)) < longest:
                del piece.vertices[end]
    # a short piece of its own, beside a corner
    through = drawing.through()
    kept = []
    for piece in drawing.pieces:
        ends = [len(through[piece.vertices[k]]) for k in (0, -1)]
        a, b = (drawing.vertices[piece.vertices[k]] for k in (0, -1))
        loose = 1 in ends and len(piece.vertices) == 2 and max(ends) > 2
        if loose and float(np.hypot(*(a - b))) < 0.6 * longest:
            continue
        kept.append(piece)
    drawing.pieces = kept
