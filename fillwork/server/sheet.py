"""One opened drawing: its state, the way back, and what was made from it.

Requests only read what stands or queue a job; jobs run one after the other in the
sheet's own thread. A wish that changes the work is written down before it is
answered (`history`). Each thing that the page shows has a revision, so that the page
fetches only what is new.
"""

from __future__ import annotations

import io
import itertools
import re
import threading
import zipfile
from collections import deque
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fillwork.errors import FillworkError
from fillwork.pipeline import moments as work
from fillwork.pipeline.checks import SIZED, SURVEYED
from fillwork.pipeline.encoding import encode
from fillwork.pipeline.finish import Finish
from fillwork.pipeline.guides import find_guides
from fillwork.pipeline.moments import KeptDrawing
from fillwork.pipeline.taking import load_palette
from fillwork.plans.file import plan_to_toml
from fillwork.readers.source import is_picture
from fillwork.server.history import History
from fillwork.server.trials import PICTURE_WIDTH, Trials
from fillwork.server.wishes import REPAIRS, Standing, Wish, fulfil, no_colours
from fillwork.server.work import Worker
from fillwork.tomlfile import parse_toml

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fillwork.linework import LineWork
    from fillwork.pipeline.moments import Moment
    from fillwork.pipeline.painting import Coloured
    from fillwork.pipeline.progress import Progress
    from fillwork.pipeline.surveying import Survey
    from fillwork.plans.model import Plan
    from fillwork.renderers.scene import Scene
    from fillwork.renderers.text.typeset import FontSet
    from fillwork.server.store import Saved, Store


MOST_LINED_UP = 40  # fewer than the worker takes, so that all can be lined up again

_SHOWN = (
    "lines", "drawing", "colouring", "suggestions", "choices", "pages", "files", "plan",
)  # fmt: skip


