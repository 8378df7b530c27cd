"""Jobs: which drawing, into which folder, by which choices, and the key of all that."""

from __future__ import annotations

import hashlib
import itertools
import re
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from fillwork.plans.model import Plan


_TAKEN = frozenset({"batch.csv", "batch.json", "contact.png"})
"""Names in the batch's folder that are no drawing's."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Hold one set of choices for every drawing."""

    folder: str  # folder under the drawing's own; empty where there is one choice alone
    plan: Plan  # all choices


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """Hold one drawing with all that is to be made of it."""

    path: str  # the drawing's file
    folder: str  # folder of its own under the batch's
    choices: tuple[Choice, ...]  # one a palette
    further: Mapping[str, bool]  # what else is made of it, as of `Finish.files`
    allow_large: bool = False

    @property
    def name(self) -> str:
        """Return the drawing's file name without its folder."""
        # bytes that are no text cannot stand in a table
        return Path(self.path).name.encode(errors="replace").decode()


def _spellings(path: Path) -> Iterator[str]:
    """Yield names for a drawing, each saying more than the one before."""
    above = [part for part in path.parts[:-1] if part not in (path.anchor, "..")]
    for level in range(len(above) + 1):
        name = "-".join([*above[len(above) - level :], path.stem])
        yield name.lstrip(".") or "drawing"
        yield name.lstrip(".") + path.suffix.replace(".", "-")


def folder_names(paths: Sequence[Path]) -> list[str]:
    """Return a folder's name for each drawing, all different.

    The name without suffix; where some are alike, in any case of letters, what tells
    them apart: the suffix, or folders above, or both, or a number.

    `paths`: drawings, none twice.

    Examples
    --------
    >>> folder_names([Path("a/star.svg"), Path("b/star.svg"), Path("b/rose.svg")])
    ['a-star', 'b-star', 'rose']
    >>> folder_names([Path("star.svg"), Path("Star.dxf")])
    ['star-svg', 'Star-dxf']
    """
    alike = defaultdict(list)
    for k, path in enumerate(paths):
        alike[path.stem.casefold()].append(k)
    names = [""] * len(paths)
    for group in alike.values():
        ways = itertools.zip_longest(*(_spellings(paths[k]) for k in group))
        last = [paths[k].stem for k in group]
        for way in ways:
            last = [new or old for new, old in zip(way, last, strict=True)]
            if len({name.casefold() for name in last}) == len(group):
                break
        for k, name in zip(group, last, strict=True):
            names[k] = name
    used = set(_TAKEN)
    for k, name in enumerate(names):
        spellings = itertools.chain([name], (f"{name}-{n}" for n in itertools.count(2)))
        names[k] = next(s for s in spellings if s.casefold() not in used)
        used.add(names[k].casefold())
    return names


def job_key(job: Job, digest: str) -> str:
    """Return what tells whether a job is the same as one that was done before.

    SHA-256 of drawing, choices, palettes and version. `digest`: SHA-256 of its drawing.
    """
    from fillwork.pipeline.taking import load_palette
    from fillwork.plans.file import plan_to_toml
    from fillwork.version import __version__

    told = hashlib.sha256()
    flags = " ".join(map(str, (*job.further.values(), job.allow_large)))
    for text in (__version__, digest, job.name, flags):
        told.update(text.encode() + b"\0")
    for choice in job.choices:
        palette = load_palette(choice.plan).digest
        for text in (choice.folder, plan_to_toml(choice.plan), palette):
            told.update(text.encode() + b"\0")
        told.update(hashlib.sha256(choice.plan.font_data).digest())
    return told.hexdigest()


def plain_folder(text: str) -> str:
    """Return a text as the name of a folder on every system.

    Letters, figures, points and dashes.

    `text`: any text, such as a palette's name or file.

    Examples
    --------
    >>> plain_folder("own/My reds.toml")
    'My-reds'
    """
    stem = Path(text).name.removesuffix(".toml")
    return re.sub(r"[^\w.]+", "-", stem).strip("-.") or "palette"
