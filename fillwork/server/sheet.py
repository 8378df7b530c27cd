"""One opened drawing: its state, the way back, and what was made from it.

Requests only read what stands or queue a job; jobs run one after the other in the
sheet's own thread. Each thing that the page shows has a revision, so that the page
fetches only what is new.
"""

from __future__ import annotations

import io
import math
import threading
import zipfile
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fillwork.colouring.model import Pin
from fillwork.errors import FillworkError
from fillwork.pipeline import bench as work
from fillwork.pipeline.bench import Bench, Moment, kept_paints
from fillwork.pipeline.encoding import encode
from fillwork.pipeline.finish import Finish
from fillwork.pipeline.taking import load_palette
from fillwork.plans.file import parse_plan, plan_to_toml
from fillwork.readers.source import is_picture
from fillwork.server.kept import Kept, KeptWay
from fillwork.server.work import Worker
from fillwork.tomlfile import parse_toml

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fillwork.linework import LineWork
    from fillwork.pipeline.colourways import Suggestion
    from fillwork.pipeline.painting import Coloured
    from fillwork.pipeline.progress import Progress
    from fillwork.pipeline.surveying import Survey
    from fillwork.plans.model import Plan
    from fillwork.renderers.scene import Scene
    from fillwork.renderers.text.typeset import FontSet
    from fillwork.server.store import Saved, Store

__all__ = ["Sheet"]

MOST_MOMENTS = 200
MOST_CHOICES = 24
PICTURE_WIDTH = 640
_REPAIRS = {
    "close": "close a gap",
    "drop": "leave a line out",
    "cut": "cut an overhang",
}
"""Fields of the plan that hold places, and what is said of them."""

_MOST_WAYS = 60  # suggestions of one search: more than there are palettes
_REMEMBERED = 240  # suggestions that can be taken up later
_SHOWN = (
    "lines",
    "drawing",
    "colouring",
    "suggestions",
    "choices",
    "pages",
    "files",
    "plan",
)


