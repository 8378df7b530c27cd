"""Choices that rest on another one, which was not made: they change nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.notes import Note
from fillwork.plans.model import BandSettings, LayingSettings

if TYPE_CHECKING:
    from fillwork.plans.model import Plan


_LAYING = {
    "cell": "--cell",
    "by": "--by",
    "place": "--place",
    "place_at": "--place",
    "give": "--scale-by",
    "corner": "--corner-piece",
    "border": "--border",
    "border_width": "--border",
    "medallion": "--medallion",
    "misfit": "--misfit",
}
_BANDS = {
    "gap": "--band-gap",
    "start": "--band-start",
    "corners": "--band-corners",
    "crossings": "--band-crossings",
    "nodes": "--band-nodes",
}


def idle_notes(plan: Plan) -> tuple[Note, ...]:
    """Return a note on choices for laying or weaving where neither is asked for."""
    found = []
    laying = _changed(plan.laying, LayingSettings(), _LAYING)
    if laying and not plan.laying.wanted:
        text = f"nothing is laid, so that {laying} changes nothing"
        if plan.laying.cell:
            text += "; the lines that it names are taken like all others"
        remedy = "add --over W,H, or leave it out"
        found.append(Note("laying", "unused choice", text, remedy=remedy))
    bands = _changed(plan.bands, BandSettings(), _BANDS)
    if bands and plan.bands.width is None:
        text = f"nothing is woven, so that {bands} changes nothing"
        remedy = "add --band WIDTH, or leave it out"
        found.append(Note("bands", "unused choice", text, remedy=remedy))
    return tuple(found)


def _changed(settings: object, default: object, options: dict[str, str]) -> str:
    """Return the options whose fields differ from the default; joined by commas."""
    return ", ".join(
        dict.fromkeys(
            option
            for field, option in options.items()
            if getattr(settings, field) != getattr(default, field)
        )
    )
