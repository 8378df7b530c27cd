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
    from fillwork.arrangement.model import Arrangement, Defect, Outlines
    from fillwork.arrangement.outlines import build_outlines
    from fillwork.bands.model import Bands, BandStrand
    from fillwork.colouring.adjacency import measure_adjacency
    from fillwork.colouring.model import (
        Adjacency,
        Colouring,
        Colourway,
        Counterchange,
        LeafSheet,
        Palette,
        Pin,
        Pins,
        Rules,
        Scope,
        Swatch,
    )
    from fillwork.colouring.palettes.file import list_palettes, read_palette
    from fillwork.colouring.search.assign import assign_colours
    from fillwork.colouring.search.colourways import find_colourways
    from fillwork.errors import FillworkError
    from fillwork.geometry.affine import Affine
    from fillwork.geometry.curves import Curves
    from fillwork.linework import (
        Doubtful,
        Frame,
        LineGroup,
        LineWork,
        Stroke,
        TraceRecord,
    )
    from fillwork.notes import Note
    from fillwork.pipeline.batch.parts import Row
    from fillwork.pipeline.batch.run import Batch, colour_batch
    from fillwork.pipeline.colourways import contact_sheet
    from fillwork.pipeline.finish import Finish
    from fillwork.pipeline.job import colour_drawing
    from fillwork.pipeline.painting import Coloured, colour_survey
    from fillwork.pipeline.picture import survey_picture
    from fillwork.pipeline.plotting import plot_regions
    from fillwork.pipeline.surveying import Survey, make_survey
    from fillwork.pipeline.tables import contact_graph, region_columns, region_geojson
    from fillwork.pipeline.taking import read_plan
    from fillwork.plans.file import parse_plan, plan_to_toml
    from fillwork.plans.leafing import CutLeaf, LeafPlan, LeafShape
    from fillwork.plans.media import Clash
    from fillwork.plans.model import (
        BandSettings,
        Buy,
        LayingSettings,
        Made,
        PaintSettings,
        Plan,
        Quantity,
        ScanSettings,
        Schedule,
        SheetSettings,
        Step,
        UsedPaint,
    )
    from fillwork.readers import read_linework
    from fillwork.renderers.scene import Scene
    from fillwork.symmetry.action import face_action
    from fillwork.symmetry.kinds.orbits import find_orbits
    from fillwork.symmetry.lines.detect import find_symmetry
    from fillwork.symmetry.model import (
        Candidate,
        Group,
        Lattice,
        Operation,
        Orbit,
        Orbits,
        Symmetry,
        Zone,
    )
    from fillwork.symmetry.zones.find import find_zones
    from fillwork.tolerance import Tolerance

