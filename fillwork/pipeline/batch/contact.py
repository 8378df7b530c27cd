"""The contact sheet of a batch: every drawing small, with its paints under it."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from fillwork.printing import title_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.pipeline.batch.parts import Part
    from fillwork.renderers.contact import ContactCell
    from fillwork.renderers.scene import Scene
    from fillwork.renderers.text.typeset import FontSet


WIDTH = 2339
"""Width of a page, px: A4 at 200 dots an inch."""


def contact_files(
    parts: Sequence[Part], *, left_out: int, several: bool, fonts: FontSet | None = None
) -> dict[str, bytes]:
    """Return the contact sheet, a PNG a page.

    File names and contents; none where nothing was done. `parts`: what was done, in the
    order of the drawings. `left_out`: how many were not. `several`: whether drawings
    have several palettes, so that these are named.
    """
    from fillwork.renderers.contact import compose_contact

    if not parts:
        return {}
    words = f"{len(parts):,} drawing{'s' * (len(parts) != 1)}"
    if several:
        words = f"{len(parts):,} colourings"
    if left_out:
        words += f"; {left_out:,} not done, see batch.csv"
    pages = compose_contact(
        [_cell(part, several) for part in parts],
        title="Contact sheet",
        subtitle=words,
        columns=(3, 4, 5, 6),
        fonts=fonts,
    )
    files, rest = {}, list(parts)
    for number, page in enumerate(pages, 1):
        name = "contact.png" if len(pages) == 1 else f"contact-{number:02d}.png"
        files[name] = _paint(page, rest, fonts)
    return files


def _cell(part: Part, several: bool) -> ContactCell:
    """Return an empty cell with what stands under it."""
    from fillwork.renderers.contact import ContactCell
    from fillwork.renderers.scene import Scene

    row = part.row
    least = "none touch" if row.least is None else f"{row.least:.1f}"
    title = title_words(row.drawing)
    return ContactCell(
        title=f"{title}: {row.palette}" if several else title,
        scene=Scene(100.0, 100.0, ()),
        strip=row.strip,
        measures=(
            ("regions, kinds", f"{row.regions}, {row.kinds}"),
            ("symmetry", row.symmetry + ("" if row.certain else "?")),
            ("least ΔE00", least),
        ),
    )


def _paint(page: Scene, rest: list[Part], fonts: FontSet | None) -> bytes:
    """Return a page with the small pictures of its cells, taken off the list."""
    from PIL import Image, ImageOps

    from fillwork.pipeline.encoding import encode
    from fillwork.renderers.scene import Placed

    drawn = encode(page, ".png", width=WIDTH, fonts=fonts)
    sheet = Image.open(io.BytesIO(drawn)).convert("RGB")
    scale = sheet.width / page.width
    for item in page.items:
        if not isinstance(item, Placed) or item.clip is None:
            continue
        left, bottom, right, top = (v * scale for v in item.clip)
        size = round(right - left), round(top - bottom)
        with Image.open(io.BytesIO(rest.pop(0).picture)) as picture:
            fitted = ImageOps.contain(picture.convert("RGB"), size)
        x = round(left) + (size[0] - fitted.width) // 2
        y = round(sheet.height - top) + (size[1] - fitted.height) // 2
        sheet.paste(fitted, (x, y))
    out = io.BytesIO()
    sheet.save(out, "PNG")
    return out.getvalue()
