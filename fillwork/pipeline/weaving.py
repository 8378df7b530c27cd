"""Weaving: a drawing of plain lines, handed back as a drawing of bands."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.pipeline.handed import Handed
from fillwork.pipeline.progress import quiet
from fillwork.units import plain

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.bands.model import Woven
    from fillwork.linework import LineWork
    from fillwork.plans.model import Plan
    from fillwork.symmetry.model import Symmetry

    Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, eq=False)
class Weaving(Handed):
    """Hold a woven drawing and what it can be written as."""

    woven: Woven  # the bands
    linework: LineWork  # the same as line work, with the page of the drawing
    plan: Plan
    plain: Symmetry | None  # symmetry of the middle lines, of the largest zone
    bound: str | None  # group of the bands: what of it keeps over and under

    def pictures(self) -> dict[str, bytes]:
        """Return the woven drawing and a picture of it."""
        from fillwork.renderers.encoders.png import to_png
        from fillwork.renderers.encoders.svg import to_svg
        from fillwork.renderers.lines import lines_scene

        scene = lines_scene(self.linework, title="Woven bands")
        scene = replace(scene, paper="#ffffff")
        return {
            "drawing.svg": to_svg(scene),
            "woven.png": to_png(scene, self.plan.png_width),
        }

    def report(self) -> dict[str, object]:
        """Return what was woven as plain values; lengths in mm."""
        woven = self.woven
        points = woven.strands.lines.vertices
        room = woven.widest
        return {
            "schema": 1,
            "drawing": {"file": self.linework.file, "sha256": self.linework.digest},
            "band_mm": woven.width,
            "gap_mm": woven.gap,
            "room_mm": None if room is None or np.isinf(room) else room,
            "strands": [
                {
                    "strand": k + 1,
                    "length_mm": round(s.length, 3),
                    "closed": s.closed,
                    "width_mm": 0.0 if s.border else woven.width,
                }
                for k, s in enumerate(woven.strands.strands)
            ],
            "crossings": len(woven.crossings.double),
            "piled_mm": _places(points[woven.crossings.piled]),
            "not_in_turn_mm": _places(points[woven.crossings.stuck]),
            "symmetry": {
                "lines": None if self.plain is None else self.plain.group.short,
                "bands": self.bound,
            },
        }

    def table(self) -> str:
        """Return what was woven as a few lines of text.

        Lines that end in a line break.
        """
        woven = self.woven
        bands = [s for s in woven.strands.strands if not s.border]
        closed = sum(s.closed for s in bands)
        length = sum(s.length for s in bands) / 1000
        room = ""
        if woven.widest is not None and np.isfinite(woven.widest):
            room = f", room for {plain(woven.widest)} mm"
        gap = f", {woven.gap:.4g} mm free beside the one above" if woven.gap else ""
        of = ""
        if (
            self.plan.bands.width
            and abs(woven.width / self.plan.bands.width - 1) > 1e-6
        ):
            of = f" on the drawing, {self.plan.bands.width:g} mm in truth"
        rows = [
            f"strands   {len(bands)}, {closed} of them closed; {length:.3g} m in all",
            f"bands     {woven.width:.4g} mm wide{of}{gap}{room}",
            f"crossings {len(woven.crossings.double)}"
            + (
                f" and {len(woven.crossings.piled)} of three or more"
                * bool(len(woven.crossings.piled))
            ),
        ]
        if self.plain is not None and self.bound is not None:
            before = self.plain.group.short
            rows.append(f"symmetry  {before} of the lines, {self.bound} of the bands")
        return "\n".join(rows) + "\n"


def _places(points: Floats) -> list[list[float]]:
    """Return points as lists of mm."""
    return [[round(float(v), 3) for v in point] for point in points]


def weave_drawing(
    source: str | Path | bytes,
    plan: Plan,
    *,
    name: str = "",
    allow_large: bool = False,
    progress: Progress = quiet,
) -> Weaving:
    """Weave the lines of a drawing into bands.

    `source`: the drawing's file, or its content. `plan`: all choices; `Plan.bands` must
    name a width. Raises `FillworkError` if the drawing cannot be read, or there is no
    room for the bands.
    """
    from fillwork.bands.drawing import as_linework, with_room_for_bands
    from fillwork.errors import PlanError
    from fillwork.pipeline.checks import check_plan
    from fillwork.pipeline.reading import read_lines
    from fillwork.pipeline.surveying import arrange, weave, without_mends
    from fillwork.pipeline.weave_group import group_of_weave

    check_plan(plan)
    if plan.bands.width is None:
        what = "how wide the bands are is not said"
        raise PlanError(what, mend="add --band LENGTH, for instance --band 4mm")
    progress("reading the drawing")
    drawn = read_lines(
        source, plan, name=name, allow_large=allow_large, progress=progress
    )
    progress("finding where lines cross")
    middle = arrange(drawn, plan, allow_large=allow_large)
    progress("weaving")
    woven = weave(drawn.file, middle, plan, measure_room=True)
    linework = as_linework(woven, drawn)
    progress("finding the symmetry")
    plain = _symmetry(middle)
    bound = None if plain is None else group_of_weave(plain, woven)
    if plain is not None and bound is None:
        # found on the rails, where no rule tells what keeps over and under
        bands = arrange(linework, without_mends(plan), allow_large=allow_large)
        found = _symmetry(bands)
        bound = None if found is None else found.group.short
    linework = with_room_for_bands(linework, woven.width / 2)
    return Weaving(woven, linework, plan, plain, bound)


def _symmetry(arrangement: Arrangement) -> Symmetry | None:
    """Return the symmetry of the largest zone."""
    from fillwork.symmetry.zones.find import find_zones

    if arrangement.face_count <= 1:
        return None
    return find_zones(arrangement)[0].symmetry
