"""The numbered colours of DXF as red, green and blue."""

from __future__ import annotations

# 7 is white on a dark screen and black on paper
_FIRST = (
    "#000000", "#ff0000", "#ffff00", "#00ff00", "#00ffff", "#0000ff", "#ff00ff",
    "#000000", "#808080", "#c0c0c0",
)  # fmt: skip
_GREYS = ("#000000", "#656565", "#666666", "#999999", "#cccccc", "#ffffff")
_VALUES = (1.0, 0.65, 0.5, 0.3, 0.15)


def numbered_colour(number: int) -> str:
    """Return a numbered colour; ``#rrggbb``.

    `number`: 1 to 255; others are black.

    1 to 9 have names. 10 to 249 go round the hues in steps of 15 degrees, each in
    five values, full and half saturated in turn; the rest are greys.

    Examples
    --------
    >>> numbered_colour(1), numbered_colour(7), numbered_colour(21)
    ('#ff0000', '#000000', '#ff9f7f')
    """
    if not 0 < number < 256:
        return "#000000"
    if number < 10:
        return _FIRST[number]
    if number >= 250:
        return _GREYS[number - 250]
    hue, shade = divmod(number - 10, 10)
    value = 255 * _VALUES[shade // 2]
    least = value / 2 if shade % 2 else 0.0
    parts = []
    for shift in (0, 16, 8):
        # a hexagon of 24 steps: up over four, full over eight, down over four
        step = (hue + shift) % 24
        near = min(step, 24 - step)
        share = min(max((8 - near) / 4, 0.0), 1.0)
        parts.append(int(least + share * (value - least)))
    return "#{:02x}{:02x}{:02x}".format(*parts)
