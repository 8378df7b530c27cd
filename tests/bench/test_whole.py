"""Whole-process CPU time and peak memory of ``survey`` and ``colour``.

Beside each stands a plain script of lxml, shapely ``unary_union`` and
``polygonize`` on the same file in the same run. Printed are ratios and growth;
nothing is asserted of time. ``FILLWORK_REGIONS`` says how large fields are. Run:
``pytest -m bench -s tests/bench/test_whole.py``.
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
from functools import partial
from typing import TYPE_CHECKING

import pytest

from tests.bench import patterns
from tests.bench.patterns import cells_of, hatching_of, svg_of

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.bench

REGIONS = [
    int(n) for n in os.environ.get("FILLWORK_REGIONS", "6250 12500 25000 50000").split()
]

PLAIN = """
import sys
from lxml import etree
from shapely import get_num_geometries, linestrings, polygonize, unary_union
root = etree.parse(sys.argv[1]).getroot()
ends = [('x1', 'y1'), ('x2', 'y2')]
rows = [[[float(e.get(a)) for a in end] for end in ends] for e in root.iter('{*}line')]
print(get_num_geometries(polygonize([unary_union(linestrings(rows))])))
"""


def star_and_cross(segments: int) -> str:
    """Eight-point stars tip to tip, every star drawn whole, so that shared
    points meet and the crosses are closed by their neighbours' lines."""
    side = max(1, round(math.sqrt(segments / 16)))
    size = 20.0
    lines = []
    for row in range(side):
        for column in range(side):
            x, y = size * (column + 0.5), size * (row + 0.5)
            points = []
            for k in range(16):
                radius = size / 2 if k % 2 == 0 else size / 2 * 0.7653668647
                angle = math.pi * k / 8
                points.append(
                    (x + radius * math.cos(angle), y + radius * math.sin(angle))
                )
            for (a, b), (c, d) in zip(points, points[1:] + points[:1], strict=True):
                lines.append(
                    f'<line x1="{a:.6f}" y1="{b:.6f}" x2="{c:.6f}" y2="{d:.6f}"/>'
                )
    width = size * side
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" '
        f'height="{width}mm" viewBox="0 0 {width} {width}">'
        '<g stroke="#000" fill="none" stroke-width="0.2">'
        + "".join(lines)
        + "</g></svg>"
    )


def measure(command: list[str]) -> tuple[float, float]:
    """Return CPU seconds and peak MB of one process."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=sys.stderr)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, command
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


@pytest.mark.parametrize("segments", [1_000, 10_000, 100_000])
def test_survey_and_colour(segments: int, tmp_path: Path) -> None:
    drawing = tmp_path / "stars.svg"
    drawing.write_text(star_and_cross(segments))
    plain, plain_mb = measure([sys.executable, "-c", PLAIN, str(drawing)])
    survey = [sys.executable, "-m", "fillwork", "survey", str(drawing), "--quiet"]
    colour = [sys.executable, "-m", "fillwork", "colour", str(drawing), "--quiet"]
    runs = {
        "survey without symmetry": [*survey, "--symmetry", "none"],
        "survey": survey,
        "colour": [*colour, "--out", str(tmp_path / "out")],
    }
    print(f"\n{segments} segments: plain script {plain:.2f} s CPU, {plain_mb:.0f} MB")
    for name, command in runs.items():
        cpu, mb = measure(command)
        print(
            f"  {name}: {cpu:.2f} s CPU ({cpu / plain:.2f} x), "
            f"{mb:.0f} MB ({mb / plain_mb:.2f} x)"
        )


_FIELDS = {
    "stars and crosses": lambda n: patterns.star_and_cross(round(5.67 * n)),
    "twelve-fold stars": lambda n: patterns.dense_twelvefold(n // 3),
    **{name: partial(patterns.tiling, name) for name in patterns.TILINGS},
}


@pytest.mark.parametrize("framed", [False, True])
@pytest.mark.parametrize("name", _FIELDS)
def test_growth_of_fields(name: str, framed: bool, tmp_path: Path) -> None:
    """What a survey takes of a field, beside one that looks for no symmetry."""
    before = 0.0
    print(f"\n{name}{', framed' if framed else ''}")
    for regions in REGIONS:
        lines = _FIELDS[name](regions)
        drawing = tmp_path / f"{regions}.svg"
        drawing.write_bytes(svg_of(patterns.framed(lines) if framed else lines))
        survey = [sys.executable, "-m", "fillwork", "survey", str(drawing), "--quiet"]
        cpu, mb = measure(survey)
        none, _ = measure([*survey, "--symmetry", "none"])
        growth = f", {cpu / before:.2f} x the last" if before else ""
        print(
            f"  about {regions} regions: {cpu:.2f} s CPU ({cpu / none:.2f} x without "
            f"symmetry){growth}, {mb:.0f} MB"
        )
        before = cpu


@pytest.mark.parametrize("shared", [False, True])
def test_unlike_cells(shared: bool, tmp_path: Path) -> None:
    """100,000 regions of which no two are alike, with every file and the page."""
    seconds = []
    for count, seed in ((50_000, 12), (100_000, 11)):
        drawing = tmp_path / f"{count}.svg"
        drawing.write_bytes(cells_of(count, seed, shared=shared))
        out = tmp_path / str(count)
        colour = [sys.executable, "-m", "fillwork", "colour", str(drawing), "--quiet"]
        cpu, mb = measure([*colour, "--html", "--dxf", "--out", str(out)])
        seconds.append(cpu)
        sizes = sorted((f.stat().st_size / 1e6, f.name) for f in out.iterdir())
        told = ", ".join(f"{name} {size:.1f} MB" for size, name in sizes if size > 1)
        print(f"\n{count} cells, shared {shared}: {cpu:.1f} s CPU, {mb:.0f} MB; {told}")
        if shared:
            plain, plain_mb = measure([sys.executable, "-c", PLAIN, str(drawing)])
            print(
                f"  {cpu / plain:.1f} x the plain script, {mb / plain_mb:.2f} x its MB"
            )
    print(f"growth from 50,000 to 100,000: {seconds[1] / seconds[0]:.1f} x")


def test_loose_hatching(tmp_path: Path) -> None:
    seconds = []
    for strokes in (5_000, 10_000, 20_000):
        drawing = tmp_path / f"{strokes}.svg"
        drawing.write_bytes(hatching_of(strokes, 31))
        survey = [sys.executable, "-m", "fillwork", "survey", str(drawing), "--quiet"]
        cpu, mb = measure(survey)
        seconds.append(cpu)
        print(f"\n{strokes} strokes: {cpu:.1f} s CPU, {mb:.0f} MB")
    print(f"growth from 10,000 to 20,000: {seconds[2] / seconds[1]:.1f} x")


def test_start() -> None:
    """`fillwork --help` beside a bare ``import click``."""
    bare, _ = min(measure([sys.executable, "-c", "import click"]) for _ in range(5))
    for arguments in (["-m", "fillwork", "--help"], ["-c", "import fillwork"]):
        own, _ = min(measure([sys.executable, *arguments]) for _ in range(5))
        print(f"\n{' '.join(arguments)}: {own / bare:.2f} x import click")
