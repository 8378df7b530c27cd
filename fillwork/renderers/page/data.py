"""What the page shows, as plain values: the drawing once, its colouring as it is.

Both the live page and the single file take these two tables. Points and paths
are in mm with y down, as a canvas draws them; ``at_mm`` alone is the plan's own
point, y up. Regions are numbered from 0 here, in the order of faces 1, 2, ...
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.colouring.difference import difference_matrix
from fillwork.colouring.places import find_place
from fillwork.colouring.vision import VIEWS, measure_views, view_palette
from fillwork.errors import FillworkError
from fillwork.geometry.boxes import bounds
from fillwork.renderers.coloured import outline_pen
from fillwork.renderers.encoders.pathtext import lines_path, svg_paths
from fillwork.renderers.survey.mending import sort_defects
from fillwork.renderers.survey.text import settling
from fillwork.symmetry.elements import describe, elements

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrangement.model import Arrangement, Defect, Outlines
    from fillwork.arrays import Floats
    from fillwork.colouring.model import Adjacency, Colouring, Pin
    from fillwork.colouring.palettes.model import Palette
    from fillwork.geometry.curves import Curves
    from fillwork.linework import LineWork
    from fillwork.notes import Note
    from fillwork.symmetry.model import Orbits, Zone

_DECIMALS = 3  # of mm: finer than a screen shows at any zoom of the page
_NEAR = 1e-6  # mm: an end and the place of its defect are one


def _round(values: Floats, decimals: int = _DECIMALS) -> list[Any]:
    rounded: list[Any] = (np.round(values, decimals) + 0.0).tolist()
    return rounded


def _shapes(outlines: Outlines, height: float) -> list[str]:
    """Return one path a region, y down."""
    flipped = outlines.pieces.transform((1.0, 0.0, 0.0, -1.0, 0.0, height))
    text = svg_paths(flipped, _DECIMALS, outlines.ring_start)
    rings, faces = outlines.ring_start.tolist(), outlines.face_ring_start.tolist()
    return [text.shape(rings[a : b + 1]) for a, b in itertools.pairwise(faces[1:])]


def _lines(curves: Curves, height: float) -> str:
    """Return one path of lines that are not joined, y down."""
    return lines_path(curves.transform((1.0, 0.0, 0.0, -1.0, 0.0, height)), _DECIMALS)


def _mended(
    defect: Defect, arrangement: Arrangement, linework: LineWork
) -> dict[str, str]:
    """Return the paths, y down, that cutting or leaving out would take away."""
    if defect.type != "loose end" or not defect.strokes:
        return {}
    loose, height = arrangement.loose, arrangement.frame.height
    ends = np.stack([loose.starts(), loose.ends()])
    own = (np.abs(ends - defect.at).max(axis=2) < _NEAR).any(axis=0)
    whole = np.isin(linework.stroke_of_curve(), defect.strokes)
    return {
        "overhang": _lines(loose.take(np.flatnonzero(own)), height),
        "line": _lines(linework.curves.take(np.flatnonzero(whole)), height),
    }


def _zone(zone: Zone, height: float) -> dict[str, Any]:
    found = zone.symmetry
    group = found.group
    flip = np.array([1.0, -1.0])
    at = np.array([0.0, height])
    drawn: dict[str, Any] = {"cell": [], "centres": [], "axes": []}
    if group.family != "none":
        parts = elements(found)
        origin, *edges = parts.cell
        drawn["cell"] = [_round(origin * flip + at), *(_round(e * flip) for e in edges)]
        drawn["centres"] = [
            [*_round(c * flip + at), int(n)]
            for c, n in zip(parts.centres, parts.orders, strict=True)
        ]
        drawn["axes"] = [
            [*_round(axis[:2] * flip + at), *_round(axis[2:] * flip, 6), glide]
            for glide, axes in ((0, parts.mirrors), (1, parts.glides))
            for axis in axes
        ]
    return {
        "zone": zone.index,
        "role": zone.role,
        "family": group.family,
        "group": "" if group.family == "none" else group.short,
        "certain": found.certain,
        "settling": [] if found.certain else [*settling(zone), "none"],
        "sentence": describe(found),
        "regions": len(zone.faces),
        **drawn,
    }


def _box(low: Floats, high: Floats, height: float) -> Any:
    """Return left, top, width and height of what is drawn, y down."""
    x, y = _round(low), _round(high)
    return [x[0], round(height - y[1], _DECIMALS), *_round(high - low)]


def _box_of(arrangement: Arrangement) -> Any:
    frame = arrangement.frame
    if len(arrangement.vertices) == 0:
        return [0.0, 0.0, round(frame.width, _DECIMALS), round(frame.height, _DECIMALS)]
    return _box(*bounds(arrangement.vertices), frame.height)


def _groups(linework: LineWork, guides: Sequence[str]) -> list[dict[str, Any]]:
    guides = guides or ("",) * len(linework.groups)
    return [
        {
            "layer": group.layer,
            "colour": group.colour,
            "width": group.width,
            "dash": group.dash,
            "count": group.count,
            "length": round(group.length, 1),
            "used": group.used,
            "guide": bool(guide),
        }
        for group, guide in zip(linework.groups, guides, strict=True)
    ]


def compose_lines(linework: LineWork, guides: Sequence[str] = ()) -> dict[str, Any]:
    """Return what the page shows of a drawing before any search.

    Plain values for JSON: ``file``, ``width``, ``height``, ``box``, one path of each
    style of line, and the groups of lines with the row of their path. `guides`: what
    each group that looks like construction is, empty of final lines.
    """
    height = linework.frame.height
    flipped = linework.curves.transform((1.0, 0.0, 0.0, -1.0, 0.0, height))
    text = svg_paths(flipped, 2, linework.stroke_start)
    start = linework.stroke_start.tolist()
    paths: dict[int, list[str]] = {}
    for k, style in enumerate(linework.style.tolist()):
        closed = bool(linework.closed[k])
        paths.setdefault(style, []).append(text.path(start[k], start[k + 1], closed))
    drawn = {linework.styles[style]: k for k, style in enumerate(sorted(paths))}
    low, high = bounds(linework.curves.flatten(0.1)[0].reshape(-1, 2))
    return {
        "file": linework.file,
        "width": round(linework.frame.width, _DECIMALS),
        "height": round(height, _DECIMALS),
        "box": _box(low, high, height),
        "paths": ["".join(rows) for _, rows in sorted(paths.items())],
        "line_groups": [
            group | {"path": drawn.get((g.layer, g.colour, g.width, g.dash))}
            for group, g in zip(_groups(linework, guides), linework.groups, strict=True)
        ],
    }


def _kinds(orbits: Orbits, adjacency: Adjacency, area: Floats) -> list[dict[str, Any]]:
    whole = float(area.sum()) or 1.0
    own = np.bincount(orbits.of_face[1:], area[1:], len(orbits.orbits))
    touching = {int(k) for k in adjacency.self_adjacent}
    return [
        {
            "letter": o.letter,
            "name": o.name,
            "zone": o.zone,
            "count": len(o.faces),
            "cut": o.cut,
            "share": round(float(own[k]) / whole, 5),
            "touches_itself": k in touching,
        }
        for k, o in enumerate(orbits.orbits)
    ]


def _defect(defect: Defect, height: float) -> dict[str, Any]:
    x, y = defect.at
    return {
        "type": defect.type,
        "at": [round(x, _DECIMALS), round(height - y, _DECIMALS)],
        "at_mm": [round(x, _DECIMALS), round(y, _DECIMALS)],
        "size": round(defect.size, _DECIMALS),
        "done": defect.done,
        "remedy": defect.remedy,
    }


def compose_drawing(
    linework: LineWork,
    arrangement: Arrangement,
    outlines: Outlines,
    orbits: Orbits,
    adjacency: Adjacency,
    *,
    real_scale: float,
    scale_known: bool,
    notes: Sequence[Note] = (),
    guides: Sequence[str] = (),
) -> dict[str, Any]:
    """Return what the page shows of a drawing, before any colour.

    Plain values for JSON. `linework`, `arrangement`, `outlines`, `orbits`, `adjacency`:
    results of the stages. `real_scale`: real length / drawn length. `scale_known`:
    whether a physical size is stated. `guides`: as for `compose_lines`.
    """
    frame = arrangement.frame
    height = frame.height
    of_face = orbits.of_face[1:]
    only = {}
    if orbits.strand_of_face is not None:
        # regions by themselves come behind the strands
        strand = orbits.strand_of_face[1:]
        own = len(strand) + np.arange(len(strand))
        only["only"] = np.where(strand < 0, own, strand).tolist()
    witness = arrangement.witness[1:] * (1.0, -1.0) + (0.0, height)
    room = arrangement.inscribed[1:, None]
    return {
        "file": linework.file,
        "sha256": linework.digest,
        "width": round(frame.width, _DECIMALS),
        "box": _box_of(arrangement),
        "height": round(height, _DECIMALS),
        "scale_known": scale_known,
        "close_gaps_mm": arrangement.tolerance.close_gaps,
        "real_scale": float(f"{real_scale:.9g}"),
        "strokes": linework.stroke_count,
        "scope": linework.scope,
        "tolerance": arrangement.tolerance.why,
        "match": orbits.match,
        "shapes": _shapes(outlines, height),
        "open": _lines(arrangement.loose, height),
        "places": _round(np.concatenate([witness, room], axis=1)),
        "kind": of_face.tolist(),
        "turns": orbits.turns_of_face[1:].tolist(),
        "shifts": orbits.shifts_of_face[1:].tolist(),
        **only,
        "area": _round(arrangement.area[1:]),
        "touch": (adjacency.face_pairs.ravel() - 1).tolist(),
        "shared": _round(adjacency.face_shared, 2),
        "kinds": _kinds(orbits, adjacency, arrangement.area),
        "zones": [_zone(z, height) for z in orbits.zones],
        "defects": [
            {**_defect(d, height), **_mended(d, arrangement, linework)}
            for d in sort_defects((*arrangement.defects, *orbits.defects))
        ],
        "line_groups": _groups(linework, guides),
        "other_pens": list(linework.trace.other_pens) if linework.trace else [],
        "notes": _notes(notes),
    }


def _notes(notes: Sequence[Note]) -> list[dict[str, str]]:
    return [{"type": n.type, "text": n.text, "remedy": n.remedy} for n in notes]


def _compose_palette(palette: Palette) -> dict[str, Any]:
    """Return a palette with what its swatches look like under each view.

    Plain values for JSON: name, note, swatches, ``difference`` (CIEDE2000 of every
    pair, to 0.1) and ``views`` (a hex a swatch, a list a view).
    """
    return {
        "name": palette.name,
        "note": palette.note,
        "swatches": [
            {
                "code": s.code,
                "name": s.name,
                "hex": s.hex,
                "medium": s.medium,
                "pigments": list(s.pigments),
                "opacity": s.opacity,
                "lightfastness": s.lightfastness,
                "role": s.role,
            }
            for s in palette.swatches
        ],
        "difference": _round(difference_matrix(palette), 1),
        "views": {
            view: [s.hex for s in view_palette(palette, view).swatches]
            for view in VIEWS
        },
    }


def _pin(
    pin: Pin, arrangement: Arrangement, orbits: Orbits, palette: Palette
) -> dict[str, Any]:
    """Return a pin with the regions that it holds; none when it finds no place."""
    try:
        swatch = palette.index(pin.swatch)
        faces = find_place(arrangement, orbits, pin.where, pin.scope).faces
    except (FillworkError, KeyError):
        swatch, faces = -1, np.zeros(0, np.int32)
    return {
        "where": pin.where,
        "scope": pin.scope,
        "swatch": swatch,
        "regions": (faces - 1).tolist(),
    }


def compose_colouring(
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    colouring: Colouring,
    *,
    pins: Sequence[Pin] = (),
    standing: Sequence[Pin] = (),
    notes: Sequence[Note] = (),
) -> dict[str, Any]:
    """Return what the page shows of a colouring; plain values for JSON.

    `arrangement`, `orbits`, `adjacency`, `colouring`: results of the stages. `pins`:
    the pins to show as the user's own. `standing`: pins that keep all other colours,
    for a page that does not solve. `notes`: notes of the colouring and of the schedule.
    """
    palette = colouring.palette
    colour, width = outline_pen(arrangement, colouring)
    change = colouring.counterchange
    measured = measure_views(arrangement, orbits, adjacency, colouring)
    return {
        "palette": _compose_palette(palette),
        "of_face": colouring.of_face[1:].tolist(),
        "goal": colouring.goal,
        "taste": colouring.rules.taste,
        "best": round(colouring.bound, 1) if np.isfinite(colouring.bound) else None,
        "proven": colouring.proven,
        "ground": colouring.ground,
        "outline": {"colour": colour, "width": round(width, _DECIMALS)},
        "pins": [_pin(p, arrangement, orbits, palette) for p in pins],
        "standing": [_pin(p, arrangement, orbits, palette) for p in standing],
        "warnings": {
            view: [str(w) for w in measured[view]["warnings"]] for view in VIEWS
        },
        "counterchange": None
        if change is None
        else {
            "colours": change.colours,
            "kinds": [
                {"letter": letter, "choice": choice, "choices": choices}
                for letter, choice, choices, _ in change.kinds
            ],
        },
        "notes": _notes(notes),
    }
