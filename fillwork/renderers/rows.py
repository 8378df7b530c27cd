"""Long lists of the report, kept as columns and written column by column.

A list of a million entries as a million small tables costs more than the regions
themselves. `Rows` gives each entry as a table when one is asked for, and writes all
of them as JSON in the text that the standard library gives for those tables.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, overload

import numpy as np

from fillwork.units import fine

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from fillwork.arrays import AnyInts, Bools, Floats
_BLOCK = 50_000
"""Rows written at a time, which bounds memory."""


class Coded:
    """Hold a column in which few values stand many times.

    `values` (sequence): the different values. `rows` (n,): which of them each row has.
    """

    def __init__(self, values: Sequence[Any], rows: AnyInts) -> None:
        self.values, self.rows = values, rows

    def __len__(self) -> int:
        return len(self.rows)

    def __getitem__(self, part: slice) -> Coded:
        return Coded(self.values, self.rows[part])

    def tolist(self) -> list[Any]:
        """Return the value of each row."""
        return list(map(self.values.__getitem__, self.rows.tolist()))


Column = Coded | np.ndarray
"""Coded values, or numbers or truths of shape (n,) or (n, k)."""


class Rows(Sequence[dict[str, Any]]):
    """Show columns as a list of tables with the same keys.

    `columns`: all of one length.
    """

    def __init__(self, columns: dict[str, Column]) -> None:
        self.columns = columns
        (self._length,) = {len(column) for column in columns.values()}

    def __len__(self) -> int:
        return self._length

    @overload
    def __getitem__(self, at: int) -> dict[str, Any]: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[dict[str, Any]]: ...

    def __getitem__(self, at: int | slice) -> dict[str, Any] | Sequence[dict[str, Any]]:
        if not isinstance(at, slice):
            return self[at : at + 1 or None][0]
        return list(Rows({key: column[at] for key, column in self.columns.items()}))

    def __iter__(self) -> Iterator[dict[str, Any]]:
        keys = tuple(self.columns)
        parts = (column.tolist() for column in self.columns.values())
        for row in zip(*parts, strict=True):
            yield dict(zip(keys, row, strict=True))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Sequence) or isinstance(other, str):
            return NotImplemented
        return list(self) == list(other)

    __hash__ = None  # type: ignore[assignment]

    def with_column(self, key: str, column: Column) -> Rows:
        """Return the rows with one more value each."""
        return Rows({**self.columns, key: column})

    def text(self, between: str) -> bytes:
        """Return all rows as JSON text; UTF-8, the text of `json_text` for each row.

        `between`: what stands between two rows.
        """
        done = []
        for first in range(0, len(self), _BLOCK):
            count = min(_BLOCK, len(self) - first)
            pieces: list[NDArray[np.uint8]] = []
            before = "{"
            for key, column in self.columns.items():
                before += f"{json_text(key)}: "
                part = column[first : first + count]
                inner: list[Column] = [part]
                ends = "", ""
                if isinstance(part, np.ndarray) and part.ndim > 1:
                    inner, ends = list(part.T), ("[", "]")
                before += ends[0]
                for values in inner:
                    pieces += [_same(before, count), _letters(values)]
                    before = ", "
                before = f"{ends[1]}, "
            pieces.append(_same(f"{before[:-2]}}}{between}", count))
            table = np.concatenate(pieces, axis=1)
            if first + count == len(self):
                table[-1, len(table[0]) - len(between.encode()) :] = 0
            done.append(table[table != 0].tobytes())
        return b"".join(done)


def json_text(value: Any) -> str:
    """Return a plain value as JSON on one line.

    `value`: what `json.dumps` takes; no NaN, no infinity.
    """
    return _ENCODE(value)


_ENCODE = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


def plain(report: dict[str, Any]) -> dict[str, Any]:
    """Return a report with lists of tables in place of `Rows`."""
    return {k: list(v) if isinstance(v, Rows) else v for k, v in report.items()}


def _same(text: str, count: int) -> NDArray[np.uint8]:
    """Return one text for every row, a byte a column."""
    letters = np.frombuffer(text.encode(), np.uint8)
    return np.broadcast_to(letters, (count, len(letters)))


def _padded(texts: Sequence[str]) -> NDArray[np.uint8]:
    """Return texts as rows of bytes, with zeros behind; JSON text has no zeros."""
    table = np.array([text.encode() for text in texts], np.bytes_)
    return table.view(np.uint8).reshape(len(texts), -1)


def _letters(column: Column) -> NDArray[np.uint8]:
    """Return each value's text as a row of bytes, zeros where there is none."""
    if isinstance(column, Coded):
        here = np.zeros(len(column.values), bool)
        here[column.rows] = True
        used, number = np.flatnonzero(here).tolist(), np.cumsum(here) - 1
        texts = _padded([json_text(column.values[k]) for k in used])
        return np.asarray(texts[number[column.rows]], np.uint8)
    if column.dtype.kind == "b":
        return _padded(("false", "true"))[column.astype(np.intp)]
    if column.dtype.kind in "iu":
        return np.concatenate([_sign(column < 0), _digits(np.abs(column))], axis=1)
    return _decimals(column)


def _sign(negative: Bools) -> NDArray[np.uint8]:
    return np.where(negative, np.uint8(ord("-")), np.uint8(0))[:, None]


def _digits(values: AnyInts) -> NDArray[np.uint8]:
    """Return whole numbers from 0 on as digits without leading zeros."""
    width = len(str(int(values.max(initial=0))))
    left = values.astype(np.int64)
    found = np.zeros((len(values), width), np.uint8)
    for place in range(width - 1, -1, -1):
        more, digit = np.divmod(left, 10)
        found[:, place] = np.where((left > 0) | (place == width - 1), digit + 48, 0)
        left = more
    return found


def _decimals(values: Floats) -> NDArray[np.uint8]:
    """Return numbers as `repr` does, those of three decimals all at once."""
    with np.errstate(invalid="ignore"):
        thousands = np.rint(np.abs(values) * 1000.0)
        plain = (thousands < 2.0**50) & (thousands / 1000.0 == np.abs(values))
    plain &= ~((values == 0) & np.signbit(values))
    whole, part = np.divmod(np.where(plain, thousands, 0).astype(np.int64), 1000)
    behind = _BEHIND[part]
    found = np.concatenate([_sign(values < 0), _digits(whole), behind], axis=1)
    odd = np.flatnonzero(~plain)
    if len(odd):
        texts = _padded([json_text(value) for value in values[odd].tolist()])
        wider = max(texts.shape[1], found.shape[1])
        found = np.pad(found, ((0, 0), (0, wider - found.shape[1])))
        found[odd] = np.pad(texts, ((0, 0), (0, wider - texts.shape[1])))
    return found


_BEHIND = _padded(["." + (f"{part:03d}".rstrip("0") or "0") for part in range(1000)])
"""What stands behind the whole of so many thousandths."""


def mm_value(value: float | None) -> float | None:
    """Round for print; what is no number becomes null."""
    if value is None or not math.isfinite(value):
        return None
    # + 0.0 turns -0.0 into 0.0
    return round(float(value), 3) + 0.0


def area_value(value: float) -> float | None:
    """Round for print, but leave figures to the area of a tiny region."""
    return fine(float(value)) if math.isfinite(value) else None
