"""What is said of construction left in, and of gaps that stay open."""

from __future__ import annotations

import pytest

import fillwork
from fillwork.pipeline.guides import find_guides
from fillwork.plans.model import Plan
from fillwork.readers import read_linework

_PAGE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" '
    'viewBox="0 0 40 40" fill="none" stroke="black" stroke-width="0.4">{}</svg>'
)
_FINAL = '<g id="final"><path d="M5 5H35V35H5Z M5 20 20 5 35 20 20 35Z"/></g>'


def _notes(inner: str, plan: Plan | None = None) -> list[fillwork.Note]:
    drawing = _PAGE.format(inner).encode()
    return list(fillwork.make_survey(drawing, plan or Plan(), name="a.svg").notes)


@pytest.mark.parametrize(
    ("guide", "option"),
    [
        ('<g id="construction"><path d="M5 5 35 35"/></g>', "layer=construction"),
        ('<path d="M5 5 35 35" stroke="#49d" stroke-width="0.1"/>', "colour=#4499dd"),
        ('<path d="M5 5 35 35" stroke="#bbb"/>', "colour=#bbbbbb"),
    ],
)
def test_construction_left_in_is_named_with_what_leaves_it_out(
    guide: str, option: str
) -> None:
    told = [n for n in _notes(_FINAL + guide) if n.type == "construction"]
    assert len(told) == 1
    assert option in told[0].remedy
    assert "1 " in told[0].text
    plan = Plan(leave=(option,))
    assert not [n for n in _notes(_FINAL + guide, plan) if n.type == "construction"]


def test_construction_in_many_colours_is_told_in_few_notes() -> None:
    # ten pale colours, the last of them twice; black makes up most
    pale = [f"#{c}0{c}0{d}0" for c in "abcde" for d in "ef"]
    lines = [
        f'<path d="M5 {6 + 2 * k}H35" stroke="{colour}"/>'
        for k, colour in enumerate([*pale, pale[-1]])
    ]
    told = [n for n in _notes(_FINAL + "".join(lines)) if n.type == "construction"]
    assert len(told) <= 5
    assert sum(int(n.text.split()[0]) for n in told) == len(lines)
    assert any(pale[-1] in n.remedy for n in told)
    option = told[-1].remedy.split('"')[1]
    plan = Plan(lines=(option,))
    work = fillwork.make_survey(_PAGE.format(_FINAL).encode(), name="a.svg")
    alone = _PAGE.format(_FINAL + "".join(lines)).encode()
    assert (
        fillwork.make_survey(alone, plan, name="a.svg").arrangement.face_count
        == work.arrangement.face_count
    )


@pytest.mark.parametrize(
    "name",
    [
        "Hilfslinien", "Konstruktion", "Traits de construction", "Repères", "Guías",
        "Líneas auxiliares", "Linee guida", "Costruzione", "Hulplijnen",
        "Kılavuz çizgileri", "Yardımcı", "İnşaat", "خطوط مساعدة", "خطوط البناء",
        "خطوط کمکی", "خطوط راهنما",
    ],
)  # fmt: skip
def test_layers_of_construction_are_known_in_other_languages(name: str) -> None:
    guide = f'<g id="{name}"><path d="M5 5 35 35"/></g>'
    told = [n for n in _notes(_FINAL + guide) if n.type == "construction"]
    assert [f'--leave "layer={name}" leaves it out'] == [n.remedy for n in told]


def test_guides_are_told_though_they_are_the_longest_lines() -> None:
    # 2 · 30 mm · √2 of guides, 30 mm of ink
    drawing = _PAGE.format(
        '<g id="Hilfslinien"><path d="M5 5 35 35M5 35 35 5"/></g>'
        '<g id="ink"><path d="M5 20H35"/></g>'
    )
    found = find_guides(read_linework(drawing.encode(), name="a.svg"))
    assert found == ("line", "")


def test_final_lines_of_two_widths_or_colours_are_no_construction() -> None:
    # common practice, no source: a fine line inside a figure, a frame in red
    inner = '<path d="M12 12H28" stroke-width="0.2"/>'
    inner += '<path d="M2 2H38V38H2Z" stroke="red"/>'
    assert not [n for n in _notes(_FINAL + inner) if n.type == "construction"]


