"""Clips: what each leaves, whose outlines become edges, and what is counted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.errors import ReadError
from fillwork.geometry import affine
from fillwork.readers.limits import NORMAL
from fillwork.readers.strokes.clip import (
    Budget,
    _boxed_groups,
    _grown,
    _region,
    _Windows,
    as_region,
    clip_regions,
    cut_by_clips,
    cut_strokes,
    gathered_region,
)
from fillwork.readers.strokes.collect import Collector, Context, StrokeTable
from fillwork.readers.strokes.cutting import Region
from fillwork.readers.strokes.drawn import Clip, Drawn
from fillwork.readers.strokes.page import MM_PER_PX, Page
from tests.unit.readers.strokes.tables import (
    Row,
    about,
    arc,
    box,
    ends,
    fill,
    line,
    polygon,
    table,
)

TWICE = (2.0, 0.0, 0.0, 2.0, 0.0, 0.0)


def walked(items: list[Context], clips: list[Clip]) -> Drawn:
    walk = Drawn(NORMAL, "a.svg", Collector(NORMAL, "a.svg"), clips)
    for context in items:
        walk.collector.add_item(walk.context(context), 1, "path")
    return walk


def cut(
    strokes: StrokeTable, items: list[Context], clips: list[Clip],
    page: affine.Affine = affine.IDENTITY,
) -> tuple[StrokeTable, dict[str, int]]:  # fmt: skip
    counts = {"cut": 0, "outside": 0, "edges": 0}
    budget = Budget(NORMAL, "a.svg")
    walk = walked(items, clips)
    return cut_by_clips(strokes, walk, page, budget, counts), counts


def test_a_budget_ends_with_its_last_step() -> None:
    few = replace(NORMAL, cut_steps=1000)
    budget = Budget(few, "a.svg", share=0.25)
    budget.spend(250)
    assert budget.left == 0
    with pytest.raises(ReadError, match="more than 1,000 comparisons with clips"):
        budget.spend(1)
    assert Budget(few, "a").left == 1000


def page_of(width: float, height: float) -> Page:
    page = Page()
    page.width, page.height = width / MM_PER_PX, height / MM_PER_PX
    page.has_page = True
    return page


def test_the_page_cuts_what_runs_over_it() -> None:
    strokes = table(
        [line(10, 10, 20, 20)],
        [line(-10, 5, 10, 5)],
        [line(90, 5, 110, 5)],
        [line(50, -10, 50, 10)],
        [line(50, 40, 50, 60)],
        [line(200, 5, 220, 5)],
    )
    walk = walked([about()] * 6, [])
    got, counts = cut_strokes(strokes, walk, page_of(100, 50), NORMAL)
    assert counts == {"cut": 4, "outside": 1, "edges": 0}
    assert got.item.tolist() == [0, 1, 2, 3, 4]
    assert ends(got)[1:] == [
        [0, 5, 10, 5], [90, 5, 100, 5], [50, 0, 50, 10], [50, 40, 50, 50],
    ]  # fmt: skip
    assert cut_strokes(strokes, walk, Page(), NORMAL)[0] is strokes


@pytest.mark.parametrize(("off", "kept"), [(0.0009, True), (0.0011, False)])
def test_a_line_on_the_edge_of_the_page_may_be_off_by_a_thousandth(
    off: float, kept: bool
) -> None:
    for row in (
        line(-off, 5, -off, 20),
        line(100 + off, 5, 100 + off, 20),
        line(5, -off, 20, -off),
        line(5, 50 + off, 20, 50 + off),
    ):
        got, _ = cut_strokes(
            table([row]), walked([about()], []), page_of(100, 50), NORMAL
        )
        assert len(got.closed) == kept
    # and on a small page by a ten-thousandth of its longer side
    for much, left in ((0.9e-4, 1), (1.1e-4, 0)):
        small = table([line(0.1, -much, 0.2, -much)])
        walk = walked([about()], [])
        assert len(cut_strokes(small, walk, page_of(1, 0.5), NORMAL)[0].closed) == left


def test_clips_cut_one_inside_another() -> None:
    # the inner lies in units of half a mm; its own clip is around it
    clips = [
        Clip(-1, affine.IDENTITY, (0.0, 0.0, 30.0, 10.0)),
        Clip(0, (0.5, 0.0, 0.0, 0.5, 0.0, 0.0), (0.0, 0.0, 40.0, 40.0)),
    ]
    strokes = table(*[[line(-5, 5, 50, 5)]] * 3, [line(5, -5, 5, 50)])
    items = [about(), about(clip=0), about(clip=1), about(clip=1)]
    got, counts = cut(strokes, items, clips)
    assert ends(got) == [[-5, 5, 50, 5], [0, 5, 30, 5], [0, 5, 20, 5], [5, 0, 5, 10]]
    assert counts["outside"] == 0
    assert counts["cut"] == 4, "the last by both"
    got, counts = cut(table([line(-5, 50, 50, 50)]), [about(clip=0)], clips)
    assert len(got.closed) == 0
    assert counts == {"cut": 0, "outside": 1, "edges": 0}
    # on a page of twice the size
    got, _ = cut(table([line(-5, 5, 90, 5)]), [about(clip=1)], clips, TWICE)
    assert ends(got) == [[0, 5, 40, 5]]


def shaped(rows: list[Row], **changed: object) -> Clip:
    region = as_region(table(rows, closed=True), np.zeros(1, bool))
    return Clip(-1, affine.IDENTITY, shape=region, **changed)


def test_where_a_clip_cuts_a_fill_its_outline_is_an_edge() -> None:
    square = shaped(box(0, 0, 10, 10))
    got, counts = cut(table(box(5, 5, 10, 10), closed=True), [fill(clip=0)], [square])
    assert sorted(ends(got)) == [
        [5, 5, 10, 5],
        [5, 10, 5, 5],
        [10, 5, 10, 10],
        [10, 10, 5, 10],
    ]
    assert counts == {"cut": 1, "outside": 0, "edges": 0}
    # the clip's own edge alone is left of a fill that covers it
    got, _ = cut(table(box(-5, -5, 30, 30), closed=True), [fill(clip=0)], [square])
    assert len(got.kind) == 4
    assert got.item.tolist() == [0] * 4
    # not of what it leaves whole, of strokes, of tiles
    whole = table(box(2, 2, 3, 3), closed=True)
    assert len(cut(whole, [fill(clip=0)], [square])[0].kind) == 4
    over = table(box(5, 5, 10, 10), closed=True)
    for context in (about(clip=0), fill(clip=0, laid=True), fill(clip=0, stroked=True)):
        assert len(cut(over, [context], [square])[0].kind) == 2
    # where the outline is drawn besides it is none of the fill's
    drawn = shaped(box(0, 0, 10, 10), drawn=1)
    got, counts = cut(over, [fill(clip=0)], [drawn])
    assert len(got.kind) == 2
    assert counts == {"cut": 0, "outside": 0, "edges": 0}


def test_lines_along_an_outline_that_is_drawn_are_there_once() -> None:
    along = table([line(2, 10, 8, 10)], [line(2, 5, 8, 5)])
    for drawn, stroke, filled in ((0, 2, 2), (1, 2, 1), (2, 1, 1)):
        clips = [shaped(box(0, 0, 10, 10), drawn=drawn)]
        got, _ = cut(along, [about(clip=0)] * 2, clips)
        assert len(got.closed) == stroke
        got, _ = cut(along, [fill(clip=0, laid=True)] * 2, clips)
        assert len(got.closed) == filled


@pytest.mark.parametrize(("count", "edges"), [(5, 0), (6, 1)])
def test_lines_that_run_off_a_clip_draw_its_outline(count: int, edges: int) -> None:
    # from six ends on
    lines = [[line(1 + k, 5, 1 + k, 15)] for k in range(count)]
    clips = [shaped(box(0, 0, 10, 10))]
    got, counts = cut(table(*lines), [about(clip=0)] * count, clips)
    assert counts["edges"] == edges
    assert len(got.closed) == count + 4 * edges
    # one side that is drawn besides is not drawn again, whichever way it runs; a line
    # across the middle of a side does not count as that
    more = table(*lines, [line(10, 0, 0, 0)])
    got, counts = cut(more, [about(clip=0)] * (count + 1), clips)
    assert len(got.closed) == count + 1 + 3 * edges
    # a box that is a window has none
    window = [Clip(-1, affine.IDENTITY, (0.0, 0.0, 10.0, 10.0))]
    got, counts = cut(table(*lines), [about(clip=0)] * count, window)
    assert counts["edges"] == 0


def test_windows_hold_what_lies_wholly_in_them() -> None:
    clips = [
        Clip(-1, affine.IDENTITY, (1.0, 2.0, 10.0, 20.0)),
        Clip(-1, affine.IDENTITY, shape=Region.empty()),
        Clip(-1, affine.IDENTITY, (0.0, 0.0, 5.0, 5.0)),
    ]
    maps = np.array(
        [affine.IDENTITY, affine.IDENTITY, (0.0, 3.0, -3.0, 0.0, 100.0, 50.0)]
    )
    windows = _Windows(clips, maps)
    inside = [line(1, 2, 11, 22)]
    strokes = table(
        inside, [line(0.9, 5, 5, 5)], [line(5, 5, 11.1, 5)], [line(5, 1.9, 5, 5)],
        [line(5, 5, 5, 22.1)], inside, [line(85, 50, 100, 65)], [line(84, 51, 99, 51)],
        [line(90, 51, 90, 66)],
    )  # fmt: skip
    which = np.array([0, 0, 0, 0, 0, 1, 2, 2, 2])
    assert windows.hold(strokes, which).tolist() == [
        True, False, False, False, False, False, True, False, False,
    ]  # fmt: skip
    assert not windows.hold(strokes, np.ones(9, int)).any()
    # one curve outside and the stroke is not held; a map without area holds none
    bent = table([*inside, line(11, 22, 12, 22)], inside)
    assert windows.hold(bent, np.zeros(2, int)).tolist() == [False, True]
    # nor a clip that is no window, be the stroke ever so near its units' origin
    small = table([line(0.2, 0.2, 0.8, 0.8)])
    assert not windows.hold(small, np.ones(1, int)).any()
    # under any map: the corners of the box, and a place beyond each of its sides
    slanting = (2.0, 1.0, -1.0, 3.0, 100.0, 50.0)
    under = _Windows(clips[:1], np.array([slanting]))
    rows = [[1, 2, 11, 22], [1, 22, 11, 2], [0.9, 9, 5, 9], [5, 9, 11.1, 9]]
    rows += [[5, 1.9, 5, 9], [5, 9, 5, 22.1]]
    laid = [affine.apply(slanting, np.reshape(row, (2, 2))).ravel() for row in rows]
    strokes = table(*([line(*ends_)] for ends_ in laid))
    assert under.hold(strokes, np.zeros(6, int)).tolist() == [True, True] + [False] * 4
    flat = _Windows(clips[:1], np.array([(1.0, 0.0, 0.0, 0.0, 0.0, 0.0)]))
    assert not flat.hold(table(inside), np.zeros(1, int)).any()


def unit_clip(by_box: int, shape: object = None) -> Clip:
    unit = as_region(table(box(0, 0, 1, 0.5), closed=True), np.zeros(1, bool))
    return Clip(-1, affine.IDENTITY, shape=shape or unit, by_box=by_box)


def test_clips_in_units_of_the_box_of_what_they_cut() -> None:
    some = table(box(10, 20, 8, 4), closed=True)
    walk = walked([about(width=2.0)], [])

    def corners(clip: Clip, to_mm: affine.Affine = affine.IDENTITY) -> list[float]:
        region = _region(walk, clip, to_mm, some)
        points = region.outline.starts()
        return [*points.min(axis=0).tolist(), *points.max(axis=0).tolist()]

    assert corners(unit_clip(1)) == [10, 20, 18, 22]
    # with its pen of 2 all round
    assert corners(unit_clip(2)) == pytest.approx([9, 19, 19, 22])
    # the same where the units of the clip are half as large
    assert corners(unit_clip(1), (0.5, 0.0, 0.0, 0.5, 0.0, 0.0)) == [10, 20, 18, 22]
    got = corners(unit_clip(2), (0.5, 0.0, 0.0, 0.5, 0.0, 0.0))
    assert got == pytest.approx([9, 19, 19, 22])
    assert not len(_region(walk, unit_clip(1), (1, 0, 0, 0, 0, 0), some).outline)
    # one that is made for the size
    sizes: list[tuple[float, float]] = []

    def make(size: tuple[float, float]) -> Region:
        sizes.append(size)
        return as_region(table(box(1, 1, 2, 1), closed=True), np.zeros(1, bool))

    assert corners(unit_clip(1, make)) == [11, 21, 13, 22]
    assert sizes == [(8, 4)]


def test_pens_reach_square_to_lines_and_round_about_curves() -> None:
    told = table([line(0, 0, 10, 0)], [line(4, 0, 4, 8)])
    low, high = np.zeros(2), np.array([10.0, 8.0])
    got = _grown(told, np.array([1.0, 0.5]), low, high)
    assert np.allclose(got, [[0, -1], [10, 8]])
    slanting = table([line(0, 0, 3, 4)])
    got = _grown(slanting, np.array([5.0]), np.zeros(2), np.array([3.0, 4.0]))
    assert np.allclose(got, [[-4, -3], [7, 7]])
    # the box of the half circle, not that of the whole
    half = table([arc(0, 0, 5, 0, 180)])
    low, high = np.array([-5.0, 0.0]), np.array([5.0, 5.0])
    got = _grown(half, np.array([1.0]), low, high)
    assert np.allclose(got, [[-6, -1], [6, 6]])
    dot = table([line(2, 2, 2, 2)])
    got = _grown(dot, np.array([1.0]), np.full(2, 2.0), np.full(2, 2.0))
    assert np.allclose(got, [[2, 2], [2, 2]])


def test_all_that_stands_in_a_group_is_its_box() -> None:
    clips = [
        unit_clip(1),
        replace(unit_clip(0), parent=0),
        replace(unit_clip(1), parent=1),
        unit_clip(1),
        replace(unit_clip(0), parent=2),
    ]
    parent = np.array([clip.parent for clip in clips])
    current = np.array([-1, 0, 1, 2, 3, 4, 1])
    strokes = table(*[[line(0, 0, 1, 1)]] * 7)
    got = _boxed_groups(strokes, current, clips, parent)
    assert {k: some.item.tolist() for k, some in got.items()} == {
        0: [1, 2, 3, 5, 6],
        2: [3, 5],
    }


def test_regions_of_a_clip_and_of_those_around_it() -> None:
    inner = replace(shaped(box(0, 0, 4, 4)), parent=0, matrix=TWICE)
    walk = walked([], [shaped(box(0, 0, 10, 10)), inner])
    got = clip_regions(walk, 1, table([line(0, 0, 1, 1)]))
    assert [float(r.outline.data[:, :4].max()) for r in got] == [8, 10]
    assert clip_regions(walk, -1, table([line(0, 0, 1, 1)])) == []


def test_what_was_gathered_is_a_region_in_its_own_units() -> None:
    gathered = Collector(NORMAL, "a.svg")
    gathered.contexts += [about(matrix=TWICE, even_odd=True), about()]
    for k in (1, 0, 1):
        item = gathered.add_item(k, 1, "rect")
        gathered.add_box(item, (1.0, 1.0, 2.0 + item, 2.0, 0.0, 0.0))
    got = gathered_region(gathered, 1)
    assert got.shape.tolist() == [0] * 4 + [1] * 4
    assert got.even_odd.tolist() == [True, False]
    assert got.outline.data[:4, :2].tolist() == [[2, 2], [8, 2], [8, 6], [2, 6]]
    assert got.loop.tolist() == [0] * 4 + [1] * 4
    assert not len(gathered_region(Collector(NORMAL, "a")).outline)


def test_outlines_of_one_item_are_one_shape() -> None:
    told = table(box(0, 0, 9, 9), polygon((1, 1), (2, 1), (2, 2), closed=False))
    got = as_region(told, np.array([False, True]))
    assert got.shape.tolist() == [0] * 4 + [1] * 3, "filling closes the second"
    one = as_region(replace(told, item=np.zeros(2, int)), np.array([True]))
    assert one.shape.tolist() == [0] * 7
    assert one.loop.tolist() == [0] * 4 + [1] * 3
    assert one.even_odd.tolist() == [True]
