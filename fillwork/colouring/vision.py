"""A palette and a colouring as others see them, and in grey.

*protan*, *deutan* and *tritan* are the three colour-vision deficiencies, here
complete (severity 1) and simulated by the matrices of Machado, Oliveira and
Fernandes on linear sRGB; what a given person sees may differ, and for tritan the
authors call their matrices an approximation. *grey* keeps
lightness L* alone: painters' value study.
"""

from __future__ import annotations

import contextlib
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, get_args

import numpy as np

from fillwork.colouring.adjacency import contacts
from fillwork.colouring.difference import (
    ciede2000,
    difference_matrix,
    hex_to_srgb,
    lab_to_xyz,
    linear_to_srgb,
    parse_colour,
    srgb_to_hex,
    srgb_to_lab,
    srgb_to_linear,
    xyz_to_srgb,
)
from fillwork.colouring.places import find_place
from fillwork.errors import PaletteError
from fillwork.geometry.ranges import distinct
from fillwork.notes import Note
from fillwork.values import View

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.colouring.model import Adjacency, Colouring
    from fillwork.colouring.palettes.model import Palette
    from fillwork.symmetry.model import Orbits

VIEWS = get_args(View)
MODEL = "Machado, Oliveira & Fernandes 2009, severity 1, on linear sRGB"
TELLABLE = 10.0
"""ΔE00 under which two painted neighbours are hard to tell apart (common practice)."""

_CUTS = (37.0, 68.0)
_LEAST_RANGE, _LEAST_SPREAD = 40.0, 12.0

# G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A physiologically-based model
# for simulation of color vision deficiency", IEEE Transactions on Visualization and
# Computer Graphics 15(6), 1291-1298, 2009: matrices for severity 1.0
MACHADO: dict[str, Floats] = {
    "protan": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deutan": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritan": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}


def view_srgb(srgb: ArrayLike, view: str) -> Floats:
    """Return colours as they are seen under a view.

    `srgb` (..., 3), 0 to 1: colours. Returns (..., 3): colours, clipped to the gamut.
    Raises `PaletteError` if there is no such view.

    References
    ----------
    .. [1] G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A
       physiologically-based model for simulation of color vision deficiency",
       IEEE Transactions on Visualization and Computer Graphics 15(6),
       1291-1298, 2009.
    """
    colours = np.asarray(srgb, dtype=np.float64)
    if view == "normal":
        return colours.copy()
    if view == "grey":
        lab = srgb_to_lab(colours)
        lab[..., 1:] = 0.0
        return np.clip(xyz_to_srgb(lab_to_xyz(lab)), 0.0, 1.0)
    if view not in MACHADO:
        what = f"view “{view}” is not known"
        raise PaletteError(what, mend="take one of " + ", ".join(VIEWS))
    linear = np.clip(srgb_to_linear(colours) @ MACHADO[view].T, 0.0, 1.0)
    return linear_to_srgb(linear)


def view_palette(palette: Palette, view: str) -> Palette:
    """Return a palette as it is seen under a view.

    The same swatches with the colours seen; all else is kept. Raises `PaletteError` if
    there is no such view.
    """
    if view == "normal":
        return palette
    seen = srgb_to_hex(view_srgb(hex_to_srgb([s.hex for s in palette.swatches]), view))
    swatches = []
    for swatch, hexed in zip(palette.swatches, seen, strict=True):
        colour = parse_colour(hexed)
        swatches.append(replace(swatch, hex=hexed, oklch=colour.oklch, lab=colour.lab))
    return replace(palette, swatches=tuple(swatches))


