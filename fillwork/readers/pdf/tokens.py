"""The operators of a PDF content stream with their operands, one after the other.

Numbers become floats, names bytes with their slash, arrays lists; strings and
dictionaries, which line work has no use for, become None. The lexical rules are
those of ISO 32000-1, section 7.2.
"""

from __future__ import annotations

import re
from contextlib import suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Operand = float | bytes | None | list["Operand"]

_TOKEN = re.compile(
    rb"[\x00\t\n\f\r ]*(?:"
    rb"([^\x00\t\n\f\r ()<>\[\]{}/%]+)"  # 1: number or operator
    rb"|(/[^\x00\t\n\f\r ()<>\[\]{}/%]*)"  # 2: name
    rb"|(\(|<<|>>|<[0-9A-Fa-f\x00\t\n\f\r ]*>|[\[\]{})<>])"  # 3: the rest
    rb"|%[^\r\n]*|\Z)"
)
# most of a large drawing: a point and its operator
_POINT = re.compile(
    rb"[\n\r ]*([-]?[0-9]+(?:\.[0-9]*)?) ([-]?[0-9]+(?:\.[0-9]*)?) ([lm])(?=[\n\r ])"
)
# drawings of single lines: a point, a point, a stroke, over and over
_N = rb"[-]?[0-9]{0,9}(?:\.[0-9]{0,20})?"
_LINES = re.compile(
    rb"(?:[\n\r ]+%b[\n\r ]+%b[\n\r ]+m[\n\r ]+%b[\n\r ]+%b[\n\r ]+l[\n\r ]+S){4,1000}"
    rb"(?=[\n\r ])" % ((_N,) * 4)
)
_ESCAPE = re.compile(rb"#([0-9A-Fa-f]{2})")  # a letter of a name, by its number
_STRING = re.compile(rb"\\.|[()]", re.DOTALL)
_END = re.compile(rb"[\x00\t\n\f\r ]EI(?=[\x00\t\n\f\r ]|$)")
_NUMBER = frozenset(b"0123456789+-.")
_MOST = 64  # operands that an operator may have
_ARRAYS = frozenset({b"[", b"]"})
_DEEPER = {b"<<": 1, b">>": -1}  # into dictionaries


def operators(
    data: bytes, spend: Callable[[int], None]
) -> Iterator[tuple[bytes, list[Operand]]]:
    """Iterate over the operators of a content stream.

    `data`: the unpacked stream. `spend`: told now and then how many tokens were read.
    Yields `operator`: its name; ``BI`` stands for a whole picture in the stream, and
    ``m l S`` for lines drawn one by one, with four numbers each; `operands`: what stood
    before it.
    """
    operands: list[Operand] = []
    inside: list[list[Operand]] = []  # arrays that are open
    at = count = depth = 0  # depth: of dictionaries that are open
    match = _TOKEN.match
    word = b""
    while at < len(data):
        if count >= 10_000:
            spend(count)
            count = 0
        if not operands and not inside and not depth:
            found = _at_once(data, at, stroked=word == b"S")
            word = b""
            if found is not None:
                known, at, word = found
                count += 7 * len(known) if word == b"S" else 3
                yield b"m l S" if word == b"S" else word, known
                continue
        token = match(data, at)
        at = at + 1 if token is None else token.end()
        if token is None or (kind := token.lastindex) is None:
            continue
        count += 1
        if kind == 1:
            word = token[1]
            if word[0] in _NUMBER:
                try:
                    operands.append(float(word))
                except ValueError:
                    operands.append(_number(word))
                if len(operands) > _MOST and not inside and not depth:
                    del operands[:-_MOST]
            elif depth or inside or word in {b"true", b"false", b"null"}:
                operands.append(None)
            else:
                if word == b"ID":
                    at = _after_picture(data, at, operands)
                    yield b"BI", operands
                elif word != b"BI":
                    yield word, operands
                operands = []
        elif kind == 2:
            operands.append(_name(token[2]))
        else:
            mark = token[3]
            if mark == b"(":
                at = _after_string(data, at)
                operands.append(None)
            elif mark == b"[" and len(inside) < 100:
                inside.append(operands)
                operands = []
            elif mark == b"]" and inside:
                inside[-1].append(operands)
                operands = inside.pop()
            elif mark in _DEEPER:
                depth = max(0, depth + _DEEPER[mark])
            elif mark not in _ARRAYS:
                operands.append(None)
    spend(count)


def _at_once(
    data: bytes, at: int, *, stroked: bool
) -> tuple[list[Operand], int, bytes] | None:
    """Return operands, their end and the last operator of what often follows.

    That is a point, or after the stroke of a path lines drawn one by one.
    """
    if stroked and (lines := _LINES.match(data, at)):
        words = lines[0].split()
        columns = (words[0::7], words[1::7], words[3::7], words[4::7])
        with suppress(ValueError):
            found = [[*map(float, column)] for column in columns]
            return [*map(list, zip(*found, strict=True))], lines.end(), b"S"
    if point := _POINT.match(data, at):
        return [float(point[1]), float(point[2])], point.end(), point[3]
    return None


def _name(word: bytes) -> bytes:
    # a letter may be written by its number
    if b"#" not in word:
        return word
    return _ESCAPE.sub(lambda found: bytes.fromhex(found[1].decode()), word)


def _number(word: bytes) -> float | None:
    # numbers that writers get wrong: 4.-5, --3, 1.2.3
    found = re.match(rb"[+-]*(\d*\.?\d*)", word)
    if found is None or not found[1].strip(b"."):
        return None
    return float(found[1]) * (-1 if word.startswith(b"-") else 1)


def _after_string(data: bytes, at: int) -> int:
    depth = 1
    for found in _STRING.finditer(data, at):
        mark = found[0]
        if mark == b"(":
            depth += 1
        elif mark == b")":
            depth -= 1
            if depth == 0:
                return found.end()
    return len(data)


def _after_picture(data: bytes, at: int, operands: list[Operand]) -> int:
    """Return where a picture in the stream ends.

    Without a filter its length follows from its size; else from the first EI after
    which text goes on.
    """
    pairs = zip(operands[0::2], operands[1::2], strict=False)
    said: dict[object, object] = {k: v for k, v in pairs if isinstance(k, bytes)}
    if not any(key in said for key in (b"/F", b"/Filter")):
        size = _size(said)
        if size is not None:
            found = _END.match(data, at + 1 + size)
            if found:
                return found.end()
    for found in _END.finditer(data, at):
        after = data[found.end() : found.end() + 16]
        if all(9 <= byte <= 13 or 32 <= byte < 127 for byte in after):
            return found.end()
    return len(data)


def _size(said: dict[object, object]) -> int | None:
    width = said.get(b"/W", said.get(b"/Width"))
    height = said.get(b"/H", said.get(b"/Height"))
    bits = said.get(b"/BPC", said.get(b"/BitsPerComponent", 1.0))
    space = said.get(b"/CS", said.get(b"/ColorSpace", b"/G"))
    parts = {b"/RGB": 3, b"/DeviceRGB": 3, b"/CMYK": 4, b"/DeviceCMYK": 4}
    numbers = (width, height, bits)
    if not all(isinstance(v, float) and 0 < v < 1e6 for v in numbers):
        return None
    each = parts.get(space, 1) if isinstance(space, bytes) else 1
    line = (int(width) * each * int(bits) + 7) // 8  # type: ignore[call-overload]
    return int(line * int(height))  # type: ignore[call-overload]
