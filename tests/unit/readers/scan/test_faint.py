"""A white sheet on a white table."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw

from fillwork.readers.scan.faint import faint_outline
from fillwork.readers.scan.flatten import flatten_sheet
from fillwork.readers.scan.model import Choices
from fillwork.readers.scan.picture import open_picture
from fillwork.readers.scan.trace import _sheet_doubts
from tests.unit.readers.scan.test_sheet import SIZE, seen

CORNERS = seen((148.0, 210.0), (9, 6))


def on_white(table: int, shadow: int | None = None) -> Image.Image:
    """A sheet of 244 of 255 with a frame in uneven light, a band of shadow over all."""
    image = Image.new("RGB", SIZE, (table,) * 3)
    pen = ImageDraw.Draw(image)
    pen.polygon([tuple(c) for c in CORNERS], fill=(244, 244, 244))
    inner = CORNERS.mean(axis=0) + 0.8 * (CORNERS - CORNERS.mean(axis=0))
    pen.line([tuple(c) for c in (*inner, inner[0])], fill=(20, 20, 20), width=4)
    light = np.linspace(1.0, 0.7, SIZE[0])[None, :, None]
    if shadow is not None:
        light = np.repeat(light, SIZE[1], axis=0)
        for k in range(SIZE[1]):
            light[k, shadow + k // 4 : shadow + 250 + k // 4] *= 0.75
    noise = np.random.default_rng(2).normal(0.0, 2.0, (SIZE[1], SIZE[0], 1))
    return Image.fromarray(
        np.clip(np.asarray(image) * light + noise, 0, 255).astype(np.uint8)
    )


@pytest.mark.parametrize("table", [234, 252])
@pytest.mark.parametrize("shadow", [None, 200])
def test_a_sheet_is_found_on_a_table_as_bright(table: int, shadow: int | None) -> None:
    found = faint_outline(np.asarray(on_white(table, shadow)))
    assert found is not None
    assert found.corners == pytest.approx(CORNERS, abs=2.0)


@pytest.mark.parametrize("shadow", [None, 200])
def test_what_is_drawn_on_paper_is_no_sheet(shadow: int | None) -> None:
    # the frame alone, and paper up to the picture's rim
    whole = on_white(244, shadow)
    assert faint_outline(np.asarray(whole)) is None


@pytest.mark.parametrize(
    ("named", "weighs"), [(None, 0), ((148.0, 210.0), 0), ((148.0, 225.0), 1)]
)
def test_it_weighs_where_no_size_bears_it_out(
    named: tuple[float, float] | None, weighs: int
) -> None:
    out = io.BytesIO()
    on_white(234).save(out, "PNG")
    choices = Choices(sheet_size=named)
    page = flatten_sheet(open_picture(out.getvalue(), "x"), choices, "x")
    assert page.faint
    assert [d.weighs for d in _sheet_doubts(page)] == [weighs > 0]
