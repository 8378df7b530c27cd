"""Make the demo's photograph: no camera took it, a generator rendered it.

An invented A6 sheet of stars and crosses, inked over its pencil construction, lies
on a table under uneven light and is seen a little aslant. The rendering is that of
the tests for pictures. Run it from anywhere: ``python demo/make_photo.py``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.unit.readers.scan.sheets import Faults, Sheet, photo  # noqa: E402

PAGE = (105.0, 148.0)  # mm, A6
PITCH, COLUMNS, ROWS = 26.0, 3, 4
TARGET = ROOT / "demo" / "drawings" / "snack-bar-shutter.jpg"


def sheet() -> Sheet:
    """Return eight-point stars tip to tip in a frame, each round a circle."""
    across, down = PITCH * COLUMNS, PITCH * ROWS
    low = (np.array(PAGE) - (across, down)) / 2
    corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)])
    lines = [low + corners * (across, down)]
    guides = []
    turn = np.pi / 8 * np.arange(17)
    # a tip every second step, and between two tips the inner corner of {8/2}
    radius = np.where(np.arange(17) % 2, np.cos(np.pi / 4) / np.cos(np.pi / 8), 1.0)
    star = PITCH / 2 * radius[:, None] * np.stack([np.cos(turn), np.sin(turn)], 1)
    fine = np.linspace(0, 2 * np.pi, 181)
    circle = np.stack([np.cos(fine), np.sin(fine)], 1)
    for column in range(COLUMNS):
        for row in range(ROWS):
            middle = low + PITCH * (np.array([column, row]) + 0.5)
            lines += [middle + star, middle + 0.24 * PITCH * circle]
            guides.append(middle + PITCH / 2 * circle)
    return Sheet("stars and crosses", PAGE, lines, guides)


def main() -> None:
    """Write the photograph."""
    faults = Faults(
        width=0.5, wobble=0.08, overshoots=1.0, pencil=185, light=0.22, tilt=13.0,
        blur=0.7, noise=2.0, quality=62,
    )  # fmt: skip
    data, _ = photo(sheet(), faults, 5, (1110, 1480))
    TARGET.write_bytes(data)
    print(TARGET.name, len(data))


if __name__ == "__main__":
    main()
