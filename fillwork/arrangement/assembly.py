"""Regions from edges: what bounds nothing is taken off, and the faces are found."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement import choice, page
from fillwork.arrangement import defects as words
from fillwork.arrangement.faces import build_faces
from fillwork.arrangement.flat import lay_flat
from fillwork.arrangement.hairs import find_hairs
from fillwork.arrangement.halfedges import find_cycles, link_next, sort_round_vertices
from fillwork.arrangement.ink import find_ink
from fillwork.arrangement.model import Arrangement
from fillwork.arrangement.openings import without_openings
from fillwork.arrangement.pruning import find_dangling
from fillwork.geometry.curves import LINE, Curves
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import marked
from fillwork.geometry.rounding import settled_areas

if TYPE_CHECKING:
    from fillwork.arrangement.edges import Edges
    from fillwork.arrangement.limits import Limits
    from fillwork.arrangement.model import Defect
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.linework import LineWork
    from fillwork.tolerance import Tolerance

_FINEST = 256.0
"""Chords at most so many times nearer their curves, sixteen times as many."""


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Hold the lines that are parted: those drawn, what closes gaps, the page's."""

    table: Curves  # on the page, mm
    local: Curves  # the same about the origin
    middle: Floats  # (2,): where the origin is on the page, mm
    drawn: int  # how many were drawn
    inner: int  # how many there are before the page's sides
    stroke: Ints32  # (curves,): stroke of each; -1 for the page's sides
    width: float | None  # usual width of the drawn lines, mm; None if none has one


class TangledError(Exception):
    """Say that true curves give edges no order that adds up.

    `finer` tells by how much finer chords stand for the curves: so near that no
    region as wide as a point lies between them, in numbers that the limits allow.
    """

    def __init__(self, tolerance: Tolerance, pieces: int, limits: Limits) -> None:
        super().__init__()
        wanted = 8.0 * tolerance.flatten / max(tolerance.join_within, 1e-300)
        room = (limits.segments / (2.0 * max(pieces, 1))) ** 2
        self.finer = max(min(wanted, _FINEST, room), 1.0)


