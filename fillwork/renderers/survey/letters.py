"""Where the letters of kinds stand in a survey's picture: once in each repeat.

The symbols of centres stand there too. A letter steps aside where its region has the
room, and goes where others tell its kind; else the symbol does.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.renderers.scene import BLACK, Item, Labels
from fillwork.renderers.sheets.repeat import compose_unit, on_paper
from fillwork.renderers.survey.zones import zone_sides
from fillwork.renderers.symbols import SIZE
from fillwork.renderers.text.labels import fit_numbers
from fillwork.renderers.text.loose import beside_loose_lines
from fillwork.renderers.text.room import Sides

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement, Outlines
    from fillwork.arrays import Bools, Floats
    from fillwork.renderers.symbols import Elements
    from fillwork.renderers.text.typeset import FontSet
    from fillwork.symmetry.model import Orbits, Zone

    Found = tuple[Zone, Floats, Elements]  # a zone, the window it is shown in, in that

_MOST = 20_000  # regions of kinds without a letter that are tried


def compose_repeat(
    arrangement: Arrangement,
    found: Found,
    place: affine.Affine,
    letters: Labels,
    fonts: FontSet,
) -> list[Item]:
    """Return one repeat of a zone with its centres and axes."""
    zone, window, elements = found
    corners = zone_sides(arrangement, zone, window).reshape(-1, 2)
    moved = on_paper(elements, place)
    under = [_under(c, letters.at, letters.height).any() for c in moved.centres]
    free = ~np.array(under, bool)
    moved = replace(
        moved,
        centres=moved.centres[free],
        orders=moved.orders[free],
        turns=moved.turns[free],
    )
    sides = affine.apply(place, corners).reshape(-1, 4)
    return compose_unit(letters, moved, sides, fonts)


def compose_letters(
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    place: affine.Affine,
    fonts: FontSet,
    found: list[Found],
) -> Labels:
    """Return the letter of each kind, once in each repeat."""
    scale = place[0]
    error = min(0.02, 0.02 / scale)
    sides, inside, room = beside_loose_lines(
        Sides.of(outlines, error), arrangement, error
    )
    texts = tuple(orbit.letter for orbit in orbits.orbits)
    fitted = partial(
        fit_numbers,
        sides.mapped(scale, False, (place[4], place[5])),
        affine.apply(place, inside),
        room * scale,
        orbits,
        orbits.of_face,
        texts,
        fonts,
        most=3.5,
        least=1.2,
        clearance=0.1,
    )
    shown = _once_a_repeat(orbits)
    at, height = fitted(faces=np.flatnonzero(shown))
    # in a kind without a letter so far, any region that is large enough will do
    bare = np.setdiff1d(np.arange(len(texts)), orbits.of_face[height > 0])
    more = np.flatnonzero(np.isin(orbits.of_face, bare) & ~shown)
    if 0 < len(more) < _MOST:
        at2, height2 = fitted(faces=more)
        at = np.where((height2 > 0)[:, None], at2, at)
        height = np.maximum(height, height2)
    centres = np.concatenate([e.centres for _, _, e in found] or [np.empty((0, 2))])
    centres = affine.apply(place, centres)
    _step_aside(arrangement, at, height, place, centres)
    fits = (height > 0) & ~_covered(orbits, at, height, centres)
    which = orbits.of_face[fits].astype(np.int32)
    return Labels(at[fits], height[fits], which, texts, BLACK, "medium")


def _once_a_repeat(orbits: Orbits) -> Bools:
    """Return the regions that are to bear a letter: each where nothing repeats."""
    shown = np.zeros(len(orbits.of_face), bool)
    family = {z.index: z.symmetry.group.family for z in orbits.zones}
    for orbit in orbits.orbits:
        kind = family.get(orbit.zone, "none")
        if kind == "rosette":
            shown[orbit.representative] = True
            continue
        alike = orbits.shifts_of_face[orbit.faces]
        mine = alike == orbits.shifts_of_face[orbit.representative]
        shown[orbit.faces if kind == "none" else orbit.faces[mine]] = True
    return shown


def _under(centre: Floats, at: Floats, height: Floats) -> Bools:
    """Return which letters lie under the symbol of a centre."""
    far = np.linalg.norm(at - centre, axis=1)
    return np.asarray((height > 0) & (far < height * 0.6 + SIZE))


def _step_aside(
    arrangement: Arrangement,
    at: Floats,
    height: Floats,
    place: affine.Affine,
    centres: Floats,
) -> None:
    """Move letters off the symbols of centres where their regions have the room."""
    middle = affine.apply(place, arrangement.witness)
    for centre in centres:
        for face in np.flatnonzero(_under(centre, at, height)).tolist():
            step = 0.6 * height[face] + 1.8
            room = arrangement.inscribed[face] * place[0]
            if np.linalg.norm(middle[face] - centre) + step + height[face] < room:
                at[face] = centre + np.array([step * 0.8, step * 0.6])


def _covered(orbits: Orbits, at: Floats, height: Floats, centres: Floats) -> Bools:
    """Return which letters lie under centres, if others tell their kind."""
    hidden = np.zeros(len(at), bool)
    for centre in centres:
        hidden |= _under(centre, at, height)
    told = orbits.of_face[(height > 0) & ~hidden]
    return hidden & np.isin(orbits.of_face, told)
