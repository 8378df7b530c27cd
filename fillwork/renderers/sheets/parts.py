"""The drawing as sheets need it: outlines, numbers and fills at a paper scale."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.renderers.coloured import (
    drawing_box,
    outline_pen,
    outline_strokes,
    swatch_fills,
)
from fillwork.renderers.layout import scale_text
from fillwork.renderers.scene import (
    WHITE,
    Box,
    Fills,
    Item,
    Picture,
    Placed,
    Strokes,
    grey,
)
from fillwork.renderers.sheets.hatching import hatch_strokes, patterns_by_density
from fillwork.renderers.sheets.key import UNPAINTED, KeyEntry, key_entries
from fillwork.renderers.sheets.quiet import (
    LARGEST_NUMBER,
    LINE_INK,
    OUTLINE_WIDTH,
    quiet_sizes,
)
from fillwork.renderers.text.labels import fit_numbers
from fillwork.renderers.text.loose import beside_loose_lines
from fillwork.renderers.text.room import Sides
from fillwork.renderers.text.typeset import default_fonts
from fillwork.renderers.tints import pale_tint

if TYPE_CHECKING:
    import shapely

    from fillwork.arrangement.model import Arrangement, Outlines
    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32
    from fillwork.colouring.model import Colouring
    from fillwork.geometry.affine import Affine
    from fillwork.plans.model import Schedule, SheetSettings
    from fillwork.plans.patch import Patch
    from fillwork.renderers.text.typeset import FontSet
    from fillwork.symmetry.model import Orbits

_BROAD = 0.04
"""A painted line so many times as wide as the drawing is long would not stay in the
margins."""

FAINT = 0.25
"""How black faint outlines are."""


@dataclass(frozen=True, slots=True, eq=False)
class NumberedRegions:
    """Hold the numbers of a drawing at one paper scale."""

    # (F, 2): where the number of each region stands, mm on paper from the lower left
    # corner of the drawing's box
    at: Floats
    # (F,): its height, mm; 0 for regions that are too small
    height: Floats
    text: Ints32  # (F,): row of `texts`; -1 for none
    texts: tuple[str, ...]  # numbers


@dataclass(frozen=True, eq=False)
class Parts:
    """Gather what all sheets of one drawing share."""

    arrangement: Arrangement
    outlines: Outlines  # their true outlines
    orbits: Orbits
    colouring: Colouring
    schedule: Schedule | None  # for the painting order
    settings: SheetSettings  # choices
    real_scale: float  # real mm for one mm of the drawing
    scale_known: bool  # whether the real size is known
    title: str  # title of the drawing
    fonts: FontSet = field(default_factory=default_fonts)
    _pictures: dict[object, Picture] = field(default_factory=dict, init=False)
    _numbers: dict[object, NumberedRegions] = field(default_factory=dict, init=False)

    @cached_property
    def box(self) -> Box:
        """Return the box of all regions, mm of the drawing."""
        return drawing_box(self.arrangement)

    @cached_property
    def ordered(self) -> Bools:
        """Return which regions lie in a zone with a symmetry."""
        found = np.zeros(self.arrangement.face_count, bool)
        for zone in self.orbits.zones:
            if zone.symmetry.group.family != "none":
                found[zone.faces] = True
        return found

    @cached_property
    def label(self) -> Ints:
        """Return one number for each kind and swatch that a region has."""
        count = len(self.colouring.palette.swatches)
        of_kind = self.orbits.of_face.astype(np.int64) * count
        return np.asarray(of_kind + self.colouring.of_face)

    @property
    def size(self) -> tuple[float, float]:
        """Return the width and height of that box."""
        left, bottom, right, top = self.box
        return (max(right - left, 1e-6), max(top - bottom, 1e-6))

    @property
    def reach(self) -> tuple[float, float]:
        """Return the width and height of what is drawn, a broad line's edges included.

        Of a line of the usual widths half lies outside the box, which margins hold.
        """
        width, height = self.size
        _, line = outline_pen(self.arrangement, self.colouring)
        if line < _BROAD * max(width, height):
            return self.size
        # as far as the mitre of a square corner that stands on its tip
        more = line * 2**0.5
        return width + more, height + more

    def scale_words(self, scale: float) -> str:
        """Return the scale of a sheet and the true width of the figure.

        The width only where the true size is known. `scale`: paper length / drawn
        length.
        """
        across = self.size[0] * self.real_scale
        return scale_text(scale, self.real_scale, self.scale_known, across)

    @cached_property
    def entries(self) -> tuple[KeyEntry, ...]:
        """Return the key's entries, areas in real mm² where known."""
        entries = key_entries(self.arrangement, self.colouring, self.real_scale**2)
        if not self.settings.hatch:
            return entries
        # the darker a paint, the denser its hatch; what is left bare stays white
        wet = [e for e in entries if e.details != UNPAINTED]
        wet.sort(key=lambda e: -_lightness(e.hex))
        given = dict(
            zip((e.place for e in wet), patterns_by_density(len(wet)), strict=True)
        )
        return tuple(
            replace(e, pattern=given[e.place])
            if e.place in given
            else replace(e, hex=WHITE)
            for e in entries
        )

    @property
    def mended(self) -> Patch | None:
        """Return the patch that alone is repaired; None where there is none."""
        return self.schedule.mended if self.schedule is not None else None

    def faces_of(self, place: int) -> Ints:
        """Return the regions that bear a swatch."""
        faces = np.flatnonzero(self.colouring.of_face == place)
        return faces[faces > 0]

    def paints(self, place: int) -> bool:
        """Return whether a swatch is painted, which in a repair not all are."""
        patch = self.mended
        return patch is None or bool(patch.face_share[self.faces_of(place)].any())

    def map_to_paper(self, scale: float) -> Affine:
        """Return the map from the drawing to its box on paper, mirrored if wished.

        `scale`: paper length / drawn length.
        """
        left, bottom, right, _ = self.box
        if self.settings.mirror:
            return (-scale, 0.0, 0.0, scale, right * scale, -bottom * scale)
        return (scale, 0.0, 0.0, scale, -left * scale, -bottom * scale)

    def outline_picture(self, scale: float, black: float | None = None) -> Picture:
        """Return the outlines of all regions, one line width on paper.

        In the drawing's coordinates. `scale`: paper mm for one mm of the drawing.
        `black`: how black the line is; 80 % by default.
        """
        colour = LINE_INK if black is None else grey(black)
        key = ("outlines", round(scale, 12), colour)
        if key not in self._pictures:
            pen = replace(self._lines, width=OUTLINE_WIDTH / scale, colour=colour)
            self._pictures[key] = Picture((pen,), self.box)
        return self._pictures[key]

    @cached_property
    def _lines(self) -> Strokes:
        return outline_strokes(self.arrangement, 1.0, LINE_INK)

    def coloured_picture(self) -> Picture:
        """Return fills with the painted line on top, in the drawing's mm."""
        items: list[Item] = [*swatch_fills(self.outlines, self.orbits, self.colouring)]
        pen, width = outline_pen(self.arrangement, self.colouring)
        if pen:
            items.append(outline_strokes(self.arrangement, width, pen))
        return Picture(tuple(items), self.box)

    def paint(
        self,
        entry: KeyEntry,
        scale: float,
        faces: AnyInts | None = None,
        *,
        whole: bool = False,
    ) -> Fills | Strokes:
        """Return the regions of one paint in its colour, or in its hatch.

        In the drawing's mm. `scale`: paper mm for one mm of the drawing, for a hatch.
        `faces`: only these regions. `whole`: all regions of the drawing, whatever they
        bear in the end.
        """
        rows = self._faces_of(entry, whole, faces)
        if entry.pattern >= 0:
            return hatch_strokes(self, rows, entry.pattern, scale)
        return Fills(self.outlines, rows, entry.hex, code=entry.code, name=entry.name)

    def _faces_of(self, entry: KeyEntry, whole: bool, faces: AnyInts | None) -> AnyInts:
        """Return the regions of a paint, or all, or those of them among `faces`."""
        rows = np.flatnonzero(self.colouring.of_face == entry.place)
        if whole:
            rows = np.arange(self.arrangement.face_count)
        rows = rows[rows > 0]
        return rows if faces is None else np.intersect1d(rows, faces)

    def pale(
        self, entry: KeyEntry, whole: bool = False, faces: AnyInts | None = None
    ) -> Picture:
        """Return the regions of a paint that is done, in a pale tint of it.

        In the drawing's mm; the same one each time. `whole`: all regions of the
        drawing. `faces`: only these regions, the same ones each time.
        """
        key = ("pale", entry.place, whole)
        if key not in self._pictures:
            tint = grey(0.12) if entry.pattern >= 0 else pale_tint(entry.hex)
            rows = self._faces_of(entry, whole, faces)
            fill = Fills(self.outlines, rows, tint)
            self._pictures[key] = Picture((fill,), self.box)
        return self._pictures[key]

    @cached_property
    def sides(self) -> Sides:
        """Return the straight sides of all regions in the drawing's mm."""
        return Sides.of(self.outlines, self._chord_error())

    def sides_on_paper(self, scale: float, sides: Sides | None = None) -> Sides:
        """Return those sides, or some like them, on paper.

        `scale`: paper mm for one mm of the drawing.
        """
        *_, x, y = self.map_to_paper(scale)
        sides = self.sides if sides is None else sides
        return sides.mapped(scale, self.settings.mirror, (x, y))

    @cached_property
    def _beside_loose_lines(self) -> tuple[Sides, Floats, Floats]:
        return beside_loose_lines(self.sides, self.arrangement, self._chord_error())

    @cached_property
    def loose_lines(self) -> Floats:
        """Return the lines that bound no region as chords in the drawing's mm.

        x0, y0, x1, y1 in each row.
        """
        return self.arrangement.loose.flatten(self._chord_error())[0]

    @cached_property
    def boxes(self) -> tuple[Floats, Floats]:
        """Return the lower left and upper right corners of all regions' boxes."""
        return self.sides.boxes()

    def shapes(self, faces: AnyInts) -> list[shapely.Polygon]:
        """Return regions as polygons, curves as chords, in the drawing's mm.

        One a region, holes left out.
        """
        import shapely

        sides = self.sides
        limits = self._limits
        first = self.outlines.face_ring_start
        found = []
        for face in np.asarray(faces).tolist():
            rings = [
                sides.segments[limits[r] : limits[r + 1], 0:2]
                for r in range(first[face], first[face + 1])
            ]
            found.append(shapely.Polygon(rings[0], rings[1:]))
        return found

    @cached_property
    def _limits(self) -> Ints:
        # where the sides of each ring begin
        steps = self.outlines.pieces.chord_counts(self._chord_error())
        before = np.concatenate([[0], np.cumsum(steps.astype(np.int64))])
        return np.asarray(before[self.outlines.ring_start])

    def _chord_error(self) -> float:
        return min(0.02, max(self.size) * 2e-5)

    def numbers(
        self,
        scale: float,
        faces: AnyInts | None = None,
        least: float | None = None,
    ) -> NumberedRegions:
        """Return the numbers of all regions at a paper scale.

        `scale`: paper mm for one mm of the drawing. `faces`: only these regions.
        `least`: smallest height, mm.
        """
        key = ("numbers", round(scale, 12))
        if faces is None and key in self._numbers:
            return self._numbers[key]
        texts = tuple(s.code for s in self.colouring.palette.swatches)
        sides, inside, room = self._beside_loose_lines
        sides = sides if faces is None else sides.kept(faces)
        at, height = fit_numbers(
            self.sides_on_paper(scale, sides),
            affine.apply(self.map_to_paper(scale), inside),
            room * scale,
            self.orbits,
            self.colouring.of_face,
            texts,
            self.fonts,
            most=max(LARGEST_NUMBER, self.settings.least_number),
            least=self.settings.least_number if least is None else least,
            faces=faces,
        )
        if least is None:
            height = quiet_sizes(height, self.settings.least_number)
        found = NumberedRegions(at, height, self.colouring.of_face, texts)
        if faces is None:
            self._numbers[key] = found
        return found

    def on_paper(self, picture: Picture, scale: float) -> Placed:
        """Return a picture of the drawing placed on its box on paper."""
        return Placed(picture, self.map_to_paper(scale))

    def sheet_box(self, scale: float) -> Box:
        """Return the drawing's box on paper, from the origin."""
        width, height = self.size
        return (0.0, 0.0, width * scale, height * scale)


def _lightness(colour: str) -> float:
    """Return the luma of a colour: enough to order hatches by."""
    red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
