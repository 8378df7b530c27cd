"""Order and materials as a workshop wants them: bare, under, white, tins, clashes.

Rules of the trade here are common practice, no source; sums are by hand.
"""

import csv
import io
import math
import re

import pytest

from fillwork.colouring.model import Pin, Rules
from fillwork.colouring.palettes.file import palette_to_toml, parse_palette
from fillwork.errors import PaletteError, PlanError
from fillwork.pipeline.job import colour_drawing
from fillwork.plans.areas import measure_areas
from fillwork.plans.media import find_clashes
from fillwork.plans.model import PaintSettings, Plan, SheetSettings
from fillwork.plans.schedule import make_schedule
from fillwork.plans.schedule_csv import schedule_csv
from fillwork.plans.schedule_text import schedule_text
from fillwork.plans.words import need_text, three
from fillwork.renderers.sheets.schedule_page import compose_schedule
from tests.unit.plans.boards import board, colour_board, orbits_of

# invented paints
HALL = b"""
currency = "crowns"
medium = "acrylic"
[[paint]]
name = "midnight"
colour = "#1b2440"
opacity = "opaque"
role = "ground"
[[paint]]
name = "straw"
colour = "#e7cf86"
opacity = "semi-transparent"
price = {"60 mL" = 4, "250 mL" = 13}
[[paint]]
name = "reed"
colour = "#6f9a6b"
opacity = "semi-opaque"
[[paint]]
name = "chalk"
colour = "#f4f1e8"
opacity = "opaque"
[[paint]]
name = "linen"
colour = "#e8e2d0"
medium = "bare"
"""
KINDS = [(x % 2) + 2 * (y % 2) for y in range(4) for x in range(6)]


def made(swatches, settings=None, rules=None, *, data=HALL, scale=20.0, **options):
    palette = parse_palette(data, "hall.toml")
    squares = board(6, 4, 10.0)
    orbits = orbits_of(squares, KINDS)
    ground = options.pop("ground", None)
    colouring, adjacency = colour_board(
        squares, orbits, palette, swatches, rules, ground=ground
    )
    schedule = make_schedule(
        squares,
        orbits,
        adjacency,
        colouring,
        settings or PaintSettings(),
        real_scale=scale,
        scale_known=True,
        **options,
    )
    return schedule, palette, orbits


def row(schedule, name):
    names = [s.name for s in schedule.swatches]
    return next(q for q in schedule.quantities if names[q.swatch] == name)


def extra(schedule, name):
    place = schedule.extra_names.index(name)
    return schedule.extras[place]


# 24 squares of 10 mm at 1 : 20 are 24 x 200 x 200 = 960,000 mm²; a kind has 240,000


def test_bare_is_neither_primed_nor_painted_nor_varnished():
    schedule, palette, orbits = made([0, 1, 2, 4], PaintSettings(under="midnight"))
    assert extra(schedule, "acrylic primer, what is painted").area_real == (
        pytest.approx(720_000)
    )
    assert extra(schedule, "acrylic varnish, what is painted").area_real == (
        pytest.approx(720_000)
    )
    assert row(schedule, "midnight").area_real == pytest.approx(720_000)
    leave, prime, under = schedule.steps[:3]
    assert "Leave linen unpainted" in leave.text
    assert "not linen" in prime.text
    assert "not linen" in under.text
    assert "not linen" in schedule.steps[-1].text
    assert "whole panel" not in schedule_text(schedule, palette, orbits)


def test_without_bare_the_whole_panel_is_primed():
    schedule, _, _ = made([0, 1, 2, 3])
    assert extra(schedule, "acrylic primer, whole panel").area_real == (
        pytest.approx(960_000)
    )


def test_primer_and_varnish_are_as_wished():
    settings = PaintSettings(primer="shellac", varnish="none")
    schedule, _, _ = made([0, 1, 2, 3], settings)
    assert schedule.extra_names == ("shellac, whole panel",)
    assert "shellac" in schedule.steps[0].text
    assert not any("arnish" in s.text for s in schedule.steps)


