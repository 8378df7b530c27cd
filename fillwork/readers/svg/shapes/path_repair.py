"""Path data with an error or with packed arc flags, rewritten plainly.

The fast reader of `path_data` wants blanks between numbers. What it cannot
take is read here by the grammar of SVG 2, section 9.3.9, one token at a time, and
written out again up to the first error (section 9.5.4: a path with an error is
drawn up to, and not including, the faulty segment).
"""

from __future__ import annotations

import re

from fillwork.readers.svg.shapes.values import NUMBER

ARGUMENTS = {
    "M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0,
}  # fmt: skip

_GAP = r"[ \t\r\n\f]*,?[ \t\r\n\f]*"
_NUMBER = re.compile(rf"({NUMBER}){_GAP}")
_FLAG = re.compile(rf"([01]){_GAP}")
_BLANK = re.compile(r"[ \t\r\n\f]*")
_ARC = [_NUMBER, _NUMBER, _NUMBER, _FLAG, _FLAG, _NUMBER, _NUMBER]


def repair_path(text: str) -> tuple[str, str]:
    """Return path data that the fast reader takes.

    `text`: path data as found. Returns `plain`: the same segments up to the first
    error, with blanks between numbers; `wrong`: what is wrong and where; empty if
    nothing is.
    """
    out: list[str] = []
    position = _skip_blanks(text, 0)
    first = True
    while position < len(text):
        letter = text[position]
        count = ARGUMENTS.get(letter.upper())
        if count is None or (first and letter not in "Mm"):
            return " ".join(out), _complaint(text, position)
        first = False
        position = _skip_blanks(text, position + 1)
        if count == 0:
            out.append(letter)
            continue
        patterns = _ARC if letter in "Aa" else [_NUMBER] * count
        sets = 0
        while True:
            end, numbers = _match_all(patterns, text, position)
            if numbers is None:
                # no further set of arguments: fine if one was read and the
                # next thing is a command or the end
                whole = sets and (end == position)
                if whole and (end >= len(text) or text[end].upper() in ARGUMENTS):
                    break
                return " ".join(out), _complaint(text, end)
            out.append((letter if sets == 0 else "") + " ".join(numbers))
            sets += 1
            position = end
    return " ".join(out), ""


def _skip_blanks(text: str, position: int) -> int:
    found = _BLANK.match(text, position)
    return found.end() if found else position


def _match_all(
    patterns: list[re.Pattern[str]], text: str, position: int
) -> tuple[int, list[str] | None]:
    numbers = []
    for pattern in patterns:
        found = pattern.match(text, position)
        if not found:
            return position, None
        numbers.append(found[1])
        position = found.end()
    return position, numbers


def _complaint(text: str, position: int) -> str:
    if position >= len(text):
        return "the path data end too soon"
    return f"cannot read the path data from {text[position : position + 12]!r} on"
