"""Functions of PDF: words of programs by their examples, others by formulas."""

from __future__ import annotations

import math
import zlib

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name

from fillwork.readers.pdf import functions
from fillwork.readers.pdf.functions import read_function


@pytest.fixture(scope="module")
def pdf():
    with pikepdf.new() as found:
        yield found


def told(pdf, kind: int, data: bytes | None = None, **entries):
    lists = {k: Array(v) if isinstance(v, list) else v for k, v in entries.items()}
    given = {"FunctionType": kind, "Domain": Array([-1000, 1000])} | lists
    if data is None:
        return Dictionary(**given)
    stream = pdf.make_stream(data)
    for key, value in given.items():
        stream[f"/{key}"] = value
    return stream


def program(pdf, words: str, outs: int, *numbers: float) -> list[float]:
    """Return what a program leaves of some numbers, the topmost last."""
    wide = {"Domain": [-1000, 1000] * len(numbers), "Range": [-1000, 1000] * outs}
    function = read_function(told(pdf, 4, f"{{ {words} }}".encode(), **wide))
    return function(list(numbers))


@pytest.mark.reference("PostScript Language Reference, third edition, chapter 8")
@pytest.mark.parametrize(
    ("words", "left"),
    [
        ("3 4 add", [7]), ("9.9 1.1 add", [11]), ("5 3 sub", [2]), ("3 -4 mul", [-12]),
        ("3 2 div", [1.5]), ("4 2 div", [2]), ("3 2 idiv", [1]), ("4 2 idiv", [2]),
        ("-5 2 idiv", [-2]), ("5 3 mod", [2]), ("5 2 mod", [1]), ("-5 3 mod", [-2]),
        ("4.5 abs", [4.5]), ("-3 abs", [3]), ("4.5 neg", [-4.5]), ("-3 neg", [3]),
        ("3.2 ceiling", [4]), ("-4.8 ceiling", [-4]), ("99 ceiling", [99]),
        ("3.2 floor", [3]), ("-4.8 floor", [-5]), ("3.2 round", [3]),
        ("6.5 round", [7]),
        ("-4.8 round", [-5]), ("-6.5 round", [-6]), ("3.2 truncate", [3]),
        ("-4.8 truncate", [-4]), ("99 sqrt", [9.94987437]), ("0 1 atan", [0]),
        ("1 0 atan", [90]), ("-100 0 atan", [270]), ("4 4 atan", [45]), ("0 cos", [1]),
        ("90 cos", [0]), ("30 sin", [0.5]), ("90 sin", [1]), ("9 0.5 exp", [3]),
        ("-9 -1 exp", [-1 / 9]), ("10 ln", [2.30258509]), ("100 ln", [4.60517019]),
        ("10 log", [1]), ("100 log", [2]), ("7 3 bitshift", [56]),
        ("142 -3 bitshift", [17]), ("99 1 and", [1]), ("52 7 and", [4]),
        ("17 5 or", [21]),
        ("7 3 xor", [4]), ("12 3 xor", [15]), ("52 not", [-53]), ("3.7 cvi", [3]),
        ("4.0 4 eq { 1 } { 0 } ifelse", [1]), ("4 5 ne { 1 } { 0 } ifelse", [1]),
        ("4.2 4 ge { 1 } { 0 } ifelse", [1]), ("4 4 ge { 1 } { 0 } ifelse", [1]),
        ("4 4 gt { 1 } { 0 } ifelse", [0]), ("4 4 le { 1 } { 0 } ifelse", [1]),
        ("4 4 lt { 1 } { 0 } ifelse", [0]), ("3 4 lt { 1 } { 0 } ifelse", [1]),
        ("true false and { 1 } { 0 } ifelse", [0]),
        ("true false or { 1 } { 0 } ifelse", [1]),
        ("true true xor { 1 } { 0 } ifelse", [0]),
        ("true not { 1 } { 0 } ifelse", [0]), ("3 4 lt { 7 } if", [7]),
        ("1 2 exch", [2, 1]), ("1 2 pop", [1]), ("5 dup", [5, 5]),
        # (a)(b)(c) with 3 -1 roll, 3 1 roll, 3 0 roll; 2 copy, 0 copy; 0 index, 3 index
        ("1 2 3 3 -1 roll", [2, 3, 1]), ("1 2 3 3 1 roll", [3, 1, 2]),
        ("1 2 3 3 0 roll", [1, 2, 3]), ("1 2 3 2 copy", [1, 2, 3, 2, 3]),
        ("1 2 3 0 copy", [1, 2, 3]), ("1 2 3 4 0 index", [1, 2, 3, 4, 4]),
        ("1 2 3 4 3 index", [1, 2, 3, 4, 1]),
        ("1 % words to the end of the line } 9\n 2 add", [3]),
    ],
)  # fmt: skip
def test_words_do_as_their_examples_show(pdf, words, left) -> None:
    found = program(pdf, words, len(left), 0.0)
    assert found == pytest.approx(left, abs=1e-8)


