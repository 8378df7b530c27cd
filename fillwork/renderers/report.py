"""The report: everything that was found and chosen, as JSON with a fixed schema.

Lengths are mm of the drawing, points mm from the page's lower left corner, y
up, ΔE00 unrounded beyond three decimals, so that reports agree across machines.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.bands.model import CROSSING, GROUND
from fillwork.colouring.outline import measure_outline
from fillwork.renderers.rows import Coded, Rows, area_value, json_text, mm_value
from fillwork.renderers.schedule_report import schedule_report
from fillwork.symmetry.kinds.orbits import letters as letter_of
from fillwork.units import fine

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fillwork.arrangement.model import Arrangement, Defect
    from fillwork.arrays import AnyInts, Floats
    from fillwork.bands.model import Bands
    from fillwork.colouring.model import Adjacency, Colouring
    from fillwork.linework import LineGroup, LineWork, TraceRecord
    from fillwork.notes import Note
    from fillwork.plans.model import Schedule
    from fillwork.renderers.rows import Column
    from fillwork.symmetry.model import Orbits, Symmetry, Zone

SCHEMA = 1


def _fine_column(values: Floats) -> Column:
    """Round measures as `area_value` does, all at once where three decimals do."""
    found = np.round(values, 3) + 0.0
    rest = np.flatnonzero(~(np.abs(values) >= 0.1) & (values != 0))
    if not np.isfinite(values).all():
        return _each([area_value(value) for value in values.tolist()])
    found[rest] = [fine(value) for value in values[rest].tolist()]
    return found


def _each(values: Sequence[Any]) -> Coded:
    """Return a column of values that are no plain numbers."""
    return Coded(values, np.arange(len(values)))


def _few(values: Sequence[Any]) -> Coded:
    """Return a column of texts, of whole numbers or of None, few of them different."""
    number: dict[Any, int] = {}
    rows = [number.setdefault(value, len(number)) for value in values]
    return Coded(tuple(number), np.array(rows, np.int64))


def _point(point: Sequence[float] | Floats) -> list[float | None]:
    return [mm_value(float(point[0])), mm_value(float(point[1]))]


def _fine(value: float) -> float:
    """Round residuals, which may be far below a thousandth; not below arithmetic."""
    return float(f"{round(value, 9):.3g}") + 0.0


def _symmetry(zone: Zone) -> dict[str, Any]:
    found: Symmetry = zone.symmetry
    group = found.group
    none = group.family == "none"
    return {
        "zone": zone.index,
        "family": group.family,
        "group": None if none else group.short,
        "orbifold": None if none else group.orbifold,
        "certain": found.certain,
        "reason": found.reason,
        "candidates": [
            {
                "group": c.group,
                "fit": mm_value(c.fit),
                "residual_mm": _fine(c.residual),
                "reason": c.reason,
            }
            for c in found.candidates
        ],
        "residual_mm": _fine(found.residual),
        "basis_mm": (
            [] if found.lattice is None else [_point(v) for v in found.lattice.basis]
        ),
        "centre_mm": None if found.centre is None else _point(found.centre),
        "repeats_seen": round(float(found.repeats_seen), 2),
        "stated": found.stated,
        "role": zone.role,
        "regions": len(zone.faces),
    }


def _defect(defect: Defect) -> dict[str, Any]:
    return {
        "type": defect.type,
        "at_mm": _point(defect.at),
        "size_mm": mm_value(defect.size),
        "done": defect.done,
        "remedy": defect.remedy,
    }


def _notes(notes: Iterable[Note]) -> list[dict[str, Any]]:
    found = []
    for note in notes:
        entry: dict[str, Any] = {
            "type": note.type,
            "text": note.text,
            "remedy": note.remedy,
            "stage": note.stage,
        }
        if note.at is not None:
            entry["at_mm"] = _point(note.at)
        if note.source is not None:
            entry["element"], entry["line"] = note.source
        found.append(entry)
    return found


def _line_group(group: LineGroup) -> dict[str, Any]:
    return {
        "layer": group.layer,
        "colour": group.colour,
        "width_mm": mm_value(group.width),
        "dash": group.dash,
        "count": group.count,
        "length_mm": mm_value(group.length),
        "used": group.used,
    }


def _regions(arrangement: Arrangement, orbits: Orbits, bands: Bands | None) -> Rows:
    zone_of = np.ones(arrangement.face_count, np.int32)
    for zone in orbits.zones:
        zone_of[zone.faces] = zone.index
    letters = [o.letter for o in orbits.orbits]
    return Rows(
        {
            "id": np.arange(1, arrangement.face_count),
            "kind": Coded([*letters, None], orbits.of_face[1:]),
            "zone": zone_of[1:],
            "at_mm": np.round(arrangement.witness[1:], 3) + 0.0,
            "area_mm2": _fine_column(arrangement.area[1:]),
            "cut": orbits.cut[1:],
            **({} if bands is None else {"band": _bands(bands)}),
        }
    )


def _kinds(orbits: Orbits, adjacency: Adjacency) -> Rows:
    kinds = orbits.orbits
    none = [None] * len(kinds)
    return Rows(
        {
            "letter": _each([o.letter for o in kinds]),
            "name": _each([o.name for o in kinds]),
            "zone": np.array([o.zone for o in kinds], np.int64),
            "count": np.array([len(o.faces) for o in kinds], np.int64),
            "cut": np.array([o.cut for o in kinds], np.int64),
            "area_mm2": _fine_column(np.array([o.area for o in kinds], np.float64)),
            "site_symmetry": _few([o.site_symmetry for o in kinds]),
            "touches_itself": np.isin(np.arange(len(kinds)), adjacency.self_adjacent),
            "family": _few(orbits.families or none),
            "figure": _few([f or None for f in orbits.figures or none]),
        }
    )


def _contacts(orbits: Orbits, adjacency: Adjacency) -> Rows:
    letters = [o.letter for o in orbits.orbits]
    return Rows(
        {
            "a": Coded(letters, adjacency.pairs[:, 0]),
            "b": Coded(letters, adjacency.pairs[:, 1]),
            "shared_mm": np.round(adjacency.shared, 3) + 0.0,
            "corner_only": np.asarray(adjacency.corner_only, bool),
        }
    )


def _bands(bands: Bands) -> Coded:
    """Return the strand that each region is a part of, None for the ground."""
    pairs = np.stack([bands.strand[1:], bands.part[1:]], axis=1)
    some, row = np.unique(pairs, axis=0, return_inverse=True)
    values = [
        None
        if part == GROUND
        else {"strand": strand + 1, "part": "crossing" if part == CROSSING else "band"}
        for strand, part in some.tolist()
    ]
    return Coded(values, row.reshape(-1))


def _strands(bands: Bands) -> list[dict[str, Any]]:
    return [
        {
            "strand": n,
            "orbit": letter_of(s.orbit).lower(),
            "length_mm": mm_value(s.length),
            "closed": s.closed,
            "width_mm": mm_value(s.width),
        }
        for n, s in enumerate(bands.strands, 1)
    ]


def trace_report(trace: TraceRecord) -> dict[str, Any]:
    """Return how a picture was traced; lengths in mm, corners in px."""
    return {
        "sure": trace.sure,
        "doubtful": [
            {
                "at_mm": _point(d.at),
                "what": d.what,
                "size_mm": mm_value(d.size),
                "remedy": d.remedy,
            }
            for d in trace.doubtful
        ],
        "page_mm": _point(trace.page),
        "corners_px": [_point(c) for c in trace.corners],
        "pen_width_mm": mm_value(trace.pen_width),
        "resolution_dpi": round(trace.dpi, 1),
        "other_pens": list(trace.other_pens),
    }


def survey_report(
    linework: LineWork,
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    *,
    version: str,
    real_scale: float,
    scale_known: bool,
    notes: Iterable[Note],
    bands: Bands | None = None,
) -> dict[str, Any]:
    """Return what was found in a drawing, without colours.

    Values for `to_json`, in a fixed order; long lists as `Rows`. `version`: fillwork's
    version. `real_scale`: real length / drawn length. `scale_known`: whether the
    drawing or the user states a physical size.
    """
    tolerance = arrangement.tolerance
    zones = [_symmetry(z) for z in orbits.zones]
    return {
        "schema": SCHEMA,
        "fillwork": version,
        **({} if linework.trace is None else {"trace": trace_report(linework.trace)}),
        "drawing": {
            "file": linework.file,
            "sha256": linework.digest,
            "width_mm": mm_value(arrangement.frame.width),
            "height_mm": mm_value(arrangement.frame.height),
            "scale_known": scale_known,
            "real_scale": float(f"{real_scale:.9g}"),
            "scope": linework.scope,
            "strokes": linework.stroke_count,
            "line_groups": [_line_group(g) for g in linework.groups],
        },
        "tolerance": {
            "join_within_mm": float(f"{tolerance.join_within:.4g}"),
            "close_gaps_mm": float(f"{tolerance.close_gaps:.4g}"),
            "why": tolerance.why,
        },
        "arrangement": {
            "vertices": len(arrangement.vertices),
            "edges": arrangement.edge_count,
            "faces": arrangement.face_count,
            "components": arrangement.components,
            "euler": arrangement.euler,
            "area_difference_mm2": mm_value(arrangement.area_difference),
        },
        "regions": _regions(arrangement, orbits, bands),
        **({} if bands is None else {"strands": _strands(bands)}),
        "defects": [_defect(d) for d in (*arrangement.defects, *orbits.defects)],
        "match": orbits.match,
        "alike": orbits.alike,
        "symmetry": zones[0] if zones else None,
        "zones": zones,
        "kinds": _kinds(orbits, adjacency),
        "contacts": _contacts(orbits, adjacency),
        "notes": _notes(notes),
    }


def _worn(orbits: Orbits, swatch_of: AnyInts, names: Sequence[str]) -> Coded:
    """Return the swatches that the regions of each kind bear."""
    worn = [
        tuple(np.unique(swatch_of[orbit.faces]).tolist())
        if len(orbit.faces) > 1
        else (int(swatch_of[orbit.faces[0]]),)
        for orbit in orbits.orbits
    ]
    found = _few(worn)
    return Coded([[names[s] for s in row] for row in found.values], found.rows)


def _pair_differences(
    orbits: Orbits, adjacency: Adjacency, colouring: Colouring, differences: Floats
) -> Floats:
    """Return the smallest ΔE00 over the touching faces of each pair of kinds.

    NaN for pairs whose faces are not known to touch.
    """
    faces = np.concatenate([adjacency.face_pairs, adjacency.face_corners])
    if len(faces) == 0 or len(adjacency.pairs) == 0:
        return np.full(len(adjacency.pairs), np.nan)
    swatch = colouring.of_face[faces]
    value = differences[swatch[:, 0], swatch[:, 1]]
    count = len(orbits.orbits)
    low, high = np.sort(orbits.of_face[faces].astype(np.int64), axis=1).T
    key = low * count + high
    keys, row = np.unique(key, return_inverse=True)
    least = np.full(len(keys), np.inf)
    np.minimum.at(least, row, value)
    wanted = adjacency.pairs.astype(np.int64) @ (count, 1)
    at = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
    return np.where(keys[at] == wanted, least[at], np.nan)


def _colouring(colouring: Colouring, letters: Sequence[str]) -> dict[str, Any]:
    closest, change = colouring.closest, colouring.counterchange
    outline = measure_outline(colouring)
    return {
        "palette": colouring.palette.name,
        "goal": colouring.goal,
        "taste": colouring.rules.taste,
        "smallest_difference": mm_value(colouring.smallest_difference),
        "closest": None if closest is None else [letters[k] for k in closest],
        "best_possible": mm_value(colouring.bound),
        "proven": colouring.proven,
        "equal_neighbours": [
            {"a": letters[a], "b": letters[b], "shared_mm": mm_value(shared)}
            for a, b, shared in colouring.equal_neighbours
        ],
        "outline": None
        if outline is None
        else {
            "colour": outline.hex,
            "name": outline.name,
            "smallest_difference": mm_value(outline.smallest_difference),
            "against": outline.against,
        },
        "counterchange": None
        if change is None
        else {
            "colours": change.colours,
            "kinds": {
                letter: {"choice": choice, "choices": choices, "subgroup": name}
                for letter, choice, choices, name in change.kinds
            },
        },
    }


def _swatches(arrangement: Arrangement, colouring: Colouring) -> list[dict[str, Any]]:
    """Return the swatches that were used, with what each covers."""
    swatches = colouring.palette.swatches
    of_region = colouring.of_face[1:]
    area = np.bincount(of_region, arrangement.area[1:], len(swatches))
    count = np.bincount(of_region, minlength=len(swatches))
    total = float(area.sum()) or 1.0
    return [
        {
            "code": s.code,
            "name": s.name,
            "hex": s.hex,
            "area_mm2": area_value(area[k]),
            "share": round(float(area[k]) / total, 5),
            "regions": int(count[k]),
        }
        for k, s in enumerate(swatches)
        if count[k]
    ]


def colouring_report(
    survey: dict[str, Any],
    arrangement: Arrangement,
    orbits: Orbits,
    adjacency: Adjacency,
    colouring: Colouring,
    differences: Floats,
    *,
    schedule: Schedule | None = None,
    views: dict[str, Any] | None = None,
    notes: Iterable[Note] = (),
    outputs: Iterable[tuple[str, str]] = (),
) -> dict[str, Any]:
    """Return the survey's report with the colouring, schedule and outputs.

    Values for `to_json`, in a fixed order; long lists as `Rows`. `survey`: result of
    `survey_report`; not changed. `arrangement`, `orbits`, `adjacency`, `colouring`:
    results of the stages. `differences` (n, n): CIEDE2000 between the palette's
    swatches. `schedule`: what to buy and in what order to paint. `outputs`: file name
    and SHA-256 of each file written.
    """
    swatch_of = colouring.of_face
    names = [s.name for s in colouring.palette.swatches]
    report = dict(survey)
    regions, kinds, contacts = (survey[key] for key in ("regions", "kinds", "contacts"))
    report["regions"] = regions.with_column("swatch", Coded(names, swatch_of[1:]))
    report["kinds"] = kinds.with_column("swatches", _worn(orbits, swatch_of, names))
    if "strands" in survey:
        worn = {
            r["band"]["strand"]: r["swatch"] for r in report["regions"] if r["band"]
        }
        report["strands"] = [
            {**s, "swatch": worn.get(s["strand"])} for s in survey["strands"]
        ]
    smallest = _pair_differences(orbits, adjacency, colouring, differences)
    apart, row = np.unique(smallest, return_inverse=True)
    difference = Coded([mm_value(value) for value in apart.tolist()], row)
    report["contacts"] = contacts.with_column("difference", difference)
    report["colouring"] = _colouring(colouring, [o.letter for o in orbits.orbits])
    report["swatches"] = _swatches(arrangement, colouring)
    report["schedule"] = (
        {} if schedule is None else schedule_report(schedule, colouring, orbits)
    )
    report["views"] = views or {}
    report["notes"] = [*survey["notes"], *_notes(notes)]
    report["outputs"] = [{"file": f, "sha256": d} for f, d in outputs]
    return report


def to_json(report: dict[str, Any]) -> bytes:
    """Return a report as JSON text, one list entry a line, with its own digest.

    UTF-8. Its ``self_sha256`` is the SHA-256 of the same text with that value left
    empty, so that an edited report can be told.

    `report`: plain values, or long lists as `Rows`.
    """
    lines = []
    for key, value in {**report, "self_sha256": ""}.items():
        name = json_text(key)
        if isinstance(value, Rows) and len(value):
            lines.append(f" {name}: [\n  ".encode() + value.text(",\n  ") + b"\n ]")
        elif isinstance(value, Sequence) and value and isinstance(value[0], dict):
            rows = ",\n  ".join(map(json_text, value))
            lines.append(f" {name}: [\n  {rows}\n ]".encode())
        else:
            value = [] if isinstance(value, Rows) else value
            lines.append(f" {name}: {json_text(value)}".encode())
    text = b"{\n" + b",\n".join(lines) + b"\n}\n"
    own = hashlib.sha256(text).hexdigest()
    head, tail = text.rsplit(b'"self_sha256": ""', 1)
    return head + f'"self_sha256": "{own}"'.encode() + tail
