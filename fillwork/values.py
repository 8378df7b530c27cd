"""Frozen values: arrays that may be read but not changed, and short words for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import MISSING, Field, field, fields
from types import NoneType
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


LONG = 60
"""Characters of one value that a short text shows."""

LineScope = Literal["auto", "stroked", "outlines", "both"]
"""Which lines are the line work: strokes, edges of fills, both, or what fits."""
Hidden = Literal["auto", "drop", "keep"]
"""What becomes of lines that something covers."""
PageEdge = Literal["auto", "close", "open"]
"""Whether the edge of the page closes regions."""
Match = Literal["all", "turns", "shifts", "none", "family", "figure"]
"""Which regions must be coloured alike."""
View = Literal["normal", "protan", "deutan", "tritan", "grey"]
"""For whose eyes pictures are made."""
RealOf = Literal["page", "drawing"]
"""What a true width is the width of."""


def freeze(value: object, *names: str) -> None:
    """Make array fields of a frozen value read-only, and not the arrays given to it.

    `value`: the value, while it is being made. `names`: its fields that are arrays;
    each becomes a view that cannot be written.
    """
    for name in names:
        array = getattr(value, name)
        if not array.flags.writeable:
            continue
        view = array.view()
        view.setflags(write=False)
        object.__setattr__(value, name, view)


def choice(
    default: Any, kind: str | tuple[str, ...], key: str = "", option: str = ""
) -> Any:
    """Return a field of choices, with what plan file and command line know of it.

    `kind`: what values it takes: one of the kinds in `plans.checks`, or words to choose
    from. `key`: its name in the file, where that is not the field's; behind the name of
    a section where that is not the one of its class, as ``lines.use``. `option`: what
    states it, where that is called otherwise.
    """
    facts = {"kind": kind, "key": key, "option": option}
    return field(default=default, metadata=facts)


def option_of(one: Field[Any]) -> str:
    """Return the option that states a field of choices, such as ``--real-width``."""
    option: str = one.metadata.get("option", "")
    return option or "--" + one.name.replace("_", "-")


def told_repr(value: object, *told: object, **facts: object) -> str:
    """Return a short text for a value that holds much.

    `told`: what names it. `facts`: counts and measures, by their names. One line.

    Examples
    --------
    >>> told_repr(object(), "star.svg", strokes=12)
    "object('star.svg', strokes=12)"
    """
    words = [_short(one) for one in told]
    words += [f"{name}={_short(fact)}" for name, fact in facts.items()]
    return f"{type(value).__name__}({', '.join(words)})"


def changed_repr(value: DataclassInstance) -> str:
    """Return a text of those fields alone that differ from their defaults.

    `value`: choices, most of which are as they were. One line.
    """
    facts: dict[str, object] = {}
    for one in fields(value):
        now = getattr(value, one.name)
        usual: Any = one.default
        if one.default_factory is not MISSING:
            usual = one.default_factory()
        if usual is MISSING or now != usual:
            facts[one.name] = now
    return told_repr(value, **facts)


def _short(value: object) -> str:
    if isinstance(value, str | bytes | tuple) and len(text := repr(value)) > LONG:
        return f"{text[: LONG - 1]}…"
    return repr(value)


def check_kind(value: object, kind: type, name: str) -> None:
    """Raise for an argument of another kind, in words for who writes a program.

    `name`: what the argument is called. Raises `TypeError`.
    """
    if not isinstance(value, kind):
        what = f"{name} is {_one(kind)}, not {_one(type(value))}"
        raise TypeError(what)


def check_each(values: object, kind: type, name: str) -> None:
    """Raise for what is no sequence of one kind.

    `name`: what the argument is called. Raises `TypeError`.
    """
    if isinstance(values, str) or not isinstance(values, Sequence):
        what = f"{name} is a sequence of {kind.__name__}, not {_one(type(values))}"
        raise TypeError(what)
    for k, value in enumerate(values):
        check_kind(value, kind, f"{name}[{k}]")


def _one(kind: type) -> str:
    if kind is NoneType:
        return "None"
    article = "an" if kind.__name__[0] in "AEIOaeio" else "a"
    return f"{article} {kind.__name__}"
