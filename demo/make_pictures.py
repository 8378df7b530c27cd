"""Draw the small pictures of the demo's drawings that the page shows at first.

Each is the coloured drawing in the palette that a new plan begins with, reduced to
few colours so that all of them together stay small. Run it when drawings or the way
colours are chosen change: ``python demo/make_pictures.py``.
"""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

from fillwork import colour_drawing
from fillwork.pipeline.encoding import encode

WIDTH, COLOURS = 360, 48
FOLDER = Path(__file__).resolve().parent / "drawings"


def main() -> None:
    """Write one PNG beside each drawing."""
    for drawing in sorted(FOLDER.glob("*.svg")):
        finish = colour_drawing(drawing)
        data = encode(finish.scene(), ".png", width=2 * WIDTH)
        picture = Image.open(io.BytesIO(data)).convert("RGB")
        size = (WIDTH, round(WIDTH * picture.height / picture.width))
        picture = picture.resize(size, Image.Resampling.LANCZOS)
        small = picture.quantize(COLOURS, dither=Image.Dither.NONE)
        small.save(drawing.with_suffix(".png"), optimize=True)
        print(drawing.stem, *size, drawing.with_suffix(".png").stat().st_size)


if __name__ == "__main__":
    main()
