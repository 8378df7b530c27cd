"""A PDF file opened, one of its pages chosen, and its layers told."""

from __future__ import annotations

import io
import logging
import math
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pikepdf

from fillwork.errors import ReadError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.geometry.affine import Affine
    from fillwork.readers.limits import Limits


# pikepdf logs what it mends; without a handler Python would print that
logging.getLogger("pikepdf").addHandler(logging.NullHandler())

_MOST_UP = 60  # steps up the tree of pages
_SWOLLEN = 400_000_000  # bytes that one packed part of the file may swell to


@contextmanager
def open_pdf(data: bytes, where: str, limits: Limits) -> Iterator[pikepdf.Pdf]:
    """Open a file for a while.

    Yields the file. Raises `ReadError` if it is locked, cut short or no PDF.
    """
    if b"%%EOF" not in data:
        what = "the PDF is cut short: it ends without %%EOF"
        raise ReadError(what, where, "copy or save it again")
    with _bounded(min(_SWOLLEN, limits.file_bytes)):
        try:
            pdf = pikepdf.open(io.BytesIO(data), suppress_warnings=True)
        except pikepdf.PasswordError as error:
            what = "the PDF is locked by a password"
            raise ReadError(what, where, "save it without the password") from error
        except (pikepdf.PdfError, ValueError, RuntimeError) as error:
            what = "the PDF is damaged and cannot be opened"
            raise ReadError(what, where, "copy or save it again") from error
        with pdf:
            yield pdf


@contextmanager
def _bounded(most: int) -> Iterator[None]:
    """Bound what qpdf unpacks by itself, where this pikepdf can (10.5 and newer)."""
    from pikepdf import settings

    change = getattr(settings, "set_qpdf_limits", None)
    if change is None:
        yield
        return
    names = ("flate_max_memory", "png_max_memory", "tiff_max_memory",
             "run_length_max_memory", "dct_max_memory")  # fmt: skip
    before = change(**dict.fromkeys(names, most))
    try:
        yield
    finally:
        change(**before)


def choose_page(pdf: pikepdf.Pdf, number: int | None, where: str) -> Any:
    """Return the page that is to be read; the page's dictionary.

    `number`: from 1; None for the first. Raises `ReadError` if there is no such page.
    """
    count = len(pdf.pages)
    if count == 0:
        what = "the PDF has no pages"
        raise ReadError(what, where, "copy or save it again")
    wanted = 1 if number is None else number
    if not 1 <= wanted <= count:
        several = "1 page" if count == 1 else f"{count} pages"
        what = f"there is no page {wanted}: the PDF has {several}"
        raise ReadError(what, where, f"give --page-number from 1 to {count}")
    return pdf.pages[wanted - 1].obj


def inherited(page: Any, key: str) -> Any:
    """Return an entry of a page, or of the tree above it."""
    node = page
    for _ in range(_MOST_UP):
        if key in node:
            return node[key]
        if "/Parent" not in node:
            return None
        node = node["/Parent"]
    return None


@dataclass(frozen=True, slots=True)
class PageBox:
    """Hold the page as it is seen."""

    size: tuple[float, float]  # width and height, mm
    matrix: Affine  # from the page's units to mm, y up, turned as the page is


def read_box(page: Any, where: str) -> PageBox:
    """Return the page's size and the way to mm.

    Its crop box, turned, at true size (ISO 32000-1, sections 7.7.3.3, 14.11.2).

    Raises `ReadError` if it has no box.
    """
    media = _numbers(inherited(page, "/MediaBox"))
    crop = _numbers(inherited(page, "/CropBox")) or media
    if media is None or crop is None:
        what = "the page has no size"
        raise ReadError(what, where, "save the file once more as PDF")
    x0, y0 = max(media[0], crop[0]), max(media[1], crop[1])
    x1, y1 = min(media[2], crop[2]), min(media[3], crop[3])
    if not (x1 > x0 and y1 > y0):
        x0, y0, x1, y1 = media
    unit = 25.4 / 72 * _unit(page)
    turned = inherited(page, "/Rotate")
    turns = round(float(turned) / 90) % 4 if _is_number(turned) else 0
    width, height = (x1 - x0) * unit, (y1 - y0) * unit
    if not (1e-3 <= width <= 1e8 and 1e-3 <= height <= 1e8):
        what = f"a page of {width:g} by {height:g} mm cannot be meant"
        raise ReadError(what, where, "save the file once more as PDF")
    k = unit
    matrix = (
        (k, 0.0, 0.0, k, -x0 * k, -y0 * k),
        (0.0, -k, k, 0.0, -y0 * k, x1 * k),
        (-k, 0.0, 0.0, -k, x1 * k, y1 * k),
        (0.0, k, -k, 0.0, y1 * k, -x0 * k),
    )[turns]
    return PageBox((height, width) if turns % 2 else (width, height), matrix)


