"""A whole DXF file: its header, layers, line types, blocks and layouts."""

from __future__ import annotations

import codecs
import contextlib
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fillwork.errors import ReadError
from fillwork.readers.dxf.entities import Drawer
from fillwork.readers.dxf.objects import Objects
from fillwork.readers.dxf.sketch import Sketch
from fillwork.readers.dxf.tags import (
    handle_of,
    number,
    read_entities,
    text_of,
    whole,
)

if TYPE_CHECKING:
    from fillwork.readers.dxf.tags import Entity, Value
    from fillwork.readers.limits import Limits


# $INSUNITS of the DXF reference: name and length in mm
UNITS: dict[int, tuple[str, float]] = {
    1: ("in", 25.4), 2: ("ft", 304.8), 3: ("mi", 1609344.0), 4: ("mm", 1.0),
    5: ("cm", 10.0), 6: ("m", 1e3), 7: ("km", 1e6), 8: ("microinch", 2.54e-5),
    9: ("mil", 0.0254), 10: ("yd", 914.4), 11: ("ångström", 1e-7), 12: ("nm", 1e-6),
    13: ("µm", 1e-3), 14: ("dm", 100.0), 15: ("dam", 1e4), 16: ("hm", 1e5),
    21: ("US survey ft", 1200e3 / 3937),
}  # fmt: skip
_MOST_NAMES = 200_000
_UNPLOTTED = "defpoints"  # the layer of the points of dimensions, in every file


@dataclass(frozen=True, slots=True)
class Layer:
    """Hold what a layer says of the entities on it."""

    name: str  # as the file writes it
    colour: int | str = 7  # number of a colour, or ``#rrggbb``
    dash: str = "continuous"  # line type in small letters
    weight: int = -3  # weight in 1/100 mm; negative: the usual one
    # frozen and off: whether it is hidden, with all placed blocks on it or by itself;
    # what does not plot is off
    frozen: bool = False
    off: bool = False
    handle: str = ""  # by which windows of a layout name it

    @property
    def unseen(self) -> bool:
        """Return whether what is drawn on it is not printed."""
        return self.off or self.frozen or self.name.lower() == _UNPLOTTED


@dataclass(slots=True)
class Document:
    """Hold what a DXF file says."""

    # model and paper: the model, and the paper space in use
    model: Sketch = field(default_factory=Sketch)
    paper: Sketch = field(default_factory=Sketch)
    blocks: dict[str, Sketch] = field(default_factory=dict)  # by name in small letters
    layers: dict[str, Layer] = field(default_factory=dict)  # by name in small letters
    # names as the file writes them, by the same in small letters
    written: dict[str, str] = field(default_factory=dict)
    # line types with gaps, in small letters
    dashed: set[str] = field(default_factory=set)
    # name, block in small letters and unit of paper of each layout, in order
    layouts: list[tuple[str, str, int]] = field(default_factory=list)
    objects: Objects = field(default_factory=Objects)  # what shapes refer to
    unit: int = 0  # ``$INSUNITS``; 0 where the file does not say it
    unfinished: bool = True  # whether the file ends before its end is said


def read_document(
    data: bytes, where: str, limits: Limits, handles: frozenset[str]
) -> Document:
    """Read a whole DXF file; its spaces, blocks and tables.

    `handles`: handles that a selector asks for, in capitals. Raises `ReadError` if the
    tags cannot be told apart, or the file is over a limit.
    """
    return _Reader(data, where, limits, handles).read()


