"""What stands behind the shapes: styles of multiple lines, outlines that cut blocks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.geometry import affine
from fillwork.readers.dxf.tags import handle_of, text_of, whole

if TYPE_CHECKING:
    from fillwork.geometry.affine import Affine
    from fillwork.readers.dxf.tags import Entity

    Points = tuple[tuple[float, float], ...]


class Objects:
    """Gather the objects that shapes refer to.

    `styles` (dict of str to int): flags of the styles of multiple lines, by name in
    small letters.
    """

    def __init__(self) -> None:
        self.styles: dict[str, int] = {}
        self._links: dict[str, str] = {}
        self._outlines: dict[str, Points] = {}

    def take(self, entity: Entity, encoding: str) -> None:
        """Read one object, if it is of use. Raises `ValueError` if a number is none."""
        fields = entity.fields()
        handle = handle_of(fields.get(b"5"))
        if entity.kind == b"MLINESTYLE":
            name = text_of(fields.get(b"2"), encoding).lower()
            self.styles[name] = whole(fields, b"70")
        elif entity.kind == b"DICTIONARY":
            name = ""
            for code, value in zip(entity.codes, entity.values, strict=True):
                if code == b"3":
                    name = text_of(value, encoding)
                elif code in (b"350", b"360") and name in ("ACAD_FILTER", "SPATIAL"):
                    self._links[handle] = handle_of(value)
        elif entity.kind == b"SPATIAL_FILTER" and whole(fields, b"71", 1):
            self._outlines[handle] = _outline(entity)

    def outline(self, dictionary: str) -> Points:
        """Return the outline that cuts a placed block.

        `dictionary`: handle of the block's own dictionary. Returns corners in the
        block's units; none where it is not cut.
        """
        filters = self._links.get(dictionary, "")
        return self._outlines.get(self._links.get(filters, ""), ())


def _outline(entity: Entity) -> Points:
    """Return the corners of a SPATIAL_FILTER in the block's units.

    Its last 24 numbers of code 40 are two maps of three rows: from the drawing to the
    block, and from the drawing to the corners' own axes (DXF reference).
    """
    xs: list[float] = []
    ys: list[float] = []
    numbers: list[float] = []
    lists = {b"10": xs, b"20": ys, b"40": numbers}
    for code, value in zip(entity.codes, entity.values, strict=True):
        if code in lists:
            lists[code].append(float(value))
    corners = list(zip(xs, ys, strict=False))
    if len(corners) == 2:
        (x0, y0), (x1, y1) = corners
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    if len(numbers) < 24 or len(corners) < 3:
        return ()
    to_block, to_axes = _map(numbers[-24:-12]), _map(numbers[-12:])
    if affine.determinant(to_axes):
        to_block = affine.compose(to_block, affine.invert(to_axes))
    a, b, c, d, e, f = to_block
    return tuple((a * x + c * y + e, b * x + d * y + f) for x, y in corners)


def _map(rows: list[float]) -> Affine:
    return (rows[0], rows[4], rows[1], rows[5], rows[3], rows[7])
