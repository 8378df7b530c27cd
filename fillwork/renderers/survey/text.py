"""The survey in words: a table that fits a terminal."""

from __future__ import annotations

import contextlib
from collections import Counter
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING

from fillwork.errors import SymmetryError
from fillwork.renderers.survey.mending import mended_words, split_defects
from fillwork.symmetry.elements import describe
from fillwork.symmetry.groups import parse_group
from fillwork.symmetry.kinds.orbits import letters as letter_of
from fillwork.units import counted, plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement, Defect
    from fillwork.bands.model import Bands, BandStrand
    from fillwork.linework import LineGroup, LineWork
    from fillwork.symmetry.model import Orbits, Zone


# lines of a list, so that all of a table fits some screens; the report has the rest
_MOST_KINDS = 40
_MOST_DEFECTS = _MOST_GROUPS = _MOST_SHAPES = 12
_ALIKE = 4  # defects in a row that differ by their place alone are told as one


def settling(zone: Zone) -> list[str]:
    """Return the groups that would settle a doubt, as they can be stated.

    Such as ``plane:p4m``, the likeliest first.
    """
    found = zone.symmetry
    none = found.group.family == "none"
    names = [] if none else [found.group.short]
    names += [c.group for c in found.candidates]
    known = []
    for name in dict.fromkeys(names):
        rosette = name[0] in "CD" and name[1:].isdigit()
        # what fits roughly where nothing is found is a plane group
        family = "rosette" if rosette else "plane" if none else found.group.family
        with contextlib.suppress(SymmetryError):
            parse_group(f"{family}:{name}")
            known.append(f"{family}:{name}")
    return known[:3]


def _group_lines(groups: Sequence[LineGroup]) -> list[str]:
    used = sum(group.used for group in groups)
    lines = [f"          {used} of {len(groups)} groups used:"]
    for g in groups[:_MOST_GROUPS]:
        width = "edge" if g.width is None else f"{plain(g.width)} mm"
        what = f"{g.colour or 'no colour'} {width}" + (" dashed" if g.dash else "")
        layer = f" layer “{g.layer}”" if g.layer else ""
        mark, length = "used" if g.used else "left", plain(g.length)
        lines.append(f"          {mark}  {g.count:5d} × {what}{layer}, {length} mm")
    return lines + _rest(len(groups), _MOST_GROUPS, "more (all with --json)")


def _kind_lines(orbits: Orbits) -> list[str]:
    lines = [f"kinds     {len(orbits.orbits)}"]
    lines.append("          kind   regions  cut   area mm²  name")
    for o in orbits.orbits[:_MOST_KINDS]:
        part = f"  (zone {o.zone})" if len(orbits.zones) > 1 else ""
        lines.append(
            f"          {o.letter:<5}  {len(o.faces):7d} {o.cut:4d} "
            f"{plain(o.area):>10}  {o.name}{part}"
        )
    return lines + _rest(len(orbits.orbits), _MOST_KINDS, "more (all with --json)")


def _like_lines(orbits: Orbits) -> list[str]:
    """Say which kinds are of like shape, and which make figures."""
    lines = []
    if orbits.match == "all" and orbits.families:
        shapes = max(orbits.families)
        if shapes < len(orbits.orbits):
            within = f"alike within {100 * orbits.alike:.3g} %"
            lines.append(
                f"shapes    {shapes} ({within}; --match family paints by them)"
            )
            lines += _listed(orbits, orbits.families, "alike")
        if any(orbits.figures):
            sorts = max(orbits.figures)
            lines.append(f"figures   {sorts} (--match figure paints by them)")
            lines += _listed(orbits, orbits.figures, "one figure")
    return lines


def _listed(orbits: Orbits, numbers: tuple[int, ...], word: str) -> list[str]:
    """Return a line for each set of several kinds, the largest kinds first."""
    sets: dict[int, list[str]] = {}
    for orbit, number in zip(orbits.orbits, numbers, strict=True):
        if number:
            sets.setdefault(number, []).append(orbit.letter)
    several = [letters for letters in sets.values() if len(letters) > 1]
    lines = []
    for letters in several[:_MOST_SHAPES]:
        shown = " ".join(letters[:_MOST_KINDS])
        rest = len(letters) - _MOST_KINDS
        more = f" and {rest} more" if rest > 0 else ""
        lines.append(f"          {shown}{more} {word}")
    return lines + _rest(len(several), _MOST_SHAPES, "more (with --json)")


def _rest(count: int, most: int, words: str) -> list[str]:
    """Return the line that says how many of a list are left out, if any."""
    return [f"          and {count - most} {words}"] if count > most else []


def _band_lines(bands: Bands) -> list[str]:
    """Return a line for each kind of strand, the commonest first."""
    kinds: dict[int, list[BandStrand]] = {}
    for strand in bands.strands:
        kinds.setdefault(strand.orbit, []).append(strand)
    strands = counted(len(bands.strands), "strand")
    lines = [f"bands     {strands}, {counted(bands.crossings, 'crossing')}"]
    for number, alike in sorted(kinds.items())[:_MOST_SHAPES]:
        closed = sum(s.closed for s in alike)
        length = sum(s.length for s in alike) / 1000
        width = sum(s.width for s in alike) / len(alike)
        lines.append(
            f"          {letter_of(number).lower():<5}  {len(alike):7d} "
            f"({closed} closed), {plain(width)} mm wide, "
            f"{plain(length)} m in all"
        )
    return lines + _rest(len(kinds), _MOST_SHAPES, "more (with --json)")