def test_white_under_what_lets_a_dark_ground_through():
    schedule, palette, orbits = made([0, 1, 2, 3], PaintSettings(under="midnight"))
    assert row(schedule, "midnight").area_real == pytest.approx(960_000)
    white = extra(schedule, "under straw: chalk")
    assert white.area_real == pytest.approx(240_000)
    # 0.24 m² x 1 coat x 1.15 / 6.5 m²/L
    assert white.volume == pytest.approx(0.24 * 1.15 / 6.5 * 1000)
    texts = [s.text for s in schedule.steps]
    first = next(i for i, t in enumerate(texts) if "straw regions with chalk" in t)
    then = next(i for i, t in enumerate(texts) if t.startswith("Paint straw"))
    assert first == then - 1
    assert "semi-transparent" in schedule.steps[first].reason
    (tin,) = [b for b in schedule.buys if b.name == "chalk"]
    assert tin.need == pytest.approx(row(schedule, "chalk").volume + white.volume)
    assert "under straw: chalk" in schedule_text(schedule, palette, orbits)
    # over nothing dark, straw needs no white
    plain, _, _ = made([0, 1, 2, 3])
    assert not any(n.startswith("under") for n in plain.extra_names)


def test_coats_by_opacity_by_paint_and_by_plan():
    def coats(**settings):
        schedule, _, _ = made([0, 1, 2, 3], PaintSettings(**settings))
        return [q.coats for q in schedule.quantities]

    assert coats() == [2, 3, 3, 2]
    # a semi-opaque paint wants one more over a darker ground
    assert coats(under="midnight") == [2, 3, 4, 2]
    assert coats(coats=1) == [1, 1, 1, 1]
    assert coats(coats=1, coats_of=(("reed", 5),)) == [1, 1, 5, 1]
    own = HALL.replace(b'"semi-opaque"', b'"semi-opaque"\ncoats = 6')
    schedule, _, _ = made([0, 1, 2, 3], data=own)
    assert [q.coats for q in schedule.quantities] == [2, 3, 6, 2]


def test_unknown_paints_are_refused():
    with pytest.raises(PlanError, match="“mud” is no paint"):
        made([0, 1, 2, 3], PaintSettings(under="mud"))
    with pytest.raises(PlanError, match="“mud” is no paint"):
        made([0, 1, 2, 3], PaintSettings(coats_of=(("mud", 2),)))


def test_outline_and_fill_of_one_paint_are_one_tin():
    rules = Rules(outline="chalk", outline_width=1.0)
    schedule, palette, orbits = made([0, 1, 2, 3], rules=rules)
    line = extra(schedule, "outline: chalk")
    # 7 x 4 + 6 x 5 sides of 10 mm, at scale 20, 20 mm wide
    assert line.area_real == pytest.approx(10 * 58 * 20 * 20)
    assert line.containers == ()
    (tin,) = [b for b in schedule.buys if b.name == "chalk"]
    fill = row(schedule, "chalk")
    assert tin.need == pytest.approx(fill.volume + line.volume)
    assert sum(s * n for s, n in fill.containers) >= tin.need
    text = schedule_text(schedule, palette, orbits)
    assert "for regions and outline" in text
    assert "same tin" in text


def test_outline_is_in_the_sum_of_the_paints_on_hand():
    on_hand = palette_to_toml(parse_palette(HALL, "hall.toml")).encode()
    on_hand = on_hand.replace(b'medium = "bare"', b'medium = "acrylic"')
    rules = Rules(outline="chalk", outline_width=1.0)
    schedule, _, _ = made([0, 1, 2, 0], rules=rules, on_hand=on_hand)
    bought = dict(schedule.bought)
    assert bought["chalk"] == pytest.approx(extra(schedule, "outline: chalk").volume)


