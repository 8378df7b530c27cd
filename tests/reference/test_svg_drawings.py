"""Drawings from open sources: as many regions as one counts by eye.

Sources, licences and how the regions were counted: tests/drawings/svg/README.md.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework

DRAWINGS = Path(__file__).parents[1] / "drawings" / "svg"


@pytest.mark.reference("counted by eye, see tests/drawings/svg/README.md")
@pytest.mark.parametrize(
    ("name", "scope", "strokes", "regions"),
    [
        ("lucide-grid-3x3", "stroked", 5, 9),
        ("lucide-blend", "stroked", 2, 3),
        ("feather-globe", "stroked", 3, 6),
        ("heroicons-squares-2x2", "stroked", 4, 4),
        ("flag-icons-three-bands", "outlines", 3, 3),
        ("maki-circle-stroked", "outlines", 2, 2),
        # one unit wide throughout, a grid of lines made into a band: four panes
        ("bootstrap-icons-border-all", "outlines", 4, 4),
        ("octicons-table-24", "outlines", 5, 5),
        ("eva-icons-grid-outline", "outlines", 8, 8),
        ("ionicons-grid-outline", "stroked", 4, 4),
        ("mdi-circle-double", "outlines", 4, 4),
        ("tabler-icons-yin-yang", "stroked", 4, 4),
        ("phosphor-grid-four-thin", "outlines", 5, 5),
        ("openmoji-web", "stroked", 6, 16),
        ("svg-country-flags-nested-crosses", "outlines", 9, 21),
        ("temaki-skewed-ladder", "outlines", 6, 25),
    ],
)
def test_drawings_from_open_sources(name, scope, strokes, regions):
    work = read_linework(DRAWINGS / f"{name}.svg")
    assert work.scope == scope
    assert work.stroke_count == strokes
    arrangement = build_arrangement(work)
    assert arrangement.face_count - 1 == regions
