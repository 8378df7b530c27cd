"""Colourways tried on one sheet: found, shown small, kept also after a new start."""

from __future__ import annotations

import base64
import math
import threading
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fillwork.errors import FillworkError
from fillwork.pipeline.encoding import encode
from fillwork.pipeline.finish import Finish
from fillwork.plans.file import parse_plan, plan_to_toml

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.pipeline.colourways import Suggestion
    from fillwork.pipeline.painting import Coloured
    from fillwork.pipeline.progress import Progress
    from fillwork.pipeline.surveying import Survey
    from fillwork.plans.model import Plan
    from fillwork.server.store import Store


MOST_CHOICES = 24
MOST_KEPT = 24
PICTURE_WIDTH = 640

_MOST_WAYS = 60  # suggestions of one search: more than there are palettes
_REMEMBERED = 240  # suggestions that can be taken up later


class Trials:
    """Find, show and keep colourways of one sheet.

    `store`: where those that are kept lie. `sheet`: id of the sheet.
    """

    def __init__(self, store: Store, sheet: str) -> None:
        self._store, self._sheet = store, sheet
        self._lock = threading.RLock()
        # all that were found while this sheet is open: one can be taken up later
        self._suggestions: dict[int, Suggestion] = {}
        self._latest: range = range(0)
        self._choices: list[dict[str, Any]] = []
        # rows by their number: ``number``, ``words``, ``plan`` and ``picture``, all as
        # they lie in the store
        self._ways: dict[int, dict[str, Any]] = {}
        self._pictures: dict[str, bytes] = {}
        for row in store.rows("kept", sheet):
            try:
                number, words = int(row["number"]), str(row["words"])
                parse_plan(row["plan"].encode(), "a kept colourway")
                picture = base64.b64decode(row["picture"])
            except (FillworkError, LookupError, TypeError, ValueError, AttributeError):
                continue  # one that cannot be read costs the others nothing
            self._ways[number] = row | {"number": number, "words": words}
            self._pictures[_name(number)] = picture

    def suggest(
        self,
        shown: Coloured,
        plan: Plan,
        palettes: Sequence[str],
        count: int,
        tell: Progress,
    ) -> None:
        """Look for clearly different colourways.

        `palettes`: names; none for the palette in use. `tell`: told of each stage.
        Raises `FillworkError` if a palette is unknown.
        """
        from fillwork.colouring.palettes.file import list_palettes
        from fillwork.pipeline.colourways import suggest

        if any(p not in list_palettes() for p in palettes):
            what = "this palette is not among those that come with fillwork"
            raise FillworkError(what, mend="choose one of the list")
        found = suggest(
            shown.survey,
            plan,
            palettes,
            count=min(max(count, 1), _MOST_WAYS),
            progress=tell,
        )
        first = max(self._latest.stop, *(number + 1 for number in self._ways), 1)
        numbered = dict(enumerate(found, first))
        pictures = {}
        for number, s in numbered.items():
            tell(f"drawing colourway {number}")
            coloured = replace(
                shown,
                palette=s.colourway.colouring.palette,
                colouring=s.colourway.colouring,
            )
            pictures[_name(number)] = _picture(coloured)
        with self._lock:
            self._suggestions |= numbered
            self._latest = range(first, first + len(found))
            for number in sorted(self._suggestions)[:-_REMEMBERED]:
                del self._suggestions[number]
                if number not in self._ways:
                    self._pictures.pop(_name(number), None)
            self._pictures |= pictures

    def find_choices(
        self, survey: Survey, plan: Plan, colours: int, tell: Progress
    ) -> None:
        """Look for the ways in which K colours can change places."""
        from fillwork.pipeline.colourways import find_ways

        rows: list[dict[str, Any]] = []
        pictures = {}
        for choice, coloured in find_ways(
            survey, plan, colours, most=MOST_CHOICES, progress=tell
        ):
            letter = getattr(choice, "letter", "")  # none: the whole drawing
            letters = getattr(choice, "letters", ())
            name = f"choice-{letter or 'all'}-{choice.number}"
            pictures[name] = _picture(coloured)
            rows.append(
                {
                    "letter": letter,
                    "letters": list(letters),
                    "number": choice.number,
                    "colours": colours,
                    "sentence": choice.sentence,
                    "picture": name,
                }
            )
        with self._lock:
            self._choices = rows
            self._pictures |= pictures

    def suggestions(self) -> list[dict[str, Any]]:
        """Return the colourways found last."""
        return [
            {
                "number": number,
                "palette": s.colourway.colouring.palette.name,
                "smallest": _finite(dict(s.colourway.measures)["smallest difference"]),
                "changed": s.colourway.changed,
                "picture": _name(number),
            }
            for number in self._latest
            for s in [self._suggestions[number]]
        ]

    def choices(self) -> list[dict[str, Any]]:
        """Return the ways found last in which kinds can alternate."""
        return self._choices

    def picture(self, name: str) -> bytes:
        """Return a small picture; PNG.

        `name`: as a suggestion or a choice gives it. Raises `FillworkError` if there is
        none of this name.
        """
        found = self._pictures.get(name)
        if found is None:
            what = "this picture is no longer there"
            raise FillworkError(what, mend="ask for suggestions again")
        return found

    def plan_file(self, number: int) -> str:
        """Return the plan file of a suggestion, kept or not.

        The choices that give it again. Raises `FillworkError` if it is no longer there.
        """
        if number in self._suggestions:
            return plan_to_toml(self._suggestions[number].plan)
        if number in self._ways:
            return str(self._ways[number]["plan"])
        what = "this suggestion is no longer there"
        raise FillworkError(what, mend="ask for suggestions again")

    def kept(self) -> list[dict[str, Any]]:
        """Return the colourways that are kept."""
        return [
            {"number": k, "words": way["words"], "picture": _name(k)}
            for k, way in self._ways.items()
        ]

    def keep(self, number: int, words: str) -> None:
        """Keep a suggestion, also after a new start.

        `number`: from 1. `words`: what the page calls it. Raises `FillworkError` if too
        many are kept, or the disk is full.
        """
        with self._lock:  # requests come side by side
            plan, picture = self.plan_file(number), self.picture(_name(number))
            if number not in self._ways and len(self._ways) >= MOST_KEPT:
                what = f"{MOST_KEPT} colourways are kept already"
                raise FillworkError(what, mend="let one of them go")
            row = {"number": number, "words": words, "plan": plan}
            row["picture"] = base64.b64encode(picture).decode()
            self._save({**self._ways, number: row})

    def let_go(self, number: int) -> None:
        """Keep a suggestion no longer."""
        with self._lock:
            self._save({k: way for k, way in self._ways.items() if k != number})

    def _save(self, ways: dict[int, dict[str, Any]]) -> None:
        self._store.save_rows("kept", self._sheet, list(ways.values()))
        self._ways = ways


def _name(number: int) -> str:
    """Return the name of a suggestion's picture."""
    return f"suggestion-{number}"


def _finite(value: float) -> float | None:
    """Return a number as JSON can hold it."""
    return round(value, 1) if math.isfinite(value) else None


def _picture(coloured: Coloured) -> bytes:
    return encode(Finish(coloured).scene(), ".png", width=PICTURE_WIDTH)
