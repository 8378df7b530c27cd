"""Reading, checking and writing of palette files.

A palette file is TOML, made to be read and edited by hand; `palettes/README.md`
documents it. Text before the first ``[[paint]]`` belongs to the palette, each
``[[paint]]`` is one swatch. What is wrong is named with its line and the nearest
valid key; what is doubtful becomes a note of the palette.
"""

from __future__ import annotations

import contextlib
import difflib
import hashlib
import math
import re
import tomllib
from pathlib import Path
from typing import Any, NoReturn

from fillwork.colouring.difference import ParsedColour, parse_colour
from fillwork.colouring.model import Palette, Swatch
from fillwork.colouring.pigments import PIGMENTS, generic_name
from fillwork.errors import PaletteError, PlanError
from fillwork.notes import Note
from fillwork.units import parse_share

__all__ = [
    "LIGHTFASTNESS",
    "MEDIA",
    "MOST_SWATCHES",
    "OPACITIES",
    "ROLES",
    "list_palettes",
    "palette_to_toml",
    "parse_palette",
    "read_palette",
]

MOST_SWATCHES = 300
MEDIA = (
    "acrylic",
    "casein",
    "chalk paint",
    "crayon",
    "emulsion",
    "enamel",
    "egg tempera",
    "gouache",
    "ink",
    "leaf",
    "lime wash",
    "marker",
    "oil",
    "paper",
    "pencil",
    "silicate paint",
    "thread",
    "tile",
    "watercolour",
)
OPACITIES = ("opaque", "semi-opaque", "semi-transparent", "transparent")
LIGHTFASTNESS = ("I", "II", "III", "IV", "V")
ROLES = ("ground", "main", "accent", "line")

_TOP_KEYS = ("name", "note", "source", "medium", "coverage", "paint")
_PAINT_KEYS = (
    "name",
    "colour",
    "code",
    "medium",
    "pigments",
    "opacity",
    "lightfastness",
    "role",
    "share",
    "coverage",
    "cautions",
    "source",
    "note",
)
_MOST_BYTES = 1_000_000
_LONGEST_NAME, _LONGEST_CODE, _LONGEST_TEXT = 60, 6, 2000


def list_palettes() -> tuple[str, ...]:
    """Return the names of the palettes that come with fillwork.

    Returns
    -------
    tuple of str
        File names without ``.toml``, sorted.
    """
    folder = _shipped()
    if folder is None:
        return ()
    return tuple(sorted(path.stem for path in folder.glob("*.toml")))


def read_palette(name_or_path: str | Path, *, folder: Path | None = None) -> Palette:
    """Read a palette that comes with fillwork, or a file.

    Parameters
    ----------
    name_or_path : str or Path
        A name from `list_palettes`, or a path; a path ends in ``.toml`` or
        holds a separator.
    folder : Path, optional
        Where relative paths start; the working folder by default.

    Returns
    -------
    Palette
        The palette.

    Raises
    ------
    PaletteError
        If it is unknown, unreadable or wrong.
    """
    text = str(name_or_path)
    shipped = _shipped()
    is_path = isinstance(name_or_path, Path) or bool(re.search(r"[/\\]|\.toml$", text))
    path = Path(text) if folder is None else folder / text
    if not is_path and shipped is not None and (known := _known_name(text)):
        path = shipped / f"{known}.toml"
    elif not is_path and not path.is_file():
        what = f"palette “{_short(text)}” is not known"
        names = list_palettes()
        close = difflib.get_close_matches(text.lower(), names, n=3, cutoff=0.4)
        mend = f"nearest: {', '.join(close)}" if close else f"take {', '.join(names)}"
        raise PaletteError(what, mend=mend + ", or give a file ending in .toml")
    try:
        with path.open("rb") as file:
            data = file.read(_MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "no such file"
        what = f"the palette file cannot be read ({reason})"
        raise PaletteError(what, where=path.name, mend="check its path") from error
    return parse_palette(data, path.name)


def _shipped() -> Path | None:
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "palettes", package.parent / "palettes"):
        if any(folder.glob("*.toml")):
            return folder
    return None


def _known_name(text: str) -> str:
    wanted = re.sub(r"[\s_]+", "-", text.strip().lower())
    return next((name for name in list_palettes() if name == wanted), "")


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:40] + "…"


class _Lines:
    """Find the line of a key: tomllib does not tell it."""

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
        place = self._keys.get((paint, key))
        if place is None:
            place = self._tables.get(paint, self._keys.get((-1, "paint"), 1))
        return place


