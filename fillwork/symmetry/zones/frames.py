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
from fillwork.symmetry.faces.measures import LONG
from fillwork.symmetry.zones.arcs import framing_arcs
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
# sine of the angle between lines that are parallel
_PARALLEL = 0.03
# gaps of one width that rows of a pattern have, and nested frames have not
_MANY_ROWS = 6
# the same of walls between cells of one strip, and of all gaps between them
_MANY_WALLS, _OF_WALLS = 5, 0.7
# such widths, from which a gap is no row but a field with borders on both sides
_FIELD_WIDE = 3.0
# share of its extent that a frame line fills
_SOLID = 0.9
# how much farther a line reaches than most rows beside it that is none of them, and
# share of rows without gaps below which one without is none
_OUTREACHES, _FEW_SOLID = 2.0, 0.5
# how much smaller the regions beside it are than those of most rows then
_FINER = 0.5
# rows that may be missing between two of a pattern, and one
_MISSING = 4
# share of the meetings on a line of nested frames where lines go straight on across it
_CLEAR = 0.3
# share of gaps by which lines of nested frames are shorter at both ends
_NESTED = 0.8
# roots of the median area from which three gaps of one width are those of fields
_ROWS_APART = 6.0
# bands side by side whose inner lines run on into corner squares
_BANDS = 2
# circles of one size that are no frames from so many on, by how much they may differ,
# and what those hold that may be, in median areas
_MANY_RINGS, _LIKE_RINGS, _HOLDS = 5, 0.05, 12.0
# how many of them touch or are one, where they are polygons
_TOUCHING = 2
# squared boundary over area, from which a face is a strip of a frame
_STRIP = 60.0
# median areas up to which a face beside a line says nothing: lines that touch leave it
_SPECK = 0.01
# share of the faces along a row of a pattern that return on its other side
_SIDES_ALIKE = 0.3
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
    frames = _without_rings([r for r in frames if not r.round or r.closed], unit)
    # rows are told by all of their lines, those of coarse fields too; what is as long
    # as a frame line beside it is long enough
    sure = {id(r) for r in inner}
    frames = [
        r
        for r in _without_rows(frames, unit)
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
    if len(mine) == 0 or len(inner) < len(mine) or (ground[left] & ground[right]).any():
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
            beside = (np.abs(direction @ aside) < _PARALLEL) & (
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
        share = np.bincount(place.reshape(-1), along)
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


def _without_rings(frames: list[Run], unit: float) -> list[Run]:
    """Leave out many circles of one size that hold little or touch each other.

    They are beads of a border or rings of a pattern; medallions are large, or few.
    """
    rings = [r for r in frames if r.round]
    radius = np.array([r.radius for r in rings])
    centre = np.array([r.centre for r in rings]).reshape(-1, 2)
    dropped: set[int] = set()
    for k, ring in enumerate(rings):
        like = np.abs(radius - ring.radius) < _LIKE_RINGS * ring.radius
        if like.sum() < _MANY_RINGS:
            continue
        away = np.sort(np.hypot(*(centre[like] - ring.centre).T))[1]
        small = np.pi * ring.radius**2 < _HOLDS * unit**2
        if small or away < (2 + _LIKE_RINGS) * ring.radius:
            dropped.add(k)
    return [r for r in frames if not r.round] + [
        r for k, r in enumerate(rings) if k not in dropped
    ]


def _without_rows(frames: list[Run], unit: float) -> list[Run]:
    """Leave out parallel lines at equal distances: they belong to a pattern."""
    lines = [r for r in frames if not r.round]
    drop: set[int] = set()
    direction = np.array([r.direction for r in lines]).reshape(-1, 2)
    centre = np.array([r.centre for r in lines]).reshape(-1, 2)
    for k, lead in enumerate(lines):
        normal = np.array([-lead.direction[1], lead.direction[0]])
        family = np.flatnonzero(np.abs(direction @ normal) < 0.03)
        if len(family) < 4 or family[0] != k:
            continue
        drop.update(_walls(lines, family, lead.direction, unit))
        # lines in line with each other lie in one row, but not those side by side
        offset = centre[family] @ normal
        order = np.argsort(offset, kind="stable")
        ends = np.array([(lines[k].ends @ lead.direction) for k in family[order]])
        start, stop = ends.min(axis=1), ends.max(axis=1)
        shared = np.minimum(stop[1:], stop[:-1]) - np.maximum(start[1:], start[:-1])
        apart = (np.diff(offset[order]) > 0.15 * unit) | (shared > unit)
        row = np.concatenate([[0], np.cumsum(apart)])
        first = np.flatnonzero(np.diff(row, prepend=-1))
        gap = np.diff(offset[order][first])
        # lines of nested frames are shorter and shorter, by the gap at either end
        low = np.minimum.reduceat(start, first)
        high = np.maximum.reduceat(stop, first)
        shrinks = np.minimum(np.abs(np.diff(low)), np.abs(np.diff(high)))
        level = shrinks < 0.5 * gap
        inset = [np.abs(np.abs(np.diff(e)) - gap) < 0.1 * gap for e in (low, high)]
        # and without a gap, as rows of a pattern in a slanted square are not
        length = np.array([lines[k].length for k in family[order]])
        solid = np.add.reduceat(length, first) > _SOLID * (high - low)
        nested = inset[0] & inset[1] & solid[1:] & solid[:-1]
        # and no lines cross them, as they cross rows that end at a frame aslant
        crossed = np.array([lines[k].crossed for k in family[order]])
        lone = np.maximum.reduceat(crossed, first) < _CLEAR
        clear = lone[1:] | lone[:-1]
        nested &= clear
        same = np.array([lines[k].alike for k in family[order]])
        mirrored = np.maximum.reduceat(same, first) >= _SIDES_ALIKE
        beside = np.array([lines[k].unit for k in family[order]])
        beside = np.minimum.reduceat(beside, first)
        # rows of a pattern may lie by turns nearer and farther apart
        pair = gap[:-1] + gap[1:]
        for width in np.unique(pair[pair > 2.4 * unit]):
            alike = np.abs(pair - width) < max(0.15 * unit, 0.04 * width)
            alike &= ~clear[:-1] & ~clear[1:]
            if alike.sum() >= _MANY_ROWS:
                at = np.flatnonzero(alike)
                at = np.concatenate([at, at + 1, at + 2])
                drop.update(family[order[np.isin(row, at)]].tolist())
        for width in np.unique(gap[gap > 1.2 * unit]):
            slack = max(0.15 * unit, 0.04 * width)
            alike = np.abs(gap - width) < slack
            # a medallion cuts rows, and too little is left of some
            steps = np.rint(gap / width)
            missing = (np.abs(gap - steps * width) < slack) & (steps <= _MISSING)
            if (alike & ~clear).any():
                alike |= missing & (steps > 0) & ~clear
            # many, or three in a row: the sides of nested frames are far apart, and
            # those of fields side by side farther than rows of a pattern
            three = alike & level & (gap < _ROWS_APART * unit)
            # and the regions on both sides of fields' lines are unlike
            three &= mirrored[1:] | mirrored[:-1]
            rows = np.flatnonzero(three[:-2] & three[1:-1] & three[2:])
            # a field between parts those of the border on its two sides
            side = np.cumsum(gap > _FIELD_WIDE * width)
            if (
                np.bincount(side[alike]).max() >= _MANY_ROWS
                and nested[alike].mean() <= _NESTED
            ):
                at = np.flatnonzero(alike)
            elif len(rows):
                at = np.unique(np.concatenate([rows, rows + 1, rows + 2]))
            else:
                at = rows
            if len(at):
                at = np.union1d(at, at + 1)
                # a frame line that lies by chance as far from the first row
                other = high[at] - low[at] > _OUTREACHES * np.median(high - low)
                other |= _reaches_out(low[at], high[at], unit)
                finer = beside[at] < _FINER * np.median(beside[at])
                other |= finer & ~mirrored[at]
                # and the last of rows that are alike on both sides of the others
                last = ((at == at[0]) | (at == at[-1])) & lone[at]
                other |= last & ~mirrored[at] & (np.mean(mirrored[at]) > 0.5)
                other |= np.mean(solid) < _FEW_SOLID
                at = at[~(other & solid[at])]
                drop.update(family[order[np.isin(row, at)]].tolist())
    dropped = {id(lines[k]) for k in drop}
    return [r for r in frames if id(r) not in dropped]


def _reaches_out(low: Floats, high: Floats, unit: float) -> Bools:
    """Return which of some parallel lines go on at both ends, where most end as one.

    `low` and `high`: where each begins and ends, mm.
    """
    before, beyond = np.median(low) - low, high - np.median(high)
    as_one = (np.abs(before) < 0.5 * unit) & (np.abs(beyond) < 0.5 * unit)
    out = (before > 0.5 * unit) & (beyond > 0.5 * unit)
    return np.asarray(out & (as_one.mean() > 0.5), bool)


def _walls(frames: list[Run], family: Ints, along: Floats, unit: float) -> list[int]:
    """Return which of some parallel lines are walls between cells of one strip.

    They reach from one side of it to the other, at equal distances.
    """
    across = np.array([-along[1], along[0]])
    ends = np.array([np.sort(frames[k].ends @ along) for k in family])
    offset = np.array([frames[k].centre @ across for k in family])
    found: list[int] = []
    slack = 0.3 * unit
    for low, high in np.unique(np.round(ends / slack), axis=0):
        own = np.flatnonzero(
            (np.abs(ends - slack * np.array([low, high])) <= slack).all(axis=1)
        )
        if len(own) < _MANY_WALLS:
            continue
        own = own[np.argsort(offset[own], kind="stable")]
        gap = np.diff(offset[own])
        usual = float(np.median(gap))
        # courses of a field reach farther than they lie apart
        if gap.sum() < LONG * slack * (high - low):
            continue
        alike = np.abs(gap - usual) < max(0.15 * unit, 0.04 * usual)
        if usual > 0.5 * unit and alike.sum() >= max(_MANY_WALLS, _OF_WALLS * len(gap)):
            at = np.flatnonzero(alike)
            found += family[own[np.union1d(at, at + 1)]].tolist()
    return found


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
    own = [k for loop in _without_cells(lines, loops) for k in loop]
    return [lines[k] for k in dict.fromkeys(own) if k < count]


def _without_cells(lines: list[Run], loops: list[list[int]]) -> list[list[int]]:
    """Leave out many loops of one size that touch each other, as rings that do.

    They are cells of a pattern. `loops`: of each the lines by their place among
    `lines`.
    """
    size = np.array([sum(lines[k].length for k in loop) for loop in loops])
    middle = np.array(
        [np.mean([lines[k].centre for k in loop], axis=0) for loop in loops]
    ).reshape(-1, 2)
    kept = []
    for k, loop in enumerate(loops):
        like = np.abs(size - size[k]) < _LIKE_RINGS * size[k]
        away = np.hypot(*(middle - middle[k]).T)
        touching = like & (away < (1 + _LIKE_RINGS) * size[k] / np.pi)
        if like.sum() < _MANY_RINGS or touching.sum() < _TOUCHING:
            kept.append(loop)
    return kept


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
                    if turned > 2 * np.pi - 0.3 and len(path) >= 3:
                        return [p // 2 for p in path]
                elif len(path) < 24 and other // 2 not in [p // 2 for p in path]:
                    stack.append(([*path, other], turned))
    return None
