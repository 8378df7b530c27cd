"""Find the place and the largest size at which a number fits inside a region.

A number's ink is held by a convex *body*: the smallest sixteen-sided outline with
fixed directions around all its glyphs, grown by a little air. For a point p inside
a region, the largest body about p that meets no side of the region is found
exactly: a convex body and a line segment are apart when one of the body's
directions, or the segment's own normal, keeps them apart (the separating axis
theorem). A search then moves p to where that size is largest. Regions that the
symmetry carries onto each other without turning are solved once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Outlines
    from fillwork.renderers.typeset import FontSet
    from fillwork.symmetry.model import Orbits

__all__ = ["Body", "Sides", "fit_numbers", "largest_sizes", "number_body", "place_best"]

DIRECTIONS = 16
AIR = 0.10
"""Air round a number, as a share of its height."""

_CHUNK = 40_000


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Hold the straight sides of regions, curves as chords.

    Parameters
    ----------
    segments : ndarray of float64, shape (n, 4)
        x0 y0 x1 y1, region by region, mm.
    start : ndarray of int64, shape (F + 1,)
        Region ``f`` owns ``segments[start[f]:start[f + 1]]``.
    """

    segments: NDArray[np.float64]
    start: NDArray[np.int64]

    @classmethod
    def of(cls, outlines: Outlines, chord_error: float) -> Sides:
        """Return the sides of all faces.

        Parameters
        ----------
        outlines : Outlines
            True outlines.
        chord_error : float
            Largest distance of a chord from its curve, mm.

        Returns
        -------
        Sides
            Chords by face.
        """
        steps = outlines.pieces.chord_counts(chord_error).astype(np.int64)
        before = np.concatenate([[0], np.cumsum(steps)])
        chords, _, _ = outlines.pieces.flatten(chord_error)
        return cls(chords, before[outlines.ring_start[outlines.face_ring_start]])

    def mapped(self, scale: float, mirror: bool, shift: tuple[float, float]) -> Sides:
        """Return the sides on paper.

        Parameters
        ----------
        scale : float
            Paper mm for one mm.
        mirror : bool
            Whether x is turned round.
        shift : tuple of float
            Added last, mm.

        Returns
        -------
        Sides
            The same regions.
        """
        way = np.array([-scale if mirror else scale, scale] * 2)
        return Sides(self.segments * way + np.array([*shift, *shift]), self.start)

    def centres(self) -> NDArray[np.float64]:
        """Return the centre of each region's box, NaN where it has no side.

        Returns
        -------
        NDArray[np.float64]
            The centre of each region's box, NaN where it has no side.
        """
        low, high = self.boxes()
        middle: NDArray[np.float64] = (low + high) / 2
        return middle

    def boxes(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the lower left and upper right corners of each region's box.

        Returns
        -------
        tuple[NDArray[np.float64], NDArray[np.float64]]
            The lower left and upper right corners of each region's box.
        """
        count = len(self.start) - 1
        low, high = np.full((count, 2), np.nan), np.full((count, 2), np.nan)
        filled = np.diff(self.start) > 0
        if filled.any():
            at = self.start[:-1][filled]
            both = self.segments.reshape(-1, 2, 2)
            low[filled] = np.minimum.reduceat(both.min(axis=1), at, axis=0)
            high[filled] = np.maximum.reduceat(both.max(axis=1), at, axis=0)
        return low, high

    def centroids(self) -> NDArray[np.float64]:
        """Return the centroid of each region, NaN where it has none.

        Returns
        -------
        NDArray[np.float64]
            The centroid of each region, NaN where it has none.
        """
        x0, y0, x1, y1 = self.segments.T
        cross = x0 * y1 - x1 * y0
        count = len(self.start) - 1
        owner = np.repeat(np.arange(count), np.diff(self.start))
        area = np.bincount(owner, cross, count) / 2
        with np.errstate(divide="ignore", invalid="ignore"):
            cx = np.bincount(owner, (x0 + x1) * cross, count) / (6 * area)
            cy = np.bincount(owner, (y0 + y1) * cross, count) / (6 * area)
        return np.stack([cx, cy], axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """Hold the outline of a number about the centre of its ink, height 1.

    Parameters
    ----------
    reach : ndarray of shape (DIRECTIONS,)
        How far it reaches in each direction, air included.
    corners : ndarray of shape (DIRECTIONS, 2)
        Its corners.
    half : tuple of float
        Half the width and height of the ink.
    """

    reach: NDArray[np.float64]
    corners: NDArray[np.float64]
    half: tuple[float, float]


def _directions() -> NDArray[np.float64]:
    angle = np.arange(DIRECTIONS) * 2 * np.pi / DIRECTIONS
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)


def ink_points(
    text: str, fonts: FontSet, weight: str = "regular"
) -> NDArray[np.float64]:
    """Return points all along the outlines of a text's glyphs.

    Parameters
    ----------
    text : str
        The number.
    fonts : FontSet
        Fonts.
    weight : str
        ``regular`` or ``medium``.

    Returns
    -------
    ndarray of shape (n, 2)
        About the centre of the ink's box, in heights of a figure.
    """
    from fillwork.renderers.typeset import CAP_HEIGHT

    shaped = fonts.shape(text, weight)
    points = []
    for run in shaped.runs:
        for glyph, x, y in zip(run.glyphs, run.x, run.y, strict=True):
            curves, _ = run.font.outline(glyph)
            if len(curves):
                chords, _, _ = curves.flatten(0.002)
                points.append(chords[:, :2] + (x, y))
    left, bottom, right, top = shaped.ink
    if not points:
        return np.zeros((1, 2))
    middle = np.array([(left + right) / 2, (bottom + top) / 2])
    ink: NDArray[np.float64] = (np.concatenate(points) - middle) / CAP_HEIGHT
    return ink


def number_body(text: str, fonts: FontSet, weight: str = "regular") -> Body:
    """Return the body of a number.

    Parameters
    ----------
    text : str
        The number.
    fonts : FontSet
        Fonts.
    weight : str
        ``regular`` or ``medium``.

    Returns
    -------
    Body
        For figures of height 1.
    """
    points = ink_points(text, fonts, weight)
    ways = _directions()
    # chords of glyphs miss their curves by 0.002 em at most
    reach = (points @ ways.T).max(axis=0) + 0.003 + AIR
    after = np.roll(np.arange(DIRECTIONS), -1)
    turn = 2 * np.pi / DIRECTIONS
    sine = np.sin(turn)
    x = (reach * ways[after, 1] - reach[after] * ways[:, 1]) / sine
    y = (reach[after] * ways[:, 0] - reach * ways[after, 0]) / sine
    half = np.abs(points).max(axis=0)
    return Body(reach, np.stack([x, y], axis=1), (float(half[0]), float(half[1])))


def largest_sizes(
    sides: Sides,
    faces: NDArray[np.integer],
    at: NDArray[np.float64],
    body: Body,
    clearance: float,
) -> NDArray[np.float64]:
    """Return the largest height of a number at given points.

    Parameters
    ----------
    sides : Sides
        Sides of all regions.
    faces : ndarray of int, shape (n,)
        Which region each point is in.
    at : ndarray of shape (n, 2)
        The points, inside their regions.
    body : Body
        The number.
    clearance : float
        Distance to keep from every side, mm.

    Returns
    -------
    ndarray of shape (n,)
        Heights, mm; 0 or less where it does not fit.
    """
    out = np.zeros(len(faces))
    size = np.diff(sides.start)[faces]
    total = np.cumsum(size)
    ways = _directions() / body.reach[:, None]
    slack = clearance / body.reach
    first = 0
    while first < len(faces):
        base = total[first - 1] if first else 0
        last = max(int(np.searchsorted(total, base + _CHUNK, "right")), first + 1)
        rows = slice(first, last)
        n = size[rows]
        begin = np.cumsum(n) - n
        index = np.repeat(sides.start[faces[rows]] - begin, n) + np.arange(n.sum())
        centre = np.repeat(at[rows], n, axis=0)
        a = sides.segments[index, 0:2] - centre
        b = sides.segments[index, 2:4] - centre
        apart = (np.minimum(a @ ways.T, b @ ways.T) - slack).max(axis=1)
        along = b - a
        length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-300)
        normal = np.stack([along[:, 1], -along[:, 0]], axis=1) / length[:, None]
        off = (a * normal).sum(axis=1)
        normal *= np.where(off < 0, -1.0, 1.0)[:, None]
        reach = (normal @ body.corners.T).max(axis=1)
        apart = np.maximum(apart, (np.abs(off) - clearance) / reach)
        filled = n > 0
        here = np.zeros(len(n))
        if filled.any():
            here[filled] = np.minimum.reduceat(apart, begin[filled])
        out[rows] = here
        first = last
    return out


def place_best(
    sides: Sides,
    faces: NDArray[np.integer],
    start: NDArray[np.float64],
    body: Body,
    clearance: float,
    *,
    enough: float,
    fine: bool = True,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return where a number can stand largest in each region.

    Parameters
    ----------
    sides : Sides
        Sides of all regions.
    faces : ndarray of int, shape (n,)
        Regions.
    start : ndarray of shape (n, 2)
        A point inside each.
    body : Body
        The number.
    clearance : float
        Distance to keep from every side, mm.
    enough : float
        Height at which the search may stop, mm.
    fine : bool
        Eight ways and many steps instead of four ways and few.

    Returns
    -------
    at : ndarray of shape (n, 2)
        The points.
    height : ndarray of shape (n,)
        Heights, mm; 0 or less where the number does not fit.
    """
    at = start.copy()
    height = largest_sizes(sides, faces, at, body, clearance)
    # steps stay inside the body that is known to fit, and so inside the region
    steps = [0.9, 0.9, 0.7, 0.7, 0.5, 0.35, 0.25, 0.15, 0.1, 0.05]
    ways = [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)]
    if fine:
        ways += [(0.7, 0.7), (-0.7, 0.7), (0.7, -0.7), (-0.7, -0.7)]
        steps = [0.9] * 6 + steps + [0.025]
    else:
        steps = steps[1::2]
    reach = np.array(body.half)
    for step in steps:
        open_ = np.flatnonzero((height < enough) & (height > -0.5 * clearance))
        if len(open_) == 0:
            break
        grip = np.maximum(height[open_], 0)[:, None] * reach + clearance / 2
        best, best_at = height[open_].copy(), at[open_].copy()
        for way in ways:
            trial = at[open_] + grip * step * way
            size = largest_sizes(sides, faces[open_], trial, body, clearance)
            better = size > best + 1e-4 * np.maximum(best, 0) + 1e-9
            best[better], best_at[better] = size[better], trial[better]
        height[open_], at[open_] = best, best_at
    return at, height


