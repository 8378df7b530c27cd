"""The demo's drawings, for who has none at hand yet."""

from __future__ import annotations

from pathlib import Path

from fillwork.errors import ReadError


def _folder() -> Path | None:
    """Return the folder of the demo's drawings: in the wheel, or beside the package."""
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "demo", package.parent / "demo" / "drawings"):
        if any(folder.glob("*.svg")):
            return folder
    return None


def list_demos() -> list[str]:
    """Return the names of the demo's drawings, in alphabetical order."""
    folder = _folder()
    return [] if folder is None else sorted(p.stem for p in folder.glob("*.svg"))


def demo_drawing(name: str) -> bytes:
    """Return one of the demo's drawings as SVG, by its name of `list_demos`."""
    return _read(name, ".svg")


def demo_picture(name: str) -> bytes:
    """Return a small coloured picture of one of the demo's drawings as PNG."""
    return _read(name, ".png")


def _read(name: str, suffix: str) -> bytes:
    """Return a file of the demo; raise `ReadError` if there is none of this name."""
    folder = _folder()
    if folder is None or name not in list_demos():
        what = "there is no such drawing in the demo"
        raise ReadError(what, mend="choose one of " + ", ".join(list_demos()))
    return (folder / f"{name}{suffix}").read_bytes()
