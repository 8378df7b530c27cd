"""Traced sheets against their truth, and what is said where that fails."""

from __future__ import annotations

import io
import itertools
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw, ImageOps
from scipy.spatial import cKDTree
from shapely.geometry import LineString

from fillwork.errors import ReadError
from fillwork.geometry.curves import ARC, CUBIC
from fillwork.readers import read_linework
from fillwork.readers.scan.gaps import add_line, close_ends
from fillwork.readers.scan.inks import _leaves_lines, part_inks
from fillwork.readers.scan.model import Choices, Drawing, Page
from fillwork.readers.scan.overlay import number_places
from fillwork.readers.scan.sheet import find_outline
from fillwork.readers.scan.skeleton import _refined, build_network
from fillwork.readers.scan.trace import _take_ink
from tests.unit.readers.scan.sheets import (
    Faults,
    Sheet,
    make_sheet,
    parted,
    photo,
    scan,
    visible,
)

if TYPE_CHECKING:
    from fillwork.linework import LineWork

DEMO = Path(__file__).parents[4] / "demo" / "drawings" / "snack-bar-shutter.jpg"
# a small sheet, for the tests' own time
PAGE = (100.0, 120.0)
SMALL = Choices(sheet_size=PAGE)
CAMERA = (1500, 1800)


def small(name: str, seed: int) -> Sheet:
    return make_sheet(name, seed, PAGE)


def regions(linework: LineWork) -> list[shapely.Polygon]:
    """Shapely's regions of the traced lines, arcs as 24 chords."""
    t = np.linspace(0, 1, 25)
    lines = []
    for a, b in itertools.pairwise(linework.stroke_start.tolist()):
        index = np.repeat(np.arange(a, b), 25)
        lines.append(LineString(linework.curves.point(index, np.tile(t, b - a))))
    noded = shapely.union_all(lines, grid_size=1e-3)
    return visible(shapely.get_parts(shapely.polygonize([noded])))


def right(sheet: Sheet, found: list[shapely.Polygon]) -> int:
    """Count true regions that are found, whole or parted where the ink parts them."""
    tree = shapely.STRtree(found)

    def is_found(true: shapely.Polygon) -> bool:
        near = [found[k] for k in tree.query(true)]
        share = [g.intersection(true).area / g.union(true).area for g in near]
        return max(share, default=0.0) > 0.8

    return sum(
        is_found(true) or all(map(is_found, visible(parted(true))))
        for true in sheet.regions()
    )


def line_errors(sheet: Sheet, linework: LineWork) -> np.ndarray:
    true = np.vstack(
        [shapely.get_coordinates(shapely.segmentize(LineString(p), 0.05))
         for p in sheet.lines]
    )  # fmt: skip
    t = np.tile(np.linspace(0, 1, 25), len(linework.curves))
    index = np.repeat(np.arange(len(linework.curves)), 25)
    return cKDTree(true).query(linework.curves.point(index, t))[0]


@pytest.mark.parametrize(("name", "seed"), [("rings", 75), ("packing", 78)])
def test_scan_gives_every_region(name: str, seed: int) -> None:
    sheet = small(name, seed)
    data = scan(sheet, Faults(light=0.15), seed)
    found = read_linework(data, name=name, picture=SMALL)
    got = regions(found)
    assert (right(sheet, got), len(got)) == (len(sheet.regions()),) * 2
    assert np.percentile(line_errors(sheet, found), 95) < 0.2
    assert found.trace is not None
    assert found.trace.pen_width == pytest.approx(0.5, abs=0.08)


def test_what_is_wrong_is_not_sure() -> None:
    # a row of triangles 2 mm high at the frame, hard for a pen 0.5 mm wide
    sheet = small("triangles", 71)
    found = read_linework(scan(sheet, Faults(), 71), name="hard", picture=SMALL)
    got = regions(found)
    true = len(sheet.regions())
    assert found.trace is not None
    assert right(sheet, got) > 0.9 * true
    assert (right(sheet, got), len(got)) == (true, true) or not found.trace.sure


