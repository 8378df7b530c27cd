"""One scene of all that a sheet can hold, as PNG and as PDF: the same picture."""

from __future__ import annotations

import io

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from fillwork.arrangement.model import Outlines
from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves
from fillwork.renderers.encoders import png
from fillwork.renderers.encoders.pdf import to_pdf
from fillwork.renderers.scene import (
    Fills,
    Labels,
    Picture,
    Placed,
    Scene,
    Strokes,
    Text,
    segments,
)

SCALE = 6  # px a mm


def ring(*points: tuple[float, float]) -> np.ndarray:
    """Return the sides of a polygon as rows of a table of curves."""
    ends = np.hstack([points, np.roll(points, -1, axis=0)])
    return np.hstack([ends, np.zeros((len(ends), 4))])


def circle(x: float, y: float, r: float, turn: int) -> np.ndarray:
    halves = [[x, y, r, 0, 0, r, k * np.pi, (k + turn) * np.pi] for k in (0, turn)]
    return np.array(halves)


def shapes() -> Outlines:
    """A square with a round hole, a triangle, and a disc."""
    square, tri = (
        ring((5, 5), (25, 5), (25, 25), (5, 25)),
        ring((30, 5), (50, 8), (35, 25)),
    )
    rings = [square, circle(15, 15, 6, -1), tri, circle(65, 15, 9, 1)]
    kind = np.repeat([LINE, ARC, LINE, ARC], [4, 2, 3, 2]).astype(np.uint8)
    return Outlines(
        Curves(kind, np.concatenate(rings)),
        np.array([0, 4, 6, 9, 11]),
        np.array([0, 2, 3, 4]),
    )


def scene() -> Scene:
    kind = np.array([LINE, CUBIC, ARC, LINE, LINE, LINE], np.uint8)
    curves = Curves(
        kind,
        np.array(
            [
                [5, 35, 20, 35, 0, 0, 0, 0],
                [20, 35, 30, 50, 40, 20, 50, 35],
                [60, 35, 0, -10, 10, 0, 0, np.pi / 2],
                [80, 30, 100, 30, 0, 0, 0, 0],
                [100, 30, 95, 50, 0, 0, 0, 0],
                [95, 50, 80, 30, 0, 0, 0, 0],
            ],
            float,
        ),
    )
    path = Strokes(
        curves, np.array([0, 2, 3, 6]), np.array([False, False, True]), 1.4, "#b03020"
    )
    words = [
        Text((8.0, 60.0), "Lattice", 16.0, colour="#203060"),
        Text((60.0, 60.0), "of stars", 12.0, align="centre", weight="medium"),
        Text((110.0, 60.0), "in rows", 20.0, align="right", colour="#888800"),
    ]
    labels = Labels(
        np.array([[15.0, 15.0], [38.0, 12.0], [65.0, 15.0]]),
        np.array([6.0, 3.0, 9.0]),
        np.array([0, 1, 0], np.int32),
        ("14", "7"),
        "#ffffff",
    )
    items = (
        Fills(shapes(), np.array([0, 2]), "#2d6f80"),
        Fills(shapes(), np.array([1]), "#d0a030"),
        labels,
        path,
        segments([[5, 52, 105, 56], [80, 5, 80, 25]], 0.8, "#000000", dash=(5.0, 2.0)),
        *words,
    )
    box = (0.0, 0.0, 112.0, 70.0)
    # words stay upright in a picture that is turned: it has none
    bare = Picture(tuple(i for i in items if not isinstance(i, Labels | Text)), box)
    turned = Placed(bare, (0.0, 0.4, -0.4, 0.0, 35.0, 75.0))
    mirrored = Placed(bare, (-0.4, 0.0, 0.0, 0.4, 75.0, 72.0), clip=(40, 74, 66, 90))
    small = Placed(Picture(items, box), (0.3, 0.0, 0.0, 0.3, 74.0, 95.0))
    return Scene(112.0, 125.0, (*items, turned, mirrored, small), paper="#fff8e8")


def blurred(image: Image.Image, by: int = 6) -> np.ndarray:
    """Return means over squares of one millimetre, by which edges weigh little."""
    return np.asarray(image.convert("RGB").reduce(by), float)


def test_a_picture_and_a_page_show_the_same() -> None:
    drawn = scene()
    picture = Image.open(io.BytesIO(png.to_png(drawn, 112 * SCALE)))
    page = pypdfium2.PdfDocument(to_pdf((drawn,), title="x"))[0]
    assert page.get_size() == pytest.approx((112 / 25.4 * 72, 125 / 25.4 * 72))
    other = page.render(scale=SCALE * 25.4 / 72).to_pil().resize(picture.size)
    away = np.abs(blurred(picture) - blurred(other))
    assert away.max() < 45
    assert away.mean() < 0.5


@pytest.mark.parametrize("paper", ["#fff8e8", None])
def test_a_picture_drawn_in_bands_is_the_same(paper, monkeypatch) -> None:
    drawn = Scene(112.0, 125.0, scene().items, paper=paper)

    def picture() -> np.ndarray:
        found = Image.open(io.BytesIO(png.to_png(drawn, 300)))
        assert found.size == (300, round(300 * 125 / 112))
        white = Image.new("RGBA", found.size, "white")
        return np.asarray(Image.alpha_composite(white, found.convert("RGBA")), int)

    whole = picture()
    monkeypatch.setattr(png, "_BAND", 16 * 300 * 17)
    monkeypatch.setattr(png, "_STRIP", 4 * 300 * 9)
    away = np.abs(picture() - whole)
    # slanted sides may begin a sixteenth of a pixel farther on
    assert away.max() < 64
    assert away.mean() < 0.1
