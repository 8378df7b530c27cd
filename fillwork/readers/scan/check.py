"""Cross-check: the fitted lines and their regions against the pixels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import crossings, far, length, misses, unit
from fillwork.readers.scan.pixels import (
    boxes_of,
    deepest,
    nearest,
    patches,
    place,
    seen_at,
    shrunk,
    spans,
    widened,
)
from fillwork.readers.scan.trails import Trails, trail

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fillwork.arrays import AnyInts, Bools, Floats, Floats32
    from fillwork.readers.scan.model import Drawing, Fork
    from fillwork.readers.scan.pixels import Place

# Overlap of two regions that are one, and squares of the pen's width that ink fills
# of a region's corners.
_ALIKE = 0.8
_CORNERS = 0.5
# mm²: a region that shows less paper is too small to be coloured.
LEAST_MM2 = 0.6
# Widths between two middle lines from which on only the rims of their ink meet, and
# within which they may cross instead.
_RIMS, _NEAR = 0.8, 3.0
# Of the pen's ink across: a line drawn from a tip to the next line has it all; how
# long, in widths, such a line is, if the rims of tip and line may be all of it.
_NARROW, _SHORTEST, _LONGEST = 0.8, 1.0, 2.0
# An end that ran past its line was perhaps on its way to the next, if that is no more
# than so many times as far again; widths from other lines' middles where it shows.
_ON_ITS_WAY, _OUT = 2.0, 0.75
# Lines end free where a hand slipped; so many, as a share of all lines too, and so
# much of them on other ink, where that is a second pen's.
_FREE_ENDS, _FREE_SHARE, _FREE_ON = 6, 0.1, 0.4


def draw_lines(lines: Iterable[Floats], shape: tuple[int, ...], width: float) -> Bools:
    """Return lines as pixels.

    `lines` (n, 2): px. `shape`: height and width of the page, px. `width`: width of the
    lines, px. Returns pixels that lines cover.
    """
    from PIL import Image, ImageDraw

    image = Image.new("L", (shape[1], shape[0]), 0)
    pen = ImageDraw.Draw(image)
    for line in lines:
        pen.line(line.ravel().tolist(), fill=1, width=max(2, round(width)))
    return np.asarray(image) > 0


def drawn(drawing: Drawing, shape: tuple[int, ...]) -> Bools:
    """Return the drawing as pixels.

    `shape`: height and width of the page, px. Returns pixels that its lines cover.
    """
    lines = (trail(drawing, p, 3.0) for p in drawing.pieces)
    return draw_lines(lines, shape, _thin(drawing.width))


def unlike_regions(
    first: Bools, second: Bools, scale: float, width: float
) -> list[tuple[Place, float]]:
    """Return regions that the ink has and the fitted lines have not, or reversed.

    `first` (h, w): inked pixels. `second` (h, w): pixels of the fitted lines, as
    `drawn` gives them. `scale`: px a mm. `width`: width of the pen's line, px. Returns
    a point inside, px, and the area, mm²; from both sides.

    Two regions are the same when they overlap by more than 0.8 of the larger, both
    taken up to the middles of their lines, beside what ink fills of their corners.
    Regions that show less than 0.6 mm² are left out.
    """
    from scipy import ndimage

    one, n = ndimage.label(~first)
    two, m = ndimage.label(~second)
    area_one = np.bincount(one.ravel(), minlength=n + 1).astype(np.float64)
    area_two = np.bincount(two.ravel(), minlength=m + 1).astype(np.float64)
    # runs of like pixels are far fewer than pixels
    flat = one.ravel(), two.ravel()
    new = np.logical_or.reduce([f[1:] != f[:-1] for f in flat])
    runs = np.append(0, np.flatnonzero(new) + 1)
    pair = flat[0][runs].astype(np.int64) * (m + 1) + flat[1][runs]
    keys, number = np.unique(pair, return_inverse=True)
    shared = np.bincount(number, np.diff(runs, append=one.size))
    a, b = keys // (m + 1), keys % (m + 1)
    real = (a > 0) & (b > 0)
    a, b, shared = a[real], b[real], shared[real]
    rim = np.minimum(_rims(one, n)[a], _rims(two, m)[b])
    # as large as if the fitted lines were drawn as wide as the pen's
    fitted = area_two[b] - 0.5 * rim * (width - _thin(width))
    larger = np.maximum(area_one[a], fitted)
    lost = larger - np.minimum(shared, fitted) - _CORNERS * width**2
    good = lost < (1.0 - _ALIKE) * (larger + 0.5 * width * rim)
    found: list[tuple[Place, float]] = []
    for labels, area, hit in ((one, area_one, a[good]), (two, area_two, b[good])):
        met = np.zeros(len(area), bool)
        met[hit] = True
        met[0] = True
        unlike = np.flatnonzero(~met & (area > LEAST_MM2 * scale**2))
        boxes = boxes_of(labels) if len(unlike) else []
        found.extend(
            (deepest(labels, int(k), boxes[k - 1]), float(area[k]) / scale**2)
            for k in unlike
        )
    return found


def _thin(width: float) -> int:
    """Return how wide fitted lines are drawn, px: a little less than the pen's."""
    return max(2, round(0.8 * width))


