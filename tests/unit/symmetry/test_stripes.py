"""Lines that run beside each other and nothing else, in a frame."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.pipeline.surveying import make_survey
from fillwork.symmetry.lines import detect

if TYPE_CHECKING:
    import pytest


def stripes(places: list[float]) -> bytes:
    """Return upright lines at places across a square of 100 mm."""
    lines = "".join(f'<path d="M{x:.5f} 5V105"/>' for x in places)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="110mm" height="110mm" '
        'viewBox="0 0 110 110"><g fill="none" stroke="#000" stroke-width=".25">'
        f'<path d="M5 5H105V105H5Z"/>{lines}</g></svg>'
    ).encode()


def test_lines_for_which_no_half_turn_speaks_are_surveyed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # every vote for a turn of these is below nothing
    monkeypatch.setattr(detect, "are_unlike_stripes", lambda evidence: False)
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


def test_dashes_between_lines_are_no_stripes() -> None:
    # by construction cm: dashes staggered by half of their step in every other gap
    lines = [f"M{x} 5V95" for x in range(11, 155, 6)]
    for k, x in enumerate(range(8, 155, 6)):
        lines += [f"M{x} {y}v3" for y in range(7 + 3 * (k % 2), 92, 6)]
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="100mm" '
        'viewBox="0 0 160 100"><g fill="none" stroke="#000" stroke-width=".25">'
        f'<path d="M5 5H155V95H5Z"/><path d="{"".join(lines)}"/></g></svg>'
    )
    survey = make_survey(svg.encode(), name="s.svg")
    assert "one way" not in survey.zones[0].symmetry.reason


def test_stripes_of_one_width_are_one_kind() -> None:
    survey = make_survey(stripes([10.0 + 5 * k for k in range(19)]), name="s.svg")
    assert len(set(survey.orbits.of_face[1:])) == 1


def test_slanting_lines_of_which_none_repeats_are_surveyed() -> None:
    # at random distances; the warnings of a library are errors
    starts = [
        5.005,
        74.215,
        45.317,
        -24.861,
        21.315,
        57.02,
        77.341,
        -12.424,
        -14.207,
        40.517,
        0.215,
        -29.776,
        -23.869,
        34.836,
        35.543,
        -21.966,
        -17.439,
        81.236,
        -4.245,
        6.489,
        14.834,
        -24.31,
    ]
    # all of them parallel, their starts on one line square to them
    lines = "".join(
        f'<path d="M{x} {198.147 + (x - 5.005) * 0.191726:.3f}l56.488 -294.633"/>'
        for x in starts
    )
    svg = stripes([]).decode().replace("</g>", lines + "</g>")
    assert make_survey(svg.encode(), name="s.svg").arrangement.face_count > 10
