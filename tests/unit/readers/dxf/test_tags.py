"""Tags of a DXF file, against those that ezdxf knows, and cut anywhere into chunks."""

from __future__ import annotations

import struct
from dataclasses import replace

import pytest
from ezdxf.lldxf import types

from fillwork.errors import ReadError
from fillwork.readers import read_linework
from fillwork.readers.dxf import tags
from fillwork.readers.dxf.tags import Entity, read_entities
from fillwork.readers.limits import NORMAL
from tests.unit.readers.dxf.test_dxf import drawing, plain, to_bytes

LINE = "0\nLINE\n67\n{}\n8\n0\n10\n{}\n20\n0\n11\n{}\n21\n9\n"


@pytest.mark.reference("DXF reference, group codes in numerical order, as ezdxf has it")
def test_values_of_binary_files_have_their_sizes() -> None:
    sets = {
        "d": types.DOUBLE,
        "h": types.INT16,
        "l": types.INT32,
        "q": types.INT64,
        "b": types.BYTES,
        "c": types.BINARY_DATA,
    }
    numbers = set().union(*sets.values())
    for code, form in tags._kinds().items():
        if form == "s":
            assert code not in numbers, code
        else:
            assert code in sets[form], code
    # what is not read is not in use: codes between those of the reference
    unread = numbers - set(tags._kinds())
    assert not unread & {*range(80), *range(90, 150), *range(1000, 1072)}


def each(data: bytes) -> list[tuple[object, ...]]:
    found = []
    for entity in read_entities(data, "a.dxf", NORMAL):
        for one in entity.each() if entity.times > 1 else (entity,):
            values = [v.strip() if isinstance(v, bytes) else v for v in one.values]
            found.append((one.kind, one.codes, values, one.line))
    return found


