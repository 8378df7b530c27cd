"""Keys of a paint that the workshop asks for: coats, prices, leaf, times.

A *price* is a table of sizes, ``{"250 mL" = 8.5, "1 L" = 21}`` for what is sold
by volume, ``{book = 38}`` or ``{leaf = 1.6}`` for leaf, ``{piece = 2}`` for
pencils and the like. Tools and materials stand in a table ``[prices]`` of their
own, by the names that a schedule gives them. A *time* is ``"4 h"``, ``"20 min"``
or ``"7 d"``.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.colouring.palettes.model import LeafSheet
from fillwork.colouring.palettes.tables import quoted, short, wrong_line
from fillwork.tomlfile import LONGEST_TEXT

if TYPE_CHECKING:
    from fillwork.colouring.palettes.model import Prices, Swatch
    from fillwork.colouring.palettes.tables import TableReader


_MOST_PRICES = 200
"""Names in a table of prices."""

_LEAF_KEYS = ("size", "lap", "loss", "book", "imitation")
_ML = {"": 1.0, "ml": 1.0, "cl": 10.0, "l": 1000.0}
_HOURS = {"min": 1.0 / 60.0, "h": 1.0, "d": 24.0, "day": 24.0, "days": 24.0}
_SIZE = re.compile(r"\s*(\d+(?:\.\d+)?)?\s*([A-Za-z]*|m[2²])\s*")


def _parse_time(text: str, unit: str) -> float | None:
    """Return a time in hours or days; None where the text is no time.

    `text`: a number with ``min``, ``h`` or ``d``; a bare number has the unit. `unit`:
    ``h`` or ``d``: what is returned.

    Examples
    --------
    >>> _parse_time("36 h", "d")
    1.5
    """
    match = _SIZE.fullmatch(text)
    named = match[2].lower() or unit if match else ""
    if match is None or match[1] is None or named not in _HOURS:
        return None
    value = float(match[1]) * _HOURS[named] / _HOURS[unit]
    return value if value < 1e5 else None


def read_time(
    reader: TableReader, paint: dict[str, Any], key: str, place: int, unit: str
) -> float | None:
    """Return a time of a paint, in that unit; None where the key is missing.

    `unit`: ``h`` or ``d``. Raises `PaletteError` if it is no time.
    """
    value = paint.get(key)
    if value is None:
        return None
    found = None
    if isinstance(value, str):
        found = _parse_time(value, unit)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        found = float(value) if 0 <= value < 1e5 else None
    if found is None:
        mend = f'write {key} = "4 h" or {key} = "7 d"'
        reader.fail(f"“{key}” must be a time, not {value!r}", place, key, mend)
    return found


def read_coats(reader: TableReader, paint: dict[str, Any], place: int) -> int | None:
    """Return the coats of a paint; from 1 to 50; None where the key is missing.

    Raises `PaletteError` if it is something else.
    """
    value = paint.get("coats")
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 50:
        what = f"“coats” must be a whole number from 1 to 50, not {value!r}"
        reader.fail(what, place, "coats", "write coats = 2")
    return int(value)


def read_price(
    reader: TableReader, paint: dict[str, Any], place: int
) -> tuple[tuple[float, str, float], ...]:
    """Return the prices of a paint's sizes.

    Size, unit and price, ascending; empty where the key is missing. Raises
    `PaletteError` if a size or a price is none.
    """
    table = paint.get("price")
    if table is None:
        return ()
    mend = 'write price = {"250 mL" = 8.5, "1 L" = 21}, or for leaf {book = 38}'
    return _read_sizes(reader, table, place, "price", mend)


def read_prices(reader: TableReader, table: dict[str, Any]) -> Prices:
    """Return what tools and materials cost.

    `table`: the whole file; ``prices`` is its table of names. Returns names as written,
    each with size, unit and price; a bare number is the price of a piece. Raises
    `PaletteError` if a size or a price is none.
    """
    prices = table.get("prices", {})
    mend = '[prices], then "acrylic primer" = {"1 L" = 12} or "masking tape" = 4.5'
    if not isinstance(prices, dict) or len(prices) > _MOST_PRICES:
        reader.fail("“prices” must be a table of names", -1, "prices", mend)
    for name in prices:
        if wrong := wrong_line(name, "prices", LONGEST_TEXT):
            what = f"a name of “prices” ({short(name)!r}): {wrong[0]}"
            reader.fail(what, -1, "prices", wrong[1])
    return tuple(
        (
            name,
            _read_sizes(
                reader,
                sizes if isinstance(sizes, dict) else {"piece": sizes},
                -1,
                name,
                mend,
            ),
        )
        for name, sizes in prices.items()
    )


def _read_sizes(
    reader: TableReader, table: Any, place: int, key: str, mend: str
) -> tuple[tuple[float, str, float], ...]:
    """Return a table of sizes with what each costs."""
    if not isinstance(table, dict) or not 1 <= len(table) <= 20:
        reader.fail(f"“{key}” must be a table of sizes", place, key, mend)
    found = []
    for size, price in table.items():
        known = _parse_size(size)
        if known is None:
            reader.fail(f"“{size}” is no size that has a price", place, key, mend)
        number = isinstance(price, int | float) and not isinstance(price, bool)
        if not number or not math.isfinite(price) or not 0 < price < 1e9:
            what = f"the price of {size} must be a number above 0, not {price!r}"
            reader.fail(what, place, key, mend)
        found.append((*known, float(price)))
    return tuple(sorted(found, key=lambda p: (p[1], p[0])))


def _parse_size(text: str) -> tuple[float, str] | None:
    match = _SIZE.fullmatch(text)
    if match is None:
        return None
    unit = match[2].lower()
    if unit in ("book", "leaf", "piece"):
        return (1.0, unit) if match[1] in (None, "1") else None
    if unit in ("m2", "m²"):
        return (float(match[1]), "m2") if match[1] and float(match[1]) > 0 else None
    if match[1] is None or unit not in _ML or float(match[1]) <= 0:
        return None
    return float(match[1]) * _ML[unit], "mL"


def _size_name(size: float, unit: str) -> str:
    """Return a size as it is written in a table of prices, such as ``250 mL``.

    `size`: how much. `unit`: ``mL``, ``m2``, ``book``, ``leaf`` or ``piece``.
    """
    number = np.format_float_positional(size, trim="-")
    return f"{number} {unit}" if unit in ("mL", "m2") else unit


def read_leaf(
    reader: TableReader, paint: dict[str, Any], place: int
) -> LeafSheet | None:
    """Return how a leaf comes; None where the key is missing.

    Raises `PaletteError` if something in it is wrong.
    """
    table = paint.get("leaf")
    if table is None:
        return None
    mend = "write leaf = {size = 80, lap = 3, loss = 0.12, book = 25}"
    if not isinstance(table, dict):
        reader.fail("“leaf” must be a table", place, "leaf", mend)
    for key in table:
        if key not in _LEAF_KEYS:
            known = "known: " + ", ".join(_LEAF_KEYS)
            reader.fail(f"“{key}” is no key of a leaf", place, "leaf", known)

    def _number(key: str, value: Any, low: float, high: float) -> float:
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not low <= value <= high:
            what = f"leaf: “{key}” must be from {low:g} to {high:g}, not {value!r}"
            reader.fail(what, place, "leaf", mend)
        return float(value)

    size = table.get("size")
    if size is not None:
        both = size if isinstance(size, list) and len(size) == 2 else [size, size]
        size = tuple(_number("size", side, 5.0, 2000.0) for side in both)
    lap, loss, book = (table.get(k) for k in ("lap", "loss", "book"))
    lap = None if lap is None else _number("lap", lap, 0.0, 50.0)
    if lap is not None and size is not None and lap >= min(size) / 2:
        reader.fail(f"leaf: a lap of {lap:g} mm leaves nothing", place, "leaf", mend)
    imitation = table.get("imitation", False)
    if not isinstance(imitation, bool):
        reader.fail("leaf: “imitation” is true or false", place, "leaf", mend)
    return LeafSheet(
        size=size,
        lap=lap,
        loss=None if loss is None else _number("loss", loss, 0.0, 0.95),
        book=None if book is None else int(_number("book", book, 1, 1000)),
        imitation=imitation,
    )


def _sizes_table(sizes: tuple[tuple[float, str, float], ...]) -> str:
    told = ", ".join(f'"{_size_name(s, unit)}" = {price!r}' for s, unit, price in sizes)
    return f"{{ {told} }}"


def price_lines(prices: Prices) -> list[str]:
    """Return the table of a palette file for what tools and materials cost.

    TOML; empty where nothing has a price.
    """
    if not prices:
        return []
    rows = (f"{quoted(name)} = {_sizes_table(sizes)}" for name, sizes in prices)
    return ["", "[prices]", *rows]


def workshop_lines(swatch: Swatch) -> list[str]:
    """Return the lines of a palette file for a paint's prices, leaf and times.

    TOML; `read_price` and its like read it back.
    """
    lines = []
    if swatch.price:
        lines.append(f"price = {_sizes_table(swatch.price)}")
    if swatch.leaf is not None:
        leaf = swatch.leaf
        parts = []
        if leaf.size is not None:
            parts.append(f"size = [{leaf.size[0]!r}, {leaf.size[1]!r}]")
        parts += [
            f"{key} = {value!r}"
            for key, value in (("lap", leaf.lap), ("loss", leaf.loss))
            if value is not None
        ]
        parts += [f"book = {leaf.book}"] if leaf.book is not None else []
        parts += ["imitation = true"] if leaf.imitation else []
        lines.append(f"leaf = {{ {', '.join(parts)} }}")
    if swatch.drying is not None:
        lines.append(f'drying = "{swatch.drying!r} h"')
    if swatch.cure is not None:
        lines.append(f'cure = "{swatch.cure!r} d"')
    return lines
