"""Order of right-to-left and left-to-right text on one line.

The implicit part of the Unicode Bidirectional Algorithm (Unicode Standard Annex
#9): rules P2-P3, W1-W7, N1-N2, I1-I2, L1-L2. Explicit embeddings and isolates
(X1-X10) and paired brackets (N0) are left out: names in a key do not use them.
"""

from __future__ import annotations

import unicodedata

_STRONG = {"L": "L", "R": "R", "AL": "R"}
_NEUTRAL = {"B", "S", "WS", "ON"}


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
    i = 0
    while i < len(out):  # W5
        if out[i] == "ET":
            end = i
            while end < len(out) and out[end] == "ET":
                end += 1
            near = (i > 0 and out[i - 1] == "EN") or (
                end < len(out) and out[end] == "EN"
            )
            out[i:end] = ["EN" if near else "ON"] * (end - i)
            i = end
        else:
            i += 1
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
    i = 0
    while i < len(resolved):  # N1, N2
        if resolved[i] not in _NEUTRAL:
            i += 1
            continue
        end = i
        while end < len(resolved) and resolved[end] in _NEUTRAL:
            end += 1
        left = resolved[i - 1] if i else edge
        right = resolved[end] if end < len(resolved) else edge
        left = "R" if left in ("EN", "AN") else left
        right = "R" if right in ("EN", "AN") else right
        resolved[i:end] = [left if left == right else edge] * (end - i)
        i = end
    levels = []
    for name in resolved:  # I1, I2
        if base % 2 == 0:
            levels.append(base + (0 if name == "L" else 1 if name == "R" else 2))
        else:
            levels.append(base + (0 if name == "R" else 1))
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
    runs: list[tuple[int, int, int]] = []
    for i, level in enumerate(levels):
        if runs and runs[-1][2] == level:
            runs[-1] = (runs[-1][0], i + 1, level)
        else:
            runs.append((i, i + 1, level))
    for level in range(max(levels, default=0), 0, -1):  # L2
        i = 0
        while i < len(runs):
            end = i
            while end < len(runs) and runs[end][2] >= level:
                end += 1
            if end > i:
                runs[i:end] = runs[i:end][::-1]
            i = max(end, i + 1)
    return [(first, last, level % 2 == 1) for first, last, level in runs]