def test_the_outlines_paint_fills_nothing_unless_asked():
    lines = "".join(f'<path d="M{k} 0V40M0 {k}H40"/>' for k in range(0, 41, 10))
    data = (
        '<svg width="40mm" height="40mm" viewBox="0 0 40 40"><g fill="none" '
        f'stroke="black">{lines}</g></svg>'
    ).encode()
    paints = HALL.decode().replace('medium = "bare"', 'medium = "acrylic"')
    # the palette without chalk has too little contrast for the goal
    rules = Rules(outline="chalk", goal_difference=95.0)
    plan = Plan(palette_data=paints, rules=rules, match="none")
    used = set(colour_drawing(data, plan).colouring.of_face[1:].tolist())
    assert 3 not in used
    pinned = Rules(outline="chalk", pins=(Pin("@5,5", "chalk"),))
    plan = Plan(palette_data=paints, rules=pinned, match="none")
    assert 3 in set(colour_drawing(data, plan).colouring.of_face[1:].tolist())


def test_a_gilded_line_alone_has_its_leaf_and_books_in_its_row():
    # 20 m of line 3 mm wide: strips of 9 mm, 77 mm of each seen, 8 from a leaf
    data = (
        HALL
        + b"""[[paint]]
name = "gold"
colour = "#d4a73c"
medium = "leaf"
price = {book = 38}
"""
    )
    schedule, palette, orbits = made(
        [0, 1, 2, 3],
        rules=Rules(outline="gold", outline_width=0.15),
        data=data,
    )
    (gold,) = [b for b in schedule.buys if b.name == "gold"]
    line = next(q for q in schedule.extras if q.leaves)
    strips = math.ceil(line.edge / 77)
    needed = math.ceil(math.ceil(strips / 8) * 1.12)
    assert line.leaves == needed
    books = math.ceil(needed / 25)
    rows = csv.DictReader(io.StringIO(schedule_csv(schedule, palette, orbits)))
    (told,) = [r for r in rows if r["paint"] == "outline: gold"]
    assert told["buy"] == f"{books} book{'s' * (books > 1)} of 25"
    assert told["price"] == f"{38 * books:.2f}"
    assert gold.cost == pytest.approx(38 * books)
    text = schedule_text(schedule, palette, orbits)
    (shop,) = [t for t in text.splitlines() if "outline: gold  " in t]
    assert shop.startswith("[ ]")
    assert f"{needed} leaves" in shop


@pytest.mark.parametrize("medium", ["leaf", "tile", "thread", "marker", "bare"])
def test_what_is_no_paint_goes_under_nothing(medium):
    data = HALL + b"[[paint]]\nname='gold'\ncolour='#d4a73c'\n"
    data += f"medium='{medium}'\n".encode()
    with pytest.raises(PlanError, match=f"gold is {medium}") as refused:
        made([0, 1, 2, 5], PaintSettings(under="gold"), data=data)
    assert "--under" in refused.value.mend


def test_a_far_mix_is_refused_and_said():
    on_hand = b"[[paint]]\nname='soot'\ncolour='#1b2440'\nmedium='oil'\n"
    schedule, palette, orbits = made([0, 1, 2, 0], on_hand=on_hand)
    assert [m[0] for m in schedule.mixes] == [0]
    assert [r[0] for r in schedule.refused] == [1, 2]
    assert all(r[2] > 5 for r in schedule.refused)
    text = schedule_text(schedule, palette, orbits)
    assert "straw: no mix" in text
    assert "cannot be mixed" in " ".join(n.text for n in schedule.notes)
    assert row(schedule, "straw").containers != ()
    # what is mixed has the medium of its parts, and is not bought
    assert schedule.swatches[0].medium == "oil"
    assert row(schedule, "midnight").containers == ()


