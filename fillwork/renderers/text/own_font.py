"""Take up a font of the user's own, for scripts that the bundled fonts lack.

Sheets need outlines, a map from characters to glyphs, and leave to embed. What a
file may hold besides is brought down to that: the first font of a collection, the
default instance of a variable font, a web font unpacked.
"""

from __future__ import annotations

import io
from functools import lru_cache
from typing import TYPE_CHECKING

from fillwork.errors import FillworkError, RenderError
from fillwork.renderers.text.typeset import FontSet, default_fonts

if TYPE_CHECKING:
    from typing import Any


_MEND = "give a TrueType or OpenType font (.ttf, .otf) that has the characters"
_PLAIN = (b"\x00\x01\x00\x00", b"true", b"OTTO")
_VARIABLE = ("fvar", "gvar", "avar", "cvar", "HVAR", "VVAR", "MVAR")

_NO_EMBEDDING = 0x0002
_BITMAPS_ONLY = 0x0200


def plain_font(data: bytes, name: str) -> bytes:
    """Return a font file as one static TrueType or OpenType font.

    The same bytes where nothing had to be done. `data`: the file: a font, a collection
    (its first font is taken), a variable font (its default instance) or a web font.
    Raises `RenderError` if it is no font, has no outlines or no characters, or its
    licence bits forbid embedding (OpenType 1.9.1, OS/2 ``fsType``).
    """
    from fontTools.ttLib import TTFont

    try:
        font = TTFont(io.BytesIO(data), fontNumber=0, lazy=True)
        tables = set(font.keys())
        made, rights = _made_of(font, tables)
    except FillworkError:
        raise
    except Exception as error:  # a broken font breaks its reader in many ways
        what = f"this is no font that can be read ({_reason(error)})"
        raise RenderError(what, name, _MEND) from error
    if made:
        what = f"this font has {made}"
        raise RenderError(what, name, _MEND)
    if rights & (_NO_EMBEDDING | _BITMAPS_ONLY):
        what = "the licence bits of this font forbid embedding it in a PDF"
        raise RenderError(what, name, "give a font that may be embedded")
    variable = "fvar" in tables
    if data[:4] in _PLAIN and not variable:
        return data
    try:
        return _unpacked(data, variable)
    except Exception as error:
        what = f"this font cannot be unpacked ({_reason(error)})"
        raise RenderError(what, name, _MEND) from error


def _made_of(font: Any, tables: set[str]) -> tuple[str, int]:
    """Return what is missing in a font, in words, and its embedding bits."""
    if "CFF2" in tables:
        return "outlines that a PDF cannot hold (CFF2)", 0
    if not tables & {"glyf", "CFF "}:
        return "no outlines, only pictures", 0
    if not {"head", "hhea", "hmtx", "maxp"} <= tables:
        return "no measures (tables head, hhea, hmtx, maxp)", 0
    if "cmap" not in tables or not font.getBestCmap():
        return "no table of characters", 0
    rights = int(font["OS/2"].fsType) if "OS/2" in tables else 0
    return "", rights


def _unpacked(data: bytes, variable: bool) -> bytes:
    from fontTools.ttLib import TTFont

    font = TTFont(io.BytesIO(data), fontNumber=0, recalcTimestamp=False)
    font.flavor = None
    if variable:
        # the outlines of a variable font are those of its default instance
        for table in _VARIABLE:
            if table in font:
                del font[table]
    out = io.BytesIO()
    font.save(out, reorderTables=True)
    return out.getvalue()


def _reason(error: Exception) -> str:
    text = str(error).strip().splitlines()
    return text[0] if text else type(error).__name__


@lru_cache(maxsize=4)
def own_fonts(data: bytes, name: str) -> FontSet:
    """Return the bundled fonts, followed by one of the user's own.

    Fonts for composing and for encoding. `data`: the font file; empty for the bundled
    fonts alone. Raises `RenderError` if the file is no font that can be used.
    """
    if not data:
        return default_fonts()
    try:
        return FontSet(plain_font(data, name))
    except RenderError as error:
        if error.where:
            raise
        raise RenderError(error.what, name, error.mend) from error
