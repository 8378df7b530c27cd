"""Answers that are given in place of measuring, to ask what is made of them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import pytest


class Asked(dict[str, list[tuple[tuple[Any, ...], dict[str, Any]]]]):
    """Hold what each helper was asked, in order: arguments, and those by name."""

    def last(self, name: str, row: int) -> Any:
        """Return an argument of the last question."""
        return self[name][-1][0][row]

    def names(self, name: str) -> list[dict[str, Any]]:
        """Return the arguments by name of every question."""
        return [facts for _, facts in self[name]]


def given(patch: pytest.MonkeyPatch, module: Any, **answers: Any) -> Asked:
    """Let helpers of a module give answers; return what they are asked from now on.

    An answer that is a function gives the answer to what is asked.
    """
    asked = Asked({name: [] for name in answers})

    def reply(name: str, answer: Any) -> Any:
        def told(*arguments: Any, **facts: Any) -> Any:
            asked[name].append((arguments, facts))
            return answer(*arguments, **facts) if callable(answer) else answer

        return told

    for name, answer in answers.items():
        patch.setattr(module, name, reply(name, answer))
    return asked


def flat(area, **facts) -> SimpleNamespace:
    """Return what is known of faces: their areas, and half-edges of their own numbers.

    Face 0 is the unbounded one; each has one ring, and none is cut.
    """
    area = np.array([0.0, *area])
    known = {
        "area": area,
        "face": np.arange(len(area)),
        "face_count": len(area),
        "face_ring_start": np.arange(len(area) + 1),
        "cut": np.zeros(len(area), bool),
    }
    return SimpleNamespace(**known | facts)


def some(count: int, first: int = 1) -> np.ndarray:
    """Return so many faces, from the first on."""
    return np.arange(first, first + count, dtype=np.int32)
