"""Many decimal numbers of a text turned into floats at once."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Floats, Ints

_NUMBER = re.compile(rb"[-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
_LONGEST = 18  # characters; ten to this power is still a whole 64-bit number
_EXACT = 1 << 53  # whole numbers up to here are floats, and so are these powers:
_POWERS = 10.0 ** np.arange(_LONGEST + 1)


def read_decimals(text: NDArray[np.uint8], begin: Ints, end: Ints) -> Floats:
    """Return numbers, each the float nearest to what is written.

    A number is a sign or none, digits with a point or none, and an exponent or none.

    `begin` and `end` (n,): number ``k`` is ``text[begin[k]:end[k]]``. Returns (n,): the
    numbers; NaN where something else is written.

    Digits as a whole number of less than 2^53, divided by a power of ten up to
    10^22: both are floats without error, so that the quotient is rounded once and
    is the nearest float (W. D. Clinger, How to read floating point numbers
    accurately, 1990). Longer numbers and those with exponents go one by one.
    """
    length = end - begin
    odd = length > _LONGEST
    if 2 * np.count_nonzero(odd) > len(odd):
        return _one_by_one(text, begin, end)
    whole = np.zeros(len(begin), np.int64)
    after = np.zeros(len(begin), np.int64)
    digits = np.zeros(len(begin), np.int8)
    pointed = np.zeros(len(begin), bool)
    for k in range(min(int(length.max(initial=0)), _LONGEST)):
        character = text.take(begin + k, mode="clip")
        inside = length > k
        digit = character - np.uint8(48)
        is_digit = (digit < 10) & inside
        whole *= np.where(is_digit, 10, 1)
        whole += digit * is_digit
        digits += is_digit
        after += is_digit & pointed
        pointed |= (character == ord(".")) & inside
    signs = text.take(begin, mode="clip")
    signed = (signs == ord("-")) | (signs == ord("+"))
    odd |= (digits == 0) | (digits + pointed + signed != length)
    odd |= whole >= _EXACT
    number = whole / _POWERS[after]
    np.negative(number, out=number, where=signs == ord("-"))
    rows = np.flatnonzero(odd)
    if len(rows):
        number[rows] = _one_by_one(text, begin[rows], end[rows])
    return number


def _one_by_one(text: NDArray[np.uint8], begin: Ints, end: Ints) -> Floats:
    data = text.tobytes()
    spans = zip(begin.tolist(), end.tolist(), strict=True)
    numbers = [
        float(data[a:b]) if _NUMBER.fullmatch(data, a, b) else np.nan for a, b in spans
    ]
    return np.array(numbers, np.float64)
