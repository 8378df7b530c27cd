"""Lines under opaque fills: what is seen, by shapely's differences of areas."""

from __future__ import annotations

import math
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from fillwork.arrangement import build_arrangement
from fillwork.cli.main import main
from fillwork.errors import LineWorkError, PlanError
from fillwork.readers import read_linework

if TYPE_CHECKING:
    from fillwork.linework import LineWork

DISCS = [(60, 60, 30), (85, 70, 25), (72, 95, 22), (120, 60, 28), (118, 88, 20)]


STYLE = 'fill="#eee" stroke="#000" stroke-width=".4"'


def _svg(body: str, style: str = STYLE) -> bytes:
    page = 'width="200mm" height="160mm" viewBox="0 0 200 160"'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {page}>'
    return f"{head}<g {style}>{body}</g></svg>".encode()


def _length(lw: LineWork) -> float:
    return sum(group.length for group in lw.groups if group.used)


def _circles(more: str = "") -> str:
    return "".join(f'<circle cx="{x}" cy="{y}" r="{r}"{more}/>' for x, y, r in DISCS)


def _areas(drawing: bytes) -> list[float]:
    arrangement = build_arrangement(read_linework(drawing))
    return sorted(np.abs(arrangement.area[1:]).tolist())


def _visible(shapes: list[shapely.Polygon]) -> list[float]:
    # drawing order: each shape less all that come after it, and holes between them
    parts = []
    for k, shape in enumerate(shapes):
        left = shape.difference(shapely.union_all(shapes[k + 1 :]))
        parts += [p for p in shapely.get_parts(left) if p.area > 1e-6]
    whole = shapely.union_all(shapes)
    for part in shapely.get_parts(whole):
        parts += [shapely.Polygon(ring) for ring in part.interiors]
    return sorted(p.area for p in parts)


def test_discs_over_discs_leave_what_is_seen():
    wanted = _visible([shapely.Point(x, y).buffer(r, 720) for x, y, r in DISCS])
    assert _areas(_svg(_circles())) == pytest.approx(wanted, rel=1e-4)
    # a disc and its line apart, as programs print them: no edge of a disc is a line
    each = [f'<circle cx="{x}" cy="{y}" r="{r}" ' for x, y, r in DISCS]
    apart = "".join(f'{disc} stroke="none"/>{disc} fill="none"/>' for disc in each)
    assert _areas(_svg(apart)) == pytest.approx(wanted, rel=1e-4)


def test_scales_in_rows_through_use_and_turns():
    # rows of scales, each over the row before, laid by use and turned as a whole
    rows = [(i, j) for i in range(7) for j in range(8)]
    places = [(20 + 10 * j + 5 * (i % 2), 30 + 6 * i) for i, j in rows]
    body = '<defs><circle id="s" r="7"/></defs><g transform="rotate(20 80 60)">'
    body += "".join(f'<use href="#s" x="{x}" y="{y}"/>' for x, y in places) + "</g>"
    wanted = _visible([shapely.Point(p).buffer(7, 720) for p in places])
    assert _areas(_svg(body)) == pytest.approx(wanted, rel=1e-4)


def test_fills_with_holes_and_both_rules():
    # a ring by even-odd over a line: the line is seen in the hole
    ring = "M40,40h60v60h-60z M55,55h30v30h-30z"
    line = '<path d="M20,70 H120"/>'
    for rule, length in (("evenodd", 20 + 30 + 20), ("nonzero", 20 + 20)):
        drawing = _svg(line + f'<path d="{ring}" fill-rule="{rule}"/>')
        lw = read_linework(drawing)
        rims = 4 * 60 + 4 * 30
        assert _length(lw) == pytest.approx(rims + length, abs=1e-6), rule


