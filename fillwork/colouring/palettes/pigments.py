"""What is known of pigments, by Colour Index generic name.

A *generic name* such as ``PB29`` (Pigment Blue 29) names a pigment whatever
the maker calls the paint. Names and properties here are written from memory of
common handbooks of the trade and are no substitute for the label or the safety
sheet; *limefast* says whether the pigment is held to stand the alkali of lime.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

HAZARDS: dict[str, str] = {
    "cadmium": "Cadmium pigment: keep it out of mouth and lungs; no sanding, "
    "no spraying; collect the washings.",
    "cobalt": "Cobalt pigment: may cause allergy of skin and lungs; no sanding, "
    "no spraying.",
    "lead": "Lead pigment: poisonous; not for children or kitchens, no sanding, no "
    "heating; local rules may forbid it.",
    "mercury": "Mercury pigment (genuine vermilion): poisonous; no sanding, no "
    "heating; local rules may forbid it.",
    "manganese": "Manganese pigment: do not breathe the dust; no sanding, no spraying.",
    "chromate": "Chromate pigment: poisonous and may cause cancer; local rules may "
    "forbid it.",
    "arsenic": "Arsenic pigment: poisonous; use a modern substitute.",
    "copper": "Copper pigment or powder: do not swallow it or breathe the dust.",
    "nickel": "Nickel compound: may cause allergy; no sanding, no spraying.",
    "zinc": "Zinc white: do not pour washings into drains or water.",
    "metal powder": "Metal powder: do not breathe it; keep it from flames.",
    "silica": "Natural earth may hold fine silica: do not breathe its dust; wet "
    "methods or a mask.",
}
"""A caution in a full sentence for each hazard class. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Pigment:
    """Hold what is known of one pigment."""

    name: str  # common name
    hazards: tuple[str, ...] = ()  # keys of `HAZARDS`
    limefast: bool | None = None  # whether it stands lime; None when not known
    opacity: str = ""  # typical opacity, as in a palette


