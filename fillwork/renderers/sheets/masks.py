"""Compose masks: the closed outlines of one paint, for stencil, frisket or cutter."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.arrangement.model import Outlines
from fillwork.arrangement.vertices import components
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
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
    circles,
    grey,
    segments,
)
from fillwork.renderers.sheets.hatching import hatch_lines
from fillwork.renderers.sheets.parts import Parts
from fillwork.renderers.sheets.stencil import (
    BRIDGE,
    bridge_strips,
    find_bridges,
    find_tips,
    line_shape,
    name_points,
    opening_shape,
    polygon_rings,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.model import Colouring
    from fillwork.plans.model import SheetSettings
    from fillwork.renderers.sheets.key import KeyEntry
    from fillwork.symmetry.model import Orbits


CUT_LINE = 0.1
"""Width of a line to cut along, mm on paper."""

LEAST_LINE = 1.0
"""A painted line narrower than that is drawn with a brush, not masked, mm."""


def find_islands(
    arrangement: Arrangement, cut_out: NDArray[np.bool_]
) -> tuple[NDArray[np.bool_], int]:
    """Return which regions fall out of a mask although they should stay.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    cut_out : ndarray of bool, shape (F,)
        Regions that are cut out.

    Returns
    -------
    faces : ndarray of bool, shape (F,)
        Regions that hang on nothing: no edge joins them, however far round, to
        the sheet outside. Corners do not hold.
    count : int
        Pieces that fall out.
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
    """Hold what stands on one mask.

    Parameters
    ----------
    items : tuple of items
        On paper, from the lower left corner of the drawing's box.
    islands : int
        Pieces that would fall out.
    bridges : int
        Bridges that hold them, cut or proposed.
    tips : ndarray of shape (n, 2)
        Where openings touch in a point, mm of the drawing.
    """

    items: tuple[Item, ...]
    islands: int
    bridges: int
    tips: NDArray[np.float64]


