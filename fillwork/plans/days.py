"""When each step can be done: hands, drying, curing, days.

One pair of hands works through the steps in their order. A step begins when the
hands are free and all that it lies on or touches has dried, or cured where leaf,
tape or varnish needs that. Hands rest at night; drying goes on. Paces and times
are common practice, no source, where they are not set.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


PACE = (0.5, 8.0)
"""m² filled and m of edge cut in, an hour: common practice, no source."""
_SET_UP = 0.25
_DAY, _SHORT = 8.0, 3.0


@dataclass(frozen=True, slots=True)
class Task:
    """Hold one step as the calendar sees it."""

    hours: float  # work of one pair of hands, waits between coats left out
    between: float = 0.0  # waits between its own coats, hours
    # earlier tasks that it waits for, the hours from their end, and why
    after: tuple[tuple[int, float, str], ...] = ()


@dataclass(frozen=True, slots=True)
class When:
    """Hold when a step is done."""

    start: float  # start and end: hours from the first morning, nights counted
    end: float
    wait: float  # hours for which the hands wait before it
    # the tasks that it waits for last, how long from their end, and why
    waits_for: tuple[tuple[int, float, str], ...]

    @property
    def days(self) -> tuple[int, int]:
        """Return the first and the last day, from 1.

        Alike where the step is done in a day.
        """
        last = max(self.start, self.end - 1e-9)
        return math.floor(self.start / 24.0) + 1, math.floor(last / 24.0) + 1


def hours_of_work(
    area: float, edge: float, coats: int, pace: tuple[float, float] | None = None
) -> float:
    """Return the work of painting, hours.

    With a quarter of an hour a coat to set out and to clean. `area`, mm². `edge`: edge
    to cut in, mm. `pace`: m² and m of edge an hour; `PACE` by default.
    """
    fill, cut = pace or PACE
    return coats * (_SET_UP + area * 1e-6 / fill + edge * 1e-3 / cut)


def _worked(start: float, hours: float, day: float) -> tuple[float, float]:
    """Return when work begins and ends, with nights between."""
    if day >= 24.0:
        return start, start + hours
    morning = math.floor(start / 24.0) * 24.0
    if start - morning >= day - 1e-9:
        morning += 24.0
        start = morning
    if hours <= _SHORT and start + hours > morning + day + 1e-9:
        # what is soon done is not begun in the evening
        morning += 24.0
        start = morning
    left, end = hours, start
    while left > morning + day - end + 1e-9:
        left -= morning + day - end
        morning += 24.0
        end = morning
    return start, end + left


def find_days(tasks: Sequence[Task], *, day: float = _DAY) -> tuple[When, ...]:
    """Return when each task is done.

    `tasks`: in the order of work. `day`: hours of work a day; 24: without nights.

    Without nights the end is the longest path through the graph whose edges go
    from each task to the next and to those that wait for it.
    """
    found: list[When] = []
    free = 0.0
    for task in tasks:
        ready = [(found[i].end + wait, (i, wait, why)) for i, wait, why in task.after]
        latest = max((r for r, _ in ready), default=0.0)
        start, end = _worked(max(free, latest), task.hours, day)
        binding = tuple(
            why for r, why in ready if r > free + 1e-9 and r > latest - 1e-9
        )
        # coats wait for each other while the hands may rest
        end += task.between
        found.append(When(start, end, max(start - free, 0.0), binding))
        free = end
    return tuple(found)
