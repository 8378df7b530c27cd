"""Woven bands as line work again, so that every stage takes them as drawn."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.affine import compose, translation
from fillwork.notes import Note

if TYPE_CHECKING:
    from fillwork.bands.model import Woven
    from fillwork.linework import LineWork


BANDS, FRAME = "bands", "frame"
"""Layers of what is drawn: rails of bands, and lines at which bands end."""
_CHORD = 1e-3  # how far chords of curves lie off them, mm


def as_linework(woven: Woven, drawn: LineWork) -> LineWork:
    """Return bands as the line work of a drawing.

    One stroke a path; on the layer ``bands``, or ``frame`` for border lines.

    `drawn`: the line work that they were woven from; its file, page and line groups
    stay.
    """
    first, last = woven.path_start[:-1], woven.path_start[1:] - 1
    away = woven.curves.starts()[first] - woven.curves.ends()[last]
    border = np.array([s.border for s in woven.strands.strands], bool)
    style = border[woven.path_strand].astype(np.int32)
    width = next((w for *_, w, _ in drawn.styles if w is not None), 0.35)
    # two rails nearer than the pen is wide would be one line drawn twice
    width = min(width, woven.width / 2)
    closed = (last > first) & (np.hypot(*away.T) < 1e-9)
    names = tuple(f"strand {k + 1}" for k in woven.path_strand.tolist())
    return replace(
        drawn,
        curves=woven.curves,
        stroke_start=woven.path_start.astype(np.int32),
        closed=closed,
        style=style,
        styles=((BANDS, "#000000", width, False), (FRAME, "#000000", width, False)),
        source_line=np.zeros(len(names), np.int32),
        source_name=names,
        notes=(*drawn.notes, *weaving_notes(woven)),
    )


def with_room_for_bands(linework: LineWork, margin: float) -> LineWork:
    """Return woven bands whose page, where none was drawn, holds them all.

    The box of the lines, which serves as the page there, runs along the middles of the
    outermost bands. `margin`: left on sides that are moved out, lest bands touch the
    page's edge, mm.
    """
    page = linework.frame
    if page.has_page or not len(linework.curves):
        return linework
    points = linework.curves.flatten(_CHORD)[0].reshape(-1, 2)
    size = np.array([page.width, page.height])
    low, high = points.min(axis=0).round(6), points.max(axis=0).round(6)
    low = np.where(low < 0, low - margin, 0.0)
    high = np.where(high > size + 1e-6, high + margin, size)
    shift = translation(*(-low).tolist())
    width, height = (high - low).tolist()
    if (width, height) == (page.width, page.height):
        return linework
    grown = replace(page, width=width, height=height, to_mm=compose(shift, page.to_mm))
    return replace(linework, curves=linework.curves.transform(shift), frame=grown)


def weaving_notes(woven: Woven) -> tuple[Note, ...]:
    """Say where over and under cannot take turns."""
    points = woven.strands.lines.vertices
    how = {
        "piled": "bands lie on each other in order of direction",
        "plain": "bands meet in a plain node",
        "ring": "bands meet in a plain node within a ring",
    }[woven.nodes]
    others = {
        "piled": "--nodes plain leaves plain nodes, --nodes ring adds a small ring",
        "plain": "--nodes ring adds a small ring, --nodes piled lays one over",
        "ring": "--nodes plain leaves the rings out",
    }[woven.nodes]
    notes = []
    for rows, text, remedy in (
        (
            woven.crossings.piled,
            f"where three lines or more meet in a point, {how}",
            f"{others}; or draw one family of lines beside the points, so that lines "
            "cross two by two",
        ),
        (
            woven.crossings.stuck,
            "over and under cannot take turns beside an end inside the drawing or a "
            "point of three lines"
            + ("" if woven.nodes == "piled" else "; these crossings are plain nodes"),
            "lead the line on to the frame, or join its ends"
            + ("; --nodes plain leaves it open" if woven.nodes == "piled" else ""),
        ),
    ):
        if not len(rows):
            continue
        x, y = (float(v) for v in points[rows[0]])
        place = f"{len(rows)} places, the first at ({x:.1f}, {y:.1f}) mm"
        if len(rows) == 1:
            place = f"at ({x:.1f}, {y:.1f}) mm"
        notes.append(
            Note("bands", "weave", f"{text}: {place}", at=(x, y), remedy=remedy)
        )
    return tuple(notes)


def gap_note() -> Note:
    """Return what becomes of gaps beside bands where regions are coloured."""
    text = (
        "the gap beside the band that is over is closed in regions, so that each band "
        "and each part of the ground is one"
    )
    remedy = "fillwork weave draws it"
    return Note("bands", "gap", text, remedy=remedy)
