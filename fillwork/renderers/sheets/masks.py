"""Compose masks: the closed outlines of one paint, for stencil, frisket or cutter."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fillwork.arrangement.model import Outlines
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.geometry.parts import components
from fillwork.geometry.polygons import polygon_sides
from fillwork.geometry.ranges import distinct
from fillwork.notes import Note
from fillwork.renderers.coloured import outline_pen
from fillwork.renderers.encoders.chains import ring_paths
from fillwork.renderers.layout import MARGIN
from fillwork.renderers.scene import (
    BLACK,
    GREY_45,
    OUTLINES,
    Fills,
    Item,
    Picture,
    Placed,
    Scene,
    Strokes,
    circle_lines,
    grey,
    segments,
)
from fillwork.renderers.sheets.hatching import hatch_lines
from fillwork.renderers.sheets.stencil import (
    BRIDGE,
    bridge_strips,
    find_bridges,
    find_tips,
    line_shape,
    name_points,
    opening_shape,
)
from fillwork.units import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.renderers.sheets.key import KeyEntry
    from fillwork.renderers.sheets.parts import Parts

_CUT_LINE = 0.1
"""Width of a line to cut along, mm on paper."""

_LINE = "line"
"""The file name of the painted line's mask."""

_LEAST_LINE = 1.0
"""A painted line narrower than that is drawn with a brush, not masked, mm."""


def find_islands(arrangement: Arrangement, cut_out: Bools) -> tuple[Bools, int]:
    """Return which regions fall out of a mask although they should stay.

    `cut_out` (F,): regions that are cut out. Returns `faces` (F,): regions that hang on
    nothing: no edge joins them, however far round, to the sheet outside. Corners do not
    hold; `count`: pieces that fall out.
    """
    left, right = arrangement.face[0::2], arrangement.face[1::2]
    stay = ~cut_out
    joined = stay[left] & stay[right]
    n = arrangement.face_count
    part = components(left[joined], right[joined], n)
    loose = stay & (part != part[0])
    loose[0] = False
    return loose, len(distinct(part[loose]))


@dataclass(frozen=True, slots=True, eq=False)
class Mask:
    """Hold what stands on one mask."""

    items: tuple[Item, ...]  # on paper, from the lower left corner of the drawing's box
    islands: int  # pieces that would fall out
    bridges: int  # bridges that hold them, cut or proposed
    # (n, 2): where openings touch in a point, mm of the drawing
    tips: Floats


def mask_items(parts: Parts, place: int, scale: float, *, tinted: bool = False) -> Mask:
    """Return the outlines to cut for one swatch, with its islands and bridges.

    Cut lines are exact curves unless openings are grown or bridged. `parts`: the
    drawing. Its settings say how far openings reach beyond their regions, and whether
    bridges are cut or drawn as a proposal. `scale`: paper mm for one mm of the drawing.
    `tinted`: whether openings are tinted: for eyes, not for cutters.
    """
    cut = _find_cut(parts, place)
    inner = _cut_items(parts, cut, scale, tinted)
    if cut.strips and not parts.settings.bridge:
        sides = [side for strip in cut.strips for side in polygon_sides(strip)]
        dash = (1.0 / scale, 0.6 / scale)
        proposed = segments(
            np.concatenate(sides), 0.15 / scale, BLACK, dash=dash, layer="bridges"
        )
        inner.append(proposed)
    if len(cut.tips):
        pen = 0.15 / scale
        inner.append(circle_lines(cut.tips, 1.2 / scale, pen, GREY_45, layer="marks"))
    picture = Picture(tuple(inner), parts.box)
    drawn = Placed(picture, parts.map_to_paper(scale))
    marks = _corner_marks(*(v * scale for v in parts.size))
    return Mask((drawn, marks), cut.loose, len(cut.strips), cut.tips)


@dataclass(frozen=True, slots=True, eq=False)
class _Cut:
    # what is cut out for one swatch, what would fall out with it and what holds it
    out: Bools
    islands: Bools
    loose: int
    openings: Any  # None where the regions' own outlines are cut
    strips: list[Any]
    tips: Floats


