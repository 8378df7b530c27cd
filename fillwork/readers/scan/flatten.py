"""The sheet laid flat: perspective taken out, at a resolution fit for its lines."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import ReadError
from fillwork.readers.scan.askew import measure_askew
from fillwork.readers.scan.faint import faint_outline
from fillwork.readers.scan.lens import Bend, measure_bend
from fillwork.readers.scan.model import Page
from fillwork.readers.scan.sheet import find_outline

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from fillwork.arrays import Floats
    from fillwork.readers.scan.model import Choices
    from fillwork.readers.scan.picture import Picture
    from fillwork.readers.scan.sheet import Outline

_MM_PER_INCH = 25.4
_FINE = 300.0 / _MM_PER_INCH
_COARSE = 170.0 / _MM_PER_INCH
# px: within so small a box a bent sheet is flat to a fiftieth of a pixel.
_CELL = 48
_MOST_PIXELS = 20_000_000
# px: fewer are less than 6 mm at the least resolution.
_LEAST_SIDE = 40
# Proportions of common papers: ISO 216, and letter of ANSI/ASME Y14.1; how far off a
# sheet may seem that has one, where the camera's focal length is known, and else.
_PAPERS = ((210.0, 297.0), (215.9, 279.4))
_KNOWN, _GUESSED = 0.01, 0.03
# How much larger or smaller a scan may be than the sheet that it shows all of.
_SCANNED = 0.01
# How much nearer one side of a sheet is than the other, to tell what the camera's
# focal length is; that of telephones' main cameras against a picture's longer side,
# 26 of 36 mm (common practice, no source).
_DEEP, _FOCAL = 0.02, 0.72


def flatten_sheet(picture: Picture, choices: Choices, name: str) -> Page:
    """Return the sheet as if seen straight from above.

    `choices`: size and corners, where the user says them. Raises `ReadError` if the
    sheet is not wholly in view, is too small, or the corners named are none.
    """
    page = _flat(picture, choices, name)
    if min(page.rgb.shape[:2]) < _LEAST_SIDE:
        across, up = page.size
        what = f"the sheet measures {across:.1f} x {up:.1f} mm, too little for lines"
        mend = "name its size with --sheet-size, or the scan's resolution with --dpi"
        raise ReadError(what, name, mend)
    return page


def _flat(picture: Picture, choices: Choices, name: str) -> Page:
    height, width = picture.rgb.shape[:2]
    torn, faint = None, False
    if choices.corners:
        corners = _named(choices.corners, (width, height), picture.shrunk, name)
        middle = np.array([width, height]) / 2.0
        bend = Bend(middle, float(np.hypot(*middle)), 0.0, corners, (np.zeros(3),) * 4)
    else:
        whole = _is_whole_scan(picture, choices)
        outline = None if whole else _outline(picture, name)
        if outline is None:
            return _whole(picture, choices)
        bend, torn = measure_bend(outline, (width, height)), outline.torn
        faint = outline.faint
    size, known = _size(bend.corners, picture, choices, torn)
    page = _laid(picture, bend, size, known)
    if torn is None and not faint:
        return page
    seen, _ = sheet_proportion(bend.corners, (width, height), _focal(picture))
    slim = min(seen, 1 / seen)
    papers = (sorted(choices.sheet_size),) if choices.sheet_size else _PAPERS
    off = min(abs(slim * long / short - 1) for short, long in papers)
    borne_out = bool(off < _KNOWN)
    return replace(page, torn=torn is not None, faint=faint, borne_out=borne_out)


def _is_whole_scan(picture: Picture, choices: Choices) -> bool:
    """Return whether a scan shows the sheet of the size named and nothing beside it.

    By its own resolution: a frame that is drawn on it is no edge of the paper.
    """
    if picture.dpi is None or choices.sheet_size is None or picture.camera:
        return False
    height, width = picture.rgb.shape[:2]
    shown = np.sort([width, height]) * _MM_PER_INCH / picture.dpi
    return bool(np.abs(shown / np.sort(choices.sheet_size) - 1).max() < _SCANNED)


def _outline(picture: Picture, name: str) -> Outline | None:
    """Return the sheet's outline, which may be faint, or None where paper fills all."""
    try:
        found = find_outline(picture.rgb, name)
    except ReadError:
        faint = faint_outline(picture.rgb)
        if faint is None:
            raise
        return faint
    # a scan that states its resolution shows the scanner's lid at most
    if found is None and picture.dpi is None:
        return faint_outline(picture.rgb)
    return found


