"""Work on one drawing step by step: what stands, what is pinned, what is redone.

The command line runs all stages once. Somebody who tries colours changes one
choice after the other, so a *kept drawing* has its survey as long as no choice that
it rests on changes. A *moment* is one state of the work: the plan with the pins
that the person set, and the colours that merely *stand* until the rest is solved
again. Nothing here knows the page or a server.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from fillwork.errors import PlanError
from fillwork.pipeline.checks import SIZED, check_plan, rests_on
from fillwork.pipeline.painting import colour_survey
from fillwork.pipeline.progress import quiet
from fillwork.pipeline.surveying import make_survey, rename_kinds
from fillwork.tomlfile import parse_toml

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from fillwork.arrays import Ints32
    from fillwork.colouring.model import Pin, Rules
    from fillwork.colouring.palettes.model import Palette, Swatch
    from fillwork.linework import LineWork
    from fillwork.pipeline.painting import Coloured
    from fillwork.pipeline.progress import Progress
    from fillwork.pipeline.surveying import Survey
    from fillwork.plans.model import PaintSettings, Plan

    _Renaming = Callable[[str], str | None]
    _Choices = TypeVar("_Choices", Rules, PaintSettings)


@dataclass(frozen=True, slots=True)
class Moment:
    """Hold one state of the work."""

    plan: Plan  # all choices; its pins are those that the person set
    # pins that keep the colours of all other regions as they stand; None when they
    # follow from the plan
    standing: tuple[Pin, ...] | None = None
    label: str = ""  # what was done, for undo


class KeptDrawing:
    """Keep a drawing's survey and colours while choices change.

    `source`: the drawing's content. `name`: its file name, without folder.
    `allow_large`: raise the size limits. `drawn`: called with the lines whenever they
    are read, before any search.
    """

    def __init__(
        self,
        source: bytes,
        name: str,
        *,
        allow_large: bool = False,
        drawn: Callable[[LineWork], None] | None = None,
    ) -> None:
        self.source = source
        self.name = name
        self.allow_large = allow_large
        self._drawn = drawn
        self._base: Survey | None = None

    def survey(self, plan: Plan, progress: Progress = quiet) -> Survey:
        """Return the survey of the drawing, from before where it still holds.

        `progress`: called with the name of each stage as it begins; may raise to stop.
        Raises `FillworkError` if the drawing cannot be read or worked, or a setting is
        wrong.
        """
        base = self._base
        if base is None or not _same(base.plan, plan, *_stale_by(base)):
            base = make_survey(
                self.source,
                replace(plan, names=()),
                name=self.name,
                allow_large=self.allow_large,
                progress=progress,
                drawn=self._drawn,
            )
            self._base = base
        check_plan(plan)
        return replace(base, orbits=rename_kinds(base.orbits, plan), plan=plan)

    def colour(
        self, moment: Moment, progress: Progress = quiet
    ) -> tuple[Survey, Coloured | None]:
        """Return survey and colouring of a moment.

        Returns `survey`: what was found; `coloured`: None when the drawing closes no
        region. Raises `FillworkError` if something cannot be done.
        """
        survey = self.survey(moment.plan, progress)
        if survey.arrangement.face_count < 2:
            return survey, None
        plan = _whole_plan(survey, moment)
        return survey, colour_survey(survey, plan, progress=progress)


def _stale_by(base: Survey) -> tuple[str, ...]:
    """Return the choices by which a survey holds no longer; its notes count too."""
    asked = any(note.type == "bands in doubt" for note in base.notes)
    return (*rests_on(base.plan), "drawing", "digest", *(SIZED if asked else ()))


def _whole_plan(survey: Survey, moment: Moment) -> Plan:
    """Return the plan that gives a moment's colours again, on the command line too.

    With the standing colours as pins, those of the person over them.
    """
    plan = moment.plan
    if moment.standing is None:
        return plan

    def reach(pin: Pin) -> tuple[str, bytes]:
        """Return scope and regions of a pin, by which two are about the same."""
        return pin.scope, _faces(survey, pin).tobytes()

    own = {reach(pin) for pin in plan.rules.pins}
    kept = tuple(pin for pin in moment.standing if reach(pin) not in own)
    return replace(plan, rules=replace(plan.rules, pins=(*kept, *plan.rules.pins)))


def _faces(survey: Survey, pin: Pin) -> Ints32:
    """Return the regions of a pin."""
    from fillwork.colouring.places import find_place

    return find_place(survey.arrangement, survey.orbits, pin.where, pin.scope).faces


def kept_paints(before: Coloured, survey: Survey) -> tuple[Pin, ...]:
    """Return what keeps the paints where lines were mended; what is new is left open.

    Each at a point. `before`: the colours before. `survey`: the drawing as it is now,
    where kinds may have other letters and regions may be one that were several: the
    largest keeps its paint.
    """
    from fillwork.colouring.search.colourways import pins_of

    old = before.survey
    owner = np.full(survey.arrangement.face_count, -1)
    pins = []
    for pin in pins_of(old.arrangement, old.orbits, before.colouring):
        if pin.scope != "kind":
            continue  # the person's own, which the plan holds
        faces = _faces(old, pin)
        if not pin.where.startswith("@"):  # letters change where kinds do
            face = faces[int(np.argmax(old.arrangement.inscribed[faces]))]
            x, y = old.arrangement.witness[face].tolist()
            pin = replace(pin, where=f"@{x:.4f},{y:.4f}")
        kind = int(old.orbits.of_face[faces[0]])
        now = _faces(survey, pin)
        if len(now) and np.isin(owner[now], (-1, kind)).all():
            owner[now] = kind
            pins.append(pin)
    return tuple(pins)


def painted(coloured: Coloured, moment: Moment, pin: Pin, label: str) -> Moment:
    """Return the moment after one class of regions took a swatch.

    Everything else keeps its colour; pins within the regions give way. `coloured`: the
    colours before. `moment`: the state before. `pin`: where, which swatch, how far.
    `label`: what was done. Raises `ColouringError` if the place or the swatch is
    unknown.
    """
    from fillwork.colouring.search.colourways import pins_of
    from fillwork.colouring.search.wishes import swatch_named

    survey = coloured.survey
    swatch_named(coloured.palette, pin.swatch, "the pin")
    inside = _faces(survey, pin)

    def reaches_out(other: Pin) -> bool:
        """Tell whether a pin reaches beyond the regions that are painted."""
        return not np.isin(_faces(survey, other), inside).all()

    standing = moment.standing
    if standing is None:
        standing = pins_of(survey.arrangement, survey.orbits, coloured.colouring)
    standing = tuple(p for p in standing if p.scope == "kind" or reaches_out(p))
    rules = moment.plan.rules
    rules = replace(rules, pins=(*filter(reaches_out, rules.pins), pin))
    return Moment(replace(moment.plan, rules=rules), standing, label)


def same_colours(one: Plan, other: Plan) -> bool:
    """Tell whether two plans differ in nothing that colours rest on."""
    return _same(one, other, *rests_on(one), "palette", "palette_data", "rules")


def _same(one: Plan, other: Plan, *keys: str) -> bool:
    return all(getattr(one, key) == getattr(other, key) for key in keys)


def plan_table(plan: Plan) -> dict[str, Any]:
    """Return a plan as the table that its file holds."""
    from fillwork.plans.file import plan_to_toml

    return parse_toml(plan_to_toml(plan).encode(), "plan")[1]


def changed_plan(plan: Plan, settings: Mapping[str, Any]) -> Plan:
    """Return a plan with some keys of its file set to other values.

    As the plan file's own reader understands it. `plan`: the choices before. `settings`
    (mapping): a part of a plan file's table; a value of None takes the key away. The
    palette is replaced whole. Raises `PlanError` if a key or a value is wrong.
    """
    import tomli_w

    from fillwork.plans.file import parse_plan

    table = _merged(plan_table(plan), settings)
    try:
        text = tomli_w.dumps(table)
    except (TypeError, ValueError, RecursionError) as error:
        what = f"a setting has a value that no plan can hold: {error}"
        raise PlanError(what, mend="send plain texts, numbers, lists and tables") from (
            error
        )
    changed = parse_plan(text.encode(), "the page")
    if changed.sheets.font == plan.sheets.font:
        changed = replace(changed, font_data=plan.font_data)
    return changed


def _merged(table: Mapping[str, Any], settings: Mapping[str, Any]) -> dict[str, Any]:
    out = dict(table)
    for key, value in settings.items():
        if value is None:
            out.pop(key, None)
        elif isinstance(value, dict) and key != "palette":
            inner = out.get(key)
            out[key] = _merged(inner if isinstance(inner, dict) else {}, value)
        else:
            out[key] = value
    return out


def fit_wishes(plan: Plan, palette: Palette, *before: Palette) -> Plan:
    """Return a plan whose wishes name swatches of another palette.

    What the palette lacks is named by its nearest swatch in ΔE00 that no other wish
    names, as long as there is one; wishes beyond that are let go. A name that no
    palette knows stays as it is, so that it is told as wrong.

    `before`: the palettes that they may have been made for.
    """
    from fillwork.plans.media import liquid

    # as they are spelt there, whatever the case of a wish
    spelt = {
        swatch.name.casefold(): swatch.name
        for one in (*reversed(before), palette)
        for swatch in one.swatches
    }
    plan = _with_swatches(plan, lambda name: spelt.get(name.casefold(), name))
    lacking = {s.name: s for old in reversed(before) for s in old.swatches}
    for swatch in palette.swatches:
        lacking.pop(swatch.name, None)
        lacking.pop(swatch.code, None)
    wished: list[str] = []
    _with_swatches(plan, wished.append)
    nearest = _nearest(
        [lacking[name] for name in dict.fromkeys(wished) if name in lacking],
        [swatch for swatch in palette.swatches if swatch.name not in wished],
    )
    fitted = _with_swatches(
        plan, lambda name: nearest.get(name) if name in lacking else name
    )
    leaf = {s.name for s in palette.swatches if not liquid(s)}
    if fitted.paint.under in leaf:  # as no leaf or tile can lie under all
        return replace(fitted, paint=replace(fitted.paint, under=""))
    return fitted


def _nearest(lost: Sequence[Swatch], free: Sequence[Swatch]) -> dict[str, str]:
    """Return names of swatches that are free by those of lost ones, nearest first."""
    from fillwork.colouring.difference import ciede2000

    if not lost or not free:
        return {}
    old, new = (np.array([s.lab for s in swatches]) for swatches in (lost, free))
    apart = ciede2000(old[:, None], new[None])
    found: dict[str, str] = {}
    for _ in range(min(apart.shape)):
        row, column = divmod(int(np.argmin(apart)), len(free))
        found[lost[row].name] = free[column].name
        apart[row], apart[:, column] = np.inf, np.inf
    return found


def rename_swatches(plan: Plan, names: Mapping[str, str]) -> Plan:
    """Return a plan whose wishes call swatches by other names.

    With the palette as it was. `names`: new names by old ones.
    """
    return _with_swatches(plan, lambda name: names.get(name, name))


def _with_swatches(plan: Plan, new: _Renaming) -> Plan:
    """Return a plan whose wishes call swatches anew; those for none are let go."""
    pins = [(pin, new(pin.swatch)) for pin in plan.rules.pins]
    rules = replace(
        plan.rules,
        pins=tuple(replace(pin, swatch=n) for pin, n in pins if n is not None),
    )
    return replace(plan, rules=_renamed(rules, new), paint=_renamed(plan.paint, new))


def _renamed(choices: _Choices, new: _Renaming) -> _Choices:
    """Return choices whose fields of a kind that names swatches call them anew."""
    changes: dict[str, Any] = {}
    for one in fields(choices):
        kind, value = one.metadata.get("kind"), getattr(choices, one.name)
        if kind == "swatch" and value:
            name = new(value)
            changes[one.name] = one.default if name is None else name
        elif kind == "swatches":
            changes[one.name] = tuple(n for n in map(new, value) if n is not None)
        elif kind == "pairs":  # a place and a swatch
            named = [(where, new(name)) for where, name in value]
            changes[one.name] = tuple(pair for pair in named if pair[1] is not None)
        elif kind in ("shares", "coats"):  # a swatch and how much of it
            called = [(new(name), much) for name, much in value]
            changes[one.name] = tuple(pair for pair in called if pair[0] is not None)
    return replace(choices, **changes)
