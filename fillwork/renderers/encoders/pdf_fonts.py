"""Embed fonts in a PDF: only the glyphs used, with a map back to characters.

ISO 32000-2:2020, 9.7 (composite fonts) and 9.10.3 (ToUnicode CMaps). Glyph numbers
are kept on subsetting, so that text can be written before the fonts are cut.
"""

from __future__ import annotations

import hashlib
import struct
from typing import TYPE_CHECKING

import pikepdf
from pikepdf import Array, Dictionary, Name

from fillwork.errors import RenderError

if TYPE_CHECKING:
    from typing import Any

    from fillwork.renderers.text.typeset import Font, Run


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
        self._fonts: dict[str, tuple[str, Font, dict[int, str]]] = {}

    def use(self, run: Run) -> str:
        """Note the glyphs of a run and return its font's resource name.

        Such as ``F0``.
        """
        new = (f"F{len(self._fonts)}", run.font, dict[int, str]())
        name, _, used = self._fonts.setdefault(run.font.key, new)
        for glyph, text in zip(run.glyphs, run.clusters, strict=True):
            used[glyph] = used.get(glyph) or _LIGATURES.get(text, text)
        return name

    def resources(self, pdf: pikepdf.Pdf) -> Any:
        """Write all fonts and return them as a resource dictionary.

        Raises `RenderError` if a font is broken where its reader did not look.
        """
        fonts = Dictionary()
        for name, font, used in self._fonts.values():
            try:
                written = _write_font(pdf, font, used)
            except Exception as error:  # a broken font breaks its reader anyhow
                what = f"the font “{font.key}” cannot be embedded ({error})"
                raise RenderError(what, mend="give another font") from error
            fonts[f"/{name}"] = pdf.make_indirect(written)
        return fonts


def _subset(font: Font, glyphs: list[int]) -> bytes:
    import uharfbuzz as hb

    wanted = hb.SubsetInput()
    wanted.flags = hb.SubsetFlags.RETAIN_GIDS | hb.SubsetFlags.NOTDEF_OUTLINE
    # the glyphs are placed already, so nothing of the layout is wanted
    wanted.flags |= hb.SubsetFlags.NO_LAYOUT_CLOSURE
    wanted.glyph_set.update([0, *glyphs])
    wanted.name_id_set.clear()
    wanted.name_id_set.update([0, 13, 14])
    wanted.layout_feature_tag_set.clear()
    for tag in (b"GSUB", b"GPOS", b"GDEF", b"STAT", b"DSIG", b"meta", b"gasp"):
        wanted.drop_table_tag_set.add(int.from_bytes(tag, "big"))
    return bytes(wanted.subset(font.hb.face).blob.data)


def _numbers(font: Font, table: str, layout: str, at: int) -> tuple[int, ...]:
    """Return numbers of a table; zeros where the font has none or a shorter one."""
    data = font.hb.face.reference_table(table).data
    size = struct.calcsize(layout)
    part = bytes(data[at : at + size]) if data else b""
    return struct.unpack(layout, part.ljust(size, b"\0"))


def _write_font(pdf: pikepdf.Pdf, font: Font, used: dict[int, str]) -> Any:
    glyphs = sorted(used)
    # places of fields: OpenType 1.9.1, tables head, hhea and OS/2
    box = _numbers(font, "head", ">4h", 36)
    ascent, descent = _numbers(font, "hhea", ">2h", 4)
    (rights,) = _numbers(font, "OS/2", ">H", 8)
    (cap_height,) = _numbers(font, "OS/2", ">h", 88)
    whole_only = rights & _NO_SUBSETTING
    data = font.data if whole_only else _subset(font, glyphs)
    k = 1000 / font.per_em
    tag_source = hashlib.sha256(repr((font.key, glyphs)).encode()).digest()
    tag = "".join(chr(65 + b % 26) for b in tag_source[:6])
    post_name = font.hb.face.get_name(6) or font.key
    plain = "".join(c for c in post_name if c.isascii() and (c.isalnum() or c == "-"))
    name = Name(f"/{plain or font.key}" if whole_only else f"/{tag}+{plain}")
    compact = bool(font.hb.face.reference_table("CFF ").data)
    program = pdf.make_stream(data)
    if compact:
        program.Subtype = Name.OpenType
    else:
        program.Length1 = len(data)
    descriptor = Dictionary(
        Type=Name.FontDescriptor,
        FontName=name,
        Flags=4,
        FontBBox=Array([round(v * k) for v in box]),
        ItalicAngle=0,
        Ascent=round(ascent * k),
        Descent=round(descent * k),
        CapHeight=round((cap_height or 700) * k),
        StemV=80,
    )
    descriptor["/FontFile3" if compact else "/FontFile2"] = program
    widths = Array()
    for glyph in glyphs:
        advance = font.hb.get_glyph_h_advance(glyph) * k
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
    lines += ["endcmap", "CMapName currentdict /CMap defineresource pop", "end", "end"]
    return "\n".join(lines) + "\n"
