import io

import numpy as np
import pytest
from PIL import Image

from fillwork.arrangement.model import Outlines
from fillwork.geometry.curves import LINE, Curves
from fillwork.renderers.encoders import png
from fillwork.renderers.scene import (
    Fills,
    Labels,
    Picture,
    Placed,
    Scene,
    Text,
    segments,
    shapes_from_rings,
)


def box(x: float, y: float, side: float) -> Outlines:
    """Return a square as the outline of one shape."""
    corners = np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]])
    lines = np.hstack([corners, np.roll(corners, -1, axis=0), np.zeros((4, 4))])
    table = Curves(np.full(4, LINE, np.uint8), lines)
    return Outlines(table, np.array([0, 4]), np.array([0, 1]))


def squares(colours: list[str]) -> tuple[Fills, ...]:
    """Return squares of 4 mm side by side in rows of 20, a colour each."""
    return tuple(
        Fills(box(4.0 * (k % 20), 4.0 * (k // 20), 4.0), np.array([0]), colour)
        for k, colour in enumerate(colours)
    )


def pixels(scene: Scene, width: int) -> np.ndarray:
    return np.array(Image.open(io.BytesIO(png.to_png(scene, width))))


@pytest.mark.parametrize("paper", ["#fff8e0", None])
def test_colours_drawn_as_numbers_are_the_colours_drawn_themselves(paper, monkeypatch):
    at = np.array([[11.3, 7.1], [30.2, 20.4]])
    items = (
        *squares([f"#{k:02x}{255 - k:02x}30" for k in range(0, 250, 2)]),
        segments([[1.3, 2.2, 70.1, 50.9]], 0.73, "#123456"),
        segments([[1.3, 40.2, 70.1, 50.9]], 0.05, "#654321"),
        Labels(at, np.array([4.0, 3.0]), np.array([0, 1]), ("12", "7")),
        Text((10.0, 30.0), "word", 14.0, colour="#aa0011"),
    )
    inner = Picture(items, (0.0, 0.0, 80.0, 60.0))
    placed = Placed(inner, (0.5, 0.1, -0.1, 0.5, 20.0, 5.0))
    clipped = Placed(inner, (0.4, 0.0, 0.0, 0.4, 2.0, 30.0), clip=(0, 0, 50, 40))
    scene = Scene(80, 60, (*items, placed, clipped), paper=paper)
    numbered = png.to_png(scene, 321)
    monkeypatch.setattr(png, "_numbers", lambda items: {})
    assert numbered == png.to_png(scene, 321)


@pytest.mark.parametrize("count", [1, 255, 256, 300])
def test_any_count_of_colours_keeps_each(count):
    colours = [f"#{k % 256:02x}{k // 256 * 80:02x}99" for k in range(count)]
    seen = pixels(Scene(80, 60, squares(colours), paper="#ffffff"), 160)
    for k, colour in enumerate(colours):
        x, y = 8 * (k % 20) + 4, 120 - 8 * (k // 20) - 4
        assert tuple(seen[y, x]) == tuple(bytes.fromhex(colour[1:]))


def test_all_rings_of_one_shape_are_filled_by_the_even_odd_rule():
    # two squares apart; the first has a hole, and in the hole stands a third
    rings = [
        [[x, y], [x + side, y], [x + side, y + side], [x, y + side]]
        for x, y, side in ((4, 4, 32), (8, 8, 24), (16, 16, 8), (48, 4, 24))
    ]
    shape, row = shapes_from_rings([rings]), np.zeros(1, int)
    scene = Scene(80, 60, (Fills(shape, row, "#ff0000"),), paper="#ffffff")
    seen = pixels(scene, 80)
    inked = seen[:, :, 1] == 0
    # at one pixel a millimetre, 60 high: from the top down
    shown = {(6, 20): 1, (12, 20): 0, (20, 20): 1, (60, 16): 1, (42, 20): 0}
    assert {at: int(inked[59 - at[1], at[0]]) for at in shown} == shown
    # the holes' edges belong to the shape, a quarter of a pixel each side
    assert inked.sum() == pytest.approx(32**2 - 24**2 + 8**2 + 24**2, abs=30)
