"""Work in the background, one thread a sheet, that can be stopped.

Stages tell when they begin; there the work of a job that is no longer wanted ends.
"""

from __future__ import annotations

import sys
import threading
import traceback
from collections import deque
from typing import TYPE_CHECKING

from fillwork.errors import FillworkError
from fillwork.server.answers import error_table

if TYPE_CHECKING:
    from collections.abc import Callable

    Progress = Callable[[str], None]
    Job = Callable[[Progress], None]


MOST_WAITING = 50


class Cancelled(Exception):  # noqa: N818 - it is a wish, no error
    """End work that is no longer wanted."""


class Worker:
    """Run jobs one after the other in a thread of its own."""

    def __init__(self) -> None:
        self._waiting: deque[tuple[str, Job]] = deque()
        self._ready = threading.Condition()
        self._state = "idle"
        self._what = ""
        self._error: dict[str, str] | None = None  # of the job that failed last
        self._ended_jobs = self._failed_jobs = 0
        self._cancel = False
        self._ended = False
        self._thread: threading.Thread | None = None

    def submit(self, name: str, job: Job) -> None:
        """Queue a job; one of the same name that waits gives way to it.

        `name`: what it does, such as ``suggest``. `job`: takes a function to tell the
        stage it is at. Raises `FillworkError` if too many jobs wait.
        """
        with self._ready:
            kept = [(n, j) for n, j in self._waiting if n != name]
            if len(kept) >= MOST_WAITING:
                what = "too much is waiting to be done"
                raise FillworkError(what, mend="wait a moment, or cancel")
            self._waiting = deque([*kept, (name, job)])
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, daemon=True)
                self._thread.start()
            self._ready.notify_all()

    def cancel(self) -> None:
        """Stop the job that runs, and forget those that wait."""
        with self._ready:
            self._waiting.clear()
            self._cancel = self._state == "working"

    def end(self) -> None:
        """Stop for good."""
        with self._ready:
            self._waiting.clear()
            self._cancel = self._ended = True
            self._ready.notify_all()

    def state(self) -> dict[str, object]:
        """Return what goes on.

        ``state`` (idle, working, failed, cancelled), ``what``, ``error`` of the job
        that failed last, and how many jobs have ``ended`` and ``failed``: who asks now
        and then hears of each failure, and of none twice.
        """
        with self._ready:
            state = "working" if self._waiting else self._state
            return {
                "state": state,
                "what": self._what,
                "error": self._error,
                "ended": self._ended_jobs,
                "failed": self._failed_jobs,
            }

    def wait(self, seconds: float = 60.0) -> bool:
        """Wait until nothing is left to do; whether all is done.

        `seconds`: for how long at most.
        """
        with self._ready:
            return self._ready.wait_for(
                lambda: not self._waiting and self._state != "working", seconds
            )

    def _tell(self, what: str) -> None:
        with self._ready:
            self._what = what
            if self._cancel:
                raise Cancelled

    def _run(self) -> None:
        while True:
            with self._ready:
                self._ready.wait_for(lambda: self._waiting or self._ended)
                if self._ended:
                    return
                _, job = self._waiting.popleft()
                self._state, self._what = "working", ""
                self._cancel = False
            state, error = "idle", None
            try:
                job(self._tell)
            except Cancelled:
                state = "cancelled"
            except FillworkError as found:
                state = "failed"
                error = error_table(found.what, found.where, found.mend)
            except MemoryError:
                state = "failed"
                mend = "use the command line on a machine with more memory"
                error = error_table("there is not enough memory", mend=mend)
            except Exception as found:  # the thread must live on, and say it
                traceback.print_exception(found, file=sys.stderr)
                state = "failed"
                mend = "your work is saved; try another choice"
                error = error_table("something went wrong inside fillwork", mend=mend)
            with self._ready:
                self._state = state
                self._ended_jobs += 1
                if error is not None:
                    self._error = error
                    self._failed_jobs += 1
                self._ready.notify_all()