def _zones_lines(zones: Sequence[Zone]) -> list[str]:
    """Return what is known of each zone, once for those of which the same is said."""
    same: dict[tuple[str, ...], list[Zone]] = {}
    for zone in zones:
        told = _zone_lines(replace(zone, index=0), "", several=len(zones) > 1)
        same.setdefault(tuple(told), []).append(zone)
    lines = []
    for alike in same.values():
        numbers = ", ".join(str(z.index) for z in alike)
        lines += _zone_lines(alike[0], numbers, several=len(zones) > 1)
    return lines


def _zone_lines(zone: Zone, numbers: str, *, several: bool) -> list[str]:
    found = zone.symmetry
    group = found.group
    head = f"zone{'s' * (',' in numbers)} {numbers}"
    head += f" ({zone.role})" if zone.role else ""
    label = f"{head}: " if several else ""
    name = "none" if group.family == "none" else f"{group.family}:{group.short}"
    lines = [f"  {label}{name}  {describe(found)}"]
    if not found.certain:
        rivals = [
            f"{c.group} fits {100 * c.fit:.0f} %"
            for c in found.candidates
            if c.group != group.short
        ]
        if rivals:
            lines.append("    also weighed: " + "; ".join(rivals[:4]))
        at = f"{zone.index}=" if several else ""
        options = [f"--symmetry {at}{known}" for known in settling(zone)]
        likewise = ", likewise for the others" if "," in numbers else ""
        if options:
            lines.append("    settle it by " + ", or by ".join(options) + likewise)
    return lines


def _defect_lines(defects: Sequence[Defect]) -> list[str]:
    """Return what is worth a look, the largest first, and trifles in one line."""
    shown, trifles = split_defects(defects)
    lines = []
    if shown:
        counts = Counter((d.type, d.done) for d in shown)
        summary = ", ".join(
            f"{n} × {kind} ({done})" for (kind, done), n in sorted(counts.items())
        )
        lines.append(f"defects   {summary}")
    groups = [list(like) for _, like in groupby(shown, _words)]
    # a few alike stand singly
    rows = [r for g in groups for r in ([g] if len(g) >= _ALIKE else [[d] for d in g])]
    number = 1
    for row in rows[:_MOST_DEFECTS]:
        kind, done, size, remedy = _words(row[0])
        (x, y), many = row[0].at, len(row) > 1
        what, where = (f"{len(row)} × {kind}", ", one at") if many else (kind, " at")
        lines.append(
            f"     {number:4d}  {what} of {size} mm{where} @{x:.1f},{y:.1f}: {done}"
            + (f"; {remedy}" if remedy else "")
        )
        number += len(row)
    lines += _rest(len(shown), number - 1, "more (--json)")
    line, sorts = mended_words(trifles)
    if line:
        lines.append(f"mended    {line}")
        lines.append(f"          {sorts} (each with --json)")
    return lines


def _words(defect: Defect) -> tuple[str, str, str, str]:
    # what is said of a defect, but for its place
    return defect.type, defect.done, plain(defect.size), defect.remedy


def compose_table(
    linework: LineWork,
    arrangement: Arrangement,
    orbits: Orbits,
    *,
    real_scale: float,
    scale_known: bool,
    bands: Bands | None = None,
) -> str:
    """Return what was found, for people; lines of text, the last one ended.

    `linework`, `arrangement`, `orbits`: results of the stages. `real_scale`: real
    length / drawn length. `scale_known`: whether a physical size is stated.
    """
    frame = linework.frame
    size = f"{frame.width:.1f} × {frame.height:.1f} mm"
    if not scale_known:
        size += " (taken from px; state the true size with --scale or --real-width)"
    elif real_scale != 1:
        real = f"{frame.width * real_scale:.1f} × {frame.height * real_scale:.1f} mm"
        size += f", real {real}, at 1 : {plain(real_scale)}"
    regions = arrangement.face_count - 1
    strokes = counted(linework.stroke_count, "stroke")
    cut = int(orbits.cut.sum())
    lines = [
        f"drawing   {linework.file or 'standard input'}, {size}",
        f"lines     {strokes}, taken as {linework.scope}",
    ]
    if len(linework.groups) > 1:
        lines += _group_lines(linework.groups)
    lines.append(
        f"regions   {regions}" + (f", {cut} of them cut by the edge" if cut else "")
    )
    if regions:
        lines.append("symmetry")
        lines += _zones_lines(orbits.zones)
        lines += _kind_lines(orbits)
        lines += _like_lines(orbits)
    if bands is not None:
        lines += _band_lines(bands)
    lines += _defect_lines((*arrangement.defects, *orbits.defects))
    lines.append(f"tolerance {arrangement.tolerance.why}")
    return "\n".join(lines) + "\n"
