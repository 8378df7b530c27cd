"""Construction that is still among the lines, told by how it is drawn."""

from __future__ import annotations

import unicodedata
from collections import Counter
from typing import TYPE_CHECKING

from fillwork.notes import Note

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.linework import LineGroup, LineWork
    from fillwork.plans.model import Plan
    from fillwork.readers.selectors import Style


# common practice, no source: what layers of construction are called, the beginnings of
# words in small letters without accents; English, German, French, Spanish, Italian,
# Dutch, Turkish, Arabic, Persian
_CALLED = (
    "constr", "guide", "pencil", "helper", "aux", "grid",
    "hilfs", "konstru", "bleistift",
    "repere", "trace prepa", "crayon",
    "guia", "lapiz",
    "guida", "costru", "ausiliar", "matita",
    "hulp", "potlood",
    "kilavuz", "yardimci", "yapim", "insaat", "cizim yard",
    "مساعد", "بناء", "دليل", "انشا", "ارشاد",
    "کمک", "راهنما", "ترسیم",
)  # fmt: skip
# of the width of the final lines: as thin as this construction is drawn
_THIN = 0.6
# of how far the final lines are from white: as pale as construction is drawn
_PALE = 0.5
# thin lines in the colour of the others that part regions and end loose, since
# construction runs on: their share of the group, and how many lines that has
_LOOSE, _SOME = 0.5, 3
# so many groups are told one by one
_MANY = 4


def guide_notes(
    linework: LineWork, arrangement: Arrangement, plan: Plan
) -> tuple[Note, ...]:
    """Say which groups of lines look like construction that was left in.

    On a layer of such a name, or of another colour than the lines that make up most
    of the drawing, and thin or far paler, or thin and running on beyond what they
    part. The reader has told of dashed ones.

    One a group, with the option that leaves it out; of many groups the largest, and
    one for all others.

    `linework`: what was read, with its groups of lines. `arrangement`: its regions.
    `plan`: where it names lines, the user has looked already.
    """
    used = [g for g in linework.groups if g.used]
    if plan.lines or plan.leave or plan.laying.cell or linework.trace:
        return ()
    guides = zip(linework.groups, find_guides(linework, arrangement), strict=True)
    told = [(group, what) for group, what in guides if what]
    found = []
    few = sorted(told, key=lambda one: -one[0].count)[:_MANY]
    for group, what in [one for one in told if one in few]:
        where = f" on layer “{group.layer}”" if group.layer else ""
        many = "s" * (group.count != 1)
        text = (
            f"{group.count} {what}{many}{where} {'are' if many else 'is'} taken as "
            "final, and may be construction that was left in"
        )
        mend = f"{_selector(group, used)} leaves {'them' if many else 'it'} out"
        found.append(Note("readers", "construction", text, remedy=mend))
    rest = [one[0] for one in told if one not in few]
    if rest:
        text = (
            f"{sum(group.count for group in rest)} more lines, drawn in {len(rest)} "
            "other ways, may be construction as well"
        )
        final = _selector(_final(used), used).replace("--leave", "--lines", 1)
        mend = f"{final} takes those alone that make up most of the drawing"
        found.append(Note("readers", "construction", text, remedy=mend))
    return tuple(found)


def find_guides(
    linework: LineWork, arrangement: Arrangement | None = None
) -> tuple[str, ...]:
    """Return what each group that looks like construction is; empty: final lines.

    Lines that are not taken, and dashed ones, are none of them. `arrangement`: their
    regions, where they are known.
    """
    used = [g for g in linework.groups if g.used]
    if all(_is_named(g) or g.dash for g in used):
        return ("",) * len(linework.groups)
    final = _final(used)
    loose: Counter[Style] = Counter()
    if arrangement is not None:
        ends = [d.strokes for d in arrangement.defects if d.type == "loose end"]
        sides = arrangement.face.reshape(-1, 2)
        parting = arrangement.edge_curve[sides[:, 0] != sides[:, 1]]
        parts = set(arrangement.curve_stroke[parting].tolist())
        # lines that mend others are none of the drawing's
        strokes = {k for some in ends for k in some if k < len(linework.style)} & parts
        loose.update(linework.styles[linework.style[k]] for k in strokes)
    return tuple(
        _likeness(group, final, loose[_style(group)] / max(group.count, 1))
        for group in linework.groups
    )


def _style(group: LineGroup) -> Style:
    return group.layer, group.colour, group.width, group.dash


def _final(used: list[LineGroup]) -> LineGroup:
    """Return the group that makes up most of the drawing."""
    plain = [g for g in used if not _is_named(g) and not g.dash]
    return max(plain, key=lambda g: g.length * (g.width or 0.0))


def _likeness(group: LineGroup, final: LineGroup, loose: float) -> str:
    """Return what a group of construction is; empty where it looks like final lines.

    `loose`: share of its lines that part regions and run on to where they part none.
    """
    if group is final or group.dash or not group.used:
        return ""
    thin = group.width is not None and group.width < _THIN * (final.width or 0.0)
    other = group.colour != final.colour
    pale = _depth(group) < _PALE * _depth(final)
    runs_on = loose >= _LOOSE and group.count >= _SOME
    if not (_is_named(group) or pale or (thin and (other or runs_on))):
        return ""
    return "thin line" if thin else "pale line" if pale else "line"


def _depth(group: LineGroup) -> float:
    """Return how far its colour is from white, 1 for black."""
    red, green, blue = bytes.fromhex((group.colour or "#000000")[1:7])
    return 1 - (0.2126 * red + 0.7152 * green + 0.0722 * blue) / 255


def _is_named(group: LineGroup) -> bool:
    return any(word in _plain(group.layer or "") for word in _CALLED)


def _plain(name: str) -> str:
    """Return a name in small letters without accents, the dotless i as i."""
    parts = unicodedata.normalize("NFKD", name.casefold().replace("ı", "i"))
    return "".join(c for c in parts if not unicodedata.combining(c))


def _selector(group: LineGroup, used: list[LineGroup]) -> str:
    """Return the shortest option that names this group and no other."""
    others = [g for g in used if g is not group]
    if group.layer and all(g.layer != group.layer for g in others):
        return f'--leave "layer={group.layer}"'
    if group.colour and all(g.colour != group.colour for g in others):
        return f'--leave "colour={group.colour}"'
    parts = [f"layer={group.layer}"] if group.layer else []
    parts += [f"colour={group.colour}"] if group.colour else []
    alike = [g for g in others if g.layer == (group.layer or g.layer)]
    alike = [g for g in alike if g.colour == (group.colour or g.colour)]
    mine = group.width or 0.0
    wider = [g.width for g in alike if g.width is not None and g.width > mine]
    if group.width is not None and wider:
        parts.append(f"width<{(mine + min(wider)) / 2:.3g}")
    return f'--leave "{",".join(parts)}"'