def _rims(labels: AnyInts, count: int) -> Floats:
    """Return how many pixels of each label lie beside another."""
    own = labels[1:-1, 1:-1]
    rim = (own != labels[2:, 1:-1]) | (own != labels[:-2, 1:-1])
    rim |= (own != labels[1:-1, 2:]) | (own != labels[1:-1, :-2])
    return np.bincount(own[rim], minlength=count + 1).astype(np.float64)


def bare_lines(
    lines: Iterable[Floats], mask: Bools, width: float, slack: float
) -> list[tuple[Place, float]]:
    """Return where a fitted line runs over paper.

    `lines` (n, 2): px, places close together. `mask` (h, w): inked pixels. `width`:
    width of the pen's line, px. `slack`: how far the hand may stray from the line
    beside its ink, px. Returns the middle and the length, px, of each run over two
    widths long.
    """
    from scipy import ndimage

    seen = widened(mask, round(slack))
    found = []
    for line in lines:
        runs, count = ndimage.label(~seen_at(seen, line))
        for k in range(1, count + 1):
            run = line[runs == k]
            if length(run) > 2.0 * width:
                found.append((place(run[len(run) // 2]), length(run)))
    return found


def bare_ink(
    mask: Bools, lines: Bools, width: float, slack: float
) -> list[tuple[Place, Floats, float]]:
    """Return ink that no line follows, where it parts two regions.

    `mask` (h, w): inked pixels. `lines` (h, w): pixels that the fitted lines cover.
    `width`: width of the pen's line, px. `slack`: how far the hand may stray, px.
    Returns (2, 2): a place, both tips, and how far it is from side to side of their
    line, px.

    An end drawn past the line where it should stop has one region all round it
    and parts nothing.
    """
    from scipy import ndimage

    reach = max(1, round(slack + 0.1 * width))
    # the middle of the ink, not its rim
    left = shrunk(mask, round(0.25 * width)) & ~widened(lines, reach)
    labels, boxes = patches(left)
    long = np.flatnonzero(spans(boxes) >= 1.2 * width)
    if not len(long):
        return []
    paper, _ = ndimage.label(~mask)
    found = []
    around = round(1.5 * width)
    for k, box in ((k + 1, boxes[k]) for k in long.tolist()):
        grown = tuple(slice(max(0, s.start - around), s.stop + around) for s in box)
        near = widened(labels[grown] == k, around - 1)
        # what lies beyond a line that is followed is not parted by this ink
        sides, _ = ndimage.label(near & ~lines[grown])
        own = np.isin(sides, sides[labels[grown] == k])
        beside = np.bincount(paper[grown][near & own])
        # two regions lie beside it over some length, not only at its end
        if (beside[1:] > width * width).sum() > 1:
            found.append((deepest(labels, k, box), *_tips(labels[box] == k, box)))
    return found


def small_at_forks(
    mask: Bools, forks: list[Fork], width: float
) -> list[tuple[Place, float]]:
    """Return regions so small that the tip hidden in a fork's ink may change them.

    `mask` (h, w): inked pixels. `forks`: forks whose lines were not found to meet, and
    lines drawn to one point. `width`: width of the pen's line, px. Returns a place and
    the area, px².

    What all forks of a region hide is held against a fifth of it, the half width of
    the lines around it included.
    """
    from scipy import ndimage

    if not forks:
        return []
    labels, _ = ndimage.label(~mask)
    boxes = boxes_of(labels)
    hidden: dict[int, dict[Place, float]] = {}
    shown_at: dict[int, Place] = {}
    # along the middle, until there is paper
    steps = np.arange(1.0, 8.0, 0.5)[:, None] * width
    for fork in forks:
        path = nearest(mask, fork.at + steps * fork.way)
        for x, y in path[labels[path[:, 1], path[:, 0]] > 0][:1].tolist():
            index = int(labels[y, x])
            shown_at[index] = float(x), float(y)
            hidden.setdefault(index, {})[place(fork.at)] = fork.hidden
    found = []
    for index, places in hidden.items():
        own = np.pad(labels[boxes[index - 1]] == index, 1)
        shown = float(own.sum())
        rim = shown - float(shrunk(own, 1).sum())
        lost = sum(places.values())
        if lost > (1.0 - _ALIKE) * (shown + 0.5 * width * rim + lost):
            found.append((shown_at[index], shown))
    return found


def rims_that_meet(drawing: Drawing) -> list[tuple[Place, float]]:
    """Return where lines meet of which only the rims of their ink do.

    `drawing`: pieces on their lines and circles, before gaps are closed. Returns a
    place and how far the lines pass each other by, px.

    Lines so far apart that do not cross nearby may be meant not to meet.
    """
    found = []
    for v, met in drawing.through().items():
        if len(met) < 3:
            continue
        at = drawing.vertices[v]
        carriers = [drawing.pieces[k].carrier for k in dict.fromkeys(met)]
        off = [abs(float(misses(at[None], c)[0])) for c in carriers]
        k = int(np.argmax(off))
        if off[k] <= _RIMS * drawing.width:
            continue
        others = [c for n, c in enumerate(carriers) if n != k]
        places = [q for c in others for q in crossings(carriers[k], c)]
        if not any(far(q, at) < _NEAR * drawing.width for q in places):
            found.append((place(at), off[k]))
    return found


def ends_on(drawing: Drawing, other: Bools | None) -> Place | None:
    """Return the first place at which a line ends on another ink, where most do.

    A drawing closes without its construction; lines by a second pen close what those
    of the first leave open.

    `drawing`: before gaps are closed. `other` (h, w): pixels of other inks. Returns px;
    None where few ends lie on such, or few lines end free.
    """
    if other is None:
        return None
    free = [
        drawing.vertices[v]
        for v, pieces in drawing.through().items()
        if len(pieces) == 1
    ]
    if len(free) < _FREE_ENDS or len(free) < _FREE_SHARE * len(drawing.pieces):
        return None
    on = seen_at(widened(other, round(1.5 * drawing.width)), np.array(free))
    return place(free[int(np.argmax(on))]) if on.mean() >= _FREE_ON else None


def drop_narrow_joins(
    drawing: Drawing, strength: Floats32, level: float
) -> list[tuple[Place, float]]:
    """Take out lines from a corner to the next line that no pen drew.

    Where a tip stops a hair before a line, ink or blur joins the rims of both, and
    the skeleton goes on from one to the other. What joins them is narrower than
    what the pen draws.

    `drawing`: changed in place, before gaps are closed. `strength` (h, w): darkness of
    the pen's ink. `level`: darkness in the middle of its lines. Returns the middle and
    the length, px, of each line taken out.
    """
    # of a line whose ends were made one, one vertex is left
    drawing.pieces = [p for p in drawing.pieces if len(p.vertices) > 1]
    through, width = drawing.through(), drawing.width
    found = []
    for piece in drawing.pieces:
        for end in (0, -1):
            tip, inner = piece.vertices[end], piece.inner(end)
            a, b = drawing.vertices[tip], drawing.vertices[inner]
            long = far(a, b)
            if (
                not _SHORTEST * width < long < _LONGEST * width
                or min(len(through[tip]), len(through[inner])) < 3
                or _ink_across(a, b, strength, width) > _NARROW * level
            ):
                continue
            found.append((place((a + b) / 2), long))
            del piece.vertices[end]
            if len(piece.vertices) < 2:
                break
    drawing.pieces = [p for p in drawing.pieces if len(p.vertices) > 1]
    return found


def _ink_across(a: Floats, b: Floats, strength: Floats32, width: float) -> float:
    """Return how dark the least inked place from one point to another is, all across.

    A line as wide as the pen counts as dark as its ink.
    """
    from scipy import ndimage

    along = unit(b - a)
    way = np.arange(0.0, far(a, b))[:, None, None] * along
    side = np.arange(-0.75 * width, 0.75 * width + 0.01, 0.5)[:, None]
    at = a + way + side * np.array([-along[1], along[0]])
    ink = ndimage.map_coordinates(strength, [at[..., 1], at[..., 0]], order=1)
    return 1.5 * float(ink.mean(axis=1).min())


def short_of_lines(drawing: Drawing) -> list[tuple[Place, float]]:
    """Return where an end was taken off that may have been meant for the next line.

    `drawing`: pieces, and the stubs that were taken off. Returns the tip of each, and
    how far the next line is from it, px.
    """
    trails = Trails.along(drawing)
    found = []
    for foot, end in drawing.stubs:
        way = unit(end - foot)
        # the ink goes on half a width past its middle line
        tip = end + 0.5 * drawing.width * way
        reach = _ON_ITS_WAY * far(foot, tip)
        near = trails.around(tip, reach + 2.0)
        off = np.hypot(*(trails.points[near] - tip).T)
        met = trails.ahead(near, tip, way, -1)
        if met and met[0] < reach and off.min() >= _OUT * drawing.width:
            found.append((place(tip), met[0]))
    return found


def _tips(shape: Bools, box: tuple[slice, ...]) -> tuple[Floats, float]:
    """Return the two ends of a long patch, px, and how broad it is across."""
    rows, columns = np.nonzero(shape)
    points = np.stack([columns + box[1].start, rows + box[0].start], 1).astype(float)
    _, vectors = np.linalg.eigh(np.cov((points - points.mean(axis=0)).T))
    along = points @ vectors[:, 1]
    tips = points[[int(np.argmin(along)), int(np.argmax(along))]]
    return tips, float(np.ptp(points @ vectors[:, 0]))