def _inside(
    sides: Sides, faces: NDArray[np.integer], at: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return whether points lie in their regions (even-odd crossings)."""
    out = np.zeros(len(faces), bool)
    size = np.diff(sides.start)[faces]
    begin = np.cumsum(size) - size
    index = np.repeat(sides.start[faces] - begin, size) + np.arange(size.sum())
    owner = np.repeat(np.arange(len(faces)), size)
    x, y = at[owner, 0], at[owner, 1]
    x0, y0, x1, y1 = sides.segments[index].T
    spans = (y0 > y) != (y1 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        right = x < x0 + (y - y0) / (y1 - y0) * (x1 - x0)
    out[:] = np.bincount(owner, spans & right, len(faces)).astype(np.int64) % 2 == 1
    return out


def fit_numbers(
    sides: Sides,
    witness: NDArray[np.float64],
    room: NDArray[np.float64],
    orbits: Orbits,
    text_of_face: NDArray[np.integer],
    texts: tuple[str, ...],
    fonts: FontSet,
    *,
    most: float = 5.0,
    least: float = 1.5,
    clearance: float = 0.2,
    faces: NDArray[np.integer] | None = None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return where the number of each region stands and how high it is.

    Parameters
    ----------
    sides : Sides
        Sides of all regions, on paper, mm.
    witness : ndarray of shape (F, 2)
        A point well inside each region, on paper, mm.
    room : ndarray of shape (F,)
        Distance of the witness from the boundary, mm: half of the least width or
        height that any number may have.
    orbits : Orbits
        Kinds; whole regions of one kind get one size.
    text_of_face : ndarray of int, shape (F,)
        Row of `texts` for each region; -1 for none.
    texts : tuple of str
        Numbers.
    fonts : FontSet
        Fonts.
    most, least : float
        Largest and smallest height of a number, mm.
    clearance : float
        Distance to keep from every side, mm.
    faces : ndarray of int, optional
        Only these regions.

    Returns
    -------
    at : ndarray of shape (F, 2)
        Centres of the numbers, mm.
    height : ndarray of shape (F,)
        Heights, mm; 0 where the region is too small for `least`.
    """
    count = len(text_of_face)
    at, height = witness.copy(), np.zeros(count)
    all_faces = np.arange(1, count) if faces is None else np.asarray(faces)
    all_faces = all_faces[text_of_face[all_faces] >= 0]
    low, high = sides.boxes()
    centre, extent = (low + high) / 2, high - low
    centroid = sides.centroids()
    for row, text in enumerate(texts):
        mine = all_faces[text_of_face[all_faces] == row]
        if len(mine) == 0:
            continue
        body = number_body(text, fonts)
        # too narrow for any number of the least size
        mine = mine[room[mine] * 1.0001 >= least * min(body.half) + clearance]
        if len(mine) == 0:
            continue
        leader, group = _groups(orbits, mine, extent)
        # the first points are wanted for few regions only
        start = _start_points(sides, mine[leader], witness, centroid, body, clearance)
        here, size = place_best(
            sides,
            mine[leader],
            start,
            body,
            clearance,
            enough=most,
            fine=len(leader) < 4000,
        )
        here, size = _settle(
            sides, mine[leader], here, size, centroid, body, clearance, most
        )
        moved = here[group] - centre[mine[leader]][group] + centre[mine]
        if len(leader) < len(mine):
            own = largest_sizes(sides, mine, moved, body, clearance)
            astray = own < 0.9 * np.minimum(size[group], most)
            if astray.any():
                again = mine[astray]
                start = _start_points(sides, again, witness, centroid, body, clearance)
                moved[astray], own[astray] = place_best(
                    sides,
                    again,
                    start,
                    body,
                    clearance,
                    enough=most,
                    fine=False,
                )
        else:
            moved, own = here[group], size[group]
        at[mine] = moved
        height[mine] = np.minimum(own, most)
    _share_sizes(orbits, all_faces, text_of_face, height, least)
    return at, height


def _start_points(
    sides: Sides,
    faces: NDArray[np.integer],
    witness: NDArray[np.float64],
    centroid: NDArray[np.float64],
    body: Body,
    clearance: float,
) -> NDArray[np.float64]:
    """Return the centroid where it is about as roomy as the witness."""
    start: NDArray[np.float64] = witness[faces].copy()
    middle = centroid[faces]
    sound = np.isfinite(middle).all(axis=1)
    sound[sound] = _inside(sides, faces[sound], middle[sound])
    if sound.any():
        k = np.flatnonzero(sound)
        a = largest_sizes(sides, faces[k], start[k], body, clearance)
        b = largest_sizes(sides, faces[k], middle[k], body, clearance)
        take = k[b >= 0.9 * a]
        start[take] = middle[take]
    return start


def _settle(
    sides: Sides,
    faces: NDArray[np.integer],
    at: NDArray[np.float64],
    size: NDArray[np.float64],
    centroid: NDArray[np.float64],
    body: Body,
    clearance: float,
    most: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return places moved to the centroid where that costs next to nothing."""
    middle = centroid[faces]
    sound = np.isfinite(middle).all(axis=1)
    sound[sound] = _inside(sides, faces[sound], middle[sound])
    k = np.flatnonzero(sound)
    if len(k):
        there = largest_sizes(sides, faces[k], middle[k], body, clearance)
        near = there >= 0.98 * np.minimum(size[k], most)
        at, size = at.copy(), size.copy()
        at[k[near]], size[k[near]] = middle[k[near]], there[near]
    return at, size


def _groups(
    orbits: Orbits, faces: NDArray[np.integer], extent: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return one leader a group of regions that are copies by a shift.

    Whole regions of one kind, one operation and one box size (to a hundredth) are
    a group; every other region is its own.
    """
    operation = orbits.operation_of_face[faces].astype(np.int64)
    kind = orbits.of_face[faces].astype(np.int64)
    alone = orbits.cut[faces] | (operation < 0)
    shifts = orbits.shifts_of_face[faces].astype(np.int64)
    box = np.round(np.log(np.maximum(extent[faces], 1e-9)) / 0.01).astype(np.int64)
    key = np.stack(
        [
            kind,
            np.where(alone, -1 - np.arange(len(faces)), operation),
            np.where(alone, 0, shifts),
            np.where(alone, 0, box[:, 0]),
            np.where(alone, 0, box[:, 1]),
        ],
        axis=1,
    )
    _, leader, group = np.unique(key, axis=0, return_index=True, return_inverse=True)
    return leader, group.reshape(-1)


def _share_sizes(
    orbits: Orbits,
    faces: NDArray[np.integer],
    text_of_face: NDArray[np.integer],
    height: NDArray[np.float64],
    least: float,
) -> None:
    """Give whole regions of a kind one size, the smallest that fits them all."""
    whole = faces[~orbits.cut[faces]]
    kinds = len(orbits.orbits)
    key = text_of_face[whole].astype(np.int64) * max(kinds, 1) + orbits.of_face[whole]
    values, group = np.unique(key, return_inverse=True)
    fits = height[whole] >= least
    shared = np.full(len(values), np.inf)
    np.minimum.at(shared, group[fits], height[whole][fits])
    height[whole] = np.where(fits, shared[group], 0.0)
    cut = faces[orbits.cut[faces]]
    if len(cut):
        key = text_of_face[cut].astype(np.int64) * max(kinds, 1) + orbits.of_face[cut]
        at = np.searchsorted(values, key)
        known = (
            (at < len(values)) & (values[np.minimum(at, len(values) - 1)] == key)
            if len(values)
            else np.zeros(len(cut), bool)
        )
        limit = np.full(len(cut), np.inf)
        limit[known] = shared[at[known]]
        height[cut] = np.minimum(height[cut], limit)
        height[cut] = np.where(height[cut] >= least, height[cut], 0.0)
    # steps of a twentieth of a mm, downwards
    height[faces] = np.floor(height[faces] * 20 + 1e-9) / 20