def test_opacity_of_a_mix_comes_from_its_parts():
    from fillwork.plans.mixing import Recipe, as_mixed, parse_paints

    paints = parse_paints(
        b"[[paint]]\nname='a'\ncolour='#ffffff'\nopacity='opaque'\nmedium='oil'\n"
        b"[[paint]]\nname='b'\ncolour='#880000'\nopacity='transparent'\nmedium='oil'\n",
        "p.toml",
    ).paints
    swatch = parse_palette(HALL, "hall.toml").swatches[1]

    def mixed(a, b):
        return as_mixed(swatch, Recipe(((paints[0], a), (paints[1], b)), 1.0, "#fff"))

    assert mixed(3, 1).opacity == "semi-opaque"
    assert mixed(1, 3).opacity == "semi-transparent"
    assert mixed(9, 1).opacity == "opaque"
    assert mixed(1, 1).medium == "oil"


def test_what_a_mix_covers_comes_from_its_parts():
    from fillwork.plans.mixing import Recipe, as_mixed, parse_paints

    paints = parse_paints(
        b"[[paint]]\nname='a'\ncolour='#ffffff'\ncoverage=10\n"
        b"[[paint]]\nname='b'\ncolour='#880000'\ncoverage=5\n",
        "p.toml",
    ).paints
    swatch = parse_palette(HALL, "hall.toml").swatches[1]
    three = as_mixed(swatch, Recipe(((paints[1], 3), (paints[0], 1)), 1.0, "#fff"))
    # a quarter of 0.1 L and three of 0.2 L make 0.175 L a m²
    assert three.coverage == pytest.approx(1 / 0.175)


def test_film_is_bought_for_what_stays_bare_and_paper_for_all():
    from fillwork.plans.buying import list_materials
    from fillwork.plans.model import Step

    needs = ("masking film", "tracing paper", "oil size", "knife")
    steps = [Step(1, None, (), "", "", "bare", needs=needs)]
    found = list_materials(steps, painted=6e6, bare=1e6, gilt=2e6, spare=0.1)
    # 2 m² of leaf and a tenth more, 20 m² a litre of size (common practice, no
    # source): 110 mL
    assert [(b.name, b.need, b.unit) for b in found] == [
        ("masking film", 1e6, "mm2"),
        ("tracing paper", 7e6, "mm2"),
        ("oil size", pytest.approx(110.0), "mL"),
        ("knife", 1.0, "piece"),
    ]


def test_costs_add_up_and_say_what_is_missing():
    schedule, palette, orbits = made([0, 1, 2, 3])
    (straw,) = [b for b in schedule.buys if b.name == "straw"]
    # 0.24 x 3 x 1.15 / 6.5 = 127 mL: three of 60 mL cost 12, one of 250 mL 13
    assert straw.need == pytest.approx(0.24 * 3 * 1.15 / 6.5 * 1000)
    assert straw.packages == ((60.0, 3),)
    assert straw.cost == pytest.approx(12.0)
    assert schedule.cost == pytest.approx(12.0)
    text = schedule_text(schedule, palette, orbits)
    assert "12.00 crowns" in text
    assert "of which no price is given" in " ".join(text.split())
    rows = csv.DictReader(io.StringIO(schedule_csv(schedule, palette, orbits)))
    assert [r["price"] for r in rows][1] == "12.00"


def test_tools_and_primer_have_prices_too():
    table = (
        b'[prices]\n"Acrylic primer" = {"1 L" = 15}\n"masking tape" = 4.5\n'
        b'"flat brush" = 3\n"tracing paper" = {"1 m2" = 2}\n"varnish" = 9\n'
    )
    data = HALL.replace(b"[[paint]]", table + b"[[paint]]", 1)
    settings = PaintSettings(under="midnight", tape=True)
    schedule, palette, orbits = made([0, 1, 2, 3], settings, data=data)
    cost = {b.name: b.cost for b in (*schedule.buys, *schedule.materials)}
    assert cost["acrylic primer"] == 15.0
    (tape,) = [m for m in schedule.materials if m.name == "masking tape"]
    assert tape.cost == pytest.approx(4.5 * math.ceil(tape.need / 50_000))
    assert next(v for k, v in cost.items() if k.startswith("flat brush")) == 3.0
    # 1.2 x 0.8 m: one m² of tracing paper
    assert cost["tracing paper"] == 2.0
    assert cost["acrylic varnish"] is None  # "varnish" is another name
    known = sum(c for c in cost.values() if c is not None)
    assert schedule.cost == pytest.approx(known)
    text = " ".join(schedule_text(schedule, palette, orbits).split())
    assert "3.00 crowns" in text
    assert "acrylic varnish" in text.partition(", without ")[2].partition("of which")[0]
    again = parse_palette(palette_to_toml(palette).encode(), "p.toml")
    assert again.prices == palette.prices


