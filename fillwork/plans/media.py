"""What is common practice for each medium, and what does not hold on what.

None of it has a source but the trade; the label decides. A *dry medium* is drawn
(pencil, crayon, marker), an *object* is set (tile, thread, paper). A *clash* is
a pair of things that do not hold on each other, with the usual remedy.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fillwork.colouring.palettes.pigments import PIGMENTS, generic_name

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fillwork.colouring.palettes.model import Swatch

    # what lies on what, why it does not hold, the remedy, and places of the paints
    _Found = tuple[str, str, str, str, tuple[int, ...]]


DRY = frozenset({"crayon", "marker", "pencil"})
OBJECTS = frozenset({"paper", "thread", "tile"})

_LITRES = (100.0, 250.0, 500.0, 1000.0, 2500.0, 5000.0, 10000.0)
_TUBES = (20.0, 60.0, 120.0, 250.0, 500.0, 1000.0)


@dataclass(frozen=True, slots=True)
class MediumFacts:
    """Hold what is common practice for one medium."""

    # m² a litre in one coat; None where it is not sold by volume
    coverage: float | None
    span: str = ""  # the range makers speak of
    drying: str = ""  # time between coats, in words
    containers: tuple[float, ...] = _TUBES  # sizes in the trade, mL
    primer: str = ""  # what goes under it; empty for none
    varnish: str = ""  # what goes over it; empty for none
    # whether it is transparent unless the swatch says otherwise
    transparent: bool = False
    hours: float = 0.0  # time between coats, hours, as a calendar reckons
    cure: float = 0.0  # days until it is hard enough for tape, oil size and varnish
    # hours until tape holds on it and comes off clean; None where tape lifts it or does
    # not hold at all
    tape: float | None = None


MEDIA_FACTS: dict[str, MediumFacts] = {
    # m² a litre, range, between coats, sizes, under it, over it; hours, days, tape
    "acrylic": MediumFacts(6.5, "5-8", "1 hour", _TUBES, "acrylic primer",
                           "acrylic varnish", hours=1.0, cure=3.0, tape=24.0),
    "casein": MediumFacts(8.0, "6-10", "2 hours", _LITRES, "gesso",
                          hours=2.0, cure=14.0, tape=48.0),
    "chalk paint": MediumFacts(11.0, "10-13", "2 hours", _LITRES, "", "matt varnish",
                               hours=2.0, cure=7.0, tape=24.0),
    "bare": MediumFacts(None),
    "crayon": MediumFacts(None),
    "egg tempera": MediumFacts(10.0, "8-12", "1 hour", _TUBES, "gesso",
                               hours=1.0, cure=180.0),
    "emulsion": MediumFacts(12.0, "10-14", "4 hours", _LITRES, "wall primer",
                            hours=4.0, cure=7.0, tape=24.0),
    "enamel": MediumFacts(12.0, "10-14", "16 hours", _LITRES, "undercoat",
                          hours=16.0, cure=7.0, tape=48.0),
    "gouache": MediumFacts(10.0, "8-12", "1 hour", _TUBES, hours=1.0, cure=1.0),
    "ink": MediumFacts(12.0, "10-15", "15 minutes", (30.0, 100.0, 250.0),
                       hours=0.25, cure=1.0),
    "leaf": MediumFacts(None),
    "lime wash": MediumFacts(6.0, "4-8", "24 hours", _LITRES, hours=24.0, cure=28.0),
    "marker": MediumFacts(None),
    "oil": MediumFacts(10.0, "8-12", "3 to 7 days", (40.0, 200.0, 500.0, 1000.0),
                       "oil primer", "varnish", hours=120.0, cure=180.0, tape=336.0),
    "paper": MediumFacts(None),
    "pencil": MediumFacts(None),
    "silicate paint": MediumFacts(6.0, "5-7", "12 hours", _LITRES,
                                  hours=12.0, cure=14.0),
    "thread": MediumFacts(None),
    "tile": MediumFacts(None),
    "watercolour": MediumFacts(14.0, "10-18", "until the sheen is gone",
                               (5.0, 15.0, 30.0), transparent=True,
                               hours=0.5, cure=1.0),
}  # fmt: skip
"""Common practice, no source; the label decides."""


DEFAULT_COVERAGE = 8.0
_UNKNOWN = MediumFacts(
    DEFAULT_COVERAGE, "", "", _LITRES, hours=4.0, cure=7.0, tape=24.0
)


def facts_of(medium: str) -> MediumFacts:
    """Return what is common practice for a medium, and a guess for an unknown one."""
    return MEDIA_FACTS.get(medium, _UNKNOWN)


def liquid(swatch: Swatch) -> bool:
    """Return whether a swatch is bought by volume, which its medium decides.

    False for leaf, pencils, thread, tile and the like, whatever coverage is stated: at
    the head of a palette it is meant for the paints.
    """
    return facts_of(swatch.medium).coverage is not None


def is_transparent(swatch: Swatch) -> bool:
    """Return whether what lies under a paint shows through.

    By its opacity; by its medium where that is not given.
    """
    if swatch.opacity:
        return swatch.opacity in ("transparent", "semi-transparent")
    return facts_of(swatch.medium).transparent or swatch.medium in DRY


def dry_hours(swatch: Swatch) -> float:
    """Return the hours between two coats of a paint: its own, else its medium's."""
    own = swatch.drying
    return facts_of(swatch.medium).hours if own is None else own