class _Reader:
    """Check the values of one palette file."""

    def __init__(self, text: str, file: str) -> None:
        self.lines = _Lines(text)
        self.file = file
        self.notes: list[Note] = []

    def fail(self, what: str, paint: int, key: str = "", mend: str = "") -> NoReturn:
        where = f"{self.file}, line {self.lines.of(paint, key)}"
        raise PaletteError(what, where=where, mend=mend)

    def doubt(
        self, kind: str, text: str, paint: int, key: str, remedy: str = ""
    ) -> None:
        line = self.lines.of(paint, key)
        name = f"{self.file}, line {line}: {text}"
        self.notes.append(
            Note("colouring", kind, name, source=(self.file, line), remedy=remedy)
        )

    def known_keys(
        self, table: dict[str, Any], known: tuple[str, ...], paint: int
    ) -> None:
        for key in table:
            if key in known:
                continue
            near = _nearest(key, known) or {"color": "colour", "paints": "paint"}.get(
                key, ""
            )
            place = "a paint" if paint >= 0 else "a palette"
            what = f"“{_short(key)}” is no key of {place}"
            mend = f"did you mean “{near}”? " if near else ""
            self.fail(what, paint, key, mend + "known: " + ", ".join(known))

    def text(self, table: dict[str, Any], key: str, paint: int, most: int) -> str:
        value = table.get(key, "")
        if not isinstance(value, str):
            self.fail(f"“{key}” must be text in quotes", paint, key, f'{key} = "…"')
        text = " ".join(str(value).split())
        if len(text) > most:
            what = f"“{key}” has {len(text)} characters, more than {most}"
            self.fail(what, paint, key, "shorten it")
        if any(not c.isprintable() for c in text):
            self.fail(f"“{key}” holds a control character", paint, key, "remove it")
        return text

    def one_of(
        self, table: dict[str, Any], key: str, paint: int, known: tuple[str, ...]
    ) -> str:
        text = self.text(table, key, paint, _LONGEST_TEXT)
        for value in known:
            if text.casefold() == value.casefold():
                return value
        if text:
            near = _nearest(text, known)
            mend = (f"did you mean “{near}”? " if near else "") + "known: "
            what = f"“{_short(text)}” is no {key}"
            self.fail(what, paint, key, mend + ", ".join(known))
        return ""

    def texts(self, table: dict[str, Any], key: str, paint: int) -> tuple[str, ...]:
        value = table.get(key, [])
        if isinstance(value, str):
            value = [value]
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            self.fail(f"“{key}” must be a list of texts", paint, key, f'{key} = ["…"]')
        if len(value) > 50:
            self.fail(f"“{key}” has {len(value)} entries", paint, key, "keep under 50")
        return tuple(
            self.text({key: v}, key, paint, _LONGEST_TEXT) for v in value if v.strip()
        )

    def share(self, table: dict[str, Any], paint: int) -> float | None:
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

    def coverage(self, table: dict[str, Any], paint: int) -> float | None:
        value = table.get("coverage")
        if value is None:
            return None
        number = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not number or not math.isfinite(value) or not 0.0 < value <= 1000.0:
            what = f"“coverage” must be m² a litre in one coat, not {value!r}"
            self.fail(what, paint, "coverage", "write coverage = 10.0")
        return float(value)


def _nearest(word: str, known: tuple[str, ...]) -> str:
    close = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.5)
    return close[0] if close else ""