def test_doubts_that_were_looked_at_are_none() -> None:
    sheet = small("bricks", 74)
    # a line that ends alone in the middle of a brick
    x, y = sheet.regions()[4].centroid.coords[0]
    sheet.lines.append(np.array([[x - 2, y], [x + 2, y]]))
    data = scan(sheet, Faults(), 74)
    found = read_linework(data, name="x", picture=SMALL).trace
    assert found is not None
    assert not found.sure
    seen = replace(SMALL, settled=tuple(d.at for d in found.doubtful))
    again = read_linework(data, name="x", picture=seen)
    assert again.trace is not None
    assert again.trace.sure
    assert "place without use" not in [n.type for n in again.notes]
    # places of another sheet are told
    off = replace(seen, settled=(*seen.settled, (150.0, 3.0)), inked=((9.0, 400.0),))
    told = read_linework(data, name="x", picture=off).notes
    said = [n.text for n in told if n.type == "place without use"]
    assert len(said) == 2
    assert all("off the sheet, 100 x 120 mm" in text for text in said)


@pytest.mark.parametrize("name", ["stars"])
def test_photograph_gives_every_region(name: str) -> None:
    sheet = small(name, 72)
    data, corners = photo(sheet, Faults(tilt=15, light=0.2, lens=0.01), 72, CAMERA)
    found = read_linework(data, name=name, picture=SMALL)
    assert found.trace is not None
    assert np.abs(np.array(found.trace.corners) - corners).max() < 2.0
    assert right(sheet, regions(found)) == len(sheet.regions())
    assert np.percentile(line_errors(sheet, found), 95) < 0.15


def test_lines_that_cross_beside_the_frame_reach_it() -> None:
    # three lines through one point 3 mm inside, the ends of circles at small angles
    frame = shapely.box(10, 10, 70, 70)
    ways = [np.array([np.cos(a), np.sin(a)]) for a in np.radians([0, 60, 120])]
    drawn = [LineString([[67, 40] - 99 * d, [67, 40] + 99 * d]) for d in ways]
    drawn += [shapely.Point(13, y).buffer(14, 64).exterior for y in (33, 47)]
    lines = [np.asarray(frame.exterior.coords)]
    for line in drawn:
        inside = shapely.line_merge(line.intersection(frame))
        lines.extend(np.asarray(g.coords) for g in shapely.get_parts(inside))
    sheet = Sheet("beside", (80.0, 80.0), lines)
    data = scan(sheet, Faults(wobble=0.1), 7)
    choices = Choices(sheet_size=sheet.page)
    found = read_linework(data, name="beside", picture=choices)
    assert right(sheet, regions(found)) == len(sheet.regions())
    assert found.trace is not None
    assert found.trace.sure


def test_circles_come_as_arcs_and_lines_as_lines() -> None:
    sheet = small("rings", 73)
    found = read_linework(scan(sheet, Faults(), 73), name="rings", picture=SMALL)
    arcs = found.curves.kind == ARC
    radius = np.hypot(*found.curves.data[arcs, 2:4].T)
    assert not (found.curves.kind == CUBIC).any()
    # four true circles: every arc has one of four radii
    assert arcs.any()
    assert not arcs.all()
    assert len(np.unique(np.round(radius / 0.6))) <= 8


def test_free_curves_come_as_few_beziers() -> None:
    sheet = small("blobs", 77)
    found = read_linework(scan(sheet, Faults(), 77), name="blobs", picture=SMALL)
    assert right(sheet, regions(found)) == len(sheet.regions())
    free = int((found.curves.kind == CUBIC).sum())
    assert free > 0
    # a wave of three lobes bends one way, then the other: six runs, two curves each
    assert free <= 12 * len(sheet.lines)
    assert np.percentile(line_errors(sheet, found), 95) < 0.2


def test_pencil_is_left_and_kept_on_request() -> None:
    sheet = small("bricks", 74)
    data = scan(sheet, Faults(pencil=175), 74)
    plain = read_linework(data, name="x", picture=SMALL)
    assert right(sheet, regions(plain)) == len(sheet.regions())
    kept = read_linework(
        data, name="x", picture=Choices(sheet_size=PAGE, pencil="keep")
    )
    layers = {kept.stroke(k).layer for k in range(kept.stroke_count)}
    assert "pencil" in layers


