import csv
import io

import numpy as np
import pytest

from fillwork.colouring.model import Rules
from fillwork.colouring.palettes.file import (
    list_palettes,
    palette_to_toml,
    parse_palette,
    read_palette,
)
from fillwork.errors import PlanError
from fillwork.pipeline.demo import demo_drawing
from fillwork.pipeline.job import colour_drawing
from fillwork.plans.model import PaintSettings, Plan
from fillwork.plans.schedule import make_schedule
from fillwork.plans.schedule_csv import schedule_csv
from fillwork.plans.schedule_rows import rows_of
from fillwork.plans.schedule_text import schedule_text
from tests.unit.plans.boards import board, colour_board, orbits_of

KINDS = [(x % 2) + 2 * (y % 2) for y in range(4) for x in range(6)]


def made(
    name="quiet-earth", swatches=(0, 1, 2, 8), settings=None, rules=None, **options
):
    palette = read_palette(name) if isinstance(name, str) else name
    squares = board(6, 4, 10.0)
    orbits = orbits_of(squares, KINDS, **options.pop("symmetry", {}))
    colouring, adjacency = colour_board(
        squares,
        orbits,
        palette,
        list(swatches),
        rules,
        ground=options.pop("ground", None),
    )
    schedule = make_schedule(
        squares,
        orbits,
        adjacency,
        colouring,
        settings or PaintSettings(),
        **{"real_scale": 1.0, "scale_known": True, **options},
    )
    return schedule, palette, orbits


def test_tools_in_hand_are_named_once():
    schedule, palette, orbits = made()
    fills = [step for step in schedule.steps if step.kind == "fill"]
    assert len(fills) > 2
    assert len({step.needs for step in fills}) == 1
    told = f"With: {', '.join(fills[0].needs)}."
    assert schedule_text(schedule, palette, orbits).count(told) == 1


def test_areas_add_up():
    schedule, _, _ = made(real_scale=3.0)
    assert sum(q.area_drawn for q in schedule.quantities) == pytest.approx(2400)
    assert sum(q.area_real for q in schedule.quantities) == pytest.approx(2400 * 9)
    assert sum(q.faces for q in schedule.quantities) == 24


def test_text_has_all_parts():
    for name in list_palettes():
        schedule, palette, orbits = made(name, range(4))
        text = schedule_text(schedule, palette, orbits)
        for part in ("TO BUY", "FACTORS", "ORDER", "CAUTIONS", "[ ]", "Why: "):
            assert part in text, (name, part)
        for q in schedule.quantities:
            assert palette.swatches[q.swatch].name in text
        body = text.split("ORDER")[1]
        assert all(len(line) <= 100 for line in body.splitlines()), name
        assert "  1. " in text
    assert "common practice" in text


def test_leaf_has_leaves_and_no_coats():
    schedule, palette, orbits = made("gilded-ceiling", (0, 2, 5, 1))
    lines = schedule_text(schedule, palette, orbits).splitlines()
    head = next(line for line in lines if "Coats" in line)
    row = {
        name: next(line for line in lines if line.startswith("[ ]") and name in line)
        for name in ("night blue", "gold leaf")
    }
    coats = slice(head.index("Coats"), head.index("Coats") + 5)
    assert row["night blue"][coats].strip() == str(schedule.quantities[0].coats)
    assert not row["gold leaf"][coats].strip()
    assert "leaves" in row["gold leaf"]


def test_numbers_are_flush_right():
    schedule, palette, orbits = made(real_scale=5.0)
    text = schedule_text(schedule, palette, orbits)
    rows = [line for line in text.splitlines() if line.startswith("[ ]  ")][:4]
    ends = {line.index("cm²") if "cm²" in line else line.index("m²") for line in rows}
    assert len(ends) == 1


@pytest.mark.parametrize("price", ["", 'price = {"1 L" = 9}'])
def test_prices_have_a_column_where_there_are_any(price):
    data = f"[[paint]]\nname='a'\ncolour='#fff'\nmedium='acrylic'\n{price}\n"
    palette = parse_palette(data.encode(), "p.toml")
    schedule, palette, orbits = made(palette, (0, 0, 0, 0))
    head = schedule_text(schedule, palette, orbits).partition("Coats")[2].split("\n")
    assert head[0].split() == ["Need", "Buy", *(["Price"] if price else [])]


def test_unknown_scale_is_said():
    schedule, palette, orbits = made(scale_known=False)
    assert "--real-width" in schedule_text(schedule, palette, orbits)
    assert not schedule.scale_known


def test_csv_reads_back():
    schedule, palette, orbits = made("gilded-ceiling", (0, 2, 5, 8))
    rows = list(csv.DictReader(io.StringIO(schedule_csv(schedule, palette, orbits))))
    assert len(rows) == len(schedule.quantities) + len(schedule.extras)
    gold = next(r for r in rows if r["paint"] == "gold leaf")
    assert gold["leaves"] == str(schedule.quantities[1].leaves)
    assert gold["kinds"] == "B"
    assert sum(float(r["area_drawn_mm2"]) for r in rows[:4]) == pytest.approx(2400)