@pytest.mark.parametrize("line", ["tape = 0", "tape = {big = 3}", 'tape = "4"'])
def test_prices_that_make_no_sense(line):
    data = f"[prices]\n{line}\n[[paint]]\nname='a'\ncolour='#fff'\n".encode()
    with pytest.raises(PaletteError, match=r"price|size") as caught:
        parse_palette(data, "p.toml")
    assert caught.value.where == "p.toml, line 2"


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("price = 3", "table of sizes"),
        ('price = {"big" = 3}', "no size"),
        ('price = {"1 L" = 0}', "above 0"),
        ("coats = 0", "whole number"),
        ("leaf = {lap = 3, sise = 80}", "no key of a leaf"),
        ("leaf = {size = 8, lap = 6}", "leaves nothing"),
        ('drying = "soon"', "must be a time"),
    ],
)
def test_paint_keys_that_make_no_sense(line, what):
    data = f'[[paint]]\nname = "a"\ncolour = "#fff"\n{line}\n'.encode()
    with pytest.raises(PaletteError, match=what) as caught:
        parse_palette(data, "p.toml")
    assert "line" in caught.value.where
    assert caught.value.mend


def test_paint_keys_come_back_from_the_file():
    data = (
        b'currency = "crowns"\ndrying = "90 min"\n[[paint]]\nname = "gold"\n'
        b'colour = "#d4a73c"\nmedium = "leaf"\nprice = {book = 38, leaf = 1.5}\n'
        b"leaf = {size = [85, 80], lap = 2, loss = 0.1, book = 20, imitation = true}\n"
        b'[[paint]]\nname = "wall"\ncolour = "#eee"\ncure = "14 d"\ncoats = 4\n'
        b'price = {"2.5 L" = 31, "500 mL" = 9}\n'
    )
    palette = parse_palette(data, "p.toml")
    gold, wall = palette.swatches
    assert (gold.drying, wall.cure, wall.coats) == (1.5, 14.0, 4)
    assert wall.price == ((500.0, "mL", 9.0), (2500.0, "mL", 31.0))
    assert gold.leaf.size == (85.0, 80.0)
    again = parse_palette(palette_to_toml(palette).encode(), "p.toml")
    assert again.swatches == palette.swatches
    assert again.currency == "crowns"


def test_round_panels_are_billed_by_their_shape():
    circle = (
        b'<svg width="100mm" height="100mm" viewBox="0 0 100 100">'
        b'<g fill="none" stroke="black"><circle cx="50" cy="50" r="45"/>'
        b'<circle cx="50" cy="50" r="20"/></g></svg>'
    )
    palette = HALL.decode()
    rules = Rules(ground="midnight")
    done = colour_drawing(circle, Plan(palette_data=palette, rules=rules))
    # pi r²; the page has 10,000 mm²
    areas = measure_areas(done.arrangement, done.orbits, done.colouring)
    assert areas.margin == 0.0
    primer = done.schedule.extras[0]
    assert primer.area_real == pytest.approx(3.14159265 * 45**2, rel=1e-4)


