"""CPU time and peak memory of reading a drawing and finding its regions.

Beside it stands a plain script of lxml, shapely ``unary_union`` and
``polygonize`` on the same file in the same run. Each is a process of its own,
with the start of Python and all imports; the least of the repeats counts.
Printed are ratios and growth; nothing is asserted of time. Run:
``pytest -m bench -s tests/bench/test_regions.py``.
"""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from tests.bench.patterns import dense_twelvefold, star_and_cross, svg_of

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.bench

PLAIN = """
import sys
from lxml import etree
from shapely import get_num_geometries, linestrings, polygonize, unary_union
parser = etree.XMLParser(huge_tree=True)
root = etree.parse(sys.argv[1], parser).getroot()
ends = [('x1', 'y1'), ('x2', 'y2')]
rows = [[[float(e.get(a)) for a in end] for end in ends] for e in root.iter('{*}line')]
print(get_num_geometries(polygonize([unary_union(linestrings(rows))])))
"""

OWN = """
import sys
from fillwork.readers import read_linework
from fillwork.arrangement import build_arrangement
work = read_linework(sys.argv[1])
print(build_arrangement(work).face_count - 1)
"""


def measure(script: str, drawing: Path, repeats: int) -> tuple[float, float, int]:
    """Return CPU seconds, peak MB and the number printed."""
    best, peak, regions = float("inf"), 0.0, 0
    for _ in range(repeats):
        process = subprocess.Popen(
            [sys.executable, "-c", script, str(drawing)], stdout=subprocess.PIPE
        )
        assert process.stdout is not None
        regions = int(process.stdout.read())
        process.stdout.close()
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        assert process.returncode == 0
        best = min(best, usage.ru_utime + usage.ru_stime)
        peak = max(peak, usage.ru_maxrss / 1024)
    return best, peak, regions


def regions_of_star_and_cross(segments: int) -> int:
    """Return the count by construction: 40 lines a cell, ten regions."""
    return segments // 40 * 10


PATTERNS = {"star and cross": star_and_cross, "dense twelve-fold": dense_twelvefold}


@pytest.mark.parametrize("pattern", list(PATTERNS))
def test_regions(pattern: str, tmp_path: Path) -> None:
    before: dict[str, float] = {}
    for segments in (1_000, 10_000, 100_000):
        drawing = tmp_path / f"{segments}.svg"
        drawing.write_bytes(svg_of(PATTERNS[pattern](segments)))
        repeats = 3 if segments < 100_000 else 2
        own, own_mb, found = measure(OWN, drawing, repeats)
        plain, plain_mb, other = measure(PLAIN, drawing, repeats)
        print(
            f"\n{pattern}, {segments:,} segments: {own:.2f} s, {own_mb:.0f} MB, "
            f"{found:,} regions; plain {plain:.2f} s, {plain_mb:.0f} MB, {other:,}; "
            f"{plain / own:.1f} times faster, {own_mb / plain_mb:.2f} of the memory; "
            f"growth {own / before.get('own', own):.1f} "
            f"(plain {plain / before.get('plain', plain):.1f})"
        )
        before = {"own": own, "plain": plain}
        if pattern == "star and cross" and segments % 4000 == 0:
            assert found == regions_of_star_and_cross(segments)


def test_a_million_segments(tmp_path: Path) -> None:
    drawing = tmp_path / "large.svg"
    drawing.write_bytes(svg_of(star_and_cross(1_000_000)))
    own, own_mb, found = measure(OWN, drawing, 1)
    print(f"\na million segments: {own:.1f} s, {own_mb:.0f} MB")
    plain, plain_mb, _ = measure(PLAIN, drawing, 1)
    print(
        f"plain {plain:.1f} s, {plain_mb:.0f} MB: {plain / own:.1f} times faster, "
        f"{own_mb / plain_mb:.2f} of the memory"
    )
    # 158 by 158 cells would be 998,560 segments; the last cells are cut
    assert abs(found - 250_000) < 1000
