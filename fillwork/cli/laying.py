"""How a cell is laid, from the options that say so."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.errors import FillworkError, PlanError
from fillwork.tomlfile import is_file

if TYPE_CHECKING:
    from fillwork.plans.model import Plan


def laying_from(plan: Plan, settings: dict[str, Any]) -> dict[str, Any]:
    """Return what options that stand for several fields say of how a cell is laid.

    `plan`: the choices so far. `settings`: values of options; those of the panel, the
    place, the border and its corner are taken out. Raises `PlanError` if a value is
    wrong.
    """
    changes: dict[str, Any] = {}
    over, place = settings.pop("over", None), settings.pop("place", None)
    corner, border = settings.pop("corner_piece", None), settings.pop("border", None)
    if over is not None:
        if not is_file(Path(over)) and (over.count(",") == 1 or _is_length(over)):
            changes |= {"over": size_of(over, "--over"), "outline": ""}
        else:
            from fillwork.pipeline.laying_inputs import outline_from

            changes["outline"] = outline_from(_data(over), Path(over).name)
    if border is not None:
        changes |= _border(border, settings.get("cell") or plan.laying.cell, plan)
    if corner is not None:
        changes |= _corner_piece(corner)
    if place is not None:
        changes |= _place(place)
    return changes


def _is_length(text: str) -> bool:
    """Return whether a text is a length, or several: no name of a file."""
    from fillwork.units import parse_length

    with suppress(PlanError):
        return all(parse_length(part) >= 0 for part in text.split(","))
    return False


def _data(file: str) -> bytes:
    from fillwork.pipeline.taking import read_source

    return read_source(file)


def _corner_piece(corner: str) -> dict[str, Any]:
    if corner == "mitre":
        return {"corner": "", "corner_size": None}
    from fillwork.pipeline.laying_inputs import corner_from

    text, size = corner_from(_data(corner), Path(corner).name)
    return {"corner": text, "corner_size": size}


def _border(border: str, cell: tuple[str, ...], plan: Plan) -> dict[str, Any]:
    """Return a border as the plan keeps it: a strip, a width, or what is left."""
    from fillwork.units import parse_length

    changes: dict[str, Any] = {"border": "", "border_cell": "", "border_width": None}
    changes |= {"lines_outside": (), "lines_inside": ()}
    if border in ("no", "rest"):
        return changes | {"border": border if border == "rest" else ""}
    if not is_file(Path(border)):
        try:
            width = parse_length(border, what="--border")
        except FillworkError:
            width = 0.0
        if width <= 0:
            what = f"--border “{border}” is no file and no width"
            mend = "give a strip's drawing, a width such as 40mm, rest, or no"
            raise PlanError(what, mend=mend)
        return changes | {"border_width": width}
    from fillwork.pipeline.laying_inputs import border_from
    from fillwork.pipeline.scanning import picture_choices

    picture = picture_choices(plan)
    name = Path(border).name
    return changes | border_from(_data(border), name, cell, picture=picture)


def _coordinate(text: str) -> float:
    """Return a length that may lie left of the panel or below it."""
    from fillwork.units import parse_length

    part = text.strip()
    size = parse_length(part.removeprefix("-"), what="--place")
    return -size if part.startswith("-") else size


def _place(place: str) -> dict[str, Any]:
    number = place.strip()
    if number.isdigit() and int(number) > 0:
        return {"place": int(number), "place_at": None}
    turn, _, at = number.rpartition("@")
    parts = at.split(",")
    try:
        x, y = (_coordinate(part) for part in parts)
        base = int(turn) if turn else None
    except (FillworkError, ValueError):
        what = f"--place “{place}” is no place"
        mend = "give a number of places.png, x,y in mm on the panel, or both as 3@x,y"
        raise PlanError(what, mend=mend) from None
    return {"place": base, "place_at": (x, y)}


def size_of(text: str, option: str) -> tuple[float, float]:
    """Return a width and a height, mm. `option`: where they were given."""
    from fillwork.units import parse_length

    parts = text.split(",")
    if len(parts) != 2:
        what = f"{option} “{text}” is no size"
        raise PlanError(what, mend="write width and height, such as 900,1200")
    width, height = (parse_length(p, what=option) for p in parts)
    if min(width, height) <= 0:
        what = f"{option} “{text}” has no area"
        raise PlanError(what, mend="give a width and a height above 0")
    return width, height
