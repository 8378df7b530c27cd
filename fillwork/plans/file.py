"""The plan file: all choices for one drawing, in TOML, to be edited by hand.

The file holds choices and nothing derived. What equals the default is left out,
so that a plan stays short and gains from better defaults. An unknown key is an
error that names the nearest known one. `SCHEMA` is the newest form; older ones
are upgraded in memory by the functions in `_UPGRADES`, newer ones are refused.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import fields
from math import isfinite
from typing import TYPE_CHECKING, Any, NoReturn

from fillwork.colouring.model import SCOPES, Pin, Rules
from fillwork.errors import PlanError
from fillwork.plans.checks import KINDS
from fillwork.plans.model import (
    BandSettings,
    LayingSettings,
    Made,
    PaintSettings,
    Plan,
    ScanSettings,
    SheetSettings,
    UsedPaint,
)
from fillwork.tomlfile import find_line, parse_toml
from fillwork.values import check_kind

if TYPE_CHECKING:
    from collections.abc import Callable


SCHEMA = 1

_UPGRADES: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}
"""From each older schema to the next; none has been needed yet."""

_SETTINGS: dict[str, type[Any]] = {
    "laying": LayingSettings,
    "scan": ScanSettings,
    "bands": BandSettings,
    "paint": PaintSettings,
    "sheets": SheetSettings,
}
"""Sections that are a field of the plan each, with the class of the field."""
_TOP = (
    "schema", "drawing", "scan", "lines", "laying", "bands", "symmetry", "names",
    "palette", "colouring", "paint", "sheets", "picture", "made", "used",
)  # fmt: skip
_USED = ("swatch", "batch", "mix", "date", "words")
_COLOURS_FIRST = (
    "goal_difference", "seed", "taste", "most", "corners", "ground", "bare", "outline",
    "outline_width_mm", "counterchange",
)  # fmt: skip
"""Keys of the colouring that stand before lists and tables in the file."""


def keys_of(settings: type[Any], section: str = "") -> dict[str, tuple[str, Any]]:
    """Return the keys of a section in order, each with its field and kind of value.

    `section`: of those that fields of the plan itself stand in.
    """
    found = {}
    for one in fields(settings):
        if one.metadata:
            own, _, key = one.metadata["key"].rpartition(".")
            if own == section:
                found[key or one.name] = (one.name, one.metadata["kind"])
    if settings is Rules:
        return {key: found[key] for key in (*_COLOURS_FIRST, *found)}
    return found


def parse_plan(data: bytes, file: str = "plan.toml") -> Plan:
    """Return the plan that a file holds.

    Parameters
    ----------
    data : bytes
        The file's content, TOML in UTF-8.
    file : str
        Its name, for messages.

    Returns
    -------
    Plan
        All choices; defaults for what the file leaves out.

    Raises
    ------
    PlanError
        If it is no TOML, has an unknown key, a wrong value or a newer schema.
    """
    check_kind(data, bytes, "data")
    mend = "mend that line, or leave --plan out"
    text, table = parse_toml(data, file, kind="plan file", mend=mend)
    return _Reader(file, text).plan(table)


def check_values(plan: Plan) -> None:
    """Raise for a value that no plan file could hold, such as a length below 0.

    Raises `PlanError` if a value is wrong.
    """
    try:
        text = plan_to_toml(plan)
    except (TypeError, ValueError, AttributeError) as error:
        what = f"the plan has a value of a sort that it cannot hold: {error}"
        raise PlanError(what) from error
    try:
        parse_plan(text.encode())
    except PlanError as error:
        # it has no file, so it has no lines
        raise PlanError(error.what, mend=error.mend) from error


class _Reader:
    """Turn one parsed table into a plan; every error names the line."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.text = text
        self.nth = 1  # of the tables of one name, the one that is read

    def fail(self, key: str, what: str, mend: str = "") -> NoReturn:
        number = find_line(self.text, key, self.nth)
        where = f"{self.file}, line {number}" if number else self.file
        text = f"{key}: {what}"
        raise PlanError(text, where, mend)

    def known(self, table: object, keys: tuple[str, ...], name: str) -> dict[str, Any]:
        if not isinstance(table, dict):
            self.fail(name, "must be a table", f"write [{name}] and keys below")
        for key in table:
            if key not in keys:
                near = difflib.get_close_matches(key, keys, 1, 0.0)
                full = f"{name}.{key}" if name else key
                mend = f"did you mean “{near[0]}”? known: " + ", ".join(keys)
                self.fail(full, "unknown key", mend)
        return table

    def values(self, table: object, names: dict[str, Any], name: str) -> dict[str, Any]:
        found = {}
        for key, value in self.known(table, tuple(names), name).items():
            field_name, check = names[key]
            found[field_name] = self.value(f"{name}.{key}", value, check)
        return found

    def value(self, key: str, value: Any, check: str | tuple[str, ...]) -> Any:
        if isinstance(check, tuple):
            if value not in check:
                known = ", ".join(one or "an empty text" for one in check)
                self.fail(key, f"“{value}” is none of {known}")
            return value
        read, wanted = KINDS[check]
        result = read(value)
        if result is None:
            form = wanted.partition(", such as ")[2]
            mend = f"write it as in {form}" if form else "change it, or leave it out"
            self.fail(key, f"{value!r} is not {wanted.partition(', such')[0]}", mend)
        return result

    def plan(self, table: dict[str, Any]) -> Plan:
        schema = table.get("schema", SCHEMA)
        if not isinstance(schema, int) or isinstance(schema, bool) or schema < 1:
            self.fail("schema", f"{schema!r} is not a whole number")
        if schema > SCHEMA:
            what = f"this plan has schema {schema}; this fillwork knows up to {SCHEMA}"
            self.fail("schema", what, "use a newer fillwork")
        for step in range(schema, SCHEMA):
            table = _UPGRADES[step](table)
        self.known(table, _TOP, "")
        found: dict[str, Any] = {}
        for name in ("drawing", "lines", "picture"):
            found |= self.values(table.get(name, {}), keys_of(Plan, name), name)
        found |= self.symmetry(table.get("symmetry", {}))
        names = self.names(table.get("names", {}), "names", "name")
        found["names"] = tuple((letter, name.strip()) for letter, name in names)
        found |= self.palette(table.get("palette", {}))
        found["rules"] = self.rules(table.get("colouring", {}))
        keys = (*keys_of(PaintSettings), "on_hand")
        paint = dict(self.known(table.get("paint", {}), keys, "paint"))
        on_hand = paint.pop("on_hand", {})
        if not isinstance(on_hand, dict):
            self.fail("paint.on_hand", "must be a table of paints")
        if on_hand:
            found["on_hand_data"] = _dumps(on_hand)
        for name, settings in _SETTINGS.items():
            own = paint if name == "paint" else table.get(name, {})
            found[name] = settings(**self.values(own, keys_of(settings), name))
        found["made"] = self.made(table.get("made", {}))
        found["used"] = self.used(table.get("used", []))
        return Plan(**found)

    def names(self, table: object, key: str, what: str) -> tuple[tuple[str, str], ...]:
        if not isinstance(table, dict) or not all(
            isinstance(v, str) and v.strip() for v in table.values()
        ):
            self.fail(key, f"must be a table of letter = {what}")
        return tuple(table.items())

    def made(self, table: object) -> Made:
        known = self.known(table, ("fillwork", "swatches"), "made")
        swatches = self.names(known.get("swatches", {}), "made.swatches", "swatch")
        version = known.get("fillwork", "")
        if not isinstance(version, str):
            self.fail("made.fillwork", f"{version!r} is not a text")
        return Made(version, swatches)

    def used(self, tables: object) -> tuple[UsedPaint, ...]:
        if not isinstance(tables, list):
            self.fail("used", "must be written as [[used]]")
        found = []
        for self.nth, table in enumerate(tables, 1):
            known = self.known(table, _USED, "used")
            if "swatch" not in known:
                self.fail("used", "needs a swatch", 'write swatch = "its name"')
            # TOML has dates of its own; they are kept as they are written
            texts = {k: str(v) for k, v in known.items() if not isinstance(v, bool)}
            if any(isinstance(v, bool | list | dict) for v in known.values()):
                self.fail("used", "each key is a text", 'such as batch = "17 B"')
            found.append(UsedPaint(**texts))
        self.nth = 1
        return tuple(found)

    def symmetry(self, table: object) -> dict[str, Any]:
        keys = keys_of(Plan, "symmetry")
        known = dict(self.known(table, ("group", *keys, "zones"), "symmetry"))
        group, zones = known.pop("group", None), known.pop("zones", {})
        stated: list[tuple[int, str]] = []
        if group is not None:
            stated.append((0, self.value("symmetry.group", group, "text")))
        if not isinstance(zones, dict):
            self.fail("symmetry.zones", "must be a table of zone = group")
        for zone, group in zones.items():
            if not re.fullmatch(r"0*[1-9][0-9]{0,5}", zone):
                self.fail(f"symmetry.zones.{zone}", "a zone is a number from 1")
            name = self.value(f"symmetry.zones.{zone}", group, "text")
            stated.append((int(zone), name))
        return self.values(known, keys, "symmetry") | {"symmetry": tuple(stated)}

    def palette(self, table: object) -> dict[str, Any]:
        if isinstance(table, str):
            return {"palette": table}
        if isinstance(table, dict) and "paint" in table:
            return {"palette": "", "palette_data": _dumps(table)}
        known = self.known(table, ("file", "name"), "palette")
        for key in ("file", "name"):
            if key in known:
                return {"palette": self.value(f"palette.{key}", known[key], "text")}
        return {}

    def rules(self, table: object) -> Rules:
        keys = keys_of(Rules)
        known = dict(self.known(table, (*keys, "pin"), "colouring"))
        pins = known.pop("pin", [])
        if not isinstance(pins, list):
            what = "must be written as [[colouring.pin]]"
            self.fail("colouring.pin", what)
        found = self.values(known, keys, "colouring")
        found["pins"] = tuple(self.pin(p, nth) for nth, p in enumerate(pins, 1))
        self.nth = 1
        return Rules(**found)

    def pin(self, table: object, nth: int) -> Pin:
        self.nth = nth
        name = "colouring.pin"
        known = self.known(table, ("at", "where", "swatch", "scope"), name)
        if ("at" in known) == ("where" in known):
            self.fail(name, "needs either at = [x, y] or where = a name")
        if "swatch" not in known:
            self.fail(name, "needs a swatch")
        if "at" in known:
            (point,) = self.value(f"{name}.at", [known["at"]], "points")
            where = f"@{point[0]!r},{point[1]!r}"
        else:
            where = self.value(f"{name}.where", known["where"], "text")
        return Pin(
            where=where,
            swatch=self.value(f"{name}.swatch", known["swatch"], "text"),
            scope=self.value(f"{name}.scope", known.get("scope", "kind"), SCOPES),
        )