@pytest.mark.parametrize("pencil", [190, None])
def test_lines_pressed_half_as_dark_are_the_pens(pencil) -> None:
    # pencil is lighter still, or else the dark lines end on them
    sheet = small("stars", 74)
    expected = len(sheet.regions())
    light = sheet.lines[::5]
    sheet.others = [(line, 0.5, (135, 135, 135)) for line in light]
    sheet.lines = [line for k, line in enumerate(sheet.lines) if k % 5]
    data = scan(sheet, Faults(pencil=pencil), 74)
    found = read_linework(data, name="x", picture=SMALL)
    assert found.trace is not None
    assert ["taken with them" in d.what for d in found.trace.doubtful] == [True]
    assert len(regions(found)) == expected


def test_lighter_lines_that_nothing_ends_on_stay_out_and_are_told() -> None:
    sheet = small("bricks", 74)
    across = [np.array([(9.0, y), (60.0, y + 15.0)]) for y in (12.0, 24.0, 36.0)]
    sheet.others = [(line, 0.5, (135, 135, 135)) for line in across]
    found = read_linework(scan(sheet, Faults(), 74), name="x", picture=SMALL)
    assert found.trace is not None
    assert len(regions(found)) == len(sheet.regions())
    assert any("taken for pencil" in d.what for d in found.trace.doubtful)
    assert not found.trace.sure


def test_coarse_grain_of_brown_paper_hides_no_line() -> None:
    # grain of 0.4 mm that strays by a tenth of the paper's blue
    sheet = small("stars", 79)
    flat = Image.open(io.BytesIO(scan(sheet, Faults(grain=0.0), 79)))
    shape = flat.height // 5 + 1, flat.width // 5 + 1
    coarse = np.random.default_rng(79).normal(0.0, 12.0, shape).astype(np.float32)
    grain = Image.fromarray(coarse).resize(flat.size, Image.Resampling.BICUBIC)
    brown = np.asarray(flat, np.float32) * np.array([190.0, 160.0, 120.0]) / 246.0
    brown = np.clip(brown + np.asarray(grain)[:, :, None], 0, 255).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(brown).save(out, "PNG", dpi=(300, 300))
    found = read_linework(out.getvalue(), name="brown", picture=SMALL)
    assert found.trace is not None
    got = regions(found)
    assert (right(sheet, got), len(got)) == (len(sheet.regions()),) * 2


def test_paint_between_the_lines_is_no_line() -> None:
    sheet = make_sheet("crosses", 74, (80.0, 90.0))
    whole = Choices(sheet_size=sheet.page)
    shapes = [s for s in sheet.regions() if s.area < 200 and not s.interiors]
    sheet.paint = [(s, (240, 190, 60)) for s in shapes[::3]]
    sheet.paint += [(s.buffer(0.6), (110, 165, 215)) for s in shapes[1::3]]
    # black is the pen's own colour: the outline is found, and what it hides is told
    black = max(shapes[2::3], key=lambda s: s.area)
    for paint, hidden in (([], False), ([(black, (25, 25, 25))], True)):
        sheet.paint += paint
        data = scan(sheet, Faults(), 74, 200)
        found = read_linework(data, name="x", picture=whole)
        assert right(sheet, regions(found)) == len(sheet.regions())
        assert found.trace is not None
        told = [d.what for d in found.trace.doubtful if "dark as the pen" in d.what]
        assert bool(told) == hidden


def _strokes(box: tuple[float, float, float, float], step: float) -> list[np.ndarray]:
    x0, y0, x1, y1 = box
    return [np.array([(x, y0), (x, y1)]) for x in np.arange(x0 + step, x1, step)]


