"""Tags of a DXF file, against those that ezdxf knows, and cut anywhere into chunks."""

from __future__ import annotations

import pytest
from ezdxf.lldxf import types

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
