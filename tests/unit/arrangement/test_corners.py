"""Corners and ends that a pen would let touch a line, and those it would not."""

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.arrangement.corners import Corners, _run_along
from fillwork.readers import read_linework

WIDE, HIGH, TEETH = 200.0, 20.0, 10


def _strip(tmp_path, misses, pen):
    """Return the regions of a zigzag between rails whose points miss them so far.

    A positive miss stops short of the rail, a negative one runs over it.
    """
    x = WIDE * (np.arange(2 * TEETH) + 0.5) / (2 * TEETH)
    short = np.resize(np.asarray(misses, float), len(x))
    y = np.where(np.arange(len(x)) % 2, short, HIGH - short)
    line = "M0 10L" + "L".join(f"{a:.3f} {b:.3f}" for a, b in zip(x, y, strict=True))
    rails = f"M0 0H{WIDE:g}V{HIGH:g}H0Z"
    file = tmp_path / "strip.svg"
    file.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="220mm" height="40mm" '
        f'viewBox="-10 -10 220 40"><path d="{rails}{line}L{WIDE:g} 10" fill="none" '
        f'stroke="#000" stroke-width="{pen:g}"/></svg>'
    )
    return build_arrangement(read_linework(file))


@pytest.mark.parametrize("misses", [(0.0,), (0.1, -0.1, 0.2), (0.25, 0.05, -0.2, 0.1)])
def test_points_that_miss_by_less_than_the_pen_part_the_strip(tmp_path, misses):
    # by construction: ten points on a rail leave eleven regions along it
    found = _strip(tmp_path, misses, pen=0.3)
    assert found.face_count - 1 == 2 * (TEETH + 1)
    assert found.area[1:].sum() == pytest.approx(WIDE * HIGH, rel=0.01)


@pytest.mark.parametrize(("miss", "pen"), [(1.0, 0.3), (0.4, 0.1)])
def test_points_that_stay_off_by_more_than_the_pen_leave_it_open(tmp_path, miss, pen):
    # by construction: one region above the line and one below it
    assert _strip(tmp_path, (miss,), pen).face_count - 1 == 2


def test_a_curved_end_under_the_ink_of_a_line_that_it_meets_askew_is_joined(tmp_path):
    # it ends 0.05 mm short, at 15° to the line: by construction it parts the panel
    file = tmp_path / "wave.svg"
    file.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm" '
        'viewBox="-10 -10 80 60"><path d="M0 0H60V40H0ZM0 10C20 14 58.5 24.4 59.95 30" '
        'fill="none" stroke="#000" stroke-width="0.3"/></svg>'
    )
    assert build_arrangement(read_linework(file)).face_count - 1 == 2


def _drawn(figures, pen, others=(), **slacks):
    """Return the arrangement of closed figures, each a stroke of its own.

    `others`: figures and how these are drawn.
    """

    def path(figures, look):
        return f'<path {look} d="' + "".join(
            "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in figure) + "Z"
            for figure in figures
        )

    looks = [(figures, f'fill="none" stroke="#000" stroke-width="{pen:g}"'), *others]
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="220mm" height="120mm" '
        'viewBox="0 0 220 120">' + "".join(path(*one) + '"/>' for one in looks)
    )
    # so that points near each other are not one by themselves
    work = read_linework(f"{text}</svg>".encode(), name="a.svg", scope="both")
    return build_arrangement(work, join_within=1e-4, **slacks)


def _box(x, y, wide, high):
    return [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]


LOZENGES = 8


def _lozenges(misses):
    """Return lozenges in a row between rails; their points miss each other so far.

    Positive ones stop short of each other, negative ones run over.
    """
    short = np.r_[0.0, np.resize(np.asarray(misses, float), LOZENGES - 1), 0.0] / 2
    row = [_box(10, 10, 16 * LOZENGES, 20)]
    for k in range(LOZENGES):
        left, right = 10 + 16 * k + short[k], 26 + 16 * k - short[k + 1]
        middle = 18 + 16 * k
        row.append([(left, 20), (middle, 10), (right, 20), (middle, 30)])
    return row


@pytest.mark.parametrize(
    "misses", [(0.0,), (0.2,), (0.5,), (0.3, -0.2, 0.1, -0.1), (-0.3, 0.01)]
)
def test_points_that_meet_under_the_pen_part_what_is_beside_them(misses) -> None:
    found = _drawn(_lozenges(misses), pen=0.4)
    # by construction: two triangles between two lozenges, and one in each corner
    assert found.face_count - 1 == LOZENGES + 2 * (LOZENGES - 1) + 4
    assert found.area[1:].sum() == pytest.approx(16 * LOZENGES * 20, rel=1e-6)


@pytest.mark.parametrize(
    ("miss", "pen", "slacks"),
    [(0.53, 0.4, {}), (0.3, 0.1, {}), (0.3, 0.4, {"close_gaps": 0.2})],
)
def test_points_that_stay_apart_leave_what_is_beside_them_open(
    miss, pen, slacks
) -> None:
    # half of the angle between the sides of a lozenge, 16 wide and 20 high, has the
    # sine 0.781: mitred, the ink of two of its points covers 0.4 / 0.781 = 0.512 mm
    found = _drawn(_lozenges((miss,)), pen, **slacks)
    assert found.face_count - 1 == LOZENGES + (LOZENGES - 1) + 4
    assert not found.defects


