"""Write a scene as DXF: closed outlines, one layer a paint, for cutters and CAD.

A ring of lines and arcs of circles is one polyline with bulges; any other is one
closed rational spline of degree 3, which holds lines, arcs of ellipses and Béziers
exactly. The form is that of AC1015 (2000), which every later program reads. Texts and
numbers are left out, and so are drawn lines where the scene has filled shapes; else
they stand on layers of the scene's own, such as ``outlines`` to cut and ``marks``.
"""

from __future__ import annotations

import itertools
import math
import re
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.curves import ARC, CUBIC, LINE
from fillwork.renderers.scene import OUTLINES, Fills, Placed, Strokes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from fillwork.arrangement.model import Outlines
    from fillwork.arrays import Floats
    from fillwork.geometry.affine import Affine
    from fillwork.geometry.curves import Curves
    from fillwork.renderers.scene import Item, Scene

_ROUND = 1e-9  # share of its radius by which an arc of a circle may be off
_MOST_SWEEP = math.pi / 2
_OTHER = re.compile(r"[^\x00-\x7f]")
_FORBIDDEN = re.compile(r'[<>/\\":;?*|=`,\x00-\x1f]')

_Tags = list[tuple[int, "str | float | int"]]
_LINE_TYPES = (("14", "ByBlock"), ("15", "ByLayer"), ("16", "Continuous"))
_SPACES = (("1F", "*Model_Space", "22"), ("1B", "*Paper_Space", "1E"))


def to_dxf(scene: Scene) -> bytes:
    """Return a scene as a DXF file.

    Text in the code page 1252; the same scene gives the same bytes. One unit is 1 mm, y
    runs up.

    Follows the DXF reference for AC1015.
    """
    return _Writer(scene).write()


def _flat(items: Iterable[Item], lay: Affine) -> Iterator[tuple[Item, Affine]]:
    """Return all items, those of placed pictures too, with their maps."""
    for item in items:
        if isinstance(item, Placed):
            inner = affine.compose(lay, item.map)
            yield from _flat(item.picture.items, inner)
        else:
            yield item, lay


