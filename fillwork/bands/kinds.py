"""Kinds of woven drawings: all pieces of a strand are one kind.

Over and under part a strand into pieces of several kinds, and a painter lays one
paint from its one end to the other. Strands that share a kind are carried onto each
other by the symmetry, or cross it alike, and are one kind too.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.model import BAND, CROSSING, GROUND, Bands, BandStrand
from fillwork.geometry.parts import components, part_numbers
from fillwork.symmetry.kinds.orbits import letters

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.bands.model import Woven
    from fillwork.symmetry.model import Orbit, Orbits


def bands_of_woven(arrangement: Arrangement, woven: Woven) -> Bands:
    """Return the strands of a drawing that was woven from plain lines.

    Every strand but border lines.

    Where strands cross, the region belongs to the one on top; a piece that is on
    top nowhere is told by the middles and bends of its strand. A region that holds a
    point where strands cross, but no middle of a line, is a crossing.
    """
    strands, crossings = woven.strands, woven.crossings
    found = np.full(arrangement.face_count, -1, np.int64)
    part = np.zeros(arrangement.face_count, np.int64)
    top = np.flatnonzero(crossings.level == 0)
    border = np.array([s.border for s in strands.strands], bool)
    piece = np.flatnonzero(~border[strands.of_piece])
    middle = strands.lines.pieces.point(piece, np.full(len(piece), 0.5))
    # between broad bands a bend may be all that is in sight
    origin = strands.lines.origin
    halves = np.repeat(~border[strands.of_piece], 2)
    halves &= np.bincount(origin)[origin] == 2
    bend = np.flatnonzero(halves)
    points = np.concatenate([strands.lines.vertices[origin[bend]], middle])
    row, face = _located(arrangement, points)
    found[face] = strands.of_piece[np.r_[bend >> 1, piece]][row]
    part[face] = BAND
    points = strands.lines.vertices[crossings.vertex[top]]
    row, face = _located(arrangement, points)
    found[face] = strands.of_piece[crossings.halves[top, 0] >> 1][row]
    part[face] = np.where(part[face] == GROUND, CROSSING, BAND)
    number = np.cumsum(~border) - 1
    return Bands(
        strand=np.where(found >= 0, number[found], -1),
        part=part,
        through=np.empty((0, 3), np.int64),
        strands=tuple(
            BandStrand(s.length, s.closed, woven.width)
            for s in strands.strands
            if not s.border
        ),
        crossings=len(crossings.double),
        sure=True,
    )


def _located(arrangement: Arrangement, points: Floats) -> tuple[Ints, Ints]:
    """Return rows of points and the faces in which they lie."""
    import shapely

    tree = shapely.STRtree(arrangement.polygons())
    row, face = tree.query(shapely.points(points), predicate="within")
    return row.astype(np.int64), face.astype(np.int64) + 1


def join_strands(orbits: Orbits, bands: Bands) -> tuple[Orbits, Bands]:
    """Return kinds in which the pieces of each strand are one.

    Returns `orbits`: kinds by letter; bands are named so and numbered by length of
    paint; `bands`: the strands, each with the number of its kind of band; regions where
    two of plain strapwork cross go to the one of the lower number.
    """
    face = np.flatnonzero((bands.part == BAND) & (orbits.of_face >= 0))
    if not len(face):
        return orbits, bands
    row = orbits.of_face[face].astype(np.int64)
    band = _mostly_of_bands(orbits, bands)
    pieces = np.bincount(row, minlength=len(orbits.orbits))
    kept = band[row]
    links = row[kept], bands.strand[face[kept]]
    groups, orbit_of = _groups(orbits, band, pieces, links, len(bands.strands))
    if not groups:  # of kinds that are ground for the most part, or crossings alone
        return orbits, bands
    bands = _settled(bands, orbit_of)
    # crossings go with the strand that they are told to
    crossing = np.flatnonzero(bands.part == CROSSING)
    for k in np.unique(orbits.of_face[crossing]).tolist():
        if k < 0 or not band[k] or pieces[k]:
            continue
        own = crossing[orbits.of_face[crossing] == k]
        top = np.bincount(orbit_of[bands.strand[own]]).argmax()
        groups[int(top)].append(k)
    return _with_bands(orbits, bands, groups), bands


def _mostly_of_bands(orbits: Orbits, bands: Bands) -> Bools:
    """Return which kinds are of bands: those of which most regions are."""
    count, known = len(orbits.orbits), orbits.of_face >= 0
    every = np.bincount(orbits.of_face[known], minlength=count)
    of_band = known & (bands.part != GROUND)
    held = np.bincount(orbits.of_face[of_band], minlength=count)
    return np.asarray(2 * held >= np.maximum(every, 1))


def _groups(
    orbits: Orbits, band: Bools, pieces: Ints, links: tuple[Ints, Ints], strands: int
) -> tuple[list[list[int]], Ints]:
    """Return the kinds that strands make one, most regions first; and whose each is.

    `pieces`: plain pieces of bands of each kind. `links`: kinds, and the strands that
    go through them.
    """
    count = len(orbits.orbits)
    part = part_numbers(links[0], count + links[1], count + strands)
    groups: dict[int, list[int]] = {}
    for k in np.flatnonzero(band).tolist():
        groups.setdefault(int(part[k]), []).append(k)
    parts = [g for g in groups if pieces[groups[g]].any()]
    # bits of strands that the frame leaves go with the rest
    size = {
        g: sum(len(o.faces) - o.cut for o in _taken(orbits, groups[g])) for g in parts
    }
    parts.sort(key=lambda g: (-size[g], g))
    into = {g: g if size[g] else parts[0] for g in parts}
    members: dict[int, list[int]] = {}
    for g in parts:
        members.setdefault(into[g], []).extend(groups[g])
    ranked = sorted(
        members,
        key=lambda g: (
            -sum(len(orbits.orbits[k].faces) for k in members[g]),
            min(int(orbits.orbits[k].faces[0]) for k in members[g]),
        ),
    )
    number = {g: n for n, g in enumerate(ranked)}
    orbit_of = [number.get(into.get(int(g), -1), 0) for g in part[count:]]
    return [members[g] for g in ranked], np.array(orbit_of, np.int64)


def _with_bands(orbits: Orbits, bands: Bands, groups: list[list[int]]) -> Orbits:
    """Return kinds by letter, in which each group of them is one band."""
    joined = [_joined(_taken(orbits, group)) for group in groups]
    named = [
        (replace(o, name=f"band {n}" if len(joined) > 1 else "band"), -1)
        for n, o in enumerate(joined, 1)
    ]
    used = {k for group in groups for k in group}
    rest = [(o, k) for k, o in enumerate(orbits.orbits) if k not in used]
    whole = sorted([*rest, *named], key=lambda o: (-o[0].area, int(o[0].faces[0])))
    result = tuple(replace(o, letter=letters(n)) for n, (o, _) in enumerate(whole))
    rows = [k for _, k in whole]
    of_face = np.full(len(orbits.of_face), -1, np.int32)
    operation = orbits.operation_of_face.copy()
    for n, orbit in enumerate(result):
        of_face[orbit.faces] = n
        if orbit.band:
            operation[orbit.faces] = -1
    of_band = np.array([o.band for o in result])[of_face] & (of_face >= 0)
    strand_of_face = np.where(of_band, bands.strand, -1).astype(np.int64)
    return replace(
        orbits,
        orbits=result,
        of_face=of_face,
        turns_of_face=_whole(orbits.turns_of_face, strand_of_face),
        shifts_of_face=_whole(orbits.shifts_of_face, strand_of_face),
        operation_of_face=operation,
        strand_of_face=strand_of_face,
        families=_families(orbits.families, rows),
        figures=tuple(orbits.figures[k] if k >= 0 else 0 for k in rows)
        if orbits.figures
        else orbits.figures,
    )


def _whole(classes: Ints32, strand: Ints) -> Ints32:
    """Return finer classes that part no strand."""
    face = np.flatnonzero(strand >= 0)
    if not len(face):
        return classes
    count = int(classes.max()) + 1
    group = components(
        classes[face], count + strand[face], count + int(strand.max()) + 1
    )
    found = classes.copy()
    found[face] = group[classes[face]]
    return found


def _taken(orbits: Orbits, rows: list[int]) -> list[Orbit]:
    return [orbits.orbits[k] for k in rows]


def _families(families: tuple[int, ...], rows: list[int]) -> tuple[int, ...]:
    """Return the numbers of like shapes, each kind of band being of its own."""
    if not families:
        return families
    known: dict[int, int] = {}
    return tuple(
        known.setdefault(families[k] if k >= 0 else -n, len(known) + 1)
        for n, k in enumerate(rows, 1)
    )


def _settled(bands: Bands, orbit_of: Ints) -> Bands:
    """Return strands with their kinds of band, and crossings with their strand."""
    strand = bands.strand.copy()
    if len(bands.through):
        face, one, other = bands.through.T
        lower = orbit_of[one] <= orbit_of[other]
        strand[face] = np.where(lower, one, other)
    strands = tuple(
        replace(s, orbit=int(n)) for s, n in zip(bands.strands, orbit_of, strict=True)
    )
    return replace(bands, strand=strand, strands=strands)


def _joined(members: list[Orbit]) -> Orbit:
    """Return several kinds as one kind of band."""
    largest = max(members, key=lambda o: (o.area, -int(o.faces[0])))
    faces = np.sort(np.concatenate([o.faces for o in members]))
    return replace(
        largest,
        base_name="band",
        faces=faces.astype(np.int32),
        site_symmetry="C1",
        cut=sum(o.cut for o in members),
        band=True,
    )
