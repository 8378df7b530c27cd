"""Final ink told from pencil and guide colours."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.light import channels_of
from fillwork.readers.scan.paint import as_pen, find_areas, hollow_areas, ink_on_paint
from fillwork.readers.scan.pixels import middle_of, patches, spans, widened

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Floats32, Ints
    from fillwork.readers.scan.pixels import Place

# Colour counts more than darkness, and centres nearer than this are one ink.
_CHROMA = 1.5
_ONE_INK = 0.15
_LEAST = 0.12
# Of its darkness: what a place differs by across four pixels beside a line's middle.
_STEEP = 0.5
# Of the pen's strength: what is inked.
_INKED = 0.45
# Grain is coarse from this on, five times over, and from that on hides all; mm that
# even it out, less than half of a thin pen; lines are so many times as dark as three
# quarters of it.
_COARSE, _HIDES, _EVEN, _CLEAR = 0.5, 1.5, 0.1, 3.0
# Of the darkest: paper's own darkness beside a dense drawing.
_PALE = 0.12
_SAMPLE = 60_000
# A sheet is painted from this share on; points of lines that show the inks' colours.
_PAINTED, _ENOUGH = 0.001, 500
# Other ink as dark as this share of the pen's may be a second pen's.
_STRONG = 0.7
# Of a cosine: inks of one hue. Of the pen's strength: pencil is seldom as dark. Of its
# width: pieces of lines that may be its own are as broad and as long; mm: together.
_ONE_HUE, _HALF, _BROAD, _PIECE, _LONG = 0.96, 0.4, 0.7, 5.0, 30.0
# Of a cosine: hues of one named and a darker ink, told from each other.
_DARKER_HUE = 0.99
# Widths of the pen: what another ink encloses is broader.
_HOLE = 3.0
# mm: what is no longer is where the pen ran lighter, and no line of another ink.
_SPECK = 2.5


@dataclass(frozen=True, slots=True, eq=False)
class Inks:
    """Hold what is pen and what is not."""

    strength: Floats32  # (h, w): darkness as the pen's colour darkens
    pen: Bools  # (h, w): pixels of the final ink
    # pixels of pencil and guides; None where there is one ink
    other: Bools | None
    level: float  # strength in the middle of the pen's lines
    doubtful: bool  # whether the two are hard to tell apart
    # areas painted so dark that lines on them are hard to see: a place, and the size,
    # px
    hidden: tuple[tuple[Place, float], ...] = ()
    # pixels of the final ink and of all that is as strong; None without such
    colours: Bools | None = None
    # the least strength of lines of the pen's hue, lighter than the pen but too dark to
    # be sure of pencil, and that of lines lighter still; 0 without
    lighter: float = 0.0
    lightest: float = 0.0
    # (3,): darkness of each channel in the other inks' lines
    others: tuple[Floats, ...] = ()


def part_inks(dark: Floats32, scale: float, pen: str = "auto") -> Inks:
    """Part the pixels into final ink and others.

    The masks; an empty pen mask where nothing is inked. `dark` (h, w, 3): darkness of
    each channel. `scale`: px a mm. `pen`: ``auto`` for the darkest ink, or its colour
    as ``#rrggbb``.
    """
    from scipy import ndimage

    # numpy is slow along three
    strength = np.maximum(np.maximum(dark[:, :, 0], dark[:, :, 1]), dark[:, :, 2])
    grain = 5.0 * _noise(strength)
    if _COARSE < grain < _HIDES:
        dark = _evened(dark, _EVEN * scale)
        strength = dark.max(axis=2)
        grain = 5.0 * _noise(strength)
    soft = ndimage.uniform_filter(strength, 3)
    darkest = float(np.percentile(soft[::3, ::3], 99.7))
    if darkest > _CLEAR * grain / 5.0:
        grain = min(grain, 0.5 * darkest)
    least = max(_LEAST, grain)
    ridge = _ridges(soft) & (soft > least)
    # paint's grain is no line
    wide, areas = find_areas(soft > least, scale)
    painted = float(areas.mean()) > _PAINTED
    bare = ridge & ~areas if painted else ridge
    rows, columns = np.nonzero(bare if bare.sum() > _ENOUGH else ridge)
    if not len(rows):
        empty = np.zeros(strength.shape, bool)
        return Inks(strength, empty, None, 0.0, True)
    step = max(1, len(rows) // _SAMPLE)
    rows, columns = rows[::step], columns[::step]
    # ridges keep two pixels from the picture's rim
    around = [dark[rows + a, columns + b] for a in (-1, 0, 1) for b in (-1, 0, 1)]
    colours = np.mean(around, axis=0)
    centres, share = _centres(colours)
    chosen = _choose(centres, share, pen)
    ink = centres[chosen]
    others = [c for k, c in enumerate(centres) if k != chosen]
    level = float(ink.max())
    hidden: list[tuple[Place, float]] = []
    if painted:
        strength, hidden = ink_on_paint(dark, ink, wide)
    inked = strength > _INKED * level
    found = Inks(strength, inked, None, level, False, tuple(hidden))
    if others:
        found = _apart(found, dark, ink, others)
    if found.doubtful:
        found = replace(found, doubtful=_leaves_lines(inked, found.pen, scale))
    if not painted:
        return found
    colours = found.colours
    if colours is not None:
        colours = hollow_areas(colours, wide)
    return replace(found, pen=hollow_areas(found.pen, wide), colours=colours)


def lighter_lines(inks: Inks, width: float, scale: float) -> tuple[Place, bool] | None:
    """Return the middle of the longest piece of lines lighter than the pen's, as broad.

    Besides whether lines that are lighter still lie there too. `width`: of the pen's
    lines, px. `scale`: px a mm. None where there are few.
    """
    from skimage.morphology import skeletonize

    if not inks.lighter:
        return None
    strong = inks.strength > inks.lighter
    lines, at = _long_pieces(strong & ~widened(inks.pen, 2), width, scale)
    if at is None:
        return None
    middle: Bools = skeletonize(lines)  # type: ignore[no-untyped-call]
    if lines.sum() < _BROAD * width * middle.sum():
        return None
    if not inks.lightest:
        return at, False
    weak = (inks.strength > inks.lightest) & ~widened(strong, 3)
    return at, _long_pieces(weak, width, scale)[1] is not None


def closed_beside(inks: Inks, width: float) -> Place | None:
    """Return the middle of the largest closed figure that another ink draws alone.

    Of ink as strong as the pen's. `width`: of the pen's lines, px. None where it draws
    none.
    """
    from scipy import ndimage

    if inks.colours is None:
        return None
    labels, boxes = patches(inks.colours & ~widened(inks.pen, 3))
    best, largest = None, (_HOLE * width) ** 2
    for k, box in enumerate(boxes, 1):
        own = labels[box] == k
        if min(own.shape) < _HOLE * width:
            continue
        holes = float(ndimage.binary_fill_holes(own).sum() - own.sum())
        if holes > largest:
            best, largest = middle_of(box), holes
    return best


def _long_pieces(left: Bools, width: float, scale: float) -> tuple[Bools, Place | None]:
    """Return the pieces that are lines, and the middle of the longest if not few."""
    labels, boxes = patches(left)
    span = spans(boxes)
    # the pen's lines cut them into pieces
    long = span > _PIECE * width
    lines = np.r_[False, long][labels]
    if span[long].sum() < _LONG * scale:
        return lines, None
    return lines, middle_of(boxes[int(np.argmax(span))])


def with_lighter(inks: Inks) -> Inks:
    """Return the inks with lines that are lighter than the pen's taken for its own."""
    return _with_pen(inks, inks.strength > inks.lighter)


