"""Places that are offered: exact, and the same for one repeat and for several."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from fillwork.cli.main import main
from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.linework import Frame, LineWork
from fillwork.pipeline.laying import lay_drawing
from fillwork.pipeline.laying_inputs import border_cell, border_from
from fillwork.plans.model import LayingSettings, Plan
from fillwork.renderers.places import PlaceCell, compose_places
from fillwork.renderers.scene import Text

if TYPE_CHECKING:
    from pathlib import Path

    from fillwork.laying.model import Placing

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="{0}mm" height="{1}mm" '
HEAD += 'viewBox="0 0 {0} {1}"><rect x="{2}" y="{2}" width="{3}" height="{4}" '
HEAD += 'fill="none" stroke="#00f"/><g fill="none" stroke="#000" stroke-width=".3">'
STEP = 40


def star(x: float, y: float) -> str:
    """Return a star of eight points, four of which touch its neighbours 40 mm off."""
    points = [
        (x + r * math.cos(a), y + r * math.sin(a))
        for k in range(16)
        for r, a in [((20.0, 9.0)[k % 2], math.pi * k / 8)]
    ]
    return f'<path d="M{" L".join(f"{a:.4f} {b:.4f}" for a, b in points)}Z"/>'


def test_the_ground_beside_a_rosette_is_no_figure_that_an_edge_cuts() -> None:
    # an eighth of two octagons, whose corners lie 50 and 90 mm from the middle
    (c, s) = math.cos(math.pi / 4), math.sin(math.pi / 4)
    sides = "".join(
        f'<path d="M{10 + r} 110L{10 + r * c:.4f} {110 - r * s:.4f}"/>'
        for r in (50, 90)
    )
    data = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="120mm" '
        'viewBox="0 0 120 120" fill="none"><path stroke="#00f" '
        f'd="M10 110H110L{10 + 100 * c:.4f} {110 - 100 * s:.4f}Z"/>'
        f'<g stroke="#000" stroke-width=".4">{sides}</g></svg>'
    ).encode()
    for side, whole in ((181.0, True), (150.0, False)):
        settings = LayingSettings(over=(side, side), cell=("colour=#00f",))
        plan = Plan(laying=settings, symmetry=((0, "rosette:C8"),))
        place = lay_drawing(data, plan, name="eighth.svg").placing
        assert (place.smallest == math.inf) == whole
        # of the outer octagon more than half stays
        assert place.halves == 0


def test_a_strip_drawn_askew_may_stand_upright() -> None:
    # one repeat of 30 mm, turned by 20 degrees, in a panel as high as eight of them
    c, s = math.cos(math.radians(20)), math.sin(math.radians(20))
    data = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" '
        b'viewBox="0 0 60 60" fill="none"><g transform="rotate(-20 30 30)">'
        b'<path stroke="#00f" d="M15 20H45V40H15Z"/>'
        b'<path stroke="#000" d="M15 20H45M15 40H45M15 30L25 20L35 40L45 30"/>'
        b"</g></svg>"
    )
    settings = LayingSettings(over=(60.0, 240.0), cell=("colour=#00f",))
    plan = Plan(laying=settings, symmetry=((0, "frieze:p2"),))
    found = lay_drawing(data, plan, name="strip.svg").placings
    along = [affine.linear(p.map) @ (c, s) for p in found]
    assert any(abs(x) < 1e-3 for x, _ in along)


@cache
def places(columns: int, rows: int, at: float, by: str) -> tuple[Placing, ...]:
    """Return the places of stars on a panel, of which one cell holds so many."""
    size = STEP * (max(columns, rows) + 2)
    text = HEAD.format(size, size, at, STEP * columns, STEP * rows)
    reach = [(i, j) for i in range(-1, columns + 2) for j in range(-1, rows + 2)]
    text += "".join(star(20 + STEP * i, 20 + STEP * j) for i, j in reach)
    settings = LayingSettings(over=(300, 200), cell=("colour=#00f",), by=by)
    data = (text + "</g></svg>").encode()
    return lay_drawing(data, Plan(laying=settings), name="stars.svg").placings


def middles(found: tuple[Placing, ...]) -> list[tuple[float, ...]]:
    """Return where the panel's middle lies among the stars, and how they are turned."""
    told = []
    for place in found:
        at = affine.apply(affine.invert(place.map), np.array([150.0, 100.0]))
        share = ((at - 20) / STEP + 1e-6) % 1.0 - 1e-6
        # by the star's mirrors: sides and diagonals
        share = np.sort(np.minimum(share, 1 - share))
        turn = math.degrees(math.atan2(place.map[1], place.map[0])) % 90
        told.append((*np.round(share, 5).tolist(), round(turn, 3)))
    return told


