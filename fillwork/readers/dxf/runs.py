"""Runs of like lines and of like placed blocks, drawn as columns of numbers.

Large drawings consist of these, and a million of them cost arrays.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fillwork.arrays import Floats, Ints
    from fillwork.readers.dxf.entities import Drawer
    from fillwork.readers.dxf.sketch import Look, Sketch
    from fillwork.readers.dxf.tags import Entity, Value

    Columns = Mapping[bytes, list[Value]]

_STYLE = (b"8", b"62", b"6", b"370", b"420", b"2")
# what asks for more than a column: tilted planes, arrays, outlines that cut, hiding
_RARE = frozenset({b"210", b"220", b"230", b"70", b"71", b"360", b"60"})


def draw_run(drawer: Drawer, run: Entity, sketch: Sketch) -> bool:
    """Draw a run of lines or placed blocks.

    False where they must be drawn one by one; then nothing was drawn. `run`: more than
    one entity. Raises `ValueError` if a number is none; then too nothing was drawn.
    """
    columns = run.columns()
    rare = _RARE.intersection(columns)
    if run.kind == b"LINE":
        rare -= {b"210", b"220", b"230"}  # a line stands in the drawing's axes
    if drawer.handles or any(len({*columns[code]}) > 1 for code in rare):
        return False
    if any(float(columns[code][0]) != _USUAL.get(code, 0.0) for code in rare):
        return False
    if run.kind == b"LINE":
        _draw_lines(drawer, run, columns, sketch)
    else:
        _place(drawer, run, columns, sketch)
    return True


_USUAL = {b"230": 1.0, b"70": 1.0, b"71": 1.0}


def _numbers(columns: Columns, code: bytes, count: int, default: float = 0.0) -> Floats:
    values = columns.get(code)
    if values is None:
        return np.full(count, default)
    return np.array([float(v) for v in values])


def _looks(
    drawer: Drawer, columns: Columns, count: int
) -> list[tuple[str, Look, Ints]]:
    """Return the names of blocks and styles of a run, with those that have each."""
    codes = [code for code in _STYLE if code in columns]
    rows: dict[tuple[Value, ...], Ints | list[int]] = {}
    if all(len({*columns[code]}) == 1 for code in codes):
        rows[tuple(columns[code][0] for code in codes)] = np.arange(count)
    else:
        keys = zip(*(columns[code] for code in codes), strict=True)
        for k, key in enumerate(keys):
            rows.setdefault(key, []).append(k)  # type: ignore[union-attr]
    found = []
    for key, some in rows.items():
        fields = dict(zip(codes, key, strict=True))
        name = drawer.name(fields.get(b"2"))
        found.append((name, drawer.look(fields), np.asarray(some)))
    return found


def _draw_lines(drawer: Drawer, run: Entity, columns: Columns, sketch: Sketch) -> None:
    n = run.times
    ends = np.stack([_numbers(columns, c, n) for c in (b"10", b"20", b"11", b"21")], 1)
    names = ["LINE"] * n
    handles = columns.get(b"5")
    if handles is not None and isinstance(handles[0], bytes):
        text = b"\n".join(handles).decode("latin-1")  # type: ignore[arg-type]
        names = [f"LINE#{handle.strip()}" for handle in text.split("\n")]
        if len(names) != n:
            what = "a handle of several lines"
            raise ValueError(what)
    seen = (ends[:, :2] != ends[:, 2:]).any(axis=1)
    for _, look, rows in _looks(drawer, columns, n):
        some = rows[seen[rows]]
        if len(some):
            sketch.add_lines(
                ends[some],
                look,
                names if len(some) == n else [names[k] for k in some.tolist()],
                (run.line + run.step * some).tolist(),
            )


def _place(drawer: Drawer, run: Entity, columns: Columns, sketch: Sketch) -> None:
    n = run.times
    x, y = _numbers(columns, b"10", n), _numbers(columns, b"20", n)
    sx, sy = _numbers(columns, b"41", n, 1.0), _numbers(columns, b"42", n, 1.0)
    turn = np.radians(_numbers(columns, b"50", n))
    cos, sin = np.cos(turn), np.sin(turn)
    maps = np.stack([cos * sx, sin * sx, -sin * sy, cos * sy, x, y], axis=1)
    for name, look, rows in _looks(drawer, columns, n):
        line = run.line + run.step * int(rows[0])
        sketch.place((name, look, ""), maps[rows].ravel().tolist(), line)
