"""A field inside its border, joins left open, and places shown once."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from fillwork.arrangement.build import build_arrangement
from fillwork.cli.main import main
from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.laying.border import border_panel
from fillwork.laying.drawing import FRAME
from fillwork.laying.panel import rectangle_panel
from fillwork.pipeline import laid_picture
from fillwork.pipeline.laid_data import laid_data
from fillwork.pipeline.laying import lay_drawing
from fillwork.pipeline.taking import read_plan
from fillwork.plans.areas import has_own_shape
from fillwork.plans.file import plan_to_toml
from fillwork.plans.model import LayingSettings, Plan
from fillwork.readers import read_linework
from fillwork.symmetry.lines.detect import find_symmetry

if TYPE_CHECKING:
    from pathlib import Path

    from fillwork.linework import LineWork

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


def test_a_field_in_a_border_with_corner_pieces(tmp_path: Path) -> None:
    # 102 = 40 + 62 and 100 = 40 + 60: two repeats of 30 mm, longer by 3.3 % and not
    report = lay(
        tmp_path, "--over", "102,100", "--border", tmp_path / "strip.svg",
        "--corner-piece", tmp_path / "piece.svg", "--scale-by", "4%",
    )  # fmt: skip
    along = report["border"]["stretch_percent"]
    assert along["lower and upper"] == pytest.approx(100 * (62 / 60 - 1), abs=1e-3)
    assert along["left and right"] == 0
    drawn = read_linework(tmp_path / "out" / "drawing.svg")
    rows = [k for k, style in enumerate(drawn.styles) if style[0] == "border"]
    held = np.isin(drawn.style[drawn.stroke_of_curve()], rows)
    border = drawn.curves.take(np.flatnonzero(held)).data[:, :4].reshape(-1, 2, 2)
    # the lower side is the strip's zigzag, twice, between the pieces' lines
    points = np.stack([np.linspace(20, 82, 5), [10, 20, 10, 20, 10]], axis=1)
    wanted = np.stack([points[:-1], points[1:]], axis=1)
    tree = shapely.STRtree(shapely.linestrings(border))
    for line in (*wanted, [[20, 10], [10, 10]], [[92, 20], [92, 10]]):
        middle = shapely.Point(np.mean(line, axis=0))
        assert len(tree.query(middle, predicate="dwithin", distance=1e-3))
    ring = shapely.box(0, 0, 102, 100) - shapely.box(20, 20, 82, 80)
    assert shapely.covers(ring.buffer(1e-3), shapely.linestrings(border)).all()
    # all of the panel is regions, and they are counted as Euler has it
    arrangement = build_arrangement(drawn)
    assert arrangement.area[1:].sum() == pytest.approx(102 * 100, rel=1e-6)
    arrangement.check()
    # the plan holds the border, and gives it back as it was written
    plan = read_plan(str(tmp_path / "out" / "plan.toml"))
    assert plan.laying.border_cell
    assert plan_to_toml(plan) == (tmp_path / "out" / "plan.toml").read_text()


def test_the_rest_goes_into_a_border_of_equal_width(tmp_path: Path) -> None:
    # 150 - 2 b and 110 - 2 b are three times and twice 40 mm
    report = lay(tmp_path, "--over", "150,110", "--border", "rest")
    assert report["border"]["width_mm"] == 15.0
    # the corners of cells, or their middles, come on the border's inner edge
    at = np.array(report["placing"]["map"][4:]) + 10 - 15
    assert np.sin(np.pi * at / 20) == pytest.approx([0, 0], abs=1e-6)
    far = CliRunner().invoke(
        main, ["repeat", str(tmp_path / "field.svg"), "--cell", "colour=#00f",
               "--over", "151,110", "--border", "rest"],
    )  # fmt: skip
    assert far.exit_code == 1
    assert "--scale-by" in far.stderr


def test_borders_that_cannot_be_are_told(tmp_path: Path) -> None:
    with pytest.raises(LineWorkError, match="no room inside"):
        border_panel(rectangle_panel(150.0, 120.0), 60.0)
    (tmp_path / "field.svg").write_bytes(FIELD)
    done = CliRunner().invoke(
        main,
        ["repeat", str(tmp_path / "field.svg"), "--over", "9,9", "--border", "no.svg"],
    )
    assert done.exit_code == 1
    assert "no file and no width" in done.stderr


def test_joins_left_open_are_drawn_and_told_with_what_is_nearest(
    tmp_path: Path,
) -> None:
    lines = '<path d="M10 30L50 31.2M20 10L22.5 50M14 14H46"/>'
    settings = LayingSettings(over=(90, 50), cell=("colour=#00f",))
    plan = Plan(laying=settings, png_width=60)
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


def test_a_place_by_hand_keeps_the_turn_of_a_good_one() -> None:
    # a slanted rhombic cell: some good places turn it, so that a side lies level
    lines = '<path d="M10 30L30 18L50 30L30 42Z"/>'
    guide = '<path d="M10 30L30 10L50 30L30 50Z" fill="none" stroke="#00f"/>'
    data = HEAD.format(60, 60, guide, lines).encode() + b"</g></svg>"
    settings = LayingSettings(over=(160, 120), cell=("colour=#00f",))
    laid = lay_drawing(data, Plan(laying=settings), name="r.svg")
    turned = next(p for p in laid.placings if abs(p.map[1]) > 0.1)
    by_hand = replace(settings, place=turned.number, place_at=(50.0, 40.0))
    moved = lay_drawing(data, Plan(laying=by_hand), name="r.svg").placing
    assert moved.map[:4] == pytest.approx(turned.map[:4])
    assert affine.apply(moved.map, np.array([30.0, 30.0])) == pytest.approx([50, 40])


def test_the_page_is_told_one_repeat_and_where_it_may_lie() -> None:
    plan = Plan(
        laying=LayingSettings(
            over=(160, 120), cell=("colour=#00f",), border_width=10.0, place=2
        )
    )
    told = laid_data(FIELD, plan, name="field.svg")
    assert (told["width"], told["height"]) == (160.0, 120.0)
    assert np.reshape(told["rings"][0], (-1, 2)).tolist() == [
        [10, 10], [150, 10], [150, 110], [10, 110]
    ]  # fmt: skip
    # one repeat: two lines of 40 mm and a circle of 8 mm radius; its figures fill it
    ends = np.reshape(told["motif"], (-1, 2, 2))
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T).sum()
    assert length == pytest.approx(80 + 2 * np.pi * 8, rel=1e-2)
    areas = [shapely.Polygon(np.reshape(f, (-1, 2))).area for f in told["figures"]]
    assert sum(areas) == pytest.approx(40 * 40)
    assert told["place"] == told["places"][1]


def test_a_large_panel_in_a_border_is_shown_by_its_lower_left_part(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(laid_picture, "_SHOWN_LINES", 10)
    settings = LayingSettings(over=(160, 120), cell=("colour=#00f",), border_width=10.0)
    laid = lay_drawing(FIELD, Plan(laying=settings), name="field.svg")
    shown = laid_picture._cell(laid, laid.placing)
    frame = shown.linework.frame
    assert shown.part
    assert frame.width / 160 == pytest.approx(frame.height / 120)

    def drawn(lines: LineWork, *, framed: bool) -> shapely.Geometry:
        plain = [framed or style[0] != FRAME for style in lines.styles]
        kept = np.array(plain)[lines.style[lines.stroke_of_curve()]]
        chords, _, _ = lines.curves.take(np.flatnonzero(kept)).flatten(1e-3)
        return shapely.union_all(shapely.linestrings(chords.reshape(-1, 2, 2)))

    # what it shows of the field lies on the whole panel's lines, and so does the edge
    part = drawn(shown.linework, framed=False)
    assert drawn(laid.linework, framed=True).buffer(0.01).covers(part)
    assert part.bounds == pytest.approx([10, 10, frame.width, frame.height], abs=0.01)


def test_what_is_open_in_a_panel_is_no_region(tmp_path: Path) -> None:
    window = '<path d="M0 0H130V170H0Z M30 40H90V80H30Z"/>'
    handle = '<circle cx="110" cy="120" r="9"/>'
    (tmp_path / "door.svg").write_bytes(drawing((130, 170), (), window + handle))
    report = lay(tmp_path, "--over", tmp_path / "door.svg")
    assert report["panel_mm"] == [130.0, 170.0]
    # the file goes into every other command: what is open stays so
    laid = build_arrangement(read_linework(tmp_path / "out" / "drawing.svg"))
    area = 130 * 170 - 60 * 40 - math.pi * 81
    assert laid.area.sum() == pytest.approx(area, rel=1e-6)
    assert laid.faces_at([[60, 110], [110, 50]]).tolist() == [0, 0]
    assert has_own_shape(laid)
    # a square lattice of crosses and circles, whatever is cut from it
    assert find_symmetry(laid).group.short == "p4m"
