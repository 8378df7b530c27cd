"""What to beware of, by pigment, by method, and for children's classes.

Common practice of the trade, without a source except where a standard is named.
The label, the safety sheet, local rules and licensed practice always come
first, and the last caution says so.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fillwork.colouring.palettes.pigments import HAZARDS, hazards_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from fillwork.colouring.palettes.model import Swatch
    from fillwork.plans.model import Step


FIRST = (
    "Read the label and the safety sheet of every product; they, local rules and "
    "licensed practice come before what is said here."
)
BLADES = "Blades: cut away from the hand that holds, on a mat, and cap the knife."
FRESH_LIME = (
    "New lime plaster burns eyes and skin and goes on changing paint for weeks: "
    "goggles and gloves, and ask whoever laid it when it may be painted."
)
LOOSE_LEAF = "Loose leaf and powder are not to be breathed."
VARNISH = "Varnish: air the room and keep it from flames."
CLASSES = (
    "Classes and children: use only paints, pencils and markers labelled for them "
    "(toys: EN 71-3 for what may migrate, EN 71-7 for finger paints; art "
    "materials: ASTM D4236); no leaf size, solvents, lime, powders or blades."
)
OLD_PAINT = (
    "Old painted surfaces may hold lead: have them tested before sanding or scraping."
)
METHODS: dict[str, str] = {
    "lime wash": "Lime burns eyes and skin: goggles, gloves and clean water at hand.",
    "silicate paint": "Silicate paint is caustic and etches glass: goggles, gloves, "
    "cover what is near.",
    "oil": "Oily rags can catch fire by themselves: put them in water in a closed "
    "tin; air the room and keep solvents from flames.",
    "enamel": "Solvent paint: air the room, keep it from flames, wear a mask for "
    "vapours if the label asks for one.",
    "leaf": "Oil size gives off solvent: air the room; loose leaf and powder are "
    "not to be breathed.",
    "egg tempera": "Egg spoils: mix it fresh each day and keep it from food.",
    "gouache": "Never point the brush with the lips; keep food and paint water apart.",
    "watercolour": "Never point the brush with the lips; keep food and paint water "
    "apart.",
    "acrylic": "Acrylic paint: do not sand it dry or spray it without a mask; keep "
    "washings out of the drain.",
    "emulsion": "Emulsion: do not sand it dry; air the room, keep washings out of the "
    "drain.",
    "chalk paint": "Chalk paint gives off fine dust when it is rubbed: rub it wet, or "
    "wear a mask.",
    "ink": "Some inks hold solvent or dyes that stain skin: read the label, gloves.",
    "crayon": "Soft crayons shed pigment dust: wipe it up wet, do not blow it away.",
    "thread": "Count needles and scissors before and after.",
    "casein": "Casein paint may hold ammonia or lime: air the room, spare the eyes.",
    "marker": "Some markers hold solvent: prefer water-based ones and air the room.",
    "tile": "Cutting and grinding tile: goggles and wet cutting, no dry dust.",
    "paper": "Cut away from the hand that holds, with a sharp blade.",
}
"""A caution for each medium that needs one."""


def find_cautions(
    swatches: Iterable[Swatch],
    *,
    varnish: str = "",
    support: str = "",
    needs: frozenset[str] = frozenset(),
) -> tuple[str, ...]:
    """Gather the cautions for some paints.

    Full sentences: the label first, then methods, pigments (with the names of the
    paints), what palettes add, old surfaces, classes.

    `varnish`: what the panel is varnished with; empty for none. `support`: what the
    panel is made of; empty where not told.
    """
    used = list(swatches)
    lines = [FIRST]
    media = {s.medium for s in used}
    lines += [_method(medium, needs) for medium in METHODS if medium in media]
    if varnish and "oil" not in media and "enamel" not in media:
        lines.append(VARNISH)
    if needs & _KNIVES:
        lines.append(BLADES)
    hazards = [(s.name, hazards_of(s.pigments)) for s in used]
    lines += _by_text(
        (text, name)
        for hazard, text in HAZARDS.items()
        for name, found in hazards
        if hazard in found
    )
    standard = {*HAZARDS.values(), *METHODS.values()}
    lines += _by_text(
        (t, s.name) for s in used for t in s.cautions if t not in standard
    )
    unknown = [
        s.name
        for s in used
        if not s.pigments and s.medium not in _NO_PIGMENT_ASKED and not s.cautions
    ]
    if unknown:
        text = "pigment not known, so nothing is known of its dangers: ask the maker."
        lines.append(f"{', '.join(unknown)}: {text}")
    if support == "lime plaster":
        lines.append(FRESH_LIME)
    if media & _ON_WALLS or support in _PAINTED_BEFORE:
        lines.append(OLD_PAINT)
    lines.append(CLASSES)
    return tuple(dict.fromkeys(lines))


def with_care(
    steps: Sequence[Step], swatches: Sequence[Swatch], whites: Mapping[int, Swatch]
) -> tuple[Step, ...]:
    """Say in each step what to beware of in it, so that it stands where the work is.

    A pigment's danger stands in every step that lays it on; what goes for a medium or a
    tool, in the first step of it.

    `steps`: the order of work. `whites`: what goes under a paint, by its place.
    """
    told: set[str] = set()
    found = []
    for step in steps:
        lines: list[str] = []
        if step.kind == "varnish":
            lines.append(VARNISH)
        if step.kind == "clean":
            lines.append(OLD_PAINT)
        if step.swatch is not None and step.kind != "bare":
            paint = swatches[step.swatch]
            if step.kind == "white":
                paint = whites[step.swatch]
            lines += [HAZARDS[h] for h in hazards_of(paint.pigments)]
            lines += [*paint.cautions, _method(paint.medium, step.needs)]
        if _KNIVES.intersection(step.needs):
            lines.append(BLADES)
        kept = [t for t in lines if t and (t in HAZARDS.values() or t not in told)]
        told.update(kept)
        found.append(replace(step, care=" ".join(dict.fromkeys(kept))))
    return tuple(found)


_KNIVES = frozenset({"knife", "gilder's knife and cushion"})
_PAINTED_BEFORE = frozenset({"metal", "old paint", "timber"})
"""Supports that often carry old paint, whatever comes over it."""
_NO_PIGMENT_ASKED = frozenset(
    {"bare", "crayon", "leaf", "marker", "paper", "pencil", "thread", "tile"}
)
_ON_WALLS = frozenset({
    "casein", "chalk paint", "emulsion", "enamel", "lime wash", "oil", "silicate paint",
})  # fmt: skip


def _method(medium: str, needs: Collection[str]) -> str:
    """Return the caution for a medium; leaf on bole alone takes no oil size."""
    if medium == "leaf" and "bole" in needs and "oil size" not in needs:
        return LOOSE_LEAF
    return METHODS.get(medium, "")


def _by_text(pairs: Iterable[tuple[str, str]]) -> list[str]:
    """Return each text once, behind the names of the paints that it goes for."""
    names: dict[str, dict[str, None]] = {}
    for text, name in pairs:
        names.setdefault(text, {})[name] = None
    return [f"{', '.join(own)}: {_lowered(text)}" for text, own in names.items()]


def _lowered(text: str) -> str:
    """Return a sentence that can follow a colon."""
    if text[1:2].islower() and not text.startswith(("Egyptian", "Prussian", "Naples")):
        return text[0].lower() + text[1:]
    return text
