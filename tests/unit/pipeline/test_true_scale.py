"""Stated scales: what is said and bought is the wall's, not the paper's.

The drawing is invented: a square of 40 mm cut by one line, on a page 60 mm wide.
All expected lengths follow from it by hand.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pypdfium2
import pytest
from click.testing import CliRunner

from fillwork.cli.main import main
from fillwork.pipeline.job import colour_drawing
from fillwork.pipeline.weaving import weave_drawing
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.plans.model import Plan
from fillwork.renderers.survey.text import compose_table

if TYPE_CHECKING:
    from pathlib import Path

    from fillwork.pipeline.finish import Finish

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" {} viewBox="0 0 60 60"><path
d="M10 10H50V50H10ZM30 10V50" fill="none" stroke="#000" stroke-width="0.4"/></svg>"""
SIZED = DRAWING.format('width="60mm" height="60mm"').encode()
UNSIZED = DRAWING.format("").encode()


WEAVE = DRAWING.replace("30 10V50", "30 0V60M0 30H60")


def finish(data: bytes, plan: str) -> Finish:
    return colour_drawing(data, parse_plan(plan.encode()), name="panel.svg")


@pytest.fixture(scope="module")
def fifth() -> Finish:
    """Return the sized drawing at 1 : 5, with a painted line 4 mm wide."""
    return finish(
        SIZED,
        "[drawing]\nscale = 5.0\n[colouring]\noutline = '#ffffff'\n"
        "outline_width_mm = 4.0\n[sheets]\nsheets = ['numbered']\n",
    )


@pytest.fixture(scope="module")
def unsized() -> Finish:
    return finish(UNSIZED, "[sheets]\nsheets = ['numbered']\n")


def words(done: Finish) -> str:
    """Return the survey as the command prints it."""
    survey = done.survey
    return compose_table(
        survey.linework, survey.arrangement, survey.orbits,
        real_scale=survey.real_scale, scale_known=survey.scale_known,
    )  # fmt: skip


def printed(done: Finish) -> str:
    """Return the words of the first pages, as another program reads them."""
    pages = pypdfium2.PdfDocument(done.sheets())
    found = [
        pages[k].get_textpage().get_text_range() for k in range(min(2, len(pages)))
    ]
    return " ".join(found).replace("\u2009", " ")


@pytest.mark.parametrize(
    ("words", "scale"),
    [
        (("--scale", "1:5"), 5.0),
        (("--scale", "2:1"), 0.5),
        (("--real-width", "600mm"), 10.0),
        (("--real-width", "page 600mm"), 10.0),
        (("--real-width", "drawing 600mm"), 15.0),  # its lines are 40 mm wide
        (("--real", "10,10 50,10 = 300mm"), 7.5),
    ],
)
def test_each_way_of_stating_a_scale(
    words: tuple[str, str], scale: float, tmp_path: Path
) -> None:
    path = tmp_path / "panel.svg"
    path.write_bytes(SIZED)
    done = CliRunner().invoke(main, ["survey", str(path), "--json", *words])
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)["drawing"]
    assert found["scale_known"]
    assert found["real_scale"] == pytest.approx(scale)


def test_what_is_measured_is_kept_in_the_plan() -> None:
    plan = Plan(real_width=600.0, real_of="drawing")
    assert parse_plan(plan_to_toml(plan).encode()) == plan


def test_the_scale_stands_on_everything(fifth: Finish) -> None:
    survey = words(fifth)
    assert "real 300.0 × 300.0 mm, at 1 : 5" in survey
    schedule = " ".join(fifth.schedule_text().split())
    assert "Sizes are real; the drawing is at 1 : 5" in schedule
    assert "the figure is 200.0 mm across" in schedule
    assert "of real size; the figure is 200.0 mm across" in " ".join(
        printed(fifth).split()
    )
    page = fifth.html().decode()
    assert '"scale_known":true' in page
    assert '"real_scale":5' in page


def test_a_metre_and_more_is_told_in_metres() -> None:
    wide = finish(SIZED, "[drawing]\nscale = 75.0\n")
    assert "the figure is 3.000 m across" in wide.schedule.scale_words


def test_a_drawing_without_a_size_never_says_that_sizes_are_real(
    unsized: Finish,
) -> None:
    texts = [words(unsized), unsized.schedule_text(), printed(unsized)]
    assert all("real" not in t or "not known" in t for t in texts[1:])
    assert "taken from px" in texts[0]
    assert not any("are real" in t or "eal size, 1" in t for t in texts)
    assert '"scale_known":false' in unsized.html().decode()


def test_a_painted_line_is_that_wide_on_the_wall(fifth: Finish) -> None:
    # on the drawing at 1 : 5 a fifth of 4 mm; 4 x 40 + 40 mm of line, five times
    assert b'stroke-width="0.8"' in fifth.svg()
    line = next(q for q in fifth.schedule.extras if q.edge)
    assert line.edge == pytest.approx(5 * (4 * 40 + 40))
    assert line.area_real == pytest.approx(5 * (4 * 40 + 40) * 4)


def test_bands_and_the_gap_beside_them_are_at_true_size() -> None:
    plan = parse_plan(b"[drawing]\nscale = 5.0\n[bands]\nwidth_mm = 20\ngap_mm = 5\n")
    data = WEAVE.format('width="60mm" height="60mm"').encode()
    woven = weave_drawing(data, plan, name="panel.svg").woven
    assert (woven.width, woven.gap) == pytest.approx((4.0, 1.0))
