"""What a notebook shows of a survey and of a finished drawing: picture and kinds."""

from __future__ import annotations

import base64
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fillwork.colouring.model import Colouring
    from fillwork.pipeline.surveying import Survey


_MOST = 40  # kinds that the table shows


def notebook_html(svg: str, survey: Survey, colouring: Colouring | None = None) -> str:
    """Return a picture with a table of the kinds beside it.

    HTML that needs nothing else.
    """
    heads = ["kind", "name", "regions", "mm² each"]
    heads += ["colour"] * (colouring is not None)
    rows = ["".join(f"<th>{head}</th>" for head in heads)]
    orbits = survey.orbits.orbits
    for orbit in orbits[:_MOST]:
        cells = [orbit.letter, escape(orbit.name), f"{len(orbit.faces):,}"]
        cells.append(f"{orbit.area:,.4g}")
        if colouring is not None:
            swatches = colouring.palette.swatches
            used = dict.fromkeys(colouring.of_face[orbit.faces].tolist())
            cells.append(
                ", ".join(
                    f'<span style="background:{swatches[k].hex};border:1px solid #000">'
                    f"&emsp;</span> {escape(swatches[k].name)}"
                    for k in used
                )
            )
        rows.append("".join(f"<td>{cell}</td>" for cell in cells))
    if len(orbits) > _MOST:
        rows.append(f'<td colspan="{len(heads)}">and {len(orbits) - _MOST} more</td>')
    table = "".join(f"<tr>{row}</tr>" for row in rows)
    data = base64.b64encode(svg.encode()).decode()
    return (
        '<div style="display:flex;gap:24px;align-items:flex-start">'
        f'<img alt="" style="width:480px" src="data:image/svg+xml;base64,{data}">'
        '<table style="text-align:left;border-spacing:12px 2px">'
        f"<caption>{escape(survey.linework.file)}</caption>{table}</table></div>"
    )