def _find_cut(parts: Parts, place: int) -> _Cut:
    """Return the openings of a mask with their bridges."""
    arrangement, settings = parts.arrangement, parts.settings
    out = parts.colouring.of_face == place
    out[0] = False
    islands, loose = find_islands(arrangement, out)
    grow = settings.mask_overlap / parts.real_scale
    # grown openings run into each other
    tips = find_tips(arrangement, out)[: 0 if grow else None]
    if not (grow or loose or (settings.bridge and len(tips))):
        return _Cut(out, islands, loose, None, [], tips)
    openings = opening_shape(parts, np.flatnonzero(out), grow)
    left, bottom, right, top = parts.box
    air = max(1.0 / parts.real_scale, 3 * grow)
    frame = shapely.box(left - air, bottom - air, right + air, top + air)
    bridges, pieces = find_bridges(openings, frame)
    loose = pieces if grow else loose
    if settings.bridge:
        # a small square holds each tip as well
        bridges = np.concatenate([bridges, np.hstack([tips, tips])])
        tips = tips[:0]
    strips = bridge_strips(bridges, (settings.bridge or BRIDGE) / parts.real_scale)
    if settings.bridge and strips:
        openings = shapely.difference(openings, shapely.union_all(strips))
    own = grow or settings.bridge
    return _Cut(out, islands, loose, openings if own else None, strips, tips)


def _cut_items(parts: Parts, cut: _Cut, scale: float, tinted: bool) -> list[Item]:
    """Return the openings, hatched where something would fall out with them."""
    if cut.openings is None:
        curves, start = ring_paths(parts.arrangement, cut.out)
    else:
        curves, start = _outline_paths(cut.openings)
    items: list[Item] = []
    if tinted:
        shape = Outlines(curves, start, np.array([0, len(start) - 1]))
        items.append(Fills(shape, np.arange(1), grey(0.12)))
    if cut.loose and not parts.settings.bridge:
        sides = parts.sides.only(np.flatnonzero(cut.islands)).segments
        lines = hatch_lines(sides, 45.0, 1.6 / scale)
        items.append(segments(lines, 0.1 / scale, GREY_45, layer="islands"))
    return [*items, _cut_line(curves, start, scale)]


def _outline_paths(shape: Any) -> tuple[Curves, Ints]:
    """Return the rings of polygons as closed paths."""
    sides = polygon_sides(shape)
    start = np.concatenate([[0], np.cumsum([len(s) for s in sides])]).astype(np.int64)
    return Curves.from_segments(np.concatenate(sides or [np.empty((0, 4))])), start


def _cut_line(curves: Curves, start: Ints, scale: float) -> Strokes:
    closed = np.ones(len(start) - 1, bool)
    return Strokes(curves, start, closed, _CUT_LINE / scale, BLACK, layer=OUTLINES)


def _corner_marks(width: float, height: float) -> Strokes:
    """Return marks at the corners, so that masks of all paints are laid alike."""
    marks = [
        [x, y, x + dx, y + dy]
        for x, sx in ((-1.0, -1), (width + 1.0, 1))
        for y, sy in ((-1.0, -1), (height + 1.0, 1))
        for dx, dy in ((-3.0 * sx, 0.0), (0.0, -3.0 * sy))
    ]
    return segments(marks, _CUT_LINE, GREY_45, layer="marks")


def mask_words(mask: Mask, bridge: float) -> str:
    """Return what is said of a mask at its foot; sentences; empty where it is plain.

    `bridge`: width of the bridges that are cut, mm; 0 where they are proposed.
    """
    words = []
    if mask.islands and bridge:
        hold = "bridge of {} mm holds" if mask.bridges == 1 else "bridges of {} mm hold"
        words.append(
            f"{mask.bridges} {hold.format(f'{bridge:g}')} what would fall out."
        )
    elif mask.islands:
        words.append(
            f"{plural(mask.islands)}, hatched: leave the dashed bridges, or lay them "
            "by hand."
        )
    if len(mask.tips):
        many = len(mask.tips)
        tips = "one point" if many == 1 else f"{many} points"
        words.append(
            f"Openings touch in {tips}, ringed: leave a hair there, or it tears."
        )
    return " ".join(words)


