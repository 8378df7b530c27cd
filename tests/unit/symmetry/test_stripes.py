"""Lines that run beside each other and nothing else, in a frame."""

from __future__ import annotations

from fillwork.pipeline.surveying import make_survey


def stripes(places: list[float]) -> bytes:
    """Return upright lines at places across a square of 100 mm."""
    lines = "".join(f'<path d="M{x:.5f} 5V105"/>' for x in places)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="110mm" height="110mm" '
        'viewBox="0 0 110 110"><g fill="none" stroke="#000" stroke-width=".25">'
        f'<path d="M5 5H105V105H5Z"/>{lines}</g></svg>'
    ).encode()


def test_lines_for_which_no_half_turn_speaks_are_surveyed() -> None:
    # every vote for a turn of these is below nothing
    steps = (0.0, 3.26928, 7.79084)
    places = [6.73547 + 16.25119 * k + step for k in range(7) for step in steps]
    survey = make_survey(stripes([x for x in places if x < 105]), name="s.svg")
    assert survey.arrangement.face_count - 1 == 20


def test_stripes_of_two_widths_are_two_kinds_in_doubt() -> None:
    # as they are drawn: ten of 3 mm and ten of 7 mm in turn
    places = [5 + 10 * k + step for k in range(10) for step in (0.0, 3.0)][1:]
    survey = make_survey(stripes(places), name="s.svg")
    of_face, width = survey.orbits.of_face[1:], 2 * survey.arrangement.inscribed[1:]
    assert sorted(width.round(6)) == [3.0] * 10 + [7.0] * 10
    assert len(set(of_face[width < 5])) == len(set(of_face[width > 5])) == 1
    assert len(set(of_face)) == 2
    assert not survey.zones[0].symmetry.certain


def test_stripes_of_one_width_are_one_kind() -> None:
    survey = make_survey(stripes([10.0 + 5 * k for k in range(19)]), name="s.svg")
    assert len(set(survey.orbits.of_face[1:])) == 1
