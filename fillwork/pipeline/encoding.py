"""A scene to the bytes of a file, by the file's suffix."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fillwork.renderers.scene import Scene
    from fillwork.renderers.text.typeset import FontSet


PICTURES = (".svg", ".png", ".pdf")
MEDIA = {
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".pdf": "application/pdf",
    ".dxf": "image/vnd.dxf",
    ".json": "application/json",
    ".html": "text/html; charset=utf-8",
    **dict.fromkeys((".txt", ".csv", ".toml"), "text/plain; charset=utf-8"),
}
"""Media type of each kind of file that is made."""


def encode(
    scene: Scene, suffix: str, *, width: int = 1600, fonts: FontSet | None = None
) -> bytes:
    """Return a scene in the format that a file suffix names.

    `suffix`: ``.svg``, ``.png``, ``.pdf`` or ``.dxf`` (closed outlines alone). `width`:
    width of a PNG, px. Raises `RenderError` if the suffix is another one.
    """
    from fillwork.errors import RenderError

    match suffix.lower():
        case ".svg":
            from fillwork.renderers.encoders.svg import to_svg

            return to_svg(scene, fonts=fonts)
        case ".png":
            from fillwork.renderers.encoders.png import to_png

            return to_png(scene, width, fonts=fonts)
        case ".pdf":
            from fillwork.renderers.encoders.pdf import to_pdf

            return to_pdf((scene,), title=scene.title, fonts=fonts)
        case ".dxf":
            from fillwork.renderers.encoders.dxf import to_dxf

            return to_dxf(scene)
    what = f"a picture cannot be written as “{suffix}”"
    raise RenderError(what, mend="name a file ending in " + ", ".join(PICTURES))