class _Writer:
    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.handle = 0x100
        self.layers: dict[str, str] = {}  # name to colour
        self.known: tuple[Outlines, Affine, _Pieces] | None = None

    def next(self) -> str:
        self.handle += 1
        return f"{self.handle:X}"

    def write(self) -> bytes:
        entities = [self.ring(*told) for told in self.rings()]
        start: _Tags = [(0, "SECTION"), (2, "ENTITIES")]
        text = [
            _text([*self.header(), *self.tables(), *_BLOCKS, *start]),
            *entities,
            _text([(0, "ENDSEC"), *_OBJECTS, (0, "EOF")]),
        ]
        return _encoded("".join(text))

    def rings(self) -> Iterator[tuple[str, _Pieces, slice, bool]]:
        """Return layer, pieces, which of them, whether they close, in drawing order."""
        items = list(_flat(self.scene.items, affine.IDENTITY))
        filled = any(isinstance(item, Fills) and len(item.rows) for item, _ in items)
        for item, lay in items:
            if isinstance(item, Fills):
                layer = self.layer(f"{item.code} {item.name}".strip(), item.colour)
                pieces = self.pieces(item.shapes, lay)
                rings = item.shapes.ring_start.tolist()
                faces = item.shapes.face_ring_start.tolist()
                for row in item.rows.tolist():
                    for ring in range(faces[row], faces[row + 1]):
                        yield layer, pieces, slice(rings[ring], rings[ring + 1]), True
            elif isinstance(item, Strokes) and not filled:
                layer = self.layer(item.layer or OUTLINES, item.colour)
                pieces = _Pieces(item.curves.transform(lay))
                paths = itertools.pairwise(item.start.tolist())
                for (a, b), closed in zip(paths, item.closed.tolist(), strict=True):
                    yield layer, pieces, slice(a, b), closed

    def pieces(self, shapes: Outlines, lay: Affine) -> _Pieces:
        """Return the pieces of shapes, which the items of all paints share."""
        if self.known is None or self.known[0] is not shapes or self.known[1] != lay:
            self.known = (shapes, lay, _Pieces(shapes.pieces.transform(lay)))
        return self.known[2]

    def layer(self, name: str, colour: str) -> str:
        name = _FORBIDDEN.sub("-", name).strip()[:200] or "outlines"
        self.layers.setdefault(name, colour)
        return name

    # -- entities ------------------------------------------------------------

    def ring(self, layer: str, pieces: _Pieces, part: slice, closed: bool) -> str:
        """Return one outline, or one open line."""
        if part.start >= part.stop:
            return ""
        corners = pieces.corners(part)
        if corners is None:
            poles = [_poles(*one) for one in pieces.quarters(part)]
            return _text(self.spline(layer, np.concatenate(poles), closed))
        if not closed:
            corners.append(pieces.end(part))
        tags = self.common("LWPOLYLINE", layer)
        tags += [(100, "AcDbPolyline"), (90, len(corners)), (70, int(closed))]
        return f"{_text(tags)}43\n0.0\n{''.join(corners)}"

    def common(self, kind: str, layer: str) -> _Tags:
        return [(0, kind), (5, self.next()), (330, "1F"), (100, "AcDbEntity"),
                (8, layer)]  # fmt: skip

    def spline(self, layer: str, poles: Floats, closed: bool) -> _Tags:
        count = len(poles) // 4
        # neighbours share their end; each join has as many knots as the degree
        keep = np.ones(len(poles), bool)
        keep[4::4] = False
        poles = poles[keep]
        points, weights = poles[:, :2] / poles[:, 2:], poles[:, 2]
        if closed:
            points[-1] = points[0]
        rational = bool(np.ptp(weights) > 1e-12)
        knots = [0, *np.repeat(np.arange(count + 1), 3).tolist(), count]
        tags = self.common("SPLINE", layer)
        flags = 8 | int(closed) | (4 if rational else 0)
        tags += [
            (100, "AcDbSpline"), (70, flags), (71, 3), (72, len(knots)),
            (73, len(points)), (74, 0),
        ]  # fmt: skip
        tags += [(40, float(knot)) for knot in knots]
        if rational:
            tags += [(41, weight) for weight in weights.tolist()]
        for x, y in points.tolist():
            tags += [(10, x), (20, y), (30, 0.0)]
        return tags

    # -- what stands around them ---------------------------------------------

    def header(self) -> _Tags:
        width, height = self.scene.width, self.scene.height
        return [
            (0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1015"),
            (9, "$DWGCODEPAGE"), (3, "ANSI_1252"), (9, "$HANDSEED"),
            (5, f"{self.handle + 0x1000:X}"), (9, "$INSUNITS"), (70, 4),
            (9, "$MEASUREMENT"), (70, 1), (9, "$EXTMIN"), (10, 0.0), (20, 0.0),
            (30, 0.0), (9, "$EXTMAX"), (10, width), (20, height), (30, 0.0),
            (0, "ENDSEC"),
        ]  # fmt: skip

    def tables(self) -> _Tags:
        tags: _Tags = [(0, "SECTION"), (2, "TABLES")]
        tags += _table("VPORT", "8", [])
        plain: _Tags = [(3, ""), (72, 65), (73, 0), (40, 0.0)]
        types = [
            [*_record("LTYPE", handle, "AcDbLinetypeTableRecord", name), *plain]
            for handle, name in _LINE_TYPES
        ]
        tags += _table("LTYPE", "5", types)
        layers = []
        for name, colour in {"0": "#000000", **self.layers}.items():
            handle = "10" if name == "0" else self.next()
            red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
            record = _record("LAYER", handle, "AcDbLayerTableRecord", name)
            record += [(62, _nearest(red, green, blue)), (6, "Continuous"), (390, "F")]
            layers.append(record)
        tags += _table("LAYER", "2", layers)
        style = _record("STYLE", "11", "AcDbTextStyleTableRecord", "Standard")
        style += [(40, 0.0), (41, 1.0), (50, 0.0), (71, 0), (42, 2.5), (3, "txt"),
                  (4, "")]  # fmt: skip
        tags += _table("STYLE", "3", [style])
        tags += _table("VIEW", "6", [])
        tags += _table("UCS", "7", [])
        app = _record("APPID", "12", "AcDbRegAppTableRecord", "ACAD")
        tags += _table("APPID", "9", [app])
        dimension: _Tags = [
            (0, "DIMSTYLE"), (105, "27"), (100, "AcDbSymbolTableRecord"),
            (100, "AcDbDimStyleTableRecord"), (2, "Standard"), (70, 0),
        ]  # fmt: skip
        tags += _table("DIMSTYLE", "A", [dimension], [(100, "AcDbDimStyleTable")])
        blocks: list[_Tags] = []
        for handle, name, layout in _SPACES:
            record = _record("BLOCK_RECORD", handle, "AcDbBlockTableRecord", name)
            blocks.append([*record[:-1], (340, layout)])
        tags += _table("BLOCK_RECORD", "1", blocks)
        return [*tags, (0, "ENDSEC")]


def _encoded(text: str) -> bytes:
    """Return text in the code page 1252, other letters as the reference writes them."""
    return _OTHER.sub(_in_the_code_page, text).encode("cp1252", "replace")


def _in_the_code_page(letter: re.Match[str]) -> str:
    if letter[0].encode("cp1252", "ignore"):
        return letter[0]
    # four digits each, so letters beyond them are two: UTF-16
    digits = letter[0].encode("utf-16-be", "surrogatepass").hex().upper()
    return "".join(f"\\U+{digits[k : k + 4]}" for k in range(0, len(digits), 4))


def _text(tags: _Tags) -> str:
    return "".join([f"{code}\n{_value(value)}\n" for code, value in tags])


def _value(value: str | float | int) -> str:
    if isinstance(value, float):
        return repr(round(value, 12) + 0.0)
    return str(value)


def _table(
    name: str, handle: str, records: list[_Tags], more: _Tags | None = None
) -> _Tags:
    tags: _Tags = [
        (0, "TABLE"), (2, name), (5, handle), (330, "0"), (100, "AcDbSymbolTable"),
        (70, len(records)), *(more or []),
    ]  # fmt: skip
    for record in records:
        tags += record
    return [*tags, (0, "ENDTAB")]


def _record(kind: str, handle: str, sort: str, name: str) -> _Tags:
    return [(0, kind), (5, handle), (100, "AcDbSymbolTableRecord"), (100, sort),
            (2, name), (70, 0)]  # fmt: skip


def _block(name: str, record: str, first: str, last: str) -> _Tags:
    return [
        (0, "BLOCK"), (5, first), (330, record), (100, "AcDbEntity"), (8, "0"),
        (100, "AcDbBlockBegin"), (2, name), (70, 0), (10, 0.0), (20, 0.0), (30, 0.0),
        (3, name), (1, ""), (0, "ENDBLK"), (5, last), (330, record),
        (100, "AcDbEntity"), (8, "0"), (100, "AcDbBlockEnd"),
    ]  # fmt: skip


def _layout(handle: str, name: str, tab: int, block: str) -> _Tags:
    return [
        (0, "LAYOUT"), (5, handle), (330, "1A"), (100, "AcDbPlotSettings"), (1, ""),
        (72, 1), (100, "AcDbLayout"), (1, name), (70, 1), (71, tab), (330, block),
    ]  # fmt: skip


_BLOCKS: _Tags = [
    (0, "SECTION"), (2, "BLOCKS"), *_block("*Model_Space", "1F", "20", "21"),
    *_block("*Paper_Space", "1B", "1C", "1D"), (0, "ENDSEC"),
]  # fmt: skip
_OBJECTS: _Tags = [
    (0, "SECTION"), (2, "OBJECTS"),
    (0, "DICTIONARY"), (5, "C"), (330, "0"), (100, "AcDbDictionary"), (281, 1),
    (3, "ACAD_GROUP"), (350, "D"), (3, "ACAD_LAYOUT"), (350, "1A"),
    (3, "ACAD_PLOTSTYLENAME"), (350, "E"),
    (0, "DICTIONARY"), (5, "D"), (330, "C"), (100, "AcDbDictionary"), (281, 1),
    (0, "ACDBDICTIONARYWDFLT"), (5, "E"), (330, "C"), (100, "AcDbDictionary"),
    (281, 1), (3, "Normal"), (350, "F"), (100, "AcDbDictionaryWithDefault"),
    (340, "F"), (0, "ACDBPLACEHOLDER"), (5, "F"), (330, "E"),
    (0, "DICTIONARY"), (5, "1A"), (330, "C"), (100, "AcDbDictionary"), (281, 1),
    (3, "Layout1"), (350, "1E"), (3, "Model"), (350, "22"),
    *_layout("1E", "Layout1", 1, "1B"), *_layout("22", "Model", 0, "1F"),
    (0, "ENDSEC"),
]  # fmt: skip

_BASIC = {1: (255, 0, 0), 2: (255, 255, 0), 3: (0, 255, 0), 4: (0, 255, 255),
          5: (0, 0, 255), 6: (255, 0, 255), 7: (0, 0, 0), 8: (128, 128, 128),
          9: (192, 192, 192)}  # fmt: skip


def _nearest(red: int, green: int, blue: int) -> int:
    """Return the nearest named colour: AC1015 has no others, a paint is its layer."""
    return min(
        _BASIC,
        key=lambda k: sum(
            (a - b) ** 2 for a, b in zip(_BASIC[k], (red, green, blue), strict=True)
        ),
    )


class _Pieces:
    """Hold curves, and the text of where each begins."""

    def __init__(self, curves: Curves) -> None:
        self.curves, self.kind = curves, curves.kind.tolist()
        whole = np.ascontiguousarray(curves.starts()).view(np.complex128).ravel()
        found, index = np.unique(whole, return_inverse=True)
        corners = found.view(np.float64).reshape(-1, 2).tolist()
        text = np.array([_corner(x, y) for x, y in corners], object)
        self.start: list[str] = text[index].tolist()

    def corners(self, part: slice) -> list[str] | None:
        """Return corners and bulges of lines and arcs of circles; None of others."""
        kinds = self.kind[part]
        if CUBIC in kinds:
            return None
        if ARC not in kinds:
            return self.start[part]
        found = []
        for row, kind in enumerate(kinds, part.start):
            found.append(self.start[row])
            if kind == ARC:
                bulge, more = _bulges(self.curves.data[row].tolist())
                if bulge is None:
                    return None
                found[-1] += bulge
                found += more
        return found

    def end(self, part: slice) -> str:
        """Return where open pieces end."""
        last = np.array([part.stop - 1])
        return _corner(*self.curves.point(last, np.ones(1))[0].tolist())

    def quarters(self, part: slice) -> Iterator[tuple[int, list[float]]]:
        """Return curves one by one, arcs in parts of a quarter turn at most."""
        rows = self.curves.data[part].tolist()
        for kind, row in zip(self.kind[part], rows, strict=True):
            if kind != ARC:
                yield kind, row
                continue
            s0, s1 = row[6:]
            parts = max(1, math.ceil(abs(s1 - s0) / _MOST_SWEEP - 1e-9))
            for k in range(parts):
                a = s0 + k * (s1 - s0) / parts
                b = s0 + (k + 1) * (s1 - s0) / parts
                yield kind, [*row[:6], a, b]


def _corner(x: float, y: float) -> str:
    return f"10\n{_value(x)}\n20\n{_value(y)}\n"


def _bulges(row: list[float]) -> tuple[str | None, list[str]]:
    """Return the bulge of a circle's arc, else None, and corners after its first."""
    cx, cy, ux, uy, vx, vy, s0, s1 = row
    square = ux * ux + uy * uy
    if abs(ux * vx + uy * vy) > _ROUND * square or (
        abs(vx * vx + vy * vy - square) > _ROUND * square
    ):
        return None, []
    turn = math.copysign(1.0, ux * vy - uy * vx)
    # a bulge holds less than a whole turn
    parts = max(1, math.ceil(abs(s1 - s0) / math.pi - 1e-9))
    bulge = turn * math.tan((s1 - s0) / parts / 4)
    text = f"42\n{_value(bulge)}\n" if bulge else ""
    more = []
    for k in range(1, parts):
        s = s0 + k * (s1 - s0) / parts
        x = cx + ux * math.cos(s) + vx * math.sin(s)
        y = cy + uy * math.cos(s) + vy * math.sin(s)
        more.append(_corner(x, y) + text)
    return text, more


def _poles(kind: int, row: list[float]) -> Floats:
    """Return a curve as four poles x w, y w, w of a rational cubic, exactly."""
    poles = np.ones((4, 3))
    if kind == CUBIC:
        poles[:, :2] = np.array(row).reshape(4, 2)
        return poles
    if kind == LINE:
        p, q = np.array(row[:2]), np.array(row[2:4])
        poles[:, :2] = [p, (2 * p + q) / 3, (p + 2 * q) / 3, q]
        return poles
    c, u, v = np.array(row[:2]), np.array(row[2:4]), np.array(row[4:6])
    s0, s1 = row[6:]
    middle, half = (s0 + s1) / 2, (s1 - s0) / 2
    weight = math.cos(half)
    first = np.append(c + u * math.cos(s0) + v * math.sin(s0), 1.0)
    last = np.append(c + u * math.cos(s1) + v * math.sin(s1), 1.0)
    # the tangents of the ends meet on the way out through the middle
    out = (u * math.cos(middle) + v * math.sin(middle)) / weight
    corner = np.append(weight * (c + out), weight)
    poles[:] = [first, (first + 2 * corner) / 3, (2 * corner + last) / 3, last]
    return poles
