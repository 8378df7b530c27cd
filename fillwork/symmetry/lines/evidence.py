"""Line work as evidence for symmetry: samples, window and nearest lines.

*Samples* are points spread evenly along the lines, each with the direction of
its line. The *window* is the part of the plane where the drawing would show a
line if there were one: the union of the faces. An operation is judged by the
images of samples that fall inside the window: each is *expected* to lie on a
line of like direction, and is *matched* if one is near enough.

Lines of a frame that cuts the pattern are no evidence for the pattern; nothing
is expected of them, though images may fall on them.

The *scale* is the median length of a line between two corners or crossings:
curves count whole, not by their chords, and splinters hardly count. Of curves it is no
more than the usual width of a region, so that long ones are not matched loosely.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.geometry.curves import LINE
from fillwork.geometry.ranges import expand_ranges
from fillwork.symmetry.grids import count_parts, distance_inside, part_numbers
from fillwork.symmetry.lines.near_lines import LineIndex

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]
    Numbers = NDArray[np.signedinteger]

REACH = 0.16  # farthest miss that is measured, in scales
SAMPLES_PER_SCALE = 8
_CLOSE = 12_000  # samples among which small details are looked for
_CLOSE_PER_SCALE = 64
_PIXELS = 250_000  # of the window's grid
DEEPEST = 0.5  # depths in the window that are told apart, in scales
_SMOOTH = 0.25  # radians: lines that turn more between them meet in a corner
_SMOOTH_CURVE = 0.6  # and so much for chords of one true curve
_BEND = 0.07  # radians: what stands for a bent line turns no more from one to the next
_INNER = 0.4  # share of the lines that must lie inside a frame to speak without it
_SPLINTERS = 0.15  # share of all length that splinters have at most
_RAILS = 8.0  # so many times the median count lines at most that are longer
_BENT = 0.3  # share of the lines in curves, from which their width counts
_STANDING = 0.9  # share of the lines in a margin that its one figure has
_TORN = 0.2  # length of open lines beside that of its closed ones, in a torn face
_ALONG_PAGE = 0.25  # share of a torn face's outline that is the page's edge
_OPEN_ELSEWHERE = 0.05  # the same in all others, from which it is the pattern's
_ENDED = 4  # pieces of a straight outer line that others end on: a window cut them
_FIGURES = 4  # parts of the window from which they may be loose figures
_OF_A_FIGURE = 8  # regions of loose figures at most, on the whole
_CUT = 0.5  # share of the hull that a straight crop lines


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """Hold the window as a grid of distances from its edge."""

    corner: Floats  # (2,): lower left corner of the grid, mm
    pixel: float  # side of a pixel, mm
    # (rows, columns): distance of each pixel's centre from the outside, mm, up to half
    # a scale; 0 outside, as all along the grid's edge
    depth: NDArray[np.float32]

    def depth_at(self, points: Floats) -> NDArray[np.float32]:
        """Return how deep inside the window points lie.

        `points` (n, 2): points, mm. Returns (n,): distance from the window's edge, mm,
        short by up to a pixel; 0 outside.
        """
        rows, columns = self.depth.shape
        # column by column: numpy is slow along rows of two; the outermost pixels lie
        # outside, so that what is beyond the grid may be taken for them
        cell = np.zeros(len(points), np.intp)
        for k, size in ((1, rows), (0, columns)):
            at = points[:, k] - self.corner[k]
            at /= self.pixel
            np.maximum(at, 0.0, out=at)
            np.minimum(at, size - 1, out=at)
            cell *= size
            cell += at.astype(np.intp)
        return np.asarray(self.depth.ravel().take(cell))

    @property
    def area(self) -> float:
        """Return the area of the window, mm²."""
        return float((self.depth > 0).sum()) * self.pixel**2

    def narrowed(self, margin: float) -> Window:
        """Return the window without its outermost part; the narrower one.

        `margin`: how much is set aside all round, mm.
        """
        # depths beyond some are not told apart, so they are found anew
        deepest = float(self.depth.max(initial=0.0)) + margin
        depth = distance_inside(self.depth > 0, deepest / self.pixel + 1)
        depth = depth * np.float32(self.pixel) - np.float32(margin)
        return Window(self.corner, self.pixel, np.maximum(depth, np.float32(0)))


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """Hold what a drawing's lines say about its symmetry."""

    segments: Floats  # (n, 4): all lines, curves as chords, mm
    lines: Floats  # (m, 4): those of them that are evidence
    # samples and directions, (s, 2): points of the latter, and unit vectors along
    samples: Floats
    directions: Floats
    piece: Ints  # (s,): the line between two corners that each sample lies on
    scale: float  # median length of a line between two corners, mm
    window: Window  # where lines are expected
    index: LineIndex  # finds lines near points
    corners: Floats  # (c, 2): ends of lines and crossings, mm
    # whether the lines stand on empty ground: nothing cuts them off, so that nothing is
    # hidden outside the window
    free: bool = False
    # (p, 4): parts of the boundary where the page's edge cuts the lines off, mm
    page: Floats | None = None
    # whether cells that lines left open at the page's edge were left out
    torn: bool = False
    # how far lines are known to be off, mm, though their repeats are off alike
    slip: float = 0.0

    def closely(self) -> tuple[Floats, Floats]:
        """Return samples close enough to tell small details apart.

        Returns `points` and `directions` (n, 2): points of the lines that are evidence,
        mm, and unit vectors along.
        """
        total = float(np.hypot(*(self.lines[:, 2:] - self.lines[:, :2]).T).sum())
        spacing = max(total / _CLOSE, self.scale / _CLOSE_PER_SCALE)
        if total < 2 * spacing * len(self.samples):
            rows = self.thin(_CLOSE)
            return self.samples[rows], self.directions[rows]
        points, owner = _sample(self.lines, spacing)
        step = self.lines[owner, 2:] - self.lines[owner, :2]
        return points, step / np.hypot(step[:, 0], step[:, 1])[:, None]

    def thin(self, most: int) -> Ints:
        """Return a fair choice of samples; rows of `samples`, ascending.

        `most`: how many at most.
        """
        count = len(self.samples)
        if count <= most:
            return np.arange(count)
        rng = np.random.default_rng(0)
        return np.sort(rng.permutation(count)[:most])


