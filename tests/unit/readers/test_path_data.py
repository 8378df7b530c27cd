# ruff: noqa: E501
"""Path data read all at once: the same as one by one, whatever their mix."""

from __future__ import annotations

import random
import re
import warnings

import numpy as np
import pytest

from fillwork.readers.svg.shapes import path_data
from fillwork.readers.svg.shapes.path_data import parse_paths
from fillwork.readers.svg.shapes.path_repair import repair_path


def _ends(text: str) -> list[list[float]]:
    table = parse_paths([text], 1000)
    return table.data[:, :4].tolist()


_ODD = (
        ("M0 0L1e-3201e-320", 0), ("M0 0L1 1e", 1), ("M0 0L1.e1 1", 1), ("M0 0L1. 2", 1),
        ("M0 0L. 1", 0), ("M0 0L+ 1", 0), ("M0 0L--1 1", 0), ("M0 0L1,,1", 0),
        ("M0 0L,1 1", 0), ("M,0 0L1 1", 0), ("M0 0L1 1,L2 2", 2), ("M0 0L1 1 Z Z L2 2", 3),
        ("z M0 0L1 1", 0), ("5", 0), ("", 0), ("   ", 0), ("M", 0), ("M0", 0), ("M0 0", 0),
        ("M0 0L1 1é", 1), ("M0 0L1 1\u00a0L2 2", 1), ("M0 0 L 1 1 NaN", 1), ("M0 0e1 1", 0),
        ("M0 0L1e400 1", 1), ("M0 0A1 1 0 00 5 5", 1), ("M0 0A1 1 0 0 0 5", 0),
        ("M0 0A1 1 0 2 0 5 5", 0), ("M0 0A0 1 0 1 0 5 5", 1), ("M0 0H1 2 3V1", 4),
        ("5M0 0L1 1", 0), ("-.5 M0 0L1 1", 0), ("M0 0L1 1 5", 1),
)  # fmt: skip


@pytest.mark.parametrize(("text", "count"), _ODD)
def test_odd_path_data(text, count):
    assert len(parse_paths([text], 1000).kind) == count


def test_odd_paths_cost_their_neighbours_nothing():
    rnd, texts = random.Random(5), [text for text, _ in _ODD] * 4
    rnd.shuffle(texts)
    table = parse_paths(texts, 10_000)
    alone = [parse_paths([text], 1000) for text in texts]
    wrong = {k: one.wrong[0] for k, one in enumerate(alone) if one.wrong}
    assert table.wrong == wrong
    found = np.bincount(table.path, minlength=len(texts))
    assert found.tolist() == [len(one.path) for one in alone]


def test_relative_starts_after_closing():
    # (M3 3 closes to itself; a relative moveto counts from where that ends)
    assert _ends("m1 1h2v2zm5 5h1")[-1] == [6, 6, 7, 6]
    assert _ends("m1 1h2v2zl5 5")[-1] == [1, 1, 6, 6]
    assert _ends("M1 1H5v2h1V9zh-1m1 1l1 1")[-1] == [1, 2, 2, 3]
    assert _ends("m1 1 2 2 3 3")[-1] == [3, 3, 6, 6]


def _random_path(rnd: random.Random) -> str:
    counts = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "Z": 0}
    out = ["M0 0"]
    for _ in range(rnd.randrange(12)):
        letter = rnd.choice("MLHVCSQTZmlhvcsqtzAa")
        if letter in "Aa":
            out.append(f"{letter}5 4 30 {rnd.randrange(2)}{rnd.randrange(2)}.5-3")
            continue
        n = counts[letter.upper()] * (1 if letter in "Zz" else rnd.randrange(1, 4))
        numbers = [f"{rnd.uniform(-9, 9):.2f}" for _ in range(n)]
        out.append(letter + re.sub(r" -", "-", " ".join(numbers)))
    if rnd.random() < 0.2:
        out.append(rnd.choice(["L1", "x", "L1 1 1", "..", ",", "-"]))
    return "".join(out)


def test_many_at_once_as_one_by_one(monkeypatch):
    rnd = random.Random(9)
    texts = [_random_path(rnd) for _ in range(400)]
    texts[::37] = [""] * len(texts[::37])
    whole = parse_paths(texts, 100_000)
    for piece in (4_000_000, 50, 7):
        # pieces so small that the bytes of a path fall in several
        monkeypatch.setattr(path_data, "_PIECE", piece)
        again = parse_paths(texts, 100_000)
        np.testing.assert_array_equal(again.kind, whole.kind)
        np.testing.assert_allclose(again.data, whole.data, atol=1e-9)
        assert again.wrong == whole.wrong
    ends = np.append(whole.start, len(whole.kind))
    for index, text in enumerate(texts):
        one = parse_paths([text], 1000)
        mine = np.flatnonzero(whole.path == index)
        assert whole.closed[mine].tolist() == one.closed.tolist()
        if len(mine):
            rows = slice(ends[mine[0]], ends[mine[-1] + 1])
            np.testing.assert_allclose(whole.data[rows], one.data, atol=1e-12)


def test_the_plain_form_reads_the_same():
    rnd = random.Random(4)
    for _ in range(300):
        text = _random_path(rnd)
        plain, wrong = repair_path(text)
        a, b = parse_paths([text], 1000), parse_paths([plain], 1000)
        np.testing.assert_array_equal(a.data, b.data)
        assert (0 in a.wrong) == bool(wrong)
        assert not b.wrong


def test_any_text_is_survived():
    rnd = random.Random(2)
    letters = "MmLlZzHhAaCcTt0123456789.-+eE, \t,"
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for _ in range(3000):
            text = "M0 0" + "".join(rnd.choices(letters, k=rnd.randrange(25)))
            plain, wrong = repair_path(text)
            table = parse_paths([text], 1000)
            again = parse_paths([plain], 1000)
            np.testing.assert_array_equal(table.kind, again.kind)
            assert not again.wrong
            if not wrong:
                assert not table.wrong


def test_long_relative_paths_do_not_drift():
    # a hundred thousand steps there and back: the last end is the first point
    text = "M0.1 0.2" + "l.3.7" * 50_000 + "l-.3-.7" * 50_000
    end = parse_paths([text], 200_000).data[-1, 2:4]
    np.testing.assert_allclose(end, [0.1, 0.2], atol=1e-10)


def test_limit():
    with pytest.raises(OverflowError):
        parse_paths(["M0 0" + "h1" * 500], 100)


def test_two_arcs_there_and_back_are_one_circle():
    # half of the chord is 0.005 less than the rounded radius: taken by itself each arc
    # has its middle 0.6 off the chord, and they would bend where they join
    table = parse_paths(["M10 50A37 37 0 0 1 83.99 50A37 37 0 0 1 10 50Z"], 1000)
    assert table.data[:, :2] == pytest.approx(np.full((2, 2), (46.995, 50)))
    assert np.hypot(*table.data[:, 2:4].T) == pytest.approx(36.995)
    alone = parse_paths(["M10 50A37 37 0 0 1 83.99 50V10"], 1000)
    assert abs(alone.data[0, 1] - 50) > 0.5
    # a lens of two arcs stays one
    lens = parse_paths(["M10 50A40 40 0 0 1 84 50A40 40 0 0 1 10 50Z"], 1000)
    assert np.hypot(*lens.data[:, 2:4].T) == pytest.approx(40)