def _is_number(value: Any) -> bool:
    try:
        return math.isfinite(float(value))
    except (TypeError, ValueError):
        return False


def _unit(page: Any) -> float:
    unit = page.get("/UserUnit", 1)
    return float(unit) if _is_number(unit) and float(unit) > 0 else 1.0


def _numbers(box: Any) -> tuple[float, float, float, float] | None:
    if not isinstance(box, pikepdf.Array) or len(box) != 4:
        return None
    if not all(_is_number(v) for v in box):
        return None
    a, b, c, d = (float(v) for v in box)
    low, high = (min(a, c), min(b, d)), (max(a, c), max(b, d))
    return (*low, *high) if high[0] > low[0] and high[1] > low[1] else None


@dataclass(slots=True)
class Layers:
    """Hold which layers of a file are seen (ISO 32000-1, section 8.11)."""

    # objects of the layers that are off
    off: set[tuple[int, int]] = field(default_factory=set)
    # names of all layers
    names: dict[tuple[int, int], str] = field(default_factory=dict)
    shown: frozenset[str] = frozenset()  # layers that are read though they are off

    @classmethod
    def of(cls, pdf: pikepdf.Pdf, shown: frozenset[str]) -> Layers:
        """Return the layers of a file; by the file's default configuration.

        `shown`: layers that are read though they are off.
        """
        found = cls(shown=shown)
        told = pdf.Root.get("/OCProperties")
        if not isinstance(told, pikepdf.Dictionary):
            return found
        for group in _items(told.get("/OCGs")):
            if isinstance(group, pikepdf.Dictionary):
                found.names[group.objgen] = str(group.get("/Name", ""))
        usual = told.get("/D", pikepdf.Dictionary())
        if str(usual.get("/BaseState", "/ON")) == "/OFF":
            found.off = set(found.names)
            found.off -= {group.objgen for group in _items(usual.get("/ON"))}
        found.off |= {group.objgen for group in _items(usual.get("/OFF"))}
        return found

    def look(self, group: Any) -> tuple[bool, str | None]:
        """Return whether marked content is seen, and its layer's name.

        `group`: a group of optional content, or a membership in several. Returns
        `seen`: whether it is seen; `name`: the first group's name.
        """
        if not isinstance(group, pikepdf.Dictionary):
            return True, None
        if str(group.get("/Type", "")) != "/OCMD":
            name = self.names.get(group.objgen) or None
            seen = group.objgen not in self.off or name in self.shown
            return seen, name
        members = group.get("/OCGs")
        several = [members] if isinstance(members, pikepdf.Dictionary) else (
            _items(members)
        )  # fmt: skip
        states = [self.look(m) for m in several if isinstance(m, pikepdf.Dictionary)
                  and str(m.get("/Type", "")) != "/OCMD"]  # fmt: skip
        if not states:
            return True, None
        on = [seen for seen, _ in states]
        rule = str(group.get("/P", "/AnyOn"))
        seen = {
            "/AllOn": all(on), "/AnyOff": not all(on), "/AllOff": not any(on),
        }.get(rule, any(on))  # fmt: skip
        return seen, states[0][1]


def _items(value: Any) -> list[Any]:
    return list(value) if isinstance(value, pikepdf.Array) else []
