"""The finish: a coloured drawing with everything that is handed out with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwork.pipeline import finish_files
from fillwork.pipeline.encoding import encode
from fillwork.pipeline.output import default_folder, write_file, write_files
from fillwork.pipeline.painting import plan_for
from fillwork.pipeline.progress import quiet
from fillwork.pipeline.taking import plan_fonts
from fillwork.printing import title_words
from fillwork.values import told_repr

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from fillwork.arrangement.model import Arrangement
    from fillwork.colouring.model import Colouring
    from fillwork.colouring.palettes.model import Palette
    from fillwork.notes import Note
    from fillwork.pipeline.choices import Choices
    from fillwork.pipeline.painting import Coloured
    from fillwork.pipeline.surveying import Survey
    from fillwork.plans.model import Made, Plan, Schedule
    from fillwork.renderers.scene import Scene
    from fillwork.renderers.sheets.parts import Parts
    from fillwork.renderers.text.typeset import FontSet
    from fillwork.symmetry.model import Orbits


@dataclass(frozen=True, eq=False)
class Finish:
    """Hold a coloured drawing and make each output from it on request.

    Parameters
    ----------
    coloured : Coloured
        The survey, the colouring and the schedule.
    progress : callable
        Called with the name of each output as it begins.
    """

    coloured: Coloured
    progress: Callable[[str], None] = quiet

    def __repr__(self) -> str:
        return told_repr(self, self.survey.linework.file, self.colouring)

    @property
    def survey(self) -> Survey:
        """Return what was found in the drawing."""
        return self.coloured.survey

    @property
    def arrangement(self) -> Arrangement:
        """Return the regions."""
        return self.survey.arrangement

    @property
    def orbits(self) -> Orbits:
        """Return the kinds."""
        return self.survey.orbits

    @property
    def palette(self) -> Palette:
        """Return the palette."""
        return self.coloured.palette

    @property
    def colouring(self) -> Colouring:
        """Return which region bears which swatch."""
        return self.coloured.colouring

    @property
    def schedule(self) -> Schedule:
        """Return what to buy and in what order to paint."""
        return self.coloured.schedule

    @property
    def notes(self) -> tuple[Note, ...]:
        """Return the notes of all stages."""
        from fillwork.colouring.vision import view_notes

        view = self.plan.view
        made = finish_files.made_notes(self.coloured.plan.made, self._made)
        own = () if view == "normal" else view_notes(self.views, view)
        return (*self.survey.notes, *self.coloured.notes, *made, *own)

    @cached_property
    def views(self) -> dict[str, Any]:
        """Return the smallest difference under each view, with warnings.

        As of `fillwork.colouring.vision.measure_views`.
        """
        from fillwork.colouring.vision import measure_views

        survey = self.survey
        return measure_views(
            survey.arrangement, self.orbits, survey.adjacency, self.colouring
        )

    @property
    def plan(self) -> Plan:
        """Return all choices, with the drawing's name and digest."""
        plan = self.coloured.plan
        return replace(plan_for(self.survey, plan, plan.rules.pins), made=self._made)

    @cached_property
    def _made(self) -> Made:
        """Return the version and the swatch of each kind that bears one."""
        return finish_files.made_of(self.coloured)

    @property
    def title(self) -> str:
        """Return the title of sheets: the plan's, else the file's name in words."""
        return self.plan.sheets.title or title_words(self.survey.linework.file)

    def scene(self, view: str = "normal") -> Scene:
        """Return the coloured drawing.

        Parameters
        ----------
        view : str
            ``deutan`` and the like: in the colours that are seen so.

        Returns
        -------
        Scene
            Fills by swatch, outlines on top.
        """
        from fillwork.renderers.coloured import compose_coloured

        return compose_coloured(
            self.arrangement,
            self.survey.outlines,
            self.orbits,
            self.colouring,
            view=view,
            title=self.title,
        )

    @cached_property
    def choices(self) -> Choices | None:
        """Return the numbered choices of counterchange.

        None where no counterchange was asked for.
        """
        from fillwork.pipeline.choices import find_choices_of

        return find_choices_of(self.coloured)

    @cached_property
    def _scene(self) -> Scene:
        return self.scene()

    def svg(self) -> bytes:
        """Return the coloured drawing as SVG with true curves."""
        return encode(self._scene, ".svg")

    def png(self) -> bytes:
        """Return the coloured drawing as PNG, `Plan.png_width` wide."""
        return encode(self._scene, ".png", width=self.plan.png_width)

    def view_png(self) -> bytes:
        """Return the coloured drawing under the plan's view as PNG.

        `Plan.png_width` wide.
        """
        scene = self.scene(self.plan.view)
        return encode(scene, ".png", width=self.plan.png_width)

    def pdf(self) -> bytes:
        """Return the coloured drawing as PDF, at the size of the drawing.

        One page with true curves.
        """
        return encode(self._scene, ".pdf", fonts=self.fonts)

    def plot(self, ax: Any = None) -> Any:
        """Draw the coloured regions on axes of matplotlib.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Where to; new axes by default.

        Returns
        -------
        matplotlib.axes.Axes
            In mm, y up.
        """
        from fillwork.pipeline.plotting import plot_regions

        return plot_regions(self.survey, self.colouring, ax)

    @cached_property
    def fonts(self) -> FontSet:
        """Return the fonts of sheets and schedule.

        The bundled fonts, and the plan's own after them.

        Raises
        ------
        PlanError
            If the plan names a font that is not at hand.
        """
        from fillwork.errors import PlanError

        plan = self.coloured.plan
        if plan.sheets.font and not plan.font_data:
            what = f"the font “{plan.sheets.font}” that the plan names is not beside it"
            raise PlanError(what, mend="put it there, or name it with --font FILE")
        return plan_fonts(plan)

    def sheet_scenes(self) -> tuple[Scene, ...]:
        """Return the pages of the sheets that the plan asks for."""
        return self._sheet_scenes

    def mask_scenes(self) -> tuple[Scene, ...]:
        """Return one page a paint to cut by, at true size, if masks are wanted.

        Closed outlines and nothing else; none unless the plan's sheets name ``masks``.
        """
        return self._mask_scenes

    @cached_property
    def _mask_scenes(self) -> tuple[Scene, ...]:
        from fillwork.renderers.sheets.masks import compose_masks

        if "masks" not in self.plan.sheets.sheets:
            return ()
        return compose_masks(self._sheet_parts, self.schedule.under)

    @property
    def sheet_notes(self) -> tuple[Note, ...]:
        """Return what is odd about the sheets, which are laid out for it.

        Each once.
        """
        return finish_files.notes_of_sheets(self)

    @cached_property
    def _sheet_scenes(self) -> tuple[Scene, ...]:
        from fillwork.renderers.sheets.compose import compose_sheets

        return compose_sheets(self._sheet_parts)

    @cached_property
    def _sheet_parts(self) -> Parts:
        return finish_files.parts_of(self)

    def sheets(self) -> bytes:
        """Return the sheets as one PDF."""
        from fillwork.renderers.encoders.pdf import to_pdf

        return to_pdf(self.sheet_scenes(), title=self.title, fonts=self.fonts)

    def leaf(self) -> bytes:
        """Return how leaf is laid and cut, as PDF.

        Pages with the shapes and their leaves.
        """
        return finish_files.leaf_pdf(self)

    def schedule_text(self) -> str:
        """Return the schedule to take to the shop and to the wall."""
        from fillwork.plans.schedule_text import schedule_text

        return schedule_text(self.schedule, self.palette, self.orbits)

    def schedule_csv(self) -> str:
        """Return the schedule's quantities as CSV."""
        from fillwork.plans.schedule_csv import schedule_csv

        return schedule_csv(self.schedule, self.palette, self.orbits)

    def plan_toml(self) -> str:
        """Return the plan file's text."""
        from fillwork.plans.file import plan_to_toml

        return plan_to_toml(self.plan)

    def report(self, outputs: Mapping[str, bytes] | None = None) -> dict[str, Any]:
        """Return the report as plain values.

        Parameters
        ----------
        outputs : mapping of str to bytes, optional
            Files written with it, whose digests the report gives.

        Returns
        -------
        dict
            The content of ``report.json``.
        """
        from fillwork.renderers.rows import plain

        return plain(finish_files.report_columns(self, outputs))

    def html(self) -> bytes:
        """Return the page to hand on: the drawing to repaint, in one file.

        HTML that needs nothing else; it repaints, but does not solve.
        """
        return finish_files.page_file(self)

    def dxf(self) -> bytes:
        """Return the closed outlines of all regions, one layer a paint.

        DXF with true curves, 1 unit = 1 mm.
        """
        return encode(self._scene, ".dxf")

    def files(self, *, html: bool = False, dxf: bool = False) -> dict[str, bytes]:
        """Return every file of the main job.

        Parameters
        ----------
        html : bool
            Whether the page to hand on is among them.
        dxf : bool
            Whether closed outlines for cutters and CAD are among them.

        Returns
        -------
        dict of str to bytes
            File names and contents, the report last.
        """
        return finish_files.all_files(self, html=html, dxf=dxf)

    def write(
        self,
        folder: str | Path | None = None,
        *,
        force: bool = False,
        keep: Path | None = None,
        html: bool = False,
        dxf: bool = False,
    ) -> tuple[Path, ...]:
        """Write every file of the main job, or none.

        Parameters
        ----------
        folder : str or Path, optional
            Where to; made when missing. ``out/NAME`` of the drawing by default.
        force : bool
            Overwrite files that are not fillwork's own.
        keep : Path, optional
            A file that is never overwritten.
        html : bool
            Whether the page to hand on is among them.
        dxf : bool
            Whether closed outlines for cutters and CAD are among them.

        Returns
        -------
        tuple of Path
            The files written.
        """
        files = self.files(html=html, dxf=dxf)
        folder = default_folder(self.survey.linework.file) if folder is None else folder
        return write_files(Path(folder), files, force=force, keep=keep)

    def sheet_files(self, formats: Sequence[str] = ("pdf",)) -> dict[str, bytes]:
        """Return the sheets in several formats.

        Parameters
        ----------
        formats : sequence of str
            Of ``pdf``, ``svg`` and ``png``; the latter two give a file a page.

        Returns
        -------
        dict of str to bytes
            File names and contents.

        Raises
        ------
        PlanError
            If true size would take more pages than the plan allows.
        """
        return finish_files.sheet_files(self, formats)

    def pages_text(self) -> str:
        """Return how many pages the sheets have, and what paper they take.

        One line.
        """
        return finish_files.pages_text(self)

    def write_svg(self, path: str | Path, *, force: bool = False) -> None:
        """Write the coloured drawing as SVG.

        Parameters
        ----------
        path : str or Path
            The file.
        force : bool
            Overwrite another file.
        """
        write_file(Path(path), self.svg(), force=force)

    def write_png(self, path: str | Path, *, force: bool = False) -> None:
        """Write the coloured drawing as PNG.

        Parameters
        ----------
        path : str or Path
            The file.
        force : bool
            Overwrite another file.
        """
        write_file(Path(path), self.png(), force=force)

    def write_sheets(self, path: str | Path, *, force: bool = False) -> None:
        """Write the sheets as PDF.

        Parameters
        ----------
        path : str or Path
            The file.
        force : bool
            Overwrite another file.
        """
        write_file(Path(path), self.sheets(), force=force)

    def write_schedule(self, path: str | Path, *, force: bool = False) -> None:
        """Write the schedule as text, or as CSV when the name ends so.

        Parameters
        ----------
        path : str or Path
            The file.
        force : bool
            Overwrite another file.
        """
        path = Path(path)
        as_csv = path.suffix.lower() == ".csv"
        text = self.schedule_csv() if as_csv else self.schedule_text()
        write_file(path, text.encode(), force=force)

    def write_plan(self, path: str | Path, *, force: bool = False) -> None:
        """Write the plan file.

        Parameters
        ----------
        path : str or Path
            The file.
        force : bool
            Overwrite another file.
        """
        write_file(Path(path), self.plan_toml().encode(), force=force)

    def write_report(self, path: str | Path, *, force: bool = False) -> None:
        """Write the report as JSON.

        Parameters
        ----------
        path : str or Path
            The file.
        force : bool
            Overwrite another file.
        """
        from fillwork.renderers.report import to_json

        write_file(Path(path), to_json(finish_files.report_columns(self)), force=force)

    def _repr_svg_(self) -> str:
        """Show the coloured drawing in a notebook."""
        return self.svg().decode()

    def _repr_html_(self) -> str:
        """Show the coloured drawing with the kinds in a notebook."""
        from fillwork.pipeline.notebook import notebook_html

        return notebook_html(self._repr_svg_(), self.survey, self.colouring)