def test_a_star_drawn_in_one_go_hides_by_its_rule():
    # a pentagram over a line through its middle; where its own lines cross, the inner
    # pentagon is filled by the one rule and left open by the other
    r, inner = 40.0, 40.0 * math.cos(2 * math.pi / 5)
    turn = [math.pi / 2 + 4 * math.pi * k / 5 for k in range(5)]
    star = " ".join(f"{80 + r * math.cos(a)},{80 - r * math.sin(a)}" for a in turn)
    line = '<path d="M80,10V150" fill="none"/>'
    sides = 5 * 2 * r * math.sin(2 * math.pi / 5)
    # from the top point down to the pentagon's lowest corner, or to its upper side
    lowest = inner / math.cos(math.pi / 5)
    for rule, hidden in (("nonzero", r + lowest), ("evenodd", r - inner)):
        lw = read_linework(
            _svg(line + f'<polygon points="{star}" fill-rule="{rule}"/>')
        )
        assert _length(lw) == pytest.approx(sides + 140 - hidden, rel=1e-6), rule


def test_tiles_that_share_sides_hide_nothing():
    # corners of three decimals: sides of neighbours differ by rounding
    side = 9.0
    body = ""
    for i in range(6):
        for j in range(6):
            cx = 20 + 1.5 * side * i
            cy = 20 + math.sqrt(3) * side * (j + 0.5 * (i % 2))
            corners = [
                f"{cx + side * math.cos(k * math.pi / 3):.3f},"
                f"{cy + side * math.sin(k * math.pi / 3):.3f}"
                for k in range(6)
            ]
            body += f'<polygon points="{" ".join(corners)}"/>'
    lw = read_linework(_svg(body))
    assert not [note for note in lw.notes if note.type == "hidden"]
    assert _length(lw) == pytest.approx(216 * side, rel=1e-3)


@pytest.mark.parametrize(
    "style",
    [
        'fill="none" stroke="#000"',
        'fill="#eee" fill-opacity=".5" stroke="#000"',
        'fill="#eee" opacity=".9" stroke="#000"',
        'fill="rgba(10,20,30,.4)" stroke="#000"',
        'fill="#eee" stroke="#000" style="mix-blend-mode:multiply"',
        'stroke="#000"',  # black on black: a fill that nobody turned off
    ],
)
def test_what_shows_through_hides_nothing(style):
    lw = read_linework(_svg(_circles(), style))
    wanted = sum(2 * math.pi * r for *_, r in DISCS)
    assert _length(lw) == pytest.approx(wanted, rel=1e-9)


def test_earlier_fills_and_backgrounds_hide_nothing():
    lines = '<path d="M10,80H190M100,10V150" fill="none"/>'
    page = '<rect width="200" height="160" fill="#fff" stroke="none"/>'
    lw = read_linework(_svg(page + _circles(' fill="none"') + lines))
    assert not [note for note in lw.notes if note.type == "hidden"]


def test_fills_past_the_page_hide_as_well():
    # a disc half outside the page over a line along the page
    body = '<path d="M10,20V140" fill="none"/><circle cx="0" cy="80" r="30"/>'
    half = math.sqrt(30**2 - 10**2)
    lw = read_linework(_svg(body))
    wanted = 120 - 2 * half + math.pi * 30
    assert _length(lw) == pytest.approx(wanted, rel=1e-6)


def test_a_lid_over_all_is_kept_and_told_unless_asked():
    drawing = _svg(_circles() + '<rect x="5" y="5" width="190" height="150"/>')
    lw = read_linework(drawing)
    (note,) = [note for note in lw.notes if note.type == "hidden"]
    assert "hardly any" in note.text
    assert len(lw.closed) == 6
    assert len(read_linework(drawing, hidden="drop").closed) == 1
    assert len(read_linework(drawing, hidden="keep").closed) == 6


def test_lines_left_out_do_not_hide():
    body = '<g id="lids"><rect x="50" y="50" width="60" height="50"/></g>'
    drawing = _svg('<path d="M10,70H190" fill="none"/>' + body)
    assert len(read_linework(drawing).closed) == 3
    lw = read_linework(drawing, leave=("layer=lids",))
    assert np.isclose(_length(lw), 180)