def _named(
    corners: tuple[tuple[float, float], ...],
    size: tuple[int, int],
    shrunk: int,
    name: str,
) -> Floats:
    found = np.array(corners, np.float64) / shrunk
    slack = 0.02 * max(size)
    inside = (found >= -slack).all() and (found <= np.array(size) + slack).all()
    turn = np.roll(found, -1, 0) - found
    after = np.roll(turn, -1, 0)
    cross = turn[:, 0] * after[:, 1] - turn[:, 1] * after[:, 0]
    if not inside or (cross <= 0.001 * size[0] * size[1]).any():
        what = "the four corners named are no sheet in this picture"
        mend = "name them in px, clockwise from the upper left"
        raise ReadError(what, name, mend)
    return found


def sheet_proportion(
    corners: Floats, size: tuple[int, int], focal: float | None = None
) -> tuple[float, bool]:
    """Return width / height of a sheet seen in perspective, and whether it is known.

    The proportion, for a camera that looks through the picture's middle; what is known
    is right to a hundredth. A sheet tilted about one of its own sides shows no
    distance to the eye: without `focal` that of a telephone is taken.

    `corners` (4, 2): px, clockwise from the upper left. `size`: width and height of the
    picture, px. `focal`: the camera's focal length, px, where its file says it.

    References
    ----------
    .. [1] Z. Zhang, L. He, "Whiteboard scanning and image enhancement",
       Digital Signal Processing 17, 414-432, 2007, equations 11 to 21.
    """
    middle = np.array(size) / 2.0
    m1, m2, m4, m3 = (np.append(c - middle, 1.0) for c in corners)
    k2 = np.cross(m1, m4) @ m3 / (np.cross(m2, m4) @ m3)
    k3 = np.cross(m1, m4) @ m2 / (np.cross(m3, m4) @ m2)
    n2, n3 = k2 * m2 - m1, k3 * m3 - m1
    deep = sorted((abs(n2[2]), abs(n3[2])))
    f2, known = (_FOCAL * max(size)) ** 2, deep[1] < _DEEP
    if focal is not None:
        f2, known = focal**2, True
    if deep[0] >= _DEEP:
        seen = -(n2[0] * n3[0] + n2[1] * n3[1]) / (n2[2] * n3[2])
        if 0.16 * max(size) ** 2 < seen < 25 * max(size) ** 2:
            f2, known = seen, True
    inverse = np.diag([1 / f2, 1 / f2, 1.0])
    return float(np.sqrt((n2 @ inverse @ n2) / (n3 @ inverse @ n3))), known


def _size(
    corners: Floats, picture: Picture, choices: Choices, torn: int | None
) -> tuple[tuple[float, float], bool]:
    """Return the sheet's size, mm, and whether it is known.

    `torn`: the side that is torn or covered, which leaves the one across it whole.
    """
    height, width = picture.rgb.shape[:2]
    proportion, seen = sheet_proportion(corners, (width, height), _focal(picture))
    if choices.sheet_size is not None:
        size = _lying(choices.sheet_size, proportion > 1)
        if torn is not None and abs(proportion * size[1] / size[0] - 1) > _GUESSED:
            across = size[0] / proportion, size[1] * proportion
            size = (size[0], across[0]) if torn % 2 == 0 else (across[1], size[1])
        return size, True
    slim = min(proportion, 1 / proportion)
    short, long = min(_PAPERS, key=lambda p: abs(p[0] / p[1] - slim))
    if abs(short / long / slim - 1) > (_KNOWN if seen else _GUESSED):
        short = long * slim
    return _lying((short, long), proportion > 1), False


def _lying(size: Iterable[float], across: bool) -> tuple[float, float]:
    """Return a size, mm, the longer side across or up."""
    short, long = sorted(size)
    return (long, short) if across else (short, long)


def _focal(picture: Picture) -> float | None:
    """Return the camera's focal length, px, where the file says it."""
    return picture.focal * max(picture.rgb.shape[:2]) if picture.focal else None