def test_thin_lines_that_run_on_beyond_the_drawing_are_told_as_construction() -> None:
    # in the colour and on the layer of the others: their width alone parts them
    guides = '<path d="M2 20H38" stroke-width="0.1"/><path d="M20 2V38"'
    guides += ' stroke-width="0.1"/><path d="M5 5 35 35" stroke-width="0.1"/>'
    (told,) = [n for n in _notes(_FINAL[14:-4] + guides) if n.type == "construction"]
    assert told.text.startswith("3 thin lines are taken as final")
    option = told.remedy.split('"')[1]
    work = fillwork.make_survey(_PAGE.format(_FINAL).encode(), name="a.svg")
    drawing = _PAGE.format(_FINAL[14:-4] + guides).encode()
    alone = fillwork.make_survey(drawing, Plan(leave=(option,)), name="a.svg")
    assert alone.arrangement.face_count == work.arrangement.face_count
    # two of three that end on the others are final lines
    inner = guides.replace("M2 20H38", "M5 20H35").replace("M20 2V38", "M20 5V35")
    assert not [n for n in _notes(_FINAL[14:-4] + inner) if n.type == "construction"]


def _woven(gap: float) -> str:
    """Return two pairs of rails over two others, which stop short of them."""
    under = "".join(
        f'<path d="M2 {y} H{8 - gap} M{14 + gap} {y} H{24 - gap} M{30 + gap} {y} H38"/>'
        for y in (8, 14, 24, 30)
    )
    return under + "".join(f'<path d="M{x} 2 V38"/>' for x in (8, 14, 24, 30))


def test_gaps_that_stay_open_come_with_what_closes_them() -> None:
    # a square beside the bands is a region, so that the gaps may be meant
    square = '<path d="M33 33 h4 v4 h-4 z"/>'
    told = [n for n in _notes(_woven(0.3) + square) if n.type == "open gaps"]
    assert len(told) == 1
    assert "16 gaps of about 0.3 mm" in told[0].text
    closed = float(told[0].remedy.split()[1].removesuffix("mm"))
    assert closed > 0.3
    work = fillwork.read_linework(
        _PAGE.format(_woven(0.3) + square).encode(), name="a.svg"
    )
    # with it what lies between the bands that run over is closed: ground and two bands
    survey = fillwork.make_survey(work, Plan(close_gaps=closed))
    assert survey.arrangement.face_count - 1 == 4
    assert not [n for n in survey.notes if n.type == "open gaps"]


def test_gaps_that_leave_no_region_are_closed() -> None:
    work = fillwork.read_linework(_PAGE.format(_woven(0.3)).encode(), name="a.svg")
    survey = fillwork.make_survey(work)
    assert survey.arrangement.face_count - 1 == 3
    assert not [n for n in survey.notes if n.type == "open gaps"]
    # where they are to stay, the refusal names what closes them
    with pytest.raises(fillwork.FillworkError, match=r"0\.3 mm") as caught:
        fillwork.colour_survey(fillwork.make_survey(work, Plan(close_gaps=0.0)))
    assert caught.value.mend.startswith("--close-gaps ")


@pytest.mark.parametrize("gap", [2.0, 1.5])
def test_lines_that_close_nothing_come_with_the_length_that_closes_them(
    gap: float,
) -> None:
    # a square of 30 mm whose last side ends too early
    work = fillwork.read_linework(
        _PAGE.format(f'<path d="M5 {5 + gap}V35H35V5H5"/>').encode(), name="a.svg"
    )
    survey = fillwork.make_survey(work, Plan(close_gaps=0.5))
    with pytest.raises(fillwork.FillworkError, match=f"{gap:g} mm") as caught:
        fillwork.colour_survey(survey)
    option, length, *_ = caught.value.mend.split()
    assert option == "--close-gaps"
    closed = Plan(close_gaps=float(length.removesuffix("mm")))
    assert fillwork.make_survey(work, closed).arrangement.face_count - 1 == 1


def test_lines_with_nothing_to_meet_are_refused_without_a_length() -> None:
    work = fillwork.read_linework(_PAGE.format('<path d="M5 5H35"/>').encode())
    with pytest.raises(fillwork.FillworkError) as caught:
        fillwork.colour_survey(fillwork.make_survey(work))
    assert "--close-gaps" not in caught.value.mend
