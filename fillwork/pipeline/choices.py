"""The numbered choices of counterchange: in words, and as a sheet of small pictures."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.pipeline.picture import page_pictures, side_by_side

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts
    from fillwork.colouring.counterchange.alternating_kinds import KindReader
    from fillwork.colouring.counterchange.find import Choice, Possibility
    from fillwork.colouring.model import Colouring
    from fillwork.colouring.palettes.model import Palette
    from fillwork.pipeline.painting import Coloured
    from fillwork.renderers.scene import Scene

MOST_PICTURES = 48
"""Choices that are drawn: those of the whole, then some of each kind."""

MOST_LINES = 16
"""Choices up to which all are told at once; the text file tells all."""

_TOLD = 6  # of the whole drawing, when not all are told
_WORDS = 8  # pictures up to which the sentences stand under them
_STILL = "#e9e6df"  # regions that stay as they are, in the pictures


@dataclass(frozen=True, slots=True, eq=False)
class Choices:
    """Hold the numbered choices of a coloured drawing."""

    colours: int  # how many colours change places
    whole: tuple[Possibility, ...]  # choices for the whole drawing
    single: tuple[Choice, ...]  # choices for single kinds
    taken: dict[str, int]  # the choice by which each kind alternates now
    reader: KindReader  # the drawing as it was read

    def drawn(self) -> tuple[tuple[Possibility, ...], tuple[Choice, ...]]:
        """Return the choices that are drawn, in the order of their numbers.

        Returns `whole`: choices for the whole drawing, a third of the pictures at most;
        `single`: as many of each kind as there is room for.
        """
        whole = self.whole[: max(MOST_PICTURES // 3, 1)]
        room = MOST_PICTURES - len(whole)
        most = max((c.number for c in self.single), default=0)
        while most > 1 and sum(c.number <= most for c in self.single) > room:
            most -= 1
        single = tuple(c for c in self.single if c.number <= most)
        return whole, single[:room]


def find_choices_of(coloured: Coloured) -> Choices | None:
    """Find the numbered choices of a drawing coloured with counterchange.

    None where no counterchange was asked for.
    """
    change = coloured.colouring.counterchange
    if change is None or coloured.plan.rules.counterchange is None:
        return None
    from fillwork.colouring.counterchange.alternating_kinds import KindReader
    from fillwork.colouring.counterchange.find import find_all_choices

    survey = coloured.survey
    reader = KindReader(survey.arrangement, survey.orbits, survey.adjacency)
    whole, single = find_all_choices(reader, change.colours)
    taken = {letter: number for letter, number, _, _ in change.kinds}
    return Choices(change.colours, whole, single, taken, reader)


def _said(way: Possibility | Choice) -> tuple[str, str]:
    """Return the option that takes a choice, and what it does.

    Without the number of colours, which is said above.
    """
    from fillwork.colouring.counterchange.find import Choice

    sentence = way.sentence.split(": ", 1)[-1]
    if isinstance(way, Choice):
        return f'--choice "{way.letter}={way.number}"', sentence
    kinds = f"kind{'s' * (len(way.letters) > 1)} {', '.join(way.letters)}"
    return f"--choice {way.number}", f"{kinds}: {sentence}"


def choices_text(choices: Choices, *, whole: bool = True) -> str:
    """Return the choices as lines for people.

    `whole`: tell all of them, however many there are.
    """

    def line(way: Possibility | Choice, mark: str = " ") -> str:
        """Return a choice as a line."""
        option, sentence = _said(way)
        alike = f"; touching regions stay alike along {way.alike:.1f} mm"
        return f" {mark}{option:<16} {sentence}{alike * (way.alike >= 0.05)}"

    total = len(choices.whole) + len(choices.single)
    every = whole or total <= MOST_LINES
    lines = [f"counterchange of {choices.colours} colours (* as it is now)"]
    if choices.whole:
        lines.append("for the whole drawing:")
    lines += map(line, choices.whole if every else choices.whole[:_TOLD])
    if not every and len(choices.whole) > _TOLD:
        lines.append(f"  and more, up to --choice {len(choices.whole)}")
    if choices.single:
        lines.append("for one kind:")
    taken = choices.taken
    if every:
        lines += (
            line(c, "*" if taken.get(c.letter) == c.number else " ")
            for c in choices.single
        )
    else:
        for letter, most in {c.letter: c.number for c in choices.single}.items():
            up_to = f' to "{letter}={most}"' if most > 1 else ""
            now = taken.get(letter)
            mark = " " if now is None else "*"
            is_now = f" (now {now})" if now is not None and most > 1 else ""
            lines.append(f' {mark}--choice "{letter}=1"{up_to}{is_now}')
    return "\n".join(lines) + "\n"


def choices_files(coloured: Coloured, choices: Choices) -> dict[str, bytes]:
    """Return the choices in words and as a sheet of small pictures.

    ``choices.txt`` and ``choices.png``, or ``choices-1.png`` and so on.
    """
    made = {"choices.txt": choices_text(choices).encode()}
    pages = _choices_pages(coloured, choices)
    return made | page_pictures("choices", pages, coloured.plan)


def _choices_pages(coloured: Coloured, choices: Choices) -> tuple[Scene, ...]:
    """Return the pages of small pictures.

    In each cell what alternates, in the palette's colours that differ most; the rest
    pale.
    """
    palette = _strong(coloured.palette, choices.colours)
    whole, single = choices.drawn()
    labels = [_label_of_whole(coloured, choices, way.number) for way in whole]
    for choice in single:
        label = np.full(coloured.survey.arrangement.face_count, -1)
        label[choice.faces] = choice.colour
        labels.append(label)
    if not labels:
        return ()
    told = len(labels) <= _WORDS
    ways: tuple[Possibility | Choice, ...] = (*whole, *single)
    shown = []
    for way, label in zip(ways, labels, strict=True):
        option, sentence = _said(way)
        under = {"title": option, "words": sentence if told else ""}
        shown.append((_as_shown(coloured, palette, label), under))
    return side_by_side(
        coloured.survey,
        coloured.plan,
        shown,
        repeats=4.4,  # twice two colours
        columns=range(3, 6) if told else range(4, 9),
        subtitle=f"Counterchange of {choices.colours} colours",
        numbered=False,
    )


def _label_of_whole(coloured: Coloured, choices: Choices, number: int) -> AnyInts:
    """Return which of the K colours each region has by a choice for the whole."""
    from fillwork.colouring.counterchange.plan import plan_counterchange

    survey = coloured.survey
    colours = choices.colours
    wanted = (("", number),)
    rules = replace(coloured.plan.rules, counterchange=colours, choices=wanted)
    base = plan_counterchange(choices.reader, coloured.palette, rules).base
    count = len(survey.orbits.orbits)
    return np.where(base >= count, (base - count) % colours, -1)


def _strong(palette: Palette, colours: int) -> Palette:
    """Return K swatches that differ much, then a pale one for what stays."""
    from fillwork.colouring.difference import (
        difference_matrix,
        oklab_to_oklch,
        srgb_to_lab,
        srgb_to_oklab,
    )

    rgb = np.array([int(_STILL[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    still = replace(
        palette.swatches[0],
        name="stays as it is",
        code="-",
        hex=_STILL,
        lab=tuple(srgb_to_lab(rgb).tolist()),
        oklch=tuple(oklab_to_oklch(srgb_to_oklab(rgb)).tolist()),
    )
    every = replace(palette, swatches=(*palette.swatches, still))
    table = difference_matrix(every)
    chosen = [len(palette.swatches)]
    while len(chosen) <= min(colours, len(palette.swatches)):
        apart = table[chosen].min(axis=0)
        apart[chosen] = -1.0
        chosen.append(int(np.argmax(apart)))
    swatches = [every.swatches[k] for k in (*chosen[1:], chosen[0])]
    return replace(palette, swatches=tuple(swatches))


def _as_shown(coloured: Coloured, palette: Palette, label: AnyInts) -> Colouring:
    """Return a choice as a colouring: what stays has the last swatch, no line."""
    of_face = np.where(label < 0, len(palette.swatches) - 1, label).astype(np.int32)
    of_face[0] = -1
    rules = replace(coloured.colouring.rules, outline=None)
    return replace(coloured.colouring, palette=palette, of_face=of_face, rules=rules)
