"""Strips whose shift carries what lies beside them in doubt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.symmetry.zones import rows
from fillwork.symmetry.zones.making import Part
from tests.unit.symmetry.answers import given
from tests.unit.symmetry.test_exchange_answers import unsure
from tests.unit.symmetry.test_zone_faces import about, along_x
from tests.unit.symmetry.test_zone_parts import NOTHING, cells, grid

DRAWING = grid(np.arange(0.0, 101, 10), [0.0, 10, 20])
LOWER, UPPER = cells(DRAWING, 0, 0, 100, 10), cells(DRAWING, 0, 10, 100, 20)
STRIP = replace(along_x("p1", 10.0, (50.0, 5.0)), repeats_seen=10.0)
DOUBT = unsure(NOTHING)


def beside(patch, own=STRIP, other=DOUBT, *, count=10, share=rows._GOES_ALONG):
    """Return which of a strip and of squares above it is a row of the other."""
    asked = given(patch, rows, share_carried=share)
    order = np.argsort(DRAWING.witness[UPPER, 0])
    parts = [Part(LOWER, own), Part(np.sort(UPPER[order[:count]]), other)]
    told = rows.beside_repeating(DRAWING, None, parts)
    return [parts.index(p) for p in told], asked


def test_a_strip_may_be_a_row_of_what_its_shift_carries(monkeypatch) -> None:
    told, asked = beside(monkeypatch)
    assert told == [0]
    assert len(asked.last("share_carried", 2)) == 10
    assert asked.last("share_carried", 3) is STRIP.lattice.basis
    assert beside(monkeypatch, share=rows._GOES_ALONG - 0.01)[0] == []
    # of what is not sure of itself
    assert beside(monkeypatch, other=NOTHING)[0] == []
    assert beside(monkeypatch, own=unsure(STRIP))[0] == []
    assert beside(monkeypatch, own=about(4))[0] == []
    # whichever of two comes first
    assert beside(monkeypatch, DOUBT, STRIP)[0] == [1]


@pytest.mark.parametrize(
    ("repeats", "told"),
    [(3 / rows._ALONGSIDE - 0.01, [0]), (3 / rows._ALONGSIDE + 0.01, [])],
)
def test_it_lies_along_much_of_the_strip(monkeypatch, repeats, told) -> None:
    # three squares share 30 mm of it
    own = replace(STRIP, repeats_seen=repeats)
    assert beside(monkeypatch, own, count=3)[0] == told
    assert beside(monkeypatch, replace(own, repeats_seen=0.1), count=2)[0] == []
