"""What stands on a sheet, what was before, and what is answered but not yet done.

All three lie on disk. A wish is written down before it is answered; the moment that
follows from it is kept together with the wish's number, so that after a stop at any
time each wish is fulfilled once and in its turn.
"""

from __future__ import annotations

import threading
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

from fillwork.colouring.model import Pin
from fillwork.pipeline.moments import Moment
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.server.wishes import Wish

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.plans.model import Plan
    from fillwork.server.store import Saved, Store


MOST_MOMENTS = 60
"""Steps that undo goes back; each is a file of its own."""

MOST_TRIES = 4
"""Ends of the page in the midst of one wish after which it is left out: it may be
that wish which ends it."""


class History:
    """Keep the moments and the wishes of one sheet.

    `store`: where they lie. `saved`: the sheet as it lies there, or is to. `start`: the
    choices that this start of the page began with: a typeface of one's own, of which a
    plan file holds the name alone.
    """

    def __init__(self, store: Store, saved: Saved, start: Plan | None = None) -> None:
        self._store, self._saved = store, saved
        self._lock = threading.RLock()
        self._open = True
        self._top = max(n for n, _ in [(saved.number, ""), *saved.past, *saved.future])
        self._start = start
        self.now = self._moment(asdict(saved))
        rows = [Wish(**row) for row in store.rows("wishes", saved.id)]
        rows = [wish for wish in rows if wish.number > saved.done]
        self._last = rows[-1].number if rows else saved.done
        if rows and rows[0].tries >= MOST_TRIES:
            del rows[0]
        if rows:
            rows[0] = replace(rows[0], tries=rows[0].tries + 1)
        store.save_rows("wishes", saved.id, [asdict(wish) for wish in rows])
        self.waiting: tuple[Wish, ...] = tuple(rows)

    @property
    def labels(self) -> tuple[str | None, str | None]:
        """Return what undo and redo would do; None for nothing."""
        with self._lock:
            undo = (self.now.label or None) if self._saved.past else None
            redo = self._saved.future[-1][1] if self._saved.future else None
            return undo, redo

    def wish(self, act: str, given: dict[str, Any]) -> Wish:
        """Write a wish down."""
        with self._lock:
            found = Wish(self._last + 1, act, given)
            self._store.add_wish(self._saved.id, asdict(found))
            self._last = found.number
            return found

    def move(self, moments: Sequence[Moment], done: int) -> None:
        """Have the last of some moments stand; undo goes back through the others."""
        with self._lock:
            past, left = list(self._saved.past), []
            for moment in moments:
                left.append(self._leave(past))
                self._top += 1
                self._saved = replace(self._saved, number=self._top)
                self.now = moment
            gone = [*past[:-MOST_MOMENTS], *self._saved.future]
            self._save(left, past=past[-MOST_MOMENTS:], future=[], done=done)
            for number, _ in gone:
                self._store.save_rows("moments", self._saved.id, [], number)

    def beside(self, forward: bool) -> Moment | None:
        """Return the moment that undo or redo goes to; None where there is none."""
        with self._lock:
            found = self._saved.future if forward else self._saved.past
            for number, _ in found[-1:]:
                for row in self._store.rows("moments", self._saved.id, number):
                    return self._moment(row)
            return None

    def step(self, forward: bool, moment: Moment, done: int) -> None:
        """Have the moment beside stand."""
        with self._lock:
            past, future = list(self._saved.past), list(self._saved.future)
            source, target = (future, past) if forward else (past, future)
            left = [self._leave(target)]
            self._saved = replace(self._saved, number=source.pop()[0])
            self.now = moment
            self._save(left, past=past, future=future, done=done)

    def save(self) -> None:
        """Keep the sheet as it is."""
        self._save()

    def settle(self, done: int) -> None:
        """Remember that a wish is refused, or given up."""
        self._save(done=done)

    def settle_all(self) -> None:
        """Remember that nothing more is wished."""
        self._save(done=self._last)

    def drop(self) -> None:
        """Keep nothing of a sheet on which nothing was done."""
        with self._lock:
            if self._last == 0:
                self._store.forget(self._saved.id)

    def close(self) -> None:
        """Write nothing more; what is not done yet is left to the next who opens it."""
        with self._lock:
            self._open = False

    def _leave(self, room: list[tuple[int, str]]) -> tuple[int, dict[str, Any]]:
        """Put what stands into a list of moments; return what is to be kept of it."""
        number = self._saved.number
        room.append((number, self.now.label))
        return number, _row(self.now)

    def _save(
        self,
        left: Sequence[tuple[int, dict[str, Any]]] = (),
        done: int = 0,
        **changed: Any,
    ) -> None:
        """Keep what stands; where the disk refuses, it stands in memory all the same.

        The wish is then still written down, and is fulfilled again after a new start.
        """
        with self._lock:
            if not self._open:
                return
            done = max(done, self._saved.done)
            self._saved = replace(self._saved, done=done, **changed, **_row(self.now))
            for number, row in left:
                self._store.save_rows("moments", self._saved.id, [row], number)
            self._store.save(self._saved)
            if done >= self._last:
                self._store.save_rows("wishes", self._saved.id, [])

    def _moment(self, row: dict[str, Any]) -> Moment:
        plan, start = parse_plan(row["plan"].encode(), "the saved plan"), self._start
        if start is not None and start.sheets.font == plan.sheets.font:
            plan = replace(plan, font_data=start.font_data)
        standing = row["standing"]
        if standing is not None:
            standing = tuple(map(Pin.from_row, standing))
        return Moment(plan, standing, row["label"])


def _row(moment: Moment) -> dict[str, Any]:
    standing = None
    if moment.standing is not None:
        standing = [[p.where, p.swatch, p.scope] for p in moment.standing]
    plan = plan_to_toml(moment.plan)
    return {"plan": plan, "standing": standing, "label": moment.label}
