"""Embed fonts in a PDF: only the glyphs used, with a map back to characters.

ISO 32000-2:2020, 9.7 (composite fonts) and 9.10.3 (ToUnicode CMaps). Glyph numbers
are kept on subsetting, so that text can be written before the fonts are cut.
"""

from __future__ import annotations

import hashlib
import io
from typing import TYPE_CHECKING

import pikepdf
from pikepdf import Array, Dictionary, Name

from fillwork.errors import RenderError

if TYPE_CHECKING:
    from typing import Any

    from fillwork.renderers.typeset import Font, Run

__all__ = ["FontBook"]

_NO_SUBSETTING = 0x0100
"""OpenType 1.9.1, OS/2 ``fsType``: the font may be embedded whole only."""

_LIGATURES = {
    "\u0644\u0622": "\ufef5",
    "\u0644\u0623": "\ufef7",
    "\u0644\u0625": "\ufef9",
    "\u0644\u0627": "\ufefb",
}
"""Lam with alef as one character: readers that put right-to-left text in order
character by character would turn the two round."""


class FontBook:
    """Collect the glyphs that a document uses, then write their fonts."""

    def __init__(self) -> None:
        self._fonts: dict[str, Font] = {}
        self._used: dict[str, dict[int, str]] = {}

    def use(self, run: Run) -> str:
        """Note the glyphs of a run and return its font's resource name.

        Parameters
        ----------
        run : Run
            Shaped text.

        Returns
        -------
        str
            Such as ``F0``.
        """
        key = run.font.key
        if key not in self._fonts:
            self._fonts[key] = run.font
            self._used[key] = {}
        used = self._used[key]
        for glyph, text in zip(run.glyphs, run.clusters, strict=True):
            if text or glyph not in used:
                used.setdefault(glyph, "")
                if text and not used[glyph]:
                    used[glyph] = _LIGATURES.get(text, text)
        return f"F{list(self._fonts).index(key)}"

    def resources(self, pdf: pikepdf.Pdf) -> Any:
        """Write all fonts and return them as a resource dictionary.

        Parameters
        ----------
        pdf : pikepdf.Pdf
            The document.

        Returns
        -------
        pikepdf.Dictionary
            Fonts by resource name.

        Raises
        ------
        RenderError
            If a font is broken where its reader did not look.
        """
        fonts = Dictionary()
        for number, (key, font) in enumerate(self._fonts.items()):
            try:
                written = _write_font(pdf, font, self._used[key])
            except Exception as error:  # a broken font breaks its reader anyhow
                what = f"the font “{key}” cannot be embedded ({error})"
                raise RenderError(what, mend="give another font") from error
            fonts[f"/F{number}"] = pdf.make_indirect(written)
        return fonts


def _subset(font: Font, glyphs: list[int]) -> bytes:
    import logging

    from fontTools import subset
    from fontTools.ttLib import TTFont

    logging.getLogger("fontTools.subset").setLevel(logging.ERROR)
    options = subset.Options()
    options.retain_gids = True
    options.notdef_outline = True
    options.layout_features = []
    options.name_IDs = [0, 13, 14]
    options.drop_tables += ["GSUB", "GPOS", "GDEF", "STAT", "DSIG", "meta", "gasp"]
    options.recalc_timestamp = False
    tt = TTFont(io.BytesIO(font.data), recalcTimestamp=False)
    cutter = subset.Subsetter(options)
    cutter.populate(gids=[0, *glyphs])
    cutter.subset(tt)
    out = io.BytesIO()
    tt.save(out, reorderTables=True)
    return out.getvalue()


def _write_font(pdf: pikepdf.Pdf, font: Font, used: dict[int, str]) -> Any:
    from fontTools.ttLib import TTFont

    glyphs = sorted(used)
    whole = TTFont(io.BytesIO(font.data), lazy=True)
    head, hhea = whole["head"], whole["hhea"]
    os2 = whole.get("OS/2")
    whole_only = os2 is not None and os2.fsType & _NO_SUBSETTING
    data = font.data if whole_only else _subset(font, glyphs)
    k = 1000 / head.unitsPerEm
    tag_source = hashlib.sha256(repr((font.key, glyphs)).encode()).digest()
    tag = "".join(chr(65 + b % 26) for b in tag_source[:6])
    post_name = (whole["name"].getDebugName(6) if "name" in whole else "") or font.key
    plain = "".join(c for c in post_name if c.isascii() and (c.isalnum() or c == "-"))
    name = Name(f"/{plain or font.key}" if whole_only else f"/{tag}+{plain}")
    compact = "CFF " in whole
    program = pdf.make_stream(data)
    if compact:
        program.Subtype = Name.OpenType
    else:
        program.Length1 = len(data)
    descriptor = Dictionary(
        Type=Name.FontDescriptor,
        FontName=name,
        Flags=4,
        FontBBox=Array(
            [round(v * k) for v in (head.xMin, head.yMin, head.xMax, head.yMax)]
        ),
        ItalicAngle=0,
        Ascent=round(hhea.ascent * k),
        Descent=round(hhea.descent * k),
        CapHeight=round((getattr(os2, "sCapHeight", 0) or 700) * k),
        StemV=80,
    )
    descriptor["/FontFile3" if compact else "/FontFile2"] = program
    order = whole.getGlyphOrder()
    widths = Array()
    for glyph in glyphs:
        advance = whole["hmtx"][order[glyph]][0] * k
        widths.append(glyph)
        widths.append(Array([round(advance, 3)]))
    descendant = Dictionary(
        Type=Name.Font,
        Subtype=Name.CIDFontType0 if compact else Name.CIDFontType2,
        BaseFont=name,
        CIDSystemInfo=Dictionary(Registry="Adobe", Ordering="Identity", Supplement=0),
        FontDescriptor=pdf.make_indirect(descriptor),
        W=widths,
        DW=1000,
    )
    if not compact:
        descendant.CIDToGIDMap = Name.Identity
    return Dictionary(
        Type=Name.Font,
        Subtype=Name.Type0,
        BaseFont=name,
        Encoding=Name("/Identity-H"),
        DescendantFonts=Array([pdf.make_indirect(descendant)]),
        ToUnicode=pdf.make_stream(_to_unicode(used).encode("ascii")),
    )


def _to_unicode(used: dict[int, str]) -> str:
    rows = [
        f"<{glyph:04X}> <{text.encode('utf-16-be').hex().upper()}>"
        for glyph, text in sorted(used.items())
        if text
    ]
    lines = [
        "/CIDInit /ProcSet findresource begin",
        "12 dict begin",
        "begincmap",
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def",
        "/CMapName /Adobe-Identity-UCS def",
        "/CMapType 2 def",
        "1 begincodespacerange",
        "<0000> <FFFF>",
        "endcodespacerange",
    ]
    for first in range(0, len(rows), 100):  # at most 100 rows a block
        block = rows[first : first + 100]
        lines += [f"{len(block)} beginbfchar", *block, "endbfchar"]
    lines += [
        "endcmap",
        "CMapName currentdict /CMap defineresource pop",
        "end",
        "end",
    ]
    return "\n".join(lines) + "\n"
