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
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.errors import RenderError
from fillwork.notes import Note
from fillwork.printing import is_text
from fillwork.version import __version__

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

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
        "outputs": outputs_of(files),
    }


def outputs_of(files: Mapping[str, bytes]) -> list[dict[str, str]]:
    """Return names and digests of files, as records hold them."""
    return [{"file": name, "sha256": digest(data)} for name, data in files.items()]


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


@dataclass(frozen=True, slots=True)
class _Record:
    """Hold what a record of a folder tells; empty where it cannot be read."""

    drawing: str = ""  # the drawing's file
    sha256: object = None  # its digest
    # digests of the files written, of the record itself where it is as it was
    own: dict[str, str] = field(default_factory=dict)


def _told(name: str, data: bytes) -> _Record:
    """Return what a record tells. `name`: its file. `data`: its content."""
    try:
        told = _members(data, "drawing", "outputs", "self_sha256")
        drawing, claimed = told.get("drawing") or {}, str(told["self_sha256"])
        own = {str(o["file"]): str(o["sha256"]) for o in told["outputs"]}
        file, sha256 = str(drawing.get("file") or ""), drawing.get("sha256")
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return _Record()
    own = {n: d for n, d in own.items() if is_text(n)}
    # an empty text or one figure would stand in the record anywhere
    sealed = is_text(claimed) and len(claimed) == 64
    if sealed and digest(data.replace(claimed.encode(), b"", 1)) == claimed:
        own[name] = digest(data)
    return _Record(file, sha256, own)


def _records(folder: Path, names: Iterable[str] = _RECORDS) -> dict[str, _Record]:
    """Return what the records of a folder tell, by their names."""
    found = dict.fromkeys(names, _Record())
    for name in found:
        with contextlib.suppress(OSError):
            found[name] = _told(name, _read(folder / name))
    return found


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
    beside = _records(path.parent).values() if path.name == _MADE else ()
    if any(_MADE in record.own for record in beside):
        return path.parent / step
    return Path("out", path.stem.strip(". -") or "drawing")


def earlier_state(folder: str | Path, linework: LineWork) -> tuple[Note, ...]:
    """Return a note where a folder holds files of another state of the drawing."""
    file, now = linework.file, linework.digest
    for before in _records(Path(folder)).values():
        if before.drawing == file and before.sha256 not in (None, now):
            text = (
                f"what stood in {folder} was made from another {file}, or "
                "from an earlier state of it"
            )
            remedy = "name another --out to keep both"
            return (Note("pipeline", "earlier state", text, remedy=remedy),)
    return ()


def _refuse_another(
    folder: Path, files: Mapping[str, bytes], records: Mapping[str, _Record]
) -> None:
    """Raise where files of another drawing would be replaced."""
    mine = {_told(r, files[r]).drawing for r in _RECORDS if r in files} - {""}
    if len(mine) != 1:
        return
    (drawing,) = mine
    for record, before in records.items():
        theirs = {*before.own, record}
        # a run that made this drawing is no stranger
        if before.drawing in ("", drawing) or drawing in theirs:
            continue
        for name in [n for n in files if n in theirs]:
            there = folder / name
            if there.exists() and there.read_bytes() != files[name]:
                what = f"this file was made from {before.drawing}, not from {drawing}"
                mend = "choose another --out, or overwrite it with --force"
                raise RenderError(what, str(there), mend)


def _refuse_foreign(
    folder: Path, files: Mapping[str, bytes], records: Mapping[str, _Record]
) -> None:
    """Raise where files that fillwork did not write would be replaced."""
    for name, data in files.items():
        path = folder / name
        if not path.exists() and not path.is_symlink():
            continue
        try:
            there = digest(_read(path))
        except OSError as error:
            what = f"cannot be read: {_reason(error)}"
            raise RenderError(what, str(path), "choose another --out") from error
        own = {record.own.get(name) for record in records.values()}
        if there not in own | {digest(data)}:
            what = "this file was not written by fillwork, or was edited since"
            mend = "move it away, choose another --out, or overwrite it with --force"
            raise _ForeignError(what, str(path), mend)


def _refuse_special(folder: Path, files: Mapping[str, bytes]) -> None:
    """Refuse to put a file in the place of a folder, a device or a pipe."""
    for path in (folder / name for name in files):
        if path.exists() and not path.is_file():
            is_folder = path.is_dir()
            what = "there is a folder of that name" if is_folder else "is no plain file"
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
    # where links lead, round in a circle too
    kept = None if keep is None else os.path.realpath(keep)
    files = {n: d for n, d in files.items() if os.path.realpath(folder / n) != kept}
    made = _missing_folders(folder)
    records = _records(folder)
    left = _still_there(folder, files, kept, records)
    if left is not None:
        files[LEFT] = left
    staged: list[tuple[Path, Path]] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _refuse_special(folder, files)
        if not force:
            _refuse_another(folder, files, records)
            _refuse_foreign(folder, files, records)
        staged.extend(
            (_stage(folder / name, files[name]), folder / name)
            for name in sorted(files, key=lambda n: n in _RECORDS)
        )
        for temporary, path in staged:
            temporary.replace(path)
        if left is None and LEFT in records[LEFT].own:
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
    folder: Path,
    files: Mapping[str, bytes],
    kept: str | None,
    records: Mapping[str, _Record],
) -> bytes | None:
    """Return a record of what earlier runs of this command left, unchanged since."""
    mine = (records[r] for r in _RECORDS if r in files or r == LEFT)
    own = {n: d for record in mine for n, d in record.own.items()}
    left = []
    for name, sha in sorted(own.items()):
        path = folder / name
        if name in files or name in _RECORDS or path.parent != folder:
            continue
        with contextlib.suppress(OSError):
            if os.path.realpath(path) != kept and digest(path.read_bytes()) == sha:
                left.append({"file": name, "sha256": sha})
    if not left:
        return None
    text = json.dumps({"outputs": left, "self_sha256": ""}, indent=1)
    own_digest = f'"self_sha256": "{digest(text.encode())}"'
    return text.replace('"self_sha256": ""', own_digest).encode()


def left_there(folder: Path) -> tuple[str, ...]:
    """Return the names of files that an earlier run wrote and the last one did not."""
    own = _records(folder, (LEFT,))[LEFT].own
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
