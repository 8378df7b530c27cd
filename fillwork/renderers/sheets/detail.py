"""Plan enlarged details: one repeat, or the places where regions are small."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.geometry import affine
from fillwork.geometry.polygons import ring_sides
from fillwork.renderers.layout import HEAD, MARGIN, Page
from fillwork.renderers.scene import (
    GREY_45,
    GREY_60,
    Box,
    Item,
    Picture,
    Placed,
    rectangle,
)
from fillwork.renderers.sheets.key import COLUMN, ENTRY, key_capacity
from fillwork.renderers.sheets.leaders import unnumbered
from fillwork.renderers.sheets.numbering import PageNumbers, all_below, not_above
from fillwork.renderers.sheets.repeat import (
    SYMBOL,
    alike_zones,
    cell_corners,
    clear_centres,
    compose_unit,
    describe_marks,
    on_paper,
)
from fillwork.renderers.symbols import Elements, find_elements

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.renderers.sheets.key import KeyEntry
    from fillwork.renderers.sheets.parts import Parts
    from fillwork.symmetry.model import Symmetry, Zone

MOST_PAGES = 24
"""Most pages of details; beyond them larger paper or a larger scale is better."""

_GAP = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Detail:
    """Hold one page of detail."""

    page: Page
    scale: float  # paper mm for one mm of the drawing
    subtitle: str  # subtitle and note: words for head and foot
    note: str
    items: tuple[Item, ...]  # the picture, on the page
    key: Box | None  # where the key stands
    entries: tuple[KeyEntry, ...]  # what stands in it
    aside: float  # width at the right of the head that a small plan takes, mm


def plan_details(
    parts: Parts,
    papers: list[tuple[float, float]],
    small: Ints | None,
    *,
    beyond: float = 0.0,
) -> tuple[list[Detail], Ints]:
    """Return pages of detail, and the regions that have no number on them.

    `papers`: pages to choose from. `small`: regions that need a number; None for the
    sheet of one repeat. `beyond`: scale
    at which other sheets show all: what would be no larger is left out, but for one.
    Returns `details`: one repeat of each zone first, then places that need more; at
    most `MOST_PAGES` of the latter; `without`: regions that should have a number and
    have none on any of these pages.
    """
    details: list[Detail] = []
    alike: list[Detail] = []
    left_over = np.arange(1, parts.arrangement.face_count) if small is None else small
    numbered = np.zeros(parts.arrangement.face_count)
    for zone, named in alike_zones(parts.orbits.zones, parts.label):
        mine = np.intersect1d(zone.faces, left_over)
        if len(mine) == 0:
            continue
        window, corners, words = _zone_window(parts, zone, small is None)
        if window is None:
            continue
        detail, height = compose_detail(
            parts, papers, window, words + named, corners, zone.symmetry
        )
        (details if detail.scale > beyond * 1.02 else alike).append(detail)
        np.maximum(numbered, height, out=numbered)
    details = details or alike[:1]
    if small is None and not details:
        words = "The whole drawing, fitted"
        detail, height = compose_detail(parts, papers, parts.box, words)
        details.append(detail)
        np.maximum(numbered, height, out=numbered)
    rest = unnumbered(parts, numbered)
    rest = rest[np.isin(rest, left_over)]
    zoomed, without = _zoom(parts, papers, rest)
    return [*details, *zoomed], without


def _zone_window(
    parts: Parts, zone: Zone, rosettes: bool
) -> tuple[Box | None, Floats | None, str]:
    """Return what to show of a zone, the corners of its repeat, and its name."""
    low, high = parts.boxes
    zone_low, zone_high = low[zone.faces].min(axis=0), high[zone.faces].max(axis=0)
    box: Box = (*zone_low.tolist(), *zone_high.tolist())
    corners = cell_corners(zone.symmetry, box, parts.arrangement, zone.faces)
    if corners is not None:
        pad = 0.06 * np.ptp(corners, axis=0).max()
        a = np.maximum(corners.min(axis=0) - pad, zone_low)
        b = np.minimum(corners.max(axis=0) + pad, zone_high)
        if np.all(b - a > 0):
            return (*a.tolist(), *b.tolist()), corners, "One repeat"
    if rosettes and zone.symmetry.group.family == "rosette":
        return box, None, "The whole figure"
    return None, None, ""


def _elements(symmetry: Symmetry | None, window: Floats) -> Elements:
    if symmetry is None:
        none = np.empty((0, 4))
        return Elements(np.empty((0, 2)), np.empty(0, int), np.empty(0), none, none)
    return find_elements(symmetry, window)


def _page_for(
    papers: list[tuple[float, float]], entries: int, size: tuple[float, float]
) -> tuple[float, Box, Box | None, Page]:
    """Return scale, room, key and page of the paper that shows a window largest."""
    pages = [Page(*paper) for paper in papers]
    fits = [(*_room(page, entries, size), page) for page in pages]
    return max(fits, key=lambda fit: round(fit[0], 9))


def _room(
    page: Page, entries: int, size: tuple[float, float]
) -> tuple[float, Box, Box | None]:
    """Return the larger scale of key beside and key below."""
    left, bottom, right, top = page.body
    columns, _ = key_capacity(page.body)
    rows = min(-(-entries // columns), max(1, int((top - bottom) / 3 // ENTRY)))
    options: list[tuple[Box, Box | None]] = [
        (
            (left, bottom, right - COLUMN - _GAP, top),
            (right - COLUMN, bottom, right, top),
        ),
        (
            (left, bottom + rows * ENTRY + _GAP, right, top),
            (left, bottom, right, bottom + rows * ENTRY),
        ),
    ]
    fits = [
        (min(wide / size[0], high / size[1]), room, key)
        for room, key in (*options, (page.body, None))
        for wide, high in [(room[2] - room[0], room[3] - room[1])]
        if key is None or min(wide, high) >= 20
    ]
    return max(fits[:-1] or fits, key=lambda fit: fit[0])


def compose_detail(
    parts: Parts,
    papers: list[tuple[float, float]],
    window: Box,
    words: str,
    corners: Floats | None = None,
    symmetry: Symmetry | None = None,
    *,
    most: float = math.inf,
    under: Sequence[Item] = (),
    over: Sequence[Item] = (),
    shown_only: bool = False,
) -> tuple[Detail, Floats]:
    """Return one detail and the heights of the numbers that stand in it.

    `papers`: pages to choose from. `window`: what is shown, mm of the drawing. `words`:
    subtitle. `corners` (n, 2): corners
    of one repeat, mm of the drawing. `symmetry`: whose axes and centres are drawn.
    `most`: largest scale, paper mm for one mm of the drawing. `under` and `over`: what
    stands below the outlines and on them, mm of the drawing. `shown_only`: whether the
    key has only the paints that the window shows. Returns `detail`: one page; `heights`
    (F,): height of each region's number, mm; 0 for none.
    """
    size = (max(window[2] - window[0], 1e-9), max(window[3] - window[1], 1e-9))
    # only regions that show
    box_low, box_high = parts.boxes
    meets = all_below(box_low, window[2:4]) & all_below(window[0:2], box_high)
    faces = np.flatnonzero(meets)
    entries = parts.entries
    if shown_only:
        # of a ring round the window the box meets it, and nothing shows
        faces = faces[faces > 0]
        shapes = parts.arrangement.polygons(faces, valid=True)
        seen = faces[shapely.intersects(shapes, shapely.box(*window))]
        there = set(parts.colouring.of_face[seen].tolist())
        entries = tuple(entry for entry in entries if entry.place in there)
    scale, room, key, page = _page_for(papers, len(entries), size)
    scale = min(scale, most)
    if scale > 1.001 * parts.real_scale:
        words = f"{words}, enlarged"
    m = parts.map_to_paper(scale)
    shown = affine.apply(m, np.array([window[0:2], window[2:4]]))
    low, high = np.sort(shown, axis=0)
    box: Box = (*low.tolist(), *high.tolist())
    left, bottom, right, top = window
    around = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    elements = _elements(symmetry, around if corners is None else corners)
    numbers, elements = clear_centres(
        parts, parts.numbers(scale, faces), on_paper(elements, m), scale
    )
    marks = [
        (x - SYMBOL, y - SYMBOL, x + SYMBOL, y + SYMBOL)
        for x, y in elements.centres.tolist()
    ]
    labels, owner = PageNumbers(parts, numbers, scale).place(box, marks)
    heights = np.zeros(len(numbers.height))
    np.maximum.at(heights, owner, labels.height)
    outline = Placed(parts.outline_picture(scale), m)
    inner: list[Item] = [outline, labels]
    if under or over:
        below, above = Picture(tuple(under), window), Picture(tuple(over), window)
        inner = [Placed(below, m), outline, Placed(above, m), labels]
    if symmetry is not None:
        ring = np.empty((0, 2)) if corners is None else affine.apply(m, corners)
        inner += compose_unit(labels, elements, ring_sides(ring), parts.fonts)
    alt = f"{parts.title}: {words[0].lower()}{words[1:]}, with numbers"
    items = _framed(Picture(tuple(inner), box), room, alt)
    plan, aside = _locate(parts, page, window)
    note = describe_marks(elements, corners is not None)
    made = Detail(page, scale, words, note, (*items, *plan), key, entries, aside)
    return made, heights


def _framed(picture: Picture, room: Box, alt: str) -> list[Item]:
    """Return a picture in its frame in the upper left corner of a room."""
    low, high = np.array(picture.box[:2]), np.array(picture.box[2:])
    width, height = high - low
    x, y = room[0], room[3] - height
    clip: Box = (float(x), float(y), float(x + width), float(y + height))
    shift = affine.translation(x - low[0], y - low[1])
    return [
        Placed(picture, shift, clip=clip, alt=alt),
        *rectangle(clip, edge=GREY_45, width=0.15),
    ]


def _locate(parts: Parts, page: Page, window: Box) -> tuple[list[Item], float]:
    """Return a small plan of where a window lies in the drawing, and its width."""
    width, height = parts.size
    seen = (window[2] - window[0]) * (window[3] - window[1])
    if seen > 0.98 * width * height:
        return [], 0.0
    most = 0.3 * (page.width - 2 * MARGIN)
    k = min((HEAD - 3.0) / height, most / width)
    right, top = page.width - MARGIN, page.height - MARGIN
    corner = np.array([right - width * k, top - height * k])
    m = parts.map_to_paper(k)
    ends = affine.apply(m, np.array([window[0:2], window[2:4]])) + corner
    low, high = np.sort(ends, axis=0)
    # a window is never smaller than an eye can find
    middle, half = (low + high) / 2, np.maximum((high - low) / 2, 0.4)
    middle = np.clip(middle, corner + half, np.maximum((right, top) - half, corner))
    spot: Box = (*(middle - half).tolist(), *(middle + half).tolist())
    frame: Box = (float(corner[0]), float(corner[1]), right, top)
    items = rectangle(spot, fill=GREY_60)
    return [*items, *rectangle(frame, edge=GREY_45, width=0.15)], width * k + 6.0


def _zoom(
    parts: Parts, papers: list[tuple[float, float]], faces: Ints
) -> tuple[list[Detail], Ints]:
    """Return details, as few as can be, and the regions they leave without."""
    if len(faces) == 0:
        return [], faces
    faces = _targets(parts, faces)
    # what scale each region needs: from the size of its largest number at scale 1
    probe = parts.numbers(1.0, faces, least=1e-6)
    height = np.maximum(probe.height[faces], 0.0)
    rough = parts.arrangement.inscribed[faces] * 0.8
    height = np.where(height > 0, height, rough)
    need = (parts.settings.least_number + 0.3) / np.maximum(height, 1e-9) * 1.15
    need = np.minimum(need, 1e4)
    page = Page(*papers[0])
    left, bottom, right, top = page.body
    room = np.array([right - left - COLUMN - _GAP, top - bottom])
    if room[0] < 20:
        room = np.array([right - left, (top - bottom) * 0.6])
    details: list[Detail] = []
    open_ = np.ones(len(faces), bool)
    # what a plan hoped for and a page did not give is tried once more, closer
    for closer in (1.0, 1.5):
        windows = _plan_windows(parts, faces, np.where(open_, need * closer, 0.0), room)
        for window in windows[: MOST_PAGES - len(details)]:
            words = f"Detail {len(details) + 1}"
            detail, shown = compose_detail(parts, papers, window, words)
            details.append(detail)
            open_ &= shown[faces] <= 0
    return details, faces[open_]


def _plan_windows(parts: Parts, faces: Ints, need: Floats, room: Floats) -> list[Box]:
    """Return the windows of details, the better of two ways to choose them.

    From the smallest region up, pages are fewest; from the largest down, a number
    of pages that does not suffice shows most.
    """
    low, high = (side[faces] for side in parts.boxes)
    # steps of preferred numbers (ISO 3, R5), so that one page serves its like
    step = 10 ** (np.ceil(np.log10(np.maximum(need, 1e-9)) * 5 - 1e-9) / 5)
    drawing = np.array(parts.box)
    found: list[tuple[int, int, list[Box]]] = []
    for order in (np.argsort(-need, kind="stable"), np.argsort(need, kind="stable")):
        open_ = need > 0
        windows: list[Box] = []
        for k in order.tolist():
            if not open_[k] or len(windows) >= MOST_PAGES:
                continue
            half = np.minimum(room / step[k] / 2, (drawing[2:] - drawing[:2]) / 2)
            centre = _centre(low, high, k, half, open_ & (need <= step[k]))
            # stay inside the drawing
            centre = np.clip(centre, drawing[:2] + half, drawing[2:] - half)
            windows.append((*(centre - half).tolist(), *(centre + half).tolist()))
            inside = not_above(centre - half, low) & not_above(high, centre + half)
            open_ &= ~(inside & (need <= step[k]))
            open_[k] = False
        found.append((int(open_.sum()), len(windows), windows))
    best = min(found, key=lambda way: way[:2])
    return sorted(best[2], key=lambda w: -(w[2] - w[0]))


def _centre(low: Floats, high: Floats, row: int, half: Floats, wanted: Bools) -> Floats:
    """Return where a window holds one region and its neighbours lie in the middle."""
    own: Floats = (low[row] + high[row]) / 2
    middle = (low + high) / 2
    near = wanted & all_below(np.abs(middle - own), 1.6 * half)
    if not near.any():
        return own
    # as far from its own middle as the region itself allows
    reach = np.maximum(half * 0.96 - (high[row] - low[row]) / 2, 0.0)
    centre: Floats = np.clip(middle[near].mean(axis=0), own - reach, own + reach)
    return centre


def _targets(parts: Parts, faces: Ints) -> Ints:
    """Return one region a kind and swatch where there is symmetry, else all."""
    lone = faces[~parts.ordered[faces]]
    rest = faces[parts.ordered[faces]]
    if len(rest) == 0:
        return lone
    middle = np.array(
        [(parts.box[0] + parts.box[2]) / 2, (parts.box[1] + parts.box[3]) / 2]
    )
    far = np.linalg.norm(parts.arrangement.witness[rest] - middle, axis=1)
    far = far + parts.orbits.cut[rest] * 1e6
    order = rest[np.argsort(far, kind="stable")]
    _, first = np.unique(parts.label[order], return_index=True)
    return np.concatenate([lone, order[np.sort(first)]])
