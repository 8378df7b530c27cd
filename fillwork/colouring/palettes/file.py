"""Reading, checking and writing of palette files.

A palette file is TOML, made to be read and edited by hand; `palettes/README.md`
documents it. Text before the first ``[[paint]]`` belongs to the palette, each
``[[paint]]`` is one swatch. What is wrong is named with its line and the nearest
valid key; what is doubtful becomes a note of the palette.
"""

from __future__ import annotations

import difflib
import hashlib
import re
from pathlib import Path
from typing import Any

from fillwork.colouring.difference import ParsedColour, parse_colour
from fillwork.colouring.palettes.model import (
    MOST_SWATCHES,
    Palette,
    Swatch,
    find_namesake,
)
from fillwork.colouring.palettes.paint_keys import (
    price_lines,
    read_coats,
    read_leaf,
    read_price,
    read_prices,
    read_time,
    workshop_lines,
)
from fillwork.colouring.palettes.pigments import PIGMENTS, generic_name
from fillwork.colouring.palettes.tables import (
    LONGEST_NAME,
    TableReader,
    fit_name,
    load_tables,
    nearest,
    quoted,
    short,
    wrong_name,
)
from fillwork.errors import PaletteError, ReadError
from fillwork.tomlfile import LONGEST_TEXT, is_file, read_toml_file

_COVERAGE = "m² a litre in one coat"
MEDIA = (
    "acrylic", "bare", "casein", "chalk paint", "crayon", "emulsion", "enamel",
    "egg tempera", "gouache", "ink", "leaf", "lime wash", "marker", "oil", "paper",
    "pencil", "silicate paint", "thread", "tile", "watercolour",
)  # fmt: skip
OPACITIES = ("opaque", "semi-opaque", "semi-transparent", "transparent")
_LIGHTFASTNESS = ("I", "II", "III", "IV", "V")
_ROLES = ("ground", "main", "accent", "line")
_COMMON_KEYS = ("medium", "coverage", "coats", "drying", "cure")
"""Keys that hold for every paint when they stand before the first."""

TOP_KEYS = ("name", "note", "source", "currency", "prices", *_COMMON_KEYS, "paint")
PAINT_KEYS = (
    "name", "colour", "code", "medium", "pigments", "opacity", "lightfastness", "role",
    "share", "coverage", "coats", "price", "leaf", "drying", "cure", "cautions",
    "source", "note",
)  # fmt: skip
_LONGEST_CODE = 6


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
    elif not is_path and not is_file(path):
        what = f"palette “{short(text)}” is not known"
        names = list_palettes()
        close = difflib.get_close_matches(text.lower(), names, n=3, cutoff=0.5)
        mend = f"nearest: {', '.join(close)}" if close else f"take {', '.join(names)}"
        raise PaletteError(what, mend=mend + ", or give a file ending in .toml")
    try:
        data = read_toml_file(path)
    except ReadError as error:
        what = f"the palette file {error.what.removeprefix('this ')}"
        raise PaletteError(what, where=path.name, mend=error.mend) from error
    return parse_palette(data, path.name)


def _shipped() -> Path | None:
    package = Path(__file__).resolve().parents[2]
    for folder in (package / "palettes", package.parent / "palettes"):
        if any(folder.glob("*.toml")):
            return folder
    return None


def _known_name(text: str) -> str:
    wanted = re.sub(r"[\s_]+", "-", text.strip().lower())
    return next((name for name in list_palettes() if name == wanted), "")


def parse_palette(data: bytes, file: str) -> Palette:
    r"""Read a palette from the bytes of its file.

    `data`: TOML in UTF-8. `file`: file name for messages. Returns the palette, with
    notes on what is doubtful. Raises `PaletteError` if something is wrong; names the
    line and the nearest valid key.

    Examples
    --------
    >>> two = b'[[paint]]\nname="a"\ncolour="#fff"\n'
    >>> parse_palette(two, "two.toml").swatches[0].hex
    '#ffffff'
    """
    reader, table = load_tables(data, file)
    reader.known_keys(table, TOP_KEYS, -1)
    paints = table.get("paint", [])
    if not isinstance(paints, list) or not all(isinstance(p, dict) for p in paints):
        reader.fail("“paint” must be written [[paint]]", -1, "paint")
    if not paints:
        what = "the palette has no paint"
        raise PaletteError(what, where=file, mend="add at least two [[paint]] tables")
    if len(paints) > MOST_SWATCHES:
        what = f"the palette has {len(paints)} paints, more than {MOST_SWATCHES}"
        raise PaletteError(what, where=file, mend="take out the ones you do not have")
    swatches = build_swatches(reader, table, paints)
    if len(swatches) == 1:
        text = "the palette has one paint: every region gets the same colour"
        reader.doubt("one swatch", text, 0, "", "add a second paint")
    stem = fit_name(file.rpartition(".")[0] or file)
    return Palette(
        name=reader.text(table, "name", -1, LONGEST_NAME) or stem,
        swatches=swatches,
        note=reader.text(table, "note", -1, LONGEST_TEXT),
        source=reader.text(table, "source", -1, LONGEST_TEXT),
        file=file,
        digest=hashlib.sha256(data).hexdigest(),
        currency=reader.text(table, "currency", -1, 20),
        notes=tuple(reader.notes),
        prices=read_prices(reader, table),
    )