def as_one(inks: Inks) -> Inks:
    """Return the inks with all colours as strong as the pen's taken for its own."""
    return inks if inks.colours is None else _with_pen(inks, inks.colours)


def _with_pen(inks: Inks, pen: Bools) -> Inks:
    rest = None if inks.other is None else inks.other & ~widened(pen, 2)
    return replace(inks, pen=pen, other=rest, doubtful=False, colours=None)


def _leaves_lines(inked: Bools, pen: Bools, scale: float) -> bool:
    """Tell whether ink that is not taken for the pen's makes lines.

    Crossings, where ink lies twice, may look like an ink of their own.
    """
    return bool((spans(patches(inked & ~widened(pen, 3))[1]) > _SPECK * scale).any())


def _noise(strength: Floats32) -> float:
    """Return how dark bare paper looks by its grain: three quarters are less."""
    some = strength[::7, ::7]
    bare, noise, ink = (float(v) for v in np.percentile(some, (50, 75, 99.7)))
    # of grain alone half is darker than a fifth of the darkest; a dense drawing has
    # more ink than a quarter, and paper beside it
    if noise > 0.5 * ink and bare < _PALE * ink:
        noise = float(np.percentile(some[some < 0.5 * ink], 75))
    return noise


def _evened(dark: Floats32, reach: float) -> Floats32:
    """Return darkness against the middle of a coarse grain, which is evened out."""
    from scipy import ndimage

    calm = np.empty_like(dark)
    for channel in range(3):
        even = ndimage.gaussian_filter(dark[:, :, channel], reach)
        paper = float(np.median(even[::7, ::7]))
        calm[:, :, channel] = np.clip((even - paper) / max(1.0 - paper, 0.01), 0.0, 1.0)
    return calm


def _ridges(soft: Floats32) -> Bools:
    found = np.zeros(soft.shape, bool)
    middle = soft[2:-2, 2:-2]
    across = (middle >= soft[2:-2, :-4]) & (middle > soft[2:-2, 4:])
    across &= (middle >= soft[2:-2, 1:-3]) & (middle >= soft[2:-2, 3:-1])
    down = (middle >= soft[:-4, 2:-2]) & (middle > soft[4:, 2:-2])
    down &= (middle >= soft[1:-3, 2:-2]) & (middle >= soft[3:-1, 2:-2])
    # beside its middle a line is steep, and even along it
    steep = _STEEP * middle
    flank = np.abs(soft[4:, 2:-2] - soft[:-4, 2:-2]) > steep
    flank |= np.abs(soft[2:-2, 4:] - soft[2:-2, :-4]) > steep
    found[2:-2, 2:-2] = (across | down) & ~flank
    return found