def parse_palette(data: bytes, file: str) -> Palette:
    r"""Read a palette from the bytes of its file.

    Parameters
    ----------
    data : bytes
        TOML in UTF-8.
    file : str
        File name for messages.

    Returns
    -------
    Palette
        The palette, with notes on what is doubtful.

    Raises
    ------
    PaletteError
        If something is wrong; names the line and the nearest valid key.

    Examples
    --------
    >>> two = b'[[paint]]\nname="a"\ncolour="#fff"\n'
    >>> parse_palette(two, "two.toml").swatches[0].hex
    '#ffffff'
    """
    if len(data) > _MOST_BYTES:
        what = f"the palette file has over {_MOST_BYTES // 1000} kB"
        raise PaletteError(what, where=file, mend="is it a palette?")
    try:
        text = data.decode("utf-8-sig")
        table = tomllib.loads(text)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        what = "the palette file is not UTF-8 text"
        mend = "save it as UTF-8, or give a palette file"
        raise PaletteError(what, where=f"{file}, line {line}", mend=mend) from error
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        found = re.search(r"\(at (?:line (\d+).*|end of document)\)", str(error))
        reason = str(error)[: found.start()].strip() if found else str(error)[:80]
        line = int(found[1]) if found and found[1] else data.count(b"\n") + 1
        what = f"the palette file is not sound TOML: {reason[:1].lower()}{reason[1:]}"
        mend = "see the format in palettes/README.md"
        raise PaletteError(what, where=f"{file}, line {line}", mend=mend) from error
    reader = _Reader(text, file)
    reader.known_keys(table, _TOP_KEYS, -1)
    paints = table.get("paint", [])
    if not isinstance(paints, list) or not all(isinstance(p, dict) for p in paints):
        reader.fail("“paint” must be written [[paint]]", -1, "paint")
    if not paints:
        what = "the palette has no paint"
        raise PaletteError(what, where=file, mend="add at least two [[paint]] tables")
    if len(paints) > MOST_SWATCHES:
        what = f"the palette has {len(paints)} paints, more than {MOST_SWATCHES}"
        raise PaletteError(what, where=file, mend="take out the ones you do not have")
    swatches = _swatches(reader, table, paints)
    if len(swatches) == 1:
        text = "the palette has one paint: every region gets the same colour"
        reader.doubt("one swatch", text, 0, "", "add a second paint")
    stem = file.rpartition(".")[0] or file
    return Palette(
        name=reader.text(table, "name", -1, _LONGEST_NAME) or stem,
        swatches=swatches,
        note=reader.text(table, "note", -1, _LONGEST_TEXT),
        source=reader.text(table, "source", -1, _LONGEST_TEXT),
        file=file,
        digest=hashlib.sha256(data).hexdigest(),
        notes=tuple(reader.notes),
    )


def _swatches(
    reader: _Reader, table: dict[str, Any], paints: list[dict[str, Any]]
) -> tuple[Swatch, ...]:
    swatches: list[Swatch] = []
    for place, paint in enumerate(paints):
        reader.known_keys(paint, _PAINT_KEYS, place)
        for key in ("medium", "coverage"):
            if key in table and key not in paint:
                paint[key] = table[key]
        swatches.append(_swatch(reader, paint, place))
    _check_names(reader, swatches)
    total = sum(s.share or 0.0 for s in swatches)
    if total > 1.0 + 1e-9:
        what = f"the shares add up to {100 * total:.0f} %"
        first = next(i for i, s in enumerate(swatches) if s.share)
        reader.fail(what, first, "share", "lower them to 100 % or less")
    return tuple(swatches)


def _swatch(reader: _Reader, paint: dict[str, Any], place: int) -> Swatch:
    name = reader.text(paint, "name", place, _LONGEST_NAME)
    if not name:
        reader.fail("the paint has no name", place, "name", 'add name = "…"')
    if re.search(r"[=:,]|^[@#]", name) or name.casefold() == "none":
        what = f"“{name}” cannot be the name of a paint"
        mend = "leave out = : and , and an @ or # in front; “none” is taken"
        reader.fail(what, place, "name", mend)
    colour = _colour(reader, paint, place, name)
    code = paint.get("code", "")
    if isinstance(code, int) and not isinstance(code, bool):
        code = str(code)
    code = reader.text({"code": code}, "code", place, _LONGEST_CODE)
    if re.search(r"[\s=:,]|^[@#]", code):
        mend = "use letters and digits"
        reader.fail(f"“{code}” cannot be a code", place, "code", mend)
    medium = reader.text(paint, "medium", place, 40).lower()
    if medium and medium not in MEDIA:
        near = _nearest(medium, MEDIA)
        text = f"{name}: the medium “{medium}” is not known, so no coverage either"
        remedy = (f"did you mean “{near}”? known: " if near else "known: ") + ", ".join(
            MEDIA
        )
        reader.doubt("unknown medium", text, place, "medium", remedy)
    return Swatch(
        name=name,
        code=code or str(place + 1),
        hex=colour.hex,
        oklch=colour.oklch,
        lab=colour.lab,
        medium=medium,
        pigments=_pigments(reader, paint, place, name),
        opacity=reader.one_of(paint, "opacity", place, OPACITIES),
        lightfastness=reader.one_of(paint, "lightfastness", place, LIGHTFASTNESS),
        role=reader.one_of(paint, "role", place, ROLES),
        share=reader.share(paint, place),
        coverage=reader.coverage(paint, place),
        cautions=reader.texts(paint, "cautions", place),
        source=reader.text(paint, "source", place, _LONGEST_TEXT),
        note=reader.text(paint, "note", place, _LONGEST_TEXT),
    )


