"""What a batch keeps on disk beside the results, so that it can go on later."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.pipeline.batch.parts import DONE, Part, Row
from fillwork.pipeline.output import digest, write_file
from fillwork.plans.words import harmless

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fillwork.pipeline.batch.jobs import Job


HIDDEN = ".batch"
"""Folder of the records, under the batch's."""

COLUMNS = (
    "drawing", "folder", "palette", "state", "regions", "kinds", "symmetry", "certain",
    "least_difference", "wanted", "best_possible", "swatches", "notes", "fault", "mend",
)  # fmt: skip
_FIELDS = {"least_difference": "least", "best_possible": "possible"}


class Ledger:
    """Know which jobs were done before, and remember new ones.

    `out`: the batch's folder.
    """

    def __init__(self, out: str) -> None:
        self._out = Path(out)

    def recall(self, job: Job, key: str) -> list[Part] | None:
        """Return what a job gave before.

        None where it was not done, was another one, or a file is not as it was written.

        `key`: what it must equal, as of `job_key`.
        """
        try:
            told = json.loads(self._place(job).read_bytes())
            if told["key"] != key:
                return None
            parts = [
                Part(
                    Row(**{**part["row"], "strip": _strip(part["row"]["strip"])}),
                    outputs=part["outputs"],
                    picture=self._picture(part["row"]["folder"]).read_bytes(),
                )
                for part in told["parts"]
            ]
            whole = all(
                digest((self._out / part.row.folder / name).read_bytes()) == known
                for part in parts
                for name, known in part.outputs.items()
            )
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return None
        return parts if whole and len(parts) == len(job.choices) else None

    def remember(self, job: Job, key: str, source: str, parts: Sequence[Part]) -> None:
        """Keep what a job gave, unless it has to be tried again.

        `source`: SHA-256 of the drawing that the key is for.
        """
        for part in parts:
            if part.picture:
                write_file(self._picture(part.row.folder), part.picture, force=True)
        if any(part.row.state != DONE or part.source != source for part in parts):
            return
        told: dict[str, Any] = {
            "key": key,
            "parts": [{"row": p.row.plain(), "outputs": p.outputs} for p in parts],
        }
        text = json.dumps(told, ensure_ascii=False, indent=1)
        write_file(self._place(job), text.encode(errors="replace"), force=True)

    def _place(self, job: Job) -> Path:
        return self._out / HIDDEN / f"{job.folder}.json"

    def _picture(self, folder: str) -> Path:
        return self._out / HIDDEN / f"{folder}.png"


def _strip(rows: list[list[Any]]) -> tuple[tuple[str, str, float, str], ...]:
    return tuple((str(a), str(b), float(c), str(d)) for a, b, c, d in rows)


def rows_csv(rows: Iterable[Row]) -> bytes:
    """Return the table of a batch as CSV (RFC 4180).

    UTF-8; the same whether a row was done now or before. `rows`: one a drawing and
    palette.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([_cell(getattr(row, _FIELDS.get(c, c))) for c in COLUMNS])
    return out.getvalue().encode()


def _cell(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return harmless(value) if isinstance(value, str) else value
