"""Plan the painted finish of geometric line work.

The public names load on first use (PEP 562), so that ``import fillwork`` costs
nothing until something is asked of it.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from fillwork.version import __version__

if TYPE_CHECKING:
    from fillwork.arrangement.build import build_arrangement
    from fillwork.arrangement.model import Arrangement, Defect
    from fillwork.arrangement.outlines import build_outlines
    from fillwork.colouring.adjacency import measure_adjacency
    from fillwork.colouring.assign import assign_colours
    from fillwork.colouring.colourways import find_colourways
    from fillwork.colouring.model import Colouring, Palette, Pin, Rules, Swatch
    from fillwork.colouring.palette_file import list_palettes, read_palette
    from fillwork.errors import FillworkError
    from fillwork.linework import LineWork
    from fillwork.notes import Note
    from fillwork.pipeline.finish import Finish, colour_drawing
    from fillwork.pipeline.stages import (
        Survey,
        colour_survey,
        make_survey,
        read_plan,
    )
    from fillwork.pipeline.tables import contact_graph, region_columns, region_geojson
    from fillwork.plans.file import parse_plan, plan_to_toml
    from fillwork.plans.model import PaintSettings, Plan, SheetSettings
    from fillwork.readers import read_linework
    from fillwork.symmetry.detect import find_symmetry
    from fillwork.symmetry.model import Orbits, Symmetry, Zone
    from fillwork.symmetry.orbits import find_orbits
    from fillwork.symmetry.zones import find_zones
    from fillwork.tolerance import Tolerance

_HOMES = {
    "Arrangement": "fillwork.arrangement.model",
    "Colouring": "fillwork.colouring.model",
    "Defect": "fillwork.arrangement.model",
    "FillworkError": "fillwork.errors",
    "Finish": "fillwork.pipeline.finish",
    "LineWork": "fillwork.linework",
    "Note": "fillwork.notes",
    "Orbits": "fillwork.symmetry.model",
    "PaintSettings": "fillwork.plans.model",
    "Palette": "fillwork.colouring.model",
    "Pin": "fillwork.colouring.model",
    "Plan": "fillwork.plans.model",
    "Rules": "fillwork.colouring.model",
    "SheetSettings": "fillwork.plans.model",
    "Survey": "fillwork.pipeline.stages",
    "Swatch": "fillwork.colouring.model",
    "Symmetry": "fillwork.symmetry.model",
    "Tolerance": "fillwork.tolerance",
    "Zone": "fillwork.symmetry.model",
    "assign_colours": "fillwork.colouring.assign",
    "build_arrangement": "fillwork.arrangement.build",
    "build_outlines": "fillwork.arrangement.outlines",
    "colour_drawing": "fillwork.pipeline.finish",
    "colour_survey": "fillwork.pipeline.stages",
    "contact_graph": "fillwork.pipeline.tables",
    "find_colourways": "fillwork.colouring.colourways",
    "find_orbits": "fillwork.symmetry.orbits",
    "find_symmetry": "fillwork.symmetry.detect",
    "find_zones": "fillwork.symmetry.zones",
    "list_palettes": "fillwork.colouring.palette_file",
    "make_survey": "fillwork.pipeline.stages",
    "measure_adjacency": "fillwork.colouring.adjacency",
    "parse_plan": "fillwork.plans.file",
    "plan_to_toml": "fillwork.plans.file",
    "read_linework": "fillwork.readers",
    "read_palette": "fillwork.colouring.palette_file",
    "read_plan": "fillwork.pipeline.stages",
    "region_columns": "fillwork.pipeline.tables",
    "region_geojson": "fillwork.pipeline.tables",
}

__all__ = [
    "Arrangement",
    "Colouring",
    "Defect",
    "FillworkError",
    "Finish",
    "LineWork",
    "Note",
    "Orbits",
    "PaintSettings",
    "Palette",
    "Pin",
    "Plan",
    "Rules",
    "SheetSettings",
    "Survey",
    "Swatch",
    "Symmetry",
    "Tolerance",
    "Zone",
    "__version__",
    "assign_colours",
    "build_arrangement",
    "build_outlines",
    "colour_drawing",
    "colour_survey",
    "contact_graph",
    "find_colourways",
    "find_orbits",
    "find_symmetry",
    "find_zones",
    "list_palettes",
    "make_survey",
    "measure_adjacency",
    "parse_plan",
    "plan_to_toml",
    "read_linework",
    "read_palette",
    "read_plan",
    "region_columns",
    "region_geojson",
]


def __getattr__(name: str) -> Any:
    """Load a public name on first use."""
    if name not in _HOMES:
        message = f"module 'fillwork' has no attribute {name!r}"
        raise AttributeError(message)
    value = getattr(importlib.import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)
