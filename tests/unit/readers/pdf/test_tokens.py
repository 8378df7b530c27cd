"""Operators and operands of content streams, by the lexical rules of ISO 32000-1."""

from __future__ import annotations

import pytest

from fillwork.readers.pdf.tokens import _number, _size, operators


def tokens(data):
    return list(operators(data, lambda _: None))


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"", []),
        (b"1 2 m", [(b"m", [1, 2])]),
        (b"1 -2.5 m\n+3 .5 l\r4. -.5 l ", [(b"m", [1, -2.5]), (b"l", [3, 0.5]),
                                          (b"l", [4, -0.5])]),
        (b"1 2 m\n3 4 l\n5 6 l", [(b"m", [1, 2]), (b"l", [3, 4]), (b"l", [5, 6])]),
        (b"q%a (b\nQ % c\r1 w", [(b"q", []), (b"Q", []), (b"w", [1])]),
        (b"/A/B gs", [(b"gs", [b"/A", b"/B"])]),
        (b"/A#20b#2fc#zz gs", [(b"gs", [b"/A b/c#zz"])]),
        (b"[3 2]0 d", [(b"d", [[3, 2], 0])]),
        (b"[[1]2 []]0 d", [(b"d", [[[1], 2, []], 0])]),
        (b"(a(b)\\)c)Tj", [(b"Tj", [None])]),
        (b"(a\\\\)Tj 1 w", [(b"Tj", [None]), (b"w", [1])]),
        (b"<48 65>Tj", [(b"Tj", [None])]),
        (b"[(a)-5<41>]TJ", [(b"TJ", [[None, -5, None]])]),
        (b"true false null x", [(b"x", [None] * 3)]),
        (b"/OC<</K 3/L<</M m>>>>BDC q", [(b"BDC", [b"/OC", b"/K", 3, b"/L", b"/M",
                                                   None]), (b"q", [])]),
        (b"1 2\x00m\x0c3 4\tl", [(b"m", [1, 2]), (b"l", [3, 4])]),
        # what is wrong ends nothing
        (b"] 1 w", [(b"w", [1])]),
        (b">> 1 w", [(b"w", [1])]),
        (b") 1 w", [(b"w", [None, 1])]),
        (b"1 w (never closed", [(b"w", [1])]),
        (b"1 w 5 6", [(b"w", [1])]),
        (b"--5 4.-5 1.2.3 - w", [(b"w", [-5, 4, 1.2, None])]),
    ],
)  # fmt: skip
@pytest.mark.reference("ISO 32000-1, sections 7.2 and 7.3")
def test_operators_have_what_stands_before_them(data, found) -> None:
    assert tokens(data) == found
    # blanks of any kind part the same tokens
    if b"%" not in data and b"\x00" not in data:
        assert tokens(b"\r\n" + data.replace(b" ", b"\n\t ") + b"\n") == found


@pytest.mark.parametrize(
    ("count", "kept"), [(3, 3), (64, 64), (65, 64), (70, 64), (500, 64)]
)
def test_an_operator_has_only_so_many_operands(count, kept) -> None:
    numbers = [float(k) for k in range(count)]
    text = b" ".join(b"%d" % k for k in range(count))
    assert tokens(text + b" sc") == [(b"sc", numbers[-kept:])]
    # in an array they all stay
    assert tokens(b"[" + text + b"] 0 d") == [(b"d", [numbers, 0])]


@pytest.mark.parametrize(
    ("times", "at_once"), [(3, 0), (4, 4), (1000, 1000), (1001, 1000)]
)
def test_lines_drawn_one_by_one_come_at_once(times, at_once) -> None:
    line = b" 1 2.5 m -3 .5 l S\n"
    found = tokens(b"0 w 9 9 m 8 8 l S" + line * times + b"Q")
    at = [k for k, (word, _) in enumerate(found) if word == b"m l S"]
    assert len(at) == (1 if at_once else 0)
    several = found[at[0]][1] if at else []
    assert several == [[1, 2.5, -3, 0.5]] * at_once
    assert [word for word, _ in found].count(b"S") == 1 + times - at_once
    assert found[-1] == (b"Q", [])


def test_lines_come_one_by_one_unless_a_path_was_just_stroked() -> None:
    lines = b" 1 2 m 3 4 l S\n" * 5
    assert [word for word, _ in tokens(b"f" + lines)].count(b"m l S") == 1
    assert [word for word, _ in tokens(b"f" + lines)].count(b"S") == 1
    # where a number is missing
    odd = b" 1 m 3 4 l S\n" * 5
    assert b"m l S" not in [word for word, _ in tokens(b"0 0 m 1 1 l S" + odd)]


