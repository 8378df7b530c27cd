"""Streams of a PDF file unpacked with care: a small one may swell to any size."""

from __future__ import annotations

import base64
import zlib
from typing import TYPE_CHECKING, Any

import pikepdf

from fillwork.errors import ReadError

if TYPE_CHECKING:
    from fillwork.readers.limits import Limits


_ALWAYS = 1_000_000  # bytes that any stream may unpack to
_SMALL = 200_000  # bytes up to which the other packings cannot swell too far


def _ascii85(data: bytes) -> bytes:
    text = data.removeprefix(b"<~").partition(b"~")[0]
    return base64.a85decode(text, ignorechars=b"\0\t\n\v\f\r ")


def _hexadecimal(data: bytes) -> bytes:
    digits = b"".join(data.partition(b">")[0].replace(b"\0", b"").split())
    return bytes.fromhex((digits + b"0" * (len(digits) % 2)).decode("latin-1"))


# packings that make what they hold larger, and so cannot swell
_LETTERS = {
    "/ASCII85Decode": _ascii85, "/A85": _ascii85,
    "/ASCIIHexDecode": _hexadecimal, "/AHx": _hexadecimal,
}  # fmt: skip


def _plain(told: Any) -> bool:
    """Return whether nothing is told of how to unpack that would change anything."""
    if isinstance(told, pikepdf.Array):
        return all(map(_plain, told))
    return not isinstance(told, pikepdf.Dictionary) or told.get("/Predictor", 1) == 1


class Unpacker:
    """Unpack streams, and refuse a file whose streams swell too far.

    `limits`: sizes allowed. `where`: file name for messages.
    """

    def __init__(self, limits: Limits, where: str) -> None:
        self.limits = limits
        self.where = where
        self.left = limits.file_bytes

    def read(self, stream: pikepdf.Stream) -> bytes:
        """Return the content of a stream.

        Raises `ReadError` if it is damaged or over a limit.
        """
        told = stream.get("/Filter")
        names = [str(f) for f in told] if isinstance(told, pikepdf.Array) else []
        if isinstance(told, pikepdf.Name):
            names = [str(told)]
        data = bytes(stream.read_raw_bytes())
        steps = {"/FlateDecode": self._inflate, "/Fl": self._inflate} | _LETTERS
        if _plain(stream.get("/DecodeParms")) and all(name in steps for name in names):
            for name in names:
                try:
                    data = steps[name](data)
                except (ValueError, zlib.error) as error:
                    what = f"a stream of the page is damaged ({error})"
                    mend = "copy or save it again"
                    raise ReadError(what, self.where, mend) from error
        elif len(data) <= _SMALL:
            data = bytes(stream.read_bytes(pikepdf.StreamDecodeLevel.specialized))
        else:
            what = f"a stream of the page is packed by {', '.join(names)}"
            raise ReadError(what, self.where, "save the file once more as PDF")
        self.left -= len(data)
        if self.left < 0:
            raise self._too_large()
        return data

    def _inflate(self, data: bytes) -> bytes:
        unpacker = zlib.decompressobj()
        ratio = self.limits.unpack_ratio
        most = min(self.left, len(data) * ratio + _ALWAYS)
        found = unpacker.decompress(data, most + 1)
        if len(found) > most:
            if most == self.left:
                raise self._too_large()
            got = f"a stream unpacks to more than {ratio} times its size"
            raise self.limits.refuse(limit="unpack_ratio", got=got, where=self.where)
        if not unpacker.eof and len(data) > 0:
            what = "a stream of the page is cut short"
            raise ReadError(what, self.where, "copy or save it again")
        return found

    def _too_large(self) -> ReadError:
        got = f"the page unpacks to more than {self.limits.file_bytes:,} bytes"
        return self.limits.refuse(limit="file_bytes", got=got, where=self.where)