def _plain(value: Any) -> Any:
    """Return tuples as lists, for the TOML writer."""
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    return value


def _dumps(table: dict[str, Any]) -> str:
    import tomli_w

    return tomli_w.dumps(table)


def _loads(text: str) -> dict[str, Any]:
    return parse_toml(text.encode(), "plan")[1]


def _section(value: object, names: dict[str, Any], default: object) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, (field_name, check) in names.items():
        one = getattr(value, field_name)
        if one is None or one == getattr(default, field_name):
            continue
        if check in ("shares", "coats"):
            found[key] = dict(one)
        elif check == "choices":
            # beside kinds that are named, a number for all counts for nothing
            found[key] = {k: number for k, number in one if k.strip()} or one[0][1]
        else:
            found[key] = _plain(one)
    return found


def _pin_table(pin: Pin) -> dict[str, Any]:
    table: dict[str, Any] = {}
    try:
        point = [float(v) for v in pin.where.removeprefix("@").split(",")]
    except ValueError:  # with units, or none: what looks for the place says so
        point = []
    if pin.where.startswith("@") and len(point) == 2 and all(map(isfinite, point)):
        table["at"] = point
    else:
        table["where"] = pin.where
    table["swatch"] = pin.swatch
    if pin.scope != "kind":
        table["scope"] = pin.scope
    return table


