"""A framed panel drawn anew: its band, corner pieces and plain lines come along."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
from PIL import Image, ImageDraw

from fillwork.arrangement.build import build_arrangement
from fillwork.geometry.curves import ARC
from fillwork.pipeline.laying import Laid, lay_drawing
from fillwork.pipeline.laying_inputs import border_cell, border_from
from fillwork.plans.model import LayingSettings, Plan
from fillwork.readers.scan.model import Choices

# invented: squares of 20 mm with a lozenge in each; round them plain lines 2 mm apart,
# and between these a band 12 mm wide
PLAIN, BAND, STEP, SIDE = 2.0, 12.0, 12.0, 20.0
RIM = 2 * PLAIN + BAND


def ring(depth: float, w: float, h: float) -> str:
    return f"M{depth} {depth}H{w - depth}V{h - depth}H{depth}Z"


def lozenge(x: float, y: float, w: float, h: float) -> str:
    return f"M{x} {y + h / 2}l{w / 2}-{h / 2} {w / 2} {h / 2}-{w / 2} {h / 2}z"


def panel(columns: int, rows: int, *, teeth: bool = False, turn: int = 0) -> bytes:
    """Return a panel with corner squares, or with teeth and plain corners."""
    w, h = 2 * RIM + SIDE * columns, 2 * RIM + SIDE * rows
    parts = [ring(d, w, h) for d in (0.0, PLAIN, PLAIN + BAND, RIM)]
    for x, y in np.ndindex(columns, rows):
        a, b = RIM + SIDE * x, RIM + SIDE * y
        parts += [f"M{a} {b}h20v20h-20z", lozenge(a, b, SIDE, SIDE)]
    low, inner = PLAIN, PLAIN + BAND
    for k in range(round((w - 2 * inner) / STEP)):
        x = inner + STEP * k
        if teeth:
            parts += [f"M{x} {low}l6 12 6-12M{x} {h - low}l6-12 6 12"]
        else:
            parts += [lozenge(x, y, STEP, BAND) for y in (low, h - inner)]
    for k in range(round((h - 2 * inner) / STEP)):
        y = inner + STEP * k
        if teeth:
            parts += [f"M{low} {y}l12 6-12 6M{w - low} {y}l-12 6 12 6"]
        else:
            parts += [lozenge(x, y, BAND, STEP) for x in (low, w - inner)]
    for x in (low, w - inner):
        for y in (low, h - inner):
            parts.append(f"M{x} {y}h12v12h-12z")
            parts += [] if teeth else [lozenge(x, y, BAND, BAND)]
    turned = f'transform="rotate({turn})"' if turn else ""
    box = f"{-w} {-h} {2 * w} {2 * h}" if turn else f"0 0 {w} {h}"
    size = (2 * w, 2 * h) if turn else (w, h)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}mm" '
        f'height="{size[1]}mm" viewBox="{box}"><path fill="none" stroke="#000" '
        f'stroke-width=".3" {turned} d="{"".join(parts)}"/></svg>'
    ).encode()


def anew(drawing: bytes, columns: int, rows: int) -> Laid:
    size = (2 * RIM + SIDE * columns, 2 * RIM + SIDE * rows)
    found = border_from(drawing, "panel.svg", ())
    settings = LayingSettings(over=size, **found)
    return lay_drawing(drawing, Plan(laying=settings), name="panel.svg")


def regions(columns: int, rows: int) -> int:
    """Return how many regions the panel with corner squares has."""
    total = 5 * columns * rows  # a lozenge and four corners in each square
    for along in (columns, rows):
        # lozenges tip to tip, and the triangles on both sides of the row
        count = round((2 * RIM + SIDE * along - 2 * (PLAIN + BAND)) / STEP)
        total += 2 * (3 * count + 2)
    return total + 4 * 5 + 2  # corner squares, plain strips


@pytest.mark.parametrize("turn", [0, 90])
def test_corner_squares_and_plain_lines_come_along(turn: int) -> None:
    # sides of 4 and 10 squares take 7 and 17 lozenges
    laid = anew(panel(4, 4, turn=turn), 10, 4)
    assert laid.border is not None
    assert laid.border.width == pytest.approx(RIM, abs=1e-4)
    assert laid.border.stretch == pytest.approx((0.0, 0.0), abs=1e-4)
    assert build_arrangement(laid.linework).face_count - 1 == regions(10, 4)


@pytest.mark.parametrize("turn", [0, 180])
def test_teeth_point_inwards_on_every_side(turn: int) -> None:
    laid = anew(panel(4, 4, teeth=True, turn=turn), 10, 4)
    assert laid.border is not None
    ends = np.vstack([laid.border.curves.starts(), laid.border.curves.ends()])
    size = np.array([laid.panel.width, laid.panel.height])
    for axis, wide in ((0, 17), (1, 7)):
        for far in (False, True):
            depth = size[1 - axis] - ends[:, 1 - axis] if far else ends[:, 1 - axis]
            tips = ends[np.abs(depth - PLAIN - BAND) < 1e-3, axis]
            tips = np.unique(np.round((tips - PLAIN - BAND) / STEP, 3))
            tips = tips[(tips > 0.1) & (tips < wide - 0.1)]
            # by construction a tip over the middle of each step
            assert tips.tolist() == pytest.approx([k + 0.5 for k in range(wide)])


def test_a_border_that_nearly_comes_out_even_is_made_to() -> None:
    drawing = panel(4, 4)
    found = border_from(drawing, "panel.svg", ())
    # 2 and 1 mm more than 17 lozenges and 7
    size = (2 * RIM + 200.0 + 2.0, 2 * RIM + 80.0 + 1.0)
    for give, wanted in ((None, (2 / 204, 1 / 84)), (0.0105, (2 / 204, 0.0))):
        settings = LayingSettings(over=size, give=give, **found)
        laid = lay_drawing(drawing, Plan(laying=settings), name="panel.svg")
        assert laid.border is not None
        assert laid.border.stretch == pytest.approx(wanted, abs=1e-4)


def test_a_strip_by_itself_keeps_its_plain_lines() -> None:
    # a strip alone, its lower edge outside: a plain line 2 mm outside, one 3 mm inside
    parts = [f"M0 {y}H120" for y in (0.0, 3.0, 15.0, 17.0)] + ["M0 0V17M120 0V17"]
    parts += [f"M{12 * k} 15l6-12 6 12" for k in range(10)]
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="17mm" '
        'viewBox="0 0 120 17"><path fill="none" stroke="#000" stroke-width=".3" '
        f'd="{"".join(parts)}"/></svg>'
    )
    found = border_from(text.encode(), "strip.svg", ())
    assert "corner" not in found
    settings = LayingSettings(over=(34 + 240, 34 + 120), **found)
    laid = lay_drawing(panel(4, 4), Plan(laying=settings), name="panel.svg")
    assert laid.border is not None
    assert laid.border.width == pytest.approx(17, abs=0.01)


def round_middle(columns: int, rows: int, *, off: float = 0.0) -> bytes:
    """Return squares of 10 mm round a disc of 16 mm with eight rays.

    The disc hides the squares that it touches; `off`: how far it stands off the middle.
    """
    w, h = 10 * columns, 10 * rows
    x, y = w / 2 + off, h / 2
    parts = [f"M0 0H{w}V{h}H0Z"]
    for a, b in np.ndindex(columns, rows):
        if np.hypot(10 * a + 5 - x, 10 * b + 5 - y) > 22:
            parts.append(f"M{10 * a} {10 * b}h10v10h-10z")
    for k in range(8):
        u, v = 16 * np.cos(k * np.pi / 4), 16 * np.sin(k * np.pi / 4)
        parts.append(f"M{x} {y}L{x + u} {y + v}")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" '
        f'viewBox="0 0 {w} {h}"><g fill="none" stroke="#000" stroke-width=".2">'
        f'<circle cx="{x}" cy="{y}" r="16"/><path d="{"".join(parts)}"/></g></svg>'
    ).encode()


def laid_over(drawing: bytes, width: float, height: float, medallion: str) -> Laid:
    settings = LayingSettings(over=(width, height), medallion=medallion)
    return lay_drawing(drawing, Plan(laying=settings), name="middle.svg")


def test_a_medallion_stands_in_the_middle_of_the_larger_field() -> None:
    laid = laid_over(round_middle(14, 14), 300, 200, "keep")
    faces = build_arrangement(laid.linework)
    # by construction: eight sectors of a disc of 16 mm, whole, in the middle
    angle = (np.arange(8) + 0.5) * np.pi / 4
    around = np.stack([150 + 8 * np.cos(angle), 100 + 8 * np.sin(angle)], axis=1)
    sectors = faces.faces_at(around)
    assert len(set(sectors.tolist())) == 8
    assert faces.area[sectors] == pytest.approx([np.pi * 16**2 / 8] * 8, rel=1e-6)
    # the 16 hidden squares are one region round the disc, all others are whole
    whole = np.isclose(faces.area[1:], 100.0)
    assert whole.sum() == 30 * 20 - 16
    assert faces.face_count - 1 == 30 * 20 - 16 + 8 + 1
    assert not [n for n in laid.linework.notes if n.type == "medallion"]


def test_a_medallion_is_left_out_where_it_is_wished_or_has_no_room() -> None:
    drawing = round_middle(14, 14)
    plain = build_arrangement(laid_over(drawing, 300, 200, "drop").linework)
    assert plain.face_count - 1 == 30 * 20
    tight = laid_over(drawing, 100, 30, "keep")
    assert not (tight.linework.curves.kind == ARC).any()
    told = [n.type for n in tight.linework.notes if "no room" in n.text]
    assert told == ["medallion"]


def test_a_medallion_off_the_middle_is_told() -> None:
    laid = laid_over(round_middle(18, 14, off=20), 100, 100, "keep")
    notes = [n for n in laid.linework.notes if n.type == "medallion"]
    assert len(notes) == 1
    assert notes[0].at == pytest.approx((110, 70), abs=0.01)


def test_the_strip_of_a_picture_is_as_large_as_its_resolution_says() -> None:
    # teeth of 12 mm in a strip 12 mm wide, drawn at 200 dots an inch
    px = 200 / 25.4
    picture = Image.new("L", (round(160 * px), round(40 * px)), 255)
    draw = ImageDraw.Draw(picture)

    def stroke(*points: tuple[float, float]) -> None:
        at = [((x + 20) * px, (y + 14) * px) for x, y in points]
        draw.line(at, fill=0, width=3)

    stroke((0, 0), (120, 0), (120, 12), (0, 12), (0, 0))
    for k in range(10):
        stroke((12 * k, 0), (12 * k + 6, 12), (12 * k + 12, 0))
    held = BytesIO()
    picture.save(held, "PNG", dpi=(200, 200))
    for dpi, scale in ((None, 1), (100, 2)):
        found = border_from(held.getvalue(), "strip.png", (), picture=Choices(dpi=dpi))
        settings = LayingSettings(over=(1000, 800), **found)
        cell, _ = border_cell(settings)
        size = np.ptp(cell.outline, axis=0) / scale
        assert size == pytest.approx((12, 12), rel=0.02)