def test_nothing_left_says_so():
    lid = '<rect x="40" y="40" width="80" height="60" stroke="none"/>'
    drawing = _svg('<path d="M60,60H90"/>' + lid)
    with pytest.raises(LineWorkError, match="under filled shapes"):
        read_linework(drawing, hidden="drop", scope="stroked")


def test_a_wrong_word_names_the_right_ones():
    with pytest.raises(PlanError, match="hiden") as caught:
        read_linework(_svg(_circles()), hidden="hiden")
    assert "drop" in str(caught.value)


def test_the_command_takes_it(tmp_path):
    file = tmp_path / "discs.svg"
    file.write_bytes(_svg(_circles()))
    seen = CliRunner().invoke(main, ["survey", str(file)])
    kept = CliRunner().invoke(main, ["survey", str(file), "--hidden", "keep"])
    assert seen.exit_code == kept.exit_code == 0
    assert "under filled shapes" in seen.stderr
    assert seen.stdout != kept.stdout


FLAG = (
    '<rect width="200" height="160" fill="#fff"/>'
    '<rect width="90" height="160" fill="#084"/>'
    '<circle cx="90" cy="80" r="40" fill="#c02"/>'
    '<path d="M80 70h30v20h-30z" fill="#fff"/>'
)


def test_fills_without_a_stroke_show_what_lies_on_top():
    # a field in two colours, a disc over their border, a block in the disc
    disc = shapely.Point(90, 80).buffer(40, 720)
    left, block = shapely.box(0, 0, 90, 160), shapely.box(80, 70, 110, 90)
    whole = shapely.box(0, 0, 200, 160)
    wanted = [
        left.difference(disc).area,
        whole.difference(shapely.union_all([left, disc])).area,
        disc.difference(block).area,
        block.area,
    ]
    assert _areas(_svg(FLAG, "")) == pytest.approx(sorted(wanted), rel=1e-4)


def test_fills_of_one_colour_keep_their_edges():
    # nothing tells what the picture shows: they may be cells that await their paint
    lw = read_linework(_svg(_circles(), 'fill="#555"'))
    assert _length(lw) == pytest.approx(sum(2 * math.pi * r for *_, r in DISCS))


def test_a_background_that_no_fill_reaches_is_no_line_work():
    page = '<rect width="200" height="160" fill="#fff"/>'
    lw = read_linework(_svg(page + _circles(), 'fill="#555"'))
    assert _length(lw) == pytest.approx(sum(2 * math.pi * r for *_, r in DISCS))
    assert [note for note in lw.notes if note.type == "background"]


def test_very_many_fills_over_each_other_are_told_soon():
    # each hides all before it: pairs grow with the square
    body = "".join(
        f'<rect x="{k % 7}" y="{k % 5}" width="90" height="90" fill="#{k % 4096:03x}"/>'
        for k in range(4000)
    )
    start = time.process_time()
    notes = read_linework(_svg(body)).notes
    assert any("there are too many" in note.text for note in notes)
    assert time.process_time() - start < 5


def test_fills_whose_outlines_cross_themselves_everywhere_are_told_soon():
    turns = np.arange(3000)
    body = "".join(
        f'<path fill="#{k:03x}" d="M50 50'
        + "".join(
            f"L{50 + 40 * x:.2f} {50 + 40 * y:.2f}"
            for x, y in zip(np.cos(0.1 * turns + k), np.sin(0.13 * turns), strict=True)
        )
        + 'Z"/>'
        for k in range(4)
    )
    start = time.process_time()
    notes = read_linework(_svg(body)).notes
    assert any("there are too many" in note.text for note in notes)
    assert time.process_time() - start < 15