def build_swatches(
    reader: TableReader, table: dict[str, Any], paints: list[dict[str, Any]]
) -> tuple[Swatch, ...]:
    """Check the paints of a file and return them as swatches.

    In the order of the file. `table`: the whole file. `paints` (list of dict): its
    ``[[paint]]`` tables. Raises `PaletteError` at the first thing that is wrong.
    """
    swatches: list[Swatch] = []
    for place, paint in enumerate(paints):
        reader.known_keys(paint, PAINT_KEYS, place)
        for key in _COMMON_KEYS:
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


def _swatch(reader: TableReader, paint: dict[str, Any], place: int) -> Swatch:
    name = reader.text(paint, "name", place, LONGEST_NAME)
    if wrong := wrong_name(name):
        what, mend = wrong
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
        near = nearest(medium, MEDIA)
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
        lightfastness=reader.one_of(paint, "lightfastness", place, _LIGHTFASTNESS),
        role=reader.one_of(paint, "role", place, _ROLES),
        share=reader.share(paint, place),
        coverage=reader.number(paint, "coverage", place, 1000.0, _COVERAGE),
        coats=read_coats(reader, paint, place),
        price=read_price(reader, paint, place),
        leaf=read_leaf(reader, paint, place),
        drying=read_time(reader, paint, "drying", place, "h"),
        cure=read_time(reader, paint, "cure", place, "d"),
        cautions=reader.texts(paint, "cautions", place),
        source=reader.text(paint, "source", place, LONGEST_TEXT),
        note=reader.text(paint, "note", place, LONGEST_TEXT),
    )


def _colour(
    reader: TableReader, paint: dict[str, Any], place: int, name: str
) -> ParsedColour:
    if "colour" not in paint:
        mend = 'add colour = "#c9a227" or another CSS colour'
        reader.fail(f"{name} has no colour", place, "", mend)
    value = reader.text(paint, "colour", place, LONGEST_TEXT)
    try:
        colour = parse_colour(value)
    except PaletteError as error:
        where = f"{reader.file}, line {reader.lines.of(place, 'colour')}"
        what = f"{name}: {error.what}"
        raise PaletteError(what, where, error.mend) from error
    if colour.doubt:
        kind = "outside sRGB" if "outside" in colour.doubt else "transparent colour"
        text = f"{name}: {short(value)} {colour.doubt}; taken as {colour.hex}"
        reader.doubt(kind, text, place, "colour")
    return colour


def _pigments(
    reader: TableReader, paint: dict[str, Any], place: int, name: str
) -> tuple[str, ...]:
    found = []
    for text in reader.texts(paint, "pigments", place):
        generic = generic_name(text)
        if not generic:
            doubt = f"{name}: “{short(text)}” is no Colour Index generic name"
            remedy = "write it as PB29 or PBr7, if it has one"
            reader.doubt("unknown pigment", doubt, place, "pigments", remedy)
        elif generic.partition(":")[0] not in PIGMENTS:
            doubt = f"{name}: nothing is known here of {generic}, so no cautions either"
            remedy = "read its label and add what it says under cautions"
            reader.doubt("unknown pigment", doubt, place, "pigments", remedy)
        found.append(generic or text)
    return tuple(found)


def _check_names(reader: TableReader, swatches: list[Swatch]) -> None:
    if taken := find_namesake(swatches):
        place, key, what = taken
        reader.fail(what, place, key, f"give each paint a {key} of its own")
    colours: dict[str, int] = {}
    for place, swatch in enumerate(swatches):
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

    TOML that `parse_palette` reads back to the same swatches.
    """
    lines = [f"name = {quoted(palette.name)}"]
    lines += [
        f"{key} = {quoted(value)}"
        for key, value in (
            ("note", palette.note),
            ("source", palette.source),
            ("currency", palette.currency),
        )
        if value
    ]
    lines += price_lines(palette.prices)
    for place, swatch in enumerate(palette.swatches):
        lines += ["", "[[paint]]", f"name = {quoted(swatch.name)}"]
        lines.append(f'colour = "{swatch.hex}"')
        if swatch.code != str(place + 1):
            lines.append(f"code = {quoted(swatch.code)}")
        for key in ("medium", "pigments", "opacity", "lightfastness", "role"):
            lines += _entry(key, getattr(swatch, key))
        for key in ("share", "coverage", "coats"):
            lines += _entry(key, getattr(swatch, key))
        lines += workshop_lines(swatch)
        for key in ("cautions", "source", "note"):
            lines += _entry(key, getattr(swatch, key))
    return "\n".join(lines) + "\n"


def _entry(key: str, value: str | float | tuple[str, ...] | None) -> list[str]:
    if value is None or value in {"", ()}:
        return []
    if isinstance(value, tuple):
        return [f"{key} = [{', '.join(quoted(v) for v in value)}]"]
    return [f"{key} = {quoted(value) if isinstance(value, str) else repr(value)}"]
