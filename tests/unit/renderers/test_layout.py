"""What stands at the head and the foot of pages, and beside each other in lists."""

from dataclasses import replace
from itertools import combinations, pairwise

import pytest
import shapely

from fillwork.renderers.contact import ContactCell, compose_contact
from fillwork.renderers.layout import (
    MARGIN,
    Page,
    compose_page,
    scale_text,
    shorten,
)
from fillwork.renderers.scene import Scene, Strokes, Text
from fillwork.renderers.sheets.key import KeyEntry, compose_foot_key, fill_key
from fillwork.renderers.text.typeset import default_fonts

FONTS = default_fonts()


def page(width, height, **frame):
    told = {"title": "Panel", "subtitle": "Blank sheet", "code": "B1", **frame}
    return compose_page(Page(width, height), FONTS, (), name="b", words="x", **told)


def text_of(scene, words):
    return next(i for i in scene.items if isinstance(i, Text) and i.text == words)


def test_the_line_for_a_name_begins_beside_the_word() -> None:
    scene = page(210.0, 297.0, name_line=True)
    word = text_of(scene, "Name")
    end = word.at[0] + FONTS.width("Name", word.size)
    lines = [i.curves.data[0, :4] for i in scene.items if isinstance(i, Strokes)]
    (rule,) = (line for line in lines if abs(line[1] - word.at[1]) < 3)
    assert end < rule[0] < rule[2] == pytest.approx(210.0 - MARGIN)
    assert rule[1] == rule[3] <= word.at[1]


def test_the_scale_stands_over_the_rule_where_paper_is_narrow() -> None:
    words = "Reduced, 1 : 2 of real size"
    wide, narrow = (text_of(page(w, 297.0, scale=words), words) for w in (210.0, 105.0))
    # beside a rule of 100 mm on A4, and over that of 50 mm, which the ticks top
    assert wide.at[0] > MARGIN + 100
    assert (narrow.at[0], narrow.size) == (MARGIN, 7)
    assert narrow.at[1] > MARGIN + 5.0 + 1.5


def test_measures_of_a_contact_sheet_do_not_run_into_their_names() -> None:
    long = "the least difference in colour between regions that touch each other"
    cell = ContactCell("Evening", Scene(40.0, 30.0, ()), (), ((long, "12.5"),))
    (scene,) = compose_contact([cell] * 9, title="Panel")
    texts = [i for i in scene.items if isinstance(i, Text)]
    values = [t for t in texts if t.text == "12.5"]
    assert len(values) == 9
    for value in values:
        name = max(
            (t for t in texts if t.at[1] == value.at[1] and t.at[0] < value.at[0]),
            key=lambda t: t.at[0],
        )
        assert name.text.endswith("…")
        end = name.at[0] + FONTS.width(name.text, name.size)
        assert end < value.at[0] - FONTS.width("12.5", value.size)


def entry(code):
    return KeyEntry(0, code, "Night", "#1f4e79", "", 3, 40.0, size="40 mm²")


@pytest.mark.parametrize("code", ["1", "137", "G-12 b"])
def test_names_of_a_compact_key_stand_beside_their_numbers(code) -> None:
    items, shown = compose_foot_key([entry(code)], (10.0, 10.0, 120.0, 22.0), FONTS)
    assert shown == 1
    texts = {i.text: i for i in items if isinstance(i, Text)}
    name, number = texts["Night"], texts[code]
    assert name.at[0] > number.at[0] + FONTS.width(code, number.size, "medium")


def test_a_key_is_cut_where_its_box_ends() -> None:
    entries = tuple(entry(str(k)) for k in range(9))
    # two rows of 12 mm, one column of 52
    items, rest = fill_key(entries, (10.0, 10.0, 70.0, 34.0), FONTS)
    assert [e.code for e in rest] == [e.code for e in entries[2:]]
    assert {i.text for i in items if isinstance(i, Text)} > {"0", "1", "Night"}


