"""Lay a palette of one's own on a drawing and compare colourways of it.

The paints are invented. The sheet shows several assignments side by side, best first,
with the greys of the paints under each; then one is coloured with a kind pinned.

Run it: ``python demo/own_palette_sheet.py``.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import fillwork

DRAWING = Path(__file__).resolve().parent / "drawings" / "worn-patch.svg"
PAINTS = {
    "chalk": "#f4efe2",
    "straw": "#dcb44a",
    "clay": "#b4573a",
    "pond": "#2e6f73",
    "soot": "#2b2a2c",
}


def main() -> None:
    """Write the sheet and one coloured drawing."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", default="out/own-palette", type=Path)
    options = parser.parse_args()

    palette = fillwork.Palette.from_colours(PAINTS, name="Yard paints")
    survey = fillwork.make_survey(DRAWING)
    sheet = fillwork.contact_sheet(survey, [palette], count=3)
    star = survey.orbits.orbits[0]
    coloured = fillwork.colour_survey(
        survey, palette=palette, pins={star.letter: "pond"}
    )
    finish = fillwork.Finish(coloured)
    print(f"{survey.linework.file}: {len(survey.orbits.orbits)} kinds")
    print(f"least difference {finish.colouring.smallest_difference:.1f} (CIEDE2000)")
    options.out.mkdir(parents=True, exist_ok=True)
    (options.out / "colourways.pdf").write_bytes(sheet)
    finish.write_png(options.out / "coloured.png", force=True)


if __name__ == "__main__":
    main()