class _Reader:
    def __init__(
        self, data: bytes, where: str, limits: Limits, handles: frozenset[str]
    ) -> None:
        self.where = where
        self.limits = limits
        self.found = Document()
        self.encoding = _encoding(data)
        self.drawer = Drawer(self.encoding, handles, self.found.written, limits, where)
        self.entities = read_entities(data, where, limits)
        self.records: dict[str, str] = {}  # handle of a block record to its name
        self.shapes = 0

    def read(self) -> Document:
        section = ""
        for entity in self.entities:
            kind = entity.kind
            if kind == b"SECTION":
                section = _first(entity, b"2").upper()
                if section == "HEADER":
                    self._header(entity)
            elif kind == b"EOF":
                self.found.unfinished = False
                break
            elif kind == b"ENDSEC":
                self.drawer.finish()
                section = ""
            elif section == "TABLES":
                self._table(entity)
            elif section == "BLOCKS":
                if kind == b"BLOCK":
                    self._block(entity)
            elif section == "ENTITIES":
                self._entity(entity)
            elif section == "OBJECTS":
                self._object(entity)
        found = self.found
        for sketch in (found.model, found.paper, *found.blocks.values()):
            sketch.finish(found.objects.styles)
        return found

    def _counted(self, entity: Entity) -> None:
        if entity.kind != b"VERTEX":
            self.shapes += entity.times
        if self.shapes > self.limits.elements:
            got = f"more than {self.limits.elements:,} entities"
            raise self.limits.refuse(limit="elements", got=got, where=self.where)

    def _header(self, entity: Entity) -> None:
        name = b""
        for code, value in zip(entity.codes, entity.values, strict=True):
            if code == b"9" and isinstance(value, bytes):
                name = value.strip().upper()
            elif name == b"$INSUNITS" and code == b"70":
                try:
                    self.found.unit = int(float(value))
                except (ValueError, OverflowError):
                    self.found.unit = 0

    def _table(self, entity: Entity) -> None:
        kind = entity.kind
        if kind not in {b"LAYER", b"LTYPE", b"BLOCK_RECORD"}:
            return
        f = entity.fields()
        name = text_of(f.get(b"2"), self.encoding)
        key = name.lower()
        try:
            if kind == b"LAYER" and len(self.found.layers) < _MOST_NAMES:
                self.found.layers[key] = self._layer(name, f)
            elif kind == b"LTYPE" and whole(f, b"73") > 0:
                lengths = [
                    float(value)
                    for code, value in zip(entity.codes, entity.values, strict=True)
                    if code == b"49"
                ]
                if min(lengths, default=0.0) < 0:
                    self.found.dashed.add(key)
            elif kind == b"BLOCK_RECORD":
                self.records[handle_of(f.get(b"5"))] = key
        except (ValueError, OverflowError):
            return

    def _layer(self, name: str, f: dict[bytes, Value]) -> Layer:
        number_of = whole(f, b"62", 7)
        colour: int | str = abs(number_of)
        if b"420" in f:
            colour = f"#{whole(f, b'420') & 0xFFFFFF:06x}"
        return Layer(
            name,
            colour,
            text_of(f.get(b"6", b"continuous"), self.encoding).lower(),
            whole(f, b"370", -3),
            frozen=bool(whole(f, b"70") & 1),
            off=number_of < 0 or whole(f, b"290", 1) == 0,
            handle=handle_of(f.get(b"5")),
        )

    def _block(self, entity: Entity) -> None:
        f = entity.fields()
        name = text_of(f.get(b"2"), self.encoding)
        key = name.lower()
        sketch = Sketch()
        try:
            sketch.base = (number(f, b"10"), number(f, b"20"))
            other = whole(f, b"70") & 4
        except (ValueError, OverflowError):
            sketch.doubt("BLOCK with a wrong number", entity.line)
            other = 0
        if other:
            what = f"the block “{name[:40]}” stands in another file, which is not read"
            sketch.doubt(what, entity.line)
        if key in {"*model_space", "$model_space"}:
            sketch = self.found.model
        elif key in {"*paper_space", "$paper_space"}:
            sketch = self.found.paper
        else:
            self.found.blocks[key] = sketch
            self.found.written[key] = name
        for inner in self.entities:
            if inner.kind in {b"ENDBLK", b"ENDSEC", b"EOF"}:
                break
            self._counted(inner)
            self.drawer.draw(inner, sketch)
        self.drawer.finish()

    def _entity(self, entity: Entity) -> None:
        self._counted(entity)
        # the entities of a run may stand in either space
        spaced = entity.times > 1 and b"67" in entity.codes
        for one in entity.each() if spaced else (entity,):
            paper = _first(one, b"67") == "1"
            sketch = self.found.paper if paper else self.found.model
            self.drawer.draw(one, sketch)

    def _object(self, entity: Entity) -> None:
        if entity.kind == b"LAYOUT":
            self._layout(entity)
            return
        with contextlib.suppress(ValueError, OverflowError):
            self.found.objects.take(entity, self.encoding)

    def _layout(self, entity: Entity) -> None:
        name, block, unit, inside = "", "", 1, False
        for code, value in zip(entity.codes, entity.values, strict=True):
            if code == b"100":
                inside = text_of(value, "ascii") == "AcDbLayout"
            elif code == b"72" and not inside:
                unit = 0 if text_of(value, "ascii") in {"0"} else 1
            elif inside and code == b"1":
                name = text_of(value, self.encoding)
            elif inside and code == b"330":
                block = self.records.get(handle_of(value), "")
        if name and block and block != "*model_space":
            self.found.layouts.append((name, block, unit))


def _first(entity: Entity, code: bytes) -> str:
    """Return the first value of a code as text."""
    if code not in entity.codes:
        return ""
    return text_of(entity.values[entity.codes.index(code)], "ascii")


def _encoding(data: bytes) -> str:
    """Return the encoding that the header states: UTF-8 from AC1021 (2007) on."""
    head = data[:200_000]
    version = re.search(rb"\$ACADVER\W+1?\W*AC(\d{4})", head)
    page = re.search(rb"(?i)\$DWGCODEPAGE\W+3?\W*(?:ANSI_|DOS)?([\w-]+)", head)
    if version is None or int(version[1]) >= 1021:
        return "utf-8"
    if page is None:
        return "cp1252"
    name = page[1].decode("ascii").lower()
    for guess in (f"cp{name}", name):
        # some that Python knows are no encodings of letters
        with contextlib.suppress(LookupError, ValueError):
            b"a".decode(guess)
            return codecs.lookup(guess).name
    return "cp1252"


def refuse_unfinished(found: Document, where: str) -> None:
    """Refuse a file that ends before it should.

    Raises `ReadError` if no end was found.
    """
    if found.unfinished:
        what = "the DXF is cut short: it ends without EOF"
        raise ReadError(what, where, "copy or save it again")
