"""Work kept in the user's state folder, so that nothing is lost.

Drawings lie there once each, named by their digest; each sheet is one small JSON
file with its plan. Beside it lie rows: the wishes that are answered and not yet
fulfilled, the moments that undo returns to, the colourways that are kept. Names
that come from outside are never used as paths. A file is written beside its place
and renamed, so that a stop in the middle leaves the one before; a wish is a line
added to its file, of which a stop leaves a piece that is no row.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import sys
import tempfile
import time
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.errors import FillworkError

if TYPE_CHECKING:
    from collections.abc import Iterator


_ID = re.compile(r"[A-Za-z0-9_-]{8,40}")
_KEEP = 40
_YOUNG = 24 * 3600.0


def state_folder() -> Path:
    """Return the folder where the page keeps work.

    ``FILLWORK_STATE`` where set, else the system's folder for such things.
    """
    stated = os.environ.get("FILLWORK_STATE")
    if stated:
        return Path(stated)
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "fillwork"
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home()) / "fillwork"
    base = os.environ.get("XDG_STATE_HOME")
    return (Path(base) if base else Path.home() / ".local" / "state") / "fillwork"


@dataclass(frozen=True, slots=True)
class Saved:
    """Hold one sheet as it lies on disk."""

    id: str  # the sheet
    name: str  # the drawing's file name
    digest: str  # SHA-256 of the drawing
    plan: str  # the plan file's text, with the person's own pins
    standing: list[list[str]] | None  # pins of the colours that merely stand
    when: float = 0.0  # seconds since 1970, UTC
    label: str = ""  # what was done last
    number: int = 0  # number of the moment that stands
    done: int = 0  # number of the last wish that is fulfilled or refused
    # past and future: moments that undo and redo return to, the nearest last
    past: list[tuple[int, str]] = field(default_factory=list)
    future: list[tuple[int, str]] = field(default_factory=list)


class Store:
    """Keep sheets in a folder. `folder`: made when something is first saved."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _sheet(self, sheet: str) -> Path:
        if not _ID.fullmatch(sheet):
            what = "there is no such sheet"
            raise FillworkError(what, mend="choose one of the list, or a drawing")
        return self._folder / "sheets" / f"{sheet}.json"

    def save_drawing(self, data: bytes) -> str:
        """Keep a drawing; its SHA-256, by which `drawing` gives it back."""
        digest = hashlib.sha256(data).hexdigest()
        path = self._folder / "drawings" / digest
        if not path.is_file():
            _write(path, data)
        return digest

    def drawing(self, digest: str) -> bytes:
        """Return a drawing that was kept.

        `digest`: its SHA-256. Raises `FillworkError` if it is not there, or not what it
        was.
        """
        path = self._folder / "drawings" / digest
        data = b""
        if re.fullmatch("[0-9a-f]{64}", digest):
            with contextlib.suppress(OSError):
                data = path.read_bytes()
        if hashlib.sha256(data).hexdigest() != digest:
            what = "the drawing of this sheet is no longer there"
            raise FillworkError(what, mend="choose the drawing's file again")
        return data

    def save(self, saved: Saved) -> None:
        """Keep a sheet as it is now."""
        table = asdict(replace(saved, when=time.time()))
        text = json.dumps({"schema": 1, **table}, ensure_ascii=False)
        _write(self._sheet(saved.id), text.encode())

    def forget(self, sheet: str) -> None:
        """Take a sheet away with all that lies beside it."""
        path = self._sheet(sheet)
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)
            for room in self._folder.iterdir():
                for other in room.glob(f"{path.stem}.*"):
                    other.unlink(missing_ok=True)

    def load(self, sheet: str) -> Saved:
        """Return a sheet as it was last kept.

        `sheet`: its id. Raises `FillworkError` if there is none, or it cannot be read.
        """
        found = _read(self._sheet(sheet))
        if found is None:
            what = "this sheet is no longer there"
            raise FillworkError(what, mend="choose one of the list, or a drawing")
        return found

    def _beside(self, room: str, sheet: str, number: int | None) -> Path:
        stem = self._sheet(sheet).stem
        part = "" if number is None else f".{number}"
        return self._folder / room / f"{stem}{part}.json"

    def save_rows(
        self,
        room: str,
        sheet: str,
        rows: list[dict[str, Any]],
        number: int | None = None,
    ) -> None:
        """Keep rows beside a sheet, in place of those that were there.

        `room`: what they are: ``kept``, ``wishes`` or ``moments``. `sheet`: its id.
        `rows` (list of dict): plain values; none takes the file away. `number`: which
        of several.
        """
        path = self._beside(room, sheet, number)
        if rows:
            _write(path, "".join(map(_line, rows)).encode())
        else:
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)

    def add_wish(self, sheet: str, row: dict[str, Any]) -> None:
        """Keep one more wish beside a sheet; it is on the disk when this returns."""
        path = self._beside("wishes", sheet, None)
        with _said():
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            with path.open("ab") as file:
                # a piece that an earlier stop left ends with the line before
                file.write(b"\n" + _line(row).encode())
                file.flush()
                os.fsync(file.fileno())

    def rows(
        self, room: str, sheet: str, number: int | None = None
    ) -> list[dict[str, Any]]:
        """Return the rows kept beside a sheet; plain values; those that can be read.

        `room`, `sheet`, `number`: as for `save_rows`.
        """
        found: list[Any] = []
        with contextlib.suppress(OSError):
            for line in self._beside(room, sheet, number).read_bytes().splitlines():
                with contextlib.suppress(ValueError):
                    table = json.loads(line)
                    found += table if isinstance(table, list) else [table]
        return [row for row in found if isinstance(row, dict)]

    def last_port(self) -> int:
        """Return the port of the start before, so that open pages find the next one.

        0 where none is known.
        """
        try:
            port = int((self._folder / "port").read_text())
        except (OSError, ValueError):
            return 0
        return port if 1024 <= port <= 65535 else 0

    def save_port(self, port: int) -> None:
        """Remember the port of this start."""
        with contextlib.suppress(FillworkError):  # a page can do without
            _write(self._folder / "port", str(port).encode())

    def last(self, most: int = 12) -> list[Saved]:
        """Return the sheets kept, the newest first."""
        return self._all()[:most]

    def tidy(self) -> None:
        """Take away the oldest sheets and drawings that no sheet needs.

        A drawing that was kept just now may belong to a sheet that is still at
        work on it, of another start perhaps.
        """
        sheets = self._all()
        for old in sheets[_KEEP:]:
            self.forget(old.id)
        needed = {s.digest for s in sheets[:_KEEP]}
        folder = self._folder / "drawings"
        for path in sorted(folder.iterdir()) if folder.is_dir() else ():
            with contextlib.suppress(OSError):
                young = time.time() - path.stat().st_mtime < _YOUNG
                if path.name not in needed and not young:
                    path.unlink()

    def _all(self) -> list[Saved]:
        folder = self._folder / "sheets"
        found = []
        for path in folder.glob("*.json") if folder.is_dir() else ():
            saved = _read(path)
            if saved is not None:
                found.append(saved)
        return sorted(found, key=lambda s: (-s.when, s.id))


def _read(path: Path) -> Saved | None:
    try:
        table = json.loads(path.read_bytes())
        table.pop("schema")
        return Saved(**table)
    except (OSError, ValueError, TypeError, AttributeError, KeyError):
        return None


def _line(row: dict[str, Any]) -> str:
    return json.dumps(row) + "\n"


@contextlib.contextmanager
def _said() -> Iterator[None]:
    """Say in words what the disk refuses."""
    try:
        yield
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        what = f"the work cannot be saved: {reason}"
        mend = "make room on the disk, or set FILLWORK_STATE to another folder"
        raise FillworkError(what, mend=mend) from error


def _write(path: Path, data: bytes) -> None:
    with _said():
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, beside = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(beside).replace(path)
        except BaseException:
            Path(beside).unlink(missing_ok=True)
            raise