def test_outline_primer_and_varnish():
    plain, _, _ = made("salt-desert", range(4), real_scale=2.0)
    # nobody asked for an outline, so none is painted and none is bought
    assert len(plain.extras) == 2
    assert not any("outline" in s.text for s in plain.steps)
    asked = Rules(outline="#1d1a17")
    schedule, _, _ = made("salt-desert", range(4), rules=asked, real_scale=2.0)
    assert len(schedule.extras) == 3
    line, primer, varnish = schedule.extras
    # 7 x 4 + 6 x 5 sides of 10 mm, at scale 2
    assert line.edge == pytest.approx(2 * 10 * (7 * 4 + 6 * 5))
    assert line.area_real == pytest.approx(line.edge * 2 * 10 / 30)
    assert primer.area_real == varnish.area_real == pytest.approx(2400 * 4)
    assert schedule.steps[0].swatch is None
    none, _, _ = made("salt-desert", range(4), rules=Rules(outline="none"))
    assert len(none.extras) == 2
    own, _, _ = made(
        "salt-desert", range(4), rules=Rules(outline="night violet", outline_width=1.0)
    )
    assert own.extras[0].swatch == 7
    assert own.extras[0].area_real == pytest.approx(own.extras[0].edge)


@pytest.mark.parametrize(
    ("width", "told"), [(None, ("0.667 mm", "default")), (0.5, ("1.00 mm", "plan"))]
)
def test_the_line_is_told_with_its_length_and_width(width, told):
    rules = Rules(outline="#1d1a17", outline_width=width)
    schedule, _, _ = made("salt-desert", range(4), rules=rules, real_scale=2.0)
    # 58 sides of 10 mm at twice the size; no width wished: a thirtieth of a side
    length = ("length", "1.16 m", "drawing")
    assert schedule.extras[0].factors[:2] == (length, ("width", *told))


def test_bare_is_counted_not_bought():
    schedule, palette, orbits = made(rules=Rules(bare=("Straw",)))
    straw = schedule.quantities[1]
    assert straw.bare
    assert straw.volume is None
    assert straw.area_real == pytest.approx(600)
    assert "leave bare" in schedule_text(schedule, palette, orbits)
    paper, _, _ = made("two-inks", range(4))
    assert paper.quantities[0].bare


def test_panel_by_repeats():
    # the cell of 20 x 20 mm holds one square of each kind
    settings = PaintSettings(panel=(2000.0, 1000.0))
    schedule, _, _ = made(settings=settings)
    assert [q.faces for q in schedule.quantities] == [5000] * 4
    assert sum(q.area_real for q in schedule.quantities) == pytest.approx(2e6)
    assert sum(q.area_drawn for q in schedule.quantities) == pytest.approx(2400)
    assert schedule.notes == ()
    scaled, _, _ = made(settings=settings, real_scale=2.0)
    assert [q.faces for q in scaled.quantities] == [1250] * 4
    assert sum(q.area_real for q in scaled.quantities) == pytest.approx(2e6)


def test_panel_of_a_half_seen_cell_goes_by_area():
    settings = PaintSettings(panel=(2000.0, 1000.0))
    schedule, _, _ = made(settings=settings, symmetry={"cell": 30.0})
    assert [n.type for n in schedule.notes] == ["scaled by area"]
    assert sum(q.area_real for q in schedule.quantities) == pytest.approx(2e6)


@pytest.mark.parametrize("name", ["warm-room-ceiling", "cloakroom-door"])
def test_panel_counts_the_same_regions_whatever_matches(name):
    # how regions are sorted into kinds changes no count and no area on the panel
    panel = PaintSettings(panel=(3000.0, 2000.0))
    counts = {}
    for match in ("all", "turns", "shifts", "none"):
        plan = Plan(match=match, paint=panel)
        finish = colour_drawing(demo_drawing(name), plan, name=f"{name}.svg")
        quantities = finish.schedule.quantities
        assert sum(q.area_real for q in quantities) == pytest.approx(6e6, rel=0.01)
        counts[match] = sum(q.faces for q in quantities)
        notes = [n for n in finish.schedule.notes if n.type == "scaled by area"]
        if match == "none":
            (note,) = notes
            assert "--match none" in note.text
            assert "--match none" in note.remedy
        else:
            assert notes == []
    assert counts["turns"] == pytest.approx(counts["all"], abs=10)
    assert counts["shifts"] == pytest.approx(counts["all"], abs=10)