def test_numbers_are_the_same_in_text_csv_and_page():
    schedule, palette, orbits = made([0, 1, 2, 3], scale=23.7)
    text = schedule_text(schedule, palette, orbits)
    rows = list(csv.DictReader(io.StringIO(schedule_csv(schedule, palette, orbits))))
    pages = compose_schedule(schedule, palette, title="t")
    words = {getattr(i, "text", "") for p in pages for i in p.items}
    for q, line in zip(schedule.quantities, rows, strict=False):
        need = need_text(q.volume)
        assert line["volume_ml"] == need
        assert f"{need} mL" in text
        assert f"{need} mL" in words
        # one unit for all: 1.35 m² in four quarters
        area = f"{three(q.area_real / 1e6)} m²"
        assert area in text
        assert area in words
        assert float(line["area_real_mm2"]) == pytest.approx(q.area_real, rel=5e-3)
        assert len(line["area_real_mm2"].rstrip("0")) <= 3
    # the order begins on a page of its own
    first = {getattr(i, "text", "") for i in pages[0].items}
    assert "To buy" in first
    assert "Order of work" not in first
    assert "Order of work" in words


def test_head_and_table_name_support_and_one_unit():
    # 24 squares of 100 mm are 2400 cm², of 10 mm at 1 : 100 24 m²
    for scale, unit in ((10.0, "cm²"), (100.0, "m²")):
        settings = PaintSettings(support="timber")
        schedule, palette, orbits = made([0, 1, 1, 2], settings, scale=scale)
        text = schedule_text(schedule, palette, orbits)
        assert "Sizes are real; the drawing is at" in text
        assert "Painted on timber." in text
        table = text.split("TO BUY")[1].split("Besides")[0]
        units = re.findall(r" (\w*m²)", table)
        assert set(units) == {unit}
        (page, *_) = compose_schedule(schedule, palette, title="t")
        assert any("on timber." in getattr(i, "text", "") for i in page.items)


PAIRS = [
    ("acrylic", "oil", "", "", "", "acrylic on oil"),
    ("lime wash", "lime wash", "timber", "", "", "lime wash on timber"),
    ("gouache", "gouache", "", "", "dammar", "dammar on gouache"),
    ("oil", "oil", "paper", "", "", "oil on paper"),
    ("emulsion", "emulsion", "glass", "", "", "emulsion on glass"),
]


@pytest.mark.parametrize(
    ("over", "under", "support", "primer", "varnish", "pair"), PAIRS
)
def test_what_does_not_hold(over, under, support, primer, varnish, pair):
    data = (
        f'[[paint]]\nname="a"\ncolour="red"\nmedium="{over}"\n'
        f'[[paint]]\nname="b"\ncolour="blue"\nmedium="{under}"\n'
    )
    swatches = parse_palette(data.encode(), "p.toml").swatches
    options = {"support": support, "primer": primer, "varnish": varnish}
    found = find_clashes(swatches, (0, 1), ((0, 1),), **options)
    assert [c.pair for c in found] == [pair]
    assert found[0].remedy
    # a sound pair is left alone
    assert find_clashes(swatches, (1,), (), support="", primer="", varnish="") == ()


def test_a_pigment_that_lime_destroys():
    data = (
        b'[[paint]]\nname="a"\ncolour="blue"\nmedium="lime wash"\npigments=["PB27"]\n'
        b'[[paint]]\nname="b"\ncolour="red"\nmedium="lime wash"\npigments=["PR101"]\n'
    )
    swatches = parse_palette(data, "p.toml").swatches
    (clash,) = find_clashes(swatches, (0, 1), ())
    assert clash.pair == "PB27 on lime wash"
    assert clash.who == "a"


def test_a_mix_of_binders_is_refused():
    on_hand = (
        b"[[paint]]\nname='night'\ncolour='#10203f'\nmedium='oil'\n"
        b"[[paint]]\nname='soot'\ncolour='#2a2a40'\nmedium='acrylic'\n"
    )
    schedule, _, _ = made([0, 0, 0, 0], on_hand=on_hand)
    assert len(schedule.mixes[0][1].split(",")) == 2
    assert [c.pair for c in schedule.clashes] in (
        ["oil mixed with acrylic"],
        ["acrylic mixed with oil"],
    )
    one_binder = on_hand.replace(b"oil", b"acrylic")
    assert made([0, 0, 0, 0], on_hand=one_binder)[0].clashes == ()