_HOMES = {
    "Adjacency": "fillwork.colouring.model",
    "Affine": "fillwork.geometry.affine",
    "Arrangement": "fillwork.arrangement.model",
    "BandSettings": "fillwork.plans.model",
    "BandStrand": "fillwork.bands.model",
    "Bands": "fillwork.bands.model",
    "Batch": "fillwork.pipeline.batch.run",
    "Buy": "fillwork.plans.model",
    "Candidate": "fillwork.symmetry.model",
    "Clash": "fillwork.plans.media",
    "Coloured": "fillwork.pipeline.painting",
    "Colouring": "fillwork.colouring.model",
    "Colourway": "fillwork.colouring.model",
    "Counterchange": "fillwork.colouring.model",
    "Curves": "fillwork.geometry.curves",
    "Defect": "fillwork.arrangement.model",
    "Doubtful": "fillwork.linework",
    "FillworkError": "fillwork.errors",
    "Finish": "fillwork.pipeline.finish",
    "Frame": "fillwork.linework",
    "Group": "fillwork.symmetry.model",
    "Lattice": "fillwork.symmetry.model",
    "LayingSettings": "fillwork.plans.model",
    "LeafPlan": "fillwork.plans.leafing",
    "LeafShape": "fillwork.plans.leafing",
    "CutLeaf": "fillwork.plans.leafing",
    "LeafSheet": "fillwork.colouring.model",
    "LineGroup": "fillwork.linework",
    "LineWork": "fillwork.linework",
    "Made": "fillwork.plans.model",
    "Note": "fillwork.notes",
    "Operation": "fillwork.symmetry.model",
    "Orbit": "fillwork.symmetry.model",
    "Orbits": "fillwork.symmetry.model",
    "Outlines": "fillwork.arrangement.model",
    "PaintSettings": "fillwork.plans.model",
    "Palette": "fillwork.colouring.model",
    "Pin": "fillwork.colouring.model",
    "Pins": "fillwork.colouring.model",
    "Plan": "fillwork.plans.model",
    "Quantity": "fillwork.plans.model",
    "Row": "fillwork.pipeline.batch.parts",
    "Rules": "fillwork.colouring.model",
    "ScanSettings": "fillwork.plans.model",
    "Scene": "fillwork.renderers.scene",
    "Schedule": "fillwork.plans.model",
    "Scope": "fillwork.colouring.model",
    "SheetSettings": "fillwork.plans.model",
    "Step": "fillwork.plans.model",
    "Stroke": "fillwork.linework",
    "Survey": "fillwork.pipeline.surveying",
    "Swatch": "fillwork.colouring.model",
    "Symmetry": "fillwork.symmetry.model",
    "Tolerance": "fillwork.tolerance",
    "TraceRecord": "fillwork.linework",
    "UsedPaint": "fillwork.plans.model",
    "Zone": "fillwork.symmetry.model",
    "assign_colours": "fillwork.colouring.search.assign",
    "build_arrangement": "fillwork.arrangement.build",
    "build_outlines": "fillwork.arrangement.outlines",
    "colour_batch": "fillwork.pipeline.batch.run",
    "colour_drawing": "fillwork.pipeline.job",
    "colour_survey": "fillwork.pipeline.painting",
    "contact_graph": "fillwork.pipeline.tables",
    "contact_sheet": "fillwork.pipeline.colourways",
    "face_action": "fillwork.symmetry.action",
    "find_colourways": "fillwork.colouring.search.colourways",
    "find_orbits": "fillwork.symmetry.kinds.orbits",
    "find_symmetry": "fillwork.symmetry.lines.detect",
    "find_zones": "fillwork.symmetry.zones.find",
    "list_palettes": "fillwork.colouring.palettes.file",
    "make_survey": "fillwork.pipeline.surveying",
    "measure_adjacency": "fillwork.colouring.adjacency",
    "parse_plan": "fillwork.plans.file",
    "plan_to_toml": "fillwork.plans.file",
    "plot_regions": "fillwork.pipeline.plotting",
    "read_linework": "fillwork.readers",
    "read_palette": "fillwork.colouring.palettes.file",
    "read_plan": "fillwork.pipeline.taking",
    "region_columns": "fillwork.pipeline.tables",
    "region_geojson": "fillwork.pipeline.tables",
    "survey_picture": "fillwork.pipeline.picture",
}

__all__ = [
    "Adjacency",
    "Affine",
    "Arrangement",
    "BandSettings",
    "BandStrand",
    "Bands",
    "Batch",
    "Buy",
    "Candidate",
    "Clash",
    "Coloured",
    "Colouring",
    "Colourway",
    "Counterchange",
    "Curves",
    "CutLeaf",
    "Defect",
    "Doubtful",
    "FillworkError",
    "Finish",
    "Frame",
    "Group",
    "Lattice",
    "LayingSettings",
    "LeafPlan",
    "LeafShape",
    "LeafSheet",
    "LineGroup",
    "LineWork",
    "Made",
    "Note",
    "Operation",
    "Orbit",
    "Orbits",
    "Outlines",
    "PaintSettings",
    "Palette",
    "Pin",
    "Pins",
    "Plan",
    "Quantity",
    "Row",
    "Rules",
    "ScanSettings",
    "Scene",
    "Schedule",
    "Scope",
    "SheetSettings",
    "Step",
    "Stroke",
    "Survey",
    "Swatch",
    "Symmetry",
    "Tolerance",
    "TraceRecord",
    "UsedPaint",
    "Zone",
    "__version__",
    "assign_colours",
    "build_arrangement",
    "build_outlines",
    "colour_batch",
    "colour_drawing",
    "colour_survey",
    "contact_graph",
    "contact_sheet",
    "face_action",
    "find_colourways",
    "find_orbits",
    "find_symmetry",
    "find_zones",
    "list_palettes",
    "make_survey",
    "measure_adjacency",
    "parse_plan",
    "plan_to_toml",
    "plot_regions",
    "read_linework",
    "read_palette",
    "read_plan",
    "region_columns",
    "region_geojson",
    "survey_picture",
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
