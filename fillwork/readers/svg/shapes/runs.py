"""Runs of like elements, which differ in their numbers alone, read at once.

Large drawings are written by programs that say the same words over and over. The
first element of such a run stays in the text and the others are blanked out, so that
the XML parser decides whether it is an element, what its attributes are and whether
it stands in the drawing or in a comment, and still counts lines and columns aright.
The others are the first one again, byte by byte, but for values in which nothing can
stand that means more to XML than itself.

Patterns never need to try again: where one part may end the next cannot begin, so
that the time is linear in the text. They do without possessive quantifiers, which
Python 3.11.0 to 3.11.4 match wrongly when a group is repeated by them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.svg.shapes.decimals import read_decimals

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fillwork.arrays import Floats


# What may differ within a run, besides the id.
_SLOTS = {
    b"line": (b"x1", b"y1", b"x2", b"y2"),
    b"polyline": (b"points",),
    b"polygon": (b"points",),
    b"rect": (b"x", b"y", b"width", b"height", b"rx", b"ry"),
    b"circle": (b"cx", b"cy", b"r"),
    b"ellipse": (b"cx", b"cy", b"rx", b"ry"),
    b"path": (b"d",),
}
_VALUE = rb'[^"<>&\x00-\x1f]*'
_ROOM = rb"[ \t\r\n]"
_ATTRIBUTE = (
    rb"(" + _ROOM + rb"+)([A-Za-z_:][\w:.-]*)"
    rb"(" + _ROOM + rb"*=" + _ROOM + rb'*)"(' + _VALUE + rb')"'
)  # fmt: skip
_ELEMENT = re.compile(
    rb"<((?:[A-Za-z_][\w.-]*:)?(" + b"|".join(_SLOTS) + rb"))((?:" + _ATTRIBUTE
    + rb"){1,40})(" + _ROOM + rb"*(?:/>|></\1>))(" + _ROOM + rb"*)"
)  # fmt: skip
_ATTRIBUTES = re.compile(_ATTRIBUTE)
_FEWEST = 16  # elements that are worth the trouble
_AT_ONCE = 256  # matched as one, which bounds what the pattern has to keep in mind
_MOST = 50_000  # in one run, which bounds the memory of taking it apart
_LONGEST = 4_000  # bytes of what all have in common
# In a comment, or as characters that XML has not, these are faults, even in a value.
_FAULTS = (b"--", b"\xef\xbf\xbe", b"\xef\xbf\xbf")
_BLANK = bytes(k if k in b"\r\n" else 32 for k in range(256))
_CONTINUED = bytes(range(0x80, 0xC0))  # all but the first byte of a character


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Hold like elements that follow each other."""

    role: str  # name of the elements without prefix
    # the elements. Values stand in double quotes; there are no other quotes.
    text: bytes
    count: int  # how many elements there are
    lines_each: int  # lines of the file from one element to the next

    def ends(self, keys: Sequence[str]) -> Floats | None:
        """Return the end points of lines.

        `keys`: the attributes of each element, in the order of the file. Returns
        (count, 4): ``x1, y1, x2, y2`` in user units; None if one is not given, is no
        plain number or not finite, or if the elements are no lines.
        """
        names = ("x1", "y1", "x2", "y2")
        if self.role != "line" or not set(names) <= set(keys):
            return None
        text = np.frombuffer(self.text, np.uint8)
        quotes = np.flatnonzero(text == ord('"')).reshape(self.count, -1, 2)
        held = quotes[:, [keys.index(name) for name in names]]
        ends = read_decimals(text, held[..., 0].ravel() + 1, held[..., 1].ravel())
        return ends.reshape(-1, 4) if np.isfinite(ends).all() else None

    def elements(self, keys: Sequence[str]) -> Iterator[dict[str, str]]:
        """Give the attributes of each element in turn.

        `keys`: the attributes of each element, in the order of the file. Yields name to
        value.
        """
        values = self.text.decode("utf-8").split('"')[1::2]
        width = len(values) // self.count
        for begin in range(0, len(values), width):
            own = values[begin : begin + width]
            yield dict(zip(keys, own, strict=True))


def lift_runs(data: bytes) -> tuple[bytes, dict[int, Run]]:
    """Take runs of like elements out of a document.

    `data`: the document in UTF-8. Returns `data`: the document, where of each run the
    first element stands and blanks, as many characters and lines as there were, for the
    others; `runs`: the runs by the byte of that document at which their first element
    begins.
    """
    runs: dict[int, Run] = {}
    if b"<!ENTITY" in data or b"<!ATTLIST" in data:
        return data, runs
    patterns: dict[bytes, re.Pattern[bytes]] = {}
    lifted = bytearray()
    done = position = 0
    stride = len(data) // 1000
    while (first := _ELEMENT.search(data, position)) is not None:
        begin = first.start()
        position = first.end() + stride
        end = _end_of_run(data, first, patterns)
        run = None if end is None else _take(first, data[begin:end])
        if run is None or end is None:
            continue
        stands = first.end() - len(first[9])
        lifted += data[done:begin]
        runs[len(lifted)] = run
        lifted += data[begin:stands] + data[stands:end].translate(_BLANK, _CONTINUED)
        done = position = end
    if not runs:
        return data, runs
    lifted += data[done:]
    return bytes(lifted), runs


def _end_of_run(
    data: bytes, first: re.Match[bytes], known: dict[bytes, re.Pattern[bytes]]
) -> int | None:
    # None if there is no run; the room after the last element stays in the text
    text = _likeness(first)
    second = _ELEMENT.match(data, first.end())
    if second is None or len(text) > _LONGEST or _likeness(second) != text:
        return None
    if text not in known:
        known[text] = re.compile(b"(?:" + text + b"){1,%d}" % _AT_ONCE)
    end = first.start()
    for _ in range(0, _MOST, _AT_ONCE):
        found = known[text].match(data, end)
        if found is None:
            break
        end = found.end()
    return end - len(first[9])


def _likeness(element: re.Match[bytes]) -> bytes:
    # a pattern of the elements that are like this one
    role = element[2]
    parts = [re.escape(b"<" + element[1])]
    for room, name, sign, value in _ATTRIBUTES.findall(element[3]):
        parts.append(re.escape(room + name + sign) + b'"')
        varies = name == b"id" or name in _SLOTS[role]
        parts.append((_VALUE if varies else re.escape(value)) + b'"')
    parts.append(re.escape(element[8] + element[9]))
    return b"".join(parts)


def _take(first: re.Match[bytes], text: bytes) -> Run | None:
    count = text.count(b'"') // first[0].count(b'"')
    if count < _FEWEST or any(fault in text for fault in _FAULTS):
        return None
    try:
        text.decode("utf-8")
    except UnicodeDecodeError:
        return None  # the parser says where
    breaks = first[0].replace(b"\r\n", b"\n").replace(b"\r", b"\n").count(b"\n")
    return Run(first[2].decode("ascii"), text, count, breaks)