def cure_days(swatch: Swatch) -> float:
    """Return the days until a paint has cured: its own, else its medium's."""
    return facts_of(swatch.medium).cure if swatch.cure is None else swatch.cure


def tape_hours(swatch: Swatch) -> float | None:
    """Return the hours until tape holds on a paint.

    None where tape is not to be laid on it.
    """
    return facts_of(swatch.medium).tape


@dataclass(frozen=True, slots=True)
class Clash:
    """Hold a pair that does not hold, and the usual remedy.

    Parameters
    ----------
    pair : str
        The two, as ``acrylic on oil``.
    who : str
        The paints it concerns.
    why : str
        What would happen.
    remedy : str
        What is done instead.
    swatches : tuple of int
        Places in the palette; empty where it concerns primer or varnish.
    """

    pair: str
    who: str
    why: str
    remedy: str
    swatches: tuple[int, ...] = ()

    @property
    def text(self) -> str:
        """Return the refusal in two sentences."""
        return f"{self.pair} ({self.who}): {self.why}. Instead: {self.remedy}."


_OIL = ("oil", "enamel")
_WATER = (
    "acrylic", "casein", "chalk paint", "egg tempera", "emulsion", "gouache", "ink",
    "watercolour",
)  # fmt: skip
_LIME = ("lime wash", "silicate paint")
_SOLUBLE = ("gouache", "watercolour")

_ON_EACH_OTHER: tuple[tuple[tuple[str, ...], tuple[str, ...], str, str], ...] = (
    (
        _WATER,
        _OIL,
        "water paint crawls and peels on oil that has not cured",
        "paint the water colours first and the oil over them, or let the oil cure "
        "for months and take an oil colour for what comes over it",
    ),
    (
        _LIME,
        (*_OIL, *_WATER),
        "lime and silicate need bare mineral ground; a film under them sheds them",
        "lay them first on bare plaster, or take emulsion for the whole piece",
    ),
    (
        _OIL,
        _LIME,
        "fresh lime turns oil to soap",
        "wait until the lime has cured for some months, or use lime-proof paint",
    ),
    (
        ("acrylic", "emulsion", "chalk paint"),
        _SOLUBLE,
        "a wet brush takes up gouache and watercolour under it",
        "take one binder for the whole piece, or fix the gouache and try a corner",
    ),
)
"""Over, under, why, remedy."""
_ON_SUPPORTS: tuple[tuple[tuple[str, ...], tuple[str, ...], str, str], ...] = (
    (
        ("lime wash",),
        ("timber", "gypsum plaster", "metal", "glass", "old paint", "canvas", "card"),
        "lime binds to mineral ground that drinks, and powders off anything else",
        "take casein or emulsion here, or give the panel a coat of lime plaster",
    ),
    (
        ("silicate paint",),
        ("timber", "gypsum plaster", "metal", "glass", "old paint", "canvas", "card"),
        "silicate binds to mineral ground only",
        "take emulsion here, or a primer that its maker names for this ground",
    ),
    (
        _OIL,
        ("paper", "card"),
        "oil rots and stains bare paper",
        "size the paper or give it two coats of gesso first",
    ),
    (
        ("oil",),
        ("canvas",),
        "oil rots bare canvas",
        "size the canvas and prime it with oil primer or gesso",
    ),
    (
        _OIL,
        ("lime plaster",),
        "fresh lime turns oil to soap",
        "let the plaster cure for some months and prime it lime-proof",
    ),
    (
        (*_WATER,),
        ("metal", "glass"),
        "water paint does not key on a smooth face, and iron rusts under it",
        "degrease, roughen and prime for that face, or take enamel",
    ),
    (
        (*_WATER, *_OIL),
        ("old paint",),
        "new paint holds no better than the old, and peels from gloss or chalking",
        "test with tape, wash, dull the gloss with wet abrasive (after a test for "
        "lead) and prime",
    ),
    (
        ("watercolour",),
        ("timber", "canvas", "lime plaster", "gypsum plaster", "stone", "brick"),
        "watercolour sinks in or runs off; it wants sized paper",
        "take gouache or acrylic here, or give the panel an absorbent ground",
    ),
    (
        ("pencil", "marker", "crayon"),
        ("metal", "glass"),
        "they do not mark a smooth face",
        "take enamel, or roughen and prime it with gesso",
    ),
)
"""Medium, support, why, remedy; a primer that was named takes the support away."""


