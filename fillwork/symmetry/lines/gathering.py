"""Evidence gathered from an arrangement: which of its lines testify, and where."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.geometry.curves import LINE
from fillwork.geometry.parts import part_numbers
from fillwork.symmetry.lines.evidence import Evidence, build_evidence
from fillwork.symmetry.lines.window import FIGURES, build_window, convex_hull, on_hull

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32

_SMOOTH = 0.25  # radians: lines that turn more between them meet in a corner
_SMOOTH_CURVE = 0.6  # and so much for chords of one true curve
_BEND = 0.07  # radians: what stands for a bent line turns no more from one to the next
_CHORDS = 0.5
_BENT = 0.3  # share of the lines in curves, from which their width counts
_STANDING = 0.9  # share of the lines in a margin that its one figure has
_TORN = 0.2  # length of open lines beside that of its closed ones, in a torn face
_ALONG_PAGE = 0.25  # share of a torn face's outline that is the page's edge
_OPEN_ELSEWHERE = 0.05  # the same in all others, from which it is the pattern's
_ENDED = 4  # pieces of a straight outer line that others end on: a window cut them
_LONGER = 2.0  # or longer than any inner line: figures lie loose within it
_OF_A_FIGURE = 8  # regions of loose figures at most, on the whole
_CUT = 0.5  # share of the hull that a straight crop lines


def _pieces(
    start: Floats,
    end: Floats,
    ends: tuple[AnyInts, AnyInts],
    curve: AnyInts,
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
    points: Floats, a: AnyInts, b: AnyInts, degree: Ints, curve: AnyInts | None = None
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


def _margin_faces(arrangement: Arrangement, inside: Bools) -> Bools:
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


def _torn_faces(arrangement: Arrangement, inside: Bools) -> Bools:
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
    arrangement: Arrangement, faces: Ints32 | None, most_edges: int
) -> tuple[Bools, Bools]:
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
    arrangement: Arrangement, lines: _Drawn, rim: Bools, inner: Bools, boundary: Floats
) -> tuple[Bools, bool]:
    """Return which lines bound the window, and whether few of its rim is drawn.

    Of the lines on the rim of the faces, the inner ones are beside other faces.
    """
    outer = rim & ~inner
    if not outer.any():
        return inner, False
    size = np.hypot(*(lines.segments[:, 2:] - lines.segments[:, :2]).T)
    hull = convex_hull(boundary.reshape(-1, 2))
    slack = 0.1 * float(np.median(np.bincount(lines.piece, weights=size)))
    # of lines joined from chords, which cut corners of a round window
    frame = inner | outer
    for chord in lines.ends:
        frame[outer] &= on_hull(chord[outer], hull, slack)
    # a window may be no convex one
    of = arrangement.edge_curve[lines.edge]
    straight = arrangement.curves.kind[of] == LINE
    pieces = np.bincount(of, minlength=len(arrangement.curves))
    at_edge = np.bincount(of[outer], minlength=len(pieces))
    length = np.bincount(of, size, len(pieces))
    inside = length[at_edge < pieces]
    longest = float(inside.max()) if len(inside) else np.inf
    cut = (pieces >= _ENDED) | (length > _LONGER * longest)
    frame |= rim & straight & ((at_edge == pieces) & cut)[of]
    drawn = boundary[on_hull(boundary, hull, slack)]
    covered = np.hypot(*(drawn[:, 2:] - drawn[:, :2]).T).sum()
    around = np.hypot(*(np.roll(hull, -1, axis=0) - hull).T).sum()
    return frame, bool(covered < _CUT * around)


def _loose_chords(
    arrangement: Arrangement, member: Bools, boundary: Floats, figures: int
) -> Floats:
    """Return the lines that bound no face, of a zone those that lie in it."""
    chords, _, _ = arrangement.loose.flatten(max(arrangement.tolerance.flatten, 1e-9))
    size = np.hypot(chords[:, 2] - chords[:, 0], chords[:, 3] - chords[:, 1])
    chords = chords[size > 0]
    if len(chords) and member[1:].sum() < arrangement.face_count - 1:
        # near the zone's edge the same lines bound faces
        hull = convex_hull(boundary.reshape(-1, 2))
        window = build_window(boundary, hull, 0.0, figures)
        middle = (chords[:, :2] + chords[:, 2:]) / 2
        chords = chords[window.depth_at(middle) > 0]
    return chords


def gather_evidence(
    arrangement: Arrangement,
    faces: Ints32 | None = None,
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
    figures = FIGURES
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
    # chords of curves lie beside those that a turn carries onto them
    chord = _CHORDS * arrangement.tolerance.flatten if np.isfinite(widest) else 0.0
    slip = max(arrangement.tolerance.match, chord)
    return replace(found, torn=bool(torn.any()), slip=slip)
