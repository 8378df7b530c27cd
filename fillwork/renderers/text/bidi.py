"""Order of right-to-left and left-to-right text on one line.

The implicit part of the Unicode Bidirectional Algorithm (Unicode Standard Annex
#9): rules P2-P3, W1-W7, N1-N2, I1-I2, L1-L2. Explicit embeddings and isolates
(X1-X10) and paired brackets (N0) are left out: names in a key do not use them.
"""

from __future__ import annotations

import unicodedata
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Sequence

_STRONG = {"L": "L", "R": "R", "AL": "R"}
_NEUTRAL = {"B", "S", "WS", "ON"}
_STEPS = (({"L": 0, "R": 1}, 2), ({"R": 0}, 1))  # and numbers, by the line's direction

_Value = TypeVar("_Value")


def equal_runs(values: Sequence[_Value]) -> list[tuple[int, int, _Value]]:
    """Return first place, one past the last, and value of each run of equal ones.

    Examples
    --------
    >>> equal_runs("aab")
    [(0, 2, 'a'), (2, 3, 'b')]
    """
    ends = [i for i in range(1, len(values)) if values[i] != values[i - 1]]
    limits = pairwise((0, *ends, len(values))) if values else ()
    return [(first, last, values[first]) for first, last in limits]


def base_level(text: str) -> int:
    """Return the direction of a line: that of its first strong character.

    0 for left to right, 1 for right to left.
    """
    for c in text:
        name = unicodedata.bidirectional(c)
        if name in _STRONG:
            return 0 if name == "L" else 1
    return 0


def _resolve_weak(classes: list[str], edge: str) -> list[str]:
    out = list(classes)
    before = edge
    for i, name in enumerate(out):  # W1
        if name == "NSM":
            out[i] = before
        before = out[i]
    strong = edge
    for i, name in enumerate(out):  # W2, W3
        if name in ("L", "R", "AL"):
            strong = name
        elif name == "EN" and strong == "AL":
            out[i] = "AN"
    out = ["R" if name == "AL" else name for name in out]
    for i in range(1, len(out) - 1):  # W4
        left, right = out[i - 1], out[i + 1]
        if left == right and (
            (out[i] == "ES" and left == "EN")
            or (out[i] == "CS" and left in ("EN", "AN"))
        ):
            out[i] = left
    for first, last, name in equal_runs(out):  # W5
        if name == "ET" and "EN" in (*out[first - 1 : first], *out[last : last + 1]):
            out[first:last] = ["EN"] * (last - first)
    out = ["ON" if name in ("ES", "CS", "ET", "BN") else name for name in out]  # W6
    strong = edge
    for i, name in enumerate(out):  # W7
        if name in ("L", "R"):
            strong = name
        elif name == "EN" and strong == "L":
            out[i] = "L"
    return out


def _find_levels(text: str) -> list[int]:
    r"""Return the embedding level of each character.

    `text`: one line. Returns even levels run left to right, odd ones right to left.

    Examples
    --------
    >>> _find_levels("a \u05d0\u05d1 1")
    [0, 0, 1, 1, 1, 2]
    """
    classes = [unicodedata.bidirectional(c) or "L" for c in text]
    base = base_level(text)
    edge = "L" if base == 0 else "R"
    resolved = _resolve_weak(classes, edge)
    padded = [edge, *resolved, edge]
    for first, last, neutral in equal_runs([c in _NEUTRAL for c in resolved]):
        if neutral:  # N1, N2
            ends = padded[first], padded[last + 1]
            left, right = ("R" if name in ("EN", "AN") else name for name in ends)
            resolved[first:last] = [left if left == right else edge] * (last - first)
    steps, numbers = _STEPS[base]
    levels = [base + steps.get(name, numbers) for name in resolved]  # I1, I2
    for i in range(len(text) - 1, -1, -1):  # L1
        if classes[i] not in ("WS", "S", "B", "BN"):
            break
        levels[i] = base
    return levels


def visual_runs(text: str) -> list[tuple[int, int, bool]]:
    r"""Return the runs of one line from left to right.

    `text`: one line. Returns first character, one past the last, and whether the run is
    right to left.

    Examples
    --------
    >>> visual_runs("ab \u05d0\u05d1")
    [(0, 3, False), (3, 5, True)]
    """
    levels = _find_levels(text)
    runs = equal_runs(levels)
    for least in range(max(levels, default=0), 0, -1):  # L2
        for first, last, turned in equal_runs([run[2] >= least for run in runs]):
            if turned:
                runs[first:last] = runs[first:last][::-1]
    return [(first, last, level % 2 == 1) for first, last, level in runs]