def test_water_gilding_on_a_painted_ground_is_refused():
    data = HALL.replace(b'medium = "acrylic"', b'medium = "egg tempera"')
    data = data.replace(b'medium = "bare"', b'medium = "leaf"')
    schedule, _, _ = made([0, 1, 2, 4], PaintSettings(under="midnight"), data=data)
    assert [c.pair for c in schedule.clashes] == ["bole on egg tempera"]
    assert made([0, 1, 2, 4], data=data)[0].clashes == ()


def test_clashes_stand_in_the_schedule():
    oil = HALL.replace(b'name = "reed"', b'name = "reed"\nmedium = "oil"')
    rules = Rules(outline="chalk", outline_width=1.0)
    schedule, palette, orbits = made([0, 1, 2, 0], rules=rules, data=oil)
    text = schedule_text(schedule, palette, orbits)
    assert "REFUSED" in text
    assert "acrylic on oil (chalk, reed" in text
    assert any(n.type == "does not hold" for n in schedule.notes)
    pages = compose_schedule(schedule, palette, title="t")
    words = {getattr(i, "text", "") for i in pages[0].items}
    assert "Refused: what does not hold" in words


def test_dry_media_speak_as_dry_media():
    data = HALL.replace(b'medium = "acrylic"', b'medium = "pencil"')
    rules = Rules(bare=("linen",))
    schedule, palette, orbits = made([0, 1, 3, 4], rules=rules, data=data)
    text = schedule_text(schedule, palette, orbits)
    for word in ("wet", "coat ", "coats", "rime", "brush", "Paint "):
        assert word not in text.split("ORDER")[1].split("CAUTIONS")[0], word
    assert schedule.extras == ()
    rows = list(csv.DictReader(io.StringIO(schedule_csv(schedule, palette, orbits))))
    assert {r["coats"] for r in rows} == {""}
    assert {r["cut_in_mm"] for r in rows} == {""}
    light = [s.swatch for s in schedule.steps][1:]
    assert light == [3, 1, 0]


def test_each_step_has_its_sheet_and_its_number():
    squares = "".join(f'<path d="M{k} 0V40M0 {k}H40"/>' for k in range(0, 41, 10))
    data = (
        '<svg width="40mm" height="40mm" viewBox="0 0 40 40"><g fill="none" '
        f'stroke="black">{squares}</g></svg>'
    ).encode()
    plan = Plan(
        palette_data=HALL.decode(),
        rules=Rules(pins=(Pin("@5,5", "straw"),)),
        paint=PaintSettings(under="midnight"),
        sheets=SheetSettings(sheets=("steps",)),
    )
    done = colour_drawing(data, plan, name="squares.svg")
    (white,) = [s for s in done.schedule.steps if s.kind == "white"]
    fill = next(s for s in done.schedule.steps if s.kind == "fill" and s.swatch == 1)
    pages = [
        " ".join(getattr(i, "text", "") for i in page.items)
        for page in done.sheet_scenes()
    ]
    own = [text for text in pages if f"Step {fill.order} " in text]
    assert len(own) == 1
    assert "Paint straw in 3 coats" in own[0]
    (under,) = [text for text in pages if f"Step {white.order} of" in text]
    assert "in one coat" in under
    # a number is the same step in sheets, schedule and CSV, and each has its page
    many = len(done.schedule.steps)
    assert [f"Step {k} of {many}:" in t for k, t in enumerate(pages, 1)] == [
        True
    ] * many
    assert "priming" in pages[0]
    assert "varnish" in pages[-1]
    rows = csv.DictReader(io.StringIO(done.schedule_csv()))
    assert {r["paint"]: r["step"] for r in rows}["straw"] == str(fill.order)