def compose_masks(
    parts: Parts, unmasked: frozenset[int] = frozenset()
) -> tuple[Scene, ...]:
    """Return one page a paint with nothing but outlines to cut, at real size.

    `parts`: the drawing; of its settings ``mirror``, ``bridge`` and ``mask_overlap``
    are heeded. `unmasked`: swatches that are painted without a mask; in a repair are
    those too that it does not reach. As large as the
    drawing with 10 mm around; for a cutter, as SVG. The last is that of the painted
    line, where it is 1 mm wide at least, with 10 mm around the line. Cut lines are
    closed outlines on the layer ``outlines``; what would fall out is hatched on
    ``islands``, the corners of the drawing stand on ``marks``.
    """
    settings = parts.settings
    names = _file_names([entry.code for entry in parts.entries])
    scenes = []
    found: list[tuple[KeyEntry, int]] = []
    torn: list[tuple[KeyEntry, Floats]] = []
    for entry, name in zip(parts.entries, names, strict=True):
        if entry.place in unmasked or not parts.paints(entry.place):
            continue
        mask = mask_items(parts, entry.place, parts.real_scale)
        islands = 0 if settings.bridge else mask.islands
        if len(mask.tips):
            torn.append((entry, mask.tips))
        if islands:
            found.append((entry, islands))
        what = f"{entry.code} {entry.name}"
        more = f"; {plural(islands)}, hatched" if islands else ""
        scenes.append(_scene(parts, mask.items, name, what, more=more))
    scenes += _line_mask(parts)
    notes = [_island_note(found)] if found else []
    if torn:
        notes.append(_tip_note(torn))
    if scenes and notes:
        scenes[0] = replace(scenes[0], notes=tuple(notes))
    return tuple(scenes)


def _scene(
    parts: Parts,
    items: tuple[Item, ...],
    name: str,
    what: str,
    wide: str = "",
    more: str = "",
    over: float = 0.0,
) -> Scene:
    """Return a mask at real size with a margin round it.

    `over`: how far it reaches beyond the drawing's box, mm.
    """
    width, height = (v * parts.real_scale for v in parts.size)
    picture = Picture(items, (-over, -over, width + over, height + over))
    around = MARGIN + over
    place = affine.translation(around, around)
    size = "real size" if parts.scale_known else "drawing size"
    mirrored = ", mirrored" if parts.settings.mirror else ""
    return Scene(
        width + 2 * around,
        height + 2 * around,
        (Placed(picture, place, alt=f"Mask for {what}"),),
        title=f"{parts.title}: mask for {what}{wide}, {size}{mirrored}{more}",
        name=f"mask-{name}",
    )


def _line_mask(parts: Parts) -> list[Scene]:
    """Return the mask of the painted line, where it is wide enough to be one."""
    scale = parts.real_scale
    _, wide = outline_pen(parts.arrangement, parts.colouring)
    if wide * scale < _LEAST_LINE:
        return []
    shape = line_shape(parts, wide)
    pen = _cut_line(*_outline_paths(shape), scale)
    to_paper = parts.map_to_paper(scale)
    drawn = Placed(Picture((pen,), parts.box), to_paper)
    told = f", {plain(wide * scale)} mm wide"
    # half of the line lies outside the drawing, at mitred corners more
    box, reach = np.array(parts.box), np.array(shape.bounds)
    over = float(np.max((box - reach) * (1, 1, -1, -1))) * scale
    what = "the painted line"
    return [_scene(parts, (drawn,), _LINE, what, told, over=max(over, 0.0))]


def _file_names(codes: Sequence[str]) -> list[str]:
    """Return codes as parts of file names, each once, and none that of the line."""
    names: list[str] = []
    taken = {_LINE, *(code.casefold() for code in codes if _as_name(code) == code)}
    kept: set[str] = set()
    for number, code in enumerate(codes, start=1):
        name, folded = _as_name(code), code.casefold()
        if name == code and folded != _LINE and folded not in kept:
            kept.add(folded)
        else:
            several = (f"{name or 'paint'}-{k}" for k in itertools.count(number))
            name = next(n for n in several if n.casefold() not in taken)
        taken.add(name.casefold())
        names.append(name)
    return names


def _as_name(code: str) -> str:
    """Return what of a code may stand in a file name."""
    return "".join(c for c in code if c.isalnum() or c in "-_")


def plural(islands: int) -> str:
    """Return how many pieces fall out, in words."""
    return f"{islands} island{'s' * (islands != 1)} would fall out"


def _island_note(islands: list[tuple[KeyEntry, int]]) -> Note:
    count = sum(n for _, n in islands)
    each = ", ".join(f"{e.code} {e.name} ({n})" for e, n in islands)
    return Note(
        "renderers",
        "islands",
        f"{plural(count)} of masks: {each}",
        remedy="cut the bridges that are drawn with --bridge 3mm, or lay them by hand",
    )


def _tip_note(torn: list[tuple[KeyEntry, Floats]]) -> Note:
    count = sum(len(points) for _, points in torn)
    each = "; ".join(f"{e.code} {e.name} {name_points(p)}" for e, p in torn)
    return Note(
        "renderers",
        "tips",
        f"openings of masks touch in {count} point{'s' * (count != 1)}: {each}",
        remedy="leave a hair of sheet there, or cut such masks in two",
    )