def _colour(
    reader: _Reader, paint: dict[str, Any], place: int, name: str
) -> ParsedColour:
    if "colour" not in paint:
        mend = 'add colour = "#c9a227" or another CSS colour'
        reader.fail(f"{name} has no colour", place, "", mend)
    value = reader.text(paint, "colour", place, _LONGEST_TEXT)
    try:
        colour = parse_colour(value)
    except PaletteError as error:
        where = f"{reader.file}, line {reader.lines.of(place, 'colour')}"
        what = f"{name}: {error.what}"
        raise PaletteError(what, where, error.mend) from error
    if colour.doubt:
        kind = "outside sRGB" if "outside" in colour.doubt else "transparent colour"
        text = f"{name}: {_short(value)} {colour.doubt}; taken as {colour.hex}"
        reader.doubt(kind, text, place, "colour")
    return colour


def _pigments(
    reader: _Reader, paint: dict[str, Any], place: int, name: str
) -> tuple[str, ...]:
    found = []
    for text in reader.texts(paint, "pigments", place):
        generic = generic_name(text)
        if not generic:
            doubt = f"{name}: “{_short(text)}” is no Colour Index generic name"
            remedy = "write it as PB29 or PBr7, if it has one"
            reader.doubt("unknown pigment", doubt, place, "pigments", remedy)
        elif generic.partition(":")[0] not in PIGMENTS:
            doubt = f"{name}: nothing is known here of {generic}, so no cautions either"
            remedy = "read its label and add what it says under cautions"
            reader.doubt("unknown pigment", doubt, place, "pigments", remedy)
        found.append(generic or text)
    return tuple(found)


def _check_names(reader: _Reader, swatches: list[Swatch]) -> None:
    seen: dict[str, tuple[int, str]] = {}
    colours: dict[str, int] = {}
    for place, swatch in enumerate(swatches):
        for key, value in (("name", swatch.name), ("code", swatch.code)):
            other = seen.setdefault(value.casefold(), (place, key))
            if other[0] != place:
                what = (
                    f"the {key} “{value}” is already the {other[1]} "
                    f"of paint {other[0] + 1}"
                )
                mend = f"give each paint a {key} of its own"
                reader.fail(what, place, key, mend)
        first = colours.setdefault(swatch.hex, place)
        if first != place:
            text = (
                f"{swatch.name} has the same colour as {swatches[first].name}, "
                f"{swatch.hex}"
            )
            remedy = "no neighbour contrast can come from these two"
            reader.doubt("identical colours", text, place, "colour", remedy)


def palette_to_toml(palette: Palette) -> str:
    """Write a palette as the text of a palette file.

    Parameters
    ----------
    palette : Palette
        The palette.

    Returns
    -------
    str
        TOML that `parse_palette` reads back to the same swatches.
    """
    lines = [f"name = {_quoted(palette.name)}"]
    lines += [
        f"{key} = {_quoted(value)}"
        for key, value in (("note", palette.note), ("source", palette.source))
        if value
    ]
    for place, swatch in enumerate(palette.swatches):
        lines += ["", "[[paint]]", f"name = {_quoted(swatch.name)}"]
        lines.append(f'colour = "{swatch.hex}"')
        if swatch.code != str(place + 1):
            lines.append(f"code = {_quoted(swatch.code)}")
        for key in ("medium", "pigments", "opacity", "lightfastness", "role"):
            lines += _entry(key, getattr(swatch, key))
        for key in ("share", "coverage", "cautions", "source", "note"):
            lines += _entry(key, getattr(swatch, key))
    return "\n".join(lines) + "\n"


def _entry(key: str, value: str | float | tuple[str, ...] | None) -> list[str]:
    if value is None or value in {"", ()}:
        return []
    if isinstance(value, tuple):
        return [f"{key} = [{', '.join(_quoted(v) for v in value)}]"]
    return [f"{key} = {_quoted(value) if isinstance(value, str) else repr(value)}"]


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    escaped = "".join(
        c if c.isprintable() else f"\\U{ord(c):08x}" for c in escaped.replace("\n", " ")
    )
    return f'"{escaped}"'
