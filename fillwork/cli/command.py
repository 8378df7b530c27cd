"""A command whose options stand under headings, the likeliest first."""

from __future__ import annotations

import inspect
from typing import Any

import click

from fillwork.cli import options
from fillwork.cli.options import names_of
from fillwork.plans.settings import FITS

_REST = "Output"


def _headings() -> dict[str, tuple[str, ...]]:
    """Return each heading with the parameters under it, in the order of work."""
    return {
        "Many drawings": names_of(options.batch_options),
        "Plan and true size": names_of(options.size_options),
        "Lines of the drawing": names_of(options.reading_options),
        "Picture of a sheet": names_of(options.scan_options),
        "One cell over a panel": names_of(options.laying_options),
        "Bands": names_of(options.weave_options),
        "Symmetry and colours": (
            "palette",
            *names_of(options.kinds_options),
            *names_of(options.colouring_options),
        ),
        "Sheets": names_of(options.sheet_options),
        "Paint": names_of(options.paint_options),
        _REST: (
            *names_of(options.output_options),
            *names_of(options.picture_options),
            *names_of(options.run_options),
        ),
    }


class Command(click.Command):
    """Write help under headings, and let ``--fit`` and ``--teach`` stand alone.

    `args`: as for `click.Command`. `leading`: the heading that stands first.
    `settings`: as for `click.Command`.
    """

    def __init__(self, *args: Any, leading: str = "", **settings: Any) -> None:
        super().__init__(*args, **settings)
        self.leading = leading

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Return what is left of the arguments."""
        return super().parse_args(ctx, _whole(args))

    def format_help_text(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the first sentence; the rest follows the options."""
        formatter.write_paragraph()
        with formatter.indentation():
            formatter.write_text(self._texts()[0])

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write what else there is to say."""
        for text in self._texts()[1:]:
            formatter.write_paragraph()
            with formatter.indentation():
                formatter.write_text(text)

    def _texts(self) -> list[str]:
        """Return the paragraphs of the help."""
        return inspect.cleandoc(self.help or "").split("\n\n")

    def format_options(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the options under their headings."""
        records: dict[str, tuple[str, str]] = {}
        for parameter in self.get_params(ctx):
            record = parameter.get_help_record(ctx)
            if record is not None and isinstance(parameter, click.Option):
                records[parameter.name or ""] = record
        sections = _headings()
        order = sorted(sections, key=lambda heading: heading != self.leading)
        known = {name for names in sections.values() for name in names}
        own = [name for name in records if name not in known]
        for heading in order:
            names = [n for n in dict.fromkeys(sections[heading]) if n in records]
            if heading == _REST:
                names = [*(n for n in own if n != "help"), *names]
                names += [n for n in own if n == "help"]
            if names:
                with formatter.section(heading):
                    formatter.write_dl([records[n] for n in names])


def _whole(args: list[str]) -> list[str]:
    """Return arguments in which ``--fit`` and ``--teach`` have their values."""
    found: list[str] = []
    for k, word in enumerate(args):
        if word == "--":
            return [*found, *args[k:]]
        after = args[k + 1] if k + 1 < len(args) else ""
        if word == "--fit" and after not in FITS:
            found.append("--fit=page")
        elif word == "--teach" and not after.lstrip("-").isdigit():
            found.append("--teach=1")
        else:
            found.append(word)
    return found
