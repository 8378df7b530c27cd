"""Tables of a hand-written TOML file, with the line of each mistake.

A *top key* stands before the first ``[[paint]]``; each ``[[paint]]`` is one
table. tomllib tells no lines of keys, so `Lines` finds them again.
"""

from __future__ import annotations

import contextlib
import difflib
import math
import re
from typing import Any, NoReturn

from fillwork.errors import PaletteError, PlanError
from fillwork.notes import Note
from fillwork.tomlfile import LONGEST_TEXT, parse_toml
from fillwork.units import parse_share

LONGEST_NAME = 60
"""Characters of the name of a paint or a palette."""


def wrong_line(text: str, key: str, most: int) -> tuple[str, str] | None:
    """Return what is wrong with a text on one line, and how to mend it.

    None where nothing is. `key`: what the text is. `most`: most characters.
    """
    if len(text) > most:
        return f"“{key}” has {len(text)} characters, more than {most}", "shorten it"
    if any(not c.isprintable() for c in text):
        return f"“{key}” holds a control character", "remove it"
    return None


def wrong_name(name: str) -> tuple[str, str] | None:
    """Return why a paint cannot have a name, and how to mend it; None where it can."""
    if not name:
        return "the paint has no name", 'add name = "…"'
    if re.search(r"[=:,]|^[@#]", name) or name.casefold() == "none":
        what = f"“{short(name)}” cannot be the name of a paint"
        return what, "leave out = : and , and an @ or # in front; “none” is taken"
    return wrong_line(name, "name", LONGEST_NAME)


def fit_name(text: str) -> str:
    """Return a name as palettes have it, made of any text, such as a file's name.

    On one line, without what does not print, and cut where it is too long.
    """
    line = "".join(c for c in " ".join(text.split()) if c.isprintable())
    return line if len(line) <= LONGEST_NAME else f"{line[: LONGEST_NAME - 1]}…"


def short(text: str) -> str:
    """Return a text cut to a length that fits a message; at most 41 characters."""
    return text if len(text) <= 40 else text[:40] + "…"


def quoted(text: str) -> str:
    """Return a text as TOML writes it, on one line."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    escaped = "".join(
        c if c.isprintable() else f"\\U{ord(c):08x}" for c in escaped.replace("\n", " ")
    )
    return f'"{escaped}"'


class Lines:
    """Find the line of a key: tomllib does not tell it. `text`: the whole file."""

    def __init__(self, text: str) -> None:
        self._keys: dict[tuple[int, str], int] = {}
        self._tables: dict[int, int] = {-1: 1}
        paint, inside, name = -1, "", ""
        for number, line in enumerate(text.splitlines(), start=1):
            if inside:
                if line.count(inside) % 2:
                    inside = ""
                continue
            bare = line.strip()
            if re.match(r"\[\[\s*[\"']?paint[\"']?\s*\]\]", bare):
                paint += 1
                self._tables[paint] = number
            elif match := re.match(r"\[+\s*[\"']?([^\]\"']*)", bare):
                name = match[1].strip()
                self._keys.setdefault((paint, name), number)
            elif match := re.match(r"[\"']?([^=\"'#]+?)[\"']?\s*=", bare):
                self._keys.setdefault((paint, match[1].strip()), number)
            for quotes in ('"""', "'''"):
                if line.count(quotes) % 2:
                    inside = quotes

    def of(self, paint: int, key: str = "") -> int:
        """Return the line of a key.

        From 1; that of the table when the key is not found. `paint`: which
        ``[[paint]]``, -1 for the top. `key`: which key; the table itself by default.
        """
        place = self._keys.get((paint, key))
        if place is None:
            place = self._tables.get(paint, self._keys.get((-1, "paint"), 1))
        return place