def test_a_compact_key_gives_the_areas_of_all_paints_or_of_none() -> None:
    short, long = entry("1"), entry("2")
    long = replace(long, name="Smoke blue of the long winter evenings by the lamp")
    texts = []
    for key in ((short, short), (short, long)):
        items, shown = compose_foot_key(key, (10.0, 10.0, 74.0, 40.0), FONTS)
        assert shown == 2
        texts.append([i.text for i in items if isinstance(i, Text)])
    assert texts[0].count("40 mm²") == 2
    assert "40 mm²" not in texts[1]


def test_names_of_a_compact_key_are_set_smaller_before_they_are_cut() -> None:
    # 20.5 mm wide, 9.5 of them for the name
    items, _ = compose_foot_key([entry("1")] * 2, (10.0, 10.0, 30.5, 40.0), FONTS)
    sizes = {i.size for i in items if isinstance(i, Text) and i.text == "Night"}
    assert sizes == {9}
    tight = replace(entry("1"), name="Evening")
    items, _ = compose_foot_key([entry("1"), tight], (10.0, 10.0, 30.5, 40.0), FONTS)
    names = [i for i in items if isinstance(i, Text) and i.text in ("Night", "Evening")]
    assert len(names) == 2
    assert {n.size for n in names} == {7}


@pytest.mark.parametrize(
    ("width", "length"), [(210.0, 100.0), (120.0, 100.0), (119, 50)]
)
def test_the_rule_to_lay_a_ruler_on_is_as_long_as_it_says(width, length) -> None:
    scene = page(float(width), 297.0, scale="Real size, 1 : 1")
    (rule,) = (i for i in scene.items if isinstance(i, Strokes))
    line, *ticks = rule.curves.data[:, :4].tolist()
    y = MARGIN + 5.0
    assert line == [MARGIN, y, MARGIN + length, y]
    # upright at its ends, within a hair, where the line's own ends are sharp, and half
    # as high in the middle
    for tick, at, high in zip(ticks, (0, length / 2, length), (3, 1.6, 3), strict=True):
        x0, y0, x1, y1 = tick
        assert x0 == x1 == pytest.approx(MARGIN + at, abs=0.11)
        assert (y0 + y1) / 2 == pytest.approx(y)
        assert y1 - y0 == pytest.approx(high)
    told = [i.text for i in scene.items if isinstance(i, Text)]
    assert any(t.startswith(f"{length:.0f}\u2009mm: print at 100") for t in told)


def test_notes_of_one_line_and_two_stand_over_the_rule() -> None:
    long = "Keep the numbers of the small regions at hand while you work. " * 4
    for note, lines in (("Short.", 1), (long, 2)):
        scene = page(210.0, 297.0, scale="Real size", note=note)
        said = [
            i for i in scene.items if isinstance(i, Text) and i.text[:4] in note
            and i.size == 7 and i.at[1] > MARGIN + 5
        ]  # fmt: skip
        assert [i.at[1] for i in said] == pytest.approx(
            [MARGIN + 8.6 + 2.9 * k for k in range(lines)][::-1]
        )
        assert all(FONTS.width(i.text, 7) <= 190.0 for i in said)


@pytest.mark.parametrize("width", [4.0, 11.3, 30.0, 200.0])
def test_words_are_cut_as_late_as_they_can_be(width) -> None:
    text = "Smoke blue of the long winter evenings"
    cut = shorten(text, 9, width, FONTS)
    assert FONTS.width(cut, 9) <= width
    if width >= FONTS.width(text, 9):
        assert cut == text
        return
    kept = cut.removesuffix("…")
    assert text.startswith(kept)
    rest = text[len(kept) :]
    more = kept + rest[: len(rest) - len(rest.lstrip()) + 1]
    assert FONTS.width(more + "…", 9) > width


@pytest.mark.parametrize(
    ("scale", "true", "known", "words"),
    [
        (2.0, 2.0, True, "Real size, 1 : 1"),
        (1.0, 1.0, False, "Drawing size, 1 : 1. The real scale is not known"),
        (0.5, 2.0, True, "Reduced, 1 : 4.00 of real size"),
        (3.0, 2.0, True, "Enlarged, 1.50 : 1 of real size"),
        (0.5, 1.0, False, "Reduced, 1 : 2.00 of drawing size; real scale not known"),
    ],
)
def test_scales_in_words(scale, true, known, words) -> None:
    assert scale_text(scale, true, known) == words
    across = scale_text(scale, true, known, 1200.0)
    assert across.startswith(words)
    assert (across != words) == known