def test_what_is_spent_is_what_was_read() -> None:
    spent = []
    list(operators(b"1 2 3 4 re f\n" * 5_000, spent.append))
    # six tokens each time, told by ten thousands, and what is left
    assert spent[:3] == [10_000, 10_000, 10_000]
    assert sum(spent) == 30_000
    spent.clear()
    list(operators(b"S" + b" 1 2 m 3 4 l S" * 1000 + b" ", spent.append))
    assert sum(spent) == 1 + 7 * 1000


@pytest.mark.parametrize(
    ("word", "number"),
    [(b"4.-5", 4), (b"--3", -3), (b"+-3", 3), (b"1.2.3", 1.2), (b"-.5.", -0.5),
     (b"-", None), (b".", None), (b"+.", None), (b"-x", None)],
)  # fmt: skip
def test_numbers_that_are_written_wrong(word, number) -> None:
    assert _number(word) == number


# -- pictures in the stream -----------------------------------------------------


@pytest.mark.parametrize(
    ("told", "size"),
    [
        ({b"/W": 8.0, b"/H": 2.0}, 2),
        ({b"/W": 9.0, b"/H": 2.0}, 4),
        ({b"/W": 9.0, b"/H": 2.0, b"/BPC": 8.0}, 18),
        ({b"/W": 9.0, b"/H": 2.0, b"/BPC": 8.0, b"/CS": b"/RGB"}, 54),
        ({b"/Width": 3.0, b"/Height": 2.0, b"/BitsPerComponent": 4.0,
          b"/ColorSpace": b"/DeviceCMYK"}, 12),
        ({b"/W": 3.0, b"/H": 2.0, b"/BPC": 4.0, b"/CS": b"/DeviceRGB"}, 10),
        ({b"/W": 3.0, b"/H": 2.0, b"/BPC": 8.0, b"/CS": [b"/I"]}, 6),
        ({b"/W": 3.0}, None), ({b"/W": 3.0, b"/H": None}, None),
        ({b"/W": 3.0, b"/H": 0.0}, None), ({b"/W": 1e6, b"/H": 1.0}, None),
    ],
)  # fmt: skip
@pytest.mark.reference("ISO 32000-1, section 8.9.3: rows begin at whole bytes")
def test_pictures_have_their_bytes(told, size) -> None:
    assert _size(told) == size


def picture(data, told=b"/W 8 /H 4 /BPC 8 /CS /G"):
    return b"q BI " + told + b" ID " + data + b"\nEI 5 w Q"


NEXT = [b"q", b"BI", b"w", b"Q"]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (bytes(32), b"/W 8 /H 4 /BPC 8 /CS /G"),
        # an end inside that is none: the size says so, or bytes that are no text follow
        (b"ab EI 1 0 0 RG cd efghijklmnopqrs", b"/W 33 /H 1 /BPC 8 /CS /G"),
        (b"ab EI \x80\x81\x00\xff and more", b"/W 8 /H 4 /F /Fl"),
        # sixteen signs after it are looked at
        (b"ab EI 3456789012345\x80", b"/W 8 /H 4 /F /Fl"),
        (b"\x00\x01 EIb\n", b"/W 8 /H 4 /F [/A85 /Fl] /DP [null <</K 1>>]"),
        (b"short", b"/W 8 /H 4 /BPC 8 /CS /G"),
        (b"", b"/W 1 /H 1 /F /Fl"),
    ],
)
def test_a_picture_in_the_stream_ends_where_text_goes_on(data, told) -> None:
    assert [word for word, _ in tokens(picture(data, told))] == NEXT
    assert tokens(picture(data, told))[2] == (b"w", [5])


def test_a_picture_that_never_ends_takes_the_rest() -> None:
    assert [word for word, _ in tokens(b"q BI /W 9 /H 9 ID abc 1 w Q")] == [b"q", b"BI"]


@pytest.mark.parametrize(("signs", "ended"), [(14, False), (15, True)])
def test_the_end_of_a_picture_is_known_by_what_follows(signs, ended) -> None:
    # the blank after EI and fifteen more are looked at; a byte that is no text follows
    text = b"9 w " + b"x" * (signs - 5) + b" "
    data = b"BI /W 8 /H 4 /F /Fl ID ab\nEI" + b" " + text[:signs] + b"\x80" + b" EI Q"
    assert (b"w" in [word for word, _ in tokens(data)]) is ended
