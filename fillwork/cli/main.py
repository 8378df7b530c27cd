"""The group of commands, each loaded on first use, and how errors end it."""

from __future__ import annotations

import gc
import importlib
import os
import sys
from typing import Any

import click

from fillwork.cli.messages import say
from fillwork.errors import FillworkError

COMMANDS = {
    "survey": "Find regions, open ends, symmetry and kinds; show a table.",
    "colour": "Do the main job: coloured drawing, sheets, schedule, report, plan.",
    "colourways": "Lay palettes or assignments side by side, each with its plan.",
    "sheets": "Make paint-by-region sheets.",
    "schedule": "Work out areas, paint and leaf to buy, order and cautions.",
    "repeat": "Lay one cell, or one repeat, over a whole panel at true scale.",
    "trace": "Trace a scan or a photograph of an inked sheet to exact lines.",
    "weave": "Weave plain lines into bands that pass over and under.",
    "batch": "Do the main job for many drawings, each in a folder of its own.",
    "page": "Open the local page: the whole job without a command line.",
    "palettes": "List, show, check palettes, or draw one from a picture.",
    "report": "Gather what to hand over when a drawing comes out wrong.",
}
"""Each command with the line that help shows, so that help loads none of them."""

_SELDOM = (200_000, 20, 100)
"""Objects, and looks at younger ones, between two looks for what is out of use."""


class _Commands(click.Group):
    """Load a command's module when the command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command, loaded now."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"fillwork.cli.{cmd_name}")
        command: click.Command = module.command
        return command

    def format_commands(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the commands with their lines."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def format_options(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the commands first, then the options."""
        self.format_commands(ctx, formatter)
        click.Command.format_options(self, ctx, formatter)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command, or name the nearest one."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            import difflib

            near = difflib.get_close_matches(name, COMMANDS, 1)
            hint = f" Did you mean “{near[0]}”?" if near else ""
            ctx.fail(f"There is no command “{name}”.{hint}")
        if name != "page":
            # what a single run makes is in use until it ends
            gc.set_threshold(*_SELDOM)
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run, and turn errors into a message and an exit code."""
        try:
            return super().invoke(ctx)
        except click.UsageError as error:
            say(f"fillwork: {_told(error)}", err=True)
            ctx.exit(error.exit_code)
        except FillworkError as error:
            say(f"fillwork: {error}", err=True)
            ctx.exit(error.exit_code)
        except MemoryError:
            say(
                "fillwork: the drawing needs more memory than there is\n"
                "  leave lines out with --leave, or split the drawing",
                err=True,
            )
            ctx.exit(1)
        except BrokenPipeError:
            # whoever read the results has seen enough
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            ctx.exit(0)


def _told(error: click.UsageError) -> FillworkError:
    """Return what is wrong with options or arguments in the words of all errors."""
    command = error.ctx.command_path if error.ctx else "fillwork"
    mend = f"{command} --help tells what it takes"
    name = ""
    if isinstance(error, click.NoSuchOption):
        what = f"there is no option {error.option_name}"
        if error.possibilities:
            mend = f"did you mean {' or '.join(sorted(error.possibilities))}?"
    elif isinstance(error, click.MissingParameter):
        missing = error.param.human_readable_name if error.param else "something"
        what = f"{missing} is missing"
    else:
        what, _, remedy = error.message.rstrip(".").partition("; ")
        mend = remedy or mend
        if isinstance(error, click.BadParameter) and error.param is not None:
            param = error.param
            is_option = isinstance(param, click.Option)
            name = param.opts[0] if is_option else param.human_readable_name
            if isinstance(param.type, click.Choice):
                mend = f"take one of {', '.join(map(str, param.type.choices))}"
                what = what.partition(" is not one of ")[0] + " is none of its words"
    return FillworkError(what, name, mend)


@click.command(
    cls=_Commands,
    epilog="DRAWING is SVG, DXF or PDF, or a scan or photograph of a sheet (PNG, "
    "JPEG, TIFF, WebP), or - for standard input. Lengths take mm cm m in ft pt px; a "
    "bare number is mm. Results go to standard output, notes and errors to standard "
    "error. Each command has --help.",
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 88},
)
@click.version_option(package_name="fillwork", message="fillwork %(version)s")
def main() -> None:
    """Plan the painted finish of geometric line work."""
