"""What commands say: answers on output; progress and notes on standard error."""

from __future__ import annotations

import os
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fillwork.errors import RenderError
from fillwork.printing import visible

if TYPE_CHECKING:
    from collections.abc import Iterable
    from types import TracebackType

    from fillwork.notes import Note


_FEW = 5  # names of files told in one line
_AGAIN = 3.0  # seconds until the part done is said again


def say(text: str, *, err: bool = False, nl: bool = True) -> None:
    """Print a text in which no name can steer the terminal.

    Raises `RenderError` where the text cannot be written, such as on a full disk.
    """
    try:
        click.echo(visible(text), err=err, nl=nl)
    except BrokenPipeError:
        raise
    except OSError as error:
        if err:  # there is nowhere left to say it
            return
        # what is left unwritten would end in an error of Python's own at its end
        with suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        what = f"cannot be written: {(error.strerror or str(error)).lower()}"
        mend = "make room, or send the results elsewhere"
        raise RenderError(what, "standard output", mend) from error


class Progress:
    """Name the stage at work once the whole has taken a second.

    The part done, in brackets, is said again only after some seconds. `silent`: say
    nothing at all.
    """

    def __init__(self, silent: bool) -> None:
        self._stage = ""
        self._said, self._at = "", 0.0
        self._loud = False
        self._timer = None if silent else threading.Timer(1.0, self._begin)

    def __enter__(self) -> Progress:
        if self._timer is not None:
            self._timer.daemon = True
            self._timer.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._loud = False

    def __call__(self, stage: str) -> None:
        """Take the name of the stage that begins."""
        self._stage = stage
        if self._loud:
            self._say()

    def _begin(self) -> None:
        self._loud = True
        if self._stage:
            self._say()

    def _say(self) -> None:
        plain = self._stage.partition(" (")[0]
        now = time.monotonic()
        if plain == self._said and now - self._at < _AGAIN:
            return
        self._said, self._at = plain, now
        say(f"… {self._stage}", err=True)


def show_notes(notes: Iterable[Note]) -> None:
    """Print notes, each once."""
    for text in dict.fromkeys(_line(note) for note in notes):
        say(text, err=True)


def _line(note: Note) -> str:
    where = ""
    if note.source is not None and not note.text.startswith(note.source[0]):
        element, line = note.source
        where = f"{element}, line {line}: " if line else f"{element}: "
    at = f" (near @{note.at[0]:.1f},{note.at[1]:.1f})" if note.at is not None else ""
    remedy = f"\n  {note.remedy}" if note.remedy else ""
    return f"note: {where}{note.text}{at}{remedy}"


def show_written(paths: Iterable[str | Path]) -> None:
    """Print the files written, on standard output, and what earlier runs left there."""
    from fillwork.pipeline.output import left_there

    written = [Path(path) for path in paths]
    for path in written:
        say(f"wrote {path}")
    for folder in dict.fromkeys(path.parent for path in written):
        names = left_there(folder)
        if names:
            many = ", ".join(names[:_FEW]) + (" …" if len(names) > _FEW else "")
            say(f"left  {many} in {folder}: made by an earlier run, not by this one")
