"""What the options of a command choose, laid over a plan file."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.cli.laying import laying_from, size_of
from fillwork.errors import PlanError
from fillwork.values import option_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from _typeshed import DataclassInstance

    from fillwork.colouring.model import Pin
    from fillwork.plans.model import Plan


# options add to these, they do not take their place
_MENDS, _LOOKED_AT = ("close", "drop", "cut"), ("settled", "inked")


def folder_for(out: str | None, drawing: str, *, step: str = "") -> Path:
    """Return where the results of a drawing go.

    `out`: as given with ``--out``. `drawing`: the drawing's file, or ``-``. `step`: of
    a command that makes another drawing.
    """
    from fillwork.pipeline.output import default_folder

    return default_folder(drawing, step=step) if out is None else Path(out)


def plan_from(settings: dict[str, Any]) -> Plan:
    """Return the plan file's choices with those of the command line over them.

    `settings`: values of the options, None or () where one was not given. What belongs
    to the plan is taken out. Raises `PlanError` if the plan file or a value is wrong.
    """
    from fillwork.pipeline.taking import read_plan, take_font, take_palette
    from fillwork.plans.model import Plan

    file = settings.pop("plan_file", None)
    plan = _sized(Plan() if file is None else read_plan(file), settings)
    more = _more(plan, settings, _MENDS)
    plan = replace(plan, **_given(settings, plan), **more)
    scan = _more(plan.scan, settings, _LOOKED_AT) | _given(settings, plan.scan)
    bands = _given(settings, plan.bands)
    laid = laying_from(plan, settings) | _given(settings, plan.laying)
    plan = replace(
        plan,
        scan=replace(plan.scan, **scan),
        bands=replace(plan.bands, **bands),
        laying=replace(plan.laying, **laid),
    )
    stated = settings.pop("symmetry", ())
    if stated:
        plan = replace(plan, symmetry=_symmetry(stated))
    palette = settings.pop("palette", None)
    if palette is not None:
        plan = take_palette(plan, palette)
    plan = _with_rules(plan, settings)
    mends = bool(settings.get("patch"))
    plan = _with_paint(plan, settings)
    font = settings.pop("font", None)
    sheets = _given(settings, plan.sheets)
    if mends and "sheets" not in sheets:
        # what the plan had printed was for the whole piece
        sheets["sheets"] = ("repair", "steps")
    plan = replace(plan, sheets=replace(plan.sheets, **sheets))
    return plan if font is None else take_font(plan, font)


def _sized(plan: Plan, settings: dict[str, Any]) -> Plan:
    """Return the plan with the true size that was given, if one was."""
    sizes = [k for k in ("real_width", "scale", "real") if settings.get(k) is not None]
    if len(sizes) > 1:
        both = " and ".join("--" + k.replace("_", "-") for k in sizes)
        what = f"{both} each state the true size"
        raise PlanError(what, mend="keep one of them")
    width = settings.pop("real_width", None)
    if sizes:
        # the one that is given stands for whatever the plan's file states
        plan = replace(plan, real_width=None, scale=None, real=None)
    if width is not None:
        plan = replace(plan, real_of=width[0], real_width=width[1])
    return plan


def _more(
    old: object, settings: dict[str, Any], names: Sequence[str]
) -> dict[str, Any]:
    """Return what was given of some options after what stands under their names."""
    return {k: _added(getattr(old, k), settings.pop(k, ())) for k in names}


def _given(settings: dict[str, Any], choices: DataclassInstance) -> dict[str, Any]:
    """Take the options that were given for fields of the plan or of a part of it.

    Those that stand for several fields, or that need more than to be taken, must have
    been taken before.
    """
    values = {
        one.name: settings.pop(option_of(one)[2:].replace("-", "_"), None)
        for one in fields(choices)
        if one.metadata
    }
    return {name: v for name, v in values.items() if v is not None and v != ()}


def _added(old: tuple[Any, ...], new: tuple[Any, ...]) -> tuple[Any, ...]:
    return (*old, *(v for v in new if v not in old))


def _symmetry(stated: tuple[str, ...]) -> tuple[tuple[int, str], ...]:
    found = []
    for text in stated:
        zone, equals, name = text.partition("=")
        if not equals:
            zone, name = "0", text
        if not re.fullmatch(r"\s*[0-9]{1,6}\s*", zone) or not name.strip():
            what = f"--symmetry “{text}” is no group"
            mend = "write a group such as plane:p4m, or for one zone 2=frieze:p2mg"
            raise PlanError(what, mend=mend)
        found.append((int(zone), name.strip()))
    return tuple(z for z in found if z != (0, "auto"))


def _with_rules(plan: Plan, settings: dict[str, Any]) -> Plan:
    from fillwork.units import parse_length, parse_share

    rules = plan.rules
    changes: dict[str, Any] = {}
    outline = settings.pop("outline", None)
    if outline is not None:
        swatch, colon, width = outline.rpartition(":")
        if not colon:
            swatch = outline
        changes["outline"] = swatch.strip()
        if colon:
            changes["outline_width"] = parse_length(width, what="--outline")
    new = _pins(settings)
    before = tuple(p for p in rules.pins if not _same_place(p, new))
    if settings.pop("as_made", None):
        from fillwork.colouring.model import Pin

        # a pin by its point names a kind too: what it gives is in the list
        before = tuple(p for p in before if p.scope != "kind")
        chosen = {p.where for p in new}
        before += tuple(
            Pin(letter, swatch)
            for letter, swatch in plan.made.swatches
            if letter not in chosen
        )
    changes["pins"] = (*before, *new)
    ties = tuple(tuple(_split_places(text)) for text in settings.pop("tie", ()) or ())
    for tie in ties:
        if len(tie) < 2:
            what = f"--tie “{','.join(tie)}” names one place"
            raise PlanError(what, mend="write two or more, such as --tie A,B")
    changes["ties"] = _added(rules.ties, ties)
    changes["bans"] = _added(rules.bans, settings.pop("ban", ()) or ())
    shares = dict(rules.shares)
    for swatch, share in settings.pop("share", ()) or ():
        shares[swatch] = parse_share(share, what="--share")
    changes["shares"] = tuple(shares.items())
    choices = dict(rules.choices)
    for text in settings.pop("choice", ()) or ():
        letter, _, number = text.rpartition("=")
        if not re.fullmatch(r"\s*0*[1-9][0-9]{0,8}\s*", number):
            what = f"--choice “{text}” is no number"
            raise PlanError(what, mend="write --choice 2, or --choice A=2")
        choices[letter.strip()] = int(number)
    changes["choices"] = tuple(choices.items())
    changes |= _given(settings, rules)
    return replace(plan, rules=replace(rules, **changes))


def _split_places(text: str) -> list[str]:
    """Split at commas, but keep the comma inside a point ``@x,y``."""
    found: list[str] = []
    for part in text.split(","):
        last = found[-1] if found else ""
        if last.startswith("@") and "," not in last:
            found[-1] = f"{last},{part.strip()}"
        elif part.strip():
            found.append(part.strip())
    return found


def _pins(settings: dict[str, Any]) -> tuple[Pin, ...]:
    from fillwork.colouring.model import SCOPES, Pin

    return tuple(
        Pin(where, swatch, scope)
        for scope in SCOPES
        for where, swatch in settings.pop(f"pins_{scope}", ()) or ()
    )


def _same_place(pin: Pin, others: tuple[Pin, ...]) -> bool:
    return any((p.where, p.scope) == (pin.where, pin.scope) for p in others)


def _with_paint(plan: Plan, settings: dict[str, Any]) -> Plan:
    changes = _coats(settings.pop("coats", ()) or (), plan.paint.coats_of)
    pace = settings.pop("pace", None)
    if pace is not None:
        match = re.fullmatch(r"\s*([0-9.]+)\s*,\s*([0-9.]+)\s*", pace)
        try:
            changes["pace"] = (float(match[1]), float(match[2])) if match else ()
        except ValueError:
            changes["pace"] = ()
        if not changes["pace"] or not all(1e-3 <= v <= 1e4 for v in changes["pace"]):
            what = f"--pace “{pace}” is no pace"
            mend = "write m² and m of edge an hour, such as 0.5,8"
            raise PlanError(what, mend=mend)
    panel = settings.pop("panel", None)
    if panel is not None:
        changes["panel"] = size_of(panel, "--panel")
    on_hand = settings.pop("on_hand", None)
    if on_hand is not None:
        plan = replace(plan, on_hand_data=_normal_toml(on_hand))
    changes |= _given(settings, plan.paint)
    return replace(plan, paint=replace(plan.paint, **changes))


def _coats(
    given: tuple[str, ...], before: tuple[tuple[str, int], ...]
) -> dict[str, Any]:
    """Return coats of all paints and of single ones, as the plan keeps them."""
    found: dict[str, Any] = {}
    single = dict(before)
    for text in given:
        name, equals, number = text.rpartition("=")
        known = re.fullmatch(r"\s*0*([1-9]|[1-4][0-9]|50)\s*", number)
        if known is None or (equals and not name.strip()):
            what = f"--coats “{text}” is no number of coats"
            mend = "write --coats 2, or for one paint --coats gold=1; 1 to 50"
            raise PlanError(what, mend=mend)
        if equals:
            single[name.strip()] = int(known[1])
        else:
            found["coats"] = int(known[1])
    return found | ({"coats_of": tuple(single.items())} if single else {})


def _normal_toml(path: str) -> str:
    import tomli_w

    from fillwork.tomlfile import parse_toml, read_toml_file

    name = Path(path).name
    return tomli_w.dumps(parse_toml(read_toml_file(path), name, kind="TOML file")[1])


def read_drawing(drawing: str, allow_large: bool) -> tuple[bytes, str]:
    """Return the content and the shown name of a drawing.

    `drawing`: a file, or ``-`` for standard input. Returns `data`: the content, cut one
    byte beyond the limit; `name`: file name without folder, ``standard input`` for
    ``-``. Raises `ReadError` if it cannot be read.
    """
    from fillwork.pipeline.taking import read_source

    name = "standard input" if drawing == "-" else Path(drawing).name
    return read_source(drawing, allow_large=allow_large), name