def test_a_tiny_drawing_keeps_its_figures():
    # squares of 0.01 mm: 600 of them would make 0.06 mm²
    schedule, palette, orbits = made(real_scale=0.001)
    text = schedule_text(schedule, palette, orbits)
    assert "0.000600 mm²" in text
    assert " 0.000 mm" not in text
    rows = list(csv.DictReader(io.StringIO(schedule_csv(schedule, palette, orbits))))
    assert sum(float(r["area_real_mm2"]) for r in rows[:4]) == pytest.approx(0.0024)
    # and one container of each paint, however little of it is needed
    assert [sum(n for _, n in q.containers) for q in schedule.quantities] == [1] * 4


@pytest.mark.parametrize("family", ["rosette", "frieze", "none"])
def test_panel_needs_a_plane_pattern(family):
    settings = PaintSettings(panel=(2000.0, 1000.0))
    with pytest.raises(PlanError, match="plane pattern"):
        made(settings=settings, symmetry={"family": family})


@pytest.mark.parametrize("panel", [(0.0, 1.0), (1.0, -1.0), (np.nan, 1.0)])
def test_panels_that_make_no_sense(panel):
    with pytest.raises(PlanError, match="panel"):
        made(settings=PaintSettings(panel=panel))


def test_zero_coats():
    with pytest.raises(PlanError, match="0 coats"):
        made(settings=PaintSettings(coats=0))


def test_mixes_and_what_they_use():
    on_hand = palette_to_toml(read_palette("quiet-earth")).encode()
    schedule, palette, orbits = made(on_hand=on_hand)
    assert [m[0] for m in schedule.mixes] == [0, 1, 2, 8]
    assert all("starting point" in m[3] for m in schedule.mixes)
    need = sum(q.volume for q in schedule.quantities)
    assert sum(v for _, v in schedule.bought) == pytest.approx(need)
    text = schedule_text(schedule, palette, orbits)
    assert "Paints on hand" in text
    # each is there as it is: nothing is mixed, and nothing is said of mixing
    assert "Kubelka-Munk" not in text
    assert "Mix each" not in text
    assert not [n for n in schedule.notes if n.type == "strength not known"]
    told = {row.buy_words for row in rows_of(schedule, palette) if row.own}
    assert told == {"on hand"}


def test_true_mixes_are_told():
    on_hand = b"".join(
        f"[[paint]]\nname='{n}'\ncolour='{c}'\nmedium='gouache'\n".encode()
        for n, c in (("white", "#fafafa"), ("red", "#a03020"), ("ochre", "#b08030"))
    )
    schedule, palette, orbits = made(on_hand=on_hand)
    text = schedule_text(schedule, palette, orbits)
    assert "Kubelka-Munk" in text
    assert "Mix each" in text
    (note,) = [n for n in schedule.notes if n.type == "strength not known"]
    assert "white" not in note.text  # strengths count from it


def test_cautions_of_paints_on_hand_are_told_too():
    on_hand = b"[[paint]]\nname='sun'\ncolour='#f0c030'\npigments=['PY35']\n"
    schedule, _, _ = made(on_hand=on_hand)
    assert any(c.startswith("sun: cadmium") for c in schedule.cautions)


def test_needs_are_rounded_up():
    schedule, palette, orbits = made(real_scale=60.0)
    assert schedule.quantities[0].volume == pytest.approx(600 * 3600 * 2 * 1.15e-4)
    assert "  500 mL  " in schedule_text(schedule, palette, orbits)


def test_margin_goes_to_the_ground():
    palette = read_palette("quiet-earth")
    squares = board(2, 2, 10.0, page=(40.0, 40.0))
    orbits = orbits_of(squares, [0, 1, 1, 0])
    colouring, adjacency = colour_board(squares, orbits, palette, [0, 8], ground=0)
    schedule = make_schedule(
        squares,
        orbits,
        adjacency,
        colouring,
        PaintSettings(),
        real_scale=1.0,
        scale_known=True,
    )
    assert schedule.quantities[0].area_real == pytest.approx(200 + 1600 - 400)


def test_nothing_from_a_palette_is_run_by_a_spreadsheet():
    palette = parse_palette(
        (
            'currency = "=money"\n[[paint]]\nname = "+cmd"\ncolour = "red"\n'
            'code = "-7"\nmedium = "@oil"\npigments = ["=1+1"]\n'
            'price = {"250 mL" = 4}\n'
            '[[paint]]\nname = "＝2+2"\ncolour = "navy"\n'
        ).encode(),
        "p.toml",
    )
    schedule, palette, orbits = made(palette, (0, 1, 0, 1))
    rows = list(csv.DictReader(io.StringIO(schedule_csv(schedule, palette, orbits))))
    told = [rows[0][k] for k in ("number", "paint", "medium", "pigments", "currency")]
    assert told == ["'-7", "'+cmd", "'@oil", "'=1+1", "'=money"]
    assert rows[1]["paint"] == "'＝2+2"
    cells = [cell for row in rows for cell in row.values()]
    assert not [cell for cell in cells if cell[:1] in "+-@=＝\t\r\n" and cell]