def test_a_program_works_on_what_it_is_given(pdf) -> None:
    words = "2 copy add 3 1 roll sub dup 0 lt { neg } if"
    assert program(pdf, words, 2, 3.0, 8.0) == [11.0, 5.0]
    assert program(pdf, words, 2, 8.0, 3.0) == [11.0, 5.0]
    # of more that is left the topmost count
    assert program(pdf, "1 2", 1, 3.0) == [2.0]


@pytest.mark.parametrize(
    "words", ["add", "1 0 div", "{ 1", "1 }", "nothing", "1 2 } { 3", "-1 sqrt", "0 ln"]
)
def test_programs_that_cannot_be_run_are_refused(pdf, words) -> None:
    with pytest.raises(functions.BROKEN):
        program(pdf, words, 1)
    many = " ".join(["1"] * 2_001)
    with pytest.raises(functions.BROKEN):
        program(pdf, many, 1, 0.0)


@pytest.mark.reference("ISO 32000-1, section 7.10.3")
@pytest.mark.parametrize(
    ("x", "n"), [(0.0, 2), (0.25, 2), (1.0, 2), (0.25, 0.5), (4, 1)]
)
def test_powers_go_from_one_end_to_the_other(pdf, x, n) -> None:
    function = read_function(
        told(pdf, 2, Domain=[0, 1], C0=[1.0, 0.2], C1=[0.5, 0.8], N=n)
    )
    t = min(x, 1.0) ** n
    assert function([x]) == pytest.approx([1.0 - 0.5 * t, 0.2 + 0.6 * t])
    plain = read_function(told(pdf, 2, Domain=[0, 1]))
    assert plain([0.3]) == pytest.approx([0.3])
    narrow = read_function(told(pdf, 2, Domain=[0, 1], Range=[0.4, 0.6]))
    assert [narrow([v])[0] for v in (0.0, 0.5, 1.0)] == [0.4, 0.5, 0.6]


@pytest.mark.reference("ISO 32000-1, section 7.10.4")
def test_stitched_functions_share_out_their_domain(pdf) -> None:
    parts = [
        told(pdf, 2, Domain=[0, 1], C0=[10.0 * k], C1=[10.0 * k + 1.0])
        for k in range(3)
    ]
    function = read_function(
        told(
            pdf, 3, Domain=[0, 8], Functions=parts, Bounds=[2, 4],
            Encode=[0, 1, 1, 0, 0, 0.5],
        )
    )  # fmt: skip
    # from 0 to 2 forwards, from 2 to 4 backwards, from 4 to 8 up to the half
    for x, y in ((0, 0), (1, 0.5), (1.9, 0.95), (2, 11), (3, 10.5), (4, 20), (8, 20.5)):
        assert function([x]) == pytest.approx([y])
    assert function([99]) == function([8])
    one = read_function(
        told(pdf, 3, Domain=[0, 1], Functions=parts[1:2], Bounds=[], Encode=[0, 1])
    )
    assert one([0.25]) == pytest.approx([10.25])
    for bounds, encode in (([2], [0, 1] * 3), ([2, 4], [0, 1] * 2)):
        wrong = told(
            pdf, 3, Domain=[0, 8], Functions=parts, Bounds=bounds, Encode=encode
        )
        with pytest.raises(functions.BROKEN):
            read_function(wrong)


