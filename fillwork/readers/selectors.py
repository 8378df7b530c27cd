"""Selectors: which strokes are the final line work.

A *selector* is one or more *conditions* that must all hold; a stroke is chosen
when any selector holds.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from typing import get_args

from fillwork.errors import PlanError
from fillwork.units import parse_length
from fillwork.values import Hidden, LineScope

HIDDEN = get_args(Hidden)
SCOPES = get_args(LineScope)

_KEYS = ("layer", "colour", "class", "id", "width", "dash")
_CONDITION = re.compile(r"\s*([A-Za-z]+)\s*([=<>])\s*(.*?)\s*\Z", re.DOTALL)
_EXAMPLES = "write it like layer=NAME, colour=#00f, class=NAME, id=NAME, width<0.3"

Style = tuple[str | None, str | None, float | None, bool]
"""Layer, colour, width in mm, and whether it is dashed."""


@dataclass(frozen=True, slots=True)
class Condition:
    """Hold one condition on a stroke."""

    key: str  # ``layer``, ``colour``, ``class``, ``id``, ``width`` or ``dash``
    sign: str  # ``=``, ``<`` or ``>``
    text: str  # what is compared; a colour as ``#rrggbb``, a dash as ``yes`` or ``no``
    number: float = 0.0  # the width in mm, where the key is ``width``

    def fits(self, style: Style) -> bool:
        """Tell whether a style of strokes does; none does for ``class`` or ``id``."""
        layer, colour, width, dash = style
        if self.key == "width":
            if width is None:
                return False
            if self.sign == "=":
                return abs(width - self.number) <= 1e-3 * self.number
            return width < self.number if self.sign == "<" else width > self.number
        own = {"layer": layer, "colour": colour, "dash": "yes" if dash else "no"}
        return self.key in own and own[self.key] == self.text


@dataclass(frozen=True, slots=True)
class Selector:
    """Hold conditions that must all hold."""

    text: str  # as the user wrote it
    conditions: tuple[Condition, ...]  # joined by "and"


@dataclass(frozen=True, slots=True)
class Choice:
    """Hold what the user chose as line work."""

    # lines and leave: strokes to take (all when empty) and to leave
    lines: tuple[Selector, ...] = ()
    leave: tuple[Selector, ...] = ()
    scope: str = "auto"  # ``auto``, ``stroked``, ``outlines`` or ``both``
    # what becomes of lines under fills drawn later: ``auto``, ``drop``, ``keep``
    hidden: str = "auto"

    @property
    def names(self) -> tuple[Condition, ...]:
        """Return the conditions on class and id, each once, in order."""
        every = (c for s in (*self.lines, *self.leave) for c in s.conditions)
        return tuple(dict.fromkeys(c for c in every if c.key in {"class", "id"}))

    @property
    def layers(self) -> frozenset[str]:
        """Return the layers that are asked for, which are read though they are off."""
        every = (c for s in self.lines for c in s.conditions)
        return frozenset(c.text for c in every if c.key == "layer")


def parse_choice(
    lines: tuple[str, ...], leave: tuple[str, ...], scope: str, hidden: str = "auto"
) -> Choice:
    """Return the choice that selectors and scope state.

    `lines` and `leave`: selectors as text. `scope`: which sort of lines. `hidden`:
    whether lines under fills are taken. Raises `PlanError` if a selector or one of the
    words is wrong.
    """
    for key, word, known in (("scope", scope, SCOPES), ("hidden", hidden, HIDDEN)):
        if word not in known:
            near = difflib.get_close_matches(word, known, 1)
            mend = f"did you mean {near[0]}?" if near else f"use {', '.join(known)}"
            what = f"unknown word {word!r} for {key}"
            raise PlanError(what, key, mend)
    return Choice(
        tuple(_parse_selector(text, "lines") for text in lines),
        tuple(_parse_selector(text, "leave") for text in leave),
        scope,
        hidden,
    )


def check_selectors(texts: tuple[str, ...]) -> None:
    """Raise `PlanError` if a selector is wrong."""
    for text in texts:
        _parse_selector(text, "cell")


def _parse_selector(text: str, where: str) -> Selector:
    # a comma inside brackets, as in rgb(0, 0, 255), does not separate
    parts = re.split(r",(?![^()]*\))", text)
    return Selector(text, tuple(_parse_condition(part, text, where) for part in parts))


def _parse_condition(part: str, text: str, where: str) -> Condition:
    found = _CONDITION.match(part)
    if not found or not found[3]:
        what = f"cannot understand the selector {text!r}"
        raise PlanError(what, where, _EXAMPLES)
    key, sign, value = found[1].lower(), found[2], found[3]
    if key not in _KEYS:
        near = difflib.get_close_matches(key, _KEYS, 1)
        what = f"unknown word {key!r} in the selector {text!r}"
        mend = f"did you mean {near[0]}?" if near else f"use {', '.join(_KEYS)}"
        raise PlanError(what, where, mend)
    if sign != "=" and key != "width":
        what = f"{key} cannot be compared with {sign} in the selector {text!r}"
        raise PlanError(what, where, _EXAMPLES)
    if key == "width":
        what = f"the width in the selector {text!r}"
        return Condition(key, sign, value, parse_length(value, what=what))
    if key == "dash":
        if value.lower() not in {"yes", "no"}:
            what = f"dash must be yes or no in the selector {text!r}"
            raise PlanError(what, where, _EXAMPLES)
        return Condition(key, sign, value.lower())
    if key == "colour":
        from fillwork.readers.svg.style.colours import parse_colour

        colour = parse_colour(value)
        if colour is None:
            what = f"unknown colour {value!r} in the selector {text!r}"
            raise PlanError(what, where, "write it like #00f, #0000ff or blue")
        return Condition(key, sign, colour[0])
    return Condition(key, sign, value)
