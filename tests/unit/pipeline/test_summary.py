"""The few lines that `fillwork colour` ends with."""

from __future__ import annotations

import fillwork
from fillwork.pipeline.reports import summary


def _zigzag(
    start: tuple[float, float],
    end: tuple[float, float],
    out: tuple[float, float],
    n: int,
) -> str:
    """Return n teeth on a line."""
    step = [(b - a) / (2 * n) for a, b in zip(start, end, strict=True)]
    points = [
        [start[k] + i * step[k] + 12 * out[k] * (i % 2) for k in (0, 1)]
        for i in range(2 * n + 1)
    ]
    return f'<path d="M{" ".join(f"{x} {y}" for x, y in points)}"/>'


def test_the_groups_of_a_frame_are_named_though_its_middle_is_plain() -> None:
    # a zigzag between two rails keeps half-turns, glides and mirrors across: p2mg
    # (International Tables for Crystallography, vol. E: the frieze groups)
    a, b, c, d = (20, 20), (152, 20), (152, 108), (20, 108)
    sides = (
        _zigzag(a, b, (0, -1), 11)
        + _zigzag(b, c, (1, 0), 8)
        + _zigzag(c, d, (0, 1), 11)
        + _zigzag(d, a, (-1, 0), 8)
    )
    frame = '<path d="M8 8H164V120H8Z M8 20H164 M8 108H164 M20 8V120 M152 8V120"/>'
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="172mm" height="128mm" '
        f'viewBox="0 0 172 128" fill="none" stroke="black">{frame}{sides}</svg>'
    ).encode()
    survey = fillwork.make_survey(drawing, name="frame.svg")
    finish = fillwork.Finish(fillwork.colour_survey(survey, palette="quiet-earth"))
    assert "symmetry frieze p2mg\n" in summary(finish)