def mask_items(
    parts: Parts, place: int, scale: float, mirror: bool, *, tinted: bool = False
) -> Mask:
    """Return the outlines to cut for one swatch, with its islands and bridges.

    Parameters
    ----------
    parts : Parts
        The drawing. Its settings say how far openings reach beyond their regions,
        and whether bridges are cut or drawn as a proposal.
    place : int
        Swatch.
    scale : float
        Paper mm for one mm of the drawing.
    mirror : bool
        Whether the drawing is turned round.
    tinted : bool
        Whether openings are tinted: for eyes, not for cutters.

    Returns
    -------
    Mask
        Cut lines are exact curves unless openings are grown or bridged.
    """
    arrangement, settings = parts.arrangement, parts.settings
    cut_out = parts.colouring.of_face == place
    cut_out[0] = False
    islands, count = find_islands(arrangement, cut_out)
    grow = settings.mask_overlap / parts.real_scale
    bridges = np.empty((0, 4))
    # grown openings run into each other
    tips = find_tips(arrangement, cut_out)[: 0 if grow else None]
    openings = None
    if grow or count or (settings.bridge and len(tips)):
        openings = opening_shape(parts, np.flatnonzero(cut_out), grow)
        left, bottom, right, top = parts.box
        air = max(1.0 / parts.real_scale, 3 * grow)
        frame = shapely.box(left - air, bottom - air, right + air, top + air)
        bridges, loose = find_bridges(openings, frame)
        count = loose if grow else count
        if settings.bridge:
            # a small square holds each tip as well
            bridges = np.concatenate([bridges, np.hstack([tips, tips])])
            tips = tips[:0]
    strips = bridge_strips(bridges, (settings.bridge or BRIDGE) / parts.real_scale)
    if openings is not None and settings.bridge and strips:
        openings = shapely.difference(openings, shapely.union_all(strips))
    inner: list[Item] = []
    if openings is not None and (grow or settings.bridge):
        rings = polygon_rings(openings)
        sides = [np.hstack([r[:-1], r[1:]]) for r in rings]
        curves = Curves.from_segments(np.concatenate(sides or [np.empty((0, 4))]))
        start = np.concatenate([[0], np.cumsum([len(s) for s in sides])])
        start = start.astype(np.int64)
    else:
        curves, start = ring_paths(arrangement, cut_out)
    if tinted:
        shape = Outlines(curves, start, np.array([0, len(start) - 1]))
        inner.append(Fills(shape, np.arange(1), grey(0.12)))
    if count and not settings.bridge:
        sides_ = parts.sides()
        faces = np.flatnonzero(islands)
        n = np.diff(sides_.start)[faces]
        index = np.repeat(sides_.start[faces] - (np.cumsum(n) - n), n)
        index = index + np.arange(n.sum())
        lines = hatch_lines(sides_.segments[index], 45.0, 1.6 / scale)
        inner.append(segments(lines, 0.1 / scale, GREY_45, layer="islands"))
    closed = np.ones(len(start) - 1, bool)
    pen = CUT_LINE / scale
    inner.append(Strokes(curves, start, closed, pen, BLACK, layer=OUTLINES))
    if strips and not settings.bridge:
        sides = [np.hstack([r[:-1], r[1:]]) for s in strips for r in polygon_rings(s)]
        dash = (1.0 / scale, 0.6 / scale)
        proposed = segments(
            np.concatenate(sides), 0.15 / scale, BLACK, dash=dash, layer="bridges"
        )
        inner.append(proposed)
    if len(tips):
        rings_, limits = circles(tips, 1.2 / scale)
        mark = Strokes(
            rings_,
            limits,
            np.ones(len(tips), bool),
            0.15 / scale,
            GREY_45,
            layer="marks",
        )
        inner.append(mark)
    picture = Picture(tuple(inner), parts.box)
    items: list[Item] = [Placed(picture, parts.map_to_paper(scale, mirror))]
    # corner marks, so that masks of all paints are laid alike
    width, height = (v * scale for v in parts.size)
    marks = [
        [x, y, x + dx, y + dy]
        for x, sx in ((-1.0, -1), (width + 1.0, 1))
        for y, sy in ((-1.0, -1), (height + 1.0, 1))
        for dx, dy in ((-3.0 * sx, 0.0), (0.0, -3.0 * sy))
    ]
    items.append(segments(marks, CUT_LINE, GREY_45, layer="marks"))
    return Mask(tuple(items), count, len(strips), tips)


def mask_words(mask: Mask, bridge: float) -> str:
    """Return what is said of a mask at its foot.

    Parameters
    ----------
    mask : Mask
        The mask.
    bridge : float
        Width of the bridges that are cut, mm; 0 where they are proposed.

    Returns
    -------
    str
        Sentences; empty where it is plain.
    """
    words = []
    if mask.islands and bridge:
        words.append(
            f"{mask.bridges} bridges of {bridge:g} mm hold what would fall out."
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
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    colouring: Colouring,
    settings: SheetSettings,
    *,
    real_scale: float,
    scale_known: bool = True,
    title: str = "",
    unmasked: frozenset[int] = frozenset(),
) -> tuple[Scene, ...]:
    """Return one page a paint with nothing but outlines to cut, at real size.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    outlines : Outlines
        Their true outlines.
    orbits : Orbits
        Their kinds.
    colouring : Colouring
        Their swatches.
    settings : SheetSettings
        ``mirror`` is heeded.
    real_scale : float
        Real mm for one mm of the drawing.
    scale_known : bool
        Whether the real size is known.
    title : str
        Title of the drawing.
    unmasked : frozenset of int
        Swatches that are painted without a mask.

    Returns
    -------
    tuple of Scene
        As large as the drawing with 10 mm around; for a cutter, as SVG. The last is
        that of the painted line, where it is 1 mm wide at least. Cut lines
        are closed outlines on the layer ``outlines``; what would fall out is
        hatched on ``islands``, the corners of the drawing stand on ``marks``.
    """
    parts = Parts(
        arrangement,
        outlines,
        orbits,
        colouring,
        None,
        settings,
        real_scale,
        scale_known,
        title,
    )
    size = "real size" if scale_known else "drawing size"
    names = _file_names([entry.code for entry in parts.entries])
    width, height = (v * real_scale for v in parts.size)
    scenes = []
    found: list[tuple[KeyEntry, int]] = []
    torn: list[tuple[KeyEntry, NDArray[np.float64]]] = []
    for entry, name in zip(parts.entries, names, strict=True):
        if entry.place in unmasked:
            continue
        mask = mask_items(parts, entry.place, real_scale, settings.mirror)
        items, islands = mask.items, 0 if settings.bridge else mask.islands
        words = f"{title}: mask for {entry.code} {entry.name}, {size}"
        words += ", mirrored" if settings.mirror else ""
        words += f"; {plural(islands)}, hatched" if islands else ""
        if len(mask.tips):
            torn.append((entry, mask.tips))
        picture = Picture(items, (0, 0, width, height))
        if islands:
            found.append((entry, islands))
        scenes.append(
            Scene(
                width + 2 * MARGIN,
                height + 2 * MARGIN,
                (
                    Placed(
                        picture,
                        affine.translation(MARGIN, MARGIN),
                        alt=f"Mask for {entry.code} {entry.name}",
                    ),
                ),
                title=words,
                name=f"mask-{name}",
            )
        )
    scenes += _line_mask(parts, settings.mirror, title, size)
    notes = [_island_note(found)] if found else []
    if torn:
        notes.append(_tip_note(torn))
    if scenes and notes:
        scenes[0] = replace(scenes[0], notes=tuple(notes))
    return tuple(scenes)