PIGMENTS: dict[str, Pigment] = {
    "PW1": Pigment("lead white", ("lead",), False, "opaque"),
    "PW4": Pigment("zinc white", ("zinc",), False, "semi-opaque"),
    "PW6": Pigment("titanium white", (), True, "opaque"),
    "PW18": Pigment("chalk, calcium carbonate", (), True, "semi-transparent"),
    "PW21": Pigment("blanc fixe, barium sulphate", (), True, "semi-transparent"),
    "PY1": Pigment("monoazo yellow", (), False, "semi-transparent"),
    "PY3": Pigment("monoazo yellow, greenish", (), False, "semi-transparent"),
    "PY34": Pigment("chrome yellow", ("lead", "chromate"), False, "opaque"),
    "PY35": Pigment("cadmium yellow", ("cadmium",), False, "opaque"),
    "PY37": Pigment("cadmium yellow", ("cadmium",), False, "opaque"),
    "PY39": Pigment("orpiment", ("arsenic",), False, "opaque"),
    "PY40": Pigment("cobalt yellow", ("cobalt",), False, "transparent"),
    "PY41": Pigment("Naples yellow, lead antimonate", ("lead",), True, "opaque"),
    "PY42": Pigment("yellow iron oxide", (), True, "opaque"),
    "PY43": Pigment("yellow ochre, natural", ("silica",), True, "semi-opaque"),
    "PY53": Pigment("nickel titanate yellow", ("nickel",), True, "opaque"),
    "PY65": Pigment("monoazo yellow, reddish", (), False, "semi-opaque"),
    "PY73": Pigment("monoazo yellow", (), False, "semi-transparent"),
    "PY74": Pigment("monoazo yellow", (), False, "semi-opaque"),
    "PY83": Pigment("diarylide yellow", (), False, "semi-transparent"),
    "PY110": Pigment("isoindolinone yellow", (), None, "semi-transparent"),
    "PY119": Pigment("zinc ferrite", (), True, "opaque"),
    "PY129": Pigment("azomethine green-gold", (), None, "transparent"),
    "PY150": Pigment("nickel azo yellow", ("nickel",), None, "transparent"),
    "PY151": Pigment("benzimidazolone yellow", (), None, "semi-opaque"),
    "PY154": Pigment("benzimidazolone yellow", (), None, "semi-transparent"),
    "PY184": Pigment("bismuth vanadate yellow", (), True, "opaque"),
    "PO20": Pigment("cadmium orange", ("cadmium",), False, "opaque"),
    "PO36": Pigment("benzimidazolone orange", (), None, "semi-opaque"),
    "PO43": Pigment("perinone orange", (), None, "semi-transparent"),
    "PO62": Pigment("benzimidazolone orange", (), None, "semi-opaque"),
    "PO73": Pigment("pyrrole orange", (), None, "semi-opaque"),
    "PR83": Pigment("alizarin", (), False, "transparent"),
    "PR101": Pigment("red iron oxide", (), True, "opaque"),
    "PR102": Pigment("red ochre, natural", ("silica",), True, "semi-opaque"),
    "PR104": Pigment("molybdate red", ("lead", "chromate"), False, "opaque"),
    "PR105": Pigment("red lead", ("lead",), False, "opaque"),
    "PR106": Pigment("genuine vermilion", ("mercury",), None, "opaque"),
    "PR108": Pigment("cadmium red", ("cadmium",), None, "opaque"),
    "PR112": Pigment("naphthol red", (), False, "semi-opaque"),
    "PR122": Pigment("quinacridone magenta", (), None, "transparent"),
    "PR170": Pigment("naphthol red", (), False, "semi-opaque"),
    "PR177": Pigment("anthraquinone red", (), None, "transparent"),
    "PR179": Pigment("perylene maroon", (), None, "transparent"),
    "PR188": Pigment("naphthol red", (), None, "semi-opaque"),
    "PR209": Pigment("quinacridone red", (), None, "transparent"),
    "PR233": Pigment("potter's pink", (), True, "semi-transparent"),
    "PR254": Pigment("pyrrole red", (), None, "semi-opaque"),
    "PR264": Pigment("pyrrole rubine", (), None, "transparent"),
    "PV14": Pigment("cobalt violet", ("cobalt",), None, "semi-transparent"),
    "PV15": Pigment("ultramarine violet", (), True, "semi-transparent"),
    "PV16": Pigment("manganese violet", ("manganese",), False, "semi-opaque"),
    "PV19": Pigment("quinacridone violet or rose", (), None, "transparent"),
    "PV23": Pigment("dioxazine violet", (), None, "transparent"),
    "PB15": Pigment("phthalocyanine blue", (), True, "transparent"),
    "PB27": Pigment("Prussian blue", (), False, "transparent"),
    "PB28": Pigment("cobalt blue", ("cobalt",), True, "semi-opaque"),
    "PB29": Pigment("ultramarine blue", (), True, "semi-transparent"),
    "PB30": Pigment("azurite", ("copper",), True, "semi-opaque"),
    "PB31": Pigment("Egyptian blue", ("copper",), True, "semi-transparent"),
    "PB33": Pigment("manganese blue", ("manganese",), True, "transparent"),
    "PB35": Pigment("cerulean blue", ("cobalt",), True, "opaque"),
    "PB36": Pigment("cobalt chromium blue", ("cobalt",), True, "opaque"),
    "PB60": Pigment("indanthrone blue", (), None, "transparent"),
    "PB66": Pigment("indigo", (), False, "semi-transparent"),
    "PB74": Pigment("cobalt zinc silicate blue", ("cobalt",), True, "semi-opaque"),
    "PG7": Pigment("phthalocyanine green", (), True, "transparent"),
    "PG17": Pigment("chromium oxide green", (), True, "opaque"),
    "PG18": Pigment("viridian", (), True, "transparent"),
    "PG19": Pigment("cobalt green", ("cobalt",), True, "semi-opaque"),
    "PG20": Pigment("verdigris", ("copper",), False, "transparent"),
    "PG21": Pigment("emerald green, genuine", ("arsenic", "copper"), False, "opaque"),
    "PG23": Pigment("green earth", ("silica",), True, "transparent"),
    "PG26": Pigment("cobalt chromite green", ("cobalt",), True, "opaque"),
    "PG36": Pigment("phthalocyanine green, yellowish", (), True, "transparent"),
    "PG39": Pigment("malachite", ("copper",), True, "semi-opaque"),
    "PG50": Pigment("cobalt titanate green", ("cobalt",), True, "opaque"),
    "PBr6": Pigment("brown iron oxide", (), True, "opaque"),
    "PBr7": Pigment("sienna or umber", ("silica",), True, "semi-transparent"),
    "PBr24": Pigment("chromium titanate yellow", (), True, "opaque"),
    "PBr29": Pigment("iron chromium brown", (), True, "opaque"),
    "PBk6": Pigment("lamp or carbon black", (), True, "opaque"),
    "PBk7": Pigment("carbon black", (), True, "opaque"),
    "PBk8": Pigment("vine or charcoal black", (), True, "semi-opaque"),
    "PBk9": Pigment("bone black", (), True, "semi-opaque"),
    "PBk11": Pigment("black iron oxide", (), True, "opaque"),
    "PBk14": Pigment("manganese black", ("manganese",), True, "opaque"),
    "PBk18": Pigment("magnetite", (), True, "semi-opaque"),
    "PBk28": Pigment("copper chromite black", ("copper",), True, "opaque"),
    "PBk31": Pigment("perylene black", (), None, "transparent"),
    "PM1": Pigment("aluminium powder", ("metal powder",), False, "opaque"),
    "PM2": Pigment("bronze powder", ("copper", "metal powder"), False, "opaque"),
    "PM3": Pigment("gold powder", (), None, "opaque"),
}
"""Pigments by generic name. From memory; the label and the safety sheet decide."""

_GENERIC = re.compile(r"(?:C\.?I\.?\s*)?P\s*(BR|BK|[BGMORVWY])\s*(\d{1,3})(:\d)?", re.I)


def generic_name(text: str) -> str:
    """Return a Colour Index generic name in its usual spelling.

    Such as ``PB29``; empty when the text is no generic name.

    `text`: such as ``pb 29``, ``PBr7`` or ``PB15:3``.

    Examples
    --------
    >>> generic_name("pbr 7")
    'PBr7'
    """
    match = _GENERIC.fullmatch(text.strip())
    if match is None:
        return ""
    hue = match[1].capitalize()
    return f"P{hue}{int(match[2])}{match[3] or ''}"


def hazards_of(pigments: tuple[str, ...]) -> tuple[str, ...]:
    """Return the hazard classes of some pigments.

    Keys of `HAZARDS`, in their order there. `pigments`: generic names; an unknown one
    adds none.
    """
    found: set[str] = set()
    for text in pigments:
        pigment = PIGMENTS.get(generic_name(text).partition(":")[0])
        if pigment is not None:
            found.update(pigment.hazards)
    return tuple(hazard for hazard in HAZARDS if hazard in found)
