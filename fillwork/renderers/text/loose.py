"""Room for numbers beside lines that bound no region: ends of stems, single strokes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.inside import deep_points
from fillwork.renderers.text.room import Sides

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats


def beside_loose_lines(
    sides: Sides, arrangement: Arrangement, chord_error: float
) -> tuple[Sides, Floats, Floats]:
    """Return sides of regions with the lines that end in them, and where room is most.

    Each loose line is there both ways, so that areas, centroids and what lies inside
    stay as they are.

    `sides`: those of all regions, in the drawing's mm. `chord_error`: largest distance
    of a chord from its curve, mm. Returns `sides`; `at` (F, 2): a point well inside
    each region; `room` (F,): how far it lies from all lines, mm.
    """
    at, room = arrangement.witness, arrangement.inscribed
    if len(arrangement.loose) == 0:
        return sides, at, room
    chords, _, _ = arrangement.loose.flatten(chord_error)
    face = arrangement.faces_at((chords[:, 0:2] + chords[:, 2:4]) / 2)
    chords, face = chords[face > 0], face[face > 0]
    both = np.concatenate([chords, chords[:, [2, 3, 0, 1]]])
    size = np.diff(sides.start)
    owner = np.concatenate([np.repeat(np.arange(len(size)), size), face, face])
    order = np.argsort(owner, kind="stable")
    size = np.bincount(owner, minlength=len(size))
    segments = np.concatenate([sides.segments, both])[order]
    found = Sides(segments, np.concatenate([[0], np.cumsum(size)]))
    if len(face):
        faces = np.unique(face)
        mine = found.only(faces)
        at, room = at.copy(), room.copy()
        ends = mine.segments[:, 0:2], mine.segments[:, 2:4]
        at[faces], room[faces] = deep_points(*ends, mine.start)
    return found, at, room
