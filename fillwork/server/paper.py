"""What the page shows of a picture of a sheet: the photo, the sheet, the doubts."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from fillwork.pipeline.scanning import picture_choices
from fillwork.renderers.report import trace_report

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fillwork.linework import LineWork
    from fillwork.plans.model import Plan

# px: wide enough for a large screen, small enough to be sent in a moment.
_LARGEST = 2000


def paper_table(
    source: bytes, name: str, linework: LineWork | None, plan: Plan
) -> dict[str, Any]:
    """Return what is known of a traced picture.

    Plain values: ``size_px`` of the photo, ``trace`` as in a report, and the paths of
    each layer, mm, y down.

    `linework`: the traced lines; None where that failed. Raises `ReadError` if the
    picture cannot be read.
    """
    from fillwork.readers.scan.picture import open_picture
    from fillwork.renderers.page.data import compose_lines

    picture = open_picture(source, name)
    height, width = picture.rgb.shape[:2]
    table: dict[str, Any] = {
        "size_px": [width * picture.shrunk, height * picture.shrunk],
        "corners_px": [list(c) for c in plan.scan.corners],
        "pen": plan.scan.pen,
        "trace": None,
    }
    if linework is not None and linework.trace is not None:
        table["trace"] = trace_report(linework.trace)
        table["corners_px"] = [list(c) for c in linework.trace.corners]
        layers = [linework.styles[k][0] for k in sorted(set(linework.style.tolist()))]
        paths = compose_lines(linework)["paths"]
        table["paths"] = [list(pair) for pair in zip(layers, paths, strict=True)]
    return table


def paper_picture(source: bytes, name: str, plan: Plan, *, flat: bool) -> bytes:
    """Return the photo, or the sheet in it laid flat; JPEG.

    Raises `FillworkError` if the picture cannot be read or traced.
    """
    from fillwork.readers.scan.picture import open_picture
    from fillwork.readers.scan.read import last_traced

    if flat:
        return _jpeg(last_traced(source, name, picture_choices(plan)).page.rgb)
    return _jpeg(open_picture(source, name).rgb)


def _jpeg(rgb: NDArray[np.uint8]) -> bytes:
    from PIL import Image

    image = Image.fromarray(rgb)
    image.thumbnail((_LARGEST, _LARGEST))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=85)
    return out.getvalue()