class TableReader:
    """Check the values of one palette file.

    `text`: the whole file. `file`: its name for messages.
    """

    def __init__(self, text: str, file: str) -> None:
        self.lines = Lines(text)
        self.file = file
        self.notes: list[Note] = []

    def fail(self, what: str, paint: int, key: str = "", mend: str = "") -> NoReturn:
        """Raise with the line of a key.

        `paint`: which ``[[paint]]``, -1 for the top. Raises `PaletteError` always.
        """
        where = f"{self.file}, line {self.lines.of(paint, key)}"
        raise PaletteError(what, where=where, mend=mend)

    def doubt(
        self, kind: str, text: str, paint: int, key: str, remedy: str = ""
    ) -> None:
        """Keep a note with the line of a key.

        `paint`: which ``[[paint]]``, -1 for the top.
        """
        line = self.lines.of(paint, key)
        self.notes.append(
            Note("colouring", kind, text, source=(self.file, line), remedy=remedy)
        )

    def known_keys(
        self, table: dict[str, Any], known: tuple[str, ...], paint: int
    ) -> None:
        """Raise at the first key that is not known.

        `paint`: which ``[[paint]]``, -1 for the top. Raises `PaletteError` naming the
        nearest valid key.
        """
        for key in table:
            if key in known:
                continue
            near = nearest(key, known) or {"color": "colour", "paints": "paint"}.get(
                key, ""
            )
            place = "a paint" if paint >= 0 else "a palette"
            what = f"“{short(key)}” is no key of {place}"
            mend = f"did you mean “{near}”? " if near else ""
            self.fail(what, paint, key, mend + "known: " + ", ".join(known))

    def text(self, table: dict[str, Any], key: str, paint: int, most: int) -> str:
        """Return a text on one line; empty where the key is missing.

        `paint`: which ``[[paint]]``, -1 for the top. `most`: most characters. Raises
        `PaletteError` if it is something else.
        """
        value = table.get(key, "")
        if not isinstance(value, str):
            self.fail(f"“{key}” must be text in quotes", paint, key, f'{key} = "…"')
        text = " ".join(str(value).split())
        if wrong := wrong_line(text, key, most):
            what, mend = wrong
            self.fail(what, paint, key, mend)
        return text

    def one_of(
        self, table: dict[str, Any], key: str, paint: int, known: tuple[str, ...]
    ) -> str:
        """Return one of some words, in its usual spelling.

        Empty where the key is missing. `paint`: which ``[[paint]]``, -1 for the top.
        Raises `PaletteError` if it is something else.
        """
        text = self.text(table, key, paint, LONGEST_TEXT)
        for value in known:
            if text.casefold() == value.casefold():
                return value
        if text:
            near = nearest(text, known)
            mend = (f"did you mean “{near}”? " if near else "") + "known: "
            what = f"“{short(text)}” is no {key}"
            self.fail(what, paint, key, mend + ", ".join(known))
        return ""

    def texts(self, table: dict[str, Any], key: str, paint: int) -> tuple[str, ...]:
        """Return a list of texts; empty where the key is missing.

        `paint`: which ``[[paint]]``, -1 for the top. Raises `PaletteError` if it is
        something else.
        """
        value = table.get(key, [])
        if isinstance(value, str):
            value = [value]
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            self.fail(f"“{key}” must be a list of texts", paint, key, f'{key} = ["…"]')
        if len(value) > 50:
            self.fail(f"“{key}” has {len(value)} entries", paint, key, "keep under 50")
        return tuple(
            self.text({key: v}, key, paint, LONGEST_TEXT) for v in value if v.strip()
        )

    def share(self, table: dict[str, Any], paint: int) -> float | None:
        """Return the area share wished.

        Raises `PaletteError` if it is something else.
        """
        value = table.get("share")
        if value is None:
            return None
        share = -1.0
        if isinstance(value, str):
            with contextlib.suppress(PlanError):
                share = parse_share(value)
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            share = float(value)
        if not 0.0 <= share <= 1.0:
            what = f"“share” must be from 0 to 1 (or 0% to 100%), not {value!r}"
            self.fail(what, paint, "share", 'write share = 0.15 or share = "15%"')
        return share

    def number(
        self, table: dict[str, Any], key: str, paint: int, most: float, what: str
    ) -> float | None:
        """Return a number above 0; None where the key is missing.

        `paint`: which ``[[paint]]``, -1 for the top. `most`: largest value. `what`:
        what the number is, for messages. Raises `PaletteError` if it is something else.
        """
        value = table.get(key)
        if value is None:
            return None
        number = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not number or not math.isfinite(value) or not 0.0 < value <= most:
            told = f"“{key}” must be {what}, not {value!r}"
            self.fail(told, paint, key, f"write {key} = 10.0")
        return float(value)


def nearest(word: str, known: tuple[str, ...]) -> str:
    """Return the word most like another; empty when none is like it.

    `word`: what was written.
    """
    close = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.5)
    return close[0] if close else ""


def load_tables(data: bytes, file: str) -> tuple[TableReader, dict[str, Any]]:
    """Read TOML and prepare its checking.

    `data`: TOML in UTF-8. Returns tuple of (TableReader, dict): the reader that knows
    the lines, and the values. Raises `PaletteError` if it is too large, no UTF-8, no
    sound TOML or not to be trusted.
    """
    mend = "see the format in palettes/README.md"
    text, table = parse_toml(
        data, file, kind="palette file", error=PaletteError, mend=mend
    )
    return TableReader(text, file), table