def _line_mask(parts: Parts, mirror: bool, title: str, size: str) -> list[Scene]:
    """Return the mask of the painted line, where it is wide enough to be one."""
    scale = parts.real_scale
    _, wide = outline_pen(parts.arrangement, parts.colouring)
    if wide * scale < LEAST_LINE:
        return []
    rings = polygon_rings(line_shape(parts, wide))
    sides = [np.hstack([r[:-1], r[1:]]) for r in rings]
    start = np.concatenate([[0], np.cumsum([len(s) for s in sides])]).astype(np.int64)
    curves = Curves.from_segments(np.concatenate(sides))
    closed = np.ones(len(start) - 1, bool)
    pen = Strokes(curves, start, closed, CUT_LINE / scale, BLACK, layer=OUTLINES)
    picture = Picture((pen,), parts.box)
    width, height = (v * scale for v in parts.size)
    drawn = Picture(
        (Placed(picture, parts.map_to_paper(scale, mirror)),), (0, 0, width, height)
    )
    place = affine.translation(MARGIN, MARGIN)
    words = f"{title}: mask for the painted line, {wide * scale:.2g} mm wide, {size}"
    words += ", mirrored" if mirror else ""
    alt = "Mask for the painted line"
    return [
        Scene(
            width + 2 * MARGIN,
            height + 2 * MARGIN,
            (Placed(drawn, place, alt=alt),),
            title=words,
            name="mask-line",
        )
    ]


def _file_names(codes: Sequence[str]) -> list[str]:
    """Return codes as parts of file names, each once."""
    names: list[str] = []
    for number, code in enumerate(codes, start=1):
        name = "".join(c for c in code if c.isalnum() or c in "-_")
        taken = {n.casefold() for n in names}
        if name != code or name.casefold() in taken:
            name = f"{name or 'paint'}-{number}"
        names.append(name)
    return names


def plural(islands: int) -> str:
    """Return how many pieces fall out, in words.

    Parameters
    ----------
    islands : int
        Pieces.

    Returns
    -------
    str
        A clause.
    """
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


def _tip_note(torn: list[tuple[KeyEntry, NDArray[np.float64]]]) -> Note:
    count = sum(len(points) for _, points in torn)
    each = "; ".join(f"{e.code} {e.name} {name_points(p, 2)}" for e, p in torn)
    return Note(
        "renderers",
        "tips",
        f"openings of masks touch in {count} point{'s' * (count != 1)}: {each}",
        remedy="leave a hair of sheet there, or cut such masks in two",
    )
