"""What a class gets, counted and looked at from outside."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from fillwork.errors import PlanError
from fillwork.geometry import affine
from fillwork.plans.model import SheetSettings
from fillwork.renderers.layout import Page
from fillwork.renderers.scene import Fills, Labels, Placed, Strokes, Text
from fillwork.renderers.sheets.compose import compose_sheets
from fillwork.renderers.sheets.hatching import PATTERNS, patterns_by_density
from fillwork.renderers.sheets.parts import Parts, _lightness
from fillwork.renderers.sheets.teaching import compose_trials
from fillwork.units import page_size
from tests.unit.renderers.patterns import (
    arrangement_from_polygons,
    colouring_of,
    kinds_by_area,
    outlines_of,
    star_pattern,
)


@pytest.fixture(scope="module")
def drawing():
    return star_pattern(4, 3, 40.0, (3.0, 5.0))


def pack(drawing, **settings):
    kinds = kinds_by_area(drawing)
    return compose_sheets(
        Parts(
            drawing,
            outlines_of(drawing),
            kinds,
            colouring_of(kinds, 3, 0),
            None,
            SheetSettings(**settings),
            real_scale=1.0,
            scale_known=True,
            title="Panel",
        )
    )


def kind(scene):
    return scene.name.partition("-")[0]


def words(scene):
    return [i.text for i in scene.items if isinstance(i, Text)]


def inside(scene, wanted):
    found = []

    def walk(items):
        for item in items:
            if isinstance(item, wanted):
                found.append(item)
            elif isinstance(item, Placed):
                walk(item.picture.items)

    walk(scene.items)
    return found


@pytest.mark.parametrize("pupils", [2, 24])
def test_each_pupil_has_a_set_and_the_teacher_one(drawing, pupils):
    pages = pack(drawing, teach=pupils)
    names = [kind(p) for p in pages]
    own = ["numbered", "blank", "model"]
    assert names[-3 * pupils :] == own * pupils
    assert names[0] == "class"
    for name in ("coloured", "repeat", "trials"):
        assert names.count(name) == 1
    assert names.count("steps") == 3  # one a paint
    # a line for the name on the pupils' pages alone
    named = [kind(p) for p in pages if "Name" in words(p)]
    assert named == own * pupils
    # the overview says how many sheets that takes, and which pages to copy
    told = words(pages[0])
    assert str(len(pages)) in told
    text = " ".join(told)
    first = len(pages) - 3 * pupils + 1
    assert f"pages {first} to {len(pages)} of this file" in text
    assert f"make {pupils} copies of each" in text


def test_chosen_sheets_are_what_a_pupil_gets(drawing):
    pages = pack(drawing, teach=5, sheets=("blank",))
    assert [kind(p) for p in pages[-5:]] == ["blank"] * 5
    assert "numbered" not in {kind(p) for p in pages}


def test_model_has_one_star_coloured_and_numbers_in_the_rest(drawing):
    pages = {kind(p): p for p in pack(drawing, teach=1)}
    fills = [f for f in inside(pages["model"], Fills) if f.code]
    done = np.unique(np.concatenate([f.rows for f in fills]))
    assert 2 <= len(done) < (drawing.face_count - 1) / 2
    # one figure: the regions hang together by their sides
    whole = shapely.union_all(drawing.polygons(done))
    assert whole.geom_type == "Polygon"
    # stars stand 40 mm apart: of four by three, one of those about the middle
    low, high = drawing.vertices.min(axis=0), drawing.vertices.max(axis=0)
    assert whole.centroid.distance(shapely.Point((low + high) / 2)) <= 40.0
    (numbers,) = inside(pages["model"], Labels)
    all_numbers, *_ = inside(pages["numbered"], Labels)
    assert len(numbers.at) == len(all_numbers.at) - len(done)


def test_trials_are_six_alike(drawing):
    (page,) = (p for p in pack(drawing, teach=1) if kind(p) == "trials")
    drawn = [i for i in page.items if isinstance(i, Placed)]
    assert len(drawn) == 6
    assert len({(round(d.map[0], 9), round(d.map[3], 9)) for d in drawn}) == 1


def test_black_copies_hatch_the_answer_and_the_key(drawing):
    for page in pack(drawing, teach=1, hatch=True):
        for fill in inside(page, Fills):
            assert len({fill.colour[k : k + 2] for k in (1, 3, 5)}) == 1, page.name


def test_what_stays_bare_is_white_on_black_copies(drawing):
    from fillwork.renderers.sheets.key import key_entries
    from fillwork.renderers.sheets.parts import Parts

    kinds = kinds_by_area(drawing)
    colouring = colouring_of(kinds, 3, 0)
    bare = colouring.palette.swatches[1].name
    colouring = replace(colouring, rules=replace(colouring.rules, bare=(bare,)))
    parts = Parts(
        drawing,
        outlines_of(drawing),
        kinds,
        colouring,
        None,
        SheetSettings(hatch=True),
        real_scale=1.0,
        scale_known=True,
        title="Panel",
    )
    plain = {e.name for e in key_entries(drawing, colouring, 1.0)}
    assert {e.name for e in parts.entries if e.pattern >= 0} == plain - {bare}
    assert [e.hex for e in parts.entries if e.pattern < 0] == ["#ffffff"]


def test_darker_paints_have_denser_hatches():
    for count in (3, 8, 16):
        rows = patterns_by_density(count)
        assert len(set(rows)) == count
        ink = [len(PATTERNS[k][0]) / PATTERNS[k][1] for k in rows]
        assert ink == sorted(ink)


@pytest.mark.reference("ITU-R BT.709-6, item 3.2: luma of a colour")
def test_colours_are_ordered_by_their_luma():
    # each channel alone, as 255ths
    shares = [_lightness(f"#{bits}") for bits in ("ff0000", "00ff00", "0000ff")]
    assert shares == pytest.approx([255 * v for v in (0.2126, 0.7152, 0.0722)])
    assert _lightness("#ffffff") == pytest.approx(255)
    assert _lightness("#102030") == pytest.approx(
        0.2126 * 16 + 0.7152 * 32 + 0.0722 * 48
    )


def test_class_and_copies_both_are_refused():
    with pytest.raises(PlanError, match="24 pupils and 3 copies"):
        SheetSettings(teach=24, copies=3)
    assert SheetSettings(teach=True, copies=3).pupils == 3
    assert SheetSettings(copies=3).pupils == 0


def test_leaf_is_told_to_be_none_for_a_class(drawing):
    kinds = kinds_by_area(drawing)
    colouring = colouring_of(kinds, 3, 0)
    first, *others = colouring.palette.swatches
    swatches = (replace(first, medium="leaf"), *others)
    gilt = replace(colouring, palette=replace(colouring.palette, swatches=swatches))

    def told(colours):
        pages = compose_sheets(
            Parts(
                drawing,
                outlines_of(drawing),
                kinds,
                colours,
                None,
                SheetSettings(teach=2, sheets=("blank",)),
                real_scale=1.0,
                scale_known=True,
                title="Panel",
            )
        )
        return [n.text for n in pages[0].notes if n.type == "not for a class"]

    assert told(colouring) == []
    (text,) = told(gilt)
    assert first.name in text


PAPERS = ["A4", "A5", "A5-landscape", "A6", "A6-landscape"]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("swatches", [3, 12])
def test_the_overview_counts_all_its_pages_and_keeps_on_them(drawing, paper, swatches):
    kinds = kinds_by_area(drawing)
    pages = compose_sheets(
        Parts(
            drawing,
            outlines_of(drawing),
            kinds,
            colouring_of(kinds, swatches, 0),
            None,
            SheetSettings(teach=4, paper=paper, sheets=("numbered", "blank")),
            real_scale=1.0,
            scale_known=True,
            title="Panel",
        )
    )
    own = [p for p in pages if kind(p) == "class"]
    told = " ".join(text for page in own for text in words(page))
    assert f" {len(pages)} " in f"{told} "
    first = next(k for k, p in enumerate(pages, start=1) if kind(p) == "numbered")
    assert f"pages {first} to {len(pages)} of this file" in told
    assert ("With this page" in told) == (len(own) == 1)
    for page in own:
        for item in page.items:
            if isinstance(item, Text):
                assert 10 <= item.at[1] <= page.height - 10, (page.name, item.text)
    # the table and what is below it stand over the foot, line by line
    rows = [i.at[1] for p in own for i in p.items if isinstance(i, Text) and i.row]
    assert min(rows) >= 24.0
    assert len({page.name for page in own}) == len(own)


@pytest.mark.parametrize(
    ("pupils", "sheets", "told"),
    [
        (2, ("schedule",), "The sheets chosen give no page for pupils."),
        (1, ("blank",), "The pupil's set is page {0} of this file."),
        (1, ("blank", "numbered"), "The pupil's set is pages {0} to {1} of"),
        (2, ("blank",), "The pupils' sets, 1 page each, are pages {0} to {1} of this"),
    ],
)
def test_pages_of_pupils_are_told_as_they_are(drawing, pupils, sheets, told):
    pages = pack(drawing, teach=pupils, sheets=sheets)
    own = [k for k, page in enumerate(pages, start=1) if kind(page) in sheets]
    text = " ".join(words(pages[0]))
    assert told.format(min(own, default=0), max(own, default=0)) in text
    # what is printed for one is the set already
    assert ("of each" in text) == (pupils > 1 and "no page" not in told)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("size", [(20.0, 400.0), (400.0, 20.0), (90.0, 100.0)])
def test_trials_do_not_lie_over_each_other(paper, size):
    wide, high = size
    cut = np.linspace(0.0, 1.0, 9)
    squares = [
        shapely.box(5 + wide * a, 5, 5 + wide * b, 5 + high)
        if wide > high
        else shapely.box(5, 5 + high * a, 5 + wide, 5 + high * b)
        for a, b in pairwise(cut.tolist())
    ]
    strip = arrangement_from_polygons(squares, wide + 10, high + 10)
    kinds = kinds_by_area(strip)
    colouring = colouring_of(kinds, 8)
    of_face = np.r_[-1, np.arange(8)].astype(np.int32)
    settings = SheetSettings(paper=paper)
    parts = Parts(
        strip,
        outlines_of(strip),
        kinds,
        replace(colouring, of_face=of_face),
        None,
        settings,
        real_scale=1.0,
        scale_known=True,
        title="Strip",
    )
    body = Page(*page_size(paper)).body
    items, scale = compose_trials(parts, body)
    trials = []
    for item in items:
        if isinstance(item, Placed):
            low = affine.apply(item.map, np.full((1, 2), 5.0))[0]
            trials.append([shapely.box(*low, *(low + np.array(size) * scale))])
        elif isinstance(item, Strokes):
            ends = item.curves.data[:, :4].reshape(-1, 2)
            trials[-1].append(shapely.box(*ends.min(axis=0), *ends.max(axis=0)))
    # eight fields under each of six drawings, all apart and in their room
    assert [len(boxes) for boxes in trials] == [9] * 6
    boxes = np.array([box for trial in trials for box in trial])
    assert shapely.area(shapely.union_all(boxes)) == pytest.approx(
        shapely.area(boxes).sum()
    )
    assert shapely.box(*body).buffer(1e-6).contains(shapely.union_all(boxes))
