"""Compose the survey picture: kinds tinted, symmetry drawn, defects numbered."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.boxes import bounds
from fillwork.renderers.coloured import drawing_box, outline_strokes
from fillwork.renderers.layout import MARGIN, format_length, shorten
from fillwork.renderers.scene import (
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
    Text,
    circle_lines,
    dots,
    rectangle,
    segments,
    single_lines,
)
from fillwork.renderers.sheets.repeat import join_runs
from fillwork.renderers.survey.letters import compose_letters, compose_repeat
from fillwork.renderers.survey.mending import mended_words, split_defects
from fillwork.renderers.survey.zones import zone_elements, zone_window
from fillwork.renderers.symbols import Elements, compose_elements, wedge_of
from fillwork.renderers.text.typeset import default_fonts
from fillwork.renderers.tints import kind_tints
from fillwork.units import counted

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement, Defect, Outlines
    from fillwork.renderers.survey.letters import Found
    from fillwork.renderers.text.typeset import FontSet
    from fillwork.symmetry.model import Orbits, Zone

RED = "#c8102e"
"""The one strong red of defects."""

# mm on paper; what is not said to follow from something was chosen by eye
_PAPER = ((297.0, 210.0), (210.0, 297.0))  # A4 lying and standing
_COLUMN, _GAP, _HEAD = 64.0, 8.0, 18.0  # of lists; beside them; of the page's title
_BELOW = 62.0  # for lists below a strip, which is so much larger for it:
_WIDER = 1.15
_LINE = 4.4  # from one line of a list to the next
_RING, _DOT = 2.6, 0.45  # radius round a defect, and of a trifle
_NAMED = 2  # with more zones than that they are listed


def compose_survey(
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    *,
    title: str = "Survey",
    fonts: FontSet | None = None,
) -> Scene:
    """Return the survey picture on one A4 page, the drawing fitted.

    Kinds in pale tints with a letter once in each repeat, one repeat in black with its
    centres and axes, open lines and defects in red, lists beside.

    `arrangement`: the regions; there may be none.
    """
    fonts = fonts or default_fonts()
    box = _extent(arrangement)
    size = (max(box[2] - box[0], 1e-6), max(box[3] - box[1], 1e-6))
    room, (width, height), below = _page_for(size)
    scale = _scale_in(room, size)
    x, y = room[0] - box[0] * scale, room[3] - box[3] * scale
    place = (scale, 0.0, 0.0, scale, x, y)
    every = (*arrangement.defects, *orbits.defects)
    defects, trifles = split_defects(every)
    found = _found(arrangement, orbits, box)
    drawing = _drawing(arrangement, outlines, orbits, scale, box)
    alt = f"{title}: {_counts(arrangement, orbits)}, {counted(len(every), 'defect')}"
    sentence = _sentence(arrangement, orbits, fonts)
    page: list[Item] = [
        Text((MARGIN, height - MARGIN - 5), title, 16, "medium", role="H1"),
        Text(
            (MARGIN, height - MARGIN - 11),
            shorten(f"Survey: {sentence}", 9, width - 2 * MARGIN, fonts),
            9,
            colour=GREY_60,
        ),
        Placed(drawing, place, alt=alt),
    ]
    letters = compose_letters(arrangement, outlines, orbits, place, fonts, found)
    for one in found:
        page += compose_repeat(arrangement, one, place, letters, fonts)
    page.append(letters)
    page += _rings(defects, place)
    page += _dots(trifles, place)
    left = width - MARGIN - _COLUMN
    top = height - MARGIN - _HEAD
    key = (left, MARGIN)
    if below:
        top -= size[1] * scale + _GAP
        left = MARGIN
        key = (left + _COLUMN + _GAP, top - 18.0)
    legend = _legend(found, *key)
    lists = _Lists(left, top, fonts, 24.0 if legend and key[0] == left else 0.0)
    page += lists.zones(orbits) if len(orbits.zones) > _NAMED else []
    page += lists.kinds_and_defects(orbits, defects, trifles, arrangement)
    page += legend
    return Scene(width, height, tuple(page), title, "survey", WHITE)


def _scale_in(room: Box, size: tuple[float, float]) -> float:
    return min((room[2] - room[0]) / size[0], (room[3] - room[1]) / size[1])


def _page_for(size: tuple[float, float]) -> tuple[Box, tuple[float, float], bool]:
    """Return room for a drawing, its page, and whether lists stand below it."""
    rooms: list[Box] = [
        (MARGIN, MARGIN, wide - MARGIN - _COLUMN - _GAP, tall - MARGIN - _HEAD)
        for wide, tall in _PAPER
    ]
    best = max((0, 1), key=lambda k: _scale_in(rooms[k], size))
    # a strip takes the page's whole width, with the lists below it
    wide, tall = _PAPER[0]
    room = (MARGIN, MARGIN + _BELOW, wide - MARGIN, tall - MARGIN - _HEAD)
    if _scale_in(room, size) > _WIDER * _scale_in(rooms[best], size):
        return room, _PAPER[0], True
    return rooms[best], _PAPER[best], False


def _extent(arrangement: Arrangement) -> Box:
    """Return the box of regions and of lines that bound none."""
    if not len(arrangement.loose):
        return drawing_box(arrangement)
    points = arrangement.loose.flatten(0.1)[0].reshape(-1, 2)
    if arrangement.edge_count:
        regions = np.reshape(drawing_box(arrangement), (2, 2))
        points = np.concatenate([points, regions])
    low, high = bounds(points)
    return (*low.tolist(), *high.tolist())


def _sentence(arrangement: Arrangement, orbits: Orbits, fonts: FontSet) -> str:
    if arrangement.face_count < 2:
        return "No closed region: the lines below end where they are marked."
    words = [_counts(arrangement, orbits)]
    if len(orbits.zones) > _NAMED:
        words.append(f"{len(orbits.zones)} zones")
        return "; ".join(words)
    for zone in orbits.zones:
        head = f"zone {zone.index}: " if len(orbits.zones) > 1 else ""
        words.append(head + _zone_words(zone, fonts))
    return "; ".join(words)


def _counts(arrangement: Arrangement, orbits: Orbits) -> str:
    regions = counted(arrangement.face_count - 1, "region")
    return f"{regions} of {counted(len(orbits.orbits), 'kind')}"


def _zone_words(zone: Zone, fonts: FontSet) -> str:
    group = zone.symmetry.group
    if group.family == "none":
        return "no symmetry"
    doubt = "" if zone.symmetry.certain else ", uncertain"
    # a sign that no font has would leave a hole
    sign = f" ({group.orbifold})" if group.orbifold else ""
    sign = "" if fonts.shape(sign).missing else sign
    return f"{group.family} group {group.short}{sign}{doubt}"


def _found(arrangement: Arrangement, orbits: Orbits, box: Box) -> list[Found]:
    """Return the zones that have a symmetry, with the window it is shown in."""
    found = []
    for zone in orbits.zones:
        if zone.symmetry.group.family != "none" and len(zone.faces):
            window = zone_window(arrangement, zone, box)
            found.append((zone, window, zone_elements(zone, window)))
    return found


def _drawing(
    arrangement: Arrangement, outlines: Outlines, orbits: Orbits, scale: float, box: Box
) -> Picture:
    tints = kind_tints(np.arange(len(orbits.orbits)))
    items: list[Item] = [
        Fills(
            outlines,
            orbit.faces,
            tint,
            code=orbit.letter,
            name=orbit.name,
            kind=np.zeros(len(orbit.faces), np.int32),
            kinds=(orbit.letter,),
        )
        for orbit, tint in zip(orbits.orbits, tints, strict=True)
    ]
    if arrangement.edge_count:
        items.append(outline_strokes(arrangement, 0.15 / scale, GREY_60, loose=False))
    loose = arrangement.loose
    if len(loose):
        items.append(single_lines(loose, 0.35 / scale, RED, layer=OUTLINES))
    return Picture(tuple(items), box)


def _rings(defects: tuple[Defect, ...], place: affine.Affine) -> list[Item]:
    if not defects:
        return []
    at = affine.apply(place, np.array([d.at for d in defects], dtype=np.float64))
    n = len(defects)
    texts = tuple(str(k + 1) for k in range(n))
    numbers = np.arange(n, dtype=np.int32)
    return [
        circle_lines(at, _RING, 0.4, RED, layer=NUMBERS),
        Labels(at + (_RING + 0.4), np.full(n, 2.2), numbers, texts, RED, "medium"),
    ]


def _dots(trifles: tuple[Defect, ...], place: affine.Affine) -> list[Item]:
    """Return a small dot at each trifle."""
    if not trifles:
        return []
    at = affine.apply(place, np.array([d.at for d in trifles], dtype=np.float64))
    return [dots(at, _DOT, RED, layer=NUMBERS)]


class _Lists:
    """Write the lists beside or below the drawing, from the top down."""

    def __init__(self, left: float, top: float, fonts: FontSet, below: float) -> None:
        self.left, self.y, self.fonts = left, top - 3.2, fonts
        self.floor = MARGIN + below  # what stands below them, mm

    @property
    def rows(self) -> int:
        """Return how many lines there is room for."""
        return max(0, int((self.y + 3.2 - self.floor) // _LINE))

    def head(self, words: str) -> list[Item]:
        """Return a heading."""
        item = Text((self.left, self.y), words, 9, "medium", role="H2")
        self.y -= _LINE
        return [item]

    def line(self, words: str, count: str = "", row: int = -1) -> list[Item]:
        """Return a line, with a number at its end."""
        room = _COLUMN - 6 - (self.fonts.width(count, 7) + 3 if count else 0)
        text = shorten(words, 7, room, self.fonts)
        role = "TD" if row >= 0 else "P"
        at = (self.left + 6, self.y)
        items: list[Item] = [Text(at, text, 7, role=role, row=max(row, 0))]
        if count:
            end = (self.left + _COLUMN, self.y)
            items.append(
                Text(end, count, 7, colour=GREY_60, align="right", role=role, row=row)
            )
        self.y -= _LINE
        return items

    def more(self, words: str) -> list[Item]:
        """Return a line that says what is not listed."""
        item = Text((self.left + 6, self.y), words, 7, colour=GREY_60)
        self.y -= _LINE
        return [item]

    def zones(self, orbits: Orbits) -> list[Item]:
        """Return every zone by its number, those of one group on one line."""
        groups: dict[str, list[int]] = {}
        for zone in orbits.zones:
            role = f"{zone.role}: " if zone.role else ""
            words = role + _zone_words(zone, self.fonts)
            groups.setdefault(words, []).append(zone.index)
        items = self.head("Zones")
        most = max(3, self.rows // 2)
        for k, (words, numbers) in enumerate(groups.items()):
            if k == most and len(groups) > most + 1:
                items += self.more(f"and {len(groups) - k} sorts more, in the table")
                break
            told = f"{join_runs(numbers)}  {words}"
            for part in self.fonts.wrap(told, 7, _COLUMN - 6)[:2]:
                items += self.line(part)
        self.y -= _LINE / 2
        return items

    def kinds_and_defects(
        self,
        orbits: Orbits,
        defects: tuple[Defect, ...],
        trifles: tuple[Defect, ...],
        arrangement: Arrangement,
    ) -> list[Item]:
        """Return the kinds, what is to mend, and what was mended."""
        kinds, rows = len(orbits.orbits), self.rows
        mended = 2 if trifles else 0
        wanted = len(defects) + bool(defects) + mended
        for_defects = min(wanted, max(rows - kinds - 2 * bool(kinds), rows // 2))
        items = self.kinds(orbits, rows - for_defects - 2) if kinds else []
        if defects:
            items += self.defects(defects, for_defects - 1 - mended)
        if trifles:
            dot = (self.left + 3.0, self.y + 0.9)
            items.append(dots([dot], _DOT, RED, layer=COLOURS))
            for part in self.fonts.wrap(mended_words(trifles)[0], 7, _COLUMN - 6)[:2]:
                items += self.line(part)
        elif not defects and arrangement.face_count > 1:
            items += self.more("No defects found")
        return items

    def kinds(self, orbits: Orbits, room: int) -> list[Item]:
        """Return the kinds, as many as there is room for."""
        count = len(orbits.orbits)
        shown = _fitting(count, room)
        items = self.head("Kinds")
        for number, tint in enumerate(kind_tints(np.arange(shown))):
            x, y, orbit = self.left, self.y, orbits.orbits[number]
            square = (x, y - 0.9, x + 4, y + 2.7)
            items += rectangle(square, fill=tint, edge=GREY_45)
            words = f"{orbit.letter}  {orbit.name}"
            items += self.line(words, str(len(orbit.faces)), number)
        if shown < count:
            items += self.more(f"and {count - shown} more")
        self.y -= _LINE / 2
        return items

    def defects(self, defects: tuple[Defect, ...], room: int) -> list[Item]:
        """Return what is to mend, as much as there is room for."""
        shown = _fitting(len(defects), room)
        items = self.head("To mend")
        for number, defect in enumerate(defects[:shown], start=1):
            end = (self.left + 4, self.y)
            items.append(Text(end, str(number), 7, "medium", RED, align="right"))
            where = f"{defect.at[0]:.1f}, {defect.at[1]:.1f}"
            size = format_length(defect.size)
            items += self.line(f"{defect.type} {size} at {where}: {defect.done}")
        if shown < len(defects):
            items += self.more(f"and {len(defects) - shown} more, ringed")
        return items


def _fitting(count: int, room: int) -> int:
    """Return how many of a list are shown; the last line says that there are more."""
    return count if room >= count else max(room - 1, 0)


def _legend(found: list[Found], left: float, bottom: float) -> list[Item]:
    """Return what the symbols mean, where there are any."""
    if not found:
        return []
    wedged = {
        zone.symmetry.group.short[0]
        for zone, _, _ in found
        if wedge_of(zone.symmetry, 1.0) is not None
    }
    repeats = any(zone.symmetry.lattice is not None for zone, _, _ in found)
    pens: list[tuple[bool, float, tuple[float, ...], str]] = [
        (any(len(e.mirrors) for _, _, e in found), 0.25, (), "mirror"),
        (any(len(e.glides) for _, _, e in found), 0.25, (2.0, 1.2), "glide"),
        (repeats, 0.5, (), "one repeat"),
        # what the two sides of a wedge are
        ("D" in wedged, 0.5, (), "mirror to mirror"),
        ("C" in wedged, 0.5, (), "one turn"),
    ]
    items: list[Item] = []
    y = bottom + 14.0
    for k, (_, width, dash, words) in enumerate(pen for pen in pens if pen[0]):
        level = y + 1 - _LINE * k
        items.append(segments([left, level, left + 9, level], width, dash=dash))
        items.append(Text((left + 11, y - _LINE * k), words, 7, colour=GREY_60))
    orders = sorted({int(n) for _, _, e in found for n in e.orders}, reverse=True)
    none = np.empty((0, 4))
    for k, order in enumerate(orders[:4]):
        at = np.array([[left + 34.0, y + 1 - _LINE * k]])
        mark = Elements(at, np.array([order]), np.zeros(1), none, none)
        items += compose_elements(mark)
        words = "half-turn" if order == 2 else f"turn of 1/{order}"
        items.append(Text((left + 38, y - _LINE * k), words, 7, colour=GREY_60))
    return items
