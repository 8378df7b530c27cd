"""Writing of files: whole or not at all, and never over somebody else's work.

All bytes are made before the first file is touched. Each file is written under
a temporary name in its own folder and renamed; the report goes last, because
its digests say which files are fillwork's own.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.errors import RenderError
from fillwork.notes import Note
from fillwork.printing import is_text
from fillwork.version import __version__

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fillwork.linework import LineWork


REPORT = "report.json"
_MADE = "drawing.svg"
"""The drawing that tracing, laying and weaving make."""

LEFT = ".earlier.json"
"""What an earlier run wrote and the last one did not: still fillwork's own."""

_RECORDS = (REPORT, "sheets.json", "colourways.json", "trace.json", "batch.json", LEFT)
"""Files in which the commands leave the digests of what they wrote."""


class _ForeignError(RenderError):
    """Say that a file is not fillwork's own."""


def digest(data: bytes) -> str:
    """Return the SHA-256 of some bytes; 64 hexadecimal digits. `data`: any content."""
    return hashlib.sha256(data).hexdigest()


def record_of(
    linework: LineWork, files: Mapping[str, bytes], **told: object
) -> dict[str, Any]:
    """Return a record of files, by which they are known as fillwork's own."""
    return {
        "schema": 1,
        "fillwork": __version__,
        "drawing": {"file": linework.file, "sha256": linework.digest},
        **told,
        "outputs": [{"file": n, "sha256": digest(d)} for n, d in files.items()],
    }


def _reason(error: OSError) -> str:
    return (error.strerror or type(error).__name__).lower()


def _read(path: Path) -> bytes:
    """Return the bytes of a file; of a pipe or a device, which may never end, none.

    Raises `OSError` if it cannot be read or is no plain file.
    """
    if path.exists() and not path.is_file():
        raise OSError(errno.EINVAL, "It is no plain file")
    return path.read_bytes()


def _members(data: bytes, *names: str) -> dict[str, Any]:
    """Return some members of a record, without the rows of a large report.

    Each member begins a line of its own, one space in, in every record that fillwork
    writes; what is laid out otherwise is read whole. Raises `ValueError` if it is no
    JSON, `TypeError` if it is no table.
    """
    found = {}
    for name in names:
        key = f"\n {json.dumps(name)}: ".encode()
        at = data.find(key) + len(key)
        end = data.find(b'\n "', at)
        end = data.rfind(b"\n}") if end < 0 else end
        if at < len(key) or end < at:
            return dict(json.loads(data))
        found[name] = json.loads(data[at:end].rstrip(b", \r\n"))
    return found


def _own_digests(folder: Path, record: str) -> dict[str, str]:
    """Return the digests that one record of the folder gives, its own included."""
    try:
        data = _read(folder / record)
        report = _members(data, "outputs", "self_sha256")
        own = {
            str(o["file"]): str(o["sha256"])
            for o in report["outputs"]
            if is_text(str(o["file"]))
        }
        claimed = report["self_sha256"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}
    if not isinstance(claimed, str) or not is_text(claimed) or len(claimed) != 64:
        return own
    blank = data.replace(claimed.encode(), b"", 1)
    if digest(blank) == claimed:
        own[record] = digest(data)
    return own


