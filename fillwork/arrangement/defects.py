"""Defects put into words: what is not clean, and what was done about it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Defect
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import distinct
from fillwork.notes import Note

if TYPE_CHECKING:
    from fillwork.arrangement.closings import Closings
    from fillwork.arrangement.edges import Edges
    from fillwork.arrangement.ends import Tips
    from fillwork.arrays import AnyInts, Bools, Floats, Ints32

_MOST_DOUBLED = 200


def _point(p: Floats) -> tuple[float, float]:
    return (float(p[0]), float(p[1]))


def closing_defects(
    closings: Closings,
    start: Floats,
    strokes: AnyInts,
    target_strokes: AnyInts,
    ends: Bools,
) -> list[Defect]:
    """Return one defect for each gap that was closed, in the order of the closings.

    `start` (n, 2): where each begins, mm on the page. `strokes` and `target_strokes`
    (n,): strokes on both sides of the gap. `ends` (n,): whether a line ends there, no
    corner.
    """
    found = []
    for k in range(len(closings)):
        mend = "lengthen the line" if ends[k] else "move the corner"
        pair = sorted({int(strokes[k]), int(target_strokes[k])} - {-1})
        found.append(
            Defect(
                "gap",
                _point(start[k]),
                float(closings.size[k]),
                "closed",
                f"{mend} in the drawing; {_leaving(closings, k)}",
                tuple(pair),
            )
        )
    return found


def _leaving(closings: Closings, k: int) -> str:
    """Say which option leaves a gap open, and those that are as long."""
    return f"--close-gaps {0.95 * closings.size[k]:.2g}mm leaves it"


def tip_defects(
    tips: Tips, place: Floats, strokes: AnyInts, overshoot: Bools
) -> list[Defect]:
    """Return one defect for each overshoot and each loose end; from left to right.

    `place` (n, 2): where they are, mm on the page. `strokes` (n,): their strokes.
    `overshoot` (n,): which were trimmed.
    """
    found = []
    for k in np.lexsort((place[:, 1], place[:, 0])).tolist():
        if overshoot[k]:
            kind, done = "overshoot", "trimmed"
            remedy = "shorten the line in the drawing"
        else:
            kind, done = "loose end", "left"
            remedy = "nothing, if meant so; else join it, or use --close or --cut here"
        stroke = (int(strokes[k]),) if strokes[k] >= 0 else ()
        found.append(
            Defect(kind, _point(place[k]), float(tips.length[k]), done, remedy, stroke)
        )
    return found


def bridge_defects(
    edges: Edges, vertices: Floats, curve_stroke: Ints32
) -> list[Defect]:
    """Return one defect for each line that joins two figures and parts nothing.

    `edges`: the edges with the same face on both sides. `vertices` (V, 2): places of
    vertices, mm on the page. `curve_stroke`: stroke of each curve.
    """
    if len(edges) == 0:
        return []
    vertex = edges.vertex.reshape(-1)
    row = np.repeat(np.arange(len(edges)), 2)
    order = np.argsort(vertex, kind="stable")
    pair = np.flatnonzero(vertex[order][1:] == vertex[order][:-1])
    root = components(row[order][pair], row[order][pair + 1], len(edges))
    a, b = edges.ends(vertices)
    step = np.hypot(*(b - a).T)
    total = np.bincount(root, weights=step, minlength=len(edges))
    found = []
    for r in np.unique(root).tolist():
        member = np.flatnonzero(root == r)
        longest = int(member[np.argmax(step[member])])
        strokes = np.unique(curve_stroke[edges.curve[member]])
        found.append(
            Defect(
                "bridge",
                _point((a[longest] + b[longest]) / 2),
                float(total[r]),
                "left",
                "nothing, if meant so: it parts no regions",
                tuple(int(s) for s in strokes if s >= 0),
            )
        )
    return found


def doubled_defects(
    edges: Edges, vertices: Floats, curve_stroke: Ints32
) -> tuple[list[Defect], list[Note]]:
    """Return a defect for each pair of strokes that were drawn over each other.

    `vertices` (V, 2): places of vertices, mm on the page. `curve_stroke`: stroke of
    each curve. Returns `defects`: None where sides drawn twice are the rule, as in
    drawings of polygons; `notes`: then one note with their number.
    """
    count = np.diff(edges.source_start)
    several = np.flatnonzero(count > 1)
    if len(several) == 0:
        return [], []
    place = edges.source_start[several]
    extra = count[several] - 1
    row = np.repeat(np.arange(len(several)), extra)
    k = np.arange(len(row)) - (np.cumsum(extra) - extra)[row] + 1
    first = curve_stroke[edges.source_curve[place[row]]].astype(np.int64)
    second = curve_stroke[edges.source_curve[place[row] + k]].astype(np.int64)
    drawn = (first >= 0) & (second >= 0)
    if not drawn.any():
        return [], []
    row, first, second = row[drawn], first[drawn], second[drawn]
    low, high = np.minimum(first, second), np.maximum(first, second)
    key = low * (len(curve_stroke) + 1) + high
    pairs, group = np.unique(key, return_inverse=True)
    if len(pairs) > _MOST_DOUBLED or len(several) > 0.3 * len(edges) + 8:
        text = (
            f"{len(distinct(row)):,} pieces of line lie on others, as where shapes "
            "share their sides or circles touch; each was taken once"
        )
        return [], [Note("arrangement", "doubled lines", text)]
    edge = several[row]
    a, b = vertices[edges.vertex[edge, 0]], vertices[edges.vertex[edge, 1]]
    step = np.hypot(*(b - a).T)
    total = np.bincount(group, weights=step)
    found = []
    for g in range(len(pairs)):
        member = np.flatnonzero(group == g)
        longest = int(member[np.argmax(step[member])])
        found.append(
            Defect(
                "doubled",
                _point((a[longest] + b[longest]) / 2),
                float(total[g]),
                "merged",
                "delete one of the two lines in the drawing",
                tuple(sorted({int(low[longest]), int(high[longest])})),
            )
        )
    return found, []
