"""DXF entities as curves, each as the DXF reference defines it."""

from __future__ import annotations

import math
from array import array
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.readers.dxf.bulges import arc_span, bulge_curves
from fillwork.readers.dxf.hatches import hatch_rings
from fillwork.readers.dxf.mlines import multiple_line
from fillwork.readers.dxf.runs import draw_run
from fillwork.readers.dxf.sketch import Look, Sketch, Viewport
from fillwork.readers.dxf.splines import fit_curves, spline_curves
from fillwork.readers.dxf.tags import handle_of, number, text_of, whole

if TYPE_CHECKING:
    from fillwork.geometry.affine import Affine
    from fillwork.readers.dxf.tags import Entity, Fields, Value
    from fillwork.readers.limits import Limits

    Curve = tuple[int, tuple[float, ...]]


_TURN = 2 * math.pi
_WHOLE = _TURN - 1e-9  # more than this is a turn but for its last digits
# what is no line work, by the word that people know it by
_WORDS = {
    b"TEXT": "text", b"MTEXT": "text", b"ATTRIB": "text", b"ATTDEF": "text",
    b"ARCALIGNEDTEXT": "text", b"RTEXT": "text",
    b"DIMENSION": "dimension", b"ARC_DIMENSION": "dimension",
    b"LARGE_RADIAL_DIMENSION": "dimension", b"TOLERANCE": "dimension",
    b"LEADER": "leader", b"MULTILEADER": "leader", b"MLEADER": "leader",
    b"POINT": "point", b"IMAGE": "image", b"WIPEOUT": "cover", b"OLE2FRAME": "image",
    b"OLEFRAME": "image", b"PDFUNDERLAY": "underlay", b"DWFUNDERLAY": "underlay",
    b"DGNUNDERLAY": "underlay", b"XLINE": "endless line", b"RAY": "endless line",
    b"3DSOLID": "solid", b"BODY": "solid", b"SURFACE": "solid", b"MESH": "solid",
    b"REGION": "solid", b"HELIX": "helix",
    b"ACAD_TABLE": "table", b"SHAPE": "shape", b"LIGHT": "light",
    b"ACAD_PROXY_ENTITY": "entity of another program", b"SUN": "light",
}  # fmt: skip
_SILENT = frozenset({b"SEQEND", b"ENDBLK", b"BLOCK"})


_WRONG = (ValueError, ArithmeticError, TypeError, LookupError)


def plane_map(fields: Fields, height: float = 0.0) -> Affine | None:
    """Return the map from an entity's own plane to the drawing, seen from above.

    None where the plane is the drawing's. `fields`: values by code; 210, 220, 230 give
    the plane's direction. `height`: height of the entity above its plane.

    The arbitrary axis algorithm of the DXF reference: the plane's x axis is the
    drawing's y axis times the direction where that is nearer than 1/64 to z, else its
    z axis times the direction.
    """
    if b"230" not in fields:
        return None
    x, y, z = (number(fields, code) for code in (b"210", b"220", b"230"))
    length = math.sqrt(x * x + y * y + z * z)
    if not 0 < length < math.inf:
        return None
    x, y, z = x / length, y / length, z / length
    if x == 0 and y == 0 and z > 0:
        return None
    ax, ay, az = (z, 0.0, -x) if abs(x) < 1 / 64 and abs(y) < 1 / 64 else (-y, x, 0.0)
    length = math.sqrt(ax * ax + ay * ay + az * az)
    ax, ay, az = ax / length, ay / length, az / length
    bx, by = y * az - z * ay, z * ax - x * az
    return (ax, ay, bx, by, x * height, y * height)


def _circle(cx: float, cy: float, r: float, s0: float, s1: float) -> Curve:
    return ARC, (cx, cy, r, 0.0, 0.0, r, s0, s1)