def test_lettering_and_hatching_draw_no_region() -> None:
    frame = [(10, 10), (60, 10), (60, 50), (10, 50), (10, 10)]
    sides = [np.array([(25.0, 10), (25, 50)]), np.array([(42.0, 10), (42, 50)])]
    sheet = Sheet("panel", (70.0, 60.0), [np.array(frame, float), *sides])
    a = np.array([(0, 0), (1.5, 4), (3, 0), (2.4, 1.5), (0.6, 1.5)])
    angle = np.arange(13) * np.pi / 6
    o = 2 + 1.6 * np.c_[np.cos(angle), np.sin(angle)]
    t = np.array([(0, 4), (3, 4), (1.5, 4), (1.5, 0)])
    words = [g + np.array([15 + 4.5 * k, 3]) for k, g in enumerate((a, o, t, a))]
    sheet.others = [(g, 0.5, (25, 25, 25)) for g in [*words, a + np.array([31, 30])]]
    short = _strokes((26, 12, 41, 27), 1.4)
    thin = _strokes((42, 10, 60, 50), 1.4)
    sheet.others += [(line, 0.5, (25, 25, 25)) for line in short]
    sheet.others += [(line, 0.25, (25, 25, 25)) for line in thin]
    whole = Choices(sheet_size=sheet.page)
    found = read_linework(scan(sheet, Faults(), 7, 250), name="x", picture=whole)
    assert right(sheet, regions(found)) == len(regions(found)) == 3
    assert found.trace is not None
    told = [d.what for d in found.trace.doubtful]
    assert told.count("lettering that was left out") == 2
    assert told.count("hatching that was left out") == 2
    # with the pen of the other lines, from line to line, they part narrow regions
    sheet.others = []
    sheet.lines += _strokes((42, 10, 60, 50), 2.0)
    found = read_linework(scan(sheet, Faults(), 7, 250), name="x", picture=whole)
    assert right(sheet, regions(found)) == len(sheet.regions())
    assert found.trace is not None
    assert not found.trace.sure


@pytest.mark.parametrize("blots", [0, 2])
def test_ink_that_all_looks_like_lettering_stays_and_is_told(blots: int) -> None:
    # an open arc of 7 mm stands alone as a letter does; beside it at most blots, which
    # are no lines
    picture = Image.new("L", (600, 600), 248)
    pen = ImageDraw.Draw(picture)
    pen.arc([200, 200, 284, 284], -70, 100, fill=15, width=8)
    for k in range(blots):
        pen.ellipse([100 + 200 * k, 80, 116 + 200 * k, 96], fill=15)
    out = io.BytesIO()
    picture.save(out, "PNG", dpi=(300, 300))
    found = read_linework(out.getvalue(), name="arc")
    assert found.stroke_count == 1
    assert found.curves.kind.tolist() == [ARC]
    assert found.trace is not None
    assert not found.trace.sure
    assert "and was kept" in found.trace.doubtful[-1].what


def test_a_sheet_not_wholly_seen_is_refused() -> None:
    picture = Image.new("RGB", (600, 800), (112, 84, 60))
    corners = [(90, 80), (520, 95), (505, 700), (70, 690)]
    ImageDraw.Draw(picture).polygon(corners, fill=(240, 240, 236))
    whole = np.asarray(picture)
    assert find_outline(whole, "x") is not None
    for cut in (whole[:, 160:], whole[:-200], whole[160:, 160:]):
        with pytest.raises(ReadError, match=r"out of the picture|no paper"):
            find_outline(cut, "x")
    with pytest.raises(ReadError, match="two sheets"):
        find_outline(np.hstack([whole, whole]), "x")
    # a shadow over half of it leaves the sheet whole
    shade = np.where(np.arange(whole.shape[1]) < 250, 1.0, 0.55)[:, None]
    found = find_outline((whole * shade).astype("u1"), "x")
    assert found is not None
    assert np.allclose(found.corners, corners, atol=2)


def test_a_closed_frame_is_not_taken_for_the_sheet() -> None:
    # a sheet with a wide margin, parted by its frame from a middle that is larger
    image = Image.new("RGB", (800, 1000), (112, 84, 60))
    pen = ImageDraw.Draw(image)
    pen.rectangle([100, 100, 699, 899], fill=(240, 240, 240))
    pen.rectangle([160, 160, 639, 839], outline=(20, 20, 20), width=6)
    found = find_outline(np.asarray(image), "x")
    assert found is not None
    want = [[100, 100], [700, 100], [700, 900], [100, 900]]
    assert np.abs(found.corners - want).max() < 1.0


