"""What the reader tells the user about what it met, and where no line is left."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING

from fillwork.errors import LineWorkError
from fillwork.notes import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.readers.selectors import Choice, Style
    from fillwork.readers.strokes.drawn import Seen
    from fillwork.readers.strokes.page import Page


MOST_TOLD = 20  # notes of one sort, before the others are told as one


class NoteList:
    """Gather notes in order. `walk`: what the walk met."""

    def __init__(self, walk: Seen) -> None:
        self.walk = walk
        self.notes: list[Note] = []

    def add(
        self,
        sort: str,
        text: str,
        remedy: str = "",
        source: tuple[str, int] | None = None,
    ) -> None:
        """Add a note.

        `sort`: short stable word. `text`: one sentence. `remedy`: what can be done.
        `source`: element and line.
        """
        self.notes.append(Note("readers", sort, text, source=source, remedy=remedy))


def several(count: int, word: str) -> str:
    """Return a number and what it counts, such as ``2 lines``."""
    return f"{count} {word}" if count == 1 or word in {"text"} else f"{count} {word}s"


def foremost(counts: dict[str, int]) -> tuple[list[tuple[str, int]], int, int]:
    """Return what was met most often, by name; how many others, and how often those.

    Examples
    --------
    >>> foremost({"b": 1, "a": 2})
    ([('a', 2), ('b', 1)], 0, 0)
    """
    ordered = sorted(counts.items(), key=lambda met: (-met[1], met[0]))
    rest = ordered[MOST_TOLD:]
    return sorted(ordered[:MOST_TOLD]), len(rest), sum(count for _, count in rest)


def reading_notes(
    notes: NoteList, outside: list[str], counts: dict[str, int], page: Page
) -> None:
    """Add what is said about a drawing once it is read."""
    walk = notes.walk
    _not_line_work(notes)
    for item, complaint in walk.collector.wrong[:MOST_TOLD]:
        name = walk.collector.item_name[item]
        line = walk.collector.item_line[item] + walk.line_shift
        text = f"{name} in line {line} is drawn up to an error: {complaint}"
        notes.add("error in path", text, "mend the path in the drawing", (name, line))
    more = len(walk.collector.wrong) - MOST_TOLD
    if more > 0:
        notes.add("error in path", f"{more} more paths have errors")
    for what, places in walk.notes.items():
        name, line = places[0]
        line += walk.line_shift
        text = f"{name} in line {line} {what}"
        if len(places) > 1:
            text += f"; so do {len(places) - 1} more"
        notes.add("not understood", text, source=(name, line))
    if outside:
        text = f"{several(len(outside), 'part')} outside the file were not opened"
        notes.add("outside the file", text)
    sheets, selectors = walk.unread
    if sheets:
        text = f"{several(sheets, 'style sheet')} outside the file not opened"
        notes.add("outside the file", text)
    if selectors:
        text = f"{several(selectors, 'style selector')} not understood"
        notes.add("not understood", text)
    if counts.get("wild"):
        text = (
            f"{several(counts['wild'], 'line')} left out: farther than "
            f"{walk.limits.coordinate:g} mm, or no true numbers"
        )
        notes.add("out of range", text)
    if counts.get("outside"):
        text = f"{several(counts['outside'], 'line')} outside the page or its clips"
        notes.add("outside the page", text)
    if counts.get("cut"):
        text = f"{several(counts['cut'], 'line')} cut at the page's edge or a clip"
        notes.add("cut lines", text)
    if counts.get("edges"):
        text = (
            f"lines run off {several(counts['edges'], 'clip')}: outlines close regions"
        )
        notes.add("clip edges", text, "--drop at a point on one leaves it open")
    if page.doubt:
        remedy = "write sizes as numbers with a unit: mm, cm, in, pt or px"
        notes.add("page size", f"{page.doubt}: not used", remedy)
    if not page.has_page and page.unit == "px":
        text = "the drawing states no page, so the box of its lines serves as one"
        notes.add("no page", text, "set a page size in the drawing")
    elif page.has_page and not page.scale_known:
        text = "the drawing states no physical size; 1 px is taken as 1/96 inch"
        notes.add("no physical size", text, "state the true width with --real-width")


def _not_line_work(notes: NoteList) -> None:
    walk = notes.walk
    painted = {k for k, c in enumerate(walk.collector.contexts) if c.gradient}
    of_item = walk.collector.item_context if painted else []
    gradients = sum(k in painted for k in of_item)
    parts = [several(n, word) for word, n in sorted(walk.counts.items())]
    if parts:
        text = f"not line work and left out: {', '.join(parts)}"
        remedy = "turn text into paths, if its outlines are wanted"
        notes.add("not line work", text, remedy if "text" in walk.counts else "")
    if walk.thin:
        text = "lines of width 0 are not drawn, so they are left out"
        notes.add("no width", text, "give them a width, if they are wanted")
    if gradients:
        text = f"{several(gradients, 'shape')} painted by a gradient or pattern"
        notes.add("gradients", text + ": only the outline is used")


def refuse_unknown(
    choice: Choice, layers: Sequence[str], classes: Sequence[str], name: str
) -> None:
    """Raise `LineWorkError` if a selector names a layer or class that there is not.

    `layers` and `classes`: those of the drawing. `name`: its file.
    """
    known = {"layer": ("layers", layers), "class": ("classes", classes)}
    for selector in (*choice.lines, *choice.leave):
        for condition in selector.conditions:
            key, text = condition.key, condition.text
            plural, own = known.get(key, ("", (text,)))
            if text in own:
                continue
            what = f"the selector {selector.text!r} names no {key} of the drawing"
            near = difflib.get_close_matches(text, own, 3, 0.6)
            names = list(dict.fromkeys([*near, *own]))
            more = f" and {len(names) - 12} more" if len(names) > 12 else ""
            there = ", ".join(names[:12]) + more if names else "none"
            mend = f"did you mean {near[0]}? " if near else ""
            raise LineWorkError(what, name, f"{mend}{plural}: {there}")


def _every(count: int) -> str:
    return "the only line lies" if count == 1 else f"all {count} lines lie"


def all_hidden(name: str, hidden: dict[str, int]) -> LineWorkError:
    """Return what is said where every line lies on a hidden layer."""
    layers = ", ".join(sorted(hidden)[:6])
    what = f"all lines lie on layers that are off, frozen or not plotted: {layers}"
    return LineWorkError(what, name, "switch one on, or take it by --lines layer=NAME")


def no_lines(name: str, walk: Seen, counts: dict[str, int]) -> LineWorkError:
    """Return what is said where there is no line at all.

    `counts`: strokes left out on the way.
    """
    if counts.get("outside"):
        what = f"{_every(counts['outside'])} outside the page or what clips it"
        if unread := [odd for odd in walk.notes if odd.startswith("has a transform")]:
            element, line = walk.notes[unread[0]][0]
            what += f"; {element} in line {line} {unread[0]}"
            mend = "write that transform out as a matrix, or its origin as two numbers"
            return LineWorkError(what, name, mend)
        return LineWorkError(what, name, "enlarge the page to the drawing and save")
    if wild := counts.get("wild"):
        have = "has" if wild == 1 else "have"
        what = f"{_every(wild)} too far out or {have} no true numbers"
        return LineWorkError(what, name, "check the drawing's units and transforms")
    what = "there are no lines in the drawing"
    others = [f"{n} {word}" for word, n in sorted(walk.counts.items())]
    if others:
        what += f", only {', '.join(others)}"
    elif walk.thin:
        what += ", only such of width 0, which are not drawn"
        return LineWorkError(what, name, "give them a width, then save")
    if odd := walk.odd:
        more = f", and {len(odd) - 1} more" if len(odd) > 1 else ""
        what += f"; not understood: {odd[0]}{more}"
        return LineWorkError(what, name, "mend what is named and save again")
    if {"text", "image"} & walk.counts.keys():
        mend = "turn text and pictures into paths, then save"
    elif others:
        mend = "take these apart into lines and arcs, then save"
    else:
        mend = "check that this is the file, and that it was saved with its lines"
    return LineWorkError(what, name, mend)


def none_left(
    name: str, n: int, styles: tuple[Style, ...], choice: Choice, scope: str,
    *, hidden: bool,
) -> LineWorkError:  # fmt: skip
    """Return what is said where none of some lines is left.

    `n` and `styles`: how many there were, and how they are drawn. `hidden`: whether
    fills over them are told already.
    """
    if n == 0 or hidden:
        what = "the lines lie under filled shapes drawn over them, and none is left"
        return LineWorkError(what, name, "--hidden keep takes them")
    if choice.lines or choice.leave:
        what = f"none of the {n} lines is left by the selectors"
        seen = sorted({style[0] for style in styles if style[0]})[:6]
        colours = sorted({style[1] for style in styles if style[1]})[:6]
        mend = f"layers: {', '.join(seen) or 'none'}; colours: {', '.join(colours)}"
        return LineWorkError(what, name, mend)
    what = f"none of the {n} lines is of the sort {scope!r}"
    return LineWorkError(what, name, "try --scope both")
