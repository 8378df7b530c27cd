"""Names of kinds of bands: closed or open, and what a closed one runs round."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Ints
    from fillwork.bands.model import Bands
    from fillwork.symmetry.model import Orbits


# kinds of bands that are told apart by more than a number
_MOST = 24
# pieces of a strand are joined across bands above them, which hide at the flattest
# angles twice their width
_JOIN = 1.3
# ground in the middle of a band is looked for among so many regions about it
_ABOUT = 6


def name_bands(arrangement: Arrangement, orbits: Orbits, bands: Bands) -> Orbits:
    """Say of each kind of band whether it is closed, and round what it runs.

    The same with names such as ``band 1, closed, round the 12-point star``.

    `orbits`: kinds, those of bands with their numbers as names.
    """
    strand = orbits.strand_of_face
    rows = [k for k, orbit in enumerate(orbits.orbits) if orbit.band][:_MOST]
    if strand is None or not rows:
        return orbits
    named = list(orbits.orbits)
    ground = np.flatnonzero((strand < 0) & (orbits.of_face >= 0))
    for row in rows:
        members = np.unique(strand[named[row].faces])
        members = members[members >= 0]
        closed = [bands.strands[k].closed for k in members.tolist()]
        if not closed or any(closed) != all(closed):
            continue
        words = [named[row].name, "closed" if closed[0] else "open"]
        if closed[0]:
            # strands stand by falling length: the first has no piece missing
            first = int(members[0])
            pieces, width = np.flatnonzero(strand == first), bands.strands[first].width
            middle = _middle(arrangement, pieces, width, ground)
            if middle >= 0:
                words.append(f"round the {named[orbits.of_face[middle]].name}")
        named[row] = replace(named[row], name=", ".join(words))
    return replace(orbits, orbits=tuple(named))


def _middle(arrangement: Arrangement, pieces: Ints, width: float, ground: Ints) -> int:
    """Return the face of ground in the middle of what a strand runs round, or -1."""
    import shapely

    polygons: Any = arrangement.polygons(pieces)
    grown: Any = shapely.buffer(polygons, _JOIN * width, join_style="mitre")
    whole: Any = shapely.union_all(grown)
    if whole.geom_type != "Polygon" or not len(ground):
        return -1
    inside = shapely.Polygon(whole.exterior)
    centre = np.array(inside.centroid.coords[0])
    away = np.hypot(*(arrangement.witness[ground] - centre).T)
    near = ground[np.lexsort((ground, away.round(6)))[:_ABOUT]]
    middles: Any = arrangement.polygons(near)
    held = shapely.contains_xy(middles, *centre)
    held &= shapely.contains_properly(inside, middles)
    return int(near[held.argmax()]) if held.any() else -1
