"""What a person wishes on the page, and the moments that follow from it.

A wish is a name and plain values, so that it can be written down before it is
answered and fulfilled after a new start.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from fillwork.colouring.model import Pin
from fillwork.errors import FillworkError
from fillwork.pipeline import moments as work
from fillwork.pipeline.moments import KeptDrawing, Moment, kept_paints
from fillwork.pipeline.taking import load_palette
from fillwork.plans.file import parse_plan

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fillwork.pipeline.painting import Coloured
    from fillwork.pipeline.progress import Progress
    from fillwork.plans.model import Plan


BYTES = "surrogateescape"
"""How bytes that are no text are written down as text."""

REPAIRS = {"close": "close a gap", "drop": "leave a line out", "cut": "cut an overhang"}
"""Fields of the plan that hold places, and what is said of them."""


@dataclass(frozen=True, slots=True)
class Wish:
    """Hold one wish."""

    number: int  # its place in the order of all wishes of its sheet, from 1
    act: str  # what is to be done
    given: dict[str, Any]  # with what, as plain values
    tries: int = 0  # how often the page ended while it was being fulfilled

    def joins(self, other: Wish) -> bool:
        """Tell whether a wish is fulfilled together with the one before.

        Touches are, and changes of the same settings, of which the last counts.
        """
        if self.act != other.act:
            return False
        if self.act != "change":
            return self.act == "paint"
        mine, before = ((w.given, _keys(w.given["settings"])) for w in (self, other))
        plain = not mine[0]["renamed"] and not before[0]["renamed"]
        return plain and mine[1] == before[1]


def _keys(table: dict[str, Any], before: str = "", depth: int = 3) -> set[str]:
    """Return the paths of the settings named; a plan's tables are no deeper."""
    found = set()
    for key, value in table.items():
        path = f"{before}.{key}"
        inner = isinstance(value, dict) and depth
        found |= _keys(value, path, depth - 1) if inner else {path}
    return found


@dataclass(frozen=True, slots=True)
class Standing:
    """Hold what stands when a wish is fulfilled."""

    drawing: KeptDrawing  # the drawing
    moment: Moment  # the state of the work
    coloured: Coloured | None  # its colours, if there are any
    tell: Progress  # told of each stage

    @property
    def colours(self) -> Coloured:
        """Return the colours, or say that there are none."""
        if self.coloured is None:
            raise no_colours(self.drawing.name)
        return self.coloured


def no_colours(name: str) -> FillworkError:
    """Return what is said where a drawing has no colours."""
    what = "there is no closed region to colour yet"
    mend = "close the gaps that the drawing shows, or choose another drawing"
    return FillworkError(what, name, mend)


def fulfil(run: Sequence[Wish], at: Standing) -> list[Moment]:
    """Return the moments that follow from wishes that join.

    In order; the last is to stand. `run`: at least one. Raises `FillworkError` if a
    wish cannot be met.
    """
    if run[0].act != "paint":
        return [_ACTS[run[-1].act](run[-1].given, at)]
    found = [at.moment]
    for wish in run:
        pin = Pin.from_row(wish.given["pin"])
        label = wish.given["label"]
        found.append(work.painted(at.colours, found[-1], pin, label))
    return found[1:]


def _release(given: dict[str, Any], at: Standing) -> Moment:
    """Let one of the person's pins go; its colour stays as it stands."""
    from fillwork.colouring.search.colourways import pins_of

    shown, plan = at.colours, at.moment.plan
    own = (_place(given["where"]), given["scope"])
    pins = [pin for pin in plan.rules.pins if (_place(pin.where), pin.scope) != own]
    if len(pins) == len(plan.rules.pins):
        what = "what you want to let go is no longer set"
        raise FillworkError(what, mend="load the page again")
    survey = shown.survey
    standing = pins_of(survey.arrangement, survey.orbits, shown.colouring)
    return Moment(_with_pins(plan, pins), standing, "let a paint go")


def _place(where: str) -> str | tuple[float, ...]:
    """Return a place that is the same however the numbers of a point are written."""
    try:
        return tuple(round(float(v), 3) for v in where.removeprefix("@").split(","))
    except ValueError:
        return where  # a letter, or a name


def _solve(_: dict[str, Any], at: Standing) -> Moment:
    """Choose all colours again around the person's pins."""
    return Moment(at.moment.plan, None, "choose the rest again")


def _change(given: dict[str, Any], at: Standing) -> Moment:
    """Set some choices of the plan otherwise."""
    moment, settings = at.moment, given["settings"]
    plan = work.rename_swatches(moment.plan, given["renamed"])
    plan = work.changed_plan(plan, settings)
    if "palette" in settings:
        plan = work.fit_wishes(plan, load_palette(plan), load_palette(moment.plan))
    label = given["label"]
    if plan.laying != moment.plan.laying and (plan.close or plan.drop or plan.cut):
        # their points lie on the drawing as it was laid before
        plan = replace(plan, close=(), drop=(), cut=())
        label = f"{label}; repairs made before it are left out"
    keep = work.same_colours(_with_pins(moment.plan), _with_pins(plan))
    return Moment(plan, moment.standing if keep else None, label)


def _repair(given: dict[str, Any], at: Standing) -> Moment:
    """Close gaps, leave lines out or cut their overhang; the paints stay."""
    kind, plan = given["kind"], at.moment.plan
    places = map(tuple, given["places"])
    mended: dict[str, Any] = {kind: (*getattr(plan, kind), *places)}
    plan = replace(plan, **mended)
    survey = at.drawing.survey(plan, at.tell)
    standing = kept_paints(at.coloured, survey) if at.coloured else None
    return Moment(plan, standing, REPAIRS[kind])


def _open_plan(given: dict[str, Any], _: Standing) -> Moment:
    """Take up a plan file."""
    plan = parse_plan(given["plan"].encode(errors=BYTES), given["name"])
    return Moment(plan, None, "open a plan")


def _on_hand(given: dict[str, Any], at: Standing) -> Moment:
    """Take up a file of the paints on hand; colours stay."""
    import tomli_w

    from fillwork.plans.mixing import parse_paints
    from fillwork.tomlfile import parse_toml

    data, name = given["paints"].encode(errors=BYTES), given["name"]
    parse_paints(data, name)  # says what is wrong with it, before it stands
    text = tomli_w.dumps(parse_toml(data, name, kind="TOML file")[1])
    plan = replace(at.moment.plan, on_hand_data=text)
    return Moment(plan, at.moment.standing, "paints on hand")


def _take(given: dict[str, Any], at: Standing) -> Moment:
    """Take up the palette and the colours of a suggestion."""
    own = parse_plan(given["plan"].encode(), "a suggestion")
    known = load_palette(at.moment.plan)
    plan = replace(at.moment.plan, palette=own.palette, palette_data=own.palette_data)
    plan = work.fit_wishes(plan, load_palette(own), known)
    return Moment(plan, own.rules.pins, given["label"])


def _with_pins(plan: Plan, pins: Sequence[Pin] = ()) -> Plan:
    return replace(plan, rules=replace(plan.rules, pins=tuple(pins)))


_ACTS: dict[str, Callable[[dict[str, Any], Standing], Moment]] = {
    "release": _release,
    "solve": _solve,
    "change": _change,
    "repair": _repair,
    "open-plan": _open_plan,
    "on-hand": _on_hand,
    "take": _take,
}
