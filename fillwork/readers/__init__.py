"""Readers: a drawing file in, `LineWork` out.

Each format has a folder of its own; heavy parts load on first use.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from fillwork.linework import LineWork
    from fillwork.readers.scan.model import Choices
    from fillwork.readers.source import SourceFile

__all__ = ["read_linework"]


def read_linework(
    source: str | Path | bytes,
    *,
    name: str = "",
    lines: tuple[str, ...] = (),
    leave: tuple[str, ...] = (),
    scope: str = "auto",
    hidden: str = "auto",
    allow_large: bool = False,
    picture: Choices | None = None,
    layout: str = "",
    page_number: int | None = None,
) -> LineWork:
    """Read the line work of a drawing.

    Parameters
    ----------
    source : str, Path or bytes
        The file, or its bytes.
    name : str, optional
        Name to show, when bytes are given.
    lines, leave : tuple of str, optional
        Selectors of the strokes that are the final line work, and of those that
        are not: ``layer=NAME``, ``colour=#00f``, ``class=NAME``, ``id=NAME``,
        ``width<0.3``, ``width>0.3``, ``dash=yes``; joined by ``,`` for "and",
        several for "or". Widths are mm unless they name a unit.
    scope : {"auto", "stroked", "outlines", "both"}, optional
        Whether stroked lines, the edges of fills, or both are the line work.
    hidden : {"auto", "drop", "keep"}, optional
        What becomes of lines under opaque fills that are drawn over them; ``auto``
        drops them unless hardly anything would be left.
    allow_large : bool, optional
        Raise the limits on the size of the file and of its parts.
    picture : Choices, optional
        How a scan or a photograph is traced.
    layout : str, optional
        Of a DXF drawing: the layout (paper space) to read, not the model.
    page_number : int, optional
        Of a PDF file: the page to read, from 1; the first by default.

    Returns
    -------
    LineWork
        All strokes in mm, y up, from the lower left corner of the page.

    Raises
    ------
    ReadError
        If the file cannot be read, is no drawing, or is over a limit.
    LineWorkError
        If it holds no lines, or none is left by the selectors.
    PlanError
        If a selector or the scope is wrong.
    """
    from fillwork.errors import ReadError
    from fillwork.readers.limits import limits_for
    from fillwork.readers.selectors import parse_choice
    from fillwork.readers.source import is_dxf, is_pdf, is_picture, open_source

    choice = parse_choice(lines, leave, scope, hidden)
    limits = limits_for(allow_large)
    file = open_source(source, name=name, limits=limits)
    _refuse_others(file, layout, page_number)
    if is_picture(file.data):
        from fillwork.readers.scan.read import read_picture

        return read_picture(file, choice, picture)
    try:
        if is_dxf(file.data):
            from fillwork.readers.dxf.read import read_dxf

            return read_dxf(file, choice, limits, layout)
        if is_pdf(file.data):
            from fillwork.readers.pdf.read import read_pdf

            return read_pdf(file, choice, limits, page_number, picture)
        from fillwork.readers.svg.read import read_svg

        return read_svg(file, choice, limits)
    except (RecursionError, MemoryError) as error:
        what = "the drawing asks for more memory than there is"
        raise ReadError(what, file.name, "split it into smaller drawings") from error


def _refuse_others(file: SourceFile, layout: str, page_number: int | None) -> None:
    """Refuse what only another format has."""
    from fillwork.errors import ReadError
    from fillwork.readers.source import is_dxf, is_pdf

    if layout.strip() and not is_dxf(file.data):
        what = f"the layout “{layout}” is asked for, but this is no DXF drawing"
        raise ReadError(what, file.name, "leave --layout out")
    if page_number is not None and not is_pdf(file.data):
        what = f"page {page_number} is asked for, but this is no PDF file"
        raise ReadError(what, file.name, "leave --page-number out")
