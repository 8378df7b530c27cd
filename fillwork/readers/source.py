"""The bytes of a drawing, unpacked with care, and what sort of file they are."""

from __future__ import annotations

import hashlib
import re
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fillwork.errors import ReadError
from fillwork.printing import visible
from fillwork.tomlfile import is_named_pipe

if TYPE_CHECKING:
    from fillwork.readers.limits import Limits


# First bytes of the pictures that can be traced.
_PICTURES = (b"\x89PNG", b"\xff\xd8\xff", b"II*\x00", b"MM\x00*")

_GZIP = b"\x1f\x8b"

# A DXF drawing: its binary form, or a section after any comments (code 999).
_DXF = re.compile(
    rb"\A(?:AutoCAD Binary DXF|(?:\xef\xbb\xbf)?\s*"
    rb"(?:999[ \t]*(?:\r\n|\r|\n)[^\r\n]*(?:\r\n|\r|\n)[ \t]*)*"
    rb"0[ \t]*(?:\r\n|\r|\n)[ \t]*SECTION\b)"
)

# How formats begin that people hand over in place of a drawing: pictures by marks of
# the GIF, BMP, PSD and Netpbm formats, ISO/IEC 15444-1 annex I (JPEG 2000), 18181-2
# (JPEG XL), 14496-12 and 23008-12 (brands of HEIF and AVIF); others by theirs.
_OTHERS = (
    (rb"GIF8", "a GIF picture"),
    (rb"BM", "a BMP picture"),
    (rb"8BPS", "a PSD picture"),
    (rb"P[1-7][\s#]", "a PNM picture"),
    (rb"\x00\x00\x00\x0cjP  |\xff\x4f\xff\x51", "a JPEG 2000 picture"),
    (rb"\x00\x00\x00\x0cJXL |\xff\x0a", "a JPEG XL picture"),
    (rb".{4}ftypavi[fs]", "an AVIF picture"),
    (rb".{4}ftyp(?:he|mif1|msf1)", "a HEIC picture"),
    (rb".{4}ftyp", "a film"),
    (rb"\x01\x00\x00\x00.{36} EMF|\xd7\xcd\xc6\x9a", "a metafile"),
    (rb"%!PS|\xc5\xd0\xd3\xc6", "a PostScript file"),
    (rb"PK\x03\x04|7z\xbc\xaf|Rar!", "an archive"),
    (rb"\xd0\xcf\x11\xe0", "an office document"),
    (rb"\{\\rtf", "a text document"),
    (rb"AC10", "a DWG drawing"),
)


@dataclass(frozen=True, slots=True)
class SourceFile:
    """Hold one file that is to be read."""

    name: str  # file name without folder, for messages and reports
    data: bytes  # its text as bytes, unpacked
    digest: str  # SHA-256 of the bytes as they came, hexadecimal


def is_picture(data: bytes) -> bool:
    """Tell whether bytes are those of a picture that can be traced."""
    return data.startswith(_PICTURES) or (data[:4] + data[8:12]) == b"RIFFWEBP"


def is_pdf(data: bytes) -> bool:
    """Tell whether bytes are a PDF file.

    True where its mark stands in the first kilobyte.
    """
    return b"%PDF-" in data[:1024]


def is_dxf(data: bytes) -> bool:
    """Tell whether bytes are a DXF drawing."""
    return _DXF.match(data[:20_000]) is not None


def open_source(source: str | Path | bytes, *, name: str, limits: Limits) -> SourceFile:
    """Return the bytes of a drawing.

    Name, bytes (unpacked if they were packed with gzip) and digest. `source`: where the
    file is, or its bytes. `name`: name to show when bytes are given. Raises `ReadError`
    if the file cannot be read, is empty, or is over a limit.
    """
    if isinstance(source, bytes):
        shown, raw = _told(name) or "standard input", source
    else:
        path = Path(source)
        shown = _told(name or path.name or str(path))
        raw = _read(path, shown, limits)
    if not raw:
        what = "the file is empty"
        raise ReadError(what, shown, "save the drawing once more")
    if len(raw) > limits.file_bytes:
        raise limits.refuse(limit="file_bytes", got=f"{len(raw):,} bytes", where=shown)
    digest = hashlib.sha256(raw).hexdigest()
    data = _unpack(raw, shown, limits) if raw.startswith(_GZIP) else raw
    _refuse_others(data, shown)
    return SourceFile(shown, data, digest)


def _told(name: str) -> str:
    """Return a file's name as a plan may hold it, though its bytes be no text."""
    return visible(name.encode(errors="replace").decode())


def _read(path: Path, shown: str, limits: Limits) -> bytes:
    try:
        if path.is_dir():
            what = "this is a folder, not a drawing"
            raise ReadError(what, shown, "name the file inside it")
        if is_named_pipe(path):
            what = "this is a pipe, not a drawing"
            raise ReadError(what, shown, "save it as a file first")
        # a pipe has no size, so read one byte more than allowed
        with path.open("rb") as stream:
            return stream.read(limits.file_bytes + 1)
    except FileNotFoundError as error:
        what = "no such file"
        raise ReadError(what, shown, "check the name and the folder") from error
    except PermissionError as error:
        what = "the file may not be read"
        raise ReadError(what, shown, "give yourself the right to read it") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        what = f"the file cannot be read ({reason})"
        raise ReadError(what, shown) from error


def _unpack(raw: bytes, shown: str, limits: Limits) -> bytes:
    most = min(limits.file_bytes, len(raw) * limits.unpack_ratio + 100_000)
    parts: list[bytes] = []
    size = 0
    rest = raw
    try:
        # gzip allows several members one after the other
        while rest.startswith(_GZIP):
            unpacker = zlib.decompressobj(wbits=31)
            part = unpacker.decompress(rest, most - size + 1)
            size += len(part)
            parts.append(part)
            if size > most:
                if most == limits.file_bytes:
                    got = f"unpacks to more than {most:,} bytes"
                    raise limits.refuse(limit="file_bytes", got=got, where=shown)
                got = f"unpacks to more than {limits.unpack_ratio} times its size"
                raise limits.refuse(limit="unpack_ratio", got=got, where=shown)
            if not unpacker.eof:
                what = "the packed file is cut short"
                raise ReadError(what, shown, "copy or download it again")
            rest = unpacker.unused_data
    except zlib.error as error:
        what = f"the packed file is damaged ({error})"
        raise ReadError(what, shown, "copy or download it again") from error
    return b"".join(parts)


def _refuse_others(data: bytes, shown: str) -> None:
    for start, what in _OTHERS:
        if re.match(start, data, re.DOTALL):
            read = "SVG, DXF, PDF, and PNG, JPEG, TIFF or WebP pictures"
            mend = "save or export the drawing as SVG, DXF or PDF"
            if what.endswith("picture"):
                mend = "save it as PNG or JPEG"
            message = f"this is {what}; fillwork reads {read}"
            raise ReadError(message, shown, mend)
    if not data.strip(b"\x00\xff\xfe\xef\xbb\xbf \t\r\n"):
        what = "the file holds nothing but blanks"
        raise ReadError(what, shown, "save the drawing once more")