def _fill(
    boundary: Floats, corner: Floats, pixel: float, shape: tuple[int, int]
) -> NDArray[np.bool_]:
    """Return which pixel centres lie inside closed boundaries (even-odd rule)."""
    rows, columns = shape
    y0 = (boundary[:, 1] - corner[1]) / pixel - 0.5
    y1 = (boundary[:, 3] - corner[1]) / pixel - 0.5
    x0 = (boundary[:, 0] - corner[0]) / pixel - 0.5
    x1 = (boundary[:, 2] - corner[0]) / pixel - 0.5
    low = np.ceil(np.minimum(y0, y1)).astype(np.intp)
    high = np.ceil(np.maximum(y0, y1)).astype(np.intp)
    owner, row = expand_ranges(low, high - low)
    x = x0[owner] + (row - y0[owner]) / (y1[owner] - y0[owner]) * (x1 - x0)[owner]
    column = np.clip(np.ceil(x).astype(np.intp), 0, columns)
    row = np.clip(row, 0, rows - 1)
    toggles = np.bincount(row * (columns + 1) + column, minlength=rows * (columns + 1))
    parity = np.cumsum(toggles.reshape(rows, columns + 1), axis=1)[:, :columns] % 2
    return np.asarray(parity == 1)


def _build_window(
    boundary: Floats, hull: Floats, deepest: float, figures: int
) -> Window:
    low, high = hull.min(axis=0), hull.max(axis=0)
    width, height = np.maximum(high - low, 1e-9)
    pixel = float(max(np.sqrt(width * height / _PIXELS), max(width, height) / 4000))
    corner = low - 2 * pixel
    shape = (int(np.ceil(height / pixel)) + 4, int(np.ceil(width / pixel)) + 4)
    ring = np.concatenate([hull, np.roll(hull, -1, axis=0)], axis=1)
    inside = _fill(boundary, corner, pixel, shape) if len(boundary) else None
    whole = _fill(ring, corner, pixel, shape)
    if inside is not None:
        parts, largest = count_parts(inside)
        # scattered figures on an empty ground: the ground counts as seen, and so does
        # a narrow one between many, whose lines all lie on their own edges
        area, ground = inside.sum(), whole.sum()
        scattered = parts >= figures and largest < 0.5 * ground
        if scattered and (area < 0.6 * ground or largest < 0.2 * area):
            inside = whole
    else:
        inside = whole
    depth = distance_inside(inside, deepest / pixel + 4) - np.float32(0.5)
    depth = np.maximum(depth, 0) * np.float32(pixel)
    return Window(corner, pixel, depth)


