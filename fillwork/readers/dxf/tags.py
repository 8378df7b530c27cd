"""The tags of a DXF file, text or binary, gathered to entities.

A *tag* is a group code and a value; an *entity* is a tag of code 0 with the tags
up to the next one. The layout of both forms is that of the DXF reference
("Group codes in numerical order", "Binary DXF files"). Codes are kept as bytes
without blanks and values as they stand, since most are never looked at.
"""

from __future__ import annotations

import re
import struct
from typing import TYPE_CHECKING, NamedTuple

from fillwork.errors import ReadError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.readers.limits import Limits

    Value = bytes | float | int
    Fields = dict[bytes, Value]


BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"
_CHUNK = 8_000_000  # bytes of text split at once, which bounds the memory
_MOST = 2_000_000  # tags of one entity
_RUNS = frozenset({b"LINE", b"INSERT"})  # large drawings consist of these
_LETTERS = re.compile(r"(?:\\U\+[0-9A-Fa-f]{4})+")
_CONTROLS = re.compile(r"[\x01-\x1f\x7f]")


class Entity(NamedTuple):
    """Hold one entity, or a run of like ones, not yet understood."""

    kind: bytes  # its name, such as ``b"LINE"``
    codes: list[bytes]  # group codes in order, without that of the name
    # values in order; text files give bytes only. Of a run, one entity's after the
    # other's.
    values: list[Value]
    line: int  # line in the file, or the number of the tag in a binary file
    times: int = 1  # how many there are with these codes
    step: int = 0  # lines of the file from one of a run to the next

    def fields(self) -> dict[bytes, Value]:
        """Return the values by code; of a code met again, the last."""
        return dict(zip(self.codes, self.values, strict=True))

    def columns(self) -> dict[bytes, list[Value]]:
        """Return the values of a run by code."""
        n = len(self.codes)
        return {code: self.values[k::n] for k, code in enumerate(self.codes)}

    def each(self) -> Iterator[Entity]:
        """Iterate over the entities of a run, one by one."""
        n = len(self.codes)
        for k in range(self.times):
            values = self.values[k * n : (k + 1) * n]
            yield Entity(self.kind, self.codes, values, self.line + k * self.step)


def number(fields: Fields, code: bytes, default: float = 0.0) -> float:
    """Return a number of an entity.

    `default`: what stands for a missing one. Raises `ValueError` if the value is none.
    """
    value = fields.get(code)
    return default if value is None else float(value)


def whole(fields: Fields, code: bytes, default: int = 0) -> int:
    """Return a whole number of an entity.

    `default`: what stands for a missing one. Raises `ValueError` if the value is none.
    """
    value = fields.get(code)
    return default if value is None else int(float(value))


def text_of(value: Value | None, encoding: str) -> str:
    r"""Return a value as text without blanks around it.

    `value`: as it stands in the file, letters outside its code page as ``\U+03B1``.
    """
    if isinstance(value, bytes):
        try:
            text = value.decode(encoding)
        except UnicodeError:
            # many a file holds other letters than it states
            text = value.decode("cp1252", "replace")
        if "\\U+" in text:
            text = _LETTERS.sub(_letters, text)
        return _CONTROLS.sub(" ", text.replace("\x00", "")).strip()
    return "" if value is None else f"{value:g}"


def _letters(found: re.Match[str]) -> str:
    units = bytes.fromhex(found[0].replace("\\U+", ""))
    return units.decode("utf-16-be", "replace")


def handle_of(value: Value | None) -> str:
    """Return a handle as it is looked up, in capitals, without leading zeros.

    `value`: as it stands in the file.
    """
    text = value.decode("ascii", "replace") if isinstance(value, bytes) else ""
    return text.strip().upper().lstrip("0")


def read_entities(data: bytes, where: str, limits: Limits) -> Iterator[Entity]:
    """Iterate over the entities of a file, in order.

    Yields sections, tables, blocks and shapes alike; of the commonest shapes, runs.
    Raises `ReadError` if the tags cannot be told apart.
    """
    pairs = _binary(data, where) if data.startswith(BINARY[:18]) else _text(data, where)
    kind, line, left = b"", 0, limits.elements * 4
    codes: list[bytes] = []
    values: list[Value] = []
    for some_codes, some_values, first, step in pairs:
        starts = [k for k, code in enumerate(some_codes) if code == b"0"]
        left -= len(starts)
        if left < 0:
            got = f"more than {limits.elements * 4:,} entities"
            raise limits.refuse(limit="elements", got=got, where=where)
        begin = starts[0] if starts else len(some_codes)
        codes += some_codes[:begin]
        values += some_values[:begin]
        if len(codes) > _MOST:
            what = f"one entity has more than {_MOST:,} values"
            raise ReadError(what, where, "save the drawing once more as DXF")
        ends = [*starts[1:], len(some_codes)]
        k = 0
        while k < len(starts):
            if kind:
                yield Entity(kind, codes, values, line)
                kind = b""
            start, end = starts[k], ends[k]
            name = some_values[start]
            kind = name.strip().upper() if isinstance(name, bytes) else b"?"
            line = first + step * start
            codes, values = some_codes[start + 1 : end], some_values[start + 1 : end]
            k += 1
            if kind not in _RUNS or len(set(codes)) < len(codes):
                continue
            # the last of a chunk may go on in the next one, and is no part of a run
            size, before = end - start, k
            tags = some_codes[start:end]
            while (
                k < len(starts) - 1
                and ends[k] - starts[k] == size
                and some_values[starts[k]] == name
                and some_codes[starts[k] : ends[k]] == tags
            ):
                k += 1
            times = k - before + 1
            if times > 1:
                run = some_values[start : ends[k - 1]]
                del run[::size]
                yield Entity(kind, codes, run, line, times, step * size)
                kind = b""
    if kind:
        yield Entity(kind, codes, values, line)


