"""Fills by patterns: tiles as SVG 2, section 14.3, lays them, by shapely's areas."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
import shapely
from shapely import affinity

from fillwork.arrangement import build_arrangement
from fillwork.readers import read_linework

PAGE = 'xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm" '
USER = 'patternUnits="userSpaceOnUse"'
RED = '<path d="M0 149H200" stroke="red" stroke-width=".2"/>'


def _read(body: str, **choice: str):
    svg = f'<svg {PAGE}viewBox="0 0 200 150">{body}</svg>'
    return read_linework(svg.encode(), **choice)


def _areas(body: str) -> list[float]:
    arrangement = build_arrangement(_read(body, scope="both"))
    assert not arrangement.defects
    return sorted(np.abs(arrangement.area[1:]).tolist())


def _parts(shape: shapely.Geometry, figures: list[shapely.Geometry]) -> list[float]:
    # figures that do not meet, seen in a shape, and the rest of it
    seen = [figure.intersection(shape) for figure in figures]
    rest = shape.difference(shapely.union_all(figures))
    parts = [p for one in (*seen, rest) for p in shapely.get_parts(one)]
    return sorted(part.area for part in parts if part.area > 1e-6)


def test_tiles_start_at_x_and_y_and_follow_the_transform():
    box = '<rect x="6" y="3" width="4" height="5"/>'
    pattern = (
        f'<pattern id="p" {USER} x="3" y="2" width="16" height="12" '
        f'patternTransform="rotate(30) translate(5 1)">{box}</pattern>'
    )
    shape = shapely.Point(101, 76).buffer(50, 720)
    figures = []
    for i in range(-20, 20):
        for j in range(-20, 20):
            # what is in a tile is drawn from the tile's own corner
            x, y = 3 + 16 * i + 6 + 5, 2 + 12 * j + 3 + 1
            tile = shapely.box(x, y, x + 4, y + 5)
            figures.append(affinity.rotate(tile, 30, origin=(0, 0)))
    body = pattern + '<circle cx="101" cy="76" r="50" fill="url(#p)"/>'
    assert _areas(body) == pytest.approx(_parts(shape, figures), rel=2e-4)


@pytest.mark.parametrize(
    ("pattern", "step", "figure"),
    [
        # a quarter by a fifth of the shape's box, contents in user units
        ('x="10%" y=".1" width=".25" height="20%"><rect width="9" height="4"/>',
         (30, 16), (9, 4)),
        # contents in shares of the box too
        ('x=".1" y=".1" width=".25" height=".2" '
         'patternContentUnits="objectBoundingBox"><rect width=".1" height=".05"/>',
         (30, 16), (12, 4)),
        # a view box of 10 by 10, meet at the left end of a tile of 30 by 16
        ('x=".1" y=".1" width=".25" height=".2" viewBox="0 0 10 10" '
         'preserveAspectRatio="xMinYMid"><rect width="5" height="5"/>',
         (30, 16), (8, 8)),
        ('x=".1" y=".1" width=".25" height=".2" viewBox="0 0 10 10" '
         'preserveAspectRatio="none"><rect width="5" height="5"/>',
         (30, 16), (15, 8)),
        # slice: three for one, and 14 of the height are cut, the same at both ends
        ('x=".1" y=".1" width=".25" height=".2" viewBox="0 0 10 10" '
         'preserveAspectRatio="xMidYMin slice"><rect width="5" height="5"/>',
         (30, 16), (15, 15)),
    ],
)  # fmt: skip
def test_units_and_view_boxes(pattern, step, figure):
    shape = shapely.box(20, 30, 140, 110)  # 120 by 80
    corners = [
        (32 + step[0] * i, 38 + step[1] * j) for i in range(-2, 8) for j in range(-2, 8)
    ]
    figures = [shapely.box(x, y, x + figure[0], y + figure[1]) for x, y in corners]
    body = f'<pattern id="p" {pattern}</pattern>'
    body += '<rect x="20" y="30" width="120" height="80" fill="url(#p)"/>'
    assert _areas(body) == pytest.approx(_parts(shape, figures), rel=1e-6)


def test_attributes_and_contents_come_along_references():
    # of each attribute the first in the chain; contents of the first that has any,
    # styled by where they stand, not by what they fill
    body = (
        '<g fill="none" stroke="#00f"><pattern id="a" width="7" height="7">'
        '<circle cx="5" cy="5" r="3"/></pattern></g>'
        f'<pattern id="b" href="#a" {USER} width="20" height="10"/>'
        '<pattern id="c" href="#b" height="12"/>'
        '<rect width="60" height="48" fill="url(#c)" stroke="#f00"/>'
    )
    work = _read(body)
    styles = [work.styles[k][1] for k in work.style.tolist()]
    assert styles.count("#0000ff") == 3 * 4
    assert styles.count("#ff0000") == 1


def test_what_goes_on_over_the_edge_of_a_tile_is_one():
    # discs at the corners of tiles, in four pieces each, and a bar from tile to tile
    discs = "".join(
        f'<circle cx="{x}" cy="{y}" r="6"/>' for x in (0, 20) for y in (0, 20)
    )
    bar = '<rect x="-1" y="9" width="22" height="2"/>'
    body = f'<pattern id="p" {USER} width="20" height="20">{discs}{bar}</pattern>'
    body += '<path d="M30 30H150V130H30Z" fill="url(#p)"/>'
    figures = [
        shapely.Point(20 * i, 20 * j).buffer(6, 720) for i in range(9) for j in range(9)
    ]
    figures += [shapely.box(0, 20 * j + 9, 200, 20 * j + 11) for j in range(9)]
    wanted = _parts(shapely.box(30, 30, 150, 130), figures)
    assert _areas(body) == pytest.approx(wanted, rel=1e-4)


def test_edges_between_tiles_are_lines_once_and_only_where_colours_differ():
    # stripes of two colours as wide as half a tile: an edge every 10, none along them
    ground = '<rect width="20" height="20" fill="#fc0"/>'
    half = '<rect width="10" height="20" fill="#07c"/>'
    stripes = f'<pattern id="p" {USER} width="20" height="20">{ground}{half}</pattern>'
    box = '<rect x="5" y="5" width="100" height="90" fill="url(#p)"/>'
    assert _areas(stripes + box) == pytest.approx([450] * 2 + [900] * 9)
    # a frame round each tile: the lines of two tiles that meet are one
    frame = '<path d="M0 0H20V20H0Z" fill="none" stroke="#000"/>'
    grid = f'<pattern id="p" {USER} width="20" height="20">{frame}</pattern>'
    ring = '<rect x="20" y="20" width="160" height="120" fill="url(#p)" stroke="#000"/>'
    assert _areas(grid + ring) == pytest.approx([400] * 48)
    length = sum(group.length for group in _read(grid + ring).groups if group.used)
    assert length == pytest.approx(7 * 120 + 5 * 160 + 560)


def test_tiles_hide_what_was_drawn_before_and_each_other():
    line = '<path d="M0 75H200" stroke="red"/>'
    dots = '<circle cx="5" cy="5" r="4" fill="#0a0"/>'
    ground = '<rect width="10" height="10" fill="#ff0"/>'
    for inside, seen in ((dots, 200 - 10 * 8), (ground + dots, 200 - 100)):
        body = f'<pattern id="p" {USER} width="10" height="10">{inside}</pattern>{line}'
        body += '<rect x="50" y="20" width="100" height="100" fill="url(#p)"/>'
        work = _read(body, scope="stroked")
        assert sum(g.length for g in work.groups if g.used) == pytest.approx(seen)
        kept = _read(body, scope="stroked", hidden="keep")
        assert sum(g.length for g in kept.groups if g.used) == pytest.approx(200)


def test_patterns_in_symbols_in_views_and_in_each_other():
    dot = (
        f'<pattern id="d" {USER} width="5" height="5"><circle cx="2.5" cy="2.5" r="2"/>'
    )
    outer = (
        f'<pattern id="o" {USER} width="50" height="50">'
        '<rect x="10" y="10" width="20" height="15" fill="url(#d)"/></pattern>'
    )
    defs = f'{dot}</pattern>{outer}<symbol id="s" viewBox="0 0 10 10">'
    defs += '<rect width="10" height="10" fill="url(#d)"/></symbol>'
    used = '<use href="#s" x="100" y="100" width="40" height="40"/>'
    view = '<svg x="150" y="100" width="30" height="30" viewBox="0 0 10 10">'
    view += '<rect width="10" height="10" fill="url(#d)"/></svg>'
    nested = '<rect width="100" height="50" fill="url(#o)"/>'
    areas = _areas(f"<defs>{defs}</defs>{used}{view}{nested}")
    for radius, count in ((8, 4), (6, 4), (2, 2 * 4 * 3)):
        wanted = math.pi * radius**2
        assert sum(abs(a / wanted - 1) < 1e-6 for a in areas) == count


@pytest.mark.parametrize(
    ("pattern", "word"),
    [
        ('width="1e-3" height="1e-3"><circle r="1"/>', "tiles = 20,000"),
        ('width="1e-300" height="1"><circle r="1"/>', "tiles = 20,000"),
        ('width="9" height="9"><rect width="5" height="5" fill="url(#p)"/>', "itself"),
        ('width="9" height="9" href="#p"><circle r="1"/>', "itself"),
        ('width="9" height="9"><text>a</text>', "only the outline"),
    ],
)
def test_what_cannot_be_laid_is_told_and_leaves_the_outline(pattern, word):
    shape = '<rect x="9" y="9" width="80" height="80" fill="url(#p)"/>'
    work = _read(f'<pattern id="p" {USER} {pattern}</pattern>{shape}')
    assert any(word in note.text for note in work.notes)
    assert (work.curves.data[:, :4].max(axis=1) > 60).any()


@pytest.mark.parametrize(
    "pattern",
    [
        'width="0" height="9"><circle r="3"/>',
        'width="-9" height="9"><circle r="3"/>',
        'width="nan" height="inf"><circle r="3"/>',
        'width="9" height="9" patternTransform="scale(0 1)"><circle r="3"/>',
        'width="9" height="9" patternTransform="scale(1e200) scale(1e200)"><path/>',
        'width="9" height="9" viewBox="0 0 0 9"><circle r="3"/>',
        'width="9" height="9">',
        'width="9" height="9"><g/>',
        'width="wide" height="9"><circle r="3"/>',
        'width="3 cubits" height="9"><circle r="3"/>',
        'height="9"><circle r="3"/>',
    ],
)  # fmt: skip
def test_what_has_no_tile_paints_nothing(pattern):
    # SVG 2, 14.3: a width or height of zero, or nothing inside, is no paint
    shape = '<rect x="9" y="9" width="80" height="80" fill="url(#p)"/>'
    work = _read(f'<pattern id="p" {USER} {pattern}</pattern>{shape}{RED}')
    assert len(work.closed) == 1
    assert any("so by nothing" in note.text for note in work.notes)


def test_an_empty_ring_of_patterns_is_told():
    ring = '<pattern id="p" href="#q"/><pattern id="q" href="#p"/>'
    shape = '<rect x="9" y="9" width="80" height="80" fill="url(#p)"/>'
    assert any("refers to itself" in note.text for note in _read(ring + shape).notes)


def test_bombs_of_patterns_end_soon():
    levels = "".join(
        f'<pattern id="p{k}" {USER} width="10" height="10">'
        + f'<rect width="9" height="9" fill="url(#p{k + 1})"/>' * 10
        + "</pattern>"
        for k in range(12)
    )
    tile = "".join(
        f'<rect x="-5" y="{k / 400}" width="100" height=".4" fill="#{k % 4096:03x}"/>'
        for k in range(6000)
    )
    wide = f'<pattern id="w" {USER} width="50" height="50">{tile}</pattern>'
    start = time.process_time()
    for fill, defs in (("p0", levels), ("w", wide)):
        box = f'<rect width="90" height="90" fill="url(#{fill})"/>'
        assert _read(defs + box + RED).notes
    assert time.process_time() - start < 20


def test_what_a_clip_cuts_at_the_edge_of_a_tile_has_an_edge_there():
    # bars that a clip ends on both near edges of their tiles
    clip = '<clipPath id="c"><rect width="12" height="9"/></clipPath>'
    bar = '<rect x="-5" y="-5" width="40" height="10" clip-path="url(#c)"/>'
    pattern = f'<pattern id="p" {USER} width="20" height="15">{clip}{bar}</pattern>'
    shape = '<rect x="10" y="20" width="100" height="60" fill="url(#p)"/>'
    bars = [
        shapely.box(20 * i, 15 * j, 20 * i + 12, 15 * j + 5)
        for i in range(6)
        for j in range(1, 6)
    ]
    expected = _parts(shapely.box(10, 20, 110, 80), bars)
    assert _areas(pattern + shape) == pytest.approx(expected, rel=1e-6)


def test_edges_between_tiles_that_a_gradient_paints_have_no_one_colour():
    stops = '<stop stop-color="red"/><stop offset="1" stop-color="blue"/>'
    gradient = f'<linearGradient id="g">{stops}</linearGradient>'
    bar = '<rect width="12" height="10" fill="url(#g)"/>'
    pattern = f'<pattern id="p" {USER} width="20" height="15">{bar}</pattern>'
    shape = '<rect x="10" y="20" width="100" height="60" fill="url(#p)"/>'
    colours = {g.colour for g in _read(gradient + pattern + shape).groups}
    assert all(c is None or len(bytes.fromhex(c[1:7])) == 3 for c in colours)