@pytest.mark.reference("ISO 32000-1, section 7.10.2")
@pytest.mark.parametrize("bits", [8, 16, 24, 32])
def test_tables_give_their_nearest_entry(pdf, bits) -> None:
    # three across, two up; two numbers each: 0, 1, 2 ... 11 of 11 parts
    most, wide = 2**bits - 1, bits // 8
    data = b"".join((most * k // 11).to_bytes(wide, "big") for k in range(12))
    given = {
        "Size": [3, 2],
        "BitsPerSample": bits,
        "Domain": [0, 10, -1, 1],
        "Range": [0, 11, 0, 22],
    }
    function = read_function(told(pdf, 0, data, **given))
    near = {"abs": 11 * 2.0**-bits * 12}
    for (x, y), k in (
        ((0, -1), 0), ((2.4, -1), 0), ((2.6, -1), 1), ((5, -1), 1), ((10, -0.1), 2),
        ((0, 1), 3), ((5, 0.1), 4), ((10, 1), 5), ((99, 99), 5), ((-9, -9), 0),
    ):  # fmt: skip
        wanted = [2.0 * k, 2.0 * (2 * k + 1)]
        assert function([x, y]) == pytest.approx(wanted, **near), (x, y)
    # backwards through the first, and out in other numbers
    turned = given | {"Encode": [2, 0, 0, 1], "Decode": [0, 1, 1, 0]}
    function = read_function(told(pdf, 0, data, **turned))
    assert function([0, -1]) == pytest.approx([4 / 11, 1 - 5 / 11], abs=0.01)


@pytest.mark.parametrize(
    "wrong",
    [
        {"BitsPerSample": 12}, {"BitsPerSample": 4}, {"Size": [0]}, {"Domain": []},
        {"Domain": [0, 1, 2]}, {"Decode": [0, 1]},
    ],
)  # fmt: skip
def test_tables_that_cannot_be_read_are_refused(pdf, wrong) -> None:
    given = {"Size": [2], "BitsPerSample": 8, "Domain": [0, 1], "Range": [0, 1, 0, 1]}
    assert read_function(told(pdf, 0, b"\0\1\2\3", **given))([1.0])
    with pytest.raises(functions.BROKEN):
        read_function(told(pdf, 0, b"\0\1\2\3", **(given | wrong)))([1.0])


def test_functions_stand_in_functions_so_deep_and_no_deeper(pdf) -> None:
    inner = told(pdf, 2, Domain=[0, 1])
    for depth in range(11):
        if depth > 8:
            with pytest.raises(functions.BROKEN):
                read_function(inner)
        else:
            assert read_function(inner)([0.5]) == pytest.approx([0.5])
        inner = told(pdf, 3, Domain=[0, 1], Functions=[inner], Bounds=[], Encode=[0, 1])
    with pytest.raises(functions.BROKEN):
        read_function(Dictionary(FunctionType=7, Domain=Array([0, 1])))
    with pytest.raises(functions.BROKEN):
        read_function(Name.Identity)
    assert math.isfinite(read_function(told(pdf, 2, Domain=[0, 1]))([1e300])[0])


@pytest.mark.parametrize("bits", [8, 16, 24, 32])
@pytest.mark.reference("ISO 32000-1, section 7.10.2: 0 to 2^n - 1 become the range")
def test_the_ends_of_a_table_are_the_ends_of_its_range(pdf, bits) -> None:
    given = {"Size": [2], "BitsPerSample": bits, "Domain": [0, 1], "Range": [-5, 5]}
    wide = bits // 8
    for data, ends in ((b"\0" * wide + b"\xff" * wide, [-5, 5]), (b"\xff" * 8, [5, 5])):
        function = read_function(told(pdf, 0, data, **given))
        assert [function([x])[0] for x in (0.0, 1.0)] == pytest.approx(ends, abs=1e-12)
        inner = read_function(told(pdf, 0, data, **given, Decode=[0, 4]))
        true = [(end + 5) * 0.4 for end in ends]
        assert [inner([x])[0] for x in (0.0, 1.0)] == pytest.approx(true, abs=1e-12)


@pytest.mark.parametrize(("size", "refused"), [(100, False), (101, True)])
def test_functions_have_so_many_bytes_and_no_more(
    pdf, size, refused, monkeypatch
) -> None:
    given = {"Size": [size], "BitsPerSample": 8, "Domain": [0, 1], "Range": [0, 1]}
    monkeypatch.setattr(functions, "_MOST_BYTES", 1000)
    stream = told(pdf, 0, bytes(size), **given)
    if refused:
        with pytest.raises(functions.BROKEN):
            read_function(stream)
    else:
        assert read_function(stream)([1.0]) == [0.0]
    # and as many once unpacked
    packed = zlib.compress(bytes(10 * size))
    stream = told(pdf, 0, b"", **(given | {"Size": [10 * size]}))
    stream.write(packed, filter=Name.FlateDecode)
    if refused:
        with pytest.raises(functions.BROKEN):
            read_function(stream)
    else:
        assert read_function(stream)([1.0]) == [0.0]
