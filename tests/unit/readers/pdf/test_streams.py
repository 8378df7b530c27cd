"""Streams unpacked by hand, and limits on both sides."""

from __future__ import annotations

import base64
import zlib
from dataclasses import replace

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name

from fillwork.errors import ReadError
from fillwork.readers.limits import NORMAL
from fillwork.readers.pdf import streams
from fillwork.readers.pdf.streams import Unpacker

TEXT = b"1 2 m 3 4 l S\n" * 20
A85 = base64.a85encode(TEXT) + b"~>"
HEX = TEXT.hex().encode() + b">"


@pytest.fixture
def pdf():
    with pikepdf.new() as found:
        yield found


def packed(pdf, data, *filters, **more):
    stream = pikepdf.Stream(pdf, data)
    for key, value in more.items():
        stream[f"/{key}"] = value
    if filters:
        stream.Filter = Array([Name(f"/{name}") for name in filters])
    return stream


def read(stream, limits=NORMAL):
    return Unpacker(limits, "a.pdf").read(stream)


@pytest.mark.parametrize(
    ("data", "filters"),
    [
        (TEXT, ()),
        (zlib.compress(TEXT), ("FlateDecode",)),
        (zlib.compress(zlib.compress(TEXT)), ("Fl", "FlateDecode")),
        (A85, ("ASCII85Decode",)),
        (b"<~" + A85[:9] + b"\r\n\0 " + A85[9:] + b"\n", ("ASCII85Decode",)),
        (HEX, ("ASCIIHexDecode",)),
        (HEX[:11].upper() + b"\n\0\t" + HEX[11:-1], ("ASCIIHexDecode",)),
        (base64.a85encode(zlib.compress(TEXT)) + b"~>",
         ("ASCII85Decode", "FlateDecode")),
        # 70 bytes follow as they are, four times; then the last one
        (b"".join(b"\x45" + TEXT[k : k + 70] for k in (0, 70, 140))
         + b"\x44" + TEXT[210:279] + b"\x00\n\x80", ("RunLengthDecode",)),
    ],
)  # fmt: skip
@pytest.mark.reference("ISO 32000-1, section 7.4")
def test_what_was_packed_comes_out(pdf, data, filters) -> None:
    assert read(packed(pdf, data, *filters)) == TEXT


def test_an_odd_digit_is_followed_by_a_zero(pdf) -> None:
    # ISO 32000-1, section 7.4.2
    assert read(packed(pdf, b"41 4 2 5>99", "ASCIIHexDecode")) == b"ABP"


@pytest.mark.parametrize(
    "told",
    [Dictionary(), Dictionary(Predictor=1), Array([Dictionary(Predictor=1)]), 7,
     Array([None, 7, Name.X])],
)  # fmt: skip
def test_what_changes_nothing_may_be_told(pdf, told, monkeypatch) -> None:
    monkeypatch.setattr(streams, "_SMALL", 0)
    stream = packed(pdf, zlib.compress(TEXT), "FlateDecode", DecodeParms=told)
    assert read(stream) == TEXT


def test_only_small_streams_are_packed_in_other_ways(pdf, monkeypatch) -> None:
    # rows of 14 bytes, each the differences from the one above (PNG, filter 2)
    rows = b"".join(b"\x02" + (TEXT[:14] if k == 0 else bytes(14)) for k in range(20))
    told = Dictionary(Predictor=12, Columns=14)
    stream = packed(pdf, zlib.compress(rows), "FlateDecode", DecodeParms=told)
    monkeypatch.setattr(streams, "_SMALL", len(zlib.compress(rows)))
    assert read(stream) == TEXT
    monkeypatch.setattr(streams, "_SMALL", len(zlib.compress(rows)) - 1)
    with pytest.raises(ReadError, match="packed by /FlateDecode"):
        read(stream)


@pytest.mark.parametrize(
    ("data", "name", "word"),
    [
        (b"\x78\x9c\xff\xff\xff", "FlateDecode", "damaged"),
        (zlib.compress(TEXT)[:-6], "FlateDecode", "cut short"),
        (b"zzzvz~>", "ASCII85Decode", "damaged"),
        (b"12 3g>", "ASCIIHexDecode", "damaged"),
    ],
)
def test_damaged_streams_are_refused(pdf, data, name, word) -> None:
    with pytest.raises(ReadError, match=f"a stream of the page is {word}"):
        read(packed(pdf, data, name))


def test_an_empty_stream_holds_nothing(pdf) -> None:
    assert read(packed(pdf, b"")) == read(packed(pdf, b"", "FlateDecode")) == b""


def test_streams_swell_so_far_and_no_farther(pdf, monkeypatch) -> None:
    data = zlib.compress(bytes(100_000))
    monkeypatch.setattr(streams, "_ALWAYS", 100_000 - len(data) * 2)
    assert len(read(packed(pdf, data, "Fl"), replace(NORMAL, unpack_ratio=2))) == 10**5
    monkeypatch.setattr(streams, "_ALWAYS", 100_000 - len(data) * 2 - 1)
    with pytest.raises(ReadError, match="unpack ratio = 2"):
        read(packed(pdf, data, "Fl"), replace(NORMAL, unpack_ratio=2))


@pytest.mark.parametrize("filters", [(), ("Fl",)])
def test_all_streams_together_have_one_limit(pdf, filters) -> None:
    stream = packed(pdf, zlib.compress(TEXT) if filters else TEXT, *filters)
    unpacker = Unpacker(replace(NORMAL, file_bytes=2 * len(TEXT) + 1), "a.pdf")
    assert unpacker.read(stream) == unpacker.read(stream) == TEXT
    with pytest.raises(ReadError, match="file bytes = 561"):
        unpacker.read(stream)
