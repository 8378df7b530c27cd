"""What is kept for later, repairs, and folders of another drawing."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from fillwork.cli.choices import plan_from
from fillwork.cli.main import main
from fillwork.colouring.model import Rules
from fillwork.errors import PlanError, RenderError
from fillwork.pipeline.job import colour_drawing
from fillwork.plans.areas import measure_areas
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.plans.model import Made, PaintSettings, Plan, SheetSettings, UsedPaint
from fillwork.plans.patch import find_patch
from fillwork.renderers.scene import Fills, Placed
from tests.unit.plans.boards import board, colour_board, orbits_of
from tests.unit.plans.test_workshop import HALL, made

SQUARES = (
    '<svg width="40mm" height="40mm" viewBox="0 0 40 40"><g fill="none" stroke="black">'
    + "".join(f'<path d="M{k} 0V40M0 {k}H40"/>' for k in range(0, 41, 10))
    + "</g></svg>"
).encode()
GOLD = HALL.decode().replace(
    'name = "linen"\ncolour = "#e8e2d0"\nmedium = "bare"',
    'name = "gold"\ncolour = "#d4a73c"\nmedium = "leaf"',
)

PLAIN = Rules(counterchange="no")


def test_what_was_used_stays_in_the_plan():
    used = (UsedPaint("straw", "17 B", "3 : 1", "2026-05-02", "a little warmer"),)
    plan = Plan(used=used, made=Made("0.0.9", (("A", "straw"), ("B", "reed"))))
    again = parse_plan(plan_to_toml(plan).encode())
    assert again == plan
    by_hand = b'[[used]]\nswatch = "straw"\ndate = "2026-05-02"\nbatch = 17\n'
    (one,) = parse_plan(by_hand).used
    assert (one.date, one.batch) == ("2026-05-02", "17")
    with pytest.raises(PlanError, match="unknown key"):
        parse_plan(b'[[used]]\nswatch = "straw"\ncolour = "red"\n')
    with pytest.raises(PlanError, match="needs a swatch"):
        parse_plan(b'[[used]]\nbatch = "7"\n')


def test_the_finish_keeps_both_and_the_schedule_tells():
    used = (UsedPaint("straw", "17 B", "", "May", "warmer"),)
    plan = Plan(palette_data=HALL.decode(), rules=PLAIN, used=used)
    done = colour_drawing(SQUARES, plan, name="squares.svg")
    kept = parse_plan(done.plan_toml().encode())
    assert kept.used == used
    names = {s.name for s in done.palette.swatches}
    assert {s for _, s in kept.made.swatches} <= names
    assert {k for k, _ in kept.made.swatches} == {o.letter for o in done.orbits.orbits}
    assert "straw: batch 17 B, May, warmer" in done.schedule_text()


def test_another_version_that_chose_otherwise_is_told():
    plan = Plan(palette_data=HALL.decode(), rules=PLAIN)
    done = colour_drawing(SQUARES, plan, name="squares.svg")
    letter, now = done.plan.made.swatches[0]
    other = next(s.name for s in done.palette.swatches if s.name != now)
    old = replace(plan, made=Made("0.0.1", ((letter, other),)))
    notes = [
        n for n in colour_drawing(SQUARES, old).notes if n.type == "made otherwise"
    ]
    assert len(notes) == 1
    assert "--as-made" in notes[0].remedy
    assert not [n for n in done.notes if n.type == "made otherwise"]


def test_as_made_pins_what_was(tmp_path):
    drawing = tmp_path / "squares.svg"
    drawing.write_bytes(SQUARES)
    palette = tmp_path / "hall.toml"
    palette.write_bytes(HALL)
    run = CliRunner().invoke
    out = tmp_path / "out"
    command = ["colour", str(drawing), "--palette", str(palette), "--quiet"]
    command += ["--png-width", "32", "--out"]
    assert run(main, [*command, str(out)]).exit_code == 0
    plan = parse_plan((out / "plan.toml").read_bytes())
    others = ["reed", "chalk", "midnight", "straw"]
    changed = tuple(
        (k, next(n for n in others if n != s)) for k, s in plan.made.swatches
    )
    old = tmp_path / "old.toml"
    old.write_text(plan_to_toml(replace(plan, made=Made("0.0.1", changed))))
    again = [*command, str(tmp_path / "o2"), "--plan", str(old), "--as-made"]
    result = run(main, again)
    assert result.exit_code == 0, result.output
    made_now = parse_plan((tmp_path / "o2" / "plan.toml").read_bytes()).made
    assert made_now.swatches == changed


def test_a_circle_takes_its_share_of_each_region():
    squares = board(4, 4, 10.0)
    orbits = orbits_of(squares, [0] * 16)
    patch = find_patch(squares, orbits, "@20,20 r=50mm", 10.0)
    # radius 5 mm on the drawing, about a corner: a quarter circle of each
    assert np.count_nonzero(patch.face_share) == 4
    area = patch.face_share * np.abs(squares.area)
    assert area.sum() == pytest.approx(math.pi * 25, rel=1e-3)
    palette = made([0, 1, 2, 3])[1]
    colouring, _ = colour_board(squares, orbits, palette, [0])
    areas = measure_areas(squares, orbits, colouring, patch=patch)
    # four radii of edge
    assert areas.outline == pytest.approx(20, rel=1e-3)
    assert areas.total == pytest.approx(math.pi * 25, rel=1e-3)


def test_a_circle_on_curves():
    ring = (
        b'<svg width="100mm" height="100mm" viewBox="0 0 100 100"><g fill="none" '
        b'stroke="black"><circle cx="50" cy="50" r="45"/></g></svg>'
    )
    done = colour_drawing(ring)
    patch = find_patch(done.arrangement, done.orbits, "@50,50 r=20", 1.0)
    assert patch.face_share[1] == pytest.approx(400 / 2025, rel=2e-3)


def test_a_repair_is_billed_and_told_alone():
    rules = Rules(bare=("linen",))
    settings = PaintSettings(patch="@30,20 r=100mm", under="midnight")
    whole, _, _ = made([0, 1, 2, 4], replace(settings, patch=""), rules)
    part, _, _ = made([0, 1, 2, 4], settings, rules)
    # r 100 mm of the panel are 5 mm on the drawing: four quarter circles
    quarter = math.pi * 100**2 / 4
    real = {q.swatch: q.area_real for q in part.quantities}
    assert real[1] == pytest.approx(quarter, rel=1e-3)
    assert real[0] == pytest.approx(3 * quarter, rel=1e-3)
    assert part.steps[0].kind == "clean"
    assert "within 100 mm of (30, 20)" in part.steps[0].text
    assert not any("whole panel" in s.text for s in part.steps)
    volume = {q.swatch: q.volume for q in whole.quantities}
    assert part.quantities[1].volume < volume[1]


def test_a_repair_of_a_kind():
    part, _, _ = made([0, 1, 2, 3], PaintSettings(patch="B"))
    assert [q.swatch for q in part.quantities] == [1]
    # six squares of 200 mm
    assert part.quantities[0].area_real == pytest.approx(6 * 200**2)
    # another kind of the same paint, which the repair does not reach, is not named
    part, _, _ = made([1, 1, 2, 3], PaintSettings(patch="B"))
    assert {row for step in part.steps for row in step.orbits} == {1}
    with pytest.raises(PlanError, match="no kind “Q”"):
        made([0, 1, 2, 3], PaintSettings(patch="Q"))


@pytest.mark.parametrize("text", ["@1,2", "@a,b r=3", "@1,2 r=-3mm", "@1,2 r=0"])
def test_patches_that_are_none(text):
    with pytest.raises(PlanError, match="patch"):
        made([0, 1, 2, 3], PaintSettings(patch=text))


def test_a_patch_outside_and_on_a_larger_panel():
    with pytest.raises(PlanError, match="meets no region"):
        made([0, 1, 2, 3], PaintSettings(patch="@900,900 r=5mm"))
    settings = PaintSettings(patch="B", panel=(900.0, 900.0))
    with pytest.raises(PlanError, match="patch is part of the drawing"):
        made([0, 1, 2, 3], settings)


def test_a_repair_has_a_sheet_of_its_own():
    plan = Plan(scale=2.0, paint=PaintSettings(patch="@20,20 r=20mm"))
    done = colour_drawing(SQUARES, plan, name="s.svg")
    # one page, and not the whole drawing, unless more is asked for
    (page,) = done.sheet_scenes()
    assert page.name == "repair-x1"
    text = " ".join(getattr(i, "text", "") for i in page.items)
    assert "within 20.0 mm of (20, 20)" in text
    assert "Real size" in text
    (drawn,) = [i for i in page.items if isinstance(i, Placed)]
    # a radius of 20 mm and three tenths more are 52 mm across, at true size
    assert np.subtract(drawn.clip[2:], drawn.clip[:2]) == pytest.approx([52, 52])
    # the key of a patch inside one square has that square's paint alone
    apart = Plan(scale=2.0, match="none", paint=PaintSettings(patch="@5,5 r=4mm"))
    done = colour_drawing(SQUARES, apart, name="s.svg")
    assert len(set(done.colouring.of_face[1:].tolist())) > 1
    (page,) = done.sheet_scenes()
    told = {getattr(i, "text", "") for i in page.items}
    mine = {
        s.code
        for k, s in enumerate(done.schedule.swatches)
        if k in done.colouring.of_face[done.schedule.mended.face_share > 0]
    }
    assert told & {s.code for s in done.schedule.swatches} == mine
    assert len(mine) == 1
    # nor that of a frame round the patch
    nested = (
        b'<svg width="40mm" height="40mm" viewBox="0 0 40 40"><path fill="none" '
        b'stroke="black" d="M0 0H40V40H0ZM4 4H36V36H4ZM4 20H36"/></svg>'
    )
    inner = Plan(paint=PaintSettings(patch="@12,12 r=3mm"))
    framed = colour_drawing(nested, inner, name="n.svg")
    (page,) = framed.sheet_scenes()
    told = {getattr(i, "text", "") for i in page.items}
    there = framed.colouring.of_face[framed.schedule.mended.face_share > 0].tolist()
    swatches = framed.schedule.swatches
    assert told & {s.code for s in swatches} == {swatches[k].code for k in set(there)}
    # its steps show that square and leave the others as they are
    steps = replace(apart, sheets=SheetSettings(sheets=("steps",)))
    for page in colour_drawing(SQUARES, steps, name="s.svg").sheet_scenes():
        drawn = next(i for i in page.items if isinstance(i, Placed) and i.alt)
        tints = [
            fill.rows.tolist()
            for inner in drawn.picture.items
            if isinstance(inner, Placed)
            for fill in inner.picture.items
            if isinstance(fill, Fills)
        ]
        assert {row for rows in tints for row in rows} == {
            int(np.flatnonzero(done.schedule.mended.face_share > 0)[0])
        }
    kind = replace(plan, paint=PaintSettings(patch="A"))
    (page,) = colour_drawing(SQUARES, kind, name="s.svg").sheet_scenes()
    assert page.name == "repair-x1"
    # the kind's regions are tinted under the lines, a circle's round inside is too
    for shown, rows in ((page, None), (framed.sheet_scenes()[0], [0])):
        frame = next(i for i in shown.items if isinstance(i, Placed) and i.alt)
        tinted = [
            fill.rows.tolist()
            for inner in frame.picture.items
            if isinstance(inner, Placed)
            for fill in inner.picture.items
            if isinstance(fill, Fills)
        ]
        if rows is None:
            orbits = colour_drawing(SQUARES, kind, name="s.svg").survey.orbits
            rows = orbits.orbits[0].faces.tolist()
        assert tinted == [rows]
    wanted = SheetSettings(sheets=("repair",))
    with pytest.raises(PlanError, match="no patch"):
        colour_drawing(SQUARES, Plan(sheets=wanted), name="s.svg").sheet_scenes()


def test_a_repair_prints_itself_and_its_own_lines(tmp_path):
    whole = Plan(scale=2.0, sheets=SheetSettings(sheets=("numbered", "masks")))
    (file := tmp_path / "plan.toml").write_text(plan_to_toml(whole), "utf-8")
    wishes = {"plan_file": str(file), "patch": "@20,20 r=20mm", "outline": "#202020"}
    plan = plan_from(wishes)
    assert plan.sheets.sheets == ("repair", "steps")
    done = colour_drawing(SQUARES, plan, name="s.svg")
    page = next(p for p in done.sheet_scenes() if "outlines" in p.title)
    paths = [
        len(item.start) - 1
        for placed in page.items
        if isinstance(placed, Placed)
        for inner in placed.picture.items
        if isinstance(inner, Placed)
        for item in inner.picture.items
        if getattr(item, "colour", "") == "#202020"
    ]
    near = done.schedule.mended.edge_share > 0
    assert 0 < max(paths) <= near.sum() < len(near)


def test_leaf_of_a_repair():
    plan = Plan(palette_data=GOLD, rules=Rules(pins=()), scale=10.0)
    plan = replace(plan, rules=replace(plan.rules, shares=(("gold", 1.0),)))
    whole = colour_drawing(SQUARES, plan, name="s.svg").schedule
    small = replace(plan, paint=PaintSettings(patch="@5,5 r=30mm"))
    part = colour_drawing(SQUARES, small, name="s.svg").schedule
    leaves = [sum(p.laid for p in s.leafing) for s in (whole, part)]
    # a circle of 60 mm and its lap are one leaf
    assert leaves[1] == 1 < leaves[0]


def test_another_drawings_files_are_not_replaced(tmp_path):
    small = Plan(png_width=32)
    first = colour_drawing(SQUARES, small, name="first.svg")
    other = SQUARES.replace(b"V40", b"V39")
    second = colour_drawing(other, small, name="second.svg")
    first.write(tmp_path)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    with pytest.raises(RenderError, match=r"made from first\.svg, not from second"):
        second.write(tmp_path)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before
    # force is force
    second.write(tmp_path, force=True)
    report = json.loads((tmp_path / "report.json").read_bytes())
    assert report["drawing"]["file"] == "second.svg"