def _whole(picture: Picture, choices: Choices) -> Page:
    from PIL import Image

    height, width = picture.rgb.shape[:2]
    stated = choices.dpi / picture.shrunk if choices.dpi else picture.dpi
    known = stated is not None
    # a photograph shows more than the sheet, but where an app has cut it out
    edgeless = picture.camera
    if choices.sheet_size is not None:
        across, up = _lying(choices.sheet_size, width > height)
        edgeless |= abs(across / up / (width / height) - 1) > 0.03
        scale, known = width / across, True
    elif stated is not None:
        scale = stated / _MM_PER_INCH
    else:
        # common practice, no source: a scan of unknown size is an A4 sheet
        scale = max(width, height) / 297.0
    size = (width / scale, height / scale)
    wanted = min(scale, _FINE) if known else scale
    wanted = min(wanted, scale * np.sqrt(_MOST_PIXELS / (width * height)))
    turn = measure_askew(picture.rgb)
    rgb = _turned(picture.rgb, turn) if turn else picture.rgb
    if wanted < 0.93 * scale:
        new = (round(width * wanted / scale), round(height * wanted / scale))
        image = Image.fromarray(rgb).resize(
            new, Image.Resampling.BICUBIC, reducing_gap=3.0
        )
        rgb, scale = np.asarray(image), new[0] / size[0]
    return Page(rgb, scale, size, (), known, 0.0, turn, edgeless)


def _turned(rgb: NDArray[np.uint8], turn: float) -> NDArray[np.uint8]:
    """Return a scan turned about its middle; the corners that opens are paper."""
    from PIL import Image

    paper = tuple(int(v) for v in np.percentile(rgb[::8, ::8], 75, axis=(0, 1)))
    way = Image.Resampling.BICUBIC
    return np.asarray(Image.fromarray(rgb).rotate(turn, way, fillcolor=paper))


def _laid(picture: Picture, bend: Bend, size: tuple[float, float], known: bool) -> Page:
    from PIL import Image

    corners = bend.corners
    sides = np.hypot(*(np.roll(corners, -1, 0) - corners).T)
    own = max((sides[0] + sides[2]) / size[0], (sides[1] + sides[3]) / size[1]) / 2
    most = np.sqrt(_MOST_PIXELS / (size[0] * size[1]))
    scale = float(min(np.clip(own, _COARSE, _FINE), most))
    new = (round(size[0] * scale), round(size[1] * scale))
    flat = np.array([[0, 0], [new[0], 0], [new[0], new[1]], [0, new[1]]], np.float64)
    h = _homography(flat, corners)
    way = Image.Transform.MESH if bend.bent else Image.Transform.PERSPECTIVE
    how = _mesh(h, bend, new) if bend.bent else tuple(h)
    source = Image.fromarray(picture.rgb)
    image = source.transform(new, way, how, Image.Resampling.BICUBIC)
    shown = bend.seen(corners) * picture.shrunk
    seen = tuple((float(x), float(y)) for x, y in shown)
    bow = bend.bow / own
    return Page(np.asarray(image), new[0] / size[0], size, seen, known, bow)


def _mesh(
    h: Floats, bend: Bend, size: tuple[int, int]
) -> list[tuple[tuple[int, int, int, int], tuple[float, ...]]]:
    """Return small boxes of the page, each with its four corners in the picture."""
    xs, ys = (np.unique(np.append(np.arange(0, s, _CELL), s)) for s in size)
    x, y = (g.ravel().astype(np.float64) for g in np.meshgrid(xs, ys))
    low = h[6] * x + h[7] * y + 1.0
    places = np.stack([h[0] * x + h[1] * y + h[2], h[3] * x + h[4] * y + h[5]], 1)
    places /= low[:, None]
    places += bend.bowed(np.stack([x / size[0], y / size[1]], 1))
    at = bend.seen(places).reshape(len(ys), len(xs), 2)
    found = []
    for i in range(len(ys) - 1):
        for j in range(len(xs) - 1):
            box = (int(xs[j]), int(ys[i]), int(xs[j + 1]), int(ys[i + 1]))
            # Pillow's order: upper left, lower left, lower right, upper right
            four = (at[i, j], at[i + 1, j], at[i + 1, j + 1], at[i, j + 1])
            found.append((box, tuple(float(c) for p in four for c in p)))
    return found


def _homography(here: Floats, there: Floats) -> Floats:
    """Return the eight numbers that carry four points onto four others."""
    rows: list[list[float]] = []
    right: list[float] = []
    for (x, y), (u, v) in zip(here, there, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
        right.extend((u, v))
    return np.linalg.solve(np.array(rows), np.array(right))
