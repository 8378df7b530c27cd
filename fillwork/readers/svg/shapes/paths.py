"""Path data gathered with other shapes, and read many at once."""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.strokes.collect import Collector, StrokeTable
from fillwork.readers.svg.shapes.path_data import parse_paths

if TYPE_CHECKING:
    from fillwork.readers.limits import Limits

_FLUSH = 4_000_000


class PathCollector(Collector):
    """Gather shapes, path data among them.

    `limits`: sizes allowed. `where`: file name for messages.
    """

    def __init__(self, limits: Limits, where: str) -> None:
        super().__init__(limits, where)
        self._texts: list[str] = []
        self._text_items = array("i")
        self._text_size = 0

    def add_path(self, item: int, text: str) -> None:
        """Add path data, read later together with others."""
        self._texts.append(text)
        self._text_items.append(item)
        self._text_size += len(text)
        if self._text_size > _FLUSH:
            self._flush()

    def _flush(self) -> None:
        if not self._texts:
            return
        room = self.limits.curves - self._curves
        try:
            table = parse_paths(self._texts, room)
        except OverflowError:
            table = None
        if table is None or len(table.kind) > room:
            got = f"more than {self.limits.curves:,} lines, arcs and curves"
            raise self.limits.refuse(limit="curves", got=got, where=self.where)
        items = np.array(self._text_items, np.int64)
        self._curves += len(table.kind)
        start = np.append(table.start, len(table.kind))
        self._ready.append(
            StrokeTable(table.kind, table.data, start, table.closed, items[table.path])
        )
        self.wrong.extend((int(items[k]), text) for k, text in table.wrong.items())
        self._texts = []
        self._text_items = array("i")
        self._text_size = 0

    def finish(self) -> StrokeTable:
        """Return all strokes, each in the user units of its item."""
        self._flush()
        return super().finish()