def _features(colours: NDArray[np.floating]) -> Floats:
    mean = colours.mean(axis=1, keepdims=True)
    return np.hstack([mean, _CHROMA * (colours - mean)]).astype(np.float64)


def _centres(colours: Floats32) -> tuple[list[Floats], list[float]]:
    """Return the colours of the inks, parted in two as long as that tells apart."""
    groups = [np.arange(len(colours))]
    features = _features(colours)
    done: list[Ints] = []
    while groups:
        group = groups.pop()
        enough = len(done) + len(groups) >= 2
        halves = None if enough else _halve(features[group])
        if halves is None:
            done.append(group)
            continue
        groups.extend((group[halves], group[~halves]))
    done.sort(key=lambda g: -float(colours[g].mean()))
    # the upper part of a group: thin or lightly pressed lines pull a mean down
    centres = [np.percentile(colours[g], 70, axis=0).astype(np.float64) for g in done]
    return centres, [len(g) / len(colours) for g in done]


def _halve(features: Floats) -> Bools | None:
    if len(features) < 50:
        return None
    axis = features - features.mean(axis=0)
    _, _, rows = np.linalg.svd(axis[:: max(1, len(axis) // 4000)], full_matrices=False)
    along = axis @ rows[0]
    cut = 0.5 * (np.percentile(along, 2) + np.percentile(along, 98))
    for _ in range(30):
        upper = along > cut
        if not upper.any() or upper.all():
            return None
        new = 0.5 * (along[upper].mean() + along[~upper].mean())
        if abs(new - cut) < 1e-6:
            break
        cut = new
    upper = along > cut
    share = upper.mean()
    apart = along[upper].mean() - along[~upper].mean()
    spread = np.sqrt(along[upper].var() * share + along[~upper].var() * (1 - share))
    # one ink that varies has one hump: its halves touch
    if min(share, 1 - share) < 0.01 or apart < max(_ONE_INK, 3.2 * spread):
        return None
    result: Bools = upper
    return result


def _choose(centres: list[Floats], share: list[float], pen: str) -> int:
    if pen != "auto":
        wanted = 1.0 - channels_of(pen) / 255.0
        near = [float(np.abs(_features((c - wanted)[None])).sum()) for c in centres]
        return int(np.argmin(near))
    # an ink is seen on so much of the lines
    worth = [c.mean() * (s > 0.02) for c, s in zip(centres, share, strict=True)]
    return int(np.argmax(worth))


def _apart(inks: Inks, dark: Floats32, ink: Floats, others: list[Floats]) -> Inks:
    """Return the inks with all that is inked parted into the pen's and others'."""
    from scipy import ndimage

    strength, inked, level = inks.strength, inks.pen, inks.level
    pen, both = inked.copy(), inked.copy()
    second = doubtful = False
    for other in others:
        # a named pen lighter than another ink: that one's rims are as dark as it is
        darker = float(other.max()) > level
        if _cosine(ink, other) < (_DARKER_HUE if darker else _ONE_HUE):
            # two colours: each pixel goes with the nearer direction
            a, b = ink / np.linalg.norm(ink), other / np.linalg.norm(other)
            inked = inked & (as_pen(dark, ink) > _INKED * level)
            pen &= inked
            core = inked & (dark @ (a - b).astype(np.float32) > 0)
            core = ndimage.binary_opening(core, np.ones((2, 2), bool))
            doubtful |= abs(float(ink.mean() - other.mean())) < 0.12
        else:
            grey = float(other.max())
            core = strength > grey + 0.55 * (level - grey)
            doubtful |= level - grey < 0.22
        if other.max() > _STRONG * level:
            second = True
        else:
            both &= widened(core, 2)
        pen &= widened(core, 2)
    greys = sorted(float(o.max()) for o in others if _cosine(ink, o) >= _ONE_HUE)
    lighter = 0.0
    if len(greys) == len(others) and greys[-1] >= _HALF * level:
        lighter = 0.6 * greys[-1]
        if len(greys) > 1:
            lighter = max(lighter, 1.15 * greys[0])
    rest = strength > 0.5 * min(float(o.max()) for o in others)
    rest &= ~widened(pen, 2)
    return replace(
        inks,
        pen=pen,
        other=rest,
        doubtful=doubtful,
        colours=both if second else None,
        lighter=lighter,
        lightest=0.5 * greys[0] if len(greys) > 1 else 0.0,
        others=tuple(others),
    )


def _cosine(one: Floats, other: Floats) -> float:
    return float(one @ other / (np.linalg.norm(one) * np.linalg.norm(other)))
