"""The one gate through which every TOML file comes: palettes, plans, paints on hand.

Such files are handed about and may be made to do harm. The text is weighed before
it is parsed, since nested brackets, long keys and long numbers cost a parser more
than their length; the values are weighed before anything else sees them.
"""

from __future__ import annotations

import re
import stat
import sys
import tomllib
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.errors import FillworkError, PlanError, ReadError
from fillwork.printing import find_control, visible

if TYPE_CHECKING:
    from collections.abc import Iterator


LONGEST_TEXT = 2_000  # characters of one text
_LONGEST_PATH = 400_000  # characters of lines that a plan keeps as path data
_DRAWN = ("outline", "corner", "border", "border_cell")  # keys that may hold lines
MOST_BYTES = 1_000_000  # of the file
_DEEPEST = 12  # tables and lists inside each other
_LARGEST = 2**63  # whole numbers are of 64 bits by the standard, TOML 1.0, Integer
_LONGEST_KEY = 200
_MOST_VALUES = 200_000

# Texts and comments, each taken to its end or that of the line or file: linear.
_TEXTS = re.compile(
    r'"""[^"\\]*(?:(?:\\.|"{1,2}(?!"))[^"\\]*)*(?:"{3,5})?'
    r"|'''[^']*(?:'{1,2}(?!')[^']*)*(?:'{3,5})?"
    r'|"[^"\\\n]*(?:\\[^\n][^"\\\n]*)*"?'
    r"|'[^'\n]*'?"
    r"|#[^\n]*",
    re.DOTALL,
)
_BRACKETS = re.compile(r"[\[\]{}]")
_LONG_NUMBER = re.compile(r"[0-9][0-9_]{40}")
_KEY = re.compile(r"[\w. \t-]+")
_PATH_DATA = re.compile(r"[Mm][MmLlHhVvCcSsQqTtAaZzEe0-9+., -]*")
_PLACE = re.compile(r"\(at (?:line (\d+).*|end of document)\)")


def parse_toml(
    data: bytes,
    file: str,
    *,
    kind: str = "plan file",
    error: type[FillworkError] = PlanError,
    mend: str = "mend that line",
) -> tuple[str, dict[str, Any]]:
    """Return the values of a TOML file that is safe to take apart.

    `data`: the file's content. `file`: its name, for messages. `kind`: what it should
    be, for messages. `error`: what is raised. `mend`: how to mend text that is no TOML.
    Returns `text` (str): the file as text; `table`: tables, lists, texts, truths, and
    numbers of at most 64 bits. Raises `FillworkError` of the type given, naming the
    line where it is known.
    """
    if len(data) > MOST_BYTES:
        what = f"the {kind} has over {MOST_BYTES // 1000} kB"
        raise error(what, file, f"is it a {kind}?")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        line = data[: cause.start].count(b"\n") + 1
        what = f"the {kind} is not UTF-8 text"
        give = f"save it as UTF-8, or give a {kind}"
        raise error(what, f"{file}, line {line}", give) from cause
    for place, what in _heavy_text(text):
        line = text.count("\n", 0, place) + 1
        raise error(what, f"{file}, line {line}", mend)
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as cause:
        found = _PLACE.search(str(cause))
        reason = _short(str(cause)[: found.start() if found else None].strip(), 80)
        line = int(found[1]) if found and found[1] else text.count("\n") + 1
        what = f"the {kind} is not sound TOML: {reason[:1].lower()}{reason[1:]}"
        raise error(what, f"{file}, line {line}", mend) from cause
    for key, what, nth in _heavy_values(table):
        line = _line_of(text, key, nth)
        what = f"“{_short(visible(key))}” {what}"
        raise error(what, f"{file}, line {line}" if line else file, mend)
    return text, table


def _heavy_text(text: str) -> Iterator[tuple[int, str]]:
    # where and why the text would cost a parser too much; positions are kept
    plain = _TEXTS.sub(lambda found: "s" * len(found[0]), text)
    if found := _LONG_NUMBER.search(plain):
        yield found.start(), "a number has more than 40 digits"
    for found in _KEY.finditer(plain):
        if found[0].count(".") >= _DEEPEST:
            yield found.start(), f"a key has more than {_DEEPEST} parts"
    depth = 0
    for found in _BRACKETS.finditer(plain):
        depth = depth + 1 if found[0] in "[{" else max(depth - 1, 0)
        if depth > _DEEPEST:
            yield found.start(), f"more than {_DEEPEST} brackets are open at once"


def _heavy_values(table: dict[str, Any]) -> Iterator[tuple[str, str, int]]:
    # key, what is wrong with it or its value, and how many keys of that name there were
    left: list[tuple[str, Any, int, bool]] = [("", table, 0, False)]
    count = 0
    met: Counter[str] = Counter()
    while left:
        key, value, depth, own = left.pop()
        count += 1
        within = value[0] if isinstance(value, list) and value else value
        met[key] += own and not isinstance(within, dict)
        if count > _MOST_VALUES:
            yield key, f"is one of more than {_MOST_VALUES:,} values", met[key]
        if isinstance(value, dict | list):
            if depth > _DEEPEST:
                yield key, f"stands more than {_DEEPEST} tables deep", met[key]
            if isinstance(value, list):
                left += [(key, one, depth + 1, False) for one in reversed(value)]
                continue
            for name, one in reversed(value.items()):
                if len(name) > _LONGEST_KEY or find_control(name):
                    yield name, "is too long for a key or steers the screen", 1
                left.append((name, one, depth + 1, True))
        elif isinstance(value, str):
            if wrong := _wrong_text(value, lines=key in _DRAWN):
                yield key, wrong, met[key]
        elif isinstance(value, float):
            continue  # what takes a number looks at its size, and no NaN has one
        elif isinstance(value, int):
            if not -_LARGEST <= value < _LARGEST:
                yield key, "is a whole number of more than 64 bits", met[key]
        else:
            yield key, "is a date or a time, which no choice is", met[key]


