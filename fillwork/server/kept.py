"""Colourways that the person keeps: with the sheet, also after a new start."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fillwork.errors import FillworkError
from fillwork.plans.file import parse_plan, plan_to_toml

if TYPE_CHECKING:
    from fillwork.plans.model import Plan
    from fillwork.server.store import Store

__all__ = ["Kept", "KeptWay"]

MOST_KEPT = 24


@dataclass(frozen=True, slots=True)
class KeptWay:
    """Hold one colourway that is kept.

    Parameters
    ----------
    number : int
        The number under which it was suggested.
    words : str
        What the page calls it.
    plan : Plan
        The choices that give it again.
    picture : bytes
        PNG.
    """

    number: int
    words: str
    plan: Plan
    picture: bytes


class Kept:
    """Keep colourways of one sheet, on disk too.

    Parameters
    ----------
    store : Store
        Where they lie.
    sheet : str
        Id of the sheet.
    """

    def __init__(self, store: Store, sheet: str) -> None:
        self._store, self._sheet = store, sheet
        self._ways: dict[int, KeptWay] = {}
        for row in store.rows("kept", sheet):
            try:
                way = KeptWay(
                    int(row["number"]),
                    str(row["words"]),
                    parse_plan(row["plan"].encode(), "a kept colourway"),
                    base64.b64decode(row["picture"]),
                )
            except (FillworkError, LookupError, TypeError, ValueError, AttributeError):
                continue  # one that cannot be read costs the others nothing
            self._ways[way.number] = way

    def ways(self) -> list[KeptWay]:
        """Return all that are kept.

        Returns
        -------
        list of KeptWay
            In the order in which they were kept.
        """
        return list(self._ways.values())

    def way(self, number: int) -> KeptWay | None:
        """Return one that is kept.

        Parameters
        ----------
        number : int
            Its number.

        Returns
        -------
        KeptWay or None
            None where there is none.
        """
        return self._ways.get(number)

    def add(self, way: KeptWay) -> None:
        """Keep one more.

        Parameters
        ----------
        way : KeptWay
            The colourway.

        Raises
        ------
        FillworkError
            If too many are kept, or the disk is full.
        """
        if way.number not in self._ways and len(self._ways) >= MOST_KEPT:
            what = f"{MOST_KEPT} colourways are kept already"
            raise FillworkError(what, mend="let one of them go")
        self._save({**self._ways, way.number: way})

    def drop(self, number: int) -> None:
        """Keep one no longer.

        Parameters
        ----------
        number : int
            Its number.
        """
        self._save({k: way for k, way in self._ways.items() if k != number})

    def _save(self, ways: dict[int, KeptWay]) -> None:
        rows: list[dict[str, Any]] = [
            {
                "number": way.number,
                "words": way.words,
                "plan": plan_to_toml(way.plan),
                "picture": base64.b64encode(way.picture).decode(),
            }
            for way in ways.values()
        ]
        self._store.save_rows("kept", self._sheet, rows)
        self._ways = ways
