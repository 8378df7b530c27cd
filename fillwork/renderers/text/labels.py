"""Find where the number of each region stands, and how high it is.

Regions that the symmetry carries onto each other without turning are solved once,
and whole regions of a kind share one size.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.renderers.text.room import number_body, place_each, sizes_at

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.renderers.text.room import Body, Sides
    from fillwork.renderers.text.typeset import FontSet
    from fillwork.symmetry.model import Orbits


# unlike regions of one number that are searched with all steps
_FINELY = 4000
# share of the room for a number that it keeps at the centroid, up to twice its height
_AIR = 0.7
# share of the room of the roomiest point that the centroid has, where that is less
# than twice the largest number: a narrow figure fits close beside a line as well
_ROOM = 0.8
# slope of rays, one that no pattern has
_ASLANT = 0.2718281828


def _inside(sides: Sides, faces: AnyInts, at: Floats) -> Bools:
    """Return whether points lie in their regions (even-odd crossings).

    Rays go aslant: middles lie level with corners, where the ends of two sides may
    differ in the last bit and a level ray slip between them.
    """
    owner, index = sides.rows(faces)
    x, y = at[owner, 0], at[owner, 1] - _ASLANT * at[owner, 0]
    x0, y0, x1, y1 = sides.segments[index].T
    y0, y1 = y0 - _ASLANT * x0, y1 - _ASLANT * x1
    spans = (y0 > y) != (y1 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        right = x < x0 + (y - y0) / (y1 - y0) * (x1 - x0)
    crossed = np.bincount(owner, spans & right, len(faces)).astype(np.int64)
    return np.asarray(crossed % 2 == 1)


def _room_at(sides: Sides, faces: AnyInts, at: Floats) -> Floats:
    """Return how far points lie from the sides of their regions, mm."""
    owner, index = sides.rows(faces)
    x0, y0, x1, y1 = sides.segments[index].T
    x, y = at[owner, 0] - x0, at[owner, 1] - y0
    dx, dy = x1 - x0, y1 - y0
    along = (x * dx + y * dy) / np.maximum(dx * dx + dy * dy, 1e-300)
    along = np.clip(along, 0.0, 1.0)
    far = np.full(len(faces), np.inf)
    np.minimum.at(far, owner, np.hypot(x - along * dx, y - along * dy))
    return far


def fit_numbers(
    sides: Sides,
    witness: Floats,
    room: Floats,
    orbits: Orbits,
    text_of_face: AnyInts,
    texts: tuple[str, ...],
    fonts: FontSet,
    *,
    most: float = 5.0,
    least: float = 1.5,
    clearance: float = 0.2,
    faces: AnyInts | None = None,
) -> tuple[Floats, Floats]:
    """Return where the number of each region stands and how high it is.

    `sides`: sides of all regions, on paper, mm. `witness` (F, 2): a point well inside
    each region, on paper, mm. `room` (F,): distance of the witness from the boundary,
    mm: half of the least width or height that any number may have. `orbits`: kinds;
    whole regions of one kind get one size. `text_of_face` (F,): row of `texts` for each
    region; -1 for none. `most` and `least`: largest and smallest height of a number,
    mm. `clearance`: distance to keep from every side, mm. `faces`: only these regions.
    Returns `at` (F, 2): centres of the numbers, mm; `height` (F,): heights, mm; 0 where
    the region is too small for `least`.
    """
    count = len(text_of_face)
    at, height = witness.copy(), np.zeros(count)
    all_faces = np.arange(1, count) if faces is None else np.asarray(faces)
    all_faces = all_faces[text_of_face[all_faces] >= 0]
    bodies = tuple(number_body(text, fonts) for text in texts)
    narrow = np.array([min(body.half) for body in bodies] + [0.0])
    # too narrow for any number of the least size
    needed = least * narrow[text_of_face[all_faces]] + clearance
    mine = all_faces[room[all_faces] * 1.0001 >= needed]
    if len(mine):
        text = text_of_face[mine]
        spots = _Spots(sides.only(mine), bodies, text, clearance, most, room[mine])
        at[mine], height[mine] = _fit(spots, witness[mine], orbits, mine)
    _share_sizes(orbits, all_faces, text_of_face, height, least)
    return at, height


@dataclass(frozen=True, slots=True, eq=False)
class _Spots:
    """Hold regions that want a number, row by row, and what is asked of it."""

    sides: Sides
    bodies: tuple[Body, ...]
    text: AnyInts
    clearance: float
    most: float
    room: Floats  # of the roomiest point of each row

    def roomy(self, rows: AnyInts, at: Floats) -> Bools:
        """Return at which points, one a row, a number stands about as free."""
        wanted = _ROOM * np.minimum(self.room[rows], 2 * self.most)
        return np.asarray(_room_at(self.sides, rows, at) >= wanted)

    def sizes(self, rows: AnyInts, at: Floats) -> Floats:
        """Return the largest heights at one point a row."""
        text = self.text[rows]
        return sizes_at(self.sides, rows, at, self.bodies, text, self.clearance)

    def place(self, rows: AnyInts, start: Floats, fine: bool) -> tuple[Floats, Floats]:
        """Return the best place of each row and its height."""
        text, enough = self.text[rows], self.most
        return place_each(
            self.sides, rows, start, self.bodies, text, self.clearance, enough, fine
        )


def _fit(
    spots: _Spots, witness: Floats, orbits: Orbits, faces: AnyInts
) -> tuple[Floats, Floats]:
    """Return where the number of each row stands and how high it may be."""
    low, high = spots.sides.boxes()
    centre = (low + high) / 2
    centroid = spots.sides.centroids()
    leader, group = _groups(orbits, faces, high - low, spots.text)
    start = _start_points(spots, leader, witness, centroid)
    here, size = start.copy(), np.zeros(len(leader))
    # a number that stands in thousands of unlike regions is placed in fewer steps
    often = np.bincount(spots.text[leader], minlength=len(spots.bodies))
    fine = often[spots.text[leader]] < _FINELY
    for way in (True, False):
        rows = np.flatnonzero(fine == way)
        here[rows], size[rows] = spots.place(leader[rows], start[rows], way)
    here, size = _settle(spots, leader, here, size, centroid)
    moved = here[group] - centre[leader][group] + centre
    own = size[group]
    follower = np.ones(len(faces), bool)
    follower[leader] = False
    # the first points are wanted for few regions only
    k = np.flatnonzero(follower)
    if len(k):
        own[k] = spots.sizes(k, moved[k])
        again = k[own[k] < 0.9 * np.minimum(size[group[k]], spots.most)]
        start = _start_points(spots, again, witness, centroid)
        moved[again], own[again] = spots.place(again, start, False)
    moved[leader] = here
    return moved, np.minimum(own, spots.most)


def _start_points(
    spots: _Spots, rows: AnyInts, witness: Floats, centroid: Floats
) -> Floats:
    """Return the centroid where it is about as roomy as the witness."""
    start: Floats = witness[rows].copy()
    middle = centroid[rows]
    k = np.flatnonzero(_sound(spots, rows, middle))
    a = spots.sizes(rows[k], start[k])
    b = spots.sizes(rows[k], middle[k])
    take = k[(b >= 0.9 * a) & spots.roomy(rows[k], middle[k])]
    start[take] = middle[take]
    return start


def _sound(spots: _Spots, rows: AnyInts, middle: Floats) -> Bools:
    """Return which regions have their centroid inside."""
    sound = np.asarray(np.isfinite(middle).all(axis=1))
    sound[sound] = _inside(spots.sides, rows[sound], middle[sound])
    return sound


def _settle(
    spots: _Spots, rows: AnyInts, at: Floats, size: Floats, centroid: Floats
) -> tuple[Floats, Floats]:
    """Return places moved to the centroid where that costs next to nothing.

    The number keeps its size there, and does not come close to a side where it had air.
    """
    middle = centroid[rows]
    k = np.flatnonzero(_sound(spots, rows, middle))
    there = spots.sizes(rows[k], middle[k])
    near = there >= 0.98 * np.minimum(size[k], spots.most)
    near &= there >= _AIR * np.minimum(size[k], 2 * spots.most)
    near &= spots.roomy(rows[k], middle[k])
    at, size = at.copy(), size.copy()
    at[k[near]], size[k[near]] = middle[k[near]], there[near]
    return at, size


def _groups(
    orbits: Orbits, faces: AnyInts, extent: Floats, text: AnyInts
) -> tuple[Ints, Ints]:
    """Return one leader a group of regions that are copies by a shift.

    Whole regions of one kind, one operation, one text and one box size (to a
    hundredth) are a group; every other region is its own.
    """
    operation = orbits.operation_of_face[faces].astype(np.int64)
    box = np.round(np.log(np.maximum(extent, 1e-9)) / 0.01).astype(np.int64)
    place = np.column_stack([operation, orbits.shifts_of_face[faces], box])
    alone = np.flatnonzero(orbits.cut[faces] | (operation < 0))
    place[alone] = 0
    place[alone, 0] = -1 - alone
    key = np.column_stack([text, orbits.of_face[faces], place])
    _, leader, group = np.unique(key, axis=0, return_index=True, return_inverse=True)
    return leader, group.reshape(-1)


def _share_sizes(
    orbits: Orbits, faces: AnyInts, text_of_face: AnyInts, height: Floats, least: float
) -> None:
    """Give whole regions of a kind one size, the smallest that fits them all.

    Those that the edge cuts have theirs, but none above it.
    """
    kinds = max(len(orbits.orbits), 1)
    key = text_of_face[faces].astype(np.int64) * kinds + orbits.of_face[faces]
    values, group = np.unique(key, return_inverse=True)
    high = height[faces]
    fits = high >= least
    whole = fits & ~orbits.cut[faces]
    shared = np.full(len(values), np.inf)
    np.minimum.at(shared, group[whole], high[whole])
    high = np.where(fits, np.minimum(high, shared[group]), 0.0)
    # steps of a twentieth of a mm, downwards
    height[faces] = np.floor(high * 20 + 1e-9) / 20