@pytest.mark.parametrize("width", [105.0, 148.0])
@pytest.mark.parametrize("scale", ["", "Reduced, 1 : 2 of real size"])
def test_a_note_that_narrow_paper_breaks_is_told_to_its_end(width, scale) -> None:
    note = "One island would fall out, hatched: leave the dashed bridges, or lay "
    note += "them by hand. Openings touch in ten points: leave a hair there."
    scene = page(width, 148.0, scale=scale, note=note)
    foot = [
        i
        for i in scene.items
        if isinstance(i, Text) and i.size == 7 and i.at[1] > MARGIN + 7
    ]
    foot.sort(key=lambda i: -i.at[1])
    told = f"{scale}. {note}" if scale else note
    assert " ".join(i.text for i in foot) == told
    # over the rule's ticks and under the body, with letters that do not touch
    em = 7 * 25.4 / 72
    assert foot[-1].at[1] - 0.25 * em > MARGIN + 5.0 + 1.5
    assert foot[0].at[1] + 0.72 * em < Page(width, 148.0).body[1]
    for above, below in pairwise(foot):
        assert above.at[1] - below.at[1] >= em
    assert all(FONTS.width(i.text, 7) <= width - 2 * MARGIN for i in foot)


@pytest.mark.parametrize("length", [1, 9, 14, 40])
def test_names_of_paints_stand_behind_their_codes(length) -> None:
    entries = tuple(
        KeyEntry(k, "W" * length, f"Night {k}", "#102030", "PB15", 3, 40.0, size="1 m²")
        for k in range(4)
    )
    for width in (52.0, 85.0, 190.0):
        box = (MARGIN, 30.0, MARGIN + width, 120.0)
        for items in (
            fill_key(entries, box, FONTS)[0],
            compose_foot_key(entries, box, FONTS)[0],
        ):
            texts = [i for i in items if isinstance(i, Text)]
            names = [t for t in texts if t.text.startswith(("Night", "N…", "Ni"))]
            assert len(names) == 4
            rooms = [
                shapely.box(
                    t.at[0],
                    t.at[1],
                    t.at[0] + FONTS.width(t.text, t.size, t.weight),
                    t.at[1] + 0.18 * t.size,
                )
                for t in texts
            ]
            for a, b in combinations(rooms, 2):
                assert a.intersection(b).area == 0
            assert max(r.bounds[2] for r in rooms) <= MARGIN + width + 0.01
            assert sum(t.text.startswith("W") for t in texts) == 4


@pytest.mark.parametrize("width", [105.0, 148.0, 210.0])
@pytest.mark.parametrize("aside", [0.0, 7.0])
def test_a_title_gives_way_to_what_a_joined_page_is(width, aside) -> None:
    subtitle = "Mask for 9 Night, mirrored: for the back, page B2"
    frame = {"title": "Panel by the garden door", "tight": True, "aside": aside}
    scene = page(width, 148.0, subtitle=subtitle, **frame)
    said = text_of(scene, subtitle)
    title = next(i for i in scene.items if isinstance(i, Text) and i.weight == "medium")
    end = title.at[0] + FONTS.width(title.text, title.size, "medium")
    begin = said.at[0] - FONTS.width(subtitle, said.size) - aside
    assert end + 3 < begin
    assert said.at[0] == width - MARGIN


def test_a_subtitle_is_set_smaller_before_it_is_cut() -> None:
    words = "Numbered sheet, mirrored for tracing down: key and plan of 12 pages"
    assert text_of(page(210.0, 297.0, subtitle=words), words).size == 9
    # too long in 9 pt for A6, and not in 7 pt
    assert FONTS.width(words, 7) < 85.0 < FONTS.width(words, 9)
    assert text_of(page(105.0, 148.0, subtitle=words), words).size == 7
