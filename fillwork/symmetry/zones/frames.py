"""Frame lines: long lines that part one pattern from another.

A pattern stops at its frame, so hardly any line runs straight on across it; the
lines of a pattern, as long as they may be, are crossed by others all along.
Runs of edges that go straight on are found first, then those on one line or
circle are joined, then the crossed ones fall out. Short lines that part a border
at its corners (mitres, sides of corner pieces) count when they start where frame
lines meet.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.symmetry.zones.arcs import framing_arcs
from fillwork.symmetry.zones.frame_rows import (
    PARALLEL,
    without_cells,
    without_rings,
    without_rows,
)
from fillwork.symmetry.zones.meetings import CROSSED, count_meetings
from fillwork.symmetry.zones.mitres import corner_lines
from fillwork.symmetry.zones.runs import Run, extend_runs, find_runs, straight_links

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints, Ints32


# lengths beside the median root of a face's area
_LONG = 6.0
_ROUND = 14.0
# largest share where lines end on it from both sides
_BOTH = 0.62
# pieces of a frame line that have no direction
_TINY = 0.1
# the same where one of them ends otherwise
_STEP = 0.2
# bands side by side whose inner lines run on into corner squares
_BANDS = 2
# squared boundary over area, from which a face is a strip of a frame
_STRIP = 60.0
# median areas up to which a face beside a line says nothing: lines that touch leave it
_SPECK = 0.01
# by how much their areas and boundaries may differ
_SAME = 0.03
# share of a line along which the ground of a border lies
_MOST_ALONG = 0.6
# share of its convex hull that a window on the page fills
_CONVEX = 0.98


def find_frame_edges(arrangement: Arrangement) -> Bools:
    """Find the edges that belong to frame lines.

    Returns (E,): True for edges on frame lines, mitres and sides of corner pieces.
    """
    mask = np.zeros(arrangement.edge_count, dtype=bool)
    if arrangement.face_count < 4:
        return mask
    unit = float(np.median(np.sqrt(arrangement.area[1:])))
    link = straight_links(arrangement)
    runs = extend_runs(arrangement, find_runs(arrangement, link, unit), unit)
    _look_beside(arrangement, runs, unit)
    count_meetings(arrangement, runs, unit)
    clear = [r for r in runs if r.crossed <= CROSSED and r.both <= _BOTH]
    frames = [r for r in clear if r.length >= _LONG * unit]
    inner = _between_corners(runs, frames, unit)
    count_meetings(arrangement, inner, unit)
    inner = [r for r in inner if r.crossed <= CROSSED and r.both <= _BOTH]
    clear, frames = clear + inner, frames + inner
    frames = without_rings([r for r in frames if not r.round or r.closed], unit)
    # rows are told by all of their lines, those of coarse fields too; what is as long
    # as a frame line beside it is long enough
    sure = {id(r) for r in inner}
    frames = [
        r
        for r in without_rows(frames, unit)
        if r.length >= _LONG * r.unit or id(r) in sure
    ]
    short = [r for r in clear if not r.round and r.length < _LONG * r.unit]
    frames += _closed_loops(arrangement, short, frames, unit)
    frames += framing_arcs(arrangement, clear, frames, unit)
    if not frames:
        return mask
    frames += corner_lines(arrangement, frames, unit)
    for run in frames:
        mask[run.edges] = True
    return mask | _tiny_between(arrangement, mask, unit)


def _tiny_between(arrangement: Arrangement, mask: Bools, unit: float) -> Bools:
    """Return short edges from one end of a frame's edge to another's.

    Where lines all but meet on a frame, its pieces are too short to have a
    direction; a gap there would join what the frame parts. Those on which a frame line
    goes on that ends otherwise may be longer.
    """
    tail, head = arrangement.origin[0::2], arrangement.origin[1::2]
    step = arrangement.vertices[head] - arrangement.vertices[tail]
    on = np.zeros(len(arrangement.vertices), dtype=bool)
    on[tail[mask]] = on[head[mask]] = True
    met = np.bincount(np.concatenate([tail[mask], head[mask]]), minlength=len(on))
    ending = (met[tail] == 1) | (met[head] == 1)
    most = unit * np.where(ending, _STEP, _TINY)
    return np.asarray(on[tail] & on[head] & (np.hypot(*step.T) <= most))


def face_parts(arrangement: Arrangement, barrier: Bools) -> Ints:
    """Return which faces hang together across edges that are no barrier.

    `barrier` (E,): edges that part faces. Returns (F,): number of the part of each
    face; that of face 0 is its own.
    """
    a, b = arrangement.face[0::2], arrangement.face[1::2]
    open_edge = ~barrier & (a != 0) & (b != 0)
    return part_numbers(a[open_edge], b[open_edge], arrangement.face_count)


def ground_outside(arrangement: Arrangement, faces: Ints32) -> Ints32:
    """Return the faces between the page's edge and a window that stands on it.

    A round window touches its page, and cuts corners off it that show nothing.

    `faces`: the faces of the drawing. Returns some of them; none where lines run off
    the page, or stand free on it.
    """
    import shapely

    left, right = arrangement.face[0::2], arrangement.face[1::2]
    page = arrangement.edge_curve >= arrangement.page_curves
    ground = np.zeros(arrangement.face_count, dtype=bool)
    ground[left[page]] = ground[right[page]] = True
    ground[0] = False
    mine = faces[ground[faces]]
    inner = faces[~ground[faces]]
    if len(inner) < len(mine) or (ground[left] & ground[right]).any():
        return mine[:0]
    rim = ground[left] != ground[right]
    rim &= ~page
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[rim]]
    hull = shapely.convex_hull(shapely.multipoints(ends.reshape(-1, 2)))
    full = float(arrangement.area[inner].sum()) >= _CONVEX * float(shapely.area(hull))
    return mine if full else mine[:0]


def _between_corners(runs: list[Run], frames: list[Run], unit: float) -> list[Run]:
    """Return lines beside frame lines as long as they, without what lies at corners.

    Inner lines of a border that run on to its outer ones cross each other there, and
    part the corner squares: beside few repeats that is most of what meets them.
    """
    known = {id(f) for f in frames}
    straight = [r for r in runs if not r.round and r.length >= _LONG * unit]
    outer = [f for f in frames if not f.round]
    found: list[Run] = []
    # once more for a band within that one
    for _ in range(_BANDS):
        if not outer:
            break
        direction = np.array([f.direction for f in outer])
        centre = np.array([f.centre for f in outer])
        length = np.array([np.hypot(*np.ptp(f.ends, axis=0)) for f in outer])
        outer = []
        for run in straight:
            aside = np.array([-run.direction[1], run.direction[0]])
            # what nearly touches a line lies along it, and is no length of it
            reach = float(np.hypot(*np.ptp(run.ends, axis=0)))
            beside = (np.abs(direction @ aside) < PARALLEL) & (
                np.abs(length - reach) < unit
            )
            width = np.abs((centre[beside] - run.centre) @ aside)
            width = width[width > 0.1 * unit]
            if len(width) == 0 or width.min() >= reach / 3:
                continue
            cut = width.min() * np.sign((run.ends - run.centre) @ run.direction)
            ends = run.ends - cut[:, None] * run.direction
            inner = replace(run, ends=ends, crossed=0.0, both=0.0)
            outer.append(inner)
            if id(run) not in known:
                known.add(id(run))
                found.append(inner)
    return found


def _look_beside(arrangement: Arrangement, runs: list[Run], unit: float) -> None:
    """Note how large faces beside straight runs are, and whether both sides are alike.

    A coarse field beside a fine one has longer lines, which are no frames for it.
    """
    points, face = arrangement.vertices, arrangement.face
    step = points[arrangement.origin[1::2]] - points[arrangement.origin[0::2]]
    size = np.repeat(np.hypot(*step.T), 2)
    round_it = np.maximum(np.bincount(face, size, arrangement.face_count), 1e-300)
    area = np.maximum(arrangement.area, 1e-300)
    strip = round_it**2 > _STRIP * area
    for run in runs:
        run.unit = unit
    straight = [run for run in runs if not run.round]
    if not straight:
        return
    edges = np.concatenate([run.edges for run in straight])
    owner = np.repeat(np.arange(len(straight)), [len(run.edges) for run in straight])
    ahead = step[edges] * np.array([run.direction for run in straight])[owner]
    whole = np.bincount(owner, np.abs(ahead.sum(axis=1)))
    back = (ahead.sum(axis=1) < 0).astype(np.int64)
    beside: list[list[Ints]] = [[] for _ in straight]
    # the ground of a border runs all along it, and no cell of a field does
    ground = np.zeros(len(straight), dtype=bool)
    for k in (0, 1):
        pair = owner * arrangement.face_count + face[2 * edges + (back ^ k)]
        along = np.abs(ahead.sum(axis=1)) / whole[owner]
        pair, place = np.unique(pair, return_inverse=True)
        share = np.bincount(place, along)
        row, side = np.divmod(pair, arrangement.face_count)
        # beyond it are the corners, if the line runs on
        ground[row[strip[side] & (side != 0) & (share >= _MOST_ALONG)]] = True
        shown = (side != 0) & (area[side] > _SPECK * unit**2)
        row, side = row[shown], side[shown]
        order = np.lexsort((area[side], row))
        row, side = row[order], side[order]
        count = np.bincount(row, minlength=len(straight))
        first = np.cumsum(count) - count
        # strips of a frame and the outside say nothing
        wide = np.bincount(row, ~strip[side], len(straight))
        for r in np.flatnonzero(wide > 0).tolist():
            beside[r].append(side[first[r] : first[r] + count[r]])
    for run, sides, alone in zip(straight, beside, ground.tolist(), strict=True):
        told = [side for side in sides if len(side) > 1]
        if not told and len(sides) == 2:
            # one face all along does not either, but between two cells of a field
            told = sides
        if told and not alone:
            # the sides are sorted by area
            half = [((len(side) - 1) // 2, len(side) // 2) for side in told]
            middle = [area[side[[*at]]] for side, at in zip(told, half, strict=True)]
            run.unit = max(unit, min(float(np.sqrt(a).mean()) for a in middle))
        if len(told) < 2:
            run.alike = 0.0
        elif run.length >= _LONG * unit:  # of shorter ones nobody asks
            one, other = told
            same = np.abs(area[one][:, None] / area[other] - 1) < _SAME
            same &= np.abs(round_it[one][:, None] / round_it[other] - 1) < _SAME
            run.alike = float(same.any(axis=1).mean())


def _closed_loops(
    arrangement: Arrangement, short: list[Run], frames: list[Run], unit: float
) -> list[Run]:
    """Return lines of middle length that close a convex polygon, with frame lines too.

    A polygon of one face is none: it may be a cell of a coarse field.
    """
    import shapely

    lines = [r for r in short if r.length >= 1.5 * unit]
    lines = sorted(lines, key=lambda r: -r.length)[:5000]
    count = len(lines)
    lines += [r for r in frames if not r.round]
    if len(lines) < 3:
        return []
    ends = np.array([r.ends for r in lines]).reshape(-1, 2)
    near: list[list[int]] = [[] for _ in ends]
    dots = np.asarray(shapely.points(ends))
    pairs = shapely.STRtree(dots).query(dots, "dwithin", 0.25 * unit)
    order = np.lexsort((pairs[1], pairs[0]))
    for i, j in pairs.T[order].tolist():
        if i != j:
            near[i].append(j)
    loops: list[list[int]] = []
    done: set[int] = set()
    for first in range(count):
        if first in done:
            continue
        loop = _walk_loop(first, ends, near)
        if loop is None:
            continue
        members = [lines[k] for k in loop]
        long = sum(r.length for r in members) >= _ROUND * unit
        if long and not _is_face(arrangement, members):
            loops.append(loop)
            done.update(loop)
    own = [k for loop in without_cells(lines, loops) for k in loop]
    return [lines[k] for k in dict.fromkeys(own) if k < count]


def _is_face(arrangement: Arrangement, loop: list[Run]) -> bool:
    """Tell whether lines that close a convex polygon hold one face between them."""
    import shapely

    edges = np.concatenate([run.edges for run in loop])
    face, count = np.unique(arrangement.face.reshape(-1, 2)[edges], return_counts=True)
    ends = shapely.multipoints(np.concatenate([run.ends for run in loop]))
    room = float(shapely.area(shapely.convex_hull(ends)))
    area = arrangement.area[face[(count == len(edges)) & (face > 0)]]
    return bool((np.abs(area - room) < _SAME * room).any())


def _walk_loop(first: int, ends: Floats, near: list[list[int]]) -> list[int] | None:
    """Walk from line to line, always turning left, until the first comes again.

    Where several lines go on, each is tried, up to a number of steps.
    """
    for origin in (2 * first, 2 * first + 1):
        stack: list[tuple[list[int], float]] = [([origin], 0.0)]
        for _ in range(400):
            if not stack:
                break
            path, total = stack.pop()
            tail = path[-1] ^ 1
            step = ends[tail] - ends[path[-1]]
            for other in near[tail]:
                onward = ends[other ^ 1] - ends[other]
                cross = step[0] * onward[1] - step[1] * onward[0]
                angle = float(np.arctan2(cross, step @ onward))
                turned = total + angle
                if not 0.1 < angle < 1.8 or turned > 2 * np.pi + 0.3:
                    continue
                if other == origin:
                    if turned > 2 * np.pi - 0.3:
                        return [p // 2 for p in path]
                elif len(path) < 24 and other // 2 not in [p // 2 for p in path]:
                    stack.append(([*path, other], turned))
    return None
