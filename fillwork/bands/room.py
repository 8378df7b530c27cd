"""Room for bands: whether every rail is there, and no band lies in another.

Asked of bands whose crossings are all open, so that what is left of a rail is what the
ground has of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.rails import rail_of
from fillwork.geometry.near import nearest_points
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import begins

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.bands.cut import CutBands
    from fillwork.geometry.curves import Curves


# least share of a piece, or of a stretch between crossings, that a rail must keep
_LEAST = 1e-3
# how far chords may lie off curves, mm
_CHORD = 2e-5
NARROWEST = 1e-3
"""Width below which bands are no bands, mm: what lies on what is hardly told there."""

# parts of half the width by which a band may reach into another unseen
_SLACK = 0.002
# sine of the angle up to which lines are side by side
_PARALLEL = 0.15
# lines that touch are a band apart this much farther on than circles that bend as they
# do there, and looked at no farther than so many widths
_TOUCHING, _MOST_WIDTHS = 1.2, 20.0
# widths round an end at another line in which bands may lie on each other, and how much
# more than the one that ends needs to come out of the other's
_AT_ENDS, _OUT = 1.5, 1.05


@dataclass(frozen=True, slots=True)
class Fault:
    """Say where bands do not fit."""

    at: tuple[float, float]  # x and y, mm
    width: float  # of bands that may fit there, mm; more never do
    overlap: bool = False  # whether two bands lie on each other; else a rail is lost


def find_fault(bands: CutBands) -> Fault | None:
    """Return where bands have least room, if they do not fit."""
    lost = _lost(bands)
    if lost.any():
        return _fault(bands, int(lost.argmax()) >> 1, np.inf)
    gap, near = _overlaps(bands)
    if len(gap):
        worst = int(gap.argmin())
        x, y = (float(v) for v in near[worst])
        return Fault((x, y), bands.half + float(gap[worst]), overlap=True)
    return None


def rails_lost(bands: CutBands) -> Fault | None:
    """Return where a band lost a rail between two crossings, if one did."""
    lost = _lost(bands)
    return _fault(bands, int(lost.argmax()) >> 1, np.inf) if lost.any() else None


def least_room(bands: CutBands) -> float:
    """Return a width that bands which fit can hardly exceed, mm."""
    _, hidden = _stretches(bands)
    used = max(float(hidden.max(initial=0.0)), float(_used(bands).max(initial=0.0)))
    return 2 * bands.half * (1 - _LEAST) / used if used > 1e-9 else np.inf


def _fault(bands: CutBands, piece: int, width: float) -> Fault:
    pieces = bands.strands.lines.pieces
    x, y = pieces.point(np.array([piece]), np.array([0.5]))[0]
    return Fault((float(x), float(y)), width)


def _lost(bands: CutBands) -> Bools:
    """Return which rails are gone that no band above them hides."""
    stretch, hidden = _stretches(bands)
    gone = hidden[stretch] > 1 - _LEAST
    gone |= _used(bands) > 1 - _LEAST
    return gone | (bands.lost & _counted(bands))


def _counted(bands: CutBands) -> Bools:
    """Return which rails must be there: none of borders, nor beside their stubs.

    A stub at a border may vanish under the last band before it.
    """
    onward, origin = bands.strands.onward, bands.strands.lines.origin
    on_border = np.zeros(len(bands.strands.lines.vertices), bool)
    on_border[origin[np.repeat(bands.border, 2)]] = True
    stub = ((onward < 0) & on_border[origin]).reshape(-1, 2).any(axis=1)
    return ~np.repeat(bands.border | stub, 2)


def _used(bands: CutBands) -> Floats:
    """Return which share of each rail its corners take."""
    turned = bands.turned[: bands.rails]
    used = 1.0 - (turned[:, 1] - turned[:, 0])
    return np.where(_counted(bands) & ~bands.dead, used, 0.0)


def _stretches(bands: CutBands) -> tuple[Ints, Floats]:
    """Return the stretch between crossings of each rail, and what is hidden of each.

    The share of its length; 0 of stretches that end at a border.
    """
    onward, origin = bands.strands.onward, bands.strands.lines.origin
    half = np.flatnonzero((onward >= 0) & (bands.degree[origin] == 2))
    into, out = rail_of(half, left=False), rail_of(onward[half], left=True)
    part = components(into, out, bands.rails)
    _, stretch = np.unique(part, return_inverse=True)
    span = np.maximum(bands.span[: bands.rails] @ [-1.0, 1.0], 0.0)
    left = np.where(bands.dead, 0.0, span * bands.long[: bands.rails])
    whole = np.bincount(stretch, np.repeat(bands.size, 2))
    hidden = 1.0 - np.bincount(stretch, left) / np.maximum(whole, 1e-300)
    hidden[stretch[~_counted(bands)]] = 0.0
    return stretch, hidden


def _overlaps(bands: CutBands) -> tuple[Floats, Floats]:
    """Return how far rails within other bands are from their lines, and where.

    A rail of a union of bands is nowhere nearer than half their width to a line.
    """
    import shapely

    spans = bands.span[: bands.rails]
    away, stem = _clear_of_ends(bands, at_borders=True)
    spans = np.column_stack(
        [
            np.maximum(spans[:, 0], np.repeat(away[:, 0], 2)),
            np.minimum(spans[:, 1], np.repeat(away[:, 1], 2)),
        ]
    )
    seen = ~bands.dead & (spans[:, 1] > spans[:, 0])
    rows = np.flatnonzero(seen)
    rails = bands.curves.part(rows, *spans[rows].T)
    clear, _ = _clear_of_ends(bands, at_borders=False)
    pieces = np.flatnonzero(clear[:, 1] > clear[:, 0])
    if not len(rows) or not len(pieces) or bands.half <= 4 * _CHORD:
        return np.empty(0), np.empty((0, 2))
    middles = bands.strands.lines.pieces.part(pieces, *clear[pieces].T)
    exact = max(_SLACK / 4 * bands.half, _CHORD)
    lines, walls = _chains(middles, exact), _chains(rails, exact)
    reach = (1 - _SLACK) * bands.half - 2 * exact
    tree = shapely.STRtree(lines)
    a, b = tree.query(walls, predicate="dwithin", distance=reach)
    # bands that would cross behind a border may lie on each other before it
    lean = bands.heading[0::2]
    one, other = rows[a] >> 1, pieces[b]
    turn = np.abs(np.sin(lean[one] - lean[other])) > _PARALLEL
    kept = ~(turn & stem[one] & stem[other])
    a, b = a[kept], b[kept]
    near = shapely.get_coordinates(shapely.shortest_line(walls[a], lines[b]))[0::2]
    seen = ~_beside_touches(bands, near)
    return shapely.distance(walls[a], lines[b])[seen], near[seen]


def _beside_touches(bands: CutBands, points: Floats) -> Bools:
    """Return which points lie where lines that touch are not a band apart yet."""
    strands, found = bands.strands, np.zeros(len(points), bool)
    origin, halves = strands.lines.origin, np.arange(len(bands.heading))
    for vertex in np.flatnonzero(strands.touching).tolist():
        at = halves[origin == vertex]
        i, j = (at[k] for k in np.triu_indices(len(at), 1))
        turn = bands.heading[i] - bands.heading[j]
        apart = np.abs(bands.bend[i] - bands.bend[j])[np.cos(turn) > 1 - _PARALLEL]
        far = np.sqrt(4.0 * bands.half / max(float(apart.min(initial=1e9)), 1e-9))
        far = min(_TOUCHING * far, _MOST_WIDTHS * 2 * bands.half)
        found |= np.hypot(*(points - strands.lines.vertices[vertex]).T) <= far
    return found


def _clear_of_ends(bands: CutBands, *, at_borders: bool) -> tuple[Floats, Bools]:
    """Return the part of each piece that is clear of ends at other lines.

    Parameters from and to, shape (E, 2), of no length for borders; and which pieces
    end at a border. `at_borders`: clear of ends at borders alone.
    """
    strands = bands.strands
    lines, origin = strands.lines, strands.lines.origin
    stem = (strands.onward < 0) & (bands.degree[origin] > 1)
    on_border = np.zeros(len(lines.vertices), bool)
    on_border[origin[np.repeat(bands.border, 2)]] = True
    at_border = stem & on_border[origin]
    near = at_border if at_borders else stem
    ends = lines.vertices[np.unique(origin[near])]
    reach = np.where(at_border, _AT_ENDS, _widths_out(bands))
    reach *= 2 * bands.half
    away = np.minimum(reach / np.repeat(np.maximum(bands.size, 1e-300), 2), 1.0)
    first: Floats = np.where(near[0::2], away[0::2], -np.inf if at_borders else 0.0)
    last: Floats = np.where(near[1::2], 1.0 - away[1::2], np.inf if at_borders else 1.0)
    gone = bands.border | (last - first <= _LEAST)
    if len(ends):
        far, _ = nearest_points(lines.vertices, ends)
        close = far[origin] <= _AT_ENDS * 2 * bands.half
        gone |= close[0::2] & close[1::2] & ~near[0::2] & ~near[1::2]
    last[gone] = first[gone] = 0.0
    return np.column_stack([first, last]), at_border[0::2] | at_border[1::2]


def _widths_out(bands: CutBands) -> Floats:
    """Return after how many widths a band is out of all that leave its vertex.

    Shape (2 E,), of each half.
    """
    origin, heading = bands.strands.lines.origin, bands.heading
    order = np.lexsort((heading, origin))
    first = np.flatnonzero(begins(origin[order]))
    after = np.arange(len(order)) + 1
    after[np.r_[first[1:], len(order)] - 1] = first
    rise = np.mod(heading[order[after]] - heading[order], 2 * np.pi)
    rise[after == np.arange(len(order))] = np.pi
    rise = np.sin(np.clip(np.minimum(rise, 2 * np.pi - rise), 1e-9, np.pi / 2))
    # they are a width apart where way * rise - bend * way^2 / 2 = 1
    bend = np.abs(bands.bend[order]) + np.abs(bands.bend[order[after]])
    root = rise**2 - 2 * np.maximum(2 * bands.half * bend, 1e-9)
    out = 2.0 / (rise + np.sqrt(np.maximum(root, 0.0)))
    out = np.clip(np.where(root > 0, _OUT * out, np.inf), _AT_ENDS, _MOST_WIDTHS)
    found = np.empty(len(order))
    before = np.empty(len(order))
    before[after] = out
    found[order] = np.maximum(out, before)
    return found


def _chains(curves: Curves, error: float) -> NDArray[np.object_]:
    """Return each curve as a line of chords."""
    import shapely

    chords, row, _ = curves.flatten(error)
    last = np.r_[row[1:] != row[:-1], True]
    points = np.insert(
        chords[:, :2], np.flatnonzero(last) + 1, chords[last, 2:], axis=0
    )
    count = np.bincount(row, minlength=len(curves)) + 1
    return np.asarray(
        shapely.linestrings(points, indices=np.repeat(np.arange(len(curves)), count)),
        object,
    )