def measure_values(lightness: ArrayLike, area: ArrayLike) -> dict[str, Any]:
    """Measure the values (lights and darks) of areas of colour.

    `lightness` (n,): L* of each area, 0 to 100. `area` (n,): its size in any unit.
    Returns ``range`` (of L*), ``spread`` (area-weighted standard deviation), ``dark``,
    ``mid``, ``light`` (shares, cut at L* 37 and 68) and ``warnings`` at a range under
    40 or a spread under 12; all common practice.
    """
    light = np.asarray(lightness, dtype=np.float64)
    weight = np.asarray(area, dtype=np.float64)
    light, weight = light[weight > 0], weight[weight > 0]
    if not len(light):
        none: list[str] = []
        zero = dict.fromkeys(("range", "spread", "dark", "mid", "light"), 0.0)
        return {**zero, "warnings": none}
    weight = weight / weight.sum()
    mean = float(light @ weight)
    spread = float(np.sqrt(((light - mean) ** 2) @ weight))
    extent = float(light.max() - light.min())
    dark = float(weight[light < _CUTS[0]].sum())
    pale = float(weight[light >= _CUTS[1]].sum())
    warnings = []
    if extent < _LEAST_RANGE:
        warnings.append(
            f"lights and darks lie {extent:.0f} L* apart, under {_LEAST_RANGE:.0f}: "
            "the pattern may vanish in dim light; use a lighter or a darker swatch"
        )
    if spread < _LEAST_SPREAD:
        warnings.append(
            f"the spread of values is {spread:.0f} L*, under {_LEAST_SPREAD:.0f}: "
            "give more area to the lightest and the darkest swatch"
        )
    return {
        "range": round(extent, 3),
        "spread": round(spread, 3),
        "dark": round(dark, 6),
        "mid": round(1.0 - dark - pale, 6) + 0.0,
        "light": round(pale, 6),
        "warnings": warnings,
    }


def _touching(colouring: Colouring, adjacency: Adjacency) -> tuple[Ints, Ints, Ints]:
    """Return unlike swatches that touch, with a pair of faces for each."""
    pairs, _ = contacts(adjacency, corners=colouring.rules.corners_count)
    faces = pairs.astype(np.intp)
    swatches = colouring.of_face[faces].astype(np.intp).reshape(-1, 2)
    unlike = (swatches[:, 0] != swatches[:, 1]) & (swatches >= 0).all(axis=1)
    faces, swatches = faces[unlike], np.sort(swatches[unlike], axis=1)
    count = max(len(colouring.palette.swatches), 1)
    _, first = np.unique(swatches[:, 0] * count + swatches[:, 1], return_index=True)
    return swatches[first, 0], swatches[first, 1], faces[first]


def measure_views(
    arrangement: Arrangement, orbits: Orbits, adjacency: Adjacency, colouring: Colouring
) -> dict[str, Any]:
    """Measure the smallest difference of touching regions under each view.

    `orbits`: their kinds, for the warnings. `adjacency`: which faces touch. Returns
    ``model`` (str) and, for each of `VIEWS`, a dict with ``smallest_difference`` (ΔE00
    or None when no unlike regions touch), ``between`` (names of the two swatches, or
    None), ``warnings`` (what is hard to tell apart and what to change); ``grey`` also
    has ``values``, as of `measure_values`.
    """
    palette = colouring.palette
    first, second, faces = _touching(colouring, adjacency)
    names = [s.name for s in palette.swatches]
    result: dict[str, Any] = {"model": MODEL}
    normal = difference_matrix(palette)
    changes = _Changes(arrangement, orbits, adjacency, colouring, normal)
    for view in VIEWS:
        seen = difference_matrix(view_palette(palette, view))
        entry: dict[str, Any] = {
            "smallest_difference": None,
            "between": None,
            "warnings": [],
        }
        if len(first):
            apart = np.round(seen[first, second], 3)
            order = np.lexsort((second, first, apart))
            worst = order[0]
            entry["smallest_difference"] = float(apart[worst])
            entry["between"] = [names[first[worst]], names[second[worst]]]
            close = [int(k) for k in order if apart[k] < TELLABLE][:5]
            entry["warnings"] = [
                "; ".join(_warning(changes, view, seen, faces[k])) for k in close
            ]
        if view == "grey":
            light = [s.lab[0] for s in palette.swatches]
            borne = np.maximum(colouring.of_face[1:], 0)
            own = np.where(colouring.of_face[1:] < 0, 0.0, arrangement.area[1:])
            area = np.bincount(borne, own, len(light)).astype(np.float64)
            entry["values"] = measure_values(light, area)
            entry["warnings"] += [
                _named(warning, palette, area)
                for warning in entry["values"]["warnings"]
            ]
        result[view] = entry
    return result


