"""``fillwork palettes``: list, show, check, and draw one from a picture."""

from __future__ import annotations

from pathlib import Path

import click

from fillwork.cli.messages import say, show_notes, show_written


@click.group(name="palettes")
def command() -> None:
    """List, show, check palettes, or draw one from a picture."""


@command.command(name="list")
def list_command() -> None:
    """List the palettes that come with fillwork."""
    from fillwork.colouring.palettes.file import list_palettes, read_palette

    for name in list_palettes():
        palette = read_palette(name)
        media = dict.fromkeys(s.medium for s in palette.swatches if s.medium)
        count = len(palette.swatches)
        say(f"{name:<18} {count:3d} swatches  {', '.join(media)}")
        if palette.note:
            say(f"{'':<18} {palette.note}")


@command.command(name="show")
@click.argument("name", metavar="NAME|FILE")
def show_command(name: str) -> None:
    """Show the paints of one palette."""
    from fillwork.colouring.palettes.file import read_palette

    palette = read_palette(name)
    say(palette.name)
    for line in (palette.note, palette.source):
        if line:
            say(f"  {line}")
    width = max(len(s.name) for s in palette.swatches)
    for swatch in palette.swatches:
        about = (
            f"L* {swatch.lab[0]:3.0f}",
            swatch.role,
            swatch.medium,
            " ".join(swatch.pigments),
            swatch.opacity,
            f"lightfastness {swatch.lightfastness}" if swatch.lightfastness else "",
        )
        text = "  ".join(part for part in about if part)
        say(f"{swatch.code:>4}  {swatch.hex}  {swatch.name:<{width}}  {text}")
    cautions = dict.fromkeys(c for s in palette.swatches for c in s.cautions)
    for caution in cautions:
        say(f"caution: {caution}")
    if cautions:
        say("The label, local rules and licensed practice come first.")
    show_notes(palette.notes)


@command.command(name="check")
@click.argument("file", metavar="NAME|FILE")
def check_command(file: str) -> None:
    """Measure a palette: contrast in each vision, values, near-twins, cautions."""
    from fillwork.colouring.palettes.check import check_palette, report_text
    from fillwork.colouring.palettes.file import read_palette

    report = check_palette(read_palette(file))
    say(report_text(report).rstrip("\n"))
    show_notes(report.notes)


@command.command(name="from")
@click.argument("picture", metavar="PICTURE")
@click.option(
    "--count",
    type=click.IntRange(2, 64),
    default=8,
    show_default=True,
    metavar="N",
    help="How many swatches.",
)
@click.option("--name", metavar="TEXT", help="Name of the palette.")
@click.option(
    "--out", metavar="FILE", help="Write it there; without it to standard output."
)
@click.option("--force", is_flag=True, help="Overwrite a file that differs.")
def from_command(
    picture: str, count: int, name: str | None, out: str | None, force: bool
) -> None:
    """Draw a palette from a photograph, to start from a tile or a textile."""
    from fillwork.colouring.palettes.file import palette_to_toml
    from fillwork.colouring.palettes.picture import palette_from_picture
    from fillwork.pipeline.output import write_file
    from fillwork.pipeline.taking import read_source

    title = name or Path(picture).stem
    palette = palette_from_picture(read_source(picture), count, title)
    text = palette_to_toml(palette)
    if out is None:
        say(text, nl=False)
    else:
        write_file(Path(out), text.encode(), force=force)
        show_written([out])
    show_notes(palette.notes)
