"""Compose masks: the closed outlines of one paint, for stencil, frisket or cutter."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.notes import Note
from fillwork.renderers.chains import ring_paths
from fillwork.renderers.hatching import hatch_lines
from fillwork.renderers.layout import MARGIN
from fillwork.renderers.parts import Parts
from fillwork.renderers.scene import (
    BLACK,
    GREY_45,
    OUTLINES,
    Item,
    Picture,
    Placed,
    Scene,
    Strokes,
    segments,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement, Outlines
    from fillwork.colouring.model import Colouring
    from fillwork.plans.model import SheetSettings
    from fillwork.renderers.key import KeyEntry
    from fillwork.symmetry.model import Orbits

__all__ = ["compose_masks", "find_islands", "mask_items", "plural"]

CUT_LINE = 0.1
"""Width of a line to cut along, mm on paper."""


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
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    left, right = arrangement.face[0::2], arrangement.face[1::2]
    stay = ~cut_out
    joined = stay[left] & stay[right]
    n = arrangement.face_count
    graph = coo_array((np.ones(joined.sum()), (left[joined], right[joined])), (n, n))
    _, part = connected_components(graph, directed=False)
    loose = stay & (part != part[0])
    loose[0] = False
    return loose, len(np.unique(part[loose]))


def mask_items(
    parts: Parts, place: int, scale: float, mirror: bool
) -> tuple[list[Item], int]:
    """Return the outlines to cut for one swatch, and its islands hatched.

    Parameters
    ----------
    parts : Parts
        The drawing.
    place : int
        Swatch.
    scale : float
        Paper mm for one mm of the drawing.
    mirror : bool
        Whether the drawing is turned round.

    Returns
    -------
    items : list of items
        On paper, from the lower left corner of the drawing's box.
    islands : int
        Pieces that would fall out.
    """
    arrangement = parts.arrangement
    cut_out = parts.colouring.of_face == place
    cut_out[0] = False
    curves, start = ring_paths(arrangement, cut_out)
    closed = np.ones(len(start) - 1, bool)
    line = Strokes(curves, start, closed, CUT_LINE / scale, BLACK, layer=OUTLINES)
    islands, count = find_islands(arrangement, cut_out)
    inner: list[Item] = [line]
    if count:
        sides = parts.sides()
        faces = np.flatnonzero(islands)
        n = np.diff(sides.start)[faces]
        index = np.repeat(sides.start[faces] - (np.cumsum(n) - n), n)
        index = index + np.arange(n.sum())
        lines = hatch_lines(sides.segments[index], 45.0, 1.6 / scale)
        inner.insert(0, segments(lines, 0.1 / scale, GREY_45, layer="islands"))
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
    return items, count


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

    Returns
    -------
    tuple of Scene
        As large as the drawing with 10 mm around; for a cutter, as SVG. Cut lines
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
    for entry, name in zip(parts.entries, names, strict=True):
        items, islands = mask_items(parts, entry.place, real_scale, settings.mirror)
        words = f"{title}: mask for {entry.code} {entry.name}, {size}"
        words += ", mirrored" if settings.mirror else ""
        words += f"; {plural(islands)}, hatched" if islands else ""
        picture = Picture(tuple(items), (0, 0, width, height))
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
    if found:
        scenes[0] = replace(scenes[0], notes=(_island_note(found),))
    return tuple(scenes)


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
        remedy="leave bridges to them, or lay them by hand",
    )
