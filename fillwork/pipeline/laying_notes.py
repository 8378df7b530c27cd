"""What is told of a laid cell: joins, sizes, its border, what was left out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.laying.border import UNSEEN
from fillwork.linework import LONE_END
from fillwork.notes import Note
from fillwork.pipeline.scale import scale_known

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.laying.border import Border
    from fillwork.laying.model import Cell, Motif
    from fillwork.laying.repeats import Repeat
    from fillwork.linework import LineWork
    from fillwork.plans.model import Plan


_HAIR = 0.005  # mm; less is told as a hair
_MOST_STRETCH = 15.0  # per cent; beyond, figures would look pulled


def cell_notes(
    drawn: LineWork, plan: Plan, motif: Motif, cell: Cell
) -> tuple[Note, ...]:
    """Return what is told of a cell, its size and its joins."""
    found = []
    if not cell.guided:
        size = np.ptp(cell.outline, axis=0)
        text = (
            f"the cell is taken as the outline of the drawing, {size[0]:.1f} x "
            f"{size[1]:.1f} mm with {len(cell.outline)} corners"
        )
        layer = _layer_of(drawn, cell.outline)
        such = f'"layer={layer}"' if layer else "colour=#00f"
        text += f", drawn on layer {layer}" if layer else ""
        remedy = f"name the lines that bound it with --cell, such as --cell {such}"
        if drawn.trace is not None:
            remedy = (
                "bound it in pencil or in a colour of its own, and name that: --cell "
                "layer=pencil, or --cell colour=#c02020"
            )
        found.append(Note("laying", "cell", text, remedy=remedy))
    if drawn.trace is None and not scale_known(plan, drawn):
        text = "the drawing of the cell states no size; 96 px are taken as one inch"
        remedy = "say its size with --scale 1:5, --real-width or --real"
        found.append(Note("laying", "size not stated", text, remedy=remedy))
    closed = [m for m in motif.misfits if m.closed]
    if closed:
        worst = max(closed, key=lambda m: m.size)
        joins = "1 join" if len(closed) == 1 else f"{len(closed)} joins"
        size = f"{worst.size:.2f} mm" if worst.size >= _HAIR else "a hair"
        text = f"{joins} closed where lines missed each other by up to {size}"
        traced = drawn.trace is not None and not plan.laying.cell
        offer = traced and not plan.scan.regular
        remedy = "--regular evens out a cell drawn by hand" if offer else ""
        found.append(Note("laying", "joins closed", text, at=worst.at, remedy=remedy))
    left = [m for m in motif.misfits if not m.closed]
    if left:
        one = len(left) == 1
        ends = "1 line ends" if one else f"{len(left)} lines end"
        meet = "meets" if one else "meet"
        text = f"{ends} at the cell's outline and {meet} nothing in the next cell"
        # a tenth more, for what a line that is drawn on may miss by
        short = np.ceil(11 * max(m.size for m in left)) / 10
        more = f"{short:.1f}mm" if short else "LENGTH"
        remedy = (
            f"mend the cell, allow more with --misfit {more}, or lay it by another way"
        )
        found.append(Note("laying", "open joins", text, at=left[0].at, remedy=remedy))
    return tuple(found)


def without_settled(drawn: LineWork, outline: Floats) -> LineWork:
    """Return a traced cell without the doubts that its laying settles.

    Lines stop at the outline to go on in the next cell; one that does not is told with
    the joins. What lies outside is not laid. `outline` (k, 2): the cell's, mm.
    """
    import shapely

    from fillwork.readers.scan.read import IN_DOUBT, doubt_notes

    trace = drawn.trace
    if trace is None:
        return drawn
    near = 2.0 * trace.pen_width
    area = shapely.buffer(shapely.Polygon(outline), near)
    rim = shapely.LinearRing(outline)
    kept = tuple(
        d
        for d in trace.doubtful
        if shapely.contains_xy(area, *d.at)
        and not (d.what == LONE_END and rim.distance(shapely.Point(d.at)) <= near)
    )
    if len(kept) == len(trace.doubtful):
        return drawn
    trace = replace(trace, doubtful=kept, sure=trace.sure or not kept)
    notes = tuple(n for n in drawn.notes if n.type != IN_DOUBT)
    return replace(drawn, trace=trace, notes=(*notes, *doubt_notes(trace)))


def _layer_of(drawn: LineWork, outline: Floats) -> str:
    """Return the layer on which all lines along an outline, and no others, are."""
    import shapely

    chords, owner, _ = drawn.curves.flatten(_HAIR)
    along = shapely.covered_by(
        shapely.linestrings(chords.reshape(-1, 2, 2)),
        shapely.LinearRing(outline).buffer(2 * _HAIR),
    )
    stroke = np.searchsorted(drawn.stroke_start, owner, "right") - 1
    layer = np.array([style[0] or "" for style in drawn.styles])[drawn.style[stroke]]
    names = set(layer[along].tolist())
    return names.pop() if len(names) == 1 and not names & set(layer[~along]) else ""


def in_length(share: float) -> str:
    """Return by how much a repeat is longer or shorter than drawn, in words."""
    if abs(share) < 5e-5:
        return "as drawn"
    return f"{100 * abs(share):.2f} % {'longer' if share > 0 else 'shorter'}"


def border_notes(laid: Border, other: float = 0.0) -> list[Note]:
    """Return what is told of a border, and of the other size of its field."""
    notes = []
    if abs(other) > 1e-6:
        size = f"{100 * abs(other):.2f} % {'larger' if other > 0 else 'smaller'}"
        text = f"the field is laid {size}, so that the rest is even"
        notes.append(Note("laying", "scaled", text))
    cut = False
    sides = zip(laid.sides, laid.stretch, laid.wanted, strict=True)
    for name, stretch, wanted in sides:
        if stretch == 0.0 and abs(wanted) > UNSEEN:
            cut = True
            text = f"the repeat does not come out even along the {name}"
            share = np.ceil(1000 * abs(wanted)) / 10
            remedy = (
                f"let it be {in_length(wanted)}: --scale-by {share:g}%"
                if share <= _MOST_STRETCH
                else "change the size of the panel or the --scale"
            )
            notes.append(Note("laying", "cut repeat", text, remedy=remedy))
        elif abs(stretch) > UNSEEN:
            text = f"the repeat is {in_length(stretch)} along the {name}"
            notes.append(Note("laying", "stretched", text))
    if laid.apart and not cut:  # where a repeat is cut its lines end anywhere
        one = laid.apart == 1
        ends = "1 line ends" if one else f"{laid.apart} lines end"
        does = "does" if one else "do"
        text = f"{ends} at the corner piece and {does} not go on"
        remedy = (
            "draw its right side so that lines meet those of the repeat's left side, "
            "and its upper side so that they meet those of the repeat's right side"
        )
        notes.append(Note("laying", "corner piece", text, remedy=remedy))
    if laid.closed >= _HAIR:  # less is the rounding of a file
        text = (
            f"ends of the corner piece moved by up to {laid.closed:.2f} mm "
            "to meet the border's lines"
        )
        notes.append(Note("laying", "joins closed", text))
    return notes


def medallion_notes(found: Repeat) -> tuple[Note, ...]:
    """Return what is told of a medallion that does not stand in the middle."""
    if found.aside is None:
        return ()
    text = "the field is laid without the medallion that stands off its middle"
    remedy = "add its lines to drawing.svg, and cut the field's away there"
    return (Note("laying", "medallion", text, at=found.aside, remedy=remedy),)


def frame_notes(found: Repeat) -> tuple[Note, ...]:
    """Return what is told of a drawn frame of which not all is drawn anew."""
    from fillwork.laying.left_out import find_left_out

    left = None if found.part is None else find_left_out(found.part)
    if left is None:
        return ()
    told = []
    if left.borders > 1:
        told.append(
            (
                f"the drawing has {left.borders} borders, one inside the other; a "
                f"panel drawn anew has one, as that of {left.width:.3g} mm",
                "add the lines of the others to drawing.svg",
            )
        )
    if left.corners:
        told.append(
            (
                "the corners of the drawn border are unlike; one piece stands in all "
                "four",
                "name it with --corner-piece, or change the others in drawing.svg",
            )
        )
    return tuple(Note("laying", "left out", text, remedy=way) for text, way in told)