def widen_window(window: Window, margin: float) -> Window:
    """Return the window grown by a margin on all sides.

    Where a figure stands free, the lines on its outline are evidence too; they
    lie on the window's edge and count only when the window is a little wider.

    With depths from its own edge.

    `margin`: how much wider, mm.
    """
    pad = int(np.ceil(margin / window.pixel)) + 2
    inside = np.pad(window.depth > 0, pad)
    away = distance_inside(~inside, margin / window.pixel + 1) * window.pixel
    grown = away <= margin
    deepest = float(window.depth.max(initial=0.0)) + margin
    depth = distance_inside(grown, deepest / window.pixel + 1) - np.float32(0.5)
    depth = np.maximum(depth, 0) * np.float32(window.pixel)
    return Window(window.corner - pad * window.pixel, window.pixel, depth)


def _convex_hull(points: Floats) -> Floats:
    import shapely

    hull = shapely.MultiPoint(points).convex_hull
    low, high = points.min(axis=0), points.max(axis=0)
    size = float((high - low).max())
    if float(shapely.area(hull)) > 1e-9 * size * size:
        ring = shapely.get_coordinates(hull)[:-1]
        x, y = ring.T
        twice = float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
        return np.asarray(ring if twice > 0 else ring[::-1])
    pad = max(size * 1e-3, 1e-9)
    low, high = low - pad, high + pad
    return np.array([low, (high[0], low[1]), high, (low[0], high[1])])