def _named(warning: str, palette: Palette, area: Floats) -> str:
    """Return a warning about values with the swatches that would mend it."""
    what, _, change = warning.partition("; ")
    light = np.array([s.lab[0] for s in palette.swatches])
    darkest, lightest = int(np.argmin(light)), int(np.argmax(light))
    if light[lightest] - light[darkest] < _LEAST_RANGE:
        return f"{what}; this palette has no more: choose one with a wider range"
    missing = [k for k in (darkest, lightest) if area[k] <= 0]
    if missing:
        names = " and ".join(
            f"{palette.swatches[k].name} (L* {light[k]:.0f})" for k in missing
        )
        return f"{what}; bring in {names} by --pin or --share"
    names = f"{palette.swatches[lightest].name} and {palette.swatches[darkest].name}"
    return f"{what}; {change.split(' to the')[0]} to {names}, by --pin or --share"


_SEEN_AS = {"normal": "lie close together", "grey": "have nearly the same value"}


def _warning(
    changes: _Changes, view: str, seen: Floats, faces: Ints
) -> tuple[str, str]:
    """Say which two swatches are hard to tell apart, and what to change.

    `seen` (K, K): differences under the view. `faces`: two regions that touch.
    """
    colouring, orbits = changes.colouring, changes.orbits
    names = [s.name for s in colouring.palette.swatches]
    one, other = (int(s) for s in colouring.of_face[faces])
    how = _SEEN_AS.get(view, f"are hard to tell apart in {view} vision")
    what = f"{names[one]} and {names[other]} {how} (ΔE00 {seen[one, other]:.1f})"
    kinds = list(dict.fromkeys(int(o) for o in orbits.of_face[faces] if o >= 0))
    letters = " and ".join(orbits.orbits[o].letter for o in kinds)
    what = f"where kinds {letters} touch, {what}" if len(kinds) > 1 else what
    better = changes.best(seen, faces)
    if better is not None:
        orbit, swatch, reached = better
        letter = orbits.orbits[orbit].letter
        return what, (
            f"give kind {letter} {names[swatch]} instead, "
            f'--pin "{letter}={names[swatch]}" (ΔE00 {reached:.1f})'
        )
    part = np.minimum(seen[:, one], seen[:, other])
    line = int(np.argmax(part))
    if part[line] >= max(TELLABLE, float(seen[one, other]) + 1.0):
        return what, (
            f'part them with an outline, --outline "{names[line]}" '
            f"(ΔE00 {part[line]:.1f} to both)"
        )
    more = "a palette with more range of lightness"
    return what, f"part them with a dark or a white outline, or choose {more}"