@pytest.mark.parametrize("miss", [0.0, 0.1, 0.3])
def test_four_points_round_one_place_part_four_regions(miss) -> None:
    # squares on their points, each so much smaller than its place
    half = 10 - miss / 2
    squares = [
        [(x - half, y), (x, y - half), (x + half, y), (x, y + half)]
        for x in (20, 40, 60)
        for y in (20, 40)
    ]
    found = _drawn([_box(10, 10, 60, 40), *squares], pen=0.4)
    # by construction: 6 squares, 2 between four, 6 between two and a side, 4 corners
    assert found.face_count - 1 == 6 + 2 + 6 + 4


@pytest.mark.parametrize("away", [0.1, 0.3])
def test_a_point_reaches_the_place_where_lines_cross(away) -> None:
    frame = _box(10, 10, 80, 80)
    cross = [[(10, 10), (90, 90), (10, 90), (90, 10)]]
    point = [(50, 50 + away), (56, 90), (44, 90)]
    found = _drawn([frame, *cross, point], pen=0.4)
    # by construction: four triangles, one of which the point and its sides part in
    # three; the frame's sides lie on two of the cross's
    assert found.face_count - 1 == 3 + 3


@pytest.mark.parametrize("joint", [0.1, 0.3])
def test_corners_of_tiles_side_by_side_stay_apart(joint) -> None:
    tiles = [
        _box(10 + 20 * x, 10 + 20 * y, 20 - joint, 20 - joint)
        for x in range(4)
        for y in range(3)
    ]
    found = _drawn(tiles, pen=0.4)
    assert found.face_count - 1 == 12
    assert not [d for d in found.defects if d.type == "gap"]


def test_lines_that_run_along_another_of_their_place() -> None:
    turn = np.radians([0.0, 90, 180, 270, 0, 14, 100, 0, 15, 100, -179, 176, 45])
    where = np.array([7, 7, 7, 7, 2, 2, 2, 5, 5, 5, 9, 9, 11])
    leaving = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    order = np.array([3, 9, 0, 12, 5, 7, 1, 11, 2, 10, 8, 4, 6])
    found = np.empty(len(turn), bool)
    found[order] = _run_along(leaving[order], where[order], order)
    # nearer than 14.5 degrees: 0 and 14; -179 and 176
    assert {*where[found].tolist()} == {2, 9}


def test_ink_reaches_beyond_sharp_corners_as_mitres_do() -> None:
    half = np.radians([90.0, 60, 45, 41.9, 41.7, 20, 1])
    none = np.zeros(7, bool)
    corners = Corners(None, half, none, none)
    # 1 / sin, no more than 1.5: that of half an angle of 41.81 degrees
    mitre = [1, 2 / 3**0.5, 2**0.5, 1 / np.sin(half[3]), 1.5, 1.5, 1.5]
    assert corners.ink() == pytest.approx(mitre)


@pytest.mark.parametrize(("miss", "closed"), [(0.55, True), (0.65, False)])
def test_sharp_points_reach_half_as_far_again(miss, closed) -> None:
    # points of 43.6 degrees: their mitres would cover 0.4 / sin 21.8 = 1.08 mm
    row = [_box(10, 10, 200, 20)]
    for k in range(4):
        left, right, middle = 10 + 50 * k, 60 + 50 * k, 35 + 50 * k
        left += miss / 2 * (k > 0)
        right -= miss / 2 * (k < 3)
        row.append([(left, 20), (middle, 10), (right, 20), (middle, 30)])
    found = _drawn(row, pen=0.4)
    assert found.face_count - 1 == 4 + 4 + (6 if closed else 3)


@pytest.mark.parametrize("look", ['fill="none" stroke="#000" stroke-width="0.1"', ""])
def test_the_ink_of_the_lines_there_counts_and_no_other(look) -> None:
    # lozenges drawn finely, or as fills, in a drawing of broader lines
    frame, *row = _lozenges((0.3,))
    boxes = [_box(20 + 20 * k, 60, 12, 20) for k in range(9)]
    found = _drawn([frame, *boxes], 0.6, [(row, look)])
    # what the rails part stays; the ends of the row lie on the frame
    assert found.face_count - 1 == LOZENGES + (LOZENGES - 1) + 4 + 9
    broad = _drawn([frame, *boxes, *row], 0.6)
    assert broad.face_count - 1 == LOZENGES + 2 * (LOZENGES - 1) + 4 + 9


def test_what_closes_a_gap_at_a_corner_is_told_once() -> None:
    # two lozenges alone: between their points nothing is parted
    two = [[(x, 20), (x + 15, 10), (x + 30, 20), (x + 15, 30)] for x in (10, 40.3)]
    found = _drawn([_box(5, 5, 80, 50), *two], pen=0.4)
    assert found.face_count - 1 == 3
    assert [(d.type, d.done) for d in found.defects] == [("gap", "closed")]
    assert found.defects[0].remedy.startswith("move the corner in the drawing")