def test_fading_light_is_no_edge_of_the_sheet() -> None:
    y, x = np.mgrid[0:900, 0:640]
    fade = 240 - 0.25 * np.hypot(x - 320, y - 450)
    assert find_outline(np.repeat(fade[:, :, None], 3, 2).astype("u1"), "s") is None


def test_the_demo_photograph_gives_its_regions_and_again_the_same() -> None:
    data = DEMO.read_bytes()
    choices = Choices(sheet_size=(105.0, 148.0))
    one, two = (read_linework(data, name=n, picture=choices) for n in ("a", "b"))
    assert one.trace is not None
    assert one.trace.sure
    # stars, circles, crosses, halves of crosses at the frame, corners
    assert len(regions(one)) == 12 + 12 + 6 + 10 + 4
    assert one.curves.data.tobytes() == two.curves.data.tobytes()
    assert one.trace == two.trace


@pytest.mark.parametrize(
    ("middle", "said", "taken"),
    [(80, (), 1), (94, (), 0), (94, ((5.0, 15.0),), 0), (94, ((22.0, 15.0),), 1)],
)
def test_ink_that_was_left_becomes_a_line_where_straight_or_said(
    middle: int, said: tuple[tuple[float, float], ...], taken: int
) -> None:
    image = Image.new("1", (160, 120))
    pen = ImageDraw.Draw(image)
    corners = np.array([[23, 23], [137, 23], [137, 97], [23, 97], [23, 23]], float)
    pen.line(corners.ravel().tolist(), 1, 6)
    pen.line([(80, 23), (middle, 60), (80, 97)], 1, 6, joint="curve")
    drawing = Drawing([], [], 6.0)
    for start, stop in itertools.pairwise(corners):
        add_line(drawing, start, stop)
    page = Page(np.empty((120, 160, 3), np.uint8), 4.0, (40.0, 30.0), (), True)
    far = (3.0, 3.0)
    meant = replace(SMALL, inked=(*said, far))
    idle = _take_ink(np.array(image), drawing, 0.5, meant, page)
    assert len(drawing.pieces) == 4 + taken
    # what was named and met nothing is told
    assert idle == [at for at in meant.inked if at != (22.0, 15.0)]
    close_ends(drawing, 14.0)
    noded = shapely.union_all(
        [LineString([drawing.vertices[v] for v in p.vertices]) for p in drawing.pieces],
        grid_size=1e-3,
    )
    assert len(shapely.get_parts(shapely.polygonize([noded]))) == 1 + taken


@pytest.mark.parametrize("y", [39.2, 39.6, 40.4, 40.8])
def test_an_end_that_passes_a_corner_by_goes_to_the_corner(y: float) -> None:
    drawing = Drawing([np.array(p) for p in ((10.0, 10.0), (60.0, 40.0))], [], 6.0)
    add_line(drawing, *drawing.vertices)
    drawing.pieces[0].vertices = [0, 1]
    add_line(drawing, drawing.vertices[1], np.array([10.0, 70.0]))
    drawing.pieces[1].vertices[0] = 1
    add_line(drawing, np.array([68.0, y]), np.array([99.0, y]))
    close_ends(drawing, 14.0)
    through = drawing.through()
    # all but the three far ends are met
    assert sum(len(met) == 1 for met in through.values()) == 3


def test_a_short_stroke_of_one_more_row_of_pixels_stays() -> None:
    # a stroke of three widths between a corner of two lines and a third line
    image = Image.new("L", (160, 200))
    pen = ImageDraw.Draw(image)
    pen.rectangle([120, 10, 125, 190], 1)
    pen.rectangle([100, 97, 120, 103], 1)
    pen.line([(60, 20), (101, 100), (60, 180)], 1, 6, joint="curve")
    mask = np.array(image) > 0
    network = build_network(mask, mask.astype(np.float32))
    met = network.at_node()
    assert sorted(len(ends) for ends in met.values()) == [1, 1, 1, 1, 3, 3]


