"""Files taken into a plan: drawings, plans, fonts, palettes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fillwork.tomlfile import is_file, parse_toml, read_bytes, read_toml_file

if TYPE_CHECKING:
    from fillwork.colouring.palettes.model import Palette
    from fillwork.plans.model import Plan
    from fillwork.renderers.text.typeset import FontSet


def read_source(path: str | Path, *, allow_large: bool = False) -> bytes:
    """Return a file's bytes: a drawing, a picture or a font.

    Its content, or one byte more than any reader takes. `path`: the file, or ``-`` for
    standard input. Raises `ReadError` if it cannot be read.
    """
    from fillwork.readers.limits import limits_for

    return read_bytes(path, limits_for(allow_large).file_bytes)


def read_plan(path: str | Path) -> Plan:
    """Return the plan that a file holds, with what it names beside it taken in.

    Parameters
    ----------
    path : str or Path
        The plan file.

    Returns
    -------
    Plan
        All choices. A font that is not there is missed only by what needs it.

    Raises
    ------
    PlanError
        If the plan is wrong.
    PaletteError
        If the palette file that it names is wrong.
    RenderError
        If the font that it names is none.
    """
    from fillwork.plans.file import parse_plan

    path = Path(path)
    plan = parse_plan(read_toml_file(path), path.name)
    if plan.palette and not plan.palette_data:
        beside = path.parent / plan.palette
        if plan.palette.endswith(".toml") and is_file(beside):
            plan = take_palette(plan, beside)
    if plan.sheets.font and is_file(path.parent / plan.sheets.font):
        taken = take_font(plan, path.parent / plan.sheets.font)
        # the digest stays that of the plan, so that another font is noticed
        digest = plan.sheets.font_digest or taken.sheets.font_digest
        plan = replace(taken, sheets=replace(taken.sheets, font_digest=digest))
    return plan


def take_font(plan: Plan, path: str | Path) -> Plan:
    """Return the plan with a font of the user's own.

    `path`: the font's file; the plan keeps its name and digest. Raises `ReadError` if
    the file cannot be read. Raises `RenderError` if it is no font that can be used.
    """
    import hashlib

    from fillwork.renderers.text.own_font import own_fonts, plain_font

    name = Path(path).name
    data = read_source(path)
    plain_font(data, name)
    own_fonts(data, name)
    digest = hashlib.sha256(data).hexdigest()
    sheets = replace(plan.sheets, font=name, font_digest=digest)
    return replace(plan, sheets=sheets, font_data=data)


def plan_fonts(plan: Plan) -> FontSet:
    """Return the fonts of a plan: the bundled ones, and its own where at hand."""
    from fillwork.renderers.text.own_font import own_fonts

    return own_fonts(plan.font_data, plan.sheets.font)


def take_palette(plan: Plan, name_or_path: str | Path) -> Plan:
    """Return the plan with another palette.

    `name_or_path`: name of a shipped palette, or a palette file, which is taken into
    the plan whole so that the plan stands by itself. Raises `PaletteError` if the file
    is no palette.
    """
    import tomli_w

    from fillwork.colouring.palettes.file import parse_palette
    from fillwork.colouring.palettes.tables import fit_name

    text = str(name_or_path)
    path = Path(text)
    if not (text.endswith(".toml") or is_file(path)):
        return replace(plan, palette=text, palette_data="")
    data = read_toml_file(path)
    parse_palette(data, path.name)
    _, table = parse_toml(data, path.name)
    table.setdefault("name", fit_name(path.stem))
    return replace(plan, palette="", palette_data=tomli_w.dumps(table))


def load_palette(plan: Plan) -> Palette:
    """Return the palette of a plan. Raises `PaletteError` if it is unknown or wrong."""
    from fillwork.colouring.palettes.file import parse_palette, read_palette

    if plan.palette_data:
        palette = parse_palette(plan.palette_data.encode(), "palette of the plan")
        # its lines are those of no file that a user has
        notes = tuple(replace(note, source=None) for note in palette.notes)
        return replace(palette, notes=notes)
    return read_palette(plan.palette)