def clash_of_mix(
    place: int, swatches: Sequence[Swatch], media: Sequence[str]
) -> Clash | None:
    """Find media of a mix that do not mix.

    None where all are of one family, or not known. `place`: the swatch that is mixed.
    """
    families = {
        k: m
        for m in dict.fromkeys(media)
        for k, family in enumerate((_OIL, _WATER, _LIME))
        if m in family
    }
    if len(families) < 2:
        return None
    one, other = list(families.values())[:2]
    return Clash(
        pair=f"{one} mixed with {other}",
        who=swatches[place].name,
        why="they part in the pot or on the wall",
        remedy="mix paints of one binder, or buy the colour",
        swatches=(place,),
    )


def find_clashes(
    swatches: Sequence[Swatch],
    used: Sequence[int],
    over: Sequence[tuple[int, int]],
    *,
    support: str = "",
    primer: str = "",
    varnish: str = "",
) -> tuple[Clash, ...]:
    """Find what does not hold on each other, on the support or under varnish.

    Each once. `over`: pairs of which the first lies on the second, at least at its
    edge. `support`: one of `SUPPORTS`; empty where not told. `primer`: what goes under;
    a primer parts paint from the support. `varnish`: what goes over all.
    """
    found: dict[tuple[str, str], tuple[str, str, dict[int, None]]] = {}
    clashes = [_on_each_other(swatches, a, b) for a, b in over]
    clashes += [_of_paint(swatches[p], p, support, primer, varnish) for p in used]
    for upper, under, why, remedy, places in itertools.chain(*clashes):
        _, _, mine = found.setdefault((upper, under), (why, remedy, {}))
        mine.update(dict.fromkeys(places))
    return tuple(
        Clash(
            pair=f"{upper} on {under}",
            who=", ".join(swatches[p].name for p in places),
            why=why,
            remedy=remedy,
            swatches=tuple(places),
        )
        for (upper, under), (why, remedy, places) in found.items()
    )


def _on_each_other(swatches: Sequence[Swatch], a: int, b: int) -> Iterator[_Found]:
    """Yield why one paint does not hold on another."""
    upper, under = swatches[a].medium, swatches[b].medium
    for tops, beds, why, remedy in _ON_EACH_OTHER:
        if upper in tops and under in beds:
            yield upper, under, why, remedy, (a, b)
            break


def _of_paint(
    swatch: Swatch, place: int, support: str, primer: str, varnish: str
) -> Iterator[_Found]:
    """Yield why a paint does not hold on what is under it, in it or over it."""
    medium, own = swatch.medium, (place,)
    for media, supports, why, remedy in _ON_SUPPORTS:
        # what binds to mineral ground alone binds to no primer either
        parted = primer and medium not in _LIME
        if medium in media and support in supports and not parted:
            yield medium, support, why, remedy, own
            break
    if medium in _LIME and primer:
        why = "lime and silicate bind to bare mineral ground, not to a primer"
        yield medium, primer, why, "leave the primer out", own
    if medium in _LIME:
        for p in swatch.pigments:
            known = PIGMENTS.get(generic_name(p).partition(":")[0])
            if known and known.limefast is False:
                why = "lime destroys this pigment"
                earths = "take a limefast one: earths, iron oxides, ultramarine,"
                yield p, medium, why, f"{earths} cobalt, chromium green", own
    if varnish and medium in _LIME:
        why = "varnish seals what has to breathe, and peels"
        yield varnish, medium, why, "leave the varnish out", own
    elif varnish and medium in _SOLUBLE:
        why = "varnish darkens and stains it, and a brush takes it up"
        remedy = "leave it bare behind glass, or fix it and try a corner first"
        yield varnish, medium, why, remedy, own
