"""A field inside its border, joins left open, and places shown once."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from fillwork.arrangement.build import build_arrangement
from fillwork.cli.main import main
from fillwork.geometry import affine
from fillwork.laying.border import border_panel
from fillwork.pipeline.laying import Laid, lay_drawing
from fillwork.pipeline.stages import read_plan
from fillwork.plans.file import plan_to_toml
from fillwork.plans.model import LayingSettings, Plan
from fillwork.readers import read_linework

if TYPE_CHECKING:
    from pathlib import Path

GUIDE = '<rect x="{}" y="{}" width="{}" height="{}" fill="none" stroke="#00f"/>'
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="{0}mm" height="{1}mm" '
HEAD += 'viewBox="0 0 {0} {1}">{2}<g fill="none" stroke="#000" stroke-width=".4">{3}'


def drawing(size: tuple[int, int], guide: tuple[int, ...], lines: str) -> bytes:
    text = HEAD.format(*size, GUIDE.format(*guide) if guide else "", lines)
    return (text + "</g></svg>").encode()


# invented: a cross and a circle off its middle; a strip with a slanted line
FIELD = drawing(
    (60, 60), (10, 10, 40, 40), '<path d="M10 30H50M30 10V50"/>'
    '<circle cx="30" cy="30" r="8"/>',
)  # fmt: skip
STRIP = drawing((50, 40), (10, 10, 30, 20), '<path d="M10 20L25 10L40 20L25 30Z"/>')
PIECE = drawing((20, 20), (), '<path d="M20 10L10 10L10 20"/>')


def lay(tmp_path: Path, *words: object) -> dict:
    for name, data in (("field", FIELD), ("strip", STRIP), ("piece", PIECE)):
        (tmp_path / f"{name}.svg").write_bytes(data)
    out = tmp_path / "out"
    done = CliRunner().invoke(
        main,
        ["repeat", str(tmp_path / "field.svg"), "--cell", "colour=#00f",
         "--out", str(out), *map(str, words)],
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    return json.loads((out / "report.json").read_text())


def laid_from(tmp_path: Path) -> Laid:
    plan = read_plan(str(tmp_path / "out" / "plan.toml"))
    return lay_drawing(FIELD, plan, name="field.svg")


def strokes(laid: Laid, layer: str) -> np.ndarray:
    linework = laid.linework
    row = [k for k, style in enumerate(linework.styles) if style[0] == layer]
    keep = np.isin(linework.style[linework.stroke_of_curve()], row)
    return linework.curves.take(np.flatnonzero(keep)).data[:, :4].reshape(-1, 2, 2)


def test_a_field_in_a_border_with_corner_pieces(tmp_path: Path) -> None:
    # 326 = 40 + 286 and 190 = 40 + 150: ten repeats of 30 mm less 4.7 %, and five
    report = lay(
        tmp_path, "--over", "326,190", "--border", tmp_path / "strip.svg",
        "--corner-piece", tmp_path / "piece.svg", "--scale-by", "5%",
    )  # fmt: skip
    along = report["border"]["stretch_percent"]
    assert along["lower and upper"] == pytest.approx(100 * (286 / 300 - 1), abs=1e-3)
    assert along["left and right"] == 0
    laid = laid_from(tmp_path)
    border = strokes(laid, "border")
    # the lower side is the strip's zigzag, ten times, between the pieces' lines
    x = np.linspace(20, 306, 21)
    points = np.stack([x, np.where(np.arange(21) % 2, 20.0, 10.0)], axis=1)
    wanted = np.stack([points[:-1], points[1:]], axis=1)
    tree = shapely.STRtree(shapely.linestrings(border))
    for line in (*wanted, [[20, 10], [10, 10]], [[316, 20], [316, 10]]):
        middle = shapely.Point(np.mean(line, axis=0))
        assert len(tree.query(middle, predicate="dwithin", distance=1e-4))
    # no line of the border inside the field, none of the field outside it
    ring = shapely.Polygon(
        *(lambda r: (r[0], [r[1]]))(border_panel(326, 190, 20).rings)
    )
    assert shapely.covers(ring.buffer(1e-6), shapely.linestrings(border)).all()
    assert not (laid.linework.curves.data[: len(border), :4] < -1e-6).any()
    # all of the panel is regions, and they are counted as Euler has it
    linework = read_linework(tmp_path / "out" / "drawing.svg")
    arrangement = build_arrangement(linework)
    assert arrangement.area[1:].sum() == pytest.approx(326 * 190, rel=1e-6)
    arrangement.check()
    # the plan holds the border, and gives it back as it was written
    plan = read_plan(str(tmp_path / "out" / "plan.toml"))
    assert plan.laying.border_cell
    assert plan_to_toml(plan) == (tmp_path / "out" / "plan.toml").read_text()


def test_the_rest_goes_into_a_border_of_equal_width(tmp_path: Path) -> None:
    # 230 - 2 b and 150 - 2 b are five and three times 40 mm
    report = lay(tmp_path, "--over", "230,150", "--border", "rest")
    assert report["border"]["width_mm"] == 15.0
    # the corners of cells, or their middles, come on the border's inner edge
    x, y = report["placing"]["map"][4:]
    assert np.sin(np.pi * np.array([x + 10 - 15, y + 10 - 15]) / 20) == pytest.approx(
        [0, 0], abs=1e-6
    )
    far = CliRunner().invoke(
        main, ["repeat", str(tmp_path / "field.svg"), "--cell", "colour=#00f",
               "--over", "231,150", "--border", "rest"],
    )  # fmt: skip
    assert far.exit_code == 1
    assert "--scale-by" in far.stderr


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        (("--border", "nothing.svg"), "no file and no width"),
        (("--border", "90mm"), "no room inside"),
    ],
)
def test_borders_that_cannot_be_are_told(
    tmp_path: Path, wrong: tuple[str, str], told: str
) -> None:
    (tmp_path / "field.svg").write_bytes(FIELD)
    done = CliRunner().invoke(
        main, ["repeat", str(tmp_path / "field.svg"), "--over", "150,120", *wrong]
    )
    assert done.exit_code == 1
    assert told in done.stderr


def test_joins_left_open_are_drawn_and_told_with_what_is_nearest(
    tmp_path: Path,
) -> None:
    lines = '<path d="M10 30L50 31.2M20 10L22.5 50M14 14H46"/>'
    plan = Plan(laying=LayingSettings(over=(120, 90), cell=("colour=#00f",)))
    laid = lay_drawing(
        drawing((60, 60), (10, 10, 40, 40), lines), plan, name="open.svg"
    )
    left = [j for j in laid.report()["joins"] if j["done"] == "left"]
    # each pair of ends once; the line inside the cell is meant to end there
    assert [j["size_mm"] for j in left] == [1.2, 2.5]
    assert left[0]["at_mm"][0] in (10.0, 50.0)
    assert "joins.png" in {p.name for p in laid.write(tmp_path / "out")}


def test_no_place_is_another_one_mirrored() -> None:
    plan = Plan(laying=LayingSettings(over=(230, 150), cell=("colour=#00f",)))
    lines = '<path d="M10 30H50M30 10V50M20 30L30 20M15 30L30 45"/>'
    laid = lay_drawing(drawing((60, 60), (10, 10, 40, 40), lines), plan, name="p.svg")
    moves = [affine.IDENTITY, (-1, 0, 0, 1, 230, 0), (1, 0, 0, -1, 0, 150)]
    moves.append((-1, 0, 0, -1, 230, 150))
    seen = set()
    for place in laid.placings:
        # of a pattern without symmetry a place is its turn and its shift
        images = set()
        for g in moves:
            m = np.array(affine.compose(g, place.map))
            m[4:] = (m[4:] + 1e-6) % 40
            images.add(tuple(np.round(m, 3).tolist()))
        assert not seen & images
        seen |= images