class Sheet:
    """Hold one opened drawing with its plan and its history.

    `saved`: the sheet as it lies on disk, or is to. `store`: where work is kept.
    `source`: the drawing's content. `start`: as for `History`. `allow_large`: raise the
    size limits. Raises `FillworkError` if the plan is wrong, or the sheet cannot be
    kept.
    """

    def __init__(
        self,
        saved: Saved,
        store: Store,
        source: bytes,
        start: Plan | None = None,
        *,
        allow_large: bool = False,
    ) -> None:
        self.id, self.name = saved.id, saved.name
        self._history = History(store, saved, start)
        self._history.save()
        self._drawing = KeptDrawing(
            source, saved.name, allow_large=allow_large, drawn=self._draw
        )
        self._worker = Worker()
        self._lock = threading.RLock()
        self._runs: deque[list[Wish]] = deque()
        self._turns = itertools.count()
        self._linework: LineWork | None = None
        self._survey: Survey | None = None
        self._coloured: Coloured | None = None
        self._revision = dict.fromkeys(_SHOWN, 0)
        self.trials = Trials(store, saved.id)
        self._pages: tuple[Scene, ...] = ()
        self._laid: tuple[Any, dict[str, Any]] | None = None
        self._fonts: FontSet | None = None
        self._files: dict[str, bytes] = {}
        self._submit("open", self._open)
        for wish in self._history.waiting:
            self._line_up(wish)

    @property
    def _moment(self) -> Moment:
        return self._history.now

    def close(self) -> None:
        """Stop its work; wishes that wait are fulfilled when it is opened again."""
        self._history.close()
        self._worker.end()

    def resume(self) -> None:
        """Read the drawing where that was cancelled."""
        ended = self._worker.state()["state"] in ("idle", "cancelled")
        if self._survey is None and ended:
            self._submit("open", self._open)

    def wait(self, seconds: float = 60.0) -> bool:
        """Wait until its work is done. `seconds`: for how long at most."""
        return self._worker.wait(seconds)

    # what the page asks

    def state(self) -> dict[str, Any]:
        """Return what goes on, and the revision of each thing shown."""
        with self._lock:
            undo, redo = self._history.labels
            return {
                "id": self.id,
                "file": self.name,
                "task": self._worker.state(),
                "revision": dict(self._revision),
                "undo": undo,
                "redo": redo,
                "paper": is_picture(self._drawing.source),
            }

    def lines(self) -> dict[str, Any]:
        """Return the lines alone, which are there before any search.

        As `compose_lines`. Raises `FillworkError` if they are not read yet, or cannot
        be.
        """
        from fillwork.renderers.page.data import compose_lines

        if self._linework is None:
            what = "the drawing is not read"
            raise FillworkError(what, self.name, "wait, or choose another drawing")
        return compose_lines(self._linework, find_guides(self._linework))

    def paper(self) -> dict[str, Any]:
        """Return how a picture of a sheet was traced, as `paper_table`.

        Raises `FillworkError` if the picture cannot be read.
        """
        from fillwork.server.paper import paper_table

        with self._lock:
            linework, plan = self._linework, self._moment.plan
        return paper_table(self._drawing.source, self.name, linework, plan)

    def drawing(self) -> dict[str, Any]:
        """Return what the page shows of the drawing, as `compose_drawing`.

        Raises `FillworkError` if it is not read yet, or cannot be.
        """
        from fillwork.renderers.page.data import compose_drawing

        survey = self._need_survey()
        return compose_drawing(
            survey.linework,
            survey.arrangement,
            survey.outlines,
            survey.orbits,
            survey.adjacency,
            real_scale=survey.real_scale,
            scale_known=survey.scale_known,
            notes=survey.notes,
            guides=find_guides(survey.linework, survey.arrangement),
        )

    def laying(self) -> dict[str, Any]:
        """Return what the page shows of a laid cell.

        As `laid_data`; made anew only where what is laid has changed.
        """
        from fillwork.pipeline.laid_data import laid_data

        plan = self._moment.plan
        known = tuple(getattr(plan, name) for name in (*SURVEYED, *SIZED))
        if self._laid is None or self._laid[0] != known:
            source, large = self._drawing.source, self._drawing.allow_large
            laid = laid_data(source, plan, name=self._drawing.name, allow_large=large)
            self._laid = known, laid
        return self._laid[1]

    def strip(
        self, source: bytes | None, name: str, cell: tuple[str, ...]
    ) -> dict[str, Any]:
        """Return a border's strip as the plan file keeps it.

        `source`: its file; None for the border that the drawing itself has. `cell`: as
        for `border_from`, which says what is raised too.
        """
        from fillwork.pipeline.laying_inputs import border_from
        from fillwork.pipeline.scanning import picture_choices
        from fillwork.plans.file import laying_section
        from fillwork.plans.settings import LayingSettings

        leave: tuple[str, ...] = ()
        plan = self._moment.plan
        if source is None:
            source, name, leave = self._drawing.source, self.name, plan.leave
        found = border_from(source, name, cell, leave, picture_choices(plan))
        return laying_section(LayingSettings(**found))

    def colouring(self) -> dict[str, Any]:
        """Return what the page shows of the colours, as `compose_colouring`.

        Raises `FillworkError` if there are no colours.
        """
        from fillwork.renderers.page.data import compose_colouring

        with self._lock:
            coloured, moment = self._need_colours(), self._moment
        return compose_colouring(
            coloured.survey.arrangement,
            coloured.survey.orbits,
            coloured.survey.adjacency,
            coloured.colouring,
            pins=moment.plan.rules.pins,
            notes=coloured.notes,
        )

    def plan(self) -> dict[str, Any]:
        """Return all choices as the table of a plan file.

        ``plan``, and ``palette`` as the table of a palette file.
        """
        palette = parse_toml(self.palette_file(), "palette")[1]
        return {"plan": work.plan_table(self._moment.plan), "palette": palette}

    def plan_file(self) -> bytes:
        """Return the plan file that gives the colours shown."""
        coloured = self._coloured
        if coloured is None:
            return plan_to_toml(self._moment.plan).encode()
        return Finish(coloured).plan_toml().encode()

    def palette_file(self) -> bytes:
        """Return the palette file of the palette in use."""
        from fillwork.colouring.palettes.file import palette_to_toml

        return palette_to_toml(load_palette(self._moment.plan)).encode()

    def schedule(self) -> dict[str, Any]:
        """Return the schedule as text.

        Raises `FillworkError` if there are no colours.
        """
        return {"text": Finish(self._need_colours()).schedule_text()}

    def picture(self, name: str) -> bytes:
        """Return a small picture; PNG.

        `name`: as a suggestion or a choice gives it. Raises `FillworkError` if there is
        none of this name.
        """
        if name in ("photo", "flat"):
            from fillwork.server.paper import paper_picture

            plan, flat = self._moment.plan, name == "flat"
            return paper_picture(self._drawing.source, self.name, plan, flat=flat)
        zone = re.fullmatch(r"zone-([0-9]{1,4})-([a-z]+)(?:-([A-Za-z0-9]+))?", name)
        if zone:
            from fillwork.pipeline.picture import zone_scene

            group = ":".join(part for part in zone.groups()[1:] if part)
            scene = zone_scene(self._need_survey(), int(zone[1]), group)
            return encode(scene, ".png", width=PICTURE_WIDTH)
        return self.trials.picture(name)

    def pages(self) -> list[str]:
        """Return the titles of the sheets' pages."""
        return [scene.title for scene in self._pages]

    def page(self, number: int) -> bytes:
        """Return one page of the sheets as SVG.

        Raises `FillworkError` if there is no such page.
        """
        pages = self._pages
        if not 0 <= number < len(pages):
            what = "there is no such page"
            raise FillworkError(what, mend="show the sheets again")
        return encode(pages[number], ".svg", fonts=self._fonts)

    def files(self) -> dict[str, bytes]:
        """Return the finished files by their names; empty before they are made."""
        return self._files

    def archive(self) -> bytes:
        """Return the finished files in one archive, always the same bytes."""
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, data in self._files.items():
                archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data)
        return out.getvalue()

    # what the page wants done

    def cancel(self) -> None:
        """Stop what goes on, and let go what waits."""
        with self._lock:
            self._worker.cancel()
            if self._runs:
                # the page painted ahead; have it fetch what stands
                self._count("colouring", "plan")
            self._runs.clear()
            self._history.settle_all()

    def wish(self, act: str, **given: Any) -> None:
        """Have something changed; it is on the disk when this returns.

        `act`: one of those that `fulfil` knows, ``undo`` or ``redo``. Raises
        `FillworkError` if it cannot be written down, or too much waits.
        """
        with self._lock:
            self._line_up(Wish(0, act, given))

    def repair(self, kind: str, places: Sequence[tuple[float, float]]) -> None:
        """Close gaps, leave lines out or cut their overhang; the paints stay.

        `kind`: ``close``, ``drop`` or ``cut``. `places`, mm, y up.
        """
        if kind not in REPAIRS:
            what = f"“{kind}” is no repair"
            raise FillworkError(what, mend="take one of " + ", ".join(REPAIRS))
        self.wish("repair", kind=kind, places=places)

    def suggest(self, palettes: Sequence[str], count: int) -> None:
        """Look for clearly different colourways."""

        def job(tell: Progress) -> None:
            shown, plan = self._need_colours(), self._moment.plan
            self.trials.suggest(shown, plan, palettes, count, tell)
            self._count("suggestions")

        self._submit("suggest", job)

    def find_choices(self, colours: int) -> None:
        """Look for the ways in which K colours can change places."""

        def job(tell: Progress) -> None:
            survey, plan = self._need_survey(), self._moment.plan
            self.trials.find_choices(survey, plan, colours, tell)
            self._count("choices")

        self._submit("choices", job)

    def take(self, number: int) -> None:
        """Take up a suggestion."""
        plan = self.trials.plan_file(number)
        self.wish("take", plan=plan, label=f"take up suggestion {number}")

    def lay_out(self, only: str = "") -> None:
        """Lay out the pages of the sheets."""

        def job(tell: Progress) -> None:
            tell("laying out sheets")
            coloured = self._need_colours()
            if only:
                sheets = replace(coloured.plan.sheets, sheets=(only,), teach=0)
                plan = replace(coloured.plan, sheets=sheets)
                coloured = replace(coloured, plan=plan)
            finish = Finish(coloured)
            pages = finish.sheet_scenes()
            with self._lock:
                self._pages, self._fonts = pages, finish.fonts
                self._revision["pages"] += 1

        self._submit("pages", job)

    def make_files(self) -> None:
        """Make every file of the main job, and the page to hand on."""

        def job(tell: Progress) -> None:
            finish = Finish(self._need_colours(), tell)
            files = finish.files(html=True)
            with self._lock:
                self._files = files
                self._revision["files"] += 1

        self._submit("files", job)

    # jobs' own steps

    def _submit(self, name: str, job: Callable[[Progress], None]) -> None:
        self._worker.submit(name, job)

    def _need_survey(self) -> Survey:
        if self._survey is None:
            what = "the drawing is not read"
            raise FillworkError(what, self.name, "wait, or choose another drawing")
        return self._survey

    def _need_colours(self) -> Coloured:
        if self._coloured is None:
            raise no_colours(self.name)
        return self._coloured

    def _draw(self, linework: LineWork) -> None:
        with self._lock:
            self._linework = linework
        self._count("lines")

    def _open(self, tell: Progress) -> None:
        try:
            self._show(self._moment, tell)
        except FillworkError:
            if self._linework is None:
                self._history.drop()
            raise

    def _line_up(self, wish: Wish) -> None:
        """Have a wish fulfilled in its turn; a new one is written down first."""
        joins = self._runs and wish.joins(self._runs[-1][-1])
        if not joins and not wish.number and len(self._runs) >= MOST_LINED_UP:
            what = "too much is waiting to be done"
            raise FillworkError(what, mend="wait a moment, or cancel")
        if not joins:
            self._submit(f"wish {next(self._turns)}", self._fulfil)
        if not wish.number:
            wish = self._history.wish(wish.act, wish.given)
        if joins:
            self._runs[-1].append(wish)
        else:
            self._runs.append([wish])

    def _fulfil(self, tell: Progress) -> None:
        """Fulfil the wishes that lead the line and join."""
        with self._lock:
            run = self._runs.popleft() if self._runs else []
        if not run:
            return
        history, act, done = self._history, run[-1].act, run[-1].number
        step = act in ("undo", "redo")
        try:
            if step:
                beside = history.beside(act == "redo")
                found = [] if beside is None else [beside]
            else:
                at = Standing(self._drawing, self._moment, self._coloured, tell)
                found = fulfil(run, at)
            if found:
                self._show(found[-1], tell)
        except BaseException:
            # the page painted ahead; have it fetch what stands
            self._count("colouring", "plan")
            history.settle(done)
            raise
        if not found:
            history.settle(done)
        elif step:
            history.step(act == "redo", found[0], done)
        else:
            history.move(found, done)
        self._count("plan")

    def _show(self, moment: Moment, tell: Progress) -> None:
        survey, coloured = self._drawing.colour(moment, tell)
        with self._lock:
            old = self._survey
            fresh = ["colouring", "plan"]
            if (
                old is None
                or old.arrangement is not survey.arrangement
                or old.plan.names != survey.plan.names
                or old.real_scale != survey.real_scale
            ):
                fresh.append("drawing")
            self._survey, self._coloured = survey, coloured
            self._files, self._pages = {}, ()
        self._count(*fresh, "pages", "files")

    def _count(self, *names: str) -> None:
        with self._lock:
            for name in names:
                self._revision[name] += 1