def laying_section(laying: LayingSettings) -> dict[str, Any]:
    """Return how a cell is laid under the keys of the plan file; changed ones alone."""
    return _section(laying, keys_of(LayingSettings), LayingSettings())


def plan_to_toml(plan: Plan) -> str:
    """Return the plan as the text of a plan file.

    Parameters
    ----------
    plan : Plan
        All choices.

    Returns
    -------
    str
        TOML that `parse_plan` reads back to an equal plan.
    """
    check_kind(plan, Plan, "plan")
    default = Plan()
    table: dict[str, Any] = {"schema": SCHEMA}
    for name in ("drawing", "lines"):
        table[name] = _section(plan, keys_of(Plan, name), default)
    if plan.real_width is None:
        table["drawing"].pop("real_width_of", None)
    settings = {
        name: _section(getattr(plan, name), keys_of(kind), getattr(default, name))
        for name, kind in _SETTINGS.items()
    }
    if plan.on_hand_data:
        settings["paint"]["on_hand"] = _loads(plan.on_hand_data)
    for name in ("laying", "scan", "bands"):
        table[name] = settings[name]
    stated = {str(zone): group for zone, group in plan.symmetry}
    group = stated.pop("0", None)
    table["symmetry"] = {} if group is None else {"group": group}
    table["symmetry"] |= _section(plan, keys_of(Plan, "symmetry"), default)
    table["symmetry"] |= {"zones": stated} if stated else {}
    table["names"] = dict(plan.names)
    table["palette"] = {"name": plan.palette}
    if plan.palette_data:
        table["palette"] = _loads(plan.palette_data)
    colouring = _section(plan.rules, keys_of(Rules), default.rules)
    colouring.setdefault("goal_difference", plan.rules.goal_difference)
    colouring.setdefault("seed", plan.rules.seed)
    if plan.rules.pins:
        colouring["pin"] = [_pin_table(p) for p in plan.rules.pins]
    table["colouring"] = colouring
    table["paint"], table["sheets"] = settings["paint"], settings["sheets"]
    table["picture"] = _section(plan, keys_of(Plan, "picture"), default)
    made = {"fillwork": plan.made.version, "swatches": dict(plan.made.swatches)}
    table["made"] = {key: value for key, value in made.items() if value}
    table["used"] = [
        {k: getattr(one, k) for k in _USED if getattr(one, k)} for one in plan.used
    ]
    kept = {k: v for k, v in table.items() if v not in ({}, [])}
    return (
        "# All choices for one drawing. Points are mm from the page's lower left\n"
        "# corner, y up. What is left out has its default. [made] is what came of it;\n"
        "# what was really used may stand at the end and is kept: [[used]] with\n"
        "# swatch, batch, mix, date and words.\n" + _dumps(kept)
    )
