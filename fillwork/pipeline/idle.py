"""Choices that rest on another one, which was not made: they change nothing."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

from fillwork.notes import Note
from fillwork.values import option_of

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

    from fillwork.plans.model import Plan


def idle_notes(plan: Plan) -> tuple[Note, ...]:
    """Return a note on choices for laying or weaving where neither is asked for."""
    found = []
    laying = _changed(plan.laying)
    if laying and not plan.laying.wanted:
        text = f"nothing is laid, so that {laying} changes nothing"
        if plan.laying.cell:
            text += "; the lines that it names are taken like all others"
        remedy = "add --over W,H, or leave it out"
        found.append(Note("laying", "unused choice", text, remedy=remedy))
    bands = _changed(replace(plan.bands, find="auto"))
    if bands and plan.bands.width is None:
        text = f"nothing is woven, so that {bands} changes nothing"
        remedy = "add --band WIDTH, or leave it out"
        found.append(Note("bands", "unused choice", text, remedy=remedy))
    return tuple(found)


def _changed(choices: DataclassInstance) -> str:
    """Return the options of those that are not as usual, joined by commas."""
    return ", ".join(
        dict.fromkeys(
            option_of(one)
            for one in fields(choices)
            if getattr(choices, one.name) != one.default
        )
    )
