"""What hands a drawing back: its lines, the choices, and the files it is written as."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from fillwork.pipeline.output import REPORT, outputs_of, write_files

if TYPE_CHECKING:
    from fillwork.linework import LineWork
    from fillwork.notes import Note
    from fillwork.plans.model import Plan


class Handed(ABC):
    """A drawing made from another one, with what is told of it."""

    __slots__ = ()
    linework: LineWork  # the lines, at the size of their page
    plan: Plan
    record: ClassVar[str] = REPORT

    @property
    def notes(self) -> tuple[Note, ...]:
        """Return the notes of reading and of what was made."""
        return self.linework.notes

    @abstractmethod
    def pictures(self) -> dict[str, bytes]:
        """Return the drawing and the pictures of it.

        File names and contents, ``drawing.svg`` first.
        """

    @abstractmethod
    def report(self) -> dict[str, Any]:
        """Return what was made as plain values; lengths in mm."""

    def write(
        self, folder: str | Path, *, force: bool = False, keep: Path | None = None
    ) -> tuple[Path, ...]:
        """Write the drawing, its pictures, the plan and the report.

        `folder`: where to; made when missing. `keep`: a file that is never overwritten.
        Raises `RenderError` if they cannot be written.
        """
        from fillwork.plans.file import plan_to_toml
        from fillwork.renderers.report import to_json

        lines = self.linework
        plan = replace(self.plan, drawing=lines.file, digest=lines.digest)
        files = self.pictures() | {"plan.toml": plan_to_toml(plan).encode()}
        told = self.report() | {"outputs": outputs_of(files)}
        files[self.record] = to_json(told)
        return write_files(Path(folder), files, force=force, keep=keep)