class _Changes:
    """Say which kinds may take another swatch, and which would help.

    `normal` (K, K): differences between swatches as they are.
    """

    def __init__(
        self,
        arrangement: Arrangement,
        orbits: Orbits,
        adjacency: Adjacency,
        colouring: Colouring,
        normal: Floats,
    ) -> None:
        self.arrangement, self.orbits = arrangement, orbits
        self.adjacency, self.colouring, self.normal = adjacency, colouring, normal
        corners = colouring.rules.corners_count
        self.pairs, _ = contacts(adjacency, corners=corners)
        self.used = distinct(colouring.of_face[colouring.of_face >= 0])

    def best(self, seen: Floats, faces: Ints) -> tuple[int, int, float] | None:
        """Return the one change of a kind that helps most under a view, if any."""
        colouring, normal = self.colouring, self.normal
        least_normal = min(colouring.goal, colouring.smallest_difference)
        best: tuple[float, int, int] | None = None
        for orbit in dict.fromkeys(int(o) for o in self.orbits.of_face[faces]):
            if orbit < 0 or orbit in self.adjacency.self_adjacent:
                continue
            around = self._around(orbit)
            if not len(around):
                continue
            kept = normal[:, around].min(axis=1) >= least_normal - 1e-9
            kept &= self._open_to(orbit)
            reach = np.where(kept, seen[:, around].min(axis=1), -1.0)
            swatch = int(np.argmax(reach))
            candidate = (float(reach[swatch]), orbit, swatch)
            if best is None or candidate[0] > best[0] + 1e-9:
                best = candidate
        now = float(seen[tuple(colouring.of_face[faces])])
        if best is None or best[0] < max(TELLABLE, now + 1.0):
            return None
        return best[1], best[2], best[0]

    def _around(self, row: int) -> Ints:
        """Return the swatches of the regions that touch a kind."""
        mine = self.orbits.of_face[self.pairs] == row
        one = mine.any(axis=1) & ~mine.all(axis=1)
        around = distinct(self.colouring.of_face[self.pairs[one][~mine[one]]])
        return np.asarray(around[around >= 0], np.int64)

    def _open_to(self, row: int) -> Bools:
        """Return the swatches that a kind may take instead, by the wishes."""
        rules, palette = self.colouring.rules, self.colouring.palette
        held, banned = self._wishes
        # what bears several swatches has not one to change
        several = distinct(self.colouring.of_face[self.orbits.orbits[row].faces])
        if row in held or len(several) > 1:
            return np.zeros(len(palette.swatches), bool)
        free = np.array([swatch.role != "line" for swatch in palette.swatches])
        with contextlib.suppress(KeyError):  # it may be a colour of its own
            free[palette.index(rules.outline or "")] = False
        free[[swatch for rows, swatch in banned if row in rows]] = False
        if rules.most is not None and len(self.used) >= rules.most:
            rest = np.ones(len(free), bool)
            rest[self.used] = False
            free &= ~rest
        return free

    @cached_property
    def _wishes(self) -> tuple[set[int], list[tuple[tuple[int, ...], int]]]:
        """Return the kinds that wishes hold, and those that must not bear a swatch."""
        rules, change = self.colouring.rules, self.colouring.counterchange
        kinds = () if change is None else change.kinds
        alternating = {letter for letter, *_ in kinds}
        held = {
            row
            for row, orbit in enumerate(self.orbits.orbits)
            if orbit.letter in alternating
        }
        places = [pin.where for pin in rules.pins]
        for where in (*places, *(where for tie in rules.ties for where in tie)):
            held.update(self._kinds_at(where))
        index = self.colouring.palette.index
        return held, [(self._kinds_at(w), index(name)) for w, name in rules.bans]

    def _kinds_at(self, where: str) -> tuple[int, ...]:
        """Return the kinds that a place of a wish means."""
        return find_place(self.arrangement, self.orbits, where).orbits


def view_notes(views: dict[str, Any], view: str) -> tuple[Note, ...]:
    """Return what is hard to see under a view as notes, with what to change.

    `views`: from `measure_views`.
    """
    notes = []
    for warning in views[view]["warnings"]:
        text, _, remedy = warning.partition("; ")
        notes.append(Note("colouring", "hard to see", text, remedy=remedy))
    return tuple(notes)


def smallest_difference(palette: Palette, view: str) -> tuple[float, int, int]:
    """Return the smallest ΔE00 between any two swatches under a view.

    ΔE00 and the places of the two swatches; NaN and -1 for one swatch.
    """
    lab = np.array([s.lab for s in view_palette(palette, view).swatches])
    if len(lab) < 2:
        return float("nan"), -1, -1
    row, column = np.triu_indices(len(lab), 1)
    apart = ciede2000(lab[row], lab[column])
    worst = int(np.argmin(apart))
    return float(apart[worst]), int(row[worst]), int(column[worst])