class Sheet:
    """Hold one opened drawing with its plan and its history.

    Parameters
    ----------
    sheet : str
        Its id.
    name : str
        The drawing's file name, for messages only.
    source : bytes
        The drawing's content.
    store : Store
        Where work is kept.
    digest : str
        The drawing's SHA-256.
    moment : Moment
        The state to begin with.
    allow_large : bool
        Raise the size limits.
    """

    def __init__(
        self,
        sheet: str,
        name: str,
        source: bytes,
        store: Store,
        digest: str,
        moment: Moment,
        *,
        allow_large: bool = False,
    ) -> None:
        self.id = sheet
        self.name = name
        self._digest = digest
        self._store = store
        self._bench = Bench(source, name, allow_large=allow_large, drawn=self._draw)
        self._worker = Worker()
        self._lock = threading.RLock()
        self._past: list[Moment] = []
        self._future: list[Moment] = []
        self._moment = moment
        self._linework: LineWork | None = None
        self._survey: Survey | None = None
        self._coloured: Coloured | None = None
        self._revision = dict.fromkeys(_SHOWN, 0)
        self._paints: list[tuple[Pin, str]] = []
        # all that were found while this sheet is open: a kept one can be taken up later
        self._suggestions: dict[int, Suggestion] = {}
        self._kept = Kept(store, sheet)
        self._latest: range = range(0)
        self._choices: list[dict[str, Any]] = []
        self._pictures = {
            f"suggestion-{way.number}": way.picture for way in self._kept.ways()
        }
        self._pages: tuple[Scene, ...] = ()
        self._laid: tuple[Any, dict[str, Any]] | None = None
        self._fonts: FontSet | None = None
        self._files: dict[str, bytes] = {}
        self._submit("open", self._open)

    @classmethod
    def from_saved(
        cls, saved: Saved, store: Store, *, allow_large: bool = False
    ) -> Sheet:
        """Return a sheet as it was kept.

        Parameters
        ----------
        saved : Saved
            What lies on disk.
        store : Store
            Where it lies.
        allow_large : bool
            Raise the size limits.

        Returns
        -------
        Sheet
            The sheet, at work on its survey.

        Raises
        ------
        FillworkError
            If the drawing is gone or the plan is wrong.
        """
        plan = parse_plan(saved.plan.encode(), "the saved plan")
        standing = None
        if saved.standing is not None:
            standing = tuple(map(Pin.from_row, saved.standing))
        return cls(
            saved.id,
            saved.name,
            store.drawing(saved.digest),
            store,
            saved.digest,
            Moment(plan, standing),
            allow_large=allow_large,
        )

    def close(self) -> None:
        """Stop its work."""
        self._worker.end()

    def wait(self, seconds: float = 60.0) -> bool:
        """Wait until its work is done.

        Parameters
        ----------
        seconds : float
            For how long at most.

        Returns
        -------
        bool
            Whether it is.
        """
        return self._worker.wait(seconds)

    # what the page asks

    def state(self) -> dict[str, Any]:
        """Return what goes on, and the revision of each thing shown.

        Returns
        -------
        dict
            Plain values.
        """
        with self._lock:
            undo = self._past[-1:] and self._moment.label
            redo = self._future[-1].label if self._future else None
            return {
                "id": self.id,
                "file": self.name,
                "task": self._worker.state(),
                "revision": dict(self._revision),
                "undo": undo or None,
                "redo": redo,
                "painting": len(self._paints),
                "paper": is_picture(self._bench.source),
            }

    def lines(self) -> dict[str, Any]:
        """Return the lines alone, which are there before any search.

        Returns
        -------
        dict
            As `compose_lines`.

        Raises
        ------
        FillworkError
            If they are not read yet, or cannot be.
        """
        from fillwork.renderers.page.data import compose_lines

        if self._linework is None:
            what = "the drawing is not read"
            raise FillworkError(what, self.name, "wait, or choose another drawing")
        return compose_lines(self._linework)

    def paper(self) -> dict[str, Any]:
        """Return how a picture of a sheet was traced.

        Returns
        -------
        dict
            As `paper_table`.

        Raises
        ------
        FillworkError
            If the picture cannot be read.
        """
        from fillwork.server.paper import paper_table

        with self._lock:
            linework, plan = self._linework, self._moment.plan
        return paper_table(self._bench.source, self.name, linework, plan)

    def drawing(self) -> dict[str, Any]:
        """Return what the page shows of the drawing.

        Returns
        -------
        dict
            As `compose_drawing`.

        Raises
        ------
        FillworkError
            If it is not read yet, or cannot be.
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
        )

    def laying(self) -> dict[str, Any]:
        """Return what the page shows of a laid cell.

        Returns
        -------
        dict
            As `laid_data`; made anew only where what is laid has changed.
        """
        from fillwork.pipeline.laid_data import laid_data

        plan = self._moment.plan
        known = (plan.laying, plan.symmetry, plan.lines, plan.leave, plan.scale,
                 plan.real, plan.real_width)  # fmt: skip
        if self._laid is None or self._laid[0] != known:
            bench = self._bench
            self._laid = (known, laid_data(bench.source, plan, name=bench.name))
        return self._laid[1]

    def colouring(self) -> dict[str, Any]:
        """Return what the page shows of the colours.

        Returns
        -------
        dict
            As `compose_colouring`.

        Raises
        ------
        FillworkError
            If there are no colours.
        """
        from fillwork.renderers.page.data import compose_colouring

        with self._lock:
            coloured, moment = self._need(self._coloured), self._moment
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

        Returns
        -------
        dict
            ``plan``, and ``palette`` as the table of a palette file.
        """
        palette = parse_toml(self.palette_file(), "palette")[1]
        return {"plan": work.plan_table(self._moment.plan), "palette": palette}

    def plan_file(self) -> bytes:
        """Return the plan file that gives the colours shown.

        Returns
        -------
        bytes
            For the command line too.
        """
        coloured = self._coloured
        if coloured is None:
            return plan_to_toml(self._moment.plan).encode()
        return Finish(coloured).plan_toml().encode()

    def palette_file(self) -> bytes:
        """Return the palette file of the palette in use.

        Returns
        -------
        bytes
            TOML.
        """
        from fillwork.colouring.palettes.file import palette_to_toml

        return palette_to_toml(load_palette(self._moment.plan)).encode()

    def schedule(self) -> dict[str, Any]:
        """Return the schedule as text.

        Returns
        -------
        dict
            ``text``.

        Raises
        ------
        FillworkError
            If there are no colours.
        """
        return {"text": Finish(self._need(self._coloured)).schedule_text()}

    def suggestions(self) -> list[dict[str, Any]]:
        """Return the colourways found last.

        Returns
        -------
        list of dict
            Name, measures, how much is new, and the name of the picture.
        """
        return [
            {
                "number": number,
                "palette": s.colourway.colouring.palette.name,
                "smallest": _finite(dict(s.colourway.measures)["smallest difference"]),
                "changed": s.colourway.changed,
                "picture": f"suggestion-{number}",
            }
            for number in self._latest
            for s in [self._suggestions[number]]
        ]

    def choices(self) -> list[dict[str, Any]]:
        """Return the ways found last in which kinds can alternate.

        Returns
        -------
        list of dict
            Letter, number, colours, sentence, and the name of the picture.
        """
        return self._choices

    def picture(self, name: str) -> bytes:
        """Return a small picture.

        Parameters
        ----------
        name : str
            As a suggestion or a choice gives it.

        Returns
        -------
        bytes
            PNG.

        Raises
        ------
        FillworkError
            If there is none of this name.
        """
        if name in ("photo", "flat"):
            from fillwork.server.paper import paper_picture

            plan, flat = self._moment.plan, name == "flat"
            return paper_picture(self._bench.source, self.name, plan, flat=flat)
        found = self._pictures.get(name)
        if found is None:
            what = "this picture is no longer there"
            raise FillworkError(what, mend="ask for suggestions again")
        return found

    def pages(self) -> list[str]:
        """Return the titles of the sheets' pages.

        Returns
        -------
        list of str
            In order.
        """
        return [scene.title for scene in self._pages]

    def page(self, number: int) -> bytes:
        """Return one page of the sheets as SVG.

        Parameters
        ----------
        number : int
            From 0.

        Returns
        -------
        bytes
            SVG.

        Raises
        ------
        FillworkError
            If there is no such page.
        """
        pages = self._pages
        if not 0 <= number < len(pages):
            what = "there is no such page"
            raise FillworkError(what, mend="show the sheets again")
        return encode(pages[number], ".svg", fonts=self._fonts)

    def files(self) -> dict[str, bytes]:
        """Return the finished files.

        Returns
        -------
        dict of str to bytes
            Names and contents; empty before they are made.
        """
        return self._files

    def archive(self) -> bytes:
        """Return the finished files in one archive, always the same bytes.

        Returns
        -------
        bytes
            ZIP.
        """
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, data in self._files.items():
                archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data)
        return out.getvalue()

    # what the page wants done

    def cancel(self) -> None:
        """Stop what goes on."""
        self._worker.cancel()

    def paint(self, pin: Pin, label: str) -> None:
        """Give one class of regions a swatch, at once and without solving.

        Parameters
        ----------
        pin : Pin
            Where, which swatch, how far.
        label : str
            What is done, for undo.
        """
        with self._lock:
            self._paints.append((pin, label))
        self._submit("paint", self._paint)

    def release(self, number: int) -> None:
        """Let one of the person's pins go; its colour stays as it stands.

        Parameters
        ----------
        number : int
            From 0.
        """

        def job(tell: Progress) -> None:
            from fillwork.colouring.search.colourways import pins_of

            moment, coloured = self._moment, self._need(self._coloured)
            pins = list(moment.plan.rules.pins)
            if not 0 <= number < len(pins):
                what = "this pin is no longer there"
                raise FillworkError(what, mend="load the page again")
            del pins[number]
            survey = coloured.survey
            standing = pins_of(survey.arrangement, survey.orbits, coloured.colouring)
            plan = _with_pins(moment.plan, pins)
            self._move(Moment(plan, standing, "release a pin"), tell)

        self._submit("release", job)

    def solve(self) -> None:
        """Choose all colours again around the person's pins."""

        def job(tell: Progress) -> None:
            self._move(Moment(self._moment.plan, None, "solve again"), tell)

        self._submit("solve", job)

    def change(
        self,
        settings: dict[str, Any],
        label: str,
        renamed: dict[str, str] | None = None,
    ) -> None:
        """Set some choices of the plan otherwise.

        Parameters
        ----------
        settings : dict
            A part of a plan file's table.
        label : str
            What is done, for undo.
        renamed : dict of str to str, optional
            New names of swatches by their old ones; wishes follow.
        """

        def job(tell: Progress) -> None:
            moment = self._moment
            plan = work.rename_swatches(moment.plan, renamed or {})
            plan = work.changed_plan(plan, settings)
            if "palette" in settings:
                known = load_palette(moment.plan)
                plan = work.fit_wishes(plan, load_palette(plan), known)
            before = replace(moment.plan, rules=replace(moment.plan.rules, pins=()))
            after = replace(plan, rules=replace(plan.rules, pins=()))
            keep = work.same_colours(before, after)
            standing = moment.standing if keep else None
            self._move(Moment(plan, standing, label), tell)

        self._submit("change", job)

    def repair(self, kind: str, places: Sequence[tuple[float, float]]) -> None:
        """Close gaps, leave lines out or cut their overhang; the paints stay.

        Parameters
        ----------
        kind : str
            ``close``, ``drop`` or ``cut``.
        places : sequence of tuple of float
            Places, mm, y up.
        """
        label = _REPAIRS.get(kind)
        if label is None:
            what = f"“{kind}” is no repair"
            raise FillworkError(what, mend="take one of " + ", ".join(_REPAIRS))

        def job(tell: Progress) -> None:
            plan = self._moment.plan
            before = self._coloured
            mended: dict[str, Any] = {kind: (*getattr(plan, kind), *places)}
            plan = replace(plan, **mended)
            survey = self._bench.survey(plan, tell)
            standing = kept_paints(before, survey) if before else None
            self._move(Moment(plan, standing, label), tell)

        self._submit("repair", job)

    def open_plan(self, data: bytes, name: str) -> None:
        """Take up a plan file.

        Parameters
        ----------
        data : bytes
            Its content.
        name : str
            Its name, for messages.
        """

        def job(tell: Progress) -> None:
            plan = parse_plan(data, name)
            self._move(Moment(plan, None, "open a plan"), tell)

        self._submit("plan", job)

    def undo(self) -> None:
        """Go back by one step."""
        self._submit("undo", lambda tell: self._step(False, tell))

    def redo(self) -> None:
        """Go forward by one step."""
        self._submit("redo", lambda tell: self._step(True, tell))

    def suggest(self, palettes: Sequence[str], count: int) -> None:
        """Look for clearly different colourways.

        Parameters
        ----------
        palettes : sequence of str
            Names; none for the palette in use.
        count : int
            How many.
        """

        def job(tell: Progress) -> None:
            from fillwork.colouring.palettes.file import list_palettes
            from fillwork.pipeline.colourways import suggest

            if any(p not in list_palettes() for p in palettes):
                what = "this palette is not among those that come with fillwork"
                raise FillworkError(what, mend="choose one of the list")
            survey = self._need_survey()
            found = suggest(
                survey,
                self._moment.plan,
                palettes,
                count=min(max(count, 1), _MOST_WAYS),
                progress=tell,
            )
            kept = max((way.number for way in self._kept.ways()), default=0)
            first = max(self._latest.stop, kept + 1)
            numbered = dict(enumerate(found, first))
            pictures = {}
            for number, s in numbered.items():
                tell(f"drawing suggestion {number}")
                coloured = replace(
                    self._need(self._coloured),
                    palette=s.colourway.colouring.palette,
                    colouring=s.colourway.colouring,
                )
                pictures[f"suggestion-{number}"] = _picture(coloured)
            with self._lock:
                self._suggestions |= numbered
                self._latest = range(first, first + len(found))
                for number in sorted(self._suggestions)[:-_REMEMBERED]:
                    del self._suggestions[number]
                    if self._kept.way(number) is None:
                        self._pictures.pop(f"suggestion-{number}", None)
                self._pictures |= pictures
                self._revision["suggestions"] += 1

        self._submit("suggest", job)

    def take(self, number: int) -> None:
        """Take up a suggestion.

        Parameters
        ----------
        number : int
            From 1.
        """

        def job(tell: Progress) -> None:
            own, moment = self._suggested(number), self._moment
            known = load_palette(moment.plan)
            plan = replace(
                moment.plan, palette=own.palette, palette_data=own.palette_data
            )
            plan = work.fit_wishes(plan, load_palette(own), known)
            label = f"take up suggestion {number}"
            self._move(Moment(plan, own.rules.pins, label), tell)

        self._submit("take", job)

    def _suggested(self, number: int) -> Plan:
        """Return the plan of a suggestion, kept or not."""
        found = self._suggestions.get(number)
        kept = self._kept.way(number)
        if found is None and kept is None:
            what = "this suggestion is no longer there"
            raise FillworkError(what, mend="ask for suggestions again")
        return found.plan if found is not None else self._need(kept).plan

    def kept(self) -> list[dict[str, Any]]:
        """Return the colourways that are kept.

        Returns
        -------
        list of dict
            Number, words, and the name of the picture.
        """
        return [
            {
                "number": way.number,
                "words": way.words,
                "picture": f"suggestion-{way.number}",
            }
            for way in self._kept.ways()
        ]

    def keep(self, number: int, words: str) -> None:
        """Keep a suggestion, also after a new start.

        Parameters
        ----------
        number : int
            From 1.
        words : str
            What the page calls it.
        """
        plan = self._suggested(number)
        picture = self.picture(f"suggestion-{number}")
        self._kept.add(KeptWay(number, words, plan, picture))

    def let_go(self, number: int) -> None:
        """Keep a suggestion no longer.

        Parameters
        ----------
        number : int
            From 1.
        """
        self._kept.drop(number)

    def find_choices(self, colours: int) -> None:
        """Look for the ways in which K colours can change places.

        Parameters
        ----------
        colours : int
            K.
        """

        def job(tell: Progress) -> None:
            from fillwork.pipeline.colourways import find_ways

            survey = self._need_survey()
            rows: list[dict[str, Any]] = []
            pictures = {}
            for choice, coloured in find_ways(
                survey, self._moment.plan, colours, most=MOST_CHOICES, progress=tell
            ):
                letter = getattr(choice, "letter", "")  # none: the whole drawing
                letters = getattr(choice, "letters", ())
                name = f"choice-{letter or 'all'}-{choice.number}"
                pictures[name] = _picture(coloured)
                rows.append(
                    {
                        "letter": letter,
                        "letters": list(letters),
                        "number": choice.number,
                        "colours": colours,
                        "sentence": choice.sentence,
                        "picture": name,
                    }
                )
            with self._lock:
                self._choices = rows
                self._pictures |= pictures
                self._revision["choices"] += 1

        self._submit("choices", job)

    def lay_out(self, only: str = "") -> None:
        """Lay out the pages of the sheets.

        Parameters
        ----------
        only : str
            One sort of sheet in place of those that the plan asks for.
        """

        def job(tell: Progress) -> None:
            tell("laying out sheets")
            coloured = self._need(self._coloured)
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
            finish = Finish(self._need(self._coloured), tell)
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

    def _need(self, found: Any) -> Any:
        if found is None:
            what = "there is no closed region to colour yet"
            mend = "close the gaps that the drawing shows, or choose another drawing"
            raise FillworkError(what, self.name, mend)
        return found

    def _draw(self, linework: LineWork) -> None:
        with self._lock:
            self._linework = linework
        self._count("lines")

    def _open(self, tell: Progress) -> None:
        self._show(self._moment, tell)
        self._save()

    def _paint(self, tell: Progress) -> None:
        with self._lock:
            paints, self._paints = self._paints, []
        moment, coloured = self._moment, self._need(self._coloured)
        steps = []
        try:
            for pin, label in paints:
                steps.append(moment)
                moment = work.painted(coloured, moment, pin, label)
            self._show(moment, tell)
        except BaseException:
            # the page painted ahead; have it fetch what stands
            self._count("colouring", "plan")
            raise
        with self._lock:
            self._past = [*self._past, *steps][-MOST_MOMENTS:]
            self._future = []
        self._save()

    def _move(self, moment: Moment, tell: Progress) -> None:
        """Show another moment, and remember the one before."""
        before = self._moment
        self._show(moment, tell)
        with self._lock:
            self._past = [*self._past, before][-MOST_MOMENTS:]
            self._future = []
        self._save()

    def _step(self, forward: bool, tell: Progress) -> None:
        back, other = self._past, self._future
        if forward:
            back, other = other, back
        if not back:
            return
        moment, now = back[-1], self._moment
        self._show(moment, tell)
        with self._lock:
            back.pop()
            other.append(now)
        self._save()

    def _show(self, moment: Moment, tell: Progress) -> None:
        survey, coloured = self._bench.colour(moment, tell)
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
            self._survey, self._coloured, self._moment = survey, coloured, moment
            self._files, self._pages = {}, ()
        self._count(*fresh, "pages", "files")

    def _count(self, *names: str) -> None:
        with self._lock:
            for name in names:
                self._revision[name] += 1

    def _save(self) -> None:
        moment = self._moment
        standing = None
        if moment.standing is not None:
            standing = [[p.where, p.swatch, p.scope] for p in moment.standing]
        self._store.save(
            self.id, self.name, self._digest, plan_to_toml(moment.plan), standing
        )


def _finite(value: float) -> float | None:
    """Return a number as JSON can hold it."""
    return round(value, 1) if math.isfinite(value) else None


def _with_pins(plan: Plan, pins: Sequence[Pin]) -> Plan:
    return replace(plan, rules=replace(plan.rules, pins=tuple(pins)))


def _picture(coloured: Coloured) -> bytes:
    return encode(Finish(coloured).scene(), ".png", width=PICTURE_WIDTH)