@pytest.mark.parametrize("size", [11, 40, 57, 300])
@pytest.mark.parametrize("ends", [b"\n", b"\r\n", b"\r"])
def test_chunks_end_anywhere(size, ends, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = [LINE.format(0, k, k + 1) for k in range(5)]
    circle = "0\nCIRCLE\n8\n0\n10\n5\n20\n5\n40\n3\n"
    data = plain("".join([*lines[:4], circle, lines[4]])).replace(b"\n", ends)
    whole = each(data)
    # entities begin where their name stands; each LINE has 7 tags of two lines
    first = next(row for row in whole if row[0] == b"LINE")[3]
    at = [row[3] for row in whole if row[0] == b"LINE"]
    assert at == [first + 14 * k for k in range(4)] + [first + 14 * 4 + 10]
    assert [row[0] for row in whole].count(b"CIRCLE") == 1
    monkeypatch.setattr(tags, "_CHUNK", size)
    assert each(data) == whole


@pytest.mark.parametrize("version", ["R12", "R2000"])
def test_both_forms_give_the_same_tags(version) -> None:
    document, model = drawing(version)
    for k in range(3):
        model.add_line((k, 0.5), (k + 1, -9))
    model.add_circle((5, 5), 3)
    text, binary = (
        [
            (kind, codes, [float(v) if _number(v) else v for v in values])
            for kind, codes, values, _ in each(to_bytes(document, form))
            if kind in (b"LINE", b"CIRCLE")
        ]
        for form in (False, True)
    )
    assert [row[0] for row in text] == [b"LINE"] * 3 + [b"CIRCLE"]
    assert text == binary


def _number(value: object) -> bool:
    try:
        float(value)  # type: ignore[arg-type]
    except ValueError:
        return False
    return True


@pytest.mark.parametrize("count", [1, 2, 3, 6])
def test_a_run_of_lines_may_stand_in_either_space(count) -> None:
    # each second one on paper, the others 9 mm high in the model
    lines = [LINE.format(k % 2, k, k) for k in range(count)]
    work = read_linework(plain("".join(lines)), name="a.dxf")
    assert work.stroke_count == (count + 1) // 2
    assert sorted(work.curves.data[:, 0].tolist()) == pytest.approx(
        [float(k) for k in range(0, count, 2)]
    )


def test_a_run_gives_its_entities_one_by_one() -> None:
    run = Entity(b"LINE", [b"8", b"10"], [b"a", 1.0, b"b", 2.0], 7, 2, 6)
    assert run.columns() == {b"8": [b"a", b"b"], b"10": [1.0, 2.0]}
    one, other = run.each()
    assert (one.fields(), one.line, one.times) == ({b"8": b"a", b"10": 1.0}, 7, 1)
    assert (other.fields(), other.line) == ({b"8": b"b", b"10": 2.0}, 13)


ENDED = plain(LINE.format(0, 0, 9))


@pytest.mark.parametrize("ends", [b"\n", b"\r\n"])
@pytest.mark.parametrize(
    "more",
    [b"", b"\n", b"\n\n\n", b" \n\t\n", b"\x1a\n\n", b"made by\nnobody\n", b"\x1a"],
)
def test_what_comes_after_the_end_is_not_read(ends, more) -> None:
    # programs of old end a file by a control sign, others by blank lines
    data = (ENDED + more).replace(b"\n", ends)
    assert read_linework(data, name="a.dxf").stroke_count == 1


@pytest.mark.parametrize(
    ("before", "wrong", "shown"),
    [
        (b"", b"LINE\n0\n", "LINE"), (b"8\n0\n", b"x" * 30 + b"\n0\n", "x" * 20),
        (b"", b"\n5\n", ""), (b"", b"\x07\n5\n", "?"), (b"", b"1.5\n5\n", "1.5"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("ends", [b"\n", b"\r\n"])
def test_what_is_no_code_is_told_with_its_line(ends, before, wrong, shown) -> None:
    start = b"0\nSECTION\n2\nENTITIES\n0\nLINE\n" + before
    data = (start + wrong + b"0\nENDSEC\n0\nEOF\n").replace(b"\n", ends)
    line = start.count(b"\n") + 1
    with pytest.raises(ReadError) as caught:
        read_linework(data, name="a.dxf")
    assert str(caught.value) == (
        f"a.dxf: line {line} should be a group code, not “{shown}”\n"
        "  save the drawing once more as DXF"
    )


def test_codes_below_zero_are_codes() -> None:
    (found,) = read_entities(b"0\nLINE\n-5\nA\n 8\n0\n", "a.dxf", NORMAL)
    assert found.codes == [b"-5", b"8"]


@pytest.mark.parametrize(("most", "refused"), [(3, False), (2, True)])
def test_an_entity_has_so_many_values(most, refused, monkeypatch) -> None:
    # the values of one entity stand in several chunks
    monkeypatch.setattr(tags, "_CHUNK", 8)
    monkeypatch.setattr(tags, "_MOST", most)
    data = b"0\nA\n" + b"10\n1\n" * 3
    if refused:
        with pytest.raises(ReadError, match="one entity has more than 2 values"):
            list(read_entities(data, "a.dxf", NORMAL))
    else:
        (found,) = read_entities(data, "a.dxf", NORMAL)
        assert len(found.values) == 3


@pytest.mark.parametrize(("elements", "refused"), [(3, False), (2, True)])
def test_a_file_has_four_times_as_many_entities_as_shapes(elements, refused) -> None:
    limits = replace(NORMAL, elements=elements)
    if refused:
        with pytest.raises(ReadError, match="more than 8 entities"):
            list(read_entities(b"0\nA\n" * 12, "a.dxf", limits))
    else:
        assert len(list(read_entities(b"0\nA\n" * 12, "a.dxf", limits))) == 12


@pytest.mark.parametrize("at", [25, 40, 60])
def test_binary_files_that_are_cut_are_told_with_the_byte(at) -> None:
    document, model = drawing("R12")
    model.add_line((0, 0), (30, 20))
    data = to_bytes(document, binary=True)
    with pytest.raises(ReadError, match=r"cut short|damaged"):
        list(read_entities(data[:at], "a.dxf", NORMAL))
    # a code that the reference has not
    wrong = tags.BINARY + b"\x00SECTION\x00" + b"\x96\x00"
    with pytest.raises(ReadError, match=f"damaged at byte {len(wrong) - 1:,}"):
        list(read_entities(wrong, "a.dxf", NORMAL))


def test_codes_of_old_binary_files_are_one_byte_or_three() -> None:
    data = tags.BINARY + b"\x00LINE\x00\x08a\x00\xff\xe8\x03far\x00\x3e\x05\x00"
    found = next(iter(read_entities(data + b"\x00EOF\x00", "a.dxf", NORMAL)))
    assert (found.kind, found.codes) == (b"LINE", [b"8", b"1000", b"62"])
    assert found.values == [b"a", b"far", 5]


def test_values_of_new_binary_files_have_their_forms() -> None:
    data = tags.BINARY + b"\x00\x00LINE\x00\x0a\x00" + struct.pack("<d", 2.5)
    data += b"\x5a\x00" + struct.pack("<l", -7) + b"\x22\x01\x01\xa0\x00"
    data += struct.pack("<q", 2**40) + b"\x36\x01\x03\x00\x01\x02" + b"\x00\x00EOF\x00"
    found = next(iter(read_entities(data, "a.dxf", NORMAL)))
    assert found.codes == [b"10", b"90", b"290", b"160", b"310"]
    assert found.values == [2.5, -7, 1, 2**40, b"\x00\x01\x02"]
    assert found.line == 1
