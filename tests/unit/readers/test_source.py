"""What sort of file bytes are, and files unpacked within limits."""

from __future__ import annotations

import gzip
import hashlib
import os
from dataclasses import fields, replace

import pytest

from fillwork.errors import ReadError
from fillwork.readers import read_linework
from fillwork.readers.limits import LARGE, NORMAL, limits_for
from fillwork.readers.source import is_dxf, is_pdf, is_picture, open_source

DATA = b"<svg>" + b"a" * 995


@pytest.mark.parametrize(
    ("data", "known"),
    [
        (b"0\nSECTION\n", True), (b"  0\r\nSECTION\r\n", True),
        (b"\xef\xbb\xbf0\nSECTION\n", True), (b"\r\n 0 \rSECTION\r", True),
        (b"999\nmade by no one\n0\nSECTION", True),
        (b"999\none\n999\ntwo\n  0\nSECTION", True),
        (b"AutoCAD Binary DXF\r\n\x1a\x00", True),
        (b"0\nSECTIONS\n", False), (b"0 SECTION", False), (b"1\n0\nSECTION", False),
        (b"999\n0\nSECTION", False), (b"", False),
    ],
)  # fmt: skip
@pytest.mark.reference("DXF reference: sections, comments (999), binary files")
def test_drawings_are_known_by_their_beginning(data, known) -> None:
    assert is_dxf(data) is known


@pytest.mark.parametrize(("before", "known"), [(0, True), (1019, True), (1020, False)])
@pytest.mark.reference("ISO 32000-1, annex H.3.4.1: within the first 1024 bytes")
def test_pages_are_known_by_their_mark(before, known) -> None:
    assert is_pdf(b"\n" * before + b"%PDF-1.7\n") is known


@pytest.mark.parametrize(
    ("data", "known"),
    [
        (b"\x89PNG\r\n\x1a\n", True), (b"\xff\xd8\xff\xe0", True), (b"II*\x00", True),
        (b"MM\x00*", True), (b"RIFF1234WEBPVP8 ", True), (b"RIFF1234WAVE", False),
        (b"GIF89a", False), (b"", False),
    ],
)  # fmt: skip
def test_pictures_are_known_by_their_first_bytes(data, known) -> None:
    assert is_picture(data) is known


@pytest.mark.parametrize(
    ("data", "what", "mend"),
    [
        (b"GIF89a", "this is a GIF picture", "PNG or JPEG"),
        (b"BM123", "this is a BMP picture", "PNG or JPEG"),
        (b"%!PS-Adobe", "this is a PostScript file", "SVG, DXF or PDF"),
        (b"8BPS\x00\x01", "this is a PSD picture", "PNG or JPEG"),
        (b"P6\n3 2\n255\n", "this is a PNM picture", "PNG or JPEG"),
        (b"\0\0\0\x0cjP  \r\n\x87\n", "this is a JPEG 2000 picture", "PNG or JPEG"),
        (b"\xff\x4f\xff\x51\x00", "this is a JPEG 2000 picture", "PNG or JPEG"),
        (b"\xff\x0a\x00", "this is a JPEG XL picture", "PNG or JPEG"),
        (b"\0\0\0\x18ftypheic", "this is a HEIC picture", "PNG or JPEG"),
        # the size of a box may be any, a line break's byte among others
        (b"\0\0\n\x0aftypmif1", "this is a HEIC picture", "PNG or JPEG"),
        (b"\0\0\0\x1cftypavif", "this is an AVIF picture", "PNG or JPEG"),
        (b"\0\0\0\x1cftypisom", "this is a film", "SVG, DXF or PDF"),
        (b"\1\0\0\0" + b"\0" * 36 + b" EMF", "this is a metafile", "SVG, DXF or PDF"),
        (b"\xc5\xd0\xd3\xc6", "this is a PostScript file", "SVG, DXF or PDF"),
        (b"PK\x03\x04", "this is an archive", "SVG, DXF or PDF"),
        (b"{\\rtf1", "this is a text document", "SVG, DXF or PDF"),
        (b"AC1032", "this is a DWG drawing", "SVG, DXF or PDF"),
        (b" \r\n\t\x00", "nothing but blanks", "once more"),
        (b"\xff\xfe\xef\xbb\xbf", "nothing but blanks", "once more"),
        (b"", "the file is empty", "once more"),
    ],
)
@pytest.mark.parametrize("packed", [False, True])
def test_other_files_are_told_with_the_way_out(data, what, mend, packed) -> None:
    given = gzip.compress(data) if packed else data
    with pytest.raises(ReadError) as caught:
        open_source(given, name="a", limits=NORMAL)
    if packed and not data:
        what = "nothing but blanks"
    assert what in str(caught.value)
    assert mend in str(caught.value)
    assert str(caught.value).count("\n") == 1