class Assembly:
    """Hold edges while those that bound no region are taken off.

    `tolerance`: the slacks. `found`: defects that were told before. `flat`: how many
    times finer chords stand for curves; 0 where these are taken as they are.
    """

    def __init__(
        self,
        linework: LineWork,
        lines: Lines,
        vertices: Floats,
        edges: Edges,
        tolerance: Tolerance,
        found: list[Defect],
        limits: Limits,
        flat: float,
    ) -> None:
        self.linework, self.lines = linework, lines
        self.tolerance, self.limits, self.flat = tolerance, limits, flat
        place = vertices + lines.middle
        doubled, self.notes = words.doubled_defects(edges, place, lines.stroke)
        self.found = [*found, *doubled]
        self.loose: list[Edges] = []
        # half-edges in their order round vertices; none as long as it is not known
        self.order = np.empty(0, np.int32)
        if flat:
            vertices, edges, self.order = lay_flat(vertices, edges, limits)
        self.vertices, self.edges = vertices, edges
        self.tangled = TangledError(tolerance, len(edges), limits)

    def build(self, *, whole_page: bool, corner_gap: float) -> Arrangement:
        """Return the regions.

        `whole_page`: whether the page's sides close the ground too. `corner_gap`: the
        longest gap that was closed at a corner, mm. Raises `TangledError` if edges have
        no order that can be drawn in the plane.
        """
        result = self._without_hairs()
        if not whole_page:
            result = self._without(page.sides_of_ground(result), result)
        curves, lines = self.linework.curves, self.lines
        closed = np.arange(len(lines.table)) >= len(curves)
        closed[lines.inner :] = False
        ink = find_ink(
            result,
            lines.width,
            choice.rounding_of(self.linework),
            closed,
            by_hand=corner_gap > 0,
            traced=self.linework.trace is not None,
        )
        if ink.edges.any():
            self.found += ink.defects
            self.edges = self.edges.with_sources_of(ink.heirs)
            result = self._without(ink.edges, result)
        result = without_openings(result, self.linework)
        result.check()
        return replace(result, corner_gap=corner_gap) if corner_gap else result

    def _without_hairs(self) -> Arrangement:
        """Return the regions without those narrower than points are told apart."""
        local = self.lines.local
        # where chords stand for curves, two may enclose what these do not
        narrow = self.tolerance.join_within
        if self.flat and (local.kind != LINE).any():
            narrow = max(narrow, 2.0 * self.tolerance.flatten / self.flat)
        while True:
            self._prune()
            result, edges = self._regions(), self.edges
            ends = result.vertices.take(result.origin, axis=0)
            length = np.hypot(*(ends[1::2] - ends[0::2]).T)
            whole = np.abs(np.diff(edges.span, axis=1)[:, 0]) > 1.0 - 1e-6
            whole &= local.kind[edges.curve] == LINE
            hairs, turned = find_hairs(result.area, result.face, length, narrow, whole)
            if not self.flat and (result.euler != 0 or turned > 0):
                raise self.tangled
            if len(hairs) == 0:
                return result
            gone = marked(hairs, len(edges))
            self._take_off(gone)

    def _prune(self) -> None:
        """Keep the edges that part two sides, in their order round vertices."""
        dangling = find_dangling(self.edges.vertex, len(self.vertices))
        if dangling.any():
            self.loose.append(self.edges.take(dangling))
            self._take_off(dangling)
        if len(self.order) < 2 * len(self.edges):
            self.order = sort_round_vertices(
                self.lines.local, self.vertices, self.edges
            )
        start, member, _ = self._cycles()
        cycle_of = np.empty(len(member), np.int32)
        cycle_of[member] = np.repeat(np.arange(len(start) - 1), np.diff(start))
        bridge = cycle_of[0::2] == cycle_of[1::2]
        if bridge.any():
            if not self._adds_up(len(start) - 1):
                raise self.tangled
            loose = self.edges.take(bridge)
            self.loose.append(loose)
            # what closes a gap and parts nothing was drawn by nobody
            own = (loose.curve < self.lines.drawn) | (loose.curve >= self.lines.inner)
            place = self.vertices + self.lines.middle
            drawn = loose.take(own)
            self.found += words.bridge_defects(drawn, place, self.lines.stroke)
            self._take_off(bridge)

    def _cycles(self) -> tuple[Ints, Ints32, Ints32]:
        """Return the cycles of half-edges, in rows, and what follows each half-edge."""
        next_half = link_next(self.order, self.edges.vertex.reshape(-1))
        return *find_cycles(next_half, self.order), next_half

    def _take_off(self, gone: Bools) -> None:
        """Leave edges out; the rest keep their order round their vertices."""
        kept = ~np.repeat(gone, 2)
        renumber = (np.cumsum(kept) - 1).astype(np.int32)
        self.edges = self.edges.take(~gone)
        self.order = renumber[self.order[kept[self.order]]]

    def _without(self, gone: Bools, result: Arrangement) -> Arrangement:
        """Return the regions with edges left out; the same where there are none."""
        if not gone.any():
            return result
        self._take_off(gone)
        return self._regions()

    def _adds_up(self, cycles: int) -> bool:
        """Return whether edges can be drawn in the plane: V - E + cycles = 2 C.

        A crossing that was missed makes edges look like bridges; once these are
        taken off, Euler's formula would hold again.
        """
        vertex, count = self.edges.vertex, len(self.vertices)
        root = components(vertex[:, 0], vertex[:, 1], count)
        used = _used(vertex, count)
        parts = int((used & (root == np.arange(count))).sum())
        return int(used.sum()) - len(self.edges) + cycles == 2 * parts

    def _regions(self) -> Arrangement:
        """Return the regions that the edges bound."""
        lines, tolerance = self.lines, self.tolerance
        places, edges = self._used_alone()
        start, member, next_half = self._cycles()
        faces = build_faces(lines.local, places, edges, self.order, start, member)
        self.limits.refuse_above("regions", len(faces.area) - 1)
        cut = np.zeros(len(faces.area), dtype=bool)
        cut[faces.face[np.repeat(edges.curve >= lines.inner, 2)]] = True
        cut[0] = False
        slip = self.linework.slip
        size = float(np.hypot(*np.ptp(places, axis=0))) if len(places) else 0.0
        return Arrangement(
            vertices=places + lines.middle,
            origin=edges.vertex.reshape(-1).copy(),
            next=next_half,
            face=faces.face,
            edge_curve=edges.curve,
            edge_span=edges.span,
            source_start=edges.source_start,
            source_curve=edges.source_curve,
            ring_start=faces.ring_start,
            ring_half_edge=faces.ring_half_edge,
            face_ring_start=faces.face_ring_start,
            area=settled_areas(faces.area, size),
            cut=cut,
            curves=lines.table,
            page_curves=lines.inner,
            curve_stroke=lines.stroke,
            loose=_loose_curves(lines, self.loose),
            components=faces.components,
            area_difference=faces.difference,
            frame=self.linework.frame,
            tolerance=replace(tolerance, match=max(tolerance.match, slip)),
            defects=tuple(self.found),
            notes=tuple(self.notes),
        )

    def _used_alone(self) -> tuple[Floats, Edges]:
        """Return the vertices at which edges end, and the edges with their numbers."""
        used = _used(self.edges.vertex, len(self.vertices))
        if used.all():
            return self.vertices, self.edges
        number = (np.cumsum(used) - 1).astype(np.int32)
        return self.vertices[used], replace(
            self.edges, vertex=number[self.edges.vertex]
        )


def _used(vertex: Ints32, count: int) -> Bools:
    """Return at which of so many vertices edges end."""
    return marked(vertex.reshape(-1), count)


def _loose_curves(lines: Lines, loose: list[Edges]) -> Curves:
    """Return dangling lines and bridges, chords of one curve made one part."""
    if not loose:
        return Curves.empty()
    curve = np.concatenate([e.curve for e in loose])
    span = np.concatenate([e.span for e in loose])
    drawn = curve < lines.inner
    curve, span = curve[drawn], span[drawn]
    if len(curve) == 0:
        return Curves.empty()
    low, high = span.min(axis=1), span.max(axis=1)
    order = np.lexsort((low, curve))
    curve, low, high = curve[order], low[order], high[order]
    new = np.ones(len(curve), dtype=bool)
    new[1:] = (curve[1:] != curve[:-1]) | (low[1:] != high[:-1])
    lead = np.flatnonzero(new)
    stop = np.r_[lead[1:], len(curve)] - 1
    return lines.table.part(curve[lead], low[lead], high[stop])