def _on_hull(segments: Floats, hull: Floats, slack: float) -> NDArray[np.bool_]:
    """Return which segments run along the convex hull."""
    a, b = hull, np.roll(hull, -1, axis=0)
    side = b - a
    length = np.hypot(side[:, 0], side[:, 1])
    a, side, length = a[length > 0], side[length > 0], length[length > 0]
    normal = np.stack([-side[:, 1], side[:, 0]], axis=1) / length[:, None]
    level = (a * normal).sum(axis=1)
    result = np.zeros(len(segments), bool)
    for chunk in np.array_split(np.arange(len(segments)), len(segments) // 4096 + 1):
        first = segments[chunk, :2] @ normal.T - level
        last = segments[chunk, 2:] @ normal.T - level
        near = (np.abs(first) < slack) & (np.abs(last) < slack)
        result[chunk] = near.any(axis=1)
    return result


def _sample(segments: Floats, spacing: float) -> tuple[Floats, Ints]:
    """Return points at equal steps along segments laid end to end."""
    length = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    reach = np.cumsum(length)
    count = max(int(reach[-1] / spacing), 1)
    at = (np.arange(count) + 0.5) * (reach[-1] / count)
    owner = np.minimum(np.searchsorted(reach, at), len(segments) - 1)
    share = 1 - (reach[owner] - at) / length[owner]
    start, end = segments[owner, :2], segments[owner, 2:]
    return start + share[:, None] * (end - start), owner


def _scale_of(lengths: Floats) -> float:
    """Return the median length of lines, however many splinters are among them.

    Lines that nearly meet in one point part into splinters as soon as they are a
    little off; they hardly add to the length of all lines together. Lines that are
    very much longer than others, such as rails, count as moderately long.
    """
    ordered = np.sort(lengths)
    median = float(np.median(ordered))
    run = np.cumsum(np.minimum(ordered, _RAILS * median))
    return max(median, float(ordered[np.searchsorted(run, _SPLINTERS * run[-1])]))


def build_evidence(
    segments: Floats,
    piece: Ints,
    boundary: Floats,
    frame: NDArray[np.bool_] | None = None,
    *,
    free: bool = False,
    page: Floats | None = None,
    widest: float = np.inf,
    figures: int = _FIGURES,
) -> Evidence:
    """Return the evidence of lines.

    `segments` (n, 4): x0 y0 x1 y1 of each straight line or chord, mm; at least one.
    `piece` (n,): number of the line between two corners that each belongs to.
    `boundary` (m, 4): closed boundary of the window, mm; empty for the convex hull.
    `frame` (n,): lines that bound the pattern and are no evidence for it. `free`:
    whether the lines stand on empty ground. `page` (p, 4): parts of the boundary that
    are the page's edge, mm. `widest`: largest scale, mm: that of long lines may be more
    than regions are wide. `figures`: parts of the window from which they may be figures
    on an empty ground.
    """
    length = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    pieces = np.bincount(piece, weights=length).astype(np.float64)
    scale = min(_scale_of(pieces[pieces > 0]), widest)
    use = np.ones(len(segments), bool)
    # in a small piece the frame is part of the figure: it tells how its lines turn
    if frame is not None and length[~frame].sum() > _INNER * length.sum():
        use = ~frame
    spacing = scale / SAMPLES_PER_SCALE
    total = float(length[use].sum())
    if total / spacing > 400_000:
        spacing = total / 400_000
    samples, owner = _sample(segments[use], spacing)
    delta = (segments[:, 2:] - segments[:, :2]) / length[:, None]
    hull = _convex_hull(segments.reshape(-1, 2))
    if len(boundary):
        hull = _convex_hull(np.concatenate([hull, boundary.reshape(-1, 2)]))
    ends = np.concatenate([segments[:, :2], segments[:, 2:]])
    change = np.ones(len(segments), bool)
    change[1:] = piece[1:] != piece[:-1]
    corner_rows = np.flatnonzero(change)
    corners = np.concatenate(
        [ends[corner_rows], segments[np.append(corner_rows[1:], len(piece)) - 1, 2:]]
    )
    return Evidence(
        segments=segments,
        lines=segments[use],
        samples=samples,
        directions=delta[use][owner],
        piece=piece[use][owner],
        scale=scale,
        window=_build_window(boundary, hull, DEEPEST * scale, figures),
        index=LineIndex(segments, REACH * scale),
        corners=corners,
        free=free,
        page=page,
    )


def _pieces(
    start: Floats,
    end: Floats,
    ends: tuple[Numbers, Numbers],
    curve: Numbers,
    degree: Ints,
) -> tuple[Ints, Ints, Ints]:
    """Join chords of one curve between corners and drop needless points.

    The chords of a curve follow one another. A new piece begins where they part,
    where other lines meet them, or where they turn sharply; within a piece
    points are kept so that no chord turns more than `_BEND`. Returned
    are the first and the last chord of each chord that is kept, and its piece.
    """
    tail, head = ends
    angle = np.arctan2(end[:, 1] - start[:, 1], end[:, 0] - start[:, 0])
    follows = np.zeros(len(start), bool)
    turn = np.zeros(len(start))
    change = np.abs((np.diff(angle) + np.pi) % (2 * np.pi) - np.pi)
    follows[1:] = (
        (head[:-1] == tail[1:])
        & (degree[tail[1:]] == 2)
        # a curve that was drawn as many short lines turns little at each
        & (change < np.where(curve[1:] == curve[:-1], _SMOOTH_CURVE, _SMOOTH))
    )
    turn[1:] = np.where(follows[1:], change, 0.0)
    piece = np.cumsum(~follows) - 1
    total = np.cumsum(turn)
    inside = total - total[np.flatnonzero(~follows)][piece]
    step = np.floor(inside / _BEND)
    keep = np.ones(len(start), bool)
    keep[1:] = ~follows[1:] | (step[1:] != step[:-1])
    begin = np.flatnonzero(keep)
    last = np.append(begin[1:], len(start)) - 1
    return begin, last, piece[begin]


def _chains(
    points: Floats, a: Numbers, b: Numbers, degree: Ints, curve: Numbers | None = None
) -> Ints:
    """Return the line between two corners that each edge belongs to.

    Edges are joined where just two meet and hardly turn, in whatever order they
    were drawn, so that a curve drawn as many short lines is one line. Chords of
    one true curve may turn more: a small circle has few of them.
    """
    edge = np.tile(np.arange(len(a)), 2)
    vertex = np.concatenate([a, b])
    far = np.concatenate([b, a])
    pairs = np.flatnonzero(degree[vertex] == 2)
    pairs = pairs[np.argsort(vertex[pairs], kind="stable")]
    same = np.flatnonzero(vertex[pairs[1:]] == vertex[pairs[:-1]])
    one, two = pairs[same], pairs[same + 1]
    away = points[far] - points[vertex]
    dot = (away[one] * away[two]).sum(axis=1)
    cross = away[one, 0] * away[two, 1] - away[one, 1] * away[two, 0]
    most = np.full(len(one), _SMOOTH)
    if curve is not None:
        most[curve[edge[one]] == curve[edge[two]]] = _SMOOTH_CURVE
    smooth = np.abs(np.arctan2(cross, -dot)) < most
    return part_numbers(edge[one[smooth]], edge[two[smooth]], len(a))


def _loose_chains(chords: Floats, vertices: Floats, join_within: float) -> Ints:
    """Return the line between two corners that each loose chord belongs to."""
    ends = np.concatenate([chords[:, :2], chords[:, 2:]])
    step = max(4 * join_within, 1e-9)
    both = np.rint(np.concatenate([ends, vertices]) / step)
    _, number = np.unique(both, axis=0, return_inverse=True)
    count = int(number.max()) + 1
    mine, others = number[: len(ends)], number[len(ends) :]
    degree = np.bincount(mine, minlength=count)
    degree = degree + 3 * np.bincount(others, minlength=count)
    points = np.zeros((count, 2))
    points[mine] = ends
    return _chains(points, mine[: len(chords)], mine[len(chords) :], degree)


def _usual_width(arrangement: Arrangement, faces: Ints) -> float:
    """Return the width of the faces that hold the middle of the area, mm."""
    width = 2 * arrangement.inscribed[faces]
    order = np.argsort(width, kind="stable")
    run = np.cumsum(arrangement.area[faces][order])
    return float(width[order][np.searchsorted(run, 0.5 * run[-1])])


def _margin_faces(
    arrangement: Arrangement, inside: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Return which faces merely surround the drawing.

    Such a face has a hole that holds nearly all of the lines but those round it:
    the margin between a page's or a frame's edge and what stands in it. The open
    ground of a sparse pattern has several, or lines that run off the page.
    """
    margin = np.zeros(arrangement.face_count, bool)
    rings = np.diff(arrangement.face_ring_start)
    holed = np.flatnonzero((rings > 1) & inside)
    holed = holed[holed > 0]
    if len(holed) == 0:
        return margin
    tail = arrangement.origin[0::2]
    head = arrangement.origin[1::2]
    label = part_numbers(tail, head, len(arrangement.vertices))
    counts = np.bincount(label[tail])
    for face in holed[np.argsort(-arrangement.area[holed])][:8]:
        first, last = arrangement.face_ring_start[face : face + 2]
        start = arrangement.ring_start
        others = len(tail) - int(start[first + 1] - start[first])
        for ring in range(first + 1, last):
            half = arrangement.ring_half_edge[start[ring]]
            if counts[label[arrangement.origin[half]]] > _STANDING * others:
                margin[face] = True
    return margin


def _torn_faces(
    arrangement: Arrangement, inside: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Return which faces at the page's edge are what lines left open.

    A pattern that ends within the page has cells there that no line closes: their
    lines end in the ground between it and the page's edge, which is no region of it.
    """
    torn = np.zeros(arrangement.face_count, bool)
    if len(arrangement.loose) == 0:
        return torn
    face, curve = arrangement.face.reshape(-1, 2), arrangement.edge_curve
    ends = arrangement.vertices[arrangement.origin].reshape(-1, 2, 2)
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    page = curve >= arrangement.page_curves
    asked = np.zeros(arrangement.face_count, bool)
    asked[face[page]] = True
    asked &= inside
    asked &= arrangement.area > np.median(arrangement.area[1:])
    # the ground of loose figures has them as holes
    asked &= np.diff(arrangement.face_ring_start) <= 2
    faces = np.flatnonzero(asked)
    if len(faces) == 0:
        return torn
    import shapely

    chords, _, _ = arrangement.loose.flatten(max(arrangement.tolerance.flatten, 1e-9))
    middle = shapely.points((chords[:, :2] + chords[:, 2:]) / 2)
    tree = shapely.STRtree(list(arrangement.polygons(faces)))
    row, polygon = tree.query(middle, predicate="within")
    size = np.hypot(chords[:, 2] - chords[:, 0], chords[:, 3] - chords[:, 1])
    open_length = np.bincount(polygon, size[row], len(faces))
    both = np.tile(np.where(page, 0.0, length), 2)
    around = np.bincount(face.T.ravel(), both, arrangement.face_count)[faces]
    sheet = np.tile(np.where(page, length, 0.0), 2)
    along = np.bincount(face.T.ravel(), sheet, arrangement.face_count)[faces]
    wide = (open_length > _TORN * around) & (along > _ALONG_PAGE * (around + along))
    torn[faces[wide]] = True
    # strokes that end within the regions everywhere are the pattern's own
    elsewhere = float(size.sum() - open_length[wide].sum())
    closed = float(2 * length[~page].sum() - around[wide].sum())
    own = elsewhere > _OPEN_ELSEWHERE * closed
    return np.zeros_like(torn) if own or not (inside & ~torn).any() else torn


def _members(
    arrangement: Arrangement, faces: NDArray[np.int32] | None, most_edges: int
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return the faces that testify, and those beside them that are torn."""
    member = np.zeros(arrangement.face_count, bool)
    if faces is None:
        member[1:] = True
        member &= ~_margin_faces(arrangement, member)
    else:
        member[np.asarray(faces)] = True
        member[0] = False
    torn = _torn_faces(arrangement, member)
    member &= ~torn
    chosen = np.flatnonzero(member)
    if arrangement.edge_count > most_edges and len(chosen) > most_edges // 2:
        centre = np.median(arrangement.witness[chosen], axis=0)
        away = np.abs(arrangement.witness[chosen] - centre).max(axis=1)
        nearest = np.argsort(away, kind="stable")[: most_edges // 2]
        member[:] = False
        member[chosen[nearest]] = True
    return member, torn


class _Drawn(NamedTuple):
    # what bounds faces, as straight lines: edges that go on smoothly are one
    segments: Floats
    piece: Ints
    edge: Ints  # the first edge of each
    ends: tuple[Floats, Floats]  # chords of the first and of the last edge of each


def _drawn_lines(arrangement: Arrangement, drawn: Ints) -> _Drawn:
    """Return the lines that some edges make."""
    points, curve = arrangement.vertices, arrangement.edge_curve
    tail, head = arrangement.origin[0::2], arrangement.origin[1::2]
    order = np.lexsort((arrangement.edge_span[drawn].min(axis=1), curve[drawn]))
    drawn = drawn[order]
    # every edge runs the way of its curve, so that chords follow each other
    flip = arrangement.edge_span[drawn, 0] > arrangement.edge_span[drawn, 1]
    a = np.where(flip, head[drawn], tail[drawn])
    b = np.where(flip, tail[drawn], head[drawn])
    degree = np.bincount(arrangement.origin, minlength=len(points))
    whole = points[a] - points[b]
    real = (whole**2).sum(axis=1) > 0
    a, b, drawn = a[real], b[real], drawn[real]
    begin, last, piece = _pieces(points[a], points[b], (a, b), curve[drawn], degree)
    piece = _chains(points, a, b, degree, curve[drawn])[begin]
    first, final = (
        np.concatenate([points[a[row]], points[b[row]]], axis=1)
        for row in (begin, last)
    )
    segments = np.concatenate([first[:, :2], final[:, 2:]], axis=1)
    return _Drawn(segments, piece, drawn[begin], (first, final))


def _framed(
    arrangement: Arrangement,
    lines: _Drawn,
    rim: NDArray[np.bool_],
    inner: NDArray[np.bool_],
    boundary: Floats,
) -> tuple[NDArray[np.bool_], bool]:
    """Return which lines bound the window, and whether few of its rim is drawn.

    Of the lines on the rim of the faces, the inner ones are beside other faces.
    """
    outer = rim & ~inner
    if not outer.any():
        return inner, False
    size = np.hypot(*(lines.segments[:, 2:] - lines.segments[:, :2]).T)
    hull = _convex_hull(boundary.reshape(-1, 2))
    slack = 0.1 * float(np.median(np.bincount(lines.piece, weights=size)))
    # of lines joined from chords, which cut corners of a round window
    frame = inner | outer
    for chord in lines.ends:
        frame[outer] &= _on_hull(chord[outer], hull, slack)
    # a window may be no convex one
    of = arrangement.edge_curve[lines.edge]
    straight = arrangement.curves.kind[of] == LINE
    pieces = np.bincount(of, minlength=len(arrangement.curves))
    at_edge = np.bincount(of[outer], minlength=len(pieces))
    frame |= rim & straight & ((at_edge == pieces) & (pieces >= _ENDED))[of]
    drawn = boundary[_on_hull(boundary, hull, slack)]
    covered = np.hypot(*(drawn[:, 2:] - drawn[:, :2]).T).sum()
    around = np.hypot(*(np.roll(hull, -1, axis=0) - hull).T).sum()
    return frame, bool(covered < _CUT * around)


def _loose_chords(
    arrangement: Arrangement,
    member: NDArray[np.bool_],
    boundary: Floats,
    figures: int,
) -> Floats:
    """Return the lines that bound no face, of a zone those that lie in it."""
    chords, _, _ = arrangement.loose.flatten(max(arrangement.tolerance.flatten, 1e-9))
    size = np.hypot(chords[:, 2] - chords[:, 0], chords[:, 3] - chords[:, 1])
    chords = chords[size > 0]
    if len(chords) and member[1:].sum() < arrangement.face_count - 1:
        # near the zone's edge the same lines bound faces
        hull = _convex_hull(boundary.reshape(-1, 2))
        window = _build_window(boundary, hull, 0.0, figures)
        middle = (chords[:, :2] + chords[:, 2:]) / 2
        chords = chords[window.depth_at(middle) > 0]
    return chords


def gather_evidence(
    arrangement: Arrangement,
    faces: NDArray[np.int32] | None = None,
    *,
    loose_lines: bool = True,
    most_edges: int = 150_000,
) -> Evidence | None:
    """Return the evidence of the lines that bound faces; None when no line is left.

    `faces`: the faces of one zone; all by default. `loose_lines`: whether lines that
    bound no face testify too. `most_edges`: larger drawings are judged by the part
    round their middle.
    """
    member, torn = _members(arrangement, faces, most_edges)
    if not member.any():
        return None
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    sides = member[left].astype(np.int8) + member[right]
    curve, points = arrangement.edge_curve, arrangement.vertices
    drawn = np.flatnonzero((sides > 0) & (curve < arrangement.page_curves))
    if len(drawn) == 0:
        return None
    tail, head = arrangement.origin[0::2], arrangement.origin[1::2]
    border = np.flatnonzero(sides == 1)
    boundary = np.concatenate([points[tail[border]], points[head[border]]], axis=1)
    lines = _drawn_lines(arrangement, drawn)
    segments, piece, kept = lines.segments, lines.piece, lines.edge
    other = np.where(member[left[kept]], right[kept], left[kept])
    rim = sides[kept] == 1
    inner = rim & (other > 0) & ~torn[other]
    frame, open_rim = _framed(arrangement, lines, rim, inner, boundary)
    # loose ends may be those of a crop
    free = bool(open_rim and member[1:].all() and not len(arrangement.loose))
    frame |= np.isin(kept, arrangement.open_sides // 2)
    # of a zone parts of many regions are fields, and what lies between is others'
    figures = _FIGURES
    if not member[1:].all():
        figures = max(figures, int(member.sum()) // _OF_A_FIGURE)
    chords = np.empty((0, 4))
    if loose_lines and len(arrangement.loose):
        chords = _loose_chords(arrangement, member, boundary, figures)
    if len(chords):
        segments = np.concatenate([segments, chords])
        own = _loose_chains(chords, points, arrangement.tolerance.join_within)
        piece = np.concatenate([piece, own + piece.max() + 1])
        frame = np.append(frame, np.zeros(len(chords), bool))
    edge = border[curve[border] >= arrangement.page_curves]
    page = np.concatenate([points[tail[edge]], points[head[edge]]], axis=1)
    # straight lines lie as they do however far they run on
    bent = arrangement.curves.kind[curve[kept]] != LINE
    bent = np.append(bent, np.zeros(len(segments) - len(bent), bool))
    size = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    widest = np.inf
    if size[bent].sum() > _BENT * size.sum():
        widest = _usual_width(arrangement, np.flatnonzero(member))
    found = build_evidence(
        segments,
        piece,
        boundary,
        frame,
        free=free,
        page=page,
        widest=widest,
        figures=figures,
    )
    slip = arrangement.tolerance.match
    return replace(found, torn=bool(torn.any()), slip=slip)