@pytest.mark.parametrize("of", ["each", "group"])
def test_what_a_clip_cuts_hides_what_the_same_clip_cuts(of: str):
    # rows of discs over each other like scales, cut by a window with a rim of its own
    places = [(30 + 20 * i + 10 * (j % 2), 30 + 10 * j)
              for j in range(9, -1, -1) for i in range(7)]  # fmt: skip
    discs = [shapely.Point(x, y).buffer(10, 90) for x, y in places]
    lines, window = [], shapely.box(43, 41, 142, 113)
    for k, disc in enumerate(discs):
        over = shapely.union_all(discs[k + 1 :])
        lines.append(disc.exterior.difference(over).intersection(window))
    whole = shapely.union_all([*lines, window.exterior])
    wanted = [p for p in shapely.get_parts(shapely.polygonize([whole])) if p.area > 0.1]
    put = 'clip-path="url(#w)"'
    body = "".join(
        f'<circle cx="{x}" cy="{y}" r="10" {put if of == "each" else ""}/>'
        for x, y in places
    )
    rect = '<rect x="43" y="41" width="99" height="72" fill="none"/>'
    drawn = f'<clipPath id="w">{rect}</clipPath><g {put if of == "group" else ""}>'
    found = _areas(_svg(f"{drawn}{body}</g>{rect}"))
    assert found == pytest.approx(sorted(p.area for p in wanted), abs=0.05)


def _filled(paths: list[str], rule: str = "nonzero") -> list[float]:
    body = "".join(f'<path d="{path}"/>' for path in paths)
    return _areas(_svg(body, f'fill="#a33" stroke="none" fill-rule="{rule}"'))


def test_a_star_filled_in_one_go_is_its_rim():
    r = 70.0
    # a regular pentagram: inner corners at r (3 - sqrt 5) / 2, area of ten triangles
    s = r * (3 - math.sqrt(5)) / 2
    whole = 5 * r * s * math.sin(math.pi / 5)
    middle = 2.5 * s**2 * math.sin(2 * math.pi / 5)
    turn = [math.pi / 2 + 4 * math.pi * k / 5 for k in range(5)]
    path = "M" + "L".join(
        f"{100 + r * math.cos(a):.9f} {80 - r * math.sin(a):.9f}" for a in turn
    )
    assert _filled([path + "Z"]) == pytest.approx([whole], rel=1e-6)
    # even-odd leaves the middle open, and a line drawn along it is seen
    tips = [(whole - middle) / 5] * 5
    pieces = pytest.approx(sorted([middle, *tips]), rel=1e-6)
    assert _filled([path + "Z"], "evenodd") == pieces
    assert _areas(_svg(f'<path d="{path}Z"/>')) == pieces


def test_rings_that_overlap_in_one_shape_are_their_union():
    ring = "M{} {}a40 40 0 1 0 80 0a40 40 0 1 0 -80 0z"
    # two discs of radius 40 whose middles are 40 apart: the lens of two segments
    lens = 2 * 40**2 * (math.pi / 3 - math.sqrt(3) / 4)
    union = 2 * math.pi * 40**2 - lens
    pair = ring.format(20, 70) + ring.format(60, 70)
    assert _filled([pair]) == pytest.approx([union], rel=1e-6)
    # drawn the other way round the second is a hole where they overlap
    back = ring.format(20, 70) + "M60 70a40 40 0 1 1 80 0a40 40 0 1 1 -80 0z"
    assert len(_filled([back])) == 3
    # sides that two parts share stay: they may be cells beside each other
    cells = "M20 20H60V80H20ZM60 20H100V80H60Z"
    assert _filled([cells]) == pytest.approx([2400.0, 2400.0])