_Pairs = tuple[list[bytes], "list[Value]", int, int]


def _text(data: bytes, where: str) -> Iterator[_Pairs]:
    at = 3 if data.startswith(b"\xef\xbb\xbf") else 0
    if b"\n" not in data:
        data = data.replace(b"\r", b"\n")
    line, kept = 1, b""
    while at < len(data):
        part = kept + data[at : at + _CHUNK]
        at += _CHUNK
        lines = part.split(b"\n")
        if at < len(data):
            # whole pairs only; the rest goes in front of the next part
            n = (len(lines) - 1) // 2 * 2
            kept = b"\n".join(lines[n:])
            lines = lines[:n]
        else:
            lines = lines[: len(lines) // 2 * 2]
        written = lines[0::2]
        meant = {code: code.strip() for code in set(written)}
        codes = [meant[code] for code in written]
        wrong = {c for c in meant.values() if not (c.isdigit() or c[:1] == b"-")}
        if wrong:
            k = next(k for k, code in enumerate(codes) if code in wrong)
            names = (lines[2 * j + 1] for j in range(k) if codes[j] == b"0")
            ended = any(name.strip().upper() == b"EOF" for name in names)
            if not ended and any(map(bytes.strip, lines[2 * k :])):
                shown = _show(codes[k])
                what = f"line {line + 2 * k} should be a group code, not {shown}"
                raise ReadError(what, where, "save the drawing once more as DXF")
            codes = codes[:k]
        yield codes, list(lines[1 : 2 * len(codes) : 2]), line, 2
        line += len(lines)


def _show(code: bytes) -> str:
    text = code[:20].decode("latin-1")
    return f"“{text if text.isprintable() else '?'}”"


def _kinds() -> dict[int, str]:
    # code to the form of its value: s text, d double, h l q integers, b one byte,
    # c a chunk of bytes
    found: dict[int, str] = {}
    for first, last, form in (
        (0, 9, "s"), (10, 59, "d"), (60, 79, "h"), (90, 99, "l"), (100, 109, "s"),
        (110, 149, "d"), (160, 169, "q"), (170, 179, "h"), (210, 239, "d"),
        (270, 289, "h"), (290, 299, "b"), (300, 309, "s"), (310, 319, "c"),
        (320, 369, "s"), (370, 389, "h"), (390, 399, "s"), (400, 409, "h"),
        (410, 419, "s"), (420, 429, "l"), (430, 439, "s"), (440, 459, "l"),
        (460, 469, "d"), (470, 481, "s"), (999, 1003, "s"), (1004, 1004, "c"),
        (1005, 1009, "s"), (1010, 1059, "d"), (1060, 1070, "h"), (1071, 1071, "l"),
    ):  # fmt: skip
        found |= dict.fromkeys(range(first, last + 1), form)
    return found


_SIZES = {"d": 8, "h": 2, "l": 4, "q": 8, "b": 1}


def _binary(data: bytes, where: str) -> Iterator[_Pairs]:
    kinds = _kinds()
    names = {code: str(code).encode() for code in kinds}
    readers = {form: struct.Struct("<" + form).unpack_from for form in _SIZES}
    at = len(BINARY)
    # R12 has codes of one byte: there the first one is followed by a letter
    short = data[at + 1 : at + 2] != b"\x00"
    codes: list[bytes] = []
    values: list[Value] = []
    first = number = 1
    try:
        while at < len(data):
            if not short:
                code = data[at] | data[at + 1] << 8
                at += 2
            elif data[at] == 255:
                code = data[at + 1] | data[at + 2] << 8
                at += 3
            else:
                code = data[at]
                at += 1
            form = kinds[code]
            if form == "s":
                end = data.index(b"\x00", at)
                values.append(data[at:end])
                at = end + 1
            elif form == "c":
                end = at + 1 + data[at]
                values.append(data[at + 1 : end])
                at = end
            else:
                values.append(readers[form](data, at)[0])
                at += _SIZES[form]
            codes.append(names[code])
            number += 1
            if len(codes) >= 200_000:
                yield codes, values, first, 1
                codes, values, first = [], [], number
            elif code == 0 and values[-1] == b"EOF":
                break
    except (KeyError, IndexError, ValueError, struct.error) as error:
        what = f"the file is cut short or damaged at byte {min(at, len(data)):,}"
        raise ReadError(what, where, "copy or save it again") from error
    yield codes, values, first, 1