@pytest.mark.parametrize(
    ("line", "sides"),
    [
        # a line drawn twice, finely and broadly; a corner of two pens
        ((0.1, 0.9), (0.5, 0.5)), ((0.9, 0.1), (0.5, 0.5)),
        ((0.8,), (0.05, 0.8)), ((0.8,), (0.8, 0.05)),
    ],
)  # fmt: skip
@pytest.mark.parametrize("back", [False, True])
def test_the_broadest_ink_counts_in_whatever_order_lines_come(line, sides, back):
    first = "M50 30.45L20 60" if back else "M20 60L50 30.45"
    ways = [(width, "M0 30H100") for width in line]
    ways += [(sides[0], first), (sides[1], "M50 30.45L80 60")]
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        'viewBox="0 0 100 100"><g fill="none" stroke="#000" stroke-width="0.5">'
        '<path d="M0 0H100V100H0Z M0 10H100 M0 20H100 M0 90H100 M0 60H100"/>'
    ) + "".join(f'<path stroke-width="{w}" d="{d}"/>' for w, d in ways)
    work = read_linework(f"{text}</g></svg>".encode(), name="a.svg")
    # five bands across, one of which the corner and its tip part in three
    assert build_arrangement(work).face_count - 1 == 5 + 3


def _petals(count, opening, pen, miss, seed=1):
    """Return the regions of petals in a ring, each point of each off by itself.

    Each is two arcs of a circle, `opening` of its share of the turn wide at its points.
    """
    rng, middle, long = np.random.default_rng(seed), 60 + 60j, 40.0
    half = opening * np.pi / count
    paths = [f"M{60 + long} 60A{long} {long} 0 0 1 20 60A{long} {long} 0 0 1 100 60Z"]
    for k in range(count):
        size, turn = np.sqrt(rng.random(2)) * miss / 2, rng.uniform(0, 2 * np.pi, 2)
        off = size * np.exp(1j * turn)
        a = middle + off[0]
        b = middle + long * np.exp(2j * np.pi * (k + 0.3) / count) + off[1]
        r = abs(b - a) / 2 / np.sin(half)
        there, back = (
            f"A{r:.4f} {r:.4f} 0 0 1 {z.real:.4f} {z.imag:.4f}" for z in (b, a)
        )
        paths.append(f"M{a.real:.4f} {a.imag:.4f}{there}{back}Z")
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="120mm" '
        f'viewBox="0 0 120 120"><g fill="none" stroke="#000" stroke-width="{pen}">'
        + "".join(f'<path d="{d}"/>' for d in paths)
    )
    work = read_linework(f"{text}</g></svg>".encode(), name="a.svg")
    return build_arrangement(work, page_edge="open")


@pytest.mark.parametrize("count", [5, 6, 8, 12])
# petals with room between them, and some whose sides touch at their points
@pytest.mark.parametrize("opening", [0.7, 1.0])
@pytest.mark.parametrize("miss", [0.1, 0.25])
def test_petals_that_end_in_one_point_leave_no_scraps(count, opening, miss) -> None:
    found = _petals(count, opening, pen=0.4, miss=miss)
    # by construction: each petal, and what two of them and the ring enclose
    assert found.face_count - 1 == 2 * count
    assert found.area[1:].sum() == pytest.approx(np.pi * 40**2, rel=1e-3)


def test_points_with_bent_sides_reach_a_line_as_those_with_straight_ones_do() -> None:
    # scales between two rails, whose points stop 0.1 mm short of the upper one
    scales = "".join(
        f"M{x} 40A25 25 0 0 1 {x + 10} 20.1A25 25 0 0 1 {x + 20} 40"
        for x in (20, 40, 60)
    )
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" '
        'viewBox="0 0 100 60"><path d="M20 20H80V40H20Z'
        f'{scales}" fill="none" stroke="#000" stroke-width="0.4"/></svg>'
    )
    found = build_arrangement(read_linework(text.encode(), name="a.svg"))
    # by construction: three scales, two between them, and one at either end
    assert found.face_count - 1 == 7


@pytest.mark.parametrize(("neck", "skirt", "regions"), [(0.3, 25, 3), (0.9, 25, 2)])
def test_a_keyhole_is_closed_where_the_ink_of_its_neck_meets(neck, skirt, regions):
    # a circle but for its neck, from which two lines part to the foot
    drop = (15**2 - (neck / 2) ** 2) ** 0.5
    left, right = 60 - neck / 2, 60 + neck / 2
    key = f"M{left} {50 + drop}A15 15 0 1 1 {right} {50 + drop}"
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="120mm" '
        'viewBox="0 0 120 120"><g fill="none" stroke="#000" stroke-width="0.4">'
        f'<path d="M10 10H110V110H10Z"/><path d="{key}'
        f'L{60 + skirt / 2} 95H{60 - skirt / 2}Z"/></g></svg>'
    )
    found = build_arrangement(read_linework(text.encode(), name="a.svg"))
    # the frame's ground, the circle and the foot, or both in one
    assert found.face_count - 1 == regions
