"""The numbered choices of counterchange, in words and in pictures."""

from __future__ import annotations

import functools
import io
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from fillwork.cli.main import main
from fillwork.colouring.difference import difference_matrix
from fillwork.pipeline import choices as ch
from fillwork.pipeline import job
from fillwork.plans.model import Plan


def board(columns=6, rows=4):
    """Return a page of squares, each with a small square inside."""
    lines = []
    for x in range(columns):
        for y in range(rows):
            lines.append(f'<rect x="{10 * x}" y="{10 * y}" width="10" height="10"/>')
            lines.append(
                f'<rect x="{10 * x + 3}" y="{10 * y + 3}" width="4" height="4"/>'
            )
    size = f'width="{10 * columns}mm" height="{10 * rows}mm"'
    view = f'viewBox="0 0 {10 * columns} {10 * rows}"'
    group = '<g fill="none" stroke="#000" stroke-width="0.2">'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} {view}>{group}'
        f"{''.join(lines)}</g></svg>"
    ).encode()


@functools.cache
def done(colours):
    plan = Plan()
    plan = replace(plan, rules=replace(plan.rules, counterchange=colours))
    return job.colour_drawing(board(), plan, name="board.svg")


def test_no_choices_without_counterchange():
    assert job.colour_drawing(board(), name="board.svg").choices is None


def test_two_colours_of_a_board():
    # squares and the squares in them: 4mm sites of p4m, one choice each (a chessboard)
    result = done(2)
    found = result.choices
    assert [(c.letter, c.number) for c in found.single] == [("A", 1), ("B", 1)]
    assert [way.letters for way in found.whole] == [("A", "B")]
    text = ch.choices_text(found)
    assert "as on a chessboard" in text
    assert '*--choice "A=1"' in text
    assert "--choice 1 " in text
    files = ch.choices_files(result.coloured, found)
    assert sorted(files) == ["choices.png", "choices.txt"]
    with Image.open(io.BytesIO(files["choices.png"])) as picture:
        assert picture.width >= 1600
        colours = {c for _, c in picture.convert("RGB").getcolors(1 << 24)}
    # what alternates is shown in two colours of the palette, the rest pale
    palette = {s.hex for s in result.palette.swatches}
    assert len({"#{:02x}{:02x}{:02x}".format(*c) for c in colours} & palette) >= 2


def test_a_long_list_is_shortened_on_screen_only():
    result = done(4)
    found = result.choices
    one = found.single[0]
    many = replace_numbers(one, 60)
    listed = replace(found, single=many, taken={one.letter: 2})
    short = ch.choices_text(listed, whole=False)
    assert f'*--choice "{one.letter}=1" to "{one.letter}=60" (now 2)' in short
    assert len(short.splitlines()) < 10
    assert ch.choices_text(listed).count("--choice") >= 60
    whole, single = listed.drawn()
    assert len(whole) + len(single) <= ch.MOST_PICTURES
    assert single


def test_lists_are_cut_where_they_get_long():
    found = done(2).choices
    (one, two), (whole,) = found.single, found.whole

    def lines(ways, singles, all_told=False, taken=None):
        listed = replace(
            found, whole=(whole,) * ways, single=singles, taken=taken or {}
        )
        return ch.choices_text(listed, whole=all_told).splitlines()

    # sixteen are told in full, one by one; of more six, and each kind in one line
    full = lines(8, replace_numbers(one, 8), taken={"A": 3})
    assert len(full) == 1 + 1 + 8 + 1 + 8
    assert [line[1] for line in full if '"A=' in line] == list("  *     ")
    cut = lines(8, (*replace_numbers(one, 8), two), taken={"B": 1})
    assert cut[:2] == full[:2]
    assert cut[8:] == [
        "  and more, up to --choice 8",
        "for one kind:",
        '  --choice "A=1" to "A=8"',
        ' *--choice "B=1"',
    ]
    assert "and more" not in " ".join(lines(6, replace_numbers(one, 11)))
    assert lines(8, (*replace_numbers(one, 8), two), all_told=True)[2:10] == full[2:10]
    # what stays alike is told from a twentieth of a millimetre on
    for alike, told in ((0.04, False), (0.05, True)):
        (line,) = lines(0, (replace(one, alike=alike),))[2:]
        assert ("touching regions stay alike along" in line) == told


def test_what_stays_as_it_is_has_the_last_swatch_of_the_pictures():
    result = done(2)
    strong = ch._strong(result.palette, 2)
    assert [s.hex for s in strong.swatches[-1:]] == ["#e9e6df"]
    assert len(strong.swatches) == 3
    label = np.where(np.arange(len(result.colouring.of_face)) % 3, -1, 1)
    shown = ch._as_shown(result.coloured, strong, label)
    assert shown.of_face[:5].tolist() == [-1, 2, 2, 1, 2]
    assert shown.rules.outline is None
    # the two differ most from what stays, and from each other, of all pairs
    table = difference_matrix(replace(result.palette, swatches=(
        *result.palette.swatches, strong.swatches[-1])))  # fmt: skip
    names = [s.name for s in result.palette.swatches]
    first, second = (names.index(s.name) for s in strong.swatches[:2])
    assert table[-1, first] == table[-1, :-1].max()
    near = np.minimum(table[-1, :-1], table[first, :-1])
    assert near[second] == near.max()


def replace_numbers(choice, count):
    return tuple(
        replace(
            choice, number=k, faces=choice.faces.copy(), colour=choice.colour.copy()
        )
        for k in range(1, count + 1)
    )


def test_pictures_show_every_region_that_alternates():
    result = done(2)
    found = result.choices
    label = ch._label_of_whole(result.coloured, found, 1)
    assert set(np.unique(label[1:]).tolist()) == {0, 1}
    assert len(found.drawn()[1]) == 2


@pytest.mark.parametrize("colours", [2, 4])
def test_the_command_tells_them(tmp_path, colours):
    drawing = tmp_path / "board.svg"
    drawing.write_bytes(board())
    out = tmp_path / "out"
    run = CliRunner().invoke(
        main,
        ["colour", str(drawing), "--counterchange", str(colours), "--out", str(out)],
    )
    assert run.exit_code == 0, run.output
    assert "for the whole drawing:" in run.output
    assert '--choice "A=1"' in run.output
    assert (out / "choices.txt").read_text().startswith(f"counterchange of {colours}")
    assert (out / "choices.png").is_file()
