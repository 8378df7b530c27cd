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