def _drawing_of(record: bytes) -> str:
    """Return the drawing that a record names; empty where it names none."""
    try:
        name = _members(record, "drawing")["drawing"]["file"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return ""
    return name if isinstance(name, str) else ""


def default_folder(drawing: str | Path, *, step: str = "") -> Path:
    """Return where the results of a drawing go unless another place is named.

    ``out/NAME`` by the file's name without its ending; for a ``drawing.svg`` that was
    traced, laid or woven, the folder in which it lies.

    `drawing`: its file, or ``-`` for standard input. `step`: of what makes another
    ``drawing.svg``: a folder's name, so that the first one stays.

    Examples
    --------
    >>> default_folder("panels/hall.svg").as_posix()
    'out/hall'
    """
    path = Path(drawing)
    if path.name == _MADE and any(
        path.name in _own_digests(path.parent, record) for record in _RECORDS
    ):
        return path.parent / step
    return Path("out", path.stem.strip(". -") or "drawing")


def earlier_state(folder: str | Path, linework: LineWork) -> tuple[Note, ...]:
    """Return a note where a folder holds files of another state of the drawing."""
    for record in _RECORDS:
        try:
            data = _read(Path(folder) / record)
            before = _members(data, "drawing")["drawing"]
            same = before["sha256"] == linework.digest
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            continue
        if before.get("file") == linework.file and not same:
            text = (
                f"what stood in {folder} was made from another {linework.file}, or "
                "from an earlier state of it"
            )
            remedy = "name another --out to keep both"
            return (Note("pipeline", "earlier state", text, remedy=remedy),)
    return ()


def _refuse_another(folder: Path, files: Mapping[str, bytes]) -> None:
    """Raise where files of another drawing would be replaced."""
    mine = {_drawing_of(files[r]) for r in _RECORDS if r in files} - {""}
    if len(mine) != 1:
        return
    (drawing,) = mine
    for record in _RECORDS:
        path = folder / record
        try:
            before = _drawing_of(_read(path))
        except OSError:
            continue
        if before in ("", drawing):
            continue
        theirs = {*_own_digests(folder, record), record}
        if drawing in theirs:
            continue  # that run made this drawing
        for name in files:
            there = folder / name
            if name in theirs and there.exists():
                if there.read_bytes() == files[name]:
                    continue
                what = f"this file was made from {before}, not from {drawing}"
                mend = "choose another --out, or overwrite it with --force"
                raise RenderError(what, str(there), mend)


def _refuse_foreign(folder: Path, files: Mapping[str, bytes]) -> None:
    _refuse_another(folder, files)
    records = [_own_digests(folder, record) for record in _RECORDS]
    for name, data in files.items():
        path = folder / name
        if not path.exists() and not path.is_symlink():
            continue
        try:
            there = digest(_read(path))
        except OSError as error:
            what = f"cannot be read: {_reason(error)}"
            raise RenderError(what, str(path), "choose another --out") from error
        own = {record[name] for record in records if name in record}
        if there not in own | {digest(data)}:
            what = "this file was not written by fillwork, or was edited since"
            mend = "move it away, choose another --out, or overwrite it with --force"
            raise _ForeignError(what, str(path), mend)


def _refuse_special(folder: Path, files: Mapping[str, bytes]) -> None:
    """Refuse to put a file in the place of a folder, a device or a pipe."""
    for path in (folder / name for name in files):
        if path.exists() and not path.is_file():
            folder_there = "there is a folder of that name"
            what = folder_there if path.is_dir() else "is no plain file"
            raise RenderError(what, str(path), "move it away, or choose another --out")


def _stage(path: Path, data: bytes) -> Path:
    """Write the bytes beside their place and return the temporary file."""
    handle, name = tempfile.mkstemp(prefix=".fillwork-", dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    return temporary


def write_files(
    folder: Path,
    files: Mapping[str, bytes],
    *,
    force: bool = False,
    keep: Path | None = None,
) -> tuple[Path, ...]:
    """Write all files, or none.

    `folder`: where to; made when missing. `files`: file names without folder, and
    contents. `keep`: a file that is never overwritten, such as the plan that was given.
    Raises `RenderError` if the folder cannot be written, or a file there is not
    fillwork's own.
    """
    if keep is not None:
        kept = keep.resolve()
        files = {n: d for n, d in files.items() if (folder / n).resolve() != kept}
    made = _missing_folders(folder)
    left = _still_there(folder, files, keep)
    if left is not None:
        files = {**files, LEFT: left}
    staged: list[tuple[Path, Path]] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _refuse_special(folder, files)
        if not force:
            _refuse_foreign(folder, files)
        staged.extend(
            (_stage(folder / name, files[name]), folder / name)
            for name in sorted(files, key=lambda n: n in _RECORDS)
        )
        for temporary, path in staged:
            temporary.replace(path)
        if left is None and LEFT in _own_digests(folder, LEFT):
            (folder / LEFT).unlink(missing_ok=True)
    except OSError as error:
        raise _not_written(folder, error) from error
    finally:
        for temporary, _ in staged:
            temporary.unlink(missing_ok=True)
        for path in made:
            with contextlib.suppress(OSError):
                path.rmdir()
    return tuple(path for _, path in staged if path.name != LEFT)


def _not_written(folder: Path, error: OSError) -> RenderError:
    # what stands in the way of a folder
    what = f"cannot be written: {_reason(error)}"
    mend = "choose another folder with --out, or mend its permissions"
    for path in (folder, *folder.parents):
        try:
            if not os.path.lexists(path) or path.is_dir():
                continue
        except OSError:
            continue
        if path.is_symlink() and not path.exists():
            what = "is a link to a folder that is not there"
            mend = "make that folder, or choose another with --out"
        else:
            what, mend = "is a file, not a folder", "choose a folder with --out"
        return RenderError(what, str(path), mend)
    if error.errno in {errno.ENOSPC, errno.EDQUOT}:
        mend = "make room there, or choose another folder with --out"
    return RenderError(what, str(folder), mend)


def _still_there(
    folder: Path, files: Mapping[str, bytes], keep: Path | None
) -> bytes | None:
    """Return a record of what earlier runs of this command left, unchanged since."""
    records = [record for record in _RECORDS if record in files or record == LEFT]
    own = {n: d for r in records for n, d in _own_digests(folder, r).items()}
    kept = None if keep is None else keep.resolve()
    left = []
    for name, sha in sorted(own.items()):
        path = folder / name
        if name in files or name in _RECORDS or path.resolve() == kept:
            continue
        if path.parent != folder:
            continue
        with contextlib.suppress(OSError):
            if digest(path.read_bytes()) == sha:
                left.append({"file": name, "sha256": sha})
    if not left:
        return None
    text = json.dumps({"outputs": left, "self_sha256": ""}, indent=1)
    own_digest = f'"self_sha256": "{digest(text.encode())}"'
    return text.replace('"self_sha256": ""', own_digest).encode()


def left_there(folder: Path) -> tuple[str, ...]:
    """Return the names of files that an earlier run wrote and the last one did not."""
    own = _own_digests(folder, LEFT)
    return tuple(sorted(own.keys() - {LEFT})) if LEFT in own else ()


def _missing_folders(folder: Path) -> list[Path]:
    """Return the folders that do not exist yet, the deepest first."""
    missing = []
    for path in (folder, *folder.parents):
        if os.path.lexists(path):
            break
        missing.append(path)
    return missing


def write_file(path: Path, data: bytes, *, force: bool = False) -> None:
    """Write one file whole, or not at all.

    `path`: where to; its folder must exist or is made. `force`: overwrite a file that
    differs; without it only an equal one may be there. Raises `RenderError` if it
    cannot be written, or another file is there.
    """
    if not path.name:
        what = "names no file"
        raise RenderError(what, str(path), "give a file name")
    try:
        write_files(path.parent, {path.name: data}, force=force)
    except _ForeignError as error:
        # no record tells whose a file is that stands alone
        what = "another file of this name is there"
        mend = "name another file, or overwrite it with --force"
        raise RenderError(what, str(path), mend) from error
