"""Compose the survey picture: kinds tinted, symmetry drawn, defects numbered."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import RenderError
from fillwork.geometry import affine
from fillwork.renderers.coloured import drawing_box, outline_strokes
from fillwork.renderers.labels import fit_numbers
from fillwork.renderers.layout import MARGIN, format_length, shorten
from fillwork.renderers.repeat import cell_corners
from fillwork.renderers.room import Sides
from fillwork.renderers.scene import (
    BLACK,
    COLOURS,
    GREY_45,
    GREY_60,
    NUMBERS,
    OUTLINES,
    WHITE,
    Box,
    Fills,
    Item,
    Labels,
    Picture,
    Placed,
    Scene,
    Strokes,
    Text,
    circles,
    rectangle,
    segments,
)
from fillwork.renderers.symbols import Elements, compose_elements, find_elements
from fillwork.renderers.tints import kind_tint
from fillwork.renderers.typeset import default_fonts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement, Defect, Outlines
    from fillwork.renderers.typeset import FontSet
    from fillwork.symmetry.model import Orbits, Zone

    Found = tuple[Zone, NDArray[np.float64], Elements]

__all__ = ["compose_survey"]

RED = "#c8102e"
"""The one strong red of defects."""

_PAPER = ((297.0, 210.0), (210.0, 297.0))
_COLUMN = 64.0
_GAP = 8.0
_HEAD = 18.0
_BELOW = 62.0
_WIDER = 1.15
_RING = 2.6
_LINE = 4.4


def compose_survey(
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    *,
    title: str = "Survey",
    fonts: FontSet | None = None,
) -> Scene:
    """Return the survey picture on one A4 page, the drawing fitted.

    Parameters
    ----------
    arrangement : Arrangement
        The regions; there may be none.
    outlines : Outlines
        Their true outlines.
    orbits : Orbits
        Their kinds and zones.
    title : str
        Title of the page.
    fonts : FontSet, optional
        Fonts; the bundled ones by default.

    Returns
    -------
    Scene
        Kinds in pale tints with a letter once in each repeat, one repeat in black
        with its centres and axes, open lines and defects in red, lists beside.
    """
    fonts = fonts or default_fonts()
    box = _extent(arrangement)
    size = (max(box[2] - box[0], 1e-6), max(box[3] - box[1], 1e-6))
    best = None
    for width, height in _PAPER:
        room: Box = (
            MARGIN,
            MARGIN,
            width - MARGIN - _COLUMN - _GAP,
            height - MARGIN - _HEAD,
        )
        scale = min((room[2] - room[0]) / size[0], (room[3] - room[1]) / size[1])
        if best is None or scale > best[0]:
            best = (scale, room, width, height)
    if best is None:
        what = "no page was tried"
        raise RenderError(what)
    # a strip takes the page's whole width, with the lists below it
    width, height = _PAPER[0]
    room = (MARGIN, MARGIN + _BELOW, width - MARGIN, height - MARGIN - _HEAD)
    scale = min((room[2] - room[0]) / size[0], (room[3] - room[1]) / size[1])
    below = scale > _WIDER * best[0]
    if not below:
        scale, room, width, height = best
    x, y = room[0] - box[0] * scale, room[3] - box[3] * scale
    place = (scale, 0.0, 0.0, scale, x, y)
    defects = (*arrangement.defects, *orbits.defects)
    found = [
        (zone, window, find_elements(zone.symmetry, window))
        for zone, window in _windows(arrangement, orbits, box)
    ]
    drawing = _drawing(arrangement, outlines, orbits, scale, box, found)
    regions = arrangement.face_count - 1
    alt = (
        f"{title}: {regions} regions of {len(orbits.orbits)} kinds, "
        f"{len(defects)} defects"
    )
    sentence = _sentence(arrangement, orbits, fonts)
    page: list[Item] = [
        Text((MARGIN, height - MARGIN - 5), title, 16, "medium", role="H1"),
        Text(
            (MARGIN, height - MARGIN - 11),
            shorten(sentence, 9, width - 2 * MARGIN, fonts),
            9,
            colour=GREY_60,
        ),
        Placed(drawing, place, alt=alt),
    ]
    page += _letters(arrangement, outlines, orbits, scale, place, fonts, found)
    page += _rings(defects, place)
    left = width - MARGIN - _COLUMN
    top = height - MARGIN - _HEAD
    key = (left, MARGIN)
    if below:
        top -= size[1] * scale + _GAP
        left = MARGIN
        key = (left + _COLUMN + _GAP, top - 18.0)
    page += _side(orbits, defects, left, top, fonts, arrangement, found, key)
    return Scene(width, height, tuple(page), title, "survey", WHITE)


def _extent(arrangement: Arrangement) -> Box:
    """Return the box of regions and of lines that bound none."""
    boxes = []
    if arrangement.edge_count:
        boxes.append(drawing_box(arrangement))
    if len(arrangement.loose):
        chords, _, _ = arrangement.loose.flatten(0.1)
        points = chords.reshape(-1, 2)
        boxes.append((*points.min(axis=0).tolist(), *points.max(axis=0).tolist()))
    if not boxes:
        return (0.0, 0.0, arrangement.frame.width, arrangement.frame.height)
    table = np.array(boxes)
    low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def _sentence(arrangement: Arrangement, orbits: Orbits, fonts: FontSet) -> str:
    regions, kinds = arrangement.face_count - 1, len(orbits.orbits)
    if regions < 1:
        return "No closed region: the lines below end where they are marked."
    words = [
        f"{regions} region{'s' * (regions != 1)} of {kinds} kind{'s' * (kinds != 1)}"
    ]
    for zone in orbits.zones[:4]:
        group = zone.symmetry.group
        head = f"zone {zone.index}: " if len(orbits.zones) > 1 else ""
        if group.family == "none":
            words.append(f"{head}no symmetry")
        else:
            doubt = "" if zone.symmetry.certain else ", uncertain"
            # a sign that no font has would leave a hole
            sign = f" ({group.orbifold})" if group.orbifold else ""
            sign = "" if fonts.shape(sign).missing else sign
            words.append(f"{head}{group.family} group {group.short}{sign}{doubt}")
    return "; ".join(words)


def _window(arrangement: Arrangement, zone: Zone, box: Box) -> NDArray[np.float64]:
    """Return the corners of one repeat, counter-clockwise, or of the whole zone."""
    symmetry = zone.symmetry
    points = arrangement.witness[zone.faces]
    reach = float(np.sqrt(arrangement.area[zone.faces].max()))
    low, high = points.min(axis=0) - reach / 2, points.max(axis=0) + reach / 2
    low = np.maximum(low, box[0:2])
    high = np.minimum(high, box[2:4])
    zone_box = (*low.tolist(), *high.tolist())
    corners = cell_corners(symmetry, zone_box, arrangement, zone.faces)
    if corners is not None:
        return corners
    return np.array([low, (high[0], low[1]), high, (low[0], high[1])])


def _windows(
    arrangement: Arrangement, orbits: Orbits, box: Box
) -> list[tuple[Zone, NDArray[np.float64]]]:
    return [
        (zone, _window(arrangement, zone, box))
        for zone in orbits.zones
        if zone.symmetry.group.family != "none" and len(zone.faces)
    ]


def _drawing(
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    scale: float,
    box: Box,
    found: list[Found],
) -> Picture:
    items: list[Item] = []
    for number, orbit in enumerate(orbits.orbits):
        items.append(
            Fills(
                outlines,
                orbit.faces,
                kind_tint(number),
                code=orbit.letter,
                name=orbit.name,
                kind=np.zeros(len(orbit.faces), np.int32),
                kinds=(orbit.letter,),
                layer=COLOURS,
            )
        )
    if arrangement.edge_count:
        items.append(outline_strokes(arrangement, 0.15 / scale, GREY_60, loose=False))
    loose = arrangement.loose
    if len(loose):
        items.append(
            Strokes(
                loose,
                np.arange(len(loose) + 1),
                np.zeros(len(loose), bool),
                0.35 / scale,
                RED,
                layer=OUTLINES,
            )
        )
    for zone, window, elements in found:
        if zone.symmetry.lattice is not None:
            lines = np.hstack([window, np.roll(window, -1, axis=0)])
            items.append(segments(lines, 0.5 / scale, BLACK, cap="round"))
        items += compose_elements(elements, scale)
    return Picture(tuple(items), box)


def _letters(
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    scale: float,
    place: affine.Affine,
    fonts: FontSet,
    found: list[Found],
) -> list[Item]:
    """Return the letter of each kind, once in each repeat."""
    if not orbits.orbits:
        return []
    shown = np.zeros(arrangement.face_count, bool)
    family = {z.index: z.symmetry.group.family for z in orbits.zones}
    for orbit in orbits.orbits:
        kind = family.get(orbit.zone, "none")
        if kind == "rosette":
            shown[orbit.representative] = True
            continue
        alike = orbits.shifts_of_face[orbit.faces]
        mine = alike == orbits.shifts_of_face[orbit.representative]
        shown[orbit.faces if kind == "none" else orbit.faces[mine]] = True
    faces = np.flatnonzero(shown)
    sides = Sides.of(outlines, min(0.02, 0.02 / scale))
    texts = tuple(orbit.letter for orbit in orbits.orbits)
    at, height = fit_numbers(
        sides.mapped(scale, False, (place[4], place[5])),
        affine.apply(place, arrangement.witness),
        arrangement.inscribed * scale,
        orbits,
        orbits.of_face,
        texts,
        fonts,
        most=3.5,
        least=1.2,
        clearance=0.1,
        faces=faces,
    )
    # in a kind without a letter so far, any region that is large enough will do
    bare = set(range(len(texts))) - set(orbits.of_face[height > 0].tolist())
    if bare:
        more = np.flatnonzero(np.isin(orbits.of_face, sorted(bare)))
        more = more[~shown[more]]
        if len(more) and len(more) < 20_000:
            at2, height2 = fit_numbers(
                sides.mapped(scale, False, (place[4], place[5])),
                affine.apply(place, arrangement.witness),
                arrangement.inscribed * scale,
                orbits,
                orbits.of_face,
                texts,
                fonts,
                most=3.5,
                least=1.2,
                clearance=0.1,
                faces=more,
            )
            at = np.where((height2 > 0)[:, None], at2, at)
            height = np.maximum(height, height2)
    fits = height > 0
    fits &= ~_covered(orbits, at, height, place, found)
    return [
        Labels(
            at[fits],
            height[fits],
            orbits.of_face[fits].astype(np.int32),
            texts,
            BLACK,
            "medium",
            layer=NUMBERS,
        )
    ]


def _covered(
    orbits: Orbits,
    at: NDArray[np.float64],
    height: NDArray[np.float64],
    place: affine.Affine,
    found: list[Found],
) -> NDArray[np.bool_]:
    """Return which letters lie under axes or centres, if others tell their kind."""
    hidden = np.zeros(len(at), bool)
    shown = np.flatnonzero(height > 0)
    for _, window, elements in found:
        lines = np.concatenate(
            [
                elements.mirrors,
                elements.glides,
                np.hstack([window, np.roll(window, -1, axis=0)]),
            ]
        )
        a = affine.apply(place, lines[:, 0:2])
        b = affine.apply(place, lines[:, 2:4])
        for p, q in zip(a, b, strict=True):
            way = q - p
            t = np.clip((at[shown] - p) @ way / max(float(way @ way), 1e-12), 0, 1)
            far = np.linalg.norm(at[shown] - p - t[:, None] * way, axis=1)
            hidden[shown[far < height[shown] * 0.55]] = True
        for centre in affine.apply(place, elements.centres):
            far = np.linalg.norm(at[shown] - centre, axis=1)
            hidden[shown[far < height[shown] * 0.6 + 1.4]] = True
    told = set(orbits.of_face[shown[~hidden[shown]]].tolist())
    only = ~np.isin(orbits.of_face, sorted(told))
    return hidden & ~only


def _rings(defects: tuple[Defect, ...], place: affine.Affine) -> list[Item]:
    if not defects:
        return []
    at = affine.apply(place, np.array([d.at for d in defects], dtype=np.float64))
    rings, start = circles(at, _RING)
    texts = tuple(str(k + 1) for k in range(len(defects)))
    n = len(defects)
    return [
        Strokes(rings, start, np.ones(n, bool), 0.4, RED, layer=NUMBERS),
        Labels(
            at + np.array([_RING + 0.4, _RING + 0.4]),
            np.full(n, 2.2),
            np.arange(n, dtype=np.int32),
            texts,
            RED,
            "medium",
        ),
    ]


def _side(
    orbits: Orbits,
    defects: tuple[Defect, ...],
    left: float,
    top: float,
    fonts: FontSet,
    arrangement: Arrangement,
    found: list[Found],
    key: tuple[float, float],
) -> list[Item]:
    """Return the lists of kinds and defects, and the symbols' key at its place."""
    items: list[Item] = []
    legend = _legend(found, *key)
    floor = MARGIN + (24.0 if legend and key[0] == left else 0.0)
    rows = int((top - floor) // _LINE)
    kinds = len(orbits.orbits)
    want_defects = len(defects) + (1 if defects else 0)
    want_kinds = kinds + (2 if kinds else 0)
    for_defects = min(want_defects, max(rows - want_kinds, rows // 2))
    for_kinds = rows - for_defects
    y = top - 3.2
    if kinds:
        items.append(Text((left, y), "Kinds", 9, "medium", role="H2"))
        y -= _LINE
        shown = min(kinds, for_kinds - 2)
        if shown < kinds:
            shown -= 1
        for number, orbit in enumerate(orbits.orbits[:shown]):
            items += rectangle(
                (left, y - 0.9, left + 4, y + 2.7), fill=kind_tint(number), edge=GREY_45
            )
            words = f"{orbit.letter}  {orbit.name}"
            count = f"{len(orbit.faces)}"
            room = _COLUMN - 6 - fonts.width(count, 7) - 3
            items.append(
                Text(
                    (left + 6, y),
                    shorten(words, 7, room, fonts),
                    7,
                    role="TD",
                    row=number,
                )
            )
            items.append(
                Text(
                    (left + _COLUMN, y),
                    count,
                    7,
                    colour=GREY_60,
                    align="right",
                    role="TD",
                    row=number,
                )
            )
            y -= _LINE
        if shown < kinds:
            items.append(
                Text((left + 6, y), f"and {kinds - shown} more", 7, colour=GREY_60)
            )
            y -= _LINE
        y -= _LINE / 2
    if defects:
        items.append(Text((left, y), "To mend", 9, "medium", role="H2"))
        y -= _LINE
        shown = min(len(defects), for_defects - 1)
        if shown < len(defects):
            shown -= 1
        for number, defect in enumerate(defects[:shown], start=1):
            items.append(
                Text((left + 4, y), str(number), 7, "medium", RED, align="right")
            )
            where = f"{defect.at[0]:.1f}, {defect.at[1]:.1f}"
            words = (
                f"{defect.type} {format_length(defect.size)} at {where}: {defect.done}"
            )
            items.append(Text((left + 6, y), shorten(words, 7, _COLUMN - 6, fonts), 7))
            y -= _LINE
        if shown < len(defects):
            rest = len(defects) - shown
            items.append(
                Text((left + 6, y), f"and {rest} more, ringed", 7, colour=GREY_60)
            )
    elif arrangement.face_count > 1:
        items.append(Text((left, y), "No defects found", 7, colour=GREY_60))
    return [*items, *legend]


def _legend(found: list[Found], left: float, bottom: float) -> list[Item]:
    """Return what the symbols mean, where there are any."""
    if not found:
        return []
    items: list[Item] = []
    rows: list[tuple[Strokes, str]] = []
    y = bottom + 14.0
    level = [left, y + 1, left + 9, y + 1]
    kinds = (
        (any(len(e.mirrors) for _, _, e in found), 0.25, (), "mirror"),
        (any(len(e.glides) for _, _, e in found), 0.25, (2.0, 1.2), "glide"),
        (
            any(z.symmetry.lattice is not None for z, _, _ in found),
            0.5,
            (),
            "one repeat",
        ),
    )
    for there, width, dash, words in kinds:
        if there:
            drop = 4.4 * len(rows)
            line = [level[0], level[1] - drop, level[2], level[3] - drop]
            rows.append((segments([line], width, BLACK, dash=dash), words))
    for k, (pen, words) in enumerate(rows):
        items.append(pen)
        items.append(Text((left + 11, y - 4.4 * k), words, 7, colour=GREY_60))
    orders = sorted({int(n) for _, _, e in found for n in e.orders}, reverse=True)
    for k, order in enumerate(orders[:4]):
        at = np.array([[left + 34.0, y + 1 - 4.4 * k]])
        turn = 0.0
        mark = Elements(
            at, np.array([order]), np.array([turn]), np.empty((0, 4)), np.empty((0, 4))
        )
        items += compose_elements(mark, 1.0)
        words = "half-turn" if order == 2 else f"turn of 1/{order}"
        items.append(Text((left + 38, y - 4.4 * k), words, 7, colour=GREY_60))
    return items
