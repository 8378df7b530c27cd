"""Write ``demo/api.md``: what is public, from the docstrings themselves.

Run it when a docstring or a signature changes: ``python demo/make_api.py``. A test
holds the page to what this script makes.
"""

from __future__ import annotations

import inspect
import re
import textwrap
from pathlib import Path

import fillwork

PAGE = Path(__file__).resolve().parent / "api.md"

CHAPTERS = {
    "The whole job": (
        "make_survey", "colour_survey", "colour_drawing", "colour_batch", "Survey",
        "Coloured", "Finish", "Batch", "Row",
    ),
    "Lines in": ("read_linework", "LineWork", "Stroke", "Frame", "LineGroup", "Curves",
                 "TraceRecord", "Doubtful"),
    "Regions": ("build_arrangement", "build_outlines", "Arrangement", "Outlines",
                "Defect", "Tolerance"),
    "Symmetry and kinds": (
        "find_symmetry", "find_zones", "find_orbits", "face_action", "Symmetry",
        "Group", "Lattice", "Operation", "Candidate", "Zone", "Orbit", "Orbits",
        "Affine", "Bands", "BandStrand",
    ),
    "Colour": (
        "read_palette", "list_palettes", "Palette", "Swatch", "LeafSheet",
        "measure_adjacency", "Adjacency", "assign_colours", "find_colourways", "Rules",
        "Pin", "Pins", "Scope", "Colouring", "Colourway", "Counterchange",
    ),
    "Out to other libraries": ("region_columns", "region_geojson", "contact_graph",
                               "plot_regions", "survey_picture", "contact_sheet",
                               "Scene"),
    "Choices and the schedule": (
        "read_plan", "parse_plan", "plan_to_toml", "Plan", "PaintSettings",
        "SheetSettings", "LayingSettings", "BandSettings", "ScanSettings", "Made",
        "UsedPaint", "Schedule", "Quantity", "Step", "Buy", "Clash", "LeafPlan",
        "LeafShape", "CutLeaf",
    ),
    "Errors and notes": ("FillworkError", "Note"),
}  # fmt: skip


def sections(docstring: str) -> str:
    """Return a numpydoc docstring as Markdown."""
    lines = inspect.cleandoc(docstring).split("\n")
    found: list[str] = []
    heading, example = "", False
    for k, line in enumerate(lines):
        if k + 1 < len(lines) and re.fullmatch(r"-{3,}", lines[k + 1]):
            if example:
                found.append("```")
            heading, example = line, line == "Examples"
            found += ["", f"**{line}**", ""]
            found += ["```python"] if example else []
        elif re.fullmatch(r"-{3,}", line):
            continue
        elif example:
            found += [line] if line or found[-1] != "```python" else []
        elif heading in ("Parameters", "Returns", "Raises", "Yields", "Attributes"):
            if line.startswith(" "):
                found[-1] += f" {line.strip()}" if line.strip() else ""
            elif line.strip():
                name, _, kind = line.partition(" : ")
                words = f"`{name}` ({kind}):" if kind else f"`{name}`:"
                found.append(f"* {words}")
        else:
            found.append(line)
    if example:
        while found[-1] == "":
            found.pop()
        found.append("```")
    text = "\n".join(found)
    text = re.sub(r"``(.+?)``", r"`\1`", text)
    text = re.sub(r"\[(\d+)\]_", r"[\1]", text).replace(".. [", "[")
    return re.sub(r"\n{3,}", "\n\n", text).strip()


def signature(name: str, value: object) -> str:
    """Return how a function or class is called."""
    text = str(inspect.signature(value)) if callable(value) else ""
    text = re.sub(r"<function (\w+)( at 0x[0-9a-f]+)?>", r"\1", text)
    text = re.sub(r"(: |-> )'([^']*)'", r"\1\2", text)  # annotations are texts
    call = f"{name}{text}"
    if len(call) > 88:
        inner, tail = text[1:].rsplit(")", 1)
        parts = re.split(r", (?![^\[]*\])(?![^(]*\))", inner)
        call = f"{name}(\n" + "".join(f"    {part},\n" for part in parts) + f"){tail}"
    return f"```python\n{call}\n```"


def entry(name: str) -> list[str]:
    """Return what the page says of one public name."""
    value = getattr(fillwork, name)
    if not inspect.isclass(value) and not inspect.isfunction(value):
        return [f"### {name}", f"`{value}`".replace("typing.", "")]
    found = [f"### {name}"]
    if inspect.isfunction(value):
        found.append(signature(name, value))
    found.append(sections(value.__doc__ or ""))
    if inspect.isclass(value):
        for key, own in vars(value).items():
            function = getattr(own, "__func__", own)
            if key.startswith("_") or not getattr(function, "__doc__", None):
                continue
            if isinstance(own, property) or type(own).__name__ == "cached_property":
                summary = own.__doc__.strip().split("\n")[0]
                found.append(f"#### {name}.{key}\n\n{summary}")
            elif inspect.isfunction(function):
                found += [f"#### {name}.{key}", signature(key, function),
                          sections(function.__doc__)]  # fmt: skip
    return found


def compose() -> str:
    """Return the page."""
    named = [name for names in CHAPTERS.values() for name in names]
    missing = set(fillwork.__all__) - {*named, "__version__"}
    if missing or len(named) != len(set(named)):
        message = f"in no chapter, or in two: {', '.join(sorted(missing))}"
        raise SystemExit(message)
    parts = [
        "# The library",
        "What `import fillwork` offers, made from the docstrings by `make_api.py`. "
        "What stands here is public: see “Versions” in "
        "[DEVELOPERS.md](../DEVELOPERS.md). "
        "Lengths are mm and areas mm²; x runs right and y up. Face 0 is the outside, "
        "regions are faces from 1.",
    ]
    for chapter, names in CHAPTERS.items():
        links = ", ".join(f"[{name}](#{name.lower()})" for name in names)
        parts += [f"## {chapter}", links]
        for name in names:
            parts += entry(name)
    text = "\n\n".join(textwrap.dedent(part) for part in parts)
    return text + "\n"


if __name__ == "__main__":
    PAGE.write_text(compose(), encoding="utf-8")
