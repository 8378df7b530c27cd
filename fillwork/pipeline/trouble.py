"""What is told of a drawing that came out wrong: version, choices, what was found."""

from __future__ import annotations

import platform
import traceback
from collections import Counter
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.errors import FillworkError
from fillwork.pipeline.output import digest
from fillwork.pipeline.progress import quiet
from fillwork.pipeline.surveying import make_survey
from fillwork.version import __version__

if TYPE_CHECKING:
    from fillwork.pipeline.progress import Progress
    from fillwork.pipeline.surveying import Survey
    from fillwork.plans.model import Plan


_LIBRARIES = ("numpy", "scipy", "shapely", "pillow", "pikepdf", "uharfbuzz")


def gather_trouble(
    data: bytes,
    plan: Plan,
    *,
    name: str,
    words: str = "",
    allow_large: bool = False,
    progress: Progress = quiet,
) -> dict[str, Any]:
    """Return what maintainers need to know of a drawing that came out wrong.

    Neither the drawing nor a folder or user of this machine is in it.

    Plain values: versions, choices, size and digest of the drawing, and what was found
    or how it failed.

    `name`: the drawing's file name, of which only the suffix is told. `words`: what is
    wrong, as the user says it.
    """
    from fillwork.plans.file import plan_to_toml

    told: dict[str, Any] = {
        "wrong": words,
        "fillwork": __version__,
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
        "libraries": {k: metadata.version(k) for k in _LIBRARIES},
        "drawing": {
            "suffix": Path(name).suffix,
            "bytes": len(data),
            "sha256": digest(data),
        },
        "choices": plan_to_toml(plan),
    }
    try:
        survey = make_survey(
            data, plan, name=name, allow_large=allow_large, progress=progress
        )
        return told | {"found": _found(survey)}
    except FillworkError as error:
        return told | {"refused": str(error).replace(name, "DRAWING")}
    except Exception as error:  # what nobody foresaw is what this is for
        calls = traceback.extract_tb(error.__traceback__)
        at = [f"{Path(c.filename).name}:{c.lineno} {c.name}" for c in calls]
        return told | {"failed": type(error).__name__, "at": at}


def _found(survey: Survey) -> dict[str, Any]:
    """Return what was found, in numbers and without a word of the drawing's own."""
    zones = [
        {
            "regions": len(zone.faces),
            "group": f"{zone.symmetry.group.family} {zone.symmetry.group.short}",
            "certain": zone.symmetry.certain,
            "reason": zone.symmetry.reason,
        }
        for zone in survey.zones
    ]
    return {
        "strokes": survey.linework.stroke_count,
        "scope": survey.linework.scope,
        "regions": survey.arrangement.face_count - 1,
        "kinds": len(survey.orbits.orbits),
        "zones": zones,
        "notes": dict(Counter(f"{n.stage}: {n.type}" for n in survey.notes)),
    }
