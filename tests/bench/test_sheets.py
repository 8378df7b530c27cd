"""CPU time and peak memory of laying out sheets and writing their PDF.

Each drawing is a process of its own. The yardstick beside the sheets is the work
before them in the same process, from the drawing's bytes to its colours. Printed
are ratios, growth, memory and size of the PDF; nothing is asserted of time. Run:
``pytest -m bench -s tests/bench/test_sheets.py``.
"""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from tests.bench.patterns import circles_of, dense_twelvefold, star_and_cross, svg_of

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.bench

OWN = """
import sys
from time import process_time
from fillwork.pipeline.job import colour_drawing
from fillwork.plans.model import Plan, SheetSettings
drawing, width, symmetry, paper, *sheets = sys.argv[1:]
start = process_time()
plan = Plan(
    real_width=float(width) or None,
    symmetry=((0, symmetry),) if symmetry != "auto" else (),
    match="none" if symmetry == "none" else "all",
    sheets=SheetSettings(tuple(sheets), paper, fit=not float(width)),
)
finish = colour_drawing(drawing, plan)
before = process_time()
pages = finish.sheet_scenes()
laid = process_time()
data = finish.sheets()
end = process_time()
print(finish.arrangement.face_count - 1, len(pages), len(data), before - start,
      laid - before, end - laid)
"""

ALL = ("numbered", "blank", "coloured", "steps", "repeat", "masks", "card", "schedule")
PATTERNS = {
    "stars and crosses": lambda n: svg_of(star_and_cross(4 * n)),
    "twelve-fold": lambda n: svg_of(dense_twelvefold(max(round(n / 2.9), 24))),
    "circles": circles_of,
}


def measure(
    drawing: Path,
    *sheets: str,
    width: float = 0,
    symmetry: str = "auto",
    paper: str = "A4",
) -> tuple[float, ...]:
    """Return what the process printed, and its peak memory, MB."""
    command = [sys.executable, "-c", OWN, str(drawing), str(width), symmetry, paper]
    process = subprocess.Popen([*command, *sheets], stdout=subprocess.PIPE)
    assert process.stdout is not None
    told = process.stdout.read()
    process.stdout.close()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0
    return (*map(float, told.split()), usage.ru_maxrss / 1024)


def say(name: str, told: tuple[float, ...]) -> float:
    """Print one measurement and return the seconds that sheets took."""
    regions, pages, size, before, laid, written, memory = told
    print(
        f"\n{name}, {regions:,.0f} regions: sheets {laid + written:.2f} s "
        f"(layout {laid:.2f}, PDF {written:.2f}), {(laid + written) / before:.2f} of "
        f"the {before:.2f} s before them; {pages:.0f} pages, {size / 1e6:.2f} MB, "
        f"peak {memory:.0f} MB"
    )
    return laid + written


@pytest.mark.parametrize("pattern", list(PATTERNS))
def test_all_sheets(pattern: str, tmp_path: Path) -> None:
    seconds = []
    for regions in (5_000, 10_000):
        drawing = tmp_path / f"{regions}.svg"
        drawing.write_bytes(PATTERNS[pattern](regions))
        told = measure(drawing, *ALL)
        assert told[0] == pytest.approx(regions, rel=0.15)
        seconds.append(say(f"all sheets of {pattern}", told))
    print(f"growth from 5,000 to 10,000: {seconds[1] / seconds[0]:.1f} x")


@pytest.mark.parametrize("pattern", ["stars and crosses", "circles"])
@pytest.mark.parametrize("symmetry", ["auto", "none"])
def test_numbers_of_100_000(pattern: str, symmetry: str, tmp_path: Path) -> None:
    """True size, 1 m wide, on one page: numbers are tried in every region."""
    seconds = []
    for regions in (50_000, 100_000):
        drawing = tmp_path / f"{regions}.svg"
        drawing.write_bytes(PATTERNS[pattern](regions))
        told = measure(
            drawing, "numbered", width=2000, symmetry=symmetry, paper="drawing"
        )
        seconds.append(say(f"numbered {pattern}, symmetry {symmetry}", told))
    print(f"growth from 50,000 to 100,000: {seconds[1] / seconds[0]:.1f} x")


def test_a_square_metre_on_many_pages(tmp_path: Path) -> None:
    drawing = tmp_path / "stars.svg"
    drawing.write_bytes(PATTERNS["stars and crosses"](100_000))
    one = say(
        "1 m, one page", measure(drawing, "numbered", width=1000, paper="drawing")
    )
    many = say("1 m, A4 pages", measure(drawing, "numbered", width=1000))
    print(f"A4 pages beyond one page: {many - one:.2f} s")
