"""Work kept in the user's state folder, so that nothing is lost.

Drawings lie there once each, named by their digest; each sheet is one small JSON
file with its plan. Names that come from outside are never used as paths. A file
is written beside its place and renamed, so that a stop in the middle leaves the
one before.
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
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from fillwork.errors import FillworkError

__all__ = ["Saved", "Store", "state_folder"]

_ID = re.compile(r"[A-Za-z0-9_-]{8,40}")
_KEEP = 40
_YOUNG = 24 * 3600.0


def state_folder() -> Path:
    """Return the folder where the page keeps work.

    Returns
    -------
    Path
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
    """Hold one sheet as it lies on disk.

    Parameters
    ----------
    id : str
        The sheet.
    name : str
        The drawing's file name.
    digest : str
        SHA-256 of the drawing.
    plan : str
        The plan file's text, with the person's own pins.
    standing : list of (where, swatch, scope) or None
        Pins of the colours that merely stand.
    when : float
        Seconds since 1970, UTC.
    """

    id: str
    name: str
    digest: str
    plan: str
    standing: list[list[str]] | None
    when: float


class Store:
    """Keep sheets in a folder.

    Parameters
    ----------
    folder : Path
        Made when something is first saved.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _sheet(self, sheet: str) -> Path:
        if not _ID.fullmatch(sheet):
            what = "there is no such sheet"
            raise FillworkError(what, mend="choose one of the list, or a drawing")
        return self._folder / "sheets" / f"{sheet}.json"

    def save_drawing(self, data: bytes) -> str:
        """Keep a drawing.

        Parameters
        ----------
        data : bytes
            Its content.

        Returns
        -------
        str
            Its SHA-256, by which `drawing` gives it back.
        """
        digest = hashlib.sha256(data).hexdigest()
        path = self._folder / "drawings" / digest
        if not path.is_file():
            _write(path, data)
        return digest

    def drawing(self, digest: str) -> bytes:
        """Return a drawing that was kept.

        Parameters
        ----------
        digest : str
            Its SHA-256.

        Returns
        -------
        bytes
            Its content.

        Raises
        ------
        FillworkError
            If it is not there, or not what it was.
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

    def save(
        self,
        sheet: str,
        name: str,
        digest: str,
        plan: str,
        standing: list[list[str]] | None,
    ) -> None:
        """Keep a sheet as it is now.

        Parameters
        ----------
        sheet : str
            Its id.
        name, digest, plan, standing
            As in `Saved`.
        """
        saved = Saved(sheet, name, digest, plan, standing, time.time())
        text = json.dumps({"schema": 1, **asdict(saved)}, ensure_ascii=False)
        _write(self._sheet(sheet), text.encode())

    def load(self, sheet: str) -> Saved:
        """Return a sheet as it was last kept.

        Parameters
        ----------
        sheet : str
            Its id.

        Returns
        -------
        Saved
            The sheet.

        Raises
        ------
        FillworkError
            If there is none, or it cannot be read.
        """
        found = _read(self._sheet(sheet))
        if found is None:
            what = "this sheet is no longer there"
            raise FillworkError(what, mend="choose one of the list, or a drawing")
        return found

    def save_kept(self, sheet: str, rows: list[dict[str, Any]]) -> None:
        """Keep what a person keeps beside a sheet.

        Parameters
        ----------
        sheet : str
            Its id.
        rows : list of dict
            Plain values.
        """
        path = self._sheet(sheet)
        _write(self._folder / "kept" / path.name, json.dumps(rows).encode())

    def load_kept(self, sheet: str) -> list[dict[str, Any]]:
        """Return what was kept beside a sheet.

        Parameters
        ----------
        sheet : str
            Its id.

        Returns
        -------
        list of dict
            Plain values; empty where there is nothing that can be read.
        """
        try:
            found = json.loads((self._folder / "kept" / f"{sheet}.json").read_bytes())
        except (OSError, ValueError):
            return []
        rows = found if isinstance(found, list) else []
        return [row for row in rows if isinstance(row, dict)]

    def last_port(self) -> int:
        """Return the port of the start before, so that open pages find the next one.

        Returns
        -------
        int
            0 where none is known.
        """
        try:
            port = int((self._folder / "port").read_text())
        except (OSError, ValueError):
            return 0
        return port if 1024 <= port <= 65535 else 0

    def save_port(self, port: int) -> None:
        """Remember the port of this start.

        Parameters
        ----------
        port : int
            The port.
        """
        with contextlib.suppress(FillworkError):  # a page can do without
            _write(self._folder / "port", str(port).encode())

    def last(self, most: int = 12) -> list[Saved]:
        """Return the sheets kept, the newest first.

        Parameters
        ----------
        most : int
            How many at most.

        Returns
        -------
        list of Saved
            Those that can be read.
        """
        return self._all()[:most]

    def tidy(self) -> None:
        """Take away the oldest sheets and drawings that no sheet needs.

        A drawing that was kept just now may belong to a sheet that is still at
        work on it, of another start perhaps.
        """
        sheets = self._all()
        for old in sheets[_KEEP:]:
            with contextlib.suppress(OSError):
                self._sheet(old.id).unlink()
                (self._folder / "kept" / f"{old.id}.json").unlink(missing_ok=True)
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


def _write(path: Path, data: bytes) -> None:
    try:
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
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        what = f"the work cannot be saved: {reason}"
        mend = "make room on the disk, or set FILLWORK_STATE to another folder"
        raise FillworkError(what, mend=mend) from error