@pytest.mark.parametrize("at", [20.0, 33.7])
def test_the_middle_of_the_panel_is_a_centre_to_the_hair(at: float) -> None:
    # by construction: p4m, its four turns on stars and between four of them, its
    # half-turns between two; wherever the edge of the cell cuts the lines
    centres = [(0.0, 0.0), (0.5, 0.5), (0.0, 0.5)]
    found = places(1, 1, at, "shifts")
    held = [p for p in found if "corners" in p.alike and p.map[1] == 0]
    assert len(held) == 4
    for place, told in zip(found, middles(found), strict=True):
        if place in held:
            assert told[:2] in centres
        # no hair of a figure is left at the edge by a place that is off by one
        assert place.smallest > 0.1


@pytest.mark.parametrize(
    ("columns", "rows", "by"), [(2, 2, "mirrors"), (3, 1, "shifts")]
)
def test_a_cell_of_several_repeats_has_the_places_of_one(
    columns: int, rows: int, by: str
) -> None:
    one, several = places(1, 1, 20.0, "shifts"), places(columns, rows, 20.0, by)
    assert sorted(middles(several)) == sorted(middles(one))
    assert [p.alike for p in several] == [p.alike for p in one]


@cache
def framed(columns: int, rows: int) -> bytes:
    """Return stars in squares of 20 mm round a disc, and lozenges in the border."""
    w, h = 20 * columns, 20 * rows
    x, y = w / 2, h / 2
    # the disc hides those that its middle half touches
    squares = [
        (20 * i, 20 * j)
        for i, j in np.ndindex(columns, rows)
        if math.hypot(20 * i + 10 - x, 20 * j + 10 - y) >= 40
    ]
    lozenges = [(20 * i + 10, v) for i in range(columns) for v in (-10, h + 10)]
    lozenges += [(u, 20 * j + 10) for j in range(rows) for u in (-10, w + 10)]
    lines = [f"M-20 -20H{w + 20}V{h + 20}H-20ZM0 0H{w}V{h}H0Z"]
    lines += [f"M{a} {b}h20v20h-20z" for a, b in squares]
    lines += [f"M{a + 10} {b + 3}l3 4 4 3-4 3-3 4-3-4-4-3 4-3z" for a, b in squares]
    lines += [f"M{a - 10} {b}l10-10 10 10-10 10z" for a, b in lozenges]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w + 40}mm" '
        f'height="{h + 40}mm" viewBox="-20 -20 {w + 40} {h + 40}">'
        '<g fill="none" stroke="#000" stroke-width=".3">'
        f'<circle cx="{x}" cy="{y}" r="24"/><path d="{"".join(lines)}"/></g></svg>'
    ).encode()


def test_a_field_round_a_medallion_is_laid_by_its_own_repeat() -> None:
    settings = LayingSettings(over=(400, 300))
    laid = lay_drawing(framed(10, 8), Plan(laying=settings), name="framed.svg")
    assert laid.motif.way == "the shifts of the plane:p4m found"
    # by construction: a repeat has two sides of a square and a star of eight of 5 mm
    lengths = laid.motif.curves.lengths()
    assert lengths.sum() == pytest.approx(2 * 20 + 8 * 5)
    assert not laid.motif.misfits