def test_a_file_has_name_bytes_and_digest(tmp_path) -> None:
    path = tmp_path / "star.svg"
    path.write_bytes(DATA)
    for source, name, shown in (
        (path, "", "star.svg"), (str(path), "other", "other"),
        (DATA, "given", "given"), (DATA, "", "standard input"),
    ):  # fmt: skip
        found = open_source(source, name=name, limits=NORMAL)
        assert (found.name, found.data) == (shown, DATA)
        assert found.digest == hashlib.sha256(DATA).hexdigest()
    # a packed file keeps the digest of what came
    packed = gzip.compress(DATA[:300]) + gzip.compress(DATA[300:])
    found = open_source(packed, name="a", limits=NORMAL)
    assert found.data == DATA
    assert found.digest == hashlib.sha256(packed).hexdigest()


def test_files_that_cannot_be_read_are_told(tmp_path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for name, what in (
        ("none.svg", "no such file"), ("", "this is a folder"),
        ("pipe", "this is a pipe"), ("a\0b", "cannot be read"),
    ):  # fmt: skip
        with pytest.raises(ReadError, match=what):
            open_source(f"{tmp_path}/{name}", name="", limits=NORMAL)


@pytest.mark.parametrize(("most", "refused"), [(1000, False), (999, True)])
def test_files_are_so_large_and_no_larger(most, refused, tmp_path) -> None:
    path = tmp_path / "a.svg"
    path.write_bytes(DATA)
    limits = replace(NORMAL, file_bytes=most)
    for source in (path, DATA, gzip.compress(DATA)):
        if refused:
            with pytest.raises(ReadError, match="over the limit file bytes = 999"):
                open_source(source, name="", limits=limits)
        else:
            assert open_source(source, name="", limits=limits).data == DATA


@pytest.mark.parametrize(("more", "refused"), [(0, False), (1, True)])
def test_packed_files_swell_so_far_and_no_farther(more, refused) -> None:
    # three times their size and 100,000 bytes
    def pack(size: int) -> bytes:
        return gzip.compress(b"x" * size, mtime=0)

    size = 100_000 + 3 * len(pack(100_500))
    packed = pack(size + more)
    assert len(packed) == len(pack(100_500))
    limits = replace(NORMAL, unpack_ratio=3)
    if refused:
        with pytest.raises(ReadError, match="more than 3 times its size"):
            open_source(packed, name="", limits=limits)
    else:
        assert len(open_source(packed, name="", limits=limits).data) == size


@pytest.mark.parametrize(
    ("spoil", "what"),
    [(lambda d: d[:-9], "cut short"), (lambda d: d[:-8] + bytes(8), "damaged")],
)
def test_damaged_packed_files_are_told(spoil, what) -> None:
    packed = gzip.compress(bytes(range(256)) * 4)
    with pytest.raises(ReadError, match=f"the packed file is {what}"):
        open_source(spoil(packed), name="", limits=NORMAL)


def test_all_limits_are_raised_together() -> None:
    assert limits_for(False) is NORMAL
    assert limits_for(True) is LARGE
    for field in fields(NORMAL):
        assert getattr(LARGE, field.name) > getattr(NORMAL, field.name)
    told = str(NORMAL.refuse("curves", "9 lines", "a.dxf"))
    assert told == (
        "a.dxf: 9 lines: over the limit curves = 3,000,000\n"
        "  if the file is trusted, --allow-large raises it"
    )
    assert str(LARGE.refuse("coordinate", "far", "a")) == (
        "a: far: over the limit coordinate = 1e+08"
    )


@pytest.mark.parametrize(
    ("asked", "what"),
    [({"layout": "Plan"}, "the layout “Plan” is asked for"),
     ({"page_number": 2}, "page 2 is asked for")],
)  # fmt: skip
def test_what_only_another_format_has_is_refused(asked, what) -> None:
    svg = b'<svg width="9mm" height="9mm"><path d="M1 1h6v6z" stroke="red"/></svg>'
    with pytest.raises(ReadError, match=what):
        read_linework(svg, **asked)
    assert read_linework(svg, layout=" ").stroke_count == 1
