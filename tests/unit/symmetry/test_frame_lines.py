"""Which lines are a frame's and which a field's, on panels of the gallery."""

from __future__ import annotations

import pytest

from tests.bench.gallery import Found, draw_and_find
from tests.bench.panels_drawn import make_panel


def found_in(case: str, seed: int, noise: float = 0.0) -> Found:
    return draw_and_find(make_panel(case, seed, noisy=noise > 0), noise)


def all_are_right(found: Found) -> bool:
    return found.score.right == found.score.regions


def sure(found: Found, group: str, role: str) -> int:
    return sum(
        z.symmetry.certain and z.symmetry.group.short == group and z.role == role
        for z in found.zones
    )


def test_a_frame_line_goes_on_past_short_steps() -> None:
    # scales end on the frame a quarter of a millimetre beside it
    found = found_in("mitred:wave and circles", 611)
    assert sure(found, "cm", "field") == 1
    assert sure(found, "p2mg", "border") == 4


def test_pieces_of_a_frame_line_as_long_as_a_region_are_one_line() -> None:
    # the last lines of the field lie along the frame, and are one with it in places
    found = found_in("mitred:plait", 611)
    assert sure(found, "p4g", "field") == 1
    assert all_are_right(found)


@pytest.mark.parametrize("case", ["mitred:saw", "mitred:rope"])
def test_a_mitre_is_found_though_splinters_of_a_frame_lie_at_its_foot(
    case: str,
) -> None:
    assert all_are_right(found_in(case, 611))


def test_rows_between_medallions_are_one_field() -> None:
    # no row of bricks repeats but along itself, and some are cut
    found = found_in("three medallions", 611)
    assert all_are_right(found)
    assert sure(found, "cmm", "field") == 1


def test_rows_as_high_as_a_border_is_wide_leave_its_lines() -> None:
    found = found_in("off the middle", 612, 0.005)
    assert all_are_right(found)
    assert sure(found, "p1", "border") == 4


def test_lines_of_a_field_that_close_polygons_part_nothing_from_it() -> None:
    # squares and triangles between half medallions
    found = found_in("half medallions", 612, 0.005)
    assert all_are_right(found)
    assert sure(found, "p4g", "field") == 1


@pytest.mark.parametrize("case", ["border:chevrons", "corner:cross"])
def test_specks_at_the_rim_of_a_corner_piece_are_not_its(case: str) -> None:
    # ends of the border's lines poke through the frame by a hundredth of its width
    found = found_in(case, 612, 0.005)
    assert found.score.sure_and_wrong == 0
    assert sure(found, "D4", "corner") == 4


def test_circles_are_kept_by_quarter_turns_that_their_chords_miss() -> None:
    found = found_in("corner:quarter", 611)
    assert sure(found, "p4m", "field") == 1


def test_what_a_frame_cuts_off_a_border_does_not_go_to_the_field() -> None:
    # circles that touch both rails leave pieces of their ground, smaller than a brick
    found = found_in("border:circles", 613, 0.01)
    assert sure(found, "cmm", "field") == 1
    # courses of seven and six by turns, seven of them, and six cut above and below; the
    # rest are specks where a circle all but touches the rail
    whole = 4 * 7 + 3 * 6 + 2 * 6
    assert whole <= len(found.zones[0].faces) <= 1.25 * whole


def test_the_side_of_a_corner_square_goes_on_past_a_circle_that_bulges_it() -> None:
    found = found_in("border:two waves", 613, 0.01)
    assert found.score.right >= 0.97 * found.score.regions


def test_the_rail_of_a_fine_border_is_no_course_of_the_bricks_beside_it() -> None:
    # it lies a course below the first joint by chance
    found = found_in("mitred:wave and circles", 613, 0.01)
    assert sure(found, "p2mg", "border") == 4


def test_the_line_between_two_rows_of_a_border_makes_no_field_of_two_sides() -> None:
    found = found_in("mitred:two rows of teeth", 613, 0.01)
    assert sure(found, "p2mg", "border") == 4


def test_short_lines_between_two_frame_lines_in_a_corner_are_no_frame() -> None:
    assert all_are_right(found_in("mitred:teeth out", 612, 0.005))


def test_a_row_that_ends_beside_a_corner_leaves_the_corner_its_mitre() -> None:
    # bricks whose last course is lower than half a region is wide
    found = found_in("mitred:teeth", 621)
    assert all_are_right(found)
    assert sure(found, "p1m1", "border") == 4


def test_two_circles_that_specks_make_five_regions_of_are_not_sure_of_29_turns() -> (
    None
):
    # two circles in a square, and ends of the border's lines in its corners
    found = found_in("border:teeth out", 623, 0.01)
    assert found.score.sure_and_wrong == 0


def test_a_corner_piece_that_is_sure_is_not_shared_out_between_two_sides() -> None:
    # its diagonals lie where chevrons of both sides would go on
    found = found_in("border:chevrons", 622, 0.005)
    assert found.score.sure_and_wrong == 0
    assert sure(found, "D4", "corner") == 4


def test_a_side_of_four_regions_is_not_surely_its_one_mirror() -> None:
    # chevrons along two sides repeat once, and each side is mirrored lengthwise
    found = found_in("corner:cross", 732, 0.005)
    assert sure(found, "D1", "border") == 0