def test_a_framed_panel_is_drawn_anew_at_another_size(tmp_path: Path) -> None:
    drawn = tmp_path / "framed.svg"
    drawn.write_bytes(framed(10, 8))
    out = tmp_path / "out"
    words = ["repeat", drawn, "--border", drawn, "--over", "640mm,440mm", "--out", out]
    done = CliRunner().invoke(main, list(map(str, words)))
    assert done.exit_code == 0, done.output
    report = json.loads((out / "report.json").read_text())
    # more lines than one picture of a place shows whole
    assert report["lines"] > 2500
    assert report["border"]["width_mm"] == pytest.approx(20, abs=0.05)
    # whole squares end on the border: 30 by 20 of them, and a lozenge for each
    assert "note:" not in done.output
    assert report["placing"]["alike"] == ["left and right", "top and bottom", "corners"]
    assert report["placing"]["small_pieces"] == 0
    # its plan, with the strip in it, makes the same again
    again = tmp_path / "again"
    words = ["repeat", drawn, "--plan", out / "plan.toml", "--out", again]
    assert CliRunner().invoke(main, list(map(str, words))).exit_code == 0
    first, second = (f / "drawing.svg" for f in (out, again))
    assert first.read_bytes() == second.read_bytes()


def test_a_strip_that_fills_its_page_runs_round_a_field() -> None:
    # invented: four repeats of a zigzag, 20 mm along and across, edge to edge
    zigzag = "".join(f"M{20 * k} 0l10 20 10-20" for k in range(4))
    strip = HEAD.format(80, 20, 200, 1, 1) + f'<path d="{zigzag}M0 0H80M0 20H80"/></g>'
    found = border_from((strip + "</svg>").encode(), "strip.svg", ())
    settings = LayingSettings(over=(240, 320), **found)
    cell, _ = border_cell(settings)
    assert np.ptp(cell.outline, axis=0) == pytest.approx((20, 20), abs=0.1)


def test_a_field_without_lines_in_its_cell_is_refused() -> None:
    text = HEAD.format(90, 90, 50, 30, 30) + '<path d="M5 5h20v20h-20z"/></g></svg>'
    settings = LayingSettings(over=(300, 200), cell=("colour=#00f",))
    with pytest.raises(LineWorkError, match="no line of the drawing lies within"):
        lay_drawing(text.encode(), Plan(laying=settings), name="beside.svg")


@pytest.mark.parametrize("size", [(60.0, 90.0), (30.0, 90.0), (90.0, 20.0)])
def test_all_eight_places_stand_on_the_one_picture(size: tuple[float, float]) -> None:
    frame = Frame(*size, to_mm=affine.IDENTITY)
    none = np.empty(0, dtype=object)
    work = replace(LineWork.from_geometry([shapely.box(0, 0, *size)]), frame=frame)
    cell = PlaceCell(work, False, none, np.empty(0, bool), "a star", (), "")
    scene = compose_places([cell] * 8, title="Stars")
    told = [item.text for item in scene.items if isinstance(item, Text)]
    assert [t for t in told if t.endswith("a star")] == [
        f"{k}  a star" for k in range(1, 9)
    ]


def test_whole_large_figures_come_before_halved_ones() -> None:
    # octagons of 100 mm and squares between: on 600 x 900 mm all octagons can be whole
    a = 100 / (2 + math.sqrt(2))
    b = 100 - a
    text = HEAD.format(100, 100, 0, 100, 100)
    text += f'<path d="M0 {a}L{a} 0H{b}L100 {a}V{b}L{b} 100H{a}L0 {b}Z"/></g></svg>'
    settings = LayingSettings(over=(600, 900), cell=("colour=#00f",))
    laid = lay_drawing(text.encode(), Plan(laying=settings), name="octagons.svg")
    first = laid.placing
    assert first.map[:4] == pytest.approx((1, 0, 0, 1))
    cells = np.array(first.map[4:]) / 100
    assert cells == pytest.approx(np.round(cells), abs=1e-6)
    assert len(first.alike) == 3
    # squares halved by the edge and quartered in the corners are as good as it gets
    assert (first.small, first.halves) == (0, 0)