def _wrong_text(text: str, *, lines: bool = False) -> str:
    most = _LONGEST_PATH if lines and _PATH_DATA.fullmatch(text) else LONGEST_TEXT
    if len(text) > most:
        return f"has {len(text):,} characters, more than {most:,}"
    if find_control(text.replace("\r\n", "\n")):
        return "holds a control character"
    return ""


def check_text(text: str, name: str) -> str:
    """Return a text that may stand on sheets and in files.

    `name`: what it is, for the message. Returns the same text. Raises `PlanError` if it
    is too long or holds a control character.
    """
    if wrong := _wrong_text(text):
        what = f"{name} {wrong}"
        raise PlanError(what, mend="shorten it or write it anew")
    return text


def check_lines(text: str, name: str) -> str:
    """Return lines that a plan may keep as path data, or a short text in their place.

    `name`: what they are, for the message. Returns the same text. Raises `PlanError` if
    they are too many, or it is no path data and too long or holds a control character.
    """
    if wrong := _wrong_text(text, lines=True):
        what = f"{name} {wrong}, written out as lines"
        raise PlanError(what, mend="draw it with fewer lines, or one repeat alone")
    return text


_HEADER = re.compile(
    r"\s*\[{1,2}([\w. \t\"'-]*[A-Za-z_][\w. \t\"'-]*)\]{1,2}\s*(?:#.*)?"
)
_BARE = str.maketrans("", "", " \t[]\"'")


def _line_of(text: str, key: str, nth: int) -> int:
    # tomllib tells no lines; the nth line that begins with the key, else the first, 0
    # for none
    found = [
        number
        for number, line in enumerate(text.splitlines(), 1)
        if key
        and f".{line.split('=', 1)[0].translate(_BARE)}".endswith(
            f".{key.translate(_BARE)}"
        )
    ]
    return found[nth - 1] if 0 < nth <= len(found) else (found or [0])[0]


def find_line(text: str, key: str, nth: int = 1) -> int:
    """Return the line of a key of a TOML file, by its tables; 0 where it is not found.

    The parser tells no lines. A key in an inline table is found by the line of that
    table, a table that is missed by the one above it.

    `key`: the whole key, such as ``lines.close``. `nth`: which of several tables of one
    name, where they stand in a list.
    """
    wanted = key.translate(_BARE)
    table, found, best = "", 0, ""
    met: Counter[str] = Counter()
    for number, line in enumerate(text.splitlines(), 1):
        head = _HEADER.fullmatch(line)
        if head is not None:
            path = table = head[1].translate(_BARE)
            met[table] += 1
        elif "=" in line and not line.lstrip().startswith("#"):
            own = line.split("=", 1)[0].translate(_BARE)
            path = f"{table}.{own}" if table else own
        else:
            continue
        if met[table] > 1 and met[table] != nth:
            continue
        better = len(path) > len(best) or (path == table and met[table] == nth)
        if better and f"{wanted}.".startswith(f"{path}."):
            found, best = number, path
    return found


def _short(text: str, most: int = 40) -> str:
    return text if len(text) <= most else text[:most] + "…"


def _end_of(path: str | Path) -> str:
    text = str(path)
    return text if len(text) <= 120 else "…" + text[-120:]


def is_file(path: Path) -> bool:
    """Say whether a path leads to a plain file, whatever its text is.

    False also for what the system does not take as a path.
    """
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def is_named_pipe(path: Path) -> bool:
    """Return whether opening a path may wait for ever for someone to write.

    `path`: where something is. True for named pipes; those that a shell hands over as a
    file are open.
    """
    return path.parts[:2] not in {("/", "dev"), ("/", "proc")} and path.is_fifo()


def read_bytes(path: str | Path, most: int, *, plain: bool = False) -> bytes:
    """Return the bytes of a file, no more than one beyond a limit.

    `path`: the file, or ``-`` for standard input. `most`: bytes allowed; the caller
    refuses what is longer. `plain`: refuse pipes and devices, which may never end.
    Returns the content, or its first ``most + 1`` bytes. Raises `ReadError` if it
    cannot be read.
    """
    try:
        if path != "-" and (
            is_named_pipe(Path(path))
            or (plain and not stat.S_ISREG(Path(path).stat().st_mode))
        ):
            what = "this is no plain file but a folder, a pipe or a device"
            raise ReadError(what, _end_of(path), "save it as a file first")
        if path == "-" and sys.stdin is None:
            what = "standard input is closed"
            raise ReadError(what, mend="send the file to it, or name the file")
        if path == "-":
            return sys.stdin.buffer.read(most + 1)
        with Path(path).open("rb") as file:
            return file.read(most + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        what = f"cannot be read: {reason.lower()}"
        mend = "check the name and the permissions"
        raise ReadError(what, _end_of(path), mend) from error


def read_toml_file(path: str | Path) -> bytes:
    """Return the bytes of a file of choices, not yet parsed.

    `path`: a palette, a plan or paints on hand. Returns the content, cut one byte
    beyond what `parse_toml` allows. Raises `ReadError` if it cannot be read or is no
    plain file.
    """
    return read_bytes(path, MOST_BYTES, plain=True)