def _line(x0: float, y0: float, x1: float, y1: float) -> Curve:
    return LINE, (x0, y0, x1, y1, 0.0, 0.0, 0.0, 0.0)


def _ring(points: list[tuple[float, float]]) -> list[Curve]:
    following = [*points[1:], *points[:1]]
    return [_line(*p, *q) for p, q in zip(points, following, strict=True) if p != q]


def _vertex(entity: Entity) -> list[float]:
    """Return flags, place, bulge and widths; no number for what is none."""
    v = entity.fields()
    told: list[float] = []
    for code in (b"70", b"10", b"20", b"42", b"40", b"41"):
        try:
            told.append(number(v, code) if told else float(whole(v, code)))
        except _WRONG:
            told.append(math.nan)
    return told


class Drawer:
    """Draw entities into sketches.

    `encoding`: of the file. `handles`: handles that a selector asks for, in capitals.
    `written`: takes each name as it is written, by the same in small letters. `limits`:
    sizes allowed. `where`: file name for messages.
    """

    def __init__(
        self, encoding: str, handles: frozenset[str], written: dict[str, str],
        limits: Limits, where: str,
    ) -> None:  # fmt: skip
        self.written = written
        self.limits = limits
        self.where = where
        self.encoding = encoding
        self.handles = handles
        self._curves = self._copies = 0
        self._texts: dict[Value, str] = {}
        self._looks: dict[tuple[object, ...], Look] = {}
        self._polyline: tuple[Entity, Sketch] | None = None
        self._vertices = array("d")  # six numbers each

    def draw(self, entity: Entity, sketch: Sketch) -> None:
        """Draw one entity; a polyline once the first is met that is no vertex of it."""
        if entity.kind == b"VERTEX":
            self._vertices.extend(_vertex(entity))
            return
        self.finish()
        if entity.kind == b"POLYLINE":
            self._polyline = entity, sketch
        else:
            self._draw(entity, sketch)

    def finish(self) -> None:
        """Draw the polyline whose vertices were gathered, if there is one."""
        if self._polyline is not None:
            entity, sketch = self._polyline
            self._polyline = None
            self._draw(entity, sketch)
        del self._vertices[:]

    def _draw(self, entity: Entity, sketch: Sketch) -> None:
        if entity.times > 1:
            try:
                drawn = draw_run(self, entity, sketch)
            except _WRONG:
                drawn = False
            for one in () if drawn else entity.each():
                self._draw(one, sketch)
            return
        draw = _DRAW.get(entity.kind)
        if draw is None:
            if entity.kind not in _SILENT:
                word = _WORDS.get(entity.kind, "other entity")
                sketch.count(word)
            return
        fields = entity.fields()
        try:
            if b"60" in fields and whole(fields, b"60") & 1:
                sketch.count("hidden entity")
                return
            draw(self, entity, fields, sketch)
        except _WRONG as error:
            what = str(error)
            if not what.startswith("a spline"):
                what = f"{entity.kind.decode('latin-1')} with a wrong number"
            sketch.doubt(what, entity.line)

    def name(self, value: Value | None) -> str:
        """Return a name as it is looked up, in small letters.

        `value`: as it stands in the file.
        """
        key = b"" if value is None else value
        text = self._texts.get(key)
        if text is None:
            full = text_of(key, self.encoding)
            text = self._texts[key] = full.lower()
            self.written.setdefault(text, full)
        return text

    def look(self, f: Fields, width: float = 0.0, filled: bool = False) -> Look:
        """Return what an entity says of its style.

        The same object for the same words. `width`: of a wide polyline. `filled`:
        whether an area is filled.
        """
        handle = ""
        if self.handles:
            handle = text_of(f.get(b"5"), "latin-1").upper()
            handle = handle if handle in self.handles else ""
        key = (
            f.get(b"8"), f.get(b"62"), f.get(b"6"), f.get(b"370"), f.get(b"420"),
            width, filled, handle,
        )  # fmt: skip
        look = self._looks.get(key)
        if look is None:
            colour: int | str = whole(f, b"62", 256)
            if b"420" in f:
                colour = f"#{whole(f, b'420') & 0xFFFFFF:06x}"
            look = Look(
                self.name(f.get(b"8", b"0")), colour,
                self.name(f.get(b"6", b"bylayer")), whole(f, b"370", -1),
                abs(width), filled, handle,
            )  # fmt: skip
            self._looks[key] = look
        return look

    def _put(
        self, entity: Entity, fields: Fields, curves: list[Curve], sketch: Sketch, *,
        closed: bool = False, width: float = 0.0, filled: bool = False,
        lay: Affine | None = None,
    ) -> None:  # fmt: skip
        if lay is not None and curves:
            table = Curves(
                np.array([kind for kind, _ in curves], np.uint8),
                np.array([row for _, row in curves], np.float64),
            ).transform(lay)
            rows = [tuple(row) for row in table.data.tolist()]
            curves = list(zip(table.kind.tolist(), rows, strict=True))
        # a spline may stand for very many
        self._curves += len(curves)
        self._limit("curves", self._curves, "lines, arcs and curves")
        handle = fields.get(b"5")
        name = entity.kind.decode("latin-1")
        if isinstance(handle, bytes):
            name = f"{name}#{handle.strip().decode('latin-1')}"
        look = self.look(fields, width, filled)
        sketch.add(curves, look, closed=closed, name=name, line=entity.line)

    def _limit(self, limit: str, count: int, what: str) -> None:
        if count > getattr(self.limits, limit):
            raise self.limits.refuse(limit, f"{count:,} {what}", self.where)

    # -- one entity each -----------------------------------------------------

    def _draw_line(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        # large drawings consist of these
        x0, y0 = float(f.get(b"10", 0.0)), float(f.get(b"20", 0.0))
        x1, y1 = float(f.get(b"11", 0.0)), float(f.get(b"21", 0.0))
        if x0 != x1 or y0 != y1:
            row = (x0, y0, x1, y1, 0.0, 0.0, 0.0, 0.0)
            self._put(e, f, [(LINE, row)], sketch)

    def _draw_circle(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        r = abs(number(f, b"40"))
        s0, s1 = 0.0, _TURN
        if e.kind == b"ARC":
            first, last = number(f, b"50"), number(f, b"51", 360.0)
            s0, s1 = arc_span(math.radians(first), math.radians(last))
        if r > 0:
            curve = _circle(number(f, b"10"), number(f, b"20"), r, s0, s1)
            lay = plane_map(f, number(f, b"30"))
            self._put(e, f, [curve], sketch, closed=s1 - s0 > _WHOLE, lay=lay)

    def _draw_ellipse(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        cx, cy = number(f, b"10"), number(f, b"20")
        major = [number(f, code) for code in (b"11", b"21", b"31")]
        direction = [number(f, code) for code in (b"210", b"220")]
        direction.append(number(f, b"230", 1.0))
        ratio = number(f, b"40", 1.0)
        length = math.sqrt(sum(v * v for v in direction)) or 1.0
        nx, ny, nz = (v / length for v in direction)
        vx = ratio * (ny * major[2] - nz * major[1])
        vy = ratio * (nz * major[0] - nx * major[2])
        s0, s1 = arc_span(number(f, b"41"), number(f, b"42", _TURN))
        if any(major):
            curve = (ARC, (cx, cy, major[0], major[1], vx, vy, s0, s1))
            self._put(e, f, [curve], sketch, closed=s1 - s0 > _WHOLE)

    def _draw_lwpolyline(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        points: list[list[float]] = []
        width = number(f, b"43")
        for code, value in zip(e.codes, e.values, strict=True):
            if code == b"10":
                points.append([float(value), 0.0, 0.0])
            elif not points:
                continue
            elif code == b"20":
                points[-1][1] = float(value)
            elif code == b"42":
                points[-1][2] = float(value)
            elif code in (b"40", b"41"):
                width = max(width, float(value))
        closed = bool(whole(f, b"70") & 1)
        curves = bulge_curves([(x, y, b) for x, y, b in points], closed)
        lay = plane_map(f, number(f, b"38"))
        self._put(e, f, curves, sketch, closed=closed, width=width, lay=lay)

    def _draw_polyline(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        flags = whole(f, b"70")
        if flags & (16 | 64):
            sketch.count("mesh")
            return
        rows = np.array(self._vertices).reshape(-1, 6)
        # the frame of a fitted polyline is no part of it
        rows = rows[rows[:, 0] // 16 % 2 != 1]
        self._limit("curves", len(rows), "lines, arcs and curves")
        if flags & 8:
            rows[:, 3] = 0.0
        if np.isnan(rows[:, :4]).any():
            raise ValueError
        usual = max(number(f, b"40"), number(f, b"41"))
        width = float(np.fmax.reduce(rows[:, 4:], axis=None, initial=usual))
        closed = bool(flags & 1)
        curves = bulge_curves(rows[:, 1:4].tolist(), closed)
        lay = None if flags & 8 else plane_map(f, number(f, b"30"))
        self._put(e, f, curves, sketch, closed=closed, width=width, lay=lay)

    def _draw_spline(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        lists: dict[bytes, list[float]] = {}
        for code, value in zip(e.codes, e.values, strict=True):
            if code in _SPLINE:
                lists.setdefault(code, []).append(float(value))
        flags = whole(f, b"70")
        closed = bool(flags & 1)
        poles = np.array([lists.get(b"10", []), lists.get(b"20", [])]).T
        if len(poles):
            weights = np.array(lists[b"41"]) if b"41" in lists else None
            knots = np.array(lists.get(b"40", []))
            curves = spline_curves(whole(f, b"71", 3), knots, poles, weights)
        else:
            points = np.array([lists.get(b"11", []), lists.get(b"21", [])]).T
            if len(points) < 2 or not np.isfinite(points).all():
                what = f"a spline through {len(points)} points"
                raise ValueError(what)
            ends = [
                (number(f, x), number(f, y)) if x in f else None
                for x, y in ((b"12", b"22"), (b"13", b"23"))
            ]
            curves = fit_curves(points, closed, *ends)
        self._put(e, f, curves, sketch, closed=closed)

    def _draw_solid(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        names = ((b"10", b"20"), (b"11", b"21"), (b"12", b"22"), (b"13", b"23"))
        corners = [(number(f, x), number(f, y)) for x, y in names if x in f]
        if e.kind == b"3DFACE":
            hidden = whole(f, b"70")
            sides = [
                _line(*p, *q)
                for k, (p, q) in enumerate(
                    zip(corners, [*corners[1:], *corners[:1]], strict=True)
                )
                if p != q and not hidden >> k & 1
            ]
            for side in sides:
                self._put(e, f, [side], sketch)
            return
        if len(corners) == 4:
            corners[2:] = corners[3], corners[2]
        lay = plane_map(f, number(f, b"30"))
        self._put(e, f, _ring(corners), sketch, closed=True, filled=True, lay=lay)

    def _draw_hatch(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        lay = plane_map(f, number(f, b"30"))
        filled = e.kind == b"HATCH"  # the edges of the other are drawn
        for ring in hatch_rings(e):
            self._put(e, f, ring, sketch, closed=True, filled=filled, lay=lay)

    def _draw_multiple(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        parts = multiple_line(e, whole(f, b"71"))
        for stroke in parts.strokes:
            self._put(e, f, stroke, sketch, closed=parts.closed)
        style, look = self.name(f.get(b"2")), self.look(f)
        sketch.ends += [
            (style, flag, curves, look, e.line) for flag, curves in parts.ends
        ]

    def _draw_insert(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        x, y = number(f, b"10"), number(f, b"20")
        sx, sy = number(f, b"41", 1.0), number(f, b"42", 1.0)
        turn = math.radians(number(f, b"50"))
        columns, rows = max(whole(f, b"70", 1), 1), max(whole(f, b"71", 1), 1)
        name, look = self.name(f.get(b"2")), self.look(f)
        cos, sin = math.cos(turn), math.sin(turn)
        linear = (cos * sx, sin * sx, -sin * sy, cos * sy, x, y)
        lay = plane_map(f, number(f, b"30"))
        if lay is not None:
            linear = affine.compose(lay, linear)
        # the dictionary of a placed block may name the outline that cuts it
        own = handle_of(f.get(b"360"))
        if columns * rows == 1:
            sketch.place((name, look, own), linear, e.line)
            return
        self._copies += columns * rows
        self._limit("elements", self._copies, "copies of blocks in rows")
        i = np.tile(np.arange(columns), rows) * number(f, b"44")
        j = np.repeat(np.arange(rows), columns) * number(f, b"45")
        across = (cos, sin, -sin, cos, 0.0, 0.0)
        if lay is not None:
            across = affine.compose(lay, across)
        maps = np.empty((columns * rows, 6))
        maps[:] = linear
        maps[:, 4] += across[0] * i + across[2] * j
        maps[:, 5] += across[1] * i + across[3] * j
        sketch.place((name, look, own), maps.ravel().tolist(), e.line)

    def _draw_viewport(self, e: Entity, f: Fields, sketch: Sketch) -> None:
        # the window numbered 1 is the paper itself
        if whole(f, b"69", 2) == 1 or whole(f, b"68", 1) == 0:
            return
        width, height = number(f, b"40"), number(f, b"41")
        seen = number(f, b"45")
        straight = number(f, b"16") == 0 == number(f, b"26")
        if not (width > 0 and height > 0 and seen > 0 and straight):
            sketch.count("window not seen from above")
            return
        x, y = number(f, b"10"), number(f, b"20")
        turn = math.radians(number(f, b"51"))
        k = height / seen
        cos, sin = k * math.cos(turn), k * math.sin(turn)
        tx, ty = number(f, b"17"), number(f, b"27")
        turned = (cos, sin, -sin, cos, 0.0, 0.0)
        shift = (x - k * number(f, b"12"), y - k * number(f, b"22"))
        matrix = affine.compose(
            (1.0, 0.0, 0.0, 1.0, *shift),
            affine.compose(turned, (1.0, 0.0, 0.0, 1.0, -tx, -ty)),
        )
        box = (x - width / 2, y - height / 2, width, height)
        frozen = frozenset(
            handle_of(value)
            for code, value in zip(e.codes, e.values, strict=True)
            if code in (b"331", b"341")
        ) - {""}
        sketch.viewports.append(Viewport(box, matrix, frozen))


_SPLINE = frozenset({b"10", b"20", b"11", b"21", b"40", b"41"})
_DRAW = {
    b"LINE": Drawer._draw_line,
    b"CIRCLE": Drawer._draw_circle,
    b"ARC": Drawer._draw_circle,
    b"ELLIPSE": Drawer._draw_ellipse,
    b"LWPOLYLINE": Drawer._draw_lwpolyline,
    b"POLYLINE": Drawer._draw_polyline,
    b"SPLINE": Drawer._draw_spline,
    b"SOLID": Drawer._draw_solid,
    b"TRACE": Drawer._draw_solid,
    b"3DFACE": Drawer._draw_solid,
    b"HATCH": Drawer._draw_hatch,
    b"MPOLYGON": Drawer._draw_hatch,
    b"INSERT": Drawer._draw_insert,
    b"MLINE": Drawer._draw_multiple,
    b"VIEWPORT": Drawer._draw_viewport,
}
