"""Runs of like elements, which differ in their numbers alone, read at once.

Large drawings are written by programs that say the same words over and over. Such
a run is matched as a whole, and an empty element with blanks up to the same length
takes its place in the text, so that the XML parser still decides whether it stands
in the drawing or in a comment, and still counts lines and columns aright.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.svg.decimals import read_decimals

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

__all__ = ["Run", "lift_runs"]

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
_VALUE = rb'[^"<&\x00-\x1f]*+'
_NUMBER = rb"[-+]?+(?:\d++(?:\.\d*+)?+|\.\d++)(?:[eE][-+]?+\d{1,2}+)?+"
_ATTRIBUTE = rb'(\s++)([A-Za-z_:][\w:.-]*+)(\s*+=\s*+)"(' + _VALUE + rb')"'
_ELEMENT = re.compile(
    rb"<((?:[A-Za-z_][\w.-]*+:)?(" + b"|".join(_SLOTS) + rb"))((?:"
    + _ATTRIBUTE + rb")++)(\s*+(?:/>|></\1>))(\s*+)"
)  # fmt: skip
_ATTRIBUTES = re.compile(_ATTRIBUTE)
_FEWEST = 16  # elements that are worth the trouble
_MOST = 50_000  # in one run, which bounds the memory of taking it apart
_LONGEST = 4_000  # bytes of what all have in common
_BLANK = bytes(k if k in b"\r\n" else 32 for k in range(256))
_CONTINUED = bytes(range(0x80, 0xC0))  # all but the first byte of a character


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Hold like elements that follow each other.

    Parameters
    ----------
    role : str
        Name of the elements without prefix.
    keys : tuple of str
        Their attributes, in the order of the file.
    text : bytes
        The elements. Values stand in double quotes; there are no other quotes.
    count : int
        How many elements there are.
    lines_each : int
        Lines of the file from one element to the next.
    """

    role: str
    keys: tuple[str, ...]
    text: bytes
    count: int
    lines_each: int

    def first(self) -> dict[str, str]:
        """Return the attributes of the first element.

        Returns
        -------
        dict
            Name to value.
        """
        pieces = self.text.split(b'"', 2 * len(self.keys))
        values = [piece.decode("utf-8") for piece in pieces[1::2]]
        return dict(zip(self.keys, values, strict=True))

    def ends(self) -> NDArray[np.float64] | None:
        """Return the end points of lines.

        Returns
        -------
        ndarray of shape (count, 4) or None
            ``x1, y1, x2, y2`` in user units; None if one is not given or not finite,
            or if the elements are no lines.
        """
        names = ("x1", "y1", "x2", "y2")
        if self.role != "line" or not set(names) <= set(self.keys):
            return None
        text = np.frombuffer(self.text, np.uint8)
        quotes = np.flatnonzero(text == ord('"')).reshape(self.count, -1, 2)
        held = quotes[:, [self.keys.index(name) for name in names]]
        ends = read_decimals(text, held[..., 0].ravel() + 1, held[..., 1].ravel())
        return ends.reshape(-1, 4) if np.isfinite(ends).all() else None

    def elements(self) -> Iterator[dict[str, str]]:
        """Give the attributes of each element in turn.

        Yields
        ------
        dict
            Name to value.
        """
        values = self.text.decode("utf-8").split('"')[1::2]
        width = len(self.keys)
        for begin in range(0, len(values), width):
            own = values[begin : begin + width]
            yield dict(zip(self.keys, own, strict=True))


def lift_runs(data: bytes) -> tuple[bytes, dict[int, Run]]:
    """Take runs of like elements out of a document.

    Parameters
    ----------
    data : bytes
        The document in UTF-8.

    Returns
    -------
    data : bytes
        The document, where an empty element of the same name and blanks, as many
        characters and lines as there were, stand for each run.
    runs : dict of int to Run
        The runs by the byte of that document at which their empty element begins.
    """
    runs: dict[int, Run] = {}
    if b"<!ENTITY" in data:
        return data, runs
    patterns: dict[bytes, re.Pattern[bytes] | None] = {}
    lifted = bytearray()
    done = position = 0
    stride = len(data) // 1000
    while (first := _ELEMENT.search(data, position)) is not None:
        begin = first.start()
        position = first.end() + stride
        words = _ATTRIBUTES.findall(first[3])
        run = end = None
        likeness = _pattern(first, words, patterns)
        if likeness is not None and (found := likeness.match(data, begin)) is not None:
            # the room after the last element stays in the text
            end = found.end() - len(first[9])
            run = _take(first, words, found[0])
        if run is None or end is None:
            continue
        name = begin + 1 + len(first[1])
        # two blanks that stand together make room for the end of the element
        blanks = data[name:end].translate(_BLANK, _CONTINUED).replace(b"  ", b"", 1)
        lifted += data[done:begin]
        runs[len(lifted)] = run
        lifted += data[begin:name] + b"/>" + blanks
        done = position = end
    if not runs:
        return data, runs
    lifted += data[done:]
    return bytes(lifted), runs


def _varies(name: bytes, role: bytes) -> bool:
    return name == b"id" or name in _SLOTS[role]


def _pattern(
    first: re.Match[bytes],
    words: list[tuple[bytes, ...]],
    known: dict[bytes, re.Pattern[bytes] | None],
) -> re.Pattern[bytes] | None:
    # what the elements of a run look like, None if this one can begin none
    role = first[2]
    fixed = [value for _, name, _, value in words if not _varies(name, role)]
    if sum(map(len, fixed)) > _LONGEST:
        return None
    parts = [re.escape(b"<" + first[1])]
    for room, name, sign, value in words:
        parts.append(re.escape(room + name + sign) + b'"')
        number = role == b"line" and name in _SLOTS[role]
        slot = _NUMBER if number else _VALUE
        parts.append((slot if _varies(name, role) else re.escape(value)) + b'"')
    parts.append(re.escape(first[8] + first[9]))
    text = b"".join(parts)
    if text not in known:
        names = [word[1] for word in words]
        bounds = b"{%d,%d}+" % (_FEWEST, _MOST)
        whole = len(set(names)) == len(names)
        known[text] = re.compile(b"(?:" + text + b")" + bounds) if whole else None
    return known[text]


def _take(
    first: re.Match[bytes], words: list[tuple[bytes, ...]], text: bytes
) -> Run | None:
    try:
        text.decode("utf-8")
    except UnicodeDecodeError:
        return None  # the parser says where
    keys = tuple([word[1].decode("ascii") for word in words])
    breaks = first[0].replace(b"\r\n", b"\n").replace(b"\r", b"\n").count(b"\n")
    count = text.count(b'"') // (2 * len(keys))
    return Run(first[2].decode("ascii"), keys, text, count, breaks)