def test_the_middle_of_a_line_is_not_drawn_to_another_beside_it() -> None:
    # two strokes of 6 px, three pixels of paper between them
    grey = np.zeros((60, 200), np.float32)
    grey[20:26] = grey[29:35] = 1.0
    points = np.stack([np.arange(200.0), np.full(200, 22.0)], 1)
    # rows 20 to 25: their middle is at 22.5
    assert np.allclose(_refined(points, grey, 6.0)[:, 1], 22.5, atol=0.1)


def test_a_sheet_whose_edges_do_not_show_is_never_sure() -> None:
    sheet = small("bricks", 74)
    flat = Image.open(io.BytesIO(scan(sheet, Faults(), 74, 200)))
    # a white table around it
    wide = ImageOps.expand(flat, (60, 0), (246, 246, 246))
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x829A] = (1, 60)
    for image, more in ((wide, {}), (flat, {"exif": exif})):
        out = io.BytesIO()
        image.save(out, "JPEG", quality=92, **more)
        found = read_linework(out.getvalue(), name="x", picture=SMALL).trace
        assert found is not None
        (told,) = (d for d in found.doubtful if "edges were not found" in d.what)
        # an option of every command that takes a picture; `--corners` is another one
        assert "--sheet-corners" in told.remedy
        assert not found.sure


def test_ink_that_is_lighter_in_places_is_no_second_ink() -> None:
    dark = np.zeros((300, 300, 3), np.float32)
    for row in range(30, 280, 30):
        dark[row : row + 4, 20:280] = 0.92
        for column in range(30, 280, 18):
            dark[row : row + 4, column : column + 6] = 0.74
    inks = part_inks(dark, 12.0)
    assert inks.other is not None
    assert not inks.doubtful
    # what is left of it makes lines, where they are longer than a speck
    inked = np.zeros((300, 300), bool)
    inked[100:104, 20:280] = True
    pen = inked.copy()
    pen[:, 100:110] = False
    assert not _leaves_lines(inked, pen, 12.0)
    inked[150:154, 40:76] = True
    assert _leaves_lines(inked, pen, 12.0)


def test_numbers_of_rings_keep_clear_of_each_other() -> None:
    rng = np.random.default_rng(5)
    rings = [(float(x), float(y)) for x, y in rng.uniform(200, 340, (9, 2))]
    rings += [(3.0, 4.0), (990.0, 700.0)]
    placed = number_places(rings, 20.0, (1000.0, 720.0))
    gaps = [np.hypot(*np.subtract(a, b)) for a, b in itertools.combinations(placed, 2)]
    assert min(gaps) >= 0.95 * 2 * 20.0
    assert all(20 <= x <= 980 and 20 <= y <= 700 for x, y in placed)


def test_named_corners_are_taken() -> None:
    sheet = small("bricks", 76)
    data, corners = photo(sheet, Faults(tilt=10), 76, CAMERA)
    named = tuple((float(x), float(y)) for x, y in corners)
    choices = Choices(sheet_size=PAGE, corners=named)
    found = read_linework(data, name="x", picture=choices)
    assert right(sheet, regions(found)) == len(sheet.regions())


def test_the_table_beside_the_sheet_is_no_ink() -> None:
    # corners named a little outside the sheet, as one who drags them by eye does
    sheet = small("bricks", 76)
    data, corners = photo(sheet, Faults(tilt=10, noise=6.0, quality=60), 76, CAMERA)
    away = corners - corners.mean(axis=0)
    away *= 4.0 / np.hypot(*away.T)[:, None]
    named = tuple((float(x), float(y)) for x, y in corners + away)
    found = read_linework(
        data, name="x", picture=Choices(sheet_size=PAGE, corners=named)
    )
    assert right(sheet, regions(found)) == len(sheet.regions())
    low, high = 1.0, np.array(PAGE) - 1.0
    points = found.curves.starts()
    assert ((points > low) & (points < high)).all()


def test_a_scan_has_no_corners() -> None:
    white = np.full((900, 640, 3), 240, np.uint8)
    assert find_outline(white, "white") is None
