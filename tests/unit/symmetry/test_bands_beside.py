"""Borders of several bands, and what is seen only roughly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.faces.measures import measure_faces
from fillwork.symmetry.groups import parse_group
from fillwork.symmetry.lines.detect import find_symmetry
from fillwork.symmetry.model import Lattice, Operation, Symmetry
from fillwork.symmetry.zones.find import find_zones
from fillwork.symmetry.zones.frames import find_frame_edges
from fillwork.symmetry.zones.lengthwise import bands_of
from fillwork.symmetry.zones.making import Part
from fillwork.symmetry.zones.whole import outdone
from tests.bench.framed import (
    CORNER_GROUPS,
    Panel,
    _choose_border,
    border,
    build_panel,
    make_case,
    score_panel,
)
from tests.unit.helpers import linework_from_segments, polyline
from tests.unit.symmetry.patterns import plane_pattern

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement


def _box(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return polyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], closed=True)


def _read(rows: list[np.ndarray], wide: float, tall: float) -> Arrangement:
    return build_arrangement(
        linework_from_segments(np.vstack(rows), wide, tall, has_page=False)
    )


def test_bands_side_by_side_are_parted_along_their_line() -> None:
    # flags that glide along their band (p11g) under lozenges in the middle of theirs
    # (p2mm): International Tables E, part 2
    flag = np.array([[1.0, 1.0], [7.0, 1.5], [3.0, 4.0]])
    rows = [_box(0, 0, 120, 12), _box(0, 12, 120, 22)]
    for k in range(8):
        rows.append(polyline(flag + np.array([15.0 * k, 0]), closed=True))
        rows.append(
            polyline(flag * [1, -1] + np.array([15 * k + 7.5, 12]), closed=True)
        )
    for x in range(6, 120, 12):
        lozenge = [(x - 4, 17), (x, 14), (x + 4, 17), (x, 20)]
        rows.append(polyline(lozenge, closed=True))
    arrangement = _read(rows, 120, 22)
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    whole = find_symmetry(arrangement, faces)
    measures = measure_faces(arrangement)
    bands, lines = bands_of(arrangement, measures, faces, whole)
    assert sorted(found.group.short for _, found in bands) == ["p11g", "p2mm"]
    assert sum(len(own) for own, _ in bands) == len(faces)
    along = arrangement.vertices[arrangement.origin.reshape(-1, 2)[lines]]
    assert np.allclose(along[..., 1], 12.0)


def test_a_mirror_along_a_band_parts_none() -> None:
    # a line through the lozenges of one band is its mirror: halves show less (p1m1)
    rows = [_box(0, 0, 120, 10), np.array([[0.0, 5.0, 120.0, 5.0]])]
    for x in range(6, 120, 12):
        lozenge = [(x - 4, 5), (x, 2), (x + 4, 5), (x, 8)]
        rows.append(polyline(lozenge, closed=True))
    arrangement = _read(rows, 120, 10)
    faces = np.arange(1, arrangement.face_count, dtype=np.int32)
    whole = find_symmetry(arrangement, faces, strip=True)
    assert whole.group.short == "p2mm"
    assert bands_of(arrangement, measure_faces(arrangement), faces, whole)[0] == []


def test_borders_of_one_width_are_no_rows_of_a_pattern() -> None:
    # three borders of like width on each side of a field, corners moved a little
    arrangement, _ = build_panel(make_case("bands", 63004), 0.005)
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)].reshape(-1, 4)
    frame = ends[find_frame_edges(arrangement)]
    along = frame[np.abs(frame[:, 1] - frame[:, 3]) < np.abs(frame[:, 0] - frame[:, 2])]
    # an outer and an inner line of each of them, above and below
    assert len(np.unique(np.round(along[:, 1] / 2))) >= 8


def test_a_frame_about_nothing_is_no_sure_pattern() -> None:
    # four lozenges on each side: shifts as long as the frame carry sides onto sides
    rows = [np.array([[0, a, 100, a], [a, 0, a, 80]]) for a in (0.0, 14.0)]
    rows += [
        np.array([[0, 80 - a, 100, 80 - a], [100 - a, 0, 100 - a, 80]])
        for a in (0.0, 14.0)
    ]
    for k in range(4):
        x, y = 23 + 18 * k, 20.5 + 13 * k
        for z in (7, 73):
            rows.append(
                polyline([(x - 6, z), (x, z - 4), (x + 6, z), (x, z + 4)], True)
            )
        for z in (7, 93):
            rows.append(
                polyline([(z - 4, y), (z, y - 4), (z + 4, y), (z, y + 4)], True)
            )
    zones = find_zones(_read(rows, 100, 80))
    assert not any(z.symmetry.certain and len(z.faces) > 20 for z in zones)


def test_four_sure_friezes_outdo_turns_of_their_frame() -> None:
    one = Operation((1.0, 0.0, 0.0, 1.0, 0.0, 0.0), "identity", 1)
    side = Symmetry(
        parse_group("frieze:p2mm"),
        Lattice(np.array([[10.0, 0.0]]), "line"),
        operations=(one,) * 4,
        repeats_seen=3.5,
    )
    frame = Symmetry(parse_group("rosette:D2"), operations=(one,) * 4)
    parts = [Part(np.arange(6, dtype=np.int32), side) for _ in range(4)]
    assert outdone(frame, parts)
    assert not outdone(frame, parts[:2])


def test_a_group_that_lines_keep_roughly_is_named_in_doubt() -> None:
    # corners off by a twentieth of a line; p4 by gemmi's general positions
    pattern = plane_pattern("p4", 3, repeats=8, noise=0.05, style="polygons")
    found = find_symmetry(_read([pattern.segments], 300, 300))
    assert found.group.short == "p4"
    assert not found.certain
    assert "fits" in found.reason


@pytest.mark.parametrize(
    ("case", "seed"),
    [
        ("border", 81004),  # rows of the field lie by turns nearer and farther apart
        ("nested", 81001),  # mitres halve the cells of two borders in their corners
    ],
)
def test_every_region_of_a_framed_panel_is_in_its_zone(case: str, seed: int) -> None:
    panel = make_case(case, seed)
    arrangement, edge = build_panel(panel)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.right == score.regions
    assert score.sure_and_wrong == 0


@pytest.mark.parametrize(("seed", "noise"), [(82000, 0.005), (83003, 0.01)])
def test_turns_of_a_frame_round_nothing_are_in_doubt(seed: int, noise: float) -> None:
    # four sides of cells about an empty middle, alike on two sides each
    rng = np.random.default_rng([23, seed])
    panel = Panel(rng, "empty")
    panel.wide = float(rng.uniform(120, 340))
    panel.tall = float(rng.uniform(100, 260))
    corner = str(rng.choice([*CORNER_GROUPS, "mitre", "mitre", "butt"]))
    cells, group = _choose_border(rng)
    box = (0.0, 0.0, panel.wide, panel.tall)
    border(panel, box, float(rng.uniform(14, 28)), (cells,) * 2, (group,) * 2, corner)
    arrangement, edge = build_panel(panel, noise)
    score = score_panel(panel, arrangement, edge, find_zones(arrangement))
    assert score.sure_and_wrong == 0


def test_two_bands_with_corner_squares_are_sure_of_all_their_parts() -> None:
    # loose figures alone: of what meets an inner line of a band most stands in the
    # corner squares, and the corners of both bands are eight copies of a lozenge (D2)
    rows = [_box(k, k, 156 - k, 132 - k) for k in (0, 12, 24)]
    for k, r in ((0, 4.0), (12, 3.0)):
        low, right, top = k, 144 - k, 120 - k
        for x, y in ((low, low), (low, top), (right, low), (right, top)):
            way = 1 if (x == low) == (y == low) else -1
            u, v = np.array([4.5, 4.5 * way]), np.array([-2.0 * way, 2.0])
            c = np.array([x + 6.0, y + 6.0])
            rows += [_box(x, y, x + 12, y + 12), polyline([c - u, c + u])]
            rows.append(polyline([c + u, c + v, c - u, c - v], closed=True))
        lozenge = np.array([[r + 1, 0], [0, r], [-r - 1, 0], [0, -r]])
        for across, end in ((False, right), (True, top)):
            for at in np.arange(low + 18, end, 12):
                for y in (low + 6, (right if across else top) + 6):
                    figure = lozenge + np.array([at, y])
                    rows.append(polyline(figure[:, ::-1] if across else figure, True))
    turn = np.arange(5) * 2 * np.pi / 5 + 0.3
    figure = 7 * np.column_stack([np.cos(turn), np.sin(turn)])
    rise = np.arange(32.4, 116, 16.8)
    for x in np.arange(33, 132, 18):
        rows += [polyline(figure + np.array([x, y]), True) for y in rise]
    zones = find_zones(_read(rows, 156, 132))
    found = [(z.role, z.symmetry.group.short, z.symmetry.certain) for z in zones]
    assert found.count(("corner", "D2", True)) == 8
    assert found.count(("border", "p2mm", True)) == 8