def test_edges_inside_a_fill_are_told_and_can_be_kept():
    rings = "".join(
        f"M{x} {y}a20 20 0 1 0 40 0a20 20 0 1 0 -40 0z"
        for x, y in ((20, 50), (40, 50), (20, 70), (40, 70))
    )
    drawing = _svg(f'<path d="{rings}"/>', 'fill="#a33"')
    left, kept = read_linework(drawing), read_linework(drawing, hidden="keep")
    assert any("cross themselves" in note.text for note in left.notes)
    assert _length(kept) == pytest.approx(4 * math.tau * 20)
    assert len(build_arrangement(left).area) == 2
    assert len(build_arrangement(kept).area) > 6


def test_a_scribble_filled_across_itself_is_given_up_and_told():
    rng = np.random.default_rng(4)
    points = rng.uniform(10, 150, (6000, 2))
    path = "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in points) + "Z"
    lw = read_linework(_svg(f'<path d="{path}"/>', 'fill="#a33"'))
    assert any("were not looked for" in note.text for note in lw.notes)


def test_squares_heaped_in_one_shape_are_given_up_and_told():
    # 5,000 squares in one shape: some two million meetings of its sides
    rng = np.random.default_rng(3)
    heap = "".join(
        f"M{x:.3f} {y:.3f}h40v40h-40z" for x, y in rng.uniform(10, 110, (5000, 2))
    )
    lw = read_linework(_svg(f'<path d="{heap}"/>', 'fill="#a33"'))
    assert any("were not looked for" in note.text for note in lw.notes)


def test_a_painted_picture_of_many_shapes_shows_what_lies_on_top():
    # discs in colours of their own, ten over each other: each rim less all later discs
    rng = np.random.default_rng(11)
    count = 500
    places = rng.uniform((20, 20), (180, 140), (count, 2))
    radii = np.linspace(22, 4, count)
    body = "".join(
        f'<circle cx="{x:.4f}" cy="{y:.4f}" r="{r:.4f}" fill="#{k + 4096:06x}"/>'
        for k, ((x, y), r) in enumerate(zip(places, radii, strict=True))
    )
    lw = read_linework(_svg(body, 'stroke="none"'))
    assert not any("too many" in note.text for note in lw.notes)
    discs = shapely.buffer(shapely.points(places), radii, quad_segs=90)
    page = shapely.box(0, 0, 200, 160)
    seen, later = 0.0, shapely.Polygon()
    for disc in discs[::-1]:
        rim = shapely.boundary(disc).intersection(page)
        seen += shapely.difference(rim, later).length
        later = shapely.union(later, disc)
    assert _length(lw) == pytest.approx(seen, rel=2e-3)


def test_a_lid_over_part_leaves_what_is_seen_however_little():
    # a fifth of the lines or fewer may be seen, as long as they are no mere handful
    under = "".join(f'<path d="M{x} 10V90"/>' for x in np.arange(20, 120, 0.5))
    beside = "".join(f'<path d="M{x} 10V90"/>' for x in range(130, 150))
    lid = '<rect x="10" y="5" width="112" height="90" fill="#eee"/>'
    lw = read_linework(_svg(under + beside + lid, 'stroke="#000" stroke-width=".2"'))
    assert _length(lw) == pytest.approx(20 * 80 + 2 * (112 + 90))


@pytest.mark.parametrize("count", [1, 2])
def test_one_line_is_and_several_are(count: int) -> None:
    # so many pages of one colour, and lines hidden whole by a disc over them
    pages = '<rect width="200" height="160" fill="#fed" stroke="none"/>' * count
    under = '<path d="M70,70 h9 l-4,7" fill="none"/>' * count
    disc = '<circle cx="75" cy="75" r="20"/><path d="M10,10 h150"/>'
    lw = read_linework(_svg(pages + under + disc), scope="both")
    told = {note.type: note.text for note in lw.notes}
    number, verb = ("1 {}", "is") if count == 1 else ("2 {}s", "are")
    assert f"{number.format('line')} {verb} hidden whole" in told["hidden"]
    page = number.format("filled background")
    assert told["background"].startswith(f"{page} of the whole page {verb} not")
