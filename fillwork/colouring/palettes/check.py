"""A palette weighed before it is used: contrast, value, cautions.

All figures are of the palette alone; which of its swatches come to touch is for
a drawing to say. ΔE00 below 10 counts as a near-twin: on a wall the two look
like one paint (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.difference import difference_matrix
from fillwork.colouring.palettes.pigments import (
    HAZARDS,
    PIGMENTS,
    generic_name,
    hazards_of,
)
from fillwork.colouring.vision import (
    MODEL,
    TELLABLE,
    VIEWS,
    measure_values,
    smallest_difference,
)

if TYPE_CHECKING:
    from fillwork.colouring.palettes.model import Palette, Swatch
    from fillwork.notes import Note


_LEAST_RANGE = 45.0
_UNASKED = frozenset(
    {"bare", "crayon", "leaf", "marker", "paper", "pencil", "thread", "tile"}
)


@dataclass(frozen=True, slots=True)
class PaletteReport:
    """Hold what was measured of a palette."""

    palette: str  # its name
    swatches: int  # how many
    # for each view: its name, the smallest ΔE00 and the two swatches; NaN and empty
    # names for one swatch
    smallest: tuple[tuple[str, float, str, str], ...]
    model: str  # the model of colour-vision deficiency
    lightest: tuple[str, float]  # lightest and darkest: swatch and its L*
    darkest: tuple[str, float]
    # ``range`` and ``spread`` of L*, shares of ``dark``, ``mid``, ``light``, weighted
    # by the area shares (equal where none are given)
    values: tuple[tuple[str, float], ...]
    chroma: tuple[str, float]  # swatch of the greatest OKLCH chroma
    # swatch and the caution that its pigments call for
    missing_cautions: tuple[tuple[str, str], ...]
    doubts: tuple[str, ...]  # what to look at, with what to do, in sentences
    notes: tuple[Note, ...] = ()  # notes from reading the file


def check_palette(palette: Palette) -> PaletteReport:
    """Measure a palette and say what is doubtful."""
    swatches = palette.swatches
    names = [s.name for s in swatches]
    smallest = []
    for view in VIEWS:
        apart, one, other = smallest_difference(palette, view)
        pair = ("", "") if one < 0 else (names[one], names[other])
        smallest.append((view, round(apart, 3), *pair))
    table = difference_matrix(palette)
    row, column = np.triu_indices(len(swatches), 1)
    close = np.flatnonzero(table[row, column] < TELLABLE)
    close = close[np.argsort(table[row, column][close], kind="stable")]
    twins = [
        (names[row[k]], names[column[k]], float(table[row[k], column[k]]))
        for k in close.tolist()
    ]
    light = [s.lab[0] for s in swatches]
    top, low = int(np.argmax(light)), int(np.argmin(light))
    weight = [s.share or 0.0 for s in swatches]
    values = measure_values(light, weight if any(weight) else [1.0] * len(swatches))
    strong = int(np.argmax([s.oklch[1] for s in swatches]))
    missing = tuple((s.name, text) for s in swatches for text in _missing(s))
    return PaletteReport(
        palette=palette.name,
        swatches=len(swatches),
        smallest=tuple(smallest),
        model=MODEL,
        lightest=(names[top], round(light[top], 3)),
        darkest=(names[low], round(light[low], 3)),
        values=tuple(
            (key, float(values[key]))
            for key in ("range", "spread", "dark", "mid", "light")
        ),
        chroma=(names[strong], round(swatches[strong].oklch[1], 4)),
        missing_cautions=missing,
        doubts=_doubts(palette, twins, light[top] - light[low], values["warnings"]),
        notes=palette.notes,
    )


def _missing(swatch: Swatch) -> list[str]:
    """Return cautions that the pigments call for and the palette lacks."""
    told = " ".join(swatch.cautions).casefold()
    return [
        HAZARDS[hazard]
        for hazard in hazards_of(swatch.pigments)
        if hazard not in told and HAZARDS[hazard].casefold() not in told
    ]


def _doubts(
    palette: Palette,
    twins: list[tuple[str, str, float]],
    extent: float,
    warnings: list[str],
) -> tuple[str, ...]:
    swatches = palette.swatches
    doubts = []
    for one, other, apart in twins[:5]:
        text = f"{one} and {other} are near-twins (ΔE00 {apart:.1f}): take one out or"
        doubts.append(f"{text} make one lighter")
    if len(twins) > 5:
        doubts.append(f"{len(twins) - 5} more pairs are near-twins")
    if extent < _LEAST_RANGE:
        text = f"lightest and darkest lie {extent:.0f} L* apart, under"
        doubts.append(f"{text} {_LEAST_RANGE:.0f}: add a light or a dark paint")
    doubts += [w for w in warnings if "spread" in w]
    if len(swatches) > 1 and not any(s.role == "ground" for s in swatches):
        doubts.append('no paint has the role "ground": the largest share will serve')
    fugitive = [s.name for s in swatches if s.lightfastness in ("III", "IV", "V")]
    if fugitive:
        text = f"{', '.join(fugitive)}: will fade (ASTM D4303 class III or worse);"
        doubts.append(f"{text} keep from daylight")
    for swatch in swatches:
        slow = [
            p
            for p in swatch.pigments
            if (known := PIGMENTS.get(generic_name(p).partition(":")[0])) is not None
            and known.limefast is False
        ]
        if swatch.medium in ("lime wash", "silicate paint") and slow:
            text = f"{swatch.name}: {', '.join(slow)} may not stand lime;"
            doubts.append(f"{text} take an earth or another limefast pigment")
    unknown = [s.name for s in swatches if not s.pigments and s.medium not in _UNASKED]
    if unknown:
        text = f"pigments of {', '.join(unknown[:6])}"
        text += " and others" if len(unknown) > 6 else ""
        doubts.append(f"{text} are not given, so no cautions follow from them")
    return tuple(doubts)


def report_text(report: PaletteReport) -> str:
    """Return a palette's figures and doubts as text."""
    lines = [f"{report.palette}: {report.swatches} paints", ""]
    lines.append("Smallest difference between any two (ΔE00):")
    for view, apart, one, other in report.smallest:
        told = f"{apart:6.1f}  {one} / {other}" if one else "     -"
        lines.append(f"  {view:<7}{told}")
    lines.append(f"  ({report.model}; grey keeps L* alone)")
    values = dict(report.values)
    lines += [
        "",
        f"Lightest   {report.lightest[0]} (L* {report.lightest[1]:.0f})",
        f"Darkest    {report.darkest[0]} (L* {report.darkest[1]:.0f})",
        f"Value      range {values['range']:.0f} L*, spread {values['spread']:.0f} L*; "
        f"dark {100 * values['dark']:.0f} %, mid {100 * values['mid']:.0f} %, "
        f"light {100 * values['light']:.0f} %",
        f"Strongest  {report.chroma[0]} (chroma {report.chroma[1]:.2f})",
    ]
    if report.missing_cautions:
        lines += ["", "Missing cautions:"]
        lines += [f"  {name}: {text}" for name, text in report.missing_cautions]
    if report.doubts:
        lines += ["", "To look at:"]
        lines += [f"  - {text}" for text in report.doubts]
    return "\n".join(lines) + "\n"
