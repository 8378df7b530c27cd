"""Numbers read many at a time are those that Python reads one at a time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwork.readers.svg.shapes.decimals import read_decimals


def read(texts):
    joined = np.frombuffer(" ".join(texts).encode(), np.uint8)
    length = np.array([len(text) for text in texts])
    end = np.cumsum(length + 1) - 1
    return read_decimals(joined, end - length, end)


@pytest.mark.reference("Python's float, correctly rounded (David Gay's strtod)")
@pytest.mark.parametrize("form", ["%.6f", "%.0f", "%.1f", "%.9g", "%r", "%e", "%+.3f"])
def test_numbers_in_the_forms_that_programs_write(form):
    numbers = np.random.default_rng(3).normal(0, 300, 4000).tolist()
    texts = [form % number for number in numbers]
    assert read(texts).tolist() == [float(text) for text in texts]


@pytest.mark.reference("Python's float")
def test_numbers_at_the_edges():
    signs = ["0", "-0", ".5", "5.", "+.25", "-7.e1", "1E3", "0.1", "1e400", "-1e-400"]
    whole = ["9007199254740991", "9007199254740992", "9007199254740993"]
    long = ["123456789012345678", "1234567890123456789", "0.000000000000001"]
    long += ["179769313486231580793728971405301e276", "00000000000000000000012.5"]
    texts = signs + whole + long
    got = read(texts)
    assert got.tolist() == [float(text) for text in texts]
    assert np.signbit(got[1])


@given(
    st.lists(
        st.one_of(
            st.floats(allow_nan=False, allow_infinity=False).map(repr),
            st.decimals(-(10**9), 10**9, places=5).map(str),
            st.from_regex(r"[+-]?(\d{1,20}(\.\d{0,20})?|\.\d{1,20})", fullmatch=True),
        ).filter(str.isascii),
        min_size=1,
    )
)
def test_any_numbers(texts):
    assert read(texts).tolist() == [float(text) for text in texts]


@pytest.mark.parametrize(
    "text",
    ["", ".", "-", "+.", "e5", "1e", "1e+", "1.2.3", "1-2", "--1", "1 ", " 1", "1mm",
     "1_0", "nan", "inf", "0x1", "1,5", "\u0661", "1" * 20 + "x"],
)  # fmt: skip
def test_what_is_no_number_is_told_apart(text):
    raw = text.encode()
    for filler in (b"2.5", b"9" * 30):
        joined = np.frombuffer(raw + b" " + filler, np.uint8)
        begin = np.array([0, len(raw) + 1])
        got = read_decimals(joined, begin, np.array([len(raw), len(joined)]))
        assert np.isnan(got[0])
        assert got[1] == float(filler)


def test_no_numbers():
    assert read_decimals(np.empty(0, np.uint8), *np.empty((2, 0), np.int64)).size == 0
